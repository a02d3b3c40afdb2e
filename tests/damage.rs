//! The demo's programs with one thing broken, each at places where an oracle of the test's own shows harm: the prover
//! must refuse every one, by a finding that names a line or a place.
//!
//! `many_mutants` does the same at some hundreds of places; the environment variable `DAMAGE_SEED` chooses others.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]
#![expect(clippy::panic, reason = "says what the demo fails by")]
#![expect(clippy::disallowed_methods, reason = "no output depends on the oracle's last bits")]

#[path = "damage/faults.rs"]
mod faults;
#[path = "damage/ground.rs"]
mod ground;
#[path = "damage/oracle.rs"]
mod oracle;
#[path = "damage/text.rs"]
mod text;

use doubt::{Doubt, Place};
use faults::{Fault, Mutant, Original, Programs, faults};
use ground::Ground;
use oracle::{Bench, Harm, Sound};
use plate::{Intent, Shop};
use proof::{Proof, Settings, Verdict};
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

const SETTINGS: Settings = Settings { pitch: 0.05, picture_pitch: 1.0 };

/// The demo's plate with its programs, and what the oracle makes of them.
struct Demo {
    shop: Shop,
    original: Original,
    ground: Ground,
    overruns: Mutex<std::collections::HashMap<[u64; 10], Option<[f64; 3]>>>,
    sound: Sound,
}

impl Demo {
    fn new() -> Self {
        let plate = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/plate.toml");
        let mut outcome = packet::Outcome::default();
        let computed = packet::compute(&plate, &SETTINGS, &(), &mut outcome);
        let (computed, _) = computed.unwrap_or_else(|| panic!("the demo isn't computed: {:?}", outcome.doubts));
        assert_eq!(computed.proof.verdict, Verdict::Proven, "the undamaged demo:\n{}", shown(&computed.proof.findings));
        let intent = computed.job.intent;
        let ground = Ground::new(&intent, computed.job.shop.widest_cutter());
        let original = Original { programs: computed.programs, intent };
        let mut demo =
            Self { shop: computed.job.shop, original, ground, overruns: Mutex::default(), sound: Sound::default() };
        let sound = demo.oracle(&demo.original.programs, &demo.original.intent, None);
        demo.sound = sound.unwrap_or_else(|harm| panic!("the oracle finds harm in the undamaged demo: {harm:?}"));
        demo
    }

    fn oracle(&self, programs: &Programs, intent: &Intent, sound: Option<&Sound>) -> Result<Sound, Harm> {
        let clear = intent.highest().to_mm();
        let courses: Vec<_> = programs.iter().map(|p| text::follow(&p.1, clear)).collect();
        let bench = Bench { ground: &self.ground, shop: &self.shop, intent, overruns: &self.overruns };
        bench.run(&courses, sound, intent.holds != self.original.intent.holds)
    }

    fn prove(&self, programs: &Programs, intent: &Intent) -> Proof {
        proof::prove(&self.shop, intent, &packet::texts(programs), &SETTINGS, &()).unwrap()
    }

    /// Puts a fault at `wanted` places where the oracle shows harm, and asks the prover.
    fn try_fault(&self, fault: &Fault, wanted: usize, seed: u64) -> Row {
        let mut row = Row { name: fault.name, ..Row::default() };
        let spots = fault.spots(&self.original);
        let most = spots.len().min(wanted * 8 + 16);
        // A stride near the golden section spreads any number of places evenly, none twice.
        let n = spots.len().max(1);
        let stride = ((n as f64 * 0.618) as usize..).find(|&s| common_divisor(s.max(1), n) == 1).unwrap_or(1).max(1);
        for k in 0..most {
            if row.refused + row.undecided + row.passed.len() >= wanted {
                break;
            }
            let spot = spots[(seed as usize % n + k * stride) % n];
            let Some(mutant) = fault.at(&self.original, spot) else { continue };
            row.tried += 1;
            let began = Instant::now();
            let judged = self.oracle(&mutant.programs, &mutant.intent, Some(&self.sound));
            row.oracle += began.elapsed().as_secs_f64();
            match judged {
                Ok(_) => row.harmless += 1,
                Err(harm) => self.judge(&mutant, &harm, &mut row),
            }
        }
        row
    }

    fn judge(&self, mutant: &Mutant, harm: &Harm, row: &mut Row) {
        let began = Instant::now();
        let proof = self.prove(&mutant.programs, &mutant.intent);
        row.prover += began.elapsed().as_secs_f64();
        let telling: Vec<&Doubt> =
            proof.findings.iter().filter(|d| d.blocks() || d.id.starts_with("undecided-")).collect();
        let file = mutant.programs.get(harm.program).map_or("", |p| p.0.as_str());
        let said = format!(
            "{}: {}\n    oracle: {file} line {} at {:?}: {}",
            row.name, mutant.what, harm.line, harm.at, harm.why
        );
        match proof.verdict {
            Verdict::Proven => row.passed.push(format!("NOT REFUSED: {said}")),
            _ if !telling.iter().any(|d| d.places.iter().any(names_a_place)) => {
                row.passed
                    .push(format!("NOWHERE: {said}\n    refused without a line or place:\n{}", shown(&proof.findings)));
            }
            verdict => {
                row.refused += usize::from(verdict == Verdict::Refused);
                row.undecided += usize::from(verdict == Verdict::Undecided);
                let near = telling.iter().any(|d| d.places.iter().any(|p| is_near(p, file, harm)));
                row.near += usize::from(near);
            }
        }
    }

    /// Tries all kinds, prints the table and asserts.
    fn run(&self, wanted: usize, seed: u64) {
        let all = faults();
        let (next, rows) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
        std::thread::scope(|scope| {
            for _ in 0..2 {
                scope.spawn(|| {
                    while let Some(fault) = all.get(next.fetch_add(1, Ordering::Relaxed)) {
                        let row = self.try_fault(fault, wanted, seed);
                        println!("{}", row.line());
                        for words in &row.passed {
                            println!("{words}");
                        }
                        rows.lock().unwrap().push(row);
                    }
                });
            }
        });
        let mut rows = rows.into_inner().unwrap();
        rows.sort_by_key(|r| all.iter().position(|f| f.name == r.name));
        println!("{:34}  tried harmless  refused undecided  near  oracle s  prover s", "kind");
        rows.iter().for_each(|r| println!("{}", r.line()));
        let passed: Vec<&String> = rows.iter().flat_map(|r| &r.passed).collect();
        passed.iter().for_each(|p| println!("{p}"));
        assert!(passed.is_empty(), "{} damaged sets of programs get through", passed.len());
        let caught = rows.iter().filter(|r| r.refused + r.undecided > 0).count();
        assert!(caught >= 24, "only {caught} kinds have a place where the oracle shows harm");
    }
}

/// What came of one kind.
#[derive(Default)]
struct Row {
    name: &'static str,
    tried: usize,
    harmless: usize,
    refused: usize,
    undecided: usize,
    /// Refused with a finding that names the line or place that the oracle names.
    near: usize,
    /// Seconds.
    oracle: f64,
    prover: f64,
    passed: Vec<String>,
}

impl Row {
    fn line(&self) -> String {
        let Self { name, tried, harmless, refused, undecided, near, oracle, prover, .. } = self;
        format!("{name:34}{tried:7}{harmless:9}{refused:9}{undecided:10}{near:6}{oracle:10.1}{prover:10.1}")
    }
}

fn names_a_place(place: &Place) -> bool {
    match place {
        Place::Program { line, .. } => *line > 0,
        Place::Blank { .. } => true,
        _ => false,
    }
}

/// Whether a finding's place is where the oracle sees the harm: two lines or 3 mm away at most.
fn is_near(place: &Place, file: &str, harm: &Harm) -> bool {
    match place {
        Place::Program { file: f, line, .. } => f == file && harm.line > 0 && line.abs_diff(harm.line) <= 2,
        Place::Blank { x, y, .. } => harm.at.is_some_and(|p| (p[0] - x).hypot(p[1] - y) <= 3.0),
        _ => false,
    }
}

fn shown(findings: &[Doubt]) -> String {
    findings.iter().map(|d| format!("    {} {}\n", doubt::render(d, &(), false), d.id)).collect()
}

fn common_divisor(a: usize, b: usize) -> usize {
    if b == 0 { a } else { common_divisor(b, a % b) }
}

/// Every kind at the first place where the oracle shows harm.
#[test]
fn damaged_programs_are_refused() {
    let began = Instant::now();
    Demo::new().run(1, 1);
    println!("{:.0} s", began.elapsed().as_secs_f64());
}

/// The same at some 350 places; `DAMAGE_SEED` chooses others.
#[test]
#[ignore = "many minutes: cargo test --release --test damage -- --ignored --nocapture"]
fn many_mutants() {
    let seed = std::env::var("DAMAGE_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or(17);
    Demo::new().run(12, seed);
}
