//! What can be said and mended of one contour alone: numbers, repeated points, idle corners, cusps.

use super::{Finding, FindingKind, LARGEST};
use crate::arrange::MERGE;
use crate::{Contour, Point, Segment, Vertex};

/// A corner this near to the line through its neighbours is idle, mm.
const IDLE: f64 = MERGE / 10.0;
/// Idle corners in a row that are weighed against one chord.
const MOST_IDLE: usize = 64;
/// Arcs of a greater radius can't be met by formula to within the merging distance, mm.
const LARGEST_RADIUS: f64 = 1e9;
/// How far chords that stand for such an arc may be from it, mm.
const FLAT_ARC: f64 = 1e-4;
/// Corners that leave less than this between their sides are cusps, radians.
const CUSP: f64 = 0.01;

/// A vertex that was left out, by its index, and by how far it was from what stays.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Idle {
    pub(crate) vertex: usize,
    pub(crate) repeated: bool,
    pub(crate) off: f64,
}

/// The contour as it can be arranged, with what was found; `None` if nothing is left of it.
pub(crate) fn clean(contour: &Contour, index: usize, findings: &mut Vec<Finding>) -> Option<Contour> {
    let mut find = |kind, at, amount| findings.push(Finding { kind, at, amount, contour: index, other: None });
    if let Some((kind, at, amount)) = out_of_range(contour) {
        find(kind, at, amount);
        return None;
    }
    let mut vertices = Vec::with_capacity(contour.vertices.len());
    for (v, segment) in contour.vertices.iter().zip(contour.segments()) {
        vertices.push(*v);
        let Segment::Arc { radius, .. } = segment else { continue };
        let sagitta = 0.5 * segment.start().distance(segment.end()) * v.bulge.abs();
        if radius > LARGEST_RADIUS && sagitta > IDLE {
            let mut points = Vec::new();
            segment.flatten_into(FLAT_ARC, &mut points);
            points.pop();
            if let Some(last) = vertices.last_mut() {
                last.bulge = 0.0;
            }
            vertices.extend(points.into_iter().map(Vertex::straight));
            find(FindingKind::FlatArc, segment.at(0.5), sagitta);
        }
    }
    let (kept, idle) = without_idle_points(&vertices);
    for Idle { vertex, repeated, off } in idle {
        let kind = if repeated { FindingKind::RepeatedPoint } else { FindingKind::IdlePoint };
        find(kind, vertices[vertex].p, off);
    }
    let straight = kept.iter().all(|v| v.bulge == 0.0);
    if kept.len() < 2 || (kept.len() == 2 && straight) {
        find(FindingKind::NoArea, contour.vertices.first().map_or(Point::default(), |v| v.p), contour.length());
        return None;
    }
    let kept = Contour { vertices: kept };
    let segments: Vec<Segment> = kept.segments().collect();
    for (i, after) in segments.iter().enumerate() {
        let before = &segments[(i + segments.len() - 1) % segments.len()];
        let (Some(u), Some(v)) = (before.direction(1.0), after.direction(0.0)) else { continue };
        let between = libm::atan2(u.cross(v).abs(), -u.dot(v));
        if between < CUSP {
            find(FindingKind::Cusp, after.start(), between);
        }
    }
    Some(kept)
}

fn out_of_range(contour: &Contour) -> Option<(FindingKind, Point, f64)> {
    let finite = |v: &Vertex| v.p.is_finite() && v.bulge.is_finite();
    let bad = contour.vertices.iter().filter(|v| !finite(v)).count();
    if bad > 0 {
        let near = contour.vertices.iter().map(|v| v.p).find(|p| p.is_finite());
        return Some((FindingKind::NotFinite, near.unwrap_or_default(), bad as f64));
    }
    let far = |p: Point| p.x.abs().max(p.y.abs());
    let furthest = contour.segments().map(|s| {
        let b = s.bounds();
        let round = match s {
            Segment::Arc { centre, radius, .. } => centre.x + centre.y + radius,
            Segment::Line { .. } => 0.0,
        };
        let reach = far(b.min).max(far(b.max));
        // A bulge can be finite and its circle not.
        (s.start(), if round.is_finite() && reach.is_finite() { reach } else { f64::MAX })
    });
    let (at, reach) = furthest.fold((Point::default(), 0.0), |best, s| if s.1 > best.1 { s } else { best });
    (reach > LARGEST).then_some((FindingKind::TooFar, at, reach))
}

/// Vertices without those that repeat the one before or lie on the line through their neighbours, and what was left
/// out.
pub(crate) fn without_idle_points(vertices: &[Vertex]) -> (Vec<Vertex>, Vec<Idle>) {
    let mut idle = Vec::new();
    let mut kept: Vec<(usize, Vertex)> = Vec::with_capacity(vertices.len());
    let length = |a: Vertex, b: Vertex| Segment::with_bulge(a.p, b.p, a.bulge).length();
    for (i, &v) in vertices.iter().enumerate() {
        match kept.last_mut() {
            Some((_, last)) if length(*last, v) <= MERGE => {
                idle.push(Idle { vertex: i, repeated: true, off: last.p.distance(v.p) });
                last.bulge = v.bulge;
            }
            _ => kept.push((i, v)),
        }
    }
    while let [first, .., last] = kept[..] {
        if length(last.1, first.1) > MERGE {
            break;
        }
        idle.push(Idle { vertex: last.0, repeated: true, off: last.1.p.distance(first.1.p) });
        kept.pop();
    }
    let n = kept.len();
    let straight_through = |i: usize| {
        let (a, b, c) = (kept[(i + n - 1) % n].1, kept[i].1, kept[(i + 1) % n].1);
        a.bulge == 0.0 && b.bulge == 0.0 && between(a.p, b.p, c.p).is_some()
    };
    if n < 3 || !(0..n).any(straight_through) {
        return (kept.into_iter().map(|k| k.1).collect(), idle);
    }
    let Some(start) = (0..n).find(|&i| !straight_through(i)) else {
        return (kept.into_iter().map(|k| k.1).collect(), idle);
    };
    kept.rotate_left(start);
    let mut out: Vec<Vertex> = vec![kept[0].1];
    let mut passed: Vec<usize> = Vec::new();
    for i in 1..n {
        let (anchor, v, next) = (out[out.len() - 1], kept[i].1, kept[(i + 1) % n].1);
        let line = anchor.bulge == 0.0 && v.bulge == 0.0 && passed.len() < MOST_IDLE;
        let all_between = || passed.iter().chain([&i]).all(|&k| between(anchor.p, kept[k].1.p, next.p).is_some());
        if line && all_between() {
            let off = between(anchor.p, v.p, next.p).unwrap_or(0.0);
            idle.push(Idle { vertex: kept[i].0, repeated: false, off });
            passed.push(i);
        } else {
            out.push(v);
            passed.clear();
        }
    }
    (out, idle)
}

/// How far `b` is from the line between `a` and `c`, if it lies between them and that is idle.
fn between(a: Point, b: Point, c: Point) -> Option<f64> {
    let (d, e) = (b - a, c - b);
    let off = (c - a).cross(d).abs() / (c - a).norm();
    (d.dot(e) > 0.0 && off <= IDLE).then_some(off)
}
