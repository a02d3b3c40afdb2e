//! Lengths, heights, angles, feeds and speeds as types, finite only.
//!
//! A number from outside enters through `try_*` or [`Length::parse`], once, and is
//! finite and in range from then on. This crate knows no geometry and no trade.

mod parse;

pub use parse::{AngleError, LengthError, Unit};

use serde::Serialize;
use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// The largest magnitude taken for any quantity: beyond it a number is a mistake, and sums of
/// such numbers stay finite.
pub const LARGEST: f64 = 1e9;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $make:ident, $try_make:ident, $to:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// Zero.
            pub const ZERO: Self = Self(0.0);

            #[doc = concat!("From a number in ", $unit, " already known to be finite.")]
            ///
            /// # Panics
            /// If the number is not finite: callers check numbers from outside with the `try_` form.
            pub fn $make(value: f64) -> Self {
                assert!(value.is_finite(), concat!("a quantity in ", $unit, " must be finite"));
                Self(value)
            }

            #[doc = concat!("From any number in ", $unit, "; `None` if not finite or beyond [`LARGEST`].")]
            pub fn $try_make(value: f64) -> Option<Self> {
                (value.is_finite() && value.abs() <= LARGEST).then_some(Self(value))
            }

            #[doc = concat!("The number in ", $unit, ".")]
            pub const fn $to(self) -> f64 {
                self.0
            }

            /// The lesser of two.
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// The greater of two.
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }
        }
    };
}

quantity!(
    /// A length or distance, mm.
    Length, mm, try_mm, to_mm, "mm"
);
quantity!(
    /// A height above the table (the surface touched off), mm. Depths do not exist here.
    Height, mm, try_mm, to_mm, "mm"
);
quantity!(
    /// An angle, radians.
    Angle, rad, try_rad, to_rad, "rad"
);
quantity!(
    /// A feed, mm/min.
    Feed, mm_per_min, try_mm_per_min, to_mm_per_min, "mm/min"
);
quantity!(
    /// A spindle speed, rev/min.
    Speed, rev_per_min, try_rev_per_min, to_rev_per_min, "rev/min"
);

impl Length {
    /// From inches (1 in = 25.4 mm exactly, the international inch).
    pub fn inch(value: f64) -> Self {
        Self::mm(value * 25.4)
    }
}

impl Angle {
    /// From degrees.
    pub fn deg(value: f64) -> Self {
        Self::rad(value.to_radians())
    }

    /// The angle in degrees.
    pub fn to_deg(self) -> f64 {
        self.to_rad().to_degrees()
    }
}

impl Add for Length {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}
impl Sub for Length {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}
impl Neg for Length {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}
impl Mul<f64> for Length {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self(self.0 * factor)
    }
}
impl Div<f64> for Length {
    type Output = Self;
    fn div(self, divisor: f64) -> Self {
        Self(self.0 / divisor)
    }
}
impl Mul<f64> for Feed {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self(self.0 * factor)
    }
}
impl Add<Length> for Height {
    type Output = Self;
    fn add(self, rise: Length) -> Self {
        Self(self.0 + rise.0)
    }
}
impl Sub<Length> for Height {
    type Output = Self;
    fn sub(self, drop: Length) -> Self {
        Self(self.0 - drop.0)
    }
}
impl Sub for Height {
    type Output = Length;
    fn sub(self, other: Self) -> Length {
        Length(self.0 - other.0)
    }
}

impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} mm", trimmed(self.0, 3))
    }
}
impl fmt::Display for Height {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} mm", trimmed(self.0, 3))
    }
}
impl fmt::Display for Feed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.0} mm/min", self.0)
    }
}
impl fmt::Display for Speed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.0} rev/min", self.0)
    }
}

/// A number with at most `decimals` decimals, trailing zeros dropped, never "-0".
pub fn trimmed(value: f64, decimals: usize) -> String {
    let mut text = format!("{value:.decimals$}");
    if text.contains('.') {
        text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    }
    if text == "-0" {
        text.remove(0);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outside_numbers_are_checked() {
        assert!(Length::try_mm(f64::NAN).is_none());
        assert!(Length::try_mm(1e308).is_none());
        assert_eq!(Length::try_mm(3.0), Some(Length::mm(3.0)));
    }

    #[test]
    fn numbers_print_short() {
        assert_eq!(trimmed(2.5000, 3), "2.5");
        assert_eq!(trimmed(-0.0001, 3), "0");
        assert_eq!(trimmed(100.0, 0), "100");
        assert_eq!(Length::inch(0.125).to_string(), "3.175 mm");
    }
}
