//! What must hold of an offset, told by means the kernel has no part in: another library at finer flattening, and
//! distances to the source at many points.

use clipper2_rust::core::{FillRule, Path64, Paths64, Point64};
use clipper2_rust::engine::ClipType;
use clipper2_rust::engine_public::{Clipper64, PolyTree64};
use clipper2_rust::offset::{EndType, JoinType};
use clipper2_rust::{inflate_paths_64, poly_tree_to_faces64};
use plane::{Point, Region, SegmentIndex};

/// Flattening and rounding of the other library, mm.
const FINE: f64 = 0.000_1;
const NM: f64 = 1e6;

/// Rings of whole nanometres.
pub struct Fine(Paths64);

impl Fine {
    /// A region flattened finely.
    pub fn of(region: &Region) -> Self {
        let ring = |c: &plane::Contour| -> Path64 {
            let mut path: Path64 = c
                .flatten(FINE)
                .into_iter()
                .map(|p| Point64::new((p.x * NM).round() as i64, (p.y * NM).round() as i64))
                .collect();
            path.dedup();
            path
        };
        Self(region.contours().map(ring).collect())
    }

    /// Offset by the other library; outward positive.
    pub fn offset(&self, by: f64) -> Self {
        if self.0.is_empty() {
            return Self(Paths64::new());
        }
        Self(inflate_paths_64(&self.0, by * NM, JoinType::Round, EndType::Polygon, 2.0, FINE * NM))
    }

    /// mm².
    pub fn area(&self) -> f64 {
        self.0.iter().map(area).sum()
    }

    /// Length of all rings, mm.
    pub fn length(&self) -> f64 {
        self.0.iter().map(length).sum()
    }

    /// A point of every ring that holds a disc of 4 µm, or so, mm.
    pub fn places(&self) -> Vec<Point> {
        let wide = self.0.iter().filter(|p| 2.0 * area(p).abs() > NARROW * length(p));
        wide.filter_map(|p| p.first()).map(|p| Point::new(p.x as f64 / NM, p.y as f64 / NM)).collect()
    }

    /// Rings that hold a disc of 4 µm, or so: twice their area over their length. Outer ones and holes.
    pub fn components(&self) -> (usize, usize) {
        let mut clipper = Clipper64::new();
        clipper.add_subject(&self.0);
        let mut tree = PolyTree64::new();
        let mut open = Paths64::new();
        clipper.execute_tree(ClipType::Union, FillRule::NonZero, &mut tree, &mut open);
        let faces = poly_tree_to_faces64(&tree);
        let wide = |p: &Path64| 2.0 * area(p).abs() > NARROW * length(p);
        let outers = faces.iter().filter(|f| wide(&f.outer)).count();
        (outers, faces.iter().filter(|f| wide(&f.outer)).flat_map(|f| &f.holes).filter(|h| wide(h)).count())
    }
}

/// Features narrower than this are exempt, mm.
pub const NARROW: f64 = 0.004;

fn area(path: &Path64) -> f64 {
    let Some(o) = path.first() else { return 0.0 };
    let at = |p: &Point64| Point::new((p.x - o.x) as f64 / NM, (p.y - o.y) as f64 / NM);
    let next = path.iter().cycle().skip(1);
    0.5 * path.iter().zip(next).map(|(a, b)| at(a).cross(at(b))).sum::<f64>()
}

fn length(path: &Path64) -> f64 {
    let next = path.iter().cycle().skip(1);
    path.iter().zip(next).map(|(a, b)| libm::hypot((b.x - a.x) as f64, (b.y - a.y) as f64) / NM).sum()
}

/// Outer rings and holes of a region that hold a disc of [`NARROW`], or so.
pub fn components(region: &Region) -> (usize, usize) {
    let wide = |c: &plane::Contour| 2.0 * c.area().abs() > NARROW * c.length();
    let outers = region.shapes.iter().filter(|s| wide(&s.outer));
    (outers.clone().count(), outers.flat_map(|s| &s.holes).filter(|h| wide(h)).count())
}

/// Points along a region's edge: ends and, on each segment, as many inner points as are at most `step` mm apart (at least three).
pub fn edge_points(region: &Region, step: f64) -> impl Iterator<Item = Point> + '_ {
    region.contours().flat_map(move |c| {
        c.segments().flat_map(move |s| {
            let n = ((s.length() / step).ceil() as usize).clamp(4, 10_000);
            (0..n).map(move |i| s.at(i as f64 / n as f64))
        })
    })
}

/// The point of an edge that is worst by a measure, and by how much.
pub fn worst(points: impl Iterator<Item = Point>, measure: impl Fn(Point) -> f64) -> (f64, Point) {
    points.map(|p| (measure(p), p)).fold((0.0, Point::default()), |w, n| if n.0 > w.0 { n } else { w })
}

/// Distance from a region's edge.
pub fn distance(index: &SegmentIndex, p: Point) -> f64 {
    index.nearest(p).map_or(f64::INFINITY, |n| n.distance)
}
