//! How much of a cutter is in material: the directions of its front that no leg before has cut free.
//!
//! It is reckoned from the shapes that the legs sweep, not from the grid: round the cutter's axis, at half the depth of
//! its bite, each earlier leg frees a stretch of directions whose ends are where circles and lines cross. What is left of
//! the half circle ahead is engaged. A chip is `fz cos(a)` thick at a direction that is `a` aside of the way ahead.
//!
//! Directions are told by their sines, which grow from right to left over the half ahead: angles are asked for only of what is
//! left engaged.

use crate::leg::{Leg, Run, Sweep};
use crate::relief::Tooling;
use memo::{Key, Print};
use plane::{Bounds, Point, Segment};
use rayon::prelude::*;
use std::sync::OnceLock;

/// Side of a cell of the index, mm.
const CELL: f64 = 1.0;
/// What is freed by less than this isn't told from what the cutter stands at, mm.
const NEAR: f64 = 1e-6;
/// Cells of the index at most.
const MOST_CELLS: f64 = 4e6;

/// What one place of a path asks of the cutter.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Engaged {
    /// Angle of the cutter's front in material, radians, up to pi.
    pub(crate) angle: f64,
    /// Thickest chip, as a share of the feed per flute.
    pub(crate) thickest: f64,
    /// Mean chip over the engaged angle, as a share of the feed per flute.
    pub(crate) mean: f64,
    /// Radial width of the cut, mm: its share of the removal rate.
    pub(crate) width: f64,
}

impl Engaged {
    /// The greater of each figure.
    pub(crate) fn or_more(self, other: Self) -> Self {
        Self {
            angle: self.angle.max(other.angle),
            thickest: self.thickest.max(other.thickest),
            mean: self.mean.max(other.mean),
            width: self.width.max(other.width),
        }
    }
}

/// The paths of all legs by program and place: a fine cutter that passes farther off than it reaches is never looked at.
pub(crate) struct Paths<'a> {
    legs: &'a [Leg],
    tooling: &'a [Option<Tooling>],
    size: Bounds,
    /// The blank and as much round it as a cutter reaches.
    bounds: Bounds,
    /// The lowest tip of each stage, mm.
    lowest: Vec<f64>,
    cell: f64,
    columns: usize,
    rows: usize,
    starts: Vec<u32>,
    members: Vec<Member>,
    /// Of each leg's way in the plane, once somebody asked for them.
    ways: OnceLock<Vec<Print>>,
}

/// A leg in a cell of the index, with what passes most of them by.
#[derive(Debug, Clone, Copy)]
struct Member {
    leg: u32,
    /// Not higher than the leg's lowest tip.
    low: f32,
    /// What its cutter sweeps lies in this box.
    swept: [f32; 4],
}

impl Member {
    fn new(i: usize, leg: &Leg, radius: f64) -> Self {
        let b = leg.bounds(radius);
        // Rounded outward: a part in a million is more than f32 loses.
        let out = |v: f64, side: f64| (v + side * (1e-6 * v.abs() + 1e-6)) as f32;
        let swept = [out(b.min.x, -1.0), out(b.min.y, -1.0), out(b.max.x, 1.0), out(b.max.y, 1.0)];
        Self { leg: i as u32, low: out(leg.lowest(), -1.0), swept }
    }

    /// Whether it comes below a height and may meet a box.
    fn meets(&self, height: f32, around: [f32; 4]) -> bool {
        self.low < height
            && self.swept[0] <= around[2]
            && self.swept[2] >= around[0]
            && self.swept[1] <= around[3]
            && self.swept[3] >= around[1]
    }
}

impl<'a> Paths<'a> {
    /// Sorts the legs that come below `top` over a blank.
    pub(crate) fn new(legs: &'a [Leg], tooling: &'a [Option<Tooling>], size: Bounds, top: f64) -> Self {
        let widest = tooling.iter().flatten().map(|t| t.profile.radius).fold(0.0, f64::max);
        let bounds = size.grown(widest);
        let mut lowest = vec![f64::INFINITY; tooling.len()];
        legs.iter().for_each(|leg| lowest[leg.stage] = lowest[leg.stage].min(leg.lowest()));
        let cell = CELL.max((bounds.width() * bounds.height() * tooling.len() as f64 / MOST_CELLS).sqrt());
        let columns = (bounds.width() / cell).ceil().max(1.0) as usize;
        let rows = (bounds.height() / cell).ceil().max(1.0) as usize;
        let mut paths = Self {
            legs,
            tooling,
            size,
            bounds,
            lowest,
            cell,
            columns,
            rows,
            starts: vec![],
            members: vec![],
            ways: OnceLock::new(),
        };
        let mut entries: Vec<(u32, u32)> = Vec::new();
        for (i, leg) in legs.iter().enumerate() {
            if leg.lowest() < top && leg.run != Run::Boxed && tooling[leg.stage].is_some() {
                // What runs farther off frees nothing of the blank.
                if leg.bounds(0.0).meets(bounds) {
                    paths.visit(leg.bounds(0.0), |cell, at| {
                        if leg.distance(at) <= 0.708 * paths.cell {
                            entries.push(((leg.stage * columns * rows + cell) as u32, i as u32));
                        }
                    });
                }
            }
        }
        entries.sort_unstable();
        let cells = tooling.len() * columns * rows;
        let mut starts = vec![0u32; cells + 1];
        for &(cell, _) in &entries {
            starts[cell as usize + 1] += 1;
        }
        for i in 0..cells {
            starts[i + 1] += starts[i];
        }
        let member = |i: u32| {
            let leg = &legs[i as usize];
            // A cutter that widens upward is no wider than this below `top`.
            let radius = tooling[leg.stage].as_ref().map_or(0.0, |t| t.profile.radius_at(top - leg.lowest()));
            Member::new(i as usize, leg, radius)
        };
        (paths.starts, paths.members) = (starts, entries.into_iter().map(|e| member(e.1)).collect());
        paths
    }

    /// Cells that a box meets, with their middles.
    fn visit(&self, b: Bounds, mut visit: impl FnMut(usize, Point)) {
        let index = |v: f64, n: usize| ((v / self.cell).max(0.0) as usize).min(n - 1);
        let (low, high) = (b.min - self.bounds.min, b.max - self.bounds.min);
        for row in index(low.y, self.rows)..=index(high.y, self.rows) {
            for column in index(low.x, self.columns)..=index(high.x, self.columns) {
                let at = Point::new((column as f64 + 0.5) * self.cell, (row as f64 + 0.5) * self.cell);
                visit(row * self.columns + column, self.bounds.min + at);
            }
        }
    }

    /// Legs up to one that come below a height and may sweep into a box there; one of several cells comes several times.
    fn before(&self, index: usize, height: f64, swept: Bounds, mut visit: impl FnMut(u32)) {
        let around = [swept.min.x, swept.min.y, swept.max.x, swept.max.y].map(|v| v as f32);
        for stage in 0..=self.legs[index].stage {
            let (low, Some(tooling)) = (self.lowest[stage], &self.tooling[stage]) else { continue };
            if low >= height {
                continue;
            }
            // No leg of the program has swept wider at that height.
            let near = swept.grown(tooling.profile.radius_at(height - low));
            self.visit(near, |cell, _| {
                let cell = stage * self.columns * self.rows + cell;
                let members = &self.members[self.starts[cell] as usize..self.starts[cell + 1] as usize];
                for member in members.iter().take_while(|m| m.leg as usize <= index) {
                    if member.meets(height as f32, around) {
                        visit(member.leg);
                    }
                }
            });
        }
    }

    /// The engagement at a share of a leg that bites this deep.
    pub(crate) fn engaged(&self, index: usize, share: f64, bite: f64) -> Engaged {
        let leg = &self.legs[index];
        let Some(tooling) = &self.tooling[leg.stage] else { return Engaged::default() };
        let (p, Some(ahead)) = (leg.path.at(share), leg.path.direction(share)) else { return Engaged::default() };
        let tip = leg.z[0] + (leg.z[1] - leg.z[0]) * share;
        let height = tip + 0.5 * bite;
        let radius = tooling.profile.radius_at(0.5 * bite);
        if radius <= 2.0 * NEAR {
            return Engaged::default();
        }
        let front = Front { p, ahead, radius };
        let mut free: Vec<(f64, f64)> = Vec::with_capacity(32);
        front.off_blank(self.size, &mut free);
        // Only the half ahead is asked for.
        let (left, right) = (p + ahead.left() * radius, p - ahead.left() * radius);
        let half = Bounds::of([left, right, left + ahead * radius, right + ahead * radius]);
        let mut seen: Vec<u32> = Vec::with_capacity(64);
        self.before(index, height, half, |k| {
            if !seen.contains(&k) {
                seen.push(k);
                self.free_by(k as usize, (index, share), height, &front, &mut free);
            }
        });
        front.rest(&mut free)
    }

    /// What decides the engagement everywhere on a level leg that bites this deep: the ways of all legs before it that come near
    /// below the height that is looked at, wherever that height is. `None` for other legs.
    pub(crate) fn print(&self, index: usize, bite: f64) -> Option<Print> {
        let leg = &self.legs[index];
        let tooling = self.tooling[leg.stage].as_ref().filter(|_| leg.is_level())?;
        let height = leg.z[0] + 0.5 * bite;
        let radius = tooling.profile.radius_at(0.5 * bite);
        let ways =
            self.ways.get_or_init(|| self.legs.par_iter().map(|l| Key::named("way").with(&l.path).print()).collect());
        let mut near: Vec<u32> = Vec::with_capacity(64);
        self.before(index, height, leg.bounds(radius), |k| near.push(k));
        near.sort_unstable();
        near.dedup();
        let mut key =
            Key::named("engaged alike").with(&[self.size.min, self.size.max]).with(&ways[index]).with(&radius);
        for k in near {
            // Of the leg itself what is behind each place frees.
            if let Some((from, to, reach)) = self.freed(k as usize, 1.0, height) {
                key = key.with(&ways[k as usize]).with(&[from, to, reach]).with(&(k as usize == index));
            }
        }
        Some(key.print())
    }

    /// Adds the directions that a leg has freed at a height.
    fn free_by(&self, k: usize, now: (usize, f64), height: f64, front: &Front, free: &mut Vec<(f64, f64)>) {
        // Of the leg itself what is behind.
        let until = if k == now.0 { now.1 } else { 1.0 };
        let Some((from, to, reach)) = self.freed(k, until, height) else { return };
        let leg = &self.legs[k];
        if leg.distance(front.p) < reach + front.radius {
            let path = if from > 0.0 || to < 1.0 { leg.path.piece(from, to) } else { leg.path };
            front.free_beside(&path, reach, free);
        }
    }

    /// The stretch of a leg that came below a height, as shares of it up to `until`, and how far beside it that frees, mm.
    fn freed(&self, k: usize, until: f64, height: f64) -> Option<(f64, f64, f64)> {
        let leg = &self.legs[k];
        let tooling = self.tooling[leg.stage].as_ref()?;
        if leg.lowest() >= height {
            return None;
        }
        let [z0, z1] = leg.z;
        let (mut from, mut to) = (0.0, until);
        if z0 > height || z1 > height {
            let cross = (height - z0) / (z1 - z0);
            if z1 < z0 { from = cross.min(until) } else { to = cross.min(until) }
        }
        // Edges that aren't upright: the least that the stretch has freed.
        let highest = (z0 + (z1 - z0) * from).max(z0 + (z1 - z0) * to);
        let reach = tooling.profile.radius_at((height - highest).max(0.0)) - NEAR;
        (reach > 0.0).then_some((from, to, reach))
    }
}

/// The half circle ahead of a cutter.
struct Front {
    p: Point,
    ahead: Point,
    radius: f64,
}

impl Front {
    /// The place on it in a direction.
    fn at(&self, sine: f64) -> Point {
        self.p + (self.ahead * (1.0 - sine * sine).max(0.0).sqrt() + self.ahead.left() * sine) * self.radius
    }

    /// Sine of the direction of a point on the circle as seen from the way ahead.
    fn sine(&self, to: Point) -> f64 {
        (self.ahead.cross(to) / self.radius).clamp(-1.0, 1.0)
    }

    /// Directions in which the shape about a path covers the circle.
    fn free_beside(&self, path: &Segment, reach: f64, free: &mut Vec<(f64, f64)>) {
        let mut cuts = [0.0; 12];
        let mut count = 0;
        let mut cut = |to: Point| {
            if self.ahead.dot(to) > 0.0 {
                cuts[count] = self.sine(to);
                count += 1;
            }
        };
        self.cross_circle(path.start(), reach, &mut cut);
        self.cross_circle(path.end(), reach, &mut cut);
        match *path {
            Segment::Line { a, b } => {
                if let Some(along) = (b - a).unit() {
                    self.cross_line(a + along.left() * reach, along, &mut cut);
                    self.cross_line(a - along.left() * reach, along, &mut cut);
                }
            }
            Segment::Arc { centre, radius, .. } => {
                self.cross_circle(centre, radius + reach, &mut cut);
                self.cross_circle(centre, (radius - reach).abs(), &mut cut);
            }
        }
        let cuts = &mut cuts[..count];
        cuts.sort_by(f64::total_cmp);
        let sweep = Sweep::about(path, reach);
        let mut from = -1.0;
        for to in cuts.iter().copied().chain([1.0]) {
            if to > from && sweep.covers(self.at(0.5 * (from + to))) {
                free.push((from, to));
            }
            from = to.max(from);
        }
    }

    /// Where another circle crosses the circle.
    fn cross_circle(&self, centre: Point, radius: f64, cut: &mut impl FnMut(Point)) {
        let to = centre - self.p;
        let square = to.dot(to);
        if square <= 0.0 {
            return;
        }
        let share = 0.5 * (square + self.radius * self.radius - radius * radius) / square;
        let aside = self.radius * self.radius / square - share * share;
        if aside >= 0.0 {
            let aside = to.left() * aside.sqrt();
            cut(to * share + aside);
            cut(to * share - aside);
        }
    }

    /// Where a line crosses the circle.
    fn cross_line(&self, on: Point, along: Point, cut: &mut impl FnMut(Point)) {
        let to = on - self.p;
        let foot = to - along * to.dot(along);
        let rest = self.radius * self.radius - foot.dot(foot);
        if rest >= 0.0 {
            cut(foot + along * rest.sqrt());
            cut(foot - along * rest.sqrt());
        }
    }

    /// Directions that lie beyond the blank.
    fn off_blank(&self, size: Bounds, free: &mut Vec<(f64, f64)>) {
        if size.contains(self.p) && size.grown(-self.radius).contains(self.p) {
            return;
        }
        let mut cuts = vec![-1.0, 1.0];
        let mut cut = |to: Point| {
            if self.ahead.dot(to) > 0.0 {
                cuts.push(self.sine(to));
            }
        };
        for (on, along) in [
            (size.min, Point::new(1.0, 0.0)),
            (size.min, Point::new(0.0, 1.0)),
            (size.max, Point::new(1.0, 0.0)),
            (size.max, Point::new(0.0, 1.0)),
        ] {
            self.cross_line(on, along, &mut cut);
        }
        cuts.sort_by(f64::total_cmp);
        for pair in cuts.windows(2) {
            if pair[1] > pair[0] && !size.contains(self.at(0.5 * (pair[0] + pair[1]))) {
                free.push((pair[0], pair[1]));
            }
        }
    }

    /// What is left of the half circle.
    fn rest(&self, free: &mut [(f64, f64)]) -> Engaged {
        free.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut engaged = Engaged::default();
        let mut share = 0.0;
        let mut take = |from: f64, to: f64| {
            if to > from {
                let nearest = if from > 0.0 {
                    from
                } else if to < 0.0 {
                    to
                } else {
                    0.0
                };
                engaged.angle += libm::asin(to) - libm::asin(from);
                engaged.thickest = engaged.thickest.max((1.0 - nearest * nearest).max(0.0).sqrt());
                share += to - from;
            }
        };
        let mut at = -1.0;
        for &(from, to) in free.iter() {
            take(at, from);
            at = at.max(to);
        }
        take(at, 1.0);
        engaged.width = share * self.radius;
        engaged.mean = if engaged.angle > 0.0 { share / engaged.angle } else { 0.0 };
        engaged
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::leg::Way;
    use crate::profile::{Edge, Profile};
    use std::f64::consts::{FRAC_2_PI, PI};

    const R: f64 = 1.5875;

    fn tooling() -> [Option<Tooling>; 1] {
        let profile = Profile {
            edge: Edge::Flat,
            radius: R,
            flutes: 20.0,
            shank_radius: R,
            stick_out: 30.0,
            nut_radius: 8.0,
            body_from: 45.0,
            body_radius: 30.0,
        };
        [Some(Tooling { profile, deep: 9.0 })]
    }

    fn leg(path: Segment) -> Leg {
        at(path, [4.0; 2])
    }

    fn at(path: Segment, z: [f64; 2]) -> Leg {
        Leg::new(Way { stage: 0, line: 1, run: Run::Feed, feed: Some(1000.0), step: 0 }, path, z)
    }

    fn line(a: (f64, f64), b: (f64, f64)) -> Leg {
        leg(Segment::Line { a: Point::new(a.0, a.1), b: Point::new(b.0, b.1) })
    }

    /// A round of quarter turns.
    fn round(centre: Point, radius: f64, turn: f64) -> Vec<Leg> {
        (0..4)
            .map(|k| {
                let (from, sweep) = (f64::from(k) * PI / 2.0 * turn, PI / 2.0 * turn);
                let at = |a: f64| centre + Point::at_angle(a) * radius;
                leg(Segment::Arc { a: at(from), b: at(from + sweep), centre, radius, from, sweep })
            })
            .collect()
    }

    #[track_caller]
    fn expect(legs: &[Leg], index: usize, share: f64, degrees: f64) -> Engaged {
        let tooling = tooling();
        let size = Bounds { min: Point::default(), max: Point::new(60.0, 60.0) };
        let paths = Paths::new(legs, &tooling, size, 6.0);
        let engaged = paths.engaged(index, share, 1.0);
        let is = engaged.angle.to_degrees();
        // Half a degree is asked for; NEAR blurs the ends by some hundredths.
        assert!((is - degrees).abs() < 0.1, "{is} degrees, not {degrees}");
        engaged
    }

    /// A print stays where all heights move, and tells a leg beside that ran elsewhere, later, or not below the height looked at.
    #[test]
    fn prints_tell_what_is_near_but_not_how_high() {
        let size = Bounds { min: Point::default(), max: Point::new(60.0, 60.0) };
        let print = |legs: &[Leg], index: usize| Paths::new(legs, &tooling(), size, 6.0).print(index, 1.0);
        let at = |y: f64, z: [f64; 2]| at(line((5.0, y), (55.0, y)).path, z);
        let two = |down: f64| [at(20.0, [4.0 - down; 2]), at(21.0, [4.0 - down; 2])];
        let same = print(&two(0.0), 1);
        assert!(same.is_some());
        assert_eq!(print(&two(0.3), 1), same);
        assert_ne!(print(&[at(20.1, [4.0; 2]), at(21.0, [4.0; 2])], 1), same, "it ran elsewhere");
        assert_ne!(print(&[at(21.0, [4.0; 2]), at(20.0, [4.0; 2])], 0), same, "it comes later");
        assert_ne!(print(&[at(20.0, [4.6; 2]), at(21.0, [4.0; 2])], 1), same, "it ran above");
        assert_eq!(print(&[at(20.0, [4.0; 2]), at(30.0, [4.0; 2]), at(21.0, [4.0; 2])], 2), same, "one farther off");
        assert_eq!(print(&[at(20.0, [4.0, 4.1])], 0), None, "it isn't level");
    }

    /// theta = acos(1 - 2 ae / D): 36.8699, 60 and 90 degrees for ae / D 0.1, 0.25, 0.5; greatest chip sin(theta), mean
    /// (1 - cos theta) / theta (handbook formulas, derived).
    #[test]
    fn straight_cuts() {
        for (share, degrees, thickest, mean) in
            [(0.1, 36.8699, 0.6, 0.31080), (0.25, 60.0, 0.8660, 0.47746), (0.5, 90.0, 1.0, FRAC_2_PI)]
        {
            let over = 2.0 * R * share;
            // The ground to the right of the second pass is free.
            let mut legs: Vec<Leg> =
                (0..4).map(|k| line((5.0, 20.0 - f64::from(k)), (55.0, 20.0 - f64::from(k)))).collect();
            legs.push(line((5.0, 20.0 + over), (55.0, 20.0 + over)));
            let engaged = expect(&legs, 4, 0.5, degrees);
            assert!((engaged.thickest - thickest).abs() < 2e-3, "{engaged:?}");
            assert!((engaged.mean - mean).abs() < 2e-3, "{engaged:?}");
            assert!((engaged.width - over).abs() < 2e-3, "{engaged:?}");
        }
    }

    /// A slot: half a turn, mean chip 2 / pi, width D. From the blank's edge inward the same, and nothing outside it.
    #[test]
    fn slots_and_edges() {
        let legs =
            [line((5.0, 20.0), (55.0, 20.0)), line((-10.0, 40.0), (50.0, 40.0)), line((5.0, 20.0), (55.0, 20.0))];
        let engaged = expect(&legs, 0, 0.5, 180.0);
        assert!((engaged.mean - FRAC_2_PI).abs() < 2e-3 && (engaged.width - 2.0 * R).abs() < 2e-3, "{engaged:?}");
        expect(&legs, 1, 0.5, 180.0);
        expect(&legs, 1, 0.05, 0.0);
        // The same way again is free but for what NEAR leaves: twice sqrt(2 NEAR / r).
        expect(&legs, 2, 0.5, 0.13);
        // What a way off the blank has freed of it counts: 1.2 mm off, then over the same ground from inside.
        let legs = [line((5.0, -1.2), (55.0, -1.2)), line((5.0, 0.0), (55.0, 0.0))];
        let freed = libm::acos((R - 1.2) / R).to_degrees();
        let engaged = expect(&legs, 1, 0.5, freed);
        assert!(engaged.width < R, "{engaged:?}");
        // Along the edge of the blank with half the cutter on it: a quarter turn.
        expect(&[line((5.0, 0.0), (55.0, 0.0))], 0, 0.5, 90.0);
    }

    /// Widening a round hole: r 1.5875 on a path of 3 in a hole of 4.0875 is engaged by 57.0013 degrees; outside a boss
    /// with the same ae of 0.5, 34.3649, by acos((Rc² - p² - r²) / (2 p r)) and its mirror (derived).
    #[test]
    fn holes_and_bosses() {
        let centre = Point::new(30.0, 30.0);
        // The hole as it was: rounds that leave nothing inside 4.0875.
        let mut legs = Vec::new();
        for radius in [0.4, 1.5, 4.0875 - R] {
            legs.extend(round(centre, radius, 1.0));
        }
        let first = legs.len();
        legs.extend(round(centre, 3.0, 1.0));
        expect(&legs, first + 1, 0.5, 57.0013);
        // A boss of 1.9125 made 0.5 smaller from a path of 3, the ground round it free.
        let (p, ae) = (3.0, 0.5);
        let mut legs = Vec::new();
        for k in 0..6 {
            legs.extend(round(centre, p + ae + 1.2 * f64::from(k), -1.0));
        }
        let first = legs.len();
        legs.extend(round(centre, p, -1.0));
        expect(&legs, first + 1, 0.5, 34.3649);
    }

    /// A sharp inside corner of 90 degrees with passes a quarter of D apart: theta + 180 - 90 = 150 degrees (derived), just
    /// before the cutter stands in the corner.
    #[test]
    fn sharp_inside_corner() {
        let over = 0.25 * 2.0 * R;
        let mut legs = Vec::new();
        for k in (0..5).rev() {
            let by = over * f64::from(k + 1);
            legs.push(line((10.0, 10.0 + by), (40.0 - by, 10.0 + by)));
            legs.push(line((40.0 - by, 10.0 + by), (40.0 - by, 50.0)));
        }
        legs.push(line((10.0, 10.0), (40.0, 10.0)));
        let last = legs.len() - 1;
        expect(&legs, last, 0.5, 60.0);
        expect(&legs, last, 1.0 - 1e-6, 150.0);
    }

    /// A full turn in its own slot: behind the cutter nothing is left, ahead half a turn until the circle closes.
    #[test]
    fn a_circle_closes_on_itself() {
        let legs = round(Point::new(30.0, 30.0), 10.0, 1.0);
        expect(&legs, 0, 0.9, 180.0);
        expect(&legs, 3, 0.5, 180.0);
    }
}
