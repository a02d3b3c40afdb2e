//! A cut tile against the plate as wanted, cell by cell, with exact distances where a cell is out of tolerance.

use crate::access::Access;
use crate::adrift::Adrift;
use crate::intent::{AREAS, Class, FACE, MARGIN, Wanted};
use crate::lean::{Asked, Leaning};
use crate::relief::{Grid, TOUCH};
use crate::rows::Rows;
use crate::tile::{Cells, Patch, Tile};
use memo::{Key, Memo, Print};
use plane::{Bounds, Point, SegmentIndex};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// A wall may be off by this, mm.
pub(crate) const WALL: f64 = 0.010;
/// Material this near the limit of what cutters reach is neither a fault nor hand work, mm: about half a cell.
const BORDER: f64 = 0.012;
/// Longest stride over cells that only the hand reaches, so that a spot's size is found.
const HAND_STRIDE: usize = 8;

/// What can be wrong with a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Wrong {
    TooDeep,
    TooHigh,
    /// Cut in the margin where nothing is asked for.
    Astray,
}

/// Cells of one class that are wrong in the same way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Fault {
    /// Greatest difference, mm.
    pub(crate) amount: f64,
    pub(crate) at: Point,
    /// Height there.
    pub(crate) height: f64,
    pub(crate) cells: u64,
}

/// A run of cells in a row that only the hand reaches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct HandRun {
    pub(crate) row: u32,
    pub(crate) first: u32,
    /// One past the last.
    pub(crate) end: u32,
    pub(crate) class: Class,
    /// Greatest distance beyond reach; infinite where no cutter gets near.
    pub(crate) gap: f64,
    /// Greatest distance to the walls, and where.
    pub(crate) wide: (f64, Point),
    /// On a leaning wall, where the flat at the vee's tip keeps it away.
    pub(crate) at_vee: bool,
    /// Greatest height that stands above what is wanted, mm.
    pub(crate) high: f64,
}

impl HandRun {
    /// Whether another run is of the same kind of place.
    pub(crate) fn is_like(&self, other: &Self) -> bool {
        self.class == other.class && self.at_vee == other.at_vee
    }

    fn take(&mut self, other: &Self) {
        self.gap = self.gap.max(other.gap);
        self.high = self.high.max(other.high);
        if other.wide.0 > self.wide.0 {
            self.wide = other.wide;
        }
    }
}

/// What a tile shows.
#[derive(Debug, Clone, Default)]
pub(crate) struct Judged {
    pub(crate) faults: BTreeMap<(Class, Wrong), Fault>,
    pub(crate) hand: Vec<HandRun>,
    /// Greatest difference of a floor where a cutter reaches.
    pub(crate) floor_error: f64,
}

/// What tiles are judged by.
pub(crate) struct Judge<'a> {
    pub(crate) wanted: &'a Wanted<'a>,
    pub(crate) access: &'a Access<'a>,
    grid: Grid,
    areas: Vec<Rows>,
    /// Boxes of the areas.
    boxes: Vec<Bounds>,
    outline: Option<(Rows, SegmentIndex)>,
    /// How far outside the plate's edge the groove may reach.
    band: f64,
    /// Ground that the grooves cut off from the rim, found when it is first asked for.
    adrift: OnceLock<Adrift>,
    leaning: &'a Leaning,
    /// Whether material left is judged: not where a program couldn't be understood.
    leftover: bool,
    /// What decides how ground is judged, if that can be kept.
    pub(crate) decided: Option<Decided>,
}

/// What decides how ground is judged, but for what was cut of it.
pub(crate) struct Decided {
    /// Of all ground.
    pub(crate) all: Print,
    areas: Vec<Print>,
    margin: Print,
}

impl Decided {
    /// Of the ground of one class; `None` for the face.
    pub(crate) fn class(&self, class: Class) -> Option<Print> {
        if class == MARGIN {
            Some(self.margin)
        } else {
            self.areas.get(usize::from(class.checked_sub(AREAS)?)).copied()
        }
    }
}

impl<'a> Judge<'a> {
    pub(crate) fn new(
        wanted: &'a Wanted<'a>,
        access: &'a Access<'a>,
        leaning: &'a Leaning,
        grid: Grid,
        band: f64,
        leftover: bool,
    ) -> Self {
        let areas = wanted.intent.areas.iter().map(|a| Rows::new(&a.region, grid.pitch, grid.rows)).collect();
        let outline = wanted
            .intent
            .outline
            .as_ref()
            .map(|o| (Rows::new(&o.inside, grid.pitch, grid.rows), SegmentIndex::of_contours(o.inside.contours())));
        let boxes = wanted.intent.areas.iter().map(|a| a.region.bounds()).collect();
        let decided = None;
        let mut judge = Self {
            wanted,
            access,
            grid,
            areas,
            boxes,
            outline,
            band,
            adrift: OnceLock::new(),
            leaning,
            leftover,
            decided,
        };
        judge.decided = judge.decided();
        judge
    }

    fn decided(&self) -> Option<Decided> {
        let wanted = self.wanted;
        let areas = (0..wanted.intent.areas.len()).map(|i| AREAS + i as Class);
        if areas.clone().any(|class| wanted.lean(class) > 0.0) {
            return None;
        }
        let lengths = [self.grid.pitch, wanted.face_high, wanted.floor(MARGIN), self.band];
        let all = Key::named("judge").with(&wanted.contours?).with(&lengths).with(&self.leftover).print();
        let one = |class: Class| {
            let key = Key::named("class").with(&wanted.floor(class)).with(&wanted.clears(class));
            key.with(&self.access.print(class)).print()
        };
        Some(Decided { all, areas: areas.map(one).collect(), margin: one(MARGIN) })
    }

    /// A tile of this print as it is judged, or was before.
    pub(crate) fn again(&self, tile: &Tile, print: Option<Print>, memo: &Memo) -> Judged {
        let (Some(print), Some(Decided { all, areas, .. })) = (print, &self.decided) else { return self.tile(tile) };
        let of = || {
            let near = tile.bounds().grown(self.grid.pitch);
            let here = (0..areas.len()).filter(|&i| self.boxes[i].meets(near));
            here.fold(Key::named("judged").with(&print).with(all), |key, i| key.with(&i).with(&areas[i]))
        };
        (*memo.recall(of, || self.tile(tile))).clone()
    }

    pub(crate) fn tile(&self, tile: &Tile) -> Judged {
        let mut judged = Judged::default();
        let mut classes: Vec<Class> = Vec::new();
        for patch in tile.patches() {
            if self.settled(&patch, &mut judged) {
                continue;
            }
            let cells = patch.cells();
            classes.resize(cells.width, FACE);
            // Only areas that have a part in the patch's rows and columns.
            let rows = cells.row..cells.row + cells.height;
            let box_of = patch.bounds();
            let here: Vec<usize> = (0..self.areas.len())
                .filter(|&i| {
                    let range = &self.areas[i].range;
                    range.start < rows.end && range.end > rows.start && self.boxes[i].meets(box_of)
                })
                .collect();
            for row in 0..cells.height {
                self.classes(&cells, row, &here, &mut classes);
                let mut first = 0;
                while first < cells.width {
                    let class = classes[first];
                    let end = (first..cells.width).find(|&i| classes[i] != class).unwrap_or(cells.width);
                    self.stretch(&cells, row, first, end, class, &mut judged);
                    first = end;
                }
            }
        }
        judged.hand = joined(std::mem::take(&mut judged.hand));
        judged
    }

    /// Whether a patch is as wanted all over: on ground of one class, from its lowest to its highest cell.
    fn settled(&self, patch: &Patch, judged: &mut Judged) -> bool {
        let b = patch.bounds();
        let (centre, half) = (b.centre(), 0.5 * b.min.distance(b.max));
        if self.wanted.edges.nearest_within(centre, half).is_some() {
            return false;
        }
        let class = self.class_at(centre);
        if self.wanted.lean(class) > 0.0 {
            return false;
        }
        let (low, high) = (f64::from(patch.low), f64::from(patch.high));
        let floor = self.wanted.floor(class);
        let slack = TOUCH + 1e-6 * floor.abs().max(1.0);
        if low < floor - slack {
            return false;
        }
        match class {
            FACE => true,
            MARGIN => {
                low >= self.wanted.face_high - slack
                    || self.outline.as_ref().is_none_or(|(_, outline)| {
                        outline.nearest_within(centre, self.band).is_some_and(|n| n.distance + half <= self.band)
                    })
            }
            _ => {
                let cleared = self.leftover && self.wanted.clears(class);
                if cleared && high > floor + slack {
                    return false;
                }
                judged.floor_error = judged.floor_error.max(floor - low);
                if cleared {
                    judged.floor_error = judged.floor_error.max(high - floor);
                }
                true
            }
        }
    }

    /// The class at a place that no edge is near.
    fn class_at(&self, p: Point) -> Class {
        let row = ((p.y / self.grid.pitch) as usize).min(self.grid.rows - 1);
        if self.outline.as_ref().is_some_and(|(rows, _)| !rows.contains(row, p.x)) {
            return MARGIN;
        }
        // Of areas that overlap the last one counts, as where cells are told apart.
        let found = self.areas.iter().rposition(|rows| rows.contains(row, p.x));
        found.map_or(FACE, |i| AREAS + i as Class)
    }

    /// The class of every cell of a row.
    fn classes(&self, tile: &Cells, row: usize, here: &[usize], classes: &mut [Class]) {
        classes.fill(FACE);
        let at = tile.row + row;
        let mut fill = |rows: &Rows, class: Class, outside: bool| {
            let column = |x: f64| {
                let i = (x / self.grid.pitch - 0.5).ceil() - tile.column as f64;
                i.clamp(0.0, tile.width as f64) as usize
            };
            let mut done = 0;
            if rows.range.contains(&at) {
                let x = |i: usize| (tile.column + i) as f64 * self.grid.pitch;
                for (x0, x1) in rows.inside(at, x(0), x(tile.width)) {
                    let (a, b) = (column(x0), column(x1));
                    if outside {
                        classes[done.min(a)..a].fill(class);
                    } else if a < b {
                        classes[a..b].fill(class);
                    }
                    done = done.max(b);
                }
            }
            if outside {
                classes[done..].fill(class);
            }
        };
        for &i in here {
            if self.areas[i].range.contains(&at) {
                fill(&self.areas[i], AREAS + i as Class, false);
            }
        }
        if let Some((rows, _)) = &self.outline {
            fill(rows, MARGIN, true);
        }
    }

    /// One stretch of cells of one class.
    fn stretch(&self, tile: &Cells, row: usize, first: usize, end: usize, class: Class, judged: &mut Judged) {
        let cells = &tile.row(row)[first..end];
        let (mut low, mut high) = (f32::INFINITY, f32::NEG_INFINITY);
        for &h in cells {
            low = if h < low { h } else { low };
            high = if h > high { h } else { high };
        }
        let floor = self.wanted.floor(class);
        let rounding = 1e-6 * floor.abs().max(1.0);
        let (low, high) = (f64::from(low), f64::from(high));
        let slack = TOUCH + rounding;
        match class {
            MARGIN => {
                if low < self.wanted.face_high - slack {
                    self.astray(tile, row, first, end, judged);
                }
                if low < floor - slack {
                    self.too_deep(tile, row, first, end, class, judged);
                }
            }
            FACE => {
                if low < floor - slack {
                    self.too_deep(tile, row, first, end, class, judged);
                }
            }
            _ if self.wanted.lean(class) > 0.0 => self.leaning(tile, row, first, end, class, judged),
            _ => {
                if low < floor - slack {
                    self.too_deep(tile, row, first, end, class, judged);
                } else {
                    judged.floor_error = judged.floor_error.max(floor - low);
                }
                if self.leftover && self.wanted.clears(class) {
                    if high > floor + slack {
                        self.too_high(tile, row, first, end, class, judged);
                    } else {
                        judged.floor_error = judged.floor_error.max(high - floor);
                    }
                }
            }
        }
    }

    fn too_deep(&self, tile: &Cells, row: usize, first: usize, end: usize, class: Class, judged: &mut Judged) {
        let floor = self.wanted.floor(class);
        let limit = floor - TOUCH - 1e-6 * floor.abs().max(1.0);
        let cells = tile.row(row);
        let mut clear_until = first;
        for (column, &cell) in cells.iter().enumerate().take(end).skip(first) {
            let h = f64::from(cell);
            if h >= limit {
                continue;
            }
            let p = tile.centre(column, row);
            if column >= clear_until {
                let distance = self.wanted.edges.nearest(p).map_or(f64::INFINITY, |n| n.distance);
                if distance <= WALL || (class == FACE && self.leaning.spares_face(p, h + TOUCH, WALL)) {
                    continue;
                }
                if class == FACE && self.leaning.begins_in_face() {
                    // Beside a leaning wall the next cell may be right.
                    judged.floor_error = judged.floor_error.max(floor - h);
                    record(judged, class, Wrong::TooDeep, floor - h, p, h);
                    continue;
                }
                clear_until = column + 1 + self.stride(distance - WALL);
            }
            judged.floor_error = judged.floor_error.max(floor - h);
            record(judged, class, Wrong::TooDeep, floor - h, p, h);
        }
    }

    fn too_high(&self, tile: &Cells, row: usize, first: usize, end: usize, class: Class, judged: &mut Judged) {
        let floor = self.wanted.floor(class);
        let limit = floor + TOUCH + 1e-6 * floor.abs().max(1.0);
        let cells = tile.row(row);
        let mut column = first;
        while column < end {
            if f64::from(cells[column]) <= limit {
                column += 1;
                continue;
            }
            let p = tile.centre(column, row);
            let (wall, _) = self.access.wall(class, p);
            let mut beyond = self.access.beyond(class, p);
            if beyond <= -BORDER && wall > WALL {
                // A stroke that lets the cutter pass by less than rounding tells may be left.
                beyond = Some(self.access.surely_beyond(class, p)).filter(|&b| b > 0.0).unwrap_or(beyond);
            }
            if beyond > 0.0 {
                let stride = self.stride(beyond.min(1.0)).min(HAND_STRIDE);
                let stop = (column + 1 + stride).min(end);
                let stop = (column + 1..stop).find(|&c| f64::from(cells[c]) <= limit).unwrap_or(stop);
                let (first, last) = ((tile.column + column) as u32, (tile.column + stop) as u32);
                let high = cells[column..stop].iter().fold(0.0, |m, &h| f64::max(m, f64::from(h) - floor));
                let wide = (wall - self.leaning.foot(class), p);
                let row = (tile.row + row) as u32;
                push_run(judged, HandRun { row, first, end: last, class, gap: beyond, wide, at_vee: false, high });
                column = stop;
                continue;
            }
            if beyond > -BORDER || wall <= WALL {
                column += 1;
                continue;
            }
            let stop = (column + 1 + self.stride((-beyond - BORDER).min(wall - WALL))).min(end);
            for (c, &cell) in cells.iter().enumerate().take(stop).skip(column) {
                let h = f64::from(cell);
                if h > limit {
                    judged.floor_error = judged.floor_error.max(h - floor);
                    record(judged, class, Wrong::TooHigh, h - floor, tile.centre(c, row), h);
                }
            }
            column = stop;
        }
    }

    /// Ground that falls out anyway once the grooves are cut.
    fn adrift(&self, outline: &SegmentIndex) -> &Adrift {
        let size = self.wanted.intent.blank.size.map(quantity::Length::to_mm);
        self.adrift.get_or_init(|| Adrift::new(outline, size, self.band))
    }

    fn astray(&self, tile: &Cells, row: usize, first: usize, end: usize, judged: &mut Judged) {
        let Some((_, outline)) = &self.outline else { return };
        let cells = tile.row(row);
        let mut column = first;
        while column < end {
            let h = f64::from(cells[column]);
            if h >= self.wanted.face_high - TOUCH - 1e-5 {
                column += 1;
                continue;
            }
            let p = tile.centre(column, row);
            let distance = outline.nearest(p).map_or(f64::INFINITY, |n| n.distance);
            if distance > self.band && self.adrift(outline).holds(p) {
                column += 1;
            } else if distance > self.band {
                record(judged, MARGIN, Wrong::Astray, distance - self.band, p, h);
                column += 1;
            } else {
                column += 1 + self.stride(self.band - distance);
            }
        }
    }

    /// Ground whose walls lean: the height wanted rises toward the wall, up to its top.
    fn leaning(&self, tile: &Cells, row: usize, first: usize, end: usize, class: Class, judged: &mut Judged) {
        let floor = self.wanted.floor(class);
        let slack = TOUCH + 1e-6 * floor.abs().max(1.0);
        let mut column = first;
        while column < end {
            let p = tile.centre(column, row);
            let Some(asked) = self.leaning.asked(class, p, WALL) else { return };
            // So many cells lie on the level floor.
            let level = self.stride((asked.inside - WALL).min(1e3));
            if level == 0 {
                self.on_lean(tile, row, column, class, &asked, judged);
                column += 1;
                continue;
            }
            let stop = (column + level).min(end);
            for (c, &cell) in tile.row(row).iter().enumerate().take(stop).skip(column) {
                let h = f64::from(cell);
                judged.floor_error = judged.floor_error.max(floor - h);
                if h < floor - slack {
                    record(judged, class, Wrong::TooDeep, floor - h, tile.centre(c, row), h);
                }
            }
            if self.leftover {
                self.too_high(tile, row, column, stop, class, judged);
            }
            column = stop;
        }
    }

    /// One cell on a leaning wall or at its foot.
    fn on_lean(&self, tile: &Cells, row: usize, column: usize, class: Class, asked: &Asked, judged: &mut Judged) {
        let (p, h) = (tile.centre(column, row), f64::from(tile.row(row)[column]));
        let slack = TOUCH + 1e-6 * h.abs().max(1.0);
        if h < asked.least - slack {
            record(judged, class, Wrong::TooDeep, asked.height - h, p, h);
        }
        if !self.leftover || h <= asked.most + slack {
            return;
        }
        let high = h - asked.height;
        let run = |gap: f64, wide: f64, at_vee: bool| {
            let (row, first) = ((tile.row + row) as u32, (tile.column + column) as u32);
            HandRun { row, first, end: first + 1, class, gap, wide: (wide, p), at_vee, high }
        };
        if asked.inside >= 0.0 {
            // The floor's edge, which the vee's point runs along.
            let beyond = self.access.beyond(class, p);
            if beyond > 0.0 {
                push_run(judged, run(beyond, asked.inside, false));
            } else if beyond <= -BORDER {
                record(judged, class, Wrong::TooHigh, high, p, h);
            }
            return;
        }
        let beyond = self.leaning.beyond_vee(class, p, asked);
        if beyond > 0.0 {
            let wall = asked.wall.map_or(0.0, |(at, _)| at.distance(p));
            push_run(judged, run(beyond, wall, true));
        } else {
            record(judged, class, Wrong::TooHigh, high, p, h);
        }
    }

    /// Whole cells in a length.
    fn stride(&self, length: f64) -> usize {
        (length / self.grid.pitch).clamp(0.0, 1e6) as usize
    }
}

fn record(judged: &mut Judged, class: Class, wrong: Wrong, amount: f64, at: Point, height: f64) {
    let fault = judged.faults.entry((class, wrong)).or_insert(Fault { amount, at, height, cells: 0 });
    fault.cells += 1;
    if amount > fault.amount {
        *fault = Fault { amount, at, height, cells: fault.cells };
    }
}

fn push_run(judged: &mut Judged, run: HandRun) {
    if let Some(last) = judged.hand.last_mut()
        && last.row == run.row
        && last.end == run.first
        && last.is_like(&run)
    {
        last.end = run.end;
        last.take(&run);
        return;
    }
    judged.hand.push(run);
}

/// Runs of a tile that go on from patch to patch as one each, so that a tile keeps no more of them than its walls ask for.
fn joined(mut runs: Vec<HandRun>) -> Vec<HandRun> {
    runs.sort_by_key(|r| (r.row, r.first));
    runs.dedup_by(|next, last| {
        let goes_on = last.row == next.row && last.end == next.first && last.is_like(next);
        if goes_on {
            last.end = next.end;
            last.take(next);
        }
        goes_on
    });
    runs.shrink_to_fit();
    runs
}

/// Faults of all tiles put together in the tiles' order.
pub(crate) fn join_faults<'a>(tiles: impl IntoIterator<Item = &'a Judged>) -> BTreeMap<(Class, Wrong), Fault> {
    let mut joined: BTreeMap<(Class, Wrong), Fault> = BTreeMap::new();
    for judged in tiles {
        for (&key, fault) in &judged.faults {
            let own = joined.entry(key).or_insert(Fault { cells: 0, ..*fault });
            let cells = own.cells + fault.cells;
            if fault.amount > own.amount {
                *own = *fault;
            }
            own.cells = cells;
        }
    }
    joined
}
