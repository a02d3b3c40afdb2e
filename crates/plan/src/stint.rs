//! Stints: one cutter's pieces of work in one pocket, each with its moves and how long they take.
//!
//! A stint begins with the way down from the height of traverses and ends with the way back up to it, so it takes as long
//! whatever came before it. What a cutter finds in a pocket depends on the narrowest of the wider ones that were there
//! alone, since where a wider cutter got to a narrower one gets too. So sets of cutters share most of their stints, and
//! a set's time is the sum of its stints' times and of the ways between them.

use crate::clear::{self, rest_tasks, thick, whole, worth_entering};
use crate::hop::Hops;
use crate::levels::levels;
use crate::pen::Pen;
use crate::pocket::{ON_WALLS, Pocket, allowance};
use crate::survey::{Reached, Survey, covered};
use crate::vee::Vees;
use crate::{Tool, clock, drill, traverse};
use memo::Memo;
use motion::{At, Move};
use plane::{Bounds, Point};
use plate::{Intent, Shop};
use quantity::Feed;
use rayon::prelude::*;
use reach::Rings;
use std::collections::BTreeMap;

/// A piece of work in one pocket.
#[derive(Debug, Clone)]
pub(crate) struct Stint {
    pub(crate) pocket: usize,
    /// Whether it comes after the pocket's other pieces.
    pub(crate) last: bool,
    /// From above its start at the height of traverses to above its end.
    pub(crate) moves: Vec<Move>,
    pub(crate) start: Point,
    pub(crate) end: Point,
    /// How far down the first rapid goes, and from where the last comes up, mm.
    pub(crate) low: [f64; 2],
    /// Where the cutter or its shank comes.
    pub(crate) room: Bounds,
    pub(crate) seconds: f64,
}

/// What one cutter does in one pocket.
#[derive(Debug, Clone, Default)]
pub(crate) struct Stints {
    pub(crate) all: Vec<Stint>,
    /// Whether no wider cutter has been there.
    pub(crate) first: bool,
}

impl Stints {
    pub(crate) fn seconds(&self) -> f64 {
        self.all.iter().map(|s| s.seconds).sum()
    }
}

/// Which work: pocket, cutter, the narrowest of the wider ones that were there, and whether a finer one follows to which
/// places can be left in which this one could hardly turn.
pub(crate) type Key = (usize, usize, Option<usize>, bool);

/// All that stints are made from, and those made so far.
pub(crate) struct Book<'a> {
    pub(crate) shop: &'a Shop,
    pub(crate) intent: &'a Intent,
    pub(crate) pockets: &'a [Pocket],
    pub(crate) tools: &'a [Tool<'a>],
    pub(crate) survey: &'a Survey,
    /// The vees' programs, between the flat cutters' and those that go through the blank.
    pub(crate) vees: &'a Vees,
    pub(crate) hops: Hops<'a>,
    /// By pocket and tool: what it enters where a finer one follows; `None` if that is all it reaches.
    entered: Vec<Vec<Option<Reached>>>,
    /// By pocket and tool, of all that it reaches and of what it enters where a finer one follows.
    sizes: Vec<Vec<[Size; 2]>>,
    made: BTreeMap<Key, Stints>,
    planning: Planning<'a>,
}

/// How a plan is made.
#[derive(Clone, Copy)]
pub(crate) struct Planning<'a> {
    /// What is kept of other plans.
    pub(crate) memo: &'a Memo,
    /// Whether nobody waits for it any more: then work comes out empty.
    pub(crate) stopped: &'a (dyn Fn() -> bool + Sync),
}

/// Of what a tool reaches: length of the walls and area between them for its centre, mm and mm², and what it covers, mm².
#[derive(Debug, Clone, Copy, Default)]
struct Size {
    walls: f64,
    centre: f64,
    covered: f64,
}

impl Size {
    fn of(reached: &Reached) -> Self {
        Self { walls: reached.centre.length(), centre: reached.centre.area(), covered: reached.covered.area() }
    }
}

/// A bound takes this share of what an even way would: places where the last way round goes a little farther.
const SURE: f64 = 0.9;

impl<'a> Book<'a> {
    pub(crate) fn new(
        shop: &'a Shop,
        intent: &'a Intent,
        pockets: &'a [Pocket],
        tools: &'a [Tool<'a>],
        survey: &'a Survey,
        vees: &'a Vees,
        planning: Planning<'a>,
    ) -> Self {
        let enter = |pocket: usize| {
            let of = |t: usize| -> Option<Reached> {
                let (reached, tool) = (survey.reach(pocket, t)?, &tools[t]);
                if reached.drilled.is_some() {
                    return None;
                }
                let seamless = pockets[pocket].seamless;
                let inside = seamless.then(|| pockets[pocket].region.inset(tool.radius + ON_WALLS));
                let centre = worth_entering(inside.as_ref().unwrap_or(&reached.centre), tool, true);
                (seamless || centre.length() != reached.centre.length()).then(|| Reached {
                    covered: covered(&centre, tool.radius),
                    centre,
                    drilled: None,
                })
            };
            (0..tools.len()).map(of).collect()
        };
        let entered: Vec<Vec<Option<Reached>>> = (0..pockets.len()).into_par_iter().map(enter).collect();
        let size = |(pocket, entered): (usize, &Vec<Option<Reached>>)| {
            let of = |t: usize| {
                let all = survey.reach(pocket, t).map(Size::of).unwrap_or_default();
                [all, entered[t].as_ref().map_or(all, Size::of)]
            };
            (0..tools.len()).map(of).collect()
        };
        let sizes = entered.par_iter().enumerate().map(size).collect();
        let hops = Hops::new(shop, intent);
        Self { shop, intent, pockets, tools, survey, vees, hops, entered, sizes, made: BTreeMap::new(), planning }
    }

    /// What a tool covers of a pocket, mm².
    pub(crate) fn covers(&self, pocket: usize, tool: usize) -> f64 {
        self.sizes[pocket][tool][0].covered
    }

    /// What a tool enters of a pocket, where a finer one follows or doesn't.
    pub(crate) fn enters(&self, pocket: usize, tool: usize, finer: bool) -> Option<&Reached> {
        let less = self.entered[pocket][tool].as_ref().filter(|_| finer);
        less.or_else(|| self.survey.reach(pocket, tool))
    }

    /// The work of a set of tools, widest first: for each tool its keys.
    pub(crate) fn keys(&self, set: &[usize]) -> Vec<Vec<Key>> {
        let of = |k: usize| {
            let tool = set[k];
            let key = |pocket: usize| {
                self.survey.reach(pocket, tool)?;
                let finer = set[k + 1..].iter().any(|&f| self.survey.reach(pocket, f).is_some());
                let wider = set[..k].iter().rev().copied();
                let last = wider.into_iter().find(|&w| self.survey.reach(pocket, w).is_some());
                let last = last.filter(|&w| self.enters(pocket, w, true).is_some_and(|r| !r.centre.is_empty()));
                Some((pocket, tool, last, finer && self.entered[pocket][tool].is_some()))
            };
            (0..self.pockets.len()).filter_map(key).collect()
        };
        (0..set.len()).map(of).collect()
    }

    /// One of the stints of a work, if it is made.
    pub(crate) fn stint(&self, key: &Key, number: usize) -> Option<&Stint> {
        self.made.get(key)?.all.get(number)
    }

    pub(crate) fn made(&self, key: &Key) -> Option<&Stints> {
        self.made.get(key)
    }

    /// Keeps stints that were made elsewhere.
    pub(crate) fn keep(&mut self, made: Vec<(Key, Stints)>) {
        self.made.extend(made);
    }

    /// Makes the stints that aren't made yet; fewer if stopped.
    pub(crate) fn make(&mut self, keys: impl Iterator<Item = Key>) {
        let mut missing: Vec<Key> = keys.filter(|k| !self.made.contains_key(k)).collect();
        missing.sort_unstable();
        missing.dedup();
        let made: Vec<(Key, Stints)> = missing
            .into_par_iter()
            .map(|key| (key, if (self.planning.stopped)() { Stints::default() } else { self.stints(key) }))
            .collect();
        self.made.extend(made);
    }

    /// Seconds of a tool's work: planned, or what it will hardly take less than. What a wider cutter's plan of the same pocket
    /// took more than its bound is expected of this one's too, less a tenth.
    pub(crate) fn seconds(&self, key: &Key) -> f64 {
        if let Some(made) = self.made.get(key) {
            return made.seconds();
        }
        let bound = self.at_least(key);
        let &(pocket, _, None, _) = key else { return bound };
        let alike = self.made.range((pocket, 0, None, false)..(pocket + 1, 0, None, false));
        let more = alike.filter(|(k, _)| k.2.is_none()).map(|(k, made)| made.seconds() / self.at_least(k).max(1e-6));
        bound * more.fold(1.0, |most, m| f64::max(most, SURE * m))
    }

    /// Seconds of a tool's work that it can't be done in less: the way along the walls and as many ways a stepover apart as
    /// fill the room between them; after a wider cutter, what is left over the whole width.
    fn at_least(&self, key: &Key) -> f64 {
        let &(pocket, tool, last, finer) = key;
        let size = self.sizes[pocket][tool][usize::from(finer)];
        let run = &self.tools[tool];
        let way = match last {
            None => size.walls.max(size.walls / 2.0 + size.centre / run.stepover.max(1e-6)),
            Some(last) => (size.covered - self.sizes[pocket][last][1].covered).max(0.0) / (2.0 * run.radius),
        };
        if way <= 0.0 {
            return 0.0;
        }
        let seconds = |way: f64, feed: Feed| way / (feed.to_mm_per_min() / 60.0).max(1e-6);
        let (rise, Pocket { top, bottom, .. }) = (self.hops.height(), &self.pockets[pocket]);
        let cut = seconds(SURE * way * self.heights(key).len() as f64, run.run.feed);
        // Down from a hop and up again; into whole material no steeper than its angle.
        let lifts = seconds((rise - top) + (rise - bottom), self.shop.machine.rapid_z);
        let ramp = (top - bottom) / libm::tan(run.run.entry_angle).max(1e-3);
        cut + lifts + if last.is_none() { seconds(ramp, run.run.entry_feed) } else { 0.0 }
    }

    /// Heights of a work's passes, lowest last; those of a seamless pocket that several cutters share without the floor's own.
    pub(crate) fn heights(&self, key: &Key) -> Vec<f64> {
        let &(pocket, tool, ..) = key;
        let (pocket, depth) = (&self.pockets[pocket], self.tools[tool].run.pass_depth.to_mm());
        let left = if self.shares_seamless(key) { allowance(self.intent, pocket) } else { 0.0 };
        levels(&self.intent.blank, pocket.top, pocket.bottom + left, depth)
    }

    /// Whether other cutters work in the same seamless pocket before or after.
    fn shares_seamless(&self, key: &Key) -> bool {
        let &(pocket, _, last, finer) = key;
        self.pockets[pocket].seamless && (last.is_some() || finer)
    }

    pub(crate) fn stints(&self, key: Key) -> Stints {
        let (pocket, tool, last, finer) = key;
        let Some(reached) = self.enters(pocket, tool, finer) else { return Stints::default() };
        let run = &self.tools[tool];
        if let Some(at) = reached.drilled {
            let (rise, face) = self.span();
            let mut pen = Pen::new(run, rise, face);
            drill::drill(&mut pen, at, &self.pockets[pocket]);
            return Stints { all: self.stint_of(pocket, run, pen).into_iter().collect(), first: true };
        }
        let tasks: Vec<clear::Task> = match last.and_then(|l| self.enters(pocket, l, true)) {
            None => reached.centre.parts().into_par_iter().flat_map(|part| self.whole(pocket, part, run)).collect(),
            Some(before) => {
                let of =
                    || run.put(memo::Key::named("rest")).with(&[&reached.centre, &reached.covered, &before.covered]);
                self.tasks(pocket, of, || {
                    let left = thick(&reached.covered.minus(&before.covered));
                    if left.is_empty() { Vec::new() } else { rest_tasks(pocket, &reached.centre, &left, run) }
                })
            }
        };
        let done = |tasks: Vec<clear::Task>, pocket: &Pocket, heights: &[f64]| -> Vec<Stint> {
            let stint = |task: clear::Task| {
                let (rise, face) = self.span();
                let mut pen = Pen::new(run, rise, face);
                clear::work(&mut pen, &task, pocket, heights);
                self.stint_of(task.pocket, run, pen)
            };
            tasks.into_par_iter().filter_map(stint).collect()
        };
        let here = &self.pockets[pocket];
        let mut all = done(tasks, here, &self.heights(&key));
        if last.is_some() && !finer && here.seamless {
            // The last one does all of the floor, and the walls beside it.
            let parts = reached.centre.parts().into_par_iter();
            let tasks: Vec<clear::Task> = parts.flat_map(|part| self.whole(pocket, part, run)).collect();
            let left = here.below(here.bottom + allowance(self.intent, here));
            let floor = done(tasks, &left, &[here.bottom]);
            all.extend(floor.into_iter().map(|stint| Stint { last: true, ..stint }));
        }
        Stints { all, first: last.is_none() && !reached.covered.is_empty() }
    }

    /// The work that clears a whole part, if there is any.
    fn whole(&self, pocket: usize, part: Rings, run: &Tool<'_>) -> Vec<clear::Task> {
        let of = || run.put(memo::Key::named("whole")).with(&part);
        self.tasks(pocket, of, || whole(pocket, part.clone(), run).into_iter().collect())
    }

    /// Tasks made by `make`, or kept ones of the same ways over the ground.
    fn tasks(
        &self,
        pocket: usize,
        of: impl FnOnce() -> memo::Key,
        make: impl FnOnce() -> Vec<clear::Task>,
    ) -> Vec<clear::Task> {
        if (self.planning.stopped)() {
            return Vec::new();
        }
        let made = self.planning.memo.recall(of, make);
        made.iter().map(|task| task.of(pocket)).collect()
    }

    /// Height of traverses and of the highest face, mm.
    pub(crate) fn span(&self) -> (f64, f64) {
        (traverse(self.shop, self.intent).to_mm(), self.intent.blank.face_high.to_mm())
    }

    /// What a pen wrote, as a stint; `None` if it cut nothing.
    pub(crate) fn stint_of(&self, pocket: usize, tool: &Tool<'_>, pen: Pen<'_>) -> Option<Stint> {
        // The first move rises from wherever the machine stands.
        let mut moves = pen.finish();
        moves.remove(0);
        self.hops.lower(&mut moves);
        let ends = || moves.iter().filter_map(Move::end);
        let (first, last) = (ends().next()?, ends().next_back()?);
        let low = [ends().nth(1)?.z, ends().nth_back(1)?.z];
        let mut room = Bounds::of(ends().map(|a| a.p));
        let mut here = first.p;
        for step in &moves {
            match step {
                Move::Arc { to, centre, .. } => {
                    let wide = Point::new(1.0, 1.0) * here.distance(*centre);
                    room = room.union(Bounds::of([*centre - wide, *centre + wide]));
                    here = to.p;
                }
                Move::Rapid(to) | Move::Line { to, .. } => here = to.p,
                Move::Pass(_) => {}
            }
        }
        let beside = tool.radius.max(tool.cutter.shank.to_mm() / 2.0) + 0.1;
        let seconds = clock::seconds_from(self.shop, &moves, At::new(first.p, self.span().0));
        Some(Stint { pocket, last: false, start: first.p, end: last.p, low, room: room.grown(beside), seconds, moves })
    }
}
