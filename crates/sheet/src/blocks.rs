//! Blocks set one under the other, and the pages that they fill.

use crate::drawing::{Drawing, Mark, Step, style};
use crate::ink::{INK, QUIET};
use crate::lettering::{Cut, Lettering};
use std::ops::{Deref, DerefMut};

/// A4 in points (ISO 216: 210 × 297 mm).
const PAGE: [f32; 2] = [595.276, 841.89];
/// Letter's height in points: 11 in. A4 is the narrower of the two.
const LETTER_HEIGHT: f32 = 792.0;
/// Kept clear at the edge of either format, for printers that can't print there.
const CLEAR: f32 = 36.0;
/// Left edge of what is printed.
const LEFT: f32 = CLEAR;
/// Width of what is printed.
pub(crate) const WIDTH: f32 = 523.0;
/// Upper edge. Printers lay A4 on Letter by the upper edge, the middle or the lower edge; what lies between this and
/// [`BOTTOM`] is on the paper, 18 points from its edge, in all three.
const TOP: f32 = PAGE[1] - LETTER_HEIGHT + CLEAR * 0.5;
/// Lower edge of the blocks; the foot stands under it.
const BOTTOM: f32 = LETTER_HEIGHT - CLEAR * 0.5 - 14.0;

/// What a block takes on a page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Measure {
    height: f32,
    after: f32,
}

/// Marks with a height, moved as one.
pub(crate) struct Block<'a> {
    drawing: Drawing<'a>,
    /// Room below, left out where the page ends.
    after: f32,
}

impl<'a> Block<'a> {
    /// An empty block.
    pub(crate) fn new(lettering: &'a Lettering) -> Self {
        Self { drawing: Drawing::new(lettering, WIDTH, 0.0), after: 0.0 }
    }

    /// The block with a height.
    pub(crate) fn sized(mut self, height: f32) -> Self {
        self.drawing.height = height;
        self
    }

    /// The block with room below it, left out where the page ends.
    pub(crate) fn followed_by(mut self, after: f32) -> Self {
        self.after = after;
        self
    }

    /// What it takes on a page.
    pub(crate) fn measure(&self) -> Measure {
        Measure { height: self.drawing.height, after: self.after }
    }

    /// One block of this one and another below it.
    pub(crate) fn above(mut self, other: Self) -> Self {
        let top = self.drawing.height + self.after;
        self.drawing.height = top + other.drawing.height;
        self.after = other.after;
        self.drawing.marks.extend(other.drawing.marks.into_iter().map(|m| moved(m, 0.0, top)));
        self
    }
}

impl<'a> Deref for Block<'a> {
    type Target = Drawing<'a>;
    fn deref(&self) -> &Drawing<'a> {
        &self.drawing
    }
}

impl<'a> DerefMut for Block<'a> {
    fn deref_mut(&mut self) -> &mut Drawing<'a> {
        &mut self.drawing
    }
}

/// A block under one that may still wait to be placed.
pub(crate) fn rest_of<'a>(waiting: Option<Block<'a>>, block: Block<'a>) -> Block<'a> {
    match waiting {
        Some(first) => first.above(block),
        None => block,
    }
}

/// Pages in the making.
pub(crate) struct Pages<'a> {
    /// For measuring text.
    pub(crate) lettering: &'a Lettering,
    title: String,
    verdict: &'static str,
    pages: Vec<Drawing<'a>>,
    y: f32,
}

impl<'a> Pages<'a> {
    /// Without a page yet.
    pub(crate) fn new(lettering: &'a Lettering, title: &str, verdict: &'static str) -> Self {
        Self { lettering, title: title.to_owned(), verdict, pages: Vec::new(), y: BOTTOM }
    }

    /// Places a block below what is there, on a new page where it doesn't fit any more.
    pub(crate) fn place(&mut self, block: Block<'a>) {
        let (turned, y, next) = turn(self.y, block.measure());
        if turned || self.pages.is_empty() {
            self.pages.push(Drawing::new(self.lettering, PAGE[0], PAGE[1]));
        }
        if let Some(page) = self.pages.last_mut() {
            page.marks.extend(block.drawing.marks.into_iter().map(|m| moved(m, LEFT, y)));
        }
        self.y = next;
    }

    /// How many more pages blocks of these measures would open if they were placed now.
    pub(crate) fn pages_for(&self, blocks: impl Iterator<Item = Measure>) -> usize {
        let mut y = self.y;
        blocks
            .filter(|block| {
                let (turned, _, next) = turn(y, *block);
                y = next;
                turned
            })
            .count()
    }

    /// The pages with their feet.
    pub(crate) fn finished(mut self) -> Vec<Drawing<'a>> {
        let count = self.pages.len();
        for (index, page) in self.pages.iter_mut().enumerate() {
            let (y, size) = (BOTTOM + 12.0, 9.0);
            let number = format!("page {} of {count}", index + 1);
            let used = page.text_to(LEFT + WIDTH, y, style(size, Cut::Regular, INK), &number);
            let verdict = format!("{}, ", self.verdict.to_lowercase());
            page.text_to(LEFT + WIDTH - used, y, style(size, Cut::Bold, INK), &verdict);
            page.text_within(LEFT, y, style(size, Cut::Italic, QUIET), WIDTH - 150.0, &self.title);
        }
        self.pages
    }
}

/// Whether a block needs a new page when the last one is filled down to `y`, where its top comes, and down to where
/// that page is filled then.
fn turn(y: f32, block: Measure) -> (bool, f32, f32) {
    let turned = y + block.height > BOTTOM && y > TOP;
    let top = if turned { TOP } else { y };
    (turned, top, (top + block.height + block.after).min(BOTTOM.max(top + block.height)))
}

fn moved(mark: Mark, dx: f32, dy: f32) -> Mark {
    let shift = |path: Vec<Step>| path.into_iter().map(|s| step_moved(s, dx, dy)).collect();
    match mark {
        Mark::Fill { path, ink } => Mark::Fill { path: shift(path), ink },
        Mark::Line { path, ink, width } => Mark::Line { path: shift(path), ink, width },
        Mark::Hatch { path, lines, ink, width } => {
            let lines = lines.into_iter().map(|l| [l[0] + dx, l[1] + dy, l[2] + dx, l[3] + dy]).collect();
            Mark::Hatch { path: shift(path), lines, ink, width }
        }
        Mark::Text { x, y, size, cut, ink, text } => Mark::Text { x: x + dx, y: y + dy, size, cut, ink, text },
        Mark::Pixels { x, y, width, height, pixels } => Mark::Pixels { x: x + dx, y: y + dy, width, height, pixels },
    }
}

fn step_moved(step: Step, dx: f32, dy: f32) -> Step {
    match step {
        Step::Move(x, y) => Step::Move(x + dx, y + dy),
        Step::Line(x, y) => Step::Line(x + dx, y + dy),
        Step::Cubic(a, b, c, d, x, y) => Step::Cubic(a + dx, b + dy, c + dx, d + dy, x + dx, y + dy),
        Step::Close => Step::Close,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 216: A4 is 297 mm high; Letter is 11 in (from memory). However the printer lays the one on the other, every mark stays
    /// 18 points inside the paper.
    #[test]
    fn blocks_stay_on_both_papers() {
        assert!((PAGE[1] - 297.0 / 25.4 * 72.0).abs() < 0.01 && (PAGE[0] - 210.0 / 25.4 * 72.0).abs() < 0.01);
        let lettering = Lettering::new();
        let mut pages = Pages::new(&lettering, "a title", "Proven");
        let mut opened = 0;
        for i in 0..60 {
            let mut block = Block::new(&lettering);
            block.rule((0.0, 0.0), (WIDTH, 0.0), INK, 1.0);
            block.text(0.0, 20.0, style(10.0, Cut::Regular, INK), "words");
            let block = block.sized(20.0 + (i % 7) as f32 * 15.0).followed_by((i % 3) as f32 * 4.0);
            opened += pages.pages_for(std::iter::once(block.measure()));
            pages.place(block);
        }
        let pages = pages.finished();
        assert!(pages.len() > 4);
        assert_eq!(pages.len(), opened);
        let over = PAGE[1] - LETTER_HEIGHT;
        for y in pages.iter().flat_map(|p| &p.marks).flat_map(|mark| match mark {
            Mark::Text { y, size, .. } => vec![y - size * 0.7, y + size * 0.2],
            Mark::Line { path, .. } => path.iter().map(|s| if let Step::Line(_, y) = s { *y } else { 100.0 }).collect(),
            _ => vec![],
        }) {
            for shift in [0.0, over / 2.0, over] {
                assert!((17.5..=LETTER_HEIGHT - 17.5).contains(&(y - shift)), "{y} shifted by {shift}");
            }
        }
        const { assert!(LEFT >= 18.0 && LEFT + WIDTH <= PAGE[0] - 18.0) };
    }
}
