//! Leaning walls end to end: a folder per case under `tests/vee/`, planned, written, read back and proven.
//!
//! A case's folder holds its plate file, its drawing and `case.toml`: the verdict, the planner's doubts, the vee, and how
//! many spots are left for hand work. The shop is the starter shop with the vees of `common/vees.toml`.
#![expect(clippy::unwrap_used, reason = "a case that cannot be read fails its test")]

use packet::{Computed, Outcome};
use proof::{Settings, Verdict};
use std::fs;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/vee")
}

/// A case's files where a maker would have them.
fn laid_out(name: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    for file in fs::read_dir(folder().join(name)).unwrap() {
        let file = file.unwrap();
        fs::copy(file.path(), dir.path().join(file.file_name())).unwrap();
    }
    let vees = fs::read_to_string(folder().join("common/vees.toml")).unwrap();
    fs::write(dir.path().join("shop.toml"), format!("{}{vees}", intake::STARTER_SHOP)).unwrap();
    let font = Path::new(env!("CARGO_MANIFEST_DIR")).join("crates/sheet/fonts/GenBkBasB.ttf");
    fs::copy(font, dir.path().join("GenBkBasB.ttf")).unwrap();
    dir
}

fn computed(name: &str) -> (Option<Computed>, Outcome) {
    let dir = laid_out(name);
    let settings = Settings { pitch: 0.05, picture_pitch: 1.0, ..Settings::default() };
    let mut outcome = Outcome::default();
    let computed = packet::compute(&dir.path().join("plate.toml"), &settings, &(), &mut outcome);
    (computed.map(|c| c.0), outcome)
}

#[test]
fn cases_come_out_as_they_say() {
    let mut names: Vec<String> = fs::read_dir(folder())
        .unwrap()
        .map(|e| e.unwrap())
        .filter(|e| e.path().join("case.toml").exists())
        .map(|e| e.file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    if let Ok(only) = std::env::var("CASE") {
        names.retain(|n| *n == only);
    }
    let mut wrong = Vec::new();
    for name in &names {
        let case: toml::Table = fs::read_to_string(folder().join(name).join("case.toml")).unwrap().parse().unwrap();
        if let Err(why) = check(name, &case) {
            wrong.push(format!("{name}: {why}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn ids(doubts: &[doubt::Doubt]) -> Vec<&str> {
    doubts.iter().map(|d| d.id).collect()
}

fn check(name: &str, case: &toml::Table) -> Result<(), String> {
    let texts = |key: &str| -> Vec<String> {
        let list = case.get(key).and_then(|v| v.as_array()).cloned().unwrap_or_default();
        list.iter().map(|v| v.as_str().unwrap().to_owned()).collect()
    };
    let number = |key: &str| case.get(key).and_then(toml::Value::as_integer);
    let (computed, outcome) = computed(name);
    let Some(Computed { plan, proof, programs, .. }) = computed else {
        let refusals: Vec<&str> = outcome.doubts.iter().filter(|d| d.blocks()).map(|d| d.id).collect();
        return if refusals == texts("refusals") { Ok(()) } else { Err(format!("{:?}", outcome.doubts)) };
    };
    if let Ok(d) = std::env::var("DUMP") {
        for (n, t) in &programs {
            std::fs::write(format!("{d}/{name}-{n}"), t).unwrap();
        }
    }
    let w = &proof.walls;
    println!(
        "{name:<12} {:?}: {} stages, {} probes, gouge {:.4}, leftover {:.4}, rms {:.5}, floors {:.4}, {} by hand",
        proof.verdict,
        plan.stages.len(),
        w.probes,
        w.worst_gouge,
        w.worst_leftover,
        w.rms,
        proof.greatest_floor_error,
        proof.hand_work.len()
    );
    for (stage, proven) in plan.stages.iter().zip(&proof.stages[1..]) {
        let u = &proven.cutter_use;
        println!(
            "    {:<18} {:.2} min, cut {:.0} mm, air {:.0} mm, deepest bite {:.3}, force {:.1} N, power {:.0} W, entry {:.1}°, rubbing {:.0} mm",
            stage.name,
            proven.minutes,
            u.cutting_length,
            u.air_length,
            u.deepest_bite,
            u.greatest_force,
            u.greatest_power,
            u.steepest_entry,
            u.rubbing_length
        );
    }
    for h in &proof.hand_work {
        println!("    {:.4} mm², gap {:.3}, at {:?}: {}", h.area_left, h.gap, h.at, h.why);
    }
    if proof.verdict != Verdict::Proven {
        let shown: Vec<String> = proof.findings.iter().map(|d| doubt::render(d, &(), false)).collect();
        return Err(shown.join("\n"));
    }
    if !texts("refusals").is_empty() {
        return Err("it is not refused".into());
    }
    if ids(&plan.doubts) != texts("doubts") {
        return Err(format!("{:?}", plan.doubts));
    }
    let vee = number("vee").unwrap();
    if !plan.stages.iter().any(|s| i64::from(s.cutter) == vee) {
        return Err(format!("no program for cutter {vee}"));
    }
    let hand = proof.hand_work.len() as i64;
    if number("hand").is_some_and(|n| n != hand) || number("hand_at_least").is_some_and(|n| hand < n) {
        return Err(format!("{hand} spots for the hand"));
    }
    Ok(())
}
