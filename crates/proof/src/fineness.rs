//! How fine the grid must be for a plate.
//!
//! The grid proves coverage: that floors are cleared and nothing else is cut. Walls are proven to the micrometre by probes
//! whatever the pitch. So a cell must be small beside what can be left or lost between two cells' centres, and that is as
//! wide as the finest cutter's passes, or as the thinnest wall left standing:
//!
//! - twenty cells to the radius of the finest cutter allowed, so that the width of what it sweeps is known within a
//!   fortieth, and a ridge between passes that is wider than a twentieth of its radius is met;
//! - eight cells across the thinnest wall, so that none falls between the centres and its area is known within an eighth;
//! - from 0.01 mm, since finer ones take four times the cells for what probes tell anyway, to 0.04 mm, at which a cell's
//!   corner is still within 0.03 mm of its centre.

use crate::finding::mm;
use crate::intent::{Wall, Wanted};
use plane::{Point, SegmentIndex};
use plate::{Cutter, Form, Intent, Shop};
use rayon::prelude::*;

/// Finest and coarsest pitch that is chosen, mm.
const RANGE: [f64; 2] = [0.01, 0.04];
/// Cells to the finest cutter's radius.
const TO_RADIUS: f64 = 20.0;
/// Cells across the thinnest wall.
const ACROSS: f64 = 8.0;
/// Walls are looked at this often, mm.
const LOOK: f64 = 0.1;
/// The two sides of a wall face each other within this, as the cosine of 15 degrees: what narrows more is a corner.
const FACING: f64 = 0.966;

/// A pitch and its reason.
#[derive(Debug, Clone, PartialEq)]
pub struct Pitch {
    /// mm.
    pub mm: f64,
    /// Why, as the end of "… mm apart, ".
    pub why: String,
}

/// The pitch for a plate cut with the cutters that it allows.
pub fn fitting_pitch(shop: &Shop, intent: &Intent) -> Pitch {
    let finest = intent.cutters.iter().filter_map(|&n| shop.cutter(n)).min_by(|a, b| radius(a).total_cmp(&radius(b)));
    let by_cutter = finest.map_or(f64::INFINITY, |c| radius(c) / TO_RADIUS);
    let wall = thinnest_wall(&Wanted::new(intent), ACROSS * RANGE[1]);
    let by_wall = wall.map_or(f64::INFINITY, |w| w.0 / ACROSS);
    let wanted = by_cutter.min(by_wall);
    // Whole micrometres: a pitch is told, and read.
    let pitch = (wanted.clamp(RANGE[0], RANGE[1]) * 1000.0).round() / 1000.0;
    let reason = match (finest, wall) {
        (_, Some((width, at))) if by_wall < by_cutter => {
            format!("an eighth of the thinnest wall, {} at x {:.2} y {:.2}", mm(width), at.x, at.y)
        }
        (Some(cutter), _) => {
            format!(
                "a twentieth of the radius of the finest cutter allowed ({}, {})",
                cutter.name,
                mm(2.0 * radius(cutter))
            )
        }
        (None, _) => "no cutter being allowed".to_owned(),
    };
    let why = if wanted > RANGE[1] + 0.0005 {
        format!("the coarsest that is chosen: {reason} would be more")
    } else if wanted < RANGE[0] - 0.0005 {
        format!("the finest that is chosen: {reason} would be less")
    } else {
        reason
    };
    Pitch { mm: pitch, why }
}

/// The radius at which a cutter does its finest work, mm.
fn radius(cutter: &Cutter) -> f64 {
    match cutter.form {
        Form::Taper { tip, .. } => (tip.to_mm() / 2.0).min(cutter.radius()),
        _ => cutter.radius(),
    }
}

/// The thinnest wall left standing that is thinner than `limit`, and where: the least diameter of a circle inside what
/// stands that touches its two sides.
fn thinnest_wall(wanted: &Wanted, limit: f64) -> Option<(f64, Point)> {
    // Of the walls alone: where two areas share an edge both have it, a hair apart, and that is no wall between them.
    let index = SegmentIndex::new(wanted.walls.iter().map(|w| w.path).collect());
    let thinnest = |wall: &Wall| {
        let parts = ((wall.path.length() / LOOK).ceil() as usize).clamp(1, 100_000);
        let spots = (0..parts).filter_map(|k| {
            let t = (k as f64 + 0.5) / parts as f64;
            // The low side is to the left.
            let into = -wall.path.direction(t)?.left();
            across(&index, wall.path.at(t), into, limit)
        });
        spots.min_by(less)
    };
    wanted.walls.par_iter().filter_map(thinnest).min_by(less)
}

fn less(a: &(f64, Point), b: &(f64, Point)) -> std::cmp::Ordering {
    a.0.total_cmp(&b.0).then(a.1.x.total_cmp(&b.1.x)).then(a.1.y.total_cmp(&b.1.y))
}

/// The thickness at a place of a wall, if it is under the limit: a circle that touches the wall there shrinks until no
/// other wall is inside, and touches one that faces the other way.
fn across(walls: &SegmentIndex, p: Point, into: Point, limit: f64) -> Option<(f64, Point)> {
    let mut r = 0.5 * limit;
    let mut touched = None;
    for _ in 0..30 {
        let centre = p + into * r;
        let Some(nearest) = walls.nearest_within(centre, r - 1e-7) else { break };
        let away = nearest.at - p;
        let depth = away.dot(into);
        // The edge at the place itself, or one that goes on from it.
        if depth <= 1e-9 {
            return None;
        }
        let smaller = 0.5 * away.dot(away) / depth;
        if smaller >= r {
            break;
        }
        (r, touched) = (smaller, Some(nearest));
    }
    let other = touched?;
    let facing = (other.at - (p + into * r)).dot(into) / r;
    let segment = walls.segments().get(other.segment)?;
    let low_side = segment.direction(segment.nearest_share(other.at))?.left();
    (facing > FACING && low_side.dot(into) > FACING).then_some((2.0 * r, p))
}

#[cfg(test)]
mod tests {
    use super::*;
    use plane::{Contour, Region};
    use plate::{Area, Blank, EdgeProfile, FloorKind, Held, Strokes};
    use quantity::{Height, Length};

    fn area(x0: f64, y0: f64, x1: f64, y1: f64) -> Area {
        let corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)].map(|(x, y)| Point::new(x, y));
        Area {
            name: "a".into(),
            region: Region::solid(Contour::polygon(corners)),
            floor: Height::mm(3.0),
            kind: FloorKind::AboveTable,
            edge: EdgeProfile::Upright,
            seamless: false,
            strokes: Strokes::default(),
            held: Held::Nothing,
            reveal: None,
            line: 1,
        }
    }

    fn intent(areas: Vec<Area>) -> Intent {
        let blank = Blank {
            size: [Length::mm(100.0), Length::mm(60.0)],
            layers: Vec::new(),
            bond: Length::ZERO,
            under: Vec::new(),
            into_table: Length::ZERO,
            underside: Height::ZERO,
            face: Height::mm(6.0),
            face_low: Height::mm(6.0),
            face_high: Height::mm(6.0),
        };
        Intent { title: String::new(), blank, areas, outline: None, holds: Vec::new(), cutters: Vec::new() }
    }

    fn wall(areas: Vec<Area>) -> Option<f64> {
        thinnest_wall(&Wanted::new(&intent(areas)), 0.32).map(|w| w.0)
    }

    /// Planted: a wall of 0.12 mm between two pockets, one of 0.5, and a pocket's own inside that is narrow.
    #[test]
    fn the_thinnest_wall_is_found() {
        let thin = wall(vec![area(10.0, 10.0, 20.0, 20.0), area(20.12, 10.0, 30.0, 20.0)]).unwrap();
        assert!((thin - 0.12).abs() < 1e-6, "{thin}");
        assert_eq!(wall(vec![area(10.0, 10.0, 20.0, 20.0), area(20.5, 10.0, 30.0, 20.0)]), None);
        assert_eq!(wall(vec![area(10.0, 10.0, 10.1, 20.0)]), None, "a narrow pocket is no wall");
    }

    /// A standing tip of 90 degrees is a corner, not a wall.
    #[test]
    fn corners_are_no_walls() {
        let diamond =
            Contour::polygon([(50.0, 25.0), (55.0, 30.0), (50.0, 35.0), (45.0, 30.0)].map(|(x, y)| Point::new(x, y)));
        let mut field = area(40.0, 20.0, 60.0, 40.0);
        field.region.shapes[0].holes.push(diamond.reversed());
        assert_eq!(wall(vec![field]), None);
    }
}
