//! Every key that plate and shop files know: what it takes, its range, what holds when it is left out, and an
//! example. The parser asks here, the messages quote from here, and the tables in `docs/plate-file.md` and
//! `docs/shop-file.md` are this schema as text (a test holds them together).

mod plate;
mod shop;

pub use plate::{ARC, AREA, BLANK, EDGE, FLOOR, HELD, HOLD, LAYER, LETTERING, OUTLINE, PLATE, PLATE_FILE, UNDER};
pub use shop::{CUTTER, DIAL, DIALECT, MACHINE, MATERIALS, SHEET, SHOP, SHOP_FILE, SHOP_HOLD, SPINDLE, TOUCH_OFF};

use std::fmt::Write;

/// What a key takes. Ranges of lengths are in mm, of feeds in mm/min, of speeds in rev/min, and include their ends.
#[derive(Debug, Clone, Copy)]
pub enum Takes {
    /// Text that isn't empty.
    Text,
    /// One of these words.
    Words(&'static [&'static str]),
    /// true or false.
    Flag,
    /// A whole number.
    Whole(u32, u32),
    /// A number without a unit.
    Number(f64, f64),
    /// A length.
    Length(f64, f64),
    /// This many lengths in a list.
    Lengths(usize, f64, f64),
    /// This many numbers in a list.
    Numbers(usize, f64, f64),
    /// At least one length in a list.
    Readings(f64, f64),
    /// An angle in degrees.
    Degrees(f64, f64),
    /// An angle with its unit, or a number of degrees; the range is in degrees.
    Angle(f64, f64),
    /// A feed.
    Feed(f64, f64),
    /// A spindle speed.
    Speed(f64, f64),
    /// A colour as `#rrggbb`.
    Colour,
    /// A name or a list of names.
    Names,
    /// A table with the keys of the section of this title.
    Table(&'static str),
    /// A list of tables with the keys of the section of this title.
    Tables(&'static str),
    /// Several forms, in words.
    Forms(&'static str),
}

/// What holds when a key is left out.
#[derive(Debug, Clone, Copy)]
pub enum LeftOut {
    /// It must be there.
    Needed,
    /// This value, as it would be written in the file; the packet says that it was assumed.
    Assumed(&'static str),
    /// This value, as it would be written in the file; nothing is said.
    Means(&'static str),
    /// What the words say.
    Then(&'static str),
}

/// A key.
#[derive(Debug, Clone, Copy)]
pub struct Key {
    /// As written in the file.
    pub name: &'static str,
    /// What it takes.
    pub takes: Takes,
    /// What holds without it.
    pub left_out: LeftOut,
    /// A line of TOML.
    pub example: &'static str,
    /// What it means.
    pub says: &'static str,
}

/// The keys of one table.
#[derive(Debug)]
pub struct Section {
    /// As messages name it: `[blank]`.
    pub title: &'static str,
    /// Its keys.
    pub keys: &'static [Key],
}

impl Section {
    /// The key of a name.
    pub fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|k| k.name == name)
    }

    /// The names of all keys.
    pub fn names(&self) -> impl Iterator<Item = &'static str> {
        self.keys.iter().map(|k| k.name)
    }
}

use LeftOut::{Assumed, Means, Needed, Then};

const fn key(name: &'static str, takes: Takes, left_out: LeftOut, example: &'static str, says: &'static str) -> Key {
    Key { name, takes, left_out, example, says }
}

/// Units that files may count in.
pub const UNITS: &[&str] = &["mm", "cm", "in"];

impl Takes {
    /// What it takes, in words, with its range.
    pub fn words(self) -> String {
        let number = |v: f64| quantity::trimmed(v, 5);
        let range = |a: f64, b: f64| format!("{} to {}", number(a), number(b));
        match self {
            Self::Text => "text".into(),
            Self::Words(words) => {
                let quoted: Vec<String> = words.iter().map(|w| format!("\"{w}\"")).collect();
                if quoted.len() == 1 { quoted.concat() } else { format!("one of {}", quoted.join(", ")) }
            }
            Self::Flag => "true or false".into(),
            Self::Whole(a, b) => format!("a whole number, {a} to {b}"),
            Self::Number(a, b) => format!("a number, {}", range(a, b)),
            Self::Length(a, b) => format!("a length, {} mm", range(a, b)),
            Self::Lengths(n, a, b) => format!("a list of {n} lengths, {} mm", range(a, b)),
            Self::Numbers(n, a, b) => format!("a list of {n} numbers, {}", range(a, b)),
            Self::Readings(a, b) => format!("a list of lengths, {} mm", range(a, b)),
            Self::Degrees(a, b) => format!("an angle in degrees, {}", range(a, b)),
            Self::Angle(a, b) => format!("an angle, {} degrees", range(a, b)),
            Self::Feed(a, b) => format!("a feed, {} mm/min", range(a, b)),
            Self::Speed(a, b) => format!("a speed, {} rev/min", range(a, b)),
            Self::Colour => "a colour as \"#rrggbb\"".into(),
            Self::Names => "a name or a list of names".into(),
            Self::Table(title) => format!("a table: {title}"),
            Self::Tables(title) => format!("a list of tables: {title}"),
            Self::Forms(words) => words.into(),
        }
    }
}

/// The documentation of sections as text: a heading and a table for each.
pub fn as_text(sections: &[&Section]) -> String {
    let mut text = String::new();
    for section in sections {
        let _ = writeln!(text, "### {}\n", section.title);
        text.push_str("| key | takes | left out | meaning | example |\n| --- | --- | --- | --- | --- |\n");
        for key in section.keys {
            let left_out = match key.left_out {
                Needed => "needed".into(),
                Assumed(value) => format!("`{value}`, and it is said"),
                Means(value) => format!("`{value}`"),
                Then(words) => words.to_owned(),
            };
            let (takes, says) = (key.takes.words(), key.says);
            let example = key.example.replace('\n', "`<br>`");
            let _ = writeln!(text, "| `{}` | {takes} | {left_out} | {says} | `{example}` |", key.name);
        }
        text.push('\n');
    }
    text
}
