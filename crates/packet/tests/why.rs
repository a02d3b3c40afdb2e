//! Answers to "why": each number is the one the plate has, every key is there once, and words, numbers and places find it.
#![expect(clippy::panic, reason = "a test may stop at what must hold")]

use packet::why::{self, Answer, Asked, Found};
use std::path::Path;

fn demo() -> Asked {
    let plate = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo/plate.toml"));
    why::ask(plate, &|| false).unwrap_or_else(|t| panic!("{:?}", t.doubts))
}

fn found(asked: &Asked, words: &str) -> Vec<Answer> {
    match why::find(asked, words) {
        Found::Answers(all) => all,
        Found::Nothing(near) => panic!("nothing by {words}, near it {near:?}"),
    }
}

fn only(asked: &Asked, words: &str) -> Answer {
    let all = found(asked, words);
    assert_eq!(all.len(), 1, "{words}: {:?}", all.iter().map(|a| &a.key).collect::<Vec<_>>());
    all[0].clone()
}

#[test]
fn every_key_finds_its_number_and_the_plates_own() {
    let asked = demo();
    let all = why::answers(&asked.job, asked.plan.as_ref());
    assert!(all.len() > 40, "{}", all.len());
    for answer in &all {
        assert_eq!(&only(&asked, &answer.key), answer);
        let last = answer.steps.terms.iter().find(|t| t.symbol == answer.symbol).unwrap();
        assert_eq!(last.value, answer.value, "{}", answer.key);
        assert!(answer.steps.terms.iter().all(|t| !t.source.is_empty() && !t.name.is_empty()), "{}", answer.key);
    }
    let number = |key: &str| only(&asked, key).value;
    for area in &asked.job.intent.areas {
        let told = number(&format!("{} floor", area.name));
        assert!((told - area.floor.to_mm()).abs() < 1e-6, "{}: {told}", area.name);
    }
    let intent = &asked.job.intent;
    assert!((number("outline floor") - intent.outline.as_ref().unwrap().floor.to_mm()).abs() < 1e-6);
    assert!((number("face") - intent.blank.face.to_mm()).abs() < 1e-6);
    let plan = asked.plan.as_ref().unwrap();
    assert!((number("traverse") - plan.stages[0].traverse.to_mm()).abs() < 1e-6);
    let chosen = plan.subsets.iter().find(|s| s.chosen).unwrap();
    assert!((number("cutters") - chosen.minutes).abs() < 1e-9);
    // Programs, starts and changes add up to the set's minutes.
    assert!((number("minutes") - chosen.minutes).abs() < 0.01 * chosen.minutes, "{}", number("minutes"));
    for (k, stage) in plan.stages.iter().enumerate() {
        let seconds = 60.0 * number(&format!("program {} minutes", k + 1));
        let reckoned = plan::seconds(&asked.job.shop, stage);
        assert!((seconds - reckoned).abs() < 1e-6 * reckoned, "{seconds} {reckoned}");
    }
}

#[test]
fn numbers_and_places_and_words_find_answers() {
    let asked = demo();
    // As they stand on the sheet, with separators and units.
    assert!(found(&asked, "1,440 mm/min").iter().any(|a| a.key == "cutter 1 feed"));
    assert!(found(&asked, "3.06").iter().any(|a| a.key.starts_with("slit")));
    // A number within the steps.
    assert!(found(&asked, "3.16").iter().any(|a| a.steps.terms.iter().any(|t| t.symbol == "top")));
    assert_eq!(only(&asked, "FIELD  floor").key, "field floor");
    assert!(found(&asked, "cutter 2").len() > 5);
    // The field lies at the lower left inside the lip.
    let here = found(&asked, "x 30 y 30");
    assert!(here[0].about.contains("field") && here[1].told.contains("cutter 1"), "{here:?}");
    assert_eq!(found(&asked, "30, 30"), here);
    assert!(found(&asked, "x 7 y 7")[0].about.contains("hold"));
    assert!(found(&asked, "x 300 y 7")[0].told.contains("beside"));
    // What is misspelt or isn't there.
    let Found::Nothing(near) = why::find(&asked, "cuter 2 fed") else { panic!("nothing is called that") };
    assert!(near.iter().any(|k| k.starts_with("cutter")), "{near:?}");
    assert_eq!(why::find(&asked, "zzzzzz"), Found::Nothing(Vec::new()));
}

#[test]
fn a_plate_that_is_refused_has_no_answers_but_its_doubts() {
    let taken = why::ask(Path::new("no such plate.toml"), &|| false).err().unwrap();
    assert!(!taken.doubts.is_empty());
}

#[test]
fn short_forms_name_every_cutter_used() {
    let asked = demo();
    let plan = asked.plan.as_ref().unwrap();
    let lines = why::short_forms(&asked.job, plan);
    for stage in &plan.stages {
        assert!(lines.iter().any(|l| l.starts_with(&format!("Cutter {}:", stage.cutter))), "{lines:?}");
    }
    assert!(lines.iter().any(|l| l.starts_with("Floor of slit")) && lines.iter().any(|l| l.starts_with("Traverses")));
    assert!(lines.iter().all(|l| l.chars().count() < 260), "{lines:?}");
}
