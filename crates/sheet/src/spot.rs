//! The spot of a finding from above, at a scale at which its amount can be seen: what the model looks like there after
//! the program, as tints of its heights; what is wrong, hatched; the wanted edge; the way of the line concerned with
//! the cutter on it; where on the plate it is; and in words what it is, what it likely comes from and what to do.
//!
//! Lines are told apart as technical drawings tell them (ISO 128: edges continuous, the way of a centre as a chain line);
//! rapids are dotted.

use crate::above::{self, View};
use crate::clip::{self, clipped, dashed};
use crate::drawing::{Drawing, Pixels, circle, polygon, polyline, rectangle, style};
use crate::flow::{self, Run, run};
use crate::ink::{self, GROUND, HEADS, INK, PAPER, QUIET, Rgb, THIN};
use crate::lettering::{Cut, Lettering};
use crate::numbers::{short, two};
use crate::pictures::{FINE, MARGIN, WIDTH, WORDS};
use crate::raster;
use crate::relief::cell_of;
use doubt::Doubt;
use plane::{Bounds, Contour, Point};
use plate::{Blank, Intent};
use proof::{CloseUp, Going, HeightMap, Spot};

/// Side of the window in the picture.
const SIDE: f32 = 500.0;
/// Between the window and the column beside it.
const GAP: f32 = 24.0;
/// Greatest height of the plate in that column.
const LOCATOR: f32 = 150.0;
/// Size of the words in it.
const SMALL: f32 = 13.5;
/// Radius of the ring about the spot.
const RING: f32 = 22.0;
/// Heights are told apart by this, mm.
const STEP: f64 = 0.005;
/// A height with less than this share of the window isn't named.
const NAMED: f64 = 0.008;
/// Most heights that are named.
const MOST: usize = 6;
/// Ink of the lowest height, as light.
const DARKEST: f64 = 0.78;
/// Ink of what is cut through.
const THROUGH: f64 = 0.95;
/// A sample this far off what is wanted is wrong, mm: the prover's own tolerance for floors.
const OFF: f32 = 0.002;
/// Pixels from one line of the hatching to the next, and how many are a line.
const HATCH: (usize, usize) = (16, 3);
/// Most letters of a program's line.
const LINE: usize = 90;

/// A finding's place as its picture tells it.
#[derive(Debug, Clone, Copy)]
pub struct SpotPicture<'a> {
    /// The finding's number, as the list of findings counts it, from 1.
    pub number: usize,
    /// What its kind says.
    pub title: &'a str,
    /// The finding.
    pub finding: &'a Doubt,
    /// Its place.
    pub spot: &'a Spot,
    /// Which of the finding's places this is, from 1, and how many are drawn.
    pub place: (usize, usize),
    /// The model there.
    pub close: &'a CloseUp,
    /// The whole model after the program shown.
    pub whole: &'a HeightMap,
    /// The program after which the model is shown: its number from 1, how many there are, its file.
    pub after: (usize, usize, &'a str),
    /// The program concerned: its file, the text of the line, and the cutter's number, name and cutting width in mm.
    pub line: Option<(&'a str, &'a str, (u32, &'a str, f64))>,
    /// Whether material left standing is what is wrong; otherwise later programs may still take it.
    pub left: bool,
}

/// The spot as PNG bytes.
pub fn spot(intent: &Intent, picture: &SpotPicture) -> Vec<u8> {
    let lettering = Lettering::new();
    let mut drawing = Drawing::new(&lettering, WIDTH, 0.0);
    let map = &picture.close.heights;
    let window = seen(map, picture.spot.at);
    let view = View { window, left: MARGIN, top: MARGIN / 2.0, scale: SIDE / window.width() as f32 };
    let tints = Tints::of(map, &intent.blank);
    let (pixels, wrong) = model(picture, intent, &tints, window);
    drawing.pixels(view.left, view.top, SIDE, SIDE, pixels);
    let edges = wanted_edges(&mut drawing, &view, intent);
    let held = holds(&mut drawing, &view, intent);
    let way = way(&mut drawing, &view, picture);
    drawing.line(rectangle(view.left, view.top, SIDE, SIDE), INK, 0.8);
    marker(&mut drawing, &view, picture.spot, way.cutter);
    above::scale_bar(&mut drawing, view.left + SIDE, view.top + SIDE + WORDS, SIDE * 0.5, view.scale, WORDS);

    let column = MARGIN + SIDE + GAP;
    let mut y = locator(&mut drawing, column, picture, intent, window) + 14.0;
    y = heights_key(&mut drawing, column, y, &tints, &intent.blank) + 10.0;
    lines_key(&mut drawing, column, y, picture, &Shown { wrong, edges, held, way });

    let mut top = view.top + SIDE + WORDS * 2.0;
    for runs in words(picture, map) {
        top += flow::set(&mut drawing, MARGIN, top, WIDTH - 2.0 * MARGIN, &runs) + 3.0;
    }
    drawing.height = top + MARGIN / 2.0;
    raster::png(&drawing, GROUND, FINE)
}

/// The window that a map covers; a square about the spot where there is none.
fn seen(map: &HeightMap, at: Point) -> Bounds {
    let side = map.pitch * map.columns.max(map.rows) as f64;
    if side > 0.0 && side.is_finite() {
        return Bounds { min: map.origin, max: map.origin + Point::new(side, side) };
    }
    Bounds { min: at, max: at }.grown(1.0)
}

/// What of the key is needed.
struct Shown {
    /// Whether anything is cut too deep, and whether anything is left standing.
    wrong: [bool; 2],
    edges: bool,
    held: bool,
    way: Way,
}

/// What of a way is in the picture.
#[derive(Default)]
struct Way {
    feed: bool,
    rapid: bool,
    boxed: bool,
    /// The cutter's axis where it comes nearest to the spot, if its rim is in the picture.
    cutter: Option<Point>,
}

/// Tints of the heights in a window: equal steps of ink between the heights that most of it lies at.
struct Tints {
    /// Heights, the highest first, with their ink, and whether they are named.
    steps: Vec<(f64, f64, bool)>,
    underside: f64,
    through: bool,
}

impl Tints {
    fn of(map: &HeightMap, blank: &Blank) -> Self {
        let underside = blank.underside.to_mm();
        let mut bins: std::collections::BTreeMap<i64, (u64, f64)> = std::collections::BTreeMap::new();
        let (mut low, mut high, mut through) = (f64::INFINITY, f64::NEG_INFINITY, false);
        for h in map.heights.iter().map(|&h| f64::from(h)).filter(|h| h.is_finite()) {
            if h <= underside + 0.001 {
                through = true;
                continue;
            }
            (low, high) = (low.min(h), high.max(h));
            let bin = bins.entry((h / STEP).round() as i64).or_default();
            *bin = (bin.0 + 1, bin.1 + h);
        }
        let least = (NAMED * map.heights.len() as f64).max(1.0);
        let mut found: Vec<(u64, f64)> =
            bins.into_values().filter(|b| b.0 as f64 >= least).map(|(n, sum)| (n, sum / n as f64)).collect();
        found.sort_by(|a, b| b.0.cmp(&a.0).then(b.1.total_cmp(&a.1)));
        let mut named: Vec<f64> = Vec::new();
        for (_, height) in found {
            if named.len() < MOST && named.iter().all(|n| (n - height).abs() > 1.5 * STEP) {
                named.push(height);
            }
        }
        let mut steps: Vec<(f64, bool)> = named.iter().map(|&h| (h, true)).collect();
        for end in [low, high] {
            if end.is_finite() && named.iter().all(|n| (n - end).abs() > 1.5 * STEP) {
                steps.push((end, false));
            }
        }
        steps.sort_by(|a, b| b.0.total_cmp(&a.0));
        let last = steps.len().saturating_sub(1).max(1) as f64;
        let steps = steps.into_iter().enumerate().map(|(i, (h, n))| (h, DARKEST * i as f64 / last, n)).collect();
        Self { steps, underside, through }
    }

    /// The ink of a height, as light.
    fn ink(&self, height: f64) -> f64 {
        if height <= self.underside + 0.001 {
            return THROUGH;
        }
        let below = self.steps.partition_point(|s| s.0 > height);
        match (below.checked_sub(1).and_then(|i| self.steps.get(i)), self.steps.get(below)) {
            (Some(a), Some(b)) if a.0 > b.0 => a.1 + (b.1 - a.1) * (a.0 - height) / (a.0 - b.0),
            (Some(a), _) => a.1,
            (None, Some(b)) => b.1,
            (None, None) => 0.0,
        }
    }

    fn colour(&self, height: f64) -> Rgb {
        ink::mixed(INK, PAPER, self.ink(height))
    }
}

/// The window as pixels, and whether anything in it is cut too deep or left standing.
fn model(picture: &SpotPicture, intent: &Intent, tints: &Tints, window: Bounds) -> (Pixels, [bool; 2]) {
    let map = &picture.close.heights;
    let count = (SIDE * FINE) as usize;
    let size = window.width() / count as f64;
    let [w, h] = intent.blank.size.map(|l| l.to_mm());
    let holds: Vec<&Contour> =
        intent.holds.iter().map(|hold| &hold.shape).filter(|s| s.bounds().meets(window)).collect();
    let mut colours = Vec::with_capacity(count * count);
    let mut wrong = [false; 2];
    for row in 0..count {
        let y = window.max.y - (row as f64 + 0.5) * size;
        let map_row = cell_of(y - map.origin.y, map.pitch, map.rows);
        for column in 0..count {
            let p = Point::new(window.min.x + (column as f64 + 0.5) * size, y);
            let cell =
                cell_of(p.x - map.origin.x, map.pitch, map.columns).and_then(|c| map_row.map(|r| r * map.columns + c));
            let on_blank = p.x > 0.0 && p.y > 0.0 && p.x < w && p.y < h;
            let Some(&height) = cell.filter(|_| on_blank).and_then(|c| map.heights.get(c)) else {
                colours.push(GROUND);
                continue;
            };
            let wanted = cell.and_then(|c| picture.close.wanted.get(c)).copied().unwrap_or(f32::NAN);
            // Comparisons with NaN are false: where anything will do nothing is wrong.
            let (deep, left) = (height < wanted - OFF, picture.left && height > wanted + OFF);
            let mut colour = tints.colour(f64::from(height));
            let along = if deep { row + column } else { row + count - column };
            wrong = [wrong[0] || deep, wrong[1] || left];
            if (deep || left) && along % HATCH.0 < HATCH.1 {
                let light = colour.iter().map(|c| ink::decode(*c)).sum::<f64>() / 3.0;
                colour = ink::mixed(if light > 0.3 { INK } else { PAPER }, colour, 0.75);
            }
            if holds.iter().any(|shape| shape.contains(p)) {
                colour = HEADS;
            }
            colours.push(colour);
        }
    }
    (Pixels { columns: count, rows: count, colours }, wrong)
}

/// A line that reads on light and dark: ink on a rim of paper.
fn cased(drawing: &mut Drawing, pieces: &[Vec<(f32, f32)>], width: f32) {
    for piece in pieces {
        drawing.line(polyline(piece), PAPER, width + 2.6);
    }
    for piece in pieces {
        drawing.line(polyline(piece), INK, width);
    }
}

fn wanted_edges(drawing: &mut Drawing, view: &View, intent: &Intent) -> bool {
    let areas = intent.areas.iter().map(|a| &a.region);
    let regions = areas.chain(intent.outline.as_ref().map(|o| &o.inside));
    let near = regions.flat_map(|r| r.contours()).filter(|c| c.bounds().meets(view.window));
    let pieces: Vec<Vec<(f32, f32)>> = near.flat_map(|c| contour_pieces(view, c)).collect();
    cased(drawing, &pieces, 2.2);
    !pieces.is_empty()
}

fn contour_pieces(view: &View, contour: &Contour) -> Vec<Vec<(f32, f32)>> {
    let mut points = contour.flatten((0.05 / f64::from(view.scale)).clamp(1e-5, 1.0));
    points.extend(points.first().copied());
    pieces(view, &points)
}

/// What of a run of points is inside the window, in the drawing.
fn pieces(view: &View, points: &[Point]) -> Vec<Vec<(f32, f32)>> {
    let inside = clipped(points, view.window);
    inside.into_iter().map(|piece| piece.into_iter().map(|p| view.at(p)).collect()).collect()
}

fn holds(drawing: &mut Drawing, view: &View, intent: &Intent) -> bool {
    let near = intent.holds.iter().map(|hold| &hold.shape).filter(|s| s.bounds().meets(view.window));
    let pieces: Vec<Vec<(f32, f32)>> = near.flat_map(|s| contour_pieces(view, s)).collect();
    for piece in &pieces {
        drawing.line(polyline(piece), INK, 1.2);
    }
    !pieces.is_empty()
}

/// The way of the line concerned, and the cutter where it comes nearest to the spot.
fn way(drawing: &mut Drawing, view: &View, picture: &SpotPicture) -> Way {
    let mut shown = Way::default();
    let tolerance = (0.05 / f64::from(view.scale)).clamp(1e-5, 1.0);
    let cutting_width = picture.line.map_or(0.0, |(.., (_, _, width))| width);
    let mut runs: Vec<(Vec<Point>, bool)> = Vec::new();
    for (segment, going) in &picture.close.way {
        if *going == Going::Boxed {
            // The cutter may be anywhere in it.
            let rim = contour_pieces(view, &Contour::rectangle(segment.bounds().grown(0.5 * cutting_width)));
            let lines: Vec<Vec<(f32, f32)>> = rim.iter().flat_map(|piece| dashed(piece, &[9.0, 5.0])).collect();
            cased(drawing, &lines, 1.1);
            shown.boxed |= !rim.is_empty();
        }
        let rapid = &(*going != Going::Feed);
        let mut points = vec![segment.start()];
        segment.flatten_into(tolerance, &mut points);
        match runs.last_mut() {
            Some((run, is_rapid)) if is_rapid == rapid && run.last() == points.first() => {
                run.extend(points.into_iter().skip(1));
            }
            _ => runs.push((points, *rapid)),
        }
    }
    for (points, rapid) in &runs {
        let inside = pieces(view, points);
        let pattern: &[f32] = if *rapid { &[2.0, 6.0] } else { &[18.0, 4.0, 3.0, 4.0] };
        let lines: Vec<Vec<(f32, f32)>> = inside.iter().flat_map(|piece| dashed(piece, pattern)).collect();
        cased(drawing, &lines, if *rapid { 1.6 } else { 1.5 });
        for piece in &inside {
            if let Some((at, along)) = clip::place_along(piece, 0.82) {
                arrow(drawing, at, along);
            }
        }
        shown.rapid |= *rapid && !inside.is_empty();
        shown.feed |= !*rapid && !inside.is_empty();
    }
    let at = picture.spot.at;
    let nearest = picture.close.way.iter().map(|(s, _)| s.at(s.nearest_share(at)));
    let nearest = nearest.min_by(|a, b| a.distance(at).total_cmp(&b.distance(at)));
    if let Some(axis) = nearest.filter(|_| cutting_width > 0.0) {
        let rim = contour_pieces(view, &Contour::circle(axis, 0.5 * cutting_width));
        cased(drawing, &rim, 0.8);
        shown.cutter = Some(axis).filter(|_| !rim.is_empty());
        if view.window.contains(axis) {
            let (x, y) = view.at(axis);
            drawing.fill(circle(x, y, 4.2), PAPER);
            drawing.fill(circle(x, y, 2.8), INK);
        }
    }
    shown
}

/// An arrow head at a place, pointing along a direction of length 1.
fn arrow(drawing: &mut Drawing, (x, y): (f32, f32), (dx, dy): (f32, f32)) {
    let head = |long: f32, wide: f32| {
        let (back, tip) = ((x - dx * long * 0.6, y - dy * long * 0.6), (x + dx * long * 0.6, y + dy * long * 0.6));
        polygon(&[tip, (back.0 - dy * wide, back.1 + dx * wide), (back.0 + dy * wide, back.1 - dx * wide)])
    };
    drawing.fill(head(18.0, 7.0), PAPER);
    drawing.fill(head(13.0, 4.4), INK);
}

/// A ring about the spot, and its amount on a slip of paper with a line to it, on the side where the cutter isn't.
fn marker(drawing: &mut Drawing, view: &View, spot: &Spot, cutter: Option<Point>) {
    let (x, y) = view.at(spot.at);
    for (ink, width) in [(PAPER, 5.0), (INK, 2.2)] {
        drawing.line(circle(x, y, RING), ink, width);
    }
    let words = style(19.0, Cut::Bold, INK);
    let text = drawing.lettering.shortened(&spot.words, words.cut, words.size, SIDE - 60.0);
    let wide = drawing.lettering.width(&text, words.cut, words.size) + 20.0;
    let below = cutter.is_some_and(|axis| axis.y >= spot.at.y);
    let left = (x + 30.0).min(view.left + SIDE - wide - 14.0).max(view.left + 14.0);
    let (side, top) = if below { (1.0, y + 66.0) } else { (-1.0, y - 96.0) };
    let top = top.clamp(view.top + 10.0, view.top + SIDE - 40.0);
    let from = (x + RING * 0.5, y + side * RING * 0.866);
    let to = ((x + 48.0).clamp(left + 8.0, left + wide - 8.0), if below { top } else { top + 30.0 });
    for (ink, width) in [(PAPER, 4.0), (INK, 1.2)] {
        drawing.rule(from, to, ink, width);
    }
    let slip = rectangle(left, top, wide, 30.0);
    drawing.fill(slip.clone(), GROUND);
    drawing.line(slip, INK, 1.0);
    drawing.text(left + 10.0, top + 21.5, words, &text);
}

/// The whole plate, small, with the window's place on it; its lower edge.
fn locator(drawing: &mut Drawing, left: f32, picture: &SpotPicture, intent: &Intent, window: Bounds) -> f32 {
    let room = WIDTH - MARGIN - left;
    let mut view = View::of_blank(intent, 1.0, left, MARGIN / 2.0, room, LOCATOR);
    view.left = ((left + (room - view.width()) / 2.0) * FINE).round() / FINE;
    view.model(drawing, picture.whole, intent, FINE, GROUND);
    above::holds(drawing, &view, &intent.holds);
    drawing.line(view.blank_edge(intent), THIN, 0.6);
    // The window, at least as large as a fingertip on the drawing; not off it where the spot is beside the blank.
    let at = window.centre();
    let at =
        Point::new(at.x.clamp(view.window.min.x, view.window.max.x), at.y.clamp(view.window.min.y, view.window.max.y));
    let (x, y) = view.at(at);
    let half = (0.5 * window.width() as f32 * view.scale).max(6.0);
    for (ink, width) in [(PAPER, 3.4), (INK, 1.4)] {
        drawing.line(rectangle(x - half, y - half, 2.0 * half, 2.0 * half), ink, width);
    }
    let place = format!("x {}, y {} mm", two(picture.spot.at.x), two(picture.spot.at.y));
    let y = view.top + view.height() + SMALL * 1.3;
    drawing.text(left, y, style(SMALL, Cut::Bold, INK), &place);
    y
}

/// The heights by their tints; the lower edge.
fn heights_key(drawing: &mut Drawing, left: f32, top: f32, tints: &Tints, blank: &Blank) -> f32 {
    let words = style(SMALL, Cut::Regular, INK);
    let mut y = top + SMALL;
    drawing.text(left, y, style(SMALL, Cut::Italic, QUIET), "heights above the table, mm");
    y += 7.0;
    let room = WIDTH - MARGIN - left - 34.0;
    let mut swatch = |drawing: &mut Drawing, ink: f64, text: &str| {
        let frame = rectangle(left, y, 26.0, 15.0);
        drawing.fill(frame.clone(), ink::mixed(INK, PAPER, ink));
        drawing.line(frame, THIN, 0.6);
        drawing.text_within(left + 34.0, y + 12.0, words, room, text);
        y += 19.0;
    };
    for &(height, ink, _) in tints.steps.iter().filter(|s| s.2) {
        let open = quantity::Height::try_mm(height - 1e-3).and_then(|h| blank.shows_at(h));
        let sheet = open.and_then(|i| blank.layers.get(i)).map_or("", |l| l.sheet.name.as_str());
        swatch(drawing, ink, &format!("{}  {sheet}", short(height, 3)));
    }
    if tints.through {
        swatch(drawing, THROUGH, "cut through");
    }
    y
}

/// What the lines and the hatching mean.
fn lines_key(drawing: &mut Drawing, left: f32, top: f32, picture: &SpotPicture, shown: &Shown) {
    let words = style(SMALL, Cut::Regular, INK);
    let room = WIDTH - MARGIN - left - 44.0;
    let mut y = top;
    let mut entry = |drawing: &mut Drawing, draw: &dyn Fn(&mut Drawing, f32), text: &str| {
        draw(drawing, y + 8.0);
        drawing.text_within(left + 44.0, y + 12.5, words, room, text);
        y += 19.0;
    };
    let rule = |pattern: &'static [f32], width: f32| {
        move |drawing: &mut Drawing, y: f32| {
            let line = [(left, y), (left + 36.0, y)];
            let lines = if pattern.is_empty() { vec![line.to_vec()] } else { dashed(&line, pattern) };
            lines.iter().for_each(|l| drawing.line(polyline(l), INK, width));
        }
    };
    let hatch = |rising: bool| {
        move |drawing: &mut Drawing, y: f32| {
            let frame = rectangle(left, y - 8.0, 36.0, 15.0);
            drawing.hatch(frame.clone(), rising, 5.6, INK, 1.4);
            drawing.line(frame, THIN, 0.6);
        }
    };
    if shown.wrong[0] {
        entry(drawing, &hatch(true), "cut too deep");
    }
    if shown.wrong[1] {
        entry(drawing, &hatch(false), "left standing");
    }
    if shown.edges {
        entry(drawing, &rule(&[], 2.2), "edge as wanted");
    }
    let line = picture.spot.line.map_or_else(String::new, |l| format!(" of line {l}"));
    if shown.way.feed {
        entry(drawing, &rule(&[18.0, 4.0, 3.0, 4.0], 1.5), &format!("way{line}"));
    }
    if shown.way.rapid {
        entry(drawing, &rule(&[2.0, 6.0], 1.6), &format!("rapid{line}"));
    }
    if shown.way.boxed {
        entry(drawing, &rule(&[9.0, 5.0], 1.1), "or anywhere in here");
    }
    if let (Some(_), Some((.., (number, _, width)))) = (shown.way.cutter, picture.line) {
        let rim = |drawing: &mut Drawing, y: f32| {
            drawing.line(circle(left + 18.0, y, 7.0), INK, 0.8);
            drawing.fill(circle(left + 18.0, y, 1.8), INK);
        };
        entry(drawing, &rim, &format!("cutter {number}, {} mm", short(width, 3)));
    }
    if shown.held {
        let head = |drawing: &mut Drawing, y: f32| {
            drawing.fill(circle(left + 18.0, y, 7.0), HEADS);
            drawing.line(circle(left + 18.0, y, 7.0), INK, 1.2);
        };
        entry(drawing, &head, "hold");
    }
}

/// What stands below: the finding, its place, its cause and the way out, what the picture is.
fn words(picture: &SpotPicture, map: &HeightMap) -> Vec<Vec<Run>> {
    let (plain, bold) = (style(WORDS, Cut::Regular, INK), style(WORDS, Cut::Bold, INK));
    let quiet = style(SMALL, Cut::Italic, QUIET);
    let spot = picture.spot;
    let mut paragraphs = vec![
        vec![run(format!("{}  {}", picture.number, picture.title), style(21.0, Cut::Bold, INK))],
        flow::marked(&sentence(&spot.message.replace('*', "").replace('`', "*")), plain),
    ];
    let mut place = Vec::new();
    if let (Some((file, text, _)), Some(line)) = (picture.line, spot.line) {
        let text: String = if text.chars().count() > LINE {
            text.chars().take(LINE).chain("…".chars()).collect()
        } else {
            text.to_owned()
        };
        place.push(run(format!("{file}, line {line}: "), bold));
        place.push(run(format!("{} ", text.trim()), style(WORDS, Cut::Italic, INK)));
    }
    let height = spot.height.map_or_else(String::new, |z| format!(", {} mm above the table", short(z, 3)));
    place.push(run(format!("At x {} y {}{height}.", two(spot.at.x), two(spot.at.y)), plain));
    paragraphs.push(place);
    for (head, text) in [("Likely cause: ", &picture.finding.likely_cause), ("What to do: ", &picture.finding.way_out)]
    {
        if let Some(text) = text {
            let mut runs = vec![run(head, bold)];
            runs.extend(flow::marked(&sentence(&text.replace('*', "").replace('`', "*")), plain));
            paragraphs.push(runs);
        }
    }
    let (number, of, file) = picture.after;
    let which = match picture.place {
        (_, 0 | 1) => String::new(),
        (place, places) => format!(" Place {place} of {places} drawn of this finding."),
    };
    paragraphs.push(vec![run(
        format!(
            "From above, after program {number} of {of} ({file}), as the proof cuts it from the programs’ own text; cells of {} mm.{which}",
            short(map.pitch, 4)
        ),
        quiet,
    )]);
    paragraphs
}

fn sentence(text: &str) -> String {
    let mut letters = text.trim_end_matches('.').chars();
    let first = letters.next().map(|c| c.to_uppercase().chain(letters).collect::<String>());
    format!("{}.", first.unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(heights: &[f32]) -> HeightMap {
        HeightMap { pitch: 0.1, origin: Point::default(), columns: heights.len(), rows: 1, heights: heights.to_vec() }
    }

    fn blank() -> Blank {
        let mm = quantity::Length::mm;
        Blank {
            size: [mm(10.0), mm(10.0)],
            layers: Vec::new(),
            bond: mm(0.0),
            under: Vec::new(),
            into_table: mm(0.0),
            underside: quantity::Height::mm(0.2),
            face: quantity::Height::mm(6.0),
            face_low: quantity::Height::mm(6.0),
            face_high: quantity::Height::mm(6.0),
        }
    }

    /// A step of 0.02 mm beside one of 3 mm is told apart as well: tints go by rank, not by height.
    #[test]
    fn small_steps_have_tints_of_their_own() {
        let heights = [vec![6.0f32; 40], vec![3.0; 40], vec![2.98; 20]].concat();
        let tints = Tints::of(&map(&heights), &blank());
        let named: Vec<f64> = tints.steps.iter().filter(|s| s.2).map(|s| (s.0 * 100.0).round() / 100.0).collect();
        assert_eq!(named, [6.0, 3.0, 2.98]);
        assert!((tints.ink(3.0) - DARKEST / 2.0).abs() < 1e-3 && (tints.ink(2.98) - DARKEST).abs() < 1e-3);
        assert!(tints.ink(6.0) == 0.0 && tints.ink(4.5) > 0.1 && tints.ink(0.1) == THROUGH);
        assert_eq!(Tints::of(&HeightMap::default(), &blank()).ink(5.0), 0.0);
    }

    #[test]
    fn sentences() {
        assert_eq!((sentence("it is so"), sentence("")), ("It is so.".to_owned(), ".".to_owned()));
    }
}
