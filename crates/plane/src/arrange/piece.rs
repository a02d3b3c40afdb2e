//! Lines and arcs of at most a quarter turn, monotone in x and y, and where two of them meet.
//!
//! Everything is computed from the equations of the two curves; no search, no flattening. Two curves that come closer
//! than the merging distance without ending there (nearly tangent, or crossing by less than it) meet at one point.

use crate::{Bounds, Point};
use std::f64::consts::PI;

/// A monotone part of a contour's segment.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece {
    pub(crate) a: Point,
    pub(crate) b: Point,
    /// `None` for a line.
    pub(crate) arc: Option<Arc>,
    /// Which of its contour's segments.
    pub(crate) segment: u32,
    /// The shares of the segment's length at which the piece begins and ends.
    pub(crate) t0: f64,
    pub(crate) t1: f64,
    /// The nodes at its ends.
    pub(crate) from: u32,
    pub(crate) to: u32,
}

#[derive(Debug, Clone, Copy)]
pub(crate) struct Arc {
    pub(crate) centre: Point,
    pub(crate) radius: f64,
    /// Angle of the start.
    pub(crate) angle: f64,
    /// Signed; at most a quarter turn.
    pub(crate) sweep: f64,
}

/// Where two pieces meet: shares of their lengths. A share of exactly 0 or 1 is an end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Contact {
    pub(crate) u: f64,
    pub(crate) v: f64,
    pub(crate) at: Point,
}

impl Piece {
    pub(crate) fn bounds(&self) -> Bounds {
        Bounds::of([self.a, self.b])
    }

    pub(crate) fn length(&self) -> f64 {
        self.arc.map_or_else(|| self.a.distance(self.b), |arc| arc.radius * arc.sweep.abs())
    }

    pub(crate) fn at(&self, u: f64) -> Point {
        match self.arc {
            _ if u <= 0.0 => self.a,
            _ if u >= 1.0 => self.b,
            None => self.a.lerp(self.b, u),
            Some(arc) => arc.centre + Point::at_angle(arc.angle + arc.sweep * u) * arc.radius,
        }
    }

    /// The share at which the infinite line or the full circle is nearest to a point; outside 0 to 1 beyond the ends.
    fn share(&self, p: Point) -> f64 {
        match self.arc {
            None => {
                let d = self.b - self.a;
                (p - self.a).dot(d) / d.dot(d)
            }
            Some(arc) => {
                // Measured from the middle of the arc, so that the far side of the circle is beyond the ends both ways.
                let (middle, to) = (self.at(0.5) - arc.centre, p - arc.centre);
                let from_middle = libm::atan2(middle.cross(to), middle.dot(to));
                0.5 + from_middle / arc.sweep
            }
        }
    }

    /// The share nearest to a point, and the distance.
    pub(crate) fn nearest(&self, p: Point) -> (f64, f64) {
        let u = self.share(p);
        if u > 0.0 && u < 1.0 {
            let distance = match self.arc {
                None => (self.b - self.a).cross(p - self.a).abs() / self.a.distance(self.b),
                Some(arc) => (p.distance(arc.centre) - arc.radius).abs(),
            };
            return (u, distance);
        }
        let (da, db) = (p.distance(self.a), p.distance(self.b));
        if da <= db { (0.0, da) } else { (1.0, db) }
    }
}

/// Whether two pieces stay clear of each other for a reason that is quickly told: most pairs whose boxes meet do.
fn clear(p: &Piece, q: &Piece, eps: f64) -> bool {
    match (p.arc, q.arc) {
        (None, None) => beside(p, q, eps) || beside(q, p, eps),
        (None, Some(arc)) => line_clear_of_circle(p, arc, eps),
        (Some(arc), None) => line_clear_of_circle(q, arc, eps),
        (Some(a), Some(b)) => {
            let between = b.centre - a.centre;
            let square = between.dot(between);
            let (sum, difference) = (a.radius + b.radius + eps, (a.radius - b.radius).abs() - eps);
            square > sum * sum || (difference > 0.0 && square < difference * difference)
        }
    }
}

/// Whether a line lies wholly on one side of another's infinite line.
fn beside(p: &Piece, q: &Piece, eps: f64) -> bool {
    let d = p.b - p.a;
    let (a, b) = (d.cross(q.a - p.a), d.cross(q.b - p.a));
    a * b > 0.0 && a.abs().min(b.abs()) > eps * libm::sqrt(d.dot(d))
}

/// Whether a line lies inside a circle or passes it by.
fn line_clear_of_circle(line: &Piece, arc: Arc, eps: f64) -> bool {
    let (a, b, d) = (line.a - arc.centre, line.b - arc.centre, line.b - line.a);
    let (inner, outer) = (arc.radius - eps, arc.radius + eps);
    let height = d.cross(a);
    (inner > 0.0 && a.dot(a).max(b.dot(b)) < inner * inner) || height * height > outer * outer * d.dot(d)
}

/// All the places where two pieces meet, at most four: ends first, then crossings and tangencies between the ends.
pub(crate) fn meet(p: &Piece, q: &Piece, eps: f64, contacts: &mut Vec<Contact>) {
    contacts.clear();
    if clear(p, q, eps) {
        return;
    }
    let snap = |piece: &Piece, u: f64, at: Point| {
        if at.distance(piece.a) <= eps {
            0.0
        } else if at.distance(piece.b) <= eps {
            1.0
        } else {
            u
        }
    };
    let mut add = |contact: Contact| {
        if !contacts.iter().any(|c| c.u == contact.u && c.v == contact.v) {
            contacts.push(contact);
        }
    };
    for (u, at) in [(0.0, p.a), (1.0, p.b)] {
        let (v, distance) = q.nearest(at);
        if distance <= eps {
            add(Contact { u, v: snap(q, v, at), at });
        }
    }
    for (v, at) in [(0.0, q.a), (1.0, q.b)] {
        let (u, distance) = p.nearest(at);
        if distance <= eps {
            add(Contact { u: snap(p, u, at), v, at });
        }
    }
    let ends = contacts.len();
    for at in candidates(p, q, eps).into_iter().flatten() {
        let (u, v) = (p.share(at), q.share(at));
        let within = |w: f64| w > 0.0 && w < 1.0;
        // Crossings within the merging distance of an end were found as ends.
        if !within(u) || !within(v) || [p.a, p.b, q.a, q.b].iter().any(|e| e.distance(at) <= eps) {
            continue;
        }
        // Where the two run together from an end to here, the end speaks for both.
        let together = contacts[..ends].iter().any(|c| q.nearest(p.at(0.5 * (c.u + u))).1 <= eps);
        if !together {
            contacts.push(Contact { u, v, at });
        }
    }
}

/// Points where the full curves meet.
fn candidates(p: &Piece, q: &Piece, eps: f64) -> [Option<Point>; 2] {
    match (p.arc, q.arc) {
        (None, None) => {
            let (d, e) = (p.b - p.a, q.b - q.a);
            let turn = d.cross(e);
            if turn * turn <= 1e-30 * d.dot(d) * e.dot(e) {
                return [None; 2];
            }
            [Some(p.at(((q.a - p.a).cross(e) / turn).clamp(-1.0, 2.0))), None]
        }
        (None, Some(arc)) => line_circle(p, arc, eps),
        (Some(arc), None) => line_circle(q, arc, eps),
        (Some(a), Some(b)) => circle_circle(a, b, eps),
    }
}

fn line_circle(line: &Piece, arc: Arc, eps: f64) -> [Option<Point>; 2] {
    let Some(along) = (line.b - line.a).unit() else { return [None; 2] };
    let to = arc.centre - line.a;
    let foot = line.a + along * to.dot(along);
    let height = along.cross(to).abs();
    let depth = arc.radius - height;
    if depth < -eps {
        return [None; 2];
    }
    if depth <= eps {
        // Halfway between the line and the circle.
        let out = (foot - arc.centre).unit().unwrap_or_else(|| along.left());
        return [Some(arc.centre + out * (0.5 * (height + arc.radius))), None];
    }
    let half = libm::sqrt(depth * (arc.radius + height));
    [Some(foot - along * half), Some(foot + along * half)]
}

fn circle_circle(a: Arc, b: Arc, eps: f64) -> [Option<Point>; 2] {
    let between = b.centre - a.centre;
    let d = between.norm();
    let Some(along) = between.unit() else { return [None; 2] };
    let apart = d - (a.radius + b.radius);
    let within = (a.radius - b.radius).abs() - d;
    if apart > eps || within > eps {
        return [None; 2];
    }
    if apart >= -eps {
        return [Some(a.centre + along * (a.radius + 0.5 * apart)), None];
    }
    if within >= -eps {
        let reach = |big: f64, small: f64| 0.5 * (big + d + small);
        let at = if a.radius >= b.radius {
            a.centre + along * reach(a.radius, b.radius)
        } else {
            b.centre - along * reach(b.radius, a.radius)
        };
        return [Some(at), None];
    }
    // From the smaller circle: seen from a very large one, the common chord's place is lost in its radius.
    let (small, big, along) = if a.radius <= b.radius { (a, b, along) } else { (b, a, -along) };
    let x = 0.5 * ((d - big.radius) * (d + big.radius) + small.radius * small.radius) / d;
    let y = libm::sqrt(((small.radius - x) * (small.radius + x)).max(0.0));
    let foot = small.centre + along * x;
    [Some(foot + along.left() * y), Some(foot - along.left() * y)]
}

/// The shares at which an arc turns at the extremes of x and y, ends left out.
pub(crate) fn turning_shares(from: f64, sweep: f64) -> Vec<(f64, Point)> {
    let quarter = PI / 2.0;
    let (low, high) = if sweep > 0.0 { (from, from + sweep) } else { (from + sweep, from) };
    let (first, last) = ((low / quarter).floor() as i64, (high / quarter).ceil() as i64);
    let mut shares: Vec<(f64, Point)> = (first..=last)
        .filter_map(|k| {
            let t = (k as f64 * quarter - from) / sweep;
            let direction = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)][k.rem_euclid(4) as usize];
            let margin = 1e-9;
            (t * sweep.abs() > margin && (1.0 - t) * sweep.abs() > margin)
                .then_some((t, Point::new(direction.0, direction.1)))
        })
        .collect();
    shares.sort_by(|a, b| a.0.total_cmp(&b.0));
    shares
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(a: (f64, f64), b: (f64, f64)) -> Piece {
        let (a, b) = (Point::new(a.0, a.1), Point::new(b.0, b.1));
        Piece { a, b, arc: None, segment: 0, t0: 0.0, t1: 1.0, from: 0, to: 0 }
    }

    fn arc(centre: (f64, f64), radius: f64, angle: f64, sweep: f64) -> Piece {
        let centre = Point::new(centre.0, centre.1);
        let at = |angle: f64| centre + Point::at_angle(angle) * radius;
        Piece {
            arc: Some(Arc { centre, radius, angle, sweep }),
            ..line(at(angle).into_tuple(), at(angle + sweep).into_tuple())
        }
    }

    impl Point {
        fn into_tuple(self) -> (f64, f64) {
            (self.x, self.y)
        }
    }

    fn found(p: &Piece, q: &Piece) -> Vec<Contact> {
        let mut contacts = Vec::new();
        meet(p, q, 1e-6, &mut contacts);
        contacts
    }

    #[test]
    fn lines_cross_touch_and_miss() {
        let p = line((0.0, 0.0), (10.0, 0.0));
        let crossed = found(&p, &line((4.0, -1.0), (4.0, 3.0)));
        assert_eq!(crossed.len(), 1);
        assert!((crossed[0].u - 0.4).abs() < 1e-12 && (crossed[0].v - 0.25).abs() < 1e-12);
        assert_eq!(found(&p, &line((4.0, 0.0), (4.0, 3.0)))[0].v, 0.0);
        assert!(found(&p, &line((4.0, 0.001), (4.0, 3.0))).is_empty());
        assert_eq!(found(&p, &line((4.0, 0.0), (14.0, 0.0))).len(), 2);
    }

    /// A 3-4-5 triangle: the line y = 3 cuts the circle of radius 5 at x = ±4; circles of radius 5 whose centres are
    /// 8 apart cut at half the way, 3 up and down.
    #[test]
    fn circles_by_the_triangle_of_three_four_five() {
        let quarter = arc((0.0, 0.0), 5.0, 0.0, PI / 2.0);
        let hit = found(&quarter, &line((-9.0, 3.0), (9.0, 3.0)));
        assert!(hit.len() == 1 && hit[0].at.distance(Point::new(4.0, 3.0)) < 1e-12);
        let hit = found(&quarter, &arc((8.0, 0.0), 5.0, PI, -PI / 2.0));
        assert!(hit.len() == 1 && hit[0].at.distance(Point::new(4.0, 3.0)) < 1e-12);
    }

    #[test]
    fn near_tangency_is_one_point() {
        let quarter = arc((0.0, 0.0), 5.0, PI / 4.0, PI / 2.0);
        for off in [-9e-7, -1e-12, 0.0, 1e-12, 9e-7] {
            let hit = found(&quarter, &line((-9.0, 5.0 + off), (9.0, 5.0 + off)));
            assert!(hit.len() == 1 && hit[0].at.distance(Point::new(0.0, 5.0)) < 1e-6, "{off} {hit:?}");
        }
        assert_eq!(found(&quarter, &line((-9.0, 5.0 - 2e-6), (9.0, 5.0 - 2e-6))).len(), 2);
        assert!(found(&quarter, &line((-9.0, 5.0 + 2e-6), (9.0, 5.0 + 2e-6))).is_empty());
        let inner = arc((0.0, 3.0), 2.0, PI / 4.0, PI / 2.0);
        assert_eq!(found(&quarter, &inner).len(), 1);
    }
}
