//! `page PLATE`: the bench page, served on this computer until Ctrl-C.

use super::packet::today;
use super::show;
use crate::terminal::{DONE, Stop, say, say_json};
use ::page::{Addresses, What, Wish, serve};
use proof::Watch;
use serde_json::json;
use std::path::Path;
use std::process::{Command, Stdio};

pub(crate) fn run(plate: &Path, port: u16, browser: bool, json: bool, stop: &Stop) -> u8 {
    let what = if plate.is_dir() { What::Folder(plate) } else { What::Plate(plate) };
    let wish = Wish { what, port, date: today };
    let mut ready = |addresses: &Addresses| {
        if json {
            say_json(&json!({ "command": "page", "status": DONE, "address": addresses.printed }));
        } else {
            say(&format!(
                "The bench page of {}, on this computer alone:\n  {}\nCtrl-C ends it.",
                if plate == Path::new(".") { "this folder".to_owned() } else { plate.display().to_string() },
                addresses.printed
            ));
        }
        if browser {
            open(&addresses.once);
        }
    };
    match serve(&wish, &mut ready, &|| stop.stopped()) {
        Ok(()) => DONE,
        Err(error) => {
            let way_out = match error {
                ::page::NotServed::NoPlate(..) => "check its name and folder",
                ::page::NotServed::NoPort(..) => "leave --port out to have a free one chosen",
                ::page::NotServed::System(_) => "free memory or end other programs",
            };
            show::refused("page", &error.to_string(), way_out, json)
        }
    }
}

/// Starts the maker's browser. Where there is none the printed address is enough.
fn open(address: &str) {
    let words: &[&str] = if cfg!(target_os = "macos") {
        &["open"]
    } else if cfg!(target_os = "windows") {
        &["rundll32", "url.dll,FileProtocolHandler"]
    } else {
        &["xdg-open"]
    };
    let Some((program, words)) = words.split_first() else { return };
    let started = Command::new(program)
        .args(words)
        .arg(address)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn();
    if let Ok(mut browser) = started {
        // Waited for, so that nothing dead stays in the list of processes; the thread ends with the program.
        std::thread::spawn(move || {
            let _ = browser.wait();
        });
    }
}
