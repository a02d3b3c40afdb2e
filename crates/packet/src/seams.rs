//! Seams: floors that more than one cutter ends on. Each cutter is touched off anew, so where two meet the floor may show a
//! step as high as both touch-offs may be wrong against each other.

use doubt::{Doubt, Kind};
use intake::Job;
use motion::{Move, Stage};
use plate::{Area, FloorKind};
use quantity::{Height, Length, trimmed};
use reckon::margin::{self, Step};

/// Cutters meet on a floor.
pub(crate) const CUTTERS_MEET: Kind = Kind {
    id: "cutters-meet",
    title: "Cutters meet on a floor",
    page: "More than one cutter ends on this floor, and each is touched off by itself, so that where they meet a step may be seen or \
           felt. In the worst case it is as high as both touch-offs' repeatability together; independent errors make it smaller, by \
           root-sum-square. The feeler is the same for both and makes none. With `seamless = true` the finest cutter does the whole floor, which takes \
           longer; with `cutters` the plate can be kept to one; a better touch-off makes the step smaller.",
};

/// Heights of moves and floors agree to this if they mean the same, mm: half a micrometre, the last digit of a program.
const SAME: f64 = 0.000_6;
/// Areas that are named one by one.
const MOST: usize = 6;

/// A note on the areas whose floor more than one cutter ends on, with the greatest step of each.
pub(crate) fn said(job: &Job, stages: &[Stage]) -> Option<Doubt> {
    let shared: Vec<(&Area, Vec<u32>, Step)> = job
        .intent
        .areas
        .iter()
        .filter(|a| a.kind != FloorKind::Through)
        .filter_map(|area| {
            let cutters = ending_on(area, stages);
            let step = greatest(&cutters, job)?;
            (step.worst > Length::ZERO).then_some((area, cutters, step))
        })
        .collect();
    let step = shared.iter().map(|s| s.2).max_by(|a, b| a.worst.to_mm().total_cmp(&b.worst.to_mm()))?;
    let mut doubt = CUTTERS_MEET.note(format!(
        "cutters meet on the floor of {}, each touched off by itself: a step of up to {} mm, {} mm by root-sum-square",
        match &shared[..] {
            [(area, ..)] => format!("`{}`", area.name),
            several => format!("{} areas", several.len()),
        },
        trimmed(step.worst.to_mm(), 3),
        trimmed(step.rss.to_mm(), 3)
    ));
    for (area, cutters, step) in shared.iter().take(MOST) {
        let numbers = cutters.iter().map(u32::to_string).collect::<Vec<_>>().join(", ");
        doubt = doubt.noting(format!(
            "`{}` (line {}): cutters {numbers}, {} mm, {} mm by root-sum-square",
            area.name,
            area.line,
            trimmed(step.worst.to_mm(), 3),
            trimmed(step.rss.to_mm(), 3)
        ));
    }
    if shared.len() > MOST {
        doubt = doubt.noting(format!("and {} more", shared.len() - MOST));
    }
    Some(doubt.way_out("say `seamless = true` for an area, or keep the plate to one cutter by `cutters`"))
}

/// Numbers of the cutters that end a move on an area's floor, in the order of the programs.
fn ending_on(area: &Area, stages: &[Stage]) -> Vec<u32> {
    let mut found = Vec::new();
    for stage in stages.iter().filter(|s| s.cutting) {
        if found.contains(&stage.cutter) {
            continue;
        }
        let ends = |m: &Move| match m {
            Move::Line { to, .. } | Move::Arc { to, .. } => on_floor(to.z, area.floor) && area.region.contains(to.p),
            Move::Rapid(_) | Move::Pass(_) => false,
        };
        if stage.moves.iter().any(ends) {
            found.push(stage.cutter);
        }
    }
    found
}

fn on_floor(z: f64, floor: Height) -> bool {
    (z - floor.to_mm()).abs() <= SAME
}

/// The greatest step among cutters; `None` if there are not two.
fn greatest(cutters: &[u32], job: &Job) -> Option<Step> {
    let repeats = |number: u32| {
        let own = job.repeats.iter().find(|(n, _)| *n == number);
        own.map_or(job.shop.touch_off.repeatability, |(_, r)| *r)
    };
    let mut all: Vec<Length> = cutters.iter().map(|&n| repeats(n)).collect();
    all.sort_by(|a, b| b.to_mm().total_cmp(&a.to_mm()));
    match all[..] {
        [first, second, ..] => Some(margin::floor_step(first, second)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use motion::At;
    use plane::Point;
    use quantity::{Feed, Speed};

    /// Two areas on a measured blank, with the starter shop; cutter 2 repeats worse than the shop's 0.02 mm.
    fn job() -> Job {
        let plate = "title = \"t\"\nunits = \"mm\"\ndrawing = \"d.svg\"\n[blank]\nsize = [120, 80]\n\
            layers = [{ sheet = \"night black 3\", measured = [2.95] }, { sheet = \"ruby clear 3\", measured = [3.0] }]\n\
            [[area]]\non = \"a\"\nfloor = { above_table = 2 }\n[[area]]\non = \"b\"\nfloor = { above_table = 1 }\n";
        let drawing = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"120mm\" height=\"80mm\" viewBox=\"0 0 120 80\">\
            <rect id=\"a\" x=\"10\" y=\"10\" width=\"20\" height=\"20\"/><rect id=\"b\" x=\"50\" y=\"10\" width=\"20\" height=\"20\"/></svg>";
        let (first, rest) = intake::STARTER_SHOP.split_once("number = 2").unwrap();
        let shop = format!("{first}number = 2\nrepeatability = 0.03{rest}");
        let taken = intake::take_from(plate, &|name| match name {
            "d.svg" => Ok(drawing.into()),
            "shop.toml" => Ok(shop.clone().into_bytes()),
            _ => Err(std::io::ErrorKind::NotFound.into()),
        });
        taken.job.unwrap_or_else(|| panic!("{:?}", taken.doubts))
    }

    fn stage(cutter: u32, ends: &[(f64, f64, f64)]) -> Stage {
        let line = |&(x, y, z): &(f64, f64, f64)| Move::Line {
            to: At { p: Point::new(x, y), z },
            feed: Feed::mm_per_min(500.0),
        };
        Stage {
            name: format!("{cutter}"),
            purpose: String::new(),
            cutter,
            speed: Speed::rev_per_min(10_000.0),
            dial: None,
            cutting: true,
            feed: Feed::mm_per_min(500.0),
            pass_depth: 1.0,
            traverse: Height::mm(10.0),
            hop: None,
            moves: ends.iter().map(line).collect(),
        }
    }

    /// y of the drawing points down: area `a` lies from y 50 to 70 on the blank. Repeatabilities 0.02 and 0.03: 0.05 mm, by
    /// root-sum-square 0.036 mm (derived).
    #[test]
    fn a_floor_that_two_cutters_end_on_is_said() {
        let job = job();
        let both = [stage(1, &[(20.0, 60.0, 2.0), (60.0, 60.0, 1.0)]), stage(2, &[(25.0, 65.0, 2.0)])];
        let doubt = said(&job, &both).unwrap();
        assert_eq!(
            doubt.message,
            "cutters meet on the floor of `a`, each touched off by itself: a step of up to 0.05 mm, 0.036 mm by root-sum-square"
        );
        assert_eq!(doubt.notes, ["`a` (line 7): cutters 1, 2, 0.05 mm, 0.036 mm by root-sum-square"]);
        // Two that repeat alike: 0.04 and 0.028284.
        let alike = [stage(1, &[(20.0, 60.0, 2.0)]), stage(3, &[(25.0, 65.0, 2.0)])];
        assert!(said(&job, &alike).unwrap().message.ends_with("0.04 mm, 0.028 mm by root-sum-square"));
    }

    /// One cutter alone, one that stays above the floor as in seamless areas, one beside the area: no step.
    #[test]
    fn no_step_where_one_cutter_does_the_floor() {
        let job = job();
        for other in [(25.0, 65.0, 2.05), (40.0, 60.0, 2.0), (60.0, 60.0, 2.0)] {
            assert!(said(&job, &[stage(1, &[(20.0, 60.0, 2.0)]), stage(2, &[other])]).is_none(), "{other:?}");
        }
        let twice = [stage(1, &[(20.0, 60.0, 2.0)]), stage(1, &[(22.0, 60.0, 2.0)])];
        assert!(said(&job, &twice).is_none());
    }
}
