//! `new DIR`: a plate to start from.

use super::show;
use crate::terminal::{DONE, say, say_json};
use serde_json::json;
use std::path::Path;

const FILES: [(&str, &str); 3] = [
    ("plate.toml", include_str!("../../demo/new/plate.toml")),
    ("drawing.svg", include_str!("../../demo/new/drawing.svg")),
    ("shop.toml", intake::STARTER_SHOP),
];

pub(crate) fn run(dir: &Path, json: bool) -> u8 {
    if let Err(words) = show::write_new(dir, &FILES) {
        return show::refused("new", &words, "choose another folder, one that is new or may be written", json);
    }
    if json {
        let files: Vec<&str> = FILES.iter().map(|f| f.0).collect();
        say_json(&json!({ "command": "new", "status": DONE, "folder": dir.display().to_string(), "files": files }));
    } else {
        let plate = dir.join("plate.toml");
        say(&format!(
            "{} holds a plate file, a drawing and a shop file. Change them, then run\n  platewright packet {}",
            dir.display(),
            plate.display()
        ));
    }
    DONE
}
