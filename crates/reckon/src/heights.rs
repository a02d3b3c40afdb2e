//! Why a height is what it is: every thickness it is made of, the worst that each may be, and the sum.
//!
//! [`margin`](crate::margin) chooses heights; here the same sums are written down step by step, as a [`Working`] that a
//! maker can read. The tests hold both against each other.

use crate::chain::Working;
use crate::chance::{Figure, Layered, one_in};
use crate::margin::{LEAVES_UNDER, OVERCUT, SURE_BY};
use plate::Miss;
use quantity::{Height, Length, trimmed};

/// Which end of what a figure may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    Thinnest,
    Middle,
    Thickest,
}

impl End {
    fn of(self, figure: &Figure) -> f64 {
        let (mean, spread) = (figure.value.mean.to_mm(), figure.value.spread.to_mm());
        match self {
            Self::Thinnest => mean - spread,
            Self::Middle => mean,
            Self::Thickest => mean + spread,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Thinnest => " at its thinnest",
            Self::Middle => "",
            Self::Thickest => " at its thickest",
        }
    }

    /// Of symbols.
    fn mark(self) -> &'static str {
        match self {
            Self::Thinnest => "_low",
            Self::Middle => "",
            Self::Thickest => "_high",
        }
    }

    fn other(self) -> Self {
        match self {
            Self::Thinnest => Self::Thickest,
            Self::Middle => Self::Middle,
            Self::Thickest => Self::Thinnest,
        }
    }
}

/// A working of a blank's heights.
struct Heights<'l> {
    layered: &'l Layered,
    working: Working,
}

impl<'l> Heights<'l> {
    fn new(layered: &'l Layered) -> Self {
        Self { layered, working: Working::default() }
    }

    /// A figure's end under a symbol, once; gives the symbol.
    fn figure(&mut self, symbol: &str, figure: &Figure, end: End) -> String {
        let symbol = format!("{symbol}{}", end.mark());
        if self.working.term(&symbol).is_none() {
            let (mean, spread) = (figure.value.mean, figure.value.spread);
            let source = if end == End::Middle || spread == Length::ZERO {
                figure.source.clone()
            } else {
                format!("{mean} ± {spread}: {}", figure.source)
            };
            self.working.given(&symbol, &format!("{}{}", figure.name, end.words()), end.of(figure), "mm", source);
        }
        symbol
    }

    /// What lies under the blank.
    fn under(&mut self, end: End) -> Vec<String> {
        let under = self.layered.under.iter().enumerate();
        under.map(|(i, u)| self.figure(&format!("u{}", i + 1), u, end)).collect()
    }

    /// Sheets and bond lines from the underside up, `from` of them left out, `count` taken.
    fn items(&mut self, from: usize, count: usize, end: End) -> Vec<String> {
        let sheets = self.layered.sheets.len();
        let of = |k: usize| {
            let figure =
                if k.is_multiple_of(2) { &self.layered.sheets[sheets - 1 - k / 2] } else { &self.layered.bond };
            (if k.is_multiple_of(2) { format!("s{}", k / 2 + 1) } else { "b".to_owned() }, figure)
        };
        let picked: Vec<_> = (from..(from + count).min((2 * sheets).saturating_sub(1))).map(of).collect();
        picked.into_iter().map(|(symbol, figure)| self.figure(&symbol, figure, end)).collect()
    }

    /// Errors of the cut itself, those that are not nothing.
    fn cut(&mut self) -> Vec<String> {
        let mut symbols = Vec::new();
        for (i, error) in self.layered.cut.iter().enumerate().filter(|(_, c)| c.value.spread > Length::ZERO) {
            let symbol = format!("c{}", i + 1);
            if self.working.term(&symbol).is_none() {
                let name = format!("{}, by as much either way", error.name);
                self.working.given(&symbol, &name, error.value.spread.to_mm(), "mm", error.source.clone());
            }
            symbols.push(symbol);
        }
        symbols
    }

    fn wedge(&mut self) -> Option<String> {
        let wedge = self.layered.wedge;
        (wedge > Length::ZERO).then(|| {
            if self.working.term("w").is_none() {
                self.working.given(
                    "w",
                    "corners thicker or thinner than the middle",
                    wedge.to_mm(),
                    "mm",
                    "readings at points",
                );
            }
            "w".to_owned()
        })
    }

    fn bow(&mut self) -> Option<String> {
        let bow = self.layered.bow;
        (bow > Length::ZERO).then(|| {
            if self.working.term("bow").is_none() {
                self.working.given("bow", "how far the blank may stand up", bow.to_mm(), "mm", "plate file, `bow`");
            }
            "bow".to_owned()
        })
    }

    fn value(&self, symbol: &str) -> f64 {
        self.working.term(symbol).map_or(0.0, |t| t.value)
    }

    /// Puts in a sum of symbols, some of them taken off; gives its value.
    fn sum(&mut self, symbol: &str, name: &str, plus: &[String], minus: &[String], source: &str) -> f64 {
        let mut text = if plus.is_empty() { "0".to_owned() } else { plus.join(" + ") };
        for symbol in minus {
            text.push_str(" - ");
            text.push_str(symbol);
        }
        let added: f64 = plus.iter().map(|s| self.value(s)).sum();
        let value = minus.iter().fold(added, |sum, s| sum - self.value(s));
        self.working.by(symbol, name, &text, value, "mm", source)
    }

    /// How high a surface with `count` items under it lies above the underside, as low or as high as it may. A measured total
    /// closes the blank from above: what it leaves under the layers above must hold too.
    fn within(&mut self, symbol: &str, name: &str, count: usize, end: End) {
        let own = self.items(0, count, end);
        let wedge: Vec<String> = if count > 0 { self.wedge().into_iter().collect() } else { Vec::new() };
        let (plus, minus) = signed(end, own, wedge.clone());
        let Some(total) = self.layered.total.clone().filter(|_| count > 0) else {
            self.sum(symbol, name, &plus, &minus, "sum");
            return;
        };
        let (by_sum, by_rest) = (format!("{symbol}_sum"), format!("{symbol}_rest"));
        self.sum(&by_sum, &format!("{name}, by the layers under it"), &plus, &minus, "sum");
        let items = (2 * self.layered.sheets.len()).saturating_sub(1);
        let over = self.items(count, items.saturating_sub(count), end.other());
        let whole = vec![self.figure("t", &total, end)];
        let (plus, minus) = match end {
            End::Thickest => (whole.into_iter().chain(wedge).collect::<Vec<_>>(), over),
            _ => (whole, over.into_iter().chain(wedge).collect()),
        };
        self.sum(&by_rest, &format!("{name}, by the measured blank less what lies over it"), &plus, &minus, "sum");
        let (a, b) = (self.value(&by_sum), self.value(&by_rest));
        let (formula, value) = match end {
            End::Thickest => (format!("min({by_sum}, {by_rest})"), a.min(b)),
            _ => (format!("max({by_sum}, {by_rest})"), a.max(b)),
        };
        self.working.by(symbol, name, &formula, value, "mm", "both must hold");
    }

    /// Height above the table of the surface with `count` items under it, at its middle.
    fn middle(&mut self, symbol: &str, name: &str, count: usize) -> f64 {
        let mut plus = self.under(End::Middle);
        if self.layered.total.is_some() && count > 0 {
            let (low, high, inside) = (format!("{symbol}_low"), format!("{symbol}_high"), format!("{symbol}_in"));
            self.within(&low, "least above the underside", count, End::Thinnest);
            self.within(&high, "most above the underside", count, End::Thickest);
            let value = (self.value(&low) + self.value(&high)) / 2.0;
            self.working.by(
                &inside,
                "above the underside",
                &format!("({low} + {high}) / 2"),
                value,
                "mm",
                "middle of both",
            );
            plus.push(inside);
        } else {
            plus.extend(self.items(0, count, End::Middle));
        }
        self.sum(symbol, name, &plus, &[], "sum")
    }

    /// Height above the table of the surface with `count` items under it, as low or as high as a cut may find it.
    fn found(&mut self, symbol: &str, name: &str, count: usize, end: End) -> f64 {
        let mut plus = self.under(end);
        let mut errors = self.cut();
        if self.layered.total.is_some() && count > 0 {
            let inside = format!("{symbol}_in");
            self.within(&inside, "above the underside", count, end);
            plus.push(inside);
        } else if count > 0 {
            plus.extend(self.items(0, count, end));
            errors.extend(self.wedge());
        }
        if end == End::Thickest {
            errors.extend(self.bow());
        }
        let (plus, minus) = signed(end, plus, errors);
        self.sum(symbol, name, &plus, &minus, "sum, every error the same way")
    }
}

/// Errors make a low end lower and a high end higher.
fn signed(end: End, sum: Vec<String>, errors: Vec<String>) -> (Vec<String>, Vec<String>) {
    match end {
        End::Thickest => (sum.into_iter().chain(errors).collect(), Vec::new()),
        _ => (sum, errors),
    }
}

/// Why the floor that shows a layer (index from the top) lies where it lies, how much that leaves and how often it misses. The
/// floor is `floor`, `spare_above` and `spare_below` come after it. `None` if there is no such layer.
pub fn showing(layered: &Layered, layer: usize, margin: Length, floor: Height, miss: Option<&Miss>) -> Option<Working> {
    let name = layered.sheets.get(layer)?.name.clone();
    let under = 2 * layered.sheets.len().checked_sub(layer + 1)?;
    let mut heights = Heights::new(layered);
    heights.found("top", &format!("top of {name} at its lowest"), under + 1, End::Thinnest);
    let asked = heights.working.given("margin", "margin asked for", margin.to_mm(), "mm", "plate file, `margin`");
    heights.sum(
        "highest",
        "highest floor that keeps the margin",
        &["top".into()],
        &["margin".into()],
        "rule of margins",
    );
    heights.found("bottom", &format!("underside of {name} at its highest"), under, End::Thickest);
    let (highest, bottom) = (heights.value("highest"), heights.value("bottom"));
    let floor = floor.to_mm();
    let down = ((highest * 100.0 + 1e-6).floor() / 100.0 - floor).abs() < 1e-6;
    let words = if down && floor - bottom >= asked - 1e-9 {
        "down to a whole 0.01 mm; the margin holds below it too"
    } else if floor <= heights.value("top") + 1e-9 && floor >= bottom - 1e-9 {
        "no floor keeps the margin on both sides, so the middle of what is left"
    } else {
        "no floor is certain, so the one that misses least often"
    };
    let from: &[&str] = &["highest", "bottom"];
    heights.working.chosen("floor", "floor", (words.into(), from), floor, "mm", "rule of margins");
    heights.sum("spare_above", "to spare above it in the worst case", &["top".into()], &["floor".into()], "difference");
    heights.sum(
        "spare_below",
        "to spare below it in the worst case",
        &["floor".into()],
        &["bottom".into()],
        "difference",
    );
    if let Some(miss) = miss {
        let words = format!("{} misses it, as all these scatter", one_in(miss.either()));
        let source = "distributions of all figures convolved, as JCGM 101:2008 has it";
        heights.working.chosen("miss", "chance of the wrong colour", (words, &["floor"]), miss.either(), "", source);
    }
    Some(heights.working)
}

/// Why the face lies where it lies: `face`, with `face_low` and `face_high` as the worst case.
pub fn face(layered: &Layered) -> Working {
    let mut heights = Heights::new(layered);
    let count = (2 * layered.sheets.len()).saturating_sub(1);
    heights.middle("face", "face", count);
    heights.working
}

/// Why a floor at a depth below the face lies where it lies: `floor`.
pub fn below_face(layered: &Layered, depth: Length) -> Working {
    let mut heights = Heights::new(layered);
    let count = (2 * layered.sheets.len()).saturating_sub(1);
    let face = heights.middle("face", "face", count);
    let depth = heights.working.given("depth", "depth asked for", depth.to_mm(), "mm", "plate file, `below_face`");
    let floor = ((face - depth) * 1000.0).round() / 1000.0;
    let words = format!("face less depth, {}, in whole micrometres", trimmed(face - depth, 6));
    heights.working.chosen("floor", "floor", (words, &["face", "depth"]), floor, "mm", "difference");
    heights.working
}

/// Why the floor of a cut that goes through lies where it lies: `floor`. `into_table` is how far the maker lets cutters into the table.
pub fn through(layered: &Layered, into_table: Length) -> Working {
    let mut heights = Heights::new(layered);
    let underside = heights.middle("underside", "underside of the blank", 0);
    let low =
        heights.found("underside_least", "underside at its lowest, errors of the cut counted in", 0, End::Thinnest);
    let w = &mut heights.working;
    let spread =
        w.by("spread", "what it may lie lower", "underside - underside_least", underside - low, "mm", "difference");
    let practice = "common practice, no source";
    let least = w.given("overcut", "least overcut", OVERCUT, "mm", practice);
    let sure = w.given("sure", "overcut beyond what it may lie lower", SURE_BY, "mm", practice);
    let wished = w.by(
        "wished",
        "floor wished for",
        "underside - max(overcut, spread + sure)",
        underside - least.max(spread + sure),
        "mm",
        "rule of through cuts",
    );
    let error = layered.cut.iter().map(|c| c.value.spread.to_mm()).sum::<f64>();
    let error = w.given("error", "what touch-off, feeler, step and play come to", error, "mm", "shop file");
    let (formula, lowest) = if into_table > Length::ZERO {
        w.given("grant", "depth into the table granted", into_table.to_mm(), "mm", "plate file, `into_table`");
        ("0 - grant".to_owned(), 0.0 - into_table.to_mm())
    } else if layered.under.is_empty() {
        ("error".to_owned(), error)
    } else {
        let leaves = w.given("leaves", "left of what lies under the blank", LEAVES_UNDER, "mm", practice);
        ("max(error, leaves)".to_owned(), error.max(leaves))
    };
    w.by("lowest", "lowest that a cut may go", &formula, lowest, "mm", "the table stays whole");
    let floor = (wished.max(lowest) * 1000.0).round() / 1000.0;
    w.chosen(
        "floor",
        "floor",
        ("the higher of both, in whole micrometres".into(), &["wished", "lowest"]),
        floor,
        "mm",
        "rule of through cuts",
    );
    heights.working
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chain::tests::hangs_together;
    use crate::margin::{self, Thickness};
    use plate::Process;

    fn mm(value: f64) -> Length {
        Length::mm(value)
    }

    fn within(name: &str, mean: f64, spread: f64) -> Figure {
        Figure::within(name, Thickness { mean: mm(mean), spread: mm(spread) }, "test")
    }

    /// Blanks of one to four sheets, measured and not, bonded whole measured and not, on tape and on the table, bowed or a wedge.
    fn blanks() -> Vec<Layered> {
        let mut all = Vec::new();
        for k in 0..256_u32 {
            let bit = |i: u32| k >> i & 1 == 1;
            let sheets = (0..1 + k % 4).map(|i| {
                let label = 1.5 + f64::from((k + i) % 3);
                if bit(2) {
                    Figure::measured("sheet", &[mm(label), mm(label + 0.03), mm(label - 0.02)], mm(0.01)).unwrap()
                } else {
                    Figure::within("sheet", margin::labelled(mm(label), Process::Extruded), "label")
                }
            });
            let mut layered = Layered {
                sheets: sheets.collect(),
                bond: within("bond line", 0.05, if bit(3) { 0.02 } else { 0.0 }),
                total: None,
                under: if bit(4) { vec![within("tape", 0.2, 0.03)] } else { Vec::new() },
                cut: vec![within("touch-off", 0.0, 0.02), within("feeler", 0.0, if bit(5) { 0.01 } else { 0.0 })],
                bow: mm(if bit(6) { 0.15 } else { 0.0 }),
                wedge: mm(if bit(7) { 0.04 } else { 0.0 }),
            };
            if k % 3 == 0 {
                let sum = layered.stack().sum().mean;
                layered.total = Figure::measured("whole", &[sum + mm(0.02), sum + mm(0.03)], mm(0.01));
            }
            all.push(layered);
        }
        all
    }

    /// Every height written down step by step is the one that the margins reckon, and every step's formula comes to its value.
    #[test]
    fn steps_come_to_what_the_margins_reckon() {
        let near = |w: &Working, symbol: &str, expected: f64| {
            let found = w.term(symbol).unwrap().value;
            assert!((found - expected).abs() < 1e-8, "{symbol}: {found}, not {expected}");
        };
        for layered in blanks() {
            let levels = layered.stack().levels().unwrap();
            let w = face(&layered);
            hangs_together(&w);
            near(&w, "face", levels.face.height.to_mm());
            for (layer, level) in levels.layers.iter().enumerate() {
                let asked = mm(0.1);
                let chosen = margin::floor_that_shows(level, asked, layered.bow);
                let miss = layered.miss(layer, chosen.floor);
                let w = showing(&layered, layer, asked, chosen.floor, miss.as_ref()).unwrap();
                hangs_together(&w);
                near(&w, "spare_above", chosen.reveal.above_worst.to_mm());
                near(&w, "spare_below", chosen.reveal.below_worst.to_mm());
            }
            let w = below_face(&layered, mm(0.8));
            hangs_together(&w);
            near(&w, "floor", ((levels.face.height - mm(0.8)).to_mm() * 1000.0).round() / 1000.0);
            for into_table in [0.0, 0.3] {
                let w = through(&layered, mm(into_table));
                hangs_together(&w);
                near(&w, "spread", levels.underside.worst.to_mm());
            }
        }
        assert!(showing(&blanks()[0], 9, mm(0.1), Height::ZERO, None).is_none());
    }

    /// 3.04 measured to ± 0.01 on tape of 0.2, touch-off 0.02: the top is at 3.21 at the lowest, so with 0.1 asked the floor is at
    /// 3.11 (derived).
    #[test]
    fn a_floor_by_hand() {
        let sheet = Figure::measured("ruby", &[mm(3.04)], mm(0.01)).unwrap();
        let layered = Layered {
            sheets: vec![within("black", 3.0, 0.0), sheet],
            bond: within("bond line", 0.05, 0.0),
            total: None,
            under: vec![within("tape", 0.2, 0.0)],
            cut: vec![within("touch-off", 0.0, 0.02)],
            bow: Length::ZERO,
            wedge: Length::ZERO,
        };
        let w = showing(&layered, 1, mm(0.1), Height::mm(3.11), None).unwrap();
        let value = |symbol: &str| w.term(symbol).unwrap().value;
        assert!((value("top") - 3.21).abs() < 1e-9 && (value("highest") - 3.11).abs() < 1e-9);
        assert!((value("spare_below") - (3.11 - 0.22)).abs() < 1e-9);
        let chain = w.chain("floor", "floor").unwrap();
        assert!(chain.terms.iter().all(|t| t.symbol != "spare_above"));
    }
}
