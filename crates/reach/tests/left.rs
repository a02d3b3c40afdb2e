//! What discs leave of regions, and the lines that cover their strokes, against formulas.

use plane::{Bounds, Contour, Point, Region, Shape, arcs};
use reach::{Left, centre_lines, covered, swept};

fn polygon(points: &[(f64, f64)]) -> Region {
    Region::solid(Contour::polygon(points.iter().map(|&(x, y)| Point::new(x, y))))
}

fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Region {
    Region::solid(Contour::rectangle(Bounds { min: Point::new(x, y), max: Point::new(x + w, y + h) }))
}

fn near(value: f64, expected: f64, tolerance: f64) {
    assert!((value - expected).abs() <= tolerance, "{value} is not {expected}");
}

fn strokes(left: &[Left]) -> Vec<&Left> {
    left.iter().filter(|l| l.stroke.is_some()).collect()
}

/// Square of 20 opened by 1.5875: 397.8367; four corners of r² (1 - pi/4) 0.540830 mm² and r (1/sin(a/2) - 1) 0.657564 mm
/// (derived).
#[test]
fn a_square_leaves_its_corners() {
    let found = covered(&rectangle(3.0, 4.0, 20.0, 20.0), 1.5875);
    near(found.region.area(), 397.8367, 1e-4);
    assert_eq!(found.left.len(), 4);
    for left in &found.left {
        near(left.area, 0.540_830, 2e-5);
        near(left.gap, 0.657_564, 2e-5);
        assert!(left.stroke.is_none() && left.diameter().is_none() && !left.whole_part, "{left:?}");
    }
}

/// Corner of angle a: area r² (cot(a/2) - (pi - a)/2), gap r (1/sin(a/2) - 1): 60°: 0.684853 and 1; 120°: 0.053751 and
/// 0.154701 (derived). Triangle of side 20 opened by 1: 171.1505 (derived).
#[test]
fn corners_by_formula() {
    let h = 10.0 * 3f64.sqrt();
    let found = covered(&polygon(&[(0.0, 0.0), (20.0, 0.0), (10.0, h)]), 1.0);
    near(found.region.area(), 171.1505, 1e-4);
    assert_eq!(found.left.len(), 3);
    for left in &found.left {
        near(left.area, 0.684_853, 2e-5);
        near(left.gap, 1.0, 2e-5);
    }
    let corner = |k: u32| Point::at_angle(f64::from(k) * std::f64::consts::FRAC_PI_3 + 0.1) * 10.0;
    let hexagon = Region::solid(Contour::polygon((0..6).map(corner)));
    let found = covered(&hexagon, 2.0);
    assert_eq!(found.left.len(), 6);
    for left in &found.left {
        near(left.area, 4.0 * 0.053_751, 5e-5);
        near(left.gap, 2.0 * 0.154_701, 5e-5);
        assert!(left.stroke.is_none());
    }
}

/// A chamber with a slot out of it: as wide as the disc it is covered but for its two corners, 1 µm narrower all of it is
/// left, from its mouth on.
#[test]
fn a_slot_as_wide_as_the_disc_and_one_a_micrometre_narrower() {
    let slot = |w: f64| {
        let (a, b) = (5.0 - w / 2.0, 5.0 + w / 2.0);
        polygon(&[(0.0, 0.0), (10.0, 0.0), (10.0, a), (22.0, a), (22.0, b), (10.0, b), (10.0, 10.0), (0.0, 10.0)])
    };
    let exact = covered(&slot(2.0), 1.0);
    assert!(strokes(&exact.left).is_empty(), "{:?}", exact.left);
    // The chamber has corners as well.
    near(exact.left.iter().map(|l| l.area).sum(), 6.0 * 0.214_602, 1e-4);
    let narrower = covered(&slot(1.999), 1.0);
    let lost = strokes(&narrower.left);
    assert_eq!(lost.len(), 1);
    near(lost[0].stroke.unwrap().width, 1.999, 1e-6);
    near(lost[0].diameter().unwrap(), 1.999, 1e-6);
    // The disc in the mouth covers as far as its edge.
    assert!(lost[0].area > 1.999 * 11.0 && lost[0].area < 1.999 * 12.0, "{}", lost[0].area);
    assert!(lost[0].region.bounds().max.x > 21.999);
}

/// Two chambers with a neck between them: both are covered, and the neck is one place with its width.
#[test]
fn a_neck() {
    let neck = |w: f64| {
        let (a, b) = (5.0 - w / 2.0, 5.0 + w / 2.0);
        polygon(&[
            (0.0, 0.0),
            (10.0, 0.0),
            (10.0, a),
            (16.0, a),
            (16.0, 0.0),
            (26.0, 0.0),
            (26.0, 10.0),
            (16.0, 10.0),
            (16.0, b),
            (10.0, b),
            (10.0, 10.0),
            (0.0, 10.0),
        ])
    };
    let found = covered(&neck(1.999), 1.0);
    let lost = strokes(&found.left);
    assert_eq!((lost.len(), found.left.len()), (1, 9));
    near(lost[0].stroke.unwrap().width, 1.999, 1e-6);
    near(lost[0].at.x, 13.0, 3.0);
    assert!(strokes(&covered(&neck(2.0), 1.0).left).is_empty());
    let lines = centre_lines(&neck(1.999), &found.left, 1.0).unwrap();
    assert_eq!(lines.len(), 1, "{lines:?}");
}

/// All of a stroke is covered by the disc along its line, and it sticks out as far as it is wider, or less.
#[test]
fn lines_cover_their_strokes() {
    let annulus = Region {
        shapes: vec![Shape {
            outer: Contour::circle(Point::new(5.0, 5.0), 4.0),
            holes: vec![Contour::circle(Point::new(5.0, 5.0), 3.2).reversed()],
        }],
    };
    let ell = polygon(&[(0.0, 0.0), (8.0, 0.0), (8.0, 0.6), (0.6, 0.6), (0.6, 9.0), (0.0, 9.0)]);
    let dot = rectangle(0.0, 0.0, 0.5, 0.6);
    let tee =
        polygon(&[(0.0, 0.0), (0.5, 0.0), (0.5, 5.0), (3.0, 5.0), (3.0, 5.4), (-3.0, 5.4), (-3.0, 5.0), (0.0, 5.0)]);
    let tail = polygon(&[(0.0, 0.0), (4.0, 0.0), (4.0, 1.8), (12.0, 2.0), (4.0, 2.2), (4.0, 4.0), (0.0, 4.0)]);
    for (name, region, r, count) in [
        ("annulus", annulus, 0.5, 1),
        ("ell", ell, 0.4, 1),
        ("dot", dot, 0.4, 1),
        ("tee", tee, 0.4, 3),
        ("tail", tail, 0.4, 1),
    ] {
        let before = covered(&region, r);
        let lines = centre_lines(&region, &before.left, r).unwrap();
        assert_eq!(lines.len(), count, "{name}: {lines:?}");
        let sweeps: Vec<Region> = lines.iter().map(|l| swept(&l.segments, r + 0.001).unwrap()).collect();
        let grown = arcs::union(std::iter::once(&region).chain(&sweeps));
        let after = covered(&grown, r);
        let lost = |left: &[Left]| left.iter().filter(|l| l.stroke.is_some() || l.whole_part).count();
        assert!(lost(&before.left) > 0 && lost(&after.left) == 0, "{name}: {:?}", after.left);
        let widest = lines.iter().map(|l| r - l.width / 2.0).fold(0.0, f64::max);
        let over = reach::outset(&region, widest + 0.17 * r).region;
        let outside = arcs::difference(&grown, &over).area();
        println!("{name}: {} lines, widest by {widest:.3}, {outside:.6} mm² further out", lines.len());
        assert!(outside < 1e-3, "{name}: {outside}");
    }
}
