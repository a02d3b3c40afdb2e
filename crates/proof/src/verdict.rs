//! What the prover says.

use doubt::Doubt;
use plane::Point;
use serde::Serialize;

/// The answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// The text makes the plate within tolerance and touches nothing else.
    Proven,
    /// It doesn't: at least one refusal.
    Refused,
    /// Something in the text or the files leaves it open; never counts as proven.
    Undecided,
}

/// Everything the prover found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Proof {
    /// The answer.
    pub verdict: Verdict,
    /// One for each program, in the order they are run.
    pub stages: Vec<StageProof>,
    /// Findings: refusals first, each with its program line and place.
    pub findings: Vec<Doubt>,
    /// What no cutter of the shop can reach.
    pub hand_work: Vec<HandWork>,
    /// How the walls came out.
    pub walls: WallFigures,
    /// The same area by area.
    pub wall_reports: Vec<WallReport>,
    /// How the floors came out: the greatest difference from intent where a cutter reaches, mm.
    pub greatest_floor_error: f64,
    /// Pitch of the grid, mm.
    pub pitch: f64,
    /// Why that pitch, as the end of "… mm apart, "; empty where nobody chose it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub pitch_why: String,
    /// Cells of the grid.
    pub cells: u64,
    /// Places of findings that can be shown, in the findings' order, the worst of each first.
    #[serde(skip)]
    pub spots: Vec<Spot>,
    /// The model at the end, for pictures; heights above the table.
    #[serde(skip)]
    pub relief: HeightMap,
}

/// A place of a finding.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Index of the finding among the proof's.
    pub finding: usize,
    /// Index of the program concerned, if one is.
    pub stage: Option<usize>,
    /// Its line, from 1.
    pub line: Option<u32>,
    /// Where, mm on the blank.
    pub at: Point,
    /// mm above the table, if a height matters.
    pub height: Option<f64>,
    /// How bad, in the finding's own unit; comparable within one kind.
    pub amount: f64,
    /// The amount in two or three words.
    pub words: String,
    /// What is wrong here.
    pub message: String,
}

/// One program.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StageProof {
    /// File name.
    pub file: String,
    /// The shop's cutter number that the T word names (or that was named beside the file).
    pub cutter_number: u32,
    /// The cutter's name.
    pub cutter: String,
    /// Its cutting width, mm.
    pub cutting_width: f64,
    /// Predicted minutes, without changes of cutter.
    pub minutes: f64,
    /// Figures of what the cutter does.
    pub cutter_use: CutterUse,
    /// What each move in material asks of the cutter, in the order of the program.
    #[serde(skip)]
    pub loads: Vec<MoveLoad>,
    /// Places where the machine is too slow for the thinnest chip, the longest first; five at most.
    pub slow_places: Vec<SlowPlace>,
    /// How far the cutter's front is in material along those moves, place by place.
    #[serde(skip)]
    pub stretches: Vec<Stretch>,
    /// The model after this stage, for pictures.
    #[serde(skip)]
    pub relief: HeightMap,
}

/// What one move (or a quarter turn of an arc) asks of the cutter, at its worst place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MoveLoad {
    /// Line of the program, from 1.
    pub line: u32,
    /// Length of the move, mm.
    pub length: f64,
    /// Engagement of the cutter's front, degrees.
    pub engagement: f64,
    /// Deepest cut below the surface met, mm.
    pub depth: f64,
    /// Radial width of the cut, mm.
    pub width: f64,
    /// Thickest chip of a flute, mm.
    pub thickest_chip: f64,
    /// Mean chip of a flute over the engaged angle, mm.
    pub mean_chip: f64,
    /// Removal rate, mm³/min: feed, depth and width.
    pub rate: f64,
    /// Power at the cut, W: rate times specific energy.
    pub power: f64,
    /// Peak side force of one flute, N: specific energy times chip section.
    pub force: f64,
    /// How far the force bends the cutter at its tip, mm.
    pub bend: f64,
}

/// A piece of a move in material, about half a radius long.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Line of the program, from 1.
    pub line: u32,
    /// Its middle on the blank, mm.
    pub at: [f64; 2],
    /// Where it begins and ends, mm.
    pub ends: [[f64; 2]; 2],
    /// Height of the tip there, mm above the table.
    pub z: f64,
    /// By how much the whole move falls, mm: an entry if more than nothing.
    pub fall: f64,
    /// mm.
    pub length: f64,
    /// Engagement of the cutter's front at the middle, degrees.
    pub engagement: f64,
}

/// A place where the machine is too slow for the thinnest chip.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SlowPlace {
    /// Line of the first move there, from 1.
    pub line: u32,
    /// Where, mm on the blank.
    pub at: Point,
    /// Height of the tip there, mm above the table.
    pub z: f64,
    /// Length that is slow there, all passes together, mm.
    pub length: f64,
    /// Moves that are slow there.
    pub passes: u32,
}

impl SlowPlace {
    /// Where and how much, in words.
    pub fn worded(&self) -> String {
        let length = quantity::trimmed(self.length, 1);
        format!("x {:.2} y {:.2} (line {}, {length} mm)", self.at.x, self.at.y, self.line)
    }
}

/// What a cutter does in one program.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct CutterUse {
    /// Length of path in material, mm.
    pub cutting_length: f64,
    /// Length of feed moves through air, mm.
    pub air_length: f64,
    /// Length of rapids, mm.
    pub rapid_length: f64,
    /// Length cut with chips thinner than the rubbing limit, mm (entries and corners).
    pub rubbing_length: f64,
    /// Length cut slower than the thinnest chip needs because the machine speeds up, brakes and rounds corners there, mm.
    pub slow_length: f64,
    /// Of a program that is slow for long, the length cut slower than half of that, mm.
    pub crawl_length: f64,
    /// The feed that the thinnest chip needs, mm/min; 0 if nothing is cut.
    pub slow_feed: f64,
    /// The thinnest chip that cuts rather than rubs, mm; 0 if nothing is cut.
    pub least_chip: f64,
    /// Length cut where even the thickest chip of the cut is thinner than that, by feed or because the cut is narrow, mm.
    pub thin_length: f64,
    /// Time that the cutter stands turning in the cut, s.
    pub dwell: f64,
    /// Material removed, mm³.
    pub removed: f64,
    /// Deepest cut below the surface it met, mm.
    pub deepest_bite: f64,
    /// Lowest height reached, mm above the table; infinite if it never comes down.
    pub lowest: f64,
    /// Thickest chip per flute, mm.
    pub thickest_chip: f64,
    /// Steepest entry into material, degrees.
    pub steepest_entry: f64,
    /// Widest engagement of the cutter's front, degrees: 180 is a slot.
    pub widest_engagement: f64,
    /// Greatest removal rate, mm³/min.
    pub greatest_rate: f64,
    /// Greatest power at the cut, W.
    pub greatest_power: f64,
    /// Greatest peak side force of one flute, N.
    pub greatest_force: f64,
    /// How far that force bends the cutter, mm.
    pub greatest_bend: f64,
    /// Line of the program that asks for that force; 0 if nothing is cut.
    pub hardest_line: u32,
    /// Feed moves shorter than the machine's smallest step.
    pub short_moves: u64,
    /// Extents of the moves with feed, mm: least x, least y, greatest x, greatest y.
    pub extents: Option<[f64; 4]>,
}

/// A spot that only the hand can finish.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HandWork {
    /// The area's name.
    pub area: String,
    /// Where, mm on the blank.
    pub at: Point,
    /// Floor that it shall reach, mm above the table.
    pub floor: f64,
    /// Area of what is left, mm².
    pub area_left: f64,
    /// Greatest distance from a wall to where the cutters reach, mm: the gap in the corner.
    pub gap: f64,
    /// Diameter of the flat cutter that would take it, mm; `None` for a sharp corner that none takes.
    pub cutter_needed: Option<f64>,
    /// Why: too narrow, a corner, or too deep for the flutes.
    pub why: String,
}

/// How the walls came out at the probes.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct WallFigures {
    /// Probes set.
    pub probes: u64,
    /// Probes at hand work.
    pub at_hand_work: u64,
    /// Deepest cut into a wall, mm (positive is beyond the wall).
    pub worst_gouge: f64,
    /// Most material left on a wall where a cutter reaches, mm.
    pub worst_leftover: f64,
    /// Root mean square of the signed distances where a cutter reaches, mm.
    pub rms: f64,
}

/// How the walls of one area came out, where a cutter reaches.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WallReport {
    /// The area's name.
    pub area: String,
    /// Probes by how far the edge came beyond the wall, mm: upper bounds and counts, the last without a bound.
    pub histogram: Vec<(Option<f64>, u64)>,
    /// The places farthest off, worst first, ten at most and none within 1 mm of a worse one.
    pub worst: Vec<WallPlace>,
}

/// A place on a wall.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WallPlace {
    /// mm on the blank.
    pub at: Point,
    /// Height of the probe above the table, mm.
    pub height: f64,
    /// How far the edge came beyond the wall, mm; negative is left.
    pub off: f64,
    /// File and line of the move that came nearest.
    pub by: Option<(String, u32)>,
}

/// Heights on a coarser grid, for pictures.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HeightMap {
    /// mm between samples.
    pub pitch: f64,
    /// Lower left corner of the first cell, mm on the blank.
    pub origin: Point,
    /// Cells in x.
    pub columns: usize,
    /// Cells in y.
    pub rows: usize,
    /// Heights above the table, mm, row by row from the lower left; the least height of the fine cells under each.
    pub heights: Vec<f32>,
}
