//! The sets of cutters that were compared and what the plan is measured by, in the maker's words.

use crate::Computed;
use plan::{Baseline, Subset, Way};
use plate::Shop;
use sheet::SubsetRow;

/// The set used first, then the best other that reaches as much, the baselines, the others, and what leaves more by hand.
pub(crate) fn rows(computed: &Computed) -> Vec<SubsetRow> {
    let (shop, subsets) = (&computed.job.shop, &computed.plan.subsets);
    let chosen: &[u32] = subsets.iter().find(|s| s.chosen).map_or(&[], |s| &s.cutters);
    let baselines = plan::baselines(shop, &computed.job.intent, subsets, &|| false);
    // What a baseline says already isn't said again.
    let told =
        |s: &&Subset| !baselines.iter().any(|b| matches!(b.way, Way::FinestAlone(n) if !s.chosen && s.cutters == [n]));
    let row = |s: &Subset| SubsetRow {
        cutters: words(shop, &s.cutters, chosen),
        minutes: s.minutes,
        planned: s.planned,
        note: note(s, chosen).into(),
    };
    let (reaching, leaving): (Vec<&Subset>, Vec<&Subset>) = subsets.iter().filter(told).partition(|s| s.reaches_all);
    let measured = baselines.iter().map(|b| baseline(shop, b));
    // The sheet lists only the first few.
    let (first, others) = reaching.split_at(reaching.len().min(2));
    let others = others.iter().copied().chain(leaving).map(row);
    first.iter().copied().map(row).chain(measured).chain(others).collect()
}

/// The rows as a text.
pub(crate) fn text(rows: &[SubsetRow]) -> String {
    let mut text = String::from("Cutters compared, starts and changes included\n\n");
    for row in rows {
        let least = if row.planned { "" } else { "at least " };
        let note = if row.note.is_empty() { String::new() } else { format!(", {}", row.note) };
        text.push_str(&format!("{}: {least}{:.0} min{note}\n", row.cutters, row.minutes.ceil()));
    }
    text
}

fn baseline(shop: &Shop, baseline: &Baseline) -> SubsetRow {
    let (cutters, mut note) = match &baseline.way {
        Way::FinestAlone(number) => (format!("{} alone", name(shop, *number)), "to measure by"),
        Way::PlainOffsets(_) => ("plain inward offsets, same cutters".to_owned(), "to measure by"),
    };
    if !baseline.reaches_all {
        note = "to measure by; it would leave more by hand";
    }
    SubsetRow { cutters, minutes: baseline.minutes, planned: baseline.planned, note: note.into() }
}

/// A set by what makes it differ from the one used.
fn words(shop: &Shop, set: &[u32], chosen: &[u32]) -> String {
    let more: Vec<u32> = set.iter().copied().filter(|n| !chosen.contains(n)).collect();
    let less: Vec<u32> = chosen.iter().copied().filter(|n| !set.contains(n)).collect();
    match (&more[..], &less[..], set) {
        (&[added], [], _) => format!("adding {}", name(shop, added)),
        (_, _, &[only]) => format!("{} alone", name(shop, only)),
        ([], &[left_out], _) => format!("without {}", name(shop, left_out)),
        _ => set.iter().map(|&n| name(shop, n)).collect::<Vec<_>>().join(" + "),
    }
}

fn note(set: &Subset, chosen: &[u32]) -> &'static str {
    let added = set.cutters.len() == chosen.len() + 1 && chosen.iter().all(|n| set.cutters.contains(n));
    match (set.chosen, set.reaches_all) {
        (true, _) => "used",
        (false, true) if added => "not worth a change",
        (false, true) => "reaches as much",
        (false, false) => "leaves more by hand",
    }
}

fn name(shop: &Shop, number: u32) -> String {
    shop.cutter(number).map_or_else(|| number.to_string(), |c| c.name.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sets_are_told_by_what_differs() {
        let taken = intake::take(std::path::Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo/plate.toml")));
        let shop = taken.job.unwrap().shop;
        let told = |set: &[u32], chosen: &[u32], reaches_all: bool| {
            let subset =
                Subset { cutters: set.to_vec(), minutes: 12.0, planned: true, reaches_all, chosen: set == chosen };
            (words(&shop, set, chosen).replace("single-flute flat ", ""), note(&subset, chosen))
        };
        assert_eq!(told(&[1, 3], &[1, 3], true), ("1/8 + 1/32".into(), "used"));
        assert_eq!(told(&[3], &[1, 3], true), ("1/32 alone".into(), "reaches as much"));
        assert_eq!(told(&[1, 2, 3], &[1, 3], true), ("adding 1/16".into(), "not worth a change"));
        assert_eq!(told(&[2, 3], &[1, 2, 3], true), ("without 1/8".into(), "reaches as much"));
        assert_eq!(told(&[2, 3], &[1, 3], false), ("1/16 + 1/32".into(), "leaves more by hand"));
    }

    #[test]
    fn a_text_for_the_packet() {
        let row = |cutters: &str, minutes, planned, note: &str| SubsetRow {
            cutters: cutters.into(),
            minutes,
            planned,
            note: note.into(),
        };
        let rows = [row("1/8 + 1/32", 13.2, true, "used"), row("1/32 alone", 96.0, false, "to measure by")];
        assert_eq!(
            text(&rows),
            "Cutters compared, starts and changes included\n\n1/8 + 1/32: 14 min, used\n1/32 alone: at least 96 min, to measure by\n"
        );
    }
}
