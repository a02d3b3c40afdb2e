//! What a sheet is made from. Everything here was decided elsewhere; nothing is decided here.

use doubt::Doubt;
use plate::{Intent, Shop};
use proof::{Proof, StageProof};
use quantity::{Feed, Height, Length, Speed};

/// A run's results, to be drawn and printed.
#[derive(Debug, Clone, Copy)]
pub struct Job<'a> {
    /// The workshop.
    pub shop: &'a Shop,
    /// What the plate shall be.
    pub intent: &'a Intent,
    /// What the programs were found to make.
    pub proof: &'a Proof,
    /// The programs in the order they are run, as the maker reads about them.
    pub stages: &'a [StageWords],
    /// The file name of the frame run (spindle off, above everything), if there is one.
    pub frame: Option<&'a str>,
    /// One sentence for each area. `*words*` are set in italics, `**words**` in bold.
    pub sentences: &'a [String],
    /// What was assumed, with its source.
    pub assumed: &'a [Doubt],
    /// What the maker should look at.
    pub doubts: &'a [Doubt],
    /// Sets of cutters that were compared.
    pub subsets: &'a [SubsetRow],
    /// What the cutters reach of each area.
    pub reach: &'a [ReachRow],
    /// Where the numbers come from, a line for each.
    pub why: &'a [String],
}

/// One program, as the maker reads about it.
#[derive(Debug, Clone, PartialEq)]
pub struct StageWords {
    /// Its file name.
    pub file: String,
    /// The shop's cutter number.
    pub cutter_number: u32,
    /// What it is for, one sentence without full stop: "Clears the field and the rim step".
    pub purpose: String,
    /// Spindle speed.
    pub speed: Speed,
    /// Position of the speed dial, where the spindle has one.
    pub dial: Option<String>,
    /// Greatest feed in material.
    pub feed: Feed,
    /// Greatest depth of a pass.
    pub pass_depth: Length,
    /// Height at which it traverses.
    pub traverse: Height,
    /// Height at which it hops between places near each other, away from holds, if it does.
    pub hop: Option<Height>,
    /// Numbers that the maker gave this cutter in place of those reckoned, with both.
    pub own: Vec<String>,
    /// What to look at before, during or after it, one sentence each.
    pub checks: Vec<String>,
}

/// What the cutters reach of one area.
#[derive(Debug, Clone, PartialEq)]
pub struct ReachRow {
    /// The area's name.
    pub area: String,
    /// The cutters that get to its floor, widest first, as the maker names them, each with the share that it clears, 0 to 1.
    pub cutters: Vec<(String, f64)>,
    /// Places left for hand by the last of them.
    pub by_hand: usize,
}

/// One set of cutters that was compared.
#[derive(Debug, Clone, PartialEq)]
pub struct SubsetRow {
    /// The cutters, as the maker names them.
    pub cutters: String,
    /// Predicted minutes, changes included.
    pub minutes: f64,
    /// Whether its programs were planned; if not, they would hardly take less than these minutes.
    pub planned: bool,
    /// What speaks for or against it.
    pub note: String,
}

impl<'a> Job<'a> {
    /// The proof's figures of the program at an index: by file name, else by place in the order.
    pub fn proof_of(&self, index: usize) -> Option<&'a StageProof> {
        let file = &self.stages.get(index)?.file;
        let stages = &self.proof.stages;
        stages.iter().find(|s| s.file == *file).or_else(|| stages.get(index))
    }

    /// Predicted minutes of all programs, without changes of cutter.
    pub fn minutes(&self) -> f64 {
        self.proof.stages.iter().map(|s| s.minutes).sum()
    }
}
