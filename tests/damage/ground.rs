//! The plate as wanted, for the oracle: edges flattened into short lines and sorted into rows, and a point's ground
//! told by counting crossings.

use plate::{Intent, Tabs};

/// Pitch of the oracle's grid, mm.
pub(crate) const CELL: f64 = 0.25;
/// Edges are flattened within this, mm.
const FLAT: f64 = 0.000_5;

/// The blank's cells with what is wanted of each.
pub(crate) struct Ground {
    pub(crate) columns: usize,
    pub(crate) rows: usize,
    /// Lines that cross each row of cells: ends, and whose edge it is (0 is the plate's own).
    bands: Vec<Vec<([f64; 4], usize)>>,
    floors: Vec<f64>,
    face: f64,
    has_outline: bool,
    /// Wanted height of each cell's centre; NaN in the margin.
    wanted: Vec<f64>,
    /// Whether all cells around have the same ground.
    plain: Vec<bool>,
    /// Cells whose height at the end counts: well inside of something, or in the middle of the groove round the plate, or
    /// far from the plate.
    pub(crate) counts: Vec<bool>,
}

impl Ground {
    /// `groove` is the width of the widest cutter.
    pub(crate) fn new(intent: &Intent, groove: f64) -> Self {
        let size = intent.blank.size.map(|l| l.to_mm());
        let (columns, rows) = ((size[0] / CELL) as usize, (size[1] / CELL) as usize);
        let mut bands = vec![Vec::new(); rows];
        let mut rim = Vec::new();
        let regions = intent.areas.iter().map(|a| &a.region).enumerate().map(|(i, r)| (i + 1, r));
        for (owner, region) in intent.outline.iter().map(|o| (0, &o.inside)).chain(regions) {
            for contour in region.contours() {
                let points = contour.flatten(FLAT);
                for (k, a) in points.iter().enumerate() {
                    let b = points[(k + 1) % points.len()];
                    let line = [a.x, a.y, b.x, b.y];
                    if owner == 0 {
                        rim.push(line);
                    }
                    let row = |y: f64| (y / CELL).clamp(0.0, rows as f64 - 1.0) as usize;
                    for band in &mut bands[row(a.y.min(b.y))..=row(a.y.max(b.y))] {
                        band.push((line, owner));
                    }
                }
            }
        }
        let mut ground = Self {
            columns,
            rows,
            bands,
            floors: intent.areas.iter().map(|a| a.floor.to_mm()).collect(),
            face: intent.blank.face.to_mm(),
            has_outline: intent.outline.is_some(),
            wanted: Vec::new(),
            plain: Vec::new(),
            counts: Vec::new(),
        };
        let centres: Vec<[f64; 2]> = (0..columns * rows).map(|i| ground.centre(i)).collect();
        ground.wanted = centres.iter().map(|&p| ground.exact(p)).collect();
        ground.plain = (0..columns * rows).map(|i| ground.is_plain(i)).collect();
        let count = |(i, &p): (usize, &[f64; 2])| {
            if ground.wanted[i].is_nan() {
                let far = rim.iter().map(|l| distance(*l, p)).fold(f64::INFINITY, f64::min);
                return (far - groove / 2.0).abs() < 0.3 || far > groove + 0.8;
            }
            let same = |q: [f64; 2]| ground.exact(q) == ground.wanted[i];
            ground.plain[i] && AROUND.iter().all(|a| same([p[0] + 0.35 * a[0], p[1] + 0.35 * a[1]]))
        };
        ground.counts = centres.iter().enumerate().map(count).collect();
        ground
    }

    pub(crate) fn centre(&self, i: usize) -> [f64; 2] {
        [((i % self.columns) as f64 + 0.5) * CELL, ((i / self.columns) as f64 + 0.5) * CELL]
    }

    fn is_plain(&self, i: usize) -> bool {
        let (c, r) = (i % self.columns, i / self.columns);
        if c == 0 || r == 0 || c + 1 == self.columns || r + 1 == self.rows {
            return false;
        }
        let own = self.wanted[i].to_bits();
        (r - 1..=r + 1).all(|r| (c - 1..=c + 1).all(|c| self.wanted[r * self.columns + c].to_bits() == own))
    }

    /// The height wanted at a point; NaN in the margin.
    pub(crate) fn wanted(&self, p: [f64; 2]) -> f64 {
        let (x, y) = (p[0] / CELL, p[1] / CELL);
        if x < 0.0 || y < 0.0 || x >= self.columns as f64 || y >= self.rows as f64 {
            return f64::NAN;
        }
        let i = y as usize * self.columns + x as usize;
        if self.plain[i] { self.wanted[i] } else { self.exact(p) }
    }

    fn exact(&self, p: [f64; 2]) -> f64 {
        let row = (p[1] / CELL).max(0.0) as usize;
        let Some(band) = self.bands.get(row) else { return f64::NAN };
        let mut inside = vec![false; self.floors.len() + 1];
        for &([ax, ay, bx, by], owner) in band {
            if (ay > p[1]) != (by > p[1]) && ax + (p[1] - ay) / (by - ay) * (bx - ax) > p[0] {
                inside[owner] ^= true;
            }
        }
        if self.has_outline && !inside[0] {
            return f64::NAN;
        }
        (0..self.floors.len()).find(|&k| inside[k + 1]).map_or(self.face, |k| self.floors[k])
    }
}

/// Eight directions.
const AROUND: [[f64; 2]; 8] =
    [[1.0, 0.0], [0.7, 0.7], [0.0, 1.0], [-0.7, 0.7], [-1.0, 0.0], [-0.7, -0.7], [0.0, -1.0], [0.7, -0.7]];

/// Distance of a point from a line between two ends.
pub(crate) fn distance([ax, ay, bx, by]: [f64; 4], p: [f64; 2]) -> f64 {
    let (dx, dy) = (bx - ax, by - ay);
    let length = dx * dx + dy * dy;
    let t = if length > 0.0 { (((p[0] - ax) * dx + (p[1] - ay) * dy) / length).clamp(0.0, 1.0) } else { 0.0 };
    (p[0] - ax - t * dx).hypot(p[1] - ay - t * dy)
}

/// The tabs that hold the plate.
pub(crate) fn tabs(intent: &Intent) -> Option<Tabs> {
    match intent.outline.as_ref().map(|o| &o.held) {
        Some(plate::Held::Tabs(tabs)) => Some(*tabs),
        _ => None,
    }
}
