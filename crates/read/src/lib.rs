//! Program text to moves: a strict modal interpreter of the ISO 6983 / RS-274 subset that small
//! routers run, with its own number, unit and arc decoding and its own types.
//!
//! It knows nothing of who wrote the text, and never reaches the planner or the writer. Anything not
//! explicitly allowed is refused with the line; what is legal but beyond the subset is *undecided*.
//! The language is that of NISTIR 6556 (Kramer, Proctor, Messina, 2000). Its tables and worked values were read; the
//! numbers of its sections from 3.5 on are given from memory, and so are the details of the drilling cycles.
//!
//! [`read`] and [`read_from`] take a file line by line; a line goes through `line` (characters to words, with `parameters`), `block`
//! (words to codes) and `interpreter` (codes to moves; `cuts`, `arcs`). A refused line has no effect but that nothing
//! is known for certain afterwards; reading goes on, and what lacks only because of it isn't reported again. What a line
//! needs from those before it is one value (`state`); the text is kept once (`text`), with that value every 64 KiB, and
//! the moves of a long program are read again from there (`replay`).

mod arcs;
mod block;
mod cuts;
mod doubts;
mod interpreter;
mod kinds;
mod line;
mod modes;
mod moves;
mod parameters;
mod program;
mod replay;
mod state;
mod text;
mod trouble;

pub use kinds::KINDS;
pub use moves::{Axis, Move, Plane, Program, Shape, Spindle, Stated};
pub use program::{read, read_from, read_text};
pub use replay::Moves;
pub use text::Lines;
