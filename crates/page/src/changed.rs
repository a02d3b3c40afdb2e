//! What a reading has changed: floors, minutes, verdict, cutters and doubts, before and after.

use crate::run::Run;
use doubt::Severity;
use proof::Verdict;
use quantity::trimmed;
use serde_json::{Value, json};

/// What is compared of a run; plain words and numbers, so that no model is kept for it.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Figures {
    verdict: &'static str,
    /// Names and values, in the order of the run.
    rows: Vec<(String, String)>,
    doubts: Vec<String>,
}

impl Figures {
    /// Of a run.
    pub(crate) fn of(run: &Run) -> Self {
        let mut rows = Vec::new();
        if let Some(computed) = &run.computed {
            let intent = &computed.job.intent;
            let mm = |value: f64| format!("{} mm", trimmed(value, 2));
            rows.push(("The face above the table".to_owned(), mm(intent.blank.face.to_mm())));
            let floors = intent.areas.iter().filter(|a| !matches!(a.kind, plate::FloorKind::Through));
            rows.extend(floors.map(|a| (format!("Floor of {}", a.name), mm(a.floor.to_mm()))));
            let stages = computed.proof.stages.iter().skip(1);
            rows.extend(stages.clone().map(|s| (format!("Minutes of {}", s.file), trimmed(s.minutes, 1))));
            let total: f64 = computed.proof.stages.iter().map(|s| s.minutes).sum();
            rows.push(("Minutes of all programs".into(), trimmed(total, 1)));
            let mut cutters: Vec<String> = Vec::new();
            for stage in stages {
                let cutter = format!("{} ({})", stage.cutter_number, stage.cutter);
                if !cutters.contains(&cutter) {
                    cutters.push(cutter);
                }
            }
            rows.push(("Cutters".into(), cutters.join(", ")));
            rows.push(("Places left for hand".into(), computed.proof.hand_work.len().to_string()));
        }
        let doubts = run.doubts.iter().filter(|d| d.severity > Severity::Note).map(|d| d.message.clone()).collect();
        Self { verdict: verdict(run), rows, doubts }
    }

    /// What differs between these and later ones.
    pub(crate) fn until(&self, after: &Self) -> Value {
        let mut rows = Vec::new();
        let mut row = |what: &str, before: &str, after: &str| {
            if before != after {
                rows.push(json!({ "what": what, "before": before, "after": after }));
            }
        };
        row("Verdict", self.verdict, after.verdict);
        let found = |rows: &[(String, String)], name: &str| rows.iter().find(|r| r.0 == name).map(|r| r.1.clone());
        // Where there is no plan there is nothing to compare: that is told by the verdict.
        if !self.rows.is_empty() && !after.rows.is_empty() {
            for (name, value) in &after.rows {
                row(name, &found(&self.rows, name).unwrap_or_else(|| "none".into()), value);
            }
            for (name, value) in &self.rows {
                if found(&after.rows, name).is_none() {
                    row(name, value, "none");
                }
            }
        }
        let missing = |from: &[String], of: &[String]| -> Vec<String> {
            of.iter().filter(|d| !from.contains(d)).cloned().collect()
        };
        json!({
            "rows": rows,
            "new": missing(&self.doubts, &after.doubts),
            "gone": missing(&after.doubts, &self.doubts),
        })
    }
}

fn verdict(run: &Run) -> &'static str {
    match run.verdict {
        Some(Verdict::Proven) if !doubt::any_blocks(&run.doubts) => "Proven",
        Some(Verdict::Undecided) => "Undecided",
        None if run.broke_off.is_some() => "Undecided",
        _ => "Refused",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_differs_is_told() {
        let row = |n: &str, v: &str| (n.to_owned(), v.to_owned());
        let before = Figures {
            verdict: "Proven",
            rows: vec![row("face", "6.2 mm"), row("1-clear.nc", "3"), row("floor", "2 mm")],
            doubts: vec!["thin".into(), "stays".into()],
        };
        let after = Figures {
            verdict: "Refused",
            rows: vec![row("face", "6.2 mm"), row("floor", "1.9 mm"), row("2-edge.nc", "4")],
            doubts: vec!["stays".into(), "deep".into()],
        };
        assert_eq!(
            before.until(&after),
            json!({
                "rows": [
                    { "what": "Verdict", "before": "Proven", "after": "Refused" },
                    { "what": "floor", "before": "2 mm", "after": "1.9 mm" },
                    { "what": "2-edge.nc", "before": "none", "after": "4" },
                    { "what": "1-clear.nc", "before": "3", "after": "none" },
                ],
                "new": ["deep"],
                "gone": ["thin"],
            })
        );
        let nothing = before.until(&before);
        assert_eq!(nothing["rows"].as_array().map(Vec::len), Some(0));
        // A plate that is no longer planned is told by its verdict and its doubts alone.
        let refused = Figures { verdict: "Refused", ..Figures::default() };
        assert_eq!(before.until(&refused)["rows"].as_array().map(Vec::len), Some(1));
    }
}
