//! The rows of the grid cut to a swept shape: which cells of each row lie within a reach of a path.
//!
//! A row crosses the shape about a line once and the shape about a quarter turn twice at most; where it does so takes a
//! root or two for a whole row instead of a test for each of its cells. A cell whose centre comes so near the edge that
//! rounding could tell it either way is asked of the shape itself, so that the cells are those that [`Sweep::covers`]
//! names, one by one.

use crate::leg::Sweep;
use plane::Point;
use std::ops::Range;

/// A place this near a cell's centre is asked of the shape itself, cells.
const UNSURE: f64 = 1e-3;
/// So near its highest or lowest place a circle is asked cell by cell, as a share of its square.
const FLAT: f64 = 1e-9;
/// Ways that rise by less than this lie along the rows, mm.
const LEVEL: f64 = 1e-7;
/// Stretches of a row that a shape can have.
const MOST: usize = 4;

/// Where cells lie: first column and row of a tile in the grid.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame {
    pub(crate) pitch: f64,
    pub(crate) column: usize,
    pub(crate) row: usize,
}

impl Frame {
    pub(crate) fn centre(&self, column: usize, row: usize) -> Point {
        let at = |i: usize| (i as f64 + 0.5) * self.pitch;
        Point::new(at(self.column + column), at(self.row + row))
    }
}

/// Cells of one row, from left to right.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row {
    count: usize,
    spans: [(u32, u32); MOST],
}

impl Row {
    /// First columns and those after the last.
    pub(crate) fn spans(&self) -> &[(u32, u32)] {
        &self.spans[..self.count]
    }

    /// The stretches between two columns, counted from the first of them.
    pub(crate) fn within(&self, first: usize, end: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.spans().iter().filter_map(move |&(a, b)| {
            let (a, b) = ((a as usize).max(first), (b as usize).min(end));
            (a < b).then(|| (a - first, b - first))
        })
    }

    fn put(&mut self, first: usize, end: usize) {
        if first >= end {
            return;
        }
        let (first, end) = (first as u32, end as u32);
        if self.count > 0 && (first <= self.spans[self.count - 1].1 || self.count == MOST) {
            let last = &mut self.spans[self.count - 1];
            last.1 = last.1.max(end);
        } else {
            self.spans[self.count] = (first, end);
            self.count += 1;
        }
    }
}

const NOTHING: Row = Row { count: 0, spans: [(0, 0); MOST] };

/// What a few rows have in common.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Common {
    /// No cell lies outside these columns.
    pub(crate) hull: (usize, usize),
    /// All cells between these columns are within; none if the second isn't greater.
    inner: (usize, usize),
    /// Some row has several stretches.
    several: bool,
}

/// A swept shape by rows.
#[derive(Debug, Default)]
pub(crate) struct Spans {
    first: usize,
    rows: Vec<Row>,
}

impl Spans {
    /// Lays out the rows and columns of a tile that a shape may meet.
    pub(crate) fn fill(&mut self, sweep: &Sweep, frame: Frame, columns: Range<usize>, rows: Range<usize>) {
        self.first = rows.start;
        self.rows.clear();
        let shape = Shape::new(sweep);
        let mut pieces = Pieces { list: [(0.0, 0.0); MOST], count: 0, unsure: false };
        for row in rows {
            let y = frame.centre(0, row).y;
            pieces.count = 0;
            pieces.unsure = false;
            shape.cross(y, &mut pieces);
            self.rows.push(if pieces.unsure {
                one_by_one(sweep, frame, row, columns.clone())
            } else {
                pieces.cells(sweep, frame, row, columns.clone())
            });
        }
    }

    /// The cells of one row of the tile.
    pub(crate) fn row(&self, row: usize) -> &Row {
        row.checked_sub(self.first).and_then(|i| self.rows.get(i)).unwrap_or(&NOTHING)
    }

    /// What rows have in common.
    pub(crate) fn common(&self, rows: Range<usize>) -> Common {
        let mut common = Common { hull: (usize::MAX, 0), inner: (0, usize::MAX), several: false };
        for row in rows {
            let row = self.row(row);
            let list = row.spans();
            let (Some(first), Some(last)) = (list.first(), list.last()) else {
                common.inner = (0, 0);
                continue;
            };
            let (a, b) = (first.0 as usize, last.1 as usize);
            common.hull = (common.hull.0.min(a), common.hull.1.max(b));
            common.inner = (common.inner.0.max(a), common.inner.1.min(b));
            common.several |= list.len() > 1;
        }
        common
    }

    /// Whether any cell of a rectangle is within.
    pub(crate) fn meets(&self, columns: Range<usize>, rows: Range<usize>) -> bool {
        rows.into_iter().any(|row| self.row(row).within(columns.start, columns.end).next().is_some())
    }

    /// Whether all cells of a rectangle are within, of whose rows that much is known.
    pub(crate) fn covers(&self, common: &Common, columns: Range<usize>, rows: Range<usize>) -> bool {
        if columns.start < common.inner.0 || columns.end > common.inner.1 {
            return false;
        }
        let whole = |row: usize| {
            let row = self.row(row);
            row.spans().iter().any(|s| s.0 as usize <= columns.start && s.1 as usize >= columns.end)
        };
        !common.several || rows.into_iter().all(whole)
    }
}

/// Every cell asked for itself.
fn one_by_one(sweep: &Sweep, frame: Frame, row: usize, columns: Range<usize>) -> Row {
    let mut cells = NOTHING;
    for column in columns {
        if sweep.covers(frame.centre(column, row)) {
            cells.put(column, column + 1);
        }
    }
    cells
}

/// Stretches of x on a row.
struct Pieces {
    list: [(f64, f64); MOST],
    count: usize,
    unsure: bool,
}

impl Pieces {
    fn put(&mut self, from: f64, to: f64) {
        if from <= to && self.count < MOST {
            self.list[self.count] = (from, to);
            self.count += 1;
        }
    }

    /// Half the width of a circle at a distance from its middle.
    fn half(&mut self, square: f64, aside: f64) -> Option<f64> {
        let rest = square - aside * aside;
        self.unsure |= rest.abs() <= FLAT * square;
        (rest > 0.0).then(|| rest.sqrt())
    }

    fn cells(&mut self, sweep: &Sweep, frame: Frame, row: usize, columns: Range<usize>) -> Row {
        let fine = 1.0 / frame.pitch;
        let list = &mut self.list[..self.count];
        list.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let mut cells = NOTHING;
        let mut at = 0;
        while at < list.len() {
            let (from, mut to) = list[at];
            at += 1;
            while at < list.len() && list[at].0 <= to {
                to = to.max(list[at].1);
                at += 1;
            }
            let place = |x: f64| x * fine - (frame.column as f64 + 0.5);
            let sure = |v: f64| {
                let near = v.round();
                ((v - near).abs() < UNSURE && near >= 0.0).then_some(near as usize)
            };
            let covers = |column: usize| sweep.covers(frame.centre(column, row));
            let (low, high) = (place(from), place(to));
            let first = match sure(low) {
                Some(c) => c + usize::from(!covers(c)),
                None => low.ceil().max(0.0) as usize,
            };
            let end = match sure(high) {
                Some(c) => c + usize::from(covers(c)),
                None => (high.floor() + 1.0).max(0.0) as usize,
            };
            cells.put(first.clamp(columns.start, columns.end), end.clamp(columns.start, columns.end));
        }
        cells
    }
}

/// A shape made ready for its rows.
enum Shape {
    Line { a: Point, along: Point, length: f64, reach: f64, square: f64 },
    Arc { ends: [Point; 2], centre: Point, first: Point, last: Point, inner: f64, outer: f64, square: f64 },
}

impl Shape {
    fn new(sweep: &Sweep) -> Self {
        match *sweep {
            Sweep::Line { a, along, square, .. } => {
                Self::Line { a, along, length: along.dot(along).sqrt(), reach: square.sqrt(), square }
            }
            Sweep::Arc { a, b, centre, first, last, inner, outer, square, .. } => {
                Self::Arc { ends: [a, b], centre, first, last, inner, outer, square }
            }
        }
    }

    fn cross(&self, y: f64, pieces: &mut Pieces) {
        match *self {
            Self::Line { a, along, length, reach, square } => {
                for end in [a, a + along] {
                    if let Some(half) = pieces.half(square, y - end.y) {
                        pieces.put(end.x - half, end.x + half);
                    }
                }
                let up = y - a.y;
                let Some((low, high)) = beside(along, length, reach, up, pieces) else { return };
                pieces.put(a.x + low, a.x + high);
            }
            Self::Arc { ends, centre, first, last, inner, outer, square } => {
                for end in ends {
                    if let Some(half) = pieces.half(square, y - end.y) {
                        pieces.put(end.x - half, end.x + half);
                    }
                }
                let up = y - centre.y;
                let Some(half) = pieces.half(outer, up) else { return };
                // Between the ends' directions: to the left of the first, to the right of the last.
                let (mut low, mut high) = (-half, half);
                for (direction, side) in [(first, 1.0), (last, -1.0)] {
                    let slope = direction.y * side;
                    let rest = direction.x * side * up;
                    if slope.abs() <= 1e-9 * (direction.x.abs() + direction.y.abs()) {
                        if rest < 0.0 {
                            return;
                        }
                    } else if slope > 0.0 {
                        high = high.min(rest / slope);
                    } else {
                        low = low.max(rest / slope);
                    }
                }
                let hole = if inner > 0.0 { pieces.half(inner, up) } else { None };
                match hole {
                    Some(hole) => {
                        pieces.put(centre.x + low, centre.x + high.min(-hole));
                        pieces.put(centre.x + low.max(hole), centre.x + high);
                    }
                    None => pieces.put(centre.x + low, centre.x + high),
                }
            }
        }
    }
}

/// Where a row crosses the rectangle beside a line, as seen from the line's start.
fn beside(along: Point, length: f64, reach: f64, up: f64, pieces: &mut Pieces) -> Option<(f64, f64)> {
    if length <= 0.0 {
        return None;
    }
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    if along.y.abs() > LEVEL {
        let (p, q) = ((along.x * up - reach * length) / along.y, (along.x * up + reach * length) / along.y);
        (low, high) = (p.min(q), p.max(q));
    } else {
        pieces.unsure |= (up.abs() - reach).abs() < 10.0 * LEVEL;
        if up.abs() > reach {
            return None;
        }
    }
    if along.x.abs() > LEVEL {
        let (p, q) = (-up * along.y / along.x, (length * length - up * along.y) / along.x);
        (low, high) = (low.max(p.min(q)), high.min(p.max(q)));
    } else if up * along.y < 0.0 || up * along.y > length * length {
        return None;
    }
    (low.is_finite() && high.is_finite()).then_some((low, high))
}

#[cfg(test)]
mod tests {
    use super::*;
    use plane::Segment;

    /// Every row of a shape names the cells that the shape covers, ties on the grid's centres among them.
    #[test]
    fn rows_are_what_the_shape_covers() {
        let frame = Frame { pitch: 0.05, column: 40, row: 20 };
        let (width, height) = (170, 170);
        let centre = Point::new(6.225, 5.175);
        let mut paths = Vec::new();
        for (dx, dy) in
            [(2.0, 0.0), (0.0, -1.5), (0.0, 0.0), (1.3, 0.7), (-0.4, 2.2), (2.0, 1e-6), (1.0, -0.01), (3e-5, 0.0)]
        {
            for shift in [0.0, 0.003_7, 0.01] {
                let a = centre + Point::new(shift, 0.5 * shift);
                paths.push(Segment::Line { a, b: a + Point::new(dx, dy) });
            }
        }
        for radius in [0.02, 0.4, 0.9, 1.0, 1.7, 3.3] {
            for k in 0..24 {
                let from = f64::from(k) * std::f64::consts::TAU / 24.0 + if k % 3 == 0 { 0.0 } else { 0.013 };
                for sweep in [std::f64::consts::FRAC_PI_2, -0.9, 0.05] {
                    let (a, b) = (Point::at_angle(from), Point::at_angle(from + sweep));
                    let (a, b) = (centre + a * radius, centre + b * radius);
                    paths.push(Segment::Arc { a, b, centre, radius, from, sweep });
                }
            }
        }
        let (mut spans, mut several, mut crossed, mut wholes) = (Spans::default(), 0, 0, 0);
        for path in &paths {
            for reach in [0.5, 1.5875] {
                let sweep = Sweep::about(path, reach);
                spans.fill(&sweep, frame, 0..width, 0..height);
                for row in 0..height {
                    let own = spans.row(row);
                    several += usize::from(own.spans().len() > 1);
                    crossed += usize::from(!own.spans().is_empty());
                    let mut at = 0;
                    for column in 0..width {
                        while at < own.spans().len() && own.spans()[at].1 as usize <= column {
                            at += 1;
                        }
                        let is = own.spans().get(at).is_some_and(|s| s.0 as usize <= column);
                        let shall = sweep.covers(frame.centre(column, row));
                        assert_eq!(is, shall, "{path:?} {reach} row {row} column {column}");
                    }
                }
                for (rows, columns) in [(80..88, 80..88), (86..94, 70..78), (60..68, 84..92)] {
                    let common = spans.common(rows.clone());
                    let whole = spans.covers(&common, columns.clone(), rows.clone());
                    let all = rows.clone().all(|r| columns.clone().all(|c| sweep.covers(frame.centre(c, r))));
                    assert_eq!(whole, all);
                    wholes += usize::from(whole);
                }
            }
        }
        assert!(several > 200 && crossed > 10_000 && wholes > 20, "{several} {crossed} {wholes}");
    }
}
