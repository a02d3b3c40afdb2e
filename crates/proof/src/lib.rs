//! The prover: program text, shop and intent to a verdict.
//!
//! It gets the bytes that would go to the machine and nothing from the planner, cuts them in a model of the blank and
//! says whether they make this plate and touch nothing else. It never reaches `plan`, `reach`, `motion` or `write`.
//!
//! One run: texts are read and charted as legs with known ends ([`course`]); a grid of heights is cut tile by tile
//! ([`relief`]) and each tile judged against the intent ([`judge`], [`intent`]); walls are probed exactly
//! ([`probes`], [`near`]); what is left is told apart into faults and hand work by the prover's own reckoning of
//! where the allowed cutters can get ([`access`], [`hand`]); loads, holds, table, travel, loose pieces and tabs follow
//! from the legs and what they touched. Without a plate file [`survey`] says what programs do by the same run; programs
//! zeroed at the blank's face are brought to the table by [`zero`](at_face).
//!
//! # Tolerance
//! Walls 0.010 mm, floors 0.002 mm. Inside, lengths are bare f64 in mm (heights of the grid f32, whose rounding is
//! 0.001 µm at these sizes), heights above the table.

mod access;
mod adrift;
mod bounds;
mod cause;
mod closeup;
mod course;
mod engage;
mod finding;
mod fineness;
mod hand;
mod heat;
mod intent;
mod judge;
mod kinds;
mod known;
mod lean;
mod leg;
mod loads;
mod loose;
mod near;
#[cfg(test)]
mod oracle;
mod probes;
mod profile;
mod relief;
mod report;
mod rows;
mod size;
mod spans;
mod stages;
mod survey;
mod tabs;
mod tile;
mod trace;
mod verdict;
mod zero;

pub use closeup::{CloseUp, Going, Look, close_ups, close_ups_within, reach};
pub use course::steps;
pub use fineness::{Pitch, fitting_pitch};
pub use heat::heat_sentence;
pub use kinds::KINDS;
pub use report::{loads_table, report};
pub use size::{Size, size};
pub use stages::{prove, prove_again, prove_read};
pub use survey::{BelowTable, Floor, ProgramSurvey, Survey, sampled, survey, survey_report};
pub use trace::{Passed, Running, Trace, trace};
pub use verdict::{
    CutterUse, HandWork, HeightMap, MoveLoad, Proof, SlowPlace, Spot, StageProof, Stretch, Verdict, WallFigures,
    WallPlace, WallReport,
};
pub use zero::{Zero, at_face, face_doubt, verdict_of};

/// One program's text.
#[derive(Debug, Clone, Copy)]
pub struct ProgramText<'a> {
    /// The file's name, for findings.
    pub file: &'a str,
    /// Its bytes as they would go to the machine.
    pub bytes: &'a [u8],
    /// The shop's cutter named beside the file; otherwise the text's T word counts.
    pub cutter: Option<u32>,
    /// False for the frame run, which must touch nothing and needs no spindle.
    pub cutting: bool,
}

/// How finely is proven.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Pitch of the grid, mm.
    pub pitch: f64,
    /// Pitch of the pictures, mm; rounded to a whole number of cells.
    pub picture_pitch: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self { pitch: 0.02, picture_pitch: 0.1 }
    }
}

impl Settings {
    /// The pitch within what a grid takes.
    fn pitch(&self) -> f64 {
        if self.pitch.is_finite() { self.pitch.clamp(0.005, 1.0) } else { Self::default().pitch }
    }
}

/// Someone who watches and may stop the work.
pub trait Watch: Sync {
    /// Share done, 0 to 1; may come from any thread and not in order.
    fn progress(&self, share: f64);
    /// A proof of this size begins.
    fn begins(&self, _: &Size) {}
    /// Whether to stop.
    fn stopped(&self) -> bool;
}

/// Nobody watches.
impl Watch for () {
    fn progress(&self, _: f64) {}
    fn stopped(&self) -> bool {
        false
    }
}
