//! Strain: what the cutters that a plan uses can't do well on this machine, with the numbers that would do.
//!
//! Feeds, speeds and depths are [`reckon::load`]'s, and what is wrong with them is told from the same reckoning; the plan
//! itself is the same whether or not anything is.

use crate::{Tool, material_of};
use doubt::{Doubt, Kind};
use plate::{Cutter, Intent, Shop};
use quantity::{Length, trimmed};
use reckon::load::{self, Cutting};
use reckon::material::{Heat, TOLD_AT, stock_of};

/// Chips thinner than this share of the rubbing limit don't cut at all (our own limit, no source; the prover has the same).
const BADLY: f64 = 0.5;
/// Passes shallower than this share of the width are said (our own limit, no source).
const SHALLOW: f64 = 0.1;

/// The dial can't go slow enough.
pub const DIAL_TOO_FAST: Kind = Kind {
    id: "dial-too-fast",
    title: "The spindle's slowest speed is too fast for the machine's feed",
    page: "Each flute must take a chip thick enough to cut, or it rubs, and what it rubs gets hot: plastics melt and weld to it, \
           wood scorches, metal clings. The chip is the feed divided by speed and flutes, and here even the greatest feed at \
           the slowest speed makes too thin a one. Turn the spindle slower, let the machine run faster, or take a cutter with \
           fewer flutes or a narrower one, which cuts with thinner chips. Under half of the least chip it is refused, unless \
           the shop file gives the cutter a chip load, feed or speed of its own.",
};
/// The maker's own numbers make the cutter rub.
pub const OWN_NUMBERS_RUB: Kind = Kind {
    id: "own-numbers-rub",
    title: "With the shop file's own numbers a cutter rubs",
    page: "The shop file gives this cutter a chip load, a feed or a speed of its own, and they count. But together they make \
           chips thinner than what is known to cut in this material, so the cutter may rub and get hot. If it has proved \
           itself on scrap, all is well; else take the number out and let it be reckoned.",
};
/// The cutting speed is more than the material is known to stand.
pub const CUTS_TOO_FAST: Kind = Kind {
    id: "cutting-too-fast",
    title: "A cutter's edge runs faster than the material is known to stand",
    page: "The edge's speed is the width times pi times the spindle's speed. Beyond what practice knows for the material the edge \
           and the work get hot whatever the chip. The spindle has no slower speed, or the shop file asks for this one. \
           Turn it slower, or take a narrower cutter.",
};
/// Passes that are very shallow.
pub const SLENDER: Kind = Kind {
    id: "cutter-slender",
    title: "A cutter can take only very shallow passes",
    page: "The depth of a pass is the least of what flutes, bend, strength and power allow, and here that is less than a tenth of \
           the cutter's width: it is long for its thickness, or the material hard. It will do, but takes many passes. Set it \
           further into the collet, take one with shorter flutes or a thicker core, or a wider one where the drawing allows.",
};
/// Several materials.
pub const SEVERAL_MATERIALS: Kind = Kind {
    id: "several-materials",
    title: "The blank is of several materials",
    page: "A program runs at one speed, and a cutter that goes through several sheets meets all of them. It is run by the figures \
           of the one that takes the most energy, which is safe in the others, though chips may be thinner there than they like.",
};

/// What is to be said of the cutters that are used, by number.
pub(crate) fn said(shop: &Shop, intent: &Intent, mut used: Vec<u32>) -> Vec<Doubt> {
    used.sort_unstable();
    used.dedup();
    let material = material_of(intent);
    let mut doubts: Vec<Doubt> = several(intent).into_iter().collect();
    for cutter in used.iter().filter_map(|&n| shop.cutter(n)) {
        let run = load::cutting(shop, cutter, material);
        doubts.extend(rubs(shop, cutter, &run));
        doubts.extend(too_hot(cutter, &run));
        doubts.extend(slender(shop, cutter, &run));
    }
    doubts
}

fn several(intent: &Intent) -> Option<Doubt> {
    let mut names: Vec<&str> = intent.blank.layers.iter().map(|l| stock_of(l.sheet.material).name).collect();
    names.sort_unstable();
    names.dedup();
    let by = stock_of(material_of(intent));
    // Cast and extruded acrylic are cut alike.
    let alike = intent.blank.layers.iter().map(|l| stock_of(l.sheet.material)).all(|s| {
        (s.energy, s.rubbing, s.aim, s.breaking, s.speed.value)
            == (by.energy, by.rubbing, by.aim, by.breaking, by.speed.value)
    });
    (!alike)
        .then(|| SEVERAL_MATERIALS.note(format!("the blank is of {}: all is cut as {}", names.join(" and "), by.name)))
}

/// A chip that is thinner than what cuts.
fn rubs(shop: &Shop, cutter: &Cutter, run: &Cutting) -> Option<Doubt> {
    if run.above_rubbing {
        return None;
    }
    let stock = stock_of(run.material);
    let (chip, least) = (run.chip.to_mm(), run.rubbing.to_mm());
    let (speed, flutes) = (run.speed.to_rev_per_min(), f64::from(cutter.flutes.max(1)));
    let name = format!("cutter {} (`{}`)", cutter.number, cutter.name);
    let own = [cutter.chip_load.is_some(), cutter.feed.is_some(), cutter.speed.is_some()].contains(&true);
    let feed = run.feed.to_mm_per_min();
    // Rounded to the safe side, but for the last digits of a float.
    let needed = |v: f64| trimmed((v - 1e-6).ceil(), 0);
    let allowed = |v: f64| trimmed((v + 1e-6).floor(), 0);
    if own {
        let told: Vec<String> = run.own.iter().map(load::Own::worded).collect();
        let message = format!(
            "{name} takes chips of {} mm by the shop file's own numbers, and under {} mm it rubs in {}",
            trimmed(chip, 4),
            trimmed(least, 4),
            stock.name
        );
        let doubt = OWN_NUMBERS_RUB.caution(message).way_out(format!(
            "a feed of {} mm/min at {} rev/min would cut, or at most {} rev/min with this feed",
            needed(speed * flutes * least),
            trimmed(speed, 0),
            allowed(feed / (flutes * least))
        ));
        return Some(told.into_iter().fold(doubt, Doubt::noting));
    }
    let message = format!(
        "{name}: the spindle's slowest speed, {speed:.0} rev/min, and the machine's greatest feed, {feed:.0} mm/min, make chips of {} \
         mm; under {} mm it rubs in {}, which {}",
        trimmed(chip, 4),
        trimmed(least, 4),
        stock.name,
        stock.heat.words()
    );
    let most = shop.machine.greatest_feed.to_mm_per_min();
    let fewer = (most / (speed * least) + 1e-6).floor();
    let narrower = chip / stock.rubbing.value * TOLD_AT;
    let mut ways = vec![
        format!("a speed of at most {} rev/min", allowed(most / (flutes * least))),
        format!("a greatest feed of at least {} mm/min", needed(speed * flutes * least)),
    ];
    if fewer >= 1.0 && fewer < flutes {
        let word = if fewer == 1.0 { "flute" } else { "flutes" };
        ways.push(format!("a cutter with {} {word}", trimmed(fewer, 0)));
    }
    ways.push(format!("a cutter of at most {} mm", trimmed((narrower * 1000.0 + 1e-6).floor() / 1000.0, 3)));
    let way_out = format!("any of these would cut: {}", ways.join("; "));
    let hopeless = chip < BADLY * least && stock.heat != Heat::Scorches;
    Some(if hopeless { DIAL_TOO_FAST.refusal(message) } else { DIAL_TOO_FAST.caution(message) }.way_out(way_out))
}

/// An edge that is faster than the material is known to stand.
fn too_hot(cutter: &Cutter, run: &Cutting) -> Option<Doubt> {
    let stock = stock_of(run.material);
    let (width, most) = (cutter.cutting_width.to_mm(), stock.speed.range[1]);
    let speed = std::f64::consts::PI * width * run.speed.to_rev_per_min() / 1000.0;
    (speed > most * (1.0 + 1e-9)).then(|| {
        let slower = load::speed_for(most, cutter.cutting_width).to_rev_per_min().floor();
        let narrower = (width * most / speed * 1000.0).floor() / 1000.0;
        CUTS_TOO_FAST
            .caution(format!(
                "cutter {} (`{}`) runs at {:.0} rev/min, so its edge at {speed:.0} m/min; up to {most:.0} is known for {}, which {}",
                cutter.number,
                cutter.name,
                run.speed.to_rev_per_min(),
                stock.name,
                stock.heat.words()
            ))
            .way_out(format!("at most {slower:.0} rev/min, or a cutter of at most {} mm", trimmed(narrower, 3)))
    })
}

/// Passes shallower than a tenth of the width.
fn slender(shop: &Shop, cutter: &Cutter, run: &Cutting) -> Option<Doubt> {
    let (depth, wanted) = (run.pass_depth.to_mm(), SHALLOW * cutter.cutting_width.to_mm());
    if depth >= wanted || cutter.pass_depth.is_some() {
        return None;
    }
    let material = stock_of(run.material).name;
    let message = format!(
        "cutter {} (`{}`) can take passes of only {} mm in {material}: {} allows no more",
        cutter.number,
        cutter.name,
        trimmed(depth, 3),
        run.limit.words()
    );
    let way_out = match run.limit {
        load::Limit::Bend | load::Limit::Stress => {
            let whole = cutter.flute_length.to_mm();
            let lengths = (1..20).map(|i| (whole * (20.0 - f64::from(i)) / 2.0).floor() / 10.0).filter(|l| *l > 0.0);
            let enough = |length: &f64| {
                let shorter = Cutter { flute_length: Length::mm(*length), ..cutter.clone() };
                load::cutting(shop, &shorter, run.material).pass_depth.to_mm() >= wanted
            };
            match { lengths }.find(enough) {
                Some(length) => format!(
                    "with flutes of {length} mm or shorter it would take {} mm; or take a wider one",
                    trimmed(wanted, 3)
                ),
                None => "take a wider cutter, or one with a thicker core".to_owned(),
            }
        }
        load::Limit::Power => "take a narrower cutter, or a spindle with more power".to_owned(),
        _ => "take a cutter with longer flutes or a thicker shank".to_owned(),
    };
    Some(SLENDER.caution(message).way_out(way_out))
}

/// Which cutters would do but for the length of their flutes, and what would be long enough: the message's end and the way
/// out. `wall` is what stands beside the cut on the thickest blank, `thicker` by how much that is more than the usual one, mm;
/// cutters wider than `width` don't fit anyway.
pub(crate) fn too_short(tools: &[Tool<'_>], wall: f64, thicker: f64, width: f64) -> Option<(String, String)> {
    let fitting = tools.iter().filter(|t| 2.0 * t.radius <= width && !t.reaches(wall));
    let longest = fitting.max_by(|a, b| a.reach().total_cmp(&b.reach()))?;
    let (name, reach) = (&longest.cutter.name, trimmed(longest.reach(), 2));
    let depth = trimmed(((longest.reach() - thicker) * 100.0 + 1e-6).floor().max(0.0) / 100.0, 2);
    // A floor this deep is within its reach, and flutes this long reach the floor.
    let needed = trimmed((wall * 10.0 - 1e-6).ceil() / 10.0, 1);
    Some((
        format!("`{name}` would fit, but reaches only {reach} mm deep"),
        format!("make it at most {depth} mm deep, or take a cutter like `{name}` with flutes of {needed} mm or longer"),
    ))
}
