//! Margin: layers and their tolerances.
