//! The order of tasks: a pocket's after those of the pocket round it, else the nearest next, improved by exchanges.

use crate::clear::Task;
use crate::pocket::Pocket;
use plane::Point;

/// Tasks in a short order that keeps parents before children.
pub(crate) fn order(tasks: Vec<Task>, pockets: &[Pocket]) -> Vec<Task> {
    let depth = |t: &Task| {
        let (mut depth, mut at) = (0usize, t.pocket);
        while let Some(parent) = pockets[at].parent {
            depth += 1;
            at = parent;
        }
        depth
    };
    let deepest = tasks.iter().map(depth).max().unwrap_or(0);
    let mut tiers: Vec<Vec<Task>> = (0..=deepest).map(|_| Vec::new()).collect();
    for task in tasks {
        let tier = depth(&task);
        tiers[tier].push(task);
    }
    let mut here = Point::default();
    let mut ordered = Vec::new();
    for tier in tiers {
        let places: Vec<Point> = tier.iter().map(|t| t.at).collect();
        let route = route(here, &places);
        let mut tier: Vec<Option<Task>> = tier.into_iter().map(Some).collect();
        for i in route {
            here = places[i];
            ordered.extend(tier[i].take());
        }
    }
    ordered
}

/// A short open route over places from `start`: nearest next, then reversals of stretches while they shorten it.
pub(crate) fn route(start: Point, places: &[Point]) -> Vec<usize> {
    let mut left: Vec<usize> = (0..places.len()).collect();
    let mut route = Vec::with_capacity(places.len());
    let mut here = start;
    while !left.is_empty() {
        let near = |i: usize| places[left[i]].distance(here);
        let next = (0..left.len()).min_by(|&a, &b| near(a).total_cmp(&near(b))).unwrap_or(0);
        let place = left.remove(next);
        here = places[place];
        route.push(place);
    }
    improve(start, places, &mut route);
    route
}

fn improve(start: Point, places: &[Point], route: &mut [usize]) {
    let n = route.len();
    // Bounded: each round looks at every pair once, and large routes get fewer rounds.
    let rounds = (4_000_000 / (n * n).max(1)).clamp(1, 30);
    for _ in 0..rounds {
        let mut shorter = false;
        for i in 0..n.saturating_sub(1) {
            for j in i + 1..n {
                let before = if i == 0 { start } else { places[route[i - 1]] };
                let (a, b) = (places[route[i]], places[route[j]]);
                let after = route.get(j + 1).map(|&k| places[k]);
                let now = before.distance(a) + after.map_or(0.0, |p| b.distance(p));
                let then = before.distance(b) + after.map_or(0.0, |p| a.distance(p));
                if then < now - 1e-9 {
                    route[i..=j].reverse();
                    shorter = true;
                }
            }
        }
        if !shorter {
            break;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_route_visits_all_and_does_not_cross_itself() {
        let places: Vec<Point> =
            (0..30).map(|i| Point::new(f64::from(i * 37 % 100), f64::from(i * 61 % 100))).collect();
        let route = route(Point::default(), &places);
        let mut seen = route.clone();
        seen.sort_unstable();
        assert_eq!(seen, (0..30).collect::<Vec<_>>());
        let length: f64 = route.windows(2).map(|w| places[w[0]].distance(places[w[1]])).sum();
        assert!(length < 700.0, "{length}");
    }
}
