//! What is at a place of the blank, and why.

use super::{Answer, at, named};
use intake::Job;
use plan::Plan;
use plane::Point;
use reach::Rings;
use reckon::chain::Working;

/// A place in words: `x 30 y 20`, `30, 20`, `x30 y20 mm`.
pub(super) fn read(words: &str) -> Option<Point> {
    let lower = words.to_ascii_lowercase();
    let marked = lower.contains('x') && lower.contains('y');
    let parts: Vec<&str> =
        lower.split([' ', ',', 'x', 'y', '=', ';']).filter(|p| !p.is_empty() && *p != "mm").collect();
    let pair = parts.len() == 2 && (marked || lower.trim_start().starts_with(|c: char| c.is_ascii_digit() || c == '-'));
    let [x, y] = parts[..] else { return None };
    let (x, y): (f64, f64) = (x.parse().ok()?, y.parse().ok()?);
    (pair && x.is_finite() && y.is_finite()).then(|| Point::new(x, y))
}

/// What is at a place: its floor and why, then which cutter makes it.
pub(super) fn answers(job: &Job, plan: Option<&Plan>, all: &[Answer], p: Point) -> Vec<Answer> {
    let intent = &job.intent;
    let [width, height] = intent.blank.size.map(quantity::Length::to_mm);
    let here = at(p);
    let mut found = Vec::new();
    if p.x < 0.0 || p.y < 0.0 || p.x > width || p.y > height {
        let mut w = Working::default();
        w.given("width", "width of the blank", width, "mm", "plate file, `size`");
        w.given("height", "height of the blank", height, "mm", "plate file, `size`");
        let answer = Answer::new(here.clone(), here, w, "height");
        found.extend(
            answer.map(|a| a.told("beside the blank").short("x and y count from the blank's lower left corner")),
        );
        return found;
    }
    if let Some(hold) = intent.holds.iter().find(|h| h.shape.contains(p)) {
        let mut w = Working::default();
        w.given("top", "its top", hold.top.to_mm(), "mm", "plate file, [[hold]]");
        let answer = Answer::new(here.clone(), format!("{here}: the hold {}", hold.name), w, "top");
        found.extend(answer.map(|a| a.told(format!("{} above the table", hold.top)).short("nothing may come here")));
        return found;
    }
    let area = intent.areas.iter().position(|a| a.region.contains(p));
    let outside = intent.outline.as_ref().filter(|o| !o.inside.contains(p));
    let name = match (area, outside) {
        (Some(i), _) => intent.areas[i].name.clone(),
        (None, Some(_)) => {
            let mut w = Working::default();
            w.given("face", "face", intent.blank.face.to_mm(), "mm", "see `face`");
            let answer = Answer::new(here.clone(), here, w, "face");
            let short = "outside the plate's edge: margin of the blank, cut only where the groove round the plate runs";
            found.extend(answer.map(|a| a.told("margin").short(short)));
            return found;
        }
        (None, None) => {
            let face = all.iter().find(|a| a.key == "face").cloned();
            found.extend(face.map(|a| Answer { about: format!("{here}: the face stays"), ..a }));
            return found;
        }
    };
    let key = format!("{name} floor");
    let floor = all.iter().find(|a| a.key == key).cloned();
    found.extend(floor.map(|a| Answer { about: format!("{here}: floor of {name}"), ..a }));
    found.extend(area.and_then(|i| made_by(job, plan, i, p)));
    found
}

/// Which cutter makes an area's floor at a place.
fn made_by(job: &Job, plan: Option<&Plan>, area: usize, p: Point) -> Option<Answer> {
    let plan = plan?;
    let rooms = plan::rooms(&job.shop, &job.intent);
    let room = rooms.get(area)?;
    let part = part(room, p);
    let used = |n: &&u32| plan.stages.iter().any(|s| s.cutter == **n);
    let mut w = Working::default();
    let mut maker = None;
    for &number in room.cutters.iter().filter(used) {
        let cutter = job.shop.cutter(number)?;
        let gets = Rings::of(&part).opening(cutter.radius()).contains(p);
        let words = if gets { "gets here" } else { "is too wide to get here" };
        w.given(
            &format!("d{number}"),
            &format!("cutter {number}, {}, {words}", cutter.name),
            cutter.cutting_width.to_mm(),
            "mm",
            "opening of the area by its radius",
        );
        if gets && maker.is_none() {
            maker = Some(number);
        }
    }
    let last = w.terms().last()?.symbol.clone();
    let key = format!("{} cutter", at(p));
    let answer = Answer::new(key, format!("{}: cut by", at(p)), w, &maker.map_or(last, |n| format!("d{n}")))?;
    let program = |n: u32| plan.stages.iter().position(|s| s.cutter == n).map_or(0, |k| k + 1);
    Some(match maker {
        Some(n) => answer
            .told(format!("cutter {n}, {}, in program {}", named(job, n), program(n)))
            .short("the widest of the cutters used that gets here; finer ones come only where it leaves something"),
        None => answer.told("left for hand").short("every cutter used is too wide to get here"),
    })
}

/// The part of a room that a place lies in.
fn part(room: &plan::Room, p: Point) -> plane::Region {
    let shapes = room.region.shapes.iter().filter(|s| s.contains(p)).cloned().collect();
    plane::Region { shapes }
}
