//! Runs joined to a graph by who follows whom, not by where they end: on a site, where one run ends the next begins; a pair
//! of sites sees the same run in opposite directions; and a disc rolls from each site on to the next. So nodes hold
//! together where several of them lie closer than they can be told apart.

use super::axis::{Axis, Branch, root};
use super::sites::Site;
use super::trace::{Run, Spot};
use std::collections::BTreeMap;

/// Runs no longer than this are points, mm.
const POINT: f64 = 1e-6;
/// Nodes joined by a branch no longer than this are one that rounding drew apart, mm.
const APART: f64 = 2e-5;
/// Two accounts of one branch differ by no more than this share of its length.
const SAME_LENGTH: f64 = 0.001;
/// And lie no further apart than this, mm: twice what chords may stray.
const ON: f64 = 0.01;

/// How often each pair of sites sees each other, from the lower and from the higher one.
pub(super) fn counts(seen: &BTreeMap<Site, Vec<Run>>) -> BTreeMap<(Site, Site), [usize; 2]> {
    let mut count: BTreeMap<(Site, Site), [usize; 2]> = BTreeMap::new();
    for run in seen.values().flatten().filter(|r| r.site != r.other) {
        count.entry(run.pair()).or_default()[usize::from(run.site > run.other)] += 1;
    }
    count
}

/// Drops pairs of runs that are points: where more than three sites are touched at once, pairs that cross there would make a
/// loop. Then short runs that are seen from one side only, until both sides agree or nothing short is left.
pub(super) fn settle(seen: &mut BTreeMap<Site, Vec<Run>>) {
    for ((low, high), from) in counts(seen) {
        let point = |site: Site, other: Site| {
            let runs = seen.get(&site)?;
            runs.iter().position(|r| r.other == other).filter(|&k| runs[k].length() <= POINT)
        };
        if from == [1, 1]
            && let (Some(a), Some(b)) = (point(low, high), point(high, low))
        {
            for (site, k) in [(low, a), (high, b)] {
                if let Some(runs) = seen.get_mut(&site) {
                    drop_run(runs, k);
                }
            }
        }
    }
    loop {
        let mut dropped = false;
        for ((low, high), [from_low, from_high]) in counts(seen) {
            if from_low == from_high {
                continue;
            }
            let (site, other) = if from_low > from_high { (low, high) } else { (high, low) };
            let Some(runs) = seen.get_mut(&site) else { continue };
            let shortest = (0..runs.len())
                .filter(|&k| runs[k].other == other && runs[k].is_short())
                .min_by(|&a, &b| runs[a].length().total_cmp(&runs[b].length()));
            if let Some(k) = shortest {
                drop_run(runs, k);
                dropped = true;
            }
        }
        if !dropped {
            return;
        }
    }
}

/// Drops a run; what it parted is one again.
fn drop_run(runs: &mut Vec<Run>, k: usize) {
    runs.remove(k);
    if k > 0 && k < runs.len() && runs[k - 1].other == runs[k].other {
        let rest = runs.remove(k);
        runs[k - 1].spots.extend(rest.spots);
    }
}

/// The graph of all runs.
pub(super) fn join(rings: &[Vec<Site>], seen: BTreeMap<Site, Vec<Run>>) -> Axis {
    let mut first: BTreeMap<Site, (usize, usize)> = BTreeMap::new();
    let mut runs: Vec<Run> = Vec::new();
    for (site, own) in seen {
        if !own.is_empty() {
            first.insert(site, (runs.len(), runs.len() + own.len() - 1));
        }
        runs.extend(own);
    }
    // Ends are numbered 2k (start) and 2k + 1 (end) of run k.
    let mut group: Vec<usize> = (0..2 * runs.len()).collect();
    let mut unite = |a: usize, b: usize| {
        let (a, b) = (root(&mut group, a), root(&mut group, b));
        group[a.max(b)] = a.min(b);
    };
    for &(from, to) in first.values() {
        (from..to).for_each(|k| unite(2 * k + 1, 2 * k + 2));
    }
    for ring in rings {
        let seeing: Vec<(usize, usize)> = ring.iter().filter_map(|s| first.get(s).copied()).collect();
        for (k, &(_, last)) in seeing.iter().enumerate() {
            let (next, _) = seeing[(k + 1) % seeing.len()];
            unite(2 * last + 1, 2 * next);
        }
    }
    let twin = twins(&runs);
    for (k, run) in runs.iter().enumerate() {
        if run.site == run.other {
            unite(2 * k, 2 * k + 1);
        } else if let Some(t) = twin[k] {
            unite(2 * k, 2 * t + 1);
            unite(2 * k + 1, 2 * t);
        }
    }
    let mut number = vec![usize::MAX; group.len()];
    let mut nodes: Vec<Spot> = Vec::new();
    let spot_of = |end: usize| {
        if end.is_multiple_of(2) { runs[end / 2].spots[0] } else { runs[end / 2].spots[runs[end / 2].spots.len() - 1] }
    };
    for end in 0..group.len() {
        let r = root(&mut group, end);
        if number[r] == usize::MAX {
            number[r] = nodes.len();
            nodes.push(spot_of(end));
        }
        number[end] = number[r];
    }
    // Of twins the lower site's run is kept; a run without a twin is kept as it is.
    let kept = |k: usize| runs[k].site != runs[k].other && twin[k].is_none_or(|_| runs[k].site < runs[k].other);
    let wanted: Vec<usize> = (0..runs.len()).filter(|&k| kept(k)).collect();
    let ends: Vec<[usize; 2]> = wanted.iter().map(|&k| [number[2 * k], number[2 * k + 1]]).collect();
    let apart: Vec<bool> = wanted.iter().map(|&k| runs[k].length() > APART).collect();
    let mut spots: Vec<Option<Vec<Spot>>> = runs.into_iter().map(|r| Some(r.spots)).collect();
    let branches = wanted.iter().zip(ends).filter_map(|(&k, ends)| Some(Branch { spots: spots[k].take()?, ends }));
    let branches: Vec<(Branch, bool)> = branches.zip(apart).collect();
    let one_sided: Vec<bool> = wanted.iter().map(|&k| twin[k].is_none()).collect();
    contracted(nodes, without_doubles(branches, &one_sided))
}

/// Leaves out a branch that was seen from one side only where another lies on it that was seen from the other only, by a
/// neighbour of its site: both end and run alike.
fn without_doubles(mut branches: Vec<(Branch, bool)>, one_sided: &[bool]) -> Vec<(Branch, bool)> {
    let mut doubled = vec![false; branches.len()];
    let lone: Vec<usize> = (0..branches.len()).filter(|&k| one_sided[k]).collect();
    for (i, &k) in lone.iter().enumerate() {
        for &m in &lone[i + 1..] {
            let (a, b) = (&branches[k].0, &branches[m].0);
            let ends = a.ends == b.ends || (a.ends[0] == b.ends[1] && a.ends[1] == b.ends[0]);
            if ends && !doubled[m] && (a.length() - b.length()).abs() <= SAME_LENGTH * a.length() && lies_on(a, b) {
                doubled[m] = true;
            }
        }
    }
    let mut k = 0;
    branches.retain(|_| {
        k += 1;
        !doubled[k - 1]
    });
    branches
}

/// Whether the middle spot of a branch lies on another branch.
fn lies_on(a: &Branch, b: &Branch) -> bool {
    let at = a.spots[a.spots.len() / 2].at;
    b.spots.windows(2).any(|w| {
        let piece = plane::Segment::Line { a: w[0].at, b: w[1].at };
        piece.distance(at) <= ON
    })
}

/// The graph without the branches that aren't `apart` from a point, their ends made one: loops among them enclose nothing.
fn contracted(nodes: Vec<Spot>, branches: Vec<(Branch, bool)>) -> Axis {
    let mut group: Vec<usize> = (0..nodes.len()).collect();
    for (branch, _) in branches.iter().filter(|(_, apart)| !apart) {
        let [a, b] = branch.ends.map(|end| root(&mut group, end));
        group[a.max(b)] = a.min(b);
    }
    let mut number = vec![usize::MAX; nodes.len()];
    let mut kept = Vec::new();
    for (k, node) in nodes.into_iter().enumerate() {
        // The least of a group is its root.
        let r = root(&mut group, k);
        if r == k {
            number[k] = kept.len();
            kept.push(node);
        }
        number[k] = number[r];
    }
    let branches = branches.into_iter().filter(|(_, apart)| *apart);
    let branches = branches.map(|(b, _)| Branch { ends: b.ends.map(|end| number[end]), ..b });
    Axis { branches: branches.collect(), nodes: kept }
}

/// For each run the one that its other site sees: of several, the one whose middle is nearest.
fn twins(runs: &[Run]) -> Vec<Option<usize>> {
    let mut of_pair: BTreeMap<(Site, Site), [Vec<usize>; 2]> = BTreeMap::new();
    for (k, run) in runs.iter().enumerate().filter(|(_, r)| r.site != r.other) {
        of_pair.entry(run.pair()).or_default()[usize::from(run.site > run.other)].push(k);
    }
    let mut twin = vec![None; runs.len()];
    for [low, high] in of_pair.values() {
        let mut near: Vec<(f64, usize, usize)> = Vec::new();
        for &a in low {
            for &b in high {
                near.push((runs[a].middle().at.distance(runs[b].middle().at), a, b));
            }
        }
        near.sort_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)).then(x.2.cmp(&y.2)));
        for (_, a, b) in near {
            if twin[a].is_none() && twin[b].is_none() {
                (twin[a], twin[b]) = (Some(b), Some(a));
            }
        }
    }
    twin
}
