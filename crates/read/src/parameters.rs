//! Parameters and expressions (NISTIR 6556 §3.3.2.2 to §3.3.2.4). Angles are in degrees.

use crate::kinds;
use crate::line::{Characters, WHOLE};
use crate::trouble::Trouble;
use std::collections::BTreeMap;
use std::ops::Range;

/// Parameters that the text has set.
pub(crate) type Parameters = BTreeMap<u16, f64>;

/// Highest number of a parameter.
const HIGHEST: f64 = 5399.0;

/// Between two values; those of a higher rank bind first, equal ranks from left to right.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Between {
    Power,
    Times,
    Over,
    Modulo,
    Plus,
    Minus,
    And,
    Or,
    ExclusiveOr,
}

/// `**` before `*`; MOD before any other M.
const BETWEEN: [(&[u8], Between, u8); 9] = [
    (b"**", Between::Power, 3),
    (b"*", Between::Times, 2),
    (b"/", Between::Over, 2),
    (b"MOD", Between::Modulo, 2),
    (b"+", Between::Plus, 1),
    (b"-", Between::Minus, 1),
    (b"AND", Between::And, 1),
    (b"OR", Between::Or, 1),
    (b"XOR", Between::ExclusiveOr, 1),
];

const FUNCTIONS: [&str; 13] =
    ["ABS", "ACOS", "ASIN", "ATAN", "COS", "EXP", "FIX", "FUP", "LN", "ROUND", "SIN", "SQRT", "TAN"];

impl Characters<'_> {
    /// A number, a parameter, an expression or a function. The recursion ends with the line, 256 characters at most.
    pub(crate) fn value(&mut self, parameters: &Parameters) -> Result<f64, Trouble> {
        let start = self.place();
        match self.peek() {
            Some(b'[') => self.expression(parameters),
            Some(b'#') => {
                self.take(b'#');
                let index = self.index(parameters, start)?;
                parameters.get(&index).copied().ok_or_else(|| {
                    let message = format!("parameter #{index} is read, but the text hasn't set it");
                    Trouble::caution(&kinds::UNDECIDED_PARAMETER, self.since(start), message)
                        .way_out(format!("set #{index} in an earlier line"))
                })
            }
            Some(c) if c.is_ascii_uppercase() => self.function(parameters, start),
            _ => self.number(),
        }
    }

    /// A parameter's number, after its #.
    pub(crate) fn index(&mut self, parameters: &Parameters, start: usize) -> Result<u16, Trouble> {
        let value = self.value(parameters)?;
        let whole = value.round();
        if (value - whole).abs() <= WHOLE && (1.0..=HIGHEST).contains(&whole) {
            return Ok(whole as u16);
        }
        let message = format!("there is no parameter {value}; they are numbered 1 to 5399");
        Err(Trouble::refusal(&kinds::PARAMETER_BAD, self.since(start), message).way_out("correct the number after #"))
    }

    fn expression(&mut self, parameters: &Parameters) -> Result<f64, Trouble> {
        if !self.take(b'[') {
            return Err(bad(self.here(), "a [ is missing here"));
        }
        let value = self.ranked(1, parameters)?;
        if !self.take(b']') {
            return Err(bad(self.here(), "an operator or ] is missing here"));
        }
        Ok(value)
    }

    /// Values with operators of this rank or higher between them.
    fn ranked(&mut self, rank: u8, parameters: &Parameters) -> Result<f64, Trouble> {
        if rank > 3 {
            return self.value(parameters);
        }
        let start = self.place();
        let mut left = self.ranked(rank + 1, parameters)?;
        while let Some((text, between)) = self.between(rank) {
            self.take_all(text);
            let right = self.ranked(rank + 1, parameters)?;
            left = possible(between.of(left, right), self.since(start))?;
        }
        Ok(left)
    }

    /// The operator that comes next, if it has this rank.
    fn between(&mut self, rank: u8) -> Option<(&'static [u8], Between)> {
        let before = self.mark();
        let found = BETWEEN.iter().find(|(text, ..)| self.take_all(text));
        self.back_to(before);
        found.filter(|(.., r)| *r == rank).map(|(text, between, _)| (*text, *between))
    }

    fn function(&mut self, parameters: &Parameters, start: usize) -> Result<f64, Trouble> {
        let Some(name) = FUNCTIONS.into_iter().find(|name| self.take_all(name.as_bytes())) else {
            return Err(Trouble::refusal(&kinds::NUMBER_BAD, self.here(), "a number is missing here")
                .way_out("write a number, #parameter, [expression] or function[expression]"));
        };
        let given = self.expression(parameters)?;
        let value = match name {
            "ABS" => given.abs(),
            "ACOS" => libm::acos(given).to_degrees(),
            "ASIN" => libm::asin(given).to_degrees(),
            "ATAN" => {
                if !self.take(b'/') {
                    return Err(bad(self.here(), "ATAN[ ] is followed by /[ ]"));
                }
                let other = self.expression(parameters)?;
                // No direction leads from a point to itself.
                if given == 0.0 && other == 0.0 { f64::NAN } else { libm::atan2(given, other).to_degrees() }
            }
            "COS" => libm::cos(given.to_radians()),
            "EXP" => libm::exp(given),
            "FIX" => given.floor(),
            "FUP" => given.ceil(),
            "LN" => libm::log(given),
            "ROUND" => given.round(),
            "SIN" => libm::sin(given.to_radians()),
            "SQRT" => given.sqrt(),
            _ => libm::tan(given.to_radians()),
        };
        possible(value, self.since(start))
    }
}

impl Between {
    fn of(self, left: f64, right: f64) -> f64 {
        let truth = |is: bool| f64::from(u8::from(is));
        let (l, r) = (left != 0.0, right != 0.0);
        match self {
            Self::Power => libm::pow(left, right),
            Self::Times => left * right,
            Self::Over => left / right,
            // Never negative, as in the standard's own interpreter (from memory).
            Self::Modulo => left.rem_euclid(right),
            Self::Plus => left + right,
            Self::Minus => left - right,
            Self::And => truth(l && r),
            Self::Or => truth(l || r),
            Self::ExclusiveOr => truth(l != r),
        }
    }
}

fn possible(value: f64, span: Range<usize>) -> Result<f64, Trouble> {
    if value.is_finite() {
        return Ok(value);
    }
    Err(Trouble::refusal(&kinds::ARITHMETIC_IMPOSSIBLE, span, "this has no value that a number can hold")
        .way_out("correct the expression, or the parameters in it"))
}

fn bad(span: Range<usize>, message: &str) -> Trouble {
    Trouble::refusal(&kinds::EXPRESSION_BAD, span, message)
        .way_out("correct the expression, or write the number itself")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(text: &str) -> Result<f64, &'static str> {
        let parameters = Parameters::from([(1, 2.0), (2, 15.0), (3, 1.0)]);
        let (mut characters, outcome) = Characters::split(text);
        outcome.map_err(|t| t.kind.id)?;
        let value = characters.value(&parameters).map_err(|t| t.kind.id)?;
        if characters.peek().is_some() { Err("left over") } else { Ok(value) }
    }

    /// FIX and FUP: NISTIR 6556's own values (seen). The rest is arithmetic by its three ranks of operators.
    #[test]
    fn worked_values() {
        for (text, wanted) in [
            ("fix[-2.8]", -3.0),
            ("fup[-2.8]", -2.0),
            ("fix[2.8]", 2.0),
            ("fup[2.8]", 3.0),
            ("[1 + 2 * 3 - 4 / 5]", 6.2),
            ("[2**3**2]", 64.0),
            ("[8 - 2 - 1]", 5.0),
            ("[2 * 3 ** 2]", 18.0),
            ("[15 mod 4.0]", 3.0),
            ("[-1 mod 4]", 3.0),
            ("[1 or 0 and 0]", 0.0),
            ("[2 xor 3]", 0.0),
            ("[0 xor 3]", 1.0),
            ("##1", 15.0),
            ("#[1 + 2]", 1.0),
            ("[#1 + 2]", 4.0),
            ("atan[1]/[-1]", 135.0),
            ("sin[30]", 0.5),
            ("cos[60]", 0.5),
            ("tan[45]", 1.0),
            ("asin[1]", 90.0),
            ("acos[0]", 90.0),
            ("sqrt[2.25]", 1.5),
            ("ln[exp[2]]", 2.0),
            ("round[-2.5]", -3.0),
            ("abs[1 - [2 + 3]]", 4.0),
        ] {
            let got = value(text).unwrap();
            assert!((got - wanted).abs() < 1e-12, "{text}: {got}");
        }
    }

    #[test]
    fn impossible_and_malformed() {
        for (text, id) in [
            ("[1/0]", "arithmetic-impossible"),
            ("[0/0]", "arithmetic-impossible"),
            ("[1 mod 0]", "arithmetic-impossible"),
            ("sqrt[-1]", "arithmetic-impossible"),
            ("ln[0]", "arithmetic-impossible"),
            ("asin[1.1]", "arithmetic-impossible"),
            ("[-8 ** 0.5]", "arithmetic-impossible"),
            ("exp[1000]", "arithmetic-impossible"),
            ("atan[0]/[0]", "arithmetic-impossible"),
            ("[1 + ]", "number-bad"),
            ("[1", "expression-bad"),
            ("[1 2", "expression-bad"),
            ("sin 30", "expression-bad"),
            ("atan[1]", "expression-bad"),
            ("-[1]", "number-bad"),
            ("foo[1]", "number-bad"),
            ("#7", "undecided-parameter"),
        ] {
            assert_eq!(value(text), Err(id), "{text}");
        }
    }
}
