//! Changes of the plate and the shop, ways out, and new plates: what may be asked for, and what nothing comes of.

use crate::common::{Served, served, served_folder};
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use serde_json::{Value, json};
use std::fs;

fn change(served: &Served, changes: &Value) -> (u16, Value) {
    let hash = served.get("/plate/1/state").json()["hash"].clone();
    let reply = served.post("/plate/1/change", &json!({ "hash": hash, "changes": changes }));
    (reply.status, reply.json())
}

#[test]
fn everything_of_a_plate_is_changed_undone_and_redone() {
    let served = served();
    served.settled();
    let first = served.plate();
    let (status, _) = change(&served, &json!([{ "put": ["title"], "as": { "text": "North hut" } }]));
    assert_eq!(status, 200);
    let (status, _) = change(
        &served,
        &json!([{ "add": ["blank", "layers", 0, "measured"], "as": { "length": "2.955" } },
                { "put": ["hold", 1, "at"], "as": { "list": [{ "length": "113.5 mm" }, { "length": "74 mm" }] } },
                { "put": ["area", 0, "narrow"], "as": { "text": "leave" } }]),
    );
    assert_eq!(status, 200);
    let changed = served.plate();
    let new: Vec<&str> = changed.lines().filter(|l| !first.lines().any(|k| k == *l)).collect();
    assert_eq!(
        new,
        [
            "title = \"North hut\"",
            "  { sheet = \"night black 3\", measured = [2.94, 2.96, 2.95, 2.955] },",
            "narrow = \"leave\"",
            "at = [113.5, 74]"
        ]
    );
    let state = served.settled();
    assert_eq!((state["verdict"].as_str(), state["title"].as_str()), (Some("proven"), Some("North hut")));
    for _ in 0..2 {
        let hash = served.get("/plate/1/state").json()["hash"].clone();
        assert_eq!(served.post("/plate/1/undo", &json!({ "hash": hash })).status, 200);
    }
    assert_eq!(served.plate(), first);
    for _ in 0..2 {
        let hash = served.get("/plate/1/state").json()["hash"].clone();
        assert_eq!(served.post("/plate/1/redo", &json!({ "hash": hash })).status, 200);
    }
    assert_eq!(served.plate(), changed);
}

#[test]
fn lettering_is_said_and_changed_text_by_text() {
    let served = served();
    served.settled();
    fs::write(served.folder.path().join("letters.ttf"), include_bytes!("../../../sheet/fonts/GenBkBasB.ttf")).unwrap();
    let letters = |text: &str, x: &str| {
        json!({ "table": [["text", { "text": text }], ["font", { "text": "letters.ttf" }], ["height", { "length": "6 mm" }],
            ["at", { "list": [{ "length": x }, { "length": "40 mm" }] }]] })
    };
    let area = json!([{ "add": ["area"], "as": { "table": [
        ["lettering", { "list": [letters("N", "40 mm"), letters("S", "80 mm")] }],
        ["floor", { "table": [["above_table", { "length": "1.4 mm" }]] }]] } }]);
    assert_eq!(change(&served, &area).0, 200);
    let state = served.settled();
    assert_eq!(state["text"]["new_area"]["fonts"], json!(["letters.ttf"]));
    let said = &state["text"]["areas"][2]["lettering"];
    let told = |k: usize| -> String {
        let pieces = said[k]["pieces"].as_array().unwrap().iter();
        pieces.map(|p| p.as_str().or_else(|| p["said"].as_str()).unwrap_or_default()).collect()
    };
    assert_eq!(
        told(1),
        "It says S in letters.ttf, its capitals 6 mm high, its middle at x 80 mm, y 40 mm; between letters nothing is added."
    );
    // Each of them can be changed and taken away by itself.
    let end = json!([{ "put": ["area", 2, "lettering", 1, "align"], "as": { "text": "left" } },
                     { "put": ["area", 2, "lettering", 1, "at", 0], "as": { "length": "78 mm" } }]);
    assert_eq!(change(&served, &end).0, 200);
    assert!(served.plate().contains("at = [78, 40], align = \"left\""), "{}", served.plate());
    assert_eq!(served.settled()["verdict"], "proven");
    assert_eq!(change(&served, &said[0]["actions"][0]["changes"]).0, 200);
    assert!(!served.plate().contains("text = \"N\"") && served.plate().contains("text = \"S\""));
    // A font is named beside the plate file, or not at all.
    let outside = json!([{ "put": ["area", 2, "lettering", 0, "font"], "as": { "text": "../letters.ttf" } }]);
    assert_eq!(change(&served, &outside).0, 400);
}

#[test]
fn what_cant_be_put_in_changes_nothing() {
    let served = served();
    let first = served.plate();
    for (changes, status) in [
        (json!([{ "put": ["blank", "size", 0], "as": { "length": "wide" } }]), 422),
        (json!([{ "put": ["blank", "size", 9], "as": { "length": "3" } }]), 422),
        (json!([{ "take": ["area", 7] }]), 422),
        (json!([{ "put": ["drawing"], "as": { "text": "../secret.svg" } }]), 400),
        (json!([{ "put": ["shop"], "as": { "text": "/etc/passwd" } }]), 400),
        (json!([]), 400),
        (json!("x"), 400),
        // The second of two can't be made, so the first isn't either.
        (json!([{ "put": ["title"], "as": { "text": "x" } }, { "take": ["area", 7] }]), 422),
    ] {
        assert_eq!(change(&served, &changes).0, status, "{changes}");
        assert_eq!(served.plate(), first, "{changes}");
    }
    let stale = served
        .post("/plate/1/change", &json!({ "hash": "0", "changes": [{ "put": ["title"], "as": { "text": "x" } }] }));
    assert_eq!(stale.status, 409);
    assert_eq!(served.plate(), first);
}

#[test]
fn the_shop_is_changed_and_undone() {
    let served = served();
    served.settled();
    let file = served.folder.path().join("shop.toml");
    let first = fs::read_to_string(&file).unwrap();
    let shop = served.get("/plate/1/shop").json();
    assert_eq!((shop["built_in"].as_bool(), shop["shut"].is_null()), (Some(false), true));
    let titles: Vec<&str> =
        shop["shop"]["sections"].as_array().unwrap().iter().filter_map(|s| s["title"].as_str()).collect();
    assert!(titles.contains(&"Cutter 1, single-flute flat 1/8") && titles.contains(&"The machine"), "{titles:?}");
    let put = json!([{ "put": ["cutter", 0, "cutting_width"], "as": { "length": "3.21 mm" } }]);
    let reply = served.post("/plate/1/shop", &json!({ "hash": shop["hash"], "changes": put }));
    assert_eq!(reply.status, 200, "{:?}", reply.json());
    let changed = fs::read_to_string(&file).unwrap();
    assert_eq!(
        changed.lines().filter(|l| !first.lines().any(|k| k == *l)).collect::<Vec<_>>(),
        ["cutting_width = 3.21"]
    );
    let again = served.post("/plate/1/shop", &json!({ "hash": shop["hash"], "changes": put }));
    assert_eq!(again.status, 409);
    let state = served.settled();
    assert!(state["elsewhere"].is_null(), "what the page writes itself is no change from elsewhere");
    assert_eq!(served.post("/plate/1/undo", &json!({ "hash": state["hash"] })).status, 200);
    assert_eq!(fs::read_to_string(&file).unwrap(), first);
    // A shop that was changed elsewhere since is not undone over.
    let shop = served.get("/plate/1/shop").json();
    served.post("/plate/1/shop", &json!({ "hash": shop["hash"], "changes": put }));
    fs::write(&file, format!("{first}\n# mine\n")).unwrap();
    let hash = served.get("/plate/1/state").json()["hash"].clone();
    assert_eq!(served.post("/plate/1/undo", &json!({ "hash": hash })).status, 409);
    assert!(fs::read_to_string(&file).unwrap().ends_with("# mine\n"));
}

#[test]
fn a_shop_outside_the_folder_is_read_and_never_written() {
    let outside = tempfile::tempdir().unwrap();
    fs::write(outside.path().join("shop.toml"), intake::STARTER_SHOP).unwrap();
    let served = served();
    let named = format!("shop = \"{}\"\ntitle", outside.path().join("shop.toml").display());
    fs::write(served.folder.path().join("plate.toml"), served.plate().replacen("title", &named, 1)).unwrap();
    let state = served.settled_as(&served.plate());
    assert_eq!(state["verdict"], "proven");
    let shop = served.get("/plate/1/shop").json();
    assert!(shop["shut"].as_str().unwrap().contains("outside"), "{shop}");
    let put = json!([{ "put": ["name"], "as": { "text": "x" } }]);
    assert_eq!(served.post("/plate/1/shop", &json!({ "hash": shop["hash"], "changes": put })).status, 422);
    assert_eq!(fs::read_to_string(outside.path().join("shop.toml")).unwrap(), intake::STARTER_SHOP);
}

#[test]
fn a_way_out_is_one_press() {
    let served = served();
    let right = served.plate();
    let wrong = right.replacen("on = \"field\"", "on = \"feild\"   # where the name stands", 1);
    fs::write(served.folder.path().join("plate.toml"), &wrong).unwrap();
    let state = served.settled_as(&wrong);
    assert_eq!(state["verdict"], "refused");
    let note = state["notes"].as_array().unwrap().iter().find(|n| n["id"] == "unknown-contour").unwrap();
    assert_eq!(note["ways"], json!(["say field"]));
    let press = |way: usize| {
        served.post("/plate/1/way", &json!({ "hash": state["hash"], "note": note["number"], "way": way })).status
    };
    assert_eq!(press(5), 422);
    assert_eq!(served.plate(), wrong);
    assert_eq!(press(0), 200);
    assert_eq!(served.plate(), wrong.replacen("feild", "field", 1));
    assert_eq!(served.settled()["verdict"], "proven");
    assert_eq!(press(0), 409);
}

#[test]
fn a_way_out_may_be_in_the_shop_file() {
    let served = served();
    let shop = served.folder.path().join("shop.toml");
    let close = intake::STARTER_SHOP.replacen("clearance = 5", "clearance = 0.8   # flat tape only", 1);
    fs::write(&shop, &close).unwrap();
    let named = served.plate().replacen("title", "shop = \"shop.toml\"\ntitle", 1);
    fs::write(served.folder.path().join("plate.toml"), &named).unwrap();
    let state = served.settled_as(&named);
    assert_eq!(state["verdict"], "proven");
    let notes = state["notes"].as_array().unwrap();
    let note = notes.iter().find(|n| n["id"] == "clearance-small").unwrap();
    assert_eq!(note["ways"], json!(["say clearance = \"3 mm\" in the shop file"]));
    let press =
        || served.post("/plate/1/way", &json!({ "hash": state["hash"], "note": note["number"], "way": 0 })).status;
    assert_eq!(press(), 200);
    let said = fs::read_to_string(&shop).unwrap();
    assert_eq!(said, close.replacen("clearance = 0.8 ", "clearance = \"3 mm\" ", 1));
    let state = served.settled();
    assert_eq!(state["verdict"], "proven");
    assert!(!state["notes"].as_array().unwrap().iter().any(|n| n["id"] == "clearance-small"), "{state}");
    // It is undone like any other edit.
    assert_eq!(served.post("/plate/1/undo", &json!({ "hash": state["hash"] })).status, 200);
    assert_eq!(fs::read_to_string(&shop).unwrap(), close);
}

fn new_plate(served: &Served, title: &str, file: &str, bytes: &[u8]) -> (u16, Value) {
    let body = json!({ "title": title, "file": file, "bytes": BASE64_STANDARD.encode(bytes) });
    let reply = served.post("/plates/new", &body);
    (reply.status, reply.json())
}

#[test]
fn a_new_plate_from_a_drawing() {
    let served = served_folder();
    let drawing = include_bytes!("../../../../demo/new/drawing.svg");
    let (status, made) = new_plate(&served, "Büro 3, Ost", "tür plan.svg", drawing);
    assert_eq!((status, made["number"].as_u64()), (200, Some(1)), "{made}");
    let folder = served.folder.path().join("büro-3-ost");
    assert_eq!(fs::read(folder.join("tür plan.svg")).unwrap(), drawing);
    let text = fs::read_to_string(folder.join("plate.toml")).unwrap();
    assert!(text.contains("title = \"Büro 3, Ost\"") && text.contains("size = [120, 80]"), "{text}");
    assert_eq!(fs::read_to_string(served.folder.path().join("shop.toml")).unwrap(), intake::STARTER_SHOP);
    let listed = served.get("/plates").json();
    assert_eq!(listed["plates"], json!([{ "number": 1, "name": "büro-3-ost/plate.toml", "title": "Büro 3, Ost" }]));
    served.settled();
    let drawn = served.get("/plate/1/drawing").json();
    assert_eq!((drawn["contours"].as_array().unwrap().len(), drawn["blank"].clone()), (4, json!([120.0, 80.0])));
    let page = String::from_utf8(served.get("/plate/1/").body).unwrap();
    assert!(!page.contains("<path") && served.get("/plate/1/tür plan.svg").status >= 400);
    assert_eq!(new_plate(&served, "Büro 3 ost", "a.svg", drawing).0, 422, "the name is taken");
}

/// Nothing is written outside the folder, and nothing at all where a drawing can't be read.
#[test]
fn odd_names_and_broken_drawings_leave_nothing_behind() {
    let served = served_folder();
    let drawing = include_bytes!("../../../../demo/new/drawing.svg");
    let before = || {
        let mut names: Vec<String> = fs::read_dir(served.folder.path())
            .unwrap()
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    };
    for (title, file, bytes) in [
        ("", "a.svg", &drawing[..]),
        ("..", "a.svg", &drawing[..]),
        ("x", "a.svg", b"<svg xmlns=\"http://www.w3.org/2000/svg\"/>"),
        ("x", "a.dxf", b"\x00\x01\x02"),
        ("x", "a.svg", b""),
    ] {
        assert_eq!(new_plate(&served, title, file, bytes).0, 422, "{title} {file}");
        assert!(before().is_empty(), "{:?}", before());
    }
    for body in [json!({}), json!({ "title": "x", "file": "a.svg", "bytes": "***" }), json!([1])] {
        assert_eq!(served.post("/plates/new", &body).status, 400);
    }
    let (status, _) = new_plate(&served, "../../up", "../../../evil.svg", drawing);
    assert_eq!(status, 200);
    assert_eq!(before(), ["shop.toml", "up"]);
    assert!(served.folder.path().join("up/drawing.svg").is_file());
    assert!(!served.folder.path().parent().unwrap().join("up").exists());
    // A script in a drawing is no contour, and the drawing is never given out as it came.
    let script = br#"<svg xmlns="http://www.w3.org/2000/svg" width="50mm" height="30mm" viewBox="0 0 50 30"><script>alert(1)</script>
        <rect id="&lt;img src=x onerror=alert(1)&gt;" x="5" y="5" width="30" height="20"/></svg>"#;
    let (status, made) = new_plate(&served, "script", "s.svg", script);
    assert_eq!(status, 200, "{made}");
    // It is there once it was read.
    let drawing = format!("/plate/{}/drawing", made["number"]);
    let began = std::time::Instant::now();
    while served.get(&drawing).status == 404 && began.elapsed().as_secs() < 60 {
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    for target in ["", "state", "drawing"] {
        let reply = served.get(&format!("/plate/{}/{target}", made["number"]));
        let kind = reply.header("content-type").unwrap().to_owned();
        assert!(!String::from_utf8_lossy(&reply.body).contains("<script>alert"), "{target}");
        assert!(target.is_empty() || kind == "application/json", "{target} {kind}");
    }
}

#[test]
fn a_plate_that_a_link_leads_to_outside_is_not_opened() {
    let outside = tempfile::tempdir().unwrap();
    fs::write(outside.path().join("plate.toml"), include_str!("../../../../demo/new/plate.toml")).unwrap();
    let served = served_folder();
    std::os::unix::fs::symlink(outside.path(), served.folder.path().join("linked")).unwrap();
    let listed = served.get("/plates").json();
    for plate in listed["plates"].as_array().unwrap() {
        assert_eq!(served.get(&format!("/plate/{}/state", plate["number"])).status, 404, "{listed}");
    }
    for target in ["/plate/0/", "/plate/2/", "/plate/99999/state", "/plate/x/", "/plate/-1/", "/plate/1", "/plate//"] {
        assert_eq!(served.get(target).status, 404, "{target}");
    }
}
