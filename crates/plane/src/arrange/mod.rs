//! The arrangement of closed contours: all of them cut where they meet, and how often each face is gone round.
//!
//! Contours are cut into monotone pieces ([`piece`]), every two pieces whose boxes meet are intersected by formula,
//! meeting points within the merging distance become one node, and pieces that run together become one edge that
//! counts how often it is used each way. Faces are then traced round the nodes and their windings follow by addition
//! ([`faces`]), so the answer is always a closed set of rings; where rounding made the order round a node impossible,
//! the sums disagree and the caller hears of it. Rings along which inside turns into outside come out with their
//! source ([`loops`]), so that what was not changed is handed on untouched.
//!
//! Cost: n log n for the boxes, plus the pairs whose boxes meet; more than [`MOST_PAIRS`] pairs or [`MOST_CONTACTS`]
//! meetings are refused. Coordinates are taken about a whole-millimetre origin near the middle, which loses no digit.

pub(crate) mod faces;
pub(crate) mod loops;
pub(crate) mod piece;

use crate::boxtree::BoxTree;
use crate::{Bounds, Contour, Point, Segment};
use piece::{Arc, Contact, Piece, meet, turning_shares};

/// Pairs of pieces that are tested at most.
pub(crate) const MOST_PAIRS: usize = 300_000_000;
/// Meetings of pieces that are followed at most.
pub(crate) const MOST_CONTACTS: usize = 6_000_000;
/// Points closer than this are one, mm. A thousandth of the accuracy budget, ten thousand times what a coordinate of
/// 1e6 mm resolves.
pub(crate) const MERGE: f64 = 1e-6;
/// An arc that leaves its chord by less than this is taken as its chord while meetings are sought, mm.
const FLAT: f64 = MERGE / 10.0;

/// A contour and which of two sets it belongs to.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Source<'a> {
    pub(crate) contour: &'a Contour,
    /// 0 or 1.
    pub(crate) set: usize,
}

/// How often something is gone round: by the contours of the first set, of the second, and by all contours as if each
/// were counter-clockwise, which is the depth of nesting where they do not cross.
pub(crate) type Winding = [i32; 3];

/// Why no arrangement was made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Trouble {
    /// More pairs or meetings than are followed; the place where counting stopped.
    Tangled(Point),
    /// The order round some node is beyond the numbers.
    Inconsistent,
}

/// One passage of a contour along an edge.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Step {
    /// Twice the edge, plus one against the edge's own direction.
    pub(crate) half: u32,
    pub(crate) segment: u32,
    /// Shares of the segment's length at the step's start and end.
    pub(crate) t0: f64,
    pub(crate) t1: f64,
}

/// A line or arc between two nodes that meets nothing in between.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Edge {
    pub(crate) from: u32,
    pub(crate) to: u32,
    /// Sweep between the nodes; 0 for a line.
    pub(crate) sweep: f64,
    pub(crate) length: f64,
    /// What is added to the winding on crossing from right to left.
    pub(crate) count: Winding,
}

#[derive(Debug, Default)]
pub(crate) struct Arrangement {
    /// What was taken off all coordinates.
    pub(crate) origin: Point,
    /// Where each node is, about the origin.
    pub(crate) nodes: Vec<Point>,
    /// The contour vertex that a node is, if it is one.
    pub(crate) vertex: Vec<Option<Point>>,
    pub(crate) edges: Vec<Edge>,
    /// Each contour's way along the edges.
    pub(crate) walks: Vec<Vec<Step>>,
}

/// The whole-millimetre point nearest to the middle of a box.
pub(crate) fn origin_of(bounds: Bounds) -> Point {
    let c = bounds.centre();
    if c.is_finite() { Point::new(c.x.round(), c.y.round()) } else { Point::default() }
}

/// Cuts contours where they meet. Points closer than `eps` mm are one.
pub(crate) fn arrange(sources: &[Source], eps: f64) -> Result<Arrangement, Trouble> {
    let vertices = sources.iter().flat_map(|s| s.contour.vertices.iter().map(|v| v.p));
    let origin = origin_of(Bounds::of(vertices));
    let mut cutting = Cutting { origin, ..Cutting::default() };
    for source in sources {
        cutting.add_contour(source.contour);
    }
    cutting.meet_all(eps)?;
    Ok(cutting.into_arrangement(sources, eps))
}

#[derive(Default)]
struct Cutting {
    origin: Point,
    nodes: Vec<Point>,
    vertex: Vec<Option<Point>>,
    pieces: Vec<Piece>,
    /// Where each contour's pieces begin.
    starts: Vec<usize>,
    /// (piece, share, node)
    cuts: Vec<(u32, f64, u32)>,
    joins: Vec<(u32, u32)>,
}

impl Cutting {
    fn node(&mut self, at: Point, vertex: Option<Point>) -> u32 {
        self.nodes.push(at);
        self.vertex.push(vertex);
        (self.nodes.len() - 1) as u32
    }

    fn add_contour(&mut self, contour: &Contour) {
        self.starts.push(self.pieces.len());
        let n = contour.vertices.len();
        let first = self.nodes.len() as u32;
        for v in &contour.vertices {
            self.node(v.p - self.origin, Some(v.p));
        }
        for i in 0..n {
            let (v, from, to) = (contour.vertices[i], first + i as u32, first + ((i + 1) % n) as u32);
            let segment = Segment::with_bulge(self.nodes[from as usize], self.nodes[to as usize], v.bulge);
            self.add_segment(
                segment,
                Piece {
                    a: segment.start(),
                    b: segment.end(),
                    arc: None,
                    segment: i as u32,
                    t0: 0.0,
                    t1: 1.0,
                    from,
                    to,
                },
            );
        }
    }

    fn add_segment(&mut self, segment: Segment, whole: Piece) {
        let Segment::Arc { a, b, centre, radius, from, sweep } = segment else {
            if whole.a != whole.b {
                self.pieces.push(whole);
            }
            return;
        };
        let sagitta = 0.5 * a.distance(b) * libm::tan(sweep / 4.0).abs();
        if sagitta <= FLAT {
            return self.pieces.push(whole);
        }
        let mut last = Piece { arc: Some(Arc { centre, radius, angle: from, sweep }), ..whole };
        for (t, direction) in turning_shares(from, sweep) {
            let at = centre + direction * radius;
            let node = self.node(at, None);
            let arc = Arc { centre, radius, angle: from + sweep * last.t0, sweep: sweep * (t - last.t0) };
            self.pieces.push(Piece { b: at, arc: Some(arc), t1: t, to: node, ..last });
            last = Piece { a: at, t0: t, from: node, ..last };
        }
        let arc = Arc { centre, radius, angle: from + sweep * last.t0, sweep: sweep * (1.0 - last.t0) };
        self.pieces.push(Piece { arc: Some(arc), ..last });
    }

    fn meet_all(&mut self, eps: f64) -> Result<(), Trouble> {
        let boxes: Vec<Bounds> = self.pieces.iter().map(|p| p.bounds().grown(eps)).collect();
        let tree = BoxTree::new(boxes.clone());
        let (mut pairs, mut meetings) = (0, 0);
        let mut contacts = Vec::new();
        let mut near = Vec::new();
        for (i, &bounds) in boxes.iter().enumerate() {
            near.clear();
            tree.for_each_meeting(bounds, |j| {
                if j > i {
                    near.push(j);
                }
            });
            pairs += near.len();
            if pairs > MOST_PAIRS || meetings > MOST_CONTACTS {
                return Err(Trouble::Tangled(self.pieces[i].a + self.origin));
            }
            for &j in &near {
                meet(&self.pieces[i], &self.pieces[j], eps, &mut contacts);
                meetings += contacts.len();
                for &contact in &contacts {
                    self.note(i, j, contact);
                }
            }
        }
        Ok(())
    }

    fn note(&mut self, i: usize, j: usize, Contact { u, v, at }: Contact) {
        let end = |piece: &Piece, share: f64| match share {
            s if s <= 0.0 => Some(piece.from),
            s if s >= 1.0 => Some(piece.to),
            _ => None,
        };
        match (end(&self.pieces[i], u), end(&self.pieces[j], v)) {
            (Some(a), Some(b)) if a == b => {}
            (Some(a), Some(b)) => self.joins.push((a, b)),
            (Some(node), None) => self.cuts.push((j as u32, v, node)),
            (None, Some(node)) => self.cuts.push((i as u32, u, node)),
            (None, None) => {
                let node = self.node(at, None);
                self.cuts.push((i as u32, u, node));
                self.cuts.push((j as u32, v, node));
            }
        }
    }

    fn into_arrangement(mut self, sources: &[Source], eps: f64) -> Arrangement {
        self.cuts.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
        let root = self.merged(eps);
        let mut walks: Vec<Vec<Step>> = Vec::with_capacity(sources.len());
        let mut stretches: Vec<Stretch> = Vec::with_capacity(self.pieces.len() + self.cuts.len());
        self.starts.push(self.pieces.len());
        let mut cut = 0;
        for ends in self.starts.windows(2) {
            let first = stretches.len();
            for p in ends[0]..ends[1] {
                let from = cut;
                while self.cuts.get(cut).is_some_and(|c| c.0 as usize == p) {
                    cut += 1;
                }
                self.cut_piece(p, from..cut, &root, &mut stretches);
            }
            let steps = stretches[first..].iter().map(|s| Step { half: 0, segment: s.segment, t0: s.t0, t1: s.t1 });
            walks.push(steps.collect());
        }
        let (mut edges, halves) = edges_of(&stretches, eps);
        let mut at = 0;
        for (source, walk) in sources.iter().zip(&mut walks) {
            let outward = if source.contour.area() < 0.0 { -1 } else { 1 };
            for step in walk {
                step.half = halves[at];
                at += 1;
                let sign = if step.half & 1 == 0 { 1 } else { -1 };
                let edge = &mut edges[(step.half >> 1) as usize];
                edge.count[source.set.min(1)] += sign;
                edge.count[2] += sign * outward;
            }
        }
        Arrangement { origin: self.origin, nodes: self.nodes, vertex: self.vertex, edges, walks }
    }

    /// For every node, the one that stands for all that are the same; a contour's vertex stands before a computed
    /// point.
    fn merged(&mut self, eps: f64) -> Vec<u32> {
        let mut sets = Sets::new(self.nodes.len());
        for &(a, b) in &self.joins {
            sets.unite(a, b);
        }
        // Cuts of one piece that lie together are one point, wherever they came from.
        let mut last: Option<(u32, Point, u32)> = None;
        for &(p, u, node) in &self.cuts {
            let piece = &self.pieces[p as usize];
            let at = piece.at(u);
            if let Some((q, before, other)) = last
                && q == p
                && before.distance(at) <= eps
            {
                sets.unite(node, other);
            }
            last = Some((p, at, node));
        }
        let mut best: Vec<u32> = (0..self.nodes.len() as u32).collect();
        // Lower numbers win, and among them those that are vertices of a contour.
        for i in (0..self.nodes.len() as u32).rev() {
            let r = sets.find(i) as usize;
            if self.vertex[i as usize].is_some() || self.vertex[best[r] as usize].is_none() {
                best[r] = i;
            }
        }
        (0..self.nodes.len() as u32).map(|i| best[sets.find(i) as usize]).collect()
    }

    fn cut_piece(&self, p: usize, cuts: std::ops::Range<usize>, root: &[u32], stretches: &mut Vec<Stretch>) {
        let piece = &self.pieces[p];
        let (mut from, mut start) = (root[piece.from as usize], 0.0);
        let first = stretches.len();
        let ends = self.cuts[cuts].iter().map(|c| (c.1, root[c.2 as usize])).chain([(1.0, root[piece.to as usize])]);
        for (u, to) in ends {
            if to == from {
                // Too short to be an edge: what comes before or after takes it in.
                if let Some(before) = stretches.get_mut(first..).and_then(<[Stretch]>::last_mut).filter(|_| u >= 1.0) {
                    before.t1 = piece.t1;
                }
                continue;
            }
            let share = |w: f64| piece.t0 + (piece.t1 - piece.t0) * w;
            let (a, b) = (self.nodes[from as usize], self.nodes[to as usize]);
            let sweep = piece.arc.map_or(0.0, |arc| arc.sweep * (u - start));
            stretches.push(Stretch {
                from,
                to,
                sweep,
                middle: piece.at(0.5 * (start + u)),
                length: piece.length() * (u - start),
                segment: piece.segment,
                t0: if start <= 0.0 { piece.t0 } else { share(start) },
                t1: if u >= 1.0 { piece.t1 } else { share(u) },
                chord: a.distance(b),
            });
            (from, start) = (to, u);
        }
    }
}

/// A part of a piece between two nodes.
struct Stretch {
    from: u32,
    to: u32,
    sweep: f64,
    middle: Point,
    length: f64,
    segment: u32,
    t0: f64,
    t1: f64,
    chord: f64,
}

/// Makes stretches that run together one edge; gives each stretch its half-edge.
fn edges_of(stretches: &[Stretch], eps: f64) -> (Vec<Edge>, Vec<u32>) {
    let key = |i: u32| {
        let s = &stretches[i as usize];
        (s.from.min(s.to), s.from.max(s.to))
    };
    let mut order: Vec<u32> = (0..stretches.len() as u32).collect();
    order.sort_unstable_by_key(|&i| (key(i), i));
    let mut edges: Vec<Edge> = Vec::with_capacity(stretches.len());
    let mut halves = vec![0; stretches.len()];
    let mut group: Vec<(u32, u32)> = Vec::new();
    let mut group_key = (u32::MAX, u32::MAX);
    for &i in &order {
        let s = &stretches[i as usize];
        if key(i) != group_key {
            group_key = key(i);
            group.clear();
        }
        let same = |&&(_, of): &&(u32, u32)| {
            let other = &stretches[of as usize];
            // Ends moved to a common node by up to the merging distance; short stretches between the same nodes can't
            // differ.
            other.middle.distance(s.middle) <= 4.0 * eps || s.chord.max(other.chord) <= 4.0 * eps
        };
        let edge = if let Some(&(edge, _)) = group.iter().find(same) {
            edge
        } else {
            let Stretch { from, to, sweep, length, .. } = *s;
            edges.push(Edge { from, to, sweep, length, count: [0; 3] });
            let edge = (edges.len() - 1) as u32;
            group.push((edge, i));
            edge
        };
        halves[i as usize] = 2 * edge + u32::from(edges[edge as usize].from != s.from);
    }
    (edges, halves)
}

/// Disjoint sets by union and path halving.
pub(crate) struct Sets(Vec<u32>);

impl Sets {
    pub(crate) fn new(n: usize) -> Self {
        Self((0..n as u32).collect())
    }

    pub(crate) fn find(&mut self, mut i: u32) -> u32 {
        while self.0[i as usize] != i {
            self.0[i as usize] = self.0[self.0[i as usize] as usize];
            i = self.0[i as usize];
        }
        i
    }

    /// The lower root stays, so that the answer does not hang on the order of questions.
    pub(crate) fn unite(&mut self, a: u32, b: u32) {
        let (a, b) = (self.find(a), self.find(b));
        self.0[a.max(b) as usize] = a.min(b);
    }
}

impl Arrangement {
    pub(crate) fn tail(&self, half: u32) -> u32 {
        let edge = &self.edges[(half >> 1) as usize];
        if half & 1 == 0 { edge.from } else { edge.to }
    }

    pub(crate) fn head(&self, half: u32) -> u32 {
        self.tail(half ^ 1)
    }

    /// Where a node is in the caller's coordinates.
    pub(crate) fn place(&self, node: u32) -> Point {
        self.vertex[node as usize].unwrap_or(self.nodes[node as usize] + self.origin)
    }

    pub(crate) fn segment(&self, edge: &Edge) -> Segment {
        let (a, b) = (self.nodes[edge.from as usize], self.nodes[edge.to as usize]);
        Segment::with_bulge(a, b, libm::tan(edge.sweep / 4.0))
    }
}
