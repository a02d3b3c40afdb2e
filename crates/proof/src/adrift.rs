//! Ground round the plate that the grooves cut off from the blank's rim: whatever stands there falls out, so that cutting it to chips
//! first does no harm.

use plane::{Point, SegmentIndex};

/// The ground is looked at in steps of this, mm, or more on a large blank.
const STEP: f64 = 0.2;
/// No more cells than this are looked at.
const MOST: f64 = 4e6;

/// Ground outside the plate, told apart by whether a groove's width round the plate cuts it off from the rim.
pub(crate) struct Adrift {
    step: f64,
    columns: usize,
    rows: usize,
    /// By row and column: whether it hangs together with the rim.
    hangs: Vec<bool>,
}

impl Adrift {
    /// For a blank of this width and depth, mm, the plate's edge, and how far round the plate a groove may reach.
    pub(crate) fn new(edge: &SegmentIndex, [width, depth]: [f64; 2], band: f64) -> Self {
        let step = STEP.max((width * depth / MOST).sqrt());
        let count = |length: f64| ((length / step).ceil() as usize).max(1);
        let (columns, rows) = (count(width), count(depth));
        let mut adrift = Self { step, columns, rows, hangs: vec![false; columns * rows] };
        let rim = (0..columns)
            .flat_map(|i| [(i, 0), (i, rows - 1)])
            .chain((0..rows).flat_map(|j| [(0, j), (columns - 1, j)]));
        // The plate itself lies behind the band, so it needs no telling apart.
        let mut open: Vec<(usize, usize)> = Vec::new();
        let take = |adrift: &mut Self, open: &mut Vec<(usize, usize)>, (i, j): (usize, usize)| {
            let at = j * columns + i;
            if !adrift.hangs[at] && edge.nearest_within(adrift.centre(i, j), band).is_none() {
                adrift.hangs[at] = true;
                open.push((i, j));
            }
        };
        rim.for_each(|cell| take(&mut adrift, &mut open, cell));
        while let Some((i, j)) = open.pop() {
            let beside = [(i.wrapping_sub(1), j), (i + 1, j), (i, j.wrapping_sub(1)), (i, j + 1)];
            beside.into_iter().filter(|&(i, j)| i < columns && j < rows).for_each(|c| take(&mut adrift, &mut open, c));
        }
        adrift
    }

    fn centre(&self, i: usize, j: usize) -> Point {
        Point::new((i as f64 + 0.5) * self.step, (j as f64 + 0.5) * self.step)
    }

    /// Whether a place outside the plate is cut off from the rim, and so is all that lies within a step of it.
    pub(crate) fn holds(&self, p: Point) -> bool {
        let cell = |v: f64, count: usize| ((v / self.step).max(0.0) as usize).min(count - 1);
        let (i, j) = (cell(p.x, self.columns), cell(p.y, self.rows));
        let (left, right) = (i.saturating_sub(1), (i + 1).min(self.columns - 1));
        let (low, high) = (j.saturating_sub(1), (j + 1).min(self.rows - 1));
        (low..=high).all(|j| (left..=right).all(|i| !self.hangs[j * self.columns + i]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plane::Contour;

    /// Inside a ring of the plate ground is adrift, outside it isn't; nor is it where the ring is open wider than two bands.
    #[test]
    fn what_a_ring_holds_is_adrift() {
        let corners = |open: f64| {
            [
                (20.0, 20.0),
                (80.0, 20.0),
                (80.0, 80.0),
                (20.0, 80.0),
                (20.0, 50.0 + open),
                (24.0, 50.0 + open),
                (24.0, 76.0),
            ]
            .into_iter()
            .chain([(76.0, 76.0), (76.0, 24.0), (24.0, 24.0), (24.0, 50.0 - open), (20.0, 50.0 - open)])
            .map(|(x, y)| Point::new(x, y))
        };
        let adrift = |open: f64| {
            let ring = Contour::polygon(corners(open));
            Adrift::new(&SegmentIndex::of_contours([&ring]), [100.0, 100.0], 3.5)
        };
        let (closed, open) = (adrift(1.0), adrift(5.0));
        let (inside, outside) = (Point::new(50.0, 50.0), Point::new(8.0, 50.0));
        assert!(closed.holds(inside) && !closed.holds(outside));
        assert!(!open.holds(inside) && !open.holds(outside));
    }
}
