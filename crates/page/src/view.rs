//! What the page shows, as JSON: made anew from the board whenever it is asked for.

use crate::board::{Board, Now, PacketState};
use crate::run::Run;
use crate::ways::{self, Way};
use crate::words::{self, Choices};
use doubt::{Doubt, Place, Severity};
use intake::FloorWords;
use plane::{Contour, Point};
use plate::Intent;
use proof::Verdict;
use quantity::{Height, trimmed};
use serde_json::{Value, json};

/// Chords of contours that are sent lie this near to them, mm.
const CHORDS: f64 = 0.03;

/// Everything that stands on the page but pictures.
pub(crate) fn state(board: &Board) -> Value {
    let turn = board.turn();
    let shop = board.shop();
    let now = board.now();
    let file = board.paper.name();
    let (undo, redo) = now.steps();
    let shown = now.shown.as_deref();
    let working = now.working && !now.answered;
    // While a change is planned the plate is shown as its file says it.
    let sketch = now.sketch.as_deref().filter(|s| s.hash == now.hash && working);
    let seen = sketch.or(shown);
    let intent = seen.and_then(Run::intent);
    // The sentences are true only of the very text that they were made from.
    let current = seen.filter(|r| r.hash == now.hash);
    let last = now.last.as_deref().filter(|_| !working);
    let (notes, assumed) = notes(&now, &file);
    json!({
        "turn": turn,
        "plates": board.is_one_of_many(),
        "file": file,
        "hash": now.hash,
        "title": intake::title(&now.text).or_else(|| intent.map(|i| i.title.clone())).unwrap_or_default(),
        "working": working,
        "first": last.is_some_and(|r| r.first),
        "verdict": verdict(last, now.unread.as_deref()),
        "broke_off": last.and_then(|r| r.broke_off.clone()),
        "unread": now.unread,
        "elsewhere": now.elsewhere,
        "undo": undo,
        "redo": redo,
        "picture": seen.map(|r| picture(r, current.is_some() && !working && last.is_some_and(|l| l.number == r.number))),
        "areas": areas(&now, current),
        "text": words::sentences(&now.text, &choices(&now, &shop.text, board.fonts())),
        "edge": current.and_then(edge),
        "sheets": intent.map_or_else(Vec::new, |i| i.blank.layers.iter().map(|l| l.sheet.name.clone()).collect()),
        "notes": notes,
        "assumed": assumed,
        "run": shown.map(|r| r.number),
        "stages": shown.map_or_else(Vec::new, stages),
        "hand": current.and_then(|r| r.computed.as_ref()).map_or_else(Vec::new, |c| hand(&c.proof.hand_work)),
        "packet": packet(&now.packet, &now.hash),
    })
}

/// What the sentences' values may be chosen from.
fn choices(now: &Now, shop: &str, fonts: Vec<String>) -> Choices {
    let drawing = now.last.as_deref().and_then(|r| r.drawing.as_ref());
    let contours = drawing.map_or_else(Vec::new, |d| {
        d.names().into_iter().filter(|n| n.contours > 0).map(|n| n.name).take(MOST_NAMES).collect()
    });
    Choices { contours, fonts, ..Choices::default() }.of_shop(shop)
}

/// Names of a drawing that are offered.
const MOST_NAMES: usize = 400;
/// Points of a drawing that are sent.
const MOST_POINTS: usize = 400_000;

/// The drawing's contours where they lie on the blank, each with its names.
pub(crate) fn drawn(board: &Board) -> Option<Value> {
    let (run, text) = {
        let now = board.now();
        (now.last.clone()?, now.text.clone())
    };
    let drawing = run.drawing.as_ref()?;
    let map = intake::placing(&text, drawing);
    let mut left = MOST_POINTS;
    let mut bounds = plane::Bounds::EMPTY;
    let mut contours = Vec::new();
    for named in &drawing.contours {
        let Some(contour) = named.contour.mapped(map) else { continue };
        bounds = bounds.union(contour.bounds());
        let points = points(&contour);
        if points.len() > left {
            break;
        }
        left -= points.len();
        contours.push(json!({ "names": named.names, "points": points }));
    }
    let plate: Option<toml::Table> = text.trim_start_matches('\u{feff}').parse().ok();
    let said = plate.as_ref().and_then(|p| p.get("blank")?.get("size")?.as_array());
    let unit = plate.as_ref().and_then(|p| p.get("units")?.as_str()).and_then(quantity::Unit::named);
    let side = |i: usize| {
        let said = said?.get(i)?;
        let said = said.as_str().map_or_else(|| said.to_string(), str::to_owned);
        quantity::Length::parse(&said, unit.unwrap_or(quantity::Unit::Millimetre)).ok().map(quantity::Length::to_mm)
    };
    Some(json!({
        "file": drawing.file,
        "blank": side(0).zip(side(1)).map(|(w, h)| [w, h]),
        "bounds": (!bounds.is_empty()).then_some([bounds.min.x, bounds.min.y, bounds.max.x, bounds.max.y]),
        "contours": contours,
        "whole": contours.len() == drawing.contours.len(),
        "open": drawing.open_paths.len(),
    }))
}

/// The verdict's word; `null` while it isn't known.
pub(crate) fn verdict(last: Option<&Run>, unread: Option<&str>) -> Value {
    let word = match (last, unread) {
        (_, Some(_)) => "refused",
        (None, None) => return Value::Null,
        (Some(run), None) => match run.verdict {
            Some(Verdict::Proven) if !doubt::any_blocks(&run.doubts) => "proven",
            Some(Verdict::Undecided) => "undecided",
            None if run.broke_off.is_some() => "undecided",
            _ => "refused",
        },
    };
    json!(word)
}

pub(crate) fn picture(run: &Run, proven_now: bool) -> Value {
    let (Some(intent), Some(model)) = (run.intent(), run.model(None)) else { return Value::Null };
    let window = sheet::window(intent);
    let [width, height] = intent.blank.size.map(quantity::Length::to_mm);
    json!({
        "run": run.number,
        "current": proven_now,
        "window": [window.min.x, window.min.y, window.max.x, window.max.y],
        "blank": [width, height],
        "thick": trimmed((intent.blank.face - intent.blank.underside).to_mm(), 2),
        "pitch": model.pitch,
        "sketch": run.computed.is_none(),
        "holds": intent.holds.iter().map(|h| hold(&h.name, &h.shape)).collect::<Vec<_>>(),
        "telling": run.telling().map(|(along_x, at)| json!({ "along": if along_x { "x" } else { "y" }, "at": at })),
        "marks": intent.areas.iter().zip(&run.marks)
            .map(|(a, m)| json!({ "name": a.name, "line": a.line, "at": m.map(|p| [p.x, p.y]) })).collect::<Vec<_>>(),
    })
}

fn hold(name: &str, shape: &Contour) -> Value {
    let bounds = shape.bounds();
    let (w, h) = (bounds.width(), bounds.height());
    let round = (w - h).abs() < 0.02 * w.max(h)
        && (shape.area().abs() - std::f64::consts::FRAC_PI_4 * w * h).abs() < 0.02 * w * h;
    let centre = bounds.centre();
    json!({
        "name": name,
        "at": [centre.x, centre.y],
        "radius": round.then_some(w / 2.0),
        "points": (!round).then(|| points(shape)),
    })
}

fn points(contour: &Contour) -> Vec<[f64; 2]> {
    contour.flatten(CHORDS).into_iter().map(|p| [thousandth(p.x), thousandth(p.y)]).collect()
}

/// The rings of a region.
pub(crate) fn rings(region: &plane::Region) -> Vec<Vec<[f64; 2]>> {
    region.contours().map(points).collect()
}

fn thousandth(mm: f64) -> f64 {
    (mm * 1000.0).round() / 1000.0
}

/// The rings of an area of a run, to be drawn over the picture.
pub(crate) fn shape(run: &Run, area: usize) -> Option<Value> {
    let area = run.intent()?.areas.get(area)?;
    Some(json!({ "name": area.name, "rings": area.region.contours().map(points).collect::<Vec<_>>() }))
}

/// The areas in the order of the text, each with its sentence in three pieces: before the floor that can be changed, the floor,
/// and after it.
fn areas(now: &Now, current: Option<&Run>) -> Vec<Value> {
    let intent = current.and_then(Run::intent);
    let of = |line: usize| {
        let intent = intent?;
        let index = intent.areas.iter().position(|a| a.line == line)?;
        Some((index, &intent.areas[index], &intent.blank))
    };
    let one = |(index, line): (usize, intake::FloorLine)| {
        let (form, amount) = match &line.floor {
            FloorWords::Shows(sheet) => ("shows", sheet.as_str()),
            FloorWords::BelowFace(amount) => ("below_face", amount.as_str()),
            FloorWords::AboveTable(amount) => ("above_table", amount.as_str()),
            FloorWords::Through => ("through", ""),
            FloorWords::Otherwise => ("otherwise", ""),
        };
        let found = of(line.line);
        let why = found.and_then(|(_, area, _)| {
            let key = format!("{} floor", area.name);
            current?.answers.iter().position(|a| a.key == key)
        });
        let (before, said, after) = match found {
            Some((_, area, blank)) => told(area, blank),
            None => plain(&line.on, form, amount),
        };
        json!({
            "index": index, "line": line.line, "name": found.map_or(line.on.as_str(), |f| f.1.name.as_str()),
            "before": before, "said": said, "after": after, "form": form, "amount": amount,
            "why": why, "area": found.map(|f| f.0),
        })
    };
    intake::floors(&now.text).into_iter().enumerate().map(one).collect()
}

/// An area's sentence in its three pieces; the middle is empty where nothing can be changed.
fn told(area: &plate::Area, blank: &plate::Blank) -> (String, String, String) {
    let sentence = intake::sentence(area, blank);
    let said = intake::floor_said(area, blank).and_then(|range| {
        let pieces = (sentence.get(..range.start)?, sentence.get(range.clone())?, sentence.get(range.end..)?);
        Some((pieces.0.to_owned(), pieces.1.to_owned(), format!("{}.", pieces.2)))
    });
    said.unwrap_or_else(|| (format!("{sentence}."), String::new(), String::new()))
}

/// A sentence from the file alone, while nothing is known of heights.
fn plain(on: &str, form: &str, amount: &str) -> (String, String, String) {
    let on = if on.is_empty() { "an area" } else { on };
    let pieces = match form {
        "shows" => (format!("{on} shows "), amount, "."),
        "below_face" => (format!("{on} ends "), amount, " below the face."),
        "above_table" => (format!("{on} ends "), amount, " above the table."),
        "through" => (format!("{on} goes through."), "", ""),
        _ => (format!("{on} has a floor that is said at length in the plate file."), "", ""),
    };
    (pieces.0, pieces.1.to_owned(), pieces.2.to_owned())
}

fn edge(run: &Run) -> Option<Value> {
    let intent = run.intent()?;
    let outline = intent.outline.as_ref()?;
    let key = format!("{} floor", outline.name);
    Some(json!({
        "says": format!("{}.", intake::through_sentence(outline, &intent.blank)),
        "why": run.answers.iter().position(|a| a.key == key),
    }))
}

/// Doubts to look at, the heaviest first and numbered, and what was assumed.
fn notes(now: &Now, file: &str) -> (Vec<Value>, Vec<Value>) {
    let Some(run) = now.last.as_deref() else { return (Vec::new(), Vec::new()) };
    let heavy = heavy(run);
    // Lines of areas are those of the text that the run read, which may be older than the one that stands there.
    let lines: Vec<usize> =
        if run.hash == now.hash { intake::floors(&now.text).iter().map(|f| f.line).collect() } else { Vec::new() };
    let shown = now.shown.as_deref();
    let notes = heavy
        .iter()
        .enumerate()
        .map(|(i, d)| {
            let area = area_of(d, file, &now.text, &lines);
            let at = blank_place(d).or_else(|| mark_of(shown, area.and_then(|a| lines.get(a).copied())));
            // Ways out change the text that stands there, so it must be the one that the doubt is about.
            let ways = if run.hash == now.hash { ways::of(d, file, &now.text, area) } else { Vec::new() };
            note(i + 1, d, at, area, &ways)
        })
        .collect();
    let light =
        run.doubts.iter().filter(|d| d.severity == Severity::Note).map(|d| note(0, d, None, None, &[])).collect();
    (notes, light)
}

/// A run's doubts to look at, the heaviest first.
fn heavy(run: &Run) -> Vec<&Doubt> {
    let mut heavy: Vec<&Doubt> = run.doubts.iter().filter(|d| d.severity > Severity::Note).collect();
    heavy.sort_by_key(|d| std::cmp::Reverse(d.severity));
    heavy
}

/// A way out of a note by its number, from 1, and its own, from 0, if the run is of the text that stands there.
pub(crate) fn way(now: &Now, file: &str, number: usize, way: usize) -> Option<Way> {
    let run = now.last.as_deref().filter(|r| r.hash == now.hash)?;
    let doubt = *heavy(run).get(number.checked_sub(1)?)?;
    let lines: Vec<usize> = intake::floors(&now.text).iter().map(|f| f.line).collect();
    ways::of(doubt, file, &now.text, area_of(doubt, file, &now.text, &lines)).into_iter().nth(way)
}

fn note(number: usize, doubt: &Doubt, at: Option<[f64; 2]>, area: Option<usize>, ways: &[Way]) -> Value {
    json!({
        "ways": ways.iter().map(|w| &w.says).collect::<Vec<_>>(),
        "number": number,
        "id": doubt.id,
        "severity": doubt.severity,
        "message": doubt.message,
        "notes": doubt.notes,
        "likely": doubt.likely_cause,
        "way_out": doubt.way_out,
        "places": doubt.places.iter().take(PLACES).map(|p| p.to_string()).collect::<Vec<_>>(),
        "more": doubt.places.len().saturating_sub(PLACES),
        "at": at,
        "area": area,
    })
}

/// Places of a doubt that are told.
const PLACES: usize = 4;

fn blank_place(doubt: &Doubt) -> Option<[f64; 2]> {
    doubt.places.iter().find_map(|p| match p {
        Place::Blank { x, y, .. } => Some([*x, *y]),
        _ => None,
    })
}

fn mark_of(run: Option<&Run>, line: Option<usize>) -> Option<[f64; 2]> {
    let (run, line) = (run?, line?);
    let index = run.intent()?.areas.iter().position(|a| a.line == line)?;
    run.marks.get(index).copied().flatten().map(|p| [p.x, p.y])
}

/// The area, by its place in the text, that a doubt's line of the plate file belongs to.
fn area_of(doubt: &Doubt, file: &str, text: &str, lines: &[usize]) -> Option<usize> {
    let line = doubt.places.iter().find_map(|p| match p {
        Place::File { file: f, line, .. } if f == file && *line > 0 => Some(*line),
        _ => None,
    })?;
    let index = lines.iter().rposition(|&l| l <= line)?;
    let other_table = |l: &str| l.trim_start().starts_with('[') && !l.trim_start().starts_with("[area.");
    let between = text.lines().skip(lines[index]).take(line - lines[index]);
    between.into_iter().all(|l| !other_table(l)).then_some(index)
}

fn stages(run: &Run) -> Vec<Value> {
    let Some(computed) = &run.computed else { return Vec::new() };
    // The frame run comes first in the proof and is none of the plan's stages.
    let proofs = computed.proof.stages.iter().skip(1);
    let one = |(index, (stage, proof)): (usize, (&motion::Stage, &proof::StageProof))| {
        json!({
            "index": index,
            "file": proof.file,
            "purpose": stage.purpose,
            "minutes": proof.minutes,
            "cutter": proof.cutter,
            "number": proof.cutter_number,
            "dial": stage.dial,
            "speed": stage.speed.to_string(),
            "feed": stage.feed.to_string(),
        })
    };
    computed.plan.stages.iter().zip(proofs).enumerate().map(one).collect()
}

fn hand(spots: &[proof::HandWork]) -> Vec<Value> {
    let one = |h: &proof::HandWork| json!({ "area": h.area, "at": [h.at.x, h.at.y], "why": h.why, "gap": h.gap });
    spots.iter().map(one).collect()
}

fn packet(state: &PacketState, hash: &str) -> Value {
    match state {
        PacketState::None => Value::Null,
        PacketState::Making => json!({ "making": true }),
        PacketState::Written(folder, files, of) => json!({ "folder": folder, "files": files, "current": of == hash }),
        PacketState::Not(why) => json!({ "not": why }),
    }
}

/// What is at a place of the blank, as the proof found it.
pub(crate) fn here(run: &Run, at: Point) -> Option<Value> {
    let intent = run.intent()?;
    let what = whats_here(intent, at);
    let area = intent.areas.iter().position(|a| a.region.contains(at));
    let cut = run.cut_at(at);
    let height = cut.as_ref().map(|c| c.0);
    let layer = height.and_then(Height::try_mm).and_then(|h| intent.blank.shows_at(h));
    let sheet = layer.and_then(|l| intent.blank.layers.get(l)).map(|l| l.sheet.name.clone());
    let by = cut.map_or_else(Vec::new, |c| c.1);
    let cutters: Vec<Value> = by
        .iter()
        .filter_map(|&s| {
            let proof = run.computed.as_ref()?.proof.stages.get(s + 1)?;
            Some(json!({ "stage": s + 1, "file": proof.file, "cutter": proof.cutter, "number": proof.cutter_number }))
        })
        .collect();
    let through = height.is_some_and(|h| h <= intent.blank.underside.to_mm() + 1e-3);
    Some(json!({
        "at": [thousandth(at.x), thousandth(at.y)],
        "what": what,
        "line": area.map(|a| intent.areas[a].line),
        "height": height.filter(|_| !through).map(|h| trimmed(h, 2)),
        "wanted": area.map(|a| trimmed(intent.areas[a].floor.to_mm(), 2)),
        "through": through,
        "sheet": sheet.filter(|_| !through),
        "cut_by": cutters,
    }))
}

fn whats_here(intent: &Intent, at: Point) -> String {
    if let Some(hold) = intent.holds.iter().find(|h| h.shape.contains(at)) {
        return format!("the hold {}, where nothing may come", hold.name);
    }
    let [width, height] = intent.blank.size.map(quantity::Length::to_mm);
    if at.x < 0.0 || at.y < 0.0 || at.x > width || at.y > height {
        return "beside the blank".into();
    }
    if let Some(area) = intent.areas.iter().find(|a| a.region.contains(at)) {
        return area.name.clone();
    }
    if intent.outline.as_ref().is_some_and(|o| !o.inside.contains(at)) {
        return "the blank’s margin, outside the plate’s edge".into();
    }
    "the face".into()
}

/// Where a number comes from.
pub(crate) fn why(run: &Run, index: usize) -> Option<Value> {
    let answer = run.answers.get(index)?;
    let steps: Vec<Value> = answer
        .steps
        .terms
        .iter()
        .map(|t| {
            json!({
                "name": t.name, "value": t.worded(), "made": answer.steps.filled(t), "source": t.source,
                "asked": t.symbol == answer.symbol,
            })
        })
        .collect();
    Some(json!({ "about": answer.about, "told": answer.told, "short": answer.short, "steps": steps }))
}

/// A section along a line.
pub(crate) fn section(run: &Run, along_x: bool, at: f64) -> Option<Value> {
    let blank = &run.intent()?.blank;
    let cut = sheet::line_cut(blank, run.model(None)?, along_x, at)?;
    let layer = |(layer, pieces): (&plate::Layer, &Vec<Vec<(f64, f64)>>)| {
        let [r, g, b] = layer.sheet.colour;
        json!({
            "sheet": layer.sheet.name,
            "colour": format!("#{r:02x}{g:02x}{b:02x}"),
            "top": thousandth(layer.top.to_mm()),
            "bottom": thousandth(layer.bottom.to_mm()),
            "pieces": pieces.iter().map(|p| p.iter().map(|q| [thousandth(q.0), thousandth(q.1)]).collect::<Vec<_>>())
                .collect::<Vec<_>>(),
        })
    };
    let along = if along_x { 0 } else { 1 };
    Some(json!({
        "along": if along_x { "x" } else { "y" },
        "at": thousandth(cut.at),
        "length": blank.size[along].to_mm(),
        "face": thousandth(blank.face.to_mm()),
        "underside": thousandth(blank.underside.to_mm()),
        "under": blank.under.iter().map(|u| json!({ "name": u.name, "thickness": u.thickness.to_mm() })).collect::<Vec<_>>(),
        "floors": cut.floors.iter().map(|f| trimmed(*f, 2)).collect::<Vec<_>>(),
        "layers": blank.layers.iter().zip(&cut.layers).map(layer).collect::<Vec<_>>(),
    }))
}
