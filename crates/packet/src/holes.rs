//! Cut-outs so small that nothing of them stays in one piece.

use doubt::{Doubt, Kind, Place};
use plane::Region;
use plate::{Area, FloorKind, Held, Intent, Shop};

/// A cut-out becomes chips.
pub(crate) const HOLE_ALL_CHIPS: Kind = Kind {
    id: "hole-all-chips",
    title: "A cut-out is as wide as a cutter, so nothing of it stays",
    page: "The plate file says what holds the piece that is cut out, but the hole is exactly as wide as a cutter: all of it becomes chips, and there is \
           nothing to hold. It is drilled or bored like any other hole. Say `held_by = \"clearing\"` for it, or nothing, to be rid of this note.",
};

/// Makes holes as wide as a cutter, among cut-outs that shall be held, areas of their own that are cleared.
pub(crate) fn all_chips(shop: &Shop, intent: &mut Intent) -> Vec<Doubt> {
    let widths: Vec<f64> =
        intent.cutters.iter().filter_map(|&n| shop.cutter(n)).map(|c| c.cutting_width.to_mm()).collect();
    let mut doubts = Vec::new();
    let mut areas: Vec<Area> = Vec::new();
    for mut area in std::mem::take(&mut intent.areas) {
        let held = area.kind == FloorKind::Through && area.held != Held::Cleared;
        let snug = |s: &plane::Shape| held && widths.iter().any(|&w| plan::is_snug(s, w));
        let (chips, pieces): (Vec<_>, Vec<_>) = area.region.shapes.into_iter().partition(snug);
        area.region = Region { shapes: pieces };
        if let Some(first) = chips.first() {
            let at = first.outer.bounds().centre();
            let count = if chips.len() == 1 { "a hole".into() } else { format!("{} holes", chips.len()) };
            doubts.push(
                HOLE_ALL_CHIPS
                    .note(format!("{count} of `{}` as wide as a cutter leave no piece that could be held", area.name))
                    .at(Place::Blank { x: at.x, y: at.y, z: Some(area.floor.to_mm()) })
                    .noting(format!("line {} of the plate file says how the piece is held", area.line)),
            );
            areas.push(Area { region: Region { shapes: chips }, held: Held::Cleared, ..area.clone() });
        }
        if !area.region.is_empty() {
            areas.push(area);
        }
    }
    intent.areas = areas;
    doubts
}
