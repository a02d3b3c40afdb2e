//! Cutters and their shape.

use quantity::{Angle, Feed, Length};
use serde::Serialize;

/// The form of the end of a cutter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Form {
    /// Flat end, sharp corners.
    Flat,
    /// Ball end of the cutting width.
    Ball,
    /// Vee.
    Vee {
        /// Included angle, as sold (60° means 30° each side).
        angle: Angle,
        /// Diameter of the flat at the tip; zero for a point.
        tip: Length,
    },
    /// Flat end with rounded corners.
    BullNose {
        /// Radius of the corners.
        corner: Length,
    },
    /// Cone that ends in a ball which it touches smoothly.
    Taper {
        /// Included angle of the cone.
        angle: Angle,
        /// Diameter of the ball at the tip.
        tip: Length,
    },
}

/// A cutter of the shop.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cutter {
    /// The number that the T word names.
    pub number: u32,
    /// What the maker calls it.
    pub name: String,
    /// Form of its end.
    pub form: Form,
    /// Diameter as sold.
    pub diameter: Length,
    /// Width of a slot it really cuts (diameter with run-out, by test cut); the diameter if not measured.
    pub cutting_width: Length,
    /// Whether the cutting width was measured by a test cut.
    pub width_measured: bool,
    /// Number of flutes.
    pub flutes: u32,
    /// Length of the flutes from the tip.
    pub flute_length: Length,
    /// Diameter of the core left between the flutes, for stiffness.
    pub core: Length,
    /// Diameter of the shank above the flutes.
    pub shank: Length,
    /// How far the tip stands out of the collet.
    pub stick_out: Length,
    /// Whether it may go straight down into material.
    pub may_drill: bool,
    /// The maker's own chip load, mm per flute, instead of the starter value.
    pub chip_load: Option<Length>,
    /// The maker's own feed instead of the one reckoned.
    pub feed: Option<Feed>,
    /// The maker's own greatest depth per pass instead of the one reckoned.
    pub pass_depth: Option<Length>,
}

impl Cutter {
    /// Half the cutting width, mm: the radius that cuts.
    pub fn radius(&self) -> f64 {
        self.cutting_width.to_mm() / 2.0
    }

    /// Radius that cuts at a height above the tip, mm, up to the end of the flutes (above them the shank
    /// rules). Zero below the tip.
    ///
    /// Ball: sqrt(2 r h - h²); vee: tip/2 + h tan(angle/2), at most the cutter's radius; bull nose of corner c: r - c +
    /// sqrt(2 c h - h²); taper with a ball of radius b and half angle a: the ball up to b (1 - sin a), from there on
    /// b cos a + (h - b (1 - sin a)) tan a.
    pub fn radius_at(&self, rise: f64) -> f64 {
        let r = self.radius();
        if rise < 0.0 {
            return 0.0;
        }
        match self.form {
            Form::Flat => r,
            Form::Ball if rise >= r => r,
            Form::Ball => libm::sqrt(rise * (2.0 * r - rise)),
            Form::Vee { angle, tip } => r.min(tip.to_mm() / 2.0 + rise * libm::tan(angle.to_rad() / 2.0)),
            Form::BullNose { corner } if rise >= corner.to_mm() => r,
            Form::BullNose { corner } => r - corner.to_mm() + libm::sqrt(rise * (2.0 * corner.to_mm() - rise)),
            Form::Taper { angle, tip } => {
                let (half, ball) = (angle.to_rad() / 2.0, tip.to_mm() / 2.0);
                let joint = ball * (1.0 - libm::sin(half));
                if rise <= joint {
                    libm::sqrt(rise * (2.0 * ball - rise))
                } else {
                    r.min(ball * libm::cos(half) + (rise - joint) * libm::tan(half))
                }
            }
        }
    }

    /// Height of the cutting surface above the tip at a distance from the axis, mm; `None` beyond the radius.
    /// The inverse of [`Self::radius_at`].
    pub fn rise_at(&self, distance: f64) -> Option<f64> {
        let r = self.radius();
        if distance > r {
            return None;
        }
        Some(match self.form {
            Form::Flat => 0.0,
            Form::Ball => r - libm::sqrt(r * r - distance * distance),
            Form::Vee { angle, tip } => (distance - tip.to_mm() / 2.0).max(0.0) / libm::tan(angle.to_rad() / 2.0),
            Form::BullNose { corner } => {
                let c = corner.to_mm();
                let out = (distance - (r - c)).max(0.0);
                c - libm::sqrt((c * c - out * out).max(0.0))
            }
            Form::Taper { angle, tip } => {
                let (half, ball) = (angle.to_rad() / 2.0, tip.to_mm() / 2.0);
                let joint = ball * libm::cos(half);
                if distance <= joint {
                    ball - libm::sqrt(ball * ball - distance * distance)
                } else {
                    ball * (1.0 - libm::sin(half)) + (distance - joint) / libm::tan(half)
                }
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cutter(form: Form, width: f64) -> Cutter {
        Cutter {
            number: 1,
            name: String::new(),
            form,
            diameter: Length::mm(width),
            cutting_width: Length::mm(width),
            width_measured: false,
            flutes: 1,
            flute_length: Length::mm(10.0),
            core: Length::mm(width * 0.6),
            shank: Length::mm(3.175),
            stick_out: Length::mm(15.0),
            may_drill: false,
            chip_load: None,
            feed: None,
            pass_depth: None,
        }
    }

    /// Ball scallop R - sqrt(R² - s²/4): R 1.5, s 0.3 leaves 0.0075188 (derived).
    #[test]
    fn ball_scallop() {
        let ball = cutter(Form::Ball, 3.0);
        let rise = ball.rise_at(0.15).unwrap();
        assert!((rise - 0.007_518_8).abs() < 1e-7);
        assert!((ball.radius_at(rise) - 0.15).abs() < 1e-12);
        assert_eq!(ball.radius_at(2.0), 1.5);
    }

    #[test]
    fn vee_and_flat() {
        let vee = cutter(Form::Vee { angle: Angle::deg(90.0), tip: Length::mm(0.2) }, 6.0);
        assert!((vee.radius_at(1.0) - 1.1).abs() < 1e-12 && (vee.rise_at(1.1).unwrap() - 1.0).abs() < 1e-12);
        assert_eq!(cutter(Form::Flat, 3.0).rise_at(1.5), Some(0.0));
        assert_eq!(cutter(Form::Flat, 3.0).rise_at(1.6), None);
    }
}
