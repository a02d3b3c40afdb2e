//! Entities of the model with inserts unfolded, hidden ones and unknown ones listed.

use super::frame::Frame;
use super::pairs::Record;
use super::shape::{self, Drawn};
use super::{Block, File};
use crate::assemble::Stroke;
use crate::kinds;
use crate::losses::Losses;
use crate::model::{Drawing, Why};
use plane::{Affine, FillRule};
use std::collections::BTreeMap;

/// Blocks nest no deeper than this.
const DEEPEST: usize = 32;
/// No more entities than this are unfolded from inserts.
const MOST: usize = 100_000;

/// What the model holds, in the file's units.
#[derive(Default)]
pub(super) struct Unfolded<'a> {
    drawn: Vec<(String, usize, Drawn)>,
    skipped: Losses,
    /// Entities of the section that were read or listed, by type.
    pub(super) accounted: BTreeMap<String, usize>,
    free_splines: BTreeMap<String, Vec<usize>>,
    visited: usize,
    too_many: Option<&'a str>,
    empty_inserts: usize,
}

/// How far down in inserts an entity is, and what it inherits.
struct Nest<'a> {
    place: Frame,
    /// The layer that layer 0 takes.
    layer: Option<String>,
    blocks: Vec<&'a str>,
}

/// Unfolds the model.
pub(super) fn unfold<'a>(file: &'a File<'a>) -> Unfolded<'a> {
    let mut unfolded = Unfolded::default();
    let nest = Nest { place: Frame::WORLD, layer: None, blocks: Vec::new() };
    unfolded.list(file, &file.entities, &nest);
    unfolded
}

/// The records that belong to an entity: vertices of a polyline, attributes of an insert.
fn parts<'r, 'a>(records: &'r [Record<'a>]) -> &'r [Record<'a>] {
    let takes = match records[0].kind {
        "POLYLINE" => "VERTEX",
        "INSERT" => "ATTRIB",
        _ => return &[],
    };
    let count = records[1..].iter().take_while(|r| r.kind == takes).count();
    &records[1..=count]
}

impl<'a> Unfolded<'a> {
    fn list(&mut self, file: &'a File<'a>, records: &[Record<'a>], nest: &Nest<'a>) {
        let mut at = 0;
        while at < records.len() {
            let (entity, parts) = (&records[at], parts(&records[at..]));
            at += 1 + parts.len();
            if entity.kind == "SEQEND" {
                continue;
            }
            if nest.blocks.is_empty() {
                // A stray vertex or attribute belongs to nothing and is counted by nobody.
                if !super::is_part(entity.kind) {
                    *self.accounted.entry(entity.kind.to_owned()).or_insert(0) += 1;
                }
            }
            self.visited += 1;
            if self.visited > MOST {
                self.too_many = Some(nest.blocks.first().copied().unwrap_or(""));
                return;
            }
            self.entity(file, entity, parts, nest);
            for part in parts.iter().filter(|p| p.kind == "ATTRIB") {
                self.skip(part, &layer_of(file, part, nest).1, Why::Text, &nest.place);
            }
        }
    }

    fn entity(&mut self, file: &'a File<'a>, entity: &Record<'a>, parts: &[Record<'a>], nest: &Nest<'a>) {
        let (key, layer) = layer_of(file, entity, nest);
        let row = file.layers.get(&key);
        let hidden = if entity.flags(67) != 0 && nest.blocks.is_empty() {
            Some(Why::PaperSpace)
        } else if entity.flags(60) != 0 {
            Some(Why::Invisible)
        } else if row.is_some_and(|l| l.frozen) {
            Some(Why::LayerFrozen)
        } else if row.is_some_and(|l| l.off) && entity.kind != "INSERT" {
            Some(Why::LayerOff)
        } else {
            None
        };
        if let Some(why) = hidden {
            return self.skip(entity, &layer, why, &nest.place);
        }
        if entity.kind == "INSERT" {
            return self.insert(file, entity, &layer, nest);
        }
        if !shape::is_drawn(entity.kind) {
            return self.skip(entity, &layer, why_not(entity.kind), &nest.place);
        }
        match shape::drawn(entity, parts, &nest.place) {
            Ok(drawn) => {
                if shape::is_free_spline(entity) {
                    self.free_splines.entry(layer.clone()).or_default().push(entity.line);
                }
                self.drawn.push((layer, entity.line, drawn));
            }
            Err(why) => self.skip(entity, &layer, why, &nest.place),
        }
    }

    fn skip(&mut self, entity: &Record<'_>, layer: &str, why: Why, place: &Frame) {
        let at = entity.real(10).zip(entity.real(20)).map(|(x, y)| place.plan([x, y, 0.0]));
        self.skipped.add(entity.kind, layer, why, entity.line, at);
    }

    fn insert(&mut self, file: &'a File<'a>, entity: &Record<'a>, layer: &str, nest: &Nest<'a>) {
        let name = entity.text(2).unwrap_or_default().to_uppercase();
        let Some((name, block)) = file.blocks.get_key_value(&name) else {
            return self.skip(entity, layer, Why::MissingReference, &nest.place);
        };
        if nest.blocks.len() >= DEEPEST || nest.blocks.contains(&name.as_str()) {
            return self.skip(entity, layer, Why::TooDeep, &nest.place);
        }
        if block.entities.is_empty() {
            self.empty_inserts += 1;
        }
        let Some(places) = insert_places(entity, block, &nest.place) else {
            return self.skip(entity, layer, Why::BadNumbers, &nest.place);
        };
        for place in places {
            if self.too_many.is_some() {
                return;
            }
            let mut blocks = nest.blocks.clone();
            blocks.push(name);
            self.list(file, &block.entities, &Nest { place, layer: Some(layer.to_owned()), blocks });
            // An empty block still costs its visit, or a large array of it would run for ever.
            self.visited += 1;
            if self.visited > MOST {
                self.too_many = Some(name);
            }
        }
    }
}

/// The layer an entity is on: the key to look it up by, and its name as the table spells it.
fn layer_of(file: &File<'_>, entity: &Record<'_>, nest: &Nest<'_>) -> (String, String) {
    let own = entity.text(8).filter(|l| !l.is_empty()).unwrap_or_else(|| "0".to_owned());
    let name = match &nest.layer {
        // What a block draws on layer 0 is on the layer of its insert.
        Some(outer) if own == "0" => outer.clone(),
        _ => own,
    };
    let key = name.to_uppercase();
    let spelt = file.layers.get(&key).map_or(name, |l| l.name.clone());
    (key, spelt)
}

/// Where the copies of an insert go.
fn insert_places(entity: &Record<'_>, block: &Block<'_>, place: &Frame) -> Option<impl Iterator<Item = Frame> + use<>> {
    let real = |code, default| entity.real(code).unwrap_or(default);
    let (position, scale) =
        ([real(10, 0.0), real(20, 0.0), real(30, 0.0)], [real(41, 1.0), real(42, 1.0), real(43, 1.0)]);
    let (turn, gaps) = (real(50, 0.0), [real(44, 0.0), real(45, 0.0)]);
    let finite = position.iter().chain(&scale).chain(&gaps).chain(&block.base).all(|x| x.is_finite());
    if !finite || !turn.is_finite() {
        return None;
    }
    let outer = shape::own_frame(entity, place).ok()?;
    let count = |code| entity.flags(code).clamp(1, 32_767);
    let (columns, rows) = (count(70), count(71));
    let to_base = Frame::shift(block.base.map(|x| -x)).then(&Frame::scale(scale));
    Some((0..rows).flat_map(move |row| {
        let to_base = to_base;
        (0..columns).map(move |column| {
            // The array turns with the insert; its spacing isn't scaled.
            let step = [gaps[0] * column as f64, gaps[1] * row as f64, 0.0];
            to_base.then(&Frame::shift(step)).then(&Frame::turn(turn)).then(&Frame::shift(position)).then(&outer)
        })
    }))
}

/// Why a kind of entity isn't read.
fn why_not(kind: &str) -> Why {
    match kind {
        "TEXT" | "MTEXT" | "ATTDEF" | "ATTRIB" | "RTEXT" | "ARCALIGNEDTEXT" => Why::Text,
        "HATCH" | "SOLID" | "TRACE" | "MPOLYGON" | "WIPEOUT" => Why::Fill,
        "DIMENSION"
        | "LARGE_RADIAL_DIMENSION"
        | "ARC_DIMENSION"
        | "LEADER"
        | "MLEADER"
        | "MULTILEADER"
        | "TOLERANCE"
        | "ACAD_TABLE" => Why::Annotation,
        "3DFACE" | "3DSOLID" | "BODY" | "REGION" | "SURFACE" | "MESH" | "EXTRUDEDSURFACE" | "LOFTEDSURFACE"
        | "REVOLVEDSURFACE" | "SWEPTSURFACE" | "PLANESURFACE" | "HELIX" => Why::ThreeD,
        "POINT" | "RAY" | "XLINE" | "VIEWPORT" | "IMAGE" | "OLEFRAME" | "OLE2FRAME" | "LIGHT" | "SUN" | "UNDERLAY"
        | "PDFUNDERLAY" | "DWFUNDERLAY" | "DGNUNDERLAY" | "SECTION" | "CAMERA" => Why::NothingToCut,
        "VERTEX" => Why::MissingReference,
        _ => Why::Unknown,
    }
}

/// The strokes in mm; what was left out goes into the drawing, as do the doubts about single entities.
pub(super) fn strokes(drawing: &mut Drawing, unfolded: Unfolded<'_>, mm: f64) -> Vec<Stroke> {
    let to_mm = Affine::scale(mm, mm);
    let mut skipped = unfolded.skipped;
    let mut strokes = Vec::with_capacity(unfolded.drawn.len());
    let mut tilted: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (index, (layer, line, drawn)) in unfolded.drawn.into_iter().enumerate() {
        let Some(chain) = drawn.trace.mapped(to_mm).chain() else {
            skipped.add("entity", &layer, Why::BadNumbers, line, None);
            continue;
        };
        if drawn.tilted {
            tilted.entry(layer.clone()).or_default().push(line);
        }
        strokes.push(Stroke {
            group: layer.to_uppercase(),
            container: layer.to_uppercase(),
            names: vec![layer],
            own_names: 1,
            chain,
            elevation: drawn.elevation.map(|e| e * mm),
            thickness: drawn.thickness.map(|t| t * mm),
            width: drawn.width.map(|w| w * mm),
            line,
            path: index,
            rule: FillRule::EvenOdd,
            filled: false,
            painted: true,
        });
    }
    drawing.skipped = skipped.listed(mm);
    for (layer, lines) in tilted {
        drawing.doubts.push(kinds::tilted(&drawing.file, &layer, &lines));
    }
    for (layer, lines) in unfolded.free_splines {
        drawing.doubts.push(kinds::free_spline(&drawing.file, &layer, &lines));
    }
    if let Some(block) = unfolded.too_many {
        drawing.doubts.push(kinds::too_many(&drawing.file, MOST, block));
    }
    let listed = kinds::skipped(drawing);
    drawing.doubts.extend(listed);
    strokes
}
