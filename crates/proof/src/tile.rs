//! A tile of the grid at work: heights kept in three sizes, so that ground at one height is one number.
//!
//! A tile is laid out in patches of 64 x 64 cells, a patch in blocks of 8 x 8. A patch or block that lies at one height
//! keeps only that; a sweep that covers it settles it without a visit to its cells, and one that doesn't go below its
//! highest cell passes it by; a block that a ramp covers keeps the ramp until somebody asks for its cells. So floors cost
//! next to nothing and what is worked on are the edges of sweeps: of flat edges in stretches of rows, laid out once for a
//! leg ([`Spans`]), of others cell by cell. The heights are those that visiting every cell would give.

use crate::leg::{Leg, Ramp, Run, Sweep};
use crate::profile::Profile;
use crate::spans::{Common, Frame, Spans};
use plane::{Bounds, Point, Segment};
use std::ops::Range;

/// Less than this is the grid's and the text's rounding, mm: half of it is a program's third decimal.
pub(crate) const TOUCH: f64 = 0.002;
/// Cells of a block's side.
const BLOCK: usize = 8;
/// Blocks of a patch's side.
const BLOCKS: usize = 8;
/// Cells of a patch's side.
pub(crate) const PATCH: usize = BLOCK * BLOCKS;
/// No list.
const NONE: u32 = u32::MAX;

/// Heights of a rectangle of ground, and where they are kept in more detail if they differ.
#[derive(Debug, Clone, Copy)]
struct Ground {
    /// No cell is lower.
    low: f32,
    /// No cell is higher.
    high: f32,
    parts: u32,
    /// A block that lies all over as one ramp left it.
    ramp: u32,
}

impl Ground {
    fn at(height: f32) -> Self {
        Self { low: height, high: height, parts: NONE, ramp: NONE }
    }

    fn is_settled(&self) -> bool {
        self.parts == NONE && self.ramp == NONE
    }
}

/// What a leg did to a tile.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Removed {
    /// Sum of the heights removed over all cells, mm.
    pub(crate) sum: f64,
    /// Cells lowered by more than a touch.
    pub(crate) touched: f64,
    /// Cells lowered by more than the deep bite.
    pub(crate) deep: f64,
    /// Greatest height removed, mm.
    pub(crate) greatest: f32,
    /// Where.
    pub(crate) at: Point,
}

impl Removed {
    fn add(&mut self, by: f32, cells: usize, deep: f32, at: Point) {
        let count = cells as f64;
        self.sum += f64::from(by) * count;
        self.touched += if by > TOUCH as f32 { count } else { 0.0 };
        self.deep += if by > deep { count } else { 0.0 };
        if by > self.greatest {
            (self.greatest, self.at) = (by, at);
        }
    }
}

/// What was done to the cells of a block.
#[derive(Debug, Clone, Copy, Default)]
struct Lowered {
    sum: f64,
    touched: u32,
    deep: u32,
    greatest: f32,
    /// Column and row in the tile.
    at: (usize, usize),
}

impl Lowered {
    /// Lowers cells of a row to one height.
    #[inline]
    fn lower(&mut self, line: &mut [f32], z: f32, deep: f32, first: (usize, usize)) {
        let mut heights = [z; BLOCK];
        let heights = &mut heights[..line.len().min(BLOCK)];
        self.lower_to(line, heights, deep, first);
    }

    /// Lowers cells of a row, each to its own height.
    #[inline]
    fn lower_to(&mut self, line: &mut [f32], heights: &[f32], deep: f32, first: (usize, usize)) {
        let mut by = [0f32; BLOCK];
        let mut greatest = 0f32;
        for ((by, cell), &z) in by.iter_mut().zip(line.iter()).zip(heights) {
            let down = *cell - z;
            *by = if down > 0.0 { down } else { 0.0 };
            greatest = if *by > greatest { *by } else { greatest };
        }
        if greatest <= 0.0 {
            return;
        }
        for (cell, &z) in line.iter_mut().zip(heights) {
            *cell = if *cell > z { z } else { *cell };
        }
        self.sum += by.iter().map(|&by| f64::from(by)).sum::<f64>();
        self.touched += by.iter().map(|&by| u32::from(by > TOUCH as f32)).sum::<u32>();
        self.deep += by.iter().map(|&by| u32::from(by > deep)).sum::<u32>();
        if greatest > self.greatest {
            let column = by.iter().position(|&by| by == greatest).unwrap_or(0);
            (self.greatest, self.at) = (greatest, (first.0 + column, first.1));
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
    /// Patches in x.
    across: usize,
    patches: Vec<Ground>,
    blocks: Pool<[Ground; BLOCKS * BLOCKS]>,
    cells: Pool<[f32; BLOCK * BLOCK]>,
    ramps: Vec<Ramp>,
    /// Rows of the leg at work, and of its low end.
    spans: [Spans; 2],
}

/// Pieces of one size, used again when they are let go.
struct Pool<T> {
    all: Vec<T>,
    free: Vec<u32>,
}

impl<T> Pool<T> {
    fn take(&mut self, value: T) -> u32 {
        if let Some(k) = self.free.pop() {
            self.all[k as usize] = value;
            return k;
        }
        self.all.push(value);
        self.all.len() as u32 - 1
    }
}

/// A rectangle of cells: first column and row in the tile, and how many.
#[derive(Debug, Clone, Copy)]
struct Part {
    column: usize,
    row: usize,
    width: usize,
    height: usize,
}

impl Part {
    fn cells(&self) -> usize {
        self.width * self.height
    }
}

/// Dense heights of one patch.
pub(crate) struct Cells {
    /// First column and row of the grid.
    pub(crate) column: usize,
    pub(crate) row: usize,
    pub(crate) width: usize,
    pub(crate) height: usize,
    pitch: f64,
    heights: Vec<f32>,
}

impl Cells {
    pub(crate) fn row(&self, row: usize) -> &[f32] {
        &self.heights[row * self.width..(row + 1) * self.width]
    }

    pub(crate) fn centre(&self, column: usize, row: usize) -> Point {
        let at = |i: usize| (i as f64 + 0.5) * self.pitch;
        Point::new(at(self.column + column), at(self.row + row))
    }
}

/// One patch as it was left.
pub(crate) struct Patch<'a> {
    tile: &'a Tile,
    part: Part,
    index: usize,
    /// Lowest and highest cell.
    pub(crate) low: f32,
    pub(crate) high: f32,
}

impl Patch<'_> {
    pub(crate) fn bounds(&self) -> Bounds {
        self.tile.extent(self.part)
    }

    /// Its cells, written out.
    pub(crate) fn cells(&self) -> Cells {
        let Part { width, height, .. } = self.part;
        let mut heights = vec![self.low; width * height];
        let ground = &self.tile.patches[self.index];
        if !ground.is_settled() {
            for (k, block) in self.tile.blocks.all[ground.parts as usize].iter().enumerate() {
                let (column, row) = (k % BLOCKS * BLOCK, k / BLOCKS * BLOCK);
                for r in row..(row + BLOCK).min(height) {
                    if column >= width {
                        break;
                    }
                    let line = &mut heights[r * width + column..r * width + (column + BLOCK).min(width)];
                    if block.is_settled() {
                        line.fill(block.low);
                    } else if block.parts == NONE {
                        self.tile.ramp_along(block, self.part.column + column, self.part.row + r, line);
                    } else {
                        let from = (r - row) * BLOCK;
                        let cells = &self.tile.cells.all[block.parts as usize][from..from + line.len()];
                        line.copy_from_slice(cells);
                    }
                }
            }
        }
        let (column, row) = (self.tile.column + self.part.column, self.tile.row + self.part.row);
        Cells { column, row, width, height, pitch: self.tile.pitch, heights }
    }
}

impl Tile {
    /// Uncut ground.
    pub(crate) fn new(column: usize, row: usize, width: usize, height: usize, pitch: f64, face: f64) -> Self {
        let (across, up) = (width.div_ceil(PATCH), height.div_ceil(PATCH));
        Self {
            column,
            row,
            width,
            height,
            pitch,
            across,
            patches: vec![Ground::at(face as f32); across * up],
            blocks: Pool { all: Vec::new(), free: Vec::new() },
            cells: Pool { all: Vec::new(), free: Vec::new() },
            ramps: Vec::new(),
            spans: [Spans::default(), Spans::default()],
        }
    }

    pub(crate) fn patches(&self) -> impl Iterator<Item = Patch<'_>> {
        self.patches.iter().enumerate().map(|(index, ground)| Patch {
            tile: self,
            part: self.patch(index),
            index,
            low: ground.low,
            high: ground.high,
        })
    }

    pub(crate) fn bounds(&self) -> Bounds {
        self.extent(Part { column: 0, row: 0, width: self.width, height: self.height })
    }

    fn centre(&self, column: usize, row: usize) -> Point {
        let at = |i: usize| (i as f64 + 0.5) * self.pitch;
        Point::new(at(self.column + column), at(self.row + row))
    }

    fn extent(&self, part: Part) -> Bounds {
        let corner =
            |c: usize, r: usize| Point::new((self.column + c) as f64 * self.pitch, (self.row + r) as f64 * self.pitch);
        Bounds { min: corner(part.column, part.row), max: corner(part.column + part.width, part.row + part.height) }
    }

    fn patch(&self, index: usize) -> Part {
        let (column, row) = (index % self.across * PATCH, index / self.across * PATCH);
        Part { column, row, width: PATCH.min(self.width - column), height: PATCH.min(self.height - row) }
    }

    /// The block `k` of a patch; `None` beyond the tile's edge.
    fn block(patch: Part, k: usize) -> Option<Part> {
        let (column, row) = (k % BLOCKS * BLOCK, k / BLOCKS * BLOCK);
        (column < patch.width && row < patch.height).then(|| Part {
            column: patch.column + column,
            row: patch.row + row,
            width: BLOCK.min(patch.width - column),
            height: BLOCK.min(patch.height - row),
        })
    }

    /// Rows whose centres lie between two heights.
    fn rows(&self, low: f64, high: f64) -> std::ops::Range<usize> {
        span(low / self.pitch - self.row as f64, high / self.pitch - self.row as f64, self.height)
    }

    /// Columns whose centres lie between two x.
    fn columns(&self, low: f64, high: f64) -> std::ops::Range<usize> {
        span(low / self.pitch - self.column as f64, high / self.pitch - self.column as f64, self.width)
    }

    pub(crate) fn height_at(&self, column: usize, row: usize) -> f32 {
        let patch = &self.patches[row / PATCH * self.across + column / PATCH];
        if patch.is_settled() {
            return patch.low;
        }
        let (c, r) = (column % PATCH, row % PATCH);
        let block = &self.blocks.all[patch.parts as usize][r / BLOCK * BLOCKS + c / BLOCK];
        self.cell(block, r % BLOCK * BLOCK + c % BLOCK, column, row)
    }

    /// The height of one cell of a block.
    fn cell(&self, block: &Ground, k: usize, column: usize, row: usize) -> f32 {
        if block.is_settled() {
            block.low
        } else if block.parts == NONE {
            self.ramp_at(block, self.centre(column, row))
        } else {
            self.cells.all[block.parts as usize][k]
        }
    }

    /// The height that a block's ramp left at a point of it.
    fn ramp_at(&self, block: &Ground, p: Point) -> f32 {
        self.ramps[block.ramp as usize].over(p).map_or(block.high, |z| z as f32)
    }

    /// Removes what a leg's edge sweeps.
    pub(crate) fn remove(&mut self, leg: &Leg, profile: &Profile, deep: f64) -> Removed {
        let mut removed = Removed::default();
        let deep = deep as f32;
        if !profile.is_flat() {
            self.carve(leg, profile, deep, &mut removed);
            return removed;
        }
        // Lent out, so that its memory is used again.
        let mut spans = std::mem::take(&mut self.spans);
        if leg.is_level() || leg.is_upright() {
            self.lower(leg, profile.radius, deep, &mut spans, &mut removed);
        } else {
            self.incline(leg, profile, deep, &mut spans, &mut removed);
        }
        self.spans = spans;
        removed
    }

    /// The patches that a leg's box meets.
    fn patches_in(&self, b: Bounds) -> impl Iterator<Item = usize> + use<> {
        let (columns, rows) = (self.columns(b.min.x, b.max.x), self.rows(b.min.y, b.max.y));
        let whole = |r: Range<usize>| if r.is_empty() { 0..0 } else { r.start / PATCH..(r.end - 1) / PATCH + 1 };
        let (columns, across) = (whole(columns), self.across);
        whole(rows).flat_map(move |up| columns.clone().map(move |along| up * across + along))
    }

    /// Lays out what a shape covers, with a column and a row to spare.
    fn spread(&self, b: Bounds, sweep: &Sweep, spans: &mut Spans) {
        let wide = |r: Range<usize>, most: usize| r.start.saturating_sub(1)..(r.end + 1).min(most);
        let columns = wide(self.columns(b.min.x, b.max.x), self.width);
        let rows = wide(self.rows(b.min.y, b.max.y), self.height);
        spans.fill(sweep, Frame { pitch: self.pitch, column: self.column, row: self.row }, columns, rows);
    }

    /// Lowers all cells that a flat edge covers at one height.
    fn lower(&mut self, leg: &Leg, reach: f64, deep: f32, spans: &mut [Spans; 2], removed: &mut Removed) {
        let (z, b) = (leg.lowest() as f32, leg.bounds(reach));
        let mut spread = false;
        for index in self.patches_in(b) {
            if self.patches[index].high <= z {
                continue;
            }
            let part = self.patch(index);
            let (centre, half) = around(self.extent(part));
            let distance = leg.distance(centre);
            if distance > reach + half {
                continue;
            }
            if distance + half <= reach {
                self.settle_patch(index, part, z, deep, removed);
                continue;
            }
            if !spread {
                self.spread(b, &leg.sweep(reach), &mut spans[0]);
                spread = true;
            }
            let spans = &spans[0];
            let list = self.opened(index);
            let mut changed = false;
            for row in 0..part.height.div_ceil(BLOCK) {
                let rows = part.row + row * BLOCK..(part.row + row * BLOCK + BLOCK).min(part.row + part.height);
                let common = spans.common(rows.clone());
                for k in blocks_in(&common, part, row) {
                    let Some(block) = Self::block(part, k).filter(|_| self.blocks.all[list][k].high > z) else {
                        continue;
                    };
                    let columns = block.column..block.column + block.width;
                    if spans.covers(&common, columns.clone(), rows.clone()) {
                        changed = true;
                        self.settle_block(list, k, block, z, deep, removed);
                    } else if spans.meets(columns, rows.clone()) {
                        changed = true;
                        self.work(list, k, block, removed, |row, line, removed| {
                            for (a, b) in spans.row(row).within(block.column, block.column + block.width) {
                                removed.lower(&mut line[a..b], z, deep, (block.column + a, row));
                            }
                        });
                    }
                }
            }
            self.close(index, part, changed);
        }
    }

    /// Lowers cells to where a flat edge comes over them on a leg that rises or falls.
    fn incline(&mut self, leg: &Leg, profile: &Profile, deep: f32, spans: &mut [Spans; 2], removed: &mut Removed) {
        let reach = profile.radius;
        let b = leg.bounds(reach);
        let ramp = leg.ramp(reach);
        // Where the middle of a block is within this, all of it is.
        let inner = (reach > self.half_block()).then(|| leg.ramp(reach - self.half_block()));
        let mut own = NONE;
        let lowest = leg.lowest();
        let z = lowest as f32;
        let mut spread = false;
        for index in self.patches_in(b) {
            let part = self.patch(index);
            let (centre, half) = around(self.extent(part));
            let high = f64::from(self.patches[index].high);
            if high <= lowest || leg.distance(centre) > reach + half || high <= leg.least_over(profile, centre, half) {
                continue;
            }
            if !spread {
                self.spread(b, &leg.sweep(reach), &mut spans[0]);
                let low_end = leg.low_end();
                let end = Sweep::about(&Segment::Line { a: low_end, b: low_end }, reach);
                self.spread(Bounds { min: low_end, max: low_end }.grown(reach), &end, &mut spans[1]);
                spread = true;
            }
            let [spans, ends] = &*spans;
            let list = self.opened(index);
            let mut changed = false;
            for row in 0..part.height.div_ceil(BLOCK) {
                let rows = part.row + row * BLOCK..(part.row + row * BLOCK + BLOCK).min(part.row + part.height);
                let (common, at_end) = (spans.common(rows.clone()), ends.common(rows.clone()));
                for k in blocks_in(&common, part, row) {
                    let high = f64::from(self.blocks.all[list][k].high);
                    let Some(block) = Self::block(part, k).filter(|_| high > lowest) else { continue };
                    let columns = block.column..block.column + block.width;
                    if ends.covers(&at_end, columns.clone(), rows.clone()) {
                        changed = true;
                        self.settle_block(list, k, block, z, deep, removed);
                        continue;
                    }
                    if !spans.meets(columns.clone(), rows.clone()) {
                        continue;
                    }
                    let (centre, half) = around(self.extent(block));
                    let low = leg.least_over(profile, centre, half);
                    if high <= low {
                        continue;
                    }
                    changed = true;
                    let upper = inner.and_then(|i| i.over(centre)).filter(|_| block.cells() == BLOCK * BLOCK);
                    if let Some(upper) = upper
                        && upper as f32 <= self.blocks.all[list][k].low
                    {
                        if own == NONE {
                            own = self.ramps.len() as u32;
                            self.ramps.push(ramp);
                        }
                        let ground = Ground { low: low as f32, high: upper as f32, parts: NONE, ramp: own };
                        let height = ramp.over(centre).map_or(ground.high, |z| z as f32);
                        removed.add(self.mean(list, k, centre) - height, block.cells(), deep, centre);
                        self.let_go(list, k);
                        self.blocks.all[list][k] = ground;
                        continue;
                    }
                    let (frame, width) = (self.frame(), block.width);
                    self.work(list, k, block, removed, |row, line, removed| {
                        let mut heights = [f32::INFINITY; BLOCK];
                        let end = ends.row(row).within(columns.start, columns.end).next().unwrap_or((width, width));
                        for (a, b) in spans.row(row).within(columns.start, columns.end) {
                            for (a, b) in [(a, b.min(end.0)), (a.max(end.1), b)] {
                                if a < b {
                                    let column = frame.column + columns.start + a;
                                    ramp.beyond_end(frame.centre(0, row).y, column, frame.pitch, &mut heights[a..b]);
                                }
                            }
                        }
                        heights[end.0..end.1].fill(z);
                        removed.lower_to(line, &heights, deep, (columns.start, row));
                    });
                }
            }
            self.close(index, part, changed);
        }
    }

    /// Lowers cells to where an edge that isn't flat comes over them.
    fn carve(&mut self, leg: &Leg, profile: &Profile, deep: f32, removed: &mut Removed) {
        let reach = profile.radius;
        let lowest = leg.lowest();
        // An edge that rises from its tip stands the higher the farther off the path is.
        let over = |centre: Point, half: f64, away: f64| {
            leg.least_over(profile, centre, half) + profile.rise((away - half).clamp(0.0, reach))
        };
        for index in self.patches_in(leg.bounds(reach)) {
            if f64::from(self.patches[index].high) <= lowest {
                continue;
            }
            let part = self.patch(index);
            let (centre, half) = around(self.extent(part));
            let away = leg.distance(centre);
            if away > reach + half || f64::from(self.patches[index].high) <= over(centre, half, away) {
                continue;
            }
            let list = self.opened(index);
            let mut changed = false;
            for k in 0..BLOCKS * BLOCKS {
                let Some(block) = Self::block(part, k) else { continue };
                let high = f64::from(self.blocks.all[list][k].high);
                if high <= lowest {
                    continue;
                }
                let (centre, half) = around(self.extent(block));
                let away = leg.distance(centre);
                if away > reach + half || high <= over(centre, half, away) {
                    continue;
                }
                changed = true;
                let (frame, least) = (self.frame(), lowest as f32);
                self.work(list, k, block, removed, |row, line, removed| {
                    let mut heights = [f32::INFINITY; BLOCK];
                    for (c, (height, cell)) in heights.iter_mut().zip(line.iter()).enumerate() {
                        if *cell > least
                            && let Some(z) = leg.lowest_at(profile, frame.centre(block.column + c, row))
                        {
                            *height = z as f32;
                        }
                    }
                    removed.lower_to(line, &heights, deep, (block.column, row));
                });
            }
            self.close(index, part, changed);
        }
    }

    /// Half the diagonal of a block, mm.
    fn half_block(&self) -> f64 {
        BLOCK as f64 * self.pitch * std::f64::consts::FRAC_1_SQRT_2
    }

    /// The mean height of a block (of a ramp, that in its middle).
    fn mean(&self, list: usize, k: usize, centre: Point) -> f32 {
        let block = &self.blocks.all[list][k];
        if block.is_settled() {
            block.low
        } else if block.parts == NONE {
            self.ramp_at(block, centre)
        } else {
            self.cells.all[block.parts as usize].iter().sum::<f32>() / (BLOCK * BLOCK) as f32
        }
    }

    /// Lets a block's cells go.
    fn let_go(&mut self, list: usize, k: usize) {
        let parts = self.blocks.all[list][k].parts;
        if parts != NONE {
            self.cells.free.push(parts);
        }
    }

    /// The list of a patch's blocks, made if it had none.
    fn opened(&mut self, index: usize) -> usize {
        let patch = &mut self.patches[index];
        if patch.is_settled() {
            patch.parts = self.blocks.take([Ground::at(patch.low); BLOCKS * BLOCKS]);
        }
        patch.parts as usize
    }

    /// Takes a patch's heights from its blocks; one height again is one number again.
    fn close(&mut self, index: usize, part: Part, changed: bool) {
        let list = self.patches[index].parts;
        if changed {
            let (mut low, mut high) = (f32::INFINITY, f32::NEG_INFINITY);
            let blocks = self.blocks.all[list as usize].iter().enumerate();
            for (_, block) in blocks.filter(|(k, _)| Self::block(part, *k).is_some()) {
                low = if block.low < low { block.low } else { low };
                high = if block.high > high { block.high } else { high };
            }
            (self.patches[index].low, self.patches[index].high) = (low, high);
        }
        if self.patches[index].low == self.patches[index].high {
            self.blocks.free.push(list);
            self.patches[index].parts = NONE;
        }
    }

    fn settle_patch(&mut self, index: usize, part: Part, z: f32, deep: f32, removed: &mut Removed) {
        let patch = self.patches[index];
        if patch.is_settled() {
            removed.add(patch.high - z, part.cells(), deep, around(self.extent(part)).0);
            self.patches[index] = Ground::at(z);
            return;
        }
        let list = patch.parts as usize;
        for k in 0..BLOCKS * BLOCKS {
            if self.blocks.all[list][k].high > z
                && let Some(block) = Self::block(part, k)
            {
                self.settle_block(list, k, block, z, deep, removed);
            }
        }
        self.close(index, part, true);
    }

    fn settle_block(&mut self, list: usize, k: usize, part: Part, z: f32, deep: f32, removed: &mut Removed) {
        let block = self.blocks.all[list][k];
        if block.parts == NONE && block.low >= z {
            let centre = around(self.extent(part)).0;
            removed.add(self.mean(list, k, centre) - z, part.cells(), deep, centre);
            self.blocks.all[list][k] = Ground::at(z);
            return;
        }
        self.work(list, k, part, removed, |row, line, removed| removed.lower(line, z, deep, (part.column, row)));
    }

    /// Works on a block's cells, row by row.
    fn work(
        &mut self,
        list: usize,
        k: usize,
        part: Part,
        removed: &mut Removed,
        mut lower: impl FnMut(usize, &mut [f32], &mut Lowered),
    ) {
        let mut block = self.blocks.all[list][k];
        // Cells are only kept where something was done to them.
        let mut fresh = [block.low; BLOCK * BLOCK];
        if block.parts == NONE && !block.is_settled() {
            for r in 0..part.height {
                self.ramp_along(&block, part.column, part.row + r, &mut fresh[r * BLOCK..][..part.width]);
            }
        }
        let before = fresh;
        let cells = if block.parts == NONE { &mut fresh } else { &mut self.cells.all[block.parts as usize] };
        let mut lowered = Lowered { greatest: removed.greatest, ..Lowered::default() };
        for r in 0..part.height {
            lower(part.row + r, &mut cells[r * BLOCK..r * BLOCK + part.width], &mut lowered);
        }
        if lowered.sum <= 0.0 {
            return;
        }
        let (mut low, mut high) = (f32::INFINITY, f32::NEG_INFINITY);
        for r in 0..part.height {
            for &cell in &cells[r * BLOCK..r * BLOCK + part.width] {
                low = if cell < low { cell } else { low };
                high = if cell > high { cell } else { high };
            }
        }
        removed.sum += lowered.sum;
        removed.touched += f64::from(lowered.touched);
        removed.deep += f64::from(lowered.deep);
        if lowered.greatest > removed.greatest {
            (removed.greatest, removed.at) = (lowered.greatest, self.centre(lowered.at.0, lowered.at.1));
        }
        if block.ramp != NONE && part.cells() == BLOCK * BLOCK {
            // Of a ramp's block only the middle was counted so far.
            let middle = self.mean(list, k, around(self.extent(part)).0);
            removed.sum += before.iter().map(|&c| f64::from(middle - c)).sum::<f64>();
        }
        block.ramp = NONE;
        (block.low, block.high) = (low, high);
        if low == high {
            if block.parts != NONE {
                self.cells.free.push(block.parts);
            }
            block.parts = NONE;
        } else if block.parts == NONE {
            block.parts = self.cells.take(fresh);
        }
        self.blocks.all[list][k] = block;
    }

    /// The heights that a block's ramp left along a row.
    fn ramp_along(&self, block: &Ground, column: usize, row: usize, line: &mut [f32]) {
        self.ramps[block.ramp as usize].along(self.centre(column, row).y, self.column + column, self.pitch, line);
    }

    fn frame(&self) -> Frame {
        Frame { pitch: self.pitch, column: self.column, row: self.row }
    }

    /// Shows every cell within reach of a leg that stands higher than `level`, which the visitor may raise.
    fn for_each_above(&self, leg: &Leg, reach: f64, level: f64, mut visit: impl FnMut(Point, f64) -> f64) {
        let b = leg.bounds(reach);
        // A leg whose way isn't known may be anywhere in its box: a cutter reaches round that box's corners, not into those of a
        // wider one.
        let sweep = (leg.run != Run::Boxed).then(|| leg.sweep(reach));
        let axis = leg.bounds(0.0);
        let beside = |v: f64, low: f64, high: f64| (low - v).max(v - high).max(0.0);
        let off = |p: Point| libm::hypot(beside(p.x, axis.min.x, axis.max.x), beside(p.y, axis.min.y, axis.max.y));
        let covers = |p: Point| sweep.map_or_else(|| off(p) <= reach, |s| s.covers(p));
        let is_far = |part: Part| {
            let (centre, half) = around(self.extent(part));
            sweep.is_some() && leg.distance(centre) > reach + half
        };
        let (columns, rows) = (self.columns(b.min.x, b.max.x), self.rows(b.min.y, b.max.y));
        if columns.is_empty() || rows.is_empty() {
            return;
        }
        let mut level = level;
        for up in rows.start / PATCH..=(rows.end - 1) / PATCH {
            for along in columns.start / PATCH..=(columns.end - 1) / PATCH {
                let index = up * self.across + along;
                let patch = self.patches[index];
                if f64::from(patch.high) <= level {
                    continue;
                }
                let part = self.patch(index);
                if is_far(part) {
                    continue;
                }
                for k in 0..BLOCKS * BLOCKS {
                    let Some(block) = Self::block(part, k) else { continue };
                    let ground = if patch.is_settled() { patch } else { self.blocks.all[patch.parts as usize][k] };
                    if f64::from(ground.high) <= level || is_far(block) {
                        continue;
                    }
                    for r in block.row.max(rows.start)..(block.row + block.height).min(rows.end) {
                        for c in block.column.max(columns.start)..(block.column + block.width).min(columns.end) {
                            let h = self.cell(&ground, (r - block.row) * BLOCK + c - block.column, c, r);
                            let p = self.centre(c, r);
                            if f64::from(h) > level && covers(p) {
                                level = visit(p, f64::from(h));
                            }
                        }
                    }
                }
            }
        }
    }

    /// Material that a rapid would meet: how much stands above the tip, where.
    pub(crate) fn above_rapid(&self, leg: &Leg, profile: &Profile) -> Option<(f64, Point)> {
        let lowest = leg.lowest();
        let mut worst: Option<(f64, Point)> = None;
        self.for_each_above(leg, profile.radius, lowest + TOUCH, |p, h| {
            let z = if leg.run == Run::Boxed { Some(lowest) } else { leg.lowest_at(profile, p) };
            let above = z.map_or(0.0, |z| h - z);
            if above > TOUCH && worst.is_none_or(|w| above > w.0) {
                worst = Some((above, p));
            }
            lowest + TOUCH.max(worst.map_or(0.0, |w| w.0))
        });
        worst
    }

    /// Material beside a leg that stands higher above the tip than `rise`, within `reach` of the axis.
    pub(crate) fn beside(&self, leg: &Leg, reach: f64, rise: f64) -> Option<(f64, Point)> {
        let lowest = leg.lowest() + rise;
        let mut worst: Option<(f64, Point)> = None;
        self.for_each_above(leg, reach, lowest + TOUCH, |p, h| {
            let above = leg.lowest_tip_within(reach, p).map_or(0.0, |z| h - z - rise);
            if above > TOUCH && worst.is_none_or(|w| above > w.0) {
                worst = Some((above, p));
            }
            lowest + TOUCH.max(worst.map_or(0.0, |w| w.0))
        });
        worst
    }

    /// Marks samples of a coarser grid that a leg has cut through.
    pub(crate) fn mark_deaths(&self, deaths: &mut [u32], ratio: usize, through: f64, b: Bounds, leg: u32) {
        let across = self.width.div_ceil(ratio);
        let sample = |i: usize, limit: usize| (i * ratio + ratio / 2).min(limit - 1);
        let (columns, rows) = (self.columns(b.min.x, b.max.x), self.rows(b.min.y, b.max.y));
        for r in rows.start / ratio..rows.end.div_ceil(ratio) {
            for c in columns.start / ratio..columns.end.div_ceil(ratio) {
                let death = &mut deaths[r * across + c];
                if *death == u32::MAX
                    && f64::from(self.height_at(sample(c, self.width), sample(r, self.height))) <= through
                {
                    *death = leg;
                }
            }
        }
    }

    /// The least height under each sample of a coarser grid.
    pub(crate) fn picture(&self, ratio: usize) -> Vec<f32> {
        let across = self.width.div_ceil(ratio);
        let mut samples = vec![f32::INFINITY; across * self.height.div_ceil(ratio)];
        let mut lower = |part: Part, height: f32| {
            for r in part.row / ratio..=(part.row + part.height - 1) / ratio {
                let line = &mut samples[r * across..(r + 1) * across];
                for sample in &mut line[part.column / ratio..=(part.column + part.width - 1) / ratio] {
                    *sample = if height < *sample { height } else { *sample };
                }
            }
        };
        for (index, patch) in self.patches.iter().enumerate() {
            let part = self.patch(index);
            if patch.is_settled() {
                lower(part, patch.low);
                continue;
            }
            for (k, ground) in self.blocks.all[patch.parts as usize].iter().enumerate() {
                let Some(block) = Self::block(part, k) else { continue };
                if ground.is_settled() {
                    lower(block, ground.low);
                    continue;
                }
                for r in 0..block.height {
                    for c in 0..block.width {
                        let (column, row) = (block.column + c, block.row + r);
                        let one = Part { column, row, width: 1, height: 1 };
                        lower(one, self.cell(ground, r * BLOCK + c, column, row));
                    }
                }
            }
        }
        samples
    }
}

/// The blocks of a patch's row of blocks that a shape may meet.
fn blocks_in(common: &Common, part: Part, row: usize) -> Range<usize> {
    let (first, end) = (common.hull.0.max(part.column), common.hull.1.min(part.column + part.width));
    if first >= end {
        return 0..0;
    }
    let block = |column: usize| row * BLOCKS + (column - part.column) / BLOCK;
    block(first)..block(end - 1) + 1
}

/// Middle of a box and half its diagonal.
fn around(b: Bounds) -> (Point, f64) {
    let (w, h) = (b.max.x - b.min.x, b.max.y - b.min.y);
    (b.min.lerp(b.max, 0.5), 0.5 * (w * w + h * h).sqrt())
}

/// Cells from 0 to `count` whose centres (i + 1/2) lie between two places.
fn span(low: f64, high: f64, count: usize) -> std::ops::Range<usize> {
    let first = (low - 0.5).ceil().clamp(0.0, count as f64) as usize;
    let end = ((high - 0.5).floor() + 1.0).clamp(0.0, count as f64) as usize;
    first..end.max(first)
}
