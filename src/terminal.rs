//! What the terminal shows while something runs, and Ctrl-C.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::{IsTerminal, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Done, and proven where there is something to prove.
pub(crate) const DONE: u8 = 0;
/// Refused or undecided.
pub(crate) const REFUSED: u8 = 1;
/// Bad usage or unreadable input.
pub(crate) const UNREADABLE: u8 = 2;
/// Stopped by Ctrl-C.
pub(crate) const STOPPED: u8 = 130;

/// Progress on the terminal, and whether the maker asked to stop.
pub(crate) struct Stop {
    stopped: Arc<AtomicBool>,
    bar: ProgressBar,
}

impl Stop {
    /// Listens for Ctrl-C. The second one ends the program at once.
    pub(crate) fn on_ctrl_c(quiet: bool) -> Self {
        let stopped = Arc::new(AtomicBool::new(false));
        let flag = Arc::clone(&stopped);
        // Where no handler can be set, Ctrl-C ends the program as the system does; nothing is half written either way.
        let _ = ctrlc::set_handler(move || {
            if flag.swap(true, Ordering::SeqCst) {
                std::process::exit(i32::from(STOPPED));
            }
        });
        let target = if quiet { ProgressDrawTarget::hidden() } else { ProgressDrawTarget::stderr() };
        let bar = ProgressBar::with_draw_target(Some(1000), target);
        if let Ok(style) = ProgressStyle::with_template("{msg:20} {wide_bar} {percent:>3} %") {
            bar.set_style(style);
        }
        Self { stopped, bar }
    }

    /// Says what is being done.
    pub(crate) fn doing(&self, words: &'static str) {
        self.bar.set_position(0);
        self.bar.set_message(words);
    }

    /// Clears the bar.
    pub(crate) fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

impl proof::Watch for Stop {
    fn progress(&self, share: f64) {
        self.bar.set_position((share.clamp(0.0, 1.0) * 1000.0) as u64);
    }

    fn begins(&self, size: &proof::Size) {
        let cells = quantity::trimmed(size.cells as f64 / 1e6, 1);
        self.bar.set_message(format!("proving {cells} million cells in less than {} MB", size.megabytes()));
    }

    fn stopped(&self) -> bool {
        self.stopped.load(Ordering::SeqCst)
    }
}

/// Prints to standard output; a closed pipe is no mistake.
pub(crate) fn say(text: &str) {
    let mut out = std::io::stdout().lock();
    let _ = writeln!(out, "{text}");
}

/// Prints a JSON document.
pub(crate) fn say_json(value: &serde_json::Value) {
    say(&serde_json::to_string_pretty(value).unwrap_or_default());
}

/// Whether text may be coloured.
pub(crate) fn colour() -> bool {
    std::io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none()
}
