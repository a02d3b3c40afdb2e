//! Pace: time of moves under machine limits.
