//! The packet's pictures as PNG.

use crate::above::{self, View};
use crate::drawing::{Drawing, style};
use crate::flow;
use crate::ink::{GROUND, INK};
use crate::job::Job;
use crate::lettering::{Cut, Lettering};
use crate::numbers::{minutes, short};
use crate::section as cut;
use crate::{hand, raster};
use proof::HeightMap;

/// Units across a picture; two pixels a unit.
pub(crate) const WIDTH: f32 = 800.0;
/// Pixels a unit.
pub(crate) const FINE: f32 = 2.0;
/// Greatest height of the plate in a picture.
const TALLEST: f32 = 900.0;
pub(crate) const MARGIN: f32 = 36.0;
/// mm of paper around the blank.
pub(crate) const AROUND: f64 = 4.0;
/// mm of paper around a blank with numbers round it.
const NUMBERED: f64 = 6.0;
/// Size of words in pictures.
pub(crate) const WORDS: f32 = 15.0;

/// The finished plate from the face, as PNG bytes.
pub fn face(job: &Job) -> Vec<u8> {
    let title = job.intent.title.trim();
    let name = if title.is_empty() { "The plate".to_owned() } else { format!("*{}*", title.replace('*', "")) };
    let caption = format!(
        "{name} from the face after the last program, as the proof cut it from the programs’ own text. Blank {}; {}",
        above::blank_words(job.intent),
        lit_words(&job.proof.relief),
    );
    plate_picture(job, &job.proof.relief, &caption)
}

/// The plate as it stands after one stage (from 0), as PNG bytes.
pub fn after_stage(job: &Job, index: usize) -> Vec<u8> {
    let empty = HeightMap::default();
    let stage = job.proof_of(index);
    let file = job.stages.get(index).map_or("", |s| s.file.as_str());
    let map = stage.map_or(&empty, |s| &s.relief);
    let (cutter, time) = stage.map_or((String::new(), String::new()), |s| {
        (format!(", cutter {} ({})", s.cutter_number, s.cutter), format!(", {}", minutes(s.minutes)))
    });
    let caption = format!(
        "After stage **{}** of {}: *{}*{cutter}{time}. {}",
        index + 1,
        job.stages.len(),
        file.replace('*', ""),
        lit_words(map)
    );
    plate_picture(job, map, &caption)
}

/// The section that crosses the most floors, as PNG bytes.
pub fn section(job: &Job) -> Vec<u8> {
    let lettering = Lettering::new();
    let line = cut::most_telling(&job.proof.relief, &job.intent.blank);
    let mut drawing = Drawing::new(&lettering, WIDTH, 0.0);
    let used = cut::draw(&mut drawing, job.intent, line.as_ref(), MARGIN, MARGIN, WIDTH - 2.0 * MARGIN, WORDS);
    let caption = cut::caption(line.as_ref(), used.stretch);
    finish(drawing, used.bottom + 14.0, &caption)
}

/// Where hand work is left, the largest spots numbered, as PNG bytes.
pub fn hand_work(job: &Job) -> Vec<u8> {
    let spots = &job.proof.hand_work;
    let numbered = hand::numbered(job.proof);
    let lettering = Lettering::new();
    let mut drawing = Drawing::new(&lettering, WIDTH, 0.0);
    let around = if numbered.is_empty() { AROUND } else { NUMBERED };
    let view = view(job, around);
    view.model(&mut drawing, &job.proof.relief, job.intent, FINE, GROUND);
    above::holds(&mut drawing, &view, &job.intent.holds);
    hand::spots(&mut drawing, &view, spots, &numbered, WORDS);
    below(&mut drawing, &view);
    finish(drawing, view.top + view.height() + WORDS * 2.2, &hand::caption(spots, &numbered))
}

fn plate_picture(job: &Job, map: &HeightMap, caption: &str) -> Vec<u8> {
    let lettering = Lettering::new();
    let mut drawing = Drawing::new(&lettering, WIDTH, 0.0);
    let view = view(job, AROUND);
    view.model(&mut drawing, map, job.intent, FINE, GROUND);
    above::holds(&mut drawing, &view, &job.intent.holds);
    below(&mut drawing, &view);
    finish(drawing, view.top + view.height() + WORDS * 2.2, caption)
}

/// The blank in the middle of the picture, on whole pixels.
pub(crate) fn view(job: &Job, around: f64) -> View {
    let mut view = View::of_blank(job.intent, around, MARGIN, MARGIN / 2.0, WIDTH - 2.0 * MARGIN, TALLEST);
    view.left = ((WIDTH - view.width()) / 2.0 * FINE).round() / FINE;
    view
}

pub(crate) fn below(drawing: &mut Drawing, view: &View) {
    above::zero_corner(drawing, view, WORDS);
    let y = view.top + view.height() + WORDS * 0.9;
    above::scale_bar(drawing, view.left + view.width() - AROUND as f32 * view.scale, y, 200.0, view.scale, WORDS);
}

pub(crate) fn finish(mut drawing: Drawing, top: f32, caption: &str) -> Vec<u8> {
    let runs = flow::marked(caption, style(WORDS, Cut::Regular, INK));
    let used = flow::set(&mut drawing, MARGIN, top, WIDTH - 2.0 * MARGIN, &runs);
    drawing.height = top + used + MARGIN / 2.0;
    raster::png(&drawing, GROUND, FINE)
}

fn lit_words(map: &HeightMap) -> String {
    if map.heights.is_empty() {
        return "there is no model to show.".to_owned();
    }
    format!("light from the upper left, model pitch {} mm.", short(map.pitch, 3))
}
