//! SVG path data to traces.

use crate::curve::{Curve, Round, Trace};
use plane::Point;
use std::f64::consts::{PI, TAU};
use svgtypes::{PathParser, PathSegment};

/// The subpaths of path data, and the place in it where reading stopped if it is broken.
pub(super) fn traces(data: &str) -> (Vec<Trace>, Option<String>) {
    let mut pen = Pen::default();
    for segment in PathParser::from(data) {
        match segment {
            Ok(segment) => pen.draw(segment),
            Err(error) => return (pen.lifted(), Some(error.to_string())),
        }
    }
    (pen.lifted(), None)
}

/// Where the pen is, and what it has drawn.
#[derive(Default)]
struct Pen {
    at: Point,
    start: Point,
    /// The last control point of a cubic or quadratic, for the smooth commands.
    cubic: Option<Point>,
    quadratic: Option<Point>,
    current: Vec<Curve>,
    done: Vec<Trace>,
}

impl Pen {
    fn lifted(mut self) -> Vec<Trace> {
        self.lift(false);
        self.done
    }

    fn lift(&mut self, closed: bool) {
        if closed && self.at != self.start {
            self.current.push(Curve::Line(self.at, self.start));
        }
        if !self.current.is_empty() {
            self.done.push(Trace { curves: std::mem::take(&mut self.current), closed });
        }
        self.at = self.start;
    }

    fn draw(&mut self, segment: PathSegment) {
        let (cubic, quadratic) = (self.cubic.take(), self.quadratic.take());
        let at = self.at;
        let to = |abs: bool, x: f64, y: f64| if abs { Point::new(x, y) } else { at + Point::new(x, y) };
        match segment {
            PathSegment::MoveTo { abs, x, y } => {
                self.lift(false);
                // A relative move after an open path is from where that path ended.
                self.at = if abs { Point::new(x, y) } else { at + Point::new(x, y) };
                self.start = self.at;
            }
            PathSegment::ClosePath { .. } => self.lift(true),
            PathSegment::LineTo { abs, x, y } => self.line(to(abs, x, y)),
            PathSegment::HorizontalLineTo { abs, x } => {
                self.line(Point::new(if abs { x } else { at.x + x }, at.y));
            }
            PathSegment::VerticalLineTo { abs, y } => self.line(Point::new(at.x, if abs { y } else { at.y + y })),
            PathSegment::CurveTo { abs, x1, y1, x2, y2, x, y } => {
                self.cubic(to(abs, x1, y1), to(abs, x2, y2), to(abs, x, y));
            }
            PathSegment::SmoothCurveTo { abs, x2, y2, x, y } => {
                self.cubic(cubic.unwrap_or(at), to(abs, x2, y2), to(abs, x, y));
            }
            PathSegment::Quadratic { abs, x1, y1, x, y } => self.quadratic(to(abs, x1, y1), to(abs, x, y)),
            PathSegment::SmoothQuadratic { abs, x, y } => self.quadratic(quadratic.unwrap_or(at), to(abs, x, y)),
            PathSegment::EllipticalArc { abs, rx, ry, x_axis_rotation, large_arc, sweep, x, y } => {
                let end = to(abs, x, y);
                self.current.extend(arc(at, end, [rx, ry], x_axis_rotation, large_arc, sweep));
                self.at = end;
            }
        }
    }

    fn line(&mut self, to: Point) {
        self.current.push(Curve::Line(self.at, to));
        self.at = to;
    }

    fn cubic(&mut self, c1: Point, c2: Point, to: Point) {
        self.current.push(Curve::Cubic([self.at, c1, c2, to]));
        self.cubic = Some(to * 2.0 - c2);
        self.at = to;
    }

    fn quadratic(&mut self, c: Point, to: Point) {
        self.current.push(Curve::quadratic(self.at, c, to));
        self.quadratic = Some(to * 2.0 - c);
        self.at = to;
    }
}

/// An arc by its ends, as centre and half diameters (SVG 1.1, appendix F.6.5 and F.6.6).
fn arc(a: Point, b: Point, radii: [f64; 2], rotation: f64, large: bool, sweep: bool) -> Option<Curve> {
    if a == b {
        return None;
    }
    let [rx, ry] = radii.map(f64::abs);
    if rx == 0.0 || ry == 0.0 {
        return Some(Curve::Line(a, b));
    }
    // A circle looks the same at any angle; turning it would only lose digits.
    let phi = if rx == ry { 0.0 } else { rotation.rem_euclid(360.0).to_radians() };
    let half = ((a - b) * 0.5).rotated(-phi);
    let reach = (half.x / rx) * (half.x / rx) + (half.y / ry) * (half.y / ry);
    // Radii too small to reach are scaled up until they just do.
    let (rx, ry, reach) =
        if reach > 1.0 { (rx * libm::sqrt(reach), ry * libm::sqrt(reach), 1.0) } else { (rx, ry, reach) };
    let factor = libm::sqrt(((1.0 - reach) / reach).max(0.0)) * if large == sweep { -1.0 } else { 1.0 };
    let centre_turned = Point::new(factor * rx * half.y / ry, -factor * ry * half.x / rx);
    let centre = centre_turned.rotated(phi) + a.lerp(b, 0.5);
    let toward = |p: Point| Point::new((p.x - centre_turned.x) / rx, (p.y - centre_turned.y) / ry).angle();
    let (from, to) = (toward(half), toward(-half));
    let mut turn = (to - from).rem_euclid(TAU);
    if !sweep {
        turn -= TAU;
    }
    // Just reaching means half a turn; rounding must not make it none or all of one.
    if reach == 1.0 {
        turn = if sweep { PI } else { -PI };
    }
    let (u, v) = (Point::new(rx, 0.0).rotated(phi), Point::new(0.0, ry).rotated(phi));
    Some(Curve::Round(Round { a, b, centre, u, v, from, sweep: turn }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quarter_arc_has_its_centre() {
        let Some(Curve::Round(r)) = arc(Point::new(10.0, 0.0), Point::new(0.0, 10.0), [10.0, 10.0], 30.0, false, true)
        else {
            panic!()
        };
        assert!(r.centre.norm() < 1e-12 && (r.sweep - PI / 2.0).abs() < 1e-12);
    }

    #[test]
    fn relative_moves_and_smooth_curves() {
        let (traces, broken) = traces("m1 1 h4 v4 z m1 1 q1 0 1 1 t1 1 M0 0 C1 0 2 1 2 2 S 1 4 0 4");
        assert_eq!(broken, None);
        assert_eq!(traces.len(), 3);
        assert_eq!(traces[1].curves[0].start(), Point::new(2.0, 2.0));
        let Curve::Cubic(p) = traces[2].curves[1] else { panic!() };
        assert_eq!(p[1], Point::new(2.0, 3.0));
        assert!(super::traces("M0 0 L1 1 x").1.is_some());
    }
}
