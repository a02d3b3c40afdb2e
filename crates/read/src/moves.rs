//! What a program does, move by move.

use crate::{Lines, Moves};
use doubt::Doubt;

/// One of the three axes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Axis {
    /// To the right along the table.
    X,
    /// Away from the maker along the table.
    Y,
    /// Up.
    Z,
}

/// The plane of an arc.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Plane {
    /// G17.
    Xy,
    /// G18.
    Zx,
    /// G19.
    Yz,
}

/// The spindle's state during a move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spindle {
    /// Never started, or stopped by M5.
    Still,
    /// M3, with the last S word if any, rev/min.
    Clockwise(Option<f64>),
    /// M4, with the last S word if any, rev/min.
    CounterClockwise(Option<f64>),
}

/// The way from the last position to [`Move::to`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// G0: the axes need not arrive together, so the path is anywhere in the box between the ends.
    Rapid,
    /// G1: a straight line.
    Line,
    /// G2 or G3: an arc or a helix about an axis through `centre`, evenly rising along the third axis.
    Arc {
        /// In which plane it turns.
        plane: Plane,
        /// Centre in the plane's first and second axes (X Y for G17, Z X for G18, Y Z for G19), mm.
        centre: [f64; 2],
        /// Radius at the start, mm.
        radius: f64,
        /// Signed angle, radians, counter-clockwise seen from the positive third axis; a full turn
        /// where the ends coincide.
        sweep: f64,
    },
    /// G4: standing still.
    Dwell {
        /// s.
        seconds: f64,
    },
}

/// One move, all lengths in mm, in the frame of the program's zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Move {
    /// The program's line, from 1.
    pub line: u32,
    /// The way.
    pub shape: Shape,
    /// Where it starts; `None` for an axis that the program hasn't yet placed.
    pub from: [Option<f64>; 3],
    /// Where it ends; `None` for an axis that the program hasn't yet placed.
    pub to: [Option<f64>; 3],
    /// Feed along the path, mm/min; `None` for rapids and dwells. Inverse-time feeds are converted. Also `None` where a
    /// doubt says that it can't be told.
    pub feed: Option<f64>,
    /// The spindle.
    pub spindle: Spindle,
    /// The cutter named by the last T word, if any.
    pub cutter: Option<u32>,
}

/// What the text itself states; what it doesn't state is undecided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Stated {
    /// G20 or G21 came before the first move.
    pub units: bool,
    /// G17, G18 or G19 came before the first arc or drilling cycle (true if there are none).
    pub plane: bool,
    /// G90 or G91 came before the first move.
    pub distance_mode: bool,
    /// The program ends with M2, M30 or a closing %.
    pub end: bool,
}

/// A program as understood.
#[derive(Debug, Clone, PartialEq)]
pub struct Program {
    /// The file's name.
    pub file: String,
    /// In order.
    pub moves: Moves,
    /// The lines of the text, for showing; index 0 is line 1.
    pub lines: Lines,
    /// What the text states.
    pub stated: Stated,
    /// T words in order of first use, with the line.
    pub cutters: Vec<(u32, u32)>,
    /// Dial notes `(dial 3 = 18000 rev/min)` in order, with the line and the speed in rev/min: where a
    /// spindle has no speed words, this is what the maker is told to set.
    pub dial_notes: Vec<(u32, f64)>,
    /// Refusals: text that is not legal. Cautions with an id that begins `undecided-`: legal but beyond the subset.
    pub doubts: Vec<Doubt>,
}

impl Program {
    /// The same program with its zero that much higher, mm: what was a height above the blank's face becomes a height
    /// above the table.
    #[must_use]
    pub fn raised(self, by: f64) -> Self {
        Self { moves: self.moves.raised(by), ..self }
    }
}
