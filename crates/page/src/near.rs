//! A window of the plate looked at closely: cut anew from the programs' own text on a grid as fine as the window's pixels.

use crate::run::Run;
use plane::{Bounds, Point};
use proof::{HeightMap, Look, Watch};
use quantity::Length;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Most pixels across.
pub(crate) const WIDEST: u32 = 1200;
/// Narrowest window, mm: its pixels are far below a micron.
const NARROWEST: f64 = 0.05;
/// Largest share of the model's own pitch at which pixels are worth cutting anew for.
const WORTH: f64 = 0.85;
/// How long cutting a window may take; the model's own cells are shown if it takes longer.
const LONGEST: Duration = Duration::from_secs(4);

/// A question that somebody may stop waiting for.
#[derive(Debug, Clone)]
pub(crate) struct Waited {
    gone: Arc<AtomicBool>,
    began: Instant,
}

/// Says so when it is dropped.
pub(crate) struct Waiting(Arc<AtomicBool>);

impl Waited {
    /// A question, and what its asker holds while waiting.
    pub(crate) fn new() -> (Self, Waiting) {
        let gone = Arc::new(AtomicBool::new(false));
        (Self { gone: Arc::clone(&gone), began: Instant::now() }, Waiting(gone))
    }

    /// Whether nobody waits any more.
    pub(crate) fn gone(&self) -> bool {
        self.gone.load(Ordering::Relaxed)
    }
}

impl Drop for Waiting {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

impl Watch for Waited {
    fn progress(&self, _: f64) {}

    fn stopped(&self) -> bool {
        self.gone() || self.began.elapsed() > LONGEST
    }
}

/// A picture of a window.
pub(crate) struct Near {
    /// PNG.
    pub(crate) png: Vec<u8>,
    /// mm between the heights that it was drawn from.
    pub(crate) pitch: f64,
}

/// The window after a cutting stage (from 0) or at the end, so many pixels wide; `None` if there is no such window or model, or if
/// nobody waits for it.
pub(crate) fn window(
    run: &Run,
    stage: Option<usize>,
    asked: Bounds,
    width: u32,
    bare: [u8; 3],
    waited: &Waited,
) -> Option<Near> {
    let (intent, model) = (run.intent()?, run.model(stage)?);
    if !(1..=WIDEST).contains(&width) || !within(asked, intent.blank.size) {
        return None;
    }
    let pixel = asked.width() / f64::from(width);
    let fine = (pixel < WORTH * model.pitch && !waited.gone()).then(|| cut(run, stage, asked, pixel, waited)).flatten();
    // A window far longer than wide can't be cut as finely as its pixels.
    let fine = fine.filter(|map| map.pitch < model.pitch);
    if waited.gone() {
        return None;
    }
    let map = fine.as_ref().unwrap_or(model);
    Some(Near { png: sheet::bare_plate(&intent.blank, map, asked, width, bare), pitch: map.pitch })
}

/// Whether a window is one of the blank or what is around it.
fn within(window: Bounds, blank: [Length; 2]) -> bool {
    let [w, h] = blank.map(Length::to_mm);
    let sound = window.min.is_finite() && window.max.is_finite() && !window.is_empty();
    let around = Bounds { min: Point::new(-w - h, -w - h), max: Point::new(2.0 * w + h, 2.0 * h + w) };
    sound
        && window.width().min(window.height()) >= NARROWEST
        && window.width().max(window.height()) <= 4.0 * (w + h)
        && window.meets(around)
}

fn cut(run: &Run, stage: Option<usize>, window: Bounds, pixel: f64, waited: &Waited) -> Option<HeightMap> {
    let computed = run.computed.as_ref()?;
    let (programs, named) = packet::read_all(&computed.programs);
    // The frame run comes first.
    let after = stage.map_or(programs.len().saturating_sub(1), |s| s + 1);
    let look = Look { after, line: None, window, pitch: pixel };
    let seen = proof::close_ups_within(&computed.job.shop, &computed.job.intent, &programs, &named, &[look], waited)?;
    seen.into_iter().next().map(|close| close.heights).filter(|map| map.pitch > 0.0)
}
