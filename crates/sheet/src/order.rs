//! The order of work at the machine, in words: the one source of the setup sheet's first part and of whatever else leads through
//! the work, so that no two of them can differ.

use crate::job::Job;
use crate::notes::CAUTIONS;
use crate::numbers::{count, minutes, two};
use crate::setup::cutter_words;

/// A piece of a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Piece {
    /// Plain words.
    Plain(String),
    /// Words that must not be read over.
    Strong(String),
    /// A number that matters at the machine.
    Number(String),
}

/// What a step is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum About {
    /// The masking film.
    Film,
    /// What lies under the blank.
    Under,
    /// The holds.
    Holds,
    /// The zero corner.
    Zero,
    /// Touching off, the same for every cutter.
    TouchOff,
    /// The height of traverses.
    Traverse,
    /// The frame run.
    Frame,
    /// The cutter of a program and its stick-out.
    Cutter,
    /// The position of the dial, or the speed.
    Dial,
    /// Something to look at before a program, the first of them the touch-off with the feeler.
    Check,
    /// A program.
    Run,
    /// The plate after a program.
    Look,
    /// What is left for hand.
    Hand,
    /// The finished plate.
    Finished,
}

/// One step of the work.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// What it is about.
    pub about: About,
    /// The program that it belongs to, from 0.
    pub stage: Option<usize>,
    /// What to do, one sentence or two.
    pub says: Vec<Piece>,
}

fn plain(words: impl Into<String>) -> Piece {
    Piece::Plain(words.into())
}

fn strong(words: impl Into<String>) -> Piece {
    Piece::Strong(words.into())
}

fn number(words: impl Into<String>) -> Piece {
    Piece::Number(words.into())
}

/// What to do before the first program, in the order it is done.
pub fn before(job: &Job) -> Vec<Step> {
    let blank = &job.intent.blank;
    let mut steps = Vec::new();
    let mut step = |about, says| steps.push(Step { about, stage: None, says });
    // Film that is to stay is said to lie under the blank, with its thickness.
    if !blank.under.iter().any(|u| u.name.to_lowercase().contains("film")) {
        step(About::Film, vec![plain("Take the masking film off: heights are reckoned without it.")]);
    }
    if blank.under.is_empty() {
        step(About::Under, vec![plain("Lay the blank flat on the table, nothing under it.")]);
    } else {
        let names: Vec<String> = blank.under.iter().map(|u| u.name.clone()).collect();
        let whole: f64 = blank.under.iter().map(|u| u.thickness.to_mm()).sum();
        let words = format!("Under the whole blank, between it and the table: {}, ", names.join(", then "));
        step(About::Under, vec![plain(words), number(two(whole)), plain(" mm.")]);
    }
    let holds = &job.intent.holds;
    if !holds.is_empty() {
        let top = holds.iter().map(|h| h.top.to_mm()).fold(0.0, f64::max);
        let words = format!("{} as drawn, no higher than ", count(holds.len(), "hold", "holds"));
        step(About::Holds, vec![plain(words), number(two(top)), plain(" mm above the table.")]);
    }
    step(
        About::Zero,
        vec![plain("Zero x and y at the blank’s corner marked “zero here”: lower left as you stand at the machine.")],
    );
    step(
        About::TouchOff,
        vec![
            plain("Touch every cutter off on the "),
            strong("table"),
            plain(" with the feeler under it. Set the display to "),
            number(two(job.shop.touch_off.feeler.to_mm())),
            plain(" mm, not to 0: heights are then true above the table."),
        ],
    );
    if let Some(traverse) = job.stages.iter().map(|s| s.traverse.to_mm()).reduce(f64::max) {
        let mut says = vec![plain("Traverses run at "), number(two(traverse)), plain(" mm above the table")];
        if let Some(hop) = job.stages.iter().filter_map(|s| s.hop).map(|h| h.to_mm()).reduce(f64::min) {
            says.push(plain(format!(", hops at {}", two(hop))));
        }
        says.push(plain(". Nothing may stand as high there."));
        step(About::Traverse, says);
    }
    if let Some(frame) = job.frame {
        step(
            About::Frame,
            vec![
                plain("Run "),
                strong(frame),
                plain(" first, spindle off: it goes round what will be cut, above the holds."),
            ],
        );
    }
    steps
}

/// The whole work in its order, from the film to the look at the finished plate.
pub fn order(job: &Job) -> Vec<Step> {
    let mut steps = before(job);
    for index in 0..job.stages.len() {
        program(job, index, &mut steps);
    }
    let mut last = |about, says| steps.push(Step { about, stage: None, says });
    let spots = job.proof.hand_work.len();
    if spots > 0 {
        let words = format!(" left for hand, where no cutter of these gets: {}.", hand_areas(job));
        last(About::Hand, vec![number(count(spots, "place", "places")), plain(words)]);
    }
    last(About::Finished, vec![plain("Look at the finished plate, and at what it should show.")]);
    steps
}

/// The areas in which something is left for hand, each once, in the order found.
fn hand_areas(job: &Job) -> String {
    let mut names: Vec<&str> = Vec::new();
    for spot in &job.proof.hand_work {
        if !names.contains(&spot.area.as_str()) {
            names.push(&spot.area);
        }
    }
    names.join("; ")
}

/// The steps of one program, in the numbers of its row on the setup sheet.
fn program(job: &Job, index: usize, steps: &mut Vec<Step>) {
    let Some(words) = job.stages.get(index) else { return };
    let mut step = |about, says| steps.push(Step { about, stage: Some(index), says });
    let (name, stick_out) = cutter_words(job, index);
    step(
        About::Cutter,
        vec![
            plain("Cutter "),
            number(words.cutter_number.to_string()),
            plain(format!(", {name}, standing out ")),
            number(stick_out),
            plain(" mm. The plug is out while it is changed."),
        ],
    );
    match &words.dial {
        Some(position) => step(About::Dial, vec![plain("Dial at "), number(position.clone()), plain(".")]),
        None => {
            let speed = crate::numbers::short(words.speed.to_rev_per_min(), 0);
            step(About::Dial, vec![plain("Spindle at "), number(speed), plain(" rev/min.")]);
        }
    }
    for check in &words.checks {
        step(About::Check, vec![plain(check.replace('*', ""))]);
    }
    let time = job.proof_of(index).map_or(f64::NAN, |p| p.minutes);
    let purpose = words.purpose.trim_end_matches('.');
    step(
        About::Run,
        vec![
            plain("Run "),
            strong(words.file.clone()),
            plain(": "),
            number(minutes(time)),
            plain(format!(". {purpose}. Stay with it, a hand at the stop.")),
        ],
    );
    step(About::Look, vec![plain("The plate now looks like this.")]);
}

/// What must be said before any work at the machine, a sentence or two each; `**words**` are strong.
pub fn cautions() -> Vec<String> {
    CAUTIONS.iter().map(|c| (*c).to_owned()).collect()
}
