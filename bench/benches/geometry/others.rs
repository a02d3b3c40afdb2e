//! The libraries ours is measured beside, each used as its own documentation says.

use bench::oracle::NARROW;
use boostvoronoi::prelude::Builder;
use cavalier_contours::polyline::{PlineSource, PlineSourceMut, Polyline};
use cavalier_contours::shape_algorithms::{Shape as PlineShape, ShapeOffsetOptions};
use clipper2_rust::core::{FillRule, Path64, Paths64, Point64};
use clipper2_rust::offset::{EndType, JoinType};
use clipper2_rust::{inflate_paths_64, simplify_paths, union_64};
use geo::algorithm::buffer::{BufferStyle, LineJoin};
use geo::{Area, Buffer};
use geos::{CoordSeq, Geom, Geometry};
use i_overlay::mesh::float::outline::offset::OutlineOffset;
use i_overlay::mesh::float::style::{LineJoin as Join, OutlineStyle};
use plane::{Contour, FLATTEN, Point, Region, Segment, SegmentIndex, Shape, Vertex};

/// Flattening and rounding of corners for all that know no arcs, mm.
const TOLERANCE: f64 = 0.001;
const NM: f64 = 1e6;

/// A region's rings, flattened at 1 µm: outer ones counter-clockwise, holes clockwise, shape by shape.
pub struct Flat {
    shapes: Vec<Vec<Vec<[f64; 2]>>>,
}

impl Flat {
    pub fn of(region: &Region) -> Self {
        let ring = |c: &Contour| c.flatten(TOLERANCE).into_iter().map(<[f64; 2]>::from).collect::<Vec<_>>();
        Self { shapes: region.shapes.iter().map(|s| s.contours().map(ring).collect()).collect() }
    }

    pub fn len(&self) -> usize {
        self.rings().map(Vec::len).sum()
    }

    fn rings(&self) -> impl Iterator<Item = &Vec<[f64; 2]>> {
        self.shapes.iter().flatten()
    }

    fn paths(&self) -> Paths64 {
        let path = |r: &Vec<[f64; 2]>| {
            r.iter().map(|p| Point64::new((p[0] * NM).round() as i64, (p[1] * NM).round() as i64)).collect()
        };
        self.rings().map(path).collect()
    }

    fn polygons(&self) -> geo::MultiPolygon {
        let line = |r: &Vec<[f64; 2]>| geo::LineString::from(r.iter().map(|p| (p[0], p[1])).collect::<Vec<_>>());
        geo::MultiPolygon(
            self.shapes.iter().map(|s| geo::Polygon::new(line(&s[0]), s[1..].iter().map(line).collect())).collect(),
        )
    }

    fn geometry(&self) -> Option<Geometry> {
        let ring = |r: &Vec<[f64; 2]>| {
            let mut points: Vec<[f64; 2]> = r.clone();
            points.push(r[0]);
            Geometry::create_linear_ring(CoordSeq::new_from_vec(&points).ok()?).ok()
        };
        let polygon = |s: &Vec<Vec<[f64; 2]>>| {
            let holes = s[1..].iter().map(ring).collect::<Option<Vec<_>>>()?;
            Geometry::create_polygon(ring(&s[0])?, holes).ok()
        };
        Geometry::create_multipolygon(self.shapes.iter().map(polygon).collect::<Option<Vec<_>>>()?).ok()
    }
}

#[derive(Clone, Copy, PartialEq)]
pub enum Other {
    CavalierArcs,
    CavalierSegments,
    Clipper,
    Overlay,
    Geo,
    Geos,
}

impl Other {
    pub const ALL: [Self; 6] =
        [Self::CavalierArcs, Self::CavalierSegments, Self::Clipper, Self::Overlay, Self::Geo, Self::Geos];

    pub fn name(self) -> &'static str {
        match self {
            Self::CavalierArcs => "cavalier_contours 0.9, lines and arcs",
            Self::CavalierSegments => "cavalier_contours 0.9, segments",
            Self::Clipper => "clipper2-rust 1.2 (pockets: from the previous)",
            Self::Overlay => "i_overlay 9.1",
            Self::Geo => "geo 0.33",
            Self::Geos => "GEOS (C++, it simplifies inside)",
        }
    }

    /// Quick enough for all 176 pockets.
    pub fn is_quick(self) -> bool {
        !matches!(self, Self::Overlay | Self::Geo)
    }

    pub fn inset(self, region: &Region, flat: &Flat, r: f64) -> Option<Region> {
        match self {
            Self::CavalierArcs => {
                Some(from_plines(&plines(region.contours()).parallel_offset(r, &ShapeOffsetOptions::new())))
            }
            Self::CavalierSegments => {
                let flat = region.flattened(TOLERANCE);
                Some(from_plines(&plines(flat.contours()).parallel_offset(r, &ShapeOffsetOptions::new())))
            }
            Self::Clipper => Some(from_paths(&clipper(&flat.paths(), r))),
            Self::Overlay => {
                // An angle for round joins: chords within the tolerance.
                let angle = 2.0 * libm::acos(1.0 - TOLERANCE / r);
                let style = OutlineStyle::new(-r).line_join(Join::Round(angle));
                let shapes: Vec<Vec<Vec<[f64; 2]>>> = flat.shapes.outline(&style);
                Some(from_shapes(shapes))
            }
            Self::Geo => {
                let style = BufferStyle::new(-r).line_join(LineJoin::Round(2.0 * libm::acos(1.0 - TOLERANCE / r)));
                Some(from_polygons(&flat.polygons().buffer_with_style(style)))
            }
            Self::Geos => from_geometry(&flat.geometry()?.buffer(-r, quarter_chords(r)).ok()?),
        }
    }

    /// Parts (that hold a disc of 4 µm) in all offsets until empty.
    pub fn pocket(self, region: &Region, flat: &Flat, first: f64, step: f64) -> Option<usize> {
        let mut count = 0;
        match self {
            Self::CavalierArcs | Self::CavalierSegments => {
                let flattened = (self == Self::CavalierSegments).then(|| region.flattened(TOLERANCE));
                let source = plines(flattened.as_ref().unwrap_or(region).contours());
                for k in 0..10_000 {
                    let inner = source.parallel_offset(first + step * f64::from(k), &ShapeOffsetOptions::new());
                    if inner.ccw_plines.is_empty() {
                        return Some(count);
                    }
                    count += from_plines(&inner).shapes.iter().filter(|s| is_wide(&s.outer)).count();
                }
                None
            }
            Self::Clipper => {
                let mut last = clipper(&flat.paths(), first);
                for _ in 0..10_000 {
                    let wide = last.iter().filter(|p| is_wide_path(p)).count();
                    if last.is_empty() {
                        return Some(count);
                    }
                    count += wide;
                    last = simplify_paths(&clipper(&last, step), FLATTEN * NM, true);
                }
                None
            }
            _ => {
                for k in 0..10_000 {
                    let inner = self.inset(region, flat, first + step * f64::from(k))?;
                    if inner.is_empty() {
                        return Some(count);
                    }
                    count += inner.shapes.iter().filter(|s| is_wide(&s.outer)).count();
                }
                None
            }
        }
    }

    /// Area of the union of rings; `None` where it is not meant for that.
    pub fn union(self, rings: &[Vec<Point>]) -> Option<f64> {
        let floats: Vec<Vec<[f64; 2]>> = rings.iter().map(|r| r.iter().map(|&p| p.into()).collect()).collect();
        match self {
            Self::CavalierArcs | Self::CavalierSegments => None,
            Self::Clipper => {
                let flat = Flat { shapes: floats.into_iter().map(|r| vec![r]).collect() };
                let union = union_64(&flat.paths(), &Paths64::new(), FillRule::NonZero);
                Some(union.iter().map(path_area).sum())
            }
            Self::Overlay => {
                use i_overlay::float::simplify::SimplifyShape;
                let shapes = floats.simplify_shape(i_overlay::core::fill_rule::FillRule::NonZero);
                Some(from_shapes(shapes).area())
            }
            Self::Geo => {
                let polygons: Vec<geo::Polygon> = floats
                    .iter()
                    .map(|r| {
                        geo::Polygon::new(
                            geo::LineString::from(r.iter().map(|p| (p[0], p[1])).collect::<Vec<_>>()),
                            vec![],
                        )
                    })
                    .collect();
                Some(geo::unary_union(&polygons).unsigned_area())
            }
            Self::Geos => {
                let flat = Flat { shapes: floats.into_iter().map(|r| vec![r]).collect() };
                flat.geometry()?.unary_union().ok()?.area().ok()
            }
        }
    }
}

/// Segments for a quarter circle, so that chords stay within the tolerance.
fn quarter_chords(r: f64) -> i32 {
    (std::f64::consts::FRAC_PI_2 / (2.0 * libm::acos(1.0 - TOLERANCE / r))).ceil() as i32
}

fn clipper(paths: &Paths64, r: f64) -> Paths64 {
    if paths.is_empty() {
        return Paths64::new();
    }
    inflate_paths_64(paths, -r * NM, JoinType::Round, EndType::Polygon, 2.0, TOLERANCE * NM)
}

fn plines<'a>(contours: impl Iterator<Item = &'a Contour>) -> PlineShape<f64> {
    PlineShape::from_plines(contours.map(|c| {
        let mut pline = Polyline::new_closed();
        for v in &c.vertices {
            pline.add(v.p.x, v.p.y, v.bulge);
        }
        let clean = pline.remove_repeat_pos(1e-6);
        clean.unwrap_or(pline)
    }))
}

fn from_plines(shape: &PlineShape<f64>) -> Region {
    let contour = |p: &Polyline<f64>| {
        let vertex =
            |v: cavalier_contours::polyline::PlineVertex<f64>| Vertex { p: Point::new(v.x, v.y), bulge: v.bulge };
        Contour { vertices: p.iter_vertexes().map(vertex).collect() }
    };
    let outers = shape.ccw_plines.iter().map(|p| contour(&p.polyline));
    nested(outers.chain(shape.cw_plines.iter().map(|p| contour(&p.polyline))))
}

fn from_paths(paths: &Paths64) -> Region {
    let contour = |p: &Path64| Contour::polygon(p.iter().map(|q| Point::new(q.x as f64 / NM, q.y as f64 / NM)));
    nested(paths.iter().map(contour))
}

fn from_shapes(shapes: Vec<Vec<Vec<[f64; 2]>>>) -> Region {
    nested(shapes.into_iter().flatten().map(|r| Contour::polygon(r.into_iter().map(Point::from))))
}

fn from_polygons(polygons: &geo::MultiPolygon) -> Region {
    let contour = |l: &geo::LineString, outer: bool| {
        let mut c = Contour::polygon(l.coords().map(|c| Point::new(c.x, c.y)));
        c.vertices.pop();
        if (c.area() > 0.0) == outer { c } else { c.reversed() }
    };
    nested(polygons.iter().flat_map(|p| {
        std::iter::once(contour(p.exterior(), true))
            .chain(p.interiors().iter().map(|h| contour(h, false)))
            .collect::<Vec<_>>()
    }))
}

fn from_geometry(geometry: &Geometry) -> Option<Region> {
    let mut contours = Vec::new();
    let mut read = |ring: &dyn Fn() -> Option<CoordSeq>, outer: bool| {
        let coordinates = ring()?;
        let n = coordinates.size().ok()?;
        let points: Option<Vec<Point>> = (0..n.saturating_sub(1))
            .map(|i| Some(Point::new(coordinates.get_x(i).ok()?, coordinates.get_y(i).ok()?)))
            .collect();
        let c = Contour::polygon(points?);
        contours.push(if (c.area() > 0.0) == outer { c } else { c.reversed() });
        Some(())
    };
    for k in 0..geometry.get_num_geometries().ok()? {
        let polygon = geometry.get_geometry_n(k).ok()?;
        if polygon.is_empty().ok()? {
            continue;
        }
        read(&|| polygon.get_exterior_ring().ok()?.get_coord_seq().ok(), true)?;
        for h in 0..polygon.get_num_interior_rings().ok()? {
            read(&|| polygon.get_interior_ring_n(h).ok()?.get_coord_seq().ok(), false)?;
        }
    }
    Some(nested(contours.into_iter()))
}

/// Rings as shapes; holes are all given to the first outer ring, which is enough to count and to measure.
fn nested(rings: impl Iterator<Item = Contour>) -> Region {
    let (outers, holes): (Vec<_>, Vec<_>) = rings.filter(|r| r.vertices.len() > 1).partition(|r| r.area() > 0.0);
    let mut shapes: Vec<Shape> = outers.into_iter().map(|outer| Shape { outer, holes: Vec::new() }).collect();
    if let Some(first) = shapes.first_mut() {
        first.holes = holes;
    }
    Region { shapes }
}

fn is_wide(c: &Contour) -> bool {
    2.0 * c.area().abs() > NARROW * c.length()
}

fn path_area(path: &Path64) -> f64 {
    let ring = Contour::polygon(path.iter().map(|q| Point::new(q.x as f64 / NM, q.y as f64 / NM)));
    ring.area()
}

fn is_wide_path(path: &Path64) -> bool {
    let ring = Contour::polygon(path.iter().map(|q| Point::new(q.x as f64 / NM, q.y as f64 / NM)));
    ring.area() > 0.0 && is_wide(&ring)
}

/// Capsules strewn over a square so that each meets a few others; the same every time.
pub fn capsules(count: usize, radius: f64) -> Vec<(Point, Point)> {
    let side = libm::sqrt(count as f64) * radius * 2.5;
    (0..count)
        .map(|k| {
            let f = |m: f64| (k as f64 * m).fract();
            let a = Point::new(f(0.754_877_666_2) * side, f(0.569_840_290_9) * side);
            let length = 1.0 + 5.0 * f(0.618_033_988_7);
            (a, a + Point::at_angle(f(0.381_966) * std::f64::consts::TAU) * length)
        })
        .collect()
}

/// Builds every diagram and checks its vertices inside the region: their distance to their own sites beside the true one.
pub fn voronoi(flat: &[Flat]) -> String {
    let (mut failed, mut off_shapes, mut worst) = (0, 0, 0.0f64);
    for one in flat {
        let unit = |p: &[f64; 2]| [(p[0] * NM).round() as i64, (p[1] * NM).round() as i64];
        let lines: Vec<[i64; 4]> = one
            .rings()
            .flat_map(|r| {
                (0..r.len())
                    .map(|i| (unit(&r[i]), unit(&r[(i + 1) % r.len()])))
                    .filter(|(a, b)| a != b)
                    .collect::<Vec<_>>()
            })
            .map(|([a, b], [c, d])| [a, b, c, d])
            .collect();
        let built = Builder::<i64>::default().with_segments(lines.iter()).and_then(|b| b.build());
        let Ok(diagram) = built else {
            failed += 1;
            continue;
        };
        let segments: Vec<Segment> = lines
            .iter()
            .map(|&[a, b, c, d]| Segment::Line {
                a: Point::new(a as f64 / NM, b as f64 / NM),
                b: Point::new(c as f64 / NM, d as f64 / NM),
            })
            .collect();
        let walls = SegmentIndex::new(segments);
        let mut off = 0.0f64;
        for edge in diagram.edges() {
            let Some(Ok(vertex)) = edge.vertex0().map(|v| diagram.vertex(v)) else { continue };
            let p = Point::new(vertex.x() / NM, vertex.y() / NM);
            let Ok(cell) = edge.cell().and_then(|c| diagram.cell(c).map(|c| c.source_index())) else { continue };
            if p.x.abs() > 1e4 || p.y.abs() > 1e4 {
                continue;
            }
            let own = walls.segments()[cell.usize()].distance(p);
            let true_distance = walls.nearest(p).map_or(0.0, |n| n.distance);
            off = off.max(own - true_distance);
        }
        off_shapes += usize::from(off > 1e-4);
        worst = worst.max(off);
    }
    format!("{failed} not built, {off_shapes} wrong (up to {worst:.2e} mm), checks included")
}
