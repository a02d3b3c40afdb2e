//! What programs do to a blank where no plate file says what they should do.
//!
//! It is the same run as a proof, of a plate on which nothing is wanted: whatever needs a plate to be right or wrong is
//! left out, and what remains is wrong on any plate, such as a rapid through material or a cut into the table. Nothing is
//! ever *proven* here.

use crate::verdict::{CutterUse, HeightMap, MoveLoad, Proof, Spot, Verdict};
use crate::{Settings, Watch, kinds, prove_read};
use doubt::Doubt;
use plate::{Blank, Intent, Shop};
use quantity::trimmed;
use read::{Move, Plane, Program, Shape};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write;

/// Heights of floors are told apart in steps of this, mm.
const STEP: f64 = 0.001;
/// Most floors told one by one.
const FLOORS: usize = 8;
/// Most samples that floors are counted by.
const SAMPLES: f64 = 4e6;
/// Most lines below the table told one by one.
const LINES: usize = 20;
/// A floor of less than this isn't told by itself, mm².
const SMALL: f64 = 0.5;
/// A move is below the table if it is lower than this, mm.
const BELOW: f64 = -1e-6;

/// Kinds of finding that compare with a plate.
const COMPARING: [&doubt::Kind; 11] = [
    &kinds::CUTTER_NOT_ALLOWED,
    &kinds::GOUGE,
    &kinds::WALL_GOUGE,
    &kinds::LEFTOVER,
    &kinds::WALL_LEFTOVER,
    &kinds::THROUGH_MISSING,
    &kinds::WRONG_LAYER,
    &kinds::MARGIN_CUT,
    &kinds::TAB_MISSING,
    &kinds::SKIN_MISSING,
    &kinds::STROKE_LOST,
];

/// What programs do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Survey {
    /// Refused or undecided; `None` if nothing speaks against the programs by themselves. Never proven.
    pub verdict: Option<Verdict>,
    /// Size of the blank in x and y, mm.
    pub size: [f64; 2],
    /// Heights of its underside and face above the table, mm.
    pub heights: [f64; 2],
    /// One for each program, in the order they are run.
    pub programs: Vec<ProgramSurvey>,
    /// What all of them leave: floors, the largest first, the face among them.
    pub leaves: Vec<Floor>,
    /// Area of slopes and of small floors, mm².
    pub leaves_otherwise: f64,
    /// Findings: refusals first.
    pub findings: Vec<Doubt>,
    /// Places of findings that can be shown, in the findings' order.
    #[serde(skip)]
    pub spots: Vec<Spot>,
    /// Pitch of the grid, mm.
    pub pitch: f64,
    /// Why that pitch; empty where nobody chose it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub pitch_why: String,
    /// Distance of the samples that areas are counted by, mm.
    pub sampled: f64,
}

/// What one program does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ProgramSurvey {
    /// File name.
    pub file: String,
    /// The cutter's number; 0 if it isn't known.
    pub cutter_number: u32,
    /// Its name.
    pub cutter: String,
    /// Its cutting width, mm.
    pub cutting_width: f64,
    /// Predicted minutes.
    pub minutes: f64,
    /// Number of moves.
    pub moves: usize,
    /// Least and greatest x, y and z of all moves, mm from the zero corner and the table.
    pub reach: [Option<[f64; 2]>; 3],
    /// Figures of what the cutter does.
    pub cutter_use: CutterUse,
    /// How far below the face it reaches, mm; `None` if it stays above.
    pub below_face: Option<f64>,
    /// Moves that reach below the table.
    pub below_table: Vec<BelowTable>,
    /// How many there are in all.
    pub below_table_count: usize,
    /// Floors that it cuts, the largest first.
    pub cuts: Vec<Floor>,
    /// Area of slopes and of small floors that it cuts, mm².
    pub cuts_otherwise: f64,
    /// What each move in material asks of the cutter.
    #[serde(skip)]
    pub loads: Vec<MoveLoad>,
    /// The model after it, for pictures.
    #[serde(skip)]
    pub relief: HeightMap,
}

/// A move below the table.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BelowTable {
    /// The program's line.
    pub line: u32,
    /// The lowest height it reaches, mm.
    pub height: f64,
}

/// A level place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Floor {
    /// mm above the table; `None` where the blank is cut through.
    pub height: Option<f64>,
    /// Its area, mm², counted by samples.
    pub area: f64,
}

/// Says what programs do to a blank, each with the cutter named beside it and whether it cuts; `None` if stopped.
pub fn survey(
    shop: &Shop,
    blank: &Blank,
    programs: &[Program],
    named: &[(Option<u32>, bool)],
    settings: &Settings,
    watch: &dyn Watch,
) -> Option<Survey> {
    let intent = Intent {
        title: String::new(),
        blank: blank.clone(),
        areas: Vec::new(),
        outline: None,
        holds: Vec::new(),
        cutters: shop.cutters.iter().map(|c| c.number).collect(),
    };
    let settings = Settings { picture_pitch: sampled(blank, settings.picture_pitch), ..*settings };
    let proof = prove_read(shop, &intent, programs, named, &settings, watch)?;
    Some(Survey::of(proof, blank, programs))
}

/// Distance of the samples that floors are counted by, mm, where pictures ask for no finer ones: a sample holds the least
/// height within it, so that finer ones tell areas better.
pub fn sampled(blank: &Blank, picture_pitch: f64) -> f64 {
    let area = blank.size.iter().map(|l| l.to_mm().max(0.0)).product::<f64>();
    (area / SAMPLES).sqrt().min(picture_pitch)
}

impl Survey {
    fn of(proof: Proof, blank: &Blank, programs: &[Program]) -> Self {
        let (mut findings, mut spots) = (Vec::new(), Vec::new());
        for (index, finding) in proof.findings.into_iter().enumerate() {
            if COMPARING.iter().any(|kind| kind.id == finding.id) {
                continue;
            }
            let own = proof.spots.iter().filter(|s| s.finding == index);
            spots.extend(own.map(|s| Spot { finding: findings.len(), ..s.clone() }));
            findings.push(finding);
        }
        let verdict = match crate::stages::verdict(&findings) {
            Verdict::Proven => None,
            other => Some(other),
        };
        let heights = [blank.underside.to_mm(), blank.face.to_mm()];
        let sampled = proof.relief.pitch;
        let mut before: Option<&HeightMap> = None;
        let mut found = Vec::new();
        for (stage, program) in proof.stages.iter().zip(programs) {
            let (cuts, cuts_otherwise) = floors(before, &stage.relief, heights);
            let (below_table, below_table_count) = below_table(program);
            before = Some(&stage.relief);
            let lowest = stage.cutter_use.lowest;
            found.push(ProgramSurvey {
                file: stage.file.clone(),
                cutter_number: stage.cutter_number,
                cutter: stage.cutter.clone(),
                cutting_width: stage.cutting_width,
                minutes: stage.minutes,
                moves: program.moves.len(),
                reach: reach(program),
                cutter_use: stage.cutter_use,
                below_face: Some(heights[1] - lowest).filter(|d| d.is_finite() && *d > 0.0),
                below_table,
                below_table_count,
                cuts,
                cuts_otherwise,
                loads: stage.loads.clone(),
                relief: stage.relief.clone(),
            });
        }
        let nothing = HeightMap::default();
        let last = found.last().map_or(&nothing, |p| &p.relief);
        let untouched = HeightMap { heights: vec![f32::INFINITY; last.heights.len()], ..last.clone() };
        let (leaves, leaves_otherwise) = floors(Some(&untouched), last, heights);
        let size = blank.size.map(quantity::Length::to_mm);
        Self {
            verdict,
            size,
            heights,
            programs: found,
            leaves,
            leaves_otherwise,
            findings,
            spots,
            pitch: proof.pitch,
            pitch_why: String::new(),
            sampled,
        }
    }
}

/// The floors where a model is lower than before (or than the face), and the area of everything else that is.
fn floors(before: Option<&HeightMap>, after: &HeightMap, [underside, face]: [f64; 2]) -> (Vec<Floor>, f64) {
    let sample = after.pitch * after.pitch;
    let mut levels: BTreeMap<i64, u64> = BTreeMap::new();
    for (i, &height) in after.heights.iter().enumerate() {
        let was = before.map_or(face, |b| b.heights.get(i).copied().map_or(face, f64::from));
        let height = f64::from(height);
        if height < was - STEP {
            let through = height <= underside + STEP;
            let level = if through { i64::MIN } else { (height / STEP).round() as i64 };
            *levels.entry(level).or_default() += 1;
        }
    }
    let mut floors: Vec<Floor> = levels
        .into_iter()
        .map(|(level, samples)| Floor {
            height: (level != i64::MIN).then_some(level as f64 * STEP),
            area: samples as f64 * sample,
        })
        .collect();
    floors.sort_by(|a, b| b.area.total_cmp(&a.area));
    let told = floors.iter().take(FLOORS).take_while(|f| f.area >= SMALL).count();
    let otherwise = floors.drain(told..).map(|f| f.area).sum();
    (floors, otherwise)
}

fn reach(program: &Program) -> [Option<[f64; 2]>; 3] {
    let mut reach = [None; 3];
    for m in program.moves.iter() {
        for (axis, reach) in reach.iter_mut().enumerate() {
            for v in [m.from[axis], m.to[axis]].into_iter().flatten().chain(bulges(&m, axis)) {
                let [low, high] = reach.unwrap_or([v, v]);
                *reach = Some([low.min(v), high.max(v)]);
            }
        }
    }
    reach
}

/// Where an arc turns back along an axis.
fn bulges(m: &Move, axis: usize) -> impl Iterator<Item = f64> + use<> {
    let mut found = Vec::new();
    if let Shape::Arc { plane, centre, radius, sweep } = m.shape {
        let axes = match plane {
            Plane::Xy => [0, 1],
            Plane::Zx => [2, 0],
            Plane::Yz => [1, 2],
        };
        if let (Some(which), Some(a), Some(b)) =
            (axes.iter().position(|&a| a == axis), m.from[axes[0]], m.from[axes[1]])
        {
            let start = libm::atan2(b - centre[1], a - centre[0]);
            for (quarter, sign) in [(0.0, 1.0), (2.0, -1.0)] {
                let turning = (quarter + which as f64) * std::f64::consts::FRAC_PI_2;
                let way = if sweep > 0.0 { turning - start } else { start - turning };
                if way.rem_euclid(std::f64::consts::TAU) <= sweep.abs() {
                    found.push(centre[which] + sign * radius);
                }
            }
        }
    }
    found.into_iter()
}

fn below_table(program: &Program) -> (Vec<BelowTable>, usize) {
    let (mut told, mut count) = (Vec::new(), 0);
    for m in program.moves.iter().filter(|m| !matches!(m.shape, Shape::Dwell { .. })) {
        let heights = [m.from[2], m.to[2]].into_iter().flatten().chain(bulges(&m, 2));
        let lowest = heights.fold(f64::INFINITY, f64::min);
        if lowest < BELOW {
            count += 1;
            if told.len() < LINES {
                told.push(BelowTable { line: m.line, height: lowest });
            }
        }
    }
    (told, count)
}

/// A survey in words: the answer first, then each program, what is left, and every finding.
pub fn survey_report(survey: &Survey) -> String {
    let mut text = String::new();
    let refusals = survey.findings.iter().filter(|d| d.blocks()).count();
    let answer = match survey.verdict {
        None | Some(Verdict::Proven) => "NOT COMPARED: nothing speaks against these programs by themselves.".to_owned(),
        Some(Verdict::Refused) if refusals == 1 => "REFUSED: 1 fault. Do not run these programs.".to_owned(),
        Some(Verdict::Refused) => format!("REFUSED: {refusals} faults. Do not run these programs."),
        Some(Verdict::Undecided) => "UNDECIDED: the text leaves something open. Do not run these programs.".to_owned(),
    };
    let [underside, face] = survey.heights;
    let _ = writeln!(text, "{answer}\n");
    let _ =
        writeln!(text, "Without a plate file nothing says what they should cut; this is what they do to a blank of");
    let _ = writeln!(
        text,
        "{} x {} mm, {} mm thick, whose face is {} mm above the table, in a model of cells {} mm apart{}{}.\n",
        trimmed(survey.size[0], 3),
        trimmed(survey.size[1], 3),
        trimmed(face - underside, 3),
        trimmed(face, 3),
        trimmed(survey.pitch, 4),
        if survey.pitch_why.is_empty() { "" } else { ", " },
        survey.pitch_why
    );
    for (i, program) in survey.programs.iter().enumerate() {
        write_program(&mut text, i + 1, program, face);
    }
    let _ = writeln!(text, "Left after all of them (areas by samples {} mm apart):", trimmed(survey.sampled, 3));
    write_floors(&mut text, &survey.leaves, survey.leaves_otherwise, face, "  ");
    if !survey.findings.is_empty() {
        let _ = writeln!(text, "\nFindings");
        for doubt in &survey.findings {
            let _ = writeln!(text, "\n{}", doubt::render(doubt, &(), false));
        }
    }
    text
}

fn write_program(text: &mut String, number: usize, program: &ProgramSurvey, face: f64) {
    let used = &program.cutter_use;
    let indent = "         ";
    let _ = writeln!(
        text,
        "Program {number}  {}  cutter {} ({}, cuts {} mm wide)  {:.1} min, {} moves",
        program.file,
        program.cutter_number,
        program.cutter,
        trimmed(program.cutting_width, 4),
        program.minutes,
        program.moves
    );
    let range = |axis: usize| match program.reach[axis] {
        Some([low, high]) => format!("{} to {}", trimmed(low, 3), trimmed(high, 3)),
        None => "nowhere".to_owned(),
    };
    let _ = writeln!(text, "{indent} moves over x {}, y {}, z {} mm", range(0), range(1), range(2));
    match program.below_face {
        Some(depth) => {
            let _ = writeln!(
                text,
                "{indent} deepest {} mm below the face, {} mm above the table",
                trimmed(depth, 3),
                trimmed(used.lowest, 3)
            );
        }
        None => {
            let _ = writeln!(text, "{indent} stays above the face");
        }
    }
    crate::report::write_use(text, &format!("{indent} "), "", used);
    if program.below_table_count > 0 {
        let lines: Vec<String> =
            program.below_table.iter().map(|b| format!("line {} ({} mm)", b.line, trimmed(b.height, 3))).collect();
        let more = program.below_table_count - program.below_table.len();
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        let _ = writeln!(text, "{indent} below the table: {}{more}", lines.join(", "));
    }
    if program.cuts.is_empty() && program.cuts_otherwise <= 0.0 {
        let _ = writeln!(text, "{indent} takes nothing away\n");
        return;
    }
    let _ = writeln!(text, "{indent} cuts");
    write_floors(text, &program.cuts, program.cuts_otherwise, face, &format!("{indent}   "));
    let _ = writeln!(text);
}

fn write_floors(text: &mut String, floors: &[Floor], otherwise: f64, face: f64, indent: &str) {
    for floor in floors {
        let area = trimmed(floor.area, 1);
        let _ = match floor.height {
            None => writeln!(text, "{indent}through: about {area} mm²"),
            Some(h) if h >= face - STEP => writeln!(text, "{indent}the face as it was: about {area} mm²"),
            Some(h) => writeln!(
                text,
                "{indent}floor {} mm above the table, {} below the face: about {area} mm²",
                trimmed(h, 3),
                trimmed(face - h, 3)
            ),
        };
    }
    if otherwise > 0.0 {
        let _ = writeln!(text, "{indent}slopes and small floors: about {} mm²", trimmed(otherwise, 1));
    }
}
