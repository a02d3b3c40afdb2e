//! Which of the shop's cutters to use: all sets that reach as much as the whole shop does, compared by estimated time.
//!
//! The estimate is area to clear x passes / (stepover x feed) for each cutter, plus a change and a program start for
//! each; it chooses, and the packet shows it as an estimate. The minutes of each program come from the proof.

use crate::Tool;
use crate::pocket::Pocket;
use crate::survey::Survey;
use plate::Shop;

/// A set of cutters and its estimated time.
#[derive(Debug, Clone, PartialEq)]
pub struct Subset {
    /// Numbers, widest first.
    pub cutters: Vec<u32>,
    /// Estimated minutes of clearing, changes included.
    pub minutes: f64,
    /// Whether it reaches as much as all cutters together.
    pub reaches_all: bool,
    /// Whether the plan uses it.
    pub chosen: bool,
}

/// What each cutter reaches of one pocket.
struct Reach {
    /// mm² by tool; zero where its flutes are too short.
    areas: Vec<f64>,
    /// By tool.
    passes: Vec<f64>,
}

/// Area below which what a finer cutter adds is rounding, mm².
const NOTHING: f64 = 2e-3;
/// More cutters than this are not compared in all combinations; the widest and finest of them are kept.
const MOST: usize = 6;

/// All sets of cutters for the pockets, the quickest that reaches everything marked.
pub(crate) fn compare(shop: &Shop, pockets: &[Pocket], all: &[Tool<'_>], survey: &Survey) -> Vec<Subset> {
    let kept: Vec<usize> = (0..all.len()).filter(|&i| i < MOST / 2 || i + MOST / 2 >= all.len()).collect();
    let tools: Vec<&Tool<'_>> = kept.iter().map(|&i| &all[i]).collect();
    let reaches: Vec<Reach> = pockets
        .iter()
        .enumerate()
        .map(|(p, pocket)| Reach {
            areas: kept.iter().map(|&t| survey.reach(p, t).map_or(0.0, |r| r.covered.area())).collect(),
            passes: tools
                .iter()
                .map(|t| ((pocket.top - pocket.bottom) / t.run.pass_depth.to_mm()).ceil().max(1.0))
                .collect(),
        })
        .collect();
    let mut sets: Vec<Subset> = (1u32..1 << tools.len())
        .map(|mask| {
            let members: Vec<usize> = (0..tools.len()).filter(|i| mask >> i & 1 == 1).collect();
            let (minutes, reaches_all) = estimate(shop, &tools, &reaches, &members);
            let cutters = members.iter().map(|&i| tools[i].cutter.number).collect();
            Subset { cutters, minutes, reaches_all, chosen: false }
        })
        .collect();
    sets.sort_by(|a, b| {
        let rank = |s: &Subset| (!s.reaches_all, s.minutes);
        let (x, y) = (rank(a), rank(b));
        x.0.cmp(&y.0)
            .then(x.1.total_cmp(&y.1))
            .then(a.cutters.len().cmp(&b.cutters.len()))
            .then(a.cutters.cmp(&b.cutters))
    });
    if let Some(best) = sets.first_mut().filter(|s| s.reaches_all) {
        best.chosen = true;
    }
    sets
}

/// Minutes of a set, and whether it reaches as much as all.
fn estimate(shop: &Shop, tools: &[&Tool<'_>], reaches: &[Reach], members: &[usize]) -> (f64, bool) {
    let (mut minutes, mut all) = (0.0, true);
    let mut used = vec![false; tools.len()];
    for reach in reaches {
        let most = reach.areas.iter().copied().fold(0.0, f64::max);
        let mut taken = 0.0;
        for &i in members {
            let more = reach.areas[i] - taken;
            if more > NOTHING {
                let tool = tools[i];
                let rate = tool.stepover * tool.run.feed.to_mm_per_min();
                minutes += more * reach.passes[i] / rate.max(1e-6);
                taken = reach.areas[i];
                used[i] = true;
            }
        }
        all &= taken >= most - NOTHING;
    }
    let changes = members.iter().filter(|&&i| used[i]).count() as f64;
    let idle = members.iter().filter(|&&i| !used[i]).count() as f64;
    let change = (shop.machine.cutter_change + shop.machine.program_start) / 60.0;
    (minutes + changes * change + idle * 1e-3, all)
}
