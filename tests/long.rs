//! Long runs, for `./test.sh --long`: filled icons from a crate, each as a pocket with an outline, planned and proven.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

#[path = "icons/mod.rs"]
mod icons;
#[path = "icons/pocket.rs"]
mod pocket;

use proof::{Settings, Verdict};
use std::collections::BTreeMap;
use std::fs;
use std::time::Instant;

const OUTLINE: &str = "[plate]\nwithin = \"outline\"\nheld_by = { tabs = 4, length = 4, left = 0.6 }\n";

/// The icon scaled so that its longer side is 60 mm, in a frame of 80 mm.
fn drawing(view: &str, data: &str) -> String {
    let icon = icons::placed(view, data, 60.0, 30.0);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"60mm\" height=\"60mm\" viewBox=\"0 0 60 60\">\
         <rect id=\"outline\" x=\"-10\" y=\"-10\" width=\"80\" height=\"80\" rx=\"6\" fill=\"none\" stroke=\"black\"/>\
         {icon}</svg>"
    )
}

#[test]
#[ignore = "minutes; ./test.sh --long runs it"]
fn icons_as_pockets() {
    let icons = icons::icons();
    let most: usize = std::env::var("ICONS").ok().and_then(|n| n.parse().ok()).unwrap_or(usize::MAX);
    let (mut proven, mut refused, mut without_place) = (0, BTreeMap::<String, Vec<String>>::new(), Vec::new());
    let began = Instant::now();
    let mut slowest = (0.0, String::new());
    let mut looked = 0;
    for (name, view, data) in icons.iter().take(most) {
        looked += 1;
        let dir = tempfile::tempdir().unwrap();
        fs::write(dir.path().join("plate.toml"), pocket::plate_file("[1, 3]") + OUTLINE).unwrap();
        fs::write(dir.path().join("icon.svg"), drawing(view, data)).unwrap();
        let mut outcome = packet::Outcome::default();
        let start = Instant::now();
        let computed = packet::compute(&dir.path().join("plate.toml"), &Settings::default(), &(), &mut outcome);
        let took = start.elapsed().as_secs_f64();
        if took > slowest.0 {
            slowest = (took, name.clone());
        }
        match (computed.is_some(), outcome.verdict) {
            (true, Some(Verdict::Proven)) => {
                let proof = computed.unwrap().0.proof;
                assert!(
                    proof.walls.worst_gouge <= 0.010,
                    "{name} is proven with a gouge of {}",
                    proof.walls.worst_gouge
                );
                proven += 1;
            }
            _ => {
                let blocking: Vec<&doubt::Doubt> = outcome.doubts.iter().filter(|d| d.blocks()).collect();
                assert!(!blocking.is_empty(), "{name}: not proven and nothing says why");
                println!("{name}: {}", doubt::render(blocking[0], &(), false));
                if blocking.iter().all(|d| d.places.is_empty()) {
                    without_place.push(name.clone());
                }
                let ids: std::collections::BTreeSet<&str> = blocking.iter().map(|d| d.id).collect();
                refused.entry(ids.into_iter().collect::<Vec<_>>().join(" + ")).or_default().push(name.clone());
            }
        }
    }
    println!("{looked} icons in {:.0} s, slowest {} in {:.1} s", began.elapsed().as_secs_f64(), slowest.1, slowest.0);
    println!("{proven} proven, {} refused", looked - proven);
    for (why, names) in &refused {
        println!("{} refused for {why}: {}", names.len(), names.join(", "));
    }
    assert!(without_place.is_empty(), "refused without a place: {without_place:?}");
    assert!(looked >= 300.min(most));
    assert!(proven * 100 >= looked * 95, "{proven} of {looked} proven");
}
