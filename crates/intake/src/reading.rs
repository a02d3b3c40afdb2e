//! Reading one TOML file with exact places: every value is fetched by key through the [`schema`](crate::schema),
//! checked once, and every problem is collected rather than the first only.
//!
//! A getter gives `None` both for a key that is left out and for a value that is wrong; only the second adds a
//! doubt. Values that the schema assumes are collected and said.

use crate::kinds::{ASSUMED, FILE_SYNTAX, MISSING_KEY, OUT_OF_RANGE, UNKNOWN_KEY, WRONG_TYPE};
use crate::schema::{Key, LeftOut, Section, Takes};
use doubt::{Doubt, Place, nearest};
use quantity::{Angle, Feed, Length, Speed, Unit, trimmed};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

type Value<'t> = Spanned<DeValue<'t>>;

/// A value and where it was said (byte offsets).
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Said<T> {
    pub(crate) value: T,
    pub(crate) span: Range<usize>,
}

/// A file being read.
pub(crate) struct Reading<'s> {
    file: &'s str,
    text: &'s str,
    unit: Unit,
    doubts: Vec<Doubt>,
    /// Offsets at which the text is not TOML.
    broken: Vec<usize>,
    /// Values assumed: section, key and what.
    assumed: Vec<(&'static str, &'static Key, &'static str)>,
}

/// Errors of syntax this few lines after the last one are taken to follow from it.
const FOLLOWS: usize = 3;

/// A table of the file.
#[derive(Clone)]
pub(crate) struct Table<'t> {
    section: &'static Section,
    entries: &'t DeTable<'t>,
    /// Where it is.
    pub(crate) span: Range<usize>,
}

impl<'s> Reading<'s> {
    /// The file's root table, as much of it as can be read.
    pub(crate) fn parse(file: &'s str, text: &'s str) -> (Self, Spanned<DeTable<'s>>) {
        let (root, errors) = DeTable::parse_recoverable(text);
        let mut reading =
            Self { file, text, unit: Unit::Millimetre, doubts: Vec::new(), broken: Vec::new(), assumed: Vec::new() };
        let mut found: Vec<(Range<usize>, &str)> =
            errors.iter().map(|e| (e.span().unwrap_or(0..0), e.message())).collect();
        found.sort_by_key(|(span, _)| span.start);
        let mut last_line = None;
        for (span, message) in found {
            let line = reading.line(span.start);
            reading.broken.push(span.start);
            // One open bracket makes every line after it an error; the first of them is the one to mend.
            let follows = last_line.is_some_and(|last| line - last <= FOLLOWS);
            last_line = Some(line);
            if follows {
                continue;
            }
            let doubt = FILE_SYNTAX.refusal(format!("this is not TOML: {message}")).way_out(
                "keys are written as `key = value`, texts between double quotes, lists between [ and ]; \
                    look for a bracket or quote left open on the lines before as well",
            );
            reading.doubts.push(doubt.at(reading.place(span)));
        }
        (reading, root)
    }

    /// All doubts, once nothing more is read. Where the file is broken, what seems missing may only be hidden, and
    /// a value that holds the break was not read as meant, so these are left out.
    pub(crate) fn finish(mut self) -> Vec<Doubt> {
        if self.broken.is_empty() {
            self.say_assumed();
            return self.doubts;
        }
        let broken = self.broken;
        let file = self.file;
        let keep = |d: &Doubt| {
            let holds_break = d.places.iter().any(|p| match p {
                Place::File { file: f, span, .. } if f == file => broken.iter().any(|b| span.contains(b)),
                _ => false,
            });
            d.id == FILE_SYNTAX.id || (d.id != MISSING_KEY.id && !holds_break)
        };
        self.doubts.into_iter().filter(keep).collect()
    }

    /// One note for each table that leaves something out.
    fn say_assumed(&mut self) {
        let mut assumed = std::mem::take(&mut self.assumed);
        assumed.dedup_by_key(|(title, key, _)| (*title, key.name));
        while let Some(&(title, ..)) = assumed.first() {
            let (these, rest): (Vec<_>, Vec<_>) = assumed.into_iter().partition(|(t, ..)| *t == title);
            assumed = rest;
            let mut seen: Vec<&str> = Vec::new();
            let mut values = Vec::new();
            let mut examples = Vec::new();
            for (_, key, value) in these {
                if !seen.contains(&key.name) {
                    seen.push(key.name);
                    values.push(format!("`{}` {value} ({})", key.name, key.says));
                    examples.push(format!("`{}`", key.example.replace('\n', " ")));
                }
            }
            let doubt = ASSUMED
                .note(format!("not said of {title}, so assumed: {}", values.join("; ")))
                .at(Place::file(self.file))
                .way_out(format!("state what you know better, for example {}", examples.join(", ")));
            self.doubts.push(doubt);
        }
    }

    /// A place in this file.
    pub(crate) fn place(&self, span: Range<usize>) -> Place {
        Place::span(self.file, self.text, span)
    }

    /// The line of an offset, from 1.
    pub(crate) fn line(&self, offset: usize) -> usize {
        self.text.as_bytes().iter().take(offset).filter(|&&b| b == b'\n').count() + 1
    }

    /// Adds a doubt about a piece of this file.
    pub(crate) fn doubt(&mut self, doubt: Doubt, span: Range<usize>) {
        let place = self.place(span);
        self.doubts.push(doubt.at(place));
    }

    /// Adds a doubt that has its places already.
    pub(crate) fn add(&mut self, doubt: Doubt) {
        self.doubts.push(doubt);
    }

    /// The unit of numbers without one.
    pub(crate) fn set_unit(&mut self, unit: Unit) {
        self.unit = unit;
    }

    /// Checks a table's keys against its section.
    pub(crate) fn table<'t>(
        &mut self,
        section: &'static Section,
        entries: &'t DeTable<'t>,
        span: Range<usize>,
    ) -> Table<'t> {
        for key in entries.keys() {
            let name: &str = key.get_ref();
            if section.key(name).is_none() {
                let all = section.names().map(|n| format!("`{n}`")).collect::<Vec<_>>().join(", ");
                let way_out = match nearest(name, section.names()) {
                    Some(near) => format!("did you mean `{near}`? {} knows {all}", section.title),
                    None => format!("take it out; {} knows {all}", section.title),
                };
                let doubt = UNKNOWN_KEY.refusal(format!("`{name}` is not a key of {}", section.title));
                self.doubt(doubt.way_out(way_out), key.span());
            }
        }
        Table { section, entries, span }
    }

    fn entry<'t>(&mut self, table: &Table<'t>, name: &str) -> (&'static Key, Option<&'t Value<'t>>) {
        let Some(key) = table.section.key(name) else { unreachable!("the schema knows every key asked for: {name}") };
        (key, table.entries.get(name))
    }

    /// Says that a key is missing.
    fn missing(&mut self, table: &Table<'_>, key: &'static Key) {
        let doubt = MISSING_KEY
            .refusal(format!("{} has no `{}`: {}", table.section.title, key.name, key.says))
            .way_out(format!("add it, for example `{}`", key.example.replace('\n', " ")));
        // A table may span many lines: its first line is enough to find it.
        let end = self
            .text
            .get(table.span.clone())
            .and_then(|t| t.find('\n'))
            .map_or(table.span.end, |n| table.span.start + n);
        let at = if table.entries.is_empty() && table.span.is_empty() || table.section.title.starts_with("the ") {
            Place::file(self.file)
        } else {
            self.place(table.span.start..end)
        };
        self.doubts.push(doubt.at(at));
    }

    fn wrong_type(&mut self, table: &Table<'_>, key: &'static Key, value: &Value<'_>, takes: &str) {
        let doubt = WRONG_TYPE
            .refusal(format!(
                "`{}` in {} takes {takes}, not {}",
                key.name,
                table.section.title,
                a_kind(value.get_ref())
            ))
            .way_out(format!("write it as in `{}`", key.example.replace('\n', " ")));
        self.doubt(doubt, value.span());
    }

    fn out_of_range(&mut self, table: &Table<'_>, key: &'static Key, shown: String, takes: &str, span: Range<usize>) {
        let doubt = OUT_OF_RANGE
            .refusal(format!("`{}` in {} is {shown}; it takes {takes}", key.name, table.section.title))
            .way_out(format!("give {takes}, as in `{}`", key.example.replace('\n', " ")));
        self.doubt(doubt, span);
    }

    /// A value by key with one of the checks below; a key that is left out is a doubt if it is needed.
    fn get<T>(
        &mut self,
        table: &Table<'_>,
        name: &str,
        check: impl Fn(&mut Self, &Table<'_>, &'static Key, &Value<'_>) -> Option<T>,
    ) -> Option<Said<T>> {
        let (key, value) = self.entry(table, name);
        match value {
            Some(value) => check(self, table, key, value).map(|v| Said { value: v, span: value.span() }),
            None => {
                if matches!(key.left_out, LeftOut::Needed) {
                    self.missing(table, key);
                }
                None
            }
        }
    }

    /// As [`get`](Self::get), with the schema's own value where the key is left out. `None` where the value is wrong.
    fn get_or_default<T>(
        &mut self,
        table: &Table<'_>,
        name: &str,
        check: impl Fn(&mut Self, &Table<'_>, &'static Key, &Value<'_>) -> Option<T>,
    ) -> Option<T> {
        let (key, value) = self.entry(table, name);
        if let Some(value) = value {
            return check(self, table, key, value);
        }
        let text = match key.left_out {
            LeftOut::Needed => {
                self.missing(table, key);
                return None;
            }
            LeftOut::Assumed(text) => {
                self.assumed.push((table.section.title, key, text));
                text
            }
            LeftOut::Means(text) => text,
            LeftOut::Then(_) => return None,
        };
        // Lists, numbers and flags are TOML as they stand; anything else is a text.
        let parsed = DeValue::parse(text).unwrap_or_else(|_| Spanned::new(0..0, DeValue::String(text.into())));
        // The schema's lengths carry their unit or are plain mm, whatever unit the file counts in.
        let unit = std::mem::replace(&mut self.unit, Unit::Millimetre);
        let found = check(self, table, key, &parsed);
        self.unit = unit;
        found
    }

    /// A text that isn't empty.
    pub(crate) fn text(&mut self, table: &Table<'_>, name: &str) -> Option<Said<String>> {
        self.get(table, name, Self::a_text)
    }

    /// A text or the schema's.
    pub(crate) fn text_or(&mut self, table: &Table<'_>, name: &str) -> Option<String> {
        self.get_or_default(table, name, Self::a_text)
    }

    /// One of the schema's words.
    pub(crate) fn word(&mut self, table: &Table<'_>, name: &str) -> Option<Said<String>> {
        self.get(table, name, Self::a_word)
    }

    /// One of the schema's words, or the one that it means when left out.
    pub(crate) fn word_or(&mut self, table: &Table<'_>, name: &str) -> Option<String> {
        self.get_or_default(table, name, Self::a_word)
    }

    /// A flag.
    pub(crate) fn flag(&mut self, table: &Table<'_>, name: &str) -> Option<bool> {
        self.get_or_default(table, name, |reading, table, key, value| match value.get_ref() {
            DeValue::Boolean(b) => Some(*b),
            _ => {
                reading.wrong_type(table, key, value, &key.takes.words());
                None
            }
        })
    }

    /// A whole number.
    pub(crate) fn whole(&mut self, table: &Table<'_>, name: &str) -> Option<Said<u32>> {
        self.get(table, name, Self::a_whole)
    }

    /// A whole number or the schema's.
    pub(crate) fn whole_or(&mut self, table: &Table<'_>, name: &str) -> Option<u32> {
        self.get_or_default(table, name, Self::a_whole)
    }

    /// A number or the schema's: bare, degrees.
    pub(crate) fn angle(&mut self, table: &Table<'_>, name: &str) -> Option<Said<Angle>> {
        self.get(table, name, Self::an_angle)
    }

    pub(crate) fn number_or(&mut self, table: &Table<'_>, name: &str) -> Option<f64> {
        self.get_or_default(table, name, Self::a_number)
    }

    /// A number: bare, degrees.
    pub(crate) fn number(&mut self, table: &Table<'_>, name: &str) -> Option<Said<f64>> {
        self.get(table, name, Self::a_number)
    }

    /// A length.
    pub(crate) fn length(&mut self, table: &Table<'_>, name: &str) -> Option<Said<Length>> {
        self.get(table, name, Self::a_length)
    }

    /// A length or the schema's.
    pub(crate) fn length_or(&mut self, table: &Table<'_>, name: &str) -> Option<Length> {
        self.get_or_default(table, name, Self::a_length)
    }

    /// A feed.
    pub(crate) fn feed(&mut self, table: &Table<'_>, name: &str) -> Option<Said<Feed>> {
        self.get(table, name, Self::a_feed)
    }

    /// A feed or the schema's.
    pub(crate) fn feed_or(&mut self, table: &Table<'_>, name: &str) -> Option<Feed> {
        self.get_or_default(table, name, Self::a_feed)
    }

    /// A spindle speed.
    pub(crate) fn speed(&mut self, table: &Table<'_>, name: &str) -> Option<Said<Speed>> {
        self.get(table, name, Self::a_number)
            .and_then(|n| Some(Said { value: Speed::try_rev_per_min(n.value)?, span: n.span }))
    }

    /// A list of lengths: as many as the schema says, or at least one.
    pub(crate) fn lengths(&mut self, table: &Table<'_>, name: &str) -> Option<Said<Vec<Length>>> {
        self.get(table, name, Self::a_list_of_lengths)
    }

    /// A list of numbers or the schema's.
    pub(crate) fn numbers_or(&mut self, table: &Table<'_>, name: &str) -> Option<Vec<f64>> {
        self.get_or_default(table, name, |reading, table, key, value| {
            let items = reading.list(table, key, value)?;
            let found: Vec<Option<f64>> = items.iter().map(|item| reading.a_number(table, key, item)).collect();
            found.into_iter().collect()
        })
    }

    /// A colour.
    pub(crate) fn colour(&mut self, table: &Table<'_>, name: &str) -> Option<[u8; 3]> {
        let said = self.get(table, name, |reading, table, key, value| {
            let found = value.get_ref().as_str().and_then(hex_colour);
            if found.is_none() {
                reading.wrong_type(table, key, value, &key.takes.words());
            }
            found
        })?;
        Some(said.value)
    }

    /// A name or a list of at least one name, each with its place.
    pub(crate) fn names(&mut self, table: &Table<'_>, name: &str) -> Option<Said<Vec<Said<String>>>> {
        self.get(table, name, |reading, table, key, value| {
            let items = match value.get_ref() {
                DeValue::Array(items) if !items.is_empty() => items.iter().collect(),
                DeValue::String(_) => vec![value],
                _ => {
                    reading.wrong_type(table, key, value, &key.takes.words());
                    return None;
                }
            };
            let found: Vec<Option<Said<String>>> = items
                .into_iter()
                .map(|item| Some(Said { value: reading.a_text(table, key, item)?, span: item.span() }))
                .collect();
            found.into_iter().collect()
        })
    }

    /// A table of another section.
    pub(crate) fn inner<'t>(&mut self, table: &Table<'t>, name: &str, section: &'static Section) -> Option<Table<'t>> {
        let (key, value) = self.entry(table, name);
        let Some(value) = value else {
            if matches!(key.left_out, LeftOut::Needed) {
                self.missing(table, key);
            }
            return None;
        };
        match value.get_ref() {
            DeValue::Table(entries) => Some(self.table(section, entries, value.span())),
            _ => {
                self.wrong_type(table, key, value, &key.takes.words());
                None
            }
        }
    }

    /// A list of tables of another section; empty if there is none.
    pub(crate) fn inner_list<'t>(
        &mut self,
        table: &Table<'t>,
        name: &str,
        section: &'static Section,
    ) -> Vec<Table<'t>> {
        let (key, value) = self.entry(table, name);
        let Some(value) = value else {
            if matches!(key.left_out, LeftOut::Needed) {
                self.missing(table, key);
            }
            return Vec::new();
        };
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_type(table, key, value, &key.takes.words());
            return Vec::new();
        };
        if items.is_empty() && matches!(key.left_out, LeftOut::Needed) {
            self.out_of_range(table, key, "an empty list".into(), &key.takes.words(), value.span());
        }
        let mut tables = Vec::new();
        for item in items {
            match item.get_ref() {
                DeValue::Table(entries) => tables.push(self.table(section, entries, item.span())),
                _ => self.wrong_type(table, key, item, "a table in each place of its list"),
            }
        }
        tables
    }

    /// The value itself, for keys that take several forms; a needed one that is missing is a doubt.
    pub(crate) fn form<'t>(&mut self, table: &Table<'t>, name: &str) -> Option<&'t Value<'t>> {
        let (key, value) = self.entry(table, name);
        if value.is_none() {
            match key.left_out {
                LeftOut::Needed => self.missing(table, key),
                LeftOut::Assumed(text) => self.assumed.push((table.section.title, key, text)),
                _ => {}
            }
        }
        value
    }

    /// Says that a key is missing that is needed only because others are.
    pub(crate) fn lacks(&mut self, table: &Table<'_>, name: &str) {
        let (key, _) = self.entry(table, name);
        self.missing(table, key);
    }

    /// Says that a value has none of a key's forms.
    pub(crate) fn no_form(&mut self, table: &Table<'_>, name: &str, value: &Value<'_>) {
        let (key, _) = self.entry(table, name);
        self.wrong_type(table, key, value, &key.takes.words());
    }

    /// A list of lengths given as the value of a key with several forms.
    pub(crate) fn form_lengths(
        &mut self,
        table: &Table<'_>,
        name: &str,
        value: &Value<'_>,
        takes: (usize, f64, f64),
    ) -> Option<Vec<Length>> {
        let (key, _) = self.entry(table, name);
        self.exactly_lengths(table, key, value, takes)
    }

    fn a_text(&mut self, table: &Table<'_>, key: &'static Key, value: &Value<'_>) -> Option<String> {
        match value.get_ref() {
            DeValue::String(text) if !text.trim().is_empty() => Some(text.trim().to_owned()),
            DeValue::String(_) => {
                self.out_of_range(table, key, "empty".into(), "a text with at least one letter", value.span());
                None
            }
            _ => {
                self.wrong_type(table, key, value, "text");
                None
            }
        }
    }

    fn a_word(&mut self, table: &Table<'_>, key: &'static Key, value: &Value<'_>) -> Option<String> {
        let Takes::Words(words) = key.takes else { return None };
        let Some(text) = value.get_ref().as_str() else {
            self.wrong_type(table, key, value, &key.takes.words());
            return None;
        };
        if words.contains(&text) {
            return Some(text.to_owned());
        }
        let takes = key.takes.words();
        let mut doubt =
            OUT_OF_RANGE.refusal(format!("`{}` in {} is \"{text}\"; it takes {takes}", key.name, table.section.title));
        doubt = match nearest(text, words.iter().copied()) {
            Some(near) => doubt.way_out(format!("did you mean \"{near}\"?")),
            None => doubt.way_out(format!("give {takes}")),
        };
        self.doubt(doubt, value.span());
        None
    }

    fn a_whole(&mut self, table: &Table<'_>, key: &'static Key, value: &Value<'_>) -> Option<u32> {
        let Takes::Whole(least, greatest) = key.takes else { return None };
        let takes = key.takes.words();
        let DeValue::Integer(number) = value.get_ref() else {
            self.wrong_type(table, key, value, &takes);
            return None;
        };
        match u32::from_str_radix(number.as_str(), number.radix()) {
            Ok(n) if (least..=greatest).contains(&n) => Some(n),
            _ => {
                self.out_of_range(table, key, number.to_string(), &takes, value.span());
                None
            }
        }
    }

    fn a_number(&mut self, table: &Table<'_>, key: &'static Key, value: &Value<'_>) -> Option<f64> {
        let takes = key.takes.words();
        let (Takes::Number(least, greatest)
        | Takes::Degrees(least, greatest)
        | Takes::Speed(least, greatest)
        | Takes::Numbers(_, least, greatest)) = key.takes
        else {
            return None;
        };
        let Some(number) = plain_number(value.get_ref()) else {
            self.wrong_type(table, key, value, &takes);
            return None;
        };
        if number.is_finite() && (least..=greatest).contains(&number) {
            return Some(number);
        }
        self.out_of_range(table, key, shown(number), &takes, value.span());
        None
    }

    fn an_angle(&mut self, table: &Table<'_>, key: &'static Key, value: &Value<'_>) -> Option<Angle> {
        let Takes::Angle(least, greatest) = key.takes else { return None };
        let takes = key.takes.words();
        let angle = match value.get_ref() {
            DeValue::String(text) => match Angle::parse(text) {
                Ok(angle) => angle,
                Err(error) => {
                    let doubt = WRONG_TYPE
                        .refusal(format!("`{}` in {} is not an angle: {error}", key.name, table.section.title))
                        .way_out("write a number of degrees, or a text such as \"60 deg\" or \"1.05 rad\"");
                    self.doubt(doubt, value.span());
                    return None;
                }
            },
            other => match plain_number(other) {
                Some(degrees) => match Angle::try_rad(degrees.to_radians()) {
                    Some(angle) => angle,
                    None => {
                        self.out_of_range(table, key, shown(degrees), &takes, value.span());
                        return None;
                    }
                },
                None => {
                    self.wrong_type(table, key, value, &takes);
                    return None;
                }
            },
        };
        // An end of the range may be off in the last digit once it was in radians.
        if (least - 1e-9..=greatest + 1e-9).contains(&angle.to_deg()) {
            return Some(angle);
        }
        self.out_of_range(table, key, format!("{} degrees", shown(angle.to_deg())), &takes, value.span());
        None
    }

    fn a_length(&mut self, table: &Table<'_>, key: &'static Key, value: &Value<'_>) -> Option<Length> {
        let Takes::Length(least, greatest) = key.takes else { return None };
        self.length_within(table, key, value, (least, greatest), &key.takes.words())
    }

    fn length_within(
        &mut self,
        table: &Table<'_>,
        key: &'static Key,
        value: &Value<'_>,
        (least, greatest): (f64, f64),
        takes: &str,
    ) -> Option<Length> {
        let length = match value.get_ref() {
            DeValue::String(text) => match Length::parse(text, self.unit) {
                Ok(length) => length.to_mm(),
                Err(error) => {
                    let doubt = WRONG_TYPE
                        .refusal(format!("`{}` in {} is not a length: {error}", key.name, table.section.title))
                        .way_out("write a number, or a text such as \"6 mm\", \"1/8 in\", \"15 thou\"");
                    self.doubt(doubt, value.span());
                    return None;
                }
            },
            other => match plain_number(other) {
                // Rounded as parsed texts are, so that 0.125 in and "1/8 in" are the same length.
                Some(number) if (number * self.unit.in_mm()).abs() < 1e9 => {
                    (number * self.unit.in_mm() * 1e9).round() / 1e9
                }
                Some(number) => {
                    self.out_of_range(table, key, shown(number), takes, value.span());
                    return None;
                }
                None => {
                    self.wrong_type(table, key, value, takes);
                    return None;
                }
            },
        };
        if (least..=greatest).contains(&length) {
            return Length::try_mm(length);
        }
        self.out_of_range(table, key, format!("{} mm", shown(length)), takes, value.span());
        None
    }

    fn a_list_of_lengths(&mut self, table: &Table<'_>, key: &'static Key, value: &Value<'_>) -> Option<Vec<Length>> {
        match key.takes {
            Takes::Lengths(count, least, greatest) => self.exactly_lengths(table, key, value, (count, least, greatest)),
            Takes::Readings(least, greatest) => {
                let items = self.list(table, key, value)?;
                if items.is_empty() {
                    self.out_of_range(table, key, "an empty list".into(), "at least one reading", value.span());
                    return None;
                }
                self.each_length(table, key, items, (least, greatest))
            }
            _ => None,
        }
    }

    fn exactly_lengths(
        &mut self,
        table: &Table<'_>,
        key: &'static Key,
        value: &Value<'_>,
        (count, least, greatest): (usize, f64, f64),
    ) -> Option<Vec<Length>> {
        let items = self.list(table, key, value)?;
        if items.len() != count {
            let takes = Takes::Lengths(count, least, greatest).words();
            self.out_of_range(table, key, format!("a list of {}", items.len()), &takes, value.span());
            return None;
        }
        self.each_length(table, key, items, (least, greatest))
    }

    fn each_length(
        &mut self,
        table: &Table<'_>,
        key: &'static Key,
        items: &[Value<'_>],
        range: (f64, f64),
    ) -> Option<Vec<Length>> {
        let takes = Takes::Length(range.0, range.1).words();
        let found: Vec<Option<Length>> =
            items.iter().map(|item| self.length_within(table, key, item, range, &takes)).collect();
        found.into_iter().collect()
    }

    fn list<'v, 't>(&mut self, table: &Table<'_>, key: &'static Key, value: &'v Value<'t>) -> Option<&'v [Value<'t>]> {
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_type(table, key, value, &key.takes.words());
            return None;
        };
        if let Takes::Numbers(count, ..) = key.takes
            && items.len() != count
        {
            self.out_of_range(table, key, format!("a list of {}", items.len()), &key.takes.words(), value.span());
            return None;
        }
        Some(items)
    }

    fn a_feed(&mut self, table: &Table<'_>, key: &'static Key, value: &Value<'_>) -> Option<Feed> {
        let Takes::Feed(least, greatest) = key.takes else { return None };
        let takes = key.takes.words();
        let found = match value.get_ref() {
            DeValue::String(text) => {
                let length = text.trim().strip_suffix("/min").map(|t| Length::parse(t, self.unit));
                let Some(Ok(length)) = length else {
                    let doubt = WRONG_TYPE
                        .refusal(format!("`{}` in {} is not a feed", key.name, table.section.title))
                        .way_out("write a number, or a text such as \"1500 mm/min\" or \"60 in/min\"");
                    self.doubt(doubt, value.span());
                    return None;
                };
                length.to_mm()
            }
            other => match plain_number(other) {
                Some(number) => number * self.unit.in_mm(),
                None => {
                    self.wrong_type(table, key, value, &takes);
                    return None;
                }
            },
        };
        if found.is_finite() && (least..=greatest).contains(&found) {
            return Feed::try_mm_per_min(found);
        }
        self.out_of_range(table, key, format!("{} mm/min", shown(found)), &takes, value.span());
        None
    }
}

impl<'t> Table<'t> {
    /// Whether a key is there.
    pub(crate) fn has(&self, name: &str) -> bool {
        self.entries.contains_key(name)
    }

    /// Where a key is named.
    pub(crate) fn key_span(&self, name: &str) -> Range<usize> {
        self.entries.get_key_value(name).map_or(self.span.clone(), |(key, _)| key.span())
    }
}

/// A number of TOML; `None` for anything else. Infinite where it is too large to hold.
fn plain_number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) => Some(i64::from_str_radix(i.as_str(), i.radix()).map_or(f64::INFINITY, |n| n as f64)),
        DeValue::Float(f) => Some(f.as_str().parse().unwrap_or(f64::NAN)),
        _ => None,
    }
}

fn shown(number: f64) -> String {
    if number.abs() >= 1e9 { format!("{number:e}") } else { trimmed(number, 6) }
}

/// `#rrggbb`.
fn hex_colour(text: &str) -> Option<[u8; 3]> {
    let digits = text.strip_prefix('#')?;
    if digits.len() != 6 || !digits.bytes().all(|b| b.is_ascii_hexdigit()) {
        return None;
    }
    let part = |i: usize| u8::from_str_radix(&digits[i..i + 2], 16).ok();
    Some([part(0)?, part(2)?, part(4)?])
}

/// What a value is, in words.
fn a_kind(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) if text.chars().count() <= 40 => format!("the text \"{}\"", text.escape_debug()),
        DeValue::String(_) => "a long text".into(),
        DeValue::Integer(n) if n.as_str().len() <= 20 => format!("the number {n}"),
        DeValue::Float(n) if n.as_str().len() <= 20 => format!("the number {n}"),
        DeValue::Integer(_) | DeValue::Float(_) => "a number".into(),
        DeValue::Boolean(b) => b.to_string(),
        DeValue::Datetime(_) => "a date".into(),
        DeValue::Array(items) => format!("a list of {}", items.len()),
        DeValue::Table(_) => "a table".into(),
    }
}

#[cfg(test)]
mod checks;
