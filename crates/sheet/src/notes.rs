//! The setup sheet's lists: hand work, what the plate shows, cautions, assumptions, findings.

use crate::above::{self, View};
use crate::blocks::{Block, Pages, WIDTH, rest_of};
use crate::drawing::{Style, style};
use crate::flow::{self, Run, marked, run};
use crate::hand;
use crate::ink::{INK, PAPER, QUIET};
use crate::job::Job;
use crate::lettering::Cut;
use crate::numbers::{count, minutes, short, two};
use crate::setup::{ASIDE, HEAD, PLAIN, SMALL, TEXT};
use doubt::{Doubt, Severity};
use proof::HandWork;

/// Spots listed one by one; beyond it the rest is told by area.
const MOST_SPOTS: usize = 200;

/// What every sheet says, whatever the plate.
const CAUTIONS: [&str; 6] = [
    "**Rotating cutters** cut hands as well as acrylic: keep clear while the spindle turns, and take the plug out before a cutter is changed.",
    "**Chips** fly hot and sharp: wear eye protection, wear nothing loose, and keep the guard closed. Tie nothing down by hand.",
    "**Dust and fumes**: extract at the cutter. Overheated acrylic gives off fumes that irritate; if it smells or melts, stop, do not cut on.",
    "**Fire**: a cutter that rubs can set chips alight. Stay with the machine while it runs, with an extinguisher within reach.",
    "**Keep a hand at the stop** during the first minutes of each program, and after every change of cutter.",
    "The documents of the machine, the cutters and the sheets, local codes, and licensed practice where they ask for it, come before this sheet. Mains wiring is outside its scope.",
];

/// A list that is no higher stands on one page.
const TOGETHER: f32 = 170.0;

/// A list's head and its items: a short list stays together, in a long one the head stays with the first item.
fn list(pages: &mut Pages, head: &str, items: Vec<Vec<Run>>) {
    if items.is_empty() {
        return;
    }
    let lettering = pages.lettering;
    let blocks: Vec<Block> = items
        .iter()
        .map(|runs| {
            let mut item = Block::new(lettering);
            item.text(1.0, SMALL.size * 0.98, SMALL, "–");
            let used = flow::set(&mut item, 11.0, 0.0, WIDTH - 11.0, runs);
            item.sized(used + 1.0)
        })
        .collect();
    let short = blocks.iter().map(|b| b.height).sum::<f32>() <= TOGETHER;
    let mut top = Block::new(lettering);
    top.text(0.0, HEAD.size, HEAD, head);
    let mut waiting = Some(top.sized(HEAD.size * 1.4));
    for item in blocks {
        let joined = rest_of(waiting.take(), item);
        if short {
            waiting = Some(joined);
        } else {
            pages.place(joined);
        }
    }
    if let Some(all) = waiting {
        pages.place(all);
    }
    pages.place(Block::new(lettering).sized(7.0_f32.min(pages.room().max(0.0))));
}

/// The drawing with numbered spots, and the list that belongs to it.
pub(crate) fn hand_work<'a>(job: &Job, pages: &mut Pages<'a>) {
    let lettering = pages.lettering;
    let spots = &job.proof.hand_work;
    let mut block = Block::new(lettering);
    block.rule((0.0, 0.0), (WIDTH, 0.0), INK, 0.8);
    block.text(0.0, 4.0 + HEAD.size, HEAD, "Hand work");
    let y = 4.0 + HEAD.size * 1.4;
    if spots.is_empty() {
        let used = flow::set(
            &mut block,
            0.0,
            y,
            WIDTH,
            &[run("None: the cutters reach every wall and floor of the plate.", PLAIN)],
        );
        return pages.place(block.sized(y + used + 8.0));
    }
    let told = format!(
        "{} that no cutter of this job reaches, numbered as drawn; x, y from the zero corner, in mm. The gap is from the corner to where the cutters came; with no cutter named, only a chisel or file takes it.",
        count(spots.len(), "spot", "spots")
    );
    let y = y + flow::set(&mut block, 0.0, y, WIDTH, &[run(told, PLAIN)]) + 3.0;
    let beside = spots.len() <= 40;
    let width = if beside { WIDTH * 0.5 } else { WIDTH };
    let gutter = 16.0;
    let mut view = View::of_blank(job.intent, 2.0, gutter, y, width - 2.0 * gutter, 230.0);
    view.left = (width - view.width()) / 2.0;
    view.model(&mut block, &job.proof.relief, job.intent, 3.0, PAPER);
    above::holds(&mut block, &view, &job.intent.holds);
    hand::numbers(&mut block, &view, spots, TEXT, width);
    let drawn = y + view.height() + 6.0;
    let listed = &spots[..spots.len().min(MOST_SPOTS)];
    let mut lists = spot_groups(listed);
    if spots.len() > listed.len() {
        lists.push(vec![run(
            format!("And {} more, all in proof.json with size and place.", spots.len() - listed.len()),
            ASIDE,
        )]);
    }
    if beside {
        let left = width + 12.0;
        let mut pen = y - 2.0;
        for runs in lists {
            pen += flow::set(&mut block, left, pen, WIDTH - left, &runs) + 3.0;
        }
        return pages.place(block.sized(drawn.max(pen) + 6.0));
    }
    pages.place(block.sized(drawn));
    for runs in lists {
        let mut item = Block::new(lettering);
        let used = flow::set(&mut item, 0.0, 0.0, WIDTH, &runs);
        pages.place(item.sized(used + 3.0));
    }
    pages.place(Block::new(lettering).sized(6.0_f32.min(pages.room().max(0.0))));
}

/// Spots that follow each other with the same area, floor and reason share one paragraph, of a length that a page can
/// take.
fn spot_groups(spots: &[HandWork]) -> Vec<Vec<Run>> {
    let bold = Style { cut: Cut::Bold, ..SMALL };
    let mut paragraphs: Vec<Vec<Run>> = Vec::new();
    let mut open: Option<&HandWork> = None;
    let mut in_paragraph = 0;
    for (index, spot) in spots.iter().enumerate() {
        let same =
            open.is_some_and(|o| o.area == spot.area && o.why == spot.why && (o.floor - spot.floor).abs() < 1e-6);
        if !same || in_paragraph >= 40 {
            paragraphs.push(vec![
                run(spot.area.clone(), Style { cut: Cut::Italic, ..SMALL }),
                run(format!(", floor {}, {}:", two(spot.floor), spot.why.trim_end_matches('.')), SMALL),
            ]);
            (open, in_paragraph) = (Some(spot), 0);
        }
        in_paragraph += 1;
        let remedy = match spot.cutter_needed {
            Some(diameter) => format!(" ({} mm cutter)", short(diameter, 3)),
            None => String::new(),
        };
        let place = format!(
            "\u{a0}x\u{a0}{}\u{a0}y\u{a0}{}\u{a0}gap\u{a0}{}{remedy};",
            short(spot.at.x, 1),
            short(spot.at.y, 1),
            two(spot.gap)
        );
        if let Some(runs) = paragraphs.last_mut() {
            runs.push(run(format!(" {}", index + 1), bold));
            runs.push(run(place, SMALL));
        }
    }
    for runs in &mut paragraphs {
        if let Some(last) = runs.last_mut() {
            last.text = format!("{}.", last.text.trim_end_matches(';'));
        }
    }
    paragraphs
}

/// Findings, what the plate shows (from the sentence `told` on), cautions, assumptions, cutters compared.
pub(crate) fn rest(job: &Job, told: usize, pages: &mut Pages) {
    let findings = job.proof.findings.iter().map(doubt_runs).collect();
    list(pages, "What the proof found", findings);
    let doubts = job.doubts.iter().filter(|d| d.severity != Severity::Note).map(doubt_runs).collect();
    list(pages, "To look at", doubts);
    let head = if told == 0 { "What the plate shows" } else { "What the plate shows, continued" };
    list(pages, head, job.sentences.iter().skip(told).map(|s| marked(s, SMALL)).collect());
    list(pages, "Cautions", CAUTIONS.iter().map(|c| marked(c, SMALL)).collect());
    let notes = job.doubts.iter().filter(|d| d.severity == Severity::Note);
    list(pages, "What was assumed", job.assumed.iter().chain(notes).map(doubt_runs).collect());
    let compared = job.subsets.iter().map(|s| {
        let note = if s.note.is_empty() { String::new() } else { format!(", {}", s.note) };
        vec![
            run(format!("{}: ", s.cutters), SMALL),
            run(minutes(s.minutes), Style { cut: Cut::Bold, ..SMALL }),
            run(note, SMALL),
        ]
    });
    list(pages, "Cutters compared, changes included", compared.collect());
    list(pages, "How it was proven", proof_figures(job));
}

fn proof_figures(job: &Job) -> Vec<Vec<Run>> {
    let proof = &job.proof;
    let walls = &proof.walls;
    let text = format!(
        "{} million cells of {} mm; {} probes on walls: deepest cut beyond a wall {} mm, most left standing {} mm; greatest error of a floor {} mm.",
        short(proof.cells as f64 / 1e6, 1),
        short(proof.pitch, 4),
        walls.probes,
        short(walls.worst_gouge.max(0.0), 4),
        short(walls.worst_leftover.max(0.0), 4),
        short(proof.greatest_floor_error, 4),
    );
    vec![vec![run(text, SMALL)]]
}

fn doubt_runs(doubt: &Doubt) -> Vec<Run> {
    let mut runs = Vec::new();
    if doubt.severity == Severity::Refusal {
        runs.push(run("Refused: ", Style { cut: Cut::Bold, ..SMALL }));
    }
    runs.push(run(capital(doubt.message.trim_end_matches('.')), SMALL));
    for place in &doubt.places {
        runs.push(run(format!(", at {place}"), style(SMALL.size, Cut::Italic, QUIET)));
    }
    runs.push(run(".", SMALL));
    for note in &doubt.notes {
        runs.push(run(format!(" {}.", capital(note.trim_end_matches('.'))), SMALL));
    }
    if let Some(way_out) = &doubt.way_out {
        runs.push(run(format!(" What to do: {}.", way_out.trim_end_matches('.')), SMALL));
    }
    runs
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
