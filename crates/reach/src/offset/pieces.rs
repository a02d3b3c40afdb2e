//! Pieces: each edge of the source moved to its left by the offset's distance, and an arc round each corner that turns
//! to the right.

use super::edge::{Curve, Edge};
use plane::{Bounds, Point, Segment};
use std::f64::consts::{PI, TAU};

/// Corners that turn less than this to the right need no arc: its length is far below the linking tolerance.
const NO_TURN: f64 = 1e-9;
/// Arcs smaller than this have shrunk to a point, mm.
const POINT: f64 = 1e-7;
/// Corners within this of a half turn are cusps: their side is told by curvature.
const CUSP: f64 = 1e-7;

/// A candidate piece of the offset.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece {
    pub(super) shape: Shape,
    /// The parameter runs from 0 to here: mm along a line, radians along an arc.
    pub(super) extent: f64,
    /// The edge it stands off from, or the one that ends at the corner it goes round.
    pub(super) source: u32,
}

#[derive(Debug, Clone, Copy)]
pub(super) enum Shape {
    Line {
        start: Point,
        u: Point,
    },
    Arc {
        centre: Point,
        radius: f64,
        /// From the centre to the start, as long as the radius.
        first: Point,
        /// 1 counter-clockwise, -1 clockwise.
        turn: f64,
    },
}

impl Piece {
    /// The edge moved `r` to its left; `None` if an arc bends that way with no more than `r` to its centre.
    pub(super) fn beside(edge: &Edge, r: f64, source: u32) -> Option<Self> {
        match edge.curve {
            Curve::Line { u, length } => {
                Some(Self { shape: Shape::Line { start: edge.a + u.left() * r, u }, extent: length, source })
            }
            Curve::Arc { centre, radius, sweep } => {
                let turn = sweep.signum();
                // Counter-clockwise arcs have their centre on the left.
                let moved = radius - turn * r;
                if moved <= POINT {
                    return None;
                }
                // By its own length: rounding of a small arc's centre would grow with the distance otherwise.
                let out = edge.a - centre;
                let first = out * (moved / libm::sqrt(out.dot(out)));
                Some(Self { shape: Shape::Arc { centre, radius: moved, first, turn }, extent: sweep.abs(), source })
            }
        }
    }

    /// The arc round the corner between two edges; `None` where it turns to the left.
    pub(super) fn around(before: &Edge, after: &Edge, r: f64, source: u32) -> Option<Self> {
        let (d, e) = (before.direction(true), after.direction(false));
        let mut turn = libm::atan2(d.cross(e), d.dot(e));
        if turn.abs() > PI - CUSP {
            // A cusp: to the left if the material lies between the two edges, so that there is no corner to go round.
            let between = after.curvature() < -before.curvature();
            turn = if between { PI } else { -PI };
        }
        (turn < -NO_TURN).then(|| Self::arc(after.a, d.left() * r, -turn, r, source))
    }

    /// A clockwise arc about a point, from `first` on.
    pub(super) fn arc(centre: Point, first: Point, extent: f64, radius: f64, source: u32) -> Self {
        Self { shape: Shape::Arc { centre, radius, first, turn: -1.0 }, extent, source }
    }

    /// The point at a parameter.
    pub(super) fn at(&self, t: f64) -> Point {
        match self.shape {
            Shape::Line { start, u } => start + u * t,
            Shape::Arc { centre, first, turn, .. } => {
                let (s, c) = (libm::sin(t) * turn, libm::cos(t));
                centre + first * c + first.left() * s
            }
        }
    }

    /// The part between two parameters, its own running from 0 again.
    pub(super) fn part(&self, from: f64, to: f64) -> Self {
        let shape = match self.shape {
            Shape::Line { u, .. } => Shape::Line { start: self.at(from), u },
            Shape::Arc { centre, radius, turn, .. } => {
                Shape::Arc { centre, radius, first: self.at(from) - centre, turn }
            }
        };
        Self { shape, extent: to - from, source: self.source }
    }

    /// mm between two parameters.
    pub(super) fn length(&self, from: f64, to: f64) -> f64 {
        match self.shape {
            Shape::Line { .. } => to - from,
            Shape::Arc { radius, .. } => radius * (to - from),
        }
    }

    /// The signed angle between two parameters; 0 for a line.
    pub(super) fn sweep(&self, from: f64, to: f64) -> f64 {
        match self.shape {
            Shape::Line { .. } => 0.0,
            Shape::Arc { turn, .. } => turn * (to - from),
        }
    }

    /// A box around it, not always the least.
    pub(super) fn bounds(&self) -> Bounds {
        let ends = Bounds::of([self.at(0.0), self.at(self.extent)]);
        match self.shape {
            Shape::Line { .. } => ends,
            Shape::Arc { centre, radius, first, turn } => {
                if self.extent > PI {
                    let r = Point::new(radius, radius);
                    return Bounds { min: centre - r, max: centre + r };
                }
                if self.extent < PI / 2.0 {
                    // The corner where the tangents of the ends meet bounds a short arc.
                    let half = libm::tan(self.extent / 2.0);
                    return ends.with(centre + first + first.left() * (turn * half));
                }
                let from = first.angle();
                let sweep = turn * self.extent.min(TAU);
                let arc = Segment::Arc { a: ends.min, b: ends.max, centre, radius, from, sweep };
                ends.union(arc.bounds())
            }
        }
    }
}
