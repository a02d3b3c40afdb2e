//! read
