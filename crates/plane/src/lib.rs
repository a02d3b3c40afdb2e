//! Plane geometry on lines and arcs: contours, regions with holes, areas, distances,
//! flattening and arc fitting, and combining. No word of the trade, and no offsets.
//!
//! All numbers are f64 in mm (or radians), x to the right and y up. Inputs are finite: whoever
//! reads bytes checks that once.
//!
//! # Tolerance
//! One budget holds for the whole product. Of the 1 µm allowed for flattening and fitting, a
//! flattening spends [`FLATTEN`] and a fit spends [`FIT`]; combining works on flattened rings on a
//! grid of less than 0.001 µm, and spends nothing that matters beside them. [`check()`] and [`arcs`]
//! work on the arcs themselves and spend nothing of it: points within a nanometre become one.

pub mod arcs;
mod arrange;
mod biarc;
mod boxtree;
mod check;
mod combine;
mod contour;
mod fit;
mod keyed;
mod measure;
mod nearest;
mod point;
mod region;
mod segment;

pub use biarc::{fit_smooth_closed, fit_smooth_open};
pub use check::{Checked, Fate, Finding, FindingKind, LARGEST, check};
pub use combine::{FillRule, difference, intersection, regions_from_rings, union};
pub use contour::{Contour, Path, Vertex};
pub use fit::{fit_closed, fit_open};
pub use measure::{Moments, RegionIndex};
pub use nearest::{Nearest, SegmentIndex};
pub use point::{Affine, Bounds, Point};
pub use region::{Region, Shape};
pub use segment::Segment;

/// Largest distance between an arc and its chords, mm.
pub const FLATTEN: f64 = 0.000_25;
/// Largest distance between a fitted arc and the points it stands for, mm.
pub const FIT: f64 = 0.000_5;
