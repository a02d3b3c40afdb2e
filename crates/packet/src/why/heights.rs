//! Why heights are what they are: floors, the face, traverses.

use super::Answer;
use intake::{Job, sentence, through_sentence};
use plate::{Area, FloorKind, Held};
use quantity::{Height, Length, trimmed};
use reckon::chain::Working;
use reckon::heights;

pub(super) fn answers(job: &Job) -> Vec<Answer> {
    let intent = &job.intent;
    let mut all: Vec<Answer> = intent.areas.iter().filter_map(|a| floor(job, a)).collect();
    if let Some(outline) = &intent.outline {
        let working = heights::through(&job.layered, intent.blank.into_table);
        let edge = match outline.held {
            Held::Skin(skin) => skin_floor(job, skin),
            _ => working,
        };
        let key = format!("{} floor", outline.name);
        let about = format!("floor of the cut along {}", outline.name);
        let answer = Answer::new(key, about, edge, "floor");
        all.extend(
            answer.map(|a| above(a, outline.floor).short(through_sentence(outline, &intent.blank)).line(outline.line)),
        );
        if let Held::Tabs(tabs) = &outline.held {
            all.extend(tab_top(job, tabs.left, outline.line));
        }
    }
    let face = Answer::new("face", "the blank's face", heights::face(&job.layered), "face");
    let (low, high) = (intent.blank.face_low, intent.blank.face_high);
    let short = format!("no blank that the readings and tolerances allow has its face below {low} or above {high}");
    all.extend(face.map(|a| above(a, intent.blank.face).short(short)));
    all.extend(traverse(job));
    all
}

fn above(answer: Answer, height: Height) -> Answer {
    answer.told(format!("{height} above the table"))
}

fn floor(job: &Job, area: &Area) -> Option<Answer> {
    let intent = &job.intent;
    let working = match (area.kind, &area.held) {
        (FloorKind::Shows(layer), _) => {
            let miss = area.reveal.and_then(|r| r.miss);
            heights::showing(&job.layered, layer, job.margin, area.floor, miss.as_ref())?
        }
        (FloorKind::BelowFace(depth), _) => heights::below_face(&job.layered, depth),
        (FloorKind::Through, Held::Skin(skin)) => skin_floor(job, *skin),
        (FloorKind::Through, _) => heights::through(&job.layered, intent.blank.into_table),
        (FloorKind::AboveTable, _) => {
            let mut w = Working::default();
            w.given("floor", "height asked for", area.floor.to_mm(), "mm", "plate file, `above_table`");
            w
        }
    };
    let answer = Answer::new(format!("{} floor", area.name), format!("floor of {}", area.name), working, "floor")?;
    Some(above(answer, area.floor).short(sentence(area, &intent.blank)).line(area.line))
}

/// The floor of a cut that leaves a skin.
fn skin_floor(job: &Job, skin: Length) -> Working {
    let mut w = Working::default();
    let underside =
        w.given("underside", "underside of the blank", job.intent.blank.underside.to_mm(), "mm", "what lies under it");
    let skin = w.given("skin", "skin asked for", skin.to_mm(), "mm", "plate file, `held_by`");
    w.by("floor", "floor", "underside + skin", underside + skin, "mm", "sum");
    w
}

fn tab_top(job: &Job, left: Length, line: usize) -> Option<Answer> {
    let mut w = Working::default();
    let underside =
        w.given("underside", "underside of the blank", job.intent.blank.underside.to_mm(), "mm", "what lies under it");
    let left = w.given("left", "height of material left", left.to_mm(), "mm", "plate file, `left`");
    let top = w.by("top", "top of the tabs", "underside + left", underside + left, "mm", "sum");
    let answer = Answer::new("tabs", "top of the tabs", w, "top")?;
    let short = "the path rises over each tab by this much, along its length and the cutter's width";
    Some(answer.told(format!("{} above the table", Height::mm(top))).short(short).line(line))
}

/// The height of traverses.
fn traverse(job: &Job) -> Option<Answer> {
    let intent = &job.intent;
    let mut w = Working::default();
    let face = w.given("face", "face of the thickest blank", intent.blank.face_high.to_mm(), "mm", "see `face`");
    let holds = intent.holds.iter().map(|h| h.top.to_mm()).fold(f64::NEG_INFINITY, f64::max);
    let clearance = job.shop.machine.clearance.to_mm();
    let mut highest = "face".to_owned();
    if holds.is_finite() {
        w.given("holds", "top of the highest hold", holds, "mm", "plate file, [[hold]]");
        highest = "max(face, holds)".into();
    }
    w.given("clearance", "clearance", clearance, "mm", "shop file, `clearance`");
    let value = face.max(holds) + clearance;
    w.by("traverse", "height of traverses", &format!("{highest} + clearance"), value, "mm", "above all that stands");
    let short = if holds > face {
        format!(
            "a hold stands higher than the blank: lower holds would let the cutter travel {} mm lower",
            trimmed(holds - face, 2)
        )
    } else {
        "above the thickest blank that the readings and tolerances allow".to_owned()
    };
    Answer::new("traverse", "height of traverses", w, "traverse").map(|a| above(a, Height::mm(value)).short(short))
}
