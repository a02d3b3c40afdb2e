//! `docs/checks.md` against the tests it names: each exists, holds its figures, and names its source; and every test that says
//! where its figures come from is in the list.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Words by which a list and a comment say where a figure comes from.
const STATUSES: [(&str, &str); 4] =
    [("seen", "seen"), ("second-hand", "second-hand"), ("memory", "from memory"), ("derived", "derived")];

/// A test function: its comments as one line, and its code as one line.
struct Function {
    comment: String,
    code: String,
}

/// One line of the list.
struct Check {
    quantity: String,
    expected: String,
    source: String,
    status: String,
    test: String,
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The list.
fn list() -> Vec<Check> {
    let text = fs::read_to_string(root().join("docs/checks.md")).unwrap();
    let rows = text.lines().filter(|l| l.starts_with("| ")).skip(1).filter(|l| !l.starts_with("| ---"));
    rows.map(|row| {
        // A cell ends at a bar between spaces, so that code may hold `||`.
        let cells: Vec<String> =
            row.trim_start_matches("| ").trim_end_matches(" |").split(" | ").map(one_line).collect();
        let [quantity, expected, source, status, test] = &cells[..] else { unreachable!("five cells: {row}") };
        Check {
            quantity: quantity.clone(),
            expected: expected.clone(),
            source: source.clone(),
            status: status.clone(),
            test: test.trim_matches('`').to_owned(),
        }
    })
    .collect()
}

/// Every test function of the product by `file::function`. The code is laid out by rustfmt: a function ends at the brace that stands as
/// far in as its attribute.
fn functions() -> BTreeMap<String, Function> {
    let mut found = BTreeMap::new();
    let mut waiting: Vec<PathBuf> = ["crates", "src", "tests"].map(|f| root().join(f)).into();
    while let Some(folder) = waiting.pop() {
        for path in fs::read_dir(&folder).unwrap().map(|e| e.unwrap().path()) {
            if path.is_dir() {
                waiting.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let name = path.strip_prefix(root()).unwrap().to_string_lossy().replace('\\', "/");
                in_file(&name, &fs::read_to_string(&path).unwrap(), &mut found);
            }
        }
    }
    found
}

fn in_file(file: &str, text: &str, found: &mut BTreeMap<String, Function>) {
    let lines: Vec<&str> = text.lines().collect();
    for (at, line) in lines.iter().enumerate().filter(|(_, l)| l.trim() == "#[test]") {
        let margin = &line[..line.len() - line.trim_start().len()];
        let above = |l: &&&str| l.trim_start().starts_with("//") || l.trim_start().starts_with("#[");
        let first = at - lines[..at].iter().rev().take_while(above).count();
        let close = format!("{margin}}}");
        let last = lines[at..].iter().position(|l| *l == close).map_or(lines.len() - 1, |n| at + n);
        let (mut comment, mut code, mut name) = (String::new(), String::new(), None);
        for line in &lines[first..=last] {
            let (said, rest) = match line.trim_start().strip_prefix("//") {
                Some(said) => (said.trim_start_matches('/'), ""),
                None => line.split_once(" // ").map_or(("", *line), |(rest, said)| (said, rest)),
            };
            let named = || rest.trim_start().strip_prefix("fn ").and_then(|f| f.split(['(', '<']).next());
            name = name.or_else(named);
            comment += said;
            comment.push(' ');
            code += rest;
            code.push(' ');
        }
        let name = name.unwrap_or_else(|| unreachable!("{file} line {}: a test without a name", at + 1));
        found.insert(format!("{file}::{name}"), Function { comment: one_line(&comment), code: one_line(&code) });
    }
}

/// The statuses that a comment gives: `(derived)`, `(…, derived)`, `(…; derived)`.
fn given(comment: &str) -> BTreeSet<&'static str> {
    let says = |word: &str| ["(", ", ", "; "].iter().any(|before| comment.contains(&format!("{before}{word})")));
    STATUSES.iter().filter(|(_, word)| says(word)).map(|(status, _)| *status).collect()
}

/// Numbers in a text as they would be read: `0.126_491` and `0.126491` are one.
fn numbers(text: &str) -> BTreeSet<u64> {
    let bytes = text.as_bytes();
    let (mut found, mut at) = (BTreeSet::new(), 0);
    let digit = |i: usize| bytes.get(i).is_some_and(u8::is_ascii_digit);
    while at < bytes.len() {
        if !digit(at) {
            at += 1;
            continue;
        }
        let start = at;
        let run = |mut i: usize| {
            while digit(i) || bytes.get(i) == Some(&b'_') {
                i += 1;
            }
            i
        };
        at = run(at);
        if bytes.get(at) == Some(&b'.') && digit(at + 1) {
            at = run(at + 1);
        }
        let sign = usize::from(matches!(bytes.get(at + 1), Some(b'-' | b'+')));
        if matches!(bytes.get(at), Some(b'e' | b'E')) && digit(at + 1 + sign) {
            at = run(at + 1 + sign);
        }
        let number = text[start..at].replace('_', "");
        found.insert(number.parse::<f64>().unwrap().to_bits());
    }
    found
}

/// What is between backticks, and the rest.
fn quoted(text: &str) -> (Vec<&str>, String) {
    let parts: Vec<&str> = text.split('`').collect();
    let inside = parts.iter().skip(1).step_by(2).copied().collect();
    (inside, parts.iter().step_by(2).copied().collect::<Vec<_>>().join(" "))
}

/// What is wrong with a line of the list.
fn faults(check: &Check, function: Option<&Function>) -> Vec<String> {
    let Some(function) = function else { return vec!["there is no such test".into()] };
    let mut faults = Vec::new();
    let source = check.source.replace('`', "").to_lowercase();
    if source.is_empty() || !function.comment.replace('`', "").to_lowercase().contains(&source) {
        faults.push(format!("its comment doesn't name the source `{}`", check.source));
    }
    if !given(&function.comment).contains(check.status.as_str()) {
        faults.push(format!("its comment doesn't give the status `{}`", check.status));
    }
    let (letters, rest) = quoted(&check.expected);
    let wanted = numbers(&rest);
    let there = numbers(&function.code);
    for number in wanted.difference(&there) {
        faults.push(format!("{} is not in its code", f64::from_bits(*number)));
    }
    for part in letters.iter().filter(|part| !function.code.contains(**part)) {
        faults.push(format!("`{part}` is not in its code"));
    }
    if letters.is_empty() && wanted.is_empty() {
        faults.push("nothing is expected".into());
    }
    if check.quantity.is_empty() || !STATUSES.iter().any(|(status, _)| *status == check.status) {
        faults.push("a cell is empty or its status is none".into());
    }
    faults
}

#[test]
fn every_line_of_the_list_is_true() {
    let (list, functions) = (list(), functions());
    let wrong: Vec<String> = list
        .iter()
        .flat_map(|c| faults(c, functions.get(&c.test)).into_iter().map(move |f| format!("{}: {f}", c.test)))
        .collect();
    assert!(wrong.is_empty(), "docs/checks.md:\n{}", wrong.join("\n"));
    assert!(list.len() >= 60, "only {} checks", list.len());
    let misplaced: Vec<&str> = list.windows(2).filter(|w| w[0].test > w[1].test).map(|w| w[1].test.as_str()).collect();
    assert!(misplaced.is_empty(), "the list is in the order of its tests, but these stand too low: {misplaced:?}");
}

#[test]
fn every_test_that_names_its_source_is_listed() {
    let listed: BTreeSet<String> = list().into_iter().map(|c| c.test).collect();
    let missing: Vec<String> = functions()
        .iter()
        .filter(|(test, _)| !listed.contains(*test))
        .filter_map(|(test, f)| {
            let status = *given(&f.comment).iter().next()?;
            Some(format!("| what | figures | {} | {status} | `{test}` |", f.comment))
        })
        .collect();
    assert!(missing.is_empty(), "docs/checks.md lacks (shorten and put in order):\n{}", missing.join("\n"));
}

/// The judge can find fault: lines that aren't true aren't taken.
#[test]
fn untrue_lines_are_found() {
    let text = "    /// Length 2.5 by Somebody's rule\n    /// (from memory).\n    #[test]\n    fn long() {\n        \
                let a = 1; // the half ({})\n        assert_eq!(f(a), 2_500.0e-3);\n    }\n"
        .replace("{}", "derived");
    let mut found = BTreeMap::new();
    in_file("a.rs", &text, &mut found);
    let long = &found["a.rs::long"];
    assert_eq!(given(&long.comment), BTreeSet::from(["derived", "memory"]));
    let check = |expected: &str, source: &str, status: &str| {
        let [expected, source, status] = [expected, source, status].map(str::to_owned);
        let check = Check { quantity: "length".into(), expected, source, status, test: "a.rs::long".into() };
        faults(&check, Some(long)).len()
    };
    assert_eq!(check("2.5 mm", "somebody's rule", "memory"), 0);
    assert_eq!(check("`f(a)` is 2.5", "Somebody's rule", "derived"), 0);
    assert_eq!(check("2.6 mm", "Somebody's rule", "memory"), 1);
    assert_eq!(check("`f(b)` is 2.5", "Somebody's rule", "memory"), 1);
    assert_eq!(check("2.5", "ISO 1", "memory"), 1);
    assert_eq!(check("2.5", "Somebody's rule", "seen"), 1);
    assert_eq!(check("long", "Somebody's rule", "memory"), 1);
    assert_eq!(check("2.5", "", "guessed"), 3);
    assert_eq!(faults(&list()[0], None).len(), 1);
    assert!(given("(derived from the rule), seen from above, (as seen on the plate)").is_empty());
    assert!(Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/checks.md").exists());
}
