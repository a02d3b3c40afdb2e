//! Loose pieces joined end to end into contours and longer paths.
//!
//! Ends within the tolerance are paired: smallest gap first, then the straightest way on. Pieces that lie on a way
//! round are paired before those with a loose end, so that a whisker at a corner doesn't steal it. The pieces are put
//! in an order of their own first: how the file shuffles them changes nothing.

use crate::assemble::{ROUNDING, Stroke, order, repair};
use crate::clean::{merge_overlaps, same_piece};
use crate::curve::Chain;
use crate::model::{Mend, Repair};
use plane::{Point, Segment, Vertex};
use std::collections::BTreeMap;

/// Gaps up to this are closed by moving both ends to the middle; wider ones get a straight piece, mm.
pub(crate) const SNAP: f64 = 0.01;
/// At one place no end is compared with more others than this.
const MOST_AT_A_PLACE: usize = 64;

/// What joining gives.
pub(crate) struct Joined {
    pub(crate) closed: Vec<Stroke>,
    pub(crate) open: Vec<Stroke>,
}

/// Joins open strokes of one group. With `loops_only`, what doesn't become a closed contour stays as it was.
pub(crate) fn join(strokes: Vec<Stroke>, tolerance: f64, loops_only: bool, repairs: &mut Vec<Repair>) -> Joined {
    let mut strokes = sorted(strokes);
    if !loops_only {
        strokes = without_copies(strokes, tolerance, repairs);
    }
    let mut closed = Vec::new();
    let mut left = Vec::new();
    for run in runs(&strokes, tolerance) {
        if run.closed {
            closed.extend(follow(&strokes, &run, repairs));
        } else {
            left.extend(run.steps.iter().map(|s| s.piece));
        }
    }
    left.sort_unstable();
    let rest: Vec<Stroke> = left.into_iter().map(|i| strokes[i].clone()).collect();
    let rest = if loops_only { rest } else { merge_overlaps(rest, tolerance, repairs).0 };
    let mut open = Vec::new();
    let rest = sorted(rest);
    for run in runs(&rest, tolerance) {
        if loops_only && !run.closed {
            open.extend(run.steps.iter().map(|s| rest[s.piece].clone()));
        } else if let Some(stroke) = follow(&rest, &run, repairs) {
            if stroke.chain.closed { closed.push(stroke) } else { open.push(stroke) }
        }
    }
    Joined { closed, open }
}

fn ends(chain: &Chain) -> [Point; 2] {
    [chain.vertices[0].p, chain.vertices[chain.vertices.len() - 1].p]
}

/// By place, whichever way the pieces run and whatever order the file has.
fn sorted(mut strokes: Vec<Stroke>) -> Vec<Stroke> {
    let key = |s: &Stroke| {
        let [a, b] = ends(&s.chain);
        let (low, high) = if order(a, b).is_le() { (a, b) } else { (b, a) };
        (low, high, s.chain.length())
    };
    strokes.sort_by(|a, b| {
        let ((p, q, m), (r, s, n)) = (key(a), key(b));
        order(p, r).then(order(q, s)).then(m.total_cmp(&n)).then(a.line.cmp(&b.line))
    });
    strokes
}

/// Copies dropped, but for those that two closed ways share: there both ends would be left with an odd number of pieces.
fn without_copies(strokes: Vec<Stroke>, tolerance: f64, repairs: &mut Vec<Repair>) -> Vec<Stroke> {
    let mut kept: Vec<Stroke> = Vec::with_capacity(strokes.len());
    let mut copies = Vec::new();
    for stroke in strokes {
        // Sorted by place, copies are near each other in the list.
        let low = |s: &Stroke| ends(&s.chain)[0].x.min(ends(&s.chain)[1].x);
        let near = kept.iter().rev().take_while(|k| low(&stroke) - low(k) <= 0.01).take(MOST_AT_A_PLACE);
        if near.into_iter().any(|k| same_piece(&k.chain, &stroke.chain)) {
            copies.push(stroke);
        } else {
            kept.push(stroke);
        }
    }
    if copies.is_empty() {
        return kept;
    }
    let places = Places::new(kept.iter().flat_map(|s| ends(&s.chain)).collect(), tolerance);
    for copy in copies {
        let odd = |p: Point| places.near(p, MOST_AT_A_PLACE).len() % 2 == 1;
        let [a, b] = ends(&copy.chain);
        if a.distance(b) > tolerance && odd(a) && odd(b) {
            kept.push(copy);
        } else {
            repairs.push(repair(Mend::DuplicateDropped, &copy, a.lerp(b, 0.5), copy.chain.length()));
        }
    }
    sorted(kept)
}

/// Points sorted into cells of the tolerance.
struct Places {
    points: Vec<Point>,
    cell: f64,
    tolerance: f64,
    cells: BTreeMap<(i64, i64), Vec<usize>>,
}

impl Places {
    fn new(points: Vec<Point>, tolerance: f64) -> Self {
        // A tolerance of nothing still joins ends that are equal but for rounding.
        let tolerance = tolerance.max(1e-9);
        let cell = tolerance.max(1e-6);
        let mut cells: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
        for (i, p) in points.iter().enumerate() {
            cells.entry(Self::key(*p, cell)).or_default().push(i);
        }
        Self { points, cell, tolerance, cells }
    }

    fn key(p: Point, cell: f64) -> (i64, i64) {
        ((p.x / cell).floor() as i64, (p.y / cell).floor() as i64)
    }

    /// Points within the tolerance, at most `most`.
    fn near(&self, p: Point, most: usize) -> Vec<usize> {
        let (x, y) = Self::key(p, self.cell);
        let around = (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (x.saturating_add(dx), y.saturating_add(dy))));
        around
            .filter_map(|key| self.cells.get(&key))
            .flatten()
            .copied()
            .filter(|&i| self.points[i].distance(p) <= self.tolerance)
            .take(most)
            .collect()
    }
}

/// The least gap over `tolerance` and up to `limit` between ends of different paths or of one path.
pub(crate) fn least_gap(paths: &[(Point, Point)], tolerance: f64, limit: f64) -> Option<f64> {
    let points: Vec<Point> = paths.iter().flat_map(|&(a, b)| [a, b]).collect();
    let places = Places::new(points.clone(), limit);
    let mut least: Option<f64> = None;
    for (i, &p) in points.iter().enumerate() {
        for j in places.near(p, MOST_AT_A_PLACE) {
            let gap = p.distance(points[j]);
            if i != j && gap > tolerance && least.is_none_or(|l| gap < l) {
                least = Some(gap);
            }
        }
    }
    least
}

/// A piece and whether it is travelled from its end to its start.
#[derive(Clone, Copy)]
struct Step {
    piece: usize,
    back: bool,
}

/// Pieces in order of travel.
struct Run {
    steps: Vec<Step>,
    closed: bool,
}

/// End `2 i` is the start of piece `i`, `2 i + 1` its end.
fn runs(strokes: &[Stroke], tolerance: f64) -> Vec<Run> {
    let partner = partners(strokes, tolerance);
    let mut used = vec![false; strokes.len()];
    let mut runs = Vec::new();
    // Paths with a loose end first, from that end; what is left goes round.
    let loose = (0..2 * strokes.len()).filter(|&e| partner[e].is_none());
    for start in loose.chain((0..strokes.len()).map(|i| 2 * i)) {
        if used[start / 2] {
            continue;
        }
        let mut run = Run { steps: Vec::new(), closed: false };
        let mut end = start;
        loop {
            used[end / 2] = true;
            run.steps.push(Step { piece: end / 2, back: end % 2 == 1 });
            match partner[end ^ 1] {
                Some(next) if next == start => {
                    run.closed = true;
                    break;
                }
                Some(next) => end = next,
                None => break,
            }
        }
        runs.push(run);
    }
    runs
}

/// Which end each end is joined to.
fn partners(strokes: &[Stroke], tolerance: f64) -> Vec<Option<usize>> {
    let points: Vec<Point> = strokes.iter().flat_map(|s| ends(&s.chain)).collect();
    let places = Places::new(points.clone(), tolerance);
    let near: Vec<Vec<usize>> = points
        .iter()
        .enumerate()
        .map(|(i, &p)| places.near(p, MOST_AT_A_PLACE).into_iter().filter(|&j| j != i).collect())
        .collect();
    let on_a_way_round = core(&near);
    let away: Vec<Option<Point>> = strokes.iter().flat_map(|s| leaving(&s.chain)).collect();
    let mut pairs: Vec<(bool, u32, i64, usize, usize)> = Vec::new();
    for (i, others) in near.iter().enumerate() {
        for &j in others.iter().filter(|&&j| j > i) {
            // A piece joins itself only if it is long enough to be a loop.
            if i / 2 == j / 2 && strokes[i / 2].chain.length() <= 4.0 * points[i].distance(points[j]) {
                continue;
            }
            let gap = (points[i].distance(points[j]) / ROUNDING) as u32;
            // The cosine between the ways out: -1 is straight on.
            let bend = match (away[i], away[j]) {
                (Some(a), Some(b)) => (a.dot(b) * 1e6).round() as i64,
                _ => 0,
            };
            let both = on_a_way_round[i / 2] && on_a_way_round[j / 2];
            pairs.push((!both, gap, bend, i, j));
        }
    }
    pairs.sort_unstable();
    let mut partner = vec![None; points.len()];
    for (_, _, _, i, j) in pairs {
        if partner[i].is_none() && partner[j].is_none() {
            partner[i] = Some(j);
            partner[j] = Some(i);
        }
    }
    partner
}

/// Pieces left when those with a loose end are taken away again and again.
fn core(near: &[Vec<usize>]) -> Vec<bool> {
    let mut alive = vec![true; near.len() / 2];
    let mut living: Vec<usize> = near.iter().map(Vec::len).collect();
    let mut dead: Vec<usize> = (0..alive.len()).filter(|&i| living[2 * i] == 0 || living[2 * i + 1] == 0).collect();
    while let Some(piece) = dead.pop() {
        if !std::mem::replace(&mut alive[piece], false) {
            continue;
        }
        for end in [2 * piece, 2 * piece + 1] {
            for &other in &near[end] {
                living[other] = living[other].saturating_sub(1);
                if living[other] == 0 && alive[other / 2] {
                    dead.push(other / 2);
                }
            }
        }
    }
    alive
}

/// The directions in which a piece leaves its two ends.
fn leaving(chain: &Chain) -> [Option<Point>; 2] {
    let path = chain.path();
    let first = path.segments().next().and_then(|s| s.direction(0.0));
    let last = path.segments().next_back().and_then(|s| s.direction(1.0)).map(|d| -d);
    [first, last]
}

/// The stroke that a run makes, with its joints mended.
fn follow(strokes: &[Stroke], run: &Run, repairs: &mut Vec<Repair>) -> Option<Stroke> {
    let first = strokes.get(run.steps.first()?.piece)?;
    let mut stroke = first.clone();
    let chain_of = |step: &Step| {
        let path = strokes[step.piece].chain.path();
        if step.back { path.reversed().vertices } else { path.vertices }
    };
    let mut vertices = chain_of(&run.steps[0]);
    for step in &run.steps[1..] {
        let other = &strokes[step.piece];
        joint(&mut vertices, chain_of(step), &stroke, repairs);
        stroke.line = stroke.line.min(other.line);
        stroke.path = stroke.path.min(other.path);
        for name in &other.names {
            if !stroke.names.contains(name) {
                stroke.names.push(name.clone());
            }
        }
        let agree = |a: Option<f64>, b: Option<f64>| if a == b { a } else { None };
        stroke.elevation = agree(stroke.elevation, other.elevation);
        stroke.thickness = agree(stroke.thickness, other.thickness);
        stroke.width = agree(stroke.width, other.width);
    }
    if run.closed {
        close_joint(&mut vertices, &stroke, repairs);
    }
    stroke.chain = Chain { vertices, closed: run.closed };
    Some(stroke)
}

/// Adds a piece's vertices to those before it.
fn joint(vertices: &mut Vec<Vertex>, mut next: Vec<Vertex>, stroke: &Stroke, repairs: &mut Vec<Repair>) {
    let (n, a, b) = (vertices.len(), vertices[vertices.len() - 1].p, next[0].p);
    let gap = a.distance(b);
    note_gap(gap, a.lerp(b, 0.5), stroke, repairs);
    let before = (n > 1).then(|| Segment::with_bulge(vertices[n - 2].p, a, vertices[n - 2].bulge));
    let after = (next.len() > 1).then(|| Segment::with_bulge(b, next[1].p, next[0].bulge));
    match meeting(gap, a, b, before, after) {
        Some(p) => {
            vertices.pop();
            next[0].p = p;
        }
        None => vertices[n - 1].bulge = 0.0,
    }
    vertices.extend(next);
}

/// Joins the last vertex of a run to its first.
fn close_joint(vertices: &mut Vec<Vertex>, stroke: &Stroke, repairs: &mut Vec<Repair>) {
    let n = vertices.len();
    if n < 2 {
        return;
    }
    let (a, b) = (vertices[n - 1].p, vertices[0].p);
    let gap = a.distance(b);
    note_gap(gap, a.lerp(b, 0.5), stroke, repairs);
    let before = Segment::with_bulge(vertices[n - 2].p, a, vertices[n - 2].bulge);
    let after = Segment::with_bulge(b, vertices[1].p, vertices[0].bulge);
    match meeting(gap, a, b, Some(before), Some(after)) {
        Some(p) => {
            vertices.pop();
            vertices[0].p = p;
        }
        None => vertices[n - 1].bulge = 0.0,
    }
}

fn note_gap(gap: f64, at: Point, stroke: &Stroke, repairs: &mut Vec<Repair>) {
    if gap > ROUNDING {
        repairs.push(repair(Mend::GapClosed, stroke, at, gap));
    }
}

/// Where two ends a small gap apart meet; `None` if a straight piece goes between them.
fn meeting(gap: f64, a: Point, b: Point, before: Option<Segment>, after: Option<Segment>) -> Option<Point> {
    if gap <= 1e-9 {
        return Some(a);
    }
    // Two straight sides meet in their corner, if that is as near as the gap.
    if let (Some(Segment::Line { a: p, b: q }), Some(Segment::Line { a: r, b: s })) = (before, after)
        && let (Some(d), Some(e)) = ((q - p).unit(), (s - r).unit())
        && d.cross(e).abs() > 0.1
    {
        let corner = p + d * ((r - p).cross(e) / d.cross(e));
        if corner.distance(a) <= gap && corner.distance(b) <= gap {
            return Some(corner);
        }
    }
    (gap <= SNAP).then(|| a.lerp(b, 0.5))
}
