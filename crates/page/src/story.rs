//! The cutting over time, as numbers: graphs and marks of all programs, one program's way, the plate's heights, and the sets of
//! cutters that were compared. What is long is sent as plain little-endian columns behind a head of JSON.

use crate::run::Run;
use doubt::Place;
use packet::Computed;
use proof::{HeightMap, Passed, Running, Trace};
use quantity::trimmed;
use serde_json::{Value, json};

/// Samples of the graphs over all programs.
const SAMPLES: usize = 1200;
/// Most marks on the line.
const MARKS: usize = 80;
/// Most places of a program that are sent.
const PLACES: usize = 1_500_000;
/// Most cells that heights are sent at.
pub(crate) const MOST_CELLS: usize = 1_500_000;
/// Steps of the table of colours, from the underside to the face.
const COLOURS: usize = 1024;

/// Every program of a run over time, the frame run first.
fn traces(computed: &Computed) -> Vec<(Trace, Vec<String>)> {
    let (programs, named) = packet::read_all(&computed.programs);
    let stages = programs.iter().zip(&named).zip(&computed.proof.stages);
    let (shop, intent) = (&computed.job.shop, &computed.job.intent);
    stages
        .map(|((program, named), proof)| {
            let lines = program.lines.iter().map(|l| l.into_owned()).collect();
            (proof::trace(shop, intent, program, *named, proof), lines)
        })
        .collect()
}

/// One of the programs, by its place.
fn traced(computed: &Computed, index: usize) -> Option<Trace> {
    let text = computed.programs.get(index..=index)?;
    let (programs, named) = packet::read_all(text);
    let (shop, intent) = (&computed.job.shop, &computed.job.intent);
    Some(proof::trace(shop, intent, programs.first()?, *named.first()?, computed.proof.stages.get(index)?))
}

/// The time line: programs with their beginnings, graphs, and findings as marks.
pub(crate) fn times(run: &Run) -> Option<Value> {
    let computed = run.computed.as_ref()?;
    let traces = traces(computed);
    let whole: f64 = traces.iter().map(|t| t.0.seconds).sum();
    let mut graphs = Graphs::new(whole);
    let (mut start, mut stages, mut starts) = (0.0, Vec::new(), Vec::new());
    for (index, (trace, _)) in traces.iter().enumerate() {
        graphs.add(trace, start);
        let proof = &computed.proof.stages[index];
        let purpose = index.checked_sub(1).and_then(|i| computed.plan.stages.get(i)).map(|s| s.purpose.as_str());
        stages.push(json!({
            "file": proof.file, "cutter": proof.cutter, "number": proof.cutter_number, "start": start,
            "seconds": trace.seconds, "purpose": purpose.unwrap_or(&computed.plan.frame.purpose),
        }));
        starts.push(start);
        start += trace.seconds;
    }
    let marks = marks(computed, &traces, &starts);
    let shown: Vec<&Value> = marks.iter().take(MARKS).collect();
    Some(json!({
        "seconds": whole, "stages": stages, "step": graphs.step,
        "feed": graphs.feed, "engagement": graphs.engagement, "force": graphs.force.iter().map(|f| (f * 10.0).round() / 10.0).collect::<Vec<_>>(),
        "marks": shown, "more": marks.len() - shown.len(),
    }))
}

/// The greatest of each figure in even steps of time.
struct Graphs {
    step: f64,
    feed: Vec<f64>,
    engagement: Vec<f64>,
    force: Vec<f64>,
}

impl Graphs {
    fn new(seconds: f64) -> Self {
        let none = vec![0.0; SAMPLES];
        Self { step: seconds / SAMPLES as f64, feed: none.clone(), engagement: none.clone(), force: none }
    }

    fn add(&mut self, trace: &Trace, start: f64) {
        if self.step.is_nan() || self.step <= 0.0 {
            return;
        }
        let sample = |time: f64| (((start + time) / self.step) as usize).min(SAMPLES - 1);
        let mut from = 0.0;
        for p in &trace.passed {
            for i in sample(from)..=sample(p.time) {
                self.feed[i] = self.feed[i].max(p.feed.round());
                self.engagement[i] = self.engagement[i].max(p.engagement.round());
                self.force[i] = self.force[i].max(p.force);
            }
            from = p.time;
        }
    }
}

/// The findings that name a line of a program, in the order of time.
fn marks(computed: &Computed, traces: &[(Trace, Vec<String>)], starts: &[f64]) -> Vec<Value> {
    let mut marks: Vec<(f64, Value)> = Vec::new();
    for finding in computed.doubts.iter().chain(&computed.proof.findings) {
        for place in &finding.places {
            let Place::Program { file, line, .. } = place else { continue };
            let Some(index) = computed.proof.stages.iter().position(|s| s.file == *file) else { continue };
            // A line that moves nothing is passed when the next one moves.
            let line = u32::try_from(*line).unwrap_or(u32::MAX);
            let passed = &traces[index].0.passed;
            let at = passed.iter().position(|p| p.line >= line);
            let within = at.map_or(0.0, |i| {
                let began = i.checked_sub(1).map_or(0.0, |before| passed[before].time);
                0.5 * (began + passed[i].time)
            });
            let at = starts[index] + within;
            let mark = json!({ "at": at, "program": index, "line": line, "says": finding.message, "severity": finding.severity });
            marks.push((at, mark));
        }
    }
    marks.sort_by(|a, b| a.0.total_cmp(&b.0));
    marks.dedup_by(|a, b| a.1 == b.1);
    marks.into_iter().map(|m| m.1).collect()
}

/// The way of one program in columns: x, y, z, time, feed, engagement, force (each f32), line (u32), how it runs (u8), then the
/// program's text.
pub(crate) fn way(run: &Run, index: usize) -> Option<Vec<u8>> {
    let computed = run.computed.as_ref()?;
    let trace = traced(computed, index)?;
    let text = &computed.programs.get(index)?.1;
    let count = trace.passed.len();
    if count > PLACES {
        return None;
    }
    let head = json!({ "count": count, "seconds": trace.seconds, "radius": trace.radius, "edge": trace.edge, "text": text.len() });
    let mut bytes = headed(&head);
    let columns: [fn(&Passed) -> f64; 7] =
        [|p| p.at[0], |p| p.at[1], |p| p.at[2], |p| p.time, |p| p.feed, |p| p.engagement, |p| p.force];
    for column in columns {
        bytes.extend(trace.passed.iter().flat_map(|p| (column(p) as f32).to_le_bytes()));
    }
    bytes.extend(trace.passed.iter().flat_map(|p| p.line.to_le_bytes()));
    bytes.extend(trace.passed.iter().map(|p| match p.running {
        Running::Still => 0u8,
        Running::Rapid => 1,
        Running::Air => 2,
        Running::Cut => 3,
    }));
    bytes.extend(text.as_bytes());
    Some(bytes)
}

/// Heights after so many programs, in at most so many cells: u16 row by row from the lower left, 0 where nothing is left, else 1 at
/// the underside to 65535 at the face; then the colours of floors from the underside to the face, three bytes each.
pub(crate) fn heights(run: &Run, after: usize, cells: usize) -> Option<Vec<u8>> {
    let computed = run.computed.as_ref()?;
    // Before all programs the blank is whole, as the frame run leaves it.
    let map = &computed.proof.stages.get(after)?.relief;
    let blank = &computed.job.intent.blank;
    if !(1..=MOST_CELLS).contains(&cells) || map.columns * map.rows != map.heights.len() || map.heights.is_empty() {
        return None;
    }
    let every = (1..).find(|k| map.columns.div_ceil(*k) * map.rows.div_ceil(*k) <= cells)?;
    let (columns, rows) = (map.columns.div_ceil(every), map.rows.div_ceil(every));
    let (low, high) = (blank.underside.to_mm(), blank.face.to_mm());
    let [width, height] = blank.size.map(quantity::Length::to_mm);
    let colours = sheet::floor_colours(blank, COLOURS);
    let head = json!({
        "columns": columns, "rows": rows, "pitch": map.pitch * every as f64, "low": low, "high": high, "blank": [width, height],
        "colours": colours.len(), "layers": blank.layers.iter().map(|l| json!({
            "sheet": l.sheet.name, "top": trimmed(l.top.to_mm(), 3), "bottom": trimmed(l.bottom.to_mm(), 3), "colour": l.sheet.colour,
        })).collect::<Vec<_>>(),
    });
    let mut bytes = headed(&head);
    for row in 0..rows {
        bytes.extend((0..columns).flat_map(|column| told(sampled(map, column, row, every), low, high).to_le_bytes()));
    }
    bytes.extend(colours.as_flattened());
    Some(bytes)
}

/// The height in the middle of a block of cells.
fn sampled(map: &HeightMap, column: usize, row: usize, every: usize) -> f64 {
    let at = |i: usize, count: usize| (i * every + every / 2).min(count - 1);
    f64::from(map.heights[at(row, map.rows) * map.columns + at(column, map.columns)])
}

/// A height in the steps that are sent.
fn told(height: f64, low: f64, high: f64) -> u16 {
    let share = (height - low) / (high - low);
    // Less than a tenth of a micrometre is nothing.
    if share.is_nan() || share <= 1e-5 { 0 } else { 1 + (share.min(1.0) * 65534.0 + 0.5) as u16 }
}

/// A head of JSON with its length before it, padded so that what follows lies on a multiple of four.
fn headed(head: &Value) -> Vec<u8> {
    let mut text = head.to_string().into_bytes();
    text.resize(text.len().div_ceil(4) * 4, b' ');
    let mut bytes = (text.len() as u32).to_le_bytes().to_vec();
    bytes.extend(text);
    bytes
}

/// The sets of cutters that were compared; of the one that is used, what its minutes go into.
pub(crate) fn sets(run: &Run) -> Option<Value> {
    let computed = run.computed.as_ref()?;
    let rows: Vec<Value> = packet::sets(computed)
        .iter()
        .map(|r| json!({ "cutters": r.cutters, "minutes": r.minutes, "planned": r.planned, "note": r.note, "used": r.note == "used" }))
        .collect();
    let (mut cutting, mut air) = (0.0, 0.0);
    for (trace, _) in traces(computed).iter().skip(1) {
        let mut from = 0.0;
        for p in &trace.passed {
            let seconds = p.time - from;
            from = p.time;
            if p.running == Running::Cut {
                cutting += seconds;
            } else {
                air += seconds;
            }
        }
    }
    Some(json!({ "sets": rows, "cutting": cutting / 60.0, "air": air / 60.0 }))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Nothing below the underside, the face at the top, and steps below a tenth of a micrometre in between.
    #[test]
    fn heights_in_steps() {
        assert_eq!([told(-1.0, 0.0, 6.0), told(0.0, 0.0, 6.0), told(f64::NAN, 0.0, 6.0)], [0, 0, 0]);
        assert_eq!([told(6.0, 0.0, 6.0), told(7.0, 0.0, 6.0)], [65535, 65535]);
        let back = |h: u16| f64::from(h - 1) / 65534.0 * 6.0;
        for height in [0.01, 1.4, 2.61, 5.999] {
            assert!((back(told(height, 0.0, 6.0)) - height).abs() < 5e-5, "{height}");
        }
    }

    /// Columns of four bytes can be laid over what follows the head.
    #[test]
    fn a_head_is_padded() {
        for name in ["a", "ab", "abc", "abcd"] {
            let bytes = headed(&json!({ name: 1 }));
            let length = u32::from_le_bytes([bytes[0], bytes[1], bytes[2], bytes[3]]) as usize;
            assert_eq!((bytes.len() % 4, bytes.len()), (0, length + 4));
            assert!(serde_json::from_slice::<Value>(&bytes[4..]).is_ok());
        }
    }
}
