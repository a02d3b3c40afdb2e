//! Strokes of a file to contours and open paths: cleaned, joined, checked for crossings, and every repair listed.

use crate::curve::Chain;
use crate::model::{Drawing, Format, Mend, NamedContour, NamedPath, ReadOptions, Repair};
use crate::{clean, crossing, join, kinds};
use plane::{FillRule, Point};
use std::collections::BTreeMap;

/// One path of the file, in mm, before anything is joined.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Stroke {
    /// Strokes of one group may join end to end.
    pub(crate) group: String,
    /// Strokes of one container may join if that makes a closed contour.
    pub(crate) container: String,
    pub(crate) names: Vec<String>,
    pub(crate) own_names: usize,
    pub(crate) chain: Chain,
    pub(crate) elevation: Option<f64>,
    pub(crate) thickness: Option<f64>,
    pub(crate) width: Option<f64>,
    pub(crate) line: usize,
    pub(crate) path: usize,
    pub(crate) rule: FillRule,
    /// Whether the file fills it: then it closes by itself and is not joined to others.
    pub(crate) filled: bool,
    pub(crate) painted: bool,
}

impl Stroke {
    /// The name that repairs and doubts use.
    pub(crate) fn name(&self) -> String {
        self.names.first().cloned().unwrap_or_default()
    }

    /// What joins with it: painted things never join unpainted ones.
    fn key(&self, by_container: bool) -> (String, bool) {
        (if by_container { self.container.clone() } else { self.group.clone() }, self.painted)
    }
}

/// Below this a gap is the file's rounding, not worth a word, mm.
pub(crate) const ROUNDING: f64 = 1e-4;
/// Open ends nearer than this to another are probably meant to meet, mm.
const NEARLY: f64 = 0.5;

/// Fills in the drawing's contours, open paths, repairs and the doubts about them.
pub(crate) fn assemble(drawing: &mut Drawing, strokes: Vec<Stroke>, options: &ReadOptions) {
    let tolerance = options.close_gaps.to_mm().clamp(0.0, 10.0);
    let mut repairs = Vec::new();
    let mut closed: Vec<Stroke> = Vec::new();
    let mut open: Vec<Stroke> = Vec::new();
    for mut stroke in strokes {
        if !clean::tidy(&mut stroke, tolerance, &mut repairs) {
            continue;
        }
        if stroke.chain.closed { closed.push(stroke) } else { open.push(stroke) }
    }
    // A DXF's layers are both.
    let passes: &[bool] = if drawing.format == Format::Dxf { &[false] } else { &[false, true] };
    for &by_container in passes {
        let mut groups: BTreeMap<(String, bool), Vec<Stroke>> = BTreeMap::new();
        for stroke in std::mem::take(&mut open) {
            groups.entry(stroke.key(by_container)).or_default().push(stroke);
        }
        for (_, group) in groups {
            let joined = join::join(group, tolerance, by_container, &mut repairs);
            closed.extend(joined.closed);
            open.extend(joined.open);
        }
    }
    let closed = clean::without_copies(closed, &mut repairs);
    put(drawing, closed, open);
    repairs.sort_by(|a, b| (a.mend, &a.name).cmp(&(b.mend, &b.name)).then(order(a.at, b.at)));
    let found = kinds::repairs(&drawing.file, &repairs);
    drawing.repairs = repairs;
    drawing.doubts.extend(found);
    let crossings = crossing::crossings(drawing);
    drawing.doubts.extend(crossings);
    let ends = open_ends(drawing, tolerance);
    drawing.doubts.extend(ends);
}

/// Left to right, then upward.
pub(crate) fn order(a: Point, b: Point) -> std::cmp::Ordering {
    a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y))
}

fn put(drawing: &mut Drawing, mut closed: Vec<Stroke>, mut open: Vec<Stroke>) {
    // The order of the file; what has the same line (or none) goes by place.
    let by_file = |a: &Stroke, b: &Stroke| {
        let place = |s: &Stroke| s.chain.vertices.first().map_or(Point::default(), |v| v.p);
        (a.line, a.path).cmp(&(b.line, b.path)).then(order(place(a), place(b)))
    };
    closed.sort_by(by_file);
    open.sort_by(by_file);
    drawing.contours = closed
        .into_iter()
        .map(|s| NamedContour {
            contour: s.chain.contour(),
            names: s.names,
            own_names: s.own_names,
            hint_elevation: s.elevation,
            hint_thickness: s.thickness,
            line: s.line,
            path: s.path,
            rule: s.rule,
            painted: s.painted,
        })
        .collect();
    drawing.open_paths = open
        .into_iter()
        .map(|s| NamedPath {
            path: s.chain.path(),
            names: s.names,
            own_names: s.own_names,
            hint_elevation: s.elevation,
            hint_thickness: s.thickness,
            width: s.width,
            line: s.line,
        })
        .collect();
}

/// A repair of one stroke.
pub(crate) fn repair(mend: Mend, stroke: &Stroke, at: Point, amount: f64) -> Repair {
    Repair { mend, name: stroke.name(), at, amount }
}

/// A doubt for each name with open paths: how many, where they end, and how nearly they meet.
fn open_ends(drawing: &Drawing, tolerance: f64) -> Vec<doubt::Doubt> {
    let mut by_name: BTreeMap<String, Vec<(Point, Point)>> = BTreeMap::new();
    for path in &drawing.open_paths {
        if let (Some(a), Some(b)) = (path.path.vertices.first(), path.path.vertices.last()) {
            by_name.entry(path.names.first().cloned().unwrap_or_default()).or_default().push((a.p, b.p));
        }
    }
    by_name
        .into_iter()
        .map(|(name, ends)| {
            let nearest = join::least_gap(&ends, tolerance, NEARLY);
            kinds::open_ends(&drawing.file, &name, &ends, nearest)
        })
        .collect()
}
