//! The damage campaign: random single faults in proven programs and in what they are run in. A slow and simple oracle of the
//! test's own judges each harmful or harmless; every harmful one must be refused or undecided, and of the harmless ones
//! nearly all proven.
//!
//! `five_thousand` repeats it on the demo and twenty icons; the environment variables `DAMAGE_SEED` and `DAMAGE_MUTANTS`
//! choose others and how many, `DAMAGE_ONE` one index of one plate, `DAMAGE_PLATE` one plate.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]
#![expect(clippy::panic, reason = "says what a plate fails by")]
#![expect(clippy::disallowed_methods, reason = "no output depends on the oracle's last bits")]

mod cutting;
mod faults;
#[path = "../icons/mod.rs"]
mod icons;
mod oracle;
mod plates;
mod shape;
mod strokes;
mod text;

use faults::{Dice, Mutant, mutant};
use oracle::{Judged, World};
use plates::Plate;
use proof::{Proof, Verdict};
use rayon::prelude::*;
use shape::Levels;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

/// What came of one mutant.
struct Outcome {
    plate: usize,
    index: u64,
    kind: &'static str,
    what: String,
    judged: Judged,
    verdict: Verdict,
    /// Ids of what tells, with the first message.
    said: Vec<(&'static str, String)>,
    oracle: f64,
    prover: f64,
}

/// Counts of one kind of fault.
#[derive(Default)]
struct Row {
    all: usize,
    harmful: usize,
    undecided: usize,
    on_the_line: usize,
    rubs: usize,
    harmless: usize,
    alarms: usize,
    misses: usize,
}

fn judge(plate: &Plate, mutant: &Mutant) -> Judged {
    let moved = mutant.moved != [0.0, 0.0];
    let world = World {
        shape: &plate.shape,
        levels: Levels::new(&mutant.intent),
        holds: if moved { &plate.intent.holds } else { &mutant.intent.holds },
        shop: &mutant.shop,
        programs: &mutant.programs,
        moved: mutant.moved,
        measuring: false,
    };
    world.judge(&plate.sound)
}

fn run(plates: &[Plate], plate: usize, index: u64, mutant: &Mutant) -> Outcome {
    let began = Instant::now();
    let judged = judge(&plates[plate], mutant);
    let oracle = began.elapsed().as_secs_f64();
    let began = Instant::now();
    let Proof { verdict, findings, .. } = plates[plate].prove(&mutant.shop, &mutant.intent, &mutant.programs);
    let said = findings
        .iter()
        .filter(|d| d.blocks() || d.id.starts_with("undecided-"))
        .map(|d| (d.id, doubt::render(d, &(), false)))
        .collect();
    let prover = began.elapsed().as_secs_f64();
    Outcome { plate, index, kind: mutant.kind, what: mutant.what.clone(), judged, verdict, said, oracle, prover }
}

/// Breaks the plates in `count` ways and asserts.
fn campaign(plates: &[Plate], seed: u64, count: usize) {
    println!("seed {seed}, {count} mutants on {} plates", plates.len());
    let one: Option<u64> = std::env::var("DAMAGE_ONE").ok().and_then(|s| s.parse().ok());
    // No mutant twice.
    let mut known = BTreeSet::new();
    let mut mutants: Vec<(usize, u64)> = Vec::new();
    for index in one.map_or(0..40 * count as u64, |i| i..i + 1) {
        if mutants.len() == count {
            break;
        }
        let plate = index as usize % plates.len();
        let made = mutant(&plates[plate], &mut Dice::new(seed, index));
        if known.insert((plate, made.kind, made.what)) {
            mutants.push((plate, index));
        }
    }
    drop(known);
    let (began, done) = (Instant::now(), AtomicUsize::new(0));
    let outcomes: Vec<Outcome> = mutants
        .par_iter()
        .map(|&(plate, index)| {
            let made = mutant(&plates[plate], &mut Dice::new(seed, index));
            let outcome = run(plates, plate, index, &made);
            if let (Judged::Harmful(harm), Verdict::Proven) = (&outcome.judged, outcome.verdict) {
                println!("a miss already: {} {index} {}: {harm:?}", plates[plate].name, outcome.what);
            }
            let n = done.fetch_add(1, Ordering::Relaxed) + 1;
            if n % 250 == 0 {
                println!("{n} of {count}, {:.0} s", began.elapsed().as_secs_f64());
            }
            outcome
        })
        .collect();
    report(plates, &outcomes);
}

fn report(plates: &[Plate], outcomes: &[Outcome]) {
    let mut rows: BTreeMap<&str, Row> = BTreeMap::new();
    let (mut misses, mut alarms) = (Vec::new(), BTreeMap::<String, Vec<String>>::new());
    // With `DAMAGE_LIST` what isn't harmful is listed as well, for a look at the oracle.
    let list = std::env::var("DAMAGE_LIST").is_ok();
    let show = |o: &Outcome, why: &str| {
        if list {
            println!("{} {}: {}: {}\n    {:?}; {why}", plates[o.plate].name, o.index, o.kind, o.what, o.verdict);
        }
    };
    for o in outcomes {
        let row = rows.entry(o.kind).or_default();
        row.all += 1;
        let place = format!("{} index {}: {}: {}", plates[o.plate].name, o.index, o.kind, o.what);
        let passed = o.verdict == Verdict::Proven;
        match &o.judged {
            Judged::Harmful(harm) => {
                row.harmful += 1;
                row.undecided += usize::from(o.verdict == Verdict::Undecided);
                if passed {
                    row.misses += 1;
                    misses.push(format!("MISS {place}\n    oracle: {} {}", harm.line, harm.why));
                }
            }
            Judged::OnTheLine(why) => {
                row.on_the_line += 1;
                show(o, why);
            }
            Judged::Rubs => {
                row.rubs += 1;
                show(o, "rubs");
            }
            Judged::Harmless => {
                row.harmless += 1;
                show(o, "harmless");
                if !passed {
                    row.alarms += 1;
                    let ids: BTreeSet<&str> = o.said.iter().map(|s| s.0).collect();
                    let ids = ids.into_iter().collect::<Vec<_>>().join(" + ");
                    let first = o.said.first().map_or("", |s| &s.1);
                    alarms.entry(ids).or_default().push(format!("{place}\n    {first}"));
                }
            }
        }
    }
    println!("{:38} all harmful undecided on-line rubs harmless alarms misses", "kind");
    let mut sum = Row::default();
    for (kind, r) in &rows {
        println!(
            "{kind:38}{:4}{:8}{:10}{:8}{:5}{:9}{:7}{:7}",
            r.all, r.harmful, r.undecided, r.on_the_line, r.rubs, r.harmless, r.alarms, r.misses
        );
        sum.all += r.all;
        sum.harmful += r.harmful;
        sum.undecided += r.undecided;
        sum.on_the_line += r.on_the_line;
        sum.rubs += r.rubs;
        sum.harmless += r.harmless;
        sum.alarms += r.alarms;
        sum.misses += r.misses;
    }
    let oracle: f64 = outcomes.iter().map(|o| o.oracle).sum();
    let prover: f64 = outcomes.iter().map(|o| o.prover).sum();
    println!(
        "{} mutants: {} harmful ({} undecided, the rest refused), {} on the line, {} that only rub, {} harmless; {} alarms, \
         {} misses; oracle {oracle:.0} s, prover {prover:.0} s",
        sum.all, sum.harmful, sum.undecided, sum.on_the_line, sum.rubs, sum.harmless, sum.alarms, sum.misses
    );
    for (i, plate) in plates.iter().enumerate() {
        let own = || outcomes.iter().filter(|o| o.plate == i);
        let (n, sum) = (own().count().max(1) as f64, |f: fn(&Outcome) -> f64| own().map(f).sum::<f64>());
        let loads: Vec<String> = plate.sound.loads.iter().map(|l| format!("cutter {} {:.2}", l.0, l.1)).collect();
        println!(
            "{:38}{n:5} mutants, oracle {:.2} s, prover {:.2} s each; greatest loads unbroken, of what is allowed: {}",
            plate.name,
            sum(|o| o.oracle) / n,
            sum(|o| o.prover) / n,
            loads.join(", ")
        );
    }
    for (ids, list) in &alarms {
        println!("{} alarms: {ids}", list.len());
        list.iter().for_each(|l| println!("  {l}"));
    }
    misses.iter().for_each(|m| println!("{m}"));
    assert!(misses.is_empty(), "{} harmful mutants are proven", misses.len());
    let missing: Vec<&str> = faults::names().into_iter().filter(|n| !rows.contains_key(n)).collect();
    assert!(outcomes.len() < 2000 || missing.is_empty(), "kinds never put: {missing:?}");
    assert!(
        sum.alarms as f64 <= 0.01 * sum.harmless as f64 || outcomes.len() < 500,
        "{} alarms on {} harmless mutants",
        sum.alarms,
        sum.harmless
    );
}

fn from_environment(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().and_then(|s| s.parse().ok()).unwrap_or(otherwise)
}

/// A hundred and fifty mutants of two small plates.
#[test]
fn broken_small_plates() {
    campaign(&plates::quick(), 1, 150);
}

/// The oracle itself against planted answers: faults of which harm is known beforehand.
#[test]
fn the_oracle_against_planted_faults() {
    let plate = &plates::quick()[0];
    let (file, text) = plate.programs[1].clone();
    let lines: Vec<&str> = text.lines().collect();
    let off = |axis, by: f64| faults::shifted(&lines, axis, 0, by).join("\n");
    let cases = [
        ("nothing", text.clone(), false),
        ("4 µm aside", off('X', 0.004), false),
        ("13 µm aside", off('X', 0.013), true),
        ("13 µm aside the other way", off('Y', -0.013), true),
        ("1 µm deep", off('Z', -0.001), false),
        ("3 µm deep", off('Z', -0.003), true),
        ("3 µm high", off('Z', 0.003), true),
        ("no spindle", text.replace(" M3", ""), true),
        ("backward", text.replace(" M3", " M4"), true),
        ("twelve times the feed", text.replace(" F1200", " F14400"), true),
        ("half the feed", text.replace(" F1200", " F600"), false),
        ("inches", text.replace("G21", "G20"), true),
        ("small letters", text.to_lowercase(), false),
        ("no end", text.replace("M30", ""), true),
        ("half a program", lines[..lines.len() / 2].join("\n") + "\nM30\n", true),
        ("straight down", text.replacen("G1 Z6.46", "G1 Z5", 1), true),
        ("a rapid down", text.replacen("G0 Z6.86", "G0 Z5", 1), true),
    ];
    for (name, text, harmful) in cases {
        let whole = plate.programs.clone().into_iter().take(1).chain([(file.clone(), text)]).collect();
        let mutant = Mutant {
            kind: "planted",
            what: name.into(),
            programs: whole,
            intent: plate.intent.clone(),
            shop: plate.shop.clone(),
            moved: [0.0, 0.0],
        };
        let judged = judge(plate, &mutant);
        assert_eq!(matches!(judged, Judged::Harmful(_)), harmful, "{name}: {judged:?}");
    }
}

/// Five thousand on the demo and twenty icons.
#[test]
#[ignore = "an hour or less: ./test.sh --long"]
fn five_thousand() {
    let seed = from_environment("DAMAGE_SEED", 17);
    let mut plates = plates::small(seed as usize % 200, from_environment("DAMAGE_PLATES", 20) as usize);
    if std::env::var("DAMAGE_NO_DEMO").is_err() {
        plates.push(plates::demo(0.05));
    }
    campaign(&plates, seed, from_environment("DAMAGE_MUTANTS", 5000) as usize);
}
