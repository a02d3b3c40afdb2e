//! Real shapes to measure and test on: filled icons and lettering.

pub mod corpus;
pub mod oracle;
