//! What every cutter reaches of every pocket, reckoned once.

use crate::clear::worth_entering;
use crate::pocket::Pocket;
use crate::{Tool, drill};
use memo::{Key, Memo};
use plane::{Contour, Point, Region};
use rayon::prelude::*;
use reach::Rings;

/// What a cutter reaches of a pocket.
#[derive(Debug, Clone)]
pub(crate) struct Reached {
    /// Where its centre may go.
    pub(crate) centre: Rings,
    /// What it covers from there.
    pub(crate) covered: Rings,
    /// Where it goes straight down, for a hole as wide as it is.
    pub(crate) drilled: Option<Point>,
}

/// Radius of the circle that stands for the one place of a drilling cutter's axis, mm.
const SPOT: f64 = 0.001;

/// By pocket, then by tool; `None` where the flutes are too short.
pub(crate) struct Survey(Vec<Vec<Option<Reached>>>);

impl Survey {
    pub(crate) fn of(pockets: &[Pocket], tools: &[Tool<'_>], memo: &Memo) -> Self {
        let one = |pocket: &Pocket, tool: &Tool<'_>| {
            pocket.reached_by(tool).then(|| {
                if let Some(at) = drill::snug(&pocket.region, tool).filter(|_| tool.cutter.may_drill) {
                    let centre = Rings::of(&Region::solid(Contour::circle(at, SPOT)));
                    return Reached { centre, covered: pocket.region.clone(), drilled: Some(at) };
                }
                // Where there is no way round on which to come down, the cutter doesn't go.
                let of = || Key::named("reached").with(&pocket.region).with(&tool.radius);
                let reached = memo.recall(of, || {
                    let centre = worth_entering(&pocket.region.inset(tool.radius), tool, false);
                    let covered = covered(&centre, tool.radius);
                    Reached { centre, covered, drilled: None }
                });
                (*reached).clone()
            })
        };
        Self(pockets.par_iter().map(|p| tools.iter().map(|t| one(p, t)).collect()).collect())
    }

    pub(crate) fn reach(&self, pocket: usize, tool: usize) -> Option<&Reached> {
        self.0[pocket][tool].as_ref()
    }
}

/// What a disc covers from where its centre may go, to about a micrometre: only what is left is told by it, and slivers
/// thinner than that are no work.
pub(crate) fn covered(centre: &Rings, radius: f64) -> Rings {
    centre.simplified(0.000_4).outset_within(radius, 0.000_8)
}
