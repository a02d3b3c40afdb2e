//! What is left out, counted by kind, name and reason as the reading goes.

use crate::model::{Skipped, Why};
use plane::Point;
use std::collections::BTreeMap;

/// Places and lines kept of one kind.
const KEPT: usize = 20;

/// Everything left out so far.
#[derive(Debug, Default)]
pub(crate) struct Losses(BTreeMap<(String, String, Why), Tally>);

#[derive(Debug, Default)]
struct Tally {
    count: usize,
    places: Vec<Point>,
    lines: Vec<usize>,
}

impl Losses {
    /// Counts one thing.
    pub(crate) fn add(&mut self, kind: &str, name: &str, why: Why, line: usize, place: Option<Point>) {
        let kind = kind.chars().take(60).collect();
        let tally = self.0.entry((kind, name.to_owned(), why)).or_default();
        tally.count += 1;
        if tally.lines.len() < KEPT {
            tally.lines.push(line);
        }
        if let Some(p) = place.filter(|_| tally.places.len() < KEPT) {
            tally.places.push(p);
        }
    }

    /// As a list, with places multiplied by `scale` to be in mm.
    pub(crate) fn listed(self, scale: f64) -> Vec<Skipped> {
        self.0
            .into_iter()
            .map(|((kind, name, why), Tally { count, places, lines })| {
                let places = places.into_iter().map(|p| p * scale).filter(|p| p.is_finite()).collect();
                Skipped { kind, name, count, why, places, lines }
            })
            .collect()
    }
}
