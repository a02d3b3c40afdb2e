//! The oracle's own reading of program text, letter by letter: the words that our programs use, and by the rules of
//! NISTIR 6556 (modal groups, order of execution, centre arcs within 0.002 mm) what isn't legal. It shares nothing with
//! the reader under test. Where it can't follow a line it says so and stops there: nobody knows what a machine would do.

/// One of the planes of arcs: first, second and third axis.
type Axes = [usize; 3];

/// How a move goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Way {
    Rapid,
    Line,
    /// Axes of the plane, centre along the first two, and whether counter-clockwise seen from the third.
    Arc(Axes, [f64; 2], bool),
}

/// What the spindle does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Spin {
    Still,
    Forward,
    Backward,
}

/// One move, mm and mm/min.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Step {
    /// Line of the text, from 1.
    pub(crate) line: usize,
    pub(crate) from: [f64; 3],
    pub(crate) to: [f64; 3],
    pub(crate) way: Way,
    pub(crate) feed: f64,
    pub(crate) spin: Spin,
    /// rev/min; nought where nothing says it.
    pub(crate) speed: f64,
}

/// One program.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Course {
    pub(crate) tool: Option<u32>,
    pub(crate) steps: Vec<Step>,
    /// What the text leaves open or gets wrong by itself: line and words.
    pub(crate) trouble: Option<(usize, String)>,
    /// What is legal or not by a hair.
    pub(crate) unsure: Option<(usize, String)>,
}

/// A line's words.
#[derive(Default)]
struct Line {
    words: Vec<(char, f64)>,
}

/// Splits a line; an error says what can't be read.
fn split(text: &str) -> Result<Line, String> {
    let bytes = text.as_bytes();
    let (mut line, mut at) = (Line::default(), 0);
    while at < bytes.len() {
        match bytes[at] {
            b' ' => at += 1,
            b'(' => {
                let rest = &text[at + 1..];
                let end = rest.find(')').ok_or("a comment without an end")?;
                if rest[..end].contains('(') {
                    return Err("a comment in a comment".into());
                }
                at += end + 2;
            }
            letter if letter.is_ascii_alphabetic() => {
                let start = at + 1;
                let mut end = start;
                while end < bytes.len() && (bytes[end].is_ascii_digit() || b"+-. ".contains(&bytes[end])) {
                    end += 1;
                }
                let number = text[start..end].replace(' ', "");
                let value = number.parse().map_err(|_| format!("`{number}` is no number"))?;
                line.words.push((char::from(letter.to_ascii_uppercase()), value));
                at = end;
            }
            other => return Err(format!("`{}` stands for nothing", char::from(other))),
        }
    }
    Ok(line)
}

/// Modal groups of the codes that may stand in our programs; `None` for others.
fn group(letter: char, code: f64) -> Option<u8> {
    let whole = code.round();
    if (code - whole).abs() > 1e-4 {
        return None;
    }
    Some(match (letter, whole as i64) {
        ('G', 0..=3 | 80) => 1,
        ('G', 4) => 2,
        ('G', 17..=19) => 3,
        ('G', 20 | 21) => 4,
        ('G', 40) => 5,
        ('G', 49) => 6,
        ('G', 90 | 91) => 7,
        ('G', 93 | 94) => 8,
        ('G', 54) => 9,
        ('G', 61 | 64) => 10,
        ('G', 98 | 99) => 11,
        ('M', 0 | 1 | 2 | 30) => 20,
        ('M', 3..=5) => 21,
        ('M', 7..=9) => 22,
        ('M', 48 | 49) => 23,
        _ => return None,
    })
}

/// What holds from line to line.
#[derive(Default)]
struct Modes {
    unit: Option<f64>,
    relative: Option<bool>,
    axes: Option<Axes>,
    motion: Option<i64>,
    inverse: bool,
    feed: Option<f64>,
    speed: Option<f64>,
    spin: Option<Spin>,
    here: [Option<f64>; 3],
}

const LETTERS: [char; 3] = ['X', 'Y', 'Z'];
const OFFSETS: [char; 3] = ['I', 'J', 'K'];

/// Follows a program. `clear` is the height above everything to which a first rise must go.
pub(crate) fn follow(text: &str, clear: f64) -> Course {
    let mut course = Course::default();
    let mut modes = Modes::default();
    let mut count = 0;
    for (i, raw) in text.lines().enumerate() {
        count = i + 1;
        match split(raw).and_then(|line| step(&line, count, clear, &mut modes, &mut course)) {
            Ok(true) => {}
            Ok(false) => return course,
            Err(words) => {
                course.trouble = Some((count, words));
                return course;
            }
        }
    }
    course.trouble = Some((count, "the text stops without an end".into()));
    course
}

/// Runs one line; false at the program's end.
fn step(line: &Line, number: usize, clear: f64, modes: &mut Modes, course: &mut Course) -> Result<bool, String> {
    let words = match line.words.split_first() {
        // A line's number does nothing.
        Some((('N', n), rest)) if (0.0..=99_999.0).contains(n) && n.fract() == 0.0 => rest,
        _ => &line.words,
    };
    legal(words)?;
    let value = |letter: char| words.iter().find(|w| w.0 == letter).map(|w| w.1);
    let has = |letter: char, code: i64| words.iter().any(|w| w.0 == letter && w.1.round() as i64 == code);
    for (code, inverse) in [(93, true), (94, false)] {
        if has('G', code) {
            modes.inverse = inverse;
        }
    }
    if let Some(f) = value('F') {
        if f < 0.0 {
            return Err("a feed below nought".into());
        }
        if f == 0.0 {
            course.unsure.get_or_insert((number, "a feed of nought".into()));
        }
        modes.feed = Some(if modes.inverse { f } else { f * modes.unit.unwrap_or(1.0) });
    }
    if let Some(s) = value('S') {
        if s < 0.0 {
            return Err("a speed below nought".into());
        }
        modes.speed = Some(s);
    }
    if let Some(t) = value('T') {
        if t < 0.0 || (t - t.round()).abs() > 1e-4 || course.tool.is_some_and(|known| f64::from(known) != t.round()) {
            return Err("a T word that is no number of a cutter, or a second cutter".into());
        }
        course.tool = Some(t.round() as u32);
    }
    for (code, spin) in [(3, Spin::Forward), (4, Spin::Backward), (5, Spin::Still)] {
        if has('M', code) {
            modes.spin = Some(spin);
        }
    }
    if has('G', 4) && value('P').is_none_or(|p| p < 0.0) {
        return Err("a dwell without a time".into());
    }
    for (code, axes) in [(17, [0, 1, 2]), (18, [2, 0, 1]), (19, [1, 2, 0])] {
        if has('G', code) {
            modes.axes = Some(axes);
        }
    }
    for (code, unit) in [(20, 25.4), (21, 1.0)] {
        if has('G', code) {
            modes.unit = Some(unit);
        }
    }
    for (code, relative) in [(90, false), (91, true)] {
        if has('G', code) {
            modes.relative = Some(relative);
        }
    }
    let chosen = [0, 1, 2, 3, 80].into_iter().find(|&c| has('G', c));
    modes.motion = chosen.or(modes.motion);
    let moves = words.iter().any(|w| LETTERS.contains(&w.0));
    if !moves && (chosen.is_some_and(|c| c != 80) || words.iter().any(|w| OFFSETS.contains(&w.0))) {
        return Err("a motion without a place".into());
    }
    if moves {
        travel(words, number, clear, modes, course)?;
    }
    if has('M', 2) || has('M', 30) {
        return Ok(false);
    }
    Ok(true)
}

/// No letter twice but G and M, no two codes of a group, no code or letter that isn't known.
fn legal(words: &[(char, f64)]) -> Result<(), String> {
    let mut groups = Vec::new();
    for (i, &(letter, number)) in words.iter().enumerate() {
        match letter {
            'G' | 'M' => {
                let own = group(letter, number).ok_or(format!("{letter}{number} isn't known"))?;
                if groups.contains(&own) {
                    return Err(format!("two codes of one group, {letter}{number} the second"));
                }
                groups.push(own);
            }
            'X' | 'Y' | 'Z' | 'I' | 'J' | 'K' | 'F' | 'S' | 'T' => {
                if words[..i].iter().any(|w| w.0 == letter) {
                    return Err(format!("{letter} twice"));
                }
            }
            'P' if words.contains(&('G', 4.0)) => {}
            _ => return Err(format!("{letter} has no meaning here")),
        }
    }
    Ok(())
}

fn travel(
    words: &[(char, f64)],
    number: usize,
    clear: f64,
    modes: &mut Modes,
    course: &mut Course,
) -> Result<(), String> {
    let value = |letter: char| words.iter().find(|w| w.0 == letter).map(|w| w.1);
    let (Some(unit), Some(relative), Some(motion)) = (modes.unit, modes.relative, modes.motion) else {
        return Err("a move before units, distance mode and kind of motion are said".into());
    };
    if motion == 80 {
        return Err("a place, but no motion".into());
    }
    if motion < 2 && words.iter().any(|w| OFFSETS.contains(&w.0)) {
        return Err("a centre without an arc".into());
    }
    let here = modes.here;
    let mut to = here;
    for (axis, letter) in LETTERS.into_iter().enumerate() {
        if let Some(v) = value(letter) {
            to[axis] = if relative { here[axis].map(|h| h + v * unit) } else { Some(v * unit) };
        }
    }
    modes.here = to;
    let known = |p: [Option<f64>; 3]| Some([p[0]?, p[1]?, p[2]?]);
    let (Some(from), Some(to)) = (known(here), known(to)) else {
        // From an unknown place only a rise by itself, then a traverse at that height, is safe.
        let level = here[2] == to[2] && here[2].is_some();
        let alone = value('X').is_none() && value('Y').is_none();
        let safe = motion == 0 && to[2].is_some_and(|z| z >= clear) && (level || alone);
        return if safe { Ok(()) } else { Err("a move from an unknown place that isn't above everything".into()) };
    };
    let way = match motion {
        0 => Way::Rapid,
        1 => Way::Line,
        _ => arc(words, number, unit, motion == 3, from, to, modes, course)?,
    };
    let mut step = Step { line: number, from, to, way, feed: 0.0, spin: modes.spin.unwrap_or(Spin::Still), speed: 0.0 };
    // The plates' spindles take words; what a comment says of a dial sets nothing.
    step.speed = modes.speed.unwrap_or(0.0);
    if way != Way::Rapid {
        let feed = if modes.inverse { value('F') } else { modes.feed };
        let Some(feed) = feed.filter(|f| *f > 0.0) else { return Err("a cut without a feed".into()) };
        step.feed = if modes.inverse { feed * step.length() } else { feed };
    }
    course.steps.push(step);
    Ok(())
}

#[expect(clippy::too_many_arguments, reason = "one line's words and where it stands")]
fn arc(
    words: &[(char, f64)],
    number: usize,
    unit: f64,
    ccw: bool,
    from: [f64; 3],
    to: [f64; 3],
    modes: &Modes,
    course: &mut Course,
) -> Result<Way, String> {
    let value = |letter: char| words.iter().find(|w| w.0 == letter).map(|w| w.1);
    let axes = modes.axes.ok_or("an arc before its plane is said")?;
    let [a, b, c] = axes;
    if value(OFFSETS[c]).is_some() {
        return Err("a centre out of the arc's plane".into());
    }
    let offsets = [value(OFFSETS[a]), value(OFFSETS[b])];
    if offsets == [None, None] || (value(LETTERS[a]).is_none() && value(LETTERS[b]).is_none()) {
        return Err("an arc without a place or a centre".into());
    }
    let [i, j] = offsets.map(|v| v.unwrap_or(0.0) * unit);
    let centre = [from[a] + i, from[b] + j];
    let (r0, r1) = (i.hypot(j), (to[a] - centre[0]).hypot(to[b] - centre[1]));
    let off = (r0 - r1).abs();
    if r0 < 1e-9 || off > 0.0025 {
        return Err(format!("an arc whose ends are {off:.4} off one circle"));
    }
    if off > 0.0018 {
        course.unsure.get_or_insert((number, format!("an arc whose ends are {off:.4} off one circle")));
    }
    Ok(Way::Arc(axes, centre, ccw))
}

impl Step {
    /// Radius, first angle and signed sweep of an arc, and its rise.
    pub(crate) fn turn(&self, axes: Axes, centre: [f64; 2], ccw: bool) -> (f64, f64, f64) {
        let [a, b, _] = axes;
        let angle = |p: [f64; 3]| (p[b] - centre[1]).atan2(p[a] - centre[0]);
        let (first, last) = (angle(self.from), angle(self.to));
        let whole = std::f64::consts::TAU;
        let mut sweep = if ccw { (last - first).rem_euclid(whole) } else { -(first - last).rem_euclid(whole) };
        let same = (self.from[a] - self.to[a]).hypot(self.from[b] - self.to[b]) < 1e-9;
        if same || sweep.abs() < 1e-12 {
            sweep = if ccw { whole } else { -whole };
        }
        let radius = |p: [f64; 3]| (p[a] - centre[0]).hypot(p[b] - centre[1]);
        (0.5 * (radius(self.from) + radius(self.to)), first, sweep)
    }

    /// Length of the way, mm.
    pub(crate) fn length(&self) -> f64 {
        let by = [0, 1, 2].map(|k| self.to[k] - self.from[k]);
        match self.way {
            Way::Arc(axes, centre, ccw) => {
                let (radius, _, sweep) = self.turn(axes, centre, ccw);
                (radius * sweep).hypot(by[axes[2]])
            }
            _ => by.iter().map(|d| d * d).sum::<f64>().sqrt(),
        }
    }
}
