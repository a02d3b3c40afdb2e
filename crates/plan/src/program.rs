//! Programs from stints: in the order of a short way, a pocket's after those of the pockets round it where they meet.

use crate::hop::Hops;
use crate::stint::{Book, Key, Stint};
use crate::tour::{Stop, tour};
use crate::{Tool, clock};
use motion::{At, Move, SPIN_UP, Stage};
use plane::Point;
use quantity::Height;

/// A tool's stints in the order in which they are done.
pub(crate) struct Ordered {
    pub(crate) tool: usize,
    /// By their works and numbers there.
    stints: Vec<(Key, usize)>,
    /// Whether in some pocket it is the first.
    first: bool,
    /// Predicted seconds of the program.
    pub(crate) seconds: f64,
}

impl Ordered {
    /// `None` if there is nothing to do.
    pub(crate) fn of(book: &Book<'_>, tool: usize, keys: &[Key]) -> Option<Self> {
        let made = || keys.iter().filter_map(|k| Some((k, book.made(k)?)));
        let all: Vec<(Key, usize, &Stint)> =
            made().flat_map(|(k, made)| made.all.iter().enumerate().map(|(i, s)| (*k, i, s))).collect();
        let stints: Vec<&Stint> = all.iter().map(|a| a.2).collect();
        if stints.is_empty() {
            return None;
        }
        let lies_in = |mut pocket: usize, outer: usize| {
            while let Some(parent) = book.pockets[pocket].parent {
                if parent == outer {
                    return true;
                }
                pocket = parent;
            }
            false
        };
        let mut before = Vec::new();
        for (i, outer) in stints.iter().enumerate() {
            for (j, inner) in stints.iter().enumerate() {
                let same = outer.pocket == inner.pocket && !outer.last && inner.last;
                let nested = || outer.pocket < inner.pocket && lies_in(inner.pocket, outer.pocket);
                if outer.room.meets(inner.room) && (same || nested()) {
                    before.push((i, j));
                }
            }
        }
        let stops: Vec<Stop> = stints.iter().map(|s| Stop { start: s.start, end: s.end }).collect();
        let order = tour(Point::default(), &stops, &before);
        let stints: Vec<&Stint> = order.iter().map(|&i| stints[i]).collect();
        let seconds = SPIN_UP + stints.iter().map(|s| s.seconds).sum::<f64>() + between(book, &stints);
        let first = made().any(|(_, made)| made.first);
        Some(Self { tool, stints: order.iter().map(|&i| (all[i].0, all[i].1)).collect(), first, seconds })
    }

    /// The program; `number` from 1.
    pub(crate) fn stage(&self, book: &Book<'_>, number: usize) -> Stage {
        let (word, purpose) = match (number, self.first) {
            (1, _) => ("clear", "clears the areas"),
            (_, false) => ("corners", "clears the corners and strokes that wider cutters left"),
            (_, true) => ("finer", "clears what is too narrow for wider cutters, and their corners"),
        };
        let (tool, rise) = (&book.tools[self.tool], book.span().0);
        // The first move rises from wherever the machine stands.
        let mut moves = vec![Move::Rapid(At::new(Point::default(), rise))];
        let stints = self.stints.iter().filter_map(|(key, i)| book.stint(key, *i));
        moves.extend(stints.flat_map(|s| s.moves.iter().cloned()));
        hopping(stage(tool, format!("{number}-{word}"), purpose, rise, moves), &book.hops)
    }
}

/// A tool's program of these moves; `rise` is the height of its traverses, mm.
pub(crate) fn stage(tool: &Tool<'_>, name: String, purpose: &str, rise: f64, moves: Vec<Move>) -> Stage {
    Stage {
        name,
        purpose: purpose.into(),
        cutter: tool.cutter.number,
        speed: tool.run.speed,
        dial: tool.run.dial.clone(),
        cutting: true,
        feed: tool.run.feed,
        pass_depth: tool.run.pass_depth.to_mm(),
        traverse: Height::mm(rise),
        hop: None,
        moves,
    }
}

/// The program with hops in the place of short traverses.
pub(crate) fn hopping(mut stage: Stage, hops: &Hops<'_>) -> Stage {
    hops.lower(&mut stage.moves);
    let at = hops.height();
    let hop = |m: &Move| matches!(m, Move::Rapid(to) if to.z == at && at < stage.traverse.to_mm());
    stage.hop = stage.moves.iter().any(hop).then(|| Height::mm(at));
    stage
}

/// Seconds of the ways from one stint to the next.
fn between(book: &Book<'_>, stints: &[&Stint]) -> f64 {
    let way = |w: &[&Stint]| {
        let over = clock::over(&book.shop.machine, w[0].end, w[1].start);
        let hops = book.hops.between(w[0].end, w[1].start);
        if hops { over - book.hops.saved(w[0].low[1], w[1].low[0]) } else { over }
    };
    stints.windows(2).map(way).sum()
}
