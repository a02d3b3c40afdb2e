//! The one pipeline from files to a folder that appears whole or not at all. The command line and, later, the page
//! both use it.
//!
//! files → drawing → intent → motions → **text** → moves → verdict → packet. Nothing is written unless the prover, which
//! has seen nothing but the text, says *proven*. [`elsewhere`] proves programs that were made by others.

pub mod elsewhere;
pub mod folder;
mod intent_file;
mod manifest;
mod programs;
mod results;

pub use programs::heading;

use doubt::{Doubt, Kind, Place};
use folder::{Disk, PlaceError};
use intake::{Job, Taken};
use plan::Plan;
use proof::{ProgramText, Proof, Settings, Verdict, Watch};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// The packet could not be put in its place.
pub const PACKET_NOT_PLACED: Kind = Kind {
    id: "packet-not-placed",
    title: "The packet's folder could not be written",
    page: "Everything was computed and proven, but the folder could not be put in place: the disk is full, the folder can't be \
           written, another run is writing it, or something is there that no packet made. An older packet is untouched. \
           Free the disk, choose another folder with --out, or move what is in the way.",
};

/// This crate's kinds of doubt.
pub const KINDS: &[Kind] = &[
    PACKET_NOT_PLACED,
    elsewhere::SHOP_UNREADABLE,
    elsewhere::BLANK_AS_NAMED,
    elsewhere::MATERIAL_ASSUMED,
    elsewhere::ZERO_AT_FACE,
];

/// What came of making a packet.
#[derive(Debug, Default)]
pub struct Outcome {
    /// The verdict, if the proof was reached.
    pub verdict: Option<Verdict>,
    /// The proof.
    pub proof: Option<Proof>,
    /// Doubts of all steps, the proof's findings included.
    pub doubts: Vec<Doubt>,
    /// Texts of the files that doubts point into.
    pub sources: BTreeMap<String, String>,
    /// The folder written, and the names of its files.
    pub written: Option<(PathBuf, Vec<String>)>,
    /// Seconds that each step took, for the terminal.
    pub seconds: Vec<(&'static str, f64)>,
    /// Whether the maker stopped it.
    pub stopped: bool,
}

/// Everything computed for a packet, before it is written.
pub struct Computed {
    /// Shop and intent.
    pub job: Job,
    /// The plan.
    pub plan: Plan,
    /// File names and texts of the programs, the frame run first.
    pub programs: Vec<(String, String)>,
    /// The proof of those texts.
    pub proof: Proof,
    /// Notes and cautions of reading and planning.
    pub doubts: Vec<Doubt>,
    /// One sentence for each area, then one for the outline.
    pub sentences: Vec<String>,
}

/// A packet's programs as the prover takes them: the one whose name begins with 0 is the frame run, which cuts nothing.
pub fn texts(programs: &[(String, String)]) -> Vec<ProgramText<'_>> {
    programs
        .iter()
        .map(|(file, text)| ProgramText { file, bytes: text.as_bytes(), cutter: None, cutting: !file.starts_with('0') })
        .collect()
}

/// Reads, plans, writes texts and proves them. `None` if a doubt blocks or the maker stopped it; the outcome says why.
pub fn compute(
    plate: &Path,
    settings: &Settings,
    watch: &dyn Watch,
    outcome: &mut Outcome,
) -> Option<(Computed, Taken)> {
    let mut clock = Clock::start();
    let mut taken = intake::take(plate);
    outcome.seconds.push(("reading", clock.lap()));
    outcome.sources = taken.sources.clone();
    outcome.doubts = taken.doubts.clone();
    let job = taken.job.take()?;
    let Some(plan) = plan::plan(&job.shop, &job.intent, &|| watch.stopped()) else {
        outcome.stopped = true;
        return None;
    };
    // What concerns the plan as a whole concerns the plate file.
    let placed = |doubt: &Doubt| match (doubt.places.is_empty(), taken.inputs.first()) {
        (true, Some((file, _))) => doubt.clone().at(Place::file(file)),
        _ => doubt.clone(),
    };
    outcome.doubts.extend(plan.doubts.iter().map(placed));
    outcome.seconds.push(("planning", clock.lap()));
    if doubt::any_blocks(&outcome.doubts) {
        return None;
    }
    let programs = programs::texts(&job, &plan);
    outcome.seconds.push(("writing programs", clock.lap()));
    let Some(proof) = proof::prove(&job.shop, &job.intent, &texts(&programs), settings, watch) else {
        outcome.stopped = true;
        return None;
    };
    outcome.seconds.push(("proving", clock.lap()));
    for (file, text) in &programs {
        outcome.sources.insert(file.clone(), text.clone());
    }
    outcome.verdict = Some(proof.verdict);
    let doubts = std::mem::take(&mut outcome.doubts);
    outcome.doubts = doubts.iter().chain(&proof.findings).cloned().collect();
    let intent = &job.intent;
    let sentences = intent.areas.iter().map(|a| intake::sentence(a, &intent.blank));
    let edge = intent.outline.iter().map(|o| intake::through_sentence(o, &intent.blank));
    let sentences = sentences.chain(edge).collect();
    Some((Computed { job, plan, programs, proof, doubts, sentences }, taken))
}

/// Makes the packet of a plate as the folder `out`. It is written only if proven.
pub fn make(plate: &Path, out: &Path, settings: &Settings, disk: &dyn Disk, date: &str, watch: &dyn Watch) -> Outcome {
    let mut outcome = Outcome::default();
    if let Err(error) = folder::may_place(disk, out) {
        // Said before the work rather than after it, with whatever the files give cause for.
        let taken = intake::take(plate);
        (outcome.doubts, outcome.sources) = (taken.doubts, taken.sources);
        outcome.doubts.push(not_placed(&error));
        return outcome;
    }
    let Some((computed, taken)) = compute(plate, settings, watch, &mut outcome) else {
        outcome.stopped |= watch.stopped();
        return outcome;
    };
    if computed.proof.verdict == Verdict::Proven {
        let mut clock = Clock::start();
        let mut files = results::files(&computed);
        outcome.seconds.push(("drawing pictures and sheet", clock.lap()));
        let manifest = manifest::text(&computed.job.intent.title, &taken.inputs, &files, date);
        files.push((folder::MANIFEST.into(), manifest.into_bytes()));
        match folder::place(disk, out, &files, &|| watch.stopped()) {
            Ok(()) => outcome.written = Some((out.to_owned(), files.into_iter().map(|f| f.0).collect())),
            Err(PlaceError::Stopped) => outcome.stopped = true,
            Err(error) => outcome.doubts.push(not_placed(&error)),
        }
        outcome.seconds.push(("writing the folder", clock.lap()));
    }
    outcome.proof = Some(computed.proof);
    outcome
}

/// A failure to place the folder as a doubt.
fn not_placed(error: &PlaceError) -> Doubt {
    let folder = |p: &Path| p.display().to_string();
    match error {
        PlaceError::NotOurs(path) => PACKET_NOT_PLACED
            .refusal(format!("`{}` is there already and no packet made it", folder(path)))
            .at(Place::file(folder(path)))
            .way_out("choose another folder with --out, or move what is there out of the way"),
        PlaceError::Locked(path) => PACKET_NOT_PLACED
            .refusal(format!("another run is writing `{}`", folder(path)))
            .at(Place::file(folder(path)))
            .way_out("wait until it has finished, then run again"),
        PlaceError::Stopped => PACKET_NOT_PLACED.refusal("stopped before the folder was in place"),
        PlaceError::System(what, path, error) => PACKET_NOT_PLACED
            .refusal(format!("could not {what} `{}`: {error}", folder(path)))
            .at(Place::file(folder(path)))
            .noting("what was there before is untouched")
            .way_out("free the disk or choose a folder that can be written with --out"),
    }
}

/// A stopwatch for the terminal's figures; nothing of it goes into a file.
struct Clock(Instant);

impl Clock {
    fn start() -> Self {
        Self(Instant::now())
    }

    fn lap(&mut self) -> f64 {
        let lap = self.0.elapsed().as_secs_f64();
        self.0 = Instant::now();
        lap
    }
}
