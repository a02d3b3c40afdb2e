//! SVG bytes to strokes: the XML tree walked once, with styles and transforms worked out on the way.
//!
//! All geometry is f64 from the path data on; circles and circular arcs stay arcs. What is drawn but not read is
//! listed, and each thing listed names the line of the file.

mod element;
mod outline;
mod page;
mod path;
mod style;
mod text;
mod walk;

use crate::assemble::assemble;
use crate::kinds;
use crate::model::{Drawing, Format, ReadOptions};
use roxmltree::{Document, ParsingOptions};
use std::borrow::Cow;
use std::collections::BTreeMap;

/// No file has more elements and texts than this.
const MOST_NODES: u32 = 2_000_000;

/// Reads an SVG into a drawing.
pub(crate) fn read(drawing: &mut Drawing, bytes: &[u8], options: &ReadOptions) {
    drawing.format = Format::Svg;
    let Some(text) = decoded(bytes) else {
        drawing.doubts.push(kinds::svg_encoding(&drawing.file));
        return;
    };
    let parsing = ParsingOptions { allow_dtd: true, nodes_limit: MOST_NODES, ..ParsingOptions::default() };
    let document = match Document::parse_with_options(&text, parsing) {
        Ok(document) => document,
        Err(error) => {
            drawing.doubts.push(broken(&drawing.file, &text, &error));
            return;
        }
    };
    if document.root_element().tag_name().name() != "svg" {
        drawing.doubts.push(kinds::not_svg(&drawing.file, document.root_element().tag_name().name()));
        return;
    }
    drawing.raw_entities = counted(&document);
    let strokes = walk::walk(drawing, &document, options);
    assemble(drawing, strokes, options);
    if drawing.contours.is_empty() && drawing.open_paths.is_empty() {
        drawing.doubts.push(kinds::empty(&drawing.file));
    }
}

/// A file that stops before its last tag is cut short; anything else is not well-formed.
fn broken(file: &str, text: &str, error: &roxmltree::Error) -> doubt::Doubt {
    use roxmltree::Error;
    let lines = text.lines().count();
    match error {
        Error::UnexpectedEndOfStream | Error::UnclosedRootNode => {
            kinds::cut_short(file, lines, "before its last tag is closed")
        }
        _ => kinds::svg_broken(file, error.pos().row as usize, &error.to_string()),
    }
}

/// UTF-8, or UTF-16 with its mark; a file that declares Latin-1 is taken as such.
fn decoded(bytes: &[u8]) -> Option<Cow<'_, str>> {
    let wide = |pair: fn([u8; 2]) -> u16| {
        let units: Vec<u16> = bytes[2..].chunks_exact(2).map(|c| pair([c[0], c[1]])).collect();
        String::from_utf16(&units).ok().map(Cow::Owned)
    };
    if bytes.starts_with(b"\xff\xfe") {
        return wide(u16::from_le_bytes);
    }
    if bytes.starts_with(b"\xfe\xff") {
        return wide(u16::from_be_bytes);
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    if let Ok(text) = std::str::from_utf8(bytes) {
        return Some(Cow::Borrowed(text));
    }
    let head = String::from_utf8_lossy(&bytes[..bytes.len().min(200)]).to_lowercase();
    let latin = head.contains("iso-8859-1") || head.contains("windows-1252");
    latin.then(|| Cow::Owned(bytes.iter().map(|&b| char::from(b)).collect()))
}

/// Elements of the document by name, whatever becomes of them.
fn counted(document: &Document<'_>) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for node in document.descendants().filter(|n| n.is_element()) {
        *counts.entry(node.tag_name().name().to_owned()).or_insert(0) += 1;
    }
    counts
}
