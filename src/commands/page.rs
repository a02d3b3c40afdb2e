//! `page PLATE`: the bench page, served on this computer until Ctrl-C.

use super::packet::today;
use super::show;
use crate::terminal::{DONE, Stop, say, say_json};
use ::page::{Addresses, Lan, NotServed, Told, What, Wish, network_address, serve};
use proof::Watch;
use serde_json::json;
use std::net::IpAddr;
use std::path::Path;
use std::process::{Command, Stdio};

/// What is wished of the page on the command line.
pub(crate) struct Words<'a> {
    /// The plate file or a folder.
    pub(crate) plate: &'a Path,
    /// The port; 0 for a free one.
    pub(crate) port: u16,
    /// Whether the browser is started.
    pub(crate) browser: bool,
    /// Whether a tablet on the local network may come in, and at which address if it is said.
    pub(crate) lan: Option<Option<IpAddr>>,
}

pub(crate) fn run(words: &Words, json: bool, stop: &Stop) -> u8 {
    let plate = words.plate;
    let what = if plate.is_dir() { What::Folder(plate) } else { What::Plate(plate) };
    let addresses = match words.lan {
        None => Vec::new(),
        Some(at) => match at.or_else(network_address) {
            Some(address) => vec![address],
            None => {
                let way_out = "say the address: --lan=192.168.1.20, say";
                return show::refused("page", "this computer has no private address on a network", way_out, json);
            }
        },
    };
    let tell = |told: &Told| tablet(told, json);
    let lan = (!addresses.is_empty()).then_some(Lan { addresses: &addresses, tell: &tell });
    let wish = Wish { what, port: words.port, date: today, lan };
    let mut ready = |addresses: &Addresses| {
        if json {
            say_json(&json!({
                "command": "page", "status": DONE, "address": addresses.printed, "network": addresses.lan.join(" "),
            }));
        } else {
            say(&format!(
                "The bench page of {}, on this computer{}:\n  {}\nCtrl-C ends it.",
                if plate == Path::new(".") { "this folder".to_owned() } else { plate.display().to_string() },
                if addresses.lan.is_empty() { " alone" } else { "" },
                addresses.printed
            ));
            if !addresses.lan.is_empty() {
                say(&format!(
                    "The page at the machine, for a tablet on the same network:\n  {}\n\
                     It is plain HTTP: anyone on that network could listen in. Use a network you trust.",
                    addresses.lan.join("\n  ")
                ));
            }
        }
        if words.browser {
            open(&addresses.once);
        }
    };
    match serve(&wish, &mut ready, &|| stop.stopped()) {
        Ok(()) => DONE,
        Err(error) => {
            let way_out = match error {
                NotServed::NoPlate(..) => "check its name and folder",
                NotServed::NoPort(..) => "leave --port out to have a free one chosen",
                NotServed::NoAddress(..) => "say an address of this computer: --lan=192.168.1.20, say",
                NotServed::NotOnePlate => "name the plate file: platewright page PLATE --lan",
                NotServed::System(_) => "free memory or end other programs",
            };
            show::refused("page", &error.to_string(), way_out, json)
        }
    }
}

/// What the terminal says of tablets.
fn tablet(told: &Told, json: bool) {
    let (kind, code) = match told {
        Told::Code(code) => ("code", code.as_str()),
        Told::LetIn => ("let-in", ""),
        Told::Closed => ("closed", ""),
    };
    if json {
        return say_json(&json!({ "command": "page", "tablet": kind, "code": code }));
    }
    match told {
        Told::Code(code) => {
            say(&format!("Code for a tablet: {} {}  (good once, for ten minutes)", &code[..3], &code[3..]));
        }
        Told::LetIn => say("A tablet was let in to the page at the machine. If it isn't yours, end this with Ctrl-C."),
        Told::Closed => {
            say("Too many wrong codes came from the network: no tablet is let in any more until this is started again.")
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
