//! Why cutters are run as they are: speeds, feeds, chips, passes, forces.

use super::Answer;
use intake::Job;
use plate::Cutter;
use reckon::chain::{Chain, How, Term, Working};
use reckon::load::{self, RESULTS, chains};
use reckon::margin;
use reckon::material;

/// For each cutter that the plate may use, its numbers.
pub(super) fn answers(job: &Job) -> Vec<Answer> {
    let material = material::hardest(job.intent.blank.layers.iter().map(|l| l.sheet.material));
    let used = job.shop.cutters.iter().filter(|c| job.intent.cutters.contains(&c.number));
    let mut all: Vec<Answer> = used.clone().flat_map(|c| of(job, c, material)).collect();
    all.extend(step(job, &used.map(|c| c.number).collect::<Vec<_>>()));
    all
}

fn of(job: &Job, cutter: &Cutter, material: plate::Material) -> Vec<Answer> {
    let run = load::cutting(&job.shop, cutter, material);
    let one = |chain: Chain| {
        let chain = shortened(chain, cutter.number);
        let last = chain.last()?.clone();
        let words = chain.key.replace('-', " ");
        let short = match chain.key.as_str() {
            "pass-depth" => format!("a full slot may be this deep in one pass: {}", run.limit.words()),
            "speed" => run.dial.as_ref().map_or_else(String::new, |d| format!("dial position {d}")),
            "feed" if run.held_by_machine => "the machine can't go faster".to_owned(),
            _ => String::new(),
        };
        Some(Answer {
            key: format!("cutter {} {words}", cutter.number),
            about: format!("{} of cutter {}, {}", last.name, cutter.number, cutter.name),
            value: last.value,
            unit: last.unit.clone(),
            told: last.worded(),
            short,
            line: 0,
            symbol: last.symbol.clone(),
            steps: chain,
        })
    };
    let mut all: Vec<Answer> = chains(&job.shop, cutter, material).into_iter().filter_map(one).collect();
    all.extend(stepover(cutter));
    all
}

/// A chain that ends at the numbers which can be asked about by themselves.
fn shortened(chain: Chain, cutter: u32) -> Chain {
    let Some(last) = chain.last().map(|t| t.symbol.clone()) else { return chain };
    let asked = |symbol: &str| RESULTS.iter().find(|(_, s)| *s == symbol && symbol != last).map(|(key, _)| *key);
    let mut needed = vec![last.clone()];
    let mut terms: Vec<Term> = Vec::new();
    for term in chain.terms.iter().rev() {
        if !needed.contains(&term.symbol) {
            continue;
        }
        match asked(&term.symbol) {
            Some(key) => {
                let source = format!("see `cutter {cutter} {}`", key.replace('-', " "));
                terms.push(Term { how: How::Given, source, range: None, ..term.clone() });
            }
            None => {
                needed.extend(term.uses().into_iter().map(str::to_owned));
                terms.push(term.clone());
            }
        }
    }
    terms.reverse();
    Chain { terms, ..chain }
}

/// Distance between neighbouring paths.
fn stepover(cutter: &Cutter) -> Option<Answer> {
    let mut w = Working::default();
    let width = w.given("d", "width of the cut", cutter.cutting_width.to_mm(), "mm", "shop file, `cuts` or `diameter`");
    let share = w.given("share", "stepover as a share of it", cutter.stepover, "", "shop file, `stepover`");
    let short = "at most a half, so that nothing stays between two paths";
    let held = share.clamp(0.02, 0.5);
    w.by(
        "ae",
        "distance between neighbouring paths",
        "d * min(max(share, 0.02), 0.5)",
        width * held,
        "mm",
        "the shop's own number",
    );
    let answer =
        Answer::new(format!("cutter {} stepover", cutter.number), format!("stepover of {}", cutter.name), w, "ae")?;
    Some(answer.short(short))
}

/// The greatest step between two cutters.
fn step(job: &Job, used: &[u32]) -> Option<Answer> {
    let mut repeats: Vec<(u32, quantity::Length)> =
        job.repeats.iter().copied().filter(|(n, _)| used.contains(n)).collect();
    repeats.sort_by(|a, b| b.1.to_mm().total_cmp(&a.1.to_mm()).then(a.0.cmp(&b.0)));
    let [(one, first), (other, second), ..] = repeats[..] else { return None };
    let mut w = Working::default();
    let source = "shop file, `repeatability`";
    let a = w.given("a", &format!("touch-off of cutter {one}, by as much either way"), first.to_mm(), "mm", source);
    let b = w.given("b", &format!("touch-off of cutter {other}, by as much either way"), second.to_mm(), "mm", source);
    w.by("step", "greatest step", "a + b", a + b, "mm", "both the wrong way");
    let likely = margin::floor_step(first, second).rss;
    let short = format!(
        "each cutter is touched off anew, so floors where two meet may show a step; {likely} is likely, by root-sum-square"
    );
    Answer::new("step between cutters", "step where two cutters meet", w, "step").map(|a| a.short(short))
}
