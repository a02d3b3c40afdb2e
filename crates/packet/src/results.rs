//! The files of a packet.

use crate::{Computed, compared, intent_file, reached};
use doubt::{Doubt, Severity};
use quantity::{Length, trimmed};
use rayon::prelude::*;
use reckon::{load, material::hardest};
use sheet::{Job, StageWords};

/// Names and bytes, without the manifest.
pub(crate) fn files(computed: &Computed) -> Vec<(String, Vec<u8>)> {
    let stages = stage_words(computed);
    let subsets = compared::rows(computed);
    let of = |notes: bool| -> Vec<Doubt> {
        computed.doubts.iter().filter(|d| (d.severity == Severity::Note) == notes).cloned().collect()
    };
    let reach = reached::table(&computed.job.shop, &computed.job.intent);
    let shares = reached::rows(&reach);
    let (assumed, look) = (of(true), of(false));
    let why = crate::why::short_forms(&computed.job, &computed.plan);
    // The frame run cuts nothing: the sheet shows the programs that do.
    let shown = crate::bench::proof_of_cuts(computed);
    let job = Job {
        shop: &computed.job.shop,
        intent: &computed.job.intent,
        proof: &shown,
        stages: &stages,
        frame: computed.programs.first().map(|p| p.0.as_str()),
        sentences: &computed.sentences,
        assumed: &assumed,
        doubts: &look,
        subsets: &subsets,
        reach: &shares,
        why: &why,
    };
    let mut files: Vec<(String, Vec<u8>)> =
        computed.programs.iter().map(|(name, text)| (name.clone(), text.clone().into_bytes())).collect();
    files.extend(drawn(&job, &computed.plan.stages));
    files.push(("intent.json".into(), intent_file::text(&computed.job.intent, &computed.sentences).into_bytes()));
    files.push(("proof.json".into(), json(&computed.proof)));
    files.push(("proof.txt".into(), proof::report(&computed.proof).into_bytes()));
    files.push(("cutters.txt".into(), compared::text(&subsets).into_bytes()));
    files.push(("reach.txt".into(), reached::text(&reach).into_bytes()));
    files
}

/// Sheet and pictures, on all processors; each is a function of the job alone, so the order of work shows nowhere.
fn drawn(job: &Job<'_>, stages: &[motion::Stage]) -> Vec<(String, Vec<u8>)> {
    let after: Vec<String> = stages.iter().map(|s| format!("pictures/after-{}.png", s.name)).collect();
    let paths: Vec<String> = stages.iter().map(|s| format!("pictures/paths-{}.png", s.name)).collect();
    let mut wanted = vec![("setup-sheet.pdf", Draw::Sheet), ("pictures/face.png", Draw::Face)];
    wanted.extend(after.iter().enumerate().map(|(i, name)| (name.as_str(), Draw::After(i))));
    wanted.extend(paths.iter().enumerate().map(|(i, name)| (name.as_str(), Draw::Paths(i))));
    wanted.extend([("pictures/section.png", Draw::Section), ("pictures/hand-work.png", Draw::HandWork)]);
    let draw = |&(name, what): &(&str, Draw)| {
        let bytes = match what {
            Draw::Sheet => sheet::setup_sheet(job),
            Draw::Face => sheet::face(job),
            Draw::After(i) => sheet::after_stage(job, i),
            Draw::Paths(i) => sheet::paths(job, i, &stages[i].moves),
            Draw::Section => sheet::section(job),
            Draw::HandWork => sheet::hand_work(job),
        };
        (name.to_owned(), bytes)
    };
    wanted.par_iter().map(draw).collect()
}

#[derive(Clone, Copy)]
enum Draw {
    Sheet,
    Face,
    After(usize),
    Paths(usize),
    Section,
    HandWork,
}

/// A value as a JSON file.
pub(crate) fn json(value: &impl serde::Serialize) -> Vec<u8> {
    let mut text = serde_json::to_string_pretty(value).unwrap_or_default();
    text.push('\n');
    text.into_bytes()
}

pub(crate) fn stage_words(computed: &Computed) -> Vec<StageWords> {
    let (shop, blank) = (&computed.job.shop, &computed.job.intent.blank);
    let material = hardest(blank.layers.iter().map(|l| l.sheet.material));
    let own = |cutter: u32| -> Vec<String> {
        let cutter = shop.cutter(cutter);
        cutter.map_or_else(Vec::new, |c| load::cutting(shop, c, material).own.iter().map(load::Own::worded).collect())
    };
    let words = |stage: &motion::Stage| {
        let mut checks = vec![format!(
            "Touch off on the table and set the display to {}.",
            trimmed(shop.touch_off.feeler.to_mm(), 3)
        )];
        if stage.name.contains("outline") {
            checks.push("The holds stand clear of the edge, and nothing lies on the plate.".into());
        }
        StageWords {
            file: format!("{}.{}", stage.name, shop.dialect.extension),
            cutter_number: stage.cutter,
            purpose: capital(&stage.purpose),
            speed: stage.speed,
            dial: stage.dial.clone(),
            feed: stage.feed,
            pass_depth: Length::mm(stage.pass_depth),
            traverse: stage.traverse,
            hop: stage.hop,
            own: own(stage.cutter),
            checks,
        }
    };
    computed.plan.stages.iter().map(words).collect()
}

fn capital(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
