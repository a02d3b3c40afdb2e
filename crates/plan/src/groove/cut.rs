//! What is cut along the edges in one connected piece of room: with which cutter, where the tabs stand, what stays for finer
//! cutters, and the waste that nothing would hold.

use super::{Groove, ONTO_TAB, OVER_TAB, tab_top};
use crate::clear::{self, Task, thick};
use crate::pocket::Pocket;
use crate::survey::covered;
use crate::tabs::{Cuts, INTO_WASTE, Kept, Stretch, Yielding, stretches};
use crate::{Tool, rest};
use doubt::Doubt;
use plane::{Contour, FIT, Point, RegionIndex, Segment, fit_closed};
use plate::{Held, Intent, Tabs};
use reach::Rings;
use std::cmp::Reverse;

/// How near a finer cutter comes to what it finds left, its own radii: its axis goes a radius beyond it on the way along the
/// wall, then onto it by a quarter arc of half a radius, and it cuts a radius round that.
const BESIDE_LEFT: f64 = 2.75;
/// Waste smaller than this is nothing that could be thrown about, mm².
const CRUMB: f64 = 0.05;
/// A neck of waste narrower than this holds nothing, mm.
const NECK: f64 = 0.2;
/// How far round a piece of waste the cutter's axis goes to clear it, mm.
const ROUND_WASTE: f64 = 0.02;
/// Clearing a piece of waste goes no further than this into ground beside it that stays, mm: it may be the blank's rim, or hold a screw.
const INTO_OTHERS: f64 = 0.2;
/// Rounds of placing tabs: each may find waste that no tab holds, which is cleared, and then no tab may stand there.
const ROUNDS: usize = 12;

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
    /// With the first of some cutters that gets along every piece and finds room for the tabs; else with the first that gets along
    /// every piece, else with the very first.
    pub(super) fn of(
        groove: &'a Groove,
        intent: &Intent,
        candidates: impl Iterator<Item = &'a Tool<'a>>,
        tools: &'a [Tool<'a>],
    ) -> Option<Self> {
        let candidates: Vec<&'a Tool<'a>> = candidates.collect();
        let mut best: Option<Self> = None;
        let mut best_yielding = None;
        // With which cutters tabs find no room.
        let mut crowded = vec![true; candidates.len()];
        for yielding in [Yielding::Nothing, Yielding::Bridges, Yielding::Fewer] {
            for (tool, crowded) in candidates.iter().zip(&mut crowded).filter(|(_, crowded)| **crowded) {
                let cut = Self::with(groove, intent, tool, tools, yielding);
                *crowded = !cut.doubts.is_empty();
                if cut.all_held && cut.doubts.is_empty() {
                    return Some(cut);
                }
                // The fewest pieces that find no room are the ones to tell of.
                let rank = |c: &Self| (c.all_held, Reverse(c.doubts.len()));
                let further = best_yielding < Some(yielding);
                let better = |b: &Self| rank(&cut) > rank(b) || further && rank(&cut) == rank(b);
                if best.as_ref().is_none_or(better) {
                    best_yielding = Some(yielding);
                    best = Some(cut);
                }
            }
        }
        best
    }

    fn with(
        groove: &'a Groove,
        intent: &Intent,
        tool: &'a Tool<'a>,
        tools: &'a [Tool<'a>],
        yielding: Yielding,
    ) -> Self {
        let depth = intent.blank.face_high.to_mm() - groove.floor;
        let finer = tools.iter().filter(|t| t.radius < tool.radius && t.reaches(depth));
        let left = for_finer(groove, tool, finer);
        let edges = groove.edges(tool.radius);
        let finest = 2.0 * tools.last().map_or(tool.radius, |t| t.radius);
        let mut cut =
            Self { groove, tool, ways: Vec::new(), waste: Vec::new(), left, doubts: Vec::new(), all_held: true };
        match &groove.held {
            Held::Tabs(tabs) if tabs.count > 0 => cut.with_tabs(intent, &edges, tabs, (finest, yielding)),
            _ => cut.ways = edges.into_iter().map(|edge| Way { edge, stretches: Vec::new() }).collect(),
        }
        cut
    }

    fn with_tabs(&mut self, intent: &Intent, edges: &[Contour], tabs: &Tabs, (finest, yielding): (f64, Yielding)) {
        let (groove, tool) = (self.groove, self.tool);
        let rise = (tab_top(intent, groove) + OVER_TAB - groove.floor).max(0.0) / ONTO_TAB;
        let waste = waste(groove, tool.radius);
        let room = RegionIndex::new(&groove.free.region());
        let mut cleared = vec![false; waste.len()];
        // In a hole everything hangs on the piece round it.
        let loose: Vec<&Rings> =
            if groove.rim.is_some() { waste.iter().map(|w| &w.piece).collect() } else { Vec::new() };
        let mut extra: Vec<(usize, usize)> = Vec::new();
        let mut loose_goes = Loose::ToChips;
        for _ in 0..ROUNDS {
            let near = |(finer, l): &(&Tool<'_>, Left)| (l.left.region(), BESIDE_LEFT * finer.radius + rest::SLACK);
            let chips = waste.iter().zip(&cleared).filter(|(_, c)| **c);
            let chips = chips.map(|(w, _)| (w.room.region(), tool.radius));
            let cuts = Cuts::new(tool.radius, edges, self.left.iter().map(near).chain(chips));
            let more: Vec<(usize, &Rings)> = extra.iter().map(|&(piece, w)| (piece, &waste[w].piece)).collect();
            let kept = Kept {
                name: &groove.name,
                line: groove.line,
                pieces: &groove.pieces,
                edges,
                rise,
                waste: &loose,
                extra: &more,
                finest,
                room: &room,
                yielding,
            };
            self.all_held = kept.beside(tool.radius).into_iter().all(|held| held);
            let (stretches, doubts) = stretches(&cuts, &kept, tabs);
            self.doubts = doubts;
            let way = |(edge, stretches): (&Contour, _)| Way { edge: edge.clone(), stretches };
            self.ways = edges.iter().zip(stretches).map(way).collect();
            if !self.doubts.is_empty() && loose_goes == Loose::ToChips && cleared.contains(&true) {
                // What was cleared took tabs their room.
                loose_goes = Loose::OntoPieces;
                cleared.fill(false);
                extra.clear();
                continue;
            }
            if !self.doubts.is_empty() || !self.mend(edges, (&waste, &room), loose_goes, &mut cleared, &mut extra) {
                break;
            }
        }
        let chips = waste.into_iter().zip(cleared).filter(|(_, c)| *c);
        self.waste = chips.flat_map(|(w, _)| w.room.parts()).filter_map(|part| clear::whole(0, part, tool)).collect();
    }

    /// Looks what hangs together by the tabs. Waste that hangs on nothing and holds no piece is to be cleared or held by a further
    /// tab; where pieces hang on waste that itself hangs on nothing, a further tab is asked for. Whether anything was found to do.
    fn mend(
        &self,
        edges: &[Contour],
        (waste, room): (&[Waste], &RegionIndex),
        loose_goes: Loose,
        cleared: &mut [bool],
        extra: &mut Vec<(usize, usize)>,
    ) -> bool {
        let pieces = &self.groove.pieces;
        let tabs: Vec<(usize, Onto)> = self
            .ways
            .iter()
            .flat_map(|w| &w.stretches)
            .filter_map(|s| middle_of(&s.over))
            .filter_map(|(s, t)| self.joined(&s, t, waste, room))
            .collect();
        let mut piece_safe = vec![false; pieces.len()];
        let mut waste_safe = vec![false; waste.len()];
        self.groove.around.iter().for_each(|&piece| piece_safe[piece] = true);
        loop {
            let before = (piece_safe.clone(), waste_safe.clone());
            for &(piece, w) in &tabs {
                match w {
                    Onto::Rim => piece_safe[piece] |= self.groove.rim.is_some(),
                    Onto::Piece(other) => {
                        piece_safe[piece] |= piece_safe[other];
                        piece_safe[other] |= piece_safe[piece];
                    }
                    Onto::Waste(w) => {
                        piece_safe[piece] |= waste_safe[w];
                        waste_safe[w] |= piece_safe[piece];
                    }
                }
            }
            if before == (piece_safe.clone(), waste_safe.clone()) {
                break;
            }
        }
        let mut found = false;
        let mut out_of_reach = Vec::new();
        for (w, piece_of) in waste.iter().enumerate() {
            if waste_safe[w] || cleared[w] {
                continue;
            }
            let bare = !tabs.iter().any(|t| t.1 == Onto::Waste(w));
            if bare && loose_goes == Loose::ToChips {
                (cleared[w], found) = (true, true);
                continue;
            }
            // Between it and a piece that hangs on something.
            let along =
                edges.iter().flat_map(|e| e.segments().map(|s| (s.at(0.5), s.direction(0.5))).collect::<Vec<_>>());
            let beside = along.filter_map(|(p, d)| {
                let q = p + d?.left() * (self.tool.radius + INTO_WASTE);
                piece_of.piece.contains(q).then(|| self.nearest_piece(p))
            });
            let to = beside.flatten().find(|&p| piece_safe[p] && !extra.contains(&(p, w)));
            if let Some(piece) = to {
                extra.push((piece, w));
                found = true;
            } else if bare {
                out_of_reach.push(w);
            }
        }
        if !found {
            found = !out_of_reach.is_empty();
            out_of_reach.into_iter().for_each(|w| cleared[w] = true);
        }
        found
    }

    fn nearest_piece(&self, p: Point) -> Option<usize> {
        let off = |i: &usize| self.groove.pieces[*i].edges.nearest(p).map_or(f64::INFINITY, |n| n.distance);
        (0..self.groove.pieces.len()).min_by(|a, b| off(a).total_cmp(&off(b)))
    }

    /// The piece that a tab holds, and what on, from the middle of the way over it.
    fn joined(&self, s: &Segment, t: f64, waste: &[Waste], room: &RegionIndex) -> Option<(usize, Onto)> {
        let (p, along) = (s.at(t), s.direction(t)?);
        let piece = self.nearest_piece(p)?;
        // The wall is to the right: what it hangs on lies on the left, no further off than another groove's width.
        let r = self.tool.radius;
        for k in 0..=20 {
            let q = p + along.left() * (r + INTO_WASTE + 0.1 * r * f64::from(k));
            if let Some(w) = waste.iter().position(|w| w.piece.contains(q)) {
                return Some((piece, Onto::Waste(w)));
            }
            if room.signed_distance(q) > -INTO_WASTE {
                return Some((piece, Onto::Piece(self.nearest_piece(q)?)));
            }
        }
        Some((piece, Onto::Rim))
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

/// What becomes of waste that no tab holds.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Loose {
    ToChips,
    /// It gets a tab of its own.
    OntoPieces,
}

/// What a tab hangs a piece on.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Onto {
    /// What lies round all grooves.
    Rim,
    Waste(usize),
    Piece(usize),
}

/// What stays between grooves and comes loose where no tab holds it.
struct Waste {
    piece: Rings,
    /// Where the axis goes to clear it.
    room: Rings,
}

/// The pieces between the grooves of a cutter; the blank's rim, which is clamped, is none.
fn waste(groove: &Groove, radius: f64) -> Vec<Waste> {
    let axis = groove.free.inset(radius);
    let between = axis.inset(radius);
    let deep = between.inset_within(INTO_OTHERS, 0.005);
    let of = |piece: Rings| {
        let rim = groove.rim.is_some_and(|rim| piece.bounds().width() > rim.width() - 4.0 * radius - 1.0);
        (!rim && piece.area() > CRUMB).then(|| {
            // No further round the piece than must be, so that tabs beside it find room; the grooves reach up to it.
            let around = piece.outset_within(ROUND_WASTE, 0.005);
            let others =
                deep.minus(&piece).parts().into_iter().filter(|p| p.bounds().meets(around.bounds().grown(radius)));
            let others = Rings::of_parts(&others.collect::<Vec<_>>()).outset_within(radius, 0.005);
            let room = around.and(&axis).minus(&others);
            Waste { room, piece }
        })
    };
    // What hangs together by a hair alone hangs on nothing.
    let apart = |part: Rings| {
        let cores = part.inset_within(NECK / 2.0, 0.005).parts();
        if cores.len() < 2 { vec![part] } else { cores.iter().map(|c| c.outset_within(NECK / 2.0, 0.005)).collect() }
    };
    between.parts().into_iter().flat_map(apart).filter_map(of).collect()
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

#[cfg(test)]
mod tests {
    use super::*;
    use plane::{Bounds, Region};

    /// A frame with walls of 1 mm, open by so much that the grooves through its mouth leave 0.1 mm between them: what stands inside is
    /// cleared, but none of the ground outside.
    #[test]
    fn waste_behind_a_neck_is_cleared_without_the_ground_before_it() {
        const RADIUS: f64 = 1.5875;
        let half = 2.0 * RADIUS + 0.05;
        let corners = [(-20.0, -20.0), (20.0, -20.0), (20.0, -half), (19.0, -half), (19.0, -19.0), (-19.0, -19.0)];
        let mirrored = corners.iter().rev().map(|&(x, y)| (x, -y));
        let ring = corners.into_iter().chain(mirrored).map(|(x, y)| Point::new(x, y));
        let plate = Rings::of(&Region::solid(Contour::polygon(ring)));
        let rim = Bounds { min: Point::new(-80.0, -80.0), max: Point::new(80.0, 80.0) };
        let groove = Groove {
            name: "frame".to_owned(),
            free: Rings::rectangle(rim).minus(&plate),
            rim: Some(rim),
            outermost: true,
            floor: 0.0,
            held: Held::Nothing,
            line: 1,
            pieces: Vec::new(),
            around: Vec::new(),
        };
        let waste = waste(&groove, RADIUS);
        let [inside] = &waste[..] else { panic!("{} pieces", waste.len()) };
        let cut = inside.room.outset(RADIUS);
        assert!(inside.piece.minus(&cut).area() < 0.01 * inside.piece.area());
        let ground = groove.free.inset(2.0 * RADIUS + INTO_OTHERS + 0.01).minus(&inside.piece);
        assert!(cut.and(&ground).is_empty(), "{} mm²", cut.and(&ground).area());
    }
}
