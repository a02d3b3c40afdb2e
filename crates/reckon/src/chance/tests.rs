//! Chances against closed forms and against a million blanks drawn by a generator of their own.

use super::*;
use plate::Process;

fn mm(value: f64) -> Length {
    Length::mm(value)
}

fn known(name: &str, mean: f64, spread: f64) -> Figure {
    Figure::within(name, Thickness { mean: mm(mean), spread: mm(spread) }, "test")
}

fn labelled(label: f64, process: Process) -> Figure {
    Figure::within("sheet", margin::labelled(mm(label), process), "standard")
}

fn measured(readings: &[f64]) -> Figure {
    let readings: Vec<Length> = readings.iter().copied().map(mm).collect();
    Figure::measured("sheet", &readings, mm(0.01)).unwrap()
}

fn blank(sheets: Vec<Figure>) -> Layered {
    Layered {
        sheets,
        bond: known("bond line", 0.05, 0.02),
        total: None,
        under: vec![known("tape", 0.2, 0.02)],
        cut: vec![known("touch-off", 0.0, 0.02), known("feeler", 0.0, 0.01)],
        bow: Length::ZERO,
        wedge: Length::ZERO,
    }
}

fn near(value: f64, expected: f64, tolerance: f64) {
    assert!((value - expected).abs() <= tolerance, "{value} is not {expected}");
}

/// JCGM 101:2008, 9.2: four rectangular inputs with standard uncertainty 1 each: 95 % of the sum lies within 3.87941
/// (exact, derived; published as 3.88; the Gaussian guess is 3.92; published figures, from memory).
#[test]
fn four_rectangles_of_jcgm_101() {
    let root_three = libm::sqrt(3.0);
    let sum = Sum { middle: 0.0, halves: vec![root_three; 4], variance: 0.0 };
    let curve = Curve::of(&sum);
    near(curve.below(3.879_41) - curve.below(-3.879_41), 0.95, 1e-6);
    assert!(curve.below(3.92) - curve.below(-3.92) > 0.952);
}

/// ±0.7, ±0.9, ±0.05, all rectangular: standard deviation 0.65891 (derived). 95 % lie within ±1.24621: where the density
/// falls straight, the chance of more than x is ((1.6 - x)² + 0.05²/3) / (8 · 0.7 · 0.9) (derived). A random draw gave
/// ±1.2445, which is right to what such a draw can tell.
#[test]
fn three_rectangles() {
    let sum = Sum { middle: 0.0, halves: vec![0.7, 0.9, 0.05], variance: 0.0 };
    let curve = Curve::of(&sum);
    near(curve.below(1.246_21) - curve.below(-1.246_21), 0.95, 1e-5);
    near(curve.below(1.2445) - curve.below(-1.2445), 0.95, 6e-4);
    // E(x²) by parts: twice the integral of x times the chance of more, and the same below.
    let n = 20_000;
    let cell = 1.66 / f64::from(n);
    let above = |i: i32| cell * (f64::from(i) + 0.5);
    let square: f64 = (0..n).map(|i| 4.0 * above(i) * (1.0 - curve.below(above(i))) * cell).sum();
    near(libm::sqrt(square), 0.658_91, 1e-5);
}

/// A normal and a rectangle against the closed form: (σ/2a) (u Φ(u) + φ(u) - v Φ(v) - φ(v)), u = (x + a)/σ,
/// v = (x - a)/σ (derived).
#[test]
fn a_normal_and_a_rectangle() {
    let (sd, a) = (0.02, 0.01);
    let curve = Curve::of(&Sum { middle: 1.0, halves: vec![a], variance: sd * sd });
    let part = |u: f64| {
        let phi = libm::exp(-u * u / 2.0) / libm::sqrt(2.0 * core::f64::consts::PI);
        u * 0.5 * libm::erfc(-u / core::f64::consts::SQRT_2) + phi
    };
    for x in [-0.06, -0.03, -0.01, 0.0, 0.005, 0.04] {
        let exact = sd / (2.0 * a) * (part((x + a) / sd) - part((x - a) / sd));
        near(curve.below(1.0 + x), exact, 1e-6);
    }
}

/// Readings 2.91, 2.95, 2.93: s = 0.02; at any one place 0.02 sqrt(4/3) = 0.023094 (derived).
#[test]
fn readings_scatter_as_the_sheet_does() {
    let figure = measured(&[2.91, 2.95, 2.93]);
    let [Scatter::Within(micrometer), Scatter::Normal(sd)] = figure.scatter[..] else { panic!("{figure:?}") };
    assert_eq!(micrometer, mm(0.01));
    near(sd.to_mm(), 0.023_094, 1e-6);
    assert_eq!(measured(&[2.9]).scatter, [Scatter::Within(mm(0.01))]);
    assert!(Figure::measured("none", &[], mm(0.01)).is_none());
}

/// Independent of the code under test: splitmix64 and the polar method's older sister (Box and Muller), seeded.
struct Dice(u64);

impl Dice {
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 to 1.
    fn part(&mut self) -> f64 {
        ((self.bits() >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    fn figure(&mut self, figure: &Figure) -> f64 {
        let mut value = figure.value.mean.to_mm();
        for scatter in &figure.scatter {
            value += match scatter {
                Scatter::Within(half) => half.to_mm() * (2.0 * self.part() - 1.0),
                Scatter::Normal(sd) => {
                    let far = libm::sqrt(-2.0 * libm::log(self.part()));
                    sd.to_mm() * far * libm::cos(2.0 * core::f64::consts::PI * self.part())
                }
            };
        }
        value
    }
}

const BLANKS: usize = 1_000_000;

/// Builds a million blanks that the measured total allows and counts those whose floor misses the layer.
fn built(blank: &Layered, layer: usize, floor: f64, seed: u64) -> (f64, f64) {
    let mut dice = Dice(seed);
    let (mut high, mut deep, mut made) = (0u32, 0u32, 0usize);
    while made < BLANKS {
        let mut at = 0.0;
        let (mut top, mut bottom) = (0.0, 0.0);
        for k in (0..blank.sheets.len()).rev() {
            if k == layer {
                bottom = at;
            }
            at += dice.figure(&blank.sheets[k]);
            if k == layer {
                top = at;
            }
            if k > 0 {
                at += dice.figure(&blank.bond);
            }
        }
        if let Some(total) = &blank.total {
            // One reading: the blank is what was read, give or take the micrometer.
            assert_eq!(total.scatter.len(), 1);
            if (at - total.value.mean.to_mm()).abs() > total.value.spread.to_mm() {
                continue;
            }
        }
        made += 1;
        let lies: f64 = blank.under.iter().map(|u| dice.figure(u)).sum::<f64>() + blank.bow.to_mm() * dice.part();
        let wedge = blank.wedge.to_mm() * (2.0 * dice.part() - 1.0);
        let cut: f64 = floor + blank.cut.iter().map(|c| dice.figure(c)).sum::<f64>();
        // The lowest layer's underside has nothing under it that could be a wedge.
        let under = if layer + 1 == blank.sheets.len() { 0.0 } else { wedge };
        high += u32::from(cut >= lies + top + wedge);
        deep += u32::from(cut <= lies + bottom + under);
    }
    (f64::from(high) / BLANKS as f64, f64::from(deep) / BLANKS as f64)
}

/// The floor whose chance of lying too high is this, by halving.
fn floor_with(blank: &Layered, layer: usize, chance: f64) -> f64 {
    let (mut low, mut high) = (0.0, 20.0);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if blank.miss(layer, Height::mm(middle)).unwrap().too_high < chance { low = middle } else { high = middle }
    }
    low
}

/// Ten stacks, chances from 0.0001 up: a million blanks each agree within four standard errors.
#[test]
fn a_million_blanks_agree() {
    let two = || vec![measured(&[2.94, 2.97, 2.95]), measured(&[3.02, 3.05, 3.04])];
    let cast = |label| labelled(label, Process::Cast);
    let extruded = |label| labelled(label, Process::Extruded);
    let closed = |sheets: Vec<Figure>, total: f64, error: f64| Layered {
        total: Figure::measured("total", &[mm(total)], mm(error)),
        bond: known("bond line", 0.05, 0.03),
        ..blank(sheets)
    };
    let bowed = Layered { bow: mm(0.2), wedge: mm(0.08), ..blank(two()) };
    let stacks: Vec<(Layered, usize, f64)> = vec![
        (blank(two()), 1, 0.0001),
        (blank(vec![cast(3.0), cast(3.0)]), 1, 0.0002),
        (blank(vec![extruded(3.0), extruded(5.0)]), 1, 0.001),
        (blank(vec![measured(&[2.94]), cast(3.0), measured(&[3.0, 3.01])]), 1, 0.003),
        (blank(vec![cast(3.0), known("film", 0.8, 0.65), cast(3.0)]), 1, 0.2),
        (bowed, 1, 0.01),
        (blank(vec![cast(3.0), known("thin", 0.2, 0.02), measured(&[3.0, 3.03])]), 1, 0.05),
        (closed(vec![known("a", 2.95, 0.1), known("b", 3.0, 0.1)], 6.08, 0.08), 1, 0.0005),
        (closed(vec![known("a", 2.0, 0.05), known("b", 1.0, 0.15), measured(&[3.0, 3.04])], 6.0, 0.1), 1, 0.02),
        (blank(vec![cast(3.0), cast(3.0), cast(3.0), cast(3.0)]), 2, 0.35),
    ];
    for (i, (blank, layer, chance)) in stacks.iter().enumerate() {
        let floor = floor_with(blank, *layer, *chance);
        let told = blank.miss(*layer, Height::mm(floor)).unwrap();
        near(told.too_high, *chance, 1e-7);
        let (high, deep) = built(blank, *layer, floor, 7 + i as u64);
        for (told, found) in [(told.too_high, high), (told.too_deep, deep)] {
            // Below 0.0001 the count itself is too small to judge by; a hundred times as many would still be noticed.
            let error = libm::sqrt(told.max(1e-4) * (1.0 - told) / BLANKS as f64);
            assert!((told - found).abs() <= 4.0 * error, "stack {i}: told {told}, found {found}");
        }
    }
}

/// Where the worst case leaves room and nothing was read more than once, no blank at all misses.
#[test]
fn no_chance_where_the_worst_case_holds() {
    let blank = blank(vec![labelled(3.0, Process::Cast), labelled(3.0, Process::Cast)]);
    let level = blank.stack().levels().unwrap().layers[1];
    let floor = margin::floor_that_shows(&level, mm(0.1), Length::ZERO).floor;
    let miss = blank.miss(1, floor).unwrap();
    assert!(miss.either() < 1e-12, "{miss:?}");
    // And just outside of it some do.
    let top = level.top.height + level.top.worst;
    assert!(blank.miss(1, top).unwrap().too_high > 0.999_999);
    assert!(blank.miss(2, floor).is_none());
}

/// The surest floor against floors of the whole range 4 µm apart, each asked for its chance by itself.
#[test]
fn the_surest_floor() {
    let closed = Layered {
        total: Figure::measured("total", &[mm(6.8)], mm(0.05)),
        ..blank(vec![known("a", 3.0, 0.1), known("b", 0.8, 0.65), known("c", 3.0, 0.1)])
    };
    for stack in [blank(vec![measured(&[3.0]), known("thin", 0.8, 0.65), measured(&[2.97, 3.0])]), closed] {
        let (floor, found) = stack.surest(1, Height::mm(3.0), Height::mm(4.2)).unwrap();
        let every = (751..=1050).map(|f| stack.miss(1, Height::mm(f64::from(f) / 250.0)).unwrap().either());
        let least = every.reduce(f64::min).unwrap();
        assert_eq!(stack.miss(1, floor).unwrap(), found);
        // A hundredth is coarser than the trial's micrometres by at most what the chance changes over it.
        assert!(found.either() <= least + 0.01 && found.either() >= least, "{floor} {found:?} {least}");
    }
    assert!(blank(vec![measured(&[3.0])]).surest(0, Height::mm(1.0), Height::mm(1.0)).is_none());
}

/// The underside at 0.2 ± 0.02, cut within ± 0.03: a cut to 0.2 leaves a skin on half of the blanks, one to 0.15 on
/// none; one to 0 touches the table as often as not (derived).
#[test]
fn skins_and_the_table() {
    let blank = blank(vec![measured(&[3.0])]);
    near(blank.breaks_through(Height::mm(0.2)), 0.5, 1e-6);
    near(blank.breaks_through(Height::mm(0.149)), 1.0, 1e-12);
    near(blank.touches_table(Height::ZERO), 0.5, 1e-6);
    near(blank.touches_table(Height::mm(0.031)), 0.0, 1e-12);
    near(blank.face_below(Height::mm(3.2)).unwrap(), 0.5, 1e-6);
}

/// A total that the layers cannot give has no chance at all.
#[test]
fn a_contradiction_has_no_chance() {
    let blank = Layered {
        total: Figure::measured("total", &[mm(9.0)], mm(0.01)),
        ..blank(vec![known("a", 3.0, 0.1), known("b", 3.0, 0.1)])
    };
    assert!(blank.miss(1, Height::mm(3.0)).is_none());
}

#[test]
fn chances_in_words() {
    assert_eq!(one_in(0.0), "hardly any blank");
    assert_eq!(one_in(1.0 / 240.0), "1 blank in 240");
    assert_eq!(one_in(1.0 / 12_345.0), "1 blank in 12000");
    assert_eq!(one_in(0.2), "1 blank in 5");
    assert_eq!(one_in(0.5), "50 blanks in 100");
}
