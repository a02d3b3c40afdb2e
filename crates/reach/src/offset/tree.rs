//! Edges in blocks of blocks: which of them may come within a distance of a piece.
//!
//! Edges lie in the order of their rings, so neighbours in the list are neighbours in the plane. A block knows its box
//! and, where it is one run of a ring, the chord it follows and by how much it leaves it: a finely divided curve at a
//! slant has fat boxes but a thin chord.

use super::edge::{Curve, Edge};
use plane::{Bounds, Point};

/// Edges in a lowest block, and blocks in a higher one.
const WIDTH: usize = 4;

#[derive(Debug, Clone, Copy)]
struct Block {
    bounds: Bounds,
    /// The chord's ends and how far the run strays from it, mm; infinite where the block is not one run.
    a: Point,
    b: Point,
    stray: f64,
}

/// Blocks over a list of edges.
#[derive(Debug)]
pub(super) struct Tree {
    /// Lowest first; the last level has one block.
    levels: Vec<Vec<Block>>,
}

/// Where a piece is, for the tree: its box grown by the distance, and a disc around it.
pub(super) struct Place {
    pub(super) bounds: Bounds,
    pub(super) middle: Point,
    pub(super) half: f64,
    pub(super) r: f64,
}

impl Place {
    fn may_reach(&self, block: &Block) -> bool {
        self.bounds.meets(block.bounds) && !(self.clear_of(block))
    }

    /// Whether the chord is so far that nothing of the run comes within the distance.
    fn clear_of(&self, block: &Block) -> bool {
        let free = self.r + self.half + block.stray;
        if !free.is_finite() {
            return false;
        }
        let (chord, to) = (block.b - block.a, self.middle - block.a);
        let square = chord.dot(chord);
        let t = if square > 0.0 { (to.dot(chord) / square).clamp(0.0, 1.0) } else { 0.0 };
        let off = to - chord * t;
        off.dot(off) > free * free
    }
}

impl Tree {
    pub(super) fn over(edges: &[Edge]) -> Self {
        let mut levels = vec![edges.chunks(WIDTH).map(block_of).collect::<Vec<_>>()];
        let mut span = WIDTH;
        while let Some(below) = levels.last()
            && below.len() > 1
        {
            span *= WIDTH;
            // A chord's stray is measured from the edges again up to a size where the box serves as well.
            let blocks = below.chunks(WIDTH).zip(edges.chunks(span)).map(|(blocks, run)| {
                let bounds = blocks.iter().fold(Bounds::EMPTY, |b, c| b.union(c.bounds));
                if blocks.iter().all(|b| b.stray.is_finite()) {
                    Block { bounds, ..block_of(run) }
                } else {
                    Block { bounds, a: run[0].a, b: run[0].b, stray: f64::INFINITY }
                }
            });
            let level = blocks.collect();
            levels.push(level);
        }
        Self { levels }
    }

    /// Calls `visit` with the index of each edge that may come within the place's distance, in order, until it says
    /// that it has had enough by returning `false`.
    pub(super) fn near(&self, edges: &[Edge], place: &Place, visit: &mut impl FnMut(usize) -> bool) {
        let top = self.levels.len() - 1;
        for k in 0..self.levels[top].len() {
            if !self.descend(top, k, edges, place, visit) {
                return;
            }
        }
    }

    fn descend(
        &self,
        level: usize,
        k: usize,
        edges: &[Edge],
        place: &Place,
        visit: &mut impl FnMut(usize) -> bool,
    ) -> bool {
        if !place.may_reach(&self.levels[level][k]) {
            return true;
        }
        let from = k * WIDTH;
        if level == 0 {
            let to = (from + WIDTH).min(edges.len());
            return (from..to).all(|i| !place.bounds.meets(edges[i].bounds) || visit(i));
        }
        let to = (from + WIDTH).min(self.levels[level - 1].len());
        (from..to).all(|child| self.descend(level - 1, child, edges, place, visit))
    }
}

fn block_of(run: &[Edge]) -> Block {
    let bounds = run.iter().fold(Bounds::EMPTY, |b, e| b.union(e.bounds));
    let (a, b) = (run[0].a, run[run.len() - 1].b);
    let joined = run.windows(2).all(|w| w[0].b == w[1].a);
    let stray = if joined { run.iter().map(|e| stray_of(e, a, b)).fold(0.0, f64::max) } else { f64::INFINITY };
    Block { bounds, a, b, stray }
}

/// How far an edge can be from a chord, at most, mm.
fn stray_of(edge: &Edge, a: Point, b: Point) -> f64 {
    let chord = b - a;
    let square = chord.dot(chord);
    let from_chord = |p: Point| {
        let to = p - a;
        let t = if square > 0.0 { (to.dot(chord) / square).clamp(0.0, 1.0) } else { 0.0 };
        (to - chord * t).norm()
    };
    let sagitta = match edge.curve {
        Curve::Line { .. } => 0.0,
        Curve::Arc { radius, sweep, .. } => radius * (1.0 - libm::cos((sweep.abs() / 2.0).min(std::f64::consts::PI))),
    };
    from_chord(edge.a).max(from_chord(edge.b)) + sagitta
}
