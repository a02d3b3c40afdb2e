//! Margin: how thick the layers of a blank really are, how high their surfaces lie above the table, and where a
//! floor must lie so that it shows the layer asked for.
//!
//! Every thickness is a middle with a plus or minus. Heights add them up from the table, so their errors add up
//! too: in the *worst case* plainly (all errors the same way), by *root-sum-square* as independent errors do
//! (sqrt of the sum of squares). Rapids, colours and webs are judged on the worst case; the root-sum-square figure
//! tells how likely trouble is. A measured total closes the stack from above: each surface then lies in the
//! overlap of what the layers under it and what the total less the layers over it allow.
//!
//! Sheet tolerances: cast ISO 7823-1, ±(0.4 + 0.1 t) mm (second-hand); extruded ISO 7823-2, ±5 % from 3 mm and
//! ±10 % below (from memory).

use plate::{Process, Reveal};
use quantity::{Height, Length};
use serde::Serialize;

/// How far a through cut goes below the underside if there is room, mm (common practice, no source).
pub const OVERCUT: f64 = 0.15;
/// What an overcut leaves of what lies under the blank at the least, mm (common practice, no source).
pub const LEAVES_UNDER: f64 = 0.02;
/// How much deeper than the underside's spread a through cut goes if there is room, mm (common practice, no source).
pub const SURE_BY: f64 = 0.05;

/// A length with a plus or minus.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Thickness {
    /// The middle.
    pub mean: Length,
    /// Plus or minus, worst case.
    pub spread: Length,
}

/// A height above the table with its spreads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surface {
    /// The middle.
    pub height: Height,
    /// Plus or minus, worst case, touch-off included.
    pub worst: Length,
    /// Plus or minus by root-sum-square, touch-off included.
    pub rss: Length,
}

/// A layer between its two surfaces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// Its upper surface.
    pub top: Surface,
    /// Its lower surface.
    pub bottom: Surface,
}

/// What is known of a bonded blank before it is cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Stack {
    /// Sheets, top first.
    pub sheets: Vec<Thickness>,
    /// Each bond line.
    pub bond: Thickness,
    /// The bonded whole, if it was measured.
    pub total: Option<Thickness>,
    /// What lies between blank and table, in any order.
    pub under: Vec<Thickness>,
    /// Every further error of a height: touch-off repeatability, feeler thickness.
    pub touch_off: Vec<Length>,
    /// By how much the bonded blank is thicker or thinner at its corners than in its middle; it may be in any layer, so
    /// it counts once in every surface above the underside.
    pub wedge: Length,
}

/// The surfaces of a [`Stack`].
#[derive(Debug, Clone, PartialEq)]
pub struct Levels {
    /// Layers, top first.
    pub layers: Vec<Level>,
    /// The blank's underside.
    pub underside: Surface,
    /// The blank's face.
    pub face: Surface,
}

/// The measured total and the sum of the layers contradict each other: no thicknesses within the spreads give both.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contradiction {
    /// The layers and bond lines added up.
    pub sum: Thickness,
    /// The measured total.
    pub total: Thickness,
    /// Bond line that would make both agree.
    pub bond: Length,
}

/// A floor chosen to show a layer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShowingFloor {
    /// Where.
    pub floor: Height,
    /// By how much it shows the layer.
    pub reveal: Reveal,
}

/// A depth below the face chosen to show a layer.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ShowingDepth {
    /// How deep below the face.
    pub depth: Length,
    /// From the floor up to the layer's upper surface at its lowest, worst case.
    pub above_worst: Length,
    /// From the floor down to its lower surface at its highest, worst case.
    pub below_worst: Length,
}

/// A step in a floor.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Step {
    /// Worst case.
    pub worst: Length,
    /// By root-sum-square.
    pub rss: Length,
}

/// A thickness from readings: their mean; plus or minus the reading farthest from it and the error of the
/// micrometer. `None` without readings.
pub fn measured(readings: &[Length], micrometer: Length) -> Option<Thickness> {
    let sum = readings.iter().copied().reduce(|a, b| a + b)?;
    let mean = Length::mm(rounded(sum.to_mm() / readings.len() as f64));
    let farthest = readings.iter().map(|&r| (r.to_mm() - mean.to_mm()).abs()).fold(0.0, f64::max);
    Some(Thickness { mean, spread: Length::mm(rounded(farthest)) + micrometer })
}

/// A thickness from the label and the tolerance of the process: cast ISO 7823-1, ±(0.4 + 0.1 t) mm; extruded
/// ISO 7823-2, ±5 % from 3 mm, ±10 % below; other materials what is usual for them. Never more than the label: a sheet is not thinner than nothing.
pub fn labelled(label: Length, process: Process) -> Thickness {
    let t = label.to_mm();
    let spread = match process {
        Process::Cast => 0.4 + 0.1 * t,
        Process::Extruded if t >= 3.0 => 0.05 * t,
        Process::Extruded => 0.1 * t,
        Process::Stated(spread) => spread.to_mm(),
        Process::Usual(material) => {
            let (mm, share, _) = crate::material::stock_of(material).tolerance.unwrap_or((0.4, 0.1, ""));
            mm + share * t
        }
    };
    Thickness { mean: label, spread: Length::mm(rounded(spread.min(t))) }
}

/// Worst-case sum of independent errors.
pub fn worst(errors: &[Length]) -> Length {
    errors.iter().fold(Length::ZERO, |sum, &e| sum + e)
}

/// Root-sum-square of independent errors.
pub fn root_sum_square(errors: &[Length]) -> Length {
    Length::mm(libm::sqrt(errors.iter().map(|e| e.to_mm() * e.to_mm()).sum()))
}

impl Stack {
    /// The same blank counted from its face, upside down: heights are depths below the face, nothing lies under it, and
    /// layer 0 is the lowest sheet. The touch-off is as good there as on the table.
    pub fn from_face(&self) -> Self {
        Self { sheets: self.sheets.iter().rev().copied().collect(), under: Vec::new(), ..self.clone() }
    }

    /// The layers and bond lines added up, without the total.
    pub fn sum(&self) -> Thickness {
        let items = self.items();
        let mean = items.iter().fold(Length::ZERO, |sum, i| sum + i.mean);
        Thickness { mean: Length::mm(rounded(mean.to_mm())), spread: worst(&spreads(&items)) }
    }

    /// Heights of all surfaces.
    ///
    /// # Errors
    /// A [`Contradiction`] if the measured total cannot be reached by the layers within their spreads.
    pub fn levels(&self) -> Result<Levels, Contradiction> {
        let items = self.items();
        if let Some(total) = self.total {
            let sum = self.sum();
            let apart = (total.mean - sum.mean).to_mm();
            // A nanometre more than the spreads is the arithmetic's, not the maker's.
            if apart.abs() > (total.spread + sum.spread + self.wedge).to_mm() + 1e-6 {
                let bonds = (self.sheets.len().saturating_sub(1)).max(1) as f64;
                return Err(Contradiction { sum, total, bond: self.bond.mean + Length::mm(apart) / bonds });
            }
        }
        let surfaces: Vec<Surface> = (0..=items.len()).map(|below| self.surface(&items, below)).collect();
        // Items run bottom-up as sheet, bond, sheet, ...: sheet number k from the bottom is item 2 k.
        let layers = (0..self.sheets.len()).rev().map(|k| Level { bottom: surfaces[2 * k], top: surfaces[2 * k + 1] });
        let face = surfaces.last().copied().unwrap_or(surfaces[0]);
        Ok(Levels { layers: layers.collect(), underside: surfaces[0], face })
    }

    /// Sheets and bond lines from the bottom up.
    fn items(&self) -> Vec<Thickness> {
        let mut items = Vec::with_capacity(self.sheets.len() * 2);
        for (i, &sheet) in self.sheets.iter().rev().enumerate() {
            if i > 0 {
                items.push(self.bond);
            }
            items.push(sheet);
        }
        items
    }

    /// The surface with `below` items under it.
    fn surface(&self, items: &[Thickness], below: usize) -> Surface {
        let sum = |part: &[Thickness]| part.iter().map(|i| i.mean.to_mm()).sum::<f64>();
        let (lower, upper) = items.split_at(below);
        let with_wedge = |part: &[Thickness]| {
            let mut errors = spreads(part);
            if !part.is_empty() {
                errors.push(self.wedge);
            }
            errors
        };
        let below_it = with_wedge(lower);
        let (mut middle, mut half) = (sum(lower), worst(&below_it).to_mm());
        let mut likely = root_sum_square(&below_it).to_mm();
        if let Some(total) = self.total {
            let mut above = spreads(upper);
            above.extend([total.spread, self.wedge]);
            let (from_top, reach) = (total.mean.to_mm() - sum(upper), worst(&above).to_mm());
            let (low, high) = ((middle - half).max(from_top - reach), (middle + half).min(from_top + reach));
            let centre = (low + high) / 2.0;
            // Either estimate's own root-sum-square, moved to the centre of what both allow.
            likely = (likely + (centre - middle).abs())
                .min(root_sum_square(&above).to_mm() + (centre - from_top).abs())
                .min((high - low).max(0.0) / 2.0);
            (middle, half) = (centre, (high - low).max(0.0) / 2.0);
        }
        let mut further = spreads(&self.under);
        further.extend_from_slice(&self.touch_off);
        let mut squares = further.clone();
        squares.push(Length::mm(likely));
        Surface {
            height: Height::mm(rounded(sum(&self.under) + middle)),
            worst: Length::mm(rounded(half + worst(&further).to_mm())),
            rss: root_sum_square(&squares),
        }
    }
}

/// The highest floor, down to 0.01 mm, that shows a layer with the margin asked for on both sides; where the layer
/// is too thin for that, the middle of what the worst case leaves, whose reveal then shows less than the margin
/// (or less than nothing). `bow` is by how much the blank may stand up from where it lies: the layer's surfaces
/// can then only be higher.
pub fn floor_that_shows(level: &Level, margin: Length, bow: Length) -> ShowingFloor {
    let floor = best_floor(level, margin, bow, hundredths_down);
    ShowingFloor { floor, reveal: reveal(level, floor, bow) }
}

/// The same without rounding down.
pub fn exact_floor_that_shows(level: &Level, margin: Length, bow: Length) -> ShowingFloor {
    let floor = best_floor(level, margin, bow, rounded);
    ShowingFloor { floor, reveal: reveal(level, floor, bow) }
}

fn best_floor(level: &Level, margin: Length, bow: Length, round: impl Fn(f64) -> f64) -> Height {
    let top = (level.top.height - level.top.worst).to_mm();
    let bottom = (level.bottom.height + level.bottom.worst + bow).to_mm();
    let wished = round(top - margin.to_mm());
    let keeps = wished >= bottom + margin.to_mm() - 1e-9;
    Height::mm(if keeps { wished } else { round((top + bottom) / 2.0) })
}

/// A floor counted from the face, chosen as [`floor_that_shows`] does from the table: the least depth, up to 0.01 mm,
/// that keeps the margin on both sides, else the middle. `level` is one of [`Stack::from_face`]: its upper surface in
/// that upside-down stack is the layer's lower one. Where the blank bows, places may lie lower or higher than the one
/// touched off on, so the bow counts both ways.
pub fn depth_that_shows(level: &Level, margin: Length, bow: Length) -> ShowingDepth {
    let low = (level.bottom.height + level.bottom.worst + bow).to_mm();
    let high = (level.top.height - level.top.worst - bow).to_mm();
    let up = |mm: f64| -hundredths_down(-mm);
    let wished = up(low + margin.to_mm());
    let depth = if wished <= high - margin.to_mm() + 1e-9 { wished } else { up((low + high) / 2.0) };
    ShowingDepth {
        depth: Length::mm(depth),
        above_worst: Length::mm(rounded(depth - low)),
        below_worst: Length::mm(rounded(high - depth)),
    }
}

/// The step that a floor may show where two cutters meet that were touched off one by one: the sum of both
/// repeatabilities in the worst case, their root-sum-square as what is likely. The feeler is the same for both, so its
/// error makes no step.
pub fn floor_step(first: Length, second: Length) -> Step {
    Step { worst: worst(&[first, second]), rss: root_sum_square(&[first, second]) }
}

/// By how much the machine's step may be wrong about heights in whole hundredths: nothing if both a hundredth and the
/// feeler's thickness, from which it counts, are whole steps; else half a step. Motors stand still at whole steps only.
pub fn step_error(step: Length, feeler: Length) -> Length {
    let whole = |mm: f64| {
        let steps = mm / step.to_mm();
        (steps - steps.round()).abs() < 1e-6
    };
    if step <= Length::ZERO || (whole(0.01) && whole(feeler.to_mm())) { Length::ZERO } else { step / 2.0 }
}

/// By how much a floor lies inside a layer; how likely it misses it is [`Layered::miss`](crate::chance::Layered::miss).
pub fn reveal(level: &Level, floor: Height, bow: Length) -> Reveal {
    let tidy = |l: Length| Length::mm(rounded(l.to_mm()));
    let (above, below) = (level.top.height - floor, floor - level.bottom.height - bow);
    Reveal {
        above_worst: tidy(above - level.top.worst),
        below_worst: tidy(below - level.bottom.worst),
        above_rss: tidy(above - level.top.rss),
        below_rss: tidy(below - level.bottom.rss),
        miss: None,
    }
}

fn spreads(items: &[Thickness]) -> Vec<Length> {
    items.iter().map(|i| i.spread).collect()
}

/// Sums of decimal figures without the dust of binary ones: to 1e-9 mm.
fn rounded(mm: f64) -> f64 {
    (mm * 1e9).round() / 1e9
}

/// Down to whole hundredths of a mm; a figure that is one but for binary dust stays.
fn hundredths_down(mm: f64) -> f64 {
    rounded((mm * 100.0 + 1e-6).floor() / 100.0)
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

    fn near(value: f64, expected: f64, tolerance: f64) {
        assert!((value - expected).abs() <= tolerance, "{value} is not {expected}");
    }

    /// Cast sheet, ISO 7823-1, ±(0.4 + 0.1 t): t 3: 2.3 to 3.7; 5: 4.1 to 5.9; 6: 5.0 to 7.0; 10: 8.6 to 11.4
    /// (second-hand).
    #[test]
    fn cast_sheet_tolerance() {
        for (t, least, greatest) in [(3.0, 2.3, 3.7), (5.0, 4.1, 5.9), (6.0, 5.0, 7.0), (10.0, 8.6, 11.4)] {
            let sheet = labelled(mm(t), Process::Cast);
            near((sheet.mean - sheet.spread).to_mm(), least, 1e-9);
            near((sheet.mean + sheet.spread).to_mm(), greatest, 1e-9);
        }
    }

    /// Extruded sheet, ISO 7823-2, ±5 % from 3 mm, ±10 % below (from memory).
    #[test]
    fn extruded_sheet_tolerance() {
        for (t, spread) in [(2.0, 0.2), (3.0, 0.15), (5.0, 0.25)] {
            near(labelled(mm(t), Process::Extruded).spread.to_mm(), spread, 1e-9);
        }
        assert_eq!(labelled(mm(3.0), Process::Stated(mm(0.1))).spread, mm(0.1));
        assert_eq!(labelled(mm(0.2), Process::Cast).spread, mm(0.2));
    }

    /// ±0.7, ±0.9, ±0.05: worst case, their sum, 1.65; root-sum-square 1.14127 (derived).
    #[test]
    fn stacking() {
        let errors = [mm(0.7), mm(0.9), mm(0.05)];
        near(worst(&errors).to_mm(), 1.65, 1e-9);
        near(root_sum_square(&errors).to_mm(), 1.141_27, 1e-5);
    }

    /// The same three errors as uniform ones by a deterministic sweep: sd 0.65891 (sqrt of the sum of a²/3, derived),
    /// so the root-sum-square of half-widths is sqrt(3) standard deviations.
    #[test]
    fn root_sum_square_is_three_variances() {
        let (n, a) = (40, [0.7, 0.9, 0.05]);
        let at = |i: usize, a: f64| a * ((2 * i + 1) as f64 / n as f64 - 1.0);
        let squares = (0..n * n * n).map(|i| at(i % n, a[0]) + at(i / n % n, a[1]) + at(i / n / n, a[2]));
        let sd = libm::sqrt(squares.map(|e| e * e).sum::<f64>() / (n * n * n) as f64);
        near(sd, 0.658_91, 3e-4);
        near(root_sum_square(&a.map(mm)).to_mm(), sd * libm::sqrt(3.0), 1e-3);
    }

    /// Readings 2.91, 2.95, 2.93: mean 2.93, farthest 0.02 off (derived).
    #[test]
    fn readings() {
        let sheet = measured(&[mm(2.91), mm(2.95), mm(2.93)], mm(0.01)).unwrap();
        near(sheet.mean.to_mm(), 2.93, 1e-9);
        near(sheet.spread.to_mm(), 0.03, 1e-9);
        assert!(measured(&[], mm(0.01)).is_none());
    }

    fn two_sheets(total: Option<Thickness>) -> Stack {
        Stack {
            sheets: vec![known(2.93, 0.03), known(3.0, 0.7)],
            bond: known(0.05, 0.02),
            total,
            under: vec![known(0.2, 0.02)],
            touch_off: vec![mm(0.02), mm(0.01)],
            wedge: Length::ZERO,
        }
    }

    /// Derived: underside 0.2 ± (0.02 + 0.03); ruby's top 3.2 ± 0.75; black's bottom 3.25 ± 0.77; face 6.18 ± 0.80.
    #[test]
    fn heights_from_the_table() {
        let levels = two_sheets(None).levels().unwrap();
        let expected = [
            (levels.underside, 0.2, 0.05),
            (levels.layers[1].bottom, 0.2, 0.05),
            (levels.layers[1].top, 3.2, 0.75),
            (levels.layers[0].bottom, 3.25, 0.77),
            (levels.face, 6.18, 0.80),
            (levels.layers[0].top, 6.18, 0.80),
        ];
        for (surface, height, spread) in expected {
            near(surface.height.to_mm(), height, 1e-9);
            near(surface.worst.to_mm(), spread, 1e-9);
        }
        // sqrt(0.7² + 0.02² + 0.02² + 0.01²) = 0.700643 (derived).
        near(levels.layers[1].top.rss.to_mm(), 0.700_643, 1e-6);
    }

    /// A total of 5.70 ± 0.01 pins the unmeasured ruby at 5.70 - 2.93 - 0.05 = 2.72 ± (0.01 + 0.03 + 0.02)
    /// (derived).
    #[test]
    fn a_measured_total_tightens_what_was_not_measured() {
        let levels = two_sheets(Some(known(5.70, 0.01))).levels().unwrap();
        near(levels.face.height.to_mm(), 5.90, 1e-9);
        near(levels.face.worst.to_mm(), 0.01 + 0.05, 1e-9);
        near(levels.layers[1].top.height.to_mm(), 2.92, 1e-9);
        near(levels.layers[1].top.worst.to_mm(), 0.06 + 0.05, 1e-9);
        near(levels.underside.worst.to_mm(), 0.05, 1e-9);
        assert!(levels.layers[1].top.rss.to_mm() < levels.layers[1].top.worst.to_mm());
    }

    /// Sheets of 2.93 ± 0.03 and 3.0 ± 0.7 with a bond of 0.05 ± 0.02 cannot make 7.0 ± 0.01: 5.98 + 0.76 < 7.0.
    #[test]
    fn a_total_that_cannot_be() {
        let error = two_sheets(Some(known(7.0, 0.01))).levels().unwrap_err();
        near(error.sum.mean.to_mm(), 5.98, 1e-9);
        near(error.bond.to_mm(), 1.07, 1e-9);
        assert!(two_sheets(Some(known(6.73, 0.01))).levels().is_ok());
    }

    /// Ruby's top 3.2 ± 0.75, margin 0.1: 2.35, with 0.1 above and 2.35 - 0.25 = 2.1 below (derived).
    #[test]
    fn the_highest_floor_that_shows() {
        let levels = two_sheets(None).levels().unwrap();
        let chosen = floor_that_shows(&levels.layers[1], mm(0.1), Length::ZERO);
        near(chosen.floor.to_mm(), 2.35, 1e-9);
        near(chosen.reveal.above_worst.to_mm(), 0.1, 1e-9);
        near(chosen.reveal.below_worst.to_mm(), 2.1, 1e-9);
        assert!(chosen.reveal.above_rss.to_mm() > chosen.reveal.above_worst.to_mm());
        // A bow only lifts: the room below shrinks by it, the floor stays.
        let bowed = floor_that_shows(&levels.layers[1], mm(0.1), mm(0.3));
        near(bowed.reveal.below_worst.to_mm(), 1.8, 1e-9);
        assert_eq!(bowed.floor, chosen.floor);
    }

    #[test]
    fn a_thin_layer_gets_its_middle() {
        let surface =
            |height: f64, worst: f64| Surface { height: Height::mm(height), worst: mm(worst), rss: mm(worst) };
        let thin = Level { top: surface(3.0, 0.2), bottom: surface(2.5, 0.2) };
        let chosen = floor_that_shows(&thin, mm(0.1), Length::ZERO);
        near(chosen.floor.to_mm(), 2.75, 1e-9);
        near(chosen.reveal.above_worst.to_mm(), 0.05, 1e-9);
        let thinner = Level { top: surface(3.0, 0.4), bottom: surface(2.5, 0.4) };
        let chosen = floor_that_shows(&thinner, mm(0.1), Length::ZERO);
        near(chosen.reveal.above_worst.to_mm(), -0.15, 1e-9);
    }

    /// Repeatabilities 0.02 and 0.03: 0.05 in the worst case, 0.036056 by root-sum-square (derived).
    #[test]
    fn a_step_between_cutters() {
        let step = floor_step(mm(0.02), mm(0.03));
        near(step.worst.to_mm(), 0.05, 1e-12);
        near(step.rss.to_mm(), 0.036_056, 1e-6);
    }

    /// Steps of 0.01 and 0.00125 mm divide a hundredth; 0.0125 does not, nor does a feeler of 0.105 lie on steps of 0.01.
    #[test]
    fn steps_of_the_machine() {
        assert_eq!(step_error(mm(0.01), mm(0.1)), Length::ZERO);
        assert_eq!(step_error(mm(0.001_25), mm(0.1)), Length::ZERO);
        assert_eq!(step_error(mm(0.0125), mm(0.1)), mm(0.006_25));
        assert_eq!(step_error(mm(0.01), mm(0.105)), mm(0.005));
    }

    /// Counted from the face: black's lower surface lies 2.93 ± (0.03 + 0.03) deep, ruby's upper 2.98 ± (0.05 + 0.03),
    /// ruby's lower 5.98 ± (0.75 + 0.03) (derived): the unmeasured ruby no longer counts at its upper surface.
    #[test]
    fn depths_from_the_face() {
        let levels = two_sheets(None).from_face().levels().unwrap();
        let [ruby, black] = levels.layers[..] else { panic!() };
        near(black.top.height.to_mm(), 2.93, 1e-9);
        near(black.top.worst.to_mm(), 0.06, 1e-9);
        near(ruby.bottom.height.to_mm(), 2.98, 1e-9);
        near(ruby.bottom.worst.to_mm(), 0.08, 1e-9);
        near(ruby.top.height.to_mm(), 5.98, 1e-9);
        near(ruby.top.worst.to_mm(), 0.78, 1e-9);
        // 2.98 + 0.08 + 0.1 = 3.16 deep; 5.98 - 0.78 - 3.16 = 2.04 below (derived).
        let chosen = depth_that_shows(&ruby, mm(0.1), Length::ZERO);
        near(chosen.depth.to_mm(), 3.16, 1e-9);
        near(chosen.above_worst.to_mm(), 0.1, 1e-9);
        near(chosen.below_worst.to_mm(), 2.04, 1e-9);
        // No room for 1.1 on both sides: the middle, (3.06 + 5.2) / 2.
        near(depth_that_shows(&ruby, mm(1.1), Length::ZERO).depth.to_mm(), 4.13, 1e-9);
    }

    /// A wedge counts once in every surface above the underside, and not in that.
    #[test]
    fn a_wedge_counts_once() {
        let levels = Stack { wedge: mm(0.1), ..two_sheets(None) }.levels().unwrap();
        near(levels.underside.worst.to_mm(), 0.05, 1e-9);
        near(levels.layers[1].top.worst.to_mm(), 0.85, 1e-9);
        near(levels.face.worst.to_mm(), 0.90, 1e-9);
        // Closed by a total of 5.98 ± 0.01 in its middle, the face lies within 0.01 + 0.1 and the touch-off's 0.05.
        let closed = Stack { wedge: mm(0.1), ..two_sheets(Some(known(5.98, 0.01))) }.levels().unwrap();
        near(closed.face.worst.to_mm(), 0.16, 1e-9);
        near(closed.layers[1].top.worst.to_mm(), 0.01 + 0.1 + 0.03 + 0.02 + 0.05, 1e-9);
    }

    /// An item of a stack: middle, spread, whether it counts in the layer's upper surface, whether in the lower.
    type Counted = (f64, f64, bool, bool);

    /// Brute force: heights tried a micrometre apart from the table to the face, each judged by every corner of the box
    /// of errors. The best of them is the chosen one within 2 µm, and with rounding the one a hundredth down.
    #[test]
    fn no_height_serves_better_than_the_chosen_one() {
        let thick = |mean, spread| known(mean, spread);
        let stacks = [
            (vec![thick(2.93, 0.03), thick(3.0, 0.7)], 1, 0.1, 0.0),
            (vec![thick(3.0, 0.7), thick(3.0, 0.7), thick(3.0, 0.7)], 1, 0.1, 0.0),
            (vec![thick(3.0, 0.7), thick(3.0, 0.7), thick(3.0, 0.7)], 1, 0.3, 0.35),
            (vec![thick(3.0, 0.05), thick(0.8, 0.65), thick(2.99, 0.02)], 1, 0.1, 0.0),
            (vec![thick(3.0, 0.05), thick(0.2, 0.02), thick(2.987, 0.023)], 1, 0.1, 0.0),
            (vec![thick(3.0, 0.15), thick(2.0, 0.2), thick(3.0, 0.15)], 1, 0.25, 0.111),
        ];
        for (sheets, layer, margin, bow) in stacks {
            let stack = Stack { sheets, ..two_sheets(None) };
            let (mut top_low, mut bottom_high) = (f64::MAX, f64::MIN);
            let mut errors: Vec<Counted> = Vec::new();
            let n = stack.sheets.len();
            for (i, s) in stack.sheets.iter().enumerate() {
                errors.push((s.mean.to_mm(), s.spread.to_mm(), i >= layer, i > layer));
            }
            for i in 1..n {
                // The bond line between sheets i - 1 and i.
                errors.push((0.05, 0.02, i > layer, i > layer));
            }
            errors.push((0.2, 0.02, true, true));
            errors.push((0.0, 0.02, true, true));
            errors.push((0.0, 0.01, true, true));
            for corner in 0..1u32 << errors.len() {
                let at = |i: usize| if corner >> i & 1 == 1 { errors[i].1 } else { -errors[i].1 };
                let sum = |of: fn(&Counted) -> bool| {
                    errors.iter().enumerate().filter(|(_, e)| of(e)).map(|(i, e)| e.0 + at(i)).sum::<f64>()
                };
                top_low = top_low.min(sum(|e| e.2));
                bottom_high = bottom_high.max(sum(|e| e.3) + bow);
            }
            let room = |micron: i32| {
                let floor = f64::from(micron) / 1000.0;
                (top_low - floor).min(floor - bottom_high)
            };
            let all = 0..12_000;
            let keeping = all.clone().filter(|&f| room(f) >= margin - 1e-9).max();
            let roomiest = all.fold(0, |best, f| if room(f) > room(best) + 1e-9 { f } else { best });
            let best = f64::from(keeping.unwrap_or(roomiest)) / 1000.0;
            let level = stack.levels().unwrap().layers[layer];
            let chosen = exact_floor_that_shows(&level, mm(margin), mm(bow));
            near(chosen.floor.to_mm(), best, 0.002);
            let told = chosen.reveal.above_worst.min(chosen.reveal.below_worst);
            assert!(told.to_mm() <= room((chosen.floor.to_mm() * 1000.0).floor() as i32) + 0.001 + 1e-9);
            let rounded = floor_that_shows(&level, mm(margin), mm(bow)).floor.to_mm();
            assert!(rounded <= chosen.floor.to_mm() + 1e-9);
            if keeping.is_some_and(|k| room(k / 10 * 10) >= margin - 1e-9) {
                near(rounded, (best * 100.0 + 1e-6).floor() / 100.0, 1e-9);
            }
        }
    }

    #[test]
    fn floors_are_rounded_down() {
        near(hundredths_down(2.359), 2.35, 1e-12);
        near(hundredths_down(2.35), 2.35, 1e-12);
        near(hundredths_down(0.1 + 0.2), 0.3, 1e-12);
    }

    /// One thickness of each sheet drawn from anywhere within its spread, the total within its own: every surface lies
    /// within the spreads worked out.
    #[test]
    fn every_stack_the_spreads_allow_is_inside() {
        let stack = two_sheets(Some(known(6.1, 0.05)));
        let levels = stack.levels().unwrap();
        let steps = [-1.0, -0.5, 0.0, 0.5, 1.0];
        let mut tried = 0;
        for a in steps {
            for b in (0..=200).map(|i| f64::from(i) / 100.0 - 1.0) {
                for c in steps {
                    let (black, ruby, bond) = (2.93 + 0.03 * a, 3.0 + 0.7 * b, 0.05 + 0.02 * c);
                    if (black + ruby + bond - 6.1).abs() > 0.05 {
                        continue;
                    }
                    tried += 1;
                    let inside = |s: Surface, h: f64| {
                        assert!((h + 0.2 - s.height.to_mm()).abs() <= s.worst.to_mm() - 0.05 + 1e-9, "{h} {s:?}");
                    };
                    inside(levels.layers[1].top, ruby);
                    inside(levels.layers[0].bottom, ruby + bond);
                    inside(levels.face, ruby + bond + black);
                }
            }
        }
        assert!(tried > 100);
    }
}
