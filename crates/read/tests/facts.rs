//! Worked values of NISTIR 6556 ("The NIST RS274NGC Interpreter, Version 3", 2000) against moves as read.

#![expect(clippy::panic, reason = "a move of another shape fails its test")]

use read::{Move, Program, Shape, read, read_text};

fn moves(text: &str) -> Vec<Move> {
    let program = read_text("a.nc", text);
    assert!(program.doubts.is_empty(), "{:?}", program.doubts);
    program.moves.iter().collect()
}

fn near(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() <= within, "{a} isn't {b}");
}

fn arc(m: &Move) -> ([f64; 2], f64, f64) {
    match m.shape {
        Shape::Arc { centre, radius, sweep, .. } => (centre, radius, sweep),
        _ => panic!("{m:?}"),
    }
}

/// §3.3: spaces don't matter, even within numbers.
#[test]
fn spaces() {
    let m = moves("G21 G90\ng0x +0. 12 34y 7\nM2\n");
    assert_eq!(m[0].to, [Some(0.1234), Some(7.0), None]);
    assert_eq!(m[0].shape, Shape::Rapid);
}

/// With #3 = 15, `#3=6 G1 x#3` goes to 15; #3 is 6 afterwards.
#[test]
fn a_parameter_holds_after_its_line() {
    let m = moves("G21 G90 G94\nF100\n#3=15\n#3=6 G1 x#3\nx#3\nM2\n");
    assert_eq!((m[0].to[0], m[1].to[0]), (Some(15.0), Some(6.0)));
}

/// FIX[-2.8] is -3 and FUP[-2.8] is -2.
#[test]
fn rounding_down_and_up() {
    let m = moves("G21 G90\nG0 XFIX[-2.8] YFUP[-2.8]\nM2\n");
    assert_eq!(m[0].to, [Some(-3.0), Some(-2.0), None]);
}

/// From (3,1,0), `g2 x0 r7.01 z0.5`: the centre is (1.5, 7.8476), the sweep 24.7114°, the helix 3.06444 long (derived);
/// under G93, F1 does it in a minute.
#[test]
fn a_helix() {
    let m = moves("G21 G17 G90 G93\nG0 X3 Y1 Z0\ng2 x0 r7.01 z0.5 f1\nM2\n");
    let (centre, radius, sweep) = arc(&m[1]);
    near(centre[0], 1.5, 1e-9);
    near(centre[1], 7.8476, 5e-5);
    near(radius, 7.01, 1e-12);
    near(sweep.to_degrees(), -24.7114, 5e-5);
    near(m[1].feed.unwrap(), 3.06444, 5e-6);
    assert_eq!(m[1].to, [Some(0.0), Some(1.0), Some(0.5)]);
}

/// From (7,7), `G2 x10 y16 i3 j4` turns about (10,11) with radius 5.
#[test]
fn an_arc_by_centre() {
    let m = moves("G21 G17 G90 G94\nG0 X7 Y7 Z0\nF100\nG2 x10 y16 i3 j4\nM2\n");
    let (centre, radius, sweep) = arc(&m[1]);
    assert_eq!((centre, radius), ([10.0, 11.0], 5.0));
    // From atan2(-4, -3) clockwise to 90° (derived).
    near(sweep.to_degrees(), -143.130_102, 1e-6);
}

/// Two semicircles by radius and a full circle by centre.
#[test]
fn turns() {
    let m = moves("G21 G17 G90 G94\nG0 X0 Y0 Z0\nF100\nG3 X10 R5\nG2 X0 R5\nG3 X0 I5\nM2\n");
    near(arc(&m[1]).2.to_degrees(), 180.0, 1e-9);
    near(arc(&m[2]).2.to_degrees(), -180.0, 1e-9);
    assert_eq!(arc(&m[3]).2, std::f64::consts::TAU);
}

/// `G93 F2` takes half a minute: 50 mm at 100 mm/min (NISTIR 6556, seen).
#[test]
fn inverse_time() {
    let m = moves("G21 G90 G93\nG0 X0 Y0 Z0\nG1 X30 Y40 F2\nM2\n");
    assert_eq!(m[1].feed, Some(100.0));
}

/// F comes before the units, the units before the motion (NISTIR 6556 Table 8, seen).
#[test]
fn feed_before_units() {
    let program = read_text("a.nc", "G21 G90 G94\nG0 X0 Y0 Z0\nF50 G20 G1 X1\nF50 X2\nM2\n");
    assert_eq!(program.doubts.iter().map(|d| d.id).collect::<Vec<_>>(), ["feed-before-units"]);
    let m: Vec<Move> = program.moves.iter().collect();
    assert_eq!((m[1].to[0], m[1].feed), (Some(25.4), Some(50.0)));
    assert_eq!((m[2].to[0], m[2].feed), (Some(50.8), Some(1270.0)));
}

/// What the text states is told apart from what it leaves to the machine.
#[test]
fn stated() {
    let stated = |text: &str| {
        let Program { stated: s, .. } = read("a.nc", text.as_bytes());
        [s.units, s.plane, s.distance_mode, s.end]
    };
    assert_eq!(stated("G21 G90\nG0 X1\nM2\n"), [true; 4]);
    assert_eq!(stated("G0 X1 G21 G90\nM2\n"), [true; 4]);
    assert_eq!(stated("G0 X1\nG21 G90\nM2\n"), [false, true, false, true]);
    assert_eq!(stated("G21 G90 G94\nG0 X0 Y0\nF9\nG2 X2 I1\n"), [true, false, true, false]);
    assert_eq!(stated("%\nG21 G90\nG0 X1\n%\n"), [true; 4]);
}

/// The edge of a 3-4-5 triangle of material, followed by a cutter's centre at a radius of 1 and of 1.5: three lines and
/// three arcs, 18.2832 and 21.4248 long, about 21.1416 and 31.0686 of area (NISTIR 6556's example; Steiner's
/// formula, derived). The same in arcs by radius.
#[test]
fn round_a_triangle() {
    for by_radius in [false, true] {
        for (r, length, area) in [(1.0, 18.2832, 21.1416), (1.5, 21.4248, 31.0686)] {
            // Corners (0,0), (4,0), (0,3); the long side looks along (3,4)/5.
            let (nx, ny) = (0.6 * r, 0.8 * r);
            let centre = |i: f64, j: f64| if by_radius { format!("R{r}") } else { format!("I{i} J{j}") };
            let m = moves(&format!(
                "G21 G17 G90 G94\nG0 X0 Y{} Z0\nF100\nG1 X4\nG3 X{} Y{ny} {}\nG1 X{nx} Y{}\nG3 X{} Y3 {}\nG1 Y0\nG3 X0 Y{} {}\nM2\n",
                -r,
                4.0 + nx,
                centre(0.0, r),
                3.0 + ny,
                -r,
                centre(-nx, -ny),
                -r,
                centre(r, 0.0),
            ));
            let (mut long, mut round) = (0.0, 0.0);
            for m in &m[1..] {
                let [x0, y0] = [m.from[0].unwrap(), m.from[1].unwrap()];
                let [x1, y1] = [m.to[0].unwrap(), m.to[1].unwrap()];
                match m.shape {
                    Shape::Arc { centre: [x, y], radius, sweep, .. } => {
                        near(radius, r, 1e-6);
                        long += radius * sweep.abs();
                        // Green's formula along an arc.
                        round += 0.5 * (x * (y1 - y0) - y * (x1 - x0) + radius * radius * sweep);
                    }
                    _ => {
                        long += libm::hypot(x1 - x0, y1 - y0);
                        round += 0.5 * (x0 * y1 - x1 * y0);
                    }
                }
            }
            near(long, length, 5e-5);
            near(round, area, 5e-5);
        }
    }
}

/// A zero that lies higher moves all heights and nothing else, centres of upright arcs among them.
#[test]
fn a_higher_zero() {
    let text =
        "G21 G17 G90 G94\nG0 Z5\nG0 X0 Y0\nF100\nG1 Z-1\nG18 G3 X4 Z-1 I2\nG19 G2 Y4 Z-1 J2\nG17 G3 X6 Y6 J2\nM2\n";
    let (low, high) = (read_text("a.nc", text), read_text("a.nc", text).raised(6.0));
    assert_eq!(low.doubts.len(), 0);
    let moved = |at: [Option<f64>; 3]| [at[0], at[1], at[2].map(|z| z + 6.0)];
    for (a, b) in low.moves.iter().zip(high.moves.iter()) {
        assert_eq!((moved(a.from), moved(a.to), a.feed), (b.from, b.to, b.feed));
        if let (Shape::Arc { plane, centre: c, .. }, Shape::Arc { centre: d, .. }) = (a.shape, b.shape) {
            let by = match plane {
                read::Plane::Xy => [0.0, 0.0],
                read::Plane::Zx => [6.0, 0.0],
                read::Plane::Yz => [0.0, 6.0],
            };
            assert_eq!([c[0] + by[0], c[1] + by[1]], d);
        }
    }
    assert_eq!(high.moves.get(2), high.moves.iter().nth(2));
}
