//! Text set in a font file that the caller gave, as closed outlines in user units.
//!
//! Glyphs and shaping are those of [`lettering`](crate::lettering). No font of the machine is ever looked for: text whose family
//! isn't among the files given is left out and listed.

use super::page::{Measure, Of};
use super::style::{Sheet, Style};
use crate::curve::Trace;
use crate::lettering::{shape, traces as glyph_traces};
use plane::{Affine, Point};
use roxmltree::Node;
use std::str::FromStr;

/// Why a text could not be set.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum NotSet {
    /// No file was given for any of its families.
    NoFont,
    /// The font has no glyphs for these characters.
    NoGlyphs(Vec<char>),
    /// It asks for something that isn't set here.
    NotRead(&'static str),
}

impl NotSet {
    /// In words, to follow "can't be set:".
    pub(super) fn words(&self) -> String {
        match self {
            Self::NoFont => "no font file was given for it".to_owned(),
            Self::NoGlyphs(missing) => {
                let named: Vec<String> = missing.iter().map(|c| format!("`{c}`")).collect();
                format!("the font has no {}", named.join(", "))
            }
            Self::NotRead(what) => format!("it uses {what}, which is not read"),
        }
    }
}

/// One run of text with its style and where it starts, if it says so.
struct Run {
    text: String,
    style: Style,
    x: Option<f64>,
    y: Option<f64>,
    shift: Point,
}

/// Attributes that move single letters, or bend the line.
const NOT_READ: &[&str] = &["rotate", "textLength", "letter-spacing", "word-spacing", "baseline-shift", "writing-mode"];

/// The outlines of a text element.
pub(super) fn outlines(
    node: Node<'_, '_>,
    style: &Style,
    sheet: &Sheet,
    measure: &Measure,
    fonts: &[(String, Vec<u8>)],
) -> Result<Vec<Trace>, NotSet> {
    let mut runs = Vec::new();
    gather(node, style, sheet, measure, 0, &mut runs)?;
    without_outer_space(&mut runs);
    let mut traces = Vec::new();
    let mut at = Point::default();
    let mut chunk: Vec<Trace> = Vec::new();
    let (mut chunk_start, mut anchor) = (0.0, "start".to_owned());
    for run in runs.iter().filter(|r| !r.text.is_empty() || r.x.is_some()) {
        if run.x.is_some() || run.y.is_some() {
            anchored(&mut traces, &mut chunk, &anchor, at.x - chunk_start);
            at = Point::new(run.x.unwrap_or(at.x), run.y.unwrap_or(at.y));
            chunk_start = at.x;
            anchor = run.style.get("text-anchor").unwrap_or("start").to_owned();
        }
        at = at + run.shift;
        at.x += set(run, at, measure, fonts, &mut chunk)?;
    }
    anchored(&mut traces, &mut chunk, &anchor, at.x - chunk_start);
    Ok(traces)
}

/// Moves a chunk so that its anchor is where it was asked to be.
fn anchored(traces: &mut Vec<Trace>, chunk: &mut Vec<Trace>, anchor: &str, width: f64) {
    let back = match anchor {
        "middle" => width / 2.0,
        "end" => width,
        _ => 0.0,
    };
    let map = Affine::shift(Point::new(-back, 0.0));
    traces.extend(chunk.drain(..).map(|t| t.mapped(map)));
}

fn gather(
    node: Node<'_, '_>,
    style: &Style,
    sheet: &Sheet,
    measure: &Measure,
    depth: usize,
    runs: &mut Vec<Run>,
) -> Result<(), NotSet> {
    if let Some(what) = NOT_READ.iter().find(|a| node.has_attribute(**a)) {
        return Err(NotSet::NotRead(what));
    }
    if depth > 20 {
        return Err(NotSet::NotRead("deep nesting"));
    }
    let own = |name, of| -> Result<Option<f64>, NotSet> {
        match node.attribute(name) {
            None => Ok(None),
            Some(list) if list.split([' ', ',']).filter(|w| !w.is_empty()).count() > 1 => {
                Err(NotSet::NotRead("a place for each letter"))
            }
            Some(_) => Ok(measure.attribute(node, name, of)),
        }
    };
    let default = (depth == 0).then_some(0.0);
    let (mut x, mut y) = (own("x", Of::Width)?.or(default), own("y", Of::Height)?.or(default));
    let mut shift = Point::new(own("dx", Of::Width)?.unwrap_or(0.0), own("dy", Of::Height)?.unwrap_or(0.0));
    let empty = |x: Option<f64>, y: Option<f64>, shift: Point| x.is_none() && y.is_none() && shift == Point::default();
    for child in node.children() {
        if let Some(text) = child.text().filter(|_| child.is_text()) {
            let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
            let raw = child.text().unwrap_or("");
            let edge = |c: Option<char>| c.is_some_and(char::is_whitespace);
            let lead = if edge(raw.chars().next()) { " " } else { "" };
            let tail = if edge(raw.chars().next_back()) && !text.is_empty() { " " } else { "" };
            let text = format!("{lead}{text}{tail}");
            runs.push(Run { text, style: style.clone(), x: x.take(), y: y.take(), shift });
            shift = Point::default();
        } else if child.is_element() {
            match child.tag_name().name() {
                "tspan" | "a" => {
                    if !empty(x, y, shift) {
                        let (x, y) = (x.take(), y.take());
                        runs.push(Run { text: String::new(), style: style.clone(), x, y, shift });
                        shift = Point::default();
                    }
                    let inner = Style::of(child, style, sheet);
                    if !inner.is_gone() {
                        gather(child, &inner, sheet, measure, depth + 1, runs)?;
                    }
                }
                "title" | "desc" => {}
                "textPath" => return Err(NotSet::NotRead("textPath")),
                _ => return Err(NotSet::NotRead("an element inside the text")),
            }
        }
    }
    Ok(())
}

/// White space runs together across the parts of a text, and is dropped at its ends.
fn without_outer_space(runs: &mut [Run]) {
    let mut after_space = true;
    for run in runs.iter_mut() {
        if after_space {
            run.text = run.text.trim_start().to_owned();
        }
        if !run.text.is_empty() {
            after_space = run.text.ends_with(' ');
        }
    }
    for run in runs.iter_mut().rev() {
        run.text = run.text.trim_end().to_owned();
        if !run.text.is_empty() {
            break;
        }
    }
}

/// Sets one run from `at`; gives its width.
fn set(
    run: &Run,
    at: Point,
    measure: &Measure,
    fonts: &[(String, Vec<u8>)],
    traces: &mut Vec<Trace>,
) -> Result<f64, NotSet> {
    if run.text.is_empty() {
        return Ok(0.0);
    }
    let families = run.style.get("font-family").unwrap_or("");
    let named = |family: &str| {
        let family = family.trim().trim_matches(['"', '\'']).to_lowercase();
        fonts.iter().find(|(name, _)| name.to_lowercase() == family)
    };
    let (_, bytes) = families.split(',').find_map(named).ok_or(NotSet::NoFont)?;
    let face = rustybuzz::Face::from_slice(bytes, 0).ok_or(NotSet::NoFont)?;
    let size = run.style.get("font-size").and_then(|s| svgtypes::Length::from_str(s).ok());
    let size = size.map_or(measure.font_size, |l| measure.length(l, Of::Height));
    let scale = size / f64::from(face.units_per_em());
    let shaped = shape(&face, &run.text, true).map_err(NotSet::NoGlyphs)?;
    for glyph in &shaped {
        let outline = glyph_traces(&face, glyph.glyph).ok_or(NotSet::NotRead("a glyph of too many pieces"))?;
        let origin = at + Point::new(glyph.at.x, -glyph.at.y) * scale;
        let map = Affine { m: [scale, 0.0, 0.0, -scale, origin.x, origin.y] };
        traces.extend(outline.iter().map(|t| t.mapped(map)));
    }
    Ok(shaped.last().map_or(0.0, |g| g.pen[1] * scale))
}
