//! A line's characters to words, settings and comments (NISTIR 6556 §3.3). It knows no code's meaning.
//!
//! Spaces and tabs are dropped outside comments and letters made upper case, so that everything after works on bare
//! characters, each with its place in the line.

use crate::kinds;
use crate::parameters::Parameters;
use crate::trouble::Trouble;
use std::ops::Range;

/// Most characters of a line.
pub(crate) const LONGEST: usize = 256;
/// Letters that begin a word; N is apart.
const LETTERS: &[u8] = b"ABCDFGHIJKLMPQRSTXYZ";
/// Values that the standard wants whole may differ from a whole number by this.
pub(crate) const WHOLE: f64 = 0.000_1;
/// Numbers of words are at most this.
pub(crate) const LARGEST: f64 = 1e6;
/// Stands for a comment among the characters: words don't reach across it.
const COMMENT: u8 = b'(';

/// A line with too many characters, of which `beyond` aren't there.
pub(crate) fn too_long(text: &str, beyond: usize) -> Option<Trouble> {
    if text.len() <= LONGEST && beyond == 0 {
        return None;
    }
    let from = match text.char_indices().nth(LONGEST) {
        Some((from, _)) => from,
        None if beyond > 0 => text.len(),
        None => return None,
    };
    let message = format!("the line has {} characters; {LONGEST} are allowed", text.chars().count() + beyond);
    Some(Trouble::refusal(&kinds::LINE_TOO_LONG, from..from, message).way_out("break the line, or shorten its comment"))
}

/// A letter with its value.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Word {
    pub(crate) letter: u8,
    pub(crate) value: f64,
    pub(crate) span: Range<usize>,
}

/// A line as words.
#[derive(Debug, Default)]
pub(crate) struct Line {
    /// Where a / stands first.
    pub(crate) skipped: Option<Range<usize>>,
    pub(crate) words: Vec<Word>,
    /// Parameter settings in order, to be made after the line is read.
    pub(crate) settings: Vec<(u16, f64, Range<usize>)>,
}

/// A line's characters without spaces, and its comments.
#[derive(Debug, Default)]
pub(crate) struct Characters<'a> {
    items: Vec<(u8, usize)>,
    next: usize,
    end: usize,
    pub(crate) comments: Vec<&'a str>,
    /// Where a semicolon begins a comment.
    pub(crate) semicolon: Option<Range<usize>>,
}

impl<'a> Characters<'a> {
    /// Splits a line. The comments before the first bad character are kept even if the line is refused.
    pub(crate) fn split(text: &'a str) -> (Self, Result<(), Trouble>) {
        let mut characters = Self { end: text.len(), ..Self::default() };
        let outcome = characters.fill(text);
        (characters, outcome)
    }

    fn fill(&mut self, text: &'a str) -> Result<(), Trouble> {
        if let Some(trouble) = too_long(text, 0) {
            return Err(trouble);
        }
        let mut at = 0;
        while let Some(c) = text[at..].chars().next() {
            let after = at + c.len_utf8();
            match c {
                ' ' | '\t' => {}
                '(' => {
                    at = self.comment(text, at)?;
                    continue;
                }
                ')' => {
                    return Err(Trouble::refusal(&kinds::COMMENT_UNOPENED, at..after, "a ) has no ( before it")
                        .way_out("open the comment, or remove the bracket"));
                }
                ';' => {
                    self.comments.push(&text[after..]);
                    self.semicolon = Some(at..text.len());
                    return Ok(());
                }
                '\u{fffd}' => {
                    return Err(Trouble::refusal(
                        &kinds::NOT_TEXT,
                        at..after,
                        "a byte here is no text (not UTF-8), and it isn't in a comment",
                    )
                    .way_out("write the program again as plain text"));
                }
                '%' => {
                    return Err(Trouble::refusal(
                        &kinds::PERCENT_STRAY,
                        at..after,
                        "a % stands where no program begins or ends",
                    )
                    .way_out("a % stands alone in its line, first and last; remove it or add its partner"));
                }
                '/' | '#' | '[' | ']' | '=' | '+' | '-' | '*' | '.' | '0'..='9' | 'a'..='z' | 'A'..='Z' => {
                    self.items.push((c.to_ascii_uppercase() as u8, at));
                }
                _ => {
                    let shown = if c.is_control() { format!("U+{:04X}", u32::from(c)) } else { format!("`{c}`") };
                    return Err(Trouble::refusal(
                        &kinds::CHARACTER_UNKNOWN,
                        at..after,
                        format!("{shown} has no meaning outside a comment"),
                    )
                    .way_out("remove it, or put it in a comment"));
                }
            }
            at = after;
        }
        Ok(())
    }

    /// Takes a comment from its ( on; gives where the line goes on.
    fn comment(&mut self, text: &'a str, at: usize) -> Result<usize, Trouble> {
        let inside = &text[at + 1..];
        let Some(length) = inside.find(['(', ')']) else {
            return Err(Trouble::refusal(&kinds::COMMENT_UNCLOSED, at..text.len(), "the comment has no ) in its line")
                .way_out("close the comment in its line"));
        };
        let end = at + 1 + length;
        if inside[length..].starts_with('(') {
            return Err(Trouble::refusal(
                &kinds::COMMENT_NESTED,
                end..end + 1,
                "a ( stands inside a comment, and comments don't nest",
            )
            .way_out("use other brackets inside the comment"));
        }
        self.comments.push(&inside[..length]);
        self.items.push((COMMENT, at));
        Ok(end + 1)
    }

    /// The next character.
    pub(crate) fn peek(&self) -> Option<u8> {
        self.items.get(self.next).map(|item| item.0)
    }

    /// Takes the next character if it is this one.
    pub(crate) fn take(&mut self, wanted: u8) -> bool {
        let is = self.peek() == Some(wanted);
        self.next += usize::from(is);
        is
    }

    /// Takes the next characters if they are these.
    pub(crate) fn take_all(&mut self, wanted: &[u8]) -> bool {
        let is = self.items[self.next..].len() >= wanted.len()
            && self.items[self.next..].iter().zip(wanted).all(|(item, w)| item.0 == *w);
        self.next += if is { wanted.len() } else { 0 };
        is
    }

    /// How far the line is taken, to come back to.
    pub(crate) fn mark(&self) -> usize {
        self.next
    }

    /// Back to where the line was at a mark.
    pub(crate) fn back_to(&mut self, mark: usize) {
        self.next = mark;
    }

    /// Where the next character stands in the line.
    pub(crate) fn place(&self) -> usize {
        self.items.get(self.next).map_or(self.end, |item| item.1)
    }

    /// From a place to the last character taken.
    pub(crate) fn since(&self, start: usize) -> Range<usize> {
        let last = self.next.checked_sub(1).and_then(|i| self.items.get(i)).map_or(start, |item| item.1 + 1);
        start..last.max(start)
    }

    /// The next character, for messages about it.
    pub(crate) fn here(&self) -> Range<usize> {
        let at = self.place();
        at..(at + 1).min(self.end.max(at))
    }

    /// Digits and points with a sign, as they stand.
    pub(crate) fn number(&mut self) -> Result<f64, Trouble> {
        let start = self.place();
        let mut digits = String::new();
        while let Some(c) = self.peek() {
            let sign = digits.is_empty() && (c == b'+' || c == b'-');
            if !sign && !c.is_ascii_digit() && c != b'.' {
                break;
            }
            digits.push(char::from(c));
            self.next += 1;
        }
        let well_formed = digits.contains(|c: char| c.is_ascii_digit()) && digits.matches('.').count() < 2;
        let value = if well_formed { digits.parse::<f64>().ok() } else { None };
        value.filter(|v| v.is_finite()).ok_or_else(|| {
            let message =
                if digits.is_empty() { "a number is missing here".into() } else { format!("`{digits}` is no number") };
            let span = if digits.is_empty() { self.here() } else { self.since(start) };
            Trouble::refusal(&kinds::NUMBER_BAD, span, message)
                .way_out("write an optional sign, digits and at most one point")
        })
    }

    /// The line as words, with the values that parameters have before the line.
    pub(crate) fn words(mut self, parameters: &Parameters) -> Result<Line, Trouble> {
        let mut line = Line::default();
        while self.take(COMMENT) {}
        let start = self.place();
        if self.take(b'/') {
            line.skipped = Some(self.since(start));
        }
        while self.take(COMMENT) {}
        if self.peek() == Some(b'N') {
            self.line_number()?;
        }
        while let Some(c) = self.peek() {
            let start = self.place();
            self.next += 1;
            match c {
                COMMENT => {}
                b'#' => {
                    let index = self.index(parameters, start)?;
                    if !self.take(b'=') {
                        return Err(Trouble::refusal(
                            &kinds::EXPRESSION_BAD,
                            self.since(start),
                            "a parameter without = sets nothing",
                        )
                        .way_out("write #number=value, or a letter before the #"));
                    }
                    let value = self.value(parameters)?;
                    line.settings.push((index, value, self.since(start)));
                }
                _ if LETTERS.contains(&c) => {
                    let value = self.value(parameters)?;
                    let span = self.since(start);
                    if value.abs() > LARGEST {
                        return Err(Trouble::refusal(
                            &kinds::NUMBER_TOO_LARGE,
                            span,
                            format!("{} is {value:e}, beyond 1000000", char::from(c)),
                        )
                        .way_out("correct the number; a point may be lost"));
                    }
                    line.words.push(Word { letter: c, value, span });
                }
                b'N' => {
                    return Err(Trouble::refusal(
                        &kinds::LINE_NUMBER_BAD,
                        self.since(start),
                        "N isn't first in its line",
                    )
                    .way_out("put the line number first, or remove it"));
                }
                b'A'..=b'Z' => {
                    let message = format!("{} begins no word of the language", char::from(c));
                    return Err(
                        Trouble::refusal(&kinds::WORD_UNKNOWN, self.since(start), message).way_out("remove the word")
                    );
                }
                b'/' => {
                    return Err(Trouble::refusal(
                        &kinds::CHARACTER_UNKNOWN,
                        self.since(start),
                        "a / isn't first in its line",
                    )
                    .way_out("put it first, or remove it"));
                }
                _ => {
                    let message = format!("`{}` follows no letter", char::from(c));
                    return Err(Trouble::refusal(&kinds::NUMBER_BAD, self.since(start), message).way_out(
                        "a letter or a space-separated number may be lost; write letter and number together",
                    ));
                }
            }
        }
        Ok(line)
    }

    /// N with one to five digits (NISTIR 6556 §3.3.1).
    fn line_number(&mut self) -> Result<(), Trouble> {
        let start = self.place();
        self.next += 1;
        let mut digits = 0;
        while self.peek().is_some_and(|c| c.is_ascii_digit()) {
            self.next += 1;
            digits += 1;
        }
        if (1..=5).contains(&digits) && !self.peek().is_some_and(|c| b".+-".contains(&c)) {
            return Ok(());
        }
        Err(Trouble::refusal(
            &kinds::LINE_NUMBER_BAD,
            self.since(start),
            "N isn't followed by one to five digits alone",
        )
        .way_out("use 0 to 99999, or leave the line number out"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(text: &str) -> Result<String, &'static str> {
        let (characters, outcome) = Characters::split(text);
        outcome.map_err(|t| t.kind.id)?;
        let line = characters.words(&Parameters::default()).map_err(|t| t.kind.id)?;
        let words = line.words.iter().map(|w| format!("{}{}", char::from(w.letter), w.value));
        Ok(words.collect::<Vec<_>>().join(" "))
    }

    /// NISTIR 6556 §3.3: spaces and case don't matter outside comments (seen).
    #[test]
    fn spaces_and_case() {
        assert_eq!(words("g0x +0. 12 34y 7"), Ok("G0 X0.1234 Y7".into()));
        assert_eq!(words("\tn 12 3 G 1 (at x 5)X-.5(b)y5."), Ok("G1 X-0.5 Y5".into()));
        assert_eq!(words(""), Ok(String::new()));
    }

    /// NISTIR 6556 §3.3.1: line numbers 0 to 99999 (seen).
    #[test]
    fn line_numbers() {
        assert_eq!(words("N99999 X1"), Ok("X1".into()));
        for bad in ["N100000 X1", "N X1", "N-1 X1", "N1.5 X1", "X1 N5"] {
            assert_eq!(words(bad), Err("line-number-bad"), "{bad}");
        }
    }

    #[test]
    fn malformed() {
        for (text, id) in [
            ("X", "number-bad"),
            ("X.", "number-bad"),
            ("X+-1", "number-bad"),
            ("X1.2.3", "number-bad"),
            ("X1e5", "word-unknown"),
            ("X--1", "number-bad"),
            ("X1 (c) 2", "number-bad"),
            ("X1,5", "character-unknown"),
            ("G1 X1 (open", "comment-unclosed"),
            ("G1 (a (b) c) X1", "comment-nested"),
            ("G1 X1)", "comment-unopened"),
            ("E5", "word-unknown"),
            ("X1 / Y2", "character-unknown"),
            ("X1000001", "number-too-large"),
            ("#0=1", "parameter-bad"),
            ("#5400=1", "parameter-bad"),
            ("#1.5=1", "parameter-bad"),
            ("#1", "expression-bad"),
        ] {
            assert_eq!(words(text), Err(id), "{text}");
        }
        assert_eq!(words(&format!("({})", "a".repeat(254))), Ok(String::new()));
        assert_eq!(words(&format!("({})", "a".repeat(255))), Err("line-too-long"));
    }
}
