//! The way that clears one connected part: down a helix at the widest place, outward by [`grow`](crate::grow), and every
//! way between two paths on the floor where it is free, else above everything.

use crate::Tool;
use crate::grow::{self, Bite, Growth, Piece};
use plane::{Contour, Point, Region, RegionIndex, Segment, Shape, arcs};
use std::cell::OnceCell;

/// What a cutter does next, all at one height.
#[derive(Debug, Clone)]
pub(crate) enum Act {
    /// Down a helix and once round level.
    Helix {
        /// On the blank.
        centre: Point,
        /// Of the axis' path, mm.
        radius: f64,
    },
    /// Up, over to here, and down where it is already cleared.
    Jump(Point),
    /// On the floor over what is cleared.
    Link(Segment),
    /// Through material.
    Cut(Vec<Segment>),
    /// From above down a ramp along a closed run, then once round it.
    Wade(Vec<Segment>),
}

/// The acts that clear a part but for its walls.
#[derive(Debug, Clone)]
pub(crate) struct Clearing {
    pub(crate) acts: Vec<Act>,
    /// Where the cutter's axis can go over the floor afterwards.
    pub(crate) cleared: Region,
}

/// Levels are this share of the stepover apart, so that rounding leaves nothing between two of them.
const LEVEL: f64 = 0.995;
/// How far round what is left the floor is looked at, radii: room for a bulge beside it.
const ROOM: f64 = 3.5;
/// Gap to what is left where the axis is taken to be free, mm.
const CLEAR_BY: f64 = 0.005;
/// How far inside of the edge of what is cleared the cutter comes down, radii.
const BESIDE_EDGE: f64 = 0.12;
/// How far ahead of the nearest place a ring is come onto, steps: the flattest way that is free is taken.
const AHEAD: [f64; 4] = [4.0, 3.0, 2.2, 1.5];
/// The end of a sweep that stays nearer than this to what is cleared is left out, steps.
const TAIL: f64 = 0.35;
/// How far corners may lag behind, steps.
const LAG: f64 = 0.6;
/// The last way round may take this many steps in places.
const SPARE: f64 = 1.12;
/// Places smaller than this are nothing to the last way round, square radii.
const SMALL: f64 = 0.01;
/// How corners and passages are cleared before the last way round, coarse to fine, all in radii: what stays on the walls,
/// the least radius of a bulge, and how far across a place may be (wider ones are passages, which the way round cuts). What
/// the first leaves in the middle of a passage, the way round reaches from both walls.
const CORNERS: [(f64, f64, f64); 2] = [(0.995 - grow::ROUND, f64::INFINITY, f64::INFINITY), (0.12, 0.25, 3.0)];
/// Greatest radius of an entry's helix, radii.
const HELIX: f64 = 0.9;
/// How far inside of what is cleared the cutter comes down beside a path, steps.
const BESIDE: f64 = 1.1;

/// Clears a part of where the axis may go up to a step from its edge; `None` if it is too narrow everywhere to turn in.
pub(crate) fn clearing(part: &Region, tool: &Tool<'_>) -> Option<Clearing> {
    let bite = Bite::new(tool.radius, tool.stepover);
    let deep = reach::insets(part, bite.step + bite.round, LEVEL * bite.step, 100_000);
    let levels: Vec<Region> = deep.iter().map(|o| reach::outset(&o.region, bite.round).region).collect();
    let mut hand = Hand { bite, acts: Vec::new(), here: None, given: None };
    // What is cleared of each shape, by level and shape.
    let mut ends: Vec<Vec<Region>> = levels.iter().map(|l| vec![Region::default(); l.shapes.len()]).collect();
    for (level, at) in in_order(&levels) {
        let target = &levels[level].shapes[at];
        let inner = levels.get(level + 1).map_or_else(Region::default, |next| {
            let within = (0..next.shapes.len()).filter(|&i| lies_in(&next.shapes[i], target));
            Region { shapes: within.flat_map(|i| ends[level + 1][i].shapes.iter().cloned()).collect() }
        });
        // Corners may lag behind until a whole step is worth it; not where the next way is the wall's.
        let enough = if level > 0 { LAG * bite.step } else { 0.0 };
        ends[level][at] = hand.clear(target, inner, enough);
    }
    let first = Region { shapes: ends.into_iter().next().into_iter().flatten().flat_map(|r| r.shapes).collect() };
    let cleared = hand.narrower(part, first);
    (!cleared.is_empty()).then_some(Clearing { acts: hand.acts, cleared })
}

/// Clears what is left in a part where the axis may go, up to a step from its edge, from where nothing stands.
pub(crate) fn left_over(part: &Region, left: &Region, tool: &Tool<'_>) -> Clearing {
    let bite = Bite::new(tool.radius, tool.stepover);
    let around = arcs::intersection(part, &reach::outset(left, ROOM * tool.radius).region);
    let touching = reach::outset(left, tool.radius + CLEAR_BY).region;
    let first = reach::opening(&arcs::difference(&around, &touching), 0.1 * tool.radius).region;
    let mut hand = Hand { bite, acts: Vec::new(), here: None, given: Some(RegionIndex::new(&first)) };
    let cleared = hand.narrower(&around, first);
    Clearing { acts: hand.acts, cleared }
}

/// Every shape of every level, the ones inside a shape before it.
pub(crate) fn in_order(levels: &[Region]) -> Vec<(usize, usize)> {
    let mut ordered = Vec::new();
    let mut waiting: Vec<(usize, usize)> =
        levels.first().map_or_else(Vec::new, |l| (0..l.shapes.len()).rev().map(|i| (0, i)).collect());
    // Outer before inner from the last to the first, then turned round.
    while let Some((level, at)) = waiting.pop() {
        ordered.push((level, at));
        if let Some(next) = levels.get(level + 1) {
            let shape = &levels[level].shapes[at];
            waiting.extend((0..next.shapes.len()).filter(|&i| lies_in(&next.shapes[i], shape)).map(|i| (level + 1, i)));
        }
    }
    ordered.reverse();
    ordered
}

fn lies_in(inner: &Shape, outer: &Shape) -> bool {
    inner.outer.vertices.first().is_some_and(|v| outer.contains(v.p))
}

/// Puts acts one after another and knows where the axis is.
struct Hand {
    bite: Bite,
    acts: Vec<Act>,
    here: Option<Point>,
    /// Where the axis can go before the first act.
    given: Option<RegionIndex>,
}

/// What is told to be cleared must be so by this much for the cutter to come down there, mm.
const SURELY: f64 = 0.01;
/// Places round the cutter's rim that are looked at.
const RIM: u32 = 64;

impl Hand {
    /// Clears a shape in which this is cleared already; nothing: from a helix. Gives what is cleared of it then.
    fn clear(&mut self, target: &Shape, inner: Region, enough: f64) -> Region {
        let region = Region { shapes: vec![target.clone()] };
        let ring = !inner.is_empty();
        let Some(start) = (if ring { Some(inner) } else { self.enter(&region) }) else { return Region::default() };
        let growth = Growth::of(&region, start, &self.bite, ring, enough);
        self.follow(&growth);
        growth.end().clone()
    }

    /// A helix at the widest place of a region.
    fn enter(&mut self, region: &Region) -> Option<Region> {
        let (centre, room) = grow::widest(region)?;
        let radius = room.min(HELIX * self.bite.radius);
        if radius < 0.5 * self.bite.round {
            return None;
        }
        let circle = Contour::circle(centre, radius);
        self.here = circle.segments().next().map(|s| s.start());
        self.acts.push(Act::Helix { centre, radius });
        Some(Region::solid(circle))
    }

    /// Clears what lies too far from the first level for the last way round: passages and corners, then the tips of sharp
    /// ones. Gives all that is cleared.
    fn narrower(&mut self, part: &Region, first: Region) -> Region {
        let mut cleared = first;
        for (left, round, widest) in CORNERS {
            let round = self.bite.round.min(round * self.bite.radius);
            let bite = Bite { round, ..self.bite };
            let mut far = arcs::difference(part, &reach::outset(&cleared, SPARE * bite.step).region);
            let across = |s: &Shape| libm::hypot(s.outer.bounds().width(), s.outer.bounds().height());
            far.shapes.retain(|s| s.area() > SMALL * bite.radius.powi(2) && across(s) < widest * bite.radius);
            if far.is_empty() {
                continue;
            }
            let near = reach::inset(part, left * bite.radius).region;
            let open = reach::opening(&near, round).region;
            let zone = arcs::intersection(&open, &reach::outset(&far, 1.3 * bite.step).region);
            let target = arcs::union([&cleared, &zone]);
            let mut now = Region::default();
            for shape in &target.shapes {
                let region = Region { shapes: vec![shape.clone()] };
                let inner = arcs::intersection(&region, &cleared);
                let Some(start) = (if inner.is_empty() { self.enter(&region) } else { Some(inner) }) else { continue };
                let growth = Growth::of(&region, start, &bite, false, 0.0);
                self.follow(&growth);
                now.shapes.extend(growth.end().shapes.iter().cloned());
            }
            cleared = now;
        }
        cleared
    }

    /// Cuts all pieces of a growth. Sweeps of corners beside a ring are taken on the way round it.
    fn follow(&mut self, growth: &Growth) {
        let before = grow::before(&growth.pieces, 2.0 * self.bite.radius);
        let order = grow::order(&growth.pieces, &before, self.here.unwrap_or_default());
        let mut free = Free::new(growth, self.bite);
        // The other rings come first: what lies between two of them comes after both.
        let more_rings = |rest: &[usize]| rest.iter().any(|&j| growth.pieces[j].closed && growth.pieces[j].step == 0);
        let mut after = Vec::new();
        let mut ring: Vec<Segment> = Vec::new();
        for (k, &i) in order.iter().enumerate() {
            let piece = &growth.pieces[i];
            if piece.closed {
                self.cut(std::mem::take(&mut ring));
                ring = self.onto_ring(piece, &free);
                free.cut[i] = true;
            } else if before[i].iter().any(|&j| !free.cut[j]) {
                after.push(i);
            } else if !ring.is_empty() && taken_in(&mut ring, piece, &free) {
                free.cut[i] = true;
            } else if !ring.is_empty() && more_rings(&order[k..]) {
                after.push(i);
            } else {
                self.cut(std::mem::take(&mut ring));
                self.piece(i, &mut free);
            }
        }
        self.cut(ring);
        for i in after {
            self.piece(i, &mut free);
        }
    }

    fn piece(&mut self, i: usize, free: &mut Free<'_>) {
        self.onto(&free.growth.pieces[i], free);
        free.cut[i] = true;
    }

    fn cut(&mut self, segments: Vec<Segment>) {
        if let Some(last) = segments.last() {
            self.here = Some(last.end());
            self.acts.push(Act::Cut(segments));
        }
    }

    /// To one end of a piece that begins and ends at the edge of what is cleared, and along it: sweeps go to and fro, so
    /// that no way back is needed. Walls are cut in one direction afterwards.
    fn onto(&mut self, piece: &Piece, free: &Free<'_>) {
        let here = self.here.unwrap_or_else(|| piece.start());
        let back = || piece.segments.iter().rev().map(Segment::reversed).collect();
        let mut ways: [Vec<Segment>; 2] = [piece.segments.clone(), back()];
        if here.distance(piece.end()) < here.distance(piece.start()) {
            ways.reverse();
        }
        for way in &ways {
            if self.link(way[0].start(), piece.step, free) {
                return self.cut(free.without_tail(way, piece.step));
            }
        }
        let down = ways.iter().filter(|w| free.holds(w[0].start(), piece.step)).find_map(|way| {
            let start = way[0].start();
            let beside = well_inside(free.state(piece.step), start, self.bite.radius, |q| free.holds(q, piece.step));
            self.is_cut(beside).then_some((way, start, beside))
        });
        let Some((way, start, beside)) = down else {
            return self.wade(&piece.segments);
        };
        self.acts.push(Act::Jump(beside));
        if beside != start {
            self.acts.push(Act::Link(Segment::Line { a: beside, b: start }));
        }
        self.cut(free.without_tail(way, piece.step));
    }

    /// Whether nothing stands under the cutter at a place after the acts so far: what a growth takes as cleared may still hold slivers
    /// that were not worth a path.
    fn is_cut(&self, p: Point) -> bool {
        let r = self.bite.radius;
        let near = plane::Bounds { min: p, max: p }.grown(2.0 * r);
        let mut ways: Vec<Segment> = Vec::new();
        for act in &self.acts {
            match act {
                Act::Helix { centre, radius } => ways.extend(Contour::circle(*centre, *radius).segments()),
                Act::Link(way) => ways.push(*way),
                Act::Cut(segments) | Act::Wade(segments) => {
                    ways.extend(segments.iter().filter(|s| s.bounds().meets(near)))
                }
                Act::Jump(_) => {}
            }
        }
        (0..RIM).all(|k| {
            let q = p + Point::at_angle(std::f64::consts::TAU * f64::from(k) / f64::from(RIM)) * r;
            self.given.as_ref().is_some_and(|given| given.signed_distance(q) < r - SURELY)
                || ways.iter().any(|s| s.distance(q) < r - SURELY)
        })
    }

    /// Along segments that can't be reached over the floor nor come down to.
    fn wade(&mut self, segments: &[Segment]) {
        let back = segments.iter().rev().map(Segment::reversed);
        let round: Vec<Segment> = segments.iter().copied().chain(back).collect();
        self.here = round.last().map(Segment::end);
        self.acts.push(Act::Wade(round));
    }

    /// Onto a ring at a flat angle from inside; gives the ring from there.
    fn onto_ring(&mut self, piece: &Piece, free: &Free<'_>) -> Vec<Segment> {
        let step = self.bite.step;
        let here = self.here.unwrap_or_else(|| piece.start());
        if let Some(Act::Helix { centre, radius }) = self.acts.last()
            && let Some(ring) = spiral_out(piece, *centre, *radius)
        {
            return ring;
        }
        let (i, t) = nearest(&piece.segments, here);
        // From a place to the ring ahead of one on it, as flat as there is room for.
        let lead = |a: Point, (i, t): (usize, f64), farthest: f64| {
            AHEAD.into_iter().find_map(|ahead| {
                let ring = from(&piece.segments, i, t, ahead * step);
                let b = ring.first()?.start();
                let leads = a.distance(b) < farthest * ahead * step && free.leads(a, b, piece.step);
                leads.then(|| std::iter::once(Segment::Line { a, b }).chain(ring).collect::<Vec<_>>())
            })
        };
        if let Some(ring) = lead(here, (i, t), 2.0) {
            return ring;
        }
        // From beside the ring, where that is cleared: at the ring's nearest place, else anywhere on it.
        let n = piece.segments.len();
        let places = std::iter::once((i, t)).chain((0..n).map(|k| ((i + k) % n, 0.5)));
        for (i, t) in places {
            let (at, Some(along)) = (piece.segments[i].at(t), piece.segments[i].direction(t)) else { continue };
            let beside = at + along.left() * (BESIDE * step);
            if !free.holds(beside, piece.step) {
                continue;
            }
            if let Some(ring) = lead(beside, (i, t), f64::INFINITY) {
                if !self.link(beside, piece.step, free) {
                    if !self.is_cut(beside) {
                        continue;
                    }
                    self.acts.push(Act::Jump(beside));
                }
                return ring;
            }
        }
        self.wade(&piece.segments);
        Vec::new()
    }

    /// A straight way over the floor, or back along the last path and on. Whether there is one.
    fn link(&mut self, to: Point, step: usize, free: &Free<'_>) -> bool {
        let Some(here) = self.here else { return false };
        if here.distance(to) < 1e-6 {
            return true;
        }
        // Round in one sweep where that is free: the machine need not stop at either end.
        if let Some(Act::Cut(last)) = self.acts.last()
            && let Some(round) = last.last().and_then(|s| turning(s, to, self.bite.radius))
            && free.along(&round, step)
        {
            self.acts.push(Act::Link(round));
            return true;
        }
        let straight = Segment::Line { a: here, b: to };
        if free.along(&straight, step) {
            self.acts.push(Act::Link(straight));
            return true;
        }
        if let Some(Act::Cut(last)) = self.acts.last() {
            let start = last[0].start();
            let on = Segment::Line { a: start, b: to };
            if start.distance(to) < 6.0 * self.bite.radius && free.along(&on, step) {
                let back = last.iter().rev().map(Segment::reversed).collect();
                self.acts.push(Act::Cut(back));
                self.acts.push(Act::Link(on));
                return true;
            }
        }
        false
    }
}

/// Round to a place on an arc that begins in a segment's direction; `None` if it would be too tight, nearly full, or no turn.
fn turning(last: &Segment, to: Point, radius: f64) -> Option<Segment> {
    let (a, along) = (last.end(), last.direction(1.0)?);
    let chord = to - a;
    let turn = libm::atan2(along.cross(chord), along.dot(chord));
    let wide = chord.norm() / (2.0 * libm::sin(turn.abs()).max(1e-9));
    let fits = (0.2..=2.1).contains(&turn.abs()) && (0.25 * radius..=4.0 * radius).contains(&wide);
    fits.then(|| Segment::with_bulge(a, to, libm::tan(turn / 2.0)))
}

/// From a helix onto a ring about the same centre, in half a turn.
fn spiral_out(ring: &Piece, centre: Point, radius: f64) -> Option<Vec<Segment>> {
    let about = |s: &Segment| matches!(s, Segment::Arc { centre: c, .. } if c.distance(centre) < 1e-6);
    if !ring.segments.iter().all(about) {
        return None;
    }
    let wide = ring.start().distance(centre);
    let (from, to) = (centre + Point::new(radius, 0.0), centre - Point::new(wide, 0.0));
    let (i, t) = nearest(&ring.segments, to);
    let round = self::from(&ring.segments, i, t, 0.0);
    Some(std::iter::once(Segment::with_bulge(from, to, 1.0)).chain(round).collect())
}

/// Takes a sweep into a ring that passes its start and then its end: back over the floor and along it. Whether it could.
fn taken_in(ring: &mut Vec<Segment>, sweep: &Piece, free: &Free<'_>) -> bool {
    let (start, end) = (nearest(ring, sweep.start()), nearest(ring, sweep.end()));
    let off = |at: (usize, f64), p: Point| ring[at.0].at(at.1).distance(p);
    let near = 0.02 * free.bite.radius;
    let passed = end.0 > start.0 || end.0 == start.0 && end.1 >= start.1;
    if !passed || off(start, sweep.start()) > near || off(end, sweep.end()) > near {
        return false;
    }
    let (i, t) = end;
    let whole = ring[i];
    let here = whole.at(t);
    let round = turning(&whole.piece(0.0, t), sweep.start(), free.bite.radius);
    let straight = Segment::Line { a: here, b: sweep.start() };
    let back = round.into_iter().chain([straight]).find(|way| free.stays(way, sweep.step));
    let Some(back) = back else { return false };
    let mut way = Vec::with_capacity(sweep.segments.len() + 4);
    if t > 1e-6 {
        way.push(whole.piece(0.0, t));
    }
    way.push(back);
    way.extend(&sweep.segments);
    way.push(Segment::Line { a: sweep.end(), b: here });
    if t < 1.0 - 1e-6 {
        way.push(whole.piece(t, 1.0));
    }
    way.retain(|s| s.length() > 1e-6);
    ring.splice(i..=i, way);
    true
}

/// A place beside one at the edge of what is cleared where the cutter can come down without touching, out of those
/// allowed; the place itself where it has room or there is none.
pub(crate) fn well_inside(cleared: &RegionIndex, p: Point, radius: f64, allowed: impl Fn(Point) -> bool) -> Point {
    let by = BESIDE_EDGE * radius;
    let room = |q: Point| -cleared.signed_distance(q);
    let now = room(p);
    if now > by / 2.0 {
        return p;
    }
    let around = |off: f64| {
        let all = (0..16).map(move |k| p + Point::at_angle(f64::from(k) * std::f64::consts::PI / 8.0) * off);
        all.filter(|&q| allowed(q)).max_by(|a, b| room(*a).total_cmp(&room(*b)))
    };
    let best = around(by).filter(|&q| room(q) > now.max(0.0) + 0.3 * by).unwrap_or(p);
    if room(best) >= 0.0 {
        return best;
    }
    // Beside a place that juts out nothing so near is cleared all round.
    let farther = [2.0, 4.0].into_iter().filter_map(|times| around(times * by)).find(|&q| room(q) > by / 2.0);
    farther.unwrap_or(best)
}

/// The place of a run of segments nearest to a point: segment and share.
fn nearest(segments: &[Segment], p: Point) -> (usize, f64) {
    let near = segments.iter().enumerate().fold((0, f64::INFINITY), |best, (i, s)| {
        let d = s.distance(p);
        if d < best.1 - 1e-9 { (i, d) } else { best }
    });
    (near.0, segments[near.0].nearest_share(p))
}

/// A closed run from a length beyond a place on it, all the way round.
fn from(segments: &[Segment], i: usize, t: f64, ahead: f64) -> Vec<Segment> {
    let n = segments.len();
    let whole: f64 = segments.iter().map(Segment::length).sum();
    let mut left = (ahead + segments[i].length() * t) % whole.max(1e-9);
    let mut at = i;
    while left > segments[at].length() {
        left -= segments[at].length();
        at = (at + 1) % n;
    }
    let t = left / segments[at].length().max(1e-12);
    let mut ring = Vec::with_capacity(n + 1);
    if t < 1.0 {
        ring.push(segments[at].piece(t, 1.0));
    }
    ring.extend((1..n).map(|k| segments[(at + k) % n]));
    if t > 0.0 {
        ring.push(segments[at].piece(0.0, t));
    }
    ring.retain(|s| s.length() > 1e-6);
    ring
}

/// Answers where the axis may go over the floor while a growth is being cut.
struct Free<'a> {
    growth: &'a Growth,
    bite: Bite,
    states: Vec<OnceCell<RegionIndex>>,
    /// By piece.
    cut: Vec<bool>,
}

impl<'a> Free<'a> {
    fn new(growth: &'a Growth, bite: Bite) -> Self {
        let states = growth.states.iter().map(|_| OnceCell::new()).collect();
        Self { growth, bite, states, cut: vec![false; growth.pieces.len()] }
    }

    fn state(&self, step: usize) -> &RegionIndex {
        let last = self.states.len() - 1;
        self.states[step.min(last)].get_or_init(|| RegionIndex::new(&self.growth.states[step.min(last)]))
    }

    /// Whether a place is in what is cleared after as many steps as have been cut near it.
    fn holds(&self, p: Point, step: usize) -> bool {
        // The last steps whose pieces near here are all cut.
        let waiting = |s: usize| {
            let pieces = self.growth.pieces.iter().enumerate();
            pieces.filter(|(i, q)| q.step < s && !self.cut[*i]).any(|(_, q)| q.near(p, 1.5 * self.bite.step))
        };
        let latest = self.growth.pieces.iter().zip(&self.cut).filter(|(_, c)| **c).map(|(p, _)| p.step + 1).max();
        let mut candidates = [Some(step), latest].into_iter().flatten();
        let within = |s: usize| self.state(s).signed_distance(p) <= 0.02 * self.bite.radius;
        candidates.any(|s| within(s) && !waiting(s))
    }

    /// Whether a way stays where nothing stands.
    fn along(&self, way: &Segment, step: usize) -> bool {
        let parts = (way.length() / (0.2 * self.bite.radius)).ceil().max(1.0) as usize;
        (0..=parts).all(|k| self.holds(way.at(k as f64 / parts as f64), step))
    }

    /// A sweep without what only runs back beside the last one: it would take a sliver off an edge that is no wall.
    fn without_tail(&self, way: &[Segment], step: usize) -> Vec<Segment> {
        let state = self.state(step);
        let beside =
            |s: &Segment| [0.0, 0.5, 1.0].iter().all(|&t| state.signed_distance(s.at(t)) < TAIL * self.bite.step);
        let kept = way.iter().rposition(|s| !beside(s)).map_or(way.len(), |last| last + 1);
        way[..kept].to_vec()
    }

    /// Whether a straight way begins where nothing stands and stays within the next step.
    fn leads(&self, a: Point, b: Point, step: usize) -> bool {
        self.holds(a, step) && self.stays(&Segment::Line { a, b }, step + 1)
    }

    /// Whether a way stays within a state, cut or not.
    fn stays(&self, way: &Segment, step: usize) -> bool {
        let next = self.state(step);
        let parts = (way.length() / (0.2 * self.bite.radius)).ceil().max(1.0) as usize;
        (0..=parts).all(|k| next.signed_distance(way.at(k as f64 / parts as f64)) <= 0.002)
    }
}
