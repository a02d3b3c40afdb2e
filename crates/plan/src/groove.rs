//! Grooves through the blank: cut-outs that stay in one piece, then the plate's own edge, last of all.
//!
//! A groove follows the edge at the cutter's radius, height by height, climbing. Over tabs the cutter crosses at the tab's
//! height; the stretches between tabs are entered by going back and forth down a ramp. Each connected piece of room is cut with
//! the widest cutter that gets along every piece in it and finds room for its tabs there.

mod cut;

use crate::clear::rest_tasks;
use crate::levels::levels;
use crate::pen::{GAP, Pen, SHORT, round_from_longest};
use crate::program::stage;
use crate::tabs::{Piece, Stretch};
use crate::tour::{Stop, tour};
use crate::{NO_CUTTER_LONG_ENOUGH, Tool, clear, cleared, traverse};
use cut::{Cut, Way, fitted};
use doubt::Doubt;
use motion::Stage;
use plane::{Bounds, Contour, Point, Region, Segment, SegmentIndex};
use plate::{Held, Intent, Shop};
use quantity::Height;
use reach::Rings;
use std::fmt::Write;

/// A connected piece of room whose edges are cut through.
struct Groove {
    name: String,
    /// Where the cutter may go beside the edge, the wall to the right of every way.
    free: Rings,
    /// The box drawn round the plate, if the room reaches out to it.
    rim: Option<Bounds>,
    /// Whether the plate comes free by it.
    outermost: bool,
    floor: f64,
    held: Held,
    line: usize,
    /// The pieces beside it.
    pieces: Vec<Piece>,
    /// Which of them hang on something else than this room's tabs: what lies all round it, and those with more of their outer edge
    /// beside another room.
    around: Vec<usize>,
}

impl Groove {
    /// The rings of the edge itself at a cutter's radius.
    fn edges(&self, radius: f64) -> Vec<Contour> {
        let outside =
            |c: &Contour| self.rim.is_some_and(|rim| c.bounds().grown(2.0 * radius).width() > rim.width() - 1.0);
        fitted(&self.free.inset(radius)).into_iter().filter(|c| !outside(c)).collect()
    }
}

/// The stages for cut-outs and the outline, and finer cutters' stages for their inside corners.
pub(crate) fn stages(
    shop: &Shop,
    intent: &Intent,
    tools: &[Tool<'_>],
    chosen: &[Tool<'_>],
    already: usize,
) -> (Vec<Stage>, Vec<Doubt>) {
    let grooves = grooves(intent);
    let (mut stages, mut doubts) = (Vec::new(), Vec::new());
    if grooves.is_empty() {
        return (stages, doubts);
    }
    let face = intent.blank.face_high.to_mm();
    let deepest = grooves.iter().map(|g| face - g.floor).fold(0.0, f64::max);
    // A cutter already in use is preferred, since it needs no further change; finer ones come where it doesn't fit.
    let Some(first) = chosen.iter().chain(tools).find(|t| t.reaches(deepest)) else {
        let name = grooves.iter().find(|g| face - g.floor >= deepest).map_or("", |g| &g.name);
        let mut message =
            format!("`{name}` is cut {deepest:.2} mm deep, deeper than the flutes of every flat cutter allowed");
        let longest = tools.iter().map(Tool::reach).fold(0.0, f64::max);
        if longest > 0.0 {
            let _ = write!(message, "; the longest reach {longest:.2} mm");
        }
        let needed = (deepest * 10.0 - 1e-6).ceil() / 10.0;
        let thinner = deepest - longest;
        doubts.push(NO_CUTTER_LONG_ENOUGH.refusal(message).way_out(format!(
            "allow a cutter with flutes of {needed:.1} mm or longer, or use a blank thinner by {thinner:.2} mm"
        )));
        return (stages, doubts);
    };
    let able: Vec<&Tool<'_>> =
        std::iter::once(first).chain(tools.iter().filter(|t| t.radius < first.radius && t.reaches(deepest))).collect();
    let cuts: Vec<Cut<'_>> = grooves.iter().filter_map(|g| Cut::of(g, intent, able.iter().copied(), tools)).collect();
    doubts.extend(cuts.iter().flat_map(|c| c.doubts.iter().cloned()));
    let rise = traverse(shop, intent).to_mm();
    // The plate comes free last.
    let last =
        cuts.iter().rfind(|c| c.groove.outermost).or(cuts.last()).map_or(first.cutter.number, |c| c.tool.cutter.number);
    let mut by_tool: Vec<&Tool<'_>> = able.iter().rev().copied().filter(|t| t.cutter.number != last).collect();
    by_tool.extend(able.iter().copied().find(|t| t.cutter.number == last));
    for tool in by_tool {
        let own: Vec<&Cut<'_>> = cuts.iter().filter(|c| c.tool.cutter.number == tool.cutter.number).collect();
        if own.iter().all(|c| c.ways.is_empty()) {
            continue;
        }
        let mut pen = Pen::new(tool, rise, face);
        clear_waste(&mut pen, intent, &own);
        for (cut, way) in in_order(&own) {
            along_edge(&mut pen, intent, cut.groove, way);
        }
        let frees = own.iter().any(|c| c.groove.outermost);
        let alone = own.len() == 1 && frees;
        let (name, purpose) = match (frees || intent.outline.is_none(), alone) {
            (true, true) => ("outline", "cuts the plate free"),
            (true, false) => ("outline", "cuts the cut-outs, then the plate, free"),
            (false, _) => ("cut-outs", "cuts the narrow cut-outs"),
        };
        let number = already + stages.len() + 1;
        stages.push(stage(tool, format!("{number}-{name}"), purpose, rise, pen.finish()));
    }
    for finer in able.iter().skip(1) {
        let mut pen = Pen::new(finer, rise, face);
        if corners(&mut pen, intent, &cuts, finer) {
            let number = already + stages.len() + 1;
            stages.push(stage(
                finer,
                format!("{number}-outline-corners"),
                "clears the outline's inside corners",
                rise,
                pen.finish(),
            ));
        }
    }
    (stages, doubts)
}

/// Clears what nothing would hold once the grooves round it are cut.
fn clear_waste(pen: &mut Pen<'_>, intent: &Intent, cuts: &[&Cut<'_>]) {
    for cut in cuts.iter().filter(|c| !c.waste.is_empty()) {
        let pocket = cut.pocket(intent);
        let heights = levels(&intent.blank, pocket.top, pocket.bottom, cut.tool.run.pass_depth.to_mm());
        let stops: Vec<Stop> = cut.waste.iter().map(|t| Stop::at(t.at)).collect();
        for i in tour(pen.point().unwrap_or_else(|| cut.start()), &stops, &[]) {
            clear::work(pen, &cut.waste[i], &pocket, &heights);
            pen.lift();
        }
    }
}

/// Ways in a short order, inner before outer and the plate's own last.
fn in_order<'c>(cuts: &[&'c Cut<'c>]) -> Vec<(&'c Cut<'c>, &'c Way)> {
    let of = |cut: &'c Cut<'c>| cut.ways.iter().map(move |way| (cut, way));
    let ways: Vec<(&Cut<'_>, &Way)> = cuts.iter().copied().flat_map(of).collect();
    let start = |c: &Contour| round_from_longest(c).first().map_or_else(Point::default, Segment::start);
    let stops: Vec<Stop> = ways.iter().map(|(_, w)| Stop::at(start(&w.edge))).collect();
    let boxes: Vec<Bounds> = ways.iter().map(|(_, w)| w.edge.bounds()).collect();
    let mut before = Vec::new();
    for (i, (inner, _)) in ways.iter().enumerate() {
        for (j, (outer, around)) in ways.iter().enumerate() {
            let nested = || {
                boxes[i].meets(boxes[j]) && around.edge.contains(stops[i].start) && boxes[j].width() > boxes[i].width()
            };
            let (first, last) = (inner.groove.outermost, outer.groove.outermost);
            if last && !first || last == first && i != j && nested() {
                before.push((i, j));
            }
        }
    }
    tour(Point::default(), &stops, &before).into_iter().map(|i| ways[i]).collect()
}

/// How deep the cuts through the blank go, mm; `None` if there are none.
pub(crate) fn deepest(intent: &Intent) -> Option<f64> {
    let floors = intent.areas.iter().filter(|a| !cleared(a)).map(|a| a.floor);
    let lowest = floors.chain(intent.outline.iter().map(|o| o.floor)).reduce(Height::min)?;
    Some((intent.blank.face_high - lowest).to_mm())
}

/// Cut-outs first, then the holes of the plate, its edge last.
fn grooves(intent: &Intent) -> Vec<Groove> {
    let mut grooves: Vec<Groove> = intent
        .areas
        .iter()
        .filter(|a| !cleared(a))
        .map(|a| Groove {
            name: a.name.clone(),
            free: Rings::of(&a.region),
            rim: None,
            outermost: false,
            floor: a.floor.to_mm(),
            held: a.held.clone(),
            line: a.line,
            around: rims(&a.region),
            pieces: a.region.contours().map(|c| piece(c, std::iter::once(c))).collect(),
        })
        .collect();
    if let Some(outline) = &intent.outline {
        let plate = Rings::of(&outline.inside);
        // Free is everything round the plate, out to where no cutter goes.
        let rim = plate.bounds().grown(ROOM);
        let all: Vec<Piece> = outline.inside.shapes.iter().map(|s| piece(&s.outer, s.contours())).collect();
        let free = Rings::rectangle(rim).minus(&plate).parts();
        let beside: Vec<Vec<usize>> = free.iter().map(|room| beside(room, &all)).collect();
        let home: Vec<Option<usize>> = (0..all.len())
            .map(|i| home(&outline.inside.shapes[i].outer, &free, &|room| beside[room].contains(&i)))
            .collect();
        let of = |(room, free): (usize, Rings)| {
            let outermost = free.bounds().width() > rim.width() - 1.0;
            let here = &beside[room];
            let around: Vec<usize> = (0..here.len()).filter(|&k| home[here[k]] != Some(room)).collect();
            let asks = |(k, &i): (usize, &usize)| Piece { asks: !around.contains(&k), ..all[i].clone() };
            Groove {
                name: outline.name.clone(),
                rim: outermost.then_some(rim),
                outermost,
                floor: outline.floor.to_mm(),
                held: outline.held.clone(),
                line: outline.line,
                pieces: here.iter().enumerate().map(asks).collect(),
                around,
                free,
            }
        };
        let mut rooms: Vec<Groove> = free.clone().into_iter().enumerate().map(of).collect();
        rooms.sort_by_key(|g| g.outermost);
        grooves.extend(rooms);
    }
    grooves
}

/// A piece with these edges, the first of which is its outer one.
fn piece<'c>(outer: &Contour, edges: impl Iterator<Item = &'c Contour>) -> Piece {
    Piece { edges: SegmentIndex::of_contours(edges), round: outer.length(), asks: true }
}

/// Which pieces have an edge beside a room.
fn beside(room: &Rings, pieces: &[Piece]) -> Vec<usize> {
    let near = |i: &usize| room.points().flatten().any(|p| pieces[*i].edges.nearest_within(p, TOUCHING).is_some());
    (0..pieces.len()).filter(near).collect()
}

/// The room beside which most of a piece's outer edge lies: there it keeps its tabs. Of several only where it touches another piece.
fn home(outer: &Contour, rooms: &[Rings], is_beside: &dyn Fn(usize) -> bool) -> Option<usize> {
    let near: Vec<usize> = (0..rooms.len()).filter(|&room| is_beside(room)).collect();
    let mut lengths = vec![0.0; near.len()];
    for s in outer.segments() {
        let parts = (s.length() / LOOK).ceil().clamp(1.0, 10_000.0) as usize;
        for k in 0..parts {
            let t = (k as f64 + 0.5) / parts as f64;
            let Some(d) = s.direction(t) else { continue };
            // Outside of it, the piece lying to the left.
            let q = s.at(t) - d.left() * OUTSIDE;
            if let Some(i) = near.iter().position(|&room| rooms[room].contains(q)) {
                lengths[i] += s.length() / parts as f64;
            }
        }
    }
    (0..near.len()).max_by(|&a, &b| lengths[a].total_cmp(&lengths[b]).then(b.cmp(&a))).map(|i| near[i])
}

/// Which of a region's contours are outer ones.
fn rims(region: &Region) -> Vec<usize> {
    let counts = region.shapes.iter().map(|s| 1 + s.holes.len());
    let firsts = counts.scan(0, |at, n| Some(std::mem::replace(at, *at + n)));
    firsts.collect()
}

/// A room's edge is that of a piece within this, mm.
const TOUCHING: f64 = 0.002;
/// Edges are looked at this often, mm.
const LOOK: f64 = 0.5;
/// A place this far outside of a piece lies in the room beside it, mm.
const OUTSIDE: f64 = 0.005;
/// How far round the plate the free room is drawn, mm; more than any cutter's width.
const ROOM: f64 = 60.0;

/// Height of the tops of a groove's tabs, mm; far below if it has none.
fn tab_top(intent: &Intent, groove: &Groove) -> f64 {
    match &groove.held {
        Held::Tabs(tabs) if tabs.count > 0 => (intent.blank.underside + tabs.left).to_mm(),
        _ => f64::NEG_INFINITY,
    }
}

/// Cuts along one closed edge.
fn along_edge(pen: &mut Pen<'_>, intent: &Intent, groove: &Groove, way: &Way) {
    let blank = &intent.blank;
    let heights = levels(blank, blank.face_high.to_mm(), groove.floor, pen.tool.run.pass_depth.to_mm());
    let tab_top = tab_top(intent, groove);
    // A way without tabs goes through all round.
    let (full, tabbed): (Vec<f64>, Vec<f64>) = heights.iter().partition(|&&z| z >= tab_top || way.stretches.is_empty());
    let start = blank.face_high.to_mm();
    full_rounds(pen, groove, &way.edge, start, &full);
    if !tabbed.is_empty() {
        tabbed_rounds(pen, groove, &way.stretches, full.last().copied().unwrap_or(start), tab_top, &tabbed);
    }
    pen.lift();
}

/// Rounds without tabs: ramp, level round, ramp on.
fn full_rounds(pen: &mut Pen<'_>, groove: &Groove, edge: &Contour, top: f64, heights: &[f64]) {
    let mut round = round_from_longest(edge);
    let Some(first) = round.first().filter(|_| !heights.is_empty()) else { return };
    pen.come_down(first.start(), top + GAP, false);
    let mut from = top + 0.1;
    for &z in heights {
        pen.pass(format!("{} at {z:.3}", groove.name));
        round = pen.ramp(&round, from, z);
        pen.follow_round(&round, z);
        from = z;
    }
}

/// Rounds that leave tabs standing.
fn tabbed_rounds(pen: &mut Pen<'_>, groove: &Groove, stretches: &[Stretch], above: f64, tab_top: f64, heights: &[f64]) {
    let Some(first) = stretches.first() else { return };
    pen.come_down(first.between[0].start(), above + GAP, true);
    let mut above = above;
    for (round, &z) in heights.iter().enumerate() {
        pen.pass(format!("{} at {z:.3}, over the tabs", groove.name));
        // The first round cuts the tabs to their height; later ones cross just above it.
        let crossing = if round == 0 { tab_top } else { tab_top + OVER_TAB };
        for (i, stretch) in stretches.iter().enumerate() {
            let from = if round == 0 && i > 0 { tab_top.min(above) } else { above };
            // Under the ramp onto the tab stands what no pass before has cut: the way down stays off it.
            let (level, rising) = divided(&stretch.between, (crossing - z) / ONTO_TAB, true);
            back_and_forth(pen, &level, from, z);
            pen.follow_round(&level, z);
            sloping(pen, &rising, z, crossing);
            pen.follow_round(&stretch.over, crossing);
        }
        above = z;
    }
}

/// How far above a tab's top the cutter crosses it once it is cut, mm.
const OVER_TAB: f64 = 0.1;
/// How steeply the cutter rises onto a tab and comes down from it in the groove that is cut, as a slope: 15°, so that it need
/// not stop (common practice, no source).
const ONTO_TAB: f64 = 0.268;

/// Along segments from one height to another.
fn sloping(pen: &mut Pen<'_>, segments: &[Segment], from: f64, to: f64) {
    let whole: f64 = segments.iter().map(Segment::length).sum();
    let along_z = if to > from { pen.tool.rise_feed } else { pen.tool.run.down_feed };
    let step = pen.tool.text_step;
    let mut along = 0.0;
    for (i, segment) in segments.iter().enumerate() {
        along += segment.length();
        // No faster than the machine goes along z, however the numbers of a short piece are rounded.
        let (level, high) =
            ((segment.length() - 1.5 * step).max(0.0), (to - from).abs() * segment.length() / whole + step);
        let steep = high / libm::hypot(level, high);
        let feed = pen.tool.run.entry_feed.min(along_z * (1.0 / steep.max(1e-6)));
        let z = if i + 1 == segments.len() { to } else { from + (to - from) * along / whole };
        pen.along(segment, z, feed);
    }
}

/// Segments divided at a length from their start, or from their end; the part asked for is no longer than two fifths of them,
/// and none at all for no length.
fn divided(segments: &[Segment], length: f64, from_end: bool) -> (Vec<Segment>, Vec<Segment>) {
    let whole: f64 = segments.iter().map(Segment::length).sum();
    let length = length.clamp(0.0, 0.4 * whole);
    let at = if from_end { whole - length } else { length };
    let (mut before, mut after) = (Vec::new(), Vec::new());
    let mut along = 0.0;
    for s in segments {
        let share = (at - along) / s.length().max(1e-12);
        along += s.length();
        if share >= 1.0 - 1e-9 {
            before.push(*s);
        } else if share <= 1e-9 {
            after.push(*s);
        } else {
            before.push(s.piece(0.0, share));
            after.push(s.piece(share, 1.0));
        }
    }
    (before, after)
}

/// Down a stretch by a ramp, turning at its ends, until `z`, and over what the ramp left; ends at the stretch's beginning. Where
/// the cutter comes from higher than `from`, it slopes down to it along the stretch, in the groove that is cut.
fn back_and_forth(pen: &mut Pen<'_>, stretch: &[Segment], from: f64, z: f64) {
    let back: Vec<Segment> = stretch.iter().rev().map(Segment::reversed).collect();
    let slope = libm::tan(pen.tool.run.entry_angle) * 0.98;
    let longest = stretch.iter().map(Segment::length).fold(0.0, f64::max);
    let shortest = SHORT.min(longest / 2.0);
    if longest <= 0.0 {
        return;
    }
    let feed = pen.tool.run.entry_feed;
    let here = pen.z().filter(|&h| h > from && pen.point().is_some_and(|p| p.distance(stretch[0].start()) < 1e-6));
    let (lead, rest) = divided(stretch, here.map_or(0.0, |h| (h - from) / ONTO_TAB), false);
    match here {
        Some(height) if !lead.is_empty() => sloping(pen, &lead, height, from),
        _ => pen.height(from),
    }
    let mut height = from;
    let (mut forward, mut first) = (false, true);
    while height > z {
        forward = !forward;
        let (way, led): (&[Segment], &[Segment]) = match (forward, first) {
            (true, true) => (&rest, &lead),
            (true, false) => (stretch, &[]),
            (false, _) => (&back, &[]),
        };
        first = false;
        for (i, segment) in way.iter().enumerate() {
            // Short pieces stay level: the rounding of heights would make them steep.
            let drop = if segment.length() < shortest { 0.0 } else { segment.length() * slope };
            if height - drop > z {
                height -= drop;
                pen.along(segment, height, feed);
                continue;
            }
            // No shorter than rounding can tell from steep.
            let least = (4.0 * shortest / segment.length().max(1e-12)).min(1.0);
            let share = ((height - z) / drop.max(1e-12)).clamp(least, 1.0);
            height = z;
            let down = segment.piece(0.0, share);
            pen.along(&down, z, feed);
            if forward {
                // Back over what the ramp left, to the stretch's beginning.
                pen.along(&down.reversed(), z, pen.tool.run.feed);
                for s in way[..i].iter().rev().chain(led.iter().rev()) {
                    pen.along(&s.reversed(), z, pen.tool.run.feed);
                }
            } else {
                if share < 1.0 {
                    pen.along(&segment.piece(share, 1.0), z, pen.tool.run.feed);
                }
                pen.follow_round(&way[i + 1..], z);
            }
            break;
        }
    }
}

/// Clears the inside corners of the grooves with a finer cutter. Whether there were any.
fn corners(pen: &mut Pen<'_>, intent: &Intent, cuts: &[Cut<'_>], tool: &Tool<'_>) -> bool {
    let mut any = false;
    for cut in cuts {
        let own = cut.left.iter().find(|(t, _)| t.cutter.number == tool.cutter.number);
        let Some((_, left)) = own.filter(|(_, l)| !l.left.is_empty()) else { continue };
        let pocket = cut.pocket(intent);
        let heights = levels(&intent.blank, pocket.top, pocket.bottom, tool.run.pass_depth.to_mm());
        let tasks = rest_tasks(0, &left.reach, &left.left, tool);
        any |= !tasks.is_empty();
        let stops: Vec<Stop> = tasks.iter().map(|t| Stop::at(t.at)).collect();
        for i in tour(pen.point().unwrap_or_default(), &stops, &[]) {
            clear::work(pen, &tasks[i], &pocket, &heights);
        }
    }
    any
}
