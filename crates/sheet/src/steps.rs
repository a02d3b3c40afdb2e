//! The setup sheet's blocks for each stage: the plate after it, cutter, dial, file, minutes, what to check.

use crate::above::{self, View};
use crate::blocks::{Block, Pages, WIDTH};
use crate::drawing::style;
use crate::flow::{self, marked, run};
use crate::ink::{INK, PAPER};
use crate::job::Job;
use crate::lettering::{Cut, Lettering};
use crate::numbers::{short, two};
use crate::setup::{ASIDE, BIG, PLAIN, TEXT, cutter_words, dial, minutes_number, ringed, tick_box};

/// Width of a picture.
const PICTURE: f32 = 168.0;
/// Greatest height of a picture.
const TALLEST: f32 = 130.0;
/// Where the words begin.
const WORDS: f32 = PICTURE + 14.0;
/// Pixels a point: about 290 a printed inch.
const FINE: f32 = 4.0;

/// All stages, one under the other.
pub(crate) fn stages<'a>(job: &Job, pages: &mut Pages<'a>) {
    for index in 0..job.stages.len() {
        let block = stage(job, index, pages.lettering);
        pages.place(block);
    }
}

fn stage<'a>(job: &Job, index: usize, lettering: &'a Lettering) -> Block<'a> {
    let mut block = Block::new(lettering);
    let Some(words) = job.stages.get(index) else { return block };
    block.rule((0.0, 0.0), (WIDTH, 0.0), INK, 0.8);
    let mut drawn = 0.0;
    if let Some(stage) = job.proof_of(index).filter(|s| !s.relief.heights.is_empty()) {
        let mut view = View::of_blank(job.intent, 1.5, 0.0, 5.0, PICTURE, TALLEST);
        view.left = (PICTURE - view.width()) / 2.0;
        view.model(&mut block, &stage.relief, job.intent, FINE, PAPER);
        above::holds(&mut block, &view, &job.intent.holds);
        drawn = view.top + view.height() + 4.0;
    }
    let width = WIDTH - WORDS;
    ringed(&mut block, WORDS + 8.5, 14.0, 8.5, index + 1);
    let file = style(TEXT * 1.35, Cut::Bold, INK);
    let used = block.text_within(WORDS + 23.0, 18.5, file, width * 0.62, &words.file);
    let purpose = format!("{}.", words.purpose.trim_end_matches('.'));
    // The purpose stands behind the file's name where it fits, else below it.
    let behind = width - 23.0 - used - 10.0;
    let mut y = 26.0;
    if lettering.width(&purpose, ASIDE.cut, ASIDE.size) <= behind {
        block.text(WORDS + 23.0 + used + 10.0, 18.5, ASIDE, &purpose);
    } else {
        y += flow::set(&mut block, WORDS, y - 1.0, width, &[run(purpose, ASIDE)]);
    }
    y = numbers(&mut block, job, index, y + 17.0) + 5.0;
    let facts = format!(
        "{} rev/min, feed to {} mm/min, passes to {} mm, traverses at {} mm.",
        short(words.speed.to_rev_per_min(), 0),
        short(words.feed.to_mm_per_min(), 0),
        two(words.pass_depth.to_mm()),
        two(words.traverse.to_mm()),
    );
    let cut = job.proof_of(index).map(|p| p.cutter_use).filter(|u| u.lowest.is_finite() && u.cutting_length > 0.0);
    let reached = cut.map_or_else(String::new, |u| {
        format!(" Lowest {} mm, deepest bite {} mm.", two(u.lowest), two(u.deepest_bite))
    });
    y += flow::set(&mut block, WORDS, y, width, &[run(facts + &reached, PLAIN)]) + 2.0;
    for check in &words.checks {
        tick_box(&mut block, WORDS + 1.0, y + 9.5);
        y += flow::set(&mut block, WORDS + 15.0, y, width - 15.0, &marked(check, PLAIN)) + 1.5;
    }
    block.sized(y.max(drawn) + 6.0)
}

/// The line of numbers that matter: cutter, stick-out, dial, minutes.
fn numbers(block: &mut Block, job: &Job, index: usize, base: f32) -> f32 {
    let Some(words) = job.stages.get(index) else { return base };
    let (name, stick_out) = cutter_words(job, index);
    let time = job.proof_of(index).map_or(f64::NAN, |p| p.minutes);
    // Columns from the right, the same in every block: minutes, dial or speed, stick-out; the name takes the rest.
    let unit = block.text_to(WIDTH, base, PLAIN, " min");
    block.text_to(WIDTH - unit, base, BIG, &minutes_number(time));
    let (at_dial, label) = (WIDTH - 88.0, if words.dial.is_some() { "dial " } else { "rev/min " });
    block.text_to(at_dial, base, PLAIN, label);
    dial(block, at_dial, base, if words.dial.is_some() { 34.0 } else { 21.0 }, words);
    let at_out = at_dial - 42.0;
    let unit = block.text_to(at_out, base, PLAIN, " mm out");
    let pen = at_out - unit - block.text_to(at_out - unit, base, BIG, &stick_out) - 8.0;
    let mut from = WORDS + block.text(WORDS, base, PLAIN, "cutter ");
    from += block.text(from, base, BIG, &words.cutter_number.to_string()) + 5.0;
    block.text_within(from, base, PLAIN, pen - from, &name);
    base
}
