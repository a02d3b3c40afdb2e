//! The one pipeline from files to a folder that appears whole or not at all. The command line and, later, the page
//! both use it.
//!
//! files → drawing → intent → motions → **text** → moves → verdict → packet. Nothing is written unless the prover, which
//! has seen nothing but the text, says *proven*. [`elsewhere`] proves programs that were made by others.

pub mod bench;
pub mod calibrate;
mod compared;
mod effort;
pub mod elsewhere;
pub mod folder;
mod holes;
mod intent_file;
mod manifest;
mod programs;
pub mod reached;
mod results;
mod seams;
mod spots;
mod strokes;
pub mod why;

pub use effort::{Effort, MEMORY, PROOF_TOO_LARGE};
pub use manifest::Listed;
pub use programs::{heading, texts as program_texts};
pub use reached::{AreaReach, CutterReach, HandSpot, Spot};
pub use spots::{MOST as MOST_PICTURES, OF_A_KIND as PICTURES_OF_A_KIND};
pub use strokes::settle;

use doubt::{Doubt, Kind, Place};
use folder::{Disk, Holds, PlaceError};
use intake::{Job, Taken};
use memo::Memo;
use plan::Plan;
use plate::{Intent, Shop};
use proof::{ProgramText, Proof, Settings, Size, Verdict, Watch};
use rayon::prelude::*;
use read::Program;
pub use sheet::SubsetRow;
use spots::{Cut, Scene};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// The packet could not be put in its place.
pub const PACKET_NOT_PLACED: Kind = Kind {
    id: "packet-not-placed",
    title: "The packet's folder could not be written",
    page: "Everything was computed and proven, but the folder could not be put in place: the disk is full, the folder can't be \
           written, another run is writing it, or something is there that no packet made, or a packet that a report may not replace. An \
           older packet is untouched. \
           Free the disk, choose another folder with --out, or move what is in the way.",
};

/// This crate's kinds of doubt.
pub const KINDS: &[Kind] = &[
    PACKET_NOT_PLACED,
    PROOF_TOO_LARGE,
    holes::HOLE_ALL_CHIPS,
    seams::CUTTERS_MEET,
    strokes::STROKE_NARROW,
    strokes::STROKE_WIDENED,
    strokes::STROKE_RUNS_INTO,
    strokes::STROKE_NO_MIDDLE,
    elsewhere::SHOP_UNREADABLE,
    elsewhere::BLANK_AS_NAMED,
    elsewhere::MATERIAL_ASSUMED,
    elsewhere::ZERO_AT_FACE,
    calibrate::TIME_TOO_SHORT,
    calibrate::TIME_TOO_LONG,
    calibrate::TIMES_APART,
    calibrate::TIMES_UNTOLD,
    calibrate::FIGURES_TOGETHER,
    calibrate::TIME_UNKNOWN,
    calibrate::SHOP_NOT_WRITTEN,
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
    /// Cells and memory of the proof, told before it began.
    pub size: Option<Size>,
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

/// Files of a folder, with their names.
pub(crate) type Files = Vec<(String, Vec<u8>)>;

/// A packet's programs as the prover takes them: the one whose name begins with 0 is the frame run, which cuts nothing.
pub fn texts(programs: &[(String, String)]) -> Vec<ProgramText<'_>> {
    programs
        .iter()
        .map(|(file, text)| ProgramText { file, bytes: text.as_bytes(), cutter: None, cutting: !file.starts_with('0') })
        .collect()
}

/// Reads, plans, writes texts and proves them at exactly this pitch, whatever it takes. `None` if a doubt blocks or the maker
/// stopped it; the outcome says why.
pub fn compute(
    plate: &Path,
    settings: &Settings,
    watch: &dyn Watch,
    outcome: &mut Outcome,
) -> Option<(Computed, Taken)> {
    compute_within(plate, &Effort::from(settings), watch, outcome)
}

/// The same with an effort: what [`make`] does before it writes.
pub fn compute_within(
    plate: &Path,
    effort: &Effort,
    watch: &dyn Watch,
    outcome: &mut Outcome,
) -> Option<(Computed, Taken)> {
    let mut clock = Clock::start();
    let mut taken = intake::take(plate);
    outcome.seconds.push(("reading", clock.lap()));
    let computed = compute_taken(&mut taken, effort, watch, outcome)?;
    Some((computed, taken))
}

/// The same with what was read of the plate, whose job it takes.
pub fn compute_taken(taken: &mut Taken, effort: &Effort, watch: &dyn Watch, outcome: &mut Outcome) -> Option<Computed> {
    computed(taken, Some(effort), &Memo::none(), watch, outcome)
}

/// The first answer to an edit: what was kept of the plans and proofs before is used again, and the grid is coarse. Walls, loads and
/// what is cut through are judged as ever. The programs are those that [`compute_taken`] gives, whose proof is to confirm it.
pub fn answer(taken: &mut Taken, memo: &Memo, watch: &dyn Watch, outcome: &mut Outcome) -> Option<Computed> {
    memo.turn();
    computed(taken, None, memo, watch, outcome)
}

/// Without an effort it is the first answer.
fn computed(
    taken: &mut Taken,
    effort: Option<&Effort>,
    memo: &Memo,
    watch: &dyn Watch,
    outcome: &mut Outcome,
) -> Option<Computed> {
    let mut clock = Clock::start();
    outcome.sources = taken.sources.clone();
    outcome.doubts = taken.doubts.clone();
    let mut job = taken.job.take()?;
    // What is asked of contours before planning is asked again by the planner.
    let own = Memo::new();
    let shared = if memo.keeps() { memo } else { &own };
    let (intent, said) = strokes::settle_again(&job.shop, job.intent, shared);
    job.intent = intent;
    outcome.doubts.extend(said);
    if doubt::any_blocks(&outcome.doubts) {
        return None;
    }
    let Some(plan) = plan::plan_again(&job.shop, &job.intent, shared, &|| watch.stopped()) else {
        outcome.stopped = true;
        return None;
    };
    // What concerns the plan as a whole concerns the plate file.
    let placed = |doubt: &Doubt| match (doubt.places.is_empty(), taken.inputs.first()) {
        (true, Some((file, _))) => doubt.clone().at(Place::file(file)),
        _ => doubt.clone(),
    };
    outcome.doubts.extend(plan.doubts.iter().map(placed));
    outcome.doubts.extend(seams::said(&job, &plan.stages).iter().map(placed));
    outcome.seconds.push(("planning", clock.lap()));
    if doubt::any_blocks(&outcome.doubts) {
        return None;
    }
    let programs = programs::texts(&job, &plan);
    outcome.seconds.push(("writing programs", clock.lap()));
    let (read, named) = read_all(&programs);
    let settled = effort.map(|effort| effort.settle(&job.shop, &job.intent, &read, &named, watch)).transpose();
    let settled = match settled {
        Ok(settled) => settled,
        Err(doubt) => {
            let plate = taken.inputs.first().map_or("", |i| i.0.as_str());
            outcome.doubts.push(doubt.at(Place::file(plate)));
            return None;
        }
    };
    outcome.size = settled.as_ref().map(|s| s.size);
    let settings = settled.as_ref().map_or_else(|| effort::coarse(&job.shop, &job.intent), |s| s.settings);
    let Some(mut proof) = proof::prove_again(&job.shop, &job.intent, &read, &named, &settings, memo, watch) else {
        outcome.stopped = true;
        return None;
    };
    proof.pitch_why = settled.map_or_else(|| "for a first answer".to_owned(), |s| s.why(proof.pitch));
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
    Some(Computed { job, plan, programs, proof, doubts, sentences })
}

/// A packet's programs as the reader takes them, each with the cutter named for it and whether it cuts.
pub fn read_all(programs: &[(String, String)]) -> (Vec<Program>, Vec<(Option<u32>, bool)>) {
    let texts = texts(programs);
    let read = texts.par_iter().map(|t| read::read(t.file, t.bytes)).collect();
    (read, texts.iter().map(|t| (t.cutter, t.cutting)).collect())
}

/// The sets of cutters that were compared, the one used first, then what the plan is measured by. It plans a little: some tenths
/// of a second.
pub fn sets(computed: &Computed) -> Vec<SubsetRow> {
    compared::rows(computed)
}

/// Where a packet goes, and where the report of a refused one goes if it is wanted.
pub struct Places<'a> {
    /// The packet's folder.
    pub packet: &'a Path,
    /// A folder for report and pictures of the spots if the packet isn't proven.
    pub refusal: Option<&'a Path>,
    /// The disk.
    pub disk: &'a dyn Disk,
    /// The manifest's date line.
    pub date: &'a str,
}

/// Makes the packet of a plate. It is written only if proven; otherwise, where it is wanted, a report is written into a
/// folder of its own, and neither ever takes the place of an older packet.
pub fn make(plate: &Path, places: &Places, effort: &Effort, watch: &dyn Watch) -> Outcome {
    let mut outcome = Outcome::default();
    let Places { packet: out, disk, date, .. } = *places;
    let refusal = places.refusal.map_or(Ok(()), |folder| folder::may_place(disk, folder, Holds::Report));
    if let Err(error) = folder::may_place(disk, out, Holds::Packet).and(refusal) {
        // Said before the work rather than after it, with whatever the files give cause for.
        let taken = intake::take(plate);
        (outcome.doubts, outcome.sources) = (taken.doubts, taken.sources);
        outcome.doubts.push(not_placed(&error));
        return outcome;
    }
    let Some((mut computed, taken)) = compute_within(plate, effort, watch, &mut outcome) else {
        outcome.stopped |= watch.stopped();
        return outcome;
    };
    let inputs: Vec<Listed> = taken.inputs.iter().map(|(name, bytes)| Listed::of(name, bytes)).collect();
    let mut clock = Clock::start();
    let (folder, holds, mut files) = match (computed.proof.verdict, places.refusal) {
        (Verdict::Proven, _) => (out, Holds::Packet, results::files(&computed)),
        (_, Some(folder)) => {
            let (read, named) = read_all(&computed.programs);
            let Computed { job, proof, doubts, .. } = &mut computed;
            let files = report_files(&job.shop, &job.intent, &read, &named, proof);
            outcome.doubts = doubts.iter().chain(&proof.findings).cloned().collect();
            (folder, Holds::Report, files)
        }
        (_, None) => {
            outcome.proof = Some(computed.proof);
            return outcome;
        }
    };
    outcome
        .seconds
        .push((if holds == Holds::Packet { "drawing pictures and sheet" } else { "drawing pictures" }, clock.lap()));
    let manifest = manifest::text(&computed.job.intent.title, holds, &inputs, &files, date);
    files.push((folder::MANIFEST.into(), manifest.into_bytes()));
    match folder::place(disk, folder, holds, &files, &|| watch.stopped()) {
        Ok(()) => outcome.written = Some((folder.to_owned(), files.into_iter().map(|f| f.0).collect())),
        Err(PlaceError::Stopped) => outcome.stopped = true,
        Err(error) => outcome.doubts.push(not_placed(&error)),
    }
    outcome.seconds.push(("writing the folder", clock.lap()));
    outcome.proof = Some(computed.proof);
    outcome
}

/// Pictures of the findings' spots, named in them, then the proof and its figures: what a report holds about programs,
/// and never the programs themselves.
pub(crate) fn report_files(
    shop: &Shop,
    intent: &Intent,
    programs: &[Program],
    named: &[(Option<u32>, bool)],
    proof: &mut Proof,
) -> Files {
    let Proof { stages, findings, spots, .. } = proof;
    let cuts = stages
        .iter()
        .map(|s| Cut {
            cutter_number: s.cutter_number,
            cutter: &s.cutter,
            cutting_width: s.cutting_width,
            relief: &s.relief,
        })
        .collect();
    let scene = Scene { shop, intent, programs, named, cuts };
    let mut files = spots::draw(&scene, spots, findings);
    files.push(("proof.json".into(), results::json(&*proof)));
    files.push(("proof.txt".into(), proof::report(proof).into_bytes()));
    let loads = proof.stages.iter().map(|s| (s.file.as_str(), s.loads.as_slice()));
    files.push(("loads.csv".into(), proof::loads_table(loads).into_bytes()));
    files
}

/// A failure to place the folder as a doubt.
fn not_placed(error: &PlaceError) -> Doubt {
    let folder = |p: &Path| p.display().to_string();
    match error {
        PlaceError::NotOurs(path) => PACKET_NOT_PLACED
            .refusal(format!("`{}` is there already and no packet made it", folder(path)))
            .at(Place::file(folder(path)))
            .way_out("choose another folder with --out, or move what is there out of the way"),
        PlaceError::HoldsPacket(path) => PACKET_NOT_PLACED
            .refusal(format!("`{}` holds a packet, and a report never takes a packet's place", folder(path)))
            .at(Place::file(folder(path)))
            .way_out("choose another folder for the report"),
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
