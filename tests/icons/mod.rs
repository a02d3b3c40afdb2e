//! The solid icons of `icondata_hi` (MIT, no brand marks), taken from the crate's source, since it offers no list of
//! them.

use serde_json::Value;
use std::process::Command;

/// Name, view box and markup of each.
pub(crate) fn icons() -> Vec<(String, String, String)> {
    // Crates of other platforms aren't on this machine.
    let version = Command::new("rustc").arg("-vV").output().unwrap();
    let version = String::from_utf8(version.stdout).unwrap();
    let host = version.lines().find_map(|l| l.strip_prefix("host: ")).unwrap();
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--offline", "--filter-platform", host])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    let metadata: Value = serde_json::from_slice(&output.stdout).unwrap();
    let package = metadata["packages"].as_array().unwrap().iter().find(|p| p["name"] == "icondata_hi").unwrap();
    let source = package["targets"][0]["src_path"].as_str().unwrap();
    let text = std::fs::read_to_string(source).unwrap();
    let blocks = text.split("pub static ").skip(1);
    blocks
        .filter_map(|b| {
            let name = b.split(':').next()?.to_owned();
            let view = b.split("view_box: Some(\"").nth(1)?.split('"').next()?.to_owned();
            let data = b.split("data: r###\"").nth(1)?.split("\"###").next()?.to_owned();
            name.contains("SolidLg").then_some((name, view, data))
        })
        .collect()
}
