//! A served plate, attacked and edited by plain sockets.

#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

mod attacks;
mod changes;
mod common;
mod edits;
mod machine;
mod seen;
mod tablet;
