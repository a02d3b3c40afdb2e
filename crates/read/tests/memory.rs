//! Long programs: memory stays below twice the text and a constant, the time is spent once, and the moves that aren't
//! kept as values are the same ones again.

#![expect(clippy::unwrap_used, reason = "a stream that fails fails its test")]

use peak_alloc::PeakAlloc;
use read::{Move, Program, Shape, read_from};
use std::io::{BufReader, Read};
use std::sync::{Mutex, PoisonError};

#[global_allocator]
static COUNTED: PeakAlloc = PeakAlloc;

/// Only one is measured at a time.
static ONE: Mutex<()> = Mutex::new(());

/// What a text of no length may take, bytes: 250,000 moves as values, doubts, one line's moves.
const CONSTANT: usize = 64_000_000;

/// A program made as it is read, so that nothing but the reader holds it: a line number, a line, arc or rise in each line,
/// some with comments, some with several words that change nothing.
struct Made {
    length: usize,
    given: usize,
    line: usize,
    waiting: Vec<u8>,
}

impl Made {
    fn new(length: usize) -> Self {
        let start = b"%\nG21 G17 G90 G94 G98\nT1\n(dial 3 = 18000 rev/min)\nS18000 M3\nG0 Z5\nG0 X0 Y0\nF900\n";
        Self { length, given: 0, line: 0, waiting: start.to_vec() }
    }

    /// The shortest legal lines there are, after which the text means most for its length.
    fn dense(length: usize) -> Self {
        Self { line: usize::MAX, ..Self::new(length) }
    }

    fn next(&mut self) {
        let i = self.line;
        self.waiting.clear();
        let text = if i == usize::MAX {
            "X1\nX2\n".into()
        } else {
            self.line += 1;
            match i % 5 {
                0 => {
                    format!("N{} G1 X{}.{:03} Y{:.4} Z-0.5\n", i % 100_000, i % 300, i % 997, (i % 7919) as f64 / 100.0)
                }
                1 => "g91 g2 x2 y0 i1 j0\n".into(),
                2 => "G90 (back to places)\n".into(),
                3 => format!("g1x{}y{}\r\n", i % 200, i % 100),
                _ => format!("G0 Z{} ; up\n", 1 + i % 9),
            }
        };
        self.waiting.extend_from_slice(text.as_bytes());
    }
}

impl Read for Made {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let mut taken = 0;
        while taken < buffer.len() {
            if self.waiting.is_empty() {
                if self.given >= self.length {
                    // The end comes once, and then nothing.
                    if self.given == usize::MAX {
                        break;
                    }
                    self.given = usize::MAX;
                    self.waiting = b"M5\nM30\n%\n".to_vec();
                    continue;
                }
                self.next();
            }
            let n = self.waiting.len().min(buffer.len() - taken);
            buffer[taken..taken + n].copy_from_slice(&self.waiting[..n]);
            self.waiting.drain(..n);
            self.given = self.given.saturating_add(n);
            taken += n;
        }
        Ok(taken)
    }
}

fn read_made(made: Made, length: usize) -> Program {
    let before = COUNTED.current_usage();
    COUNTED.reset_peak_usage();
    let program = read_from("long.nc", BufReader::with_capacity(8192, made)).unwrap();
    let most = COUNTED.peak_usage() - before;
    println!(
        "{length} bytes, {} lines, {} moves: {most} bytes at most, {} kept",
        program.lines.len(),
        program.moves.len(),
        COUNTED.current_usage() - before
    );
    assert!(most < 2 * length + CONSTANT, "{most}");
    program
}

fn check(length: usize) {
    let program = read_made(Made::new(length), length);
    assert_eq!(program.doubts.iter().map(|d| d.id).collect::<Vec<_>>(), ["semicolon-comment"]);
    // Four of five lines move; the rest are the beginning and the end.
    assert_eq!(
        program.moves.len(),
        (program.lines.len() - 11) / 5 * 4 + (program.lines.len() - 11) % 5 + 2 - extra(&program)
    );
    // Read again from the text, every move begins where the last one ended.
    let mut last: Option<Move> = None;
    let mut arcs = 0;
    for m in program.moves.iter() {
        assert!(last.is_none_or(|l| l.to == m.from && l.line < m.line), "{last:?} {m:?}");
        if let (Shape::Arc { centre, .. }, Some(a), Some(b)) = (m.shape, m.from[0], m.to[0]) {
            assert!((centre[0] - a - 1.0).abs() < 1e-9 && (b - a - 2.0).abs() < 1e-9);
            arcs += 1;
        }
        last = Some(m);
    }
    assert_eq!(arcs, program.moves.len() / 4);
    assert_eq!(program.moves.last(), last);
    // By their index, forward and back.
    let some: Vec<usize> = (0..40).map(|i| i * (program.moves.len() - 1) / 39).collect();
    let there: Vec<Option<Move>> = some.iter().map(|&i| program.moves.get(i)).collect();
    let back: Vec<Option<Move>> = some.iter().rev().map(|&i| program.moves.get(i)).collect();
    assert!(there.iter().eq(back.iter().rev()) && there.iter().all(Option::is_some));
    let line = |m: Move| program.lines.get(m.line as usize - 1).unwrap().into_owned();
    assert!(there.into_iter().flatten().skip(1).all(|m| match m.shape {
        Shape::Arc { .. } => line(m) == "g91 g2 x2 y0 i1 j0",
        Shape::Rapid => line(m).starts_with("G0 Z"),
        _ => line(m).contains(['x', 'X']),
    }));
}

/// Of the last, incomplete group of five, the third line moves nothing.
fn extra(program: &Program) -> usize {
    usize::from((program.lines.len() - 11) % 5 >= 3)
}

#[test]
fn twenty_megabytes() {
    let _one = ONE.lock().unwrap_or_else(PoisonError::into_inner);
    check(20_000_000);
}

#[test]
fn the_shortest_lines() {
    let _one = ONE.lock().unwrap_or_else(PoisonError::into_inner);
    let program = read_made(Made::dense(3_000_000), 3_000_000);
    assert_eq!(program.moves.len(), 2 + (3_000_000_usize - 81).div_ceil(6) * 2);
    assert_eq!(program.moves.iter().filter(|m| m.to[0] == Some(2.0)).count(), (program.moves.len() - 2) / 2);
}

/// One line without end is neither kept nor run.
#[test]
fn a_line_without_end() {
    let _one = ONE.lock().unwrap_or_else(PoisonError::into_inner);
    let before = COUNTED.current_usage();
    COUNTED.reset_peak_usage();
    let program = read_from("long.nc", BufReader::new(std::io::repeat(b'G').take(30_000_000))).unwrap();
    assert!(COUNTED.peak_usage() - before < 1_000_000);
    let message = &program.doubts[0].message;
    assert_eq!(message, "the line has 30000000 characters; 256 are allowed");
}

/// Every line sets parameters anew, so that the state kept with the text is as large as it can be.
#[test]
fn states_are_small_beside_the_text() {
    let _one = ONE.lock().unwrap_or_else(PoisonError::into_inner);
    let set: String = (1..5400).map(|i| format!("#{i}=1\n")).collect();
    let text = format!("G21 G90\n{}\nG0 X1\nM2\n", set.repeat(60));
    let before = COUNTED.current_usage();
    COUNTED.reset_peak_usage();
    let program = read_from("long.nc", text.as_bytes()).unwrap();
    let kept = COUNTED.current_usage() - before;
    println!("{} bytes: {kept} kept", text.len());
    assert!(kept < text.len() * 3 / 2 + 1_000_000, "{kept}");
    assert_eq!(program.moves.len(), 1);
}

#[test]
#[ignore = "takes a minute; ./test.sh --long runs it"]
fn a_hundred_megabytes() {
    let _one = ONE.lock().unwrap_or_else(PoisonError::into_inner);
    check(100_000_000);
}
