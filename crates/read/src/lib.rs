//! Program text to moves: a strict modal interpreter of the ISO 6983 / RS-274 subset that small
//! routers run, with its own number, unit and arc decoding and its own types.
//!
//! It knows nothing of who wrote the text, and never reaches the planner or the writer. Anything not
//! explicitly allowed is refused with the line; what is legal but beyond the subset is *undecided*.
//! The language is that of NISTIR 6556 (Kramer, Proctor, Messina, 2000).

mod moves;

pub use moves::{Axis, Move, Plane, Program, Shape, Spindle, Stated};
