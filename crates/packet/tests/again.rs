//! First answers made with what was kept of the ones before are the same, to the last bit, as those made from nothing.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use intake::Taken;
use memo::Memo;
use packet::{Computed, Outcome};
use std::io::ErrorKind;
use std::time::Instant;

/// What is replaced in a plate file, and by what.
type Edits<'e> = [(&'e str, &'e str)];

/// A plate: its file, and the files that it names.
struct Plate {
    text: &'static str,
    files: Vec<(&'static str, String)>,
}

impl Plate {
    fn taken(&self, edits: &Edits) -> Taken {
        let mut text = self.text.to_owned();
        for (from, to) in edits {
            assert!(text.contains(from), "{from}");
            text = text.replacen(from, to, 1);
        }
        intake::take_from(&text, &|name| match self.files.iter().find(|f| f.0 == name) {
            Some((_, bytes)) => Ok(bytes.clone().into_bytes()),
            None => Err(ErrorKind::NotFound.into()),
        })
    }

    fn answer(&self, edits: &Edits, memo: &Memo) -> Computed {
        let (mut outcome, mut taken) = (Outcome::default(), self.taken(edits));
        let began = Instant::now();
        let made = packet::answer(&mut taken, memo, &(), &mut outcome);
        // For `--nocapture`; how long an edit takes in the browser is measured by `how_long` of tests/browser_new.rs.
        println!("{edits:?}: {:.0} ms {:?}", began.elapsed().as_secs_f64() * 1e3, outcome.seconds);
        assert!(made.is_some(), "{edits:?}: {:?}", outcome.doubts);
        made.unwrap()
    }

    /// Edits one after another, each with what was kept of those before, and from nothing.
    fn same(&self, steps: &[&Edits]) {
        let memo = Memo::new();
        for edits in steps {
            let (again, anew) = (self.answer(edits, &memo), self.answer(edits, &Memo::new()));
            assert_eq!(again.programs, anew.programs, "{edits:?}");
            assert!(again.proof == anew.proof, "{edits:?}");
            let mut job = self.taken(edits).job.unwrap();
            job.intent = packet::settle(&job.shop, job.intent).0;
            let plan = plan::plan(&job.shop, &job.intent, &|| false).unwrap();
            assert_eq!(again.programs, packet::program_texts(&job, &plan), "{edits:?}");
        }
    }
}

/// The demo: a small floor, the floor that all lies in, back again, a hold moved, tabs, an area that is no longer kept, one that
/// no longer goes through.
#[test]
fn kept_results_change_nothing() {
    let drawing = include_str!("../../../demo/door-plate.svg").to_owned();
    let demo = Plate { text: include_str!("../../../demo/plate.toml"), files: vec![("door-plate.svg", drawing)] };
    let moon = ("{ above_table = 1.4 }", "{ above_table = 1.6 }");
    let field = ("{ below_face = 0.8 }", "{ below_face = 0.86 }");
    demo.same(&[
        &[],
        &[moon],
        &[moon, field],
        &[field],
        &[],
        &[("at = [7, 7]", "at = [8, 7]")],
        &[("tabs = 4", "tabs = 5"), moon],
        &[("keep = \"dome\"\n", "")],
        &[("floor = \"through\"", "floor = { below_face = 3.5 }")],
    ]);
}

/// A vee's leaning walls beside a floor: what is kept of tiles and legs serves, what depends on the lean is judged anew.
#[test]
fn kept_results_change_nothing_beside_leaning_walls() {
    let shop = format!("{}\n{}", intake::STARTER_SHOP, include_str!("../../../tests/vee/common/vees.toml"));
    let drawing = include_str!("../../../tests/vee/nested/drawing.svg").to_owned();
    let text = include_str!("../../../tests/vee/nested/plate.toml");
    let plate = Plate { text, files: vec![("drawing.svg", drawing), ("shop.toml", shop)] };
    let field = ("{ below_face = 0.8 }", "{ below_face = 1.0 }");
    let sign = ("{ below_face = 4 }", "{ below_face = 3.8 }");
    plate.same(&[&[], &[sign], &[field], &[field, sign], &[]]);
}

/// Cutters that don't climb, a seamless floor, another holding of the plate.
#[test]
fn kept_results_change_nothing_without_climbing_or_seams() {
    let shop = intake::STARTER_SHOP.replacen("[machine]", "[machine]\nwalls = \"conventional\"", 1);
    let drawing = include_str!("../../../demo/new/drawing.svg").to_owned();
    let text = include_str!("../../../demo/new/plate.toml");
    let plate = Plate { text, files: vec![("drawing.svg", drawing), ("shop.toml", shop)] };
    let seamless = ("floor = { shows = \"ruby clear 3\" }", "floor = { below_face = 3.5 }\nseamless = true");
    let deeper = ("floor = { shows = \"ruby clear 3\" }", "floor = { below_face = 3.6 }\nseamless = true");
    let skin = ("{ tabs = 4, length = 4, left = 0.6 }", "{ skin = 0.4 }");
    plate.same(&[&[], &[seamless], &[deeper], &[deeper, skin], &[seamless, skin], &[]]);
}
