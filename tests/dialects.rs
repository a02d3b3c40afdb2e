//! What the planner writes the reader accepts and the prover passes, in every dialect a shop file can ask for.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use proof::{Settings, Verdict};
use std::fs;

/// What is changed in the starter shop's text.
type Change = (&'static str, &'static str);

/// The starter plate with the starter shop's text changed.
fn verdict(changes: &[Change]) -> (Option<Verdict>, Vec<String>, Vec<(String, String)>) {
    let mut shop = intake::STARTER_SHOP.to_owned();
    for (from, to) in changes {
        assert!(shop.contains(from), "the starter shop has no `{from}`");
        shop = shop.replace(from, to);
    }
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("plate.toml"), include_str!("../demo/new/plate.toml")).unwrap();
    fs::write(dir.path().join("drawing.svg"), include_str!("../demo/new/drawing.svg")).unwrap();
    fs::write(dir.path().join("shop.toml"), shop).unwrap();
    let mut outcome = packet::Outcome::default();
    let settings = Settings { pitch: 0.05, ..Settings::default() };
    let computed = packet::compute(&dir.path().join("plate.toml"), &settings, &(), &mut outcome);
    let blocking = outcome.doubts.iter().filter(|d| d.blocks()).map(|d| doubt::render(d, &(), false)).collect();
    (outcome.verdict, blocking, computed.map_or_else(Vec::new, |c| c.0.programs))
}

#[test]
fn every_dialect_is_proven() {
    let inches = ("[dialect]\nunits = \"mm\"\ndecimals = 3", "[dialect]\nunits = \"in\"\ndecimals = 5");
    let dialects: [(&str, &[Change], &str); 7] = [
        ("as it is", &[], "G21"),
        ("inches", &[inches], "G20"),
        ("no arcs", &[("arcs = true", "arcs = false")], "G1"),
        ("line numbers", &[("line_numbers = false", "line_numbers = true")], "N10 "),
        ("M2", &[("end = \"M30\"", "end = \"M2\"")], "M2\n"),
        ("dial note", &[("speed = \"words\"", "speed = \"dial note\"")], "(dial 3 = 18000 rev/min)"),
        ("four decimals", &[("decimals = 3", "decimals = 4")], "G21"),
    ];
    for (name, changes, sign) in dialects {
        let (verdict, blocking, programs) = verdict(changes);
        assert_eq!(verdict, Some(Verdict::Proven), "{name}: {blocking:#?}");
        assert!(programs.iter().any(|p| p.1.contains(sign)), "{name}: no `{sign}` in the programs");
        if name == "no arcs" {
            assert!(programs.iter().all(|p| !p.1.contains("G2 ") && !p.1.contains("G3 ")));
        }
    }
}

/// Every height in the text is at or above the table.
#[test]
fn no_height_is_negative() {
    let (_, _, programs) = verdict(&[]);
    assert!(programs.len() >= 3);
    for (file, text) in programs {
        assert!(!text.contains("Z-"), "{file}");
    }
}
