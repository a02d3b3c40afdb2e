//! A spot of the blank looked at closely: a small window cut again by the same legs on a much finer grid, with what the
//! plate file wants there and the way of the line concerned.
//!
//! The window is moved to the zero corner and cut as a blank of its own, so that it comes out as the prover's whole
//! model would at that pitch.

use crate::Watch;
use crate::course::{self, Ground};
use crate::finding::Tally;
use crate::intent::Wanted;
use crate::leg::{Leg, Run, Way};
use crate::profile::Profile;
use crate::relief::{Grid, Tooling, Work};
use crate::rows::Rows;
use crate::stages::reliefs;
use crate::verdict::{HeightMap, Spot};
use memo::Memo;
use plane::{Affine, Bounds, Point, Region, Segment};
use plate::{Intent, Shop};
use rayon::prelude::*;
use read::Program;

/// Most cells of a window's side.
const FINEST: f64 = 1200.0;
/// Height at and below which a sample of a window counts as cut through, mm above the underside.
const THROUGH: f64 = 0.001;

/// What to look at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// Index of the last program that is cut.
    pub after: usize,
    /// The program, by its index, and the line of it whose way is shown.
    pub line: Option<(usize, u32)>,
    /// Where, mm on the blank.
    pub window: Bounds,
    /// mm between samples; wider if the window would have too many.
    pub pitch: f64,
}

/// What is seen there.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CloseUp {
    /// The model after the program.
    pub heights: HeightMap,
    /// Height wanted at each of its samples, mm above the table; NaN where anything will do, such as outside the plate,
    /// or beside walls that lean.
    pub wanted: Vec<f32>,
    /// The ways of the line in order, seen from above.
    pub way: Vec<(Segment, Going)>,
}

/// How a way is gone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Going {
    /// With feed, along it.
    Feed,
    /// Rapidly, along it.
    Rapid,
    /// Rapidly, by axes that need not arrive together: anywhere in the box between its ends.
    Boxed,
}

/// How far a window reaches to show a spot at a readable scale, mm from its middle to its sides: small enough that the
/// amount can be seen, large enough to see what is around.
pub fn reach(id: &str, spot: &Spot, cutting_width: f64) -> f64 {
    let usual = (1.3 * cutting_width).clamp(2.0, 12.0);
    match id {
        // Sideways amounts are drawn as some 15 mm on a picture 200 mm wide, as far as that shows enough.
        "wall-gouge" | "wall-leftover" => (7.0 * spot.amount).clamp(0.6, usual),
        "piece-loose" => (0.8 * spot.amount.max(0.0).sqrt()).clamp(3.0, 60.0),
        "hold-hit" | "margin-cut" | "travel-exceeded" | "tab-missing" => 2.0 * usual,
        _ => usual,
    }
}

/// Looks at spots of what programs cut, each program with the cutter named beside it and whether it cuts.
pub fn close_ups(
    shop: &Shop,
    intent: &Intent,
    programs: &[Program],
    named: &[(Option<u32>, bool)],
    looks: &[Look],
) -> Vec<CloseUp> {
    // Nobody stops it: a window is small.
    close_ups_within(shop, intent, programs, named, looks, &()).unwrap_or_default()
}

/// The same, watched; `None` if stopped.
pub fn close_ups_within(
    shop: &Shop,
    intent: &Intent,
    programs: &[Program],
    named: &[(Option<u32>, bool)],
    looks: &[Look],
    watch: &dyn Watch,
) -> Option<Vec<CloseUp>> {
    if looks.is_empty() {
        return Some(Vec::new());
    }
    let last = looks.iter().map(|l| l.after.max(l.line.map_or(0, |at| at.0))).max().unwrap_or(0);
    let (mut legs, mut tooling) = (Vec::new(), Vec::new());
    for (stage, program) in programs.iter().enumerate().take(last + 1) {
        let (named, cutting) = named.get(stage).copied().unwrap_or((None, true));
        let ground = Ground { shop, stage, named, cutting, highest: intent.highest().to_mm() };
        // What is wrong with the text was told when it was proven.
        let course = course::chart(program, &ground, &mut Tally::default());
        let cutter = course.cutter.and_then(|n| shop.cutter(n));
        let profile = cutter.map(|c| Profile::new(c, &shop.spindle));
        tooling.push(profile.map(|profile| Tooling { profile, deep: f64::INFINITY }));
        legs.extend(course.legs);
    }
    let wanted = Wanted::new(intent);
    looks.par_iter().map(|look| close_up(look, &wanted, &legs, &tooling, watch)).collect()
}

fn close_up(
    look: &Look,
    wanted: &Wanted,
    legs: &[Leg],
    tooling: &[Option<Tooling>],
    watch: &dyn Watch,
) -> Option<CloseUp> {
    let window = look.window;
    let side = window.width().max(window.height());
    let sound = window.min.is_finite() && window.max.is_finite() && look.pitch > 0.0;
    if !sound || window.is_empty() || side <= 0.0 {
        return Some(CloseUp::default());
    }
    let pitch = look.pitch.max(side / FINEST).min(side);
    let stages = (look.after + 1).min(tooling.len());
    let tooling = &tooling[..stages];
    let to_zero = Affine::shift(-window.min);
    let here: Vec<Leg> = legs
        .iter()
        .filter(|leg| leg.stage < stages)
        .filter(|leg| tooling[leg.stage].as_ref().is_some_and(|t| leg.bounds(t.profile.radius).meets(window)))
        .map(|leg| moved(leg, window.min))
        .collect();
    let size = Bounds { min: Point::default(), max: window.max - window.min };
    let grid = Grid::new(size, pitch, pitch);
    let work = Work {
        grid,
        face_high: wanted.face_high,
        through: wanted.underside + THROUGH,
        legs: &here,
        tooling,
        memo: &Memo::none(),
    };
    let cuts = work.cut(|_, _| (), watch)?.tiles;
    let mut heights = reliefs(&grid, &cuts, stages).pop().unwrap_or_default();
    heights.origin = window.min;
    let way = legs.iter().filter(|l| look.line == Some((l.stage, l.line)));
    Some(CloseUp {
        wanted: wanted_heights(wanted, &heights, to_zero),
        heights,
        way: way.map(|l| (l.path, going(l.run))).collect(),
    })
}

fn going(run: Run) -> Going {
    match run {
        Run::Feed => Going::Feed,
        Run::Rapid => Going::Rapid,
        Run::Boxed => Going::Boxed,
    }
}

/// A leg with another place for zero.
fn moved(leg: &Leg, zero: Point) -> Leg {
    let path = match leg.path {
        Segment::Line { a, b } => Segment::Line { a: a - zero, b: b - zero },
        Segment::Arc { a, b, centre, radius, from, sweep } => {
            Segment::Arc { a: a - zero, b: b - zero, centre: centre - zero, radius, from, sweep }
        }
    };
    let Leg { stage, line, run, feed, step, z, .. } = *leg;
    Leg::new(Way { stage, line, run, feed, step }, path, z)
}

/// What the plate file wants at every sample of a map.
fn wanted_heights(wanted: &Wanted, map: &HeightMap, to_zero: Affine) -> Vec<f32> {
    let mut heights = vec![wanted.face_high as f32; map.columns * map.rows];
    let mut fill = |region: &Region, height: f32, outside: bool| {
        // A shift keeps circles, so there always is a moved region.
        let Some(region) = region.mapped(to_zero) else { return };
        let rows = Rows::new(&region, map.pitch, map.rows);
        for (row, line) in heights.chunks_mut(map.columns.max(1)).enumerate() {
            let column = |x: f64| ((x / map.pitch - 0.5).ceil().max(0.0) as usize).min(map.columns);
            let mut done = 0;
            for (from, to) in rows.inside(row, 0.0, map.columns as f64 * map.pitch) {
                let (from, to) = (column(from), column(to));
                if outside {
                    line[done.min(from)..from].fill(height);
                } else if from < to {
                    line[from..to].fill(height);
                }
                done = done.max(to);
            }
            if outside {
                line[done..].fill(height);
            }
        }
    };
    for area in &wanted.intent.areas {
        let leans = !matches!(area.edge, plate::EdgeProfile::Upright);
        fill(&area.region, if leans { f32::NAN } else { area.floor.to_mm() as f32 }, false);
    }
    if let Some(outline) = &wanted.intent.outline {
        fill(&outline.inside, f32::NAN, true);
    }
    heights
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spot(amount: f64) -> Spot {
        Spot {
            finding: 0,
            stage: None,
            line: None,
            at: Point::default(),
            height: None,
            amount,
            words: String::new(),
            message: String::new(),
        }
    }

    #[test]
    fn a_small_amount_is_seen_larger() {
        assert!((reach("wall-gouge", &spot(0.02), 3.175) - 0.6).abs() < 1e-12);
        assert!((reach("wall-gouge", &spot(0.3), 3.175) - 2.1).abs() < 1e-12);
        assert!((reach("wall-gouge", &spot(30.0), 3.175) - 4.1275).abs() < 1e-12);
        assert!((reach("gouge", &spot(0.02), 3.175) - 4.1275).abs() < 1e-12);
        assert!((reach("piece-loose", &spot(100.0), 3.175) - 8.0).abs() < 1e-12);
    }
}
