//! Arcs fitted to flattened curves.
//!
//! A run of at least [`LEAST`] chords becomes an arc through its two ends if every point of the run and every
//! chord's middle is within the tolerance of it. Runs are taken greedily and as long as possible.

use crate::{Contour, Path, Point, Segment, Vertex};
use std::f64::consts::PI;

/// Fewer chords than this stay straight: two chords always lie on some circle.
const LEAST: usize = 3;
/// A fitted arc covers at most this, so that its centre is well determined from its ends. Radians.
const LARGEST_SWEEP: f64 = PI * 0.95;
/// Radii beyond this are straight for any machine, mm.
const LARGEST_RADIUS: f64 = 20_000.0;

/// Fits a closed ring of points (first not repeated), spending `tolerance` mm.
pub fn fit_closed(ring: &[Point], tolerance: f64) -> Contour {
    let ring = without_repeats(ring, true);
    if ring.len() < LEAST + 1 {
        return Contour::polygon(ring);
    }
    // Start at the sharpest corner so that no arc is cut in two by where the ring happens to begin.
    let start = sharpest(&ring);
    let mut points: Vec<Point> = ring[start..].iter().chain(&ring[..start]).copied().collect();
    points.push(points[0]);
    let mut vertices = fit_run(&points, tolerance);
    vertices.pop();
    Contour { vertices }
}

/// Fits an open run of points, spending `tolerance` mm.
pub fn fit_open(points: &[Point], tolerance: f64) -> Path {
    let points = without_repeats(points, false);
    if points.len() < 2 {
        return Path::polyline(points);
    }
    Path { vertices: fit_run(&points, tolerance) }
}

fn without_repeats(points: &[Point], closed: bool) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::with_capacity(points.len());
    for &p in points {
        if kept.last() != Some(&p) {
            kept.push(p);
        }
    }
    while closed && kept.len() > 1 && kept.first() == kept.last() {
        kept.pop();
    }
    kept
}

/// Where a ring turns most.
pub(crate) fn sharpest(ring: &[Point]) -> usize {
    let n = ring.len();
    let turn = |i: usize| {
        let (a, b, c) = (ring[(i + n - 1) % n], ring[i], ring[(i + 1) % n]);
        let (u, v) = (b - a, c - b);
        libm::atan2(u.cross(v), u.dot(v)).abs()
    };
    // The first of the sharpest, so that the answer does not hang on rounding among equals.
    (0..n).fold((0, -1.0), |(best, most), i| if turn(i) > most + 1e-9 { (i, turn(i)) } else { (best, most) }).0
}

fn fit_run(points: &[Point], tolerance: f64) -> Vec<Vertex> {
    let mut vertices = Vec::new();
    let last = points.len() - 1;
    let mut i = 0;
    while i < last {
        let (next, bulge) =
            longest_arc(points, i, tolerance).unwrap_or_else(|| (straight_run(points, i, tolerance), 0.0));
        vertices.push(Vertex { p: points[i], bulge });
        i = next;
    }
    vertices.push(Vertex::straight(points[last]));
    vertices
}

/// The furthest end of an arc that starts at point `i`, with its bulge.
fn longest_arc(points: &[Point], i: usize, tolerance: f64) -> Option<(usize, f64)> {
    let last = points.len() - 1;
    let mut good = None;
    let (mut step, mut reach) = (LEAST, LEAST);
    // Double the run while it fits, then halve the step back.
    while i + reach <= last {
        match arc_over(&points[i..=i + reach], tolerance) {
            Some(bulge) => {
                good = Some((i + reach, bulge));
                step *= 2;
            }
            None => break,
        }
        if i + reach == last {
            return good;
        }
        reach = (reach + step).min(last - i);
    }
    let (mut low, mut high) = (good?.0 - i, reach);
    while high - low > 1 {
        let middle = (low + high) / 2;
        match arc_over(&points[i..=i + middle], tolerance) {
            Some(bulge) => {
                good = Some((i + middle, bulge));
                low = middle;
            }
            None => high = middle,
        }
    }
    good
}

/// The bulge of an arc from the first to the last point that passes all others within the tolerance.
fn arc_over(run: &[Point], tolerance: f64) -> Option<f64> {
    let (a, b) = (run[0], run[run.len() - 1]);
    let chord = b - a;
    let length = chord.norm();
    if length < 4.0 * tolerance {
        return None;
    }
    // From the middle half of the run, the mean of the least and greatest bulge that the points ask for.
    let (from, to) = (run.len() / 4, run.len() - run.len() / 4);
    let (mut least, mut greatest) = (f64::INFINITY, f64::NEG_INFINITY);
    for &p in &run[from.max(1)..to.min(run.len() - 1)] {
        // The inscribed angle at p is pi less half the sweep.
        let (u, v) = (p - a, b - p);
        let half_sweep = libm::atan2(u.cross(v), u.dot(v));
        let bulge = libm::tan(half_sweep / 2.0);
        least = least.min(bulge);
        greatest = greatest.max(bulge);
    }
    let bulge = 0.5 * (least + greatest);
    let Segment::Arc { centre, radius, sweep, .. } = Segment::with_bulge(a, b, bulge) else { return None };
    if !(sweep.abs() <= LARGEST_SWEEP && radius <= LARGEST_RADIUS) {
        return None;
    }
    let off = |p: Point| (p.distance(centre) - radius).abs();
    let forward = |w: &[Point]| (w[0] - centre).cross(w[1] - centre) * sweep.signum() > 0.0;
    let fits = run.windows(2).all(|w| forward(w) && off(w[1]) <= tolerance && off(w[0].lerp(w[1], 0.5)) <= tolerance);
    fits.then_some(bulge)
}

/// The furthest point to which a straight line passes all points between within a quarter of the tolerance.
fn straight_run(points: &[Point], i: usize, tolerance: f64) -> usize {
    let limit = tolerance / 4.0;
    let mut end = i + 1;
    while end + 1 < points.len() && end - i < 256 {
        let line = Segment::Line { a: points[i], b: points[end + 1] };
        if !points[i + 1..=end].iter().all(|&p| line.distance(p) <= limit) {
            break;
        }
        end += 1;
    }
    end
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FIT, FLATTEN};

    #[test]
    fn a_flattened_stadium_comes_back_as_lines_and_arcs() {
        let v = |x: f64, y: f64, bulge: f64| Vertex { p: Point::new(x, y), bulge };
        let stadium =
            Contour { vertices: vec![v(-15.0, -3.0, 0.0), v(15.0, -3.0, 1.0), v(15.0, 3.0, 0.0), v(-15.0, 3.0, 1.0)] };
        let fitted = fit_closed(&stadium.flatten(FLATTEN), FIT);
        assert!(fitted.vertices.len() <= 8, "{}", fitted.vertices.len());
        assert!((fitted.area() - stadium.area()).abs() < stadium.length() * FIT);
    }

    #[test]
    fn polygons_stay_polygons() {
        for sides in [3, 4, 6, 8, 12, 24] {
            let ring: Vec<Point> =
                (0..sides).map(|i| Point::at_angle(f64::from(i) / f64::from(sides) * 2.0 * PI) * 5.0).collect();
            let fitted = fit_closed(&ring, FIT);
            assert_eq!(fitted.vertices.len(), ring.len());
            assert!(fitted.vertices.iter().all(|v| v.bulge == 0.0));
        }
    }

    #[test]
    fn a_circle_comes_back_from_its_points() {
        let fitted = fit_closed(&Contour::circle(Point::new(30.0, 40.0), 12.0).flatten(FLATTEN), FIT);
        assert!(fitted.vertices.len() <= 4);
        for s in fitted.segments() {
            let Segment::Arc { centre, radius, .. } = s else { panic!("{s:?}") };
            assert!(centre.distance(Point::new(30.0, 40.0)) < 2e-3 && (radius - 12.0).abs() < 2e-3);
        }
    }
}
