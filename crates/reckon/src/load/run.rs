//! Run: how a cutter is run in a material on this shop's machine, with the working of every number.
//!
//! Every number is reckoned from the file's figures and the material's; a number of the maker's own then takes its place,
//! and the working shows both. The order is: cutting speed to spindle speed (no faster than the greatest feed can serve
//! with the chip aimed at), chip to feed, feed held by the machine, and from the chip that then is the force for each mm
//! of depth, which bend, strength and power turn into a depth.

use super::{BEND, CARBIDE, CARBIDE_STRESS, DOWN_FEED, ENTRY_DEGREES, ENTRY_FEED, Limit, TOGETHER};
use super::{bend, chip_at, feed_for, give, mean_width, power, second_moment, side_force, speed_for, together};
use crate::chain::{Chain, Working};
use crate::material::{self, Stock, TOLD_AT};
use plate::{Cutter, Form, Material, Shop, SpindleSpeed};
use quantity::{Feed, Length, Speed, trimmed};
use std::f64::consts::PI;

const HANDBOOK: &str = "handbook formula, from memory";
const TEXTBOOK: &str = "textbook formula";
const DERIVED: &str = "derived";
const PRACTICE: &str = "common practice, no source";
const MACHINE: &str = "the shop file, [machine]";
const SPINDLE: &str = "the shop file, [spindle]";
const INSTEAD: &str = "the maker's own number takes the place of the one reckoned";

/// A number that the maker gives in place of the one reckoned.
#[derive(Debug, Clone, PartialEq)]
pub struct Own {
    /// The key of the shop file.
    pub key: &'static str,
    /// What it is.
    pub name: &'static str,
    /// The maker's.
    pub own: f64,
    /// What would hold without it.
    pub reckoned: f64,
    /// The unit of both.
    pub unit: &'static str,
}

/// How a cutter is run in a material on this machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Cutting {
    /// The material that it was reckoned for.
    pub material: Material,
    /// Spindle speed.
    pub speed: Speed,
    /// The dial's position, where the spindle has a dial.
    pub dial: Option<String>,
    /// Feed while cutting.
    pub feed: Feed,
    /// Feed along a ramp or helix into material.
    pub entry_feed: Feed,
    /// Feed straight down in air.
    pub down_feed: Feed,
    /// Feed straight down through material, where the cutter may drill.
    pub drill_feed: Feed,
    /// Steepest entry, radians.
    pub entry_angle: f64,
    /// Chip per flute at that feed, mm.
    pub chip: Length,
    /// Chip per flute below which it rubs.
    pub rubbing: Length,
    /// Greatest chip per flute.
    pub breaking: Length,
    /// Depth per pass, safe in a full slot.
    pub pass_depth: Length,
    /// What limits that depth.
    pub limit: Limit,
    /// Every limit of the depth with what it allows, mm, whether or not it is the least.
    pub limits: Vec<(Limit, f64)>,
    /// Greatest side force in a slot at that depth, N. One flute at a time cuts the thickest chip, so this is the
    /// peak, and breakage is judged by it.
    pub force: f64,
    /// Mean side force over a turn in that slot, N: with one flute the peak is pi times the mean.
    pub mean_force: f64,
    /// Bend of the tip under the peak.
    pub bend: Length,
    /// Whether the chip stays above the rubbing limit.
    pub above_rubbing: bool,
    /// Whether the feed is the machine's greatest, not the chip's.
    pub held_by_machine: bool,
    /// The maker's own numbers beside those reckoned.
    pub own: Vec<Own>,
}

/// The keys of [`chains`] with the symbol of each, in the order in which they are reckoned.
pub const RESULTS: &[(&str, &str)] = &[
    ("speed", "n"),
    ("feed", "vf"),
    ("chip", "fz"),
    ("rubbing", "fz_rub"),
    ("breaking", "fz_max"),
    ("pass-depth", "ap"),
    ("force", "F"),
    ("mean-force", "F_mean"),
    ("bend", "bend"),
    ("entry-feed", "vf_entry"),
    ("down-feed", "vf_down"),
    ("drill-feed", "vf_drill"),
    ("entry-angle", "entry"),
];

/// How a cutter is run in a material on this shop's machine, the maker's own numbers taken first.
pub fn cutting(shop: &Shop, cutter: &Cutter, material: Material) -> Cutting {
    worked(shop, cutter, material).0
}

/// The same with the steps that led to every number: for each of [`RESULTS`] the chain that ends in it. The numbers are
/// those of [`cutting`], since one reckoning makes both.
pub fn chains(shop: &Shop, cutter: &Cutter, material: Material) -> Vec<Chain> {
    let working = worked(shop, cutter, material).1;
    RESULTS.iter().filter_map(|(key, symbol)| working.chain(key, symbol)).collect()
}

/// Thinnest chip per flute that cuts, mm, for a cutter that cuts this wide, mm.
pub fn rubbing_chip(material: Material, width: f64) -> f64 {
    scaled(material::stock_of(material).rubbing.value, width)
}

/// Thickest chip per flute allowed, mm: the breaking limit, or a quarter above the maker's own chip load.
pub fn greatest_chip_allowed(cutter: &Cutter, material: Material) -> f64 {
    let usual = scaled(material::stock_of(material).breaking.value, mean_width(cutter));
    cutter.chip_load.map_or(usual, |own| (own.to_mm() * ABOVE_OWN).max(usual))
}

/// Chips may be this much thicker than the maker's own chip load (our own limit, no source).
const ABOVE_OWN: f64 = 1.25;

/// A chip told at 1/8 in for a cutter this wide, mm.
fn scaled(chip: f64, width: f64) -> f64 {
    chip / TOLD_AT * width
}

/// The cutter's figures that every step needs, and the working so far.
struct Bench<'a> {
    shop: &'a Shop,
    cutter: &'a Cutter,
    stock: &'static Stock,
    /// Where the cutter's figures come from.
    file: String,
    w: Working,
    own: Vec<Own>,
    /// Symbol and value of the width by which chips are reckoned, mm.
    width: (&'static str, f64),
}

pub(super) fn worked(shop: &Shop, cutter: &Cutter, material: Material) -> (Cutting, Working) {
    let stock = material::stock_of(material);
    let file = format!("the shop file, cutter {}", cutter.number);
    let (w, own) = (Working::default(), Vec::new());
    let mut bench = Bench { shop, cutter, stock, file, w, own, width: ("D", 0.0) };
    bench.widths();
    let (aim, rubbing, breaking) = bench.chips();
    let (speed, dial) = bench.speed(aim);
    let (feed, wanted) = bench.feed(speed, aim);
    let chip = bench.w.by("fz", "chip per flute", "vf / (n * z)", chip_at(feed, speed, cutter.flutes), "mm", HANDBOOK);
    let (depth, limit, limits) = bench.depth(chip, feed);
    let (force, mean_force, bent) = bench.forces(chip, depth);
    let [entry_feed, down_feed, drill_feed] = bench.other_feeds(feed, speed, rubbing);
    let entry_angle = bench.entry();
    let cutting = Cutting {
        material,
        speed: Speed::rev_per_min(speed),
        dial,
        feed: Feed::mm_per_min(feed),
        entry_feed: Feed::mm_per_min(entry_feed),
        down_feed: Feed::mm_per_min(down_feed),
        drill_feed: Feed::mm_per_min(drill_feed),
        entry_angle: entry_angle.to_radians(),
        chip: Length::mm(chip),
        rubbing: Length::mm(rubbing),
        breaking: Length::mm(breaking),
        pass_depth: Length::mm(depth),
        limit,
        limits,
        force,
        mean_force,
        bend: Length::mm(bent),
        above_rubbing: chip >= rubbing * (1.0 - 1e-9),
        held_by_machine: wanted > feed * (1.0 + 1e-9),
        own: bench.own,
    };
    (cutting, bench.w)
}

impl Bench<'_> {
    /// The file's word on a cutter's key.
    fn said(&self, key: &str) -> String {
        format!("{}, `{key}`", self.file)
    }

    fn own(&mut self, key: &'static str, name: &'static str, own: f64, reckoned: f64, unit: &'static str) {
        self.own.push(Own { key, name, own, reckoned, unit });
    }

    /// Widths, flutes.
    fn widths(&mut self) {
        let c = self.cutter;
        let from = if c.width_measured { self.said("cutting_width") } else { self.said("diameter") + ", not measured" };
        self.w.given("D", "cutting width", c.cutting_width.to_mm(), "mm", from);
        self.width = ("D", mean_width(c));
        if let Form::Vee { tip, .. } = c.form {
            let tip = tip.to_mm().min(c.cutting_width.to_mm());
            self.w.given("tip", "flat at the vee's tip", tip, "mm", self.said("tip"));
            let why = "a vee's groove is a triangle: it takes off as much as a slot of its mean width";
            self.w.by("W", "mean width of the vee", "(D + tip) / 2", self.width.1, "mm", why);
            self.width.0 = "W";
        }
        self.w.given("z", "flutes", f64::from(c.flutes.max(1)), "", self.said("flutes"));
    }

    /// The chip window: aim, rubbing, breaking.
    fn chips(&mut self) -> (f64, f64, f64) {
        let (wide, width) = self.width;
        let stock = self.stock;
        let mut scale = |symbol: &str, told: &str, name: &str, chip: material::Known| {
            let source = format!("{}: {}", stock.name, chip.source);
            let at = format!("{name} at 1/8 in");
            let told_mm = self.w.between(told, &at, chip.value, chip.range, "mm", source);
            let formula = format!("{told} / {TOLD_AT} * {wide}");
            let scales = "chips grow and shrink with the diameter; common practice, no source";
            self.w.by(symbol, name, &formula, scaled(told_mm, width), "mm", scales)
        };
        let rubbing = scale("fz_rub", "c_rub", "thinnest chip that cuts", stock.rubbing);
        let aimed = scale("fz_aim", "c_aim", "chip aimed at", stock.aim);
        let breaking = scale("fz_break", "c_break", "thickest chip", stock.breaking);
        let (name, unit) = ("chip per flute that is wanted", "mm");
        let Some(own) = self.cutter.chip_load.map(Length::to_mm) else {
            self.w.by("fz_want", name, "fz_aim", aimed, unit, "nobody states another");
            self.w.by("fz_max", "greatest chip allowed", "fz_break", breaking, unit, "nobody states another");
            return (aimed, rubbing, breaking);
        };
        self.own("chip_load", "chip per flute", own, aimed, unit);
        self.w.given("fz_own", "the maker's own chip", own, unit, self.said("chip_load"));
        self.w.chosen("fz_want", name, (INSTEAD.into(), &["fz_own", "fz_aim"]), own, unit, self.said("chip_load"));
        let most = greatest_chip_allowed(self.cutter, self.stock.material);
        let formula = format!("max(fz_break, {ABOVE_OWN} * fz_own)");
        self.w.by(
            "fz_max",
            "greatest chip allowed",
            &formula,
            most,
            unit,
            "a quarter above the maker's own; no source",
        );
        (own, rubbing, most)
    }

    /// Spindle speed, rev/min, and the dial's position.
    fn speed(&mut self, aim: f64) -> (f64, Option<String>) {
        let (cutter, machine, unit) = (self.cutter, &self.shop.machine, "rev/min");
        let v = self.stock.speed;
        let source = format!("{}: {}", self.stock.name, v.source);
        self.w.between("v", "cutting speed aimed at", v.value, v.range, "m/min", source);
        let by_heat = speed_for(v.value, cutter.cutting_width).to_rev_per_min();
        self.w.by("n_cut", "speed for that cutting speed", "1000 * v / (pi * D)", by_heat, unit, HANDBOOK);
        let most = machine.greatest_feed.to_mm_per_min();
        self.w.given(
            "vf_machine",
            "the machine's greatest feed",
            most,
            "mm/min",
            format!("{MACHINE}, `greatest_feed`"),
        );
        let feed = self.feed_at_most();
        let held = if cutter.feed.is_some() { "min(vf_machine, vf_own)" } else { "vf_machine" };
        if let Some(own) = cutter.feed {
            self.w.given("vf_own", "the maker's own feed", own.to_mm_per_min(), "mm/min", self.said("feed"));
        }
        let by_feed = feed / (f64::from(cutter.flutes.max(1)) * aim);
        let formula = format!("{held} / (z * fz_want)");
        self.w.by("n_feed", "speed at which that feed still cuts the chip wanted", &formula, by_feed, unit, HANDBOOK);
        let wanted = by_heat.min(by_feed);
        let why = "faster, it gets too hot or the feed can't keep up";
        self.w.by("n_want", "greatest speed wanted", "min(n_cut, n_feed)", wanted, unit, why);
        let (name, final_name) = ("speed that the spindle has", "spindle speed");
        let (reckoned, position) = match &self.shop.spindle.speed {
            SpindleSpeed::Range { least, greatest } => {
                let (least, greatest) = (least.to_rev_per_min(), greatest.to_rev_per_min());
                self.w.given("n_least", "the spindle's slowest speed", least, unit, format!("{SPINDLE}, `least`"));
                self.w.given("n_most", "the spindle's fastest speed", greatest, unit, format!("{SPINDLE}, `greatest`"));
                let speed = wanted.max(least).min(greatest);
                let formula = "min(max(n_want, n_least), n_most)";
                (self.w.by("n_set", name, formula, speed, unit, "within the spindle's range"), None)
            }
            SpindleSpeed::Dial(positions) => {
                let chosen = position_for(positions, wanted);
                let (position, speed) = chosen.map_or((None, wanted), |p| (Some(p.0.clone()), p.1.to_rev_per_min()));
                let words = match &position {
                    Some(p) if speed <= wanted => format!("dial {p}: the fastest position that isn't faster"),
                    Some(p) => format!("dial {p}: the slowest position, and still faster"),
                    None => "the dial has no positions".to_owned(),
                };
                let source = format!("{SPINDLE}, `dial`");
                (self.w.chosen("n_set", name, (words, &["n_want"]), speed, unit, source), position)
            }
        };
        let Some(own) = cutter.speed.map(Speed::to_rev_per_min) else {
            self.w.by("n", final_name, "n_set", reckoned, unit, "nobody states another");
            return (reckoned, position);
        };
        self.own("speed", "spindle speed", own, reckoned, unit);
        self.w.given("n_own", "the maker's own speed", own, unit, self.said("speed"));
        self.w.chosen("n", final_name, (INSTEAD.into(), &["n_own", "n_set"]), own, unit, self.said("speed"));
        (own, position_of(&self.shop.spindle.speed, own))
    }

    /// The feed that neither machine nor maker lets it exceed, mm/min.
    fn feed_at_most(&self) -> f64 {
        let most = self.shop.machine.greatest_feed;
        self.cutter.feed.map_or(most, |own| own.min(most)).to_mm_per_min()
    }

    /// Feed, and what it would be without the machine's limit, mm/min.
    fn feed(&mut self, speed: f64, aim: f64) -> (f64, f64) {
        let unit = "mm/min";
        let turned = Speed::rev_per_min(speed);
        let reckoned = feed_for(turned, self.cutter.flutes.max(1), Length::mm(aim)).to_mm_per_min();
        self.w.by("vf_chip", "feed for the chip wanted", "n * z * fz_want", reckoned, unit, HANDBOOK);
        let most = self.shop.machine.greatest_feed.to_mm_per_min();
        let Some(own) = self.cutter.feed.map(Feed::to_mm_per_min) else {
            let feed = reckoned.min(most);
            self.w.by("vf", "feed", "min(vf_chip, vf_machine)", feed, unit, "no more than the machine can do");
            return (feed, reckoned);
        };
        self.own("feed", "feed", own, reckoned.min(most), unit);
        let words = (format!("{INSTEAD}, as far as the machine can do it"), &["vf_own", "vf_chip", "vf_machine"][..]);
        (self.w.chosen("vf", "feed", words, own.min(most), unit, self.said("feed")), own)
    }

    /// Depth of a full slot in one pass, mm, what limits it, and what every limit allows.
    fn depth(&mut self, chip: f64, feed: f64) -> (f64, Limit, Vec<(Limit, f64)>) {
        let c = self.cutter;
        let (width, flute_length, out) = (c.cutting_width.to_mm(), c.flute_length.to_mm(), c.stick_out.to_mm());
        let (core, shank, fluted) = (c.core.to_mm(), c.shank.to_mm(), flute_length.min(out));
        let energy = self.stock.energy;
        let source = format!("{}: {}", self.stock.name, energy.source);
        self.w.between("u", "energy to turn it into chips", energy.value, energy.range, "J/mm³", source);
        let share = together(c.flutes);
        self.w.by("K", "flutes that push at once", "max(1, z / 4)", share, "", TOGETHER);
        let per_mm = side_force(self.stock.material, chip, 1.0) * share;
        let peak = "energy times chip section; one flute takes the thickest chip";
        self.w.by("F_1", "peak side force for each mm of depth", "1000 * u * fz * K", per_mm, "N/mm", peak);
        let range = [550_000.0, 650_000.0];
        let carbide = "cemented carbide: 550 (second-hand) to 650 GPa (from memory)";
        self.w.between("E", "Young's modulus of the cutter", CARBIDE, range, "N/mm²", carbide);
        self.w.given("L_flutes", "length of the flutes", fluted, "mm", self.said("flute_length"));
        self.w.given("L", "length out of the collet", out, "mm", self.said("stick_out"));
        self.w.given("d_core", "core between the flutes", core, "mm", self.said("core"));
        self.w.given("d_shank", "shank", shank, "mm", self.said("shank"));
        let (moment, unit) = ("second moment of the core", "mm⁴");
        self.w.by("I_core", moment, "pi * d_core ^ 4 / 64", second_moment(core), unit, TEXTBOOK);
        self.w.by("I_shank", "the shank's", "pi * d_shank ^ 4 / 64", second_moment(shank), unit, TEXTBOOK);
        let formula = "(L_flutes ^ 3 / I_core + (L ^ 3 - L_flutes ^ 3) / I_shank) / (3 * E)";
        let stepped = "cantilever of two thicknesses, the load at its tip";
        let soft = self.w.by("give", "bend at the tip for each N", formula, give(c), "mm/N", stepped);

        let unit = "mm";
        let mut limits =
            vec![(Limit::Flutes, self.w.by("a_flutes", "depth by the flutes", "L_flutes", fluted, unit, DERIVED))];
        self.w.given("k_bend", "bend allowed, as a share of the width", BEND, "", PRACTICE);
        let by_bend = BEND * width / (per_mm * soft);
        let formula = "k_bend * D / (F_1 * give)";
        limits.push((Limit::Bend, self.w.by("a_bend", "depth by the bend", formula, by_bend, unit, DERIVED)));
        let allowed = "a third of what carbide breaks at, about 2000, from memory";
        self.w.given("S", "stress allowed in the cutter", CARBIDE_STRESS, "N/mm²", allowed);
        let at_core = CARBIDE_STRESS * PI * core.powi(3) / (32.0 * per_mm * fluted);
        let formula = "S * pi * d_core ^ 3 / (32 * F_1 * L_flutes)";
        let stress = "bending stress 32 M / (pi d³) at the end of the flutes";
        limits
            .push((Limit::Stress, self.w.by("a_core", "depth by the core's strength", formula, at_core, unit, stress)));
        let at_shank = CARBIDE_STRESS * PI * shank.powi(3) / (32.0 * per_mm * out);
        let formula = "S * pi * d_shank ^ 3 / (32 * F_1 * L)";
        let stress = "bending stress 32 M / (pi d³) at the collet";
        limits.push((
            Limit::Shank,
            self.w.by("a_shank", "depth by the shank's strength", formula, at_shank, unit, stress),
        ));
        let watts = self.shop.spindle.power;
        self.w.given("P", "power at the cutter", watts, "W", format!("{SPINDLE}, `power`"));
        let by_power = watts / power(self.width.1 * feed, energy.value);
        let formula = format!("60 * P / (u * {} * vf)", self.width.0);
        let rate = "power is energy times what is cut in a second";
        limits
            .push((Limit::Power, self.w.by("a_power", "depth by the spindle's power", &formula, by_power, unit, rate)));
        let mut least_of = "min(a_flutes, a_bend, a_core, a_shank, a_power, a_rule)";
        if let Some(force) = self.shop.machine.side_force {
            self.w.given("F_frame", "side force that the frame bears", force, "N", format!("{MACHINE}, `side_force`"));
            let by_frame = force / per_mm;
            limits.push((
                Limit::Frame,
                self.w.by("a_frame", "depth by the frame", "F_frame / F_1", by_frame, unit, DERIVED),
            ));
            least_of = "min(a_flutes, a_bend, a_core, a_shank, a_power, a_frame, a_rule)";
        }
        let rule = format!("{}: {PRACTICE}", self.stock.name);
        self.w.given("k_depth", "depth allowed, as a share of the width", self.stock.depth_share, "", rule);
        // A vee or ball cuts less than its width near the tip, so the flat cutter's limits hold for them too.
        let (half, formula) = match c.form {
            Form::Flat | Form::BullNose { .. } => (1.0, "k_depth * D"),
            Form::Ball | Form::Vee { .. } | Form::Taper { .. } => (0.5, "k_depth * D / 2"),
        };
        let by_rule = self.stock.depth_share * width * half;
        limits.push((Limit::Rule, self.w.by("a_rule", "depth by the rule of thumb", formula, by_rule, unit, PRACTICE)));

        let least = limits.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((Limit::Rule, by_rule));
        let (limit, depth) = least;
        let wins = format!("the least of all: {}", limit.words());
        self.w.by("a_safe", "depth that is safe in a full slot", least_of, depth, unit, wins);
        let Some(own) = c.pass_depth.map(Length::to_mm) else {
            self.w.by("ap", "depth per pass", "a_safe", depth, unit, "nobody states another");
            return (depth, limit, limits);
        };
        self.own("pass_depth", "depth per pass", own, depth, unit);
        self.w.given("a_own", "the maker's own depth", own, unit, self.said("pass_depth"));
        let words = (format!("{INSTEAD}, as far as the flutes reach"), &["a_own", "a_safe", "a_flutes"][..]);
        self.w.chosen("ap", "depth per pass", words, own.min(fluted), unit, self.said("pass_depth"));
        let by = if own <= fluted { Limit::Maker } else { Limit::Flutes };
        limits.push((Limit::Maker, own));
        (own.min(fluted), by, limits)
    }

    /// Peak and mean side force, N, and the bend under the peak, mm.
    fn forces(&mut self, chip: f64, depth: f64) -> (f64, f64, f64) {
        let one = side_force(self.stock.material, chip, depth);
        let (peak, flutes) = (one * together(self.cutter.flutes), f64::from(self.cutter.flutes.max(1)));
        let why = "breakage goes by the peak";
        self.w.by("F", "peak side force in a full slot", "F_1 * ap", peak, "N", why);
        let why = "mean of the chip over a turn; with one flute the peak is pi times the mean, derived";
        let mean = flutes * one / PI;
        self.w.by("F_mean", "mean side force in a full slot", "1000 * u * fz * ap * z / pi", mean, "N", why);
        let bent = self.w.by("bend", "bend at the tip", "F * give", bend(self.cutter, peak), "mm", TEXTBOOK);
        (peak, mean, bent)
    }

    /// Feeds along an entry, straight down in air, and straight down through material, mm/min.
    fn other_feeds(&mut self, feed: f64, speed: f64, rubbing: f64) -> [f64; 3] {
        let (machine, unit) = (&self.shop.machine, "mm/min");
        self.w.given("k_entry", "share of the feed on entries", ENTRY_FEED, "", PRACTICE);
        let why = "the end of the cutter cuts as well";
        let entry = self.w.by("vf_entry", "feed along a ramp or helix", "k_entry * vf", ENTRY_FEED * feed, unit, why);
        let z = machine.greatest_feed_z.to_mm_per_min();
        self.w.given(
            "vz_machine",
            "the machine's greatest feed in z",
            z,
            unit,
            format!("{MACHINE}, `greatest_feed_z`"),
        );
        self.w.given("k_down", "share of the feed straight down in air", DOWN_FEED, "", PRACTICE);
        let down = (DOWN_FEED * feed).min(z);
        let turned = Speed::rev_per_min(speed);
        // The least chip that cuts: slower it would rub at the bottom of a hole, where no heat goes away.
        let drill = feed_for(turned, self.cutter.flutes.max(1), Length::mm(rubbing)).to_mm_per_min().min(feed).min(z);
        let (down_name, drill_name) = ("feed straight down in air", "feed straight down through material");
        let (down_formula, drill_formula) = ("min(k_down * vf, vz_machine)", "min(n * z * fz_rub, vf, vz_machine)");
        let slow = "no slower than the thinnest chip that cuts";
        let Some(own) = self.cutter.plunge.map(Feed::to_mm_per_min) else {
            self.w.by("vf_down", down_name, down_formula, down, unit, PRACTICE);
            self.w.by("vf_drill", drill_name, drill_formula, drill, unit, slow);
            return [entry, down, drill];
        };
        self.own("plunge", "feed straight down", own, if self.cutter.may_drill { drill } else { down }, unit);
        self.w.given("vf_plunge", "the maker's own feed straight down", own, unit, self.said("plunge"));
        self.w.by("vf_down_set", "the one reckoned in air", down_formula, down, unit, PRACTICE);
        self.w.by("vf_drill_set", "the one reckoned through material", drill_formula, drill, unit, slow);
        let held = own.min(z);
        let words = || format!("{INSTEAD}, as far as the machine can do it");
        let (source, from) = (self.said("plunge"), ["vf_plunge", "vf_down_set", "vz_machine"]);
        self.w.chosen("vf_down", down_name, (words(), &from), held, unit, source.clone());
        let from = ["vf_plunge", "vf_drill_set", "vz_machine"];
        self.w.chosen("vf_drill", drill_name, (words(), &from), held, unit, source);
        [entry, held, held]
    }

    /// Steepest entry, degrees.
    fn entry(&mut self) -> f64 {
        let (name, unit) = ("steepest entry", "°");
        let usual = [3.0, 5.0];
        let Some(own) = self.cutter.entry_angle.map(|a| a.to_deg()) else {
            return self.w.between("entry", name, ENTRY_DEGREES, usual, unit, PRACTICE);
        };
        self.own("entry_angle", "steepest entry", own, ENTRY_DEGREES, unit);
        self.w.between("entry_usual", "the usual one", ENTRY_DEGREES, usual, unit, PRACTICE);
        self.w.given("entry_own", "the maker's own", own, unit, self.said("entry_angle"));
        let from = ["entry_own", "entry_usual"];
        self.w.chosen("entry", name, (INSTEAD.into(), &from), own, unit, self.said("entry_angle"))
    }
}

/// The fastest position of a dial that isn't faster than what is wanted; the slowest if all are.
fn position_for(positions: &[(String, Speed)], wanted: f64) -> Option<&(String, Speed)> {
    let by_speed = |a: &&(String, Speed), b: &&(String, Speed)| a.1.to_rev_per_min().total_cmp(&b.1.to_rev_per_min());
    let enough = positions.iter().filter(|p| p.1.to_rev_per_min() <= wanted).max_by(by_speed);
    enough.or_else(|| positions.iter().min_by(by_speed))
}

/// A speed that the spindle is set to is this near to a position's, as a share.
const SETTABLE: f64 = 0.01;

/// Whether a spindle can be set to a speed: within its range, or near a dial's position.
pub fn settable(speeds: &SpindleSpeed, speed: Speed) -> bool {
    let speed = speed.to_rev_per_min();
    match speeds {
        SpindleSpeed::Range { least, greatest } => {
            speed >= least.to_rev_per_min() * (1.0 - SETTABLE) && speed <= greatest.to_rev_per_min() * (1.0 + SETTABLE)
        }
        SpindleSpeed::Dial(_) => position_of(speeds, speed).is_some(),
    }
}

/// The dial's position for a speed; `None` where the spindle has no dial, or no such position.
fn position_of(speeds: &SpindleSpeed, speed: f64) -> Option<String> {
    match speeds {
        SpindleSpeed::Range { .. } => None,
        SpindleSpeed::Dial(positions) => {
            let near = |p: &&(String, Speed)| {
                let at = p.1.to_rev_per_min();
                (at - speed).abs() <= SETTABLE * at
            };
            positions.iter().find(near).map(|p| p.0.clone())
        }
    }
}

impl Own {
    /// Both numbers in words: `feed 1200 mm/min (reckoned: 1440)`.
    pub fn worded(&self) -> String {
        let number = |v: f64| trimmed(v, if v >= 100.0 { 0 } else { 3 });
        let space = if self.unit == "°" { "" } else { " " };
        format!("{} {}{space}{} (reckoned: {})", self.name, number(self.own), self.unit, number(self.reckoned))
    }
}
