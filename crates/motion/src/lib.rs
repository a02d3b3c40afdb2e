//! The planned moves as plain values: what a stage does, before it is text. Nothing here decides or writes.
//!
//! Frame: mm from the blank's zero corner, z above the table.

use plane::{Bounds, Point};
use quantity::{Feed, Height, Speed};

/// How long a program waits after starting the spindle, until it is up to speed, s.
pub const SPIN_UP: f64 = 3.0;

/// A position, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct At {
    /// On the blank.
    pub p: Point,
    /// Above the table.
    pub z: f64,
}

impl At {
    /// A position from a point and a height.
    pub const fn new(p: Point, z: f64) -> Self {
        Self { p, z }
    }
}

/// One planned move; it starts where the one before ended.
#[derive(Debug, Clone, PartialEq)]
pub enum Move {
    /// As fast as the machine goes; planned only straight up, straight down in a free column, or level above everything.
    Rapid(At),
    /// A straight line with a feed.
    Line {
        /// End.
        to: At,
        /// mm/min along the path.
        feed: Feed,
    },
    /// An arc about an upright axis, evenly rising or falling; never a full turn.
    Arc {
        /// End.
        to: At,
        /// Centre.
        centre: Point,
        /// Counter-clockwise seen from above.
        ccw: bool,
        /// mm/min along the path.
        feed: Feed,
    },
    /// A numbered pass begins: the text is what the maker finds in the program.
    Pass(String),
}

impl Move {
    /// Where it ends; `None` for what doesn't move.
    pub fn end(&self) -> Option<At> {
        match self {
            Self::Rapid(to) | Self::Line { to, .. } | Self::Arc { to, .. } => Some(*to),
            Self::Pass(_) => None,
        }
    }
}

/// One program.
#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    /// File name without extension: `2-corners`.
    pub name: String,
    /// What it does, in words.
    pub purpose: String,
    /// The shop's cutter number.
    pub cutter: u32,
    /// Spindle speed.
    pub speed: Speed,
    /// Dial position, if there is a dial.
    pub dial: Option<String>,
    /// Whether the spindle runs; the frame run's does not.
    pub cutting: bool,
    /// Greatest cutting feed, for the sheet.
    pub feed: Feed,
    /// Deepest pass, mm, for the sheet.
    pub pass_depth: f64,
    /// Height of traverses.
    pub traverse: Height,
    /// Height of hops between places near each other, if there are any.
    pub hop: Option<Height>,
    /// The moves. The first is a rise to the traverse height from wherever the machine stands.
    pub moves: Vec<Move>,
}

impl Stage {
    /// The box around all ends of moves with feed, on the blank.
    pub fn extents(&self) -> Bounds {
        Bounds::of(self.moves.iter().filter_map(|m| match m {
            Move::Line { to, .. } | Move::Arc { to, .. } => Some(to.p),
            Move::Rapid(_) | Move::Pass(_) => None,
        }))
    }
}
