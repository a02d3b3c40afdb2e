//! Why: every number of a plate that a maker may ask about, with the steps that led to it.
//!
//! Nothing is reckoned a second time for the telling where it can be helped: loads and heights put their steps down in
//! [`reckon::chain`] while they reckon. What the planner chose is told from the plan it made.

mod heights;
mod order;
mod place;
mod run;

use crate::settle;
use doubt::Doubt;
use intake::{Job, Taken};
use memo::Memo;
use motion::Stage;
use plan::Plan;
use plane::Point;
use quantity::trimmed;
use reckon::chain::{Chain, How, Term, Working, figures};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;

/// A number that can be asked about.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// What it is asked by: `field floor`, `cutter 1 feed`.
    pub key: String,
    /// What it is, in words: `floor of field`.
    pub about: String,
    /// The number.
    pub value: f64,
    /// Its unit; empty for a plain number.
    pub unit: String,
    /// The number as the maker finds it on the sheet: `3.06 mm above the table`.
    pub told: String,
    /// The answer in a sentence.
    pub short: String,
    /// Where in the plate file, from 1; 0 if nowhere.
    pub line: usize,
    /// The steps that led to it, what was given first.
    pub steps: Chain,
    /// The symbol of the number among them.
    pub symbol: String,
}

impl Answer {
    /// An answer whose number is a symbol of a working.
    fn new(key: impl Into<String>, about: impl Into<String>, working: Working, symbol: &str) -> Option<Self> {
        let key = key.into();
        let term = working.term(symbol)?;
        Some(Self {
            about: about.into(),
            value: term.value,
            unit: term.unit.clone(),
            told: term.worded(),
            short: String::new(),
            line: 0,
            symbol: symbol.to_owned(),
            steps: Chain { key: key.clone(), terms: working.terms().to_vec() },
            key,
        })
    }

    fn told(self, told: impl Into<String>) -> Self {
        Self { told: told.into(), ..self }
    }

    fn short(self, short: impl Into<String>) -> Self {
        Self { short: short.into(), ..self }
    }

    fn line(self, line: usize) -> Self {
        Self { line, ..self }
    }
}

/// A plate made ready for questions: read and planned, not proven.
pub struct Asked {
    /// Shop and intent.
    pub job: Job,
    /// The plan; `None` if something already stands against it.
    pub plan: Option<Plan>,
    /// Doubts of reading and planning.
    pub doubts: Vec<Doubt>,
    /// Texts that doubts point into.
    pub sources: BTreeMap<String, String>,
    /// Name of the plate file.
    pub file: String,
}

/// What the maker's words came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Found {
    /// These answers, the ones meant first.
    Answers(Vec<Answer>),
    /// Nothing by that key or number; keys that come near.
    Nothing(Vec<String>),
}

/// Reads and plans a plate for questions. The doubts if there is no plate to ask about, or `None` in their place if stopped.
///
/// # Errors
/// What reading gave, where no job came of it.
pub fn ask(plate: &Path, stopped: &(dyn Fn() -> bool + Sync)) -> Result<Asked, Box<Taken>> {
    let mut taken = intake::take(plate);
    let Some(mut job) = taken.job.take() else { return Err(Box::new(taken)) };
    let (intent, said) = settle(&job.shop, job.intent);
    job.intent = intent;
    let mut doubts = taken.doubts;
    doubts.extend(said);
    let mut made = None;
    if !doubt::any_blocks(&doubts)
        && let Some(plan) = plan::plan(&job.shop, &job.intent, stopped)
    {
        doubts.extend(plan.doubts.iter().cloned());
        made = Some(plan);
    }
    let file = taken.inputs.first().map_or_else(String::new, |(name, _)| name.clone());
    Ok(Asked { job, plan: made, doubts, sources: taken.sources, file })
}

/// All that can be asked about a plate, heights first.
pub fn answers(job: &Job, plan: Option<&Plan>) -> Vec<Answer> {
    answers_again(job, plan, &Memo::none())
}

/// The same, with what was kept of other plans used again.
pub fn answers_again(job: &Job, plan: Option<&Plan>, memo: &Memo) -> Vec<Answer> {
    let mut all = heights::answers(job);
    let stages: &[Stage] = plan.map_or(&[], |p| &p.stages);
    // All cutters' reach is asked for more than once.
    let rooms = plan::rooms_again(&job.shop, &job.intent, memo);
    all.extend(order::passes(job, &rooms, stages));
    all.extend(run::answers(job));
    if let Some(plan) = plan {
        all.extend(order::answers(job, &rooms, plan));
    }
    all
}

/// What a key, a number or a place (`x 30 y 20`) came to.
pub fn find(asked: &Asked, words: &str) -> Found {
    let all = answers(&asked.job, asked.plan.as_ref());
    if let Some(at) = place::read(words) {
        return Found::Answers(place::answers(&asked.job, asked.plan.as_ref(), &all, at));
    }
    let wanted = plain(words);
    if let Some(exact) = all.iter().find(|a| plain(&a.key) == wanted) {
        return Found::Answers(vec![exact.clone()]);
    }
    let by_number = number(words).map(|n| holding(&all, &n)).unwrap_or_default();
    if !by_number.is_empty() {
        return Found::Answers(by_number);
    }
    let parts: Vec<&str> = wanted.split(' ').filter(|w| !w.is_empty()).collect();
    let holds = |a: &&Answer| {
        let text = format!("{} {}", plain(&a.key), plain(&a.about));
        parts.iter().all(|w| text.split(' ').any(|t| t == *w))
    };
    let some: Vec<Answer> = all.iter().filter(holds).cloned().collect();
    if !parts.is_empty() && !some.is_empty() {
        return Found::Answers(some);
    }
    let keys: Vec<&str> = all.iter().map(|a| a.key.as_str()).collect();
    let mut near: Vec<String> = doubt::nearest(words, keys.iter().copied()).into_iter().map(str::to_owned).collect();
    // A word misspelt.
    let known: Vec<&str> = keys.iter().flat_map(|k| k.split(' ')).filter(|w| w.chars().count() > 2).collect();
    let meant: Vec<&str> = parts.iter().filter_map(|w| doubt::nearest(w, known.iter().copied())).collect();
    near.extend(keys.iter().filter(|k| meant.iter().any(|w| k.split(' ').any(|t| t == *w))).map(|k| (*k).to_owned()));
    near.truncate(NEAR);
    near.extend(
        keys.iter().filter(|k| parts.iter().any(|w| plain(k).split(' ').any(|t| t == *w))).map(|k| (*k).to_owned()),
    );
    near.dedup();
    Found::Nothing(near)
}

/// So many keys that come near are told.
const NEAR: usize = 8;

/// One line for each of the numbers that a maker asks about first, for the sheet: how cutters are run and why, why these cutters, how
/// floors that show a layer were found.
pub fn short_forms(job: &Job, plan: &Plan) -> Vec<String> {
    let all = answers(job, Some(plan));
    let told = |key: &str| all.iter().find(|a| a.key == key);
    let mut lines = Vec::new();
    let mut cutters: Vec<u32> = Vec::new();
    plan.stages.iter().filter(|s| s.cutting).for_each(|s| {
        if !cutters.contains(&s.cutter) {
            cutters.push(s.cutter);
        }
    });
    for number in cutters {
        let of = |key: &str| told(&format!("cutter {number} {key}"));
        if let (Some(speed), Some(feed), Some(depth)) = (of("speed"), of("feed"), of("pass depth")) {
            let product = |t: &&Term| matches!(&t.how, How::Formula(text) if text.contains('*'));
            let made = |a: &Answer| a.steps.terms.iter().rev().find(product).and_then(|t| a.steps.filled(t));
            let made = |a: &Answer| made(a).map_or_else(String::new, |m| format!(" ({})", m.replace('*', "×")));
            let limit = depth.short.split(": ").nth(1).unwrap_or_default();
            lines.push(format!(
                "Cutter {number}: {} ({}); {}{}; passes of {} at most, by {limit}",
                speed.told,
                speed.short,
                feed.told,
                made(feed),
                depth.told
            ));
        }
    }
    let left = all
        .iter()
        .filter(|a| a.key == "cutters" || a.key.strip_prefix("cutter ").is_some_and(|n| n.parse::<u32>().is_ok()));
    lines.extend(left.map(|a| format!("{}: {}, {}", capital(&a.about), a.told, a.short)));
    let shown = job.intent.areas.iter().filter(|a| matches!(a.kind, plate::FloorKind::Shows(_)));
    for area in shown {
        let Some(floor) = told(&format!("{} floor", area.name)) else { continue };
        let value = |symbol: &str| floor.steps.terms.iter().find(|t| t.symbol == symbol);
        if let (Some(top), Some(margin)) = (value("top"), value("margin")) {
            let words =
                format!("Floor of {}: {}, {} less {} of margin", area.name, floor.told, top.name, margin.worded());
            lines.push(format!("{words} ({} − {})", figures(top.value), figures(margin.value)));
        }
    }
    lines.extend(told("traverse").map(|a| format!("Traverses: {}, {}", a.told, a.short)));
    lines
}

fn capital(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// Letters and digits in lower case, everything else as one space.
fn plain(words: &str) -> String {
    let spaced: String = words
        .chars()
        .map(|c| if c.is_alphanumeric() || c == '.' || c == '/' { c.to_ascii_lowercase() } else { ' ' })
        .collect();
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A number as a maker copies it from a sheet: `1,080 mm/min`, `2.61`; with the half of its last digit and its unit.
struct Number {
    value: f64,
    half: f64,
    unit: String,
}

fn number(words: &str) -> Option<Number> {
    let words = words.trim();
    let end = words.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == ',')).unwrap_or(words.len());
    let digits: String = words[..end].chars().filter(|c| *c != ',').collect();
    let value: f64 = digits.parse().ok()?;
    let decimals = digits.split('.').nth(1).map_or(0, str::len);
    let half = 0.5 * 10f64.powi(-(decimals.min(12) as i32)) + 1e-9;
    Some(Number { value, half, unit: words[end..].trim().to_owned() })
}

/// Answers whose number it is; else those with it among their steps.
fn holding(all: &[Answer], n: &Number) -> Vec<Answer> {
    let same = |value: f64, unit: &str| (value - n.value).abs() <= n.half && (n.unit.is_empty() || n.unit == unit);
    let own: Vec<Answer> = all.iter().filter(|a| same(a.value, &a.unit)).cloned().collect();
    if !own.is_empty() {
        return own;
    }
    all.iter().filter(|a| a.steps.terms.iter().any(|t| same(t.value, &t.unit))).cloned().collect()
}

/// Widest column of the steps' names.
const NAMES: usize = 60;

/// Whether a step takes over another's value under a new name.
fn only_another_name(term: &Term) -> bool {
    matches!(&term.how, How::Formula(text) if text.chars().all(|c| c.is_ascii_alphanumeric() || c == '_'))
}

/// An answer as a text: the number, the sentence, then the steps, each with what it was made of and where that comes from.
pub fn text(answer: &Answer, file: &str) -> String {
    let place = if answer.line > 0 { format!(" ({file}, line {})", answer.line) } else { String::new() };
    let mut text = format!("{}: {}{place}\n", answer.about, answer.told);
    if !answer.short.is_empty() {
        let _ = writeln!(text, "{}", answer.short);
    }
    if !answer.steps.terms.is_empty() {
        text.push('\n');
    }
    let told = answer.steps.terms.iter().filter(|t| t.symbol == answer.symbol || !only_another_name(t));
    let names = told.clone().map(|t| t.name.chars().count()).max().unwrap_or(0).min(NAMES);
    for term in told {
        let mark = if term.symbol == answer.symbol { "> " } else { "  " };
        let _ = write!(text, "{mark}{}", padded(&term.name, names));
        let _ = writeln!(text, "  {}  {}", padded(&term.worded(), 14), made_of(&answer.steps, term));
    }
    text
}

/// Sources of a formula that say no more than the formula does.
const PLAIN: [&str; 3] = ["sum", "difference", "quotient"];

/// What a step is made of and where that comes from.
fn made_of(steps: &Chain, term: &Term) -> String {
    let range = term.range.map_or_else(String::new, |[low, high]| format!(", {} to {}", figures(low), figures(high)));
    match (&term.how, steps.filled(term)) {
        (How::Formula(_), Some(filled)) if PLAIN.contains(&term.source.as_str()) => format!("= {filled}"),
        (How::Formula(_), Some(filled)) => format!("= {filled} ({})", term.source),
        (_, Some(words)) => format!("{words} ({})", term.source),
        _ => format!("{}{range}", term.source),
    }
}

/// Filled up to a width; what is longer stands out.
fn padded(text: &str, width: usize) -> String {
    let count = text.chars().count();
    format!("{text}{}", " ".repeat(width.saturating_sub(count)))
}

/// All keys with their numbers, for whoever asks without one.
pub fn index(all: &[Answer]) -> String {
    let mut text = String::new();
    let width = all.iter().map(|a| a.key.chars().count()).max().unwrap_or(0);
    for answer in all {
        let _ = writeln!(text, "  {}  {}", padded(&answer.key, width), answer.told);
    }
    text
}

/// A cutter's name.
fn named(job: &Job, number: u32) -> String {
    job.shop.cutter(number).map_or_else(|| number.to_string(), |c| c.name.clone())
}

/// A place as it is told.
fn at(p: Point) -> String {
    format!("x {} y {}", trimmed(p.x, 2), trimmed(p.y, 2))
}
