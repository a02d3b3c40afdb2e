//! Round holes as wide as a cutter: drilled straight down by one that may, in pecks.

use crate::Tool;
use crate::pen::{GAP, Pen};
use crate::pocket::Pocket;
use plane::{Point, Shape};
use reach::Rings;

/// A hole is as wide as a cutter if it differs by no more than a wall may be off, mm.
pub const SNUG: f64 = 0.010;
/// A hole's edge may be out of round by this, mm: what flattening and fitting leave.
const OUT_OF_ROUND: f64 = 0.002;
/// Depth of a peck as a share of the diameter (common practice, no source: drills in plastics are lifted after half a diameter
/// to one, and a router cutter's chip has less room).
const PECK: f64 = 0.5;
/// Gap to the bottom of the last peck at which the cutter goes on with the feed of the cut, mm.
const ABOVE: f64 = 0.2;

/// Middle and diameter of a hole, mm; `None` if it isn't round.
pub fn round_hole(hole: &Shape) -> Option<(Point, f64)> {
    if !hole.holes.is_empty() || hole.outer.vertices.is_empty() {
        return None;
    }
    let bounds = hole.outer.bounds();
    let (middle, radius) = (bounds.centre(), bounds.width() / 2.0);
    let points = hole.outer.flatten(OUT_OF_ROUND / 4.0);
    let round = |p: &Point| (p.distance(middle) - radius).abs() <= OUT_OF_ROUND;
    // A few points on a circle may be a square's.
    let full = std::f64::consts::PI * radius * radius;
    (points.iter().all(round) && (hole.area() - full).abs() <= OUT_OF_ROUND * full.max(1.0))
        .then_some((middle, 2.0 * radius))
}

/// Whether a hole is as wide as a cut of this width, mm.
pub fn is_snug(hole: &Shape, width: f64) -> bool {
    round_hole(hole).is_some_and(|(_, diameter)| (diameter - width).abs() <= SNUG + 1e-9)
}

/// Middle of a region that is one round hole as wide as a tool's cut.
pub(crate) fn snug(region: &Rings, tool: &Tool<'_>) -> Option<Point> {
    let region = region.region();
    let [hole] = &region.shapes[..] else { return None };
    if is_snug(hole, 2.0 * tool.radius) { round_hole(hole).map(|r| r.0) } else { None }
}

/// Straight down to the floor in pecks, lifted clear after each so that the chip breaks and comes out.
pub(crate) fn drill(pen: &mut Pen<'_>, at: Point, pocket: &Pocket) {
    let (top, floor) = (pocket.top, pocket.bottom);
    let pecks = ((top - floor) / (2.0 * PECK * pen.tool.radius) - 1e-9).ceil().clamp(1.0, 10_000.0) as usize;
    pen.pass(format!("{} drilled to {floor:.3}", pocket.name));
    pen.come_down(at, top + GAP, true);
    let mut bottom = top;
    for k in 1..=pecks {
        if k > 1 {
            pen.height(bottom + ABOVE);
        }
        bottom = if k == pecks { floor } else { top + (floor - top) * k as f64 / pecks as f64 };
        pen.drill_to(bottom);
        pen.out_to(top + GAP);
    }
    pen.lift();
}
