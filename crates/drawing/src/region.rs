//! Names to regions, and what each name picks.

use crate::crossing::any_meet;
use crate::kinds;
use crate::model::{Drawing, Format, NameSummary, NamedContour, NamedPath};
use doubt::Doubt;
use plane::{Bounds, Contour, FillRule, Region, Shape};
use std::collections::BTreeMap;

/// The name that picks everything that is painted.
pub const EVERYTHING: &str = "*";

/// What has a name.
#[derive(Debug, Clone, Default)]
pub struct Named<'d> {
    /// Closed contours.
    pub closed: Vec<&'d NamedContour>,
    /// Paths that don't close.
    pub open: Vec<&'d NamedPath>,
}

impl Drawing {
    /// The region of everything with a name, and what to say about it.
    ///
    /// A DXF's layer is filled by nesting (even-odd over its contours). An SVG's paths are each filled by their own
    /// rule and then united. Layers are compared without regard to case. [`EVERYTHING`] picks all that is painted.
    /// Arcs stay exact unless contours cross or touch; then the result is within [`plane::FLATTEN`] + [`plane::FIT`].
    pub fn region(&self, name: &str) -> (Region, Vec<Doubt>) {
        let picked: Vec<&NamedContour> = self.picked(name);
        let open = self.open_paths.iter().filter(|p| self.is_named(&p.names, name)).count();
        if picked.is_empty() {
            return (Region::default(), vec![kinds::nothing_named(self, name, open)]);
        }
        let mut doubts = Vec::new();
        if open > 0 {
            doubts.push(kinds::open_left_out(&self.file, name, open));
        }
        let region = combined(&fills(self.format, &picked));
        if region.is_empty() {
            doubts.push(kinds::no_area(&self.file, name));
        }
        (region, doubts)
    }

    /// The contours and open paths that have a name, painted or not, in the order of the file.
    pub fn named(&self, name: &str) -> Named<'_> {
        Named {
            closed: self.contours.iter().filter(|c| self.is_named(&c.names, name)).collect(),
            open: self.open_paths.iter().filter(|p| self.is_named(&p.names, name)).collect(),
        }
    }

    /// The contours that a name picks: an unpainted one only by its own name, or if nothing else has the name.
    fn picked(&self, name: &str) -> Vec<&NamedContour> {
        let named: Vec<&NamedContour> = self.contours.iter().filter(|c| self.is_named(&c.names, name)).collect();
        let visible = |c: &NamedContour| c.painted || self.is_named(&c.names[..c.own_names.min(c.names.len())], name);
        let seen: Vec<&NamedContour> =
            named.iter().copied().filter(|c| if name == EVERYTHING { c.painted } else { visible(c) }).collect();
        if seen.is_empty() { named } else { seen }
    }

    fn is_named(&self, names: &[String], name: &str) -> bool {
        name == EVERYTHING
            || match self.format {
                Format::Dxf => names.iter().any(|n| n.to_uppercase() == name.to_uppercase()),
                _ => names.iter().any(|n| n == name),
            }
    }

    /// Every name that picks something, in the order of the file, with what it picks.
    pub fn names(&self) -> Vec<NameSummary> {
        let key = |name: &str| if self.format == Format::Dxf { name.to_uppercase() } else { name.to_owned() };
        let mut order: Vec<String> = Vec::new();
        let mut found: BTreeMap<String, NameSummary> = BTreeMap::new();
        let mut add = |name: &String, closed: usize, open: usize, bounds: Bounds| {
            let key = key(name);
            let summary = found.entry(key.clone()).or_insert_with(|| {
                order.push(key);
                NameSummary { name: name.clone(), contours: 0, open: 0, bounds: Bounds::EMPTY, area: 0.0 }
            });
            summary.contours += closed;
            summary.open += open;
            summary.bounds = summary.bounds.union(bounds);
        };
        for c in &self.contours {
            let bounds = c.contour.bounds();
            c.names.iter().for_each(|n| add(n, 1, 0, bounds));
        }
        for p in &self.open_paths {
            let bounds = p.path.bounds();
            p.names.iter().for_each(|n| add(n, 0, 1, bounds));
        }
        let mut summaries: Vec<NameSummary> = order.into_iter().filter_map(|k| found.remove(&k)).collect();
        for summary in summaries.iter_mut().filter(|s| s.contours > 0) {
            summary.area = self.region(&summary.name).0.area();
        }
        summaries
    }
}

/// Contours that fill together, with their rule.
struct Fill<'a> {
    contours: Vec<&'a Contour>,
    rule: FillRule,
}

fn fills<'a>(format: Format, picked: &[&'a NamedContour]) -> Vec<Fill<'a>> {
    let mut fills: BTreeMap<(String, usize), Fill<'a>> = BTreeMap::new();
    for c in picked {
        let key = match format {
            // Each layer by itself, so that a name for several layers unites them.
            Format::Dxf => (c.names.first().map(|n| n.to_uppercase()).unwrap_or_default(), 0),
            _ => (String::new(), c.path),
        };
        fills.entry(key).or_insert_with(|| Fill { contours: Vec::new(), rule: c.rule }).contours.push(&c.contour);
    }
    fills.into_values().collect()
}

fn combined(fills: &[Fill<'_>]) -> Region {
    let all: Vec<&Contour> = fills.iter().flat_map(|f| f.contours.iter().copied()).collect();
    if any_meet(&all) == Some(false) && all.len() <= MOST_NESTED {
        return nested(fills);
    }
    let regions: Vec<Region> =
        fills.iter().map(|f| plane::regions_from_rings(f.contours.iter().copied(), f.rule)).collect();
    if let [region] = &regions[..] { region.clone() } else { plane::union(&regions) }
}

/// The union of groups of contours that share no point, each filled by the non-zero rule. Arcs stay exact.
pub(crate) fn nested_in(groups: &[Vec<&Contour>]) -> Region {
    let fill = |group: &Vec<_>| Fill { contours: group.clone(), rule: FillRule::NonZero };
    nested(&groups.iter().map(fill).collect::<Vec<_>>())
}

/// Beyond this many contours the sweep of the combiner is the faster way.
const MOST_NESTED: usize = 5_000;

/// The union of fills whose contours share no point: each contour is an edge of it or not, as a whole.
fn nested(fills: &[Fill<'_>]) -> Region {
    struct Ring<'a> {
        contour: &'a Contour,
        fill: usize,
        area: f64,
        bounds: Bounds,
    }
    let mut rings: Vec<Ring<'_>> = Vec::new();
    for (fill, f) in fills.iter().enumerate() {
        let ring = |c: &&'_ Contour| (c.area(), c.bounds());
        rings.extend(f.contours.iter().map(|c| {
            let (area, bounds) = ring(c);
            Ring { contour: c, fill, area, bounds }
        }));
    }
    let filled = |winding: &[i32]| {
        winding.iter().zip(fills).any(|(w, f)| match f.rule {
            FillRule::EvenOdd => w % 2 != 0,
            FillRule::NonZero => *w != 0,
        })
    };
    let mut outers: Vec<(usize, Vec<usize>)> = Vec::new();
    let mut holes: Vec<usize> = Vec::new();
    for (i, ring) in rings.iter().enumerate() {
        // No contour meets this one, so any of its points tells for all.
        let Some(p) = ring.contour.vertices.first().map(|v| v.p) else { continue };
        let mut outside = vec![0; fills.len()];
        for (j, other) in rings.iter().enumerate() {
            if i != j && other.bounds.contains(p) {
                outside[other.fill] += other.contour.winding(p);
            }
        }
        let mut inside = outside.clone();
        inside[ring.fill] += if ring.area < 0.0 { -1 } else { 1 };
        match (filled(&inside), filled(&outside)) {
            (true, false) => outers.push((i, Vec::new())),
            (false, true) => holes.push(i),
            _ => {}
        }
    }
    for hole in holes {
        let p = rings[hole].contour.vertices[0].p;
        let around = outers.iter_mut().filter(|(o, _)| rings[*o].bounds.contains(p) && rings[*o].contour.contains(p));
        if let Some(outer) = around.min_by(|a, b| rings[a.0].area.abs().total_cmp(&rings[b.0].area.abs())) {
            outer.1.push(hole);
        }
    }
    let turned = |i: usize, positive: bool| {
        let ring = &rings[i];
        if (ring.area > 0.0) == positive { ring.contour.clone() } else { ring.contour.reversed() }
    };
    let shapes = outers.into_iter().filter(|(o, _)| rings[*o].area.abs() > 1e-9).map(|(outer, holes)| Shape {
        outer: turned(outer, true),
        holes: holes.into_iter().map(|h| turned(h, false)).collect(),
    });
    Region { shapes: shapes.collect() }
}
