//! Lettering as the plate file says it: every value checked for itself, nothing yet compared with font or drawing.

use crate::reading::{Reading, Said, Table};
use crate::schema;
use quantity::Length;
use std::ops::Range;
use toml::de::DeValue;

/// Texts are named by no more than this many letters.
const LONGEST_NAME: usize = 40;

/// `lettering = { … }`.
#[derive(Debug, Clone)]
pub(crate) struct LetteringSaid {
    pub(crate) text: Said<String>,
    pub(crate) font: Said<String>,
    /// From 1.
    pub(crate) font_face: u32,
    pub(crate) height: Said<Length>,
    pub(crate) spacing: Length,
    pub(crate) on: Option<Said<String>>,
    pub(crate) at: Option<Said<[Length; 2]>>,
    pub(crate) along: Option<Said<String>>,
    pub(crate) arc: Option<ArcSaid>,
    pub(crate) align: Option<Said<String>>,
    pub(crate) turn: Option<Said<f64>>,
    pub(crate) side: Option<Said<String>>,
    pub(crate) gap: Option<Said<Length>>,
    pub(crate) span: Range<usize>,
}

/// `arc = { … }`.
#[derive(Debug, Clone)]
pub(crate) struct ArcSaid {
    pub(crate) centre: Option<[Length; 2]>,
    pub(crate) radius: Length,
    /// Degrees.
    pub(crate) middle: f64,
    pub(crate) span: Range<usize>,
}

impl LetteringSaid {
    /// As messages and sheets name it.
    pub(crate) fn name(&self) -> String {
        let text = &self.text.value;
        if text.chars().count() <= LONGEST_NAME {
            return text.clone();
        }
        text.chars().take(LONGEST_NAME - 1).chain(['…']).collect()
    }

    /// Names of the drawing that it stands in or runs along.
    pub(crate) fn names(&self) -> impl Iterator<Item = &Said<String>> {
        self.on.iter().chain(&self.along)
    }
}

/// The lettering under a key of an area: none, one, or a list. Fonts named are added to `fonts`.
pub(crate) fn of_area(
    reading: &mut Reading<'_>,
    area: &Table<'_>,
    key: &str,
    fonts: &mut Vec<Said<String>>,
) -> Option<Vec<LetteringSaid>> {
    let Some(value) = reading.form(area, key) else { return Some(Vec::new()) };
    let items = match value.get_ref() {
        DeValue::Array(items) if !items.is_empty() => items.iter().collect(),
        DeValue::Table(_) => vec![value],
        _ => {
            reading.no_form(area, key, value);
            return None;
        }
    };
    let mut all = Vec::new();
    for item in items {
        let DeValue::Table(entries) = item.get_ref() else {
            reading.no_form(area, key, item);
            all.push(None);
            continue;
        };
        let table = reading.table(&schema::LETTERING, entries, item.span());
        all.push(one(reading, &table, fonts));
    }
    all.into_iter().collect()
}

fn one(reading: &mut Reading<'_>, t: &Table<'_>, fonts: &mut Vec<Said<String>>) -> Option<LetteringSaid> {
    let [text, font, on, along] = ["text", "font", "on", "along"].map(|k| reading.text(t, k));
    fonts.extend(font.clone());
    let (font_face, spacing) = (reading.whole_or(t, "font_face"), reading.length_or(t, "spacing"));
    let [height, gap] = ["height", "gap"].map(|k| reading.length(t, k));
    let at = reading.lengths(t, "at");
    let arc = reading.inner(t, "arc", &schema::ARC).and_then(|inner| arc(reading, &inner));
    let [align, side] = ["align", "side"].map(|k| reading.word(t, k));
    let turn = reading.number(t, "turn");
    let optional = [
        ("on", on.is_some()),
        ("along", along.is_some()),
        ("at", at.is_some()),
        ("arc", arc.is_some()),
        ("align", align.is_some()),
        ("side", side.is_some()),
        ("turn", turn.is_some()),
        ("gap", gap.is_some()),
    ];
    if optional.iter().any(|(key, read)| t.has(key) && !read) {
        return None;
    }
    Some(LetteringSaid {
        text: text?,
        font: font?,
        font_face: font_face?,
        height: height?,
        spacing: spacing?,
        on,
        at: match at {
            Some(at) => Some(Said { value: at.value.try_into().ok()?, span: at.span }),
            None => None,
        },
        along,
        arc,
        align,
        turn,
        side,
        gap,
        span: t.span.clone(),
    })
}

fn arc(reading: &mut Reading<'_>, t: &Table<'_>) -> Option<ArcSaid> {
    let centre = reading.lengths(t, "centre");
    let (radius, middle) = (reading.length(t, "radius"), reading.number_or(t, "middle"));
    if t.has("centre") && centre.is_none() {
        return None;
    }
    let centre = match centre {
        Some(centre) => Some(centre.value.try_into().ok()?),
        None => None,
    };
    Some(ArcSaid { centre, radius: radius?.value, middle: middle?, span: t.span.clone() })
}
