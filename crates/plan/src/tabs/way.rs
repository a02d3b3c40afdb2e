//! A cutter's way round an edge, and the stretches of it over which tabs can stand.

use super::{Span, Tab};
use plane::{Contour, Point, Segment, SegmentIndex};

/// How much way the ends of a tab take each, radii: one where the way is straight, a quarter turn round a sharp corner.
const TIGHT: [f64; 4] = [1.0, 1.15, 1.35, std::f64::consts::FRAC_PI_2];
/// Clearance of a straight tab from the ends of its run, mm.
const OFF_ENDS: f64 = 0.25;
/// Sine of the least turn that is a corner.
const CORNER: f64 = 0.02;

/// The cutter's way round an edge.
pub(super) struct Way {
    pub(super) segments: Vec<Segment>,
    pub(super) whole: f64,
    pub(super) radius: f64,
}

impl Way {
    pub(super) fn new(edge: &Contour, radius: f64) -> Self {
        let segments: Vec<Segment> = edge.segments().filter(|s| s.length() > 0.0).collect();
        Self { whole: segments.iter().map(Segment::length).sum(), segments, radius }
    }

    /// Edge beside a mm of the way: less where it goes round the outside of a bend, none at all round a sharp corner.
    pub(super) fn edge_share(&self, segment: &Segment) -> f64 {
        match segment {
            // The wall is to the right: an arc turning right goes round the outside.
            Segment::Arc { radius, sweep, .. } if *sweep < 0.0 => ((radius - self.radius) / radius).max(0.0),
            _ => 1.0,
        }
    }

    /// The point at a length along the way and its direction there.
    pub(super) fn at(&self, along: f64) -> Option<(Point, Point)> {
        let (segment, from, to) = self.around(along, true);
        let share = ((along - from) / (to - from).max(1e-12)).clamp(0.0, 1.0);
        Some((segment.at(share), segment.direction(share)?))
    }

    /// The tab of this length about a place along the way, if all of it lies on one straight run.
    pub(super) fn straight_about(&self, length: f64, middle: f64) -> Option<Tab> {
        let (segment, from, to) = self.around(middle, true);
        let half = length / 2.0;
        let room = half + self.radius + OFF_ENDS;
        let straight = matches!(segment, Segment::Line { .. }) && middle - from >= room && to - middle >= room;
        straight.then(|| {
            let body = (middle - half, middle + half);
            Tab { span: (body.0 - self.radius, body.1 + self.radius), body }
        })
    }

    /// The tab about a place along the way beside which this length of edge stands, and the cutter's radius of edge at each end.
    pub(super) fn tab_about(&self, length: f64, middle: f64) -> Tab {
        let (start, end) = self.beside(length + 2.0 * self.radius, middle);
        Tab { span: (start, end), body: (start + self.radius, end - self.radius) }
    }

    /// Tabs whose ends take less of the way round bends and corners, the shortest first.
    pub(super) fn tight_about(&self, length: f64, middle: f64) -> impl Iterator<Item = Tab> {
        let body = self.beside(length, middle);
        let r = self.radius;
        TIGHT.into_iter().map(move |radii| Tab { span: (body.0 - radii * r, body.1 + radii * r), body })
    }

    /// The middle of the segment at a length along the way.
    pub(super) fn middle_near(&self, at: f64) -> f64 {
        let (_, from, to) = self.around(at, true);
        (from + to) / 2.0
    }

    /// The span about a place along the way beside which this length of edge stands.
    pub(super) fn beside(&self, length: f64, middle: f64) -> Span {
        let reach = |forward: bool| {
            let (mut left, mut at) = (length / 2.0, middle);
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
    pub(super) fn around(&self, at: f64, forward: bool) -> (&Segment, f64, f64) {
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

    /// The spans of the way nearer to some lines than this, mm, and a step more at either end; `None` if that is all of it.
    pub(super) fn over(&self, lines: &SegmentIndex, near: f64) -> Option<Vec<Span>> {
        let parts = (self.whole / (0.05 * self.radius)).ceil().clamp(8.0, 200_000.0) as usize;
        let step = self.whole / parts as f64;
        let bounds = plane::Bounds::of(lines.segments().iter().flat_map(|s| [s.start(), s.end()])).grown(near);
        let mut is_over = vec![false; parts];
        let mut along = 0.0;
        for s in &self.segments {
            let length = s.length();
            if s.bounds().meets(bounds) {
                let (from, to) = ((along / step).ceil() as usize, ((along + length) / step).floor() as usize);
                for (k, over) in is_over.iter_mut().enumerate().take(to + 1).skip(from) {
                    let share = ((k as f64 * step - along) / length).clamp(0.0, 1.0);
                    *over |= lines.nearest_within(s.at(share), near).is_some();
                }
            }
            along += length;
        }
        let first = is_over.iter().position(|over| !over)?;
        let mut spans: Vec<Span> = Vec::new();
        for k in (first + 1)..(first + parts) {
            if !is_over[k % parts] {
                continue;
            }
            let at = k as f64 * step;
            match spans.last_mut() {
                Some(last) if is_over[(k - 1) % parts] => last.1 = at + step,
                _ => spans.push((at - step, at + step)),
            }
        }
        Some(spans)
    }

    /// Where the way turns left between two lengths along it, with its directions before and after.
    pub(super) fn corners(&self, start: f64, end: f64) -> Vec<(Point, [Point; 2])> {
        let mut found = Vec::new();
        let mut along = 0.0;
        for (i, s) in self.segments.iter().enumerate() {
            along += s.length();
            let lap = ((start - along) / self.whole).ceil() * self.whole;
            let next = &self.segments[(i + 1) % self.segments.len()];
            if let (true, Some(into), Some(out)) = (along + lap < end, s.direction(1.0), next.direction(0.0))
                && into.cross(out) > CORNER
            {
                found.push((s.end(), [into, out]));
            }
        }
        found
    }

    /// What lies between two lengths along the way.
    pub(super) fn piece(&self, from: f64, to: f64) -> Vec<Segment> {
        piece(&self.segments, self.whole, from, to)
    }
}

/// The piece of a closed run between two lengths along it; they may lie before its start or beyond its end.
pub(super) fn piece(segments: &[Segment], whole: f64, from: f64, to: f64) -> Vec<Segment> {
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
