//! Pace: how long moves take on a machine with limits, with look-ahead at corners.
//!
//! Each move has a limit of speed from its feed and, on an arc, from the centripetal acceleration (v = sqrt(a r)).
//! Between two moves the speed is limited by the arc that rounds the corner within the machine's deviation d:
//! R = d s / (1 - s) with s the sine of half the interior angle, v = sqrt(a R). A pass backward and one forward
//! then hold every change of speed within the acceleration. Units: mm, s; feeds come in as mm/min.

use plate::Machine;

/// One move as pace sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// A cutting move.
    Cut {
        /// Length of the path, mm.
        length: f64,
        /// mm/min.
        feed: f64,
        /// Unit direction at the start.
        first: [f64; 3],
        /// Unit direction at the end.
        last: [f64; 3],
        /// Radius of the path; infinite for a line.
        radius: f64,
    },
    /// A rapid: from rest to rest, each axis on its own.
    Rapid {
        /// Signed distance by axis, mm.
        by: [f64; 3],
    },
    /// Standing still, s.
    Wait(f64),
}

/// Seconds that each step takes, in order.
pub fn times(machine: &Machine, steps: &[Step]) -> Vec<f64> {
    let mut times = Vec::with_capacity(steps.len());
    let mut run: Vec<Cut> = Vec::new();
    for step in steps {
        match *step {
            Step::Cut { length, feed, first, last, radius } => {
                run.push(Cut::new(machine, length, feed, first, last, radius))
            }
            Step::Rapid { by } => {
                finish(machine, &mut run, &mut times);
                times.push(rapid(machine, by));
            }
            Step::Wait(seconds) => {
                finish(machine, &mut run, &mut times);
                times.push(seconds);
            }
        }
    }
    finish(machine, &mut run, &mut times);
    times
}

/// Seconds that all steps take together.
pub fn seconds(machine: &Machine, steps: &[Step]) -> f64 {
    times(machine, steps).iter().sum()
}

/// Time from rest to rest over a distance d at speed v and acceleration a:
/// d/v + v/a where d >= v²/a, else 2 sqrt(d/a).
pub fn rest_to_rest(d: f64, v: f64, a: f64) -> f64 {
    through(d, 0.0, v, 0.0, a)
}

/// Time over a distance `d` entered at `v0` and left at `v1`, at most `v`, acceleration `a`. mm, mm/s, mm/s².
fn through(d: f64, v0: f64, v: f64, v1: f64, a: f64) -> f64 {
    if d <= 0.0 {
        return 0.0;
    }
    let v = v.max(v0).max(v1).max(1e-9);
    // The peak that acceleration and braking meet at, if the limit isn't reached.
    let peak = libm::sqrt(a * d + 0.5 * (v0 * v0 + v1 * v1));
    if peak <= v {
        return (2.0 * peak - v0 - v1) / a;
    }
    let ramps = (2.0 * v * v - v0 * v0 - v1 * v1) / (2.0 * a);
    (2.0 * v - v0 - v1) / a + (d - ramps) / v
}

struct Cut {
    length: f64,
    limit: f64,
    acceleration: f64,
    first: [f64; 3],
    last: [f64; 3],
}

impl Cut {
    fn new(machine: &Machine, length: f64, feed: f64, first: [f64; 3], last: [f64; 3], radius: f64) -> Self {
        let acceleration = along(&machine.acceleration, first).min(along(&machine.acceleration, last));
        let sideways = machine.acceleration[0].min(machine.acceleration[1]);
        let centripetal = if radius.is_finite() { libm::sqrt(sideways * radius) } else { f64::INFINITY };
        let limit = (feed / 60.0).min(centripetal).max(1e-6);
        Self { length, limit, acceleration, first, last }
    }
}

/// Acceleration along a direction when each axis has its own limit, mm/s².
fn along(limits: &[f64; 3], direction: [f64; 3]) -> f64 {
    let each = (0..3).filter(|&i| direction[i].abs() > 1e-9).map(|i| limits[i] / direction[i].abs());
    each.fold(f64::INFINITY, f64::min).clamp(1e-3, 1e9)
}

/// The speed at which the corner between two directions may be passed, mm/s.
fn corner_speed(last: [f64; 3], first: [f64; 3], deviation: f64, acceleration: f64) -> f64 {
    let cosine: f64 = (0..3).map(|i| last[i] * first[i]).sum::<f64>().clamp(-1.0, 1.0);
    // The interior angle is pi less the turn; sin of its half is cos of half the turn.
    let s = libm::sqrt(0.5 * (1.0 + cosine));
    if s >= 1.0 - 1e-12 {
        return f64::INFINITY;
    }
    libm::sqrt(acceleration * deviation * s / (1.0 - s))
}

fn finish(machine: &Machine, run: &mut Vec<Cut>, times: &mut Vec<f64>) {
    if run.is_empty() {
        return;
    }
    let n = run.len();
    let mut joints = vec![0.0; n + 1];
    for i in 1..n {
        let (a, b) = (&run[i - 1], &run[i]);
        let corner =
            corner_speed(a.last, b.first, machine.corner_deviation.to_mm(), a.acceleration.min(b.acceleration));
        joints[i] = corner.min(a.limit).min(b.limit);
    }
    let reachable = |v: f64, cut: &Cut| libm::sqrt(v * v + 2.0 * cut.acceleration * cut.length);
    for i in (0..n).rev() {
        joints[i] = joints[i].min(reachable(joints[i + 1], &run[i]));
    }
    for i in 0..n {
        joints[i + 1] = joints[i + 1].min(reachable(joints[i], &run[i]));
    }
    for (i, cut) in run.iter().enumerate() {
        times.push(through(cut.length, joints[i], cut.limit, joints[i + 1], cut.acceleration));
    }
    run.clear();
}

fn rapid(machine: &Machine, by: [f64; 3]) -> f64 {
    let speeds = [machine.rapid, machine.rapid, machine.rapid_z].map(|f| f.to_mm_per_min() / 60.0);
    (0..3)
        .map(|i| rest_to_rest(by[i].abs(), speeds[i].max(1e-6), machine.acceleration[i].max(1e-3)))
        .fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use quantity::{Feed, Length};

    fn machine(a: f64, deviation: f64) -> Machine {
        Machine {
            name: String::new(),
            travel: [Length::mm(600.0); 3],
            greatest_feed: Feed::mm_per_min(3000.0),
            greatest_feed_z: Feed::mm_per_min(1000.0),
            rapid: Feed::mm_per_min(1500.0),
            rapid_z: Feed::mm_per_min(1500.0),
            acceleration: [a; 3],
            corner_deviation: Length::mm(deviation),
            resolution: Length::mm(0.005),
            clearance: Length::mm(3.0),
            walls: plate::AlongWalls::Climb,
            program_start: 60.0,
            cutter_change: 120.0,
        }
    }

    fn near(value: f64, expected: f64, tolerance: f64) {
        assert!((value - expected).abs() <= tolerance, "{value} is not {expected}");
    }

    /// d 50, v 25, a 250: 2.1 s; d 1: 0.126491 s, peak 15.8114 (derived).
    #[test]
    fn from_rest_to_rest() {
        near(rest_to_rest(50.0, 25.0, 250.0), 2.1, 1e-12);
        near(rest_to_rest(1.0, 25.0, 250.0), 0.126_491, 1e-6);
    }

    /// Entry 10, cruise 25, exit 0, d 20, a 250: 0.868 s (derived).
    #[test]
    fn entered_moving() {
        near(through(20.0, 10.0, 25.0, 0.0, 250.0), 0.868, 1e-9);
    }

    /// a 250: r 1.5 gives 19.3649, r 0.5 gives 11.1803 mm/s (derived).
    #[test]
    fn arcs_are_held_by_centripetal_acceleration() {
        let m = machine(250.0, 0.01);
        for (r, v) in [(1.5, 19.3649), (0.5, 11.1803)] {
            near(Cut::new(&m, 1.0, 60_000.0, [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], r).limit, v, 1e-4);
        }
    }

    /// d 0.01, a 250: interior 90° gives 2.45673 mm/s, 135° gives 5.50842 (derived).
    #[test]
    fn corners() {
        near(corner_speed([1.0, 0.0, 0.0], [0.0, 1.0, 0.0], 0.01, 250.0), 2.45673, 1e-5);
        let turn = std::f64::consts::FRAC_PI_4;
        let to = [libm::cos(turn), libm::sin(turn), 0.0];
        near(corner_speed([1.0, 0.0, 0.0], to, 0.01, 250.0), 5.50842, 1e-5);
        assert_eq!(corner_speed([1.0, 0.0, 0.0], [-1.0, 0.0, 0.0], 0.01, 250.0), 0.0);
    }

    #[test]
    fn a_line_in_two_pieces_takes_as_long_as_one() {
        let m = machine(250.0, 0.01);
        let cut = |length| Step::Cut {
            length,
            feed: 1500.0,
            first: [1.0, 0.0, 0.0],
            last: [1.0, 0.0, 0.0],
            radius: f64::INFINITY,
        };
        let whole: f64 = times(&m, &[cut(50.0)]).iter().sum();
        let halves: f64 = times(&m, &[cut(20.0), cut(30.0)]).iter().sum();
        near(whole, 2.1, 1e-9);
        near(halves, whole, 1e-9);
    }
}
