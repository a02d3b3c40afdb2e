//! A program over time: where the cutter is, when, on which line, and what it meets there, for whoever shows a program going
//! on. Nothing is judged here: the way is the prover's own, the times are the clock's, the loads are those already found.

use crate::course::{self, Ground};
use crate::finding::Tally;
use crate::leg::{Leg, Run};
use crate::profile::Profile;
use crate::verdict::{MoveLoad, StageProof, Stretch};
use plane::Segment;
use plate::{Intent, Shop};
use read::Program;

/// Chords of arcs lie this near to them, mm: far below what a screen shows of a whole plate.
const CHORD: f64 = 0.01;
/// Places of a move whose engagement differs by less than this are told as one, degrees.
const ALIKE: f64 = 8.0;
/// Samples of a cutter's edge.
const EDGE: usize = 33;

/// How the cutter goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Running {
    /// It stands still.
    Still,
    /// Rapidly.
    Rapid,
    /// With feed, in air.
    Air,
    /// With feed, in material.
    Cut,
}

/// A place of the way, and how the cutter came to it from the one before, straight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Passed {
    /// x and y on the blank and the height of the tip above the table, mm.
    pub at: [f64; 3],
    /// When, s from the program's first move.
    pub time: f64,
    /// Line of the program, from 1.
    pub line: u32,
    /// How.
    pub running: Running,
    /// The feed that is asked for, mm/min; 0 for rapids.
    pub feed: f64,
    /// Engagement of the cutter's front, degrees; 0 in air.
    pub engagement: f64,
    /// Peak side force of one flute at the move's worst place, N; 0 in air.
    pub force: f64,
}

/// A program over time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trace {
    /// The places in order; the first is where the cutter is first known to be.
    pub passed: Vec<Passed>,
    /// Seconds that the whole program takes.
    pub seconds: f64,
    /// Radius of the cutter's edge, mm; 0 if no cutter is known.
    pub radius: f64,
    /// Height of the edge above the tip at even steps from the axis to the radius, mm.
    pub edge: Vec<f64>,
}

/// A program over time, with the cutter named beside it and whether it cuts, and with what its proof found.
pub fn trace(
    shop: &Shop,
    intent: &Intent,
    program: &Program,
    (named, cutting): (Option<u32>, bool),
    proof: &StageProof,
) -> Trace {
    let ground = Ground { shop, stage: 0, named, cutting, highest: intent.highest().to_mm() };
    // What is wrong with the text was told when it was proven.
    let course = course::chart(program, &ground, &mut Tally::default());
    let times = reckon::pace::times(&shop.machine, &course.steps);
    let profile = course.cutter.and_then(|n| shop.cutter(n)).map(|c| Profile::new(c, &shop.spindle));
    let mut trace = Trace { seconds: times.iter().sum(), ..Trace::default() };
    if let Some(profile) = profile {
        trace.radius = profile.radius;
        trace.edge = (0..EDGE).map(|i| profile.rise(profile.radius * i as f64 / (EDGE - 1) as f64)).collect();
    }
    let mut met = Met { stretches: &proof.stretches, loads: &proof.loads };
    let (mut legs, mut time) = (course.legs.as_slice(), 0.0);
    for (step, seconds) in times.iter().enumerate() {
        let count = legs.iter().take_while(|l| l.step == step).count();
        let (of_step, rest) = legs.split_at(count);
        legs = rest;
        let whole: f64 = of_step.iter().map(Leg::length).sum();
        let began = time;
        for leg in of_step {
            let share = if whole > 0.0 { leg.length() / whole } else { 1.0 / count as f64 };
            trace.add(leg, time, seconds * share, met.of(leg));
            time += seconds * share;
        }
        time = began + seconds;
        if of_step.is_empty()
            && *seconds > 0.0
            && let Some(&last) = trace.passed.last()
        {
            trace.passed.push(Passed { time, running: Running::Still, feed: 0.0, engagement: 0.0, force: 0.0, ..last });
        }
    }
    trace
}

/// What legs met, in their order.
struct Met<'a> {
    stretches: &'a [Stretch],
    loads: &'a [MoveLoad],
}

impl<'a> Met<'a> {
    /// The stretches of a leg, and its force; they are the leg's if they begin where it does and come one after the other.
    fn of(&mut self, leg: &Leg) -> (&'a [Stretch], f64) {
        let mut end = [leg.path.start().x, leg.path.start().y];
        let mut left = leg.length();
        let is_next = |s: &&Stretch| {
            let is = s.line == leg.line && s.ends[0] == end && s.length > 0.0 && left > 0.5 * s.length;
            (end, left) = (s.ends[1], left - s.length);
            is
        };
        let count = self.stretches.iter().take_while(is_next).count();
        let (own, rest) = self.stretches.split_at(count);
        self.stretches = rest;
        if own.is_empty() {
            return (own, 0.0);
        }
        let load = self.loads.first().filter(|l| l.line == leg.line && l.length == leg.length());
        if load.is_some() {
            self.loads = &self.loads[1..];
        }
        (own, load.map_or(0.0, |l| l.force))
    }
}

impl Trace {
    fn add(&mut self, leg: &Leg, began: f64, seconds: f64, (stretches, force): (&[Stretch], f64)) {
        let start = leg.path.start();
        let feed = if leg.run == Run::Feed { leg.feed.unwrap_or(0.0) } else { 0.0 };
        let running = match leg.run {
            Run::Feed if stretches.is_empty() => Running::Air,
            Run::Feed => Running::Cut,
            Run::Rapid | Run::Boxed => Running::Rapid,
        };
        let here = Passed {
            at: [start.x, start.y, leg.z[0]],
            time: began,
            line: leg.line,
            running,
            feed,
            engagement: 0.0,
            force: 0.0,
        };
        // Where it isn't known how the cutter came, it is there at once.
        if self.passed.is_empty() {
            self.passed.push(here);
        }
        let mut from = 0.0;
        for (to, engagement) in alike(stretches) {
            let chords = chords(&leg.path, to - from);
            for k in 1..=chords {
                let share = from + (to - from) * k as f64 / chords as f64;
                let p = leg.path.at(share);
                self.passed.push(Passed {
                    at: [p.x, p.y, leg.z[0] + (leg.z[1] - leg.z[0]) * share],
                    time: began + seconds * share,
                    engagement,
                    force,
                    ..here
                });
            }
            from = to;
        }
    }
}

/// Shares of a leg up to which the engagement stays about the same, with its greatest there.
fn alike(stretches: &[Stretch]) -> Vec<(f64, f64)> {
    let mut told: Vec<(f64, f64)> = Vec::new();
    let count = stretches.len().max(1) as f64;
    let mut first = 0.0;
    for (k, stretch) in stretches.iter().enumerate() {
        let to = (k + 1) as f64 / count;
        match told.last_mut() {
            Some(last) if (stretch.engagement - first).abs() < ALIKE => {
                *last = (to, last.1.max(stretch.engagement));
            }
            _ => {
                first = stretch.engagement;
                told.push((to, first));
            }
        }
    }
    if told.is_empty() {
        told.push((1.0, 0.0));
    }
    told
}

/// Chords for a share of a path.
fn chords(path: &Segment, share: f64) -> usize {
    let Segment::Arc { radius, sweep, .. } = *path else { return 1 };
    // The sagitta of a chord that turns by t is r (1 - cos(t / 2)).
    let turn = 2.0 * libm::acos((1.0 - CHORD / radius.max(2.0 * CHORD)).max(-1.0));
    ((sweep.abs() * share / turn).ceil() as usize).clamp(1, 4096)
}

#[cfg(test)]
mod tests {
    use super::*;
    use plane::Point;

    fn stretch(engagement: f64) -> Stretch {
        Stretch { line: 1, at: [0.0; 2], ends: [[0.0; 2]; 2], z: 0.0, fall: 0.0, length: 1.0, engagement }
    }

    #[test]
    fn places_alike_are_told_as_one() {
        let told = |angles: &[f64]| alike(&angles.iter().map(|a| stretch(*a)).collect::<Vec<_>>());
        assert_eq!(told(&[]), [(1.0, 0.0)]);
        assert_eq!(told(&[90.0, 92.0, 88.0, 91.0]), [(1.0, 92.0)]);
        assert_eq!(told(&[90.0, 92.0, 180.0, 60.0]), [(0.5, 92.0), (0.75, 180.0), (1.0, 60.0)]);
        // What grows slowly is told in steps, not as one.
        let slowly: Vec<f64> = (0..100).map(f64::from).collect();
        assert!((10..=14).contains(&told(&slowly).len()));
    }

    /// Chords of a circle come as near as they shall: the sagitta is r (1 - cos(t / 2)).
    #[test]
    fn chords_are_near_their_arc() {
        for radius in [0.05, 1.0, 30.0] {
            let a = Point::new(radius, 0.0);
            let quarter = Segment::Arc {
                a,
                b: Point::new(0.0, radius),
                centre: Point::default(),
                radius,
                from: 0.0,
                sweep: std::f64::consts::FRAC_PI_2,
            };
            let count = chords(&quarter, 1.0) as f64;
            let sagitta = |n: f64| radius * (1.0 - libm::cos(std::f64::consts::FRAC_PI_4 / n));
            assert!(sagitta(count) <= CHORD * 1.0001, "{radius}");
            assert!(count < 2.0 || sagitta(count - 1.0) > CHORD, "{radius}");
        }
        assert_eq!(chords(&Segment::Line { a: Point::default(), b: Point::new(9.0, 0.0) }, 1.0), 1);
    }
}
