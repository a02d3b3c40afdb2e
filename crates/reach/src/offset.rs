//! Offsets of regions of lines and arcs, exact up to rounding: arcs stay arcs and nothing is flattened.
//!
//! # How
//! The edge of an offset is the set of points at distance `r` from the source, on its inner (or outer) side. Every such
//! point stands off square from some source edge or lies on a circle about some corner, so all candidates are known:
//! each edge moved by `r`, and an arc round each corner. Of every candidate just those runs are kept that no other
//! source edge comes nearer to than `r`, and the runs are joined end to end. Nothing is decided by crossing candidates
//! with each other or by winding numbers of loops, so a part of the offset can only vanish if a source edge is named
//! that comes too near to all of it; and where joining fails, it fails visibly, with a place.
//!
//! # One answer at the limit
//! Distances are taken [`HAIR`] less than asked, so that a slot of exactly `2r` lets the centre of its cutter pass, as
//! does one up to 2 [`HAIR`] narrower. Anything narrower does not.

mod edge;
mod level;
mod link;
mod near;
mod nest;
mod pieces;
mod tree;

pub(crate) use edge::covers;

use crate::Rings;
use level::Source;
use plane::{Contour, FillRule, Point, Region, Segment};

/// What a distance is taken less than asked, mm: exact fits then are decided one way, far above rounding.
pub const HAIR: f64 = 1e-5;
/// Ends of pieces this far apart still meet, mm.
const LINK: f64 = 1e-4;
/// How much nearer than the distance an edge must come to cut a piece, mm: above rounding, below anything that matters.
const SLACK: f64 = 1e-10;
/// Coordinates beyond this are refused, mm.
const FURTHEST: f64 = 1e9;

/// Why no offset by arcs could be made, and where.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OffsetFault {
    /// Near here, mm.
    pub at: Point,
    /// What went wrong.
    pub why: &'static str,
}

/// An offset, and how it was made.
#[derive(Debug, Clone, PartialEq)]
pub struct Offset {
    /// The result.
    pub region: Region,
    /// Set where the source could not be offset with its arcs (rings that cross, say), and chords within
    /// [`crate::ROUND`] were used instead.
    pub by_chords: Option<OffsetFault>,
}

/// The part of a region that lies further than `r` mm from its edge: where the centre of a cutter may go.
///
/// # Errors
/// Where the region's rings cross, or coordinates are no numbers.
pub fn try_inset(region: &Region, r: f64) -> Result<Region, OffsetFault> {
    inset_exactly(region, less(r, HAIR)?)
}

/// All points within `r` mm of a region.
///
/// # Errors
/// Where the region's rings cross, or coordinates are no numbers.
pub fn try_outset(region: &Region, r: f64) -> Result<Region, OffsetFault> {
    outset_exactly(region, less(r, HAIR)?)
}

/// [`try_inset`]; where it fails, at a distance some hairs less, then of the region with its rings mended
/// ([`plane::check`]), and where that fails too, by chords.
pub fn inset(region: &Region, r: f64) -> Offset {
    surely(region, r, |region, hair| inset_exactly(region, less(r, hair)?), |rings| rings.inset(r))
}

/// [`try_outset`], with the same ways out.
pub fn outset(region: &Region, r: f64) -> Offset {
    surely(region, r, |region, hair| outset_exactly(region, less(r, hair)?), |rings| rings.outset(r))
}

/// What a disc of radius `r` mm can cover without leaving a region.
pub fn opening(region: &Region, r: f64) -> Offset {
    let exact = |region: &Region, hair: f64| {
        let r = less(r, hair)?;
        outset_exactly(&inset_exactly(region, r)?, r)
    };
    surely(region, r, exact, |rings| rings.opening(r))
}

/// What a disc of radius `r` mm outside a region cannot reach, and the region itself.
pub fn closing(region: &Region, r: f64) -> Offset {
    let exact = |region: &Region, hair: f64| {
        let r = less(r, hair)?;
        inset_exactly(&outset_exactly(region, r)?, r)
    };
    surely(region, r, exact, |rings| rings.outset(r).inset(r))
}

/// Insets by `first`, then `step` more each, until nothing is left, at most `most` of them. Each is made from the one
/// before, which with arcs kept is the same as from the source.
pub fn insets(region: &Region, first: f64, step: f64, most: usize) -> Vec<Offset> {
    let mut all: Vec<Offset> = Vec::new();
    if !(first > 0.0 && step > 0.0) {
        return all;
    }
    let mut last = inset(region, first);
    while !last.region.is_empty() && all.len() < most {
        let next = surely(
            &last.region,
            step,
            |region, hair| inset_exactly(region, step + HAIR - hair),
            |rings| rings.inset(step),
        );
        all.push(std::mem::replace(&mut last, next));
    }
    all
}

/// All points within `r` mm of any of the segments: what a round cutter sweeps along them.
///
/// # Errors
/// Where the pieces do not close, which segments that share or nearly share a curve can cause.
pub fn swept(segments: &[Segment], r: f64) -> Result<Region, OffsetFault> {
    let rings = Source::swept(segments.iter().copied())?.level(less(r, HAIR)?)?;
    nest::shapes(rings.iter().map(Contour::reversed).collect())
}

fn less(r: f64, hair: f64) -> Result<f64, OffsetFault> {
    if (0.0..=FURTHEST).contains(&r) {
        Ok((r - hair).max(0.0))
    } else {
        Err(OffsetFault {
            at: Point::default(),
            why: "the distance of an offset is not a positive number within reason",
        })
    }
}

fn inset_exactly(region: &Region, r: f64) -> Result<Region, OffsetFault> {
    if r == 0.0 {
        return Ok(region.clone());
    }
    nest::shapes(Source::rings(region.contours(), false)?.level(r)?)
}

fn outset_exactly(region: &Region, r: f64) -> Result<Region, OffsetFault> {
    if r == 0.0 {
        return Ok(region.clone());
    }
    let rings = Source::rings(region.contours(), true)?.level(r)?;
    nest::shapes(rings.iter().map(Contour::reversed).collect())
}

/// Hairs tried one after another: what coincides at one, to the last digits, doesn't at the next.
const HAIRS: [f64; 3] = [HAIR, 1.618 * HAIR, 2.414 * HAIR];

fn surely(
    region: &Region,
    r: f64,
    exact: impl Fn(&Region, f64) -> Result<Region, OffsetFault>,
    chords: impl FnOnce(&Rings) -> Rings,
) -> Offset {
    let mut fault = None;
    let mut tried = |source: &Region| {
        HAIRS.into_iter().find_map(|hair| match exact(source, hair) {
            Ok(region) => Some(Offset { region, by_chords: None }),
            Err(new) => {
                fault = fault.or(Some(new));
                None
            }
        })
    };
    if let Some(offset) = tried(region) {
        return offset;
    }
    let mended = plane::check(region.contours(), FillRule::NonZero).region;
    if let Some(offset) = tried(&mended) {
        return offset;
    }
    // Numbers that make no sense leave nothing to offset.
    let sane = r <= FURTHEST && level::check_points(region.contours()).is_ok();
    let region = if sane { chords(&Rings::of(&mended)).region() } else { Region::default() };
    Offset { region, by_chords: fault }
}
