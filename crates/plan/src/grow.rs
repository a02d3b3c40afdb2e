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
/// Share of the step that a front between two edges takes, at the roundest.
const FRONT: f64 = 0.72;
/// The same where there is room for rounder fronts, with their radius in radii. All three keep the front's angle at its
/// start, where it goes out into material, within [`BULGE`] at any stepover (reckoned in the tests).
const FRONTS: [(f64, f64); 2] = [(1.35, 0.93), (1.05, 0.84)];
/// Least radius of a bulge, radii: passages of less than twice as much more are too narrow to be grown through.
pub(crate) const ROUND: f64 = 0.8;
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
    /// the front reaches acos((R² - q² - r²) / (2 q r)) round it. That is the angle allowed, with cosine c, where
    /// step² + 2 (c r + `round`) step = 2 `round` r (1 - c): the step is that, and at most the stepover.
    pub(crate) fn new(radius: f64, stepover: f64) -> Self {
        let straight = libm::acos((1.0 - stepover / radius).clamp(-1.0, 1.0));
        let c = libm::cos((BULGE * straight).min(0.9 * std::f64::consts::PI));
        let b = c + ROUND;
        let step = radius * (libm::sqrt(b * b + 2.0 * ROUND * (1.0 - c)) - b);
        Self { radius, step: step.min(stepover), round: ROUND * radius }
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

#[cfg(test)]
mod tests {
    use super::*;
    use plane::Bounds;
    use reckon::load;

    fn rectangle(width: f64, height: f64) -> Region {
        Region::solid(Contour::rectangle(Bounds { min: Point::default(), max: Point::new(width, height) }))
    }

    /// The hole formula of a handbook kind (derived): acos((R² - q² - r²) / (2 q r)) at the least bulge is within the allowed
    /// share of the straight cut's angle acos(1 - 2 ae / D), and equals it where it makes the step less than the stepover.
    #[test]
    fn the_step_holds_the_angle_at_the_least_bulge() {
        for share in [0.05, 0.1, 0.2, 0.3, 0.4, 0.45, 0.5] {
            let (r, stepover) = (1.5875, share * 3.175);
            let bite = Bite::new(r, stepover);
            let straight = load::engagement(stepover, 2.0 * r);
            let bulge = load::engagement_in_hole(bite.round + r, bite.round + bite.step, r) / straight;
            assert!(bulge <= BULGE + 1e-6, "{share}: {bulge}");
            assert!(bite.step == stepover || bulge > BULGE - 1e-6, "{share}: {bulge}");
        }
    }

    /// A front of radius q between two edges moves on by a: what lies ahead of the cutter beyond the last front, a round end
    /// of radius q + r on a strip as wide, is counted direction by direction (derived).
    #[test]
    fn fronts_hold_the_angle_from_their_start() {
        use std::f64::consts::PI;
        let engaged = |r: f64, by: f64, q: f64, turn: f64| {
            let axis = Point::new(by, 0.0) + Point::at_angle(turn) * q;
            let stands = |k: u32| {
                let rim = axis + Point::at_angle(turn + PI * (f64::from(k) + 0.5) / 720.0) * r;
                if rim.x <= 0.0 { rim.y.abs() > q + r } else { rim.norm() > q + r }
            };
            PI * (0..720).filter(|&k| stands(k)).count() as f64 / 720.0
        };
        for share in [0.05, 0.1, 0.2, 0.3, 0.4, 0.5] {
            let (r, step) = (1.5875, share * 3.175);
            let (bite, straight) = (Bite::new(r, step), load::engagement(step, 2.0 * r));
            for (round, part) in FRONTS.into_iter().chain([(bite.round / r, FRONT)]) {
                let turns = (0..=90).map(|k| -f64::from(k) * PI / 180.0);
                let most = turns.map(|t| engaged(r, part * bite.step, round * r, t)).fold(0.0, f64::max);
                assert!(most <= 1.23 * straight, "{share}, {round}: {}", most / straight);
            }
        }
    }

    #[test]
    fn the_widest_place() {
        let (at, room) = widest(&rectangle(20.0, 10.0)).unwrap();
        assert!((room - 5.0).abs() < 0.05, "{room}");
        assert!((at.y - 5.0).abs() < 0.06 && (4.9..=15.1).contains(&at.x), "{at:?}");
    }

    /// Grown from a disc, all of a rectangle with a hole is cleared, and no path lies farther than a step from what was.
    #[test]
    fn growth_takes_all_by_steps() {
        let bite = Bite::new(1.0, 0.8);
        let hole = Region::solid(Contour::circle(Point::new(12.0, 5.0), 1.5));
        let target = reach::opening(&arcs::difference(&rectangle(18.0, 9.0), &hole), bite.round).region;
        let start = Region::solid(Contour::circle(Point::new(4.0, 4.0), 0.9));
        let growth = Growth::of(&target, start, &bite, false, 0.0);
        assert!((growth.end().area() - target.area()).abs() < 1e-3, "{} of {}", growth.end().area(), target.area());
        assert!(growth.pieces.len() > 10);
        for piece in &growth.pieces {
            let before = RegionIndex::new(&growth.states[piece.step]);
            for segment in &piece.segments {
                for t in [0.0, 0.25, 0.5, 0.75, 1.0] {
                    let off = before.signed_distance(segment.at(t));
                    assert!(off <= bite.step + 1e-4, "step {}: {off}", piece.step);
                }
            }
        }
    }

    #[test]
    fn the_order_keeps_what_must_come_before() {
        let bite = Bite::new(1.0, 0.8);
        let target = reach::opening(&rectangle(30.0, 6.0), bite.round).region;
        let start = Region::solid(Contour::circle(Point::new(15.0, 3.0), 0.9));
        let growth = Growth::of(&target, start, &bite, false, 0.0);
        let before = before(&growth.pieces, 2.0);
        let ordered = order(&growth.pieces, &before, Point::new(15.0, 3.0));
        let mut all = ordered.clone();
        all.sort_unstable();
        assert_eq!(all, (0..growth.pieces.len()).collect::<Vec<_>>());
        let place = |i: usize| ordered.iter().position(|&o| o == i);
        for (i, earlier) in before.iter().enumerate() {
            assert!(earlier.iter().all(|&j| place(j) < place(i)), "{i}");
        }
    }
}
