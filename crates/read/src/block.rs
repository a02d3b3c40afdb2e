//! A line's words as codes and values, with the checks that need no knowledge of earlier lines: each word once, known
//! codes, one code of a modal group, at most four M words (NISTIR 6556 §3.3.3 to §3.4, Table 4).

use crate::kinds;
use crate::line::{Line, WHOLE, Word};
use crate::trouble::Trouble;
use std::ops::Range;

/// Groups of codes that exclude each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Group {
    Motion,
    Plane,
    Distance,
    FeedMode,
    Units,
    RadiusOffset,
    LengthOffset,
    Return,
    Frame,
    PathControl,
    /// Codes for one line only.
    Once,
    Stop,
    Change,
    Spindle,
    Coolant,
    Overrides,
}

/// The group of a G code, given in tenths: 382 is G38.2.
fn group_of_g(tenths: u32) -> Option<Group> {
    Some(match tenths {
        0 | 10 | 20 | 30 | 382 | 800 | 810 | 820 | 830 | 840 | 850 | 860 | 870 | 880 | 890 => Group::Motion,
        170 | 180 | 190 => Group::Plane,
        900 | 910 => Group::Distance,
        930 | 940 => Group::FeedMode,
        200 | 210 => Group::Units,
        400 | 410 | 420 => Group::RadiusOffset,
        430 | 490 => Group::LengthOffset,
        980 | 990 => Group::Return,
        540 | 550 | 560 | 570 | 580 | 590 | 591 | 592 | 593 => Group::Frame,
        610 | 611 | 640 => Group::PathControl,
        40 | 100 | 280 | 300 | 530 | 920 | 921 | 922 | 923 => Group::Once,
        _ => return None,
    })
}

fn group_of_m(tenths: u32) -> Option<Group> {
    Some(match tenths {
        0 | 10 | 20 | 300 | 600 => Group::Stop,
        60 => Group::Change,
        30 | 40 | 50 => Group::Spindle,
        70 | 80 | 90 => Group::Coolant,
        480 | 490 => Group::Overrides,
        _ => return None,
    })
}

/// A code that the line holds.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Code {
    group: Group,
    tenths: u32,
    pub(crate) span: Range<usize>,
}

/// A line as codes and values.
#[derive(Debug, Default)]
pub(crate) struct Block {
    codes: Vec<Code>,
    words: Vec<Word>,
}

impl Block {
    /// The codes and values of a line.
    pub(crate) fn of(line: Line) -> Result<Self, Trouble> {
        let mut block = Self::default();
        let mut m_words = 0;
        for word in line.words {
            if word.letter != b'G' && word.letter != b'M' {
                if block.word(word.letter).is_some() {
                    let message = format!("{} is given twice", char::from(word.letter));
                    return Err(Trouble::refusal(&kinds::WORD_TWICE, word.span, message).way_out("keep one of them"));
                }
                block.words.push(word);
                continue;
            }
            m_words += u32::from(word.letter == b'M');
            if m_words > 4 {
                return Err(Trouble::refusal(
                    &kinds::TOO_MANY_M_WORDS,
                    word.span,
                    "the line has more than four M words",
                )
                .way_out("put the others into a line of their own"));
            }
            block.add_code(&word)?;
        }
        Ok(block)
    }

    fn add_code(&mut self, word: &Word) -> Result<(), Trouble> {
        let tenths = (word.value * 10.0).round();
        // The number itself is accepted within 0.0001.
        let near = (word.value * 10.0 - tenths).abs() <= 10.0 * WHOLE && tenths >= 0.0;
        let lookup = if word.letter == b'G' { group_of_g } else { group_of_m };
        let known = if near { lookup(tenths as u32).map(|group| (group, tenths as u32)) } else { None };
        let Some((group, tenths)) = known else {
            let message = format!("{}{} is no code of the standard", char::from(word.letter), word.value);
            return Err(Trouble::refusal(&kinds::CODE_UNKNOWN, word.span.clone(), message)
                .way_out("remove it, or replace it by codes of the standard"));
        };
        if let Some(other) = self.codes.iter().find(|c| c.group == group) {
            let letter = char::from(word.letter);
            let (a, b) = (number(other.tenths), number(tenths));
            let message = format!("{letter}{a} and {letter}{b} exclude each other in a line");
            return Err(Trouble::refusal(&kinds::CODES_CONTRADICT, word.span.clone(), message)
                .way_out("keep one, or use two lines"));
        }
        self.codes.push(Code { group, tenths, span: word.span.clone() });
        Ok(())
    }

    /// The code of a group in tenths, if the line holds one.
    pub(crate) fn code(&self, group: Group) -> Option<u32> {
        self.codes.iter().find(|c| c.group == group).map(|c| c.tenths)
    }

    /// Where the code of a group stands; the whole line's beginning if it isn't there.
    pub(crate) fn code_span(&self, group: Group) -> Range<usize> {
        self.codes.iter().find(|c| c.group == group).map_or(0..0, |c| c.span.clone())
    }

    /// The code that moves or changes frames, and where it stands.
    pub(crate) fn is_once(&self, tenths: u32) -> bool {
        self.code(Group::Once) == Some(tenths)
    }

    /// A word other than G and M.
    pub(crate) fn word(&self, letter: u8) -> Option<&Word> {
        self.words.iter().find(|w| w.letter == letter)
    }

    /// The value of a word other than G and M.
    pub(crate) fn value(&self, letter: u8) -> Option<f64> {
        self.word(letter).map(|w| w.value)
    }

    /// Where a word stands; the whole line's beginning if it isn't there.
    pub(crate) fn word_span(&self, letter: u8) -> Range<usize> {
        self.word(letter).map_or(0..0, |w| w.span.clone())
    }

    /// The first of these words that the line holds.
    pub(crate) fn first_of(&self, letters: &[u8]) -> Option<&Word> {
        self.words.iter().find(|w| letters.contains(&w.letter))
    }

    /// Where these words stand, from the first to the last.
    pub(crate) fn span_of(&self, letters: &[u8]) -> Range<usize> {
        let spans = self.words.iter().filter(|w| letters.contains(&w.letter)).map(|w| &w.span);
        spans
            .fold(None, |all: Option<Range<usize>>, s| match all {
                None => Some(s.clone()),
                Some(all) => Some(all.start.min(s.start)..all.end.max(s.end)),
            })
            .unwrap_or(0..0)
    }

    /// A value that the standard wants whole, from 0 to 99999.
    pub(crate) fn whole(&self, letter: u8, kind: &'static doubt::Kind) -> Result<Option<u32>, Trouble> {
        let Some(word) = self.word(letter) else { return Ok(None) };
        let whole = word.value.round();
        if (word.value - whole).abs() <= WHOLE && (0.0..=99_999.0).contains(&whole) {
            return Ok(Some(whole as u32));
        }
        let letter = char::from(letter);
        let message = format!("{letter} is {}; it is a whole number from 0 to 99999", word.value);
        Err(Trouble::refusal(kind, word.span.clone(), message).way_out(format!("correct the {letter} word")))
    }
}

/// A code's number as written: 382 is 38.2.
pub(crate) fn number(tenths: u32) -> String {
    if tenths.is_multiple_of(10) { format!("{}", tenths / 10) } else { format!("{}.{}", tenths / 10, tenths % 10) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::Characters;
    use crate::parameters::Parameters;

    fn refused(text: &str) -> Option<&'static str> {
        let (characters, outcome) = Characters::split(text);
        outcome.unwrap();
        Block::of(characters.words(&Parameters::default()).unwrap()).err().map(|t| t.kind.id)
    }

    /// Two codes of every group of NISTIR 6556 Table 4 (seen).
    #[test]
    fn groups_exclude() {
        for text in [
            "G0 G1",
            "G2 G3",
            "G80 G81",
            "G38.2 G1",
            "G17 G18",
            "G90 G91",
            "G93 G94",
            "G20 G21",
            "G40 G41",
            "G43 G49",
            "G98 G99",
            "G54 G59.3",
            "G61 G64",
            "G61 G61.1",
            "G4 G53",
            "G10 G92",
            "G28 G30",
            "M0 M2",
            "M30 M60",
            "M3 M5",
            "M7 M9",
            "M48 M49",
            "G1 G1",
            "M6 M6",
        ] {
            assert_eq!(refused(text), Some("codes-contradict"), "{text}");
        }
        assert_eq!(refused("G0 G17 G90 G94 G21 G40 G49 G98 G54 G61 G4 M0 M6 M3 M7"), None);
    }

    #[test]
    fn words_of_a_line() {
        for (text, id) in [
            ("X1 X2", "word-twice"),
            ("F1 F1", "word-twice"),
            ("M0 M6 M3 M7 M48", "too-many-m-words"),
            ("G5", "code-unknown"),
            ("G1.5", "code-unknown"),
            ("G-1", "code-unknown"),
            ("M98", "code-unknown"),
            ("G73", "code-unknown"),
        ] {
            assert_eq!(refused(text), Some(id), "{text}");
        }
        // Whole within 0.0001 (NISTIR 6556 §3.3.2.1, seen).
        assert_eq!(refused("G1.00009 M2.99991 G38.19991"), Some("codes-contradict"));
        assert_eq!(refused("G1.00009 M2.99991"), None);
        assert_eq!(refused("G1.0002"), Some("code-unknown"));
    }
}
