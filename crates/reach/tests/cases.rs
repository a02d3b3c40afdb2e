//! Small cases that once went wrong, found by corpora and fuzzing: every offset of them beside the one by chords, and at its
//! distance.

use plane::{Point, Region, SegmentIndex};
use reach::{Offset, Rings};
use serde::Deserialize;

#[derive(Deserialize)]
struct Case {
    name: String,
    kind: String,
    r: f64,
    region: Region,
}

/// Chords along the edge, rounding and hairs: far below any part.
fn slack(length: f64) -> f64 {
    length * 0.001 + 1e-4
}

#[test]
fn reduced_cases() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/cases");
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    files.sort();
    assert!(!files.is_empty());
    for file in files {
        let case: Case = serde_json::from_str(&std::fs::read_to_string(&file).unwrap()).unwrap();
        let (region, r) = (&case.region, case.r);
        // Rings that cross are judged as what they fill.
        let sound = plane::check(region.contours(), plane::FillRule::NonZero).region;
        let rings = Rings::of_points(sound.contours().map(|c| c.flatten(plane::FLATTEN)));
        let (made, chords): (Offset, Rings) = match case.kind.as_str() {
            "in" => (reach::inset(region, r), rings.inset(r)),
            "out" => (reach::outset(region, r), rings.outset(r)),
            "opened" => (reach::opening(region, r), rings.inset(r).outset(r)),
            "closed" => (reach::closing(region, r), rings.outset(r).inset(r)),
            other => panic!("{}: no kind {other}", case.name),
        };
        let (a, b) = (made.region.area(), chords.area());
        // The library takes the turn of rings from the lowest one: where a hole reaches as low as its outer ring, it turns
        // the region inside out. There the area follows from the distances below, which only the right rings keep.
        let lowest = |c: &plane::Contour| c.bounds().min.y;
        let upset = sound
            .shapes
            .iter()
            .chain(&region.shapes)
            .any(|s| s.holes.iter().any(|h| lowest(h) <= lowest(&s.outer) + 1e-6));
        assert!(!upset || made.by_chords.is_none(), "{}", case.name);
        assert!(
            upset || (a - b).abs() <= slack(made.region.length().max(chords.length())),
            "{}: {a} beside {b}",
            case.name
        );
        if made.by_chords.is_none() && (case.kind == "in" || case.kind == "out") {
            let walls = SegmentIndex::of_contours(region.contours());
            for s in made.region.contours().flat_map(|c| c.segments().collect::<Vec<_>>()) {
                let p: Point = s.at(0.5);
                let d = walls.nearest(p).unwrap().distance;
                assert!((d - r).abs() <= 0.002, "{}: {d} at {p:?}", case.name);
            }
        }
    }
}
