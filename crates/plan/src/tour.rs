//! The order of pieces of work: a short way through stops that each begin at one place and end at another, some of them
//! before others.
//!
//! The way begins with the nearest next stop, then is bettered by moving stretches, turned round or not, and by reversing
//! stretches, wherever that brings two near stops together; then by small kicks that are kept if the way is no longer after.
//! Moves that would put a stop before one it must follow are never made.

use plane::Point;
use std::collections::VecDeque;

/// A piece of work as the way between pieces sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stop {
    /// Where it begins.
    pub(crate) start: Point,
    /// Where it ends.
    pub(crate) end: Point,
}

impl Stop {
    /// Work that ends where it begins.
    pub(crate) const fn at(place: Point) -> Self {
        Self { start: place, end: place }
    }
}

/// A short order of the stops from `from`; of each pair in `before` the first comes first. Pairs that run in a circle are
/// kept as far as that goes.
pub(crate) fn tour(from: Point, stops: &[Stop], before: &[(usize, usize)]) -> Vec<usize> {
    let mut way = Way::new(from, stops, before);
    way.settle((0..way.route.len()).collect());
    way.kick();
    way.route[1..].iter().map(|i| i - 1).collect()
}

/// Near stops that are looked at from each.
const NEAR: usize = 8;
/// Longest stretch that is moved as it is, and turned round.
const LONGEST: usize = 40;
const LONGEST_TURNED: usize = 12;
/// Kicks for each stop, and at most.
const KICKS: usize = 10;
const MOST_KICKS: usize = 1_000;
/// Stops of a stretch that is kicked.
const KICKED: usize = 12;
/// Less than this is rounding, mm.
const NOTHING: f64 = 1e-7;

/// A change of the order: two neighbouring stretches `lo..=m` and `m+1..=hi` change places, or one is reversed.
#[derive(Debug, Clone, Copy)]
enum Change {
    Swap {
        lo: usize,
        m: usize,
        hi: usize,
    },
    /// The second stretch goes first, turned round.
    SecondTurned {
        lo: usize,
        m: usize,
        hi: usize,
    },
    /// The first stretch goes second, turned round.
    FirstTurned {
        lo: usize,
        m: usize,
        hi: usize,
    },
    Reverse {
        lo: usize,
        hi: usize,
    },
}

/// A way on its way to being short. Stop 0 is where it starts, and stays first.
struct Way {
    stops: Vec<Stop>,
    after: Vec<Vec<usize>>,
    near: Vec<Vec<usize>>,
    route: Vec<usize>,
    /// By stop.
    place: Vec<usize>,
    /// Length of the way up to each place, forward and with every stop taken in reverse order.
    forward: Vec<f64>,
    backward: Vec<f64>,
    /// Stops that others must come after.
    waited_for: Vec<usize>,
    /// The first place, by stop, of those that must come after it.
    first_after: Vec<usize>,
}

impl Way {
    fn new(from: Point, stops: &[Stop], before: &[(usize, usize)]) -> Self {
        let stops: Vec<Stop> = std::iter::once(Stop::at(from)).chain(stops.iter().copied()).collect();
        let n = stops.len();
        let mut after: Vec<Vec<usize>> = vec![Vec::new(); n];
        for &(a, b) in before.iter().filter(|&&(a, b)| a != b && a + 1 < n && b + 1 < n) {
            after[a + 1].push(b + 1);
        }
        let route = nearest_next(&stops, &after);
        // A circle of pairs can't be kept: what the first order breaks is let go.
        let mut place = vec![0; n];
        route.iter().enumerate().for_each(|(k, &i)| place[i] = k);
        for (i, list) in after.iter_mut().enumerate() {
            list.retain(|&j| place[j] > place[i]);
            list.sort_unstable();
            list.dedup();
        }
        let near = (0..n).map(|i| nearest(&stops, i)).collect();
        let (forward, backward, first_after) = (vec![0.0; n], vec![0.0; n], vec![usize::MAX; n]);
        let waited_for = (0..n).filter(|&i| !after[i].is_empty()).collect();
        let mut way = Self { stops, after, near, route, place, forward, backward, waited_for, first_after };
        way.measure();
        way
    }

    fn measure(&mut self) {
        self.measure_between(0, self.route.len() - 1);
    }

    /// Measures again what an exchange of places from `lo` to `hi` changed.
    fn measure_between(&mut self, lo: usize, hi: usize) {
        let last = self.route.len() - 1;
        let end = (hi + 1).min(last);
        let (forward, backward) = (self.forward[end], self.backward[end]);
        for k in lo..=end {
            self.place[self.route[k]] = k;
            if k > 0 {
                let (a, b) = (self.route[k - 1], self.route[k]);
                self.forward[k] = self.forward[k - 1] + self.gap(a, b);
                self.backward[k] = self.backward[k - 1] + self.gap(b, a);
            }
        }
        let (forward, backward) = (self.forward[end] - forward, self.backward[end] - backward);
        self.forward[end + 1..].iter_mut().for_each(|f| *f += forward);
        self.backward[end + 1..].iter_mut().for_each(|b| *b += backward);
        for i in 0..self.waited_for.len() {
            let i = self.waited_for[i];
            let places = self.after[i].iter().map(|&j| self.place[j]);
            self.first_after[i] = places.min().unwrap_or(usize::MAX);
        }
    }

    fn length(&self) -> f64 {
        self.forward.last().copied().unwrap_or(0.0)
    }

    fn gap(&self, a: usize, b: usize) -> f64 {
        between(self.stops[a], self.stops[b])
    }

    /// From one place of the route to another; nothing beyond its end.
    fn hop(&self, a: usize, b: usize) -> f64 {
        match (self.route.get(a), self.route.get(b)) {
            (Some(&a), Some(&b)) => self.gap(a, b),
            _ => 0.0,
        }
    }

    /// How much longer the way is after a change.
    fn longer(&self, change: Change) -> f64 {
        let inside = |lo: usize, hi: usize| self.forward[hi] - self.forward[lo];
        let turned = |lo: usize, hi: usize| self.backward[hi] - self.backward[lo];
        match change {
            Change::Reverse { lo, hi } => {
                self.hop(lo - 1, hi) + turned(lo, hi) + self.hop(lo, hi + 1)
                    - self.hop(lo - 1, lo)
                    - inside(lo, hi)
                    - self.hop(hi, hi + 1)
            }
            Change::Swap { lo, m, hi } => {
                self.hop(lo - 1, m + 1) + self.hop(hi, lo) + self.hop(m, hi + 1) - self.joints(lo, m, hi)
            }
            Change::SecondTurned { lo, m, hi } => {
                self.hop(lo - 1, hi) + turned(m + 1, hi) - inside(m + 1, hi) + self.hop(m + 1, lo) + self.hop(m, hi + 1)
                    - self.joints(lo, m, hi)
            }
            Change::FirstTurned { lo, m, hi } => {
                self.hop(lo - 1, m + 1) + self.hop(hi, m) + turned(lo, m) - inside(lo, m) + self.hop(lo, hi + 1)
                    - self.joints(lo, m, hi)
            }
        }
    }

    fn joints(&self, lo: usize, m: usize, hi: usize) -> f64 {
        self.hop(lo - 1, lo) + self.hop(m, m + 1) + self.hop(hi, hi + 1)
    }

    /// Whether a change keeps every pair in order.
    fn allowed(&self, change: Change) -> bool {
        let whole = |lo: usize, hi: usize| self.route[lo..=hi].iter().all(|&i| self.first_after[i] > hi);
        let apart = |lo: usize, m: usize, hi: usize| {
            self.route[lo..=m].iter().all(|&i| {
                let first = self.first_after[i];
                first > hi || first <= m && self.after[i].iter().all(|&j| self.place[j] <= m || self.place[j] > hi)
            })
        };
        match change {
            Change::Reverse { lo, hi } => whole(lo, hi),
            Change::Swap { lo, m, hi } => apart(lo, m, hi),
            Change::SecondTurned { lo, m, hi } => whole(m + 1, hi) && apart(lo, m, hi),
            Change::FirstTurned { lo, m, hi } => whole(lo, m) && apart(lo, m, hi),
        }
    }

    /// Makes a change; gives the stops whose neighbours are others now.
    fn make(&mut self, change: Change) -> Vec<usize> {
        let (lo, m, hi) = match change {
            Change::Reverse { lo, hi } => {
                self.route[lo..=hi].reverse();
                (lo, lo, hi)
            }
            Change::Swap { lo, m, hi } => {
                self.route[lo..=hi].rotate_left(m + 1 - lo);
                (lo, lo + hi - m, hi)
            }
            Change::SecondTurned { lo, m, hi } => {
                self.route[m + 1..=hi].reverse();
                self.route[lo..=hi].rotate_left(m + 1 - lo);
                (lo, lo + hi - m, hi)
            }
            Change::FirstTurned { lo, m, hi } => {
                self.route[lo..=m].reverse();
                self.route[lo..=hi].rotate_left(m + 1 - lo);
                (lo, lo + hi - m, hi)
            }
        };
        self.measure_between(lo, hi);
        let last = self.route.len() - 1;
        let places = [lo - 1, lo, m - 1, m, hi, (hi + 1).min(last)];
        places.iter().map(|&k| self.route[k]).collect()
    }

    /// Makes changes while one of them shortens the way, looking from these stops and from those that change.
    fn settle(&mut self, stops: Vec<usize>) {
        let mut waiting = vec![false; self.stops.len()];
        stops.iter().for_each(|&i| waiting[i] = true);
        let mut queue = VecDeque::from(stops);
        while let Some(i) = queue.pop_front() {
            waiting[i] = false;
            while let Some(change) = self.best_from(i) {
                for j in self.make(change) {
                    if j != i && !waiting[j] {
                        waiting[j] = true;
                        queue.push_back(j);
                    }
                }
            }
        }
    }

    /// The change that shortens the way most among those that lead from a stop to one near it, or to it from one near.
    fn best_from(&self, a: usize) -> Option<Change> {
        let n = self.route.len();
        let mut best: Option<(f64, Change)> = None;
        let mut look = |change: Change| {
            let longer = self.longer(change);
            if longer < best.map_or(-NOTHING, |b| b.0 - NOTHING) && self.allowed(change) {
                best = Some((longer, change));
            }
        };
        let p = self.place[a];
        let out = self.hop(p, p + 1);
        for &b in &self.near[a] {
            let q = self.place[b];
            // One of the two ways given up must be longer than the one won.
            if q == p + 1 || q == 0 || self.gap(a, b) >= out.max(self.hop(q - 1, q)) {
                continue;
            }
            if p < q {
                look(Change::Reverse { lo: p + 1, hi: q });
                // The stretch that begins with `b` comes after `a`; the one that ends with `a` before `b`.
                (q..n.min(q + LONGEST)).for_each(|hi| look(Change::Swap { lo: p + 1, m: q - 1, hi }));
                (p.saturating_sub(LONGEST).max(1)..=p).for_each(|lo| look(Change::Swap { lo, m: p, hi: q - 1 }));
                ((p + 2).max(q.saturating_sub(LONGEST_TURNED))..=q)
                    .for_each(|s| look(Change::SecondTurned { lo: p + 1, m: s - 1, hi: q }));
                if p > 0 {
                    (p..(q - 1).min(p + LONGEST_TURNED))
                        .for_each(|m| look(Change::FirstTurned { lo: p, m, hi: q - 1 }));
                }
            } else {
                (q..p.min(q + LONGEST)).for_each(|m| look(Change::Swap { lo: q, m, hi: p }));
                ((q + 1).max(p.saturating_sub(LONGEST))..=p)
                    .for_each(|s| look(Change::Swap { lo: q, m: s - 1, hi: p }));
                (q.saturating_sub(LONGEST_TURNED).max(1)..=q)
                    .for_each(|lo| look(Change::FirstTurned { lo, m: q, hi: p }));
                (p..n.min(p + LONGEST_TURNED)).for_each(|hi| look(Change::SecondTurned { lo: q, m: p - 1, hi }));
            }
        }
        best.map(|b| b.1)
    }

    /// Exchanges two short stretches somewhere and settles again, keeping what is no longer.
    fn kick(&mut self) {
        let n = self.route.len();
        if n < 5 {
            return;
        }
        let mut dice = Dice(0x9e37_79b9_7f4a_7c15);
        for _ in 0..(KICKS * n).min(MOST_KICKS) {
            let lo = 1 + dice.below(n - 2);
            let m = lo + dice.below(KICKED.min(n - 1 - lo));
            let hi = m + 1 + dice.below(KICKED.min(n - 1 - m));
            let change = Change::Swap { lo, m, hi };
            if !self.allowed(change) {
                continue;
            }
            let (before, length) = (self.route.clone(), self.length());
            let moved = self.make(change);
            self.settle(moved);
            if self.length() > length - NOTHING {
                self.route = before;
                self.measure();
            }
        }
    }
}

/// Length of the way from one stop to another; quicker than with care for sizes that no plate has.
fn between(a: Stop, b: Stop) -> f64 {
    let by = b.start - a.end;
    libm::sqrt(by.dot(by))
}

/// The stops that are nearest to a stop's end.
fn nearest(stops: &[Stop], i: usize) -> Vec<usize> {
    let mut others: Vec<(f64, usize)> =
        (1..stops.len()).filter(|&j| j != i).map(|j| (between(stops[i], stops[j]), j)).collect();
    let order = |a: &(f64, usize), b: &(f64, usize)| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1));
    if others.len() > NEAR {
        others.select_nth_unstable_by(NEAR - 1, order);
        others.truncate(NEAR);
    }
    others.sort_by(order);
    others.into_iter().map(|o| o.1).collect()
}

/// The nearest next stop, of those that wait for nothing.
fn nearest_next(stops: &[Stop], after: &[Vec<usize>]) -> Vec<usize> {
    let mut waits = vec![0usize; stops.len()];
    after.iter().flatten().for_each(|&j| waits[j] += 1);
    let mut left: Vec<usize> = (1..stops.len()).collect();
    let (mut route, mut here) = (vec![0], 0);
    while !left.is_empty() {
        let key = |k: usize| (waits[left[k]] > 0, between(stops[here], stops[left[k]]), left[k]);
        let next = (0..left.len())
            .min_by(|&a, &b| {
                let (x, y) = (key(a), key(b));
                x.0.cmp(&y.0).then(x.1.total_cmp(&y.1)).then(x.2.cmp(&y.2))
            })
            .unwrap_or(0);
        here = left.swap_remove(next);
        after[here].iter().for_each(|&j| waits[j] = waits[j].saturating_sub(1));
        route.push(here);
    }
    route
}

/// Numbers that are as good as thrown, and the same every time.
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 33) as usize % n.max(1)
    }
}

#[cfg(test)]
mod tests;
