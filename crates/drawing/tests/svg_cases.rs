//! Small SVG files whose sizes, areas and boxes are known in closed form (`svg-cases/expected.json`, derived by hand
//! from the shapes' own numbers; each case says why it is there).

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use doubt::Severity;
use drawing::{Drawing, EVERYTHING, ReadOptions, Strokes, UnitsFrom, read};
use plane::Segment;
use quantity::Unit;
use serde_json::Value;
use std::f64::consts::PI;
use std::path::Path;

/// A contour within 0.75 µm of the truth is off in area by less than this times its length, mm.
const OFF: f64 = 0.000_75;

fn folder() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/svg-cases")
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn near(got: &[f64], wanted: &[f64], tolerance: f64) -> bool {
    got.len() == wanted.len() && got.iter().zip(wanted).all(|(a, b)| (a - b).abs() <= tolerance)
}

#[test]
fn all_cases_read_as_expected() {
    let text = std::fs::read_to_string(folder().join("expected.json")).unwrap();
    let cases: serde_json::Map<String, Value> = serde_json::from_str(&text).unwrap();
    let mut wrong = Vec::new();
    for (name, case) in &cases {
        let drawing = read(name, &std::fs::read(folder().join(name)).unwrap(), &ReadOptions::default());
        wrong.extend(differences(&drawing, case).into_iter().map(|w| format!("{name}: {w}")));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn differences(drawing: &Drawing, case: &Value) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut check = |right: bool, what: String| {
        if !right {
            wrong.push(what);
        }
    };
    if case["size"].is_array() {
        let size = drawing.size.unwrap();
        check(near(&[size.width, size.height], &numbers(&case["size"]), 1e-9), format!("size {size:?}"));
    }
    check(case["contours"] == drawing.contours.len(), format!("{} contours", drawing.contours.len()));
    check(case["open"] == drawing.open_paths.len(), format!("{} open paths", drawing.open_paths.len()));
    for (id, area) in case["areas"].as_object().unwrap() {
        let (region, doubts) = drawing.region(id);
        let (got, wanted) = (region.area(), area.as_f64().unwrap());
        let tolerance = 1e-6 + OFF * region.length();
        check((got - wanted).abs() <= tolerance, format!("`{id}` has {got} mm², not {wanted}: {doubts:?}"));
    }
    for (id, bounds) in case["bounds"].as_object().into_iter().flatten() {
        let b = drawing.region(id).0.bounds();
        check(near(&[b.min.x, b.min.y, b.max.x, b.max.y], &numbers(bounds), 1e-9), format!("`{id}` is at {b:?}"));
    }
    for (id, count) in case["vertices"].as_object().into_iter().flatten() {
        let got = drawing.region(id).0.shapes[0].outer.vertices.len();
        check(*count == got, format!("`{id}` has {got} vertices"));
    }
    for (kind, count) in case["skipped"].as_object().into_iter().flatten() {
        let got: usize = drawing.skipped.iter().filter(|s| s.kind == *kind).map(|s| s.count).sum();
        check(*count == got, format!("{got} `{kind}` left out: {:?}", drawing.skipped));
    }
    for id in case["doubts"].as_array().into_iter().flatten() {
        check(drawing.doubts.iter().any(|d| id == d.id), format!("no doubt {id}: {:?}", drawing.doubts));
    }
    if case["quiet"] == true {
        check(drawing.doubts.is_empty(), format!("doubts {:?}", drawing.doubts));
    }
    check(!doubt::any_blocks(&drawing.doubts), format!("refused {:?}", drawing.doubts));
    wrong
}

fn svg(inside: &str) -> String {
    format!("<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='100mm' viewBox='0 0 100 100'>{inside}</svg>")
}

fn outlined(inside: &str) -> plane::Region {
    let options = ReadOptions { strokes: Strokes::Outlines, ..ReadOptions::default() };
    read("a.svg", svg(inside).as_bytes(), &options).region(EVERYTHING).0
}

/// Areas of strokes in closed form (derived): caps add a disc or a square, a mitre a triangle at each corner, an arc
/// sweeps a sector of a ring.
#[test]
fn strokes_as_outlines() {
    let tests: &[(&str, f64)] = &[
        ("<path d='M10 10H30' fill='none' stroke='#000' stroke-width='4'/>", 80.0),
        ("<path d='M10 10H30' stroke='#000' stroke-width='4' stroke-linecap='square'/>", 96.0),
        ("<path d='M10 10H30' stroke='#000' stroke-width='4' stroke-linecap='round'/>", 80.0 + 4.0 * PI),
        ("<rect x='10' y='10' width='20' height='20' fill='none' stroke='#000' stroke-width='2'/>", 160.0),
        // Bevelled corners lose a triangle of 1 x 1 / 2 each.
        (
            "<rect x='10' y='10' width='20' height='20' fill='none' stroke='#000' stroke-width='2' stroke-linejoin='bevel'/>",
            158.0,
        ),
        (
            "<rect x='10' y='10' width='20' height='20' fill='none' stroke='#000' stroke-width='2' stroke-linejoin='round'/>",
            156.0 + PI,
        ),
        ("<circle cx='50' cy='50' r='10' fill='none' stroke='#000' stroke-width='2'/>", PI * (121.0 - 81.0)),
        // A circle inside the pen's own radius is a disc.
        ("<circle cx='50' cy='50' r='1' fill='none' stroke='#000' stroke-width='4'/>", PI * 9.0),
        // Fill and stroke together.
        ("<circle cx='50' cy='50' r='10' stroke='#000' stroke-width='2'/>", PI * 121.0),
        ("<path d='M10 50A20 20 0 0 1 50 50' fill='none' stroke='#000' stroke-width='2'/>", PI / 2.0 * (441.0 - 361.0)),
        // The width follows the transform.
        ("<path d='M5 5H15' stroke='#000' stroke-width='2' transform='scale(2)'/>", 80.0),
    ];
    for (inside, wanted) in tests {
        let region = outlined(inside);
        let tolerance = 1e-4 + 0.001 * region.length();
        assert!((region.area() - wanted).abs() <= tolerance, "{inside}: {} not {wanted}", region.area());
    }
}

/// A ring drawn as a stroke keeps its arcs: eight at most for two circles.
#[test]
fn stroke_outlines_keep_arcs() {
    let ring = outlined("<circle cx='50' cy='50' r='10' fill='none' stroke='#000' stroke-width='2'/>");
    let arcs = ring.contours().flat_map(|c| c.segments().collect::<Vec<_>>());
    let (round, straight): (Vec<Segment>, Vec<Segment>) = arcs.partition(|s| matches!(s, Segment::Arc { .. }));
    assert!(straight.is_empty() && round.len() <= 8, "{} straight, {} round", straight.len(), round.len());
}

#[test]
fn a_given_unit_is_that_of_the_user_unit() {
    let text = "<svg xmlns='http://www.w3.org/2000/svg' viewBox='5 5 20 10'><rect id='a' x='5' y='5' width='20' height='10'/></svg>";
    let options = ReadOptions { units: Some(Unit::Inch), ..ReadOptions::default() };
    let drawing = read("a.svg", text.as_bytes(), &options);
    assert!((drawing.region("a").0.area() - 200.0 * 25.4 * 25.4).abs() < 1e-6);
    assert_eq!(drawing.units.from, UnitsFrom::Given);
    assert!(drawing.doubts.is_empty());
    let over = read("a.svg", svg("<rect width='5' height='5'/>").as_bytes(), &options);
    assert!(over.doubts.iter().any(|d| d.id == "units-overridden"));
}

#[test]
fn lines_of_the_file_are_kept() {
    let drawing = read(
        "a.svg",
        svg("\n<rect id='a' width='5' height='5'/>\n\n<path d='M0 0 H5'\n stroke='red'/>").as_bytes(),
        &ReadOptions::default(),
    );
    assert_eq!((drawing.contours[0].line, drawing.open_paths[0].line), (2, 4));
}

#[test]
fn what_cannot_be_read_is_refused() {
    let whole = svg("<rect id='a' width='5' height='5'/>");
    let cases = [
        (String::new(), "not-a-drawing"),
        ("hello".into(), "not-a-drawing"),
        ("<html></html>".into(), "not-a-drawing"),
        (whole[..whole.len() - 9].into(), "drawing-cut-short"),
        (whole.replace("/>", ">"), "svg-broken"),
        (svg("<path d='M0 0H5V5 q'/>"), "path-broken"),
        (svg("<path d='M0 0H5V5z W'/>"), "path-broken"),
        (svg(""), "drawing-empty"),
        (svg("<rect width='1e308' height='5'/>"), "bad-numbers"),
        (svg("<rect width='NaN' height='5'/>"), "bad-numbers"),
        (svg("<rect width='-3' height='5'/>"), "bad-numbers"),
        (svg("<path d='M0 0 L1e308 0 L 5 5z'/>"), "bad-numbers"),
        (svg("<circle id='a' r='5'/><g transform='scale(1e300)'><circle r='1e10'/></g>"), "bad-numbers"),
    ];
    for (text, id) in cases {
        let drawing = read("a.svg", text.as_bytes(), &ReadOptions::default());
        assert!(drawing.doubts.iter().any(|d| d.id == id), "{id}: {:?}", drawing.doubts);
        if !text.contains("circle id") {
            assert!(doubt::any_blocks(&drawing.doubts), "{id} must block: {:?}", drawing.doubts);
        }
        assert!(
            drawing.doubts.iter().all(|d| !d.places.is_empty() || d.severity < Severity::Refusal),
            "{:?}",
            drawing.doubts
        );
    }
}

/// A text whose family isn't given is listed, and one whose file is rubbish is too.
#[test]
fn text_needs_its_font() {
    let text = svg("<rect width='5' height='5'/><text id='t' x='5' y='50' font-family='Kestrel, serif'>AB</text>");
    for fonts in [vec![], vec![("Other".to_owned(), vec![0; 9])], vec![("kestrel".to_owned(), vec![1; 99])]] {
        let drawing = read("a.svg", text.as_bytes(), &ReadOptions { fonts, ..ReadOptions::default() });
        assert!(drawing.doubts.iter().any(|d| d.id == "text-without-font" && d.severity == Severity::Caution));
        assert_eq!(drawing.skipped[0].kind, "text");
    }
}
