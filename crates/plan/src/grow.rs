//! Growing what is cleared, step by step, so that the cutter's front is never far in material.
//!
//! All regions here are places of the cutter's axis. Where the axis may go, everything within [`Bite::step`] of what is
//! already cleared is taken next; the edge of what is then cleared is the next path. Along a straight edge that is a
//! straight cut at the stepover. Round a bulge of the cleared region the front reaches farther round the cutter, so no
//! bulge may be rounder than [`Bite::round`]: the regions are opened by it. Corners and necks come out of the same rule, as
//! small sweeps that each take no more than the step.
//!
//! Paths run with the material on their right, which a cutter turning clockwise climbs along.

use plane::{Contour, Point, Region, RegionIndex, Segment, SegmentIndex, Shape, arcs};

/// How far and how round the cleared region grows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bite {
    /// Cutter's radius, mm.
    pub(crate) radius: f64,
    /// Distance between one path and the next, mm.
    pub(crate) step: f64,
    /// Least radius of a bulge of the cleared region, mm.
    pub(crate) round: f64,
}

/// Share of the straight cut's angle up to which a bulge may raise the engagement.
const BULGE: f64 = 1.22;
/// Share of the step that a front between two edges takes.
const FRONT: f64 = 0.64;
/// The same where there is room for rounder fronts, with their radius in radii: what keeps the front's angle at its start
/// within the same limit at a stepover of 0.4 diameters, and so at smaller ones.
const FRONTS: [(f64, f64); 2] = [(1.35, 1.0), (1.05, 0.82)];
/// Greatest least radius of a bulge, radii: passages of less than twice as much more are too narrow to be grown through.
pub(crate) const ROUNDEST: f64 = 0.8;
/// Paths nearer than this to what is cleared take nothing, mm.
const NOTHING: f64 = 0.003;
/// Strips thinner than this on average are left to the next path, mm.
const THIN: f64 = 0.02;
/// Regions are told apart by no less than this, mm²: it is what their combining rounds.
const SPECK: f64 = 1e-4;
/// Steps at most in one region.
const MOST: usize = 5_000;

impl Bite {
    /// For a cutter and a stepover, mm.
    ///
    /// A path of radius q = `round` + `step` about a bulge of radius `round` meets a hole of radius R = `round` + r, so
    /// the front reaches acos((R² - q² - r²) / (2 q r)) round it. That equals the angle allowed, with cosine c, where
    /// `round` = (step² + 2 c r step) / (2 r - 2 step - 2 c r).
    pub(crate) fn new(radius: f64, step: f64) -> Self {
        let s = step / radius;
        let allowed = (BULGE * libm::acos((1.0 - s).clamp(-1.0, 1.0))).min(0.9 * std::f64::consts::PI);
        let c = libm::cos(allowed);
        let below = 2.0 - 2.0 * s - 2.0 * c;
        let round = if below > 1e-6 { (s * s + 2.0 * c * s) / below } else { f64::INFINITY };
        Self { radius, step, round: radius * round.clamp(0.2, ROUNDEST) }
    }
}

/// A path that takes one step.
#[derive(Debug, Clone)]
pub(crate) struct Piece {
    /// In order, not empty.
    pub(crate) segments: Vec<Segment>,
    /// Whether it ends where it begins.
    pub(crate) closed: bool,
    /// Number of steps before it.
    pub(crate) step: usize,
    index: SegmentIndex,
}

impl Piece {
    fn new(segments: Vec<Segment>, closed: bool, step: usize) -> Self {
        let index = SegmentIndex::new(segments.clone());
        Self { segments, closed, step, index }
    }

    pub(crate) fn start(&self) -> Point {
        self.segments[0].start()
    }

    pub(crate) fn end(&self) -> Point {
        self.segments[self.segments.len() - 1].end()
    }

    /// Whether it comes within a distance of a point, mm.
    pub(crate) fn near(&self, p: Point, distance: f64) -> bool {
        self.index.nearest_within(p, distance).is_some()
    }

    /// Whether it comes within a distance of another piece, mm.
    pub(crate) fn meets(&self, other: &Self, distance: f64) -> bool {
        let bounds = |piece: &Self| {
            plane::Bounds::of(piece.segments.iter().flat_map(|s| {
                let b = s.bounds();
                [b.min, b.max]
            }))
        };
        if !bounds(self).grown(distance).meets(bounds(other)) {
            return false;
        }
        let every = distance / 2.0;
        self.segments.iter().any(|s| {
            let parts = (s.length() / every).ceil().max(1.0) as usize;
            (0..=parts).any(|k| other.near(s.at(k as f64 / parts as f64), distance))
        })
    }
}

/// How a region grew.
#[derive(Debug, Clone, Default)]
pub(crate) struct Growth {
    /// What is cleared after each number of steps; the first is what it began with.
    pub(crate) states: Vec<Region>,
    /// In the order of steps.
    pub(crate) pieces: Vec<Piece>,
}

impl Growth {
    /// Grows from `start` until no place of the target is farther than `enough` mm from what is cleared, or no further
    /// step is possible. `ring` if the first step follows the whole edge of the start.
    pub(crate) fn of(target: &Region, start: Region, bite: &Bite, ring: bool, enough: f64) -> Self {
        let mut growth = Self { states: vec![start], pieces: Vec::new() };
        for step in 0..MOST {
            let now = &growth.states[step];
            let left = target.area() - now.area();
            if left <= SPECK || (step > 0 || !ring) && near_enough(target, now, enough) {
                break;
            }
            let next = grown(target, now, bite, step == 0 && ring);
            if next.area() <= now.area() + SPECK {
                break;
            }
            growth.pieces.extend(pieces(&next, now, step));
            growth.states.push(next);
        }
        growth
    }

    /// What is cleared at the end.
    pub(crate) fn end(&self) -> &Region {
        // There is always the state it began with.
        &self.states[self.states.len() - 1]
    }
}

fn near_enough(target: &Region, now: &Region, enough: f64) -> bool {
    enough > 0.0 && arcs::difference(target, &reach::outset(now, enough).region).area() <= SPECK
}

/// One step further: all of the target within a step of what is cleared, without bulges that are too round.
fn grown(target: &Region, now: &Region, bite: &Bite, ring: bool) -> Region {
    let whole = reach::outset(now, bite.step).region;
    let within = arcs::intersection(target, &whole);
    let all_of = |within: &Region| target.area() - within.area() <= SPECK;
    if all_of(&within) && ring {
        return target.clone();
    }
    // All round the start the front keeps its distance; between two edges it moves on, and goes out into material at its
    // start, farther round the cutter the rounder it is.
    let evenly = whole.area() - within.area() <= SPECK;
    if ring || evenly {
        return opened(&within, now, bite.round).unwrap_or(within);
    }
    for (round, share) in FRONTS {
        let round = round * bite.radius;
        if round < bite.round {
            break;
        }
        let within = arcs::intersection(target, &reach::outset(now, share * bite.step).region);
        if let Some(next) = opened(&within, now, round) {
            return next;
        }
    }
    let within = arcs::intersection(target, &reach::outset(now, FRONT * bite.step).region);
    // In a passage narrower than that the front can't be rounder.
    if all_of(&within) { target.clone() } else { opened(&within, now, bite.round).unwrap_or(within) }
}

/// What is cleared when only bulges of at least this radius are; `None` if that is no more than now.
fn opened(within: &Region, now: &Region, round: f64) -> Option<Region> {
    let next = arcs::union([&reach::opening(within, round).region, now]);
    (next.area() > now.area() + SPECK).then_some(next)
}

/// The edge of the next state where it isn't an edge of this one.
fn pieces(next: &Region, now: &Region, step: usize) -> Vec<Piece> {
    let strips = arcs::difference(next, now);
    let old = SegmentIndex::of_contours(now.contours());
    let thick = |shape: &&Shape| {
        let length: f64 = shape.contours().map(Contour::length).sum();
        2.0 * shape.area() > THIN * length
    };
    let mut found = Vec::new();
    for contour in strips.shapes.iter().filter(thick).flat_map(Shape::contours) {
        let segments: Vec<Segment> = contour.segments().filter(|s| s.length() > 1e-6).collect();
        let fresh: Vec<bool> = segments
            .iter()
            .map(|s| [0.5, 0.2, 0.8].iter().any(|&t| old.nearest_within(s.at(t), NOTHING).is_none()))
            .collect();
        let Some(first_old) = fresh.iter().position(|f| !f) else {
            found.push(Piece::new(segments, true, step));
            continue;
        };
        let n = segments.len();
        let mut run: Vec<Segment> = Vec::new();
        for k in 1..=n {
            let i = (first_old + k) % n;
            if fresh[i] {
                run.push(segments[i]);
            } else if !run.is_empty() {
                found.push(Piece::new(std::mem::take(&mut run), false, step));
            }
        }
    }
    found
}

/// For each piece those of earlier steps that lie near it: they must be cut before.
pub(crate) fn before(pieces: &[Piece], near: f64) -> Vec<Vec<usize>> {
    let earlier =
        |(i, p): (usize, &Piece)| (0..i).filter(|&j| pieces[j].step < p.step && p.meets(&pieces[j], near)).collect();
    pieces.iter().enumerate().map(earlier).collect()
}

/// The order in which pieces are cut: each after those before it, else on from where the last one ended.
pub(crate) fn order(pieces: &[Piece], before: &[Vec<usize>], from: Point) -> Vec<usize> {
    let mut after: Vec<Vec<usize>> = vec![Vec::new(); pieces.len()];
    for (i, all) in before.iter().enumerate() {
        for &j in all {
            after[j].push(i);
        }
    }
    let mut missing: Vec<usize> = before.iter().map(Vec::len).collect();
    let mut ready: Vec<usize> = (0..pieces.len()).filter(|&i| missing[i] == 0).collect();
    let (mut here, mut last) = (from, None);
    let mut ordered = Vec::with_capacity(pieces.len());
    while !ready.is_empty() {
        let on = |i: usize| last.is_some_and(|l| before[i].contains(&l));
        let away = |i: usize| {
            let p = &pieces[i];
            if p.closed {
                p.index.nearest(here).map_or(0.0, |n| n.distance)
            } else {
                p.start().distance(here).min(p.end().distance(here))
            }
        };
        let key = |&k: &usize| (!on(ready[k]), away(ready[k]));
        let least = (0..ready.len()).min_by(|a, b| {
            let (a, b) = (key(a), key(b));
            a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
        });
        let i = ready.remove(least.unwrap_or(0));
        for &j in &after[i] {
            missing[j] -= 1;
            if missing[j] == 0 {
                ready.push(j);
            }
        }
        (here, last) = (pieces[i].end(), Some(i));
        ordered.push(i);
    }
    ordered
}

/// The point of a region farthest from its edge and the distance there, within a hundredth of it, mm.
pub(crate) fn widest(region: &Region) -> Option<(Point, f64)> {
    let index = RegionIndex::new(region);
    let bounds = region.bounds();
    let mut cells = vec![(bounds.centre(), bounds.width().max(bounds.height()) / 2.0)];
    let mut best: Option<(Point, f64)> = None;
    // Each round quarters the cells that may hold a wider place.
    for _ in 0..24 {
        let mut next = Vec::new();
        for &(middle, half) in &cells {
            let room = -index.signed_distance(middle);
            if best.is_none_or(|b| room > b.1) && room > 0.0 {
                best = Some((middle, room));
            }
            next.push((middle, half, room));
        }
        let least = best.map_or(0.0, |b| b.1 * 1.01);
        next.retain(|&(_, half, room)| room + half * std::f64::consts::SQRT_2 > least);
        cells = next
            .iter()
            .flat_map(|&(m, half, _)| {
                let q = half / 2.0;
                [(-q, -q), (q, -q), (-q, q), (q, q)].map(|(x, y)| (m + Point::new(x, y), q))
            })
            .collect();
        if cells.is_empty() || cells.len() > 40_000 {
            break;
        }
    }
    best
}
