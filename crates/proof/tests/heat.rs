//! Where the machine is too slow for the chip, told by length and place.

mod common;

use common::*;
use doubt::Severity;
use plate::{Intent, Material, Shop};
use proof::Proof;

/// Round a rectangle from its lower left corner by sharp corners at F1400, in material 0.5 mm deep, from a spot cleared
/// before, so that the cutter starts and ends at rest there.
fn round(corners: &[[f64; 2]], extra: &[&str]) -> Text {
    let mut text = Text::start(1, 18_000.0);
    let [x, y] = corners[0];
    text.helix(x, y, 1.2, 6.3, 5.5);
    text.put("G0 Z8").put(format!("G0 X{x:.4} Y{y:.4}")).put("G0 Z6").put("G1 Z5.5 F300");
    for [x, y] in &corners[1..] {
        text.put(format!("G1 X{x:.4} Y{y:.4} F1400"));
    }
    for line in extra {
        text.put(*line);
    }
    text.end()
}

fn plate(material: Material) -> Intent {
    let mut plate = intent(blank(60.0, 50.0), vec![area("field", rectangle(3.0, 3.0, 54.0, 44.0), 5.5)]);
    plate.blank.layers[0].sheet.material = material;
    plate.cutters = vec![1];
    plate
}

fn proved(shop: &Shop, material: Material, text: Text) -> Proof {
    run(shop, &plate(material), &[text])
}

fn quick() -> Shop {
    let mut shop = shop();
    (shop.machine.acceleration, shop.machine.corner_deviation) = ([250.0; 3], mm(0.01));
    shop
}

const RECTANGLE: [[f64; 2]; 5] = [[10.0, 10.0], [50.0, 10.0], [50.0, 40.0], [10.0, 40.0], [10.0, 10.0]];

/// 18000 rev/min and one flute need 900 mm/min, 15 mm/s, for chips of 0.05 mm. At 250 mm/s² a corner within 0.01 mm is passed
/// at 2.45673 mm/s (derived), so each side of it is slow for (15² - 2.45673²) / 500 = 0.43793 mm; rest costs 0.45 mm (derived).
#[test]
fn corners_are_slow_by_the_closed_form() {
    let proof = proved(&quick(), Material::CastAcrylic, round(&RECTANGLE, &[]));
    let stage = &proof.stages[0];
    let used = &stage.cutter_use;
    assert!((used.slow_feed - 900.0).abs() < 1e-9 && (used.least_chip - 0.05).abs() < 1e-12, "{used:?}");
    // The helix is slow too: what comes from it lies at the lower left corner.
    let at = |x: f64, y: f64| {
        let near = |p: &&proof::SlowPlace| p.at.distance(plane::Point::new(x, y)) < 0.01;
        stage.slow_places.iter().find(near).unwrap_or_else(|| panic!("{:?}", stage.slow_places))
    };
    let place = at(50.0, 40.0);
    assert_eq!(place.passes, 2);
    assert!((place.length - 2.0 * 0.437_93).abs() < 0.01, "{place:?}");
    // The sides that start or end at rest are split evenly between their two ends: 0.45 and 0.43793.
    for [x, y] in [[50.0, 10.0], [10.0, 40.0]] {
        let place = at(x, y);
        assert!((place.length - (0.5 * (0.45 + 0.437_93) + 0.437_93)).abs() < 0.01, "{place:?}");
    }
    assert!(proof.findings.iter().all(|d| d.id != "heat"), "{}", shown(&proof));
}

/// Hundreds of short ways to and fro never get up to half the feed: cautioned where the material softens, not in brass.
#[test]
fn what_never_gets_up_to_speed_is_cautioned_where_it_softens() {
    let mut corners = vec![[10.0, 10.0]];
    for i in 0..60 {
        let x = 10.0 + f64::from(i) * 0.4;
        corners.extend([[x, if i % 2 == 0 { 10.4 } else { 10.0 }], [x + 0.4, if i % 2 == 0 { 10.4 } else { 10.0 }]]);
    }
    let mut slow = quick();
    slow.machine.acceleration = [60.0; 3];
    let proof = proved(&slow, Material::CastAcrylic, round(&corners, &[]));
    let heat: Vec<_> = proof.findings.iter().filter(|d| d.id == "heat").collect();
    assert_eq!(heat.len(), 1, "{}", shown(&proof));
    assert_eq!(heat[0].severity, Severity::Caution);
    assert!(heat[0].message.contains("softens at about 105 °C") && !heat[0].places.is_empty(), "{:?}", heat[0]);
    let proof = proved(&slow, Material::Brass, round(&corners, &[]));
    assert!(proof.findings.iter().all(|d| d.id != "heat"), "{}", shown(&proof));
}

/// A dwell after a move in material is counted and cautioned; one above the blank isn't.
#[test]
fn standing_in_the_cut_is_cautioned() {
    let proof = proved(
        &quick(),
        Material::CastAcrylic,
        round(&RECTANGLE, &["G1 X20 F1400", "G1 Y14", "G4 P3", "G0 Z15", "G4 P9"]),
    );
    let used = &proof.stages[0].cutter_use;
    assert!((used.dwell - 3.0).abs() < 1e-9, "{used:?}");
    let heat = proof.findings.iter().find(|d| d.id == "heat").unwrap_or_else(|| panic!("{}", shown(&proof)));
    assert!(heat.message.starts_with("the cutter stands turning in the cut for 3 s"), "{heat:?}");
    assert_eq!(heat.severity, Severity::Caution);
    let report = proof::report(&proof);
    assert!(report.contains("; 3 s standing in the cut; slowest at x "), "{report}");
    let sentence = proof::heat_sentence(&proof, &plate(Material::CastAcrylic)).unwrap_or_default();
    assert!(
        sentence.starts_with("Cast acrylic softens at about 105 °C; chips are too thin to cut along "),
        "{sentence}"
    );
    assert!(sentence.ends_with("the cutter stands in the cut for 3 s."), "{sentence}");
}

/// A narrow cut's thickest chip is thinner than the feed's: 0.3 mm of a cutter 3.175 mm wide takes sin(acos(1 - 0.6/3.175)) =
/// 0.5849 of it (derived), 0.0455 mm at F1400, under the 0.05 that cuts; a slot takes all of it.
#[test]
fn a_narrow_cut_is_thin() {
    let proof = proved(
        &quick(),
        Material::CastAcrylic,
        round(&RECTANGLE[..2], &["G0 Z8", "G0 X10 Y10.3", "G0 Z5.5", "G1 X49 F1400"]),
    );
    let used = &proof.stages[0].cutter_use;
    // The helix runs at F800, 0.0444 mm: thin by its feed. The second way runs 39 mm along the slot's side.
    assert!(used.rubbing_length > 10.0, "{used:?}");
    assert!((used.thin_length - used.rubbing_length - 39.0).abs() < 1e-6, "{used:?}");
}
