//! The setup sheet's rows for each stage: the plate after it, cutter, dial, file, minutes, what to check.

use crate::above::{self, View};
use crate::blocks::{Block, Measure, Pages, WIDTH};
use crate::drawing::style;
use crate::flow::{self, marked, run};
use crate::ink::{INK, PAPER};
use crate::job::Job;
use crate::lettering::{Cut, Lettering};
use crate::numbers::{minutes_number, short, two};
use crate::setup::{ASIDE, BIG, PLAIN, SMALL, TEXT, cutter_words, dial, ringed, tick_box};

/// Widths of a picture, the best first. The first with which everything stands on the fewest pages, and cutters' names
/// are not cut off, is taken.
const PICTURES: [f32; 10] = [198.0, 184.0, 168.0, 152.0, 136.0, 124.0, 118.0, 112.0, 106.0, 100.0];
/// Up to this width of a picture the numbers stand in one line with the file's name, if it has room for them.
const ONE_LINE: f32 = 152.0;
/// Greatest height of a picture to its width.
const TALLEST: f32 = 0.78;
/// Between picture and words.
const GAP: f32 = 14.0;
/// What the numbers take in one line.
const NUMBERS: f32 = 244.0;
/// Where the file's name begins, after the ring.
const NAME: f32 = 23.0;
/// A file's name.
const FILE: crate::drawing::Style = style(TEXT * 1.35, Cut::Bold, INK);
/// Pixels a point: about 290 a printed inch.
const FINE: f32 = 4.0;

/// All stages, one under the other, with the largest pictures that leave room for the blocks that follow.
pub(crate) fn stages<'a>(job: &Job, pages: &mut Pages<'a>, rest: &[Block]) {
    let lettering = pages.lettering;
    let opened = |picture: f32| {
        let row = Row::of(job, picture, lettering);
        let own: Vec<Measure> =
            (0..job.stages.len()).map(|index| row.stage(job, index, lettering, false).measure()).collect();
        (pages.pages_for(own.into_iter().chain(rest.iter().map(Block::measure))), row.cuts_names(job, lettering))
    };
    // `min_by_key` takes the first of equals, which has the largest picture.
    let picture = PICTURES.into_iter().min_by_key(|&p| opened(p)).unwrap_or(PICTURES[0]);
    let row = Row::of(job, picture, lettering);
    for index in 0..job.stages.len() {
        pages.place(row.stage(job, index, lettering, true));
    }
}

/// How all rows are laid out.
struct Row {
    /// Width of the picture.
    picture: f32,
    /// Whether the numbers stand in one line with the file's name.
    one_line: bool,
}

impl Row {
    fn of(job: &Job, picture: f32, lettering: &Lettering) -> Self {
        let room = WIDTH - picture - GAP - NAME - NUMBERS;
        let fits = job.stages.iter().all(|s| lettering.width(&s.file, FILE.cut, FILE.size) <= room);
        Self { picture, one_line: picture <= ONE_LINE && fits }
    }

    /// Whether some cutter's name would be cut off.
    fn cuts_names(&self, job: &Job, lettering: &Lettering) -> bool {
        let room = WIDTH - self.picture - GAP - NUMBERS + 5.0;
        let wide = |index: usize| lettering.width(&cutter_words(job, index).0, PLAIN.cut, PLAIN.size);
        !self.one_line && (0..job.stages.len()).any(|index| wide(index) > room)
    }

    /// A stage's block; the model is left out of the picture where only its size matters.
    fn stage<'a>(&self, job: &Job, index: usize, lettering: &'a Lettering, drawn: bool) -> Block<'a> {
        let mut block = Block::new(lettering);
        let Some(words) = job.stages.get(index) else { return block };
        block.rule((0.0, 0.0), (WIDTH, 0.0), INK, 0.8);
        let mut lowest = 0.0;
        if let Some(stage) = job.proof_of(index).filter(|s| !s.relief.heights.is_empty()) {
            let mut view = View::of_blank(job.intent, 1.5, 0.0, 5.0, self.picture, self.picture * TALLEST);
            view.left = (self.picture - view.width()) / 2.0;
            if drawn {
                view.model(&mut block, &stage.relief, job.intent, FINE, PAPER);
                above::holds(&mut block, &view, &job.intent.holds);
            }
            lowest = view.top + view.height() + 2.0;
        }
        let left = self.picture + GAP;
        let width = WIDTH - left;
        let purpose = format!("{}.", words.purpose.trim_end_matches('.'));
        let reach = job.proof_of(index).map(|p| p.cutter_use);
        let reach = reach.filter(|u| u.lowest.is_finite() && u.cutting_length > 0.0).map_or_else(String::new, |u| {
            format!(" Lowest {} mm, deepest bite {} mm.", two(u.lowest), two(u.deepest_bite))
        });
        let own = if words.own.is_empty() { String::new() } else { format!(" Your own: {}.", words.own.join(", ")) };
        let hop = words.hop.map_or_else(String::new, |h| format!(", hops at {} mm", two(h.to_mm())));
        let facts = format!(
            "{} rev/min, feed to {} mm/min, passes to {} mm, traverses at {} mm{hop}.{reach}{own}",
            short(words.speed.to_rev_per_min(), 0),
            short(words.feed.to_mm_per_min(), 0),
            two(words.pass_depth.to_mm()),
            two(words.traverse.to_mm()),
        );
        ringed(&mut block, left + 8.5, 14.0, 8.5, index + 1);
        let mut y;
        if self.one_line {
            block.text(left + NAME, 18.5, FILE, &words.file);
            numbers(&mut block, job, index, WIDTH - NUMBERS, 18.5, false);
            let (name, _) = cutter_words(job, index);
            let told = [run(purpose, ASIDE), run(format!(" {name}, {facts}"), SMALL)];
            y = 24.0 + flow::set(&mut block, left, 24.0, width, &told);
        } else {
            let used = block.text_within(left + NAME, 18.5, FILE, width - NAME, &words.file);
            // The purpose stands behind the file's name where it fits, else below it.
            let behind = width - NAME - used - 10.0;
            y = 26.0;
            if lettering.width(&purpose, ASIDE.cut, ASIDE.size) <= behind {
                block.text(left + NAME + used + 10.0, 18.5, ASIDE, &purpose);
            } else {
                y += flow::set(&mut block, left, y - 1.0, width, &[run(purpose, ASIDE)]);
            }
            numbers(&mut block, job, index, left, y + 17.0, true);
            y += 22.0;
            y += flow::set(&mut block, left, y, width, &[run(facts, SMALL)]);
        }
        y += 1.0;
        y = checks(&mut block, &words.checks, left, y, width);
        block.sized(y.max(lowest) + 3.0)
    }
}

/// Sentences with a box to tick each, in one line where they fit; their lower edge.
fn checks(block: &mut Block, checks: &[String], left: f32, top: f32, width: f32) -> f32 {
    let lettering = block.lettering;
    let wide = |check: &String| lettering.width(&check.replace('*', ""), PLAIN.cut, PLAIN.size) * 1.03 + 27.0;
    let beside = checks.iter().map(wide).sum::<f32>() <= width;
    let (mut x, mut y, mut lowest) = (left, top, top);
    for check in checks {
        tick_box(block, x + 1.0, y + 9.5);
        lowest = y + flow::set(block, x + 15.0, y, left + width - x - 15.0, &marked(check, PLAIN)) + 1.0;
        if beside {
            x += wide(check);
        } else {
            y = lowest;
        }
    }
    lowest
}

/// The line of numbers that matter, from `left` to the right edge: cutter, with its name or not, stick-out, dial,
/// minutes.
fn numbers(block: &mut Block, job: &Job, index: usize, left: f32, base: f32, named: bool) {
    let Some(words) = job.stages.get(index) else { return };
    let (name, stick_out) = cutter_words(job, index);
    let time = job.proof_of(index).map_or(f64::NAN, |p| p.minutes);
    // Columns from the right, the same in every row: minutes, dial or speed, stick-out; the cutter takes the rest.
    let unit = block.text_to(WIDTH, base, PLAIN, " min");
    block.text_to(WIDTH - unit, base, BIG, &minutes_number(time));
    let (at_dial, label) = (WIDTH - 82.0, if words.dial.is_some() { "dial " } else { "rev/min " });
    block.text_to(at_dial, base, PLAIN, label);
    dial(block, at_dial, base, if words.dial.is_some() { 32.0 } else { 19.0 }, words);
    let at_out = at_dial - 40.0;
    let unit = block.text_to(at_out, base, PLAIN, " mm out");
    let pen = at_out - unit - block.text_to(at_out - unit, base, BIG, &stick_out) - 8.0;
    let mut from = left + block.text(left, base, PLAIN, "cutter ");
    from += block.text(from, base, BIG, &words.cutter_number.to_string()) + 5.0;
    if named {
        block.text_within(from, base, PLAIN, pen - from, &name);
    }
}
