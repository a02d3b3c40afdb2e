//! What the plan is measured by: the finest cutter alone, and plain inward offsets with the same cutters.
//!
//! Plain offsets are rings a stepover apart from the wall inward, cut from the innermost out: down a ramp along the first
//! ring, straight across to the next, full width wherever the shape forces it. Entries, passes, feeds, the way between
//! pieces and the cuts through the blank are the plan's own, and their minutes come from the same pace.

use crate::clear::{spiral, thick};
use crate::clearing::in_order;
use crate::pen::{GAP, Pen, round_from, round_from_longest};
use crate::stint::{Book, Key, Planning, Stints};
use crate::subsets::{self, Subset};
use crate::survey::Survey;
use crate::{flat_cutters, mirror, pocket, vee};
use memo::Memo;
use plane::{Bounds, Contour, FIT, Region, Segment, fit_closed, fit_open};
use plate::{AlongWalls, Intent, Shop};
use rayon::prelude::*;
use reach::{Clipped, Rings};

/// Another way of cutting the same plate, with its time.
#[derive(Debug, Clone, PartialEq)]
pub struct Baseline {
    /// How.
    pub way: Way,
    /// Predicted minutes of all programs, starts and changes of cutter included.
    pub minutes: f64,
    /// Whether it was planned; if not, it would hardly take less than these minutes.
    pub planned: bool,
    /// Whether it reaches as much as all cutters together.
    pub reaches_all: bool,
}

/// Ways of cutting to measure a plan by.
#[derive(Debug, Clone, PartialEq)]
pub enum Way {
    /// Everything with the finest flat cutter. Planned only if it may win: its plan takes longer to make than all else.
    FinestAlone(u32),
    /// Plain inward offsets with these cutters, widest first.
    PlainOffsets(Vec<u32>),
}

/// The baselines of a plan whose sets of cutters were compared. Empty if stopped.
pub fn baselines(
    shop: &Shop,
    intent: &Intent,
    compared: &[Subset],
    stopped: &(dyn Fn() -> bool + Sync),
) -> Vec<Baseline> {
    let seen = (shop.machine.walls == AlongWalls::Conventional).then(|| mirror::seen(intent));
    let intent = seen.as_ref().unwrap_or(intent);
    let (vees, floors) = (vee::plan(shop, intent), vee::floors(shop, intent));
    let memo = Memo::none();
    let pockets = pocket::pockets(&floors, &memo);
    let all = flat_cutters(shop, intent);
    let survey = Survey::of(&pockets, &all, &memo);
    let mut book = Book::new(shop, &floors, &pockets, &all, &survey, &vees, Planning { memo: &memo, stopped });
    let edges = subsets::edges(&book);
    let mut found = Vec::new();
    let alone = all.last().and_then(|t| compared.iter().find(|s| s.cutters == [t.cutter.number]));
    if let Some(Subset { cutters, minutes, planned, reaches_all, .. }) = alone {
        let way = Way::FinestAlone(cutters[0]);
        found.push(Baseline { way, minutes: *minutes, planned: *planned, reaches_all: *reaches_all });
    }
    if let Some(chosen) = compared.iter().find(|s| s.chosen) {
        let set: Vec<usize> = (0..all.len()).filter(|&t| chosen.cutters.contains(&all[t].cutter.number)).collect();
        let keys: Vec<Key> = book.keys(&set).into_iter().flatten().collect();
        let made: Vec<(Key, Stints)> = keys
            .into_par_iter()
            .map(|key| (key, if stopped() { Stints::default() } else { offsets(&book, &key) }))
            .collect();
        book.keep(made);
        let minutes = subsets::planned(&book, &edges, &set).seconds / 60.0;
        found.push(Baseline {
            way: Way::PlainOffsets(chosen.cutters.clone()),
            minutes,
            planned: true,
            reaches_all: true,
        });
    }
    if stopped() { Vec::new() } else { found }
}

/// A work by plain offsets.
fn offsets(book: &Book<'_>, key: &Key) -> Stints {
    let &(pocket, tool, last, finer) = key;
    let Some(reached) = book.enters(pocket, tool, finer) else { return Stints::default() };
    if reached.drilled.is_some() {
        return book.stints(*key);
    }
    let (run, heights) = (&book.tools[tool], book.heights(key));
    let top = book.pockets[pocket].top;
    let (rise, face) = book.span();
    let pen = || Pen::new(run, rise, face);
    let before = last.and_then(|l| book.enters(pocket, l, true));
    let Some(before) = before else {
        let part = |part: Rings| {
            let rings = inside_out(&part, run.stepover);
            let mut pen = pen();
            let mut above = top;
            for &z in &heights {
                rings.iter().for_each(|ring| onto(&mut pen, ring, above, z, run.stepover));
                above = z;
            }
            book.stint_of(pocket, run, pen)
        };
        let all = reached.centre.parts().into_par_iter().filter_map(part).collect();
        return Stints { all, first: !reached.covered.is_empty() };
    };
    let left = thick(&reached.covered.minus(&before.covered));
    let all = runs_near(&reached.centre, &left.outset_within(run.radius, 0.005), run.stepover);
    let all = all.into_par_iter().filter_map(|runs| {
        let mut pen = pen();
        runs.iter().rev().for_each(|r| back_and_forth(&mut pen, r, book, pocket, &heights));
        book.stint_of(pocket, run, pen)
    });
    Stints { all: all.collect(), first: false }
}

/// Rings a stepover apart from the wall inward, the inner ones of each before it.
fn inside_out(part: &Rings, stepover: f64) -> Vec<Contour> {
    let wall = part.region();
    let deeper = reach::insets(&wall, stepover, stepover, 100_000).into_iter().map(|o| o.region);
    let levels: Vec<Region> = std::iter::once(wall.clone()).chain(deeper).collect();
    let shapes = in_order(&levels).into_iter().map(|(level, at)| &levels[level].shapes[at]);
    shapes.flat_map(|s| s.contours().cloned()).filter(|c| c.length() > 0.05).collect()
}

/// Straight across to a ring that is next to the last one, else down a ramp along it; once round.
fn onto(pen: &mut Pen<'_>, ring: &Contour, above: f64, z: f64, stepover: f64) {
    if let Some(here) = pen.point().filter(|_| pen.is_at(z)) {
        let (i, near) =
            ring.segments().filter(|s| s.length() > 0.0).enumerate().fold((0, f64::INFINITY), |best, (i, s)| {
                if s.distance(here) < best.1 { (i, s.distance(here)) } else { best }
            });
        if near < 1.5 * stepover {
            let share = ring.segments().filter(|s| s.length() > 0.0).nth(i).map_or(0.0, |s| s.nearest_share(here));
            let round = round_from(ring, i, share);
            if let Some(first) = round.first() {
                pen.line(first.start());
            }
            return pen.follow(&round);
        }
    }
    let round = round_from_longest(ring);
    let Some(first) = round.first() else { return };
    pen.come_down(first.start(), above + GAP, true);
    let round = pen.ramp(&round, above + 0.1, z);
    pen.follow(&round);
}

/// Runs of the rings within a zone by its spots, the outer rings' first.
fn runs_near(centre: &Rings, zone: &Rings, stepover: f64) -> Vec<Vec<Vec<Segment>>> {
    let spots: Vec<(Bounds, Rings)> = zone.parts().into_iter().map(|s| (s.bounds(), s)).collect();
    // No ring that comes through a spot lies deeper than the spot is wide, and so far from it the window's own edge stays.
    let deepest = spots.iter().map(|(b, _)| b.width().max(b.height())).fold(0.0, f64::max);
    let wall = centre.and(&zone.outset_within(deepest + stepover, 0.1));
    let count = (deepest / stepover.max(1e-3)) as usize;
    let deeper = reach::insets(&wall.region(), stepover, stepover, count);
    let deeper: Vec<Rings> = deeper.iter().map(|o| Rings::of(&o.region)).collect();
    let mut found = vec![Vec::new(); spots.len()];
    for part in std::iter::once(&wall).chain(&deeper) {
        let mut any = false;
        for ring in part.points() {
            let runs: Vec<Vec<Segment>> = match zone.clip(&ring) {
                Clipped::Whole => vec![fit_closed(&ring, FIT).segments().collect()],
                Clipped::Runs(pieces) => pieces.iter().map(|p| fit_open(p, FIT).segments().collect()).collect(),
            };
            for run in runs.into_iter().filter(|r| r.iter().map(Segment::length).sum::<f64>() > 0.05) {
                let middle = run[run.len() / 2].at(0.5);
                if let Some(i) = spots.iter().position(|(b, s)| b.contains(middle) && s.contains(middle)) {
                    found[i].push(run);
                    any = true;
                }
            }
        }
        if !any {
            break;
        }
    }
    found.retain(|runs| !runs.is_empty());
    found
}

/// Along an open run height by height, each time from above its start; round and down a closed one.
fn back_and_forth(pen: &mut Pen<'_>, run: &[Segment], book: &Book<'_>, pocket: usize, heights: &[f64]) {
    let (Some(first), Some(last)) = (run.first(), run.last()) else { return };
    let pocket = &book.pockets[pocket];
    if first.start().distance(last.end()) < 1e-6 {
        return spiral(pen, run.to_vec(), pocket, heights);
    }
    let mut above = pocket.top;
    for &z in heights {
        pen.come_down(first.start(), above + GAP, true);
        pen.height(z);
        pen.follow(run);
        above = z;
    }
    pen.lift();
}
