//! Troubles of lines as doubts with their places: counted, told once where they come again and again, and cut where
//! there are too many.

use crate::kinds;
use crate::line::LONGEST;
use crate::text::place_in_bytes;
use crate::trouble::Trouble;
use doubt::{Doubt, Place, Severity};
use std::collections::BTreeMap;

/// Most refusals that are listed, and most other doubts.
const MOST: usize = 50;

/// A line of the file.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Spot<'a> {
    /// From 1.
    pub(crate) line: usize,
    /// Bytes of the file before its text.
    pub(crate) offset: usize,
    /// Its bytes as kept.
    pub(crate) bytes: &'a [u8],
    /// The same as text.
    pub(crate) text: &'a str,
}

/// Doubts with their places. What is undecided for one reason in many lines is one doubt.
#[derive(Default)]
pub(crate) struct Doubts {
    file: String,
    listed: Vec<Doubt>,
    refusals: usize,
    others: usize,
    more: usize,
    repeated: BTreeMap<(&'static str, String), (usize, usize)>,
}

impl Doubts {
    pub(crate) fn new(file: &str) -> Self {
        Self { file: file.to_owned(), ..Self::default() }
    }

    pub(crate) fn add(&mut self, trouble: Trouble, spot: Spot) {
        let text = spot.text;
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
                span: spot.offset + place_in_bytes(spot.bytes, start)..spot.offset + place_in_bytes(spot.bytes, end),
            });
        if !trouble.way_out.is_empty() {
            doubt = doubt.way_out(trouble.way_out);
        }
        self.listed.push(doubt);
    }

    /// The file's name and its doubts.
    pub(crate) fn close(mut self) -> (String, Vec<Doubt>) {
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
