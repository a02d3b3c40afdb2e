//! Where rings touch, cross, or run along each other, told from the arrangement.

use super::{Finding, FindingKind};
use crate::arrange::faces::{Around, Faces};
use crate::arrange::{Arrangement, Step};
use crate::boxtree::BoxTree;
use crate::{Bounds, Contour, Segment, SegmentIndex};

/// Passages through one node that are weighed against each other; the rest of a greater number is left out.
const MOST_PASSAGES: usize = 24;
/// Uses of one edge that are paired.
const MOST_USES: usize = 8;
/// Earlier rings that a ring is compared with as a possible copy.
const MOST_COPIES: usize = 4;

/// All findings about pairs of places on contours. `index` gives each arranged contour's number in the input.
pub(crate) fn contacts(a: &Arrangement, contours: &[&Contour], index: &[usize], findings: &mut Vec<Finding>) {
    let copies = copies(contours);
    let mut pairs: Vec<(usize, usize)> = copies.iter().map(|&(i, j, _)| (i, j)).collect();
    pairs.sort_unstable();
    let copied = |c: usize, d: usize| pairs.binary_search(&(c.min(d), c.max(d))).is_ok();
    for &(i, j, amount) in &copies {
        let at = crate::arrange::loops::place_of(contours[j]);
        findings.push(Finding { kind: FindingKind::Copy, at, amount, contour: index[j], other: Some(index[i]) });
    }
    let spikes = spikes(a);
    let mut in_spikes = vec![0.0; contours.len()];
    for &(contour, node, amount) in &spikes {
        in_spikes[contour] += amount;
        let (at, contour) = (a.place(node), index[contour]);
        findings.push(Finding { kind: FindingKind::Spike, at, amount, contour, other: None });
    }
    for shared in shared_edges(a) {
        let Shared { first, second, length, longest, .. } = shared;
        let segment = a.segment(&a.edges[longest as usize]);
        let (at, contour) = (segment.at(0.5) + a.origin, index[first]);
        if first == second {
            if length > in_spikes[first] * (1.0 + 1e-9) + 1e-6 {
                findings.push(Finding { kind: FindingKind::RunsAlongItself, at, amount: length, contour, other: None });
            }
        } else if !copied(first, second) {
            let other = Some(index[second]);
            findings.push(Finding { kind: FindingKind::TouchAlongEdge, at, amount: length, contour, other });
        }
    }
    at_nodes(a, |node, first, second, crosses| {
        if first != second && copied(first, second) {
            return;
        }
        let kind = match (first == second, crosses) {
            (true, true) => FindingKind::CrossesItself,
            (true, false) => FindingKind::TouchesItself,
            (false, true) => FindingKind::Crossing,
            (false, false) => FindingKind::TouchAtPoint,
        };
        let other = (first != second).then_some(index[second]);
        findings.push(Finding { kind, at: a.place(node), amount: 0.0, contour: index[first], other });
    });
}

/// How many other contours lie round each, where it is least.
pub(crate) fn depths(a: &Arrangement, contours: &[&Contour], faces: &Faces) -> Vec<u32> {
    let outside = |step: &Step, turned: bool| {
        let half = step.half ^ u32::from(!turned);
        faces.left.get(half as usize).and_then(|&f| faces.winding.get(f as usize)).map(|w| w[2])
    };
    let depth = |(walk, contour): (&Vec<Step>, &&Contour)| {
        let turned = contour.area() < 0.0;
        walk.iter().filter_map(|s| outside(s, turned)).min().map_or(0, |w| w.max(0) as u32)
    };
    a.walks.iter().zip(contours).map(depth).collect()
}

/// Tips at which a contour goes back the way it came: contour, node, and how far, mm.
fn spikes(a: &Arrangement) -> Vec<(usize, u32, f64)> {
    let mut found = Vec::new();
    for (contour, walk) in a.walks.iter().enumerate() {
        let n = walk.len();
        for k in 0..n {
            let (mut i, mut j, mut length) = (k, (k + 1) % n, 0.0);
            let mut steps = 0;
            while walk[i].half == walk[j].half ^ 1 && steps < n {
                length += a.edges[(walk[i].half >> 1) as usize].length;
                (i, j) = ((i + n - 1) % n, (j + 1) % n);
                steps += 2;
            }
            if steps > 0 {
                found.push((contour, a.head(walk[k].half), length));
            }
        }
    }
    found
}

struct Shared {
    first: usize,
    second: usize,
    length: f64,
    longest: u32,
    greatest: f64,
}

/// For each two contours that run along each other, or one along itself, how far and where most.
fn shared_edges(a: &Arrangement) -> Vec<Shared> {
    let mut uses: Vec<(u32, u32)> =
        a.walks.iter().enumerate().flat_map(|(c, w)| w.iter().map(move |s| (s.half >> 1, c as u32))).collect();
    uses.sort_unstable();
    let mut pairs: Vec<(u32, u32, u32)> = Vec::new();
    for group in uses.chunk_by(|x, y| x.0 == y.0) {
        let group = &group[..group.len().min(MOST_USES)];
        for (k, x) in group.iter().enumerate() {
            pairs.extend(group[k + 1..].iter().map(|y| (x.1, y.1, x.0)));
        }
    }
    pairs.sort_unstable();
    pairs.dedup();
    let together = pairs.chunk_by(|x, y| (x.0, x.1) == (y.0, y.1)).map(|group| {
        let (first, second) = (group[0].0 as usize, group[0].1 as usize);
        let none = Shared { first, second, length: 0.0, longest: group[0].2, greatest: 0.0 };
        group.iter().fold(none, |s, &(.., edge)| {
            let length = a.edges[edge as usize].length;
            let (longest, greatest) = if length > s.greatest { (edge, length) } else { (s.longest, s.greatest) };
            Shared { length: s.length + length, longest, greatest, ..s }
        })
    });
    together.collect()
}

/// Calls `visit` for every two passages through one node that share no edge there, with whether they cross.
fn at_nodes(a: &Arrangement, mut visit: impl FnMut(u32, usize, usize, bool)) {
    let around = Around::new(a, true);
    let mut passages: Vec<(u32, u32, u32, u32)> = Vec::new();
    for (contour, walk) in a.walks.iter().enumerate() {
        for (k, step) in walk.iter().enumerate() {
            let before = walk[(k + walk.len() - 1) % walk.len()].half ^ 1;
            passages.push((a.tail(step.half), contour as u32, before, step.half));
        }
    }
    passages.sort_unstable();
    for group in passages.chunk_by(|x, y| x.0 == y.0) {
        let group = &group[..group.len().min(MOST_PASSAGES)];
        for (k, &(node, first, back, on)) in group.iter().enumerate() {
            let (p, q) = (around.place(a, back), around.place(a, on));
            for &(_, second, other_back, other_on) in &group[k + 1..] {
                let (r, s) = (around.place(a, other_back), around.place(a, other_on));
                if [r, s].iter().any(|&x| x == p || x == q) {
                    continue;
                }
                let between = |x: usize| p.min(q) < x && x < p.max(q);
                visit(node, first as usize, second as usize, between(r) != between(s));
            }
        }
    }
}

/// Rings that lie within the accuracy budget of an earlier one: the earlier, the later, and the greatest distance
/// found.
fn copies(contours: &[&Contour]) -> Vec<(usize, usize, f64)> {
    let budget = super::BUDGET;
    let boxes: Vec<Bounds> = contours.iter().map(|c| c.bounds()).collect();
    let corners = boxes.iter().map(|b| Bounds { min: b.min, max: b.min }).collect();
    let tree = BoxTree::new(corners);
    let mut found = Vec::new();
    let mut near = Vec::new();
    for (j, b) in boxes.iter().enumerate() {
        near.clear();
        tree.for_each_meeting(Bounds { min: b.min, max: b.min }.grown(budget), |i| {
            let off = boxes[i].max - b.max;
            if i < j && off.x.abs() <= budget && off.y.abs() <= budget {
                near.push(i);
            }
        });
        near.sort_unstable();
        for &i in near.iter().take(MOST_COPIES) {
            let off = furthest(contours[i], contours[j], budget).max(furthest(contours[j], contours[i], budget));
            if off <= budget {
                found.push((i, j, off));
                break;
            }
        }
    }
    found
}

/// The greatest distance found from points along one contour to another; infinite beyond `limit`.
fn furthest(from: &Contour, to: &Contour, limit: f64) -> f64 {
    let segments: Vec<Segment> = to.segments().collect();
    let index = SegmentIndex::new(segments);
    let points = from.segments().flat_map(|s| [0.0, 0.25, 0.5, 0.75].map(|t| s.at(t)));
    let mut most: f64 = 0.0;
    for p in points {
        let Some(nearest) = index.nearest_within(p, limit) else { return f64::INFINITY };
        most = most.max(nearest.distance);
    }
    most
}
