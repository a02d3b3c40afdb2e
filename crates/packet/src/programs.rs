//! Program texts of a plan: what their heads tell the maker, and the dialect.

use intake::Job;
use motion::Stage;
use plan::Plan;
use plate::{OutUnits, SpeedNote};
use quantity::trimmed;
use rayon::prelude::*;
use write::{Dialect, Heading, Units};

/// File names and texts, the frame run first.
pub fn texts(job: &Job, plan: &Plan) -> Vec<(String, String)> {
    let dialect = dialect(job);
    let total = plan.stages.len();
    let all: Vec<&Stage> = std::iter::once(&plan.frame).chain(&plan.stages).collect();
    let text = |(number, stage): (usize, &Stage)| {
        let name = format!("{}.{}", stage.name, job.shop.dialect.extension);
        (name, write::write(stage, &heading(job, stage, number, total), &dialect))
    };
    all.into_par_iter().enumerate().map(text).collect()
}

fn dialect(job: &Job) -> Dialect {
    let d = &job.shop.dialect;
    Dialect {
        units: match d.units {
            OutUnits::Mm => Units::Mm,
            OutUnits::Inch => Units::Inch,
        },
        decimals: d.decimals,
        line_numbers: d.line_numbers,
        arcs: d.arcs,
        end: d.end.clone(),
        speed_words: d.speed == SpeedNote::Words,
    }
}

/// What the head of a program says.
pub fn heading(job: &Job, stage: &Stage, number: usize, total: usize) -> Heading {
    let (shop, intent) = (&job.shop, &job.intent);
    let mut lines = vec![intent.title.clone()];
    lines.push(match number {
        0 => format!("frame run: {}", stage.purpose),
        _ => format!("program {number} of {total}: {}", stage.purpose),
    });
    if let Some(cutter) = shop.cutter(stage.cutter) {
        lines.push(format!(
            "cutter {}: {}, cuts {} mm wide, stands out {} mm",
            cutter.number,
            cutter.name,
            trimmed(cutter.cutting_width.to_mm(), 4),
            trimmed(cutter.stick_out.to_mm(), 2)
        ));
    }
    lines.push("zero: X0 Y0 at the blank's lower left corner, Z0 at the table".into());
    lines.push(format!(
        "touch off on the table with the feeler and set the display to {}, its thickness, not to 0",
        trimmed(shop.touch_off.feeler.to_mm(), 3)
    ));
    if stage.cutting {
        lines.push(format!(
            "spindle {:.0} rev/min{}, feed {:.0} mm/min, passes up to {} mm",
            stage.speed.to_rev_per_min(),
            stage.dial.as_ref().map(|d| format!(" at dial {d}")).unwrap_or_default(),
            stage.feed.to_mm_per_min(),
            trimmed(stage.pass_depth, 2)
        ));
    } else {
        lines.push("spindle off".into());
    }
    let hops = stage.hop.map(|h| format!(", hops at {}", trimmed(h.to_mm(), 3))).unwrap_or_default();
    lines.push(format!("heights are mm above the table; traverses at {}{hops}", trimmed(stage.traverse.to_mm(), 3)));
    if job.shop.dialect.units == OutUnits::Inch {
        lines.push("the words below are in inches".into());
    }
    Heading { lines }
}
