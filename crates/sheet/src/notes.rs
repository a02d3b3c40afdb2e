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
use crate::setup::{ASIDE, HEAD, PLAIN, TEXT};
use doubt::{Doubt, Severity};
use proof::HandWork;

/// Text of the lists that are read at a desk.
const SMALL: Style = style(TEXT * 0.9, Cut::Regular, INK);
/// Spots listed one by one; beyond it the rest is told by area.
const MOST_SPOTS: usize = 120;

/// What every sheet says, whatever the plate.
const CAUTIONS: [&str; 6] = [
    "**Rotating cutters** cut hands as well as acrylic: keep clear while the spindle turns, and take the plug out before a cutter is changed.",
    "**Chips** fly hot and sharp: wear eye protection, wear nothing loose, and keep the guard closed. Tie nothing down by hand.",
    "**Dust and fumes**: extract at the cutter. Overheated acrylic gives off fumes that irritate; if it smells or melts, stop, do not cut on.",
    "**Fire**: a cutter that rubs can set chips alight. Stay with the machine while it runs, with an extinguisher within reach.",
    "**Keep a hand at the stop** during the first minutes of each program, and after every change of cutter.",
    "The documents of the machine, the cutters and the sheets, local codes, and licensed practice where they ask for it, come before this sheet. Mains wiring is outside its scope.",
];

/// A list's head and its items: the head stays with the first item.
fn list<'a>(pages: &mut Pages<'a>, head: &str, items: Vec<Vec<Run>>) {
    if items.is_empty() {
        return;
    }
    let lettering = pages.lettering;
    let mut top = Block::new(lettering);
    top.text(0.0, HEAD.size, HEAD, head);
    let mut waiting = Some(top.sized(HEAD.size * 1.4));
    for runs in items {
        let mut item = Block::new(lettering);
        item.text(1.0, SMALL.size * 0.98, SMALL, "–");
        let used = flow::set(&mut item, 11.0, 0.0, WIDTH - 11.0, &runs);
        pages.place(rest_of(waiting.take(), item.sized(used + 1.0)));
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
        "{} that no cutter of this job reaches. The numbers are those on the drawing; x and y are from the zero corner.",
        count(spots.len(), "spot", "spots")
    );
    let y = y + flow::set(&mut block, 0.0, y, WIDTH, &[run(told, PLAIN)]) + 3.0;
    let beside = spots.len() <= 12;
    let (x, width) = if beside { (0.0, WIDTH * 0.52) } else { (0.0, WIDTH) };
    let gutter = 16.0;
    let mut view = View::of_blank(job.intent, 2.0, x + gutter, y, width - 2.0 * gutter, 230.0);
    view.left = x + (width - view.width()) / 2.0;
    pale_plate(&mut block, job, &view);
    hand::numbers(&mut block, &view, spots, TEXT, x + width);
    let drawn = y + view.height() + 6.0;
    if beside {
        let left = width + 12.0;
        let mut pen = y;
        for (index, spot) in spots.iter().enumerate() {
            pen += spot_line(&mut block, left, pen, WIDTH - left, index, spot) + 1.0;
        }
        return pages.place(block.sized(drawn.max(pen) + 8.0));
    }
    pages.place(block.sized(drawn));
    let listed = spots.len().min(MOST_SPOTS);
    let column = (WIDTH - 16.0) / 2.0;
    for index in (0..listed).step_by(2) {
        let mut row = Block::new(lettering);
        let mut used = spot_line(&mut row, 0.0, 0.0, column, index, &spots[index]);
        if let Some(spot) = spots.get(index + 1).filter(|_| index + 1 < listed) {
            used = used.max(spot_line(&mut row, column + 16.0, 0.0, column, index + 1, spot));
        }
        pages.place(row.sized(used + 1.0));
    }
    if spots.len() > listed {
        let mut row = Block::new(lettering);
        let text = format!("and {} more, all in proof.json with size and place.", spots.len() - listed);
        let used = flow::set(&mut row, 0.0, 0.0, WIDTH, &[run(text, ASIDE)]);
        pages.place(row.sized(used + 4.0));
    }
    pages.place(Block::new(lettering).sized(8.0_f32.min(pages.room().max(0.0))));
}

/// The plate as the model has it.
fn pale_plate(block: &mut Block, job: &Job, view: &View) {
    view.model(block, &job.proof.relief, job.intent, 3.0, PAPER);
    above::holds(block, view, &job.intent.holds);
}

fn spot_line(block: &mut Block, x: f32, y: f32, width: f32, index: usize, spot: &HandWork) -> f32 {
    let number = (index + 1).to_string();
    block.text_to(x + 18.0, y + TEXT * 0.98, style(TEXT, Cut::Bold, INK), &number);
    let remedy = match spot.cutter_needed {
        Some(diameter) => format!("a cutter of {} mm would take it", short(diameter, 3)),
        None => "a chisel or file only".to_owned(),
    };
    let area = spot.area.replace('*', "");
    let text = format!(
        "*{area}* x {} y {}, floor {}: gap **{}** mm, {} mm²; {}; {remedy}.",
        short(spot.at.x, 1),
        short(spot.at.y, 1),
        two(spot.floor),
        two(spot.gap),
        short(spot.area_left, 2),
        spot.why.trim_end_matches('.'),
    );
    flow::set(block, x + 24.0, y, width - 24.0, &marked(&text, SMALL))
}

/// Findings, what the plate shows, cautions, assumptions, cutters compared.
pub(crate) fn rest(job: &Job, pages: &mut Pages) {
    let findings = job.proof.findings.iter().map(doubt_runs).collect();
    list(pages, "What the proof found", findings);
    let doubts = job.doubts.iter().filter(|d| d.severity != Severity::Note).map(doubt_runs).collect();
    list(pages, "To look at", doubts);
    list(pages, "What the plate shows", job.sentences.iter().map(|s| marked(s, SMALL)).collect());
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
        "{} cells of {} mm; {} probes on walls: deepest cut beyond a wall {} mm, most left standing {} mm; greatest error of a floor {} mm.",
        proof.cells,
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
