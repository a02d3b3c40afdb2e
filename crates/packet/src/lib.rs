//! packet
