//! The docs of the plate and shop files hold every key the parser knows and no other, and their examples work.
//! With `UPDATE_DOCS=1` in the environment the tables of keys are written anew.
#![expect(clippy::unwrap_used, reason = "a doc that cannot be read fails its test")]

use intake::schema;
use std::io;
use std::path::PathBuf;

const START: &str = "<!-- keys: made from the schema; see crates/intake/tests/docs.rs -->\n";
const END: &str = "<!-- end of keys -->";
const MATERIALS: [&str; 2] =
    ["<!-- materials: made from the code; see crates/intake/tests/docs.rs -->\n", "<!-- end of materials -->"];

fn doc(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../docs").join(name)
}

/// What stands between two marks of a doc is what was made for it.
fn hold_together(name: &str, [start, end]: [&str; 2], made: &str) {
    let text = std::fs::read_to_string(doc(name)).unwrap();
    let (before, rest) = text.split_once(start).unwrap();
    let (stands, after) = rest.split_once(end).unwrap();
    if std::env::var_os("UPDATE_DOCS").is_some() {
        std::fs::write(doc(name), format!("{before}{start}{made}{end}{after}")).unwrap();
        return;
    }
    assert_eq!(stands, made, "docs/{name} and the code differ; run with UPDATE_DOCS=1 and read what changed");
}

#[test]
fn docs_hold_every_key_and_no_other() {
    hold_together("plate-file.md", [START, END], &schema::as_text(schema::PLATE_FILE));
    hold_together("shop-file.md", [START, END], &schema::as_text(schema::SHOP_FILE));
    hold_together("shop-file.md", MATERIALS, &reckon::material::as_text());
}

/// Every material that a sheet may be made of has figures, under the word that the shop file takes.
#[test]
fn every_material_can_be_named() {
    for word in schema::MATERIALS {
        let sheet =
            format!("[[sheet]]\nname = \"of it\"\nthickness = 3\ncolour = \"#808080\"\nmaterial = \"{word}\"\n");
        let (shop, doubts) = intake::shop("shop.toml", &format!("{}\n{sheet}", intake::STARTER_SHOP));
        let shop = shop.unwrap_or_else(|| panic!("{word}: {doubts:?}"));
        let stock = reckon::material::stock_of(shop.sheets.last().unwrap().material);
        assert!(stock.name == *word || (*word == "acrylic" && stock.name == "cast acrylic"), "{word}: {}", stock.name);
    }
    assert_eq!(schema::MATERIALS.len() + 1, reckon::material::STOCKS.len(), "acrylic is cast or extruded");
}

#[test]
fn every_example_is_toml_and_uses_its_key() {
    for key in schema::PLATE_FILE.iter().chain(schema::SHOP_FILE).flat_map(|s| s.keys) {
        let (_, errors) = toml::de::DeTable::parse_recoverable(key.example);
        assert!(errors.is_empty() && key.example.contains(key.name), "{}: {}", key.name, key.example);
    }
}

/// Inside a section keys differ, and every table that a key takes is a section of the same file.
#[test]
fn sections_hang_together() {
    for file in [schema::PLATE_FILE, schema::SHOP_FILE] {
        for section in file {
            let mut names: Vec<&str> = section.names().collect();
            names.sort_unstable();
            names.dedup();
            assert_eq!(names.len(), section.keys.len(), "{}", section.title);
            for key in section.keys {
                if let schema::Takes::Table(title) | schema::Takes::Tables(title) = key.takes {
                    assert!(file.iter().any(|s| s.title == title), "{title}");
                }
            }
        }
    }
}

fn examples(name: &str) -> Vec<String> {
    let text = std::fs::read_to_string(doc(name)).unwrap();
    text.split("```toml\n").skip(1).map(|rest| rest.split_once("```").unwrap().0.to_owned()).collect()
}

fn first_example(name: &str) -> String {
    examples(name).swap_remove(0)
}

const DRAWING: &str = r#"<svg xmlns="http://www.w3.org/2000/svg" width="230mm" height="140mm" viewBox="0 0 230 140">
  <rect id="outline" x="15" y="15" width="200" height="110"/>
  <rect id="rim-step" x="20" y="20" width="190" height="100"/>
  <rect id="field" x="30" y="30" width="170" height="80"/>
  <circle id="star" cx="115" cy="70" r="10"/>
  <g id="screw-holes"><circle cx="25" cy="70" r="2"/><circle cx="205" cy="70" r="2"/></g>
</svg>"#;

/// The example of the plate file gives a job with the starter shop and with the example of the shop file.
#[test]
fn the_examples_give_a_job() {
    let plate = first_example("plate-file.md");
    let shop = first_example("shop-file.md");
    for with_shop in [false, true] {
        // The example shop has cutter 4 where the starter shop has 3.
        let plate = if with_shop { plate.replace("cutters = [1, 3]", "cutters = [1, 4]") } else { plate.clone() };
        let taken = intake::take_from(&plate, &|name| match name {
            "door-plate.svg" => Ok(DRAWING.into()),
            "shop.toml" if with_shop => Ok(shop.clone().into_bytes()),
            _ => Err(io::ErrorKind::NotFound.into()),
        });
        let shown: Vec<String> = taken.doubts.iter().map(|d| doubt::render(d, &taken.sources, false)).collect();
        let job = taken.job.unwrap_or_else(|| panic!("{}", shown.join("\n")));
        assert_eq!(job.intent.areas.len(), 3);
        assert!(taken.doubts.iter().all(|d| d.id != "assumed"), "{}", shown.join("\n"));
    }
}

const LETTERED: &str = r#"<svg xmlns="http://www.w3.org/2000/svg" width="230mm" height="140mm" viewBox="0 0 230 140">
  <rect id="band" x="20" y="10" width="190" height="25"/>
  <rect id="panel" x="20" y="50" width="60" height="40"/>
  <circle id="badge" cx="150" cy="85" r="40"/>
  <path id="arch" d="M 20 130 A 80 80 0 0 1 100 130" fill="none" stroke="black"/>
</svg>"#;

/// The example of lettering, with the first example's blank.
#[test]
fn the_lettering_example_gives_a_job() {
    let [plate, lettering, ..] = &examples("plate-file.md")[..] else { panic!("two examples") };
    let plate = format!("{}{lettering}", plate.split_once("[[area]]").unwrap().0);
    let font = include_bytes!("../../sheet/fonts/GenBkBasB.ttf");
    let taken = intake::take_from(&plate, &|name| match name {
        "door-plate.svg" => Ok(LETTERED.into()),
        "lettering.ttf" => Ok(font.to_vec()),
        _ => Err(io::ErrorKind::NotFound.into()),
    });
    let shown: Vec<String> = taken.doubts.iter().map(|d| doubt::render(d, &taken.sources, false)).collect();
    let job = taken.job.unwrap_or_else(|| panic!("{}", shown.join("\n")));
    assert_eq!(job.intent.areas[0].name, "KESTREL HILL");
    // The 11 letters are 11 shapes; the middle of the capitals is the middle of the band, 14 mm high.
    let letters = &job.intent.areas[0].region;
    assert_eq!(letters.shapes.len(), 11);
    let h =
        letters.shapes.iter().find(|s| s.holes.is_empty() && s.outer.bounds().min.x > 115.0).unwrap().outer.bounds();
    assert!((h.centre().y - 117.5).abs() < 0.3 && (h.height() - 14.0).abs() < 0.6, "{h:?}");
    assert!((letters.bounds().centre().x - 115.0).abs() < 1e-6);
    assert_eq!(taken.inputs.iter().filter(|(n, b)| n == "lettering.ttf" && b == font).count(), 1, "read once");
    assert!(shown.iter().all(|d| !d.contains("lettering-")), "{}", shown.join("\n"));
}

#[test]
fn the_starter_shop_has_no_doubts_but_unmeasured_widths() {
    let (shop, doubts) = intake::shop("starter-shop.toml", intake::STARTER_SHOP);
    assert!(shop.is_some());
    assert!(doubts.iter().all(|d| d.id == "cutter-assumed"), "{doubts:?}");
}

/// 1/8 in 3.175, 1/16 in 1.5875, 1/32 in 0.79375 (1 in = 25.4 mm exactly, from memory).
#[test]
fn the_starter_shop_has_the_inch_cutters() {
    let shop = intake::shop("starter-shop.toml", intake::STARTER_SHOP).0.unwrap();
    let widths: Vec<f64> = shop.cutters.iter().map(|c| c.cutting_width.to_mm()).collect();
    assert_eq!(widths, [3.175, 1.5875, 0.79375]);
    assert!(shop.cutters.iter().all(|c| c.shank.to_mm() == 3.175 && c.flutes == 1));
}
