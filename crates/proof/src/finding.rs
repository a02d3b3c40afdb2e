//! Findings as they come up, and how those of one kind and program are drawn together into one doubt with its worst places.

use crate::cause;
use crate::verdict::Spot;
use doubt::{Doubt, Kind, Place, Severity};
use plane::Point;
use read::Program;
use std::collections::BTreeMap;

/// One thing found.
#[derive(Debug, Clone)]
pub(crate) struct Found {
    kind: &'static Kind,
    severity: Severity,
    stage: Option<usize>,
    group: String,
    line: Option<u32>,
    at: Option<[f64; 3]>,
    amount: f64,
    count: u64,
    message: String,
    way_out: &'static str,
    notes: Vec<String>,
}

impl Found {
    /// In a program.
    pub(crate) fn new(kind: &'static Kind, stage: usize) -> Self {
        Self { stage: Some(stage), ..Self::on_plate(kind) }
    }

    /// On the plate as it comes out.
    pub(crate) fn on_plate(kind: &'static Kind) -> Self {
        Self {
            kind,
            severity: if kind.id.starts_with("undecided-") { Severity::Caution } else { Severity::Refusal },
            stage: None,
            group: String::new(),
            line: None,
            at: None,
            amount: 0.0,
            count: 1,
            message: String::new(),
            way_out: "",
            notes: Vec::new(),
        }
    }

    pub(crate) fn caution(mut self) -> Self {
        self.severity = Severity::Caution;
        self
    }

    pub(crate) fn stage(mut self, stage: Option<usize>) -> Self {
        self.stage = stage;
        self
    }

    /// Keeps findings of different groups (areas, holds) apart.
    pub(crate) fn group(mut self, group: impl Into<String>) -> Self {
        self.group = group.into();
        self
    }

    pub(crate) fn line(mut self, line: u32) -> Self {
        self.line = Some(line);
        self
    }

    pub(crate) fn at(mut self, x: f64, y: f64, z: f64) -> Self {
        self.at = Some([x, y, z]);
        self
    }

    /// How bad: the worst of a group speaks for it.
    pub(crate) fn amount(mut self, amount: f64) -> Self {
        self.amount = amount;
        self
    }

    pub(crate) fn count(mut self, count: u64) -> Self {
        self.count = count;
        self
    }

    pub(crate) fn saying(mut self, message: impl Into<String>, way_out: &'static str) -> Self {
        self.message = message.into();
        self.way_out = way_out;
        self
    }

    pub(crate) fn noting(mut self, note: impl Into<String>) -> Self {
        self.notes.push(note.into());
        self
    }
}

struct Group {
    worst: Found,
    count: u64,
    first: Option<u32>,
    /// The worst places, apart from each other, worst first.
    places: Vec<Found>,
}

/// Most places kept of a group.
const PLACES: usize = 3;
/// Places nearer to a worse one than this show the same, mm.
const APART: f64 = 3.0;

impl Group {
    fn of(found: Found) -> Self {
        let places = if found.at.is_some() { vec![found.clone()] } else { Vec::new() };
        Self { count: found.count, first: found.line, places, worst: found }
    }

    /// Takes in another group, as if it came after.
    fn join(&mut self, more: Self) {
        self.count += more.count;
        self.first = match (self.first, more.first) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        more.places.iter().for_each(|place| self.rank(place));
        if more.worst.amount > self.worst.amount {
            self.worst = more.worst;
        }
    }

    fn rank(&mut self, found: &Found) {
        let Some(at) = found.at else { return };
        if self.places.len() >= PLACES && self.places[PLACES - 1].amount >= found.amount {
            return;
        }
        let near = |place: &Found| place.at.is_some_and(|p| libm::hypot(p[0] - at[0], p[1] - at[1]) < APART);
        if self.places.iter().any(|place| near(place) && place.amount >= found.amount) {
            return;
        }
        self.places.retain(|place| !near(place));
        let index = self.places.partition_point(|place| place.amount >= found.amount);
        self.places.insert(index, found.clone());
        self.places.truncate(PLACES);
    }
}

/// All findings, drawn together by kind, program and group.
#[derive(Default)]
pub(crate) struct Tally {
    passed: Vec<Doubt>,
    groups: BTreeMap<(Option<usize>, &'static str, String), Group>,
}

/// Most groups of one kind and program that are listed one by one.
const MOST: usize = 10;

impl Tally {
    /// A doubt of the reader.
    pub(crate) fn pass_on(&mut self, mut doubt: Doubt) {
        if doubt.likely_cause.is_none() {
            doubt.likely_cause = cause::likely(doubt.id, 0.0).map(str::to_owned);
        }
        self.passed.push(doubt);
    }

    pub(crate) fn add(&mut self, found: Found) {
        self.group(Group::of(found));
    }

    /// Adds what another one has, as if it came after.
    pub(crate) fn join(&mut self, other: Self) {
        self.passed.extend(other.passed);
        for group in other.groups.into_values() {
            self.group(group);
        }
    }

    fn group(&mut self, more: Group) {
        let key = (more.worst.stage, more.worst.kind.id, more.worst.group.clone());
        match self.groups.get_mut(&key) {
            None => {
                self.groups.insert(key, more);
            }
            Some(group) => group.join(more),
        }
    }

    /// Refusals first, then what is undecided, then the rest; each in the order of programs. With the places that can be
    /// shown, which point into them.
    pub(crate) fn close(self, programs: &[Program]) -> (Vec<Doubt>, Vec<Spot>) {
        let mut doubts: Vec<(Doubt, Vec<Found>)> = self.passed.into_iter().map(|d| (d, Vec::new())).collect();
        let mut sizes: BTreeMap<(Option<usize>, &'static str), usize> = BTreeMap::new();
        for (stage, id, _) in self.groups.keys() {
            *sizes.entry((*stage, *id)).or_default() += 1;
        }
        let mut shown: BTreeMap<(Option<usize>, &'static str), usize> = BTreeMap::new();
        for ((stage, id, _), mut group) in self.groups {
            let places = std::mem::take(&mut group.places);
            let seen = shown.entry((stage, id)).or_default();
            *seen += 1;
            let all = sizes.get(&(stage, id)).copied().unwrap_or(0);
            if *seen < MOST || (*seen == MOST && all == MOST) {
                doubts.push((group.doubt(programs), places));
            } else if *seen == MOST {
                let doubt = group.doubt(programs).noting(format!("{} more like this are not listed", all - MOST));
                doubts.push((doubt, places));
            }
        }
        let weight = |d: &(Doubt, Vec<Found>)| match d.0.severity {
            Severity::Refusal => 0,
            _ if d.0.id.starts_with("undecided-") => 1,
            Severity::Caution => 2,
            Severity::Note => 3,
        };
        doubts.sort_by_key(weight);
        let spots = doubts.iter().enumerate().flat_map(|(index, d)| d.1.iter().filter_map(move |f| f.spot(index)));
        let spots = spots.collect();
        (doubts.into_iter().map(|d| d.0).collect(), spots)
    }
}

impl Found {
    /// As a place to be shown.
    fn spot(&self, finding: usize) -> Option<Spot> {
        let [x, y, z] = self.at.filter(|at| at[0].is_finite() && at[1].is_finite())?;
        Some(Spot {
            finding,
            stage: self.stage,
            line: self.line,
            at: Point::new(x, y),
            height: z.is_finite().then_some(z),
            amount: self.amount,
            words: in_short(self.kind.id, self.amount),
            message: self.message.clone(),
        })
    }
}

/// The amount of a finding in two or three words, to stand beside its place.
fn in_short(id: &str, amount: f64) -> String {
    let length = mm(amount);
    match id {
        "gouge" | "skin-missing" => format!("{length} too deep"),
        "wall-gouge" => format!("{length} into the wall"),
        "leftover" | "through-missing" => format!("{length} left standing"),
        "wall-leftover" => format!("{length} left on the wall"),
        "wrong-layer" => format!("{length} beyond the layer"),
        "margin-cut" => format!("{length} beyond the groove"),
        "table-hit" => format!("{length} too low"),
        "rapid-in-material" => format!("rapid, {length} in material"),
        "hold-hit" => format!("{length} into the hold"),
        "plunge" => format!("{length} straight down"),
        "bite-too-deep" | "flutes-too-short" => format!("{length} in one pass"),
        "shank-rub" => format!("shank, {length} in material"),
        "nut-rub" => format!("nut, {length} in material"),
        "frame-touches" => format!("{length} below what stands"),
        "chip-too-thick" => format!("chip of {length}"),
        "chip-too-thin" => format!("rubs, {amount:.0} % of the cutting"),
        "steep-entry" => format!("{amount:.1}° steep"),
        "piece-loose" => format!("{amount:.0} mm² loose"),
        "spindle-off" => "spindle still".to_owned(),
        "spindle-backward" => "spindle backward".to_owned(),
        "feed-too-fast" => format!("{amount:.1} times too fast"),
        "tab-missing" => format!("{amount:.0} too few"),
        "tabs-fewer" => format!("{length} of tabs fewer"),
        "stroke-lost" => "nothing cut".to_owned(),
        _ => "here".to_owned(),
    }
}

impl Group {
    fn doubt(self, programs: &[Program]) -> Doubt {
        let Group { worst, count, first, .. } = self;
        let mut doubt = worst.kind.of(worst.severity, worst.message);
        let program = worst.stage.and_then(|s| programs.get(s));
        if let Some(program) = program {
            let line = worst.line.unwrap_or(0);
            let text =
                (line as usize).checked_sub(1).and_then(|i| program.lines.get(i)).unwrap_or_default().into_owned();
            doubt = doubt.at(Place::Program { file: program.file.clone(), line: line as usize, text });
        }
        if let Some([x, y, z]) = worst.at {
            doubt = doubt.at(Place::Blank { x, y, z: z.is_finite().then_some(z) });
        }
        for note in worst.notes {
            doubt = doubt.noting(note);
        }
        if count > 1 {
            let first = match (first, worst.line) {
                (Some(first), Some(line)) if first != line => format!(", first at line {first}"),
                _ => String::new(),
            };
            doubt = doubt.noting(format!("found {count} times; this is the worst{first}"));
        }
        if let Some(cause) = cause::likely(worst.kind.id, worst.amount) {
            doubt = doubt.likely(cause);
        }
        // Where no line can be named it is the moves there that matter.
        let way_out = match worst.line {
            None => worst.way_out.replace("of the line named", "of the moves there"),
            Some(_) => worst.way_out.to_owned(),
        };
        if way_out.is_empty() { doubt } else { doubt.way_out(way_out) }
    }
}

/// A length in words, mm with three decimals.
pub(crate) fn mm(value: f64) -> String {
    format!("{} mm", quantity::trimmed(value, 3))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kinds;

    /// Of many places of one finding the worst are kept, none beside a worse one.
    #[test]
    fn the_worst_places_apart() {
        let mut tally = Tally::default();
        for (x, amount) in [(0.0, 0.1), (1.0, 0.3), (2.0, 0.2), (10.0, 0.05), (20.0, 0.4), (21.0, 0.5), (40.0, 0.25)] {
            let found = Found::new(&kinds::GOUGE, 0).line(7).at(x, 0.0, 3.0).amount(amount);
            tally.add(found.saying(format!("{amount} deep"), "look"));
        }
        tally.add(Found::new(&kinds::SPEED_OUT_OF_RANGE, 0).saying("too fast", "slow down"));
        let (doubts, spots) = tally.close(&[]);
        assert_eq!(doubts.len(), 2);
        let told: Vec<(f64, f64, &str)> = spots.iter().map(|s| (s.at.x, s.amount, s.words.as_str())).collect();
        let wanted = [(21.0, 0.5, "0.5 mm too deep"), (1.0, 0.3, "0.3 mm too deep"), (40.0, 0.25, "0.25 mm too deep")];
        assert_eq!(told, wanted);
        assert!(spots.iter().all(|s| doubts[s.finding].id == "gouge" && s.message.ends_with("deep")));
        assert!(doubts.iter().all(|d| d.likely_cause.is_some()));
    }
}
