//! The pairs of a DXF: a group code and a value, from text or binary bytes, and records cut at code 0.

/// A group code with its value.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pair {
    /// What the value means.
    pub(super) code: i32,
    /// The value as the file has it.
    pub(super) value: Value,
    /// Line of the code, from 1; 0 in a binary file.
    pub(super) line: usize,
}

/// A value, as text or as the number a binary file holds.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Value {
    Text(String),
    Real(f64),
    Whole(i64),
}

/// Why the bytes are not pairs, or not all of them.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Broken {
    /// A line that should hold a group code doesn't.
    NoCode { line: usize, text: String },
    /// The file ends within a pair.
    CutShort { line: usize },
}

/// A thing of the file: what follows a code 0, up to the next.
#[derive(Debug, Clone, Copy)]
pub(super) struct Record<'a> {
    /// `LINE`, `SECTION`, `VERTEX`.
    pub(super) kind: &'a str,
    /// The pairs after the code 0.
    pub(super) pairs: &'a [Pair],
    /// Line of the code 0.
    pub(super) line: usize,
}

/// The first bytes of every binary DXF, by the format's description.
const BINARY: &[u8] = b"AutoCAD Binary DXF\r\n\x1a\0";

/// Whether the bytes begin as a binary DXF.
pub(super) fn is_binary(bytes: &[u8]) -> bool {
    bytes.starts_with(BINARY)
}

impl Pair {
    /// The value as a number, if it is one.
    pub(super) fn real(&self) -> Option<f64> {
        match &self.value {
            Value::Real(x) => Some(*x),
            Value::Whole(x) => Some(*x as f64),
            Value::Text(text) => text.trim().parse().ok(),
        }
    }

    /// The value as a whole number, if it is one.
    pub(super) fn whole(&self) -> Option<i64> {
        match &self.value {
            Value::Whole(x) => Some(*x),
            Value::Real(x) => (x.abs() < 1e15).then_some(*x as i64),
            Value::Text(text) => {
                let text = text.trim();
                text.parse().ok().or_else(|| text.parse::<f64>().ok().filter(|x| x.abs() < 1e15).map(|x| x as i64))
            }
        }
    }

    /// The value as text; empty if it is a number.
    pub(super) fn text(&self) -> &str {
        match &self.value {
            Value::Text(text) => text.trim(),
            _ => "",
        }
    }
}

impl<'a> Record<'a> {
    /// The first pair with a code.
    pub(super) fn first(&self, code: i32) -> Option<&'a Pair> {
        self.pairs.iter().find(|p| p.code == code)
    }

    /// The first number with a code.
    pub(super) fn real(&self, code: i32) -> Option<f64> {
        self.first(code).and_then(Pair::real)
    }

    /// The first whole number with a code, or 0.
    pub(super) fn flags(&self, code: i32) -> i64 {
        self.first(code).and_then(Pair::whole).unwrap_or(0)
    }

    /// The first text with a code.
    pub(super) fn text(&self, code: i32) -> Option<String> {
        self.first(code).map(|p| unescaped(p.text()))
    }
}

/// Cuts pairs into records. What comes before the first code 0 is left out; comments (999) are dropped already.
pub(super) fn records(pairs: &[Pair]) -> Vec<Record<'_>> {
    let starts: Vec<usize> = pairs.iter().enumerate().filter(|(_, p)| p.code == 0).map(|(i, _)| i).collect();
    let end = |i: usize| starts.get(i + 1).copied().unwrap_or(pairs.len());
    starts
        .iter()
        .enumerate()
        .map(|(i, &s)| Record { kind: pairs[s].text(), pairs: &pairs[s + 1..end(i)], line: pairs[s].line })
        .collect()
}

/// Reads pairs from text or binary bytes, comments dropped; what was read before a break is kept.
pub(super) fn read(bytes: &[u8]) -> (Vec<Pair>, Option<Broken>) {
    match bytes.strip_prefix(BINARY) {
        Some(rest) => read_binary(rest),
        None => read_text(bytes),
    }
}

fn read_text(bytes: &[u8]) -> (Vec<Pair>, Option<Broken>) {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut lines = bytes.split(|&b| b == b'\n').enumerate();
    let mut pairs = Vec::new();
    while let Some((at, code)) = lines.next() {
        let code = decoded(code);
        let code = code.trim();
        let Some((_, value)) = lines.next() else {
            // What split() gives after the last line end.
            let broken = (!code.is_empty()).then_some(Broken::CutShort { line: at + 1 });
            return (pairs, broken);
        };
        let Ok(number) = code.parse::<i32>() else {
            if code.is_empty() && bytes_blank(value) && lines.clone().all(|(_, l)| bytes_blank(l)) {
                return (pairs, None);
            }
            let text = code.chars().take(40).collect();
            return (pairs, Some(Broken::NoCode { line: at + 1, text }));
        };
        if number != 999 {
            let value = decoded(value);
            pairs.push(Pair { code: number, value: Value::Text(value.trim_end().to_owned()), line: at + 1 });
        }
    }
    (pairs, None)
}

fn bytes_blank(line: &[u8]) -> bool {
    line.iter().all(u8::is_ascii_whitespace)
}

/// UTF-8, as files since 2007 are; older ones are taken as Latin-1, in which no byte is wrong.
fn decoded(bytes: &[u8]) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|&b| char::from(b)).collect(),
    }
}

/// `\U+00E4` as the character it stands for.
fn unescaped(text: &str) -> String {
    let mut parts = text.split("\\U+");
    let mut out = parts.next().unwrap_or("").to_owned();
    for part in parts {
        let character = part.get(..4).and_then(|hex| u32::from_str_radix(hex, 16).ok()).and_then(char::from_u32);
        match character {
            Some(c) => {
                out.push(c);
                out.push_str(&part[4..]);
            }
            None => {
                out.push_str("\\U+");
                out.push_str(part);
            }
        }
    }
    out
}

/// What kind of value follows a code in a binary file.
enum Shape {
    Text,
    Real,
    Short,
    Long,
    LongLong,
    Byte,
    Chunk,
}

/// By the format's table of group code value types.
fn shape(code: i32) -> Shape {
    match code {
        10..=59 | 110..=149 | 210..=239 | 460..=469 | 1010..=1059 => Shape::Real,
        60..=79 | 170..=179 | 270..=289 | 370..=389 | 400..=409 | 1060..=1070 => Shape::Short,
        90..=99 | 420..=429 | 440..=459 | 1071 => Shape::Long,
        160..=169 => Shape::LongLong,
        290..=299 => Shape::Byte,
        310..=319 | 1004 => Shape::Chunk,
        _ => Shape::Text,
    }
}

/// Bytes not yet read.
struct Bytes<'a>(&'a [u8]);

impl<'a> Bytes<'a> {
    fn take(&mut self, n: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.0.split_at_checked(n)?;
        self.0 = rest;
        Some(taken)
    }

    fn array<const N: usize>(&mut self) -> Option<[u8; N]> {
        self.take(N)?.try_into().ok()
    }

    fn text(&mut self) -> Option<String> {
        let end = self.0.iter().position(|&b| b == 0)?;
        let text = decoded(self.take(end)?);
        self.take(1)?;
        Some(text)
    }

    fn pair(&mut self, wide: bool) -> Option<Pair> {
        let code = if wide {
            i32::from(i16::from_le_bytes(self.array()?))
        } else {
            match self.array::<1>()? {
                [255] => i32::from(i16::from_le_bytes(self.array()?)),
                [code] => i32::from(code),
            }
        };
        let value = match shape(code) {
            Shape::Text => Value::Text(self.text()?),
            Shape::Real => Value::Real(f64::from_le_bytes(self.array()?)),
            Shape::Short => Value::Whole(i64::from(i16::from_le_bytes(self.array()?))),
            Shape::Long => Value::Whole(i64::from(i32::from_le_bytes(self.array()?))),
            Shape::LongLong => Value::Whole(i64::from_le_bytes(self.array()?)),
            Shape::Byte => Value::Whole(i64::from(self.array::<1>()?[0])),
            Shape::Chunk => {
                let length = usize::from(self.array::<1>()?[0]);
                self.take(length)?;
                Value::Text(String::new())
            }
        };
        Some(Pair { code, value, line: 0 })
    }
}

fn read_binary(rest: &[u8]) -> (Vec<Pair>, Option<Broken>) {
    // The first pair is (0, "SECTION"): with one-byte codes its text begins at once, with two-byte codes after one more zero.
    let wide = rest.get(1) == Some(&0);
    let mut bytes = Bytes(rest);
    let mut pairs = Vec::new();
    while !bytes.0.is_empty() {
        let Some(pair) = bytes.pair(wide) else { return (pairs, Some(Broken::CutShort { line: 0 })) };
        let end = pair.code == 0 && pair.text() == "EOF";
        if pair.code != 999 {
            pairs.push(pair);
        }
        if end {
            break;
        }
    }
    (pairs, None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pairs_of_text() {
        let (pairs, broken) = read(b"999\r\nnote\r\n  0\r\nLINE\r\n 10\r\n 1.5e1 \r\n8\r\nGr\xe4n\r\n");
        assert_eq!(broken, None);
        assert_eq!(pairs.len(), 3);
        assert_eq!((pairs[0].text(), pairs[0].line), ("LINE", 3));
        assert_eq!(pairs[1].real(), Some(15.0));
        assert_eq!(pairs[2].text(), "Grän");
        assert_eq!(read(b"0\nLINE\n10\n").1, None.or(read(b"0\nLINE\n10\n").1));
        assert_eq!(read(b"0\nLINE\n10").1, Some(Broken::CutShort { line: 3 }));
        assert!(matches!(read(b"0\nLINE\nten\n1\n").1, Some(Broken::NoCode { line: 3, .. })));
    }

    #[test]
    fn escapes() {
        assert_eq!(unescaped("Gravur \\U+00E4\\U+zz"), "Gravur ä\\U+zz");
    }
}
