//! Chain: how a number came about, from what was put in to what came out.
//!
//! A [`Working`] is filled by the formulas while they reckon: each step puts in its value together with the formula as text
//! over the symbols of the steps before it, so what is printed is what was reckoned. The tests evaluate every formula's
//! text anew and compare. What a number rests on is told by the symbols in its formula: [`Working::chain`] follows them
//! back to what was given and leaves out the rest.

use crate::chance::Figure;
use quantity::trimmed;
use serde::Serialize;

/// How a term got its value.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum How {
    /// It was put in: a file, a table of materials, a rule of the trade.
    Given,
    /// A formula over the symbols of earlier terms: numbers, symbols, `+ - * / ^`, brackets, `pi`, `min(...)` and
    /// `max(...)`.
    Formula(String),
    /// A choice that is no formula, in words, and the symbols that it looked at.
    Choice {
        /// What was chosen and how.
        words: String,
        /// Symbols of earlier terms.
        from: Vec<String>,
    },
}

/// One step of a reckoning: a value with where it comes from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Term {
    /// Its symbol in later formulas.
    pub symbol: String,
    /// What it is.
    pub name: String,
    /// How it got its value.
    pub how: How,
    /// The value.
    pub value: f64,
    /// Its unit; empty for a plain number.
    pub unit: String,
    /// Where the value or the formula comes from.
    pub source: String,
    /// Between what it is known to lie, where that is stated.
    pub range: Option<[f64; 2]>,
}

/// A number with every step that led to it, what was given first, the number itself last.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Chain {
    /// The number's key, such as `feed` or `pass-depth`.
    pub key: String,
    /// The steps; never empty.
    pub terms: Vec<Term>,
}

/// The steps of one reckoning in order.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Working {
    terms: Vec<Term>,
}

impl Working {
    /// Puts in a value; gives it back.
    pub fn given(&mut self, symbol: &str, name: &str, value: f64, unit: &str, source: impl Into<String>) -> f64 {
        self.put(symbol, name, How::Given, value, unit, source)
    }

    /// Puts in a value that is known to lie between two others; gives it back.
    pub fn between(
        &mut self,
        symbol: &str,
        name: &str,
        value: f64,
        range: [f64; 2],
        unit: &str,
        source: impl Into<String>,
    ) -> f64 {
        let value = self.given(symbol, name, value, unit, source);
        if let Some(term) = self.terms.last_mut() {
            term.range = Some(range);
        }
        value
    }

    /// Puts in what a formula over earlier symbols came to; gives it back.
    pub fn by(
        &mut self,
        symbol: &str,
        name: &str,
        formula: &str,
        value: f64,
        unit: &str,
        source: impl Into<String>,
    ) -> f64 {
        self.put(symbol, name, How::Formula(formula.to_owned()), value, unit, source)
    }

    /// Puts in what was chosen in the light of earlier symbols; gives it back.
    pub fn chosen(
        &mut self,
        symbol: &str,
        name: &str,
        (words, from): (String, &[&str]),
        value: f64,
        unit: &str,
        source: impl Into<String>,
    ) -> f64 {
        let from = from.iter().map(|s| (*s).to_owned()).collect();
        self.put(symbol, name, How::Choice { words, from }, value, unit, source)
    }

    /// Puts in a figure of the blank, with its worst case as the range, mm.
    pub fn figure(&mut self, symbol: &str, figure: &Figure) -> f64 {
        let (mean, spread) = (figure.value.mean.to_mm(), figure.value.spread.to_mm());
        self.between(symbol, &figure.name, mean, [mean - spread, mean + spread], "mm", figure.source.clone())
    }

    fn put(&mut self, symbol: &str, name: &str, how: How, value: f64, unit: &str, source: impl Into<String>) -> f64 {
        let (symbol, name, unit, source) = (symbol.to_owned(), name.to_owned(), unit.to_owned(), source.into());
        self.terms.push(Term { symbol, name, how, value, unit, source, range: None });
        value
    }

    /// All steps in order.
    pub fn terms(&self) -> &[Term] {
        &self.terms
    }

    /// The step of a symbol.
    pub fn term(&self, symbol: &str) -> Option<&Term> {
        self.terms.iter().find(|t| t.symbol == symbol)
    }

    /// The number of a symbol with all that it rests on. `None` if there is no such symbol.
    pub fn chain(&self, key: &str, symbol: &str) -> Option<Chain> {
        let last = self.terms.iter().position(|t| t.symbol == symbol)?;
        let mut needed = vec![false; last + 1];
        needed[last] = true;
        // A formula uses earlier symbols only, so one way back finds all of them.
        for i in (0..=last).rev().filter(|&i| self.terms[i].how != How::Given) {
            if !needed[i] {
                continue;
            }
            for symbol in self.terms[i].uses() {
                if let Some(at) = self.terms[..i].iter().position(|t| t.symbol == symbol) {
                    needed[at] = true;
                }
            }
        }
        let terms = self.terms.iter().zip(&needed).filter(|(_, n)| **n).map(|(t, _)| t.clone()).collect();
        Some(Chain { key: key.to_owned(), terms })
    }
}

impl Term {
    /// The symbols that its value rests on, each once, in the order of the text.
    pub fn uses(&self) -> Vec<&str> {
        let mut found: Vec<&str> = match &self.how {
            How::Given => Vec::new(),
            How::Formula(text) => symbols(text).collect(),
            How::Choice { from, .. } => from.iter().map(String::as_str).collect(),
        };
        let mut seen = Vec::new();
        found.retain(|s| {
            !seen.contains(s) && {
                seen.push(*s);
                true
            }
        });
        found
    }

    /// The value with its unit, to four figures or so: `1440 mm/min`.
    pub fn worded(&self) -> String {
        let number = figures(self.value);
        match self.unit.as_str() {
            "" => number,
            "°" => format!("{number}°"),
            unit => format!("{number} {unit}"),
        }
    }
}

impl Chain {
    /// The number itself.
    pub fn last(&self) -> Option<&Term> {
        self.terms.last()
    }

    /// A step's formula with the values of its symbols put in their place; the words of a choice as they are. `None` for
    /// what was given.
    pub fn filled(&self, term: &Term) -> Option<String> {
        match &term.how {
            How::Given => None,
            How::Choice { words, .. } => Some(words.clone()),
            How::Formula(text) => {
                let value = |symbol: &str| self.terms.iter().find(|t| t.symbol == symbol).map(|t| t.value);
                let words = tokens(text).map(|part| match value(part) {
                    Some(v) if is_symbol(part) => figures(v),
                    _ => part.to_owned(),
                });
                Some(words.collect())
            }
        }
    }
}

/// A number as it is printed: whole from 1000 up, else with at most four figures after the point's zeros.
pub fn figures(value: f64) -> String {
    let size = value.abs();
    let decimals = match size {
        s if s >= 1000.0 => 0,
        s if s >= 100.0 => 1,
        s if s >= 10.0 => 2,
        s if s >= 0.1 => 4,
        s if s >= 0.001 => 6,
        _ => 9,
    };
    trimmed(value, decimals)
}

/// Words, numbers and everything between them, in order.
fn tokens(text: &str) -> impl Iterator<Item = &str> {
    let word = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '.';
    let mut rest = text;
    std::iter::from_fn(move || {
        let first = rest.chars().next()?;
        let end = rest.find(|c| word(c) != word(first)).unwrap_or(rest.len());
        let (token, after) = rest.split_at(end);
        rest = after;
        Some(token)
    })
}

/// Whether a token names a term.
fn is_symbol(token: &str) -> bool {
    token.starts_with(|c: char| c.is_ascii_alphabetic()) && !["pi", "min", "max"].contains(&token)
}

fn symbols(text: &str) -> impl Iterator<Item = &str> {
    tokens(text).filter(|t| is_symbol(t))
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use std::collections::BTreeMap;

    /// What a formula's text comes to, by a little evaluator that shares nothing with the reckoning.
    pub(crate) fn evaluated(text: &str, values: &BTreeMap<&str, f64>) -> f64 {
        let parts: Vec<&str> = tokens(text)
            .flat_map(
                |t| if t.starts_with(|c: char| c.is_ascii_alphanumeric()) { vec![t] } else { t.split("").collect() },
            )
            .filter(|t| !t.trim().is_empty())
            .collect();
        let mut at = 0;
        let value = sum(&parts, &mut at, values);
        assert_eq!(at, parts.len(), "`{text}` was not read to its end");
        value
    }

    fn sum(parts: &[&str], at: &mut usize, values: &BTreeMap<&str, f64>) -> f64 {
        let mut value = product(parts, at, values);
        while let Some(sign @ (&"+" | &"-")) = parts.get(*at) {
            *at += 1;
            let other = product(parts, at, values);
            value = if *sign == "+" { value + other } else { value - other };
        }
        value
    }

    fn product(parts: &[&str], at: &mut usize, values: &BTreeMap<&str, f64>) -> f64 {
        let mut value = power(parts, at, values);
        while let Some(sign @ (&"*" | &"/")) = parts.get(*at) {
            *at += 1;
            let other = power(parts, at, values);
            value = if *sign == "*" { value * other } else { value / other };
        }
        value
    }

    fn power(parts: &[&str], at: &mut usize, values: &BTreeMap<&str, f64>) -> f64 {
        let value = atom(parts, at, values);
        if parts.get(*at) == Some(&"^") {
            *at += 1;
            return libm::pow(value, atom(parts, at, values));
        }
        value
    }

    fn atom(parts: &[&str], at: &mut usize, values: &BTreeMap<&str, f64>) -> f64 {
        let part = parts[*at];
        *at += 1;
        match part {
            "(" => {
                let value = sum(parts, at, values);
                assert_eq!(parts[*at], ")");
                *at += 1;
                value
            }
            "min" | "max" => {
                assert_eq!(parts[*at], "(");
                let mut value = if part == "min" { f64::INFINITY } else { f64::NEG_INFINITY };
                while parts[*at] != ")" {
                    *at += 1;
                    let next = sum(parts, at, values);
                    value = if part == "min" { value.min(next) } else { value.max(next) };
                }
                *at += 1;
                value
            }
            "pi" => std::f64::consts::PI,
            number if number.starts_with(|c: char| c.is_ascii_digit()) => number.parse().unwrap(),
            symbol => *values.get(symbol).unwrap_or_else(|| panic!("`{symbol}` has no value")),
        }
    }

    /// Every formula of a working comes to the value beside it, and uses earlier symbols only, each of which is there once.
    pub(crate) fn hangs_together(working: &Working) {
        let mut values = BTreeMap::new();
        for term in working.terms() {
            for symbol in term.uses() {
                assert!(values.contains_key(symbol), "`{symbol}` isn't there for {}", term.name);
            }
            if let How::Formula(text) = &term.how {
                let value = evaluated(text, &values);
                let near = (value - term.value).abs() <= 1e-9 * term.value.abs().max(1e-12);
                assert!(near || value == term.value, "{}: {text} is {value}, not {}", term.name, term.value);
            }
            assert!(values.insert(&term.symbol, term.value).is_none(), "`{}` is there twice", term.symbol);
            assert!(!term.source.is_empty() && !term.name.is_empty());
        }
    }

    fn example() -> Working {
        let mut w = Working::default();
        w.given("n", "speed", 18_000.0, "rev/min", "the dial");
        w.given("z", "flutes", 1.0, "", "the shop file");
        w.given("fz", "chip", 0.08, "mm", "common practice, no source");
        w.given("x", "something else", 7.0, "mm", "nowhere");
        w.by("vf", "feed", "n * z * fz", 18_000.0 * 0.08, "mm/min", "handbook formula, from memory");
        w
    }

    /// 18000 x 1 x 0.08 = 1440 mm/min (handbook formula; derived).
    #[test]
    fn a_chain_holds_what_its_number_rests_on_and_nothing_else() {
        let working = example();
        hangs_together(&working);
        let chain = working.chain("feed", "vf").unwrap();
        assert_eq!(chain.terms.iter().map(|t| t.symbol.as_str()).collect::<Vec<_>>(), ["n", "z", "fz", "vf"]);
        let last = chain.last().unwrap();
        assert_eq!(last.worded(), "1440 mm/min");
        assert_eq!(chain.filled(last).unwrap(), "18000 * 1 * 0.08");
        assert_eq!(chain.filled(&chain.terms[0]), None);
        assert!(working.chain("feed", "nothing").is_none());
    }

    /// The evaluator by hand-worked values: precedence, powers, brackets, the least and the greatest.
    #[test]
    fn formulas_are_read_as_they_are_written() {
        let values = BTreeMap::from([("a", 2.0), ("b_1", 3.0)]);
        for (text, value) in [
            ("1 + a * b_1", 7.0),
            ("(1 + a) * b_1 ^ 2", 27.0),
            ("min(a, b_1 - 2, 8 / a / 2)", 1.0),
            ("max(a, b_1) / 2", 1.5),
            ("pi * a", std::f64::consts::TAU),
        ] {
            assert!((evaluated(text, &values) - value).abs() < 1e-12, "{text}");
        }
    }

    #[test]
    #[should_panic(expected = "is 1440, not 1500")]
    fn a_value_beside_its_formula_is_found() {
        let mut working = example();
        working.by("wrong", "feed", "n * z * fz", 1500.0, "mm/min", "nowhere");
        hangs_together(&working);
    }

    #[test]
    fn numbers_are_printed_short() {
        for (value, text) in [(20_051.03, "20051"), (0.08, "0.08"), (0.003_758_9, "0.003759"), (2.5, "2.5")] {
            assert_eq!(figures(value), text);
        }
    }
}
