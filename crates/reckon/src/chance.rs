//! Chance: how likely a floor misses the layer that it shall show, a skin is left, a web is gone.
//!
//! Where [`margin`](crate::margin) asks what the worst blank does, this asks how many blanks do it. Every [`Figure`] is
//! a middle with the ways it scatters, each *within* plus or minus something, every value as likely (a rectangular
//! distribution), or *normal* with a standard deviation. All are taken as independent. A height is a sum of figures;
//! how likely it lies below some value is found by convolving their distributions on a grid (JCGM 101:2008 asks the
//! same of random draws; the tests do it that way too). A measured total is not a sum but a condition: of all blanks
//! that the layers allow, only those count that the total allows as well (Bayes' rule).
//!
//! # Tolerance
//! 8192 cells over the whole reach, the cumulative function taken as straight between them: about 1e-6 of a chance of
//! order one. Below 1e-9 a chance is told as it comes, but means no more than "hardly ever".
//!
//! What is assumed of each figure, and why:
//! - A tolerance by a standard or a maker says nothing of what is likelier within it: rectangular (JCGM 101:2008, 6.4.2).
//! - Readings vary because the sheet does. A floor lies at one place of it, not at the mean of all, so the standard
//!   deviation is that *of the sheet*, widened because the mean of `n` readings is itself uncertain: s sqrt(1 + 1/n).
//!   It is taken as normal, without the long tails that few readings would strictly give (Student's t), since the
//!   standard's tolerance bounds what a sheet can do. One reading tells nothing of the sheet's variation: none is counted.
//! - The micrometer's error, the feeler's and a touch-off's repeatability are given as plus or minus: rectangular.

use crate::margin::{self, Stack, Thickness};
use crate::wedge::Plane;
use plate::Miss;
use quantity::{Height, Length};
use serde::Serialize;

/// How a figure scatters about its middle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Scatter {
    /// Plus or minus this, every value as likely.
    Within(Length),
    /// Normal with this standard deviation.
    Normal(Length),
}

/// A length that heights are made of, with what is known of it and where that comes from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Figure {
    /// What it is.
    pub name: String,
    /// Its middle and worst case.
    pub value: Thickness,
    /// How it scatters; of several ways, their sum.
    pub scatter: Vec<Scatter>,
    /// Where it comes from: readings, a standard, the shop file.
    pub source: String,
}

/// A bonded blank with what is known of it, in mm above the table or below the face.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Layered {
    /// Sheets, top first.
    pub sheets: Vec<Figure>,
    /// Each bond line; they scatter independently.
    pub bond: Figure,
    /// The bonded whole, if it was measured.
    pub total: Option<Figure>,
    /// What lies between blank and table.
    pub under: Vec<Figure>,
    /// By how much a cut's height may be wrong: touch-off, feeler, the machine's step and play. Middles are 0.
    pub cut: Vec<Figure>,
    /// By how much the blank may stand up from where it lies; anything from nothing to this is taken as as likely.
    pub bow: Length,
    /// By how much the bonded blank is thicker or thinner at its corners than in its middle.
    pub wedge: Length,
}

impl Figure {
    /// A figure given as a middle with plus or minus.
    pub fn within(name: impl Into<String>, value: Thickness, source: impl Into<String>) -> Self {
        Self { name: name.into(), value, scatter: vec![Scatter::Within(value.spread)], source: source.into() }
    }

    /// A figure from readings with a micrometer whose error is given. `None` without readings.
    pub fn measured(name: impl Into<String>, readings: &[Length], micrometer: Length) -> Option<Self> {
        let value = margin::measured(readings, micrometer)?;
        let n = readings.len() as f64;
        let mut scatter = vec![Scatter::Within(micrometer)];
        let mut source = "1 reading; how the sheet varies is not known".to_owned();
        if readings.len() > 1 {
            let squares = readings.iter().map(|r| (*r - value.mean).to_mm()).map(|e| e * e).sum::<f64>();
            let sd = libm::sqrt(squares / (n - 1.0));
            scatter.push(Scatter::Normal(Length::mm(sd * libm::sqrt(1.0 + 1.0 / n))));
            source = format!("{} readings, standard deviation {}", readings.len(), Length::mm(round_up(sd)));
        }
        Some(Self { name: name.into(), value, scatter, source })
    }

    /// The whole thickness in a blank's middle, from readings that a [`plane`](crate::wedge::plane) was laid through: what
    /// is left over scatters, with three degrees of freedom spent on the plane.
    pub fn middle_of(name: impl Into<String>, plane: &Plane, micrometer: Length) -> Self {
        let value = plane.middle_thickness(micrometer);
        let scatter = vec![Scatter::Within(micrometer), Scatter::Normal(plane.residual)];
        let source = format!("{} readings at points, less the slope", plane.readings);
        Self { name: name.into(), value, scatter, source }
    }

    /// The same with something taken off it that was read along with it: its middle and its spread, wholly shared by all
    /// readings.
    pub fn less(mut self, taken: Thickness, what: &str) -> Self {
        self.value.mean = self.value.mean - taken.mean;
        self.value.spread = self.value.spread + taken.spread;
        self.scatter.push(Scatter::Within(taken.spread));
        self.source = format!("{}, less {what} of {} ± {}", self.source, taken.mean, taken.spread);
        self
    }
}

/// Up to whole micrometres, for messages.
fn round_up(mm: f64) -> f64 {
    (mm * 1000.0 - 1e-6).ceil().max(0.0) / 1000.0
}

impl Layered {
    /// The same for the worst case.
    pub fn stack(&self) -> Stack {
        Stack {
            sheets: self.sheets.iter().map(|s| s.value).collect(),
            bond: self.bond.value,
            total: self.total.as_ref().map(|t| t.value),
            under: self.under.iter().map(|u| u.value).collect(),
            touch_off: self.cut.iter().map(|c| c.value.spread).collect(),
            wedge: self.wedge,
        }
    }

    /// How likely a floor at a height misses a layer (index from the top). `None` if there is no such layer, or if the
    /// measured total and the layers contradict each other.
    pub fn miss(&self, layer: usize, floor: Height) -> Option<Miss> {
        let [top, bottom] = self.surfaces(layer)?;
        Some(miss(&top, &bottom, floor.to_mm()))
    }

    /// Of the floors at whole hundredths of a mm from `low` to `high` the one that misses a layer least often, the higher
    /// one of equals. `None` as for [`miss`](Self::miss), or if there is no such floor.
    pub fn surest(&self, layer: usize, low: Height, high: Height) -> Option<(Height, Miss)> {
        let [top, bottom] = self.surfaces(layer)?;
        let hundredth = |h: Height| (h.to_mm() * 100.0 + 1e-6).floor().clamp(-1e5, 1e5) as i32;
        let floors = (hundredth(low) + 1..=hundredth(high)).map(|h| f64::from(h) / 100.0);
        let judged = floors.map(|f| (Height::mm(f), miss(&top, &bottom, f)));
        judged.reduce(|best, next| if next.1.either() <= best.1.either() + 1e-12 { next } else { best })
    }

    /// A layer's upper and lower surface.
    fn surfaces(&self, layer: usize) -> Option<[Lies; 2]> {
        // Sheet number k from the bottom has 2 k items under it.
        let under = 2 * self.sheets.len().checked_sub(layer + 1)?;
        Some([self.surface(under + 1)?, self.surface(under)?])
    }

    /// How likely the blank's underside lies at or above a height: the chance that a floor there breaks through.
    pub fn breaks_through(&self, floor: Height) -> f64 {
        1.0 - self.surface_below(0, floor.to_mm()).unwrap_or(1.0)
    }

    /// How likely a cut to a height reaches the table.
    pub fn touches_table(&self, floor: Height) -> f64 {
        1.0 - Curve::of(&Sum::of(self.cut.iter())).below(floor.to_mm())
    }

    /// How likely the face lies lower than a height, errors of the cut included.
    pub fn face_below(&self, height: Height) -> Option<f64> {
        self.surface_below(2 * self.sheets.len().checked_sub(1)? + 1, height.to_mm())
    }

    /// How likely the surface with `count` items under it lies below a height, as the cut finds it.
    fn surface_below(&self, count: usize, at: f64) -> Option<f64> {
        Some(self.surface(count)?.below(at))
    }

    /// Where the surface with `count` items under it lies, as the cut finds it.
    fn surface(&self, count: usize) -> Option<Lies> {
        let items: Vec<&Figure> = self.items();
        let (lower, upper) = items.split_at(count.min(items.len()));
        let mut rest = Sum::of(self.under.iter().chain(&self.cut));
        rest.add_within(self.bow.to_mm() / 2.0, self.bow.to_mm() / 2.0);
        let mut below = Sum::of(lower.iter().copied());
        if !lower.is_empty() {
            below.add_within(0.0, self.wedge.to_mm());
        }
        let Some(total) = self.total.as_ref().filter(|_| !lower.is_empty()) else {
            rest.add(&below);
            return Some(Lies { known: None, further: Curve::of(&rest) });
        };
        let mut from_top = Sum::of(upper.iter().copied());
        from_top.add_within(0.0, self.wedge.to_mm());
        from_top.middle = -from_top.middle;
        from_top.add(&Sum::of([total]));
        Some(Lies { known: Some(both(&below, &from_top)?), further: Curve::of(&rest) })
    }

    /// Sheets and bond lines from the bottom up.
    fn items(&self) -> Vec<&Figure> {
        let mut items = Vec::with_capacity(self.sheets.len() * 2);
        for (i, sheet) in self.sheets.iter().rev().enumerate() {
            if i > 0 {
                items.push(&self.bond);
            }
            items.push(sheet);
        }
        items
    }
}

/// Cells of a grid.
const CELLS: usize = 8192;
/// A figure without any scatter is taken as certain to a nanometre, mm.
const POINT: f64 = 1e-6;
/// Standard deviations of a normal distribution that its grid reaches to either side.
const TAIL: f64 = 8.0;

/// A sum of independent figures, mm.
#[derive(Debug, Clone, Default)]
struct Sum {
    middle: f64,
    /// Half-widths of the rectangular ones.
    halves: Vec<f64>,
    /// Of the normal ones together.
    variance: f64,
}

impl Sum {
    fn of<'f>(figures: impl IntoIterator<Item = &'f Figure>) -> Self {
        let mut sum = Self::default();
        for figure in figures {
            sum.middle += figure.value.mean.to_mm();
            for scatter in &figure.scatter {
                match scatter {
                    Scatter::Within(half) => sum.halves.push(half.to_mm()),
                    Scatter::Normal(sd) => sum.variance += sd.to_mm() * sd.to_mm(),
                }
            }
        }
        sum
    }

    fn add(&mut self, other: &Self) {
        self.middle += other.middle;
        self.halves.extend_from_slice(&other.halves);
        self.variance += other.variance;
    }

    fn add_within(&mut self, middle: f64, half: f64) {
        self.middle += middle;
        self.halves.push(half);
    }

    /// How far from the middle it reaches.
    fn reach(&self) -> f64 {
        (self.halves.iter().sum::<f64>() + TAIL * libm::sqrt(self.variance)).max(POINT)
    }
}

/// A cumulative distribution on a grid.
struct Curve {
    from: f64,
    step: f64,
    /// Chance of less than `from + i * step`.
    below: Vec<f64>,
}

impl Curve {
    fn of(sum: &Sum) -> Self {
        let reach = sum.reach() * 1.001;
        let (from, step) = (sum.middle - reach, 2.0 * reach / CELLS as f64);
        let mut halves: Vec<f64> = sum.halves.iter().copied().filter(|h| *h > POINT / 100.0).collect();
        halves.sort_by(|a, b| b.total_cmp(a));
        let sd = libm::sqrt(sum.variance);
        let offset = |i: usize| step * i as f64 - reach;
        // It begins with what is known in closed form: the normal part, or else the widest rectangle.
        let (below, rest): (Vec<f64>, &[f64]) = if sd > POINT / 100.0 {
            let phi = |i| 0.5 * libm::erfc(-offset(i) / (sd * core::f64::consts::SQRT_2));
            ((0..=CELLS).map(phi).collect(), &halves)
        } else {
            let widest = halves.first().copied().unwrap_or(POINT);
            let ramp = |i| ((offset(i) + widest) / (2.0 * widest)).clamp(0.0, 1.0);
            ((0..=CELLS).map(ramp).collect(), halves.get(1..).unwrap_or(&[]))
        };
        let mut curve = Self { from, step, below };
        rest.iter().for_each(|&half| curve.widen(half));
        curve
    }

    /// Convolves with a rectangle: the mean of the curve over plus or minus its half-width.
    fn widen(&mut self, half: f64) {
        let mut areas = Vec::with_capacity(self.below.len());
        let mut area = 0.0;
        areas.push(area);
        for pair in self.below.windows(2) {
            area += self.step * (pair[0] + pair[1]) / 2.0;
            areas.push(area);
        }
        let end = self.step * CELLS as f64;
        // The area under the curve up to `x` from its beginning; before it nothing, behind it one.
        let up_to = |x: f64| {
            if x <= 0.0 {
                return 0.0;
            }
            if x >= end {
                return area + (x - end);
            }
            let cell = ((x / self.step) as usize).min(CELLS - 1);
            let part = x / self.step - cell as f64;
            let (a, b) = (self.below[cell], self.below[cell + 1]);
            areas[cell] + self.step * part * (a + part * (b - a) / 2.0)
        };
        let at = |i: usize| {
            let x = self.step * i as f64;
            (up_to(x + half) - up_to(x - half)) / (2.0 * half)
        };
        self.below = (0..=CELLS).map(at).collect();
    }

    /// The chance of less than `x`.
    fn below(&self, x: f64) -> f64 {
        let along = (x - self.from) / self.step;
        if along <= 0.0 {
            return 0.0;
        }
        if along >= CELLS as f64 {
            return 1.0;
        }
        let cell = (along as usize).min(CELLS - 1);
        let part = along - cell as f64;
        (self.below[cell] * (1.0 - part) + self.below[cell + 1] * part).clamp(0.0, 1.0)
    }
}

/// Where a surface lies: by a sum of figures, and, if a total closes it from above, by weighed heights besides.
struct Lies {
    /// Heights in equal cells, each with its share of all blanks: the first cell's middle, the cell, the shares.
    known: Option<(f64, f64, Vec<f64>)>,
    further: Curve,
}

impl Lies {
    /// The chance that it lies below `at`.
    fn below(&self, at: f64) -> f64 {
        let Some((first, step, shares)) = &self.known else { return self.further.below(at) };
        let below = |(i, share): (usize, &f64)| share * self.further.below(at - (first + step * i as f64));
        shares.iter().enumerate().map(below).sum::<f64>().clamp(0.0, 1.0)
    }
}

fn miss(top: &Lies, bottom: &Lies, floor: f64) -> Miss {
    Miss { too_high: top.below(floor), too_deep: 1.0 - bottom.below(floor) }
}

/// A height known in two independent ways: the two densities multiplied and scaled to one. `None` where they have nothing
/// in common.
fn both(one: &Sum, other: &Sum) -> Option<(f64, f64, Vec<f64>)> {
    let low = (one.middle - one.reach()).max(other.middle - other.reach());
    let high = (one.middle + one.reach()).min(other.middle + other.reach());
    if high <= low {
        return None;
    }
    let (one, other) = (Curve::of(one), Curve::of(other));
    let step = (high - low) / CELLS as f64;
    let mut last = (one.below(low), other.below(low));
    let mut shares = Vec::with_capacity(CELLS);
    for i in 0..CELLS {
        let next = low + step * (i + 1) as f64;
        let now = (one.below(next), other.below(next));
        shares.push((now.0 - last.0).max(0.0) * (now.1 - last.1).max(0.0));
        last = now;
    }
    let all: f64 = shares.iter().sum();
    if all <= 0.0 {
        return None;
    }
    shares.iter_mut().for_each(|s| *s /= all);
    Some((low + step / 2.0, step, shares))
}

/// "1 blank in 240", for a chance above nothing; "hardly any blank" below one in a million.
pub fn one_in(chance: f64) -> String {
    if chance < 1e-6 {
        return "hardly any blank".into();
    }
    if chance > 0.4 {
        return format!("{} blanks in 100", (chance * 100.0).round());
    }
    let n = 1.0 / chance;
    // Two figures are all that the assumptions carry.
    let grain = libm::pow(10.0, (libm::log10(n).floor() - 1.0).max(0.0));
    format!("1 blank in {}", (n / grain).round() * grain)
}

#[cfg(test)]
mod tests;
