//! Kinds of single fault and the places where each can be put.

use crate::ground;
use plane::{Contour, Point};
use plate::{Hold, Intent};
use quantity::Length;

/// Names and texts of the programs, in the order they are run.
pub(crate) type Programs = Vec<(String, String)>;

/// A damaged set of programs, or damaged circumstances.
pub(crate) struct Mutant {
    pub(crate) what: String,
    pub(crate) programs: Programs,
    pub(crate) intent: Intent,
}

/// The undamaged programs and what they are for.
pub(crate) struct Original {
    pub(crate) programs: Programs,
    pub(crate) intent: Intent,
}

/// One place for a fault: program, line from 0, and a choice among variants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spot {
    program: usize,
    line: usize,
    variant: usize,
}

/// How a kind of fault is put in place.
pub(crate) enum Way {
    /// One line becomes another, or goes (an empty one).
    Line(fn(&str, usize) -> Option<String>),
    /// The next line changes place with this one.
    Swap,
    /// The text stops at the end of a line, or in its middle.
    Cut(bool),
    /// A whole text becomes another.
    Text(fn(&str, usize) -> Option<String>),
    /// Programs change places, by pairs.
    Order,
    /// A program isn't there.
    Missing,
    /// A hold stands where this line goes.
    Hold,
    /// The blank is thicker.
    Thicker,
    /// A rise to a tab's height goes.
    Tab,
}

/// A kind of fault.
pub(crate) struct Fault {
    pub(crate) name: &'static str,
    /// How many variants each place has.
    variants: usize,
    way: Way,
}

/// All kinds.
pub(crate) fn faults() -> Vec<Fault> {
    let line = |name, variants, change| Fault { name, variants, way: Way::Line(change) };
    let text = |name, variants, change| Fault { name, variants, way: Way::Text(change) };
    let other = |name, way| Fault { name, variants: 1, way };
    vec![
        line("a Z sign flipped", 1, |l, _| l.contains(" Z").then(|| l.replace(" Z", " Z-"))),
        line("a line dropped", 1, |_, _| Some(String::new())),
        other("two lines swapped", Way::Swap),
        line("G0 for G1", 1, |l, _| l.strip_prefix("G1 ").map(|rest| format!("G0 {rest}"))),
        line("G1 for G0", 1, |l, _| l.strip_prefix("G0 ").map(|rest| format!("G1 {rest}"))),
        line("G2 for G3 or back", 1, turned),
        text("inch for mm", 1, |t, _| Some(t.replace("G21", "G20"))),
        line("a decimal point lost", 3, |l, v| {
            changed_number(l, "XYZ", v, |n| n.contains('.').then(|| n.replace('.', "")))
        }),
        line("a digit of X changed", 24, |l, v| digit(l, "X", v)),
        line("a digit of Y changed", 24, |l, v| digit(l, "Y", v)),
        line("a digit of Z changed", 24, |l, v| digit(l, "Z", v)),
        line("a sign of I or J flipped", 2, |l, v| changed_number(l, "IJ", v, flipped)),
        line("the wrong cutter", 3, wrong_cutter),
        text("zero off in x", 2, |t, v| Some(shifted(t, 'X', v))),
        text("zero off in y", 2, |t, v| Some(shifted(t, 'Y', v))),
        text("zero off in z", 2, |t, v| Some(shifted(t, 'Z', v))),
        other("two programs in the wrong order", Way::Order),
        other("a program missing", Way::Missing),
        other("cut short after a line", Way::Cut(false)),
        other("cut short within a line", Way::Cut(true)),
        line("the end lost", 1, |l, _| (l == "M30").then(String::new)),
        line("the spindle not started", 2, |l, v| {
            l.ends_with(" M3").then(|| if v == 0 { String::new() } else { l.replace(" M3", " M5") })
        }),
        line("the spindle backward", 1, |l, _| l.ends_with(" M3").then(|| l.replace(" M3", " M4"))),
        line("a tenth of the speed", 1, |l, _| l.ends_with("0 M3").then(|| l.replace("0 M3", " M3"))),
        line("ten times the feed", 1, |l, _| l.contains(" F").then(|| format!("{l}0"))),
        line("steps for positions", 1, |l, _| l.contains("G90").then(|| l.replace("G90", "G91"))),
        other("a hold moved into the path", Way::Hold),
        other("a tab's lift dropped", Way::Tab),
        Fault { name: "a thicker blank", variants: 3, way: Way::Thicker },
    ]
}

impl Fault {
    /// All places for this fault.
    pub(crate) fn spots(&self, original: &Original) -> Vec<Spot> {
        let programs = &original.programs;
        let mut spots = Vec::new();
        for (program, (_, text)) in programs.iter().enumerate() {
            let mut add = |line| spots.extend((0..self.variants).map(|variant| Spot { program, line, variant }));
            match self.way {
                Way::Thicker if program == 0 => add(0),
                Way::Text(_) | Way::Missing => add(0),
                Way::Order => (program + 1..programs.len()).for_each(&mut add),
                Way::Thicker => {}
                _ => {
                    let lines: Vec<&str> = text.lines().collect();
                    (0..lines.len()).filter(|&i| self.fits(original, &lines, i)).for_each(add);
                }
            }
        }
        spots
    }

    fn fits(&self, original: &Original, lines: &[&str], i: usize) -> bool {
        let line = lines[i];
        if line.starts_with('(') {
            return false;
        }
        let moves = line.contains('X') || line.contains('Y');
        match self.way {
            Way::Line(change) => change(line, 0).is_some(),
            Way::Swap => lines.get(i + 1).is_some_and(|next| !next.starts_with('(') && *next != line),
            Way::Cut(within) => i > 3 && (!within || line.len() > 5),
            Way::Hold => moves && line.starts_with("G1"),
            Way::Tab => {
                let top = ground::tabs(&original.intent).map(|t| (original.intent.blank.underside + t.left).to_mm());
                let rise = line.starts_with("G1 Z").then(|| number_after(line, 'Z')).flatten();
                rise.zip(top).is_some_and(|(z, top)| (z - top).abs() < 0.15 && !line.contains('X'))
            }
            _ => false,
        }
    }

    /// The original with this fault at a spot; `None` if nothing changes there.
    pub(crate) fn at(&self, original: &Original, spot: Spot) -> Option<Mutant> {
        let mut programs = original.programs.clone();
        let mut intent = original.intent.clone();
        let Spot { program, line, variant } = spot;
        let (name, text) = original.programs[program].clone();
        let lines: Vec<&str> = text.lines().collect();
        let mut what = format!("{name} line {}: {}", line + 1, lines[line]);
        let with = |changed: &[&str]| changed.iter().map(|l| format!("{l}\n")).collect::<String>();
        match self.way {
            Way::Line(change) => {
                let changed = change(lines[line], variant).filter(|c| c != lines[line])?;
                what = format!("{what} -> {changed}");
                let mut all = lines.clone();
                if changed.is_empty() {
                    all.remove(line);
                } else {
                    all[line] = &changed;
                }
                programs[program].1 = with(&all);
            }
            Way::Tab => {
                let mut all = lines.clone();
                all.remove(line);
                programs[program].1 = with(&all);
            }
            Way::Swap => {
                what = format!("{what} <-> {}", lines[line + 1]);
                let mut all = lines.clone();
                all.swap(line, line + 1);
                programs[program].1 = with(&all);
            }
            Way::Cut(within) => {
                programs[program].1 = with(&lines[..line]);
                if within {
                    programs[program].1 += &lines[line][..lines[line].len() / 2 + 1];
                }
            }
            Way::Text(change) => {
                let changed = change(&text, variant).filter(|c| *c != text)?;
                what = format!("{name}, variant {variant}");
                programs[program].1 = changed;
            }
            Way::Order => {
                what = format!("{name} and {}", programs[line].0);
                programs.swap(program, line);
            }
            Way::Missing => {
                what = name;
                programs.remove(program);
            }
            Way::Hold => {
                let back = |letter| lines[..=line].iter().rev().find_map(|l| number_after(l, letter));
                let at = Point::new(back('X')?, back('Y')?);
                let hold: &mut Hold = intent.holds.first_mut()?;
                hold.shape = Contour::circle(at, 4.0);
            }
            Way::Thicker => {
                let by = Length::mm([0.5, 0.9, 1.5][variant]);
                what = format!("by {by}");
                intent.blank.face_high = intent.blank.face_high + by;
            }
        }
        Some(Mutant { what, programs, intent })
    }
}

/// Number after the first word with a letter.
fn number_after(line: &str, letter: char) -> Option<f64> {
    let rest = line.split(' ').find_map(|w| w.strip_prefix(letter))?;
    rest.parse().ok()
}

/// A line with the number of one of its words changed: the `which`th word among these letters.
fn changed_number(line: &str, letters: &str, which: usize, change: impl Fn(&str) -> Option<String>) -> Option<String> {
    let words: Vec<&str> = line.split(' ').collect();
    let ours: Vec<usize> = (0..words.len()).filter(|&i| words[i].starts_with(|c| letters.contains(c))).collect();
    let at = *ours.get(which % ours.len().max(1))?;
    let (letter, number) = words[at].split_at(1);
    let changed = format!("{letter}{}", change(number)?);
    Some(words.iter().enumerate().map(|(i, w)| if i == at { &changed } else { *w }).collect::<Vec<_>>().join(" "))
}

/// One digit of a word becomes another. The variant chooses which digit and by how much.
fn digit(line: &str, letter: &str, variant: usize) -> Option<String> {
    changed_number(line, letter, 0, |number| {
        let digits: Vec<usize> = number.char_indices().filter(|(_, c)| c.is_ascii_digit()).map(|(i, _)| i).collect();
        // The third decimal is a matter of rounding.
        let kept = if number.contains('.') { digits.len().saturating_sub(1).max(1) } else { digits.len() };
        let at = *digits.get(variant % kept)?;
        let add = (1 + variant / 3) as u8 % 9 + 1;
        let new = (number.as_bytes()[at] - b'0' + add) % 10 + b'0';
        Some(format!("{}{}{}", &number[..at], char::from(new), &number[at + 1..]))
    })
}

fn flipped(number: &str) -> Option<String> {
    Some(number.strip_prefix('-').map_or_else(|| format!("-{number}"), str::to_owned))
}

fn turned(line: &str, _: usize) -> Option<String> {
    match line.split_at_checked(3)? {
        ("G2 ", rest) => Some(format!("G3 {rest}")),
        ("G3 ", rest) => Some(format!("G2 {rest}")),
        _ => None,
    }
}

fn wrong_cutter(line: &str, variant: usize) -> Option<String> {
    line.strip_prefix('T').map(|_| format!("T{}", variant + 1))
}

/// All words of an axis moved by a tenth of a millimetre.
fn shifted(text: &str, axis: char, variant: usize) -> String {
    let by = if variant == 0 { 0.1 } else { -0.1 };
    let line = |l: &str| {
        if l.starts_with('(') {
            return l.to_owned();
        }
        let word = |w: &str| match w.strip_prefix(axis).and_then(|n| n.parse::<f64>().ok()) {
            Some(v) => format!("{axis}{:.3}", v + by),
            None => w.to_owned(),
        };
        l.split(' ').map(word).collect::<Vec<_>>().join(" ")
    };
    text.lines().map(|l| line(l) + "\n").collect()
}
