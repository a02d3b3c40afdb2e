//! Plans as the proof sees them: minutes, and the ways a shop may want its plates cut.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use proof::Settings;
use std::fs;
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

/// The demo in a shop whose machine has play, and with paths closer together.
#[test]
fn conventional_walls_and_another_stepover_are_proven() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    let dir = tempfile::tempdir().unwrap();
    for file in ["plate.toml", "door-plate.svg"] {
        fs::copy(demo.join(file), dir.path().join(file)).unwrap();
    }
    let shop = intake::STARTER_SHOP
        .replace("[machine]", "[machine]\nwalls = \"conventional\"")
        .replace("flutes = 1\n", "flutes = 1\nstepover = 0.3\n");
    fs::write(dir.path().join("shop.toml"), shop).unwrap();
    let settings = Settings { pitch: 0.1, picture_pitch: 2.0 };
    let mut outcome = packet::Outcome::default();
    let (computed, _) = packet::compute(&dir.path().join("plate.toml"), &settings, &(), &mut outcome).unwrap();
    assert_eq!(outcome.verdict, Some(proof::Verdict::Proven), "{:?}", computed.proof.findings);
    assert_eq!(computed.job.shop.machine.walls, plate::AlongWalls::Conventional);
    for (stage, proof) in computed.plan.stages.iter().zip(&computed.proof.stages[1..]) {
        let planned = plan::seconds(&computed.job.shop, stage) / 60.0;
        assert!((planned - proof.minutes).abs() <= 0.005 * proof.minutes, "{}", stage.name);
    }
}
