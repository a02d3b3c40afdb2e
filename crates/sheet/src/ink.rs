//! Colours: ground, inks and sheet colours, and sRGB by IEC 61966-2-1.
//!
//! Light is mixed on linear values and stored as sRGB bytes. Tables are filled with `libm`, so that the same
//! input gives the same bytes on every platform.

/// An sRGB colour.
pub(crate) type Rgb = [u8; 3];

/// The warm off-white that everything lies on.
pub(crate) const GROUND: Rgb = [250, 247, 240];
/// White paper, for what is printed.
pub(crate) const PAPER: Rgb = [255, 255, 255];
/// Near-black ink.
pub(crate) const INK: Rgb = [28, 25, 22];
/// Ink for what is said in passing; 7 : 1 on the ground.
pub(crate) const QUIET: Rgb = [84, 79, 72];
/// Hairlines: about 12 % ink on the ground.
pub(crate) const HAIR: Rgb = [222, 219, 212];
/// Hairlines that must carry a drawing, such as dimension lines.
pub(crate) const THIN: Rgb = [112, 107, 99];

/// Screw heads and clamps: grey, since the plate alone is in colour.
pub(crate) const HEADS: Rgb = [206, 203, 197];

/// sRGB byte to linear light, 0 to 1 (IEC 61966-2-1).
pub(crate) fn decode(byte: u8) -> f64 {
    let s = f64::from(byte) / 255.0;
    if s <= 0.040_45 { s / 12.92 } else { libm::pow((s + 0.055) / 1.055, 2.4) }
}

/// Linear light, clamped to 0 to 1, to the sRGB signal, 0 to 1 (IEC 61966-2-1).
pub(crate) fn encode(linear: f64) -> f64 {
    let l = linear.clamp(0.0, 1.0);
    if l <= 0.003_130_8 { 12.92 * l } else { 1.055 * libm::pow(l, 1.0 / 2.4) - 0.055 }
}

/// A colour as linear light.
pub(crate) fn linear(colour: Rgb) -> [f32; 3] {
    colour.map(|c| decode(c) as f32)
}

/// `share` of `a` and the rest of `b`, mixed as light.
pub(crate) fn mixed(a: Rgb, b: Rgb, share: f64) -> Rgb {
    std::array::from_fn(|i| {
        let l = decode(a[i]) * share + decode(b[i]) * (1.0 - share);
        (encode(l) * 255.0 + 0.5) as u8
    })
}

/// Linear light to sRGB bytes by table: within half a byte step of [`encode`].
pub(crate) struct Encoder {
    table: Vec<u8>,
}

impl Encoder {
    const STEPS: usize = 1 << 14;

    /// Fills the table.
    pub(crate) fn new() -> Self {
        let table = (0..=Self::STEPS).map(|i| (encode(i as f64 / Self::STEPS as f64) * 255.0 + 0.5) as u8).collect();
        Self { table }
    }

    /// The byte of a linear value; anything that is no number is black.
    pub(crate) fn byte(&self, linear: f32) -> u8 {
        let at = (linear.clamp(0.0, 1.0) * Self::STEPS as f32 + 0.5) as usize;
        self.table.get(at).copied().unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Luminance Y of a colour, 0 to 1.
    fn luminance(colour: Rgb) -> f64 {
        let [r, g, b] = colour.map(decode);
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    /// Contrast ratio of two colours, 1 to 21 (WCAG 2.2).
    fn contrast(a: Rgb, b: Rgb) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// IEC 61966-2-1: decode(128) 0.215861, encode(0.18) 0.461356, Y(128, 64, 32) 0.083603 (the
    /// standard's constants, derived).
    #[test]
    fn srgb_by_the_standard() {
        assert!((decode(128) - 0.215_861).abs() < 5e-7);
        assert!((encode(0.18) - 0.461_356).abs() < 5e-7);
        assert!((luminance([128, 64, 32]) - 0.083_603).abs() < 5e-7);
    }

    #[test]
    fn bytes_survive_the_table() {
        let encoder = Encoder::new();
        for byte in 0..=255u8 {
            assert_eq!(encoder.byte(decode(byte) as f32), byte);
        }
        assert_eq!(encoder.byte(f32::NAN), 0);
    }

    /// WCAG 2.2, 1.4.3 and 1.4.6: 4.5 : 1 for text, 7 : 1 enhanced; 1.4.11: 3 : 1 for graphical objects.
    #[test]
    fn inks_can_be_read() {
        assert!((contrast([0, 0, 0], [255, 255, 255]) - 21.0).abs() < 1e-9);
        for ground in [GROUND, PAPER] {
            assert!(contrast(INK, ground) > 14.0);
            assert!(contrast(QUIET, ground) > 7.0, "{}", contrast(QUIET, ground));
            assert!(contrast(THIN, ground) > 4.5, "{}", contrast(THIN, ground));
        }
    }
}
