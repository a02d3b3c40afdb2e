//! Text in a named font file to outlines in mm, on a straight line, along a path, or round an arc.
//!
//! Shaping (kerning, ligatures, marks) is by `rustybuzz`. No font of the machine is ever looked for: the caller gives
//! the file's bytes. A letter is never bent or mirrored: each is set down as it is, turned to the line it stands on. What
//! a font lacks is an error with the characters' names, never an empty box.
//!
//! The one idea needed: a [`Line`] is set once on a straight baseline; a list of [`Place`]s, one for each of its letters, says
//! where they stand; [`Line::region`] gives the area they cover together.
//!
//! # Tolerance
//! Outlines are flattened within [`plane::FLATTEN`] and fitted with arcs within [`plane::FIT`], in mm and at the size
//! they have, and moved as they are. Letters that run into each other are joined before they are fitted, so that they spend no
//! more.

mod font;
mod line;
mod track;

pub use font::{CapHeight, Font, FontFault, LARGEST_FONT};
pub use line::{Align, Letter, Line, MOST_LETTERS, Place, TextFault};
pub use track::{OffTrack, Track};

pub(crate) use font::{shape, traces};

use plane::Region;
use quantity::Length;

/// The region of each letter of a text, set on a straight baseline from (0, 0), in order, with capitals of a height.
///
/// Letters without ink, such as spaces, are left out. Marks belong to the letter they stand on, and a ligature is one letter.
pub fn outline(text: &str, font: &Font<'_>, cap_height: Length) -> Result<Vec<Region>, TextFault> {
    let line = Line::set(font, text, cap_height, Length::ZERO)?;
    let places = line.straight(plane::Point::default(), 0.0, Align::Pen);
    let each = line.letters().iter().zip(&places).map(|(letter, place)| letter.region_at(*place));
    Ok(each.filter(|r| !r.is_empty()).collect())
}
