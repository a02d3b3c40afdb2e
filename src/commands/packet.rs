//! `packet PLATE`: the main job.

use super::show;
use crate::terminal::Stop;
use ::packet::folder::RealDisk;
use ::packet::{Effort, Outcome, Places};
use std::path::Path;

/// Pitches that are taken, mm.
const PITCHES: std::ops::RangeInclusive<f64> = 0.005..=0.1;

/// What is wrong and what to do.
pub(crate) type Wrong = (String, &'static str);

/// Folders named on the command line.
pub(crate) struct Folders<'a> {
    pub(crate) out: Option<&'a Path>,
    pub(crate) refusal: Option<&'a Path>,
}

pub(crate) fn run(plate: &Path, folders: &Folders, effort: Result<Effort, Wrong>, json: bool, stop: &Stop) -> u8 {
    let effort = match effort {
        Ok(effort) => effort,
        Err((words, way_out)) => return show::refused("packet", &words, way_out, json),
    };
    let beside = plate.parent().unwrap_or(Path::new("")).join("packet");
    let out = folders.out.unwrap_or(&beside);
    if folders.refusal == Some(out) {
        let words = "packet and refusal can't have the same folder";
        return show::refused("packet", words, "name another one with --refusal", json);
    }
    show::outcome("packet", &make(plate, out, folders.refusal, &effort, stop), json)
}

/// Makes the packet with the real disk and today's date.
pub(crate) fn make(plate: &Path, out: &Path, refusal: Option<&Path>, effort: &Effort, stop: &Stop) -> Outcome {
    stop.doing("planning and proving");
    let date = today();
    let places = Places { packet: out, refusal, disk: &RealDisk, date: &date };
    let outcome = ::packet::make(plate, &places, effort, stop);
    stop.finish();
    outcome
}

/// The effort that the command line asks for.
pub(crate) fn effort(pitch: Option<f64>, memory: Option<&str>) -> Result<Effort, Wrong> {
    if pitch.is_some_and(|p| !PITCHES.contains(&p)) {
        let words = format!("the pitch must be from {} to {} mm", PITCHES.start(), PITCHES.end());
        return Err((words, "leave --pitch out to have it chosen, or give one in that range"));
    }
    let memory = match memory {
        None => ::packet::MEMORY,
        Some(text) => bytes(text).ok_or_else(|| {
            (
                format!("`{text}` is no size of memory from 1 MB on"),
                "write a number with MB or GB, such as --memory \"2 GB\"",
            )
        })?,
    };
    Ok(Effort { pitch, memory, ..Effort::default() })
}

/// `2 GB`, `500 MB`, `1.5GB` in bytes, by thousands.
fn bytes(text: &str) -> Option<u64> {
    let text = text.trim().to_ascii_uppercase();
    let unit = [("GB", 1e9), ("MB", 1e6)].into_iter().find_map(|(name, size)| Some((text.strip_suffix(name)?, size)));
    let (number, size) = unit?;
    let bytes = number.trim().parse::<f64>().ok()? * size;
    (1e6..=1e15).contains(&bytes).then_some(bytes as u64)
}

/// The manifest's date line, UTC.
pub(crate) fn today() -> String {
    let now = time::OffsetDateTime::now_utc();
    now.format(&time::format_description::well_known::Rfc3339).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_of_memory() {
        assert_eq!(bytes("2 GB"), Some(2_000_000_000));
        assert_eq!(bytes("1.5gb"), Some(1_500_000_000));
        assert_eq!(bytes(" 500 MB "), Some(500_000_000));
        for text in ["", "2", "GB", "-1 GB", "NaN GB", "1e99 GB", "0.1 MB", "2 GiB"] {
            assert_eq!(bytes(text), None, "{text}");
        }
    }
}
