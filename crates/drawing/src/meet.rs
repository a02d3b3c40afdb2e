//! Where two segments meet.

use plane::{Point, Segment};

/// A point this near both segments is on both, mm.
const ON: f64 = 1e-6;

/// The points that two segments share; where they run over each other, the ends of that.
pub(crate) fn meets(a: &Segment, b: &Segment) -> impl Iterator<Item = Point> + use<> {
    let crossings = match (a, b) {
        (&Segment::Line { a: p, b: q }, &Segment::Line { a: r, b: s }) => lines(p, q, r, s),
        (&Segment::Line { a: p, b: q }, &Segment::Arc { centre, radius, .. })
        | (&Segment::Arc { centre, radius, .. }, &Segment::Line { a: p, b: q }) => line_circle(p, q, centre, radius),
        (&Segment::Arc { centre, radius, .. }, &Segment::Arc { centre: centre_b, radius: radius_b, .. }) => {
            circles(centre, radius, centre_b, radius_b)
        }
    };
    let (a, b) = (*a, *b);
    // Ends count by themselves: parallel lines and arcs of one circle have no crossing, but may run together.
    let ends = [a.start(), a.end(), b.start(), b.end()].map(Some);
    crossings.into_iter().chain(ends).flatten().filter(move |&p| a.distance(p) <= ON && b.distance(p) <= ON)
}

type Candidates = [Option<Point>; 2];

fn lines(p: Point, q: Point, r: Point, s: Point) -> Candidates {
    let (d, e) = (q - p, s - r);
    let cross = d.cross(e);
    if cross.abs() <= 1e-12 * d.norm() * e.norm() {
        return [None; 2];
    }
    [Some(p + d * ((r - p).cross(e) / cross)), None]
}

fn line_circle(p: Point, q: Point, centre: Point, radius: f64) -> Candidates {
    let Some(along) = (q - p).unit() else { return [None; 2] };
    let foot = p + along * along.dot(centre - p);
    let off = foot.distance(centre);
    if off > radius + ON {
        return [None; 2];
    }
    let half = along * libm::sqrt((radius * radius - off * off).max(0.0));
    [Some(foot + half), Some(foot - half)]
}

fn circles(a: Point, ra: f64, b: Point, rb: f64) -> Candidates {
    let apart = a.distance(b);
    let Some(along) = (b - a).unit() else { return [None; 2] };
    if apart > ra + rb + ON || apart < (ra - rb).abs() - ON || apart <= ON {
        return [None; 2];
    }
    let foot = (apart * apart + ra * ra - rb * rb) / (2.0 * apart);
    let half = along.left() * libm::sqrt((ra * ra - foot * foot).max(0.0));
    let middle = a + along * foot;
    [Some(middle + half), Some(middle - half)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn segments_meet_where_they_should() {
        let p = Point::new;
        let line = |a, b| Segment::Line { a, b };
        let found: Vec<Point> = meets(&line(p(0.0, 0.0), p(2.0, 2.0)), &line(p(0.0, 2.0), p(2.0, 0.0))).collect();
        assert_eq!(found, [p(1.0, 1.0)]);
        let half = Segment::with_bulge(p(1.0, 0.0), p(-1.0, 0.0), 1.0);
        assert_eq!(meets(&line(p(0.0, 0.0), p(0.0, 2.0)), &half).count(), 1);
        assert_eq!(meets(&line(p(0.0, -0.5), p(0.0, -2.0)), &half).count(), 0);
        let other = Segment::with_bulge(p(2.0, 0.0), p(0.0, 0.0), 1.0);
        let found: Vec<Point> = meets(&half, &other).collect();
        assert_eq!(found.len(), 1);
        assert!(found[0].distance(p(0.5, 0.75_f64.sqrt())) < 1e-12);
    }
}
