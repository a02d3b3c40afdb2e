//! Narrow places: where two walls face each other, and how far apart they are.
//!
//! From points along the edge a circle that touches the edge there is shrunk until it holds no other point of the edge
//! (the shrinking ball: its centre then lies on the medial axis). Where the two touching points lie nearly opposite,
//! the circle's diameter is the width of a stroke or a neck; in a corner they don't, and it says nothing.

use plane::{Point, Region, SegmentIndex};

/// A place where walls face each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Narrow {
    /// The middle between the walls, mm.
    pub at: Point,
    /// Distance between them, mm: the diameter of the widest cutter that passes.
    pub width: f64,
}

/// Two touching points count as facing each other from this angle between them, seen from the middle. Radians.
const FACING: f64 = 2.4;

/// Places wider than this are not narrow for any cutter, mm; the limit also keeps the search near each point.
pub const WIDEST: f64 = 30.0;

/// The narrowest places of a region, none wider than [`WIDEST`], narrowest first, at most `most`, none within its own width of a narrower one. Points of the
/// edge are looked at every `step` mm.
pub fn narrowest(region: &Region, step: f64, most: usize) -> Vec<Narrow> {
    let index = SegmentIndex::of_contours(region.contours());
    let reach = region.bounds().width().max(region.bounds().height()).min(WIDEST / 2.0);
    let mut places: Vec<Narrow> = Vec::new();
    for segment in region.contours().flat_map(|c| c.segments().collect::<Vec<_>>()) {
        let count = (segment.length() / step).ceil().clamp(1.0, 100_000.0) as usize;
        for k in 0..count {
            let t = (k as f64 + 0.5) / count as f64;
            // The region lies to the left of its edges.
            let Some(inward) = segment.direction(t).map(Point::left) else { continue };
            places.extend(shrink(&index, segment.at(t), inward, reach));
        }
    }
    places.sort_by(|a, b| a.width.total_cmp(&b.width).then(a.at.x.total_cmp(&b.at.x)).then(a.at.y.total_cmp(&b.at.y)));
    let mut kept: Vec<Narrow> = Vec::new();
    for place in places {
        if kept.len() >= most {
            break;
        }
        if kept.iter().all(|k| k.at.distance(place.at) > 3.0 * k.width.max(place.width)) {
            kept.push(place);
        }
    }
    kept
}

/// The circle that touches the edge at `p` and holds none of it, if it touches nearly opposite as well.
fn shrink(index: &SegmentIndex, p: Point, inward: Point, reach: f64) -> Option<Narrow> {
    let mut radius = reach;
    let mut other = None;
    for _ in 0..60 {
        let centre = p + inward * radius;
        let near = index.nearest(centre)?;
        if near.distance >= radius - 1e-7 {
            break;
        }
        let q = near.at - p;
        let across = 2.0 * q.dot(inward);
        if across <= 1e-12 {
            return None;
        }
        other = Some(near.at);
        radius = q.dot(q) / across;
    }
    let centre = p + inward * radius;
    let (a, b) = (p - centre, other? - centre);
    let angle = libm::acos((a.dot(b) / (a.norm() * b.norm())).clamp(-1.0, 1.0));
    (angle >= FACING).then_some(Narrow { at: centre, width: 2.0 * radius })
}

#[cfg(test)]
mod tests {
    use super::*;
    use plane::{Bounds, Contour, Shape, Vertex};

    #[test]
    fn a_stadium_is_as_wide_as_it_was_drawn() {
        let v = |x: f64, y: f64, bulge: f64| Vertex { p: Point::new(x, y), bulge };
        let stadium =
            Contour { vertices: vec![v(-15.0, -3.0, 0.0), v(15.0, -3.0, 1.0), v(15.0, 3.0, 0.0), v(-15.0, 3.0, 1.0)] };
        let found = narrowest(&Region::solid(stadium), 0.2, 3);
        assert!((found[0].width - 6.0).abs() < 1e-6 && found[0].at.y.abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn corners_are_not_narrow_but_necks_are() {
        let square = |x: f64, y: f64, w: f64, h: f64| Bounds { min: Point::new(x, y), max: Point::new(x + w, y + h) };
        let plain = Region::solid(Contour::rectangle(square(0.0, 0.0, 20.0, 12.0)));
        assert!((narrowest(&plain, 0.1, 1)[0].width - 12.0).abs() < 1e-6);
        let island = Contour::circle(Point::new(10.0, 4.0), 3.0).reversed();
        let region = Region { shapes: vec![Shape { outer: plain.shapes[0].outer.clone(), holes: vec![island] }] };
        let found = narrowest(&region, 0.1, 2);
        assert!((found[0].width - 1.0).abs() < 1e-3 && found[0].at.distance(Point::new(10.0, 0.5)) < 0.1, "{found:?}");
    }
}
