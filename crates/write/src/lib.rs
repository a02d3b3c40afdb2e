//! Motions to program text in the shop's dialect, in the words of ISO 6983 / RS-274.
//!
//! Coordinates are rounded to the dialect's decimals first and everything after is reckoned from the rounded
//! numbers, so that errors don't add up. An arc's centre is chosen against the rounded ends, so that start and end
//! radius agree within the standard's 0.002 mm or 0.0002 in (NISTIR 6556 §3.5.3); an arc that can't be is halved, and
//! one too flat or too short to tell from its chord is written as a line.

mod text;

pub use text::{Dialect, Heading, Units, write};

use std::f64::consts::{PI, TAU};

/// Where start and end radius may differ at most, as a share of what the standard allows: some of it is left for
/// the reader's own rounding.
const RADIUS_SHARE: f64 = 0.75;

/// An arc in units of the text: rounded ends and centre offset.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Rounded {
    end: [f64; 2],
    offset: [f64; 2],
}

/// The centre offset, rounded to `step`, that best fits rounded ends; `None` if none is good enough.
fn round_centre(
    start: [f64; 2],
    end: [f64; 2],
    centre: [f64; 2],
    ccw: bool,
    step: f64,
    radius_rule: f64,
) -> Option<Rounded> {
    let chord = [end[0] - start[0], end[1] - start[1]];
    let length = libm::hypot(chord[0], chord[1]);
    if length < 2.0 * step {
        return None;
    }
    // The nearest point to the wanted centre that is as far from one end as from the other.
    let middle = [start[0] + chord[0] / 2.0, start[1] + chord[1] / 2.0];
    let normal = [-chord[1] / length, chord[0] / length];
    let out = (centre[0] - middle[0]) * normal[0] + (centre[1] - middle[1]) * normal[1];
    let ideal = [middle[0] + normal[0] * out, middle[1] + normal[1] * out];
    let radius = libm::hypot(ideal[0] - start[0], ideal[1] - start[1]);
    let wanted = sweep(start, end, ideal, ccw);
    let mut best: Option<(f64, [f64; 2])> = None;
    for i in -1..=1 {
        for j in -1..=1 {
            let snap = |v: f64, k: i32| ((v / step).round() + f64::from(k)) * step;
            let offset = [snap(ideal[0] - start[0], i), snap(ideal[1] - start[1], j)];
            let c = [start[0] + offset[0], start[1] + offset[1]];
            let (r0, r1) = (libm::hypot(offset[0], offset[1]), libm::hypot(end[0] - c[0], end[1] - c[1]));
            let off = (r0 - r1).abs() + 0.5 * (r0 - radius).abs();
            let turned_over = (sweep(start, end, c, ccw) - wanted).abs() > 0.2 * wanted + 1e-3;
            if (r0 - r1).abs() <= radius_rule * RADIUS_SHARE
                && r0 > step
                && !turned_over
                && best.is_none_or(|b| off < b.0)
            {
                best = Some((off, offset));
            }
        }
    }
    best.map(|(_, offset)| Rounded { end, offset })
}

/// The unsigned angle turned from start to end about a centre in the given direction, in (0, 2 pi].
fn sweep(start: [f64; 2], end: [f64; 2], centre: [f64; 2], ccw: bool) -> f64 {
    let angle = |p: [f64; 2]| libm::atan2(p[1] - centre[1], p[0] - centre[0]);
    let turn = if ccw { angle(end) - angle(start) } else { angle(start) - angle(end) };
    let turn = turn.rem_euclid(TAU);
    if turn < 1e-12 { TAU } else { turn }
}

/// Height of an arc over its chord: r (1 - cos(sweep / 2)).
fn sagitta(radius: f64, sweep: f64) -> f64 {
    radius * (1.0 - libm::cos((sweep / 2.0).min(PI)))
}
