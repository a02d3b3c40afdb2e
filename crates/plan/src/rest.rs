//! What a wider cutter left: runs of the finer cutter's rings near it, entered and left where nothing stands.
//!
//! A run begins and ends where the cutter touches nothing that is left, so the cutter comes down beside the material
//! and goes into it sideways along the wall that is already cut: it blends in tangentially.

use crate::Tool;
use crate::clear::{LEADS, Lead, spiral, stays_off};
use crate::pen::{GAP, HOP, Pen};
use crate::pocket::Pocket;
use crate::rings::Inside;
use plane::{Contour, FIT, Point, Segment, SegmentIndex, fit_closed, fit_open};
use reach::{Clipped, Rings};

/// Gap between the cutter and what is left where a run begins, mm.
pub(crate) const SLACK: f64 = 0.06;

/// One run.
#[derive(Debug, Clone)]
pub(crate) struct Run {
    /// In order; not empty.
    pub(crate) segments: Vec<Segment>,
    /// Whether it closes on itself.
    closed: bool,
    /// Whether its ends stand off the wall by a lead, or it is an inner ring: then a rapid may come down there.
    clear_of_wall: bool,
}

/// The runs in a part, grouped by spot, inner rings first.
pub(crate) fn runs(part: &Rings, zone: &Rings, left: &Rings, tool: &Tool<'_>) -> Vec<Vec<Run>> {
    let spots = zone.parts();
    let mut grouped: Vec<Vec<Run>> = vec![Vec::new(); spots.len()];
    let edges: Vec<Contour> = left.points().map(Contour::polygon).collect();
    let material = SegmentIndex::of_contours(&edges);
    let inside = Inside::new(part);
    for (steps, ring_part) in rings_needed(part, left, tool).into_iter().enumerate().rev() {
        for ring in ring_part.points() {
            let tolerance = if steps == 0 { FIT } else { 0.005 };
            match zone.clip(&ring) {
                Clipped::Whole => {
                    let segments: Vec<Segment> = fit_closed(&ring, tolerance).segments().collect();
                    put(&spots, &mut grouped, Run { segments, closed: true, clear_of_wall: false });
                }
                Clipped::Runs(pieces) => {
                    for piece in pieces {
                        let segments: Vec<Segment> =
                            fit_open(&piece, tolerance).segments().filter(|s| s.length() > 0.0).collect();
                        if segments.is_empty() {
                            continue;
                        }
                        let run = Run { segments, closed: false, clear_of_wall: steps > 0 };
                        let run = if steps == 0 { with_leads(run, &inside, &material, left, tool) } else { run };
                        put(&spots, &mut grouped, run);
                    }
                }
            }
        }
    }
    grouped.retain(|g| !g.is_empty());
    grouped
}

/// The parts whose rings are needed, the wall's first. The wall's ring covers what lies within a radius of it; further
/// in, rings a stepover apart cover everything as long as something is left that deep.
fn rings_needed(part: &Rings, left: &Rings, tool: &Tool<'_>) -> Vec<Rings> {
    let mut needed = vec![part.clone()];
    let deep = |depth: f64| {
        let inner = part.inset_within(depth, 0.002);
        let covers = !crate::clear::thick(&inner.and(left)).is_empty();
        (inner, covers)
    };
    if !deep(tool.radius * 0.98).1 {
        return needed;
    }
    for k in 1..10_000 {
        let (inner, covers) = deep(f64::from(k) * tool.stepover);
        if !covers {
            break;
        }
        needed.push(inner);
    }
    needed
}

/// Puts a run to the spot that it lies in.
fn put(spots: &[Rings], grouped: &mut [Vec<Run>], run: Run) {
    let middle = run.segments[run.segments.len() / 2].at(0.5);
    let spot = spots.iter().position(|s| s.contains(middle)).unwrap_or(0);
    if let Some(group) = grouped.get_mut(spot) {
        group.push(run);
    }
}

/// A run along a wall with quarter arcs before and after, where there is room and nothing is left near them.
fn with_leads(run: Run, inside: &Inside, material: &SegmentIndex, left: &Rings, tool: &Tool<'_>) -> Run {
    let nothing_near =
        |p: Point| material.nearest(p).is_none_or(|n| n.distance > tool.radius + 0.25 * SLACK) && !left.contains(p);
    let lead = |at: Point, along: Option<Point>, coming: bool| {
        LEADS.into_iter().find_map(|share| {
            let lead = Lead::at(at, along?, tool.radius * share);
            let (end, arc) = if coming { (lead.from, lead.on) } else { (lead.off.end(), lead.off) };
            (stays_off(&arc, inside, coming) && nothing_near(end)).then_some(arc)
        })
    };
    let (first, last) = (run.segments[0], run.segments[run.segments.len() - 1]);
    let on = lead(first.start(), first.direction(0.0), true);
    let off = lead(last.end(), last.direction(1.0), false);
    let clear_of_wall = on.is_some();
    let segments = on.into_iter().chain(run.segments).chain(off).collect();
    Run { segments, closed: false, clear_of_wall }
}

/// Cuts runs, each from top to bottom before the next.
pub(crate) fn clear(pen: &mut Pen<'_>, runs: &[Run], pocket: &Pocket, heights: &[f64]) {
    for run in runs {
        if run.closed {
            spiral(pen, run.segments.clone(), pocket, heights);
            continue;
        }
        let back: Vec<Segment> = run.segments.iter().rev().map(Segment::reversed).collect();
        let Some(&first) = heights.first() else { continue };
        pen.come_down(run.segments[0].start(), first + GAP, !run.clear_of_wall);
        for (i, &z) in heights.iter().enumerate() {
            pen.pass(format!("{} at {:.3}", pocket.name, z));
            pen.height(z);
            pen.follow(&run.segments);
            if i + 1 < heights.len() {
                pen.height(z + HOP);
                pen.follow(&back);
            }
        }
        pen.lift();
    }
}
