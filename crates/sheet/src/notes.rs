//! The setup sheet's lists: hand work, what the plate shows, cautions, assumptions, findings.

use crate::above::{self, View};
use crate::blocks::{Block, WIDTH};
use crate::drawing::{Style, style};
use crate::flow::{self, Run, marked, run};
use crate::hand;
use crate::ink::{INK, PAPER, QUIET};
use crate::job::{Job, ReachRow};
use crate::lettering::{Cut, Lettering};
use crate::numbers::{minutes, short, two};
use crate::setup::{HEAD, NOTE, PLAIN, SMALL};
use doubt::{Doubt, Place, Severity};
use proof::HandWork;

/// Sets of cutters that are listed.
const MOST_SETS: usize = 4;
/// Areas whose reach is told one by one.
const MOST_AREAS: usize = 5;
/// Under a list or paragraph.
const AFTER: f32 = 4.0;

/// What every sheet says, whatever the plate.
pub(crate) const CAUTIONS: [&str; 6] = [
    "**Rotating cutters** cut hands as well as acrylic: keep clear while the spindle turns, and take the plug out before a cutter is changed.",
    "**Chips** fly hot and sharp: wear eye protection, nothing loose, keep the guard closed; tie nothing down by hand.",
    "**Dust and fumes**: extract at the cutter; overheated acrylic gives off fumes that irritate: if it smells or melts, stop, do not cut on.",
    "**Fire**: a cutter that rubs can set chips alight: stay with the machine while it runs, an extinguisher within reach.",
    "**Keep a hand at the stop** in the first minutes of each program and after every change of cutter.",
    "The documents of the machine, the cutters and the sheets, local codes, and licensed practice where they ask for it, come before this sheet; mains wiring is outside its scope.",
];

/// A list that is no higher stands on one page.
const TOGETHER: f32 = 170.0;

/// A list's head and its items: a short list stays together, in a long one the head stays with the first item.
fn list<'a>(lettering: &'a Lettering, head: &str, style: Style, items: Vec<Vec<Run>>) -> Vec<Block<'a>> {
    if items.is_empty() {
        return Vec::new();
    }
    let mut blocks: Vec<Block> = items
        .iter()
        .map(|runs| {
            let mut item = Block::new(lettering);
            item.text(1.0, style.size * 0.98, style, "–");
            let used = flow::set(&mut item, 11.0, 0.0, WIDTH - 11.0, runs);
            item.sized(used).followed_by(0.5)
        })
        .collect();
    let mut top = Block::new(lettering);
    let head_size = style.size * 1.12;
    top.text(0.0, head_size, Style { cut: Cut::Bold, size: head_size, ..style }, head);
    let top = top.sized(head_size * 1.35);
    let short = blocks.iter().map(|b| b.height).sum::<f32>() <= TOGETHER;
    let bound = if short { blocks.len() } else { 1 };
    let first = blocks.drain(..bound).fold(top, Block::above);
    let mut all = vec![first];
    all.extend(blocks);
    last_followed(all)
}

/// Blocks with the usual room below the last.
fn last_followed(mut blocks: Vec<Block>) -> Vec<Block> {
    let last = blocks.pop().map(|b| b.followed_by(AFTER));
    blocks.extend(last);
    blocks
}

/// A paragraph with its head at the beginning of the first line; nothing where there is no text.
fn paragraph<'a>(lettering: &'a Lettering, head: &str, mut runs: Vec<Run>) -> Option<Block<'a>> {
    if runs.is_empty() {
        return None;
    }
    runs.insert(0, run(format!("{head}: "), Style { cut: Cut::Bold, size: NOTE.size * 1.12, ..NOTE }));
    let mut block = Block::new(lettering);
    let used = flow::set(&mut block, 0.0, 0.0, WIDTH, &runs);
    Some(block.sized(used).followed_by(AFTER))
}

/// Width of the drawing of hand work.
const DRAWN: f32 = 168.0;
/// Size of the numbers on it.
const NUMBER: f32 = 9.5;

/// The drawing with its largest spots numbered, what is left in each area, and those spots one by one.
pub(crate) fn hand_work<'a>(job: &Job, lettering: &'a Lettering) -> Block<'a> {
    let spots = &job.proof.hand_work;
    let mut block = Block::new(lettering);
    block.rule((0.0, 0.0), (WIDTH, 0.0), INK, 0.8);
    if spots.is_empty() {
        let bold = Style { cut: Cut::Bold, ..PLAIN };
        let words =
            [run("Hand work: ", bold), run("none, the cutters reach every wall and floor of the plate.", PLAIN)];
        let used = flow::set(&mut block, 0.0, 3.0, WIDTH, &words);
        return block.sized(used + 3.0).followed_by(AFTER);
    }
    // Margin for the numbers, in mm at the scale that the margin itself leads to.
    let [wide, high] = job.intent.blank.size.map(|l| l.to_mm().clamp(1.0, 1e5));
    let numbered = hand::numbered(job.proof);
    let room = if numbered.is_empty() { 2.0 } else { f64::from(NUMBER) * 1.4 };
    let per_mm = ((f64::from(DRAWN) - 2.0 * room) / wide).min((150.0 - 2.0 * room) / high).max(1e-6);
    let mut view = View::of_blank(job.intent, room / per_mm, 0.0, 4.0, DRAWN, 150.0);
    view.left = (DRAWN - view.width()) / 2.0;
    view.model(&mut block, &job.proof.relief, job.intent, 4.0, PAPER);
    above::holds(&mut block, &view, &job.intent.holds);
    hand::spots(&mut block, &view, spots, &numbered, NUMBER);

    let left = DRAWN + 12.0;
    let width = WIDTH - left;
    block.text(left, 4.0 + HEAD.size, HEAD, "Hand work");
    let mut y = 4.0 + HEAD.size * 1.35;
    for sentence in hand::sentences(spots) {
        y += flow::set(&mut block, left, y, width, &marked(&sentence, NOTE)) + 1.0;
    }
    let mut told = "A knife or a file squares corners, if wanted.".to_owned();
    told += match numbered.len() {
        0 => " Every spot, with size and place, is in proof.json.",
        n if n == spots.len() => " Numbered as drawn, x and y from the zero corner in mm:",
        _ => " The largest as drawn, x and y from the zero corner in mm; every spot is in proof.json:",
    };
    y += flow::set(&mut block, left, y, width, &[run(told, NOTE)]) + 1.0;
    let lines: Vec<Vec<Run>> = numbered.iter().enumerate().map(|(i, spot)| spot_runs(i + 1, spot)).collect();
    // The list stands beside the drawing where it fits, else below it in two columns.
    let line = NOTE.size * 1.32 + 0.3;
    let bottom = view.top + view.height();
    if y + line * lines.len() as f32 <= bottom + line {
        for runs in &lines {
            y += flow::set(&mut block, left, y, width, runs) + 0.3;
        }
        return block.sized(bottom.max(y) + 3.0).followed_by(AFTER);
    }
    let top = bottom.max(y) + 1.0;
    let column = WIDTH / 2.0;
    let mut lowest = top;
    for (at, half) in lines.chunks(lines.len().div_ceil(2).max(1)).enumerate() {
        let mut y = top;
        for runs in half {
            y += flow::set(&mut block, column * at as f32, y, column - 8.0, runs) + 0.3;
        }
        lowest = lowest.max(y);
    }
    block.sized(lowest + 3.0).followed_by(AFTER)
}

/// One spot: number, where, how large, and what takes it.
fn spot_runs(number: usize, spot: &HandWork) -> Vec<Run> {
    let remedy = match spot.cutter_needed {
        Some(diameter) => format!("takes a {} mm cutter", short(diameter, 2)),
        None => "no cutter".to_owned(),
    };
    let place =
        format!(" x\u{a0}{} y\u{a0}{}, gap {} mm: {remedy}", short(spot.at.x, 1), short(spot.at.y, 1), two(spot.gap));
    vec![
        run(format!("{number} "), Style { cut: Cut::Bold, ..NOTE }),
        run(format!("{},", spot.area), Style { cut: Cut::Italic, ..NOTE }),
        run(place, NOTE),
    ]
}

/// Findings, what to look at, cautions.
pub(crate) fn warnings<'a>(job: &Job, lettering: &'a Lettering) -> Vec<Block<'a>> {
    let findings = job.proof.findings.iter().map(doubt_runs).collect();
    let mut blocks = list(lettering, "What the proof found", SMALL, findings);
    let doubts = job.doubts.iter().filter(|d| d.severity != Severity::Note).map(doubt_runs).collect();
    blocks.extend(list(lettering, "To look at", SMALL, doubts));
    blocks.extend(paragraph(lettering, "Cautions", marked(&CAUTIONS.join(" "), NOTE)));
    blocks
}

/// What the plate shows, from the sentence `told` on.
pub(crate) fn shown<'a>(job: &Job, told: usize, lettering: &'a Lettering) -> Option<Block<'a>> {
    let head = if told == 0 { "What the plate shows" } else { "What the plate shows, continued" };
    let left: Vec<&str> = job.sentences.iter().skip(told).map(|s| s.trim_end_matches('.')).collect();
    let text = if left.is_empty() { Vec::new() } else { marked(&format!("{}.", left.join("; ")), NOTE) };
    paragraph(lettering, head, text)
}

/// Assumptions, cutters compared, figures of the proof.
pub(crate) fn looked_up<'a>(job: &Job, lettering: &'a Lettering) -> Vec<Block<'a>> {
    let notes = job.doubts.iter().filter(|d| d.severity == Severity::Note);
    let assumed = job.assumed.iter().chain(notes).map(|d| vec![run(one_line(d, lettering), NOTE)]).collect();
    let mut blocks = list(lettering, "What was assumed", NOTE, assumed);
    let why = job.why.iter().map(|line| run(format!("{line}. "), NOTE)).collect();
    blocks.extend(paragraph(lettering, "Where numbers come from", why));
    blocks.extend(paragraph(lettering, "Cutters compared, changes included", compared(job)));
    blocks.extend(paragraph(lettering, "What the cutters reach", reached(job)));
    let heat = proof::heat_sentence(job.proof, job.intent).map_or_else(Vec::new, |s| vec![run(s, NOTE)]);
    blocks.extend(paragraph(lettering, "Heat", heat));
    blocks.extend(paragraph(lettering, "How it was proven", proof_figures(job)));
    blocks
}

fn compared(job: &Job) -> Vec<Run> {
    let mut runs = Vec::new();
    let listed = job.subsets.len().min(MOST_SETS);
    for (index, set) in job.subsets.iter().take(listed).enumerate() {
        runs.push(run(format!("{}: ", set.cutters), NOTE));
        let over = if set.planned { "" } else { "at least " };
        runs.push(run(format!("{over}{}", minutes(set.minutes)), Style { cut: Cut::Bold, ..NOTE }));
        let note = if set.note.is_empty() { String::new() } else { format!(", {}", set.note) };
        let more = job.subsets.len() - listed;
        let end = match (index + 1 == listed, more) {
            (false, _) => "; ".to_owned(),
            (true, 0) => ".".to_owned(),
            (true, more) => format!("; and {more} more."),
        };
        runs.push(run(note + &end, NOTE));
    }
    runs
}

/// Of the areas where something is left by hand or to a finer cutter, the shares of the cutters up to the first that clears all.
fn reached(job: &Job) -> Vec<Run> {
    let all = |row: &&ReachRow| row.cutters.first().is_some_and(|c| c.1 >= 1.0);
    let (whole, shared): (Vec<&ReachRow>, Vec<&ReachRow>) = job.reach.iter().partition(all);
    let mut runs = Vec::new();
    for row in shared.iter().take(MOST_AREAS) {
        runs.push(run(format!("{}: ", row.area), Style { cut: Cut::Italic, ..NOTE }));
        let needed = row.cutters.iter().position(|c| c.1 >= 1.0).map_or(row.cutters.len(), |i| i + 1);
        let share = |c: &(String, f64)| match c.1 {
            s if s >= 1.0 => format!("{} all", c.0),
            s => format!("{} {} %", c.0, short((s * 1000.0).floor() / 10.0, 1)),
        };
        let shares: Vec<String> = row.cutters[..needed].iter().map(share).collect();
        let hand = match row.by_hand {
            0 => String::new(),
            1 => ", 1 place by hand".to_owned(),
            n => format!(", {n} places by hand"),
        };
        let shares = if shares.is_empty() { "no cutter".to_owned() } else { shares.join(", ") };
        runs.push(run(format!("{shares}{hand}; "), NOTE));
    }
    let more = shared.len().saturating_sub(MOST_AREAS);
    if more > 0 {
        runs.push(run(format!("{more} more areas; "), NOTE));
    }
    let end = match whole.len() {
        0 => "each place in reach.txt.".to_owned(),
        n if n == job.reach.len() => "the widest cutter that gets there clears every area.".to_owned(),
        1 => "the widest clears the other area; each place in reach.txt.".to_owned(),
        n => format!("the widest clears the other {n} areas; each place in reach.txt."),
    };
    if !job.reach.is_empty() {
        runs.push(run(end, NOTE));
    }
    runs
}

fn proof_figures(job: &Job) -> Vec<Run> {
    let proof = &job.proof;
    let walls = &proof.walls;
    let text = format!(
        "{} million cells of {} mm{}; {} probes on walls: deepest cut beyond a wall {} mm, most left standing {} mm; greatest error of a floor {} mm.",
        short(proof.cells as f64 / 1e6, 1),
        short(proof.pitch, 4),
        if proof.pitch_why.is_empty() { String::new() } else { format!(" ({})", proof.pitch_why) },
        walls.probes,
        short(walls.worst_gouge.max(0.0), 4),
        short(walls.worst_leftover.max(0.0), 4),
        short(proof.greatest_floor_error, 4),
    );
    vec![run(text, NOTE)]
}

/// A doubt's message and as many of its notes as one line holds; what stands in brackets goes first where the message
/// alone is too long.
fn one_line(doubt: &Doubt, lettering: &Lettering) -> String {
    let room = WIDTH - 11.0;
    let sentence = |text: &str| format!("{}.", capital(text.trim_end_matches('.')));
    let fits = |text: &str| lettering.width(text, NOTE.cut, NOTE.size) <= room - 4.0;
    let mut line = sentence(&doubt.message.replace('`', ""));
    if !fits(&line) {
        line = without_brackets(&line);
    }
    for (told, note) in doubt.notes.iter().enumerate() {
        let longer = format!("{line} {}", sentence(&note.replace('`', "")));
        if !fits(&longer) {
            let rest = format!("{line} And {} more.", doubt.notes.len() - told);
            if told > 0 {
                line = if fits(&rest) { rest } else { format!("{line} …") };
            }
            break;
        }
        line = longer;
    }
    lettering.shortened(&line, NOTE.cut, NOTE.size, room - 4.0)
}

/// A text without what stands in round brackets.
fn without_brackets(text: &str) -> String {
    let (mut kept, mut deep) = (String::new(), 0u32);
    for c in text.chars() {
        match c {
            '(' => {
                deep += 1;
                kept.truncate(kept.trim_end().len());
            }
            ')' if deep > 0 => deep -= 1,
            _ if deep == 0 => kept.push(c),
            _ => {}
        }
    }
    kept
}

fn doubt_runs(doubt: &Doubt) -> Vec<Run> {
    let mut runs = Vec::new();
    if doubt.severity == Severity::Refusal {
        runs.push(run("Refused: ", Style { cut: Cut::Bold, ..SMALL }));
    }
    runs.push(run(capital(doubt.message.trim_end_matches('.')), SMALL));
    for place in &doubt.places {
        let place = match place {
            Place::File { file, line: 0, .. } => file.clone(),
            Place::File { file, line, .. } => format!("{file}, line {line}"),
            other => other.to_string(),
        };
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
