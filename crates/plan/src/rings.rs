//! Where a cutter's axis may go, sorted for questions about places.

use plane::{Contour, Point, SegmentIndex};
use reach::Rings;

/// Answers how far inside a part a place is.
pub(crate) struct Inside {
    edges: SegmentIndex,
    part: Rings,
}

impl Inside {
    pub(crate) fn new(part: &Rings) -> Self {
        let contours: Vec<Contour> = part.points().map(Contour::polygon).collect();
        Self { edges: SegmentIndex::of_contours(&contours), part: part.clone() }
    }

    /// Distance to the edge, mm.
    pub(crate) fn distance(&self, p: Point) -> f64 {
        self.edges.nearest(p).map_or(0.0, |n| n.distance)
    }

    /// Whether a disc of this radius about `p` stays inside.
    pub(crate) fn holds(&self, p: Point, radius: f64) -> bool {
        self.distance(p) >= radius && self.part.contains(p)
    }
}
