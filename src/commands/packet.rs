//! `packet PLATE`: the main job.

use super::show;
use crate::terminal::Stop;
use ::packet::Outcome;
use ::packet::folder::RealDisk;
use proof::Settings;
use std::path::Path;

/// What is wrong with a pitch that [`settings`] doesn't take, and what to do.
pub(crate) const PITCH_RANGE: &str = "the pitch must be from 0.005 to 0.1 mm";
pub(crate) const PITCH_WAY_OUT: &str = "leave --pitch out for 0.02 mm, or give one in that range";

pub(crate) fn run(plate: &Path, out: Option<&Path>, pitch: f64, json: bool, stop: &Stop) -> u8 {
    let Some(settings) = settings(pitch) else {
        return show::refused("packet", PITCH_RANGE, PITCH_WAY_OUT, json);
    };
    let beside = plate.parent().unwrap_or(Path::new("")).join("packet");
    show::outcome("packet", &make(plate, out.unwrap_or(&beside), &settings, stop), json)
}

/// Makes the packet with the real disk and today's date.
pub(crate) fn make(plate: &Path, out: &Path, settings: &Settings, stop: &Stop) -> Outcome {
    stop.doing("planning and proving");
    let outcome = ::packet::make(plate, out, settings, &RealDisk, &today(), stop);
    stop.finish();
    outcome
}

/// Settings for a pitch in range.
pub(crate) fn settings(pitch: f64) -> Option<Settings> {
    (0.005..=0.1).contains(&pitch).then(|| Settings { pitch, ..Settings::default() })
}

/// The manifest's date line, UTC.
pub(crate) fn today() -> String {
    let now = time::OffsetDateTime::now_utc();
    now.format(&time::format_description::well_known::Rfc3339).unwrap_or_default()
}
