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

/// An icon as a group named `icon`, scaled so that its longer side is `size` mm, its middle `middle` mm from the left and the
/// top of the page.
pub(crate) fn placed(view: &str, data: &str, size: f64, middle: f64) -> String {
    let probe = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"24mm\" height=\"24mm\" viewBox=\"{view}\"><g id=\"icon\">{data}</g></svg>"
    );
    let read = drawing::read("icon.svg", probe.as_bytes(), &drawing::ReadOptions::default());
    let (region, _) = read.region("icon");
    let b = region.bounds();
    let scale = size / b.width().max(b.height());
    // The probe's page is 24 mm high with y up.
    let at = b.centre();
    let (dx, dy) = (middle - at.x * scale, middle - (24.0 - at.y) * scale);
    format!("<g id=\"icon\" transform=\"translate({dx} {dy}) scale({scale})\">{data}</g>")
}
