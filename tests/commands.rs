//! Every command through the real binary, on the demo and on a new plate.

#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use serde_json::Value;
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A coarser grid where the proof itself is not what is tested.
const COARSE: [&str; 2] = ["--pitch", "0.05"];

fn program(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_platewright"));
    command.current_dir(folder);
    command
}

fn run(folder: &Path, words: &[&str]) -> Output {
    program(folder).args(words).output().unwrap()
}

/// Runs and gives what was printed; the exit status must be as said.
fn says(folder: &Path, words: &[&str], status: i32) -> String {
    let output = run(folder, words);
    let printed = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert_eq!(output.status.code(), Some(status), "{words:?}: {printed}");
    printed
}

/// Runs with `--json` and gives the document; the exit status and the one it states must be as said.
fn json(folder: &Path, words: &[&str], status: i32) -> Value {
    let output = program(folder).args(words).arg("--json").output().unwrap();
    let read = serde_json::from_slice(&output.stdout);
    assert!(read.is_ok(), "{words:?} prints no JSON: {}", String::from_utf8_lossy(&output.stdout));
    let value: Value = read.unwrap();
    assert_eq!(output.status.code(), Some(status), "{words:?}: {value:#}");
    assert!(value["status"] == status || (value.get("status").is_none() && words[0] == "explain"), "{words:?}");
    value
}

fn parsed(file: &Path) -> Value {
    serde_json::from_slice(&fs::read(file).unwrap()).unwrap()
}

/// Every file below a folder with its bytes.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(at) = open.pop() {
        for path in fs::read_dir(at).unwrap().map(|e| e.unwrap().path()) {
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_string_lossy().replace('\\', "/");
                found.insert(name, fs::read(&path).unwrap());
            }
        }
    }
    found
}

fn names(folder: &Path) -> BTreeSet<String> {
    fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect()
}

fn programs(packet: &Path) -> Vec<String> {
    names(packet).into_iter().filter(|n| n.ends_with(".nc")).collect()
}

/// The demo, made once for all tests that look at it: its folder, and what was printed.
fn demo() -> &'static (TempDir, String) {
    static DEMO: OnceLock<(TempDir, String)> = OnceLock::new();
    DEMO.get_or_init(|| {
        let place = TempDir::new().unwrap();
        let printed = says(place.path(), &["demo"], 0);
        (place, printed)
    })
}

/// A new plate with its packet, made once.
fn new_plate() -> &'static TempDir {
    static NEW: OnceLock<TempDir> = OnceLock::new();
    NEW.get_or_init(|| {
        let place = TempDir::new().unwrap();
        let printed = says(place.path(), &["new", "badge"], 0);
        assert!(printed.contains("platewright packet badge"), "it says what to do next: {printed}");
        assert_eq!(
            names(&place.path().join("badge")),
            BTreeSet::from(["plate.toml", "drawing.svg", "shop.toml"].map(str::to_owned))
        );
        let printed = says(place.path(), &["packet", "badge/plate.toml"], 0);
        assert!(printed.contains("Proven. "), "{printed}");
        place
    })
}

/// The README's table of files, its verdict and its stages.
#[test]
fn the_demo_is_proven_and_whole() {
    let (place, printed) = demo();
    assert!(printed.contains("Proven. "), "{printed}");
    let folder = place.path().join("kestrel-hill");
    let here =
        BTreeSet::from(["plate.toml", "door-plate.svg", "door-plate.dxf", "shop.toml", "packet"].map(str::to_owned));
    assert_eq!(names(&folder), here, "nothing is left beside the packet");
    let packet = folder.join("packet");
    let there: BTreeSet<String> = files(&packet).into_keys().collect();
    let proof = parsed(&packet.join("proof.json"));
    assert_eq!(proof["verdict"], "proven");
    let stages = proof["stages"].as_array().unwrap();
    assert!(stages.len() >= 4, "the frame run and at least three programs");
    let mut expected: BTreeSet<String> = [
        "setup-sheet.pdf",
        "pictures/face.png",
        "pictures/section.png",
        "pictures/hand-work.png",
        "proof.json",
        "proof.txt",
        "cutters.txt",
        "reach.txt",
        "intent.json",
        "manifest.json",
    ]
    .map(str::to_owned)
    .into();
    for (i, stage) in stages.iter().enumerate() {
        let file = stage["file"].as_str().unwrap();
        assert!(file.starts_with(&format!("{i}-")) && file.ends_with(".nc"), "{file}");
        assert!(stage["cutter_number"].as_u64().is_some_and(|n| n > 0), "{file}");
        assert!(stage["cutter"].as_str().is_some_and(|n| !n.is_empty()), "{file}");
        assert!(stage["cutting_width"].as_f64().is_some_and(|w| w > 0.0), "{file}");
        assert!(stage["minutes"].as_f64().is_some_and(|m| m > 0.0), "{file}");
        expected.insert(file.to_owned());
        if i > 0 {
            for what in ["after", "paths"] {
                expected.insert(format!("pictures/{what}-{}.png", file.trim_end_matches(".nc")));
            }
        }
    }
    assert_eq!(stages[0]["file"], "0-frame.nc");
    assert!(stages.last().unwrap()["file"].as_str().unwrap().contains("outline"), "the plate is cut free last");
    assert_eq!(there, expected);
    for (name, bytes) in files(&packet) {
        let head: &[u8] = match name.rsplit_once('.').map_or("", |n| n.1) {
            "png" => b"\x89PNG\r\n\x1a\n",
            "pdf" => b"%PDF-",
            _ => b"",
        };
        assert!(bytes.len() > 200 && bytes.starts_with(head), "{name}");
    }
    let intent = parsed(&packet.join("intent.json"));
    assert_eq!(intent["areas"].as_array().unwrap().len(), 5);
    assert_eq!(intent["holds"].as_array().unwrap().len(), 4);
    assert_eq!(intent["outline"]["held_by"]["tabs"], 4);
}

fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[test]
fn the_manifest_lists_every_file_with_its_sha_256() {
    let folder = demo().0.path().join("kestrel-hill");
    let manifest = parsed(&folder.join("packet/manifest.json"));
    let listed = |key: &str, folder: &Path| -> BTreeSet<String> {
        let list = manifest[key].as_array().unwrap().iter();
        list.map(|f| {
            let name = f["file"].as_str().unwrap();
            let bytes = fs::read(folder.join(name)).unwrap();
            assert_eq!(f["bytes"].as_u64().unwrap(), bytes.len() as u64, "{name}");
            assert_eq!(f["sha256"].as_str().unwrap(), sha256(&bytes), "{name}");
            name.to_owned()
        })
        .collect()
    };
    let inputs = listed("inputs", &folder);
    assert_eq!(inputs, BTreeSet::from(["plate.toml", "door-plate.svg", "shop.toml"].map(str::to_owned)));
    let mut outputs = listed("outputs", &folder.join("packet"));
    outputs.insert("manifest.json".into());
    assert_eq!(outputs, files(&folder.join("packet")).into_keys().collect());
}

/// A second run over the first: the same bytes but for the manifest's date line.
#[test]
fn the_demo_is_the_same_twice() {
    let first = demo();
    let again = TempDir::new().unwrap();
    let folder = again.path().join("kestrel-hill");
    // The first run's folder, so that the second one also replaces a packet.
    for (name, bytes) in files(&first.0.path().join("kestrel-hill")) {
        fs::create_dir_all(folder.join(&name).parent().unwrap()).unwrap();
        fs::write(folder.join(name), bytes).unwrap();
    }
    let value = json(again.path(), &["demo"], 0);
    assert_eq!(value["verdict"], "proven");
    assert_eq!(names(again.path()).len(), 1);
    let (one, two) = (files(&first.0.path().join("kestrel-hill")), files(&folder));
    assert_eq!(one.keys().collect::<Vec<_>>(), two.keys().collect::<Vec<_>>());
    for (name, bytes) in &one {
        if name != "packet/manifest.json" {
            assert!(*bytes == two[name], "{name} differs between two runs");
        }
    }
    let manifest = |all: &BTreeMap<String, Vec<u8>>| String::from_utf8(all["packet/manifest.json"].clone()).unwrap();
    let (one, two) = (manifest(&one), manifest(&two));
    let differing: Vec<(&str, &str)> = one.lines().zip(two.lines()).filter(|(a, b)| a != b).collect();
    assert_eq!(one.lines().count(), two.lines().count());
    assert!(differing.len() == 1 && differing[0].1.contains("\"date\":"), "{differing:?}");
}

/// Lines and arcs of an `intent.json`, read here again.
#[derive(Clone, Copy)]
enum Piece {
    Line([f64; 2], [f64; 2]),
    /// From, to, centre, counter-clockwise.
    Arc([f64; 2], [f64; 2], [f64; 2], bool),
}

fn minus(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

fn cross(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

fn length(a: [f64; 2]) -> f64 {
    dot(a, a).sqrt()
}

impl Piece {
    /// Whether a direction from the centre points into the arc.
    fn turns_past(from: [f64; 2], to: [f64; 2], ccw: bool, way: [f64; 2]) -> bool {
        let (from, to) = if ccw { (from, to) } else { (to, from) };
        let (after, before) = (cross(from, way) >= 0.0, cross(way, to) >= 0.0);
        if cross(from, to) >= 0.0 { after && before } else { after || before }
    }

    fn distance(self, p: [f64; 2]) -> f64 {
        match self {
            Self::Line(a, b) => {
                let along = minus(b, a);
                let t = (dot(minus(p, a), along) / dot(along, along).max(1e-30)).clamp(0.0, 1.0);
                length(minus(p, [a[0] + t * along[0], a[1] + t * along[1]]))
            }
            Self::Arc(a, b, c, ccw) => {
                if Self::turns_past(minus(a, c), minus(b, c), ccw, minus(p, c)) {
                    (length(minus(p, c)) - length(minus(a, c))).abs()
                } else {
                    length(minus(p, a)).min(length(minus(p, b)))
                }
            }
        }
    }

    /// Its start, its end, and points between by halving: the chord's points pushed out onto an arc.
    fn points(self, into: &mut Vec<[f64; 2]>) {
        match self {
            Self::Line(a, b) => {
                into.extend(
                    (0..=4).map(|i| f64::from(i) / 4.0).map(|t| [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]),
                );
            }
            Self::Arc(a, b, c, ccw) => {
                into.push(a);
                let (from, to) = (minus(a, c), minus(b, c));
                let mut middle = [from[0] + to[0], from[1] + to[1]];
                if length(middle) < 1e-9 {
                    middle = [-from[1], from[0]];
                }
                for sign in [1.0, -1.0] {
                    let way = [middle[0] * sign, middle[1] * sign];
                    if Self::turns_past(from, to, ccw, way) {
                        let k = length(from) / length(way);
                        into.push([c[0] + k * way[0], c[1] + k * way[1]]);
                    }
                }
            }
        }
    }
}

fn pieces(region: &Value, into: &mut Vec<Piece>) {
    let point = |v: &Value| [v[0].as_f64().unwrap(), v[1].as_f64().unwrap()];
    let contour = |c: &Value, into: &mut Vec<Piece>| {
        let mut at = point(&c["start"]);
        for s in c["segments"].as_array().unwrap() {
            let to = point(if s.get("line_to").is_some() { &s["line_to"] } else { &s["arc_to"] });
            into.push(match s.get("centre") {
                Some(centre) => Piece::Arc(at, to, point(centre), s["counter_clockwise"].as_bool().unwrap()),
                None => Piece::Line(at, to),
            });
            at = to;
        }
    };
    for shape in region["lines_and_arcs"].as_array().unwrap() {
        contour(&shape["outer"], into);
        shape["holes"].as_array().unwrap().iter().for_each(|h| contour(h, into));
    }
}

/// Greatest distance from one boundary's points to the other boundary.
fn farthest(from: &[Piece], to: &[Piece]) -> f64 {
    let mut points = Vec::new();
    from.iter().for_each(|p| p.points(&mut points));
    points.iter().map(|&p| to.iter().map(|q| q.distance(p)).fold(f64::INFINITY, f64::min)).fold(0.0, f64::max)
}

/// One SVG and one DXF of the same plate give the same intent: boundaries within 2 µm, both ways.
#[test]
fn the_demos_two_drawings_have_one_intent() {
    let svg = demo().0.path().join("kestrel-hill");
    let place = TempDir::new().unwrap();
    for file in ["shop.toml", "door-plate.dxf"] {
        fs::copy(svg.join(file), place.path().join(file)).unwrap();
    }
    let plate = fs::read_to_string(svg.join("plate.toml")).unwrap();
    assert!(plate.contains("door-plate.svg"));
    fs::write(place.path().join("plate.toml"), plate.replace("door-plate.svg", "door-plate.dxf")).unwrap();
    says(place.path(), &["packet", "plate.toml", COARSE[0], COARSE[1]], 0);
    let (one, two) = (parsed(&svg.join("packet/intent.json")), parsed(&place.path().join("packet/intent.json")));
    for key in ["blank", "holds", "cutters"] {
        assert_eq!(one[key], two[key], "{key}");
    }
    let regions = |intent: &Value| -> Vec<(String, Value, Value)> {
        let text = |v: &Value| v.as_str().unwrap().to_owned();
        let areas = intent["areas"].as_array().unwrap().iter();
        let mut all: Vec<_> = areas.map(|a| (text(&a["name"]), a["floor"].clone(), a["region"].clone())).collect();
        let edge = &intent["outline"];
        all.push((text(&edge["name"]), edge["floor"].clone(), edge["inside"].clone()));
        all
    };
    let (one, two) = (regions(&one), regions(&two));
    assert_eq!(one.len(), two.len());
    for (a, b) in one.iter().zip(&two) {
        assert_eq!((&a.0, &a.1), (&b.0, &b.1));
        let (mut of_svg, mut of_dxf) = (Vec::new(), Vec::new());
        pieces(&a.2, &mut of_svg);
        pieces(&b.2, &mut of_dxf);
        assert!(!of_svg.is_empty() && !of_dxf.is_empty());
        let apart = farthest(&of_svg, &of_dxf).max(farthest(&of_dxf, &of_svg));
        assert!(apart <= 0.002, "`{}` differs by {apart} mm between the drawings", a.0);
    }
}

/// The demo's own programs, given back as files from anywhere.
#[test]
fn proves_the_demos_programs_and_refuses_them_with_one_left_out() {
    let folder = demo().0.path().join("kestrel-hill");
    let all: Vec<String> = programs(&folder.join("packet")).into_iter().map(|n| format!("packet/{n}")).collect();
    let given = |programs: &[&String], status: i32| {
        let mut words = vec!["prove", "plate.toml"];
        words.extend(programs.iter().map(|p| p.as_str()));
        words.extend(COARSE);
        json(&folder, &words, status)
    };
    let before = files(&folder);
    let whole = given(&all.iter().collect::<Vec<_>>(), 0);
    assert_eq!(whole["verdict"], "proven");
    assert_eq!(whole["proof"]["stages"].as_array().unwrap().len(), all.len());
    // Without the first cutting program the finer cutters meet what it would have cleared.
    let left: Vec<&String> = all.iter().filter(|p| !p.contains("/1-")).collect();
    let refused = given(&left, 1);
    assert_eq!(refused["verdict"], "refused");
    let findings: Vec<&Value> =
        refused["doubts"].as_array().unwrap().iter().filter(|d| d["severity"] == "refusal").collect();
    assert!(findings.iter().any(|d| d["id"] == "leftover"), "{findings:#?}");
    assert!(findings.iter().all(|d| !d["places"].as_array().unwrap().is_empty()), "{findings:#?}");
    assert!(before == files(&folder), "proving writes nothing");
}

/// A program without a T word needs its cutter named beside the file.
#[test]
fn a_cutter_is_named_beside_the_file() {
    let badge = new_plate().path().join("badge");
    let place = TempDir::new().unwrap();
    for file in ["plate.toml", "drawing.svg", "shop.toml"] {
        fs::copy(badge.join(file), place.path().join(file)).unwrap();
    }
    let names: Vec<String> = programs(&badge.join("packet")).into_iter().filter(|n| !n.starts_with('0')).collect();
    let mut numbers = BTreeMap::new();
    for stage in parsed(&badge.join("packet/proof.json"))["stages"].as_array().unwrap() {
        numbers.insert(stage["file"].as_str().unwrap().to_owned(), stage["cutter_number"].as_u64().unwrap());
    }
    for name in &names {
        let text = fs::read_to_string(badge.join("packet").join(name)).unwrap();
        let word = format!("T{}", numbers[name]);
        let outside = |line: &str| line.split('(').next().unwrap_or("").contains(&word);
        assert!(text.lines().any(outside), "{name} states its cutter");
        let without = text.lines().map(|l| if outside(l) { l.replacen(&word, "", 1) } else { l.to_owned() });
        fs::write(place.path().join(name), without.collect::<Vec<_>>().join("\n") + "\n").unwrap();
    }
    let prove = |programs: &[String], status: i32| {
        let mut words = vec!["prove", "plate.toml"];
        words.extend(programs.iter().map(String::as_str));
        words.extend(COARSE);
        json(place.path(), &words, status)
    };
    let ids = |value: &Value, severity: &str| -> Vec<String> {
        let doubts = value["doubts"].as_array().unwrap().iter().filter(|d| d["severity"] == severity);
        doubts.map(|d| d["id"].as_str().unwrap().to_owned()).collect()
    };
    let named =
        |number: &dyn Fn(&String) -> u64| names.iter().map(|n| format!("{n}={}", number(n))).collect::<Vec<_>>();
    assert_eq!(prove(&named(&|n| numbers[n]), 0)["verdict"], "proven");
    let unnamed = prove(&names, 1);
    assert_eq!(unnamed["verdict"], "undecided");
    assert!(ids(&unnamed, "caution").contains(&"undecided-cutter".to_owned()), "{unnamed:#}");
    // With the 1/32 cutter named, walls and floors stay standing.
    let thin = prove(&named(&|_| 3), 1);
    assert_eq!(thin["verdict"], "refused");
    assert!(ids(&thin, "refusal").iter().any(|id| id == "leftover" || id == "wall-leftover"), "{thin:#}");
    assert!(ids(&prove(&named(&|_| 77), 1), "refusal").contains(&"cutter-unknown".to_owned()));
    let wrong = says(place.path(), &["prove", "plate.toml", &format!("{}=one", names[0])], 2);
    assert!(wrong.contains("`one`"), "{wrong}");
    let missing = says(place.path(), &["prove", "plate.toml", "9-nowhere.nc"], 2);
    assert!(missing.contains("9-nowhere.nc"), "{missing}");
}

#[test]
fn a_new_plate_is_proven_and_never_overwritten() {
    let place = new_plate();
    let proof = parsed(&place.path().join("badge/packet/proof.json"));
    assert_eq!(proof["verdict"], "proven");
    // The same files again are no harm; changed ones are the maker's.
    let badge = TempDir::new().unwrap();
    assert_eq!(json(badge.path(), &["new", "."], 0)["files"].as_array().unwrap().len(), 3);
    says(badge.path(), &["new", "."], 0);
    let file = badge.path().join("plate.toml");
    fs::write(&file, "title = \"mine\"\n").unwrap();
    fs::remove_file(badge.path().join("drawing.svg")).unwrap();
    for command in ["new", "demo"] {
        assert!(says(badge.path(), &[command, "."], 2).contains("plate.toml"));
        assert!(json(badge.path(), &[command, "."], 2)["way_out"].is_string());
    }
    assert_eq!(fs::read_to_string(&file).unwrap(), "title = \"mine\"\n");
    assert_eq!(names(badge.path()), BTreeSet::from(["plate.toml", "shop.toml"].map(str::to_owned)));
}

/// What `look` says of the demo's drawings: sizes as `demo/draw.py` draws them, the strokes that need the fine cutter.
#[test]
fn looks_at_the_demos_drawings() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    for file in ["door-plate.svg", "door-plate.dxf"] {
        let value = json(&folder, &["look", file], 0);
        let named = |name: &str| -> &Value {
            let found = value["names"].as_array().unwrap().iter().find(|n| n["name"] == name);
            assert!(found.is_some(), "{file} has no {name}");
            found.unwrap()
        };
        for name in ["outline", "field", "sky", "dome", "slit", "name", "stars", "moon", "screw-holes"] {
            assert!(named(name)["contours"].as_u64().unwrap() > 0, "{file}: {name}");
            // Outline, field and sky are nowhere narrower than `reach::WIDEST`, 30 mm.
            let wide = ["outline", "field", "sky"].contains(&name);
            assert!(named(name)["narrowest"].as_array().is_some_and(|n| n.is_empty() == wide), "{file}: {name}");
        }
        let outline = &named("outline")["bounds"];
        let side = |k: usize| {
            let end = |e: &str| outline[e][k].as_f64().unwrap();
            end("max") - end("min")
        };
        assert!(
            (side(0) - 200.0).abs() < 0.001 && (side(1) - 110.0).abs() < 0.001,
            "{file}: {} x {}",
            side(0),
            side(1)
        );
        let cutter = &named("name")["largest_cutter_that_passes"]["cutting_width"];
        assert!(cutter.as_f64().is_none_or(|w| w < 1.0), "{file}: the lettering needs the 1/32 cutter or finer");
        assert_eq!(named("screw-holes")["contours"], 2, "{file}");
        let text = says(&folder, &["look", file], 0);
        assert!(text.contains("200 x 110 mm") && text.contains("screw-holes: 2 contours"), "{file}: {text}");
    }
    looks_at_a_pattern_of_many_holes();
    assert!(says(&folder, &["look", "nowhere.svg"], 2).contains("nowhere.svg"));
    assert!(says(&folder, &["look", "plate.toml"], 2).contains("refused[not-a-drawing]"));
    assert!(says(&folder, &["look", "door-plate.svg", "--units", "furlong"], 2).contains("furlong"));
    assert!(says(&folder, &["look", "door-plate.svg", "--close-gaps", "wide"], 2).contains("wide"));
    assert!(json(&folder, &["look", "door-plate.svg", "--close-gaps=-1"], 2)["error"].is_string());
}

/// What `reach` says of the demo: every area with the starter shop's three cutters, none of them clearing more than it is.
#[test]
fn tells_the_reach_of_the_demos_cutters() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    let value = json(&folder, &["reach", "plate.toml"], 0);
    let areas = value["areas"].as_array().unwrap();
    assert_eq!(areas.len(), 5);
    for area in areas {
        let clears: Vec<f64> =
            area["cutters"].as_array().unwrap().iter().map(|c| c["clears"].as_f64().unwrap()).collect();
        assert!(!clears.is_empty() && clears.windows(2).all(|w| w[0] <= w[1] + 1e-6), "{area}");
        assert!(clears.iter().all(|&c| c <= area["size"].as_f64().unwrap()));
    }
    let text = says(&folder, &["reach", "plate.toml"], 0);
    assert!(text.contains("moon (line 28)") && text.contains("by hand: corner at"), "{text}");
    assert!(says(&folder, &["reach", "nowhere.toml"], 2).contains("nowhere.toml"));
    assert!(json(&folder, &["reach", "door-plate.svg"], 2)["areas"].is_null());
}

/// `why` by key, by number and by place; a word misspelt, a plate that isn't there.
#[test]
fn tells_where_the_demos_numbers_come_from() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    let all = json(&folder, &["why", "plate.toml"], 0);
    assert!(all["found"]["answers"].as_array().unwrap().len() > 40);
    let text = says(&folder, &["why", "plate.toml", "1440"], 0);
    assert!(text.contains("cutter 1") && text.contains("= 18000 * 1 * 0.08"), "{text}");
    let text = says(&folder, &["why", "plate.toml", "field", "floor"], 0);
    assert!(text.contains("plate.toml, line 15") && text.contains("depth asked for"), "{text}");
    let text = says(&folder, &["why", "plate.toml", "x 30 y 30"], 0);
    assert!(text.contains("floor of field") && text.contains("in program 1"), "{text}");
    let text = says(&folder, &["why", "plate.toml", "feild"], 1);
    assert!(text.contains("Near it: field floor"), "{text}");
    assert!(json(&folder, &["why", "nowhere.toml", "face"], 2)["answers"].is_null());
}

/// A perforated panel takes seconds, not minutes.
fn looks_at_a_pattern_of_many_holes() {
    let place = TempDir::new().unwrap();
    let mut text = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"200mm\" height=\"200mm\" viewBox=\"0 0 200 200\">\n<g id=\"holes\">\n".to_owned();
    for (i, k) in (0..60).flat_map(|i| (0..60).map(move |k| (i, k))) {
        let _ = writeln!(text, "<circle cx=\"{}\" cy=\"{}\" r=\"0.9\"/>", 10 + 3 * i, 10 + 3 * k);
    }
    fs::write(place.path().join("panel.svg"), text + "</g></svg>\n").unwrap();
    let start = Instant::now();
    let value = json(place.path(), &["look", "panel.svg"], 0);
    assert_eq!(value["names"][0]["contours"], 3600);
    assert!((value["names"][0]["narrowest"][0]["width"].as_f64().unwrap() - 1.8).abs() < 0.002);
    assert!(start.elapsed() < Duration::from_secs(60), "{:?}", start.elapsed());
}

#[test]
fn explains_every_id() {
    let here = TempDir::new().unwrap();
    let all = json(here.path(), &["explain"], 0);
    let ids: Vec<&str> = all.as_array().unwrap().iter().map(|k| k["id"].as_str().unwrap()).collect();
    assert!(ids.len() > 100, "{} kinds", ids.len());
    let listed = says(here.path(), &["explain"], 0);
    assert_eq!(listed.lines().count(), ids.len());
    for id in ids {
        let page = says(here.path(), &["explain", id], 0);
        assert!(page.starts_with(id) && page.len() > id.len() + 60, "{page}");
        assert_eq!(json(here.path(), &["explain", id], 0)["id"], id);
    }
    assert!(says(here.path(), &["explain", "goug"], 2).contains("`gouge`"), "the nearest id is named");
}

#[test]
fn help_and_bad_usage() {
    let here = TempDir::new().unwrap();
    let help = says(here.path(), &["--help"], 0);
    for command in ["demo", "new", "look", "reach", "packet", "prove", "calibrate", "explain"] {
        assert!(help.contains(command), "{help}");
        says(here.path(), &[command, "--help"], 0);
        assert!(json(here.path(), &[command, "--no-such-option"], 2)["error"].is_string());
    }
    says(here.path(), &["--version"], 0);
    says(here.path(), &[], 2);
    says(here.path(), &["prove", "plate.toml"], 2);
    assert!(names(here.path()).is_empty());
}

/// Ctrl-C in the middle of a run: the status says so, and neither a packet nor a trace of one is there.
#[cfg(unix)]
#[test]
fn ctrl_c_leaves_nothing_half_written() {
    let place = TempDir::new().unwrap();
    let mut child =
        program(place.path()).args(["demo", "d"]).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let plate = place.path().join("d/shop.toml");
    let start = Instant::now();
    while !plate.exists() && start.elapsed() < Duration::from_secs(30) {
        std::thread::sleep(Duration::from_millis(10));
    }
    // Into the planning or the proof: the whole run takes many times this.
    std::thread::sleep(Duration::from_millis(400));
    let sent = Command::new("sh").args(["-c", &format!("kill -INT {}", child.id())]).status().unwrap();
    assert!(sent.success());
    let asked = Instant::now();
    let status = child.wait().unwrap();
    assert_eq!(status.code(), Some(130));
    assert!(asked.elapsed() < Duration::from_secs(20), "stopped only after {:?}", asked.elapsed());
    let mut said = String::new();
    std::io::Read::read_to_string(&mut child.stdout.take().unwrap(), &mut said).unwrap();
    assert!(said.contains("No packet was written"), "{said}");
    let here = BTreeSet::from(["plate.toml", "door-plate.svg", "door-plate.dxf", "shop.toml"].map(str::to_owned));
    assert_eq!(names(&place.path().join("d")), here);
    assert_eq!(names(place.path()), BTreeSet::from(["d".to_owned()]));
}

/// A reader that goes away, as `head` does, is no reason to panic.
#[test]
fn a_closed_pipe_is_no_fault() {
    let demo: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    for words in [&["explain"][..], &["explain", "--json"], &["look", "door-plate.svg"], &["--help"]] {
        let mut child = program(&demo).args(words).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        let complaint = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(0), "{words:?}: {complaint}");
        assert!(!complaint.contains("panicked"), "{words:?}: {complaint}");
    }
}
