//! The ways of a vee's tip over a region, as a graph: along the rings where its flank lies on the wall while its tip is on the
//! floor, and along the medial axis where the walls meet above the floor or nearly so. Every place has the one height at
//! which the flanks lie on the walls, so all passes run over the same ways, at the pass's height or that one, whichever
//! is higher.
//!
//! A cone of lean l (mm of radius for each mm of height) and a flat tip of radius t whose tip stands d from the nearest
//! wall touches that wall's lean from its top T when its tip is at T - (d - t) / l (derived).

use plane::{Point, Region, Segment};
use reach::{Axis, AxisFault, Rings, Spot};

/// Chords of the axis stray no further from it, mm.
const STRAY: f64 = 0.000_4;
/// The edge is looked at this often, mm.
const STEP: f64 = 0.25;
/// Branches that run into corners so blunt that no more than this stays in them aren't followed, mm.
const BLUNT: f64 = 0.001;
/// Ends that lie this near each other are one, mm.
const JOINT: f64 = 0.002;
/// Ways shorter than this on the whole are crumbs, mm.
const CRUMB: f64 = 0.03;
/// Pieces shorter than this are left out where a piece is divided, mm.
const SHORT: f64 = 1e-6;

/// How a vee leans against the walls of a region.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lean {
    /// Height at which the walls begin, mm.
    pub(crate) top: f64,
    /// The lowest that the tip may go, mm.
    pub(crate) floor: f64,
    /// mm outward for each mm of height.
    pub(crate) lean: f64,
    /// Radius of the flat at the tip, mm.
    pub(crate) tip: f64,
}

impl Lean {
    /// Height of the tip at a distance from the nearest wall, mm.
    pub(crate) fn height(&self, distance: f64) -> f64 {
        (self.top - (distance - self.tip) / self.lean).max(self.floor)
    }

    /// Distance from the walls at which the tip comes to the floor, mm.
    pub(crate) fn floor_from(&self) -> f64 {
        self.lean * (self.top - self.floor) + self.tip
    }
}

/// A place and the height of the tip there.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Node {
    pub(crate) at: Point,
    pub(crate) z: f64,
}

/// A way between two places, evenly rising or falling.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece {
    pub(crate) path: Segment,
    pub(crate) ends: [usize; 2],
    /// Part of a ring, with the wall to its right: cut in its own direction.
    pub(crate) ring: bool,
}

/// The ways.
#[derive(Debug, Clone, Default)]
pub(crate) struct Network {
    pub(crate) nodes: Vec<Node>,
    pub(crate) pieces: Vec<Piece>,
}

/// Finds the ways over a region. The axis is followed up to `further` beyond where the tip comes to the floor, mm: into the
/// corners of floors that flat cutters leave round, and along floors that are too narrow for them.
///
/// # Errors
/// Where the region has no sound axis.
pub(crate) fn network(region: &Region, lean: &Lean, further: f64) -> Result<Network, AxisFault> {
    let axis = pruned(Axis::of(region, STRAY, STEP)?);
    let mut network = Network::default();
    let inner = Rings::of(region).inset(lean.floor_from()).without_slivers(JOINT);
    for contour in inner.region().contours() {
        network.ring(contour.segments().filter(|s| s.length() > SHORT).collect(), lean.floor);
    }
    let rings = network.pieces.len();
    network.axis(&axis, lean, further);
    network.join(rings);
    Ok(network)
}

/// The axis without branches that run into blunt corners, such as those between two pieces of a curve.
fn pruned(mut axis: Axis) -> Axis {
    // What was left out at each node already.
    let mut left = vec![0.0; axis.nodes.len()];
    loop {
        let mut degree = vec![0usize; axis.nodes.len()];
        axis.branches.iter().flat_map(|b| b.ends).for_each(|end| degree[end] += 1);
        let mut dropped = false;
        let mut kept = Vec::with_capacity(axis.branches.len());
        for branch in std::mem::take(&mut axis.branches) {
            let [a, b] = branch.ends;
            let leaf = match (degree[a], degree[b]) {
                _ if a == b => None,
                (_, 1) if axis.nodes[b].radius <= axis.nodes[a].radius => Some((b, a)),
                (1, _) if axis.nodes[a].radius <= axis.nodes[b].radius => Some((a, b)),
                _ => None,
            };
            let Some((end, node)) = leaf else {
                kept.push(branch);
                continue;
            };
            let holds = axis.nodes[node];
            let beyond = |s: &Spot| s.at.distance(holds.at) + s.radius - holds.radius;
            let most = branch.spots.iter().map(beyond).fold(0.0, f64::max) + left[end];
            if most <= BLUNT {
                left[node] = f64::max(left[node], most);
                degree[end] -= 1;
                degree[node] -= 1;
                // Nothing is cut from there any more.
                axis.nodes[end].radius = 0.0;
                dropped = true;
            } else {
                kept.push(branch);
            }
        }
        axis.branches = kept;
        if !dropped {
            return axis;
        }
    }
}

impl Network {
    fn node(&mut self, at: Point, z: f64) -> usize {
        self.nodes.push(Node { at, z });
        self.nodes.len() - 1
    }

    fn line(&mut self, a: usize, b: usize) {
        let path = Segment::Line { a: self.nodes[a].at, b: self.nodes[b].at };
        if path.length() > SHORT || self.nodes[a].z != self.nodes[b].z {
            self.pieces.push(Piece { path, ends: [a, b], ring: false });
        }
    }

    fn ring(&mut self, segments: Vec<Segment>, z: f64) {
        let first = self.nodes.len();
        let count = segments.len();
        for s in &segments {
            self.node(s.start(), z);
        }
        for (i, path) in segments.into_iter().enumerate() {
            self.pieces.push(Piece { path, ends: [first + i, first + (i + 1) % count], ring: true });
        }
    }

    /// Adds the axis as far as it is followed: nodes first, so that branches share them.
    fn axis(&mut self, axis: &Axis, lean: &Lean, further: f64) {
        let first = self.nodes.len();
        for spot in &axis.nodes {
            self.node(spot.at, lean.height(spot.radius.max(lean.tip)));
        }
        let (least, most) = (lean.tip, lean.floor_from() + further);
        let inside = |s: &Spot| s.radius >= least - 1e-9 && s.radius <= most;
        let mut degree = vec![0usize; axis.nodes.len()];
        for branch in &axis.branches {
            branch.ends.iter().for_each(|&e| degree[e] += 1);
            let spots = divided(&simpler(&branch.spots), &[least, lean.floor_from(), most]);
            let last = spots.len().saturating_sub(1);
            let mut before: Option<usize> = None;
            for (i, pair) in spots.windows(2).enumerate() {
                let middle = Spot { radius: 0.5 * (pair[0].radius + pair[1].radius), ..pair[0] };
                if !inside(&middle) {
                    before = None;
                    continue;
                }
                let place = |network: &mut Self, k: usize| match k {
                    0 => first + branch.ends[0],
                    k if k == last => first + branch.ends[1],
                    k => network.node(spots[k].at, lean.height(spots[k].radius)),
                };
                let a = before.unwrap_or_else(|| place(self, i));
                let b = place(self, i + 1);
                self.line(a, b);
                before = Some(b);
            }
        }
        // A round hole has nothing but its centre: a way through it, rising to both sides as its edge comes nearer.
        for (i, spot) in axis.nodes.iter().enumerate() {
            let room = spot.radius - lean.tip;
            if degree[i] == 0 && room > 0.0 && spot.radius <= most {
                let flat = (spot.radius - lean.floor_from()).max(0.0);
                for side in [1.0, -1.0] {
                    let mut from = first + i;
                    for out in [flat, room] {
                        let at = spot.at + Point::new(side * out, 0.0);
                        let to = self.node(at, lean.height(spot.radius - out));
                        self.line(from, to);
                        from = to;
                    }
                }
            }
        }
    }

    /// Joins ends of the axis that lie on rings, whose pieces are the first ones, to these.
    fn join(&mut self, rings: usize) {
        if rings == 0 {
            return;
        }
        let mut by_piece: Vec<Vec<(f64, usize)>> = vec![Vec::new(); rings];
        let mut to = (0..self.nodes.len()).collect::<Vec<_>>();
        let index = plane::SegmentIndex::new(self.pieces[..rings].iter().map(|p| p.path).collect());
        let mut axis: Vec<usize> = self.pieces[rings..].iter().flat_map(|p| p.ends).collect();
        axis.sort_unstable();
        axis.dedup();
        for node in axis {
            let Some(near) = index.nearest_within(self.nodes[node].at, JOINT) else { continue };
            let piece = self.pieces[near.segment];
            let corner = piece.ends.into_iter().find(|&e| self.nodes[e].at.distance(near.at) <= JOINT);
            match corner {
                Some(corner) => to[node] = corner,
                None => by_piece[near.segment].push((piece.path.nearest_share(near.at), node)),
            }
        }
        for (i, mut cuts) in by_piece.into_iter().enumerate().filter(|(_, c)| !c.is_empty()) {
            cuts.sort_by(|a, b| a.0.total_cmp(&b.0));
            let Piece { path, ends, ring } = self.pieces[i];
            let (mut from, mut start) = (0.0, ends[0]);
            let mut parts = Vec::new();
            for (share, node) in cuts {
                if (share - from) * path.length() < JOINT {
                    to[node] = start;
                    continue;
                }
                self.nodes[node] = Node { at: path.at(share), z: self.nodes[ends[0]].z };
                parts.push(Piece { path: path.piece(from, share), ends: [start, node], ring });
                (from, start) = (share, node);
            }
            let end = Piece { path: path.piece(from, 1.0), ends: [start, ends[1]], ring };
            match parts.split_first() {
                Some((first, more)) => {
                    self.pieces[i] = *first;
                    self.pieces.extend(more.iter().copied().chain([end]));
                }
                None => self.pieces[i] = end,
            }
        }
        for piece in &mut self.pieces {
            piece.ends = piece.ends.map(|e| to[e]);
            if !piece.ring {
                piece.path = Segment::Line { a: self.nodes[piece.ends[0]].at, b: self.nodes[piece.ends[1]].at };
            }
        }
        self.pieces.retain(|p| p.ring || p.ends[0] != p.ends[1]);
    }

    /// Heights at a piece's begin, middle and end, mm.
    pub(crate) fn heights(&self, piece: &Piece) -> [f64; 3] {
        let [a, b] = piece.ends.map(|e| self.nodes[e].z);
        [a, 0.5 * (a + b), b]
    }

    /// Only the pieces for one of whose places this holds.
    pub(crate) fn keep(&mut self, holds: impl Fn(Point) -> bool) {
        self.pieces.retain(|p| [0.1, 0.5, 0.9].into_iter().any(|t| holds(p.path.at(t))));
        self.drop_crumbs();
    }

    /// Leaves out ways that hang together over less than a crumb: rounding at the ends of what was kept.
    fn drop_crumbs(&mut self) {
        let mut group: Vec<usize> = (0..self.nodes.len()).collect();
        fn root(group: &mut [usize], mut i: usize) -> usize {
            while group[i] != i {
                group[i] = group[group[i]];
                i = group[i];
            }
            i
        }
        for piece in &self.pieces {
            let [a, b] = piece.ends.map(|e| root(&mut group, e));
            group[a.max(b)] = a.min(b);
        }
        let mut length = vec![0.0; self.nodes.len()];
        for piece in &self.pieces {
            length[root(&mut group, piece.ends[0])] += piece.path.length();
        }
        self.pieces.retain(|p| length[root(&mut group, p.ends[0])] > CRUMB);
    }

    /// Divides rising pieces where they pass one of these heights.
    pub(crate) fn divide(&mut self, heights: &[f64]) {
        let mut all = Vec::with_capacity(self.pieces.len());
        for piece in std::mem::take(&mut self.pieces) {
            let [z0, z1] = piece.ends.map(|e| self.nodes[e].z);
            let share = |z: f64| (z - z0) / (z1 - z0);
            let passed = |z: &&f64| **z > z0.min(z1) + 1e-6 && **z < z0.max(z1) - 1e-6;
            let mut shares: Vec<(f64, f64)> = heights.iter().filter(passed).map(|&z| (share(z), z)).collect();
            shares.sort_by(|a, b| a.0.total_cmp(&b.0));
            let (mut from, mut start) = (0.0, piece.ends[0]);
            for (share, z) in shares {
                let node = self.node(piece.path.at(share), z);
                all.push(Piece { path: piece.path.piece(from, share), ends: [start, node], ..piece });
                (from, start) = (share, node);
            }
            all.push(Piece { path: piece.path.piece(from, 1.0), ends: [start, piece.ends[1]], ..piece });
        }
        self.pieces = all;
    }

    /// The lowest place.
    pub(crate) fn lowest(&self) -> Option<Node> {
        let used = self.pieces.iter().flat_map(|p| p.ends).map(|e| self.nodes[e]);
        used.reduce(|a, b| if b.z < a.z { b } else { a })
    }
}

/// A branch's spots without those that its chords keep near anyway, in place and in radius: it was followed by halving, which
/// puts up to twice as many as it takes.
fn simpler(spots: &[Spot]) -> Vec<Spot> {
    let mut kept: Vec<Spot> = spots.first().copied().into_iter().collect();
    let mut first = 0;
    while first + 1 < spots.len() {
        // Twice as far while that holds, then back by halves.
        let near = |end: usize| {
            let (a, b) = (spots[first], spots[end]);
            let chord = b.at - a.at;
            let square = chord.dot(chord);
            spots[first + 1..end].iter().all(|s| {
                let t = if square > 0.0 { ((s.at - a.at).dot(chord) / square).clamp(0.0, 1.0) } else { 0.0 };
                let radius = a.radius + (b.radius - a.radius) * t;
                s.at.distance(a.at.lerp(b.at, t)) <= STRAY && (s.radius - radius).abs() <= STRAY
            })
        };
        let (mut good, mut step) = (first + 1, 1);
        while good + step < spots.len() && near(good + step) {
            good += step;
            step *= 2;
        }
        while step > 0 {
            if good + step < spots.len() && near(good + step) {
                good += step;
            }
            step /= 2;
        }
        kept.push(spots[good]);
        first = good;
    }
    kept
}

/// A branch's spots with more of them where its radius passes one of these.
fn divided(spots: &[Spot], radii: &[f64]) -> Vec<Spot> {
    let mut all: Vec<Spot> = spots.first().copied().into_iter().collect();
    for pair in spots.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let share = |r: f64| (r - a.radius) / (b.radius - a.radius);
        let passed = |r: &&f64| (a.radius - **r) * (b.radius - **r) < 0.0;
        let mut shares: Vec<(f64, f64)> = radii.iter().filter(passed).map(|&r| (share(r), r)).collect();
        shares.sort_by(|x, y| x.0.total_cmp(&y.0));
        all.extend(shares.into_iter().map(|(t, radius)| Spot { at: a.at.lerp(b.at, t), radius, facing: a.facing }));
        all.push(b);
    }
    all
}
