//! The plate as wanted, for the oracle: edges as short lines sorted into rows, a point's ground told by counting
//! crossings, places along every wall to look at, and a grid of places on the ground.

use plane::{Contour, Point};
use plate::{Held, Intent};

/// Kind of ground: the face, the margin outside the plate's edge, or an area (from 2 on).
pub(crate) type Class = usize;
pub(crate) const FACE: Class = 0;
pub(crate) const MARGIN: Class = 1;
pub(crate) const AREAS: Class = 2;

/// Round edges are taken as chords within this, mm.
const CHORD: f64 = 0.000_2;
/// Walls are looked at this often, mm.
const EVERY: f64 = 0.1;
/// How far beside an edge its two sides are looked at, mm.
const BESIDE: f64 = 0.008;
/// Height of a row of edges, mm.
const ROW: f64 = 0.5;
/// Places on the ground are this far from other ground at least, mm: nearer, walls are the measure.
const ASIDE: f64 = 0.012;
/// A cutter stands beside a wall if nothing is nearer to its axis than its radius less this, mm.
const STANDS: f64 = 0.000_5;
/// The groove round the plate is looked at this often for tabs, mm.
const ALONG: f64 = 0.02;

/// A straight piece of edge and whose it is.
type Edge = ([f64; 4], Class);

/// Heights, mm above the table.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Levels {
    pub(crate) face: f64,
    pub(crate) face_high: f64,
    /// By class.
    pub(crate) floors: Vec<f64>,
    /// Nothing may go below it.
    pub(crate) lowest: f64,
    /// Top of the tabs, if there are any.
    pub(crate) tab_top: f64,
}

impl Levels {
    pub(crate) fn new(intent: &Intent) -> Self {
        let (blank, outline) = (&intent.blank, intent.outline.as_ref());
        let mut floors = vec![blank.face_high.to_mm(), outline.map_or(f64::NEG_INFINITY, |o| o.floor.to_mm())];
        floors.extend(intent.areas.iter().map(|a| a.floor.to_mm()));
        let tab_top = match outline.map(|o| &o.held) {
            Some(Held::Tabs(tabs)) => (blank.underside + tabs.left).to_mm(),
            _ => f64::NEG_INFINITY,
        };
        Self {
            face: blank.face.to_mm(),
            face_high: blank.face_high.to_mm(),
            floors,
            lowest: blank.lowest().to_mm(),
            tab_top,
        }
    }
}

/// A place on a wall.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Probe {
    pub(crate) p: [f64; 2],
    pub(crate) low: Class,
    pub(crate) high: Class,
    /// Away from the plate or into the floor.
    pub(crate) out: [f64; 2],
    /// Whether the finest cutter can stand with its edge on it; elsewhere something is left for the hand.
    pub(crate) plain: bool,
}

/// A place on the ground.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Spot {
    pub(crate) p: [f64; 2],
    pub(crate) class: Class,
    /// Distance from the plate's edge, in the margin only.
    pub(crate) off: f64,
}

/// The plate's form in plan.
pub(crate) struct Shape {
    pub(crate) size: [f64; 2],
    bands: Vec<Vec<Edge>>,
    areas: usize,
    has_outline: bool,
    pub(crate) probes: Vec<Probe>,
    pub(crate) spots: Vec<Spot>,
    /// By class: whether all of it is to be cleared.
    pub(crate) clears: Vec<bool>,
    /// The plate's edge in order with its outward normal, closely.
    pub(crate) rim: Vec<([f64; 2], [f64; 2])>,
    /// Tabs asked for: how many, how long.
    pub(crate) tabs: Option<(u32, f64)>,
}

/// A contour as chords; a bulge is the tangent of a quarter of the sweep.
fn chords(contour: &Contour) -> Vec<[f64; 2]> {
    let v = &contour.vertices;
    let mut points = Vec::new();
    for (i, here) in v.iter().enumerate() {
        let next = v[(i + 1) % v.len()].p;
        points.push([here.p.x, here.p.y]);
        let sweep = 4.0 * here.bulge.atan();
        let (dx, dy) = (next.x - here.p.x, next.y - here.p.y);
        let chord = dx.hypot(dy);
        if sweep.abs() < 1e-9 || chord < 1e-9 {
            continue;
        }
        let radius = chord / (2.0 * (sweep / 2.0).sin().abs());
        // The centre lies on the left for a turn to the left of less than a half circle.
        let up = chord / (2.0 * (sweep / 2.0).tan());
        let centre = [here.p.x + dx / 2.0 - up * dy / chord, here.p.y + dy / 2.0 + up * dx / chord];
        let first = (here.p.y - centre[1]).atan2(here.p.x - centre[0]);
        let parts = (radius * sweep.abs() / (8.0 * radius * CHORD).sqrt()).ceil().max(1.0) as usize;
        points.extend((1..parts).map(|k| {
            let angle = first + sweep * k as f64 / parts as f64;
            [centre[0] + radius * angle.cos(), centre[1] + radius * angle.sin()]
        }));
    }
    points
}

fn edges(points: &[[f64; 2]]) -> impl Iterator<Item = [f64; 4]> + '_ {
    (0..points.len()).map(|i| (points[i], points[(i + 1) % points.len()])).map(|(a, b)| [a[0], a[1], b[0], b[1]])
}

/// Distance of a point from a straight piece of edge.
fn away(e: [f64; 4], p: [f64; 2]) -> f64 {
    let (dx, dy) = (e[2] - e[0], e[3] - e[1]);
    let t = (((p[0] - e[0]) * dx + (p[1] - e[1]) * dy) / (dx * dx + dy * dy).max(1e-18)).clamp(0.0, 1.0);
    (p[0] - e[0] - t * dx).hypot(p[1] - e[1] - t * dy)
}

impl Shape {
    /// `pitch` is the distance between places on the ground, mm; `finest` the radius of the finest cutter allowed.
    pub(crate) fn new(intent: &Intent, pitch: f64, finest: f64) -> Self {
        let size = intent.blank.size.map(|l| l.to_mm());
        let rows = (size[1] / ROW).ceil() as usize + 1;
        let mut bands: Vec<Vec<Edge>> = vec![Vec::new(); rows];
        let mut walls = Vec::new();
        let mut rim = Vec::new();
        let regions = intent.areas.iter().map(|a| &a.region).enumerate().map(|(i, r)| (i + AREAS, r));
        for (owner, region) in intent.outline.iter().map(|o| (MARGIN, &o.inside)).chain(regions) {
            for contour in region.contours() {
                let points = chords(contour);
                for e in edges(&points) {
                    let row = |y: f64| (y / ROW).clamp(0.0, rows as f64 - 1.0) as usize;
                    for band in &mut bands[row(e[1].min(e[3]))..=row(e[1].max(e[3]))] {
                        band.push((e, owner));
                    }
                    walls.push(e);
                    if owner == MARGIN {
                        let n = (e[2] - e[0]).hypot(e[3] - e[1]);
                        let parts = (n / ALONG).ceil().max(1.0) as usize;
                        let out = [(e[3] - e[1]) / n.max(1e-12), -(e[2] - e[0]) / n.max(1e-12)];
                        let at = |t: f64| [e[0] + (e[2] - e[0]) * t, e[1] + (e[3] - e[1]) * t];
                        rim.extend((0..parts).map(|k| (at(k as f64 / parts as f64), out)));
                    }
                }
            }
        }
        let clears = |a: &plate::Area| {
            a.kind != plate::FloorKind::Through || !matches!(a.held, Held::Tabs(_) | Held::Skin(_) | Held::Stated(_))
        };
        let mut shape = Self {
            size,
            bands,
            areas: intent.areas.len(),
            has_outline: intent.outline.is_some(),
            probes: Vec::new(),
            spots: Vec::new(),
            clears: [false, false].into_iter().chain(intent.areas.iter().map(clears)).collect(),
            rim,
            tabs: match intent.outline.as_ref().map(|o| &o.held) {
                Some(Held::Tabs(tabs)) => Some((tabs.count, tabs.length.to_mm())),
                _ => None,
            },
        };
        let levels = Levels::new(intent);
        let along: Vec<([f64; 4], Vec<Probe>)> = walls.iter().map(|e| (*e, shape.along(*e, &levels))).collect();
        shape.probes = along.iter().flat_map(|a| a.1.iter().copied()).collect();
        for probe in &mut shape.probes {
            let c = [0, 1].map(|k| probe.p[k] + probe.out[k] * finest);
            let floor = levels.floors[probe.low];
            let free = |(e, own): &([f64; 4], Vec<Probe>)| {
                let stands = |q: &Probe| levels.floors[q.high] > floor + 1e-6 && levels.floors[q.low] <= floor + 1e-6;
                let far = e[0].min(e[2]) > c[0] + finest
                    || e[0].max(e[2]) < c[0] - finest
                    || e[1].min(e[3]) > c[1] + finest
                    || e[1].max(e[3]) < c[1] - finest;
                far || !own.iter().any(stands) || away(*e, c) > finest - STANDS
            };
            probe.plain = along.iter().all(free);
        }
        let (columns, rows) = ((size[0] / pitch) as usize, (size[1] / pitch) as usize);
        for k in 0..columns * rows {
            let p = [((k % columns) as f64 + 0.5) * pitch, ((k / columns) as f64 + 0.5) * pitch];
            let class = shape.class_at(p);
            // Edges of two areas that meet may leave a crack of a part of a micron that is neither.
            let around = [[ASIDE, 0.0], [-ASIDE, 0.0], [0.0, ASIDE], [0.0, -ASIDE]];
            if around.iter().any(|a| shape.class_at([p[0] + a[0], p[1] + a[1]]) != class) {
                continue;
            }
            let off = if class == MARGIN {
                shape.rim.iter().step_by(5).map(|q| (q.0[0] - p[0]).hypot(q.0[1] - p[1])).fold(f64::INFINITY, f64::min)
            } else {
                0.0
            };
            shape.spots.push(Spot { p, class, off });
        }
        shape
    }

    /// The kind of ground at a point.
    pub(crate) fn class_at(&self, p: [f64; 2]) -> Class {
        if p[0] < 0.0 || p[1] < 0.0 || p[0] > self.size[0] || p[1] > self.size[1] {
            return if self.has_outline { MARGIN } else { FACE };
        }
        let mut inside = vec![false; self.areas + AREAS];
        for &([ax, ay, bx, by], owner) in &self.bands[(p[1] / ROW) as usize] {
            if (ay > p[1]) != (by > p[1]) && ax + (p[1] - ay) / (by - ay) * (bx - ax) > p[0] {
                inside[owner] ^= true;
            }
        }
        if self.has_outline && !inside[MARGIN] {
            return MARGIN;
        }
        (AREAS..inside.len()).find(|&k| inside[k]).unwrap_or(FACE)
    }

    /// Places along an edge where it is a wall.
    fn along(&self, e: [f64; 4], levels: &Levels) -> Vec<Probe> {
        let (dx, dy) = (e[2] - e[0], e[3] - e[1]);
        let n = dx.hypot(dy);
        if n < 1e-9 {
            return Vec::new();
        }
        let left = [-dy / n, dx / n];
        let parts = (n / EVERY).ceil() as usize;
        let at = |t: f64| [e[0] + dx * t, e[1] + dy * t];
        let look = |k: usize| {
            let t = k as f64 / parts as f64;
            // Ends are looked at a little way in, where the sides are plain.
            let inner = at(t.clamp((0.01 / n).min(0.5), 1.0 - (0.01 / n).min(0.5)));
            let side = |s: f64| self.class_at([inner[0] + s * left[0], inner[1] + s * left[1]]);
            let (a, b) = (side(BESIDE), side(-BESIDE));
            let (low, high, s) = if levels.floors[a] < levels.floors[b] { (a, b, 1.0) } else { (b, a, -1.0) };
            let wall = levels.floors[high] - levels.floors[low] > 1e-6 && high != MARGIN;
            wall.then(|| Probe { p: at(t), low, high, out: [left[0] * s, left[1] * s], plain: true })
        };
        (0..=parts).filter_map(look).collect()
    }
}

/// A hold's outline as points closely set, and its middle.
pub(crate) fn hold_points(contour: &Contour) -> Vec<[f64; 2]> {
    let ring = chords(contour);
    edges(&ring)
        .flat_map(|e| {
            let parts = ((e[2] - e[0]).hypot(e[3] - e[1]) / 0.05).ceil().max(1.0) as usize;
            (0..parts)
                .map(move |k| k as f64 / parts as f64)
                .map(move |t| [e[0] + (e[2] - e[0]) * t, e[1] + (e[3] - e[1]) * t])
        })
        .collect()
}

/// Whether a point is inside a closed ring of points.
pub(crate) fn inside(ring: &[[f64; 2]], p: [f64; 2]) -> bool {
    let crosses =
        |e: &[f64; 4]| (e[1] > p[1]) != (e[3] > p[1]) && e[0] + (p[1] - e[1]) / (e[3] - e[1]) * (e[2] - e[0]) > p[0];
    edges(ring).filter(crosses).count() % 2 == 1
}

/// A contour moved.
pub(crate) fn moved(contour: &Contour, by: [f64; 2]) -> Contour {
    let mut contour = contour.clone();
    for v in &mut contour.vertices {
        v.p = Point::new(v.p.x + by[0], v.p.y + by[1]);
    }
    contour
}
