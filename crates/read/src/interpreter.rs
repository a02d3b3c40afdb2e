//! Lines to moves, one after the other, in the order of execution of NISTIR 6556 Table 8.

use crate::block::{Block, Group, number};
use crate::kinds;
use crate::line::{Characters, LARGEST, WHOLE};
use crate::modes::{Feed, Modes, Motion, Sticky, Turning};
use crate::parameters::Parameters;
use crate::trouble::Trouble;
use crate::{Move, Plane, Shape, Spindle};
use std::collections::BTreeMap;

/// mm in an inch, exactly.
const INCH: f64 = 25.4;
/// Most moves of a program beside the first of each line.
const MOST_MOVES: u32 = 2_000_000;
/// Parameters from here on hold the machine's frames and offsets (NISTIR 6556 §3.2.1).
const FRAME_PARAMETERS: u16 = 5161;
/// Letters and their places in X Y Z.
pub(crate) const AXES: [u8; 3] = *b"XYZ";
/// Offsets of an arc's centre, by the same places.
pub(crate) const OFFSETS: [u8; 3] = *b"IJK";

/// The state of a program as it is read.
#[derive(Debug, Default, Clone)]
pub(crate) struct Interpreter {
    pub(crate) modes: Modes,
    pub(crate) parameters: Parameters,
    /// Those of the current line.
    pub(crate) moves: Vec<Move>,
    /// How many lines' moves came after the first of their line.
    more_moves: u32,
    /// Cutters by number, with the line that first named them.
    pub(crate) cutters: BTreeMap<u32, u32>,
    /// Whether units and distance mode were stated before the first move, and the plane before the first arc.
    pub(crate) moved_without_unit: bool,
    pub(crate) moved_without_distance: bool,
    pub(crate) turned_without_plane: bool,
    /// M2 or M30 came.
    pub(crate) ended: bool,
    /// A line was refused: what lacks from then on may have stood there.
    pub(crate) lost: bool,
    /// What the current line raised beside its refusal.
    pub(crate) raised: Vec<Trouble>,
    pub(crate) line: u32,
}

impl Interpreter {
    /// Runs a line. Afterwards `raised` holds what is undecided in it, and the error why it is refused.
    pub(crate) fn run(&mut self, line: u32, characters: Characters) -> Result<(), Trouble> {
        self.line = line;
        let outcome = self.run_checked(characters);
        if outcome.is_err() {
            self.lost = true;
            self.modes.at = [None; 3];
        }
        outcome
    }

    /// A line that couldn't be split into characters.
    pub(crate) fn skip(&mut self) {
        self.lost = true;
        self.modes.at = [None; 3];
    }

    fn run_checked(&mut self, characters: Characters) -> Result<(), Trouble> {
        let mut line = characters.words(&self.parameters)?;
        if let Some(span) = line.skipped.take() {
            let message = "the line begins with /, so a switch on the machine decides whether it runs";
            self.raise(
                Trouble::caution(&kinds::UNDECIDED_SKIPPED_LINE, span, message).way_out("remove the / or the line"),
            );
        }
        for (index, value, span) in std::mem::take(&mut line.settings) {
            self.parameters.insert(index, value);
            if index >= FRAME_PARAMETERS {
                self.lose_frame(span, &format!("parameter #{index} belongs to the machine's frames"));
            }
        }
        // The end ends even a line that is refused for something else: what follows isn't run.
        self.ended |=
            line.words.iter().any(|w| w.letter == b'M' && [2.0, 30.0].iter().any(|m| (w.value - m).abs() <= WHOLE));
        let block = Block::of(line)?;
        self.execute(&block)
    }

    pub(crate) fn raise(&mut self, trouble: Trouble) {
        self.raised.push(trouble);
    }

    /// From here on positions are in a frame that the text doesn't tell.
    fn lose_frame(&mut self, span: std::ops::Range<usize>, what: &str) {
        self.modes.at = [None; 3];
        self.modes.shift = [0.0; 3];
        let message = format!("{what}, so where the following moves are isn't known");
        self.raise(
            Trouble::caution(&kinds::UNDECIDED_FRAME, span, message)
                .way_out("use G54 and the zero that the setup states"),
        );
    }

    fn execute(&mut self, block: &Block) -> Result<(), Trouble> {
        let motion = self.motion_of(block)?;
        // After a refused line the motion in force may be one that uses them.
        if !(self.lost && self.modes.motion == Motion::None) {
            words_are_used(block, motion)?;
        }
        self.feed_mode_and_feed(block)?;
        self.spindle_and_cutter(block)?;
        self.dwell(block)?;
        self.plane_and_units(block);
        self.offsets(block)?;
        self.frame_and_distance(block, motion)?;
        self.other_once(block)?;
        // A motion code holds on; axis words may come in a later line.
        if let Some(tenths) = block.code(Group::Motion) {
            let given = Motion::of(tenths);
            if given != self.modes.motion {
                self.modes.cycle = Sticky::default();
            }
            self.modes.motion = given;
        }
        if let Some(motion) = motion {
            self.act(block, motion)?;
        }
        Ok(())
    }

    /// What moves in this line, if anything does.
    fn motion_of(&self, block: &Block) -> Result<Option<Motion>, Trouble> {
        let axes = block.first_of(b"XYZABC");
        let taken = match block.code(Group::Once) {
            Some(code @ (100 | 280 | 300 | 920)) => Some(code),
            _ => None,
        };
        if let Some(code) = block.code(Group::Motion) {
            let motion = Motion::of(code);
            if motion == Motion::None {
                return match (axes, taken) {
                    (Some(word), None) => Err(idle_axes(word.span.clone(), "G80 ends all motion")),
                    _ => Ok(None),
                };
            }
            if let Some(taken) = taken {
                let message = format!("G{} and G{} both want the line's axis words", number(taken), number(code));
                return Err(Trouble::refusal(&kinds::CODES_SHARE_AXES, block.code_span(Group::Once), message)
                    .way_out("use two lines"));
            }
            if axes.is_none() {
                let message = format!("G{} has no axis words", number(code));
                return Err(Trouble::refusal(&kinds::AXIS_WORDS_MISSING, block.code_span(Group::Motion), message)
                    .way_out("add the axis words, or remove the code"));
            }
            return Ok(Some(motion));
        }
        let Some(word) = axes else {
            if block.is_once(920) {
                return Err(Trouble::refusal(
                    &kinds::CODE_WORDS_MISSING,
                    block.code_span(Group::Once),
                    "G92 has no axis words",
                )
                .way_out("add the axis words, or remove G92"));
            }
            return Ok(None);
        };
        if taken.is_some() {
            return Ok(None);
        }
        match self.modes.motion {
            // Its code may have stood in the line that was refused.
            Motion::None if self.lost => Ok(None),
            Motion::None => Err(idle_axes(word.span.clone(), "no motion code is in force")),
            motion => Ok(Some(motion)),
        }
    }

    fn feed_mode_and_feed(&mut self, block: &Block) -> Result<(), Trouble> {
        if let Some(code) = block.code(Group::FeedMode) {
            let inverse_time = code == 930;
            if inverse_time != self.modes.inverse_time {
                // A number for the other mode means nothing in this one.
                self.modes.feed = None;
            }
            self.modes.inverse_time = inverse_time;
        }
        let Some(word) = block.word(b'F') else { return Ok(()) };
        if word.value <= 0.0 {
            let message = format!("the feed is {}; a cut would never end", word.value);
            return Err(Trouble::refusal(&kinds::FEED_BAD, word.span.clone(), message).way_out("correct the F word"));
        }
        if self.modes.inverse_time {
            // F counts for the cut of its own line only, which takes it from there.
            return Ok(());
        }
        let mm_per_min = word.value * self.modes.unit;
        if mm_per_min > LARGEST {
            let message = format!("the feed is {mm_per_min} mm/min, beyond 1000000");
            return Err(Trouble::refusal(&kinds::NUMBER_TOO_LARGE, word.span.clone(), message)
                .way_out("correct the F word; a point may be lost"));
        }
        self.modes.feed =
            Some(Feed { mm_per_min, unit_stated: self.modes.unit_stated, unit: self.modes.unit, used: false });
        Ok(())
    }

    fn spindle_and_cutter(&mut self, block: &Block) -> Result<(), Trouble> {
        if let Some(word) = block.word(b'S') {
            if word.value < 0.0 {
                let message = format!("the spindle speed is {}, below zero", word.value);
                return Err(Trouble::refusal(&kinds::SPEED_BAD, word.span.clone(), message)
                    .way_out("correct the S word; M4 turns the other way"));
            }
            self.modes.speed = Some(word.value);
        }
        if let Some(cutter) = block.whole(b'T', &kinds::CUTTER_NUMBER_BAD)? {
            self.modes.cutter = Some(cutter);
            self.cutters.entry(cutter).or_insert(self.line);
        }
        if block.code(Group::Change).is_some() {
            // A change leaves the spindle stopped (NISTIR 6556 §3.6.3).
            self.modes.turning = Turning::Still;
        }
        match block.code(Group::Spindle) {
            Some(30) => self.modes.turning = Turning::Clockwise,
            Some(40) => self.modes.turning = Turning::CounterClockwise,
            Some(_) => self.modes.turning = Turning::Still,
            None => {}
        }
        // Coolant, overrides and stops move nothing: M0, M1 and M60 wait for the maker.
        Ok(())
    }

    fn dwell(&mut self, block: &Block) -> Result<(), Trouble> {
        if !block.is_once(40) {
            return Ok(());
        }
        let Some(word) = block.word(b'P') else {
            return Err(Trouble::refusal(&kinds::DWELL_BAD, block.code_span(Group::Once), "G4 has no P")
                .way_out("add P with the seconds"));
        };
        if word.value < 0.0 {
            let message = format!("the dwell lasts {} s, below zero", word.value);
            return Err(Trouble::refusal(&kinds::DWELL_BAD, word.span.clone(), message).way_out("correct the P word"));
        }
        let at = self.modes.at;
        self.add(Shape::Dwell { seconds: word.value }, at, None)
    }

    fn plane_and_units(&mut self, block: &Block) {
        if let Some(code) = block.code(Group::Plane) {
            let plane = match code {
                170 => Plane::Xy,
                180 => Plane::Zx,
                _ => Plane::Yz,
            };
            if plane != self.modes.plane {
                self.modes.cycle = Sticky::default();
            }
            self.modes.plane = plane;
            self.modes.plane_stated = true;
        }
        if let Some(code) = block.code(Group::Units) {
            let unit = if code == 200 { INCH } else { 1.0 };
            if unit != self.modes.unit {
                self.modes.cycle = Sticky::default();
            }
            self.modes.unit = unit;
            self.modes.unit_stated = true;
        }
    }

    fn offsets(&mut self, block: &Block) -> Result<(), Trouble> {
        block.whole(b'D', &kinds::OFFSET_NUMBER_BAD)?;
        if let Some(code @ (410 | 420)) = block.code(Group::RadiusOffset) {
            let message = format!("G{} shifts the path by a radius that is kept in the machine", number(code));
            self.raise(
                Trouble::caution(&kinds::UNDECIDED_CUTTER_OFFSET, block.code_span(Group::RadiusOffset), message)
                    .way_out("write the path of the cutter's centre, with G40"),
            );
        }
        let length = block.whole(b'H', &kinds::OFFSET_NUMBER_BAD)?;
        if block.code(Group::LengthOffset) == Some(430) {
            let span = block.code_span(Group::LengthOffset);
            if length.is_none() {
                return Err(
                    Trouble::refusal(&kinds::CODE_WORDS_MISSING, span, "G43 has no H").way_out("add H, or use G49")
                );
            }
            self.raise(
                Trouble::caution(
                    &kinds::UNDECIDED_LENGTH_OFFSET,
                    span,
                    "G43 shifts all heights by a length that is kept in the machine",
                )
                .way_out("touch off each cutter and use G49"),
            );
        }
        Ok(())
    }

    fn frame_and_distance(&mut self, block: &Block, motion: Option<Motion>) -> Result<(), Trouble> {
        match block.code(Group::Frame) {
            // Coming back from a frame that isn't known, the cutter's place in this one isn't known either; the
            // position was lost when that frame was chosen, and what was placed there doesn't count here.
            Some(540) => {
                if self.modes.other_frame {
                    self.modes.at = [None; 3];
                }
                self.modes.other_frame = false;
            }
            Some(code) => {
                self.modes.other_frame = true;
                self.lose_frame(
                    block.code_span(Group::Frame),
                    &format!("G{} is a frame that is kept in the machine", number(code)),
                );
            }
            None => {}
        }
        if block.code(Group::PathControl) == Some(640) {
            self.raise(
                Trouble::caution(
                    &kinds::CORNERS_BLENDED,
                    block.code_span(Group::PathControl),
                    "G64 lets the controller round corners, by as much as is set in the machine",
                )
                .way_out("use G61, or set the machine's rounding below the wall's tolerance"),
            );
        }
        if let Some(code) = block.code(Group::Distance) {
            let absolute = code == 900;
            if absolute != self.modes.absolute {
                // A cycle's words held from earlier lines would change their meaning.
                self.modes.cycle = Sticky::default();
            }
            self.modes.absolute = absolute;
            self.modes.distance_stated = true;
        }
        match block.code(Group::Return) {
            Some(980) => self.modes.return_to_start = Some(true),
            Some(_) => self.modes.return_to_start = Some(false),
            None => {}
        }
        if block.is_once(530) {
            let legal = matches!(motion, Some(Motion::Rapid | Motion::Line)) && self.modes.absolute;
            if !legal {
                let message = "G53 needs G0 or G1 with axis words, and G90";
                return Err(Trouble::refusal(&kinds::MACHINE_FRAME_MISUSED, block.code_span(Group::Once), message)
                    .way_out("correct the line, or remove G53"));
            }
        }
        Ok(())
    }

    /// G10, G28, G30, G92 and its kin.
    fn other_once(&mut self, block: &Block) -> Result<(), Trouble> {
        let Some(code) = block.code(Group::Once) else { return Ok(()) };
        let span = block.code_span(Group::Once);
        match code {
            100 => {
                let near = |value: f64, whole: f64| (value - whole).abs() <= WHOLE;
                let frame = block.value(b'P').is_some_and(|p| (1.0..=9.0).contains(&p.round()) && near(p, p.round()));
                if !block.value(b'L').is_some_and(|l| near(l, 2.0)) || !frame {
                    return Err(Trouble::refusal(&kinds::CODE_WORDS_MISSING, span, "G10 needs L2 and P1 to P9")
                        .way_out("correct the words, or remove G10"));
                }
                self.lose_frame(span, "G10 changes a frame that is kept in the machine");
            }
            280 | 300 => {
                let message = format!("G{} goes to a place that is kept in the machine", number(code));
                self.raise(
                    Trouble::caution(&kinds::UNDECIDED_REFERENCE, span, message)
                        .way_out("rise with G0 Z and go to a stated place instead"),
                );
                // With axis words it first goes where they say, in rapid.
                if block.first_of(&AXES).is_some() {
                    self.state_before_moving(block);
                    let to = self.target(block)?;
                    self.add(Shape::Rapid, to, None)?;
                }
                self.modes.at = [None; 3];
            }
            920 => self.set_zero(block, span)?,
            921.. => self.lose_frame(span, &format!("G{} changes the zero", number(code))),
            _ => {}
        }
        Ok(())
    }

    /// G92 names the place where the cutter is. Where that is known, so is the shift of all later positions.
    fn set_zero(&mut self, block: &Block, span: std::ops::Range<usize>) -> Result<(), Trouble> {
        if let Some(word) = block.first_of(b"ABC") {
            let message = format!("{} turns an axis that isn't followed here", char::from(word.letter));
            self.raise(
                Trouble::caution(&kinds::UNDECIDED_ROTARY, word.span.clone(), message).way_out("remove the word"),
            );
        }
        if block.first_of(&AXES).is_some() && !self.modes.unit_stated {
            self.state_before_moving(block);
        }
        for (axis, letter) in AXES.into_iter().enumerate() {
            let Some(mm) = self.length(block, letter)? else { continue };
            match self.modes.at[axis] {
                Some(at) => self.modes.shift[axis] = at - mm,
                None if self.lost => {}
                None => {
                    let what = format!("G92 names {} where the cutter's place isn't known", char::from(letter));
                    self.lose_frame(span, &what);
                    return Ok(());
                }
            }
        }
        Ok(())
    }

    fn act(&mut self, block: &Block, motion: Motion) -> Result<(), Trouble> {
        if let Some(word) = block.first_of(b"ABC") {
            let message = format!("{} turns an axis that isn't followed here", char::from(word.letter));
            self.raise(
                Trouble::caution(&kinds::UNDECIDED_ROTARY, word.span.clone(), message).way_out("remove the word"),
            );
            if block.first_of(&AXES).is_none() {
                return Ok(());
            }
        }
        self.state_before_moving(block);
        if block.is_once(530) {
            // Afterwards the axes are somewhere that the program's zero doesn't tell.
            self.lose_named(block);
            self.raise(
                Trouble::caution(
                    &kinds::UNDECIDED_FRAME,
                    block.code_span(Group::Once),
                    "G53 goes to a place in the machine's frame",
                )
                .way_out("go to a place from the program's zero instead"),
            );
            return Ok(());
        }
        match motion {
            Motion::None => Ok(()),
            Motion::Rapid => {
                let to = self.target(block)?;
                self.add(Shape::Rapid, to, None)
            }
            Motion::Line => self.straight_cut(block),
            Motion::Arc { clockwise } => self.arc(block, clockwise),
            Motion::Cycle(code) => self.cycle(block, code),
            Motion::Probe => {
                self.lose_named(block);
                self.raise(
                    Trouble::caution(
                        &kinds::UNDECIDED_PROBING,
                        block.span_of(&AXES),
                        "G38.2 moves until a probe trips, so its end isn't known",
                    )
                    .way_out("probe by a program of its own"),
                );
                Ok(())
            }
        }
    }

    /// Raises what the text leaves to the machine before the first move.
    fn state_before_moving(&mut self, block: &Block) {
        let span = block.span_of(&AXES);
        if !self.modes.unit_stated && !self.moved_without_unit {
            self.moved_without_unit = true;
            self.raise(
                Trouble::caution(
                    &kinds::UNDECIDED_LENGTH_UNIT,
                    span.clone(),
                    "the first move comes before G20 or G21, so its units aren't known",
                )
                .way_out("put G21 (mm) or G20 (inches) before it"),
            );
        }
        if !self.modes.distance_stated && !self.moved_without_distance {
            self.moved_without_distance = true;
            self.raise(
                Trouble::caution(
                    &kinds::UNDECIDED_DISTANCE_MODE,
                    span,
                    "the first move comes before G90 or G91, so its words may be positions or steps",
                )
                .way_out("put G90 before it"),
            );
        }
    }

    /// Raises it if the plane is needed but not stated.
    pub(crate) fn need_plane(&mut self, block: &Block) {
        if !self.modes.plane_stated && !self.turned_without_plane {
            self.turned_without_plane = true;
            let message = "the plane is needed here, but the text hasn't stated G17, G18 or G19";
            self.raise(
                Trouble::caution(&kinds::UNDECIDED_ARC_PLANE, block.span_of(b"XYZIJKR"), message)
                    .way_out("put G17 before the first arc or cycle"),
            );
        }
    }

    /// The axes named go to places that the text doesn't tell.
    fn lose_named(&mut self, block: &Block) {
        for (axis, letter) in AXES.into_iter().enumerate() {
            if block.word(letter).is_some() {
                self.modes.at[axis] = None;
            }
        }
    }

    /// A length word in mm.
    pub(crate) fn length(&self, block: &Block, letter: u8) -> Result<Option<f64>, Trouble> {
        let Some(word) = block.word(letter) else { return Ok(None) };
        let mm = word.value * self.modes.unit;
        self.within(mm, letter, word.span.clone()).map(Some)
    }

    /// A position or length that a machine could have.
    pub(crate) fn within(&self, mm: f64, letter: u8, span: std::ops::Range<usize>) -> Result<f64, Trouble> {
        if mm.abs() <= LARGEST {
            return Ok(mm);
        }
        let message = format!("{} is {mm} mm, beyond 1000000", char::from(letter));
        Err(Trouble::refusal(&kinds::NUMBER_TOO_LARGE, span, message)
            .way_out("correct the number; a point may be lost"))
    }

    /// Where the axis words lead.
    pub(crate) fn target(&mut self, block: &Block) -> Result<[Option<f64>; 3], Trouble> {
        let mut to = self.modes.at;
        for (axis, letter) in AXES.into_iter().enumerate() {
            let Some(mm) = self.length(block, letter)? else { continue };
            to[axis] = match (self.modes.absolute, self.modes.at[axis]) {
                (true, _) => Some(self.within(mm + self.modes.shift[axis], letter, block.word_span(letter))?),
                (false, Some(from)) => Some(self.within(from + mm, letter, block.word_span(letter))?),
                (false, None) => {
                    self.step_from_unknown(block, letter);
                    None
                }
            };
        }
        Ok(to)
    }

    pub(crate) fn step_from_unknown(&mut self, block: &Block, letter: u8) {
        if self.lost {
            return;
        }
        let letter_shown = char::from(letter);
        let message = format!("{letter_shown} is a step (G91) from a place that the text hasn't stated");
        self.raise(
            Trouble::caution(&kinds::UNDECIDED_STEP, block.word_span(letter), message)
                .way_out(format!("place {letter_shown} with G90 first")),
        );
    }

    /// Adds a move and goes there.
    pub(crate) fn add(&mut self, shape: Shape, to: [Option<f64>; 3], feed: Option<f64>) -> Result<(), Trouble> {
        if !self.moves.is_empty() {
            self.more_moves += 1;
            if self.more_moves > MOST_MOVES {
                self.more_moves = MOST_MOVES;
                let message = format!("the program's lines grow to more than {MOST_MOVES} further moves");
                return Err(Trouble::refusal(&kinds::TOO_MANY_MOVES, 0..0, message)
                    .way_out("correct Q or L, or split the program"));
            }
        }
        let spindle = match self.modes.turning {
            Turning::Still => Spindle::Still,
            Turning::Clockwise => Spindle::Clockwise(self.modes.speed),
            Turning::CounterClockwise => Spindle::CounterClockwise(self.modes.speed),
        };
        let from = self.modes.at;
        self.moves.push(Move { line: self.line, shape, from, to, feed, spindle, cutter: self.modes.cutter });
        self.modes.at = to;
        Ok(())
    }
}

fn idle_axes(span: std::ops::Range<usize>, why: &str) -> Trouble {
    Trouble::refusal(&kinds::AXIS_WORDS_IDLE, span, format!("nothing uses the axis words: {why}"))
        .way_out("put G0, G1, G2 or G3 into the line")
}

/// Every word but axis words, F, S and T belongs to a code of the line or to the motion in force.
fn words_are_used(block: &Block, motion: Option<Motion>) -> Result<(), Trouble> {
    let arc = matches!(motion, Some(Motion::Arc { .. }));
    let cycle = match motion {
        Some(Motion::Cycle(code)) => Some(code),
        _ => None,
    };
    let users: [(&[u8], bool, &str); 7] = [
        (b"IJK", arc || cycle == Some(870), "G2 or G3"),
        (b"R", arc || cycle.is_some(), "G2, G3 or a drilling cycle"),
        (
            b"P",
            block.is_once(40) || block.is_once(100) || matches!(cycle, Some(820 | 860 | 880 | 890)),
            "G4, G10 or G82",
        ),
        (b"Q", cycle == Some(830), "G83"),
        (b"L", cycle.is_some() || block.is_once(100), "a drilling cycle or G10"),
        (b"D", matches!(block.code(Group::RadiusOffset), Some(410 | 420)), "G41 or G42"),
        (b"H", block.code(Group::LengthOffset) == Some(430), "G43"),
    ];
    for (letters, used, by) in users {
        if let (false, Some(word)) = (used, block.first_of(letters)) {
            let message = format!("nothing uses {}; it belongs to {by} with axis words", char::from(word.letter));
            return Err(Trouble::refusal(&kinds::WORD_IDLE, word.span.clone(), message)
                .way_out("restore the code it belongs to, or remove the word"));
        }
    }
    Ok(())
}
