//! DXF and SVG bytes to named closed contours in mm, open paths, and everything that was skipped, assumed or repaired;
//! and text in a font file to regions ([`lettering`]).
//!
//! Reading never fails: [`read`] gives what it understood and the doubts, and the caller decides what blocks. Nothing
//! is dropped without a trace: an entity that isn't read is counted in [`Drawing::skipped`], a mended gap is a
//! [`Repair`], an assumed unit is a doubt. This crate never opens a file and knows nothing of plates or cutters.
//!
//! Frames: x to the right, y up. A DXF keeps its own origin; an SVG's (0, 0) is the lower left corner of its page.
//!
//! # Tolerance
//! Lines and circular arcs are kept as they are. Every other curve is flattened within [`plane::FLATTEN`] and fitted
//! with arcs within [`plane::FIT`]: 0.75 µm together, of the 1 µm the product allows. Ends closer than
//! [`ReadOptions::close_gaps`] are joined, and each such joint is listed.

mod assemble;
mod clean;
mod crossing;
mod curve;
mod dxf;
mod join;
mod kinds;
pub mod lettering;
mod losses;
mod meet;
mod model;
mod region;
mod spline;
mod svg;

pub use kinds::KINDS;
pub use model::{
    Drawing, Format, Mend, NameSummary, NamedContour, NamedPath, ReadOptions, Repair, Size, Skipped, Strokes, Units,
    UnitsFrom, Why,
};
pub use region::{EVERYTHING, Named};

/// Reads a drawing; the format is taken from the bytes, not from the name.
///
/// Never fails: what can't be read gives a drawing without contours and with a doubt that blocks.
pub fn read(file_name: &str, bytes: &[u8], options: &ReadOptions) -> Drawing {
    let mut drawing = Drawing::new(file_name);
    match format_of(bytes) {
        Format::Dxf => dxf::read(&mut drawing, bytes, options),
        Format::Svg => svg::read(&mut drawing, bytes, options),
        Format::Unknown => drawing.doubts.push(kinds::not_a_drawing(file_name, bytes)),
    }
    drawing
}

/// What the bytes look like: a binary DXF's first words, XML's first sign, or a first line that is a number.
fn format_of(bytes: &[u8]) -> Format {
    if dxf::is_binary(bytes) {
        return Format::Dxf;
    }
    let text = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let utf16 = bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff");
    let start = text.iter().position(|b| !b.is_ascii_whitespace()).unwrap_or(text.len());
    match text.get(start) {
        _ if utf16 => Format::Svg,
        Some(b'<') => Format::Svg,
        Some(b'0'..=b'9') => Format::Dxf,
        _ => Format::Unknown,
    }
}
