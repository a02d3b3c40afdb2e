//! What reading a line needs from the lines before it, and what a line comes to.

use crate::Move;
use crate::interpreter::Interpreter;
use crate::line::{Characters, too_long};
use crate::trouble::Trouble;
use std::ops::Range;

/// Where in the file the reading is.
#[derive(Debug, Default, Clone, Copy, PartialEq)]
pub(crate) enum Part {
    /// Nothing but blank lines yet.
    #[default]
    Before,
    Within,
    /// After M2, M30 or the closing %.
    After,
}

/// The state between two lines.
#[derive(Debug, Default, Clone)]
pub(crate) struct State {
    pub(crate) interpreter: Interpreter,
    pub(crate) part: Part,
    /// The program began with %.
    pub(crate) opened: bool,
    /// The closing % came.
    pub(crate) closed: bool,
    /// Lines taken.
    pub(crate) line: u32,
}

/// What a line came to, beside its moves.
#[derive(Debug, Default)]
pub(crate) struct Taken {
    pub(crate) troubles: Vec<Trouble>,
    /// Where a semicolon begins a comment.
    pub(crate) semicolon: Option<Range<usize>>,
    /// Speeds of dial notes, rev/min.
    pub(crate) dial_notes: Vec<f64>,
    /// It stands after the end.
    pub(crate) after_end: bool,
}

impl State {
    /// The state to go on from without what is only gathered.
    pub(crate) fn to_keep(&self) -> Self {
        let mut kept = self.clone();
        kept.interpreter.cutters.clear();
        kept.interpreter.moves = Vec::new();
        kept
    }

    /// Takes the next line; `beyond` characters of it aren't there. Its moves are then in [`Self::moves`].
    pub(crate) fn take(&mut self, line: &str, beyond: usize) -> Taken {
        self.line = self.line.saturating_add(1);
        self.interpreter.moves.clear();
        let mut taken = Taken::default();
        let bare = if beyond > 0 { line } else { line.trim_matches([' ', '\t']) };
        if bare.is_empty() {
            return taken;
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
            (Part::After, _) => taken.after_end = true,
            _ => {
                self.part = Part::Within;
                self.run(line, beyond, &mut taken);
            }
        }
        taken
    }

    fn run(&mut self, line: &str, beyond: usize, taken: &mut Taken) {
        let outcome = match too_long(line, beyond) {
            Some(trouble) => {
                self.interpreter.skip();
                Err(trouble)
            }
            None => {
                let (characters, outcome) = Characters::split(line);
                taken.dial_notes.extend(characters.comments.iter().filter_map(|c| dial_note(c)));
                taken.semicolon.clone_from(&characters.semicolon);
                match outcome {
                    Ok(()) => self.interpreter.run(self.line, characters),
                    Err(trouble) => {
                        self.interpreter.skip();
                        Err(trouble)
                    }
                }
            }
        };
        taken.troubles.append(&mut self.interpreter.raised);
        taken.troubles.extend(outcome.err());
        if self.interpreter.ended {
            self.part = Part::After;
        }
    }

    /// The moves of the line taken last.
    pub(crate) fn moves(&self) -> &[Move] {
        &self.interpreter.moves
    }

    /// Whether M2, M30 or a closing % came.
    pub(crate) fn ended(&self) -> bool {
        self.interpreter.ended || self.closed
    }
}

/// The speed of a dial note, rev/min: `dial 3 = 18000 rev/min`, in any case and spacing.
fn dial_note(comment: &str) -> Option<f64> {
    let text = comment.trim();
    if !text.get(..4)?.eq_ignore_ascii_case("dial") {
        return None;
    }
    let text = text.to_ascii_lowercase();
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
            ("dié", None),
        ] {
            assert_eq!(dial_note(text), speed, "{text}");
        }
    }
}
