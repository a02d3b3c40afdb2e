//! The floors as a plate file's text says them, and that text with another floor: comments, order and everything else stay.

use crate::reading::Reading;
use crate::text_edit::{NoEdit, plain, rewritten};
use quantity::{Length, Unit};
use toml::de::DeValue;
use toml_edit::{InlineTable, Item, TableLike, Value};

/// What an area's floor is said to be, in the maker's own words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FloorWords {
    /// It shows a sheet of this name.
    Shows(String),
    /// A length below the face, with its unit: `0.8 mm`.
    BelowFace(String),
    /// A height above the table, with its unit.
    AboveTable(String),
    /// It goes through.
    Through,
    /// Nothing that can be edited in a line.
    Otherwise,
}

/// The floor of one `[[area]]`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FloorLine {
    /// Line of the area, from 1, as the intent's areas have it.
    pub line: usize,
    /// The contours that the area is on, or its lettering.
    pub on: String,
    /// Its floor.
    pub floor: FloorWords,
}

/// The floors of a plate file's areas in the order of the text; of a text that is broken, those that can be read.
pub fn floors(text: &str) -> Vec<FloorLine> {
    let (reading, root) = Reading::parse("", text);
    let unit = unit(text);
    let Some(DeValue::Array(areas)) = root.get_ref().get("area").map(toml::Spanned::get_ref) else { return Vec::new() };
    let mut found = Vec::new();
    for area in areas.iter() {
        let DeValue::Table(entries) = area.get_ref() else { continue };
        let names = |key: &str| -> Vec<String> {
            match entries.get(key).map(toml::Spanned::get_ref) {
                Some(DeValue::String(name)) => vec![name.to_string()],
                Some(DeValue::Array(names)) => {
                    names.iter().filter_map(|n| n.get_ref().as_str().map(str::to_owned)).collect()
                }
                _ => Vec::new(),
            }
        };
        let floor = entries.get("floor").map_or(FloorWords::Otherwise, |f| words(f.get_ref(), unit));
        let mut on = names("on");
        if on.is_empty() && entries.get("lettering").is_some() {
            on.push("lettering".into());
        }
        found.push(FloorLine { line: reading.line(area.span().start), on: on.join(", "), floor });
    }
    found
}

/// The plate's title as the text says it; of a text that is broken, if it can still be read.
pub fn title(text: &str) -> Option<String> {
    let (document, _) = toml::de::DeTable::parse_recoverable(text);
    document.get_ref().get("title").and_then(|t| t.get_ref().as_str()).map(str::to_owned)
}

/// The shop file that the text names, if it names one; of a text that is broken, if it can still be read.
pub fn shop_named(text: &str) -> Option<String> {
    let (document, _) = toml::de::DeTable::parse_recoverable(text);
    document.get_ref().get("shop").and_then(|t| t.get_ref().as_str()).map(str::to_owned)
}

fn words(floor: &DeValue<'_>, unit: Unit) -> FloorWords {
    let entries = match floor {
        DeValue::String(word) if word == "through" => return FloorWords::Through,
        DeValue::Table(entries) if entries.len() == 1 => entries,
        _ => return FloorWords::Otherwise,
    };
    let Some((key, value)) = entries.iter().next() else { return FloorWords::Otherwise };
    let amount = match value.get_ref() {
        DeValue::Integer(i) if i.radix() == 10 => format!("{} {}", i.as_str(), name_of(unit)),
        DeValue::Float(f) => format!("{} {}", f.as_str(), name_of(unit)),
        DeValue::String(text) => text.to_string(),
        _ => return FloorWords::Otherwise,
    };
    match (key.get_ref().as_ref(), value.get_ref()) {
        ("shows", DeValue::String(sheet)) => FloorWords::Shows(sheet.to_string()),
        ("below_face", _) => FloorWords::BelowFace(amount),
        ("above_table", _) => FloorWords::AboveTable(amount),
        _ => FloorWords::Otherwise,
    }
}

/// The unit that bare numbers of the file count in.
pub(crate) fn unit(text: &str) -> Unit {
    let (document, _) = toml::de::DeTable::parse_recoverable(text);
    let said = document.get_ref().get("units").and_then(|u| u.get_ref().as_str()).and_then(Unit::named);
    said.unwrap_or(Unit::Millimetre)
}

pub(crate) fn name_of(unit: Unit) -> &'static str {
    crate::schema::UNITS.iter().copied().find(|name| Unit::named(name) == Some(unit)).unwrap_or("mm")
}

/// The text with another floor for the area at an index (from 0, in the order of [`floors`]). A length in the file's own unit
/// becomes a bare number; any other is kept as it was typed.
///
/// # Errors
/// [`NoEdit`] if the words are no length, there is no floor to edit, or something else would change with it.
pub fn with_floor(text: &str, area: usize, floor: &FloorWords) -> Result<String, NoEdit> {
    let (key, said) = match floor {
        FloorWords::Shows(sheet) => ("shows", Value::from(sheet.as_str())),
        FloorWords::BelowFace(amount) => ("below_face", length(amount, unit(text))?),
        FloorWords::AboveTable(amount) => ("above_table", length(amount, unit(text))?),
        FloorWords::Through | FloorWords::Otherwise => return Err(NoEdit::NotThere),
    };
    match floors(text).get(area).map(|f| &f.floor) {
        None | Some(FloorWords::Through | FloorWords::Otherwise) => return Err(NoEdit::NotThere),
        Some(_) => {}
    }
    let edited = rewritten(text, |document| match document.get_mut("area").ok_or(NoEdit::NotThere)? {
        Item::ArrayOfTables(tables) => put(tables.get_mut(area).map(|t| t as &mut dyn TableLike), key, &said),
        Item::Value(Value::Array(tables)) => {
            let table = tables.get_mut(area).and_then(Value::as_inline_table_mut);
            put(table.map(|t| t as &mut dyn TableLike), key, &said)
        }
        _ => Err(NoEdit::NotThere),
    })?;
    if differs_only_there(text, &edited, area, key, &said) { Ok(edited) } else { Err(NoEdit::NotKept) }
}

/// A length as the file shall say it.
pub(crate) fn length(amount: &str, unit: Unit) -> Result<Value, NoEdit> {
    let amount = amount.trim();
    Length::parse(amount, unit).map_err(|why| NoEdit::NoLength(why.to_string()))?;
    let number = amount.trim_end_matches(|c: char| c.is_ascii_alphabetic()).trim_end();
    let own = amount[number.len()..].trim();
    let plain = own.is_empty() || Unit::named(own) == Some(unit);
    // What TOML reads as a number; `.8` and `1/8` stay as they were typed.
    let as_number = || {
        let digits = number.chars().all(|c| c.is_ascii_digit() || c == '.' || c == '-');
        let value: Value = number.parse().ok()?;
        (digits && (value.is_integer() || value.is_float())).then_some(value)
    };
    Ok(plain.then(as_number).flatten().unwrap_or_else(|| Value::from(amount)))
}

/// Puts one key and value in the place of what the floor said, with the space and the comment round it.
fn put(area: Option<&mut dyn TableLike>, key: &str, said: &Value) -> Result<(), NoEdit> {
    let floor = area.and_then(|a| a.get_mut("floor")).ok_or(NoEdit::NotThere)?;
    let table = floor.as_table_like_mut().ok_or(NoEdit::NotThere)?;
    let had: Vec<String> = table.iter().map(|(k, _)| k.to_owned()).collect();
    let [old] = had.as_slice() else { return Err(NoEdit::NotThere) };
    let decor = table.get(old).and_then(Item::as_value).map(|v| v.decor().clone()).ok_or(NoEdit::NotThere)?;
    let mut value = said.clone();
    *value.decor_mut() = decor;
    if old == key {
        if let Some(place) = table.get_mut(key) {
            *place = Item::Value(value);
        }
        return Ok(());
    }
    if let Item::Value(Value::InlineTable(inline)) = floor {
        let mut made = InlineTable::new();
        *made.decor_mut() = inline.decor().clone();
        made.insert(key, value);
        *inline = made;
        return Ok(());
    }
    let table = floor.as_table_like_mut().ok_or(NoEdit::NotThere)?;
    let leaf = table.key(old).map(|k| k.leaf_decor().clone());
    table.remove(old);
    table.insert(key, Item::Value(value));
    if let (Some(leaf), Some(mut now)) = (leaf, table.key_mut(key)) {
        *now.leaf_decor_mut() = leaf;
    }
    Ok(())
}

/// Whether the edited text says the same as the old one but for this floor.
fn differs_only_there(old: &str, edited: &str, area: usize, key: &str, said: &Value) -> bool {
    let (Some(mut before), Some(after)) = (plain(old), plain(edited)) else { return false };
    let wanted: Option<toml::Table> = format!("{key} = {}", said.to_string().trim()).parse().ok();
    let floor = before.get_mut("area").and_then(|a| a.get_mut(area)).and_then(|a| a.get_mut("floor"));
    let (Some(floor), Some(wanted)) = (floor, wanted) else { return false };
    *floor = toml::Value::Table(wanted);
    before == after
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "# A plate.\nunits = \"mm\"\n\n[[area]]   # first\non = \"field\"\nfloor = { below_face = 0.8 }   # a lip stays\n\n\
                        [[area]]\non = [\"slit\", \"name\"]\nfloor = { shows = \"ruby clear 3\" }\n[[area]]\non = \"holes\"\nfloor = \"through\"\n";

    fn lines(text: &str) -> Vec<(usize, String, FloorWords)> {
        floors(text).into_iter().map(|f| (f.line, f.on, f.floor)).collect()
    }

    fn differing<'a>(a: &'a str, b: &'a str) -> Vec<&'a str> {
        a.lines().filter(|l| !b.lines().any(|k| k == *l)).collect()
    }

    #[test]
    fn floors_as_the_text_says_them() {
        assert_eq!(
            lines(TEXT),
            [
                (4, "field".into(), FloorWords::BelowFace("0.8 mm".into())),
                (8, "slit, name".into(), FloorWords::Shows("ruby clear 3".into())),
                (11, "holes".into(), FloorWords::Through),
            ]
        );
        let inch = "units = \"in\"\n[[area]]\non = \"a\"\nfloor = { above_table = \"1/8 in\" }\n[[area]]\nfloor = 3\n";
        assert_eq!(floors(inch)[0].floor, FloorWords::AboveTable("1/8 in".into()));
        assert_eq!(floors(inch)[1].floor, FloorWords::Otherwise);
        for broken in ["", "area = 3", "[[area]]", "[[area", "area = [3]", "\u{0}"] {
            assert!(floors(broken).len() <= 1);
        }
    }

    #[test]
    fn one_line_changes_and_its_comment_stays() {
        let to = |words: FloorWords| with_floor(TEXT, 0, &words).unwrap();
        let new = to(FloorWords::BelowFace("1.25 mm".into()));
        assert_eq!(differing(&new, TEXT), ["floor = { below_face = 1.25 }   # a lip stays"]);
        assert_eq!(new.lines().count(), TEXT.lines().count());
        let other = |words: FloorWords| differing(&to(words), TEXT).join("\n");
        assert_eq!(
            other(FloorWords::BelowFace("1/16 in".into())),
            "floor = { below_face = \"1/16 in\" }   # a lip stays"
        );
        assert_eq!(other(FloorWords::BelowFace("2".into())), "floor = { below_face = 2 }   # a lip stays");
        assert_eq!(other(FloorWords::AboveTable("1.4".into())), "floor = { above_table = 1.4 }   # a lip stays");
        let shows = other(FloorWords::Shows("opal \"3\"".into()));
        assert!(shows.starts_with("floor = { shows = ") && shows.ends_with("}   # a lip stays"), "{shows}");
        assert_eq!(
            floors(&to(FloorWords::Shows("opal \"3\"".into())))[0].floor,
            FloorWords::Shows("opal \"3\"".into())
        );
    }

    /// Undoing an edit by another edit gives the text back to the byte.
    #[test]
    fn there_and_back_again() {
        let windows = format!("\u{feff}{}", TEXT.replace('\n', "\r\n"));
        let dotted = "[[area]]\non = \"a\"\nfloor.below_face = 0.8 # why\n";
        let table = "[[area]]\non = \"a\"\n[area.floor]   # said at length\nbelow_face = 0.8 # why\n";
        let inline = "area = [ # all\n  { on = \"a\", floor = {below_face=0.8} }, # why\n]\n";
        for text in [TEXT, windows.as_str(), dotted, table, inline] {
            let there = with_floor(text, 0, &FloorWords::BelowFace("1.5".into())).unwrap();
            assert_ne!(there, text);
            assert_eq!(with_floor(&there, 0, &FloorWords::BelowFace("0.8".into())).unwrap(), text);
            let shown = with_floor(text, 0, &FloorWords::Shows("x".into())).unwrap();
            assert_eq!(shown.matches('#').count(), text.matches('#').count(), "{shown}");
        }
    }

    #[test]
    fn what_cant_be_edited_says_so() {
        let below = |t: &str| FloorWords::BelowFace(t.into());
        for wrong in ["", "mm", "1 parsec", "NaN", "0.8 } # ", "0.8\nx = 1", "1e999"] {
            assert!(matches!(with_floor(TEXT, 0, &below(wrong)), Err(NoEdit::NoLength(_))), "{wrong}");
        }
        assert_eq!(with_floor(TEXT, 2, &below("1")), Err(NoEdit::NotThere));
        assert_eq!(with_floor(TEXT, 9, &below("1")), Err(NoEdit::NotThere));
        assert_eq!(with_floor(TEXT, 0, &FloorWords::Through), Err(NoEdit::NotThere));
        let mixed = TEXT.replacen('\n', "\r\n", 2);
        assert_eq!(with_floor(&mixed, 0, &below("1")), Err(NoEdit::NotKept));
        assert_eq!(with_floor(&format!("{TEXT}]["), 0, &below("1")), Err(NoEdit::NotKept));
    }
}
