//! The setup sheet's blocks for each stage: the plate after it, cutter, dial, file, minutes, what to check.

use crate::above::{self, View};
use crate::blocks::{Block, Pages, WIDTH};
use crate::drawing::style;
use crate::flow::{self, marked, run};
use crate::ink::{INK, PAPER};
use crate::job::Job;
use crate::lettering::{Cut, Lettering};
use crate::numbers::{minutes, short, two};
use crate::setup::{ASIDE, BIG, HEAD, PLAIN, TEXT, cutter_words, dial, ringed, tick_box};

/// Space between the two columns.
const GAP: f32 = 21.0;
/// Width of a column.
const COLUMN: f32 = (WIDTH - GAP) / 2.0;
/// Greatest height of a picture.
const TALLEST: f32 = 190.0;
/// Pixels a point: about 220 a printed inch.
const FINE: f32 = 3.0;

/// All stages, two beside each other.
pub(crate) fn stages<'a>(job: &Job, pages: &mut Pages<'a>) {
    let lettering = pages.lettering;
    for index in (0..job.stages.len()).step_by(2) {
        let mut row = stage(job, index, lettering);
        if index + 1 < job.stages.len() {
            row = row.beside(stage(job, index + 1, lettering), COLUMN + GAP);
        }
        pages.place(row);
    }
}

fn stage<'a>(job: &Job, index: usize, lettering: &'a Lettering) -> Block<'a> {
    let mut block = Block::new(lettering);
    let Some(words) = job.stages.get(index) else { return block };
    block.rule((0.0, 0.0), (COLUMN, 0.0), INK, 0.8);
    ringed(&mut block, 9.5, 16.0, 9.0, index + 1);
    block.text_within(24.0, 20.5, style(TEXT * 1.4, Cut::Bold, INK), COLUMN - 24.0, &words.file);
    let mut y = 28.0;
    let purpose = [run(format!("{}.", words.purpose.trim_end_matches('.')), PLAIN)];
    y += flow::set(&mut block, 0.0, y, COLUMN, &purpose) + 4.0;

    if let Some(stage) = job.proof_of(index).filter(|s| !s.relief.heights.is_empty()) {
        let mut view = View::of_blank(job.intent, 2.0, 0.0, y, COLUMN, TALLEST);
        view.left = (COLUMN - view.width()) / 2.0;
        view.model(&mut block, &stage.relief, job.intent, FINE, PAPER);
        above::holds(&mut block, &view, &job.intent.holds);
        y += view.height() + 2.0;
    }
    let (name, stick_out) = cutter_words(job, index);
    let base = y + 20.0;
    let mut pen = block.text(0.0, base, PLAIN, "cutter ");
    pen += block.text(pen, base, BIG, &words.cutter_number.to_string()) + 5.0;
    let dial_words = if words.dial.is_some() { "dial " } else { "rev/min " };
    let dial_width = 74.0;
    block.text_within(pen, base, PLAIN, COLUMN - dial_width - pen - 4.0, &format!("{name}, {stick_out} mm out"));
    let pen = COLUMN - dial_width;
    let wide = block.text(pen, base, PLAIN, dial_words);
    dial(&mut block, pen + wide, base, dial_width - wide, words);
    let time = job.proof_of(index).map_or_else(|| "–".to_owned(), |p| minutes(p.minutes));
    let facts = format!(
        "{} rev/min, feed up to {} mm/min, passes up to {} mm deep, traverses at {} mm; **{time}**.",
        short(words.speed.to_rev_per_min(), 0),
        short(words.feed.to_mm_per_min(), 0),
        two(words.pass_depth.to_mm()),
        two(words.traverse.to_mm()),
    );
    y = base + 6.0;
    y += flow::set(&mut block, 0.0, y, COLUMN, &marked(&facts, PLAIN)) + 2.0;
    if let Some(use_) =
        job.proof_of(index).map(|p| p.cutter_use).filter(|u| u.lowest.is_finite() && u.cutting_length > 0.0)
    {
        let text =
            format!("Lowest height reached {} mm; deepest bite {} mm.", two(use_.lowest), two(use_.deepest_bite));
        y += flow::set(&mut block, 0.0, y, COLUMN, &[run(text, ASIDE)]) + 2.0;
    }
    for check in &words.checks {
        tick_box(&mut block, 1.0, y + 10.0);
        y += flow::set(&mut block, 15.0, y, COLUMN - 15.0, &marked(check, PLAIN)) + 2.0;
    }
    block.sized(y + HEAD.size)
}
