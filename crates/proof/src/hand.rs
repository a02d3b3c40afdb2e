//! Hand work: what no allowed cutter reaches, drawn together into spots with size and place.

use crate::access::Access;
use crate::finding::{Found, Tally, mm};
use crate::intent::{AREAS, Class, MARGIN, Wanted};
use crate::judge::HandRun;
use crate::kinds;
use crate::lean::Leaning;
use crate::probes::{HandProbe, SPACING};
use crate::relief::Grid;
use crate::verdict::HandWork;
use plane::{Bounds, Point};
use plate::Narrow;

/// Smaller spots are the grid's rounding, mm².
const DUST: f64 = 0.000_5;

struct Spot {
    class: Class,
    area: f64,
    gap: f64,
    wide: (f64, Point),
    bounds: Bounds,
    /// On a leaning wall, where the flat at the vee's tip keeps it away.
    at_vee: bool,
    /// Greatest height left, mm.
    high: f64,
}

/// Spots from the cells of cleared floors and from the probes along the other walls.
pub(crate) fn spots(
    wanted: &Wanted,
    access: &Access,
    leaning: &Leaning,
    grid: &Grid,
    runs: &[HandRun],
    probes: &[HandProbe],
    tally: &mut Tally,
) -> Vec<HandWork> {
    let mut spots = join_runs(grid, runs);
    // Probes know the gap exactly, down into the corner.
    let reach = 3.0 * grid.pitch;
    for spot in &mut spots {
        let near = spot.bounds.grown(reach);
        let gaps = probes.iter().filter(|p| p.class == spot.class && near.contains(p.at)).map(|p| p.gap);
        spot.gap = gaps.fold(spot.gap, f64::max);
    }
    spots.extend(along_edges(wanted, access, grid, probes));
    lost_strokes(wanted, &spots, tally);
    spots.retain(|s| s.area > DUST);
    spots.sort_by(|a, b| a.class.cmp(&b.class).then(b.area.total_cmp(&a.area)));
    spots.into_iter().map(|s| describe(wanted, access, leaning, s)).collect()
}

fn describe(wanted: &Wanted, access: &Access, leaning: &Leaning, spot: Spot) -> HandWork {
    let short = access.has_short_flutes(spot.class);
    let radius = access.thinnest(spot.class);
    let corner = spot.gap < 1.5 * radius && spot.wide.0 < 0.5 * radius;
    let needed = 2.0 * spot.wide.0;
    let (why, cutter_needed) = if spot.at_vee {
        let flat = mm(2.0 * leaning.tip(spot.class));
        (format!("the flat of {flat} at the vee's tip leaves up to {} standing here", mm(spot.high)), None)
    } else if wanted.lean(spot.class) > 0.0 && access.has_cutters(spot.class) {
        let what = if corner { "a corner of the floor" } else { "a floor" };
        let why = format!(
            "{what} between leaning walls where no flat cutter gets: up to {} stands beside the vee's way",
            mm(spot.high)
        );
        (why, if corner { None } else { Some(needed) })
    } else if !access.has_cutters(spot.class) {
        ("no flat cutter is allowed".to_owned(), None)
    } else if corner {
        ("an inside corner sharper than the thinnest allowed cutter".to_owned(), None)
    } else if needed >= 2.0 * radius - 0.01 && short {
        ("too deep for the flutes of the cutters that are thin enough".to_owned(), Some(2.0 * radius))
    } else {
        (format!("narrower than the thinnest allowed cutter ({})", mm(2.0 * radius)), Some(needed))
    };
    let gap = if spot.gap.is_finite() { spot.gap } else { 2.0 * spot.wide.0 };
    HandWork {
        area: wanted.name(spot.class).to_owned(),
        at: spot.wide.1,
        floor: wanted.floor(spot.class),
        area_left: spot.area,
        gap,
        cutter_needed,
        why,
    }
}

/// Runs of cells joined where they touch, be it by a corner, row by row.
fn join_runs(grid: &Grid, runs: &[HandRun]) -> Vec<Spot> {
    let mut runs = runs.to_vec();
    runs.sort_by_key(|r| (r.row, r.first));
    let mut parents: Vec<usize> = (0..runs.len()).collect();
    let mut last = 0..0;
    let mut i = 0;
    while i < runs.len() {
        let row = runs[i].row;
        let end = (i..runs.len()).find(|&k| runs[k].row != row).unwrap_or(runs.len());
        let below = if runs.get(last.start).is_some_and(|r| r.row + 1 == row) { last.clone() } else { 0..0 };
        let mut j = below.start;
        for k in i..end {
            if k > i && runs[k - 1].end == runs[k].first && runs[k - 1].is_like(&runs[k]) {
                unite(&mut parents, k - 1, k);
            }
            while j < below.end && runs[j].end < runs[k].first {
                j += 1;
            }
            let mut m = j;
            while m < below.end && runs[m].first <= runs[k].end {
                if runs[m].is_like(&runs[k]) {
                    unite(&mut parents, m, k);
                }
                m += 1;
            }
        }
        (last, i) = (i..end, end);
    }
    let mut index = vec![usize::MAX; runs.len()];
    let mut spots: Vec<Spot> = Vec::new();
    for (k, run) in runs.iter().enumerate() {
        let root = find(&mut parents, k);
        if index[root] == usize::MAX {
            index[root] = spots.len();
            let (class, wide, at_vee) = (run.class, run.wide, run.at_vee);
            spots.push(Spot { class, area: 0.0, gap: 0.0, wide, bounds: Bounds::EMPTY, at_vee, high: 0.0 });
        }
        let spot = &mut spots[index[root]];
        spot.area += f64::from(run.end - run.first) * grid.pitch * grid.pitch;
        spot.gap = spot.gap.max(run.gap);
        spot.high = spot.high.max(run.high);
        if run.wide.0 > spot.wide.0 {
            spot.wide = run.wide;
        }
        let ends = [run.first, run.end - 1].map(|c| grid.centre(c as usize, run.row as usize));
        spot.bounds = spot.bounds.union(Bounds::of(ends));
    }
    spots
}

pub(crate) fn find(parents: &mut [usize], i: usize) -> usize {
    let mut root = i;
    while parents[root] != root {
        root = parents[root];
    }
    let mut at = i;
    while parents[at] != root {
        at = std::mem::replace(&mut parents[at], root);
    }
    root
}

fn unite(parents: &mut [usize], a: usize, b: usize) {
    let (a, b) = (find(parents, a), find(parents, b));
    parents[a.max(b)] = a.min(b);
}

/// Corners of edges whose ground need not be cleared: the plate's edge, cut-outs that are held.
fn along_edges(wanted: &Wanted, access: &Access, grid: &Grid, probes: &[HandProbe]) -> Vec<Spot> {
    let mut spots: Vec<Spot> = Vec::new();
    for probe in probes.iter().filter(|p| !wanted.clears(p.class)) {
        let last = spots
            .iter_mut()
            .rev()
            .take(8)
            .find(|s| s.class == probe.class && s.bounds.grown(2.0 * SPACING).contains(probe.at));
        match last {
            Some(spot) => {
                spot.bounds = spot.bounds.with(probe.at);
                spot.gap = spot.gap.max(probe.gap);
            }
            None => spots.push(Spot {
                class: probe.class,
                area: 0.0,
                gap: probe.gap,
                wide: (0.0, probe.at + probe.inward * grid.pitch),
                bounds: Bounds::of([probe.at]),
                at_vee: false,
                high: 0.0,
            }),
        }
    }
    // The two walls of a corner come one after the other or not: spots that meet are one.
    let mut apart: Vec<Spot> = Vec::new();
    for mut spot in spots {
        while let Some(i) =
            apart.iter().position(|s| s.class == spot.class && s.bounds.grown(2.0 * SPACING).meets(spot.bounds))
        {
            let other = apart.swap_remove(i);
            spot.bounds = spot.bounds.union(other.bounds);
            spot.gap = spot.gap.max(other.gap);
        }
        apart.push(spot);
    }
    let mut spots = apart;
    for spot in &mut spots {
        measure(wanted, access, grid, spot);
    }
    spots
}

/// Counts what is out of reach round a corner.
fn measure(wanted: &Wanted, access: &Access, grid: &Grid, spot: &mut Spot) {
    let b = spot.bounds.grown(2.0 * grid.pitch);
    let step = grid.pitch.max(b.width().max(b.height()) / 200.0);
    let mut cells = 0u32;
    let count = |length: f64| (length / step).ceil().max(1.0) as usize;
    for row in 0..count(b.height()) {
        for column in 0..count(b.width()) {
            let p = b.min + Point::new((column as f64 + 0.5) * step, (row as f64 + 0.5) * step);
            if wanted.class_at(p) == spot.class && access.beyond(spot.class, p) > 0.0 {
                cells += 1;
                let wall = access.wall(spot.class, p).0;
                if wall > spot.wide.0 {
                    spot.wide = (wall, p);
                }
            }
        }
    }
    spot.area = f64::from(cells) * step * step;
}

/// Whole shapes that no cutter reaches are the maker's decision.
fn lost_strokes(wanted: &Wanted, spots: &[Spot], tally: &mut Tally) {
    for (i, area) in wanted.intent.areas.iter().enumerate() {
        let class = AREAS + i as Class;
        // Who leaves narrow strokes uncut leaves parts as well.
        if class == MARGIN || !wanted.clears(class) || area.strokes.narrow == Narrow::Left {
            continue;
        }
        let own: Vec<&Spot> = spots.iter().filter(|s| s.class == class).collect();
        for shape in &area.region.shapes {
            let whole = shape.area();
            let bounds = shape.outer.bounds();
            if own.is_empty() || whole <= DUST {
                continue;
            }
            let inside = own.iter().filter(|s| bounds.contains(s.wide.1) && shape.contains(s.wide.1));
            let lost: f64 = inside.map(|s| s.area).sum();
            if lost >= 0.97 * whole {
                let at = bounds.centre();
                let message = format!(
                    "a whole part of `{}` ({} by {}) is reached by no allowed cutter",
                    area.name,
                    mm(bounds.width()),
                    mm(bounds.height())
                );
                tally.add(
                    Found::on_plate(&kinds::STROKE_LOST)
                        .group(format!("{i} {:09.3} {:09.3}", at.x, at.y))
                        .at(at.x, at.y, area.floor.to_mm())
                        .amount(whole)
                        .saying(message, "allow a finer cutter, draw this part wider, leave it out, or say with `narrow` what becomes of it"),
                );
            }
        }
    }
}
