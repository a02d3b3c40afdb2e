//! What the fuzz targets share: regions made from bytes, and what must hold of their offsets and combinations.

pub mod bytes;
pub mod combining;
pub mod memory;
pub mod offsets;
pub mod programs;
pub mod region;
pub mod valid;

use plane::Region;
use serde::{Deserialize, Serialize};

/// What a property that does not hold says: its own name, a colon, and the figures.
pub type Held = Result<(), String>;

/// A small case as the replay tests of `reach` read it.
#[derive(Serialize, Deserialize)]
pub struct Case {
    /// What it is about.
    pub name: String,
    /// `in`, `out`, `opened` or `closed`.
    pub kind: String,
    /// mm.
    pub r: f64,
    /// The source.
    pub region: Region,
}

/// Panics with what does not hold. If `FUZZ_GO_ON` names a folder, notes it and its bytes there instead, at most ten
/// of each property, so that one finding does not end a run.
pub fn settle(held: Held, data: &[u8]) {
    let Err(said) = held else { return };
    let Some(folder) = std::env::var_os("FUZZ_GO_ON") else {
        // Refusing is allowed; it is noted only where notes are taken.
        assert!(said.starts_with("sweep refused") || said.starts_with("by chords"), "{said}");
        return;
    };
    let property: String =
        said.split(':').next().unwrap_or("").chars().map(|c| if c.is_alphanumeric() { c } else { '-' }).collect();
    let folder = std::path::Path::new(&folder);
    for k in 0..10 {
        let path = folder.join(format!("{property}-{k}"));
        if !path.exists() {
            let _ = std::fs::write(&path, data);
            let _ = std::fs::write(path.with_extension("said"), said);
            return;
        }
    }
}

/// Runs what must not panic. If `FUZZ_GO_ON` names a folder, a panic is noted there by its place and the run goes on.
pub fn calm(data: &[u8], run: impl FnOnce() + std::panic::UnwindSafe) {
    static PLACE: std::sync::Mutex<String> = std::sync::Mutex::new(String::new());
    static HOOK: std::sync::Once = std::sync::Once::new();
    if std::env::var_os("FUZZ_GO_ON").is_none() {
        return run();
    }
    HOOK.call_once(|| {
        std::panic::set_hook(Box::new(|panic| {
            let place = panic.location().map_or(String::new(), |l| format!("{} {}", l.file(), l.line()));
            if let Ok(mut last) = PLACE.lock() {
                *last = format!(
                    "panic {}: {}",
                    place.rsplit('/').next().unwrap_or(""),
                    panic.payload_as_str().unwrap_or("")
                );
            }
        }));
    });
    if std::panic::catch_unwind(run).is_err() {
        settle(Err(PLACE.lock().map_or(String::new(), |p| p.clone())), data);
    }
}

/// Whether rings of any kind keep to numbers of ordinary size (`FUZZ_TAME`).
pub fn tame() -> bool {
    std::env::var_os("FUZZ_TAME").is_some()
}
