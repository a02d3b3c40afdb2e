//! Regions crossed by the grid's rows: exact crossings at the height of the cells' centres.

use plane::{Point, Region, Segment};

/// Where the rows of the grid cross a region's edge, row by row and sorted.
pub(crate) struct Rows {
    starts: Vec<u32>,
    crossings: Vec<f64>,
    /// First and last row that is crossed.
    pub(crate) range: std::ops::Range<usize>,
}

impl Rows {
    pub(crate) fn new(region: &Region, pitch: f64, rows: usize) -> Self {
        let mut found: Vec<(u32, f64)> = Vec::new();
        for segment in region.contours().flat_map(|c| c.segments().collect::<Vec<_>>()) {
            cross(&segment, pitch, rows, &mut found);
        }
        found.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut starts = vec![0u32; rows + 1];
        for &(row, _) in &found {
            starts[row as usize + 1] += 1;
        }
        for i in 0..rows {
            starts[i + 1] += starts[i];
        }
        let first = found.first().map_or(0, |f| f.0 as usize);
        let end = found.last().map_or(0, |f| f.0 as usize + 1);
        Self { starts, crossings: found.into_iter().map(|f| f.1).collect(), range: first..end }
    }

    /// Whether a row has a place inside the region.
    pub(crate) fn contains(&self, row: usize, x: f64) -> bool {
        self.range.contains(&row) && {
            let list = &self.crossings[self.starts[row] as usize..self.starts[row + 1] as usize];
            !list.partition_point(|&c| c < x).is_multiple_of(2)
        }
    }

    /// Stretches of x inside the region on a row, those that reach beyond `from` and begin before `to`.
    pub(crate) fn inside(&self, row: usize, from: f64, to: f64) -> impl Iterator<Item = (f64, f64)> + '_ {
        let list = &self.crossings[self.starts[row] as usize..self.starts[row + 1] as usize];
        let first = list.partition_point(|&x| x < from) / 2 * 2;
        list[first..].chunks_exact(2).map(|pair| (pair[0], pair[1])).take_while(move |pair| pair.0 < to)
    }
}

/// Crossings of one segment; a piece that rises from y0 to y1 is crossed by rows with y0 <= y < y1.
fn cross(segment: &Segment, pitch: f64, rows: usize, found: &mut Vec<(u32, f64)>) {
    match *segment {
        Segment::Line { a, b } => piece(a, b, pitch, rows, found, |y| a.x + (b.x - a.x) * ((y - a.y) / (b.y - a.y))),
        Segment::Arc { a, b, centre, radius, from, sweep } => {
            // Cut at the top and the bottom, so that each piece only rises or falls and stays on one side.
            let turn = sweep.signum();
            let mut cuts = vec![0.0];
            let quarter = std::f64::consts::FRAC_PI_2;
            for k in -4..=4 {
                let angle = quarter + f64::from(k) * std::f64::consts::PI;
                let along = (angle - from) * turn;
                if along > 1e-12 && along < sweep.abs() - 1e-12 {
                    cuts.push(along);
                }
            }
            cuts.push(sweep.abs());
            cuts.sort_by(f64::total_cmp);
            for pair in cuts.windows(2) {
                let end = |along: f64| {
                    if along <= 0.0 {
                        a
                    } else if along >= sweep.abs() {
                        b
                    } else {
                        let sign = libm::sin(from + turn * along).signum();
                        Point::new(centre.x, centre.y + sign * radius)
                    }
                };
                let middle = libm::cos(from + turn * 0.5 * (pair[0] + pair[1]));
                let side = if middle < 0.0 { -1.0 } else { 1.0 };
                piece(end(pair[0]), end(pair[1]), pitch, rows, found, |y| {
                    let dy = y - centre.y;
                    centre.x + side * (radius * radius - dy * dy).max(0.0).sqrt()
                });
            }
        }
    }
}

fn piece(a: Point, b: Point, pitch: f64, rows: usize, found: &mut Vec<(u32, f64)>, x_at: impl Fn(f64) -> f64) {
    let (low, high) = (a.y.min(b.y), a.y.max(b.y));
    // One row too early: what the division rounds away must not lose a row that the exact comparison would take.
    let first = (low / pitch - 1.5).floor().max(0.0) as usize;
    for row in first..rows {
        let y = (row as f64 + 0.5) * pitch;
        if y < low {
            continue;
        }
        if y >= high {
            break;
        }
        found.push((row as u32, x_at(y)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plane::Contour;

    /// A diamond whose corners lie at the height of a row's centres, or off it by what a division rounds: every row in its
    /// reach is crossed twice, and none is lost.
    #[test]
    fn corners_at_the_height_of_a_row_lose_none() {
        let mut looked = 0;
        for pitch in [0.05, 0.02, 0.01, 0.03] {
            for row in (5..1400).step_by(3) {
                let centre = (row as f64 + 0.5) * pitch;
                for ulps in -4..=4_i64 {
                    let y = f64::from_bits(centre.to_bits().saturating_add_signed(ulps));
                    let corner = |x: f64, y: f64| Point::new(x, y);
                    let corners =
                        [corner(1.0, y), corner(2.0, y - 2.6 * pitch), corner(3.0, y), corner(2.0, y + 2.7 * pitch)];
                    let region = Region::solid(Contour::polygon(corners));
                    let rows = Rows::new(&region, pitch, 2000);
                    for r in row - 2..=row + 2 {
                        let crossed = rows.starts[r + 1] - rows.starts[r];
                        assert_eq!(crossed, 2, "row {r} of a corner at row {row}, {ulps} off, pitch {pitch}");
                        looked += 1;
                    }
                }
            }
        }
        assert!(looked > 10_000);
    }
}
