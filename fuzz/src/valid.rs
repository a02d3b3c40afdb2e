//! Whether rings cross: written apart from the kernel, and slow.

use plane::{Contour, Point, Region, Segment, Shape};

/// Nearer than this is touching, mm.
const TOUCH: f64 = 1e-7;
/// Points of a ring this near to another tell nothing about their sides, mm.
const BESIDE: f64 = 1e-6;

/// Whether a ring meets itself anywhere but where its segments join.
pub fn meets_itself(ring: &Contour) -> bool {
    let segments: Vec<Segment> = ring.segments().collect();
    let n = segments.len();
    if segments.iter().any(|s| s.length() < 1e-6) {
        return true;
    }
    (0..n).any(|i| {
        (i + 1..n).any(|j| {
            let mut shared = Vec::new();
            if j == i + 1 {
                shared.push(segments[j].start());
            }
            if i == 0 && j == n - 1 {
                shared.push(segments[0].start());
            }
            meet(&segments[i], &segments[j]).iter().any(|p| shared.iter().all(|q| p.distance(*q) > BESIDE))
        })
    })
}

/// How two rings lie to each other.
#[derive(PartialEq, Eq, Clone, Copy, Debug)]
pub enum Two {
    /// No common point.
    Apart,
    /// Common points, but neither crosses over the other.
    Touching,
    /// They cross, or it cannot be told.
    Crossing,
}

/// How two rings that do not meet themselves lie to each other.
pub fn two(a: &Contour, b: &Contour) -> Two {
    if !a.bounds().grown(TOUCH).meets(b.bounds()) {
        return Two::Apart;
    }
    let meet = a.segments().any(|s| b.segments().any(|t| !meet(&s, &t).is_empty()));
    if !meet {
        return Two::Apart;
    }
    if one_side(a, b) && one_side(b, a) { Two::Touching } else { Two::Crossing }
}

/// Whether all of `a` that is not on `b` lies on one side of it: told between each two points where it meets `b`.
fn one_side(a: &Contour, b: &Contour) -> bool {
    let away = |p: Point| b.segments().all(|s| s.distance(p) > BESIDE);
    let mut sides = Vec::new();
    for s in a.segments() {
        let mut shares: Vec<f64> = b.segments().flat_map(|t| meet(&s, &t)).map(|p| s.nearest_share(p)).collect();
        shares.extend([0.0, 0.37, 1.0]);
        shares.sort_by(f64::total_cmp);
        let middles = shares.windows(2).map(|w| s.at(0.5 * (w[0] + w[1])));
        sides.extend(middles.filter(|&p| away(p)).map(|p| b.contains(p)));
    }
    !sides.is_empty() && sides.iter().all(|&s| s == sides[0])
}

/// Rings that do not cross, nested by even and odd depth. `None` if there is nothing in them.
pub fn nested(rings: Vec<Contour>) -> Option<Region> {
    // A point of the ring that lies on none of the others tells which of them are around it.
    let inner = |i: usize| {
        let others = |p: Point| {
            let each = rings.iter().enumerate().filter(|&(j, _)| j != i);
            each.flat_map(|(_, c)| c.segments().map(|s| s.distance(p)).collect::<Vec<_>>())
                .fold(f64::INFINITY, f64::min)
        };
        let points = rings[i].segments().flat_map(|s| [0.0, 0.25, 0.5, 0.75].map(|t| s.at(t)));
        let far = points.map(|p| (others(p), p)).max_by(|a, b| a.0.total_cmp(&b.0));
        far.map_or_else(Point::default, |(_, p)| p)
    };
    let around = |i: usize| -> Vec<usize> {
        let p = inner(i);
        let larger = |j: usize| rings[j].area().abs() > rings[i].area().abs();
        (0..rings.len()).filter(|&j| j != i && larger(j) && rings[j].contains(p)).collect()
    };
    let depths: Vec<Vec<usize>> = (0..rings.len()).map(around).collect();
    let mut shapes: Vec<(usize, Shape)> = Vec::new();
    for (i, ring) in rings.iter().enumerate().filter(|&(i, _)| depths[i].len().is_multiple_of(2)) {
        shapes.push((i, Shape::solid(ring.clone())));
    }
    for (i, ring) in rings.iter().enumerate().filter(|&(i, _)| depths[i].len() % 2 == 1) {
        let home = *depths[i].iter().min_by(|&&a, &&b| rings[a].area().abs().total_cmp(&rings[b].area().abs()))?;
        let hole = if ring.area() > 0.0 { ring.reversed() } else { ring.clone() };
        shapes.iter_mut().find(|s| s.0 == home)?.1.holes.push(hole);
    }
    (!shapes.is_empty()).then(|| Region { shapes: shapes.into_iter().map(|s| s.1).collect() })
}

/// Common points of two segments, among them some of every run they share.
fn meet(s: &Segment, t: &Segment) -> Vec<Point> {
    let mut points = match (*s, *t) {
        (Segment::Line { a, b }, Segment::Line { a: c, b: d }) => {
            let (u, v) = (b - a, d - c);
            let cross = u.cross(v);
            if cross.abs() < 1e-14 { Vec::new() } else { vec![a + u * ((c - a).cross(v) / cross)] }
        }
        (Segment::Line { a, b }, Segment::Arc { centre, radius, .. })
        | (Segment::Arc { centre, radius, .. }, Segment::Line { a, b }) => {
            let Some(u) = (b - a).unit() else { return vec![a] };
            let foot = a + u * (centre - a).dot(u);
            let square = radius * radius - (foot - centre).dot(foot - centre);
            let half = square.max(0.0).sqrt();
            vec![foot + u * half, foot - u * half]
        }
        (Segment::Arc { centre: p, radius: q, .. }, Segment::Arc { centre, radius, .. }) => {
            let d = centre - p;
            let square = d.dot(d);
            if square < 1e-18 {
                Vec::new()
            } else {
                let x = (q * q - radius * radius + square) / (2.0 * square);
                let y = (q * q / square - x * x).max(0.0).sqrt();
                vec![p + d * x + d.left() * y, p + d * x - d.left() * y]
            }
        }
    };
    for (one, other) in [(s, t), (t, s)] {
        points.extend((0..=8).map(|k| one.at(f64::from(k) / 8.0)).filter(|&p| other.distance(p) <= TOUCH));
    }
    points.retain(|&p| s.distance(p) <= TOUCH && t.distance(p) <= TOUCH);
    points
}
