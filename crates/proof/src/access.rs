//! Where the allowed cutters can get, judged from the intent alone by the exact distance to the walls.
//!
//! A flat cutter of radius r clears a point of a floor if its axis can stand within r of the point while every wall
//! that stands above the floor is at least r away, every wall that stands above the end of its flutes is out of the
//! shank's way, and every wall above its stick-out out of the nut's. The excess of the least such distance over r is
//! nought or less where it gets, and is the gap where it doesn't; it changes by no more than the way between two
//! points, which lets a row be walked in strides.

use crate::intent::{Class, MARGIN, Standing, Wanted};
use plane::Point;
use plate::{Cutter, Form, Intent, Shop};
use std::collections::BTreeMap;

/// Widths and radii may come short by this, mm.
pub(crate) const SHORT: f64 = 0.002;

/// One allowed flat cutter on one floor.
struct Way {
    radius: f64,
    /// Walls to keep away from, each set with its distance.
    keep: Vec<(usize, f64)>,
}

/// The allowed flat cutters by floor.
pub(crate) struct Access<'a> {
    wanted: &'a Wanted<'a>,
    standings: Vec<Standing>,
    /// By class: the walls above its floor.
    floors: BTreeMap<Class, usize>,
    /// By class: its cutters, thinnest first.
    ways: BTreeMap<Class, Vec<Way>>,
    /// By class: whether some cutter is kept out by its flutes or stick-out alone.
    pub(crate) short_flutes: BTreeMap<Class, bool>,
}

impl<'a> Access<'a> {
    pub(crate) fn new(wanted: &'a Wanted<'a>, shop: &Shop, intent: &Intent) -> Self {
        let mut access = Self {
            wanted,
            standings: vec![],
            floors: BTreeMap::new(),
            ways: BTreeMap::new(),
            short_flutes: BTreeMap::new(),
        };
        let mut cutters: Vec<&Cutter> = intent.cutters.iter().filter_map(|&n| shop.cutter(n)).collect();
        cutters.retain(|c| c.form == Form::Flat && c.radius() > 0.0);
        cutters.sort_by(|a, b| a.radius().total_cmp(&b.radius()));
        let classes = (0..intent.areas.len()).map(|i| crate::intent::AREAS + i as Class);
        for class in classes.chain(intent.outline.as_ref().map(|_| MARGIN)) {
            // A floor below the blank's underside has walls from the underside up.
            let floor = wanted.floor(class);
            let own = access.standing(floor);
            access.floors.insert(class, own);
            let mut ways = Vec::new();
            let mut short = false;
            for cutter in &cutters {
                let mut keep = vec![(own, cutter.radius())];
                let nut = shop.spindle.nut_diameter.to_mm() / 2.0;
                for (from, radius) in
                    [(cutter.flute_length.to_mm(), cutter.shank.to_mm() / 2.0), (cutter.stick_out.to_mm(), nut)]
                {
                    if floor + from < wanted.face_high - SHORT && radius > cutter.radius() + SHORT {
                        keep.push((access.standing(floor + from), radius));
                        short = true;
                    }
                }
                ways.push(Way { radius: cutter.radius(), keep });
            }
            access.ways.insert(class, ways);
            access.short_flutes.insert(class, short);
        }
        access
    }

    fn standing(&mut self, above: f64) -> usize {
        if let Some(i) = self.standings.iter().position(|s| (s.above - above).abs() < 1e-6) {
            return i;
        }
        self.standings.push(self.wanted.standing(above));
        self.standings.len() - 1
    }

    /// Whether any allowed flat cutter may be used at all.
    pub(crate) fn has_cutters(&self, class: Class) -> bool {
        self.ways.get(&class).is_some_and(|w| !w.is_empty())
    }

    /// Radius of the thinnest allowed flat cutter, mm; 0 without one.
    pub(crate) fn thinnest(&self, class: Class) -> f64 {
        self.ways.get(&class).and_then(|w| w.first()).map_or(0.0, |w| w.radius)
    }

    /// Distance to the nearest wall above a class's floor, and that wall's top.
    pub(crate) fn wall(&self, class: Class, p: Point) -> (f64, f64) {
        let Some(standing) = self.floors.get(&class).map(|&i| &self.standings[i]) else {
            return (f64::INFINITY, f64::INFINITY);
        };
        let found = standing.walls.nearest(p);
        found.map_or((f64::INFINITY, self.wanted.face_high), |n| (n.distance, standing.tops[n.segment]))
    }

    /// How far a point of a floor is beyond the reach of the allowed cutters, mm; nought or less is within. The exact
    /// figure is only a bound where it is well within. With the radius of the cutter that comes nearest.
    pub(crate) fn beyond(&self, class: Class, p: Point) -> (f64, f64) {
        let mut best = (f64::INFINITY, 0.0);
        for way in self.ways.get(&class).map_or(&[][..], |w| &w[..]) {
            let distance = self.nearest_stand(way, class, p);
            if distance - way.radius < best.0 {
                best = (distance - way.radius, way.radius);
            }
            if best.0 <= 0.0 {
                break;
            }
        }
        best
    }

    /// Whether some cutter's axis may stand at a point with its edge on the wall: the plain case of a wall probe.
    pub(crate) fn stands_beside(&self, class: Class, wall: Point, inward: Point) -> bool {
        self.ways.get(&class).is_some_and(|ways| {
            ways.iter().any(|w| {
                let c = wall + inward * w.radius;
                self.push_away(w, c).is_none() && self.is_free(class, c)
            })
        })
    }

    /// Distance from a point to the nearest place where the axis may stand, found by turns: toward the point, then
    /// away from what is too near. Infinite if none is found.
    fn nearest_stand(&self, way: &Way, class: Class, p: Point) -> f64 {
        let Some(mut c) = self.settle(way, p).filter(|&c| self.is_free(class, c)) else {
            return self.look_round(way, class, p);
        };
        let mut best = c.distance(p);
        // Only near the limit does the exact place matter.
        for step in 0..24 {
            if best <= 0.9 * way.radius {
                break;
            }
            let pull = if step < 12 { 0.5 } else { 0.1 };
            let Some(next) = self.settle(way, c.lerp(p, pull)) else { break };
            let distance = next.distance(p);
            if distance >= best - 1e-5 {
                if step >= 12 || pull < 0.2 {
                    break;
                }
                // A long pull that overshoots: try the shorter one.
                let Some(short) = self.settle(way, c.lerp(p, 0.05)) else { break };
                if short.distance(p) >= best - 1e-6 || !self.is_free(class, short) {
                    break;
                }
                (c, best) = (short, short.distance(p));
                continue;
            }
            if !self.is_free(class, next) {
                break;
            }
            (c, best) = (next, distance);
        }
        best
    }

    /// Whether the axis may stand somewhere just within the radius all round: the mouth of a narrow, say.
    fn look_round(&self, way: &Way, class: Class, p: Point) -> f64 {
        let near = 0.98 * way.radius;
        let found = (0..16).any(|k| {
            let c = p + Point::at_angle(f64::from(k) * std::f64::consts::TAU / 16.0) * near;
            self.push_away(way, c).is_none() && self.is_free(class, c)
        });
        if found { near } else { f64::INFINITY }
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
            if near.distance < distance - SHORT {
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

    fn is_free(&self, class: Class, c: Point) -> bool {
        let ground = self.wanted.class_at(c);
        ground == class || ground == MARGIN || self.wanted.floor(ground) <= self.wanted.floor(class) + 1e-6
    }
}
