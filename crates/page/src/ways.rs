//! Ways out of doubts that need nothing but a press: what a doubt says in the file's own words is put in where it belongs.

use doubt::{Doubt, Place};
use intake::{Change, Put, Step, schema};
use toml::Value;

/// A way out.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Way {
    /// What it does, as a verb.
    pub(crate) says: String,
    pub(crate) does: Does,
}

/// What a way out does.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Does {
    /// Changes of the plate file.
    Change(Vec<Change>),
    /// Changes of the shop file.
    Shop(Vec<Change>),
    /// Other words in the place of some of the plate file's text, by bytes.
    Replace(std::ops::Range<usize>, String),
}

/// Keys that a way out may put in as it says them: each means one thing, wherever it is said.
const PUT_IN: [&str; 8] = ["close_gaps", "drawing_units", "shop", "bond", "edge", "narrow", "strokes", "margin"];

/// The same of the shop file's machine, each with the doubt that says it.
const PUT_IN_MACHINE: [(&str, &str); 1] = [("clearance-small", "clearance")];

/// The ways out of a doubt about a plate file of this name and text. `area` is the area that it is about, from 0.
pub(crate) fn of(doubt: &Doubt, file: &str, text: &str, area: Option<usize>) -> Vec<Way> {
    let mut ways = Vec::new();
    ways.extend(near_name(doubt, file, text));
    let said = doubt.way_out.as_deref().unwrap_or_default();
    // What only shows how something is written isn't meant for this plate, and lists of names are the drawing's words, not ours.
    let lists_names = doubt.id.starts_with("unknown-");
    if !lists_names && !said.contains("for example") && !said.contains("as in `") {
        ways.extend(spans(said).filter_map(|code| put_in(code, area, doubt.id)));
        ways.extend(spans(said).filter_map(|code| put_in_shop(code, doubt.id)));
    }
    if let Some(area) = area.filter(|_| doubt.id == "no-cutter-fits") {
        for (word, says) in
            [("leave", "leave what is too narrow uncut"), ("centre line", "run along the middle of what is too narrow")]
        {
            let change = Change::Put(at_area(area, "narrow"), Put::Text(word.into()));
            ways.push(Way { says: says.into(), does: Does::Change(vec![change]) });
        }
    }
    let about_cutters = ["no-cutter-fits", "no-cutter-long-enough", "cutter-too-long", "unknown-cutter"];
    let limited = text.trim_start_matches('\u{feff}').parse::<toml::Table>().is_ok_and(|t| t.contains_key("cutters"));
    if limited && about_cutters.contains(&doubt.id) {
        let change = Change::Take(vec![key("cutters")]);
        ways.push(Way { says: "allow every cutter of the shop".into(), does: Does::Change(vec![change]) });
    }
    ways.dedup();
    ways
}

fn key(name: &str) -> Step {
    Step::Key(name.into())
}

fn at_area(area: usize, name: &str) -> Vec<Step> {
    vec![key("area"), Step::At(area), key(name)]
}

/// What stands in back quotes.
fn spans(said: &str) -> impl Iterator<Item = &str> {
    said.split('`').skip(1).step_by(2)
}

/// The way that one line of the plate file is, if it is one that may be put in.
fn put_in(code: &str, area: Option<usize>, id: &str) -> Option<Way> {
    let line: toml::Table = code.parse().ok()?;
    let (name, value) = line.iter().next().filter(|_| line.len() == 1)?;
    let through = value.as_str() == Some("through") && id == "floor-outside";
    let floor = name == "floor" && (through || id == "face-shown");
    if !PUT_IN.contains(&name.as_str()) && !floor {
        return None;
    }
    let path = if schema::PLATE.key(name).is_some() {
        vec![key(name)]
    } else if schema::BLANK.key(name).is_some() {
        vec![key("blank"), key(name)]
    } else if schema::AREA.key(name).is_some() {
        at_area(area?, name)
    } else {
        return None;
    };
    let change = Change::Put(path, put(value)?);
    Some(Way { says: format!("say {code}"), does: Does::Change(vec![change]) })
}

/// The way that one line of the shop file is.
fn put_in_shop(code: &str, id: &str) -> Option<Way> {
    let line: toml::Table = code.parse().ok()?;
    let (_, name) = PUT_IN_MACHINE.into_iter().find(|way| way.0 == id)?;
    let change = Change::Put(vec![key("machine"), key(name)], put(line.get(name)?)?);
    Some(Way { says: format!("say {code} in the shop file"), does: Does::Shop(vec![change]) })
}

fn put(value: &Value) -> Option<Put> {
    Some(match value {
        Value::String(text) => Put::Text(text.clone()),
        Value::Integer(number) => Put::Number(number.to_string()),
        Value::Float(number) => Put::Number(number.to_string()),
        Value::Boolean(flag) => Put::Flag(*flag),
        Value::Table(entries) => {
            Put::Table(entries.iter().map(|(k, v)| Some((k.clone(), put(v)?))).collect::<Option<Vec<_>>>()?)
        }
        Value::Array(list) => Put::List(list.iter().map(put).collect::<Option<Vec<_>>>()?),
        Value::Datetime(_) => return None,
    })
}

/// A word that isn't known where the doubt asks whether a near one was meant.
fn near_name(doubt: &Doubt, file: &str, text: &str) -> Option<Way> {
    let (_, rest) = doubt.way_out.as_deref()?.split_once("did you mean ")?;
    let quote = rest.chars().next().filter(|c| matches!(c, '`' | '"'))?;
    let near = rest[1..].split(quote).next()?;
    let span = doubt.places.iter().find_map(|p| match p {
        Place::File { file: f, span, line, .. } if f == file && *line > 0 => Some(span.clone()),
        _ => None,
    })?;
    let there = text.get(span.clone())?;
    let quoted = there.starts_with('"') || there.starts_with('\'');
    let new = if quoted { toml::Value::from(near).to_string() } else { near.to_owned() };
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '-');
    let bare = |word: &str| word.chars().all(plain);
    if there.contains('\n') || !(quoted || bare(there) && bare(near)) {
        return None;
    }
    let edited = format!("{}{new}{}", &text[..span.start], &text[span.end..]);
    // It must still be a file of this kind.
    edited.trim_start_matches('\u{feff}').parse::<toml::Table>().ok()?;
    Some(Way { says: format!("say {near}"), does: Does::Replace(span, new) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn doubts(text: &str) -> Vec<Doubt> {
        let drawing = include_bytes!("../../../demo/new/drawing.svg");
        intake::take_from(text, &|name| match name {
            "drawing.svg" => Ok(drawing.to_vec()),
            _ => Err(std::io::ErrorKind::NotFound.into()),
        })
        .doubts
    }

    fn ways(text: &str, id: &str, area: Option<usize>) -> Vec<Way> {
        let doubts = doubts(text);
        let doubt = doubts.iter().find(|d| d.id == id).unwrap_or_else(|| unreachable!("{doubts:#?}"));
        of(doubt, "plate.toml", text, area)
    }

    const PLATE: &str = include_str!("../../../demo/new/plate.toml");

    #[test]
    fn a_misspelt_name_is_put_right() {
        for (right, wrong, id) in [
            ("on = \"field\"", "on = \"feild\"", "unknown-contour"),
            ("shows = \"ruby clear 3\"", "shows = \"rubi clear 3\"", "unknown-sheet"),
            ("kind = \"screw 4\"", "kind = \"scew 4\"", "unknown-hold"),
            ("held_by", "held_bi", "unknown-key"),
        ] {
            let text = PLATE.replacen(right, wrong, 1);
            let found = ways(&text, id, Some(0));
            let Some(Does::Replace(span, new)) = found.first().map(|w| w.does.clone()) else {
                unreachable!("{found:?}")
            };
            assert_eq!(format!("{}{new}{}", &text[..span.start], &text[span.end..]), PLATE);
        }
    }

    #[test]
    fn what_a_doubt_says_is_put_in_where_it_belongs() {
        let text = PLATE.replacen("floor = { shows = \"ruby clear 3\" }", "floor = { above_table = 0 }", 1);
        let found = ways(&text, "floor-outside", Some(0));
        let put = Change::Put(at_area(0, "floor"), Put::Text("through".into()));
        assert!(found.iter().any(|w| w.does == Does::Change(vec![put.clone()])), "{found:?}");
        let text = PLATE.replacen("shows = \"ruby clear 3\"", "shows = \"night black 3\"", 1);
        let found = ways(&text, "face-shown", Some(0));
        assert_eq!(found[0].says, "say floor = { below_face = 0.5 }");
        let text = PLATE.replacen("units = \"mm\"", "units = \"mm\"\ncutters = [9]", 1);
        let found = ways(&text, "unknown-cutter", None);
        assert!(found.iter().any(|w| w.does == Does::Change(vec![Change::Take(vec![key("cutters")])])), "{found:?}");
    }

    /// A drawing may call its layers anything; what it calls them is never put in as a line of the file.
    #[test]
    fn names_of_a_drawing_are_no_lines() {
        let drawing = include_str!("../../../demo/new/drawing.svg").replacen("id=\"field\"", "id=\"margin = 2\"", 1);
        let taken = intake::take_from(PLATE, &|name| match name {
            "drawing.svg" => Ok(drawing.clone().into_bytes()),
            _ => Err(std::io::ErrorKind::NotFound.into()),
        });
        let doubt = taken.doubts.iter().find(|d| d.id == "unknown-contour").unwrap();
        assert!(doubt.way_out.as_deref().unwrap().contains("`margin = 2`"), "{doubt:?}");
        assert_eq!(of(doubt, "plate.toml", PLATE, Some(0)), []);
    }

    #[test]
    fn examples_are_no_ways_out() {
        let text = PLATE.replacen("drawing = \"drawing.svg\"", "", 1);
        assert_eq!(ways(&text, "missing-key", None), []);
        let text = PLATE.replacen("bond = 0.05", "bond = true", 1);
        assert_eq!(ways(&text, "wrong-type", None), []);
    }
}
