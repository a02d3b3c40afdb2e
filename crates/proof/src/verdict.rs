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
    /// How the floors came out: the greatest difference from intent where a cutter reaches, mm.
    pub greatest_floor_error: f64,
    /// Pitch of the grid, mm.
    pub pitch: f64,
    /// Cells of the grid.
    pub cells: u64,
    /// The model at the end, for pictures; heights above the table.
    #[serde(skip)]
    pub relief: HeightMap,
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
    /// The model after this stage, for pictures.
    #[serde(skip)]
    pub relief: HeightMap,
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
