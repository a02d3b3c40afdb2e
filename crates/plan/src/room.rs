//! Where cutters may go at each area's floor, and which of them get that deep: what the table of reach is made from.

use crate::pocket::{self, Pocket};
use crate::{Tool, cleared, flat_cutters};
use memo::Memo;
use plane::Region;
use plate::{Intent, Shop};

/// Where cutters may go at the floor of an area.
#[derive(Debug, Clone, PartialEq)]
pub struct Room {
    /// The area with all that lies as deep or deeper and touches it: its edge is wall.
    pub region: Region,
    /// Height that is cut already when work on it begins: the floor round it, or the thickest blank's face. mm.
    pub top: f64,
    /// Numbers of the flat cutters allowed whose flutes reach the floor, widest first.
    pub cutters: Vec<u32>,
    /// Numbers of those whose flutes are too short, widest first.
    pub too_short: Vec<u32>,
}

/// The room of each area, in the intent's order.
pub fn rooms(shop: &Shop, intent: &Intent) -> Vec<Room> {
    rooms_again(shop, intent, &Memo::none())
}

/// The same, with what was kept of others used again.
pub fn rooms_again(shop: &Shop, intent: &Intent, memo: &Memo) -> Vec<Room> {
    let pockets = pocket::pockets(intent, memo);
    let tools = flat_cutters(shop, intent);
    let face = intent.blank.face_high.to_mm();
    let of = |area: &plate::Area| {
        let own = pocket::insides_of(&area.region);
        let floor = area.floor.to_mm();
        let within: Vec<&Pocket> = if cleared(area) {
            pockets.iter().filter(|p| p.bottom == floor && pocket::holds_any(&p.region, &own)).collect()
        } else {
            Vec::new()
        };
        let region = match &within[..] {
            // A cut-out that stays whole is cut along its edge alone.
            [] => area.region.clone(),
            all => Region { shapes: all.iter().flat_map(|p| p.region.region().shapes).collect() },
        };
        let top = within.iter().map(|p| p.top).fold(f64::NEG_INFINITY, f64::max);
        let top = if within.is_empty() { face } else { top };
        let reaches = |t: &&Tool<'_>| match &within[..] {
            [] => t.reaches(face - floor),
            all => all.iter().all(|p| p.reached_by(t)),
        };
        let (able, short): (Vec<_>, Vec<_>) = tools.iter().partition(reaches);
        let numbers = |tools: Vec<&Tool<'_>>| tools.iter().map(|t| t.cutter.number).collect();
        Room { region, top, cutters: numbers(able), too_short: numbers(short) }
    };
    intent.areas.iter().map(of).collect()
}
