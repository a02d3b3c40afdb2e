//! Findings as they come up, and how those of one kind and program are drawn together into one doubt.

use doubt::{Doubt, Kind, Place, Severity};
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
    pub(crate) fn pass_on(&mut self, doubt: Doubt) {
        self.passed.push(doubt);
    }

    pub(crate) fn add(&mut self, found: Found) {
        self.group(Group { count: found.count, first: found.line, worst: found });
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
        let Some(group) = self.groups.get_mut(&key) else {
            self.groups.insert(key, more);
            return;
        };
        group.count += more.count;
        group.first = match (group.first, more.first) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        if more.worst.amount > group.worst.amount {
            group.worst = more.worst;
        }
    }

    /// Refusals first, then what is undecided, then the rest; each in the order of programs.
    pub(crate) fn doubts(self, programs: &[Program]) -> Vec<Doubt> {
        let mut doubts = self.passed;
        let mut sizes: BTreeMap<(Option<usize>, &'static str), usize> = BTreeMap::new();
        for (stage, id, _) in self.groups.keys() {
            *sizes.entry((*stage, *id)).or_default() += 1;
        }
        let mut shown: BTreeMap<(Option<usize>, &'static str), usize> = BTreeMap::new();
        for ((stage, id, _), group) in self.groups {
            let seen = shown.entry((stage, id)).or_default();
            *seen += 1;
            let all = sizes.get(&(stage, id)).copied().unwrap_or(0);
            if *seen < MOST || (*seen == MOST && all == MOST) {
                doubts.push(group.doubt(programs));
            } else if *seen == MOST {
                doubts.push(group.doubt(programs).noting(format!("{} more like this are not listed", all - MOST)));
            }
        }
        let weight = |d: &Doubt| match d.severity {
            Severity::Refusal => 0,
            _ if d.id.starts_with("undecided-") => 1,
            Severity::Caution => 2,
            Severity::Note => 3,
        };
        doubts.sort_by_key(weight);
        doubts
    }
}

impl Group {
    fn doubt(self, programs: &[Program]) -> Doubt {
        let Group { worst, count, first } = self;
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
        if worst.way_out.is_empty() { doubt } else { doubt.way_out(worst.way_out) }
    }
}

/// A length in words, mm with three decimals.
pub(crate) fn mm(value: f64) -> String {
    format!("{} mm", quantity::trimmed(value, 3))
}
