//! Programs from elsewhere: proven against a plate, or surveyed on a blank that no plate file describes, zeroed at the
//! table or at the face, with pictures of what each takes away where they are asked for.

use crate::folder::{self, Disk, Holds, PlaceError};
use crate::manifest::Hashed;
use crate::spots::{self, Cut, Scene};
use crate::{Clock, Effort, Files, Listed, Outcome, manifest, not_placed, results, strokes};
use doubt::{Doubt, Kind, Place};
use plate::{Blank, Intent, Layer, Material, Process, Sheet, Shop, Under};
use proof::{Proof, Size, Survey, Watch, Zero};
use quantity::{Height, Length, Unit};
use rayon::prelude::*;
use read::Program;
use sheet::TakesAway;
use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};

/// The shop file could not be read.
pub const SHOP_UNREADABLE: Kind = Kind {
    id: "shop-unreadable",
    title: "The shop file named for programs from elsewhere can't be read",
    page: "Programs without a plate file are judged by the cutters and the machine of a shop file, which is named with --shop. \
           It isn't there, may not be read, or isn't text. Check its name and folder.",
};

/// The blank was taken as it was named.
pub const BLANK_AS_NAMED: Kind = Kind {
    id: "blank-as-named",
    title: "The blank is taken exactly as it was named",
    page: "Without a plate file the blank is one sheet of the thickness named, lying flat, with nothing to hold it but its border. \
           Sheets differ from their label by tenths of a millimetre: measure it, and leave room where a cut comes near the table. \
           A plate file reckons with layers, tolerances and holds.",
};

/// The material was assumed.
pub const MATERIAL_ASSUMED: Kind = Kind {
    id: "material-assumed",
    title: "The blank's material is assumed",
    page: "Chips, forces and depths per pass depend on the material. No sheet of the shop was named, so cast acrylic is assumed. \
           Name one with --sheet.",
};

/// Heights are counted from the face.
pub const ZERO_AT_FACE: Kind = Kind {
    id: "zero-at-face",
    title: "Programs are zeroed at the blank's face",
    page: "By --zero face, Z0 of these programs is the face of the blank, and their cuts have negative heights. They are shown above the \
           table all the same, on the nominal blank. Set the display to the feeler's thickness on the face, not on the table: \
           zeroed in the wrong place they cut too deep by the whole blank.",
};

/// A program from elsewhere, read as a stream: its text is in memory once, as the reader keeps it.
#[derive(Debug, Clone)]
pub struct Foreign {
    /// Where it is.
    path: PathBuf,
    /// As the manifest lists it.
    listed: Listed,
    /// As understood.
    program: Program,
    /// The shop's cutter named for it; otherwise its T word counts.
    cutter: Option<u32>,
}

impl Foreign {
    /// Reads a program from a file, hashing it as it passes.
    ///
    /// # Errors
    /// What the system reports.
    pub fn open(path: &Path, cutter: Option<u32>) -> io::Result<Self> {
        let name = path.file_name().map_or_else(|| path.to_string_lossy(), |n| n.to_string_lossy());
        let mut stream = Hashed::new(std::fs::File::open(path)?);
        let program = read::read_from(&name, &mut stream)?;
        Ok(Self { path: path.to_owned(), listed: stream.listed(&name), program, cutter })
    }

    /// The file as a manifest lists it.
    pub fn listed(&self) -> &Listed {
        &self.listed
    }

    /// The program as understood.
    pub fn program(&self) -> &Program {
        &self.program
    }
}

/// A blank as named on the command line.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedBlank {
    /// Size in x and y.
    pub size: [Length; 2],
    /// Thickness.
    pub thickness: Length,
    /// Thickness of what lies between it and the table.
    pub under: Length,
    /// A sheet of the shop, for material and colour.
    pub sheet: Option<String>,
}

/// Longest text that doubts are shown in, bytes.
const SHOWN: u64 = 16 << 20;
/// Longest side of a blank that is taken, mm.
const LARGEST: f64 = 5000.0;
/// Thickest, mm.
const THICKEST: f64 = 200.0;

impl NamedBlank {
    /// `100 x 60 x 6 mm`, `4 x 2 1/2 x 1/4 in`, `100 mm x 60 mm x 1/4 in`: two sides and a thickness. A unit at the end
    /// counts for those before it that have none; without any it is mm.
    ///
    /// # Errors
    /// Words that say what is wrong.
    pub fn parse(text: &str) -> Result<[Length; 3], String> {
        let parts: Vec<&str> = text.split(['x', 'X', '×']).map(str::trim).collect();
        let [a, b, c] = parts[..] else {
            return Err(format!("`{text}` isn't two sides and a thickness"));
        };
        let last = c.trim_start_matches(|c: char| c.is_ascii_digit() || " ./".contains(c));
        let unit = Unit::named(last).unwrap_or(Unit::Millimetre);
        let mut lengths = [Length::ZERO; 3];
        for (length, (part, most)) in lengths.iter_mut().zip([(a, LARGEST), (b, LARGEST), (c, THICKEST)]) {
            *length = Length::parse(part, unit).map_err(|e| format!("`{part}` in `{text}`: {e}"))?;
            if !(0.1..=most).contains(&length.to_mm()) {
                return Err(format!("{length} in `{text}` is no size of a blank (0.1 to {most} mm)"));
            }
        }
        Ok(lengths)
    }

    /// As a blank on the table, exactly as named.
    fn lying(&self, shop: &Shop) -> Result<(Blank, Vec<Doubt>), Doubt> {
        let mut doubts = Vec::new();
        let known = |name: &String| shop.sheets.iter().find(|s| s.name == *name).cloned();
        let sheet = match &self.sheet {
            Some(name) => known(name).ok_or_else(|| {
                let names: Vec<String> = shop.sheets.iter().map(|s| format!("`{}`", s.name)).collect();
                SHOP_UNREADABLE
                    .refusal(format!("the shop has no sheet `{name}`"))
                    .way_out(format!("name one of {}, or leave --sheet out", names.join(", ")))
            })?,
            None => {
                let doubt = MATERIAL_ASSUMED.note("no sheet is named, so the blank is taken for cast acrylic");
                doubts.push(doubt.way_out("name one of the shop's sheets with --sheet"));
                Sheet {
                    name: "unnamed sheet".into(),
                    thickness: self.thickness,
                    material: Material::CastAcrylic,
                    process: Process::Stated(Length::ZERO),
                    colour: [0xC9, 0xC6, 0xBD],
                    passes_light: 0.0,
                }
            }
        };
        let exact = BLANK_AS_NAMED.note(format!("the blank is taken to be {} thick everywhere", self.thickness));
        doubts.push(exact.way_out("measure it; a plate file reckons with tolerances"));
        let underside = Height::ZERO + self.under;
        let face = underside + self.thickness;
        let layer = Layer {
            sheet,
            thickness: self.thickness,
            spread: Length::ZERO,
            measured: true,
            top: face,
            top_spread: Length::ZERO,
            bottom: underside,
            bottom_spread: Length::ZERO,
        };
        let under = Under { name: "what lies under the blank".into(), thickness: self.under };
        let blank = Blank {
            size: self.size,
            layers: vec![layer],
            bond: Length::ZERO,
            under: if self.under > Length::ZERO { vec![under] } else { Vec::new() },
            into_table: Length::ZERO,
            underside,
            face,
            face_low: face,
            face_high: face,
        };
        Ok((blank, doubts))
    }
}

/// Where pictures and reports go, if anywhere.
pub struct Out<'a> {
    /// The folder.
    pub folder: &'a Path,
    /// The disk.
    pub disk: &'a dyn Disk,
    /// The manifest's date line.
    pub date: &'a str,
}

/// What came of a survey.
#[derive(Debug, Default)]
pub struct Surveyed {
    /// What the programs do, if it could be found out.
    pub survey: Option<Survey>,
    /// Doubts, the survey's findings included.
    pub doubts: Vec<Doubt>,
    /// Texts of the files that doubts point into.
    pub sources: BTreeMap<String, String>,
    /// The folder written, and the names of its files.
    pub written: Option<(PathBuf, Vec<String>)>,
    /// Cells and memory of the run, told before it began.
    pub size: Option<Size>,
    /// Seconds that each step took.
    pub seconds: Vec<(&'static str, f64)>,
    /// Whether the maker stopped it.
    pub stopped: bool,
}

/// Proves programs from anywhere against a plate, zeroed at the table or the face.
pub fn prove(
    plate: &Path,
    programs: Vec<Foreign>,
    zero: Zero,
    effort: &Effort,
    out: Option<&Out>,
    watch: &dyn Watch,
) -> Outcome {
    let mut outcome = Outcome::default();
    if let Some(doubt) = taken_place(out) {
        outcome.doubts.push(doubt);
        return outcome;
    }
    let mut clock = Clock::start();
    let taken = intake::take(plate);
    (outcome.doubts, outcome.sources) = (taken.doubts, taken.sources);
    outcome.seconds.push(("reading", clock.lap()));
    let Some(job) = taken.job else { return outcome };
    // The plate that the planner would make: programs from elsewhere are judged by the same intent.
    let (mut intent, said) = strokes::settle(&job.shop, job.intent);
    outcome.doubts.extend(said);
    if doubt::any_blocks(&outcome.doubts) {
        return outcome;
    }
    let mut raised = 0.0;
    let mut extra = Vec::new();
    let plate_name = taken.inputs.first().map_or("", |i| i.0.as_str());
    if zero == Zero::Face {
        extra.push(zero_doubt(intent.blank.face));
        extra.extend(proof::face_doubt(&intent).map(|d| d.at(Place::file(plate_name))));
        (intent, raised) = proof::at_face(&intent, &job.shop.touch_off);
    }
    let Understood { programs: read, named, files } = understood(programs, raised);
    let settled = match effort.settle(&job.shop, &intent, &read, &named, watch) {
        Ok(settled) => settled,
        Err(doubt) => {
            outcome.doubts.push(doubt.at(Place::file(plate_name)));
            return outcome;
        }
    };
    outcome.size = Some(settled.size);
    match proof::prove_read(&job.shop, &intent, &read, &named, &settled.settings, watch) {
        Some(mut proof) => {
            proof.pitch_why = settled.why(proof.pitch);
            proof.findings.extend(extra);
            proof.verdict = proof::verdict_of(&proof.findings);
            outcome.verdict = Some(proof.verdict);
            outcome.seconds.push(("proving", clock.lap()));
            let mut placed = None;
            if let Some(out) = out {
                let inputs = taken.inputs.iter().map(|(name, bytes)| Listed::of(name, bytes));
                let inputs: Vec<Listed> = inputs.chain(files.iter().map(|f| f.listed.clone())).collect();
                let files = proof_files(&job.shop, &intent, &read, &named, &mut proof);
                match place(out, &intent.title, &inputs, files, watch) {
                    Ok(written) => outcome.written = written,
                    Err(doubt) => placed = Some(*doubt),
                }
                outcome.seconds.push(("drawing pictures", clock.lap()));
            }
            outcome.doubts.extend(proof.findings.iter().cloned().chain(placed));
            outcome.proof = Some(proof);
        }
        None => outcome.seconds.push(("proving", clock.lap())),
    }
    outcome.stopped = outcome.proof.is_none() || watch.stopped();
    outcome.sources.extend(sources(&files, &outcome.doubts));
    outcome
}

/// A shop file's name and text.
pub(crate) fn shop_text(shop: &Path) -> Result<(String, String), Box<Doubt>> {
    let name = shop.file_name().map_or_else(|| "shop.toml".into(), |n| n.to_string_lossy().into_owned());
    match std::fs::read(shop).map(String::from_utf8) {
        Ok(Ok(text)) => Ok((name, text)),
        Ok(Err(_)) => {
            let doubt = SHOP_UNREADABLE.refusal(format!("the shop file `{}` isn't text", shop.display()));
            Err(Box::new(doubt.at(Place::file(&name)).way_out("name the right file with --shop")))
        }
        Err(error) => {
            let message = format!("the shop file `{}` can't be read: {error}", shop.display());
            let doubt = SHOP_UNREADABLE.refusal(message).at(Place::file(&name));
            Err(Box::new(doubt.way_out("check its name and folder")))
        }
    }
}

/// Says what programs do to a blank that only the command line describes.
pub fn survey(
    shop: &Path,
    blank: &NamedBlank,
    programs: Vec<Foreign>,
    zero: Zero,
    effort: &Effort,
    out: Option<&Out>,
    watch: &dyn Watch,
) -> Surveyed {
    let mut surveyed = Surveyed::default();
    if let Some(doubt) = taken_place(out) {
        surveyed.doubts.push(doubt);
        return surveyed;
    }
    let mut clock = Clock::start();
    let (name, text) = match shop_text(shop) {
        Ok(found) => found,
        Err(doubt) => {
            surveyed.doubts.push(*doubt);
            return surveyed;
        }
    };
    let (found, doubts) = intake::shop(&name, &text);
    surveyed.doubts = doubts;
    surveyed.sources.insert(name.clone(), text.clone());
    surveyed.seconds.push(("reading", clock.lap()));
    let Some(shop) = found else { return surveyed };
    let lying = match blank.lying(&shop) {
        Ok((lying, doubts)) => {
            surveyed.doubts.extend(doubts.into_iter().map(|d| d.at(Place::file(&name))));
            lying
        }
        Err(doubt) => {
            surveyed.doubts.push(doubt.at(Place::file(&name)));
            return surveyed;
        }
    };
    let mut raised = 0.0;
    if zero == Zero::Face {
        surveyed.doubts.push(zero_doubt(lying.face));
        raised = lying.face.to_mm();
    }
    let Understood { programs: read, named, files } = understood(programs, raised);
    let wanted = nothing_wanted(lying, &shop);
    let effort = Effort { picture_pitch: proof::sampled(&wanted.blank, effort.picture_pitch), ..*effort };
    let settled = match effort.settle(&shop, &wanted, &read, &named, watch) {
        Ok(settled) => settled,
        Err(doubt) => {
            surveyed.doubts.push(doubt.at(Place::file(&name)));
            return surveyed;
        }
    };
    surveyed.size = Some(settled.size);
    match proof::survey(&shop, &wanted.blank, &read, &named, &settled.settings, watch) {
        Some(mut found) => {
            found.pitch_why = settled.why(found.pitch);
            surveyed.seconds.push(("cutting", clock.lap()));
            let mut placed = None;
            if let Some(out) = out {
                let inputs = std::iter::once(Listed::of(&name, text.as_bytes()));
                let inputs: Vec<Listed> = inputs.chain(files.iter().map(|f| f.listed.clone())).collect();
                match place(out, "", &inputs, survey_files(&shop, &wanted, &read, &named, &mut found), watch) {
                    Ok(written) => surveyed.written = written,
                    Err(doubt) => placed = Some(*doubt),
                }
                surveyed.seconds.push(("drawing pictures", clock.lap()));
            }
            surveyed.doubts.extend(found.findings.iter().cloned().chain(placed));
            surveyed.survey = Some(found);
        }
        None => surveyed.seconds.push(("cutting", clock.lap())),
    }
    surveyed.stopped = surveyed.survey.is_none() || watch.stopped();
    surveyed.sources.extend(sources(&files, &surveyed.doubts));
    surveyed
}

/// Programs as the prover takes them, and the files that they came from.
struct Understood {
    programs: Vec<Program>,
    named: Vec<(Option<u32>, bool)>,
    files: Vec<Shown>,
}

/// What is kept of a file whose program has gone to the prover.
struct Shown {
    path: PathBuf,
    listed: Listed,
}

fn understood(programs: Vec<Foreign>, raised: f64) -> Understood {
    let mut all = Understood { programs: Vec::new(), named: Vec::new(), files: Vec::new() };
    for Foreign { path, listed, program, cutter } in programs {
        all.programs.push(program.raised(raised));
        all.named.push((cutter, true));
        all.files.push(Shown { path, listed });
    }
    all
}

impl Shown {
    /// The file's text; none of a very long one, or of one that has changed since it was read.
    fn text(&self) -> Option<String> {
        if self.listed.bytes > SHOWN {
            return None;
        }
        let bytes = std::fs::read(&self.path).ok()?;
        let same = Listed::of(&self.listed.file, &bytes) == self.listed;
        same.then(|| String::from_utf8_lossy(&bytes).into_owned())
    }
}

/// A blank on which nothing is wanted, so that whatever is found is wrong on any plate.
fn nothing_wanted(blank: Blank, shop: &Shop) -> Intent {
    Intent {
        title: String::new(),
        blank,
        areas: Vec::new(),
        outline: None,
        holds: Vec::new(),
        cutters: shop.cutters.iter().map(|c| c.number).collect(),
    }
}

/// Texts that doubts point into: only those, since the reader keeps each text already.
fn sources(files: &[Shown], doubts: &[Doubt]) -> Vec<(String, String)> {
    let points = |file: &str| {
        let here = |p: &Place| matches!(p, Place::File { file: f, line, .. } if f == file && *line > 0);
        doubts.iter().flat_map(|d| &d.places).any(here)
    };
    let wanted = files.iter().filter(|f| points(&f.listed.file));
    wanted.filter_map(|f| Some((f.listed.file.clone(), f.text()?))).collect()
}

fn zero_doubt(face: Height) -> Doubt {
    ZERO_AT_FACE
        .note(format!(
            "Z0 of the programs is the blank's face, {} mm above the table",
            quantity::trimmed(face.to_mm(), 3)
        ))
        .way_out("touch off on the face; leave --zero out for programs zeroed at the table")
}

fn taken_place(out: Option<&Out>) -> Option<Doubt> {
    folder::may_place(out?.disk, out?.folder, Holds::Report).err().map(|e| not_placed(&e))
}

fn place(
    out: &Out,
    title: &str,
    inputs: &[Listed],
    mut files: Files,
    watch: &dyn Watch,
) -> Result<Option<(PathBuf, Vec<String>)>, Box<Doubt>> {
    let manifest = manifest::text(title, Holds::Report, inputs, &files, out.date);
    files.push((folder::MANIFEST.into(), manifest.into_bytes()));
    match folder::place(out.disk, out.folder, Holds::Report, &files, &|| watch.stopped()) {
        Ok(()) => Ok(Some((out.folder.to_owned(), files.into_iter().map(|f| f.0).collect()))),
        Err(PlaceError::Stopped) => Ok(None),
        Err(error) => Err(Box::new(not_placed(&error))),
    }
}

fn proof_files(
    shop: &Shop,
    intent: &Intent,
    programs: &[Program],
    named: &[(Option<u32>, bool)],
    proof: &mut Proof,
) -> Files {
    let takes = proof.stages.iter().enumerate().map(|(i, stage)| TakesAway {
        number: i + 1,
        file: &stage.file,
        cutter: (stage.cutter_number, &stage.cutter),
        minutes: stage.minutes,
        removed: stage.cutter_use.removed,
        before: i.checked_sub(1).and_then(|i| proof.stages.get(i)).map(|s| &s.relief),
        after: &stage.relief,
    });
    let mut files = pictures(intent, takes.collect());
    files.extend(crate::report_files(shop, intent, programs, named, proof));
    files
}

fn survey_files(
    shop: &Shop,
    intent: &Intent,
    programs: &[Program],
    named: &[(Option<u32>, bool)],
    survey: &mut Survey,
) -> Files {
    let takes = survey.programs.iter().enumerate().map(|(i, program)| TakesAway {
        number: i + 1,
        file: &program.file,
        cutter: (program.cutter_number, &program.cutter),
        minutes: program.minutes,
        removed: program.cutter_use.removed,
        before: i.checked_sub(1).and_then(|i| survey.programs.get(i)).map(|p| &p.relief),
        after: &program.relief,
    });
    let mut files = pictures(intent, takes.collect());
    let Survey { programs: surveyed, findings, spots, .. } = survey;
    let cuts = surveyed
        .iter()
        .map(|p| Cut {
            cutter_number: p.cutter_number,
            cutter: &p.cutter,
            cutting_width: p.cutting_width,
            relief: &p.relief,
        })
        .collect();
    let scene = Scene { shop, intent, programs, named, cuts };
    files.extend(spots::draw(&scene, spots, findings));
    files.push(("survey.json".into(), results::json(&*survey)));
    files.push(("survey.txt".into(), proof::survey_report(survey).into_bytes()));
    let loads = survey.programs.iter().map(|p| (p.file.as_str(), p.loads.as_slice()));
    files.push(("loads.csv".into(), proof::loads_table(loads).into_bytes()));
    files
}

/// One picture for each program, named by its number and file.
fn pictures(intent: &Intent, programs: Vec<TakesAway<'_>>) -> Files {
    let named = |takes: &TakesAway| {
        let stem = Path::new(takes.file).file_stem().map_or_else(|| "program".into(), |s| s.to_string_lossy());
        let plain: String =
            stem.chars().map(|c| if c.is_alphanumeric() || "-_. ".contains(c) { c } else { '-' }).collect();
        (format!("pictures/{}-{plain}.png", takes.number), sheet::before_after(intent, takes))
    };
    programs.par_iter().map(named).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 in = 25.4 mm exactly (international yard and pound agreement, 1959; from memory).
    #[test]
    fn blanks_as_makers_name_them() {
        for (text, wanted) in [
            ("100 x 60 x 6 mm", [100.0, 60.0, 6.0]),
            ("100x60x6", [100.0, 60.0, 6.0]),
            ("4 x 2 1/2 x 1/4 in", [101.6, 63.5, 6.35]),
            ("100 mm × 60 mm × 1/4 in", [100.0, 60.0, 6.35]),
            ("10 X 6 X 0.6 cm", [100.0, 60.0, 6.0]),
        ] {
            let got = NamedBlank::parse(text).unwrap().map(Length::to_mm);
            assert!(got.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-9), "{text}: {got:?}");
        }
        for text in ["100 x 60", "100 x 60 x 6 x 2", "100 x 60 x -6", "100 x 60 x 0", "1e9 x 60 x 6", "a x b x c", ""] {
            assert!(NamedBlank::parse(text).is_err(), "{text}");
        }
    }
}
