//! The table of reach: of every area what each cutter clears, what it leaves to the next, and what is left for hand.
//!
//! Reckoned from the shapes alone, with lines and arcs kept: what a cutter of radius r clears of an area is its opening by r.
//! The proof finds hand work its own way, on the model and by distances; the two are told apart in the packet.

use crate::strokes::{finest, own, shared};
use plane::{Point, Region, arcs};
use plate::{Intent, Shop};
use quantity::trimmed;
use rayon::prelude::*;
use reach::Left;
use serde::Serialize;
use sheet::ReachRow;
use std::fmt::Write;

/// What is reached of an area.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AreaReach {
    /// Its name in the plate file.
    pub area: String,
    /// Line of the plate file, from 1.
    pub line: usize,
    /// mm above the table.
    pub floor: f64,
    /// mm².
    pub size: f64,
    /// The flat cutters that reach its floor, widest first.
    pub cutters: Vec<CutterReach>,
    /// Numbers of those whose flutes are too short for it.
    pub too_short: Vec<u32>,
    /// What the finest of them leaves for hand, largest first.
    pub by_hand: Vec<HandSpot>,
}

/// What a cutter reaches of an area.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CutterReach {
    /// The shop's number.
    pub number: u32,
    /// What it is called.
    pub cutter: String,
    /// Width of its cut, mm.
    pub width: f64,
    /// mm² that it clears, with or without wider ones before it.
    pub clears: f64,
    /// The same as a share of the area.
    pub share: f64,
    /// mm² that it leaves to the next, or the last one to the hand.
    pub leaves: f64,
    /// In how many places.
    pub spots: usize,
}

/// A place that is left for hand.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HandSpot {
    /// A corner, a stroke, a part by itself.
    pub what: Spot,
    /// Where, mm on the blank.
    pub at: Point,
    /// mm².
    pub area: f64,
    /// How far its farthest point is from what is cleared, mm; `None` where nothing is.
    pub gap: Option<f64>,
    /// Diameter of the cutter that would take it, mm; `None` for what no round cutter takes.
    pub takes: Option<f64>,
}

/// What a place is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Spot {
    /// An inside corner.
    Corner,
    /// A stroke, an end of one, a neck.
    Stroke,
    /// A part of the area of which nothing is reached.
    Part,
}

impl Spot {
    fn words(self) -> &'static str {
        match self {
            Self::Corner => "corner",
            Self::Stroke => "narrow stroke",
            Self::Part => "whole part",
        }
    }
}

/// The table of all areas, in the plate file's order.
pub fn table(shop: &Shop, intent: &Intent) -> Vec<AreaReach> {
    let rooms = plan::rooms(shop, intent);
    let one = |(area, room): (&plate::Area, &plan::Room)| {
        let alone = room.region == area.region;
        let within = |region: Region| if alone { region } else { arcs::intersection(&region, &area.region) };
        let size = area.region.area();
        let mut by_hand = Vec::new();
        let cutters = room.cutters.iter().filter_map(|&n| shop.cutter(n)).map(|cutter| {
            let r = cutter.radius();
            let opened = within(reach::opening(&room.region, r).region);
            let clears = opened.area().min(size);
            let rest = arcs::difference(&area.region, &opened);
            let spots = rest.shapes.iter().filter(|s| s.area() > reach::TRACE).count();
            CutterReach {
                number: cutter.number,
                cutter: cutter.name.clone(),
                width: cutter.cutting_width.to_mm(),
                clears,
                share: if size > 0.0 { clears / size } else { 0.0 },
                leaves: size - clears,
                spots,
            }
        });
        let cutters: Vec<CutterReach> = cutters.collect();
        if let Some(cutter) = finest(shop, room) {
            let left = own(reach::covered(&room.region, cutter.radius()).left, area, room);
            by_hand = left.iter().map(|l| spot(l, alone, &area.region)).collect();
            // Corners alike are as large but for rounding, and shall keep their order.
            let size = |s: &HandSpot| (s.area * 1e6).round();
            by_hand.sort_by(|a, b| {
                size(b).total_cmp(&size(a)).then(a.at.x.total_cmp(&b.at.x)).then(a.at.y.total_cmp(&b.at.y))
            });
        }
        AreaReach {
            area: area.name.clone(),
            line: area.line,
            floor: area.floor.to_mm(),
            size,
            cutters,
            too_short: room.too_short.clone(),
            by_hand,
        }
    };
    intent.areas.par_iter().zip(&rooms).map(one).collect()
}

fn spot(left: &Left, alone: bool, own: &Region) -> HandSpot {
    let what = match (left.whole_part, left.stroke) {
        (true, _) => Spot::Part,
        (_, Some(_)) => Spot::Stroke,
        _ => Spot::Corner,
    };
    HandSpot {
        what,
        at: left.stroke.map_or(left.at, |s| s.at),
        area: if alone { left.area } else { shared(&left.region, own).area() },
        gap: Some(left.gap).filter(|g| g.is_finite()),
        takes: left.diameter(),
    }
}

/// The table's short form for the setup sheet.
pub(crate) fn rows(table: &[AreaReach]) -> Vec<ReachRow> {
    let share = |c: &CutterReach| (c.cutter.clone(), if c.spots == 0 { 1.0 } else { c.share.min(0.9999) });
    let row = |area: &AreaReach| ReachRow {
        area: area.area.clone(),
        cutters: area.cutters.iter().map(share).collect(),
        by_hand: area.by_hand.len(),
    };
    table.iter().map(row).collect()
}

/// Spots listed one by one for each area; the rest are counted.
const LISTED: usize = 40;

/// The table as a text.
pub fn text(table: &[AreaReach]) -> String {
    let mut text = String::from("Reach of the cutters, from the shapes alone\n");
    for area in table {
        let _ = writeln!(
            text,
            "\n{} (line {}), {} mm², floor at {}",
            area.area,
            area.line,
            trimmed(area.size, 2),
            trimmed(area.floor, 3)
        );
        for (k, c) in area.cutters.iter().enumerate() {
            let to = if k + 1 == area.cutters.len() { "for hand" } else { "to the next" };
            let clears = match c.spots {
                0 => "clears all of it".to_owned(),
                n => format!(
                    "clears {} %, {} mm²; leaves {} mm² in {n} {} {to}",
                    trimmed((c.share * 1e4).floor() / 100.0, 2),
                    trimmed(c.clears, 4),
                    trimmed(c.leaves, 4),
                    if n == 1 { "place" } else { "places" }
                ),
            };
            let _ = writeln!(text, "  {} ({} mm): {clears}", c.cutter, trimmed(c.width, 5));
        }
        if area.cutters.is_empty() {
            text.push_str("  no flat cutter allowed reaches its floor\n");
        }
        for spot in area.by_hand.iter().take(LISTED) {
            let gap = spot.gap.map_or_else(|| "nothing of it reached".into(), |g| format!("{} mm deep", trimmed(g, 3)));
            let takes = spot.takes.map_or_else(
                || "no round cutter takes it".into(),
                |d| format!("a cutter of {} mm takes it", trimmed(d, 3)),
            );
            let _ = writeln!(
                text,
                "    by hand: {} at x {} y {}, {} mm², {gap}, {takes}",
                spot.what.words(),
                trimmed(spot.at.x, 2),
                trimmed(spot.at.y, 2),
                trimmed(spot.area, 4)
            );
        }
        if area.by_hand.len() > LISTED {
            let rest = &area.by_hand[LISTED..];
            let sum: f64 = rest.iter().map(|s| s.area).sum();
            let _ = writeln!(text, "    by hand: {} smaller places more, {} mm² in all", rest.len(), trimmed(sum, 3));
        }
    }
    text
}
