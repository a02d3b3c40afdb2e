//! The plate as wanted, prepared for questions: what height at a point, which walls stand above a floor.
//!
//! Every boundary is cut into pieces with one kind of ground on each side. The wall between a high and a low side
//! belongs to the low side.

use memo::{Key, Memo, Print};
use plane::{Bounds, Point, Region, Segment, SegmentIndex};
use plate::{Area, EdgeProfile, FloorKind, Held, Intent};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Kind of ground at a point.
pub(crate) type Class = u16;
/// The plate's face.
pub(crate) const FACE: Class = 0;
/// Outside the plate's edge.
pub(crate) const MARGIN: Class = 1;
/// The first area; the others follow.
pub(crate) const AREAS: Class = 2;

/// How far beside a boundary its other side is looked at, mm.
const BESIDE: f64 = 0.010;
/// How far inside the plate's edge, where the plate is thinner than that: a cutter must keep off the finest spike too.
const WITHIN_SPIKES: [f64; 3] = [0.003, 0.001, 0.000_3];
/// Pieces of boundary are looked at this often, mm.
const LOOK: f64 = 0.1;

/// A piece of boundary with ground of one class on each side; low side to the left.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wall {
    pub(crate) path: Segment,
    /// Class of the low side.
    pub(crate) low: Class,
    /// Class of the high side.
    pub(crate) high: Class,
}

/// What stands above a height.
pub(crate) struct Standing {
    pub(crate) above: f64,
    pub(crate) walls: SegmentIndex,
    /// Height of each wall's top.
    pub(crate) tops: Vec<f64>,
    pub(crate) ends: Ends,
}

/// The intent with its boundaries sorted.
pub(crate) struct Wanted<'a> {
    pub(crate) intent: &'a Intent,
    pub(crate) face: f64,
    pub(crate) face_high: f64,
    pub(crate) underside: f64,
    pub(crate) size: Bounds,
    pub(crate) walls: Vec<Wall>,
    /// All boundary segments, with their owner's class.
    pub(crate) edges: SegmentIndex,
    owners: Vec<Class>,
    boxes: Vec<Bounds>,
    /// The contours and the blank's size, without any height; `None` where nothing is kept.
    pub(crate) contours: Option<Print>,
}

impl<'a> Wanted<'a> {
    pub(crate) fn new(intent: &'a Intent) -> Self {
        Self::again(intent, &Memo::none())
    }

    /// The same, with what was kept of other intents used again.
    pub(crate) fn again(intent: &'a Intent, memo: &Memo) -> Self {
        let blank = &intent.blank;
        let mut segments = Vec::new();
        let mut owners = Vec::new();
        let mut add = |region: &Region, class: Class| {
            for segment in region.contours().flat_map(|c| c.segments().collect::<Vec<_>>()) {
                if segment.length() > 0.0 {
                    segments.push(segment);
                    owners.push(class);
                }
            }
        };
        for (i, area) in intent.areas.iter().enumerate() {
            add(&area.region, AREAS + i as Class);
        }
        if let Some(outline) = &intent.outline {
            add(&outline.inside, MARGIN);
        }
        let mut wanted = Self {
            intent,
            face: blank.face.to_mm(),
            face_high: blank.face_high.to_mm().max(blank.face.to_mm()),
            underside: blank.underside.to_mm(),
            size: Bounds {
                min: Point::default(),
                max: Point::new(blank.size[0].to_mm().max(0.0), blank.size[1].to_mm().max(0.0)),
            },
            walls: Vec::new(),
            edges: SegmentIndex::new(segments),
            owners,
            boxes: intent.areas.iter().map(|a| a.region.bounds()).collect(),
            contours: None,
        };
        wanted.contours = memo.keeps().then(|| wanted.contours());
        wanted.walls = wanted.find_walls(memo);
        wanted
    }

    pub(crate) fn area(&self, class: Class) -> Option<&'a Area> {
        self.intent.areas.get(usize::from(class.checked_sub(AREAS)?))
    }

    /// The class of the ground at a point.
    pub(crate) fn class_at(&self, p: Point) -> Class {
        if self.intent.outline.as_ref().is_some_and(|o| !o.inside.contains(p)) || !self.size.contains(p) {
            return MARGIN;
        }
        let found =
            (0..self.boxes.len()).find(|&i| self.boxes[i].contains(p) && self.intent.areas[i].region.contains(p));
        found.map_or(FACE, |i| AREAS + i as Class)
    }

    /// Height to which ground of a class is cleared (the face as it stands on the thickest blank; the floor of the
    /// cut around the plate for the margin).
    pub(crate) fn floor(&self, class: Class) -> f64 {
        match class {
            FACE => self.face_high,
            MARGIN => self.intent.outline.as_ref().map_or(f64::NEG_INFINITY, |o| o.floor.to_mm()),
            _ => self.area(class).map_or(self.face_high, |a| a.floor.to_mm()),
        }
    }

    /// Whether ground of a class must be cleared everywhere, not only along its walls.
    pub(crate) fn clears(&self, class: Class) -> bool {
        self.area(class).is_some_and(|a| {
            a.kind != FloorKind::Through || !matches!(a.held, Held::Tabs(_) | Held::Skin(_) | Held::Stated(_))
        })
    }

    /// How a class's walls lean: mm outward for each mm of height.
    pub(crate) fn lean(&self, class: Class) -> f64 {
        self.area(class).map_or(0.0, |a| match a.edge {
            EdgeProfile::Upright => 0.0,
            EdgeProfile::Sloped(angle) => libm::tan(angle.to_rad()).max(0.0),
            EdgeProfile::FollowsWidth(angle) => libm::tan(angle.to_rad() / 2.0).max(0.0),
        })
    }

    pub(crate) fn name(&self, class: Class) -> &'a str {
        match class {
            FACE => "the face",
            MARGIN => self.intent.outline.as_ref().map_or("the margin", |o| &o.name),
            _ => self.area(class).map_or("", |a| &a.name),
        }
    }

    fn contours(&self) -> Print {
        let key = Key::named("contours").with(&[self.size.min, self.size.max]);
        let key = self.intent.areas.iter().fold(key, |key, area| key.with(&area.region));
        key.with(&self.intent.outline.as_ref().map(|o| &o.inside)).print()
    }

    /// The pieces of boundary beside ground that stands higher.
    fn find_walls(&self, memo: &Memo) -> Vec<Wall> {
        // What lies beside an edge is told by the contours alone, whatever their heights.
        let pieces = memo.recall(
            || Key::named("beside edges").with(&self.contours),
            || (0..self.owners.len()).into_par_iter().flat_map_iter(|i| self.pieces(i)).collect::<Vec<Wall>>(),
        );
        let stands = |w: &&Wall| w.high != MARGIN && self.floor(w.high) > self.floor(w.low) + 1e-6;
        pieces.iter().filter(stands).copied().collect()
    }

    /// An edge in pieces, each with the ground on its other side as if that were the higher one.
    fn pieces(&self, i: usize) -> Vec<Wall> {
        let mut pieces = Vec::new();
        let (segment, owner) = (self.edges.segments()[i], self.owners[i]);
        // The plate's edge has the plate to its left: turned round, the margin is left, like an area's inside.
        let (segment, own) = if owner == MARGIN { (segment.reversed(), MARGIN) } else { (segment, owner) };
        let parts = ((segment.length() / LOOK).ceil() as usize).clamp(2, 10_000);
        let mid = |k: usize| (k as f64 + 0.5) / parts as f64;
        let other = |t: f64| self.beside(&segment, t, own);
        let mut begin = 0.0;
        let mut class = other(mid(0));
        let mut put = |t0: f64, t1: f64, high: Class| {
            let path = if t0 <= 0.0 && t1 >= 1.0 { segment } else { segment.piece(t0, t1) };
            pieces.push(Wall { path, low: own, high });
        };
        for k in 1..parts {
            let next = other(mid(k));
            if next != class {
                let (mut a, mut b) = (mid(k - 1), mid(k));
                while (b - a) * segment.length() > 1e-4 {
                    let m = 0.5 * (a + b);
                    if other(m) == class { a = m } else { b = m }
                }
                put(begin, b, class);
                (begin, class) = (b, next);
            }
        }
        put(begin, 1.0, class);
        pieces
    }

    /// The class on the right of a segment.
    fn beside(&self, segment: &Segment, t: f64, own: Class) -> Class {
        let p = segment.at(t);
        let Some(direction) = segment.direction(t) else { return own };
        let q = p - direction.left() * BESIDE;
        let mut others_near = false;
        let near = Bounds { min: p, max: p }.grown(2.5 * BESIDE);
        self.edges.for_each_near(near, |j, other| {
            others_near |= self.owners[j] != own && other.distance(p) < 2.5 * BESIDE;
        });
        if !others_near && own != MARGIN && self.size.contains(q) {
            return FACE;
        }
        let class = self.class_at(q);
        if own != MARGIN || class != MARGIN {
            return class;
        }
        let mut nearer = WITHIN_SPIKES.into_iter().map(|by| self.class_at(p - direction.left() * by));
        nearer.find(|&c| c != MARGIN).unwrap_or(MARGIN)
    }

    /// The walls that stand above a height.
    pub(crate) fn standing(&self, above: f64) -> Standing {
        // The margin is never in the way.
        let open = |low: Class| low == MARGIN || self.floor(low) <= above + 1e-6;
        let stands = |w: &&Wall| open(w.low) && self.floor(w.high) > above + 1e-6;
        let kept: Vec<&Wall> = self.walls.iter().filter(stands).collect();
        let paths: Vec<Segment> = kept.iter().map(|w| w.path).collect();
        Standing {
            above,
            ends: Ends::new(&paths),
            walls: SegmentIndex::new(paths),
            tops: kept.iter().map(|w| self.floor(w.high)).collect(),
        }
    }
}

/// Directions in which walls leave their starts and reach their ends.
pub(crate) struct Ends {
    pub(crate) starts: BTreeMap<(u64, u64), Point>,
    pub(crate) ends: BTreeSet<(u64, u64)>,
}

pub(crate) fn key(p: Point) -> (u64, u64) {
    (p.x.to_bits(), p.y.to_bits())
}

impl Ends {
    fn new(walls: &[Segment]) -> Self {
        let starts = walls.iter().filter_map(|w| Some((key(w.start()), w.direction(0.0)?))).collect();
        let ends = walls.iter().map(|w| key(w.end())).collect();
        Self { starts, ends }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plane::Contour;
    use plate::{Blank, Outline};
    use quantity::{Height, Length};

    /// A whisker of the plate thinner than the look beside its edges has walls all round, so that no cutter is asked to get through it.
    #[test]
    fn a_whisker_of_the_plate_has_walls() {
        let corners = [
            (10.0, 10.0),
            (50.0, 10.0),
            (50.0, 24.996),
            (52.0, 24.9995),
            (52.0, 25.0005),
            (50.0, 25.004),
            (50.0, 40.0),
        ];
        let edge = Contour::polygon(corners.into_iter().chain([(10.0, 40.0)]).map(|(x, y)| Point::new(x, y)));
        let length = edge.length();
        let height = Height::mm(3.0);
        let blank = Blank {
            size: [Length::mm(80.0), Length::mm(60.0)],
            layers: Vec::new(),
            bond: Length::ZERO,
            under: Vec::new(),
            into_table: Length::ZERO,
            underside: Height::ZERO,
            face: height,
            face_low: height,
            face_high: height,
        };
        let outline = Outline {
            name: "plate".into(),
            inside: Region::solid(edge),
            floor: Height::ZERO,
            held: Held::Nothing,
            line: 1,
        };
        let intent = Intent {
            title: String::new(),
            blank,
            areas: Vec::new(),
            outline: Some(outline),
            holds: Vec::new(),
            cutters: Vec::new(),
        };
        let wanted = Wanted::new(&intent);
        assert!(wanted.walls.iter().all(|w| (w.low, w.high) == (MARGIN, FACE)));
        let found: f64 = wanted.walls.iter().map(|w| w.path.length()).sum();
        assert!((found - length).abs() < 0.01, "{found} of {length}");
    }
}
