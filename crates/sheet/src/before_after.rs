//! What one program takes away: the blank before it, what goes hatched, and after it, side by side at one scale.

use crate::above::{self, View};
use crate::drawing::{Drawing, Pixels, style};
use crate::ink::{self, GROUND, INK};
use crate::lettering::{Cut, Lettering};
use crate::numbers::minutes;
use crate::pictures::{FINE, MARGIN, WIDTH, WORDS, finish};
use crate::relief::{self, cell_of};
use plate::Intent;
use proof::HeightMap;

/// Between the two.
const GAP: f32 = 24.0;
/// Greatest height of the blank.
const TALLEST: f32 = 700.0;
/// Pixels from one line of the hatching to the next, and how many are a line.
const HATCH: (usize, usize) = (14, 3);
/// Less than this isn't taken away, mm.
const TAKEN: f32 = 0.001;
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
        let mut pixels = relief::picture(map, &intent.blank, view.window, f64::from(view.scale * FINE), GROUND);
        if side == 0 {
            hatch(&mut pixels, &view, map, program.after);
        }
        drawing.pixels(view.left, view.top, view.width(), view.height(), pixels);
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
        "Program **{}**: *{}*, cutter {} ({}), {}, takes away {:.0} mm³, hatched. Blank {}.",
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

/// Hatches what is lower after than before, dark on light ground and light on dark.
fn hatch(pixels: &mut Pixels, view: &View, before: &HeightMap, after: &HeightMap) {
    let (width, height) = (view.window.width(), view.window.height());
    if pixels.columns == 0 || pixels.rows == 0 || after.heights.len() != before.heights.len() {
        return;
    }
    let size = [width / pixels.columns as f64, height / pixels.rows as f64];
    for row in 0..pixels.rows {
        let y = view.window.max.y - (row as f64 + 0.5) * size[1];
        let Some(map_row) = cell_of(y - after.origin.y, after.pitch, after.rows) else { continue };
        for column in 0..pixels.columns {
            if (row + column) % HATCH.0 >= HATCH.1 {
                continue;
            }
            let x = view.window.min.x + (column as f64 + 0.5) * size[0];
            let cell = cell_of(x - after.origin.x, after.pitch, after.columns).map(|c| map_row * after.columns + c);
            let taken = cell.is_some_and(|c| match (before.heights.get(c), after.heights.get(c)) {
                (Some(before), Some(after)) => after + TAKEN < *before,
                _ => false,
            });
            if let (true, Some(colour)) = (taken, pixels.colours.get_mut(row * pixels.columns + column)) {
                let light = colour.iter().map(|c| ink::decode(*c)).sum::<f64>() / 3.0;
                *colour = ink::mixed(if light > 0.18 { INK } else { GROUND }, *colour, 0.7);
            }
        }
    }
}
