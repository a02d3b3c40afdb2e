//! Screws and clamps on the blank, and what fits into the machine.

use crate::heights::instead;
use crate::kinds;
use crate::plate_file::HoldSaid;
use crate::reading::{Reading, Said};
use crate::regions::substantial;
use crate::shop_file::{HoldKind, ShopFile};
use doubt::Place;
use plane::{Affine, Bounds, Contour, Point, Region};
use plate::{Area, Blank, Hold, Intent, Outline};
use quantity::{Height, Length};

/// Holds as outlines with heights: each stands on the thickest blank the spreads allow.
pub(crate) fn holds(
    reading: &mut Reading<'_>,
    said: &[HoldSaid],
    kinds_known: &[HoldKind],
    blank: &Blank,
    areas: &[Area],
    outline: Option<&Outline>,
) -> Vec<Hold> {
    let mut holds = Vec::new();
    for hold in said {
        let Some(kind) = kinds_known.iter().find(|k| k.name == hold.kind.value) else {
            let names: Vec<&str> = kinds_known.iter().map(|k| k.name.as_str()).collect();
            let doubt = kinds::UNKNOWN_HOLD
                .refusal(format!("the shop has no hold `{}`", hold.kind.value))
                .way_out(instead(&hold.kind.value, &names, "it has"));
            reading.doubt(doubt, hold.kind.span.clone());
            continue;
        };
        let Some(shape) = shape(reading, hold, kind) else { continue };
        let height = hold.height.unwrap_or(kind.height);
        check(reading, hold, &shape, blank, areas, outline);
        holds.push(Hold { name: kind.name.clone(), shape, top: blank.face_high + height });
    }
    holds
}

fn shape(reading: &mut Reading<'_>, hold: &HoldSaid, kind: &HoldKind) -> Option<Contour> {
    let [w, h] = hold.size.as_ref().map_or(kind.size, |s| s.value).map(Length::to_mm);
    let at = Point::new(hold.at[0].to_mm(), hold.at[1].to_mm());
    if kind.round {
        if let Some(Said { span, .. }) = hold.size.as_ref().filter(|_| w != h) {
            let doubt = kinds::OUT_OF_RANGE
                .refusal(format!("`{}` is round but {w} mm by {h} mm", kind.name))
                .way_out("give the diameter twice");
            reading.doubt(doubt, span.clone());
            return None;
        }
        return Some(Contour::circle(at, w / 2.0));
    }
    let corner = Point::new(w / 2.0, h / 2.0);
    let map = Affine::turn(hold.turn.to_radians()).then(Affine::shift(at));
    Contour::rectangle(Bounds { min: -corner, max: corner }).mapped(map)
}

fn check(
    reading: &mut Reading<'_>,
    hold: &HoldSaid,
    shape: &Contour,
    blank: &Blank,
    areas: &[Area],
    outline: Option<&Outline>,
) {
    let region = Region::solid(shape.clone());
    let over = |r: &Region| {
        if region.bounds().meets(r.bounds()) { substantial(&plane::intersection(&region, r)) } else { None }
    };
    let name = &hold.kind.value;
    let place = reading.place(hold.span.clone());
    let on_blank = |p: Point| Place::Blank { x: p.x, y: p.y, z: None };
    let area = areas.iter().find_map(|a| Some((a, over(&a.region)?)));
    if let Some((area, at)) = area {
        let doubt = kinds::HOLD_IN_PLATE
            .refusal(format!("`{name}` stands on the area `{}` (line {})", area.name, area.line))
            .at(place)
            .at(on_blank(at))
            .way_out("put it in the margin");
        reading.add(doubt);
    } else if let Some(at) = outline.and_then(|o| over(&o.inside)) {
        let doubt = kinds::HOLD_IN_PLATE
            .caution(format!("`{name}` stands inside the plate's outline"))
            .at(place)
            .at(on_blank(at))
            .way_out("put it in the margin, where it leaves no mark on the plate");
        reading.add(doubt);
    }
    let [w, h] = blank.size.map(Length::to_mm);
    let b = shape.bounds();
    if b.max.x <= 0.0 || b.max.y <= 0.0 || b.min.x >= w || b.min.y >= h {
        let doubt = kinds::HOLD_OFF_BLANK
            .caution(format!("`{name}` stands beside the blank, which is {} by {}", blank.size[0], blank.size[1]))
            .way_out("correct `at`: it is counted from the blank's zero corner to the hold's middle");
        reading.doubt(doubt, hold.span.clone());
    }
}

/// Whether blank and cutters fit the machine.
pub(crate) fn fits(reading: &mut Reading<'_>, intent: &Intent, shop_file: &ShopFile, blank_size: &Said<[Length; 2]>) {
    let shop = &shop_file.shop;
    let travel = shop.machine.travel;
    for (axis, (&size, &reach)) in ["x", "y"].into_iter().zip(intent.blank.size.iter().zip(&travel)) {
        if size > reach {
            let doubt = kinds::BLANK_TOO_LARGE
                .refusal(format!("the blank is {size} in {axis}, the machine's travel {reach}"))
                .way_out("use a smaller blank, turn it by a quarter, or correct `travel` in the shop file");
            reading.doubt(doubt, blank_size.span.clone());
        }
    }
    let highest = intent.highest();
    let lift = highest + shop.machine.clearance;
    for cutter in intent.cutters.iter().filter_map(|&n| shop.cutter(n)) {
        let needed = lift + cutter.stick_out;
        if needed > Height::ZERO + travel[2] {
            let doubt = kinds::CUTTER_TOO_LONG
                .refusal(format!(
                    "cutter {} (`{}`) stands out {} and must clear {highest} by {}: the nut would be at {needed}, \
                        and the travel in z is {}",
                    cutter.number, cutter.name, cutter.stick_out, shop.machine.clearance, travel[2]
                ))
                .way_out("set it further into the collet, leave it out with `cutters = [...]`, or lower the holds");
            let place = shop_file.places.iter().find(|(n, _)| *n == cutter.number).map(|(_, p)| p.clone());
            reading.add(doubt.at(place.unwrap_or_else(|| reading.place(blank_size.span.clone()))));
        }
    }
}
