//! The planner's geometry: offsets, openings and what lies where, on rings of straight edges.
//!
//! Rings hold whole nanometres, so that combining them shares corners exactly and nothing drifts from one
//! operation to the next. Arcs are flattened on the way in ([`plane::FLATTEN`]) and fitted again by whoever
//! turns rings into paths. The prover never uses this crate.
//!
//! # Tolerance
//! [`Rings::inset`] and [`Rings::outset`] round corners with chords within [`ROUND`] of the true arc, which with
//! the flattening and a fit of [`plane::FIT`] keeps an offset within 1 µm of its place.

mod clearance;
mod offset;
mod rings;

pub use clearance::{Axis, AxisFault, Branch, Narrow, Spot, WIDEST, narrowest};
pub use offset::{HAIR, Offset, OffsetFault, closing, inset, insets, opening, outset, swept, try_inset, try_outset};
pub use rings::{Clipped, Rings};

/// Greatest distance between a rounded corner of an offset and its chords, mm.
pub const ROUND: f64 = 0.000_25;
