//! What the cutters can't do well, as the plan says it.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

mod common;

use common::{area, intent, rectangle, shop};
use doubt::{Doubt, Severity};
use plate::*;
use quantity::{Feed, Length, Speed};

fn dial(speeds: &[f64]) -> SpindleSpeed {
    SpindleSpeed::Dial(speeds.iter().map(|s| (format!("{s}"), Speed::rev_per_min(*s))).collect())
}

/// Doubts of a plan of one field, cut by cutter 1 alone.
fn doubts(shop: &Shop, materials: &[Material]) -> Vec<Doubt> {
    let mut wanted = intent(vec![area("field", rectangle(20.0, 20.0, 30.0, 20.0), 4.0)], None);
    wanted.cutters = vec![1];
    let layer = |&material: &Material| Layer {
        sheet: Sheet {
            name: "sheet".into(),
            thickness: Length::mm(3.0),
            material,
            process: Process::Cast,
            colour: [0; 3],
            passes_light: 0.0,
        },
        thickness: Length::mm(3.0),
        spread: Length::ZERO,
        measured: true,
        bottom: quantity::Height::mm(0.2),
        top: quantity::Height::mm(6.2),
        bottom_spread: Length::ZERO,
        top_spread: Length::ZERO,
    };
    wanted.blank.layers = materials.iter().map(layer).collect();
    plan::plan(shop, &wanted, &|| false).unwrap().doubts
}

fn ids(doubts: &[Doubt]) -> Vec<(&str, Severity)> {
    doubts.iter().map(|d| (d.id, d.severity)).collect()
}

const ACRYLIC: &[Material] = &[Material::CastAcrylic];

/// 25000 rev/min and 600 mm/min make chips of 0.024 mm where 0.05 cuts (derived): 600/0.05 = 12000 rev/min, 25000 x 0.05 =
/// 1250 mm/min, or a cutter of 3.175 x 0.024/0.05 = 1.524 mm would do.
#[test]
fn a_dial_that_cannot_go_slow_enough() {
    let mut shop = shop();
    (shop.spindle.speed, shop.machine.greatest_feed) = (dial(&[25_000.0, 30_000.0]), Feed::mm_per_min(600.0));
    let found = doubts(&shop, ACRYLIC);
    assert_eq!(ids(&found), [("dial-too-fast", Severity::Refusal)]);
    assert_eq!(
        found[0].way_out.as_deref().unwrap(),
        "any of these would cut: a speed of at most 12000 rev/min; a greatest feed of at least 1250 mm/min; a cutter of at most 1.524 mm"
    );
    // Each of those numbers does what it says, and a little less doesn't.
    let tried = |speed: f64, feed: f64, width: f64| {
        let mut shop = shop.clone();
        (shop.spindle.speed, shop.machine.greatest_feed) = (dial(&[speed]), Feed::mm_per_min(feed));
        shop.cutters[0].cutting_width = Length::mm(width);
        doubts(&shop, ACRYLIC).iter().all(|d| d.id != "dial-too-fast")
    };
    assert!(tried(12_000.0, 600.0, 3.175) && !tried(12_010.0, 600.0, 3.175));
    assert!(tried(25_000.0, 1250.0, 3.175) && !tried(25_000.0, 1249.0, 3.175));
    assert!(tried(25_000.0, 600.0, 1.524) && !tried(25_000.0, 600.0, 1.53));
}

/// With two flutes one is enough; chips of more than half of what cuts are let pass with a word, and so is wood.
#[test]
fn a_chip_that_is_a_little_too_thin() {
    let mut shop = shop();
    (shop.spindle.speed, shop.machine.greatest_feed) = (dial(&[15_000.0]), Feed::mm_per_min(800.0));
    shop.cutters[0].flutes = 2;
    let found = doubts(&shop, ACRYLIC);
    assert_eq!(ids(&found), [("dial-too-fast", Severity::Caution)]);
    assert!(found[0].way_out.as_deref().unwrap().contains("a cutter with 1 flute"), "{found:?}");
    shop.machine.greatest_feed = Feed::mm_per_min(300.0);
    assert_eq!(ids(&doubts(&shop, ACRYLIC)), [("dial-too-fast", Severity::Refusal)]);
    assert_eq!(ids(&doubts(&shop, &[Material::BirchPlywood])), [("dial-too-fast", Severity::Caution)]);
}

/// The maker's own numbers count, with a word where they make the cutter rub.
#[test]
fn own_numbers_that_rub() {
    let mut shop = shop();
    shop.spindle.speed = dial(&[18_000.0]);
    shop.cutters[0].feed = Some(Feed::mm_per_min(450.0));
    let found = doubts(&shop, ACRYLIC);
    assert_eq!(ids(&found), [("own-numbers-rub", Severity::Caution)]);
    // 18000 x 0.05 = 900 mm/min; 450 / 0.05 = 9000 rev/min (derived).
    let way_out = found[0].way_out.as_deref().unwrap();
    assert_eq!(way_out, "a feed of 900 mm/min at 18000 rev/min would cut, or at most 9000 rev/min with this feed");
    assert_eq!(found[0].notes, ["feed 450 mm/min (reckoned: 1440)"]);
}

/// pi x 3.175 mm x 60000 rev/min is 598 m/min (derived), over the 500 known for acrylic.
#[test]
fn an_edge_that_is_too_fast() {
    let mut shop = shop();
    shop.spindle.speed = dial(&[60_000.0]);
    shop.machine.greatest_feed = Feed::mm_per_min(6000.0);
    let found = doubts(&shop, ACRYLIC);
    assert_eq!(ids(&found), [("cutting-too-fast", Severity::Caution)]);
    assert!(found[0].message.contains("its edge at 598 m/min"), "{}", found[0].message);
    // 500000 / (pi x 3.175) = 50127.6 rev/min (derived).
    assert!(found[0].way_out.as_deref().unwrap().starts_with("at most 50127 rev/min"));
}

/// A slender cutter takes many passes; the flutes that are said to be short enough are.
#[test]
fn a_slender_cutter() {
    let mut shop = shop();
    shop.cutters[0].flute_length = Length::mm(19.0);
    shop.cutters[0].core = Length::mm(0.9);
    let found = doubts(&shop, ACRYLIC);
    assert_eq!(ids(&found), [("cutter-slender", Severity::Caution)]);
    let way_out = found[0].way_out.as_deref().unwrap();
    let length: f64 = way_out.split(' ').find_map(|w| w.parse().ok()).unwrap();
    shop.cutters[0].flute_length = Length::mm(length);
    assert!(doubts(&shop, ACRYLIC).is_empty(), "{way_out}");
    shop.cutters[0].flute_length = Length::mm(length + 1.5);
    assert!(!doubts(&shop, ACRYLIC).is_empty(), "{way_out}");
}

/// A blank of acrylic on aluminium is cut as aluminium, and that is said; cast on extruded acrylic needs no word.
#[test]
fn several_materials() {
    let found = doubts(&shop(), &[Material::CastAcrylic, Material::Aluminium]);
    assert!(
        found.iter().any(|d| d.message == "the blank is of aluminium and cast acrylic: all is cut as aluminium"),
        "{found:?}"
    );
    assert!(doubts(&shop(), &[Material::CastAcrylic, Material::ExtrudedAcrylic]).is_empty());
}
