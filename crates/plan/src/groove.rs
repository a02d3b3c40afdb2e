//! Grooves through the blank: cut-outs that stay in one piece, then the plate's own edge, last of all.
//!
//! A groove follows the edge at the cutter's radius, height by height, climbing. Over tabs the cutter crosses at the tab's
//! height; the stretches between tabs are entered by going back and forth down a ramp.

use crate::clear::{rest_tasks, thick};
use crate::levels::levels;
use crate::pen::{GAP, Pen, SHORT, round_from_longest};
use crate::pocket::Pocket;
use crate::program::stage;
use crate::tabs::{Cuts, Kept, Stretch, stretches};
use crate::tour::{Stop, tour};
use crate::{NO_CUTTER_LONG_ENOUGH, Tool, clear, cleared, rest, traverse};
use doubt::Doubt;
use motion::Stage;
use plane::{Bounds, Contour, FIT, Point, Region, Segment, SegmentIndex, fit_closed};
use plate::{Held, Intent, Shop};
use quantity::Height;
use reach::Rings;
use std::fmt::Write;

/// One closed edge to be cut through.
struct Groove {
    name: String,
    /// Where the cutter may go beside the edge.
    free: Rings,
    /// The rings of the edge itself at the cutter's radius, wall to the right.
    edges: fn(&Rings, f64) -> Vec<Contour>,
    floor: f64,
    held: Held,
    line: usize,
    /// The edges of each piece that is held.
    pieces: Vec<SegmentIndex>,
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
    // A cutter already in use is preferred, since it needs no further change.
    let Some(tool) = chosen.iter().chain(tools).find(|t| t.reaches(deepest)) else {
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
    let rise = traverse(shop, intent).to_mm();
    let finer: Vec<&Tool<'_>> = tools.iter().filter(|t| t.radius < tool.radius && t.reaches(deepest)).collect();
    let left = for_finer(&grooves, tool, &finer);
    let edges = in_order(&grooves, tool.radius, intent.outline.is_some());
    let near = |(tool, left): (&&Tool<'_>, &Vec<Left>)| -> Vec<(Region, f64)> {
        left.iter().map(|l| (l.left.region(), 2.0 * tool.radius + rest::SLACK)).collect()
    };
    let cuts = Cuts::new(tool.radius, edges.iter().map(|e| &e.1), finer.iter().zip(&left).flat_map(near));
    let mut pen = Pen::new(tool, rise, face);
    for (ring, (groove, edge)) in edges.iter().enumerate() {
        let kept = Kept { name: &groove.name, line: groove.line, pieces: &groove.pieces, ring, edge };
        if let Err(doubt) = along_edge(&mut pen, intent, groove, &cuts, &kept) {
            doubts.push(doubt);
        }
    }
    let number = already + 1;
    let only_plate = grooves.len() == 1 && intent.outline.is_some();
    let purpose = if only_plate { "cuts the plate free" } else { "cuts the cut-outs, then the plate, free" };
    stages.push(stage(tool, format!("{number}-outline"), purpose, rise, pen.finish()));
    for (finer, left) in finer.into_iter().zip(left) {
        let mut pen = Pen::new(finer, rise, face);
        if corners(&mut pen, intent, &grooves, left, finer) {
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

/// Edges in a short order, inner before outer and the plate's own last.
fn in_order(grooves: &[Groove], radius: f64, with_plate: bool) -> Vec<(&Groove, Contour)> {
    let of = |g: usize| (grooves[g].edges)(&grooves[g].free, radius).into_iter().map(move |edge| (g, edge));
    let edges: Vec<(usize, Contour)> = (0..grooves.len()).flat_map(of).collect();
    let last = |g: usize| with_plate && g + 1 == grooves.len();
    let start = |c: &Contour| round_from_longest(c).first().map_or_else(Point::default, Segment::start);
    let stops: Vec<Stop> = edges.iter().map(|(_, c)| Stop::at(start(c))).collect();
    let boxes: Vec<Bounds> = edges.iter().map(|(_, c)| c.bounds()).collect();
    let mut before = Vec::new();
    for (i, (inner, _)) in edges.iter().enumerate() {
        for (j, (outer, around)) in edges.iter().enumerate() {
            let nested =
                || boxes[i].meets(boxes[j]) && around.contains(stops[i].start) && boxes[j].width() > boxes[i].width();
            if last(*outer) && !last(*inner) || last(*inner) == last(*outer) && i != j && nested() {
                before.push((i, j));
            }
        }
    }
    let order = tour(Point::default(), &stops, &before);
    order.into_iter().map(|i| (&grooves[edges[i].0], edges[i].1.clone())).collect()
}

/// How deep the cuts through the blank go, mm; `None` if there are none.
pub(crate) fn deepest(intent: &Intent) -> Option<f64> {
    let floors = intent.areas.iter().filter(|a| !cleared(a)).map(|a| a.floor);
    let lowest = floors.chain(intent.outline.iter().map(|o| o.floor)).reduce(Height::min)?;
    Some((intent.blank.face_high - lowest).to_mm())
}

/// Cut-outs first, the plate's edge last.
fn grooves(intent: &Intent) -> Vec<Groove> {
    let inside: fn(&Rings, f64) -> Vec<Contour> = |free, r| fitted(&free.inset(r));
    let mut grooves: Vec<Groove> = intent
        .areas
        .iter()
        .filter(|a| !cleared(a))
        .map(|a| Groove {
            name: a.name.clone(),
            free: Rings::of(&a.region),
            edges: inside,
            floor: a.floor.to_mm(),
            held: a.held.clone(),
            line: a.line,
            pieces: pieces(&a.region),
        })
        .collect();
    if let Some(outline) = &intent.outline {
        let plate = Rings::of(&outline.inside);
        // Free is everything round the plate, out to where no cutter goes.
        let room = Rings::rectangle(plate.bounds().grown(ROOM));
        grooves.push(Groove {
            name: outline.name.clone(),
            free: room.minus(&plate),
            edges: |free, r| {
                let rim = free.bounds();
                let plate = |c: &Contour| c.bounds().grown(r * 2.0).width() < rim.width() - 1.0;
                fitted(&free.inset(r)).into_iter().filter(plate).collect()
            },
            floor: outline.floor.to_mm(),
            held: outline.held.clone(),
            line: outline.line,
            pieces: pieces(&outline.inside),
        });
    }
    grooves
}

/// The edges of each shape.
fn pieces(region: &Region) -> Vec<SegmentIndex> {
    region.shapes.iter().map(|s| SegmentIndex::of_contours(s.contours())).collect()
}

/// How far round the plate the free room is drawn, mm; more than any cutter's width.
const ROOM: f64 = 60.0;

fn fitted(rings: &Rings) -> Vec<Contour> {
    rings.points().map(|r| fit_closed(&r, FIT)).collect()
}

/// Cuts along one closed edge.
fn along_edge(pen: &mut Pen<'_>, intent: &Intent, groove: &Groove, cuts: &Cuts, kept: &Kept<'_>) -> Result<(), Doubt> {
    let blank = &intent.blank;
    let heights = levels(blank, blank.face_high.to_mm(), groove.floor, pen.tool.run.pass_depth.to_mm());
    let tabs = match &groove.held {
        Held::Tabs(tabs) if tabs.count > 0 => Some(tabs),
        _ => None,
    };
    let tab_top = tabs.map_or(f64::NEG_INFINITY, |t| (blank.underside + t.left).to_mm());
    let (full, tabbed): (Vec<f64>, Vec<f64>) = heights.iter().partition(|&&z| z >= tab_top);
    let start = blank.face_high.to_mm();
    full_rounds(pen, groove, kept.edge, start, &full);
    if let (Some(tabs), false) = (tabs, tabbed.is_empty()) {
        let stretches = stretches(cuts, kept, tabs)?;
        tabbed_rounds(pen, groove, &stretches, full.last().copied().unwrap_or(start), tab_top, &tabbed);
    }
    pen.lift();
    Ok(())
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
        let crossing = if round == 0 { tab_top } else { tab_top + 0.1 };
        for (i, stretch) in stretches.iter().enumerate() {
            let from = if round == 0 && i > 0 { tab_top.min(above) } else { above };
            back_and_forth(pen, &stretch.between, from, z);
            up_and_over(pen, stretch, z, crossing);
        }
        above = z;
    }
}

/// How steeply the cutter rises onto a tab and comes down from it in the groove that is cut, as a slope: 15°, so that it need
/// not stop (common practice, no source).
const ONTO_TAB: f64 = 0.268;

/// Along a stretch at `z`, up a ramp at its end and over the tab behind it.
fn up_and_over(pen: &mut Pen<'_>, stretch: &Stretch, z: f64, crossing: f64) {
    let (level, rising) = divided(&stretch.between, (crossing - z) / ONTO_TAB, true);
    pen.follow_round(&level, z);
    sloping(pen, &rising, z, crossing);
    pen.follow_round(&stretch.over, crossing);
}

/// Along segments from one height to another.
fn sloping(pen: &mut Pen<'_>, segments: &[Segment], from: f64, to: f64) {
    let whole: f64 = segments.iter().map(Segment::length).sum();
    let mut along = 0.0;
    for (i, segment) in segments.iter().enumerate() {
        along += segment.length();
        let z = if i + 1 == segments.len() { to } else { from + (to - from) * along / whole };
        pen.along(segment, z, pen.tool.run.entry_feed);
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
            let share = ((height - z) / drop).clamp(1e-9, 1.0);
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

/// What a finer cutter finds at one groove.
struct Left {
    /// Where its axis may go.
    reach: Rings,
    /// What the wider ones left of what it covers.
    left: Rings,
}

/// By finer cutter, then by groove.
fn for_finer(grooves: &[Groove], tool: &Tool<'_>, finer: &[&Tool<'_>]) -> Vec<Vec<Left>> {
    let mut done: Vec<Rings> =
        if finer.is_empty() { Vec::new() } else { grooves.iter().map(|g| g.free.opening(tool.radius)).collect() };
    let mut all = Vec::new();
    for tool in finer {
        let of = |(groove, done): (&Groove, &mut Rings)| {
            let reach = groove.free.inset(tool.radius);
            let covered = crate::survey::covered(&reach, tool.radius);
            // The rim of the free room has corners too, which are none of the plate's.
            let within = if groove.free.bounds().width() > 2.0 * ROOM {
                Rings::rectangle(groove.free.bounds().grown(-ROOM / 2.0))
            } else {
                Rings::rectangle(groove.free.bounds().grown(1.0))
            };
            let left = thick(&covered.minus(done).and(&within));
            *done = done.union(&covered);
            Left { reach, left }
        };
        all.push(grooves.iter().zip(&mut done).map(of).collect());
    }
    all
}

/// Clears the inside corners of the grooves with a finer cutter. Whether there were any.
fn corners(pen: &mut Pen<'_>, intent: &Intent, grooves: &[Groove], left: Vec<Left>, tool: &Tool<'_>) -> bool {
    let face = intent.blank.face_high.to_mm();
    let mut any = false;
    for (groove, Left { reach, left }) in grooves.iter().zip(left) {
        if left.is_empty() {
            continue;
        }
        let pocket = Pocket::bare(groove.name.clone(), face, groove.floor);
        let heights = levels(&intent.blank, face, groove.floor, tool.run.pass_depth.to_mm());
        let tasks = rest_tasks(0, &reach, &left, tool);
        any |= !tasks.is_empty();
        let stops: Vec<Stop> = tasks.iter().map(|t| Stop::at(t.at)).collect();
        for i in tour(pen.point().unwrap_or_default(), &stops, &[]) {
            clear::work(pen, &tasks[i], &pocket, &heights);
        }
    }
    any
}
