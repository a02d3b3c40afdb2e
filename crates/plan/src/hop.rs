//! Hops: a way between two places near each other runs just above the face, not above all holds, where none is near. On
//! lettering the way up and down to the height of traverses is more than the cutting.
//!
//! All that can stand there is the blank, whose face is taken as high as the blank's tolerances allow.

use motion::{At, Move};
use plane::{Bounds, Point};
use plate::{Intent, Machine, Shop};
use reckon::pace::{self, Step};

/// How high above the highest face, mm (common practice, no source).
const ABOVE: f64 = 1.0;
/// Farther ways are traverses, mm (our own limit, no source).
const FARTHEST: f64 = 25.0;
/// What must be clear of holds beside the collet nut, mm (our own limit, no source).
const BESIDE: f64 = 8.0;

/// Where a cutter may hop.
pub(crate) struct Hops<'a> {
    machine: &'a Machine,
    /// Height of hops and of traverses, mm.
    height: f64,
    traverse: f64,
    /// Where the axis is too near a hold.
    holds: Vec<Bounds>,
}

impl<'a> Hops<'a> {
    pub(crate) fn new(shop: &'a Shop, intent: &Intent) -> Self {
        let near = shop.spindle.nut_diameter.to_mm() / 2.0 + BESIDE;
        Self {
            machine: &shop.machine,
            height: intent.blank.face_high.to_mm() + ABOVE,
            traverse: crate::traverse(shop, intent).to_mm(),
            holds: intent.holds.iter().map(|h| h.shape.bounds().grown(near)).collect(),
        }
    }

    /// The height, mm.
    pub(crate) fn height(&self) -> f64 {
        self.height.min(self.traverse)
    }

    /// Whether the way between two places may be a hop.
    pub(crate) fn between(&self, a: Point, b: Point) -> bool {
        let way = Bounds::of([a, b]);
        self.height < self.traverse && a.distance(b) <= FARTHEST && !self.holds.iter().any(|h| h.meets(way))
    }

    /// Lowers every way up, over and down that may be a hop.
    pub(crate) fn lower(&self, moves: &mut [Move]) {
        let moving: Vec<usize> = (0..moves.len()).filter(|&i| !matches!(moves[i], Move::Pass(_))).collect();
        let rapid = |i: usize, moves: &[Move]| match moves[i] {
            Move::Rapid(to) => Some(to),
            _ => None,
        };
        for k in 1..moving.len() {
            let (Some(from), Some(up)) = (moves[moving[k - 1]].end(), rapid(moving[k], moves)) else { continue };
            if up.z != self.traverse || from.p != up.p || from.z >= self.height {
                continue;
            }
            // The way over is left out where the cutter comes down again at the same place.
            let over: Vec<usize> = moving[k + 1..]
                .iter()
                .copied()
                .take_while(|&i| rapid(i, moves).is_some_and(|to| to.z == self.traverse))
                .collect();
            let (at, next) = match over[..] {
                [] => (up.p, moving.get(k + 1)),
                [i] => (rapid(i, moves).map_or(up.p, |to| to.p), moving.get(k + 2)),
                _ => continue,
            };
            let Some(down) = next.and_then(|&i| rapid(i, moves)) else { continue };
            if down.p == at && down.z < self.height && self.between(up.p, at) {
                moves[moving[k]] = Move::Rapid(At::new(up.p, self.height));
                over.iter().for_each(|&i| moves[i] = Move::Rapid(At::new(at, self.height)));
            }
        }
    }

    /// Seconds that a hop saves, from one height and down to another, mm.
    pub(crate) fn saved(&self, from: f64, to: f64) -> f64 {
        let rise = |from: f64, to: f64| pace::seconds(self.machine, &[Step::Rapid { by: [0.0, 0.0, to - from] }]);
        let ends = [from, to].into_iter();
        ends.map(|z| rise(z, self.traverse) - rise(z, self.height)).sum()
    }
}
