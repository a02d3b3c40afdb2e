//! Text that flows: runs of words in several styles broken into lines of a given width.

use crate::drawing::{Drawing, Style};
use crate::lettering::Cut;

/// Sizes above this are numbers that stand out of a line of text.
const LARGE: f32 = 15.0;

/// A piece of text in one style.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Run {
    /// What it says.
    pub(crate) text: String,
    /// How it is set.
    pub(crate) style: Style,
}

/// A run.
pub(crate) fn run(text: impl Into<String>, style: Style) -> Run {
    Run { text: text.into(), style }
}

/// Runs of a text in which `*words*` are italic and `**words**` bold; a lone star stays a star.
pub(crate) fn marked(text: &str, plain: Style) -> Vec<Run> {
    let mut runs = Vec::new();
    let mut rest = text;
    while let Some(at) = rest.find('*') {
        let star = if rest[at..].starts_with("**") { "**" } else { "*" };
        let inside = &rest[at + star.len()..];
        let end = inside.find(star).filter(|&e| e > 0);
        let Some(end) = end else {
            runs.push(run(&rest[..at + star.len()], plain));
            rest = inside;
            continue;
        };
        if at > 0 {
            runs.push(run(&rest[..at], plain));
        }
        let cut = if star == "*" { Cut::Italic } else { Cut::Bold };
        runs.push(run(&inside[..end], Style { cut, ..plain }));
        rest = &inside[end + star.len()..];
    }
    if !rest.is_empty() {
        runs.push(run(rest, plain));
    }
    runs
}

/// A word with its place in the line.
struct Word {
    text: String,
    style: Style,
    width: f32,
    /// Whether a space stands before it.
    spaced: bool,
}

/// Sets runs from a top left corner in a width; the height used. Lines are 1.32 of their largest size apart,
/// less where a large number stands among small words.
pub(crate) fn set(drawing: &mut Drawing, x: f32, top: f32, width: f32, runs: &[Run]) -> f32 {
    let lines = broken(drawing, width, runs);
    let mut y = top;
    for line in &lines {
        let size = line.iter().map(|w| w.style.size).fold(0.0, f32::max);
        let mut pen = x;
        for (i, word) in line.iter().enumerate() {
            if word.spaced && i > 0 {
                pen += word.style.size * 0.25;
            }
            drawing.text(pen, y + rise(size), word.style, &word.text);
            pen += word.width;
        }
        y += leading(size);
    }
    y - top
}

/// From the top of a line to its base line.
fn rise(size: f32) -> f32 {
    if size > LARGE { size * 0.80 } else { size * 0.98 }
}

/// From line to line.
fn leading(size: f32) -> f32 {
    if size > LARGE { size * 1.06 } else { size * 1.32 }
}

fn broken(drawing: &Drawing, width: f32, runs: &[Run]) -> Vec<Vec<Word>> {
    let mut lines: Vec<Vec<Word>> = Vec::new();
    let mut line: Vec<Word> = Vec::new();
    let mut pen = 0.0;
    let mut words = words(drawing, width, runs).into_iter().peekable();
    while let Some(word) = words.next() {
        // Words without a space between them stay together, as long as a line can take them.
        let mut group = vec![word];
        while let Some(next) = words.next_if(|w| !w.spaced) {
            group.push(next);
        }
        let wide: f32 = group.iter().map(|w| w.width).sum();
        let whole = wide <= width;
        for (i, word) in group.into_iter().enumerate() {
            let needed = if whole && i == 0 { wide } else { word.width };
            let space = if word.spaced && !line.is_empty() { word.style.size * 0.25 } else { 0.0 };
            if pen + space + needed > width && !line.is_empty() && (i == 0 || !whole) {
                lines.push(std::mem::take(&mut line));
                pen = 0.0;
            } else {
                pen += space;
            }
            pen += word.width;
            line.push(word);
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// Words of runs; a word wider than the line is cut into pieces that fit.
fn words(drawing: &Drawing, width: f32, runs: &[Run]) -> Vec<Word> {
    let mut words = Vec::new();
    let mut spaced = true;
    for Run { text, style } in runs {
        let mut first = true;
        for piece in text.split(|c: char| c.is_whitespace() && c != '\u{a0}' && c != '\u{202f}') {
            if !first {
                spaced = true;
            }
            first = false;
            if piece.is_empty() {
                continue;
            }
            for part in fitting(drawing, piece, *style, width) {
                let part_width = drawing.lettering.width(&part, style.cut, style.size);
                words.push(Word { text: part, style: *style, width: part_width, spaced });
                // Further pieces of one overlong word may stand on the next line.
                spaced = true;
            }
            spaced = false;
        }
    }
    words
}

fn fitting(drawing: &Drawing, word: &str, style: Style, width: f32) -> Vec<String> {
    let glyphs = drawing.lettering.shape(word, style.cut);
    if glyphs.iter().map(|g| g.advance).sum::<f32>() * style.size <= width {
        return vec![word.to_owned()];
    }
    let (mut parts, mut from, mut pen) = (Vec::new(), 0, 0.0);
    for glyph in &glyphs {
        let advance = glyph.advance * style.size;
        if pen + advance > width && glyph.from > from {
            parts.push(word.get(from..glyph.from).unwrap_or("").to_owned());
            (from, pen) = (glyph.from, 0.0);
        }
        pen += advance;
    }
    parts.push(word.get(from..).unwrap_or("").to_owned());
    parts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::style;
    use crate::ink::INK;
    use crate::lettering::Lettering;

    const PLAIN: Style = style(10.0, Cut::Regular, INK);

    #[test]
    fn stars_mark_cuts() {
        let runs = marked("*Field* shows ruby at **2.61 mm**, 3 * 4", PLAIN);
        let cuts: Vec<(&str, Cut)> = runs.iter().map(|r| (r.text.as_str(), r.style.cut)).collect();
        assert_eq!(cuts[0], ("Field", Cut::Italic));
        assert_eq!(cuts[2], ("2.61 mm", Cut::Bold));
        let all: String = runs.iter().map(|r| r.text.as_str()).collect();
        assert_eq!(all, "Field shows ruby at 2.61 mm, 3 * 4");
        for odd in ["*", "**", "***", "****", "*a", "a**b*", "é*ü*"] {
            marked(odd, PLAIN);
        }
    }

    #[test]
    fn lines_stay_within_their_width() {
        let lettering = Lettering::new();
        let mut drawing = Drawing::new(&lettering, 100.0, 100.0);
        let text = format!(
            "a short one and **12**\u{a0}glued\u{a0}to\u{a0}it **9**{} {} then more words to break",
            "y".repeat(90),
            "x".repeat(200)
        );
        let runs = marked(&text, PLAIN);
        assert!(set(&mut drawing, 0.0, 0.0, 80.0, &runs) > 40.0);
        for mark in &drawing.marks {
            if let crate::drawing::Mark::Text { x, text, cut, size, .. } = mark {
                assert!(x + lettering.width(text, *cut, *size) <= 80.01, "{text}");
            }
        }
    }
}
