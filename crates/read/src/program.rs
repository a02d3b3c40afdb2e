//! A whole file: its lines one after the other, its end, its dial notes.

use crate::doubts::{Doubts, Spot};
use crate::kinds;
use crate::replay::{Kept, Moves};
use crate::state::{Part, State};
use crate::text::{Extent, Lines, Text, bare, next_line};
use crate::trouble::Trouble;
use crate::{Program, Stated};
use std::io::{self, BufRead};
use std::sync::Arc;

/// Most dial notes.
const DIAL_NOTES: usize = 10_000;

/// Reads a program. It never fails: what isn't understood is among the doubts.
///
/// Bytes that aren't UTF-8 are refused outside comments. Places count characters; byte spans are those of the file.
pub fn read(file_name: &str, bytes: &[u8]) -> Program {
    // A slice is a stream without faults.
    read_from(file_name, bytes).unwrap_or_else(|_| Reading::new(file_name).end())
}

/// Reads a program that is text already; like [`read`].
pub fn read_text(file_name: &str, text: &str) -> Program {
    read(file_name, text.as_bytes())
}

/// Reads a program from a stream; like [`read`]. Memory stays below the file's length, half as much again, and some
/// 60 MB.
///
/// # Errors
/// What the stream itself reports.
pub fn read_from(file_name: &str, mut source: impl BufRead) -> io::Result<Program> {
    let mut reading = Reading::new(file_name);
    let mut line = Vec::new();
    while let Some(extent) = next_line(&mut source, &mut line)? {
        reading.take(&line, extent);
    }
    Ok(reading.end())
}

#[derive(Default)]
struct Reading {
    state: State,
    text: Text,
    doubts: Doubts,
    /// The first moves.
    kept: Kept,
    moves: usize,
    /// Whether anything but a dwell is among the moves.
    moved: bool,
    dial_notes: Vec<(u32, f64)>,
    /// Bytes of the file so far.
    offset: usize,
    last: Option<Held>,
    semicolon_noted: bool,
    /// Lines with text after the end: the first, and how many.
    after_end: Option<(Held, usize)>,
}

/// A line to come back to.
#[derive(Clone)]
struct Held {
    line: usize,
    offset: usize,
    bytes: Vec<u8>,
}

impl Held {
    fn text(&self) -> String {
        String::from_utf8_lossy(&self.bytes).into_owned()
    }
}

impl Reading {
    fn new(file_name: &str) -> Self {
        Self { doubts: Doubts::new(file_name), ..Self::default() }
    }

    fn take(&mut self, line: &[u8], extent: Extent) {
        if self.text.wants_piece(self.state.interpreter.parameters.len()) {
            self.text.begin_piece(self.moves, self.state.to_keep());
        }
        self.text.add(line, extent);
        let (text, mark) = bare(line, self.offset == 0);
        let taken = self.state.take(&text, extent.beyond);
        let number = self.state.line;
        let bytes = &line[mark..];
        let spot = Spot { line: number as usize, offset: self.offset + mark, bytes, text: &text };
        if taken.after_end {
            let held = || Held { line: spot.line, offset: spot.offset, bytes: bytes.to_vec() };
            self.after_end.get_or_insert_with(|| (held(), 0)).1 += 1;
        }
        for speed in taken.dial_notes {
            if self.dial_notes.len() < DIAL_NOTES {
                self.dial_notes.push((number, speed));
                continue;
            }
            let message =
                format!("the program has more than {DIAL_NOTES} dial notes; those from here on aren't followed");
            let trouble = Trouble::caution(&kinds::UNDECIDED_DIAL_NOTES, 0..0, message);
            self.doubts.add(trouble.way_out("split the program where the dial is turned"), spot);
        }
        if let (Some(span), false) = (taken.semicolon, self.semicolon_noted) {
            self.semicolon_noted = true;
            let message = "a semicolon makes the rest of the line a comment, which the standard doesn't know";
            let note = Trouble::note(&kinds::SEMICOLON_COMMENT, span, message)
                .way_out("if the machine doesn't know it, write ( ) instead");
            self.doubts.add(note, spot);
        }
        for trouble in taken.troubles {
            self.doubts.add(trouble, spot);
        }
        self.keep_moves();
        let last = self.last.get_or_insert_with(|| Held { line: 0, offset: 0, bytes: Vec::new() });
        (last.line, last.offset) = (spot.line, spot.offset);
        last.bytes.clear();
        last.bytes.extend_from_slice(bytes);
        self.offset += extent.bytes;
    }

    fn keep_moves(&mut self) {
        let moves = self.state.moves();
        self.moved |= moves.iter().any(|m| !matches!(m.shape, crate::Shape::Dwell { .. }));
        self.kept.add(moves, self.moves);
        self.moves += moves.len();
    }

    fn end(mut self) -> Program {
        self.judge_end();
        let ended = self.state.ended();
        let interpreter = &self.state.interpreter;
        let stated = Stated {
            units: !interpreter.moved_without_unit && (self.moved || interpreter.modes.unit_stated),
            plane: !interpreter.turned_without_plane,
            distance_mode: !interpreter.moved_without_distance && (self.moved || interpreter.modes.distance_stated),
            end: ended,
        };
        let mut cutters: Vec<(u32, u32)> = interpreter.cutters.iter().map(|(cutter, line)| (*cutter, *line)).collect();
        cutters.sort_by_key(|c| c.1);
        self.text.close();
        let text = Arc::new(self.text);
        let (file, doubts) = self.doubts.close();
        let moves = Moves::new(self.kept, self.moves, Arc::clone(&text));
        Program { file, moves, lines: Lines(text), stated, cutters, dial_notes: self.dial_notes, doubts }
    }

    fn judge_end(&mut self) {
        if let Some((held, count)) = self.after_end.take() {
            let text = held.text();
            let (lines, are) = if count == 1 { ("line", "isn't") } else { ("lines", "aren't") };
            let message = format!("{count} {lines} after the end of the program {are} run");
            let note = Trouble::note(&kinds::TEXT_AFTER_END, 0..text.len(), message)
                .way_out("if they were meant to run, remove the end before them");
            let spot = Spot { line: held.line, offset: held.offset, bytes: &held.bytes, text: &text };
            self.doubts.add(note, spot);
        }
        let State { part, opened, closed, .. } = self.state;
        let (kind, message, way_out) = match (part, self.state.ended(), opened && !closed) {
            (Part::Before, ..) => (
                &kinds::PROGRAM_CUT_SHORT,
                "the file holds no program",
                "check that the right file was named and that it is complete",
            ),
            (_, false, true) => (
                &kinds::PROGRAM_CUT_SHORT,
                "the program began with % and has neither M2 nor M30 nor a closing %, so the file may be cut short",
                "write it out again and compare its length",
            ),
            (_, false, false) => (
                &kinds::PROGRAM_CUT_SHORT,
                "the program has neither M2 nor M30, so the file may be cut short",
                "write it out again and compare its length; if it is complete, add M30",
            ),
            (_, true, true) => (
                &kinds::PERCENT_UNCLOSED,
                "the program began with % and has no closing %",
                "write it out again, or remove the % at the beginning",
            ),
            _ => return,
        };
        let held = self.last.take().unwrap_or(Held { line: 1, offset: 0, bytes: Vec::new() });
        let text = held.text();
        let trouble = Trouble::refusal(kind, text.len()..text.len(), message).way_out(way_out);
        self.doubts.add(trouble, Spot { line: held.line, offset: held.offset, bytes: &held.bytes, text: &text });
    }
}
