//! The planner's geometry: offsets and openings of regions by arcs, the medial axis, and sets of rings of straight edges.
//!
//! [`inset`], [`outset`], [`opening`] and [`closing`] keep lines and arcs. [`Rings`] hold whole nanometres, so that
//! combining them shares corners exactly; arcs are flattened on the way in ([`plane::FLATTEN`]) and fitted again by whoever
//! turns rings into paths. The prover never uses this crate.
//!
//! # Tolerance
//! An offset by arcs is exact but for [`HAIR`], up to 2.4 of it after a retry. Where chords must serve, corners are round
//! within [`ROUND`], which with the flattening and a fit of [`plane::FIT`] keeps an offset within 1 µm of its place.

mod clearance;
mod left;
mod middle;
mod offset;
mod rings;

pub use clearance::{Axis, AxisFault, Branch, FACING, Narrow, Spot, WIDEST, narrowest};
pub use left::{Covered, Left, TRACE, covered};
pub use middle::{CentreLine, centre_lines};
pub use offset::{HAIR, Offset, OffsetFault, closing, inset, insets, opening, outset, swept, try_inset, try_outset};
pub use rings::{Clipped, Rings};

/// Greatest distance between a rounded corner of an offset and its chords, mm.
pub const ROUND: f64 = 0.000_25;
