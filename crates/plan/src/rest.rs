//! What a wider cutter left: runs of the finer cutter's rings near it, entered and left where nothing stands.
//!
//! A run begins and ends where the cutter touches nothing that is left, so the cutter comes down beside the material
//! and goes into it sideways along the wall that is already cut: it blends in tangentially.

use crate::Tool;
use crate::clear::{LEADS, Lead, stays_off};
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
    pub(crate) closed: bool,
    /// Whether its ends stand off the wall by a lead, or it is an inner ring: then a rapid may come down there.
    pub(crate) clear_of_wall: bool,
}

/// The runs along a part's walls, grouped by spot.
pub(crate) fn runs(part: &Rings, zone: &Rings, left: &Rings, tool: &Tool<'_>) -> Vec<(Rings, Vec<Run>)> {
    let spots = zone.parts();
    let mut grouped: Vec<Vec<Run>> = vec![Vec::new(); spots.len()];
    let edges: Vec<Contour> = left.points().map(Contour::polygon).collect();
    let material = SegmentIndex::of_contours(&edges);
    let inside = Inside::new(part);
    for ring in part.points() {
        match zone.clip(&ring) {
            Clipped::Whole => {
                let segments: Vec<Segment> = fit_closed(&ring, FIT).segments().collect();
                put(&spots, &mut grouped, Run { segments, closed: true, clear_of_wall: false });
            }
            Clipped::Runs(pieces) => {
                for piece in pieces {
                    let segments: Vec<Segment> =
                        fit_open(&piece, FIT).segments().filter(|s| s.length() > 0.0).collect();
                    if !segments.is_empty() {
                        let run = Run { segments, closed: false, clear_of_wall: false };
                        put(&spots, &mut grouped, with_leads(run, &inside, &material, left, tool));
                    }
                }
            }
        }
    }
    spots.into_iter().zip(grouped).filter(|(_, g)| !g.is_empty()).collect()
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
