//! Rings sorted into shapes: each hole goes to the smallest outer ring around it.

use super::OffsetFault;
use plane::{Bounds, Contour, Point, Region, Shape};

/// Rings whose area is less than this share of their length (mm) are rounding where pieces cancel.
const THIN: f64 = 1e-6;

/// Shapes of rings: counter-clockwise ones are outer, clockwise ones holes.
pub(super) fn shapes(rings: Vec<Contour>) -> Result<Region, OffsetFault> {
    let mut outers: Vec<(Shape, Bounds, f64)> = Vec::new();
    let mut holes: Vec<Contour> = Vec::new();
    for ring in rings {
        let area = ring.area();
        if area.abs() <= THIN * ring.length() {
            continue;
        }
        if area > 0.0 {
            let bounds = ring.bounds();
            outers.push((Shape { outer: ring, holes: Vec::new() }, bounds, area));
        } else {
            holes.push(ring);
        }
    }
    for hole in holes {
        let home = if outers.len() == 1 { Some(0) } else { home_of(&hole, &outers) };
        match home {
            Some(k) => outers[k].0.holes.push(hole),
            None => return Err(OffsetFault { at: inner_point(&hole), why: "a hole of the offset lies in no shape" }),
        }
    }
    Ok(Region { shapes: outers.into_iter().map(|(shape, ..)| shape).collect() })
}

fn home_of(hole: &Contour, outers: &[(Shape, Bounds, f64)]) -> Option<usize> {
    let p = inner_point(hole);
    let around = |(shape, bounds, _): &(Shape, Bounds, f64)| bounds.contains(p) && shape.outer.contains(p);
    outers.iter().enumerate().filter(|(_, outer)| around(outer)).min_by(|a, b| a.1.2.total_cmp(&b.1.2)).map(|(k, _)| k)
}

/// A point on the ring, the middle of its longest edge: where rings touch, they rarely do so there.
fn inner_point(ring: &Contour) -> Point {
    ring.segments().max_by(|a, b| a.length().total_cmp(&b.length())).map_or_else(Point::default, |s| s.at(0.5))
}
