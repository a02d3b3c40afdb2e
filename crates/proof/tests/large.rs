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

/// A field full of strokes and holes of which nothing is cut: everything must be told apart into fault and hand work.
#[test]
#[ignore = "a measurement, not a check"]
fn a_plate_of_strokes() {
    use plane::{Contour, Point, Region, Vertex};
    let mut areas = Vec::new();
    for row in 0..8 {
        for column in 0..24 {
            let (x, y) = (6.0 + 8.0 * f64::from(column), 6.0 + 13.0 * f64::from(row));
            // A slanting S of two half rings, 0.6 to 1.6 mm wide.
            let w = 0.6 + 0.0435 * f64::from(column);
            let (r, q) = (2.5, 2.5 - w);
            let v = |x0: f64, y0: f64, bulge: f64| Vertex { p: Point::new(x + x0, y + y0), bulge };
            let ring = Contour {
                vertices: vec![
                    v(-r + 3.0, 5.0, -1.0),
                    v(r + 3.0, 5.0, 0.0),
                    v(q + 3.0, 5.0, 1.0),
                    v(-q + 3.0, 5.0, 0.0),
                ],
            };
            let ring = if ring.area() < 0.0 { ring.reversed() } else { ring };
            areas.push(area(&format!("s{row}.{column}"), Region::solid(ring), 4.8));
            areas.push(area(
                &format!("o{row}.{column}"),
                Region::solid(Contour::circle(Point::new(x + 3.0, y), 1.2)),
                4.8,
            ));
        }
    }
    let plate = intent(blank(200.0, 110.0), areas);
    for pitch in [0.05, 0.02] {
        let start = std::time::Instant::now();
        let proof = run_at(&shop(), &plate, &[Text::start(3, 18000.0).end()], &Settings { pitch, picture_pitch: 0.1 });
        println!(
            "{pitch}: {:.2} s, {} cells, {} spots",
            start.elapsed().as_secs_f64(),
            proof.cells,
            proof.hand_work.len()
        );
        println!("{}", proof::report(&proof).lines().take(40).collect::<Vec<_>>().join("\n"));
    }
}
