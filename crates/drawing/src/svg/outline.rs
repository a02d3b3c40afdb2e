//! The area that a stroke covers, as the union of its pieces, joins and caps.
//!
//! Every piece is a line or an arc within the drawing's tolerance already, so each covers a rectangle or a sector of a
//! ring exactly; the outline of the whole is their union (SVG 1.1 §11.4).

use super::page::{Measure, Of};
use super::style::Style;
use crate::curve::Chain;
use plane::{Affine, Contour, FLATTEN, Point, Region, Segment, Vertex};
use std::str::FromStr;

/// How a stroke is drawn, in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pen {
    /// mm.
    pub(super) width: f64,
    cap: Cap,
    join: Join,
    /// Greatest ratio of a mitre's length to the width.
    mitre: f64,
    /// Whether the transform stretches the pen, so that its width is a mean.
    pub(super) uneven: bool,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Cap {
    Butt,
    Round,
    Square,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Join {
    Mitre,
    Round,
    Bevel,
}

/// Turns under this need no join (radians): what it would add is under a thousandth of the width squared.
const SMOOTH: f64 = 1e-6;

impl Pen {
    /// The pen of a style under a transform.
    pub(super) fn of(style: &Style, measure: &Measure, map: Affine) -> Self {
        let width = style
            .get("stroke-width")
            .and_then(|w| svgtypes::Length::from_str(w).ok())
            .map_or(1.0, |l| measure.length(l, Of::Diagonal));
        let scale = libm::sqrt(map.determinant().abs());
        let width = if width.is_finite() && width > 0.0 { width * scale } else { 0.0 };
        Self {
            width,
            cap: match style.get("stroke-linecap") {
                Some("round") => Cap::Round,
                Some("square") => Cap::Square,
                _ => Cap::Butt,
            },
            join: match style.get("stroke-linejoin") {
                Some("round") => Join::Round,
                Some("bevel") => Join::Bevel,
                _ => Join::Mitre,
            },
            mitre: style.get("stroke-miterlimit").and_then(|m| m.parse().ok()).filter(|m| *m >= 1.0).unwrap_or(4.0),
            uneven: map.similarity().is_none(),
        }
    }
}

/// The contours of the area that a pen covers along chains: outer ones counter-clockwise, holes clockwise.
pub(super) fn outlines(chains: &[Chain], pen: &Pen) -> Vec<Contour> {
    let mut pieces: Vec<Region> = Vec::new();
    for chain in chains {
        along(chain, pen, &mut |contour| pieces.push(Region::solid(contour)));
    }
    plane::union(&pieces).contours().cloned().collect()
}

fn along(chain: &Chain, pen: &Pen, add: &mut impl FnMut(Contour)) {
    let r = pen.width / 2.0;
    let segments: Vec<Segment> =
        if chain.closed { chain.contour().segments().collect() } else { chain.path().segments().collect() };
    let segments: Vec<Segment> = segments.into_iter().filter(|s| s.length() > 1e-9).collect();
    for segment in &segments {
        swept(segment, r, add);
    }
    for pair in segments.windows(2) {
        join(&pair[0], &pair[1], pen, add);
    }
    let (Some(first), Some(last)) = (segments.first(), segments.last()) else { return };
    if chain.closed {
        join(last, first, pen, add);
    } else {
        cap(first.start(), first.direction(0.0).map(|d| -d), pen, add);
        cap(last.end(), last.direction(1.0), pen, add);
    }
}

/// What a round pen's sides pass over along one segment, square at its ends.
fn swept(segment: &Segment, r: f64, add: &mut impl FnMut(Contour)) {
    let (Some(d0), Some(d1)) = (segment.direction(0.0), segment.direction(1.0)) else { return };
    let (a, b, bulge) = (segment.start(), segment.end(), segment.bulge());
    match *segment {
        Segment::Arc { radius, .. } if radius <= r => {
            // Inside the pen's own radius the sides cross over: short chords with round joints cover the same.
            let mut points = vec![a];
            segment.flatten_into(FLATTEN, &mut points);
            for w in points.windows(2) {
                swept(&Segment::Line { a: w[0], b: w[1] }, r, add);
            }
            points[1..points.len() - 1].iter().for_each(|&p| add(Contour::circle(p, r)));
        }
        _ => {
            let (n0, n1) = (d0.left() * r, d1.left() * r);
            add(Contour {
                vertices: vec![
                    Vertex { p: a - n0, bulge },
                    Vertex::straight(b - n1),
                    Vertex { p: b + n1, bulge: -bulge },
                    Vertex::straight(a + n0),
                ],
            });
        }
    }
}

fn join(before: &Segment, after: &Segment, pen: &Pen, add: &mut impl FnMut(Contour)) {
    let (Some(d), Some(e)) = (before.direction(1.0), after.direction(0.0)) else { return };
    let (p, r) = (after.start(), pen.width / 2.0);
    let turn = libm::atan2(d.cross(e), d.dot(e));
    if turn.abs() < SMOOTH {
        return;
    }
    if pen.join == Join::Round {
        return add(Contour::circle(p, r));
    }
    // The outer corner is on the right of a left turn.
    let side = if turn > 0.0 { -r } else { r };
    let (from, to) = (p + d.left() * side, p + e.left() * side);
    let mut corner = vec![p, from, to];
    // A mitre's length over the width is 1 / sin of half the angle between the sides.
    let half = libm::cos(turn / 2.0);
    if pen.join == Join::Mitre && half > 0.0 && 1.0 / half <= pen.mitre {
        let tip = from + d * (r * libm::tan(turn.abs() / 2.0));
        corner.insert(2, tip);
    }
    add(Contour::polygon(corner));
}

fn cap(p: Point, out: Option<Point>, pen: &Pen, add: &mut impl FnMut(Contour)) {
    let (Some(d), r) = (out, pen.width / 2.0) else { return };
    match pen.cap {
        Cap::Butt => {}
        Cap::Round => add(Contour::circle(p, r)),
        Cap::Square => {
            let n = d.left() * r;
            add(Contour::polygon([p - n, p - n + d * r, p + n + d * r, p + n]));
        }
    }
}
