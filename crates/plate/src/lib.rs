//! plate
