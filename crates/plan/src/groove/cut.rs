//! What is cut along the edges in one connected piece of room: with which cutter, where the tabs stand, what stays for finer
//! cutters, and the waste that nothing would hold.

use super::{Groove, ONTO_TAB, OVER_TAB, tab_top};
use crate::clear::{self, Task, thick};
use crate::pocket::Pocket;
use crate::survey::covered;
use crate::tabs::{Cuts, Kept, Stretch, stretches};
use crate::{Tool, rest};
use doubt::Doubt;
use plane::{Contour, FIT, Point, Region, Segment, SegmentIndex, fit_closed};
use plate::{Held, Intent, Tabs};
use reach::Rings;

/// How near a finer cutter comes to what it finds left, its own radii: its axis goes a radius beyond it on the way along the
/// wall, then onto it by a quarter arc of half a radius, and it cuts a radius round that.
const BESIDE_LEFT: f64 = 2.75;
/// Waste smaller than this is nothing that could be thrown about, mm².
const CRUMB: f64 = 0.05;
/// Waste that a tab's end comes this near to hangs on it, mm.
const TOUCHES: f64 = 0.3;
/// Rounds of placing tabs: each may find waste that no tab holds, which is cleared, and then no tab may stand there.
const ROUNDS: usize = 4;

/// A way along an edge.
pub(super) struct Way {
    pub(super) edge: Contour,
    /// What lies between its tabs; empty without any.
    pub(super) stretches: Vec<Stretch>,
}

/// What a finer cutter finds at one groove.
pub(super) struct Left {
    /// Where its axis may go.
    pub(super) reach: Rings,
    /// What the wider ones left of what it covers.
    pub(super) left: Rings,
}

/// All that is cut in one groove.
pub(super) struct Cut<'a> {
    pub(super) groove: &'a Groove,
    pub(super) tool: &'a Tool<'a>,
    pub(super) ways: Vec<Way>,
    /// Waste that is cleared to chips first, since nothing would hold it.
    pub(super) waste: Vec<Task>,
    /// By finer cutter, widest first.
    pub(super) left: Vec<(&'a Tool<'a>, Left)>,
    pub(super) doubts: Vec<Doubt>,
    /// Whether a way runs along every piece that is held.
    all_held: bool,
}

impl<'a> Cut<'a> {
    /// With the first of some cutters that gets along every piece and finds room for the tabs; with the very first if none does.
    pub(super) fn of(
        groove: &'a Groove,
        intent: &Intent,
        candidates: impl Iterator<Item = &'a Tool<'a>>,
        tools: &'a [Tool<'a>],
    ) -> Option<Self> {
        let mut first = None;
        for tool in candidates {
            let cut = Self::with(groove, intent, tool, tools);
            if cut.all_held && cut.doubts.is_empty() {
                return Some(cut);
            }
            first = first.or(Some(cut));
        }
        first
    }

    fn with(groove: &'a Groove, intent: &Intent, tool: &'a Tool<'a>, tools: &'a [Tool<'a>]) -> Self {
        let depth = intent.blank.face_high.to_mm() - groove.floor;
        let finer = tools.iter().filter(|t| t.radius < tool.radius && t.reaches(depth));
        let left = for_finer(groove, tool, finer);
        let edges = groove.edges(tool.radius);
        let mut cut =
            Self { groove, tool, ways: Vec::new(), waste: Vec::new(), left, doubts: Vec::new(), all_held: true };
        match &groove.held {
            Held::Tabs(tabs) if tabs.count > 0 => cut.with_tabs(intent, edges, tabs),
            _ => cut.ways = edges.into_iter().map(|edge| Way { edge, stretches: Vec::new() }).collect(),
        }
        cut
    }

    fn with_tabs(&mut self, intent: &Intent, edges: Vec<Contour>, tabs: &Tabs) {
        let (groove, tool) = (self.groove, self.tool);
        let rise = (tab_top(intent, groove) + OVER_TAB - groove.floor).max(0.0) / ONTO_TAB;
        let waste = waste(groove, tool.radius);
        let mut cleared = vec![false; waste.len()];
        for _ in 0..ROUNDS {
            let near = |(finer, l): &(&Tool<'_>, Left)| -> Vec<(Region, f64)> {
                let regions = [l.left.region()];
                regions.into_iter().map(|r| (r, BESIDE_LEFT * finer.radius + rest::SLACK)).collect()
            };
            let chips = waste.iter().zip(&cleared).filter(|(_, c)| **c);
            let chips = chips.map(|(w, _)| (w.room.region(), tool.radius));
            let cuts = Cuts::new(tool.radius, &edges, self.left.iter().flat_map(near).chain(chips));
            let mut held = vec![false; groove.pieces.len()];
            self.ways.clear();
            self.doubts.clear();
            for (ring, edge) in edges.iter().enumerate() {
                let kept = Kept { name: &groove.name, line: groove.line, pieces: &groove.pieces, ring, edge, rise };
                kept.beside(tool.radius).into_iter().for_each(|piece| held[piece] = true);
                let stretches = match stretches(&cuts, &kept, tabs) {
                    Ok(stretches) => stretches,
                    Err(doubt) => {
                        self.doubts.push(doubt);
                        Vec::new()
                    }
                };
                self.ways.push(Way { edge: edge.clone(), stretches });
            }
            self.all_held = held.iter().all(|&h| h);
            let loose: Vec<usize> = (0..waste.len()).filter(|&i| !cleared[i] && !self.holds(&waste[i])).collect();
            if loose.is_empty() || !self.doubts.is_empty() {
                break;
            }
            loose.into_iter().for_each(|i| cleared[i] = true);
        }
        let chips = waste.into_iter().zip(cleared).filter(|(_, c)| *c);
        self.waste = chips.flat_map(|(w, _)| w.room.parts()).filter_map(|part| clear::whole(0, part, tool)).collect();
    }

    /// Whether a tab reaches a piece of waste.
    fn holds(&self, waste: &Waste) -> bool {
        let ends_on = |over: &[Segment]| {
            let touches = |s: &Segment, t: f64| {
                let Some(along) = s.direction(t) else { return false };
                // The wall is to the right: the waste lies on the left.
                let beside = s.at(t) + along.left() * (self.tool.radius + 0.5 * TOUCHES);
                waste.piece.contains(beside) || waste.edge.nearest_within(beside, TOUCHES).is_some()
            };
            middle_of(over).is_some_and(|(s, t)| touches(&s, t))
        };
        self.ways.iter().flat_map(|w| &w.stretches).any(|s| ends_on(&s.over))
    }

    /// The pocket that corners and waste are cleared in.
    pub(super) fn pocket(&self, intent: &Intent) -> Pocket {
        Pocket::bare(self.groove.name.clone(), intent.blank.face_high.to_mm(), self.groove.floor)
    }

    /// Where it begins, for a short order.
    pub(super) fn start(&self) -> Point {
        self.ways.first().and_then(|w| w.edge.vertices.first()).map_or_else(Point::default, |v| v.p)
    }
}

/// The place halfway along segments.
fn middle_of(segments: &[Segment]) -> Option<(Segment, f64)> {
    let mut left = segments.iter().map(Segment::length).sum::<f64>() / 2.0;
    for s in segments {
        let length = s.length();
        if left <= length {
            return Some((*s, left / length.max(1e-12)));
        }
        left -= length;
    }
    None
}

/// What stays between grooves and comes loose where no tab holds it.
struct Waste {
    piece: Rings,
    edge: SegmentIndex,
    /// Where the axis goes to clear it.
    room: Rings,
}

/// The pieces between the grooves of a cutter; the blank's rim, which is clamped, is none.
fn waste(groove: &Groove, radius: f64) -> Vec<Waste> {
    let axis = groove.free.inset(radius);
    let between = axis.inset(radius);
    let of = |piece: Rings| {
        let rim = groove.rim.is_some_and(|rim| piece.bounds().width() > rim.width() - 4.0 * radius - 1.0);
        (!rim && piece.area() > CRUMB).then(|| {
            let room = piece.outset_within(radius + 0.01, 0.005).and(&axis);
            Waste { edge: SegmentIndex::of_contours(piece.region().contours()), room, piece }
        })
    };
    between.parts().into_iter().filter_map(of).collect()
}

/// By finer cutter, widest first.
fn for_finer<'a>(
    groove: &Groove,
    tool: &Tool<'_>,
    finer: impl Iterator<Item = &'a Tool<'a>>,
) -> Vec<(&'a Tool<'a>, Left)> {
    let mut done: Option<Rings> = None;
    // The rim of the free room has corners too, which are none of the plate's.
    let within =
        Rings::rectangle(groove.free.bounds().grown(if groove.rim.is_some() { -super::ROOM / 2.0 } else { 1.0 }));
    let of = |finer: &'a Tool<'a>| {
        let before = done.take().unwrap_or_else(|| groove.free.opening(tool.radius));
        let reach = groove.free.inset(finer.radius);
        let covered = covered(&reach, finer.radius);
        let left = thick(&covered.minus(&before).and(&within));
        done = Some(before.union(&covered));
        (finer, Left { reach, left })
    };
    finer.map(of).collect()
}

/// Rings as contours of lines and arcs.
pub(super) fn fitted(rings: &Rings) -> Vec<Contour> {
    rings.points().map(|r| fit_closed(&r, FIT)).collect()
}
