//! The prover: program text, shop and intent to a verdict.
//!
//! It gets the bytes that would go to the machine and nothing from the planner, cuts them in a model of the blank and
//! says whether they make this plate and touch nothing else. It never reaches `plan`, `reach`, `motion` or `write`.

mod verdict;

pub use verdict::{CutterUse, HandWork, HeightMap, Proof, StageProof, Verdict, WallFigures};
