//! Plans as the proof sees them: minutes, and the ways a shop may want its plates cut.

#[path = "icons/pocket.rs"]
mod pocket;

use proof::Settings;
use std::fs;
use std::path::Path;

#[test]
fn the_planners_minutes_are_the_proofs() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/plate.toml");
    let settings = Settings { pitch: 0.1, picture_pitch: 2.0 };
    let (computed, _) = packet::compute(&demo, &settings, &(), &mut packet::Outcome::default()).unwrap();
    let stages = std::iter::once(&computed.plan.frame).chain(&computed.plan.stages);
    let mut looked = 0;
    for (stage, proof) in stages.zip(&computed.proof.stages) {
        let planned = plan::seconds(&computed.job.shop, stage) / 60.0;
        println!("{:<22} planned {planned:.4}, proven {:.4} min", stage.name, proof.minutes);
        assert!(proof.file.starts_with(&stage.name));
        assert!((planned - proof.minutes).abs() <= 0.005 * proof.minutes, "{}", stage.name);
        looked += 1;
    }
    assert!(looked >= 4, "{looked}");
}

/// The demo in a shop whose machine has play, and with paths closer together.
#[test]
fn conventional_walls_and_another_stepover_are_proven() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    let dir = tempfile::tempdir().unwrap();
    for file in ["plate.toml", "door-plate.svg"] {
        fs::copy(demo.join(file), dir.path().join(file)).unwrap();
    }
    let shop = intake::STARTER_SHOP
        .replace("[machine]", "[machine]\nwalls = \"conventional\"")
        .replace("flutes = 1\n", "flutes = 1\nstepover = 0.3\n");
    fs::write(dir.path().join("shop.toml"), shop).unwrap();
    let settings = Settings { pitch: 0.1, picture_pitch: 2.0 };
    let mut outcome = packet::Outcome::default();
    let (computed, _) = packet::compute(&dir.path().join("plate.toml"), &settings, &(), &mut outcome).unwrap();
    assert_eq!(outcome.verdict, Some(proof::Verdict::Proven), "{:?}", computed.proof.findings);
    assert_eq!(computed.job.shop.machine.walls, plate::AlongWalls::Conventional);
    for (stage, proof) in computed.plan.stages.iter().zip(&computed.proof.stages[1..]) {
        let planned = plan::seconds(&computed.job.shop, stage) / 60.0;
        assert!((planned - proof.minutes).abs() <= 0.005 * proof.minutes, "{}", stage.name);
    }
}

/// A seamless field with sharp corners and an island, and a deeper well at its edge: the finest cutter alone comes to walls
/// and floors, the others keep off by what they leave.
#[test]
fn a_seamless_area_is_finished_by_one_cutter() {
    let dir = tempfile::tempdir().unwrap();
    let drawing = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"60mm\" height=\"40mm\" viewBox=\"0 0 60 40\">\
         <path id=\"field\" fill-rule=\"evenodd\" d=\"M5 5 H55 V35 H30 L25 30 L20 35 H5 Z M30 15 H38 V22 H30 Z\"/>\
         <path id=\"well\" d=\"M40 5 H55 V14 H40 Z\"/></svg>";
    fs::write(dir.path().join("icon.svg"), drawing).unwrap();
    let plate = pocket::plate_file("[1, 3]").replace("on = \"icon\"", "on = \"field\"\nseamless = true");
    let plate = format!("{plate}[[area]]\non = \"well\"\nfloor = {{ below_face = 2.6 }}\n");
    fs::write(dir.path().join("plate.toml"), plate).unwrap();
    let settings = Settings { pitch: 0.05, picture_pitch: 2.0 };
    let mut outcome = packet::Outcome::default();
    let (computed, _) = packet::compute(&dir.path().join("plate.toml"), &settings, &(), &mut outcome).unwrap();
    assert_eq!(outcome.verdict, Some(proof::Verdict::Proven), "{:?}", computed.proof.findings);
    let intent = &computed.job.intent;
    let used: Vec<u32> = computed.plan.stages.iter().map(|s| s.cutter).collect();
    assert_eq!(used, [1, 3], "the wider cutter pays");
    let radius = computed.job.shop.cutters[0].radius();
    let all = plane::arcs::union(intent.areas.iter().map(|a| &a.region).collect::<Vec<_>>());
    let (walls, face) = (plane::RegionIndex::new(&all), intent.blank.face.to_mm());
    let deepest = intent.areas.iter().map(|a| a.floor.to_mm()).fold(f64::INFINITY, f64::min);
    let mut below = 0;
    for step in &computed.plan.stages[0].moves {
        let (motion::Move::Rapid(to) | motion::Move::Line { to, .. } | motion::Move::Arc { to, .. }) = step else {
            continue;
        };
        if to.z < face {
            below += 1;
            let off = -walls.signed_distance(to.p) - radius;
            assert!(off > 0.149 && to.z > deepest + 0.099, "{off} off the wall at {:?}, {}", to.p, to.z);
            let here = intent.height_at(to.p).unwrap().to_mm();
            assert!(to.z > here + 0.099, "{} above the floor at {:?}", to.z - here, to.p);
        }
    }
    assert!(below > 100, "{below}");
}
