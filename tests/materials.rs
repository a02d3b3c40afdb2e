//! Every material and the maker's own numbers end to end: planned, written, read back and proven.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use packet::{Computed, Outcome};
use proof::{Settings, Verdict};
use reckon::load;
use reckon::material::{hardest, stock_of};
use std::fs;
use std::path::Path;

/// Loads and figures are the same at any pitch; this one is quick.
const SETTINGS: Settings = Settings { pitch: 0.04, picture_pitch: 1.0 };

/// The common plate of the bad input, with a shop.
fn made(shop: &str) -> (Option<Computed>, Outcome) {
    let common = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad-input/common");
    let dir = tempfile::tempdir().unwrap();
    for name in ["plate.toml", "plate.svg"] {
        fs::copy(common.join(name), dir.path().join(name)).unwrap();
    }
    fs::write(dir.path().join("shop.toml"), shop).unwrap();
    let mut outcome = Outcome::default();
    let computed = packet::compute(&dir.path().join("plate.toml"), &SETTINGS, &(), &mut outcome);
    (computed.map(|c| c.0), outcome)
}

fn said(outcome: &Outcome) -> String {
    outcome.doubts.iter().map(|d| format!("{:?} {}: {}\n", d.severity, d.id, d.message)).collect()
}

/// The starter shop, whose sheets are all of a material.
fn of(material: &str) -> String {
    intake::STARTER_SHOP.replace("made = \"cast\"", &format!("material = \"{material}\""))
}

/// What the text asks of each cutter stays within what its material takes, as the prover reckons it from the text alone.
#[test]
fn every_material_makes_a_proven_packet() {
    for material in intake::schema::MATERIALS {
        let (computed, outcome) = made(&of(material));
        let computed = computed.unwrap_or_else(|| panic!("{material}: {}", said(&outcome)));
        assert_eq!(outcome.verdict, Some(Verdict::Proven), "{material}: {}", said(&outcome));
        let shop = &computed.job.shop;
        let is = hardest(computed.job.intent.blank.layers.iter().map(|l| l.sheet.material));
        assert!(stock_of(is).name.ends_with(material), "{material} became {}", stock_of(is).name);
        for stage in computed.proof.stages.iter().filter(|s| s.cutter_use.cutting_length > 0.0) {
            let cutter = shop.cutter(stage.cutter_number).unwrap();
            let (run, used) = (load::cutting(shop, cutter, is), &stage.cutter_use);
            assert!(used.thickest_chip <= run.breaking.to_mm() && run.chip >= run.rubbing, "{material}: {used:?}");
            // A quarter above the depth that is safe in a slot is let pass.
            assert!(
                used.greatest_force <= 1.25 * run.force + 0.01,
                "{material}: {} N, {} N",
                used.greatest_force,
                run.force
            );
            assert!(used.greatest_power <= shop.spindle.power, "{material}");
        }
    }
}

/// A cutter's own speed, feed, plunge, entry and depth are what the text does, and the proof takes them.
#[test]
fn own_numbers_reach_the_text() {
    let own = "stick_out = 22\nspeed = 14000\nfeed = 900\nplunge = 120\nentry_angle = 8\npass_depth = 1.4\n";
    let (computed, outcome) = made(&intake::STARTER_SHOP.replacen("stick_out = 22\n", own, 1));
    let computed = computed.unwrap_or_else(|| panic!("{}", said(&outcome)));
    assert_eq!(outcome.verdict, Some(Verdict::Proven), "{}", said(&outcome));
    let (_, text) = computed.programs.iter().find(|(name, _)| name.contains("outline")).unwrap();
    for word in ["S14000", "F900", "dial 2", "passes up to 1.4 mm"] {
        assert!(text.contains(word), "{word}: {text}");
    }
    let steepest = computed.proof.stages.iter().map(|s| s.cutter_use.steepest_entry).fold(0.0, f64::max);
    assert!((7.0..8.8).contains(&steepest), "{steepest}");
    // Straight down the text goes no faster than asked.
    let lines = text.lines().filter(|l| l.starts_with("G1 Z"));
    let feeds: Vec<f64> = lines.filter_map(|l| l.split('F').nth(1)?.parse().ok()).collect();
    assert!(!feeds.is_empty() && feeds.iter().all(|f| *f <= 120.0 || *f == 600.0), "{feeds:?}");
}
