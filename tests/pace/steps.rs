//! A machine moved in small steps of time.

use plate::Machine;
use read::{Move, Plane, Program, Shape};

/// A step of time, s.
const TICK: f64 = 0.000_2;
/// Places on a bend at which it is looked at.
const PLACES: usize = 96;
/// Less than this between two directions is no corner, radians.
const STRAIGHT: f64 = 3e-6;

type V = [f64; 3];

fn plus(a: V, b: V, k: f64) -> V {
    [0, 1, 2].map(|i| a[i] + k * b[i])
}

fn dot(a: V, b: V) -> f64 {
    (0..3).map(|i| a[i] * b[i]).sum()
}

fn size(a: V) -> f64 {
    dot(a, a).sqrt()
}

fn toward(a: V) -> V {
    let n = size(a);
    a.map(|x| x / n)
}

/// A cutting move on its way.
struct Piece {
    length: f64,
    /// Greatest speed, mm/s, by feed and bend.
    most: f64,
    /// Greatest change of speed, mm/s².
    change: f64,
    first: V,
    last: V,
}

/// How much of an acceleration along a direction the axes allow, mm/s².
fn allowed(machine: &Machine, along: V) -> f64 {
    (0..3)
        .map(|i| if along[i].abs() < 1e-9 { f64::INFINITY } else { machine.acceleration[i] / along[i].abs() })
        .fold(f64::INFINITY, f64::min)
}

impl Piece {
    /// Along places on the path, the first and last among them.
    fn through(machine: &Machine, places: &[V], feed: f64) -> Self {
        let ways: Vec<V> = places.windows(2).map(|w| plus(w[1], w[0], -1.0)).collect();
        let length: f64 = ways.iter().map(|&w| size(w)).sum();
        let directions: Vec<V> = ways.iter().map(|&w| toward(w)).collect();
        let change = directions.iter().map(|&d| allowed(machine, d)).fold(f64::INFINITY, f64::min);
        let mut most = feed / 60.0;
        for (d, w) in directions.windows(2).zip(&ways) {
            // The direction changes by this for each mm: at speed v that is an acceleration of v² times as much.
            let bend = plus(d[1], d[0], -1.0).map(|x| x / size(*w));
            if size(bend) > 1e-9 {
                most = most.min((allowed(machine, toward(bend)) / size(bend)).sqrt());
            }
        }
        Self { length, most, change, first: directions[0], last: directions[directions.len() - 1] }
    }

    fn of(machine: &Machine, m: &Move) -> Option<Self> {
        let (from, to) = (place(m.from)?, place(m.to)?);
        let feed = m.feed?;
        match m.shape {
            Shape::Line if from != to => Some(Self::through(machine, &[from, to], feed)),
            Shape::Arc { plane, centre, sweep, .. } => {
                let (i, j) = match plane {
                    Plane::Xy => (0, 1),
                    Plane::Zx => (2, 0),
                    Plane::Yz => (1, 2),
                };
                let k = 3 - i - j;
                let arm = [from[i] - centre[0], from[j] - centre[1]];
                let at = |share: f64| {
                    let (sin, cos) = libm::sincos(sweep * share);
                    let mut p = from;
                    p[i] = centre[0] + arm[0] * cos - arm[1] * sin;
                    p[j] = centre[1] + arm[0] * sin + arm[1] * cos;
                    p[k] = from[k] + (to[k] - from[k]) * share;
                    p
                };
                let count = PLACES * ((sweep.abs() / 1.6).ceil() as usize).max(1);
                let places: Vec<V> = (0..=count).map(|n| at(n as f64 / count as f64)).collect();
                let mut piece = Self::through(machine, &places, feed);
                // Its ends' directions belong to the ends, not to the middle of the first chord.
                let ends = [0.0, 1.0].map(|t| toward(plus(at(t + 1e-5), at(t - 1e-5), -1.0)));
                (piece.first, piece.last) = (ends[0], ends[1]);
                Some(piece)
            }
            _ => None,
        }
    }
}

fn place(at: [Option<f64>; 3]) -> Option<V> {
    Some([at[0]?, at[1]?, at[2]?])
}

/// The speed round a corner, mm/s: the arc that touches both ways and passes the corner at the deviation, or the largest that leaves
/// them within `room`.
fn corner(machine: &Machine, last: V, first: V, room: f64) -> f64 {
    let inward = plus(first, last, -1.0);
    if size(inward) < STRAIGHT {
        return f64::INFINITY;
    }
    if size(plus(first, last, 1.0)) < 1e-6 {
        return 0.0;
    }
    let inward = toward(inward);
    // The centre lies `out` from the corner; the arc's radius is its distance from the ways' lines.
    let along = |out: f64| out * dot(inward, first);
    let radius = |out: f64| (out * out - along(out) * along(out)).sqrt();
    let deviation = machine.corner_deviation.to_mm();
    let (mut low, mut high) = (0.0, 1e9);
    for _ in 0..200 {
        let out = 0.5 * (low + high);
        if out - radius(out) <= deviation && along(out) <= room { low = out } else { high = out }
    }
    let (out, r) = (low, radius(low));
    if r <= 0.0 {
        return 0.0;
    }
    let centre = inward.map(|x| x * out);
    let ends = [plus(centre, last, along(out)), plus(centre, first, -along(out))].map(toward);
    let mut least = f64::INFINITY;
    for n in 0..=PLACES {
        let share = n as f64 / PLACES as f64;
        let toward_centre = toward(plus(ends[0].map(|x| x * (1.0 - share)), ends[1], share));
        least = least.min(allowed(machine, toward_centre));
    }
    let (mut low, mut high) = (0.0, 1e6);
    for _ in 0..100 {
        let v = 0.5 * (low + high);
        if v * v / r <= least { low = v } else { high = v }
    }
    low
}

/// Cutting moves from rest to rest, s.
fn run(machine: &Machine, pieces: &[Piece]) -> f64 {
    if pieces.is_empty() {
        return 0.0;
    }
    let is_corner = |k: usize| size(plus(pieces[k].first, pieces[k - 1].last, -1.0)) >= STRAIGHT;
    // Speeds at which the joints may be passed; joint k lies before piece k.
    let mut joints = vec![0.0; pieces.len() + 1];
    let mut after = vec![0.0; pieces.len()];
    for k in (1..pieces.len()).rev() {
        let beyond = if k + 1 < pieces.len() && !is_corner(k + 1) { after[k + 1] } else { 0.0 };
        after[k] = pieces[k].length + beyond;
    }
    let mut before = 0.0;
    for k in 1..pieces.len() {
        before += pieces[k - 1].length;
        joints[k] = corner(machine, pieces[k - 1].last, pieces[k].first, 0.5 * f64::min(before, after[k]));
        if is_corner(k) {
            before = 0.0;
        }
    }
    // From the end backward: the greatest speeds from which everything ahead can be met. Places from the end, and speeds.
    let mut ahead = vec![(0.0, 0.0)];
    let (mut s, mut v, mut end) = (0.0, 0.0, 0.0);
    for (k, piece) in pieces.iter().enumerate().rev() {
        v = f64::min(v, piece.most);
        end += piece.length;
        loop {
            let next = f64::min(v + piece.change * TICK, piece.most);
            let way = 0.5 * (v + next) * TICK;
            if s + way >= end {
                // A part of a step up to the joint.
                v += (next - v) * ((end - s) / way).clamp(0.0, 1.0);
                s = end;
                break;
            }
            (s, v) = (s + way, next);
            ahead.push((s, v));
        }
        v = f64::min(v, if k > 0 { joints[k] } else { f64::INFINITY });
        ahead.push((s, v));
    }
    // Forward in time.
    let total = end;
    let (mut time, mut k, mut passed) = (0.0, 0, 0.0);
    let mut on = ahead.len() - 1;
    (s, v) = (0.0, 0.0);
    while k < pieces.len() {
        let piece = &pieces[k];
        let faster = v + piece.change * TICK;
        let left = total - (s + 0.5 * (v + faster) * TICK).min(total);
        while on > 0 && ahead[on - 1].0 >= left {
            on -= 1;
        }
        let (near, far) = (ahead[on.saturating_sub(1)], ahead[on]);
        let share = if far.0 > near.0 { ((left - near.0) / (far.0 - near.0)).clamp(0.0, 1.0) } else { 1.0 };
        let most = near.1 + (far.1 - near.1) * share;
        // At rest it must come to an end, not creep.
        let next = f64::min(faster, most.max(0.5 * piece.change * TICK));
        let way = 0.5 * (v + next) * TICK;
        let to_joint = passed + piece.length - s;
        if way >= to_joint {
            time += TICK * (to_joint / way).clamp(0.0, 1.0);
            v += (next - v) * (to_joint / way).clamp(0.0, 1.0);
            passed += piece.length;
            s = passed;
            k += 1;
        } else {
            (time, s, v) = (time + TICK, s + way, next);
        }
    }
    time
}

/// A rapid: each axis runs up until half the way is behind it, and down as it ran up.
fn rapid(machine: &Machine, by: V) -> f64 {
    let speeds = [machine.rapid, machine.rapid, machine.rapid_z].map(|f| f.to_mm_per_min() / 60.0);
    let axis = |i: usize| {
        let half = by[i].abs() / 2.0;
        let (mut time, mut at, mut v) = (0.0, 0.0, 0.0);
        while at < half {
            let next = f64::min(v + machine.acceleration[i] * TICK, speeds[i]);
            let way = 0.5 * (v + next) * TICK;
            time += TICK * f64::min(1.0, (half - at) / way);
            (at, v) = (at + way, next);
        }
        2.0 * time
    };
    (0..3).map(axis).fold(0.0, f64::max)
}

/// Seconds that a program takes from its first placed move on.
pub(crate) fn seconds(machine: &Machine, program: &Program) -> f64 {
    let (mut total, mut pieces) = (0.0, Vec::new());
    for m in program.moves.iter() {
        match m.shape {
            Shape::Line | Shape::Arc { .. } => pieces.extend(Piece::of(machine, &m)),
            Shape::Rapid => {
                total += run(machine, &std::mem::take(&mut pieces));
                if let (Some(a), Some(b)) = (place(m.from), place(m.to)) {
                    total += rapid(machine, plus(b, a, -1.0));
                }
            }
            Shape::Dwell { seconds } => total += run(machine, &std::mem::take(&mut pieces)) + seconds,
        }
    }
    total + run(machine, &pieces)
}
