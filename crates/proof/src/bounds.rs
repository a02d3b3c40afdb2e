//! Limits of the room the cutter moves in: the table, the machine's travel, and the holds.

use crate::course::Course;
use crate::finding::{Found, Tally, mm};
use crate::kinds;
use crate::leg::{Leg, Run};
use crate::profile::Profile;
use plane::{Contour, Point};
use plate::{Hold, Intent, Machine};

/// Text is rounded to its decimals: so much lower than the limit is still on it, mm.
const ROUNDING: f64 = 0.001;
/// A hold is hit if something comes nearer than it may by more than this, mm.
const TOUCHES: f64 = 0.002;

/// Heights below what the blank allows.
pub(crate) fn table(course: &Course, stage: usize, intent: &Intent, tally: &mut Tally) {
    let lowest = intent.blank.lowest().to_mm();
    for leg in &course.legs {
        let z = leg.lowest();
        if z < lowest - ROUNDING {
            let p = if leg.z[1] <= leg.z[0] { leg.path.end() } else { leg.path.start() };
            let found = Found::new(&kinds::TABLE_HIT, stage).line(leg.line).at(p.x, p.y, z).amount(lowest - z);
            tally.add(found.saying(
                format!("the tip goes down to {}; the lowest height allowed is {}", mm(z), mm(lowest)),
                "raise the move, or grant the depth into the table in the plate file",
            ));
        }
    }
}

/// Ways longer than the machine's travel, and heights above it.
pub(crate) fn travel(course: &Course, stage: usize, machine: &Machine, tally: &mut Tally) {
    for (axis, name) in ["x", "y", "z"].into_iter().enumerate() {
        let (Some((low, high)), most) = (course.reach[axis], machine.travel[axis].to_mm()) else { continue };
        let needed = if axis == 2 { high.max(high - low) } else { high - low };
        if needed <= most + ROUNDING {
            continue;
        }
        let leg = course.legs.iter().find(|l| match axis {
            0 => l.bounds(0.0).max.x >= high || l.bounds(0.0).min.x <= low,
            1 => l.bounds(0.0).max.y >= high || l.bounds(0.0).min.y <= low,
            _ => l.z[0].max(l.z[1]) >= high,
        });
        let found = Found::new(&kinds::TRAVEL_EXCEEDED, stage).group(name).amount(needed - most);
        let found = if let Some(l) = leg { found.line(l.line) } else { found };
        tally.add(found.saying(
            format!("the moves need {} along {name}, but the machine's travel is {}", mm(needed), mm(most)),
            "check the program's units and zero, or turn the blank",
        ));
    }
}

/// Holds that cutter, shank, nut or body would touch.
pub(crate) fn holds(course: &Course, stage: usize, intent: &Intent, profile: &Profile, tally: &mut Tally) {
    for hold in &intent.holds {
        let top = hold.top.to_mm();
        let bounds = hold.shape.bounds();
        for leg in &course.legs {
            let reach = profile.widest_below(top - leg.lowest());
            if !(reach >= 0.0 && leg.bounds(reach).meets(bounds)) {
                continue;
            }
            let hit = if leg.run == Run::Boxed {
                // Anywhere in the box between the ends.
                let at = Point::new(
                    bounds.centre().x.clamp(leg.bounds(0.0).min.x, leg.bounds(0.0).max.x),
                    bounds.centre().y.clamp(leg.bounds(0.0).min.y, leg.bounds(0.0).max.y),
                );
                Some((at, leg.lowest(), reach))
            } else {
                meets(leg, hold, profile, 0.0, 1.0)
            };
            let Some((at, z, by)) = hit else { continue };
            let part = profile.part_below(top - z);
            let found = Found::new(&kinds::HOLD_HIT, stage).group(hold.name.as_str());
            tally.add(found.line(leg.line).at(at.x, at.y, z).amount(by).saying(
                format!("the {part} hits `{}`, which stands {} above the table", hold.name, mm(top)),
                "move the hold, or rise above it",
            ));
        }
    }
}

/// Where a stretch of a leg first comes too near a hold: place, height of the tip, by how much. Stretches that can't
/// are left at once; the others are halved.
fn meets(leg: &Leg, hold: &Hold, profile: &Profile, t0: f64, t1: f64) -> Option<(Point, f64, f64)> {
    let height = |t: f64| leg.z[0] + (leg.z[1] - leg.z[0]) * t;
    let top = hold.top.to_mm();
    let middle = 0.5 * (t0 + t1);
    let at = leg.path.at(middle);
    let distance = distance_to(&hold.shape, at);
    let half = 0.5 * (t1 - t0) * leg.path.length();
    let lowest = height(t0).min(height(t1));
    if distance - half >= profile.widest_below(top - lowest) - TOUCHES {
        return None;
    }
    let by = profile.widest_below(top - height(middle)) - distance;
    if by > TOUCHES {
        return Some((at, height(middle), by));
    }
    if half < 1e-4 && (t1 - t0) * (leg.z[1] - leg.z[0]).abs() < 1e-4 {
        return None;
    }
    meets(leg, hold, profile, t0, middle).or_else(|| meets(leg, hold, profile, middle, t1))
}

/// Distance from a point to what a contour encloses.
pub(crate) fn distance_to(shape: &Contour, p: Point) -> f64 {
    if shape.contains(p) {
        return 0.0;
    }
    shape.segments().map(|s| s.distance(p)).fold(f64::INFINITY, f64::min)
}
