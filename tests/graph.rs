//! The real crate graph against ARCHITECTURE.md's arrow table, and the nevers that the proof stands on.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

type Graph = BTreeMap<String, BTreeSet<String>>;

/// Direct uses between the workspace's crates, dev-dependencies included.
fn real() -> (Graph, Value) {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--no-deps", "--offline"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    let metadata: Value = serde_json::from_slice(&output.stdout).unwrap();
    let packages = metadata["packages"].as_array().unwrap().clone();
    let names: BTreeSet<&str> = packages.iter().map(|p| p["name"].as_str().unwrap()).collect();
    let uses = |p: &Value| {
        let all = p["dependencies"].as_array().unwrap().iter().map(|d| d["name"].as_str().unwrap());
        all.filter(|n| names.contains(n)).map(String::from).collect()
    };
    (packages.iter().map(|p| (p["name"].as_str().unwrap().to_owned(), uses(p))).collect(), metadata)
}

/// The table in ARCHITECTURE.md.
fn table() -> Graph {
    let text = include_str!("../ARCHITECTURE.md");
    let rows = text.split("## Arrow table").nth(1).unwrap().lines().filter(|l| l.starts_with("| ")).skip(1);
    rows.filter(|l| !l.starts_with("| ---"))
        .map(|l| {
            let cells: Vec<&str> = l.trim_matches('|').split('|').map(str::trim).collect();
            let may = cells[1].split(',').map(str::trim).filter(|n| !n.is_empty()).map(String::from).collect();
            (cells[0].to_owned(), may)
        })
        .collect()
}

fn reachable(graph: &Graph, from: &str) -> BTreeSet<String> {
    let (mut found, mut waiting) = (BTreeSet::new(), vec![from.to_owned()]);
    while let Some(name) = waiting.pop() {
        for used in graph.get(&name).into_iter().flatten() {
            if found.insert(used.clone()) {
                waiting.push(used.clone());
            }
        }
    }
    found
}

#[test]
fn every_arrow_is_in_the_table() {
    let ((real, _), table) = (real(), table());
    assert_eq!(real.keys().collect::<Vec<_>>(), table.keys().collect::<Vec<_>>(), "a crate is missing on one side");
    for name in real.keys() {
        let extra: Vec<_> = reachable(&real, name).difference(&table[name]).cloned().collect();
        assert!(extra.is_empty(), "{name} reaches {extra:?}, which ARCHITECTURE.md does not allow");
    }
}

#[test]
fn the_prover_never_reaches_the_planner() {
    let (real, metadata) = real();
    for prover in ["proof", "read"] {
        let reached = reachable(&real, prover);
        for planner in ["plan", "reach", "motion", "write"] {
            assert!(!reached.contains(planner), "{prover} reaches {planner}");
        }
        let package = metadata["packages"].as_array().unwrap().iter().find(|p| p["name"] == prover).unwrap();
        for used in package["dependencies"].as_array().unwrap() {
            let name = used["name"].as_str().unwrap();
            assert!(
                !["clipper2-rust", "i_overlay", "geo", "cavalier_contours"].contains(&name),
                "{prover} uses {name}"
            );
        }
    }
    let planner = reachable(&real, "plan");
    assert!(!planner.contains("proof") && !planner.contains("read"));
}

/// Tidy: every source file says what it is, and none outgrows the head.
#[test]
fn every_source_file_begins_with_its_doc_and_stays_small() {
    let mut waiting = vec![std::path::PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("crates")];
    waiting.push(std::path::PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("src"));
    let mut seen = 0;
    while let Some(folder) = waiting.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                waiting.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let text = std::fs::read_to_string(&path).unwrap();
                assert!(text.starts_with("//!"), "{} has no doc at its top", path.display());
                assert!(text.lines().count() <= 1000, "{} is over 1,000 lines", path.display());
                seen += 1;
            }
        }
    }
    assert!(seen > 50, "only {seen} files were looked at");
}
