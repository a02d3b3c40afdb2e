//! Synthetic runs whose figures are known come back.

use super::*;
use crate::pace::Turn;
use quantity::Feed;

fn machine() -> Machine {
    Machine {
        name: String::new(),
        travel: [Length::mm(600.0); 3],
        greatest_feed: Feed::mm_per_min(2500.0),
        greatest_feed_z: Feed::mm_per_min(600.0),
        rapid: Feed::mm_per_min(3000.0),
        rapid_z: Feed::mm_per_min(1200.0),
        acceleration: [200.0, 200.0, 150.0],
        corner_deviation: Length::mm(0.02),
        resolution: Length::mm(0.01),
        clearance: Length::mm(5.0),
        walls: plate::AlongWalls::Climb,
        side_force: None,
        program_start: 60.0,
        cutter_change: 180.0,
    }
}

/// To and fro with many corners.
fn corners(count: usize) -> Vec<Step> {
    let mut steps = vec![Step::Wait(3.0)];
    for k in 0..count {
        let way = if k % 2 == 0 { 4.0 } else { -4.0 };
        steps.push(Step::line([way, 0.0, 0.0], 1800.0));
        steps.push(Step::line([0.3, 0.7, 0.0], 1800.0));
        let turn = Turn { axis: 2, start: 0.4 * k as f64, sweep: 2.0, radius: 1.2, rise: 0.0 };
        steps.push(Step::arc(turn, 1800.0));
    }
    steps
}

/// Rapids over the plate between short cuts.
fn starts(count: usize) -> Vec<Step> {
    let mut steps = Vec::new();
    for k in 0..count {
        steps.push(Step::Rapid { by: [30.0, 10.0 + k as f64 % 7.0, 0.0] });
        steps.push(Step::line([15.0, 0.0, 0.0], 1500.0));
        steps.push(Step::Rapid { by: [-40.0, 3.0, 0.0] });
        steps.push(Step::line([0.0, 6.0, 0.0], 1500.0));
    }
    steps
}

/// Pecks.
fn holes(count: usize) -> Vec<Step> {
    let peck = [
        Step::line([0.0, 0.0, -1.0], 300.0),
        Step::Rapid { by: [0.0, 0.0, 8.0] },
        Step::Rapid { by: [0.0, 0.0, -8.0] },
    ];
    (0..count).flat_map(|_| peck).collect()
}

fn timed<'a>(truth: &Machine, programs: &'a [Vec<Step>], round: f64) -> Vec<Timed<'a>> {
    let took = |steps: &[Step]| (seconds(truth, steps) / round).round() * round;
    programs.iter().map(|steps| Timed { steps, took: took(steps) }).collect()
}

fn near(value: f64, expected: f64, share: f64, what: &str) {
    assert!((value - expected).abs() <= share * expected, "{what}: {value} is not {expected}");
}

/// Three programs of different kinds, timed to a tenth of a second: the known figures come back within 2 %.
#[test]
fn known_figures_come_back() {
    let programs = [corners(700), starts(400), holes(300)];
    for (acceleration, deviation) in
        [([350.0, 350.0, 120.0], 0.05), ([90.0, 90.0, 60.0], 0.008), ([600.0, 600.0, 900.0], 0.012)]
    {
        let truth = Machine { acceleration, corner_deviation: Length::mm(deviation), ..machine() };
        let fit = fit(&machine(), &timed(&truth, &programs, 0.1), 0.1).unwrap();
        near(fit.acceleration[0], acceleration[0], 0.02, "x");
        near(fit.acceleration[1], acceleration[1], 0.02, "y");
        near(fit.acceleration[2], acceleration[2], 0.02, "z");
        near(fit.corner_deviation, deviation, 0.02, "corner");
        assert!(!fit.disagrees && fit.instead.is_empty() && fit.left < 1.0, "{fit:?}");
        for (known, truth) in [(fit.level, acceleration[0]), (fit.upright, acceleration[2]), (fit.corner, deviation)] {
            let Known::Told { low, high } = known else { panic!("{known:?}") };
            assert!(low < truth * 1.001 && truth < high * 1.001 && high < 1.5 * low, "{low} {truth} {high}");
        }
    }
}

/// Axes with different limits keep their proportion, and z goes along where nothing tells it apart.
#[test]
fn proportions_are_kept_where_nothing_tells_them() {
    let from = Machine { acceleration: [200.0, 100.0, 50.0], ..machine() };
    let truth = Machine { acceleration: [300.0, 150.0, 75.0], corner_deviation: Length::mm(0.03), ..machine() };
    let programs = [corners(900), starts(500)];
    let fit = fit(&from, &timed(&truth, &programs, 1.0), 1.0).unwrap();
    assert_eq!(fit.upright, Known::InProportion);
    near(fit.acceleration[0], 300.0, 0.02, "x");
    near(fit.acceleration[1], 150.0, 0.02, "y");
    near(fit.acceleration[2], 75.0, 0.02, "z");
    near(fit.corner_deviation, 0.03, 0.04, "corner");
}

/// One time is one number: it tells the acceleration if the deviation is as it was, and says which other pairs would do.
#[test]
fn one_program_tells_one_figure() {
    let truth = Machine { acceleration: [320.0, 320.0, 240.0], ..machine() };
    let programs = [corners(700)];
    let fit = fit(&machine(), &timed(&truth, &programs, 0.1), 0.5).unwrap();
    near(fit.acceleration[0], 320.0, 0.02, "x");
    near(fit.acceleration[2], 240.0, 0.02, "z in proportion");
    assert_eq!((fit.corner, fit.corner_deviation), (Known::Kept, 0.02));
    assert_eq!(fit.instead.len(), 2, "{:?}", fit.instead);
    for [deviation, acceleration] in fit.instead {
        let other = Machine {
            acceleration: [acceleration, acceleration, 0.75 * acceleration],
            corner_deviation: Length::mm(deviation),
            ..machine()
        };
        near(seconds(&other, &programs[0]), seconds(&truth, &programs[0]), 0.002, "an equal pair");
    }
}

/// Whole seconds by hand: the figures lie between what is said of them.
#[test]
fn the_truth_lies_between() {
    let programs = [corners(400), starts(150), holes(60)];
    for k in 0..6 {
        let x = 100.0 + 60.0 * f64::from(k);
        let truth = Machine {
            acceleration: [x, x, 130.0],
            corner_deviation: Length::mm(0.01 + 0.006 * f64::from(k)),
            ..machine()
        };
        let fit = fit(&machine(), &timed(&truth, &programs, 1.0), 0.5).unwrap();
        let Known::Told { low, high } = fit.level else { panic!("{fit:?}") };
        assert!(low <= x && x <= high, "{low} {x} {high}");
        if let Known::Told { low, high } = fit.corner {
            let truth = truth.corner_deviation.to_mm();
            assert!(low <= truth && truth <= high, "{low} {truth} {high}");
        }
    }
}

#[test]
fn a_machine_that_stops_at_corners_is_told() {
    let truth = Machine { corner_deviation: Length::ZERO, acceleration: [260.0, 260.0, 195.0], ..machine() };
    let programs = [corners(700), starts(400)];
    let fit = fit(&machine(), &timed(&truth, &programs, 0.1), 0.5).unwrap();
    assert_eq!(fit.corner_deviation, 0.0, "{fit:?}");
    near(fit.acceleration[0], 260.0, 0.02, "x");
    assert!(matches!(fit.corner, Known::Told { low: 0.0, high } if high < 0.001), "{fit:?}");
}

/// The least time is d/v: 30 cuts of 21 mm at 25 mm/s, rapids of 40 and 30 mm at 50 mm/s, 1.4 s each pair (derived).
#[test]
fn what_is_shorter_than_possible_is_named() {
    let programs = [starts(30), corners(50)];
    let least = Least::of(&machine(), &programs[0]);
    near(least.cuts, 30.0 * 21.0 / 25.0, 1e-9, "cuts");
    near(least.rapids, 30.0 * 1.4, 1e-9, "rapids");
    assert_eq!(Least::of(&machine(), &programs[1]).waits, 3.0);
    let mut runs = timed(&machine(), &programs, 0.1);
    runs[0].took = least.seconds() - 4.0;
    let Err(Untold::TooShort(short)) = fit(&machine(), &runs, 1.0) else { panic!("it is impossible") };
    assert_eq!(short, [(0, least)]);
}

#[test]
fn times_that_tell_nothing_or_too_much() {
    // Minutes along a line: the acceleration is a tenth of a second of it.
    let line = [vec![Step::line([400.0, 0.0, 0.0], 300.0)]];
    let Err(Untold::Nothing { swing, at_least }) = fit(&machine(), &timed(&machine(), &line, 1.0), 1.0) else {
        panic!("a line tells nothing")
    };
    assert!(swing < 0.2 && at_least.is_some_and(|a| a < 10.0), "{swing} {at_least:?}");
    // Ten times as long as told.
    let programs = [holes(300), starts(200)];
    let runs: Vec<Timed> =
        programs.iter().map(|steps| Timed { steps, took: 40.0 * seconds(&machine(), steps) }).collect();
    assert!(matches!(fit(&machine(), &runs, 1.0), Err(Untold::TooLong(_))), "{:?}", fit(&machine(), &runs, 1.0));
    // Programs that can't all be right, so far apart that nothing is told by them, and a little apart.
    let programs = [starts(200), starts(200), starts(200)];
    let mut runs = timed(&machine(), &programs, 0.1);
    runs[1].took *= 3.0;
    assert!(matches!(fit(&machine(), &runs, 1.0), Err(Untold::Apart(_))), "{:?}", fit(&machine(), &runs, 1.0));
    let programs = [starts(200), starts(200), starts(200)];
    let mut runs = timed(&machine(), &programs, 0.1);
    runs[1].took += 30.0;
    assert!(fit(&machine(), &runs, 1.0).unwrap().disagrees);
    assert!(fit(&machine(), &[], 1.0).is_err());
}

#[test]
fn three_digits() {
    for (value, expected) in [(352.4, 352.0), (0.033_349, 0.0333), (1234.0, 1230.0), (99.96, 100.0), (0.0, 0.0)] {
        near(rounded(value) + 1.0, expected + 1.0, 1e-12, "rounded");
    }
}

#[test]
fn linear_equations() {
    let found = solved(&[vec![2.0, 1.0], vec![1.0, 3.0]], &[5.0, 10.0]).unwrap();
    assert!((found[0] - 1.0).abs() < 1e-12 && (found[1] - 3.0).abs() < 1e-12, "{found:?}");
    assert_eq!(solved(&[vec![1.0, 2.0], vec![2.0, 4.0]], &[1.0, 2.0]), None);
    assert_eq!(solved(&[vec![0.0]], &[1.0]), None);
}
