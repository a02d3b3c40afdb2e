//! Programs from elsewhere through the real binary: without a plate file, zeroed at the face, with pictures.

#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use serde_json::Value;
use std::collections::BTreeSet;
use std::f64::consts::PI;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

/// The cutting width of the starter shop's cutter 1: 1/8 in.
const WIDE: f64 = 3.175;

fn run(folder: &Path, words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_platewright")).current_dir(folder).args(words).output().unwrap()
}

fn says(folder: &Path, words: &[&str], status: i32) -> String {
    let output = run(folder, words);
    let printed = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert_eq!(output.status.code(), Some(status), "{words:?}: {printed}");
    printed
}

fn json(folder: &Path, words: &[&str], status: i32) -> Value {
    let output = run(folder, &[words, &["--json"]].concat());
    let value: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((output.status.code(), &value["status"]), (Some(status), &Value::from(status)), "{words:?}: {value:#}");
    value
}

fn ids(value: &Value, severity: &str) -> BTreeSet<String> {
    let doubts = value["doubts"].as_array().unwrap().iter().filter(|d| d["severity"] == severity);
    doubts.map(|d| d["id"].as_str().unwrap().to_owned()).collect()
}

fn near(value: &Value, wanted: f64, within: f64) {
    let got = value.as_f64().unwrap();
    assert!((got - wanted).abs() <= within, "{got} isn't {wanted} within {within}");
}

/// A ring 10 mm in radius, half a millimetre deep, entered by a helix; heights from the face.
const RING: &str = "G21 G17 G90 G94\nT1\nS18000 M3\nG0 Z5\nG0 X20 Y20\nG1 Z0.2 F300\n\
    G3 X20 Y20 Z-0.5 I10 J0 F600\nG3 X20 Y20 I10 J0 F900\nG0 Z5\nM5\nM30\n";
/// A groove 20 mm long, a millimetre deep, by a ramp there and back.
const GROOVE: &str = "g21g17g90g94\ns18000m3\ng0z5\ng0x60y20\ng1z0.1f300\ng1x80z-1f900\ng1x60\ng1x80\ng0z5\nm5\nm30\n";

/// A folder with the starter shop and these programs.
fn folder(programs: &[(&str, &str)]) -> TempDir {
    let place = TempDir::new().unwrap();
    fs::write(place.path().join("shop.toml"), intake::STARTER_SHOP).unwrap();
    for (name, text) in programs {
        fs::write(place.path().join(name), text).unwrap();
    }
    place
}

const BLANK: [&str; 5] = ["prove", "--shop", "shop.toml", "--blank", "100 x 60 x 6 mm"];

fn with<'a>(more: &[&'a str]) -> Vec<&'a str> {
    BLANK.iter().chain(more).copied().collect()
}

/// Areas and volumes are derived: a ring of radius 10 and the groove's stadium, both as wide as the cutter.
#[test]
fn says_what_programs_do_without_a_plate() {
    let place = folder(&[("ring.nc", RING), ("groove.nc", GROOVE)]);
    let value = json(place.path(), &with(&["--zero", "face", "ring.nc", "groove.nc=1"]), 0);
    assert_eq!((&value["compared"], &value["verdict"]), (&Value::from(false), &Value::Null));
    let survey = &value["survey"];
    let [ring, groove] = [&survey["programs"][0], &survey["programs"][1]];
    let (ring_area, groove_area) = (2.0 * PI * 10.0 * WIDE, 20.0 * WIDE + PI * WIDE * WIDE / 4.0);
    near(&ring["cuts"][0]["height"], 5.5, 1e-9);
    near(&ring["cuts"][0]["area"], ring_area, 0.02 * ring_area);
    near(&ring["cutter_use"]["removed"], ring_area * 0.5, 0.005 * ring_area);
    near(&ring["below_face"], 0.5, 1e-9);
    near(&groove["cuts"][0]["height"], 5.0, 1e-9);
    near(&groove["cuts"][0]["area"], groove_area, 0.02 * groove_area);
    near(&groove["cutter_use"]["removed"], groove_area, 0.01 * groove_area);
    near(&groove["cutter_use"]["lowest"], 5.0, 1e-9);
    // The whole circle is reached, though only one point of it is named.
    assert_eq!(ring["reach"].to_string(), "[[20.0,40.0],[10.0,30.0],[5.5,11.0]]");
    assert_eq!((&groove["below_table_count"], &groove["cutter_number"]), (&Value::from(0), &Value::from(1)));
    // 6 s at least for two circles at 10 and 15 mm/s, and the groove's 60 mm at 15 mm/s take 4 s.
    assert!(ring["minutes"].as_f64().unwrap() * 60.0 > 10.4 && groove["minutes"].as_f64().unwrap() * 60.0 > 4.0);
    let leaves = survey["leaves"].as_array().unwrap();
    assert_eq!(leaves.len(), 3);
    near(&leaves[0]["height"], 6.0, 1e-9);
    near(&leaves[0]["area"], 6000.0 - ring_area - groove_area, 8.0);
    let notes = ["blank-as-named", "cutter-assumed", "material-assumed", "zero-at-face"].map(String::from);
    assert_eq!(ids(&value, "note"), BTreeSet::from(notes));
    assert_eq!(ids(&value, "caution"), BTreeSet::new());
    let text = says(place.path(), &with(&["--zero", "face", "ring.nc", "groove.nc=1", "--sheet", "clear 6"]), 0);
    for line in [
        "NOT COMPARED: nothing speaks against these programs by themselves.",
        "Program 1  ring.nc  cutter 1 (single-flute flat 1/8, cuts 3.175 mm wide)",
        "          deepest 0.5 mm below the face, 5.5 mm above the table",
        "            floor 5 mm above the table, 1 below the face: about 7",
    ] {
        assert!(text.contains(line), "{line}: {text}");
    }
}

/// The same cuts with heights above the table, in inches, and one after the other in one text.
#[test]
fn zero_and_units_come_to_the_same() {
    let at_table = RING.replace("Z5", "Z11").replace("Z0.2", "Z6.2").replace("Z-0.5", "Z5.5");
    let inches: String = at_table
        .replace("G21", "G20")
        .lines()
        .map(|line| {
            let words = line.split(' ').map(|word| match (word.get(..1), word.get(1..).map(str::parse::<f64>)) {
                (Some(letter), Some(Ok(v))) if "XYZIJF".contains(letter) => format!("{letter}{:.8}", v / 25.4),
                _ => word.to_owned(),
            });
            words.collect::<Vec<_>>().join(" ") + "\n"
        })
        .collect();
    let place = folder(&[("a.nc", RING), ("b.nc", &at_table), ("c.nc", &inches)]);
    let figures = |words: &[&str]| {
        let value = json(place.path(), &with(words), 0);
        let program = &value["survey"]["programs"][0];
        let used = &program["cutter_use"];
        let all = [
            &used["removed"],
            &used["lowest"],
            &used["thickest_chip"],
            &program["minutes"],
            &program["cuts"][0]["area"],
        ];
        all.map(|v| v.as_f64().unwrap())
    };
    let face = figures(&["--zero", "face", "a.nc"]);
    for other in [figures(&["b.nc"]), figures(&["--zero", "table", "c.nc"])] {
        assert!(face.iter().zip(other).all(|(a, b)| (a - b).abs() < 1e-3 * a.abs()), "{face:?} {other:?}");
    }
    // Zeroed at the wrong place the ring is cut far below the table.
    let wrong = json(place.path(), &with(&["a.nc"]), 1);
    assert_eq!(wrong["verdict"], "refused");
    assert!(ids(&wrong, "refusal").contains("table-hit"), "{wrong:#}");
}

/// A cut through the blank meets the table unless something lies between.
#[test]
fn everything_below_the_table_is_told() {
    let through = "G21 G17 G90 G94\nT1\nS18000 M3\nG0 Z12\nG0 X60 Y20\nG1 Z6.1 F600\nG1 X80 Z5\nG1 X60 Z3.5\nG1 X80 Z2\n\
        G1 X60 Z0.5\nG1 X80 Z-0.25\nG1 X60\nG1 X80\nG0 Z12\nM5\nM30\n";
    let place = folder(&[("through.nc", through)]);
    let value = json(place.path(), &with(&["through.nc"]), 1);
    let program = &value["survey"]["programs"][0];
    assert_eq!(program["below_table_count"], 4);
    assert_eq!(program["below_table"][0]["line"], 11);
    near(&program["below_table"][0]["height"], -0.25, 1e-9);
    assert_eq!(program["cuts"][0]["height"], Value::Null);
    assert!(ids(&value, "refusal").contains("table-hit"));
    let text = says(place.path(), &with(&["through.nc"]), 1);
    assert!(text.contains("below the table: line 11 (-0.25 mm), line 12 (-0.25 mm)"), "{text}");
    // Zeroed at the face of a blank on a board 1 mm thick, the same text only scratches it.
    let board = json(place.path(), &with(&["--under", "1 mm", "--zero", "face", "through.nc"]), 0);
    assert_eq!(board["survey"]["heights"].to_string(), "[1.0,7.0]");
    near(&board["survey"]["programs"][0]["cutter_use"]["lowest"], 6.75, 1e-9);
    // A skin of 0.75 mm less the board's 1 mm: through the blank, and above the table.
    let raised = through.replace("Z-0.25", "Z0.75");
    fs::write(place.path().join("raised.nc"), raised).unwrap();
    let value = json(place.path(), &with(&["--under", "1 mm", "raised.nc"]), 1);
    assert!(!ids(&value, "refusal").contains("table-hit"), "{value:#}");
    assert_eq!(value["survey"]["programs"][0]["below_table_count"], 0);
}

/// What is wrong on any plate is refused, what the text leaves open is undecided, and neither compares with a plate.
#[test]
fn hazards_are_refused_without_a_plate() {
    let place = folder(&[
        ("rapid.nc", &RING.replace("G1 Z0.2 F300", "G0 Z-1")),
        ("still.nc", &RING.replace("S18000 M3\n", "")),
        ("units.nc", &RING.replace("G21 ", "")),
        ("short.nc", &RING[..RING.len() - 8]),
        ("offset.nc", &RING.replace("G0 Z5\nG0 X20", "G41 D1\nG0 Z5\nG0 X20")),
        ("fast.nc", &RING.replace("F900", "F9000")),
        ("groove.nc", GROOVE),
    ]);
    for (file, verdict, id) in [
        ("rapid.nc", "refused", "rapid-in-material"),
        ("still.nc", "refused", "spindle-off"),
        ("units.nc", "undecided", "undecided-length-unit"),
        ("short.nc", "refused", "program-cut-short"),
        ("offset.nc", "undecided", "undecided-cutter-offset"),
        ("fast.nc", "refused", "chip-too-thick"),
        ("groove.nc", "undecided", "undecided-cutter"),
        ("groove.nc=77", "refused", "cutter-unknown"),
    ] {
        let value = json(place.path(), &with(&["--zero", "face", file]), 1);
        let severity = if verdict == "refused" { "refusal" } else { "caution" };
        assert_eq!(value["verdict"], verdict, "{file}: {value:#}");
        assert!(ids(&value, severity).contains(id), "{file}: {value:#}");
        for comparing in ["gouge", "leftover", "wall-gouge", "margin-cut"] {
            assert!(!ids(&value, "refusal").contains(comparing), "{file}");
        }
    }
}

#[test]
fn pictures_before_and_after_each_program() {
    let place = folder(&[("ring.nc", RING), ("groove.nc", GROOVE)]);
    let words = with(&["--zero", "face", "--out", "seen", "ring.nc", "groove.nc=1"]);
    let value = json(place.path(), &words, 0);
    let wanted =
        ["pictures/1-ring.png", "pictures/2-groove.png", "survey.json", "survey.txt", "loads.csv", "manifest.json"];
    assert_eq!(value["files"], serde_json::json!(wanted));
    let file = |name: &str| fs::read(place.path().join("seen").join(name)).unwrap();
    let first: Vec<Vec<u8>> = wanted[..5].iter().map(|name| file(name)).collect();
    assert!(first[0].starts_with(b"\x89PNG") && first[1].starts_with(b"\x89PNG") && first[0] != first[1]);
    assert_eq!(serde_json::from_slice::<Value>(&first[2]).unwrap(), value["survey"]);
    // The ring is a slot: half a turn engaged, half a millimetre deep, as wide as the cutter (1/8 in).
    let table = String::from_utf8(first[4].clone()).unwrap();
    let slots: Vec<Vec<&str>> =
        table.lines().filter(|l| l.starts_with("ring.nc,8,")).map(|l| l.split(',').collect()).collect();
    assert_eq!(slots.len(), 4, "{table}");
    let number = |text: &str| text.parse::<f64>().unwrap();
    for slot in &slots[1..] {
        let (length, depth, width) = (number(slot[2]), number(slot[4]), number(slot[5]));
        assert!((length - 15.708).abs() < 1e-3 && depth <= 0.51 && width <= 3.176, "{table}");
    }
    // Again, over the first: the same bytes. A folder of the maker's own is never replaced.
    json(place.path(), &words, 0);
    assert!(first.iter().zip(wanted).all(|(bytes, name)| *bytes == file(name)));
    fs::create_dir(place.path().join("mine")).unwrap();
    fs::write(place.path().join("mine/letter.txt"), "x").unwrap();
    let kept = json(place.path(), &with(&["--zero", "face", "--out", "mine", "ring.nc"]), 1);
    assert!(ids(&kept, "refusal").contains("packet-not-placed"));
    assert_eq!(fs::read(place.path().join("mine/letter.txt")).unwrap(), b"x");
    // A fault doesn't keep its pictures away.
    fs::write(place.path().join("still.nc"), RING.replace("S18000 M3\n", "")).unwrap();
    let text = says(place.path(), &with(&["--zero", "face", "--out", "fault", "still.nc"]), 1);
    assert!(
        text.contains("Refused.\n8 files in fault") && place.path().join("fault/pictures/1-still.png").exists(),
        "{text}"
    );
}

/// Each finding names the pictures of its spots, which are there, three of a kind at most; what isn't drawn is told.
#[test]
fn findings_name_the_pictures_of_their_spots() {
    let place = folder(&[]);
    let mut wrong = String::from("G21 G17 G90 G94\nT1\nS18000 M3\nG0 Z12\n");
    for i in 0..5 {
        wrong += &format!("G0 X{} Y20\nG1 Z{} F300\nG0 Z12\n", 12 + 15 * i, 5.0 - 0.5 * f64::from(i));
    }
    fs::write(place.path().join("holes.nc"), wrong + "M5\nM30\n").unwrap();
    let value = json(place.path(), &with(&["holes.nc", "--out", "seen"]), 1);
    let doubts = value["doubts"].as_array().unwrap();
    let plunge = doubts.iter().find(|d| d["id"] == "plunge").unwrap();
    let pictures: Vec<&str> = plunge["pictures"].as_array().unwrap().iter().map(|p| p.as_str().unwrap()).collect();
    assert_eq!(pictures.len(), 3, "{plunge:#}");
    let files: Vec<&str> = value["files"].as_array().unwrap().iter().map(|f| f.as_str().unwrap()).collect();
    let spots: Vec<&str> = files.iter().copied().filter(|f| f.contains("/spot-")).collect();
    let named: Vec<&str> = doubts
        .iter()
        .flat_map(|d| d["pictures"].as_array().cloned().unwrap_or_default())
        .map(|p| files.iter().copied().find(|f| *f == p).unwrap())
        .collect();
    assert!(spots.len() <= 12 && spots.len() == named.len() && pictures.iter().all(|p| spots.contains(p)));
    for name in &spots {
        assert!(fs::read(place.path().join("seen").join(name)).unwrap().starts_with(b"\x89PNG"), "{name}");
    }
    assert!(plunge["likely_cause"].as_str().unwrap().contains("ramp"), "{plunge:#}");
    let text = says(place.path(), &with(&["holes.nc", "--out", "seen"]), 1);
    assert!(text.contains(&format!("  picture: {}\n", pictures[0])) && text.contains("  likely cause: "), "{text}");
    assert_eq!(
        serde_json::from_slice::<Value>(&fs::read(place.path().join("seen/survey.json")).unwrap()).unwrap(),
        value["survey"]
    );
    // Without a folder there is nothing to name.
    let none = json(place.path(), &with(&["holes.nc"]), 1);
    assert!(none["doubts"].as_array().unwrap().iter().all(|d| d["pictures"].is_null()));
}

/// A refused packet writes nothing but, where asked, a report into a folder of its own, and never over a packet.
#[test]
fn a_refused_packet_shows_its_spots() {
    let place = TempDir::new().unwrap();
    says(place.path(), &["new", "badge"], 0);
    let badge = place.path().join("badge");
    says(&badge, &["packet", "plate.toml", "--pitch", "0.05"], 0);
    let manifest = fs::read(badge.join("packet/manifest.json")).unwrap();
    let plate = fs::read_to_string(badge.join("plate.toml")).unwrap().replace("at = [6, 6]", "at = [30, 12]");
    fs::write(badge.join("plate.toml"), plate).unwrap();
    let words = ["packet", "plate.toml", "--pitch", "0.05"];
    let silent = says(&badge, &words, 1);
    assert!(silent.contains("Refused: nothing was written. --refusal DIR writes a picture of every spot."), "{silent}");
    let value = json(&badge, &[&words[..], &["--refusal", "why"]].concat(), 1);
    assert_eq!(value["verdict"], "refused");
    let hit = value["doubts"].as_array().unwrap().iter().find(|d| d["id"] == "hold-hit").unwrap();
    let picture = hit["pictures"][0].as_str().unwrap();
    assert!(badge.join("why").join(picture).exists() && badge.join("why/proof.txt").exists());
    assert!(
        fs::read_dir(badge.join("why")).unwrap().all(|e| !e.unwrap().file_name().to_string_lossy().ends_with(".nc"))
    );
    assert_eq!(
        value["proof"]["findings"],
        value["doubts"].as_array().unwrap().iter().filter(|d| d["id"] == "hold-hit").cloned().collect::<Value>()
    );
    // The packet's own folder is no place for it, whatever way it is asked for.
    for more in [["--refusal", "packet"], ["--refusal", "./packet"]] {
        let refused = run(&badge, &[&words[..], &more].concat());
        assert_ne!(refused.status.code(), Some(0));
        assert_eq!(fs::read(badge.join("packet/manifest.json")).unwrap(), manifest);
    }
    let over = json(&badge, &["prove", "plate.toml", "packet/1-clear.nc", "--pitch", "0.05", "--out", "packet"], 1);
    assert!(ids(&over, "refusal").contains("packet-not-placed"), "{over:#}");
    assert_eq!(fs::read(badge.join("packet/manifest.json")).unwrap(), manifest);
}

/// The pitch is chosen and its reason told; cells and memory are told, and too much is refused with a way out.
#[test]
fn pitch_and_memory_are_told() {
    let place = folder(&[("ring.nc", RING)]);
    let value = json(place.path(), &with(&["--zero", "face", "ring.nc"]), 0);
    near(&value["survey"]["pitch"], 0.02, 1e-12);
    assert!(value["survey"]["pitch_why"].as_str().unwrap().contains("finest cutter"), "{:#}", value["survey"]);
    // 100 x 60 mm at 0.02 mm.
    assert_eq!(value["size"]["cells"], 15_000_000);
    let text = says(place.path(), &with(&["--zero", "face", "ring.nc"]), 0);
    assert!(text.contains("15 million cells of 0.02 mm, in less than "), "{text}");
    let asked = json(place.path(), &with(&["--zero", "face", "ring.nc", "--pitch", "0.05"]), 0);
    near(&asked["survey"]["pitch"], 0.05, 1e-12);
    assert_eq!(asked["survey"]["pitch_why"], "as asked for");
    let much = json(place.path(), &with(&["--zero", "face", "ring.nc", "--memory", "10 MB"]), 1);
    let doubt = &much["doubts"].as_array().unwrap().iter().find(|d| d["id"] == "proof-too-large").unwrap();
    assert!(doubt["way_out"].as_str().unwrap().contains("--memory"), "{doubt:#}");
    assert_eq!((&much["survey"], &much["size"]), (&Value::Null, &Value::Null));
    for words in [["--memory", "much"], ["--pitch", "1"], ["--pitch", "NaN"]] {
        says(place.path(), &with(&[&["ring.nc"][..], &words[..]].concat()), 2);
    }
}

#[test]
fn bad_usage_is_told() {
    let place = folder(&[("ring.nc", RING), ("plate.toml", "")]);
    for (words, said) in [
        (vec!["prove", "--shop", "shop.toml", "ring.nc"], "--blank"),
        (vec!["prove", "--blank", "100 x 60 x 6", "ring.nc"], "--shop"),
        (vec!["prove", "--shop", "shop.toml", "--blank", "100 x 60", "ring.nc"], "isn't two sides and a thickness"),
        (vec!["prove", "--shop", "shop.toml", "--blank", "100 x 60 x 0 mm", "ring.nc"], "no size of a blank"),
        (vec!["prove", "--shop", "none.toml", "--blank", "100 x 60 x 6", "ring.nc"], "none.toml"),
        (with(&["plate.toml", "ring.nc"]), "`plate.toml` is no program"),
        (with(&["--sheet", "granite", "ring.nc"]), "the shop has no sheet `granite`"),
        (with(&["--under", "a board", "ring.nc"]), "`a board`"),
        (with(&["--zero", "moon", "ring.nc"]), "moon"),
        (with(&["away.nc"]), "away.nc"),
        (vec!["prove", "plate.toml"], "there is no program to prove"),
    ] {
        let text = says(place.path(), &words, 2);
        assert!(text.contains(said), "{words:?}: {text}");
    }
}

/// A new plate in `place` with its packet, its plate file changed first; gives the plate's folder and the names of its
/// programs, written beside the plate file with all heights from the face.
fn lowered(place: &Path, change: &dyn Fn(&str) -> String) -> (PathBuf, Vec<String>) {
    says(place, &["new", "badge"], 0);
    let badge = place.join("badge");
    let plate = fs::read_to_string(badge.join("plate.toml")).unwrap();
    fs::write(badge.join("plate.toml"), change(&plate)).unwrap();
    says(place, &["packet", "badge/plate.toml", "--pitch", "0.05"], 0);
    let intent: Value = serde_json::from_slice(&fs::read(badge.join("packet/intent.json")).unwrap()).unwrap();
    let face = intent["intent"]["blank"]["face"].as_f64().or_else(|| intent["blank"]["face"].as_f64()).unwrap();
    let mut names: Vec<String> = fs::read_dir(badge.join("packet"))
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|n| n.ends_with(".nc") && !n.starts_with('0'))
        .collect();
    names.sort();
    for name in &names {
        let text = fs::read_to_string(badge.join("packet").join(name)).unwrap();
        fs::write(badge.join(name), sunk(&text, face)).unwrap();
    }
    (badge, names)
}

/// A program with all its heights lower.
fn sunk(text: &str, by: f64) -> String {
    let word = |word: &str| match word.strip_prefix('Z').map(str::parse::<f64>) {
        Some(Ok(z)) => format!("Z{:.4}", z - by),
        _ => word.to_owned(),
    };
    let line = |l: &str| {
        if l.starts_with('(') { l.to_owned() } else { l.split(' ').map(word).collect::<Vec<_>>().join(" ") }
    };
    text.lines().map(|l| line(l) + "\n").collect()
}

fn given(badge: &Path, names: &[String], more: &[&str], status: i32) -> Value {
    let mut words = vec!["prove", "plate.toml"];
    words.extend(names.iter().map(String::as_str));
    words.extend(["--pitch", "0.05"]);
    words.extend(more);
    json(badge, &words, status)
}

/// A plate's own programs with all heights taken from the face make the plate, zeroed there, but for what ends at the table;
/// said to be zeroed at the table they don't.
#[test]
fn a_plates_programs_zeroed_at_the_face() {
    let place = TempDir::new().unwrap();
    let (badge, names) = lowered(place.path(), &|plate| plate.to_owned());
    let face_zero = given(&badge, &names, &["--zero", "face", "--out", "seen"], 1);
    let open: BTreeSet<String> =
        ids(&face_zero, "caution").into_iter().filter(|id| id.starts_with("undecided-")).collect();
    assert_eq!(open, BTreeSet::from(["undecided-face-zero".to_owned()]), "{face_zero:#}");
    // The blank may be thinner than its label, and then the table is nearer: that is all that is refused.
    assert_eq!(ids(&face_zero, "refusal"), BTreeSet::from(["table-hit".to_owned()]), "{face_zero:#}");
    assert!(ids(&face_zero, "note").contains("zero-at-face"));
    for (i, name) in names.iter().enumerate() {
        let picture = format!("seen/pictures/{}-{}.png", i + 1, name.trim_end_matches(".nc"));
        assert!(badge.join(&picture).exists(), "{picture}");
    }
    let table_zero = given(&badge, &names, &["--zero", "table"], 1);
    assert_eq!(table_zero["verdict"], "refused");
    assert!(ids(&table_zero, "refusal").is_superset(&BTreeSet::from(["table-hit", "gouge"].map(String::from))));
}

/// Where nothing goes through the blank, nothing is open: at the face the plate is proven. Programs zeroed there and lowered by
/// 0.05 mm are refused.
#[test]
fn a_plate_of_pockets_is_proven_at_the_face() {
    let place = TempDir::new().unwrap();
    let pockets = |plate: &str| {
        let (before, rest) = plate.split_once("[[area]]\non = \"holes\"").unwrap();
        before.to_owned() + "\n[[hold]]" + rest.split_once("[[hold]]").unwrap().1
    };
    let (badge, names) = lowered(place.path(), &pockets);
    let proven = given(&badge, &names, &["--zero", "face"], 0);
    assert_eq!(proven["verdict"], "proven");
    let text = fs::read_to_string(badge.join(&names[0])).unwrap();
    fs::write(badge.join(&names[0]), sunk(&text, 0.05)).unwrap();
    let refused = given(&badge, &names, &["--zero", "face"], 1);
    assert!(ids(&refused, "refusal").contains("gouge"), "{refused:#}");
}
