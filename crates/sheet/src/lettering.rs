//! Type: one text face in three cuts, shaped once, used by pictures and pages alike.
//!
//! The face is Gentium Book Basic (SIL Open Font License 1.1, `fonts/OFL.txt`); its figures are tabular and
//! lining by default. Characters it lacks are drawn as its own empty box, never dropped.

use rustybuzz::{Face, UnicodeBuffer, ttf_parser::GlyphId};

/// A cut of the face.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Cut {
    /// Text.
    Regular,
    /// Names and asides.
    Italic,
    /// Numbers and heads.
    Bold,
}

/// The font file of a cut.
pub(crate) fn file(cut: Cut) -> &'static [u8] {
    match cut {
        Cut::Regular => include_bytes!("../fonts/GenBkBasR.ttf"),
        Cut::Italic => include_bytes!("../fonts/GenBkBasI.ttf"),
        Cut::Bold => include_bytes!("../fonts/GenBkBasB.ttf"),
    }
}

/// One glyph of a shaped run, in ems.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Glyph {
    /// Index in the font.
    pub(crate) id: u16,
    /// How far the pen moves, em.
    pub(crate) advance: f32,
    /// Shift of the glyph from the pen, em, y up.
    pub(crate) shift: [f32; 2],
    /// Byte of the text where its cluster begins.
    pub(crate) from: usize,
    /// Byte after its cluster.
    pub(crate) to: usize,
}

/// Faces ready to shape.
pub(crate) struct Lettering {
    faces: [Option<Face<'static>>; 3],
}

impl Lettering {
    /// Reads the bundled fonts.
    pub(crate) fn new() -> Self {
        Self { faces: [Cut::Regular, Cut::Italic, Cut::Bold].map(|cut| Face::from_slice(file(cut), 0)) }
    }

    fn face(&self, cut: Cut) -> Option<&Face<'static>> {
        self.faces[match cut {
            Cut::Regular => 0,
            Cut::Italic => 1,
            Cut::Bold => 2,
        }]
        .as_ref()
    }

    /// Glyphs of a text without line breaks. Control characters become spaces.
    pub(crate) fn shape(&self, text: &str, cut: Cut) -> Vec<Glyph> {
        let Some(face) = self.face(cut) else { return Vec::new() };
        let mut buffer = UnicodeBuffer::new();
        for (at, c) in text.char_indices() {
            buffer.add(if c.is_control() { ' ' } else { c }, u32::try_from(at).unwrap_or(u32::MAX));
        }
        buffer.set_direction(rustybuzz::Direction::LeftToRight);
        buffer.set_script(rustybuzz::script::LATIN);
        let shaped = rustybuzz::shape(face, &[], buffer);
        let em = f32::from(u16::try_from(face.units_per_em()).unwrap_or(1000).max(1));
        let starts: Vec<usize> = shaped.glyph_infos().iter().map(|g| g.cluster as usize).collect();
        let after = |at: usize| starts.iter().copied().filter(|&s| s > at).min().unwrap_or(text.len());
        shaped
            .glyph_infos()
            .iter()
            .zip(shaped.glyph_positions())
            .map(|(info, place)| Glyph {
                id: u16::try_from(info.glyph_id).unwrap_or(0),
                advance: place.x_advance as f32 / em,
                shift: [place.x_offset as f32 / em, place.y_offset as f32 / em],
                from: info.cluster as usize,
                to: after(info.cluster as usize),
            })
            .collect()
    }

    /// Width of a text at a size.
    pub(crate) fn width(&self, text: &str, cut: Cut, size: f32) -> f32 {
        self.shape(text, cut).iter().map(|g| g.advance).sum::<f32>() * size
    }

    /// The outline of a glyph at the pen's place, y down.
    pub(crate) fn outline(&self, glyph: u16, cut: Cut, size: f32, x: f32, y: f32, path: &mut tiny_skia::PathBuilder) {
        let Some(face) = self.face(cut) else { return };
        let scale = size / face.units_per_em().max(1) as f32;
        face.outline_glyph(GlyphId(glyph), &mut Pen { path, scale, x, y });
    }
}

struct Pen<'a> {
    path: &'a mut tiny_skia::PathBuilder,
    scale: f32,
    x: f32,
    y: f32,
}

impl Pen<'_> {
    fn at(&self, x: f32, y: f32) -> (f32, f32) {
        (self.x + x * self.scale, self.y - y * self.scale)
    }
}

impl rustybuzz::ttf_parser::OutlineBuilder for Pen<'_> {
    fn move_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.at(x, y);
        self.path.move_to(x, y);
    }
    fn line_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.at(x, y);
        self.path.line_to(x, y);
    }
    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let ((x1, y1), (x, y)) = (self.at(x1, y1), self.at(x, y));
        self.path.quad_to(x1, y1, x, y);
    }
    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let ((x1, y1), (x2, y2), (x, y)) = (self.at(x1, y1), self.at(x2, y2), self.at(x, y));
        self.path.cubic_to(x1, y1, x2, y2, x, y);
    }
    fn close(&mut self) {
        self.path.close();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_tabular() {
        let lettering = Lettering::new();
        for cut in [Cut::Regular, Cut::Italic, Cut::Bold] {
            let one = lettering.width("1", cut, 10.0);
            assert!(one > 3.0);
            for digit in ["0", "2", "3", "4", "5", "6", "7", "8", "9"] {
                assert!((lettering.width(digit, cut, 10.0) - one).abs() < 1e-4, "{digit}");
            }
        }
    }

    #[test]
    fn every_character_gets_a_glyph() {
        let lettering = Lettering::new();
        for text in ["", "a\u{301}b", "日本", "\u{202e}abc", "a\tb\n", "👩‍🔧", "ﷺ", "±×−–µ°½"] {
            let glyphs = lettering.shape(text, Cut::Regular);
            assert_eq!(glyphs.is_empty(), text.is_empty(), "{text}");
            for g in glyphs {
                assert!(text.get(g.from..g.to).is_some(), "{text}");
            }
        }
    }

    #[test]
    fn the_licence_lies_beside_the_fonts() {
        assert!(include_str!("../fonts/OFL.txt").contains("SIL OPEN FONT LICENSE Version 1.1"));
    }
}
