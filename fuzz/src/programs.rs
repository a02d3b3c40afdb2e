//! What must hold of reading a program's text: the properties that the tests of `read` use, time, and memory.

use crate::{Held, memory};
use read::read_from;

#[path = "../../crates/read/tests/common/mod.rs"]
mod common;

/// Memory for a text of no length: the moves kept as values (250,000 of some 200 bytes, twice while they are moved to a
/// larger place), doubts, parameters and one line's moves.
const CONSTANT: usize = 120_000_000;

/// Whether all properties hold of these bytes.
pub fn check(data: &[u8]) -> Held {
    let text = common::text_of(data);
    let began = std::time::Instant::now();
    let (read, most) = memory::most_during(|| read_from("a.nc", &text[..]));
    let bound = 2 * text.len() + CONSTANT;
    if most > bound {
        return Err(format!("memory: {most} bytes for a text of {}", text.len()));
    }
    let moves = read.map_or(0, |p| p.moves.len());
    common::check(&text)?;
    // Work is bounded by the text and what it grows to; a second is some hundred times what that takes.
    let (seconds, allowed) = (began.elapsed().as_secs_f64(), 1.0 + 1e-5 * moves as f64 + 1e-5 * text.len() as f64);
    if seconds > allowed { Err(format!("slow: {seconds} s for {} bytes and {moves} moves", text.len())) } else { Ok(()) }
}
