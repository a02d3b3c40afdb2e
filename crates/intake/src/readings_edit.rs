//! What a maker measures at the bench, put into the files: a sheet's thickness readings into the plate file, a cutter's
//! diameter into the shop file. Comments, order and everything else stay as they are.

use crate::edit::{Change, Said, Step, with_changes};
use crate::floor_edit::{name_of, unit};
use crate::reading::Reading;
use crate::text_edit::NoEdit;
use quantity::{Length, Unit};
use toml::de::DeValue;

/// Most readings of one sheet.
const MOST_READINGS: usize = 40;
/// Thickest sheet and widest cutter that a reading is taken for; thinner than [`THINNEST`] is a slip of the finger.
const THICKEST: f64 = 100.0;
/// See [`THICKEST`], mm.
const THINNEST: f64 = 0.05;

/// One layer of the blank, as the plate file says it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LayerLine {
    /// The sheet's name.
    pub sheet: String,
    /// Its readings with their units, in the order of the file; none if it was not measured.
    pub measured: Vec<String>,
}

/// One cutter, as the shop file says it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CutterLine {
    /// Its number.
    pub number: i64,
    /// Its diameter with its unit; empty where the file says none.
    pub diameter: String,
}

/// The layers of a plate file's blank, top first; of a text that is broken, those that can be read.
pub fn layer_lines(text: &str) -> Vec<LayerLine> {
    let (_, root) = Reading::parse("", text);
    let unit = unit(text);
    let blank = root.get_ref().get("blank").and_then(|b| b.get_ref().get("layers"));
    let Some(DeValue::Array(layers)) = blank.map(toml::Spanned::get_ref) else { return Vec::new() };
    let of = |layer: &DeValue<'_>| {
        let sheet = layer.get("sheet").and_then(|s| s.get_ref().as_str()).unwrap_or_default().to_owned();
        let measured = match layer.get("measured").map(toml::Spanned::get_ref) {
            Some(DeValue::Array(list)) => list.iter().filter_map(|v| amount(v.get_ref(), unit)).collect(),
            Some(one) => amount(one, unit).into_iter().collect(),
            None => Vec::new(),
        };
        LayerLine { sheet, measured }
    };
    layers.iter().map(|l| of(l.get_ref())).collect()
}

/// The cutters of a shop file in the order of the text; of a text that is broken, those that can be read.
pub fn cutter_lines(text: &str) -> Vec<CutterLine> {
    let (_, root) = Reading::parse("", text);
    let unit = unit(text);
    let Some(DeValue::Array(cutters)) = root.get_ref().get("cutter").map(toml::Spanned::get_ref) else {
        return Vec::new();
    };
    let of = |cutter: &DeValue<'_>| {
        let number = match cutter.get("number").map(toml::Spanned::get_ref) {
            Some(DeValue::Integer(i)) => i.as_str().parse().ok()?,
            _ => return None,
        };
        let diameter = cutter.get("diameter").and_then(|d| amount(d.get_ref(), unit)).unwrap_or_default();
        Some(CutterLine { number, diameter })
    };
    cutters.iter().filter_map(|c| of(c.get_ref())).collect()
}

/// A length as the file says it, with its unit.
fn amount(value: &DeValue<'_>, unit: Unit) -> Option<String> {
    match value {
        DeValue::Integer(i) if i.radix() == 10 => Some(format!("{} {}", i.as_str(), name_of(unit))),
        DeValue::Float(f) => Some(format!("{} {}", f.as_str(), name_of(unit))),
        DeValue::String(text) => Some(text.to_string()),
        _ => None,
    }
}

/// The plate file's text with other readings of the layer at an index (from 0, in the order of [`layer_lines`]). A reading in the
/// file's own unit becomes a bare number; any other is kept as it was typed.
///
/// # Errors
/// [`NoEdit`] if there are no readings or one is no thickness, there is no such layer, or something else would change.
pub fn with_measured(text: &str, layer: usize, readings: &[&str]) -> Result<String, NoEdit> {
    let own = unit(text);
    if readings.is_empty() || readings.len() > MOST_READINGS {
        return Err(NoEdit::NoLength(format!("give one to {MOST_READINGS} readings, with commas between")));
    }
    readings.iter().try_for_each(|r| thickness(r, own))?;
    if layer >= layer_lines(text).len() {
        return Err(NoEdit::NotThere);
    }
    let said = Said::List(readings.iter().map(|r| Said::Length((*r).to_owned())).collect());
    with_changes(text, &[Change::Put(path(&["blank", "layers"], layer, "measured"), said)])
}

/// The shop file's text with another diameter of the cutter of a number.
///
/// # Errors
/// [`NoEdit`] if the words are no diameter, there is not one cutter of that number, or something else would change.
pub fn with_diameter(text: &str, number: i64, diameter: &str) -> Result<String, NoEdit> {
    thickness(diameter, unit(text))?;
    let all = cutter_lines(text);
    let mut found = all.iter().enumerate().filter(|(_, c)| c.number == number).map(|(index, _)| index);
    let (Some(index), None) = (found.next(), found.next()) else { return Err(NoEdit::NotThere) };
    with_changes(text, &[Change::Put(path(&["cutter"], index, "diameter"), Said::Length(diameter.to_owned()))])
}

fn path(list: &[&str], index: usize, key: &str) -> Vec<Step> {
    let keys = list.iter().map(|k| Step::Key((*k).to_owned()));
    keys.chain([Step::At(index), Step::Key(key.to_owned())]).collect()
}

/// Whether words are a thickness or diameter that may be measured.
fn thickness(words: &str, own: Unit) -> Result<(), NoEdit> {
    let mm = Length::parse(words.trim(), own).map_err(|why| NoEdit::NoLength(why.to_string()))?.to_mm();
    if (THINNEST..=THICKEST).contains(&mm) {
        return Ok(());
    }
    Err(NoEdit::NoLength(format!(
        "{} mm is no reading: from {THINNEST} to {THICKEST} mm is taken",
        quantity::trimmed(mm, 4)
    )))
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLATE: &str = "# A plate.\nunits = \"mm\"\n\n[blank]\nlayers = [   # top first\n  { sheet = \"black\", measured = [2.94, \"0.117 in\"] },  # by micrometer\n  \
                         { sheet = \"ruby\" },\n]\n\n[[area]]\non = \"field\"\n";

    fn differing<'a>(a: &'a str, b: &'a str) -> Vec<&'a str> {
        a.lines().filter(|l| !b.lines().any(|k| k == *l)).collect()
    }

    #[test]
    fn readings_as_the_text_says_them() {
        let found = layer_lines(PLATE);
        assert_eq!(found[0].measured, ["2.94 mm", "0.117 in"]);
        assert_eq!((found[1].sheet.as_str(), found[1].measured.len()), ("ruby", 0));
        assert_eq!(cutter_lines(crate::STARTER_SHOP)[0], CutterLine { number: 1, diameter: "1/8 in".into() });
        for broken in ["", "blank = 3", "[blank", "[blank]\nlayers = 3", "[blank]\nlayers = [3]", "\u{0}"] {
            assert!(layer_lines(broken).len() <= 1, "{broken}");
            assert!(cutter_lines(broken).is_empty());
        }
    }

    #[test]
    fn one_line_changes_and_its_comment_stays() {
        let new = with_measured(PLATE, 0, &["2.9", " 2.95 mm ", "0.116 in"]).unwrap();
        assert_eq!(
            differing(&new, PLATE),
            ["  { sheet = \"black\", measured = [2.9, 2.95, \"0.116 in\"] },  # by micrometer"]
        );
        let added = with_measured(PLATE, 1, &["3.02"]).unwrap();
        assert_eq!(differing(&added, PLATE), ["  { sheet = \"ruby\", measured = [3.02] },"]);
        assert_eq!(layer_lines(&added)[1].measured, ["3.02 mm"]);
        // Undone by another edit to the byte.
        assert_eq!(with_measured(&new, 0, &["2.94", "0.117 in"]).unwrap(), PLATE);
    }

    #[test]
    fn a_cutters_diameter_alone_changes() {
        let old = crate::STARTER_SHOP
            .replacen("diameter = \"1/16 in\"", "diameter=\"1/16 in\"   # as sold", 1)
            .replace('\n', "\r\n");
        let new = with_diameter(&old, 2, "1.55 mm").unwrap();
        assert_eq!(differing(&new, &old), ["diameter=1.55   # as sold"]);
        assert_eq!(differing(&old, &new).len(), 1);
        assert_eq!(with_diameter(&new, 2, "1/16 in").unwrap(), old);
        let shop = crate::shop("", &new).0.unwrap();
        assert!((shop.cutter(2).unwrap().diameter.to_mm() - 1.55).abs() < 1e-12);
    }

    #[test]
    fn what_cant_be_taken_says_so() {
        let no_length = |r: Result<String, NoEdit>| matches!(r, Err(NoEdit::NoLength(_)));
        for wrong in ["", "mm", "1 parsec", "NaN", "2.9] #", "2.9\nx = 1", "1e999", "-3", "0", "0.01", "101", "3 km"] {
            assert!(no_length(with_measured(PLATE, 0, &[wrong])), "{wrong}");
            assert!(no_length(with_diameter(crate::STARTER_SHOP, 1, wrong)), "{wrong}");
        }
        assert!(no_length(with_measured(PLATE, 0, &[])) && no_length(with_measured(PLATE, 0, &["3"; 41])));
        assert_eq!(with_measured(PLATE, 9, &["3"]), Err(NoEdit::NotThere));
        assert_eq!(with_diameter(crate::STARTER_SHOP, 99, "3"), Err(NoEdit::NotThere));
        let twice = format!("{0}{0}", "[[cutter]]\nnumber = 1\ndiameter = 3\n");
        assert_eq!(with_diameter(&twice, 1, "3.1"), Err(NoEdit::NotThere));
        assert_eq!(with_measured(&PLATE.replacen('\n', "\r\n", 2), 0, &["3"]), Err(NoEdit::NotKept));
        let inside = PLATE.replace("[2.94, \"0.117 in\"]", "[2.94, # left\n 2.95]");
        assert_eq!(with_measured(&inside, 0, &["3"]), Err(NoEdit::NotKept), "the comment is not lost");
    }
}
