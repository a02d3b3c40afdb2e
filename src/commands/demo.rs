//! `demo [DIR]`: the bundled plate, whole packet in a folder.

use super::{packet, show};
use crate::terminal::Stop;
use ::packet::Effort;
use std::path::Path;

/// The demo's files; the DXF is the same plate once more.
const FILES: [(&str, &str); 4] = [
    ("plate.toml", include_str!("../../demo/plate.toml")),
    ("door-plate.svg", include_str!("../../demo/door-plate.svg")),
    ("door-plate.dxf", include_str!("../../demo/door-plate.dxf")),
    ("shop.toml", intake::STARTER_SHOP),
];

pub(crate) fn run(dir: &Path, json: bool, stop: &Stop) -> u8 {
    if let Err(words) = show::write_new(dir, &FILES) {
        return show::refused("demo", &words, "choose another folder, one that is new or may be written", json);
    }
    let outcome = packet::make(&dir.join("plate.toml"), &dir.join("packet"), None, &Effort::default(), stop);
    show::outcome("demo", &outcome, json)
}
