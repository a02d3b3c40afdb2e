//! Edges: the lines and arcs of a source, prepared for many questions of distance without angles.

use plane::{Bounds, Point, Segment};

/// A line or an arc of the source, between `a` and `b`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    pub(super) a: Point,
    pub(super) b: Point,
    pub(super) curve: Curve,
    pub(super) bounds: Bounds,
}

#[derive(Debug, Clone, Copy)]
pub(super) enum Curve {
    Line {
        /// Unit direction.
        u: Point,
        length: f64,
    },
    Arc {
        centre: Point,
        radius: f64,
        /// Signed, counter-clockwise positive, radians.
        sweep: f64,
    },
}

impl Edge {
    /// `None` for a segment without length.
    pub(super) fn of(segment: &Segment) -> Option<Self> {
        let (a, b) = (segment.start(), segment.end());
        let curve = match *segment {
            Segment::Line { .. } => Curve::Line { u: (b - a).unit()?, length: a.distance(b) },
            Segment::Arc { centre, radius, sweep, .. } => Curve::Arc { centre, radius, sweep },
        };
        Some(Self { a, b, curve, bounds: segment.bounds() })
    }

    /// The same edge travelled the other way.
    pub(super) fn reversed(&self) -> Self {
        let curve = match self.curve {
            Curve::Line { u, length } => Curve::Line { u: -u, length },
            Curve::Arc { centre, radius, sweep } => Curve::Arc { centre, radius, sweep: -sweep },
        };
        Self { a: self.b, b: self.a, curve, bounds: self.bounds }
    }

    /// Unit direction of travel at the start (`false`) or the end (`true`).
    pub(super) fn direction(&self, at_end: bool) -> Point {
        match self.curve {
            Curve::Line { u, .. } => u,
            Curve::Arc { centre, radius, sweep } => {
                let p = if at_end { self.b } else { self.a };
                (p - centre).left() * (sweep.signum() / radius)
            }
        }
    }

    /// How fast the direction turns to the left, 1/mm.
    pub(super) fn curvature(&self) -> f64 {
        match self.curve {
            Curve::Line { .. } => 0.0,
            Curve::Arc { radius, sweep, .. } => sweep.signum() / radius,
        }
    }

    /// Square of the distance from a point, mm².
    pub(super) fn distance_squared(&self, p: Point) -> f64 {
        match self.curve {
            Curve::Line { u, length } => {
                let to = p - self.a;
                let along = to.dot(u).clamp(0.0, length);
                let off = to - u * along;
                off.dot(off)
            }
            Curve::Arc { centre, radius, sweep } => {
                let to = p - centre;
                if covers(self.a - centre, self.b - centre, sweep, to) {
                    let off = libm::sqrt(to.dot(to)) - radius;
                    off * off
                } else {
                    let (a, b) = (p - self.a, p - self.b);
                    a.dot(a).min(b.dot(b))
                }
            }
        }
    }
}

/// Whether an arc from direction `first` to direction `last` covers the direction `to`.
pub(crate) fn covers(first: Point, last: Point, sweep: f64, to: Point) -> bool {
    use std::f64::consts::PI;
    let turn = sweep.signum();
    let (after, before) = (first.cross(to) * turn, to.cross(last) * turn);
    if sweep.abs() <= PI {
        // A half turn's ends lie opposite, so both tests hold on its own side only.
        after >= 0.0 && before >= 0.0 && (sweep.abs() > 3.0 || to.dot(first + last) >= 0.0)
    } else {
        !(last.cross(to) * turn > 0.0 && to.cross(first) * turn > 0.0)
    }
}
