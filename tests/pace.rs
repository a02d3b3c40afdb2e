//! The minutes that plan and proof tell, against a simulation in small steps of time that is written from the model's statement
//! alone (`reckon::pace`, "The model") and shares none of its formulas: directions and bends are sampled, rounding arcs
//! are found by halving, speeds are stepped.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

#[path = "pace/steps.rs"]
mod steps;

use plate::Machine;
use proof::Settings;
use quantity::{Feed, Length};
use std::path::Path;

fn demo() -> (Machine, Vec<(String, String)>) {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/plate.toml");
    let settings = Settings { pitch: 0.1, picture_pitch: 2.0 };
    let (computed, _) = packet::compute(&demo, &settings, &(), &mut packet::Outcome::default()).unwrap();
    (computed.job.shop.machine, computed.programs)
}

/// A machine with one acceleration, rapids at 1500 mm/min.
fn plain(acceleration: f64, deviation: f64) -> Machine {
    Machine {
        name: String::new(),
        travel: [Length::mm(600.0); 3],
        greatest_feed: Feed::mm_per_min(6000.0),
        greatest_feed_z: Feed::mm_per_min(6000.0),
        rapid: Feed::mm_per_min(1500.0),
        rapid_z: Feed::mm_per_min(1500.0),
        acceleration: [acceleration; 3],
        corner_deviation: Length::mm(deviation),
        resolution: Length::mm(0.01),
        clearance: Length::mm(3.0),
        walls: plate::AlongWalls::Climb,
        side_force: None,
        program_start: 60.0,
        cutter_change: 120.0,
    }
}

/// Each of the demo's programs, on the starter shop's machine and on three others: within 1 % of the simulation.
#[test]
fn the_demos_programs_take_as_long_as_in_small_steps() {
    let (starter, programs) = demo();
    assert!(programs.len() >= 4, "{}", programs.len());
    let weak = Machine { acceleration: [120.0, 60.0, 25.0], corner_deviation: Length::mm(0.005), ..starter.clone() };
    let quick = Machine { acceleration: [900.0, 700.0, 300.0], corner_deviation: Length::mm(0.08), ..starter.clone() };
    let stops = Machine { corner_deviation: Length::ZERO, ..starter.clone() };
    for (name, machine) in [("starter", starter), ("weak", weak), ("quick", quick), ("stops", stops)] {
        for (file, text) in &programs {
            let program = read::read(file, text.as_bytes());
            let told = reckon::pace::seconds(&machine, &proof::steps(&program));
            let simulated = steps::seconds(&machine, &program);
            println!("{name:<8} {file:<16} told {told:>9.3} s, in small steps {simulated:>9.3} s");
            assert!((told - simulated).abs() <= 0.01 * simulated, "{name}, {file}: {told} s is not {simulated} s");
        }
    }
}

/// The simulation itself against closed forms: T = d/v + v/a, 2 sqrt(d/a), v = sqrt(a r), and a corner of 90° within 0.01 passed
/// at 2.45673 mm/s (derived), so that it is a judge of its own: within 0.1 %, or a step of time.
#[test]
fn the_small_steps_meet_the_closed_forms() {
    let mut machine = plain(250.0, 0.01);
    let run = |machine: &Machine, text: &str| {
        let text = format!("G21 G17 G90 G94\nG0 Z0\nG0 X0 Y0\n{text}\nM30\n");
        let program = read::read("t.nc", text.as_bytes());
        assert!(program.doubts.is_empty(), "{:?}", program.doubts);
        [steps::seconds(machine, &program), reckon::pace::seconds(machine, &proof::steps(&program))]
    };
    let near = |both: [f64; 2], expected: f64| {
        for (who, seconds) in ["small steps", "pace"].into_iter().zip(both) {
            assert!((seconds - expected).abs() <= 0.001 * expected + 0.000_3, "{who}: {seconds} is not {expected}");
        }
    };
    // d 50, v 25: 2.1 s; d 1: 0.126491 s.
    near(run(&machine, "G1 X50 F1500"), 2.1);
    near(run(&machine, "G1 X1 F1500"), 0.126_491);
    // A quarter of r 1.5 at 19.3649 mm/s, with start and stop v/a.
    near(run(&machine, "G3 X-1.5 Y1.5 I-1.5 F6000"), 1.5 * std::f64::consts::FRAC_PI_2 / 19.3649 + 19.3649 / 250.0);
    // 20 + 20 round a corner at 2.45673: each from or to rest at 25 with v 2.45673 at the other end:
    // (2 v - v1) / a + (d - (2 v² - v1²) / 2a) / v.
    let each = (50.0 - 2.45673) / 250.0 + (20.0 - (1250.0 - 2.45673 * 2.45673) / 500.0) / 25.0;
    near(run(&machine, "G1 X20 F1500\nG1 Y20"), 2.0 * each);
    // A rapid at 25 mm/s along x by 50 while y goes 1; waits count as they are.
    near(run(&machine, "G0 X50 Y1\nG4 P1.5"), 3.6);
    // Each axis by its own limit: y at 100, from rest to rest at 25 over 50: 2 + 0.25.
    machine.acceleration = [250.0, 100.0, 50.0];
    near(run(&machine, "G1 Y50 F1500"), 2.25);
}
