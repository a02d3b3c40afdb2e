//! A section through the model, after ISO 128: thick cut edges, hatching by layer, thin dimension lines.

use crate::drawing::{Drawing, Step, polygon, polyline, rectangle, style};
use crate::ink::{self, GROUND, INK, QUIET};
use crate::lettering::Cut as Letters;
use crate::numbers::{short, two};
use plate::{Blank, Intent};
use proof::HeightMap;

/// Two heights nearer than this are one floor, mm.
const SAME: f64 = 0.03;
/// A floor counts where the line crosses this much of it, mm.
const WIDE: f64 = 0.8;
/// Room for heights and their words at the right, in sizes of the words.
const LABELS: f32 = 14.0;
/// Rows and columns looked at, at most.
const LOOKED_AT: usize = 700;

/// Where a section is taken and what it meets.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Cut {
    /// Whether the line runs in x (else in y).
    pub(crate) along_x: bool,
    /// The line's y (or x), mm.
    pub(crate) at: f64,
    /// Corners of the profile: mm along the line, and height above the table.
    pub(crate) profile: Vec<(f64, f64)>,
    /// Heights of the floors it crosses, highest first; through cuts left out.
    pub(crate) floors: Vec<f64>,
}

/// What a section drawing used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Used {
    /// Its lower edge.
    pub(crate) bottom: f32,
    /// By what heights are drawn larger than lengths.
    pub(crate) stretch: f64,
}

/// The line through as many different floors as possible; of those, the one whose least floor is crossed most;
/// lines in x are preferred. `None` without a model.
pub(crate) fn most_telling(map: &HeightMap, blank: &Blank) -> Option<Cut> {
    let whole = map.columns.checked_mul(map.rows) == Some(map.heights.len()) && map.pitch > 0.0;
    if map.heights.is_empty() || !whole {
        return None;
    }
    let mut best: Option<((usize, usize), bool, usize)> = None;
    for along_x in [true, false] {
        let lines = if along_x { map.rows } else { map.columns };
        let step = lines.div_ceil(LOOKED_AT).max(1);
        let middle = lines / 2;
        for offset in (0..=middle).step_by(step) {
            for line in [middle.checked_sub(offset), Some(middle + offset)].into_iter().flatten() {
                if line >= lines {
                    continue;
                }
                let floors = floors_of(&heights(map, blank, along_x, line), map.pitch, blank);
                // Beyond some mm it doesn't matter how long the least floor is: then the line nearest the middle.
                let least = floors.iter().map(|f| (f.1 / 0.5).min(20.0) as usize).min().unwrap_or(0);
                let score = (floors.len(), least);
                let better = match &best {
                    None => true,
                    Some((had, true, _)) if !along_x => score.0 > had.0 + 1,
                    Some((had, ..)) => score > *had,
                };
                if better {
                    best = Some((score, along_x, line));
                }
            }
        }
    }
    let (_, along_x, line) = best?;
    Some(along(map, blank, along_x, line))
}

/// The section along the row or column of the model at a place, mm; `None` without a model or beside it.
pub(crate) fn at(map: &HeightMap, blank: &Blank, along_x: bool, place: f64) -> Option<Cut> {
    let whole = map.columns.checked_mul(map.rows) == Some(map.heights.len()) && map.pitch > 0.0;
    let (origin, lines) = if along_x { (map.origin.y, map.rows) } else { (map.origin.x, map.columns) };
    let line = crate::relief::cell_of(place - origin, map.pitch, lines).filter(|_| whole)?;
    Some(along(map, blank, along_x, line))
}

fn along(map: &HeightMap, blank: &Blank, along_x: bool, line: usize) -> Cut {
    let heights = heights(map, blank, along_x, line);
    let floors = floors_of(&heights, map.pitch, blank).into_iter().map(|f| f.0);
    let start = if along_x { map.origin.x } else { map.origin.y };
    Cut {
        along_x,
        at: if along_x { map.origin.y } else { map.origin.x } + (line as f64 + 0.5) * map.pitch,
        profile: profile(&heights, start, map.pitch, blank.size[usize::from(!along_x)].to_mm()),
        floors: floors.filter(|&f| f > blank.underside.to_mm() + 1e-3).collect(),
    }
}

fn heights(map: &HeightMap, blank: &Blank, along_x: bool, line: usize) -> Vec<f64> {
    let low = blank.underside.to_mm();
    let clean = |h: Option<&f32>| h.copied().map(f64::from).filter(|h| h.is_finite()).unwrap_or(low).max(low);
    if along_x {
        (0..map.columns).map(|i| clean(map.heights.get(line * map.columns + i))).collect()
    } else {
        (0..map.rows).map(|j| clean(map.heights.get(j * map.columns + line))).collect()
    }
}

/// Distinct heights of level runs, highest first, each with the greatest length of a run, mm.
fn floors_of(heights: &[f64], pitch: f64, blank: &Blank) -> Vec<(f64, f64)> {
    let mut floors: Vec<(f64, f64)> = Vec::new();
    let mut from = 0;
    for i in 1..=heights.len() {
        if i < heights.len() && (heights[i] - heights[from]).abs() < SAME {
            continue;
        }
        let length = (i - from) as f64 * pitch;
        if length >= WIDE {
            let height = heights[from + (i - from) / 2].min(blank.face.to_mm());
            match floors.iter_mut().find(|f| (f.0 - height).abs() < SAME) {
                Some(floor) => floor.1 = floor.1.max(length),
                None => floors.push((height, length)),
            }
        }
        from = i;
    }
    floors.sort_by(|a, b| b.0.total_cmp(&a.0));
    floors
}

/// Corners of the profile: level runs joined by upright walls, slopes kept where heights change little by little.
fn profile(heights: &[f64], start: f64, pitch: f64, length: f64) -> Vec<(f64, f64)> {
    let mut points: Vec<(f64, f64)> = Vec::new();
    let inside = |s: f64| s.clamp(0.0, length.max(0.0));
    let mut push = |s: f64, h: f64| {
        let n = points.len();
        if n >= 2 && points[n - 1].1 == h && points[n - 2].1 == h {
            points[n - 1].0 = s;
        } else {
            points.push((s, h));
        }
    };
    for (i, &h) in heights.iter().enumerate() {
        let centre = start + (i as f64 + 0.5) * pitch;
        let previous = i.checked_sub(1).map_or(h, |p| heights[p]);
        if (h - previous).abs() > 0.15_f64.max(pitch * 1.2) || i == 0 {
            push(inside(centre - pitch / 2.0), previous);
            push(inside(centre - pitch / 2.0), h);
        }
        push(inside(centre), h);
        if i + 1 == heights.len() {
            push(inside(centre + pitch / 2.0), h);
        }
    }
    points
}

/// A sentence that says what the section shows.
pub(crate) fn caption(cut: Option<&Cut>, stretch: f64) -> String {
    let Some(cut) = cut else { return "There is no model to take a section of.".to_owned() };
    let (axis, along) =
        if cut.along_x { ("y", "x, seen from the maker’s side") } else { ("x", "y, seen from the right") };
    let scale = if stretch > 1.0 {
        format!("heights are drawn **{} times** larger than lengths", short(stretch, 1))
    } else {
        "heights and lengths are drawn to the same scale".to_owned()
    };
    format!(
        "Section at *{axis}* **{} mm**, along {along}, through as many floors as one line crosses; {scale}. Heights are in mm above the table.",
        two(cut.at)
    )
}

/// Draws the section in a width from a top left corner; words of a size.
pub(crate) fn draw(
    drawing: &mut Drawing,
    intent: &Intent,
    cut: Option<&Cut>,
    left: f32,
    top: f32,
    width: f32,
    size: f32,
) -> Used {
    let blank = &intent.blank;
    let labels_room = size * LABELS;
    let along_x = cut.is_none_or(|c| c.along_x);
    let length = blank.size[usize::from(!along_x)].to_mm().clamp(1.0, 1e5);
    let thick = blank.face.to_mm().max(0.1);
    let across = (width - labels_room).max(20.0) / length as f32;
    let wanted = f64::from(size * 7.5) / (thick * f64::from(across));
    let stretch = [1.0, 2.0, 3.0, 4.0, 5.0, 8.0, 10.0].into_iter().rfind(|s| *s <= wanted.max(1.0)).unwrap_or(1.0);
    let up = across * stretch as f32;
    let table = top + size * 0.6 + (thick as f32 * up).min(size * 40.0);
    let at = |s: f64, h: f64| (left + s as f32 * across, table - h as f32 * up);

    for (index, layer) in blank.layers.iter().enumerate() {
        let (bottom, layer_top) = (layer.bottom.to_mm(), layer.top.to_mm());
        let tint = ink::mixed(layer.sheet.colour, GROUND, 0.30);
        for piece in cut.map(|c| pieces(&c.profile, bottom, layer_top)).unwrap_or_default() {
            let path: Vec<Step> = polygon(&piece.iter().map(|&(s, h)| at(s, h)).collect::<Vec<_>>());
            drawing.fill(path.clone(), tint);
            let (rising, spacing) = hatching(index, size);
            drawing.hatch(path.clone(), rising, spacing, INK, 0.45);
            drawing.line(path, INK, size * 0.1);
        }
    }
    let right = left + length as f32 * across;
    let mut labels: Vec<(f64, String)> = Vec::new();
    let mut below = blank.underside.to_mm();
    for under in &blank.under {
        let thickness = under.thickness.to_mm();
        let (x, y) = at(0.0, below);
        let strip = rectangle(x, y, right - left, (thickness as f32 * up).max(0.5));
        drawing.fill(strip.clone(), ink::HAIR);
        drawing.line(strip, ink::THIN, 0.5);
        labels.push((below, format!("on {}", under.name)));
        below -= thickness;
    }
    // The table, with the short strokes of solid ground.
    drawing.rule((left - size * 0.5, table), (right + size * 0.4, table), INK, size * 0.1);
    let ground = rectangle(left - size * 0.5, table, right - left + size * 0.9, size * 0.45);
    drawing.hatch(ground, true, size * 0.45, INK, 0.45);
    labels.push((0.0, "table".to_owned()));

    labels.push((blank.face.to_mm(), "face".to_owned()));
    for floor in cut.map(|c| c.floors.as_slice()).unwrap_or_default() {
        if (floor - blank.face.to_mm()).abs() >= SAME {
            labels.push((*floor, floor_words(intent, *floor)));
        }
    }
    for pair in blank.layers.windows(2) {
        labels.push((pair[0].bottom.to_mm(), format!("{} ends", pair[0].sheet.name)));
    }
    height_labels(drawing, labels, |h| at(0.0, h).1, right, size);
    let bottom = legend(drawing, blank, left, table + size * 1.9, width, size);
    Used { bottom, stretch }
}

/// Heights with their words at the right of a section, moved apart where they would touch.
fn height_labels(
    drawing: &mut Drawing,
    mut labels: Vec<(f64, String)>,
    y_of: impl Fn(f64) -> f32,
    right: f32,
    size: f32,
) {
    labels.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
    let (step, words) = (size * 1.12, size * 0.92);
    let mut places: Vec<f32> = labels.iter().map(|l| y_of(l.0)).collect();
    spread(&mut places, step);
    for ((height, text), place) in labels.iter().zip(&places) {
        let (y, x) = (y_of(*height), right + size * 0.5);
        let course = [(x, y), (x + size * 0.5, y), (x + size * 1.4, *place), (x + size * 1.9, *place)];
        drawing.line(polyline(&course), ink::THIN, 0.5);
        let number = two(*height);
        let pen = x + size * 2.2;
        let end = pen + drawing.lettering.width("00.00", Letters::Bold, words);
        drawing.text_to(end, place + words * 0.33, style(words, Letters::Bold, INK), &number);
        let room = size * LABELS - size * 3.0 - (end - pen);
        drawing.text_within(end + size * 0.35, place + words * 0.33, style(words, Letters::Italic, QUIET), room, text);
    }
}

/// Moves sorted places apart to at least `step`, keeping their order and, as a whole, their middle.
pub(crate) fn spread(places: &mut [f32], step: f32) {
    // Groups that touch share one run of evenly spaced places around the mean of what they want.
    let mut groups: Vec<(f32, usize)> = Vec::new();
    for &place in places.iter() {
        groups.push((place, 1));
        while let [.., (a, n), (b, m)] = groups[..] {
            if b - a >= step * (n + m) as f32 / 2.0 {
                break;
            }
            // Each group's value is the mean of its places; joined, the mean of what its members want.
            let joined = (a * n as f32 + b * m as f32) / (n + m) as f32;
            groups.truncate(groups.len() - 2);
            groups.push((joined, n + m));
        }
    }
    let mut slots = places.iter_mut();
    for (middle, n) in groups {
        for k in 0..n {
            if let Some(slot) = slots.next() {
                *slot = middle + step * (k as f32 - (n - 1) as f32 / 2.0);
            }
        }
    }
}

/// The layers with their hatching: name, thickness, spread.
fn legend(drawing: &mut Drawing, blank: &Blank, left: f32, top: f32, width: f32, size: f32) -> f32 {
    let (box_width, line, words) = (size * 2.4, size * 1.5, size * 0.92);
    let mut y = top;
    for (index, layer) in blank.layers.iter().enumerate() {
        let swatch = rectangle(left, y, box_width, size * 1.05);
        drawing.fill(swatch.clone(), ink::mixed(layer.sheet.colour, GROUND, 0.30));
        let (rising, spacing) = hatching(index, size);
        drawing.hatch(swatch.clone(), rising, spacing, INK, 0.45);
        drawing.line(swatch, INK, size * 0.06);
        let how = if layer.measured { "measured" } else { "not measured" };
        let text = format!(
            "{}, {} mm ± {} ({how}), from {} up to {}",
            layer.sheet.name,
            two(layer.thickness.to_mm()),
            two(layer.spread.to_mm()),
            two(layer.bottom.to_mm()),
            two(layer.top.to_mm())
        );
        let pen = left + box_width + size * 0.5;
        drawing.text_within(pen, y + size * 0.85, style(words, Letters::Regular, INK), width - (pen - left), &text);
        y += line;
    }
    y
}

/// Direction and spacing of a layer's hatching: neighbours differ in both.
fn hatching(index: usize, size: f32) -> (bool, f32) {
    (index.is_multiple_of(2), size * [0.30, 0.52, 0.40, 0.64][index % 4])
}

/// The names of the areas that end at a height.
fn floor_words(intent: &Intent, floor: f64) -> String {
    let mut names: Vec<&str> = Vec::new();
    for area in &intent.areas {
        if (area.floor.to_mm() - floor).abs() < SAME && !names.contains(&area.name.as_str()) {
            names.push(&area.name);
        }
    }
    match names.as_slice() {
        [] => "floor".to_owned(),
        [one] => (*one).to_owned(),
        [one, two] => format!("{one}, {two}"),
        [one, rest @ ..] => format!("{one} and {} more", rest.len()),
    }
}

/// The pieces of a layer that the profile leaves, as closed polygons.
pub(crate) fn pieces(profile: &[(f64, f64)], bottom: f64, top: f64) -> Vec<Vec<(f64, f64)>> {
    let mut pieces: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut piece: Vec<(f64, f64)> = Vec::new();
    let mut close = |piece: &mut Vec<(f64, f64)>| {
        if let (Some(first), Some(last)) = (piece.first().copied(), piece.last().copied())
            && last.0 > first.0
        {
            piece.push((last.0, bottom));
            piece.insert(0, (first.0, bottom));
            pieces.push(std::mem::take(piece));
        }
        piece.clear();
    };
    for &(s, h) in profile {
        if h > bottom + 1e-4 {
            piece.push((s, h.min(top)));
        } else {
            close(&mut piece);
        }
    }
    close(&mut piece);
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_move_apart_and_keep_their_order() {
        let mut places = [10.0, 10.5, 11.0, 40.0];
        spread(&mut places, 5.0);
        assert_eq!(places, [5.5, 10.5, 15.5, 40.0]);
        let mut crowded = [0.0, 4.0, 4.1, 4.2, 9.0];
        spread(&mut crowded, 5.0);
        assert!(crowded.windows(2).all(|p| p[1] - p[0] >= 4.999));
    }

    #[test]
    fn a_layer_is_cut_into_its_pieces() {
        let profile = [(0.0, 6.0), (10.0, 6.0), (10.0, 2.0), (20.0, 2.0), (20.0, 6.0), (30.0, 6.0)];
        assert_eq!(pieces(&profile, 3.0, 6.0).len(), 2);
        assert_eq!(pieces(&profile, 0.0, 3.0).len(), 1);
        assert!(pieces(&[], 0.0, 3.0).is_empty());
    }
}
