//! A file's bytes: cut into lines as they come in, kept once, and given back line by line.
//!
//! Lines are kept in pieces of some 64 KiB; each piece begins with the state that reading had there, so that the moves
//! of any part can be found again from the text ([`crate::Moves`]) instead of being kept. Of a line that is longer
//! than a legal one only the beginning is kept.

use crate::state::State;
use std::borrow::Cow;
use std::fmt;
use std::io::{self, BufRead, ErrorKind};
use std::sync::Arc;

/// Bytes of a line that are kept. 256 characters have at most 1024 bytes, so that what is cut off is never legal.
const KEPT: usize = 1100;
/// Bytes of a piece, at least.
const PIECE: usize = 64 * 1024;
/// More of them for each parameter that is set at its beginning, since its state is kept with it.
const PER_PARAMETER: usize = 128;
/// Stands for the rest of a line that is cut.
const CUT: &str = "…";
/// The byte order mark.
const MARK: &[u8] = "\u{feff}".as_bytes();

/// A line as it came in.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Extent {
    /// Its bytes in the file, with its end.
    pub(crate) bytes: usize,
    /// Characters beyond those kept; 0 if the rest is blank.
    pub(crate) beyond: usize,
}

/// Takes the next line from a stream into `line`, without its end; `None` at the end of the file.
pub(crate) fn next_line(source: &mut impl BufRead, line: &mut Vec<u8>) -> io::Result<Option<Extent>> {
    line.clear();
    let mut bytes = 0;
    let mut rest = Rest::default();
    loop {
        let buffer = match source.fill_buf() {
            Ok(buffer) => buffer,
            Err(e) if e.kind() == ErrorKind::Interrupted => continue,
            Err(e) => return Err(e),
        };
        let end = buffer.iter().position(|b| *b == b'\n');
        let text = &buffer[..end.unwrap_or(buffer.len())];
        let (kept, over) = text.split_at(text.len().min(KEPT - line.len()));
        line.extend_from_slice(kept);
        rest.take(over);
        let taken = text.len() + usize::from(end.is_some());
        let is_empty = buffer.is_empty();
        bytes += taken;
        source.consume(taken);
        if end.is_some() || (is_empty && bytes > 0) {
            if rest.bytes == 0 && line.last() == Some(&b'\r') && end.is_some() {
                line.pop();
            }
            return Ok(Some(Extent { bytes, beyond: rest.characters() }));
        }
        if is_empty {
            return Ok(None);
        }
    }
}

/// What of a line isn't kept.
#[derive(Default)]
struct Rest {
    bytes: usize,
    characters: usize,
    /// Bytes that are neither space nor tab.
    inked: usize,
    last: u8,
}

impl Rest {
    fn take(&mut self, bytes: &[u8]) {
        self.bytes += bytes.len();
        // A character has one byte that doesn't continue another.
        self.characters += bytes.iter().filter(|b| **b & 0xC0 != 0x80).count();
        self.inked += bytes.iter().filter(|b| !matches!(b, b' ' | b'\t')).count();
        self.last = bytes.last().copied().unwrap_or(self.last);
    }

    fn characters(&self) -> usize {
        let end = usize::from(self.last == b'\r');
        if self.inked > end { (self.characters - end).max(1) } else { 0 }
    }
}

/// A run of lines with the state before the first.
#[derive(Debug)]
pub(crate) struct Piece {
    bytes: Vec<u8>,
    /// From 0.
    first_line: usize,
    /// Index of the first move that comes from here.
    pub(crate) first_move: usize,
    pub(crate) state: State,
}

impl Piece {
    /// The line that begins at a byte, and where the next one does.
    pub(crate) fn line_at(&self, at: usize) -> Option<(Cow<'_, str>, usize)> {
        let rest = self.bytes.get(at..).filter(|r| !r.is_empty())?;
        let length = rest.iter().position(|b| *b == b'\n').unwrap_or(rest.len());
        let first = at == 0 && self.first_line == 0;
        Some((bare(&rest[..length], first).0, at + length + 1))
    }
}

/// A line as text, without its mark, and the bytes of the mark.
pub(crate) fn bare(line: &[u8], first: bool) -> (Cow<'_, str>, usize) {
    match line.strip_prefix(MARK) {
        Some(rest) if first => (String::from_utf8_lossy(rest), MARK.len()),
        _ => (String::from_utf8_lossy(line), 0),
    }
}

/// Where a byte of a line's text stands in its bytes, where those that are no text count as they are.
pub(crate) fn place_in_bytes(line: &[u8], at: usize) -> usize {
    let (mut shown, mut real) = (0, 0);
    for chunk in line.utf8_chunks() {
        let valid = chunk.valid().len();
        if at < shown + valid {
            return real + at - shown;
        }
        shown += valid;
        real += valid;
        if !chunk.invalid().is_empty() {
            if at < shown + '\u{fffd}'.len_utf8() {
                return real;
            }
            shown += '\u{fffd}'.len_utf8();
            real += chunk.invalid().len();
        }
    }
    real
}

/// All lines of a file.
#[derive(Debug, Default)]
pub(crate) struct Text {
    pub(crate) pieces: Vec<Piece>,
    lines: usize,
}

impl Text {
    /// Whether the next line begins a piece.
    pub(crate) fn wants_piece(&self, parameters: usize) -> bool {
        self.pieces.last().is_none_or(|p| p.bytes.len() >= PIECE + PER_PARAMETER * parameters)
    }

    pub(crate) fn begin_piece(&mut self, first_move: usize, state: State) {
        if let Some(last) = self.pieces.last_mut() {
            last.bytes.shrink_to_fit();
        }
        self.pieces.push(Piece { bytes: Vec::new(), first_line: self.lines, first_move, state });
    }

    pub(crate) fn add(&mut self, line: &[u8], extent: Extent) {
        if let Some(piece) = self.pieces.last_mut() {
            piece.bytes.extend_from_slice(line);
            if extent.beyond > 0 {
                piece.bytes.extend_from_slice(CUT.as_bytes());
            }
            piece.bytes.push(b'\n');
            self.lines += 1;
        }
    }

    pub(crate) fn close(&mut self) {
        if let Some(last) = self.pieces.last_mut() {
            last.bytes.shrink_to_fit();
        }
        self.pieces.shrink_to_fit();
    }
}

/// The lines of a program's text, for showing; index 0 is line 1. A line's end isn't part of it, nor is a byte order
/// mark; bytes that are no text show as U+FFFD, and a line much longer than a legal one is cut.
#[derive(Clone, Default)]
pub struct Lines(pub(crate) Arc<Text>);

impl Lines {
    /// How many there are.
    pub fn len(&self) -> usize {
        self.0.lines
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.0.lines == 0
    }

    /// A line by its index, from 0.
    pub fn get(&self, index: usize) -> Option<Cow<'_, str>> {
        if index >= self.0.lines {
            return None;
        }
        let piece = self.0.pieces.get(self.0.pieces.partition_point(|p| p.first_line <= index).checked_sub(1)?)?;
        let line = piece.bytes.split(|b| *b == b'\n').nth(index - piece.first_line)?;
        Some(bare(line, index == 0).0)
    }

    /// In order.
    pub fn iter(&self) -> impl Iterator<Item = Cow<'_, str>> {
        self.0.pieces.iter().flat_map(|piece| {
            let mut at = 0;
            std::iter::from_fn(move || {
                let (line, next) = piece.line_at(at)?;
                at = next;
                Some(line)
            })
        })
    }
}

impl fmt::Debug for Lines {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list().entries(self.iter()).finish()
    }
}

impl PartialEq for Lines {
    fn eq(&self, other: &Self) -> bool {
        self.len() == other.len() && self.iter().eq(other.iter())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(mut bytes: &[u8]) -> Vec<(String, Extent)> {
        let (mut line, mut found) = (Vec::new(), Vec::new());
        while let Some(extent) = next_line(&mut bytes, &mut line).unwrap() {
            found.push((String::from_utf8_lossy(&line).into_owned(), extent));
        }
        found
    }

    #[test]
    fn lines_end_in_one_character_or_two() {
        let found = lines(b"a\r\n\nb\rc\nd\r");
        let texts: Vec<_> = found.iter().map(|f| (f.0.as_str(), f.1.bytes)).collect();
        assert_eq!(texts, [("a", 3), ("", 1), ("b\rc", 4), ("d\r", 2)]);
        assert!(lines(b"").is_empty());
    }

    #[test]
    fn long_lines_are_cut_and_counted() {
        let long = format!("{}\r\nx", "é".repeat(2000));
        let found = lines(long.as_bytes());
        assert_eq!((found[0].0.len(), found[0].1), (KEPT, Extent { bytes: 4002, beyond: 2000 - KEPT / 2 }));
        assert_eq!(found[1].0, "x");
        // Blanks beyond don't count, whatever ends them.
        assert_eq!(lines(&[b' '; 2000])[0].1, Extent { bytes: 2000, beyond: 0 });
        let blank = [&[b' '; 2000][..], b"\r\n"].concat();
        assert_eq!(lines(&blank)[0].1.beyond, 0);
        let inked = [&[b' '; 2000][..], b"X\r\n"].concat();
        assert_eq!(lines(&inked)[0].1.beyond, 2001 - KEPT);
    }

    #[test]
    fn places_in_bytes_that_are_no_text() {
        let line = b"a\xff\xfeb\xc3\xa9c";
        let text = String::from_utf8_lossy(line);
        let at = |c: char| place_in_bytes(line, text.find(c).unwrap());
        assert_eq!([at('a'), at('\u{fffd}'), at('b'), at('é'), at('c')], [0, 1, 3, 4, 6]);
        assert_eq!(place_in_bytes(line, text.len()), line.len());
    }
}
