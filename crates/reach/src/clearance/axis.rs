//! The medial axis as a graph: branches between nodes.

use super::graph;
use super::sites::{Site, Sites};
use super::trace::{Fineness, Run, Spot, seen_from};
use plane::{FillRule, Point, Region};
use std::collections::BTreeMap;

/// Rounds of asking again where a site doesn't see what sees it.
const ROUNDS: usize = 4;

/// A branch of the axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Branch {
    /// From node to node, both included.
    pub spots: Vec<Spot>,
    /// The nodes it joins.
    pub ends: [usize; 2],
}

impl Branch {
    /// mm.
    pub fn length(&self) -> f64 {
        self.spots.windows(2).map(|w| w[0].at.distance(w[1].at)).sum()
    }

    /// The greatest angle between the touching points of its discs, radians.
    pub fn facing(&self) -> f64 {
        self.spots.iter().map(|s| s.facing).fold(0.0, f64::max)
    }
}

/// All centres of discs that lie inside a region and touch its edge at two places or more, with their radii.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Axis {
    /// Where branches meet or end.
    pub nodes: Vec<Spot>,
    /// The branches; each pair of walls gives its own.
    pub branches: Vec<Branch>,
}

/// Why no axis could be made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxisFault {
    /// Loops the axis must have, one for each hole, less parts of the region.
    pub expected: i64,
    /// What was found.
    pub found: i64,
    /// A place in the region, mm.
    pub at: Point,
}

impl Axis {
    /// The axis of a region, followed so that chords of its branches stray no further than `stray` mm, and looked at
    /// every `step` mm of the edge at least.
    ///
    /// # Errors
    /// The axis of a region has as many parts as the region and as many loops as it has holes. Where that isn't found, it is
    /// tried with other feet and with the region's rings mended ([`plane::check`]); the fault says what was found at last.
    pub fn of(region: &Region, stray: f64, step: f64) -> Result<Self, AxisFault> {
        // What bounds a disc inside a shape is that shape's own edge, even where another shape touches it.
        let mut all = Self::default();
        for shape in &region.shapes {
            let of_shape = Self::of_shape(&Region { shapes: vec![shape.clone()] }, stray, step)?;
            let first = all.nodes.len();
            all.nodes.extend(of_shape.nodes);
            let moved = of_shape.branches.into_iter().map(|b| Branch { ends: b.ends.map(|end| end + first), ..b });
            all.branches.extend(moved);
        }
        Ok(all)
    }

    /// The axis of a region, counted if that succeeds, else as traced: for those who look at its discs and not at how they
    /// hang together.
    pub(crate) fn traced_surely(region: &Region, stray: f64, step: f64) -> Self {
        Self::of(region, stray, step).unwrap_or_else(|_| Self::traced(region, &Fineness { stray, step }))
    }

    fn of_shape(region: &Region, stray: f64, step: f64) -> Result<Self, AxisFault> {
        let mut fault = None;
        let mut mended: Option<Region> = None;
        for (mend, finer) in [(false, 1.0), (false, 0.37), (true, 1.0), (true, 0.37)] {
            if mend && mended.is_none() {
                mended = Some(plane::check(region.contours(), FillRule::NonZero).region);
            }
            let region = mended.as_ref().unwrap_or(region);
            let axis = Self::traced(region, &Fineness { stray: stray * finer, step: step * finer });
            let holes: usize = region.shapes.iter().map(|s| s.holes.len()).sum();
            let expected = holes as i64 - region.shapes.len() as i64;
            let found = axis.branches.len() as i64 - axis.nodes.len() as i64;
            if found == expected && axis.parts() == region.shapes.len() {
                return Ok(axis);
            }
            let at = region.shapes.first().and_then(|s| s.outer.vertices.first()).map_or(Point::default(), |v| v.p);
            fault = Some(AxisFault { expected, found, at });
        }
        fault.map_or(Ok(Self::default()), Err)
    }

    /// The axis as traced, its loops not counted.
    pub(super) fn traced(region: &Region, fineness: &Fineness) -> Self {
        let sites = Sites::of(region);
        let rings = sites.rings();
        let all = rings.iter().flatten();
        let mut seen: BTreeMap<Site, Vec<Run>> =
            all.map(|&site| (site, seen_from(&sites, site, fineness, &[]))).collect();
        let mut also: BTreeMap<Site, Vec<f64>> = BTreeMap::new();
        for _ in 0..ROUNDS {
            let missed = one_sided(&sites, &seen);
            if missed.is_empty() {
                break;
            }
            for (site, shares) in missed {
                let stops = also.entry(site).or_default();
                stops.extend(shares);
                seen.insert(site, seen_from(&sites, site, fineness, stops));
            }
        }
        graph::settle(&mut seen);
        let mut axis = graph::join(&rings, seen);
        // A node touches more than the two sites of any one branch.
        for node in axis.nodes.iter_mut().filter(|n| n.radius > 0.0) {
            node.facing = sites.facing(node.at, node.radius);
        }
        axis
    }

    /// Connected parts.
    fn parts(&self) -> usize {
        let mut group: Vec<usize> = (0..self.nodes.len()).collect();
        let mut parts = group.len();
        for branch in &self.branches {
            let (a, b) = (root(&mut group, branch.ends[0]), root(&mut group, branch.ends[1]));
            if a != b {
                group[a] = b;
                parts -= 1;
            }
        }
        parts
    }

    /// The diameter of the largest disc inside the region that holds a point, mm; 0 where none does.
    pub fn width_at(&self, p: Point) -> f64 {
        let nodes = self.nodes.iter().map(|&n| (n, n));
        let pieces = self.branches.iter().flat_map(|b| b.spots.windows(2)).map(|w| (w[0], w[1])).chain(nodes);
        pieces.filter_map(|(a, b)| largest_around(p, a, b)).map(|r| 2.0 * r).fold(0.0, f64::max)
    }

    /// The largest disc inside the region.
    pub fn widest(&self) -> Option<Spot> {
        let spots = self.branches.iter().flat_map(|b| &b.spots).chain(&self.nodes);
        spots.copied().reduce(|a, b| if b.radius > a.radius { b } else { a })
    }

    /// Without the branches that run into corners: those whose touching points are never seen further apart than `facing`
    /// radians from their discs' centres.
    #[must_use]
    pub fn without_corners(&self, facing: f64) -> Self {
        let branches = self.branches.iter().filter(|b| b.facing() >= facing).cloned();
        Self { nodes: self.nodes.clone(), branches: branches.collect() }
    }
}

/// Sites that don't see a run as often as they are seen, and the shares at which they must. A run that is long on one
/// side can be so short on the other that no foot fell into it.
fn one_sided(sites: &Sites, seen: &BTreeMap<Site, Vec<Run>>) -> BTreeMap<Site, Vec<f64>> {
    let count = graph::counts(seen);
    let mut missed: BTreeMap<Site, Vec<f64>> = BTreeMap::new();
    for run in seen.values().flatten().filter(|r| r.site != r.other && !r.is_short()) {
        let [from_low, from_high] = count[&run.pair()];
        if from_low != from_high {
            let n = run.spots.len();
            let stops = [n / 4, n / 2, n - 1 - n / 4].map(|k| sites.share_of(run.other, run.spots[k].at));
            missed.entry(run.other).or_default().extend(stops);
        }
    }
    missed
}

/// The largest radius between two spots of a branch whose disc holds a point.
fn largest_around(p: Point, a: Spot, b: Spot) -> Option<f64> {
    // |p - c(t)|² <= r(t)² with both linear in t.
    let (d, to, dr) = (b.at - a.at, a.at - p, b.radius - a.radius);
    let (q2, q1, q0) = (d.dot(d) - dr * dr, to.dot(d) - a.radius * dr, to.dot(to) - a.radius * a.radius);
    let holds = |t: f64| q2 * t * t + 2.0 * q1 * t + q0 <= 0.0;
    let square = q1 * q1 - q2 * q0;
    let roots =
        [1.0, -1.0].map(|sign| if q2 > 0.0 && square >= 0.0 { (sign * libm::sqrt(square) - q1) / q2 } else { 0.0 });
    let inner = roots.into_iter().filter(|t| (0.0..=1.0).contains(t));
    let ends = [0.0, 1.0].into_iter().filter(|&t| holds(t));
    inner.filter(|_| q2 > 0.0 && square >= 0.0).chain(ends).map(|t| a.radius + dr * t).reduce(f64::max)
}

pub(super) fn root(group: &mut [usize], mut i: usize) -> usize {
    while group[i] != i {
        group[i] = group[group[i]];
        i = group[i];
    }
    i
}
