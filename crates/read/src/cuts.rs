//! Moves that cut: lines, arcs and helices, drilling cycles (NISTIR 6556 §3.5.2, §3.5.3, §3.5.16).

use crate::arcs::{self, NoTurn, RULE_INCH, RULE_MM};
use crate::block::{Block, Group, number};
use crate::interpreter::{AXES, Interpreter, OFFSETS};
use crate::kinds;
use crate::line::LARGEST;
use crate::trouble::Trouble;
use crate::{Plane, Shape};
use std::ops::Range;

/// Most moves of one line.
const MOST_OF_A_LINE: f64 = 10_000.0;
/// Between pecks the cutter comes back to this above the last depth, mm. The standard says "backed off a bit"; 0.010 in
/// is its interpreter's figure (from memory). The way there is cut already, so that nothing is proven by it.
const BACKED_OFF: f64 = 0.254;

/// A step of a cycle.
type Step = (Shape, [Option<f64>; 3], Option<f64>);

impl Interpreter {
    pub(crate) fn straight_cut(&mut self, block: &Block) -> Result<(), Trouble> {
        let to = self.target(block)?;
        let mut squares = Some(0.0);
        for (a, b) in self.modes.at.into_iter().zip(to) {
            squares = match (squares, a, b) {
                (Some(sum), Some(a), Some(b)) => Some(sum + (b - a) * (b - a)),
                (Some(sum), None, None) => Some(sum),
                _ => None,
            };
        }
        self.cut(block, Shape::Line, to, squares.map(f64::sqrt))
    }

    /// Adds a cut of a length, if its ends are known.
    fn cut(&mut self, block: &Block, shape: Shape, to: [Option<f64>; 3], length: Option<f64>) -> Result<(), Trouble> {
        if !self.modes.inverse_time {
            let feed = self.feed(block)?;
            return self.add(shape, to, feed);
        }
        let Some(word) = block.word(b'F') else {
            return Err(Trouble::refusal(
                &kinds::FEED_TIME_MISSING,
                block.span_of(&AXES),
                "the cut has no F, and G93 needs one in every line that cuts",
            )
            .way_out("add F, or go back to G94"));
        };
        match length {
            None => {
                if !self.lost {
                    self.raise(
                        Trouble::caution(
                            &kinds::UNDECIDED_TIME,
                            word.span.clone(),
                            "F is a time here (G93), and the cut's start isn't known",
                        )
                        .way_out("place all axes with G0 first, or use G94"),
                    );
                }
                self.add(shape, to, None)
            }
            // Going nowhere takes its time as well.
            Some(0.0) => self.add(Shape::Dwell { seconds: 60.0 / word.value }, to, None),
            Some(length) => {
                let feed = length * word.value;
                if feed > LARGEST {
                    let message = format!("the feed comes to {feed} mm/min, beyond 1000000");
                    return Err(Trouble::refusal(&kinds::NUMBER_TOO_LARGE, word.span.clone(), message)
                        .way_out("correct the F word; a point may be lost"));
                }
                self.add(shape, to, Some(feed))
            }
        }
    }

    /// The feed of G94 for a cut of this line; none after a refused line that may have held it.
    fn feed(&mut self, block: &Block) -> Result<Option<f64>, Trouble> {
        let span = block.span_of(&AXES);
        let Some(feed) = self.modes.feed else {
            if self.lost {
                return Ok(None);
            }
            return Err(Trouble::refusal(
                &kinds::FEED_MISSING,
                span,
                "the cut comes before any F, so its feed isn't known",
            )
            .way_out("add F to the line"));
        };
        if !feed.used && self.modes.unit_stated {
            if !feed.unit_stated {
                self.raise(
                    Trouble::caution(
                        &kinds::UNDECIDED_FEED_UNIT,
                        span,
                        "the feed of this cut was read before G20 or G21, so its units aren't known",
                    )
                    .way_out("put F into a line after G21 or G20"),
                );
            } else if feed.unit != self.modes.unit {
                let message = format!(
                    "the feed of this cut was read before the units changed: {} mm/min",
                    shown(feed.mm_per_min)
                );
                self.raise(
                    Trouble::caution(&kinds::FEED_BEFORE_UNITS, span, message)
                        .way_out("repeat F in a line after the change"),
                );
            }
        }
        self.modes.feed = Some(crate::modes::Feed { used: true, ..feed });
        Ok(Some(feed.mm_per_min))
    }

    pub(crate) fn arc(&mut self, block: &Block, clockwise: bool) -> Result<(), Trouble> {
        self.need_plane(block);
        let plane = self.modes.plane;
        let radius = self.arc_words_fit(block, plane)?;
        let [a, b, c] = plane.axes();
        let from = self.modes.at;
        let to = self.target(block)?;
        let ends = (from[a], from[b], to[a], to[b]);
        let height_open = block.word(AXES[c]).is_some() && (from[c].is_none() || to[c].is_none());
        let ((Some(xa), Some(xb), Some(ya), Some(yb)), false) = (ends, height_open) else {
            if self.lost {
                self.modes.at = to;
                return Ok(());
            }
            return Err(Trouble::refusal(
                &kinds::ARC_START_UNKNOWN,
                block.span_of(b"XYZIJKR"),
                "the arc starts from a place that the text hasn't stated",
            )
            .way_out("place all of its axes with G0 or G1 first"));
        };
        let rule = if self.modes.unit == 1.0 { RULE_MM } else { RULE_INCH };
        let turn = match radius {
            Some(radius) => arcs::by_radius([xa, xb], [ya, yb], radius, clockwise, rule),
            None => {
                let first = self.length(block, OFFSETS[a])?.unwrap_or(0.0);
                let second = self.length(block, OFFSETS[b])?.unwrap_or(0.0);
                arcs::by_centre([xa, xb], [ya, yb], [first, second], clockwise, rule)
            }
        };
        let turn = match turn {
            Ok(turn) => turn,
            Err(why) => return Err(no_turn(why, rule, block.span_of(b"XYZIJKR"))),
        };
        let rise = to[c].unwrap_or(0.0) - from[c].unwrap_or(0.0);
        // The feed runs along the helix (NISTIR 6556 §2.1.2.6).
        let length = libm::hypot(turn.radius * turn.sweep, rise);
        let shape = Shape::Arc { plane, centre: turn.centre, radius: turn.radius, sweep: turn.sweep };
        self.cut(block, shape, to, Some(length))
    }

    /// Checks which words an arc has; gives its radius if it is in that form.
    fn arc_words_fit(&self, block: &Block, plane: Plane) -> Result<Option<f64>, Trouble> {
        let [a, b, c] = plane.axes();
        let (code, span) = (plane.code(), block.span_of(b"XYZIJKR"));
        let names = |of: [u8; 3]| (char::from(of[a.min(b)]), char::from(of[a.max(b)]));
        if block.first_of(&[AXES[a], AXES[b]]).is_none() {
            let (one, other) = names(AXES);
            let message = format!("the arc has neither {one} nor {other}, and turns in their plane ({code})");
            return Err(Trouble::refusal(&kinds::ARC_AXES_MISSING, span, message)
                .way_out("add the end; repeat the start for a full circle"));
        }
        if let Some(word) = block.word(OFFSETS[c]) {
            let message = format!("{} doesn't belong to an arc in this plane ({code})", char::from(word.letter));
            return Err(Trouble::refusal(&kinds::ARC_FORMS_MIXED, word.span.clone(), message)
                .way_out("remove the word, or choose the plane that was meant"));
        }
        let offset = block.first_of(&[OFFSETS[a], OFFSETS[b]]);
        match (block.word(b'R'), offset) {
            (Some(_), Some(word)) => {
                let message = format!("the arc has a radius (R) and a centre ({})", char::from(word.letter));
                Err(Trouble::refusal(&kinds::ARC_FORMS_MIXED, word.span.clone(), message).way_out("keep one of them"))
            }
            (Some(_), None) => self.length(block, b'R'),
            (None, Some(_)) => Ok(None),
            (None, None) => {
                let (one, other) = names(OFFSETS);
                let message = format!("the arc has neither {one} nor {other} nor R");
                Err(Trouble::refusal(&kinds::ARC_OFFSETS_MISSING, span, message).way_out("add its centre or radius"))
            }
        }
    }

    /// G81 to G83; the others are undecided.
    pub(crate) fn cycle(&mut self, block: &Block, code: u32) -> Result<(), Trouble> {
        self.need_plane(block);
        let [.., across] = self.modes.plane.axes();
        if code > 830 {
            let span =
                if block.code(Group::Motion).is_some() { block.code_span(Group::Motion) } else { block.span_of(&AXES) };
            let message = format!("G{} is a cycle that isn't followed here", number(code));
            self.raise(
                Trouble::caution(&kinds::UNDECIDED_CYCLE, span, message).way_out("use G81 to G83, or single moves"),
            );
            self.modes.at = self.target(block)?;
            self.modes.at[across] = None;
            return Ok(());
        }
        if self.modes.inverse_time {
            return Err(Trouble::refusal(
                &kinds::CYCLE_IN_INVERSE_TIME,
                block.span_of(&AXES),
                format!("G{} is done under G93", number(code)),
            )
            .way_out("use G94"));
        }
        let repeats = self.repeats(block)?;
        let (level, bottom) = self.cycle_words(block, code)?;
        let feed = self.feed(block)?;
        let Some(before) = self.modes.at[across] else {
            if !self.lost {
                let message = format!("the cycle starts from an unknown {}", char::from(AXES[across]));
                self.raise(
                    Trouble::caution(&kinds::UNDECIDED_CYCLE_START, block.span_of(b"XYZR"), message)
                        .way_out(format!("put G0 {} before the cycle", char::from(AXES[across]))),
                );
            }
            self.modes.at = self.target(block)?;
            self.modes.at[across] = None;
            return Ok(());
        };
        let shift = self.modes.shift[across];
        let (level, bottom) = if self.modes.absolute {
            (level + shift, bottom + shift)
        } else {
            (before + level, before + level + bottom)
        };
        self.within(level, b'R', block.word_span(b'R'))?;
        self.within(bottom, AXES[across], block.word_span(AXES[across]))?;
        if level < bottom {
            let message = format!("the return level {} mm is below the bottom {} mm", shown(level), shown(bottom));
            return Err(Trouble::refusal(&kinds::CYCLE_HEIGHTS, block.span_of(b"XYZR"), message)
                .way_out("correct R or the bottom"));
        }
        let peck = if code == 830 { self.modes.cycle.peck } else { None };
        let pecks = peck.map_or(1.0, |q| ((level - bottom) / q).ceil().max(1.0));
        if (3.0 + 3.0 * pecks) * f64::from(repeats) > MOST_OF_A_LINE {
            return Err(Trouble::refusal(
                &kinds::TOO_MANY_MOVES,
                block.span_of(b"XYZRQL"),
                "the cycle grows to more than 10000 moves",
            )
            .way_out("correct Q or L"));
        }
        let start = before.max(level);
        let clear = if self.modes.return_to_start.unwrap_or(true) { start } else { level };
        if self.modes.return_to_start.is_none() && start > level {
            self.raise(
                Trouble::caution(
                    &kinds::UNDECIDED_RETURN_LEVEL,
                    block.span_of(b"XYZR"),
                    "the cycle comes before G98 or G99, so the level it returns to isn't known",
                )
                .way_out("put G98 or G99 before the cycle"),
            );
        }
        let hole = Hole { across, start, level, bottom, clear, peck, pecks: pecks as u32, feed };
        let dwell = if code == 820 { self.modes.cycle.dwell } else { None };
        for (shape, to, feed) in self.drill(block, &hole, dwell, repeats)? {
            self.add(shape, to, feed)?;
        }
        Ok(())
    }

    fn repeats(&self, block: &Block) -> Result<u32, Trouble> {
        match block.whole(b'L', &kinds::CYCLE_REPEATS_BAD)? {
            None => Ok(1),
            Some(0) => {
                Err(Trouble::refusal(&kinds::CYCLE_REPEATS_BAD, block.word_span(b'L'), "the cycle is repeated 0 times")
                    .way_out("correct the L word"))
            }
            Some(repeats) => Ok(repeats),
        }
    }

    /// Return level and bottom, from this line or an earlier one of the same cycle, as written.
    fn cycle_words(&mut self, block: &Block, code: u32) -> Result<(f64, f64), Trouble> {
        let [.., across] = self.modes.plane.axes();
        let mut held = self.modes.cycle;
        held.bottom = self.length(block, AXES[across])?.or(held.bottom);
        held.level = self.length(block, b'R')?.or(held.level);
        held.peck = self.length(block, b'Q')?.or(held.peck);
        held.dwell = block.value(b'P').or(held.dwell);
        let lacks = |what: &str| {
            let message = format!("G{} needs {what}", number(code));
            Trouble::refusal(&kinds::CYCLE_INCOMPLETE, block.span_of(b"XYZRQPL"), message).way_out("add the word")
        };
        let axis = char::from(AXES[across]);
        let bottom = held.bottom.ok_or_else(|| lacks(&format!("{axis}, the bottom")))?;
        let level = held.level.ok_or_else(|| lacks("R, the return level"))?;
        if code == 830 && !held.peck.is_some_and(|q| q > 0.0) {
            return Err(lacks("Q above zero, the depth of a peck"));
        }
        if code == 820 && !held.dwell.is_some_and(|p| p >= 0.0) {
            return Err(lacks("P not below zero, the seconds at the bottom"));
        }
        self.modes.cycle = held;
        Ok((level, bottom))
    }

    /// The steps of a drilling cycle (NISTIR 6556 §3.5.16.1 to §3.5.16.4).
    fn drill(&mut self, block: &Block, hole: &Hole, dwell: Option<f64>, repeats: u32) -> Result<Vec<Step>, Trouble> {
        let mut steps = Vec::new();
        let across = hole.across;
        let mut here = self.modes.at;
        let mut go = |steps: &mut Vec<Step>, shape: Shape, to: [Option<f64>; 3]| {
            if here != to {
                steps.push((shape, to, if shape == Shape::Line { hole.feed } else { None }));
                here = to;
            }
        };
        let mut over = self.modes.at;
        over[across] = Some(hole.start);
        // Up to the return level where the cutter stands below it.
        go(&mut steps, Shape::Rapid, over);
        for _ in 0..repeats {
            for (axis, letter) in AXES.into_iter().enumerate().filter(|(axis, _)| *axis != across) {
                let Some(mm) = self.length(block, letter)? else { continue };
                over[axis] = match (self.modes.absolute, over[axis]) {
                    (true, _) => Some(self.within(mm + self.modes.shift[axis], letter, block.word_span(letter))?),
                    (false, Some(from)) => Some(self.within(from + mm, letter, block.word_span(letter))?),
                    (false, None) => {
                        self.step_from_unknown(block, letter);
                        None
                    }
                };
            }
            let at = |height: f64| {
                let mut to = over;
                to[across] = Some(height);
                to
            };
            go(&mut steps, Shape::Rapid, over);
            go(&mut steps, Shape::Rapid, at(hole.level));
            for peck in 1..hole.pecks {
                let depth = hole.level - f64::from(peck) * hole.peck.unwrap_or(0.0);
                if depth <= hole.bottom {
                    break;
                }
                go(&mut steps, Shape::Line, at(depth));
                go(&mut steps, Shape::Rapid, at(hole.level));
                go(&mut steps, Shape::Rapid, at((depth + BACKED_OFF).min(hole.level)));
            }
            go(&mut steps, Shape::Line, at(hole.bottom));
            if let Some(seconds) = dwell {
                steps.push((Shape::Dwell { seconds }, at(hole.bottom), None));
            }
            go(&mut steps, Shape::Rapid, at(hole.clear));
            over = at(hole.clear);
        }
        Ok(steps)
    }
}

/// A hole to drill, heights along the axis across the plane.
struct Hole {
    across: usize,
    /// Where the cutter crosses to the hole the first time.
    start: f64,
    level: f64,
    bottom: f64,
    /// Where it returns to.
    clear: f64,
    peck: Option<f64>,
    pecks: u32,
    feed: Option<f64>,
}

fn no_turn(why: NoTurn, rule: f64, span: Range<usize>) -> Trouble {
    match why {
        NoTurn::RadiusZero => Trouble::refusal(&kinds::ARC_RADIUS_ZERO, span, "the arc has no radius")
            .way_out("correct its centre or radius, or use G1"),
        NoTurn::RadiiDiffer { start, end } => {
            let message = format!(
                "the arc starts {} mm from its centre and ends {} mm from it; {} mm of difference is allowed",
                shown(start),
                shown(end),
                shown(rule)
            );
            Trouble::refusal(&kinds::ARC_RADII_DIFFER, span, message)
                .way_out("correct the words, or write more decimals")
        }
        NoTurn::EndsCoincide => {
            Trouble::refusal(&kinds::ARC_ENDS_COINCIDE, span, "the arc by radius ends where it starts")
                .way_out("use I and J for a full circle")
        }
        NoTurn::RadiusSmall { least } => {
            let message = format!("the radius doesn't reach the arc's end; it is at least {} mm", shown(least));
            Trouble::refusal(&kinds::ARC_RADIUS_SMALL, span, message).way_out("correct R or the end")
        }
        NoTurn::TurnOpen => Trouble::caution(
            &kinds::UNDECIDED_ARC_TURN,
            span,
            "the arc's ends all but coincide, so it may be no turn or a full one",
        )
        .way_out("end a full circle exactly where it starts, or use G1"),
    }
}

/// mm, to 0.01 µm.
fn shown(value: f64) -> String {
    let text = format!("{value:.5}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
