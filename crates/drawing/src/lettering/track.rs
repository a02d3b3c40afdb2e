//! A baseline beside a path: lines and arcs that letters stand on, over or under. In mm.
//!
//! Letters always read from left to right, or upward where the path stands upright, whichever way it was drawn; so they
//! are never upside down on an arch or in a bowl. The baseline may lie off the path: its length is then counted at
//! the letters' feet, where their spacing is seen.

use super::line::Place;
use plane::{Contour, Path, Point, Segment};

/// Ends that lie beyond a track by less than this are rounding, mm.
const ROUNDING: f64 = 1e-6;

/// A baseline.
#[derive(Debug, Clone)]
pub struct Track {
    pieces: Vec<Piece>,
    /// How far the baseline lies to the left of the path, seen along it: over it. Negative is under it.
    over: f64,
    length: f64,
    closed: bool,
}

#[derive(Debug, Clone)]
struct Piece {
    segment: Segment,
    /// Along the baseline.
    from: f64,
    length: f64,
}

/// Why letters can't stand on a track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OffTrack {
    /// An arc of this radius, mm, is too tight for letters on its inside.
    Tight(f64),
    /// The text needs a length, mm, and the track has only so much where it stands.
    Short(f64, f64),
    /// The path has no length.
    Nothing,
}

impl Track {
    /// A baseline `over` an open path (under it, if negative), from its left end to its right.
    pub fn open(path: &Path, over: f64) -> Result<Self, OffTrack> {
        let ends = path.vertices.first().zip(path.vertices.last());
        let (a, b) = ends.map(|(a, b)| (a.p, b.p)).ok_or(OffTrack::Nothing)?;
        let segments: Vec<Segment> = path.segments().collect();
        Self::new(if reads(b - a) { segments } else { backward(&segments) }, over, false)
    }

    /// A baseline over a closed contour, its direction such that letters at the point nearest to `near` read from
    /// left to right.
    pub fn closed(contour: &Contour, near: Point, over: f64) -> Result<Self, OffTrack> {
        let segments: Vec<Segment> = contour.segments().collect();
        let (i, share) = nearest(&segments, near).ok_or(OffTrack::Nothing)?;
        let onward = segments[i].direction(share).is_none_or(reads);
        Self::new(if onward { segments } else { backward(&segments) }, over, true)
    }

    fn new(segments: Vec<Segment>, over: f64, closed: bool) -> Result<Self, OffTrack> {
        let mut pieces = Vec::new();
        let mut length = 0.0;
        for segment in segments.into_iter().filter(|s| s.length() > 0.0) {
            // At a distance to the left, an arc that turns left by its sweep is shorter by sweep times distance.
            let own = match segment {
                Segment::Line { .. } => segment.length(),
                Segment::Arc { sweep, radius, .. } => {
                    let own = segment.length() - sweep * over;
                    if own <= 0.0 {
                        return Err(OffTrack::Tight(radius));
                    }
                    own
                }
            };
            pieces.push(Piece { segment, from: length, length: own });
            length += own;
        }
        if pieces.is_empty() { Err(OffTrack::Nothing) } else { Ok(Self { pieces, over, length, closed }) }
    }

    /// Length of the baseline.
    pub fn length(&self) -> f64 {
        self.length
    }

    /// How far along the baseline the point of the path nearest to another lies.
    pub fn nearest(&self, p: Point) -> f64 {
        let segments: Vec<Segment> = self.pieces.iter().map(|p| p.segment).collect();
        nearest(&segments, p).map_or(0.0, |(i, share)| self.pieces[i].from + share * self.pieces[i].length)
    }

    /// Whether what runs from one place along the baseline to another stands on it.
    pub(super) fn holds(&self, from: f64, to: f64) -> Result<(), OffTrack> {
        let within = from >= -ROUNDING && to <= self.length + ROUNDING;
        if to - from > self.length + ROUNDING || (!self.closed && !within) {
            let has = if self.closed { self.length } else { to.min(self.length) - from.max(0.0) };
            return Err(OffTrack::Short(to - from, has.max(0.0)));
        }
        Ok(())
    }

    /// The place so far along the baseline. A closed one goes round; beyond the ends of an open one it goes on straight.
    pub(super) fn at(&self, along: f64) -> Place {
        let along = if self.closed { along.rem_euclid(self.length) } else { along };
        let after = self.pieces.partition_point(|p| p.from <= along).max(1);
        let piece = &self.pieces[after - 1];
        let share = (along - piece.from) / piece.length;
        let held = share.clamp(0.0, 1.0);
        let ahead = piece.segment.direction(held).unwrap_or(Point::new(1.0, 0.0));
        let beyond = ahead * ((share - held) * piece.length);
        Place { at: piece.segment.at(held) + ahead.left() * self.over + beyond, turn: ahead.angle() }
    }
}

/// Whether a direction reads: to the right, or upward if it is upright.
fn reads(d: Point) -> bool {
    let upright = 1e-9 * d.norm();
    if d.x.abs() > upright { d.x > 0.0 } else { d.y >= 0.0 }
}

fn backward(segments: &[Segment]) -> Vec<Segment> {
    segments.iter().rev().map(Segment::reversed).collect()
}

/// The segment nearest to a point, and how far along it.
fn nearest(segments: &[Segment], p: Point) -> Option<(usize, f64)> {
    let each = segments.iter().enumerate().filter(|(_, s)| s.length() > 0.0);
    let (i, segment) = each.min_by(|a, b| a.1.distance(p).total_cmp(&b.1.distance(p)))?;
    Some((i, segment.nearest_share(p)))
}
