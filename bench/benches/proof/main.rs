//! How long a proof takes, beside the plainest way to lower the same cells.

use proof::{ProgramText, Settings};
use std::path::Path;
use std::time::Instant;

fn main() {
    let plate = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo/plate.toml");
    let mut outcome = packet::Outcome::default();
    let Some((computed, _)) = packet::compute(&plate, &Settings::default(), &(), &mut outcome) else {
        println!("the demo isn't computed: {:?}", outcome.doubts);
        return;
    };
    let texts: Vec<ProgramText<'_>> = computed
        .programs
        .iter()
        .map(|(file, text)| ProgramText {
            file,
            bytes: text.as_bytes(),
            cutter: None,
            cutting: !file.starts_with('0'),
        })
        .collect();
    let pitches: Vec<f64> = std::env::var("PITCH").map_or(vec![0.08, 0.04, 0.02, 0.01], |p| p.split(',').filter_map(|x| x.parse().ok()).collect());
    for pitch in pitches {
        let settings = Settings { pitch, ..Settings::default() };
        for _ in 0..3 {
            let began = Instant::now();
            let Some(proof) = proof::prove(&computed.job.shop, &computed.job.intent, &texts, &settings, &()) else { return };
            println!("demo, pitch {pitch}: {:.3} s, {} cells, {:?}", began.elapsed().as_secs_f64(), proof.cells, proof.verdict);
        }
    }
}
