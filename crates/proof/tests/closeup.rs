//! Spots looked at closely: planted errors measured in the close-up, and places told of every finding.

mod common;

use common::*;
use plane::{Bounds, Point};
use plate::Intent;
use proof::{CloseUp, Going, Look, close_ups, reach};

/// A pocket from x 10 to 50, y 10 to 30.
fn plate() -> Intent {
    intent(blank(60.0, 40.0), vec![area("field", rectangle(10.0, 10.0, 40.0, 20.0), 3.4)])
}

fn seen(plate: &Intent, text: &str, look: Look) -> CloseUp {
    let program = read::read("a.nc", text.as_bytes());
    let mut all = close_ups(&shop(), plate, &[program], &[(None, true)], &[look]);
    assert_eq!(all.len(), 1);
    all.remove(0)
}

/// The wall at x 50 cut 0.05 mm too far shows as a strip of that width, a cell more or less, where the face is wanted.
#[test]
fn a_wall_off_by_a_known_amount() {
    let (plate, text) = (plate(), pocket(10.0, 10.0, 40.0, 20.0, 3.4, 0.05));
    let shop = shop();
    let proof = run_at(&shop, &plate, std::slice::from_ref(&text), &settings());
    let index = proof.findings.iter().position(|d| d.id == "wall-gouge").unwrap();
    let spots: Vec<_> = proof.spots.iter().filter(|s| s.finding == index).collect();
    assert!(!spots.is_empty() && spots.len() <= 3);
    assert!(
        spots.iter().all(|s| (s.amount - 0.05).abs() < 1e-3 && s.line.is_some() && s.words == "0.05 mm into the wall")
    );
    let spot = spots[0];
    let half = reach("wall-gouge", spot, 3.175);
    let look = Look {
        after: 0,
        line: Some((0, spot.line.unwrap())),
        window: Bounds { min: Point::new(50.0, 20.0), max: Point::new(50.0, 20.0) }.grown(half),
        pitch: 0.002,
    };
    let close = seen(&plate, &text.text(), look);
    let map = &close.heights;
    assert_eq!(map.heights.len(), close.wanted.len());
    assert!((map.pitch - 0.002).abs() < 1e-12 && map.origin.distance(look.window.min) < 1e-12);
    let row = map.rows / 2 * map.columns;
    let (face, floor) = (plate.blank.face_high.to_mm() as f32, 3.4f32);
    let cells = |test: &dyn Fn(f32, f32) -> bool| {
        (row..row + map.columns).filter(|&i| test(map.heights[i], close.wanted[i])).count() as f64 * map.pitch
    };
    let near = |a: f32, b: f32| (a - b).abs() < 1e-3;
    let gouged = cells(&|h, w| near(h, floor) && near(w, face));
    assert!((gouged - 0.05).abs() <= 0.0021, "{gouged}");
    assert!((cells(&|h, w| near(h, floor) && near(w, floor)) - half).abs() <= 0.0021);
    assert!((cells(&|h, w| near(h, face) && near(w, face)) - (half - 0.05)).abs() <= 0.0041);
    assert!(close.way.iter().all(|w| w.1 == Going::Feed) && !close.way.is_empty());
}

/// What a window shows doesn't hang on where it lies on the blank, nor on the size of its cells.
#[test]
fn the_same_at_any_pitch() {
    let (plate, text) = (plate(), pocket(10.0, 10.0, 40.0, 20.0, 3.4, 0.0).text());
    let at = |pitch: f64| {
        let window = Bounds { min: Point::new(8.0, 8.0), max: Point::new(14.0, 14.0) };
        let map = seen(&plate, &text, Look { after: 0, line: None, window, pitch }).heights;
        map.heights.iter().filter(|h| **h < 4.0).count() as f64 * map.pitch * map.pitch
    };
    // A corner 4 by 4 mm of the pocket less what a cutter of radius 1.5875 leaves in it: (1 - pi / 4) r^2.
    let wanted = 16.0 - (1.0 - std::f64::consts::FRAC_PI_4) * 1.5875 * 1.5875;
    for pitch in [0.05, 0.02, 0.01] {
        assert!((at(pitch) - wanted).abs() < 0.2 * pitch / 0.02, "{pitch}: {} isn't {wanted}", at(pitch));
    }
}

#[test]
fn odd_windows_show_nothing() {
    let (plate, text) = (plate(), pocket(10.0, 10.0, 40.0, 20.0, 3.4, 0.0).text());
    let at = |x: f64, half: f64, pitch: f64| {
        let window = Bounds { min: Point::new(x, 20.0), max: Point::new(x, 20.0) }.grown(half);
        seen(&plate, &text, Look { after: 7, line: Some((9, 9)), window, pitch })
    };
    for (x, half, pitch) in [(f64::NAN, 1.0, 0.01), (20.0, 0.0, 0.01), (20.0, 1.0, f64::NAN), (20.0, 1.0, -1.0)] {
        assert_eq!(at(x, half, pitch), CloseUp::default());
    }
    // Far off the blank nothing is cut, and a pitch finer than a window can have is widened.
    let off = at(500.0, 1.0, 1e-9);
    assert!(off.heights.heights.len() <= 1_500_000 && off.heights.heights.iter().all(|h| *h > 6.0));
    assert!(off.way.is_empty());
}

/// Every finding about a place on the plate has places, the worst first, and each finding has a likely cause.
#[test]
fn findings_have_places_and_causes() {
    let mut text = Text::start(1, 18000.0);
    text.put("G0 X20 Y20").put("G0 Z5").put("G1 X40 F900").put("G1 Z3 F300").put("G1 X30 F9000");
    let plate = plate();
    let proof = run_at(&shop(), &plate, &[text.end()], &settings());
    assert!(proof.findings.len() >= 5);
    for (index, finding) in proof.findings.iter().enumerate() {
        assert!(finding.likely_cause.is_some() && finding.way_out.is_some(), "{}", finding.id);
        let amounts: Vec<f64> = proof.spots.iter().filter(|s| s.finding == index).map(|s| s.amount).collect();
        let placed = finding.places.iter().any(|p| matches!(p, doubt::Place::Blank { .. }));
        assert_eq!(placed, !amounts.is_empty(), "{}", finding.id);
        assert!(amounts.len() <= 3 && amounts.windows(2).all(|w| w[0] >= w[1]), "{}", finding.id);
    }
}
