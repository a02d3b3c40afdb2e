//! motion
