/// A very small reader for the texts above.
pub(crate) fn parse(file: &str, text: &str) -> read::Program {
    use read::{Move, Plane, Shape, Stated};
    let mut at: [Option<f64>; 3] = [None; 3];
    let (mut motion, mut feed, mut speed, mut turning, mut tool) = (0, None, None, 0, None);
    let (mut absolute, mut scale) = (true, 1.0);
    let mut program = read::Program {
        file: file.into(),
        moves: vec![],
        lines: text.lines().map(String::from).collect(),
        stated: Stated { units: false, plane: true, distance_mode: false, end: false },
        cutters: vec![],
        dial_notes: vec![],
        doubts: vec![],
    };
    for (i, line) in text.lines().enumerate() {
        let words: Vec<(char, f64)> =
            line.split_whitespace().map(|w| (w.chars().next().unwrap(), w[1..].parse().unwrap())).collect();
        let word = |c: char| words.iter().find(|w| w.0 == c).map(|w| w.1);
        for &(c, v) in &words {
            match (c, v as i32) {
                ('G', 0..=3) => motion = v as i32,
                ('G', 20) => (scale, program.stated.units) = (25.4, true),
                ('G', 21) => (scale, program.stated.units) = (1.0, true),
                ('G', 90) => (absolute, program.stated.distance_mode) = (true, true),
                ('G', 91) => (absolute, program.stated.distance_mode) = (false, true),
                ('F', _) => feed = Some(v * scale),
                ('S', _) => speed = Some(v),
                ('T', n) => {
                    tool = Some(n as u32);
                    program.cutters.push((n as u32, i as u32 + 1));
                }
                ('M', 3..=5) => turning = v as i32,
                ('M', 2 | 30) => program.stated.end = true,
                _ => {}
            }
        }
        if !words.iter().any(|w| "XYZIJ".contains(w.0)) {
            continue;
        }
        let from = at;
        for (axis, c) in "XYZ".chars().enumerate() {
            if let Some(v) = word(c) {
                at[axis] = Some(v * scale + if absolute { 0.0 } else { at[axis].unwrap_or(0.0) });
            }
        }
        let shape = match motion {
            0 => Shape::Rapid,
            1 => Shape::Line,
            _ => {
                let (x, y) = (from[0].unwrap(), from[1].unwrap());
                let (i, j) = (word('I').unwrap_or(0.0) * scale, word('J').unwrap_or(0.0) * scale);
                let centre = [x + i, y + j];
                let a = (-j).atan2(-i);
                let b = (at[1].unwrap() - centre[1]).atan2(at[0].unwrap() - centre[0]);
                let full = std::f64::consts::TAU;
                let mut sweep = b - a;
                if motion == 3 && sweep <= 1e-9 {
                    sweep += full;
                }
                if motion == 2 && sweep >= -1e-9 {
                    sweep -= full;
                }
                Shape::Arc { plane: Plane::Xy, centre, radius: i.hypot(j), sweep }
            }
        };
        let spindle = match turning {
            3 => read::Spindle::Clockwise(speed),
            4 => read::Spindle::CounterClockwise(speed),
            _ => read::Spindle::Still,
        };
        let feed = if motion == 0 { None } else { feed };
        program.moves.push(Move { line: i as u32 + 1, shape, from, to: at, feed, spindle, cutter: tool });
    }
    program
}
