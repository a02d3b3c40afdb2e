//! What one program takes away: the blank before it and after it, side by side, at one scale.

use crate::above::{self, View};
use crate::drawing::{Drawing, style};
use crate::ink::{GROUND, INK};
use crate::lettering::{Cut, Lettering};
use crate::numbers::minutes;
use crate::pictures::{FINE, MARGIN, WIDTH, WORDS, finish};
use plate::Intent;
use proof::HeightMap;

/// Between the two.
const GAP: f32 = 24.0;
/// Greatest height of the blank.
const TALLEST: f32 = 700.0;
/// mm of paper around the blank.
const AROUND: f64 = 3.0;

/// A program as its picture names it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TakesAway<'a> {
    /// From 1.
    pub number: usize,
    /// The program's file name.
    pub file: &'a str,
    /// The shop's cutter number and name.
    pub cutter: (u32, &'a str),
    /// Predicted minutes.
    pub minutes: f64,
    /// Material removed, mm³.
    pub removed: f64,
    /// The model before it; without one the blank is whole.
    pub before: Option<&'a HeightMap>,
    /// The model after it.
    pub after: &'a HeightMap,
}

/// The blank before and after a program, as PNG bytes.
pub fn before_after(intent: &Intent, program: &TakesAway) -> Vec<u8> {
    let whole;
    let before = match program.before {
        Some(map) => map,
        None => {
            let face = intent.blank.face_high.max(intent.blank.face).to_mm() as f32;
            let heights = vec![face; program.after.heights.len()];
            whole = HeightMap { heights, ..program.after.clone() };
            &whole
        }
    };
    let lettering = Lettering::new();
    let mut drawing = Drawing::new(&lettering, WIDTH, 0.0);
    let room = (WIDTH - 2.0 * MARGIN - GAP) / 2.0;
    let top = MARGIN / 2.0 + WORDS * 1.4;
    let mut bottom = top;
    for (side, (map, words)) in [(before, "before"), (program.after, "after")].into_iter().enumerate() {
        let left = MARGIN + side as f32 * (room + GAP);
        let mut view = View::of_blank(intent, AROUND, left, top, room, TALLEST);
        view.left = ((left + (room - view.width()) / 2.0) * FINE).round() / FINE;
        drawing.text_about(view.left + view.width() / 2.0, top - WORDS * 0.5, style(WORDS, Cut::Italic, INK), words);
        view.model(&mut drawing, map, intent, FINE, GROUND);
        above::holds(&mut drawing, &view, &intent.holds);
        if side == 0 {
            above::zero_corner(&mut drawing, &view, WORDS);
        } else {
            let (right, y) = (view.left + view.width() - AROUND as f32 * view.scale, view.top + view.height());
            above::scale_bar(&mut drawing, right, y + WORDS * 0.9, room * 0.5, view.scale, WORDS);
        }
        bottom = bottom.max(view.top + view.height());
    }
    let caption = format!(
        "Program **{}**: *{}*, cutter {} ({}), {}, takes away {:.0} mm³. Blank {}.",
        program.number,
        program.file.replace('*', ""),
        program.cutter.0,
        program.cutter.1.replace('*', ""),
        minutes(program.minutes),
        program.removed.max(0.0),
        above::blank_words(intent),
    );
    finish(drawing, bottom + WORDS * 2.2, &caption)
}
