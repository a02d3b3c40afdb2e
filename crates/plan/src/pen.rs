//! The pen: puts moves one after another and knows where the cutter is.

use crate::Tool;
use motion::{At, Move};
use plane::{Contour, Point, Segment};
use quantity::Feed;

/// Gap above material to which a rapid may come down, mm.
pub(crate) const GAP: f64 = 0.5;
/// The last bit of a way down in air, mm: more than a touch-off is wrong by (our own limit, no source).
const GENTLY: f64 = 0.1;
/// Shorter ways down aren't parted, mm.
const FALL: f64 = 0.25;
/// Gap above material at which a ramp begins, mm.
const RAMP_GAP: f64 = 0.1;
/// By how much the cutter is lifted off a floor to go back over it, mm.
pub(crate) const HOP: f64 = 0.15;
/// A ramp whose segments fall by less than this many steps of the text falls by whole ones.
const FINE: f64 = 30.0;
/// If that takes no more rounds than this share allows.
const ENOUGH: f64 = 0.3;
/// Segments shorter than this stay level in a ramp, mm.
pub(crate) const SHORT: f64 = 0.05;

/// Writes moves for one stage.
pub(crate) struct Pen<'a> {
    pub(crate) tool: &'a Tool<'a>,
    moves: Vec<Move>,
    at: Option<At>,
    /// Height of traverses, mm.
    traverse: f64,
    /// Above this height there is only air but for holds, mm.
    face: f64,
}

impl<'a> Pen<'a> {
    pub(crate) fn new(tool: &'a Tool<'a>, traverse: f64, face: f64) -> Self {
        // The first move rises from wherever the machine stands.
        let moves = vec![Move::Rapid(At::new(Point::default(), traverse))];
        Self { tool, moves, at: None, traverse, face }
    }

    /// The moves, ended by a rise.
    pub(crate) fn finish(mut self) -> Vec<Move> {
        self.lift();
        self.moves
    }

    /// Where the cutter is in the plane.
    pub(crate) fn point(&self) -> Option<Point> {
        self.at.map(|a| a.p)
    }

    /// The height of its tip, mm.
    pub(crate) fn z(&self) -> Option<f64> {
        self.at.map(|a| a.z)
    }

    /// Whether the cutter is at this height.
    pub(crate) fn is_at(&self, z: f64) -> bool {
        self.at.is_some_and(|a| a.z == z)
    }

    /// Whether the cutter stands within material that it has cut down to this height or lower, not above everything.
    pub(crate) fn has_been_down(&self, height: f64) -> bool {
        self.at.is_some_and(|a| a.z <= height + HOP + 1e-9) && height + HOP < self.face
    }

    pub(crate) fn pass(&mut self, words: String) {
        self.moves.push(Move::Pass(words));
    }

    /// Straight up to the traverse height.
    pub(crate) fn lift(&mut self) {
        if let Some(at) = self.at
            && at.z < self.traverse
        {
            self.rapid(At::new(at.p, self.traverse));
        }
    }

    /// Up, level to above a point.
    pub(crate) fn travel(&mut self, to: Point) {
        self.lift();
        self.rapid(At::new(to, self.traverse));
    }

    /// Travels to a point and comes down in a free column to `z`. Beside a wall the way below the face is with a feed,
    /// since a rapid must not come near what stands.
    pub(crate) fn come_down(&mut self, to: Point, z: f64, beside_wall: bool) {
        self.travel(to);
        let free = self.face + GAP;
        if beside_wall && z < free {
            self.rapid(At::new(to, free));
            self.line_at(At::new(to, z), self.tool.rise_feed);
        } else {
            self.rapid(At::new(to, z));
        }
    }

    fn rapid(&mut self, to: At) {
        if self.at != Some(to) {
            self.moves.push(Move::Rapid(to));
            self.at = Some(to);
        }
    }

    /// A straight line with a feed.
    pub(crate) fn line_at(&mut self, to: At, feed: Feed) {
        if self.at != Some(to) {
            self.moves.push(Move::Line { to, feed });
            self.at = Some(to);
        }
    }

    /// Straight down through material.
    pub(crate) fn drill_to(&mut self, z: f64) {
        if let Some(at) = self.at {
            self.line_at(At::new(at.p, z), self.tool.run.drill_feed);
        }
    }

    /// Straight up out of a hole.
    pub(crate) fn out_to(&mut self, z: f64) {
        if let Some(at) = self.at {
            self.rapid(At::new(at.p, z));
        }
    }

    /// A level line at the present height with the cutting feed.
    pub(crate) fn line(&mut self, to: Point) {
        let z = self.at.map_or(self.traverse, |a| a.z);
        self.line_at(At::new(to, z), self.tool.run.feed);
    }

    /// Straight up or down with a feed, in air; the last bit down, onto what another cutter may have left a little higher, as
    /// slowly as into material.
    pub(crate) fn height(&mut self, z: f64) {
        let Some(at) = self.at else { return };
        if z > at.z {
            return self.line_at(At::new(at.p, z), self.tool.rise_feed);
        }
        if at.z - z > FALL {
            self.line_at(At::new(at.p, z + GENTLY), self.tool.rise_feed);
        }
        self.line_at(At::new(at.p, z), self.tool.run.down_feed);
    }

    /// Along a segment, ending at height `z`.
    pub(crate) fn along(&mut self, segment: &Segment, z: f64, feed: Feed) {
        let to = At::new(segment.end(), z);
        match *segment {
            Segment::Line { .. } => self.line_at(to, feed),
            Segment::Arc { centre, sweep, .. } => {
                if self.at != Some(to) || sweep.abs() > 1.0 {
                    self.moves.push(Move::Arc { to, centre, ccw: sweep > 0.0, feed });
                    self.at = Some(to);
                }
            }
        }
    }

    /// Along segments at the present height.
    pub(crate) fn follow(&mut self, segments: &[Segment]) {
        let z = self.at.map_or(self.traverse, |a| a.z);
        for s in segments {
            self.along(s, z, self.tool.run.feed);
        }
    }

    /// Down a helix round `centre` from just above `top` to `z`, then once round level, ending on its circle.
    pub(crate) fn helix(&mut self, centre: Point, radius: f64, top: f64, z: f64) {
        let circle: Vec<Segment> = Contour::circle(centre, radius).segments().collect();
        self.come_down(circle[0].start(), top + GAP, false);
        let round = self.ramp(&circle, top + RAMP_GAP, z);
        self.follow_round(&round, z);
        // A ramp may end halfway round; what follows begins where the circle does.
        for s in round.iter().take_while(|s| s.start() != circle[0].start()) {
            self.along(s, z, self.tool.run.feed);
        }
    }

    /// Down along a closed run of segments from `from` to `z` at the entry angle, going round as often as needed. The cutter
    /// stands at the run's start. Ends where the ramp ends; gives the run that starts there.
    pub(crate) fn ramp(&mut self, round: &[Segment], from: f64, z: f64) -> Vec<Segment> {
        self.height(from);
        let around: f64 = round.iter().map(Segment::length).sum();
        if around <= 0.0 || from <= z {
            return round.to_vec();
        }
        let steepest = libm::tan(self.tool.run.entry_angle) * 0.98;
        let longest = round.iter().map(Segment::length).fold(0.0, f64::max);
        let shortest = SHORT.min(longest / 2.0);
        let falls = falls_by_steps(round, steepest / self.tool.text_step);
        let all = around * steepest / self.tool.text_step;
        if longest * steepest < FINE * self.tool.text_step && falls.iter().sum::<f64>() >= ENOUGH * all {
            return self.ramp_by_steps(round, &falls, from, z);
        }
        let needed = (from - z) / steepest;
        let end = ramp_end(round, needed, shortest);
        let slope = (from - z) / end.falling;
        let feed = self.tool.run.entry_feed;
        let mut height = from;
        for k in 0..end.segments {
            let segment = &round[k % round.len()];
            if segment.length() >= shortest {
                height -= segment.length() * slope;
            }
            self.along(segment, if k + 1 == end.segments && end.share == 0.0 { z } else { height.max(z) }, feed);
        }
        let last = end.segments % round.len();
        if end.share > 0.0 {
            self.along(&round[last].piece(0.0, end.share), z, feed);
        }
        let mut rest = Vec::with_capacity(round.len() + 1);
        rest.push(if end.share > 0.0 { round[last].piece(end.share, 1.0) } else { round[last] });
        rest.extend((1..round.len()).map(|k| round[(last + k) % round.len()]));
        if end.share > 0.0 {
            rest.push(round[last].piece(0.0, end.share));
        }
        rest
    }

    /// [`Self::ramp`] along segments so short that rounding in the text would make some of them steep: each falls by so many whole
    /// steps of the text.
    fn ramp_by_steps(&mut self, round: &[Segment], falls: &[f64], from: f64, z: f64) -> Vec<Segment> {
        let step = self.tool.text_step;
        let mut height = (from / step - 1e-6).ceil() * step;
        self.height(height);
        let mut at = 0;
        while height > z {
            height -= falls[at % round.len()] * step;
            if height < z + 0.5 * step {
                height = z;
            }
            self.along(&round[at % round.len()], height, self.tool.run.entry_feed);
            at += 1;
        }
        (0..round.len()).map(|k| round[(at + k) % round.len()]).collect()
    }

    /// Once round level at `z`.
    pub(crate) fn follow_round(&mut self, round: &[Segment], z: f64) {
        for s in round {
            self.along(s, z, self.tool.run.feed);
        }
    }
}

/// By how many whole steps of the text each segment may fall at so many steps a mm, with a share to spare for what rounding does
/// to lengths. Where not even the longest may fall by one, it does all the same.
fn falls_by_steps(round: &[Segment], steps: f64) -> Vec<f64> {
    let longest = round.iter().map(Segment::length).fold(0.0, f64::max);
    let falls = |s: &Segment| {
        let whole = (0.93 * s.length() * steps + 1e-6).floor();
        if s.length() >= longest { whole.max(1.0) } else { whole }
    };
    round.iter().map(falls).collect()
}

/// Where a ramp ends: after whole segments (several rounds, it may be) and a share of the next.
struct RampEnd {
    segments: usize,
    share: f64,
    /// Length over which it falls, mm.
    falling: f64,
}

/// A ramp of at least `needed` mm. It ends at a joint if one is near, so that no short piece is left; segments under `shortest`
/// stay level, since the rounding of heights would make them steep.
fn ramp_end(round: &[Segment], needed: f64, shortest: f64) -> RampEnd {
    let (mut falling, mut segments) = (0.0, 0);
    loop {
        let length = round[segments % round.len()].length();
        if length >= shortest {
            let over = falling + length - needed;
            if over >= 0.0 && over <= (0.5 * needed).max(1.0) {
                return RampEnd { segments: segments + 1, share: 0.0, falling: falling + length };
            }
            if over > 0.0 {
                // A long segment: part of it, but no less than can be told from rounding.
                let part = (needed - falling).max(4.0 * shortest).min(length);
                return RampEnd { segments, share: part / length, falling: falling + part };
            }
            falling += length;
        }
        segments += 1;
    }
}

/// A closed contour as segments that begin at a share `t` of segment `i`.
pub(crate) fn round_from(contour: &Contour, i: usize, t: f64) -> Vec<Segment> {
    let all: Vec<Segment> = contour.segments().filter(|s| s.length() > 0.0).collect();
    let Some(first) = all.get(i) else { return all };
    let mut round = Vec::with_capacity(all.len() + 1);
    if t < 1.0 {
        round.push(first.piece(t, 1.0));
    }
    round.extend((1..all.len()).map(|k| all[(i + k) % all.len()]));
    if t > 0.0 {
        round.push(first.piece(0.0, t));
    }
    round
}

/// A closed contour that begins in the middle of its longest segment, away from corners.
pub(crate) fn round_from_longest(contour: &Contour) -> Vec<Segment> {
    let lengths = contour.segments().map(|s| s.length()).filter(|&l| l > 0.0);
    let longest = lengths.enumerate().fold((0, 0.0), |best, (i, l)| if l > best.1 + 1e-6 { (i, l) } else { best });
    round_from(contour, longest.0, 0.5)
}
