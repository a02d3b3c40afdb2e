//! Basic shapes to traces, in user units.

use super::page::{Measure, Of};
use super::path;
use crate::curve::{Curve, Round, Trace};
use crate::model::Why;
use plane::Point;
use roxmltree::Node;
use std::f64::consts::{PI, TAU};
use svgtypes::PointsParser;

/// Elements that draw an outline.
pub(super) fn is_shape(name: &str) -> bool {
    matches!(name, "path" | "rect" | "circle" | "ellipse" | "line" | "polyline" | "polygon")
}

/// What a shape draws.
pub(super) struct Shape {
    pub(super) traces: Vec<Trace>,
    /// Where its data breaks off, if it does.
    pub(super) broken: Option<String>,
}

/// The traces of a basic shape or path.
pub(super) fn shape(node: Node<'_, '_>, measure: &Measure) -> Result<Shape, Why> {
    let traces = match node.tag_name().name() {
        "path" => {
            let (traces, broken) = path::traces(node.attribute("d").unwrap_or(""));
            return if traces.is_empty() && broken.is_none() {
                Err(Why::NoLength)
            } else {
                Ok(Shape { traces, broken })
            };
        }
        "rect" => vec![rect(node, measure)?],
        "circle" => {
            let r = number(node, measure, "r", Of::Diagonal)?;
            vec![round(node, measure, r, r)?]
        }
        "ellipse" => {
            let (rx, ry) = (optional(node, measure, "rx", Of::Width)?, optional(node, measure, "ry", Of::Height)?);
            let (Some(rx), Some(ry)) = (rx.or(ry), ry.or(rx)) else { return Err(Why::NoLength) };
            vec![round(node, measure, rx, ry)?]
        }
        "line" => {
            let end = |x, y| -> Result<Point, Why> {
                Ok(Point::new(number(node, measure, x, Of::Width)?, number(node, measure, y, Of::Height)?))
            };
            vec![Trace::open(Curve::Line(end("x1", "y1")?, end("x2", "y2")?))]
        }
        name => {
            let data = node.attribute("points").unwrap_or("");
            let points: Vec<Point> = PointsParser::from(data).map(|(x, y)| Point::new(x, y)).collect();
            let signs = data.split(|c: char| c == ',' || c.is_whitespace()).any(|w| w.eq_ignore_ascii_case("nan"));
            if points.len() < 2 || signs {
                return Err(if data.trim().is_empty() { Why::NoLength } else { Why::BadNumbers });
            }
            vec![Trace::polyline(&points, name == "polygon")]
        }
    };
    Ok(Shape { traces, broken: None })
}

/// An attribute that must be a length if it is there, and is 0 if not.
fn number(node: Node<'_, '_>, measure: &Measure, name: &str, of: Of) -> Result<f64, Why> {
    Ok(optional(node, measure, name, of)?.unwrap_or(0.0))
}

fn optional(node: Node<'_, '_>, measure: &Measure, name: &str, of: Of) -> Result<Option<f64>, Why> {
    match node.attribute(name) {
        None | Some("auto") => Ok(None),
        Some(_) => measure.attribute(node, name, of).map(Some).ok_or(Why::BadNumbers),
    }
}

fn round(node: Node<'_, '_>, measure: &Measure, rx: f64, ry: f64) -> Result<Trace, Why> {
    if rx < 0.0 || ry < 0.0 {
        return Err(Why::BadNumbers);
    }
    if rx == 0.0 || ry == 0.0 {
        return Err(Why::NoLength);
    }
    let centre = Point::new(number(node, measure, "cx", Of::Width)?, number(node, measure, "cy", Of::Height)?);
    let (u, v) = (Point::new(rx, 0.0), Point::new(0.0, ry));
    Ok(Trace::closed(Curve::Round(Round::elliptic(centre, u, v, 0.0, TAU))))
}

fn rect(node: Node<'_, '_>, measure: &Measure) -> Result<Trace, Why> {
    let (x, y) = (number(node, measure, "x", Of::Width)?, number(node, measure, "y", Of::Height)?);
    let (w, h) = (number(node, measure, "width", Of::Width)?, number(node, measure, "height", Of::Height)?);
    if w < 0.0 || h < 0.0 {
        return Err(Why::BadNumbers);
    }
    if w == 0.0 || h == 0.0 {
        return Err(Why::NoLength);
    }
    // A radius that isn't given is the other one; neither may exceed half the side.
    let (rx, ry) = (optional(node, measure, "rx", Of::Width)?, optional(node, measure, "ry", Of::Height)?);
    let rx_or = rx.or(ry).unwrap_or(0.0).clamp(0.0, w / 2.0);
    let ry_or = ry.or(rx).unwrap_or(0.0).clamp(0.0, h / 2.0);
    if rx_or == 0.0 || ry_or == 0.0 {
        let corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)].map(|(x, y)| Point::new(x, y));
        return Ok(Trace::polyline(&corners, true));
    }
    let (rx, ry) = (rx_or, ry_or);
    let (u, v) = (Point::new(rx, 0.0), Point::new(0.0, ry));
    // Corner centres with the angle at which each corner's arc starts, the way the standard draws it.
    let corners = [
        (x + w - rx, y + ry, -PI / 2.0),
        (x + w - rx, y + h - ry, 0.0),
        (x + rx, y + h - ry, PI / 2.0),
        (x + rx, y + ry, PI),
    ];
    // The ends of the arcs are stated exactly, so that straight sides of no length vanish.
    let ends = [
        (Point::new(x + w - rx, y), Point::new(x + w, y + ry)),
        (Point::new(x + w, y + h - ry), Point::new(x + w - rx, y + h)),
        (Point::new(x + rx, y + h), Point::new(x, y + h - ry)),
        (Point::new(x, y + ry), Point::new(x + rx, y)),
    ];
    let mut curves = Vec::with_capacity(8);
    for i in 0..4 {
        let (cx, cy, from) = corners[i];
        let (a, b) = ends[i];
        curves.push(Curve::Round(Round { a, b, centre: Point::new(cx, cy), u, v, from, sweep: PI / 2.0 }));
        let next = ends[(i + 1) % 4].0;
        if next != b {
            curves.push(Curve::Line(b, next));
        }
    }
    Ok(Trace { curves, closed: true })
}
