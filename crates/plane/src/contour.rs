//! Closed contours and open paths as vertices with bulges.

use crate::{Affine, Bounds, Point, Segment};
use serde::{Deserialize, Serialize};

/// A corner of a contour and how the contour leaves it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Vertex {
    /// Where, mm.
    pub p: Point,
    /// Tangent of a quarter of the sweep to the next vertex; 0 is straight, positive turns left.
    pub bulge: f64,
}

impl Vertex {
    /// A vertex from which the contour goes on straight.
    pub const fn straight(p: Point) -> Self {
        Self { p, bulge: 0.0 }
    }
}

/// A closed contour of lines and arcs; the last vertex is joined to the first.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Contour {
    /// At least two for a contour with area.
    pub vertices: Vec<Vertex>,
}

/// An open path of lines and arcs; the last vertex's bulge means nothing.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Path {
    /// In order of travel.
    pub vertices: Vec<Vertex>,
}

/// Area between a chord and the arc of this bulge over it, mm²; positive if the arc turns left.
///
/// c² (1 + b²)² / (32 b²) (t - sin t) with t = 4 atan b and sin t = 4 b (1 - b²) / (1 + b²)²; for small b as a series, where the
/// difference would lose digits.
fn beyond_chord(a: Point, b: Point, bulge: f64) -> f64 {
    let (chord, square) = ((b - a).dot(b - a), bulge * bulge);
    if bulge.abs() < 1e-3 {
        return chord * bulge / 3.0 * (1.0 + 0.2 * square);
    }
    if bulge.abs() > 1e3 {
        return Segment::with_bulge(a, b, bulge).area_to(a);
    }
    let wide = (1.0 + square) * (1.0 + square);
    let (turn, sine) = (4.0 * libm::atan(bulge), 4.0 * bulge * (1.0 - square) / wide);
    chord * wide / (32.0 * square) * (turn - sine)
}

/// Length of the arc of this bulge over a chord, mm.
fn length_of(a: Point, b: Point, bulge: f64) -> f64 {
    let (chord, square) = (a.distance(b), bulge * bulge);
    // c (1 + b²) / (4 b) · 4 atan b
    if square < 1e-6 {
        return chord * (1.0 + square) * (1.0 - square / 3.0);
    }
    if bulge.abs() > 1e3 {
        return Segment::with_bulge(a, b, bulge).length();
    }
    chord * (1.0 + square) * libm::atan(bulge) / bulge
}

impl Contour {
    /// A contour of straight lines.
    pub fn polygon(points: impl IntoIterator<Item = Point>) -> Self {
        Self { vertices: points.into_iter().map(Vertex::straight).collect() }
    }

    /// A full circle, counter-clockwise, as two half circles.
    pub fn circle(centre: Point, radius: f64) -> Self {
        let side = Point::new(radius, 0.0);
        Self { vertices: vec![Vertex { p: centre + side, bulge: 1.0 }, Vertex { p: centre - side, bulge: 1.0 }] }
    }

    /// An upright rectangle, counter-clockwise.
    pub fn rectangle(bounds: Bounds) -> Self {
        let Bounds { min, max } = bounds;
        Self::polygon([min, Point::new(max.x, min.y), max, Point::new(min.x, max.y)])
    }

    /// Its segments in order.
    pub fn segments(&self) -> impl ExactSizeIterator<Item = Segment> + Clone + '_ {
        let n = self.vertices.len();
        (0..n).map(move |i| {
            let (v, w) = (self.vertices[i], self.vertices[(i + 1) % n]);
            Segment::with_bulge(v.p, w.p, v.bulge)
        })
    }

    /// Signed area, mm²; positive if counter-clockwise.
    pub fn area(&self) -> f64 {
        let origin = self.vertices.first().map_or(Point::default(), |v| v.p);
        self.sides().map(|(a, b, bulge)| 0.5 * (a - origin).cross(b - origin) + beyond_chord(a, b, bulge)).sum()
    }

    /// Length, mm.
    pub fn length(&self) -> f64 {
        self.sides().map(|(a, b, bulge)| length_of(a, b, bulge)).sum()
    }

    /// Ends and bulge of each segment.
    fn sides(&self) -> impl Iterator<Item = (Point, Point, f64)> + '_ {
        let n = self.vertices.len();
        (0..n).map(move |i| (self.vertices[i].p, self.vertices[(i + 1) % n].p, self.vertices[i].bulge))
    }

    /// The exact box around it.
    pub fn bounds(&self) -> Bounds {
        self.segments().fold(Bounds::EMPTY, |b, s| b.union(s.bounds()))
    }

    /// The same contour the other way round.
    #[must_use]
    pub fn reversed(&self) -> Self {
        Self { vertices: reversed(&self.vertices, true) }
    }

    /// The ring of points, first not repeated, whose chords are within `tolerance` mm of it.
    pub fn flatten(&self, tolerance: f64) -> Vec<Point> {
        let mut points = Vec::with_capacity(self.vertices.len());
        for segment in self.segments() {
            segment.flatten_into(tolerance, &mut points);
        }
        // Each segment gave its end, so the first vertex came last: turn it to the front.
        if let Some(first) = points.pop() {
            points.insert(0, first);
        }
        points
    }

    /// The image under a similarity; `None` if the map would turn arcs into ellipses and there are arcs.
    pub fn mapped(&self, map: Affine) -> Option<Self> {
        Some(Self { vertices: mapped(&self.vertices, map)? })
    }

    /// Whether a point is inside (even-odd; on the edge either answer may come).
    pub fn contains(&self, p: Point) -> bool {
        self.winding(p) % 2 != 0
    }

    /// How often the contour goes round a point, counter-clockwise counted positive.
    pub fn winding(&self, p: Point) -> i32 {
        let n = self.vertices.len();
        let pair = |i: usize| (self.vertices[i], self.vertices[if i + 1 == n { 0 } else { i + 1 }]);
        (0..n).map(pair).map(|(v, w)| crossings(v.p, w.p, v.bulge, p)).sum()
    }
}

impl Path {
    /// A path of straight lines.
    pub fn polyline(points: impl IntoIterator<Item = Point>) -> Self {
        Self { vertices: points.into_iter().map(Vertex::straight).collect() }
    }

    /// Its segments in order.
    pub fn segments(&self) -> impl DoubleEndedIterator<Item = Segment> + Clone + '_ {
        self.vertices.windows(2).map(|w| Segment::with_bulge(w[0].p, w[1].p, w[0].bulge))
    }

    /// Length, mm.
    pub fn length(&self) -> f64 {
        self.segments().map(|s| s.length()).sum()
    }

    /// The exact box around it.
    pub fn bounds(&self) -> Bounds {
        let points = Bounds::of(self.vertices.iter().map(|v| v.p));
        self.segments().fold(points, |b, s| b.union(s.bounds()))
    }

    /// The same path travelled the other way.
    #[must_use]
    pub fn reversed(&self) -> Self {
        Self { vertices: reversed(&self.vertices, false) }
    }

    /// Points whose chords are within `tolerance` mm of it.
    pub fn flatten(&self, tolerance: f64) -> Vec<Point> {
        let mut points: Vec<Point> = self.vertices.first().map(|v| v.p).into_iter().collect();
        for segment in self.segments() {
            segment.flatten_into(tolerance, &mut points);
        }
        points
    }

    /// The image under a similarity; `None` if the map would turn arcs into ellipses and there are arcs.
    pub fn mapped(&self, map: Affine) -> Option<Self> {
        Some(Self { vertices: mapped(&self.vertices, map)? })
    }
}

fn mapped(vertices: &[Vertex], map: Affine) -> Option<Vec<Vertex>> {
    let curved = vertices.iter().any(|v| v.bulge != 0.0);
    if curved && map.similarity().is_none() {
        return None;
    }
    let turn = map.determinant().signum();
    Some(vertices.iter().map(|v| Vertex { p: map.apply(v.p), bulge: v.bulge * turn }).collect())
}

/// Vertices in the other order; each bulge belongs to the segment that now leaves its other end.
fn reversed(vertices: &[Vertex], closed: bool) -> Vec<Vertex> {
    let n = vertices.len();
    (0..n)
        .rev()
        .map(|i| {
            let before = if i > 0 {
                vertices[i - 1].bulge
            } else if closed {
                vertices[n - 1].bulge
            } else {
                0.0
            };
            Vertex { p: vertices[i].p, bulge: -before }
        })
        .collect()
}

/// Signed crossings of the ray from `p` to the right by the segment from `a` to `b`: +1 where it crosses upward. No
/// angles are needed, so this stays fast where a region is asked about millions of points.
pub(crate) fn crossings(a: Point, b: Point, bulge: f64, p: Point) -> i32 {
    let (d, to) = (b - a, p - a);
    let side = d.cross(to);
    let step = i32::from(b.y > p.y) - i32::from(a.y > p.y);
    let chord = if step != 0 && side * f64::from(step) > 0.0 { step } else { 0 };
    if bulge.abs() <= crate::segment::STRAIGHT || d == Point::default() {
        return chord;
    }
    // The chord's crossing, mended by whether the point lies in the piece between chord and arc. A point on the chord
    // counts as just right of it, and just above it if it is level, as above.
    let left_of_chord = if side != 0.0 {
        side > 0.0
    } else if d.y != 0.0 {
        d.y < 0.0
    } else {
        d.x > 0.0
    };
    if (bulge > 0.0) == left_of_chord {
        return chord;
    }
    let centre = a.lerp(b, 0.5) + d.left() * ((1.0 - bulge * bulge) / (4.0 * bulge));
    let radius = libm::sqrt(d.dot(d)) * (1.0 + bulge * bulge) / (4.0 * bulge.abs());
    let out = p - centre;
    let between = out.dot(out) < radius * radius;
    chord + if between { if bulge > 0.0 { 1 } else { -1 } } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// Stadium of centre length 30 and width 6: area 208.2743, perimeter 78.8496 (A = 2 L r + pi r², derived).
    #[test]
    fn stadium() {
        let (h, r) = (15.0, 3.0);
        let v = |x: f64, y: f64, bulge: f64| Vertex { p: Point::new(x, y), bulge };
        let stadium = Contour { vertices: vec![v(-h, -r, 0.0), v(h, -r, 1.0), v(h, r, 0.0), v(-h, r, 1.0)] };
        assert!((stadium.area() - 208.2743).abs() < 1e-4);
        assert!((stadium.length() - 78.8496).abs() < 1e-4);
        assert!((stadium.reversed().area() + stadium.area()).abs() < 1e-9);
        assert!(stadium.contains(Point::new(17.9, 0.0)) && !stadium.contains(Point::new(17.9, 1.5)));
        assert_eq!(stadium.reversed().reversed(), stadium);
    }

    #[test]
    fn winding_of_circles_and_big_arcs() {
        let circle = Contour::circle(Point::new(2.0, 1.0), 5.0);
        assert_eq!(circle.winding(Point::new(2.0, 1.0)), 1);
        assert_eq!(circle.reversed().winding(Point::new(5.0, 4.0)), -1);
        assert_eq!(circle.winding(Point::new(6.0, 6.0)), 0);
        // Three quarters of a circle closed by its chord.
        let bite = Contour {
            vertices: vec![
                Vertex { p: Point::new(1.0, 0.0), bulge: libm::tan(3.0 * PI / 8.0) },
                Vertex::straight(Point::new(0.0, -1.0)),
            ],
        };
        assert!((bite.area() - (0.75 * PI + 0.5)).abs() < 1e-12);
        for (x, y, inside) in [
            (0.0, 0.0, true),
            (-0.9, 0.1, true),
            (0.6, -0.6, false),
            (0.4, -0.4, true),
            (-0.6, -0.6, true),
            (0.9, 0.3, true),
        ] {
            assert_eq!(bite.contains(Point::new(x, y)), inside, "{x} {y}");
        }
    }

    #[test]
    fn flattening_keeps_to_the_curve() {
        let circle = Contour::circle(Point::default(), 10.0);
        let ring = circle.flatten(0.01);
        assert_eq!(ring.len(), 72);
        assert_eq!(ring[0], Point::new(10.0, 0.0));
    }
}
