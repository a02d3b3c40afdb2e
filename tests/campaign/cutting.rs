//! The oracle's cutting: a grid of points on the blank, each with its height, cut stroke by stroke in the programs' order, and
//! what each stroke does to spindle, cutter and blank on the way.

use crate::oracle::{Finder, Harm, World, harm};
use crate::strokes::{Plan, Stroke, Tool, grown, meet};
use crate::text::Spin;
use plate::SpindleSpeed;

/// Points of the grid are no closer, mm, and no more than so many.
const CLOSEST: f64 = 0.04;
const MOST: f64 = 300_000.0;
/// Material that stands less above the tip isn't met, mm.
const MET: f64 = 0.002;
/// A cutter's rim is within the walls' tolerance and a little: what it meets there is on the line, mm.
const RIM: f64 = 0.012;
/// By how much a program's rounding to thousandths moves the end of an arc against its centre, mm: half of one for each.
const ROUNDED: f64 = 0.001;
/// Share of the disc that may be met on the way down as a film on a wall, and so little is on the line.
const FILM: f64 = 0.02;
/// Steepest entry, degrees: common practice is 3 to 5; so much about it is on the line.
const STEEP: [f64; 2] = [5.2, 6.0];
/// A pass may be deeper than the safe one by a quarter; the load by a share about it is on the line.
const SLACK: f64 = 1.25;
const LOAD: [f64; 2] = [0.9, 1.15];
/// A load over a shorter way is on the line, mm.
const MOMENT: f64 = 0.6;
/// Loads are looked at this often, mm.
const STEP: f64 = 0.2;
/// Directions in front of the cutter, to each side.
const FRONT: i32 = 9;

/// A patch of the blank as points with heights.
struct Patch {
    from: [f64; 2],
    pitch: f64,
    columns: usize,
    rows: usize,
    heights: Vec<f64>,
}

/// What a stroke met.
#[derive(Default)]
struct Met {
    /// Points met, and those well within the rim.
    any: usize,
    sure: usize,
    deepest: f64,
    /// Greatest height above the tip among the sure ones.
    tallest: f64,
}

/// Cuts a patch of the blank; an error is the first harm.
pub(crate) fn cut(
    world: &World,
    strokes: &[Stroke],
    tools: &[Tool],
    bounds: [f64; 4],
    finder: &mut Finder,
) -> Result<(), Harm> {
    let area = (bounds[2] - bounds[0]) * (bounds[3] - bounds[1]);
    let pitch = (area / MOST).sqrt().max(CLOSEST);
    let columns = ((bounds[2] - bounds[0]) / pitch).ceil().max(1.0) as usize;
    let rows = ((bounds[3] - bounds[1]) / pitch).ceil().max(1.0) as usize;
    let face = world.levels.face_high;
    let mut patch = Patch { from: [bounds[0], bounds[1]], pitch, columns, rows, heights: vec![face; columns * rows] };
    for stroke in strokes.iter().filter(|s| s.low() < face) {
        let tool = &tools[stroke.tool];
        if !meet(grown(stroke.bounds(), tool.widest(face - stroke.low())), bounds) {
            continue;
        }
        patch.shanks(world, stroke, tool, finder)?;
        if stroke.rapid {
            patch.rapid(world, stroke, finder)?;
            continue;
        }
        patch.load(world, stroke, tool, finder)?;
        let met = patch.take(stroke);
        if met.any > 0 {
            judge(world, stroke, tool, &met, pitch, finder)?;
        }
    }
    Ok(())
}

impl Patch {
    /// Rows and columns of points in a box.
    fn span(&self, b: [f64; 4]) -> (std::ops::Range<usize>, std::ops::Range<usize>) {
        let index =
            |v: f64, k: usize, n: usize| ((v - self.from[k]) / self.pitch - 0.5).ceil().clamp(0.0, n as f64) as usize;
        let columns = index(b[0], 0, self.columns)..index(b[2], 0, self.columns);
        (index(b[1], 1, self.rows)..index(b[3], 1, self.rows), columns)
    }

    fn point(&self, row: usize, column: usize) -> [f64; 2] {
        [self.from[0] + (column as f64 + 0.5) * self.pitch, self.from[1] + (row as f64 + 0.5) * self.pitch]
    }

    /// The nearest point of the grid and its height.
    fn nearest(&self, p: [f64; 2]) -> Option<([f64; 2], f64)> {
        let (c, r) = ((p[0] - self.from[0]) / self.pitch, (p[1] - self.from[1]) / self.pitch);
        let there = c >= 0.0 && r >= 0.0 && c < self.columns as f64 && r < self.rows as f64;
        there.then(|| (self.point(r as usize, c as usize), self.heights[r as usize * self.columns + c as usize]))
    }

    /// Material that stands above a rapid's tip.
    fn rapid(&self, world: &World, stroke: &Stroke, finder: &mut Finder) -> Result<(), Harm> {
        // Between two points of the grid a sliver of the rim may meet what neither shows.
        let blind = if stroke.length() > 1e-6 { 0.75 * self.pitch } else { -ROUNDED };
        let (rows, columns) = self.span(grown(stroke.bounds(), stroke.radius + blind));
        for row in rows {
            for column in columns.clone() {
                let h = self.heights[row * self.columns + column];
                if h <= stroke.low() + MET {
                    continue;
                }
                let p = self.point(row, column);
                // In a box any height between the ends may be met anywhere.
                let height = if stroke.plan == Plan::Box { f64::INFINITY } else { h - MET };
                let over = stroke.radius - stroke.distance(p, height);
                if over > RIM {
                    return harm(world.place(stroke), format!("a rapid in material at {:.2} {:.2}", p[0], p[1]));
                }
                // Straight up from the end of an arc, whose rounded centre and end lie at radii of their own.
                if over > -blind {
                    finder.unsure(|| format!("{}: a rapid along a wall, {over:.4}", world.place(stroke)));
                }
            }
        }
        Ok(())
    }

    /// Shank and nut in what stands beside.
    fn shanks(&self, world: &World, stroke: &Stroke, tool: &Tool, finder: &mut Finder) -> Result<(), Harm> {
        for (from, radius, part) in [(tool.flutes, tool.shank, "shank"), (tool.out, tool.nut, "nut")] {
            if radius <= tool.radius || stroke.low() + from >= world.levels.face_high {
                continue;
            }
            let (rows, columns) = self.span(grown(stroke.bounds(), radius));
            for row in rows {
                for column in columns.clone() {
                    let h = self.heights[row * self.columns + column] - from - MET;
                    let over = radius - stroke.distance(self.point(row, column), h);
                    if over > RIM {
                        return harm(world.place(stroke), format!("the {part} rubs"));
                    }
                    if over > 0.0 {
                        finder.unsure(|| format!("{}: the {part} all but rubs", world.place(stroke)));
                    }
                }
            }
        }
        Ok(())
    }

    /// Takes away what a stroke sweeps.
    fn take(&mut self, stroke: &Stroke) -> Met {
        let mut met = Met::default();
        let (rows, columns) = self.span(grown(stroke.bounds(), stroke.radius));
        for row in rows {
            for column in columns.clone() {
                let at = row * self.columns + column;
                let h = self.heights[at];
                if h <= stroke.low() {
                    continue;
                }
                let p = self.point(row, column);
                let Some(z) = stroke.lowest(p, stroke.radius).filter(|z| *z < h) else { continue };
                self.heights[at] = z;
                if h - z <= MET {
                    continue;
                }
                met.any += 1;
                met.deepest = met.deepest.max(h - z);
                if stroke.radius - stroke.distance(p, h - MET) > RIM {
                    met.sure += 1;
                    met.tallest = met.tallest.max(h - z);
                }
            }
        }
        met
    }

    /// Load of the flutes in front: the chip at an angle from the way ahead goes with its cosine, and the force with chip and
    /// depth; the greatest of the front counts.
    fn load(&self, world: &World, stroke: &Stroke, tool: &Tool, finder: &mut Finder) -> Result<(), Harm> {
        let length = stroke.length();
        if length < 1e-6 {
            return Ok(());
        }
        let limit = tool.depth * SLACK;
        let parts = (length / STEP).ceil() as usize;
        let ahead = stroke.radius + 0.75 * self.pitch.max(0.02);
        let mut over = 0.0;
        for k in 0..parts {
            let t = (k as f64 + 0.5) / parts as f64;
            let (q, d) = (stroke.at(t), stroke.direction(t));
            let mut most = 0.0f64;
            for i in -FRONT..=FRONT {
                let angle = f64::from(i) * std::f64::consts::FRAC_PI_2 / f64::from(FRONT + 1);
                let (s, c) = angle.sin_cos();
                let way = [d[0] * c - d[1] * s, d[0] * s + d[1] * c];
                let Some((p, height)) = self.nearest([q[0] + ahead * way[0], q[1] + ahead * way[1]]) else { continue };
                // A wall beside the swath or at the stroke's end isn't cut.
                let depth = height - q[2];
                if depth < 0.1 || stroke.distance(p, f64::INFINITY) > stroke.radius - RIM {
                    continue;
                }
                most = most.max(depth.min(tool.flutes) * c);
            }
            let share = most / limit;
            let known = match finder.loads.iter_mut().find(|l| l.0 == tool.number) {
                Some(known) => known,
                None => {
                    finder.loads.push((tool.number, 0.0));
                    finder.loads.last_mut().unwrap()
                }
            };
            let usual = known.1.max(1.0);
            // While the unbroken programs are measured, what they do is the measure.
            if world.measuring {
                known.1 = known.1.max(share);
                continue;
            }
            if share > usual * LOAD[1] {
                over += length / parts as f64;
            }
            if share > usual * LOAD[0] && share > known.1 + 0.02 {
                finder.unsure(|| format!("{}: load {share:.2} of what is allowed", world.place(stroke)));
            }
            if over > MOMENT || share > usual * 2.0 {
                return harm(world.place(stroke), format!("{share:.2} times the load that is allowed"));
            }
        }
        Ok(())
    }
}

/// A stroke with feed that meets material.
fn judge(world: &World, stroke: &Stroke, tool: &Tool, met: &Met, pitch: f64, finder: &mut Finder) -> Result<(), Harm> {
    let sure = met.sure > 0;
    let mut say = |bad: bool, why: String| -> Result<(), Harm> {
        if !bad {
            return Ok(());
        }
        if sure {
            return harm(world.place(stroke), why);
        }
        finder.unsure(|| format!("{}: {why}, by a hair", world.place(stroke)));
        Ok(())
    };
    say(!stroke.cutting, "the frame run touches the blank".into())?;
    say(stroke.spin == Spin::Still, "the spindle stands still".into())?;
    say(stroke.spin == Spin::Backward, "the spindle turns backward".into())?;
    say(stroke.speed <= 0.0, "no speed is said".into())?;
    let chip = stroke.feed / (stroke.speed * tool.teeth);
    say(chip > 1.01 * tool.chip, format!("chips {chip:.4} thick"))?;
    let off = off_dial(&world.shop.spindle.speed, stroke.speed);
    say(off > 0.012, format!("a speed of {} that the spindle hasn't", stroke.speed))?;
    if chip > 0.998 * tool.chip || off > 0.008 {
        finder.unsure(|| format!("{}: chip {chip:.5}, speed {}", world.place(stroke), stroke.speed));
    }
    // Rubbing begins at 0.05 mm for 1/8 in (common practice, no source).
    finder.rubs |= sure && stroke.length() > 1.0 && chip < 0.99 * 0.05 / 3.175 * 2.0 * tool.radius;
    if met.tallest > tool.flutes + 0.01 {
        return harm(world.place(stroke), format!("{:.3} deep, deeper than the flutes", met.tallest));
    }
    if met.deepest > tool.flutes {
        finder.unsure(|| format!("{}: {:.3} deep", world.place(stroke), met.deepest));
    }
    entry(world, stroke, tool, met, pitch, finder)
}

/// Straight or steeply down into material.
fn entry(world: &World, stroke: &Stroke, tool: &Tool, met: &Met, pitch: f64, finder: &mut Finder) -> Result<(), Harm> {
    let drop = stroke.a[2] - stroke.b[2];
    if drop <= 1e-6 {
        return Ok(());
    }
    let disc = std::f64::consts::PI * tool.radius * tool.radius;
    let share = met.sure as f64 * pitch * pitch / disc;
    let plumb = stroke.length() < 1e-6;
    let angle = if plumb { 90.0 } else { drop.atan2(stroke.length()).to_degrees() };
    if (plumb && tool.drills) || angle < STEEP[0] {
        return Ok(());
    }
    if share > FILM && angle > STEEP[1] && met.deepest.min(drop) > 0.01 {
        return harm(world.place(stroke), format!("into material at {angle:.1} degrees"));
    }
    finder.unsure(|| format!("{}: down at {angle:.1} degrees, {share:.4} of the disc", world.place(stroke)));
    Ok(())
}

/// Share by which a speed is off the nearest that the spindle has.
fn off_dial(speeds: &SpindleSpeed, speed: f64) -> f64 {
    match speeds {
        SpindleSpeed::Range { least, greatest } => {
            let (a, b) = (least.to_rev_per_min(), greatest.to_rev_per_min());
            (a / speed - 1.0).max(speed / b - 1.0).max(0.0)
        }
        SpindleSpeed::Dial(positions) => {
            positions.iter().map(|p| (p.1.to_rev_per_min() / speed - 1.0).abs()).fold(f64::INFINITY, f64::min)
        }
    }
}
