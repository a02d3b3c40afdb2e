//! Single strokes made tidy, copies dropped, and pieces that run over each other merged.

use crate::assemble::{ROUNDING, Stroke, repair};
use crate::curve::Chain;
use crate::join::SNAP;
use crate::model::{Mend, Repair};
use plane::{Bounds, Point, Segment, SegmentIndex, Vertex};
use std::collections::BTreeMap;
use std::f64::consts::{PI, TAU};

/// Points nearer than this are one point, mm.
const SAME: f64 = 1e-9;
/// Two pieces within this of each other all along are the same piece, mm.
const COPY: f64 = 1e-3;
/// A piece shorter than this has no length, mm.
const NO_LENGTH: f64 = 1e-6;

/// Drops repeated vertices, closes a path whose ends meet; false if nothing is left of it.
pub(crate) fn tidy(stroke: &mut Stroke, tolerance: f64, repairs: &mut Vec<Repair>) -> bool {
    let Some(first) = stroke.chain.vertices.first().map(|v| v.p) else { return false };
    without_repeats(&mut stroke.chain);
    let length = stroke.chain.length();
    if length < NO_LENGTH {
        repairs.push(repair(Mend::ZeroLengthDropped, stroke, first, length));
        return false;
    }
    if stroke.chain.closed {
        return true;
    }
    let (a, b) = (stroke.chain.vertices[0].p, stroke.chain.vertices[stroke.chain.vertices.len() - 1].p);
    let gap = a.distance(b);
    // A stroke not much longer than the gap is a dash, not a loop.
    let loops = gap <= tolerance.max(SAME) && length > 4.0 * gap;
    if loops {
        if gap > ROUNDING {
            repairs.push(repair(Mend::GapClosed, stroke, a.lerp(b, 0.5), gap));
        }
        // A gap wider than the joiner snaps gets a straight piece, as there.
        if gap <= SNAP {
            stroke.chain.vertices.pop();
        }
        stroke.chain.close();
    } else if stroke.filled {
        repairs.push(repair(Mend::FillClosed, stroke, a.lerp(b, 0.5), gap));
        stroke.chain.close();
    }
    true
}

fn without_repeats(chain: &mut Chain) {
    let mut kept: Vec<Vertex> = Vec::with_capacity(chain.vertices.len());
    for &v in &chain.vertices {
        match kept.last_mut() {
            // The later vertex leaves the place, so its bulge counts.
            Some(last) if last.p.distance(v.p) <= SAME => last.bulge = v.bulge,
            _ => kept.push(v),
        }
    }
    while chain.closed && kept.len() > 1 && kept[0].p.distance(kept[kept.len() - 1].p) <= SAME {
        kept.pop();
    }
    chain.vertices = kept;
}

/// Closed contours without second copies; a copy is dropped only within its own group.
pub(crate) fn without_copies(closed: Vec<Stroke>, repairs: &mut Vec<Repair>) -> Vec<Stroke> {
    let cell = |x: f64| (x / 0.01).round() as i64;
    let mut seen: BTreeMap<(String, i64, i64), Vec<usize>> = BTreeMap::new();
    let mut kept: Vec<Stroke> = Vec::with_capacity(closed.len());
    for stroke in closed {
        let corner = stroke.chain.contour().bounds().min;
        let (cx, cy) = (cell(corner.x), cell(corner.y));
        let around = (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (cx + dx, cy + dy)));
        let copy = around
            .filter_map(|(x, y)| seen.get(&(stroke.group.clone(), x, y)))
            .flatten()
            // Subpaths of one path cancel out by its fill rule; that is meant.
            .any(|&i| kept[i].path != stroke.path && same_contour(&kept[i].chain, &stroke.chain));
        if copy {
            repairs.push(repair(Mend::DuplicateDropped, &stroke, corner, stroke.chain.length()));
            continue;
        }
        seen.entry((stroke.group.clone(), cx, cy)).or_default().push(kept.len());
        kept.push(stroke);
    }
    kept
}

fn same_contour(a: &Chain, b: &Chain) -> bool {
    let (a, b) = (a.contour(), b.contour());
    let (x, y) = (a.bounds(), b.bounds());
    let length = a.length();
    x.min.distance(y.min) <= COPY
        && x.max.distance(y.max) <= COPY
        && (length - b.length()).abs() <= 4.0 * COPY
        && (a.area().abs() - b.area().abs()).abs() <= length * COPY
        && follows(&a, &b)
        && follows(&b, &a)
}

/// Whether all of `a`'s vertices and segment middles are on `b`.
fn follows(a: &plane::Contour, b: &plane::Contour) -> bool {
    let index = SegmentIndex::of_contours([b]);
    a.segments().all(|s| [s.start(), s.at(0.5)].iter().all(|&p| index.nearest_within(p, COPY).is_some()))
}

/// Whether two single pieces cover the same curve, either way round.
pub(crate) fn same_piece(a: &Chain, b: &Chain) -> bool {
    let ends = |c: &Chain| (c.vertices[0].p, c.vertices[c.vertices.len() - 1].p);
    let ((a0, a1), (b0, b1)) = (ends(a), ends(b));
    let near = |p: Point, q: Point| p.distance(q) <= COPY;
    let meet = (near(a0, b0) && near(a1, b1)) || (near(a0, b1) && near(a1, b0));
    if !meet || (a.length() - b.length()).abs() > 4.0 * COPY {
        return false;
    }
    let on = |x: &Chain, y: &Chain| {
        let index = SegmentIndex::new(y.path().segments().collect());
        x.path()
            .segments()
            .all(|s| [s.start(), s.at(0.5), s.end()].iter().all(|&p| index.nearest_within(p, COPY).is_some()))
    };
    on(a, b) && on(b, a)
}

/// Merges single lines and arcs that partly run over each other. Gives the strokes and whether anything changed.
pub(crate) fn merge_overlaps(strokes: Vec<Stroke>, tolerance: f64, repairs: &mut Vec<Repair>) -> (Vec<Stroke>, bool) {
    let pieces = explode(&strokes);
    let least = tolerance.max(10.0 * COPY);
    let mut clusters = Clusters::new(pieces.len());
    let boxes: Vec<Bounds> = pieces.iter().map(|p| p.segment.bounds().grown(COPY)).collect();
    for_each_meeting(&boxes, MOST_PAIRS, |i, j| {
        let (a, b) = (&pieces[i], &pieces[j]);
        if a.stroke != b.stroke && overlap(&a.segment, &b.segment) > least {
            clusters.unite(i, j);
        }
    });
    let merged = clusters.groups();
    if merged.is_empty() {
        return (strokes, false);
    }
    let mut touched = vec![false; strokes.len()];
    let mut inside = vec![false; pieces.len()];
    for &i in merged.iter().flatten() {
        touched[pieces[i].stroke] = true;
        inside[i] = true;
    }
    let mut out: Vec<Stroke> = Vec::new();
    for group in &merged {
        let first = &strokes[pieces[group[0]].stroke];
        let segments: Vec<Segment> = group.iter().map(|&i| pieces[i].segment).collect();
        let chain = united(&segments);
        let covered = segments.iter().map(Segment::length).sum::<f64>() - chain.length();
        repairs.push(repair(Mend::OverlapMerged, first, chain.vertices[0].p, covered.max(0.0)));
        out.push(Stroke { chain, ..first.clone() });
    }
    // What else those strokes held goes on as single pieces.
    for (i, piece) in pieces.iter().enumerate() {
        if touched[piece.stroke] && !inside[i] {
            out.push(Stroke { chain: single(&piece.segment), ..strokes[piece.stroke].clone() });
        }
    }
    out.extend(strokes.into_iter().enumerate().filter(|(i, _)| !touched[*i]).map(|(_, s)| s));
    (out, true)
}

/// Pairs of boxes compared before giving up, so that no file takes for ever.
const MOST_PAIRS: usize = 20_000_000;

/// Calls `visit` for pairs of boxes that meet, by a sweep from left to right.
fn for_each_meeting(boxes: &[Bounds], most: usize, mut visit: impl FnMut(usize, usize)) {
    let mut order: Vec<usize> = (0..boxes.len()).collect();
    order.sort_by(|&i, &j| boxes[i].min.x.total_cmp(&boxes[j].min.x).then(i.cmp(&j)));
    let mut left = most;
    for (k, &i) in order.iter().enumerate() {
        for &j in order[k + 1..].iter().take_while(|&&j| boxes[j].min.x <= boxes[i].max.x) {
            if left == 0 {
                return;
            }
            left -= 1;
            if boxes[i].meets(boxes[j]) {
                visit(i, j);
            }
        }
    }
}

struct Piece {
    segment: Segment,
    stroke: usize,
}

fn explode(strokes: &[Stroke]) -> Vec<Piece> {
    let of = |(stroke, s): (usize, &Stroke)| {
        s.chain.path().segments().map(|segment| Piece { segment, stroke }).collect::<Vec<_>>()
    };
    strokes.iter().enumerate().flat_map(of).collect()
}

fn single(segment: &Segment) -> Chain {
    let vertices = vec![Vertex { p: segment.start(), bulge: segment.bulge() }, Vertex { p: segment.end(), bulge: 0.0 }];
    Chain { vertices, closed: false }
}

/// Length along which two segments run over each other, mm.
fn overlap(a: &Segment, b: &Segment) -> f64 {
    match (a, b) {
        (&Segment::Line { a: p, b: q }, Segment::Line { a: r, b: s }) => {
            let Some(along) = (q - p).unit() else { return 0.0 };
            // The shorter must lie on the line of the longer, or a small tilt would count as none.
            if a.length() < b.length() {
                return overlap(b, a);
            }
            if along.cross(*r - p).abs() > COPY || along.cross(*s - p).abs() > COPY {
                return 0.0;
            }
            let (x, y) = (along.dot(*r - p), along.dot(*s - p));
            x.max(y).min(a.length()) - x.min(y).max(0.0)
        }
        (
            Segment::Arc { centre, radius, from, sweep, .. },
            Segment::Arc { centre: c2, radius: r2, from: f2, sweep: s2, .. },
        ) if centre.distance(*c2) <= COPY && (radius - r2).abs() <= COPY => {
            let shared: f64 = arc_pieces(*from, *sweep)
                .iter()
                .flat_map(|x| arc_pieces(*f2, *s2).into_iter().map(move |y| (x.1.min(y.1) - x.0.max(y.0)).max(0.0)))
                .sum();
            shared * radius
        }
        _ => 0.0,
    }
}

/// The angles an arc covers as ranges within one turn.
fn arc_pieces(from: f64, sweep: f64) -> Vec<(f64, f64)> {
    let start = if sweep < 0.0 { from + sweep } else { from }.rem_euclid(TAU);
    let end = start + sweep.abs();
    if end <= TAU { vec![(start, end)] } else { vec![(start, TAU), (0.0, end - TAU)] }
}

/// The one piece that covers all segments of a cluster: a line, an arc, or a full circle.
fn united(segments: &[Segment]) -> Chain {
    let longest = segments.iter().fold(segments[0], |l, s| if s.length() > l.length() { *s } else { l });
    match longest {
        Segment::Line { a, b } => {
            let along = (b - a).unit().unwrap_or(Point::new(1.0, 0.0));
            let ends = segments.iter().flat_map(|s| [s.start(), s.end()]);
            let share = |p: &Point| along.dot(*p - a);
            let (mut low, mut high) = (a, b);
            for p in ends {
                low = if share(&p) < share(&low) { p } else { low };
                high = if share(&p) > share(&high) { p } else { high };
            }
            single(&Segment::Line { a: low, b: high })
        }
        Segment::Arc { centre, radius, .. } => united_arc(segments, centre, radius),
    }
}

fn united_arc(segments: &[Segment], centre: Point, radius: f64) -> Chain {
    let mut ranges: Vec<(f64, f64)> = Vec::new();
    for segment in segments {
        if let Segment::Arc { from, sweep, .. } = segment {
            ranges.extend(arc_pieces(*from, *sweep));
        }
    }
    ranges.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let slack = COPY / radius.max(COPY);
    let mut whole: Vec<(f64, f64)> = Vec::new();
    for (low, high) in ranges {
        match whole.last_mut() {
            Some(last) if low <= last.1 + slack => last.1 = last.1.max(high),
            _ => whole.push((low, high)),
        }
    }
    let (first, last) = (whole[0], whole[whole.len() - 1]);
    let at = |angle: f64| centre + Point::at_angle(angle) * radius;
    let (from, sweep) = if whole.len() == 1 {
        (first.0, first.1 - first.0)
    } else {
        // The range that wraps past zero was cut in two there.
        (last.0, first.1 + TAU - last.0)
    };
    if sweep >= TAU - slack {
        let vertices = vec![Vertex { p: at(from), bulge: 1.0 }, Vertex { p: at(from + PI), bulge: 1.0 }];
        return Chain { vertices, closed: true };
    }
    let bulge = libm::tan(sweep / 8.0);
    let vertices = vec![
        Vertex { p: at(from), bulge },
        Vertex { p: at(from + sweep / 2.0), bulge },
        Vertex::straight(at(from + sweep)),
    ];
    Chain { vertices, closed: false }
}

/// Union-find over pieces.
struct Clusters {
    parent: Vec<usize>,
}

impl Clusters {
    fn new(n: usize) -> Self {
        Self { parent: (0..n).collect() }
    }

    fn root(&mut self, mut i: usize) -> usize {
        while self.parent[i] != i {
            self.parent[i] = self.parent[self.parent[i]];
            i = self.parent[i];
        }
        i
    }

    fn unite(&mut self, i: usize, j: usize) {
        let (a, b) = (self.root(i), self.root(j));
        self.parent[a.max(b)] = a.min(b);
    }

    /// Clusters of more than one, in order.
    fn groups(&mut self) -> Vec<Vec<usize>> {
        let mut groups: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for i in 0..self.parent.len() {
            let root = self.root(i);
            groups.entry(root).or_default().push(i);
        }
        groups.into_values().filter(|g| g.len() > 1).collect()
    }
}
