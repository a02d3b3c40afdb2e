//! The pen: puts moves one after another and knows where the cutter is.

use crate::Tool;
use motion::{At, Move};
use plane::{Contour, Point, Segment};
use quantity::Feed;

/// Gap above material to which a rapid may come down, mm.
pub(crate) const GAP: f64 = 0.5;
/// Gap above material at which a ramp begins, mm.
const RAMP_GAP: f64 = 0.1;
/// By how much the cutter is lifted off a floor to go back over it, mm.
pub(crate) const HOP: f64 = 0.15;

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
            self.line_at(At::new(to, z), self.tool.run.down_feed);
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

    /// A level line at the present height with the cutting feed.
    pub(crate) fn line(&mut self, to: Point) {
        let z = self.at.map_or(self.traverse, |a| a.z);
        self.line_at(At::new(to, z), self.tool.run.feed);
    }

    /// Straight up or down with a feed, in air.
    pub(crate) fn height(&mut self, z: f64) {
        if let Some(at) = self.at {
            let feed = if z > at.z { self.tool.run.feed } else { self.tool.run.down_feed };
            self.line_at(At::new(at.p, z), feed);
        }
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
        self.ramp(&circle, top + RAMP_GAP, z);
        self.follow_round(&circle, z);
    }

    /// Down along a closed run of segments from `from` to `z` at the entry angle, going round as often as needed. The cutter
    /// stands at the run's start. Ends where the ramp ends; gives the run that starts there.
    pub(crate) fn ramp(&mut self, round: &[Segment], from: f64, z: f64) -> Vec<Segment> {
        let slope = libm::tan(self.tool.run.entry_angle) * 0.99;
        let feed = self.tool.run.entry_feed;
        let mut height = from;
        self.height(from);
        let length: f64 = round.iter().map(Segment::length).sum();
        if length <= 0.0 {
            return round.to_vec();
        }
        for i in (0..round.len()).cycle() {
            let segment = &round[i];
            let drop = segment.length() * slope;
            if height - drop > z {
                height -= drop;
                self.along(segment, height, feed);
                continue;
            }
            let share = if drop > 0.0 { ((height - z) / drop).clamp(0.0, 1.0) } else { 1.0 };
            if share > 1e-9 {
                self.along(&segment.piece(0.0, share), z, feed);
            }
            let mut rest = Vec::with_capacity(round.len() + 1);
            if share < 1.0 - 1e-9 {
                rest.push(segment.piece(share, 1.0));
            }
            rest.extend((1..round.len()).map(|k| round[(i + k) % round.len()]));
            if share > 1e-9 {
                rest.push(segment.piece(0.0, share));
            }
            return rest;
        }
        round.to_vec()
    }

    /// Once round level at `z`.
    pub(crate) fn follow_round(&mut self, round: &[Segment], z: f64) {
        for s in round {
            self.along(s, z, self.tool.run.feed);
        }
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

/// A closed contour that begins at its nearest point to `p`.
pub(crate) fn round_from_nearest(contour: &Contour, p: Point) -> Vec<Segment> {
    let segments = contour.segments().filter(|s| s.length() > 0.0);
    let near = segments.enumerate().fold((0, 0.0, f64::INFINITY), |best, (i, s)| {
        let d = s.distance(p);
        if d < best.2 - 1e-9 { (i, s.nearest_share(p), d) } else { best }
    });
    round_from(contour, near.0, near.1)
}
