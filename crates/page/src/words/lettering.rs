//! Lettering of an area as sentences: what it says, in which font, how high, and where it stands.

use super::{File, Piece, action, sentence, texts, words};
use serde_json::{Value, json};
use toml::Table;

/// The keys of an area that hold lettering, and how each is told of.
const KEYS: [(&str, &str); 2] = [("lettering", "It says "), ("keep_lettering", "What stays standing in it says ")];

/// Where the ends of a line are put, as they are told.
const ALIGN: [(&str, &str); 3] = [("left", "its left end"), ("centre", "its middle"), ("right", "its right end")];

impl File<'_> {
    /// The sentences of an area's lettering, each text by itself.
    pub(super) fn lettering(&self, area: usize) -> Vec<Value> {
        let Some(table) = super::tables(self.plate, "area").nth(area) else { return Vec::new() };
        let mut said = Vec::new();
        for (key, begins) in KEYS {
            match table.get(key) {
                Some(toml::Value::Table(text)) => {
                    said.push(self.letters(&[json!("area"), json!(area), json!(key)], begins, text, false))
                }
                Some(toml::Value::Array(list)) => {
                    for (k, text) in list.iter().enumerate().filter_map(|(k, t)| Some((k, t.as_table()?))) {
                        let path = [json!("area"), json!(area), json!(key), json!(k)];
                        said.push(self.letters(&path, begins, text, list.len() > 1));
                    }
                }
                _ => {}
            }
        }
        said
    }

    /// One text; `one_of_many` can be taken away by itself.
    fn letters(&self, path: &[Value], begins: &str, text: &Table, one_of_many: bool) -> Value {
        let at = |keys: &[Value]| Value::Array(path.iter().chain(keys).cloned().collect());
        let has = |key: &str| text.get(key).and_then(toml::Value::as_str).unwrap_or_default();
        let plain = |kind: &'static str, key: &str, label: &str, choices: Vec<Value>| {
            let (path, said, value) = (at(&[json!(key)]), has(key).to_owned(), json!(has(key)));
            Piece { path, kind, said, value, label: label.into(), choices }.json()
        };
        let length = |keys: &[Value], value: Option<&toml::Value>, without: &str, label: &str| {
            self.length_piece(at(keys), value, without, label)
        };
        let contours = || texts(&self.choices.contours);
        let mut pieces = vec![words(begins), plain("text", "text", "what it says", Vec::new()), words(" in ")];
        let kind = if self.choices.fonts.is_empty() { "text" } else { "choice" };
        pieces.push(plain(kind, "font", "font file", texts(&self.choices.fonts)));
        pieces.push(words(", its capitals "));
        pieces.push(length(&[json!("height")], text.get("height"), "?", "height of the capitals"));
        pieces.push(words(" high"));
        if !has("on").is_empty() {
            pieces.extend([
                words(", in the middle of "),
                plain("choice", "on", "contours that it stands in the middle of", contours()),
            ]);
        }
        if !has("along").is_empty() {
            pieces.extend([words(", along "), plain("text", "along", "path that it runs along", Vec::new())]);
        }
        if let Some(arc) = text.get("arc").and_then(toml::Value::as_table) {
            pieces.push(words(", round a circle of radius "));
            pieces.push(length(&[json!("arc"), json!("radius")], arc.get("radius"), "?", "radius of the circle"));
        }
        if let Some(place) = text.get("at").and_then(toml::Value::as_array) {
            let align = if has("align").is_empty() { "centre" } else { has("align") };
            let end = Piece {
                path: at(&[json!("align")]),
                kind: "choice",
                said: ALIGN.iter().find(|a| a.0 == align).map_or(align, |a| a.1).into(),
                value: json!(align),
                label: "which part of the line stands there".into(),
                choices: ALIGN.iter().map(|(value, says)| json!({ "value": value, "says": says })).collect(),
            };
            pieces.extend([words(", "), end.json()]);
            for (axis, name) in ["x", "y"].into_iter().enumerate() {
                pieces.push(words(if axis == 0 { " at x " } else { ", y " }));
                pieces.push(length(
                    &[json!("at"), json!(axis)],
                    place.get(axis),
                    "?",
                    &format!("{name} of the lettering"),
                ));
            }
        }
        if let Some(turn) = text.get("turn") {
            let (said, value) = (format!("{turn}°"), json!(turn.to_string()));
            let (path, label) = (at(&[json!("turn")]), "turn of the line, degrees".into());
            pieces.push(words(", turned by "));
            pieces.push(Piece { path, kind: "number", said, value, label, choices: Vec::new() }.json());
        }
        pieces.push(words("; between letters "));
        pieces.push(length(&[json!("spacing")], text.get("spacing"), "nothing", "what is added between letters"));
        pieces.push(words(" is added."));
        let take = action("take this text away", &json!([{ "take": path }]));
        sentence(pieces, if one_of_many { vec![take] } else { Vec::new() })
    }
}
