//! The domain as plain values: what the shop has, what the blank is, and what the plate shall be.
//!
//! Nothing here reads files, chooses heights or moves a cutter. Frame: mm from the blank's zero corner
//! (its lower left as it lies on the table), x to the right, y away from the maker; heights above the
//! table. Lengths inside plane geometry are bare f64 in mm.

mod blank;
mod cutter;
mod intent;
mod shop;

pub use blank::{Blank, Layer, Under};
pub use cutter::{Cutter, Form};
pub use intent::{
    Area, EdgeProfile, FloorKind, Held, Hold, Intent, Letters, Miss, Narrow, Outline, Reveal, Strokes, Tabs,
};
pub use shop::{
    AlongWalls, Dialect, Machine, Material, OutUnits, Process, Sheet, Shop, SpeedNote, Spindle, SpindleSpeed, TouchOff,
};
