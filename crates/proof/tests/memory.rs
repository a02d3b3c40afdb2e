//! The memory told before a proof begins is more than it takes, and not absurdly more.

#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

mod common;

use common::*;
use peak_alloc::PeakAlloc;
use plane::{Contour, Point, Region};
use plate::Intent;
use proof::{Settings, size};
use std::f64::consts::TAU;
use std::sync::{Mutex, PoisonError};

#[global_allocator]
static COUNTED: PeakAlloc = PeakAlloc;

/// Only one is measured at a time.
static ONE: Mutex<()> = Mutex::new(());

/// The bound may be this many times what is taken: it adds up what each list can come to, and no plate fills them all.
const LOOSE: f64 = 10.0;

fn check(name: &str, plate: &Intent, texts: &[Text], settings: &Settings) {
    let _one = ONE.lock().unwrap_or_else(PoisonError::into_inner);
    let shop = shop();
    let texts: Vec<String> = texts.iter().map(Text::text).collect();
    let programs: Vec<read::Program> =
        texts.iter().enumerate().map(|(i, t)| read::read(&format!("{i}.nc"), t.as_bytes())).collect();
    let named = vec![(None, true); programs.len()];
    let told = size(&shop, plate, &programs, &named, settings);
    let before = COUNTED.current_usage();
    COUNTED.reset_peak_usage();
    let proof = proof::prove_read(&shop, plate, &programs, &named, settings, &()).unwrap();
    let taken = COUNTED.peak_usage() - before;
    println!("{name}: {} cells, {} MB told, {} MB taken", told.cells, told.megabytes(), taken / 1_000_000);
    assert_eq!((told.cells, told.pitch), (proof.cells, proof.pitch), "{name}");
    assert!(taken as u64 <= told.bytes, "{name}: {taken} bytes taken, {} told", told.bytes);
    assert!(told.bytes as f64 <= LOOSE * taken as f64 + 40e6, "{name}: {taken} bytes taken, {} told", told.bytes);
}

/// Circles of half a millimetre and more that no cutter of the shop gets into, row by row.
fn strokes() -> Intent {
    let circle = |i: usize| {
        let at = Point::new(4.0 + 3.0 * (i % 30) as f64, 4.0 + 3.0 * (i / 30) as f64);
        area(&format!("o{i}"), Region::solid(Contour::circle(at, 0.3 + 0.03 * (i % 30) as f64)), 4.8)
    };
    intent(blank(96.0, 58.0), (0..540).map(circle).collect())
}

#[test]
fn a_pocket_cut_well() {
    let plate = intent(blank(60.0, 40.0), vec![area("field", rectangle(10.0, 10.0, 40.0, 20.0), 3.4)]);
    for pitch in [0.05, 0.02, 0.01] {
        let settings = Settings { pitch, picture_pitch: 0.1 };
        check(&format!("pocket, {pitch}"), &plate, &[pocket(10.0, 10.0, 40.0, 20.0, 3.4, 0.0)], &settings);
    }
}

/// Nothing is cut, so that all of it is told apart into fault and hand work.
#[test]
fn nothing_cut_at_all() {
    check("strokes", &strokes(), &[Text::start(3, 18000.0).end()], &Settings { pitch: 0.02, picture_pitch: 0.1 });
}

/// Pockets whose walls are off everywhere: each probe finds something.
#[test]
fn every_wall_off() {
    let (mut areas, mut texts) = (Vec::new(), Vec::new());
    for k in 0..5 {
        let x = 4.0 + 18.0 * f64::from(k);
        areas.push(area(&format!("field {k}"), rectangle(x, 5.0, 15.0, 40.0), 3.4));
        texts.push(pocket(x, 5.0, 15.0, 40.0, 3.4, if k % 2 == 0 { 0.05 } else { -0.05 }));
    }
    check("walls off", &intent(blank(96.0, 50.0), areas), &texts, &Settings { pitch: 0.02, picture_pitch: 0.1 });
}

/// Thousands of short moves at the bottom of a groove, level and up and down, besides rapids over everything.
#[test]
fn many_moves() {
    let mut text = Text::start(1, 18000.0);
    text.put("G0 X30 Y30").put("G0 Z6.5").put("G1 Z6.4 F400");
    for i in 0..12_000 {
        let angle = TAU * f64::from(i) / 2000.0;
        let r = 8.0 + f64::from(i) * 1.6e-3;
        let z = 6.4 - f64::from(i) * 8e-5 - if i % 2 == 0 { 0.0 } else { 0.02 };
        let at = Point::new(30.0, 30.0) + Point::at_angle(angle) * r;
        text.put(format!("G1 X{:.4} Y{:.4} Z{z:.4} F900", at.x, at.y));
    }
    let plate = intent(blank(62.0, 62.0), vec![area("field", rectangle(1.0, 1.0, 60.0, 60.0), 3.4)]);
    for pitch in [0.05, 0.02] {
        let settings = Settings { pitch, picture_pitch: 0.1 };
        check(&format!("moves, {pitch}"), &plate, &[text.clone().end()], &settings);
    }
}

/// The finished plate falls free, so that one piece's samples are listed.
#[test]
fn a_piece_comes_loose() {
    let mut text = Text::start(1, 18000.0);
    text.put("G0 X10 Y8").put("G0 Z6.5");
    let mut z = 6.4;
    while z > 0.0 {
        z = f64::max(z - 1.2, -0.0);
        text.put(format!("G1 X30 Z{z:.3} F600")).put("G1 X90 F900").put("G1 Y50").put("G1 X10").put("G1 Y8");
    }
    check("loose", &intent(blank(100.0, 58.0), vec![]), &[text.end()], &Settings { pitch: 0.04, picture_pitch: 0.05 });
}
