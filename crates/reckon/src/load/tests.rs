//! Loads as a whole: every working comes to its values, and known cases by hand.

use super::*;
use crate::chain::tests::hangs_together;
use crate::material::STOCKS;
use plate::{AlongWalls, Dialect, OutUnits, Shop, SpeedNote, Spindle, SpindleSpeed, TouchOff};
use quantity::{Angle, Speed};
use std::f64::consts::TAU;

fn near(value: f64, expected: f64, tolerance: f64) {
    assert!((value - expected).abs() <= tolerance, "{value} is not {expected}");
}

fn mm(v: f64) -> Length {
    Length::mm(v)
}

/// The 1/8 in cutter of the starter shop.
fn eighth() -> Cutter {
    Cutter {
        number: 1,
        name: "flat 1/8".into(),
        form: Form::Flat,
        diameter: mm(3.175),
        cutting_width: mm(3.175),
        width_measured: true,
        flutes: 1,
        flute_length: mm(17.0),
        core: mm(1.9),
        shank: mm(3.175),
        stick_out: mm(22.0),
        may_drill: false,
        stepover: 0.4,
        chip_load: None,
        feed: None,
        pass_depth: None,
        plunge: None,
        entry_angle: None,
        speed: None,
    }
}

fn dial(speeds: &[f64]) -> SpindleSpeed {
    let position = |(i, s): (usize, &f64)| ((i + 1).to_string(), Speed::rev_per_min(*s));
    SpindleSpeed::Dial(speeds.iter().enumerate().map(position).collect())
}

fn shop(speed: SpindleSpeed, greatest_feed: f64) -> Shop {
    Shop {
        name: "test".into(),
        cutters: vec![eighth()],
        machine: Machine {
            greatest_feed: Feed::mm_per_min(greatest_feed),
            greatest_feed_z: Feed::mm_per_min(600.0),
            ..machine()
        },
        spindle: Spindle { speed, power: 400.0, nut_diameter: mm(20.0), nut_length: mm(15.0), body_diameter: mm(70.0) },
        touch_off: TouchOff { feeler: mm(0.1), feeler_error: mm(0.01), repeatability: mm(0.02) },
        dialect: Dialect {
            units: OutUnits::Mm,
            decimals: 3,
            line_numbers: false,
            arcs: true,
            end: "M30".into(),
            speed: SpeedNote::Words,
            extension: "nc".into(),
        },
        sheets: Vec::new(),
    }
}

fn machine() -> Machine {
    Machine {
        name: String::new(),
        travel: [mm(600.0), mm(600.0), mm(80.0)],
        greatest_feed: Feed::mm_per_min(2500.0),
        greatest_feed_z: Feed::mm_per_min(600.0),
        rapid: Feed::mm_per_min(3000.0),
        rapid_z: Feed::mm_per_min(1200.0),
        acceleration: [200.0, 200.0, 150.0],
        corner_deviation: mm(0.02),
        resolution: mm(0.01),
        clearance: mm(5.0),
        walls: AlongWalls::Climb,
        side_force: None,
        program_start: 60.0,
        cutter_change: 180.0,
    }
}

fn starter() -> Shop {
    shop(dial(&[10_000.0, 14_000.0, 18_000.0, 22_000.0, 26_000.0, 30_000.0]), 2500.0)
}

const ACRYLIC: Material = Material::CastAcrylic;

/// 200 m/min on 3.175 mm wants 20051 rev/min, the dial has 18000; 18000 x 1 x 0.08 = 1440 mm/min (handbook formulas;
/// derived). Force at 0.1 J/mm³: 8 N for each mm of depth; the bend rules, and the mean is the peak over pi (derived).
#[test]
fn the_starter_cutter_in_acrylic() {
    let run = cutting(&starter(), &eighth(), ACRYLIC);
    assert_eq!((run.speed.to_rev_per_min(), run.dial.as_deref()), (18_000.0, Some("3")));
    near(run.feed.to_mm_per_min(), 1440.0, 1e-9);
    near(run.chip.to_mm(), 0.08, 1e-12);
    near(run.rubbing.to_mm(), 0.05, 1e-12);
    near(run.breaking.to_mm(), 0.15, 1e-12);
    near(run.entry_feed.to_mm_per_min(), 1008.0, 1e-9);
    near(run.entry_angle.to_degrees(), 3.0, 1e-12);
    // By hand: I of the core 0.639712, of the shank 4.98821 mm⁴; (4913/0.639712 + 5735/4.98821)/1.8e6 = 4.90535e-3 mm/N.
    near(give(&eighth()), 4.905_35e-3, 1e-7);
    assert_eq!(run.limit, Limit::Bend);
    near(run.pass_depth.to_mm(), 0.03175 / (8.0 * 4.905_35e-3), 1e-4);
    near(run.bend.to_mm(), 0.03175, 1e-9);
    near(run.force, 8.0 * run.pass_depth.to_mm(), 1e-9);
    near(run.force / run.mean_force, PI, 1e-12);
    assert!(run.above_rubbing && !run.held_by_machine && run.own.is_empty());
    assert_eq!(run.limits.len(), 6);
}

/// Mean force times cutting speed is the power: P = Q u (derived), whatever the flutes.
#[test]
fn mean_force_and_power_agree() {
    for flutes in 1..=4 {
        let cutter = Cutter { flutes, ..eighth() };
        let run = cutting(&starter(), &cutter, ACRYLIC);
        let speed = PI * 3.175 * run.speed.to_rev_per_min() / 60_000.0;
        let rate = run.feed.to_mm_per_min() * 3.175 * run.pass_depth.to_mm();
        near(run.mean_force * speed, power(rate, 0.1), 1e-9);
    }
}

/// The sum of all flutes' forces in a slot, turned through a whole turn in steps (derived): for up to four flutes never more
/// than one flute's peak, from five on within a tenth of a quarter of their number.
#[test]
fn flutes_that_push_together() {
    for flutes in 1..=12u32 {
        let sum_at = |turn: f64| {
            let force = |k: u32| {
                let a = (turn + TAU * f64::from(k) / f64::from(flutes)).rem_euclid(TAU);
                let (sin, cos) = (libm::sin(a), libm::cos(a));
                if a < PI { [sin * cos, sin * sin] } else { [0.0, 0.0] }
            };
            let sum = (0..flutes).map(force).fold([0.0, 0.0], |s, f| [s[0] + f[0], s[1] + f[1]]);
            libm::hypot(sum[0], sum[1])
        };
        let peak = (0..3600).map(|i| sum_at(TAU * f64::from(i) / 3600.0)).fold(0.0, f64::max);
        let tolerance = if flutes <= 4 { 1e-6 } else { 0.1 * peak };
        near(together(flutes), peak, tolerance);
    }
}

/// Every formula that is printed comes to the value beside it, for every material, form and set of the maker's own numbers;
/// the chains end in the numbers by which the cutter is run.
#[test]
fn what_is_printed_is_what_was_reckoned() {
    let forms = [
        Form::Flat,
        Form::Ball,
        Form::Vee { angle: Angle::deg(60.0), tip: mm(0.2) },
        Form::BullNose { corner: mm(0.5) },
        Form::Taper { angle: Angle::deg(10.0), tip: mm(0.5) },
    ];
    let range = SpindleSpeed::Range { least: Speed::rev_per_min(8000.0), greatest: Speed::rev_per_min(24_000.0) };
    let shops = [starter(), shop(range, 300.0), shop(dial(&[25_000.0]), 600.0)];
    let mut tried = 0;
    for shop in &shops {
        for stock in STOCKS {
            for own in 0..64u32 {
                let said = |bit: u32| own >> bit & 1 == 1;
                let cutter = Cutter {
                    form: forms[own as usize % forms.len()],
                    flutes: 1 + own % 6,
                    chip_load: said(0).then_some(mm(0.06)),
                    feed: said(1).then_some(Feed::mm_per_min(700.0)),
                    pass_depth: said(2).then_some(mm(0.7)),
                    plunge: said(3).then_some(Feed::mm_per_min(150.0)),
                    entry_angle: said(4).then_some(Angle::deg(2.0)),
                    speed: said(5).then_some(Speed::rev_per_min(14_000.0)),
                    may_drill: own % 3 == 0,
                    ..eighth()
                };
                let (run, working) = run::worked(shop, &cutter, stock.material);
                hangs_together(&working);
                assert_eq!(run.own.len(), own.count_ones() as usize);
                let chains = chains(shop, &cutter, stock.material);
                let value = |key: &str| {
                    let chain = chains.iter().find(|c| c.key == key).unwrap();
                    chain.last().unwrap().value
                };
                assert_eq!(chains.len(), RESULTS.len());
                for (key, is) in [
                    ("speed", run.speed.to_rev_per_min()),
                    ("feed", run.feed.to_mm_per_min()),
                    ("chip", run.chip.to_mm()),
                    ("rubbing", run.rubbing.to_mm()),
                    ("breaking", run.breaking.to_mm()),
                    ("pass-depth", run.pass_depth.to_mm()),
                    ("force", run.force),
                    ("mean-force", run.mean_force),
                    ("bend", run.bend.to_mm()),
                    ("entry-feed", run.entry_feed.to_mm_per_min()),
                    ("down-feed", run.down_feed.to_mm_per_min()),
                    ("drill-feed", run.drill_feed.to_mm_per_min()),
                ] {
                    assert_eq!(value(key), is, "{key}");
                }
                near(value("entry-angle"), run.entry_angle.to_degrees(), 1e-12);
                tried += 1;
            }
        }
    }
    assert_eq!(tried, 3 * 11 * 64);
}

/// The chain of the depth names every limit with its value; the feed's doesn't speak of strength.
#[test]
fn chains_hold_what_they_need() {
    let chains = chains(&starter(), &eighth(), ACRYLIC);
    let symbols = |key: &str| -> Vec<String> {
        chains.iter().find(|c| c.key == key).unwrap().terms.iter().map(|t| t.symbol.clone()).collect()
    };
    let depth = symbols("pass-depth");
    for limit in ["a_flutes", "a_bend", "a_core", "a_shank", "a_power", "a_rule", "n_want", "u"] {
        assert!(depth.iter().any(|s| s == limit), "{limit}");
    }
    let feed = symbols("feed");
    assert!(feed.iter().all(|s| s != "E" && s != "u"), "{feed:?}");
    assert_eq!(feed.last().unwrap(), "vf");
}

/// 3 flutes at 0.08 mm want 4320 mm/min at 18000 rev/min; a machine that does 2500 cuts that chip at 10416.7 rev/min and
/// slower (derived), so the dial is set to 10000 rather than letting the chip shrink to 0.046, which rubs.
#[test]
fn the_dial_follows_the_feed() {
    let run = cutting(&starter(), &Cutter { flutes: 3, ..eighth() }, ACRYLIC);
    assert_eq!(run.dial.as_deref(), Some("1"));
    near(run.feed.to_mm_per_min(), 2400.0, 1e-9);
    assert!(run.above_rubbing && !run.held_by_machine);
}

/// 25000 rev/min and 600 mm/min make chips of 0.024 mm (derived), under the 0.05 at which a 1/8 in cutter rubs.
#[test]
fn a_dial_too_fast_for_the_feed() {
    let run = cutting(&shop(dial(&[25_000.0, 30_000.0]), 600.0), &eighth(), ACRYLIC);
    assert_eq!(run.dial.as_deref(), Some("1"));
    near(run.chip.to_mm(), 0.024, 1e-12);
    assert!(!run.above_rubbing && run.held_by_machine);
}

/// In metal the same cutter takes thinner chips and shallower passes, and its force for a chip and depth is as many times
/// greater as the energies are (the energies themselves are from memory).
#[test]
fn metals_are_cut_shallow() {
    let [acrylic, aluminium, brass] =
        [ACRYLIC, Material::Aluminium, Material::Brass].map(|m| cutting(&starter(), &eighth(), m));
    assert!(aluminium.pass_depth < acrylic.pass_depth && brass.pass_depth < aluminium.pass_depth);
    assert!(aluminium.chip < acrylic.chip && aluminium.feed < acrylic.feed);
    near(side_force(Material::Aluminium, 0.02, 0.5) / side_force(ACRYLIC, 0.02, 0.5), 8.0, 1e-9);
}

/// The maker's own numbers count, and both are told.
#[test]
fn the_makers_own_numbers() {
    let cutter = Cutter {
        feed: Some(Feed::mm_per_min(900.0)),
        speed: Some(Speed::rev_per_min(14_000.0)),
        pass_depth: Some(mm(1.2)),
        plunge: Some(Feed::mm_per_min(90.0)),
        entry_angle: Some(Angle::deg(4.0)),
        ..eighth()
    };
    let run = cutting(&starter(), &cutter, ACRYLIC);
    assert_eq!((run.feed.to_mm_per_min(), run.dial.as_deref()), (900.0, Some("2")));
    assert_eq!((run.pass_depth.to_mm(), run.limit), (1.2, Limit::Maker));
    assert_eq!([run.down_feed, run.drill_feed].map(Feed::to_mm_per_min), [90.0, 90.0]);
    near(run.entry_angle.to_degrees(), 4.0, 1e-12);
    // A feed of 900 serves chips of 0.08 at 11250 rev/min (derived): the dial's first position is reckoned for it.
    let words: Vec<String> = run.own.iter().map(Own::worded).collect();
    assert_eq!(
        words,
        [
            "spindle speed 14000 rev/min (reckoned: 10000)",
            "feed 900 mm/min (reckoned: 1120)",
            "depth per pass 1.2 mm (reckoned: 1.007)",
            "feed straight down 90 mm/min (reckoned: 270)",
            "steepest entry 4° (reckoned: 3)",
        ]
    );
    // Deeper than the flutes it never goes.
    let deep = Cutter { pass_depth: Some(mm(30.0)), ..eighth() };
    let run = cutting(&starter(), &deep, ACRYLIC);
    assert_eq!((run.pass_depth.to_mm(), run.limit), (17.0, Limit::Flutes));
}

/// A shank thinner than the core breaks first: 32 F L / (pi d³) at 670 N/mm² (textbook; derived: 8 N/mm, L 22, d 1.2 gives
/// 0.64582 mm).
#[test]
fn the_thinnest_section_rules() {
    let slim = Cutter { shank: mm(1.2), flute_length: mm(3.0), ..eighth() };
    let run = cutting(&starter(), &slim, ACRYLIC);
    let shank = run.limits.iter().find(|l| l.0 == Limit::Shank).unwrap().1;
    near(shank, 670.0 * PI * 1.728 / (32.0 * 8.0 * 22.0), 1e-9);
    near(shank, 0.645_82, 1e-4);
}

/// A frame that bears 4 N: at 8 N for each mm of depth, passes are 0.5 mm deep (derived), and the force is 4 N at the most. One that bears
/// more than the cutter's own limits ask for changes nothing.
#[test]
fn a_weak_frame_makes_passes_shallow() {
    let weak = |force: Option<f64>| {
        let mut shop = starter();
        shop.machine.side_force = force;
        hangs_together(&run::worked(&shop, &eighth(), ACRYLIC).1);
        cutting(&shop, &eighth(), ACRYLIC)
    };
    let run = weak(Some(4.0));
    near(run.pass_depth.to_mm(), 0.5, 1e-9);
    near(run.force, 4.0, 1e-9);
    assert_eq!(run.limit, Limit::Frame);
    assert_eq!(weak(Some(40.0)).pass_depth, weak(None).pass_depth);
}
