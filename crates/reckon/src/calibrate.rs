//! Calibration: a machine's acceleration and corner deviation from the times that programs really took on it.
//!
//! The times that [`pace`](crate::pace) tells fall steadily as acceleration and deviation grow, each program's in its own way:
//! many corners ask for the one, many starts and rapids for the other. So the figures are those for which the told times come
//! nearest to the taken ones, by least squares on the logarithms of the figures (Gauss and Newton's steps, held back as
//! Levenberg and Marquardt do; textbook). How well a figure is known follows from how well the times are known, by the
//! inverse of the normal equations; a figure that the programs can't tell is kept and said so, never guessed.

use crate::pace::{Step, seconds};
use plate::Machine;
use quantity::Length;
use serde::Serialize;

/// Least and greatest acceleration that a shop file takes, mm/s².
const ACCELERATIONS: [f64; 2] = [1.0, 100_000.0];
/// Least and greatest deviation looked for, mm; a shop file takes no greater one.
const DEVIATIONS: [f64; 2] = [0.000_2, 1.0];
/// A figure whose logarithm has a greater standard uncertainty than this isn't told: known within a third at two of them.
const TOLD: f64 = 0.15;
/// A time that is shorter than the least possible by more of its uncertainties than this is wrong.
const SURE: f64 = 3.0;
/// Times that disagree by more of their uncertainties than this, in the mean, don't fit the machine.
const DISAGREE: f64 = 3.0;
/// A sum of squares that is greater by this is the worse explanation, at two standard uncertainties.
const WORSE: f64 = 4.0;

/// A program whose time was taken.
#[derive(Debug, Clone, Copy)]
pub struct Timed<'a> {
    /// Its moves.
    pub steps: &'a [Step],
    /// What it took, s.
    pub took: f64,
}

/// What a program takes at the least: at its feeds and the machine's rapids, with no time lost to starts, stops and corners.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Least {
    /// Cutting moves at their feeds, s.
    pub cuts: f64,
    /// Rapids at the machine's speed, s.
    pub rapids: f64,
    /// Standing still, s.
    pub waits: f64,
}

impl Least {
    /// Of these moves on this machine.
    pub fn of(machine: &Machine, steps: &[Step]) -> Self {
        let speeds = [machine.rapid, machine.rapid, machine.rapid_z].map(|f| (f.to_mm_per_min() / 60.0).max(1e-6));
        let mut least = Self { cuts: 0.0, rapids: 0.0, waits: 0.0 };
        for step in steps {
            match *step {
                Step::Cut { length, feed, .. } => least.cuts += length / (feed / 60.0).max(1e-6),
                Step::Rapid { by } => {
                    least.rapids += (0..3).map(|i| by[i].abs() / speeds[i]).fold(0.0, f64::max);
                }
                Step::Wait(seconds) => least.waits += seconds,
            }
        }
        least
    }

    /// All together, s.
    pub fn seconds(&self) -> f64 {
        self.cuts + self.rapids + self.waits
    }
}

/// What became of one figure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Known {
    /// The times tell it: as good as certainly it lies between these (two standard uncertainties).
    Told {
        /// Not less than this.
        low: f64,
        /// Not more than this.
        high: f64,
    },
    /// The times don't tell it apart; it goes with the acceleration in x and y in the proportion that the shop file had.
    InProportion,
    /// The times don't tell it; it is as the shop file had it.
    Kept,
}

/// The figures that explain the times best.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fit {
    /// Acceleration in x, y and z, mm/s², to three digits.
    pub acceleration: [f64; 3],
    /// Corner deviation, mm, to three digits.
    pub corner_deviation: f64,
    /// How well the acceleration in x is known; y keeps its proportion to it.
    pub level: Known,
    /// How well the acceleration in z is known.
    pub upright: Known,
    /// How well the corner deviation is known.
    pub corner: Known,
    /// Seconds told for each program by the figures that the machine had.
    pub before: Vec<f64>,
    /// Seconds told for each program by the new ones.
    pub after: Vec<f64>,
    /// Root mean square of what is left between told and taken times, s.
    pub left: f64,
    /// Whether more is left than the times' uncertainty explains.
    pub disagrees: bool,
    /// Other pairs of corner deviation, mm, and acceleration in x, mm/s², that explain the times as well, where the deviation
    /// isn't told.
    pub instead: Vec<[f64; 2]>,
}

/// Why nothing could be told.
#[derive(Debug, Clone, PartialEq)]
pub enum Untold {
    /// Programs (by index) that took less than is possible.
    TooShort(Vec<(usize, Least)>),
    /// The times hardly depend on the figures: that of the program which depends on them most changes by so much when the
    /// acceleration goes from half to double, s. The acceleration in x is at least this, if anything can be said, mm/s².
    Nothing {
        /// s.
        swing: f64,
        /// mm/s².
        at_least: Option<f64>,
    },
    /// The times could only be explained by figures that no machine has: slower than the slowest that is looked for.
    TooLong(Vec<(usize, f64)>),
    /// No machine has all of these times; each program's (by index) as told by the figures that come nearest, s.
    Apart(Vec<(usize, f64)>),
}

/// Figures by which a machine differs from the one it was, as logarithms of factors: acceleration in x and y, in z, deviation.
type Change = [f64; 3];

/// Which of the three are looked for; z goes with x and y unless it is.
#[derive(Clone, Copy)]
struct Free {
    upright: bool,
    corner: bool,
}

impl Free {
    fn count(self) -> usize {
        1 + usize::from(self.upright) + usize::from(self.corner)
    }

    /// Moves the figures by one step for each that is free, within what is looked for.
    fn moved(self, base: &Base, from: Change, by: &[f64]) -> Change {
        let mut by = by.iter().copied();
        let mut next = || by.next().unwrap_or(0.0);
        let level = from[0] + next();
        let upright = if self.upright { from[1] + next() } else { level };
        let corner = if self.corner { from[2] + next() } else { from[2] };
        base.bounded([level, upright, corner])
    }
}

/// The machine and the times.
struct Base<'a> {
    machine: &'a Machine,
    /// The deviation that factors are counted from, mm: the machine's own unless it is none.
    deviation: f64,
    runs: &'a [Timed<'a>],
    within: f64,
}

/// Where a search ended.
struct Found {
    change: Change,
    /// Sum of the squares of what is left, in uncertainties of a time.
    cost: f64,
    /// Standard uncertainty of each free figure's logarithm; infinite if it can't be told.
    spread: Vec<f64>,
    /// By how much the spread is widened because the times fit worse than they are known.
    worse: f64,
}

impl Base<'_> {
    fn bounded(&self, change: Change) -> Change {
        let own = &self.machine.acceleration;
        let bound = |x: f64, values: &[f64], [low, high]: [f64; 2]| {
            let least = values.iter().map(|v| libm::log(low / v)).fold(f64::NEG_INFINITY, f64::max);
            let most = values.iter().map(|v| libm::log(high / v)).fold(f64::INFINITY, f64::min);
            x.max(least.min(most)).min(most)
        };
        [
            bound(change[0], &own[..2], ACCELERATIONS),
            bound(change[1], &own[2..], ACCELERATIONS),
            bound(change[2], &[self.deviation], DEVIATIONS),
        ]
    }

    /// The machine with other figures; a deviation that isn't changed stays what it was.
    fn machine(&self, change: Change) -> Machine {
        let mut machine = self.machine.clone();
        let [level, upright, corner] = change.map(libm::exp);
        let [x, y, z] = machine.acceleration;
        machine.acceleration = [x * level, y * level, z * upright];
        if change[2] != 0.0 {
            machine.corner_deviation = Length::mm(self.deviation * corner);
        }
        machine
    }

    fn times(&self, machine: &Machine) -> Vec<f64> {
        self.runs.iter().map(|r| seconds(machine, r.steps)).collect()
    }

    /// What is left of each time, in its uncertainties.
    fn left(&self, change: Change) -> Vec<f64> {
        let machine = self.machine(change);
        self.times(&machine).iter().zip(self.runs).map(|(told, run)| (told - run.took) / self.within).collect()
    }

    fn cost(&self, change: Change) -> f64 {
        self.left(change).iter().map(|r| r * r).sum()
    }

    /// The best of some machines over all that there are.
    fn start(&self, free: Free) -> Change {
        let x = self.machine.acceleration[0];
        let level = [30.0, 90.0, 270.0, 800.0, 2500.0].map(|a| libm::log(a / x));
        let corner = [0.003, 0.01, 0.03, 0.1, 0.3].map(|d| libm::log(d / self.deviation));
        let mut best = ([0.0; 3], self.cost([0.0; 3]));
        for l in level {
            for c in if free.corner { &corner[..] } else { &[0.0] } {
                let change = self.bounded([l, l, *c]);
                let cost = self.cost(change);
                if cost < best.1 {
                    best = (change, cost);
                }
            }
        }
        best.0
    }

    /// The least squares from a start.
    fn search(&self, free: Free, start: Change) -> Found {
        const STEPS: usize = 40;
        let (mut change, mut held) = (self.bounded(start), 1e-3);
        let mut left = self.left(change);
        let mut cost: f64 = left.iter().map(|r| r * r).sum();
        let mut slopes = self.slopes(free, change);
        for _ in 0..STEPS {
            let (normal, wanted) = normal(&slopes, &left);
            let damped: Vec<Vec<f64>> = (0..normal.len())
                .map(|i| (0..normal.len()).map(|j| normal[i][j] * if i == j { 1.0 + held } else { 1.0 }).collect())
                .collect();
            let Some(mut by) = solved(&damped, &wanted) else { break };
            by.iter_mut().for_each(|b| *b = b.clamp(-1.0, 1.0));
            let next = free.moved(self, change, &by);
            let next_left = self.left(next);
            let next_cost: f64 = next_left.iter().map(|r| r * r).sum();
            if next_cost < cost {
                let still = by.iter().all(|b| b.abs() < 1e-6) || cost - next_cost < 1e-9;
                (change, left, cost) = (next, next_left, next_cost);
                held = (held * 0.2).max(1e-9);
                if still {
                    break;
                }
                slopes = self.slopes(free, change);
            } else {
                held *= 8.0;
                if held > 1e6 || by.iter().all(|b| b.abs() < 1e-7) {
                    break;
                }
            }
        }
        let spare = self.runs.len().saturating_sub(free.count());
        let worse = if spare > 0 { libm::sqrt((cost / spare as f64).max(1.0)) } else { 1.0 };
        Found { change, cost, spread: self.spread(free, change, worse), worse }
    }

    /// The least squares from several deviations: along the valley in which acceleration and deviation stand in for each other the
    /// way is long and bent, and one search may stop short.
    fn search_each(&self, free: Free, also: &Found) -> Found {
        let held = Free { corner: false, ..free };
        let mut ends: Vec<Found> = [0.003, 0.006, 0.012, 0.025, 0.05, 0.1, 0.2]
            .into_iter()
            .map(|d| {
                let [level, upright, _] = also.change;
                self.search(held, [level, upright, libm::log(d / self.deviation)])
            })
            .collect();
        ends.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        let mut best = self.search(free, also.change);
        for end in ends.iter().take(3) {
            let found = self.search(free, end.change);
            if found.cost < best.cost {
                best = found;
            }
        }
        best
    }

    /// Change of what is left with each free figure's logarithm, by figure.
    fn slopes(&self, free: Free, at: Change) -> Vec<Vec<f64>> {
        // Wide enough to see past the places where a move begins to reach its feed.
        const APART: f64 = 0.01;
        let column = |k: usize| {
            let mut by = vec![0.0; free.count()];
            by[k] = APART;
            let up = free.moved(self, at, &by);
            by[k] = -APART;
            let down = free.moved(self, at, &by);
            let (above, below) = (self.left(up), self.left(down));
            above.iter().zip(&below).map(|(a, b)| (a - b) / (2.0 * APART)).collect()
        };
        (0..free.count()).map(column).collect()
    }

    fn spread(&self, free: Free, at: Change, worse: f64) -> Vec<f64> {
        let slopes = self.slopes(free, at);
        let (normal, _) = normal(&slopes, &vec![0.0; self.runs.len()]);
        let of = |k: usize| {
            let mut unit = vec![0.0; normal.len()];
            unit[k] = 1.0;
            match solved(&normal, &unit) {
                Some(column) if column[k] > 0.0 => libm::sqrt(column[k]) * worse,
                _ => f64::INFINITY,
            }
        };
        (0..normal.len()).map(of).collect()
    }

    fn tells(&self, free: Free, found: &Found) -> bool {
        self.runs.len() >= free.count() && found.spread.iter().all(|s| *s <= TOLD)
    }
}

/// Normal equations of a step: the sums of products of slopes, and what is wanted.
fn normal(slopes: &[Vec<f64>], left: &[f64]) -> (Vec<Vec<f64>>, Vec<f64>) {
    let product = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
    let rows = slopes.iter().map(|a| slopes.iter().map(|b| product(a, b)).collect()).collect();
    (rows, slopes.iter().map(|a| -product(a, left)).collect())
}

/// Solves a few linear equations by elimination; `None` if they don't settle every unknown.
fn solved(rows: &[Vec<f64>], wanted: &[f64]) -> Option<Vec<f64>> {
    let n = rows.len();
    let mut rows: Vec<Vec<f64>> =
        rows.iter().zip(wanted).map(|(r, w)| r.iter().copied().chain([*w]).collect()).collect();
    // Relative to what each unknown began with, so that units don't matter.
    let scale: Vec<f64> = (0..n).map(|i| rows[i][i].abs()).collect();
    for k in 0..n {
        let pivot = (k..n).max_by(|&a, &b| rows[a][k].abs().total_cmp(&rows[b][k].abs()))?;
        rows.swap(k, pivot);
        if rows[k][k].abs() <= 1e-12 * scale[k] || rows[k][k] == 0.0 || !rows[k][k].is_finite() {
            return None;
        }
        let (above, below) = rows.split_at_mut(k + 1);
        let pivot = &above[k];
        for row in below {
            let share = row[k] / pivot[k];
            row.iter_mut().zip(pivot).skip(k).for_each(|(x, p)| *x -= share * p);
        }
    }
    let mut found = vec![0.0; n];
    for k in (0..n).rev() {
        let sum: f64 = (k + 1..n).map(|j| rows[k][j] * found[j]).sum();
        found[k] = (rows[k][n] - sum) / rows[k][k];
    }
    found.iter().all(|x| x.is_finite()).then_some(found)
}

/// To three digits, as a shop file would have it.
fn rounded(value: f64) -> f64 {
    if value <= 0.0 || !value.is_finite() {
        return value.max(0.0);
    }
    let digits = 2 - libm::floor(libm::log10(value)) as i32;
    let text = format!("{:.*}", digits.max(0) as usize, value);
    let plain: f64 = text.parse().unwrap_or(value);
    if digits >= 0 {
        plain
    } else {
        let step = libm::pow(10.0, f64::from(-digits));
        libm::round(value / step) * step
    }
}

/// Finds the figures by which the told times come nearest to the taken ones. `within` is how well each time is known, s: a
/// standard uncertainty, about half of what a maker would call "give or take".
///
/// # Errors
/// An [`Untold`] if a time is impossible, or if the times tell nothing.
pub fn fit(machine: &Machine, runs: &[Timed<'_>], within: f64) -> Result<Fit, Untold> {
    let within = if within.is_finite() { within.max(1e-3) } else { 1.0 };
    let least = runs.iter().map(|r| Least::of(machine, r.steps));
    let short: Vec<(usize, Least)> =
        least.enumerate().filter(|(i, l)| runs[*i].took < l.seconds() - SURE * within).collect();
    if !short.is_empty() {
        return Err(Untold::TooShort(short));
    }
    let own = machine.corner_deviation.to_mm();
    let deviation = if own > DEVIATIONS[0] { own.min(DEVIATIONS[1]) } else { 0.01 };
    let base = Base { machine, deviation, runs, within };
    let before = base.times(machine);
    let pair = Free { upright: false, corner: true };
    let both = base.search(pair, base.start(pair));
    let all = Free { upright: true, corner: true };
    let three = base.search_each(all, &both);
    let found = if base.tells(all, &three) {
        (all, three)
    } else if base.tells(pair, &both) {
        (pair, both)
    } else {
        let (one, two) = (Free { upright: false, corner: false }, Free { upright: true, corner: false });
        let alone = base.search(one, base.start(one));
        // A machine that stops at every corner has no deviation to find.
        let stopping = Machine { corner_deviation: Length::ZERO, ..machine.clone() };
        let stops = Base { machine: &stopping, deviation, runs, within };
        let stopped = stops.search(one, stops.start(one));
        if own > 0.0 && runs.len() > 1 && stops.tells(one, &stopped) && stopped.cost + WORSE < alone.cost {
            let fit = stops.told(one, &stopped, before);
            let high = rounded(stops.deviation_up_to(&stopped));
            return Ok(Fit { corner: Known::Told { low: 0.0, high }, instead: Vec::new(), ..fit });
        }
        if !base.tells(one, &alone) {
            let told = || base.times(&base.machine(alone.change)).into_iter().enumerate().collect();
            return Err(if base.at_the_slowest(&alone) {
                Untold::TooLong(told())
            } else if alone.spread.iter().all(|s| *s <= TOLD * alone.worse) {
                Untold::Apart(told())
            } else {
                nothing(&base)
            });
        }
        let apart = base.search(two, alone.change);
        // Two accelerations told apart count only where they also fit: the deviation may be what is wrong.
        if base.tells(two, &apart) && apart.cost + WORSE < alone.cost { (two, apart) } else { (one, alone) }
    };
    if base.at_the_slowest(&found.1) {
        let told = base.times(&base.machine(found.1.change));
        return Err(Untold::TooLong(told.into_iter().enumerate().collect()));
    }
    Ok(base.told(found.0, &found.1, before))
}

/// The times tell no acceleration.
fn nothing(base: &Base<'_>) -> Untold {
    let at = |factor: f64| {
        let by = libm::log(factor);
        base.times(&base.machine(base.bounded([by, by, 0.0])))
    };
    let swing = at(0.5).iter().zip(at(2.0)).map(|(slow, quick)| slow - quick).fold(0.0, f64::max);
    // The acceleration below which some program would take longer than it did, surely.
    let too_slow = |by: f64| {
        let told = base.times(&base.machine(base.bounded([by, by, 0.0])));
        told.iter().zip(base.runs).any(|(told, run)| *told > run.took + 2.0 * base.within)
    };
    let (mut low, mut high) = (
        libm::log(ACCELERATIONS[0] / base.machine.acceleration[0]),
        libm::log(ACCELERATIONS[1] / base.machine.acceleration[0]),
    );
    let at_least = (too_slow(low) && !too_slow(high)).then(|| {
        for _ in 0..30 {
            let middle = 0.5 * (low + high);
            if too_slow(middle) { low = middle } else { high = middle }
        }
        rounded(base.machine.acceleration[0] * libm::exp(high))
    });
    Untold::Nothing { swing, at_least }
}

impl Base<'_> {
    /// Whether a search ended where no slower machine is looked for.
    fn at_the_slowest(&self, found: &Found) -> bool {
        let slow = self.bounded([f64::NEG_INFINITY; 3]);
        found.change[0] <= slow[0] + 0.01 || found.change[1] <= slow[1] + 0.01 || found.change[2] <= slow[2] + 0.01
    }

    fn told(&self, free: Free, found: &Found, before: Vec<f64>) -> Fit {
        let exact = self.machine(found.change);
        let mut machine = exact.clone();
        machine.acceleration = exact.acceleration.map(rounded);
        if free.corner {
            machine.corner_deviation = Length::mm(rounded(exact.corner_deviation.to_mm()));
        }
        let mut spread = found.spread.iter().copied();
        let mut known = |value: f64| {
            let by = libm::exp(2.0 * spread.next().unwrap_or(f64::INFINITY));
            Known::Told { low: value / by, high: value * by }
        };
        let level = known(exact.acceleration[0]);
        let upright = if free.upright { known(exact.acceleration[2]) } else { Known::InProportion };
        let corner = if free.corner { known(exact.corner_deviation.to_mm()) } else { Known::Kept };
        let after = self.times(&machine);
        let squares: f64 = after.iter().zip(self.runs).map(|(told, run)| (told - run.took) * (told - run.took)).sum();
        let spare = self.runs.len().saturating_sub(free.count());
        Fit {
            acceleration: machine.acceleration,
            corner_deviation: machine.corner_deviation.to_mm(),
            level,
            upright,
            corner,
            before,
            left: libm::sqrt(squares / self.runs.len().max(1) as f64),
            disagrees: spare > 0 && found.cost > DISAGREE * DISAGREE * spare as f64,
            instead: if free.corner { Vec::new() } else { self.instead(free, found) },
            after,
        }
    }

    /// The greatest deviation, mm, that explains the times hardly worse than none.
    fn deviation_up_to(&self, found: &Found) -> f64 {
        let worse = |deviation: f64| {
            let [level, upright, _] = found.change;
            self.cost([level, upright, libm::log(deviation / self.deviation)]) > found.cost + WORSE
        };
        let (mut low, mut high) = (libm::log(1e-9), libm::log(DEVIATIONS[1]));
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if worse(libm::exp(middle)) { high = middle } else { low = middle }
        }
        libm::exp(high)
    }

    /// Pairs that explain the times as well, with half and double the deviation.
    fn instead(&self, free: Free, found: &Found) -> Vec<[f64; 2]> {
        let mut pairs = Vec::new();
        for factor in [0.5, 2.0] {
            let deviation = (self.deviation * factor).clamp(DEVIATIONS[0], DEVIATIONS[1]);
            let machine = Machine { corner_deviation: Length::mm(deviation), ..self.machine.clone() };
            let other = Base { machine: &machine, deviation, runs: self.runs, within: self.within };
            let there = other.search(free, found.change);
            if there.cost <= found.cost + WORSE && !other.at_the_slowest(&there) {
                let acceleration = other.machine(there.change).acceleration[0];
                pairs.push([rounded(deviation), rounded(acceleration)]);
            }
        }
        pairs
    }
}

#[cfg(test)]
mod tests;
