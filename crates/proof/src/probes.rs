//! Wall probes: along every wall at most 50 µm apart and at every corner, the exact signed distance from the wall to
//! the nearest cutting edge, just above the floor for what is left and at the wall's top for what is cut away.

use crate::Watch;
use crate::access::Access;
use crate::intent::{Class, MARGIN, Wall, Wanted};
use crate::judge::{Decided, WALL};
use crate::lean::Leaning;
use crate::near::{FAR, Near};
use crate::relief::Grid;
use crate::verdict::{WallFigures, WallPlace, WallReport};
use memo::{Key, Memo, Print};
use plane::Point;
use plate::{Held, Tabs};
use rayon::prelude::*;
use read::Program;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Probes are at most this far apart, mm.
pub(crate) const SPACING: f64 = 0.05;
/// How far above the floor a probe touches the wall, mm: more than a floor may be too high.
const ABOVE_FLOOR: f64 = 0.005;
/// How far below the wall's top, mm.
const BELOW_TOP: f64 = 0.003;

/// A probe this little beyond reach counts as reached, mm: a corner's own rounding.
const REACHED: f64 = 0.000_1;

/// Less than this left on a wall is not asked whether it's a corner's, mm: most walls are within it, and asking takes time.
const PLAIN: f64 = 0.000_2;

/// A probe that found something.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Touched {
    pub(crate) class: Class,
    pub(crate) at: Point,
    pub(crate) height: f64,
    /// Positive beyond the wall.
    pub(crate) beyond: f64,
    pub(crate) line: Option<(usize, u32)>,
}

/// A probe where only the hand reaches.
#[derive(Debug, Clone, Copy)]
pub(crate) struct HandProbe {
    pub(crate) class: Class,
    pub(crate) at: Point,
    pub(crate) inward: Point,
    /// Distance beyond reach; infinite where no cutter gets near.
    pub(crate) gap: f64,
}

/// What the probes found.
#[derive(Debug, Default)]
pub(crate) struct Probed {
    pub(crate) figures: WallFigures,
    pub(crate) gouges: Vec<Touched>,
    pub(crate) leftovers: Vec<Touched>,
    pub(crate) hand: Vec<HandProbe>,
    /// Sum of squares and count behind the root mean square.
    squares: f64,
    counted: u64,
    counts: BTreeMap<Class, [u64; BINS.len() + 1]>,
    /// The places farthest off, class by class.
    worst: BTreeMap<Class, Vec<Touched>>,
}

/// Upper bounds of the histogram's bins, mm.
const BINS: [f64; 11] = [-0.05, -0.01, -0.005, -0.002, -0.001, 0.0, 0.001, 0.002, 0.005, 0.01, 0.05];
/// So many worst places of a wall are told.
const WORST: usize = 10;
/// Apart from each other, mm.
const APART: f64 = 1.0;

impl Probed {
    /// Counts a probe where a cutter reaches.
    fn count(&mut self, touched: Touched) {
        let off = touched.beyond;
        if off > -FAR {
            self.squares += off * off;
            self.counted += 1;
        }
        let bin = BINS.iter().position(|&b| off <= b).unwrap_or(BINS.len());
        self.counts.entry(touched.class).or_default()[bin] += 1;
        self.rank(touched);
    }

    fn rank(&mut self, touched: Touched) {
        let list = self.worst.entry(touched.class).or_default();
        let off = touched.beyond.abs();
        if list.len() >= WORST && list[list.len() - 1].beyond.abs() >= off {
            return;
        }
        if let Some(near) = list.iter().position(|t| t.at.distance(touched.at) < APART) {
            if list[near].beyond.abs() >= off {
                return;
            }
            list.remove(near);
        }
        let at = list.partition_point(|t| t.beyond.abs() >= off);
        list.insert(at, touched);
        list.truncate(WORST);
    }

    /// What is told of each area's walls.
    pub(crate) fn reports(&self, wanted: &Wanted, programs: &[Program]) -> Vec<WallReport> {
        let one = |(&class, counts): (&Class, &[u64; BINS.len() + 1])| {
            let bounds = BINS.iter().map(|&b| Some(b)).chain([None]);
            let place = |t: &Touched| WallPlace {
                at: t.at,
                height: t.height,
                off: t.beyond,
                by: t.line.and_then(|(stage, line)| Some((programs.get(stage)?.file.clone(), line))),
            };
            WallReport {
                area: wanted.name(class).to_owned(),
                histogram: bounds.zip(counts.iter().copied()).collect(),
                worst: self.worst.get(&class).into_iter().flatten().map(place).collect(),
            }
        };
        self.counts.iter().map(one).collect()
    }
}

/// What was found on walls before, and what decides it.
pub(crate) struct Before<'a> {
    pub(crate) memo: &'a Memo,
    pub(crate) decided: &'a Decided,
    pub(crate) grid: Grid,
    /// By tile: the legs in it.
    pub(crate) tiles: Vec<Print>,
}

impl Before<'_> {
    /// What decides how a wall comes out, lines of programs left aside; `None` where that isn't in the tiles.
    fn key(&self, wall: &Wall, wanted: &Wanted) -> Option<Key> {
        let near = wall.path.bounds().grown(FAR + self.grid.pitch);
        if !(wanted.size.contains(near.min) && wanted.size.contains(near.max)) {
            return None;
        }
        let key = Key::named("wall").with(&self.decided.all).with(&wall.path).with(&self.decided.class(wall.low)?);
        let key = key.with(&[wanted.floor(wall.high), wanted.face, wanted.underside]);
        let key = key.with(&tabs_of(wanted, wall.low).map(|t| t.left.to_mm()));
        Some(self.grid.tiles_at(near).fold(key, |key, tile| key.with(&self.tiles[tile])))
    }
}

/// Probes all walls; fewer if stopped.
pub(crate) fn probe(
    wanted: &Wanted,
    access: &Access,
    leaning: &Leaning,
    near: &Near,
    leftover: bool,
    before: Option<&Before>,
    watch: &dyn Watch,
) -> Probed {
    let anew = |w: &Wall| {
        if wanted.lean(w.low) > 0.0 {
            probe_leaning(w, wanted, leaning, near, leftover)
        } else {
            probe_wall(w, wanted, access, leaning, near, leftover)
        }
    };
    let one = |w: &Wall| {
        if watch.stopped() {
            return Arc::default();
        }
        match before.and_then(|b| Some((b, b.key(w, wanted)?))) {
            Some((before, key)) => before.memo.recall(|| key, || anew(w)),
            None => Arc::new(anew(w)),
        }
    };
    let each: Vec<Arc<Probed>> = wanted.walls.par_iter().map(one).collect();
    let mut all = Probed::default();
    for one in &each {
        let (f, g) = (&mut all.figures, one.figures);
        f.probes += g.probes;
        f.at_hand_work += g.at_hand_work;
        f.worst_gouge = f.worst_gouge.max(g.worst_gouge);
        f.worst_leftover = f.worst_leftover.max(g.worst_leftover);
        all.squares += one.squares;
        all.counted += one.counted;
        all.gouges.extend(&one.gouges);
        all.leftovers.extend(&one.leftovers);
        all.hand.extend(&one.hand);
        for (&class, counts) in &one.counts {
            let own = all.counts.entry(class).or_default();
            own.iter_mut().zip(counts).for_each(|(a, b)| *a += b);
        }
        for touched in one.worst.values().flatten() {
            all.rank(*touched);
        }
    }
    if before.is_some() {
        // The lines of the programs may be others than before.
        for touched in all.gouges.iter_mut().chain(all.worst.values_mut().flatten()).filter(|t| t.line.is_some()) {
            touched.line = near.beyond(touched.at, touched.height).1.map(|l| (l.stage, l.line));
        }
    }
    if all.counted > 0 {
        all.figures.rms = (all.squares / all.counted as f64).sqrt();
    }
    all
}

fn probe_wall(wall: &Wall, wanted: &Wanted, access: &Access, leaning: &Leaning, near: &Near, leftover: bool) -> Probed {
    let mut probed = Probed::default();
    let (floor, top) = (wanted.floor(wall.low), wanted.floor(wall.high));
    let middle = 0.5 * (floor + top);
    let low = (floor + ABOVE_FLOOR).min(middle);
    let high = (top - BELOW_TOP).max(middle);
    let parts = ((wall.path.length() / SPACING).ceil() as usize).clamp(1, 1_000_000);
    for i in 0..=parts {
        let t = i as f64 / parts as f64;
        let p = wall.path.at(t);
        let Some(direction) = wall.path.direction(t) else { continue };
        let inward = direction.left();
        probed.figures.probes += 1;
        // Where a leaning wall begins beside it, the face of a thicker blank is cut away there.
        let spared = leaning.begins_in_face() && leaning.spares_face(p, high, WALL);
        let high = if spared { high.min(wanted.face - BELOW_TOP).max(middle) } else { high };
        let (cut, by) = near.beyond(p, high);
        if cut > WALL {
            let line = by.map(|l| (l.stage, l.line));
            probed.gouges.push(Touched { class: wall.low, at: p, height: high, beyond: cut, line });
        }
        probed.figures.worst_gouge = probed.figures.worst_gouge.max(cut);
        if !leftover {
            continue;
        }
        let (left, nearest) = near.beyond(p, low);
        if left < -PLAIN && !access.stands_beside(wall.low, p, inward) {
            let gap = access.exactly_beyond(wall.low, p);
            if gap > REACHED {
                probed.figures.at_hand_work += 1;
                probed.hand.push(HandProbe { class: wall.low, at: p, inward, gap });
                continue;
            }
        }
        if left < -WALL {
            if let Some(gap) = access.wall_surely_beyond(wall.low, p, inward).filter(|&gap| gap > REACHED) {
                probed.figures.at_hand_work += 1;
                probed.hand.push(HandProbe { class: wall.low, at: p, inward, gap });
                continue;
            }
            // A tab keeps its height; above it the wall must be cut.
            if let Some(tabs) = tabs_of(wanted, wall.low)
                && near.beyond(p, wanted.underside + tabs.left.to_mm() + 2.0 * ABOVE_FLOOR).0 >= -WALL
            {
                continue;
            }
            probed.leftovers.push(Touched { class: wall.low, at: p, height: low, beyond: left, line: None });
        }
        let (off, height, by) = if cut > left.abs() { (cut, high, by) } else { (left, low, nearest) };
        let line = by.map(|l| (l.stage, l.line));
        probed.count(Touched { class: wall.low, at: p, height, beyond: off, line });
        probed.figures.worst_leftover = probed.figures.worst_leftover.max(-left);
    }
    probed
}

/// Shares of a leaning wall's height, from its top, at which it is probed; its very top and foot are probed too.
const SHARES: [f64; 5] = [0.1, 0.3, 0.5, 0.7, 0.9];

/// A wall that leans: probed at several heights, each where this wall is the one that decides. Where another one does, or the
/// middle between two is passed, there is no wall at that height.
fn probe_leaning(wall: &Wall, wanted: &Wanted, leaning: &Leaning, near: &Near, leftover: bool) -> Probed {
    let mut probed = Probed::default();
    let (floor, top) = (wanted.floor(wall.low), wanted.floor(wall.high).min(wanted.face));
    let (lean, tall) = (wanted.lean(wall.low), top - floor);
    let shares = SHARES.iter().map(|s| top - s * tall);
    let ends = [top - BELOW_TOP, floor + ABOVE_FLOOR].into_iter().filter(|z| (floor..=top).contains(z));
    let heights: Vec<f64> = shares.chain(ends).collect();
    let parts = ((wall.path.length() / SPACING).ceil() as usize).clamp(1, 1_000_000);
    for i in 0..=parts {
        let t = i as f64 / parts as f64;
        let Some(direction) = wall.path.direction(t) else { continue };
        let (p, inward) = (wall.path.at(t), direction.left());
        for &height in &heights {
            let at = p + inward * ((top - height) * lean);
            let Some(asked) = leaning.asked(wall.low, at, 0.0) else { continue };
            if (asked.height - height).abs() > 1e-6 {
                continue;
            }
            probed.figures.probes += 1;
            let (cut, by) = near.beyond(at, height);
            let line = by.map(|l| (l.stage, l.line));
            if cut > WALL {
                probed.gouges.push(Touched { class: wall.low, at, height, beyond: cut, line });
            }
            probed.figures.worst_gouge = probed.figures.worst_gouge.max(cut);
            if !leftover {
                continue;
            }
            // What the flat at the vee's tip leaves is told cell by cell.
            if cut < -PLAIN && leaning.beyond_vee(wall.low, at, &asked) > 0.0 {
                probed.figures.at_hand_work += 1;
                continue;
            }
            if cut < -WALL {
                probed.leftovers.push(Touched { class: wall.low, at, height, beyond: cut, line: None });
            }
            probed.figures.worst_leftover = probed.figures.worst_leftover.max(-cut);
            probed.count(Touched { class: wall.low, at, height, beyond: cut, line });
        }
    }
    probed
}

/// The tabs that hold what a class's cut sets free.
pub(crate) fn tabs_of(wanted: &Wanted, class: Class) -> Option<Tabs> {
    let held = match class {
        MARGIN => wanted.intent.outline.as_ref().map(|o| &o.held),
        _ => wanted.area(class).map(|a| &a.held),
    };
    match held {
        Some(Held::Tabs(tabs)) => Some(*tabs),
        _ => None,
    }
}
