//! The bonded blank as it lies on the table.

use crate::Sheet;
use quantity::{Height, Length};
use serde::Serialize;

/// What lies between the blank and the table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Under {
    /// Its name.
    pub name: String,
    /// Thickness.
    pub thickness: Length,
}

/// One layer, with its heights as understood.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Layer {
    /// The sheet it is cut from.
    pub sheet: Sheet,
    /// Mean thickness.
    pub thickness: Length,
    /// Plus or minus on the thickness.
    pub spread: Length,
    /// Whether the thickness was measured.
    pub measured: bool,
    /// Nominal height of its upper surface.
    pub top: Height,
    /// Plus or minus on that height, worst case, touch-off included.
    pub top_spread: Length,
    /// Nominal height of its lower surface.
    pub bottom: Height,
    /// Plus or minus on that height, worst case, touch-off included.
    pub bottom_spread: Length,
}

/// The blank.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Blank {
    /// Size in x and y.
    pub size: [Length; 2],
    /// Layers, top first.
    pub layers: Vec<Layer>,
    /// Thickness of each bond line.
    pub bond: Length,
    /// What lies under it, top first.
    pub under: Vec<Under>,
    /// Depth into the table that the plate file grants; zero without a grant.
    pub into_table: Length,
    /// Underside of the blank: the sum of what lies under it.
    pub underside: Height,
    /// Nominal height of the face.
    pub face: Height,
    /// Least height of the face that the spreads allow.
    pub face_low: Height,
    /// Greatest height of the face: thickest blank the spreads allow, with its bow. Rapids, entries and loads are
    /// judged on it.
    pub face_high: Height,
}

impl Blank {
    /// The lowest height that a program may ever reach: the table, less the grant.
    pub fn lowest(&self) -> Height {
        Height::ZERO - self.into_table
    }

    /// The layer that shows on a floor at a height on the nominal blank: the one the floor lies in; a floor in a
    /// bond line shows the layer below it. `None` at or under the underside.
    pub fn shows_at(&self, floor: Height) -> Option<usize> {
        (floor > self.underside).then(|| self.layers.iter().position(|l| floor > l.bottom)).flatten()
    }
}
