//! `prove PLATE PROGRAM…` and `prove --shop FILE --blank SIZE PROGRAM…`: programs from anywhere.

use super::packet::Wrong;
use super::{packet, show};
use crate::terminal::{DONE, REFUSED, STOPPED, Stop, say, say_json};
use ::packet::Effort;
use ::packet::elsewhere::{self, Foreign, NamedBlank, Out, Surveyed};
use ::packet::folder::RealDisk;
use proof::{Verdict, Zero};
use quantity::{Length, Unit};
use serde_json::json;
use std::path::{Path, PathBuf};

/// The most that may lie under a blank, mm.
const THICKEST_UNDER: f64 = 200.0;

/// A blank that no plate file describes.
pub(crate) struct Described {
    pub(crate) shop: Option<PathBuf>,
    pub(crate) blank: Option<String>,
    pub(crate) under: Option<String>,
    pub(crate) sheet: Option<String>,
}

pub(crate) fn run(
    files: &[String],
    zero: Zero,
    blank: Described,
    out: Option<&Path>,
    effort: Result<Effort, Wrong>,
    json: bool,
    stop: &Stop,
) -> u8 {
    let refused = |words: &str, way_out: &str| show::refused("prove", words, way_out, json);
    let effort = match effort {
        Ok(effort) => effort,
        Err((words, way_out)) => return refused(&words, way_out),
    };
    let date = packet::today();
    let out = out.map(|folder| Out { folder, disk: &RealDisk, date: &date });
    let shop = blank.shop.clone();
    if let Some(shop) = shop {
        let named = match named_blank(blank) {
            Ok(named) => named,
            Err((words, way_out)) => return refused(&words, way_out),
        };
        if let Some(plate) = files.iter().find(|f| f.to_lowercase().ends_with(".toml")) {
            let words = format!("`{plate}` is no program; with --shop and --blank there is no plate file");
            return refused(&words, "leave it out, or leave --shop and --blank out");
        }
        let programs = match read(files) {
            Ok(programs) => programs,
            Err((words, way_out)) => return refused(&words, way_out),
        };
        return survey(&shop, &named, programs, zero, &effort, out.as_ref(), json, stop);
    }
    let Some((plate, programs)) = files.split_first().filter(|(_, programs)| !programs.is_empty()) else {
        let way_out = "name the plate file and then the programs, or describe the blank with --shop and --blank";
        return refused("there is no program to prove", way_out);
    };
    let programs = match read(programs) {
        Ok(programs) => programs,
        Err((words, way_out)) => return refused(&words, way_out),
    };
    stop.doing("proving");
    let outcome = elsewhere::prove(Path::new(plate), programs, zero, &effort, out.as_ref(), stop);
    stop.finish();
    show::outcome("prove", &outcome, json)
}

fn named_blank(blank: Described) -> Result<NamedBlank, Wrong> {
    const WAY_OUT: &str = "write sides and thickness such as --blank \"100 x 60 x 6 mm\"";
    let [x, y, thickness] =
        NamedBlank::parse(blank.blank.as_deref().unwrap_or("")).map_err(|words| (words, WAY_OUT))?;
    let under = match &blank.under {
        None => Length::ZERO,
        Some(text) => {
            let way_out = "write a thickness such as --under \"3 mm\"";
            let length = Length::parse(text, Unit::Millimetre).map_err(|e| (format!("`{text}`: {e}"), way_out))?;
            if !(0.0..=THICKEST_UNDER).contains(&length.to_mm()) {
                return Err((format!("{length} can't lie under a blank (0 to {THICKEST_UNDER} mm)"), way_out));
            }
            length
        }
    };
    Ok(NamedBlank { size: [x, y], thickness, under, sheet: blank.sheet })
}

fn read(named: &[String]) -> Result<Vec<Foreign>, Wrong> {
    let mut programs = Vec::new();
    for named in named {
        let (file, cutter) = split(named).map_err(|words| {
            (words, "write FILE=NUMBER with a cutter's number of the shop file, such as `1-clear.nc=1`")
        })?;
        let program = Foreign::open(Path::new(file), cutter).map_err(|e| {
            (format!("the program `{file}` can't be read: {e}"), "check its name and that it may be read")
        })?;
        programs.push(program);
    }
    Ok(programs)
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

#[expect(clippy::too_many_arguments, reason = "each is one of the command's own words")]
fn survey(
    shop: &Path,
    blank: &NamedBlank,
    programs: Vec<Foreign>,
    zero: Zero,
    effort: &Effort,
    out: Option<&Out>,
    json: bool,
    stop: &Stop,
) -> u8 {
    stop.doing("cutting");
    let surveyed = elsewhere::survey(shop, blank, programs, zero, effort, out, stop);
    stop.finish();
    let status = status(&surveyed);
    if json {
        say_json(&json!({
            "command": "prove",
            "status": status,
            "compared": false,
            "verdict": surveyed.survey.as_ref().and_then(|s| s.verdict),
            "folder": surveyed.written.as_ref().map(|w| w.0.display().to_string()),
            "files": surveyed.written.as_ref().map(|w| &w.1),
            "doubts": surveyed.doubts,
            "survey": surveyed.survey,
            "size": surveyed.size,
            "seconds": show::seconds(&surveyed.seconds),
        }));
        return status;
    }
    show::doubts(&surveyed.doubts, &surveyed.sources);
    if surveyed.stopped {
        say("Stopped.");
        return status;
    }
    if let Some(survey) = &surveyed.survey {
        say(&proof::survey_report(survey));
        say(match survey.verdict {
            Some(Verdict::Refused) => "Refused.",
            Some(Verdict::Undecided) => "Undecided.",
            _ => "Not compared with a plate, so nothing is proven; nothing speaks against it either.",
        });
    } else {
        say("Refused: nothing could be found out.");
    }
    if let Some((folder, files)) = &surveyed.written {
        say(&format!("{} files in {}", files.len(), folder.display()));
    }
    let steps: Vec<String> = surveyed.seconds.iter().map(|(what, s)| format!("{what} {s:.2} s")).collect();
    say(&steps.join(", "));
    surveyed.size.iter().for_each(|size| say(&show::size(size)));
    status
}

fn status(surveyed: &Surveyed) -> u8 {
    if surveyed.stopped && surveyed.survey.is_none() && !doubt::any_blocks(&surveyed.doubts) {
        return STOPPED;
    }
    match &surveyed.survey {
        Some(survey) if survey.verdict.is_none() && !doubt::any_blocks(&surveyed.doubts) => DONE,
        None if surveyed.doubts.iter().any(show::unreadable) => crate::terminal::UNREADABLE,
        _ => REFUSED,
    }
}
