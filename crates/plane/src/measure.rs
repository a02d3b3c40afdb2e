//! Area, centre and second moments in closed form, and which side of a region a point is on and how far.

use crate::boxtree::BoxTree;
use crate::contour::crossings;
use crate::{Bounds, Contour, Nearest, Point, Region, Segment, SegmentIndex, Shape, Vertex};

/// Area, centre and spread of a plane figure. Clockwise contours count negative, so holes are taken off by adding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moments {
    /// mm².
    pub area: f64,
    /// The centroid, mm; `None` if the area is zero.
    pub centroid: Option<Point>,
    /// The integrals of x², x y and y² about the centroid, mm⁴; zero if the area is zero.
    pub second: [f64; 3],
}

/// Integrals of 1, x, y, x², x y, y² about a fixed origin.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    area: f64,
    first: Point,
    second: [f64; 3],
}

impl Moments {
    /// Of contours that do not overlap, or of an outer contour and its holes.
    pub fn of<'a>(contours: impl IntoIterator<Item = &'a Contour> + Clone) -> Self {
        let vertices = contours.clone().into_iter().flat_map(|c| c.vertices.iter().map(|v| v.p));
        let origin = crate::arrange::origin_of(Bounds::of(vertices));
        let mut sums = Sums::default();
        for contour in contours {
            let n = contour.vertices.len();
            for (i, v) in contour.vertices.iter().enumerate() {
                let next = contour.vertices[(i + 1) % n].p;
                sums.add(&Segment::with_bulge(v.p - origin, next - origin, v.bulge));
            }
        }
        let Sums { area, first, second } = sums;
        let centre = first * (1.0 / area);
        if area == 0.0 || !centre.is_finite() {
            return Self { area, centroid: None, second: [0.0; 3] };
        }
        // Steiner's theorem back to the centroid.
        let shift = [centre.x * centre.x, centre.x * centre.y, centre.y * centre.y];
        let second = std::array::from_fn(|k| second[k] - area * shift[k]);
        Self { area, centroid: Some(centre + origin), second }
    }
}

impl Sums {
    /// Adds the triangle from the origin over the chord, and the piece between chord and arc.
    fn add(&mut self, segment: &Segment) {
        let (a, b) = (segment.start(), segment.end());
        let triangle = 0.5 * a.cross(b);
        self.area += triangle;
        self.first = self.first + (a + b) * (triangle / 3.0);
        let mixed = |p: f64, q: f64, r: f64, s: f64| (p * q + r * s + 0.5 * (p * s + r * q)) * triangle / 6.0;
        for (sum, part) in self.second.iter_mut().zip([
            mixed(a.x, a.x, b.x, b.x),
            mixed(a.x, a.y, b.x, b.y),
            mixed(a.y, a.y, b.y, b.y),
        ]) {
            *sum += part;
        }
        let Segment::Arc { centre, radius, from, sweep, .. } = *segment else { return };
        let half = 0.5 * sweep;
        let area = 0.5 * radius * radius * less_sine(sweep);
        let out = Point::at_angle(from + half);
        // How far the piece's centre is beyond the chord. From the centre of the circle it is at 4 r sin³(s/2) / 3 (s
        // - sin s) for a sweep s; close to a straight line that less r cos(s/2) is r (h²/5 - 13 h⁴/1050), h = s/2.
        let (sine, cosine) = (libm::sin(half), libm::cos(half));
        let square = half * half;
        let lift = if half.abs() < 0.01 {
            area * radius * (square / 5.0 - 13.0 * square * square / 1050.0)
        } else {
            2.0 / 3.0 * radius * radius * radius * sine * sine * sine - area * radius * cosine
        };
        self.area += area;
        self.first = self.first + a.lerp(b, 0.5) * area + out * lift;
        let part = between_chord_and_arc(a, b, centre, radius, from, sweep);
        for (sum, part) in self.second.iter_mut().zip(part) {
            *sum += part;
        }
    }
}

/// s - sin s without loss for small s.
fn less_sine(s: f64) -> f64 {
    if s.abs() > 0.5 {
        return s - libm::sin(s);
    }
    let q = s * s;
    s * q / 6.0 * (1.0 - q / 20.0 * (1.0 - q / 42.0 * (1.0 - q / 72.0 * (1.0 - q / 110.0 * (1.0 - q / 156.0)))))
}

/// The integrals of x², x y and y² between chord and arc. The curve integrals of x³/3 dy, x² y / 2 dy and -y³/3 dx
/// along the arc and back along the chord are of trigonometric polynomials of the fourth degree: eight points of
/// Gauss and Legendre to every eighth of a turn give them to the last digits, where the closed form loses them for
/// flat arcs.
fn between_chord_and_arc(a: Point, b: Point, centre: Point, radius: f64, from: f64, sweep: f64) -> [f64; 3] {
    // Nodes and weights on -1 to 1 (Abramowitz and Stegun, table 25.4, n = 8).
    const NODES: [(f64, f64); 4] = [
        (0.183_434_642_495_649_8, 0.362_683_783_378_362),
        (0.525_532_409_916_329, 0.313_706_645_877_887_27),
        (0.796_666_477_413_626_7, 0.222_381_034_453_374_48),
        (0.960_289_856_497_536_3, 0.101_228_536_290_376_26),
    ];
    let parts = (sweep.abs() / (std::f64::consts::PI / 4.0)).ceil().max(1.0) as usize;
    let mut sums = [0.0; 3];
    let mut add = |p: Point, d: Point, weight: f64| {
        sums[0] += weight * p.x * p.x * p.x / 3.0 * d.y;
        sums[1] += weight * p.x * p.x * p.y / 2.0 * d.y;
        sums[2] -= weight * p.y * p.y * p.y / 3.0 * d.x;
    };
    let share = 1.0 / parts as f64;
    let signed = NODES.iter().flat_map(|&(x, w)| [(-x, w), (x, w)]);
    for (x, w) in signed {
        for part in 0..parts {
            let t = (part as f64 + 0.5 + 0.5 * x) * share;
            let out = Point::at_angle(from + sweep * t);
            add(centre + out * radius, out.left() * (radius * sweep), 0.5 * share * w);
        }
        add(a.lerp(b, 0.5 + 0.5 * x), a - b, 0.5 * w);
    }
    sums
}

impl Contour {
    /// Area, centre and second moments. The area is signed.
    pub fn moments(&self) -> Moments {
        Moments::of(std::iter::once(self))
    }
}

impl Shape {
    /// Whether its mean width, twice the area by the length round it, is at most this, mm.
    pub fn is_sliver(&self, width: f64) -> bool {
        let around: f64 = self.contours().map(Contour::length).sum();
        self.area() <= width * around / 2.0
    }

    /// Area, centre and second moments, holes taken off.
    pub fn moments(&self) -> Moments {
        Moments::of(self.contours())
    }
}

impl Region {
    /// Without shapes and holes whose mean width is at most this, mm: twice the area by the length round it. They come of
    /// contours drawn on the same line, whose chords don't agree to the last micrometre.
    pub fn without_slivers(mut self, width: f64) -> Self {
        self.shapes.retain(|s| !s.is_sliver(width));
        for shape in &mut self.shapes {
            shape.holes.retain(|hole| hole.area().abs() > width * hole.length() / 2.0);
        }
        self
    }

    /// Area, centre and second moments, holes taken off.
    pub fn moments(&self) -> Moments {
        Moments::of(self.contours())
    }

    /// Distance from a point to the edge, mm; negative inside, infinite if the region is empty. For many points use
    /// [`RegionIndex`].
    pub fn signed_distance(&self, p: Point) -> f64 {
        let distance = |c: &Contour| c.segments().map(|s| s.distance(p)).fold(f64::INFINITY, f64::min);
        let least = self.contours().map(distance).fold(f64::INFINITY, f64::min);
        if self.contains(p) { -least } else { least }
    }
}

/// A region sorted for many questions about points.
#[derive(Debug, Clone)]
pub struct RegionIndex {
    index: SegmentIndex,
    tree: BoxTree,
    ends: Vec<(Vertex, Point)>,
}

impl RegionIndex {
    /// Sorts the region's segments, in n log n.
    pub fn new(region: &Region) -> Self {
        let index = SegmentIndex::of_contours(region.contours());
        let tree = BoxTree::new(index.segments().iter().map(Segment::bounds).collect());
        let ends = region.contours().flat_map(|c| {
            let n = c.vertices.len();
            (0..n).map(move |i| (c.vertices[i], c.vertices[(i + 1) % n].p))
        });
        Self { index, tree, ends: ends.collect() }
    }

    /// Whether a point is inside (on the edge either answer may come).
    pub fn contains(&self, p: Point) -> bool {
        let to_the_right = Bounds { min: p, max: Point::new(f64::INFINITY, p.y) };
        let mut winding = 0;
        self.tree.for_each_meeting(to_the_right, |i| {
            let (v, to) = self.ends[i];
            winding += crossings(v.p, to, v.bulge, p);
        });
        winding > 0
    }

    /// The nearest point of the edge; `None` if the region is empty.
    pub fn nearest(&self, p: Point) -> Option<Nearest> {
        self.index.nearest(p)
    }

    /// Distance from a point to the edge, mm; negative inside, infinite if the region is empty.
    pub fn signed_distance(&self, p: Point) -> f64 {
        let least = self.nearest(p).map_or(f64::INFINITY, |n| n.distance);
        if self.contains(p) { -least } else { least }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Affine;
    use std::f64::consts::PI;

    fn arcs(vertices: &[(f64, f64, f64)]) -> Contour {
        Contour { vertices: vertices.iter().map(|&(x, y, bulge)| Vertex { p: Point::new(x, y), bulge }).collect() }
    }

    /// Half disc: centre 4 r / 3 pi above the straight side; second moments about the disc's centre pi r⁴ / 8 both
    /// ways (derived).
    #[test]
    fn half_disc() {
        let r = 3.0;
        let m = arcs(&[(r, 0.0, 1.0), (-r, 0.0, 0.0)]).moments();
        let lift = 4.0 * r / (3.0 * PI);
        let area = PI * r * r / 2.0;
        assert!((m.area - area).abs() < 1e-12);
        assert!(m.centroid.unwrap().distance(Point::new(0.0, lift)) < 1e-12);
        let fourth = PI * r.powi(4) / 8.0;
        assert!((m.second[0] - fourth).abs() < 1e-10 && m.second[1].abs() < 1e-10);
        assert!((m.second[2] - (fourth - area * lift * lift)).abs() < 1e-10);
    }

    /// Disc: pi r⁴ / 4. Rectangle: b h³ / 12. Quarter disc: centre at 4 r / 3 pi from both sides.
    #[test]
    fn disc_rectangle_and_quarter() {
        let disc = Contour::circle(Point::new(5.0, -7.0), 2.0).moments();
        assert!(disc.centroid.unwrap().distance(Point::new(5.0, -7.0)) < 1e-12);
        assert!((disc.second[0] - PI * 4.0).abs() < 1e-10 && (disc.second[2] - PI * 4.0).abs() < 1e-10);
        let box_ = Bounds { min: Point::new(1.0, 2.0), max: Point::new(7.0, 4.0) };
        let rectangle = Contour::rectangle(box_).moments();
        assert!((rectangle.second[0] - 2.0 * 216.0 / 12.0).abs() < 1e-10);
        assert!((rectangle.second[2] - 6.0 * 8.0 / 12.0).abs() < 1e-10 && rectangle.second[1].abs() < 1e-10);
        let quarter = arcs(&[(0.0, 0.0, 0.0), (2.0, 0.0, 2f64.sqrt() - 1.0), (0.0, 2.0, 0.0)]).moments();
        let off = 8.0 / (3.0 * PI);
        assert!(quarter.centroid.unwrap().distance(Point::new(off, off)) < 1e-12);
        let clockwise = Contour::circle(Point::new(5.0, -7.0), 2.0).reversed().moments();
        assert!(
            (clockwise.area + disc.area).abs() < 1e-12
                && clockwise.centroid.unwrap().distance(Point::new(5.0, -7.0)) < 1e-12
        );
    }

    /// A disc of 5 with a hole of 2 whose centre is 2 to the right: the centre moves by -2 x 4 / (25 - 4).
    #[test]
    fn holes_are_taken_off() {
        let hole = Contour::circle(Point::new(2.0, 0.0), 2.0).reversed();
        let shape = Shape { outer: Contour::circle(Point::default(), 5.0), holes: vec![hole] };
        let m = shape.moments();
        assert!((m.area - 21.0 * PI).abs() < 1e-12);
        assert!(m.centroid.unwrap().distance(Point::new(-8.0 / 21.0, 0.0)) < 1e-12);
        assert_eq!(Region::default().moments().centroid, None);
    }

    /// Flat arcs agree with the parabola that they nearly are, through the change of formula and far from the origin.
    #[test]
    fn flat_arcs() {
        for sagitta in [1e-6, 1e-3, 0.02, 0.024, 0.026, 0.1] {
            let bulge = sagitta / 5.0;
            let flat = arcs(&[(5.0, 0.0, bulge), (-5.0, 0.0, 0.0)]);
            let near = flat.moments();
            let chords = Contour::polygon(flat.flatten(sagitta * 1e-8)).moments();
            let (c, d) = (near.centroid.unwrap(), chords.centroid.unwrap());
            assert!((c.y - d.y).abs() < 1e-7 * sagitta + 2e-10 && c.x.abs() < 1e-9, "{sagitta} {c:?} {d:?}");
            assert!((c.y - 0.4 * sagitta).abs() < 1e-2 * sagitta);
            let far = flat.mapped(Affine::shift(Point::new(1e6, 1e6))).unwrap().moments().centroid.unwrap();
            assert!(far.distance(c + Point::new(1e6, 1e6)) < 1e-9);
        }
    }

    #[test]
    fn signed_distances() {
        let hole = Contour::circle(Point::default(), 2.0).reversed();
        let ring = Region { shapes: vec![Shape { outer: Contour::circle(Point::default(), 5.0), holes: vec![hole] }] };
        let index = RegionIndex::new(&ring);
        for (x, expected) in [(0.0, 2.0), (1.5, 0.5), (3.0, -1.0), (4.75, -0.25), (9.0, 4.0)] {
            let p = Point::new(x, 0.0).rotated(0.7);
            assert!((ring.signed_distance(p) - expected).abs() < 1e-12, "{x}");
            assert!((index.signed_distance(p) - expected).abs() < 1e-12, "{x}");
        }
        assert_eq!(Region::default().signed_distance(Point::default()), f64::INFINITY);
        assert_eq!(RegionIndex::new(&Region::default()).signed_distance(Point::default()), f64::INFINITY);
    }

    /// The same points have the same side and distance a kilometre away, but within a nanometre of the edge.
    #[test]
    fn containment_far_out() {
        let shape = arcs(&[(0.0, 0.0, 0.3), (4.0, 0.5, -0.2), (6.0, 3.0, 1.4), (2.0, 3.5, 0.0), (1.0, 2.0, -0.7)]);
        let region = Region::solid(shape);
        let by = Point::new(1e6, -1e6);
        let far = region.mapped(Affine::shift(by)).unwrap();
        let (near_index, far_index) = (RegionIndex::new(&region), RegionIndex::new(&far));
        let mut inside = 0;
        for k in 0..20_000u32 {
            let f = |m: f64| (f64::from(k) * m).fract();
            let p = Point::new(f(0.754_877_666) * 10.0 - 2.0, f(0.569_840_291) * 8.0 - 2.0);
            let q = p + by;
            let d = near_index.signed_distance(p);
            assert!((far_index.signed_distance(q) - d).abs() < 1e-8, "{p:?} {d}");
            assert!(d.abs() < 1e-8 || region.contains(p) == (d < 0.0) && far.contains(q) == (d < 0.0));
            inside += u32::from(d < 0.0);
        }
        let share = f64::from(inside) / 20_000.0 * 80.0;
        assert!((share - region.area()).abs() < 0.1, "{share} {}", region.area());
    }

    /// A square with a hole 4 µm wide and one 40 µm wide, and a strip of 4 µm beside it.
    #[test]
    fn slivers_go_and_nothing_else() {
        let rectangle = |x: f64, w: f64| {
            Contour::polygon([(x, 1.0), (x + w, 1.0), (x + w, 9.0), (x, 9.0)].map(|(x, y)| Point::new(x, y)))
        };
        let square =
            Contour::polygon([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)].map(|(x, y)| Point::new(x, y)));
        let holes = vec![rectangle(3.0, 0.004).reversed(), rectangle(6.0, 0.04).reversed()];
        let region = Region { shapes: vec![Shape { outer: square, holes }, Shape::solid(rectangle(12.0, 0.004))] };
        let kept = region.clone().without_slivers(0.005);
        assert_eq!((kept.shapes.len(), kept.shapes[0].holes.len()), (1, 1));
        assert_eq!(kept.shapes[0].holes[0], region.shapes[0].holes[1]);
        assert_eq!(kept.clone().without_slivers(0.005), kept);
    }
}
