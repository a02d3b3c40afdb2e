//! The blank as a grid of heights, cut tile by tile.
//!
//! A tile goes through every leg that touches it in program order and is then judged and dropped, so that memory
//! holds only the tiles at work. A cell's height is exact at its centre: the lowest that any leg's edge came there.
//! Tiles are cut side by side and their results put together in the tiles' order, so that the number of threads
//! changes nothing.

use crate::Watch;
use crate::leg::{Leg, Run};
use crate::profile::Profile;
pub(crate) use crate::tile::TOUCH;
use crate::tile::{PATCH, Tile};
use plane::{Bounds, Point};
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Rapids and shanks are taken narrower by this, so that a wall just cut isn't found as touched, mm.
const SLIM: f64 = 0.002;
/// A rapid that isn't straight up is taken wider by at most this, mm.
const HIDDEN: f64 = 0.015;
/// Cells of a tile's side, about.
const TILE: usize = 512;
/// Wider tiles would be too few for several threads.
const WIDEST_TILE: usize = 1280;

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
        // Whole patches, if that isn't too much.
        let whole = unit * PATCH / gcd(unit, PATCH);
        let unit = if whole <= WIDEST_TILE { whole } else { unit };
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
        tooling.profile.widest_below(self.face_high - leg.lowest()).max(tooling.profile.radius) + self.grid.pitch
    }

    fn cut_tile<J>(&self, across: usize, up: usize, list: &[u32], judge: &impl Fn(&Tile) -> J) -> Cut<J> {
        let grid = &self.grid;
        let (column, row) = (across * grid.tile, up * grid.tile);
        let (width, height) = (grid.tile.min(grid.columns - column), grid.tile.min(grid.rows - row));
        let mut tile = Tile::new(column, row, width, height, grid.pitch, self.face_high);
        let coarse = (width.div_ceil(grid.coarse), height.div_ceil(grid.coarse));
        let mut deaths = vec![u32::MAX; coarse.0 * coarse.1];
        let mut touches = Vec::new();
        let mut reliefs: Vec<Vec<f32>> = Vec::with_capacity(self.tooling.len());
        let mut changed = true;
        for &i in list {
            let leg = &self.legs[i as usize];
            while reliefs.len() < leg.stage {
                push_picture(&tile, &mut reliefs, &mut changed, grid.picture);
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
            push_picture(&tile, &mut reliefs, &mut changed, grid.picture);
        }
        let judged = judge(&tile);
        Cut { touches, reliefs, deaths, judged }
    }

    fn run_leg(&self, tile: &mut Tile, index: u32, leg: &Leg, tooling: &Tooling) -> Touch {
        let mut touch = Touch::new(index);
        let profile = &tooling.profile;
        if leg.run != Run::Feed {
            // Straight up along a wall is how a cut ends. Any other rapid is taken wider by as much as may hide between the
            // middles of cells: a sliver that runs along a row of them would not be seen otherwise. On a coarse grid that
            // would forbid rapids that keep well off a wall, so no more than a wall's tolerance and a half is added.
            let rises = leg.is_upright() && leg.z[1] >= leg.z[0];
            let by = if rises { -SLIM } else { (std::f64::consts::FRAC_1_SQRT_2 * self.grid.pitch).min(HIDDEN) };
            let near = Profile { radius: (profile.radius + by).max(0.0), ..*profile };
            touch.rapid = tile.above_rapid(leg, &near);
            if touch.rapid.is_none() {
                return touch;
            }
        }
        let removed = tile.remove(leg, profile, tooling.deep);
        if removed.sum > 0.0 {
            let cell = self.grid.pitch * self.grid.pitch;
            touch.removed = removed.sum * cell;
            touch.area = removed.touched * cell;
            (touch.bite, touch.bite_at) = (f64::from(removed.greatest), removed.at);
            touch.deep_area = removed.deep * cell;
            touch.deep_length = length_in(leg, tile.bounds().grown(profile.radius));
        }
        let low = leg.lowest();
        if profile.shank_radius > profile.radius + SLIM && low + profile.flutes < self.face_high - TOUCH {
            touch.shank = tile.beside(leg, profile.shank_radius - SLIM, profile.flutes);
        }
        if low + profile.stick_out < self.face_high - TOUCH {
            touch.nut = tile.beside(leg, profile.nut_radius, profile.stick_out);
        }
        touch
    }
}

/// Length of a leg inside a box, within a hundredth of the leg, at least what is needed to divide by.
fn length_in(leg: &Leg, bounds: Bounds) -> f64 {
    let length = leg.path.length();
    if bounds.contains(leg.bounds(0.0).min) && bounds.contains(leg.bounds(0.0).max) {
        return length;
    }
    let inside = (0..100).filter(|&k| bounds.contains(leg.path.at((f64::from(k) + 0.5) / 100.0))).count();
    length * inside as f64 / 100.0
}

/// Adds the picture after one more stage; the last one again if nothing was cut.
fn push_picture(tile: &Tile, reliefs: &mut Vec<Vec<f32>>, changed: &mut bool, ratio: usize) {
    let picture = match reliefs.last() {
        Some(last) if !*changed => last.clone(),
        _ => tile.picture(ratio),
    };
    *changed = false;
    reliefs.push(picture);
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
