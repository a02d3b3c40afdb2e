//! What must hold of unions, differences and intersections.

use crate::Held;
use crate::bytes::Bytes;
use crate::region::{place, radius, rings, valid_for};
use plane::{
    Affine, Bounds, Contour, FIT, FLATTEN, FillRule, Point, Region, SegmentIndex, difference, intersection,
    regions_from_rings, union,
};

/// The combining grid, as a share of the extent.
const GRID: f64 = 4e-9;

/// A fit is judged at the chords' ends and middles; between them it may stray by this more, mm.
const BETWEEN: f64 = 5e-5;

/// Two regions, `None` where the bytes make none.
pub fn read(data: &[u8]) -> Option<(Region, Region)> {
    let mut b = Bytes::new(data);
    let r = radius(&mut b);
    let a = valid_for(&mut b, r)?.region;
    let other = match b.below(4) {
        0 => valid_for(&mut b, r)?.region,
        // The same again, moved along the grid or turned, so that edges lie on edges.
        1 => {
            let shift = Point::new(f64::from(b.byte() as i8 / 16) * 0.5, f64::from(b.byte() as i8 / 16) * r);
            a.mapped(Affine::shift(shift))?
        }
        2 => a.mapped(Affine::turn(b.of(&[0.0, 1.0, 2.0, 0.5, 1e-7]) * std::f64::consts::FRAC_PI_2))?,
        _ => {
            let made = if b.flag() { reach::inset(&a, r) } else { reach::outset(&a, r) };
            made.region
        }
    };
    let map = place(&mut b);
    Some((a.mapped(map)?, other.mapped(map)?))
}

/// Whether all properties hold; `None` where the bytes make no valid regions.
pub fn check(data: &[u8]) -> Option<Held> {
    if data.first().is_some_and(|b| b % 4 == 3) {
        return Some(check_rings(&data[1..]));
    }
    let (a, b) = read(data.get(1..)?)?;
    let began = std::time::Instant::now();
    let held = check_two(&a, &b);
    let seconds = began.elapsed().as_secs_f64();
    Some(held.and_then(|()| if seconds > 4.0 { Err(format!("slow: {seconds} s")) } else { Ok(()) }))
}

/// Whether areas add up, edges stay where they were, and points belong where they should.
pub fn check_two(a: &Region, b: &Region) -> Held {
    let (either, both) = (union([a, b]), intersection(a, b));
    let (a_only, b_only) = (difference(a, b), difference(b, a));
    let all = [a, b, &either, &both, &a_only, &b_only];
    let walls = SegmentIndex::of_contours(a.contours().chain(b.contours()));
    let size = extent(&walls);
    let slack = (FLATTEN + FIT + size * GRID) * all.iter().map(|r| r.length()).sum::<f64>() + 1e-8;
    let sums = [
        ("union", a.area() + b.area(), either.area() + both.area()),
        ("difference", a.area(), a_only.area() + both.area()),
        ("other difference", b.area(), b_only.area() + both.area()),
        ("parts", either.area(), both.area() + a_only.area() + b_only.area()),
    ];
    for (name, expected, found) in sums {
        if (expected - found).abs() > slack {
            return Err(format!("area of {name}: {found} instead of {expected} within {slack}"));
        }
    }
    type Rule = fn(bool, bool) -> bool;
    let rules: [(&str, &Region, Rule); 4] = [
        ("union", &either, |a, b| a || b),
        ("intersection", &both, |a, b| a && b),
        ("difference", &a_only, |a, b| a && !b),
        ("other difference", &b_only, |a, b| b && !a),
    ];
    for (name, made, rule) in rules {
        shapely(name, made, &walls)?;
        let near = points_near(made).chain(points_near(a)).chain(lattice(&walls));
        for p in near {
            agrees(name, made, &walls, p, rule(a.contains(p), b.contains(p)))?;
        }
    }
    Ok(())
}

/// Whether rings that may cross are filled by the rule: told by how often they go round a point.
pub fn check_rings(data: &[u8]) -> Held {
    let rings = rings(&mut Bytes::new(data), false);
    let walls = SegmentIndex::of_contours(&rings);
    if walls.segments().is_empty() {
        return Ok(());
    }
    for (name, rule) in [("even-odd", FillRule::EvenOdd), ("nonzero", FillRule::NonZero)] {
        let made = regions_from_rings(&rings, rule);
        shapely(name, &made, &walls)?;
        for p in points_near(&made).chain(lattice(&walls)) {
            let winding: i32 = rings.iter().map(|c| c.winding(p)).sum();
            let expected = if rule == FillRule::EvenOdd { winding % 2 != 0 } else { winding != 0 };
            agrees(name, &made, &walls, p, expected)?;
        }
    }
    Ok(())
}

fn extent(walls: &SegmentIndex) -> f64 {
    let bounds = walls.segments().iter().fold(Bounds::EMPTY, |b, s| b.union(s.bounds()));
    bounds.width().max(bounds.height())
}

/// Outer rings counter-clockwise, holes clockwise, and every edge on an edge of the sources.
fn shapely(name: &str, made: &Region, walls: &SegmentIndex) -> Held {
    let budget = FLATTEN + FIT + BETWEEN + extent(walls) * GRID;
    for shape in &made.shapes {
        if shape.outer.area() <= 0.0 || shape.holes.iter().any(|h| h.area() >= 0.0) {
            return Err(format!("{name} wound the wrong way: {}", shape.outer.area()));
        }
    }
    for s in made.contours().flat_map(|c| c.segments().collect::<Vec<_>>()) {
        for p in [0.0, 0.2, 0.5, 0.9].map(|t| s.at(t)) {
            let d = walls.nearest(p).map_or(f64::INFINITY, |n| n.distance);
            if d > budget {
                return Err(format!("{name} leaves its sources: {p:?} by {d}"));
            }
        }
    }
    Ok(())
}

fn agrees(name: &str, made: &Region, walls: &SegmentIndex, p: Point, expected: bool) -> Held {
    if walls.nearest(p).is_none_or(|n| n.distance < 2e-3) {
        return Ok(());
    }
    let found = made.shapes.iter().filter(|s| s.contains(p)).count();
    if found != usize::from(expected) {
        return Err(format!("{name} membership: {p:?} lies in {found} shapes instead of {expected}"));
    }
    Ok(())
}

/// Points close to both sides of the edge.
fn points_near(region: &Region) -> impl Iterator<Item = Point> + '_ {
    let segments = |c: &Contour| c.segments().collect::<Vec<_>>();
    region.contours().flat_map(segments).flat_map(|s| {
        let (p, left) = (s.at(0.4), s.direction(0.4).map_or(Point::default(), Point::left));
        [p + left * 0.003, p - left * 0.003, p + left * 0.2]
    })
}

/// A lattice that no grid shares.
fn lattice(walls: &SegmentIndex) -> impl Iterator<Item = Point> {
    let b = walls.segments().iter().fold(Bounds::EMPTY, |b, s| b.union(s.bounds()));
    (0..64_u32).map(move |k| {
        let f = |m: f64| (0.5 + f64::from(k) * m).fract();
        b.min + Point::new(b.width() * f(0.754_877_666), b.height() * f(0.569_840_291))
    })
}
