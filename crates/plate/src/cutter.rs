//! Cutters and their shape.

use quantity::{Angle, Feed, Length, Speed};
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
    /// Distance between neighbouring paths as a share of the cutting width.
    pub stepover: f64,
    /// The maker's own chip load, mm per flute, instead of the starter value.
    pub chip_load: Option<Length>,
    /// The maker's own feed instead of the one reckoned.
    pub feed: Option<Feed>,
    /// The maker's own greatest depth per pass instead of the one reckoned.
    pub pass_depth: Option<Length>,
    /// The maker's own feed straight down instead of the ones reckoned.
    pub plunge: Option<Feed>,
    /// The maker's own steepest entry instead of the usual one.
    pub entry_angle: Option<Angle>,
    /// The maker's own spindle speed instead of the one reckoned.
    pub speed: Option<Speed>,
}

impl Cutter {
    /// Half the cutting width, mm: the radius that cuts.
    pub fn radius(&self) -> f64 {
        self.cutting_width.to_mm() / 2.0
    }
}
