//! Moves as the oracle sees them: straight and round strokes of a flat cutter with exact distances in plan, and a plain
//! bucket grid over them.

use crate::text::{Course, Spin, Step, Way};
use plate::{Cutter, Form, Shop, SpindleSpeed};

/// Edges farther from a point than this aren't looked for, mm.
pub(crate) const FAR: f64 = 0.35;
/// Side of a bucket, mm.
const BUCKET: f64 = 1.0;
/// Arcs that stand upright are taken as chords within this, mm.
const CHORD: f64 = 0.000_1;

/// What the oracle must know of a cutter, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Tool {
    pub(crate) number: u32,
    pub(crate) radius: f64,
    pub(crate) flutes: f64,
    pub(crate) shank: f64,
    pub(crate) out: f64,
    pub(crate) nut: f64,
    pub(crate) body_from: f64,
    pub(crate) body: f64,
    pub(crate) teeth: f64,
    pub(crate) drills: bool,
    /// Thickest chip, mm.
    pub(crate) chip: f64,
    /// Deepest full slot, mm.
    pub(crate) depth: f64,
}

impl Tool {
    /// A flat cutter of the shop with its limits, reckoned here anew from the handbook formulas. Chip: 0.15 mm at
    /// 1/8 in (common practice, no source) or a quarter above the maker's own.
    pub(crate) fn new(shop: &Shop, cutter: &Cutter) -> Self {
        assert_eq!(cutter.form, Form::Flat, "the oracle knows flat cutters only");
        let width = cutter.cutting_width.to_mm();
        let chip = (0.15 / 3.175 * width).max(cutter.chip_load.map_or(0.0, |c| 1.25 * c.to_mm()));
        let nut = &shop.spindle;
        Self {
            number: cutter.number,
            radius: width / 2.0,
            flutes: cutter.flute_length.to_mm(),
            shank: cutter.shank.to_mm() / 2.0,
            out: cutter.stick_out.to_mm(),
            nut: nut.nut_diameter.to_mm() / 2.0,
            body_from: (cutter.stick_out + nut.nut_length).to_mm(),
            body: nut.body_diameter.to_mm() / 2.0,
            teeth: f64::from(cutter.flutes.max(1)),
            drills: cutter.may_drill,
            chip,
            depth: deepest(shop, cutter),
        }
    }

    /// The widest of what turns at heights up to `rise` above the tip.
    pub(crate) fn widest(&self, rise: f64) -> f64 {
        let parts = [(0.0, self.radius), (self.flutes, self.shank), (self.out, self.nut), (self.body_from, self.body)];
        parts.iter().filter(|p| rise > p.0).fold(0.0, |m, p| f64::max(m, p.1))
    }
}

/// Depth of a full slot in acrylic at 0.08 mm chip for 1/8 in (common practice, no source), 0.1 J/mm³, carbide of
/// 600 GPa and 670 N/mm²: what bends the tip by a hundredth of the width, what breaks the core at the flutes' end, what
/// the spindle's power turns to chips, the width itself, the flutes.
fn deepest(shop: &Shop, cutter: &Cutter) -> f64 {
    let (width, flutes) = (cutter.cutting_width.to_mm(), cutter.flute_length.to_mm());
    if let Some(own) = cutter.pass_depth {
        return own.to_mm().min(flutes);
    }
    let wanted = 200_000.0 / (std::f64::consts::PI * width);
    let speed = match &shop.spindle.speed {
        SpindleSpeed::Range { least, greatest } => wanted.clamp(least.to_rev_per_min(), greatest.to_rev_per_min()),
        SpindleSpeed::Dial(positions) => {
            let speeds = positions.iter().map(|p| p.1.to_rev_per_min());
            let below = speeds.clone().filter(|s| *s <= wanted).fold(0.0, f64::max);
            if below > 0.0 { below } else { speeds.fold(f64::INFINITY, f64::min) }
        }
    };
    let teeth = f64::from(cutter.flutes.max(1));
    let aim = cutter.chip_load.map_or(0.08 / 3.175 * width, quantity::Length::to_mm);
    let feed = cutter.feed.map_or(speed * teeth * aim, |f| f.to_mm_per_min());
    let feed = feed.min(shop.machine.greatest_feed.to_mm_per_min());
    // N for each mm of depth.
    let force = 100.0 * feed / (speed * teeth);
    let (core, shank) = (cutter.core.to_mm(), cutter.shank.to_mm());
    let moment = |d: f64| std::f64::consts::PI * d.powi(4) / 64.0;
    let out = cutter.stick_out.to_mm();
    let free = flutes.min(out);
    let give = (free.powi(3) / moment(core) + (out.powi(3) - free.powi(3)) / moment(shank)) / (3.0 * 600_000.0);
    let bend = 0.01 * width / (force * give);
    let stress = 670.0 / (32.0 * force * flutes / (std::f64::consts::PI * core.powi(3)));
    let power = shop.spindle.power / (0.1 * width * feed / 60.0);
    [bend, stress, power, width, flutes].into_iter().fold(f64::INFINITY, f64::min)
}

/// The way in plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Plan {
    Line,
    /// Centre, radius, first angle, signed sweep.
    Arc([f64; 2], f64, f64, f64),
    /// A rapid of several axes: anywhere in the box between its ends.
    Box,
}

/// One stroke.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stroke {
    pub(crate) program: usize,
    pub(crate) line: usize,
    pub(crate) plan: Plan,
    pub(crate) a: [f64; 3],
    pub(crate) b: [f64; 3],
    pub(crate) rapid: bool,
    pub(crate) feed: f64,
    pub(crate) spin: Spin,
    pub(crate) speed: f64,
    /// Index of the tool; the frame run has the first cutter's or its own.
    pub(crate) tool: usize,
    pub(crate) radius: f64,
    /// False in the frame run.
    pub(crate) cutting: bool,
}

/// The strokes of a program.
pub(crate) fn strokes(course: &Course, program: usize, tool: usize, radius: f64, cutting: bool, all: &mut Vec<Stroke>) {
    for step in &course.steps {
        let base = Stroke {
            program,
            line: step.line,
            plan: Plan::Line,
            a: step.from,
            b: step.to,
            rapid: step.way == Way::Rapid,
            feed: step.feed,
            spin: step.spin,
            speed: step.speed,
            tool,
            radius,
            cutting,
        };
        match step.way {
            Way::Rapid => {
                let moved = (0..3).filter(|&k| step.from[k] != step.to[k]).count();
                all.push(Stroke { plan: if moved > 1 { Plan::Box } else { Plan::Line }, ..base });
            }
            Way::Line => all.push(base),
            Way::Arc([0, 1, 2], centre, ccw) => {
                let (radius, first, sweep) = step.turn([0, 1, 2], centre, ccw);
                all.push(Stroke { plan: Plan::Arc(centre, radius, first, sweep), ..base });
            }
            Way::Arc(axes, centre, ccw) => upright(step, axes, centre, ccw, base, all),
        }
    }
}

/// An arc in an upright plane, as chords.
fn upright(step: &Step, axes: [usize; 3], centre: [f64; 2], ccw: bool, base: Stroke, all: &mut Vec<Stroke>) {
    let (radius, first, sweep) = step.turn(axes, centre, ccw);
    let chord = (8.0 * radius.max(CHORD) * CHORD).sqrt();
    let parts = ((radius * sweep.abs() / chord).ceil() as usize).clamp(8, 20_000);
    let at = |k: usize| {
        if k == 0 {
            return step.from;
        }
        if k == parts {
            return step.to;
        }
        let t = k as f64 / parts as f64;
        let mut p = [0.0; 3];
        p[axes[0]] = centre[0] + radius * (first + sweep * t).cos();
        p[axes[1]] = centre[1] + radius * (first + sweep * t).sin();
        p[axes[2]] = step.from[axes[2]] + (step.to[axes[2]] - step.from[axes[2]]) * t;
        p
    };
    all.extend((0..parts).map(|k| Stroke { a: at(k), b: at(k + 1), ..base }));
}

impl Stroke {
    pub(crate) fn low(&self) -> f64 {
        self.a[2].min(self.b[2])
    }

    /// The same way, whatever its line.
    pub(crate) fn same(&self, other: &Self) -> bool {
        Self { program: 0, line: 0, ..*self } == Self { program: 0, line: 0, ..*other }
    }

    /// Box in plan of its axis: least x, least y, greatest x, greatest y.
    pub(crate) fn bounds(&self) -> [f64; 4] {
        if let Plan::Arc(c, r, _, _) = self.plan {
            return [c[0] - r, c[1] - r, c[0] + r, c[1] + r];
        }
        let (a, b) = (self.a, self.b);
        [a[0].min(b[0]), a[1].min(b[1]), a[0].max(b[0]), a[1].max(b[1])]
    }

    /// Length in plan.
    pub(crate) fn length(&self) -> f64 {
        match self.plan {
            Plan::Arc(_, r, _, sweep) => r * sweep.abs(),
            _ => (self.b[0] - self.a[0]).hypot(self.b[1] - self.a[1]),
        }
    }

    /// Where it is at a share of its way.
    pub(crate) fn at(&self, t: f64) -> [f64; 3] {
        let mix = |k: usize| self.a[k] + (self.b[k] - self.a[k]) * t;
        match self.plan {
            Plan::Arc(c, r, first, sweep) => {
                let angle = first + sweep * t;
                [c[0] + r * angle.cos(), c[1] + r * angle.sin(), mix(2)]
            }
            _ => [mix(0), mix(1), mix(2)],
        }
    }

    /// The direction in plan at a share of its way; nought for a plumb one.
    pub(crate) fn direction(&self, t: f64) -> [f64; 2] {
        match self.plan {
            Plan::Arc(_, _, first, sweep) => {
                let angle = first + sweep * t;
                [-angle.sin() * sweep.signum(), angle.cos() * sweep.signum()]
            }
            _ => {
                let length = self.length();
                if length < 1e-9 {
                    return [0.0, 0.0];
                }
                [(self.b[0] - self.a[0]) / length, (self.b[1] - self.a[1]) / length]
            }
        }
    }

    /// Share of an arc's way at an angle; over 1 where it isn't on the arc.
    fn share(first: f64, sweep: f64, angle: f64) -> f64 {
        let turn = (angle - first) * sweep.signum();
        turn.rem_euclid(std::f64::consts::TAU) / sweep.abs().max(1e-15)
    }

    /// Distance in plan from a point to the stretch whose tip isn't above a height.
    pub(crate) fn distance(&self, p: [f64; 2], height: f64) -> f64 {
        if self.low() > height {
            return f64::INFINITY;
        }
        let (z0, z1) = (self.a[2], self.b[2]);
        let (t0, t1) = if z0.max(z1) <= height {
            (0.0, 1.0)
        } else {
            let cross = (height - z0) / (z1 - z0);
            if z1 > z0 { (0.0, cross.clamp(0.0, 1.0)) } else { (cross.clamp(0.0, 1.0), 1.0) }
        };
        let to = |t: f64| {
            let q = self.at(t);
            (q[0] - p[0]).hypot(q[1] - p[1])
        };
        match self.plan {
            Plan::Arc(c, r, first, sweep) => {
                let t = Self::share(first, sweep, (p[1] - c[1]).atan2(p[0] - c[0]));
                let ends = to(t0).min(to(t1));
                if t >= t0 && t <= t1 { ends.min(((p[0] - c[0]).hypot(p[1] - c[1]) - r).abs()) } else { ends }
            }
            Plan::Line => {
                let (dx, dy) = (self.b[0] - self.a[0], self.b[1] - self.a[1]);
                let square = dx * dx + dy * dy;
                let t = if square > 0.0 { ((p[0] - self.a[0]) * dx + (p[1] - self.a[1]) * dy) / square } else { t0 };
                to(t.clamp(t0, t1))
            }
            Plan::Box => {
                let b = self.bounds();
                (p[0] - p[0].clamp(b[0], b[2])).hypot(p[1] - p[1].clamp(b[1], b[3]))
            }
        }
    }

    /// The lowest tip that covers a point with a disc of a radius.
    pub(crate) fn lowest(&self, p: [f64; 2], radius: f64) -> Option<f64> {
        let (z0, z1) = (self.a[2], self.b[2]);
        if self.plan == Plan::Box || z0 == z1 {
            return (self.distance(p, f64::INFINITY) <= radius).then(|| self.low());
        }
        let covers = |t: f64| {
            let q = self.at(t);
            (q[0] - p[0]).hypot(q[1] - p[1]) <= radius + 1e-12
        };
        let mut best = f64::INFINITY;
        let mut take = |t: f64| best = best.min(z0 + (z1 - z0) * t);
        for t in [0.0, 1.0] {
            if covers(t) {
                take(t);
            }
        }
        match self.plan {
            Plan::Arc(c, r, first, sweep) => {
                let (dx, dy) = (p[0] - c[0], p[1] - c[1]);
                let d = dx.hypot(dy);
                let cosine = (r * r + d * d - radius * radius) / (2.0 * r * d).max(1e-15);
                if cosine.abs() <= 1.0 {
                    let (middle, half) = (dy.atan2(dx), cosine.acos());
                    for angle in [middle - half, middle + half] {
                        let t = Self::share(first, sweep, angle);
                        if t <= 1.0 {
                            take(t);
                        }
                    }
                }
            }
            _ => {
                let (dx, dy) = (self.b[0] - self.a[0], self.b[1] - self.a[1]);
                let (ex, ey) = (self.a[0] - p[0], self.a[1] - p[1]);
                let (qa, qb, qc) = (dx * dx + dy * dy, ex * dx + ey * dy, ex * ex + ey * ey - radius * radius);
                let root = qb * qb - qa * qc;
                if qa > 1e-18 && root >= 0.0 {
                    for t in [(-qb - root.sqrt()) / qa, (-qb + root.sqrt()) / qa] {
                        if (0.0..=1.0).contains(&t) {
                            take(t);
                        }
                    }
                }
            }
        }
        best.is_finite().then_some(best)
    }
}

/// Whether two boxes meet.
pub(crate) fn meet(a: [f64; 4], b: [f64; 4]) -> bool {
    a[0] <= b[2] && b[0] <= a[2] && a[1] <= b[3] && b[1] <= a[3]
}

/// A box grown on all sides.
pub(crate) fn grown(b: [f64; 4], by: f64) -> [f64; 4] {
    [b[0] - by, b[1] - by, b[2] + by, b[3] + by]
}

/// Strokes by bucket.
pub(crate) struct Buckets<'a> {
    strokes: &'a [Stroke],
    columns: usize,
    rows: usize,
    lists: Vec<Vec<u32>>,
}

impl<'a> Buckets<'a> {
    /// Sorts the cutting strokes that come below `top` over the blank.
    pub(crate) fn new(strokes: &'a [Stroke], size: [f64; 2], top: f64) -> Self {
        let (columns, rows) = ((size[0] / BUCKET).ceil() as usize + 2, (size[1] / BUCKET).ceil() as usize + 2);
        let mut lists = vec![Vec::new(); columns * rows];
        for (i, stroke) in strokes.iter().enumerate() {
            if stroke.low() >= top || stroke.plan == Plan::Box {
                continue;
            }
            let reach = stroke.radius + FAR;
            let b = grown(stroke.bounds(), reach);
            let cell = |v: f64, n: usize| (v / BUCKET + 1.0).clamp(0.0, n as f64 - 1.0) as usize;
            for row in cell(b[1], rows)..=cell(b[3], rows) {
                for column in cell(b[0], columns)..=cell(b[2], columns) {
                    let p = [(column as f64 - 0.5) * BUCKET, (row as f64 - 0.5) * BUCKET];
                    if stroke.distance(p, f64::INFINITY) <= reach + 0.71 * BUCKET {
                        lists[row * columns + column].push(i as u32);
                    }
                }
            }
        }
        Self { strokes, columns, rows, lists }
    }

    /// How far the cut reaches beyond a point at a height: the greatest of radius less distance. Not below -[`FAR`].
    pub(crate) fn reach(&self, p: [f64; 2], height: f64) -> (f64, Option<&'a Stroke>) {
        let (column, row) = ((p[0] / BUCKET + 1.0).floor(), (p[1] / BUCKET + 1.0).floor());
        let mut best = (-FAR, None);
        if column < 0.0 || row < 0.0 || column >= self.columns as f64 || row >= self.rows as f64 {
            return best;
        }
        for &i in &self.lists[row as usize * self.columns + column as usize] {
            let stroke = &self.strokes[i as usize];
            let value = stroke.radius - stroke.distance(p, height);
            if value > best.0 {
                best = (value, Some(stroke));
            }
        }
        best
    }
}

/// Distances and lowest tips against plain sampling of the way at 20,000 places.
#[test]
fn strokes_against_samples() {
    let mut number = 1u64;
    let mut random = || {
        number = number.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (number >> 40) as f64 / (1u64 << 24) as f64
    };
    let base = Stroke {
        program: 0,
        line: 0,
        plan: Plan::Line,
        a: [0.0; 3],
        b: [0.0; 3],
        rapid: false,
        feed: 0.0,
        spin: Spin::Forward,
        speed: 0.0,
        tool: 0,
        radius: 1.0,
        cutting: true,
    };
    for k in 0..300 {
        let mut at = || [4.0 * random(), 4.0 * random(), if k % 3 == 0 { 1.0 } else { 2.0 * random() }];
        let (a, mut b, p) = (at(), at(), at());
        let mut plan = Plan::Line;
        if k % 2 == 0 {
            let (r, first, sweep) = (0.3 + 2.0 * random(), 6.2 * random(), 12.4 * random() - 6.2);
            let c = [a[0] - r * first.cos(), a[1] - r * first.sin()];
            (b[0], b[1]) = (c[0] + r * (first + sweep).cos(), c[1] + r * (first + sweep).sin());
            plan = Plan::Arc(c, r, first, sweep);
        }
        let stroke = Stroke { plan, a, b, ..base };
        let (p, height) = ([p[0], p[1]], 2.0 * random());
        let (mut distance, mut lowest) = (f64::INFINITY, f64::INFINITY);
        for i in 0..=20_000 {
            let q = stroke.at(f64::from(i) / 20_000.0);
            let d = (q[0] - p[0]).hypot(q[1] - p[1]);
            if q[2] <= height {
                distance = distance.min(d);
            }
            if d <= 1.0 {
                lowest = lowest.min(q[2]);
            }
        }
        let exact = stroke.distance(p, height);
        assert!(exact == distance || (exact - distance).abs() < 0.002, "{stroke:?} {p:?} {height}: {exact} {distance}");
        let exact = stroke.lowest(p, 1.0).unwrap_or(f64::INFINITY);
        assert!(exact == lowest || (exact - lowest).abs() < 0.002, "{stroke:?} {p:?}: {exact} {lowest}");
    }
}
