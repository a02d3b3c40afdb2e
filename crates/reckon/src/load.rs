//! Load: chip, force, deflection, safe depth.
