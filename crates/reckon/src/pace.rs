//! Pace: how long moves take on a machine with limits. The same code serves the plan's choices and the proof's minutes.
//!
//! # The model
//! 1. A cutting move is run along its path at no more than its feed. On an arc the speed v also keeps within v² / r <= a, a the
//!    acceleration toward the centre wherever the arc lies (v = sqrt(a r)); a helix bends less than its circle.
//! 2. Along the path the speed rises and falls by no more than the acceleration a. Each axis has its own limit: along a
//!    direction u the acceleration is the least of limit / |u| over the axes, and a move that turns keeps to the least of all
//!    its directions.
//! 3. Between two cutting moves the corner is passed at the speed that an arc allows which rounds the corner within the machine's
//!    deviation d: R = d s / (1 - s), s the sine of half the angle between the two ways, v = sqrt(a R), a toward
//!    the arc's centre as on any arc. The arc takes no more than half of what runs smoothly on each side, so that many short chords are no
//!    quicker than the curve that they stand for. A corner that turns right back is a stop.
//! 4. All of that is looked ahead: no speed is taken from which the next limits can't be met.
//! 5. A rapid goes from rest to rest, each axis on its own by its own speed and acceleration; it lasts as long as the slowest.
//! 6. Cutting moves beside a rapid or a wait begin and end at rest. A move without length takes no time and is no corner.
//!
//! How it is reckoned: every joint gets its limit, then a pass backward and one forward hold every change of speed within
//! the acceleration; each move's time follows in closed form. Units: mm, s; feeds come in as mm/min.

use plate::Machine;

/// A turn by less than this, as 1 less the sine of half the interior angle, is none.
const SMOOTH: f64 = 1e-12;

/// How the path of a cutting move bends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bend {
    /// Not at all.
    Straight,
    /// About an axis of the machine.
    About {
        /// Radius of the path itself, mm: on a helix greater than its circle's.
        radius: f64,
        /// The axis: 0 for x, 1 for y, 2 for z.
        axis: u8,
        /// Whether its direction runs along the next axis somewhere (x, y, z and again), and along the one after that.
        runs_along: [bool; 2],
    },
}

/// One move as pace sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// A cutting move; [`Step::line`] and [`Step::arc`] make it.
    Cut {
        /// Length of the path, mm.
        length: f64,
        /// mm/min.
        feed: f64,
        /// Unit direction at the start.
        first: [f64; 3],
        /// Unit direction at the end.
        last: [f64; 3],
        /// How it bends.
        bend: Bend,
    },
    /// A rapid: from rest to rest, each axis on its own.
    Rapid {
        /// Signed distance by axis, mm.
        by: [f64; 3],
    },
    /// Standing still, s.
    Wait(f64),
}

/// An arc or a helix about an axis of the machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// The axis it turns about: 0 for x, 1 for y, 2 for z.
    pub axis: usize,
    /// Angle of the start seen from the centre, from the next axis toward the one after that, radians.
    pub start: f64,
    /// Signed angle turned, radians.
    pub sweep: f64,
    /// Radius, mm.
    pub radius: f64,
    /// Distance along the axis, mm.
    pub rise: f64,
}

impl Step {
    /// A straight cutting move by these distances, mm, at a feed, mm/min.
    pub fn line(by: [f64; 3], feed: f64) -> Self {
        let length = norm(by);
        let direction = unit(by);
        Self::Cut { length, feed, first: direction, last: direction, bend: Bend::Straight }
    }

    /// An arc or helix at a feed along its path, mm/min.
    pub fn arc(turn: Turn, feed: f64) -> Self {
        let Turn { axis, start, sweep, radius, rise } = turn;
        let axis = axis % 3;
        let (i, j) = ((axis + 1) % 3, (axis + 2) % 3);
        let arc = radius * sweep.abs();
        let direction = |angle: f64| {
            let mut d = [0.0; 3];
            d[i] = -libm::sin(angle) * sweep;
            d[j] = libm::cos(angle) * sweep;
            d[axis] = if radius > 0.0 { rise / radius } else { rise };
            unit(d)
        };
        let (low, high) = if sweep < 0.0 { (start + sweep, start) } else { (start, start + sweep) };
        // Beside the centre in one axis the path runs along the other.
        let passes = |beside: f64| {
            let turns = |angle: f64| (angle - beside) / std::f64::consts::PI;
            turns(high).floor() >= turns(low).ceil()
        };
        let climb = if arc > 0.0 { rise / arc } else { 0.0 };
        let bend = Bend::About {
            radius: if arc > 0.0 { radius * (1.0 + climb * climb) } else { f64::INFINITY },
            axis: axis as u8,
            runs_along: [passes(std::f64::consts::FRAC_PI_2), passes(0.0)],
        };
        Self::Cut {
            length: libm::hypot(arc, rise),
            feed,
            first: direction(start),
            last: direction(start + sweep),
            bend,
        }
    }
}

fn norm(v: [f64; 3]) -> f64 {
    libm::sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2])
}

fn unit(v: [f64; 3]) -> [f64; 3] {
    let n = norm(v);
    if n > 0.0 { v.map(|x| x / n) } else { [0.0, 0.0, 1.0] }
}

/// Seconds that each step takes, in order.
pub fn times(machine: &Machine, steps: &[Step]) -> Vec<f64> {
    let mut times = Vec::with_capacity(steps.len());
    let mut run = Run::default();
    for step in steps {
        match *step {
            Step::Cut { length, feed, first, last, bend } if length > 0.0 => {
                let idle_before = std::mem::take(&mut run.idle);
                run.cuts.push(Cut { idle_before, ..Cut::new(machine, length, feed, first, last, bend) });
            }
            Step::Cut { .. } => run.idle += 1,
            Step::Rapid { by } => {
                run.finish(machine, &mut times);
                times.push(rapid(machine, by));
            }
            Step::Wait(seconds) => {
                run.finish(machine, &mut times);
                times.push(seconds);
            }
        }
    }
    run.finish(machine, &mut times);
    times
}

/// Seconds that all steps take together.
pub fn seconds(machine: &Machine, steps: &[Step]) -> f64 {
    times(machine, steps).iter().sum()
}

/// Seconds of starting programs and changing cutters, for the cutters of programs in their order: every program is started, and
/// a cutter is put in for the first one and wherever the number differs from the one before.
pub fn starts_and_changes(machine: &Machine, cutters: impl IntoIterator<Item = u32>) -> f64 {
    let mut last = None;
    let mut seconds = 0.0;
    for cutter in cutters {
        seconds += machine.program_start;
        if last.replace(cutter) != Some(cutter) {
            seconds += machine.cutter_change;
        }
    }
    seconds
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

/// A cutting move on a machine.
struct Cut {
    /// Moves without length since the one before.
    idle_before: u32,
    length: f64,
    limit: f64,
    acceleration: f64,
    first: [f64; 3],
    last: [f64; 3],
}

impl Cut {
    fn new(machine: &Machine, length: f64, feed: f64, first: [f64; 3], last: [f64; 3], bend: Bend) -> Self {
        let limits = &machine.acceleration;
        let mut shares = [0, 1, 2].map(|i| first[i].abs().max(last[i].abs()));
        let mut limit = feed / 60.0;
        if let Bend::About { radius, axis, runs_along } = bend {
            let axis = usize::from(axis) % 3;
            let (i, j) = ((axis + 1) % 3, (axis + 2) % 3);
            let across = libm::hypot(first[i], first[j]);
            for (on, along) in [i, j].into_iter().zip(runs_along) {
                if along {
                    shares[on] = across;
                }
            }
            if across > 0.0 && radius.is_finite() {
                // Toward the centre is a quarter turn from the way: what one axis has of the one, the other has of the other.
                let mut inward = [0.0; 3];
                (inward[i], inward[j]) = (shares[j] / across, shares[i] / across);
                limit = limit.min(libm::sqrt(along(limits, inward) * radius));
            }
        }
        Self { idle_before: 0, length, limit: limit.max(1e-6), acceleration: along(limits, shares), first, last }
    }
}

/// Acceleration along a direction, or the least along several of which these are the greatest shares of each axis, when each
/// axis has its own limit, mm/s².
fn along(limits: &[f64; 3], direction: [f64; 3]) -> f64 {
    let each = (0..3).filter(|&i| direction[i].abs() > 1e-9).map(|i| limits[i] / direction[i].abs());
    each.fold(f64::INFINITY, f64::min).clamp(1e-3, 1e9)
}

/// A corner between two ways.
struct Corner {
    /// Sine of half the interior angle: that is pi less the turn, so it is the cosine of half the turn.
    s: f64,
    /// Acceleration toward the centre of the arc that rounds it, wherever on the arc, mm/s².
    acceleration: f64,
}

impl Corner {
    fn new(limits: &[f64; 3], last: [f64; 3], first: [f64; 3]) -> Self {
        // The chord of a unit turn is twice the sine of its half: exact for small turns too.
        let half = (0.5 * norm([0, 1, 2].map(|i| first[i] - last[i]))).min(1.0);
        let s = libm::sqrt(1.0 - half * half);
        let (sine, cosine) = (2.0 * half * s, 1.0 - 2.0 * half * half);
        if s >= 1.0 - SMOOTH || sine <= 0.0 {
            return Self { s, acceleration: along(limits, last) };
        }
        // Toward the centre is square to the way: at the arc's start, at its end, and most along an axis where the way has
        // nothing of it.
        let greatest = [0, 1, 2].map(|i| {
            let (at_start, at_end) = ((first[i] - cosine * last[i]) / sine, (cosine * first[i] - last[i]) / sine);
            let between = if first[i] * last[i] < 0.0 { libm::hypot(at_start, last[i]) } else { 0.0 };
            at_start.abs().max(at_end.abs()).max(between)
        });
        Self { s, acceleration: along(limits, greatest) }
    }

    fn is_smooth(&self) -> bool {
        self.s >= 1.0 - SMOOTH
    }

    /// The speed at which it may be passed, mm/s: `deviation` and the length that the rounding arc may take of each side in mm.
    fn speed(&self, deviation: f64, room: f64) -> f64 {
        if self.is_smooth() {
            return f64::INFINITY;
        }
        let rounded = deviation * self.s / (1.0 - self.s);
        // The arc leaves each side at R tan(turn / 2) from the corner.
        let fitting = room * self.s / libm::sqrt(1.0 - self.s * self.s);
        libm::sqrt(self.acceleration * rounded.min(fitting))
    }
}

/// Cutting moves from rest to rest.
#[derive(Default)]
struct Run {
    cuts: Vec<Cut>,
    /// Moves without length at its end.
    idle: u32,
}

impl Run {
    /// Adds the seconds of its moves to `times` and begins anew.
    fn finish(&mut self, machine: &Machine, times: &mut Vec<f64>) {
        let joints = self.joints(machine);
        for (i, cut) in self.cuts.drain(..).enumerate() {
            times.extend((0..cut.idle_before).map(|_| 0.0));
            times.push(through(cut.length, joints[i], cut.limit, joints[i + 1], cut.acceleration));
        }
        times.extend((0..std::mem::take(&mut self.idle)).map(|_| 0.0));
    }

    /// Speeds at the ends of the moves, mm/s: one more than there are moves, the first and the last at rest.
    fn joints(&self, machine: &Machine) -> Vec<f64> {
        let cuts = &self.cuts;
        let n = cuts.len();
        let mut joints = vec![0.0; n + 1];
        let corner = |i: usize| Corner::new(&machine.acceleration, cuts[i - 1].last, cuts[i].first);
        // First the length that runs without another corner up to each joint, then with that after it the corner's speed.
        let mut smooth = 0.0;
        for i in 1..n {
            smooth += cuts[i - 1].length;
            joints[i] = smooth;
            if !corner(i).is_smooth() {
                smooth = 0.0;
            }
        }
        let deviation = machine.corner_deviation.to_mm();
        smooth = 0.0;
        for i in (1..n).rev() {
            smooth += cuts[i].length;
            let corner = corner(i);
            let room = 0.5 * smooth.min(joints[i]);
            joints[i] = corner.speed(deviation, room).min(cuts[i - 1].limit).min(cuts[i].limit);
            if !corner.is_smooth() {
                smooth = 0.0;
            }
        }
        let reachable = |v: f64, cut: &Cut| libm::sqrt(v * v + 2.0 * cut.acceleration * cut.length);
        for i in (0..n).rev() {
            joints[i] = f64::min(joints[i], reachable(joints[i + 1], &cuts[i]));
        }
        for i in 0..n {
            joints[i + 1] = f64::min(joints[i + 1], reachable(joints[i], &cuts[i]));
        }
        joints
    }
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
            side_force: None,
            program_start: 60.0,
            cutter_change: 120.0,
        }
    }

    fn near(value: f64, expected: f64, tolerance: f64) {
        assert!((value - expected).abs() <= tolerance, "{value} is not {expected}");
    }

    /// T = d/v + v/a where d >= v²/a, else 2 sqrt(d/a): d 50, v 25, a 250: 2.1 s; d 1: 0.126491 s, peak 15.8114 (derived).
    #[test]
    fn from_rest_to_rest() {
        near(rest_to_rest(50.0, 25.0, 250.0), 2.1, 1e-12);
        near(rest_to_rest(1.0, 25.0, 250.0), 0.126_491, 1e-6);
        // No speed above the peak is reached, and one below is missed.
        near(rest_to_rest(1.0, 15.8114, 250.0), 0.126_491, 1e-6);
        assert!(rest_to_rest(1.0, 15.811, 250.0) > rest_to_rest(1.0, 15.8114, 250.0));
    }

    /// Entry 10, cruise 25, exit 0, d 20, a 250: (2 v - v0 - v1)/a + (d - (2 v² - v0² - v1²)/2a)/v = 0.868 s (derived).
    #[test]
    fn entered_moving() {
        near(through(20.0, 10.0, 25.0, 0.0, 250.0), 0.868, 1e-9);
    }

    fn speed_on(m: &Machine, radius: f64) -> f64 {
        let Step::Cut { length, feed, first, last, bend } =
            Step::arc(Turn { axis: 2, start: 0.0, sweep: 1.0, radius, rise: 0.0 }, 60_000.0)
        else {
            panic!("an arc cuts")
        };
        Cut::new(m, length, feed, first, last, bend).limit
    }

    /// v = sqrt(a r) with a 250: r 1.5 gives 19.3649, r 0.5 gives 11.1803 mm/s (derived).
    #[test]
    fn arcs_are_held_by_centripetal_acceleration() {
        let m = machine(250.0, 0.01);
        near(speed_on(&m, 1.5), 19.3649, 1e-4);
        near(speed_on(&m, 0.5), 11.1803, 1e-4);
    }

    /// R = d s / (1 - s), s = sin(phi / 2), d 0.01: R 0.0241421 at an interior angle of 90° and 0.121371 at 135°; v = sqrt(a R)
    /// with a 250: 2.45673 and 5.50842 mm/s (derived).
    #[test]
    fn corners() {
        let corner = |to: [f64; 3]| Corner::new(&[250.0; 3], [1.0, 0.0, 0.0], to);
        let speed = |to: [f64; 3]| corner(to).speed(0.01, 1.0);
        near(speed([0.0, 1.0, 0.0]), 2.45673, 1e-5);
        near(speed([0.0, 1.0, 0.0]).powi(2) / 250.0, 0.024_142_1, 1e-7);
        let turn = std::f64::consts::FRAC_PI_4;
        let to = [libm::cos(turn), libm::sin(turn), 0.0];
        near(speed(to), 5.50842, 1e-5);
        near(speed(to).powi(2) / 250.0, 0.121_371, 1e-6);
        assert_eq!(speed([-1.0, 0.0, 0.0]), 0.0);
        assert!(corner([1.0, 0.0, 0.0]).is_smooth());
    }

    /// 100 m from rest to rest, 2 m/s² up and 4 m/s² down: peak 16.3299 m/s, 12.2474 s (worked example of a textbook kind,
    /// second-hand).
    #[test]
    fn up_at_one_acceleration_and_down_at_another() {
        let (up, down) = (2.0, 4.0);
        let peak = libm::sqrt(2.0 * 100.0 * up * down / (up + down));
        near(peak, 16.3299, 1e-4);
        let (rising, falling) = (peak * peak / (2.0 * up), peak * peak / (2.0 * down));
        near(rising + falling, 100.0, 1e-9);
        near(through(rising, 0.0, 1e9, peak, up) + through(falling, peak, 1e9, 0.0, down), 12.2474, 1e-4);
    }

    /// Limits of 300, 200 and 100 mm/s² by axis: along x 300, along 3-4-0 min(300/0.6, 200/0.8) = 250, along z 100; a
    /// quarter turn from x to y keeps to 200, one from 45° to 135° of way, which runs along y, to 200, and one about y
    /// that runs along z to 100 (derived).
    #[test]
    fn each_axis_has_its_own_acceleration() {
        let mut m = machine(1.0, 0.01);
        m.acceleration = [300.0, 200.0, 100.0];
        let on = |step: Step| {
            let Step::Cut { length, feed, first, last, bend } = step else { panic!("it cuts") };
            Cut::new(&m, length, feed, first, last, bend)
        };
        near(on(Step::line([1.0, 0.0, 0.0], 600.0)).acceleration, 300.0, 1e-9);
        near(on(Step::line([3.0, 4.0, 0.0], 600.0)).acceleration, 250.0, 1e-9);
        near(on(Step::line([0.0, 0.0, -2.0], 600.0)).acceleration, 100.0, 1e-9);
        let turn = |axis, start: f64, sweep: f64, rise| {
            on(Step::arc(Turn { axis, start: start.to_radians(), sweep: sweep.to_radians(), radius: 2.0, rise }, 1e6))
        };
        near(turn(2, -90.0, 90.0, 0.0).acceleration, 200.0, 1e-6);
        // From 45° to 135° of way the place goes from -45° to 45°; toward the centre is along x, where 300 is the limit, but
        // at its ends also along y: 200 / sin 45°.
        let across = turn(2, -45.0, 90.0, 0.0);
        near(across.acceleration, 200.0, 1e-6);
        near(across.limit, libm::sqrt(200.0 / libm::sin(45f64.to_radians()) * 2.0), 1e-6);
        // A short turn along x bends toward y alone.
        near(turn(2, -91.0, 2.0, 0.0).limit, libm::sqrt(200.0 * 2.0), 1e-3);
        near(turn(2, -91.0, 2.0, 0.0).acceleration, 300.0, 1e-6);
        near(turn(1, 0.0, 360.0, 0.0).acceleration, 100.0, 1e-6);
        near(turn(1, 0.0, 360.0, 0.0).limit, libm::sqrt(100.0 * 2.0), 1e-6);
        // Every turn the other way keeps to the same.
        near(turn(2, 45.0, -90.0, 0.0).acceleration, 200.0, 1e-6);
        // A kink off x pushes along y.
        let kink = Corner::new(&m.acceleration, [1.0, 0.0, 0.0], [libm::cos(0.01), libm::sin(0.01), 0.0]);
        near(kink.acceleration, 200.0, 1.0);
    }

    /// A helix of radius 2 that climbs 1 a turn: three turns are 37.81829 long and bend with R (1 + (pitch / 2 pi R)²) =
    /// 2.012665 (derived).
    #[test]
    fn a_helix_is_longer_and_bends_less() {
        let m = machine(250.0, 0.01);
        let Step::Cut { length, bend: Bend::About { radius, .. }, .. } =
            Step::arc(Turn { axis: 2, start: 1.0, sweep: 6.0 * std::f64::consts::PI, radius: 2.0, rise: 3.0 }, 600.0)
        else {
            panic!("a helix bends")
        };
        near(length, 37.81829, 1e-5);
        near(radius, 2.012_665, 1e-6);
        assert!(times(&m, &[]).is_empty());
    }

    /// A circle of 1.5 mm radius takes its length over 19.3649 mm/s and v/a for start and stop (derived). In chords within 0.5 µm
    /// it is hardly quicker: a chord between the axes has the acceleration of both.
    #[test]
    fn chords_are_no_quicker_than_their_curve() {
        let m = machine(250.0, 0.05);
        let whole = Turn { axis: 2, start: 0.0, sweep: std::f64::consts::TAU, radius: 1.5, rise: 0.0 };
        let arc = seconds(&m, &[Step::arc(whole, 6000.0)]);
        near(arc, std::f64::consts::TAU * 1.5 / 19.3649 + 19.3649 / 250.0, 1e-4);
        let at = |k: usize| 1.5 * libm::cos(std::f64::consts::TAU * k as f64 / 122.0);
        let up = |k: usize| 1.5 * libm::sin(std::f64::consts::TAU * k as f64 / 122.0);
        let chords: Vec<Step> =
            (0..122).map(|k| Step::line([at(k + 1) - at(k), up(k + 1) - up(k), 0.0], 6000.0)).collect();
        let chorded = seconds(&m, &chords);
        assert!((0.94 * arc..=arc).contains(&chorded), "{chorded} is not about {arc}");
    }

    #[test]
    fn a_line_in_two_pieces_takes_as_long_as_one() {
        let m = machine(250.0, 0.01);
        let cut = |length| Step::line([length, 0.0, 0.0], 1500.0);
        let whole: f64 = times(&m, &[cut(50.0)]).iter().sum();
        let halves: f64 = times(&m, &[cut(20.0), cut(30.0)]).iter().sum();
        near(whole, 2.1, 1e-9);
        near(halves, whole, 1e-9);
        // Nor does a corner notice, nor a move without length in between.
        let on = Step::line([0.0, 30.0, 0.0], 1500.0);
        let still = Step::line([0.0; 3], 1500.0);
        let split = [cut(19.999), still, cut(0.001), still, still, on, still];
        let all = times(&m, &split);
        assert_eq!((all.len(), all[1], all[3], all[6]), (7, 0.0, 0.0, 0.0));
        near(all.iter().sum(), seconds(&m, &[cut(20.0), on]), 1e-9);
    }

    #[test]
    fn rapids_wait_for_their_slowest_axis() {
        let m = machine(250.0, 0.01);
        // 50 mm at 25 mm/s.
        near(seconds(&m, &[Step::Rapid { by: [50.0, -1.0, 1.0] }]), 2.1, 1e-9);
        near(seconds(&m, &[Step::Rapid { by: [1.0, 1.0, -50.0] }, Step::Wait(3.0)]), 5.1, 1e-9);
    }

    #[test]
    fn a_program_with_the_cutter_before_it_counts_no_change() {
        let m = machine(250.0, 0.01);
        for (cutters, seconds) in [(&[][..], 0.0), (&[1], 180.0), (&[1, 1], 240.0), (&[1, 2, 2, 1], 600.0)] {
            near(starts_and_changes(&m, cutters.iter().copied()), seconds, 0.0);
        }
    }
}
