//! A static tree of boxes: all that meet a box, and the first below a point, in n log n whatever the spread of sizes.
//!
//! Unlike a uniform grid it does not mind one feature of a micrometre in a metre. The nodes lie in pre-order, each
//! with the place where its subtree ends, so that a walk needs no stack. The same boxes give the same tree.

use crate::{Bounds, Point};

/// Boxes in a leaf.
const LEAF: usize = 6;

#[derive(Debug, Clone, Copy)]
struct Node {
    bounds: Bounds,
    /// The next node that is not below this one.
    end: u32,
    /// The leaf's members; empty for an inner node.
    from: u32,
    to: u32,
}

/// Boxes sorted for searching.
#[derive(Debug, Clone, Default)]
pub(crate) struct BoxTree {
    nodes: Vec<Node>,
    members: Vec<u32>,
    boxes: Vec<Bounds>,
}

impl BoxTree {
    pub(crate) fn new(boxes: Vec<Bounds>) -> Self {
        let mut tree = Self { nodes: Vec::new(), members: (0..boxes.len() as u32).collect(), boxes };
        if !tree.boxes.is_empty() {
            tree.build(0, tree.boxes.len());
        }
        tree
    }

    /// Halves the members at the median of the longer side; the depth is the logarithm of their number.
    fn build(&mut self, from: usize, to: usize) {
        let members = &self.members[from..to];
        let bounds = members.iter().fold(Bounds::EMPTY, |b, &i| b.union(self.boxes[i as usize]));
        let at = self.nodes.len();
        self.nodes.push(Node { bounds, end: 0, from: 0, to: 0 });
        if to - from <= LEAF {
            (self.nodes[at].from, self.nodes[at].to) = (from as u32, to as u32);
        } else {
            let spread = Bounds::of(members.iter().map(|&i| self.boxes[i as usize].centre()));
            let wide = spread.width() >= spread.height();
            let boxes = &self.boxes;
            let key = |i: u32| {
                let c = boxes[i as usize].centre();
                if wide { c.x } else { c.y }
            };
            let half = (to - from) / 2;
            self.members[from..to].select_nth_unstable_by(half, |&i, &j| key(i).total_cmp(&key(j)).then(i.cmp(&j)));
            self.build(from, from + half);
            self.build(from + half, to);
        }
        self.nodes[at].end = self.nodes.len() as u32;
    }

    /// Calls `visit` with the index of every box that meets `bounds`.
    pub(crate) fn for_each_meeting(&self, bounds: Bounds, mut visit: impl FnMut(usize)) {
        let mut at = 0;
        while let Some(node) = self.nodes.get(at) {
            if !node.bounds.meets(bounds) {
                at = node.end as usize;
                continue;
            }
            for &i in &self.members[node.from as usize..node.to as usize] {
                if self.boxes[i as usize].meets(bounds) {
                    visit(i as usize);
                }
            }
            at += 1;
        }
    }

    /// Calls `visit` with boxes that have a point straight below `p`; `visit` gives the least y still of interest.
    pub(crate) fn for_each_below(&self, p: Point, mut visit: impl FnMut(usize) -> f64) {
        let mut least = f64::NEG_INFINITY;
        let of_interest =
            |b: Bounds, least: f64| b.min.x <= p.x && b.max.x >= p.x && b.min.y <= p.y && b.max.y >= least;
        let mut open: Vec<usize> = if self.nodes.is_empty() { Vec::new() } else { vec![0] };
        while let Some(at) = open.pop() {
            let node = self.nodes[at];
            if !of_interest(node.bounds, least) {
                continue;
            }
            if node.to > node.from {
                for &i in &self.members[node.from as usize..node.to as usize] {
                    if of_interest(self.boxes[i as usize], least) {
                        least = visit(i as usize);
                    }
                }
                continue;
            }
            let (first, second) = (at + 1, self.nodes[at + 1].end as usize);
            // What reaches higher is looked at first, so that most of the rest is soon of no interest.
            let higher = self.nodes[first].bounds.max.y > self.nodes[second].bounds.max.y;
            open.extend(if higher { [second, first] } else { [first, second] });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn finds_what_meets(
            boxes in prop::collection::vec((0.0..100.0f64, 0.0..100.0f64, 0.0..9.0f64, 0.0..9.0f64), 0..80),
            asked in (0.0..100.0f64, 0.0..100.0f64, 0.0..30.0f64, 0.0..30.0f64),
        ) {
            let of = |b: &(f64, f64, f64, f64)| {
                let min = Point::new(b.0, b.1);
                Bounds { min, max: min + Point::new(b.2, b.3) }
            };
            let boxes: Vec<Bounds> = boxes.iter().map(of).collect();
            let asked = of(&asked);
            let mut found = Vec::new();
            BoxTree::new(boxes.clone()).for_each_meeting(asked, |i| found.push(i));
            found.sort_unstable();
            let all: Vec<usize> = (0..boxes.len()).filter(|&i| boxes[i].meets(asked)).collect();
            prop_assert_eq!(found, all);
        }
    }
}
