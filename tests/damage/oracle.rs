//! A slow and simple judge of harm: every move sampled densely, cutters as discs, the blank as a coarse grid of heights.
//! It is meant to be easy to believe, not fine: it keeps quiet where its grid can't tell.

use crate::ground::{CELL, Ground, distance};
use crate::text::{Course, Step, Way};
use plate::{Intent, Shop};
use std::collections::{BTreeMap, HashMap};
use std::sync::Mutex;

/// Distance between samples along a move, mm.
const SAMPLE: f64 = 0.25;
/// Differences of height below this are not called harm, mm.
const SLIGHT: f64 = 0.05;
/// A disc may reach this far beyond a wall, mm.
const WALL: f64 = 0.03;
/// Looked at beside a point, mm.
const CRACK: [[f64; 2]; 3] = [[0.004, 0.002], [-0.004, 0.003], [0.001, -0.005]];

/// Sines and cosines of 75, 50, 25 degrees and so on, to both sides of the way ahead.
const FRONT: [[f64; 2]; 7] =
    [[-0.966, 0.259], [-0.766, 0.643], [-0.423, 0.906], [0.0, 1.0], [0.423, 0.906], [0.766, 0.643], [0.966, 0.259]];

/// What would go wrong.
#[derive(Debug, Clone)]
pub(crate) struct Harm {
    pub(crate) program: usize,
    /// Line of that program; 0 where no line does it (something left standing).
    pub(crate) line: usize,
    pub(crate) at: Option<[f64; 3]>,
    pub(crate) why: String,
}

/// What the undamaged programs do: the measure for what is missing, too deep or too thick.
#[derive(Debug, Clone, Default)]
pub(crate) struct Sound {
    heights: Vec<f64>,
    /// Height of the blank.
    start: f64,
    /// Greatest depth of a full slot by cutter.
    bites: BTreeMap<u32, f64>,
    /// Thickest chip by cutter.
    chips: BTreeMap<u32, f64>,
    /// The programs, with the blank as it was before each of them.
    before: Vec<(Course, Vec<f64>)>,
}

/// Whether and where a move's disc overruns a wall, by ends, centre and radius.
type Overruns = Mutex<HashMap<[u64; 10], Option<[f64; 3]>>>;

/// A table with a blank on it, holds and cutters.
pub(crate) struct Bench<'a> {
    pub(crate) ground: &'a Ground,
    pub(crate) shop: &'a Shop,
    pub(crate) intent: &'a Intent,
    pub(crate) overruns: &'a Overruns,
}

/// A run through all programs.
struct Run<'a> {
    bench: &'a Bench<'a>,
    sound: Option<&'a Sound>,
    heights: Vec<f64>,
    found: Sound,
    holds: Vec<(Vec<[f64; 4]>, f64)>,
    program: usize,
    tool: u32,
    radius: f64,
    flutes: f64,
}

impl Bench<'_> {
    /// Cuts the programs in order. What they leave, or the first harm.
    pub(crate) fn run(&self, courses: &[Course], sound: Option<&Sound>, other_holds: bool) -> Result<Sound, Harm> {
        let start = self.intent.blank.face_high.to_mm();
        let lines = |h: &plate::Hold| {
            let p = h.shape.flatten(0.01);
            (0..p.len()).map(|i| (p[i], p[(i + 1) % p.len()])).map(|(a, b)| [a.x, a.y, b.x, b.y]).collect()
        };
        let mut run = Run {
            bench: self,
            sound,
            heights: vec![start; self.ground.columns * self.ground.rows],
            found: Sound::default(),
            holds: self.intent.holds.iter().map(|h| (lines(h), h.top.to_mm())).collect(),
            program: 0,
            tool: 0,
            radius: 0.0,
            flutes: 1.0,
        };
        // What the undamaged programs did before the first that differs needn't be cut again.
        let same = |s: &Sound, i: usize| start == s.start && s.before.get(i).is_some_and(|b| b.0 == courses[i]);
        let skip = sound.filter(|_| !other_holds).map_or(0, |s| (0..courses.len()).take_while(|&i| same(s, i)).count());
        if let Some((_, heights)) = sound.and_then(|s| s.before.get(skip.min(courses.len() - 1))).filter(|_| skip > 0) {
            run.heights.clone_from(heights);
        }
        for (program, course) in courses.iter().enumerate().skip(skip.min(courses.len() - 1)) {
            run.program = program;
            if sound.is_none() {
                run.found.before.push((course.clone(), run.heights.clone()));
            }
            run.course(course)?;
        }
        if let Some(sound) = sound {
            run.compare(sound, start)?;
        }
        Ok(Sound { heights: run.heights, start, ..run.found })
    }
}

impl Run<'_> {
    fn harm<T>(&self, line: usize, at: Option<[f64; 3]>, why: impl Into<String>) -> Result<T, Harm> {
        Err(Harm { program: self.program, line, at, why: why.into() })
    }

    fn course(&mut self, course: &Course) -> Result<(), Harm> {
        let cutter = course.tool.and_then(|t| self.bench.shop.cutter(t));
        let Some(cutter) = cutter else { return self.harm(1, None, "no cutter of the shop is named") };
        (self.tool, self.radius, self.flutes) = (cutter.number, cutter.radius(), f64::from(cutter.flutes));
        let travel = self.bench.shop.machine.travel.map(|l| l.to_mm());
        let (mut least, mut most) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
        for step in &course.steps {
            for k in 0..3 {
                least[k] = least[k].min(step.from[k]).min(step.to[k]);
                most[k] = most[k].max(step.from[k]).max(step.to[k]);
                if most[k] - least[k] > travel[k] {
                    return self.harm(step.line, Some(step.to), "farther than the machine travels");
                }
            }
            self.step(step)?;
        }
        match course.troubles.first() {
            Some((line, words)) => self.harm(*line, None, words.clone()),
            None => Ok(()),
        }
    }

    fn step(&mut self, step: &Step) -> Result<(), Harm> {
        let low = step.from[2].min(step.to[2]);
        if low < self.bench.intent.blank.lowest().to_mm() - 1e-6 {
            return self.harm(step.line, Some(step.to), "into the table");
        }
        self.feed(step)?;
        let top = self.holds.iter().map(|h| h.1).fold(self.bench.intent.blank.face_high.to_mm(), f64::max);
        if low >= top {
            return Ok(());
        }
        if let Some(at) = self.overrun(step) {
            return self.harm(step.line, Some(at), "beyond a wall or below a floor");
        }
        self.entry(step)?;
        let samples = ((step.length() / SAMPLE).max((step.to[2] - step.from[2]).abs() / SAMPLE).ceil() as usize).max(1);
        let route = step.route();
        let (mut last, mut spans) = (step.from, Vec::new());
        for k in 0..=samples {
            let p = route.at(k as f64 / samples as f64);
            self.holds_at(step, p)?;
            let meets = (step.way == Way::Rapid || !step.spindle) && self.meets(p, SLIGHT);
            if meets && step.way == Way::Rapid {
                return self.harm(step.line, Some(p), "a rapid in material");
            }
            if meets && !step.spindle {
                return self.harm(step.line, Some(p), "a still spindle in material");
            }
            if k > 0 {
                self.bite(step, last, p)?;
            }
            self.spans(p, self.radius, &mut spans);
            for &(a, b) in &spans {
                for height in &mut self.heights[a..b] {
                    if *height > p[2] {
                        *height = p[2];
                    }
                }
            }
            last = p;
        }
        Ok(())
    }

    fn feed(&mut self, step: &Step) -> Result<(), Harm> {
        let (Some(feed), true) = (step.feed, step.way != Way::Rapid) else { return Ok(()) };
        let machine = &self.bench.shop.machine;
        let (flat, rise) = (step.length(), (step.to[2] - step.from[2]).abs());
        let whole = flat.hypot(rise).max(1e-9);
        let [most, most_z] = [machine.greatest_feed, machine.greatest_feed_z].map(|f| 1.2 * f.to_mm_per_min());
        if feed * flat / whole > most || feed * rise / whole > most_z {
            return self.harm(step.line, Some(step.to), "faster than the machine feeds");
        }
        let Some(speed) = step.speed else { return Ok(()) };
        let chip = feed / speed / self.flutes;
        let thickest = self.found.chips.entry(self.tool).or_default();
        *thickest = thickest.max(chip);
        let low = step.to[2].min(step.from[2]);
        match self.sound.and_then(|s| s.chips.get(&self.tool)) {
            Some(most) if chip > 3.0 * most && low < self.bench.intent.blank.face.to_mm() => {
                self.harm(step.line, Some(step.to), "a chip three times as thick as ever")
            }
            _ => Ok(()),
        }
    }

    /// The cells whose centres lie in a disc, as spans.
    fn spans(&self, p: [f64; 3], radius: f64, spans: &mut Vec<(usize, usize)>) {
        spans.clear();
        let (columns, rows) = (self.bench.ground.columns as f64, self.bench.ground.rows as f64);
        let first = ((p[1] - radius) / CELL - 0.5).ceil().clamp(0.0, rows) as usize;
        let end = (((p[1] + radius) / CELL - 0.5).floor() + 1.0).clamp(0.0, rows) as usize;
        for row in first..end {
            let dy = (row as f64 + 0.5) * CELL - p[1];
            let half = (radius * radius - dy * dy).max(0.0).sqrt();
            let a = ((p[0] - half) / CELL - 0.5).ceil().clamp(0.0, columns) as usize;
            let b = (((p[0] + half) / CELL - 0.5).floor() + 1.0).clamp(0.0, columns) as usize;
            if a < b {
                spans.push((row * self.bench.ground.columns + a, row * self.bench.ground.columns + b));
            }
        }
    }

    /// The disc without its rim, where the grid could be wrong.
    fn core(&self) -> f64 {
        (self.radius - 0.2).max(self.radius / 2.0)
    }

    /// Whether material stands more than `by` above the tip under the disc's core.
    fn meets(&self, p: [f64; 3], by: f64) -> bool {
        let mut spans = Vec::new();
        self.spans(p, self.core(), &mut spans);
        let stands = |h: f64| h > p[2] + by;
        stands(self.height(p[0], p[1])) || spans.iter().any(|&(a, b)| self.heights[a..b].iter().any(|&h| stands(h)))
    }

    fn height(&self, x: f64, y: f64) -> f64 {
        let (c, r) = ((x / CELL).floor(), (y / CELL).floor());
        let inside = c >= 0.0 && r >= 0.0 && c < self.bench.ground.columns as f64 && r < self.bench.ground.rows as f64;
        if inside { self.heights[r as usize * self.bench.ground.columns + c as usize] } else { f64::NEG_INFINITY }
    }

    fn holds_at(&self, step: &Step, p: [f64; 3]) -> Result<(), Harm> {
        for (lines, top) in &self.holds {
            if p[2] > top - SLIGHT {
                continue;
            }
            let q = [p[0], p[1]];
            let mut inside = false;
            let mut near = f64::INFINITY;
            for &l in lines {
                near = near.min(distance(l, q));
                inside ^= (l[1] > q[1]) != (l[3] > q[1]) && l[0] + (q[1] - l[1]) / (l[3] - l[1]) * (l[2] - l[0]) > q[0];
            }
            if inside || near < self.radius - SLIGHT {
                return self.harm(step.line, Some(p), "a hold");
            }
        }
        Ok(())
    }

    /// Straight or steeply down into standing material.
    fn entry(&self, step: &Step) -> Result<(), Harm> {
        let fall = step.from[2] - step.to[2];
        if step.way == Way::Rapid || fall < 0.1 || fall < 0.21 * step.length() {
            return Ok(());
        }
        let plumb = step.is_plumb();
        let deep = step.to[2] + if plumb { 0.1 } else { 0.2 };
        let mut spans = Vec::new();
        self.spans(step.to, self.core(), &mut spans);
        let cells: Vec<f64> = spans.iter().flat_map(|&(a, b)| &self.heights[a..b]).copied().collect();
        let all = cells.len() + 1;
        let stands =
            cells.iter().filter(|h| **h > deep).count() + usize::from(self.height(step.to[0], step.to[1]) > deep);
        match (plumb, stands as f64 / all as f64) {
            (true, share) if share > 0.25 => self.harm(step.line, Some(step.to), "straight down into material"),
            (false, share) if share > 0.6 => self.harm(step.line, Some(step.to), "steeply down into material"),
            _ => Ok(()),
        }
    }

    /// The depth that all of the front of the disc meets.
    fn bite(&mut self, step: &Step, from: [f64; 3], p: [f64; 3]) -> Result<(), Harm> {
        let (dx, dy) = (p[0] - from[0], p[1] - from[1]);
        let length = dx.hypot(dy);
        if length < 1e-6 {
            return Ok(());
        }
        let ahead = self.radius + 0.1;
        let front = FRONT.iter().map(|[s, c]| {
            let way = [(dx * c - dy * s) / length, (dx * s + dy * c) / length];
            self.height(p[0] + ahead * way[0], p[1] + ahead * way[1]) - p[2]
        });
        let least = front.fold(f64::INFINITY, f64::min);
        let deepest = self.found.bites.entry(self.tool).or_default();
        *deepest = deepest.max(least);
        match self.sound.and_then(|s| s.bites.get(&self.tool)) {
            Some(most) if least > 2.0 * most.max(0.1) => {
                self.harm(step.line, Some(p), format!("a slot {least:.2} deep, twice the deepest of this cutter"))
            }
            _ => Ok(()),
        }
    }

    /// Where the disc first reaches beyond a wall, or below a floor.
    fn overrun(&self, step: &Step) -> Option<[f64; 3]> {
        if step.from[2].min(step.to[2]) > self.bench.intent.blank.face.to_mm() - SLIGHT {
            return None;
        }
        let (centre, turn) = match step.way {
            Way::Arc(c, ccw) => (c, if ccw { 1.0 } else { -1.0 }),
            _ => ([0.0; 2], 0.0),
        };
        let ([a, b, c], [d, e, f]) = (step.from, step.to);
        let key = [a, b, c, d, e, f, centre[0], centre[1], turn, self.radius].map(f64::to_bits);
        if let Some(known) = self.bench.overruns.lock().unwrap().get(&key) {
            return *known;
        }
        let found = self.overruns(step);
        self.bench.overruns.lock().unwrap().insert(key, found);
        found
    }

    fn overruns(&self, step: &Step) -> Option<[f64; 3]> {
        let samples = ((step.length() / SAMPLE).max((step.to[2] - step.from[2]).abs() / SAMPLE).ceil() as usize).max(1);
        let points = if self.radius > 1.0 { 64 } else { 32 };
        let reach = self.radius - WALL;
        let rim: Vec<[f64; 2]> = (0..points)
            .map(|k| std::f64::consts::TAU * f64::from(k) / f64::from(points))
            .map(|a| [reach * a.cos(), reach * a.sin()])
            .chain([[0.0; 2]])
            .collect();
        let route = step.route();
        (0..=samples).find_map(|k| {
            let p = route.at(k as f64 / samples as f64);
            let over = |q: [f64; 2]| self.bench.ground.wanted(q) - SLIGHT - 0.01 > p[2];
            // Where two areas meet, their flattened edges may leave a crack of less than a micron that is neither.
            let over = |r: &&[f64; 2]| {
                let q = [p[0] + r[0], p[1] + r[1]];
                over(q) && CRACK.iter().all(|c| over([q[0] + c[0], q[1] + c[1]]))
            };
            rim.iter().find(over).map(|r| [p[0] + r[0], p[1] + r[1], p[2]])
        })
    }

    /// What is left at the end against what the undamaged programs leave.
    fn compare(&self, sound: &Sound, start: f64) -> Result<(), Harm> {
        let ground = self.bench.ground;
        let off = |i: usize| {
            let meant = if sound.heights[i] >= sound.start { start } else { sound.heights[i] };
            if ground.counts[i] { self.heights[i] - meant } else { 0.0 }
        };
        for i in 0..self.heights.len() - ground.columns - 1 {
            let four = [i, i + 1, i + ground.columns, i + ground.columns + 1].map(off);
            let [p, q] = ground.centre(i);
            let at = Some([p + CELL / 2.0, q + CELL / 2.0, self.heights[i]]);
            if four.iter().all(|d| *d > SLIGHT) {
                return self.harm(0, at, "material left that the undamaged programs clear");
            }
            if four.iter().all(|d| *d < -SLIGHT) {
                return self.harm(0, at, "cut deeper than by the undamaged programs");
            }
        }
        Ok(())
    }
}
