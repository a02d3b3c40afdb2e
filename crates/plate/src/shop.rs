//! What the workshop has.

use crate::Cutter;
use quantity::{Feed, Length, Speed};
use serde::Serialize;

/// What a sheet is made of, for chip loads and forces.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Material {
    /// Cast acrylic (PMMA).
    CastAcrylic,
    /// Extruded acrylic (PMMA): softens sooner.
    ExtrudedAcrylic,
    /// Polycarbonate.
    Polycarbonate,
    /// Acrylonitrile butadiene styrene.
    Abs,
    /// Glycol-modified polyethylene terephthalate.
    Petg,
    /// Expanded (foamed) polyvinyl chloride.
    ExpandedPvc,
    /// High-density polyethylene.
    Hdpe,
    /// Birch plywood.
    BirchPlywood,
    /// Hardwood.
    Hardwood,
    /// Aluminium sheet.
    Aluminium,
    /// Brass sheet.
    Brass,
}

/// How the sheet was made, for the thickness tolerance assumed when it wasn't measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Process {
    /// Cast: ISO 7823-1.
    Cast,
    /// Extruded: ISO 7823-2.
    Extruded,
    /// A tolerance that the maker gives, plus or minus.
    Stated(Length),
    /// Nobody states one: what is usual for this material.
    Usual(Material),
}

/// A kind of sheet that the shop buys.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sheet {
    /// The name that plate files use.
    pub name: String,
    /// Thickness on its label.
    pub thickness: Length,
    /// Material.
    pub material: Material,
    /// How it was made.
    pub process: Process,
    /// Colour, sRGB.
    pub colour: [u8; 3],
    /// Share of light that passes at the label's thickness, 0 (opaque) to 1.
    pub passes_light: f64,
}

/// Which way cutters run along walls and outlines.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum AlongWalls {
    /// With the material on the cutter's right, so that each flute begins with its thickest chip.
    #[default]
    Climb,
    /// With the material on its left, so that each flute begins with nothing: the cut pushes the cutter back, which machines
    /// with play want.
    Conventional,
}

/// Limits and behaviour of the machine.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Machine {
    /// What the maker calls it.
    pub name: String,
    /// Travel in x, y and z.
    pub travel: [Length; 3],
    /// Greatest feed in x and y while cutting.
    pub greatest_feed: Feed,
    /// Greatest feed in z while cutting.
    pub greatest_feed_z: Feed,
    /// Speed of rapids in x and y.
    pub rapid: Feed,
    /// Speed of rapids in z.
    pub rapid_z: Feed,
    /// Acceleration in x, y and z, mm/s².
    pub acceleration: [f64; 3],
    /// By how much a corner is rounded when it is passed without stopping.
    pub corner_deviation: Length,
    /// Smallest step.
    pub resolution: Length,
    /// How far above everything a traverse runs.
    pub clearance: Length,
    /// Which way cutters run along walls.
    pub walls: AlongWalls,
    /// Side force at the cutter that the frame still bears without giving way, N, if the maker states one.
    pub side_force: Option<f64>,
    /// Time to start one program (load, jog, spindle up), s.
    pub program_start: f64,
    /// Time to change and touch off a cutter, s.
    pub cutter_change: f64,
}

/// Speeds that the spindle can run at.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SpindleSpeed {
    /// Any speed of a range.
    Range {
        /// Slowest.
        least: Speed,
        /// Fastest.
        greatest: Speed,
    },
    /// A dial with positions, slowest first.
    Dial(Vec<(String, Speed)>),
}

/// The spindle.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spindle {
    /// Its speeds.
    pub speed: SpindleSpeed,
    /// Power at the cutter, W.
    pub power: f64,
    /// Diameter of the collet nut.
    pub nut_diameter: Length,
    /// Length of the nut; above it the body of the spindle begins.
    pub nut_length: Length,
    /// Diameter of the body above the nut.
    pub body_diameter: Length,
}

/// How cutters are touched off on the table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TouchOff {
    /// Thickness of the feeler; the display is set to it.
    pub feeler: Length,
    /// By how much the feeler's thickness may be wrong, plus or minus.
    pub feeler_error: Length,
    /// By how much a touch-off repeats, plus or minus.
    pub repeatability: Length,
}

/// Units of the program text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum OutUnits {
    /// G21.
    Mm,
    /// G20.
    Inch,
}

/// How the text says the spindle's speed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SpeedNote {
    /// S words; a dial's position is noted in a comment as well.
    Words,
    /// Only a comment tells the dial's position.
    DialNote,
}

/// How programs are written for this machine.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Dialect {
    /// Units of the text.
    pub units: OutUnits,
    /// Decimals of coordinates.
    pub decimals: u8,
    /// Whether lines are numbered.
    pub line_numbers: bool,
    /// Whether arcs are written as arcs; if not, as chords within 1 µm.
    pub arcs: bool,
    /// The word that ends a program: `M30` or `M2`.
    pub end: String,
    /// S words or a note.
    pub speed: SpeedNote,
    /// File extension without the dot.
    pub extension: String,
}

/// The workshop.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shop {
    /// Its name, for the setup sheet.
    pub name: String,
    /// Cutters, in the file's order.
    pub cutters: Vec<Cutter>,
    /// The machine.
    pub machine: Machine,
    /// The spindle.
    pub spindle: Spindle,
    /// Touch-off.
    pub touch_off: TouchOff,
    /// Program dialect.
    pub dialect: Dialect,
    /// Sheets.
    pub sheets: Vec<Sheet>,
}

impl Shop {
    /// The cutter with a number.
    pub fn cutter(&self, number: u32) -> Option<&Cutter> {
        self.cutters.iter().find(|c| c.number == number)
    }

    /// The greatest cutting width among the cutters, mm.
    pub fn widest_cutter(&self) -> f64 {
        self.cutters.iter().map(|c| c.cutting_width.to_mm()).fold(0.0, f64::max)
    }
}

impl SpindleSpeed {
    /// Slowest speed.
    pub fn least(&self) -> Speed {
        match self {
            Self::Range { least, .. } => *least,
            Self::Dial(positions) => positions.iter().map(|p| p.1).reduce(Speed::min).unwrap_or(Speed::ZERO),
        }
    }

    /// Fastest speed.
    pub fn greatest(&self) -> Speed {
        match self {
            Self::Range { greatest, .. } => *greatest,
            Self::Dial(positions) => positions.iter().map(|p| p.1).reduce(Speed::max).unwrap_or(Speed::ZERO),
        }
    }
}
