//! The work at the machine: ticks that last, and readings that say what they changed.

use crate::common::{Served, serve_folder, served};
use serde_json::{Value, json};
use std::time::{Duration, Instant};

/// The state at the machine once it can be worked from.
fn ready(served: &Served) -> Value {
    let began = Instant::now();
    loop {
        let state = served.get("/plate/1/machine/state").json();
        if state["working"] == false && (state["reading"].is_null() || !state["reading"]["changed"].is_null()) {
            return state;
        }
        assert!(began.elapsed() < Duration::from_secs(240), "{state:#}");
        std::thread::sleep(Duration::from_millis(40));
    }
}

fn steps(state: &Value) -> &Vec<Value> {
    state["steps"].as_array().unwrap()
}

fn tick(served: &Served, step: &Value, ticked: bool) -> (u16, Value) {
    let body = json!({ "step": step["id"], "mark": step["mark"], "ticked": ticked });
    let reply = served.post("/plate/1/machine/tick", &body);
    (reply.status, reply.json())
}

fn ids(state: &Value, field: &str) -> Vec<String> {
    steps(state).iter().filter(|s| s[field] == true).map(|s| s["id"].as_str().unwrap().to_owned()).collect()
}

fn said(step: &Value) -> String {
    step["says"].as_array().unwrap().iter().map(|p| p["words"].as_str().unwrap()).collect()
}

#[test]
fn steps_come_in_order_and_ticks_outlast_the_server() {
    let served = served();
    let state = ready(&served);
    assert_eq!(state["good"], true, "{state:#}");
    let about: Vec<&str> = steps(&state).iter().map(|s| s["about"].as_str().unwrap()).collect();
    assert_eq!(about[..7], ["film", "under", "holds", "zero", "touch-off", "traverse", "frame"]);
    let stages = about.iter().filter(|a| **a == "run").count();
    assert!(stages > 0 && about.ends_with(&["finished"]), "{about:?}");
    for program in 0..stages {
        let own: Vec<&str> = steps(&state)
            .iter()
            .filter(|s| s["stage"] == program)
            .map(|s| s["about"].as_str().unwrap())
            .filter(|a| *a != "check")
            .collect();
        assert_eq!(own, ["cutter", "dial", "run", "look"]);
    }
    // The words are those of the plate and the shop.
    let of = |about: &str| said(steps(&state).iter().find(|s| s["about"] == about).unwrap());
    assert!(of("under").contains("carpet tape, 0.20 mm"), "{}", of("under"));
    assert!(of("touch-off").contains("Set the display to 0.10 mm, not to 0"), "{}", of("touch-off"));
    assert!(of("cutter").contains("standing out"), "{}", of("cutter"));
    assert!(state["cautions"].as_array().unwrap().iter().any(|c| c.as_str().unwrap().contains("eye protection")));

    for step in &steps(&state)[..5] {
        assert_eq!(tick(&served, step, true).0, 200);
    }
    let (status, after) = tick(&served, &steps(&state)[2], false);
    assert_eq!((status, ids(&after["state"], "ticked").len()), (200, 4));
    // What no step is, is not ticked.
    for wrong in [json!({ "id": "nothing", "mark": "0" }), json!({ "id": "film", "mark": "0" })] {
        assert_eq!(tick(&served, &wrong, true).0, 409);
    }
    let files = |served: &Served| {
        let mut names: Vec<String> = std::fs::read_dir(served.folder.path())
            .unwrap()
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    };
    assert_eq!(files(&served), ["drawing.svg", "plate.toml", "plate.toml.ticks.json", "shop.toml"]);

    let again = serve_folder(served.into_folder());
    let state = ready(&again);
    assert_eq!(ids(&state, "ticked"), ["film", "under", "zero", "touch-off"]);
    assert_eq!(again.post("/plate/1/machine/anew", &json!({})).status, 200);
    assert!(ids(&ready(&again), "ticked").is_empty());
}

#[test]
fn a_tick_of_a_step_that_changed_is_not_true_any_more() {
    let served = served();
    let state = ready(&served);
    let every = steps(&state).clone();
    for step in &every {
        assert_eq!(tick(&served, step, true).0, 200);
    }
    // Another floor: the programs that cut it differ, and so does the plate after them; film, holds and zero don't.
    let body = json!({ "hash": state["hash"], "area": 0, "form": "below_face", "amount": "0.9 mm" });
    assert_eq!(served.post("/plate/1/floor", &body).status, 200);
    // While it is not proven anew nothing can be ticked.
    let at_once = served.get("/plate/1/machine/state").json();
    if at_once["working"] == true {
        assert_eq!(tick(&served, &every[0], true).0, 409);
    }
    let now = ready(&served);
    let (ticked, changed) = (ids(&now, "ticked"), ids(&now, "changed"));
    for stays in ["film", "under", "holds", "zero", "touch-off"] {
        assert!(ticked.iter().any(|t| t == stays), "{stays}: {ticked:?}");
    }
    assert!(changed.iter().any(|c| c.ends_with(" run")) && changed.iter().any(|c| c.ends_with(" look")), "{changed:?}");
    assert!(changed.iter().any(|c| c == "finished"));
    // Steps that came with the change were never ticked; every tick that was made is told of.
    assert_eq!(ticked.len() + changed.len() + now["gone"].as_u64().unwrap() as usize, every.len());
}

/// Heights: tape 0.2 + ruby 3.03 + bond 0.05 + black 2.95 and 2.85 (derived).
#[test]
fn readings_are_written_proven_and_told() {
    let served = served();
    let state = ready(&served);
    let before = served.plate();
    assert_eq!(state["layers"][0]["measured"], json!(["2.94 mm", "2.96 mm", "2.95 mm"]));
    let thickness = |hash: &Value, layer: usize, readings: &str| {
        served.post("/plate/1/machine/thickness", &json!({ "hash": hash, "layer": layer, "readings": readings }))
    };
    for wrong in ["", "deep", "3, x", "-3", "300", ","] {
        let reply = thickness(&state["hash"], 0, wrong);
        assert_eq!(reply.status, 422, "{wrong}");
        assert!(reply.json()["says"].as_str().is_some_and(|s| s.len() > 8), "{wrong}");
    }
    assert_eq!(thickness(&json!("0"), 0, "3").status, 409);
    assert_eq!(served.plate(), before);

    assert_eq!(thickness(&state["hash"], 0, "2.84, 2.86 mm; 2.85").status, 200);
    let wanted = before.replace("measured = [2.94, 2.96, 2.95]", "measured = [2.84, 2.86, 2.85]");
    assert_eq!(served.plate(), wanted);
    let now = ready(&served);
    let changed = &now["reading"]["changed"];
    let row = |what: &str| {
        let rows = changed["rows"].as_array().unwrap();
        let row = rows.iter().find(|r| r["what"] == what).unwrap_or_else(|| panic!("{what}: {changed:#}"));
        (row["before"].as_str().unwrap().to_owned(), row["after"].as_str().unwrap().to_owned())
    };
    assert_eq!(row("The face above the table"), ("6.23 mm".into(), "6.13 mm".into()));
    assert!(now["reading"]["said"].as_str().unwrap().contains("night black 3 reads 2.84"), "{now:#}");

    // A cutter: the shop file, one line of it.
    let shop = || std::fs::read_to_string(served.folder.path().join("shop.toml")).unwrap();
    let old = shop();
    let number = now["plate"]["stages"][0]["number"].clone();
    let said = now["shop"]["cutters"].as_array().unwrap().iter().find(|c| c["number"] == number).unwrap().clone();
    let diameter = |hash: &Value, diameter: &str| {
        served.post("/plate/1/machine/diameter", &json!({ "hash": hash, "cutter": number, "diameter": diameter }))
    };
    assert_eq!(diameter(&now["shop"]["hash"], "wide").status, 422);
    assert_eq!(diameter(&json!("0"), "3.1").status, 409);
    assert_eq!(shop(), old);
    assert_eq!(diameter(&now["shop"]["hash"], "3.05 mm").status, 200);
    let changed: Vec<(String, String)> =
        old.lines().zip(shop().lines()).filter(|(a, b)| a != b).map(|(a, b)| (a.to_owned(), b.to_owned())).collect();
    assert_eq!(
        changed,
        [(format!("diameter = \"{}\"", said["diameter"].as_str().unwrap()), "diameter = 3.05".to_owned())]
    );
    let now = ready(&served);
    assert!(!now["reading"]["changed"].is_null());
    // It is no change from elsewhere.
    std::thread::sleep(Duration::from_millis(900));
    assert!(served.settled()["elsewhere"].is_null());
    // A sheet thicker than the machine can go over: the verdict is told, and the page says not to run anything.
    assert_eq!(thickness(&now["hash"], 0, "99").status, 200);
    let refused = ready(&served);
    assert_eq!(refused["good"], false, "{refused:#}");
    assert!(refused["reading"]["changed"]["new"].as_array().is_some_and(|n| !n.is_empty()), "{refused:#}");
}

#[test]
fn the_packet_that_lies_there_is_compared() {
    let served = served();
    let state = ready(&served);
    let word = |state: &Value| state["programs"][1]["packet"].clone();
    assert_eq!(word(&state), "none");
    assert_eq!(served.post("/plate/1/packet", &json!({ "hash": state["hash"] })).status, 200);
    let began = Instant::now();
    while word(&served.get("/plate/1/machine/state").json()) != "same" {
        assert!(began.elapsed() < Duration::from_secs(120));
        std::thread::sleep(Duration::from_millis(100));
    }
    let file = served.folder.path().join("packet").join(state["programs"][1]["file"].as_str().unwrap());
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, text.replacen("G1", "G0", 1)).unwrap();
    assert_eq!(word(&served.get("/plate/1/machine/state").json()), "other");
}
