//! reckon
