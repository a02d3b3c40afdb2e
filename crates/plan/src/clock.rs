//! How long planned moves take: the moves as the program will have them, rounded as its text rounds them, through the same
//! pace by which the proof reckons its minutes.

use motion::{At, Move, SPIN_UP, Stage};
use plane::Point;
use plate::{Machine, OutUnits, Shop};
use reckon::pace::{self, Step, Turn};
use std::f64::consts::TAU;

/// An arc flatter than this is written as its chord, mm.
const FLAT: f64 = 0.000_3;
/// Chords that stand for arcs in a dialect without arcs stay within this, mm.
const CHORD: f64 = 0.000_5;

/// Predicted seconds of a stage's program, from its first rise to its last move. Neither the start of the program nor the
/// change of cutter is in it.
pub fn seconds(shop: &Shop, stage: &Stage) -> f64 {
    let mut steps = Vec::with_capacity(stage.moves.len() + 1);
    if stage.cutting {
        steps.push(Step::Wait(SPIN_UP));
    }
    steps.extend(self::steps(shop, &stage.moves, None));
    pace::seconds(&shop.machine, &steps)
}

/// Predicted seconds of moves that begin at a place.
pub(crate) fn seconds_from(shop: &Shop, moves: &[Move], from: At) -> f64 {
    pace::seconds(&shop.machine, &steps(shop, moves, Some(from)))
}

/// Seconds of a rapid on a level from one place to another.
pub(crate) fn over(machine: &Machine, from: Point, to: Point) -> f64 {
    pace::seconds(machine, &[Step::Rapid { by: [to.x - from.x, to.y - from.y, 0.0] }])
}

/// Moves as pace sees them. Without a known start the first rise and the first way over the plate take no time: where the
/// machine stands isn't known.
pub fn steps(shop: &Shop, moves: &[Move], from: Option<At>) -> Vec<Step> {
    let grid = Grid::new(shop);
    let mut here = from.map(|at| grid.place(at));
    let mut placed = from.is_some();
    let mut steps = Vec::with_capacity(moves.len());
    for step in moves {
        let Some(to) = step.end().map(|to| grid.place(to)) else { continue };
        // The first rise names a height alone, the next move a place.
        let Some(a) = here.filter(|_| placed) else {
            placed = here.is_some();
            here = Some(to);
            continue;
        };
        if a == to && !matches!(step, Move::Arc { .. }) {
            continue;
        }
        match *step {
            Move::Rapid(_) => steps.push(Step::Rapid { by: [to.p.x - a.p.x, to.p.y - a.p.y, to.z - a.z] }),
            Move::Line { feed, .. } => steps.extend(line(a, to, grid.feed(feed.to_mm_per_min()))),
            Move::Arc { centre, ccw, feed, .. } => grid.arc(&mut steps, (a, to), centre, ccw, feed.to_mm_per_min()),
            Move::Pass(_) => {}
        }
        here = Some(to);
    }
    steps
}

/// A straight cut.
fn line(a: At, b: At, feed: f64) -> Option<Step> {
    let by = [b.p.x - a.p.x, b.p.y - a.p.y, b.z - a.z];
    by.iter().any(|d| *d != 0.0).then(|| Step::line(by, feed))
}

/// The numbers that the program's text can say.
struct Grid {
    /// Least step of a coordinate, mm.
    step: f64,
    /// Least step of a feed, mm/min.
    feed: f64,
    arcs: bool,
}

impl Grid {
    fn new(shop: &Shop) -> Self {
        let decimals = i32::from(shop.dialect.decimals);
        // Feeds are whole mm/min or tenths of in/min.
        let (unit, feed) = match shop.dialect.units {
            OutUnits::Mm => (1.0, 1.0),
            OutUnits::Inch => (25.4, 2.54),
        };
        Self { step: unit * 10f64.powi(-decimals), feed, arcs: shop.dialect.arcs }
    }

    fn place(&self, at: At) -> At {
        let round = |v: f64| (v / self.step).round() * self.step;
        At::new(Point::new(round(at.p.x), round(at.p.y)), round(at.z))
    }

    /// Rounded down, as the text has it.
    fn feed(&self, feed: f64) -> f64 {
        (feed / self.feed + 1e-6).floor().max(1.0) * self.feed
    }

    fn arc(&self, steps: &mut Vec<Step>, (a, b): (At, At), centre: Point, ccw: bool, feed: f64) {
        let (start, end) = ((a.p - centre).angle(), (b.p - centre).angle());
        let turn = (if ccw { end - start } else { start - end }).rem_euclid(TAU);
        let (radius, chord, rise) = (a.p.distance(centre), a.p.distance(b.p), b.z - a.z);
        let feed = self.feed(feed);
        // Ends that rounding has brought together or past each other mean the chord.
        let meant = turn < 6.0 || chord > 1.5 * radius;
        let sagitta = radius * (1.0 - libm::cos(turn / 2.0));
        if chord < 2.0 * self.step || !meant || sagitta < FLAT {
            steps.extend(line(a, b, feed));
            return;
        }
        let sweep = if ccw { turn } else { -turn };
        if !self.arcs {
            let count = (turn / (2.0 * libm::acos(1.0 - CHORD / radius.max(2.0 * CHORD)))).ceil().max(1.0) as usize;
            let mut from = a;
            for k in 1..=count {
                let share = k as f64 / count as f64;
                let on = At::new(centre + (a.p - centre).rotated(sweep * share), a.z + rise * share);
                let to = if k == count { b } else { self.place(on) };
                steps.extend(line(from, to, feed));
                from = to;
            }
            return;
        }
        steps.push(Step::arc(Turn { axis: 2, start, sweep, radius, rise }, feed));
    }
}
