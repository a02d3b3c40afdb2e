//! `intent.json`: the plate as understood, so that anyone can check it with other software.
//!
//! Each region is written twice: as lines and arcs, and as plain polygons whose edges are within 1 µm of it.

use plane::{Contour, Point, Region, Segment};
use plate::{Area, FloorKind, Held, Intent};
use serde_json::{Value, json};

/// Greatest distance between the plain polygons and the lines and arcs, mm.
const POLYGON: f64 = 0.001;

/// The file's text.
pub(crate) fn text(intent: &Intent, sentences: &[String]) -> String {
    let blank = &intent.blank;
    let layers: Vec<Value> = blank
        .layers
        .iter()
        .map(|l| {
            json!({
                "sheet": l.sheet.name,
                "thickness": micro(l.thickness.to_mm()),
                "spread": micro(l.spread.to_mm()),
                "measured": l.measured,
                "top": micro(l.top.to_mm()),
                "bottom": micro(l.bottom.to_mm()),
            })
        })
        .collect();
    let value = json!({
        "title": intent.title,
        "units": "mm",
        "frame": "x right and y away from the maker from the blank's lower left corner; heights above the table",
        "blank": {
            "size": [blank.size[0].to_mm(), blank.size[1].to_mm()],
            "underside": micro(blank.underside.to_mm()),
            "face": micro(blank.face.to_mm()),
            "face_lowest": micro(blank.face_low.to_mm()),
            "face_highest": micro(blank.face_high.to_mm()),
            "into_table": micro(blank.into_table.to_mm()),
            "under": blank.under.iter().map(|u| json!({ "name": u.name, "thickness": micro(u.thickness.to_mm()) })).collect::<Vec<_>>(),
            "layers_top_first": layers,
        },
        "outline": intent.outline.as_ref().map(|o| json!({
            "name": o.name,
            "floor": micro(o.floor.to_mm()),
            "held_by": held(&o.held),
            "inside": region(&o.inside),
        })),
        "areas": intent.areas.iter().zip(sentences).map(|(a, s)| area(intent, a, s)).collect::<Vec<_>>(),
        "holds": intent.holds.iter().map(|h| json!({
            "name": h.name,
            "top": micro(h.top.to_mm()),
            "shape": contour(&h.shape),
        })).collect::<Vec<_>>(),
        "cutters": intent.cutters,
    });
    let mut text = serde_json::to_string_pretty(&value).unwrap_or_default();
    text.push('\n');
    text
}

fn area(intent: &Intent, area: &Area, sentence: &str) -> Value {
    let kind = match area.kind {
        FloorKind::Shows(i) => json!({ "shows": intent.blank.layers.get(i).map(|l| l.sheet.name.as_str()) }),
        FloorKind::BelowFace(d) => json!({ "below_face": micro(d.to_mm()) }),
        FloorKind::AboveTable => json!("above the table"),
        FloorKind::Through => json!({ "through": held(&area.held) }),
    };
    json!({
        "name": area.name,
        "sentence": sentence,
        "floor": micro(area.floor.to_mm()),
        "kind": kind,
        "edge": "upright",
        "area": micro(area.region.area()),
        "region": region(&area.region),
    })
}

fn held(held: &Held) -> Value {
    match held {
        Held::Tabs(t) => {
            json!({ "tabs": t.count, "length": micro(t.length.to_mm()), "left": micro(t.left.to_mm()) })
        }
        Held::Skin(s) => json!({ "skin": micro(s.to_mm()) }),
        Held::Stated(words) => json!({ "stated": words }),
        Held::Cleared => json!("cleared to chips"),
        Held::Nothing => json!("nothing"),
    }
}

fn region(region: &Region) -> Value {
    let shapes: Vec<Value> = region
        .shapes
        .iter()
        .map(|s| json!({ "outer": contour(&s.outer), "holes": s.holes.iter().map(contour).collect::<Vec<_>>() }))
        .collect();
    let polygons: Vec<Value> = region
        .shapes
        .iter()
        .map(|s| json!({ "outer": polygon(&s.outer), "holes": s.holes.iter().map(polygon).collect::<Vec<_>>() }))
        .collect();
    json!({ "lines_and_arcs": shapes, "polygons_within_0.001": polygons })
}

fn contour(contour: &Contour) -> Value {
    let start = contour.vertices.first().map_or(Point::default(), |v| v.p);
    let segments: Vec<Value> = contour
        .segments()
        .map(|s| match s {
            Segment::Line { b, .. } => json!({ "line_to": point(b) }),
            Segment::Arc { b, centre, sweep, .. } => {
                json!({ "arc_to": point(b), "centre": point(centre), "counter_clockwise": sweep > 0.0 })
            }
        })
        .collect();
    json!({ "start": point(start), "segments": segments })
}

fn polygon(contour: &Contour) -> Vec<Value> {
    contour.flatten(POLYGON).into_iter().map(point).collect()
}

fn point(p: Point) -> Value {
    json!([micro(p.x), micro(p.y)])
}

/// A number to the nanometre, so that the file stays readable.
fn micro(v: f64) -> f64 {
    let rounded = (v * 1e6).round() / 1e6;
    if rounded == 0.0 { 0.0 } else { rounded }
}
