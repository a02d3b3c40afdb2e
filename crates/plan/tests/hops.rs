//! Short ways from place to place: just above the face, away from holds, and their time is told right.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

mod common;

use common::{area, intent, rectangle, shop};
use motion::{Move, Stage};
use plane::{Bounds, Contour, Point, Region};
use plate::{Hold, Intent, Shop};
use quantity::Height;

/// Places side by side, 15 mm from one to the next, at 30 mm from the blank's edges.
fn squares() -> Intent {
    let mut all = Region::default();
    for k in 0..3 {
        all.shapes.extend(rectangle(30.0 + 15.0 * f64::from(k), 35.0, 8.0, 8.0).shapes);
    }
    intent(vec![area("squares", all, 4.0)], None)
}

fn planned(shop: &Shop, intent: &Intent) -> (Vec<Stage>, f64) {
    let plan = plan::plan(shop, intent, &|| false).unwrap();
    assert!(!doubt::any_blocks(&plan.doubts), "{:?}", plan.doubts);
    let minutes = plan.subsets.iter().find(|s| s.chosen).unwrap().minutes;
    (plan.stages, minutes)
}

/// Level rapids: their ends and heights.
fn level(stages: &[Stage]) -> Vec<(Point, Point, f64)> {
    let mut found = Vec::new();
    for stage in stages {
        let mut here = None;
        for step in &stage.moves {
            let Some(to) = step.end() else { continue };
            if let (Move::Rapid(_), Some(motion::At { p, z })) = (step, here)
                && z == to.z
                && p != to.p
            {
                found.push((p, to.p, z));
            }
            here = Some(to);
        }
    }
    found
}

#[test]
fn short_ways_run_just_above_the_face_and_take_as_long_as_told() {
    let (shop, intent) = (shop(), squares());
    let (stages, minutes) = planned(&shop, &intent);
    let (hop, traverse) = (intent.blank.face_high.to_mm() + 1.0, intent.blank.face_high.to_mm() + 3.0);
    let ways = level(&stages);
    // The first way of each program comes from wherever the machine stands, at the height of traverses.
    let hops = ways.iter().filter(|w| w.2 == hop).count();
    assert!(hops >= 2, "{ways:?}");
    assert!(ways.iter().all(|w| w.2 == hop || w.2 == traverse));
    assert!(stages.iter().any(|s| s.hop == Some(Height::mm(hop))));
    let all: f64 = stages.iter().map(|s| plan::seconds(&shop, s)).sum();
    let handled = reckon::pace::starts_and_changes(&shop.machine, stages.iter().map(|s| s.cutter));
    assert!((minutes * 60.0 - all - handled).abs() < 1e-6 * all, "{minutes} min, {all} s and {handled} s");
}

/// A screw between the first two places lifts the ways past it, not the others.
#[test]
fn a_hold_nearby_lifts_them() {
    let mut intent = squares();
    let at = Point::new(40.5, 39.0);
    intent.holds = vec![Hold {
        name: "screw".into(),
        shape: Contour::rectangle(Bounds { min: at, max: at }.grown(2.0)),
        top: Height::mm(9.0),
    }];
    let (stages, _) = planned(&shop(), &intent);
    // The nut and 8 mm beside it, 16.5 mm, keep off the screw.
    let near = Bounds { min: at, max: at }.grown(2.0 + 16.5);
    for (a, b, z) in level(&stages) {
        let past = Bounds::of([a, b]).meets(near);
        assert!(z == 12.0 || z == intent.blank.face_high.to_mm() + 1.0 && !past, "{a:?} to {b:?} at {z}");
        assert!(z >= 10.0 || a.x > 50.0, "{a:?}");
    }
}

/// A way longer than 25 mm is a traverse.
#[test]
fn far_ways_are_traverses() {
    let mut all = rectangle(10.0, 35.0, 8.0, 8.0);
    all.shapes.extend(rectangle(60.0, 35.0, 8.0, 8.0).shapes);
    let intent = intent(vec![area("squares", all, 4.0)], None);
    for (a, b, z) in level(&planned(&shop(), &intent).0) {
        assert!(a.distance(b) <= 25.0 || z == intent.blank.face_high.to_mm() + 3.0, "{a:?} to {b:?} at {z}");
    }
}

/// No room for a hop under traverses that run as low.
#[test]
fn a_low_clearance_leaves_no_hops() {
    let mut shop = shop();
    shop.machine.clearance = quantity::Length::mm(0.8);
    let (stages, _) = planned(&shop, &squares());
    assert!(stages.iter().all(|s| s.hop.is_none()));
}
