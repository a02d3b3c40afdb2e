//! A cutter as a turned shape: cutting edge, shank, nut and body, by height above the tip. Bare mm.

use memo::Key;
use plate::{Cutter, Form, Spindle};

/// The edge that cuts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Edge {
    /// Flat end.
    Flat,
    /// Ball end of the cutter's radius.
    Ball,
    /// Vee: radius of the flat at the tip, and rise for each mm of radius.
    Vee { tip: f64, rise: f64 },
    /// Flat end with corners of this radius.
    Bull { corner: f64 },
    /// Ball of this radius that goes over into a cone at a radius and a height.
    Taper { ball: f64, joint: f64, from: f64, rise: f64 },
}

/// The turned shape of a cutter in its collet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Profile {
    pub(crate) edge: Edge,
    /// Half the cutting width.
    pub(crate) radius: f64,
    /// Length of the flutes.
    pub(crate) flutes: f64,
    pub(crate) shank_radius: f64,
    /// Height of the nut's lower end above the tip.
    pub(crate) stick_out: f64,
    pub(crate) nut_radius: f64,
    /// Height of the body's lower end above the tip.
    pub(crate) body_from: f64,
    pub(crate) body_radius: f64,
}

impl Profile {
    pub(crate) fn new(cutter: &Cutter, spindle: &Spindle) -> Self {
        let edge = match cutter.form {
            Form::Flat => Edge::Flat,
            Form::Ball => Edge::Ball,
            Form::Vee { angle, tip } => {
                let half = libm::tan(angle.to_rad() / 2.0).max(1e-9);
                Edge::Vee { tip: (tip.to_mm() / 2.0).min(cutter.radius()), rise: 1.0 / half }
            }
            Form::BullNose { corner } => Edge::Bull { corner: corner.to_mm().min(cutter.radius()) },
            Form::Taper { angle, tip } => {
                let (half, ball) = (angle.to_rad() / 2.0, (tip.to_mm() / 2.0).min(cutter.radius()));
                Edge::Taper {
                    ball,
                    joint: ball * libm::cos(half),
                    from: ball * (1.0 - libm::sin(half)),
                    rise: 1.0 / libm::tan(half).max(1e-9),
                }
            }
        };
        let stick_out = cutter.stick_out.to_mm();
        Self {
            edge,
            radius: cutter.radius(),
            flutes: cutter.flute_length.to_mm(),
            shank_radius: cutter.shank.to_mm() / 2.0,
            stick_out,
            nut_radius: spindle.nut_diameter.to_mm() / 2.0,
            body_from: stick_out + spindle.nut_length.to_mm(),
            body_radius: spindle.body_diameter.to_mm() / 2.0,
        }
    }

    /// With all of it.
    pub(crate) fn put(&self, key: Key) -> Key {
        let edge = match self.edge {
            Edge::Flat => vec![0.0],
            Edge::Ball => vec![1.0],
            Edge::Vee { tip, rise } => vec![2.0, tip, rise],
            Edge::Bull { corner } => vec![3.0, corner],
            Edge::Taper { ball, joint, from, rise } => vec![4.0, ball, joint, from, rise],
        };
        let Self { edge: _, radius, flutes, shank_radius, stick_out, nut_radius, body_from, body_radius } = *self;
        key.with(&edge).with(&[radius, flutes, shank_radius, stick_out, nut_radius, body_from, body_radius])
    }

    pub(crate) fn is_flat(&self) -> bool {
        self.edge == Edge::Flat
    }

    /// Height of the edge above the tip at a distance from the axis, not beyond the radius.
    pub(crate) fn rise(&self, distance: f64) -> f64 {
        match self.edge {
            Edge::Flat => 0.0,
            Edge::Ball => self.radius - (self.radius * self.radius - distance * distance).max(0.0).sqrt(),
            Edge::Vee { tip, rise } => (distance - tip).max(0.0) * rise,
            Edge::Bull { corner } => {
                let out = (distance - (self.radius - corner)).max(0.0);
                corner - (corner * corner - out * out).max(0.0).sqrt()
            }
            Edge::Taper { ball, joint, from, rise } => {
                if distance <= joint {
                    ball - (ball * ball - distance * distance).max(0.0).sqrt()
                } else {
                    from + (distance - joint) * rise
                }
            }
        }
    }

    /// Radius of the edge at a rise above the tip; negative infinity below the tip.
    pub(crate) fn radius_at(&self, rise: f64) -> f64 {
        if rise < 0.0 {
            return f64::NEG_INFINITY;
        }
        match self.edge {
            Edge::Flat => self.radius,
            Edge::Ball if rise >= self.radius => self.radius,
            Edge::Ball => (rise * (2.0 * self.radius - rise)).max(0.0).sqrt(),
            Edge::Vee { tip, rise: slope } => self.radius.min(tip + rise / slope),
            Edge::Bull { corner } if rise >= corner => self.radius,
            Edge::Bull { corner } => self.radius - corner + (rise * (2.0 * corner - rise)).max(0.0).sqrt(),
            Edge::Taper { ball, from, .. } if rise <= from => (rise * (2.0 * ball - rise)).max(0.0).sqrt(),
            Edge::Taper { joint, from, rise: slope, .. } => self.radius.min(joint + (rise - from) / slope),
        }
    }

    /// The greatest radius of anything that turns, at heights up to `rise` above the tip; negative infinity below
    /// the tip.
    pub(crate) fn widest_below(&self, rise: f64) -> f64 {
        let mut widest = self.radius_at(rise);
        if rise > self.flutes {
            widest = widest.max(self.shank_radius);
        }
        if rise > self.stick_out {
            widest = widest.max(self.nut_radius);
        }
        if rise > self.body_from {
            widest = widest.max(self.body_radius);
        }
        widest
    }

    /// Which part is the widest at heights up to `rise` above the tip.
    pub(crate) fn part_below(&self, rise: f64) -> &'static str {
        let widest = self.widest_below(rise);
        if rise > self.body_from && widest == self.body_radius {
            "spindle's body"
        } else if rise > self.stick_out && widest == self.nut_radius {
            "collet nut"
        } else if rise > self.flutes && widest == self.shank_radius && widest > self.radius_at(rise) {
            "shank"
        } else {
            "cutter"
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn profile(edge: Edge, radius: f64) -> Profile {
        Profile {
            edge,
            radius,
            flutes: 10.0,
            shank_radius: 1.5875,
            stick_out: 15.0,
            nut_radius: 8.0,
            body_from: 30.0,
            body_radius: 30.0,
        }
    }

    /// Ball scallop R - sqrt(R² - s²/4): R 1.5, s 0.3 leaves 0.0075188 (derived).
    #[test]
    fn ball_scallop() {
        let ball = profile(Edge::Ball, 1.5);
        let rise = ball.rise(0.15);
        assert!((rise - 0.007_518_8).abs() < 1e-7);
        assert!((ball.radius_at(rise) - 0.15).abs() < 1e-12);
        assert_eq!(ball.radius_at(2.0), 1.5);
    }

    #[test]
    fn vee_and_flat() {
        let vee = profile(Edge::Vee { tip: 0.1, rise: 1.0 }, 3.0);
        assert!((vee.radius_at(1.0) - 1.1).abs() < 1e-12 && (vee.rise(1.1) - 1.0).abs() < 1e-12);
        assert_eq!(profile(Edge::Flat, 1.5).rise(1.5), 0.0);
    }

    /// A bull nose with corners of its whole radius is a ball; a taper meets its ball without a step or a bend, and rise and
    /// radius are each other's inverse.
    #[test]
    fn bull_nose_and_taper() {
        let (bull, ball) = (profile(Edge::Bull { corner: 1.5 }, 1.5), profile(Edge::Ball, 1.5));
        let half: f64 = 0.2;
        let (sine, cosine) = (libm::sin(half), libm::cos(half));
        let edge = Edge::Taper { ball: 0.5, joint: 0.5 * cosine, from: 0.5 * (1.0 - sine), rise: cosine / sine };
        let taper = profile(edge, 1.5);
        let round = profile(Edge::Bull { corner: 0.4 }, 1.5);
        assert_eq!(round.rise(1.1), 0.0);
        // Where the edge stands upright, rounding counts by its root.
        assert!((round.rise(1.5) - 0.4).abs() < 1e-7);
        for k in 1..30 {
            let d = f64::from(k) * 0.05;
            assert!((bull.rise(d) - ball.rise(d)).abs() < 1e-12);
            assert!((taper.radius_at(taper.rise(d)) - d).abs() < 1e-9, "{d}");
        }
        let slope = |d: f64| (taper.rise(d + 1e-6) - taper.rise(d)) / 1e-6;
        let joint = 0.5 * cosine;
        assert!((slope(joint - 2e-6) - slope(joint + 1e-6)).abs() < 1e-3 * slope(joint));
    }
}
