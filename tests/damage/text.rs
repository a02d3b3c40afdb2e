//! The oracle's own reading of program text: only the words that our programs use, letter by letter. It shares nothing
//! with the reader under test, and where it can't follow a line it says so and stops there.

/// How a move goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Way {
    Rapid,
    Line,
    /// Centre, and whether counter-clockwise.
    Arc([f64; 2], bool),
}

/// One move, mm and mm/min.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Step {
    /// Line of the text, from 1.
    pub(crate) line: usize,
    pub(crate) from: [f64; 3],
    pub(crate) to: [f64; 3],
    pub(crate) way: Way,
    pub(crate) feed: Option<f64>,
    /// Whether the spindle turns forward.
    pub(crate) spindle: bool,
    /// rev/min.
    pub(crate) speed: Option<f64>,
}

/// One program.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Course {
    pub(crate) tool: Option<u32>,
    pub(crate) steps: Vec<Step>,
    /// What the text leaves open or gets wrong by itself: line and words.
    pub(crate) troubles: Vec<(usize, String)>,
}

/// The letters and numbers of a line; `None` if a word has no number or stands for nothing.
fn words(line: &str) -> Option<Vec<(char, f64)>> {
    let bytes = line.as_bytes();
    let (mut found, mut at) = (Vec::new(), 0);
    while at < bytes.len() {
        match bytes[at] {
            b' ' => at += 1,
            b'(' => at += line[at..].find(')')? + 1,
            letter if letter.is_ascii_uppercase() => {
                let start = at + 1;
                let mut end = start;
                while end < bytes.len() && (bytes[end].is_ascii_digit() || b"+-.".contains(&bytes[end])) {
                    end += 1;
                }
                found.push((char::from(letter), line[start..end].parse().ok()?));
                at = end;
            }
            _ => return None,
        }
    }
    Some(found)
}

/// Follows a program. `clear` is the height above everything to which a first rise must go.
pub(crate) fn follow(text: &str, clear: f64) -> Course {
    let mut course = Course::default();
    let mut unit = None;
    let (mut steps_of, mut motion, mut turning, mut ended) = (None, None, false, false);
    let (mut feed, mut speed) = (None, None);
    let mut here: [Option<f64>; 3] = [None; 3];
    for (i, line) in text.lines().enumerate() {
        let number = i + 1;
        let Some(words) = words(line) else {
            course.troubles.push((number, "a line that can't be read".into()));
            break;
        };
        let value = |letter: char| words.iter().find(|w| w.0 == letter).map(|w| w.1);
        for &(letter, v) in &words {
            match (letter, v as i64) {
                ('G', code @ 0..=3) => motion = Some(code),
                ('G', 20) => unit = Some(25.4),
                ('G', 21) => unit = Some(1.0),
                ('G', 90) => steps_of = Some(false),
                ('G', 91) => steps_of = Some(true),
                ('M', 3) => turning = true,
                ('M', 4 | 5) => turning = false,
                ('M', 2 | 30) => ended = true,
                ('T', tool) => course.tool = u32::try_from(tool).ok(),
                ('S', _) => speed = Some(v),
                ('F', _) => feed = Some(v * unit.unwrap_or(1.0)),
                _ => {}
            }
        }
        if ended {
            break;
        }
        if !words.iter().any(|w| "XYZ".contains(w.0)) {
            continue;
        }
        let (Some(unit), Some(relative), Some(motion)) = (unit, steps_of, motion) else {
            course.troubles.push((number, "a move before units, distance mode and kind of motion are said".into()));
            break;
        };
        let mut to = here;
        for (axis, letter) in ['X', 'Y', 'Z'].into_iter().enumerate() {
            if let Some(v) = value(letter) {
                to[axis] = if relative { here[axis].map(|h| h + v * unit) } else { Some(v * unit) };
            }
        }
        let known = |p: [Option<f64>; 3]| Some([p[0]?, p[1]?, p[2]?]);
        match (known(here), known(to)) {
            (Some(from), Some(to)) => {
                let way = match motion {
                    0 => Way::Rapid,
                    1 => Way::Line,
                    _ => {
                        let [i, j] = [value('I'), value('J')].map(|v| v.unwrap_or(0.0) * unit);
                        let centre = [from[0] + i, from[1] + j];
                        let (r0, r1) = (i.hypot(j), (to[0] - centre[0]).hypot(to[1] - centre[1]));
                        if r0 == 0.0 || (r0 - r1).abs() > 0.05 {
                            course.troubles.push((number, "an arc whose ends don't lie on one circle".into()));
                            break;
                        }
                        Way::Arc(centre, motion == 3)
                    }
                };
                if way != Way::Rapid && feed.is_none() {
                    course.troubles.push((number, "a feed move without a feed".into()));
                }
                course.steps.push(Step { line: number, from, to, way, feed, spindle: turning, speed });
            }
            // From an unknown place only a rise by itself, then a traverse at that height, is safe.
            _ => {
                let rises = to[2].is_some_and(|z| z >= clear) && here[2] == to[2]
                    || value('X').is_none() && value('Y').is_none() && to[2].is_some_and(|z| z >= clear);
                if !rises || motion != 0 {
                    course.troubles.push((number, "a move from an unknown place that isn't above everything".into()));
                    break;
                }
            }
        }
        here = to;
    }
    let lines = text.lines().count();
    if !ended && course.troubles.is_empty() {
        course.troubles.push((lines, "the text stops without an end".into()));
    }
    course
}

impl Step {
    /// Length seen from above.
    pub(crate) fn length(&self) -> f64 {
        match self.way {
            Way::Arc(centre, ccw) => {
                let (radius, _, sweep) = self.turn(centre, ccw);
                radius * sweep.abs()
            }
            _ => (self.to[0] - self.from[0]).hypot(self.to[1] - self.from[1]),
        }
    }

    fn turn(&self, centre: [f64; 2], ccw: bool) -> (f64, f64, f64) {
        let angle = |p: [f64; 3]| (p[1] - centre[1]).atan2(p[0] - centre[0]);
        let (a, b) = (angle(self.from), angle(self.to));
        let whole = std::f64::consts::TAU;
        let mut sweep = if ccw { (b - a).rem_euclid(whole) } else { -(a - b).rem_euclid(whole) };
        if sweep.abs() < 1e-9 {
            sweep = if ccw { whole } else { -whole };
        }
        ((self.from[0] - centre[0]).hypot(self.from[1] - centre[1]), a, sweep)
    }

    /// Its way, ready to be asked for places on it.
    pub(crate) fn route(&self) -> Route {
        match self.way {
            Way::Arc(centre, ccw) => {
                Route { from: self.from, to: self.to, arc: Some((centre, self.turn(centre, ccw))) }
            }
            _ => Route { from: self.from, to: self.to, arc: None },
        }
    }

    /// Whether it goes straight down.
    pub(crate) fn is_plumb(&self) -> bool {
        self.to[2] < self.from[2] - 1e-6 && self.length() < 1e-6
    }
}

/// A way with its centre, radius, first angle and sweep, if it is an arc.
pub(crate) struct Route {
    from: [f64; 3],
    to: [f64; 3],
    arc: Option<([f64; 2], (f64, f64, f64))>,
}

impl Route {
    /// Where it is at a share of its way.
    pub(crate) fn at(&self, t: f64) -> [f64; 3] {
        let mix = |k: usize| self.from[k] + (self.to[k] - self.from[k]) * t;
        let Some((centre, (radius, first, sweep))) = self.arc else { return [mix(0), mix(1), mix(2)] };
        let angle = first + sweep * t;
        [centre[0] + radius * angle.cos(), centre[1] + radius * angle.sin(), mix(2)]
    }
}
