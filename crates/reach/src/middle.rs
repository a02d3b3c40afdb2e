//! Centre lines: where a disc must run once so that it covers strokes that are too narrow for it.
//!
//! The medial axis of what is too narrow, without its branches into corners. At its free ends a line is as short as it may
//! be while the disc still covers the stroke's end with its corners, so that a stroke becomes longer by no more than it must;
//! at its other ends it runs on to where the disc fits. What one place of the disc covers becomes a small circle, since a
//! cutter can't come down on a point.

use crate::clearance::{Axis, AxisFault, Branch, FACING};
use crate::left::{STEP, STRAY, concerned};
use crate::{HAIR, Left};
use plane::{Contour, Point, Region, Segment, fit_smooth_open};
use std::collections::BTreeMap;

/// A line shorter than this is a point, radii.
const POINT: f64 = 0.3;
/// Radius of the circle that stands for a point, radii.
const ROUND: f64 = 0.15;
/// How far lines and arcs may stray from the axis, mm.
const FIT: f64 = 0.000_5;

/// A line along the middle of a stroke.
#[derive(Debug, Clone, PartialEq)]
pub struct CentreLine {
    /// Lines and arcs end to end; a closed circle stands for a point.
    pub segments: Vec<Segment>,
    /// Where the stroke is narrowest.
    pub at: Point,
    /// How wide it is there, mm.
    pub width: f64,
}

/// A place of the axis and the radius of its disc.
type Disc = (Point, f64);

/// Lines along the middles of those places left by a disc of radius `r` mm that are strokes, or parts by themselves.
///
/// # Errors
/// Where the axis of a part of the region can't be made ([`Axis::of`]).
pub fn centre_lines(region: &Region, left: &[Left], r: f64) -> Result<Vec<CentreLine>, AxisFault> {
    let strokes: Vec<&Left> = left.iter().filter(|l| l.stroke.is_some() || l.whole_part).collect();
    let rest = Region { shapes: strokes.iter().flat_map(|l| l.region.shapes.iter().cloned()).collect() };
    let mut lines = Vec::new();
    for shape in concerned(region, &rest) {
        let axis = Axis::of(&Region { shapes: vec![shape.clone()] }, STRAY, STEP)?;
        let mut found = Net::of(&axis, r).lines();
        let whole = strokes.iter().any(|l| l.whole_part && shape.contains(l.at));
        if found.is_empty() && whole {
            found.extend(axis.widest().map(|s| vec![(s.at, s.radius)]));
        }
        lines.extend(found.iter().filter_map(|line| fitted(line, r)));
    }
    Ok(lines)
}

/// A line fitted; a point as a circle.
fn fitted(line: &[Disc], r: f64) -> Option<CentreLine> {
    let least = line.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
    let (at, width) = (least.0, 2.0 * least.1);
    let points: Vec<Point> = line.iter().map(|d| d.0).collect();
    let length = length(line);
    let segments = if length < POINT * r {
        let (middle, _) = along(line, length / 2.0);
        Contour::circle(middle, ROUND * r).segments().collect()
    } else {
        fit_smooth_open(&points, FIT).segments().filter(|s| s.length() > 0.0).collect()
    };
    Some(CentreLine { segments, at, width })
}

/// A piece of the axis that is too narrow throughout.
#[derive(Debug, Clone)]
struct Piece {
    discs: Vec<Disc>,
    /// The nodes at its ends; `None` where it goes on to where the disc fits.
    ends: [Option<usize>; 2],
}

impl Piece {
    fn turned(mut self) -> Self {
        self.discs.reverse();
        self.ends.reverse();
        self
    }
}

/// The pieces of an axis and what must be covered at its nodes besides.
struct Net {
    pieces: Vec<Piece>,
    /// Discs that a line ending here must cover.
    beyond: BTreeMap<usize, Vec<Disc>>,
    r: f64,
}

impl Net {
    fn of(axis: &Axis, r: f64) -> Self {
        let (kept, corners): (Vec<&Branch>, Vec<&Branch>) = axis.branches.iter().partition(|b| b.facing() >= FACING);
        let pieces = kept.iter().flat_map(|b| too_narrow(b, r)).collect();
        Self { pieces, beyond: tips(axis, &kept, &corners), r }
    }

    /// The lines, each as its discs.
    fn lines(mut self) -> Vec<Vec<Disc>> {
        self.join();
        // Twigs that the disc covers from where they branch off go, which may make ends of what they were on.
        while let Some((i, node)) = self.twig() {
            let twig = self.pieces.remove(i);
            self.beyond.entry(node).or_default().extend(twig.discs);
            self.join();
        }
        let counts = self.counts();
        let free = |end: Option<usize>| end.filter(|n| counts.get(n) == Some(&1));
        let trimmed = |piece: &Piece| {
            let whole = length(&piece.discs);
            let from = free(piece.ends[0]).map_or(0.0, |n| self.spare(&piece.discs, n));
            let turned = piece.clone().turned();
            let to = whole - free(piece.ends[1]).map_or(0.0, |n| self.spare(&turned.discs, n));
            let (a, b) = if from <= to { (from, to) } else { ((from + to) / 2.0, (from + to) / 2.0) };
            between(&piece.discs, a, b)
        };
        self.pieces.iter().map(trimmed).filter(|line| !line.is_empty()).collect()
    }

    /// How many ends of pieces meet at each node.
    fn counts(&self) -> BTreeMap<usize, usize> {
        let mut counts = BTreeMap::new();
        self.pieces.iter().flat_map(|p| p.ends).flatten().for_each(|n| *counts.entry(n).or_default() += 1);
        counts
    }

    /// Joins pieces where two and no more meet.
    fn join(&mut self) {
        while let Some((node, i, j)) = self.pair() {
            let (second, first) = (self.pieces.remove(j), self.pieces.remove(i));
            let first = if first.ends[1] == Some(node) { first } else { first.turned() };
            let second = if second.ends[0] == Some(node) { second } else { second.turned() };
            let discs = first.discs.into_iter().chain(second.discs.into_iter().skip(1)).collect();
            self.pieces.push(Piece { discs, ends: [first.ends[0], second.ends[1]] });
        }
    }

    fn pair(&self) -> Option<(usize, usize, usize)> {
        self.counts().into_iter().filter(|&(_, count)| count == 2).find_map(|(node, _)| {
            let at = |p: &Piece| p.ends.contains(&Some(node));
            let mut here = (0..self.pieces.len()).filter(|&i| at(&self.pieces[i]));
            Some((node, here.next()?, here.next()?))
        })
    }

    /// The shortest piece with a free end that is covered from its other end, where others go on, and that end.
    fn twig(&self) -> Option<(usize, usize)> {
        let counts = self.counts();
        let count = |end: Option<usize>| end.and_then(|n| counts.get(&n)).copied().unwrap_or(0);
        let twig = |i: usize| {
            let piece = &self.pieces[i];
            let piece = match (count(piece.ends[0]), count(piece.ends[1])) {
                (1, 2..) => piece.clone(),
                (2.., 1) => piece.clone().turned(),
                _ => return None,
            };
            let whole = length(&piece.discs);
            let (free, joined) = (piece.ends[0]?, piece.ends[1]?);
            (self.spare(&piece.discs, free) >= whole - 1e-9).then_some((whole, i, joined))
        };
        let least = (0..self.pieces.len()).filter_map(twig).min_by(|a, b| a.0.total_cmp(&b.0));
        least.map(|(_, i, joined)| (i, joined))
    }

    /// By how much discs may be shorter at their start, which ends at a free node, mm.
    fn spare(&self, discs: &[Disc], node: usize) -> f64 {
        let Some(&(end, _)) = discs.first() else { return 0.0 };
        let covers = |at: Point, d: &Disc| at.distance(d.0) + d.1 <= self.r;
        // What can't be covered from the very end is no reason to go there.
        let mut must: Vec<Disc> =
            self.beyond.get(&node).into_iter().flatten().filter(|d| covers(end, d)).copied().collect();
        let mut spare = 0.0;
        for pair in discs.windows(2) {
            let step = pair[0].0.distance(pair[1].0);
            must.push(pair[0]);
            let share = |t: f64| pair[0].0.lerp(pair[1].0, t);
            let fits = |t: f64| must.iter().all(|d| covers(share(t), d));
            if fits(1.0) {
                spare += step;
                continue;
            }
            let (mut low, mut high) = (0.0, 1.0);
            for _ in 0..30 {
                let middle = 0.5 * (low + high);
                if fits(middle) { low = middle } else { high = middle }
            }
            return spare + low * step;
        }
        spare
    }
}

/// The pieces of a branch that are too narrow, each with the disc before and after it where there is one.
fn too_narrow(branch: &Branch, r: f64) -> Vec<Piece> {
    let spots = &branch.spots;
    let narrow = |i: usize| spots[i].radius < r - HAIR;
    let mut pieces = Vec::new();
    let mut i = 0;
    while i < spots.len() {
        if !narrow(i) {
            i += 1;
            continue;
        }
        let end = (i..spots.len()).find(|&k| !narrow(k)).unwrap_or(spots.len());
        let ends = [(i == 0).then_some(branch.ends[0]), (end == spots.len()).then_some(branch.ends[1])];
        let run = &spots[i.saturating_sub(1)..(end + 1).min(spots.len())];
        pieces.push(Piece { discs: run.iter().map(|s| (s.at, s.radius)).collect(), ends });
        i = end;
    }
    pieces
}

/// For each node of the branches that are kept: the tips of the corners that hang on it.
fn tips(axis: &Axis, kept: &[&Branch], corners: &[&Branch]) -> BTreeMap<usize, Vec<Disc>> {
    let on_line: Vec<usize> = kept.iter().flat_map(|b| b.ends).collect();
    let mut beyond: BTreeMap<usize, Vec<Disc>> = BTreeMap::new();
    for &node in &on_line {
        let (mut seen, mut waiting) = (vec![node], vec![node]);
        while let Some(at) = waiting.pop() {
            for branch in corners.iter().filter(|b| b.ends.contains(&at)) {
                let other = if branch.ends[0] == at { branch.ends[1] } else { branch.ends[0] };
                if !seen.contains(&other) && !on_line.contains(&other) {
                    seen.push(other);
                    waiting.push(other);
                }
            }
        }
        let tips = seen.iter().skip(1).map(|&n| (axis.nodes[n].at, axis.nodes[n].radius));
        beyond.entry(node).or_insert_with(|| tips.collect());
    }
    beyond
}

fn length(discs: &[Disc]) -> f64 {
    discs.windows(2).map(|w| w[0].0.distance(w[1].0)).sum()
}

/// The disc at a length along a line.
fn along(discs: &[Disc], mut at: f64) -> Disc {
    for pair in discs.windows(2) {
        let step = pair[0].0.distance(pair[1].0);
        if at <= step && step > 0.0 {
            let t = at / step;
            return (pair[0].0.lerp(pair[1].0, t), pair[0].1 + (pair[1].1 - pair[0].1) * t);
        }
        at -= step;
    }
    discs.last().copied().unwrap_or_default()
}

/// What lies between two lengths along a line.
fn between(discs: &[Disc], from: f64, to: f64) -> Vec<Disc> {
    let mut found = vec![along(discs, from)];
    let mut at = 0.0;
    for (i, disc) in discs.iter().enumerate() {
        if i > 0 {
            at += discs[i - 1].0.distance(disc.0);
        }
        if at > from + 1e-9 && at < to - 1e-9 {
            found.push(*disc);
        }
    }
    found.push(along(discs, to));
    found
}
