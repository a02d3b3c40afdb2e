//! What the plate file says, as sentences whose values can be changed in the line, and what can be added or taken away.
//!
//! A sentence is a list of pieces: plain words, or a value with its place in the file, its kind, and what may stand there. They
//! are made from the file's text alone, so that they stand there whatever the plan and the proof think of it.

mod lettering;

use quantity::Unit;
use serde_json::{Map, Value, json};
use toml::Table;

/// What may be chosen from.
#[derive(Debug, Default)]
pub(crate) struct Choices {
    /// Names of the drawing, as far as they have closed contours.
    pub(crate) contours: Vec<String>,
    /// Font files beside the plate file.
    pub(crate) fonts: Vec<String>,
    /// Sheets of the shop.
    pub(crate) sheets: Vec<String>,
    /// Holds of the shop.
    pub(crate) holds: Vec<String>,
    /// Cutters of the shop, by number and name.
    pub(crate) cutters: Vec<(i64, String)>,
}

impl Choices {
    /// With what a shop file's text has.
    pub(crate) fn of_shop(mut self, text: &str) -> Self {
        let Ok(shop) = text.trim_start_matches('\u{feff}').parse::<Table>() else { return self };
        let named = |key: &str| -> Vec<String> {
            tables(&shop, key).filter_map(|t| t.get("name")?.as_str().map(str::to_owned)).collect()
        };
        self.sheets = named("sheet");
        self.holds = named("hold");
        self.cutters = tables(&shop, "cutter")
            .filter_map(|t| Some((t.get("number")?.as_integer()?, t.get("name")?.as_str()?.to_owned())))
            .collect();
        self
    }
}

fn tables<'t>(table: &'t Table, key: &str) -> impl Iterator<Item = &'t Table> {
    table.get(key).and_then(toml::Value::as_array).into_iter().flatten().filter_map(toml::Value::as_table)
}

/// The sentences of a plate file: about the plate, the blank, each area beside its floor, the edge and the holds. `null` if the
/// text is no TOML.
pub(crate) fn sentences(text: &str, choices: &Choices) -> Value {
    let Ok(plate) = text.trim_start_matches('\u{feff}').parse::<Table>() else { return Value::Null };
    let unit = plate.get("units").and_then(toml::Value::as_str).and_then(Unit::named).unwrap_or(Unit::Millimetre);
    let file = File { plate: &plate, unit, choices };
    json!({
        "plate": [file.title(), file.cutters()],
        "blank": file.blank(),
        "areas": (0..tables(&plate, "area").count()).map(|i| file.area(i)).collect::<Vec<_>>(),
        "edge": file.edge(),
        "holds": file.holds(),
        "new_area": { "contours": choices.contours, "sheets": file.layers(), "fonts": choices.fonts },
    })
}

struct File<'f> {
    plate: &'f Table,
    unit: Unit,
    choices: &'f Choices,
}

/// A value that can be changed.
struct Piece {
    path: Value,
    kind: &'static str,
    /// How it stands in the sentence.
    said: String,
    /// How it stands in the field.
    value: Value,
    /// What it is, for who can't see the sentence round it.
    label: String,
    choices: Vec<Value>,
}

impl Piece {
    fn json(self) -> Value {
        json!({
            "path": self.path, "kind": self.kind, "said": self.said, "value": self.value, "label": self.label,
            "choices": self.choices,
        })
    }
}

fn words(text: impl Into<String>) -> Value {
    Value::String(text.into())
}

fn texts(list: &[String]) -> Vec<Value> {
    list.iter().map(|s| json!(s)).collect()
}

/// Something that can be done to a sentence.
fn action(says: &str, changes: &Value) -> Value {
    json!({ "says": says, "changes": changes })
}

fn sentence(pieces: Vec<Value>, actions: Vec<Value>) -> Value {
    json!({ "pieces": pieces, "actions": actions })
}

impl File<'_> {
    /// A length as it stands in the file, with its unit.
    fn length(&self, value: Option<&toml::Value>) -> String {
        match value {
            Some(toml::Value::String(text)) => text.clone(),
            Some(number) => format!("{number} {}", self.unit_name()),
            None => String::new(),
        }
    }

    fn unit_name(&self) -> &'static str {
        intake::schema::UNITS.iter().copied().find(|n| Unit::named(n) == Some(self.unit)).unwrap_or("mm")
    }

    /// A length that can be changed; what holds without it if it isn't there.
    fn length_piece(&self, path: Value, value: Option<&toml::Value>, without: &str, label: &str) -> Value {
        let said = if value.is_some() { self.length(value) } else { without.to_owned() };
        let value = json!(if value.is_some() { said.as_str() } else { "" });
        Piece { path, kind: "length", said, value, label: label.into(), choices: Vec::new() }.json()
    }

    fn title(&self) -> Value {
        let said = self.plate.get("title").and_then(toml::Value::as_str).unwrap_or_default();
        let shown = if said.is_empty() { "not named yet" } else { said };
        let piece = Piece {
            path: json!(["title"]),
            kind: "text",
            said: shown.into(),
            value: json!(said),
            label: "the plate’s title".into(),
            choices: Vec::new(),
        };
        let mut pieces = vec![words("The plate is called "), piece.json(), words(".")];
        if let Some(drawing) = self.plate.get("drawing").and_then(toml::Value::as_str) {
            pieces.push(words(format!(" It is drawn in {drawing}.")));
        }
        sentence(pieces, Vec::new())
    }

    fn cutters(&self) -> Value {
        let list = self.plate.get("cutters").and_then(toml::Value::as_array);
        let named: Vec<(i64, &String)> = self.choices.cutters.iter().map(|(n, s)| (*n, s)).collect();
        let chosen: Vec<i64> = match list {
            None => named.iter().map(|c| c.0).collect(),
            Some(list) => named
                .iter()
                .filter(|(n, name)| {
                    list.iter().any(|v| v.as_integer() == Some(*n) || v.as_str() == Some(name.as_str()))
                })
                .map(|c| c.0)
                .collect(),
        };
        let said = match list {
            None => "any cutter of the shop".to_owned(),
            Some(_) => {
                let names = named.iter().filter(|c| chosen.contains(&c.0));
                let names: Vec<String> = names.map(|(n, name)| format!("cutter {n} ({name})")).collect();
                if names.is_empty() { "none of the shop’s cutters".into() } else { names.join(", ") }
            }
        };
        let piece = Piece {
            path: json!(["cutters"]),
            kind: "cutters",
            said,
            value: json!(chosen),
            label: "the cutters that this plate may use".into(),
            choices: named.iter().map(|(n, name)| json!({ "value": n, "says": format!("{n} {name}") })).collect(),
        };
        sentence(vec![words("It may be cut with "), piece.json(), words(".")], Vec::new())
    }

    fn blank(&self) -> Vec<Value> {
        let empty = Table::new();
        let blank = self.plate.get("blank").and_then(toml::Value::as_table).unwrap_or(&empty);
        let size = blank.get("size").and_then(toml::Value::as_array);
        let side = |i: usize, label: &str| {
            self.length_piece(json!(["blank", "size", i]), size.and_then(|s| s.get(i)), "?", label)
        };
        let mut said = vec![sentence(
            vec![
                words("The blank is "),
                side(0, "the blank’s width"),
                words(" wide and "),
                side(1, "the blank’s height"),
                words(" high as it lies on the table, as bonded, before cutting."),
            ],
            Vec::new(),
        )];
        let layers: Vec<&Table> = tables(blank, "layers").collect();
        for (i, layer) in layers.iter().enumerate() {
            said.push(self.layer(i, layer, layers.len()));
        }
        let head = if layers.is_empty() { "The blank has no layer yet." } else { "" };
        let first = self.choices.sheets.first().cloned().unwrap_or_default();
        let mut adds = vec![json!({
            "says": if layers.is_empty() { "add its top layer" } else { "add a layer underneath" },
            "ask": { "kind": "choice", "label": "sheet of the new layer", "choices": self.choices.sheets, "value": first },
            "changes": [{ "add": ["blank", "layers"], "wrap": "sheet" }],
        })];
        if blank.get("under").is_none() {
            let tape = json!([{ "add": ["blank", "under"], "as": { "table": [
                ["name", { "text": "carpet tape" }], ["thickness", { "length": "0.2 mm" }]] } }]);
            adds.push(action("say what lies under it", &tape));
        }
        if layers.len() > 1 {
            let bond = self.length_piece(
                json!(["blank", "bond"]),
                blank.get("bond"),
                "0.05 mm (assumed)",
                "thickness of each bond line",
            );
            said.push(sentence(vec![words("Each bond line is "), bond, words(" thick.")], Vec::new()));
        }
        for (i, under) in tables(blank, "under").enumerate() {
            let name = under.get("name").and_then(toml::Value::as_str).unwrap_or_default();
            let what = Piece {
                path: json!(["blank", "under", i, "name"]),
                kind: "text",
                said: name.into(),
                value: json!(name),
                label: "what lies under the blank".into(),
                choices: Vec::new(),
            };
            let thick = self.length_piece(
                json!(["blank", "under", i, "thickness"]),
                under.get("thickness"),
                "?",
                &format!("thickness of {name}"),
            );
            let gone = if tables(blank, "under").count() == 1 {
                json!([{ "take": ["blank", "under"] }])
            } else {
                json!([{ "take": ["blank", "under", i] }])
            };
            said.push(sentence(
                vec![words("Under it lies "), what.json(), words(", "), thick, words(" thick.")],
                vec![action("take it away", &gone)],
            ));
        }
        said.push(sentence(vec![words(head)], adds));
        said
    }

    fn layer(&self, i: usize, layer: &Table, of: usize) -> Value {
        let sheet = layer.get("sheet").and_then(toml::Value::as_str).unwrap_or_default();
        let which = match i {
            0 if of == 1 => "It is one sheet, ",
            0 => "On top lies ",
            _ => "then ",
        };
        let name = Piece {
            path: json!(["blank", "layers", i, "sheet"]),
            kind: "choice",
            said: if sheet.is_empty() { "no sheet yet".into() } else { sheet.into() },
            value: json!(sheet),
            label: format!("sheet of layer {}", i + 1),
            choices: texts(&self.choices.sheets),
        };
        let mut pieces = vec![words(which), name.json()];
        let readings = layer.get("measured").and_then(toml::Value::as_array);
        let path = |n: usize| json!(["blank", "layers", i, "measured", n]);
        let count = readings.map_or(0, Vec::len);
        for (n, reading) in readings.into_iter().flatten().enumerate() {
            pieces.push(words(if n == 0 { ", measured " } else { ", " }));
            let label = format!("reading {} of {sheet}", n + 1);
            pieces.push(self.length_piece(path(n), Some(reading), "", &label));
        }
        pieces.push(words(if count == 0 { ", not measured." } else { "." }));
        let mut actions = vec![json!({
            "says": "add a reading", "ask": { "kind": "length", "label": format!("reading of {sheet}") },
            "changes": [{ "add": ["blank", "layers", i, "measured"] }],
        })];
        if count > 0 {
            let last = json!([{ "take": if count == 1 { json!(["blank", "layers", i, "measured"]) } else { path(count - 1) } }]);
            actions.push(action("take the last reading out", &last));
        }
        if i > 0 {
            actions.push(action("move it up", &json!([{ "move": ["blank", "layers", i], "to": i - 1 }])));
        }
        actions.push(action("take this layer away", &json!([{ "take": ["blank", "layers", i] }])));
        sentence(pieces, actions)
    }

    /// The sheets of the blank that an area can show, each once: the top one is the face.
    fn layers(&self) -> Vec<String> {
        let blank = self.plate.get("blank").and_then(toml::Value::as_table);
        let mut names: Vec<String> = Vec::new();
        for layer in blank.into_iter().flat_map(|b| tables(b, "layers")).skip(1) {
            if let Some(name) = layer.get("sheet").and_then(toml::Value::as_str)
                && !names.iter().any(|n| n == name)
            {
                names.push(name.to_owned());
            }
        }
        names
    }

    /// What stands beside an area's floor: its contours, what is kept, what becomes of narrow strokes.
    fn area(&self, i: usize) -> Value {
        let Some(area) = tables(self.plate, "area").nth(i) else { return Value::Null };
        let on = names(area.get("on"));
        let keep = names(area.get("keep"));
        let list = |key: &'static str, said: String, value: &[String], label: &str| {
            Piece {
                path: json!(["area", i, key]),
                kind: "names",
                said,
                value: json!(value),
                label: label.into(),
                choices: texts(&self.choices.contours),
            }
            .json()
        };
        let mut pieces = Vec::new();
        if !on.is_empty() {
            pieces.push(words("It is "));
            pieces.push(list("on", on.join(", "), &on, "contours of this area"));
            pieces.push(words("; "));
        } else {
            pieces.push(words("Besides, "));
        }
        let kept = if keep.is_empty() { "nothing".to_owned() } else { keep.join(", ") };
        pieces.push(list("keep", kept, &keep, "contours kept inside this area"));
        pieces.push(words(" is kept in it; strokes too narrow for the finest cutter "));
        let narrow = area.get("narrow").and_then(toml::Value::as_str).unwrap_or("");
        let ways = [
            ("", "are left for hand"),
            ("refuse", "are refused"),
            ("leave", "stay uncut"),
            ("centre line", "are cut along their middle"),
        ];
        let piece = Piece {
            path: json!(["area", i, "narrow"]),
            kind: "choice",
            said: ways.iter().find(|w| w.0 == narrow).map_or(narrow, |w| w.1).into(),
            value: json!(narrow),
            label: "what becomes of narrow strokes".into(),
            choices: ways.iter().map(|(value, says)| json!({ "value": value, "says": says })).collect(),
        };
        pieces.extend([piece.json(), words(".")]);
        let mut said = sentence(pieces, vec![action("take this area away", &json!([{ "take": ["area", i] }]))]);
        said["lettering"] = json!(self.lettering(i));
        said
    }

    fn edge(&self) -> Value {
        let Some(plate) = self.plate.get("plate").and_then(toml::Value::as_table) else {
            let ask = json!({ "kind": "names", "label": "contours that the plate lies within", "choices": self.choices.contours });
            let cut = json!({
                "says": "cut it out", "ask": ask, "changes": [
                    { "put": ["plate"], "as": { "table": [] } }, { "put": ["plate", "within"] },
                    { "put": ["plate", "held_by"], "as": { "table": [["tabs", { "number": "4" }]] } }],
            });
            return sentence(vec![words("The plate is not cut out of the blank.")], vec![cut]);
        };
        let within = names(plate.get("within"));
        let said = if within.is_empty() { "nothing yet".to_owned() } else { within.join(", ") };
        let inside = Piece {
            path: json!(["plate", "within"]),
            kind: "names",
            said,
            value: json!(within),
            label: "contours that the plate lies within".into(),
            choices: texts(&self.choices.contours),
        };
        let mut pieces = vec![words("The plate is what lies inside "), inside.json()];
        if let Some(held) = plate.get("held_by").and_then(toml::Value::as_table) {
            let at = |key: &str| json!(["plate", "held_by", key]);
            if let Some(tabs) = held.get("tabs") {
                let count = Piece {
                    path: at("tabs"),
                    kind: "count",
                    said: tabs.to_string(),
                    value: json!(tabs.to_string()),
                    label: "number of tabs".into(),
                    choices: Vec::new(),
                };
                pieces.extend([words(", held by "), count.json(), words(" tabs, ")]);
                pieces.push(self.length_piece(at("length"), held.get("length"), "as usual", "length of a tab"));
                pieces.push(words(" long, with "));
                pieces.push(self.length_piece(at("left"), held.get("left"), "as usual", "what is left under a tab"));
                pieces.push(words(" left under them"));
            } else if held.contains_key("skin") {
                pieces.push(words(", held by a skin of "));
                pieces.push(self.length_piece(at("skin"), held.get("skin"), "?", "thickness of the skin"));
            }
        }
        pieces.push(words("."));
        sentence(pieces, vec![action("don’t cut it out", &json!([{ "take": ["plate"] }]))])
    }

    fn holds(&self) -> Vec<Value> {
        let one = |(i, hold): (usize, &Table)| {
            let kind = hold.get("kind").and_then(toml::Value::as_str).unwrap_or_default();
            let at = hold.get("at").and_then(toml::Value::as_array);
            let which = Piece {
                path: json!(["hold", i, "kind"]),
                kind: "choice",
                said: kind.into(),
                value: json!(kind),
                label: format!("kind of hold {}", i + 1),
                choices: texts(&self.choices.holds),
            };
            let place = |axis: usize, name: &str| {
                let label = format!("{name} of hold {}", i + 1);
                self.length_piece(json!(["hold", i, "at", axis]), at.and_then(|a| a.get(axis)), "?", &label)
            };
            let pieces = vec![
                words("A "),
                which.json(),
                words(" stands at x "),
                place(0, "x"),
                words(", y "),
                place(1, "y"),
                words("."),
            ];
            sentence(pieces, vec![action("take it away", &json!([{ "take": ["hold", i] }]))])
        };
        let mut said: Vec<Value> = tables(self.plate, "hold").enumerate().map(one).collect();
        if let Some(kind) = self.choices.holds.first() {
            let add = json!([{ "add": ["hold"], "as": { "table": [
                ["kind", { "text": kind }], ["at", { "list": [{ "length": "10 mm" }, { "length": "10 mm" }] }]] } }]);
            let head = if said.is_empty() { "Nothing stands on the blank." } else { "" };
            said.push(sentence(vec![words(head)], vec![action("put a hold on the blank", &add)]));
        }
        said
    }
}

/// A name or a list of names.
fn names(value: Option<&toml::Value>) -> Vec<String> {
    match value {
        Some(toml::Value::String(name)) => vec![name.clone()],
        Some(toml::Value::Array(list)) => list.iter().filter_map(|v| v.as_str().map(str::to_owned)).collect(),
        _ => Vec::new(),
    }
}

/// The shop file as sections of rows: what each key means, what stands there, and what may.
pub(crate) fn shop(text: &str) -> Value {
    use intake::schema::{CUTTER, DIALECT, MACHINE, SHEET, SHOP_HOLD, SPINDLE, TOUCH_OFF};
    let Ok(shop) = text.trim_start_matches('\u{feff}').parse::<Table>() else { return Value::Null };
    let unit = shop.get("units").and_then(toml::Value::as_str).and_then(Unit::named).unwrap_or(Unit::Millimetre);
    let choices = Choices::default();
    let file = File { plate: &shop, unit, choices: &choices };
    let empty = Table::new();
    let mut sections = Vec::new();
    let name = |t: &Table, key: &str| t.get(key).map(|v| v.as_str().map_or_else(|| v.to_string(), str::to_owned));
    let mut many = |key: &str, section: &'static intake::schema::Section, what: &str, new: Value| {
        let count = tables(&shop, key).count();
        for (i, table) in tables(&shop, key).enumerate() {
            let number = if key == "cutter" { name(table, "number").unwrap_or_default() + ", " } else { String::new() };
            let title = format!("{what} {number}{}", name(table, "name").unwrap_or_default());
            let gone = if count > 1 {
                vec![action("take it out of the shop", &json!([{ "take": [key, i] }]))]
            } else {
                Vec::new()
            };
            sections.push(json!({ "title": title, "of": key, "rows": file.rows(section, table, &[json!(key), json!(i)]), "actions": gone }));
        }
        let add = json!([{ "add": [key], "as": new }]);
        sections.push(json!({ "title": Value::Null, "of": key, "rows": [], "actions": [action(&format!("add a {}", what.to_lowercase()), &add)] }));
    };
    let number = 1 + tables(&shop, "cutter").filter_map(|t| t.get("number")?.as_integer()).max().unwrap_or(0);
    many(
        "cutter",
        &CUTTER,
        "Cutter",
        json!({ "table": [
        ["number", { "number": number.to_string() }], ["name", { "text": format!("new cutter {number}") }], ["form", { "text": "flat" }],
        ["diameter", { "length": "3 mm" }], ["flutes", { "number": "1" }], ["flute_length", { "length": "12 mm" }], ["stick_out", { "length": "20 mm" }]] }),
    );
    let fresh = fresh_name("new sheet", tables(&shop, "sheet"));
    many(
        "sheet",
        &SHEET,
        "Sheet",
        json!({ "table": [
        ["name", { "text": fresh }], ["thickness", { "length": "3 mm" }], ["made", { "text": "cast" }], ["colour", { "text": "#808080" }]] }),
    );
    let fresh = fresh_name("new hold", tables(&shop, "hold"));
    many(
        "hold",
        &SHOP_HOLD,
        "Hold",
        json!({ "table": [
        ["name", { "text": fresh }], ["size", { "list": [{ "length": "8 mm" }, { "length": "8 mm" }] }], ["height", { "length": "3 mm" }]] }),
    );
    for (key, section, title) in [
        ("machine", &MACHINE, "The machine"),
        ("spindle", &SPINDLE, "The spindle"),
        ("touch_off", &TOUCH_OFF, "Touching off"),
        ("dialect", &DIALECT, "How programs are written"),
    ] {
        let table = shop.get(key).and_then(toml::Value::as_table).unwrap_or(&empty);
        let rows = file.rows(section, table, &[json!(key)]);
        let mut dial = Vec::new();
        for (i, position) in tables(table, "dial").enumerate() {
            let rows = file.rows(&intake::schema::DIAL, position, &[json!(key), json!("dial"), json!(i)]);
            dial.push(json!({ "title": format!("Dial position {}", name(position, "position").unwrap_or_default()), "of": "dial", "rows": rows, "actions": [] }));
        }
        sections.push(json!({ "title": title, "of": key, "rows": rows, "actions": [] }));
        sections.extend(dial);
    }
    let mut head = Map::new();
    head.insert("name".into(), json!(name(&shop, "name").unwrap_or_default()));
    head.insert("sections".into(), Value::Array(sections));
    Value::Object(head)
}

/// A name that none of these has.
fn fresh_name<'t>(name: &str, of: impl Iterator<Item = &'t Table>) -> String {
    let taken: Vec<&str> = of.filter_map(|t| t.get("name")?.as_str()).collect();
    let numbered = (2..=taken.len() + 2).map(|n| format!("{name} {n}"));
    std::iter::once(name.to_owned()).chain(numbered).find(|n| !taken.contains(&n.as_str())).unwrap_or_default()
}

impl File<'_> {
    fn rows(&self, section: &intake::schema::Section, table: &Table, at: &[Value]) -> Vec<Value> {
        section.keys.iter().filter_map(|key| self.row(key, table, at)).collect()
    }

    /// One key: its name, what it means, and its value or what holds without it. Keys that hold further tables are told elsewhere.
    fn row(&self, key: &intake::schema::Key, table: &Table, at: &[Value]) -> Option<Value> {
        use intake::schema::{LeftOut, Takes};
        let value = table.get(key.name);
        let path = |more: Option<usize>| {
            let mut path = at.to_vec();
            path.push(json!(key.name));
            path.extend(more.map(|i| json!(i)));
            Value::Array(path)
        };
        let without = match key.left_out {
            LeftOut::Needed => "needed".to_owned(),
            LeftOut::Assumed(v) => format!("{v} (assumed)"),
            LeftOut::Means(v) => format!("{v} (as usual)"),
            LeftOut::Then(v) => v.to_owned(),
        };
        let plain = |v: &toml::Value| v.as_str().map_or_else(|| v.to_string(), str::to_owned);
        let label = key.name.replace('_', " ");
        let one = |kind: &'static str, choices: Vec<Value>| {
            let said = value.map_or(without.clone(), plain);
            let value = json!(value.map(plain).unwrap_or_default());
            vec![Piece { path: path(None), kind, said, value, label: label.clone(), choices }.json()]
        };
        let list = |kind: &'static str, count: usize| {
            let values = value.and_then(toml::Value::as_array);
            let whole = values.is_some_and(|v| v.len() == count);
            if !whole {
                return vec![words(without.clone())];
            }
            let one = |(i, v): (usize, &toml::Value)| {
                if kind == "length" {
                    return self.length_piece(path(Some(i)), Some(v), "", &format!("{label} {}", i + 1));
                }
                Piece {
                    path: path(Some(i)),
                    kind,
                    said: plain(v),
                    value: json!(plain(v)),
                    label: format!("{label} {}", i + 1),
                    choices: Vec::new(),
                }
                .json()
            };
            let mut pieces: Vec<Value> = Vec::new();
            for (i, v) in values.into_iter().flatten().enumerate() {
                if i > 0 {
                    pieces.push(words(", "));
                }
                pieces.push(one((i, v)));
            }
            pieces
        };
        let pieces = match key.takes {
            Takes::Text => one("text", Vec::new()),
            Takes::Colour => one("colour", Vec::new()),
            Takes::Words(all) => one("choice", all.iter().map(|w| json!(w)).collect()),
            Takes::Flag => one("flag", vec![json!("true"), json!("false")]),
            Takes::Whole(..) => one("count", Vec::new()),
            Takes::Number(..) | Takes::Degrees(..) => one("number", Vec::new()),
            // A feed or speed with a unit of its own is words; without one it is a number.
            Takes::Feed(..) | Takes::Speed(..) | Takes::Angle(..) => one("amount", Vec::new()),
            Takes::Length(..) => vec![self.length_piece(path(None), value, &without, &label)],
            Takes::Lengths(n, ..) => list("length", n),
            Takes::Numbers(n, ..) => list("number", n),
            Takes::Readings(..) | Takes::Names | Takes::Table(_) | Takes::Tables(_) => return None,
            Takes::Forms(_) => match value {
                Some(v) if v.is_str() || v.is_float() || v.is_integer() => one("amount", Vec::new()),
                _ => vec![words(without.clone())],
            },
        };
        let optional = !matches!(key.left_out, LeftOut::Needed) && value.is_some();
        let actions =
            if optional { vec![action("leave it out", &json!([{ "take": path(None) }]))] } else { Vec::new() };
        Some(json!({ "key": label, "says": key.says, "pieces": pieces, "actions": actions, "set": value.is_some() }))
    }
}
