//! A stadium cut out of the blank with tabs.

mod common;

use common::*;
use plane::{Contour, Point, Region, Vertex};
use plate::{Held, Intent, Tabs};

const R: f64 = 1.5875;
/// Heights of the passes round the plate; the last is in the tape under the blank.
const PASSES: [f64; 5] = [4.9, 3.5, 2.1, 0.8, 0.1];

/// Stadium of centre length 30 and width 20 about (35, 25).
fn stadium() -> Region {
    let v = |x: f64, y: f64, bulge: f64| Vertex { p: Point::new(35.0 + x, 25.0 + y), bulge };
    Region::solid(Contour {
        vertices: vec![v(-15.0, -10.0, 0.0), v(15.0, -10.0, 1.0), v(15.0, 10.0, 0.0), v(-15.0, 10.0, 1.0)],
    })
}

fn tabs() -> Tabs {
    Tabs { count: 2, length: mm(5.0), left: mm(0.6) }
}

fn plate() -> Intent {
    let mut plate = intent(blank(70.0, 50.0), vec![]);
    plate.outline = Some(outline(stadium(), 0.1, Some(tabs())));
    plate.holds = vec![screw(7.0, 7.0), screw(63.0, 43.0)];
    plate
}

/// One turn round the stadium at a height, ramping down from the one before along the lower straight, with tabs of a
/// length in the two straights where the height is below their top.
fn turn(text: &mut Text, from: f64, z: f64, tab: f64, top: f64) {
    let (y0, y1, r) = (15.0 - R, 35.0 + R, 10.0 + R);
    let straight = |text: &mut Text, y: f64, x0: f64, x1: f64| {
        let lift = tab / 2.0 + R;
        if z < top && tab > 0.0 {
            let side = (x1 - x0).signum();
            let middle = 0.5 * (x0 + x1);
            text.put(format!("G1 X{:.4} Y{y:.4} F900", middle - side * lift));
            text.put(format!("G1 Z{top:.4} F300"));
            text.put(format!("G1 X{:.4} F900", middle + side * lift));
            // Down where the groove of this turn is still to be cut: a ramp of 4 degrees.
            text.put(format!("G1 X{:.4} Z{z:.4} F500", middle + side * (lift + (top - z) / 0.07)));
            text.put(format!("G1 X{:.4} F900", middle + side * lift));
        }
        text.put(format!("G1 X{x1:.4} Y{y:.4} F900"));
    };
    // From (20, y0): down a ramp to and fro until the height is reached.
    let length = (from - z) / 0.08;
    text.put(format!("G1 X{:.4} Z{:.4} F500", 20.0 + length / 2.0, 0.5 * (from + z)));
    text.put(format!("G1 X20 Z{z:.4} F500"));
    straight(text, y0, 20.0, 50.0);
    text.put(format!("G3 X50 Y{y1:.4} I0 J{r:.4} F900"));
    straight(text, y1, 50.0, 20.0);
    text.put(format!("G3 X20 Y{y0:.4} I0 J{:.4} F900", -r));
}

fn program(tab: f64, top: f64) -> Text {
    let mut text = Text::start(1, 18000.0);
    text.put(format!("G0 X20 Y{:.4}", 15.0 - R)).put("G0 Z6.4");
    let mut from = 6.3;
    text.put("G1 Z6.3 F300");
    for z in PASSES {
        turn(&mut text, from, z, tab, top);
        from = z;
    }
    text.end()
}

#[test]
fn a_stadium_with_tabs_is_proven() {
    let proof = run(&shop(), &plate(), &[program(5.0, 0.8)]);
    assert_proven(&proof);
    assert!(proof.hand_work.is_empty(), "{:?}", proof.hand_work);
    assert!(proof.walls.worst_gouge < 1e-6, "{:?}", proof.walls);
    assert!(proof.stages[0].minutes > 0.5 && proof.stages[0].minutes < 4.0, "{}", proof.stages[0].minutes);
}

#[test]
fn tabs_too_short_too_low_or_missing() {
    for (tab, top) in [(4.9, 0.8), (5.0, 0.79), (0.0, 0.8)] {
        let proof = run(&shop(), &plate(), &[program(tab, top)]);
        assert_refused(&proof, "tab-missing");
    }
    // Within tolerance: 10 µm shorter, 3 µm lower.
    assert_proven(&run(&shop(), &plate(), &[program(4.99, 0.797)]));
}

#[test]
fn without_tabs_the_plate_comes_loose() {
    let proof = run(&shop(), &plate(), &[program(0.0, 0.8)]);
    let found = assert_refused(&proof, "piece-loose");
    let doubt::Place::Program { line, .. } = found.places[0] else { panic!("{found:?}") };
    // In the last turn.
    assert!(line > 30, "{found:?}");
    let mut stated = plate();
    stated.outline.as_mut().unwrap().held = Held::Stated("tape over the whole underside".into());
    assert_proven(&run(&shop(), &stated, &[program(0.0, 0.8)]));
}

#[test]
fn a_turn_that_is_missing_leaves_the_plate_in_the_blank() {
    let text = program(5.0, 0.8);
    let last = text.lines.iter().rposition(|l| l.contains("Z0.1000") && l.contains("X20 ")).unwrap();
    let mut cut = Text { lines: text.lines[..last - 1].to_vec() };
    let proof = run(&shop(), &plate(), &[cut.end()]);
    assert_refused(&proof, "through-missing");
}

#[test]
fn a_hold_in_the_way() {
    let mut plate = plate();
    plate.holds.push(screw(35.0, 9.0));
    let found = assert_refused(&run(&shop(), &plate, &[program(5.0, 0.8)]), "hold-hit");
    assert!(found.message.contains("screw"), "{found:?}");
    // Clear of the cutter, but not of the nut over it.
    plate.holds[2] = screw(35.0, 7.0);
    plate.holds[2].top = quantity::Height::mm(25.0);
    let found = assert_refused(&run(&shop(), &plate, &[program(5.0, 0.8)]), "hold-hit");
    assert!(found.message.contains("nut"), "{found:?}");
}

/// An inside corner of the edge: reached from outside by no cutter thicker than its radius.
#[test]
fn a_notch_of_the_edge_is_hand_work() {
    let mut plate = intent(blank(70.0, 50.0), vec![]);
    let points = [(20.0, 15.0), (50.0, 15.0), (50.0, 35.0), (40.0, 35.0), (40.0, 25.0), (20.0, 25.0)];
    let inside = Region::solid(Contour::polygon(points.map(|(x, y)| Point::new(x, y))));
    plate.outline = Some(outline(inside, 0.1, None));
    plate.outline.as_mut().unwrap().held = Held::Stated("tape".into());
    plate.cutters = vec![1];
    let r = R;
    let mut text = Text::start(1, 18000.0);
    text.put(format!("G0 X{:.4} Y{:.4}", 20.0 - r, 15.0 - r)).put("G0 Z6.4").put("G1 Z6.3 F300");
    let mut from = 6.3;
    for z in PASSES {
        let ramp = (from - z) / 0.08;
        text.put(format!("G1 X{:.4} Z{:.4} F500", 20.0 - r + ramp / 2.0, 0.5 * (from + z)));
        text.put(format!("G1 X{:.4} Z{z:.4}", 20.0 - r));
        text.put(format!("G1 X{:.4} F900", 50.0 + r)).put(format!("G1 Y{:.4}", 35.0 + r));
        text.put(format!("G1 X{:.4}", 40.0 - r)).put(format!("G1 Y{:.4}", 25.0 + r));
        text.put(format!("G1 X{:.4}", 20.0 - r)).put(format!("G1 Y{:.4}", 15.0 - r));
        from = z;
    }
    let proof = run(&shop(), &plate, &[text.end()]);
    assert_proven(&proof);
    assert_eq!(proof.hand_work.len(), 1, "{:?}", proof.hand_work);
    // r (1/sin(a/2) - 1) and r² (1 - pi/4), r 1.5875 at 90°: gap 0.657564 mm, area 0.540830 mm² (derived).
    assert!((proof.hand_work[0].gap - 0.657_564).abs() < 1e-3, "{:?}", proof.hand_work);
    assert!((proof.hand_work[0].area_left - 0.540_83).abs() < 0.03, "{:?}", proof.hand_work);
}

/// A round hole of radius 8 about (35, 25), cut by a groove inside its wall.
fn ring_program(last: f64, tab: bool) -> Text {
    let r = 8.0 - R;
    let mut text = Text::start(1, 18000.0);
    text.put(format!("G0 X{:.4} Y25", 35.0 + r)).put("G0 Z6.4").put("G1 Z6.3 F300");
    for z in [4.9, 3.5, 2.1, 0.8, last] {
        // A turn down at less than 3 degrees, then a level one.
        text.put(format!("G3 X{:.4} Y25 Z{z:.4} I{:.4} J0 F500", 35.0 + r, -r));
        if tab && z < 0.8 {
            // Down over half a turn, back level, and on to where a tab is left over the last 120 degrees.
            text.lines.pop();
            text.put(format!("G3 X{:.4} Y25 Z{z:.4} I{:.4} J0 F500", 35.0 - r, -r));
            text.put(format!("G2 X{:.4} Y25 I{r:.4} J0", 35.0 + r));
            text.put(format!("G3 X{:.4} Y{:.4} I{:.4} J0", 35.0 - r * 0.5, 25.0 - r * 0.75_f64.sqrt(), -r));
            text.put("G1 Z0.8 F300");
            text.put(format!("G3 X{:.4} Y25 I{:.4} J{:.4}", 35.0 + r, r * 0.5, r * 0.75_f64.sqrt()));
        } else {
            text.put(format!("G3 X{:.4} Y25 I{:.4} J0", 35.0 + r, -r));
        }
    }
    text.end()
}

fn hole(held: Held, floor: f64) -> Intent {
    let region = Region::solid(Contour::circle(Point::new(35.0, 25.0), 8.0));
    let mut plate = intent(blank(70.0, 50.0), vec![area("window", region, floor)]);
    plate.areas[0].kind = plate::FloorKind::Through;
    plate.areas[0].held = held;
    plate
}

#[test]
fn a_cut_out_is_held_or_found_loose() {
    let loose = run(&shop(), &hole(Held::Nothing, 0.1), &[ring_program(0.1, false)]);
    let found = assert_refused(&loose, "piece-loose");
    assert!(found.message.contains("9.6") || found.message.contains("9.7"), "{found:?}");
    assert_refused(&loose, "through-missing");
    assert_proven(&run(&shop(), &hole(Held::Stated("tape".into()), 0.1), &[ring_program(0.1, false)]));
    let skin = |thickness| Held::Skin(mm(thickness));
    assert_proven(&run(&shop(), &hole(skin(0.3), 0.5), &[ring_program(0.5, false)]));
    assert_refused(&run(&shop(), &hole(skin(0.3), 0.5), &[ring_program(0.45, false)]), "skin-missing");
    let one = |length| Held::Tabs(Tabs { count: 1, length: mm(length), left: mm(0.6) });
    assert_proven(&run(&shop(), &hole(one(3.0), 0.1), &[ring_program(0.1, true)]));
    assert_refused(&run(&shop(), &hole(one(40.0), 0.1), &[ring_program(0.1, true)]), "tab-missing");
    assert_refused(&run(&shop(), &hole(one(3.0), 0.1), &[ring_program(0.1, false)]), "tab-missing");
}
