//! A uniform grid over segments: the nearest one to a point, and all within a distance.

use crate::{Bounds, Contour, Point, Segment};

/// Segments sorted into square cells, for questions about what is near.
#[derive(Debug, Clone)]
pub struct SegmentIndex {
    segments: Vec<Segment>,
    bounds: Bounds,
    cell: f64,
    columns: usize,
    rows: usize,
    /// Where each cell's list begins in `members`; one more than there are cells.
    starts: Vec<u32>,
    members: Vec<u32>,
}

/// What is nearest to a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// Which segment, in the order given.
    pub segment: usize,
    /// mm.
    pub distance: f64,
    /// The point on it.
    pub at: Point,
}

impl SegmentIndex {
    /// Sorts segments into cells of about the size of a segment.
    pub fn new(segments: Vec<Segment>) -> Self {
        let bounds = segments.iter().fold(Bounds::EMPTY, |b, s| b.union(s.bounds()));
        let (width, height) = (bounds.width().max(1e-9), bounds.height().max(1e-9));
        // About one cell a segment, at most a million cells.
        let wanted = segments.len().clamp(1, 1_000_000) as f64;
        let cell = libm::sqrt(width * height / wanted).max(width.max(height) / 1000.0);
        let columns = ((width / cell) as usize + 1).min(1001);
        let rows = ((height / cell) as usize + 1).min(1001);
        let mut index = Self { segments, bounds, cell, columns, rows, starts: Vec::new(), members: Vec::new() };
        index.sort();
        index
    }

    /// Sorts the segments of contours.
    pub fn of_contours<'a>(contours: impl IntoIterator<Item = &'a Contour>) -> Self {
        Self::new(contours.into_iter().flat_map(|c| c.segments().collect::<Vec<_>>()).collect())
    }

    /// The segments, in the order given.
    pub fn segments(&self) -> &[Segment] {
        &self.segments
    }

    fn sort(&mut self) {
        let mut lists: Vec<Vec<u32>> = vec![Vec::new(); self.columns * self.rows];
        for (i, segment) in self.segments.iter().enumerate() {
            let (c0, c1, r0, r1) = self.cells_of(segment.bounds());
            let reach = self.cell * 0.708;
            for row in r0..=r1 {
                for column in c0..=c1 {
                    // Long slanting segments only enter the cells they come near.
                    if (c0 == c1 && r0 == r1) || segment.distance(self.cell_centre(column, row)) <= reach {
                        lists[row * self.columns + column].push(i as u32);
                    }
                }
            }
        }
        self.starts = Vec::with_capacity(lists.len() + 1);
        self.starts.push(0);
        for list in lists {
            self.members.extend(&list);
            self.starts.push(self.members.len() as u32);
        }
    }

    fn cell_centre(&self, column: usize, row: usize) -> Point {
        self.bounds.min + Point::new((column as f64 + 0.5) * self.cell, (row as f64 + 0.5) * self.cell)
    }

    fn cells_of(&self, b: Bounds) -> (usize, usize, usize, usize) {
        let column = |x: f64| (((x - self.bounds.min.x) / self.cell).max(0.0) as usize).min(self.columns - 1);
        let row = |y: f64| (((y - self.bounds.min.y) / self.cell).max(0.0) as usize).min(self.rows - 1);
        (column(b.min.x), column(b.max.x), row(b.min.y), row(b.max.y))
    }

    fn cell_members(&self, column: usize, row: usize) -> &[u32] {
        let cell = row * self.columns + column;
        &self.members[self.starts[cell] as usize..self.starts[cell + 1] as usize]
    }

    /// The nearest segment; `None` if there are none.
    pub fn nearest(&self, p: Point) -> Option<Nearest> {
        self.nearest_within(p, f64::INFINITY)
    }

    /// The nearest segment not further than `limit` mm.
    pub fn nearest_within(&self, p: Point, limit: f64) -> Option<Nearest> {
        if self.segments.is_empty() {
            return None;
        }
        let (column, row) = {
            let (c, _, r, _) = self.cells_of(Bounds { min: p, max: p });
            (c, r)
        };
        let mut best: Option<(f64, u32)> = None;
        let rings = self.columns.max(self.rows);
        for ring in 0..=rings {
            let bound = best.map_or(limit, |(d, _)| d);
            if ring > 0 && self.ring_distance(p, column, row, ring) > bound {
                break;
            }
            self.for_ring(column, row, ring, |c, r| {
                for &i in self.cell_members(c, r) {
                    let d = self.segments[i as usize].distance(p);
                    if best.is_none_or(|(b, j)| d < b || (d == b && i < j)) {
                        best = Some((d, i));
                    }
                }
            });
        }
        let (distance, i) = best?;
        let segment = &self.segments[i as usize];
        (distance <= limit).then(|| Nearest { segment: i as usize, distance, at: segment.at(segment.nearest_share(p)) })
    }

    /// The least distance from `p` to any cell of a ring: how far `p` is from the edge of the block inside it.
    fn ring_distance(&self, p: Point, column: usize, row: usize, ring: usize) -> f64 {
        let reach = ring as f64 - 1.0;
        let left = self.bounds.min.x + (column as f64 - reach) * self.cell;
        let right = self.bounds.min.x + (column as f64 + 1.0 + reach) * self.cell;
        let low = self.bounds.min.y + (row as f64 - reach) * self.cell;
        let high = self.bounds.min.y + (row as f64 + 1.0 + reach) * self.cell;
        let mut least = f64::INFINITY;
        // Sides of the block beyond the grid hold no cells.
        if column >= ring {
            least = least.min(p.x - left);
        }
        if column + ring < self.columns {
            least = least.min(right - p.x);
        }
        if row >= ring {
            least = least.min(p.y - low);
        }
        if row + ring < self.rows {
            least = least.min(high - p.y);
        }
        least.max(0.0)
    }

    /// Calls `visit` for each cell of the grid that is `ring` cells away from one of its cells.
    fn for_ring(&self, column: usize, row: usize, ring: usize, mut visit: impl FnMut(usize, usize)) {
        let (left, right) = (column.saturating_sub(ring), (column + ring).min(self.columns - 1));
        let below = row.checked_sub(ring);
        let above = Some(row + ring).filter(|&r| r < self.rows && ring > 0);
        for r in [below, above].into_iter().flatten() {
            (left..=right).for_each(|c| visit(c, r));
        }
        if ring == 0 {
            return;
        }
        let low = below.map_or(0, |r| r + 1);
        let high = above.unwrap_or(self.rows);
        let before = column.checked_sub(ring);
        let after = Some(column + ring).filter(|&c| c < self.columns);
        for c in [before, after].into_iter().flatten() {
            (low..high).for_each(|r| visit(c, r));
        }
    }

    /// Calls `visit` once for each segment whose cells meet the box (a segment may lie outside the box itself).
    pub fn for_each_near(&self, bounds: Bounds, mut visit: impl FnMut(usize, &Segment)) {
        if self.segments.is_empty() || !bounds.meets(self.bounds) {
            return;
        }
        let (c0, c1, r0, r1) = self.cells_of(bounds);
        let mut found: Vec<u32> = Vec::new();
        for row in r0..=r1 {
            for column in c0..=c1 {
                found.extend(self.cell_members(column, row));
            }
        }
        found.sort_unstable();
        found.dedup();
        for i in found {
            visit(i as usize, &self.segments[i as usize]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn nearest_is_the_nearest_of_all(
            ends in prop::collection::vec((-50.0..50.0f64, -20.0..20.0f64, -3.0..3.0f64), 2..60),
            at in (-80.0..80.0f64, -60.0..60.0f64),
        ) {
            let segments: Vec<Segment> = ends
                .windows(2)
                .map(|w| Segment::with_bulge(Point::new(w[0].0, w[0].1), Point::new(w[1].0, w[1].1), w[0].2))
                .collect();
            let p = Point::new(at.0, at.1);
            let least = segments.iter().map(|s| s.distance(p)).fold(f64::INFINITY, f64::min);
            let found = SegmentIndex::new(segments).nearest(p).unwrap();
            prop_assert!((found.distance - least).abs() < 1e-9, "{} {}", found.distance, least);
            prop_assert!((found.at.distance(p) - least).abs() < 1e-9);
        }
    }
}
