//! First answers made with what was kept of the ones before are the same, to the last bit, as those made from nothing.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use memo::Memo;
use packet::{Computed, Outcome};
use std::time::Instant;

/// The bundled demo with edits of its plate file.
fn taken(edits: &[(&str, &str)]) -> intake::Taken {
    let mut text = include_str!("../../../demo/plate.toml").to_owned();
    for (from, to) in edits {
        assert!(text.contains(from), "{from}");
        text = text.replacen(from, to, 1);
    }
    intake::take_from(&text, &|name| match name {
        "door-plate.svg" => Ok(include_bytes!("../../../demo/door-plate.svg").to_vec()),
        _ => Err(std::io::ErrorKind::NotFound.into()),
    })
}

fn answer(edits: &[(&str, &str)], memo: &Memo) -> Computed {
    let mut outcome = Outcome::default();
    let mut taken = taken(edits);
    let began = Instant::now();
    let made = packet::answer(&mut taken, memo, &(), &mut outcome);
    assert!(made.is_some(), "{edits:?}: {:?}", outcome.doubts);
    // For `--nocapture`; how long an edit takes in the browser is measured by `how_long` of tests/browser_new.rs.
    println!("{edits:?}: {:.0} ms {:?}", began.elapsed().as_secs_f64() * 1e3, outcome.seconds);
    made.unwrap()
}

/// Edits one after another, each kind once: a small floor, the floor that all lies in, back again, a
/// hold moved, an area that no longer goes through, tabs.
#[test]
fn kept_results_change_nothing() {
    let moon = ("{ above_table = 1.4 }", "{ above_table = 1.6 }");
    let field = ("{ below_face = 0.8 }", "{ below_face = 0.86 }");
    let steps: Vec<Vec<(&str, &str)>> = vec![
        vec![],
        vec![moon],
        vec![moon, field],
        vec![field],
        vec![],
        vec![("at = [7, 7]", "at = [8, 7]")],
        vec![("tabs = 4", "tabs = 5"), moon],
        vec![("keep = \"dome\"\n", "")],
        vec![("floor = \"through\"", "floor = { below_face = 3.5 }")],
    ];
    let memo = Memo::new();
    for edits in steps {
        let again = answer(&edits, &memo);
        let anew = answer(&edits, &Memo::new());
        assert_eq!(again.programs, anew.programs, "{edits:?}");
        assert!(again.proof == anew.proof, "{edits:?}");
        let mut job = taken(&edits).job.unwrap();
        job.intent = packet::settle(&job.shop, job.intent).0;
        let plan = plan::plan(&job.shop, &job.intent, &|| false).unwrap();
        assert_eq!(again.programs, packet::program_texts(&job, &plan), "{edits:?}");
    }
}
