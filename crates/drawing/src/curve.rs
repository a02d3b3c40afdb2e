//! Curves as the file draws them, carried through its transforms, and turned into lines and arcs at the end.
//!
//! A circle stays a circle through any similarity; through anything else it is an ellipse. Curves that are not
//! circular are flattened in the final frame, in mm, so that the tolerance means what it says.

use crate::spline::Spline;
use plane::{Affine, Contour, FIT, FLATTEN, Path, Point, Vertex};
use std::f64::consts::PI;

/// An ellipse whose half axes differ by no more than this is a circle, mm.
const ROUND: f64 = 2e-5;
/// No curve is cut into more chords than this.
const MOST_CHORDS: usize = 100_000;
/// Coordinates beyond this are a mistake, mm (a hundred kilometres).
pub(crate) const FARTHEST: f64 = 1e8;

/// One piece of a drawn path.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Curve {
    /// A straight line.
    Line(Point, Point),
    /// `centre + u cos t + v sin t`, from `a` to `b`.
    Round(Round),
    /// A cubic Bézier.
    Cubic([Point; 4]),
    /// A B-spline.
    Spline(Spline),
}

/// An arc of an ellipse by conjugate half diameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Round {
    /// Where it starts; stated by the file, so exact.
    pub(crate) a: Point,
    /// Where it ends.
    pub(crate) b: Point,
    /// Its centre.
    pub(crate) centre: Point,
    /// Half diameter at parameter 0.
    pub(crate) u: Point,
    /// Half diameter at a quarter turn.
    pub(crate) v: Point,
    /// Parameter at the start, radians.
    pub(crate) from: f64,
    /// Parameter covered; a full turn is allowed.
    pub(crate) sweep: f64,
}

/// A path as drawn.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Trace {
    /// In order; each starts where the one before ends.
    pub(crate) curves: Vec<Curve>,
    /// Whether the file says that it closes.
    pub(crate) closed: bool,
}

/// A path as lines and arcs.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Chain {
    /// In order; the last vertex's bulge means nothing if open.
    pub(crate) vertices: Vec<Vertex>,
    /// Whether the last vertex is joined to the first.
    pub(crate) closed: bool,
}

impl Round {
    /// An arc of a circle.
    pub(crate) fn circular(centre: Point, radius: f64, from: f64, sweep: f64) -> Self {
        Self::elliptic(centre, Point::new(radius, 0.0), Point::new(0.0, radius), from, sweep)
    }

    /// An arc of an ellipse, with its ends worked out.
    pub(crate) fn elliptic(centre: Point, u: Point, v: Point, from: f64, sweep: f64) -> Self {
        let mut round = Self { a: centre, b: centre, centre, u, v, from, sweep };
        round.a = round.at(from);
        round.b = if round.is_full() { round.a } else { round.at(from + sweep) };
        round
    }

    fn is_full(&self) -> bool {
        self.sweep.abs() >= 2.0 * PI - 1e-12
    }

    fn at(&self, t: f64) -> Point {
        self.centre + self.u * libm::cos(t) + self.v * libm::sin(t)
    }

    /// Half the longest and the shortest diameter: the singular values of the 2 x 2 matrix of u and v, whose sum and
    /// difference are the lengths of its two conformal parts (textbook), exact for a circle of any size.
    fn half_axes(&self) -> (f64, f64) {
        let turning = Point::new(self.u.x + self.v.y, self.u.y - self.v.x).norm();
        let mirroring = Point::new(self.u.x - self.v.y, self.u.y + self.v.x).norm();
        let (sum, difference) = (turning.max(mirroring), turning.min(mirroring));
        ((sum + difference) / 2.0, (sum - difference) / 2.0)
    }

    fn mapped(&self, map: Affine) -> Self {
        let vector = |d: Point| map.apply(d) - map.apply(Point::default());
        Self {
            a: map.apply(self.a),
            b: map.apply(self.b),
            centre: map.apply(self.centre),
            u: vector(self.u),
            v: vector(self.v),
            ..*self
        }
    }
}

impl Curve {
    /// A line or arc from DXF's bulge (the tangent of a quarter of the sweep).
    pub(crate) fn with_bulge(a: Point, b: Point, bulge: f64) -> Self {
        match plane::Segment::with_bulge(a, b, bulge) {
            plane::Segment::Line { a, b } => Self::Line(a, b),
            plane::Segment::Arc { centre, radius, from, sweep, .. } => {
                Self::Round(Round { a, b, centre, u: Point::new(radius, 0.0), v: Point::new(0.0, radius), from, sweep })
            }
        }
    }

    /// A quadratic Bézier, raised to a cubic (exact).
    pub(crate) fn quadratic(p0: Point, p1: Point, p2: Point) -> Self {
        Self::Cubic([p0, p0.lerp(p1, 2.0 / 3.0), p2.lerp(p1, 2.0 / 3.0), p2])
    }

    /// Where it starts.
    pub(crate) fn start(&self) -> Point {
        match self {
            Self::Line(a, _) => *a,
            Self::Round(r) => r.a,
            Self::Cubic(p) => p[0],
            Self::Spline(s) => s.start(),
        }
    }

    /// Where it ends.
    pub(crate) fn end(&self) -> Point {
        match self {
            Self::Line(_, b) => *b,
            Self::Round(r) => r.b,
            Self::Cubic(p) => p[3],
            Self::Spline(s) => s.end(),
        }
    }

    /// Its image.
    pub(crate) fn mapped(&self, map: Affine) -> Self {
        match self {
            Self::Line(a, b) => Self::Line(map.apply(*a), map.apply(*b)),
            Self::Round(r) => Self::Round(r.mapped(map)),
            Self::Cubic(p) => Self::Cubic(p.map(|p| map.apply(p))),
            Self::Spline(s) => Self::Spline(s.mapped(|p| map.apply(p))),
        }
    }

    /// Whether all its numbers are finite and near enough to be a drawing's.
    fn is_sane(&self) -> bool {
        let near = |p: &Point| p.is_finite() && p.x.abs() <= FARTHEST && p.y.abs() <= FARTHEST;
        match self {
            Self::Line(a, b) => near(a) && near(b),
            Self::Round(r) => {
                // The centre of a nearly straight arc is far away; its ends are not.
                let finite = |p: Point| p.x.abs() <= 1e15 && p.y.abs() <= 1e15;
                let round = finite(r.centre) && finite(r.u) && finite(r.v);
                near(&r.a) && near(&r.b) && round && r.from.is_finite() && r.sweep.is_finite()
            }
            Self::Cubic(p) => p.iter().all(near),
            Self::Spline(s) => s.points().all(|p| near(&p)),
        }
    }
}

impl Trace {
    /// An open path of one curve.
    pub(crate) fn open(curve: Curve) -> Self {
        Self { curves: vec![curve], closed: false }
    }

    /// A closed path of one curve, such as a circle.
    pub(crate) fn closed(curve: Curve) -> Self {
        Self { curves: vec![curve], closed: true }
    }

    /// A path of straight lines.
    pub(crate) fn polyline(points: &[Point], closed: bool) -> Self {
        let mut curves: Vec<Curve> = points.windows(2).map(|w| Curve::Line(w[0], w[1])).collect();
        if let (true, Some(&first), Some(&last)) = (closed, points.first(), points.last())
            && first != last
        {
            curves.push(Curve::Line(last, first));
        }
        Self { curves, closed }
    }

    /// Its image.
    pub(crate) fn mapped(&self, map: Affine) -> Self {
        Self { curves: self.curves.iter().map(|c| c.mapped(map)).collect(), closed: self.closed }
    }

    /// As lines and arcs in its present frame, which must be mm; `None` if a number is not finite or far too large.
    pub(crate) fn chain(&self) -> Option<Chain> {
        if self.curves.is_empty() || !self.curves.iter().all(Curve::is_sane) {
            return None;
        }
        let mut walk = Walk::default();
        for curve in &self.curves {
            walk.add(curve);
        }
        walk.fit();
        let mut vertices = walk.vertices;
        vertices.push(Vertex::straight(self.curves[self.curves.len() - 1].end()));
        let mut chain = Chain { vertices, closed: false };
        if self.closed {
            chain.close();
        }
        Some(chain)
    }
}

impl Trace {
    /// As a ring of points, first not repeated, whose chords are within [`FLATTEN`] of it. `None` if a number is not finite or far too large.
    pub(crate) fn chords(&self) -> Option<Vec<Point>> {
        if self.curves.is_empty() || !self.curves.iter().all(Curve::is_sane) {
            return None;
        }
        let mut points = vec![self.curves[0].start()];
        for curve in &self.curves {
            match curve {
                Curve::Line(_, b) => points.push(*b),
                Curve::Cubic(p) => flatten_cubic(p, &mut points),
                Curve::Round(round) => flatten_round(round, round.half_axes().0, &mut points),
                Curve::Spline(spline) => spline.flatten_into(FLATTEN, MOST_CHORDS, &mut points),
            }
        }
        points.dedup();
        if points.len() > 1 && points.first() == points.last() {
            points.pop();
        }
        Some(points)
    }
}

/// Lines and arcs so far, and the chords of a curve not yet fitted.
#[derive(Default)]
struct Walk {
    vertices: Vec<Vertex>,
    chords: Vec<Point>,
}

impl Walk {
    fn add(&mut self, curve: &Curve) {
        match curve {
            Curve::Line(a, b) => {
                self.fit();
                if a != b {
                    self.vertices.push(Vertex::straight(*a));
                }
            }
            Curve::Round(round) => self.add_round(round),
            Curve::Cubic(p) => {
                self.begin(p[0]);
                flatten_cubic(p, &mut self.chords);
            }
            Curve::Spline(spline) => {
                self.begin(spline.start());
                spline.flatten_into(FLATTEN, MOST_CHORDS, &mut self.chords);
            }
        }
    }

    fn add_round(&mut self, round: &Round) {
        let (long, short) = round.half_axes();
        if long - short > ROUND {
            self.begin(round.a);
            return flatten_round(round, long, &mut self.chords);
        }
        self.fit();
        // More than half a circle is cut in two, so that no bulge grows large.
        let parts = if round.sweep.abs() > PI { 2 } else { 1 };
        let part = round.sweep / f64::from(parts);
        let bulge = libm::tan(part / 4.0) * round.u.cross(round.v).signum();
        self.vertices.push(Vertex { p: round.a, bulge });
        if parts == 2 {
            self.vertices.push(Vertex { p: round.at(round.from + part), bulge });
        }
    }

    fn begin(&mut self, p: Point) {
        if self.chords.is_empty() {
            self.chords.push(p);
        }
    }

    fn fit(&mut self) {
        if !self.chords.is_empty() {
            let mut fitted = plane::fit_open(&self.chords, FIT).vertices;
            fitted.pop();
            self.vertices.append(&mut fitted);
            self.chords.clear();
        }
    }
}

/// The chord of a step `dt` of an ellipse with long half axis `a` is within `a (1 - cos dt/2)` of it.
fn flatten_round(round: &Round, long: f64, points: &mut Vec<Point>) {
    let step = 2.0 * libm::acos((1.0 - FLATTEN / long).max(-1.0));
    let steps = ((round.sweep.abs() / step).ceil() as usize).clamp(8, MOST_CHORDS);
    points.extend((1..steps).map(|i| round.at(round.from + round.sweep * i as f64 / steps as f64)));
    points.push(round.b);
}

/// A chord over a step `dt` is within `|B''| dt² / 8` of the curve, and `|B''|` is at most six times the
/// greater second difference of the control points.
fn flatten_cubic(p: &[Point; 4], points: &mut Vec<Point>) {
    let bend = (p[0] - p[1] * 2.0 + p[2]).norm().max((p[1] - p[2] * 2.0 + p[3]).norm());
    let steps = (libm::sqrt(6.0 * bend / (8.0 * FLATTEN)).ceil() as usize).clamp(1, MOST_CHORDS);
    points.extend((1..steps).map(|i| {
        let t = i as f64 / steps as f64;
        let s = 1.0 - t;
        p[0] * (s * s * s) + p[1] * (3.0 * s * s * t) + p[2] * (3.0 * s * t * t) + p[3] * (t * t * t)
    }));
    points.push(p[3]);
}

impl Chain {
    /// Joins the last vertex to the first: merged if they are one point, with a straight line else.
    pub(crate) fn close(&mut self) {
        let n = self.vertices.len();
        if n > 1 && self.vertices[0].p.distance(self.vertices[n - 1].p) <= 1e-9 {
            self.vertices.pop();
        }
        self.closed = true;
    }

    /// The vertices as an open path.
    pub(crate) fn path(&self) -> Path {
        Path { vertices: self.vertices.clone() }
    }

    /// The vertices as a contour.
    pub(crate) fn contour(&self) -> Contour {
        Contour { vertices: self.vertices.clone() }
    }

    /// Length, mm.
    pub(crate) fn length(&self) -> f64 {
        if self.closed { self.contour().length() } else { self.path().length() }
    }
}
