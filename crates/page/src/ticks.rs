//! The ticks of the work at the machine: a small file beside the plate file, read whole and replaced whole.
//!
//! A tick is of a step with a mark, which is a hash of all that the step stands for. If the plate has changed since, the mark
//! is another one, and the tick is no longer true.

use crate::paper::Paper;
use serde::{Deserialize, Serialize};
use std::io;

/// Largest file of ticks, bytes.
const LARGEST: u64 = 1 << 20;
/// Most ticks that are kept.
const MOST: usize = 4000;

/// One tick.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Tick {
    /// The step.
    pub(crate) step: String,
    /// What it was when it was ticked.
    pub(crate) mark: String,
}

/// The ticks.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Ticks {
    /// What the file is, for whoever opens it.
    what: String,
    ticks: Vec<Tick>,
}

/// What the file says of itself.
const WHAT: &str =
    "Steps of the work at the machine that were ticked on the bench page; delete this file to begin again.";

impl Ticks {
    /// The ticks beside a plate; none if there is no such file.
    ///
    /// # Errors
    /// If there is one that can't be read, in words.
    pub(crate) fn of(paper: &Paper) -> Result<Self, String> {
        let path = paper.named_beside(".ticks.json");
        let bytes = match std::fs::symlink_metadata(&path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Self::default()),
            Err(error) => return Err(error.to_string()),
            Ok(found) if !found.is_file() || found.len() > LARGEST => return Err("it is no file of ticks".into()),
            Ok(_) => std::fs::read(&path).map_err(|e| e.to_string())?,
        };
        serde_json::from_slice(&bytes).map_err(|_| "it is no file of ticks".into())
    }

    /// The mark with which a step was ticked.
    pub(crate) fn mark(&self, step: &str) -> Option<&str> {
        self.ticks.iter().find(|t| t.step == step).map(|t| t.mark.as_str())
    }

    /// The steps that were ticked.
    pub(crate) fn steps(&self) -> impl Iterator<Item = &str> {
        self.ticks.iter().map(|t| t.step.as_str())
    }

    /// Ticks a step, or takes its tick back.
    pub(crate) fn set(&mut self, step: &str, mark: Option<&str>) {
        self.ticks.retain(|t| t.step != step);
        if let Some(mark) = mark
            && self.ticks.len() < MOST
        {
            self.ticks.push(Tick { step: step.to_owned(), mark: mark.to_owned() });
        }
    }

    /// Writes them in the place of those that stand there.
    ///
    /// # Errors
    /// If the system refuses; the file then holds what it held.
    pub(crate) fn write(&mut self, paper: &Paper) -> io::Result<()> {
        self.what = WHAT.into();
        let mut text = serde_json::to_string_pretty(self).map_err(io::Error::other)?;
        text.push('\n');
        paper.put_beside(".ticks.json", &text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_kept_taken_back_and_never_follow_a_link() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("plate.toml"), "").unwrap();
        let paper = Paper::at(&at("plate.toml")).unwrap();
        let mut ticks = Ticks::of(&paper).unwrap();
        ticks.set("film", Some("1"));
        ticks.set("film", Some("2"));
        ticks.set("zero", Some("3"));
        ticks.write(&paper).unwrap();
        let mut again = Ticks::of(&paper).unwrap();
        assert_eq!((again.mark("film"), again.mark("zero"), again.mark("holds")), (Some("2"), Some("3"), None));
        again.set("film", None);
        again.write(&paper).unwrap();
        assert_eq!(Ticks::of(&paper).unwrap().steps().collect::<Vec<_>>(), ["zero"]);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2, "nothing is left beside");
        std::fs::write(at("plate.toml.ticks.json"), "{").unwrap();
        assert!(Ticks::of(&paper).is_err());
        #[cfg(unix)]
        {
            std::fs::write(at("theirs"), "theirs").unwrap();
            std::fs::remove_file(at("plate.toml.ticks.json")).unwrap();
            std::os::unix::fs::symlink(at("theirs"), at("plate.toml.ticks.json")).unwrap();
            assert!(Ticks::of(&paper).is_err());
            again.write(&paper).unwrap();
            assert_eq!(std::fs::read(at("theirs")).unwrap(), b"theirs");
            assert_eq!(Ticks::of(&paper).unwrap().steps().count(), 1);
        }
    }
}
