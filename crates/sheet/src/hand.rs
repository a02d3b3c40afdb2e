//! Numbered spots of hand work on a drawing.

use crate::above::View;
use crate::drawing::{Drawing, circle, polyline, style};
use crate::ink::{GROUND, INK, Rgb};
use crate::lettering::Cut;
use crate::section::spread;
use proof::HandWork;

/// Room for numbers at either side of the plate, units.
pub(crate) const GUTTER: f32 = 34.0;
/// Smallest size of a number.
const SMALLEST: f32 = 5.5;

/// Numbers spots from 1 in their order: each with a fine leader line to a number at the plate's side; where there
/// are too many for that, numbers stand at the spots themselves.
pub(crate) fn numbers(drawing: &mut Drawing, view: &View, spots: &[HandWork], size: f32, width: f32) {
    let middle = (view.window.min.x + view.window.max.x) / 2.0;
    for left in [true, false] {
        let mut side: Vec<(usize, (f32, f32), f32)> = spots
            .iter()
            .enumerate()
            .filter(|(_, s)| s.at.is_finite() && view.window.contains(s.at) && (s.at.x < middle) == left)
            .map(|(i, s)| (i + 1, view.at(s.at), ring(s, view)))
            .collect();
        side.sort_by(|a, b| a.1.1.total_cmp(&b.1.1).then(a.0.cmp(&b.0)));
        let room = view.height().max(size);
        let step = (room / side.len().max(1) as f32).min(size * 1.5);
        if step < SMALLEST * 1.05 {
            for (number, (x, y), r) in side {
                mark(drawing, (x, y), r);
                let text = number.to_string();
                halo(drawing, (x + r, y - r), SMALLEST, &text);
            }
            continue;
        }
        let letters = (step * 0.92).min(size);
        let mut places: Vec<f32> = side.iter().map(|s| s.1.1).collect();
        spread(&mut places, step);
        keep_within(&mut places, step, view.top + step / 2.0, view.top + room - step / 2.0);
        for ((number, (x, y), r), place) in side.into_iter().zip(places) {
            let edge = if left { view.left - 2.0 } else { view.left + view.width() + 2.0 };
            let elbow = if left { edge + 6.0 } else { edge - 6.0 };
            let start = toward((x, y), (elbow, place), r);
            // A pale line under the leader keeps it in sight on dark sheets.
            let course = polyline(&[start, (elbow, place), (edge, place)]);
            drawing.line(course.clone(), GROUND, 1.7);
            drawing.line(course, INK, 0.55);
            mark(drawing, (x, y), r);
            let text = number.to_string();
            let baseline = place + letters * 0.33;
            let letters = style(letters, Cut::Bold, INK);
            if left {
                drawing.text_to((edge - 2.0).max(8.0), baseline, letters, &text);
            } else {
                drawing.text((edge + 2.0).min(width - 8.0), baseline, letters, &text);
            }
        }
    }
}

/// Radius of the ring around a spot: its gap, but large enough to be seen.
fn ring(spot: &HandWork, view: &View) -> f32 {
    let gap = if spot.gap.is_finite() { spot.gap as f32 * view.scale } else { 0.0 };
    gap.clamp(2.6, 9.0)
}

fn mark(drawing: &mut Drawing, (x, y): (f32, f32), r: f32) {
    drawing.line(circle(x, y, r), GROUND, 2.0);
    drawing.line(circle(x, y, r), INK, 0.8);
}

fn halo(drawing: &mut Drawing, (x, y): (f32, f32), size: f32, text: &str) {
    let width = drawing.lettering.width(text, Cut::Bold, size);
    let pad: Rgb = GROUND;
    drawing.fill(crate::drawing::rectangle(x - 0.6, y - size * 0.72, width + 1.2, size * 0.86), pad);
    drawing.text(x, y, style(size, Cut::Bold, INK), text);
}

/// The point on the ring around `from` that looks toward `to`.
fn toward(from: (f32, f32), to: (f32, f32), r: f32) -> (f32, f32) {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let far = libm::hypotf(dx, dy).max(1e-6);
    (from.0 + dx / far * r, from.1 + dy / far * r)
}

/// Shifts sorted places that run over an edge back in, `step` apart.
fn keep_within(places: &mut [f32], step: f32, low: f32, high: f32) {
    let mut least = low;
    for place in places.iter_mut() {
        *place = place.max(least);
        least = *place + step;
    }
    let mut most = high;
    for place in places.iter_mut().rev() {
        *place = place.min(most);
        most = *place - step;
    }
}
