//! Acceleration and corner deviation from the times that programs really took on the machine, and the lines of the shop file that
//! say them. The shop file is the maker's: it is changed only where that is asked for, whole or not at all, and only
//! in these figures.

use crate::elsewhere::{Foreign, shop_text};
use doubt::{Doubt, Kind, Place};
use plate::{Machine, Shop};
use quantity::{Length, trimmed};
use read::{Program, Shape};
use reckon::calibrate::{Fit, Known, Least, Timed, Untold, fit};
use reckon::pace::{Step, seconds};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// A program took less than is possible.
pub const TIME_TOO_SHORT: Kind = Kind {
    id: "time-too-short",
    title: "A program took less time than is possible",
    page: "At the feeds that the program states and the rapid speed that the shop file gives, the moves alone take longer than the \
           time that was taken, even if no time were lost to starts, stops and corners. So one of the figures isn't true: \
           the time, the program (is it the one that ran?), a feed that was turned up at the machine, or the machine's rapid \
           speed. Mend that one first: fitted to such a time, acceleration would stand in for it.",
};

/// A program took longer than any machine needs.
pub const TIME_TOO_LONG: Kind = Kind {
    id: "time-too-long",
    title: "The times are longer than any machine would need",
    page: "Only a machine that hardly accelerates at all would be as slow as these times. More likely the program was halted or \
           jogged in between, a feed was turned down at the machine, the rapid speed in the shop file is too high, or the time \
           is that of another program. Take the time again from the start of the program to its end.",
};

/// Times that contradict each other.
pub const TIMES_APART: Kind = Kind {
    id: "times-apart",
    title: "No machine has all of these times",
    page: "Whatever acceleration and corner deviation are taken, some of the programs would take noticeably longer or shorter than \
           they did. One of the times may be wrong or belong to another program, or a feed was turned at the machine for one of \
           them. Leave the doubtful one out, or take its time again; if the times are only known roughly, say so with --within.",
};

/// Times that tell nothing.
pub const TIMES_UNTOLD: Kind = Kind {
    id: "times-tell-nothing",
    title: "The times tell nothing of the acceleration",
    page: "These programs would take nearly the same time on a quick machine and on a slow one, less apart than their times are known. \
           Programs with long cuts and few corners are like that. Take the time of one that stops, starts and turns often: small \
           lettering with a fine cutter, or one with many rapids. A longer program tells more.",
};

/// Figures that the times can't tell apart.
pub const FIGURES_TOGETHER: Kind = Kind {
    id: "figures-not-told-apart",
    title: "The times don't tell every figure apart",
    page: "A machine with more acceleration and one that rounds corners more can take the same time for a program. Programs of different \
           kinds tell them apart: one with many corners, one with many rapids and long ways, one that goes up and down. Figures \
           that the times don't tell are kept as they are in the shop file, or in proportion; what else would do is said.",
};

/// A program whose time can't be reckoned.
pub const TIME_UNKNOWN: Kind = Kind {
    id: "time-unknown",
    title: "A program's time can't be reckoned",
    page: "A cutting move has no feed that could be told, so nobody knows how long it takes by the text alone. Use a program that states \
           its feeds.",
};

/// The shop file could not be changed.
pub const SHOP_NOT_WRITTEN: Kind = Kind {
    id: "shop-not-written",
    title: "The shop file was not changed",
    page: "The figures were found, but the shop file stays as it was: there is none (the built-in starter shop was used), it changed \
           meanwhile, it may not be written, or it is written in a way that can't be changed without touching more. Put the \
           printed lines into its [machine] by hand.",
};

/// Whose machine it was.
#[derive(Debug, Clone, Copy)]
pub enum Whose<'a> {
    /// That of a plate file's shop.
    Plate(&'a Path),
    /// That of a shop file.
    Shop(&'a Path),
}

/// One program's time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// Its file.
    pub file: String,
    /// What it took, s.
    pub took: f64,
    /// What was predicted with the shop's figures, s.
    pub before: f64,
    /// What is predicted with the new ones, s.
    pub after: Option<f64>,
}

/// What came of it.
#[derive(Debug, Default)]
pub struct Calibrated {
    /// The shop file.
    pub shop_file: String,
    /// The machine as the shop file has it.
    pub machine: Option<Machine>,
    /// The programs.
    pub rows: Vec<Row>,
    /// The figures, if they could be told.
    pub fit: Option<Fit>,
    /// Lines for `[machine]`.
    pub lines: Vec<String>,
    /// The shop file that was changed.
    pub wrote: Option<PathBuf>,
    /// Doubts.
    pub doubts: Vec<Doubt>,
    /// Texts of the files that doubts point into.
    pub sources: BTreeMap<String, String>,
}

/// Fits the machine of a shop to programs with the seconds that each took. `within` is how well a time is known, give or take, s.
/// With `write` the shop file gets the figures.
pub fn calibrate(whose: Whose<'_>, programs: &[(Foreign, f64)], within: f64, write: bool) -> Calibrated {
    let mut done = Calibrated::default();
    let Some((shop, text, path)) = shop_of(whose, &mut done) else { return done };
    done.machine = Some(shop.machine.clone());
    // How wide cutters cut is nothing to their pace.
    done.doubts.retain(|d| d.id != "cutter-assumed");
    let mut all = Vec::new();
    for (program, _) in programs {
        let program = program.program();
        done.doubts.extend(program.doubts.iter().cloned());
        done.doubts.extend(unknown_feed(program));
        all.push(proof::steps(program));
    }
    if doubt::any_blocks(&done.doubts) {
        return done;
    }
    done.rows = programs
        .iter()
        .zip(&all)
        .map(|((program, took), steps)| {
            let before = seconds(&shop.machine, steps);
            Row { file: program.program().file.clone(), took: *took, before, after: None }
        })
        .collect();
    let runs: Vec<Timed> = programs.iter().zip(&all).map(|((_, took), steps)| Timed { steps, took: *took }).collect();
    // What a maker calls "give or take" is hardly ever exceeded: two standard uncertainties.
    let found = match fit(&shop.machine, &runs, 0.5 * within) {
        Ok(found) => found,
        Err(untold) => {
            let say = Say { shop: &shop, programs, steps: &all, rows: &done.rows, within };
            done.doubts.extend(say.untold(untold));
            return done;
        }
    };
    done.rows.iter_mut().zip(&found.after).for_each(|(row, after)| row.after = Some(*after));
    done.doubts.extend(together(&found, programs.len()));
    if found.disagrees {
        let worst = |a: &&Row, b: &&Row| off(a).abs().total_cmp(&off(b).abs());
        done.doubts.extend(done.rows.iter().max_by(worst).map(|row| disagrees(row, within)));
    }
    let deviation = Length::mm(found.corner_deviation);
    done.lines = intake::pace_lines(&text, found.acceleration, deviation).to_vec();
    if write {
        let written = path.ok_or_else(|| "the built-in starter shop is no file of yours".to_owned()).and_then(|path| {
            let new = intake::with_pace(&text, found.acceleration, deviation)
                .ok_or("it can't be changed in these figures alone")?;
            replace(&path, &text, &new).map(|()| path)
        });
        match written {
            Ok(path) => done.wrote = Some(path),
            Err(why) => done.doubts.push(
                SHOP_NOT_WRITTEN
                    .refusal(format!("the shop file stays as it was: {why}"))
                    .at(Place::file(&done.shop_file))
                    .way_out("put the printed lines into the [machine] of your shop file by hand"),
            ),
        }
    }
    done.fit = Some(found);
    done
}

/// By how much the new figures miss a program's time, s.
fn off(row: &Row) -> f64 {
    row.after.unwrap_or(row.before) - row.took
}

/// The shop with its file's text, and its path if it is a file.
fn shop_of(whose: Whose<'_>, done: &mut Calibrated) -> Option<(Shop, String, Option<PathBuf>)> {
    match whose {
        Whose::Plate(plate) => {
            let taken = intake::shop_of(plate);
            done.shop_file.clone_from(&taken.name);
            (done.doubts, done.sources) = (taken.doubts, taken.sources);
            let own = taken.name != intake::STARTER_SHOP_FILE;
            let path = own.then(|| plate.parent().unwrap_or(Path::new("")).join(&taken.name));
            Some((taken.shop?, taken.text, path))
        }
        Whose::Shop(path) => {
            let (name, text) = match shop_text(path) {
                Ok(found) => found,
                Err(doubt) => {
                    done.doubts.push(*doubt);
                    return None;
                }
            };
            let (shop, doubts) = intake::shop(&name, &text);
            done.doubts = doubts;
            done.sources.insert(name.clone(), text.clone());
            done.shop_file = name;
            Some((shop?, text, Some(path.to_owned())))
        }
    }
}

/// A cutting move without a feed.
fn unknown_feed(program: &Program) -> Option<Doubt> {
    let cuts = |shape: &Shape| matches!(shape, Shape::Line | Shape::Arc { .. });
    let m = program.moves.iter().find(|m| cuts(&m.shape) && !m.feed.is_some_and(|f| f > 0.0))?;
    let doubt = TIME_UNKNOWN.refusal("a cutting move has no feed that could be told").at(line(program, m.line));
    Some(doubt.way_out("use a program that states its feeds"))
}

fn line(program: &Program, number: u32) -> Place {
    let text = program.lines.get((number as usize).saturating_sub(1)).map(|l| l.to_string()).unwrap_or_default();
    Place::Program { file: program.file.clone(), line: number as usize, text }
}

/// `12:34`, `1:02:03`, with tenths under a minute.
pub fn clock(seconds: f64) -> String {
    if !seconds.is_finite() {
        return "–".to_owned();
    }
    let sign = if seconds < 0.0 { "-" } else { "" };
    let tenths = (seconds.abs() * 10.0).round();
    if tenths < 600.0 {
        return format!("{sign}{:.1} s", tenths / 10.0);
    }
    let whole = seconds.abs().round().min(1e15) as u64;
    let (hours, minutes, rest) = (whole / 3600, whole / 60 % 60, whole % 60);
    if hours > 0 { format!("{sign}{hours}:{minutes:02}:{rest:02}") } else { format!("{sign}{minutes}:{rest:02}") }
}

/// What is said where nothing could be told.
struct Say<'a> {
    shop: &'a Shop,
    programs: &'a [(Foreign, f64)],
    steps: &'a [Vec<Step>],
    rows: &'a [Row],
    within: f64,
}

impl Say<'_> {
    fn untold(&self, untold: Untold) -> Vec<Doubt> {
        match untold {
            Untold::TooShort(short) => short.iter().map(|(i, least)| self.too_short(*i, least)).collect(),
            Untold::TooLong(told) => self.worst(&told).map(|(row, told)| {
                TIME_TOO_LONG
                    .refusal(format!(
                        "`{}` took {}; the shop's figures make it {}, and the slowest machine that is looked for {}",
                        row.file,
                        clock(row.took),
                        clock(row.before),
                        clock(told)
                    ))
                    .likely("the program was halted, or the feed or the rapids were turned down at the machine")
                    .way_out("take the time again, from the start to the end without a halt, everything at 100 %")
            }).into_iter().collect(),
            Untold::Apart(told) => self.worst(&told).map(|(row, told)| {
                TIMES_APART
                    .refusal(format!(
                        "no acceleration explains all times: `{}` took {}, and by what comes nearest it would take {}",
                        row.file,
                        clock(row.took),
                        clock(told)
                    ))
                    .likely("one time belongs to another program, or the feed was turned at the machine for one of them")
                    .way_out("leave the doubtful program out, or take its time again")
            }).into_iter().collect(),
            Untold::Nothing { swing, at_least } => {
                let doubt = TIMES_UNTOLD.refusal(format!(
                    "between half and double the acceleration the times differ by {} at the most, and they are known within {}",
                    clock(swing),
                    clock(self.within)
                ));
                let doubt = match at_least {
                    Some(a) => doubt.noting(format!("the acceleration is {} mm/s² or more", trimmed(a, 3))),
                    None => doubt,
                };
                vec![doubt.way_out(
                    "take the time of a program with many corners, starts and rapids, or take it more exactly and say \
                     so with --within",
                )]
            }
        }
    }

    /// The program whose told time is farthest from what it took.
    fn worst(&self, told: &[(usize, f64)]) -> Option<(&Row, f64)> {
        let rows = told.iter().filter_map(|(i, told)| Some((self.rows.get(*i)?, *told)));
        rows.max_by(|a, b| (a.1 - a.0.took).abs().total_cmp(&(b.1 - b.0.took).abs()))
    }

    fn too_short(&self, index: usize, least: &Least) -> Doubt {
        let (program, took) = &self.programs[index];
        let program = program.program();
        let part = Part::that_is_too_long(program, &self.steps[index], least, *took);
        let machine = &self.shop.machine;
        let doubt = TIME_TOO_SHORT.refusal(format!(
            "`{}` took {}, but its moves alone take {}: {}",
            program.file,
            clock(*took),
            clock(least.seconds()),
            part.words(machine)
        ));
        doubt
            .at(line(program, part.first))
            .noting(format!(
                "cutting moves at their feeds {}, rapids at {} (z {}) {}, pauses {}",
                clock(least.cuts),
                machine.rapid,
                machine.rapid_z,
                clock(least.rapids),
                clock(least.waits)
            ))
            .way_out(match part.what {
                What::Feed(_) => {
                    "check the time and that this is the program that ran; set the feed at the machine to 100 % and take it again"
                }
                What::Rapids => "measure the machine's rapid speed and put it into the shop file as `rapid` and `rapid_z`",
                What::Waits => "check the time and that this is the program that ran",
            })
    }
}

/// What of a program takes longer than the time that was taken allows.
struct Part {
    what: What,
    seconds: f64,
    first: u32,
    last: u32,
}

enum What {
    /// Cutting moves at this feed, mm/min.
    Feed(f64),
    Rapids,
    Waits,
}

impl Part {
    /// Pauses if they alone take longer, else the feed at which most of the cutting is done if the cuts leave no time, else rapids.
    fn that_is_too_long(program: &Program, steps: &[Step], least: &Least, took: f64) -> Self {
        let mut feeds: BTreeMap<u64, Self> = BTreeMap::new();
        let part = |what| Self { what, seconds: 0.0, first: 0, last: 0 };
        let (mut rapids, mut waits) = (part(What::Rapids), part(What::Waits));
        for (m, step) in program.moves.iter().zip(steps) {
            let (part, seconds) = match *step {
                Step::Cut { length, feed, .. } if feed > 0.0 => {
                    let part = feeds.entry(feed.to_bits()).or_insert_with(|| part(What::Feed(feed)));
                    (part, length / (feed / 60.0))
                }
                Step::Rapid { .. } => (&mut rapids, 0.0),
                Step::Wait(seconds) if seconds > 0.0 => (&mut waits, seconds),
                _ => continue,
            };
            part.seconds += seconds;
            part.last = m.line;
            if part.first == 0 {
                part.first = m.line;
            }
        }
        rapids.seconds = least.rapids;
        let most = feeds.into_values().max_by(|a, b| a.seconds.total_cmp(&b.seconds));
        match most {
            _ if took < least.waits => waits,
            Some(feed) if took < least.waits + least.cuts || least.cuts > least.rapids => feed,
            _ => rapids,
        }
    }

    fn words(&self, machine: &Machine) -> String {
        let time = clock(self.seconds);
        let lines = format!("lines {} to {}", self.first, self.last);
        match self.what {
            What::Feed(feed) => format!("{time} are cuts at {} mm/min ({lines})", trimmed(feed, 1)),
            What::Rapids => format!("{time} are rapids at {} ({lines})", machine.rapid),
            What::Waits => format!("{time} are pauses ({lines})"),
        }
    }
}

/// What the times can't tell apart.
fn together(fit: &Fit, programs: usize) -> Option<Doubt> {
    let z = fit.upright == Known::InProportion;
    let corner = fit.corner == Known::Kept;
    let message = match (corner, z) {
        (false, false) => return None,
        (true, true) => "the corner deviation is kept as it was, and z keeps its proportion: the times don't tell them",
        (true, false) => "the corner deviation is kept as it was: the times don't tell it apart from the acceleration",
        (false, true) => "the acceleration in z keeps its proportion to x and y: the times don't tell it apart",
    };
    let mut doubt = FIGURES_TOGETHER.note(message);
    if corner && programs == 1 {
        doubt = doubt.noting("one program's time is one number: it tells one figure");
    }
    for [deviation, acceleration] in &fit.instead {
        doubt = doubt.noting(format!(
            "a corner deviation of {} mm with {} mm/s² would explain the times as well",
            trimmed(*deviation, 4),
            trimmed(*acceleration, 3)
        ));
    }
    Some(doubt.way_out(match (corner, programs) {
        (true, 1) => "time a second program of another kind too: one with many corners, or one with many rapids",
        (true, _) => "time programs that differ more: one with many corners, one with many rapids and long ways",
        (false, _) => "time a program that goes up and down a lot, such as one that drills",
    }))
}

fn disagrees(row: &Row, within: f64) -> Doubt {
    TIMES_APART
        .caution(format!(
            "the times don't quite agree: `{}` took {}, and is still told as {} ({} off, with times known within {})",
            row.file,
            clock(row.took),
            clock(row.after.unwrap_or(row.before)),
            clock(off(row).abs()),
            clock(within)
        ))
        .way_out("check that time; if the times are only known roughly, say so with --within")
}

/// Puts a new text in a file's place at once, if it still holds the old one. A link stays a link, and what the file allowed stays
/// allowed.
fn replace(path: &Path, old: &str, new: &str) -> Result<(), String> {
    let refused = |what: &str, e: io::Error| format!("`{}` could not be {what}: {e}", path.display());
    let real = fs::canonicalize(path).map_err(|e| refused("found", e))?;
    let name = real.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let beside = real.with_file_name(format!(".{name}.new"));
    let written = (|| {
        let mut file = fs::File::create(&beside)?;
        file.write_all(new.as_bytes())?;
        file.set_permissions(fs::metadata(&real)?.permissions())?;
        file.sync_all()
    })();
    let placed = written.map_err(|e| refused("written", e)).and_then(|()| {
        if fs::read(&real).map_err(|e| refused("read again", e))? != old.as_bytes() {
            return Err(format!("`{}` changed meanwhile", path.display()));
        }
        fs::rename(&beside, &real).map_err(|e| refused("put in place", e))
    });
    if placed.is_err() {
        let _ = fs::remove_file(&beside);
    }
    placed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_as_a_watch_shows_them() {
        for (seconds, words) in [
            (0.0, "0.0 s"),
            (59.94, "59.9 s"),
            (59.96, "1:00"),
            (754.0, "12:34"),
            (3723.4, "1:02:03"),
            (-5.04, "-5.0 s"),
            (f64::NAN, "–"),
        ] {
            assert_eq!(clock(seconds), words);
        }
    }

    #[test]
    fn a_file_is_replaced_whole_or_not_at_all() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("shop.toml");
        fs::write(&path, "old").unwrap();
        replace(&path, "old", "new").unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "new");
        // The maker changed it meanwhile.
        assert!(replace(&path, "old", "newer").unwrap_err().contains("changed meanwhile"));
        assert_eq!(fs::read_to_string(&path).unwrap(), "new");
        assert!(replace(&dir.path().join("none.toml"), "", "x").is_err());
        // Where the new text can't be written nothing is lost.
        fs::create_dir(dir.path().join(".shop.toml.new")).unwrap();
        assert!(replace(&path, "new", "newest").is_err());
        assert_eq!(fs::read_to_string(&path).unwrap(), "new");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2);
    }

    #[cfg(unix)]
    #[test]
    fn links_and_permissions_stay() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let dir = tempfile::tempdir().unwrap();
        let (real, link) = (dir.path().join("real.toml"), dir.path().join("shop.toml"));
        fs::write(&real, "old").unwrap();
        fs::set_permissions(&real, fs::Permissions::from_mode(0o640)).unwrap();
        symlink(&real, &link).unwrap();
        replace(&link, "old", "new").unwrap();
        assert!(link.symlink_metadata().unwrap().is_symlink());
        assert_eq!(fs::read_to_string(&real).unwrap(), "new");
        assert_eq!(fs::metadata(&real).unwrap().permissions().mode() & 0o777, 0o640);
    }
}
