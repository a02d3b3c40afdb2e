//! Why the work is parted as it is: passes, sets of cutters, minutes.

use super::{Answer, named};
use intake::Job;
use motion::{Move, SPIN_UP, Stage};
use plan::{Plan, Room, Subset};
use quantity::trimmed;
use reckon::chain::Working;
use reckon::pace::{self, Step};
use std::collections::BTreeSet;

/// Heights, in whole micrometres, of a stage's passes that belong to something by name, highest first.
fn heights(stage: &Stage, name: &str) -> Vec<f64> {
    let of = |m: &Move| {
        let Move::Pass(words) = m else { return None };
        let (names, rest) = words.split_once(" at ")?;
        let height: f64 = rest.split([',', ' ']).next()?.parse().ok()?;
        names.split(", ").any(|n| n == name).then(|| (height * 1000.0).round() as i64)
    };
    let found: BTreeSet<i64> = stage.moves.iter().filter_map(of).collect();
    found.into_iter().rev().map(|h| h as f64 / 1000.0).collect()
}

/// For each program and each thing that it cuts, why in so many passes.
pub(super) fn passes(job: &Job, rooms: &[Room], stages: &[Stage]) -> Vec<Answer> {
    let intent = &job.intent;
    let mut things: Vec<(&str, usize, f64)> =
        intent.areas.iter().zip(rooms).map(|(a, room)| (a.name.as_str(), a.line, room.top)).collect();
    things.extend(intent.outline.iter().map(|o| (o.name.as_str(), o.line, intent.blank.face_high.to_mm())));
    let mut all = Vec::new();
    for (k, stage) in stages.iter().enumerate().filter(|(_, s)| s.cutting) {
        for &(name, line, top) in &things {
            let heights = heights(stage, name);
            let Some(&bottom) = heights.last() else { continue };
            all.extend(pass(job, (k + 1, stage), name, top, bottom, heights.len()).map(|a| a.line(line)));
        }
    }
    all
}

fn pass(job: &Job, (k, stage): (usize, &Stage), name: &str, top: f64, bottom: f64, count: usize) -> Option<Answer> {
    let cutter = job.shop.cutter(stage.cutter)?;
    let run = reckon::load::cutting(
        &job.shop,
        cutter,
        reckon::material::hardest(job.intent.blank.layers.iter().map(|l| l.sheet.material)),
    );
    let mut w = Working::default();
    w.given("top", "where it begins", top, "mm", "the floor round it, or the thickest blank's face");
    w.given("bottom", "its floor", bottom, "mm", format!("see `{name} floor`"));
    let deep = w.by("deep", "depth to cut", "top - bottom", top - bottom, "mm", "difference");
    let depth = run.pass_depth.to_mm();
    let source = format!("see `cutter {} pass depth`: {}", stage.cutter, run.limit.words());
    w.given("depth", "safe depth of one pass", depth, "mm", source);
    let share = w.by("share", "passes of that depth", "deep / depth", deep / depth, "", "quotient");
    let least = (share - 1e-9).ceil().max(1.0);
    let words = if count as f64 > least {
        format!("up to a whole number, {least}, and {} more so that no pass ends in a bond line", count as f64 - least)
    } else {
        "up to a whole number, all of the same depth".to_owned()
    };
    w.chosen("passes", "passes", (words, &["share"]), count as f64, "", "equal passes");
    let each = w.by("each", "depth of each", "deep / passes", deep / count as f64, "mm", "quotient");
    let key = format!("{name} passes by program {k}");
    let about = format!("passes of {} in {name}", named(job, stage.cutter));
    let answer = Answer::new(key, about, w, "passes")?;
    let plural = if count == 1 { "pass" } else { "passes" };
    Some(answer.told(format!("{count} {plural}, {} mm each", trimmed(each, 3))))
}

/// Sets of cutters and minutes.
pub(super) fn answers(job: &Job, rooms: &[Room], plan: &Plan) -> Vec<Answer> {
    let mut all: Vec<Answer> = set(job, plan).into_iter().collect();
    all.extend(job.shop.cutters.iter().filter_map(|c| left_out(job, rooms, plan, c.number)));
    let mut seconds = Vec::new();
    for (k, stage) in plan.stages.iter().enumerate() {
        if let Some((answer, took)) = minutes(job, k + 1, stage) {
            seconds.push((k + 1, stage, took));
            all.push(answer);
        }
    }
    all.extend(whole(job, &seconds));
    all
}

/// A set's name.
fn words(job: &Job, set: &[u32]) -> String {
    set.iter().map(|&n| named(job, n)).collect::<Vec<_>>().join(" + ")
}

/// Sets that are listed one by one.
const LISTED: usize = 8;

/// Why this set of cutters.
fn set(job: &Job, plan: &Plan) -> Option<Answer> {
    let chosen = plan.subsets.iter().find(|s| s.chosen)?;
    let mut w = Working::default();
    let mut rivals: Vec<&Subset> = plan.subsets.iter().filter(|s| !s.chosen && s.reaches_all).collect();
    rivals.sort_by(|a, b| a.minutes.total_cmp(&b.minutes));
    let more = rivals.len().saturating_sub(LISTED);
    rivals.truncate(LISTED);
    let mut symbols = Vec::new();
    for (i, set) in rivals.iter().enumerate() {
        let symbol = format!("m{}", i + 1);
        w.given(&symbol, &words(job, &set.cutters), set.minutes, "min", by(set));
        symbols.push(symbol);
    }
    let from: Vec<&str> = symbols.iter().map(String::as_str).collect();
    let least = if more > 0 {
        format!("the least of all, {more} slower sets not listed")
    } else {
        "the least of all".to_owned()
    };
    let choice = if rivals.is_empty() { "no other set reaches as much".to_owned() } else { least };
    let leaving = plan.subsets.iter().filter(|s| !s.reaches_all).count();
    w.chosen("minutes", &words(job, &chosen.cutters), (choice, &from), chosen.minutes, "min", by(chosen));
    let told = format!("{}, {} min", words(job, &chosen.cutters), trimmed(chosen.minutes.ceil(), 0));
    let short = match leaving {
        0 => "of the sets that reach everything the one that takes the least time, changes included".to_owned(),
        n => format!(
            "of the sets that reach as much as all cutters together the one that takes the least time, changes included; {n} others leave more by hand"
        ),
    };
    Answer::new("cutters", "cutters used", w, "minutes").map(|a| a.told(told).short(short))
}

fn by(set: &Subset) -> &'static str {
    if set.planned { "planned, starts and changes included" } else { "at least, by the way that must be cut" }
}

/// Why a cutter of the shop isn't used.
fn left_out(job: &Job, rooms: &[Room], plan: &Plan, number: u32) -> Option<Answer> {
    let cutter = job.shop.cutter(number)?;
    if plan.stages.iter().any(|s| s.cutter == number) {
        return None;
    }
    let chosen = plan.subsets.iter().find(|s| s.chosen);
    let mut w = Working::default();
    let (short, told) = if !job.intent.cutters.contains(&number) {
        w.given("width", "width of its cut", cutter.cutting_width.to_mm(), "mm", "shop file");
        ("the plate file's `cutters` doesn't list it".to_owned(), "not allowed by the plate file")
    } else if cutter.form != plate::Form::Flat {
        w.given("width", "width of its cut", cutter.cutting_width.to_mm(), "mm", "shop file");
        (
            "no area asks for walls that it cuts: flat floors and upright walls are for flat cutters".to_owned(),
            "not needed",
        )
    } else {
        let chosen = chosen?;
        let with = plan
            .subsets
            .iter()
            .filter(|s| s.cutters.contains(&number) && s.reaches_all)
            .min_by(|a, b| a.minutes.total_cmp(&b.minutes));
        match with {
            Some(with) => {
                let a = w.given(
                    "with",
                    &format!("best set with it: {}", words(job, &with.cutters)),
                    with.minutes,
                    "min",
                    by(with),
                );
                let b = w.given(
                    "without",
                    &format!("set used: {}", words(job, &chosen.cutters)),
                    chosen.minutes,
                    "min",
                    by(chosen),
                );
                w.by("more", "more with it", "with - without", a - b, "min", "difference");
                let saves = "what it cuts faster is less than its change, touch-off and start cost";
                (saves.to_owned(), "not worth a change")
            }
            None => {
                w.given("flutes", "its flutes", cutter.flute_length.to_mm(), "mm", "shop file");
                let short = rooms.iter().all(|r| !r.cutters.contains(&number));
                if short {
                    (
                        "its flutes are too short for every floor, or nothing is wide enough for it".to_owned(),
                        "reaches nothing",
                    )
                } else {
                    ("every set with it leaves more by hand".to_owned(), "reaches less")
                }
            }
        }
    };
    let symbol = w.terms().last()?.symbol.clone();
    let answer =
        Answer::new(format!("cutter {number}"), format!("cutter {number}, {}, left out", cutter.name), w, &symbol)?;
    Some(answer.told(told).short(short))
}

/// Why a program takes so long; with its seconds.
fn minutes(job: &Job, k: usize, stage: &Stage) -> Option<(Answer, f64)> {
    let machine = &job.shop.machine;
    let mut steps: Vec<Step> = if stage.cutting { vec![Step::Wait(SPIN_UP)] } else { Vec::new() };
    steps.extend(plan::steps(&job.shop, &stage.moves, None));
    let times = pace::times(machine, &steps);
    let (mut length, mut at_feed, mut cutting, mut rapids, mut waits) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (step, time) in steps.iter().zip(&times) {
        match step {
            Step::Cut { length: l, feed, .. } => {
                length += l;
                at_feed += l / feed * 60.0;
                cutting += time;
            }
            Step::Rapid { .. } => rapids += time,
            Step::Wait(_) => waits += time,
        }
    }
    let mut w = Working::default();
    w.given("way", "way cut with a feed", length / 1000.0, "m", "the program's moves");
    w.given("even", "that way, each move at its own feed", at_feed, "s", "sum of length / feed");
    let slower = "speeding up, slowing down and corners";
    w.given("slower", slower, cutting - at_feed, "s", "acceleration and corner deviation of the shop file");
    w.given("rapids", "rapids, each from rest to rest", rapids, "s", "rapids and accelerations of the shop file");
    w.given("spin_up", "spindle running up", waits, "s", "the program waits for it");
    let whole: f64 = cutting + rapids + waits;
    w.by(
        "seconds",
        "all of it",
        "even + slower + rapids + spin_up",
        cutting - at_feed + at_feed + rapids + waits,
        "s",
        "sum",
    );
    let minutes = whole / 60.0;
    w.by("minutes", "minutes", "seconds / 60", minutes, "min", "quotient");
    let answer =
        Answer::new(format!("program {k} minutes"), format!("minutes of program {k}, {}", stage.name), w, "minutes")?;
    let share = if whole > 0.0 { 100.0 * (cutting - at_feed).max(0.0) / whole } else { 0.0 };
    let short = format!("{} % of it is lost to speeding up and slowing down", trimmed(share, 0));
    Some((answer.told(format!("{} min", trimmed(minutes, 1))).short(short), whole))
}

/// All programs with starts and changes.
fn whole(job: &Job, seconds: &[(usize, &Stage, f64)]) -> Option<Answer> {
    let machine = &job.shop.machine;
    let mut w = Working::default();
    let mut sum = Vec::new();
    let mut all = 0.0;
    for (k, stage, took) in seconds {
        let symbol = format!("p{k}");
        all += w.given(
            &symbol,
            &format!("program {k}, {}", stage.name),
            took / 60.0,
            "min",
            format!("see `program {k} minutes`"),
        );
        sum.push(symbol);
    }
    let programs = w.given("n", "programs", seconds.len() as f64, "", "the plan");
    let start =
        w.given("start", "starting a program", machine.program_start / 60.0, "min", "shop file, `program_start`");
    let same = seconds.windows(2).filter(|p| p[0].1.cutter == p[1].1.cutter).count();
    let changes = w.given(
        "changes",
        "changes of cutter, the first put in too",
        (seconds.len() - same.min(seconds.len())) as f64,
        "",
        "the plan",
    );
    let change = w.given(
        "change",
        "changing a cutter and touching off",
        machine.cutter_change / 60.0,
        "min",
        "shop file, `cutter_change`",
    );
    let formula = format!("{} + n * start + changes * change", sum.join(" + "));
    let total = w.by("minutes", "minutes in all", &formula, all + programs * start + changes * change, "min", "sum");
    Answer::new("minutes", "minutes in all", w, "minutes").map(|a| a.told(format!("{} min", trimmed(total, 1))))
}
