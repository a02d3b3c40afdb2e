//! The plate from the face as pixels: what the proof's model holds, in its sheets' colours, lit from the upper left.
//!
//! Colour comes from the layer that lies open at each cell's height; a sheet that passes light is tinted by what
//! lies below it. Shading never changes a flat place away from walls, so that colours stay true there; it works by
//! walls, by shadow that falls from the upper left, and by the soft dimming of places that stand lower than
//! what is around them. All light is mixed on linear values.

use crate::drawing::Pixels;
use crate::ink::{self, Encoder, GROUND, Rgb};
use plane::Bounds;
use plate::Blank;
use proof::HeightMap;
use rayon::prelude::*;

/// Heights are told apart in this many steps between underside and face: under 2 µm for 6 mm.
const LEVELS: usize = 4096;
/// Depth at which shading depth begins to grow slowly, mm: 0.5 mm steps read, 6 mm cuts don't drown in shadow.
const KNEE: f64 = 0.6;
/// Fall of the light: drop in shading height for each mm along its way.
const FALL: f32 = 0.75;
/// Drop below the light over which a shadow comes to its full depth, mm.
const PENUMBRA: f32 = 0.35;
/// Reach of the dimming of low places, mm.
const REACH: f64 = 1.3;
/// Most cells of the working grid.
const MOST_CELLS: f64 = 24e6;

/// The model within a window (mm on the blank), as near to `per_mm` pixels a mm as whole pixels allow; what is no
/// plate shows the ground.
pub(crate) fn picture(map: &HeightMap, blank: &Blank, window: Bounds, per_mm: f64, ground: Rgb) -> Pixels {
    picture_on(map, blank, window, per_mm, ground, ground)
}

/// The same with another ground where no plate is than the one that clear sheets are seen on: sheets keep their colours
/// in a dark room.
pub(crate) fn picture_on(
    map: &HeightMap,
    blank: &Blank,
    window: Bounds,
    per_mm: f64,
    ground: Rgb,
    bare: Rgb,
) -> Pixels {
    let (width, height) = (window.width(), window.height());
    let sound = width > 0.0 && height > 0.0 && per_mm > 0.0 && width * height * per_mm * per_mm < MOST_CELLS;
    if !sound {
        return Pixels::default();
    }
    let columns = ((width * per_mm).round() as usize).max(1);
    let rows = ((height * per_mm).round() as usize).max(1);
    let cells = Cells::sampled(map, blank, window, width / columns as f64, height / rows as f64);
    let mut colours = level_colours(blank, ground);
    if let Some(nothing) = colours.first_mut() {
        *nothing = ink::linear(bare);
    }
    let shades = cells.shades(&colours);
    cells.resampled(&shades, &colours, columns, rows)
}

/// What is seen looking down on a floor of this height, linear; `None` where nothing of the blank is left.
///
/// A sheet's colour is how the whole sheet looks on the ground. Of a rest of thickness u (in sheets), the share
/// p^u passes (Beer-Lambert, p for a whole sheet); that share of the light comes from below, filtered by the
/// sheet's colour to the power u; the other share is the sheet's own.
pub(crate) fn seen(blank: &Blank, floor: f64, ground: Rgb) -> Option<[f32; 3]> {
    let height = quantity::Height::try_mm(floor)?;
    let open = blank.shows_at(height)?;
    let white = GROUND.map(ink::decode);
    let mut light = ground.map(ink::decode);
    for (index, layer) in blank.layers.iter().enumerate().skip(open).rev() {
        let top = if index == open { floor.min(layer.top.to_mm()) } else { layer.top.to_mm() };
        let label = layer.sheet.thickness.to_mm().max(0.01);
        let sheets = (top - layer.bottom.to_mm()).max(0.0) / label;
        let passes = libm::pow(layer.sheet.passes_light.clamp(0.0, 1.0), sheets);
        let own = layer.sheet.colour.map(ink::decode);
        light = std::array::from_fn(|i| {
            let filter = libm::pow((own[i] / white[i].max(1e-6)).min(1.0), sheets);
            own[i] * (1.0 - passes) + passes * filter * light[i]
        });
    }
    Some(light.map(|l| l as f32))
}

/// Colours by level; level 0 is the ground.
fn level_colours(blank: &Blank, ground: Rgb) -> Vec<[f32; 3]> {
    let (low, high) = (blank.underside.to_mm(), blank.face.to_mm());
    let bare = ink::linear(ground);
    (0..LEVELS)
        .map(|level| {
            let floor = low + (high - low) * level as f64 / (LEVELS - 1) as f64;
            if level == 0 { bare } else { seen(blank, floor, ground).unwrap_or(bare) }
        })
        .collect()
}

/// The working grid: levels of height, top row first.
struct Cells {
    columns: usize,
    rows: usize,
    /// mm a cell in x and y.
    size: [f64; 2],
    levels: Vec<u16>,
    /// Shading height by level, mm, 0 at the face.
    rise: Vec<f32>,
}

/// How a cell is lit: a factor on its colour and light added to it.
#[derive(Clone, Copy)]
struct Shade {
    factor: f32,
    gleam: f32,
}

impl Cells {
    fn sampled(map: &HeightMap, blank: &Blank, window: Bounds, pixel_x: f64, pixel_y: f64) -> Self {
        let pitch = if map.pitch.is_finite() && map.pitch > 0.0 { map.pitch } else { 1.0 };
        let count = |length: f64, pixel: f64| {
            let cell = pitch.max(pixel / 1.5).min(length);
            ((length / cell).ceil() as usize).max(1)
        };
        let (columns, rows) = (count(window.width(), pixel_x), count(window.height(), pixel_y));
        let size = [window.width() / columns as f64, window.height() / rows as f64];
        let (low, high) = (blank.underside.to_mm(), blank.face.to_mm());
        let per_level = if high > low { (LEVELS - 1) as f64 / (high - low) } else { 0.0 };
        let known = map.pitch > 0.0 && map.columns.checked_mul(map.rows) == Some(map.heights.len());
        let column_of: Vec<usize> = (0..columns)
            .map(|i| {
                let x = window.min.x + (i as f64 + 0.5) * size[0];
                let inside = x > 0.0 && x < blank.size[0].to_mm() && known;
                cell_of(x - map.origin.x, pitch, map.columns).filter(|_| inside).unwrap_or(usize::MAX)
            })
            .collect();
        let mut levels = Vec::with_capacity(columns * rows);
        for j in 0..rows {
            let y = window.max.y - (j as f64 + 0.5) * size[1];
            let inside = y > 0.0 && y < blank.size[1].to_mm() && known;
            let row = cell_of(y - map.origin.y, pitch, map.rows).filter(|_| inside);
            let heights = row.and_then(|r| map.heights.get(r * map.columns..(r + 1) * map.columns)).unwrap_or(&[]);
            levels.extend(column_of.iter().map(|&c| {
                let height = heights.get(c).copied().map_or(f64::NEG_INFINITY, f64::from);
                let level = (height - low) * per_level;
                // A skin too thin to tell from nothing counts as a cell of plate: level 1.
                if level > 0.0 { (level + 0.5).clamp(1.0, (LEVELS - 1) as f64) as u16 } else { 0 }
            }));
        }
        let rise = (0..LEVELS)
            .map(|level| {
                let depth = (high - low).max(0.0) * (LEVELS - 1 - level) as f64 / (LEVELS - 1) as f64;
                -(KNEE * libm::log(1.0 + depth / KNEE)) as f32
            })
            .collect();
        Self { columns, rows, size, levels, rise }
    }

    fn shades(&self, colours: &[[f32; 3]]) -> Vec<Shade> {
        // Dark sheets can't get darker by their walls; there edges glint instead.
        let dark = |c: &[f32; 3]| (1.0 - 3.0 * (0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2])).max(0.0);
        let darkness: Vec<f32> = colours.iter().map(dark).collect();
        let n = self.columns;
        let rise: Vec<f32> = self.levels.iter().map(|&l| self.rise[usize::from(l)]).collect();
        let around = Coarse::around(&rise, n, self.rows, self.size);
        let mut smooth = rise.clone();
        blur(&mut smooth, n, self.rows, 1, 1);
        let (dx, dy) = (2.0 * self.size[0] as f32, 2.0 * self.size[1] as f32);
        let fall = FALL * libm::hypotf(self.size[0] as f32, self.size[1] as f32);
        let mut shades = Vec::with_capacity(rise.len());
        // Height under which the light doesn't come, for the row above and for this one.
        let mut around_row = vec![0f32; n];
        let (mut above, mut here) = (vec![f32::NEG_INFINITY; n], vec![f32::NEG_INFINITY; n]);
        for j in 0..self.rows {
            let up = j.saturating_sub(1) * n;
            let down = (j + 1).min(self.rows - 1) * n;
            around.row(j, &mut around_row);
            for i in 0..n {
                let at = j * n + i;
                let light =
                    if i == 0 || j == 0 { f32::NEG_INFINITY } else { above[i - 1].max(rise[up + i - 1]) - fall };
                here[i] = light;
                let shadow = smoothstep((light - rise[at]) / PENUMBRA);
                let (left, right) = (at - usize::from(i > 0), at + usize::from(i + 1 < n));
                let slope_x = (smooth[right] - smooth[left]) / dx;
                let slope_y = (smooth[up + i] - smooth[down + i]) / dy;
                // Light from the upper left at 45°: over a flat place its cosine is sqrt(1/2), taken as 1 here.
                let toward = std::f32::consts::FRAC_1_SQRT_2 * (slope_x - slope_y);
                let steep = slope_x * slope_x + slope_y * slope_y;
                let lit = (1.0 + toward) / (1.0 + steep).sqrt();
                let low = around_row[i] - rise[at];
                let paper = self.levels[at] == 0;
                let dim = 1.0 - 0.20 * smoothstep((low - 0.02) / 0.9);
                let wall = if paper { 1.0 } else { lit.clamp(0.35, 1.12) };
                // Walls toward the light gleam; every edge glints a little, so that steps in black sheets show.
                let glint = 0.042 * steep.min(1.0) * darkness[usize::from(self.levels[at])];
                let rim = 0.016 * (-low - 0.02).clamp(0.0, 0.5);
                let gleam = if paper { 0.0 } else { (0.17 * (lit - 1.02).max(0.0) + rim) * (1.0 - shadow) + glint };
                shades.push(Shade { factor: wall * dim * (1.0 - 0.36 * shadow), gleam });
            }
            std::mem::swap(&mut above, &mut here);
        }
        shades
    }

    /// Pixels as means over the cells they cover (at least one cell wide, which interpolates where pixels are finer).
    fn resampled(&self, shades: &[Shade], colours: &[[f32; 3]], columns: usize, rows: usize) -> Pixels {
        let across = covers(self.columns, columns);
        let down = covers(self.rows, rows);
        let mut squeezed = vec![[0f32; 3]; columns * self.rows];
        squeezed.par_chunks_mut(columns).enumerate().for_each_init(
            || vec![[0f32; 3]; self.columns],
            |lit, (j, out)| {
                let row = j * self.columns..(j + 1) * self.columns;
                for ((cell, &level), shade) in lit.iter_mut().zip(&self.levels[row.clone()]).zip(&shades[row]) {
                    *cell = colours[usize::from(level)].map(|c| c * shade.factor + shade.gleam);
                }
                for (out, (first, weights)) in out.iter_mut().zip(&across) {
                    *out = weighed(lit[*first..].iter().copied(), weights);
                }
            },
        );
        let encoder = Encoder::new();
        let mut pixels = vec![[0u8; 3]; columns * rows];
        pixels.par_chunks_mut(columns).zip(&down).for_each(|(out, (first, weights))| {
            for (i, out) in out.iter_mut().enumerate() {
                let column = squeezed[first * columns + i..].iter().step_by(columns).copied();
                *out = weighed(column, weights).map(|light| encoder.byte(light));
            }
        });
        Pixels { columns, rows, colours: pixels }
    }
}

/// The mean height around each cell, kept on a coarser grid since it changes slowly.
struct Coarse {
    columns: usize,
    rows: usize,
    /// Cells of the working grid in one of these, each way.
    by: usize,
    means: Vec<f32>,
}

impl Coarse {
    fn around(rise: &[f32], columns: usize, rows: usize, size: [f64; 2]) -> Self {
        let by = ((REACH / 4.0 / size[0].max(size[1])) as usize).max(1);
        let (wide, high) = (columns.div_ceil(by), rows.div_ceil(by));
        let mut means = vec![0f32; wide * high];
        let mut sums = vec![0f64; wide];
        for (j, band) in rise.chunks(columns * by).enumerate() {
            sums.fill(0.0);
            for line in band.chunks_exact(columns) {
                for (sum, cells) in sums.iter_mut().zip(line.chunks(by)) {
                    *sum += f64::from(cells.iter().sum::<f32>());
                }
            }
            let deep = band.len() / columns;
            for (i, (mean, sum)) in means[j * wide..].iter_mut().zip(&sums).enumerate() {
                let across = by.min(columns - i * by);
                *mean = (sum / (across * deep) as f64) as f32;
            }
        }
        let radius = |axis: usize| ((REACH / (size[axis] * by as f64)).round() as usize).max(1);
        for _ in 0..2 {
            blur(&mut means, wide, high, radius(0), radius(1));
        }
        Self { columns: wide, rows: high, by, means }
    }

    /// The means of one row of the working grid, interpolated.
    fn row(&self, j: usize, out: &mut [f32]) {
        let place = |at: usize, count: usize| {
            let u = ((at as f32 + 0.5) / self.by as f32 - 0.5).clamp(0.0, (count - 1) as f32);
            let first = (u as usize).min(count.saturating_sub(2));
            (first, (first + 1).min(count - 1), u - first as f32)
        };
        let (up, down, t) = place(j, self.rows);
        let (up, down) = (&self.means[up * self.columns..], &self.means[down * self.columns..]);
        for (i, out) in out.iter_mut().enumerate() {
            let (left, right, s) = place(i, self.columns);
            let (a, b) = (up[left] + (down[left] - up[left]) * t, up[right] + (down[right] - up[right]) * t);
            *out = a + (b - a) * s;
        }
    }
}

/// The cell that a distance from the grid's edge falls into.
pub(crate) fn cell_of(distance: f64, pitch: f64, count: usize) -> Option<usize> {
    let cell = distance / pitch;
    (cell >= 0.0 && cell < count as f64).then_some(cell as usize)
}

/// For each of `pixels` along a line of `cells`: the first cell and the share of each cell that it covers.
fn covers(cells: usize, pixels: usize) -> Vec<(usize, Vec<f32>)> {
    let ratio = cells as f64 / pixels as f64;
    let half = ratio.max(1.0) / 2.0;
    (0..pixels)
        .map(|i| {
            let centre = (i as f64 + 0.5) * ratio;
            let (from, to) = ((centre - half).max(0.0), (centre + half).min(cells as f64));
            let first = (from as usize).min(cells - 1);
            let last = (to.ceil() as usize).clamp(first + 1, cells);
            let shares = (first..last).map(|c| ((to.min(c as f64 + 1.0) - from.max(c as f64)) / (to - from)) as f32);
            (first, shares.collect())
        })
        .collect()
}

/// A sum of light by weights.
fn weighed(cells: impl Iterator<Item = [f32; 3]>, weights: &[f32]) -> [f32; 3] {
    let mut sum = [0f32; 3];
    for (cell, w) in cells.zip(weights) {
        sum = [sum[0] + cell[0] * w, sum[1] + cell[1] * w, sum[2] + cell[2] * w];
    }
    sum
}

fn smoothstep(x: f32) -> f32 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

/// Means over a box, edges repeated, in place: first along rows, then along columns.
fn blur(values: &mut [f32], columns: usize, rows: usize, rx: usize, ry: usize) {
    let (rx, ry) = (rx.min(columns - 1), ry.min(rows - 1));
    let mut line = vec![0f32; columns];
    let share = 1.0 / (2 * rx + 1) as f64;
    for row in values.chunks_exact_mut(columns) {
        let mut sum = f64::from(row[0]) * rx as f64 + row[..=rx].iter().map(|&v| f64::from(v)).sum::<f64>();
        for (i, out) in line.iter_mut().enumerate() {
            *out = (sum * share) as f32;
            sum += f64::from(row[(i + rx + 1).min(columns - 1)]) - f64::from(row[i.saturating_sub(rx)]);
        }
        row.copy_from_slice(&line);
    }
    let share = 1.0 / (2 * ry + 1) as f64;
    let mut sums = vec![0f64; columns];
    for (i, sum) in sums.iter_mut().enumerate() {
        *sum = f64::from(values[i]) * ry as f64 + (0..=ry).map(|j| f64::from(values[j * columns + i])).sum::<f64>();
    }
    // Rows are overwritten while those behind them are still needed: the last `ry + 1` are kept aside.
    let mut behind = vec![0f32; (ry + 1) * columns];
    for j in 0..rows {
        let slot = (j % (ry + 1)) * columns;
        behind[slot..slot + columns].copy_from_slice(&values[j * columns..(j + 1) * columns]);
        let leaving = (j.saturating_sub(ry) % (ry + 1)) * columns;
        let coming = (j + ry + 1).min(rows - 1) * columns;
        for i in 0..columns {
            values[j * columns + i] = (sums[i] * share) as f32;
        }
        for (i, sum) in sums.iter_mut().enumerate() {
            // The last row repeated may already be overwritten; it is then in the kept rows.
            let next = if coming <= j * columns {
                behind[(coming / columns % (ry + 1)) * columns + i]
            } else {
                values[coming + i]
            };
            *sum += f64::from(next) - f64::from(behind[leaving + i]);
        }
    }
}
