//! Plain sentences about heights, for the setup sheet and the terminal.

use crate::showing::{how_likely, would_show};
use plate::{Area, Blank, EdgeProfile, FloorKind, Held, Outline};
use quantity::{Height, Length, trimmed};
use std::ops::Range;

/// What an area is, in one sentence: its floor, by how much it holds, and how its walls stand if they lean. Walls that start
/// at the face move with it: a blank that lies higher or lower makes the opening wider or narrower.
pub fn sentence(area: &Area, blank: &Blank) -> String {
    let floor = floor_sentence(area, blank);
    let lean = match area.edge {
        EdgeProfile::Upright => return floor,
        EdgeProfile::Sloped(angle) => libm::tan(angle.to_rad()),
        EdgeProfile::FollowsWidth(angle) => libm::tan(angle.to_rad() / 2.0),
    };
    let spread = (blank.face_high - blank.face).to_mm().max((blank.face - blank.face_low).to_mm());
    let wider = Length::mm(2.0 * lean * spread);
    let by = if wider.to_mm() < 0.005 {
        String::new()
    } else {
        format!("; on the thickest or thinnest blank strokes in the face are {} wider or narrower", mm(wider))
    };
    format!("{floor}{}{by}", walls(area.edge))
}

/// Where in its [`sentence`] an area's floor stands as the maker chose it: a sheet, a depth or a height, as bytes. `None` for
/// a floor that goes through.
pub fn floor_said(area: &Area, blank: &Blank) -> Option<Range<usize>> {
    let (lead, said) = match area.kind {
        FloorKind::Shows(layer) => (" shows ", blank.layers.get(layer)?.sheet.name.clone()),
        FloorKind::BelowFace(depth) => (" ends ", mm(depth)),
        FloorKind::AboveTable => (" ends ", mm(area.floor - Height::ZERO)),
        FloorKind::Through => return None,
    };
    let start = area.name.len() + lead.len();
    Some(start..start + said.len())
}

/// How walls stand, as an appendix; nothing if upright.
pub(crate) fn walls(edge: EdgeProfile) -> String {
    match edge {
        EdgeProfile::Upright => String::new(),
        EdgeProfile::Sloped(angle) => {
            format!("; its walls lean {}° from upright", trimmed(angle.to_deg(), 2))
        }
        EdgeProfile::FollowsWidth(angle) => {
            format!(", and no deeper: its depth follows the width as a {}° vee cuts", trimmed(angle.to_deg(), 2))
        }
    }
}

fn floor_sentence(area: &Area, blank: &Blank) -> String {
    let (name, floor) = (&area.name, mm(area.floor - Height::ZERO));
    match area.kind {
        FloorKind::Shows(layer) => {
            let sheet = blank.layers.get(layer).map_or("a layer", |l| l.sheet.name.as_str());
            let start = format!("{name} shows {sheet} at {floor}");
            let Some(reveal) = area.reveal else { return start };
            let worst = reveal.above_worst.min(reveal.below_worst);
            let missing = reveal.miss.filter(|m| m.either() >= 1e-6).map(|m| would_show(&m, blank, layer));
            let missing = missing.map(|m| m.replace('`', ""));
            if worst >= Length::ZERO {
                let sure = match missing {
                    Some(missing) => {
                        format!("the worst blank allowed still shows it, though as readings scatter {missing}")
                    }
                    None => "even the worst blank allowed still shows it".into(),
                };
                return format!(
                    "{start}, {} to spare above and {} below: {sure}",
                    mm(reveal.above_worst),
                    mm(reveal.below_worst)
                );
            }
            let chance = how_likely(&reveal);
            let missing = missing.map_or_else(String::new, |m| format!("; {m}"));
            format!("{start}, but that is only {chance}: in the worst case it misses by {}{missing}", mm(-worst))
        }
        FloorKind::BelowFace(depth) => {
            let spread = blank.face_high - blank.face;
            format!("{name} ends {} below the face, at {floor} (the face is certain to {})", mm(depth), mm(spread))
        }
        FloorKind::AboveTable => format!("{name} ends {floor} above the table"),
        FloorKind::Through => format!("{name} {}, {}", through(area.floor, blank), held(&area.held)),
    }
}

/// How the plate is cut out, in one sentence.
pub fn through_sentence(outline: &Outline, blank: &Blank) -> String {
    format!("the plate's edge, {}, {}, {}", outline.name, through(outline.floor, blank), held(&outline.held))
}

fn through(floor: Height, blank: &Blank) -> String {
    let below = blank.underside - floor;
    if below > Length::ZERO {
        format!("goes through, {} below the underside", mm(below))
    } else {
        format!("ends {} above the underside and leaves a skin of that thickness", mm(-below))
    }
}

fn held(held: &Held) -> String {
    match held {
        Held::Tabs(tabs) => {
            format!("held by {} tabs {} long and {} high", tabs.count, mm(tabs.length), mm(tabs.left))
        }
        Held::Skin(_) => "which holds it".into(),
        Held::Stated(by) => format!("held by {by}"),
        Held::Cleared => "cleared to chips entirely".into(),
        Held::Nothing => "held by nothing".into(),
    }
}

fn mm(length: Length) -> String {
    format!("{} mm", trimmed(length.to_mm(), 2))
}
