//! Conventional cutting: climbing, seen in a mirror. The plate is mirrored, planned to be climbed, and the moves are
//! mirrored back, so that whatever ran with the material on its right runs with it on its left.

use crate::{Plan, frame};
use doubt::Place;
use motion::{At, Move, Stage};
use plane::{Affine, Point, Region};
use plate::{Area, Intent, Outline, Shop};

/// The mirror stands upright in the middle of the blank.
fn map(intent: &Intent) -> Affine {
    Affine::scale(-1.0, 1.0).then(Affine::shift(Point::new(intent.blank.size[0].to_mm(), 0.0)))
}

/// A plate in the mirror, as far as the planner looks at it.
pub(crate) fn seen(intent: &Intent) -> Intent {
    let map = map(intent);
    // A mirror turns arcs into arcs.
    let region = |r: &Region| r.mapped(map).unwrap_or_default();
    let areas = intent.areas.iter().map(|a| Area { region: region(&a.region), ..a.clone() }).collect();
    let outline = intent.outline.as_ref().map(|o| Outline { inside: region(&o.inside), ..o.clone() });
    Intent { areas, outline, ..intent.clone() }
}

/// A plan of what was seen, mirrored back.
pub(crate) fn back(shop: &Shop, intent: &Intent, plan: Plan) -> Plan {
    let map = map(intent);
    let at = |at: At| At::new(map.apply(at.p), at.z);
    let back = |step: Move| match step {
        Move::Rapid(to) => Move::Rapid(at(to)),
        Move::Line { to, feed } => Move::Line { to: at(to), feed },
        Move::Arc { to, centre, ccw, feed } => Move::Arc { to: at(to), centre: map.apply(centre), ccw: !ccw, feed },
        Move::Pass(words) => Move::Pass(words),
    };
    let stages: Vec<Stage> = plan
        .stages
        .into_iter()
        .map(|stage| Stage { moves: stage.moves.into_iter().map(back).collect(), ..stage })
        .collect();
    let mut doubts = plan.doubts;
    for place in doubts.iter_mut().flat_map(|d| &mut d.places) {
        if let Place::Blank { x, y, .. } = place {
            let p = map.apply(Point::new(*x, *y));
            (*x, *y) = (p.x, p.y);
        }
    }
    let frame = frame::run(shop, intent, &stages);
    Plan { stages, frame, doubts, ..plan }
}
