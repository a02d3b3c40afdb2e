//! The work at the machine: its steps in order, which of them are ticked, and what is measured on the way, as JSON.
//!
//! The steps and their words are those of the setup sheet ([`packet::bench`]). Each has a mark, a hash of all that it stands for;
//! a step of a program stands for that program's text, and what the plate looks like for the texts so far.

use crate::board::{Board, NotEdited};
use crate::paper::hash;
use crate::run::Run;
use crate::ticks::Ticks;
use crate::view;
use packet::Computed;
use plate::SpindleSpeed;
use serde_json::{Value, json};
use sheet::{About, Piece, Step};
use std::path::Path;

/// A step with its name and mark.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct BenchStep {
    /// Its name in the file of ticks.
    pub(crate) id: String,
    /// Hash of what it stands for.
    pub(crate) mark: String,
    step: Step,
}

/// The steps of a run; none of one that came to no proof.
pub(crate) fn steps(run: &Run) -> &[BenchStep] {
    run.steps.get_or_init(|| run.computed.as_ref().map_or_else(Vec::new, marked))
}

fn marked(computed: &Computed) -> Vec<BenchStep> {
    let mut made: Vec<BenchStep> = Vec::new();
    for step in packet::bench::steps(computed) {
        let file = step.stage.and_then(|s| computed.programs.get(s + 1)).map(|p| p.0.as_str());
        let word = word(step.about);
        let mut id = file.map_or_else(|| word.to_owned(), |file| format!("{file} {word}"));
        // Several of a kind are counted: the things to look at before a program.
        let same = made.iter().filter(|m| m.id == id || m.id.starts_with(&format!("{id} "))).count();
        if same > 0 {
            id = format!("{id} {}", same + 1);
        }
        made.push(BenchStep { mark: mark(computed, &step), id, step });
    }
    made
}

/// What a step is about, in a word.
fn word(about: About) -> &'static str {
    match about {
        About::Film => "film",
        About::Under => "under",
        About::Holds => "holds",
        About::Zero => "zero",
        About::TouchOff => "touch-off",
        About::Traverse => "traverse",
        About::Frame => "frame",
        About::Cutter => "cutter",
        About::Dial => "dial",
        About::Check => "check",
        About::Run => "run",
        About::Look => "look",
        About::Hand => "hand",
        About::Finished => "finished",
    }
}

/// Hash of the words of a step and of what they stand for.
fn mark(computed: &Computed, step: &Step) -> String {
    let intent = &computed.job.intent;
    let texts = |upto: usize| -> Vec<&str> { computed.programs.iter().take(upto).map(|p| p.1.as_str()).collect() };
    let words: String = step.says.iter().map(words).collect();
    let stands_for: Value = match (step.about, step.stage) {
        (About::Holds, _) => json!(intent.holds.iter().map(|h| (&h.name, &h.shape, h.top)).collect::<Vec<_>>()),
        (About::Zero, _) => json!(intent.blank.size),
        (About::Film | About::Under, _) => json!(intent.blank.layers.iter().map(|l| &l.sheet.name).collect::<Vec<_>>()),
        (About::Frame, _) => json!(texts(1)),
        (About::Cutter, Some(stage)) => {
            let number = computed.plan.stages.get(stage).map(|s| s.cutter);
            json!(number.and_then(|n| computed.job.shop.cutter(n)))
        }
        (About::Run, Some(stage)) => json!(computed.programs.get(stage + 1).map(|p| &p.1)),
        (About::Look, Some(stage)) => json!([texts(stage + 2), computed.job.intent.blank]),
        (About::Hand, _) => json!([texts(usize::MAX), computed.proof.hand_work]),
        (About::Finished, _) => json!([texts(usize::MAX), computed.sentences]),
        _ => Value::Null,
    };
    let mut mark = hash(json!([words, stands_for]).to_string().as_bytes());
    mark.truncate(32);
    mark
}

fn words(piece: &Piece) -> &str {
    match piece {
        Piece::Plain(words) | Piece::Strong(words) | Piece::Number(words) => words,
    }
}

/// Everything that stands on the page at the machine but pictures.
pub(crate) fn state(board: &Board) -> Value {
    let turn = board.turn();
    let shop = board.shop();
    let now = board.now();
    let shown = now.shown.clone();
    let last = now.last.clone().filter(|_| !now.working);
    let verdict = view::verdict(last.as_deref(), now.unread.as_deref());
    let layers = intake::layer_lines(&now.text);
    let reading = now.reading.as_ref().map(crate::board::Reading::told);
    let (hash, working, unread) = (now.hash.clone(), now.working, now.unread.clone());
    drop(now);
    // The steps are good only of the run that is proven now.
    let good =
        verdict == json!("proven") && shown.as_ref().zip(last.as_ref()).is_some_and(|(s, l)| s.number == l.number);
    let ticks = Ticks::of(&board.paper);
    let (kept, ticks_unread) = match ticks {
        Ok(ticks) => (ticks, None),
        Err(why) => (Ticks::default(), Some(why)),
    };
    let computed = shown.as_deref().and_then(|r| r.computed.as_ref());
    let all = shown.as_deref().map_or(&[][..], steps);
    let against: Vec<Value> = last
        .iter()
        .filter(|_| !good)
        .flat_map(|r| &r.doubts)
        .filter(|d| d.blocks())
        .take(5)
        .map(|d| json!({ "message": d.message, "way_out": d.way_out }))
        .collect();
    json!({
        "turn": turn,
        "file": board.paper.name(),
        "hash": hash,
        "title": computed.map_or("", |c| c.job.intent.title.as_str()),
        "working": working,
        "verdict": verdict,
        "good": good,
        "unread": unread,
        "against": against,
        "cautions": sheet::cautions(),
        "steps": all.iter().map(|s| told(s, &kept)).collect::<Vec<_>>(),
        "gone": kept.steps().filter(|t| !all.iter().any(|s| s.id == *t)).count(),
        "ticks_unread": ticks_unread,
        "picture": shown.as_deref().map(|r| view::picture(r, good)),
        "plate": computed.map(blank),
        "programs": computed.map(|c| programs(c, board.paper.beside())),
        "sentences": computed.map_or(&[][..], |c| c.sentences.as_slice()),
        "hand": computed.map(|c| c.proof.hand_work.iter().map(|h| [h.at.x, h.at.y]).collect::<Vec<_>>()),
        "layers": layers.iter().map(|l| json!({ "sheet": l.sheet, "measured": l.measured })).collect::<Vec<_>>(),
        "shop": (!shop.hash.is_empty() && shop.shut.is_none()).then(|| json!({
            "file": shop.name,
            "hash": shop.hash,
            "cutters": intake::cutter_lines(&shop.text).iter()
                .map(|c| json!({ "number": c.number, "diameter": c.diameter })).collect::<Vec<_>>(),
        })),
        "reading": reading,
    })
}

fn told(step: &BenchStep, ticks: &Ticks) -> Value {
    let piece = |p: &Piece| {
        let kind = match p {
            Piece::Plain(_) => "plain",
            Piece::Strong(_) => "strong",
            Piece::Number(_) => "number",
        };
        json!({ "as": kind, "words": words(p) })
    };
    let ticked = ticks.mark(&step.id);
    json!({
        "id": step.id,
        "mark": step.mark,
        "about": word(step.step.about),
        "stage": step.step.stage,
        "says": step.step.says.iter().map(piece).collect::<Vec<_>>(),
        "ticked": ticked == Some(step.mark.as_str()),
        "changed": ticked.is_some_and(|t| t != step.mark),
    })
}

/// What the drawings of the steps are made from.
fn blank(computed: &Computed) -> Value {
    let (shop, intent) = (&computed.job.shop, &computed.job.intent);
    let blank = &intent.blank;
    let layers = blank.layers.iter().map(|l| {
        let [r, g, b] = l.sheet.colour;
        json!({
            "sheet": l.sheet.name, "colour": format!("#{r:02x}{g:02x}{b:02x}"),
            "top": l.top.to_mm(), "bottom": l.bottom.to_mm(),
        })
    });
    let dial = match &shop.spindle.speed {
        SpindleSpeed::Dial(positions) => positions.iter().map(|p| p.0.clone()).collect(),
        _ => Vec::new(),
    };
    let cutter = |stage: &motion::Stage| {
        shop.cutter(stage.cutter).map(|c| {
            json!({
                "number": c.number, "name": c.name, "diameter": c.diameter.to_mm(), "width": c.cutting_width.to_mm(),
                "flutes": c.flute_length.to_mm(), "shank": c.shank.to_mm(), "stick_out": c.stick_out.to_mm(),
                "dial": stage.dial,
            })
        })
    };
    json!({
        "layers": layers.collect::<Vec<_>>(),
        "under": blank.under.iter().map(|u| json!({ "name": u.name, "thickness": u.thickness.to_mm() })).collect::<Vec<_>>(),
        "face": blank.face.to_mm(),
        "underside": blank.underside.to_mm(),
        "edge": intent.outline.as_ref().map(|o| view::rings(&o.inside)),
        "feeler": shop.touch_off.feeler.to_mm(),
        "nut": shop.spindle.nut_diameter.to_mm(),
        "dial": dial,
        "traverse": computed.plan.stages.iter().map(|s| s.traverse.to_mm()).fold(0.0, f64::max),
        "stages": computed.plan.stages.iter().map(cutter).collect::<Vec<_>>(),
    })
}

/// Largest program that is compared, bytes.
const LARGEST: u64 = 256 << 20;

/// Of each program of the run, whether the packet beside the plate file has that very text.
fn programs(computed: &Computed, beside: &Path) -> Vec<Value> {
    let one = |(name, text): &(String, String)| {
        let path = beside.join("packet").join(name);
        let stands = match std::fs::metadata(&path) {
            Ok(found) if found.is_file() && found.len() == text.len() as u64 && found.len() <= LARGEST => {
                std::fs::read(&path).is_ok_and(|bytes| bytes == text.as_bytes())
            }
            _ => false,
        };
        let word = if stands {
            "same"
        } else if path.is_file() {
            "other"
        } else {
            "none"
        };
        json!({ "file": name, "packet": word })
    };
    computed.programs.iter().map(one).collect()
}

/// Ticks a step or takes its tick back, if it is what the page showed.
pub(crate) fn tick(board: &Board, id: &str, mark: &str, ticked: bool) -> Result<(), NotEdited> {
    let now = board.now();
    let Some(run) = now.shown.clone().filter(|_| !now.working) else { return Err(NotEdited::Changed) };
    if run.hash != now.hash || !steps(&run).iter().any(|s| s.id == id && s.mark == mark) {
        return Err(NotEdited::Changed);
    }
    // Under the board's lock, so that no two devices write over each other.
    let mut ticks = Ticks::of(&board.paper).unwrap_or_default();
    ticks.set(id, ticked.then_some(mark));
    ticks.write(&board.paper).map_err(|e| NotEdited::System(e.to_string()))?;
    drop(now);
    board.say();
    Ok(())
}

/// Takes all ticks back: for the next blank.
pub(crate) fn anew(board: &Board) -> Result<(), NotEdited> {
    let now = board.now();
    Ticks::default().write(&board.paper).map_err(|e| NotEdited::System(e.to_string()))?;
    drop(now);
    board.say();
    Ok(())
}
