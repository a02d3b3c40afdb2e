//! Contours that cross or touch themselves, or each other on one layer.

use crate::assemble::order;
use crate::kinds;
use crate::meet::meets;
use crate::model::{Drawing, Format, NamedContour};
use plane::{Contour, Point, Segment, SegmentIndex};
use std::collections::BTreeMap;

/// Meetings nearer than this are one, mm.
const SAME: f64 = 1e-4;
/// Pairs looked at before giving up on a drawing, so that no file takes for ever.
const MOST_PAIRS: usize = 20_000_000;
/// Points kept of one contour.
const MOST_POINTS: usize = 50;

/// Whether contours share a point with each other or with themselves; `None` if there are too many pairs to tell.
pub(crate) fn any_meet(contours: &[&Contour]) -> Option<bool> {
    let mut budget = MOST_PAIRS;
    let mut found = false;
    walk(contours, &mut budget, &mut |_, _, _| found = true);
    (found || budget > 0).then_some(found)
}

/// Doubts about crossings in the drawing.
pub(crate) fn crossings(drawing: &Drawing) -> Vec<doubt::Doubt> {
    let mut groups: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (i, c) in drawing.contours.iter().enumerate() {
        // Only a DXF's contours are nested by where they lie; an SVG's paths may well overlap.
        let key = if drawing.format == Format::Dxf { layer_key(c) } else { format!("{i:09}") };
        groups.entry(key).or_default().push(i);
    }
    let mut doubts = Vec::new();
    let mut budget = MOST_PAIRS;
    for members in groups.into_values() {
        let contours: Vec<&Contour> = members.iter().map(|&i| &drawing.contours[i].contour).collect();
        let mut own: BTreeMap<usize, Vec<Point>> = BTreeMap::new();
        let mut shared: Vec<Point> = Vec::new();
        walk(&contours, &mut budget, &mut |i, j, p| {
            let points = if i == j { own.entry(i).or_default() } else { &mut shared };
            if points.len() < MOST_POINTS && points.iter().all(|q| q.distance(p) > SAME) {
                points.push(p);
            }
        });
        for (i, mut points) in own {
            points.sort_by(|a, b| order(*a, *b));
            doubts.push(kinds::crosses_itself(&drawing.file, &drawing.contours[members[i]], &points));
        }
        if !shared.is_empty() {
            shared.sort_by(|a, b| order(*a, *b));
            doubts.push(kinds::contours_cross(&drawing.file, &drawing.contours[members[0]], &shared));
        }
    }
    if budget == 0 {
        doubts.push(kinds::crossings_not_counted(&drawing.file));
    }
    doubts
}

fn layer_key(contour: &NamedContour) -> String {
    contour.names.first().map(|n| n.to_uppercase()).unwrap_or_default()
}

/// Calls `found` with two contours (the same twice if it meets itself) and a point that they share.
fn walk(contours: &[&Contour], budget: &mut usize, found: &mut impl FnMut(usize, usize, Point)) {
    let mut segments: Vec<Segment> = Vec::new();
    let mut of: Vec<(usize, usize, usize)> = Vec::new();
    for (i, contour) in contours.iter().enumerate() {
        let n = contour.vertices.len();
        of.extend((0..n).map(|k| (i, k, n)));
        segments.extend(contour.segments());
    }
    let index = SegmentIndex::new(segments);
    for (s, segment) in index.segments().iter().enumerate() {
        if *budget == 0 {
            return;
        }
        index.for_each_near(segment.bounds(), |t, other| {
            if t <= s || *budget == 0 {
                return;
            }
            *budget -= 1;
            if !segment.bounds().grown(1e-6).meets(other.bounds()) {
                return;
            }
            let ((i, k, n), (j, l, _)) = (of[s], of[t]);
            for p in meets(segment, other) {
                // Neighbours share their common end; that is no meeting.
                let joint = i == j
                    && ((l == k + 1 && near(p, segment.end())) || (k == 0 && l == n - 1 && near(p, segment.start())));
                if !joint {
                    found(i, j, p);
                }
            }
        });
    }
}

fn near(p: Point, q: Point) -> bool {
    p.distance(q) <= 1e-5
}
