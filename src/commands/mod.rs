//! One module a command. Each prints what came of it and gives the exit status.

pub(crate) mod calibrate;
pub(crate) mod demo;
pub(crate) mod explain;
pub(crate) mod look;
pub(crate) mod new;
pub(crate) mod packet;
pub(crate) mod page;
pub(crate) mod prove;
pub(crate) mod reach;
mod show;
pub(crate) mod why;
