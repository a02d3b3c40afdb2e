//! One reading, planning and proving of the plate, and what is asked of it afterwards. A run is a plain value: what the page
//! shows of it is drawn from it on demand.
//!
//! An edit is answered three times: by a sketch of what the file says, by a first answer for which only what the edit touches is
//! planned and proven again, on a coarse grid, and by a full run that takes nothing over and confirms it.

use crate::bench::BenchStep;
use crate::paper::hash;
use crate::sketch;
use doubt::Doubt;
use drawing::Drawing;
use intake::{Job, Taken};
use memo::Memo;
use packet::why::Answer;
use packet::{Computed, Effort, Outcome};
use plane::{Point, Region};
use plate::Intent;
use proof::{HeightMap, Verdict, Watch};
use std::sync::OnceLock;

/// Numbers of sketches are this far above those of the runs that follow them.
const SKETCHES: u64 = 500_000_000;
/// Numbers of full runs that don't confirm the first answer are this far above its number.
const OTHERWISE: u64 = 250_000_000;

/// A run that came to its end.
pub(crate) struct Run {
    /// Counts up.
    pub(crate) number: u64,
    /// Hash of the plate file that it read; empty if that couldn't be read.
    pub(crate) hash: String,
    /// The verdict, if the proof was reached.
    pub(crate) verdict: Option<Verdict>,
    /// Everything computed, if nothing blocked before the proof.
    pub(crate) computed: Option<Computed>,
    /// Doubts of all steps, the proof's findings included.
    pub(crate) doubts: Vec<Doubt>,
    /// Where the numbers come from.
    pub(crate) answers: Vec<Answer>,
    /// A place inside each of the intent's areas, for notes that point at it.
    pub(crate) marks: Vec<Option<Point>>,
    /// Names of the files that it read beside the plate file.
    pub(crate) beside: Vec<String>,
    /// The drawing as it was read.
    pub(crate) drawing: Option<Drawing>,
    /// What was taken from the files and painted, before anything was planned.
    pub(crate) sketched: Option<(Job, HeightMap)>,
    /// The steps of the work at the machine, once somebody asked for them.
    pub(crate) steps: OnceLock<Vec<BenchStep>>,
    /// The line along which the section tells the most, once somebody asked for it.
    telling: OnceLock<Option<(bool, f64)>>,
    /// Why it came to no end of its own, if so.
    pub(crate) broke_off: Option<String>,
    /// Whether it is a first answer, which a full run is to confirm.
    pub(crate) first: bool,
}

impl Run {
    /// Plans and proves what was read: all of it, or for a first answer with what is kept of the answers before. `None` if stopped.
    pub(crate) fn make(number: u64, taken: &Taken, memo: Option<&Memo>, watch: &dyn Watch) -> Option<Self> {
        let (mut taken, mut outcome) = (taken.clone(), Outcome::default());
        let computed = match memo {
            Some(memo) => packet::answer(&mut taken, memo, watch, &mut outcome),
            None => packet::compute_taken(&mut taken, &Effort::default(), watch, &mut outcome),
        };
        if outcome.stopped || (computed.is_none() && watch.stopped()) {
            return None;
        }
        let none = Memo::none();
        let answers = |c: &Computed| packet::why::answers_again(&c.job, Some(&c.plan), memo.unwrap_or(&none));
        let answers = computed.as_ref().map(answers).unwrap_or_default();
        let areas = computed.as_ref().map_or(&[][..], |c| c.job.intent.areas.as_slice());
        let marks = areas.iter().map(|a| inside(&a.region)).collect();
        Some(Self {
            number,
            marks,
            hash: hash_of(&taken).unwrap_or_default(),
            verdict: outcome.verdict,
            computed,
            doubts: outcome.doubts,
            answers,
            drawing: taken.drawing,
            beside: taken.inputs.into_iter().skip(1).map(|(name, _)| name).collect(),
            sketched: None,
            steps: OnceLock::new(),
            telling: OnceLock::new(),
            broke_off: None,
            first: memo.is_some(),
        })
    }

    /// A full run after a first answer: it keeps that one's number if it confirms it, so that what is looked at stays.
    pub(crate) fn confirming(mut self, first: &Self) -> Self {
        let programs = |run: &Self| run.computed.as_ref().map(|c| c.programs.clone());
        let found = |run: &Self| -> Vec<&'static str> {
            run.doubts.iter().filter(|d| d.severity > doubt::Severity::Note).map(|d| d.id).collect()
        };
        let same = self.verdict == first.verdict && found(&self) == found(first) && programs(&self) == programs(first);
        self.number = if same { first.number } else { OTHERWISE + first.number };
        self
    }

    /// The plate as its file says it, before it is planned; `None` if something blocks. `shown` is what stands on the page.
    pub(crate) fn sketch(number: u64, taken: &Taken, shown: Option<&Self>) -> Option<Self> {
        let hash = hash_of(taken)?;
        let job = taken.job.clone()?;
        let map = sketch::of(&job, shown.and_then(|run| Some((run.job()?, run.model(None)?))));
        let marks = job.intent.areas.iter().map(|a| inside(&a.region)).collect();
        let sketch = Self {
            number: SKETCHES + number,
            marks,
            drawing: taken.drawing.clone(),
            sketched: Some((job, map)),
            ..Self::nothing(hash)
        };
        Some(sketch.after(shown))
    }

    /// Cut along the line that tells the most of what stands on the page, so that the section stays where it is while somebody
    /// edits, and isn't looked for anew.
    pub(crate) fn after(self, shown: Option<&Self>) -> Self {
        let size = |run: &Self| run.intent().map(|i| i.blank.size);
        // On a blank of another size the line may lie beside it.
        let same = shown.filter(|run| size(run).is_some() && size(run) == size(&self));
        Self { telling: same.map_or_else(OnceLock::new, |run| run.telling.clone()), ..self }
    }

    /// A run that ended in a fault of the program.
    pub(crate) fn broken(number: u64, hash: String) -> Self {
        let why = "planning or proving ended in a fault of this program; the files are as they were";
        Self { number, broke_off: Some(why.into()), ..Self::nothing(hash) }
    }

    fn nothing(hash: String) -> Self {
        Self {
            number: 0,
            hash,
            marks: Vec::new(),
            verdict: None,
            computed: None,
            doubts: Vec::new(),
            answers: Vec::new(),
            beside: Vec::new(),
            drawing: None,
            sketched: None,
            steps: OnceLock::new(),
            telling: OnceLock::new(),
            broke_off: None,
            first: false,
        }
    }

    /// What is to be made and with what.
    pub(crate) fn job(&self) -> Option<&Job> {
        self.computed.as_ref().map(|c| &c.job).or(self.sketched.as_ref().map(|s| &s.0))
    }

    /// The finished plate.
    pub(crate) fn intent(&self) -> Option<&Intent> {
        self.job().map(|j| &j.intent)
    }

    /// The model after a cutting stage (from 0), or at the end.
    pub(crate) fn model(&self, stage: Option<usize>) -> Option<&HeightMap> {
        if let (None, Some((_, map))) = (stage, &self.sketched) {
            return Some(map);
        }
        let proof = &self.computed.as_ref()?.proof;
        match stage {
            None => Some(&proof.relief),
            // The frame run comes first and cuts nothing.
            Some(stage) => proof.stages.get(stage.checked_add(1)?).map(|s| &s.relief),
        }
    }

    /// The line along which the section tells the most, whether it runs in x, and its place in the other; a sketch and a first answer
    /// have it from what was shown before.
    pub(crate) fn telling(&self) -> Option<(bool, f64)> {
        *self.telling.get_or_init(|| {
            let line = sheet::telling_line(&self.intent()?.blank, self.model(None)?)?;
            Some((line.along_x, line.at))
        })
    }

    /// The height that the proof found at a place, and which stages took something there, from 0.
    pub(crate) fn cut_at(&self, at: Point) -> Option<(f64, Vec<usize>)> {
        let height = sampled(self.model(None)?, at)?;
        let Some(computed) = &self.computed else { return Some((height, Vec::new())) };
        let mut cut = Vec::new();
        let mut before = computed.job.intent.blank.face.to_mm();
        for (index, stage) in computed.proof.stages.iter().enumerate().skip(1) {
            let after = sampled(&stage.relief, at).unwrap_or(before);
            if after < before - 1e-3 {
                cut.push(index - 1);
                before = after;
            }
        }
        Some((height, cut))
    }
}

/// The hash of the plate file that was read.
fn hash_of(taken: &Taken) -> Option<String> {
    taken.inputs.first().map(|(_, bytes)| hash(bytes))
}

/// A place inside a region, near the middle of its largest shape if that holds one of a grid's points.
fn inside(region: &Region) -> Option<Point> {
    let size = |s: &&plane::Shape| s.outer.area().abs();
    let shape = region.shapes.iter().max_by(|a, b| size(a).total_cmp(&size(b)))?;
    let bounds = shape.outer.bounds();
    let centre = bounds.centre();
    let grid = |i: usize, j: usize| {
        let share = |k: usize| (k as f64 + 0.5) / GRID as f64;
        Point::new(bounds.min.x + share(i) * bounds.width(), bounds.min.y + share(j) * bounds.height())
    };
    let mut points: Vec<Point> = (0..GRID * GRID).map(|k| grid(k % GRID, k / GRID)).collect();
    points.push(centre);
    points.sort_by(|a, b| away(*a, centre).total_cmp(&away(*b, centre)));
    points.into_iter().find(|p| shape.contains(*p))
}

/// Points of that grid, each way.
const GRID: usize = 21;

fn away(a: Point, b: Point) -> f64 {
    libm::hypot(a.x - b.x, a.y - b.y)
}

/// The height of the cell that a place lies in.
fn sampled(map: &HeightMap, at: Point) -> Option<f64> {
    if map.pitch.is_nan() || map.pitch <= 0.0 {
        return None;
    }
    let cell = |distance: f64, count: usize| {
        let cell = (distance / map.pitch).floor();
        (cell >= 0.0 && cell < count as f64).then_some(cell as usize)
    };
    let column = cell(at.x - map.origin.x, map.columns)?;
    let row = cell(at.y - map.origin.y, map.rows)?;
    map.heights.get(row.checked_mul(map.columns)?.checked_add(column)?).map(|&h| f64::from(h))
}
