//! Clearance: how far apart the walls of a region are, everywhere in it.
//!
//! The medial axis ([`Axis`]) is the set of centres of all discs inside a region that touch its edge twice. Where the
//! touching points lie nearly opposite, the disc's diameter is the width of a stroke or a neck; in a corner they don't,
//! and it says nothing.

mod axis;
mod graph;
mod sites;
mod trace;

pub use axis::{Axis, AxisFault, Branch};
pub use trace::Spot;

use plane::{Point, Region};
use trace::Fineness;

/// A place where walls face each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Narrow {
    /// The middle between the walls, mm.
    pub at: Point,
    /// Distance between them, mm: the diameter of the widest cutter that passes.
    pub width: f64,
}

/// Two touching points count as facing each other from this angle between them, seen from the middle, radians: walls that close
/// in by less than 20° are a stroke, others a corner.
pub const FACING: f64 = 2.8;
/// The same where the axis branches: the inward corners of a five-pointed star are 144° apart.
const FACING_NODE: f64 = 2.4;

/// Places wider than this are not narrow for any cutter, mm.
pub const WIDEST: f64 = 30.0;

/// The narrowest places of a region, none wider than [`WIDEST`], narrowest first, at most `most`, none within three
/// times its width of a narrower one. The edge is looked at every `step` mm at least; a width is within 1 µm.
pub fn narrowest(region: &Region, step: f64, most: usize) -> Vec<Narrow> {
    // Every spot is a disc that was found free, so what rings that cross may spoil, the loops, does not matter here.
    let axis = Axis::traced(region, &Fineness { stray: 0.001, step });
    let along = axis.branches.iter().flat_map(|b| &b.spots).filter(|s| s.facing >= FACING);
    let mut degree = vec![0; axis.nodes.len()];
    axis.branches.iter().flat_map(|b| b.ends).for_each(|end| degree[end] += 1);
    // Where just two branches meet, one goes on as the other.
    let nodes = axis.nodes.iter().zip(&degree).filter(|(s, d)| **d != 2 && s.facing >= FACING_NODE).map(|(s, _)| s);
    let mut places: Vec<Narrow> = along
        .chain(nodes)
        .filter(|s| s.radius > 0.0 && 2.0 * s.radius <= WIDEST)
        .map(|s| Narrow { at: s.at, width: 2.0 * s.radius })
        .collect();
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
    fn a_round_hole_and_a_star_are_as_wide_as_their_largest_disc() {
        let hole = Region::solid(Contour::circle(Point::new(3.0, 4.0), 2.1));
        assert!((narrowest(&hole, 0.2, 3)[0].width - 4.2).abs() < 1e-6);
        // Five inward corners at 2 mm from the middle: the disc between them.
        let tips =
            (0..10).map(|k| Point::at_angle(f64::from(k) * std::f64::consts::PI / 5.0) * [5.0, 2.0][k as usize % 2]);
        let star = narrowest(&Region::solid(Contour::polygon(tips)), 0.2, 3);
        assert!((star[0].width - 4.0).abs() < 1e-6, "{star:?}");
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
