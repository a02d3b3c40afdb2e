//! Slow: how far a cutter runs slower than some feed because it must speed up, brake and round corners.
//!
//! [`pace`](crate::pace) takes every move as fast as feed, arcs, corners and acceleration let it. If no feed may exceed a
//! cap, what was slower stays as it was and the rest runs at the cap: a stretch of length L takes L / cap there. So two
//! caps a hair apart tell L from the two times alone, whatever pace reckons with:
//! L = (T1 - T2) / (1 / cap1 - 1 / cap2), and the rest of the move is slower (derived).

use crate::pace::{self, Step};
use plate::Machine;

/// How far apart the two caps are, as a share.
const HAIR: f64 = 1e-4;

/// Of each step the length along which it runs slower than `feed` (mm/min), mm; 0 for rapids and waits, and for moves whose
/// own feed is no more than that: these are slow by their feed, not by the machine.
pub fn lengths(machine: &Machine, steps: &[Step], feed: f64) -> Vec<f64> {
    let mut slow = Vec::with_capacity(steps.len());
    // Every run from rest to rest by itself, so that no more than one is copied.
    for run in steps.chunk_by(|a, b| matches!((a, b), (Step::Cut { .. }, Step::Cut { .. }))) {
        match run.first() {
            Some(Step::Cut { .. }) if feed > 0.0 && feed.is_finite() => slow.extend(of_run(machine, run, feed)),
            _ => slow.extend(run.iter().map(|_| 0.0)),
        }
    }
    slow
}

fn of_run(machine: &Machine, run: &[Step], feed: f64) -> Vec<f64> {
    let less = feed * (1.0 - HAIR);
    let capped = |cap: f64| {
        let held: Vec<Step> = run
            .iter()
            .map(|step| {
                let mut held = *step;
                if let Step::Cut { feed, .. } = &mut held {
                    *feed = feed.min(cap);
                }
                held
            })
            .collect();
        pace::times(machine, &held)
    };
    let (slower, faster) = (capped(less), capped(feed));
    let per_mm = 60.0 / less - 60.0 / feed;
    let one = |(step, (t1, t2)): (&Step, (f64, f64))| match step {
        Step::Cut { length, feed: own, .. } if *own > feed => (length - (t1 - t2) / per_mm).clamp(0.0, *length),
        _ => 0.0,
    };
    run.iter().zip(slower.into_iter().zip(faster)).map(one).map(|l| if l < 1e-6 { 0.0 } else { l }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use quantity::{Feed, Length};

    fn machine(a: f64) -> Machine {
        Machine {
            name: String::new(),
            travel: [Length::mm(600.0); 3],
            greatest_feed: Feed::mm_per_min(3000.0),
            greatest_feed_z: Feed::mm_per_min(1000.0),
            rapid: Feed::mm_per_min(1500.0),
            rapid_z: Feed::mm_per_min(1500.0),
            acceleration: [a; 3],
            corner_deviation: Length::mm(0.01),
            resolution: Length::mm(0.005),
            clearance: Length::mm(3.0),
            walls: plate::AlongWalls::Climb,
            side_force: None,
            program_start: 60.0,
            cutter_change: 120.0,
        }
    }

    /// From a place by lines to others, as steps; pace has the words for them.
    fn lines(corners: &[[f64; 2]], feed: f64) -> Vec<Step> {
        let line = |w: &[[f64; 2]]| Step::line([w[1][0] - w[0][0], w[1][1] - w[0][1], 0.0], feed);
        corners.windows(2).map(line).collect()
    }

    fn near(value: f64, expected: f64, tolerance: f64) {
        assert!((value - expected).abs() <= tolerance, "{value} is not {expected}");
    }

    /// From rest to 15 mm/s at 200 mm/s² takes 15² / 400 = 0.5625 mm, and braking as much (derived), in one piece or three.
    #[test]
    fn speeding_up_and_braking() {
        let m = machine(200.0);
        let whole = lengths(&m, &lines(&[[0.0, 0.0], [50.0, 0.0]], 1440.0), 900.0);
        near(whole[0], 1.125, 1e-3);
        let parts = lengths(&m, &lines(&[[0.0, 0.0], [20.0, 0.0], [30.0, 0.0], [50.0, 0.0]], 1440.0), 900.0);
        near(parts[0], 0.5625, 1e-3);
        assert_eq!(parts[1], 0.0);
        near(parts[2], 0.5625, 1e-3);
    }

    /// A sharp corner is passed at 2.45673 mm/s with 250 mm/s² and 0.01 mm (derived), so it costs (15² - 2.45673²) / 500 =
    /// 0.43793 mm on each side.
    #[test]
    fn a_corner_is_slow_on_both_sides() {
        let slow = lengths(&machine(250.0), &lines(&[[0.0, 0.0], [50.0, 0.0], [50.0, 50.0]], 1440.0), 900.0);
        for length in slow {
            near(length, 0.45 + 0.437_93, 1e-3);
        }
    }

    /// A move too short to get up to speed is slow all the way; one that is meant to be slow isn't counted; nor are rapids.
    #[test]
    fn short_moves_and_slow_feeds() {
        let m = machine(200.0);
        near(lengths(&m, &lines(&[[0.0, 0.0], [1.0, 0.0]], 1440.0), 900.0)[0], 1.0, 1e-9);
        assert_eq!(lengths(&m, &lines(&[[0.0, 0.0], [1.0, 0.0]], 900.0), 900.0), [0.0]);
        let mut mixed = lines(&[[0.0, 0.0], [50.0, 0.0]], 1440.0);
        mixed.insert(0, Step::Rapid { by: [1.0, 0.0, 0.0] });
        mixed.push(Step::Wait(1.0));
        let slow = lengths(&m, &mixed, 900.0);
        assert_eq!((slow[0], slow[2]), (0.0, 0.0));
        near(slow[1], 1.125, 1e-3);
        assert_eq!(lengths(&m, &mixed, f64::NAN), [0.0; 3]);
    }
}
