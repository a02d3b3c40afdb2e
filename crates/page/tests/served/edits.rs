//! Floors changed from the page: what is written, what is told, and nothing lost.

use crate::common::{Served, served};
use serde_json::{Value, json};
use std::time::{Duration, Instant};

fn floor(served: &Served, hash: &Value, form: &str, amount: &str) -> (u16, Value) {
    let reply = served.post("/plate/1/floor", &json!({ "hash": hash, "area": 0, "form": form, "amount": amount }));
    (reply.status, reply.json())
}

fn lines_changed(a: &str, b: &str) -> Vec<String> {
    assert_eq!(a.lines().count(), b.lines().count());
    a.lines().zip(b.lines()).filter(|(a, b)| a != b).map(|(_, b)| b.to_owned()).collect()
}

/// The state once `is` holds.
fn until(served: &Served, is: impl Fn(&Value) -> bool) -> Value {
    let began = Instant::now();
    loop {
        let state = served.get("/plate/1/state").json();
        if is(&state) {
            return state;
        }
        assert!(began.elapsed() < Duration::from_secs(240), "{state:#}");
        std::thread::sleep(Duration::from_millis(30));
    }
}

#[test]
fn a_floor_is_changed_proven_undone_and_redone() {
    let served = served();
    let before = served.plate();
    let first = served.settled();
    assert_eq!(first["verdict"], "proven", "{first:#}");
    assert_eq!(first["areas"][0]["said"], "ruby clear 3");
    let picture =
        |state: &Value| served.get(&format!("/plate/1/picture?run={}&width=300", state["picture"]["run"])).body;
    let seen = picture(&first);
    assert!(seen.starts_with(b"\x89PNG"));

    let (status, reply) = floor(&served, &first["hash"], "below_face", "0.9 mm");
    assert_eq!(status, 200);
    // What stands there at once: the new text, the old picture, and no verdict.
    let at_once = &reply["state"];
    assert_eq!(at_once["areas"][0]["amount"], "0.9 mm");
    assert!(
        at_once["verdict"].is_null() && at_once["working"] == true && at_once["picture"]["current"] == false,
        "{at_once:#}"
    );
    assert_eq!(lines_changed(&before, &served.plate()), ["floor = { below_face = 0.9 }"]);

    let second = served.settled();
    assert_eq!((&second["verdict"], &second["picture"]["current"]), (&json!("proven"), &json!(true)));
    let says =
        format!("{}{}", second["areas"][0]["said"].as_str().unwrap(), second["areas"][0]["after"].as_str().unwrap());
    assert!(says.starts_with("0.9 mm below the face, at "), "{says}");
    assert_ne!(picture(&second), seen, "the picture shows the new floor");

    let undone = served.post("/plate/1/undo", &json!({ "hash": second["hash"] })).json();
    assert_eq!(served.plate(), before, "to the byte");
    assert_eq!((&undone["state"]["undo"], &undone["state"]["redo"]), (&json!(false), &json!(true)));
    let third = served.settled();
    assert_eq!(third["hash"], first["hash"]);
    assert_eq!(picture(&third), seen, "the same plate gives the same picture");
    served.post("/plate/1/redo", &json!({ "hash": third["hash"] }));
    assert_eq!(lines_changed(&before, &served.plate()), ["floor = { below_face = 0.9 }"]);
    let nothing = served.post("/plate/1/redo", &json!({ "hash": served.get("/plate/1/state").json()["hash"] }));
    assert_eq!(nothing.status, 422);
}

#[test]
fn units_and_fractions_are_kept_and_nonsense_is_told() {
    let served = served();
    let before = served.plate();
    let hash = served.get("/plate/1/state").json()["hash"].clone();
    for wrong in ["", "deep", "1 parsec", "1/0", "0.8 } #"] {
        let (status, reply) = floor(&served, &hash, "below_face", wrong);
        assert_eq!(status, 422, "{wrong}");
        assert!(reply["says"].as_str().is_some_and(|s| !s.is_empty()));
        assert_eq!(served.plate(), before);
    }
    let (status, reply) = floor(&served, &hash, "below_face", "1/32 in");
    assert_eq!((status, &reply["state"]["areas"][0]["amount"]), (200, &json!("1/32 in")));
    assert_eq!(lines_changed(&before, &served.plate()), ["floor = { below_face = \"1/32 in\" }"]);
}

/// A length that is one, but no floor of this blank: the plate is refused, the note stands at the area, the last picture stays.
#[test]
fn a_wrong_value_shows_its_doubt_at_the_place() {
    let served = served();
    let first = served.settled();
    let (status, _) = floor(&served, &first["hash"], "below_face", "50 mm");
    assert_eq!(status, 200);
    let state = served.settled();
    assert_eq!(state["verdict"], "refused");
    let note = &state["notes"][0];
    assert_eq!((&note["severity"], &note["area"]), (&json!("refusal"), &json!(0)), "{note:#}");
    assert!(note["at"].is_array(), "{note:#}");
    assert_eq!((&state["picture"]["run"], &state["picture"]["current"]), (&first["picture"]["run"], &json!(false)));
    assert_eq!(state["areas"][0]["said"], "50 mm");
    let refused = served.post("/plate/1/packet", &json!({ "hash": state["hash"] }));
    assert_eq!(refused.status, 200);
    let told = until(&served, |s| s["packet"]["not"].is_string());
    assert!(!served.folder.path().join("packet").exists(), "{told:#}");
    served.post("/plate/1/undo", &json!({ "hash": told["hash"] }));
    assert_eq!(served.settled()["verdict"], "proven");
}

#[test]
fn a_change_elsewhere_is_noticed_and_never_written_over() {
    let served = served();
    let first = served.settled();
    floor(&served, &first["hash"], "below_face", "0.9 mm");
    let second = served.get("/plate/1/state").json();
    assert_eq!(second["undo"], true);
    // Somebody saves the file in an editor; the page still has the old hash.
    let theirs = served.plate().replace("My first plate", "Their plate");
    std::fs::write(served.folder.path().join("plate.toml"), &theirs).unwrap();
    let (status, reply) = floor(&served, &second["hash"], "below_face", "0.7 mm");
    assert_eq!(status, 409, "{reply}");
    assert_eq!(served.plate(), theirs);
    let undo = served.post("/plate/1/undo", &json!({ "hash": second["hash"] }));
    assert_eq!(undo.status, 409);
    assert_eq!(served.plate(), theirs);
    // The page is told, with what stands there now, and what can't be undone without losing it isn't.
    let now = until(&served, |s| s["elsewhere"].is_string());
    assert_eq!((&now["elsewhere"], &now["undo"]), (&json!("plate.toml"), &json!(false)));
    // A file that is being saved may be seen half written first.
    let settled = served.settled_as(&theirs);
    assert_eq!(settled["title"], "Their plate");
    // With the new hash the edit goes in beside their change.
    let (status, _) = floor(&served, &settled["hash"], "below_face", "0.7 mm");
    assert_eq!(status, 200);
    assert_eq!(served.plate(), theirs.replace("below_face = 0.9", "below_face = 0.7"));
}

/// Without any edit: drawing, shop and plate file are looked at.
#[test]
fn files_are_looked_at() {
    let served = served();
    let first = served.settled();
    let drawing = served.folder.path().join("drawing.svg");
    let text = std::fs::read_to_string(&drawing).unwrap();
    std::thread::sleep(Duration::from_millis(900));
    std::fs::write(&drawing, format!("{text}\n<!-- moved -->\n")).unwrap();
    let state = until(&served, |s| s["elsewhere"] == "drawing.svg" && s["working"] == false);
    assert!(state["picture"]["run"].as_u64() > first["picture"]["run"].as_u64());
    std::fs::remove_file(served.folder.path().join("plate.toml")).unwrap();
    let gone = until(&served, |s| s["unread"].is_string());
    assert!(gone["areas"].as_array().unwrap().is_empty());
    std::fs::write(served.folder.path().join("plate.toml"), include_str!("../../../../demo/new/plate.toml")).unwrap();
    until(&served, |s| s["verdict"] == "proven");
}

/// Edits one after the other: an older run is stopped by the newer, and the last one stands.
#[test]
fn the_last_edit_stands() {
    let served = served();
    let mut hash = served.get("/plate/1/state").json()["hash"].clone();
    for tenth in 3..13 {
        let (status, reply) = floor(&served, &hash, "below_face", &format!("0.{tenth:02} mm"));
        assert_eq!(status, 200);
        hash = reply["state"]["hash"].clone();
    }
    let state = served.settled();
    assert_eq!((&state["hash"], &state["verdict"]), (&hash, &json!("proven")));
    assert_eq!(state["areas"][0]["said"], "0.12 mm");
    // Ten runs would have been counted one by one; what was stopped has no number that shows.
    assert_eq!(state["picture"]["run"], 11);
    let names: Vec<_> = std::fs::read_dir(served.folder.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(names.len(), 3, "nothing is left beside: {names:?}");
}

/// Two pages edit at once from the same text: one is taken, the other is told.
#[test]
fn of_two_edits_at_once_one_is_taken() {
    let served = served();
    let hash = served.get("/plate/1/state").json()["hash"].clone();
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let edits: Vec<_> = (0..8)
            .map(|i| {
                let (served, hash) = (&served, &hash);
                scope.spawn(move || floor(served, hash, "below_face", &format!("0.{}", i + 1)).0)
            })
            .collect();
        edits.into_iter().map(|e| e.join().unwrap()).collect()
    });
    assert_eq!(statuses.iter().filter(|&&s| s == 200).count(), 1, "{statuses:?}");
    assert_eq!(statuses.iter().filter(|&&s| s == 409).count(), 7, "{statuses:?}");
}

#[test]
fn what_is_here_why_and_the_section() {
    let served = served();
    let state = served.settled();
    let run = &state["picture"]["run"];
    let at = &state["picture"]["marks"][0]["at"];
    let here = served.get(&format!("/plate/1/here?run={run}&x={}&y={}", at[0], at[1])).json();
    assert_eq!((&here["what"], &here["sheet"]), (&json!("field"), &json!("ruby clear 3")), "{here:#}");
    assert_eq!(here["height"], here["wanted"]);
    assert_eq!(here["cut_by"][0]["stage"], 1);
    let beside = served.get(&format!("/plate/1/here?run={run}&x=-5&y=5")).json();
    assert_eq!(beside["what"], "beside the blank");
    let why = served.get(&format!("/plate/1/why?run={run}&n={}", state["areas"][0]["why"])).json();
    assert_eq!(why["about"], "floor of field");
    assert!(why["steps"].as_array().unwrap().iter().any(|s| s["asked"] == true && s["made"].is_string()), "{why:#}");
    let section = served.get(&format!("/plate/1/section?run={run}&along_x=1&at={}", at[1])).json();
    assert_eq!((&section["length"], section["layers"].as_array().unwrap().len()), (&json!(120.0), 2));
    assert!(section["floors"].as_array().unwrap().contains(&here["height"]), "{section}");
    let shape = served.get(&format!("/plate/1/shape?run={run}&area=0")).json();
    assert!(shape["rings"][0].as_array().unwrap().len() > 3);
    // Every stage's plate, and the same size for the same question.
    for stage in 0..state["stages"].as_array().unwrap().len() {
        let bytes = served.get(&format!("/plate/1/picture?run={run}&width=240&stage={stage}&night=1")).body;
        let reader = png::Decoder::new(std::io::Cursor::new(bytes)).read_info().unwrap();
        assert_eq!((reader.info().width, reader.info().height), (240, 160));
    }
}
