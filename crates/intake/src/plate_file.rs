//! The plate file as said: every value checked for itself, nothing yet compared with the shop or the drawing.

use crate::kinds::FORM_UNCLEAR;
use crate::lettering_said::{self, LetteringSaid};
use crate::reading::{Reading, Said, Table};
use crate::schema::{self, Section};
use plane::Point;
use plate::{EdgeProfile, Held, Narrow, Tabs};
use quantity::{Length, Unit};
use reckon::margin::Thickness;
use reckon::wedge;
use std::ops::Range;
use toml::de::DeValue;

/// Where the drawing lies on the blank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Placing {
    AsDrawn,
    Centred,
    Shift([Length; 2]),
}

/// A cutter as the plate file names it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum CutterName {
    Number(i64),
    Name(String),
}

/// Files that the plate file names, readable even where the rest of it is not.
#[derive(Debug, Clone, Default)]
pub(crate) struct Named {
    pub(crate) drawing: Option<Said<String>>,
    pub(crate) shop: Option<Said<String>>,
    pub(crate) fonts: Vec<Said<String>>,
    /// Fonts of lettering, as often as they are named.
    pub(crate) letter_fonts: Vec<Said<String>>,
    pub(crate) drawing_units: Option<Unit>,
    pub(crate) close_gaps: Option<Length>,
    pub(crate) outlines: bool,
}

/// `plate.toml`.
#[derive(Debug, Clone)]
pub(crate) struct PlateFile {
    pub(crate) title: String,
    pub(crate) scale: f64,
    pub(crate) place: Placing,
    pub(crate) cutters: Option<Vec<Said<CutterName>>>,
    pub(crate) margin: Length,
    pub(crate) blank: BlankSaid,
    pub(crate) areas: Vec<AreaSaid>,
    pub(crate) outline: Option<OutlineSaid>,
    pub(crate) holds: Vec<HoldSaid>,
}

#[derive(Debug, Clone)]
pub(crate) struct BlankSaid {
    pub(crate) size: Said<[Length; 2]>,
    pub(crate) layers: Vec<LayerSaid>,
    pub(crate) bond: Length,
    pub(crate) bond_spread: Length,
    pub(crate) bow: Length,
    pub(crate) micrometer: Length,
    pub(crate) total: Option<Said<Vec<Length>>>,
    /// Points in mm and the thickness there.
    pub(crate) points: Option<Said<Vec<wedge::Reading>>>,
    /// Masking film of one side.
    pub(crate) film: Thickness,
    /// Sides of the bonded blank that had film when it was measured.
    pub(crate) total_film: u32,
    pub(crate) under: Vec<UnderSaid>,
    pub(crate) into_table: Length,
}

#[derive(Debug, Clone)]
pub(crate) struct LayerSaid {
    pub(crate) sheet: Said<String>,
    pub(crate) measured: Option<Said<Vec<Length>>>,
    /// Sides that had film when it was measured.
    pub(crate) film: u32,
}

#[derive(Debug, Clone)]
pub(crate) struct UnderSaid {
    pub(crate) name: String,
    pub(crate) thickness: Length,
    pub(crate) spread: Length,
}

#[derive(Debug, Clone)]
pub(crate) enum FloorSaid {
    Shows(Said<String>),
    BelowFace(Length),
    AboveTable(Length),
    Through,
}

#[derive(Debug, Clone)]
pub(crate) struct AreaSaid {
    pub(crate) on: Vec<Said<String>>,
    pub(crate) lettering: Vec<LetteringSaid>,
    pub(crate) keep: Vec<Said<String>>,
    pub(crate) keep_lettering: Vec<LetteringSaid>,
    pub(crate) floor: FloorSaid,
    pub(crate) floor_span: Range<usize>,
    pub(crate) narrow: Narrow,
    pub(crate) edge: EdgeProfile,
    pub(crate) seamless: bool,
    pub(crate) held: Held,
    pub(crate) held_span: Range<usize>,
    pub(crate) span: Range<usize>,
    pub(crate) line: usize,
}

impl AreaSaid {
    /// As messages and sheets name it: `field + moon + KESTREL HILL`.
    pub(crate) fn name(&self) -> String {
        let texts = self.lettering.iter().map(LetteringSaid::name);
        self.on.iter().map(|n| n.value.clone()).chain(texts).collect::<Vec<_>>().join(" + ")
    }

    /// Its letters, cut and kept.
    pub(crate) fn all_lettering(&self) -> impl Iterator<Item = &LetteringSaid> {
        self.lettering.iter().chain(&self.keep_lettering)
    }
}

#[derive(Debug, Clone)]
pub(crate) struct OutlineSaid {
    pub(crate) within: Vec<Said<String>>,
    pub(crate) held: Held,
    pub(crate) held_span: Range<usize>,
    pub(crate) span: Range<usize>,
    pub(crate) line: usize,
}

#[derive(Debug, Clone)]
pub(crate) struct HoldSaid {
    pub(crate) kind: Said<String>,
    pub(crate) at: [Length; 2],
    pub(crate) size: Option<Said<[Length; 2]>>,
    pub(crate) height: Option<Length>,
    pub(crate) turn: f64,
    pub(crate) span: Range<usize>,
}

/// Reads the plate file's root table.
pub(crate) fn read(reading: &mut Reading<'_>, top: &Table<'_>) -> (Named, Option<PlateFile>) {
    if let Some(unit) = reading.word_or(top, "units").as_deref().and_then(Unit::named) {
        reading.set_unit(unit);
    }
    let title = reading.text(top, "title");
    let mut named = named(reading, top);
    let scale = reading.number_or(top, "scale");
    let place = placing(reading, top);
    let cutters = cutters(reading, top);
    let margin = reading.length_or(top, "margin");
    let blank = reading.inner(top, "blank", &schema::BLANK).and_then(|t| blank(reading, &t));
    let areas = reading.inner_list(top, "area", &schema::AREA);
    let areas: Vec<_> = areas.iter().map(|t| area(reading, t, &mut named.letter_fonts)).collect();
    let outline = reading.inner(top, "plate", &schema::OUTLINE).map(|t| outline(reading, &t));
    let holds = reading.inner_list(top, "hold", &schema::HOLD);
    let holds: Vec<_> = holds.iter().map(|t| hold(reading, t)).collect();
    let whole = || {
        Some(PlateFile {
            title: title?.value,
            scale: scale?,
            place: place?,
            cutters: cutters?,
            margin: margin?,
            blank: blank?,
            areas: areas.into_iter().collect::<Option<_>>()?,
            outline: match outline {
                Some(outline) => Some(outline?),
                None => None,
            },
            holds: holds.into_iter().collect::<Option<_>>()?,
        })
    };
    (named, whole())
}

fn named(reading: &mut Reading<'_>, top: &Table<'_>) -> Named {
    Named {
        drawing: reading.text(top, "drawing"),
        shop: reading.text(top, "shop"),
        fonts: reading.names(top, "fonts").map(|f| f.value).unwrap_or_default(),
        letter_fonts: Vec::new(),
        drawing_units: reading.word(top, "drawing_units").and_then(|w| Unit::named(&w.value)),
        close_gaps: reading.length_or(top, "close_gaps"),
        outlines: reading.word_or(top, "strokes").as_deref() == Some("outlines"),
    }
}

fn placing(reading: &mut Reading<'_>, top: &Table<'_>) -> Option<Placing> {
    let Some(value) = reading.form(top, "place") else { return Some(Placing::AsDrawn) };
    match value.get_ref() {
        DeValue::String(word) if word == "as drawn" => Some(Placing::AsDrawn),
        DeValue::String(word) if word == "centred" => Some(Placing::Centred),
        DeValue::Array(_) => {
            let shift = reading.form_lengths(top, "place", value, (2, -100_000.0, 100_000.0))?;
            Some(Placing::Shift(shift.try_into().ok()?))
        }
        _ => {
            reading.no_form(top, "place", value);
            None
        }
    }
}

/// `Some(None)` for all cutters of the shop.
#[expect(clippy::option_option, reason = "wrong, left out and given are three cases")]
fn cutters(reading: &mut Reading<'_>, top: &Table<'_>) -> Option<Option<Vec<Said<CutterName>>>> {
    let Some(value) = reading.form(top, "cutters") else { return Some(None) };
    let items = match value.get_ref() {
        DeValue::Array(items) if !items.is_empty() => items,
        _ => {
            reading.no_form(top, "cutters", value);
            return None;
        }
    };
    let mut found = Vec::new();
    for item in items {
        let name = match item.get_ref() {
            DeValue::String(name) => CutterName::Name(name.trim().to_owned()),
            DeValue::Integer(n) => CutterName::Number(i64::from_str_radix(n.as_str(), n.radix()).unwrap_or(-1)),
            _ => {
                reading.no_form(top, "cutters", item);
                return None;
            }
        };
        found.push(Said { value: name, span: item.span() });
    }
    Some(Some(found))
}

fn blank(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<BlankSaid> {
    let size = reading.lengths(t, "size");
    let layers = reading.inner_list(t, "layers", &schema::LAYER);
    let layers: Vec<Option<LayerSaid>> = layers
        .iter()
        .map(|l| {
            let (sheet, measured) = (reading.text(l, "sheet"), reading.lengths(l, "measured"));
            let film = film(reading, l, "film");
            if l.has("measured") && measured.is_none() {
                return None;
            }
            Some(LayerSaid { sheet: sheet?, measured, film: film? })
        })
        .collect();
    // A bond is only there between two layers.
    let bonded = layers.len() > 1;
    let optional = |reading: &mut Reading<'_>, key: &str| {
        if bonded || t.has(key) { reading.length_or(t, key) } else { Some(Length::ZERO) }
    };
    let (bond, bond_spread) = (optional(reading, "bond"), optional(reading, "bond_spread"));
    let [bow, micrometer, into_table] = ["bow", "micrometer_error", "into_table"].map(|k| reading.length_or(t, k));
    let total = reading.lengths(t, "measured_total");
    let points = points(reading, t)?;
    let total_film = film(reading, t, "total_film");
    let [film, film_spread] = ["film", "film_spread"].map(|k| reading.length_or(t, k));
    let under = reading.inner_list(t, "under", &schema::UNDER);
    let under: Vec<Option<UnderSaid>> = under
        .iter()
        .map(|u| {
            let (name, thickness) = (reading.text(u, "name"), reading.length(u, "thickness"));
            let spread = reading.length_or(u, "spread");
            Some(UnderSaid { name: name?.value, thickness: thickness?.value, spread: spread? })
        })
        .collect();
    let size = size?;
    let layers: Vec<LayerSaid> = layers.into_iter().collect::<Option<_>>()?;
    if layers.is_empty() {
        return None;
    }
    Some(BlankSaid {
        size: Said { value: size.value.try_into().ok()?, span: size.span },
        layers,
        bond: bond?,
        bond_spread: bond_spread?,
        bow: bow?,
        micrometer: micrometer?,
        total,
        points,
        film: Thickness { mean: film?, spread: film_spread? },
        total_film: total_film?,
        under: under.into_iter().collect::<Option<_>>()?,
        into_table: into_table?,
    })
}

/// How many sides had masking film.
fn film(reading: &mut Reading<'_>, t: &Table<'_>, key: &str) -> Option<u32> {
    reading.word_or(t, key).map(|word| match word.as_str() {
        "one side" => 1,
        "both sides" => 2,
        _ => 0,
    })
}

/// Readings at points; `Some(None)` where there are none.
#[expect(clippy::option_option, reason = "wrong, left out and given are three cases")]
fn points(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<Option<Said<Vec<wedge::Reading>>>> {
    let Some(value) = reading.form(t, "measured_at") else { return Some(None) };
    if t.has("measured_total") {
        let doubt = FORM_UNCLEAR
            .refusal("[blank] has both `measured_total` and `measured_at`")
            .way_out("give one of them; `measured_at` tells more");
        reading.doubt(doubt, t.key_span("measured_at"));
        return None;
    }
    let items = match value.get_ref() {
        DeValue::Array(items) if !items.is_empty() => items,
        _ => {
            reading.no_form(t, "measured_at", value);
            return None;
        }
    };
    let mut found = Vec::new();
    for item in items {
        let three = reading.form_lengths(t, "measured_at", item, (3, 0.0, 10_000.0))?;
        let [x, y, thickness] = three.try_into().ok()?;
        if !(0.1..=200.0).contains(&Length::to_mm(thickness)) {
            reading.no_form(t, "measured_at", item);
            return None;
        }
        found.push(wedge::Reading { at: Point::new(x.to_mm(), y.to_mm()), thickness });
    }
    Some(Some(Said { value: found, span: value.span() }))
}

fn area(reading: &mut Reading<'_>, t: &Table<'_>, fonts: &mut Vec<Said<String>>) -> Option<AreaSaid> {
    let [on, keep] = ["on", "keep"].map(|k| reading.names(t, k));
    let [lettering, keep_lettering] =
        ["lettering", "keep_lettering"].map(|k| lettering_said::of_area(reading, t, k, fonts));
    if !t.has("on") && !t.has("lettering") {
        reading.lacks(t, "on");
    }
    let floor = floor(reading, t);
    let edge = edge(reading, t);
    let narrow = narrow(reading, t);
    let seamless = reading.flag(t, "seamless");
    let held = match reading.form(t, "held_by") {
        None => Some(Held::Cleared),
        Some(value) => match value.get_ref() {
            DeValue::String(word) if word == "clearing" => Some(Held::Cleared),
            DeValue::Table(entries) => {
                let inner = reading.table(&schema::HELD, entries, value.span());
                held(reading, &inner)
            }
            _ => {
                reading.no_form(t, "held_by", value);
                None
            }
        },
    };
    let (floor, floor_span) = floor?;
    if t.has("held_by") && !matches!(floor, FloorSaid::Through) {
        let doubt = FORM_UNCLEAR
            .refusal("`held_by` is only for a floor that goes through")
            .way_out("take `held_by` out, or say `floor = \"through\"`");
        reading.doubt(doubt, t.key_span("held_by"));
    }
    let leans = edge.is_some_and(|e| e != EdgeProfile::Upright);
    if leans && matches!(floor, FloorSaid::Through) {
        let doubt = FORM_UNCLEAR
            .refusal("walls that lean end at a floor, but this area goes through")
            .way_out("say `edge = \"upright\"`, or give a `floor` with a height");
        reading.doubt(doubt, t.key_span("edge"));
    }
    if ["on", "keep"].into_iter().zip([&on, &keep]).any(|(key, value)| t.has(key) && value.is_none()) {
        return None;
    }
    let (on, lettering) = (on.map(|o| o.value).unwrap_or_default(), lettering?);
    if on.is_empty() && lettering.is_empty() {
        return None;
    }
    Some(AreaSaid {
        span: t.key_span(if on.is_empty() { "lettering" } else { "on" }),
        on,
        lettering,
        keep: keep.map(|k| k.value).unwrap_or_default(),
        keep_lettering: keep_lettering?,
        floor,
        floor_span,
        narrow: narrow?,
        edge: edge?,
        seamless: seamless?,
        held: held?,
        held_span: t.key_span("held_by"),
        line: reading.line(t.span.start),
    })
}

fn narrow(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<Narrow> {
    let said = reading.word(t, "narrow");
    match said.as_ref().map(|s| s.value.as_str()) {
        Some("refuse") => Some(Narrow::Refused),
        Some("leave") => Some(Narrow::Left),
        Some("centre line") => Some(Narrow::CentreLine),
        Some(_) => None,
        None => (!t.has("narrow")).then_some(Narrow::ByHand),
    }
}

fn floor(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<(FloorSaid, Range<usize>)> {
    let value = reading.form(t, "floor")?;
    let span = value.span();
    let entries = match value.get_ref() {
        DeValue::String(word) if word == "through" => return Some((FloorSaid::Through, span)),
        DeValue::Table(entries) => entries,
        _ => {
            reading.no_form(t, "floor", value);
            return None;
        }
    };
    let inner = reading.table(&schema::FLOOR, entries, span.clone());
    let shows = reading.text(&inner, "shows").map(FloorSaid::Shows);
    let below = reading.length(&inner, "below_face").map(|d| FloorSaid::BelowFace(d.value));
    let above = reading.length(&inner, "above_table").map(|h| FloorSaid::AboveTable(h.value));
    one_of(reading, &inner, &schema::FLOOR, &["shows", "below_face", "above_table"])?;
    Some((shows.or(below).or(above)?, span))
}

/// How walls stand.
fn edge(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<EdgeProfile> {
    let Some(value) = reading.form(t, "edge") else { return Some(EdgeProfile::Upright) };
    let entries = match value.get_ref() {
        DeValue::String(word) if word == "upright" => return Some(EdgeProfile::Upright),
        DeValue::Table(entries) => entries,
        _ => {
            reading.no_form(t, "edge", value);
            return None;
        }
    };
    let inner = reading.table(&schema::EDGE, entries, value.span());
    let follows = reading.angle(&inner, "follows_width").map(|a| EdgeProfile::FollowsWidth(a.value));
    let slope = reading.angle(&inner, "slope").map(|a| EdgeProfile::Sloped(a.value));
    one_of(reading, &inner, &schema::EDGE, &["follows_width", "slope"])?;
    follows.or(slope)
}

fn held(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<Held> {
    let tabs = reading.whole(t, "tabs");
    let (length, left) = (reading.length_or(t, "length"), reading.length_or(t, "left"));
    let skin = reading.length(t, "skin").map(|s| Held::Skin(s.value));
    let by = reading.text(t, "by").map(|b| Held::Stated(b.value));
    let way = one_of(reading, t, &schema::HELD, &["tabs", "skin", "by"])?;
    for key in ["length", "left"].into_iter().filter(|k| way != "tabs" && t.has(k)) {
        let doubt = FORM_UNCLEAR
            .refusal(format!("`{key}` belongs to `tabs`, not to `{way}`"))
            .way_out("take it out, or hold it by tabs");
        reading.doubt(doubt, t.key_span(key));
    }
    match way {
        "tabs" => Some(Held::Tabs(Tabs { count: tabs?.value, length: length?, left: left? })),
        "skin" => skin,
        _ => by,
    }
}

/// Which one of several keys is there; a doubt if it is none or more than one.
fn one_of(
    reading: &mut Reading<'_>,
    t: &Table<'_>,
    section: &'static Section,
    keys: &[&'static str],
) -> Option<&'static str> {
    let there: Vec<&'static str> = keys.iter().copied().filter(|k| t.has(k)).collect();
    if let [one] = there.as_slice() {
        return Some(one);
    }
    let all = keys.iter().map(|k| format!("`{k}`")).collect::<Vec<_>>().join(", ");
    let said = if there.is_empty() { "says nothing".to_owned() } else { format!("says {} things", there.len()) };
    let doubt = FORM_UNCLEAR
        .refusal(format!("`{}` {said}; it takes exactly one of {all}", section.title))
        .way_out(format!("write it as in `{}`", section.key(keys[0]).map_or("", |k| k.example)));
    reading.doubt(doubt, t.span.clone());
    None
}

fn outline(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<OutlineSaid> {
    let within = reading.names(t, "within");
    let held = match reading.form(t, "held_by") {
        None => {
            let tabs = schema::HELD.key("length").zip(schema::HELD.key("left"));
            let length = |k: &schema::Key| match k.left_out {
                schema::LeftOut::Means(text) => Length::parse(text, Unit::Millimetre).ok(),
                _ => None,
            };
            tabs.and_then(|(l, h)| Some(Held::Tabs(Tabs { count: 4, length: length(l)?, left: length(h)? })))
        }
        Some(value) => match value.get_ref() {
            DeValue::String(word) if word == "nothing" => Some(Held::Nothing),
            DeValue::Table(entries) => {
                let inner = reading.table(&schema::HELD, entries, value.span());
                held(reading, &inner)
            }
            _ => {
                reading.no_form(t, "held_by", value);
                None
            }
        },
    };
    Some(OutlineSaid {
        within: within?.value,
        held: held?,
        held_span: t.key_span("held_by"),
        line: reading.line(t.span.start),
        span: t.key_span("within"),
    })
}

fn hold(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<HoldSaid> {
    let (kind, at) = (reading.text(t, "kind"), reading.lengths(t, "at"));
    let (size, height) = (reading.lengths(t, "size"), reading.length(t, "height"));
    let turn = reading.number_or(t, "turn");
    if (t.has("size") && size.is_none()) || (t.has("height") && height.is_none()) {
        return None;
    }
    let size = match size {
        Some(size) => Some(Said { value: size.value.try_into().ok()?, span: size.span }),
        None => None,
    };
    Some(HoldSaid {
        kind: kind?,
        at: at?.value.try_into().ok()?,
        size,
        height: height.map(|h| h.value),
        turn: turn?,
        span: t.key_span("at"),
    })
}
