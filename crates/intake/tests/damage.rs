//! Random damage to files never panics; whatever comes of it is a job or a refusal, and every refusal has a place and
//! a way out.

use intake::{STARTER_SHOP, take_from};
use proptest::prelude::*;
use std::io;

const PLATE: &str = include_str!("cases/good-nested/plate.toml");
const DRAWING: &str = include_str!("cases/common/plate.svg");
const LETTERED: &str = include_str!("cases/good-lettering-paths/plate.toml");
const LETTERS: &str = include_str!("cases/common/letters.svg");
const FONT: &[u8] = include_bytes!("../../drawing/tests/fonts/planted.ttf");

/// Pieces that break files in ways that letters alone seldom do.
const PIECES: &[&str] = &[
    "nan",
    "inf",
    "-inf",
    "1e308",
    "-1",
    "0",
    "1e-300",
    "99999999999999999999",
    "\"\"",
    "\"6 mm\"",
    "\"1/0 in\"",
    "[",
    "]",
    "{",
    "}",
    "[[area]]\n",
    "[plate]\n",
    "through",
    "true",
    "1979-05-27",
    "= ",
    "\n",
    "\"",
    "'''",
    "#",
    "on = \"*\"\n",
    "0x7f",
    "\u{feff}",
    "µ",
    "scale = 1000\n",
    "place = \"centred\"\n",
    "\"moon\"",
    "below_face",
    "along = \"arch\", ",
    "turn = 45, ",
    ".",
];

#[derive(Debug, Clone)]
enum Harm {
    Cut(usize, usize),
    Insert(usize, usize),
    Replace(usize, usize, usize),
    DropLine(usize),
    RepeatLine(usize),
    SwapNumber(usize, usize),
}

fn harm() -> impl Strategy<Value = Harm> {
    let at = any::<prop::sample::Index>().prop_map(|i| i.index(1 << 20));
    prop_oneof![
        (at.clone(), 0usize..20).prop_map(|(a, n)| Harm::Cut(a, n)),
        (at.clone(), 0..PIECES.len()).prop_map(|(a, p)| Harm::Insert(a, p)),
        (at.clone(), 0usize..8, 0..PIECES.len()).prop_map(|(a, n, p)| Harm::Replace(a, n, p)),
        at.clone().prop_map(Harm::DropLine),
        at.clone().prop_map(Harm::RepeatLine),
        (at, 0..PIECES.len()).prop_map(|(a, p)| Harm::SwapNumber(a, p)),
    ]
}

fn harmed(text: &str, harms: &[Harm]) -> String {
    let mut text = text.to_owned();
    for harm in harms {
        let chars: Vec<char> = text.chars().collect();
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        let splice = |at: usize, drop: usize, piece: &str| {
            let at = at % (chars.len() + 1);
            let rest = (at + drop).min(chars.len());
            chars[..at].iter().chain(&piece.chars().collect::<Vec<_>>()).chain(&chars[rest..]).collect::<String>()
        };
        text = match *harm {
            Harm::Cut(at, count) => splice(at, count, ""),
            Harm::Insert(at, piece) => splice(at, 0, PIECES[piece]),
            Harm::Replace(at, count, piece) => splice(at, count, PIECES[piece]),
            Harm::DropLine(at) => {
                let at = at % lines.len().max(1);
                lines.iter().enumerate().filter(|(i, _)| *i != at).map(|(_, l)| *l).collect()
            }
            Harm::RepeatLine(at) => {
                let at = at % lines.len().max(1);
                lines.iter().enumerate().map(|(i, l)| if i == at { l.repeat(2) } else { (*l).to_owned() }).collect()
            }
            Harm::SwapNumber(at, piece) => {
                let numbers: Vec<usize> = (0..chars.len()).filter(|&i| chars[i].is_ascii_digit()).collect();
                let Some(&at) = numbers.get(at % numbers.len().max(1)) else { continue };
                let long = chars[at..].iter().take_while(|c| c.is_ascii_digit() || **c == '.').count();
                splice(at, long, PIECES[piece])
            }
        };
    }
    text
}

fn check(plate: &str, shop: &str, drawing: &str) {
    let taken = take_from(plate, &|name| match name {
        "plate.svg" | "letters.svg" => Ok(drawing.into()),
        name if name.ends_with("tf") => Ok(FONT.into()),
        "shop.toml" => Ok(shop.into()),
        _ => Err(io::ErrorKind::NotFound.into()),
    });
    assert_eq!(taken.job.is_none(), doubt::any_blocks(&taken.doubts));
    for doubt in &taken.doubts {
        assert!(!doubt.blocks() || (!doubt.places.is_empty() && doubt.way_out.is_some()), "{doubt:?}");
        assert!(!doubt::render(doubt, &taken.sources, false).is_empty());
    }
    if let Some(job) = &taken.job {
        let blank = &job.intent.blank;
        for area in &job.intent.areas {
            assert!(area.floor < blank.face && area.floor >= blank.lowest(), "{area:?}");
            assert!(!intake::sentence(area, blank).is_empty());
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_damaged_plate_file(harms in prop::collection::vec(harm(), 1..5)) {
        check(&harmed(PLATE, &harms), STARTER_SHOP, DRAWING);
    }

    #[test]
    fn a_damaged_plate_file_with_lettering(harms in prop::collection::vec(harm(), 1..5)) {
        // The planted font has few letters.
        let plate = LETTERED.replace("Kestrel Hill", "HAVOX fi").replace("door plate", "Ox");
        check(&harmed(&plate, &harms), STARTER_SHOP, LETTERS);
    }

    #[test]
    fn a_damaged_shop_file(harms in prop::collection::vec(harm(), 1..5)) {
        check(PLATE, &harmed(STARTER_SHOP, &harms), DRAWING);
    }

    #[test]
    fn noise(text in any::<String>()) {
        check(&text, &text, &text);
    }
}
