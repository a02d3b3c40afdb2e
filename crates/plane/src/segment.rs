//! One piece of a contour: a straight line or a circular arc.

use crate::{Bounds, Point};
use std::f64::consts::{PI, TAU};

/// A straight line or an arc between two points, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Segment {
    /// A straight line.
    Line {
        /// Start.
        a: Point,
        /// End.
        b: Point,
    },
    /// A circular arc.
    Arc {
        /// Start.
        a: Point,
        /// End.
        b: Point,
        /// Centre.
        centre: Point,
        /// Radius, mm.
        radius: f64,
        /// Angle of the start seen from the centre, radians.
        from: f64,
        /// Signed angle covered, radians; positive is counter-clockwise; never a full turn.
        sweep: f64,
    },
}

/// Bulges below this leave an arc within a nanometre of its chord for chords up to a metre.
pub(crate) const STRAIGHT: f64 = 1e-12;

impl Segment {
    /// The segment from `a` to `b` whose bulge is the tangent of a quarter of its sweep.
    pub fn with_bulge(a: Point, b: Point, bulge: f64) -> Self {
        let chord = b - a;
        if bulge.abs() <= STRAIGHT || chord == Point::default() {
            return Self::Line { a, b };
        }
        // Distance from the chord's middle to the centre, to the left: half chord x (1 - b²) / (2 b).
        let centre = a.lerp(b, 0.5) + chord.left() * ((1.0 - bulge * bulge) / (4.0 * bulge));
        let radius = chord.norm() * (1.0 + bulge * bulge) / (4.0 * bulge.abs());
        Self::Arc { a, b, centre, radius, from: (a - centre).angle(), sweep: 4.0 * libm::atan(bulge) }
    }

    /// Start point.
    pub fn start(&self) -> Point {
        match *self {
            Self::Line { a, .. } | Self::Arc { a, .. } => a,
        }
    }

    /// End point.
    pub fn end(&self) -> Point {
        match *self {
            Self::Line { b, .. } | Self::Arc { b, .. } => b,
        }
    }

    /// The bulge that makes it from its ends.
    pub fn bulge(&self) -> f64 {
        match *self {
            Self::Line { .. } => 0.0,
            Self::Arc { sweep, .. } => libm::tan(sweep / 4.0),
        }
    }

    /// Length, mm.
    pub fn length(&self) -> f64 {
        match *self {
            Self::Line { a, b } => a.distance(b),
            Self::Arc { radius, sweep, .. } => radius * sweep.abs(),
        }
    }

    /// The point a share `t` (0 to 1) of the length along.
    pub fn at(&self, t: f64) -> Point {
        match *self {
            Self::Line { a, b } => a.lerp(b, t),
            Self::Arc { a, .. } if t <= 0.0 => a,
            Self::Arc { b, .. } if t >= 1.0 => b,
            Self::Arc { centre, radius, from, sweep, .. } => centre + Point::at_angle(from + sweep * t) * radius,
        }
    }

    /// Unit direction of travel at a share `t` of the length; `None` for a segment without length.
    pub fn direction(&self, t: f64) -> Option<Point> {
        match *self {
            Self::Line { a, b } => (b - a).unit(),
            Self::Arc { from, sweep, .. } => Some(Point::at_angle(from + sweep * t).left() * sweep.signum()),
        }
    }

    /// The piece between two shares of the length, `t0 < t1`.
    #[must_use]
    pub fn piece(&self, t0: f64, t1: f64) -> Self {
        let (a, b) = (self.at(t0), self.at(t1));
        match *self {
            Self::Line { .. } => Self::Line { a, b },
            Self::Arc { centre, radius, from, sweep, .. } => {
                Self::Arc { a, b, centre, radius, from: from + sweep * t0, sweep: sweep * (t1 - t0) }
            }
        }
    }

    /// The same curve travelled the other way.
    #[must_use]
    pub fn reversed(&self) -> Self {
        match *self {
            Self::Line { a, b } => Self::Line { a: b, b: a },
            Self::Arc { a, b, centre, radius, from, sweep } => {
                Self::Arc { a: b, b: a, centre, radius, from: from + sweep, sweep: -sweep }
            }
        }
    }

    /// The share of the length of the arc at which an angle lies, if the arc covers it.
    fn share_of_angle(from: f64, sweep: f64, angle: f64) -> Option<f64> {
        let along = ((angle - from) * sweep.signum()).rem_euclid(TAU);
        (along <= sweep.abs()).then(|| along / sweep.abs())
    }

    /// The share of the length at which the segment is nearest to a point.
    pub fn nearest_share(&self, p: Point) -> f64 {
        match *self {
            Self::Line { a, b } => {
                let d = b - a;
                let square = d.dot(d);
                if square > 0.0 { ((p - a).dot(d) / square).clamp(0.0, 1.0) } else { 0.0 }
            }
            Self::Arc { a, b, centre, from, sweep, .. } => {
                let toward = p - centre;
                let inside =
                    (toward != Point::default()).then(|| Self::share_of_angle(from, sweep, toward.angle())).flatten();
                inside.unwrap_or(if p.distance(a) <= p.distance(b) { 0.0 } else { 1.0 })
            }
        }
    }

    /// Distance from a point to the segment, mm.
    pub fn distance(&self, p: Point) -> f64 {
        match *self {
            Self::Line { .. } => p.distance(self.at(self.nearest_share(p))),
            Self::Arc { a, b, centre, radius, sweep, .. } => {
                // Whether the arc covers the direction, without an angle: this is asked millions of times.
                let (first, last, to, turn) = (a - centre, b - centre, p - centre, sweep.signum());
                let covered = if sweep.abs() <= PI {
                    first.cross(to) * turn >= 0.0 && to.cross(last) * turn >= 0.0
                } else {
                    !(last.cross(to) * turn > 0.0 && to.cross(first) * turn > 0.0)
                };
                // A half turn's ends lie opposite: the far side then passes both tests only on the line through them.
                let ahead = sweep.abs() > PI || to.dot(first + last) >= 0.0 || sweep.abs() > 3.0;
                if covered && ahead { (to.norm() - radius).abs() } else { p.distance(a).min(p.distance(b)) }
            }
        }
    }

    /// The exact box around it.
    pub fn bounds(&self) -> Bounds {
        let ends = Bounds::of([self.start(), self.end()]);
        match *self {
            Self::Line { .. } => ends,
            Self::Arc { centre, radius, from, sweep, .. } => (0..4)
                .map(|quarter| f64::from(quarter) * PI / 2.0)
                .filter(|&angle| Self::share_of_angle(from, sweep, angle).is_some())
                .fold(ends, |bounds, angle| bounds.with(centre + Point::at_angle(angle) * radius)),
        }
    }

    /// Signed area between the segment and the origin (Green's theorem), mm².
    pub fn area_to(&self, origin: Point) -> f64 {
        let (a, b) = (self.start() - origin, self.end() - origin);
        let triangle = 0.5 * a.cross(b);
        match *self {
            Self::Line { .. } => triangle,
            Self::Arc { radius, sweep, .. } => triangle + 0.5 * radius * radius * (sweep - libm::sin(sweep)),
        }
    }

    /// Points along it, the start left out and the end included, so that no chord is further than
    /// `tolerance` mm from it.
    pub fn flatten_into(&self, tolerance: f64, points: &mut Vec<Point>) {
        if let Self::Arc { radius, sweep, .. } = *self {
            let steps = chords(radius, sweep, tolerance);
            points.extend((1..steps).map(|i| self.at(i as f64 / steps as f64)));
        }
        points.push(self.end());
    }
}

/// Chords an arc needs so that none is further than `tolerance` from it: the step is 2 acos(1 - tol/r).
fn chords(radius: f64, sweep: f64, tolerance: f64) -> usize {
    if radius <= tolerance {
        return ((sweep.abs() / (PI / 2.0)).ceil() as usize).max(1);
    }
    let step = 2.0 * libm::acos(1.0 - tolerance / radius);
    ((sweep.abs() / step).ceil() as usize).clamp(1, 1_000_000)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Chords of tolerance 0.01 on r 10: 5.12512° each, 71 chords (2 acos(1 - tol/r), derived).
    #[test]
    fn chords_of_a_circle() {
        assert_eq!(chords(10.0, TAU, 0.01), 71);
        assert!(((2.0 * libm::acos(1.0 - 0.001_f64)).to_degrees() - 5.12512).abs() < 1e-5);
    }

    /// The distance without angles is the least one to points along the arc.
    #[test]
    fn distances_to_arcs() {
        for k in 0..4000u32 {
            let f = |m: f64| (f64::from(k) * m).fract();
            let (from, sweep) = (f(0.618) * TAU, (f(0.7548) - 0.5) * 2.0 * TAU * 0.99);
            let centre = Point::new(3.0, -2.0);
            let (a, b) = (centre + Point::at_angle(from) * 5.0, centre + Point::at_angle(from + sweep) * 5.0);
            let arc = Segment::Arc { a, b, centre, radius: 5.0, from, sweep };
            let p = centre + Point::at_angle(f(0.5698) * TAU) * (0.01 + 12.0 * f(0.33));
            let sampled = (0..=2000).map(|i| p.distance(arc.at(f64::from(i) / 2000.0))).fold(f64::INFINITY, f64::min);
            let found = arc.distance(p);
            assert!(found <= sampled + 1e-9 && found >= sampled - 0.02, "{sweep} {p:?}: {found} {sampled}");
        }
    }

    #[test]
    fn a_half_circle_by_bulge() {
        let arc = Segment::with_bulge(Point::new(1.0, 0.0), Point::new(-1.0, 0.0), 1.0);
        assert!((arc.length() - PI).abs() < 1e-12);
        assert!((arc.at(0.5) - Point::new(0.0, 1.0)).norm() < 1e-12);
        assert!((arc.bounds().max.y - 1.0).abs() < 1e-12 && arc.bounds().min.y.abs() < 1e-12);
        assert!((arc.distance(Point::new(0.0, 3.0)) - 2.0).abs() < 1e-12);
        assert!((arc.distance(Point::new(2.0, -1.0)) - 2f64.sqrt()).abs() < 1e-12);
        assert!((arc.area_to(Point::default()) - PI / 2.0).abs() < 1e-12);
    }
}
