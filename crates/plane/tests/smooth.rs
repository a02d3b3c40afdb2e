//! Smooth fits: how far from the source and back, how smooth, how many pieces, corners kept, and the same whatever
//! the placing.

use plane::{
    Affine, Bounds, Contour, FIT, FLATTEN, Point, Segment, SegmentIndex, Vertex, fit_closed, fit_smooth_closed,
    fit_smooth_open,
};
use std::f64::consts::{PI, TAU};

fn p(x: f64, y: f64) -> Point {
    Point::new(x, y)
}

/// Points of a closed curve so dense that all its chords are within `tolerance`: halved until the middle is near the
/// chord.
fn flattened(curve: &impl Fn(f64) -> Point, tolerance: f64) -> Vec<Point> {
    fn halve(curve: &impl Fn(f64) -> Point, a: f64, b: f64, tolerance: f64, out: &mut Vec<Point>) {
        let (p, q) = (curve(a), curve(b));
        let line = Segment::Line { a: p, b: q };
        let near = [0.25, 0.5, 0.75].iter().all(|t| line.distance(curve(a + (b - a) * t)) <= tolerance);
        if near {
            out.push(p);
        } else {
            halve(curve, a, 0.5 * (a + b), tolerance, out);
            halve(curve, 0.5 * (a + b), b, tolerance, out);
        }
    }
    let mut out = Vec::new();
    for k in 0..16 {
        halve(curve, f64::from(k) / 16.0, f64::from(k + 1) / 16.0, tolerance, &mut out);
    }
    out
}

/// The greatest distances: of the curve from the fit, and of the fit from the curve.
fn deviations(curve: &impl Fn(f64) -> Point, fit: &Contour) -> (f64, f64) {
    let dense: Vec<Point> = (0..60_000).map(|k| curve(f64::from(k) / 60_000.0)).collect();
    let on_fit = SegmentIndex::of_contours([fit]);
    let there = dense.iter().map(|&q| on_fit.nearest(q).map_or(f64::INFINITY, |n| n.distance)).fold(0.0, f64::max);
    let source = SegmentIndex::of_contours([&Contour::polygon(dense)]);
    let samples = fit.segments().flat_map(|s| (0..64).map(move |k| s.at(f64::from(k) / 64.0)));
    let back = samples.map(|q| source.nearest(q).map_or(f64::INFINITY, |n| n.distance)).fold(0.0, f64::max);
    (there, back)
}

/// Angles between the segments that meet at each vertex, radians.
fn kinks(fit: &Contour) -> Vec<(Point, f64)> {
    let segments: Vec<Segment> = fit.segments().collect();
    let n = segments.len();
    let kink = |i: usize| {
        let directions = segments[(i + n - 1) % n].direction(1.0).zip(segments[i].direction(0.0));
        // A segment without length has no direction and counts as the worst kink.
        (segments[i].start(), directions.map_or(PI, |(u, v)| libm::atan2(u.cross(v), u.dot(v)).abs()))
    };
    (0..n).map(kink).collect()
}

fn worst_kink(fit: &Contour) -> f64 {
    kinks(fit).into_iter().map(|k| k.1).fold(0.0, f64::max)
}

fn stadium() -> Contour {
    let v = |x: f64, y: f64, bulge: f64| Vertex { p: p(x, y), bulge };
    Contour { vertices: vec![v(-15.0, -3.0, 0.0), v(15.0, -3.0, 1.0), v(15.0, 3.0, 0.0), v(-15.0, 3.0, 1.0)] }
}

fn ellipse(a: f64, b: f64) -> impl Fn(f64) -> Point {
    move |t| p(a * libm::cos(TAU * t), b * libm::sin(TAU * t))
}

/// A closed smooth curve with waves, as a spline through points would have.
fn wave(n: f64, amount: f64) -> impl Fn(f64) -> Point {
    move |t| {
        Point::at_angle(TAU * t)
            * (12.0 + amount * libm::sin(n * TAU * t) + 0.3 * amount * libm::cos((n + 1.0) * TAU * t))
    }
}

/// Two cubic curves of an eye shape that meet in two corners.
fn eye(t: f64) -> Point {
    let cubic = |c: [Point; 4], t: f64| {
        let s = 1.0 - t;
        c[0] * (s * s * s) + c[1] * (3.0 * s * s * t) + c[2] * (3.0 * s * t * t) + c[3] * (t * t * t)
    };
    let (a, b) = (p(-10.0, 0.0), p(10.0, 0.0));
    if t < 0.5 {
        cubic([a, p(-4.0, -8.0), p(5.0, -7.0), b], 2.0 * t)
    } else {
        cubic([b, p(4.0, 6.0), p(-5.0, 9.0), a], 2.0 * t - 1.0)
    }
}

#[test]
fn lines_and_arcs_come_back_as_they_were() {
    let round = |r: f64| {
        let k = 2f64.sqrt() - 1.0;
        let v = |x: f64, y: f64, bulge: f64| Vertex { p: p(x, y), bulge };
        Contour {
            vertices: vec![
                v(r - 10.0, -5.0, 0.0),
                v(10.0 - r, -5.0, k),
                v(10.0, r - 5.0, 0.0),
                v(10.0, 5.0 - r, k),
                v(10.0 - r, 5.0, 0.0),
                v(r - 10.0, 5.0, k),
                v(-10.0, 5.0 - r, 0.0),
                v(-10.0, r - 5.0, k),
            ],
        }
    };
    let cases =
        [(stadium(), 4), (Contour::circle(p(30.0, 40.0), 12.0), 3), (round(1.5), 8), (round(0.05), 8), (round(4.0), 8)];
    for (source, pieces) in cases {
        let fit = fit_smooth_closed(&source.flatten(FLATTEN), FIT);
        assert!(fit.vertices.len() <= pieces, "{} of {pieces}: {fit:?}", fit.vertices.len());
        assert!(worst_kink(&fit) < 2e-6, "{}", worst_kink(&fit));
        assert!((fit.area() - source.area()).abs() < 1e-4 && (fit.length() - source.length()).abs() < 1e-4);
    }
    let rectangle = Contour::rectangle(Bounds { min: p(0.0, 0.0), max: p(5.0, 3.0) });
    assert_eq!(fit_smooth_closed(&rectangle.flatten(FLATTEN), FIT).vertices.len(), 4);
    for sides in [3, 5, 8, 24] {
        let ring: Vec<Point> =
            (0..sides).map(|i| Point::at_angle(f64::from(i) / f64::from(sides) * TAU) * 5.0).collect();
        let fit = fit_smooth_closed(&ring, FIT);
        assert!(fit.vertices.len() == ring.len() && fit.vertices.iter().all(|v| v.bulge == 0.0));
    }
}

#[test]
fn curves_are_followed_smoothly_and_with_few_pieces() {
    let mut counts = Vec::new();
    let mut one = |name: &str, curve: &dyn Fn(f64) -> Point, corners: &[Point]| {
        let curve = |t: f64| curve(t);
        let ring = flattened(&curve, FLATTEN);
        let (smooth, plain) = (fit_smooth_closed(&ring, FIT), fit_closed(&ring, FIT));
        let (there, back) = deviations(&curve, &smooth);
        // The points' chords spend the flattening, the fit the rest: together within 1 µm.
        assert!(there <= 0.001 && back <= 0.001, "{name}: {there} {back}");
        for (at, kink) in kinks(&smooth) {
            let corner = corners.iter().any(|c| c.distance(at) < 1e-6);
            assert!(kink < 1e-5 || corner, "{name}: kink of {kink} at {at:?}");
        }
        for c in corners {
            assert!(smooth.vertices.iter().any(|v| v.p.distance(*c) < 1e-9), "{name}: corner {c:?} lost");
        }
        counts.push((name.to_owned(), ring.len(), smooth.vertices.len(), plain.vertices.len()));
        assert!(smooth.vertices.len() <= 2 * plain.vertices.len() + 4, "{counts:?}");
    };
    one("ellipse 10 x 5", &ellipse(10.0, 5.0), &[]);
    one("ellipse 30 x 29", &ellipse(30.0, 29.0), &[]);
    one("ellipse 10 x 0.5", &ellipse(10.0, 0.5), &[]);
    one("small ellipse 0.5 x 0.2", &ellipse(0.5, 0.2), &[]);
    one("wave of 5", &wave(5.0, 1.0), &[]);
    one("wave of 17", &wave(17.0, 0.8), &[]);
    one("eye", &eye, &[p(-10.0, 0.0), p(10.0, 0.0)]);
    for (name, points, smooth, plain) in &counts {
        eprintln!("{name}: {points} points, {smooth} smooth pieces, {plain} greedy arcs");
    }
}

/// The same curve turned, mirrored, shifted and begun elsewhere: as many pieces (the greedy walk may end one sooner
/// or later) and the same area.
#[test]
fn placing_changes_nothing() {
    let curve = wave(7.0, 1.3);
    let ring = flattened(&curve, FLATTEN);
    let plain = fit_smooth_closed(&ring, FIT);
    for k in 0..24u32 {
        let mirror = if k % 2 == 0 { 1.0 } else { -1.0 };
        let map = Affine::turn(f64::from(k) * 0.41)
            .then(Affine::scale(mirror, 1.0))
            .then(Affine::shift(p(f64::from(k % 3) * 1e5, f64::from(k % 4) * -1e5)));
        let mut moved: Vec<Point> = ring.iter().map(|&q| map.apply(q)).collect();
        moved.rotate_left(ring.len() * k as usize / 24);
        let fit = fit_smooth_closed(&moved, FIT);
        assert!((fit.area() * mirror - plain.area()).abs() < FIT * plain.length(), "{k}");
        let (n, m) = (fit.vertices.len(), plain.vertices.len());
        assert!(n.abs_diff(m) <= 1 + m / 20, "{k}: {n} {m}");
        assert!(worst_kink(&fit) < 1e-5, "{k}: {}", worst_kink(&fit));
    }
}

#[test]
fn open_runs_keep_their_ends() {
    let points: Vec<Point> =
        (0..=200).map(|k| f64::from(k) / 200.0).map(|t| p(20.0 * t, 2.0 * libm::sin(PI * t))).collect();
    let fit = fit_smooth_open(&points, FIT);
    assert_eq!((fit.vertices[0].p, fit.vertices[fit.vertices.len() - 1].p), (points[0], points[200]));
    let index = SegmentIndex::new(fit.segments().collect());
    assert!(points.iter().all(|&q| index.nearest(q).unwrap().distance <= FIT + 1e-12));
    assert!(fit.vertices.len() < 60, "{}", fit.vertices.len());
    assert_eq!(fit_smooth_open(&points[..2], FIT).vertices.len(), 2);
    assert!(
        fit_smooth_open(&[], FIT).vertices.is_empty()
            && fit_smooth_closed(&[p(f64::NAN, 0.0)], FIT).vertices.is_empty()
    );
}

proptest::proptest! {
    #![proptest_config(proptest::test_runner::Config::with_cases(300))]

    /// Any points at all: every point and every chord's middle stays within the tolerance of the fit, and nothing
    /// panics.
    #[test]
    fn any_points_are_followed(
        at in proptest::collection::vec((0..40i32, 0..40i32), 0..60),
        size in 1e-4..1.0f64,
        shift in 0.0..1e6f64,
    ) {
        let ring: Vec<Point> = at.iter().map(|&(x, y)| p(f64::from(x) * size + shift, f64::from(y) * size - shift)).collect();
        let fit = fit_smooth_closed(&ring, FIT);
        if fit.vertices.len() > 2 {
            let index = SegmentIndex::of_contours([&fit]);
            for (k, &a) in ring.iter().enumerate() {
                let b = ring[(k + 1) % ring.len()];
                for q in [a, a.lerp(b, 0.5)] {
                    let off = index.nearest(q).unwrap().distance;
                    proptest::prop_assert!(off <= FIT + 1e-7, "{q:?} is {off} off");
                }
            }
        }
        let open = fit_smooth_open(&ring, FIT);
        proptest::prop_assert!(open.vertices.len() <= 2 * ring.len() + 1);
    }
}

/// 100,000 points take no more than n log n.
#[test]
fn many_points() {
    let curve = wave(40.0, 0.6);
    let ring: Vec<Point> = (0..100_000).map(|k| curve(f64::from(k) / 100_000.0)).collect();
    let start = std::time::Instant::now();
    let fit = fit_smooth_closed(&ring, FIT);
    eprintln!("100,000 points to {} pieces in {:?}", fit.vertices.len(), start.elapsed());
    assert!(fit.vertices.len() < 2500 && worst_kink(&fit) < 1e-5);
}
