//! What every cutter reaches of every pocket, reckoned once.

use crate::Tool;
use crate::pocket::Pocket;
use rayon::prelude::*;
use reach::Rings;

/// What a cutter reaches of a pocket.
#[derive(Debug, Clone)]
pub(crate) struct Reached {
    /// Where its centre may go.
    pub(crate) centre: Rings,
    /// What it covers from there.
    pub(crate) covered: Rings,
}

/// By pocket, then by tool; `None` where the flutes are too short.
pub(crate) struct Survey(Vec<Vec<Option<Reached>>>);

impl Survey {
    pub(crate) fn of(pockets: &[Pocket], tools: &[Tool<'_>]) -> Self {
        let one = |pocket: &Pocket, tool: &Tool<'_>| {
            tool.reaches(pocket.wall_for(tool)).then(|| {
                let centre = pocket.region.inset(tool.radius);
                let covered = covered(&centre, tool.radius);
                Reached { centre, covered }
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
