//! The proof as plain text, for reading beside the programs.

use crate::verdict::{CutterUse, HandWork, MoveLoad, Proof, StageProof, Verdict};
use crate::{heat, judge, relief};
use quantity::trimmed;
use std::fmt::Write;

/// Spots of hand work told one by one.
const LARGEST: usize = 12;

/// The proof in words: the answer first, then what was measured, what is left for the hand, and every finding.
pub fn report(proof: &Proof) -> String {
    let mut text = String::new();
    let refusals = proof.findings.iter().filter(|d| d.blocks()).count();
    let answer = match proof.verdict {
        Verdict::Proven => "PROVEN: these programs make the plate within tolerance and touch nothing else.".to_owned(),
        Verdict::Refused => format!("REFUSED: {}. Do not run these programs.", count(refusals, "fault")),
        Verdict::Undecided => "UNDECIDED: the text leaves something open. Do not run these programs.".to_owned(),
    };
    let _ = writeln!(text, "{answer}\n");
    let _ = writeln!(
        text,
        "The programs' own text was cut in a model of the thickest blank: {} cells, {} mm apart{}{}.",
        proof.cells,
        trimmed(proof.pitch, 4),
        if proof.pitch_why.is_empty() { "" } else { ", " },
        proof.pitch_why
    );
    let _ = writeln!(
        text,
        "Proven means the program, not the machine: walls within {} mm, floors within {} mm of the plate file.\n",
        trimmed(judge::WALL, 3),
        trimmed(relief::TOUCH, 3)
    );
    let walls = &proof.walls;
    let _ = writeln!(text, "Walls   {} probes, {} of them at hand work", walls.probes, walls.at_hand_work);
    let _ = writeln!(
        text,
        "        deepest cut into a wall {} µm, most left on a wall {} µm, root mean square {} µm",
        trimmed(walls.worst_gouge.max(0.0) * 1000.0, 2),
        trimmed(walls.worst_leftover.max(0.0) * 1000.0, 2),
        trimmed(walls.rms * 1000.0, 2)
    );
    let _ =
        writeln!(text, "Floors  greatest difference {} µm\n", trimmed(proof.greatest_floor_error.max(0.0) * 1000.0, 2));
    for (i, stage) in proof.stages.iter().enumerate() {
        write_stage(&mut text, i + 1, stage);
    }
    if proof.hand_work.is_empty() {
        let _ = writeln!(text, "Nothing is left for the hand.");
    } else {
        write_hand_work(&mut text, &proof.hand_work);
    }
    if !proof.findings.is_empty() {
        let _ = writeln!(text, "\nFindings");
        for doubt in &proof.findings {
            let _ = writeln!(text, "\n{}", doubt::render(doubt, &(), false));
        }
    }
    text
}

/// Sums by area and reason, then the largest spots one by one.
fn write_hand_work(text: &mut String, spots: &[HandWork]) {
    let _ = writeln!(text, "Left for the hand: {}", count(spots.len(), "spot"));
    let mut sums: Vec<(&HandWork, usize, f64, f64)> = Vec::new();
    for spot in spots {
        let at = sums.iter().position(|s| s.0.area == spot.area && s.0.why == spot.why).unwrap_or(sums.len());
        if at == sums.len() {
            sums.push((spot, 0, 0.0, 0.0));
        }
        let (_, number, area, gap) = &mut sums[at];
        *number += 1;
        *area += spot.area_left;
        *gap = gap.max(spot.gap);
    }
    sums.sort_by(|a, b| b.3.total_cmp(&a.3));
    for (spot, number, area, gap) in sums {
        let _ = writeln!(
            text,
            "  `{}`: {}, {} mm² together, greatest gap {} mm: {}",
            spot.area,
            count(number, "spot"),
            trimmed(area, 3),
            trimmed(gap, 3),
            spot.why
        );
    }
    let mut largest: Vec<&HandWork> = spots.iter().collect();
    largest.sort_by(|a, b| b.gap.total_cmp(&a.gap).then(b.area_left.total_cmp(&a.area_left)));
    let _ = writeln!(text, "{}", if spots.len() > LARGEST { "The largest" } else { "One by one" });
    for spot in largest.iter().take(LARGEST) {
        let needed = spot
            .cutter_needed
            .map_or(String::new(), |d| format!("; a flat cutter of {} mm would take it", trimmed(d, 3)));
        let _ = writeln!(
            text,
            "  x {:.2} y {:.2}  `{}`, floor {} mm: {} mm², gap {} mm{needed}",
            spot.at.x,
            spot.at.y,
            spot.area,
            trimmed(spot.floor, 3),
            trimmed(spot.area_left, 3),
            trimmed(spot.gap, 3),
        );
    }
    if spots.len() > LARGEST {
        let _ = writeln!(text, "  and {} more in proof.json", spots.len() - LARGEST);
    }
}

fn write_stage(text: &mut String, number: usize, stage: &StageProof) {
    let used = &stage.cutter_use;
    let _ = writeln!(
        text,
        "Stage {number}  {}  cutter {} ({}, cuts {} mm wide)  {:.1} min",
        stage.file,
        stage.cutter_number,
        stage.cutter,
        trimmed(stage.cutting_width, 4),
        stage.minutes
    );
    let lowest = if used.lowest.is_finite() { format!("{} mm", trimmed(used.lowest, 3)) } else { "none".to_owned() };
    write_use(text, "        ", &format!("lowest height {lowest}; "), used);
    if let Some(words) = heat::words(used, &stage.slow_places) {
        let _ = writeln!(text, "        {words}");
    }
    text.push('\n');
}

/// What every move in material asks of the cutter, as a table of comma-separated values: one line for each move of each
/// program, with the units in the heading.
pub fn loads_table<'a>(programs: impl IntoIterator<Item = (&'a str, &'a [MoveLoad])>) -> String {
    let mut text = String::from(
        "program,line,length mm,engagement degrees,depth mm,width mm,thickest chip mm,mean chip mm,rate mm3/min,power W,\
         side force N,bend mm\n",
    );
    for (file, loads) in programs {
        let name =
            if file.contains([',', '"', '\n']) { format!("\"{}\"", file.replace('"', "\"\"")) } else { file.into() };
        for l in loads {
            let figures = [
                (l.length, 3),
                (l.engagement, 1),
                (l.depth, 3),
                (l.width, 3),
                (l.thickest_chip, 4),
                (l.mean_chip, 4),
                (l.rate, 0),
                (l.power, 2),
                (l.force, 2),
                (l.bend, 5),
            ];
            let _ = write!(text, "{name},{}", l.line);
            for (value, decimals) in figures {
                let _ = write!(text, ",{}", trimmed(value, decimals));
            }
            text.push('\n');
        }
    }
    text
}

/// What a cutter does, in two lines, and what it takes at its greatest, in two more.
pub(crate) fn write_use(text: &mut String, indent: &str, first: &str, used: &CutterUse) {
    let _ = writeln!(
        text,
        "{indent}{} mm in material, {} mm through air, {} mm rapid; {} mm³ removed",
        trimmed(used.cutting_length, 0),
        trimmed(used.air_length, 0),
        trimmed(used.rapid_length, 0),
        trimmed(used.removed, 0)
    );
    let _ = writeln!(
        text,
        "{indent}{first}deepest bite {} mm, thickest chip {} mm, steepest entry {}°, {} mm with a chip thin enough to rub",
        trimmed(used.deepest_bite, 3),
        trimmed(used.thickest_chip, 3),
        trimmed(used.steepest_entry, 1),
        trimmed(used.rubbing_length, 0)
    );
    let fed = used.cutting_length + used.air_length;
    if used.hardest_line == 0 || fed <= 0.0 {
        return;
    }
    let _ = writeln!(
        text,
        "{indent}engaged up to {}°, up to {} mm³/min and {} W; side force up to {} N (line {}), which bends the cutter {} µm",
        trimmed(used.widest_engagement, 0),
        trimmed(used.greatest_rate, 0),
        trimmed(used.greatest_power, 1),
        trimmed(used.greatest_force, 1),
        used.hardest_line,
        trimmed(used.greatest_bend * 1000.0, 1),
    );
    let short = match used.short_moves {
        0 => String::new(),
        1 => "; 1 move is shorter than the machine's step".to_owned(),
        n => format!("; {n} moves are shorter than the machine's step"),
    };
    let _ = writeln!(text, "{indent}{} % of the feed path is in air{short}", trimmed(100.0 * used.air_length / fed, 0));
}

fn count(n: usize, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plane::Point;

    /// 118 corners of 0.164 mm and two narrow ends: sums and extremes are derived from the figures put in.
    #[test]
    fn hand_work_is_summed_up_and_the_largest_told() {
        let spot = |i: usize, area: &str, gap: f64, cutter_needed: Option<f64>| HandWork {
            area: area.into(),
            at: Point::new(i as f64, 2.0),
            floor: 3.06,
            area_left: 0.25,
            gap,
            cutter_needed,
            why: if cutter_needed.is_some() { "narrow" } else { "a corner" }.into(),
        };
        let mut spots: Vec<HandWork> = (0..118).map(|i| spot(i, "name", 0.164 + i as f64 * 1e-6, None)).collect();
        spots.extend([spot(200, "moon", 0.637, Some(0.469)), spot(201, "name", 0.45, Some(0.42))]);
        let mut text = String::new();
        write_hand_work(&mut text, &spots);
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines[0], "Left for the hand: 120 spots");
        assert_eq!(lines[1], "  `moon`: 1 spot, 0.25 mm² together, greatest gap 0.637 mm: narrow");
        assert_eq!(lines[2], "  `name`: 1 spot, 0.25 mm² together, greatest gap 0.45 mm: narrow");
        assert_eq!(lines[3], "  `name`: 118 spots, 29.5 mm² together, greatest gap 0.164 mm: a corner");
        assert!(lines[5].contains("x 200.00") && lines[5].ends_with("a flat cutter of 0.469 mm would take it"));
        assert!(lines[6].contains("x 201.00") && lines[7].contains("x 117.00"), "{text}");
        assert_eq!(lines[lines.len() - 1], "  and 108 more in proof.json");
        assert_eq!(lines.len(), 5 + LARGEST + 1);
    }
}
