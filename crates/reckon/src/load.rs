//! Load: speed, feed, chip, force, deflection and the depth a cutter may take in one pass.
//!
//! Formulas are handbook ones (from memory where no source is named). What a material takes is in
//! [`material`](crate::material); how a cutter is run in it is put together in [`cutting`], with its working in
//! [`chains`]. Rules of the trade without a source are named constants, and a maker's own number on the cutter overrides
//! them.

mod run;
#[cfg(test)]
mod tests;

pub use run::{Cutting, Own, RESULTS, chains, cutting, greatest_chip_allowed, rubbing_chip, settable};

use crate::material::stock_of;
use plate::{Cutter, Form, Machine, Material};
use quantity::{Feed, Length, Speed};
use std::f64::consts::PI;

/// Steepest entry into material, degrees (common practice: about 3 to 5).
pub const ENTRY_DEGREES: f64 = 3.0;
/// Share of the feed used on entries, where the cutter cuts with its end as well (common practice, no source).
pub const ENTRY_FEED: f64 = 0.7;
/// Sideways bend allowed at the tip, as a share of the diameter (common practice, no source).
pub const BEND: f64 = 0.01;
/// Share of the feed straight down in air (common practice, no source).
pub const DOWN_FEED: f64 = 0.3;
/// Young's modulus of cemented carbide, N/mm²: 550 (second-hand) to 650 GPa (from memory).
pub const CARBIDE: f64 = 600_000.0;
/// Bending stress allowed in carbide, N/mm²: a third of about 2,000 (from memory).
pub const CARBIDE_STRESS: f64 = 670.0;

/// Energy to turn a material into chips, J/mm³, which is the same number as 1000 N/mm² of chip section; its source is in
/// [`material`](crate::material).
pub fn specific_energy(material: Material) -> f64 {
    stock_of(material).energy.value
}

/// Spindle speed for a cutting speed in m/min and a diameter: n = 1000 v / (pi D) (handbook formula).
pub fn speed_for(cutting_speed: f64, diameter: Length) -> Speed {
    Speed::rev_per_min(1000.0 * cutting_speed / (PI * diameter.to_mm()))
}

/// Feed for a speed, flutes and a chip per flute: vf = n z fz (handbook formula).
pub fn feed_for(speed: Speed, flutes: u32, chip: Length) -> Feed {
    Feed::mm_per_min(speed.to_rev_per_min() * f64::from(flutes) * chip.to_mm())
}

/// Chip per flute at a feed: fz = vf / (n z), mm; infinite where the spindle stands still.
pub fn chip_at(feed: f64, speed: f64, flutes: u32) -> f64 {
    feed / (speed * f64::from(flutes.max(1)))
}

/// Engagement angle of a straight cut of radial width `ae`: acos(1 - 2 ae / D), radians.
pub fn engagement(ae: f64, diameter: f64) -> f64 {
    libm::acos((1.0 - 2.0 * ae / diameter).clamp(-1.0, 1.0))
}

/// Greatest chip at an engagement angle, as a share of the chip per flute: sin(theta) up to a quarter turn, else 1.
pub fn greatest_chip(engagement: f64) -> f64 {
    if engagement < PI / 2.0 { libm::sin(engagement) } else { 1.0 }
}

/// Mean chip over an engagement angle, as a share of the chip per flute: (1 - cos theta) / theta.
pub fn mean_chip(engagement: f64) -> f64 {
    if engagement <= 0.0 { 0.0 } else { (1.0 - libm::cos(engagement)) / engagement }
}

/// Engagement where a cutter of radius `r` on a path of radius `p` widens a round hole of radius `hole`:
/// acos((hole² - p² - r²) / (2 p r)), radians.
pub fn engagement_in_hole(hole: f64, p: f64, r: f64) -> f64 {
    libm::acos(((hole * hole - p * p - r * r) / (2.0 * p * r)).clamp(-1.0, 1.0))
}

/// Engagement where a cutter of radius `r` on a path of radius `p` goes round a boss of radius `boss`:
/// acos((p² + r² - boss²) / (2 p r)), radians.
pub fn engagement_round_boss(boss: f64, p: f64, r: f64) -> f64 {
    libm::acos(((p * p + r * r - boss * boss) / (2.0 * p * r)).clamp(-1.0, 1.0))
}

/// Engagement in a sharp inside corner of angle `corner` with parallel passes: theta + pi - corner, at most pi.
pub fn engagement_in_corner(engagement: f64, corner: f64) -> f64 {
    (engagement + PI - corner).min(PI)
}

/// Second moment of area of a round section, mm⁴: pi d⁴ / 64.
pub fn second_moment(diameter: f64) -> f64 {
    PI * diameter.powi(4) / 64.0
}

/// Bend of a cantilever under a load at its tip, mm: F L³ / (3 E I). N, mm, N/mm².
pub fn cantilever(force: f64, length: f64, modulus: f64, diameter: f64) -> f64 {
    force * length.powi(3) / (3.0 * modulus * second_moment(diameter))
}

/// Bend at the tip of a cutter, mm, under a side force at the tip, N: flute core below, shank above (stepped
/// cantilever: F / 3E [Lf³ / Ic + (L³ - Lf³) / Is]).
pub fn bend(cutter: &Cutter, force: f64) -> f64 {
    force * give(cutter)
}

/// The same for each N, mm.
pub fn give(cutter: &Cutter) -> f64 {
    let out = cutter.stick_out.to_mm();
    let flutes = cutter.flute_length.to_mm().min(out);
    let (core, shank) = (second_moment(cutter.core.to_mm()), second_moment(cutter.shank.to_mm()));
    (flutes.powi(3) / core + (out.powi(3) - flutes.powi(3)) / shank) / (3.0 * CARBIDE)
}

/// Why [`together`] is what it is.
const TOGETHER: &str = "up to four flutes never push harder together than one at its thickest chip; derived";

/// Peak side force of all flutes together in a slot, as a share of one flute's at its thickest chip: max(1, z / 4).
///
/// Flutes at angles a behind each other push along their own ways with sin a each; of two, three and four the sum is never
/// more than 1, and of many it is their mean, z / (2 pi) times the integral of sin² over half a turn, z / 4 (derived; for
/// five and more within a tenth).
pub fn together(flutes: u32) -> f64 {
    (f64::from(flutes) / 4.0).max(1.0)
}

/// Power to cut at a removal rate in mm³/min, W: P = Q u.
pub fn power(rate: f64, specific_energy: f64) -> f64 {
    specific_energy * rate / 60.0
}

/// Why a pass may not be deeper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limit {
    /// The flutes end there.
    Flutes,
    /// The tip would bend too far.
    Bend,
    /// The core would break.
    Stress,
    /// The shank would break at the collet.
    Shank,
    /// The spindle has no more power.
    Power,
    /// The machine's frame would give way.
    Frame,
    /// The rule of thumb on depth and diameter.
    Rule,
    /// The maker's own number.
    Maker,
}

impl Limit {
    /// What limits, in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Flutes => "the length of its flutes",
            Self::Bend => "the bend of its tip",
            Self::Stress => "the strength of its core",
            Self::Shank => "the strength of its shank",
            Self::Power => "the spindle's power",
            Self::Frame => "the side force that the frame bears",
            Self::Rule => "the rule of thumb on depth and diameter",
            Self::Maker => "the maker's own number",
        }
    }
}

/// The width by which a cutter's chip and removal are reckoned, mm: its cutting width, of a vee the mean of its cone's two ends.
/// A vee's groove is a triangle (with a flat at its foot), so it takes off as much as a slot of its mean width; and its point, which
/// cuts too, is far weaker than its full width would have it, while the mean is what stands in the middle of the
/// cut. The spindle's speed goes by the full width all the same, since heat comes from the fastest part.
pub fn mean_width(cutter: &Cutter) -> f64 {
    let full = cutter.cutting_width.to_mm();
    match cutter.form {
        Form::Vee { tip, .. } => 0.5 * (full + tip.to_mm().min(full)),
        _ => full,
    }
}

/// Peak side force, N, of one flute taking its thickest chip at a depth, mm.
pub fn side_force(material: Material, chip: f64, depth: f64) -> f64 {
    specific_energy(material) * 1000.0 * chip * depth
}

/// The lower of the machine's two feed limits along a direction with this share of rise, mm/min.
pub fn machine_feed(machine: &Machine, level: f64, rise: f64) -> f64 {
    let along = machine.greatest_feed.to_mm_per_min() / level.abs().max(1e-12);
    let up = machine.greatest_feed_z.to_mm_per_min() / rise.abs().max(1e-12);
    along.min(up)
}

#[cfg(test)]
mod facts {
    use super::*;

    fn near(value: f64, expected: f64, tolerance: f64) {
        assert!((value - expected).abs() <= tolerance, "{value} is not {expected}");
    }

    /// n = 1000 v / (pi D), v 200 m/min: D 3.175 gives 20051.0, D 6 gives 10610.3 (handbook formula; derived).
    #[test]
    fn spindle_speeds() {
        near(speed_for(200.0, Length::mm(3.175)).to_rev_per_min(), 20051.0, 0.06);
        near(speed_for(200.0, Length::mm(6.0)).to_rev_per_min(), 10610.3, 0.06);
    }

    /// vf = n z fz: 18000 x 1 x 0.08 = 1440 mm/min (handbook formula; derived).
    #[test]
    fn feeds() {
        let feed = feed_for(Speed::rev_per_min(18000.0), 1, Length::mm(0.08));
        near(feed.to_mm_per_min(), 1440.0, 1e-9);
        near(chip_at(1440.0, 18000.0, 1), 0.08, 1e-12);
    }

    /// theta = acos(1 - 2 ae/D) at ae/D 0.1: 36.8699°; 0.25: 60°; 0.5: 90°. Greatest chip 0.6, 0.8660; mean 0.31080, slot 0.63662 (derived).
    #[test]
    fn engagement_and_chip() {
        near(engagement(0.1, 1.0).to_degrees(), 36.8699, 1e-4);
        near(engagement(0.25, 1.0).to_degrees(), 60.0, 1e-9);
        near(engagement(0.5, 1.0).to_degrees(), 90.0, 1e-9);
        near(greatest_chip(engagement(0.1, 1.0)), 0.6, 1e-4);
        near(greatest_chip(engagement(0.25, 1.0)), 0.8660, 1e-4);
        near(mean_chip(engagement(0.1, 1.0)), 0.31080, 1e-5);
        near(mean_chip(PI) * 1e5, 63_662.0, 1.0);
    }

    /// r 1.5875, p 3, hole 4.0875: 57.0013°; a straight wall at the same ae 46.7613°; outside a boss 34.3649°; a sharp 90°
    /// corner at ae/D 0.25: 150° (derived).
    #[test]
    fn engagement_in_holes_and_corners() {
        near(engagement_in_hole(4.0875, 3.0, 1.5875).to_degrees(), 57.0013, 1e-4);
        near(engagement(3.0 + 1.5875 - 4.0875, 3.175).to_degrees(), 46.7613, 1e-4);
        near(engagement_round_boss(3.0 - 1.5875 + 0.5, 3.0, 1.5875).to_degrees(), 34.3649, 1e-4);
        near(engagement_in_corner(engagement(0.25, 1.0), PI / 2.0).to_degrees(), 150.0, 1e-9);
    }

    /// F L³/(3 E I), I = pi d⁴/64, d 3.175: I 4.98821 mm⁴; 10 N, L 15, E 600 GPa: 3.7589 µm; L 20: 8.9099 µm (textbook; derived).
    #[test]
    fn cantilevers() {
        near(second_moment(3.175), 4.98821, 1e-5);
        near(cantilever(10.0, 15.0, CARBIDE, 3.175), 0.003_758_9, 1e-7);
        near(cantilever(10.0, 20.0, CARBIDE, 3.175), 0.008_909_9, 1e-7);
    }

    /// P = Q u: 6858 mm³/min at 0.1 J/mm³: 11.43 W (derived).
    #[test]
    fn cutting_power() {
        near(power(6858.0, 0.1), 11.43, 1e-9);
    }

    /// A vee 6.35 mm wide with a point is reckoned as 3.175 mm wide, one with a flat of 0.35 as 3.35: chips of 0.15 mm and
    /// 0.15827 at the most (derived). Full width it stays for flat ends.
    #[test]
    fn a_vee_is_as_wide_as_its_mean() {
        let cutter = |form: Form| Cutter {
            number: 1,
            name: String::new(),
            form,
            diameter: Length::mm(6.35),
            cutting_width: Length::mm(6.35),
            width_measured: true,
            flutes: 1,
            flute_length: Length::mm(10.0),
            core: Length::mm(3.0),
            shank: Length::mm(6.35),
            stick_out: Length::mm(20.0),
            may_drill: false,
            stepover: 0.4,
            chip_load: None,
            feed: None,
            pass_depth: None,
            plunge: None,
            entry_angle: None,
            speed: None,
        };
        let vee = |tip: f64| cutter(Form::Vee { angle: quantity::Angle::deg(60.0), tip: Length::mm(tip) });
        near(mean_width(&vee(0.0)), 3.175, 1e-12);
        near(mean_width(&vee(0.35)), 3.35, 1e-12);
        near(greatest_chip_allowed(&vee(0.0), Material::CastAcrylic), 0.15, 1e-12);
        near(greatest_chip_allowed(&vee(0.35), Material::CastAcrylic), 0.158_267_7, 1e-6);
        near(greatest_chip_allowed(&cutter(Form::Flat), Material::CastAcrylic), 0.3, 1e-12);
    }
}
