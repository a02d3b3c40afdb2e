//! Judges a mutant harmful or harmless: what its moves leave of the walls and floors, and what it breaks on the way. Slow
//! and simple, in double precision, no code shared with the prover.
//!
//! It knows the unbroken programs and so looks only where a mutant's moves differ. Where a figure is within a hair of its
//! limit the mutant is *on the line*: no verdict on it is wrong.

use crate::cutting::cut;
use crate::shape::{FACE, Levels, MARGIN, Shape, hold_points, inside};
use crate::strokes::{Buckets, Plan, Stroke, Tool, grown, meet, strokes};
use crate::text::{Course, follow};
use plate::{Hold, Shop};

/// Walls may be off by this, mm, and so much about it is on the line.
const WALL: f64 = 0.010;
const NEAR_WALL: f64 = 0.001;
/// Floors may be off by this, mm, and so much about it is on the line.
const FLOOR: f64 = 0.002;
const NEAR_FLOOR: f64 = 0.000_7;
/// Walls are touched this far below their top and above their floor, mm.
const BELOW: f64 = 0.004;
const ABOVE: f64 = 0.005;

/// What would go wrong.
#[derive(Debug, Clone)]
pub(crate) struct Harm {
    pub(crate) line: String,
    pub(crate) why: String,
}

/// The oracle's answer.
#[derive(Debug, Clone)]
pub(crate) enum Judged {
    Harmful(Harm),
    /// Within a hair of a limit: why.
    OnTheLine(String),
    /// Nothing breaks, but chips are so thin that the cutter rubs; limits of what breaks aren't touched.
    Rubs,
    Harmless,
}

/// Programs with all that they are run in.
pub(crate) struct World<'a> {
    pub(crate) shape: &'a Shape,
    pub(crate) levels: Levels,
    pub(crate) holds: &'a [Hold],
    pub(crate) shop: &'a Shop,
    /// Names and texts.
    pub(crate) programs: &'a [(String, String)],
    /// By which the plate lies elsewhere.
    pub(crate) moved: [f64; 2],
    /// Whether the unbroken programs' loads are taken as the measure.
    pub(crate) measuring: bool,
}

/// What is known of the unbroken programs.
#[derive(Default)]
pub(crate) struct Sound {
    pub(crate) strokes: Vec<Stroke>,
    pub(crate) tools: Vec<Tool>,
    levels: Option<Levels>,
    holds: Vec<Hold>,
    /// Cut beyond each probe just above its floor, and just above the tabs.
    low: Vec<f64>,
    over_tabs: Vec<f64>,
    /// Cut beyond each spot at its floor.
    floors: Vec<f64>,
    /// The longest stretch of groove uncut, mm, and the groove's width.
    longest: f64,
    groove: f64,
    /// Greatest load against what is allowed, by tool number.
    pub(crate) loads: Vec<(u32, f64)>,
}

/// What is found on the way.
#[derive(Default)]
pub(crate) struct Finder {
    pub(crate) on_the_line: Option<String>,
    pub(crate) rubs: bool,
    /// Whether a cutter is thinner than the programs were made for.
    worn: bool,
    pub(crate) loads: Vec<(u32, f64)>,
}

impl Finder {
    pub(crate) fn unsure(&mut self, why: impl FnOnce() -> String) {
        self.on_the_line.get_or_insert_with(why);
    }
}

pub(crate) fn harm<T>(line: impl Into<String>, why: impl Into<String>) -> Result<T, Harm> {
    Err(Harm { line: line.into(), why: why.into() })
}

impl World<'_> {
    /// Judges against the unbroken programs.
    pub(crate) fn judge(&self, sound: &Sound) -> Judged {
        let mut finder = Finder::default();
        match self.find(sound, &mut finder) {
            Err(harm) => Judged::Harmful(harm),
            Ok(()) => match finder.on_the_line {
                Some(why) => Judged::OnTheLine(why),
                None if finder.rubs => Judged::Rubs,
                None => Judged::Harmless,
            },
        }
    }

    /// The unbroken programs themselves: they must be harmless.
    pub(crate) fn sound(&self) -> Result<Sound, Harm> {
        let (courses, tools) = self.courses()?;
        let strokes = self.strokes(&courses, &tools);
        let buckets = Buckets::new(&strokes, self.shape.size, self.levels.face_high);
        let levels = &self.levels;
        let at = |p, h| buckets.reach(p, h).0;
        let groove = strokes.iter().filter(|s| s.cutting && s.low() < levels.tab_top - 0.01);
        let mut sound = Sound {
            low: self.shape.probes.iter().map(|q| at(q.p, levels.floors[q.low] + ABOVE)).collect(),
            over_tabs: self.shape.probes.iter().map(|q| at(q.p, levels.tab_top + 2.0 * ABOVE)).collect(),
            floors: self.shape.spots.iter().map(|s| at(s.p, levels.floors[s.class] + FLOOR)).collect(),
            groove: groove.map(|s| 2.0 * s.radius).fold(0.0, f64::max),
            holds: self.holds.to_vec(),
            levels: Some(levels.clone()),
            ..Sound::default()
        };
        sound.longest = self.tabs(&buckets, sound.groove).into_iter().fold(0.0, f64::max);
        drop(buckets);
        (sound.strokes, sound.tools) = (strokes, tools);
        let mut finder = Finder::default();
        let whole = [0.0, 0.0, self.shape.size[0], self.shape.size[1]];
        let courses_trouble = courses.iter().find_map(|c| c.trouble.clone());
        if let Some((line, why)) = courses_trouble {
            return harm(format!("line {line}"), why);
        }
        let all = sound.strokes.clone();
        self.limits(&all, &sound.tools, &mut finder)?;
        self.holds_hit(&all, &sound.tools, true, &[], &mut finder)?;
        self.surfaces(&all, &sound, &[whole], &mut finder)?;
        cut(self, &all, &sound.tools, whole, &mut finder)?;
        sound.loads = finder.loads;
        match finder.on_the_line {
            Some(why) => harm("", format!("on the line: {why}")),
            None if finder.rubs => harm("", "it rubs"),
            None => Ok(sound),
        }
    }

    fn find(&self, sound: &Sound, finder: &mut Finder) -> Result<(), Harm> {
        let (courses, tools) = self.courses()?;
        for (course, (file, _)) in courses.iter().zip(self.programs) {
            if let Some((line, why)) = &course.trouble {
                return harm(format!("{file} line {line}"), why.clone());
            }
            if let Some((line, why)) = &course.unsure {
                finder.unsure(|| format!("{file} line {line}: {why}"));
            }
        }
        finder.loads.clone_from(&sound.loads);
        let strokes = self.strokes(&courses, &tools);
        finder.worn = tools.iter().zip(&sound.tools).any(|(a, b)| a.radius < b.radius);
        let all_changed = tools != sound.tools || sound.levels.as_ref() != Some(&self.levels);
        // Nothing differs before the first nor after the last stroke that does.
        let pairs = |i: &usize| sound.strokes[*i].same(&strokes[*i]) && !all_changed;
        let least = strokes.len().min(sound.strokes.len());
        let front = (0..least).take_while(pairs).count();
        let back = (0..least - front)
            .take_while(|k| {
                sound.strokes[sound.strokes.len() - 1 - k].same(&strokes[strokes.len() - 1 - k]) && !all_changed
            })
            .count();
        let old = &sound.strokes[front..sound.strokes.len() - back];
        let new = &strokes[front..strokes.len() - back];
        self.limits(&strokes, &tools, finder)?;
        self.holds_hit(new, &tools, self.holds != sound.holds, &strokes, finder)?;
        let mut dirty: Vec<[f64; 4]> = Vec::new();
        for stroke in old.iter().chain(new).filter(|s| s.low() < self.levels.face_high + 1e-9) {
            let tool = tools.get(stroke.tool).or(sound.tools.get(stroke.tool));
            let wide = tool.map_or(stroke.radius, |t| t.widest(self.levels.face_high - stroke.low()));
            dirty.push(grown(stroke.bounds(), wide.max(stroke.radius) + 0.05));
        }
        let whole = [0.0, 0.0, self.shape.size[0], self.shape.size[1]];
        if all_changed {
            dirty = vec![whole];
        }
        if dirty.is_empty() {
            return Ok(());
        }
        let bounds = dirty.iter().fold([f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY], |m, b| {
            [m[0].min(b[0]), m[1].min(b[1]), m[2].max(b[2]), m[3].max(b[3])]
        });
        if dirty.len() > 50 {
            dirty = vec![bounds];
        }
        self.surfaces(&strokes, sound, &dirty, finder)?;
        let clipped = [bounds[0].max(0.0), bounds[1].max(0.0), bounds[2].min(whole[2]), bounds[3].min(whole[3])];
        if clipped[0] < clipped[2] && clipped[1] < clipped[3] {
            cut(self, &strokes, &tools, clipped, finder)?;
        }
        Ok(())
    }

    /// The texts followed, and their tools.
    fn courses(&self) -> Result<(Vec<Course>, Vec<Tool>), Harm> {
        let highest = self.highest();
        let (mut courses, mut tools) = (Vec::new(), Vec::new());
        for (file, text) in self.programs {
            let course = follow(text, highest);
            let frame = file.starts_with('0');
            let cutter = course.tool.map(|t| self.shop.cutter(t));
            let widest = || self.shop.cutters.iter().max_by(|a, b| a.radius().total_cmp(&b.radius()));
            let cutter = match (cutter, frame) {
                (Some(Some(cutter)), _) => cutter,
                (None, true) => match widest() {
                    Some(cutter) => cutter,
                    None => return harm(file, "the shop has no cutter"),
                },
                _ => match &course.trouble {
                    Some((line, why)) => return harm(format!("{file} line {line}"), why.clone()),
                    None => return harm(file, "no cutter of the shop is named"),
                },
            };
            tools.push(Tool::new(self.shop, cutter));
            courses.push(course);
        }
        Ok((courses, tools))
    }

    fn strokes(&self, courses: &[Course], tools: &[Tool]) -> Vec<Stroke> {
        let mut all = Vec::new();
        for (i, course) in courses.iter().enumerate() {
            let cutting = !self.programs[i].0.starts_with('0');
            strokes(course, i, i, tools[i].radius, cutting, &mut all);
        }
        let [dx, dy] = self.moved;
        for s in &mut all {
            for q in [&mut s.a, &mut s.b] {
                *q = [q[0] - dx, q[1] - dy, q[2]];
            }
            if let Plan::Arc(c, r, first, sweep) = s.plan {
                s.plan = Plan::Arc([c[0] - dx, c[1] - dy], r, first, sweep);
            }
        }
        all
    }

    fn highest(&self) -> f64 {
        self.holds.iter().map(|h| h.top.to_mm()).fold(self.levels.face_high, f64::max)
    }

    pub(crate) fn place(&self, stroke: &Stroke) -> String {
        format!("{} line {}", self.programs[stroke.program].0, stroke.line)
    }

    /// Feeds, travel, the table and the frame run's height.
    fn limits(&self, strokes: &[Stroke], tools: &[Tool], finder: &mut Finder) -> Result<(), Harm> {
        let machine = &self.shop.machine;
        let travel = machine.travel.map(|l| l.to_mm());
        let most = [machine.greatest_feed, machine.greatest_feed_z].map(|f| f.to_mm_per_min());
        for program in 0..tools.len() {
            let own = || strokes.iter().filter(|s| s.program == program);
            for (k, &most) in travel.iter().enumerate() {
                let low = own().map(|s| s.a[k].min(s.b[k])).fold(f64::INFINITY, f64::min);
                let high = own().map(|s| s.a[k].max(s.b[k])).fold(f64::NEG_INFINITY, f64::max);
                if high - low > most + 0.002 {
                    return harm(&self.programs[program].0, format!("{} mm of travel", high - low));
                }
                if high - low > most || (k == 2 && high > most) {
                    finder.unsure(|| "the height over the table is all the travel there is".into());
                }
            }
        }
        for stroke in strokes {
            let low = stroke.low();
            if low < self.levels.lowest - 0.001_5 {
                return harm(self.place(stroke), format!("the table, {low}"));
            }
            if low < self.levels.lowest - 0.000_4 {
                finder.unsure(|| format!("{}: the table touched by {low}", self.place(stroke)));
            }
            if stroke.rapid {
                continue;
            }
            if !stroke.cutting && low <= self.highest() {
                return harm(self.place(stroke), "the frame run isn't above everything");
            }
            let (level, rise) = (stroke.length(), (stroke.b[2] - stroke.a[2]).abs());
            let whole = level.hypot(rise);
            if whole < 1e-9 {
                continue;
            }
            let share = (stroke.feed * level / whole / most[0]).max(stroke.feed * rise / whole / most[1]);
            if share > 1.01 {
                return harm(self.place(stroke), format!("feed {:.0} over the machine's greatest", stroke.feed));
            }
            if share > 1.000_5 {
                finder.unsure(|| format!("{}: feed {:.0}", self.place(stroke), stroke.feed));
            }
        }
        Ok(())
    }

    /// Holds met by what turns: the changed strokes, or all if the holds changed.
    fn holds_hit(
        &self,
        changed: &[Stroke],
        tools: &[Tool],
        other: bool,
        all: &[Stroke],
        finder: &mut Finder,
    ) -> Result<(), Harm> {
        let strokes = if other && !all.is_empty() { all } else { changed };
        for hold in self.holds {
            let ring = hold_points(&hold.shape);
            let top = hold.top.to_mm();
            let span = |k: usize, f: fn(f64, f64) -> f64, from: f64| ring.iter().map(|p| p[k]).fold(from, f);
            let bounds = [
                span(0, f64::min, f64::INFINITY),
                span(1, f64::min, f64::INFINITY),
                span(0, f64::max, f64::NEG_INFINITY),
                span(1, f64::max, f64::NEG_INFINITY),
            ];
            for stroke in strokes {
                let tool = &tools[stroke.tool];
                let reach = tool.widest(top - stroke.low());
                if reach <= 0.0 || !meet(grown(stroke.bounds(), reach), bounds) {
                    continue;
                }
                let near = if stroke.plan == Plan::Box {
                    let corner = [stroke.a[0], stroke.a[1]];
                    let off = ring.iter().map(|&p| stroke.distance(p, f64::INFINITY)).fold(f64::INFINITY, f64::min);
                    reach - if inside(&ring, corner) { 0.0 } else { off }
                } else {
                    let parts =
                        ((stroke.length() / 0.05).max((stroke.b[2] - stroke.a[2]).abs() / 0.01).ceil()).max(1.0);
                    (0..=parts as usize)
                        .map(|k| {
                            let q = stroke.at(k as f64 / parts);
                            let p = [q[0], q[1]];
                            let off = ring.iter().map(|r| (r[0] - p[0]).hypot(r[1] - p[1]));
                            let off = if inside(&ring, p) { 0.0 } else { off.fold(f64::INFINITY, f64::min) };
                            let wide = tool.widest(top - q[2]);
                            if wide > 0.0 { wide - off } else { -1.0 }
                        })
                        .fold(-1.0, f64::max)
                };
                if near > 0.01 {
                    return harm(self.place(stroke), format!("hold `{}` hit by {near:.3}", hold.name));
                }
                if near > -0.001 {
                    finder.unsure(|| format!("{}: hold touched by {near:.4}", self.place(stroke)));
                }
            }
        }
        Ok(())
    }

    /// Walls, floors and tabs as they come out.
    fn surfaces(&self, strokes: &[Stroke], sound: &Sound, dirty: &[[f64; 4]], finder: &mut Finder) -> Result<(), Harm> {
        let (shape, levels) = (self.shape, &self.levels);
        let buckets = Buckets::new(strokes, shape.size, levels.face_high);
        let open = |p: [f64; 2]| dirty.iter().any(|b| p[0] >= b[0] && p[0] <= b[2] && p[1] >= b[1] && p[1] <= b[3]);
        let by = |s: Option<&Stroke>| s.map_or_else(String::new, |s| self.place(s));
        for (i, q) in shape.probes.iter().enumerate().filter(|q| open(q.1.p)) {
            let top = if q.high == FACE { levels.face } else { levels.floors[q.high] };
            let (cut, stroke) = buckets.reach(q.p, top - BELOW);
            let what = |by: f64| format!("a wall at {:.3} {:.3} off by {by:.4}", q.p[0], q.p[1]);
            if cut > WALL + NEAR_WALL {
                return harm(by(stroke), what(cut));
            }
            if cut > WALL - NEAR_WALL {
                finder.unsure(|| what(cut));
            }
            let tabbed = q.low == MARGIN && shape.tabs.is_some();
            let look = |height: f64, known: f64, finder: &mut Finder| {
                let left = buckets.reach(q.p, height).0;
                // Where only the hand reaches, what the unbroken programs leave is left anyway.
                let limit = if q.plain { -WALL } else { known.min(0.0) - WALL };
                if left < limit - NEAR_WALL {
                    return harm("", what(left));
                }
                // It could reach farther into a corner of angle a than it is led, by the wear / sin(a / 2): more than on
                // the plain walls beside it.
                if finder.worn && !q.plain && left < known - 1e-4 {
                    finder.unsure(|| format!("a corner of a thinner cutter: {}", what(left)));
                }
                if left < limit + NEAR_WALL && left < known - 1e-6 {
                    finder.unsure(|| what(left));
                }
                Ok(())
            };
            if tabbed {
                look(levels.tab_top + 2.0 * ABOVE, sound.over_tabs[i], finder)?;
                // A tab where there was none is judged by its length below, and so are its hollow ends.
                let half = sound.groove / 2.0;
                let stands = |along: f64| {
                    let middle =
                        [q.p[0] + q.out[0] * half - q.out[1] * along, q.p[1] + q.out[1] * half + q.out[0] * along];
                    buckets.reach(middle, levels.floors[MARGIN] + ABOVE).0 < 0.0
                };
                if stands(0.0) || stands(half + 0.1) || stands(-half - 0.1) {
                    continue;
                }
            }
            look(levels.floors[q.low] + ABOVE, sound.low[i], finder)?;
        }
        for (i, s) in shape.spots.iter().enumerate().filter(|s| open(s.1.p)) {
            let floor = levels.floors[s.class];
            let what = |w: &str, by: f64| format!("{w} at {:.3} {:.3}, {by:.4}", s.p[0], s.p[1]);
            let (deep, stroke) = buckets.reach(s.p, floor - FLOOR - NEAR_FLOOR);
            if deep > WALL + NEAR_WALL {
                return harm(by(stroke), what("a floor too deep", deep));
            }
            if buckets.reach(s.p, floor - FLOOR + NEAR_FLOOR).0 > 0.0 && deep < WALL + NEAR_WALL {
                let (_, stroke) = buckets.reach(s.p, floor - FLOOR + NEAR_FLOOR);
                finder.unsure(|| what(&format!("{}: a floor a hair too deep", by(stroke)), 0.0));
            }
            if s.class == MARGIN {
                let (astray, stroke) = buckets.reach(s.p, levels.face_high - FLOOR);
                let beyond = s.off - self.shop.widest_cutter();
                if astray > WALL && beyond > 0.6 {
                    return harm(by(stroke), what("the margin cut", beyond));
                }
                if astray > 0.0 && beyond > 0.4 {
                    finder.unsure(|| what("the margin cut near the groove's end", beyond));
                }
                continue;
            }
            let known = sound.floors[i];
            if !shape.clears[s.class] || known < 0.0 {
                continue;
            }
            let left = buckets.reach(s.p, floor + FLOOR + NEAR_FLOOR).0;
            if left < -WALL - NEAR_WALL {
                return harm("", what("a floor uncut", left));
            }
            let slight = buckets.reach(s.p, floor + FLOOR - NEAR_FLOOR).0 < -WALL + NEAR_WALL;
            if slight || left < -WALL + NEAR_WALL {
                finder.unsure(|| what("a floor a hair too high", left));
            }
            // A rib narrower than two walls' tolerance in the middle of what was cut.
            if left < -0.001 && known > 0.02 {
                finder.unsure(|| what("a rib thinner than 0.02", left));
            }
        }
        self.judge_tabs(&buckets, sound, finder)
    }

    /// Lengths of the stretches of groove, along its middle, that stand as high as a tab.
    fn tabs(&self, buckets: &Buckets, groove: f64) -> Vec<f64> {
        if self.shape.tabs.is_none() || self.shape.rim.is_empty() {
            return Vec::new();
        }
        let middles: Vec<[f64; 2]> = self
            .shape
            .rim
            .iter()
            .map(|(p, out)| [p[0] + out[0] * groove / 2.0, p[1] + out[1] * groove / 2.0])
            .collect();
        let stands: Vec<bool> =
            middles.iter().map(|&q| buckets.reach(q, self.levels.tab_top - 0.006).0 < 0.0).collect();
        let n = middles.len();
        let Some(start) = (0..n).find(|&i| !stands[i]) else { return vec![f64::INFINITY] };
        let (mut runs, mut length) = (Vec::new(), 0.0);
        for k in 1..=n {
            let (i, j) = ((start + k) % n, (start + k - 1) % n);
            if stands[i] {
                length += (middles[i][0] - middles[j][0]).hypot(middles[i][1] - middles[j][1]);
            } else if length > 0.0 {
                runs.push(length);
                length = 0.0;
            }
        }
        runs
    }

    fn judge_tabs(&self, buckets: &Buckets, sound: &Sound, finder: &mut Finder) -> Result<(), Harm> {
        let Some((count, length)) = self.shape.tabs else { return Ok(()) };
        let runs = self.tabs(buckets, sound.groove);
        let good = |least: f64| runs.iter().filter(|r| **r >= least).count() < count as usize;
        if good(length - 0.06) {
            return harm("", format!("tabs of {runs:.2?}"));
        }
        if good(length - 0.01) {
            finder.unsure(|| format!("tabs of {runs:.2?}"));
        }
        let longest = runs.iter().copied().fold(0.0, f64::max);
        // What is added to a tab is filed off like the rest of it, up to a groove's width.
        if longest > sound.longest + sound.groove {
            return harm("", format!("the groove uncut over {longest:.2}"));
        }
        if longest > sound.longest + 0.05 || runs.len() > count as usize {
            finder.unsure(|| format!("tabs of {runs:.2?}, longer or more than asked for"));
        }
        Ok(())
    }
}
