//! Inward rings of a part of where a cutter's centre may go, as a tree from the wall inward.

use plane::{Contour, FIT, Point, SegmentIndex, fit_closed};
use reach::Rings;

/// Paths away from walls may be this far from where they'd be exactly, mm.
const LOOSE: f64 = 0.005;

/// One connected part at one distance from the wall.
#[derive(Debug, Clone)]
pub(crate) struct Ring {
    /// Outer contour first; the part lies to the left of each.
    pub(crate) contours: Vec<Contour>,
    /// What lies one stepover further in.
    pub(crate) inner: Vec<Ring>,
    /// The part itself.
    pub(crate) part: Rings,
    /// How many stepovers from the wall.
    pub(crate) steps: usize,
}

impl Ring {
    /// The tree of a connected part; the ring at the wall keeps to the fit's tolerance.
    pub(crate) fn tree(part: Rings, stepover: f64) -> Self {
        let inner = Self::inner(&part, stepover, 1);
        Self { inner, ..Self::alone(part) }
    }

    /// The ring at the wall alone.
    pub(crate) fn alone(part: Rings) -> Self {
        let contours = part.points().map(|r| fit_closed(&r, FIT)).collect();
        Self { contours, inner: Vec::new(), part, steps: 0 }
    }

    fn inner(part: &Rings, stepover: f64, steps: usize) -> Vec<Self> {
        let next = part.inset_within(stepover, LOOSE / 2.0).simplified(LOOSE / 4.0);
        let ring = |part: Rings| {
            let contours = part.points().map(|r| fit_closed(&r, LOOSE)).collect();
            Self { contours, inner: Self::inner(&part, stepover, steps + 1), part, steps }
        };
        next.parts().into_iter().filter(|p| p.length() > 0.02).map(ring).collect()
    }
}

/// Answers whether a straight way stays inside a part.
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

    /// Whether the straight way from `a`, off the edge, to `b`, which may lie on it, stays inside.
    pub(crate) fn way(&self, a: Point, b: Point) -> bool {
        let length = a.distance(b);
        if !self.part.contains(a) {
            return false;
        }
        // Steps as long as the distance to the edge: none can pass over it.
        let mut along = 0.0;
        for _ in 0..500 {
            let left = length - along;
            let room = self.distance(a.lerp(b, if length > 0.0 { along / length } else { 0.0 }));
            if room >= left || left < 0.01 {
                return true;
            }
            if room < 0.002 {
                return false;
            }
            along += room;
        }
        false
    }
}
