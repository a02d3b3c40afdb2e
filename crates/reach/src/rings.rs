//! Sets of rings in whole nanometres and what can be done with them, by `clipper2-rust`.

use crate::ROUND;
use clipper2_rust::core::{FillRule, Path64, Paths64, Point64};
use clipper2_rust::engine::ClipType;
use clipper2_rust::engine_public::{Clipper64, PolyTree64};
use clipper2_rust::offset::{EndType, JoinType};
use clipper2_rust::{inflate_paths_64, poly_tree_to_faces64, simplify_paths};
use memo::{Key, Keyed};
use std::sync::OnceLock;

use plane::{Bounds, Contour, FIT, FLATTEN, Point, Region, Shape, fit_closed};

/// Nanometres in a millimetre.
const NM: f64 = 1e6;
/// Rings with less area than this are rounding, mm².
const DUST: f64 = 1e-7;

/// A region, of lines and arcs as long as all it was made from had them, else of straight edges. Rings in straight edges
/// are made when they are asked for: outer ones counter-clockwise, holes clockwise, disjoint.
#[derive(Debug, Clone)]
pub struct Rings {
    /// The lines and arcs; everything is then done by arcs.
    exact: Option<Region>,
    /// The straight edges: set where there is nothing exact, else made from it when needed.
    paths: OnceLock<Paths64>,
}

/// What of a closed ring lies inside a zone.
#[derive(Debug, Clone, PartialEq)]
pub enum Clipped {
    /// All of it.
    Whole,
    /// These runs, in the ring's direction; none if it lies outside.
    Runs(Vec<Vec<Point>>),
}

impl Default for Rings {
    fn default() -> Self {
        Self::exactly(Region::default())
    }
}

impl Rings {
    /// A region, its lines and arcs kept.
    pub fn of(region: &Region) -> Self {
        Self::exactly(region.clone())
    }

    fn exactly(region: Region) -> Self {
        Self { exact: Some(region), paths: OnceLock::new() }
    }

    /// Rings from points, oriented as given.
    pub fn of_points(rings: impl IntoIterator<Item = Vec<Point>>) -> Self {
        Self::of_paths(rings.into_iter().map(|r| to_path(&r)).filter(|p| p.len() > 2).collect())
    }

    /// Disjoint parts put together.
    pub fn of_parts<'a>(parts: impl IntoIterator<Item = &'a Self>) -> Self {
        let parts: Vec<&Self> = parts.into_iter().collect();
        if parts.iter().all(|p| p.exact.is_some()) {
            let shapes = parts.iter().filter_map(|p| p.exact.as_ref()).flat_map(|r| r.shapes.iter().cloned());
            return Self::exactly(Region { shapes: shapes.collect() });
        }
        Self::of_paths(parts.into_iter().flat_map(|p| p.paths().iter().cloned()).collect())
    }

    fn of_paths(paths: Paths64) -> Self {
        Self { paths: OnceLock::from(paths), exact: None }
    }

    fn paths(&self) -> &Paths64 {
        self.paths.get_or_init(|| {
            let contours = self.exact.iter().flat_map(Region::contours);
            contours.map(|c| to_path(&c.flatten(FLATTEN))).filter(|p| p.len() > 2).collect()
        })
    }

    /// An upright rectangle.
    pub fn rectangle(bounds: Bounds) -> Self {
        Self::exactly(Region::solid(Contour::rectangle(bounds)))
    }

    /// Whether there is nothing in it.
    pub fn is_empty(&self) -> bool {
        self.exact.as_ref().map_or_else(|| self.paths().is_empty(), Region::is_empty)
    }

    /// Area, mm².
    pub fn area(&self) -> f64 {
        self.exact.as_ref().map_or_else(|| self.paths().iter().map(area_of).sum(), Region::area)
    }

    /// Length of all rings, mm.
    pub fn length(&self) -> f64 {
        self.exact.as_ref().map_or_else(|| self.points().map(|r| ring_length(&r)).sum(), Region::length)
    }

    /// The box around it.
    pub fn bounds(&self) -> Bounds {
        self.exact.as_ref().map_or_else(|| Bounds::of(self.paths().iter().flatten().map(to_point)), Region::bounds)
    }

    /// Each ring's points, first not repeated.
    pub fn points(&self) -> impl Iterator<Item = Vec<Point>> + '_ {
        self.paths().iter().map(|p| p.iter().map(to_point).collect())
    }

    /// Whether a point is inside (even-odd over all rings).
    pub fn contains(&self, p: Point) -> bool {
        if let Some(exact) = &self.exact {
            return exact.contains(p);
        }
        self.paths().iter().fold(false, |inside, ring| inside != crossed_oddly(ring, p))
    }

    /// What lies further than `r` mm from the edge: where a centre may go. By arcs as long as the rings are a region's own or
    /// offsets of it ([`crate::HAIR`] then decides exact fits), else by chords.
    #[must_use]
    pub fn inset(&self, r: f64) -> Self {
        self.by_arcs(crate::try_inset, r).unwrap_or_else(|| self.offset(-r, ROUND))
    }

    /// All points within `r` mm of it.
    #[must_use]
    pub fn outset(&self, r: f64) -> Self {
        self.by_arcs(crate::try_outset, r).unwrap_or_else(|| self.offset(r, ROUND))
    }

    fn by_arcs(&self, make: fn(&Region, f64) -> Result<Region, crate::OffsetFault>, r: f64) -> Option<Self> {
        Some(Self::exactly(make(self.exact.as_ref()?, r).ok()?).without_dust())
    }

    /// All points within about `r` mm of it: rounded corners may be `tolerance` mm off.
    #[must_use]
    pub fn outset_within(&self, r: f64, tolerance: f64) -> Self {
        self.by_arcs(crate::try_outset, r).unwrap_or_else(|| self.offset(r, tolerance))
    }

    /// [`Self::inset`] whose rounded corners may be `tolerance` mm off.
    #[must_use]
    pub fn inset_within(&self, r: f64, tolerance: f64) -> Self {
        self.by_arcs(crate::try_inset, r).unwrap_or_else(|| self.offset(-r, tolerance))
    }

    fn offset(&self, by: f64, tolerance: f64) -> Self {
        let points = || self.paths().iter().flatten();
        let (Some(low), Some(high)) = (points().map(|p| p.y).min(), points().map(|p| p.y).max()) else {
            return Self::default();
        };
        let (left, right) = (points().map(|p| p.x).min().unwrap_or(0), points().map(|p| p.x).max().unwrap_or(0));
        // The offsetting library takes the turn of all rings from the one that reaches highest in y, by its area. A hole
        // may reach as high as its outer ring, and far from zero areas are lost in rounding: so rings are counted from
        // their middle, and a square of our own lies above them all, too far away to be met.
        let middle = Point64::new(left / 2 + right / 2, low / 2 + high / 2);
        let moved = |path: &Path64, sign: i64| -> Path64 {
            path.iter().map(|p| Point64::new(p.x + sign * middle.x, p.y + sign * middle.y)).collect()
        };
        // Far more than a kilometre is nonsense, but must not overflow.
        let reach = (by.abs() * NM).min(1e17) as i64 + 1;
        let (side, from) = (3 * reach + 1000, high - middle.y + 4 * reach + 1000);
        let ours = [(0, from), (side, from), (side, from + side), (0, from + side)].map(|(x, y)| Point64::new(x, y));
        let mut paths: Paths64 = self.paths().iter().map(|p| moved(p, -1)).collect();
        paths.push(ours.to_vec());
        let paths = inflate_paths_64(&paths, by * NM, JoinType::Round, EndType::Polygon, 2.0, tolerance * NM);
        let below = from - 2 * reach;
        let kept = paths.iter().filter(|p| p.iter().any(|q| q.y < below));
        Self::of_paths(kept.map(|p| moved(p, 1)).collect()).without_dust()
    }

    /// What a disc of radius `r` mm can cover without leaving it.
    #[must_use]
    pub fn opening(&self, r: f64) -> Self {
        self.inset(r).outset(r)
    }

    /// Without parts and holes of less than `area` mm².
    #[must_use]
    pub fn without_specks(self, area: f64) -> Self {
        self.keep(|p| area_of(p).abs() >= area, |c| c.area().abs() >= area)
    }

    /// Without parts and holes whose mean width (twice the area over the length) is less than `width` mm.
    #[must_use]
    pub fn without_slivers(self, width: f64) -> Self {
        let length = |p: &Path64| ring_length(&p.iter().map(to_point).collect::<Vec<_>>());
        self.keep(|p| 2.0 * area_of(p).abs() >= width * length(p), |c| 2.0 * c.area().abs() >= width * c.length())
    }

    /// Fewer points, none moved by more than about `tolerance` mm; lines and arcs stay as they are.
    #[must_use]
    pub fn simplified(&self, tolerance: f64) -> Self {
        if self.exact.is_some() {
            return self.clone();
        }
        Self::of_paths(simplify_paths(self.paths(), tolerance * NM, true)).without_dust()
    }

    /// What is in either.
    #[must_use]
    pub fn union(&self, other: &Self) -> Self {
        self.combine(other, ClipType::Union, |a, b| plane::arcs::union([a, b]))
    }

    /// What is in this and not in the other.
    #[must_use]
    pub fn minus(&self, other: &Self) -> Self {
        if other.is_empty() { self.clone() } else { self.combine(other, ClipType::Difference, plane::arcs::difference) }
    }

    /// What is in both.
    #[must_use]
    pub fn and(&self, other: &Self) -> Self {
        self.combine(other, ClipType::Intersection, plane::arcs::intersection)
    }

    fn combine(&self, other: &Self, how: ClipType, by_arcs: fn(&Region, &Region) -> Region) -> Self {
        if let (Some(a), Some(b)) = (&self.exact, &other.exact) {
            return Self::exactly(by_arcs(a, b)).without_dust();
        }
        let mut clipper = Clipper64::new();
        clipper.add_subject(self.paths());
        clipper.add_clip(other.paths());
        let mut paths = Paths64::new();
        clipper.execute(how, FillRule::NonZero, &mut paths, None);
        Self::of_paths(paths).without_dust()
    }

    fn without_dust(self) -> Self {
        self.keep(|p| area_of(p).abs() > DUST, |c| c.area().abs() > DUST)
    }

    fn keep(self, path: impl Fn(&Path64) -> bool, contour: impl Fn(&Contour) -> bool) -> Self {
        match self.exact {
            Some(mut region) => {
                region.shapes.retain(|s| contour(&s.outer));
                region.shapes.iter_mut().for_each(|s| s.holes.retain(&contour));
                Self::exactly(region)
            }
            None => {
                let mut paths = self.paths.into_inner().unwrap_or_default();
                paths.retain(path);
                Self::of_paths(paths)
            }
        }
    }

    /// Its connected parts, each an outer ring with its holes.
    pub fn parts(&self) -> Vec<Self> {
        if let Some(exact) = &self.exact {
            return exact.clone().split().into_iter().map(Self::exactly).filter(|p| p.area() > DUST).collect();
        }
        let mut clipper = Clipper64::new();
        clipper.add_subject(self.paths());
        let mut tree = PolyTree64::new();
        let mut open = Paths64::new();
        clipper.execute_tree(ClipType::Union, FillRule::NonZero, &mut tree, &mut open);
        let faces = poly_tree_to_faces64(&tree).into_iter();
        let part = |outer: Path64, holes: Paths64| Self::of_paths(std::iter::once(outer).chain(holes).collect());
        faces.map(|f| part(f.outer, f.holes)).filter(|p| p.area() > DUST).collect()
    }

    /// The runs of a closed ring that lie inside this zone.
    pub fn clip(&self, ring: &[Point]) -> Clipped {
        let Some(&first) = ring.first() else { return Clipped::Runs(Vec::new()) };
        let mut open = to_path(ring);
        open.push(to_unit(first));
        let mut clipper = Clipper64::new();
        clipper.add_open_subject(&vec![open]);
        clipper.add_clip(self.paths());
        let (mut closed, mut runs) = (Paths64::new(), Paths64::new());
        clipper.execute(ClipType::Intersection, FillRule::NonZero, &mut closed, Some(&mut runs));
        let mut runs: Vec<Vec<Point>> = runs.iter().map(|p| p.iter().map(to_point).collect()).collect();
        runs.retain(|r| r.len() > 1);
        for run in &mut runs {
            if !along(ring, run) {
                run.reverse();
            }
        }
        join_at(first, &mut runs);
        if let [run] = &runs[..]
            && (run_length(run) - ring_length(ring)).abs() < 1e-3
            && run[0].distance(run[run.len() - 1]) < 1e-5
        {
            return Clipped::Whole;
        }
        Clipped::Runs(runs)
    }

    /// As a region: of its own lines and arcs where it has them, else with arcs fitted.
    pub fn region(&self) -> Region {
        if let Some(exact) = &self.exact {
            return exact.clone();
        }
        let shapes = self.parts().into_iter().filter_map(|part| {
            let mut contours = part.points().map(|r| fit_closed(&r, FIT)).collect::<Vec<_>>().into_iter();
            Some(Shape { outer: contours.next()?, holes: contours.collect() })
        });
        Region { shapes: shapes.collect() }
    }
}

impl Keyed for Rings {
    fn put(&self, key: &mut Key) {
        self.exact.put(key);
        if self.exact.is_none() {
            for path in self.paths() {
                path.len().put(key);
                // Whole nanometres within a kilometre are whole in an f64 too.
                path.iter().for_each(|p| [p.x as f64, p.y as f64].put(key));
            }
        }
    }
}

fn to_unit(p: Point) -> Point64 {
    Point64::new((p.x * NM).round() as i64, (p.y * NM).round() as i64)
}

fn to_point(p: &Point64) -> Point {
    Point::new(p.x as f64 / NM, p.y as f64 / NM)
}

fn to_path(ring: &[Point]) -> Path64 {
    let mut path: Path64 = ring.iter().map(|&p| to_unit(p)).collect();
    path.dedup();
    path
}

/// Signed area, mm², by the shoelace formula in f64 about the first point.
fn area_of(path: &Path64) -> f64 {
    let Some(origin) = path.first() else { return 0.0 };
    let at = |p: &Point64| Point::new((p.x - origin.x) as f64 / NM, (p.y - origin.y) as f64 / NM);
    let next = path.iter().cycle().skip(1);
    0.5 * path.iter().zip(next).map(|(a, b)| at(a).cross(at(b))).sum::<f64>()
}

fn crossed_oddly(ring: &Path64, p: Point) -> bool {
    let next = ring.iter().cycle().skip(1);
    ring.iter().zip(next).fold(false, |odd, (a, b)| {
        let (a, b) = (to_point(a), to_point(b));
        let crosses = (a.y > p.y) != (b.y > p.y) && p.x < (b.x - a.x) * (p.y - a.y) / (b.y - a.y) + a.x;
        odd != crosses
    })
}

fn run_length(run: &[Point]) -> f64 {
    run.windows(2).map(|w| w[0].distance(w[1])).sum()
}

fn ring_length(ring: &[Point]) -> f64 {
    run_length(ring) + ring.last().zip(ring.first()).map_or(0.0, |(a, b)| a.distance(*b))
}

/// Whether a run goes in the direction of the ring it was clipped from.
fn along(ring: &[Point], run: &[Point]) -> bool {
    // The middle piece of the run lies on one edge of the ring: compare directions with the nearest edge.
    let k = run.len() / 2;
    let (a, b) = (run[k - 1], run[k]);
    let middle = a.lerp(b, 0.5);
    let mut best = (f64::INFINITY, true);
    for i in 0..ring.len() {
        let (p, q) = (ring[i], ring[(i + 1) % ring.len()]);
        let edge = q - p;
        let square = edge.dot(edge);
        let t = if square > 0.0 { ((middle - p).dot(edge) / square).clamp(0.0, 1.0) } else { 0.0 };
        let d = middle.distance(p.lerp(q, t));
        if d < best.0 {
            best = (d, edge.dot(b - a) >= 0.0);
        }
    }
    best.1
}

/// Joins the run that ends at the ring's first point with the one that begins there.
fn join_at(first: Point, runs: &mut Vec<Vec<Point>>) {
    let near = |p: Point| p.distance(first) < 1e-5;
    let ends = runs.iter().position(|r| near(r[r.len() - 1]));
    let begins = runs.iter().position(|r| near(r[0]));
    if let (Some(e), Some(b)) = (ends, begins)
        && e != b
    {
        let tail = runs[b].clone();
        runs[e].extend(&tail[1..]);
        runs.remove(b);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn square(side: f64) -> Rings {
        Rings::rectangle(Bounds { min: Point::default(), max: Point::new(side, side) })
    }

    fn near(value: f64, expected: f64, tolerance: f64) {
        assert!((value - expected).abs() <= tolerance, "{value} is not {expected}");
    }

    /// A 20 mm square opened by 1.5875: area a² - (4 - pi) r² = 397.8367, perimeter 77.2746 (derived). Chords inside the corner
    /// arcs may lose 0.25 µm along 10 mm of arc.
    #[test]
    fn opening_of_a_square() {
        let opened = square(20.0).opening(1.5875);
        near(opened.area(), 397.8367, 0.003);
        near(opened.length(), 77.2746, 0.001);
    }

    /// A triangle of side 20 opened by 1 loses r² (cot(a/2) - (pi - a)/2) a corner: area 171.1505 (derived).
    #[test]
    fn opening_of_a_triangle() {
        let apex = Point::new(10.0, 20.0 * libm::sin(PI / 3.0));
        let triangle = Rings::of_points([vec![Point::default(), Point::new(20.0, 0.0), apex]]);
        near(triangle.opening(1.0).area(), 171.1505, 0.003);
    }

    /// The material-edge example of NISTIR 6556 is a 3-4-5 triangle: dilated by 1, perimeter 18.2832 and area
    /// 21.1416; by 1.5, 21.4248 and 31.0686 (Steiner's formula, derived).
    #[test]
    fn material_edge() {
        let triangle = Rings::of_points([vec![Point::default(), Point::new(4.0, 0.0), Point::new(4.0, 3.0)]]);
        for (r, perimeter, area) in [(1.0, 18.2832, 21.1416), (1.5, 21.4248, 31.0686)] {
            let grown = triangle.outset(r);
            near(grown.length(), perimeter, 0.002);
            near(grown.area(), area, 0.003);
        }
    }

    /// Inside corner of 90°: gap r (1/sin(45°) - 1), area r² (1 - pi/4): 0.540830 mm² at r 1.5875 (derived).
    #[test]
    fn what_a_cutter_leaves_in_corners() {
        let left = square(20.0).minus(&square(20.0).opening(1.5875));
        let corners = left.parts();
        assert_eq!(corners.len(), 4);
        for corner in corners {
            near(corner.area(), 0.540830, 0.001);
        }
    }

    #[test]
    fn parts_and_holes() {
        let ring = square(20.0).minus(&square(20.0).inset(5.0));
        let two = ring.union(&square(20.0).inset(8.0));
        assert_eq!(two.parts().len(), 2);
        // Insets are a hair (10 nm) less than asked: 4 x 10 mm x 10 nm and as much again.
        near(two.area(), 400.0 - 100.0 + 16.0, 1e-3);
        assert!(two.contains(Point::new(1.0, 1.0)) && two.contains(Point::new(10.0, 10.0)));
        assert!(!two.contains(Point::new(6.0, 6.0)));
    }

    #[test]
    fn clipping_keeps_the_direction_of_the_ring() {
        let ring: Vec<Point> = square(20.0).points().next().unwrap();
        let zone = Rings::rectangle(Bounds { min: Point::new(-1.0, -1.0), max: Point::new(5.0, 5.0) });
        let Clipped::Runs(runs) = zone.clip(&ring) else { panic!() };
        assert_eq!(runs.len(), 1);
        assert_eq!((runs[0][0], runs[0][runs[0].len() - 1]), (Point::new(0.0, 5.0), Point::new(5.0, 0.0)));
        assert_eq!(square(30.0).outset(1.0).clip(&ring), Clipped::Whole);
        assert_eq!(square(5.0).inset(2.0).clip(&ring), Clipped::Runs(vec![]));
    }
}
