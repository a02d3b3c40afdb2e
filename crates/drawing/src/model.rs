//! What a drawing is once read: plain values, with everything that was left out or mended.

use doubt::Doubt;
use plane::{Bounds, Contour, FillRule, Path, Point};
use quantity::{Length, Unit};
use serde::Serialize;
use std::collections::BTreeMap;

/// How to read a drawing.
#[derive(Debug, Clone)]
pub struct ReadOptions {
    /// The unit of the drawing's numbers; overrides what the file says. For an SVG it is the unit of a `px`.
    pub units: Option<Unit>,
    /// Ends at most this far apart are joined.
    pub close_gaps: Length,
    /// What an SVG's strokes mean.
    pub strokes: Strokes,
    /// Font files by family name, for an SVG's text. Without a font for it, a text is a doubt.
    pub fonts: Vec<(String, Vec<u8>)>,
}

impl Default for ReadOptions {
    fn default() -> Self {
        Self { units: None, close_gaps: Length::mm(0.01), strokes: Strokes::CentreLines, fonts: Vec::new() }
    }
}

/// What an SVG's strokes mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Strokes {
    /// The line that the stroke follows.
    #[default]
    CentreLines,
    /// The area that the stroke's width covers.
    Outlines,
}

/// The format a drawing was read as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Format {
    /// Drawing exchange format, as text or binary.
    Dxf,
    /// Scalable vector graphics.
    Svg,
    /// Neither.
    Unknown,
}

/// The unit of the file's own numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Units {
    /// Its name: `mm`, `inch`, `px at 96 per inch`.
    pub name: String,
    /// mm in one of them.
    pub mm: f64,
    /// How it is known.
    pub from: UnitsFrom,
}

/// How a drawing's unit is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum UnitsFrom {
    /// The file says it.
    Stated,
    /// The file doesn't say; this was assumed.
    Assumed,
    /// The caller said it.
    Given,
}

/// A page size, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Size {
    /// mm.
    pub width: f64,
    /// mm.
    pub height: f64,
}

/// A drawing as read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Drawing {
    /// The file as the caller named it.
    pub file: String,
    /// What it was read as.
    pub format: Format,
    /// The unit of its numbers.
    pub units: Units,
    /// The page of an SVG.
    pub size: Option<Size>,
    /// Closed contours, in the order of the file.
    pub contours: Vec<NamedContour>,
    /// Paths that don't close, in the order of the file.
    pub open_paths: Vec<NamedPath>,
    /// What was left out, by kind, name and reason.
    pub skipped: Vec<Skipped>,
    /// What was mended.
    pub repairs: Vec<Repair>,
    /// Entities or elements in the file by type, counted apart from the reading.
    pub raw_entities: BTreeMap<String, usize>,
    /// What the maker should know.
    pub doubts: Vec<Doubt>,
}

impl Drawing {
    /// A drawing in which nothing has been read yet.
    pub(crate) fn new(file: &str) -> Self {
        Self {
            file: file.to_owned(),
            format: Format::Unknown,
            units: Units { name: "mm".to_owned(), mm: 1.0, from: UnitsFrom::Assumed },
            size: None,
            contours: Vec::new(),
            open_paths: Vec::new(),
            skipped: Vec::new(),
            repairs: Vec::new(),
            raw_entities: BTreeMap::new(),
            doubts: Vec::new(),
        }
    }

    /// The box around all contours and open paths, mm; `None` if there are none.
    pub fn bounds(&self) -> Option<Bounds> {
        let closed = self.contours.iter().map(|c| c.contour.bounds());
        let open = self.open_paths.iter().map(|p| p.path.bounds());
        let bounds = closed.chain(open).fold(Bounds::EMPTY, Bounds::union);
        (!bounds.is_empty()).then_some(bounds)
    }
}

/// A closed contour with the names it can be picked by.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NamedContour {
    /// DXF: the layer. SVG: own id, classes, then the ids, labels and classes of the groups around it, inner first.
    pub names: Vec<String>,
    /// How many of the names are the element's own rather than a group's.
    pub own_names: usize,
    /// mm.
    pub contour: Contour,
    /// The height at which it was drawn, mm, if not zero: a hint only.
    pub hint_elevation: Option<f64>,
    /// The thickness it was given, mm: a hint only.
    pub hint_thickness: Option<f64>,
    /// Line of the file, from 1; 0 where the file has no lines.
    pub line: usize,
    /// Contours with one number belong to one path (SVG) and fill together.
    pub path: usize,
    /// How the contours of that path fill. For DXF, even-odd over the layer.
    #[serde(serialize_with = "rule_name")]
    pub rule: FillRule,
    /// Whether the file paints it; a contour with neither fill nor stroke is often only a bounding box.
    pub painted: bool,
}

/// A path that doesn't close.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NamedPath {
    /// As for contours.
    pub names: Vec<String>,
    /// How many of the names are the element's own rather than a group's.
    pub own_names: usize,
    /// mm.
    pub path: Path,
    /// The height at which it was drawn, mm, if not zero: a hint only.
    pub hint_elevation: Option<f64>,
    /// The thickness it was given, mm: a hint only.
    pub hint_thickness: Option<f64>,
    /// Width of the stroke, mm, if the file states one.
    pub width: Option<f64>,
    /// Line of the file, from 1; 0 where the file has no lines.
    pub line: usize,
}

/// Things of one kind that were left out for one reason.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Skipped {
    /// Entity or element: `TEXT`, `HATCH`, `image`.
    pub kind: String,
    /// Layer or id; empty if it has none.
    pub name: String,
    /// How many.
    pub count: usize,
    /// Why.
    pub why: Why,
    /// Where the first ones are, mm, as far as they have a place.
    pub places: Vec<Point>,
    /// The lines of the first ones.
    pub lines: Vec<usize>,
}

/// Why something was left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Why {
    /// On a layer that is switched off.
    LayerOff,
    /// On a layer that is frozen.
    LayerFrozen,
    /// Marked invisible, or not displayed.
    Invisible,
    /// On a sheet for printing, not in the model.
    PaperSpace,
    /// Text, for which no font file was given.
    Text,
    /// A fill without an outline of its own.
    Fill,
    /// A dimension, leader or other annotation.
    Annotation,
    /// A solid or a surface in three dimensions.
    ThreeD,
    /// Nothing to cut: a point, a view, a construction line.
    NothingToCut,
    /// Its numbers are missing, not finite or far too large.
    BadNumbers,
    /// Seen edge on, it has no area in the plan.
    EdgeOn,
    /// It has no length.
    NoLength,
    /// It refers to something that isn't in the file.
    MissingReference,
    /// It contains itself, or nests too deeply.
    TooDeep,
    /// An effect that changes how things look, not where they are.
    Effect,
    /// It only says with what colours something is painted.
    Paint,
    /// A kind this reader doesn't know.
    Unknown,
}

impl Why {
    /// In words, to follow "left out:".
    pub fn words(self) -> &'static str {
        match self {
            Self::LayerOff => "its layer is off",
            Self::LayerFrozen => "its layer is frozen",
            Self::Invisible => "it is not displayed",
            Self::PaperSpace => "it is on a printing sheet, not in the model",
            Self::Text => "text has no outlines without a font file",
            Self::Fill => "it is a fill without an outline",
            Self::Annotation => "it is an annotation",
            Self::ThreeD => "it is a solid or surface in three dimensions",
            Self::NothingToCut => "there is nothing to cut in it",
            Self::BadNumbers => "its numbers are missing or out of range",
            Self::EdgeOn => "it stands upright and has no area in plan",
            Self::NoLength => "it has no length",
            Self::MissingReference => "it refers to something that is not in the file",
            Self::TooDeep => "it contains itself or nests too deeply",
            Self::Effect => "it changes how things look, not where they are",
            Self::Paint => "it only gives colours",
            Self::Unknown => "this kind is not known",
        }
    }
}

/// Something mended while reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Repair {
    /// What was done.
    pub mend: Mend,
    /// Layer, or the SVG name.
    pub name: String,
    /// Where, mm.
    pub at: Point,
    /// How much: the gap, or the length dropped, mm.
    pub amount: f64,
}

/// What was done to mend something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Mend {
    /// Two ends were joined across a gap.
    GapClosed,
    /// A second copy was dropped.
    DuplicateDropped,
    /// A piece without length was dropped.
    ZeroLengthDropped,
    /// Two pieces that ran over each other became one.
    OverlapMerged,
    /// A filled path without a closing stroke was closed, as filling does.
    FillClosed,
}

/// One name and what it picks.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NameSummary {
    /// As first spelt in the file.
    pub name: String,
    /// Closed contours.
    pub contours: usize,
    /// Open paths.
    pub open: usize,
    /// The box around them, mm.
    pub bounds: Bounds,
    /// Area of the region they make, mm².
    pub area: f64,
}

fn rule_name<S: serde::Serializer>(rule: &FillRule, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(match rule {
        FillRule::EvenOdd => "evenodd",
        FillRule::NonZero => "nonzero",
    })
}
