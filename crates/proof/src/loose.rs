//! Pieces that come loose.
//!
//! On a coarse grid every sample knows the leg that cut it through. Run backward in time, samples come back and join;
//! where a piece that is held joins one that isn't, the second came loose at that leg.

use crate::finding::{Found, Tally, mm};
use crate::hand::find;
use crate::intent::{AREAS, Class, MARGIN, Wanted};
use crate::kinds;
use crate::leg::{Leg, Run};
use crate::relief::{Cut, Grid, Tooling};
use plane::{Bounds, Point};
use plate::Held;

/// Smaller pieces are chips, mm².
const CHIP: f64 = 1.0;
/// Without holds the blank is held by its border, this wide, mm.
const BORDER: f64 = 1.0;

/// The blank on the coarse grid.
pub(crate) struct Pieces {
    pitch: f64,
    columns: usize,
    rows: usize,
    /// The leg that cut each sample through; `u32::MAX` where it stands.
    deaths: Vec<u32>,
}

impl Pieces {
    pub(crate) fn new<J>(grid: &Grid, cuts: &[Cut<J>]) -> Self {
        let (columns, rows) = grid.coarser(grid.coarse);
        let (across, _) = grid.tiles();
        let side = grid.tile / grid.coarse;
        let mut deaths = vec![u32::MAX; columns * rows];
        for (tile, cut) in cuts.iter().enumerate() {
            let (column, row) = (tile % across * side, tile / across * side);
            let width = side.min(columns - column);
            for (r, line) in cut.deaths.chunks(width).enumerate() {
                let at = (row + r) * columns + column;
                deaths[at..at + width].copy_from_slice(line);
            }
        }
        Self { pitch: grid.pitch * grid.coarse as f64, columns, rows, deaths }
    }

    fn at(&self, i: usize) -> Point {
        let centre = |k: usize| (k as f64 + 0.5) * self.pitch;
        Point::new(centre(i % self.columns), centre(i / self.columns))
    }

    fn neighbours(&self, i: usize) -> impl Iterator<Item = usize> + use<> {
        let (column, row) = (i % self.columns, i / self.columns);
        let (columns, rows) = (self.columns, self.rows);
        [
            (column > 0).then(|| i - 1),
            (column + 1 < columns).then(|| i + 1),
            (row > 0).then(|| i - columns),
            (row + 1 < rows).then(|| i + columns),
        ]
        .into_iter()
        .flatten()
    }

    /// Samples that hold the blank: under the holds, or along its border where no hold stands on it.
    fn held(&self, wanted: &Wanted) -> Vec<bool> {
        let mut held = vec![false; self.deaths.len()];
        let mut any = false;
        for hold in &wanted.intent.holds {
            let b = hold.shape.bounds();
            let index = |v: f64, n: usize| ((v / self.pitch).max(0.0) as usize).min(n - 1);
            for row in index(b.min.y, self.rows)..=index(b.max.y, self.rows) {
                for column in index(b.min.x, self.columns)..=index(b.max.x, self.columns) {
                    let i = row * self.columns + column;
                    if hold.shape.contains(self.at(i)) {
                        held[i] = true;
                        any = true;
                    }
                }
            }
        }
        if !any {
            for (i, is_held) in held.iter_mut().enumerate() {
                let p = self.at(i);
                let edge = p.x.min(p.y).min(wanted.size.max.x - p.x).min(wanted.size.max.y - p.y);
                *is_held = edge <= BORDER;
            }
        }
        held
    }

    /// Finds every piece that comes loose.
    pub(crate) fn judge(&self, wanted: &Wanted, legs: &[Leg], tooling: &[Option<Tooling>], tally: &mut Tally) {
        let order = self.order(legs.len());
        if order.is_empty() {
            return;
        }
        let mut forest = Forest::new(self.held(wanted));
        self.join_standing(&mut forest);
        let mut at = 0;
        while at < order.len() {
            let death = self.deaths[order[at] as usize];
            let end = (at..order.len()).find(|&k| self.deaths[order[k] as usize] != death).unwrap_or(order.len());
            for &i in &order[at..end] {
                for piece in self.join(i as usize, death, &mut forest) {
                    self.report(wanted, legs, tooling, death, piece, tally);
                }
            }
            at = end;
        }
    }

    /// Samples that are cut through, those of the last leg first: counted by leg, then laid out.
    fn order(&self, legs: usize) -> Vec<u32> {
        let cut = || self.deaths.iter().enumerate().filter(|d| *d.1 != u32::MAX);
        let mut next = vec![0u32; legs + 1];
        for (_, &death) in cut() {
            next[(death as usize).min(legs)] += 1;
        }
        let mut sum = 0;
        for next in next.iter_mut().rev() {
            sum += std::mem::replace(next, sum);
        }
        let mut order = vec![0; sum as usize];
        for (i, &death) in cut() {
            let next = &mut next[(death as usize).min(legs)];
            order[*next as usize] = i as u32;
            *next += 1;
        }
        order
    }

    /// Joins what stands to the end: row by row in runs, each with those of the row before that it touches.
    fn join_standing(&self, forest: &mut Forest) {
        let mut last: Vec<(usize, usize)> = Vec::new();
        for row in 0..self.rows {
            let (from, to) = (row * self.columns, (row + 1) * self.columns);
            let mut runs: Vec<(usize, usize)> = Vec::new();
            let mut at = from;
            while at < to {
                if self.deaths[at] != u32::MAX {
                    at += 1;
                    continue;
                }
                let end = (at..to).find(|&i| self.deaths[i] != u32::MAX).unwrap_or(to);
                forest.stand(at, end);
                runs.push((at, end));
                at = end;
            }
            let mut below = 0;
            for &(first, end) in &runs {
                while below < last.len() && last[below].1 + self.columns <= first {
                    below += 1;
                }
                for &(under, _) in last[below..].iter().take_while(|r| r.0 + self.columns < end) {
                    let (a, b) = (find(&mut forest.parents, first), find(&mut forest.parents, under));
                    if a != b {
                        forest.unite(a, b);
                    }
                }
            }
            last = runs;
        }
    }

    /// Joins a sample with its neighbours that stand just before a leg; gives the loose pieces that so become held.
    fn join(&self, i: usize, death: u32, forest: &mut Forest) -> Vec<usize> {
        let mut released = Vec::new();
        forest.standing[i] = true;
        for j in self.neighbours(i) {
            if !forest.standing[j] {
                continue;
            }
            let (a, b) = (find(&mut forest.parents, i), find(&mut forest.parents, j));
            if a == b {
                continue;
            }
            if death != u32::MAX && forest.held[a] != forest.held[b] {
                let (loose, own) = if forest.held[a] { (b, j) } else { (a, i) };
                let area = f64::from(forest.sizes[loose]) * self.pitch * self.pitch;
                // A piece that only comes to be in this very leg is a sliver of it.
                if area > CHIP && self.deaths[own] > death {
                    released.push(own);
                }
            }
            forest.unite(a, b);
        }
        released
    }

    /// All samples of a piece as it is just after a leg.
    fn flood(&self, from: usize, death: u32) -> Vec<usize> {
        let mut seen = vec![false; self.deaths.len()];
        let mut list = vec![from];
        seen[from] = true;
        let mut next = 0;
        while next < list.len() {
            let i = list[next];
            next += 1;
            for j in self.neighbours(i) {
                if !seen[j] && self.deaths[j] > death {
                    seen[j] = true;
                    list.push(j);
                }
            }
        }
        list
    }

    fn report(
        &self,
        wanted: &Wanted,
        legs: &[Leg],
        tooling: &[Option<Tooling>],
        death: u32,
        from: usize,
        tally: &mut Tally,
    ) {
        let cells = self.flood(from, death);
        let area = cells.len() as f64 * self.pitch * self.pitch;
        let middle = self.at(cells[cells.len() / 2]);
        if area <= CHIP || is_stated(wanted, wanted.class_at(middle)) {
            return;
        }
        let Some(leg) = legs.get(death as usize) else { return };
        let bounds = Bounds::of(cells.iter().map(|&i| self.at(i)));
        let nearby = |l: &&Leg| {
            let Some(t) = &tooling[l.stage] else { return false };
            let reach = 3.0 * t.profile.radius;
            l.run == Run::Feed
                && l.lowest() < wanted.face_high
                && l.bounds(reach).meets(bounds)
                && cells.iter().step_by(1 + cells.len() / 5000).any(|&i| l.path.distance(self.at(i)) <= reach)
        };
        let next = legs[death as usize + 1..].iter().find(nearby);
        let found = Found::new(&kinds::PIECE_LOOSE, leg.stage)
            .group(format!("{:09.3} {:09.3}", bounds.min.x, bounds.min.y))
            .line(leg.line)
            .at(middle.x, middle.y, wanted.underside)
            .amount(area);
        let found = match next {
            Some(l) if l.stage == leg.stage => {
                found.noting(format!("the cutter still works beside it at line {}", l.line))
            }
            Some(_) => found.noting("a later program still works beside it"),
            None => found.noting("nothing is cut beside it afterwards"),
        };
        tally.add(found.saying(
            format!("a piece of {} by {} ({area:.1} mm²) comes loose here", mm(bounds.width()), mm(bounds.height())),
            "leave tabs or a skin, clear the piece before it comes free, or state what holds it",
        ));
    }
}

/// Whether something that the maker states holds what lies at a class of ground.
fn is_stated(wanted: &Wanted, class: Class) -> bool {
    let outline = wanted.intent.outline.as_ref().map(|o| &o.held);
    let held = match class {
        MARGIN => outline,
        _ if class >= AREAS => wanted.area(class).map(|a| &a.held),
        _ => outline,
    };
    matches!(held, Some(Held::Stated(_))) || (class != MARGIN && matches!(outline, Some(Held::Stated(_))))
}

/// Joined samples.
struct Forest {
    parents: Vec<usize>,
    held: Vec<bool>,
    sizes: Vec<u32>,
    standing: Vec<bool>,
}

impl Forest {
    fn new(held: Vec<bool>) -> Self {
        let n = held.len();
        Self { parents: (0..n).collect(), held, sizes: vec![1; n], standing: vec![false; n] }
    }

    /// Makes a run of samples one piece.
    fn stand(&mut self, first: usize, end: usize) {
        self.held[first] = self.held[first..end].contains(&true);
        self.sizes[first] = (end - first) as u32;
        self.parents[first..end].fill(first);
        self.standing[first..end].fill(true);
    }

    fn unite(&mut self, a: usize, b: usize) {
        let (big, small) = if self.sizes[a] >= self.sizes[b] { (a, b) } else { (b, a) };
        self.parents[small] = big;
        self.held[big] |= self.held[small];
        self.sizes[big] += self.sizes[small];
    }
}
