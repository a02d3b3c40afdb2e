//! Clearing: what a cutter does in a pocket, piece by piece.

use crate::Tool;
use crate::clearing::{Act, clearing, left_over, well_inside};
use crate::pen::{GAP, HOP, Pen, round_from, round_from_longest};
use crate::pocket::Pocket;
use crate::rest::{self, Run};
use crate::rings::Inside;
use plane::{Contour, FIT, Point, Region, RegionIndex, Segment, fit_closed};
use reach::Rings;
use std::sync::Arc;

/// Slivers thinner than twice this are rounding between neighbouring offsets, mm.
const SLIVER: f64 = 0.003;
/// A circle may be out of round by this, mm.
const ROUND: f64 = 0.000_2;
/// Rings shorter than this give no room to ramp down, mm: the axis' way in a hole 1.02 times as wide as a 1/32 in cutter.
const SHORTEST: f64 = 0.049;

/// A piece of work in one pocket that begins with an entry of its own.
#[derive(Clone)]
pub(crate) struct Task {
    pub(crate) pocket: usize,
    pub(crate) at: Point,
    work: Arc<Work>,
}

impl Task {
    /// The same in another pocket: only heights and names differ.
    pub(crate) fn of(&self, pocket: usize) -> Self {
        Self { pocket, ..self.clone() }
    }
}

enum Work {
    /// All of a part, from the middle outward, then its walls.
    Whole(Box<Whole>),
    /// A part so narrow that the way along its walls clears it.
    Narrow(Vec<Contour>),
    /// What a wider cutter left in a spot: what lies off the walls, then runs along them.
    Rest(Box<Rest>),
}

struct Rest {
    acts: Vec<Act>,
    /// Where the axis may go over the floor after the acts.
    cleared: RegionIndex,
    runs: Vec<Run>,
}

struct Whole {
    acts: Vec<Act>,
    walls: Vec<Contour>,
    inside: Inside,
    /// Where the axis may go over the floor before the walls are cut.
    cleared: RegionIndex,
}

/// Does one task.
pub(crate) fn work(pen: &mut Pen<'_>, task: &Task, pocket: &Pocket, heights: &[f64]) {
    match &*task.work {
        Work::Whole(whole) => clear_whole(pen, whole, pocket, heights),
        Work::Narrow(walls) => walls.iter().for_each(|w| spiral(pen, round_from_longest(w), pocket, heights)),
        Work::Rest(rest) => clear_rest(pen, rest, pocket, heights),
    }
}

/// Leaves out parts in which a cutter could hardly turn, where a finer cutter may take them.
pub(crate) fn worth_entering(centre: &Rings, tool: &Tool<'_>, finer: bool) -> Rings {
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
pub(crate) fn whole(pocket: usize, part: Rings, tool: &Tool<'_>) -> Option<Task> {
    let region = part.region();
    let walls: Vec<Contour> = part.points().map(|r| fit_closed(&r, FIT)).collect();
    let at = walls.first()?.vertices.first()?.p;
    let Some(clearing) = clearing(&region, tool) else {
        // A hole hardly wider than the cutter is bored round a true circle: its way is too short for fitted pieces.
        let walls = circle(&region).map_or(walls, |c| vec![c]);
        return Some(Task { pocket, at, work: Arc::new(Work::Narrow(walls)) });
    };
    let cleared = RegionIndex::new(&clearing.cleared);
    let whole = Whole { acts: clearing.acts, walls, inside: Inside::new(&part), cleared };
    Some(Task { pocket, at, work: Arc::new(Work::Whole(Box::new(whole))) })
}

/// The one circle that bounds a region, if it does.
fn circle(region: &Region) -> Option<Contour> {
    let [shape] = &region.shapes[..] else { return None };
    let bounds = shape.outer.bounds();
    let (centre, radius) = (bounds.centre(), bounds.width() / 2.0);
    let round = |p: Point| (p.distance(centre) - radius).abs() <= ROUND;
    let arcs = shape.outer.segments().all(|s| matches!(s, Segment::Arc { .. }) && round(s.start()) && round(s.at(0.5)));
    (arcs && shape.holes.is_empty()).then(|| Contour::circle(centre, radius))
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
        let region = part.region();
        for (spot, runs) in rest::runs(&part, &zone, left, tool) {
            let clearing = left_over(&region, &left.and(&spot).region(), tool);
            let cleared = RegionIndex::new(&clearing.cleared);
            if let Some(at) = runs.first().map(|r| r.segments[0].start()) {
                let rest = Rest { acts: clearing.acts, cleared, runs };
                tasks.push(Task { pocket, at, work: Arc::new(Work::Rest(Box::new(rest))) });
            }
        }
    }
    tasks
}

/// Clears a whole part, height by height.
fn clear_whole(pen: &mut Pen<'_>, whole: &Whole, pocket: &Pocket, heights: &[f64]) {
    let mut above = pocket.top;
    for &z in heights {
        pen.pass(format!("{} at {:.3}", pocket.name, z));
        act(pen, &whole.acts, &whole.cleared, above, z);
        for wall in &whole.walls {
            along_wall(pen, wall, whole, above, z);
        }
        above = z;
    }
}

/// Clears what a wider cutter left in a spot, height by height, then along walls that are closed rings.
fn clear_rest(pen: &mut Pen<'_>, rest: &Rest, pocket: &Pocket, heights: &[f64]) {
    let Rest { acts, cleared, runs } = rest;
    let (closed, open): (Vec<&Run>, Vec<&Run>) = runs.iter().partition(|r| r.closed);
    let mut above = pocket.top;
    if !(acts.is_empty() && open.is_empty()) {
        for &z in heights {
            pen.pass(format!("{} at {:.3}", pocket.name, z));
            act(pen, acts, cleared, above, z);
            for run in &open {
                over_cleared(pen, run.segments[0].start(), cleared, above, z, !run.clear_of_wall);
                pen.follow(&run.segments);
            }
            above = z;
        }
        pen.lift();
    }
    for run in closed {
        spiral(pen, run.segments.clone(), pocket, heights);
    }
}

/// Does acts at height `z`; material stands up to `above` where none was taken. `cleared` is where the axis can go over the
/// floor when all is done: so it can already at `above`, where that was a pass.
fn act(pen: &mut Pen<'_>, acts: &[Act], cleared: &RegionIndex, above: f64, z: f64) {
    for act in acts {
        match act {
            Act::Helix { centre, radius } => pen.helix(*centre, *radius, above, z),
            Act::Jump(to) => over(pen, *to, cleared, above, z, true),
            Act::Link(way) => pen.follow(&[*way]),
            Act::Cut(segments) => pen.follow(segments),
            Act::Wade(round) => {
                if let Some(first) = round.first() {
                    pen.come_down(first.start(), above + GAP, true);
                    let round = pen.ramp(round, above + 0.1, z);
                    pen.follow_round(&round, z);
                }
            }
        }
    }
}

/// To a place that is cleared, and down to `z`: over the floor of the pass above where that is free, else above everything.
fn over(pen: &mut Pen<'_>, to: Point, cleared: &RegionIndex, above: f64, z: f64, beside_wall: bool) {
    let here = pen.point();
    let free = |p: Point| over_floor(cleared, p, to, pen.tool.radius);
    if pen.has_been_down(above) && here.is_some_and(free) {
        pen.height(above + HOP);
        pen.line(to);
    } else {
        let beside = well_inside(cleared, to, pen.tool.radius, |_| true);
        pen.come_down(beside, above + GAP, beside_wall);
        pen.height(z);
        pen.line(to);
        return;
    }
    pen.height(z);
}

/// [`over`] once all is cleared at `z` too: straight over this floor where that is free.
fn over_cleared(pen: &mut Pen<'_>, to: Point, cleared: &RegionIndex, above: f64, z: f64, beside_wall: bool) {
    let free = |p: Point| over_floor(cleared, p, to, pen.tool.radius);
    if pen.is_at(z) && pen.point().is_some_and(free) {
        pen.line(to);
    } else {
        over(pen, to, cleared, above, z, beside_wall);
    }
}

/// Whether a straight way stays where the floor is cleared.
fn over_floor(cleared: &RegionIndex, a: Point, b: Point, radius: f64) -> bool {
    let parts = (a.distance(b) / (0.2 * radius)).ceil().max(1.0) as usize;
    (0..=parts).all(|k| cleared.signed_distance(a.lerp(b, k as f64 / parts as f64)) <= 0.02 * radius)
}

/// How many of a wall's longest pieces are tried as places to come onto it.
const PLACES: usize = 24;

/// Once along a wall, onto it and off it by quarter arcs from where the floor is cleared, else down a ramp along it.
fn along_wall(pen: &mut Pen<'_>, wall: &Contour, whole: &Whole, above: f64, z: f64) {
    let radius = pen.tool.radius;
    let free = |p: Point| whole.cleared.signed_distance(p) <= 0.02 * radius;
    let lengths = wall.segments().map(|s| s.length()).filter(|&l| l > 0.0);
    let mut places: Vec<(usize, f64)> = lengths.enumerate().collect();
    places.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    places.truncate(PLACES);
    let shares = [1.04 * pen.tool.stepover / radius, LEADS[0], LEADS[1]];
    let onto = shares.into_iter().find_map(|share| {
        places.iter().find_map(|&(i, _)| {
            let round = round_from(wall, i, 0.5);
            let lead = Lead::of(&round, &whole.inside, radius * share)?;
            free(lead.from).then_some((round, lead))
        })
    });
    let Some((round, lead)) = onto else {
        let round = round_from_longest(wall);
        let Some(first) = round.first() else { return };
        pen.come_down(first.start(), above + GAP, true);
        let round = pen.ramp(&round, above + 0.1, z);
        pen.follow_round(&round, z);
        return;
    };
    over_cleared(pen, lead.from, &whole.cleared, above, z, true);
    pen.follow(&[lead.on]);
    pen.follow(&round);
    pen.follow(&[lead.off]);
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
    /// For a run whose start lies on the wall's ring with the room to its left; `None` where arcs of this radius, mm,
    /// don't fit.
    fn of(round: &[Segment], inside: &Inside, radius: f64) -> Option<Self> {
        let first = round.first()?;
        let lead = Self::at(first.start(), first.direction(0.0)?, radius);
        (stays_off(&lead.on, inside, true) && stays_off(&lead.off, inside, false)).then_some(lead)
    }

    /// Onto and off a wall at one point, along a direction, with arcs of this radius.
    pub(crate) fn at(wall: Point, along: Point, radius: f64) -> Self {
        let bulge = libm::tan(std::f64::consts::FRAC_PI_8);
        let centre = wall + along.left() * radius;
        let (from, to) = (centre - along * radius, centre + along * radius);
        Self { from, on: Segment::with_bulge(from, wall, bulge), off: Segment::with_bulge(wall, to, bulge) }
    }
}
