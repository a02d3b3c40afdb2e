//! Tracing the medial axis: along every site, the centres of the largest discs that touch it.
//!
//! The radius of the disc at a foot is the least of those of discs that touch one other site each, so along a site the
//! radii form a lower envelope. Where two neighbouring feet see different sites, the foot between them at which both
//! are touched is found from the two radii in closed form and then asked of the index: either nothing comes nearer, and
//! it is a node of the axis, or the site that does splits the question in two. No step is taken on trust: every point
//! of the axis was a disc that the index found free.

use super::sites::{Disc, Site, Sites, Turn};
use plane::Point;

/// Feet nearer than this aren't split further, mm.
const LEAST_SPLIT: f64 = 1e-7;
/// No site is looked at from more feet than this: only rings that cross or touch ask for more, and they end in a fault.
const MOST_FEET: usize = 2_000;
/// Runs no longer than this may be seen from one side only, mm.
const SHORT: f64 = 0.002;
/// The same for the way their feet go, mm: in a corner that hardly turns the axis runs far while the feet stand still.
const STEP: f64 = 1e-5;
/// Discs at one foot whose radii differ by no more than this are one, mm.
const SAME_RADIUS: f64 = 1e-7;

/// A point of the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Centre of the disc, mm.
    pub at: Point,
    /// Its radius: the distance from the nearest walls on both sides, mm.
    pub radius: f64,
    /// The angle between its touching points, seen from the centre, radians: pi between parallel walls.
    pub facing: f64,
}

/// The part of the axis between one pair of sites, seen from one of them; a site that sees itself is an arc whose bend a disc
/// fills.
pub(super) struct Run {
    pub(super) site: Site,
    pub(super) other: Site,
    pub(super) spots: Vec<Spot>,
    /// How far its feet lie apart on the site, mm (0 round a corner).
    pub(super) walk: f64,
}

impl Run {
    /// mm.
    pub(super) fn length(&self) -> f64 {
        self.spots.windows(2).map(|w| w[0].at.distance(w[1].at)).sum()
    }

    /// Whether one side may see it and the other not: a step on the axis or on the site, or a turn round a corner.
    pub(super) fn is_short(&self) -> bool {
        self.length() <= SHORT || (matches!(self.site, Site::Edge(_)) && self.walk <= STEP)
    }

    pub(super) fn middle(&self) -> Spot {
        self.spots[self.spots.len() / 2]
    }

    /// The pair of sites, lower first.
    pub(super) fn pair(&self) -> (Site, Site) {
        (self.site.min(self.other), self.site.max(self.other))
    }
}

#[derive(Debug, Clone, Copy)]
struct Foot {
    u: f64,
    p: Point,
    disc: Disc,
}

/// How finely branches are followed.
pub(super) struct Fineness {
    /// Chords of branches stray no further, mm.
    pub(super) stray: f64,
    /// Feet lie no further apart, mm.
    pub(super) step: f64,
}

/// What a site sees from feet between its ends, and at the shares `also` of it, in order.
pub(super) fn seen_from(sites: &Sites, site: Site, fineness: &Fineness, also: &[f64]) -> Vec<Run> {
    let mut trace = Trace { sites, site, fineness, feet: Vec::new() };
    let Some((first, last)) = trace.ends() else { return Vec::new() };
    let mut stops: Vec<f64> = also.iter().copied().filter(|&u| u > 0.0 && u < 1.0).collect();
    stops.sort_by(f64::total_cmp);
    let mut from = first;
    trace.feet.push(first);
    for foot in stops.into_iter().filter_map(|u| trace.foot(u, &[])).collect::<Vec<_>>() {
        trace.between(from, foot, 0);
        from = foot;
    }
    trace.between(from, last, 0);
    trace.collect()
}

struct Trace<'a> {
    sites: &'a Sites,
    site: Site,
    fineness: &'a Fineness,
    feet: Vec<Foot>,
}

impl Trace<'_> {
    fn foot(&self, u: f64, hints: &[Site]) -> Option<Foot> {
        let (p, n) = self.sites.foot(self.site, u)?;
        Some(Foot { u, p, disc: self.sites.disc(self.site, p, n, hints) })
    }

    /// The feet at the site's two ends. At an outward corner the disc is nothing and touches the neighbouring edge.
    fn ends(&self) -> Option<(Foot, Foot)> {
        let Site::Edge(i) = self.site else { return Some((self.foot(0.0, &[])?, self.foot(1.0, &[])?)) };
        let end = |u: f64, corner: u32, neighbour: u32| {
            let (p, _) = self.sites.foot(self.site, u)?;
            match self.sites.turn(corner) {
                Turn::Outward => {
                    Some(Foot { u, p, disc: Disc { centre: p, radius: 0.0, other: Site::Edge(neighbour) } })
                }
                _ => self.foot(u, &[]),
            }
        };
        let after = self.sites.after(i);
        Some((end(0.0, i, self.sites.before(i))?, end(1.0, after, after)?))
    }

    /// Adds the feet after `a` up to and including `b`.
    fn between(&mut self, a: Foot, b: Foot, depth: u32) {
        let radius = a.disc.radius.max(b.disc.radius);
        let span = (b.u - a.u) * self.sites.span(self.site, radius);
        if depth > 60 || span < LEAST_SPLIT || self.feet.len() > MOST_FEET {
            self.feet.push(b);
            return;
        }
        let hints = [a.disc.other, b.disc.other];
        if hints[0] == hints[1] {
            let Some(middle) = self.foot(0.5 * (a.u + b.u), &hints) else { return self.feet.push(b) };
            let chord = a.disc.centre.lerp(b.disc.centre, 0.5);
            let straight = chord.distance(middle.disc.centre) <= self.fineness.stray
                && (0.5 * (a.disc.radius + b.disc.radius) - middle.disc.radius).abs() <= self.fineness.stray;
            if middle.disc.other == hints[0] && straight && span <= self.fineness.step {
                self.feet.push(middle);
                self.feet.push(b);
                return;
            }
            self.between(a, middle, depth + 1);
            return self.between(middle, b, depth + 1);
        }
        let u = self.crossing(&a, &b);
        let Some(node) = self.foot(u, &hints) else { return self.feet.push(b) };
        if hints.iter().all(|&h| self.touches(&node, h)) {
            // Both are touched here: the foot ends one run and begins the next.
            let with = |other: Site| Foot { disc: Disc { other, ..node.disc }, ..node };
            self.between(a, with(hints[0]), depth + 1);
            self.feet.push(with(hints[1]));
            return self.between(with(hints[1]), b, depth + 1);
        }
        // A third site comes nearer, or one of the two is not touched near here at all: split, never at the ends.
        let inner = node.u > a.u + 0.01 * (b.u - a.u) && node.u < b.u - 0.01 * (b.u - a.u);
        let node = if inner { Some(node) } else { self.foot(0.5 * (a.u + b.u), &hints) };
        let Some(node) = node else { return self.feet.push(b) };
        self.between(a, node, depth + 1);
        self.between(node, b, depth + 1);
    }

    fn touches(&self, foot: &Foot, other: Site) -> bool {
        let radius = if other == self.site {
            self.sites.own_limit(self.site)
        } else {
            self.sites.foot(self.site, foot.u).map_or(f64::INFINITY, |(p, n)| self.sites.touching(p, n, other))
        };
        other == foot.disc.other || (radius - foot.disc.radius).abs() <= SAME_RADIUS
    }

    /// The foot at which the site before and the site after give the same radius, by halving.
    fn crossing(&self, a: &Foot, b: &Foot) -> f64 {
        let radius = |u: f64, other: Site| {
            if other == self.site {
                return self.sites.own_limit(self.site);
            }
            self.sites.foot(self.site, u).map_or(f64::INFINITY, |(p, n)| self.sites.touching(p, n, other))
        };
        let (mut low, mut high) = (a.u, b.u);
        for _ in 0..48 {
            let u = 0.5 * (low + high);
            let (before, after) = (radius(u, a.disc.other), radius(u, b.disc.other));
            // Where neither is touched, the middle is as good as any.
            if before <= after && before.is_finite() {
                low = u;
            } else {
                high = u;
                if !after.is_finite() {
                    return u;
                }
            }
        }
        0.5 * (low + high)
    }

    fn collect(&self) -> Vec<Run> {
        let mut runs: Vec<Run> = Vec::new();
        let mut first = Point::default();
        for foot in &self.feet {
            let (other, spot) = (foot.disc.other, self.spot(foot));
            match runs.last_mut() {
                Some(run) if run.other == other => {
                    run.spots.push(spot);
                    run.walk = run.walk.max(first.distance(foot.p));
                }
                _ => {
                    first = foot.p;
                    runs.push(Run { site: self.site, other, spots: vec![spot], walk: 0.0 });
                }
            }
        }
        runs
    }

    fn spot(&self, foot: &Foot) -> Spot {
        let Disc { centre, radius, other } = foot.disc;
        let touch = match other {
            Site::Corner(k) => self.sites.edges()[k as usize].start(),
            Site::Edge(k) => {
                let edge = &self.sites.edges()[k as usize];
                edge.at(edge.nearest_share(centre))
            }
        };
        let (a, b) = (foot.p - centre, touch - centre);
        let facing = if radius > 0.0 { libm::atan2(a.cross(b).abs(), a.dot(b)) } else { 0.0 };
        Spot { at: centre, radius, facing }
    }
}
