//! Joining the pieces that are left into closed rings.
//!
//! Where two pieces meet, each was cut against the other's source, so both end within rounding of the same point. Ends
//! and starts are paired nearest first; a crumb that pairs with nothing is dropped; anything else left over is a fault
//! with its place.

use super::pieces::{Piece, Shape};
use super::{LINK, OffsetFault};
use plane::{Contour, Point, Vertex};

/// Unpaired pieces no longer than this are crumbs of rounding where several pieces meet, mm.
const CRUMB: f64 = 0.002;
/// Pairs within this are taken at once when they follow each other along the source, mm.
const CLOSE: f64 = 1e-8;

/// A run of a piece that lies at the offset's distance.
#[derive(Debug, Clone, Copy)]
pub(super) struct Kept {
    pub(super) piece: u32,
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) start: Point,
    pub(super) end: Point,
}

/// The rings that kept runs form.
pub(super) fn rings(kept: &[Kept], pieces: &[Piece], link: f64) -> Result<Vec<Contour>, OffsetFault> {
    let next = pair(kept, pieces, link)?;
    let mut done = vec![false; kept.len()];
    let mut rings = Vec::new();
    for first in 0..kept.len() {
        if done[first] || next[first] == NONE {
            continue;
        }
        let mut vertices = Vec::new();
        let mut i = first;
        while !done[i] {
            done[i] = true;
            push(&kept[i], &pieces[kept[i].piece as usize], &mut vertices);
            i = next[i] as usize;
        }
        rings.push(Contour { vertices });
    }
    Ok(rings)
}

const NONE: u32 = u32::MAX;

/// For each kept run the one that follows it; crumbs have none.
fn pair(kept: &[Kept], pieces: &[Piece], link: f64) -> Result<Vec<u32>, OffsetFault> {
    let n = kept.len();
    let mut next = vec![NONE; n];
    let mut taken = vec![false; n];
    // Along the source most runs follow each other: pieces are made in ring order.
    for i in 0..n {
        let j = (i + 1) % n;
        if kept[i].end.distance(kept[j].start) <= CLOSE && !taken[j] {
            next[i] = j as u32;
            taken[j] = true;
        }
    }
    match_nearest(kept, link, &mut next, &mut taken);
    if next.iter().all(|&j| j != NONE) {
        return Ok(next);
    }
    without_crumbs(kept, pieces, &mut next, &mut taken);
    match_nearest(kept, CRUMB, &mut next, &mut taken);
    // Crumbs are out of the running: those with neither neighbour. What has only one is a break.
    let broken = (0..n).find(|&i| (next[i] == NONE) == taken[i] || (next[i] == NONE && !is_crumb(&kept[i], pieces)));
    match broken {
        Some(i) => Err(OffsetFault { at: kept[i].end, why: "the pieces of the offset do not close into rings" }),
        None => Ok(next),
    }
}

fn is_crumb(kept: &Kept, pieces: &[Piece]) -> bool {
    pieces[kept.piece as usize].length(kept.from, kept.to) <= CRUMB
}

/// Unlinks crumbs that lack a neighbour on either side, until none does.
fn without_crumbs(kept: &[Kept], pieces: &[Piece], next: &mut [u32], taken: &mut [bool]) {
    let mut before = vec![NONE; kept.len()];
    for (i, &j) in next.iter().enumerate() {
        if j != NONE {
            before[j as usize] = i as u32;
        }
    }
    let mut loose: Vec<usize> = (0..kept.len()).filter(|&i| next[i] == NONE || !taken[i]).collect();
    while let Some(i) = loose.pop() {
        if !is_crumb(&kept[i], pieces) || (next[i] != NONE && taken[i]) {
            continue;
        }
        if next[i] != NONE {
            let j = next[i] as usize;
            (taken[j], before[j], next[i]) = (false, NONE, NONE);
            loose.push(j);
        }
        if before[i] != NONE {
            let h = before[i] as usize;
            (next[h], before[i], taken[i]) = (NONE, NONE, false);
            loose.push(h);
        }
    }
}

/// Pairs free ends with free starts within `link` mm, nearest first.
fn match_nearest(kept: &[Kept], link: f64, next: &mut [u32], taken: &mut [bool]) {
    let mut starts: Vec<usize> = (0..kept.len()).filter(|&j| !taken[j]).collect();
    starts.sort_unstable_by(|&a, &b| kept[a].start.x.total_cmp(&kept[b].start.x));
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for i in (0..kept.len()).filter(|&i| next[i] == NONE) {
        let end = kept[i].end;
        let low = starts.partition_point(|&j| kept[j].start.x < end.x - link);
        for &j in starts[low..].iter().take_while(|&&j| kept[j].start.x <= end.x + link) {
            let d = kept[j].start.distance(end);
            // A run closes on itself only if it is a ring, not if it is a crumb.
            if d <= link && (i != j || kept[i].to - kept[i].from > 1.0) {
                pairs.push((d, i, j));
            }
        }
    }
    pairs.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    for (_, i, j) in pairs {
        if next[i] == NONE && !taken[j] {
            next[i] = j as u32;
            taken[j] = true;
        }
    }
}

fn push(kept: &Kept, piece: &Piece, vertices: &mut Vec<Vertex>) {
    match piece.shape {
        Shape::Line { .. } => vertices.push(Vertex::straight(kept.start)),
        Shape::Arc { .. } => {
            // Arcs beyond a half turn are cut in two, so that bulges stay small.
            let sweep = piece.sweep(kept.from, kept.to);
            let cuts = if sweep.abs() > 3.2 { 2 } else { 1 };
            let bulge = libm::tan(sweep / f64::from(cuts) / 4.0);
            vertices.push(Vertex { p: kept.start, bulge });
            if cuts == 2 {
                vertices.push(Vertex { p: piece.at(0.5 * (kept.from + kept.to)), bulge });
            }
        }
    }
}

/// The greatest gap that is linked for coordinates up to `size` mm.
pub(super) fn link_for(size: f64) -> f64 {
    LINK.max(size * 1e-9)
}
