//! A program's ways seen from above: the cut in ink, as heavy as the cutter's front is deep in material, and the ways through
//! the air as dotted hairlines.

use crate::above::{self, View};
use crate::drawing::{Drawing, Step, style};
use crate::ink::{INK, THIN};
use crate::job::Job;
use crate::lettering::{Cut, Lettering};
use crate::numbers::minutes;
use crate::pictures::{AROUND, MARGIN, WIDTH, WORDS, below, finish, view};
use motion::Move;
use plane::Point;
use proof::Stretch;

/// Greatest angles of the weights, degrees: 180 is a slot.
const ANGLES: [f64; 6] = [30.0, 60.0, 90.0, 120.0, 150.0, 180.0];
/// The least weight, units.
const FINEST: f32 = 0.3;
/// The greatest, units, where paths are far enough apart.
const HEAVIEST: f32 = 2.6;
/// Share of the distance between paths that the greatest weight may take.
const OF_STEPOVER: f64 = 0.75;
/// Dots of ways through the air: length and distance, units.
const DOT: (f32, f32) = (0.5, 3.0);

/// The ways of one stage (from 0) with what its moves are, as PNG bytes.
pub fn paths(job: &Job, index: usize, moves: &[Move]) -> Vec<u8> {
    let lettering = Lettering::new();
    let mut drawing = Drawing::new(&lettering, WIDTH, 0.0);
    let view = view(job, AROUND);
    drawing.line(view.blank_edge(job.intent), THIN, 0.5);
    above::holds(&mut drawing, &view, &job.intent.holds);
    drawing.line(through_air(&view, moves), THIN, 0.35);
    let stage = job.proof_of(index);
    let stretches = stage.map_or(&[][..], |s| &s.stretches);
    let cutter = stage.and_then(|s| job.shop.cutter(s.cutter_number));
    let apart = cutter.map_or(1.0, |c| c.stepover * c.cutting_width.to_mm());
    let heaviest = ((OF_STEPOVER * apart) as f32 * view.scale).clamp(2.0 * FINEST, HEAVIEST);
    for (k, path) in by_weight(&view, stretches).into_iter().enumerate() {
        drawing.line(path, INK, weight(k, heaviest));
    }
    below(&mut drawing, &view);
    let y = view.top + view.height() + WORDS * 2.2;
    key(&mut drawing, y, heaviest);
    let file = job.stages.get(index).map_or("", |s| s.file.as_str());
    let told = stage.map_or_else(String::new, |s| {
        let length = |kind: f64| format!("{:.2} m", kind / 1000.0);
        let u = &s.cutter_use;
        format!(
            ", cutter {} ({}), {}: {} in material, {} through air with feed, {} of rapids",
            s.cutter_number,
            s.cutter,
            minutes(s.minutes),
            length(u.cutting_length),
            length(u.air_length),
            length(u.rapid_length)
        )
    });
    let caption = format!(
        "Ways of stage **{}** of {}: *{}*{told}. Weight of line is how far round the cutter stands in material, as the proof \
         found it from the text; all passes lie over each other; dotted: rapids.",
        index + 1,
        job.stages.len(),
        file.replace('*', "")
    );
    finish(drawing, y + WORDS * 1.8, &caption)
}

fn weight(k: usize, heaviest: f32) -> f32 {
    FINEST + (heaviest - FINEST) * k as f32 / (ANGLES.len() - 1) as f32
}

/// The stretches by their weights, one that goes on from another drawn on from it.
fn by_weight(view: &View, stretches: &[Stretch]) -> Vec<Vec<Step>> {
    let mut paths: Vec<Vec<Step>> = vec![Vec::new(); ANGLES.len()];
    let mut last: Option<(usize, [f64; 2])> = None;
    for s in stretches {
        let k = ANGLES.iter().position(|&a| s.engagement <= a).unwrap_or(ANGLES.len() - 1);
        let [(x0, y0), (x1, y1)] = s.ends.map(|[x, y]| view.at(Point::new(x, y)));
        if last != Some((k, s.ends[0])) {
            paths[k].push(Step::Move(x0, y0));
        }
        paths[k].push(Step::Line(x1, y1));
        last = Some((k, s.ends[1]));
    }
    paths
}

/// Level rapids as dots.
fn through_air(view: &View, moves: &[Move]) -> Vec<Step> {
    let mut path = Vec::new();
    let mut here: Option<Point> = None;
    for step in moves {
        match step {
            Move::Rapid(to) => {
                if let Some(from) = here {
                    dots(view.at(from), view.at(to.p), &mut path);
                }
                here = Some(to.p);
            }
            Move::Line { to, .. } | Move::Arc { to, .. } => here = Some(to.p),
            Move::Pass(_) => {}
        }
    }
    path
}

fn dots(from: (f32, f32), to: (f32, f32), path: &mut Vec<Step>) {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = (dx * dx + dy * dy).sqrt();
    let count = (length / DOT.1).min(10_000.0) as usize;
    for k in 0..count {
        let (a, b) = (k as f32 * DOT.1 / length, (k as f32 * DOT.1 + DOT.0) / length);
        path.push(Step::Move(from.0 + dx * a, from.1 + dy * a));
        path.push(Step::Line(from.0 + dx * b, from.1 + dy * b));
    }
}

/// Sample lines with their angles.
fn key(drawing: &mut Drawing, y: f32, heaviest: f32) {
    let words = style(WORDS * 0.85, Cut::Regular, INK);
    let mut x = MARGIN;
    for (k, angle) in ANGLES.iter().enumerate() {
        drawing.rule((x, y - WORDS * 0.3), (x + 28.0, y - WORDS * 0.3), INK, weight(k, heaviest));
        let text = if k + 1 == ANGLES.len() { "180°, a slot".to_owned() } else { format!("to {angle:.0}°") };
        x += 34.0;
        x += drawing.text(x, y, words, &text) + 18.0;
    }
}
