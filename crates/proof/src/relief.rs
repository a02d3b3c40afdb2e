//! The blank as a grid of heights, cut tile by tile.
//!
//! A tile goes through every leg that touches it in program order and is then judged and dropped, so that memory
//! holds only the tiles at work. A cell's height is exact at its centre: the lowest that any leg's edge came there.
//! Tiles are cut side by side and their results put together in the tiles' order, so that the number of threads
//! changes nothing.

use crate::Watch;
use crate::leg::{Leg, Run};
use crate::profile::{Edge, Profile};
use plane::{Bounds, Point};
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Less than this is the grid's and the text's rounding, mm: half of it is a program's third decimal.
pub(crate) const TOUCH: f64 = 0.002;
/// Rapids and shanks are taken narrower by this, so that a wall just cut isn't found as touched, mm.
const SLIM: f64 = 0.002;
/// Cells of a tile's side, about: one megabyte of heights.
const TILE: usize = 512;

/// More cells than a bed of 600 mm has at 0.02 mm: a larger blank gets a wider pitch, which the proof states.
const MOST_CELLS: usize = 1_000_000_000;
/// Samples of a coarser grid; a larger blank gets fewer to the mm.
const MOST_SAMPLES: usize = 6_000_000;

/// The grid.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Grid {
    pub(crate) pitch: f64,
    pub(crate) columns: usize,
    pub(crate) rows: usize,
    /// Cells of a tile's side.
    pub(crate) tile: usize,
    /// Cells for one sample of the coarse grid on which pieces are told apart.
    pub(crate) coarse: usize,
    /// Cells for one sample of the pictures.
    pub(crate) picture: usize,
}

impl Grid {
    pub(crate) fn new(size: Bounds, pitch: f64, picture_pitch: f64) -> Self {
        let count = |length: f64, pitch: f64| ((length / pitch - 1e-6).ceil().max(1.0)) as usize;
        let cells = |pitch: f64| count(size.width(), pitch).saturating_mul(count(size.height(), pitch));
        let mut pitch = pitch;
        while cells(pitch) > MOST_CELLS && pitch < size.width().max(size.height()) {
            pitch *= 2.0;
        }
        let ratio = |wanted: f64| {
            let least = ((wanted / pitch).round().max(1.0) as usize).min(64);
            (least..=512).find(|&r| cells(pitch) / (r * r) <= MOST_SAMPLES).unwrap_or(512)
        };
        let (coarse, picture) = (ratio(0.1), ratio(picture_pitch));
        let picture = if coarse * picture / gcd(coarse, picture) > 2 * TILE { coarse } else { picture };
        let unit = coarse * picture / gcd(coarse, picture);
        Self {
            pitch,
            columns: count(size.width(), pitch),
            rows: count(size.height(), pitch),
            tile: unit * TILE.div_ceil(unit),
            coarse,
            picture,
        }
    }

    pub(crate) fn tiles(&self) -> (usize, usize) {
        (self.columns.div_ceil(self.tile), self.rows.div_ceil(self.tile))
    }

    pub(crate) fn centre(&self, column: usize, row: usize) -> Point {
        Point::new((column as f64 + 0.5) * self.pitch, (row as f64 + 0.5) * self.pitch)
    }

    /// Samples of a coarser grid of this ratio.
    pub(crate) fn coarser(&self, ratio: usize) -> (usize, usize) {
        (self.columns.div_ceil(ratio), self.rows.div_ceil(ratio))
    }
}

fn gcd(a: usize, b: usize) -> usize {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// What a stage cuts with, as far as the grid needs it.
#[derive(Debug, Clone)]
pub(crate) struct Tooling {
    pub(crate) profile: Profile,
    /// A deeper bite than this is counted as deep.
    pub(crate) deep: f64,
}

/// What one leg did in one tile, or in all of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Touch {
    pub(crate) leg: u32,
    /// Deepest below the surface met.
    pub(crate) bite: f64,
    pub(crate) bite_at: Point,
    /// mm³.
    pub(crate) removed: f64,
    /// Area where more than a touch was cut, mm².
    pub(crate) area: f64,
    /// Greatest area in one tile where the bite was deep, mm².
    pub(crate) deep_area: f64,
    /// Length of the leg in the tile with that area.
    pub(crate) deep_length: f64,
    /// Material above a rapid's cutter: how much, where.
    pub(crate) rapid: Option<(f64, Point)>,
    /// Material above the flutes beside the shank.
    pub(crate) shank: Option<(f64, Point)>,
    /// Material above the collet nut's lower end.
    pub(crate) nut: Option<(f64, Point)>,
}

impl Touch {
    fn new(leg: u32) -> Self {
        let nowhere = Point::default();
        Self {
            leg,
            bite: 0.0,
            bite_at: nowhere,
            removed: 0.0,
            area: 0.0,
            deep_area: 0.0,
            deep_length: 0.0,
            rapid: None,
            shank: None,
            nut: None,
        }
    }

    fn is_nothing(&self) -> bool {
        self.removed <= 0.0 && self.rapid.is_none() && self.shank.is_none() && self.nut.is_none()
    }

    /// Joins what the same leg did in another tile.
    fn join(&mut self, other: &Self) {
        if other.bite > self.bite {
            (self.bite, self.bite_at) = (other.bite, other.bite_at);
        }
        self.removed += other.removed;
        self.area += other.area;
        if other.deep_area > self.deep_area {
            (self.deep_area, self.deep_length) = (other.deep_area, other.deep_length);
        }
        for (own, theirs) in
            [(&mut self.rapid, other.rapid), (&mut self.shank, other.shank), (&mut self.nut, other.nut)]
        {
            if theirs.is_some_and(|t| own.is_none_or(|o| t.0 > o.0)) {
                *own = theirs;
            }
        }
    }
}

/// A tile at work.
pub(crate) struct Tile {
    /// First column and row of the grid.
    pub(crate) column: usize,
    pub(crate) row: usize,
    pub(crate) width: usize,
    pub(crate) height: usize,
    pitch: f64,
    pub(crate) heights: Vec<f32>,
}

impl Tile {
    pub(crate) fn cells(&self, row: usize) -> &[f32] {
        &self.heights[row * self.width..(row + 1) * self.width]
    }

    pub(crate) fn centre(&self, column: usize, row: usize) -> Point {
        let at = |i: usize| (i as f64 + 0.5) * self.pitch;
        Point::new(at(self.column + column), at(self.row + row))
    }

    fn bounds(&self) -> Bounds {
        let corner = |c: usize, r: usize| Point::new(c as f64 * self.pitch, r as f64 * self.pitch);
        Bounds { min: corner(self.column, self.row), max: corner(self.column + self.width, self.row + self.height) }
    }

    /// Rows whose centres lie between two heights.
    fn rows(&self, low: f64, high: f64) -> std::ops::Range<usize> {
        span(low / self.pitch - self.row as f64, high / self.pitch - self.row as f64, self.height)
    }

    /// Columns whose centres lie between two x.
    fn columns(&self, low: f64, high: f64) -> std::ops::Range<usize> {
        span(low / self.pitch - self.column as f64, high / self.pitch - self.column as f64, self.width)
    }
}

/// Cells from 0 to `count` whose centres (i + 1/2) lie between two places.
fn span(low: f64, high: f64, count: usize) -> std::ops::Range<usize> {
    let first = (low - 0.5).ceil().clamp(0.0, count as f64) as usize;
    let end = ((high - 0.5).floor() + 1.0).clamp(0.0, count as f64) as usize;
    first..end.max(first)
}

/// Everything that is cut.
pub(crate) struct Work<'a> {
    pub(crate) grid: Grid,
    /// Height of the uncut blank.
    pub(crate) face_high: f64,
    /// A sample this low is cut through.
    pub(crate) through: f64,
    pub(crate) legs: &'a [Leg],
    /// By stage.
    pub(crate) tooling: &'a [Option<Tooling>],
}

/// What is kept of a tile.
pub(crate) struct Cut<J> {
    pub(crate) touches: Vec<Touch>,
    /// After each stage, the tile's picture samples.
    pub(crate) reliefs: Vec<Vec<f32>>,
    /// For each coarse sample the leg that cut it through; `u32::MAX` where it stands.
    pub(crate) deaths: Vec<u32>,
    pub(crate) judged: J,
}

impl Work<'_> {
    /// Cuts all tiles and judges each; `None` if stopped.
    pub(crate) fn cut<J: Send>(&self, judge: impl Fn(&Tile) -> J + Sync, watch: &dyn Watch) -> Option<Vec<Cut<J>>> {
        let (across, up) = self.grid.tiles();
        let lists = self.lists(across, up);
        let done = AtomicUsize::new(0);
        let cuts: Vec<Option<Cut<J>>> = lists
            .par_iter()
            .enumerate()
            .map(|(i, list)| {
                if watch.stopped() {
                    return None;
                }
                let cut = self.cut_tile(i % across, i / across, list, &judge);
                watch.progress((done.fetch_add(1, Ordering::Relaxed) + 1) as f64 / lists.len() as f64 * 0.8);
                Some(cut)
            })
            .collect();
        cuts.into_iter().collect()
    }

    /// The legs that may touch each tile, in order.
    fn lists(&self, across: usize, up: usize) -> Vec<Vec<u32>> {
        let mut lists = vec![Vec::new(); across * up];
        let side = self.grid.tile as f64 * self.grid.pitch;
        for (i, leg) in self.legs.iter().enumerate() {
            let Some(tooling) = &self.tooling[leg.stage] else { continue };
            if leg.lowest() >= self.face_high {
                continue;
            }
            let reach = self.widest(tooling, leg);
            let b = leg.bounds(reach);
            let index = |v: f64, n: usize| ((v / side).floor().max(0.0) as usize).min(n.saturating_sub(1));
            if b.max.x < 0.0 || b.max.y < 0.0 {
                continue;
            }
            for row in index(b.min.y, up)..=index(b.max.y, up) {
                for column in index(b.min.x, across)..=index(b.max.x, across) {
                    let centre = Point::new((column as f64 + 0.5) * side, (row as f64 + 0.5) * side);
                    if leg.run == Run::Boxed || leg.distance(centre) <= reach + 0.708 * side {
                        lists[row * across + column].push(i as u32);
                    }
                }
            }
        }
        lists
    }

    /// Radius of everything that can meet the blank on a leg.
    fn widest(&self, tooling: &Tooling, leg: &Leg) -> f64 {
        tooling.profile.widest_below(self.face_high - leg.lowest()).max(tooling.profile.radius)
    }

    fn cut_tile<J>(&self, across: usize, up: usize, list: &[u32], judge: &impl Fn(&Tile) -> J) -> Cut<J> {
        let grid = &self.grid;
        let (column, row) = (across * grid.tile, up * grid.tile);
        let (width, height) = (grid.tile.min(grid.columns - column), grid.tile.min(grid.rows - row));
        let mut tile = Tile {
            column,
            row,
            width,
            height,
            pitch: grid.pitch,
            heights: vec![self.face_high as f32; width * height],
        };
        let coarse = (width.div_ceil(grid.coarse), height.div_ceil(grid.coarse));
        let mut deaths = vec![u32::MAX; coarse.0 * coarse.1];
        let mut touches = Vec::new();
        let mut reliefs: Vec<Vec<f32>> = Vec::with_capacity(self.tooling.len());
        let mut changed = true;
        for &i in list {
            let leg = &self.legs[i as usize];
            while reliefs.len() < leg.stage {
                tile.push_picture(&mut reliefs, &mut changed, grid.picture);
            }
            let Some(tooling) = &self.tooling[leg.stage] else { continue };
            let touch = self.run_leg(&mut tile, i, leg, tooling);
            if touch.is_nothing() {
                continue;
            }
            touches.push(touch);
            changed = true;
            if touch.removed > 0.0 && leg.lowest() <= self.through {
                tile.mark_deaths(&mut deaths, grid.coarse, self.through, leg.bounds(tooling.profile.radius), i);
            }
        }
        while reliefs.len() < self.tooling.len() {
            tile.push_picture(&mut reliefs, &mut changed, grid.picture);
        }
        let judged = judge(&tile);
        Cut { touches, reliefs, deaths, judged }
    }

    fn run_leg(&self, tile: &mut Tile, index: u32, leg: &Leg, tooling: &Tooling) -> Touch {
        let mut touch = Touch::new(index);
        let profile = &tooling.profile;
        if leg.run != Run::Feed {
            tile.look_before_rapid(leg, profile, &mut touch);
            if touch.rapid.is_none() {
                return touch;
            }
        }
        let before = touch.removed;
        let deep = tile.remove(leg, profile, tooling.deep, &mut touch);
        if touch.removed > before {
            touch.deep_area = deep;
            touch.deep_length = length_in(leg, tile.bounds().grown(profile.radius));
        }
        let low = leg.lowest();
        if profile.shank_radius > profile.radius + SLIM && low + profile.flutes < self.face_high - TOUCH {
            touch.shank = tile.look_beside(leg, profile.shank_radius - SLIM, profile.flutes);
        }
        if low + profile.stick_out < self.face_high - TOUCH {
            touch.nut = tile.look_beside(leg, profile.nut_radius, profile.stick_out);
        }
        touch
    }
}

/// Length of a leg inside a box, within a hundredth of the leg, at least what is needed to divide by.
fn length_in(leg: &Leg, bounds: Bounds) -> f64 {
    let length = leg.path.length();
    if bounds.contains(leg.path.bounds().min) && bounds.contains(leg.path.bounds().max) {
        return length;
    }
    let inside = (0..100).filter(|&k| bounds.contains(leg.path.at((f64::from(k) + 0.5) / 100.0))).count();
    length * inside as f64 / 100.0
}

/// Sums over one span of cells.
#[derive(Default)]
struct Strip {
    greatest: f32,
    sum: f32,
    touched: f32,
    deep: f32,
}

/// Sums over a span that is lowered to a height; eight lanes, so that the compiler can keep them in vector registers.
fn sums(cells: &[f32], z: f32, deep: f32) -> Strip {
    const LANES: usize = 8;
    let (mut greatest, mut sum, mut touched, mut far) = ([0f32; LANES], [0f32; LANES], [0f32; LANES], [0f32; LANES]);
    let mut take = |i: usize, cell: f32| {
        let d = cell - z;
        let d = if d > 0.0 { d } else { 0.0 };
        greatest[i] = if d > greatest[i] { d } else { greatest[i] };
        sum[i] += d;
        touched[i] += if d > TOUCH as f32 { 1.0 } else { 0.0 };
        far[i] += if d > deep { 1.0 } else { 0.0 };
    };
    let chunks = cells.chunks_exact(LANES);
    for (i, &cell) in chunks.remainder().iter().enumerate() {
        take(i, cell);
    }
    for chunk in chunks {
        for (i, &cell) in chunk.iter().enumerate() {
            take(i, cell);
        }
    }
    let mut strip = Strip::default();
    for i in 0..LANES {
        strip.greatest = strip.greatest.max(greatest[i]);
        strip.sum += sum[i];
        strip.touched += touched[i];
        strip.deep += far[i];
    }
    strip
}

impl Tile {
    /// Removes what a leg's edge sweeps; returns the area with a bite beyond `deep`.
    fn remove(&mut self, leg: &Leg, profile: &Profile, deep: f64, touch: &mut Touch) -> f64 {
        let reach = profile.radius;
        let b = leg.bounds(reach);
        let flat = profile.edge == Edge::Flat && (leg.is_level() || leg.is_upright());
        let lowest = leg.lowest();
        let mut spans = [(0.0, 0.0); 4];
        let cell_area = self.pitch * self.pitch;
        let mut deep_cells = 0.0;
        for row in self.rows(b.min.y, b.max.y) {
            let y = self.centre(0, row).y;
            let count = leg.row(reach, y, &mut spans);
            for &(x0, x1) in &spans[..count] {
                let columns = self.columns(x0, x1);
                if columns.is_empty() {
                    continue;
                }
                let first = columns.start;
                let at = row * self.width;
                let cells = at + columns.start..at + columns.end;
                let mut strip = Strip::default();
                let mut peak = None;
                if flat {
                    let z = lowest as f32;
                    let cells = &mut self.heights[cells];
                    strip = sums(cells, z, deep as f32);
                    if f64::from(strip.greatest) > touch.bite {
                        let top = z + strip.greatest * (1.0 - 1e-6);
                        peak = cells.iter().position(|&h| h >= top);
                    }
                    if strip.sum > 0.0 {
                        cells.iter_mut().for_each(|h| *h = if *h > z { z } else { *h });
                    }
                } else {
                    for column in columns {
                        let h = self.heights[at + column];
                        if f64::from(h) <= lowest {
                            continue;
                        }
                        let Some(z) = leg.lowest_at(profile, self.centre(column, row)) else { continue };
                        let d = h - z as f32;
                        if d > 0.0 {
                            if d > strip.greatest {
                                (strip.greatest, peak) = (d, Some(column - first));
                            }
                            strip.sum += d;
                            strip.touched += f32::from(u8::from(d > TOUCH as f32));
                            strip.deep += f32::from(u8::from(d > deep as f32));
                            self.heights[at + column] = z as f32;
                        }
                    }
                }
                if strip.sum > 0.0 {
                    touch.removed += f64::from(strip.sum) * cell_area;
                    touch.area += f64::from(strip.touched) * cell_area;
                    deep_cells += f64::from(strip.deep);
                    if f64::from(strip.greatest) > touch.bite {
                        touch.bite = f64::from(strip.greatest);
                        touch.bite_at = self.centre(first + peak.unwrap_or(0), row);
                    }
                }
            }
        }
        deep_cells * cell_area
    }

    /// Whether a rapid would meet material.
    fn look_before_rapid(&self, leg: &Leg, profile: &Profile, touch: &mut Touch) {
        let slim = Profile { radius: (profile.radius - SLIM).max(0.0), ..*profile };
        let lowest = leg.lowest();
        let b = leg.bounds(slim.radius);
        let mut spans = [(0.0, 0.0); 4];
        for row in self.rows(b.min.y, b.max.y) {
            let y = self.centre(0, row).y;
            let count = if leg.run == Run::Boxed {
                spans[0] = (b.min.x, b.max.x);
                1
            } else {
                leg.row(slim.radius, y, &mut spans)
            };
            for &(x0, x1) in &spans[..count] {
                for column in self.columns(x0, x1) {
                    let h = f64::from(self.heights[row * self.width + column]);
                    if h <= lowest + TOUCH {
                        continue;
                    }
                    let p = self.centre(column, row);
                    let z = if leg.run == Run::Boxed { Some(lowest) } else { leg.lowest_at(&slim, p) };
                    let above = z.map_or(0.0, |z| h - z);
                    if above > TOUCH && touch.rapid.is_none_or(|r| above > r.0) {
                        touch.rapid = Some((above, p));
                    }
                }
            }
        }
    }

    /// Material beside a leg that stands higher above the tip than `rise`, within `reach` of the axis.
    fn look_beside(&self, leg: &Leg, reach: f64, rise: f64) -> Option<(f64, Point)> {
        let lowest = leg.lowest() + rise + TOUCH;
        let b = leg.bounds(reach);
        let mut spans = [(0.0, 0.0); 4];
        let mut worst: Option<(f64, Point)> = None;
        for row in self.rows(b.min.y, b.max.y) {
            let y = self.centre(0, row).y;
            let count = leg.row(reach, y, &mut spans);
            for &(x0, x1) in &spans[..count] {
                for column in self.columns(x0, x1) {
                    let h = f64::from(self.heights[row * self.width + column]);
                    if h <= lowest + worst.map_or(0.0, |w| w.0) {
                        continue;
                    }
                    let p = self.centre(column, row);
                    let above = leg.lowest_tip_within(reach, p).map_or(0.0, |z| h - z - rise);
                    if above > TOUCH && worst.is_none_or(|w| above > w.0) {
                        worst = Some((above, p));
                    }
                }
            }
        }
        worst
    }

    fn mark_deaths(&self, deaths: &mut [u32], ratio: usize, through: f64, b: Bounds, leg: u32) {
        let across = self.width.div_ceil(ratio);
        let sample = |i: usize, limit: usize| (i * ratio + ratio / 2).min(limit - 1);
        let (columns, rows) = (self.columns(b.min.x, b.max.x), self.rows(b.min.y, b.max.y));
        for r in rows.start / ratio..rows.end.div_ceil(ratio) {
            for c in columns.start / ratio..columns.end.div_ceil(ratio) {
                let death = &mut deaths[r * across + c];
                let h = self.heights[sample(r, self.height) * self.width + sample(c, self.width)];
                if *death == u32::MAX && f64::from(h) <= through {
                    *death = leg;
                }
            }
        }
    }

    /// Adds the picture after one more stage; the last one again if nothing was cut.
    fn push_picture(&self, reliefs: &mut Vec<Vec<f32>>, changed: &mut bool, ratio: usize) {
        let picture = match reliefs.last() {
            Some(last) if !*changed => last.clone(),
            _ => self.picture(ratio),
        };
        *changed = false;
        reliefs.push(picture);
    }

    /// The least height under each picture sample.
    fn picture(&self, ratio: usize) -> Vec<f32> {
        let across = self.width.div_ceil(ratio);
        let mut samples = vec![f32::INFINITY; across * self.height.div_ceil(ratio)];
        for row in 0..self.height {
            let line = &mut samples[row / ratio * across..(row / ratio + 1) * across];
            for (sample, cells) in line.iter_mut().zip(self.cells(row).chunks(ratio)) {
                *sample = cells.iter().fold(*sample, |a, &b| if b < a { b } else { a });
            }
        }
        samples
    }
}

/// Touches of all tiles joined by leg, in the order of legs.
pub(crate) fn join_touches<'a>(tiles: impl IntoIterator<Item = &'a Vec<Touch>>, legs: usize) -> Vec<Option<Touch>> {
    let mut joined: Vec<Option<Touch>> = vec![None; legs];
    for touch in tiles.into_iter().flatten() {
        match &mut joined[touch.leg as usize] {
            Some(own) => own.join(touch),
            empty => *empty = Some(*touch),
        }
    }
    joined
}
