//! The planner's minutes and the proof's, which are reckoned from the text, are the same.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use proof::Settings;
use std::path::Path;

#[test]
fn the_planners_minutes_are_the_proofs() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/plate.toml");
    let settings = Settings { pitch: 0.1, picture_pitch: 2.0 };
    let (computed, _) = packet::compute(&demo, &settings, &(), &mut packet::Outcome::default()).unwrap();
    let stages = std::iter::once(&computed.plan.frame).chain(&computed.plan.stages);
    let mut looked = 0;
    for (stage, proof) in stages.zip(&computed.proof.stages) {
        let planned = plan::seconds(&computed.job.shop, stage) / 60.0;
        println!("{:<22} planned {planned:.4}, proven {:.4} min", stage.name, proof.minutes);
        assert!(proof.file.starts_with(&stage.name));
        assert!((planned - proof.minutes).abs() <= 0.005 * proof.minutes, "{}", stage.name);
        looked += 1;
    }
    assert!(looked >= 4, "{looked}");
}
