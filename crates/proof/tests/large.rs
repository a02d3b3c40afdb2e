//! Speed on a plate of full size; run with `cargo test --release -p proof --test large -- --ignored --nocapture`.

mod common;

use common::*;
use proof::Settings;
use quantity::Height;

#[test]
#[ignore = "a measurement, not a check"]
fn a_large_plate() {
    let mut plate = intent(blank(200.0, 110.0), vec![]);
    plate.blank.face_high = Height::mm(6.3);
    let mut texts = Vec::new();
    let mut areas = Vec::new();
    for k in 0..6 {
        let x = 5.0 + 32.0 * f64::from(k);
        areas.push(area(&format!("field {k}"), rectangle(x, 5.0, 28.0, 100.0), 3.4));
        texts.push(pocket(x, 5.0, 28.0, 100.0, 3.4, 0.0));
    }
    plate.areas = areas;
    plate.cutters = vec![1];
    for pitch in [0.05, 0.02] {
        let start = std::time::Instant::now();
        let proof = run_at(&shop(), &plate, &texts, &Settings { pitch, picture_pitch: 0.1 });
        let path: f64 = proof.stages.iter().map(|s| s.cutter_use.cutting_length + s.cutter_use.air_length).sum();
        println!(
            "{pitch}: {:.2} s, {:.1} m, {} cells, {:?}",
            start.elapsed().as_secs_f64(),
            path / 1000.0,
            proof.cells,
            proof.verdict
        );
        println!("{}", shown(&proof));
    }
}
