//! reach
