//! How finely is proven and in how much memory: the pitch chosen or asked for, the size told before anything of it is in
//! memory, and the way out where it is too much.

use doubt::{Doubt, Kind};
use plate::{Intent, Shop};
use proof::{Pitch, Settings, Size, Watch};
use quantity::trimmed;
use read::Program;

/// The proof needs more memory than it may take.
pub const PROOF_TOO_LARGE: Kind = Kind {
    id: "proof-too-large",
    title: "The proof would take too much memory",
    page: "Before it begins the prover reckons the memory it stays below from the blank, the pitch of its grid, the walls and the \
           moves of the programs. It is more than --memory allows, so nothing was proven. Take a coarser --pitch (walls are proven by \
           probes to the micrometre whatever the pitch), prove fewer programs at once, or allow more memory where the computer has it.",
};

/// Memory that a proof may take if nothing else is said, bytes: what a workshop's computer with 8 GB can spare.
pub const MEMORY: u64 = 4_000_000_000;
/// Pitches that are tried for a way out, mm.
const COARSER: [f64; 6] = [0.03, 0.04, 0.05, 0.06, 0.08, 0.1];

/// Coarsest and finest pitch of a first answer, mm: that of `--pitch`, and the coarsest that is chosen for a proof.
const COARSE: [f64; 2] = [0.04, 0.1];
/// Cells of a first answer to the finest cutter's radius.
const TO_RADIUS: f64 = 4.0;

/// The settings of a first answer: four cells to the radius of the finest cutter.
pub(crate) fn coarse(shop: &Shop, intent: &Intent) -> Settings {
    let radii = intent.cutters.iter().filter_map(|&n| shop.cutter(n)).map(plate::Cutter::radius);
    let wanted = (radii.fold(f64::INFINITY, f64::min) / TO_RADIUS).clamp(COARSE[0], COARSE[1]);
    let pitch = (wanted * 1000.0).round() / 1000.0;
    Settings { pitch, ..Settings::default() }
}

/// How finely is proven, in how much memory.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effort {
    /// Pitch of the grid, mm; chosen from the finest cutter and the thinnest wall where none is asked for.
    pub pitch: Option<f64>,
    /// Pitch of the pictures, mm.
    pub picture_pitch: f64,
    /// The most memory that proving may take, bytes.
    pub memory: u64,
}

impl Default for Effort {
    fn default() -> Self {
        Self { pitch: None, picture_pitch: Settings::default().picture_pitch, memory: MEMORY }
    }
}

impl From<&Settings> for Effort {
    /// Exactly so, whatever it takes.
    fn from(settings: &Settings) -> Self {
        Self { pitch: Some(settings.pitch), picture_pitch: settings.picture_pitch, memory: u64::MAX }
    }
}

/// What is settled before a proof begins.
pub(crate) struct Settled {
    pub(crate) settings: Settings,
    pub(crate) size: Size,
    why: String,
}

impl Settled {
    /// Why the proof has its pitch, for the packet.
    pub(crate) fn why(&self, pitch: f64) -> String {
        if pitch > self.settings.pitch * 1.001 {
            return "since the blank has too many cells at a finer pitch".to_owned();
        }
        self.why.clone()
    }
}

impl Effort {
    /// Settles the pitch and tells the size; a doubt if it is more than allowed.
    pub(crate) fn settle(
        &self,
        shop: &Shop,
        intent: &Intent,
        programs: &[Program],
        named: &[(Option<u32>, bool)],
        watch: &dyn Watch,
    ) -> Result<Settled, Box<Doubt>> {
        let Pitch { mm: pitch, why } = match self.pitch {
            Some(mm) => Pitch { mm, why: "as asked for".to_owned() },
            None => proof::fitting_pitch(shop, intent),
        };
        let settings = Settings { pitch, picture_pitch: self.picture_pitch };
        let size_at = |pitch: f64| {
            let settings = Settings { pitch, ..settings };
            proof::size(shop, intent, programs, named, &settings)
        };
        let size = size_at(pitch);
        if size.bytes <= self.memory {
            watch.begins(&size);
            return Ok(Settled { settings, size, why });
        }
        let fits = COARSER.into_iter().filter(|&p| p > pitch * 1.01).find(|&p| size_at(p).bytes <= self.memory);
        let more = format!("allow it with --memory \"{} MB\" if the computer has it", size.megabytes());
        let way_out = match fits {
            Some(coarser) => format!("take a coarser grid with --pitch {coarser}, or {more}"),
            None if programs.len() > 1 => format!("prove fewer programs at once, or {more}"),
            None => more,
        };
        let message = format!(
            "proving {} million cells of {} mm may take {} MB, and {} MB are allowed",
            trimmed(size.cells as f64 / 1e6, 1),
            trimmed(size.pitch, 4),
            size.megabytes(),
            self.memory / 1_000_000
        );
        Err(Box::new(PROOF_TOO_LARGE.refusal(message).way_out(way_out)))
    }
}
