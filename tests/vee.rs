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

/// A case's files where a maker would have them, with lines put under the shop's `[machine]`.
fn laid_out(name: &str, machine: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    for file in fs::read_dir(folder().join(name)).unwrap() {
        let file = file.unwrap();
        fs::copy(file.path(), dir.path().join(file.file_name())).unwrap();
    }
    let vees = fs::read_to_string(folder().join("common/vees.toml")).unwrap();
    fs::write(
        dir.path().join("shop.toml"),
        format!("{}{vees}", intake::STARTER_SHOP).replacen("[machine]", &format!("[machine]\n{machine}"), 1),
    )
    .unwrap();
    let font = Path::new(env!("CARGO_MANIFEST_DIR")).join("crates/sheet/fonts/GenBkBasB.ttf");
    fs::copy(font, dir.path().join("GenBkBasB.ttf")).unwrap();
    dir
}

fn computed(name: &str) -> (Option<Computed>, Outcome) {
    computed_on(name, "")
}

fn computed_on(name: &str, machine: &str) -> (Option<Computed>, Outcome) {
    let dir = laid_out(name, machine);
    let settings = Settings { pitch: 0.05, picture_pitch: 1.0 };
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

#[test]
fn walls_cut_conventionally_are_proven_and_plans_are_the_same_twice() {
    let one = || {
        let (computed, outcome) = computed_on("island", "walls = \"conventional\"\n");
        assert_eq!(outcome.verdict, Some(Verdict::Proven), "{:?}", outcome.doubts);
        computed.unwrap()
    };
    let first = one();
    assert_eq!(first.job.shop.machine.walls, plate::AlongWalls::Conventional);
    assert_eq!(first.programs, one().programs);
    assert_ne!(first.programs, computed("island").0.unwrap().programs);
}

/// What the proof says of a case's programs with the vee's text changed.
fn damaged(name: &str, change: impl Fn(&str) -> String) -> proof::Proof {
    let (computed, outcome) = computed(name);
    let Computed { job, mut programs, .. } = computed.unwrap_or_else(|| unreachable!("{:?}", outcome.doubts));
    let vee = programs.iter_mut().find(|p| p.0.contains("vee")).unwrap();
    let text = change(&vee.1);
    assert_ne!(text, vee.1);
    vee.1 = text;
    let settings = Settings { pitch: 0.05, picture_pitch: 1.0 };
    proof::prove(&job.shop, &job.intent, &packet::texts(&programs), &settings, &()).unwrap()
}

/// Every word of a letter in a program's moves changed by so much, heights only below the face.
fn moved(text: &str, letter: char, by: f64) -> String {
    let word = |w: &str| match w.strip_prefix(letter).map(str::parse::<f64>) {
        Some(Ok(v)) if letter != 'Z' || v < 6.04 => format!("{letter}{:.3}", v + by),
        _ => w.to_owned(),
    };
    let line = |l: &str| {
        if l.starts_with('G') { l.split(' ').map(word).collect::<Vec<_>>().join(" ") } else { l.to_owned() }
    };
    text.lines().map(line).collect::<Vec<_>>().join("\n") + "\n"
}

#[test]
fn a_damaged_vee_is_refused() {
    let refused = |name: &str, id: &str, change: &dyn Fn(&str) -> String| {
        let proof = damaged(name, change);
        let found = ids(&proof.findings);
        assert!(proof.verdict == Verdict::Refused && found.contains(&id), "{name}: {found:?}");
        proof
    };
    for name in ["square", "letter"] {
        // Two hundredths too deep: walls lean by 1 and by 0.577, so they are off by 0.02 and 0.0115 mm.
        let deep = refused(name, "wall-gouge", &|t| moved(t, 'Z', -0.02));
        let by = if name == "square" { 0.02 } else { 0.02 / 3f64.sqrt() };
        assert!((deep.walls.worst_gouge - by).abs() < 0.002, "{}", deep.walls.worst_gouge);
        assert!(ids(&deep.findings).contains(&"gouge"), "{:?}", ids(&deep.findings));
        // Two hundredths too high leaves as much.
        refused(name, "wall-leftover", &|t| moved(t, 'Z', 0.02));
        // Twenty micrometres aside.
        let aside = refused(name, "wall-gouge", &|t| moved(t, 'X', 0.02));
        assert!(aside.walls.worst_gouge > 0.015, "{}", aside.walls.worst_gouge);
    }
    // Another angle at the same places: of the square's vee of 90° a fine one, of the letter's 60° a wide one.
    refused("square", "wall-leftover", &|t| t.replace("T11", "T13").replace("cutter 11", "cutter 13"));
    refused("letter", "wall-gouge", &|t| t.replace("T13", "T11").replace("cutter 13", "cutter 11"));
    // The way into the last corner is left out.
    let short = |t: &str| {
        let lines: Vec<&str> = t.lines().collect();
        let rises: Vec<usize> = (0..lines.len()).filter(|&i| lines[i].contains("Z6.04")).collect();
        let corner = rises[rises.len() / 2];
        lines.iter().enumerate().filter(|(i, _)| *i != corner).map(|(_, l)| format!("{l}\n")).collect()
    };
    refused("square", "leftover", &short);
}

/// A square with walls of 45°, 2 mm deep: what is gone is a frustum, which on the thickest blank is as much wider at its top as
/// that is higher. V = h / 3 (A + a + sqrt(A a)) (textbook). What is left in the floor's corners is less than 0.05 mm³.
#[test]
fn a_square_is_a_frustum() {
    let (computed, _) = computed("square");
    let Computed { job, proof, .. } = computed.unwrap();
    let blank = &job.intent.blank;
    let over = (blank.face_high - blank.face).to_mm();
    let (top, bottom, high): (f64, f64, f64) = (20.0 + 2.0 * over, 16.0, 2.0 + over);
    let frustum = high / 3.0 * (top * top + bottom * bottom + top * bottom);
    let removed: f64 = proof.stages.iter().map(|s| s.cutter_use.removed).sum();
    assert!((removed - frustum).abs() < 1e-3 * frustum, "{removed} is not {frustum}");
    // A quarter round of the finest flat cutter stays in each corner, less what the vee's way along the diagonal takes.
    let r = job.shop.cutter(3).unwrap().radius();
    let corner = r * r * (1.0 - std::f64::consts::FRAC_PI_4);
    for spot in &proof.hand_work {
        assert!(spot.area_left < corner + 0.003 && spot.area_left > 0.6 * corner, "{spot:?} of {corner}");
    }
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
    let Some(Computed { plan, proof, .. }) = computed else {
        let refusals: Vec<&str> = outcome.doubts.iter().filter(|d| d.blocks()).map(|d| d.id).collect();
        return if refusals == texts("refusals") { Ok(()) } else { Err(format!("{:?}", outcome.doubts)) };
    };
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
