//! A rectangular pocket and its walls, with planted errors.

mod common;

use common::*;

fn plate() -> plate::Intent {
    intent(blank(40.0, 30.0), vec![area("field", rectangle(8.0, 7.0, 20.0, 14.0), 3.4)])
}

#[test]
fn a_pocket_is_proven_with_its_corners_left_to_the_hand() {
    let mut intent = plate();
    intent.cutters = vec![1];
    let proof = run(&shop(), &intent, &[pocket(8.0, 7.0, 20.0, 14.0, 3.4, 0.0)]);
    assert_proven(&proof);
    assert_eq!(proof.hand_work.len(), 4, "{:#?}", proof.hand_work);
    for spot in &proof.hand_work {
        // r (1/sin(a/2) - 1) and r² (1 - pi/4), r 1.5875 at 90°: gap 0.657564 mm, area 0.540830 mm² (derived).
        assert!((spot.gap - 0.657_564).abs() < 1e-3, "{spot:?}");
        assert!((spot.area_left - 0.540_830).abs() < 0.02, "{spot:?}");
        assert_eq!(spot.cutter_needed, None);
    }
    assert!(proof.walls.worst_gouge < 1e-6 && proof.walls.worst_leftover < 1e-3, "{:?}", proof.walls);
    // The pocket's volume, less the corners, on the thickest blank.
    let volume = (20.0 * 14.0 - 4.0 * 0.540_83) * (6.3 - 3.4);
    let removed = proof.stages[0].cutter_use.removed;
    assert!((removed - volume).abs() < 0.003 * volume, "{removed} {volume}");
}

#[test]
fn wall_errors_are_read_back() {
    let mut intent = plate();
    intent.cutters = vec![1];
    for (off, id) in [
        (0.005, None),
        (-0.005, None),
        (0.015, Some("wall-gouge")),
        (-0.015, Some("wall-leftover")),
        (0.05, Some("wall-gouge")),
        (-0.05, Some("wall-leftover")),
    ] {
        let proof = run(&shop(), &intent, &[pocket(8.0, 7.0, 20.0, 14.0, 3.4, off)]);
        let worst = if off > 0.0 { proof.walls.worst_gouge } else { -proof.walls.worst_leftover };
        assert!((worst - off).abs() < 0.001, "{off}: {:?}", proof.walls);
        match id {
            None => assert_proven(&proof),
            Some(id) => {
                assert_refused(&proof, id);
            }
        }
    }
}

#[test]
fn nothing_at_all_leaves_the_pocket() {
    let proof = run(&shop(), &plate(), &[Text::start(1, 18000.0).end()]);
    assert_refused(&proof, "leftover");
    assert_refused(&proof, "wall-leftover");
    assert_eq!(proof.stages[0].cutter_use.removed, 0.0);
}
