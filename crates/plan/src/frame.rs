//! The frame run: spindle off, above everything, once round what the programs will cut.

use motion::{At, Move, Stage};
use plane::{Bounds, Contour, Point};
use plate::{Intent, Shop};
use quantity::{Feed, Speed};

/// The frame run of these stages.
pub(crate) fn run(shop: &Shop, intent: &Intent, stages: &[Stage]) -> Stage {
    let traverse = crate::traverse(shop, intent);
    let z = traverse.to_mm();
    let extents = stages.iter().fold(Bounds::EMPTY, |b, s| b.union(s.extents()));
    let mut moves = vec![Move::Rapid(At::new(Point::default(), z))];
    if !extents.is_empty() {
        let corners: Vec<Point> = Contour::rectangle(extents).vertices.iter().map(|v| v.p).collect();
        moves.extend(corners.iter().chain(&corners[..1]).map(|&p| Move::Rapid(At::new(p, z))));
    }
    Stage {
        name: "0-frame".into(),
        purpose: "shows where the programs will cut: spindle off, above everything".into(),
        cutter: stages.first().map_or(0, |s| s.cutter),
        speed: Speed::ZERO,
        dial: None,
        cutting: false,
        feed: Feed::ZERO,
        pass_depth: 0.0,
        traverse,
        hop: None,
        moves,
    }
}
