//! Closed contours made a valid region, with everything found and done on the way.
//!
//! [`check`] takes contours in any order, orientation and nesting. A contour that neither crosses, runs along nor is
//! swallowed by anything comes out vertex for vertex, at most turned round; where contours cross, they are cut at the
//! meeting points and the arcs between stay arcs. Nothing goes without a [`Finding`]: kind, place, amount, and the
//! contours concerned by their index.
//!
//! # Tolerance
//! Points within 1e-6 mm are one; pieces under 0.4 µm wide are left out (and said); nothing else moves. The accuracy
//! budget of 1 µm is used only to call a ring a copy of another.
//!
//! # Bounds
//! Coordinates to ±2e6 mm. Work is n log n in the number of segments plus the pairs of segments whose boxes meet, at
//! most 3e8 of them and 6e6 meetings; beyond that the region is empty and [`FindingKind::Tangled`] says where
//! counting stopped. No input panics.

pub(crate) mod clean;
mod contacts;

use crate::arrange::loops::{Ring, place_of, rings};
use crate::arrange::{MERGE, Source, Trouble, Winding, arrange};
use crate::{Contour, FillRule, Point, Region, Shape, regions_from_rings};
use clean::clean;
use std::collections::BTreeSet;

/// Coordinates beyond this are refused, mm.
pub const LARGEST: f64 = 2e6;
/// The accuracy budget for flattening and fitting, mm: a ring within it of another is a copy.
pub(crate) const BUDGET: f64 = 1e-3;
/// Pieces of a mean width below this are left out, mm. A square of 1 µm stays.
const SLIVER: f64 = 4e-4;

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum FindingKind {
    /// A coordinate or bulge is not a number or not finite; the contour is left out. Amount: how many vertices.
    NotFinite,
    /// A coordinate, or the bulge of an arc, reaches beyond [`LARGEST`]; the contour is left out. Amount: how far, mm.
    TooFar,
    /// Fewer than two segments of length are left; the contour is left out. Amount: its length, mm.
    NoArea,
    /// A vertex within a nanometre of the one before; left out. Amount: how far apart, mm.
    RepeatedPoint,
    /// A vertex on the straight line between its neighbours; left out. Amount: how far off the line, mm.
    IdlePoint,
    /// An arc of more than 1e9 mm radius; chords within 0.1 µm stand for it. Amount: its height over the chord, mm.
    FlatArc,
    /// A corner whose sides leave less than 0.01 rad between them; kept. Amount: the angle between the sides, radians.
    Cusp,
    /// The contour goes back the way it came; the part without width is left out. Amount: length of the spike, mm.
    Spike,
    /// The contour meets itself at a point without crossing; parted there. Amount: 0.
    TouchesItself,
    /// The contour runs along itself, there and back or twice the same way. Amount: length, mm.
    RunsAlongItself,
    /// The contour crosses itself; cut there. Amount: 0.
    CrossesItself,
    /// Two contours meet at a point without crossing; kept. Amount: 0.
    TouchAtPoint,
    /// Two contours run along each other. Amount: over which length, mm.
    TouchAlongEdge,
    /// Two contours cross; cut there. Amount: 0. (Contours that cross while they run along each other are reported as
    /// that only.)
    Crossing,
    /// The contour lies within the accuracy budget of another, so it may have been drawn twice. Amount: greatest
    /// distance, mm.
    Copy,
    /// The contour goes round the other way than its place in the region asks; turned. Amount: its area, mm².
    Reversed,
    /// The contour lies within two or more others. Amount: within how many.
    Nested,
    /// No part of the contour bounds the region, since both its sides are filled or both are not. Amount: its area,
    /// mm².
    Swallowed,
    /// A piece or hole less than 0.4 µm wide; left out. Amount: its area, mm².
    Sliver,
    /// The contours come together in a way that numbers of this size don't resolve; they were combined as flattened
    /// rings on a grid, so that all arcs were flattened and fitted again within the accuracy budget. Amount: how many
    /// contours.
    OnGrid,
    /// More meetings than are followed; there is no region. Amount: how many contours.
    Tangled,
}

/// Something found while checking contours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finding {
    /// What.
    pub kind: FindingKind,
    /// Where, mm. For a whole contour, its first vertex (for one that is not finite, its first finite vertex, else 0,
    /// 0).
    pub at: Point,
    /// How much; the kind says of what.
    pub amount: f64,
    /// Which contour, in the order given.
    pub contour: usize,
    /// The other contour, if there are two.
    pub other: Option<usize>,
}

/// What became of a contour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// It bounds the region as given (but for repeated and idle points).
    Kept,
    /// The same, the other way round.
    Turned,
    /// Parts of it bound the region, or another contour stands for it along its whole length.
    Parted,
    /// It bounds nothing.
    Gone,
}

/// Contours checked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Checked {
    /// Outer contours counter-clockwise, holes clockwise, all simple; contours may touch at points only.
    pub region: Region,
    /// In a fixed order.
    pub findings: Vec<Finding>,
    /// What became of each contour, in the order given.
    pub fates: Vec<Fate>,
    /// Within how many others each lies (where it is fewest, if contours cross).
    pub depths: Vec<u32>,
}

impl Checked {
    /// Whether the region is all that the contours ask for: nothing was unreadable and nothing given up.
    pub fn is_whole(&self) -> bool {
        use FindingKind::{NotFinite, Tangled, TooFar};
        !self.findings.iter().any(|f| matches!(f.kind, NotFinite | TooFar | Tangled))
    }

    /// The region settled, with the fates of contours that this changed.
    fn settled(&mut self, built: &Built, index: &[usize]) -> Region {
        let region = settled(built.region.clone());
        if region != built.region {
            let place = |c: &Contour| {
                let p = place_of(c);
                (c.vertices.len(), p.x.to_bits(), p.y.to_bits())
            };
            let left: BTreeSet<_> = region.contours().map(place).collect();
            for (ring, contour) in built.rings.iter().zip(built.region.contours()) {
                if let (Some((c, _)), false) = (ring.whole, left.contains(&place(contour))) {
                    self.fates[index[c]] = Fate::Parted;
                }
            }
        }
        region
    }

    /// The findings of one kind.
    pub fn of_kind(&self, kind: FindingKind) -> impl Iterator<Item = &Finding> + '_ {
        self.findings.iter().filter(move |f| f.kind == kind)
    }
}

/// The region that closed contours fill under a rule, with findings. See the module's notes on tolerance and bounds.
pub fn check<'a>(contours: impl IntoIterator<Item = &'a Contour>, rule: FillRule) -> Checked {
    let given: Vec<&Contour> = contours.into_iter().collect();
    let mut findings = Vec::new();
    let cleaned: Vec<(usize, Contour)> =
        given.iter().enumerate().filter_map(|(i, c)| Some((i, clean(c, i, &mut findings)?))).collect();
    let index: Vec<usize> = cleaned.iter().map(|c| c.0).collect();
    let inputs: Vec<&Contour> = cleaned.iter().map(|c| &c.1).collect();
    let sources: Vec<Source> = inputs.iter().map(|&contour| Source { contour, set: 0 }).collect();
    let mut checked =
        Checked { fates: vec![Fate::Gone; given.len()], depths: vec![0; given.len()], ..Checked::default() };
    let inside = |w: Winding| match rule {
        FillRule::EvenOdd => w[0] % 2 != 0,
        FillRule::NonZero => w[0] != 0,
    };
    let whole = |kind, at| Finding { kind, at, amount: inputs.len() as f64, contour: index[0], other: None };
    let arranged = MERGES.iter().find_map(|&eps| {
        let attempt = arrange(&sources, eps).and_then(|a| {
            let (rings, faces) = rings(&a, &inputs, inside)?;
            let built = shapes(rings)?;
            Ok((a, faces, built))
        });
        match attempt {
            Err(Trouble::Inconsistent) => None,
            other => Some(other),
        }
    });
    match arranged {
        Some(Ok((a, faces, built))) => {
            contacts::contacts(&a, &inputs, &index, &mut findings);
            for (k, &depth) in contacts::depths(&a, &inputs, &faces).iter().enumerate() {
                checked.depths[index[k]] = depth;
                if depth >= 2 {
                    let (at, amount) = (place_of(inputs[k]), f64::from(depth));
                    findings.push(Finding { kind: FindingKind::Nested, at, amount, contour: index[k], other: None });
                }
            }
            note_fates(&built, &inputs, &index, &mut checked, &mut findings);
            let changed = built.rings.iter().any(|r| r.whole.is_none());
            checked.region = if changed { checked.settled(&built, &index) } else { built.region };
        }
        Some(Err(Trouble::Tangled(at))) => findings.push(whole(FindingKind::Tangled, at)),
        Some(Err(Trouble::Inconsistent)) | None => {
            checked.region = regions_from_rings(inputs.iter().copied(), rule);
            for &i in &index {
                checked.fates[i] = Fate::Parted;
            }
            findings.push(whole(FindingKind::OnGrid, place_of(inputs[0])));
        }
    }
    checked.findings = findings;
    checked
}

/// Merging distances tried in turn, mm: a node whose order is beyond the numbers at one is plain at another.
pub(crate) const MERGES: [f64; 3] = [MERGE, MERGE / 10.0, MERGE * 10.0];

/// Times that a result is arranged again at most.
const MOST_TURNS: usize = 3;

/// A region arranged again until that changes nothing: cutting can leave horns that are narrower than the merging
/// distance and only show once what lay beside them is gone.
pub(crate) fn settled(mut region: Region) -> Region {
    for _ in 0..MOST_TURNS {
        let again = {
            let inputs: Vec<&Contour> = region.contours().collect();
            let sources: Vec<Source> = inputs.iter().map(|&contour| Source { contour, set: 0 }).collect();
            let attempt = arrange(&sources, MERGE).and_then(|a| Ok(rings(&a, &inputs, |w| w[0] > 0)?.0));
            let Ok(rings) = attempt else { return region };
            if rings.len() == inputs.len() && rings.iter().all(|r| r.whole.is_some()) {
                return region;
            }
            shapes(rings)
        };
        let Ok(built) = again else { return region };
        region = built.region;
    }
    region
}

/// What a ring of the result was before.
struct Origin {
    /// The whole contour that it is, and whether turned round.
    whole: Option<(usize, bool)>,
    /// The contours with a part in it.
    of: Vec<u32>,
}

/// A region built from rings, what each ring was, and what was too thin.
pub(crate) struct Built {
    pub(crate) region: Region,
    rings: Vec<Origin>,
    /// Place, area, contour.
    slivers: Vec<(Point, f64, usize)>,
}

/// Rings with one inside, put together.
pub(crate) fn shapes(rings: Vec<Ring>) -> Result<Built, Trouble> {
    let mut built = Built { region: Region::default(), rings: Vec::new(), slivers: Vec::new() };
    let mut order: Vec<(u32, usize)> = rings.iter().enumerate().map(|(k, r)| (r.inside, k)).collect();
    order.sort_unstable();
    let mut groups: Vec<Vec<usize>> =
        order.chunk_by(|a, b| a.0 == b.0).map(|g| g.iter().map(|x| x.1).collect()).collect();
    groups.sort_unstable();
    let mut rings: Vec<Option<Ring>> = rings.into_iter().map(Some).collect();
    for group in groups {
        let mut outers = Vec::new();
        let mut holes = Vec::new();
        for ring in group.into_iter().filter_map(|k| rings[k].take()) {
            let (area, length) = (ring.contour.area(), ring.contour.length());
            if 2.0 * area.abs() < SLIVER * length || length == 0.0 {
                built.slivers.push((place_of(&ring.contour), area.abs(), ring.of.first().map_or(0, |&c| c as usize)));
            } else if area > 0.0 {
                outers.push((ring, area, length));
            } else {
                holes.push((ring, area, length));
            }
        }
        let (outer, area, length) = match (outers.pop(), outers.is_empty()) {
            (Some(outer), true) => outer,
            (None, _) if holes.is_empty() => continue,
            _ => return Err(Trouble::Inconsistent),
        };
        let (area, length) = holes.iter().fold((area, length), |sum, h| (sum.0 + h.1, sum.1 + h.2));
        if 2.0 * area < SLIVER * length {
            built.slivers.push((place_of(&outer.contour), area, outer.of.first().map_or(0, |&c| c as usize)));
            continue;
        }
        let mut shape = Shape { outer: outer.contour, holes: Vec::with_capacity(holes.len()) };
        built.rings.push(Origin { whole: outer.whole, of: outer.of });
        for (hole, ..) in holes {
            shape.holes.push(hole.contour);
            built.rings.push(Origin { whole: hole.whole, of: hole.of });
        }
        built.region.shapes.push(shape);
    }
    Ok(built)
}

fn note_fates(built: &Built, inputs: &[&Contour], index: &[usize], checked: &mut Checked, findings: &mut Vec<Finding>) {
    for Origin { whole, of } in &built.rings {
        for &c in of {
            let fate = &mut checked.fates[index[c as usize]];
            if *fate == Fate::Gone {
                *fate = Fate::Parted;
            }
        }
        if let &Some((c, turned)) = whole {
            checked.fates[index[c]] = if turned { Fate::Turned } else { Fate::Kept };
        }
    }
    let about = |kind, k: usize| {
        let (at, amount) = (place_of(inputs[k]), inputs[k].area().abs());
        Finding { kind, at, amount, contour: index[k], other: None }
    };
    for &(at, amount, k) in &built.slivers {
        findings.push(Finding { kind: FindingKind::Sliver, at, amount, contour: index[k], other: None });
    }
    let thin: BTreeSet<usize> = built.slivers.iter().map(|s| s.2).collect();
    for (k, &given) in index.iter().enumerate() {
        match checked.fates[given] {
            Fate::Turned => findings.push(about(FindingKind::Reversed, k)),
            Fate::Gone if !thin.contains(&k) => findings.push(about(FindingKind::Swallowed, k)),
            _ => {}
        }
    }
}
