//! The plate as its file says it, painted before it is planned: what an edit changed is put into the last model that the proof
//! cut, so that the maker sees it while the hand is still on it. It says nothing about whether a cutter gets there.

use intake::Job;
use plane::{Point, Region};
use plate::{Area, Intent};
use proof::HeightMap;

/// Between samples where nothing was cut yet, mm.
const PITCH: f64 = 0.2;
/// Most samples.
const MOST: f64 = 4e6;
/// A cell within this of a floor belongs to it, mm.
const NEAR: f64 = 0.05;
/// Chords of contours lie this near to them, mm.
const CHORDS: f64 = 0.05;

/// The plate of `job`, from the model and the job that were shown last if the blank is the same.
pub(crate) fn of(job: &Job, last: Option<(&Job, &HeightMap)>) -> HeightMap {
    let intent = &job.intent;
    let Some((before, map)) = last.filter(|(before, _)| same_blank(&before.intent, intent)) else {
        let mut map = whole(intent);
        intent.areas.iter().for_each(|area| paint(&mut map, &area.region, None, floor(area)));
        return map;
    };
    let mut map = map.clone();
    let face = intent.blank.face.to_mm() as f32;
    let stays = |area: &Area, others: &[Area]| others.iter().any(|o| o.region == area.region && o.floor == area.floor);
    let moved = |area: &Area, others: &[Area]| others.iter().find(|o| o.region == area.region).map(floor);
    for area in before.intent.areas.iter().filter(|a| !stays(a, &intent.areas)) {
        if moved(area, &intent.areas).is_none() {
            paint(&mut map, &area.region, None, face);
        }
    }
    for area in intent.areas.iter().filter(|a| !stays(a, &before.intent.areas)) {
        // Where the area was there before, only what was its floor moves: tabs, corners and holes in it stay.
        paint(&mut map, &area.region, moved(area, &before.intent.areas), floor(area));
    }
    map
}

fn floor(area: &Area) -> f32 {
    area.floor.to_mm() as f32
}

fn same_blank(a: &Intent, b: &Intent) -> bool {
    a.blank.size == b.blank.size && a.blank.face == b.blank.face && a.blank.underside == b.blank.underside
}

/// The blank before anything is cut.
fn whole(intent: &Intent) -> HeightMap {
    let [width, height] = intent.blank.size.map(quantity::Length::to_mm);
    let pitch = PITCH.max((width * height / MOST).sqrt());
    let cells = |mm: f64| (mm / pitch).ceil().max(1.0) as usize;
    let (columns, rows) = (cells(width), cells(height));
    let face = intent.blank.face.to_mm() as f32;
    HeightMap { pitch, origin: Point::new(0.0, 0.0), columns, rows, heights: vec![face; columns * rows] }
}

/// Gives the cells of a region another height, or those of them that are at `only`.
fn paint(map: &mut HeightMap, region: &Region, only: Option<f32>, height: f32) {
    let rings: Vec<Vec<Point>> = region.contours().map(|c| c.flatten(CHORDS)).collect();
    let mut crossings = Vec::new();
    let (pitch, columns) = (map.pitch, map.columns);
    for (row, cells) in map.heights.chunks_exact_mut(columns).enumerate() {
        let y = map.origin.y + (row as f64 + 0.5) * pitch;
        crossings.clear();
        for ring in &rings {
            for (i, a) in ring.iter().enumerate() {
                let b = ring[(i + 1) % ring.len()];
                if (a.y > y) != (b.y > y) {
                    crossings.push(a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x));
                }
            }
        }
        crossings.sort_by(f64::total_cmp);
        // Shapes of a region don't overlap, so every second stretch lies inside.
        for pair in crossings.chunks_exact(2) {
            let cell = |x: f64| (((x - map.origin.x) / pitch - 0.5).ceil().max(0.0) as usize).min(columns);
            for cell in &mut cells[cell(pair[0])..cell(pair[1]).max(cell(pair[0]))] {
                if only.is_none_or(|only| (*cell - only).abs() < NEAR as f32) {
                    *cell = height;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn job(floor: &str) -> Job {
        let text = include_str!("../../../demo/new/plate.toml").replacen("{ shows = \"ruby clear 3\" }", floor, 1);
        let drawing = include_bytes!("../../../demo/new/drawing.svg");
        let taken = intake::take_from(&text, &|name| match name {
            "drawing.svg" => Ok(drawing.to_vec()),
            _ => Err(std::io::ErrorKind::NotFound.into()),
        });
        taken.job.unwrap()
    }

    fn share(map: &HeightMap, height: f64) -> f64 {
        let there = map.heights.iter().filter(|h| (f64::from(**h) - height).abs() < 1e-4).count();
        there as f64 * map.pitch * map.pitch
    }

    #[test]
    fn areas_are_painted_as_large_as_they_are() {
        let job = job("{ below_face = 0.8 }");
        let map = of(&job, None);
        for area in &job.intent.areas {
            let painted = share(&map, area.floor.to_mm());
            // Half a cell along its edge at most.
            assert!((painted - area.region.area()).abs() < 0.5 * map.pitch * area.region.length(), "{}", area.name);
        }
    }

    #[test]
    fn only_what_was_the_floor_moves() {
        let (before, after) = (job("{ below_face = 0.8 }"), job("{ below_face = 1.2 }"));
        let mut cut = of(&before, None);
        // As if a tab stood in the field.
        let field = &before.intent.areas[0];
        let at = cut.heights.iter().position(|h| (f64::from(*h) - field.floor.to_mm()).abs() < 1e-4).unwrap();
        cut.heights[at] += 0.4;
        let map = of(&after, Some((&before, &cut)));
        assert_eq!(map.heights[at], cut.heights[at]);
        let moved = map.heights.iter().zip(&cut.heights).filter(|(a, b)| a != b).count();
        let wanted = cut.heights.iter().filter(|h| (f64::from(**h) - field.floor.to_mm()).abs() < 1e-4).count();
        assert_eq!(moved, wanted);
        let same = of(&before, Some((&before, &cut)));
        assert_eq!(same.heights, cut.heights);
    }
}
