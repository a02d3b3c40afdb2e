//! Where tabs stand on an edge: spread evenly on straight runs, and nowhere that another cut would take them or that a finer
//! cutter comes near to in the end.

use crate::TABS_DO_NOT_FIT;
use doubt::{Doubt, Place};
use plane::{Bounds, Contour, Point, Region, RegionIndex, Segment, SegmentIndex};
use plate::Tabs;
use reach::Rings;

/// Shortest stretch between two tabs in which a cutter can come down, mm.
const SHORTEST_STRETCH: f64 = 1.0;
/// Added to what the cutter crosses over a tab, so that rounding doesn't shorten it, mm.
const TAB_SPARE: f64 = 0.02;
/// Places are tried so far apart, mm.
const EVERY: f64 = 0.5;
/// Clearance of a straight tab from the ends of its run, mm.
const OFF_ENDS: f64 = 0.25;
/// What lies this far beyond a groove is what a tab stands on, mm.
pub(crate) const INTO_WASTE: f64 = 0.03;
/// How far to the sides of the way a tab is looked at, radii.
const SIDEWAYS: [f64; 7] = [-1.0, -0.8, -0.5, 0.0, 0.5, 0.8, 1.0];
/// A way runs along a piece's edge within the cutter's radius and this, mm.
const BESIDE: f64 = 0.005;
/// Another cut may come this near to a tab's material, mm: less than a tab may be short.
const GRAZED: f64 = 0.01;

/// What lies between two tabs, and the way over the tab after it.
pub(crate) struct Stretch {
    pub(crate) between: Vec<Segment>,
    pub(crate) over: Vec<Segment>,
}

/// A piece of one of the ways through the blank.
struct Leg {
    /// Which way.
    ring: usize,
    /// Where it begins along it, mm.
    from: f64,
}

/// All that is cut through the blank, so that no tab is planned where it would go.
pub(crate) struct Cuts {
    radius: f64,
    all: SegmentIndex,
    legs: Vec<Leg>,
    /// What finer cutters clear in the end, and how near to it their tips come.
    finer: Vec<(RegionIndex, f64)>,
}

impl Cuts {
    /// Ways of one cutter, of `radius` mm, and regions that finer cutters clear after it, each with how far round it they go, mm.
    pub(crate) fn new<'a>(
        radius: f64,
        ways: impl IntoIterator<Item = &'a Contour>,
        finer: impl IntoIterator<Item = (Region, f64)>,
    ) -> Self {
        let (mut segments, mut legs) = (Vec::new(), Vec::new());
        for (ring, way) in ways.into_iter().enumerate() {
            let mut from = 0.0;
            for s in way.segments().filter(|s| s.length() > 0.0) {
                segments.push(s);
                legs.push(Leg { ring, from });
                from += s.length();
            }
        }
        let finer = finer.into_iter().map(|(region, by)| (RegionIndex::new(&region), by)).collect();
        Self { radius, all: SegmentIndex::new(segments), legs, finer }
    }

    /// Whether a tab of a way stands untouched that the cutter crosses from one length along it to another. Before it stands what
    /// lies under the ramp, `rise` mm long, into which no finer cutter may come down.
    fn spare(&self, ring: usize, way: &Way, (start, end): (f64, f64), rise: f64) -> bool {
        let r = self.radius;
        let across = |at: f64, holds: &dyn Fn(Point, f64) -> bool| {
            way.at(at).is_some_and(|(p, along)| SIDEWAYS.into_iter().all(|s| holds(p + along.left() * (r * s), s)))
        };
        let steps = |from: f64, to: f64, step: f64| {
            let parts = ((to - from) / step).ceil().max(1.0) as usize;
            (0..=parts).map(move |k| from + (to - from) * k as f64 / parts as f64)
        };
        let kept = |q: Point, _: f64| !self.cut_by(q, ring, way.whole, (start, end));
        // What the cutter leaves where it crosses is hollow at both ends, by the cutter's round: along the edges it is longer.
        let from = start - rise;
        let clear = |at: f64| {
            move |q: Point, share: f64| {
                let stands = (at - from).min(end - at) >= r * libm::sqrt(1.0 - share * share) - 1e-9;
                !stands || self.finer.iter().all(|(region, by)| region.signed_distance(q) > *by)
            }
        };
        steps(start + r, end - r, 0.1 * r).all(|at| across(at, &kept))
            && (self.finer.is_empty() || steps(from, end, 0.3 * r).all(|at| across(at, &clear(at))))
    }

    /// Whether some way but the stretch of this one between two lengths cuts a point.
    fn cut_by(&self, q: Point, ring: usize, whole: f64, span: (f64, f64)) -> bool {
        let near = self.radius - GRAZED;
        let mut cut = false;
        self.all.for_each_near(Bounds { min: q, max: q }.grown(near), |i, segment| {
            let leg = &self.legs[i];
            if cut || segment.distance(q) >= near {
                return;
            }
            cut = leg.ring != ring || outside(segment, leg.from, whole, span).any(|piece| piece.distance(q) < near);
        });
        cut
    }
}

/// What of a segment that begins at a length along a closed way lies outside a span of it.
fn outside(segment: &Segment, from: f64, whole: f64, span: (f64, f64)) -> impl Iterator<Item = Segment> {
    let length = segment.length();
    let mut left = vec![(from, from + length)];
    for lap in -2..=2 {
        let (a, b) = (span.0 + f64::from(lap) * whole, span.1 + f64::from(lap) * whole);
        left =
            left.into_iter().flat_map(|(x, y)| [(x, y.min(a)), (x.max(b), y)]).filter(|(x, y)| y - x > 1e-9).collect();
    }
    let segment = *segment;
    left.into_iter().map(move |(x, y)| segment.piece((x - from) / length, (y - from) / length))
}

/// An edge that shall keep tabs.
pub(crate) struct Kept<'a> {
    /// As the plate file names it.
    pub(crate) name: &'a str,
    /// Line of the plate file, from 1.
    pub(crate) line: usize,
    /// The pieces that are held, each of which keeps its own tabs.
    pub(crate) pieces: &'a [SegmentIndex],
    /// Which of the ways it is.
    pub(crate) ring: usize,
    /// That way.
    pub(crate) edge: &'a Contour,
    /// Length of the ramp onto a tab, mm.
    pub(crate) rise: f64,
    /// Waste beside it that hangs on nothing but tabs.
    pub(crate) waste: &'a [&'a Rings],
    /// Pieces that keep one tab more each to a piece of waste.
    pub(crate) extra: &'a [(usize, &'a Rings)],
}

impl Kept<'_> {
    /// Which of the pieces the way of a cutter of this radius, mm, runs along.
    pub(crate) fn beside(&self, radius: f64) -> Vec<usize> {
        let way = Way::new(self.edge, radius);
        let along = lattice(&way);
        let at: Vec<Point> = along.into_iter().filter_map(|a| Some(way.at(a)?.0)).collect();
        let near = |i: &usize| at.iter().any(|&p| self.pieces[*i].nearest_within(p, radius + BESIDE).is_some());
        (0..self.pieces.len()).filter(near).collect()
    }
}

/// Lengths along a way at which places are tried.
fn lattice(way: &Way) -> Vec<f64> {
    let parts = (way.whole / EVERY).ceil().clamp(8.0, 20_000.0) as usize;
    (0..parts).map(|k| way.whole * (k as f64 + 0.5) / parts as f64).collect()
}

/// Places the tabs on an edge and cuts the edge into what lies between them.
pub(crate) fn stretches(cuts: &Cuts, kept: &Kept<'_>, tabs: &Tabs) -> Result<Vec<Stretch>, Doubt> {
    let way = Way::new(kept.edge, cuts.radius);
    let (count, length) = (tabs.count as usize, tabs.length.to_mm() + TAB_SPARE);
    let Some(spans) = placed(cuts, kept, &way, count, length) else {
        let at = way.segments.first().map_or(Point::default(), Segment::start);
        let takes = length + 2.0 * cuts.radius;
        return Err(TABS_DO_NOT_FIT
            .refusal(format!(
                "`{}` is {:.1} mm round at the cutter's path: no room for {count} tabs that take {takes:.1} mm each where no other cut \
                 takes them",
                kept.name, way.whole
            ))
            .at(Place::Blank { x: at.x, y: at.y, z: None })
            .noting(format!("line {} of the plate file asks for them", kept.line))
            .way_out("ask for fewer or shorter tabs, or hold it by a skin or by tape"));
    };
    let stretch = |i: usize| {
        let before = spans[(i + spans.len() - 1) % spans.len()].1 - if i == 0 { way.whole } else { 0.0 };
        let (start, end) = spans[i];
        Stretch { between: way.piece(before, start), over: way.piece(start, end) }
    };
    Ok((0..spans.len()).map(stretch).collect())
}

/// Where the tabs are along the way, in order: each piece beside it keeps so many.
fn placed(cuts: &Cuts, kept: &Kept<'_>, way: &Way, count: usize, length: f64) -> Option<Vec<(f64, f64)>> {
    let lattice = lattice(way);
    let mut beside: Vec<Vec<f64>> = vec![Vec::new(); kept.pieces.len().max(1)];
    for &along in &lattice {
        let nearest = |p: Point| {
            let off = |i: &usize| kept.pieces[*i].nearest(p).map_or(f64::INFINITY, |n| n.distance);
            (0..kept.pieces.len()).min_by(|a, b| off(a).total_cmp(&off(b)))
        };
        let piece = if kept.pieces.len() > 1 { way.at(along).and_then(|(p, _)| nearest(p)) } else { None };
        beside[piece.unwrap_or(0)].push(along);
    }
    let alone = beside.iter().filter(|b| !b.is_empty()).count() == 1;
    let mut spans: Vec<(f64, f64)> = Vec::new();
    for own in beside.iter().filter(|b| !b.is_empty()) {
        // Better on the blank's rim than on waste that something else must hold.
        let on_rim = |along: &&f64| {
            way.at(**along).is_some_and(|(p, d)| {
                let beyond = p + d.left() * (cuts.radius + INTO_WASTE);
                kept.waste.iter().all(|w| !w.contains(beyond))
            })
        };
        let rim: Vec<f64> =
            if kept.waste.is_empty() { Vec::new() } else { own.iter().filter(on_rim).copied().collect() };
        let room = 2.0 * count as f64 * (length + 2.0 * cuts.radius);
        let rather = rim.len() < own.len() && rim.len() as f64 * EVERY >= room;
        let own = if rather { &rim } else { own };
        for i in 0..count {
            let share = (i as f64 + 0.5) / count as f64;
            let wanted = if alone && !rather { way.whole * share } else { own[(share * own.len() as f64) as usize] };
            let round = |along: f64| {
                let off = (along - wanted).abs();
                off.min(way.whole - off)
            };
            let mut tried = own.clone();
            tried.sort_by(|a, b| round(*a).total_cmp(&round(*b)).then(a.total_cmp(b)));
            let fits =
                |span: &(f64, f64)| spaced(&spans, *span, way.whole) && cuts.spare(kept.ring, way, *span, kept.rise);
            let tried = || std::iter::once(wanted).chain(tried.iter().copied());
            let straight = tried().filter_map(|a| way.straight_about(length, a));
            let anywhere = tried().map(|a| way.tab_about(length, a));
            spans.push(straight.chain(anywhere).find(fits)?);
        }
    }
    for (piece, waste) in kept.extra {
        let onto = |along: &&f64| {
            way.at(**along).is_some_and(|(p, d)| waste.contains(p + d.left() * (cuts.radius + INTO_WASTE)))
        };
        let own: Vec<f64> = beside.get(*piece).into_iter().flatten().filter(onto).copied().collect();
        let fits = |span: &(f64, f64)| spaced(&spans, *span, way.whole) && cuts.spare(kept.ring, way, *span, kept.rise);
        let straight = own.iter().filter_map(|&a| way.straight_about(length, a));
        let anywhere = own.iter().map(|&a| way.tab_about(length, a));
        let found = straight.chain(anywhere).find(fits);
        spans.extend(found);
    }
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    Some(spans)
}

/// Whether between a span and all others there is room for the cutter to come down.
fn spaced(spans: &[(f64, f64)], (start, end): (f64, f64), whole: f64) -> bool {
    let apart = |from: f64, to: f64| (to - from).rem_euclid(whole);
    end - start + SHORTEST_STRETCH <= whole
        && spans.iter().all(|&(a, b)| {
            let (between, after) = (apart(end, a), apart(b, start));
            between >= SHORTEST_STRETCH
                && after >= SHORTEST_STRETCH
                && (b - a) + (end - start) + between + after <= whole + 1e-6
        })
}

/// The cutter's way round an edge.
struct Way {
    segments: Vec<Segment>,
    whole: f64,
    radius: f64,
}

impl Way {
    fn new(edge: &Contour, radius: f64) -> Self {
        let segments: Vec<Segment> = edge.segments().filter(|s| s.length() > 0.0).collect();
        Self { whole: segments.iter().map(Segment::length).sum(), segments, radius }
    }

    /// Edge beside a mm of the way: less where it goes round the outside of a bend, none at all round a sharp corner.
    fn edge_share(&self, segment: &Segment) -> f64 {
        match segment {
            // The wall is to the right: an arc turning right goes round the outside.
            Segment::Arc { radius, sweep, .. } if *sweep < 0.0 => ((radius - self.radius) / radius).max(0.0),
            _ => 1.0,
        }
    }

    /// The point at a length along the way and its direction there.
    fn at(&self, along: f64) -> Option<(Point, Point)> {
        let (segment, from, to) = self.around(along, true);
        let share = ((along - from) / (to - from).max(1e-12)).clamp(0.0, 1.0);
        Some((segment.at(share), segment.direction(share)?))
    }

    /// The span about a place along the way that leaves a tab of this length, if all of it lies on one straight run.
    fn straight_about(&self, length: f64, middle: f64) -> Option<(f64, f64)> {
        let (segment, from, to) = self.around(middle, true);
        let half = length / 2.0 + self.radius;
        let room = half + OFF_ENDS;
        let straight = matches!(segment, Segment::Line { .. }) && middle - from >= room && to - middle >= room;
        straight.then_some((middle - half, middle + half))
    }

    /// The span about a place along the way beside which this length of edge stands, and the cutter's radius at each end.
    fn tab_about(&self, length: f64, middle: f64) -> (f64, f64) {
        let reach = |forward: bool| {
            let (mut left, mut at) = (length / 2.0 + self.radius, middle);
            // Twice round is more than any tab that fits.
            while left > 1e-9 && (at - middle).abs() < 2.0 * self.whole {
                let (segment, from, to) = self.around(at, forward);
                let (room, share) = (if forward { to - at } else { at - from }, self.edge_share(segment));
                let step = if share * room >= left { left / share } else { room };
                left -= share * step;
                at += if forward { step.max(1e-6) } else { -step.max(1e-6) };
            }
            at
        };
        (reach(false), reach(true))
    }

    /// The segment that a step from a length along the way goes over, with the lengths where it begins and ends.
    fn around(&self, at: f64, forward: bool) -> (&Segment, f64, f64) {
        let laps = (at / self.whole).floor();
        let within = at - laps * self.whole;
        let mut along = 0.0;
        for s in &self.segments {
            let end = along + s.length();
            if (forward && within < end - 1e-9) || (!forward && within <= end && within > along + 1e-9) {
                return (s, laps * self.whole + along, laps * self.whole + end);
            }
            along = end;
        }
        // At the seam: the first segment of the next lap, or the last of the one before.
        let (s, lap) =
            if forward { (&self.segments[0], laps + 1.0) } else { (&self.segments[self.segments.len() - 1], laps) };
        let base = lap * self.whole;
        if forward { (s, base, base + s.length()) } else { (s, base - s.length(), base) }
    }

    /// What lies between two lengths along the way.
    fn piece(&self, from: f64, to: f64) -> Vec<Segment> {
        piece(&self.segments, self.whole, from, to)
    }
}

/// The piece of a closed run between two lengths along it; they may lie before its start or beyond its end.
fn piece(segments: &[Segment], whole: f64, from: f64, to: f64) -> Vec<Segment> {
    let mut found = Vec::new();
    let laps = (from / whole).floor();
    let (from, to) = (from - laps * whole, to - laps * whole);
    let mut along = 0.0;
    for s in segments.iter().chain(segments) {
        let length = s.length();
        let (t0, t1) = (((from - along) / length).max(0.0), ((to - along) / length).min(1.0));
        if t1 - t0 > 1e-9 {
            found.push(if t0 == 0.0 && t1 == 1.0 { *s } else { s.piece(t0, t1) });
        }
        along += length;
        if along >= to {
            break;
        }
    }
    found
}
