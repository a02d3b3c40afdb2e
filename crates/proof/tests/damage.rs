//! A proven program with one thing broken is refused, by a finding that names a line or a place.

mod common;

use common::*;
use plate::Intent;
use proof::{Proof, Verdict};
use quantity::Height;

fn plate() -> Intent {
    let mut plate = intent(blank(40.0, 30.0), vec![area("field", rectangle(8.0, 7.0, 20.0, 14.0), 3.4)]);
    plate.cutters = vec![1];
    plate.holds = vec![screw(35.0, 5.0)];
    plate
}

fn sound() -> Text {
    pocket(8.0, 7.0, 20.0, 14.0, 3.4, 0.0)
}

fn prove(texts: &[Text]) -> Proof {
    run(&shop(), &plate(), texts)
}

/// The sound program with one line changed: the `nth` that holds a piece of text.
fn broken(nth: usize, holding: &str, change: impl Fn(&str) -> String) -> Text {
    let mut text = sound();
    let line =
        (0..text.lines.len()).filter(|&i| text.lines[i].contains(holding)).nth(nth).expect("a line that holds it");
    let changed = change(&text.lines[line]);
    assert_ne!(changed, text.lines[line]);
    text.lines[line] = changed;
    text
}

fn refused(text: Text, ids: &[&str]) {
    let proof = prove(&[text]);
    assert_eq!(proof.verdict, Verdict::Refused, "{}", shown(&proof));
    for id in ids {
        assert_refused(&proof, id);
    }
    let named = proof.findings.iter().filter(|d| d.blocks()).all(|d| !d.places.is_empty() && d.way_out.is_some());
    assert!(named, "{}", shown(&proof));
}

#[test]
fn the_sound_program_is_proven() {
    assert_proven(&prove(&[sound()]));
}

#[test]
fn a_sign_of_z_flipped() {
    refused(broken(0, "Z3.4000", |l| l.replace("Z3.4000", "Z-3.4000")), &["gouge", "table-hit"]);
}

#[test]
fn a_line_dropped() {
    let text = sound();
    // Each line of the last ring in turn: the wall it cuts stays.
    let rings: Vec<usize> = (0..text.lines.len()).filter(|&i| text.lines[i].starts_with("G1 Y19.4125")).collect();
    let mut dropped = text.clone();
    dropped.lines.remove(*rings.last().unwrap());
    refused(dropped, &["leftover"]);
}

#[test]
fn rapid_for_feed_and_the_other_turn() {
    refused(broken(4, "G1 X", |l| l.replace("G1", "G0")), &["rapid-in-material"]);
    // A quarter turn the wrong way round is three quarters elsewhere.
    let mut text = sound();
    let at = text.lines.iter().rposition(|l| l.starts_with("G1 X18.0000 Y14")).unwrap();
    text.lines.insert(at + 1, "G3 X22 Y18 I0 J4 F1000".into());
    text.lines.insert(at + 2, "G1 X18 Y14".into());
    assert_proven(&prove(&[text.clone()]));
    text.lines[at + 1] = "G2 X22 Y18 I0 J4 F1000".into();
    let wrong = prove(&[text]);
    assert_eq!(wrong.verdict, Verdict::Refused, "{}", shown(&wrong));
}

/// A rapid in two axes may run anywhere in its box, but the cutter reaches round that box's corners: what a flat cutter leaves
/// in the corner of a pocket isn't met from beside it, and a rapid into the wall is.
#[test]
fn a_rapid_in_two_axes_beside_a_corner() {
    let mut text = sound();
    let at = text.lines.iter().rposition(|l| l.starts_with("G1")).unwrap();
    let ways = ["G1 X9.64 Y9.5 F1000", "G0 X10.5 Y8.64", "G1 X18 Y14 F1000"];
    text.lines.splice(at + 1..at + 1, ways.map(String::from));
    assert_proven(&prove(&[text.clone()]));
    text.lines[at + 2] = "G0 X10.5 Y8.5".into();
    refused(text, &["rapid-in-material"]);
}

#[test]
fn inches_for_mm() {
    refused(broken(0, "G21", |l| l.replace("G21", "G20")), &["travel-exceeded"]);
}

#[test]
fn a_decimal_point_lost() {
    refused(broken(6, "G1 X2", |l| l.replace('.', "")), &["travel-exceeded"]);
    refused(broken(0, "Y14", |l| l.replace("X19.2000", "X192000")), &["travel-exceeded"]);
    refused(broken(0, "Z4.8", |l| l.replace("Z4.8", "Z48")), &[]);
}

#[test]
fn the_wrong_cutter() {
    let mut wrong = sound();
    wrong.lines[1] = "T2".into();
    refused(wrong.clone(), &["wall-leftover"]);
    wrong.lines[1] = "T4".into();
    refused(wrong.clone(), &["leftover", "wall-leftover"]);
    wrong.lines[1] = "T9".into();
    refused(wrong.clone(), &["cutter-unknown"]);
    wrong.lines.remove(1);
    let proof = prove(&[wrong]);
    assert_eq!(proof.verdict, Verdict::Undecided, "{}", shown(&proof));
    assert_eq!(ids(&proof), ["undecided-cutter"]);
}

#[test]
fn zero_off_by_a_tenth() {
    let moved = pocket(8.1, 7.0, 20.0, 14.0, 3.4, 0.0);
    refused(moved, &["wall-gouge", "wall-leftover", "gouge", "leftover"]);
    let lower = pocket(8.0, 7.0, 20.0, 14.0, 3.3, 0.0);
    refused(lower, &["gouge"]);
    let higher = pocket(8.0, 7.0, 20.0, 14.0, 3.403, 0.0);
    refused(higher, &["leftover"]);
    assert_proven(&prove(&[pocket(8.0, 7.0, 20.0, 14.0, 3.4015, 0.0)]));
}

#[test]
fn cut_short() {
    let mut text = sound();
    text.lines.truncate(text.lines.len() * 2 / 3);
    refused(text, &["leftover", "program-cut-short"]);
}

#[test]
fn spindle_faults() {
    refused(broken(0, "M3", |_| "S18000".into()), &["spindle-off"]);
    refused(broken(0, "M3", |l| l.replace("M3", "M4")), &["spindle-backward"]);
    refused(broken(0, "S18000", |l| l.replace("18000", "1800")), &["speed-out-of-range", "chip-too-thick"]);
    let proof = prove(&[broken(0, "S18000", |_| "M3".into())]);
    assert_eq!(proof.verdict, Verdict::Undecided, "{}", shown(&proof));
}

#[test]
fn a_hold_moved_into_the_path() {
    let mut plate = plate();
    plate.holds[0] = screw(30.0, 14.0);
    assert_refused(&run(&shop(), &plate, &[sound()]), "hold-hit");
    // A traverse at too low a height over a hold that stands aside of the pocket.
    plate.holds[0] = screw(35.0, 25.0);
    let mut text = sound();
    let end = text.lines.len() - 3;
    text.lines.insert(end, "G0 Z8".into());
    text.lines.insert(end + 1, "G0 X36 Y27".into());
    let found = assert_refused(&run(&shop(), &plate, &[text]), "hold-hit");
    assert!(matches!(found.places[0], doubt::Place::Program { line, .. } if line > 10));
}

#[test]
fn entries() {
    // Straight down, and down a ramp too steep.
    let mut text = Text::start(1, 18000.0);
    text.put("G0 X18 Y14").put("G0 Z6.5").put("G1 Z4.8 F300");
    refused(text.clone(), &["plunge"]);
    let mut drilling = shop();
    drilling.cutters[0].may_drill = true;
    let drilled = run(&drilling, &plate(), &[text.clone()]);
    assert!(!ids(&drilled).contains(&"plunge"));
    text.lines.pop();
    text.put("G1 Z6.3 F300").put("G1 X22 Z5.8 F500");
    refused(text, &["steep-entry"]);
}

#[test]
fn feeds_and_depths() {
    refused(broken(3, "F1000", |l| l.replace("F1000", "F3600")), &["feed-too-fast", "chip-too-thick"]);
    let mut deep = Text::start(1, 18000.0);
    deep.put("G0 X12 Y14").put("G0 Z6.4").put("G1 Z6.3 F300");
    // A ramp of 3 degrees down to 6.2 deep; then a slot at full depth.
    deep.put("G1 X23 Z5.7 F500").put("G1 X12 Z5.1").put("G1 X23 Z4.5").put("G1 X12 Z3.9").put("G1 X23 Z3.4");
    deep.put("G1 X23 Y17 F1000");
    let mut weak = shop();
    weak.cutters[0].pass_depth = Some(mm(1.5));
    let proof = run(&weak, &plate(), &[deep.clone()]);
    assert_refused(&proof, "bite-too-deep");
    let mut short = shop();
    short.cutters[0].flute_length = mm(2.0);
    assert_refused(&run(&short, &plate(), &[deep]), "flutes-too-short");
}

#[test]
fn shank_and_nut() {
    // Cutter 2 with flutes of 2 mm has a shank of 3.175 mm; the pocket is 2.9 deep.
    let mut shop = shop();
    shop.cutters[1].flute_length = mm(2.0);
    let mut text = sound();
    let end = text.lines.len() - 3;
    text.lines.truncate(end);
    let mut fine = Text::start(2, 18000.0);
    fine.put("G0 X18 Y14").put("G0 Z3.5").put("G1 Z3.4 F200").put("G1 Y8.2 F500");
    let proof = run(&shop, &plate(), &[text.end(), fine.end()]);
    let found = assert_refused(&proof, "shank-rub");
    assert!(found.message.contains("shank"), "{found:?}");
    let mut short = common::shop();
    short.cutters[0].stick_out = mm(2.5);
    assert_refused(&run(&short, &plate(), &[sound()]), "nut-rub");
}

#[test]
fn what_the_text_does_not_state() {
    for (word, id) in [("G21 ", "undecided-units"), ("G90 ", "undecided-distance")] {
        let proof = prove(&[broken(0, word, |l| l.replace(word, ""))]);
        assert_ne!(proof.verdict, Verdict::Proven);
        assert!(ids(&proof).contains(&id), "{}", shown(&proof));
    }
    // A first move that isn't a rise.
    let proof = prove(&[broken(0, "G0 Z15", |_| "G0 X3 Y3".into())]);
    assert!(ids(&proof).contains(&"undecided-start"), "{}", shown(&proof));
    let proof = prove(&[broken(0, "G0 Z15", |_| "G0 Z5".into())]);
    assert!(ids(&proof).contains(&"undecided-start"), "{}", shown(&proof));
}

#[test]
fn a_frame_run_touches_nothing() {
    let mut frame = Text::default();
    frame.put("G21 G17 G90 G94").put("G0 Z15").put("G0 X2 Y2").put("G1 X38 F1000").put("G1 Y28").put("G1 X2");
    let prove_both = |mut frame: Text| {
        let texts = [frame.end(), sound()];
        let texts = texts.map(|t| t.text());
        let named =
            |file, i: usize, cutting| proof::ProgramText { file, bytes: texts[i].as_bytes(), cutter: None, cutting };
        let programs = [named("frame.nc", 0, false), named("1.nc", 1, true)];
        proof::prove(&shop(), &plate(), &programs, &settings(), &()).unwrap()
    };
    let proof = prove_both(frame.clone());
    assert_proven(&proof);
    assert_eq!(proof.stages[0].cutter, "none");
    frame.put("G0 Z6");
    assert_refused(&prove_both(frame), "frame-touches");
}

#[test]
fn one_thread_or_two() {
    let both: Vec<String> = [1, 2]
        .into_iter()
        .map(|threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| {
                let mut plate = plate();
                plate.blank.face_high = Height::mm(6.31);
                let proof = run_at(
                    &shop(),
                    &plate,
                    &[pocket(8.02, 7.0, 20.0, 14.0, 3.38, 0.0), sound()],
                    &proof::Settings { pitch: 0.02, picture_pitch: 0.1 },
                );
                format!("{proof:?}")
            })
        })
        .collect();
    assert_eq!(both[0], both[1]);
}

/// Every other line broken in several ways. The separate check is the relief: where the plate comes out otherwise than the
/// sound program's by more than tolerance, the program may not be called proven. Nothing may panic.
#[test]
fn every_other_line_broken() {
    let coarse = proof::Settings { pitch: 0.1, picture_pitch: 0.1 };
    let sound_proof = run_at(&shop(), &plate(), &[sound()], &coarse);
    assert_proven(&sound_proof);
    let breaks: [fn(&str) -> String; 7] = [
        |_| String::new(),
        |l| l.replace("G1", "G0"),
        |l| l.replace("G3", "G2"),
        |l| l.replace('Z', "Z-"),
        |l| l.replacen('.', "", 1),
        |l| l.replace("Y1", "Y1.1"),
        |l| l.chars().take(l.len() / 2).collect(),
    ];
    let (mut harmed, mut refused) = (0, 0);
    for i in (0..sound().lines.len()).step_by(2) {
        for broken in breaks {
            let mut text = sound();
            text.lines[i] = broken(&text.lines[i]);
            if text.lines[i] == sound().lines[i] {
                continue;
            }
            let proof = run_at(&shop(), &plate(), &[text.clone()], &coarse);
            let differs = |(a, b): (&f32, &f32)| (a - b).abs() > 0.003;
            let harm = proof.relief.heights.iter().zip(&sound_proof.relief.heights).any(differs);
            harmed += u32::from(harm);
            refused += u32::from(proof.verdict == Verdict::Refused);
            assert!(!harm || proof.verdict != Verdict::Proven, "line {}: {}", i + 1, text.lines[i]);
        }
    }
    println!("{harmed} of the broken programs spoil the plate; {refused} broken programs are refused");
    assert!(harmed > 40 && refused >= harmed, "{harmed} {refused}");
}
