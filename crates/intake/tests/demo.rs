//! The demo's plate file: no refusal, and the same intent from its SVG and its DXF.
#![expect(clippy::unwrap_used, reason = "a demo that cannot be read fails its test")]

use intake::{Taken, take, take_from};
use plane::{Region, SegmentIndex};
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo")
}

fn with_drawing(name: &str) -> Taken {
    let text = std::fs::read_to_string(folder().join("plate.toml")).unwrap();
    let text = text.replace("door-plate.svg", name);
    take_from(&text, &|file| std::fs::read(folder().join(file)))
}

fn shown(taken: &Taken) -> String {
    taken.doubts.iter().map(|d| doubt::render(d, &taken.sources, false) + "\n").collect()
}

/// The farthest that any vertex or middle of a segment of one boundary lies from the other, mm.
fn apart(a: &Region, b: &Region) -> f64 {
    let index = SegmentIndex::of_contours(b.contours());
    let points = a.contours().flat_map(|c| c.segments()).flat_map(|s| [s.start(), s.at(0.5)]);
    points.map(|p| index.nearest(p).map_or(f64::INFINITY, |n| n.distance)).fold(0.0, f64::max)
}

#[test]
fn svg_and_dxf_give_the_same_intent() {
    let (svg, dxf) = (with_drawing("door-plate.svg"), with_drawing("door-plate.dxf"));
    let a = svg.job.as_ref().unwrap_or_else(|| panic!("{}", shown(&svg)));
    let b = dxf.job.as_ref().unwrap_or_else(|| panic!("{}", shown(&dxf)));
    assert_eq!(a.intent.blank, b.intent.blank);
    assert_eq!(a.intent.holds, b.intent.holds);
    assert_eq!(a.intent.areas.len(), b.intent.areas.len());
    for (x, y) in a.intent.areas.iter().zip(&b.intent.areas) {
        assert_eq!((&x.name, x.floor, x.kind), (&y.name, y.floor, y.kind));
        assert!((x.region.area() - y.region.area()).abs() < 0.05, "{}", x.name);
        let off = apart(&x.region, &y.region).max(apart(&y.region, &x.region));
        assert!(off < 0.002, "{} is {off} mm off", x.name);
    }
}

/// Derived: tape 0.2 ± 0.02, touch-off ± 0.03; ruby 3.03667 ± 0.02667, so its top is 3.23667 ± 0.07667 and the highest
/// floor that keeps 0.1 is 3.06.
#[test]
fn the_demo_shows_ruby_where_it_says() {
    let taken = take(&folder().join("plate.toml"));
    let job = taken.job.as_ref().unwrap_or_else(|| panic!("{}", shown(&taken)));
    let sky = job.intent.areas.iter().find(|a| a.name == "sky").unwrap();
    assert!((sky.floor.to_mm() - 3.06).abs() < 1e-9, "{}", sky.floor);
    assert!(taken.doubts.iter().all(|d| d.severity < doubt::Severity::Caution), "{}", shown(&taken));
}
