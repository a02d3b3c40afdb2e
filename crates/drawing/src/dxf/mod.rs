//! DXF bytes to strokes: sections, units, layers, then the model's entities with blocks unfolded.
//!
//! The pairs are read here rather than by a reader crate, so that nothing falls between: every entity of the model ends
//! as a stroke or in the list of what was left out, and a count taken apart from the reading must agree.

mod frame;
mod pairs;
mod shape;
mod unfold;

use crate::assemble::assemble;
use crate::kinds;
use crate::model::{Drawing, Format, ReadOptions, Units, UnitsFrom};
use pairs::{Broken, Pair, Record};
use quantity::Unit;
use std::collections::BTreeMap;

/// Whether the bytes begin as a binary DXF.
pub(crate) fn is_binary(bytes: &[u8]) -> bool {
    pairs::is_binary(bytes)
}

/// What a layer's row says.
#[derive(Debug, Clone)]
struct Layer {
    /// As the table spells it.
    name: String,
    frozen: bool,
    off: bool,
}

/// A block: its base point and entities.
struct Block<'a> {
    base: frame::Vector,
    entities: Vec<Record<'a>>,
}

/// The parts of a file that matter here.
#[derive(Default)]
struct File<'a> {
    header: BTreeMap<&'a str, &'a Pair>,
    layers: BTreeMap<String, Layer>,
    blocks: BTreeMap<String, Block<'a>>,
    entities: Vec<Record<'a>>,
    /// Whether the end mark was there.
    ended: bool,
    /// The section left open, if any.
    open_section: Option<String>,
    has_entities: bool,
}

/// Reads a DXF into a drawing.
pub(crate) fn read(drawing: &mut Drawing, bytes: &[u8], options: &ReadOptions) {
    drawing.format = Format::Dxf;
    let (pairs, broken) = pairs::read(bytes);
    let records = pairs::records(&pairs);
    let file = File::of(&records);
    if let Some(doubt) = broken_doubt(&drawing.file, &file, broken.as_ref(), &pairs) {
        drawing.doubts.push(doubt);
        return;
    }
    let unfolded = unfold::unfold(&file);
    drawing.raw_entities = if is_binary(bytes) { counted(&file.entities) } else { counted_lines(bytes) };
    count_doubt(drawing, &unfolded);
    drawing.units = units(&file, options);
    let mm = drawing.units.mm;
    let strokes = unfold::strokes(drawing, unfolded, mm);
    assemble(drawing, strokes, options);
    if drawing.contours.is_empty() && drawing.open_paths.is_empty() {
        drawing.doubts.push(kinds::empty(&drawing.file));
    }
    let unit_doubts = unit_doubts(drawing, &file);
    drawing.doubts.splice(0..0, unit_doubts);
}

/// Whether the file is whole; a part of a drawing is never taken for all of it.
fn broken_doubt(name: &str, file: &File<'_>, broken: Option<&Broken>, pairs: &[Pair]) -> Option<doubt::Doubt> {
    match broken {
        Some(Broken::NoCode { line, text }) => return Some(kinds::dxf_no_code(name, *line, text)),
        Some(Broken::CutShort { line }) => return Some(kinds::cut_short(name, *line, "in the middle of a pair")),
        None => {}
    }
    let last = pairs.last().map_or(0, |p| p.line);
    if let Some(section) = &file.open_section {
        return Some(kinds::cut_short(name, last, &format!("inside its section {section}")));
    }
    if !file.ended {
        return Some(kinds::cut_short(name, last, "before its end mark (EOF)"));
    }
    (!file.has_entities).then(|| kinds::empty(name))
}

impl<'a> File<'a> {
    fn of(records: &[Record<'a>]) -> Self {
        let mut file = Self::default();
        let mut section: Option<String> = None;
        let mut block: Option<(String, Block<'a>)> = None;
        for record in records {
            match (record.kind, section.as_deref()) {
                ("SECTION", _) => {
                    let name = record.text(2).unwrap_or_default();
                    if name == "HEADER" {
                        file.read_header(record.pairs);
                    }
                    file.has_entities |= name == "ENTITIES";
                    section = Some(name);
                }
                ("ENDSEC", _) => section = None,
                ("EOF", None) => {
                    file.ended = true;
                    break;
                }
                ("LAYER", Some("TABLES")) => file.read_layer(record),
                ("BLOCK", Some("BLOCKS")) => {
                    let name = record.text(2).unwrap_or_default().to_uppercase();
                    let base = [10, 20, 30].map(|c| record.real(c).unwrap_or(0.0));
                    block = Some((name, Block { base, entities: Vec::new() }));
                }
                ("ENDBLK", Some("BLOCKS")) => {
                    if let Some((name, block)) = block.take() {
                        file.blocks.insert(name, block);
                    }
                }
                (_, Some("BLOCKS")) => {
                    if let Some((_, block)) = &mut block {
                        block.entities.push(*record);
                    }
                }
                (_, Some("ENTITIES")) => file.entities.push(*record),
                _ => {}
            }
        }
        file.open_section = section;
        file
    }

    fn read_header(&mut self, pairs: &'a [Pair]) {
        for w in pairs.windows(2) {
            if w[0].code == 9 {
                self.header.insert(w[0].text(), &w[1]);
            }
        }
    }

    fn read_layer(&mut self, record: &Record<'a>) {
        let name = record.text(2).unwrap_or_default();
        let layer = Layer {
            frozen: record.flags(70) & 1 != 0,
            // A layer that is off has its colour negated.
            off: record.flags(62) < 0,
            name: name.clone(),
        };
        self.layers.entry(name.to_uppercase()).or_insert(layer);
    }

    fn header_whole(&self, name: &str) -> Option<i64> {
        self.header.get(name).and_then(|p| p.whole())
    }
}

/// What follows another entity and is no entity by itself.
fn is_part(kind: &str) -> bool {
    matches!(kind, "VERTEX" | "SEQEND" | "ATTRIB")
}

fn counted(entities: &[Record<'_>]) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for record in entities.iter().filter(|r| !is_part(r.kind)) {
        *counts.entry(record.kind.to_owned()).or_insert(0) += 1;
    }
    counts
}

/// Entities by type, counted over the lines of a text file with no use made of the pairs: every second line
/// that is a bare 0, between the section's name and its end.
fn counted_lines(bytes: &[u8]) -> BTreeMap<String, usize> {
    let text = String::from_utf8_lossy(bytes);
    let lines: Vec<&str> = text.trim_start_matches('\u{feff}').lines().map(str::trim).collect();
    let mut counts = BTreeMap::new();
    let (mut inside, mut announced) = (false, false);
    for pair in lines.chunks_exact(2) {
        match (pair[0], pair[1]) {
            ("0", "SECTION") => announced = true,
            ("2", name) if announced => {
                inside = name == "ENTITIES";
                announced = false;
            }
            ("0", "ENDSEC") => inside = false,
            ("0", "EOF") => break,
            ("0", kind) if inside && !is_part(kind) => *counts.entry(kind.to_owned()).or_insert(0) += 1,
            _ => {}
        }
    }
    counts
}

/// Every entity counted must have been read or listed as left out.
fn count_doubt(drawing: &mut Drawing, unfolded: &unfold::Unfolded<'_>) {
    if drawing.raw_entities != unfolded.accounted {
        let total = |counts: &BTreeMap<String, usize>| counts.values().sum::<usize>();
        let (raw, read) = (total(&drawing.raw_entities), total(&unfolded.accounted));
        drawing.doubts.push(kinds::dxf_count(&drawing.file, raw, read));
    }
}

/// Codes of the drawing unit, by the format's description: the name and mm in one.
fn unit_of_code(code: i64) -> Option<(&'static str, f64)> {
    Some(match code {
        1 => ("inch", 25.4),
        2 => ("foot", 304.8),
        4 => ("mm", 1.0),
        5 => ("cm", 10.0),
        6 => ("m", 1000.0),
        8 => ("microinch", 25.4e-6),
        9 => ("thou", 0.0254),
        10 => ("yard", 914.4),
        13 => ("um", 0.001),
        14 => ("dm", 100.0),
        _ => return None,
    })
}

fn units(file: &File<'_>, options: &ReadOptions) -> Units {
    if let Some(unit) = options.units {
        return Units { name: unit_name(unit).to_owned(), mm: unit.in_mm(), from: UnitsFrom::Given };
    }
    let stated = file.header_whole("$INSUNITS").and_then(unit_of_code);
    let (name, mm, from) = match stated {
        Some((name, mm)) => (name, mm, UnitsFrom::Stated),
        None => ("mm", 1.0, UnitsFrom::Assumed),
    };
    Units { name: name.to_owned(), mm, from }
}

/// The word for a unit.
pub(crate) fn unit_name(unit: Unit) -> &'static str {
    match unit {
        Unit::Micrometre => "um",
        Unit::Millimetre => "mm",
        Unit::Centimetre => "cm",
        Unit::Metre => "m",
        Unit::Inch => "inch",
        Unit::Thou => "thou",
    }
}

/// A drawing without units smaller than this in every direction was probably drawn in inches, mm.
const PROBABLY_INCHES: f64 = 30.0;

fn unit_doubts(drawing: &Drawing, file: &File<'_>) -> Vec<doubt::Doubt> {
    let code = file.header_whole("$INSUNITS");
    let stated = code.and_then(unit_of_code);
    match drawing.units.from {
        UnitsFrom::Stated => Vec::new(),
        UnitsFrom::Given => match stated {
            Some((name, mm)) if mm != drawing.units.mm => {
                vec![kinds::units_overridden(&drawing.file, name, &drawing.units.name)]
            }
            _ => Vec::new(),
        },
        UnitsFrom::Assumed => {
            let bounds = drawing.bounds();
            let small = bounds.is_some_and(|b| b.width().max(b.height()) < PROBABLY_INCHES);
            let english = file.header_whole("$MEASUREMENT") == Some(0);
            let odd_code = code.filter(|&c| c != 0);
            vec![kinds::units_assumed(&drawing.file, bounds, small, english, odd_code)]
        }
    }
}
