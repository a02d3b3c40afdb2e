//! Programs whose zero is the blank's face instead of the table.
//!
//! The model stays on the table, on the nominal blank, and the programs are raised to its face. Against the face their
//! heights are then certain, and against the table they are not: the blank's spread changes sides.

use crate::finding::mm;
use crate::kinds;
use crate::verdict::Verdict;
use doubt::Doubt;
use plate::{FloorKind, Held, Intent, TouchOff};
use quantity::Length;
use serde::Serialize;

/// Where Z0 of programs lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Zero {
    /// On the table: all heights are above it.
    #[default]
    Table,
    /// On the blank's face: heights of cuts are negative.
    Face,
}

/// A blank that spreads less than this, mm, is as good as exact for cuts through it.
const EXACT: f64 = 0.01;

/// The intent as programs see it that are zeroed at the face, and by how much they are to be raised, mm.
///
/// Relative to such programs the face is where it is; layers spread by what lies above them; the table may be nearer by
/// what the blank may be thinner than it should, and so may holds.
pub fn at_face(intent: &Intent, touch_off: &TouchOff) -> (Intent, f64) {
    let mut seen = intent.clone();
    let blank = &mut seen.blank;
    let thinner = (blank.face - blank.face_low).max(Length::ZERO);
    let mut spread = touch_off.feeler_error + touch_off.repeatability;
    for layer in &mut blank.layers {
        layer.top_spread = spread;
        spread = spread + layer.spread;
        layer.bottom_spread = spread;
    }
    (blank.face_low, blank.face_high) = (blank.face, blank.face);
    blank.into_table = blank.into_table - thinner;
    for hold in &mut seen.holds {
        hold.top = hold.top + thinner;
    }
    let raised = seen.blank.face.to_mm();
    (seen, raised)
}

/// What the change of zero leaves open for a plate: cuts through it, its tabs and its skin end at the table.
pub fn face_doubt(intent: &Intent) -> Option<Doubt> {
    let through = intent.areas.iter().any(|a| a.kind == FloorKind::Through);
    let kept = intent.outline.as_ref().is_some_and(|o| o.held != Held::Nothing);
    let (low, high) = (intent.blank.face_low.to_mm(), intent.blank.face_high.to_mm());
    if !(through || kept || intent.outline.is_some()) || high - low <= EXACT {
        return None;
    }
    let message = format!(
        "the programs are zeroed at the face, but what goes through the blank ends at the table, and the blank is {} to {} thick",
        mm(low - intent.blank.underside.to_mm()),
        mm(high - intent.blank.underside.to_mm())
    );
    Some(kinds::FACE_ZERO_THROUGH.caution(message).way_out("measure the sheets, or zero these programs at the table"))
}

/// The verdict that findings come to, for a caller that adds its own to a proof's.
pub fn verdict_of(findings: &[Doubt]) -> Verdict {
    crate::stages::verdict(findings)
}

#[cfg(test)]
mod tests {
    use super::*;
    use plane::Contour;
    use plate::{Blank, Hold, Layer, Material, Process, Sheet};
    use quantity::Height;

    fn layer(name: &str, top: f64, top_spread: f64, bottom: f64, bottom_spread: f64) -> Layer {
        let sheet = Sheet {
            name: name.into(),
            thickness: Length::mm(3.0),
            material: Material::CastAcrylic,
            process: Process::Cast,
            colour: [0; 3],
            passes_light: 0.0,
        };
        Layer {
            sheet,
            thickness: Length::mm(3.0),
            spread: Length::mm(0.7),
            measured: false,
            top: Height::mm(top),
            top_spread: Length::mm(top_spread),
            bottom: Height::mm(bottom),
            bottom_spread: Length::mm(bottom_spread),
        }
    }

    /// Two sheets of 3 ± 0.7 mm (ISO 7823-1) on a table, touch-off within 0.03 mm in all: from the table the upper face is
    /// within 1.43, from the face it is within 0.03 and the underside within 1.43
    /// (derived).
    #[test]
    fn the_spread_changes_sides() {
        let blank = Blank {
            size: [Length::mm(100.0), Length::mm(50.0)],
            layers: vec![layer("upper", 6.0, 1.43, 3.0, 0.73), layer("lower", 3.0, 0.73, 0.0, 0.03)],
            bond: Length::ZERO,
            under: Vec::new(),
            into_table: Length::ZERO,
            underside: Height::ZERO,
            face: Height::mm(6.0),
            face_low: Height::mm(4.6),
            face_high: Height::mm(7.4),
        };
        let hold = Hold { name: "screw".into(), shape: Contour::default(), top: Height::mm(9.0) };
        let intent = Intent {
            title: String::new(),
            blank,
            areas: Vec::new(),
            outline: None,
            holds: vec![hold],
            cutters: Vec::new(),
        };
        let touch_off =
            TouchOff { feeler: Length::mm(0.1), feeler_error: Length::mm(0.01), repeatability: Length::mm(0.02) };
        let (seen, raised) = at_face(&intent, &touch_off);
        let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} isn't {b}");
        near(raised, 6.0);
        near(seen.blank.face_high.to_mm(), 6.0);
        // The blank may be 1.4 thinner, so that a height of 1.4 in the model is the table.
        near(seen.blank.lowest().to_mm(), 1.4);
        near(seen.holds[0].top.to_mm(), 10.4);
        for (layer, [top, bottom]) in seen.blank.layers.iter().zip([[0.03, 0.73], [0.73, 1.43]]) {
            near(layer.top_spread.to_mm(), top);
            near(layer.bottom_spread.to_mm(), bottom);
        }
        assert!(face_doubt(&intent).is_none(), "nothing goes through it");
    }
}
