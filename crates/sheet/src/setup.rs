//! The setup sheet: what a maker needs at the machine, on as few pages as will hold it.
//!
//! Pages are A4, and everything lies within the area that A4 and Letter share, whichever edge the printer aligns.
//! Numbers that matter at the machine are twice the size of the rest. Nothing depends on colour.

use crate::above::{self, View};
use crate::blocks::{Block, Pages, WIDTH, rest_of};
use crate::drawing::{Style, circle, rectangle, style};
use crate::flow::{self, Run, marked, run};
use crate::ink::{HAIR, INK, QUIET, THIN};
use crate::job::Job;
use crate::lettering::{Cut, Lettering};
use crate::numbers::{count, minutes, minutes_number, short};
use crate::order::{self, Piece};
use crate::{notes, page, section, steps};
use proof::Verdict;

/// Size of text.
pub(crate) const TEXT: f32 = 10.0;
/// Text.
pub(crate) const PLAIN: Style = style(TEXT, Cut::Regular, INK);
/// Text of what is read at a desk.
pub(crate) const SMALL: Style = style(TEXT * 0.9, Cut::Regular, INK);
/// Text of what is looked up.
pub(crate) const NOTE: Style = style(TEXT * 0.84, Cut::Regular, INK);
/// Asides.
pub(crate) const ASIDE: Style = style(TEXT * 0.92, Cut::Italic, QUIET);
/// Numbers that matter at the machine.
pub(crate) const BIG: Style = style(TEXT * 2.0, Cut::Bold, INK);
/// Heads of parts.
pub(crate) const HEAD: Style = style(TEXT * 1.25, Cut::Bold, INK);

/// The setup sheet as PDF bytes. The same job gives the same bytes; there is no date.
pub fn setup_sheet(job: &Job) -> Vec<u8> {
    let lettering = Lettering::new();
    let mut pages = Pages::new(&lettering, &title(job), above::verdict_word(job.proof.verdict));
    pages.place(head(job, &lettering));
    let (blank, told) = blank_and_zero(job, &lettering);
    pages.place(blank);
    pages.place(layers(job, &lettering));
    table(job, &mut pages);
    let mut rest = vec![notes::hand_work(job, &lettering)];
    rest.extend(notes::warnings(job, &lettering));
    // What the plate shows ends on the first page, where that has room for it.
    match notes::shown(job, told, &lettering) {
        Some(shown) if pages.pages_for(std::iter::once(shown.measure())) == 0 => pages.place(shown),
        shown => rest.extend(shown),
    }
    rest.extend(notes::looked_up(job, &lettering));
    steps::stages(job, &mut pages, &rest);
    rest.into_iter().for_each(|block| pages.place(block));
    page::pdf(&title(job), &pages.finished())
}

fn title(job: &Job) -> String {
    let title = job.intent.title.trim();
    if title.is_empty() { "Plate without a title".to_owned() } else { title.to_owned() }
}

/// Title and verdict.
fn head<'a>(job: &Job, lettering: &'a Lettering) -> Block<'a> {
    let mut block = Block::new(lettering);
    let verdict = job.proof.verdict;
    let (radius, word_size) = (17.0, 31.0);
    let word = style(word_size, Cut::Bold, INK);
    let word_width = block.text_to(WIDTH, 26.0, word, above::verdict_word(verdict));
    let mark = WIDTH - word_width - radius - 9.0;
    above::verdict_mark(&mut block, verdict, mark, 16.5, radius);
    let room = mark - radius - 16.0;
    let name = title(job);
    let large = style(24.0, Cut::Bold, INK);
    let fits = lettering.width(&name, large.cut, large.size) <= room;
    let name_style = if fits { large } else { style(16.0, Cut::Bold, INK) };
    let used =
        flow::set(&mut block, 0.0, if fits { 0.0 } else { 2.0 }, room, &[run(shortened(&name, 160), name_style)]);
    let shop = job.shop.name.trim();
    let shop = if shop.is_empty() { String::new() } else { format!(" for {shop}") };
    let total = minutes(job.minutes());
    let line = format!("Setup sheet{shop}: {}, {total} of cutting", count(job.stages.len(), "program", "programs"));
    let aside = [run(line, style(11.0, Cut::Italic, QUIET))];
    let top = used.max(32.0) + 2.0;
    let used = flow::set(&mut block, 0.0, top, WIDTH, &aside);
    let told = flow::set(&mut block, 0.0, top + used + 1.0, WIDTH, &verdict_sentence(job));
    let y = top + used + told + 6.0;
    block.rule((0.0, y), (WIDTH, y), INK, 0.8);
    block.sized(y + 8.0)
}

fn verdict_sentence(job: &Job) -> Vec<Run> {
    let bold = style(TEXT, Cut::Bold, INK);
    let findings = count(job.proof.findings.len(), "finding", "findings");
    match job.proof.verdict {
        Verdict::Proven => {
            let text = "The programs, read back from their own text, make this plate and touch nothing else.";
            vec![run(text, PLAIN)]
        }
        Verdict::Refused => vec![
            run("Do not run these programs.", bold),
            run(
                format!(" Read back from their own text they do not make this plate: {findings}, listed at the end."),
                PLAIN,
            ),
        ],
        Verdict::Undecided => vec![
            run("Do not run these programs yet.", bold),
            run(format!(" Something in them leaves open what they do: {findings}, listed at the end."), PLAIN),
        ],
    }
}

/// The blank to scale beside what to do before the first program, and how many of the areas' sentences stand with it.
fn blank_and_zero<'a>(job: &Job, lettering: &'a Lettering) -> (Block<'a>, usize) {
    let mut block = Block::new(lettering);
    let (left, gap) = (326.0, 17.0);
    let (view, ratio) = to_scale(job, left - 40.0, 215.0);
    block.fill(view.blank_edge(job.intent), [246, 246, 246]);
    for area in &job.intent.areas {
        block.line(view.region(&area.region), THIN, 0.4);
    }
    if let Some(outline) = &job.intent.outline {
        block.line(view.region(&outline.inside), INK, 0.7);
    }
    block.line(view.blank_edge(job.intent), INK, 1.2);
    above::holds(&mut block, &view, &job.intent.holds);
    above::zero_corner(&mut block, &view, 11.0);
    let y = above::blank_size(&mut block, &view, job.intent, TEXT) + 3.0;
    let holds = if job.intent.holds.is_empty() { "" } else { ", holds as they stand" };
    let words = format!("The blank from above, drawn {ratio}{holds}. The thick line is the plate’s edge.");
    let drawn = y + flow::set(&mut block, 0.0, y, left, &[run(words, ASIDE)]);

    let x = left + gap;
    let mut y = 0.0;
    block.text(x, y + HEAD.size, HEAD, "Before the first program");
    y += HEAD.size * 1.5;
    for runs in before(job) {
        y += flow::set(&mut block, x, y, WIDTH - x, &runs) + 4.0;
    }
    // What the plate shows fills the room under the drawing; what is left of it comes in the lists.
    let told = told_sentences(&mut block, job, drawn + 8.0, left, y.max(drawn + 20.0));
    (block.sized(drawn.max(y) + 8.0), told)
}

/// Sets as many of the areas' sentences as fit above `bottom`; how many.
fn told_sentences(block: &mut Block, job: &Job, top: f32, width: f32, bottom: f32) -> usize {
    let mut y = top;
    for (index, sentence) in job.sentences.iter().enumerate() {
        let runs = marked(sentence, SMALL);
        let mut trial = Block::new(block.lettering);
        let used = flow::set(&mut trial, 0.0, 0.0, width - 11.0, &runs);
        if y + used > bottom {
            return index;
        }
        block.text(1.0, y + SMALL.size * 0.98, SMALL, "–");
        flow::set(block, 11.0, y, width - 11.0, &runs);
        y += used + 1.5;
    }
    job.sentences.len()
}

/// The largest plain scale at which the blank fits.
fn to_scale(job: &Job, width: f32, height: f32) -> (View, String) {
    let fitting = View::of_blank(job.intent, 2.0, 0.0, 4.0, width, height);
    let point = 72.0 / 25.4f32;
    let mut ratio = 1.0f32;
    for decade in [1.0, 10.0, 100.0, 1000.0] {
        for step in [1.0f32, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5] {
            if point / ratio > fitting.scale {
                ratio = step * decade;
            }
        }
    }
    let scale = (point / ratio).min(fitting.scale);
    (View { scale, ..fitting }, format!("1 : {}", short(f64::from(ratio), 1)))
}

/// What to do before the first program, in the order it is done.
fn before(job: &Job) -> Vec<Vec<Run>> {
    let set = |piece: Piece| match piece {
        Piece::Plain(words) => run(words, PLAIN),
        Piece::Strong(words) => run(words, style(TEXT, Cut::Bold, INK)),
        Piece::Number(words) => run(words, BIG),
    };
    order::before(job).into_iter().map(|step| step.says.into_iter().map(set).collect()).collect()
}

/// The blank's layers in section with their heights.
fn layers<'a>(job: &Job, lettering: &'a Lettering) -> Block<'a> {
    let mut block = Block::new(lettering);
    let cut = section::most_telling(&job.proof.relief, &job.intent.blank);
    let used = section::draw(&mut block, job.intent, cut.as_ref(), 5.0, 0.0, WIDTH - 5.0, TEXT);
    let caption = marked(&section::caption(cut.as_ref(), used.stretch), ASIDE);
    let told = flow::set(&mut block, 0.0, used.bottom + 1.0, WIDTH, &caption);
    block.sized(used.bottom + told + 6.0)
}

/// Where the columns of the stage table begin; the last ends at the right edge.
const COLUMNS: [f32; 5] = [0.0, 26.0, 188.0, 366.0, 440.0];

/// The table of stages.
fn table(job: &Job, pages: &mut Pages) {
    let lettering = pages.lettering;
    let mut block = Block::new(lettering);
    block.text(0.0, HEAD.size, HEAD, "The programs, in this order");
    let y = HEAD.size * 1.5 + ASIDE.size;
    for (x, words) in COLUMNS.iter().zip(["", "program", "cutter", "stick-out", "dial"]) {
        block.text(*x, y, ASIDE, words);
    }
    block.text_to(WIDTH, y, ASIDE, "minutes");
    block.rule((0.0, y + 4.0), (WIDTH, y + 4.0), INK, 0.6);
    let mut opening = Some(block.sized(y + 5.0));
    for (index, stage) in job.stages.iter().enumerate() {
        let mut row = Block::new(lettering);
        let base = 20.0;
        let room = |i: usize| COLUMNS.get(i + 1).copied().unwrap_or(WIDTH) - COLUMNS[i] - 8.0;
        row.text(COLUMNS[0], base, style(TEXT * 1.2, Cut::Bold, INK), &(index + 1).to_string());
        row.text_within(COLUMNS[1], base, style(TEXT * 1.3, Cut::Bold, INK), room(1), &stage.file);
        let number = row.text(COLUMNS[2], base, BIG, &stage.cutter_number.to_string());
        let (name, stick_out) = cutter_words(job, index);
        row.text_within(COLUMNS[2] + number + 6.0, base, PLAIN, room(2) - number - 6.0, &name);
        let wide = row.text(COLUMNS[3], base, BIG, &stick_out);
        row.text(COLUMNS[3] + wide + 3.0, base, PLAIN, "mm");
        dial(&mut row, COLUMNS[4], base, 34.0, stage);
        let time = job.proof_of(index).map_or(f64::NAN, |p| p.minutes);
        row.text_to(WIDTH, base, BIG, &minutes_number(time));
        row.rule((0.0, base + 6.5), (WIDTH, base + 6.5), HAIR, 0.6);
        let row = row.sized(base + 7.0);
        // The heading stays with the first row.
        pages.place(match opening.take() {
            Some(block) => block.above(row),
            None => row,
        });
    }
    let mut close = Block::new(lettering);
    let handling =
        reckon::pace::starts_and_changes(&job.shop.machine, job.stages.iter().map(|stage| stage.cutter_number));
    let total = job.minutes() + handling / 60.0;
    let text =
        format!("{} of cutting; with loading and touching off about {}.", minutes(job.minutes()), minutes(total));
    close.text_to(WIDTH, 12.0, ASIDE, &text);
    pages.place(rest_of(opening, close.sized(18.0)));
}

/// A cutter's name, and its stick-out as a number.
pub(crate) fn cutter_words(job: &Job, index: usize) -> (String, String) {
    let number = job.stages.get(index).map_or(0, |s| s.cutter_number);
    match job.shop.cutter(number) {
        Some(cutter) => (cutter.name.clone(), short(cutter.stick_out.to_mm(), 1)),
        None => (job.proof_of(index).map_or_else(String::new, |p| p.cutter.clone()), "–".to_owned()),
    }
}

/// The dial's position large, or the speed where there is no dial.
pub(crate) fn dial(block: &mut Block, x: f32, base: f32, room: f32, stage: &crate::StageWords) -> f32 {
    match &stage.dial {
        Some(position) => block.text_within(x, base, BIG, room, position),
        None => block.text_within(
            x,
            base,
            style(TEXT * 1.3, Cut::Bold, INK),
            room * 2.0,
            &short(stage.speed.to_rev_per_min(), 0),
        ),
    }
}

/// A box to tick.
pub(crate) fn tick_box(block: &mut Block, x: f32, base: f32) {
    block.line(rectangle(x, base - 8.0, 8.0, 8.0), INK, 0.8);
}

/// A number in a ring.
pub(crate) fn ringed(block: &mut Block, x: f32, y: f32, r: f32, number: usize) {
    block.line(circle(x, y, r), INK, 0.9);
    block.text_about(x, y + r * 0.42, style(r * 1.25, Cut::Bold, INK), &number.to_string());
}

/// A text of at most so many characters.
fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most).collect();
    format!("{}…", kept.trim_end())
}
