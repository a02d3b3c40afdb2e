//! What must hold of every text, whatever its bytes: used by the tests here and by the fuzz target.

use doubt::{Place, Severity};
use read::{Program, Shape, read, read_from};
use std::io::{BufReader, Read};

/// Moves of any text are at most its lines and this.
const MOST_MORE: usize = 2_000_000;

/// A stream that gives a few bytes at a time, their numbers taken from a seed.
pub(crate) struct Dribble<'a> {
    bytes: &'a [u8],
    seed: u32,
}

impl<'a> Dribble<'a> {
    /// From the first byte on.
    pub(crate) fn new(bytes: &'a [u8], seed: u32) -> Self {
        Self { bytes, seed }
    }
}

impl Read for Dribble<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        self.seed = self.seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let wanted = 1 + (self.seed >> 24) as usize % 7;
        let taken = wanted.min(self.bytes.len()).min(buffer.len());
        buffer[..taken].copy_from_slice(&self.bytes[..taken]);
        self.bytes = &self.bytes[taken..];
        Ok(taken)
    }
}

/// The text that a fuzzer's bytes stand for: the first one says how often the rest is repeated, so that texts are also long.
pub(crate) fn text_of(data: &[u8]) -> Vec<u8> {
    let Some((first, rest)) = data.split_first() else { return Vec::new() };
    rest.repeat(if first % 16 == 15 { 1 + usize::from(first / 16) * 40 } else { 1 })
}

/// Whether all properties hold; if not, which one and by how much.
pub(crate) fn check(bytes: &[u8]) -> Result<(), String> {
    let program = read("a.nc", bytes);
    is_sound(&program, bytes)?;
    let seed = bytes.iter().fold(bytes.len() as u32, |s, b| s.wrapping_mul(31).wrapping_add(u32::from(*b)));
    let streamed = read_from("a.nc", BufReader::with_capacity(5, Dribble::new(bytes, seed)));
    let streamed = streamed.map_err(|e| format!("stream: {e}"))?;
    if streamed != program {
        return Err(format!("stream: {streamed:?} instead of {program:?}"));
    }
    Ok(())
}

/// Every number is finite and within range, lines are lines of the text, moves join, doubts have places in the text and
/// say what to do; what isn't stated or understood is never passed over.
pub(crate) fn is_sound(program: &Program, bytes: &[u8]) -> Result<(), String> {
    let lines = program.lines.len();
    if lines != bytes.split_inclusive(|b| *b == b'\n').count() {
        return Err(format!("lines: {lines}"));
    }
    let understood = program.doubts.iter().all(|d| d.severity == Severity::Note);
    let mut last: Option<read::Move> = None;
    let mut count = 0;
    for m in program.moves.iter() {
        count += 1;
        let shape = match m.shape {
            Shape::Arc { centre, radius, sweep, .. } => {
                centre.iter().all(|c| c.is_finite()) && radius > 0.0 && sweep != 0.0 && sweep.abs() <= 6.283_185_4
            }
            Shape::Dwell { seconds } => seconds.is_finite() && seconds >= 0.0,
            _ => true,
        };
        let within = |at: [Option<f64>; 3]| at.into_iter().flatten().all(|v| v.is_finite() && v.abs() <= 1e6);
        let line = m.line >= 1 && m.line as usize <= lines && last.is_none_or(|l| l.line <= m.line);
        let feed = m.feed.is_none_or(|f| f > 0.0 && f <= 1e6);
        if !(shape && line && feed && within(m.from) && within(m.to)) {
            return Err(format!("move: {m:?}"));
        }
        let joined = last.is_none_or(|l| l.to.iter().zip(m.from).all(|(a, b)| b.is_none() || *a == b));
        if understood && !joined {
            return Err(format!("joint: {last:?} {m:?}"));
        }
        // Without a doubt a program is known to the last axis.
        let cuts = matches!(m.shape, Shape::Line | Shape::Arc { .. });
        if understood && cuts && m.feed.is_none() {
            return Err(format!("feed: {m:?}"));
        }
        last = Some(m);
    }
    if count != program.moves.len() || count > lines + MOST_MORE {
        return Err(format!("moves: {count} of {} in {lines} lines", program.moves.len()));
    }
    if understood
        && !(program.stated.end && program.stated.units && program.stated.distance_mode && program.stated.plane)
        && count > 0
    {
        return Err(format!("stated: {:?} without a doubt", program.stated));
    }
    for doubt in &program.doubts {
        let placed = doubt.places.iter().any(|p| matches!(p, Place::File { .. }));
        let inside = doubt.places.iter().all(|p| match p {
            Place::File { line, column, span, .. } => {
                *line <= lines.max(1)
                    && *column <= 257.max(bytes.len() + 1)
                    && span.start <= span.end
                    && span.end <= bytes.len()
            }
            Place::Program { line, text, .. } => (1..=lines.max(1)).contains(line) && text.chars().count() <= 256,
            _ => false,
        });
        if !placed || !inside || doubt.way_out.is_none() {
            return Err(format!("doubt: {doubt:?} of {} bytes in {lines} lines", bytes.len()));
        }
    }
    Ok(())
}
