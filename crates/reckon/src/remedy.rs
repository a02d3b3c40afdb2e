//! What would make it work: how well a thickness must be known, how thick a sheet must be, how small a margin must be,
//! for a floor to show its layer with the margin asked for in the worst case. Each is found by asking
//! [`floor_that_shows`](crate::margin::floor_that_shows) again with that one thing changed.

use crate::margin::{self, Stack, Thickness};
use plate::Process;
use quantity::Length;

/// The changes that would each make a floor work; what can't alone is `None`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Remedy {
    /// Every sheet that was not measured is known to plus or minus this.
    pub measured_within: Option<Length>,
    /// The layer to be shown is a sheet of at least this thickness, as well known as this one is.
    pub thickness: Option<Length>,
    /// No more than this margin is asked for.
    pub margin: Option<Length>,
}

/// A micrometer in a workshop does no better, mm (common practice, no source).
const BEST_MEASURED: f64 = 0.01;
/// How much thicker a sheet is tried, mm.
const THICKEST: u32 = 300;

/// What would make a layer of this stack show with a margin. `unmeasured` are the sheets whose thickness is only a label,
/// `process` how the sheet to be shown was made.
pub fn remedy(
    stack: &Stack,
    layer: usize,
    unmeasured: &[usize],
    process: Process,
    asked: Length,
    bow: Length,
) -> Remedy {
    let least = |stack: &Stack, margin: Length| {
        let levels = stack.levels().ok()?;
        let reveal = margin::floor_that_shows(levels.layers.get(layer)?, margin, bow).reveal;
        Some(reveal.above_worst.min(reveal.below_worst))
    };
    let keeps =
        |stack: &Stack, margin: Length| least(stack, margin).is_some_and(|l| l.to_mm() >= margin.to_mm() - 1e-9);
    let known_within = |error: Length| {
        let mut better = stack.clone();
        for &i in unmeasured {
            if let Some(sheet) = better.sheets.get_mut(i) {
                sheet.spread = sheet.spread.min(error);
            }
        }
        better
    };
    let worst = unmeasured.iter().filter_map(|&i| stack.sheets.get(i)).map(|s| s.spread.to_mm()).fold(0.0, f64::max);
    let hundredths = (worst * 100.0 + 1e-6).floor().clamp(0.0, 1e5) as u32;
    let first = (BEST_MEASURED * 100.0) as u32;
    let measured_within = (first..=hundredths)
        .rev()
        .map(|h| Length::mm(f64::from(h) / 100.0))
        .find(|&error| keeps(&known_within(error), asked));
    let thickness = stack.sheets.get(layer).and_then(|sheet| {
        let tenth = (sheet.mean.to_mm() * 10.0).floor();
        (1..=THICKEST).map(|more| Length::mm((tenth + f64::from(more)) / 10.0)).find(|&thickness| {
            let mut other = stack.clone();
            let of = if unmeasured.contains(&layer) {
                margin::labelled(thickness, process)
            } else {
                Thickness { mean: thickness, spread: sheet.spread }
            };
            if let Some(place) = other.sheets.get_mut(layer) {
                *place = of;
            }
            if let Some(total) = &mut other.total {
                total.mean = total.mean + (thickness - sheet.mean);
            }
            keeps(&other, asked)
        })
    });
    let hundredths = (asked.to_mm() * 100.0).ceil().clamp(0.0, 1e5) as u32;
    let margin = (1..hundredths).rev().map(|h| Length::mm(f64::from(h) / 100.0)).find(|&m| keeps(stack, m));
    Remedy { measured_within, thickness, margin }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Length {
        Length::mm(value)
    }

    fn known(mean: f64, spread: f64) -> Thickness {
        Thickness { mean: mm(mean), spread: mm(spread) }
    }

    /// On a tape and a touch-off that are certain: what counts is left to the sheets.
    fn stack(sheets: Vec<Thickness>) -> Stack {
        Stack {
            sheets,
            bond: known(0.05, 0.0),
            total: None,
            under: Vec::new(),
            touch_off: Vec::new(),
            wedge: Length::ZERO,
        }
    }

    /// Four cast sheets of 3 mm, none measured, the third shown: room 3 - 0.7 - 2 · 0.7 - 0.2 = 0.7 for margin 0.1, so it
    /// works; the second does not: 3 - 0.7 - 4 · 0.7 < 0. Known to ± e it needs 3 - 5 e >= 0.2: e = 0.56 (derived).
    #[test]
    fn three_millimetre_sheets_unmeasured() {
        let four = stack(vec![known(3.0, 0.7); 4]);
        let found = remedy(&four, 1, &[0, 1, 2, 3], Process::Cast, mm(0.1), Length::ZERO);
        assert_eq!(found.measured_within, Some(mm(0.56)));
        // t - (0.4 + 0.1 t) >= 0.2 + 2.8: t = 3.4 / 0.9 = 3.78, in tenths 3.8 (derived).
        assert_eq!(found.thickness, Some(mm(3.8)));
        assert_eq!(found.margin, None);
    }

    /// A layer of 0.2 mm known to ± 0.01 between measured sheets of ± 0.02: 0.2 - 0.01 - 2 · 0.02 = 0.15, so a margin of
    /// 0.07 is kept and 0.1 is not, nor by any measurement; a sheet of 0.25 would do, in tenths 0.3 (derived).
    #[test]
    fn a_reveal_of_two_tenths() {
        let thin = stack(vec![known(3.0, 0.02), known(0.2, 0.01), known(3.0, 0.02)]);
        let found = remedy(&thin, 1, &[], Process::Cast, mm(0.1), Length::ZERO);
        assert_eq!(found.measured_within, None);
        assert_eq!(found.thickness, Some(mm(0.3)));
        assert_eq!(found.margin, Some(mm(0.07)));
    }
}
