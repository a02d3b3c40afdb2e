//! The walk over an SVG's elements: names, styles, transforms, references, and what is left out.

use super::element;
use super::outline::{self, Pen};
use super::page::{self, Measure, Of, PX};
use super::style::{Sheet, Style};
use super::text::{self, NotSet};
use crate::assemble::Stroke;
use crate::curve::Trace;
use crate::kinds;
use crate::losses::Losses;
use crate::model::{Drawing, ReadOptions, Size, Strokes, Units, UnitsFrom, Why};
use plane::{Affine, Point};
use roxmltree::{Document, Node, NodeId};
use std::collections::BTreeMap;
use std::str::FromStr;
use svgtypes::{LengthUnit, Transform};

/// Elements nest no deeper than this.
const DEEPEST: usize = 200;
/// No more elements than this are walked, references unfolded.
const MOST: usize = 100_000;
/// Fills thinner than this are lines that the default black fill makes look filled, mm² per mm of length.
const THIN: f64 = 1e-6;

/// What an element inherits.
#[derive(Clone)]
struct Around {
    /// From user units to mm, y up.
    map: Affine,
    style: Style,
    measure: Measure,
    /// Names of what is around, inner first.
    names: Vec<String>,
    /// How many of those belong to the reference that drew this.
    own: usize,
    depth: usize,
    /// Referenced elements being drawn.
    uses: Vec<NodeId>,
    /// Why everything inside is left out, if it is.
    gone: Option<Why>,
}

struct Walk<'d, 'i> {
    document: &'d Document<'i>,
    ids: BTreeMap<&'d str, Node<'d, 'i>>,
    sheet: Sheet,
    options: &'d ReadOptions,
    strokes: Vec<Stroke>,
    skipped: Losses,
    doubts: Vec<doubt::Doubt>,
    file: String,
    visited: usize,
    too_many: bool,
    paths: usize,
}

/// Walks a document: its strokes in mm; size, units, doubts and what was left out go into the drawing.
pub(super) fn walk(drawing: &mut Drawing, document: &Document<'_>, options: &ReadOptions) -> Vec<Stroke> {
    let root = document.root_element();
    let mut sheet = Sheet::default();
    for style in document.descendants().filter(|n| n.is_element() && n.tag_name().name() == "style") {
        for text in style.children().filter_map(|n| n.text()) {
            sheet.read(text);
        }
    }
    let mut ids = BTreeMap::new();
    for node in document.descendants().filter(Node::is_element) {
        if let Some(id) = node.attribute("id") {
            ids.entry(id).or_insert(node);
        }
    }
    let (map, measure) = page_of(drawing, root, options);
    let mut walk = Walk {
        document,
        ids,
        sheet,
        options,
        strokes: Vec::new(),
        skipped: Losses::default(),
        doubts: Vec::new(),
        file: drawing.file.clone(),
        visited: 0,
        too_many: false,
        paths: 0,
    };
    let style = Style::of(root, &Style::default(), &walk.sheet);
    let gone = style.is_gone().then_some(Why::Invisible);
    let around = Around { map, style, measure, names: Vec::new(), own: 0, depth: 0, uses: Vec::new(), gone };
    let around = Around { map: transform_of(root, &around.style).then(around.map), ..around };
    walk.children(root, &around);
    walk.report(drawing);
    walk.strokes
}

/// The page: its size in mm, the unit of its numbers, and the map from its user units to mm with y up.
fn page_of(drawing: &mut Drawing, root: Node<'_, '_>, options: &ReadOptions) -> (Affine, Measure) {
    let length = |name| root.attribute(name).and_then(|v| svgtypes::Length::from_str(v).ok());
    let usable = |l: &svgtypes::Length| {
        l.number.is_finite()
            && l.number > 0.0
            && !matches!(l.unit, LengthUnit::Percent | LengthUnit::Em | LengthUnit::Ex)
    };
    let (width, height) = (length("width").filter(usable), length("height").filter(usable));
    let view = page::view_box(root);
    let px = |l: svgtypes::Length| l.number * page::px_in(l.unit);
    // What isn't given follows the viewBox's proportions.
    let (w, h) = match (width.map(px), height.map(px), view) {
        (Some(w), Some(h), _) => (w, h),
        (Some(w), None, Some(v)) => (w, w * v.h / v.w),
        (None, Some(h), Some(v)) => (h * v.w / v.h, h),
        (None, None, Some(v)) => (v.w, v.h),
        // The size that the standard gives to a picture without one.
        (w, h, None) => (w.unwrap_or(300.0), h.unwrap_or(150.0)),
    };
    let user = view.map_or((w, h), |v| (v.w, v.h));
    let measure = Measure { width: user.0, height: user.1, font_size: 16.0 };
    let stated = [width, height].into_iter().flatten().find(|l| l.unit != LengthUnit::None && l.unit != LengthUnit::Px);
    let fit = view.map_or(Affine::IDENTITY, |v| page::fitted(root, v, w, h));
    if let Some(unit) = options.units {
        // One user unit is what was asked for, whatever size the page states.
        let mm = unit.in_mm();
        let word = crate::dxf::unit_name(unit).to_owned();
        if let Some(l) = stated.filter(|_| ((w * PX / user.0) - mm).abs() > 1e-9 * mm) {
            drawing.doubts.push(kinds::units_overridden(&drawing.file, page::unit_word(l.unit), &word));
        }
        drawing.units = Units { name: word, mm, from: UnitsFrom::Given };
        drawing.size = Some(Size { width: user.0 * mm, height: user.1 * mm });
        let corner = view.map_or(Point::default(), |v| Point::new(v.x, v.y));
        let map = Affine::shift(-corner).then(Affine { m: [mm, 0.0, 0.0, -mm, 0.0, user.1 * mm] });
        return (map, measure);
    }
    drawing.size = Some(Size { width: w * PX, height: h * PX });
    drawing.units = match stated {
        Some(l) => {
            Units { name: page::unit_word(l.unit).to_owned(), mm: page::px_in(l.unit) * PX, from: UnitsFrom::Stated }
        }
        None => Units { name: "px at 96 per inch".to_owned(), mm: PX, from: UnitsFrom::Assumed },
    };
    if stated.is_none() {
        let said = width.is_some() || height.is_some();
        drawing.doubts.push(kinds::size_assumed(&drawing.file, w * PX, h * PX, said));
    }
    if let (Some(v), Some(_), Some(_)) = (view, width, height)
        && (w / v.w - h / v.h).abs() > 1e-6 * (w / v.w)
    {
        drawing.doubts.push(kinds::aspect(&drawing.file, w / v.w, h / v.h));
    }
    (fit.then(Affine { m: [PX, 0.0, 0.0, -PX, 0.0, h * PX] }), measure)
}

/// The transform of an element, as attribute or style.
fn transform_of(node: Node<'_, '_>, style: &Style) -> Affine {
    style.get("transform").or_else(|| node.attribute("transform")).map_or(Affine::IDENTITY, |text| {
        // In style sheets angles and lengths carry units; `deg` and `px` are the attribute's own.
        let plain = text.replace("deg", "").replace("px", "");
        Transform::from_str(&plain).map_or(Affine::IDENTITY, |t| Affine { m: [t.a, t.b, t.c, t.d, t.e, t.f] })
    })
}

/// Own id, label and classes.
fn names_of(node: Node<'_, '_>) -> Vec<String> {
    let mut names = Vec::new();
    let label = node.attributes().find(|a| a.name() == "label" && a.namespace().is_some()).map(|a| a.value());
    let classes = node.attribute("class").unwrap_or("").split_whitespace();
    for name in node.attribute("id").into_iter().chain(label).chain(classes) {
        let name = name.trim();
        if !name.is_empty() && !names.iter().any(|n| n == name) {
            names.push(name.to_owned());
        }
    }
    names
}

fn with_names(mut own: Vec<String>, around: &[String]) -> Vec<String> {
    for name in around {
        if !own.contains(name) {
            own.push(name.clone());
        }
    }
    own
}

/// Effects that an element may refer to.
const EFFECTS: &[&str] = &["clip-path", "mask", "filter", "marker", "marker-start", "marker-mid", "marker-end"];

impl<'d, 'i> Walk<'d, 'i> {
    fn line(&self, node: Node<'_, '_>) -> usize {
        self.document.text_pos_at(node.range().start).row as usize
    }

    fn skip(&mut self, node: Node<'_, '_>, kind: &str, around: &Around, why: Why) {
        let own = names_of(node);
        let name = own.into_iter().next().or_else(|| around.names.first().cloned()).unwrap_or_default();
        let line = self.line(node);
        self.skipped.add(kind, &name, why, line, None);
    }

    fn children(&mut self, node: Node<'d, 'i>, around: &Around) {
        for child in node.children().filter(Node::is_element) {
            if self.too_many {
                return;
            }
            self.element(child, around);
        }
    }

    fn element(&mut self, node: Node<'d, 'i>, around: &Around) {
        self.visited += 1;
        if self.visited > MOST {
            self.too_many = true;
            return;
        }
        let name = node.tag_name().name();
        // Elements of other languages carry no geometry.
        if !matches!(node.tag_name().namespace(), None | Some("http://www.w3.org/2000/svg")) {
            return;
        }
        if around.depth >= DEEPEST {
            return self.skip(node, name, around, Why::TooDeep);
        }
        match name {
            // What they hold is drawn only where something refers to it.
            "defs" | "symbol" | "clipPath" | "mask" | "marker" | "pattern" | "linearGradient" | "radialGradient"
            | "filter" | "style" | "title" | "desc" | "metadata" | "script" | "view" | "cursor" | "font"
            | "font-face" | "color-profile" | "solidcolor" | "hatch" => return,
            _ => {}
        }
        let style = Style::of(node, &around.style, &self.sheet);
        let mut inner = Around { map: transform_of(node, &style).then(around.map), style, ..around.clone() };
        inner.depth += 1;
        if inner.style.is_gone() {
            inner.gone = inner.gone.or(Some(Why::Invisible));
        }
        if inner.gone.is_none() {
            self.effects(node, &inner);
        }
        match name {
            "g" | "a" | "switch" | "svg" => {
                inner.names = with_names(names_of(node), &around.names);
                inner.own = 0;
                if name == "svg" {
                    self.nested(node, &mut inner, None);
                }
                self.children(node, &inner);
            }
            "use" => self.reference(node, &inner),
            "text" => self.text(node, &inner),
            "image" | "foreignObject" | "video" | "audio" | "canvas" | "iframe" => {
                self.skip(node, name, &inner, inner.gone.unwrap_or(Why::NothingToCut));
            }
            _ if element::is_shape(name) => self.shape(node, &inner),
            "animate" | "animateTransform" | "animateMotion" | "set" | "animateColor" => {
                self.skip(node, name, &inner, Why::Effect);
            }
            _ => self.skip(node, name, &inner, inner.gone.unwrap_or(Why::Unknown)),
        }
    }

    /// Clips, masks, filters and markers in force here, and fills that are pictures of their own.
    fn effects(&mut self, node: Node<'d, 'i>, inner: &Around) {
        for &effect in EFFECTS {
            let value = inner.style.get(effect).unwrap_or("none");
            let inherited = effect.starts_with("marker") && !element::is_shape(node.tag_name().name());
            if value != "none" && !inherited {
                self.skip(node, effect, inner, Why::Effect);
            }
        }
        if element::is_shape(node.tag_name().name()) {
            for property in ["fill", "stroke"] {
                let id = inner.style.get(property).and_then(|v| v.strip_prefix("url(")).map(url_id);
                if let Some(target) = id.and_then(|id| self.ids.get(id).copied()) {
                    let kind = target.tag_name().name();
                    let why = if kind == "pattern" || kind == "hatch" { Why::Effect } else { Why::Paint };
                    self.skip(node, kind, inner, why);
                }
            }
        }
    }

    /// The box of a nested picture or symbol: its own place and size, or those of the reference.
    fn nested(&mut self, node: Node<'d, 'i>, inner: &mut Around, reference: Option<Node<'d, 'i>>) {
        let measure = inner.measure;
        let own = |name, of| measure.attribute(node, name, of);
        let size = |name, of, whole: f64| {
            reference.and_then(|r| measure.attribute(r, name, of)).or_else(|| own(name, of)).unwrap_or(whole)
        };
        let is_svg = node.tag_name().name() == "svg";
        let (x, y) =
            if is_svg { (own("x", Of::Width).unwrap_or(0.0), own("y", Of::Height).unwrap_or(0.0)) } else { (0.0, 0.0) };
        let (w, h) = (size("width", Of::Width, measure.width), size("height", Of::Height, measure.height));
        inner.map = Affine::shift(Point::new(x, y)).then(inner.map);
        if let Some(view) = page::view_box(node)
            && w > 0.0
            && h > 0.0
        {
            inner.map = page::fitted(node, view, w, h).then(inner.map);
            inner.measure = Measure { width: view.w, height: view.h, ..measure };
        } else {
            inner.measure = Measure { width: w, height: h, ..measure };
        }
    }

    fn reference(&mut self, node: Node<'d, 'i>, inner: &Around) {
        let href = node
            .attributes()
            .find(|a| a.name() == "href" && matches!(a.namespace(), None | Some("http://www.w3.org/1999/xlink")))
            .map(|a| a.value().trim());
        let target = href.and_then(|h| h.strip_prefix('#')).and_then(|id| self.ids.get(id).copied());
        let Some(target) = target else {
            return self.skip(node, "use", inner, Why::MissingReference);
        };
        if inner.uses.contains(&target.id()) || node.ancestors().any(|a| a == target) {
            return self.skip(node, "use", inner, Why::TooDeep);
        }
        let at = |name, of| inner.measure.attribute(node, name, of).unwrap_or(0.0);
        let shift = Point::new(at("x", Of::Width), at("y", Of::Height));
        let own = names_of(node);
        let mut inside = Around { map: Affine::shift(shift).then(inner.map), ..inner.clone() };
        inside.own = own.len();
        inside.names = with_names(own, &inner.names);
        inside.uses.push(target.id());
        match target.tag_name().name() {
            "symbol" | "svg" => {
                let style = Style::of(target, &inside.style, &self.sheet);
                inside.map = transform_of(target, &style).then(inside.map);
                inside.style = style;
                if inside.style.is_gone() {
                    inside.gone = inside.gone.or(Some(Why::Invisible));
                }
                inside.names = with_names(names_of(target), &inside.names);
                inside.own += names_of(target).len();
                self.nested(target, &mut inside, Some(node));
                self.children(target, &inside);
            }
            _ => self.element(target, &inside),
        }
    }

    fn shape(&mut self, node: Node<'d, 'i>, inner: &Around) {
        let kind = node.tag_name().name();
        let gone = inner.gone.or(inner.style.is_hidden().then_some(Why::Invisible));
        if let Some(why) = gone {
            return self.skip(node, kind, inner, why);
        }
        let shape = match element::shape(node, &inner.measure) {
            Ok(shape) => shape,
            Err(why) => return self.skip(node, kind, inner, why),
        };
        if let Some(what) = &shape.broken {
            let line = self.line(node);
            self.doubts.push(kinds::path_broken(&self.file, line, what));
        }
        let own = names_of(node);
        let own_names = own.len() + inner.own;
        let names = with_names(own, &inner.names);
        self.draw(node, &shape.traces, inner, (names, own_names));
    }

    /// A text as outlines, if its font was given.
    fn text(&mut self, node: Node<'d, 'i>, inner: &Around) {
        if let Some(why) = inner.gone.or(inner.style.is_hidden().then_some(Why::Invisible)) {
            return self.skip(node, "text", inner, why);
        }
        match text::outlines(node, &inner.style, &self.sheet, &inner.measure, &self.options.fonts) {
            Ok(traces) => {
                let own = names_of(node);
                let own_names = own.len() + inner.own;
                let names = with_names(own, &inner.names);
                // Letters fill by the font's rule, whatever the style says.
                let inner = Around { style: inner.style.with("fill-rule", "nonzero"), ..inner.clone() };
                self.draw(node, &traces, &inner, (names, own_names));
            }
            Err(why) => {
                let line = self.line(node);
                if why != NotSet::NoFont {
                    self.doubts.push(kinds::text_not_set(&self.file, line, &why.words()));
                }
                self.skip(node, "text", inner, Why::Text);
            }
        }
    }

    /// Adds traces in user units as strokes in mm.
    fn draw(&mut self, node: Node<'d, 'i>, traces: &[Trace], inner: &Around, (names, own_names): (Vec<String>, usize)) {
        let kind = node.tag_name().name();
        let (fills, strokes) = (inner.style.fills(), inner.style.strokes());
        let pen = strokes.then(|| Pen::of(&inner.style, &inner.measure, inner.map)).filter(|p| p.width > 0.0);
        let outlined = self.options.strokes == Strokes::Outlines && pen.is_some();
        let line = self.line(node);
        self.paths += 1;
        let own = own_names.min(names.len());
        let base = Stroke {
            group: names.join("\u{1}"),
            container: names[own..].join("\u{1}"),
            own_names: own,
            names,
            chain: crate::curve::Chain { vertices: Vec::new(), closed: false },
            elevation: None,
            thickness: None,
            width: pen.as_ref().map(|p| p.width),
            line,
            path: self.paths,
            rule: inner.style.rule(),
            filled: false,
            painted: fills || strokes,
        };
        let mut chains = Vec::new();
        for trace in traces {
            match trace.mapped(inner.map).chain() {
                Some(chain) => chains.push(chain),
                None => self.skip(node, kind, inner, Why::BadNumbers),
            }
        }
        if outlined && let Some(pen) = &pen {
            if pen.uneven {
                self.doubts.push(kinds::uneven_stroke(&self.file, line));
            }
            if inner.style.get("stroke-dasharray").is_some_and(|d| d != "none") {
                self.skip(node, "stroke-dasharray", inner, Why::Effect);
            }
            self.paths += 1;
            for contour in outline::outlines(&chains, pen) {
                let chain = crate::curve::Chain { vertices: contour.vertices, closed: true };
                let rule = plane::FillRule::NonZero;
                self.strokes.push(Stroke { chain, rule, path: self.paths, ..base.clone() });
            }
            if !fills {
                return;
            }
        }
        for chain in chains {
            let thin = chain.contour().area().abs() <= THIN * chain.length();
            // The default black fill of an open line fills nothing.
            let filled = fills && (chain.closed || !thin);
            if outlined && !filled {
                continue;
            }
            self.strokes.push(Stroke { chain, filled, ..base.clone() });
        }
    }

    fn report(&mut self, drawing: &mut Drawing) {
        drawing.skipped = std::mem::take(&mut self.skipped).listed(1.0);
        drawing.doubts.append(&mut self.doubts);
        for selector in std::mem::take(&mut self.sheet.not_understood) {
            drawing.doubts.push(kinds::style_not_understood(&drawing.file, &selector));
        }
        if self.too_many {
            drawing.doubts.push(kinds::too_many(&drawing.file, MOST, ""));
        }
        let listed = kinds::skipped(drawing);
        drawing.doubts.extend(listed);
    }
}

/// The id in what follows `url(`.
fn url_id(rest: &str) -> &str {
    rest.split(')').next().unwrap_or("").trim().trim_matches(['"', '\'']).trim_start_matches('#')
}
