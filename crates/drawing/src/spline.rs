//! B-splines: rational, of any degree, and cubics through given points.
//!
//! De Boor's algorithm in homogeneous coordinates, and the interpolating cubic with continuous second derivative over
//! chord lengths (both textbook; Piegl & Tiller, *The NURBS Book*, chapters 3, 4 and 9, from memory).

use crate::curve::Curve;
use plane::Point;

/// The greatest degree taken; drawing programs stay under 10.
const GREATEST_DEGREE: usize = 25;

/// A B-spline over `knots[degree] ..= knots[points.len()]`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Spline {
    degree: usize,
    knots: Vec<f64>,
    /// Control points.
    points: Vec<Point>,
    /// One for each control point, all positive.
    weights: Vec<f64>,
}

impl Spline {
    /// A spline, if the numbers make one: knots in order, one weight per point (or none), enough of each.
    pub(crate) fn new(degree: usize, knots: Vec<f64>, points: Vec<Point>, weights: Vec<f64>) -> Option<Self> {
        let n = points.len();
        let weights = if weights.is_empty() { vec![1.0; n] } else { weights };
        let whole = (1..=GREATEST_DEGREE).contains(&degree)
            && n > degree
            && knots.len() == n + degree + 1
            && weights.len() == n
            && weights.iter().all(|w| w.is_finite() && *w > 0.0)
            && knots.iter().all(|k| k.is_finite())
            && knots.windows(2).all(|w| w[0] <= w[1])
            && knots[degree] < knots[n];
        whole.then_some(Self { degree, knots, points, weights })
    }

    /// Its control points.
    pub(crate) fn points(&self) -> impl Iterator<Item = Point> + '_ {
        self.points.iter().copied()
    }

    /// The image, by its control points: exact for any affine map.
    pub(crate) fn mapped(&self, map: impl Fn(Point) -> Point) -> Self {
        Self { points: self.points.iter().map(|&p| map(p)).collect(), ..self.clone() }
    }

    /// Where it starts.
    pub(crate) fn start(&self) -> Point {
        self.at(self.degree, self.knots[self.degree])
    }

    /// Where it ends.
    pub(crate) fn end(&self) -> Point {
        let n = self.points.len();
        let span = (self.degree..n).rev().find(|&k| self.knots[k] < self.knots[k + 1]).unwrap_or(n - 1);
        self.at(span, self.knots[n])
    }

    /// The point at parameter `t` in the span that starts at knot `span` (de Boor).
    fn at(&self, span: usize, t: f64) -> Point {
        let p = self.degree;
        // A first span of no width can only be asked at its start.
        let span = (span..self.points.len()).find(|&k| self.knots[k] < self.knots[k + 1]).unwrap_or(span);
        let mut d: Vec<[f64; 3]> = (0..=p)
            .map(|j| {
                let (q, w) = (self.points[span - p + j], self.weights[span - p + j]);
                [q.x * w, q.y * w, w]
            })
            .collect();
        for r in 1..=p {
            for j in (r..=p).rev() {
                let (low, high) = (self.knots[span - p + j], self.knots[span + 1 + j - r]);
                let share = if high > low { (t - low) / (high - low) } else { 0.0 };
                let before = d[j - 1];
                for (x, y) in d[j].iter_mut().zip(before) {
                    *x = (1.0 - share) * y + share * *x;
                }
            }
        }
        let [x, y, w] = d[p];
        Point::new(x / w, y / w)
    }

    /// Points along it after the start, such that the curve at a quarter, half and three quarters of every step is
    /// within `tolerance` of the chord.
    pub(crate) fn flatten_into(&self, tolerance: f64, most: usize, points: &mut Vec<Point>) {
        let limit = points.len() + most;
        for span in self.degree..self.points.len() {
            let (low, high) = (self.knots[span], self.knots[span + 1]);
            if low >= high {
                continue;
            }
            // Twice the degree at first, so that no wave hides between the places looked at.
            let first = 2 * self.degree;
            for i in 0..first {
                let at = |i: usize| low + (high - low) * i as f64 / first as f64;
                self.flatten_step(span, at(i), at(i + 1), tolerance, limit, points);
            }
        }
        if let Some(last) = points.last_mut() {
            *last = self.end();
        }
    }

    fn flatten_step(&self, span: usize, t0: f64, t1: f64, tolerance: f64, limit: usize, points: &mut Vec<Point>) {
        let mut steps = vec![(t0, t1, 0)];
        while let Some((t0, t1, depth)) = steps.pop() {
            let (a, b) = (self.at(span, t0), self.at(span, t1));
            let chord = plane::Segment::Line { a, b };
            let off = |share: f64| chord.distance(self.at(span, t0 + (t1 - t0) * share));
            let flat = off(0.5) <= tolerance && off(0.25) <= tolerance && off(0.75) <= tolerance;
            if flat || depth >= 16 || points.len() >= limit {
                points.push(b);
            } else {
                let middle = 0.5 * (t0 + t1);
                steps.push((middle, t1, depth + 1));
                steps.push((t0, middle, depth + 1));
            }
        }
    }
}

/// The cubics through given points, with continuous second derivative over chord lengths. Closed if asked: then the
/// last point is joined to the first smoothly. Open ends follow `ends` (tangent directions) or are free (no bend).
pub(crate) fn through(points: &[Point], closed: bool, ends: [Option<Point>; 2]) -> Vec<Curve> {
    let mut points: Vec<Point> = points.to_vec();
    points.dedup_by(|b, a| a.distance(*b) <= 1e-12);
    if closed && points.len() > 1 && points[0].distance(points[points.len() - 1]) > 1e-9 {
        points.push(points[0]);
    }
    let n = points.len();
    if n < 2 {
        return Vec::new();
    }
    if n == 2 {
        return vec![Curve::Line(points[0], points[1])];
    }
    let h: Vec<f64> = points.windows(2).map(|w| w[0].distance(w[1])).collect();
    let slope: Vec<Point> = points.windows(2).zip(&h).map(|(w, h)| (w[1] - w[0]) * (1.0 / h)).collect();
    let tangents = if closed { closed_tangents(&h, &slope) } else { open_tangents(&h, &slope, ends) };
    (0..n - 1)
        .map(|i| {
            let (a, b, third) = (points[i], points[i + 1], h[i] / 3.0);
            Curve::Cubic([a, a + tangents[i] * third, b - tangents[i + 1] * third, b])
        })
        .collect()
}

/// First derivatives at the points of an open run: `h1 m0 + 2 (h0 + h1) m1 + h0 m2 = 3 (h1 s0 + h0 s1)`.
fn open_tangents(h: &[f64], slope: &[Point], ends: [Option<Point>; 2]) -> Vec<Point> {
    let n = h.len() + 1;
    let unit = |d: Option<Point>| d.and_then(Point::unit);
    let mut rows = vec![(0.0, 1.0, 0.0, Point::default()); n];
    rows[0] = match unit(ends[0]) {
        Some(d) => (0.0, 1.0, 0.0, d),
        None => (0.0, 2.0, 1.0, slope[0] * 3.0),
    };
    rows[n - 1] = match unit(ends[1]) {
        Some(d) => (0.0, 1.0, 0.0, d),
        None => (1.0, 2.0, 0.0, slope[n - 2] * 3.0),
    };
    for i in 1..n - 1 {
        let right = (slope[i - 1] * h[i] + slope[i] * h[i - 1]) * 3.0;
        rows[i] = (h[i], 2.0 * (h[i - 1] + h[i]), h[i - 1], right);
    }
    solve(&rows)
}

/// The same round a ring, by the Sherman-Morrison correction of the two corner entries.
fn closed_tangents(h: &[f64], slope: &[Point]) -> Vec<Point> {
    let n = h.len();
    let before = |i: usize| (i + n - 1) % n;
    let row = |i: usize| {
        let right = (slope[before(i)] * h[i] + slope[i] * h[before(i)]) * 3.0;
        (h[i], 2.0 * (h[before(i)] + h[i]), h[before(i)], right)
    };
    let mut rows: Vec<_> = (0..n).map(row).collect();
    let (alpha, beta) = (rows[n - 1].2, rows[0].0);
    let gamma = -rows[0].1;
    rows[0].1 -= gamma;
    rows[n - 1].1 -= alpha * beta / gamma;
    let x = solve(&rows);
    for (i, row) in rows.iter_mut().enumerate() {
        let u = if i == 0 {
            gamma
        } else if i == n - 1 {
            alpha
        } else {
            0.0
        };
        row.3 = Point::new(u, 0.0);
    }
    let z = solve(&rows);
    let below = 1.0 + z[0].x + beta * z[n - 1].x / gamma;
    let factor = (x[0] + x[n - 1] * (beta / gamma)) * (1.0 / below);
    let mut tangents: Vec<Point> = x.iter().zip(&z).map(|(x, z)| *x - factor * z.x).collect();
    tangents.push(tangents[0]);
    tangents
}

/// Thomas's algorithm for rows of (below, diagonal, above, right side); the diagonal dominates.
fn solve(rows: &[(f64, f64, f64, Point)]) -> Vec<Point> {
    let n = rows.len();
    let mut above = vec![0.0; n];
    let mut x = vec![Point::default(); n];
    for i in 0..n {
        let (below, diagonal, up, right) = rows[i];
        let (a, b) = if i == 0 { (0.0, Point::default()) } else { (above[i - 1], x[i - 1]) };
        let pivot = diagonal - below * a * f64::from(u8::from(i > 0));
        above[i] = up / pivot;
        x[i] = (right - b * (below * f64::from(u8::from(i > 0)))) * (1.0 / pivot);
    }
    for i in (0..n - 1).rev() {
        x[i] = x[i] - x[i + 1] * above[i];
    }
    x
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A quarter circle as a rational quadratic: every point is on the circle (textbook identity).
    #[test]
    fn a_rational_quarter_is_round() {
        let points = vec![Point::new(1.0, 0.0), Point::new(1.0, 1.0), Point::new(0.0, 1.0)];
        let knots = vec![0.0, 0.0, 0.0, 1.0, 1.0, 1.0];
        let spline = Spline::new(2, knots, points, vec![1.0, std::f64::consts::FRAC_1_SQRT_2, 1.0]).unwrap();
        let mut flat = Vec::new();
        spline.flatten_into(1e-4, 1000, &mut flat);
        assert!(flat.len() > 10 && flat.iter().all(|p| (p.norm() - 1.0).abs() < 1e-12));
    }

    /// A cubic is its own interpolation when its end tangents are given (textbook identity).
    #[test]
    fn a_straight_run_stays_straight() {
        let points: Vec<Point> = [0.0, 1.0, 2.5, 4.0].map(|x| Point::new(x, 2.0 * x)).to_vec();
        for curve in through(&points, false, [None, None]) {
            let Curve::Cubic(p) = curve else { panic!() };
            assert!(p.iter().all(|p| (p.y - 2.0 * p.x).abs() < 1e-12));
        }
    }

    /// Many points of a circle, closed: the interpolation keeps to the circle (fourth order in the spacing).
    #[test]
    fn a_ring_of_points_is_nearly_round() {
        let ring: Vec<Point> =
            (0..32).map(|i| Point::at_angle(f64::from(i) * std::f64::consts::TAU / 32.0) * 10.0).collect();
        let curves = through(&ring, true, [None, None]);
        assert_eq!(curves.len(), 32);
        for curve in curves {
            let Curve::Cubic(p) = curve else { panic!() };
            let middle = p[0] * 0.125 + p[1] * 0.375 + p[2] * 0.375 + p[3] * 0.125;
            assert!((middle.norm() - 10.0).abs() < 1e-3, "{middle:?}");
        }
    }
}
