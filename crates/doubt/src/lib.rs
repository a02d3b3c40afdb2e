//! One diagnostic value for the whole product: what is wrong, where, how much, and what to do.
//!
//! Reading never fails: it returns what it understood and a list of doubts, and the caller decides
//! what blocks. Kinds of doubt are declared beside the code that raises them ([`Kind`]), so that
//! `platewright explain ID` can print the same words that the code was written by.

mod text;

pub use text::{Sources, render};

use serde::Serialize;

/// How much a doubt weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing: an assumption made, a thing left out.
    Note,
    /// The maker should look; the packet is still written.
    Caution,
    /// The packet is not written, or the proof is refused.
    Refusal,
}

/// A kind of doubt: its id and the page that `explain` prints.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Kind {
    /// Lower-case words joined by hyphens, unique in the product: `gap-closed`.
    pub id: &'static str,
    /// One line: what this kind says.
    pub title: &'static str,
    /// What it means, why it matters, and the ways out. Plain text, a few sentences.
    pub page: &'static str,
}

/// Where a doubt is.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "in")]
pub enum Place {
    /// A span of a text file (plate, shop or drawing).
    File {
        /// The file as the maker named it.
        file: String,
        /// From 1; 0 if the file as a whole is meant.
        line: usize,
        /// From 1, in characters.
        column: usize,
        /// Byte offsets into the file's text.
        #[serde(skip)]
        span: std::ops::Range<usize>,
    },
    /// A point of the drawing, mm in the drawing's own frame (y up).
    Drawing {
        /// The drawing file.
        file: String,
        /// The layer, id or class, if known.
        layer: Option<String>,
        /// mm.
        x: f64,
        /// mm.
        y: f64,
    },
    /// A point on the blank, mm from the zero corner, and mm above the table if a height matters.
    Blank {
        /// mm.
        x: f64,
        /// mm.
        y: f64,
        /// mm above the table.
        z: Option<f64>,
    },
    /// A line of a program.
    Program {
        /// The program's file name.
        file: String,
        /// From 1.
        line: usize,
        /// The line's text.
        text: String,
    },
}

/// A doubt.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Doubt {
    /// The [`Kind`]'s id.
    pub id: &'static str,
    /// Its weight.
    pub severity: Severity,
    /// What is wrong, with the amount; one sentence, no full stop.
    pub message: String,
    /// Where; the first is the primary place.
    pub places: Vec<Place>,
    /// Further sentences.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<String>,
    /// What it most likely comes from, in the maker's words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub likely_cause: Option<String>,
    /// What to do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub way_out: Option<String>,
    /// Files that show the place, in the folder that was written.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub pictures: Vec<String>,
}

impl Kind {
    /// A doubt of this kind that blocks.
    pub fn refusal(&self, message: impl Into<String>) -> Doubt {
        self.of(Severity::Refusal, message)
    }

    /// A doubt of this kind that the maker should look at.
    pub fn caution(&self, message: impl Into<String>) -> Doubt {
        self.of(Severity::Caution, message)
    }

    /// A doubt of this kind that only informs.
    pub fn note(&self, message: impl Into<String>) -> Doubt {
        self.of(Severity::Note, message)
    }

    /// A doubt of this kind and weight.
    pub fn of(&self, severity: Severity, message: impl Into<String>) -> Doubt {
        Doubt {
            id: self.id,
            severity,
            message: message.into(),
            places: Vec::new(),
            notes: Vec::new(),
            likely_cause: None,
            way_out: None,
            pictures: Vec::new(),
        }
    }
}

impl Doubt {
    /// With one more place (the first given is the primary one).
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.places.push(place);
        self
    }

    /// With a further sentence.
    #[must_use]
    pub fn noting(mut self, note: impl Into<String>) -> Self {
        self.notes.push(note.into());
        self
    }

    /// With what it most likely comes from.
    #[must_use]
    pub fn likely(mut self, cause: impl Into<String>) -> Self {
        self.likely_cause = Some(cause.into());
        self
    }

    /// With what to do.
    #[must_use]
    pub fn way_out(mut self, way_out: impl Into<String>) -> Self {
        self.way_out = Some(way_out.into());
        self
    }

    /// Whether it blocks.
    pub fn blocks(&self) -> bool {
        self.severity == Severity::Refusal
    }
}

/// Whether any of them blocks.
pub fn any_blocks(doubts: &[Doubt]) -> bool {
    doubts.iter().any(Doubt::blocks)
}

impl Place {
    /// A whole file.
    pub fn file(file: impl Into<String>) -> Self {
        Self::File { file: file.into(), line: 0, column: 0, span: 0..0 }
    }

    /// A span of a file's text, with line and column counted here.
    pub fn span(file: impl Into<String>, text: &str, span: std::ops::Range<usize>) -> Self {
        let start = (0..=span.start.min(text.len())).rev().find(|&i| text.is_char_boundary(i)).unwrap_or(0);
        let before = &text[..start];
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().unwrap_or("").chars().count() + 1;
        Self::File { file: file.into(), line, column, span }
    }
}

/// The nearest known word to a mistyped one, if it is near enough to suggest.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let limit = (word.chars().count() / 3).max(2);
    known
        .into_iter()
        .map(|candidate| (distance(&word.to_lowercase(), &candidate.to_lowercase()), candidate))
        .filter(|&(d, _)| d <= limit)
        .min()
        .map(|(_, candidate)| candidate)
}

/// Edit distance with insertion, deletion, substitution and swap of neighbours
/// (optimal string alignment; textbook).
fn distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut rows = vec![vec![0; b.len() + 1]; a.len() + 1];
    for (i, row) in rows.iter_mut().enumerate() {
        row[0] = i;
    }
    rows[0] = (0..=b.len()).collect();
    for i in 1..=a.len() {
        for j in 1..=b.len() {
            let swap = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
            let cost = usize::from(a[i - 1] != b[j - 1]);
            rows[i][j] = (rows[i - 1][j] + 1).min(rows[i][j - 1] + 1).min(rows[i - 1][j - 1] + cost);
            if swap {
                rows[i][j] = rows[i][j].min(rows[i - 2][j - 2] + 1);
            }
        }
    }
    rows[a.len()][b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    const GAP: Kind = Kind { id: "gap-closed", title: "A gap was closed", page: "" };

    #[test]
    fn nearest_word() {
        let known = ["floor", "layers", "measured", "sheet"];
        assert_eq!(nearest("flor", known), Some("floor"));
        assert_eq!(nearest("mesaured", known), Some("measured"));
        assert_eq!(nearest("bananas", known), None);
    }

    #[test]
    fn places_count_lines_and_characters() {
        let text = "a = 1\nµ = 2\n";
        let at = text.find('2').unwrap();
        let Place::File { line, column, .. } = Place::span("plate.toml", text, at..at + 1) else { panic!() };
        assert_eq!((line, column), (2, 5));
    }

    #[test]
    fn a_refusal_blocks() {
        assert!(any_blocks(&[GAP.note("a"), GAP.refusal("b")]));
        assert!(!any_blocks(&[GAP.caution("a")]));
    }
}
