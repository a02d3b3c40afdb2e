//! Bad input through the real binary: a folder per case under `tests/bad-input/`.
//!
//! A case's folder holds `case.toml` and what differs from `tests/bad-input/common/`, which by itself makes a proven
//! packet. Each case runs where an older good packet stands; after a refusal that packet, and everything else in the
//! maker's folder, must be byte for byte as before, with nothing left beside it.

#![expect(clippy::unwrap_used, reason = "a case that cannot be read fails its test")]

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::Mutex;
use tempfile::TempDir;

/// What `case.toml` says.
struct Case {
    name: String,
    folder: PathBuf,
    /// The exit status.
    status: i32,
    /// Ids of all refusals, no more and no fewer; `None` where the command line itself is at fault.
    refusals: Option<BTreeSet<String>>,
    /// Ids of cautions that must be among those given.
    cautions: BTreeSet<String>,
    /// Words that must be printed.
    says: String,
    /// Files of `common` to take away.
    missing: Vec<String>,
    /// The command line; `OUT` stands for the packet's folder.
    arguments: Vec<String>,
    /// What stands where the packet goes: `packet` (an older one), `file`, `photos` or `locked`.
    out: String,
}

fn cases_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad-input")
}

/// Every case, in order of name.
fn cases() -> Vec<Case> {
    let folders = fs::read_dir(cases_folder()).unwrap().map(|e| e.unwrap().path());
    let mut cases: Vec<Case> = folders.filter(|p| p.join("case.toml").exists()).map(|p| read_case(&p)).collect();
    cases.sort_by(|a, b| a.name.cmp(&b.name));
    cases
}

fn read_case(folder: &Path) -> Case {
    let name = folder.file_name().unwrap().to_string_lossy().into_owned();
    let table: toml::Table = fs::read_to_string(folder.join("case.toml")).unwrap().parse().unwrap();
    let known = ["status", "refusals", "cautions", "says", "missing", "arguments", "out"];
    assert!(table.keys().all(|k| known.contains(&k.as_str())), "{name}: a key of case.toml is not known");
    let text = |key: &str| table.get(key).map(|v| v.as_str().unwrap().to_owned());
    let texts = |key: &str| -> Option<Vec<String>> {
        let list = table.get(key)?.as_array().unwrap();
        Some(list.iter().map(|v| v.as_str().unwrap().to_owned()).collect())
    };
    let plain = || ["packet", "plate.toml", "--out", "OUT"].map(str::to_owned).to_vec();
    Case {
        status: i32::try_from(table["status"].as_integer().unwrap()).unwrap(),
        refusals: texts("refusals").map(BTreeSet::from_iter),
        cautions: texts("cautions").unwrap_or_default().into_iter().collect(),
        says: text("says").unwrap(),
        missing: texts("missing").unwrap_or_default(),
        arguments: texts("arguments").unwrap_or_else(plain),
        out: text("out").unwrap_or_else(|| "packet".into()),
        folder: folder.to_owned(),
        name,
    }
}

/// Runs the program in a folder.
fn run(folder: &Path, arguments: &[String]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_platewright")).args(arguments).current_dir(folder).output().unwrap()
}

/// Copies a folder's content over another's; a folder takes the place of a file of its name and the other way round.
fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap().map(Result::unwrap) {
        let target = to.join(entry.file_name());
        if target.is_file() {
            fs::remove_file(&target).unwrap();
        }
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// Every file below a folder with its bytes, every folder with none.
fn contents(folder: &Path) -> BTreeMap<PathBuf, Option<Vec<u8>>> {
    fn walk(at: &Path, root: &Path, found: &mut BTreeMap<PathBuf, Option<Vec<u8>>>) {
        for entry in fs::read_dir(at).unwrap().map(Result::unwrap) {
            let path = entry.path();
            let name = path.strip_prefix(root).unwrap().to_owned();
            if entry.file_type().unwrap().is_dir() {
                found.insert(name, None);
                walk(&path, root, found);
            } else {
                found.insert(name, Some(fs::read(&path).unwrap()));
            }
        }
    }
    let mut found = BTreeMap::new();
    walk(folder, folder, &mut found);
    found
}

/// A packet made of `common` by the program itself.
fn older_packet() -> TempDir {
    let place = TempDir::new().unwrap();
    copy(&cases_folder().join("common"), place.path());
    let made = run(place.path(), &["packet", "plate.toml", "--out", "packet", "--pitch", "0.05"].map(str::to_owned));
    assert_eq!(made.status.code(), Some(0), "what the cases start from is good: {}", printed(&made));
    assert!(place.path().join("packet/manifest.json").exists());
    place
}

fn printed(output: &Output) -> String {
    format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr))
}

/// Runs a case and says what is not as it should be.
fn check(case: &Case, older: &Path) -> Vec<String> {
    let place = TempDir::new().unwrap();
    let here = place.path();
    copy(&cases_folder().join("common"), here);
    copy(&case.folder, here);
    fs::remove_file(here.join("case.toml")).unwrap();
    case.missing.iter().for_each(|file| fs::remove_file(here.join(file)).unwrap());
    let out = here.join("packet");
    let mut lock = None;
    match case.out.as_str() {
        "file" => fs::write(&out, "a shopping list\n").unwrap(),
        "photos" => {
            fs::create_dir(&out).unwrap();
            fs::write(out.join("holiday-1.jpg"), [0xff, 0xd8, 0xff, 0xe0]).unwrap();
            fs::write(out.join("manifest.json"), "{ \"album\": \"holidays\" }\n").unwrap();
        }
        "locked" => {
            copy(older, &out);
            let file = fs::File::create(here.join(".packet.lock")).unwrap();
            file.lock().unwrap();
            lock = Some(file);
        }
        "packet" => copy(older, &out),
        other => return vec![format!("`{other}` can't stand where the packet goes")],
    }
    let before = contents(here);
    let mut arguments: Vec<String> = case.arguments.iter().map(|a| a.replace("OUT", "packet")).collect();
    let mut wrong = Vec::new();
    if case.status == 0 {
        arguments.extend(["--pitch".to_owned(), "0.05".to_owned()]);
    }
    let text = run(here, &arguments);
    check_text(case, &text, &mut wrong);
    if case.status == 0 {
        check_written(here, &before, &mut wrong);
    } else if contents(here) != before {
        wrong.push("the maker's folder is not as it was".into());
    }
    arguments.push("--json".into());
    check_json(case, &run(here, &arguments), &mut wrong);
    if case.status != 0 && contents(here) != before {
        wrong.push("with --json the maker's folder is not as it was".into());
    }
    drop(lock);
    wrong
}

/// What the maker reads.
fn check_text(case: &Case, output: &Output, wrong: &mut Vec<String>) {
    let words = printed(output);
    if output.status.code() != Some(case.status) {
        wrong.push(format!("exit status {:?}, not {}", output.status.code(), case.status));
    }
    if !words.contains(&case.says) {
        wrong.push(format!("`{}` is not said", case.says));
    }
    if words.contains("panicked") {
        wrong.push("it panicked".into());
    }
    for id in case.refusals.iter().flatten() {
        if !words.contains(&format!("refused[{id}]")) {
            wrong.push(format!("refused[{id}] is not printed"));
        }
    }
    if case.status != 0 && case.refusals.is_some() && !words.contains("what to do: ") {
        wrong.push("no way out is printed".into());
    }
    if !wrong.is_empty() {
        wrong.push(words);
    }
}

/// What another program reads: the same, with a place and a way out for every refusal.
fn check_json(case: &Case, output: &Output, wrong: &mut Vec<String>) {
    if output.status.code() != Some(case.status) {
        wrong.push(format!("with --json exit status {:?}, not {}", output.status.code(), case.status));
    }
    let Ok(json) = serde_json::from_slice::<Value>(&output.stdout) else {
        wrong.push(format!("--json prints no JSON: {}", printed(output)));
        return;
    };
    if json["status"] != case.status {
        wrong.push(format!("`status` is {}", json["status"]));
    }
    let Some(refusals) = &case.refusals else {
        if json["error"].as_str().is_none_or(|e| !e.contains(&case.says))
            || json["way_out"].as_str().is_none_or(str::is_empty)
        {
            wrong.push(format!("no error with a way out: {json}"));
        }
        return;
    };
    let of = |severity: &str| -> Vec<&Value> {
        json["doubts"].as_array().into_iter().flatten().filter(|d| d["severity"] == severity).collect()
    };
    let ids = |doubts: &[&Value]| -> BTreeSet<String> {
        doubts.iter().map(|d| d["id"].as_str().unwrap().to_owned()).collect()
    };
    if ids(&of("refusal")) != *refusals {
        wrong.push(format!("refused for {:?}, not {refusals:?}", ids(&of("refusal"))));
    }
    if !case.cautions.is_subset(&ids(&of("caution"))) {
        wrong.push(format!("cautions {:?}, not {:?}", ids(&of("caution")), case.cautions));
    }
    for doubt in of("refusal") {
        let placed = doubt["places"].as_array().is_some_and(|places| !places.is_empty() && places.iter().all(is_place));
        if !placed {
            wrong.push(format!("no place: {doubt}"));
        }
        if doubt["way_out"].as_str().is_none_or(str::is_empty) {
            wrong.push(format!("no way out: {doubt}"));
        }
    }
}

/// A file, with line and column from 1 unless the whole is meant; or x and y.
fn is_place(place: &Value) -> bool {
    let file = place["file"].as_str().is_some_and(|f| !f.is_empty());
    let line = place["line"].as_u64();
    let at = ["x", "y"].iter().all(|k| place[k].as_f64().is_some_and(f64::is_finite));
    match place["in"].as_str() {
        Some("file") => file && (line == Some(0)) == (place["column"].as_u64() == Some(0)),
        Some("program") => file && line.is_some_and(|l| l > 0),
        Some("drawing") => file && at,
        Some("blank") => at,
        _ => false,
    }
}

/// A packet that was let through is a new one, whole, and alone.
fn check_written(here: &Path, before: &BTreeMap<PathBuf, Option<Vec<u8>>>, wrong: &mut Vec<String>) {
    let after = contents(here);
    let outside = |all: &BTreeMap<PathBuf, Option<Vec<u8>>>| -> Vec<PathBuf> {
        all.keys().filter(|p| !p.starts_with("packet")).cloned().collect()
    };
    if outside(&after) != outside(before) {
        wrong.push("something was left beside the packet".into());
    }
    let manifest = Path::new("packet/manifest.json");
    if after.get(manifest) == before.get(manifest) {
        wrong.push("the packet is still the older one".into());
    }
    let listed: Value = serde_json::from_slice(after[manifest].as_ref().unwrap()).unwrap();
    let listed: BTreeSet<PathBuf> = listed["outputs"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| Path::new("packet").join(f["file"].as_str().unwrap()))
        .collect();
    let there = after.iter().filter(|(p, bytes)| bytes.is_some() && p.starts_with("packet") && *p != manifest);
    if listed != there.map(|(p, _)| p.clone()).collect() {
        wrong.push("the packet is not what its manifest lists".into());
    }
}

#[test]
fn every_case_is_answered_as_expected() {
    let older = older_packet();
    let older = older.path().join("packet");
    let all = cases();
    let next = Mutex::new(all.iter());
    let report = Mutex::new(BTreeMap::new());
    // Two at a time: most of a case is starting programs and waiting for the disk.
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let Some(case) = next.lock().unwrap().next() else { break };
                    let wrong = check(case, &older);
                    report.lock().unwrap().insert(case.name.clone(), wrong);
                }
            });
        }
    });
    let report = report.into_inner().unwrap();
    assert_eq!(report.len(), all.len(), "every case has run");
    let wrong = report.iter().filter(|(_, wrong)| !wrong.is_empty()).fold(String::new(), |mut text, (name, wrong)| {
        let _ = writeln!(text, "--- {name}\n{}", wrong.join("\n"));
        text
    });
    assert!(wrong.is_empty(), "{wrong}");
    let refused = all.iter().filter(|c| c.status != 0).count();
    assert!(refused >= 40, "only {refused} bad cases");
}
