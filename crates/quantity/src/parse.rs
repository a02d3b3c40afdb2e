//! Reading lengths as makers write them: `6 mm`, `0.118 in`, `1/8 in`, `1 1/2 in`, `15 thou`; and angles: `60 deg`, `22 1/2°`.

use crate::{Angle, LARGEST, Length};
use std::fmt;

/// A unit of length that a file may name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Micrometre.
    Micrometre,
    /// Millimetre.
    Millimetre,
    /// Centimetre.
    Centimetre,
    /// Metre.
    Metre,
    /// International inch, 25.4 mm exactly.
    Inch,
    /// Thousandth of an inch.
    Thou,
}

impl Unit {
    /// mm in one of this unit.
    pub const fn in_mm(self) -> f64 {
        match self {
            Self::Micrometre => 0.001,
            Self::Millimetre => 1.0,
            Self::Centimetre => 10.0,
            Self::Metre => 1000.0,
            Self::Inch => 25.4,
            Self::Thou => 0.0254,
        }
    }

    /// The unit a file means by this word, if it is one.
    pub fn named(word: &str) -> Option<Self> {
        Some(match word.trim().to_ascii_lowercase().as_str() {
            "um" | "µm" | "μm" | "micron" | "microns" => Self::Micrometre,
            "mm" => Self::Millimetre,
            "cm" => Self::Centimetre,
            "m" => Self::Metre,
            "in" | "inch" | "inches" | "\"" => Self::Inch,
            "thou" | "mil" => Self::Thou,
            _ => return None,
        })
    }
}

/// Why a text is not a length.
#[derive(Debug, Clone, PartialEq)]
pub enum LengthError {
    /// Nothing there.
    Empty,
    /// The number part can't be read.
    Number(String),
    /// The unit isn't one of ours.
    Unit(String),
    /// A fraction over zero.
    DividedByZero,
    /// Not finite, or beyond [`LARGEST`].
    OutOfRange,
}

impl fmt::Display for LengthError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => write!(f, "no number here"),
            Self::Number(text) => write!(f, "`{text}` is not a number or a fraction"),
            Self::Unit(text) => write!(f, "`{text}` is not a unit: use mm, cm, m, um, in or thou"),
            Self::DividedByZero => write!(f, "a fraction over zero"),
            Self::OutOfRange => write!(f, "the number is too large to be a length"),
        }
    }
}

impl std::error::Error for LengthError {}

impl Length {
    /// Reads a number, fraction or mixed number with an optional unit; without one, `default` holds.
    ///
    /// # Errors
    /// A [`LengthError`] that says which part can't be read.
    pub fn parse(text: &str, default: Unit) -> Result<Self, LengthError> {
        let text = text.trim();
        let is_number_part = |c: char| c.is_ascii_digit() || ".+-/ eE".contains(c);
        // `e` is part of a number only between digits, so that "1e3 mm" works and "e" alone does not.
        let end = text
            .char_indices()
            .find(|&(i, c)| {
                !is_number_part(c)
                    || ((c == 'e' || c == 'E')
                        && !text[i + 1..].starts_with(|d: char| d.is_ascii_digit() || d == '-' || d == '+'))
            })
            .map_or(text.len(), |(i, _)| i);
        let (number, unit) = (text[..end].trim(), text[end..].trim());
        if number.is_empty() {
            return Err(if unit.is_empty() { LengthError::Empty } else { LengthError::Number(unit.into()) });
        }
        let unit = match unit {
            "" => default,
            word => Unit::named(word).ok_or_else(|| LengthError::Unit(word.into()))?,
        };
        // Rounded to 1e-9 mm so that 1/8 in is 3.175, not its neighbour.
        let value = (mixed_number(number)? * unit.in_mm() * 1e9).round() / 1e9;
        if !value.is_finite() || value.abs() > LARGEST {
            return Err(LengthError::OutOfRange);
        }
        Ok(Self::mm(value))
    }
}

/// Why a text is not an angle.
#[derive(Debug, Clone, PartialEq)]
pub enum AngleError {
    /// The number part can't be read, or there is none.
    Number(LengthError),
    /// The unit isn't one of ours.
    Unit(String),
}

impl fmt::Display for AngleError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(LengthError::OutOfRange) => write!(f, "the number is too large to be an angle"),
            Self::Number(why) => write!(f, "{why}"),
            Self::Unit(text) => write!(f, "`{text}` is not a unit of angles: use deg, ° or rad"),
        }
    }
}

impl std::error::Error for AngleError {}

impl Angle {
    /// Reads a number, fraction or mixed number with an optional unit (`deg`, `°`, `rad`); without one it is degrees.
    ///
    /// # Errors
    /// An [`AngleError`] that says which part can't be read.
    pub fn parse(text: &str) -> Result<Self, AngleError> {
        let text = text.trim();
        let end = text.find(|c: char| c.is_alphabetic() || c == '°').unwrap_or(text.len());
        let (number, unit) = (text[..end].trim(), text[end..].trim());
        let radians = match unit.to_ascii_lowercase().as_str() {
            "" | "deg" | "degree" | "degrees" | "°" => 1f64.to_radians(),
            "rad" => 1.0,
            _ => return Err(AngleError::Unit(unit.into())),
        };
        if number.is_empty() {
            return Err(AngleError::Number(LengthError::Empty));
        }
        let value = mixed_number(number).map_err(AngleError::Number)? * radians;
        Self::try_rad(value).ok_or(AngleError::Number(LengthError::OutOfRange))
    }
}

/// `3`, `-0.5`, `1/8` or `1 1/2`.
fn mixed_number(text: &str) -> Result<f64, LengthError> {
    let decimal = |part: &str| part.parse::<f64>().map_err(|_| LengthError::Number(text.into()));
    let fraction = |part: &str| match part.split_once('/') {
        None => decimal(part),
        Some((above, below)) => {
            let below = decimal(below.trim())?;
            if below == 0.0 {
                return Err(LengthError::DividedByZero);
            }
            Ok(decimal(above.trim())? / below)
        }
    };
    let joined = text.split('/').map(str::trim).collect::<Vec<_>>().join("/");
    let mut parts = joined.split_whitespace();
    match (parts.next(), parts.next(), parts.next()) {
        (Some(one), None, _) => fraction(one),
        (Some(whole), Some(part), None) if part.contains('/') && !whole.contains('/') => {
            let whole = decimal(whole)?;
            Ok(whole + fraction(part)?.copysign(whole))
        }
        _ => Err(LengthError::Number(text.into())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(text: &str) -> Result<f64, LengthError> {
        Length::parse(text, Unit::Millimetre).map(Length::to_mm)
    }

    /// 1 in = 25.4 mm exactly (international yard and pound agreement, 1959; from memory).
    #[test]
    fn lengths_as_makers_write_them() {
        assert_eq!(mm("6 mm"), Ok(6.0));
        assert_eq!(mm("6"), Ok(6.0));
        assert_eq!(mm("1/8 in"), Ok(3.175));
        assert_eq!(mm("1 / 8 in"), Ok(3.175));
        assert_eq!(mm("1/16in"), Ok(1.5875));
        assert_eq!(mm("1 1/2 in"), Ok(38.1));
        assert!((mm("0.118 in").unwrap() - 2.9972).abs() < 1e-12);
        assert!((mm("15 thou").unwrap() - 0.381).abs() < 1e-12);
        assert_eq!(mm("1e1 mm"), Ok(10.0));
        assert_eq!(mm("-2 cm"), Ok(-20.0));
        assert_eq!(Length::parse("1/4", Unit::Inch), Ok(Length::mm(6.35)));
    }

    #[test]
    fn angles_as_makers_write_them() {
        let deg = |text: &str| Angle::parse(text).map(|a| (a.to_deg() * 1e9).round() / 1e9);
        assert_eq!(deg("60 deg"), Ok(60.0));
        assert_eq!(deg("60°"), Ok(60.0));
        assert_eq!(deg(" 22 1/2 degrees "), Ok(22.5));
        assert_eq!(deg("90"), Ok(90.0));
        assert_eq!(Angle::parse("1.5 rad"), Ok(Angle::rad(1.5)));
        assert_eq!(deg("60 mm"), Err(AngleError::Unit("mm".into())));
        assert_eq!(deg("deg"), Err(AngleError::Number(LengthError::Empty)));
        assert_eq!(deg(""), Err(AngleError::Number(LengthError::Empty)));
        assert!(deg("NaN").is_err() && deg("1/0 deg").is_err() && deg("1e300").is_err());
    }

    #[test]
    fn what_is_not_a_length_says_why() {
        assert_eq!(mm(""), Err(LengthError::Empty));
        assert_eq!(mm("mm"), Err(LengthError::Number("mm".into())));
        assert_eq!(mm("3 furlongs"), Err(LengthError::Unit("furlongs".into())));
        assert_eq!(mm("1/0 in"), Err(LengthError::DividedByZero));
        assert_eq!(mm("1e308"), Err(LengthError::OutOfRange));
        assert!(mm("NaN").is_err() && mm("1/2/3").is_err() && mm("1 2 3").is_err());
    }
}
