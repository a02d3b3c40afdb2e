//! The proof as plain text, for reading beside the programs.

use crate::verdict::{Proof, StageProof, Verdict};
use crate::{judge, relief};
use quantity::trimmed;
use std::fmt::Write;

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
        "The programs' own text was cut in a model of the thickest blank: {} cells, {} mm apart.",
        proof.cells,
        trimmed(proof.pitch, 4)
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
        let _ = writeln!(text, "Left for the hand: {}", count(proof.hand_work.len(), "spot"));
        for spot in &proof.hand_work {
            let needed = spot
                .cutter_needed
                .map_or(String::new(), |d| format!("; a flat cutter of {} mm would take it", trimmed(d, 3)));
            let _ = writeln!(
                text,
                "  x {:.2} y {:.2}  `{}`, floor {} mm: {} mm², gap {} mm: {}{needed}",
                spot.at.x,
                spot.at.y,
                spot.area,
                trimmed(spot.floor, 3),
                trimmed(spot.area_left, 3),
                trimmed(spot.gap, 3),
                spot.why
            );
        }
    }
    if !proof.findings.is_empty() {
        let _ = writeln!(text, "\nFindings");
        for doubt in &proof.findings {
            let _ = writeln!(text, "\n{}", doubt::render(doubt, &(), false));
        }
    }
    text
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
    let _ = writeln!(
        text,
        "        {} mm in material, {} mm through air, {} mm rapid; {} mm³ removed",
        trimmed(used.cutting_length, 0),
        trimmed(used.air_length, 0),
        trimmed(used.rapid_length, 0),
        trimmed(used.removed, 0)
    );
    let lowest = if used.lowest.is_finite() { format!("{} mm", trimmed(used.lowest, 3)) } else { "none".to_owned() };
    let _ = writeln!(
        text,
        "        lowest height {lowest}; deepest bite {} mm, thickest chip {} mm, steepest entry {}°, {} mm with a chip thin enough to rub\n",
        trimmed(used.deepest_bite, 3),
        trimmed(used.thickest_chip, 3),
        trimmed(used.steepest_entry, 1),
        trimmed(used.rubbing_length, 0)
    );
}

fn count(n: usize, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}
