//! What a screen draws by itself: the bare plate as pixels without words, and a section as numbers.

use crate::above::View;
use crate::ink::{self, Encoder, GROUND};
use crate::section;
use crate::{raster, relief};
use plane::Bounds;
use plate::{Blank, Intent};
use proof::HeightMap;

/// Most pixels across of [`bare_plate`].
pub const LARGEST_WIDTH: u32 = 4096;
/// Most pixels of a bare plate.
const MOST: f64 = 16e6;

/// What a picture of the whole plate shows, mm on the blank: the blank and the holds near it.
pub fn window(intent: &Intent) -> Bounds {
    View::of_blank(intent, 0.0, 0.0, 0.0, 1.0, 1.0).window
}

/// The model within a window as PNG bytes, so many pixels wide, without words, marks or holds; where no plate is, `bare`
/// shows. Nothing if the window or the width is out of bounds.
pub fn bare_plate(blank: &Blank, map: &HeightMap, window: Bounds, width: u32, bare: [u8; 3]) -> Vec<u8> {
    let per_mm = f64::from(width) / window.width();
    let sound = (1..=LARGEST_WIDTH).contains(&width) && per_mm.is_finite() && window.height() > 0.0;
    if !sound || f64::from(width) * per_mm * window.height() > MOST {
        return Vec::new();
    }
    raster::pixels_png(&relief::picture_on(map, blank, window, per_mm, GROUND, bare))
}

/// What is seen looking straight down on floors at even steps from the underside up to the face, so many of them: sRGB, by the
/// sheets that lie open there.
pub fn floor_colours(blank: &Blank, steps: usize) -> Vec<[u8; 3]> {
    let (low, high) = (blank.underside.to_mm(), blank.face.to_mm());
    let encoder = Encoder::new();
    let bare = ink::linear(GROUND);
    let of = |step: usize| {
        let floor = low + (high - low) * step as f64 / steps.saturating_sub(1).max(1) as f64;
        relief::seen(blank, floor, GROUND).unwrap_or(bare).map(|light| encoder.byte(light))
    };
    (0..steps).map(of).collect()
}

/// A section through the model along a line in x or in y.
#[derive(Debug, Clone, PartialEq)]
pub struct LineCut {
    /// Whether the line runs in x (else in y).
    pub along_x: bool,
    /// The line's y (or x), mm on the blank.
    pub at: f64,
    /// The pieces of each layer, top first, each a ring of (mm along the line, mm above the table).
    pub layers: Vec<Vec<Vec<(f64, f64)>>>,
    /// Heights of the floors it crosses, mm above the table, highest first; through cuts left out.
    pub floors: Vec<f64>,
}

/// The section along a line at a place, mm; `None` without a model or beside it.
pub fn line_cut(blank: &Blank, map: &HeightMap, along_x: bool, at: f64) -> Option<LineCut> {
    section::at(map, blank, along_x, at).map(|cut| in_layers(blank, cut))
}

/// The section that crosses the most floors, the one that the packet's picture shows.
pub fn telling_line(blank: &Blank, map: &HeightMap) -> Option<LineCut> {
    section::most_telling(map, blank).map(|cut| in_layers(blank, cut))
}

fn in_layers(blank: &Blank, cut: section::Cut) -> LineCut {
    let of = |l: &plate::Layer| section::pieces(&cut.profile, l.bottom.to_mm(), l.top.to_mm());
    LineCut { along_x: cut.along_x, at: cut.at, layers: blank.layers.iter().map(of).collect(), floors: cut.floors }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_out_of_bounds_is_drawn() {
        let window = Bounds { min: plane::Point::new(0.0, 0.0), max: plane::Point::new(10.0, 5.0) };
        let layer_less = Blank {
            size: [quantity::Length::mm(10.0), quantity::Length::mm(5.0)],
            layers: Vec::new(),
            bond: quantity::Length::ZERO,
            under: Vec::new(),
            into_table: quantity::Length::ZERO,
            underside: quantity::Height::ZERO,
            face: quantity::Height::mm(3.0),
            face_low: quantity::Height::mm(3.0),
            face_high: quantity::Height::mm(3.0),
        };
        let map = HeightMap::default();
        for width in [0, LARGEST_WIDTH + 1, u32::MAX] {
            assert!(bare_plate(&layer_less, &map, window, width, [0; 3]).is_empty());
        }
        let empty = Bounds { min: window.max, max: window.min };
        assert!(bare_plate(&layer_less, &map, empty, 100, [0; 3]).is_empty());
        assert!(bare_plate(&layer_less, &map, window, 100, [0; 3]).starts_with(b"\x89PNG"));
        assert_eq!(line_cut(&layer_less, &map, true, 1.0), None);
        assert_eq!(telling_line(&layer_less, &map), None);
    }
}
