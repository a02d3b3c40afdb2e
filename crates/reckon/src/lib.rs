//! The trade's reckoning as pure functions with their sources: load on a cutter, pace of a machine, margin and chance of a
//! layered blank. Nothing here reads files, chooses or moves anything.

pub mod calibrate;
pub mod chain;
pub mod chance;
pub mod heights;
pub mod load;
pub mod margin;
pub mod material;
pub mod pace;
pub mod remedy;
pub mod slow;
pub mod wedge;
