//! Nested pockets: each connected region with one floor, starting at the floor above it.

use crate::levels::in_bond;
use crate::{Tool, cleared, grow};
use memo::{Key, Memo};
use plane::{Point, Region, Shape};
use plate::{Intent, Narrow};
use reach::Rings;
use std::sync::Arc;

/// Areas that share an edge were fitted apart: a crack between them is no wider than this, mm.
const SEAM: f64 = 0.001_6;
/// Parts and holes of less than this are what is left of such cracks, mm²; a drawn feature would be under 5 µm.
const SPECK: f64 = 2e-5;
/// Parts narrower than this are what fitting leaves between edges that touch, mm: within the accuracy of the intent's edges.
const SLIVER: f64 = 0.002;

/// A connected region to be cleared between two heights.
#[derive(Debug, Clone)]
pub(crate) struct Pocket {
    /// The areas with this floor in it.
    pub(crate) name: String,
    /// Where; its edge is wall, or the wall of something deeper still.
    pub(crate) region: Rings,
    /// Height that is already cut when this pocket begins: the floor above, or the thickest blank's face. mm.
    pub(crate) top: f64,
    /// Its floor, mm.
    pub(crate) bottom: f64,
    /// Whether all that is wanted here leaves narrow strokes uncut.
    pub(crate) left: bool,
    /// The pocket that it lies in.
    pub(crate) parent: Option<usize>,
    /// Whether the finest cutter that reaches it does all of its walls and its floor.
    pub(crate) seamless: bool,
    /// The highest face that may stand beside it, mm.
    face: f64,
    /// The regions round it with their floors, nearest first.
    around: Vec<(Rings, f64)>,
}

impl Pocket {
    /// A pocket with heights only, for work that knows its own place.
    pub(crate) fn bare(name: String, top: f64, bottom: f64) -> Self {
        let region = Rings::default();
        Self { name, region, top, bottom, left: false, parent: None, seamless: false, face: top, around: Vec::new() }
    }

    /// What is left of it above its floor once it is cut down to `top`, mm.
    pub(crate) fn below(&self, top: f64) -> Self {
        Self { top, ..self.clone() }
    }

    /// Height of the highest wall, mm.
    pub(crate) fn wall(&self) -> f64 {
        self.face - self.bottom
    }

    /// Whether a tool's flutes reach the floor; what stands within reach of its shank is only looked for where it matters.
    pub(crate) fn reached_by(&self, tool: &Tool<'_>) -> bool {
        tool.reaches(self.wall()) || tool.reaches(self.wall_for(tool))
    }

    /// Height, above this floor, of what stands within reach of a tool's shank, mm.
    fn wall_for(&self, tool: &Tool<'_>) -> f64 {
        let shank = tool.cutter.shank.to_mm() / 2.0;
        // Corners left by hand stand at most this far into a pocket that lies round this one.
        let corner = tool.radius;
        let beside = self.region.outset_within((shank - tool.radius).max(0.0) + corner, 0.01);
        let holds_all = |region: &Rings| beside.minus(region).area() <= 1e-6;
        let nearest = self.around.iter().rev().find(|(region, _)| holds_all(region));
        nearest.map_or(self.face, |(_, floor)| *floor) - self.bottom
    }

    /// The point furthest from the edge and the width there, mm.
    pub(crate) fn widest(&self) -> (Point, f64) {
        widest(&self.region)
    }
}

/// The point of a region furthest from its edge and the width there, mm.
pub(crate) fn widest(region: &Rings) -> (Point, f64) {
    grow::widest(&region.region()).map_or((region.bounds().centre(), 0.0), |(p, room)| (p, 2.0 * room))
}

/// The pockets of a plate, a parent always before its children.
pub(crate) fn pockets(intent: &Intent, memo: &Memo) -> Vec<Pocket> {
    let face = intent.blank.face_high.to_mm();
    let mut floors: Vec<f64> = intent.areas.iter().filter(|a| cleared(a)).map(|a| a.floor.to_mm()).collect();
    floors.sort_by(|a, b| b.total_cmp(a));
    floors.dedup();
    let areas: Vec<Rings> = intent.areas.iter().map(|a| Rings::of(&a.region)).collect();
    let joining: Vec<Arc<Joining>> =
        areas.iter().map(|a| memo.recall(|| Key::named("joining").with(a), || Joining::new(a))).collect();
    let insides: Vec<Vec<Point>> = intent.areas.iter().map(|a| insides_of(&a.region)).collect();
    let mut pockets: Vec<Pocket> = Vec::new();
    for floor in floors {
        let at_or_below: Vec<&Joining> =
            intent.areas.iter().zip(&joining).filter(|(a, _)| a.floor.to_mm() <= floor).map(|(_, j)| &**j).collect();
        let of = || at_or_below.iter().fold(Key::named("parts"), |key, j| key.with(&j.area));
        let parts = memo.recall(of, || parts(&at_or_below));
        for region in parts.iter().cloned() {
            let here = |i: &usize| {
                let area = &intent.areas[*i];
                cleared(area) && area.floor.to_mm() == floor && holds_any(&region, &insides[*i])
            };
            let wanted: Vec<&plate::Area> = (0..areas.len()).filter(here).map(|i| &intent.areas[i]).collect();
            let named: Vec<&str> = wanted.iter().map(|a| a.name.as_str()).collect();
            if named.is_empty() {
                continue;
            }
            let holds = |p: &Pocket| p.region.bounds().grown(0.01).contains(region.bounds().centre());
            // All that lies deeper is part of what lies round it.
            let within = insides_of(&region.region());
            let around_it = |p: &Pocket| match within.first() {
                Some(&at) => p.region.contains(at),
                None => region.minus(&p.region).area() < 1e-4 * region.area().min(1.0),
            };
            let parent = pockets.iter().rposition(|p| holds(p) && around_it(p));
            let around = parent.map_or_else(Vec::new, |i| {
                let mut around = pockets[i].around.clone();
                around.push((pockets[i].region.clone(), pockets[i].bottom));
                around
            });
            let asked = wanted.iter().any(|a| a.seamless);
            // What a wider cutter leaves on the wall of the pocket round it would stand in the way of one that cuts to the
            // edge of this one.
            let beside = |i: usize| pockets[i].seamless && meets_edge(&region, &pockets[i].region);
            let left = parent.map_or(0.0, |i| if pockets[i].seamless { allowance(intent, &pockets[i]) } else { 0.0 });
            pockets.push(Pocket {
                name: joined(&named),
                top: parent.map_or(face, |i| pockets[i].bottom) + left,
                bottom: floor,
                left: wanted.iter().all(|a| a.strokes.narrow == Narrow::Left),
                parent,
                seamless: asked || parent.is_some_and(beside),
                face,
                around,
                region,
            });
        }
    }
    pockets
}

/// What wider cutters leave on the walls of a seamless pocket for the finest one, mm: more than two cutters' widths may differ
/// from what was measured, and a chip that doesn't rub (common practice, no source).
pub(crate) const ON_WALLS: f64 = 0.15;
/// The same on its floor, mm: more than the touch-offs of two cutters may differ (common practice, no source); the first one taken
/// that doesn't end a pass in a bond line.
const ON_FLOOR: [f64; 4] = [0.1, 0.15, 0.2, 0.05];

/// What wider cutters leave on the floor of a seamless pocket for the finest one, mm; no more than a quarter of its depth.
pub(crate) fn allowance(intent: &Intent, pocket: &Pocket) -> f64 {
    let most = 0.25 * (pocket.top - pocket.bottom);
    let mut tried = ON_FLOOR.into_iter().map(|a| a.min(most));
    tried.find(|a| !in_bond(&intent.blank, pocket.bottom + a)).unwrap_or(ON_FLOOR[0].min(most))
}

/// Whether a region comes nearer to another one's edge than twice what is left on walls.
fn meets_edge(inner: &Rings, outer: &Rings) -> bool {
    inner.minus(&outer.inset(2.0 * ON_WALLS)).area() > 1e-6
}

/// Whether a region holds any of these points.
pub(crate) fn holds_any(region: &Rings, points: &[Point]) -> bool {
    let bounds = region.bounds();
    points.iter().any(|&p| bounds.contains(p) && region.contains(p))
}

/// A point inside each shape of an area. A shape lies in one pocket, since all of it is as deep.
pub(crate) fn insides_of(region: &Region) -> Vec<Point> {
    let inside = |shape: &Shape| {
        shape.outer.segments().find_map(|s| {
            let (middle, along) = (s.at(0.5), s.direction(0.5)?);
            [0.01, 1e-4].into_iter().map(|in_by| middle + along.left() * in_by).find(|&p| shape.contains(p))
        })
    };
    region.shapes.iter().filter_map(inside).collect()
}

/// An area and what lies within a seam's width of it.
struct Joining {
    area: Rings,
    near: Rings,
}

impl Joining {
    fn new(area: &Rings) -> Self {
        Self { area: area.clone(), near: area.outset_within(SEAM, SEAM / 8.0) }
    }
}

/// The parts of areas put together, of lines and arcs.
fn parts(areas: &[&Joining]) -> Vec<Rings> {
    joined_areas(areas).parts().into_iter().map(|part| Rings::of(&part.region())).collect()
}

/// Areas as one region. What lies near two of them is a seam and belongs to it; no other edge is moved, so that the tips of
/// walls stay sharp.
fn joined_areas(areas: &[&Joining]) -> Rings {
    if let [only] = areas {
        return only.area.clone().without_specks(SPECK).without_slivers(SLIVER);
    }
    let (mut all, mut near) = (Rings::default(), Rings::default());
    for joining in areas {
        let seams = near.and(&joining.near);
        all = all.union(&joining.area).union(&seams);
        near = near.union(&joining.near);
    }
    all.without_specks(SPECK).without_slivers(SLIVER)
}

/// Names without repeats, at most three of them.
fn joined(names: &[&str]) -> String {
    let mut unique: Vec<&str> = Vec::new();
    for name in names {
        if !unique.contains(name) {
            unique.push(name);
        }
    }
    match unique.len() {
        0..=3 => unique.join(", "),
        n => format!("{}, {} and {} more", unique[0], unique[1], n - 2),
    }
}
