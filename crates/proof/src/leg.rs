//! One straight or round piece of the path with a known start and end, and the shape it sweeps. Bare mm.
//!
//! Arcs are cut into pieces of at most a quarter turn, so that a piece's sector is the meeting of two half planes.
//! The lowest height that a leg leaves at a point is exact for every edge on level moves and on straight ramps, and
//! for flat edges on helices; ball and vee edges on helices are refined numerically to well under 0.1 µm.

use crate::profile::{Edge, Profile};
use plane::{Bounds, Point, Segment};
use std::f64::consts::{PI, TAU};

/// How a leg is run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Run {
    /// With feed, in material or not.
    Feed,
    /// Rapid along one axis: the path is known.
    Rapid,
    /// Rapid of several axes at once: the path is anywhere in the box between the ends.
    Boxed,
}

/// One piece of the path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Leg {
    /// Index of the program.
    pub(crate) stage: usize,
    /// Line of the program, from 1.
    pub(crate) line: u32,
    pub(crate) run: Run,
    /// The path seen from above; without length where the leg goes straight up or down.
    pub(crate) path: Segment,
    /// Height of the tip at the start and at the end.
    pub(crate) z: [f64; 2],
    /// mm/min; `None` for rapids, or where the text gives none.
    pub(crate) feed: Option<f64>,
    /// Index of the move in its program.
    pub(crate) step: usize,
}

impl Leg {
    pub(crate) fn lowest(&self) -> f64 {
        self.z[0].min(self.z[1])
    }

    pub(crate) fn is_level(&self) -> bool {
        self.z[0] == self.z[1]
    }

    /// Whether it goes straight up or down.
    pub(crate) fn is_upright(&self) -> bool {
        self.path.start() == self.path.end()
    }

    /// Length along the path.
    pub(crate) fn length(&self) -> f64 {
        libm::hypot(self.path.length(), self.z[1] - self.z[0])
    }

    /// Angle of descent, degrees; negative where it rises.
    pub(crate) fn descent(&self) -> f64 {
        libm::atan2(self.z[0] - self.z[1], self.path.length()).to_degrees()
    }

    pub(crate) fn bounds(&self, reach: f64) -> Bounds {
        self.path.bounds().grown(reach)
    }

    /// Distance from a point to the path seen from above. A piece is at most a quarter turn, so that two products
    /// tell whether the point lies in its sector.
    pub(crate) fn distance(&self, p: Point) -> f64 {
        match self.path {
            Segment::Line { a, b } => {
                let (d, to) = (b - a, p - a);
                let square = d.dot(d);
                let t = if square > 0.0 { (to.dot(d) / square).clamp(0.0, 1.0) } else { 0.0 };
                length(to - d * t)
            }
            Segment::Arc { a, b, centre, radius, sweep, .. } => {
                let (to, turn) = (p - centre, sweep.signum());
                let (first, last) = (a - centre, b - centre);
                if first.cross(to) * turn >= 0.0 && to.cross(last) * turn >= 0.0 && to.dot(first + last) >= 0.0 {
                    (length(to) - radius).abs()
                } else {
                    length(p - a).min(length(p - b))
                }
            }
        }
    }

    /// The lowest height of the cutting edge over a point while the leg is run.
    pub(crate) fn lowest_at(&self, profile: &Profile, p: Point) -> Option<f64> {
        let distance = self.distance(p);
        if distance > profile.radius {
            return None;
        }
        if self.is_level() || self.is_upright() {
            return Some(self.lowest() + profile.rise(distance));
        }
        let low_end = if self.z[1] < self.z[0] { self.path.end() } else { self.path.start() };
        if profile.edge == Edge::Flat && length(p - low_end) <= profile.radius {
            return Some(self.lowest());
        }
        Some(match self.path {
            Segment::Line { a, b } => self.lowest_on_line(profile, p, a, b),
            Segment::Arc { centre, radius, from, sweep, .. } => {
                self.lowest_on_arc(profile, p, centre, radius, from, sweep)
            }
        })
    }

    /// The lowest height of the tip while the axis is within `reach` of a point.
    pub(crate) fn lowest_tip_within(&self, reach: f64, p: Point) -> Option<f64> {
        let disc = Profile {
            edge: Edge::Flat,
            radius: reach,
            flutes: 0.0,
            shank_radius: 0.0,
            stick_out: 0.0,
            nut_radius: 0.0,
            body_from: 0.0,
            body_radius: 0.0,
        };
        self.lowest_at(&disc, p)
    }

    /// On a straight ramp the height over the point is a convex function of the way, so its least value is where the
    /// slope of edge and ramp cancel, or at an end of the stretch within the radius.
    fn lowest_on_line(&self, profile: &Profile, p: Point, a: Point, b: Point) -> f64 {
        let along = b - a;
        let length = along.norm();
        let unit = along * (1.0 / length);
        let (at, aside) = ((p - a).dot(unit), (p - a).cross(unit).abs());
        let slope = (self.z[1] - self.z[0]) / length;
        let half = (profile.radius * profile.radius - aside * aside).max(0.0).sqrt();
        let (first, last) = ((at - half).max(0.0), (at + half).min(length));
        let downhill = |reach: f64| at - slope.signum() * reach;
        let best = match profile.edge {
            Edge::Flat => downhill(half),
            // slope + x / sqrt(half² - x²) = 0
            Edge::Ball => at - slope * half / (1.0 + slope * slope).sqrt(),
            Edge::Vee { tip, rise } => {
                // slope + rise x / sqrt(aside² + x²) = 0, outside the flat of the tip
                let steep = rise * rise - slope * slope;
                let x = if steep > 0.0 { (slope.abs() * aside / steep.sqrt()).min(half) } else { half };
                let flat = (tip * tip - aside * aside).max(0.0).sqrt();
                downhill(x.max(flat).min(half))
            }
        };
        let t = best.clamp(first.min(length), last.max(0.0));
        self.z[0] + slope * t + profile.rise(libm::hypot(t - at, aside).min(profile.radius))
    }

    fn lowest_on_arc(&self, profile: &Profile, p: Point, centre: Point, radius: f64, from: f64, sweep: f64) -> f64 {
        let (total, r) = (sweep.abs(), profile.radius);
        let toward = p - centre;
        let d = toward.norm();
        let slope = (self.z[1] - self.z[0]) / total;
        // Angle of the point from the arc's start, and half the angle within the radius.
        let at = if d > 0.0 { ((toward.angle() - from) * sweep.signum()).rem_euclid(TAU) } else { 0.0 };
        let cosine = if d * radius > 0.0 { (d * d + radius * radius - r * r) / (2.0 * d * radius) } else { -1.0 };
        let half = if cosine <= -1.0 { PI } else { libm::acos(cosine.min(1.0)) };
        let height = |t: f64| {
            let away = (d * d + radius * radius - 2.0 * d * radius * libm::cos(t - at)).max(0.0).sqrt();
            if away > r + 1e-9 { f64::INFINITY } else { self.z[0] + slope * t + profile.rise(away.min(r)) }
        };
        let mut least = height(0.0).min(height(total));
        for turn in [at, at - TAU] {
            let (first, last) = ((turn - half).max(0.0), (turn + half).min(total));
            if first > last {
                continue;
            }
            let found = match profile.edge {
                Edge::Flat => self.z[0] + slope * if slope < 0.0 { last } else { first },
                Edge::Ball | Edge::Vee { .. } => least_between(&height, first, last),
            };
            least = least.min(found);
        }
        // Rounding at the very edge of the swept shape: the nearest end of the arc is within the radius.
        if least.is_finite() { least } else { self.lowest() + profile.rise(r) }
    }

    /// The intervals of x in which a level row at `y` is within `reach` of the path; written to `rows`, and how many.
    pub(crate) fn row(&self, reach: f64, y: f64, rows: &mut [(f64, f64); 4]) -> usize {
        let mut count = 0;
        let mut add = |span: Option<(f64, f64)>| {
            if let Some(span) = span.filter(|s| s.0 <= s.1) {
                rows[count] = span;
                count += 1;
            }
        };
        match self.path {
            Segment::Line { a, b } => {
                let mut span = across_disc(a, reach, y);
                if a != b {
                    span = joined(span, across_disc(b, reach, y));
                    span = joined(span, across_strip(a, b, reach, y));
                }
                add(span);
            }
            Segment::Arc { a, b, centre, radius, sweep, .. } => {
                add(across_disc(a, reach, y));
                add(across_disc(b, reach, y));
                let dy = y - centre.y;
                let (outer, inner) = (radius + reach, radius - reach);
                if dy.abs() <= outer {
                    let far = (outer * outer - dy * dy).max(0.0).sqrt();
                    let (left, right) = sector(a - centre, b - centre, sweep.signum(), dy);
                    let cut = |x0: f64, x1: f64| (centre.x + x0.max(left), centre.x + x1.min(right));
                    if inner > 0.0 && dy.abs() < inner {
                        let near = (inner * inner - dy * dy).sqrt();
                        add(Some(cut(-far, -near)));
                        add(Some(cut(near, far)));
                    } else {
                        add(Some(cut(-far, far)));
                    }
                }
            }
        }
        count
    }
}

/// Length of a vector of a few hundred mm at most, where no square overflows.
fn length(v: Point) -> f64 {
    v.dot(v).sqrt()
}

/// The least value of a function with one valley on an interval: scanned, then by golden section.
fn least_between(f: &impl Fn(f64) -> f64, first: f64, last: f64) -> f64 {
    const SCAN: usize = 8;
    let at = |i: usize| first + (last - first) * i as f64 / SCAN as f64;
    let mut best = 0;
    let mut least = f(first);
    for i in 1..=SCAN {
        let value = f(at(i));
        if value < least {
            (best, least) = (i, value);
        }
    }
    let (mut a, mut b) = (at(best.saturating_sub(1)), at((best + 1).min(SCAN)));
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    for _ in 0..40 {
        let (c, d) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
        if f(c) <= f(d) { b = d } else { a = c }
    }
    least.min(f(0.5 * (a + b)))
}

fn joined(a: Option<(f64, f64)>, b: Option<(f64, f64)>) -> Option<(f64, f64)> {
    match (a, b) {
        (Some(a), Some(b)) => Some((a.0.min(b.0), a.1.max(b.1))),
        (a, b) => a.or(b),
    }
}

fn across_disc(centre: Point, radius: f64, y: f64) -> Option<(f64, f64)> {
    let dy = y - centre.y;
    let square = radius * radius - dy * dy;
    (square >= 0.0).then(|| (centre.x - square.sqrt(), centre.x + square.sqrt()))
}

/// Where a row crosses the rectangle of half width `reach` about a line.
fn across_strip(a: Point, b: Point, reach: f64, y: f64) -> Option<(f64, f64)> {
    let aside = (b - a).unit()?.left() * reach;
    let corners = [a + aside, a - aside, b - aside, b + aside];
    let mut span: Option<(f64, f64)> = None;
    for i in 0..4 {
        let (p, q) = (corners[i], corners[(i + 1) % 4]);
        let (below, above) = (p.y.min(q.y), p.y.max(q.y));
        if y < below || y > above || p.y == q.y {
            continue;
        }
        let x = p.x + (q.x - p.x) * ((y - p.y) / (q.y - p.y));
        span = joined(span, Some((x, x)));
    }
    span
}

/// The x (from the centre) at which a row `dy` above the centre is between the directions of an arc's two ends.
fn sector(start: Point, end: Point, turn: f64, dy: f64) -> (f64, f64) {
    let (mut left, mut right) = (f64::NEG_INFINITY, f64::INFINITY);
    // Left of the start and right of the end, seen along the turn: k x <= c.
    for (k, c) in [(start.y * turn, start.x * turn * dy), (-end.y * turn, -end.x * turn * dy)] {
        if k > 0.0 {
            right = right.min(c / k);
        } else if k < 0.0 {
            left = left.max(c / k);
        } else if c < 0.0 {
            return (f64::INFINITY, f64::NEG_INFINITY);
        }
    }
    (left, right)
}
