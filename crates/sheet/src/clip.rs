//! Lines cut off at a window, and broken into dashes.

use plane::{Bounds, Point};

/// The pieces of a run of points inside a window (Liang and Barsky's clipping, piece by piece).
pub(crate) fn clipped(points: &[Point], window: Bounds) -> Vec<Vec<Point>> {
    let mut pieces: Vec<Vec<Point>> = Vec::new();
    for pair in points.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let Some((t0, t1)) = share(a, b, window) else { continue };
        let (from, to) = (a.lerp(b, t0), a.lerp(b, t1));
        match pieces.last_mut() {
            Some(piece) if t0 <= 0.0 && piece.last() == Some(&a) => piece.push(if t1 >= 1.0 { b } else { to }),
            _ => pieces.push(vec![if t0 <= 0.0 { a } else { from }, if t1 >= 1.0 { b } else { to }]),
        }
    }
    pieces
}

/// The shares of a line at which it enters and leaves a window.
fn share(a: Point, b: Point, window: Bounds) -> Option<(f64, f64)> {
    let by = b - a;
    let (mut t0, mut t1) = (0.0f64, 1.0f64);
    for (way, room) in [
        (-by.x, a.x - window.min.x),
        (by.x, window.max.x - a.x),
        (-by.y, a.y - window.min.y),
        (by.y, window.max.y - a.y),
    ] {
        if way == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if way < 0.0 {
            t0 = t0.max(room / way);
        } else {
            t1 = t1.min(room / way);
        }
    }
    (t0 <= t1).then_some((t0, t1))
}

/// Dashes along a run of points: lengths of line and gap in turn.
pub(crate) fn dashed(points: &[(f32, f32)], pattern: &[f32]) -> Vec<Vec<(f32, f32)>> {
    let mut dashes: Vec<Vec<(f32, f32)>> = Vec::new();
    if pattern.is_empty() || !pattern.iter().all(|p| *p > 0.1) {
        return vec![points.to_vec()];
    }
    let (mut turn, mut left) = (0usize, pattern[0]);
    let mut open = false;
    for pair in points.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let length = libm::hypotf(b.0 - a.0, b.1 - a.1);
        if !(length > 0.0 && length < 1e6) {
            continue;
        }
        let at = |done: f32| (a.0 + (b.0 - a.0) * done / length, a.1 + (b.1 - a.1) * done / length);
        let mut done = 0.0;
        while done < length {
            let step = left.min(length - done);
            if turn.is_multiple_of(2) {
                if !open {
                    dashes.push(vec![at(done)]);
                }
                if let Some(dash) = dashes.last_mut() {
                    dash.push(at(done + step));
                }
            }
            open = turn.is_multiple_of(2);
            done += step;
            left -= step;
            if left <= 1e-4 {
                turn = (turn + 1) % pattern.len();
                // A pattern of an odd length would begin again with a gap; ours are even.
                left = pattern[turn];
                open = false;
            }
        }
    }
    dashes
}

/// The place at a share of a run's length, and the direction there, of length 1.
pub(crate) fn place_along(points: &[(f32, f32)], share: f32) -> Option<((f32, f32), (f32, f32))> {
    let length = |pair: &[(f32, f32)]| libm::hypotf(pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
    let total: f32 = points.windows(2).map(length).sum();
    let mut left = total * share;
    for pair in points.windows(2) {
        let here = length(pair);
        if here > 0.0 && left <= here {
            let (dx, dy) = ((pair[1].0 - pair[0].0) / here, (pair[1].1 - pair[0].1) / here);
            return Some(((pair[0].0 + dx * left, pair[0].1 + dy * left), (dx, dy)));
        }
        left -= here;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_cut_off_at_the_window() {
        let window = Bounds { min: Point::new(0.0, 0.0), max: Point::new(10.0, 10.0) };
        let run = [(-5.0, 5.0), (5.0, 5.0), (5.0, 20.0), (8.0, 20.0), (8.0, 5.0)].map(|(x, y)| Point::new(x, y));
        let pieces = clipped(&run, window);
        let wanted = [vec![(0.0, 5.0), (5.0, 5.0), (5.0, 10.0)], vec![(8.0, 10.0), (8.0, 5.0)]];
        assert_eq!(pieces.len(), 2, "{pieces:?}");
        for (piece, wanted) in pieces.iter().zip(wanted) {
            assert!(piece.iter().zip(&wanted).all(|(p, w)| p.distance(Point::new(w.0, w.1)) < 1e-12), "{piece:?}");
        }
        assert!(clipped(&run[3..4], window).is_empty());
    }

    /// Dashes and gaps as long as the pattern says, going on round corners.
    #[test]
    fn dashes_go_round_corners() {
        let dashes = dashed(&[(0.0, 0.0), (5.0, 0.0), (5.0, 20.0)], &[8.0, 2.0]);
        let length =
            |d: &[(f32, f32)]| d.windows(2).map(|p| libm::hypotf(p[1].0 - p[0].0, p[1].1 - p[0].1)).sum::<f32>();
        let lengths: Vec<f32> = dashes.iter().map(|d| length(d)).collect();
        assert!(lengths.iter().zip([8.0, 8.0, 5.0]).all(|(a, b)| (a - b).abs() < 1e-3), "{lengths:?}");
        assert_eq!(dashes[0].len(), 3);
        let (at, along) = place_along(&[(0.0, 0.0), (5.0, 0.0), (5.0, 15.0)], 0.5).unwrap();
        assert!((at.0 - 5.0).abs() < 1e-4 && (at.1 - 5.0).abs() < 1e-4 && along == (0.0, 1.0));
        assert!(place_along(&[(1.0, 1.0)], 0.5).is_none());
    }
}
