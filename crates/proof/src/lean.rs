//! Walls that lean: how high the ground beside them shall be, and where a vee makes it so.
//!
//! A wall of top T that leans by l (mm outward for each mm of height) asks for a height of T - d / l at a distance d from its
//! upper edge; of several the highest counts, and nowhere less than the floor (derived). A vee of that lean whose tip has
//! a flat of radius t makes this height at a point if the tip can stand t further from the wall without cutting into
//! another: with a pointed tip everywhere, else not in corners nor where walls meet. What lies there is hand work.

use crate::intent::{AREAS, Class, FACE, Wanted};
use plane::{Point, SegmentIndex};
use plate::{Form, Shop};
use std::collections::BTreeMap;

/// A vee's angle may differ from a wall's by this, degrees.
const SAME_ANGLE: f64 = 0.101;
/// A stand that lacks no more than this is one, mm.
const ROUNDING: f64 = 1e-6;
/// Tops that differ by less than this are one, mm.
const SAME_TOP: f64 = 1e-9;

/// The leaning walls of one class.
struct Walls {
    floor: f64,
    lean: f64,
    /// Radius of the flat at the tip of the finest allowed vee that leans so; 0 where there's none, so that all that is left is a
    /// fault.
    tip: f64,
    /// Walls above the floor by the height of their tops.
    by_top: Vec<(f64, SegmentIndex)>,
}

/// What is asked of a point beside leaning walls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Asked {
    pub(crate) height: f64,
    /// Heights that are still right where the walls may be off by a tolerance.
    pub(crate) least: f64,
    pub(crate) most: f64,
    /// How far the point lies inside of where the floor is level, mm; negative on the walls.
    pub(crate) inside: f64,
    /// The wall that decides, or the nearest to deciding: the place on it and its top.
    pub(crate) wall: Option<(Point, f64)>,
}

/// The leaning walls of a plate.
pub(crate) struct Leaning {
    by_class: BTreeMap<Class, Walls>,
    /// Walls that begin at the face, by their lean: on a blank thicker than measured they go on outward.
    in_face: Vec<(f64, SegmentIndex)>,
    face: f64,
}

impl Leaning {
    pub(crate) fn new(wanted: &Wanted, shop: &Shop) -> Self {
        let mut by_class = BTreeMap::new();
        for i in 0..wanted.intent.areas.len() {
            let class = AREAS + i as Class;
            let lean = wanted.lean(class);
            if lean > 0.0 {
                by_class.insert(class, Walls::new(wanted, shop, class, lean));
            }
        }
        let mut in_face: Vec<(f64, Vec<plane::Segment>)> = Vec::new();
        for wall in wanted.walls.iter().filter(|w| w.high == FACE) {
            let lean = wanted.lean(wall.low);
            if lean > 0.0 {
                match in_face.iter_mut().find(|(l, _)| *l == lean) {
                    Some((_, paths)) => paths.push(wall.path),
                    None => in_face.push((lean, vec![wall.path])),
                }
            }
        }
        let in_face = in_face.into_iter().map(|(lean, paths)| (lean, SegmentIndex::new(paths))).collect();
        Self { by_class, in_face, face: wanted.face }
    }

    /// What is asked at a point of a class whose walls lean; walls may be `off` by so much.
    pub(crate) fn asked(&self, class: Class, p: Point, off: f64) -> Option<Asked> {
        self.by_class.get(&class).map(|w| w.asked(p, off))
    }

    /// How much a vee lacks to make the height asked at a point of a wall, mm; nought or less is within reach.
    pub(crate) fn beyond_vee(&self, class: Class, p: Point, asked: &Asked) -> f64 {
        let (Some(walls), Some((at, _))) = (self.by_class.get(&class), asked.wall) else { return 0.0 };
        if walls.tip <= 0.0 {
            return 0.0;
        }
        let Some(away) = (p - at).unit() else { return walls.tip };
        let stand = p + away * walls.tip;
        walls.short(stand, asked.height).max(0.0)
    }

    /// The radius of the flat at the tip of the vee that makes a class's walls, mm.
    pub(crate) fn tip(&self, class: Class) -> f64 {
        self.by_class.get(&class).map_or(0.0, |w| w.tip)
    }

    /// Distance from the edge at which a class's floor begins, mm.
    pub(crate) fn foot(&self, class: Class) -> f64 {
        let foot = |w: &Walls| w.by_top.iter().map(|(top, _)| w.lean * (top - w.floor)).fold(0.0, f64::max);
        self.by_class.get(&class).map_or(0.0, foot)
    }

    /// Whether any leaning wall begins at the face.
    pub(crate) fn begins_in_face(&self) -> bool {
        !self.in_face.is_empty()
    }

    /// Whether the face may be this low at a point: above where it was measured, beside a leaning wall that goes on outward.
    pub(crate) fn spares_face(&self, p: Point, height: f64, off: f64) -> bool {
        self.in_face.iter().any(|(lean, walls)| {
            let least = |d: f64| self.face + (d - off) / lean;
            // No wall further off than this would allow it.
            let farthest = (height - self.face) * lean + 2.0 * off;
            walls.nearest_within(p, farthest.max(0.0)).is_some_and(|n| height >= least(n.distance))
        })
    }
}

impl Walls {
    fn new(wanted: &Wanted, shop: &Shop, class: Class, lean: f64) -> Self {
        let floor = wanted.floor(class);
        let standing = wanted.standing(floor);
        let mut by_top: Vec<(f64, Vec<plane::Segment>)> = Vec::new();
        for (wall, top) in standing.walls.segments().iter().zip(&standing.tops) {
            let top = top.min(wanted.face);
            match by_top.iter_mut().find(|(t, _)| (t - top).abs() < SAME_TOP) {
                Some((_, paths)) => paths.push(*wall),
                None => by_top.push((top, vec![*wall])),
            }
        }
        by_top.sort_by(|a, b| b.0.total_cmp(&a.0));
        let degrees = 2.0 * libm::atan(lean).to_degrees();
        let allowed = wanted.intent.cutters.iter().filter_map(|&n| shop.cutter(n));
        let tips = allowed.filter_map(|c| match c.form {
            Form::Vee { angle, tip } if (angle.to_deg() - degrees).abs() <= SAME_ANGLE => {
                Some((tip.to_mm() / 2.0).min(c.radius()))
            }
            _ => None,
        });
        let by_top = by_top.into_iter().map(|(top, paths)| (top, SegmentIndex::new(paths))).collect();
        Self { floor, lean, tip: tips.reduce(f64::min).unwrap_or(0.0), by_top }
    }

    fn asked(&self, p: Point, off: f64) -> Asked {
        let mut asked =
            Asked { height: self.floor, least: self.floor, most: self.floor, inside: f64::INFINITY, wall: None };
        for (top, walls) in &self.by_top {
            let Some(near) = walls.nearest(p) else { continue };
            let inside = near.distance - self.lean * (top - self.floor);
            if inside < asked.inside {
                (asked.inside, asked.wall) = (inside, Some((near.at, *top)));
            }
            let height = |d: f64| top - d.max(0.0) / self.lean;
            asked.height = asked.height.max(height(near.distance));
            asked.least = asked.least.max(height(near.distance + off));
            asked.most = asked.most.max(height(near.distance - off));
        }
        asked
    }

    /// How much a vee's tip at a place and height is too near a wall, mm.
    fn short(&self, stand: Point, height: f64) -> f64 {
        let short = |(top, walls): &(f64, SegmentIndex)| {
            let needed = self.tip + self.lean * (top - height).max(0.0);
            walls.nearest_within(stand, needed).map_or(0.0, |n| needed - n.distance)
        };
        let worst = self.by_top.iter().map(short).fold(0.0, f64::max);
        if worst <= ROUNDING { 0.0 } else { worst }
    }
}
