//! `prove PLATE PROGRAM…`: programs from anywhere.

use super::{packet, show};
use crate::terminal::Stop;
use std::path::Path;

pub(crate) fn run(plate: &Path, programs: &[String], pitch: f64, json: bool, stop: &Stop) -> u8 {
    let Some(settings) = packet::settings(pitch) else {
        return show::refused("prove", packet::PITCH_RANGE, packet::PITCH_WAY_OUT, json);
    };
    let mut read = Vec::new();
    for named in programs {
        let (file, cutter) = match split(named) {
            Ok(split) => split,
            Err(words) => {
                let way_out = "write FILE=NUMBER with a cutter's number of the shop file, such as `1-clear.nc=1`";
                return show::refused("prove", &words, way_out, json);
            }
        };
        match std::fs::read(file) {
            Ok(bytes) => {
                let name =
                    Path::new(file).file_name().map_or_else(|| file.to_owned(), |n| n.to_string_lossy().into_owned());
                read.push((name, bytes, cutter));
            }
            Err(e) => {
                let words = format!("the program `{file}` can't be read: {e}");
                return show::refused("prove", &words, "check its name and that it may be read", json);
            }
        }
    }
    stop.doing("proving");
    let outcome = ::packet::prove(plate, &read, &settings, stop);
    stop.finish();
    show::outcome("prove", &outcome, json)
}

/// `FILE=NUMBER` or `FILE`; a file whose own name has a `=` is taken as it is.
fn split(named: &str) -> Result<(&str, Option<u32>), String> {
    if Path::new(named).exists() {
        return Ok((named, None));
    }
    match named.rsplit_once('=') {
        None => Ok((named, None)),
        Some((file, number)) => match number.trim().parse() {
            Ok(number) => Ok((file, Some(number))),
            Err(_) => Err(format!("`{number}` behind `{file}=` is not a cutter's number")),
        },
    }
}
