//! What holds from line to line: modes, feed, speed, cutter, position.

use crate::Plane;

/// What moves where a line only holds axis words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Motion {
    /// Nothing given yet, or G80.
    None,
    Rapid,
    Line,
    Arc {
        clockwise: bool,
    },
    Probe,
    /// G81 to G89, in tenths.
    Cycle(u32),
}

impl Motion {
    /// By its code in tenths.
    pub(crate) fn of(tenths: u32) -> Self {
        match tenths {
            0 => Self::Rapid,
            10 => Self::Line,
            20 => Self::Arc { clockwise: true },
            30 => Self::Arc { clockwise: false },
            382 => Self::Probe,
            810.. => Self::Cycle(tenths),
            _ => Self::None,
        }
    }
}

/// The words of a cycle that hold on in its next lines.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Sticky {
    pub(crate) bottom: Option<f64>,
    pub(crate) level: Option<f64>,
    pub(crate) peck: Option<f64>,
    pub(crate) dwell: Option<f64>,
}

/// The last F under G94.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Feed {
    pub(crate) mm_per_min: f64,
    /// Whether the text had stated its units by then.
    pub(crate) unit_stated: bool,
    /// mm in the unit that held.
    pub(crate) unit: f64,
    /// Whether a cut has used it.
    pub(crate) used: bool,
}

/// M3, M4, M5.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Turning {
    Still,
    Clockwise,
    CounterClockwise,
}

/// All modes, as they are before the first line where the text decides nothing else.
#[derive(Debug, Clone)]
pub(crate) struct Modes {
    /// mm in a unit.
    pub(crate) unit: f64,
    pub(crate) unit_stated: bool,
    pub(crate) plane: Plane,
    pub(crate) plane_stated: bool,
    pub(crate) absolute: bool,
    pub(crate) distance_stated: bool,
    pub(crate) inverse_time: bool,
    pub(crate) motion: Motion,
    pub(crate) cycle: Sticky,
    /// True for G98, false for G99.
    pub(crate) return_to_start: Option<bool>,
    pub(crate) feed: Option<Feed>,
    pub(crate) speed: Option<f64>,
    pub(crate) turning: Turning,
    pub(crate) cutter: Option<u32>,
    /// A frame other than G54 is chosen.
    pub(crate) other_frame: bool,
    /// What G92 of this text added to positions, mm.
    pub(crate) shift: [f64; 3],
    /// Where the cutter is, mm.
    pub(crate) at: [Option<f64>; 3],
}

impl Default for Modes {
    fn default() -> Self {
        Self {
            unit: 1.0,
            unit_stated: false,
            plane: Plane::Xy,
            plane_stated: false,
            absolute: true,
            distance_stated: false,
            inverse_time: false,
            motion: Motion::None,
            cycle: Sticky::default(),
            return_to_start: None,
            feed: None,
            speed: None,
            turning: Turning::Still,
            cutter: None,
            other_frame: false,
            shift: [0.0; 3],
            at: [None; 3],
        }
    }
}

impl Plane {
    /// Its first and second axis and the one across, as indices into X Y Z.
    pub(crate) fn axes(self) -> [usize; 3] {
        match self {
            Self::Xy => [0, 1, 2],
            Self::Zx => [2, 0, 1],
            Self::Yz => [1, 2, 0],
        }
    }

    /// Its code.
    pub(crate) fn code(self) -> &'static str {
        match self {
            Self::Xy => "G17",
            Self::Zx => "G18",
            Self::Yz => "G19",
        }
    }
}
