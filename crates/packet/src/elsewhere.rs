//! Programs from elsewhere: proven against a plate, or surveyed on a blank that no plate file describes, zeroed at the
//! table or at the face, with pictures of what each takes away where they are asked for.

use crate::folder::{self, Disk, PlaceError};
use crate::{Clock, Outcome, manifest, not_placed};
use doubt::{Doubt, Kind, Place};
use plate::{Blank, Intent, Layer, Material, Process, Sheet, Shop, Under};
use proof::{Proof, Settings, Survey, Watch, Zero};
use quantity::{Height, Length, Unit};
use rayon::prelude::*;
use read::Program;
use serde_json::json;
use sheet::TakesAway;
use std::collections::BTreeMap;
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

/// A program from elsewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct Foreign {
    /// The file's name.
    pub file: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// The shop's cutter named for it; otherwise its T word counts.
    pub cutter: Option<u32>,
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
const SHOWN: usize = 16 << 20;
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
    /// Seconds that each step took.
    pub seconds: Vec<(&'static str, f64)>,
    /// Whether the maker stopped it.
    pub stopped: bool,
}

/// Proves programs from anywhere against a plate, zeroed at the table or the face.
pub fn prove(
    plate: &Path,
    programs: &[Foreign],
    zero: Zero,
    settings: &Settings,
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
    let mut intent = job.intent;
    let mut raised = 0.0;
    let mut extra = Vec::new();
    if zero == Zero::Face {
        extra.push(zero_doubt(intent.blank.face));
        extra.extend(proof::face_doubt(&intent).map(|d| d.at(Place::file(taken.inputs.first().map_or("", |i| &i.0)))));
        (intent, raised) = proof::at_face(&intent, &job.shop.touch_off);
    }
    let read = read_all(programs, raised);
    let named: Vec<(Option<u32>, bool)> = programs.iter().map(|p| (p.cutter, true)).collect();
    match proof::prove_read(&job.shop, &intent, &read, &named, settings, watch) {
        Some(mut proof) => {
            proof.findings.extend(extra);
            proof.verdict = proof::verdict_of(&proof.findings);
            outcome.verdict = Some(proof.verdict);
            outcome.doubts.extend(proof.findings.iter().cloned());
            outcome.seconds.push(("proving", clock.lap()));
            if let Some(out) = out {
                let mut inputs = taken.inputs;
                inputs.extend(programs.iter().map(|p| (p.file.clone(), p.bytes.clone())));
                let files = proof_files(&intent, &proof);
                match place(out, &intent.title, &inputs, files, watch) {
                    Ok(written) => outcome.written = written,
                    Err(doubt) => outcome.doubts.push(*doubt),
                }
                outcome.seconds.push(("drawing pictures", clock.lap()));
            }
            outcome.proof = Some(proof);
        }
        None => outcome.seconds.push(("proving", clock.lap())),
    }
    outcome.stopped = outcome.proof.is_none() || watch.stopped();
    outcome.sources.extend(sources(programs));
    outcome
}

/// Says what programs do to a blank that only the command line describes.
pub fn survey(
    shop: &Path,
    blank: &NamedBlank,
    programs: &[Foreign],
    zero: Zero,
    settings: &Settings,
    out: Option<&Out>,
    watch: &dyn Watch,
) -> Surveyed {
    let mut surveyed = Surveyed::default();
    if let Some(doubt) = taken_place(out) {
        surveyed.doubts.push(doubt);
        return surveyed;
    }
    let mut clock = Clock::start();
    let name = shop.file_name().map_or_else(|| "shop.toml".into(), |n| n.to_string_lossy().into_owned());
    let text = match std::fs::read(shop).map(String::from_utf8) {
        Ok(Ok(text)) => text,
        Ok(Err(_)) => {
            let doubt = SHOP_UNREADABLE.refusal(format!("the shop file `{}` isn't text", shop.display()));
            surveyed.doubts.push(doubt.at(Place::file(&name)).way_out("name the right file with --shop"));
            return surveyed;
        }
        Err(error) => {
            let message = format!("the shop file `{}` can't be read: {error}", shop.display());
            let doubt = SHOP_UNREADABLE.refusal(message).at(Place::file(&name));
            surveyed.doubts.push(doubt.way_out("check its name and folder"));
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
    let read = read_all(programs, raised);
    let named: Vec<(Option<u32>, bool)> = programs.iter().map(|p| (p.cutter, true)).collect();
    match proof::survey(&shop, &lying, &read, &named, settings, watch) {
        Some(found) => {
            surveyed.doubts.extend(found.findings.iter().cloned());
            surveyed.seconds.push(("cutting", clock.lap()));
            if let Some(out) = out {
                let mut inputs = vec![(name, text.into_bytes())];
                inputs.extend(programs.iter().map(|p| (p.file.clone(), p.bytes.clone())));
                match place(out, "", &inputs, survey_files(lying, &found), watch) {
                    Ok(written) => surveyed.written = written,
                    Err(doubt) => surveyed.doubts.push(*doubt),
                }
                surveyed.seconds.push(("drawing pictures", clock.lap()));
            }
            surveyed.survey = Some(found);
        }
        None => surveyed.seconds.push(("cutting", clock.lap())),
    }
    surveyed.stopped = surveyed.survey.is_none() || watch.stopped();
    surveyed.sources.extend(sources(programs));
    surveyed
}

fn read_all(programs: &[Foreign], raised: f64) -> Vec<Program> {
    programs.par_iter().map(|p| read::read(&p.file, &p.bytes).raised(raised)).collect()
}

/// Texts that doubts can be shown in; of a very long one the line that a doubt quotes is enough.
fn sources(programs: &[Foreign]) -> impl Iterator<Item = (String, String)> {
    programs
        .iter()
        .filter(|p| p.bytes.len() <= SHOWN)
        .map(|p| (p.file.clone(), String::from_utf8_lossy(&p.bytes).into_owned()))
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
    folder::may_place(out?.disk, out?.folder).err().map(|e| not_placed(&e))
}

/// Files of a folder, with their names.
type Files = Vec<(String, Vec<u8>)>;

fn place(
    out: &Out,
    title: &str,
    inputs: &[(String, Vec<u8>)],
    mut files: Files,
    watch: &dyn Watch,
) -> Result<Option<(PathBuf, Vec<String>)>, Box<Doubt>> {
    let manifest = manifest::text(title, inputs, &files, out.date);
    files.push((folder::MANIFEST.into(), manifest.into_bytes()));
    match folder::place(out.disk, out.folder, &files, &|| watch.stopped()) {
        Ok(()) => Ok(Some((out.folder.to_owned(), files.into_iter().map(|f| f.0).collect()))),
        Err(PlaceError::Stopped) => Ok(None),
        Err(error) => Err(Box::new(not_placed(&error))),
    }
}

fn proof_files(intent: &Intent, proof: &Proof) -> Files {
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
    files.push(("proof.json".into(), pretty(&json!(proof))));
    files.push(("proof.txt".into(), proof::report(proof).into_bytes()));
    let loads = proof.stages.iter().map(|s| (s.file.as_str(), s.loads.as_slice()));
    files.push(("loads.csv".into(), proof::loads_table(loads).into_bytes()));
    files
}

fn survey_files(blank: Blank, survey: &Survey) -> Files {
    let intent = Intent {
        title: String::new(),
        blank,
        areas: Vec::new(),
        outline: None,
        holds: Vec::new(),
        cutters: Vec::new(),
    };
    let takes = survey.programs.iter().enumerate().map(|(i, program)| TakesAway {
        number: i + 1,
        file: &program.file,
        cutter: (program.cutter_number, &program.cutter),
        minutes: program.minutes,
        removed: program.cutter_use.removed,
        before: i.checked_sub(1).and_then(|i| survey.programs.get(i)).map(|p| &p.relief),
        after: &program.relief,
    });
    let mut files = pictures(&intent, takes.collect());
    files.push(("survey.json".into(), pretty(&json!(survey))));
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

fn pretty(value: &serde_json::Value) -> Vec<u8> {
    let mut text = serde_json::to_string_pretty(value).unwrap_or_default();
    text.push('\n');
    text.into_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 in = 25.4 mm exactly.
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
