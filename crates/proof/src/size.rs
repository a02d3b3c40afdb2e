//! What a proof takes before it begins: cells, and a bound of the memory.
//!
//! The bound adds up what every list can come to: legs and what they touch by the number and length of the moves, tiles at
//! work by the threads, pictures and loose pieces by the samples, probes and hand work by the length of the walls. A list
//! that grows is taken at three times its length, since the old and the new one are in memory while it is copied. It is
//! meant to be true rather than near: `tests/memory.rs` holds it against what is allocated. The programs' own text isn't in
//! it.

use crate::Settings;
use crate::course::pieces;
use crate::engage::Engaged;
use crate::intent::Wanted;
use crate::judge::HandRun;
use crate::leg::{Leg, Ramp};
use crate::probes::{HandProbe, Touched};
use crate::profile::Profile;
use crate::relief::{Grid, Touch};
use crate::verdict::MoveLoad;
use plate::{Intent, Shop};
use read::{Move, Plane, Program, Shape};
use reckon::pace::Step;
use serde::Serialize;
use std::f64::consts::PI;

/// A list that grows by doubling has at most this many times its entries in memory.
const GROWING: f64 = 3.0;
/// Bytes of a tile's cell at its worst: a height in a growing list, and its share of blocks and patches.
const CELL: f64 = 16.0;
/// Bytes of a coarse sample while pieces are told apart: which leg cut it (in the tile and joined), the order of all, and
/// parents, sizes, held and standing of the samples, and one piece's list.
const SAMPLE: f64 = 4.0 + 4.0 + 12.0 + 14.0 + 25.0;
/// Probes along each mm of wall, at its foot and its top.
const PROBES: f64 = 2.0 / crate::probes::SPACING + 4.0;
/// Bytes for each mm of wall where cutters may stand: places 0.05 mm apart for each cutter and each height of wall.
const STANDS: f64 = 20.0 * 16.0 * GROWING;
/// What is there whatever the plate, bytes.
const CONSTANT: f64 = 4e6;

/// What a proof takes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Size {
    /// Cells of the grid.
    pub cells: u64,
    /// Their pitch, mm; wider than asked for where the blank has too many cells.
    pub pitch: f64,
    /// Memory in bytes that proving stays below, on the threads there are.
    pub bytes: u64,
}

impl Size {
    /// The bound in whole MB, rounded up.
    pub fn megabytes(&self) -> u64 {
        self.bytes.div_ceil(1_000_000)
    }
}

/// The size of a proof of programs, each with the cutter named beside it.
pub fn size(
    shop: &Shop,
    intent: &Intent,
    programs: &[Program],
    named: &[(Option<u32>, bool)],
    settings: &Settings,
) -> Size {
    let wanted = Wanted::new(intent);
    let grid = Grid::new(wanted.size, settings.pitch(), settings.picture_pitch);
    let widest = shop.cutters.iter().max_by(|a, b| a.radius().total_cmp(&b.radius()));
    let mut count = Count::default();
    for (i, program) in programs.iter().enumerate() {
        let (named, cutting) = named.get(i).copied().unwrap_or((None, true));
        let number = named.or(program.cutters.first().map(|c| c.0));
        let cutter = number.and_then(|n| shop.cutter(n)).or(if cutting { None } else { widest });
        let profile = cutter.map(|c| Profile::new(c, &shop.spindle));
        for m in program.moves.iter() {
            count.add(&m, profile.as_ref(), &wanted, &grid);
        }
    }
    let threads = rayon::current_num_threads().max(1) as f64;
    let samples = |ratio: usize| {
        let (columns, rows) = grid.coarser(ratio);
        (columns * rows) as f64
    };
    let tile = (grid.tile * grid.tile) as f64;
    let (across, up) = grid.tiles();
    let tiles = (across * up) as f64;
    let cells = (grid.columns * grid.rows) as f64;
    let walls: f64 = wanted.walls.iter().map(|w| w.path.length()).sum();
    let edges: f64 = wanted.edges.segments().iter().map(plane::Segment::length).sum();
    let pieces = wanted.edges.segments().len() as f64;
    let mut heights: Vec<f64> = intent.areas.iter().map(|a| a.floor.to_mm()).collect();
    heights.sort_by(f64::total_cmp);
    heights.dedup();
    let ways = (heights.len() as f64 + 1.0) * intent.cutters.len().max(1) as f64;

    let per_leg = bytes::<Leg>() * (2.0 + GROWING)
        + bytes::<Step>() * GROWING
        + bytes::<Option<Touch>>()
        + bytes::<MoveLoad>() * GROWING
        + bytes::<Option<Engaged>>() * 2.0;
    let per_member = 4.0 * GROWING + bytes::<Touch>() * GROWING + bytes::<Ramp>() * GROWING;
    // A run of hand work begins at a wall, or goes on from the tile before it: it is kept, gathered, sorted and joined.
    let runs = edges / grid.pitch + cells / grid.tile as f64;
    let blank = (wanted.size.width() + 4.0) * (wanted.size.height() + 4.0);
    let total = count.legs * per_leg
        + count.members * per_member
        + count.near * 4.0
        + count.paths * (8.0 * GROWING + 28.0)
        + blank * (3.0 * 4.0 / 0.25 + 2.0 * 4.0)
        + threads * tile.min(cells) * CELL
        + tiles * 400.0 * (1.0 + programs.len() as f64 * 0.2)
        + samples(grid.picture) * 4.0 * (3.0 * programs.len() as f64 + 1.0)
        + samples(grid.coarse) * SAMPLE
        + walls * PROBES * (bytes::<HandProbe>().max(bytes::<Touched>()) * GROWING)
        + walls * STANDS * ways
        + runs * (bytes::<HandRun>() * (2.0 + GROWING) + 24.0)
        + edges / grid.pitch * (16.0 * GROWING + 8.0)
        + pieces * 1000.0
        + CONSTANT;
    Size { cells: cells as u64, pitch: grid.pitch, bytes: total.min(1e18) as u64 }
}

/// Bytes of a value.
fn bytes<T>() -> f64 {
    size_of::<T>() as f64
}

/// What the moves come to.
#[derive(Default)]
struct Count {
    legs: f64,
    /// Legs in tiles.
    members: f64,
    /// Legs in the cells of the index that probes ask.
    near: f64,
    /// Legs in the cells of the index that engagement asks.
    paths: f64,
}

impl Count {
    fn add(&mut self, m: &Move, profile: Option<&Profile>, wanted: &Wanted, grid: &Grid) {
        let (legs, length, round) = match m.shape {
            Shape::Dwell { .. } => {
                self.legs += 1.0;
                return;
            }
            Shape::Rapid | Shape::Line => (1.0, 0.0, 0.0),
            Shape::Arc { plane, radius, sweep, .. } => {
                (pieces(plane, radius, sweep) as f64, radius * sweep.abs(), 2.0 * radius)
            }
        };
        self.legs += legs;
        let Some(profile) = profile else { return };
        let ([Some(x0), Some(y0), Some(z0)], [Some(x1), Some(y1), Some(z1)]) = (m.from, m.to) else { return };
        let dips = if matches!(m.shape, Shape::Arc { plane: Plane::Zx | Plane::Yz, .. }) { round } else { 0.0 };
        let low = z0.min(z1) - dips;
        if low >= wanted.face_high {
            return;
        }
        let (wide, high) = ((x1 - x0).abs() + 2.0 * round, (y1 - y0).abs() + 2.0 * round);
        let length = length + libm::hypot(x1 - x0, y1 - y0);
        // Cells of a side that lie within a reach of the way: their centres lie no further off than half a diagonal more,
        // and all of them in the way's stadium.
        let within = |reach: f64, side: f64| {
            let far = reach + 1.5 * side;
            (2.0 * far * length + legs * PI * far * far) / (side * side)
        };
        let body = profile.widest_below(wanted.face_high - low).max(profile.radius);
        let side = grid.tile as f64 * grid.pitch;
        let (across, up) = grid.tiles();
        let along = |length: f64, most: usize| (length / side + 2.0).min(most as f64);
        let boxed = legs * along(wide + 2.0 * body, across) * along(high + 2.0 * body, up);
        let straight = !matches!(m.shape, Shape::Rapid);
        self.members += if straight { boxed.min(within(body, side)) } else { boxed };
        self.near += within(profile.radius + crate::near::FAR, 0.5);
        self.paths += within(0.0, 1.0);
    }
}
