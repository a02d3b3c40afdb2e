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
use memo::{Key, Memo, Print};
use plane::{Bounds, Point};
use rayon::prelude::*;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Rapids and shanks are taken narrower by this, so that a wall just cut isn't found as touched, mm.
const SLIM: f64 = 0.002;
/// A rapid that isn't straight up is taken wider by at most this, mm.
const HIDDEN: f64 = 0.015;
/// Cells of a tile's side, about.
const TILE: usize = 512;
/// The same where what was cut is kept for the next time.
const SMALL_TILE: usize = 64;
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
        Self::in_tiles(TILE, size, pitch, picture_pitch)
    }

    /// One in small tiles, of which an edit touches few.
    pub(crate) fn in_small_tiles(size: Bounds, pitch: f64, picture_pitch: f64) -> Self {
        Self::in_tiles(SMALL_TILE, size, pitch, picture_pitch)
    }

    /// A grid whose tiles have about so many cells to a side.
    fn in_tiles(about: usize, size: Bounds, pitch: f64, picture_pitch: f64) -> Self {
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
            tile: unit * about.div_ceil(unit),
            coarse,
            picture,
        }
    }

    pub(crate) fn tiles(&self) -> (usize, usize) {
        (self.columns.div_ceil(self.tile), self.rows.div_ceil(self.tile))
    }

    /// The tiles that a box on the blank meets.
    pub(crate) fn tiles_at(&self, bounds: Bounds) -> impl Iterator<Item = usize> + use<> {
        let (across, up) = self.tiles();
        let side = self.tile as f64 * self.pitch;
        let index = move |v: f64, n: usize| ((v / side).floor().max(0.0) as usize).min(n.saturating_sub(1));
        let (min, max) = (bounds.min, bounds.max);
        (index(min.y, up)..=index(max.y, up))
            .flat_map(move |row| (index(min.x, across)..=index(max.x, across)).map(move |column| row * across + column))
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
    /// What was cut before, if that is kept.
    pub(crate) memo: &'a Memo,
}

/// What is kept of a tile.
pub(crate) struct Cut<J> {
    pub(crate) touches: Vec<Touch>,
    /// After each stage, the tile's picture samples.
    pub(crate) reliefs: Vec<Arc<Vec<f32>>>,
    /// For each coarse sample the leg that cut it through; `u32::MAX` where it stands.
    pub(crate) deaths: Vec<u32>,
    pub(crate) judged: J,
    /// What decides all of it but the judgement, where that is kept.
    pub(crate) print: Option<Print>,
}

/// All tiles cut and judged.
pub(crate) struct Cuts<J> {
    pub(crate) tiles: Vec<Cut<J>>,
    /// For each leg what decides all that it does: itself, and in every tile that it may touch the legs before it. Empty where
    /// nothing is kept.
    pub(crate) histories: Vec<Print>,
}

/// A tile after all legs, which stand in it by their places in the tile's list.
struct Carved {
    tile: Tile,
    touches: Vec<Touch>,
    reliefs: Vec<Arc<Vec<f32>>>,
    deaths: Vec<u32>,
}

impl Work<'_> {
    /// Cuts all tiles and judges each; `None` if stopped.
    pub(crate) fn cut<J: Send>(
        &self,
        judge: impl Fn(&Tile, Option<Print>) -> J + Sync,
        watch: &dyn Watch,
    ) -> Option<Cuts<J>> {
        let (across, up) = self.grid.tiles();
        let lists = self.lists(across, up);
        let prints = self.prints();
        let done = AtomicUsize::new(0);
        let tile = |(i, list): (usize, &Vec<u32>)| {
            if watch.stopped() {
                return None;
            }
            let cut = self.cut_tile((i % across, i / across), list, &prints, &judge);
            watch.progress((done.fetch_add(1, Ordering::Relaxed) + 1) as f64 / lists.len() as f64 * 0.8);
            Some(cut)
        };
        let (tiles, histories) = rayon::join(
            || lists.par_iter().enumerate().map(tile).collect::<Option<_>>(),
            || self.histories(&lists, &prints),
        );
        Some(Cuts { tiles: tiles?, histories })
    }

    /// What each leg is, as far as it decides what is cut: not its line, and not its feed.
    fn prints(&self) -> Vec<Print> {
        if !self.memo.keeps() {
            return Vec::new();
        }
        let print = |leg: &Leg| {
            let key = Key::named("leg").with(&leg.stage).with(&(leg.run == Run::Feed)).with(&(leg.run == Run::Boxed));
            key.with(&leg.path).with(&leg.z).print()
        };
        self.legs.par_iter().map(print).collect()
    }

    fn histories(&self, lists: &[Vec<u32>], prints: &[Print]) -> Vec<Print> {
        if !self.memo.keeps() {
            return Vec::new();
        }
        let mut all: Vec<Key> = prints.iter().map(|p| self.put(Key::named("history")).with(p)).collect();
        for list in lists {
            let mut before = Key::named("before");
            for &i in list {
                let own = &mut all[i as usize];
                *own = own.clone().with(&before.print());
                before = before.with(&prints[i as usize]);
            }
        }
        all.iter().map(Key::print).collect()
    }

    /// With what all tiles share.
    fn put(&self, key: Key) -> Key {
        let Grid { pitch, coarse, picture, .. } = self.grid;
        let key = key.with(&[pitch, self.face_high, self.through]).with(&[coarse, picture]);
        self.tooling.iter().fold(key, |key, tooling| match tooling {
            Some(t) => t.profile.put(key).with(&t.deep),
            None => key.with("none"),
        })
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
            if b.max.x < 0.0 || b.max.y < 0.0 {
                continue;
            }
            for tile in self.grid.tiles_at(b) {
                let middle = |k: usize| (k as f64 + 0.5) * side;
                let centre = Point::new(middle(tile % across), middle(tile / across));
                if leg.run == Run::Boxed || leg.distance(centre) <= reach + 0.708 * side {
                    lists[tile].push(i as u32);
                }
            }
        }
        lists
    }

    /// Radius of everything that can meet the blank on a leg.
    fn widest(&self, tooling: &Tooling, leg: &Leg) -> f64 {
        tooling.profile.widest_below(self.face_high - leg.lowest()).max(tooling.profile.radius) + self.grid.pitch
    }

    fn cut_tile<J>(
        &self,
        at: (usize, usize),
        list: &[u32],
        prints: &[Print],
        judge: &impl Fn(&Tile, Option<Print>) -> J,
    ) -> Cut<J> {
        let key = || {
            let key = self.put(Key::named("tile")).with(&at).with(&[self.grid.tile, self.grid.columns, self.grid.rows]);
            list.iter().fold(key, |key, &i| key.with(&prints[i as usize]))
        };
        let print = self.memo.keeps().then(|| key().print());
        let carved = self.memo.recall(|| Key::named("carved").with(&print), || self.carve(at, list));
        let numbered = |t: &Touch| Touch { leg: list[t.leg as usize], ..*t };
        Cut {
            touches: carved.touches.iter().map(numbered).collect(),
            reliefs: carved.reliefs.clone(),
            deaths: carved.deaths.iter().map(|&d| list.get(d as usize).copied().unwrap_or(u32::MAX)).collect(),
            judged: judge(&carved.tile, print),
            print,
        }
    }

    fn carve(&self, (across, up): (usize, usize), list: &[u32]) -> Carved {
        let grid = &self.grid;
        let (column, row) = (across * grid.tile, up * grid.tile);
        let (width, height) = (grid.tile.min(grid.columns - column), grid.tile.min(grid.rows - row));
        let mut tile = Tile::new(column, row, width, height, grid.pitch, self.face_high);
        let coarse = (width.div_ceil(grid.coarse), height.div_ceil(grid.coarse));
        let mut deaths = vec![u32::MAX; coarse.0 * coarse.1];
        let mut touches = Vec::new();
        let mut reliefs: Vec<Arc<Vec<f32>>> = Vec::with_capacity(self.tooling.len());
        let mut changed = true;
        for (place, &i) in list.iter().enumerate() {
            let leg = &self.legs[i as usize];
            let place = place as u32;
            while reliefs.len() < leg.stage {
                push_picture(&tile, &mut reliefs, &mut changed, grid.picture);
            }
            let Some(tooling) = &self.tooling[leg.stage] else { continue };
            let touch = self.run_leg(&mut tile, place, leg, tooling);
            if touch.is_nothing() {
                continue;
            }
            touches.push(touch);
            changed = true;
            if touch.removed > 0.0 && leg.lowest() <= self.through {
                tile.mark_deaths(&mut deaths, grid.coarse, self.through, leg.bounds(tooling.profile.radius), place);
            }
        }
        while reliefs.len() < self.tooling.len() {
            push_picture(&tile, &mut reliefs, &mut changed, grid.picture);
        }
        Carved { tile, touches, reliefs, deaths }
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
fn push_picture(tile: &Tile, reliefs: &mut Vec<Arc<Vec<f32>>>, changed: &mut bool, ratio: usize) {
    let picture = match reliefs.last() {
        Some(last) if !*changed => Arc::clone(last),
        _ => Arc::new(tile.picture(ratio)),
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
