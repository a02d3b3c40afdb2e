//! Tabs across a gap that is no wider than two grooves: the ways along both walls cross them.

use super::{ALONG, GRAZED, INTO_WASTE, Placing, Span, Spot, TAB_SPARE, Tab, spaced};
use plane::{Point, Segment, SegmentIndex};

/// A tab across a gap to another piece.
pub(super) struct Bridge {
    /// What the ways cross over it.
    pub(super) spans: Vec<(usize, Span)>,
    /// The other piece, if its edge runs beside so straight that the tab is its own as well.
    pub(super) shared: Option<usize>,
}

impl Placing<'_> {
    /// Places one tab across the gap to another piece at the first of some places where the gap is no wider than two grooves. Whether
    /// there was any.
    pub(super) fn span_gap(&mut self, piece: usize, tried: &[Spot], length: f64) -> bool {
        let Some(bridge) = tried.iter().find_map(|&spot| self.bridge(piece, spot, length)) else { return false };
        for (w, span) in bridge.spans {
            self.taken.spans[w].push(span);
        }
        if let Some(other) = bridge.shared {
            self.taken.shared[other] += 1;
        }
        true
    }

    pub(super) fn bridge(&self, piece: usize, (w, at): Spot, length: f64) -> Option<Bridge> {
        let (way, r) = (&self.ways[w], self.cuts.radius);
        let (p, d) = way.at(at)?;
        self.across(p, d.left())?;
        let Tab { span: (start, end), .. } = way.tab_about(length, at);
        let parts = ((end - start - 2.0 * r) / (0.1 * r)).ceil().max(1.0) as usize;
        let mut body: Vec<Segment> = Vec::with_capacity(parts + 1);
        let mut shared = true;
        let mut hits: Vec<Point> = Vec::with_capacity(parts + 1);
        let mut other = None;
        for k in 0..=parts {
            let (p, d) = way.at(start + r + (end - start - 2.0 * r) * k as f64 / parts as f64)?;
            let hit = p + d.left() * self.across(p, d.left())?;
            let onto = self.kept.nearest(hit);
            if onto == piece || *other.get_or_insert(onto) != onto {
                return None;
            }
            let near = self.kept.pieces[onto].edges.nearest(hit)?;
            let wall = self.kept.pieces[onto].edges.segments()[near.segment];
            shared &= wall.direction(wall.nearest_share(hit)).is_some_and(|b| b.cross(d).abs() < ALONG);
            body.push(Segment::Line { a: p - d.left() * r, b: hit });
            hits.push(hit);
        }
        for (corner, [into, out]) in way.corners(start, end) {
            let past = r * libm::tan((libm::atan2(into.cross(out), into.dot(out)) / 2.0).min(1.5));
            for (d, along) in [0.15, 0.5, 1.0].into_iter().flat_map(|t| [(into, t * past), (out, -t * past)]) {
                let middle = corner + d * along;
                body.push(Segment::Line { a: middle - d.left() * r, b: middle + d.left() * r });
            }
        }
        shared &= hits.windows(2).map(|h| h[0].distance(h[1])).sum::<f64>() >= length - TAB_SPARE / 2.0;
        let before = (0..=10).filter_map(|k| way.at(start + r - (self.kept.rise + r) * f64::from(k) / 10.0));
        let ramp = before.map(|(p, d)| Segment::Line { a: p - d.left() * r, b: p + d.left() * r });
        if !body.iter().copied().chain(ramp).all(|line| self.cuts.off_finer(&line)) {
            return None;
        }
        let body = SegmentIndex::new(body);
        let mut spans: Vec<(usize, Span)> = Vec::new();
        for (k, other) in self.ways.iter().enumerate() {
            spans.extend(other.over(&body, r - GRAZED)?.into_iter().map(|span| (k, span)));
        }
        // Of its own way no less than a tab takes.
        let own = spans.iter_mut().find_map(|(k, span)| {
            let laps = ((at - span.0) / way.whole).floor() * way.whole;
            let holds = *k == w && at - laps <= span.1;
            holds.then(|| (span.0 = span.0.min(start - laps), span.1 = span.1.max(end - laps)))
        });
        own?;
        let longest = 3.0 * (length + 2.0 * r);
        let fits = |i: usize| {
            let (k, span) = spans[i];
            let mut taken = self.taken.spans[k].clone();
            taken.extend(spans[..i].iter().filter(|s| s.0 == k).map(|s| s.1));
            span.1 - span.0 <= longest && spaced(&taken, span, self.ways[k].whole)
        };
        (0..spans.len()).all(fits).then_some(Bridge { spans, shared: other.filter(|_| shared) })
    }

    /// How far the other wall is from a place of a way, to its left, if nothing stays between the grooves along both.
    pub(super) fn across(&self, p: Point, left: Point) -> Option<f64> {
        let widest = 3.0 * self.cuts.radius + INTO_WASTE;
        // From a radius on: there the nearer wall is not the way's own.
        let mut off = self.cuts.radius;
        for _ in 0..200 {
            let room = -self.kept.room.signed_distance(p + left * off);
            if room < 1e-4 {
                return Some(off);
            }
            off += room;
            if off > widest {
                return None;
            }
        }
        None
    }
}
