//! Where tabs stand on an edge: spread evenly on straight runs, and nowhere that another cut would take them or that a finer
//! cutter comes near to in the end.

mod bridge;
mod way;

use crate::TABS_DO_NOT_FIT;
use doubt::{Doubt, Place};
use plane::{Bounds, Contour, Point, Region, RegionIndex, Segment, SegmentIndex};
use plate::Tabs;
use quantity::Length;
use reach::Rings;
use way::Way;

/// Shortest stretch between two tabs in which a cutter can come down, mm.
const SHORTEST_STRETCH: f64 = 1.0;
/// Added to what the cutter crosses over a tab, so that rounding doesn't shorten it, mm.
const TAB_SPARE: f64 = 0.02;
/// Places are tried so far apart, mm.
const EVERY: f64 = 0.5;
/// No shorter tab is worth asking for, mm.
const SHORTEST_TAB: f64 = 0.5;
/// Of more tabs than this it isn't tried whether fewer would do.
const MOST_TRIED: u32 = 4;
/// What lies this far beyond a groove is what a tab stands on, mm.
pub(crate) const INTO_WASTE: f64 = 0.03;
/// How far to the sides of the way a tab is looked at, radii.
const SIDEWAYS: [f64; 7] = [-1.0, -0.8, -0.5, 0.0, 0.5, 0.8, 1.0];
/// A way runs along a piece's edge within the cutter's radius and this, mm.
const BESIDE: f64 = 0.005;
/// Another cut may come this near to a tab's material, mm: less than a tab may be short.
const GRAZED: f64 = 0.01;

/// Sine of the angle between two walls that run beside each other.
const ALONG: f64 = 0.1;

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

    /// Whether a tab of a way stands untouched. Before it stands what lies under the ramp, `rise` mm long, into which no finer cutter
    /// may come down.
    fn spare(&self, ring: usize, way: &Way, tab: Tab, rise: f64) -> bool {
        let (r, (start, end)) = (self.radius, tab.span);
        let across = |at: f64, holds: &dyn Fn(Point, f64) -> bool| {
            way.at(at).is_some_and(|(p, along)| SIDEWAYS.into_iter().all(|s| holds(p + along.left() * (r * s), s)))
        };
        // The edge in a corner of the piece is longer than the way: across the groove from there, too, the tab must stand.
        let in_corner = |&(corner, [into, out]): &(Point, [Point; 2])| {
            let half = libm::atan2(into.cross(out), into.dot(out)) / 2.0;
            let past = r * libm::tan(half.min(1.5));
            let lines = [0.15, 0.5, 1.0].into_iter().flat_map(|t| [(into, t * past), (out, -t * past)]);
            lines.into_iter().all(|(d, along)| {
                let middle = corner + d * along;
                SIDEWAYS.into_iter().all(|s| !self.cut_by(middle + d.left() * (r * s), ring, way.whole, (start, end)))
            })
        };
        if !way.corners(start, end).iter().all(in_corner) {
            return false;
        }
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
        steps(tab.body.0, tab.body.1, 0.1 * r).all(|at| across(at, &kept))
            && (self.finer.is_empty() || steps(from, end, 0.3 * r).all(|at| across(at, &clear(at))))
    }

    /// Whether no finer cutter's tip comes near a line in the end.
    fn off_finer(&self, line: &Segment) -> bool {
        (0..=8).all(|k| self.finer.iter().all(|(region, by)| region.signed_distance(line.at(f64::from(k) / 8.0)) > *by))
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

/// A piece that is held.
#[derive(Clone)]
pub(crate) struct Piece {
    /// All its edges.
    pub(crate) edges: SegmentIndex,
    /// Length of its outer edge, mm.
    pub(crate) round: f64,
    /// Whether it keeps so many tabs as are asked for; of others only those that fit, since they hang on something else.
    pub(crate) asks: bool,
}

/// Edges in one connected piece of room, and the pieces beside them, that shall keep tabs.
pub(crate) struct Kept<'a> {
    /// As the plate file names it.
    pub(crate) name: &'a str,
    /// Line of the plate file, from 1.
    pub(crate) line: usize,
    /// The pieces beside the room.
    pub(crate) pieces: &'a [Piece],
    /// The cutter's ways.
    pub(crate) edges: &'a [Contour],
    /// Length of the ramp onto a tab, mm.
    pub(crate) rise: f64,
    /// Waste beside the ways that hangs on nothing but tabs.
    pub(crate) waste: &'a [&'a Rings],
    /// Pieces that keep one tab more each to a piece of waste.
    pub(crate) extra: &'a [(usize, &'a Rings)],
    /// Width of the finest cutter allowed, mm.
    pub(crate) finest: f64,
    /// The room itself.
    pub(crate) room: &'a RegionIndex,
    /// What may be done where tabs find no room.
    pub(crate) yielding: Yielding,
}

/// What may be done where tabs find no room.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Yielding {
    /// Nothing.
    Nothing,
    /// Two pieces so near that no ground stays between their grooves may share tabs, over which all ways are lifted.
    Bridges,
    /// Also, a piece may keep as few and as short ones as it must.
    Fewer,
}

/// A place along one of the ways: which, and how far along it, mm.
type Spot = (usize, f64);
/// What the cutter crosses over a tab: from one length along a way to another, mm.
type Span = (f64, f64);

/// A tab that might stand on a way.
#[derive(Debug, Clone, Copy)]
struct Tab {
    /// What the cutter crosses.
    span: Span,
    /// The part of it beside which the tab stands in its full width, from wall to wall of the groove.
    body: Span,
}

impl Kept<'_> {
    /// Which of the pieces the ways of a cutter of this radius, mm, run along.
    pub(crate) fn beside(&self, radius: f64) -> Vec<bool> {
        let ways: Vec<Way> = self.edges.iter().map(|e| Way::new(e, radius)).collect();
        let at: Vec<Point> = spots(&ways).into_iter().filter_map(|(w, along)| Some(ways[w].at(along)?.0)).collect();
        let near = |p: &Piece| at.iter().any(|&q| p.edges.nearest_within(q, radius + BESIDE).is_some());
        self.pieces.iter().map(near).collect()
    }

    fn nearest(&self, p: Point) -> usize {
        let off = |i: &usize| self.pieces[*i].edges.nearest(p).map_or(f64::INFINITY, |n| n.distance);
        (0..self.pieces.len()).min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(0)
    }
}

/// Lengths along a way at which places are tried.
fn lattice(way: &Way) -> Vec<f64> {
    let parts = (way.whole / EVERY).ceil().clamp(8.0, 20_000.0) as usize;
    (0..parts).map(|k| way.whole * (k as f64 + 0.5) / parts as f64).collect()
}

/// The same for several ways.
fn spots(ways: &[Way]) -> Vec<Spot> {
    ways.iter().enumerate().flat_map(|(w, way)| lattice(way).into_iter().map(move |along| (w, along))).collect()
}

/// Places the tabs on the edges and cuts each way into what lies between them; a way that keeps none has no stretches. For each piece
/// whose tabs find no room there is a doubt.
pub(crate) fn stretches(cuts: &Cuts, kept: &Kept<'_>, tabs: &Tabs) -> (Vec<Vec<Stretch>>, Vec<Doubt>) {
    let ways: Vec<Way> = kept.edges.iter().map(|e| Way::new(e, cuts.radius)).collect();
    let mut beside: Vec<Vec<Spot>> = vec![Vec::new(); kept.pieces.len()];
    for (w, along) in spots(&ways) {
        let piece = if kept.pieces.len() > 1 { ways[w].at(along).map_or(0, |(p, _)| kept.nearest(p)) } else { 0 };
        beside[piece].push((w, along));
    }
    let taken = Taken { spans: vec![Vec::new(); ways.len()], shared: vec![0; kept.pieces.len()] };
    let mut placing = Placing { cuts, kept, ways: &ways, taken: taken.clone(), thrifty: false };
    let mut doubts = placing.hold_all(&beside, tabs);
    if !doubts.is_empty() && kept.yielding == Yielding::Fewer {
        let mut thrifty = Placing { cuts, kept, ways: &ways, taken, thrifty: true };
        if thrifty.hold_all(&beside, tabs).is_empty() {
            placing = thrifty;
            doubts.clear();
        }
    }
    for (piece, waste) in kept.extra {
        let own = beside.get(*piece).map_or(&[][..], Vec::as_slice);
        placing.join(own, waste, tabs.length.to_mm() + TAB_SPARE);
    }
    let of = |(way, mut spans): (&Way, Vec<Span>)| {
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        let stretch = |i: usize| {
            let before = spans[(i + spans.len() - 1) % spans.len()].1 - if i == 0 { way.whole } else { 0.0 };
            let (start, end) = spans[i];
            Stretch { between: way.piece(before, start), over: way.piece(start, end) }
        };
        (0..spans.len()).map(stretch).collect()
    };
    (ways.iter().zip(placing.taken.spans).map(of).collect(), doubts)
}

/// What tabs take.
#[derive(Clone)]
struct Taken {
    /// By way.
    spans: Vec<Vec<Span>>,
    /// By piece: tabs of full length that it shares with a piece whose own they are.
    shared: Vec<u32>,
}

/// Tabs being placed.
struct Placing<'a> {
    cuts: &'a Cuts,
    kept: &'a Kept<'a>,
    ways: &'a [Way],
    taken: Taken,
    /// Whether each tab goes where it takes the least of the way, so that the next one finds room, rather than where it is best.
    thrifty: bool,
}

impl Placing<'_> {
    /// Places all pieces' tabs, each beside its own places; a doubt for each piece whose tabs find no room.
    fn hold_all(&mut self, beside: &[Vec<Spot>], tabs: &Tabs) -> Vec<Doubt> {
        let pieces = beside.iter().enumerate().filter(|(_, own)| !own.is_empty());
        pieces.filter_map(|(piece, own)| self.hold(piece, own, tabs)).collect()
    }

    /// Places a piece's tabs: as many as asked for where they find room, else, where that may be, as few as it must keep.
    fn hold(&mut self, piece: usize, own: &[Spot], tabs: &Tabs) -> Option<Doubt> {
        let Piece { round, asks, .. } = self.kept.pieces[piece];
        let [round, finest] = [round, self.kept.finest].map(|v| Length::try_mm(v).unwrap_or(Length::ZERO));
        let least = match (asks, self.kept.yielding) {
            (false, _) => Some(Tabs { count: 0, ..*tabs }),
            (true, Yielding::Fewer) => tabs.least_on(round, finest),
            (true, _) => Some(*tabs),
        };
        let fewest = least.map_or(tabs.count, |l| if l.length < tabs.length { 1 } else { l.count });
        let whole = (fewest..=tabs.count).rev().map(|count| (count, tabs.length));
        let shorter = least.filter(|l| l.length < tabs.length).map(|l| (l.count, l.length));
        let before = self.taken.clone();
        for (count, length) in whole.chain(shorter) {
            let more = count.saturating_sub(self.taken.shared[piece]);
            let (more, length) = (more as usize, length.to_mm() + TAB_SPARE);
            if self.place(piece, own, more, length) {
                return None;
            }
            self.taken.clone_from(&before);
            if self.pack(own, more, length) {
                return None;
            }
            self.taken.clone_from(&before);
        }
        let mut ways: Vec<usize> = own.iter().map(|s| s.0).collect();
        ways.dedup();
        let along: f64 = ways.into_iter().map(|w| self.ways[w].whole).sum();
        let at = own.first().and_then(|&(w, along)| self.ways[w].at(along)).map_or(Point::default(), |(p, _)| p);
        let takes = tabs.length.to_mm() + 2.0 * self.cuts.radius;
        let would_do = (self.kept.yielding == Yielding::Fewer).then(|| self.that_would_do(piece, own, tabs));
        let way_out = match would_do {
            None => "ask for fewer or shorter tabs, or hold it by a skin or by tape".to_owned(),
            Some(Some((count, length))) => format!(
                "`tabs = {count}, length = \"{length:.1} mm\"` finds room there; or hold it by a skin or by tape"
            ),
            Some(None) => format!(
                "not even one tab of {SHORTEST_TAB} mm finds room there: hold it by a skin or by tape, or join the piece to its \
                 neighbour in the drawing"
            ),
        };
        Some(
            TABS_DO_NOT_FIT
                .refusal(format!(
                    "the cutter's path beside a piece of `{}` that is {:.1} mm round is {along:.1} mm long: no room for {} tabs that \
                     take {takes:.1} mm each where no other cut takes them",
                    self.kept.name,
                    round.to_mm(),
                    tabs.count
                ))
                .at(Place::Blank { x: at.x, y: at.y, z: None })
                .noting(format!("line {} of the plate file asks for them", self.kept.line))
                .way_out(way_out),
        )
    }

    /// The most and the longest tabs beside a piece that find room, fewer or shorter than asked for.
    fn that_would_do(&mut self, piece: usize, own: &[Spot], tabs: &Tabs) -> Option<(u32, f64)> {
        let before = self.taken.clone();
        // To tenths, since that is what is told.
        let longest = (tabs.length.to_mm() * 10.0).floor() / 10.0;
        let shares = [1.0, 0.75, 0.5, 0.35, 0.25, 0.0];
        let lengths = shares.map(|share| ((longest * share * 10.0).floor() / 10.0).max(SHORTEST_TAB));
        for count in (1..=tabs.count.min(MOST_TRIED)).rev() {
            for length in lengths {
                let fits = self.pack(own, count.saturating_sub(self.taken.shared[piece]) as usize, length + TAB_SPARE);
                self.taken.clone_from(&before);
                if fits {
                    return Some((count, length));
                }
            }
        }
        None
    }

    /// Places so many tabs of one length beside a piece. Whether all found room.
    fn place(&mut self, piece: usize, own: &[Spot], count: usize, length: f64) -> bool {
        // Better on the blank's rim than on waste that something else must hold.
        let on_rim = |&&(w, along): &&Spot| {
            self.ways[w].at(along).is_some_and(|(p, d)| {
                let beyond = p + d.left() * (self.cuts.radius + INTO_WASTE);
                self.kept.waste.iter().all(|waste| !waste.contains(beyond))
            })
        };
        let rim: Vec<Spot> =
            if self.kept.waste.is_empty() { Vec::new() } else { own.iter().filter(on_rim).copied().collect() };
        let room = 2.0 * count as f64 * (length + 2.0 * self.cuts.radius);
        let rather = rim.len() < own.len() && rim.len() as f64 * EVERY >= room;
        let own = if rather { &rim[..] } else { own };
        // A whole way beside nothing else is divided evenly.
        let only = own.first().map(|&(w, _)| w).filter(|&w| !rather && own.len() == lattice(&self.ways[w]).len());
        let only = only.filter(|&w| own.iter().all(|s| s.0 == w));
        (0..count).all(|i| {
            let share = (i as f64 + 0.5) / count as f64;
            let wanted = match only {
                Some(w) => (w, self.ways[w].whole * share),
                None => own[((share * own.len() as f64) as usize).min(own.len() - 1)],
            };
            self.put(piece, own, wanted, length)
        })
    }

    /// Places one tab as near to a wanted place as may be. Whether there was room.
    fn put(&mut self, piece: usize, own: &[Spot], wanted: Spot, length: f64) -> bool {
        let whole = self.ways[wanted.0].whole;
        let off = |&(w, along): &Spot| {
            let off = (along - wanted.1).abs();
            if w == wanted.0 { off.min(whole - off) } else { f64::INFINITY }
        };
        let mut tried = own.to_vec();
        tried.sort_by(|a, b| off(a).total_cmp(&off(b)).then(a.0.cmp(&b.0)).then(a.1.total_cmp(&b.1)));
        tried.insert(0, wanted);
        self.put_at(&tried, length) || self.kept.yielding >= Yielding::Bridges && self.span_gap(piece, &tried, length)
    }

    /// Places one tab at the first of some places that has room, on a straight run if there is one. Whether there was any.
    fn put_at(&mut self, tried: &[Spot], length: f64) -> bool {
        let straight = tried.iter().filter_map(|&(w, at)| Some((w, self.ways[w].straight_about(length, at)?)));
        let anywhere = tried.iter().map(|&(w, at)| (w, self.ways[w].tab_about(length, at)));
        let fits = |&(w, tab): &(usize, Tab)| {
            spaced(&self.taken.spans[w], tab.span, self.ways[w].whole)
                && self.cuts.spare(w, &self.ways[w], tab, self.kept.rise)
        };
        let found = if self.thrifty {
            let takes = |t: &(usize, Tab)| t.1.span.1 - t.1.span.0;
            let mut tight: Vec<(usize, Tab)> = self.tight(tried, length).collect();
            tight.sort_by(|a, b| takes(a).total_cmp(&takes(b)));
            tight.into_iter().find(fits)
        } else {
            straight.chain(anywhere).chain(self.tight(tried, length)).find(fits)
        };
        if let Some((w, tab)) = found {
            self.taken.spans[w].push(tab.span);
        }
        found.is_some()
    }

    /// Tabs that take the least of the ways, about some places and the middles of edges there.
    fn tight<'t>(&'t self, tried: &'t [Spot], length: f64) -> impl Iterator<Item = (usize, Tab)> + 't {
        tried.iter().flat_map(move |&(w, at)| {
            let middle = Some(self.ways[w].middle_near(at)).filter(|m| (m - at).abs() < EVERY);
            let places = middle.into_iter().chain([at]);
            places.flat_map(move |at| self.ways[w].tight_about(length, at).map(move |tab| (w, tab)))
        })
    }

    /// Places so many tabs side by side as near to each other as may be, where they find no room otherwise. Whether there was any.
    fn pack(&mut self, own: &[Spot], count: usize, length: f64) -> bool {
        let mut ways: Vec<usize> = own.iter().map(|s| s.0).collect();
        ways.sort_unstable();
        ways.dedup();
        let mut missing = count;
        for w in ways {
            let spots: Vec<Spot> = own.iter().filter(|s| s.0 == w).copied().collect();
            let way = &self.ways[w];
            let mut fit: Vec<Span> = self
                .tight(&spots, length)
                .filter(|(_, tab)| spaced(&self.taken.spans[w], tab.span, way.whole))
                .filter(|(_, tab)| self.cuts.spare(w, way, *tab, self.kept.rise))
                .map(|(_, tab)| tab.span)
                .collect();
            fit.sort_by(|a, b| a.1.total_cmp(&b.1).then(b.0.total_cmp(&a.0)));
            // From each as the first, always the one that ends next: no other choice gets more of them onto a line.
            let from = |first: usize| {
                let mut spans = self.taken.spans[w].clone();
                let before = spans.len();
                for k in 0..fit.len() {
                    let span = fit[(first + k) % fit.len()];
                    if spans.len() < before + missing && spaced(&spans, span, way.whole) {
                        spans.push(span);
                    }
                }
                spans
            };
            let most = (0..fit.len()).map(from).reduce(|a, b| if b.len() > a.len() { b } else { a });
            if let Some(spans) = most {
                missing -= spans.len() - self.taken.spans[w].len();
                self.taken.spans[w] = spans;
            }
        }
        missing == 0
    }

    /// Places one tab more between a piece and a piece of waste, if there is room.
    fn join(&mut self, own: &[Spot], waste: &Rings, length: f64) {
        let onto = |&&(w, along): &&Spot| {
            let beyond = self.ways[w].at(along).map(|(p, d)| p + d.left() * (self.cuts.radius + INTO_WASTE));
            beyond.is_some_and(|q| waste.contains(q))
        };
        let own: Vec<Spot> = own.iter().filter(onto).copied().collect();
        self.put_at(&own, length);
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    const RADIUS: f64 = 0.4;

    /// In a corner of the piece that turns by 60°, what lies across the groove from the edge reaches 0.46 mm beyond the way's corner
    /// (derived): a tab whose way ends 0.72 mm beyond it would be cut in two there.
    #[test]
    fn a_tab_in_a_corner_reaches_beyond_it() {
        let corners = [(0.0, 0.0), (0.0, 10.0), (8.660_254, 5.0), (17.320_508, 10.0), (17.320_508, 0.0)];
        let edge = Contour::polygon(corners.map(|(x, y)| Point::new(x, y)));
        let (cuts, way) = (Cuts::new(RADIUS, [&edge], []), Way::new(&edge, RADIUS));
        let stands = |beyond: f64| {
            let span = (17.9, 20.0 + beyond);
            cuts.spare(0, &way, Tab { span, body: (span.0 + RADIUS, span.1 - RADIUS) }, 0.0)
        };
        assert!(!stands(0.72) && stands(1.2));
    }

    /// Two squares in a frame, all gaps 1.2 mm wide, so that any two grooves overlap: tabs stand only where both are lifted, and
    /// nothing that is cut between them comes near.
    #[test]
    fn pieces_with_a_narrow_gap_between_share_bridges() {
        let square = |x: f64, y: f64, w: f64, h: f64| {
            Contour::rectangle(Bounds { min: Point::new(x, y), max: Point::new(x + w, y + h) })
        };
        let pieces = [square(1.2, 1.2, 8.0, 8.0), square(10.4, 1.2, 8.0, 8.0)];
        let hole = square(0.0, 0.0, 19.6, 10.4);
        let free = Region {
            shapes: vec![plane::Shape { outer: hole.clone(), holes: pieces.iter().map(Contour::reversed).collect() }],
        };
        let edges: Vec<Contour> = reach::inset(&free, RADIUS).region.contours().cloned().collect();
        assert_eq!(edges.len(), 3);
        let piece = |c: &Contour, asks| Piece { edges: SegmentIndex::of_contours([c]), round: c.length(), asks };
        let pieces = [piece(&hole, false), piece(&pieces[0], true), piece(&pieces[1], true)];
        let placed = |yielding| two_tabs(&free, &edges, &pieces, yielding);
        assert_eq!(placed(Yielding::Nothing).1.len(), 2);
        let (ways, doubts) = placed(Yielding::Bridges);
        assert!(doubts.is_empty(), "{doubts:?}");
        let cut: Vec<Segment> = ways.iter().flatten().flat_map(|s| s.between.iter().copied()).collect();
        let mut bridges = [0; 3];
        for stretch in ways.iter().flatten() {
            let whole: f64 = stretch.over.iter().map(Segment::length).sum();
            let middle = piece_of(&stretch.over, whole / 2.0);
            let across = middle.0 + middle.1.left() * 0.2;
            assert!(cut.iter().all(|s| s.distance(across) > RADIUS - GRAZED), "{across:?}");
            let near = |p: &Piece| p.edges.nearest_within(across, 0.61).is_some();
            pieces.iter().zip(&mut bridges).filter(|(p, _)| near(p)).for_each(|(_, n)| *n += 1);
        }
        // Every bridge is crossed by the ways of both its ends.
        assert!(bridges[1] >= 4 && bridges[2] >= 4, "{bridges:?}");
    }

    /// Two bars of a quotation mark, so small and so near that one way runs round both: each must keep one tab of 2 mm, and only at
    /// the middles of their outer sides is there room for both.
    #[test]
    fn two_small_bars_keep_a_tab_each() {
        let bar = |x: f64| Contour::rectangle(Bounds { min: Point::new(x, 0.0), max: Point::new(x + 0.66, 2.05) });
        let bars = [bar(0.0), bar(1.17)];
        let rim = Contour::rectangle(Bounds { min: Point::new(-20.0, -20.0), max: Point::new(22.0, 22.0) });
        let free = Region {
            shapes: vec![plane::Shape { outer: rim.clone(), holes: bars.iter().map(Contour::reversed).collect() }],
        };
        let ways = reach::inset(&free, RADIUS).region;
        let edges: Vec<Contour> = ways.contours().filter(|c| c.bounds().width() < 10.0).cloned().collect();
        assert_eq!(edges.len(), 1);
        let pieces = bars.map(|c| Piece { edges: SegmentIndex::of_contours([&c]), round: c.length(), asks: true });
        let placed = |yielding| two_tabs(&free, &edges, &pieces, yielding);
        let (ways, doubts) = placed(Yielding::Fewer);
        assert!(doubts.is_empty() && ways.iter().flatten().count() == 2, "{doubts:?}");
        assert_eq!(placed(Yielding::Nothing).1.len(), 2);
    }

    /// Two tabs of 2 mm for each piece that asks for them.
    fn two_tabs(
        free: &Region,
        edges: &[Contour],
        pieces: &[Piece],
        yielding: Yielding,
    ) -> (Vec<Vec<Stretch>>, Vec<Doubt>) {
        let tabs = Tabs { count: 2, length: Length::mm(2.0), left: Length::mm(0.6) };
        let kept = Kept {
            name: "shape",
            line: 1,
            pieces,
            edges,
            rise: 0.0,
            waste: &[],
            extra: &[],
            finest: 2.0 * RADIUS,
            room: &RegionIndex::new(free),
            yielding,
        };
        stretches(&Cuts::new(RADIUS, edges, []), &kept, &tabs)
    }

    fn piece_of(segments: &[Segment], along: f64) -> (Point, Point) {
        let mut left = along;
        for s in segments {
            if left <= s.length() {
                let share = left / s.length();
                return (s.at(share), s.direction(share).unwrap());
            }
            left -= s.length();
        }
        panic!("beyond the end");
    }
}
