//! Hand work on a drawing and in words: the few large spots numbered, the many small ones marked and counted.

use crate::above::View;
use crate::drawing::{Drawing, circle, style};
use crate::ink::{GROUND, INK};
use crate::lettering::Cut;
use crate::numbers::{count, two};
use crate::section::spread;
use doubt::Place;
use plane::Point;
use proof::{HandWork, Proof};

/// Most spots that get a number.
const MOST: usize = 8;
/// Smaller gaps don't get a number, mm: they are what a fine cutter leaves in every corner, and hardly seen (our own
/// measure, no source).
const LARGE: f64 = 0.25;
/// Most sentences; what is left over goes into one more.
const MOST_SENTENCES: usize = 6;
/// A stroke said to be lost belongs to a spot no farther away, mm.
const NEAR: f64 = 20.0;

/// The spots that get numbers, in the order of the numbers: lost strokes, then the largest gaps.
pub(crate) fn numbered(proof: &Proof) -> Vec<&HandWork> {
    let lost: Vec<usize> = proof
        .findings
        .iter()
        .filter(|finding| finding.id == "stroke-lost")
        .flat_map(|finding| &finding.places)
        .filter_map(|place| match place {
            Place::Blank { x, y, .. } => nearest(&proof.hand_work, Point::new(*x, *y)),
            _ => None,
        })
        .collect();
    let mut chosen: Vec<(bool, usize, &HandWork)> = proof
        .hand_work
        .iter()
        .enumerate()
        .map(|(i, spot)| (lost.contains(&i), i, spot))
        .filter(|(lost, _, spot)| *lost || spot.gap > LARGE)
        .collect();
    chosen.sort_by(|a, b| b.0.cmp(&a.0).then(b.2.gap.total_cmp(&a.2.gap)).then(a.1.cmp(&b.1)));
    chosen.into_iter().take(MOST).map(|c| c.2).collect()
}

fn nearest(spots: &[HandWork], at: Point) -> Option<usize> {
    let far = |spot: &HandWork| libm::hypot(spot.at.x - at.x, spot.at.y - at.y);
    let near = spots.iter().enumerate().filter(|(_, s)| far(s) <= NEAR);
    near.min_by(|a, b| far(a.1).total_cmp(&far(b.1))).map(|(i, _)| i)
}

/// Spots of one area for one reason, told in one sentence.
struct Sort<'a> {
    area: &'a str,
    why: &'a str,
    spots: usize,
    gap: f64,
}

/// One sentence for each area and reason, those with the largest gaps first. Names are in `*stars*`.
pub(crate) fn sentences(spots: &[HandWork]) -> Vec<String> {
    let mut sorts: Vec<Sort> = Vec::new();
    for spot in spots {
        let why = spot.why.trim_end_matches('.');
        let at = sorts.iter().position(|s| s.area == spot.area && s.why == why).unwrap_or(sorts.len());
        if at == sorts.len() {
            sorts.push(Sort { area: &spot.area, why, spots: 0, gap: 0.0 });
        }
        let sort = &mut sorts[at];
        sort.spots += 1;
        sort.gap = sort.gap.max(spot.gap);
    }
    sorts.sort_by(|a, b| b.gap.total_cmp(&a.gap));
    let told = if sorts.len() > MOST_SENTENCES + 1 { MOST_SENTENCES } else { sorts.len() };
    let mut sentences: Vec<String> = sorts[..told]
        .iter()
        .map(|sort| {
            let (what, why) = match sort.why.strip_prefix("an inside corner ") {
                Some(why) => (count(sort.spots, "inside corner", "inside corners"), why),
                None => (count(sort.spots, "place", "places"), sort.why),
            };
            format!("*{}*: {what}, up to {} mm, {why}.", sort.area.replace('*', ""), two(sort.gap))
        })
        .collect();
    if told < sorts.len() {
        let rest: usize = sorts[told..].iter().map(|s| s.spots).sum();
        let gap = sorts[told].gap;
        sentences.push(format!("Elsewhere {}, up to {} mm.", count(rest, "more spot", "more spots"), two(gap)));
    }
    sentences
}

/// What a drawing of hand work shows, with how many spots of each kind of mark.
pub(crate) fn caption(spots: &[HandWork], numbered: &[&HandWork]) -> String {
    if spots.is_empty() {
        return "Nothing is left for the hand: the cutters reach every wall and floor of the plate.".to_owned();
    }
    let small = spots.len() - numbered.len().min(spots.len());
    let most = numbered.iter().map(|s| s.gap).fold(0.0, f64::max);
    let rest = spots.iter().filter(|s| !numbered.iter().any(|n| std::ptr::eq(*n, *s)));
    let gap = rest.map(|s| s.gap).fold(0.0, f64::max);
    let large = format!(
        "{} numbered as on the setup sheet (gaps up to {} mm)",
        count(numbered.len(), "large spot is", "large spots are"),
        two(most)
    );
    let dots = format!("{} up to {} mm", count(small, "small mark is a gap of", "small marks are gaps of"), two(gap));
    match (numbered.len(), small) {
        (0, _) => format!("Left for the hand: {dots}."),
        (_, 0) => format!("Left for the hand: {large}."),
        _ => format!("Left for the hand: {large}; {dots}."),
    }
}

/// Marks all spots: rings with leader lines to their numbers in the margin for `numbered`, small dots for the others.
/// The view's margin must have room for a number of this size and its leader line, about 1.5 of the size.
pub(crate) fn spots(drawing: &mut Drawing, view: &View, all: &[HandWork], numbered: &[&HandWork], size: f32) {
    let seen = |spot: &HandWork| spot.at.is_finite() && view.window.contains(spot.at);
    let r = size * 0.125;
    for spot in all.iter().filter(|s| seen(s) && !numbered.iter().any(|n| std::ptr::eq(*n, *s))) {
        let (x, y) = view.at(spot.at);
        drawing.fill(circle(x, y, r), INK);
        drawing.fill(circle(x, y, r * 0.72), GROUND);
    }
    let shown: Vec<(usize, (f32, f32), f32)> = numbered
        .iter()
        .enumerate()
        .filter(|(_, spot)| seen(spot))
        .map(|(i, spot)| (i + 1, view.at(spot.at), ring(spot, view, size)))
        .collect();
    let places: Vec<(f32, f32)> = shown.iter().map(|s| s.1).collect();
    let slots = slots(&places, view, size);
    for (&(_, at, r), slot) in shown.iter().zip(&slots) {
        let course = [toward(at, slot.end, r), slot.end];
        // A pale line under the leader keeps it in sight on dark sheets.
        drawing.rule(course[0], course[1], GROUND, size * 0.13);
        drawing.rule(course[0], course[1], INK, size * 0.045);
    }
    for (&(number, (x, y), r), slot) in shown.iter().zip(&slots) {
        drawing.line(circle(x, y, r), GROUND, size * 0.16);
        drawing.line(circle(x, y, r), INK, size * 0.07);
        let letters = style(size, Cut::Bold, INK);
        drawing.text_about(slot.number.0, slot.number.1 + size * 0.33, letters, &number.to_string());
    }
}

/// Where a number stands, and where its leader line ends.
#[derive(Debug, Clone, Copy)]
struct Slot {
    number: (f32, f32),
    end: (f32, f32),
}

/// A slot for each place, each at the nearest side of the window, so that no two leader lines cross.
fn slots(places: &[(f32, f32)], view: &View, size: f32) -> Vec<Slot> {
    let (left, top) = (view.left, view.top);
    let (right, bottom) = (left + view.width(), top + view.height());
    // Centre of a number and end of its leader, from the window's edge.
    let (inset, end) = (size * 0.5, size * 0.98);
    let mut sides: [Vec<usize>; 4] = Default::default();
    for (i, &(x, y)) in places.iter().enumerate() {
        let far = [x - left, right - x, y - top, bottom - y];
        let side = (0..4).min_by(|&a, &b| far[a].total_cmp(&far[b])).unwrap_or(0);
        sides[side].push(i);
    }
    let mut slots = vec![Slot { number: (0.0, 0.0), end: (0.0, 0.0) }; places.len()];
    for (side, mut members) in sides.into_iter().enumerate() {
        let upright = side < 2;
        let along = |i: usize| if upright { places[i].1 } else { places[i].0 };
        members.sort_by(|&a, &b| along(a).total_cmp(&along(b)));
        let mut wanted: Vec<f32> = members.iter().map(|&i| along(i)).collect();
        let step = size * 1.25;
        spread(&mut wanted, step);
        // The corners stay free, the lower left one for the zero corner's mark and words.
        let (low, high) = match side {
            0 => (top + size * 2.0, bottom - size * 5.0),
            1 => (top + size * 2.0, bottom - size * 2.0),
            2 => (left + size * 2.0, right - size * 2.0),
            _ => (left + size * 6.5, right - size * 2.0),
        };
        keep_within(&mut wanted, step, low, high);
        for (i, along) in members.into_iter().zip(wanted) {
            let across = |inset: f32| match side {
                0 => (left + inset, along),
                1 => (right - inset, along),
                2 => (along, top + inset),
                _ => (along, bottom - inset),
            };
            slots[i] = Slot { number: across(inset), end: across(end) };
        }
    }
    uncross(places, &mut slots);
    slots
}

/// Exchanges slots of lines that cross. Each exchange makes the lines shorter together, so it ends.
fn uncross(places: &[(f32, f32)], slots: &mut [Slot]) {
    let far = |a: (f32, f32), b: (f32, f32)| libm::hypotf(a.0 - b.0, a.1 - b.1);
    for _ in 0..places.len() * places.len() {
        let mut exchanged = false;
        for i in 0..places.len() {
            for j in i + 1..places.len() {
                let now = far(places[i], slots[i].end) + far(places[j], slots[j].end);
                let then = far(places[i], slots[j].end) + far(places[j], slots[i].end);
                if then < now - 1e-3 {
                    slots.swap(i, j);
                    exchanged = true;
                }
            }
        }
        if !exchanged {
            break;
        }
    }
}

/// Radius of the ring around a spot: its gap, but large enough to be seen.
fn ring(spot: &HandWork, view: &View, size: f32) -> f32 {
    let gap = if spot.gap.is_finite() { spot.gap as f32 * view.scale } else { 0.0 };
    gap.clamp(size * 0.26, size * 0.6)
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

#[cfg(test)]
mod tests {
    use super::*;
    use plane::Bounds;

    fn crossing(a: [(f32, f32); 2], b: [(f32, f32); 2]) -> bool {
        let turn = |p: (f32, f32), q: (f32, f32), r: (f32, f32)| {
            ((q.0 - p.0) * (r.1 - p.1) - (q.1 - p.1) * (r.0 - p.0)).signum()
        };
        turn(a[0], a[1], b[0]) != turn(a[0], a[1], b[1]) && turn(b[0], b[1], a[0]) != turn(b[0], b[1], a[1])
    }

    /// Eight places anywhere (a plain congruential sequence): no two leaders cross, no two numbers meet.
    #[test]
    fn leaders_never_cross() {
        let window = Bounds { min: Point::new(0.0, 0.0), max: Point::new(230.0, 140.0) };
        let view = View { window, left: 10.0, top: 20.0, scale: 3.0 };
        let mut state = 1u32;
        let mut next = |span: f64| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(state >> 8) / f64::from(1 << 24) * span
        };
        for _ in 0..500 {
            let places: Vec<(f32, f32)> =
                (0..MOST).map(|_| view.at(Point::new(10.0 + next(210.0), 10.0 + next(120.0)))).collect();
            let slots = slots(&places, &view, 15.0);
            for i in 0..places.len() {
                for j in i + 1..places.len() {
                    let line = |k: usize| [places[k], slots[k].end];
                    assert!(!crossing(line(i), line(j)), "{places:?} {slots:?}");
                    let (a, b) = (slots[i].number, slots[j].number);
                    assert!((a.0 - b.0).abs() > 10.0 || (a.1 - b.1).abs() > 14.0, "{slots:?}");
                }
            }
        }
    }
}
