//! Clearing: one stage that takes from every pocket what its cutter can reach and no wider one has taken.

use crate::levels::levels;
use crate::pen::{GAP, Pen, round_from_longest, round_from_nearest};
use crate::pocket::Pocket;
use crate::rest::{self, Run};
use crate::rings::{Inside, Ring};
use crate::survey::{Reached, covered};
use crate::{Tool, tour, traverse};
use motion::Stage;
use plane::{Point, Segment};
use plate::{Intent, Shop};
use quantity::Height;
use rayon::prelude::*;
use reach::Rings;

/// Slivers thinner than twice this are rounding between neighbouring offsets, mm.
const SLIVER: f64 = 0.003;
/// Rings shorter than this give no room to ramp down, mm.
const SHORTEST: f64 = 0.05;

/// A piece of work in one pocket that begins with an entry of its own.
pub(crate) struct Task {
    pub(crate) pocket: usize,
    pub(crate) at: Point,
    work: Work,
}

enum Work {
    /// All of a part, from the middle outward.
    Whole(Ring),
    /// What a wider cutter left.
    Rest(Vec<Run>),
}

/// The stage of a tool over all pockets; `None` if there is nothing for it to do. `done` holds what is cleared in each.
#[expect(clippy::too_many_arguments, reason = "one call, each a different thing")]
pub(crate) fn stage<'s>(
    shop: &Shop,
    intent: &Intent,
    tool: &Tool<'_>,
    pockets: &[Pocket],
    done: &mut [Rings],
    reach: impl Fn(usize) -> Option<&'s Reached> + Sync,
    finer: &(dyn Fn(usize) -> bool + Sync),
    number: usize,
) -> Option<Stage> {
    let work_in = |(i, done): (usize, &mut Rings)| -> (Vec<Task>, bool) {
        let Some(reached) = reach(i) else { return (Vec::new(), true) };
        let centre = worth_entering(&reached.centre, tool, finer(i));
        let all = centre.length() == reached.centre.length();
        let covered = if all { reached.covered.clone() } else { covered(&centre, tool.radius) };
        if done.is_empty() {
            let tasks = centre.parts().into_iter().filter_map(|part| whole(i, part, tool)).collect();
            let first = !covered.is_empty();
            *done = covered;
            return (tasks, !first);
        }
        let left = thick(&covered.minus(done));
        if left.is_empty() {
            return (Vec::new(), true);
        }
        *done = done.union(&covered);
        (rest_tasks(i, &centre, &left, tool), true)
    };
    let found: Vec<(Vec<Task>, bool)> = done.par_iter_mut().enumerate().map(work_in).collect();
    let after_wider = found.iter().all(|f| f.1);
    let tasks: Vec<Task> = found.into_iter().flat_map(|f| f.0).collect();
    if tasks.is_empty() {
        return None;
    }
    let (rise, face) = (traverse(shop, intent).to_mm(), intent.blank.face_high.to_mm());
    let mut pen = Pen::new(tool, rise, face);
    for task in tour::order(tasks, pockets) {
        let pocket = &pockets[task.pocket];
        let heights = levels(&intent.blank, pocket.top, pocket.bottom, tool.run.pass_depth.to_mm());
        work(&mut pen, &task, pocket, &heights);
    }
    let (word, purpose) = match (number, after_wider) {
        (1, _) => ("clear", "clears the areas"),
        (_, true) => ("corners", "clears the corners and strokes that wider cutters left"),
        (_, false) => ("finer", "clears what is too narrow for wider cutters, and their corners"),
    };
    Some(Stage {
        name: format!("{number}-{word}"),
        purpose: purpose.into(),
        cutter: tool.cutter.number,
        speed: tool.run.speed,
        dial: tool.run.dial.clone(),
        cutting: true,
        feed: tool.run.feed,
        pass_depth: tool.run.pass_depth.to_mm(),
        traverse: Height::mm(rise),
        moves: pen.finish(),
    })
}

/// Does one task.
pub(crate) fn work(pen: &mut Pen<'_>, task: &Task, pocket: &Pocket, heights: &[f64]) {
    match &task.work {
        Work::Whole(ring) => clear_whole(pen, ring, pocket, heights),
        Work::Rest(runs) => rest::clear(pen, runs, pocket, heights),
    }
}

/// Leaves out parts in which a cutter could hardly turn, where a finer cutter may take them.
fn worth_entering(centre: &Rings, tool: &Tool<'_>, finer: bool) -> Rings {
    let room = if finer { 0.7 * tool.radius } else { 0.0 };
    let worth = |part: &Rings| {
        let b = part.bounds();
        b.width().max(b.height()) > room && part.length() > SHORTEST
    };
    let parts = centre.parts();
    if parts.iter().all(worth) { centre.clone() } else { Rings::of_parts(parts.iter().filter(|p| worth(p))) }
}

/// What is thicker than a sliver.
pub(crate) fn thick(rings: &Rings) -> Rings {
    rings.inset_within(SLIVER, SLIVER / 4.0).outset_within(SLIVER, SLIVER / 4.0)
}

/// The work that clears a whole part.
fn whole(pocket: usize, part: Rings, tool: &Tool<'_>) -> Option<Task> {
    // Where no point lies further than a radius from the wall's ring, that ring alone covers everything.
    let ring = if part.inset_within(tool.radius, 0.01).is_empty() {
        Ring::alone(part)
    } else {
        Ring::tree(part, tool.stepover)
    };
    let at = ring.contours.first()?.vertices.first()?.p;
    Some(Task { pocket, at, work: Work::Whole(ring) })
}

/// The work that takes what is left in a pocket, one task for each spot.
pub(crate) fn rest_tasks(pocket: usize, reach: &Rings, left: &Rings, tool: &Tool<'_>) -> Vec<Task> {
    let zone = left.outset_within(tool.radius + rest::SLACK, 0.005);
    let mut tasks = Vec::new();
    for part in reach.parts() {
        let outside = part.minus(&zone).area();
        if outside < 0.1 * part.area() {
            tasks.extend(whole(pocket, part, tool));
            continue;
        }
        for runs in rest::runs(&part, &zone, left, tool) {
            if let Some(at) = runs.first().map(|r| r.segments[0].start()) {
                tasks.push(Task { pocket, at, work: Work::Rest(runs) });
            }
        }
    }
    tasks
}

/// Clears a whole part, height by height.
fn clear_whole(pen: &mut Pen<'_>, ring: &Ring, pocket: &Pocket, heights: &[f64]) {
    if ring.inner.is_empty() {
        for contour in &ring.contours {
            spiral(pen, round_from_longest(contour), pocket, heights);
        }
        return;
    }
    let inside = Inside::new(&ring.part);
    let mut above = pocket.top;
    for &z in heights {
        pen.pass(format!("{} at {:.3}", pocket.name, z));
        cut_ring(pen, ring, &inside, above, z, true);
        above = z;
    }
}

/// Down a closed run in one go: a ramp along it and a level round at each height.
pub(crate) fn spiral(pen: &mut Pen<'_>, round: Vec<Segment>, pocket: &Pocket, heights: &[f64]) {
    let length: f64 = round.iter().map(Segment::length).sum();
    let Some(first) = round.first() else { return };
    if length < SHORTEST {
        return;
    }
    pen.come_down(first.start(), pocket.top + GAP, true);
    let (mut round, mut from) = (round, pocket.top + 0.1);
    for &z in heights {
        pen.pass(format!("{} at {:.3}", pocket.name, z));
        round = pen.ramp(&round, from, z);
        pen.follow_round(&round, z);
        from = z;
    }
    pen.lift();
}

/// Cuts what lies inside a ring, then the ring itself, at height `z`; material stands up to `above`. `fresh` if the
/// cutter is not yet down at this height.
fn cut_ring(pen: &mut Pen<'_>, ring: &Ring, inside: &Inside, above: f64, z: f64, fresh: bool) {
    let mut down = !fresh;
    let mut waiting: Vec<&Ring> = ring.inner.iter().collect();
    while !waiting.is_empty() {
        let here = pen.point();
        let near = |r: &&Ring| here.map_or(0.0, |p| r.contours[0].vertices[0].p.distance(p));
        let next = (0..waiting.len()).min_by(|&a, &b| near(&waiting[a]).total_cmp(&near(&waiting[b]))).unwrap_or(0);
        // Each inner part has an entry of its own; the last one leads outward to this ring.
        cut_ring(pen, waiting.remove(next), inside, above, z, true);
        down = true;
    }
    if !down {
        let p = ring.contours[0].vertices[0].p;
        let room = inside.distance(p) * 0.98;
        pen.helix(p, room.min(0.9 * pen.tool.radius), above, z);
    }
    for contour in &ring.contours {
        if ring.steps > 0 {
            let round = pen.point().map_or_else(|| round_from_longest(contour), |p| round_from_nearest(contour, p));
            approach(pen, &round, inside, above, z);
            continue;
        }
        let round = round_from_longest(contour);
        let lead = Lead::new(&round, inside, pen.tool.radius);
        match lead.filter(|l| pen.point().is_some_and(|p| inside.way(p, l.from))) {
            Some(lead) => {
                pen.line(lead.from);
                pen.follow(&[lead.on]);
                pen.follow(&round);
                pen.follow(&[lead.off]);
            }
            None => approach(pen, &round, inside, above, z),
        }
    }
}

/// To a closed run over the floor if the way is free, else from above by a ramp along it; then once round.
fn approach(pen: &mut Pen<'_>, round: &[Segment], inside: &Inside, above: f64, z: f64) {
    let Some(first) = round.first() else { return };
    let start = first.start();
    let way = pen.point().filter(|&p| p.distance(start) < 12.0 * pen.tool.radius && inside.way(p, start));
    if way.is_some() {
        pen.line(start);
        pen.follow(round);
    } else {
        pen.come_down(start, above + GAP, true);
        let round = pen.ramp(round, above + 0.1, z);
        pen.follow_round(&round, z);
    }
}

/// Radii of leads that are tried, as shares of the cutter's.
pub(crate) const LEADS: [f64; 3] = [0.5, 0.25, 0.12];

/// Whether a lead stays off the wall's ring but for its one end: where the ring bends more sharply than the lead, the
/// lead would leave it on the wrong side.
pub(crate) fn stays_off(lead: &Segment, inside: &Inside, coming: bool) -> bool {
    let at = |along: f64| lead.at(if coming { 1.0 - along } else { along });
    let reach = lead.start().distance(lead.end());
    [0.03, 0.06, 0.1, 0.15, 0.25, 0.4, 0.6, 0.8].into_iter().all(|t| inside.holds(at(t), 0.0))
        && inside.holds(at(1.0), 0.15 * reach)
}

/// Quarter arcs onto and off a wall, tangent to it.
pub(crate) struct Lead {
    /// Where the arc begins.
    pub(crate) from: Point,
    pub(crate) on: Segment,
    pub(crate) off: Segment,
}

impl Lead {
    /// For a run whose start lies on the wall's ring with the room to its left.
    pub(crate) fn new(round: &[Segment], inside: &Inside, radius: f64) -> Option<Self> {
        let first = round.first()?;
        let along = first.direction(0.0)?;
        LEADS.into_iter().find_map(|share| {
            let lead = Self::at(first.start(), along, radius * share);
            let free = stays_off(&lead.on, inside, true) && stays_off(&lead.off, inside, false);
            free.then_some(lead)
        })
    }

    /// Onto and off a wall at one point, along a direction, with arcs of this radius.
    pub(crate) fn at(wall: Point, along: Point, radius: f64) -> Self {
        let bulge = libm::tan(std::f64::consts::FRAC_PI_8);
        let centre = wall + along.left() * radius;
        let (from, to) = (centre - along * radius, centre + along * radius);
        Self { from, on: Segment::with_bulge(from, wall, bulge), off: Segment::with_bulge(wall, to, bulge) }
    }
}
