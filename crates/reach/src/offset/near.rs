//! Where along a piece a source edge comes nearer than the offset's distance.
//!
//! The points within `r` of an edge fill a sausage whose rim is made of two offset curves and two circles about the
//! edge's ends. A piece enters or leaves it only where it crosses one of these, so the crossings split the piece into
//! runs and the middle of each run decides for all of it.

use super::edge::{Curve, Edge};
use super::pieces::{Piece, Shape};
use plane::Point;
use std::f64::consts::TAU;

/// A run of a piece, in its own parameter.
pub(super) type Run = (f64, f64);

/// Crossings of a piece with the rim of one sausage: at most two for each of four rim curves, and the two ends.
struct Cuts {
    at: [f64; 12],
    len: usize,
}

impl Cuts {
    fn push(&mut self, t: f64) {
        if self.len < self.at.len() {
            self.at[self.len] = t;
            self.len += 1;
        }
    }
}

/// Calls `kill` with each run of `piece` that lies nearer than `r` mm to `edge`.
pub(super) fn nearer(piece: &Piece, edge: &Edge, r: f64, mut kill: impl FnMut(Run)) {
    if let (Shape::Line { start, u }, Curve::Line { u: along, length }) = (piece.shape, edge.curve) {
        if let Some(run) = line_in_stadium(start, u, piece.extent, edge, along, length, r) {
            kill(run);
        }
        return;
    }
    let mut cuts = Cuts { at: [0.0; 12], len: 0 };
    cut_at_circle(piece, edge.a, r, &mut cuts);
    cut_at_circle(piece, edge.b, r, &mut cuts);
    match edge.curve {
        Curve::Line { u, .. } => {
            let side = u.left() * r;
            cut_at_line(piece, edge.a + side, u, &mut cuts);
            cut_at_line(piece, edge.a - side, u, &mut cuts);
        }
        Curve::Arc { centre, radius, .. } => {
            cut_at_circle(piece, centre, radius + r, &mut cuts);
            if radius > r {
                cut_at_circle(piece, centre, radius - r, &mut cuts);
            }
        }
    }
    cuts.push(piece.extent);
    let at = &mut cuts.at[..cuts.len];
    at.sort_unstable_by(f64::total_cmp);
    let square = r * r;
    let mut from = 0.0;
    let mut open: Option<f64> = None;
    for &t in at.iter() {
        if t <= from {
            continue;
        }
        let inside = edge.distance_squared(piece.at(0.5 * (from + t))) < square;
        match (inside, open) {
            (true, None) => open = Some(from),
            (false, Some(since)) => {
                kill((since, from));
                open = None;
            }
            _ => {}
        }
        from = t;
    }
    if let Some(since) = open {
        kill((since, from));
    }
}

/// The run of a line inside the stadium about another: it is convex, so there is at most one.
fn line_in_stadium(start: Point, u: Point, extent: f64, edge: &Edge, along: Point, length: f64, r: f64) -> Option<Run> {
    let to = start - edge.a;
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for end in [to, start - edge.b] {
        let b = end.dot(u);
        let off = end.cross(u);
        let square = r * r - off * off;
        if square > 0.0 {
            let half = libm::sqrt(square);
            low = low.min(-b - half);
            high = high.max(half - b);
        }
    }
    // The straight part: between the ends and within r aside.
    let (s0, ds) = (to.dot(along), u.dot(along));
    let (c0, dc) = (along.cross(to), along.cross(u));
    let body = slab(s0, ds, 0.0, length).and_then(|(a, b)| {
        let (c, d) = slab(c0, dc, -r, r)?;
        Some((a.max(c), b.min(d)))
    });
    if let Some((a, b)) = body
        && a < b
    {
        low = low.min(a);
        high = high.max(b);
    }
    let (low, high) = (low.max(0.0), high.min(extent));
    (low < high).then_some((low, high))
}

/// Where `v + t d` lies between two values.
fn slab(v: f64, d: f64, least: f64, most: f64) -> Option<Run> {
    if d.abs() < 1e-15 {
        return (v > least && v < most).then_some((f64::NEG_INFINITY, f64::INFINITY));
    }
    let (a, b) = ((least - v) / d, (most - v) / d);
    Some(if a < b { (a, b) } else { (b, a) })
}

fn cut_at_circle(piece: &Piece, about: Point, radius: f64, cuts: &mut Cuts) {
    match piece.shape {
        Shape::Line { start, u } => {
            let to = start - about;
            let (b, off) = (to.dot(u), to.cross(u));
            let square = radius * radius - off * off;
            if square > 0.0 {
                let half = libm::sqrt(square);
                for t in [-b - half, half - b] {
                    if t > 0.0 && t < piece.extent {
                        cuts.push(t);
                    }
                }
            }
        }
        Shape::Arc { centre, radius: own, .. } => {
            let to = about - centre;
            let d2 = to.dot(to);
            // Circles about one centre meet nowhere or everywhere: neither is a crossing.
            if d2 < 1e-18 {
                return;
            }
            let x = (own * own - radius * radius + d2) / (2.0 * d2);
            let square = own * own / d2 - x * x;
            if square > 0.0 {
                let y = libm::sqrt(square);
                cut_at_direction(piece, to * x + to.left() * y, cuts);
                cut_at_direction(piece, to * x - to.left() * y, cuts);
            }
        }
    }
}

fn cut_at_line(piece: &Piece, on: Point, u: Point, cuts: &mut Cuts) {
    // Only arcs come here: line against line has its own way.
    if let Shape::Arc { centre, radius, .. } = piece.shape {
        let off = u.cross(centre - on);
        let square = radius * radius - off * off;
        if square > 0.0 {
            let half = libm::sqrt(square);
            let foot = u.left() * -off;
            cut_at_direction(piece, foot + u * half, cuts);
            cut_at_direction(piece, foot - u * half, cuts);
        }
    }
}

/// Notes where an arc piece passes a direction from its centre, if it does.
fn cut_at_direction(piece: &Piece, to: Point, cuts: &mut Cuts) {
    if let Shape::Arc { first, turn, .. } = piece.shape {
        // The angle from the piece's first direction, along its turn.
        let angle = libm::atan2(first.cross(to) * turn, first.dot(to));
        let t = if angle < 0.0 { angle + TAU } else { angle };
        if t > 0.0 && t < piece.extent {
            cuts.push(t);
        }
    }
}
