//! Pockets in pockets, finer cutters, ball and vee cutters, and the order of things.

mod common;

use common::*;
use plane::{Contour, Point, Region, Shape};
use plate::{EdgeProfile, FloorKind};
use proof::Verdict;
use quantity::{Angle, Height};

fn with_hole(outer: Region, hole: &Region) -> Region {
    let shape = &outer.shapes[0];
    Region { shapes: vec![Shape { outer: shape.outer.clone(), holes: vec![hole.shapes[0].outer.reversed()] }] }
}

fn nested() -> plate::Intent {
    let deep = rectangle(14.0, 11.0, 8.0, 6.0);
    let field = with_hole(rectangle(8.0, 7.0, 20.0, 14.0), &deep);
    let mut plate = intent(blank(40.0, 30.0), vec![area("field", field, 4.8), area("seat", deep, 3.5)]);
    plate.cutters = vec![1];
    plate
}

/// The seat alone, from the field's floor down.
fn seat(off: f64) -> Text {
    let mut text = Text::start(1, 18000.0);
    text.helix(18.0, 14.0, 1.2, 4.8, 3.5).put("G1 X18 Y14 F1000");
    text.rings(18.0, 14.0, (4.0 - 1.5875 + off, 3.0 - 1.5875 + off), 1.2).end()
}

#[test]
fn a_pocket_in_a_pocket() {
    let field = pocket(8.0, 7.0, 20.0, 14.0, 4.8, 0.0);
    let proof = run(&shop(), &nested(), &[field.clone(), seat(0.0)]);
    assert_proven(&proof);
    assert_eq!(proof.hand_work.len(), 8, "{:#?}", proof.hand_work);
    // The seat's wall is judged up to the field's floor only, and exactly.
    let proof = run(&shop(), &nested(), &[field.clone(), seat(0.02)]);
    let found = assert_refused(&proof, "wall-gouge");
    assert!(found.message.contains("`seat`"), "{found:?}");
    assert!((proof.walls.worst_gouge - 0.02).abs() < 1e-4);
    // In the wrong order the first program is at work far too deep.
    assert_refused(&run(&shop(), &nested(), &[seat(0.0), field]), "bite-too-deep");
}

#[test]
fn the_finer_cutter_must_clear_what_it_reaches() {
    let mut plate = intent(blank(40.0, 30.0), vec![area("field", rectangle(8.0, 7.0, 20.0, 14.0), 4.8)]);
    let coarse = pocket(8.0, 7.0, 20.0, 14.0, 4.8, 0.0);
    assert_refused(&run(&shop(), &plate, std::slice::from_ref(&coarse)), "leftover");
    // Cutter 2 in the corners, coming from the cleared middle in passes of 0.5 mm.
    let r = 0.79375;
    let mut fine = Text::start(2, 18000.0);
    for (x, y, sx, sy) in
        [(8.0, 7.0, 1.0, 1.0), (28.0, 7.0, -1.0, 1.0), (28.0, 21.0, -1.0, -1.0), (8.0, 21.0, 1.0, -1.0)]
    {
        fine.put("G0 Z15");
        let at = |u: f64, v: f64| format!("X{:.4} Y{:.4}", x + sx * u, y + sy * v);
        fine.put(format!("G0 {}", at(3.0, 3.0))).put("G0 Z5.3");
        for z in [5.8, 5.3, 4.8] {
            fine.put(format!("G1 {} F500", at(3.0, 3.0))).put(format!("G1 Z{z} F200"));
            for k in (0..4).rev() {
                let u = r + 0.3 * f64::from(k);
                fine.put(format!("G1 {} F500", at(3.0, u))).put(format!("G1 {}", at(u, u)));
                fine.put(format!("G1 {}", at(u, 3.0)));
            }
        }
    }
    let fine = fine.end();
    plate.cutters = vec![1, 2];
    let proof = run(&shop(), &plate, &[coarse.clone(), fine]);
    assert_proven(&proof);
    for spot in &proof.hand_work {
        // r (1/sin(a/2) - 1), r 0.79375 at 90°: gap 0.414214 r = 0.328782 mm (derived).
        assert!((spot.gap - 0.328_782).abs() < 1e-3, "{spot:?}");
    }
    assert_eq!(proof.hand_work.len(), 4);
    // The same corners cut with the cutter confused: too wide for its path.
    plate.cutters = vec![1];
    assert_proven(&run(&shop(), &plate, &[coarse]));
}

#[test]
fn a_stroke_that_nothing_reaches_is_refused() {
    let mut plate = intent(
        blank(40.0, 30.0),
        vec![area("field", rectangle(8.0, 7.0, 20.0, 14.0), 4.8), area("hair", rectangle(8.0, 24.0, 10.0, 0.5), 4.8)],
    );
    plate.cutters = vec![1];
    let proof = run(&shop(), &plate, &[pocket(8.0, 7.0, 20.0, 14.0, 4.8, 0.0)]);
    let found = assert_refused(&proof, "stroke-lost");
    assert!(found.message.contains("`hair`"));
    let hair = proof.hand_work.iter().find(|h| h.area == "hair").unwrap();
    assert!(
        (hair.area_left - 5.0).abs() < 0.2 && hair.cutter_needed.is_some_and(|d| (d - 0.5).abs() < 0.06),
        "{hair:?}"
    );
    assert_eq!(ids(&proof), ["stroke-lost"]);
}

#[test]
fn a_vee_follows_the_width() {
    // A straight stroke 2 mm wide cut by one pass of a 90° vee with a tip of 0.1 mm: 0.95 mm below the face.
    let mut plate = intent(blank(40.0, 30.0), vec![area("line", rectangle(8.0, 9.0, 20.0, 2.0), 5.25)]);
    plate.blank.face_high = plate.blank.face;
    plate.areas[0].edge = EdgeProfile::FollowsWidth(Angle::deg(90.0));
    plate.cutters = vec![5];
    let vee = |y: f64| {
        let mut text = Text::start(5, 18000.0);
        text.put(format!("G0 X9 Y{y}")).put("G0 Z6.4").put("G1 Z6.2 F200");
        text.put("G1 X11 Z5.725 F500").put("G1 X9 Z5.25").put("G1 X27").put("G1 X9").end()
    };
    let proof = run(&shop(), &plate, &[vee(10.0)]);
    // Both long walls are exact; the ends, where the vee would have to rise, are left.
    assert!(proof.walls.worst_gouge < 1e-6, "{:?}\n{}", proof.walls, shown(&proof));
    // Along the stroke the groove is cut whole, 0.95 deep: its mean width is 0.1 + 0.95, its section 0.1 x 0.95 + 0.95² (derived),
    // and the force goes with the depth, since the flank's slope makes a chip as much longer as it makes it thinner.
    let slot = proof.stages[0].loads.iter().rfind(|l| l.length > 15.0 && l.rate > 0.0).unwrap();
    assert!((slot.depth - 0.95).abs() < 1e-6 && (slot.width - 1.05).abs() < 1e-3, "{slot:?}");
    assert!((slot.rate - 500.0 * (0.1 * 0.95 + 0.95 * 0.95)).abs() < 0.5, "{slot:?}");
    assert!((slot.force - 0.1 * 1000.0 * (500.0 / 18_000.0) * 0.95).abs() < 0.02 * slot.force, "{slot:?}");
    let proof = run(&shop(), &plate, &[vee(10.02)]);
    assert!((proof.walls.worst_gouge - 0.02).abs() < 1e-6, "{:?}", proof.walls);
}

#[test]
fn a_vee_rises_into_the_corners() {
    // The same stroke along its medial axis with a pointed 90° vee: proven without hand work.
    let mut plate = intent(blank(40.0, 30.0), vec![area("line", rectangle(8.0, 9.0, 20.0, 2.0), 5.2)]);
    plate.blank.face_high = plate.blank.face;
    plate.areas[0].edge = EdgeProfile::FollowsWidth(Angle::deg(90.0));
    plate.cutters = vec![5];
    let mut shop = shop();
    shop.cutters[4].form = plate::Form::Vee { angle: Angle::deg(90.0), tip: mm(0.0) };
    let mut text = Text::start(5, 18000.0);
    text.put("G0 X8 Y9").put("G0 Z6.4").put("G1 Z6.2 F200").put("G1 X9 Y10 Z5.2 F300").put("G1 X8 Y11 Z6.2");
    text.put("G1 X9 Y10 Z5.2")
        .put("G1 X27 F500")
        .put("G1 X28 Y9 Z6.2 F300")
        .put("G1 X27 Y10 Z5.2")
        .put("G1 X28 Y11 Z6.2");
    let proof = run(&shop, &plate, &[text.clone().end()]);
    assert_proven(&proof);
    assert!(proof.walls.worst_gouge < 1e-6 && proof.walls.worst_leftover < 1e-6, "{:?}", proof.walls);
    assert!(proof.hand_work.is_empty());
    text.lines.pop();
    assert_refused(&run(&shop, &plate, &[text.end()]), "leftover");
}

#[test]
fn a_ball_leaves_its_scallops() {
    // R 1.5, s 0.3: scallops R - sqrt(R² - s²/4) of 0.0075188 mm (derived), more than a floor may be off.
    let mut plate = intent(blank(40.0, 30.0), vec![area("field", rectangle(8.0, 7.0, 20.0, 14.0), 5.3)]);
    plate.cutters = vec![4];
    let mut text = Text::start(4, 18000.0);
    text.put("G0 X12 Y10.025").put("G0 Z6.4").put("G1 Z6.3 F200").put("G1 X24 Z5.3 F500");
    for k in 0..27 {
        let y = 10.025 + 0.3 * f64::from(k);
        text.put(format!("G1 Y{y:.3} F800")).put(format!("G1 X{}", if k % 2 == 0 { 12 } else { 24 }));
    }
    let mut small = plate.clone();
    small.areas[0].region = Region::solid(Contour::circle(Point::new(18.0, 14.0), 2.0));
    small.cutters = vec![1];
    let proof = run(&shop(), &small, &[text.end()]);
    let found = assert_refused(&proof, "leftover");
    assert!(found.message.starts_with("0.007 mm") || found.message.starts_with("0.008 mm"), "{found:?}");
}

#[test]
fn a_floor_that_shows_the_wrong_layer() {
    let mut plate = intent(blank(40.0, 30.0), vec![area("field", rectangle(8.0, 7.0, 20.0, 14.0), 3.4)]);
    plate.cutters = vec![1];
    let mut upper = plate.blank.layers[0].clone();
    let mut lower = upper.clone();
    upper.bottom = Height::mm(3.2);
    lower.top = Height::mm(3.15);
    lower.sheet.name = "ruby".into();
    plate.blank.layers = vec![upper, lower];
    plate.areas[0].kind = FloorKind::Shows(1);
    let proof = run(&shop(), &plate, &[pocket(8.0, 7.0, 20.0, 14.0, 3.4, 0.0)]);
    assert!(assert_refused(&proof, "wrong-layer").message.contains("ruby"));
    plate.areas[0].floor = Height::mm(3.0);
    let proof = run(&shop(), &plate, &[pocket(8.0, 7.0, 20.0, 14.0, 3.0, 0.0)]);
    assert_proven(&proof);
}

#[test]
fn the_order_of_apart_pockets_changes_nothing() {
    let regions = [(5.0, 5.0), (22.0, 5.0)].map(|(x, y)| rectangle(x, y, 12.0, 10.0));
    let mut plate =
        intent(blank(40.0, 30.0), vec![area("one", regions[0].clone(), 4.9), area("two", regions[1].clone(), 4.1)]);
    plate.cutters = vec![1];
    let (one, two) = (pocket(5.0, 5.0, 12.0, 10.0, 4.9, 0.0), pocket(22.0, 5.0, 12.0, 10.0, 4.1, 0.0));
    let forth = run(&shop(), &plate, &[one.clone(), two.clone()]);
    let back = run(&shop(), &plate, &[two, one]);
    assert_proven(&forth);
    assert_eq!(forth.relief, back.relief);
    assert_eq!(forth.hand_work, back.hand_work);
    assert_eq!(forth.walls, back.walls);
    assert_eq!(back.verdict, Verdict::Proven);
}
