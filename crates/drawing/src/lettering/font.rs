//! A font file: read once, asked for its cap height, shaped text and glyphs' outlines. In font units, y up.

use crate::curve::{Curve, Trace};
use plane::{Bounds, Point};
use rustybuzz::ttf_parser::{self, GlyphId, OutlineBuilder};
use rustybuzz::{Face, Feature, UnicodeBuffer};

/// No font file is larger than this, bytes; the same as for any file that a plate names.
pub const LARGEST_FONT: usize = 64 << 20;
/// No glyph has more pieces than this.
const MOST_PIECES: usize = 50_000;
/// A stated cap height this much off the font's own H is a slip of the font, and the H counts.
const SLIP: f64 = 0.25;

/// A face of a font file.
pub struct Font<'b> {
    face: Face<'b>,
    cap: f64,
    cap_height: CapHeight,
}

/// Where the height of capitals is known from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CapHeight {
    /// The font states it (OpenType's OS/2 table, `sCapHeight`).
    Stated,
    /// Measured on its H, since it states none, or one that its H belies.
    Measured,
}

/// Why a file can't be used for lettering.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FontFault {
    /// More bytes than [`LARGEST_FONT`].
    TooLarge(usize),
    /// Not TrueType or OpenType, or broken.
    NotAFont,
    /// A font packed for web pages.
    Packed,
    /// The file has only so many faces.
    NoSuchFace(u32),
    /// Its glyphs are pictures of dots, or have no shape at all.
    NoOutlines,
    /// It states no cap height and has no H.
    NoCapHeight,
}

impl FontFault {
    /// In words, to follow the font's name.
    pub fn words(&self) -> String {
        match self {
            Self::TooLarge(bytes) => format!("has {bytes} bytes, more than {} MiB", LARGEST_FONT >> 20),
            Self::NotAFont => "is not a TrueType or OpenType font, or is broken".into(),
            Self::Packed => "is packed for web pages (WOFF)".into(),
            Self::NoSuchFace(1) => "holds one face only".into(),
            Self::NoSuchFace(has) => format!("holds {has} faces only"),
            Self::NoOutlines => "has no outlines: its glyphs are pictures of dots, or nothing at all".into(),
            Self::NoCapHeight => "states no cap height and has no H to measure it on".into(),
        }
    }
}

impl<'b> Font<'b> {
    /// Reads a face of a file, counted from 0; a file that isn't a collection has one.
    pub fn read(bytes: &'b [u8], face: u32) -> Result<Self, FontFault> {
        if bytes.len() > LARGEST_FONT {
            return Err(FontFault::TooLarge(bytes.len()));
        }
        if bytes.starts_with(b"wOFF") || bytes.starts_with(b"wOF2") {
            return Err(FontFault::Packed);
        }
        let faces = ttf_parser::fonts_in_collection(bytes).unwrap_or(1);
        if face >= faces {
            return Err(if faces == 0 { FontFault::NotAFont } else { FontFault::NoSuchFace(faces) });
        }
        let face = Face::from_slice(bytes, face).ok_or(FontFault::NotAFont)?;
        let tables = face.tables();
        if tables.glyf.is_none() && tables.cff.is_none() && tables.cff2.is_none() {
            return Err(FontFault::NoOutlines);
        }
        let (cap, cap_height) = cap_height(&face).ok_or(FontFault::NoCapHeight)?;
        Ok(Self { face, cap, cap_height })
    }

    /// Where the cap height is known from.
    pub fn cap_height(&self) -> CapHeight {
        self.cap_height
    }

    /// Whether its shapes can be varied; it is read as its maker's default.
    pub fn is_variable(&self) -> bool {
        self.face.is_variable()
    }

    /// mm in one font unit, if capitals are to be so high, mm.
    pub(super) fn scale(&self, cap_height: f64) -> f64 {
        cap_height / self.cap
    }

    pub(super) fn shape(&self, text: &str, ligatures: bool) -> Result<Vec<Shaped>, Vec<char>> {
        shape(&self.face, text, ligatures)
    }

    pub(super) fn traces(&self, glyph: GlyphId) -> Option<Vec<Trace>> {
        traces(&self.face, glyph)
    }
}

impl std::fmt::Debug for Font<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Font").field("cap", &self.cap).field("cap_height", &self.cap_height).finish_non_exhaustive()
    }
}

/// The height of capitals in font units: as stated, unless it is missing or the font's own H belies it.
fn cap_height(face: &Face<'_>) -> Option<(f64, CapHeight)> {
    let stated = face.capital_height().map(f64::from).filter(|&c| c > 0.0);
    let measured = face.glyph_index('H').and_then(|h| Some(bounds(&traces(face, h)?).max.y)).filter(|&c| c > 0.0);
    match (stated, measured) {
        (Some(stated), Some(measured)) if (stated - measured).abs() > SLIP * measured => {
            Some((measured, CapHeight::Measured))
        }
        (Some(stated), _) => Some((stated, CapHeight::Stated)),
        (None, measured) => Some((measured?, CapHeight::Measured)),
    }
}

/// The box around traces' ends; an H has no curve that reaches beyond them.
fn bounds(traces: &[Trace]) -> Bounds {
    Bounds::of(traces.iter().flat_map(|t| &t.curves).flat_map(|c| [c.start(), c.end()]))
}

/// One glyph of a shaped text, in font units.
pub(crate) struct Shaped {
    /// Its number in the font.
    pub(crate) glyph: GlyphId,
    /// Where its origin stands, from the pen's start.
    pub(crate) at: Point,
    /// Where the pen is before it, and after.
    pub(crate) pen: [f64; 2],
    /// Byte of the text at which its cluster starts.
    pub(crate) cluster: usize,
}

/// Glyphs of a text in the order in which they stand, left to right; or every character that the font lacks.
pub(crate) fn shape(face: &Face<'_>, text: &str, ligatures: bool) -> Result<Vec<Shaped>, Vec<char>> {
    let mut buffer = UnicodeBuffer::new();
    buffer.push_str(text);
    buffer.guess_segment_properties();
    let off = |tag: &[u8; 4]| Feature::new(ttf_parser::Tag::from_bytes(tag), 0, ..);
    let features = if ligatures { Vec::new() } else { vec![off(b"liga"), off(b"clig")] };
    let shaped = rustybuzz::shape(face, &features, buffer);
    let mut missing = Vec::new();
    let mut glyphs = Vec::new();
    let mut pen = 0.0;
    for (info, position) in shaped.glyph_infos().iter().zip(shaped.glyph_positions()) {
        let cluster = info.cluster as usize;
        let glyph = GlyphId(u16::try_from(info.glyph_id).unwrap_or(0));
        if glyph.0 == 0 {
            missing.extend(text.get(cluster..).and_then(|t| t.chars().next()).filter(|c| !missing.contains(c)));
        }
        let at = Point::new(pen + f64::from(position.x_offset), f64::from(position.y_offset));
        let before = pen;
        pen += f64::from(position.x_advance);
        glyphs.push(Shaped { glyph, at, pen: [before, pen], cluster });
    }
    if missing.is_empty() { Ok(glyphs) } else { Err(missing) }
}

/// The outline of a glyph in font units; `None` if it has more pieces than any letter could.
pub(crate) fn traces(face: &Face<'_>, glyph: GlyphId) -> Option<Vec<Trace>> {
    let mut pen = Pen::default();
    face.outline_glyph(glyph, &mut pen);
    pen.traces.retain(|t| !t.curves.is_empty());
    (pen.pieces <= MOST_PIECES).then_some(pen.traces)
}

/// Collects a glyph's outline.
#[derive(Default)]
struct Pen {
    traces: Vec<Trace>,
    start: Point,
    at: Point,
    pieces: usize,
}

impl Pen {
    fn add(&mut self, curve: Curve) {
        self.at = curve.end();
        self.pieces += 1;
        if let Some(trace) = self.traces.last_mut().filter(|_| self.pieces <= MOST_PIECES) {
            trace.curves.push(curve);
        }
    }
}

fn point(x: f32, y: f32) -> Point {
    Point::new(f64::from(x), f64::from(y))
}

impl OutlineBuilder for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.start = point(x, y);
        self.at = self.start;
        if self.pieces <= MOST_PIECES {
            self.traces.push(Trace { curves: Vec::new(), closed: true });
        }
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.add(Curve::Line(self.at, point(x, y)));
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        self.add(Curve::quadratic(self.at, point(x1, y1), point(x, y)));
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.add(Curve::Cubic([self.at, point(x1, y1), point(x2, y2), point(x, y)]));
    }

    fn close(&mut self) {
        if self.at != self.start {
            self.add(Curve::Line(self.at, self.start));
        }
    }
}
