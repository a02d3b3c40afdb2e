//! Material: what sheets are made of, and the figures by which they are cut.
//!
//! None of these figures was measured here. Each says where it comes from; most are *common practice, no source*, and are
//! given with wide bounds where practice differs. Chips are told for a cutter of 1/8 in and grow and shrink with the
//! diameter. Energies are those of chips as thick as these: thinner chips take more for their volume, which isn't reckoned
//! with, since chips under the rubbing limit are said instead.

use plate::Material;
use std::fmt::Write;

/// Diameter for which chips are told, mm: 1/8 in.
pub const TOLD_AT: f64 = 3.175;

/// Most of what is known.
const PRACTICE: &str = "common practice, no source";
/// The energies of metals.
const TEXTBOOK: &str = "textbook tables, from memory";

/// A figure with the bounds that practice gives it and where it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// What is reckoned with.
    pub value: f64,
    /// The least and the most that is met in practice.
    pub range: [f64; 2],
    /// Where it comes from.
    pub source: &'static str,
}

/// What heat does to a material where a cutter rubs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Heat {
    /// It softens at this many °C, sticks to the flute and welds shut behind it.
    Softens(Known),
    /// It scorches.
    Scorches,
    /// It clings to the flute.
    Clings,
}

/// The figures of one material.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stock {
    /// The material.
    pub material: Material,
    /// Its name in sentences.
    pub name: &'static str,
    /// Energy to turn it into chips, J/mm³: the same number as 1000 N for each mm² of chip section.
    pub energy: Known,
    /// Thinnest chip that cuts rather than rubs, mm at 1/8 in.
    pub rubbing: Known,
    /// Chip aimed at, mm at 1/8 in.
    pub aim: Known,
    /// Thickest chip, mm at 1/8 in.
    pub breaking: Known,
    /// Cutting speed, m/min.
    pub speed: Known,
    /// Greatest depth of a pass as a share of the diameter, whatever else allows.
    pub depth_share: f64,
    /// What heat does to it.
    pub heat: Heat,
    /// Plus or minus on the label's thickness where nobody states another, as mm and a share of the thickness; `None` for
    /// acrylic, which has standards.
    pub tolerance: Option<(f64, f64, &'static str)>,
}

const fn practice(value: f64, least: f64, most: f64) -> Known {
    Known { value, range: [least, most], source: PRACTICE }
}

/// Chip window: rubbing, aim, breaking.
const fn chips(rubbing: f64, aim: f64, breaking: f64) -> [Known; 3] {
    [
        practice(rubbing, rubbing * 0.5, rubbing * 1.5),
        practice(aim, rubbing, breaking),
        practice(breaking, breaking * 0.7, breaking * 1.5),
    ]
}

const fn softens(at: f64, least: f64, most: f64, source: &'static str) -> Heat {
    Heat::Softens(Known { value: at, range: [least, most], source })
}

const fn stock(
    material: Material,
    name: &'static str,
    energy: Known,
    [rubbing, aim, breaking]: [Known; 3],
    speed: Known,
    heat: Heat,
) -> Stock {
    Stock { material, name, energy, rubbing, aim, breaking, speed, depth_share: 1.0, heat, tolerance: None }
}

impl Stock {
    const fn tolerance(mut self, mm: f64, share: f64, source: &'static str) -> Self {
        self.tolerance = Some((mm, share, source));
        self
    }

    const fn shallow(mut self, share: f64) -> Self {
        self.depth_share = share;
        self
    }
}

/// What is said of a plastic sheet's thickness where its maker states nothing.
const AS_EXTRUDED: &str = "a tenth, as extruded acrylic below 3 mm; common practice, no source";

/// Every material, in the order of the docs.
pub const STOCKS: &[Stock] = &[
    stock(
        Material::CastAcrylic,
        "cast acrylic",
        practice(0.1, 0.05, 0.2),
        chips(0.05, 0.08, 0.15),
        practice(200.0, 100.0, 500.0),
        softens(105.0, 100.0, 110.0, "glass transition, second-hand"),
    ),
    stock(
        Material::ExtrudedAcrylic,
        "extruded acrylic",
        practice(0.1, 0.05, 0.2),
        chips(0.05, 0.08, 0.15),
        practice(200.0, 100.0, 400.0),
        softens(95.0, 85.0, 105.0, "softens sooner than cast, from memory"),
    ),
    stock(
        Material::Polycarbonate,
        "polycarbonate",
        practice(0.1, 0.05, 0.2),
        chips(0.05, 0.08, 0.15),
        practice(180.0, 100.0, 400.0),
        softens(147.0, 140.0, 150.0, "glass transition, from memory"),
    )
    .tolerance(0.0, 0.1, AS_EXTRUDED),
    stock(
        Material::Abs,
        "ABS",
        practice(0.08, 0.04, 0.15),
        chips(0.05, 0.09, 0.17),
        practice(200.0, 100.0, 400.0),
        softens(100.0, 90.0, 110.0, "glass transition, from memory"),
    )
    .tolerance(0.0, 0.1, AS_EXTRUDED),
    stock(
        Material::Petg,
        "PETG",
        practice(0.09, 0.04, 0.2),
        chips(0.06, 0.09, 0.16),
        practice(150.0, 80.0, 300.0),
        softens(78.0, 70.0, 85.0, "glass transition, from memory"),
    )
    .tolerance(0.0, 0.1, AS_EXTRUDED),
    stock(
        Material::ExpandedPvc,
        "expanded PVC",
        practice(0.04, 0.02, 0.1),
        chips(0.05, 0.11, 0.22),
        practice(250.0, 100.0, 500.0),
        softens(75.0, 65.0, 85.0, "glass transition of PVC, from memory"),
    )
    .tolerance(0.2, 0.05, PRACTICE),
    stock(
        Material::Hdpe,
        "HDPE",
        practice(0.06, 0.03, 0.12),
        chips(0.06, 0.12, 0.24),
        practice(250.0, 100.0, 500.0),
        softens(130.0, 120.0, 135.0, "melts, from memory"),
    )
    .tolerance(0.2, 0.1, PRACTICE),
    stock(
        Material::BirchPlywood,
        "birch plywood",
        practice(0.05, 0.02, 0.1),
        chips(0.04, 0.1, 0.2),
        practice(300.0, 150.0, 800.0),
        Heat::Scorches,
    )
    .tolerance(0.4, 0.03, "the wider side of the standard for sanded plywood, EN 315, from memory"),
    stock(
        Material::Hardwood,
        "hardwood",
        practice(0.07, 0.03, 0.15),
        chips(0.04, 0.09, 0.17),
        practice(300.0, 150.0, 800.0),
        Heat::Scorches,
    )
    .tolerance(0.5, 0.0, PRACTICE),
    stock(
        Material::Aluminium,
        "aluminium",
        Known { value: 0.8, range: [0.4, 1.1], source: TEXTBOOK },
        chips(0.01, 0.025, 0.05),
        practice(150.0, 80.0, 400.0),
        Heat::Clings,
    )
    .shallow(0.5)
    .tolerance(0.1, 0.03, PRACTICE),
    stock(
        Material::Brass,
        "brass",
        Known { value: 1.6, range: [0.8, 3.0], source: TEXTBOOK },
        chips(0.01, 0.022, 0.045),
        practice(120.0, 60.0, 300.0),
        Heat::Clings,
    )
    .shallow(0.5)
    .tolerance(0.1, 0.03, PRACTICE),
];

/// The figures of a material.
pub fn stock_of(material: Material) -> &'static Stock {
    STOCKS.iter().find(|s| s.material == material).unwrap_or(&STOCKS[0])
}

/// The material by which a blank of several is cut: the one that takes the most energy, of equals the one that takes the thinnest
/// chip, then the first named. A cutter set for it is safe in the others. Cast acrylic where there is none.
pub fn hardest(materials: impl IntoIterator<Item = Material>) -> Material {
    let harder = |a: Material, b: Material| {
        let (x, y) = (stock_of(a), stock_of(b));
        let more = y.energy.value > x.energy.value
            || (y.energy.value == x.energy.value && y.breaking.value < x.breaking.value);
        if more { b } else { a }
    };
    materials.into_iter().reduce(harder).unwrap_or(Material::CastAcrylic)
}

impl Heat {
    /// What it comes to, for a sentence that begins with the material.
    pub fn words(self) -> String {
        match self {
            Self::Softens(at) => format!("softens at about {} °C", quantity::trimmed(at.value, 0)),
            Self::Scorches => "scorches".to_owned(),
            Self::Clings => "clings to the flute".to_owned(),
        }
    }

    /// Whether it softens.
    pub fn softens(self) -> bool {
        matches!(self, Self::Softens(_))
    }
}

/// All materials as a table for the docs.
pub fn as_text() -> String {
    let mut text = String::from(
        "| material | energy J/mm³ | rubs below | chip aimed at | breaks above | speed m/min | pass at most | heat | thickness, if not stated |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    let number = |v: f64| quantity::trimmed(v, 4);
    let known = |k: &Known| format!("{} ({} to {})", number(k.value), number(k.range[0]), number(k.range[1]));
    for s in STOCKS {
        let tolerance = match (s.material, s.tolerance) {
            (_, Some((mm, share, _))) => match (mm > 0.0, share > 0.0) {
                (true, true) => format!("± ({} mm + {} %)", number(mm), number(share * 100.0)),
                (true, false) => format!("± {} mm", number(mm)),
                _ => format!("± {} %", number(share * 100.0)),
            },
            (Material::ExtrudedAcrylic, _) => "ISO 7823-2: ± 5 % from 3 mm, ± 10 % below".to_owned(),
            _ => "ISO 7823-1: ± (0.4 mm + 10 %)".to_owned(),
        };
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} | {} | {} | {} D | {} | {tolerance} |",
            s.name,
            known(&s.energy),
            known(&s.rubbing),
            known(&s.aim),
            known(&s.breaking),
            known(&s.speed),
            number(s.depth_share),
            s.heat.words(),
        );
    }
    text.push_str("\nWhere the figures come from:\n\n");
    for s in STOCKS {
        let heat = match s.heat {
            Heat::Softens(at) => at.source,
            _ => PRACTICE,
        };
        let tolerance = match (s.material, s.tolerance) {
            (_, Some((_, _, source))) => source,
            (Material::ExtrudedAcrylic, _) => "ISO 7823-2, from memory",
            _ => "ISO 7823-1, second-hand",
        };
        let _ = writeln!(
            text,
            "- **{}**: energy: {}; chips: {}; speed: {}; depth of a pass: {PRACTICE}; heat: {heat}; thickness: {tolerance}.",
            s.name, s.energy.source, s.aim.source, s.speed.source
        );
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every figure lies within its own bounds, says where it comes from, and chips rub, cut and break in this order.
    #[test]
    fn figures_are_in_order() {
        for s in STOCKS {
            for k in [s.energy, s.rubbing, s.aim, s.breaking, s.speed] {
                assert!(k.range[0] <= k.value && k.value <= k.range[1] && !k.source.is_empty(), "{}: {k:?}", s.name);
            }
            assert!(s.rubbing.value < s.aim.value && s.aim.value < s.breaking.value, "{}", s.name);
            assert_eq!(STOCKS.iter().filter(|o| o.material == s.material).count(), 1);
            assert_eq!(stock_of(s.material), s);
        }
        assert_eq!(STOCKS.len(), 11);
    }

    /// PMMA: specific energy about 0.1 J/mm³; chip load 0.05 to 0.15 mm at 1/8 in (memory only, no source found: common
    /// practice). Glass transition 105 °C (second-hand).
    #[test]
    fn acrylic() {
        let acrylic = stock_of(Material::CastAcrylic);
        assert_eq!(acrylic.energy.value, 0.1);
        assert_eq!([acrylic.rubbing.value, acrylic.breaking.value], [0.05, 0.15]);
        assert!(matches!(acrylic.heat, Heat::Softens(at) if at.value == 105.0));
    }

    #[test]
    fn a_blank_of_several_is_cut_as_the_hardest() {
        assert_eq!(hardest([]), Material::CastAcrylic);
        assert_eq!(hardest([Material::Hdpe, Material::Brass, Material::CastAcrylic]), Material::Brass);
        assert_eq!(hardest([Material::ExtrudedAcrylic, Material::CastAcrylic]), Material::ExtrudedAcrylic);
    }
}
