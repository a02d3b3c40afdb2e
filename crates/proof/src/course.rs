//! A program as read to legs with known ends, to steps for the clock, and to doubts about its text: what it doesn't
//! state, which cutter it means, from where it starts.

use crate::finding::{Found, Tally};
use crate::kinds;
use crate::leg::{Leg, Run, Way};
use plane::{Point, Segment};
use plate::Shop;
use read::{Axis, Move, Plane, Program, Shape, Spindle, Stated};
use reckon::pace::{Step, Turn};
use std::borrow::Borrow;
use std::f64::consts::FRAC_PI_2;

/// Chords of arcs in an upright plane stay within this of the arc, mm.
const CHORD: f64 = 0.000_1;

/// A program ready to be cut.
pub(crate) struct Course {
    pub(crate) legs: Vec<Leg>,
    pub(crate) steps: Vec<Step>,
    /// The cutter's number, if it is known.
    pub(crate) cutter: Option<u32>,
    /// Length of rapids with a known start.
    pub(crate) rapid_length: f64,
    /// Least and greatest of each axis over all moves that place it.
    pub(crate) reach: [Option<(f64, f64)>; 3],
    /// Whether everything that matters could be understood: otherwise what is missing on the plate proves nothing.
    pub(crate) whole: bool,
}

/// What else a course is judged by.
pub(crate) struct Ground<'a> {
    pub(crate) shop: &'a Shop,
    /// Index of the program.
    pub(crate) stage: usize,
    /// Cutter named beside the file.
    pub(crate) named: Option<u32>,
    /// False for the frame run.
    pub(crate) cutting: bool,
    /// The highest thing on the table.
    pub(crate) highest: f64,
}

/// Reads a program as a course.
pub(crate) fn chart(program: &Program, ground: &Ground, tally: &mut Tally) -> Course {
    let mut course =
        Course { legs: Vec::new(), steps: Vec::new(), cutter: None, rapid_length: 0.0, reach: [None; 3], whole: true };
    for doubt in &program.doubts {
        // What is refused anyway is judged on: what is missing on the plate shows what the fault does.
        course.whole &= !doubt.id.starts_with("undecided-");
        tally.pass_on(doubt.clone());
    }
    stated(program, ground, tally, &mut course);
    choose_cutter(program, ground, tally, &mut course);
    let mut start_open = false;
    for (step, m) in program.moves.iter().enumerate() {
        for axis in 0..3 {
            if let Some(v) = m.to[axis] {
                let (low, high) = course.reach[axis].unwrap_or((v, v));
                course.reach[axis] = Some((low.min(v), high.max(v)));
            }
        }
        start_open |= !add_move(&m, step, ground, &mut course);
        if start_open {
            tally.add(Found::new(&kinds::START_UNKNOWN, ground.stage).line(m.line).saying(
                "the move starts from a place that the text doesn't state, below what stands on the table",
                "begin with a rise of Z alone above everything, then place X and Y",
            ));
            course.whole = false;
            start_open = false;
        }
    }
    course
}

/// Units, plane and distance mode that the text must state itself.
fn stated(program: &Program, ground: &Ground, tally: &mut Tally, course: &mut Course) {
    let Stated { units, plane, distance_mode, end } = program.stated;
    if program.moves.is_empty() && program.doubts.is_empty() {
        course.whole = false;
        tally.add(Found::new(&kinds::NOTHING_MOVES, ground.stage).saying(
            "there are no moves in the program",
            "check that the right file was named and that it is complete",
        ));
        return;
    }
    let missing = [
        (units, &kinds::UNITS_UNSTATED, "the text doesn't say whether it is in mm or inches", "put G21 or G20 first"),
        (plane, &kinds::PLANE_UNSTATED, "the text doesn't say in which plane its arcs turn", "put G17 first"),
        (
            distance_mode,
            &kinds::DISTANCE_UNSTATED,
            "the text doesn't say whether its words are positions or steps",
            "put G90 or G91 first",
        ),
    ];
    for (is_stated, kind, message, way_out) in missing {
        if !is_stated {
            course.whole = false;
            tally.add(Found::new(kind, ground.stage).line(1).saying(message, way_out));
        }
    }
    if !end && !doubt::any_blocks(&program.doubts) {
        let last = program.lines.len().max(1) as u32;
        tally.add(Found::new(&kinds::END_MISSING, ground.stage).line(last).saying(
            "the program has no end (M2, M30 or a closing %): the file may have been cut short",
            "write the program out again and compare its length",
        ));
    }
}

fn choose_cutter(program: &Program, ground: &Ground, tally: &mut Tally, course: &mut Course) {
    let mut words: Vec<(u32, u32)> = Vec::new();
    for &(number, line) in &program.cutters {
        if words.iter().all(|w| w.0 != number) {
            words.push((number, line));
        }
    }
    if let [(first, _), (second, line), ..] = words[..] {
        course.whole = false;
        tally.add(Found::new(&kinds::CUTTER_CHANGES, ground.stage).line(line).saying(
            format!("the program names cutter {second} after cutter {first}; one program has one cutter"),
            "split the program where the cutter changes",
        ));
        return;
    }
    let word = words.first().copied();
    if let (Some(named), Some((number, line))) = (ground.named, word)
        && named != number
    {
        course.whole = false;
        tally.add(Found::new(&kinds::CUTTER_CONTRADICTED, ground.stage).line(line).saying(
            format!("the text names cutter {number}, but cutter {named} was named beside the file"),
            "name the same cutter, or correct the T word",
        ));
        return;
    }
    let number = ground.named.or(word.map(|w| w.0));
    match number {
        Some(number) if ground.shop.cutter(number).is_some() => course.cutter = Some(number),
        Some(number) => {
            course.whole = false;
            let found = Found::new(&kinds::CUTTER_UNKNOWN, ground.stage);
            let found = if let Some((_, line)) = word { found.line(line) } else { found };
            tally.add(found.saying(
                format!("the shop has no cutter {number}"),
                "correct the T word or add the cutter to the shop file",
            ));
        }
        None if ground.cutting => {
            course.whole = false;
            tally.add(Found::new(&kinds::CUTTER_UNNAMED, ground.stage).saying(
                "neither the text nor anything beside it says which cutter is meant",
                "put a T word with the shop's cutter number into the program, or name the cutter beside the file",
            ));
        }
        None => {}
    }
}

/// A program's moves as the clock sees them, one for each: moves from or to a place that the text doesn't state take no time,
/// nor does a move whose feed can't be told.
pub fn steps(program: &Program) -> Vec<Step> {
    program.moves.iter().map(|m| step(&m)).collect()
}

/// One move as the clock sees it.
fn step(m: &Move) -> Step {
    if let Shape::Dwell { seconds } = m.shape {
        return Step::Wait(seconds.max(0.0));
    }
    let (Some(a), Some(b)) = (known(m.from), known(m.to)) else { return Step::Wait(0.0) };
    let by = [b[0] - a[0], b[1] - a[1], b[2] - a[2]];
    let feed = m.feed.unwrap_or(0.0);
    match m.shape {
        Shape::Rapid => Step::Rapid { by },
        Shape::Line => Step::line(by, feed),
        Shape::Arc { plane, centre, radius, sweep } => {
            let [i, j, k] = axes(plane);
            let start = libm::atan2(a[j] - centre[1], a[i] - centre[0]);
            Step::arc(Turn { axis: k, start, sweep, radius, rise: by[k] }, feed)
        }
        Shape::Dwell { .. } => Step::Wait(0.0),
    }
}

/// First, second and third axis of a plane.
fn axes(plane: Plane) -> [usize; 3] {
    match plane {
        Plane::Xy => [Axis::X, Axis::Y, Axis::Z],
        Plane::Zx => [Axis::Z, Axis::X, Axis::Y],
        Plane::Yz => [Axis::Y, Axis::Z, Axis::X],
    }
    .map(|axis| axis as usize)
}

/// Adds one move; false if it starts from an unstated place where that matters.
fn add_move(m: &Move, index: usize, ground: &Ground, course: &mut Course) -> bool {
    course.steps.push(step(m));
    if let Shape::Dwell { .. } = m.shape {
        return true;
    }
    let (from, to) = (known(m.from), known(m.to));
    let Some(b) = to else {
        // X, Y or Z isn't placed yet: harmless only where Z alone goes above everything.
        let only_z = m.from[0] == m.to[0] && m.from[1] == m.to[1];
        return if only_z {
            m.to[2].is_none_or(|z| z > ground.highest)
        } else {
            m.to[2].is_some_and(|z| z > ground.highest)
        };
    };
    let Some(a) = from else {
        // Placed for the first time. Above everything the way doesn't matter.
        let above = m.from[2].is_some_and(|z| z > ground.highest) && b[2] > ground.highest;
        let here = Point::new(b[0], b[1]);
        push(course, ground, m, index, Run::Rapid, Segment::Line { a: here, b: here }, [b[2], b[2]]);
        return above;
    };
    let by = [b[0] - a[0], b[1] - a[1], b[2] - a[2]];
    let (pa, pb) = (Point::new(a[0], a[1]), Point::new(b[0], b[1]));
    match m.shape {
        Shape::Rapid => {
            course.rapid_length += norm(by);
            let axes = by.iter().filter(|d| **d != 0.0).count();
            let run = if axes > 1 { Run::Boxed } else { Run::Rapid };
            push(course, ground, m, index, run, Segment::Line { a: pa, b: pb }, [a[2], b[2]]);
        }
        Shape::Line => push(course, ground, m, index, Run::Feed, Segment::Line { a: pa, b: pb }, [a[2], b[2]]),
        Shape::Arc { plane, centre, radius, sweep } => {
            add_arc(course, ground, m, index, a, b, Arc { plane, centre, radius, sweep });
        }
        Shape::Dwell { .. } => {}
    }
    true
}

struct Arc {
    plane: Plane,
    centre: [f64; 2],
    radius: f64,
    sweep: f64,
}

fn add_arc(course: &mut Course, ground: &Ground, m: &Move, step: usize, a: [f64; 3], b: [f64; 3], arc: Arc) {
    let Arc { plane, centre, radius, sweep } = arc;
    let [i, j, k] = axes(plane);
    let rise = b[k] - a[k];
    let start = libm::atan2(a[j] - centre[1], a[i] - centre[0]);
    let end_radius = libm::hypot(b[i] - centre[0], b[j] - centre[1]);
    let at = |share: f64| {
        if share <= 0.0 {
            return a;
        }
        if share >= 1.0 {
            return b;
        }
        let angle = start + sweep * share;
        let r = radius + (end_radius - radius) * share;
        let mut p = [0.0; 3];
        p[i] = centre[0] + r * libm::cos(angle);
        p[j] = centre[1] + r * libm::sin(angle);
        p[k] = a[k] + rise * share;
        p
    };
    let level = is_level(plane, radius);
    let pieces = pieces(plane, radius, sweep);
    let centre = Point::new(centre[0], centre[1]);
    for piece in 0..pieces {
        let (t0, t1) = (piece as f64 / pieces as f64, (piece + 1) as f64 / pieces as f64);
        let (p, q) = (at(t0), at(t1));
        let (pa, pb) = (Point::new(p[0], p[1]), Point::new(q[0], q[1]));
        let path = if level {
            // The arc is taken at the mean of its two ends' radii, which differ by rounding only.
            let mean = radius + (end_radius - radius) * 0.5 * (t0 + t1);
            let turned = sweep / pieces as f64;
            Segment::Arc { a: pa, b: pb, centre, radius: mean, from: start + sweep * t0, sweep: turned }
        } else {
            Segment::Line { a: pa, b: pb }
        };
        push(course, ground, m, step, Run::Feed, path, [p[2], q[2]]);
    }
}

/// Whether an arc is seen as an arc from above.
fn is_level(plane: Plane, radius: f64) -> bool {
    plane == Plane::Xy && radius > 1e-9
}

/// Legs that an arc is cut into: quarter turns, or chords where it stands upright.
pub(crate) fn pieces(plane: Plane, radius: f64, sweep: f64) -> usize {
    let pieces = if is_level(plane, radius) {
        (sweep.abs() / FRAC_PI_2 - 1e-9).ceil().max(1.0)
    } else {
        let chord = 2.0 * libm::acos((1.0 - CHORD / radius.max(2.0 * CHORD)).max(-1.0));
        (sweep.abs() / chord).ceil().clamp(1.0, 100_000.0)
    };
    pieces as usize
}

fn push(course: &mut Course, ground: &Ground, m: &Move, step: usize, run: Run, path: Segment, z: [f64; 2]) {
    // What turns about the zero of a grid of a kilometre is beyond any machine; it is found as travel exceeded.
    let way = Way { stage: ground.stage, line: m.line, run, feed: m.feed, step };
    course.legs.push(Leg::new(way, path, z));
}

/// Speed of the spindle during a move, rev/min: the S word's, or the dial note's where the spindle takes no words.
pub(crate) fn speed_of(program: &Program, m: impl Borrow<Move>, words_count: bool) -> Option<f64> {
    let m = m.borrow();
    let word = match m.spindle {
        Spindle::Still => None,
        Spindle::Clockwise(s) | Spindle::CounterClockwise(s) => s,
    };
    let before = program.dial_notes.iter().rev().find(|n| n.0 <= m.line);
    let note = before.or(program.dial_notes.first()).map(|n| n.1);
    if words_count { word } else { note.or(word) }
}

fn known(at: [Option<f64>; 3]) -> Option<[f64; 3]> {
    Some([at[0]?, at[1]?, at[2]?])
}

fn norm(v: [f64; 3]) -> f64 {
    libm::sqrt(v.iter().map(|x| x * x).sum())
}
