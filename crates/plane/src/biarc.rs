//! Lines and arcs that follow a flattened curve and join tangentially except at its corners.
//!
//! The points are read as points of a curve whose chords were within the tolerance of it. Where the direction turns
//! by more than such chords explain there is a corner, and nothing is made smooth across it. Chords too long for the
//! curvature beside them are straight lines, whose direction the neighbours take exactly; a sudden change of
//! curvature is a joint. Between these, tangents are those of the circle through three neighbouring points, and each
//! run becomes one arc if that keeps the tangents, else a biarc: two arcs with a common tangent (Bolton, "Biarc
//! curves", 1975; here with equal tangent lengths). Runs are taken greedily and as long as possible.
//!
//! On curves of changing curvature a biarc reaches 1.375 times as far as a lone arc at the same tolerance (its error
//! is κ' L³ / 324 against κ' L³ / 125, derived), so [`fit_closed`](crate::fit_closed) gives fewer pieces there, with
//! kinks. Measured at 0.5 µm on curves flattened at 0.25 µm, smooth pieces against greedy arcs: ellipse 10 x 5 mm 62
//! and 37, 30 x 29 36 and 21, an eye of two cubics 36 and 22, a wave of 17 periods 487 and 306; lines and arcs
//! (slots, rounded rectangles, circles) as many as were drawn.

use crate::fit::sharpest;
use crate::{Contour, Path, Point, Vertex};
use std::f64::consts::PI;

/// The largest sweep of one arc, radians: a half circle, as at the ends of a slot.
const LARGEST_SWEEP: f64 = PI * 1.000_001;
/// Tangents that differ by less are one, radians.
const SAME: f64 = 1e-6;
/// A turn greater than this is a corner however short the chords, radians.
const SHARP: f64 = 0.75;
/// A turn this many times as great as both its neighbours' is a corner if it is more than [`ABRUPT`].
const STANDS_OUT: f64 = 5.0;
const ABRUPT: f64 = 0.1;
/// Points this near to the line between their neighbours say nothing, mm.
const IDLE: f64 = 1e-7;

/// Fits a closed ring of points (first not repeated) with lines and arcs that join tangentially except at corners,
/// within `tolerance` mm of every point and of every chord's middle.
pub fn fit_smooth_closed(ring: &[Point], tolerance: f64) -> Contour {
    let ring = distinct(ring, true);
    if ring.len() < 3 || tolerance.is_nan() || tolerance <= 0.0 {
        return Contour::polygon(ring);
    }
    let curve = Curve::new(ring, true, tolerance);
    Contour { vertices: curve.fitted() }
}

/// Fits an open run of points likewise; its ends stay where they are.
pub fn fit_smooth_open(points: &[Point], tolerance: f64) -> Path {
    let points = distinct(points, false);
    if points.len() < 3 || tolerance.is_nan() || tolerance <= 0.0 {
        return Path::polyline(points);
    }
    let curve = Curve::new(points, false, tolerance);
    Path { vertices: curve.fitted() }
}

/// The points without repeats and without those that lie on the line between their neighbours.
fn distinct(points: &[Point], closed: bool) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::with_capacity(points.len());
    for &p in points.iter().filter(|p| p.is_finite()) {
        if kept.last() != Some(&p) {
            kept.push(p);
        }
    }
    while closed && kept.len() > 1 && kept.first() == kept.last() {
        kept.pop();
    }
    let n = kept.len();
    if n < 3 {
        return kept;
    }
    let mut out: Vec<Point> = Vec::with_capacity(n);
    for i in 0..n {
        let end = !closed && (i == 0 || i + 1 == n);
        let (a, b, c) = (out.last().copied().unwrap_or(kept[(i + n - 1) % n]), kept[i], kept[(i + 1) % n]);
        let (d, e) = (b - a, c - b);
        // Measured against the shorter chord, so that many small turns never add up to a line.
        let off = d.cross(e).abs() / d.norm().max(e.norm());
        if end || d.dot(e) <= 0.0 || off > IDLE {
            out.push(b);
        }
    }
    out
}

/// What joins at a point.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Joint {
    /// The curve goes on; the tangent is an estimate.
    Smooth,
    /// A piece ends here, with this tangent on both sides.
    Tangent,
    /// A corner or an end.
    Corner,
}

struct Curve {
    points: Vec<Point>,
    closed: bool,
    tolerance: f64,
    joints: Vec<Joint>,
    /// Unit tangents; at corners they mean nothing.
    tangents: Vec<Point>,
    /// Whether the chord from each point is a straight line.
    lines: Vec<bool>,
}

impl Curve {
    fn new(mut points: Vec<Point>, closed: bool, tolerance: f64) -> Self {
        if closed {
            let start = sharpest(&points);
            points.rotate_left(start);
        }
        let n = points.len();
        let mut curve = Self {
            points,
            closed,
            tolerance,
            joints: vec![Joint::Smooth; n],
            tangents: vec![Point::default(); n],
            lines: vec![false; n],
        };
        curve.find_corners();
        curve.find_lines();
        curve.find_tangents();
        curve
    }

    fn len(&self) -> usize {
        self.points.len()
    }

    fn point(&self, i: usize) -> Point {
        self.points[i % self.len()]
    }

    /// The chord that leaves a point.
    fn chord(&self, i: usize) -> Point {
        self.point(i + 1) - self.point(i)
    }

    fn before(&self, i: usize) -> usize {
        (i + self.len() - 1) % self.len()
    }

    fn turn(&self, i: usize) -> f64 {
        let (d, e) = (self.chord(self.before(i)), self.chord(i));
        libm::atan2(d.cross(e), d.dot(e))
    }

    fn find_corners(&mut self) {
        let n = self.len();
        for i in 0..n {
            if !self.closed && (i == 0 || i + 1 == n) {
                self.joints[i] = Joint::Corner;
                continue;
            }
            let (s, t) = (self.chord(self.before(i)).norm(), self.chord(i).norm());
            let turn = self.turn(i).abs();
            // A chord of length s within the tolerance of an arc of curvature k has k s² / 8 <= tolerance, and turns
            // by k s, half of it at each end.
            let explained = 4.0 * self.tolerance * (1.0 / s + 1.0 / t);
            let neighbours = self.turn(self.before(i)).abs().max(self.turn((i + 1) % n).abs());
            let stands_out = turn > ABRUPT && turn > STANDS_OUT * neighbours;
            if turn > explained.min(SHARP) || stands_out {
                self.joints[i] = Joint::Corner;
            }
        }
    }

    /// Signed curvature of the circle through a point and its neighbours, 1/mm.
    fn curvature(&self, i: usize) -> f64 {
        let (d, e) = (self.chord(self.before(i)), self.chord(i));
        2.0 * d.cross(e) / (d.norm() * e.norm() * (d + e).norm())
    }

    /// The curvature near a smooth end of a chord as its other neighbour sees it, without the chord itself; `None`
    /// beyond a corner.
    fn curvature_beside(&self, end: usize, outward: usize) -> Option<f64> {
        if self.joints[end] == Joint::Corner {
            return None;
        }
        let chord = self.point(outward).distance(self.point(end));
        // The turn at the end of a straight line is half of what the next chord turns by.
        let at_end = 2.0 * self.turn(end).abs() / chord;
        Some(if self.joints[outward] == Joint::Corner { at_end } else { at_end.max(self.curvature(outward).abs()) })
    }

    fn find_lines(&mut self) {
        let n = self.len();
        let chords = if self.closed { n } else { n - 1 };
        for i in 0..chords {
            let next = (i + 1) % n;
            let s = self.chord(i).norm();
            let beside = [self.curvature_beside(i, self.before(i)), self.curvature_beside(next, (next + 1) % n)];
            let least = beside.into_iter().flatten().fold(f64::INFINITY, f64::min);
            if least * s * s / 8.0 > 3.0 * self.tolerance {
                self.lines[i] = true;
            }
        }
    }

    fn find_tangents(&mut self) {
        let n = self.len();
        let corner = |i: usize| self.joints[i] == Joint::Corner;
        let mut joints = self.joints.clone();
        let mut tangents = vec![Point::default(); n];
        for i in 0..n {
            let (p, q) = (self.before(i), (i + 1) % n);
            if corner(i) {
                continue;
            }
            let lines = [(self.lines[p], self.chord(p)), (self.lines[i], self.chord(i))];
            if let Some((_, chord)) = lines.iter().filter(|l| l.0).max_by(|a, b| a.1.norm().total_cmp(&b.1.norm())) {
                joints[i] = if lines[0].0 && lines[1].0 { Joint::Corner } else { Joint::Tangent };
                tangents[i] = chord.unit().unwrap_or_default();
                continue;
            }
            tangents[i] = circle_tangent(self.chord(p), self.chord(i));
            let (pp, qq) = (self.before(p), (q + 1) % n);
            let clear = |j: usize, chords: [usize; 2]| !corner(j) && !chords.iter().any(|&c| self.lines[c]);
            if !clear(p, [pp, p]) || !clear(q, [i, q]) || n < 7 {
                continue;
            }
            // Two runs of steady curvature on both sides with a step between: the tangent is that of the run's own
            // circle.
            let k = [pp, p, i, q, qq].map(|j| if corner(j) { f64::NAN } else { self.curvature(j) });
            let within = (k[1] - k[0]).abs().max((k[4] - k[3]).abs());
            let step = (k[3] - k[1]).abs();
            if step > 4.0 * within && step > 0.2 * k[1].abs().max(k[3].abs()) {
                let back = circle_tangent(self.chord(pp), self.chord(p));
                let on = circle_tangent(self.chord(i), self.chord(q));
                let (from, to) = (mirrored(back, self.chord(p)), mirrored(on, self.chord(i)));
                if let Some(tangent) = (from + to).unit() {
                    (tangents[i], joints[i]) = (tangent, Joint::Tangent);
                }
            }
        }
        self.joints = joints;
        self.tangents = tangents;
    }

    /// The tangent with which a run leaves a corner: that of the circle through the first three points.
    fn leaving(&self, i: usize, end: usize) -> Option<Point> {
        let chord = self.chord(i);
        if i + 2 > end || self.lines[i % self.len()] {
            return chord.unit();
        }
        let next = (i + 1) % self.len();
        Some(mirrored(self.tangents[next], chord))
    }

    fn arriving(&self, i: usize, start: usize) -> Option<Point> {
        let before = i - 1;
        let chord = self.chord(before);
        if before <= start || self.lines[before % self.len()] {
            return chord.unit();
        }
        Some(mirrored(self.tangents[before % self.len()], chord))
    }

    fn fitted(&self) -> Vec<Vertex> {
        let n = self.len();
        let joints: Vec<usize> = (0..n).filter(|&i| self.joints[i] != Joint::Smooth).collect();
        let mut vertices = Vec::new();
        if !self.closed {
            for w in joints.windows(2) {
                self.fit_section(w[0], w[1], &mut vertices);
            }
            vertices.push(Vertex::straight(self.points[n - 1]));
            return vertices;
        }
        let Some(&first) = joints.first() else {
            self.fit_section(0, n, &mut vertices);
            return vertices;
        };
        let ends = joints[1..].iter().copied().chain([first + n]);
        for (&from, to) in joints.iter().zip(ends) {
            self.fit_section(from, to, &mut vertices);
        }
        vertices
    }

    /// Fits from one joint to the next, all smooth between.
    fn fit_section(&self, from: usize, to: usize, vertices: &mut Vec<Vertex>) {
        let n = self.len();
        if to == from + 1 {
            let between_lines = self.lines[from % n] || [from, to].iter().all(|&i| self.joints[i % n] == Joint::Corner);
            if between_lines {
                return vertices.push(Vertex::straight(self.point(from)));
            }
        }
        let tangent_at = |i: usize| self.tangents[i % n];
        let start =
            if self.joints[from % n] == Joint::Corner { self.leaving(from, to) } else { Some(tangent_at(from)) };
        let end = if self.joints[to % n] == Joint::Corner { self.arriving(to, from) } else { Some(tangent_at(to)) };
        let (Some(mut tangent), Some(last)) = (start, end) else {
            return vertices.push(Vertex::straight(self.point(from)));
        };
        let free_end = self.joints[to % n] == Joint::Corner;
        let mut i = from;
        while i < to {
            let estimate = |j: usize| if j == to { last } else { tangent_at(j) };
            let lone = self.furthest(i, to, |j| {
                let (arc, leaves) = Arc::from_tangent(self.point(i), tangent, self.point(j))?;
                let off = leaves.cross(estimate(j)).abs();
                let length = self.point(i).distance(self.point(j));
                let bound = if j == to && free_end {
                    f64::INFINITY
                } else if j == to {
                    SAME
                } else {
                    // A tangent off by d moves what follows by about d L / 7.
                    (0.25 * self.tolerance / length).min(1e-3)
                };
                let same_way = leaves.dot(estimate(j)) > 0.0;
                (off <= bound && same_way && self.within(i, j, &[arc])).then_some((vec![arc], leaves))
            });
            let double = self.furthest(i, to, |j| {
                let arcs = biarc(self.point(i), tangent, self.point(j), estimate(j))?;
                self.within(i, j, &arcs).then(|| (arcs.to_vec(), estimate(j)))
            });
            let reach = |found: &Option<(usize, (Vec<Arc>, Point))>| found.as_ref().map_or(0, |f| f.0 - i);
            let best = if 2 * reach(&lone) >= reach(&double) { lone } else { double };
            match best {
                Some((j, (arcs, leaves))) => {
                    vertices.extend(arcs.iter().map(|arc| Vertex { p: arc.a, bulge: arc.bulge }));
                    (i, tangent) = (j, leaves);
                }
                None => {
                    // Tangents that even one chord can't follow: a kink is better than a curve that strays.
                    vertices.push(Vertex::straight(self.point(i)));
                    i += 1;
                    tangent = estimate(i);
                }
            }
        }
    }

    /// The furthest point up to `to` for which `fit` succeeds, by doubling and then halving.
    fn furthest<T>(&self, i: usize, to: usize, fit: impl Fn(usize) -> Option<T>) -> Option<(usize, T)> {
        let (mut good, mut bad) = (None, to + 1);
        let mut step = 1;
        while i + step <= to {
            let Some(found) = fit(i + step) else {
                bad = i + step;
                break;
            };
            good = Some((i + step, found));
            if i + step == to {
                return good;
            }
            step = (2 * step).min(to - i);
        }
        let mut low = good.as_ref().map_or(i, |g| g.0);
        while bad - low > 1 {
            let middle = (low + bad) / 2;
            match fit(middle) {
                Some(found) => {
                    good = Some((middle, found));
                    low = middle;
                }
                None => bad = middle,
            }
        }
        good
    }

    /// Whether arcs that follow each other pass all points of a run and its chords' middles within the tolerance, and
    /// no other way.
    fn within(&self, i: usize, j: usize, arcs: &[Arc]) -> bool {
        let run: f64 = (i..j).map(|k| self.chord(k).norm()).sum();
        let length: f64 = arcs.iter().map(Arc::length).sum();
        if length > 1.2 * run + 2.0 * self.tolerance || arcs.iter().any(|arc| arc.sweep.abs() > LARGEST_SWEEP) {
            return false;
        }
        let near = |p: Point| {
            let arc = match arcs {
                [first, second] if (p - first.b).dot(first.leaving) > 0.0 && first.beyond(p) => second,
                [first, ..] => first,
                [] => return false,
            };
            arc.off(p) <= self.tolerance
        };
        (i..j).all(|k| {
            let (p, q) = (self.point(k), self.point(k + 1));
            near(p.lerp(q, 0.5)) && (k + 1 == j || near(q))
        })
    }
}

/// An arc or line, given by its ends.
#[derive(Debug, Clone, Copy)]
struct Arc {
    a: Point,
    b: Point,
    bulge: f64,
    sweep: f64,
    /// Unit tangent at the end.
    leaving: Point,
}

impl Arc {
    /// The arc that leaves `a` along a unit tangent and ends at `b`, with its tangent there.
    fn from_tangent(a: Point, tangent: Point, b: Point) -> Option<(Self, Point)> {
        let chord = b - a;
        let half = libm::atan2(tangent.cross(chord), tangent.dot(chord));
        let leaving = mirrored(tangent, chord);
        (chord.norm() > 0.0 && half.abs() < 0.75 * PI)
            .then(|| (Self { a, b, bulge: libm::tan(0.5 * half), sweep: 2.0 * half, leaving }, leaving))
    }

    fn length(&self) -> f64 {
        let half = 0.5 * self.sweep;
        let ratio = if half.abs() < 1e-6 { 1.0 } else { half / libm::sin(half) };
        self.a.distance(self.b) * ratio
    }

    /// Whether a point lies past the end rather than beside the arc, for arcs of more than a half turn's reach.
    fn beyond(&self, p: Point) -> bool {
        self.sweep.abs() < 0.5 * PI || (p - self.a).dot(self.b - self.a) > 0.0
    }

    /// Distance of a point beside the arc from it, without a centre, which flat arcs have too far away: with the
    /// point's offsets x and y from the chord's middle, r - sqrt(x² + (y + m)²) for the centre m below.
    fn off(&self, p: Point) -> f64 {
        let chord = self.b - self.a;
        let length = chord.norm();
        let along = chord * (1.0 / length);
        let to = p - self.a.lerp(self.b, 0.5);
        let (x, y) = (to.dot(along), -along.cross(to));
        let sagitta = 0.5 * length * self.bulge;
        if sagitta.abs() < 1e-12 {
            return y.abs();
        }
        // The circle is x² + y² - 2 m y = length²/4 with m = (s² - length²/4) / 2 s; its radius is |s| + ... of the
        // same terms.
        let quarter = 0.25 * length * length;
        let m = (sagitta * sagitta - quarter) / (2.0 * sagitta);
        let radius = (sagitta * sagitta + quarter) / (2.0 * sagitta.abs());
        let power = x * x + y * y - 2.0 * m * y - quarter;
        // |d² - r²| / (d + r) for the distance d to the centre.
        power.abs() / (radius + libm::hypot(x, y - m))
    }
}

/// A direction mirrored in a chord: from the tangent at one end of an arc to that at its other end.
fn mirrored(tangent: Point, chord: Point) -> Point {
    let square = chord.dot(chord);
    if square > 0.0 { chord * (2.0 * tangent.dot(chord) / square) - tangent } else { tangent }
}

/// The tangent at the middle of three points of the circle through them, from the two chords (by inversion at the
/// middle point).
fn circle_tangent(d: Point, e: Point) -> Point {
    (d * (1.0 / d.dot(d)) + e * (1.0 / e.dot(e))).unit().unwrap_or_default()
}

/// Two arcs from point and tangent to point and tangent that join tangentially, with equal tangent lengths.
fn biarc(p: Point, t: Point, q: Point, u: Point) -> Option<[Arc; 2]> {
    let v = q - p;
    let (sum, turn) = (t + u, 1.0 - t.dot(u));
    let (square, along) = (v.dot(v), v.dot(sum));
    // |v - d (t + u)| = 2 d, the positive root.
    let root = libm::sqrt(along * along + 2.0 * turn * square);
    let d = square / (along + root);
    if !(d > 0.0 && d.is_finite()) {
        return None;
    }
    let middle = (p + t * d).lerp(q - u * d, 0.5);
    let (first, joint) = Arc::from_tangent(p, t, middle)?;
    let (second, leaving) = Arc::from_tangent(middle, joint, q)?;
    // By construction the second arc ends along `u`.
    (leaving.dot(u) > 0.0).then_some([first, Arc { leaving: u, ..second }])
}
