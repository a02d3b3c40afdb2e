//! What commands print of doubts and outcomes.

use crate::terminal::{DONE, REFUSED, STOPPED, UNREADABLE, colour, say, say_json};
use ::packet::Outcome;
use doubt::{Doubt, Severity, render};
use proof::Verdict;
use serde_json::json;
use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::Path;

/// Doubts as text, refusals last so that they stand nearest to the prompt.
pub(crate) fn doubts(doubts: &[Doubt], sources: &BTreeMap<String, String>) {
    let mut sorted: Vec<&Doubt> = doubts.iter().collect();
    sorted.sort_by_key(|d| d.severity);
    for doubt in sorted {
        say(&render(doubt, sources, colour()));
        say("");
    }
}

/// Kinds of doubt that say that an input could not be read at all.
const UNREADABLE_KINDS: [&str; 7] =
    ["file-missing", "file-not-text", "file-syntax", "not-a-drawing", "svg-broken", "dxf-broken", "shop-unreadable"];

pub(crate) fn unreadable(doubt: &Doubt) -> bool {
    doubt.blocks() && UNREADABLE_KINDS.contains(&doubt.id)
}

/// The exit status of an outcome.
pub(crate) fn status(outcome: &Outcome) -> u8 {
    if outcome.stopped {
        return STOPPED;
    }
    match outcome.verdict {
        Some(Verdict::Proven) if !doubt::any_blocks(&outcome.doubts) => DONE,
        None if outcome.doubts.iter().any(unreadable) => UNREADABLE,
        _ => REFUSED,
    }
}

/// Seconds of the steps, as JSON.
pub(crate) fn seconds(steps: &[(&'static str, f64)]) -> serde_json::Value {
    steps.iter().map(|(what, s)| json!({ "step": what, "seconds": s })).collect()
}

/// A proof's size in words.
pub(crate) fn size(size: &proof::Size) -> String {
    let cells = quantity::trimmed(size.cells as f64 / 1e6, 1);
    format!("{cells} million cells of {} mm, in less than {} MB", quantity::trimmed(size.pitch, 4), size.megabytes())
}

/// Prints an outcome and gives its exit status.
pub(crate) fn outcome(command: &str, outcome: &Outcome, json: bool) -> u8 {
    let status = status(outcome);
    if json {
        say_json(&json!({
            "command": command,
            "status": status,
            "verdict": outcome.verdict,
            "folder": outcome.written.as_ref().map(|w| w.0.display().to_string()),
            "files": outcome.written.as_ref().map(|w| &w.1),
            "doubts": outcome.doubts,
            "proof": outcome.proof,
            "size": outcome.size,
            "seconds": seconds(&outcome.seconds),
        }));
        return status;
    }
    doubts(&outcome.doubts, &outcome.sources);
    if outcome.stopped {
        say("Stopped. No packet was written.");
        return status;
    }
    if let Some(proof) = &outcome.proof {
        say(&proof::report(proof));
    }
    match (&outcome.verdict, &outcome.written) {
        (Some(Verdict::Proven), Some((folder, files))) => {
            say(&format!("Proven. {} files in {}", files.len(), folder.display()));
        }
        (Some(Verdict::Proven), None) if command == "prove" => say("Proven."),
        (Some(verdict), Some((folder, files))) => {
            let word = if *verdict == Verdict::Undecided { "Undecided" } else { "Refused" };
            say(&format!("{word}. {} files about it in {}", files.len(), folder.display()));
        }
        (Some(verdict), _) => {
            let word = if *verdict == Verdict::Undecided { "Undecided" } else { "Refused" };
            let folder = if command == "prove" { "--out DIR" } else { "--refusal DIR" };
            say(&format!("{word}: nothing was written. {folder} writes a picture of every spot."));
        }
        _ => say("Refused: nothing was written."),
    }
    let steps: Vec<String> = outcome.seconds.iter().map(|(what, s)| format!("{what} {s:.2} s")).collect();
    say(&steps.join(", "));
    outcome.size.iter().for_each(|s| say(&size(s)));
    let count = |s: Severity| outcome.doubts.iter().filter(|d| d.severity == s).count();
    if count(Severity::Caution) > 0 {
        say(&format!("{} to look at above.", count(Severity::Caution)));
    }
    status
}

/// Writes files that must not overwrite anything of the maker's: one that is there already must be the same.
pub(crate) fn write_new(dir: &Path, files: &[(&str, &str)]) -> Result<(), String> {
    for (name, text) in files {
        match fs::read(dir.join(name)) {
            Ok(there) if there == text.as_bytes() => {}
            Ok(_) => {
                let path = dir.join(name);
                return Err(format!("`{}` is there already and differs from what would be written", path.display()));
            }
            Err(e) if e.kind() == io::ErrorKind::NotFound => {}
            Err(e) => return Err(format!("`{}` can't be read: {e}", dir.join(name).display())),
        }
    }
    let write = |name: &str, text: &str| {
        let path = dir.join(name);
        let beside = dir.join(format!(".{name}.new"));
        fs::create_dir_all(dir)?;
        fs::write(&beside, text)?;
        fs::rename(&beside, &path)
    };
    for (name, text) in files {
        write(name, text).map_err(|e| format!("`{}` can't be written: {e}", dir.join(name).display()))?;
    }
    Ok(())
}

/// Prints a plain refusal with its way out and gives its exit status.
pub(crate) fn refused(command: &str, words: &str, way_out: &str, json: bool) -> u8 {
    if json {
        say_json(&json!({ "command": command, "status": UNREADABLE, "error": words, "way_out": way_out }));
    } else {
        say(&format!("refused: {words}\n  what to do: {way_out}"));
    }
    UNREADABLE
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_of_unreadable_input_exist() {
        for id in UNREADABLE_KINDS {
            assert!(super::super::explain::kinds().iter().any(|k| k.id == id), "{id}");
        }
    }
}
