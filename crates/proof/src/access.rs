//! Where the allowed cutters can get, judged from the intent alone by the exact distance to the walls.
//!
//! A flat cutter of radius r clears a point of a floor if its axis can stand within r of the point while every wall
//! that stands above the floor is at least r away, every wall that stands above the end of its flutes is out of the
//! shank's way, and every wall above its stick-out out of the nut's. Near a wall the nearest such stand lies at its
//! limit: beside a wall, round a corner that points into the floor, or where two such lines meet. Stands are set along
//! these lines closely, and from the nearest one the exact place is found by turns of pulling toward the point and
//! stepping away from what is too near.

use crate::intent::{AREAS, Class, Ends, FACE, MARGIN, Standing, Wanted, key};
use memo::{Key, Print};
use plane::{Bounds, Point, Segment};
use plate::{Cutter, Form, Intent, Shop};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// Widths and radii may come short by this, mm.
pub(crate) const SHORT: f64 = 0.002;
/// Where a cutter passes only because widths may come short, it need not have: then they may come short by no more than
/// rounding, mm.
const ROUNDING: f64 = 1e-5;
/// Walls are as near as one another within this, mm.
const SAME: f64 = 1e-6;
/// Stands are set this close, mm.
const SPACING: f64 = 0.05;
/// Within this of the limit the exact place of the stand is found, mm.
const CLOSE: f64 = 0.02;
/// Stands are looked for within this many radii.
const RADII: f64 = 4.0;
/// Walls whose stands may be that near lie no further off than this many times the distance they are kept at: the way
/// from a wall to a stand beside it, and three times as much by which other walls may push it.
const PUSHED: f64 = 4.0;

/// One allowed flat cutter on one floor.
struct Way {
    radius: f64,
    /// Walls to keep away from, each set with its distance.
    keep: Vec<(usize, f64)>,
    /// For each of these sets and each of its walls the stands along it, found when they are first asked for: a plate
    /// that came out well asks only near its corners.
    stands: Vec<Vec<OnceLock<Vec<Point>>>>,
}

/// One height of floor and who reaches it.
struct Floor {
    height: f64,
    /// How its walls lean: mm outward for each mm of height.
    lean: f64,
    /// The walls above it.
    own: usize,
    /// Thinnest cutter first.
    ways: Vec<Way>,
    /// Whether some cutter is kept out by its flutes or stick-out.
    short_flutes: bool,
}

/// The allowed flat cutters by floor.
pub(crate) struct Access<'a> {
    wanted: &'a Wanted<'a>,
    shop: &'a Shop,
    /// By how much widths and radii may come short, mm.
    short: f64,
    standings: Vec<Standing>,
    floors: Vec<Floor>,
    by_class: BTreeMap<Class, usize>,
    /// The same with nothing but rounding, made when it is first asked for.
    surely: OnceLock<Box<Self>>,
}

impl<'a> Access<'a> {
    pub(crate) fn new(wanted: &'a Wanted<'a>, shop: &'a Shop, intent: &Intent) -> Self {
        Self::within(wanted, shop, intent, SHORT)
    }

    fn within(wanted: &'a Wanted<'a>, shop: &'a Shop, intent: &Intent, short: f64) -> Self {
        let mut access = Self {
            wanted,
            shop,
            short,
            standings: vec![],
            floors: vec![],
            by_class: BTreeMap::new(),
            surely: OnceLock::new(),
        };
        let mut cutters: Vec<&Cutter> = intent.cutters.iter().filter_map(|&n| shop.cutter(n)).collect();
        cutters.retain(|c| c.form == Form::Flat && c.radius() > 0.0);
        cutters.sort_by(|a, b| a.radius().total_cmp(&b.radius()));
        let classes = (0..intent.areas.len()).map(|i| AREAS + i as Class);
        for class in classes.chain(intent.outline.as_ref().map(|_| MARGIN)) {
            let (height, lean) = (wanted.floor(class), wanted.lean(class));
            let known = access.floors.iter().position(|f| (f.height - height).abs() < 1e-9 && f.lean == lean);
            let floor = known.unwrap_or_else(|| access.add_floor(height, lean, &cutters, shop));
            access.by_class.insert(class, floor);
        }
        access
    }

    fn add_floor(&mut self, height: f64, lean: f64, cutters: &[&Cutter], shop: &Shop) -> usize {
        let own = self.standing(height);
        let mut floor = Floor { height, lean, own, ways: Vec::new(), short_flutes: false };
        // A wall that leans stands in as far as it goes down; where their tops differ, by the highest.
        let top = self.standings[own].tops.iter().fold(height, |m, t| m.max(t.min(self.wanted.face)));
        let stands_in = |above: f64| lean * (top - above).max(0.0);
        let nut = shop.spindle.nut_diameter.to_mm() / 2.0;
        for cutter in cutters {
            let radius = cutter.radius();
            let mut keep = vec![(own, radius + stands_in(height))];
            for (from, part) in
                [(cutter.flute_length.to_mm(), cutter.shank.to_mm() / 2.0), (cutter.stick_out.to_mm(), nut)]
            {
                if height + from < self.wanted.face_high - SHORT && part > radius + SHORT {
                    keep.push((self.standing(height + from), part + stands_in(height + from)));
                    floor.short_flutes = true;
                }
            }
            let plain = keep.len() == 1;
            let lists = |&(set, _): &(usize, f64)| {
                let walls = self.standings[set].walls.segments().len();
                (0..walls).map(|_| OnceLock::new()).collect()
            };
            let stands = keep.iter().map(lists).collect();
            let way = Way { radius, keep, stands };
            floor.ways.push(way);
            if plain {
                // Nothing but its edge keeps it away: a wider cutter gets nowhere that this one doesn't.
                break;
            }
        }
        self.floors.push(floor);
        self.floors.len() - 1
    }

    fn standing(&mut self, above: f64) -> usize {
        if let Some(i) = self.standings.iter().position(|s| (s.above - above).abs() < 1e-9) {
            return i;
        }
        self.standings.push(self.wanted.standing(above));
        self.standings.len() - 1
    }

    fn floor(&self, class: Class) -> Option<&Floor> {
        self.by_class.get(&class).and_then(|&i| self.floors.get(i))
    }

    /// All that decides what is told of a class's ground, its floor included; nothing of leaning walls.
    pub(crate) fn print(&self, class: Class) -> Option<Print> {
        let floor = self.floor(class)?;
        let key = Key::named("access").with(&[floor.height, self.short]).with(&floor.short_flutes);
        let standing =
            |set: usize| self.standings[set].walls.segments().iter().fold(Key::named("walls"), Key::with).print();
        let key = floor.ways.iter().fold(key.with(&standing(floor.own)), |key, way| {
            way.keep.iter().fold(key.with(&way.radius), |key, &(set, by)| key.with(&standing(set)).with(&by))
        });
        // Which ground may be gone over.
        let areas = (0..self.wanted.intent.areas.len()).map(|i| AREAS + i as Class);
        let open = |class: Class| self.wanted.floor(class) <= floor.height + 1e-6;
        Some([FACE].into_iter().chain(areas).fold(key, |key, class| key.with(&open(class))).print())
    }

    /// Whether any allowed flat cutter may be used at all.
    pub(crate) fn has_cutters(&self, class: Class) -> bool {
        self.floor(class).is_some_and(|f| !f.ways.is_empty())
    }

    /// Whether some allowed cutter is kept out of a class's ground by its flutes or stick-out.
    pub(crate) fn has_short_flutes(&self, class: Class) -> bool {
        self.floor(class).is_some_and(|f| f.short_flutes)
    }

    /// Radius of the thinnest allowed flat cutter, mm; 0 without one.
    pub(crate) fn thinnest(&self, class: Class) -> f64 {
        self.floor(class).and_then(|f| f.ways.first()).map_or(0.0, |w| w.radius)
    }

    /// Distance to the nearest wall above a class's floor, and that wall's top.
    pub(crate) fn wall(&self, class: Class, p: Point) -> (f64, f64) {
        let Some(standing) = self.floor(class).map(|f| &self.standings[f.own]) else {
            return (f64::INFINITY, f64::INFINITY);
        };
        let found = standing.walls.nearest(p);
        found.map_or((f64::INFINITY, self.wanted.face_high), |n| (n.distance, standing.tops[n.segment]))
    }

    /// How far a point of a floor is beyond the reach of the allowed cutters, mm; nought or less is within, infinite
    /// is farther than a few radii. Near the limit it is exact, elsewhere within a hundredth of a mm or so; it changes
    /// by no more than the way between two points, so that a row can be walked in strides.
    pub(crate) fn beyond(&self, class: Class, p: Point) -> f64 {
        self.gap(class, p, CLOSE)
    }

    /// The same, exact wherever there is a stand.
    pub(crate) fn exactly_beyond(&self, class: Class, p: Point) -> f64 {
        self.gap(class, p, f64::INFINITY)
    }

    /// How far a point of a floor is beyond the reach of cutters if nothing may come short, mm: a stroke a micrometre narrower
    /// than the cutter may be cut or left.
    pub(crate) fn surely_beyond(&self, class: Class, p: Point) -> f64 {
        self.surely().exactly_beyond(class, p)
    }

    /// The same for a place of a wall: `None` if a cutter surely stands beside it.
    pub(crate) fn wall_surely_beyond(&self, class: Class, wall: Point, inward: Point) -> Option<f64> {
        let surely = self.surely();
        if surely.stands_beside(class, wall, inward) { None } else { Some(surely.exactly_beyond(class, wall)) }
    }

    fn surely(&self) -> &Self {
        self.surely.get_or_init(|| Box::new(Self::within(self.wanted, self.shop, self.wanted.intent, ROUNDING)))
    }

    fn gap(&self, class: Class, p: Point, close: f64) -> f64 {
        let Some(floor) = self.floor(class) else { return f64::INFINITY };
        let mut least = f64::INFINITY;
        for way in &floor.ways {
            if self.push_away(way, p).is_none() {
                return -way.radius;
            }
            let Some((stand, mut distance)) = self.nearest_stand(way, floor.height, p, RADII * way.radius) else {
                continue;
            };
            if (distance - way.radius).abs() < close {
                distance = self.pulled(way, floor.height, p, stand, distance);
            }
            least = least.min(distance - way.radius);
        }
        least
    }

    /// Whether some cutter's axis may stand with its edge on the wall: the plain case of a wall probe.
    pub(crate) fn stands_beside(&self, class: Class, wall: Point, inward: Point) -> bool {
        self.floor(class).is_some_and(|floor| {
            floor.ways.iter().any(|w| {
                let c = wall + inward * w.radius;
                self.push_away(w, c).is_none() && self.is_free(w, floor.height, c)
            })
        })
    }

    /// Distance to the nearest stand, from one nearby.
    fn pulled(&self, way: &Way, height: f64, p: Point, mut stand: Point, mut best: f64) -> f64 {
        let mut pull = 0.5;
        for _ in 0..30 {
            let next = self.settle(way, stand.lerp(p, pull)).filter(|&c| c.distance(p) < best - 1e-7);
            match next {
                Some(c) if self.is_free(way, height, c) => (stand, best) = (c, c.distance(p)),
                _ if pull < 0.01 => break,
                _ => pull *= 0.25,
            }
        }
        best
    }

    /// A place near a point where nothing is too near, by stepping away from what is.
    fn settle(&self, way: &Way, p: Point) -> Option<Point> {
        let farthest = 3.0 * way.keep.iter().fold(way.radius, |m, k| m.max(k.1));
        let mut c = p;
        let mut before = 0.0;
        for step in 1..=60 {
            let Some(next) = self.push_away(way, c) else { return Some(c) };
            c = next;
            if step % 6 == 0 {
                // Pushed to and fro between two walls without getting away from them.
                let away = c.distance(p);
                if away > farthest || away < before + 1e-4 {
                    return None;
                }
                before = away;
            }
        }
        None
    }

    /// One step away from the nearest wall that is too near; `None` if none is.
    fn push_away(&self, way: &Way, c: Point) -> Option<Point> {
        for &(set, distance) in &way.keep {
            let Some(near) = self.standings[set].walls.nearest_within(c, distance) else { continue };
            if near.distance < distance - self.short {
                // On the wall itself only the wall knows which side is its low one.
                let off = if near.distance > 1e-6 { (c - near.at).unit() } else { None };
                let away = off.or_else(|| {
                    let segment = self.standings[set].walls.segments()[near.segment];
                    segment.direction(segment.nearest_share(c)).map(Point::left)
                })?;
                return Some(near.at + away * distance);
            }
        }
        None
    }

    /// Whether a place that keeps its distance is on ground that may be cut: told by the side of the nearest wall
    /// where that is plain, by the contours at a corner.
    fn is_free(&self, way: &Way, height: f64, c: Point) -> bool {
        if let Some(&(own, _)) = way.keep.first() {
            let walls = &self.standings[own].walls;
            if let Some(near) = walls.nearest(c)
                && near.distance > 1e-6
            {
                // Of two walls that touch both are as near: each must have it on its low side, and neither by its end alone.
                let (mut told, mut ends) = (None, false);
                walls.for_each_near(Bounds { min: c, max: c }.grown(near.distance + SAME), |_, wall| {
                    let share = wall.nearest_share(c);
                    let at = wall.at(share);
                    if at.distance(c) > near.distance + SAME {
                        return;
                    }
                    match wall.direction(share) {
                        Some(direction) if share > 0.0 && share < 1.0 => {
                            told = Some(told.unwrap_or(true) && direction.cross(c - at) > 0.0);
                        }
                        _ => ends = true,
                    }
                });
                let told = told.filter(|_| !ends);
                if let Some(free) = told {
                    return free;
                }
            }
        }
        let ground = self.wanted.class_at(c);
        ground == MARGIN || self.wanted.floor(ground) <= height + 1e-6
    }

    /// The nearest stand to a point, within a limit.
    fn nearest_stand(&self, way: &Way, height: f64, p: Point, limit: f64) -> Option<(Point, f64)> {
        let mut reach = (1.5 * way.radius).min(limit);
        loop {
            let mut best: Option<(Point, f64)> = None;
            for (&(set, distance), lists) in way.keep.iter().zip(&way.stands) {
                let standing = &self.standings[set];
                // A stand keeps its distance from the wall it belongs to, and is pushed from there by others.
                let near = Bounds { min: p, max: p }.grown(reach + PUSHED * distance);
                standing.walls.for_each_near(near, |k, _| {
                    for &q in lists[k].get_or_init(|| self.stands_along(way, height, standing, k, distance)) {
                        let d = q - p;
                        let square = d.dot(d);
                        if best.is_none_or(|(at, least)| square < least || (square == least && before(q, at))) {
                            best = Some((q, square));
                        }
                    }
                });
            }
            let found = best.map(|(q, square)| (q, square.sqrt()));
            if found.is_some_and(|f| f.1 <= reach) || reach >= limit {
                return found.filter(|f| f.1 <= limit);
            }
            reach = limit;
        }
    }

    /// Stands along one wall.
    fn stands_along(&self, way: &Way, height: f64, standing: &Standing, k: usize, distance: f64) -> Vec<Point> {
        let mut own = Vec::new();
        places_beside(&standing.walls.segments()[k], &standing.ends, distance, &mut |c| {
            if let Some(c) = self.settle(way, c).filter(|&c| self.is_free(way, height, c)) {
                own.push(c);
            }
        });
        own
    }
}

/// An order of points.
fn before(a: Point, b: Point) -> bool {
    (a.x, a.y) < (b.x, b.y)
}

/// Places at a distance from a wall: beside it, and round its ends where they point into the floor.
fn places_beside(wall: &Segment, ends: &Ends, distance: f64, put: &mut impl FnMut(Point)) {
    let parts = ((wall.length() / SPACING).ceil() as usize).clamp(1, 1_000_000);
    for i in 0..=parts {
        let t = i as f64 / parts as f64;
        if let Some(direction) = wall.direction(t) {
            put(wall.at(t) + direction.left() * distance);
        }
    }
    let (Some(first), Some(last)) = (wall.direction(0.0), wall.direction(1.0)) else { return };
    let mut fan = |at: Point, from: Point, turn: f64| {
        let parts = ((turn.abs() * distance / SPACING).ceil() as usize).min(10_000);
        for i in 1..parts {
            put(at + from.rotated(turn * i as f64 / parts as f64) * distance);
        }
    };
    match ends.starts.get(&key(wall.end())) {
        // A turn to the right goes round a corner of the high side.
        Some(next) if last.cross(*next) < 0.0 => {
            fan(wall.end(), last.left(), -libm::acos(last.dot(*next).clamp(-1.0, 1.0)));
        }
        Some(_) => {}
        None => fan(wall.end(), last.left(), -std::f64::consts::PI),
    }
    if !ends.ends.contains(&key(wall.start())) {
        fan(wall.start(), first.left(), std::f64::consts::PI);
    }
}
