//! The medial axis: planted answers, equal distances at every spot, and as many loops as there are holes.

use plane::{Bounds, Contour, Point, Region, SegmentIndex, Shape, Vertex};
use proptest::prelude::*;
use reach::Axis;
use std::f64::consts::{PI, TAU};

fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Contour {
    Contour::rectangle(Bounds { min: Point::new(x, y), max: Point::new(x + w, y + h) })
}

#[track_caller]
fn near(value: f64, expected: f64, tolerance: f64) {
    assert!((value - expected).abs() <= tolerance, "{value} is not {expected}");
}

fn axis_of(region: &Region) -> Axis {
    Axis::of(region, 0.001, 0.5).expect("an axis with its loops")
}

fn check_distances(region: &Region, axis: &Axis) {
    let walls = SegmentIndex::of_contours(region.contours());
    for spot in axis.branches.iter().flat_map(|b| &b.spots).chain(&axis.nodes) {
        let d = walls.nearest(spot.at).expect("a region with walls").distance;
        assert!((d - spot.radius).abs() < 1e-6, "{spot:?} {d}");
    }
}

/// A rectangle's axis: a ridge of the length less the width at half the width, and four branches of width / sqrt(2) (derived).
#[test]
fn rectangle_has_a_ridge_and_four_hips() {
    let region = Region::solid(rectangle(0.0, 0.0, 20.0, 12.0));
    let axis = axis_of(&region);
    check_distances(&region, &axis);
    assert_eq!((axis.nodes.len(), axis.branches.len()), (6, 5));
    near(axis.branches.iter().map(|b| b.length()).sum(), 8.0 + 4.0 * 6.0 * 2f64.sqrt(), 1e-6);
    let ridge = axis.without_corners(3.0);
    assert_eq!(ridge.branches.len(), 1);
    near(ridge.branches[0].length(), 8.0, 1e-6);
    near(axis.widest().unwrap().radius, 6.0, 1e-9);
    // The disc at (c, c) of radius c that just holds (1, 1): c = sqrt2 / (sqrt2 - 1) (derived).
    near(axis.width_at(Point::new(1.0, 1.0)), 2.0 * 2f64.sqrt() / (2f64.sqrt() - 1.0), 1e-6);
}

/// The incircle of a triangle of sides 3, 4, 5 has radius 1 (Euclid IV.4; area over half the perimeter).
#[test]
fn triangle_meets_at_its_incircle() {
    let p = Point::new;
    let region = Region::solid(Contour::polygon([p(0.0, 0.0), p(4.0, 0.0), p(4.0, 3.0)]));
    let axis = axis_of(&region);
    let middle = axis.widest().unwrap();
    near(middle.radius, 1.0, 1e-9);
    near(middle.at.distance(p(3.0, 1.0)), 0.0, 1e-7);
    assert_eq!(axis.branches.len(), 3);
}

/// An L of two arms 4 wide: round the inward corner the axis is a parabola with its focus there; the largest disc touches
/// the two outer walls and the inward corner (derived below).
#[test]
fn inward_corner_makes_a_parabola() {
    let p = Point::new;
    let region = Region::solid(Contour::polygon([
        p(0.0, 0.0),
        p(20.0, 0.0),
        p(20.0, 4.0),
        p(4.0, 4.0),
        p(4.0, 20.0),
        p(0.0, 20.0),
    ]));
    let axis = axis_of(&region);
    check_distances(&region, &axis);
    // Centre (r, r), distance to (4, 4) is r: (4 - r) sqrt2 = r.
    let r = 4.0 * 2f64.sqrt() / (1.0 + 2f64.sqrt());
    near(axis.widest().unwrap().radius, r, 1e-9);
    let bends = axis.branches.iter().flat_map(|b| &b.spots).filter(|s| s.radius > 2.0 + 1e-9);
    let parabola = bends.filter(|s| s.at.x.max(s.at.y) > r + 1e-6);
    assert!(parabola.clone().count() > 10);
    for spot in parabola {
        near(spot.at.distance(p(4.0, 4.0)), spot.radius, 1e-6);
    }
}

#[test]
fn rings_and_round_ends() {
    let p = Point::new;
    let stadium = Region::solid(Contour {
        vertices: vec![
            Vertex { p: p(-15.0, -3.0), bulge: 0.0 },
            Vertex { p: p(15.0, -3.0), bulge: 1.0 },
            Vertex { p: p(15.0, 3.0), bulge: 0.0 },
            Vertex { p: p(-15.0, 3.0), bulge: 1.0 },
        ],
    });
    let axis = axis_of(&stadium);
    near(axis.branches.iter().map(|b| b.length()).sum(), 30.0, 1e-6);
    // An annulus: one loop half way.
    let annulus = Region {
        shapes: vec![Shape {
            outer: Contour::circle(p(1.0, 2.0), 10.0),
            holes: vec![Contour::circle(p(1.0, 2.0), 6.0).reversed()],
        }],
    };
    let axis = axis_of(&annulus);
    check_distances(&annulus, &axis);
    near(axis.branches.iter().map(|b| b.length()).sum(), TAU * 8.0, 1e-3);
    // A bare circle: its centre, and nothing else.
    let disc = Region::solid(Contour::circle(p(3.0, 4.0), 5.0));
    let axis = axis_of(&disc);
    assert_eq!((axis.nodes.len(), axis.branches.len()), (1, 0));
    near(axis.nodes[0].radius, 5.0, 1e-9);
    near(axis.nodes[0].at.distance(p(3.0, 4.0)), 0.0, 1e-9);
    // An eccentric hole.
    let island = Region {
        shapes: vec![Shape {
            outer: rectangle(0.0, 0.0, 20.0, 12.0),
            holes: vec![Contour::circle(p(10.0, 4.0), 3.0).reversed()],
        }],
    };
    let axis = axis_of(&island);
    check_distances(&island, &axis);
}

fn star() -> impl Strategy<Value = Region> {
    (prop::collection::vec((5.0..20.0f64, -0.4..0.4f64), 3..16), 0usize..3).prop_map(|(corners, holes)| {
        let n = corners.len() as f64;
        let vertex = |(i, (r, bulge)): (usize, &(f64, f64))| {
            let p = Point::at_angle(i as f64 / n * TAU) * *r;
            Vertex { p, bulge: if i % 2 == 0 { bulge / n } else { 0.0 } }
        };
        let mut region = Region::solid(Contour { vertices: corners.iter().enumerate().map(vertex).collect() });
        let mut walls = SegmentIndex::of_contours(region.contours());
        for k in 0..holes {
            let middle = Point::at_angle(k as f64 * PI) * 1.6;
            if walls.nearest(middle).is_some_and(|n| n.distance > 0.8) {
                region.shapes[0].holes.push(Contour::circle(middle, 0.7).reversed());
                walls = SegmentIndex::of_contours(region.contours());
            }
        }
        region
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Loops are counted by the axis itself: a fault here is a missing or an added branch.
    #[test]
    fn equal_distances_and_as_many_loops_as_holes(region in star()) {
        let axis = Axis::of(&region, 0.005, 0.5);
        prop_assert!(axis.is_ok(), "{axis:?}");
        check_distances(&region, &axis.unwrap());
    }
}

#[test]
fn many_branches_meet_in_one_node() {
    for n in [5, 6, 8, 12, 24] {
        let ring = (0..n).map(|k| Point::at_angle(f64::from(k) / f64::from(n) * TAU) * 5.0);
        let axis = Axis::of(&Region::solid(Contour::polygon(ring)), 0.005, 0.5);
        let axis = axis.unwrap_or_else(|e| panic!("{n} {e:?}"));
        assert_eq!(axis.branches.len(), n as usize);
    }
}

/// A cusp between a line and an arc tangent to it is a corner of the region, not one that discs roll round.
#[test]
fn a_cusp_is_a_corner() {
    // A rectangle with a quarter of a disc of radius 12.5 taken out along its lower side, tangent to it.
    let corner = |x: f64, y: f64, bulge: f64| Vertex { p: Point::new(x, y), bulge };
    let quarter = libm::tan(std::f64::consts::FRAC_PI_8);
    let ring =
        vec![corner(0.0, 0.0, 0.0), corner(30.0, 0.0, -quarter), corner(17.5, 12.5, 0.0), corner(0.0, 12.5, 0.0)];
    let region = Region::solid(Contour { vertices: ring });
    let axis = axis_of(&region);
    check_distances(&region, &axis);
    let bounds = region.bounds();
    assert!(axis.branches.iter().flat_map(|b| &b.spots).all(|s| bounds.contains(s.at)));
    // Discs shrink to nothing in the cusp.
    assert!(axis.nodes.iter().any(|n| n.radius < 1e-6 && n.at.distance(Point::new(30.0, 0.0)) < 1e-6));
}

/// Shapes that touch at a point keep an axis each.
#[test]
fn touching_shapes_have_an_axis_each() {
    let ring = |x: f64| {
        let at = |x: f64, y: f64| Point::new(x, y);
        Contour::polygon(vec![at(x, 0.0), at(x + 10.0, -5.0), at(x + 20.0, 0.0), at(x + 10.0, 5.0)])
    };
    let shapes = [0.0, 20.0, 40.0].map(|x| Region::solid(ring(x)).shapes.remove(0));
    let region = Region { shapes: shapes.to_vec() };
    let axis = axis_of(&region);
    check_distances(&region, &axis);
    assert_eq!(axis.nodes.len() as i64 - axis.branches.len() as i64, 3);
}
