//! `look DRAWING`: what is in a drawing, before anything is asked of it.

use super::show;
use crate::terminal::{DONE, REFUSED, UNREADABLE, say, say_json};
use drawing::{Drawing, ReadOptions};
use quantity::{Length, Unit, trimmed};
use reach::{Narrow, narrowest};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::Path;

const GAPS_WAY_OUT: &str = "give a length such as --close-gaps \"0.2 mm\"";
/// Places named for each name.
const PLACES: usize = 3;

pub(crate) fn run(path: &Path, units: Option<&str>, close_gaps: Option<&str>, json: bool) -> u8 {
    let mut options = ReadOptions::default();
    if let Some(word) = units {
        let Some(unit) = Unit::named(word) else {
            let way_out = "use mm, cm, m, um, in or thou";
            return show::refused("look", &format!("`{word}` is not a unit"), way_out, json);
        };
        options.units = Some(unit);
    }
    if let Some(words) = close_gaps {
        match Length::parse(words, Unit::Millimetre) {
            Ok(gap) if gap >= Length::ZERO => options.close_gaps = gap,
            Ok(_) => return show::refused("look", "--close-gaps can't be negative", GAPS_WAY_OUT, json),
            Err(e) => return show::refused("look", &format!("--close-gaps: {e}"), GAPS_WAY_OUT, json),
        }
    }
    let bytes = match std::fs::read(path) {
        Ok(bytes) => bytes,
        Err(e) => {
            let words = format!("the drawing `{}` can't be read: {e}", path.display());
            return show::refused("look", &words, "check its name and that it may be read", json);
        }
    };
    let name = path.file_name().map_or_else(|| "drawing".into(), |n| n.to_string_lossy().into_owned());
    let drawing = drawing::read(&name, &bytes, &options);
    let nothing = drawing.contours.is_empty() && drawing.open_paths.is_empty();
    let status = match (doubt::any_blocks(&drawing.doubts), nothing) {
        (true, true) => UNREADABLE,
        (true, false) => REFUSED,
        _ => DONE,
    };
    let found = narrow_places(&drawing);
    if json {
        say_json(&as_json(&drawing, &found, status));
    } else {
        as_text(&drawing, &found, &String::from_utf8_lossy(&bytes));
    }
    status
}

/// A name, its summary's figures, and its narrowest places.
struct Found {
    name: String,
    narrow: Vec<Narrow>,
    /// The widest of the starter shop's cutters that passes everywhere.
    passes: Option<(String, f64)>,
}

fn narrow_places(drawing: &Drawing) -> Vec<Found> {
    let (shop, _) = intake::shop(intake::STARTER_SHOP_FILE, intake::STARTER_SHOP);
    let cutters: Vec<(String, f64)> =
        shop.map(|s| s.cutters.iter().map(|c| (c.name.clone(), c.cutting_width.to_mm())).collect()).unwrap_or_default();
    let names = drawing.names().into_iter().filter(|n| n.contours > 0);
    names
        .map(|n| {
            let (mut region, _) = drawing.region(&n.name);
            // A step in proportion to the drawing, so that a large one does not take long.
            let step = (region.length() / 20_000.0).max(0.05);
            // Shape by shape, since a circle inside the region lies in one of them: searching all of a pattern of a
            // thousand holes from each of its walls takes minutes.
            let mut narrow: Vec<Narrow> = Vec::new();
            for shape in std::mem::take(&mut region.shapes) {
                region.shapes = vec![shape];
                narrow.extend(narrowest(&region, step, PLACES));
            }
            narrow.sort_by(|a, b| {
                a.width.total_cmp(&b.width).then(a.at.x.total_cmp(&b.at.x)).then(a.at.y.total_cmp(&b.at.y))
            });
            narrow.truncate(PLACES);
            let least = narrow.first().map_or(f64::INFINITY, |p| p.width);
            let passing = cutters.iter().filter(|c| c.1 <= least + 1e-6);
            let passes = passing.max_by(|a, b| a.1.total_cmp(&b.1)).cloned();
            Found { name: n.name, narrow, passes }
        })
        .collect()
}

fn as_text(drawing: &Drawing, found: &[Found], text: &str) {
    let unit = &drawing.units;
    say(&format!("{}: {:?}, numbers in {} ({:?})", drawing.file, drawing.format, unit.name, unit.from)
        .replace("Dxf", "DXF")
        .replace("Svg", "SVG"));
    if let Some(b) = drawing.bounds() {
        say(&format!("{} x {} mm, from x {} y {}", mm(b.width()), mm(b.height()), mm(b.min.x), mm(b.min.y)));
    }
    say("");
    for name in drawing.names() {
        let open = if name.open > 0 { format!(", {} open", name.open) } else { String::new() };
        say(&format!(
            "{}: {} contours{open}, {} x {} mm, {} mm²",
            name.name,
            name.contours,
            mm(name.bounds.width()),
            mm(name.bounds.height()),
            trimmed(name.area, 2)
        ));
        let Some(f) = found.iter().find(|f| f.name == name.name) else { continue };
        for place in &f.narrow {
            say(&format!("    {} mm wide at x {} y {}", mm(place.width), mm(place.at.x), mm(place.at.y)));
        }
        if f.narrow.is_empty() {
            say(&format!("    nowhere narrower than {} mm", mm(reach::WIDEST)));
        }
        match &f.passes {
            Some((cutter, _)) => say(&format!("    {cutter} passes everywhere but into corners")),
            None => say("    narrower than any cutter of the starter shop"),
        }
    }
    if !drawing.skipped.is_empty() {
        say("");
        for s in &drawing.skipped {
            let on = if s.name.is_empty() { String::new() } else { format!(" on `{}`", s.name) };
            say(&format!("left out: {} {}{on}: {}", s.count, s.kind, s.why.words()));
        }
    }
    say("");
    show::doubts(&drawing.doubts, &BTreeMap::from([(drawing.file.clone(), text.to_owned())]));
}

fn as_json(drawing: &Drawing, found: &[Found], status: u8) -> Value {
    let names: Vec<Value> = drawing
        .names()
        .iter()
        .map(|n| {
            let f = found.iter().find(|f| f.name == n.name);
            let narrow = f.map_or_else(Vec::new, |f| {
                f.narrow.iter().map(|p| json!({ "width": p.width, "at": [p.at.x, p.at.y] })).collect()
            });
            let cutter = f.and_then(|f| f.passes.as_ref());
            json!({
                "name": n.name, "contours": n.contours, "open": n.open, "area": n.area,
                "bounds": n.bounds, "narrowest": narrow,
                "largest_cutter_that_passes": cutter.map(|c| json!({ "name": c.0, "cutting_width": c.1 })),
            })
        })
        .collect();
    json!({
        "command": "look",
        "status": status,
        "file": drawing.file,
        "format": drawing.format,
        "units": drawing.units,
        "size": drawing.size,
        "names": names,
        "skipped": drawing.skipped,
        "repairs": drawing.repairs,
        "entities": drawing.raw_entities,
        "doubts": drawing.doubts,
    })
}

fn mm(v: f64) -> String {
    trimmed(v, 3)
}
