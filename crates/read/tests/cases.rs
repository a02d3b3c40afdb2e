//! Programs under `tests/cases/`, each with what is read from it beside it in a `.txt` of the same name: moves, doubts,
//! and what the text states. With `UPDATE_CASES=1` in the environment the expected texts are written anew, to be read
//! by a person before they are committed.
//!
//! A file may hold several programs: a line `== name` begins the next one. Under `tests/samples/` each file is one program,
//! byte by byte, in the ways that small controllers and what feeds them write.

#![expect(clippy::unwrap_used, reason = "a case that cannot be read fails its test")]

use doubt::{Place, Severity};
use read::{Move, Plane, Program, Shape, Spindle, read};
use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::{Path, PathBuf};

fn cases() -> Vec<PathBuf> {
    files("tests/cases")
}

fn files(folder: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    files.retain(|f| f.extension().is_some_and(|e| e == "nc"));
    files.sort();
    files
}

/// The programs of a file with their names.
fn programs(bytes: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut found: Vec<(String, Vec<u8>)> = Vec::new();
    for line in bytes.split_inclusive(|b| *b == b'\n') {
        match line.strip_prefix(b"== ") {
            Some(name) => found.push((String::from_utf8_lossy(name).trim().to_owned(), Vec::new())),
            None => found.last_mut().unwrap().1.extend_from_slice(line),
        }
    }
    found
}

/// A number to 0.1 µm or the like.
fn number(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

fn place(at: [Option<f64>; 3]) -> String {
    at.map(|v| v.map_or("?".into(), number)).join(" ")
}

fn shown_move(m: &Move) -> String {
    let mut text = format!("  {:>3}: {} -> {}  ", m.line, place(m.from), place(m.to));
    let _ = match m.shape {
        Shape::Rapid => write!(text, "rapid"),
        Shape::Line => write!(text, "line"),
        Shape::Arc { plane, centre, radius, sweep } => {
            let plane = match plane {
                Plane::Xy => "xy",
                Plane::Zx => "zx",
                Plane::Yz => "yz",
            };
            let [a, b] = centre.map(number);
            write!(text, "arc {plane} about {a} {b} radius {} sweep {}°", number(radius), number(sweep.to_degrees()))
        }
        Shape::Dwell { seconds } => write!(text, "dwell {} s", number(seconds)),
    };
    if let Some(feed) = m.feed {
        let _ = write!(text, " feed {}", number(feed));
    }
    let speed = |s: Option<f64>| s.map_or("?".into(), number);
    let _ = match m.spindle {
        Spindle::Still => Ok(()),
        Spindle::Clockwise(s) => write!(text, " cw {}", speed(s)),
        Spindle::CounterClockwise(s) => write!(text, " ccw {}", speed(s)),
    };
    if let Some(cutter) = m.cutter {
        let _ = write!(text, " T{cutter}");
    }
    text
}

fn shown(name: &str, program: &Program) -> String {
    let mut text = format!("== {name}\n");
    for m in program.moves.iter() {
        let _ = writeln!(text, "{}", shown_move(&m));
    }
    let s = program.stated;
    let missing = [(s.units, "units"), (s.plane, "plane"), (s.distance_mode, "distance mode"), (s.end, "end")];
    let missing: Vec<&str> = missing.iter().filter(|m| !m.0).map(|m| m.1).collect();
    if !missing.is_empty() {
        let _ = writeln!(text, "  not stated: {}", missing.join(", "));
    }
    for (cutter, line) in &program.cutters {
        let _ = writeln!(text, "  cutter {cutter} in line {line}");
    }
    for (line, speed) in &program.dial_notes {
        let _ = writeln!(text, "  dial note {} rev/min in line {line}", number(*speed));
    }
    for doubt in &program.doubts {
        let weight = match doubt.severity {
            Severity::Refusal => "refused",
            Severity::Caution => "look",
            Severity::Note => "note",
        };
        let at = doubt.places.iter().find_map(|p| match p {
            Place::File { line, column, span, .. } => Some((*line, *column, span.len())),
            _ => None,
        });
        let (line, column, length) = at.unwrap();
        let _ = writeln!(text, "  {weight} {} at {line}:{column}+{length}: {}", doubt.id, doubt.message);
        for note in &doubt.notes {
            let _ = writeln!(text, "    {note}");
        }
        let _ = writeln!(text, "    do: {}", doubt.way_out.as_ref().unwrap());
    }
    text
}

#[test]
fn cases_read_as_expected() {
    let mut wrong = String::new();
    for file in cases().into_iter().chain(files("tests/samples")) {
        let mut got = String::new();
        let bytes = std::fs::read(&file).unwrap();
        let stem = file.file_stem().unwrap().to_string_lossy().into_owned();
        let whole = file.parent().is_some_and(|p| p.ends_with("samples"));
        let found = if whole { vec![(stem, bytes)] } else { programs(&bytes) };
        for (name, bytes) in found {
            got.push_str(&shown(&name, &read("case.nc", &bytes)));
        }
        let beside = file.with_extension("txt");
        if std::env::var_os("UPDATE_CASES").is_some() {
            std::fs::write(&beside, &got).unwrap();
        }
        let wanted = std::fs::read_to_string(&beside).unwrap_or_default();
        if got != wanted {
            let _ = writeln!(wrong, "{}\n--- expected\n{wanted}--- got\n{got}", file.display());
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// A program in `refused.nc` and `undecided.nc` is named after the kind it raises, and raises no other refusal.
#[test]
fn each_fault_is_refused_alone() {
    for file in cases() {
        let part = file.file_stem().unwrap().to_string_lossy().into_owned();
        if part != "refused" && part != "undecided" {
            continue;
        }
        for (name, bytes) in programs(&std::fs::read(&file).unwrap()) {
            let program = read("case.nc", &bytes);
            let id = name.split(' ').next().unwrap();
            let weighty: Vec<_> = program.doubts.iter().filter(|d| d.severity != Severity::Note).collect();
            assert_eq!(weighty.iter().map(|d| d.id).collect::<Vec<_>>(), [id], "{part}: {name}");
            assert_eq!(program.doubts.iter().any(|d| d.blocks()), part == "refused", "{part}: {name}");
        }
    }
}

/// Every kind comes up in a case, and says where and what to do.
#[test]
fn every_kind_has_a_case() {
    let mut seen = BTreeSet::new();
    for file in cases() {
        for (name, bytes) in programs(&std::fs::read(&file).unwrap()) {
            for doubt in read("case.nc", &bytes).doubts {
                assert!(!doubt.places.is_empty() && doubt.way_out.is_some(), "{name}: {}", doubt.message);
                assert_eq!(
                    doubt.id.starts_with("undecided-"),
                    doubt.severity == Severity::Caution
                        && !["feed-before-units", "corners-blended"].contains(&doubt.id)
                );
                seen.insert(doubt.id);
            }
        }
    }
    // These need a long text; `properties.rs` raises them.
    seen.extend(["doubts-cut", "undecided-dial-notes"]);
    let kinds: BTreeSet<_> = read::KINDS.iter().map(|k| k.id).collect();
    assert_eq!(kinds.difference(&seen).collect::<Vec<_>>(), Vec::<&&str>::new());
    assert_eq!(read::KINDS.len(), kinds.len());
}
