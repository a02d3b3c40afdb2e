//! Round holes end to end: bored down a helix, drilled where a cutter is as wide as the hole and may, and left otherwise.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use packet::{Computed, Outcome};
use proof::{ProgramText, Settings, Verdict};
use std::fmt::Write as _;
use std::fs;

/// The finer the pitch, the longer it takes; walls are probed to the micrometre whatever it is.
const SETTINGS: Settings = Settings { pitch: 0.03, picture_pitch: 1.0 };

/// A blank of two sheets with round holes of these diameters in a row, 8 mm apart, and the doubts, the plan and its proof.
fn holes(diameters: &[f64], area: &str, cutters: &str, shop: &str) -> (Option<Computed>, Outcome) {
    let dir = tempfile::tempdir().unwrap();
    let width = 8.0 * (diameters.len() as f64 + 1.0);
    let mut drawing = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"16mm\" viewBox=\"0 0 {width} 16\"><g id=\"holes\">"
    );
    for (i, d) in diameters.iter().enumerate() {
        let _ = write!(drawing, "<circle cx=\"{}\" cy=\"8\" r=\"{}\"/>", 8.0 * (i as f64 + 1.0), d / 2.0);
    }
    drawing.push_str("</g></svg>");
    let plate = format!(
        "title = \"holes\"\ndrawing = \"holes.svg\"\ncutters = {cutters}\n[blank]\nsize = [{width}, 16]\nbond = 0.05\n\
         bond_spread = 0.0\nbow = 0.0\nunder = [{{ name = \"card\", thickness = 1.0 }}]\n\
         layers = [{{ sheet = \"night black 3\", measured = [1.5] }}, {{ sheet = \"ruby clear 3\", measured = [1.5] }}]\n\
         [[area]]\non = \"holes\"\n{area}\n"
    );
    fs::write(dir.path().join("holes.svg"), drawing).unwrap();
    fs::write(dir.path().join("plate.toml"), plate).unwrap();
    fs::write(dir.path().join("shop.toml"), shop).unwrap();
    let mut outcome = Outcome::default();
    let computed = packet::compute(&dir.path().join("plate.toml"), &SETTINGS, &(), &mut outcome);
    (computed.map(|c| c.0), outcome)
}

fn said(outcome: &Outcome) -> String {
    outcome.doubts.iter().map(|d| format!("{:?} {}: {}\n", d.severity, d.id, d.message)).collect()
}

/// From just wider than the cutter to three times as wide, blind and through, the entry is a helix within the angle, and what
/// comes out is proven.
#[test]
fn holes_wider_than_the_cutter_are_bored() {
    let ratios = [1.02, 1.05, 1.1, 1.2, 1.35, 1.5, 1.75, 2.0, 2.25, 2.5, 3.0];
    for (cutter, width) in [(1, 3.175), (3, 0.79375)] {
        for area in ["floor = { below_face = 2 }", "floor = \"through\""] {
            let diameters: Vec<f64> = ratios.iter().map(|r| r * width).collect();
            let (computed, outcome) = holes(&diameters, area, &format!("[{cutter}]"), intake::STARTER_SHOP);
            let computed = computed.unwrap_or_else(|| panic!("{cutter}, {area}: {}", said(&outcome)));

            assert_eq!(outcome.verdict, Some(Verdict::Proven), "{cutter}, {area}: {}", said(&outcome));
            assert!(computed.proof.hand_work.is_empty(), "{:?}", computed.proof.hand_work);
            let steepest = computed.proof.stages.iter().map(|s| s.cutter_use.steepest_entry).fold(0.0, f64::max);
            // 3 degrees, and what rounding to a thousandth makes of pieces of a fifth of a millimetre.
            assert!(steepest <= 3.3, "{cutter}, {area}: {steepest}");
        }
    }
}

/// The starter shop whose 1/8 in cutter may go straight down.
fn drilling() -> String {
    intake::STARTER_SHOP.replacen("stick_out = 22\n", "stick_out = 22\nmay_drill = true\n", 1)
}

/// As wide as the cutter within 10 µm, through or not, held or not: straight down in pecks, and proven. The same text with a
/// cutter that may not drill is refused.
#[test]
fn holes_as_wide_as_a_cutter_that_may_are_drilled() {
    let areas = [
        "floor = { below_face = 2 }",
        "floor = \"through\"",
        "floor = \"through\"\nheld_by = { by = \"tape under all of it\" }",
    ];
    for area in areas {
        let (computed, outcome) = holes(&[3.175, 3.184, 3.166], area, "[1]", &drilling());
        let computed = computed.unwrap_or_else(|| panic!("{area}: {}", said(&outcome)));
        assert_eq!(outcome.verdict, Some(Verdict::Proven), "{area}: {}", said(&outcome));
        assert!(computed.proof.hand_work.is_empty() && computed.plan.stages.len() == 1);
        let held = area.contains("held_by");
        assert_eq!(held, outcome.doubts.iter().any(|d| d.id == "hole-all-chips"), "{}", said(&outcome));
        let stage = &computed.plan.stages[0];
        // Half a diameter at most each time, out of the hole after each, and no way sideways below the face.
        let face = computed.job.intent.blank.face_high.to_mm();
        let (mut here, mut pecks, mut lowest) = (None::<motion::At>, 0, face);
        for step in &stage.moves {
            let (to, feed) = match step {
                motion::Move::Rapid(to) => (*to, None),
                motion::Move::Line { to, feed } => (*to, Some(*feed)),
                motion::Move::Arc { .. } => panic!("{area}: an arc"),
                motion::Move::Pass(_) => continue,
            };
            if let Some(from) = here {
                assert!(from.p == to.p || (from.z > face && to.z > face), "{area}: {from:?} to {to:?}");
                if feed.is_some() && to.z < lowest.min(from.z) {
                    assert!(lowest - to.z <= 0.5 * 3.175 + 1e-9, "{area}: {lowest} to {}", to.z);
                    (pecks, lowest) = (pecks + 1, to.z);
                }
                if to.z > face {
                    lowest = if from.p == to.p && to.z < face + 1.0 { lowest } else { face };
                }
            }
            here = Some(to);
        }
        let depth = if area.contains("below_face") { 2.0 } else { 3.05 };
        assert!(pecks >= 3 * (depth / (0.5 * 3.175)) as u32, "{area}: {pecks}");
        let mut careful = computed.job.shop.clone();
        careful.cutters.iter_mut().for_each(|c| c.may_drill = false);
        let texts: Vec<ProgramText<'_>> = packet::texts(&computed.programs);
        let proof = proof::prove(&careful, &computed.job.intent, &texts, &SETTINGS, &()).unwrap();
        assert_eq!(proof.verdict, Verdict::Refused);
        assert!(proof.findings.iter().any(|d| d.id == "plunge" && d.blocks()), "{area}: {:?}", proof.findings);
    }
}

/// A hole as wide as a cutter that may not drill: refused with the cutter that would serve, bored by a finer one if there is.
#[test]
fn a_hole_as_wide_as_a_cutter_that_may_not_drill() {
    let (computed, outcome) = holes(&[3.175], "floor = { below_face = 2 }", "[1]", intake::STARTER_SHOP);
    assert!(computed.is_none());
    let doubt =
        outcome.doubts.iter().find(|d| d.id == "hole-not-entered").unwrap_or_else(|| panic!("{}", said(&outcome)));
    assert!(doubt.blocks() && doubt.way_out.as_ref().unwrap().contains("3.11 mm or finer"), "{doubt:?}");
    let (computed, outcome) = holes(&[3.175, 3.17], "floor = { below_face = 2 }", "[1, 2]", intake::STARTER_SHOP);
    assert_eq!(outcome.verdict, Some(Verdict::Proven), "{}", said(&outcome));
    let computed = computed.unwrap();
    assert!(computed.proof.hand_work.is_empty());
    assert_eq!(computed.plan.stages.iter().map(|s| s.cutter).collect::<Vec<_>>(), [2]);
}
