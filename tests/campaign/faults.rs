//! Random single faults, in the programs' text or in what they are run in. The same seed gives the same fault.

use crate::plates::Plate;
use crate::shape::moved;
use plane::{Contour, Point, Region};
use plate::{Cutter, FloorKind, Hold, Intent, Shop};
use quantity::Length;

/// A small generator of random numbers (splitmix64, public domain).
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64, index: u64) -> Self {
        let mut dice = Self(seed ^ index.wrapping_mul(0x9e37_79b9_7f4a_7c15));
        dice.next();
        dice
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub(crate) fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }

    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn of<'a, T>(&mut self, list: &'a [T]) -> Option<&'a T> {
        if list.is_empty() { None } else { list.get(self.below(list.len())) }
    }

    /// Either way, from 3 µm to 3 mm, small ones as often as large ones; in whole µm.
    fn shift(&mut self) -> f64 {
        let size = 0.003 * 1000f64.powf(self.share());
        let size = (size * 1000.0).round() / 1000.0;
        if self.below(2) == 0 { size } else { -size }
    }
}

/// Programs, intent and shop with one thing broken.
pub(crate) struct Mutant {
    pub(crate) kind: &'static str,
    pub(crate) what: String,
    pub(crate) programs: Vec<(String, String)>,
    pub(crate) intent: Intent,
    pub(crate) shop: Shop,
    /// By which the plate lies elsewhere than the programs take it to.
    pub(crate) moved: [f64; 2],
}

/// A line's fault: the line, and what becomes of it; an empty one goes.
type LineFault = fn(&str, &mut Dice) -> Option<String>;
/// A text's fault.
type TextFault = fn(&[&str], &mut Dice) -> Option<Vec<String>>;
/// A fault of anything.
type OtherFault = fn(&mut Mutant, &mut Dice, &Plate) -> Option<String>;

enum Way {
    Line(LineFault),
    Text(TextFault),
    Other(OtherFault),
}

/// A kind of fault with how often it is put, against the others.
struct Kind {
    name: &'static str,
    weight: usize,
    way: Way,
}

fn kinds() -> Vec<Kind> {
    let line = |weight, name, f| Kind { name, weight, way: Way::Line(f) };
    let text = |weight, name, f| Kind { name, weight, way: Way::Text(f) };
    let other = |weight, name, f| Kind { name, weight, way: Way::Other(f) };
    vec![
        line(16, "a digit changed", digit_changed),
        line(6, "a character changed", character_changed),
        line(4, "a character lost", |l, d| {
            let at = d.below(l.len());
            Some(format!("{}{}", l.get(..at)?, l.get(at + 1..)?))
        }),
        line(2, "a space put in", |l, d| {
            let at = d.below(l.len());
            Some(format!("{} {}", l.get(..at)?, l.get(at..)?))
        }),
        line(2, "small letters", |l, _| (!l.starts_with('(')).then(|| l.to_lowercase())),
        line(3, "a digit lost", digit_lost),
        line(3, "a digit doubled", digit_doubled),
        line(3, "a decimal point lost", point_lost),
        line(3, "a decimal point moved", point_moved),
        line(4, "a sign flipped", |l, d| flipped(l, "XYZIJ", d)),
        line(2, "a Z sign flipped", |l, d| flipped(l, "Z", d)),
        line(2, "a sign of I or J flipped", |l, d| flipped(l, "IJ", d)),
        line(8, "a word dropped", word_dropped),
        line(3, "a letter changed", letter_changed),
        line(2, "two numbers swapped", numbers_swapped),
        line(2, "a word doubled", word_doubled),
        line(14, "a value a little off", nudged),
        line(8, "a last digit changed", last_digit_changed),
        line(7, "a line dropped", |l, _| (!l.starts_with('(')).then(String::new)),
        line(2, "a rise or fall dropped", |l, _| (l.starts_with("G1 Z") && !l.contains(['X', 'Y'])).then(String::new)),
        text(5, "a line doubled", |l, d| {
            let i = d.below(l.len());
            Some(l[..=i].iter().chain(&l[i..]).map(|s| (*s).to_owned()).collect())
        }),
        text(5, "two lines swapped", |l, d| {
            let i = d.below(l.len() - 1);
            let mut all: Vec<String> = l.iter().map(|s| (*s).to_owned()).collect();
            all.swap(i, i + 1);
            Some(all)
        }),
        text(3, "a line elsewhere", |l, d| {
            let (i, j) = (d.below(l.len()), d.below(l.len()));
            let mut all: Vec<String> = l.iter().map(|s| (*s).to_owned()).collect();
            let line = all.remove(i);
            all.insert(j.min(all.len()), line);
            Some(all)
        }),
        text(3, "some lines dropped", |l, d| {
            let i = d.below(l.len());
            let n = 2 + d.below(8);
            let kept = |k: &usize| *k < i || *k >= i + n;
            Some((0..l.len()).filter(kept).map(|k| l[k].to_owned()).collect())
        }),
        line(5, "G2 for G3 or back", turned),
        line(2, "G0 for G1", |l, _| l.strip_prefix("G1 ").map(|rest| format!("G0 {rest}"))),
        line(3, "G1 for G0", |l, _| l.strip_prefix("G0 ").map(|rest| format!("G1 {rest}"))),
        line(2, "G1 for an arc", |l, _| {
            let rest = l.strip_prefix("G2 ").or(l.strip_prefix("G3 "))?;
            let kept = rest.split(' ').filter(|w| !w.starts_with(['I', 'J']));
            Some(format!("G1 {}", kept.collect::<Vec<_>>().join(" ")))
        }),
        line(1, "inch for mm", |l, _| swapped(l, "G21", "G20")),
        line(2, "another plane", |l, d| swapped(l, "G17", if d.below(2) == 0 { "G18" } else { "G19" })),
        line(1, "steps for positions", |l, _| swapped(l, "G90", "G91")),
        line(1, "inverse time", |l, _| swapped(l, "G94", "G93")),
        text(1, "steps for positions from a line on", |l, d| inserted(l, d, "G91")),
        text(1, "inch from a line on", |l, d| inserted(l, d, "G20")),
        text(1, "the spindle stopped on the way", |l, d| inserted(l, d, "M5")),
        line(3, "ten times the feed", |l, _| {
            let at = l.find(" F")?;
            l[at + 2..].chars().all(|c| c.is_ascii_digit()).then(|| format!("{l}0"))
        }),
        line(2, "a tenth of the feed", |l, _| {
            let at = l.find(" F")?;
            l[at + 2..].ends_with('0').then(|| l[..l.len() - 1].to_owned())
        }),
        line(1, "the spindle not started", |l, d| {
            let kept = l.strip_suffix(" M3").filter(|l| l.starts_with('S'))?;
            Some(if d.below(2) == 0 { kept.to_owned() } else { format!("{kept} M5") })
        }),
        line(1, "the spindle backward", |l, _| l.starts_with('S').then(|| l.replace(" M3", " M4"))),
        line(1, "another speed", |l, d| {
            let (speed, rest) = l.strip_prefix('S')?.split_once(' ')?;
            let speed: f64 = speed.parse().ok()?;
            let speeds = [speed / 10.0, speed / 2.0, speed * 10.0, speed * 1.3, 10000.0, 14000.0, 22000.0, 0.0];
            Some(format!("S{} {rest}", d.of(&speeds)?))
        }),
        line(1, "no speed", |l, _| l.starts_with('S').then(|| "M3".to_owned())),
        line(1, "the wrong cutter", |l, d| l.strip_prefix('T').map(|_| format!("T{}", 1 + d.below(4)))),
        text(3, "zero off in x", |l, d| Some(shifted(l, 'X', 0, d.shift()))),
        text(3, "zero off in y", |l, d| Some(shifted(l, 'Y', 0, d.shift()))),
        text(4, "zero off in z", |l, d| Some(shifted(l, 'Z', 0, d.shift()))),
        text(4, "steps lost from a line on", |l, d| {
            let axis = ['X', 'Y', 'Z'][d.below(3)];
            let from = d.below(l.len());
            Some(shifted(l, axis, from, d.shift()))
        }),
        text(2, "cut short after a line", |l, d| {
            let n = d.below(l.len());
            Some(l[..n].iter().map(|s| (*s).to_owned()).collect())
        }),
        text(2, "cut short within a line", |l, d| {
            let n = d.below(l.len());
            let mut all: Vec<String> = l[..=n].iter().map(|s| (*s).to_owned()).collect();
            let last = all.last_mut()?;
            let at = d.below(last.len());
            last.truncate(at);
            Some(all)
        }),
        text(1, "the end lost", |l, _| Some(l.iter().filter(|s| **s != "M30").map(|s| (*s).to_owned()).collect())),
        other(1, "two programs in the wrong order", |m, d, _| {
            let n = m.programs.len();
            let (i, j) = (d.below(n), d.below(n));
            m.programs.swap(i, j);
            (i != j).then(|| format!("{} and {}", m.programs[i].0, m.programs[j].0))
        }),
        other(1, "a program missing", |m, d, _| {
            let i = d.below(m.programs.len());
            Some(m.programs.remove(i).0)
        }),
        other(1, "a program run twice", |m, d, _| {
            let i = d.below(m.programs.len());
            m.programs.insert(i, m.programs[i].clone());
            Some(m.programs[i].0.clone())
        }),
        other(1, "one program in another's place", |m, d, _| {
            let n = m.programs.len();
            let (i, j) = (d.below(n), d.below(n));
            m.programs[i].1 = m.programs[j].1.clone();
            (i != j).then(|| format!("{} as {}", m.programs[j].0, m.programs[i].0))
        }),
        other(3, "a cutter worn", |m, d, plate| {
            let c = &mut m.shop.cutters[*d.of(&plate.used)?];
            let share = [0.95, 0.95, 0.98, 0.99, 1.02, 1.05][d.below(6)];
            c.cutting_width = Length::mm(c.cutting_width.to_mm() * share);
            Some(format!("cutter {} by {share}", c.number))
        }),
        other(1, "two cutters swapped", |m, d, plate| {
            let n = m.shop.cutters.len();
            let (i, j) = (*d.of(&plate.used)?, d.below(n));
            m.shop.cutters.swap(i, j);
            let (a, b) = (m.shop.cutters[i].number, m.shop.cutters[j].number);
            (m.shop.cutters[i].number, m.shop.cutters[j].number) = (b, a);
            (i != j).then(|| format!("{a} and {b}"))
        }),
        other(1, "a broken-off cutter", |m, d, plate| {
            let c: &mut Cutter = &mut m.shop.cutters[*d.of(&plate.used)?];
            c.flute_length = Length::mm([0.5, 1.0, 2.0, 4.0][d.below(4)]);
            Some(format!("cutter {} with flutes of {}", c.number, c.flute_length))
        }),
        other(6, "a hold moved", hold_moved),
        other(4, "the blank moved", blank_moved),
        other(2, "a sheet 0.5 mm thicker", thicker),
    ]
}

/// The mutant of a plate for a seed and an index.
pub(crate) fn mutant(plate: &Plate, dice: &mut Dice) -> Mutant {
    let kinds = kinds();
    let sum: usize = kinds.iter().map(|k| k.weight).sum();
    loop {
        let mut pick = dice.below(sum);
        let kind = kinds.iter().find(|k| {
            let here = pick < k.weight;
            pick = pick.wrapping_sub(if here { 0 } else { k.weight });
            here
        });
        let Some(kind) = kind else { continue };
        for _ in 0..40 {
            if let Some(mutant) = attempt(plate, kind, dice) {
                return mutant;
            }
        }
    }
}

/// Names of all kinds, in order.
pub(crate) fn names() -> Vec<&'static str> {
    kinds().iter().map(|k| k.name).collect()
}

fn attempt(plate: &Plate, kind: &Kind, dice: &mut Dice) -> Option<Mutant> {
    let mut mutant = Mutant {
        kind: kind.name,
        what: String::new(),
        programs: plate.programs.clone(),
        intent: plate.intent.clone(),
        shop: plate.shop.clone(),
        moved: [0.0, 0.0],
    };
    // By length, with a share for the short ones.
    let weights: Vec<usize> = plate.programs.iter().map(|p| p.1.lines().count() + 20).collect();
    let mut pick = dice.below(weights.iter().sum());
    let program = weights.iter().position(|w| {
        let here = pick < *w;
        pick = pick.wrapping_sub(if here { 0 } else { *w });
        here
    })?;
    let (name, text) = &plate.programs[program];
    let lines: Vec<&str> = text.lines().collect();
    match kind.way {
        Way::Line(change) => {
            // Lines with words are more worth breaking than comments, and what differs must be found.
            let fitting: Vec<usize> =
                (0..lines.len()).filter(|&i| change(lines[i], &mut Dice::new(1, i as u64)).is_some()).collect();
            let at = *dice.of(&fitting)?;
            let changed = change(lines[at], dice).filter(|c| c != lines[at])?;
            mutant.what = format!("{name} line {}: {} -> {changed}", at + 1, lines[at]);
            let mut all: Vec<&str> = lines.clone();
            if changed.is_empty() {
                all.remove(at);
            } else {
                all[at] = &changed;
            }
            mutant.programs[program].1 = joined(&all);
        }
        Way::Text(change) => {
            let changed = change(&lines, dice).filter(|c| *c != lines)?;
            let at = lines.iter().zip(&changed).take_while(|(a, b)| a == b).count();
            let shown = |l: Option<&str>| l.unwrap_or("the end").to_owned();
            mutant.what = format!(
                "{name} line {}: {} -> {}",
                at + 1,
                shown(lines.get(at).copied()),
                shown(changed.get(at).map(String::as_str))
            );
            mutant.programs[program].1 = joined(&changed);
        }
        Way::Other(change) => mutant.what = change(&mut mutant, dice, plate)?,
    }
    Some(mutant)
}

fn joined<S: AsRef<str>>(lines: &[S]) -> String {
    lines.iter().map(|l| format!("{}\n", l.as_ref())).collect()
}

/// Spans of a line's numbers that belong to one of some letters; none in a comment.
fn numbers(line: &str, letters: &str) -> Vec<(usize, usize)> {
    let bytes = line.as_bytes();
    let mut found = Vec::new();
    if line.starts_with('(') {
        return found;
    }
    for (i, b) in bytes.iter().enumerate() {
        if letters.contains(char::from(*b)) {
            let part = |b: &u8| b.is_ascii_digit() || *b == b'.' || *b == b'-';
            let end = (i + 1..bytes.len()).find(|&k| !part(&bytes[k])).unwrap_or(bytes.len());
            if end > i + 1 {
                found.push((i + 1, end));
            }
        }
    }
    found
}

const ANY: &str = "GXYZIJFSTMP";

/// A place of a digit in a line, any number.
fn a_digit(line: &str, dice: &mut Dice) -> Option<usize> {
    let places: Vec<usize> = numbers(line, ANY)
        .into_iter()
        .flat_map(|(a, b)| a..b)
        .filter(|&i| line.as_bytes()[i].is_ascii_digit())
        .collect();
    dice.of(&places).copied()
}

fn digit_changed(line: &str, dice: &mut Dice) -> Option<String> {
    let at = a_digit(line, dice)?;
    let new = (line.as_bytes()[at] - b'0' + 1 + dice.below(9) as u8) % 10 + b'0';
    Some(format!("{}{}{}", &line[..at], char::from(new), &line[at + 1..]))
}

fn character_changed(line: &str, dice: &mut Dice) -> Option<String> {
    let at = dice.below(line.len());
    let others = "0123456789.-+ ()XYZIJKGFSTMNRPHDA";
    let new = others.chars().nth(dice.below(others.len()))?;
    Some(format!("{}{new}{}", line.get(..at)?, line.get(at + 1..)?))
}

/// One of the second and third decimals.
fn last_digit_changed(line: &str, dice: &mut Dice) -> Option<String> {
    let all = numbers(line, "XYZIJ");
    let (a, b) = *dice.of(&all)?;
    let point = a + line[a..b].find('.')?;
    let places: Vec<usize> = (point + 2..b).collect();
    let at = *dice.of(&places)?;
    let new = (line.as_bytes()[at] - b'0' + 1 + dice.below(9) as u8) % 10 + b'0';
    Some(format!("{}{}{}", &line[..at], char::from(new), &line[at + 1..]))
}

fn digit_lost(line: &str, dice: &mut Dice) -> Option<String> {
    let at = a_digit(line, dice)?;
    Some(format!("{}{}", &line[..at], &line[at + 1..]))
}

fn digit_doubled(line: &str, dice: &mut Dice) -> Option<String> {
    let at = a_digit(line, dice)?;
    Some(format!("{}{}", &line[..=at], &line[at..]))
}

fn point_lost(line: &str, dice: &mut Dice) -> Option<String> {
    let points: Vec<usize> =
        numbers(line, "XYZIJ").into_iter().flat_map(|(a, b)| a..b).filter(|&i| line.as_bytes()[i] == b'.').collect();
    let at = *dice.of(&points)?;
    Some(format!("{}{}", &line[..at], &line[at + 1..]))
}

fn point_moved(line: &str, dice: &mut Dice) -> Option<String> {
    let (a, b) = *dice.of(&numbers(line, "XYZIJ"))?;
    let value: f64 = line[a..b].parse().ok()?;
    let by = if dice.below(2) == 0 { 10.0 } else { 0.1 };
    Some(format!("{}{:.3}{}", &line[..a], value * by, &line[b..]))
}

fn flipped(line: &str, letters: &str, dice: &mut Dice) -> Option<String> {
    let (a, b) = *dice.of(&numbers(line, letters))?;
    let number = &line[a..b];
    let new = number.strip_prefix('-').map_or_else(|| format!("-{number}"), str::to_owned);
    Some(format!("{}{new}{}", &line[..a], &line[b..]))
}

fn word_dropped(line: &str, dice: &mut Dice) -> Option<String> {
    if line.starts_with('(') {
        return None;
    }
    let words: Vec<&str> = line.split(' ').collect();
    let at = dice.below(words.len());
    let kept: Vec<&str> = (0..words.len()).filter(|&i| i != at).map(|i| words[i]).collect();
    Some(kept.join(" "))
}

fn word_doubled(line: &str, dice: &mut Dice) -> Option<String> {
    if line.starts_with('(') {
        return None;
    }
    let words: Vec<&str> = line.split(' ').collect();
    Some(format!("{line} {}", dice.of(&words)?))
}

fn letter_changed(line: &str, dice: &mut Dice) -> Option<String> {
    let (a, _) = *dice.of(&numbers(line, ANY))?;
    let letters = ["X", "Y", "Z", "I", "J", "F", "G", "M", "K", "A", "R"];
    Some(format!("{}{}{}", &line[..a - 1], dice.of(&letters)?, &line[a..]))
}

fn numbers_swapped(line: &str, dice: &mut Dice) -> Option<String> {
    let all = numbers(line, "XYZIJ");
    let i = dice.below(all.len().saturating_sub(1));
    let ((a, b), (c, d)) = (*all.get(i)?, *all.get(i + 1)?);
    Some(format!("{}{}{}{}{}", &line[..a], &line[c..d], &line[b..c], &line[a..b], &line[d..]))
}

fn nudged(line: &str, dice: &mut Dice) -> Option<String> {
    let (a, b) = *dice.of(&numbers(line, "XYZIJ"))?;
    let value: f64 = line[a..b].parse().ok()?;
    Some(format!("{}{:.3}{}", &line[..a], value + dice.shift(), &line[b..]))
}

fn turned(line: &str, _: &mut Dice) -> Option<String> {
    match line.split_at_checked(3)? {
        ("G2 ", rest) => Some(format!("G3 {rest}")),
        ("G3 ", rest) => Some(format!("G2 {rest}")),
        _ => None,
    }
}

fn swapped(line: &str, word: &str, other: &str) -> Option<String> {
    (!line.starts_with('(') && line.contains(word)).then(|| line.replace(word, other))
}

fn inserted(lines: &[&str], dice: &mut Dice, line: &str) -> Option<Vec<String>> {
    let first = lines.iter().position(|l| l.starts_with("G0 "))?;
    let at = first + dice.below(lines.len() - first);
    let mut all: Vec<String> = lines.iter().map(|s| (*s).to_owned()).collect();
    all.insert(at, line.to_owned());
    Some(all)
}

/// All words of an axis moved from a line on.
pub(crate) fn shifted(lines: &[&str], axis: char, from: usize, by: f64) -> Vec<String> {
    let word = |w: &str| match w.strip_prefix(axis).and_then(|n| n.parse::<f64>().ok()) {
        Some(v) => format!("{axis}{:.3}", v + by),
        None => w.to_owned(),
    };
    let line = |l: &str| l.split(' ').map(word).collect::<Vec<_>>().join(" ");
    let change = |(i, l): (usize, &&str)| if i < from || l.starts_with('(') { (*l).to_owned() } else { line(l) };
    lines.iter().enumerate().map(change).collect()
}

/// A hold where a program goes, or near it; one more where there is none.
fn hold_moved(mutant: &mut Mutant, dice: &mut Dice, _: &Plate) -> Option<String> {
    let size = mutant.intent.blank.size.map(|l| l.to_mm());
    let at = Point::new(dice.share() * size[0], dice.share() * size[1]);
    let at = Point::new((at.x * 1000.0).round() / 1000.0, (at.y * 1000.0).round() / 1000.0);
    let shape = Contour::circle(at, [2.0, 4.0][dice.below(2)]);
    let top = mutant.intent.blank.face_high + Length::mm([0.5, 3.0, 9.0][dice.below(3)]);
    let hold = Hold { name: "screw".into(), shape, top };
    let n = mutant.intent.holds.len();
    let what = format!("at {:.3} {:.3}, top at {:.2}", at.x, at.y, top.to_mm());
    if n > 0 {
        let i = dice.below(n);
        mutant.intent.holds[i] = hold;
    } else {
        mutant.intent.holds.push(hold);
    }
    Some(what)
}

/// The plate's place on the blank, with its holds, isn't where the programs take it to be.
fn blank_moved(mutant: &mut Mutant, dice: &mut Dice, _: &Plate) -> Option<String> {
    let by = [[dice.shift(), 0.0], [0.0, dice.shift()], [dice.shift(), dice.shift()]][dice.below(3)];
    let move_region = |region: &mut Region| {
        for shape in &mut region.shapes {
            shape.outer = moved(&shape.outer, by);
            shape.holes.iter_mut().for_each(|h| *h = moved(h, by));
        }
    };
    mutant.intent.areas.iter_mut().for_each(|a| move_region(&mut a.region));
    if let Some(outline) = &mut mutant.intent.outline {
        move_region(&mut outline.inside);
    }
    mutant.intent.holds.iter_mut().for_each(|h| h.shape = moved(&h.shape, by));
    mutant.moved = by;
    Some(format!("by {:.3} {:.3}", by[0], by[1]))
}

/// The upper or the lower sheet, with the floors where they were or where the plate file then asks for them.
fn thicker(mutant: &mut Mutant, dice: &mut Dice, _: &Plate) -> Option<String> {
    let by = Length::mm(0.5);
    let (layer, floors) = (dice.below(2), dice.below(2) == 1);
    let blank = &mut mutant.intent.blank;
    for (i, l) in blank.layers.iter_mut().enumerate() {
        if i <= layer {
            l.top = l.top + by;
        }
        if i < layer {
            l.bottom = l.bottom + by;
        }
    }
    (blank.face, blank.face_low, blank.face_high) = (blank.face + by, blank.face_low + by, blank.face_high + by);
    if floors {
        for area in &mut mutant.intent.areas {
            if matches!(area.kind, FloorKind::BelowFace(_)) {
                area.floor = area.floor + by;
            }
        }
    }
    Some(format!("sheet {layer}, floors {}", if floors { "below the face" } else { "where they were" }))
}
