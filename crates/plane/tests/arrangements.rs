//! Random contours of lines and arcs, half of them on a lattice so that they touch, run along each other and cross at
//! corners all the time: areas against combining flattened rings with another library, and the rings that come out
//! are valid.

use geo::{Area, BooleanOps, MultiPolygon, coord};
use plane::{Affine, Contour, Fate, FillRule, FindingKind, Point, Region, Vertex, arcs, check};

/// A small congruential generator: the same cases everywhere.
struct Draw(u64);

impl Draw {
    fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn whole(&mut self, below: usize) -> usize {
        (self.share() * below as f64) as usize
    }

    fn contour(&mut self, lattice: bool) -> Contour {
        let n = 2 + self.whole(6);
        let bulges = [0.0, 0.0, 0.0, 1.0, -1.0, 2f64.sqrt() - 1.0, 1.0 - 2f64.sqrt()];
        let vertices = (0..n).map(|_| {
            let (x, y) = (self.share() * 12.0, self.share() * 12.0);
            let p = if lattice { Point::new(x.floor(), y.floor()) } else { Point::new(x, y) };
            let bulge = if lattice { bulges[self.whole(bulges.len())] } else { (self.share() - 0.5) * 3.0 };
            Vertex { p, bulge }
        });
        Contour { vertices: vertices.collect() }
    }

    fn contours(&mut self, most: usize, lattice: bool) -> Vec<Contour> {
        (0..1 + self.whole(most)).map(|_| self.contour(lattice)).collect()
    }
}

/// Area by even-odd or non-zero filling, by counting along rows; shares nothing with what it checks.
fn area_by_rows(contours: &[Contour], rule: FillRule) -> f64 {
    // Midpoint rule over rows; in each row the crossings of the curves are exact.
    let rows = 2500;
    // Turned, so that no edge lies along a row.
    let turn = Affine::turn(0.5);
    let contours: Vec<Contour> = contours.iter().filter_map(|c| c.mapped(turn)).collect();
    let (low, high) = contours.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), c| {
        let b = c.bounds();
        (l.min(b.min.y), h.max(b.max.y))
    });
    if low > high {
        return 0.0;
    }
    let step = (high - low) / f64::from(rows);
    let rings: Vec<Vec<Point>> = contours.iter().map(|c| c.flatten(1e-5)).collect();
    let mut hits: Vec<Vec<(f64, i32)>> = vec![Vec::new(); rows as usize];
    for ring in &rings {
        for (k, &a) in ring.iter().enumerate() {
            let b = ring[(k + 1) % ring.len()];
            let (lower, upper, turn) = if a.y < b.y { (a, b, 1) } else { (b, a, -1) };
            let first = ((lower.y - low) / step - 0.5).ceil().max(0.0) as usize;
            for (row, hits) in hits.iter_mut().enumerate().skip(first) {
                let y = low + (row as f64 + 0.5) * step;
                if y >= upper.y {
                    break;
                }
                hits.push((lower.x + (upper.x - lower.x) * ((y - lower.y) / (upper.y - lower.y)), turn));
            }
        }
    }
    let mut area = 0.0;
    for row in &mut hits {
        row.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (mut winding, mut count) = (0, 0);
        for w in row.windows(2) {
            winding += w[0].1;
            count += 1;
            let filled = if rule == FillRule::EvenOdd { count % 2 == 1 } else { winding != 0 };
            area += if filled { (w[1].0 - w[0].0) * step } else { 0.0 };
        }
    }
    area
}

fn total_length(contours: &[Contour]) -> f64 {
    contours.iter().map(Contour::length).sum()
}

#[test]
fn areas_agree_and_the_answer_is_valid() {
    let mut draw = Draw(7);
    let mut gridded = 0;
    let cases = 600;
    for case in 0..cases {
        let lattice = case % 2 == 0;
        let mut contours = draw.contours(5, lattice);
        if case % 8 == 6 {
            // The same degenerate figures where no coordinate is a round number.
            let map = Affine::turn(draw.share() * 6.0).then(Affine::shift(Point::new(draw.share() * 1e3, 1e3)));
            contours = contours.iter().map(|c| c.mapped(map).unwrap()).collect();
        }
        for rule in [FillRule::EvenOdd, FillRule::NonZero] {
            let checked = check(&contours, rule);
            gridded += checked.of_kind(FindingKind::OnGrid).count();
            let expected = area_by_rows(&contours, rule);
            let off = (checked.region.area() - expected).abs();
            // The midpoint rule's error at ends of arcs and lines is under a row's height squared each, and rows are
            // 1/300 mm.
            assert!(
                off <= 2e-3 + 1e-4 * total_length(&contours),
                "case {case} {rule:?}: off {off} of {expected}\n{contours:?}"
            );
            if checked.of_kind(FindingKind::OnGrid).count() > 0 {
                continue;
            }
            let rings: Vec<Contour> = checked.region.contours().cloned().collect();
            let again = check(&rings, rule);
            for f in &again.findings {
                use FindingKind::{Cusp, Nested, TouchAtPoint};
                assert!(matches!(f.kind, TouchAtPoint | Nested | Cusp), "case {case} {rule:?}: {f:?}\n{contours:?}");
            }
            assert!(again.fates.iter().all(|f| *f == Fate::Kept), "case {case} {rule:?}");
            assert!((again.region.area() - checked.region.area()).abs() < 1e-9);
        }
    }
    eprintln!("{gridded} of {} on the grid", 2 * cases);
    assert!(gridded * 1000 <= cases, "{gridded}");
}

#[test]
fn union_and_intersection_add_up() {
    let mut draw = Draw(11);
    for case in 0..400 {
        let lattice = case % 2 == 0;
        let a = check(&draw.contours(3, lattice), FillRule::NonZero).region;
        let b = check(&draw.contours(3, lattice), FillRule::EvenOdd).region;
        let (both, common) = (arcs::union([&a, &b]), arcs::intersection(&a, &b));
        let (left, right) = (arcs::difference(&a, &b), arcs::difference(&b, &a));
        let near = |x: f64, y: f64| (x - y).abs() < 1e-4;
        assert!(near(a.area() + b.area(), both.area() + common.area()), "case {case} {a:?} {b:?} {common:?}");
        assert!(near(a.area(), left.area() + common.area()), "case {case}");
        // A or B is what is only in A, only in B, or in both; taking A or B from A leaves nothing.
        assert!(near(arcs::union([&left, &right, &common]).area(), both.area()), "case {case}");
        assert!(arcs::difference(&a, &both).area() < 1e-4, "case {case}");
        // De Morgan within a frame: not (A or B) = (not A) and (not B).
        let frame = Region::solid(Contour::circle(Point::new(6.0, 6.0), 60.0));
        let outside = arcs::difference(&frame, &both);
        let each = arcs::intersection(&arcs::difference(&frame, &a), &arcs::difference(&frame, &b));
        assert!(near(outside.area(), each.area()), "case {case}");
        // The library on flattened rings agrees within the flattening.
        if case % 10 == 0 {
            let off = (plane::union([&a, &b]).area() - both.area()).abs();
            assert!(off < 1e-3 * (1.0 + a.length() + b.length()), "case {case} {off}");
        }
    }
}

fn polygons(region: &Region, tolerance: f64) -> MultiPolygon {
    let ring =
        |c: &Contour| geo::LineString::new(c.flatten(tolerance).iter().map(|p| coord! { x: p.x, y: p.y }).collect());
    let shapes = region.shapes.iter().map(|s| geo::Polygon::new(ring(&s.outer), s.holes.iter().map(ring).collect()));
    MultiPolygon::new(shapes.collect())
}

/// Another library, at equal flattening, gives the same areas.
#[test]
fn areas_agree_with_another_library() {
    let mut draw = Draw(23);
    for case in 0..60 {
        let a = check(&draw.contours(4, false), FillRule::NonZero).region;
        let b = check(&draw.contours(4, false), FillRule::EvenOdd).region;
        let (fa, fb) = (a.flattened(1e-4), b.flattened(1e-4));
        let (ga, gb) = (polygons(&a, 1e-4), polygons(&b, 1e-4));
        for (ours, theirs) in [
            (arcs::union([&fa, &fb]), ga.union(&gb)),
            (arcs::intersection(&fa, &fb), ga.intersection(&gb)),
            (arcs::difference(&fa, &fb), ga.difference(&gb)),
        ] {
            let (x, y) = (ours.area(), theirs.unsigned_area());
            assert!((x - y).abs() < 1e-5 * (1.0 + y), "case {case}: {x} {y}");
        }
        let exact = arcs::union([&a, &b]).area();
        assert!((exact - ga.union(&gb).unsigned_area()).abs() < 1e-4 * (a.length() + b.length()), "case {case}");
    }
}

/// Swept shapes by the thousand: what the arcs give and what flattened rings give differ by the flattening only.
#[test]
fn thousands_of_swept_shapes() {
    let mut draw = Draw(5);
    let capsule = |a: Point, b: Point, r: f64| {
        let side = (b - a).unit().unwrap().left() * r;
        let v = |p: Point, bulge: f64| Vertex { p, bulge };
        Region::solid(Contour {
            vertices: vec![v(a - side, 0.0), v(b - side, 1.0), v(b + side, 0.0), v(a + side, 1.0)],
        })
    };
    let swept: Vec<Region> = (0..3000)
        .map(|_| {
            let a = Point::new(draw.share() * 110.0, draw.share() * 110.0);
            capsule(a, a + Point::at_angle(draw.share() * 6.0) * 3.0, 0.8)
        })
        .collect();
    let (exact, flattened) = (arcs::union(&swept), plane::union(&swept));
    assert!((exact.area() - flattened.area()).abs() < 2.0 * plane::FIT * flattened.length());
    assert_eq!(exact.shapes.len(), flattened.shapes.len());
    // A winding path: each piece's end is the next one's start, so that every cap lies on another's.
    let at = |k: u32| Point::at_angle(f64::from(k) * 0.02) * (5.0 + f64::from(k) * 0.004);
    let path: Vec<Region> = (0..2000).map(|k| capsule(at(k), at(k + 1), 0.4)).collect();
    let (exact, flattened) = (arcs::union(&path), plane::union(&path));
    assert!((exact.area() - flattened.area()).abs() < 2.0 * plane::FIT * flattened.length());
    assert_eq!(exact.shapes.len(), 1);
}
