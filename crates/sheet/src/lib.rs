//! Pictures of the plate and the setup sheet. This crate decides nothing: it draws what the proof found and prints
//! what was decided elsewhere.
//!
//! Every picture shows the proof's model, never the intent, so that a wrong program shows. A drawing is a list of
//! marks ([`drawing`]) that becomes PNG pixels or PDF pages alike. The same input gives the same bytes: no dates, no
//! system fonts, no random identifiers. Frames and units are those of `plate`: mm from the blank's zero corner,
//! heights above the table.

mod above;
mod before_after;
mod blocks;
mod clip;
mod drawing;
mod flow;
mod hand;
mod ink;
mod job;
mod lettering;
mod notes;
mod numbers;
mod order;
mod page;
mod paths;
mod pictures;
mod raster;
mod relief;
mod screen;
mod section;
mod setup;
mod spot;
mod steps;

pub use before_after::{TakesAway, before_after};
pub use job::{Job, ReachRow, StageWords, SubsetRow};
pub use order::{About, Piece, Step, before, cautions, order};
pub use paths::paths;
pub use pictures::{after_stage, face, hand_work, section};
pub use screen::{LARGEST_WIDTH, LineCut, bare_plate, floor_colours, line_cut, telling_line, window};
pub use setup::setup_sheet;
pub use spot::{SpotPicture, spot};
