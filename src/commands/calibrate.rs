//! `calibrate PLATE PROGRAM=TIME…` and `calibrate --shop FILE PROGRAM=TIME…`: the machine's figures of pace from times that were
//! taken at the machine.

use super::packet::Wrong;
use super::show;
use crate::terminal::{DONE, REFUSED, UNREADABLE, say, say_json};
use ::packet::calibrate::{Calibrated, Whose, calibrate, clock};
use ::packet::elsewhere::Foreign;
use quantity::trimmed;
use reckon::calibrate::{Fit, Known};
use serde_json::json;
use std::path::{Path, PathBuf};

/// How well times are known unless it is said, s.
const WITHIN: f64 = 2.0;
/// The longest time that is taken, s.
const LONGEST: f64 = 1e6;

pub(crate) fn run(files: &[String], shop: Option<&PathBuf>, within: Option<&str>, write: bool, json: bool) -> u8 {
    let refused = |(words, way_out): Wrong| show::refused("calibrate", &words, way_out, json);
    let within = match within.map_or(Ok(WITHIN), give_or_take) {
        Ok(within) => within,
        Err(wrong) => return refused(wrong),
    };
    let (whose, programs) = match (shop, files.split_first()) {
        (Some(shop), _) => (Whose::Shop(shop), files),
        (None, Some((plate, programs))) => (Whose::Plate(Path::new(plate)), programs),
        (None, None) => (Whose::Plate(Path::new("")), files),
    };
    if programs.is_empty() {
        let way_out = "name each program with what it took, such as `1-clear.nc=12:34`";
        return refused(("no program's time is given".into(), way_out));
    }
    let programs = match read(programs) {
        Ok(programs) => programs,
        Err(wrong) => return refused(wrong),
    };
    tell(&calibrate(whose, &programs, within, write), within, json)
}

fn read(named: &[String]) -> Result<Vec<(Foreign, f64)>, Wrong> {
    let mut programs = Vec::new();
    for named in named {
        const WAY_OUT: &str =
            "write PROGRAM=TIME with minutes and seconds, such as `1-clear.nc=12:34` or `1-clear.nc=754 s`";
        let Some((file, time)) = named.rsplit_once('=') else {
            return Err((format!("it isn't said what `{named}` took"), WAY_OUT));
        };
        let took = seconds(time).filter(|t| (0.1..=LONGEST).contains(t));
        let Some(took) = took else { return Err((format!("`{time}` behind `{file}=` is no time"), WAY_OUT)) };
        let program = Foreign::open(Path::new(file), None).map_err(|e| {
            (format!("the program `{file}` can't be read: {e}"), "check its name and that it may be read")
        })?;
        programs.push((program, took));
    }
    Ok(programs)
}

fn give_or_take(text: &str) -> Result<f64, Wrong> {
    seconds(text).filter(|s| (0.01..=3600.0).contains(s)).ok_or_else(|| {
        (format!("`{text}` is no time by which the others may be off"), "write seconds, such as --within \"2 s\"")
    })
}

/// `12:34`, `1:02:03`, `12:34.5`, `754 s`, `12 min 34 s`, `1 h 2 min`. A number alone could be minutes or seconds: it is none.
fn seconds(text: &str) -> Option<f64> {
    let plain = |word: &str| {
        let digits = !word.is_empty() && word.bytes().all(|b| b.is_ascii_digit() || b == b'.');
        word.parse::<f64>().ok().filter(|v| digits && v.is_finite())
    };
    let text = text.trim();
    if text.contains(':') {
        let parts: Vec<&str> = text.split(':').collect();
        if !(2..=3).contains(&parts.len()) {
            return None;
        }
        let mut sum = 0.0;
        for (i, part) in parts.iter().enumerate() {
            let value = plain(part)?;
            let (leading, last) = (i == 0, i + 1 == parts.len());
            if (!leading && value >= 60.0) || (!last && part.contains('.')) {
                return None;
            }
            sum = sum * 60.0 + value;
        }
        return Some(sum);
    }
    let mut rest = text;
    let (mut sum, mut smallest) = (0.0, f64::INFINITY);
    while !rest.is_empty() {
        let end = rest.find(|c: char| !(c.is_ascii_digit() || c == '.'))?;
        let (value, after) = (plain(&rest[..end])?, rest[end..].trim_start());
        let word_end = after.find(|c: char| !c.is_alphabetic()).unwrap_or(after.len());
        let unit = match &after[..word_end] {
            "h" => 3600.0,
            "min" => 60.0,
            "s" => 1.0,
            _ => return None,
        };
        if unit >= smallest {
            return None;
        }
        smallest = unit;
        sum += value * unit;
        rest = after[word_end..].trim_start();
    }
    smallest.is_finite().then_some(sum)
}

fn status(done: &Calibrated) -> u8 {
    if done.doubts.iter().any(show::unreadable) {
        UNREADABLE
    } else if done.fit.is_none() || doubt::any_blocks(&done.doubts) {
        REFUSED
    } else {
        DONE
    }
}

fn tell(done: &Calibrated, within: f64, json: bool) -> u8 {
    let status = status(done);
    if json {
        say_json(&json!({
            "command": "calibrate",
            "status": status,
            "shop": done.shop_file,
            "within_seconds": within,
            "programs": done.rows,
            "figures": done.fit,
            "lines": done.lines,
            "wrote": done.wrote.as_ref().map(|p| p.display().to_string()),
            "doubts": done.doubts,
        }));
        return status;
    }
    show::doubts(&done.doubts, &done.sources);
    if !done.rows.is_empty() {
        say(&table(done));
    }
    let (Some(fit), Some(machine)) = (&done.fit, &done.machine) else {
        say("Refused: no figures could be told.");
        return status;
    };
    say(&format!("What these times say of the machine, each known within {}:", clock(within)));
    let was = &machine.acceleration;
    let pace = |value: f64| format!("{} mm/s²", trimmed(value, 3));
    let [x, y, z] = fit.acceleration;
    let level = if x == y { pace(x) } else { format!("{} and {}", pace(x), pace(y)) };
    let given = if fit.corner == Known::Kept { " with that corner deviation" } else { "" };
    say(&format!("  acceleration in x and y  {level}, {}{given}; it was {}", known(&fit.level, "mm/s²"), pace(was[0])));
    say(&format!("  acceleration in z        {}, {}; it was {}", pace(z), known(&fit.upright, "mm/s²"), pace(was[2])));
    say(&format!(
        "  corner deviation         {} mm, {}; it was {}",
        trimmed(fit.corner_deviation, 6),
        known(&fit.corner, "mm"),
        machine.corner_deviation
    ));
    say(&format!("\nFor {}, under [machine]:", done.shop_file));
    done.lines.iter().for_each(|line| say(line));
    say(&match &done.wrote {
        Some(path) => format!("\n{} has them now; nothing else in it changed.", path.display()),
        None => "\nNothing was written; --write puts them in.".to_owned(),
    });
    status
}

fn known(known: &Known, unit: &str) -> String {
    let plain = |value: f64| {
        trimmed(
            value,
            if value >= 100.0 {
                0
            } else if value >= 1.0 {
                1
            } else {
                4
            },
        )
    };
    match *known {
        Known::Told { low, high } => {
            format!("from {} to {} {unit}", plain(low), plain(high))
        }
        Known::InProportion => "in proportion to x and y".to_owned(),
        Known::Kept => "kept, since the times don't tell it".to_owned(),
    }
}

/// What each program took, and what was and is predicted.
fn table(done: &Calibrated) -> String {
    let Calibrated { rows, fit, .. } = done;
    let widest = rows.iter().map(|r| r.file.chars().count()).max().unwrap_or(0).max(7);
    let head = |cells: [&str; 4]| {
        let [file, took, before, after] = cells;
        format!("{file:<widest$}  {took:>10}  {before:>18}  {after:>18}")
    };
    let mut lines = vec![head(["program", "took", "predicted before", "and now"])];
    let share = |told: f64, took: f64| format!("{} ({:+.1} %)", clock(told), (told / took - 1.0) * 100.0);
    for row in rows {
        let after = row.after.map_or_else(|| "–".to_owned(), |after| share(after, row.took));
        lines.push(head([&row.file, &clock(row.took), &share(row.before, row.took), &after]));
    }
    if let Some(Fit { left, .. }) = fit
        && rows.len() > 1
    {
        lines.push(format!("What is left between them is {} (root mean square).", clock(*left)));
    }
    lines.join("\n") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_as_makers_write_them() {
        for (text, expected) in [
            ("12:34", 754.0),
            ("1:02:03", 3723.0),
            ("12:34.5", 754.5),
            ("754 s", 754.0),
            ("754s", 754.0),
            ("12 min 34 s", 754.0),
            ("12min", 720.0),
            ("1 h 2 min 3.5 s", 3723.5),
            ("0.5 s", 0.5),
            ("90:00", 5400.0),
        ] {
            assert_eq!(seconds(text), Some(expected), "{text}");
        }
        for text in [
            "",
            "12",
            "12.5",
            "1:60",
            "1:2:3:4",
            "1.5:30",
            "-1:00",
            "12 min 34",
            "34 s 12 min",
            "s",
            "1 d",
            "1e3 s",
            ":",
            "1:",
            "NaN s",
            "1..2 s",
        ] {
            assert_eq!(seconds(text), None, "{text}");
        }
    }
}
