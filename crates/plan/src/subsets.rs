//! Which of the shop's cutters to use: all sets that reach as much as the whole shop does, compared by the time of their
//! real plans.
//!
//! Every set has a bound that its plan is hardly quicker than. The sets are taken in the order of their bounds, and what can't
//! win isn't planned; stints that sets share are made once, and what is made replaces its bound.

use crate::groove;
use crate::program::Ordered;
use crate::stint::{Book, Key};
use crate::{Tool, clock};
use doubt::Doubt;
use motion::Stage;
use rayon::prelude::*;

/// A set of cutters and its time.
#[derive(Debug, Clone, PartialEq)]
pub struct Subset {
    /// Numbers, widest first.
    pub cutters: Vec<u32>,
    /// Predicted minutes of all programs, starts and changes of cutter included.
    pub minutes: f64,
    /// Whether it was planned; if not, its plan would hardly take less than these minutes.
    pub planned: bool,
    /// Whether it reaches as much as all cutters together.
    pub reaches_all: bool,
    /// Whether the plan uses it.
    pub chosen: bool,
}

/// The programs of the set that is used.
pub(crate) struct Chosen {
    pub(crate) stages: Vec<Stage>,
    pub(crate) doubts: Vec<Doubt>,
}

/// Area below which what a finer cutter adds is rounding, mm².
const NOTHING: f64 = 2e-3;
/// More cutters than this are not compared in all combinations; the widest and finest of them are kept.
const MOST: usize = 6;

/// The programs that go through the blank, by one tool and finer ones for its corners.
pub(crate) struct Edge {
    tool: Option<usize>,
    stages: Vec<Stage>,
    /// By stage.
    seconds: Vec<f64>,
    doubts: Vec<Doubt>,
}

/// For each tool that could do it, the programs that go through the blank; one without programs if there are none.
pub(crate) fn edges(book: &Book<'_>) -> Vec<Edge> {
    let of = |tool: Option<usize>| -> Edge {
        let chosen: Vec<Tool<'_>> = tool.iter().map(|&t| book.tools[t].clone()).collect();
        let (stages, doubts) = groove::stages(book.shop, book.intent, book.tools, &chosen, 0);
        let seconds = stages.iter().map(|s| clock::seconds(book.shop, s)).collect();
        Edge { tool, stages, seconds, doubts }
    };
    let deepest = groove::deepest(book.intent);
    let able: Vec<usize> =
        (0..book.tools.len()).filter(|&t| deepest.is_some_and(|d| book.tools[t].reaches(d))).collect();
    if able.is_empty() {
        return vec![of(None)];
    }
    able.into_par_iter().map(|t| of(Some(t))).collect()
}

/// A set while it is compared.
struct Candidate {
    set: Vec<usize>,
    reaches_all: bool,
    seconds: f64,
    planned: bool,
}

/// All sets of cutters, the one used first, and the programs of that one.
pub(crate) fn compare(
    book: &mut Book<'_>,
    edges: &[Edge],
    stopped: &(dyn Fn() -> bool + Sync),
) -> (Vec<Subset>, Chosen) {
    let mut sets = candidates(book, edges);
    let mut best: Option<(usize, Planned)> = None;
    for (i, candidate) in sets.iter_mut().enumerate().filter(|(_, c)| c.reaches_all) {
        if stopped() {
            break;
        }
        // What was made for other sets by now may have raised the bound.
        candidate.seconds = at_least(book, edges, &candidate.set);
        if best.as_ref().is_some_and(|b| candidate.seconds >= b.1.seconds) {
            continue;
        }
        book.make(book.keys(&candidate.set).into_iter().flatten());
        candidate.seconds = at_least(book, edges, &candidate.set);
        if best.as_ref().is_some_and(|b| candidate.seconds >= b.1.seconds) {
            continue;
        }
        let plan = planned(book, edges, &candidate.set);
        (candidate.seconds, candidate.planned) = (plan.seconds, true);
        if best.as_ref().is_none_or(|b| plan.seconds < b.1.seconds) {
            best = Some((i, plan));
        }
    }
    for set in sets.iter_mut().filter(|s| !s.planned) {
        set.seconds = at_least(book, edges, &set.set);
    }
    let used = best.as_ref().map(|b| b.0);
    let chosen = match best {
        Some((_, plan)) => plan.chosen(book, edges),
        None => planned(book, edges, &[]).chosen(book, edges),
    };
    let subset = |(i, c): (usize, &Candidate)| Subset {
        cutters: c.set.iter().map(|&t| book.tools[t].cutter.number).collect(),
        minutes: c.seconds / 60.0,
        planned: c.planned,
        reaches_all: c.reaches_all,
        chosen: used == Some(i),
    };
    let mut subsets: Vec<Subset> = sets.iter().enumerate().map(subset).collect();
    subsets.sort_by(|a, b| {
        let rank = |s: &Subset| (!s.chosen, !s.reaches_all);
        rank(a).cmp(&rank(b)).then(a.minutes.total_cmp(&b.minutes)).then(a.cutters.cmp(&b.cutters))
    });
    (subsets, chosen)
}

/// The sets in which every cutter has something to do, by their bounds.
fn candidates(book: &Book<'_>, edges: &[Edge]) -> Vec<Candidate> {
    let count = book.tools.len();
    let kept: Vec<usize> = (0..count).filter(|&i| i < MOST / 2 || i + MOST / 2 >= count).collect();
    let areas: Vec<Vec<f64>> =
        (0..book.pockets.len()).map(|p| kept.iter().map(|&t| book.covers(p, t)).collect()).collect();
    let mut sets: Vec<Candidate> = (1u32..1 << kept.len())
        .filter_map(|mask| {
            let members: Vec<usize> = (0..kept.len()).filter(|i| mask >> i & 1 == 1).collect();
            let mut used = vec![false; members.len()];
            let mut reaches_all = true;
            for areas in &areas {
                let mut taken = 0.0;
                for (k, &i) in members.iter().enumerate() {
                    if areas[i] - taken > NOTHING {
                        (taken, used[k]) = (areas[i], true);
                    }
                }
                reaches_all &= taken >= areas.iter().copied().fold(0.0, f64::max) - NOTHING;
            }
            let set: Vec<usize> = members.iter().map(|&i| kept[i]).collect();
            let needed = used.iter().all(|&u| u) || members.len() == 1;
            let seconds = if needed { at_least(book, edges, &set) } else { 0.0 };
            needed.then_some(Candidate { set, reaches_all, seconds, planned: false })
        })
        .collect();
    sets.sort_by(|a, b| a.seconds.total_cmp(&b.seconds).then(a.set.len().cmp(&b.set.len())).then(a.set.cmp(&b.set)));
    sets
}

/// Seconds that a set's programs take at least.
fn at_least(book: &Book<'_>, edges: &[Edge], set: &[usize]) -> f64 {
    let mut cutters = Vec::new();
    let mut seconds = 0.0;
    for (&tool, keys) in set.iter().zip(book.keys(set)) {
        let work: f64 = keys.iter().map(|k| book.seconds(k)).sum();
        if work > 0.0 {
            cutters.push(tool);
            seconds += work;
        }
    }
    seconds + edge_of(book, edges, set, &cutters).1
}

/// The quickest way through the blank after programs of these tools, with the handling of all programs: its place and
/// seconds. Only tools of the set are asked, and the widest able one, ways with refusals last.
fn edge_of(book: &Book<'_>, edges: &[Edge], set: &[usize], cutters: &[usize]) -> (usize, f64) {
    let number = |t: &usize| book.tools[*t].cutter.number;
    let asked = |(i, e): &(usize, &Edge)| *i == 0 || e.tool.is_some_and(|t| set.contains(&t));
    let cost = |(i, e): (usize, &Edge)| {
        let vees = book.vees.stages.iter().map(|s| s.cutter);
        let all = cutters.iter().map(number).chain(vees).chain(e.stages.iter().map(|s| s.cutter));
        let seconds = reckon::pace::starts_and_changes(&book.shop.machine, all)
            + book.vees.seconds
            + e.seconds.iter().sum::<f64>();
        (doubt::any_blocks(&e.doubts), seconds, i)
    };
    let best = edges
        .iter()
        .enumerate()
        .filter(asked)
        .map(cost)
        .min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
    best.map_or((0, 0.0), |b| (b.2, b.1))
}

/// A set's plan.
pub(crate) struct Planned {
    work: Vec<Ordered>,
    edge: usize,
    pub(crate) seconds: f64,
}

/// The plan of a set whose stints are made.
pub(crate) fn planned(book: &Book<'_>, edges: &[Edge], set: &[usize]) -> Planned {
    let tools: Vec<(usize, Vec<Key>)> = set.iter().copied().zip(book.keys(set)).collect();
    let ordered = |(tool, keys): &(usize, Vec<Key>)| Ordered::of(book, *tool, keys);
    let work: Vec<Ordered> = tools.par_iter().filter_map(ordered).collect();
    with_edge(book, edges, set, work)
}

/// Programs with the quickest way through the blank after them.
pub(crate) fn with_edge(book: &Book<'_>, edges: &[Edge], set: &[usize], work: Vec<Ordered>) -> Planned {
    let cutters: Vec<usize> = work.iter().map(|o| o.tool).collect();
    let (edge, rest) = edge_of(book, edges, set, &cutters);
    let seconds = rest + work.iter().map(|o| o.seconds).sum::<f64>();
    Planned { work, edge, seconds }
}

impl Planned {
    fn chosen(self, book: &Book<'_>, edges: &[Edge]) -> Chosen {
        let mut stages: Vec<Stage> = self.work.iter().enumerate().map(|(k, o)| o.stage(book, k + 1)).collect();
        let edge = &edges[self.edge];
        for stage in book.vees.stages.iter().chain(&edge.stages) {
            let words = stage.name.split_once('-').map_or(stage.name.as_str(), |(_, words)| words);
            stages.push(Stage { name: format!("{}-{words}", stages.len() + 1), ..stage.clone() });
        }
        Chosen { stages, doubts: edge.doubts.clone() }
    }
}
