//! The text itself.

use crate::{round_centre, sagitta, sweep};
use motion::{At, Move, SPIN_UP, Stage};
use plane::Point;
use std::fmt::Write as _;

/// Units of the text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Units {
    /// G21.
    Mm,
    /// G20.
    Inch,
}

/// How this machine wants its programs.
#[derive(Debug, Clone, PartialEq)]
pub struct Dialect {
    /// Units.
    pub units: Units,
    /// Decimals of coordinates.
    pub decimals: u8,
    /// Whether lines are numbered.
    pub line_numbers: bool,
    /// Whether arcs are written as arcs.
    pub arcs: bool,
    /// `M30` or `M2`.
    pub end: String,
    /// Whether the speed is an S word; if not, the dial note alone tells it.
    pub speed_words: bool,
}

/// What the head of a program tells the maker; each line becomes a comment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Heading {
    /// Lines in order.
    pub lines: Vec<String>,
}

/// A circular arc flatter than this is written as its chord, mm.
const FLAT: f64 = 0.000_3;
/// Chords that stand for arcs in a dialect without arcs stay within this, mm.
const CHORD: f64 = 0.000_5;

/// The program of a stage.
pub fn write(stage: &Stage, heading: &Heading, dialect: &Dialect) -> String {
    let mut pen = Pen::new(dialect);
    for line in &heading.lines {
        pen.comment(line);
    }
    pen.line(match dialect.units {
        Units::Mm => "G21 G17 G90 G94",
        Units::Inch => "G20 G17 G90 G94",
    });
    pen.line("G40 G49 G80");
    pen.line(&format!("T{}", stage.cutter));
    if let Some(dial) = &stage.dial {
        pen.comment(&format!("dial {dial} = {:.0} rev/min", stage.speed.to_rev_per_min()));
    } else if !dialect.speed_words {
        pen.comment(&format!("dial = {:.0} rev/min", stage.speed.to_rev_per_min()));
    }
    if stage.cutting {
        // The spindle is up to speed before the cutter comes down.
        pen.line(&if dialect.speed_words { format!("S{:.0} M3", stage.speed.to_rev_per_min()) } else { "M3".into() });
        pen.line(&format!("G4 P{}", quantity::trimmed(SPIN_UP, 3)));
    }
    let mut passes = 0;
    for step in &stage.moves {
        match step {
            Move::Pass(words) => {
                passes += 1;
                pen.comment(&format!("pass {passes}: {words}"));
            }
            Move::Rapid(to) => pen.rapid(*to),
            Move::Line { to, feed } => pen.straight(*to, feed.to_mm_per_min()),
            Move::Arc { to, centre, ccw, feed } => pen.arc(*to, *centre, *ccw, feed.to_mm_per_min()),
        }
    }
    if stage.cutting {
        pen.line("M5");
    }
    pen.line(&dialect.end);
    pen.text
}

struct Pen<'a> {
    dialect: &'a Dialect,
    /// mm in a unit of the text.
    unit: f64,
    /// The smallest step of a coordinate, in units of the text.
    step: f64,
    text: String,
    number: u32,
    /// Where the machine is by the text so far, in steps; `None` before the first word for an axis.
    here: [Option<i64>; 3],
    feed: Option<i64>,
}

impl<'a> Pen<'a> {
    fn new(dialect: &'a Dialect) -> Self {
        let unit = match dialect.units {
            Units::Mm => 1.0,
            Units::Inch => 25.4,
        };
        let step = 10f64.powi(-i32::from(dialect.decimals));
        Self { dialect, unit, step, text: String::new(), number: 0, here: [None; 3], feed: None }
    }

    fn comment(&mut self, words: &str) {
        // Comments hold plain characters only and can't nest; a line has at most 256 characters (NISTIR 6556 §3.3).
        let plain: String = words
            .chars()
            .map(|c| match c {
                '(' | '[' => '<',
                ')' | ']' => '>',
                c if c.is_ascii() && !c.is_ascii_control() => c,
                _ => '?',
            })
            .take(200)
            .collect();
        self.text.push_str(&format!("({plain})\n"));
    }

    fn line(&mut self, words: &str) {
        if self.dialect.line_numbers {
            // N goes to 99999 (NISTIR 6556 §3.3.1), then starts again.
            self.number = self.number % 99_990 + 10;
            let _ = write!(self.text, "N{} ", self.number);
        }
        self.text.push_str(words);
        self.text.push('\n');
    }

    fn steps(&self, mm: f64) -> i64 {
        (mm / self.unit / self.step).round() as i64
    }

    fn number(&self, steps: i64) -> String {
        quantity::trimmed(steps as f64 * self.step, usize::from(self.dialect.decimals))
    }

    /// Words for the axes that change.
    fn axes(&mut self, to: [i64; 3]) -> String {
        let mut words = String::new();
        for (i, letter) in ["X", "Y", "Z"].into_iter().enumerate() {
            if self.here[i] != Some(to[i]) {
                let _ = write!(words, " {letter}{}", self.number(to[i]));
                self.here[i] = Some(to[i]);
            }
        }
        words
    }

    fn feed_word(&mut self, mm_per_min: f64) -> String {
        // Whole mm/min or tenths of in/min, rounded down: a limit stays a limit.
        let places = if self.unit > 1.0 { 10.0 } else { 1.0 };
        let feed = ((mm_per_min / self.unit * places) + 1e-6).floor().max(1.0) as i64;
        if self.feed == Some(feed) {
            return String::new();
        }
        self.feed = Some(feed);
        format!(" F{}", quantity::trimmed(feed as f64 / places, 1))
    }

    fn target(&self, to: At) -> [i64; 3] {
        [self.steps(to.p.x), self.steps(to.p.y), self.steps(to.z)]
    }

    fn rapid(&mut self, to: At) {
        let target = self.target(to);
        // The first rise names z alone: where the machine stands in x and y isn't known.
        if self.here[2].is_none() {
            self.here[2] = Some(target[2]);
            let z = self.number(target[2]);
            return self.line(&format!("G0 Z{z}"));
        }
        let words = self.axes(target);
        if !words.is_empty() {
            self.line(&format!("G0{words}"));
        }
    }

    fn straight(&mut self, to: At, feed: f64) {
        let target = self.target(to);
        let words = self.axes(target);
        if !words.is_empty() {
            let feed = self.feed_word(feed);
            self.line(&format!("G1{words}{feed}"));
        }
    }

    fn arc(&mut self, to: At, centre: Point, ccw: bool, feed: f64) {
        let [Some(x), Some(y), Some(z)] = self.here else { return self.straight(to, feed) };
        let at = |steps: i64| steps as f64 * self.step;
        let (start, target) = ([at(x), at(y)], self.target(to));
        let end = [at(target[0]), at(target[1])];
        let middle = [centre.x / self.unit, centre.y / self.unit];
        let radius = libm::hypot(start[0] - middle[0], start[1] - middle[1]);
        let chord = libm::hypot(end[0] - start[0], end[1] - start[1]);
        let turn = sweep(start, end, middle, ccw);
        // Ends that rounding has brought together or past each other: only the chord is meant.
        let meant = turn < 6.0 || chord > 1.5 * radius;
        if chord < 2.0 * self.step || !meant || sagitta(radius, turn) * self.unit < FLAT {
            return self.straight(to, feed);
        }
        if !self.dialect.arcs {
            return self.chords(to, centre, turn, radius, ccw, feed);
        }
        let rule = if self.unit > 1.0 { 0.0002 } else { 0.002 };
        let fitting = (turn < 3.3).then(|| round_centre(start, end, middle, ccw, self.step, rule)).flatten();
        let Some(rounded) = fitting else {
            if sagitta(radius, turn) * self.unit < 4.0 * FLAT || chord < 8.0 * self.step {
                return self.straight(to, feed);
            }
            let half = self.on_arc(centre, ccw, turn, 0.5, [x, y, z], target);
            self.arc(half, centre, ccw, feed);
            return self.arc(to, centre, ccw, feed);
        };
        let words = self.axes(target);
        let (i, j) = ((rounded.offset[0] / self.step).round() as i64, (rounded.offset[1] / self.step).round() as i64);
        let code = if ccw { "G3" } else { "G2" };
        // An arc names both ends even where one stays, so that a reader sees its plane's axes.
        let words = if words.contains('X') || words.contains('Y') {
            words
        } else {
            format!(" X{}{words}", self.number(target[0]))
        };
        let (i, j, feed) = (self.number(i), self.number(j), self.feed_word(feed));
        self.line(&format!("{code}{words} I{i} J{j}{feed}"));
    }

    /// The point a share along the arc from the current position.
    fn on_arc(&self, centre: Point, ccw: bool, turn: f64, share: f64, from: [i64; 3], to: [i64; 3]) -> At {
        let at = |steps: i64| steps as f64 * self.step * self.unit;
        let start = Point::new(at(from[0]), at(from[1])) - centre;
        let angle = if ccw { turn * share } else { -turn * share };
        At::new(centre + start.rotated(angle), at(from[2]) + (at(to[2]) - at(from[2])) * share)
    }

    fn chords(&mut self, to: At, centre: Point, turn: f64, radius: f64, ccw: bool, feed: f64) {
        let [Some(x), Some(y), Some(z)] = self.here else { return self.straight(to, feed) };
        let r = (radius * self.unit).max(2.0 * CHORD);
        let count = (turn / (2.0 * libm::acos(1.0 - CHORD / r))).ceil().max(1.0) as usize;
        let target = self.target(to);
        for k in 1..count {
            let point = self.on_arc(centre, ccw, turn, k as f64 / count as f64, [x, y, z], target);
            self.straight(point, feed);
        }
        self.straight(to, feed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use quantity::{Feed, Height, Speed};

    fn dialect() -> Dialect {
        Dialect { units: Units::Mm, decimals: 3, line_numbers: false, arcs: true, end: "M30".into(), speed_words: true }
    }

    fn stage(moves: Vec<Move>) -> Stage {
        Stage {
            name: "1-field".into(),
            purpose: String::new(),
            cutter: 1,
            speed: Speed::rev_per_min(18000.0),
            dial: Some("3".into()),
            cutting: true,
            feed: Feed::mm_per_min(1440.0),
            pass_depth: 1.0,
            traverse: Height::mm(12.0),
            hop: None,
            moves,
        }
    }

    fn line(x: f64, y: f64, z: f64) -> Move {
        Move::Line { to: At::new(Point::new(x, y), z), feed: Feed::mm_per_min(800.0) }
    }

    #[test]
    fn a_short_program() {
        let rise = Move::Rapid(At::new(Point::default(), 12.0));
        let moves = vec![
            rise,
            Move::Rapid(At::new(Point::new(10.0, 5.0), 12.0)),
            Move::Pass("field at 3.2".into()),
            line(10.0, 5.0, 3.2),
            line(20.0, 5.0, 3.2),
        ];
        let heading = Heading { lines: vec!["Kestrel (hill)".into()] };
        assert_eq!(
            write(&stage(moves), &heading, &dialect()),
            "(Kestrel <hill>)\nG21 G17 G90 G94\nG40 G49 G80\nT1\n(dial 3 = 18000 rev/min)\nS18000 M3\nG4 P3\nG0 Z12\nG0 X10 Y5\n\
             (pass 1: field at 3.2)\nG1 Z3.2 F800\nG1 X20\nM5\nM30\n"
        );
    }

    /// Every arc written keeps the standard's radius rule, 0.002 mm, reckoned from the words alone, and stays within
    /// 2 µm of the arc meant.
    #[test]
    fn arcs_keep_the_radius_rule() {
        let (mut arcs, mut lines) = (0, 0);
        for k in 0..2000u32 {
            let f = |m: f64| (f64::from(k) * m).fract();
            let (radius, from, turn) = (0.01 + f(0.618) * 40.0 * f(0.37), f(0.7548) * 6.3, 0.001 + f(0.5698) * 5.0);
            let centre = Point::new(10.0 + f(0.33) * 100.0, 10.0 + f(0.71) * 100.0);
            let start = centre + Point::at_angle(from) * radius;
            let end = centre + Point::at_angle(from + turn) * radius;
            let moves = vec![
                Move::Rapid(At::new(start, 5.0)),
                Move::Rapid(At::new(start, 5.0)),
                line(start.x, start.y, 1.0),
                Move::Arc { to: At::new(end, 1.0), centre, ccw: true, feed: Feed::mm_per_min(500.0) },
            ];
            let text = write(&stage(moves), &Heading::default(), &dialect());
            let mut here = Point::default();
            for words in text.lines() {
                let word = |letter: char| {
                    words.split(' ').find_map(|w| w.strip_prefix(letter)).and_then(|w| w.parse::<f64>().ok())
                };
                let to = Point::new(word('X').unwrap_or(here.x), word('Y').unwrap_or(here.y));
                if words.starts_with("G3") {
                    arcs += 1;
                    let c = here + Point::new(word('I').unwrap(), word('J').unwrap());
                    assert!((c.distance(here) - c.distance(to)).abs() <= 0.002, "{words}");
                    assert!((c.distance(here) - radius).abs() <= 0.0021 && here.distance(to) > 0.0, "{words} {radius}");
                } else if words.starts_with("G1") {
                    lines += 1;
                }
                here = to;
            }
        }
        assert!(arcs > 1500, "{arcs} arcs, {lines} lines");
    }
}
