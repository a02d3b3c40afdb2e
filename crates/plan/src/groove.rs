//! Grooves through the blank: cut-outs that stay in one piece, then the plate's own edge, last of all.
//!
//! A groove follows the edge at the cutter's radius, height by height, climbing. Over tabs the cutter crosses at the tab's
//! height; the stretches between tabs are entered by going back and forth down a ramp.

use crate::clear::{rest_tasks, thick};
use crate::levels::levels;
use crate::pen::{GAP, Pen, SHORT, round_from_longest};
use crate::pocket::Pocket;
use crate::program::stage;
use crate::tour::{Stop, tour};
use crate::{NO_CUTTER_LONG_ENOUGH, TABS_DO_NOT_FIT, Tool, clear, cleared, traverse};
use doubt::{Doubt, Place};
use motion::Stage;
use plane::{Bounds, Contour, FIT, Point, Segment, fit_closed};
use plate::{Held, Intent, Shop, Tabs};
use quantity::Height;
use reach::Rings;

/// Shortest stretch between two tabs in which a cutter can come down, mm.
const SHORTEST_STRETCH: f64 = 1.0;
/// Added to what the cutter crosses over a tab, so that rounding doesn't shorten it, mm.
const TAB_SPARE: f64 = 0.02;

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
        doubts.push(
            NO_CUTTER_LONG_ENOUGH
                .refusal(format!(
                    "`{}` is cut {deepest:.2} mm deep, deeper than the flutes of every flat cutter allowed",
                    grooves[0].name
                ))
                .way_out("allow a cutter with longer flutes or use a thinner blank"),
        );
        return (stages, doubts);
    };
    let rise = traverse(shop, intent).to_mm();
    let mut pen = Pen::new(tool, rise, face);
    for (groove, edge) in in_order(&grooves, tool.radius, intent.outline.is_some()) {
        match along_edge(&mut pen, intent, groove, &edge) {
            Ok(()) => {}
            Err(doubt) => doubts.push(doubt),
        }
    }
    let number = already + 1;
    let only_plate = grooves.len() == 1 && intent.outline.is_some();
    let purpose = if only_plate { "cuts the plate free" } else { "cuts the cut-outs, then the plate, free" };
    stages.push(stage(tool, format!("{number}-outline"), purpose, rise, pen.finish()));
    let mut done: Vec<Rings> = grooves.iter().map(|g| g.free.opening(tool.radius)).collect();
    for finer in tools.iter().filter(|t| t.radius < tool.radius && t.reaches(deepest)) {
        let mut pen = Pen::new(finer, rise, face);
        if corners(&mut pen, intent, &grooves, &mut done, finer, tool.radius) {
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
        });
    }
    grooves
}

/// How far round the plate the free room is drawn, mm; more than any cutter's width.
const ROOM: f64 = 60.0;

fn fitted(rings: &Rings) -> Vec<Contour> {
    rings.points().map(|r| fit_closed(&r, FIT)).collect()
}

/// Cuts along one closed edge.
fn along_edge(pen: &mut Pen<'_>, intent: &Intent, groove: &Groove, edge: &Contour) -> Result<(), Doubt> {
    let blank = &intent.blank;
    let heights = levels(blank, blank.face_high.to_mm(), groove.floor, pen.tool.run.pass_depth.to_mm());
    let tabs = match &groove.held {
        Held::Tabs(tabs) if tabs.count > 0 => Some(tabs),
        _ => None,
    };
    let tab_top = tabs.map_or(f64::NEG_INFINITY, |t| (blank.underside + t.left).to_mm());
    let (full, tabbed): (Vec<f64>, Vec<f64>) = heights.iter().partition(|&&z| z >= tab_top);
    let start = blank.face_high.to_mm();
    full_rounds(pen, groove, edge, start, &full);
    if let (Some(tabs), false) = (tabs, tabbed.is_empty()) {
        let stretches = stretches(pen, groove, edge, tabs)?;
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

/// What lies between two tabs, and the way over the tab after it.
struct Stretch {
    between: Vec<Segment>,
    over: Vec<Segment>,
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
            pen.height(crossing);
            pen.follow(&stretch.over);
        }
        above = z;
    }
}

/// Down a stretch by a ramp, turning at its ends, until `z`; then over all of it, ending at its end.
fn back_and_forth(pen: &mut Pen<'_>, stretch: &[Segment], from: f64, z: f64) {
    let back: Vec<Segment> = stretch.iter().rev().map(Segment::reversed).collect();
    let slope = libm::tan(pen.tool.run.entry_angle) * 0.98;
    let longest = stretch.iter().map(Segment::length).fold(0.0, f64::max);
    let shortest = SHORT.min(longest / 2.0);
    if longest <= 0.0 {
        return;
    }
    let feed = pen.tool.run.entry_feed;
    pen.height(from);
    let mut height = from;
    let mut forward = false;
    while height > z {
        forward = !forward;
        let way = if forward { stretch } else { &back };
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
                for s in way[..i].iter().rev() {
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
    pen.follow_round(stretch, z);
}

/// Places the tabs on an edge and cuts the edge into what lies between them.
fn stretches(pen: &Pen<'_>, groove: &Groove, edge: &Contour, tabs: &Tabs) -> Result<Vec<Stretch>, Doubt> {
    let way = Way::new(edge, pen.tool.radius);
    let (count, length) = (tabs.count as usize, tabs.length.to_mm() + TAB_SPARE);
    let wanted = |i: usize| way.whole * (i as f64 + 0.5) / count as f64;
    let spaced = |spans: &[(f64, f64)]| {
        (0..spans.len()).all(|i| {
            let next = spans[(i + 1) % spans.len()].0 + if i + 1 == spans.len() { way.whole } else { 0.0 };
            next - spans[i].1 >= SHORTEST_STRETCH
        })
    };
    let mut spans: Vec<(f64, f64)> = (0..count).map(|i| way.straight_tab(length, wanted(i))).collect();
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    if !spaced(&spans) {
        // Straight runs are too few: even spacing, wherever that falls.
        spans = (0..count).map(|i| way.tab_about(length, wanted(i))).collect();
    }
    if !spaced(&spans) {
        let at = way.segments.first().map_or(Point::default(), Segment::start);
        let takes = spans.iter().map(|s| s.1 - s.0).fold(0.0, f64::max);
        return Err(TABS_DO_NOT_FIT
            .refusal(format!(
                "`{}` is {:.1} mm round at the cutter's path: no room for {count} tabs that take {takes:.1} mm each",
                groove.name, way.whole
            ))
            .at(Place::Blank { x: at.x, y: at.y, z: None })
            .noting(format!("line {} of the plate file asks for them", groove.line))
            .way_out("ask for fewer or shorter tabs, or hold it by a skin or by tape"));
    }
    let stretch = |i: usize| {
        let before = spans[(i + count - 1) % count].1 - if i == 0 { way.whole } else { 0.0 };
        let (start, end) = spans[i];
        Stretch { between: way.piece(before, start), over: way.piece(start, end) }
    };
    Ok((0..count).map(stretch).collect())
}

/// The cutter's way round an edge.
struct Way {
    segments: Vec<Segment>,
    whole: f64,
    radius: f64,
}

impl Way {
    fn new(edge: &Contour, radius: f64) -> Self {
        let segments: Vec<Segment> = edge.segments().filter(|s| s.length() > 0.0).collect();
        Self { whole: segments.iter().map(Segment::length).sum(), segments, radius }
    }

    /// Edge beside a mm of the way: less where it goes round the outside of a bend, none at all round a sharp corner.
    fn edge_share(&self, segment: &Segment) -> f64 {
        match segment {
            // The wall is to the right: an arc turning right goes round the outside.
            Segment::Arc { radius, sweep, .. } if *sweep < 0.0 => ((radius - self.radius) / radius).max(0.0),
            _ => 1.0,
        }
    }

    /// The span that leaves a tab of this length on a straight run near a place along the way, if there is one; else
    /// about the place itself.
    fn straight_tab(&self, length: f64, wanted: f64) -> (f64, f64) {
        let needs = length + 2.0 * self.radius;
        let mut best: Option<(f64, f64)> = None;
        let mut along = 0.0;
        for s in &self.segments {
            let run = s.length();
            if matches!(s, Segment::Line { .. }) && run > needs + 0.5 {
                let middle = wanted.clamp(along + needs / 2.0 + 0.25, along + run - needs / 2.0 - 0.25);
                if best.is_none_or(|b| (middle - wanted).abs() < (b.0 - wanted).abs() - 1e-9) {
                    best = Some((middle, needs));
                }
            }
            along += run;
        }
        best.map_or_else(
            || self.tab_about(length, wanted),
            |(middle, needs)| (middle - needs / 2.0, middle + needs / 2.0),
        )
    }

    /// The span about a place along the way beside which this length of edge stands, and the cutter's radius at each end.
    fn tab_about(&self, length: f64, middle: f64) -> (f64, f64) {
        let reach = |forward: bool| {
            let (mut left, mut at) = (length / 2.0 + self.radius, middle);
            // Twice round is more than any tab that fits.
            while left > 1e-9 && (at - middle).abs() < 2.0 * self.whole {
                let (segment, from, to) = self.around(at, forward);
                let (room, share) = (if forward { to - at } else { at - from }, self.edge_share(segment));
                let step = if share * room >= left { left / share } else { room };
                left -= share * step;
                at += if forward { step.max(1e-6) } else { -step.max(1e-6) };
            }
            at
        };
        (reach(false), reach(true))
    }

    /// The segment that a step from a length along the way goes over, with the lengths where it begins and ends.
    fn around(&self, at: f64, forward: bool) -> (&Segment, f64, f64) {
        let laps = (at / self.whole).floor();
        let within = at - laps * self.whole;
        let mut along = 0.0;
        for s in &self.segments {
            let end = along + s.length();
            if (forward && within < end - 1e-9) || (!forward && within <= end && within > along + 1e-9) {
                return (s, laps * self.whole + along, laps * self.whole + end);
            }
            along = end;
        }
        // At the seam: the first segment of the next lap, or the last of the one before.
        let (s, lap) =
            if forward { (&self.segments[0], laps + 1.0) } else { (&self.segments[self.segments.len() - 1], laps) };
        let base = lap * self.whole;
        if forward { (s, base, base + s.length()) } else { (s, base - s.length(), base) }
    }

    /// What lies between two lengths along the way.
    fn piece(&self, from: f64, to: f64) -> Vec<Segment> {
        piece(&self.segments, self.whole, from, to)
    }
}

/// The piece of a closed run between two lengths along it; they may lie before its start or beyond its end.
fn piece(segments: &[Segment], whole: f64, from: f64, to: f64) -> Vec<Segment> {
    let mut found = Vec::new();
    let laps = (from / whole).floor();
    let (from, to) = (from - laps * whole, to - laps * whole);
    let mut along = 0.0;
    for s in segments.iter().chain(segments) {
        let length = s.length();
        let (t0, t1) = (((from - along) / length).max(0.0), ((to - along) / length).min(1.0));
        if t1 - t0 > 1e-9 {
            found.push(if t0 == 0.0 && t1 == 1.0 { *s } else { s.piece(t0, t1) });
        }
        along += length;
        if along >= to {
            break;
        }
    }
    found
}

/// Clears the inside corners of the grooves with a finer cutter. Whether there were any.
fn corners(
    pen: &mut Pen<'_>,
    intent: &Intent,
    grooves: &[Groove],
    done: &mut [Rings],
    tool: &Tool<'_>,
    wider: f64,
) -> bool {
    let face = intent.blank.face_high.to_mm();
    let mut any = false;
    for (groove, done) in grooves.iter().zip(done) {
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
        if left.is_empty() || wider <= tool.radius {
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
