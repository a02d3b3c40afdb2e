//! A shop file's text with other figures of pace: comments, order and everything else stay as they are.

use crate::shop_file;
use crate::text_edit::{NoEdit, rewritten};
use quantity::{Length, Unit, trimmed};
use toml_edit::{DocumentMut, Item, Value};

/// The lines for `[machine]` that say these figures in a shop file of this text: acceleration in x, y and z, mm/s², and the
/// corner deviation, with its unit where the file's numbers aren't mm.
pub fn pace_lines(text: &str, acceleration: [f64; 3], corner_deviation: Length) -> [String; 2] {
    let figures = Figures::new(text, acceleration, corner_deviation);
    let [x, y, z] = &figures.acceleration;
    [format!("acceleration = [{x}, {y}, {z}]"), format!("corner_deviation = {}", figures.corner_deviation)]
}

/// The text with these figures in `[machine]`. `None` if it can't be edited so that it says them and nothing else differs.
pub fn with_pace(text: &str, acceleration: [f64; 3], corner_deviation: Length) -> Option<String> {
    let figures = Figures::new(text, acceleration, corner_deviation);
    let put_in = |document: &mut DocumentMut| -> Option<()> {
        let machine = document.get_mut("machine")?.as_table_like_mut()?;
        match machine.get_mut("acceleration").and_then(Item::as_array_mut) {
            Some(list) if list.len() == 3 => {
                for (place, said) in list.iter_mut().zip(&figures.acceleration) {
                    put(place, said.parse().ok()?);
                }
            }
            _ => {
                let list = format!("[{}]", figures.acceleration.join(", "));
                machine.insert("acceleration", Item::Value(list.parse().ok()?));
            }
        }
        let deviation: Value = figures.corner_deviation.parse().ok()?;
        match machine.get_mut("corner_deviation").and_then(Item::as_value_mut) {
            Some(place) => put(place, deviation),
            None => {
                machine.insert("corner_deviation", Item::Value(deviation));
            }
        }
        Some(())
    };
    let edited = rewritten(text, |document| put_in(document).ok_or(NoEdit::NotThere)).ok()?;
    says_only(text, &edited, &figures).then_some(edited)
}

/// Figures as a shop file says them.
struct Figures {
    acceleration: [String; 3],
    corner_deviation: String,
}

impl Figures {
    fn new(text: &str, acceleration: [f64; 3], corner_deviation: Length) -> Self {
        let (document, _) = toml::de::DeTable::parse_recoverable(text);
        let unit = document.get_ref().get("units").and_then(|u| u.get_ref().as_str()).and_then(Unit::named);
        let mm = trimmed(corner_deviation.to_mm(), 6);
        let corner_deviation = match unit {
            None | Some(Unit::Millimetre) => mm,
            Some(_) => format!("\"{mm} mm\""),
        };
        Self { acceleration: acceleration.map(|a| trimmed(a, 3)), corner_deviation }
    }
}

/// Puts a value in another's place, with the space and the comment round it.
fn put(place: &mut Value, mut value: Value) {
    *value.decor_mut() = place.decor().clone();
    *place = value;
}

/// Whether the edited text is the shop of the old one with these figures.
fn says_only(old: &str, edited: &str, figures: &Figures) -> bool {
    let (Some(mut before), Some(after)) = (shop_file::read("", old).0, shop_file::read("", edited).0) else {
        return false;
    };
    let said = |text: &String| text.parse::<f64>().unwrap_or(f64::NAN);
    let wanted: Vec<f64> = figures.acceleration.iter().map(said).collect();
    if after.shop.machine.acceleration.to_vec() != wanted {
        return false;
    }
    before.shop.machine.acceleration = after.shop.machine.acceleration;
    before.shop.machine.corner_deviation = after.shop.machine.corner_deviation;
    // Places move where a line was added.
    before.places.clone_from(&after.places);
    before == after
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIGURES: ([f64; 3], f64) = ([352.0, 352.0, 264.5], 0.0333);

    fn edited(text: &str) -> Option<String> {
        with_pace(text, FIGURES.0, Length::mm(FIGURES.1))
    }

    /// Lines that are in one text and not in the other.
    fn differing<'a>(a: &'a str, b: &'a str) -> Vec<&'a str> {
        a.lines().filter(|l| !b.lines().any(|k| k == *l)).collect()
    }

    #[test]
    fn only_the_two_figures_change() {
        let old = crate::STARTER_SHOP
            .replace("acceleration = [200, 200, 150]", "acceleration = [ 200,200, # as told\n  150 ]   # by ear")
            .replace("corner_deviation = 0.02", "corner_deviation=\"0.02 mm\"  # a guess");
        let new = edited(&old).unwrap();
        assert_eq!(
            differing(&new, &old),
            ["acceleration = [ 352,352, # as told", "  264.5 ]   # by ear", "corner_deviation=0.0333  # a guess"]
        );
        assert_eq!(differing(&old, &new).len(), 3);
        assert_eq!(edited(&new).as_ref(), Some(&new), "once is enough");
        let shop = shop_file::read("", &new).0.unwrap().shop;
        assert_eq!(shop.machine.acceleration, FIGURES.0);
        assert!((shop.machine.corner_deviation.to_mm() - FIGURES.1).abs() < 1e-12);
    }

    #[test]
    fn keys_that_were_left_out_are_added() {
        let old = crate::STARTER_SHOP
            .replace("acceleration = [200, 200, 150]\n", "")
            .replace("corner_deviation = 0.02\n", "");
        let new = edited(&old).unwrap();
        assert_eq!(differing(&new, &old), ["acceleration = [352, 352, 264.5]", "corner_deviation = 0.0333"]);
        assert!(differing(&old, &new).is_empty());
    }

    #[test]
    fn line_ends_marks_and_units_are_kept() {
        let old = format!("\u{feff}{}", crate::STARTER_SHOP.replace('\n', "\r\n"));
        let new = edited(&old).unwrap();
        assert!(new.starts_with('\u{feff}') && new.matches("\r\n").count() == new.matches('\n').count());
        assert_eq!(differing(&old, &new).len(), 2);
        let inch = "units = \"in\"\n[machine]\ntravel = [1, 1, 1]\n";
        assert_eq!(pace_lines(inch, FIGURES.0, Length::mm(0.0333))[1], "corner_deviation = \"0.0333 mm\"");
        assert_eq!(pace_lines("", FIGURES.0, Length::ZERO)[1], "corner_deviation = 0");
        assert_eq!(pace_lines("", FIGURES.0, Length::ZERO)[0], "acceleration = [352, 352, 264.5]");
    }

    /// What can't be edited without another change stays as it is.
    #[test]
    fn what_is_no_shop_is_left_alone() {
        let mixed = crate::STARTER_SHOP.replacen('\n', "\r\n", 3);
        for text in ["", "machine = 3\n", "[machine]\n", "not toml [", mixed.as_str()] {
            assert_eq!(edited(text), None, "{text}");
        }
    }
}
