//! A whole file: its lines, its beginning and end, its dial notes, and the doubts with their places.

use crate::interpreter::Interpreter;
use crate::kinds;
use crate::line::{Characters, LONGEST};
use crate::trouble::Trouble;
use crate::{Program, Stated};
use doubt::{Doubt, Place, Severity};
use std::collections::BTreeMap;

/// Most refusals that are listed, and most other doubts.
const MOST: usize = 50;

/// Reads a program. It never fails: what isn't understood is among the doubts.
///
/// Bytes that aren't UTF-8 are refused outside comments. Places count characters; byte spans are those of the text in
/// which such bytes are replaced by U+FFFD.
pub fn read(file_name: &str, bytes: &[u8]) -> Program {
    read_text(file_name, &String::from_utf8_lossy(bytes))
}

/// Reads a program that is text already; like [`read`].
pub fn read_text(file_name: &str, text: &str) -> Program {
    let mut reading = Reading { doubts: Doubts::new(file_name), ..Reading::default() };
    let mut offset = 0;
    for raw in text.split_inclusive('\n') {
        let line = raw.strip_suffix('\n').unwrap_or(raw);
        let line = line.strip_suffix('\r').unwrap_or(line);
        let line = if offset == 0 { line.strip_prefix('\u{feff}').unwrap_or(line) } else { line };
        let skipped = if offset == 0 && raw.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
        reading.take(line, offset + skipped);
        offset += raw.len();
    }
    reading.end()
}

/// Where in the file the reading is.
#[derive(Debug, Default, Clone, Copy, PartialEq)]
enum Part {
    /// Nothing but blank lines yet.
    #[default]
    Before,
    Within,
    /// After M2, M30 or the closing %.
    After,
}

#[derive(Default)]
struct Reading {
    interpreter: Interpreter,
    doubts: Doubts,
    lines: Vec<String>,
    dial_notes: Vec<(u32, f64)>,
    /// Bytes before the last line.
    last_offset: usize,
    part: Part,
    opened: bool,
    closed: bool,
    semicolon_noted: bool,
    /// Lines with text after the end: the first, and how many.
    after_end: Option<(Spot, usize)>,
}

impl Reading {
    fn take(&mut self, line: &str, offset: usize) {
        self.lines.push(line.to_owned());
        let spot = Spot { line: self.lines.len(), offset };
        self.last_offset = offset;
        let bare = line.trim_matches([' ', '\t']);
        if bare.is_empty() {
            return;
        }
        match (self.part, bare == "%") {
            (Part::Before, true) => {
                self.opened = true;
                self.part = Part::Within;
            }
            (Part::Within, true) if self.opened => {
                self.closed = true;
                self.part = Part::After;
            }
            (Part::After, true) if self.opened && !self.closed => self.closed = true,
            (Part::After, _) => {
                self.after_end.get_or_insert((spot, 0)).1 += 1;
            }
            _ => {
                self.part = Part::Within;
                self.run(line, spot);
            }
        }
    }

    fn run(&mut self, line: &str, spot: Spot) {
        let (characters, outcome) = Characters::split(line);
        let number = u32::try_from(spot.line).unwrap_or(u32::MAX);
        self.dial_notes.extend(characters.comments.iter().filter_map(|c| dial_note(c)).map(|speed| (number, speed)));
        if let (Some(span), false) = (&characters.semicolon, self.semicolon_noted) {
            self.semicolon_noted = true;
            let message = "a semicolon makes the rest of the line a comment, which the standard doesn't know";
            let note = Trouble::note(&kinds::SEMICOLON_COMMENT, span.clone(), message)
                .way_out("if the machine doesn't know it, write ( ) instead");
            self.doubts.add(note, spot, line);
        }
        let outcome = match outcome {
            Ok(()) => self.interpreter.run(number, characters),
            Err(trouble) => {
                self.interpreter.skip();
                Err(trouble)
            }
        };
        for trouble in self.interpreter.raised.drain(..) {
            self.doubts.add(trouble, spot, line);
        }
        if let Err(trouble) = outcome {
            self.doubts.add(trouble, spot, line);
        }
        if self.interpreter.ended {
            self.part = Part::After;
        }
    }

    fn end(mut self) -> Program {
        let ended = self.interpreter.ended || self.closed;
        self.judge_end(ended);
        let Interpreter {
            moves, cutters, modes, moved_without_unit, moved_without_distance, turned_without_plane, ..
        } = self.interpreter;
        let moved = moves.iter().any(|m| !matches!(m.shape, crate::Shape::Dwell { .. }));
        let stated = Stated {
            units: !moved_without_unit && (moved || modes.unit_stated),
            plane: !turned_without_plane,
            distance_mode: !moved_without_distance && (moved || modes.distance_stated),
            end: ended,
        };
        let (file, doubts) = self.doubts.close();
        Program { file, moves, lines: self.lines, stated, cutters, dial_notes: self.dial_notes, doubts }
    }

    fn judge_end(&mut self, ended: bool) {
        if let Some((spot, count)) = self.after_end {
            let text = self.lines.get(spot.line - 1).cloned().unwrap_or_default();
            let (lines, are) = if count == 1 { ("line", "isn't") } else { ("lines", "aren't") };
            let message = format!("{count} {lines} after the end of the program {are} run");
            let note = Trouble::note(&kinds::TEXT_AFTER_END, 0..text.len(), message)
                .way_out("if they were meant to run, remove the end before them");
            self.doubts.add(note, spot, &text);
        }
        let (kind, message, way_out) = match (self.part, ended, self.opened && !self.closed) {
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
        let last = self.lines.len().max(1);
        let text = self.lines.last().cloned().unwrap_or_default();
        let offset = self.last_offset;
        let trouble = Trouble::refusal(kind, text.len()..text.len(), message).way_out(way_out);
        self.doubts.add(trouble, Spot { line: last, offset }, &text);
    }
}

/// A line of the file.
#[derive(Debug, Clone, Copy)]
struct Spot {
    /// From 1.
    line: usize,
    /// Bytes before it.
    offset: usize,
}

/// The speed of a dial note, rev/min: `dial 3 = 18000 rev/min`, in any case and spacing.
fn dial_note(comment: &str) -> Option<f64> {
    let text = comment.trim().to_ascii_lowercase();
    let rest = text.strip_prefix("dial")?;
    let (position, speed) = rest.rsplit_once('=')?;
    if position.starts_with(|c: char| c.is_alphanumeric()) {
        return None;
    }
    let digits = speed.trim().strip_suffix("rev/min")?.trim_end();
    let plain = digits.chars().all(|c| c.is_ascii_digit() || c == '.');
    let speed = if plain { digits.parse::<f64>().ok()? } else { return None };
    (speed > 0.0 && speed <= crate::line::LARGEST).then_some(speed)
}

/// Doubts with their places. What is undecided for one reason in many lines is one doubt.
#[derive(Default)]
struct Doubts {
    file: String,
    listed: Vec<Doubt>,
    refusals: usize,
    others: usize,
    more: usize,
    repeated: BTreeMap<(&'static str, String), (usize, usize)>,
}

impl Doubts {
    fn new(file: &str) -> Self {
        Self { file: file.to_owned(), ..Self::default() }
    }

    fn add(&mut self, trouble: Trouble, spot: Spot, text: &str) {
        let refused = trouble.severity == Severity::Refusal;
        let key = (trouble.kind.id, trouble.message.clone());
        if let (false, Some((_, count))) = (refused, self.repeated.get_mut(&key)) {
            *count += 1;
            return;
        }
        let count = if refused { &mut self.refusals } else { &mut self.others };
        *count += 1;
        if *count > MOST {
            self.more += 1;
            return;
        }
        if !refused {
            self.repeated.insert(key, (self.listed.len(), 0));
        }
        // The line as shown is never longer than a legal one.
        let shown: String = text.chars().take(LONGEST).collect();
        let end = trouble.span.end.min(text.len());
        let start = trouble.span.start.min(end);
        let column = text.get(..start).map_or(0, |before| before.chars().count()) + 1;
        let mut doubt = trouble
            .kind
            .of(trouble.severity, trouble.message)
            .at(Place::Program { file: self.file.clone(), line: spot.line, text: shown })
            .at(Place::File {
                file: self.file.clone(),
                line: spot.line,
                column,
                span: spot.offset + start..spot.offset + end,
            });
        if !trouble.way_out.is_empty() {
            doubt = doubt.way_out(trouble.way_out);
        }
        self.listed.push(doubt);
    }

    /// The file's name and its doubts.
    fn close(mut self) -> (String, Vec<Doubt>) {
        for (index, count) in self.repeated.into_values().filter(|r| r.1 > 0) {
            if let Some(doubt) = self.listed.get_mut(index) {
                let lines = if count == 1 { "line" } else { "lines" };
                doubt.notes.push(format!("the same in {count} more {lines}"));
            }
        }
        if self.more > 0 {
            let message = format!("{} more doubts about this program aren't listed", self.more);
            let note = kinds::DOUBTS_CUT.note(message).at(Place::file(&self.file));
            self.listed.push(note.way_out("put the first ones right and read the program again"));
        }
        (self.file, self.listed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dial_notes() {
        for (text, speed) in [
            ("dial 3 = 18000 rev/min", Some(18000.0)),
            (" DIAL=9500.5rev/min ", Some(9500.5)),
            ("dial position 2 = 10000 rev/min", Some(10000.0)),
            ("dial 3 = fast", None),
            ("dialled 3 = 18000 rev/min", None),
            ("dial 3 = -18000 rev/min", None),
            ("dial 3 = 1e4 rev/min", None),
            ("the dial 3 = 18000 rev/min", None),
            ("dial 3 = 18000", None),
        ] {
            assert_eq!(dial_note(text), speed, "{text}");
        }
    }
}
