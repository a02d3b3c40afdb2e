//! Regions from bytes: valid ones that are full of coincidences, and rings of any kind.

use crate::bytes::Bytes;
use crate::valid::{Two, meets_itself, nested, two};
use plane::{Affine, Bounds, Contour, Point, Region, Vertex};
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, TAU};

/// Radii of cutters and round numbers, mm.
const RADII: [f64; 12] = [1.5875, 0.79375, 0.396875, 1.0, 0.5, 2.0, 0.25, 0.1, 3.0, 0.05, 0.75, 1.25];
/// By how much a slot or a wall misses a multiple of the radius, mm.
const MISSES: [f64; 16] =
    [0.0, 0.0, 1e-3, -1e-3, 4e-3, -4e-3, 1e-2, -1e-2, 1e-5, -1e-5, 2e-5, -2e-5, 1e-4, -1e-4, 1e-6, -1e-6];
/// The bulge of a quarter turn, the tangent of 22.5°.
const QUARTER: f64 = 0.414_213_562_373_095_03;
/// Bulges: straight, quarter and half turns, slight, odd and beyond a half turn.
const BULGES: [f64; 16] =
    [0.0, 0.0, 0.0, 0.0, QUARTER, -QUARTER, 1.0, -1.0, 0.05, -0.05, 0.2, -0.2, 1e-4, -1e-4, 2.0, -0.6];

/// A region and how it came about.
pub struct Made {
    /// Rings do not cross.
    pub region: Region,
    /// The radius it was made for, mm.
    pub r: f64,
    /// Whether rings touch each other or themselves.
    pub touching: bool,
}

/// A radius, mm.
pub fn radius(b: &mut Bytes) -> f64 {
    b.of(&RADII)
}

/// A valid region, or `None` where the bytes make none.
pub fn valid(b: &mut Bytes) -> Option<Made> {
    let r = radius(b);
    let made = valid_for(b, r)?;
    let map = place(b);
    Some(Made { region: made.region.mapped(map)?, ..made })
}

/// A valid region near the origin with sizes that suit a radius.
pub fn valid_for(b: &mut Bytes, r: f64) -> Option<Made> {
    let (rings, touching) = match b.below(5) {
        0 => apart(star_with_holes(b, r))?,
        1 => cells(b, r)?,
        2 => apart(primitives(b, r))?,
        3 => apart(vec![walk(b, r)])?,
        _ => apart(vec![tapered(b, r)])?,
    };
    let region = nested(rings)?;
    let small = region.contours().map(|c| c.vertices.len()).sum::<usize>() <= 160;
    (small && region.area() > 1e-4).then_some(Made { region, r, touching })
}

/// Where a region is put: turned, mirrored, far away.
pub fn place(b: &mut Bytes) -> Affine {
    let angle = match b.below(8) {
        0..=3 => 0.0,
        4 => FRAC_PI_2,
        5 => FRAC_PI_4,
        6 => 1e-6,
        _ => b.share() * TAU,
    };
    let mirror = if b.below(4) == 3 { Affine::scale(-1.0, 1.0) } else { Affine::IDENTITY };
    let shifts = [(0.0, 0.0), (0.0, 0.0), (1000.0, -3.0), (1e5, -1e5), (1e6, 1e6), (0.1, 0.3)];
    let (x, y) = b.of(&shifts);
    mirror.then(Affine::turn(angle)).then(Affine::shift(Point::new(x, y)))
}

/// Rings as nobody should draw them: crossing, doubled, without area, with any numbers where `wild`.
pub fn rings(b: &mut Bytes, wild: bool) -> Vec<Contour> {
    let mut rings = Vec::new();
    for _ in 0..1 + b.below(4) {
        let n = b.below(10);
        let vertex = |b: &mut Bytes| {
            let wild = wild && b.below(6) == 5;
            let number = |b: &mut Bytes| if wild { b.any() } else { f64::from(b.byte() as i8) * 0.125 };
            let p = Point::new(number(b), number(b));
            let bulge = if wild { b.any() } else { b.of(&BULGES) };
            Vertex { p, bulge }
        };
        rings.push(Contour { vertices: (0..n).map(|_| vertex(b)).collect() });
    }
    rings
}

/// Rings one after the other, without those that cross an earlier one or meet themselves; and whether any touch.
fn apart(rings: Vec<Contour>) -> Option<(Vec<Contour>, bool)> {
    let mut kept: Vec<Contour> = Vec::new();
    let mut touching = false;
    for ring in rings {
        if ring.vertices.len() < 2 || meets_itself(&ring) || ring.area().abs() < 1e-4 {
            continue;
        }
        let ways: Vec<Two> = kept.iter().map(|k| two(&ring, k)).collect();
        if ways.contains(&Two::Crossing) {
            continue;
        }
        touching |= ways.contains(&Two::Touching);
        kept.push(ring);
    }
    (!kept.is_empty()).then_some((kept, touching))
}

/// A length: a multiple of the radius or nearly, a round one, or any.
fn measure(b: &mut Bytes, r: f64) -> f64 {
    match b.below(4) {
        0 => 2.0 * r + b.of(&MISSES),
        1 => r * (1.0 + b.below(5) as f64) + b.of(&MISSES),
        2 => 0.5 * (1.0 + b.below(16) as f64),
        _ => 0.01 + 8.0 * b.share(),
    }
}

fn star_with_holes(b: &mut Bytes, r: f64) -> Vec<Contour> {
    let n = 3 + b.below(18);
    let (grid, odd) = (b.of(&[0.0, 0.5, 1.0, 0.125]), b.flag());
    let snap = |x: f64| if grid > 0.0 { (x / grid).round() * grid } else { x };
    let mut vertices = Vec::with_capacity(n);
    for i in 0..n {
        let out = 1.0 + if odd { 15.0 * b.share() } else { b.below(16) as f64 };
        let p = Point::at_angle(i as f64 / n as f64 * TAU) * out;
        let bulge = if b.flag() { b.of(&BULGES) } else { (b.share() - 0.5) * 1.5 / n as f64 };
        vertices.push(Vertex { p: Point::new(snap(p.x), snap(p.y)), bulge });
    }
    let mut rings = vec![Contour { vertices }];
    for _ in 0..b.below(4) {
        rings.push(primitive(b, r));
    }
    rings
}

fn primitives(b: &mut Bytes, r: f64) -> Vec<Contour> {
    (0..1 + b.below(9)).map(|_| primitive(b, r)).collect()
}

/// A disc, a rectangle or a capsule, on a grid or beside it by multiples of the radius.
fn primitive(b: &mut Bytes, r: f64) -> Contour {
    let unit = if b.flag() { 1.0 } else { r };
    let at = Point::new(f64::from(b.byte() as i8 / 8) * unit, f64::from(b.byte() as i8 / 8) * unit);
    let size = measure(b, r);
    match b.below(4) {
        0 | 1 => Contour::circle(at, size),
        2 => Contour::rectangle(Bounds { min: at, max: at + Point::new(size, measure(b, r)) }),
        _ => {
            let (long, half) = (Point::new(measure(b, r), 0.0), Point::new(0.0, 0.5 * size));
            let v = |p: Point, bulge: f64| Vertex { p, bulge };
            let vertices =
                vec![v(at - half, 0.0), v(at + long - half, 1.0), v(at + long + half, 0.0), v(at + half, 1.0)];
            Contour { vertices }
        }
    }
}

/// Steps on a grid, some of them arcs.
fn walk(b: &mut Bytes, r: f64) -> Contour {
    let unit = b.of(&[1.0, r, 2.0 * r, 0.5]);
    let mut at = Point::default();
    let mut vertices = Vec::new();
    for _ in 0..2 + b.below(22) {
        vertices.push(Vertex { p: at, bulge: b.of(&BULGES) });
        let step = b.byte();
        let part = |bits: u8| f64::from(bits & 7) - 3.0;
        at = at + Point::new(part(step), part(step >> 3)) * unit;
    }
    Contour { vertices }
}

/// Two rooms and a channel between them whose width changes about the cutter's.
fn tapered(b: &mut Bytes, r: f64) -> Contour {
    let (w0, w1) = (2.0 * r + b.of(&MISSES) * 4.0, 2.0 * r + b.of(&MISSES) * 4.0);
    let (long, room, high) = (measure(b, r), measure(b, r), measure(b, r) + 2.0 * r);
    let lean = b.of(&[0.0, 0.0, r, 0.37]);
    let bend = b.of(&BULGES) * 0.3;
    let (x0, x1, x2, x3) = (0.0, room, room + long, room + long + room * 1.5);
    let v = |x: f64, y: f64, bulge: f64| Vertex { p: Point::new(x, y), bulge };
    let mut vertices = vec![
        v(x0, -high, 0.0),
        v(x1, -high, 0.0),
        v(x1, -w0 / 2.0, bend),
        v(x2, -w1 / 2.0 + lean, 0.0),
        v(x2, -high, 0.0),
        v(x3, -high, b.of(&BULGES)),
        v(x3, high, 0.0),
        v(x2, high, 0.0),
        v(x2, w1 / 2.0 + lean, -bend),
        v(x1, w0 / 2.0, 0.0),
        v(x1, high, 0.0),
        v(x0, high, b.of(&BULGES)),
    ];
    match b.below(3) {
        // Channels that end blind.
        1 => drop(vertices.drain(4..8)),
        2 => drop(vertices.drain(3..9)),
        _ => {}
    }
    Contour { vertices }
}

/// Cells of an uneven grid, filled or not: slots, walls, holes, corners that touch; corners square or round.
fn cells(b: &mut Bytes, r: f64) -> Option<(Vec<Contour>, bool)> {
    let (nx, ny) = (1 + b.below(6), 1 + b.below(6));
    let mut ticks = |n: usize| {
        let mut at = vec![0.0];
        for _ in 0..n {
            at.push(at[at.len() - 1] + measure(b, r).max(0.01));
        }
        at
    };
    let (xs, ys) = (ticks(nx), ticks(ny));
    let filled: Vec<bool> = (0..ny)
        .flat_map(|_| {
            std::array::from_fn::<bool, 6, _>({
                let row = b.byte();
                move |k| row >> k & 1 == 1
            })
        })
        .collect();
    let full = |x: usize, y: usize| x > 0 && y > 0 && x <= nx && y <= ny && filled[(y - 1) * 6 + x - 1];
    // Edges with the filled side on the left, by their start.
    let mut edges: Vec<((usize, usize), (usize, usize))> = Vec::new();
    let mut corner_to_corner = false;
    for y in 0..=ny {
        for x in 0..=nx {
            let (sw, se, nw, ne) = (full(x, y), full(x + 1, y), full(x, y + 1), full(x + 1, y + 1));
            corner_to_corner |= (sw && ne && !se && !nw) || (se && nw && !sw && !ne);
            if x < nx && se != ne {
                edges.push(if ne { ((x, y), (x + 1, y)) } else { ((x + 1, y), (x, y)) });
            }
            if y < ny && nw != ne {
                edges.push(if nw { ((x, y), (x, y + 1)) } else { ((x, y + 1), (x, y)) });
            }
        }
    }
    let (plain, round) = (b.flag(), if b.flag() { measure(b, r) } else { 0.0 });
    let mut rings = Vec::new();
    while let Some((first, mut at)) = edges.pop() {
        let (mut from, mut ring) = (first, vec![first]);
        while at != first {
            let d = (at.0 as isize - from.0 as isize, at.1 as isize - from.1 as isize);
            // Where two ways lead on, the one to the left stays with the same cell.
            let left = |e: &(usize, usize)| d.0 * (e.1 as isize - at.1 as isize) - d.1 * (e.0 as isize - at.0 as isize);
            let k = (0..edges.len()).filter(|&k| edges[k].0 == at).max_by_key(|&k| left(&edges[k].1))?;
            ring.push(at);
            from = at;
            at = edges.swap_remove(k).1;
        }
        let points: Vec<Point> = ring.iter().map(|&(x, y)| Point::new(xs[x], ys[y])).collect();
        rings.push(rounded(&points, plain, round));
    }
    if round > 0.0 { apart(rings) } else { (!rings.is_empty()).then_some((rings, corner_to_corner)) }
}

/// A ring of square corners; without points inside straight runs if `plain`, corners rounded where there is room.
fn rounded(points: &[Point], plain: bool, round: f64) -> Contour {
    let n = points.len();
    let turn = |i: usize| (points[i] - points[(i + n - 1) % n]).cross(points[(i + 1) % n] - points[i]);
    let kept: Vec<Point> =
        (0..n).filter(|&i| !(plain || round > 0.0) || turn(i).abs() > 1e-9).map(|i| points[i]).collect();
    let n = kept.len();
    let mut vertices = Vec::new();
    for i in 0..n {
        let (a, p, c) = (kept[(i + n - 1) % n], kept[i], kept[(i + 1) % n]);
        let room = 0.5 * a.distance(p).min(p.distance(c));
        match ((a - p).unit(), (c - p).unit()) {
            (Some(u), Some(v)) if round > 0.0 && round < room => {
                let bulge = QUARTER * v.cross(u).signum();
                vertices.push(Vertex { p: p + u * round, bulge });
                vertices.push(Vertex::straight(p + v * round));
            }
            _ => vertices.push(Vertex::straight(p)),
        }
    }
    Contour { vertices }
}
