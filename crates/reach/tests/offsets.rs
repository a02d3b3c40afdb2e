//! Offsets against `geo`'s buffer, an independent general-purpose library, and against what must hold of any offset.

use geo::algorithm::buffer::{BufferStyle, LineJoin};
use geo::{Area, Buffer, Coord, LineString, Polygon};
use plane::{Contour, FIT, Point, Region, SegmentIndex, Vertex, fit_closed};
use proptest::prelude::*;
use reach::Rings;

/// A closed shape that does not cross itself: radii round a centre, with some edges bulged.
fn shape() -> impl Strategy<Value = Region> {
    prop::collection::vec((4.0..20.0f64, -0.3..0.3f64), 3..14).prop_map(|corners| {
        let n = corners.len() as f64;
        let vertex = |(i, (r, bulge)): (usize, &(f64, f64))| {
            let p = Point::at_angle(i as f64 / n * std::f64::consts::TAU) * *r;
            Vertex { p, bulge: if i % 3 == 0 { bulge / n } else { 0.0 } }
        };
        Region::solid(Contour { vertices: corners.iter().enumerate().map(vertex).collect() })
    })
}

fn geo_area(rings: &Rings, by: f64) -> f64 {
    let ring: Vec<Coord> = rings.points().flatten().map(|p| Coord { x: p.x, y: p.y }).collect();
    let style = BufferStyle::new(by).line_join(LineJoin::Round(0.01));
    Polygon::new(LineString::new(ring), vec![]).buffer_with_style(style).unsigned_area()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// geo's corners are chords of 0.01 rad here and ours lie within 0.25 µm: along 100 mm of edge that is at most
    /// 0.03 mm², far below a lost piece.
    #[test]
    fn areas_agree_with_an_independent_library(region in shape(), r in 0.2..2.0f64) {
        let rings = Rings::of(&region);
        for by in [r, -r] {
            let ours = if by > 0.0 { rings.outset(by) } else { rings.inset(-by) }.area();
            let theirs = geo_area(&rings, by);
            prop_assert!((ours - theirs).abs() <= 0.03, "{by}: {ours} {theirs}");
        }
    }

    /// An inset lies at r from its source: 2 µm is the budget for offsets.
    #[test]
    fn an_inset_lies_at_its_distance(region in shape(), r in 0.2..2.0f64) {
        let walls = SegmentIndex::of_contours(region.contours());
        for ring in Rings::of(&region).inset(r).points() {
            let fitted = fit_closed(&ring, FIT);
            for s in fitted.segments() {
                for t in [0.0, 0.25, 0.5, 0.75] {
                    let d = walls.nearest(s.at(t)).unwrap().distance;
                    prop_assert!((d - r).abs() <= 0.002, "{} is {d} from its source, not {r}", s.at(t).x);
                }
            }
        }
    }

    /// Opening never adds, and doing it again changes nothing (areas within the chords' budget along the edge).
    #[test]
    fn opening_is_idempotent(region in shape(), r in 0.2..2.0f64) {
        let rings = Rings::of(&region);
        let once = rings.opening(r);
        let slack = 0.001 * rings.length();
        prop_assert!(once.minus(&rings).area() <= slack);
        prop_assert!((once.opening(r).area() - once.area()).abs() <= slack);
    }
}
