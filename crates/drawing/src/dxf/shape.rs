//! The geometry of single DXF entities, as traces in plan.

use super::frame::{Frame, Vector, cross};
use super::pairs::Record;
use crate::curve::{Curve, Round, Trace};
use crate::model::Why;
use crate::spline::{Spline, through};
use plane::Point;
use std::f64::consts::TAU;

/// What an entity draws.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drawn {
    /// In plan, in the file's units.
    pub(super) trace: Trace,
    /// Its one elevation, in the file's units, if it has one.
    pub(super) elevation: Option<f64>,
    /// Its thickness, in the file's units, if any.
    pub(super) thickness: Option<f64>,
    /// The width it is drawn with, in the file's units, if any.
    pub(super) width: Option<f64>,
    /// Whether it was tilted, so that its plan is foreshortened.
    pub(super) tilted: bool,
}

/// A spline drawn only through its points is not the same in all programs: its count is kept.
pub(super) const FREE_SPLINE: &str = "SPLINE";

/// The kinds whose geometry is read here.
pub(super) fn is_drawn(kind: &str) -> bool {
    matches!(kind, "LINE" | "ARC" | "CIRCLE" | "LWPOLYLINE" | "POLYLINE" | "ELLIPSE" | "SPLINE")
}

/// The trace of one entity; `vertices` are the VERTEX records of a POLYLINE.
pub(super) fn drawn(entity: &Record<'_>, vertices: &[Record<'_>], place: &Frame) -> Result<Drawn, Why> {
    let trace = match entity.kind {
        "LINE" => line(entity, place)?,
        "ELLIPSE" => ellipse(entity, place)?,
        "SPLINE" => spline(entity, place)?,
        "CIRCLE" | "ARC" => return circle(entity, place),
        "LWPOLYLINE" => return light_polyline(entity, place),
        "POLYLINE" => return polyline(entity, vertices, place),
        _ => return Err(Why::Unknown),
    };
    Ok(trace)
}

fn point(entity: &Record<'_>, x: i32) -> Option<Vector> {
    Some([entity.real(x)?, entity.real(x + 10)?, entity.real(x + 20).unwrap_or(0.0)])
}

fn normal(entity: &Record<'_>) -> Vector {
    match (entity.real(210), entity.real(220), entity.real(230)) {
        (None, None, None) => [0.0, 0.0, 1.0],
        (x, y, z) => [x.unwrap_or(0.0), y.unwrap_or(0.0), z.unwrap_or(0.0)],
    }
}

/// An entity's own frame, placed.
pub(super) fn own_frame(entity: &Record<'_>, place: &Frame) -> Result<Frame, Why> {
    Ok(Frame::of_normal(normal(entity)).ok_or(Why::BadNumbers)?.then(place))
}

/// A plan with next to no area or length left.
fn upright(frame: &Frame) -> bool {
    frame.plan_at(0.0).determinant().abs() < 1e-9
}

fn nonzero(x: f64) -> Option<f64> {
    (x != 0.0).then_some(x)
}

fn line(entity: &Record<'_>, place: &Frame) -> Result<Drawn, Why> {
    let (a, b) = (point(entity, 10).ok_or(Why::BadNumbers)?, point(entity, 11).ok_or(Why::BadNumbers)?);
    let (high_a, high_b) = (place.apply(a)[2], place.apply(b)[2]);
    Ok(Drawn {
        trace: Trace::open(Curve::Line(place.plan(a), place.plan(b))),
        elevation: if high_a == high_b { nonzero(high_a) } else { None },
        thickness: entity.real(39).and_then(nonzero).map(|t| t * place.height_factor()),
        width: None,
        tilted: false,
    })
}

/// What lies level in an entity's own frame, with its hints.
fn level(entity: &Record<'_>, place: &Frame, elevation: f64, trace: &Trace) -> Result<Drawn, Why> {
    let frame = own_frame(entity, place)?;
    if upright(&frame) {
        return Err(Why::EdgeOn);
    }
    let flat = frame.is_level();
    Ok(Drawn {
        trace: trace.mapped(frame.plan_at(elevation)),
        elevation: nonzero(frame.apply([0.0, 0.0, elevation])[2]).filter(|_| flat),
        thickness: entity.real(39).and_then(nonzero).map(|t| t * frame.height_factor()),
        width: None,
        tilted: !flat,
    })
}

fn circle(entity: &Record<'_>, place: &Frame) -> Result<Drawn, Why> {
    let centre = point(entity, 10).ok_or(Why::BadNumbers)?;
    let radius = entity.real(40).ok_or(Why::BadNumbers)?;
    if radius == 0.0 {
        return Err(Why::NoLength);
    }
    if !radius.is_finite() || radius < 0.0 {
        return Err(Why::BadNumbers);
    }
    let middle = Point::new(centre[0], centre[1]);
    let trace = if entity.kind == "CIRCLE" {
        Trace::closed(Curve::Round(Round::circular(middle, radius, 0.0, TAU)))
    } else {
        let from = entity.real(50).ok_or(Why::BadNumbers)?;
        let to = entity.real(51).ok_or(Why::BadNumbers)?;
        if !from.is_finite() || !to.is_finite() {
            return Err(Why::BadNumbers);
        }
        // Arcs go counter-clockwise; equal angles are a full turn.
        let sweep = (to - from).rem_euclid(360.0);
        if sweep == 0.0 {
            Trace::closed(Curve::Round(Round::circular(middle, radius, from.to_radians(), TAU)))
        } else {
            let mut round = Round::circular(middle, radius, from.to_radians(), sweep.to_radians());
            round.a = middle + on_circle(from) * radius;
            round.b = middle + on_circle(to) * radius;
            Trace::open(Curve::Round(round))
        }
    };
    level(entity, place, centre[2], &trace)
}

fn on_circle(degrees: f64) -> Point {
    let (s, c) = super::frame::sin_cos_degrees(degrees);
    Point::new(c, s)
}

/// One vertex of a polyline: where, bulge, width at its start.
struct Corner {
    p: Vector,
    bulge: f64,
    width: f64,
}

fn corners_trace(corners: &[Corner], closed: bool) -> Trace {
    let flat = |c: &Corner| Point::new(c.p[0], c.p[1]);
    let count = if closed { corners.len() } else { corners.len().saturating_sub(1) };
    let curves = (0..count)
        .map(|i| (flat(&corners[i]), flat(&corners[(i + 1) % corners.len()]), corners[i].bulge))
        .filter(|(a, b, _)| a != b)
        .map(|(a, b, bulge)| Curve::with_bulge(a, b, bulge))
        .collect();
    Trace { curves, closed }
}

fn constant_width(corners: &[Corner]) -> Option<f64> {
    let first = corners.first()?.width;
    (first > 0.0 && corners.iter().all(|c| c.width == first)).then_some(first)
}

fn light_polyline(entity: &Record<'_>, place: &Frame) -> Result<Drawn, Why> {
    let mut corners: Vec<Corner> = Vec::new();
    let all_width = entity.real(43).unwrap_or(0.0);
    for pair in entity.pairs {
        if !matches!(pair.code, 10 | 20 | 40 | 42) {
            continue;
        }
        let value = pair.real().ok_or(Why::BadNumbers)?;
        if pair.code == 10 {
            corners.push(Corner { p: [value, f64::NAN, 0.0], bulge: 0.0, width: all_width });
        } else if let Some(last) = corners.last_mut() {
            match pair.code {
                20 => last.p[1] = value,
                40 => last.width = value,
                _ => last.bulge = value,
            }
        }
    }
    polyline_of(entity, place, &corners, entity.flags(70) & 1 != 0, entity.real(38).unwrap_or(0.0))
}

fn polyline_of(
    entity: &Record<'_>,
    place: &Frame,
    corners: &[Corner],
    closed: bool,
    elevation: f64,
) -> Result<Drawn, Why> {
    let sane = |c: &Corner| c.p.iter().all(|x| x.is_finite()) && c.bulge.is_finite();
    if corners.is_empty() || !corners.iter().all(sane) || !elevation.is_finite() {
        return Err(Why::BadNumbers);
    }
    let trace = corners_trace(corners, closed);
    if trace.curves.is_empty() {
        return Err(Why::NoLength);
    }
    let mut drawn = level(entity, place, elevation, &trace)?;
    drawn.width = constant_width(corners);
    Ok(drawn)
}

fn polyline(entity: &Record<'_>, vertices: &[Record<'_>], place: &Frame) -> Result<Drawn, Why> {
    let flags = entity.flags(70);
    if flags & (16 | 64) != 0 {
        return Err(Why::ThreeD);
    }
    // The frame that a fitted curve was made from (16) is not part of the curve.
    let fitted = flags & 4 != 0;
    let width = entity.real(40).unwrap_or(0.0);
    let mut corners = Vec::new();
    for vertex in vertices.iter().filter(|v| !(fitted && v.flags(70) & 16 != 0)) {
        let p = point(vertex, 10).ok_or(Why::BadNumbers)?;
        corners.push(Corner { p, bulge: vertex.real(42).unwrap_or(0.0), width: vertex.real(40).unwrap_or(width) });
    }
    let closed = flags & 1 != 0;
    if flags & 8 == 0 {
        return polyline_of(entity, place, &corners, closed, entity.real(30).unwrap_or(0.0));
    }
    // In space: the points are the world's, and there are no bulges.
    let points: Vec<Point> = corners.iter().map(|c| place.plan(c.p)).collect();
    let mut trace = Trace::polyline(&points, closed);
    trace.curves.retain(|c| c.start() != c.end());
    if trace.curves.is_empty() {
        return Err(Why::NoLength);
    }
    let heights: Vec<f64> = corners.iter().map(|c| place.apply(c.p)[2]).collect();
    let one = heights.first().copied().filter(|h| heights.iter().all(|x| x == h));
    Ok(Drawn { trace, elevation: one.and_then(nonzero), thickness: None, width: None, tilted: one.is_none() })
}

fn ellipse(entity: &Record<'_>, place: &Frame) -> Result<Drawn, Why> {
    let centre = point(entity, 10).ok_or(Why::BadNumbers)?;
    let major = point(entity, 11).ok_or(Why::BadNumbers)?;
    let ratio = entity.real(40).ok_or(Why::BadNumbers)?;
    let normal = super::frame::unit(normal(entity)).ok_or(Why::BadNumbers)?;
    let minor = cross(normal, major).map(|x| x * ratio);
    let (from, to) = (entity.real(41).unwrap_or(0.0), entity.real(42).unwrap_or(TAU));
    if !(from.is_finite() && to.is_finite() && ratio.is_finite() && ratio != 0.0) || major == [0.0; 3] {
        return Err(Why::BadNumbers);
    }
    // All in the world's frame: conjugate half diameters, then the plan of each.
    let origin = place.plan([0.0; 3]);
    let (c, u, v) = (place.plan(centre), place.plan(major) - origin, place.plan(minor) - origin);
    let longest = u.dot(u).max(v.dot(v));
    if u.cross(v).abs() <= 1e-9 * longest {
        return Err(Why::EdgeOn);
    }
    let sweep = (to - from).rem_euclid(TAU);
    let full = sweep < 1e-9 || TAU - sweep < 1e-9;
    let round = Round::elliptic(c, u, v, from, if full { TAU } else { sweep });
    let heights = [centre, [0, 1, 2].map(|i| centre[i] + major[i]), [0, 1, 2].map(|i| centre[i] + minor[i])]
        .map(|p| place.apply(p)[2]);
    let flat = (heights[0] - heights[1]).abs().max((heights[0] - heights[2]).abs()) <= 1e-9;
    Ok(Drawn {
        trace: Trace { curves: vec![Curve::Round(round)], closed: full },
        elevation: nonzero(heights[0]).filter(|_| flat),
        thickness: None,
        width: None,
        tilted: !flat,
    })
}

/// All points with codes `x`, `x + 10`, `x + 20`, in order.
fn points(entity: &Record<'_>, x: i32) -> Result<Vec<Vector>, Why> {
    let mut points: Vec<Vector> = Vec::new();
    for pair in entity.pairs {
        let axis = (pair.code - x) / 10;
        if (pair.code - x) % 10 != 0 || !(0..=2).contains(&axis) {
            continue;
        }
        let value = pair.real().filter(|v| v.is_finite()).ok_or(Why::BadNumbers)?;
        if axis == 0 {
            points.push([value, 0.0, 0.0]);
        } else if let Some(last) = points.last_mut() {
            last[axis as usize] = value;
        }
    }
    Ok(points)
}

fn reals(entity: &Record<'_>, code: i32) -> Result<Vec<f64>, Why> {
    entity.pairs.iter().filter(|p| p.code == code).map(|p| p.real().ok_or(Why::BadNumbers)).collect()
}

/// Whether a spline is given by the points it goes through only.
pub(super) fn is_free_spline(entity: &Record<'_>) -> bool {
    entity.kind == FREE_SPLINE && entity.first(10).is_none() && entity.first(11).is_some()
}

fn spline(entity: &Record<'_>, place: &Frame) -> Result<Drawn, Why> {
    let (control, fit) = (points(entity, 10)?, points(entity, 11)?);
    let plan = |points: &[Vector]| -> Vec<Point> { points.iter().map(|&p| place.plan(p)).collect() };
    let closed = entity.flags(70) & 1 != 0;
    let given = if control.is_empty() { &fit } else { &control };
    let heights: Vec<f64> = given.iter().map(|&p| place.apply(p)[2]).collect();
    let one = heights.first().copied().filter(|h| heights.iter().all(|x| x == h));
    let curves = if control.is_empty() {
        let origin = place.plan([0.0; 3]);
        let tangent = |code| point(entity, code).map(|d| place.plan(d) - origin);
        // Without the closed flag the ends are free, even where they meet: the file asks for no smooth joint there.
        let ring = fit.len() > 3 && closed;
        through(&plan(&fit), ring, [tangent(12), tangent(13)])
    } else {
        let degree = usize::try_from(entity.flags(71)).unwrap_or(0);
        let spline = Spline::new(degree, reals(entity, 40)?, plan(&control), reals(entity, 41)?);
        vec![Curve::Spline(spline.ok_or(Why::BadNumbers)?)]
    };
    let (Some(first), Some(last)) = (curves.first(), curves.last()) else { return Err(Why::BadNumbers) };
    // A closed spline's ends agree but for the rounding of its knots.
    let meets = first.start().distance(last.end()) <= 1e-6 * (1.0 + first.start().norm());
    Ok(Drawn {
        trace: Trace { closed: closed && meets, curves },
        elevation: one.and_then(nonzero),
        thickness: None,
        width: None,
        tilted: one.is_none(),
    })
}
