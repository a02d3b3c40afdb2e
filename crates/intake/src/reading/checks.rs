//! Checks of single values, for every key of the schema: its own default, the ends of its range, and just beyond.

use super::{Reading, Table};
use crate::schema::{self, Key, LeftOut, Section, Takes};
use doubt::Doubt;
use quantity::Unit;

/// Reads one key of a section from a value as text, in mm; the doubts it gives, and the numbers understood.
fn read(section: &'static Section, key: &'static Key, value: &str, unit: Unit) -> (Vec<Doubt>, Option<Vec<f64>>) {
    let text = format!("{} = {value}\n", key.name);
    let (mut reading, root) = Reading::parse("a.toml", &text);
    reading.set_unit(unit);
    let table = Table { section, entries: root.get_ref(), span: root.span() };
    let name = key.name;
    let found = match key.takes {
        Takes::Length(..) => reading.length(&table, name).map(|l| vec![l.value.to_mm()]),
        Takes::Number(..) | Takes::Degrees(..) => reading.number(&table, name).map(|n| vec![n.value]),
        Takes::Angle(..) => reading.angle(&table, name).map(|a| vec![a.value.to_deg()]),
        Takes::Speed(..) => reading.speed(&table, name).map(|s| vec![s.value.to_rev_per_min()]),
        Takes::Feed(..) => reading.feed(&table, name).map(|f| vec![f.value.to_mm_per_min()]),
        Takes::Whole(..) => reading.whole(&table, name).map(|w| vec![f64::from(w.value)]),
        Takes::Lengths(..) | Takes::Readings(..) => {
            reading.lengths(&table, name).map(|l| l.value.iter().map(|l| l.to_mm()).collect())
        }
        Takes::Numbers(..) => reading.numbers_or(&table, name),
        _ => return (Vec::new(), None),
    };
    (reading.finish(), found)
}

fn range(takes: Takes) -> Option<(f64, f64, usize)> {
    Some(match takes {
        Takes::Length(a, b) | Takes::Number(a, b) | Takes::Speed(a, b) | Takes::Feed(a, b) => (a, b, 0),
        Takes::Degrees(a, b) | Takes::Angle(a, b) => (a, b, 0),
        Takes::Whole(a, b) => (f64::from(a), f64::from(b), 0),
        Takes::Lengths(n, a, b) | Takes::Numbers(n, a, b) => (a, b, n),
        Takes::Readings(a, b) => (a, b, 2),
        _ => return None,
    })
}

fn keys() -> impl Iterator<Item = (&'static Section, &'static Key)> {
    let sections = schema::PLATE_FILE.iter().chain(schema::SHOP_FILE);
    sections.flat_map(|s| s.keys.iter().map(move |k| (*s, k)))
}

fn written(value: &str, count: usize) -> String {
    if count == 0 { value.to_owned() } else { format!("[{}]", vec![value; count].join(", ")) }
}

#[test]
fn ranges_include_their_ends_and_nothing_beyond() {
    let mut checked = 0;
    for (section, key) in keys() {
        let Some((least, greatest, count)) = range(key.takes) else { continue };
        let whole = matches!(key.takes, Takes::Whole(..));
        for end in [least, greatest] {
            let (doubts, found) = read(section, key, &written(&format!("{end}"), count), Unit::Millimetre);
            assert!(doubts.is_empty(), "{} {} = {end}: {doubts:?}", section.title, key.name);
            assert!(found.unwrap().iter().all(|v| (v - end).abs() < 1e-9), "{} {end}", key.name);
        }
        let step = if whole { 1.0 } else { 1e-3 * (1.0 + least.abs()) };
        let beyond = [
            format!("{}", least - step),
            format!("{}", greatest + step.max(greatest * 1e-3).ceil()),
            "99999999999999999999999".to_owned(),
        ];
        let odd = if whole { vec!["-1"] } else { vec!["nan", "-inf", "inf", "1e308", "-1e308", "1e999"] };
        for value in beyond.iter().map(String::as_str).chain(odd) {
            let (doubts, found) = read(section, key, &written(value, count), Unit::Millimetre);
            assert!(found.is_none() && doubts.iter().all(Doubt::blocks), "{} {} = {value}", section.title, key.name);
            assert_eq!(doubts.len(), count.max(1), "{} {} = {value}: {doubts:?}", section.title, key.name);
        }
        checked += 1;
    }
    assert!(checked > 50, "{checked}");
}

#[test]
fn wrong_kinds_are_told_apart_from_wrong_sizes() {
    for (section, key) in keys() {
        if range(key.takes).is_none() {
            continue;
        }
        for value in ["true", "{ a = 1 }", "1979-05-27", "[[1]]", "\"three\""] {
            let (doubts, found) = read(section, key, value, Unit::Millimetre);
            assert!(found.is_none(), "{} = {value}", key.name);
            let known = doubts.iter().all(|d| d.id == "wrong-type" || d.id == "out-of-range");
            assert!(known && !doubts.is_empty(), "{} = {value}: {doubts:?}", key.name);
        }
    }
}

/// What a key means when it is left out is a value that it takes.
#[test]
fn defaults_are_values_of_their_keys() {
    for (section, key) in keys() {
        let (LeftOut::Assumed(value) | LeftOut::Means(value)) = key.left_out else { continue };
        match key.takes {
            Takes::Words(words) => assert!(words.contains(&value), "{}", key.name),
            Takes::Flag => assert!(["true", "false"].contains(&value)),
            _ if range(key.takes).is_some() => {
                let text = if value.ends_with("mm") || value.ends_with("/min") {
                    format!("\"{value}\"")
                } else {
                    value.into()
                };
                let (doubts, found) = read(section, key, &text, Unit::Millimetre);
                assert!(doubts.is_empty() && found.is_some(), "{} {}: {doubts:?}", section.title, key.name);
            }
            _ => {}
        }
    }
}

/// 1 in = 25.4 mm exactly (international yard and pound agreement, 1959; from memory).
#[test]
fn numbers_are_in_the_files_unit() {
    let diameter = schema::CUTTER.key("diameter").unwrap();
    let in_mm = |value: &str, unit| read(&schema::CUTTER, diameter, value, unit).1.unwrap()[0];
    assert_eq!(in_mm("0.125", Unit::Inch), 3.175);
    assert_eq!(in_mm("\"1/8 in\"", Unit::Millimetre), 3.175);
    assert_eq!(in_mm("\"3 mm\"", Unit::Inch), 3.0);
    assert_eq!(in_mm("\"1/16\"", Unit::Inch), 1.5875);
    assert_eq!(in_mm("0.6", Unit::Centimetre), 6.0);
    let feed = schema::CUTTER.key("feed").unwrap();
    let per_min = |value: &str, unit| read(&schema::CUTTER, feed, value, unit).1.unwrap()[0];
    assert_eq!(per_min("60", Unit::Inch), 1524.0);
    assert_eq!(per_min("\"60 in/min\"", Unit::Millimetre), 1524.0);
    assert_eq!(per_min("1500", Unit::Millimetre), 1500.0);
}

#[test]
fn lines_and_columns_are_counted_from_one() {
    let text = "title = \"µ\"\n\n  sise = 3\n";
    let (mut reading, root) = Reading::parse("plate.toml", text);
    reading.table(&schema::PLATE, root.get_ref(), root.span());
    let doubts = reading.finish();
    let Some(doubt::Place::File { line, column, .. }) = doubts[0].places.first() else { panic!("{doubts:?}") };
    assert_eq!((*line, *column), (3, 3));
}
