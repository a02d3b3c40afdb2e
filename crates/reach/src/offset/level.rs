//! The curve at one distance from a set of edges, on their left side.

use super::edge::Edge;
use super::link::{Kept, link_for, rings};
use super::near::{Run, nearer};
use super::pieces::Piece;
use super::tree::{Place, Tree};
use super::{FURTHEST, OffsetFault, SLACK};
use plane::{Bounds, Contour, Point};
use std::f64::consts::TAU;

/// Edges shorter than this are joined to their neighbours, mm.
const SHORTEST: f64 = 1e-7;
/// The source of a circle about a point where swept edges end.
const NO_EDGE: u32 = u32::MAX;
/// Arcs of a larger radius than this are taken as chords within [`FLAT`], mm.
const FLATTEST: f64 = 1e5;
const FLAT: f64 = 1e-5;
/// Two pieces within this of each other are one curve, mm (swept edges that overlap).
const SAME: f64 = 1e-8;

/// Whether all coordinates are numbers within reason.
pub(super) fn check_points<'a>(contours: impl Iterator<Item = &'a Contour>) -> Result<(), OffsetFault> {
    check(contours.flat_map(|c| &c.vertices).map(|v| v.p))
}

fn check(mut points: impl Iterator<Item = Point>) -> Result<(), OffsetFault> {
    let bad = |p: &Point| !(p.is_finite() && p.x.abs() <= FURTHEST && p.y.abs() <= FURTHEST);
    let why = "a coordinate is not a number or too far away";
    points.find(bad).map_or(Ok(()), |at| Err(OffsetFault { at, why }))
}

/// Edges, and the pieces that stand off from them.
pub(super) struct Source {
    edges: Vec<Edge>,
    bounds: Bounds,
    /// Where coordinates are counted from, so that small features far away keep their digits.
    origin: Point,
    /// First and one past the last edge of each ring; none where edges are swept on both sides.
    rings: Vec<(usize, usize)>,
}

impl Source {
    /// Closed contours, the offset being on their left.
    pub(super) fn rings<'a>(
        contours: impl Iterator<Item = &'a Contour> + Clone,
        reversed: bool,
    ) -> Result<Self, OffsetFault> {
        let mut source = Self::over(contours.clone().flat_map(|c| &c.vertices).map(|v| v.p))?;
        for contour in contours {
            let first = source.edges.len();
            if reversed {
                source.add(contour.reversed().segments());
            } else {
                source.add(contour.segments());
            }
            source.close(first);
        }
        Ok(source)
    }

    /// Single segments, swept on all sides.
    pub(super) fn swept(segments: impl Iterator<Item = plane::Segment> + Clone) -> Result<Self, OffsetFault> {
        let mut source = Self::over(segments.clone().flat_map(|s| [s.start(), s.end()]))?;
        let shift = plane::Affine::shift(-source.origin);
        for s in segments {
            let s = plane::Segment::with_bulge(shift.apply(s.start()), shift.apply(s.end()), bulge_of(&s));
            source.add_segment(&s);
        }
        Ok(source)
    }

    fn over(points: impl Iterator<Item = Point> + Clone) -> Result<Self, OffsetFault> {
        check(points.clone())?;
        let bounds = Bounds::of(points);
        let origin = if bounds.is_empty() { Point::default() } else { bounds.centre() };
        Ok(Self { edges: Vec::new(), bounds, origin, rings: Vec::new() })
    }

    fn add(&mut self, segments: impl Iterator<Item = plane::Segment>) {
        let mut last: Option<Point> = None;
        for s in segments {
            let a = last.unwrap_or(s.start() - self.origin);
            let b = s.end() - self.origin;
            let segment = plane::Segment::with_bulge(a, b, bulge_of(&s));
            if segment.length() < SHORTEST {
                last = Some(a);
                continue;
            }
            self.add_segment(&segment);
            last = Some(b);
        }
    }

    fn add_segment(&mut self, segment: &plane::Segment) {
        match segment {
            // So flat that its centre has too few digits left: a few chords say where it is more exactly.
            plane::Segment::Arc { radius, a, .. } if *radius > FLATTEST => {
                let mut points = Vec::new();
                segment.flatten_into(FLAT, &mut points);
                let mut a = *a;
                for b in points {
                    self.edges.extend(Edge::of(&plane::Segment::Line { a, b }));
                    a = b;
                }
            }
            _ => self.edges.extend(Edge::of(segment)),
        }
    }

    /// Joins the last edge of the ring that began at `first` to it.
    fn close(&mut self, first: usize) {
        let end = self.edges.len();
        if end - first < 2 {
            self.edges.truncate(first);
            return;
        }
        self.edges[end - 1].b = self.edges[first].a;
        self.rings.push((first, end));
    }

    /// The closed curves at `r` mm from the edges; nothing within `r` of any edge is on their left.
    pub(super) fn level(&self, r: f64) -> Result<Vec<Contour>, OffsetFault> {
        if self.edges.is_empty() {
            return Ok(Vec::new());
        }
        let pieces = if self.rings.is_empty() { self.pieces_around(r) } else { self.pieces_beside(r) };
        let tree = Tree::over(&self.edges);
        let size = self.bounds.width().max(self.bounds.height());
        let free = r - (SLACK + size * 4e-15);
        let mut kept = Vec::with_capacity(pieces.len());
        let mut alive = Vec::new();
        for (k, piece) in pieces.iter().enumerate() {
            alive.clear();
            alive.push((0.0, piece.extent));
            self.cut(piece, &tree, free, &mut alive);
            kept.extend(alive.iter().map(|&(from, to)| Kept {
                piece: k as u32,
                from,
                to,
                start: piece.at(from),
                end: piece.at(to),
            }));
        }
        let mut rings = rings(&kept, &pieces, link_for(size))
            .map_err(|fault| OffsetFault { at: fault.at + self.origin, ..fault })?;
        for v in rings.iter_mut().flat_map(|r| &mut r.vertices) {
            v.p = v.p + self.origin;
        }
        Ok(rings)
    }

    fn pieces_beside(&self, r: f64) -> Vec<Piece> {
        let mut pieces = Vec::with_capacity(self.edges.len() * 2);
        for &(first, end) in &self.rings {
            for i in first..end {
                let j = if i + 1 == end { first } else { i + 1 };
                pieces.extend(Piece::beside(&self.edges[i], r, i as u32));
                pieces.extend(Piece::around(&self.edges[i], &self.edges[j], r, i as u32));
            }
        }
        pieces
    }

    /// Both sides of each edge, and one circle about each point where edges end, however many end there.
    fn pieces_around(&self, r: f64) -> Vec<Piece> {
        let mut pieces = Vec::with_capacity(self.edges.len() * 4);
        let mut ends: Vec<Point> = Vec::with_capacity(self.edges.len() * 2);
        for (i, edge) in self.edges.iter().enumerate() {
            pieces.extend(Piece::beside(edge, r, i as u32));
            pieces.extend(Piece::beside(&edge.reversed(), r, i as u32));
            ends.extend([edge.a, edge.b]);
        }
        ends.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
        ends.dedup_by(|a, b| a.distance(*b) <= SAME);
        pieces.extend(ends.into_iter().map(|p| Piece::arc(p, Point::new(r, 0.0), TAU, r, NO_EDGE)));
        pieces
    }

    /// Takes from `alive` what lies nearer than `free` to any edge but its own.
    fn cut(&self, piece: &Piece, tree: &Tree, free: f64, alive: &mut Vec<Run>) {
        let swept = self.rings.is_empty();
        let own = piece.source as usize;
        if !swept {
            // Its neighbours along the ring take most of what will go, and the rest then has a smaller place.
            for i in [own.wrapping_sub(1), own + 1, own.wrapping_sub(2), own + 2] {
                if let Some(edge) = self.edges.get(i) {
                    nearer(piece, edge, free, |run| take(alive, run));
                }
                if alive.is_empty() {
                    return;
                }
            }
        }
        let (from, to) = (alive[0].0, alive[alive.len() - 1].1);
        let left = piece.part(from, to);
        let middle = left.at(0.5 * left.extent);
        let half = 0.5 * left.length(0.0, left.extent);
        // Edges that share a curve with the piece lie just at the distance.
        let reach = if swept { free + 4.0 * SAME } else { free };
        let place = Place { bounds: left.bounds().grown(reach), middle, half, r: reach };
        tree.near(&self.edges, &place, &mut |i| {
            if i == own {
                return true;
            }
            let edge = &self.edges[i];
            nearer(piece, edge, free, |run| take(alive, run));
            if swept && own != NO_EDGE as usize && i < own {
                self.take_shared(piece, edge, free, alive);
            }
            !alive.is_empty()
        });
    }

    /// Where swept edges overlap, the same curve comes from both: the later one gives way.
    fn take_shared(&self, piece: &Piece, edge: &Edge, free: f64, alive: &mut Vec<Run>) {
        // The wider sausage's rim crosses the piece beyond the shared run, so only runs that stay within are shared.
        let mut runs: Vec<Run> = Vec::new();
        nearer(piece, edge, free + 2.0 * SAME, |run| runs.push(run));
        let near = |t: f64| (libm::sqrt(edge.distance_squared(piece.at(t))) - free).abs() <= 2.0 * SAME;
        for (from, to) in runs {
            let at = |k: f64| from + (to - from) * k;
            if [0.25, 0.5, 0.75].iter().all(|&k| near(at(k))) && piece.length(from, to) > 1e-3 {
                take(alive, (from, to));
            }
        }
    }
}

/// A segment's bulge, without going through its angle where it has none.
fn bulge_of(s: &plane::Segment) -> f64 {
    match s {
        plane::Segment::Line { .. } => 0.0,
        plane::Segment::Arc { .. } => s.bulge(),
    }
}

/// Takes a run away from a sorted list of runs.
fn take(alive: &mut Vec<Run>, (from, to): Run) {
    let mut k = 0;
    while k < alive.len() {
        let (a, b) = alive[k];
        if to <= a || from >= b {
            k += 1;
            continue;
        }
        let (before, after) = ((a, from), (to, b));
        match (before.1 - before.0 > 0.0, after.1 - after.0 > 0.0) {
            (true, true) => {
                alive[k] = before;
                alive.insert(k + 1, after);
                return;
            }
            (true, false) => alive[k] = before,
            (false, true) => alive[k] = after,
            (false, false) => {
                alive.remove(k);
                continue;
            }
        }
        k += 1;
    }
}
