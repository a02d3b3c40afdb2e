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
    /// The box around the path.
    extent: Bounds,
}

/// What a leg is made from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Way {
    pub(crate) stage: usize,
    pub(crate) line: u32,
    pub(crate) run: Run,
    pub(crate) feed: Option<f64>,
    pub(crate) step: usize,
}

/// The ground within a reach of a leg's path, so laid out that a point is told without a root.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Sweep {
    Line {
        a: Point,
        along: Point,
        share: f64,
        square: f64,
    },
    Arc {
        a: Point,
        b: Point,
        centre: Point,
        first: Point,
        last: Point,
        middle: Point,
        inner: f64,
        outer: f64,
        square: f64,
    },
}

impl Sweep {
    /// About a line, or an arc of a quarter turn at most.
    pub(crate) fn about(path: &Segment, reach: f64) -> Self {
        let square = reach * reach;
        match *path {
            Segment::Line { a, b } => {
                let along = b - a;
                let length = along.dot(along);
                let share = if length > 0.0 { 1.0 / length } else { 0.0 };
                Self::Line { a, along, share, square }
            }
            Segment::Arc { a, b, centre, radius, sweep, .. } => {
                let inner = (radius - reach).max(0.0);
                Self::Arc {
                    a,
                    b,
                    centre,
                    first: (a - centre) * sweep.signum(),
                    last: (b - centre) * sweep.signum(),
                    middle: (a - centre) + (b - centre),
                    inner: inner * inner,
                    outer: (radius + reach) * (radius + reach),
                    square,
                }
            }
        }
    }

    #[inline]
    pub(crate) fn covers(&self, p: Point) -> bool {
        match *self {
            Self::Line { a, along, share, square } => {
                let to = p - a;
                let off = to - along * (to.dot(along) * share).clamp(0.0, 1.0);
                off.dot(off) <= square
            }
            Self::Arc { a, b, centre, first, last, middle, inner, outer, square } => {
                let to = p - centre;
                if first.cross(to) >= 0.0 && to.cross(last) >= 0.0 && to.dot(middle) >= 0.0 {
                    let away = to.dot(to);
                    away >= inner && away <= outer
                } else {
                    let (from, until) = (p - a, p - b);
                    from.dot(from) <= square || until.dot(until) <= square
                }
            }
        }
    }
}

/// A flat cutter on a leg that rises or falls, so laid out that the lowest height over a point takes one root and at most
/// one angle.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ramp {
    sweep: Sweep,
    path: Segment,
    /// Direction of a line; of an arc the way from its centre to its middle.
    unit: Point,
    /// Way along a line, angle along an arc.
    span: f64,
    /// Rise for each of it.
    slope: f64,
    start: f64,
    lowest: f64,
    low_end: Point,
    square: f64,
}

impl Ramp {
    /// The lowest height over a point.
    pub(crate) fn over(&self, p: Point) -> Option<f64> {
        let from_low = p - self.low_end;
        if from_low.dot(from_low) <= self.square {
            return Some(self.lowest);
        }
        if !self.sweep.covers(p) {
            return None;
        }
        Some(self.within(p))
    }

    /// The lowest height over the cells of a grid's row from a column on, all within the shape swept, but not within the
    /// reach of its low end.
    pub(crate) fn beyond_end(&self, y: f64, column: usize, pitch: f64, heights: &mut [f32]) {
        // The kind of path is told once for all of them.
        let at = |c: usize| Point::new((f64::from(column as i32 + c as i32) + 0.5) * pitch, y);
        match self.path {
            Segment::Line { a, .. } => {
                for (c, height) in heights.iter_mut().enumerate() {
                    *height = self.at(self.way_on_line(at(c), a)) as f32;
                }
            }
            Segment::Arc { centre, radius, sweep, .. } => {
                for (c, height) in heights.iter_mut().enumerate() {
                    *height = self.at(self.way_on_arc(at(c), centre, radius, sweep)) as f32;
                }
            }
        }
    }

    /// The lowest height over the cells of a grid's row from a column on, all within the shape swept.
    pub(crate) fn along(&self, y: f64, column: usize, pitch: f64, heights: &mut [f32]) {
        self.beyond_end(y, column, pitch, heights);
        let up = y - self.low_end.y;
        for (c, height) in heights.iter_mut().enumerate() {
            let aside = (f64::from(column as i32 + c as i32) + 0.5) * pitch - self.low_end.x;
            *height = if aside * aside + up * up <= self.square { self.lowest as f32 } else { *height };
        }
    }

    /// The lowest height over a point within the shape swept, but not within the reach of its low end.
    fn within(&self, p: Point) -> f64 {
        self.at(match self.path {
            Segment::Line { a, .. } => self.way_on_line(p, a),
            Segment::Arc { centre, radius, sweep, .. } => self.way_on_arc(p, centre, radius, sweep),
        })
    }

    #[inline]
    fn at(&self, way: f64) -> f64 {
        self.start + self.slope * way.max(0.0).min(self.span)
    }

    /// The farthest place down the slope from which the edge still covers a point.
    #[inline]
    fn way_on_line(&self, p: Point, a: Point) -> f64 {
        let to = p - a;
        let at = to.dot(self.unit);
        let half = (self.square - (to.dot(to) - at * at)).max(0.0).sqrt();
        if self.slope < 0.0 { at + half } else { at - half }
    }

    /// The same on an arc: where the circle about the point crosses it on its way down.
    #[inline]
    fn way_on_arc(&self, p: Point, centre: Point, radius: f64, sweep: f64) -> f64 {
        let to = p - centre;
        let d = to.dot(to);
        let share = 0.5 * (d + radius * radius - self.square) / d;
        let aside = (radius * radius / d - share * share).max(0.0).sqrt();
        let turn = sweep.signum();
        let side = if self.slope < 0.0 { turn } else { -turn };
        let crossing = to * share + to.left() * (aside * side);
        // Both lie on the circle; a leg turns by a quarter at most, so that its ends are an eighth from its middle.
        let middle = self.unit;
        let tangent = middle.cross(crossing) * turn / (radius * radius + middle.dot(crossing));
        let way = 0.5 * self.span + 2.0 * small_angle(tangent);
        // At the very centre all of the arc is as near.
        if d > 0.0 { way } else { self.span * f64::from(u8::from(self.slope < 0.0)) }
    }
}

impl Leg {
    pub(crate) fn new(way: Way, path: Segment, z: [f64; 2]) -> Self {
        let Way { stage, line, run, feed, step } = way;
        Self { stage, line, run, path, z, feed, step, extent: path.bounds() }
    }

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
        self.extent.grown(reach)
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

    /// A height below which the leg's edge doesn't come over a disc.
    pub(crate) fn least_over(&self, profile: &Profile, centre: Point, half: f64) -> f64 {
        let (a, b) = match self.path {
            Segment::Line { a, b } => (a, b),
            Segment::Arc { centre: hub, radius, from, sweep, .. } => {
                return self.least_over_on_arc(profile.radius + half, centre - hub, radius, from, sweep);
            }
        };
        let along = b - a;
        let square = along.dot(along);
        if self.is_level() || square == 0.0 {
            return self.lowest();
        }
        // The tip's height where the axis is as far down the slope as it can be and still touch the disc.
        let span = square.sqrt();
        let at = (centre - a).dot(along) / span;
        let slope = (self.z[1] - self.z[0]) / span;
        let down = if slope < 0.0 { at + half + profile.radius } else { at - half - profile.radius };
        self.z[0] + slope * down.clamp(0.0, span)
    }

    /// The tip's height as far down an arc as the axis can be within `reach` of a place seen from its centre.
    fn least_over_on_arc(&self, reach: f64, to: Point, radius: f64, from: f64, sweep: f64) -> f64 {
        let d = length(to);
        let cosine =
            if d * radius > 0.0 { (d * d + radius * radius - reach * reach) / (2.0 * d * radius) } else { -1.0 };
        if self.is_level() || cosine <= -1.0 {
            return self.lowest();
        }
        let slope = (self.z[1] - self.z[0]) / sweep.abs();
        let half = libm::acos(cosine.min(1.0)) + 1e-9;
        let at = ((to.angle() - from) * sweep.signum()).rem_euclid(TAU);
        // A wide reach comes round from both sides: every turn that meets the arc counts.
        let downs = [at - TAU, at, at + TAU].into_iter().filter(|t| t - half <= sweep.abs() && t + half >= 0.0);
        let heights = downs.map(|t| {
            let down = if slope < 0.0 { t + half } else { t - half };
            self.z[0] + slope * down.clamp(0.0, sweep.abs())
        });
        heights.reduce(f64::min).unwrap_or(self.lowest())
    }

    /// The shape swept within a reach of the path.
    pub(crate) fn sweep(&self, reach: f64) -> Sweep {
        Sweep::about(&self.path, reach)
    }

    /// The end of the path at which the tip is lowest.
    pub(crate) fn low_end(&self) -> Point {
        if self.z[1] < self.z[0] { self.path.end() } else { self.path.start() }
    }

    /// The heights that a flat cutter leaves, for many questions.
    pub(crate) fn ramp(&self, reach: f64) -> Ramp {
        let (unit, span) = match self.path {
            Segment::Line { a, b } => {
                let span = length(b - a);
                ((b - a) * (1.0 / span.max(f64::MIN_POSITIVE)), span)
            }
            Segment::Arc { centre, sweep, .. } => (self.path.at(0.5) - centre, sweep.abs()),
        };
        Ramp {
            sweep: self.sweep(reach),
            path: self.path,
            unit,
            span,
            slope: (self.z[1] - self.z[0]) / span.max(f64::MIN_POSITIVE),
            start: self.z[0],
            lowest: self.lowest(),
            low_end: self.low_end(),
            square: reach * reach,
        }
    }

    /// The lowest height of the cutting edge over a point while the leg is run.
    pub(crate) fn lowest_at(&self, profile: &Profile, p: Point) -> Option<f64> {
        let settled = self.is_level() || self.is_upright();
        if profile.is_flat() && !settled {
            return self.ramp(profile.radius).over(p);
        }
        let distance = self.distance(p);
        if distance > profile.radius {
            return None;
        }
        if settled {
            return Some(self.lowest() + profile.rise(distance));
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
        let length = length(along);
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
            Edge::Bull { .. } | Edge::Taper { .. } => {
                // No closed form: the height is a convex function of the way.
                let height =
                    |t: f64| self.z[0] + slope * t + profile.rise(libm::hypot(t - at, aside).min(profile.radius));
                return least_between(&height, first.min(length), last.max(0.0));
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
                _ => least_between(&height, first, last),
            };
            least = least.min(found);
        }
        // Rounding at the very edge of the swept shape: the nearest end of the arc is within the radius.
        if least.is_finite() { least } else { self.lowest() + profile.rise(r) }
    }
}

/// The angle of a tangent up to tan(pi/8), within 1e-11: Gregory's series.
fn small_angle(tangent: f64) -> f64 {
    let x = tangent.clamp(-0.414_213_6, 0.414_213_6);
    let square = -x * x;
    let mut sum = 1.0 / 23.0;
    for k in (0..11).rev() {
        sum = sum * square + 1.0 / f64::from(2 * k + 1);
    }
    x * sum
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
