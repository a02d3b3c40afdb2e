//! What a disc of a radius can't cover of a region, place by place: corners, and strokes that are too narrow for it.
//!
//! Each place is a connected part of what the opening leaves. It is a corner where the walls meet at an angle, and a stroke
//! where they face each other: that tells the medial axis, whose branches into corners never see their walls far apart
//! ([`crate::FACING`]). A disc that is only kept from passing, while discs on both sides cover all but a trace between
//! them, leaves nothing worth a place.

use crate::clearance::{Axis, FACING, Narrow};
use crate::{HAIR, opening};
use plane::{Bounds, Point, Region, RegionIndex, SegmentIndex, Shape, arcs};
use std::cmp::Ordering;

/// Places smaller than this are rounding, mm².
pub const TRACE: f64 = 0.000_5;
/// A stroke that gets narrower than this share of the disc's width runs out to a point.
const POINT: f64 = 0.2;
/// How closely the edge is looked at, and how far chords of the axis may stray, mm.
pub(crate) const STEP: f64 = 0.1;
pub(crate) const STRAY: f64 = 0.000_5;
/// What is left beside a disc of the axis must reach so far into it, radii: less is a trace along the walls.
const DEEP: f64 = 0.1;

/// A place that a disc can't cover.
#[derive(Debug, Clone, PartialEq)]
pub struct Left {
    /// All of it.
    pub region: Region,
    /// A point of it as far from the region's edge as any.
    pub at: Point,
    /// mm².
    pub area: f64,
    /// How far its farthest point is from what is covered, mm; infinite where nothing of its part is.
    pub gap: f64,
    /// The narrowest place where its walls face each other; `None` for a corner.
    pub stroke: Option<Narrow>,
    /// Whether the stroke runs out to a point, which no round cutter takes.
    pub to_point: bool,
    /// Whether no disc covers anything of the part of the region that it lies in.
    pub whole_part: bool,
}

impl Left {
    /// The diameter of a disc that would cover it, mm, but for its corners; `None` for a corner or a point.
    pub fn diameter(&self) -> Option<f64> {
        let stroke = self.stroke.map(|s| s.width);
        stroke.or_else(|| self.whole_part.then(|| 2.0 * self.room())).filter(|_| !self.to_point)
    }

    /// Distance of [`Self::at`] from the edge where it is a part by itself, mm.
    fn room(&self) -> f64 {
        let edges = SegmentIndex::of_contours(self.region.contours());
        edges.nearest(self.at).map_or(0.0, |n| n.distance)
    }
}

/// What a disc covers of a region and what it leaves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Covered {
    /// What it covers: the opening.
    pub region: Region,
    /// What is left, in the order of the places' x and y.
    pub left: Vec<Left>,
}

/// What a disc of radius `r` mm covers of a region, and each place that it leaves.
pub fn covered(region: &Region, r: f64) -> Covered {
    let covered = opening(region, r).region;
    let mut rest = arcs::difference(region, &covered);
    rest.shapes.retain(|s| s.area() > TRACE);
    if rest.is_empty() {
        return Covered { region: covered, left: Vec::new() };
    }
    let strokes = Strokes::of(region, &rest, r);
    let edge = SegmentIndex::of_contours(covered.contours());
    let walls = SegmentIndex::of_contours(region.contours());
    let mut left: Vec<Left> = rest.shapes.into_iter().map(|s| one(s, &covered, &edge, &walls, &strokes, r)).collect();
    let lonely = |l: &Left| {
        let part = region.shapes.iter().find(|s| s.contains(l.at));
        part.is_some_and(|part| !covered.shapes.iter().any(|c| anywhere(c).is_some_and(|p| part.contains(p))))
    };
    let parts: Vec<bool> = left.iter().map(lonely).collect();
    left.iter_mut().zip(parts).for_each(|(l, lonely)| {
        if lonely {
            (l.whole_part, l.gap) = (true, f64::INFINITY);
        }
    });
    left.sort_by(|a, b| a.at.x.total_cmp(&b.at.x).then(a.at.y.total_cmp(&b.at.y)));
    Covered { region: covered, left }
}

/// A point in a shape, not on its edge.
fn anywhere(shape: &Shape) -> Option<Point> {
    shape.outer.segments().find_map(|s| {
        let (middle, along) = (s.at(0.5), s.direction(0.5)?);
        [1e-3, 1e-5].into_iter().map(|step| middle + along.left() * step).find(|&p| shape.contains(p))
    })
}

fn one(shape: Shape, covered: &Region, edge: &SegmentIndex, walls: &SegmentIndex, strokes: &Strokes, r: f64) -> Left {
    let area = shape.area();
    let region = Region { shapes: vec![shape] };
    let (narrowest, spots) = strokes.in_place(&region);
    let corners: Vec<Point> = region.contours().flat_map(|c| &c.vertices).map(|v| v.p).collect();
    let gap = |p: Point| if covered.is_empty() { f64::INFINITY } else { edge.nearest(p).map_or(0.0, |n| n.distance) };
    let middles: Vec<Point> = spots.iter().map(|s| s.at).filter(|&p| region.contains(p)).collect();
    let far = corners.into_iter().chain(middles.iter().copied()).map(gap).fold(0.0, f64::max);
    let room = |p: Point| walls.nearest(p).map_or(0.0, |n| n.distance);
    let inside = middles.into_iter().chain(cells(&region));
    let at = inside.map(|p| (p, room(p))).reduce(|a, b| if b.1 > a.1 + 1e-9 { b } else { a });
    let at = at.map_or_else(|| region.bounds().centre(), |a| a.0);
    let to_point = narrowest.is_some_and(|n| n.width < POINT * 2.0 * r);
    Left { region, at, area, gap: far, stroke: narrowest, to_point, whole_part: false }
}

/// Points inside a region: middles of its cells, finer ones where coarse ones miss it.
fn cells(region: &Region) -> Vec<Point> {
    let b = region.bounds();
    for n in [5, 15, 45] {
        let all = (0..n * n).map(|k| {
            let share = |i: i32| (f64::from(i) + 0.5) / f64::from(n);
            b.min + Point::new(b.width() * share(k % n), b.height() * share(k / n))
        });
        let found: Vec<Point> = all.filter(|&p| region.contains(p)).collect();
        if found.len() > 3 {
            return found;
        }
    }
    region.contours().flat_map(|c| &c.vertices).map(|v| v.p).take(1).collect()
}

/// A disc of the axis.
#[derive(Debug, Clone, Copy)]
struct Disc {
    at: Point,
    radius: f64,
    /// Whether the walls face each other there, and don't run into a corner.
    faces: bool,
}

/// Where discs of a radius don't pass between walls that face each other.
struct Strokes {
    discs: Vec<Disc>,
    /// By how much what is left must reach into a disc, mm.
    deep: f64,
}

impl Strokes {
    fn of(region: &Region, rest: &Region, r: f64) -> Self {
        let mut discs = Vec::new();
        for shape in concerned(region, rest) {
            let axis =
                Axis::traced_surely(&Region { shapes: vec![shape.clone()] }, STRAY, STEP).without_corners(FACING);
            let spots = axis.branches.iter().flat_map(|b| &b.spots).filter(|s| s.radius < r - HAIR);
            discs.extend(spots.map(|s| Disc { at: s.at, radius: s.radius, faces: s.facing >= FACING }));
        }
        Self { discs, deep: DEEP * r }
    }

    /// The narrowest of the discs that what is left in a place cuts into, and all of them.
    fn in_place(&self, place: &Region) -> (Option<Narrow>, Vec<Disc>) {
        let (index, bounds) = (RegionIndex::new(place), place.bounds());
        let cut_into =
            |d: &&Disc| bounds.grown(d.radius).contains(d.at) && index.signed_distance(d.at) < d.radius - self.deep;
        let found: Vec<Disc> = self.discs.iter().filter(cut_into).copied().collect();
        let least = found
            .iter()
            .min_by(|a, b| (!a.faces, a.radius).partial_cmp(&(!b.faces, b.radius)).unwrap_or(Ordering::Equal));
        (least.map(|d| Narrow { at: d.at, width: 2.0 * d.radius }), found)
    }
}

/// The shapes of a region in which something is left.
pub(crate) fn concerned<'a>(region: &'a Region, rest: &Region) -> impl Iterator<Item = &'a Shape> {
    let boxes: Vec<Bounds> = rest.shapes.iter().map(|s| s.outer.bounds()).collect();
    region.shapes.iter().filter(move |s| boxes.iter().any(|b| b.meets(s.outer.bounds())))
}
