//! Pictures of the spots of findings: the worst few places of each kind, drawn from the programs' own text, and named in
//! the findings that they show.

use crate::Files;
use doubt::Doubt;
use plane::Bounds;
use plate::{Intent, Shop};
use proof::{HeightMap, Look, Spot};
use rayon::prelude::*;
use read::Program;
use sheet::SpotPicture;

/// Most pictures.
pub const MOST: usize = 12;
/// Most of one kind of finding.
pub const OF_A_KIND: usize = 3;
/// Samples of a window's side.
const FINE: f64 = 600.0;
/// Width of a cutter that isn't known, mm: only the window's size goes by it.
const USUAL: f64 = 3.0;

/// A program as its proof or survey tells it.
pub(crate) struct Cut<'a> {
    pub(crate) cutter_number: u32,
    pub(crate) cutter: &'a str,
    pub(crate) cutting_width: f64,
    pub(crate) relief: &'a HeightMap,
}

/// What the pictures are drawn from.
pub(crate) struct Scene<'a> {
    pub(crate) shop: &'a Shop,
    pub(crate) intent: &'a Intent,
    pub(crate) programs: &'a [Program],
    pub(crate) named: &'a [(Option<u32>, bool)],
    pub(crate) cuts: Vec<Cut<'a>>,
}

/// Draws the worst places, and names the files in the findings; what has places that aren't drawn says so.
pub(crate) fn draw(scene: &Scene, spots: &[Spot], findings: &mut [Doubt]) -> Files {
    let last = scene.programs.len().saturating_sub(1);
    let chosen = chosen(spots, findings);
    let drawn: Vec<(&Spot, Look)> =
        chosen.iter().map(|&i| (&spots[i], look(scene, &spots[i], findings, last))).collect();
    let looks: Vec<Look> = drawn.iter().map(|d| d.1).collect();
    let close = proof::close_ups(scene.shop, scene.intent, scene.programs, scene.named, &looks);
    let named: Vec<(String, &Spot)> = drawn
        .iter()
        .enumerate()
        .map(|(i, (spot, _))| {
            let id = findings.get(spot.finding).map_or("spot", |d| d.id);
            (format!("pictures/spot-{:02}-{id}.png", i + 1), *spot)
        })
        .collect();
    let empty = HeightMap::default();
    let one = |(i, close): (usize, &proof::CloseUp)| {
        let (spot, look) = drawn[i];
        let finding = findings.get(spot.finding)?;
        let places: Vec<usize> = (0..drawn.len()).filter(|&k| drawn[k].0.finding == spot.finding).collect();
        let place = places.iter().position(|&k| k == i).map_or(0, |p| p + 1);
        let file = |stage: usize| scene.programs.get(stage).map_or("", |p| p.file.as_str());
        let line = spot.stage.zip(spot.line).and_then(|(stage, line)| {
            let text = (line as usize).checked_sub(1).and_then(|l| scene.programs.get(stage)?.lines.get(l));
            let cut = scene.cuts.get(stage)?;
            Some((
                file(stage),
                text.unwrap_or_default().into_owned(),
                (cut.cutter_number, cut.cutter, cut.cutting_width),
            ))
        });
        let bytes = sheet::spot(
            scene.intent,
            &SpotPicture {
                number: i + 1,
                title: title(finding.id),
                finding,
                spot,
                place: (place, places.len()),
                close,
                whole: scene.cuts.get(look.after).map_or(&empty, |c| c.relief),
                after: (look.after + 1, scene.programs.len(), file(look.after)),
                line: line.as_ref().map(|(file, text, cutter)| (*file, text.as_str(), *cutter)),
                left: is_left(finding.id),
            },
        );
        Some((named[i].0.clone(), bytes))
    };
    let files: Files = close.par_iter().enumerate().filter_map(one).collect();
    for (name, spot) in &named {
        if let Some(finding) = findings.get_mut(spot.finding) {
            finding.pictures.push(name.clone());
        }
    }
    for (index, finding) in findings.iter_mut().enumerate() {
        let places = spots.iter().filter(|s| s.finding == index).count();
        match (places, finding.pictures.len()) {
            (0, _) => {}
            (_, 0) => finding.notes.push(format!("not drawn: {MOST} places are drawn at most, {OF_A_KIND} of a kind")),
            (places, shown) if shown < places => {
                finding.notes.push(format!("{} more of its worst places not drawn", places - shown));
            }
            _ => {}
        }
    }
    files
}

/// Places to draw, in the order of their findings: the worst of each kind first, then the second worst of each, until
/// there are enough.
fn chosen(spots: &[Spot], findings: &[Doubt]) -> Vec<usize> {
    let mut kinds: Vec<(&str, Vec<usize>)> = Vec::new();
    for (i, spot) in spots.iter().enumerate() {
        let Some(id) = findings.get(spot.finding).map(|d| d.id) else { continue };
        match kinds.iter_mut().find(|k| k.0 == id) {
            Some(kind) => kind.1.push(i),
            None => kinds.push((id, vec![i])),
        }
    }
    for (_, places) in &mut kinds {
        places.sort_by(|&a, &b| spots[b].amount.total_cmp(&spots[a].amount).then(a.cmp(&b)));
    }
    let turns = (0..OF_A_KIND).flat_map(|turn| kinds.iter().filter_map(move |k| k.1.get(turn).copied()));
    let mut chosen: Vec<usize> = turns.take(MOST).collect();
    chosen.sort_unstable();
    chosen
}

fn look(scene: &Scene, spot: &Spot, findings: &[Doubt], last: usize) -> Look {
    let id = findings.get(spot.finding).map_or("", |d| d.id);
    let width = spot.stage.and_then(|s| scene.cuts.get(s)).map_or(0.0, |c| c.cutting_width);
    let reach = proof::reach(id, spot, if width > 0.0 { width } else { USUAL });
    Look {
        // What is left standing is wrong only when everything is cut.
        after: spot.stage.filter(|_| !is_left(id)).unwrap_or(last),
        line: spot.stage.zip(spot.line),
        window: Bounds { min: spot.at, max: spot.at }.grown(reach),
        pitch: 2.0 * reach / FINE,
    }
}

fn is_left(id: &str) -> bool {
    ["leftover", "wall-leftover", "through-missing", "stroke-lost", "wrong-layer"].contains(&id)
}

fn title(id: &str) -> &str {
    proof::KINDS.iter().chain(read::KINDS).find(|k| k.id == id).map_or(id, |k| k.title)
}

#[cfg(test)]
mod tests {
    use super::*;
    use plane::Point;

    fn spot(finding: usize, amount: f64) -> Spot {
        Spot {
            finding,
            stage: None,
            line: None,
            at: Point::default(),
            height: None,
            amount,
            words: String::new(),
            message: String::new(),
        }
    }

    /// Every kind is seen before one is seen twice; three of a kind and twelve in all.
    #[test]
    fn the_worst_of_every_kind_first() {
        let ids = ["gouge", "gouge", "plunge", "leftover", "hold-hit", "table-hit", "nut-rub"];
        let kinds = ids.map(|id| proof::KINDS.iter().find(|k| k.id == id).unwrap());
        let findings: Vec<Doubt> = kinds.iter().map(|k| k.refusal("x")).collect();
        let mut spots: Vec<Spot> = [0.1, 0.5, 0.2].map(|a| spot(0, a)).to_vec();
        spots.extend([0.3, 0.05].map(|a| spot(1, a)));
        spots.extend((2..7).flat_map(|f| [0.3, 0.2, 0.1].map(|a| spot(f, a))));
        let told = chosen(&spots, &findings);
        assert_eq!(told.len(), MOST);
        let of = |f: usize| told.iter().filter(|&&i| spots[i].finding == f).count();
        assert_eq!([of(0) + of(1), of(2), of(3), of(4), of(5), of(6)], [2, 2, 2, 2, 2, 2]);
        assert_eq!(told[..2], [1, 3], "the worst two of the gouges, in the findings' order");
        assert_eq!(chosen(&spots[..5], &findings).len(), OF_A_KIND);
    }
}
