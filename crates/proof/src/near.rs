//! Legs sorted by place, for exact questions at a point: how low was it cut, by which leg, and how near did the
//! cutting edge come to a wall.

use crate::leg::{Leg, Run};
use crate::relief::Tooling;
use plane::{Bounds, Point};

/// Edges farther from a point than this are not looked for, mm.
pub(crate) const FAR: f64 = 0.3;
/// Side of a cell, mm.
const CELL: f64 = 0.5;

/// The legs that may cut near each cell of a grid.
pub(crate) struct Near<'a> {
    legs: &'a [Leg],
    tooling: &'a [Option<Tooling>],
    bounds: Bounds,
    columns: usize,
    rows: usize,
    starts: Vec<u32>,
    members: Vec<u32>,
}

impl<'a> Near<'a> {
    /// Sorts the legs that come below `top` over a box.
    pub(crate) fn new(legs: &'a [Leg], tooling: &'a [Option<Tooling>], size: Bounds, top: f64) -> Self {
        let bounds = size.grown(CELL);
        let columns = (bounds.width() / CELL).ceil().max(1.0) as usize;
        let rows = (bounds.height() / CELL).ceil().max(1.0) as usize;
        let mut near =
            Self { legs, tooling, bounds, columns, rows, starts: vec![0; columns * rows + 1], members: vec![] };
        // Counted first, then filled, so that the lists lie in one piece of memory.
        near.visit_cells(top, |starts, _, cell, _| starts[cell + 1] += 1);
        for i in 0..columns * rows {
            near.starts[i + 1] += near.starts[i];
        }
        near.members = vec![0; near.starts[columns * rows] as usize];
        let mut next = near.starts.clone();
        near.visit_cells(top, |_, members, cell, leg| {
            members[next[cell] as usize] = leg;
            next[cell] += 1;
        });
        near
    }

    fn visit_cells(&mut self, top: f64, mut visit: impl FnMut(&mut [u32], &mut [u32], usize, u32)) {
        for (i, leg) in self.legs.iter().enumerate() {
            let Some(tooling) = &self.tooling[leg.stage] else { continue };
            if leg.lowest() >= top || leg.run == Run::Boxed {
                continue;
            }
            // A cutter that widens upward is no wider than this below `top`.
            let reach = tooling.profile.radius_at(top - leg.lowest()) + FAR;
            let b = leg.bounds(reach);
            if !b.meets(self.bounds) {
                continue;
            }
            let (c0, r0) = self.cell(b.min);
            let (c1, r1) = self.cell(b.max);
            for row in r0..=r1 {
                for column in c0..=c1 {
                    let at = Point::new((column as f64 + 0.5) * CELL, (row as f64 + 0.5) * CELL);
                    if leg.distance(self.bounds.min + at) <= reach + 0.708 * CELL {
                        visit(&mut self.starts, &mut self.members, row * self.columns + column, i as u32);
                    }
                }
            }
        }
    }

    fn cell(&self, p: Point) -> (usize, usize) {
        let index = |v: f64, n: usize| ((v / CELL).max(0.0) as usize).min(n - 1);
        let from = p - self.bounds.min;
        (index(from.x, self.columns), index(from.y, self.rows))
    }

    /// Legs whose edge may be within [`FAR`] of a point, in program order.
    pub(crate) fn at(&self, p: Point) -> impl Iterator<Item = (usize, &'a Leg, &'a Tooling)> + '_ {
        let (column, row) = self.cell(p);
        let cell = row * self.columns + column;
        let inside = self.bounds.contains(p);
        let list = if inside { self.starts[cell] as usize..self.starts[cell + 1] as usize } else { 0..0 };
        self.members[list].iter().filter_map(move |&i| {
            let leg = &self.legs[i as usize];
            self.tooling[leg.stage].as_ref().map(|t| (i as usize, leg, t))
        })
    }

    /// The height at a point after everything is cut.
    pub(crate) fn height(&self, p: Point, uncut: f64) -> f64 {
        self.at(p).filter_map(|(_, leg, t)| leg.lowest_at(&t.profile, p)).fold(uncut, f64::min)
    }

    /// The first leg that cuts a point lower than a height.
    pub(crate) fn first_below(&self, p: Point, height: f64) -> Option<&'a Leg> {
        self.at(p)
            .find(|(_, leg, t)| leg.lowest() < height && leg.lowest_at(&t.profile, p).is_some_and(|z| z < height))
            .map(|(_, leg, _)| leg)
    }

    /// How far beyond a point the cutting edge comes at a height, mm: the greatest over all legs of the edge's radius
    /// at that height less the distance to the path. Positive is cut; negative is left. Not below -[`FAR`].
    pub(crate) fn beyond(&self, p: Point, height: f64) -> (f64, Option<&'a Leg>) {
        let mut best = (-FAR, None);
        for (_, leg, tooling) in self.at(p) {
            let profile = &tooling.profile;
            if leg.lowest() > height {
                continue;
            }
            // No part of the leg can do better than its nearest point with its lowest tip.
            let most = profile.radius_at(height - leg.lowest()) - leg.distance(p);
            if most <= best.0 {
                continue;
            }
            let exact = if leg.is_level() || leg.is_upright() { most } else { slanted(leg, tooling, p, height) };
            if exact > best.0 {
                best = (exact, Some(leg));
            }
        }
        best
    }
}

/// The same for a leg that rises or falls: a function of the way with one valley of distance, scanned and refined.
fn slanted(leg: &Leg, tooling: &Tooling, p: Point, height: f64) -> f64 {
    let [z0, z1] = leg.z;
    let profile = &tooling.profile;
    // The stretch whose tip is not above the height.
    let cross = ((height - z0) / (z1 - z0)).clamp(0.0, 1.0);
    let (first, last) = if z1 > z0 { (0.0, cross) } else { (cross, 1.0) };
    let value = |t: f64| {
        let tip = (z0 + (z1 - z0) * t).min(height);
        profile.radius_at(height - tip) - leg.path.at(t).distance(p)
    };
    let nearest = leg.path.nearest_share(p).clamp(first, last);
    if profile.edge == crate::profile::Edge::Flat {
        return value(nearest).max(value(first)).max(value(last));
    }
    const SCAN: usize = 16;
    let at = |i: usize| first + (last - first) * i as f64 / SCAN as f64;
    let mut best = (0, f64::NEG_INFINITY);
    for i in 0..=SCAN {
        let v = value(at(i));
        if v > best.1 {
            best = (i, v);
        }
    }
    let (mut a, mut b) = (at(best.0.saturating_sub(1)), at((best.0 + 1).min(SCAN)));
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    for _ in 0..40 {
        let (c, d) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
        if value(c) >= value(d) { b = d } else { a = c }
    }
    value(0.5 * (a + b)).max(best.1).max(value(nearest))
}
