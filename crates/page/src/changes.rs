//! Changes of the plate or shop file as the page asks for them.

use intake::{Change, Put, Step};
use serde_json::Value;

/// Most changes that one press makes.
const MOST: usize = 40;
/// Longest words.
const WORDS: usize = 400;
/// Deepest that what is put in may be nested.
const DEEPEST: usize = 6;
/// Keys that name files: from the page only files of the plate's own folder may be named.
const FILES: [&str; 4] = ["drawing", "shop", "font", "fonts"];

/// Reads changes; `None` if they are none that the page asks for.
pub(crate) fn read(asked: &Value) -> Option<Vec<Change>> {
    let list = asked.as_array()?;
    if list.is_empty() || list.len() > MOST {
        return None;
    }
    list.iter().map(one).collect()
}

fn one(asked: &Value) -> Option<Change> {
    let asked = asked.as_object()?;
    let made = |path: &[Step]| -> Option<Put> {
        let keyed = path.iter().rev().find_map(|s| match s {
            Step::Key(key) => Some(key.as_str()),
            Step::At(_) => None,
        });
        put(keyed.unwrap_or_default(), asked.get("as")?, 0)
    };
    if let Some(path) = asked.get("put") {
        let path = steps(path)?;
        let said = made(&path)?;
        return Some(Change::Put(path, said));
    }
    if let Some(path) = asked.get("add") {
        let path = steps(path)?;
        let said = made(&path)?;
        return Some(Change::Add(path, said));
    }
    if let Some(path) = asked.get("take") {
        return Some(Change::Take(steps(path)?));
    }
    let to = usize::try_from(asked.get("to")?.as_u64()?).ok()?;
    Some(Change::Move(steps(asked.get("move")?)?, to))
}

fn steps(path: &Value) -> Option<Vec<Step>> {
    let path = path.as_array()?;
    if path.is_empty() || path.len() > 8 {
        return None;
    }
    let step = |step: &Value| match step {
        Value::String(key) => plain(key).then(|| Step::Key(key.clone())),
        Value::Number(at) => {
            at.as_u64().filter(|at| *at < 10_000).and_then(|at| usize::try_from(at).ok()).map(Step::At)
        }
        _ => None,
    };
    path.iter().map(step).collect()
}

/// Whether a key is one that files can have.
fn plain(key: &str) -> bool {
    !key.is_empty() && key.len() < 40 && key.bytes().all(|b| b.is_ascii_lowercase() || b == b'_')
}

/// What to put in: `{"length": "3 mm"}`, `{"text": …}`, `{"number": "4"}`, `{"flag": true}`, `{"list": […]}`, or
/// `{"table": [[key, …], …]}`. `key` is the one that it stands under.
fn put(key: &str, asked: &Value, deep: usize) -> Option<Put> {
    let asked = asked.as_object().filter(|a| a.len() == 1 && deep < DEEPEST)?;
    let (kind, value) = asked.iter().next()?;
    let text = || value.as_str().filter(|t| t.len() <= WORDS && !t.chars().any(char::is_control)).map(str::to_owned);
    match kind.as_str() {
        "length" => Some(Put::Length(text()?)),
        "number" => Some(Put::Number(text()?)),
        "text" => text().filter(|t| !FILES.contains(&key) || beside(t)).map(Put::Text),
        "flag" => value.as_bool().map(Put::Flag),
        "list" => {
            let list = value.as_array().filter(|l| l.len() <= 200)?;
            list.iter().map(|v| put(key, v, deep + 1)).collect::<Option<Vec<_>>>().map(Put::List)
        }
        "table" => {
            let entries = value.as_array().filter(|l| l.len() <= 40)?;
            let entry = |entry: &Value| {
                let (key, value) = (entry.get(0)?.as_str()?, entry.get(1)?);
                Some((key.to_owned(), put(key, value, deep + 1)?)).filter(|_| plain(key))
            };
            entries.iter().map(entry).collect::<Option<Vec<_>>>().map(Put::Table)
        }
        _ => None,
    }
}

/// Whether a name is that of a file beside the plate file, and nothing that leads out of its folder.
pub(crate) fn beside(name: &str) -> bool {
    let odd = |c: char| matches!(c, '/' | '\\' | ':') || c.is_control();
    !name.is_empty() && name.len() < 200 && !name.starts_with('.') && !name.contains(odd)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn only_what_the_page_asks_for() {
        let length = json!([{ "put": ["blank", "size", 0], "as": { "length": "230 mm" } }]);
        assert_eq!(read(&length).unwrap().len(), 1);
        for wrong in [
            json!([]),
            json!({}),
            json!([{ "put": [], "as": { "text": "x" } }]),
            json!([{ "put": ["title"], "as": { "text": "a\nb" } }]),
            json!([{ "put": ["title"] }]),
            json!([{ "put": ["Title x"], "as": { "text": "a" } }]),
            json!([{ "put": ["area", -1], "as": { "text": "a" } }]),
            json!([{ "move": ["a", 1] }]),
            json!([{ "put": ["title"], "as": { "text": "a", "flag": true } }]),
        ] {
            assert_eq!(read(&wrong), None, "{wrong}");
        }
    }

    #[test]
    fn files_are_named_beside_the_plate_file_only() {
        for outside in ["../shop.toml", "/etc/passwd", "a/b.svg", "..", "c:x.svg", ".hidden", "a\\b"] {
            for change in [
                json!([{ "put": ["drawing"], "as": { "text": outside } }]),
                json!([{ "put": ["fonts"], "as": { "list": [{ "text": outside }] } }]),
                json!([{ "put": ["fonts", 0], "as": { "text": outside } }]),
                json!([{ "add": ["area"], "as": { "table": [["lettering", { "table": [["font", { "text": outside }]] }]] } }]),
            ] {
                assert_eq!(read(&change), None, "{change}");
            }
        }
        assert!(read(&json!([{ "put": ["drawing"], "as": { "text": "plate 2.svg" } }])).is_some());
    }
}
