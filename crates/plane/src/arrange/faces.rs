//! The faces of an arrangement and how often each is gone round.
//!
//! Round every node the edges are put in order by where they cross a small circle about it, which tells tangent
//! curves apart by their bend. Following each edge's left side gives the faces; crossing an edge changes the winding
//! by what the edge counts; and a component that floats in a face of another takes that face's winding, found by
//! looking straight down from its lowest node.

use super::{Arrangement, Edge, Sets, Trouble, Winding};
use crate::boxtree::BoxTree;
use crate::{Bounds, Segment};
use std::f64::consts::{PI, TAU};

const NONE: u32 = u32::MAX;

#[derive(Debug)]
pub(crate) struct Faces {
    /// For each half-edge the face on its left; `NONE` for edges that count nothing.
    pub(crate) left: Vec<u32>,
    /// For each face, how often it is gone round.
    pub(crate) winding: Vec<Winding>,
    /// For each face, the face in which its component floats, or itself.
    pub(crate) same: Vec<u32>,
    pub(crate) around: Around,
}

/// The half-edges that leave each node, counter-clockwise from straight down.
#[derive(Debug)]
pub(crate) struct Around {
    starts: Vec<u32>,
    out: Vec<u32>,
    /// Where each half-edge is in `out`.
    rank: Vec<u32>,
}

impl Around {
    /// Orders all edges, or only those that count.
    pub(crate) fn new(a: &Arrangement, idle_too: bool) -> Self {
        let used = |e: &Edge| idle_too || e.count != [0; 3];
        let n = a.nodes.len();
        // Half the shortest chord at each node: within that circle every edge there is crossed once.
        let mut reach = vec![f64::INFINITY; n];
        let mut starts = vec![0u32; n + 1];
        for e in a.edges.iter().filter(|e| used(e)) {
            let chord = a.nodes[e.from as usize].distance(a.nodes[e.to as usize]);
            for node in [e.from, e.to] {
                reach[node as usize] = reach[node as usize].min(0.5 * chord);
                starts[node as usize + 1] += 1;
            }
        }
        for i in 0..n {
            starts[i + 1] += starts[i];
        }
        let mut next = starts.clone();
        let mut keyed = vec![(0.0, 0u32); starts[n] as usize];
        for (i, e) in a.edges.iter().enumerate().filter(|(_, e)| used(e)) {
            for half in [2 * i as u32, 2 * i as u32 + 1] {
                let node = a.tail(half) as usize;
                keyed[next[node] as usize] = (leaving_angle(a, e, half, reach[node]), half);
                next[node] += 1;
            }
        }
        let mut rank = vec![NONE; 2 * a.edges.len()];
        for node in 0..n {
            let span = starts[node] as usize..starts[node + 1] as usize;
            keyed[span.clone()].sort_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)));
            settle_neighbours(a, &mut keyed[span.clone()]);
            for k in span {
                rank[keyed[k].1 as usize] = k as u32;
            }
        }
        Self { starts, out: keyed.into_iter().map(|k| k.1).collect(), rank }
    }

    /// The half-edges that leave a node.
    pub(crate) fn leaving(&self, node: u32) -> &[u32] {
        &self.out[self.starts[node as usize] as usize..self.starts[node as usize + 1] as usize]
    }

    /// The place of a half-edge among those that leave its node.
    pub(crate) fn place(&self, a: &Arrangement, half: u32) -> usize {
        (self.rank[half as usize] - self.starts[a.tail(half) as usize]) as usize
    }

    /// The half-edge next clockwise round the same node.
    pub(crate) fn clockwise(&self, a: &Arrangement, half: u32) -> u32 {
        let leaving = self.leaving(a.tail(half));
        let k = self.place(a, half);
        leaving[(k + leaving.len() - 1) % leaving.len()]
    }
}

/// Neighbours this close in direction are compared again further out, radians.
const CLOSE: f64 = 0.1;

/// Puts neighbours right that the common circle, where a short edge makes it small, may show the wrong way round: two
/// that run together within the merging distance beyond it count as they part.
fn settle_neighbours(a: &Arrangement, keyed: &mut [(f64, u32)]) {
    let n = keyed.len();
    let turn = |from: f64, to: f64| (to - from + PI).rem_euclid(TAU) - PI;
    let chord = |half: u32| a.nodes[a.tail(half) as usize].distance(a.nodes[a.head(half) as usize]);
    for _ in 0..n {
        let mut moved = false;
        for k in 0..if n > 1 { n } else { 0 } {
            let next = (k + 1) % n;
            let ((x, h), (y, g)) = (keyed[k], keyed[next]);
            // The last and the first are neighbours only across straight down.
            let unrelated = next == 0 && x < y + PI;
            if turn(x, y).abs() > CLOSE || unrelated {
                continue;
            }
            // Where they run together and part only later, the sum tells on which side one mostly is.
            let apart = |share: f64| {
                let reach = share * chord(h).min(chord(g));
                let angle = |half: u32| leaving_angle(a, &a.edges[(half >> 1) as usize], half, reach);
                turn(angle(h), angle(g)) * share
            };
            if [0.25, 0.5, 0.75, 0.95].into_iter().map(apart).sum::<f64>() < 0.0 {
                keyed.swap(k, next);
                moved = true;
            }
        }
        if !moved {
            return;
        }
    }
}

/// The direction in which a half-edge crosses the circle of a radius about its start, from straight down up to a full
/// turn.
fn leaving_angle(a: &Arrangement, edge: &Edge, half: u32, reach: f64) -> f64 {
    let (p, q) = (a.nodes[a.tail(half) as usize], a.nodes[a.head(half) as usize]);
    let chord = q - p;
    let sweep = if half & 1 == 0 { edge.sweep } else { -edge.sweep };
    let mut angle = chord.angle();
    if sweep != 0.0 {
        // A chord of length s leaves the tangent by asin(s / 2 r), and the whole chord by half the sweep.
        let ratio = (reach / chord.norm()).min(1.0);
        let half_sweep = 0.5 * sweep;
        angle += libm::asin(libm::sin(half_sweep) * ratio) - half_sweep;
    }
    (angle + PI / 2.0).rem_euclid(TAU)
}

pub(crate) fn faces(a: &Arrangement) -> Result<Faces, Trouble> {
    let around = Around::new(a, false);
    let halves = 2 * a.edges.len();
    let mut left = vec![NONE; halves];
    let mut first = Vec::new();
    for h in 0..halves as u32 {
        if around.rank[h as usize] == NONE || left[h as usize] != NONE {
            continue;
        }
        let face = first.len() as u32;
        first.push(h);
        let mut at = h;
        while left[at as usize] == NONE {
            left[at as usize] = face;
            at = around.clockwise(a, at ^ 1);
        }
        // The next of a half-edge is a permutation, so a walk ends where it began.
    }
    let components = Components::new(a);
    let outer_of = outer_faces(a, &left, &first, &components);
    let mut faces = Faces { left, winding: vec![[0; 3]; first.len()], same: (0..first.len() as u32).collect(), around };
    let mut known = vec![false; first.len()];
    let below = Below::new(a);
    for &lowest in &components.lowest {
        let outer = outer_of[components.of_node[lowest as usize] as usize];
        if outer == NONE {
            continue;
        }
        let host = below.edge_below(a, &faces.around, lowest, &components).map(|half| faces.left[half as usize]);
        if let Some(host) = host {
            if !known[host as usize] {
                return Err(Trouble::Inconsistent);
            }
            faces.winding[outer as usize] = faces.winding[host as usize];
            faces.same[outer as usize] = host;
        }
        known[outer as usize] = true;
        let mut open = vec![outer];
        while let Some(face) = open.pop() {
            let mut at = first[face as usize];
            loop {
                let edge = &a.edges[(at >> 1) as usize];
                let sign = if at & 1 == 0 { 1 } else { -1 };
                let mut winding = faces.winding[face as usize];
                for (w, c) in winding.iter_mut().zip(edge.count) {
                    *w -= sign * c;
                }
                let over = faces.left[(at ^ 1) as usize];
                if known[over as usize] {
                    if faces.winding[over as usize] != winding {
                        return Err(Trouble::Inconsistent);
                    }
                } else {
                    known[over as usize] = true;
                    faces.winding[over as usize] = winding;
                    open.push(over);
                }
                at = faces.around.clockwise(a, at ^ 1);
                if at == first[face as usize] {
                    break;
                }
            }
        }
    }
    Ok(faces)
}

/// Connected sets of edges.
struct Components {
    of_node: Vec<u32>,
    /// The lowest node of each, lowest first.
    lowest: Vec<u32>,
    /// For the node that stands for each, its lowest node.
    lowest_of: Vec<u32>,
}

/// For the node that stands for each component, its outer face: the one that is gone round clockwise about most.
/// Areas are taken about the component's own lowest node, so that a small one far out keeps its digits.
fn outer_faces(a: &Arrangement, left: &[u32], first: &[u32], components: &Components) -> Vec<u32> {
    let mut areas = vec![0.0; first.len()];
    let root = |half: u32| components.of_node[a.tail(half) as usize] as usize;
    for half in (0..left.len() as u32).filter(|&h| left[h as usize] != NONE) {
        let about = a.nodes[components.lowest_of[root(half)] as usize];
        let segment = a.segment(&a.edges[(half >> 1) as usize]);
        let sign = if half & 1 == 0 { 1.0 } else { -1.0 };
        areas[left[half as usize] as usize] += sign * segment.area_to(about);
    }
    let mut outer = vec![NONE; a.nodes.len()];
    for (face, &half) in first.iter().enumerate() {
        let best = &mut outer[root(half)];
        if *best == NONE || areas[face] < areas[*best as usize] {
            *best = face as u32;
        }
    }
    outer
}

impl Components {
    fn new(a: &Arrangement) -> Self {
        let mut sets = Sets::new(a.nodes.len());
        let counting = || a.edges.iter().filter(|e| e.count != [0; 3]);
        for e in counting() {
            sets.unite(e.from, e.to);
        }
        let of_node: Vec<u32> = (0..a.nodes.len() as u32).map(|i| sets.find(i)).collect();
        let lower = |i: u32, j: u32| {
            let (p, q) = (a.nodes[i as usize], a.nodes[j as usize]);
            p.y.total_cmp(&q.y).then(p.x.total_cmp(&q.x)).then(i.cmp(&j)).is_lt()
        };
        let mut best = vec![NONE; a.nodes.len()];
        for e in counting() {
            for node in [e.from, e.to] {
                let b = &mut best[of_node[node as usize] as usize];
                if *b == NONE || lower(node, *b) {
                    *b = node;
                }
            }
        }
        let mut lowest: Vec<u32> = best.iter().copied().filter(|&b| b != NONE).collect();
        lowest.sort_unstable_by(
            |&i, &j| if lower(i, j) { std::cmp::Ordering::Less } else { std::cmp::Ordering::Greater },
        );
        Self { of_node, lowest, lowest_of: best }
    }
}

/// Looks straight down.
struct Below {
    tree: BoxTree,
    /// Each edge with its curve, and whether that is the upper half of its circle.
    curves: Vec<(u32, Segment, bool)>,
}

impl Below {
    fn new(a: &Arrangement) -> Self {
        let curves: Vec<(u32, Segment, bool)> = (0..a.edges.len() as u32)
            .filter(|&i| a.edges[i as usize].count != [0; 3])
            .map(|i| {
                let curve = a.segment(&a.edges[i as usize]);
                let upper = matches!(curve, Segment::Arc { centre, .. } if curve.at(0.5).y >= centre.y);
                (i, curve, upper)
            })
            .collect();
        let boxes = curves.iter().map(|(_, s, _)| Bounds::of([s.start(), s.end()])).collect();
        Self { tree: BoxTree::new(boxes), curves }
    }

    /// The first edge of another component below a node, as the half-edge with the node's side on its left. An edge
    /// counts from its left end on, its right end left out, so that of two that join only one is met.
    fn edge_below(&self, a: &Arrangement, around: &Around, node: u32, components: &Components) -> Option<u32> {
        let p = a.nodes[node as usize];
        let own = components.of_node[node as usize];
        let mut best: Option<(f64, usize)> = None;
        self.tree.for_each_below(p, |i| {
            let (edge, curve, upper) = &self.curves[i];
            let (from, to) = (curve.start(), curve.end());
            let (x0, x1) = (from.x.min(to.x), from.x.max(to.x));
            if components.of_node[a.edges[*edge as usize].from as usize] != own
                && x0 <= p.x
                && p.x < x1
                && from.x != to.x
            {
                let y = y_at(curve, *upper, p.x);
                let above =
                    best.is_none_or(|(least, j)| self.over_at_common_node(a, around, i, j).unwrap_or(y > least));
                if y < p.y && above {
                    best = Some((y, i));
                }
            }
            // Edges from one node may be the wrong way round here by rounding, so what is level stays of interest.
            best.map_or(f64::NEG_INFINITY, |b| b.0.min(p.y) - 1e-8)
        });
        best.map(|(_, i)| self.rightward(i))
    }
}

impl Below {
    /// The half-edge that runs to the right.
    fn rightward(&self, i: usize) -> u32 {
        let (edge, curve, _) = &self.curves[i];
        2 * edge + u32::from(curve.start().x > curve.end().x)
    }

    /// Whether one edge lies over another, by their order round a node that both end in; `None` if there is none.
    /// Heights can't tell close to such a node.
    fn over_at_common_node(&self, a: &Arrangement, around: &Around, i: usize, j: usize) -> Option<bool> {
        let (h, k) = (self.rightward(i), self.rightward(j));
        if a.tail(h) == a.tail(k) {
            // From straight down, counter-clockwise: rightward edges come from the lowest to the highest.
            Some(around.place(a, h) > around.place(a, k))
        } else if a.head(h) == a.head(k) {
            Some(around.place(a, h ^ 1) < around.place(a, k ^ 1))
        } else {
            None
        }
    }
}

/// y of a monotone curve at an x between its ends.
fn y_at(curve: &Segment, upper: bool, x: f64) -> f64 {
    match *curve {
        Segment::Line { a, b } => a.y + (b.y - a.y) * ((x - a.x) / (b.x - a.x)),
        Segment::Arc { a, b, centre, radius, .. } => {
            let dx = (x - centre.x).abs().min(radius);
            let dy = libm::sqrt((radius - dx) * (radius + dx));
            let y = if upper { centre.y + dy } else { centre.y - dy };
            // Rounding at an extreme must not leave the box of the ends.
            y.clamp(a.y.min(b.y), a.y.max(b.y))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{MERGE, Source, arrange};
    use super::*;
    use crate::{Contour, Point};

    /// Two circles that cross, a square round both, and a small circle in the lens: five faces and their windings.
    #[test]
    fn windings_of_crossing_circles() {
        let circle = |x: f64, r: f64| Contour::circle(Point::new(x, 0.0), r);
        let square = Contour::rectangle(Bounds { min: Point::new(-9.0, -9.0), max: Point::new(9.0, 9.0) });
        let contours = [circle(-1.0, 3.0), circle(1.0, 3.0), circle(0.0, 0.5).reversed(), square];
        let sources: Vec<Source> = contours.iter().map(|contour| Source { contour, set: 0 }).collect();
        let a = arrange(&sources, MERGE).unwrap();
        let mut windings = faces(&a).unwrap().winding;
        windings.sort_unstable();
        // Outside; the square's face, also as the circles' outer face; two moons; the small circle, which turns the
        // other way; the lens, also as the small circle's outer face.
        let expected = [[0, 0, 0], [1, 0, 1], [1, 0, 1], [2, 0, 2], [2, 0, 2], [2, 0, 4], [3, 0, 3], [3, 0, 3]];
        assert_eq!(windings, expected);
    }
}
