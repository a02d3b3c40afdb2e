//! Heights of passes: equal steps within the safe depth, none ending in a bond line.

use plate::Blank;

/// Heights of the passes from `top` down to `bottom`, mm, lowest last.
pub(crate) fn levels(blank: &Blank, top: f64, bottom: f64, depth: f64) -> Vec<f64> {
    let least = (((top - bottom) / depth.max(1e-3)) - 1e-9).ceil().clamp(1.0, 10_000.0) as usize;
    let equal = |count: usize| -> Vec<f64> {
        (1..=count).map(|i| if i == count { bottom } else { top + (bottom - top) * i as f64 / count as f64 }).collect()
    };
    // A few more passes move the heights off a bond line; if none does, the least number stays.
    (least..least + 4)
        .map(equal)
        .find(|l| l[..l.len() - 1].iter().all(|&z| !in_bond(blank, z)))
        .unwrap_or_else(|| equal(least))
}

/// Whether a height lies in a bond line, its spread included.
pub(crate) fn in_bond(blank: &Blank, z: f64) -> bool {
    blank.layers.windows(2).any(|w| {
        let (upper, lower) = (&w[0], &w[1]);
        let spread = upper.bottom_spread.to_mm().max(lower.top_spread.to_mm()).min(0.2);
        z < upper.bottom.to_mm() + spread && z > lower.top.to_mm() - spread
    })
}
