//! What a disc inside a region can touch: its edges and its inward corners.

use crate::offset::covers;
use plane::{Bounds, Point, Region, Segment, SegmentIndex};

/// Corners that turn less than this (radians) are smooth: a disc of 10 mm overlaps the neighbouring edge by less than [`TOUCH`].
const SMOOTH: f64 = 1e-6;
/// A disc touches what it overlaps by no more than this, mm.
pub(super) const TOUCH: f64 = 1e-8;

/// An edge, or the corner at an edge's start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Site {
    Edge(u32),
    Corner(u32),
}

/// How the edge turns at a corner, radians; inward (reflex) negative.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Turn {
    Smooth,
    /// A corner of the region: discs shrink to nothing in it.
    Outward,
    /// An inward corner: discs roll round it by this much.
    Inward(f64),
}

/// The edge of a region, prepared for discs inside it.
pub(super) struct Sites {
    pub(super) index: SegmentIndex,
    /// For each edge the one before and the one after it in its ring.
    before: Vec<u32>,
    after: Vec<u32>,
    /// The turn at each edge's start.
    turns: Vec<Turn>,
    /// No disc is larger, mm.
    pub(super) largest: f64,
}

/// A disc that touches the edge at a foot, and what else it touches.
#[derive(Debug, Clone, Copy)]
pub(super) struct Disc {
    pub(super) centre: Point,
    pub(super) radius: f64,
    /// The other site; the own one where the disc fills the bend of an arc.
    pub(super) other: Site,
}

impl Sites {
    pub(super) fn of(region: &Region) -> Self {
        let (mut segments, mut before, mut after) = (Vec::new(), Vec::new(), Vec::new());
        for contour in region.contours() {
            let first = segments.len();
            segments.extend(contour.segments().filter(|s| s.length() > 1e-7));
            let end = segments.len();
            for i in first..end {
                before.push((if i == first { end - 1 } else { i - 1 }) as u32);
                after.push((if i + 1 == end { first } else { i + 1 }) as u32);
            }
        }
        let turns = (0..segments.len()).map(|i| turn_between(&segments[before[i] as usize], &segments[i])).collect();
        let bounds = region.bounds();
        let largest = if bounds.is_empty() { 0.0 } else { 0.5 * bounds.width().min(bounds.height()) };
        Self { index: SegmentIndex::new(segments), before, after, turns, largest }
    }

    pub(super) fn edges(&self) -> &[Segment] {
        self.index.segments()
    }

    fn edge(&self, i: u32) -> &Segment {
        &self.index.segments()[i as usize]
    }

    pub(super) fn turn(&self, corner: u32) -> Turn {
        self.turns[corner as usize]
    }

    /// All sites, ring by ring, in the order in which a disc rolls past them.
    pub(super) fn rings(&self) -> Vec<Vec<Site>> {
        let mut rings: Vec<Vec<Site>> = Vec::new();
        for i in 0..self.edges().len() as u32 {
            // A ring's first edge is the only one that comes after a later one.
            if self.before(i) >= i || rings.is_empty() {
                rings.push(Vec::new());
            }
            if let Some(ring) = rings.last_mut() {
                if matches!(self.turn(i), Turn::Inward(_)) {
                    ring.push(Site::Corner(i));
                }
                ring.push(Site::Edge(i));
            }
        }
        rings
    }

    pub(super) fn after(&self, edge: u32) -> u32 {
        self.after[edge as usize]
    }

    pub(super) fn before(&self, edge: u32) -> u32 {
        self.before[edge as usize]
    }

    /// Where a site is touched at a share `u` of it, and the direction into the region there.
    pub(super) fn foot(&self, site: Site, u: f64) -> Option<(Point, Point)> {
        match site {
            Site::Edge(i) => {
                let s = self.edge(i);
                Some((s.at(u), s.direction(u)?.left()))
            }
            Site::Corner(i) => {
                let Turn::Inward(turn) = self.turn(i) else { return None };
                let normal = self.edge(self.before(i)).direction(1.0)?.left();
                Some((self.edge(i).start(), normal.rotated(-turn * u)))
            }
        }
    }

    /// The greatest angle between any two points where a disc touches the edge, seen from its centre, radians.
    pub(super) fn facing(&self, centre: Point, radius: f64) -> f64 {
        let near = 1e-5;
        let mut touches: Vec<Point> = Vec::new();
        let side = Point::new(radius, radius);
        let around = Bounds { min: centre - side, max: centre + side }.grown(near);
        self.index.for_each_near(around, |_, segment| {
            if segment.distance(centre) > radius + near {
                return;
            }
            match segment {
                // All of it is touched.
                Segment::Arc { centre: c, .. } if c.distance(centre) <= near => {
                    touches.extend([0.0, 0.5, 1.0].map(|t| segment.at(t) - centre));
                }
                _ => touches.push(segment.at(segment.nearest_share(centre)) - centre),
            }
        });
        let angle = |a: Point, b: Point| libm::atan2(a.cross(b).abs(), a.dot(b));
        let pairs = touches.iter().enumerate().flat_map(|(k, &a)| touches[..k].iter().map(move |&b| angle(a, b)));
        pairs.fold(0.0, f64::max)
    }

    /// The share of a site at which a disc about a centre touches it.
    pub(super) fn share_of(&self, site: Site, centre: Point) -> f64 {
        match site {
            Site::Edge(i) => self.edge(i).nearest_share(centre),
            Site::Corner(i) => {
                let Turn::Inward(turn) = self.turn(i) else { return 0.0 };
                let normal = self.edge(self.before(i)).direction(1.0).map_or(Point::default(), Point::left);
                let to = centre - self.edge(i).start();
                libm::atan2(to.cross(normal), to.dot(normal)) / turn
            }
        }
    }

    /// How far a foot travels over a site, or its centre round a corner at a disc's radius, mm.
    pub(super) fn span(&self, site: Site, radius: f64) -> f64 {
        match site {
            Site::Edge(i) => self.edge(i).length(),
            Site::Corner(i) => match self.turn(i) {
                Turn::Inward(turn) => turn * radius,
                _ => 0.0,
            },
        }
    }

    /// The largest radius a disc may have at a site for the site's own sake: an arc's where it bends round the disc.
    pub(super) fn own_limit(&self, site: Site) -> f64 {
        match site {
            Site::Edge(i) => match *self.edge(i) {
                Segment::Arc { radius, sweep, .. } if sweep > 0.0 => radius.min(self.largest * 1.01),
                _ => self.largest * 1.01,
            },
            Site::Corner(_) => self.largest * 1.01,
        }
    }

    /// The radius of the disc that touches the foot `p` (inward direction `n`) and a site; infinite if there is none.
    pub(super) fn touching(&self, p: Point, n: Point, site: Site) -> f64 {
        // Not a number where a straight edge is asked about itself or its own continuation.
        let positive = |r: f64| if r > 0.0 { r } else { f64::INFINITY };
        match site {
            Site::Corner(i) => through_point(p, n, self.edge(i).start()),
            Site::Edge(i) => match *self.edge(i) {
                Segment::Line { a, b } => {
                    let Some(u) = (b - a).unit() else { return f64::INFINITY };
                    let m = u.left();
                    let height = (p - a).dot(m);
                    let r = positive(height / (1.0 - n.dot(m)));
                    let along = (p + n * r - a).dot(u);
                    if along >= 0.0 && along <= (b - a).dot(u) { r } else { f64::INFINITY }
                }
                Segment::Arc { a, b, centre, radius, sweep, .. } => {
                    let d = p - centre;
                    // Square of the radius less that of d, without losing digits where the arc is almost straight.
                    let over = (a - p).dot((a - centre) + d);
                    // Inside a counter-clockwise arc the disc's centre is R - r from its centre, outside a clockwise one R + r.
                    let r = positive(over / (2.0 * (n.dot(d) + sweep.signum() * radius)));
                    if !r.is_finite() {
                        return r;
                    }
                    let to = (p + n * r - centre) * sweep.signum();
                    // Toward the touching point: away from the centre outside, and inside too, where the disc's centre lies between.
                    let to = if sweep > 0.0 { to } else { -to };
                    if covers(a - centre, b - centre, sweep, to) { r } else { f64::INFINITY }
                }
            },
        }
    }

    /// The largest disc inside the region that touches it at a foot; `hints` are sites it may touch as well.
    pub(super) fn disc(&self, site: Site, p: Point, n: Point, hints: &[Site]) -> Disc {
        let mut disc = Disc { centre: p, radius: self.own_limit(site), other: site };
        for &hint in hints.iter().filter(|&&h| h != site) {
            let r = self.touching(p, n, hint);
            if r < disc.radius {
                disc.radius = r;
                disc.other = hint;
            }
        }
        // Each round names a site that lies nearer than the disc reaches, so the disc shrinks until none does.
        for _ in 0..100 {
            disc.centre = p + n * disc.radius;
            let Some(near) = self.index.nearest_within(disc.centre, disc.radius - TOUCH) else { break };
            let segment = self.edge(near.segment as u32);
            let k = near.segment as u32;
            let share = segment.nearest_share(disc.centre);
            let at_corner = if share <= 0.0 {
                Some(k)
            } else if share >= 1.0 {
                Some(self.after(k))
            } else {
                None
            };
            let other = at_corner.map_or(Site::Edge(k), Site::Corner);
            let mut r = self.touching(p, n, other);
            if r >= disc.radius {
                r = through_point(p, n, near.at);
            }
            if r >= disc.radius {
                break;
            }
            disc.radius = r;
            disc.other = other;
        }
        disc
    }
}

/// The radius of the disc that touches a foot and goes through a point.
fn through_point(p: Point, n: Point, q: Point) -> f64 {
    let to = q - p;
    let across = 2.0 * to.dot(n);
    if across > 0.0 { to.dot(to) / across } else { f64::INFINITY }
}

fn turn_between(before: &Segment, after: &Segment) -> Turn {
    let (Some(d), Some(e)) = (before.direction(1.0), after.direction(0.0)) else { return Turn::Smooth };
    let angle = libm::atan2(d.cross(e), d.dot(e));
    let bend = |s: &Segment| if let Segment::Arc { radius, sweep, .. } = s { sweep.signum() / radius } else { 0.0 };
    if angle.abs() < SMOOTH {
        Turn::Smooth
    } else if angle.abs() > std::f64::consts::PI - SMOOTH {
        // Edges that run back along each other: which of them bends away to the left tells on which side of the first the
        // second lies, a spike of the region or a slit in it.
        if bend(before) + bend(after) <= 0.0 { Turn::Outward } else { Turn::Inward(angle.abs()) }
    } else if angle > 0.0 {
        Turn::Outward
    } else {
        Turn::Inward(-angle)
    }
}
