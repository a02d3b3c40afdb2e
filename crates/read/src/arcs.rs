//! Arcs in a plane from their words: centre, radius at the start, signed sweep (NISTIR 6556 §3.5.3).

use std::f64::consts::TAU;

/// Start and end radius may differ by this with G21, mm (NISTIR 6556 §3.5.3).
pub(crate) const RULE_MM: f64 = 0.002;
/// The same with G20: 0.0002 in.
pub(crate) const RULE_INCH: f64 = 0.000_2 * 25.4;
/// Slack for the last bits of sums, mm.
const BITS: f64 = 1e-9;
/// Circles smaller than this, mm, have no direction that digits could carry.
const NO_RADIUS: f64 = 1e-6;
/// Ends nearer to each other than this along the arc, mm, and yet not the same, lie within rounding.
const SAME: f64 = 1e-6;

/// A turn about a centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Turn {
    pub(crate) centre: [f64; 2],
    pub(crate) radius: f64,
    /// Counter-clockwise positive, rad.
    pub(crate) sweep: f64,
}

/// Why there is no turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum NoTurn {
    RadiusZero,
    RadiiDiffer { start: f64, end: f64 },
    EndsCoincide,
    RadiusSmall { least: f64 },
    TurnOpen,
}

/// By the centre, given from the start.
pub(crate) fn by_centre(
    start: [f64; 2],
    end: [f64; 2],
    offset: [f64; 2],
    clockwise: bool,
    rule: f64,
) -> Result<Turn, NoTurn> {
    let centre = [start[0] + offset[0], start[1] + offset[1]];
    let radius = libm::hypot(offset[0], offset[1]);
    let far = libm::hypot(end[0] - centre[0], end[1] - centre[1]);
    if radius < NO_RADIUS {
        return Err(NoTurn::RadiusZero);
    }
    if (radius - far).abs() > rule + BITS {
        return Err(NoTurn::RadiiDiffer { start: radius, end: far });
    }
    let full = if clockwise { -TAU } else { TAU };
    if start == end {
        return Ok(Turn { centre, radius, sweep: full });
    }
    let (a, b) = ([-offset[0], -offset[1]], [end[0] - centre[0], end[1] - centre[1]]);
    let between = libm::atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1]);
    if between.abs() * radius < SAME {
        return Err(NoTurn::TurnOpen);
    }
    let sweep = match (clockwise, between > 0.0) {
        (false, true) | (true, false) => between,
        _ => between + full,
    };
    Ok(Turn { centre, radius, sweep })
}

/// By the radius; a negative one takes the way of more than half a turn.
pub(crate) fn by_radius(
    start: [f64; 2],
    end: [f64; 2],
    radius: f64,
    clockwise: bool,
    rule: f64,
) -> Result<Turn, NoTurn> {
    if radius.abs() < NO_RADIUS {
        return Err(NoTurn::RadiusZero);
    }
    let chord = [end[0] - start[0], end[1] - start[1]];
    let length = libm::hypot(chord[0], chord[1]);
    if length < SAME {
        return Err(NoTurn::EndsCoincide);
    }
    let half = length / 2.0;
    let size = radius.abs();
    if half > size + rule + BITS {
        return Err(NoTurn::RadiusSmall { least: half });
    }
    // Within the rule the chord is the diameter.
    let size = size.max(half);
    let height = (size * size - half * half).max(0.0).sqrt();
    // To the left of the chord for the short way counter-clockwise, and the long way clockwise.
    let left = if clockwise == (radius < 0.0) { height } else { -height };
    let normal = [-chord[1] / length, chord[0] / length];
    let centre = [start[0] + chord[0] / 2.0 + normal[0] * left, start[1] + chord[1] / 2.0 + normal[1] * left];
    let short = 2.0 * libm::atan2(half, height);
    let turn = if radius > 0.0 { short } else { TAU - short };
    Ok(Turn { centre, radius: size, sweep: if clockwise { -turn } else { turn } })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64, within: f64) -> bool {
        (a - b).abs() <= within
    }

    /// NISTIR 6556 §3.5.3.2: from (7,7), `G2 x10 y16 i3 j4` has its centre at (10,11) and radius 5 (seen).
    #[test]
    fn centre_form() {
        let turn = by_centre([7.0, 7.0], [10.0, 16.0], [3.0, 4.0], true, RULE_MM).unwrap();
        assert_eq!((turn.centre, turn.radius), ([10.0, 11.0], 5.0));
        // From 233.13° clockwise to 90°: derived.
        assert!(near(turn.sweep.to_degrees(), -143.130_102, 1e-6), "{}", turn.sweep.to_degrees());
    }

    /// From (3,1), `g2 x0 r7.01`: centre (1.5, 7.8476), sweep 24.7114° (NISTIR 6556 §3.5.3.1's example, derived).
    #[test]
    fn radius_form() {
        let turn = by_radius([3.0, 1.0], [0.0, 1.0], 7.01, true, RULE_MM).unwrap();
        assert!(near(turn.centre[0], 1.5, 1e-12) && near(turn.centre[1], 7.8476, 5e-5), "{turn:?}");
        assert!(near(turn.sweep.to_degrees(), -24.7114, 5e-5), "{turn:?}");
        // The other three ways between the same ends.
        let long = by_radius([3.0, 1.0], [0.0, 1.0], -7.01, true, RULE_MM).unwrap();
        assert!(near(long.centre[1], 2.0 - 7.8476, 5e-5) && near(long.sweep.to_degrees(), 24.7114 - 360.0, 5e-5));
        let left = by_radius([3.0, 1.0], [0.0, 1.0], 7.01, false, RULE_MM).unwrap();
        assert!(near(left.centre[1], 2.0 - 7.8476, 5e-5) && near(left.sweep.to_degrees(), 24.7114, 5e-5));
        let left = by_radius([3.0, 1.0], [0.0, 1.0], -7.01, false, RULE_MM).unwrap();
        assert!(near(left.centre[1], 7.8476, 5e-5) && near(left.sweep.to_degrees(), 360.0 - 24.7114, 5e-5));
    }

    /// NISTIR 6556 §3.5.3: 0.002 mm or 0.0002 in; a full circle in the centre form, an error in the radius form
    /// (seen).
    #[test]
    fn rules() {
        let ends = |x: f64, rule: f64| by_centre([1.0, 0.0], [0.0, x], [-1.0, 0.0], false, rule);
        assert!(ends(1.002, RULE_MM).is_ok() && ends(0.998, RULE_MM).is_ok());
        assert!(matches!(ends(1.0021, RULE_MM), Err(NoTurn::RadiiDiffer { .. })));
        assert!(ends(1.0021, RULE_INCH).is_ok());
        let full = by_centre([1.0, 0.0], [1.0, 0.0], [-1.0, 0.0], true, RULE_MM).unwrap();
        assert_eq!(full.sweep, -TAU);
        assert_eq!(by_radius([1.0, 0.0], [1.0, 0.0], 1.0, true, RULE_MM), Err(NoTurn::EndsCoincide));
        assert_eq!(by_centre([1.0, 0.0], [2.0, 0.0], [0.0, 0.0], true, RULE_MM), Err(NoTurn::RadiusZero));
        assert_eq!(by_centre([1.0, 0.0], [1.001, 0.0], [-1.0, 0.0], true, RULE_MM), Err(NoTurn::TurnOpen));
        assert!(by_radius([0.0, 0.0], [4.003, 0.0], 2.0, true, RULE_MM).is_ok());
        assert_eq!(by_radius([0.0, 0.0], [4.01, 0.0], 2.0, true, RULE_MM), Err(NoTurn::RadiusSmall { least: 2.005 }));
    }
}
