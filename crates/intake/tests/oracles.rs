//! Intent against plain oracles: heights at points worked out shape by shape, and margins by building blanks at random
//! within the spreads.

use intake::{Job, take_from};
use plane::Point;
use proptest::prelude::*;
use std::fmt::Write;
use std::io;

#[derive(Debug, Clone)]
enum Shape {
    Box { x: f64, y: f64, w: f64, h: f64 },
    Disc { x: f64, y: f64, r: f64 },
}

impl Shape {
    /// Signed distance to the edge, mm; negative inside.
    fn distance(&self, p: Point) -> f64 {
        match *self {
            Self::Box { x, y, w, h } => {
                let (dx, dy) = ((p.x - x - w / 2.0).abs() - w / 2.0, (p.y - y - h / 2.0).abs() - h / 2.0);
                let outside = (dx.max(0.0).powi(2) + dy.max(0.0).powi(2)).sqrt();
                outside + dx.max(dy).min(0.0)
            }
            Self::Disc { x, y, r } => p.distance(Point::new(x, y)) - r,
        }
    }

    /// As an element, y down on a page 80 mm high.
    fn svg(&self, id: usize) -> String {
        match *self {
            Self::Box { x, y, w, h } => {
                format!("<rect id=\"s{id}\" x=\"{x}\" y=\"{}\" width=\"{w}\" height=\"{h}\"/>", 80.0 - y - h)
            }
            Self::Disc { x, y, r } => format!("<circle id=\"s{id}\" cx=\"{x}\" cy=\"{}\" r=\"{r}\"/>", 80.0 - y),
        }
    }
}

fn shape() -> impl Strategy<Value = Shape> {
    // Half millimetres, so that shapes also share edges and touch.
    let half = |a: i32, b: i32| (a..b).prop_map(|n| f64::from(n) / 2.0);
    prop_oneof![
        (half(24, 160), half(24, 100), half(4, 60), half(4, 40)).prop_map(|(x, y, w, h)| Shape::Box {
            x,
            y,
            w: w.min(108.0 - x),
            h: h.min(68.0 - y)
        }),
        (half(60, 180), half(60, 100), half(2, 36)).prop_map(|(x, y, r)| Shape::Disc { x, y, r }),
    ]
}

/// Each area: its shape, the shape it keeps if any, and its floor in tenths of a mm.
type AreaMade = (usize, Option<usize>, u32);

fn job(shapes: &[Shape], areas: &[AreaMade]) -> Result<Job, String> {
    let mut drawing = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"120mm\" height=\"80mm\" viewBox=\"0 0 120 80\">",
    );
    for (i, shape) in shapes.iter().enumerate() {
        drawing += &shape.svg(i);
    }
    drawing += "<rect id=\"rim\" x=\"10\" y=\"10\" width=\"100\" height=\"60\"/></svg>";
    let mut plate = String::from(
        "title = \"t\"\nunits = \"mm\"\ndrawing = \"d.svg\"\n[blank]\nsize = [120, 80]\nmeasured_total = [6.0]\n\
         under = [{ name = \"board\", thickness = 3 }]\n\
         layers = [{ sheet = \"night black 3\" }, { sheet = \"ruby clear 3\" }]\n\
         [plate]\nwithin = \"rim\"\n",
    );
    for (on, keep, floor) in areas {
        let _ = write!(plate, "[[area]]\non = \"s{on}\"\nfloor = {{ above_table = {} }}\n", f64::from(*floor) / 10.0);
        if let Some(keep) = keep {
            let _ = writeln!(plate, "keep = \"s{keep}\"");
        }
    }
    let taken = take_from(&plate, &|name| match name {
        "d.svg" => Ok(drawing.clone().into_bytes()),
        _ => Err(io::ErrorKind::NotFound.into()),
    });
    let refusals = taken.doubts.iter().filter(|d| d.blocks()).map(|d| d.id);
    taken.job.ok_or_else(|| refusals.collect::<Vec<_>>().join(" "))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    /// At every point the plate has the lowest floor of the areas that cover it, and the face where none does.
    #[test]
    fn the_deepest_wins_at_every_point(
        shapes in prop::collection::vec(shape(), 2..8),
        kept in prop::collection::vec((prop::option::weighted(0.3, 0usize..8), 35u32..85), 8),
        points in prop::collection::vec((10.1f64..109.9, 10.1f64..69.9), 200),
    ) {
        let areas: Vec<AreaMade> = (0..shapes.len())
            .map(|i| (i, kept[i].0.map(|k| k % shapes.len()).filter(|&k| k != i), kept[i].1))
            .collect();
        let job = match job(&shapes, &areas) {
            Ok(job) => job,
            // Two shapes may be the same, or a kept one may cover all of its area.
            Err(ids) => {
                let fair = ids.split(' ').all(|id| id == "areas-contradict" || id == "area-empty");
                prop_assert!(fair, "{ids}");
                return Ok(());
            }
        };
        for (x, y) in points {
            let p = Point::new(x, y);
            if shapes.iter().any(|s| s.distance(p).abs() < 0.02) {
                continue;
            }
            let covers = |&&(on, keep, _): &&AreaMade| {
                shapes[on].distance(p) < 0.0 && keep.is_none_or(|k| shapes[k].distance(p) > 0.0)
            };
            let expected = areas.iter().filter(covers).map(|a| f64::from(a.2) / 10.0).reduce(f64::min);
            let expected = expected.unwrap_or(job.intent.blank.face.to_mm());
            let found = job.intent.height_at(p).map(|h| h.to_mm());
            prop_assert!(found.is_some_and(|f| (f - expected).abs() < 1e-9), "{p:?}: {found:?}, not {expected}");
            let holding = job.intent.areas.iter().filter(|a| a.region.contains(p)).count();
            prop_assert!(holding <= 1, "{p:?} is in {holding} areas");
        }
    }

    /// A blank built from thicknesses anywhere within the spreads, cut with any allowed error of touch-off, keeps at
    /// least the margins told.
    #[test]
    fn no_blank_within_the_spreads_breaks_the_margins(
        black in 2.5f64..3.5, ruby in 2.5f64..3.5, tape in 0.05f64..0.5,
        errors in prop::collection::vec(prop::collection::vec(-1.0f64..=1.0, 6), 50),
        total in any::<bool>(),
    ) {
        let (black, ruby, tape) = ((black * 100.0).round() / 100.0, (ruby * 100.0).round() / 100.0, (tape * 100.0).round() / 100.0);
        let sum = black + ruby + 0.05;
        let total_line = if total { format!("measured_total = [{sum}]\n") } else { String::new() };
        let plate = format!(
            "title = \"t\"\nunits = \"mm\"\ndrawing = \"d.svg\"\n[blank]\nsize = [120, 80]\nbond = 0.05\nbond_spread = 0.03\n\
             {total_line}under = [{{ name = \"tape\", thickness = {tape}, spread = 0.02 }}]\n\
             layers = [{{ sheet = \"night black 3\", measured = [{black}] }}, {{ sheet = \"ruby clear 3\", measured = [{ruby}] }}]\n\
             [[area]]\non = \"a\"\nfloor = {{ shows = \"ruby clear 3\" }}\n"
        );
        let drawing = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"120mm\" height=\"80mm\" viewBox=\"0 0 120 80\">\
                       <rect id=\"a\" x=\"20\" y=\"20\" width=\"20\" height=\"20\"/></svg>";
        let taken = take_from(&plate, &|name| match name {
            "d.svg" => Ok(drawing.into()),
            _ => Err(io::ErrorKind::NotFound.into()),
        });
        let intent = taken.job.map(|j| j.intent);
        prop_assert!(intent.is_some(), "{:?}", taken.doubts);
        let Some(intent) = intent else { return Ok(()) };
        let (area, blank) = (&intent.areas[0], &intent.blank);
        let Some(reveal) = area.reveal else { return Err(TestCaseError::fail("no reveal")) };
        for e in errors {
            let (tape, ruby, bond, black) = (tape + 0.02 * e[0], ruby + 0.01 * e[1], 0.05 + 0.03 * e[2], black + 0.01 * e[3]);
            // Starter shop: touch-off repeats within 0.02, the feeler is known within 0.01.
            let cut = area.floor.to_mm() + 0.02 * e[4] + 0.01 * e[5];
            let above = tape + ruby - cut;
            let below = cut - tape;
            let built = ruby + bond + black;
            if total && (built - sum).abs() > 0.01 {
                continue;
            }
            prop_assert!(above >= reveal.above_worst.to_mm() - 1e-9, "{above} {reveal:?}");
            prop_assert!(below >= reveal.below_worst.to_mm() - 1e-9, "{below} {reveal:?}");
            let face = tape + built - 0.02 * e[4] - 0.01 * e[5];
            prop_assert!(face <= blank.face_high.to_mm() + 1e-9 && face >= blank.face_low.to_mm() - 1e-9);
        }
    }
}
