//! The properties that decide what is filled, stroked or hidden, from attributes, style sheets and style attributes.

use roxmltree::Node;
use std::collections::BTreeMap;

/// Properties that are read; others can't change what is cut.
const READ: &[&str] = &[
    "fill",
    "fill-rule",
    "fill-opacity",
    "stroke",
    "stroke-width",
    "stroke-opacity",
    "stroke-linecap",
    "stroke-linejoin",
    "stroke-miterlimit",
    "stroke-dasharray",
    "display",
    "visibility",
    "opacity",
    "clip-path",
    "mask",
    "filter",
    "marker",
    "marker-start",
    "marker-mid",
    "marker-end",
    "font-family",
    "font-size",
    "text-anchor",
    "transform",
];

/// Properties that a child takes from its parent.
const INHERITED: &[&str] = &[
    "fill",
    "fill-rule",
    "fill-opacity",
    "stroke",
    "stroke-width",
    "stroke-opacity",
    "stroke-linecap",
    "stroke-linejoin",
    "stroke-miterlimit",
    "stroke-dasharray",
    "visibility",
    "marker",
    "marker-start",
    "marker-mid",
    "marker-end",
    "font-family",
    "font-size",
    "text-anchor",
];

/// Property values of one element, its inherited ones included.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Style {
    values: BTreeMap<&'static str, String>,
}

/// A rule of a style sheet: one simple selector and its declarations.
#[derive(Debug, Clone, PartialEq)]
struct Rule {
    element: Option<String>,
    id: Option<String>,
    classes: Vec<String>,
    declarations: Vec<Declaration>,
}

#[derive(Debug, Clone, PartialEq)]
struct Declaration {
    property: &'static str,
    value: String,
    important: bool,
}

/// All style sheets of a document.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Sheet {
    rules: Vec<Rule>,
    /// Selectors and at-rules that were not understood, though they hold properties that matter.
    pub(super) not_understood: Vec<String>,
}

impl Sheet {
    /// Adds the text of a style element.
    pub(super) fn read(&mut self, text: &str) {
        let text = without_comments(text);
        let mut rest = text.as_str();
        while let Some(open) = rest.find('{') {
            let selectors = rest[..open].trim();
            // At-rules that end without a block come before this rule's selectors.
            let selectors = selectors.rsplit(';').next().unwrap_or("").trim();
            let end = block_end(&rest[open..]);
            let body = rest[open..open + end].trim_matches(|c| c == '{' || c == '}');
            rest = &rest[open + end..];
            if selectors.starts_with('@') {
                if !selectors.starts_with("@font-face") {
                    self.not_understood.push(selectors.chars().take(60).collect());
                }
                continue;
            }
            let declarations = declarations(body);
            if declarations.is_empty() {
                continue;
            }
            for selector in selectors.split(',').map(str::trim) {
                match Rule::of(selector, &declarations) {
                    Some(rule) => self.rules.push(rule),
                    None => self.not_understood.push(selector.chars().take(60).collect()),
                }
            }
        }
    }
}

/// Where the block that starts a text ends, nested blocks included.
fn block_end(text: &str) -> usize {
    let mut depth = 0usize;
    for (i, c) in text.char_indices() {
        match c {
            '{' => depth += 1,
            '}' => {
                depth -= 1;
                if depth == 0 {
                    return i + 1;
                }
            }
            _ => {}
        }
    }
    text.len()
}

fn without_comments(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(start) = rest.find("/*") {
        out.push_str(&rest[..start]);
        rest = rest[start + 2..].find("*/").map_or("", |end| &rest[start + 2 + end + 2..]);
    }
    out.push_str(rest);
    out
}

fn declarations(body: &str) -> Vec<Declaration> {
    body.split(';')
        .filter_map(|part| {
            let (property, value) = part.split_once(':')?;
            let property = property.trim().to_ascii_lowercase();
            let property = READ.iter().find(|p| **p == property)?;
            let value = value.trim();
            let (value, important) = match value.strip_suffix("!important") {
                Some(value) => (value.trim(), true),
                None => (value, false),
            };
            Some(Declaration { property, value: value.to_owned(), important })
        })
        .collect()
}

impl Rule {
    /// A rule for `element`, `.class`, `#id` or several of these together; `None` for anything more.
    fn of(selector: &str, declarations: &[Declaration]) -> Option<Self> {
        let mut rule = Self { element: None, id: None, classes: Vec::new(), declarations: declarations.to_vec() };
        let mut rest = selector;
        if rest.is_empty() {
            return None;
        }
        while !rest.is_empty() {
            let (sign, word) = match rest.strip_prefix(['.', '#']) {
                Some(word) => (rest.as_bytes()[0], word),
                None => (b' ', rest),
            };
            let end = word.find(['.', '#']).unwrap_or(word.len());
            let (name, next) = word.split_at(end);
            let plain = |c: char| c.is_alphanumeric() || c == '-' || c == '_' || !c.is_ascii();
            if name.is_empty() || !(name.chars().all(plain) || (sign == b' ' && name == "*")) {
                return None;
            }
            match sign {
                b'.' => rule.classes.push(name.to_owned()),
                b'#' => rule.id = Some(name.to_owned()),
                _ if name == "*" => {}
                _ => rule.element = Some(name.to_owned()),
            }
            rest = next;
        }
        Some(rule)
    }

    fn matches(&self, node: Node<'_, '_>) -> bool {
        let classes = node.attribute("class").unwrap_or("");
        self.element.as_ref().is_none_or(|e| e == node.tag_name().name())
            && self.id.as_ref().is_none_or(|id| node.attribute("id") == Some(id))
            && self.classes.iter().all(|c| classes.split_whitespace().any(|x| x == c))
    }

    fn weight(&self) -> (usize, usize, usize) {
        (usize::from(self.id.is_some()), self.classes.len(), usize::from(self.element.is_some()))
    }
}

impl Style {
    /// The style of an element under a parent's.
    pub(super) fn of(node: Node<'_, '_>, parent: &Style, sheet: &Sheet) -> Self {
        let mut values: BTreeMap<&'static str, String> = BTreeMap::new();
        for &property in INHERITED {
            if let Some(value) = parent.values.get(property) {
                values.insert(property, value.clone());
            }
        }
        // Attributes are the weakest, then rules by weight and order, then the element's own style; important ones last.
        let mut set = |property: &'static str, value: &str| {
            if value == "inherit" {
                if let Some(value) = parent.values.get(property) {
                    values.insert(property, value.clone());
                }
            } else {
                values.insert(property, value.to_owned());
            }
        };
        for &property in READ {
            if let Some(value) = node.attribute(property) {
                set(property, value.trim());
            }
        }
        let mut rules: Vec<&Rule> = sheet.rules.iter().filter(|r| r.matches(node)).collect();
        rules.sort_by_key(|r| r.weight());
        let own = declarations(&without_comments(node.attribute("style").unwrap_or("")));
        let all = || rules.iter().flat_map(|r| &r.declarations).chain(&own);
        for d in all().filter(|d| !d.important) {
            set(d.property, &d.value);
        }
        for d in all().filter(|d| d.important) {
            set(d.property, &d.value);
        }
        Self { values }
    }

    /// The same with one property set.
    pub(super) fn with(&self, property: &'static str, value: &str) -> Self {
        let mut style = self.clone();
        style.values.insert(property, value.to_owned());
        style
    }

    /// A property's value.
    pub(super) fn get(&self, property: &str) -> Option<&str> {
        self.values.get(property).map(String::as_str)
    }

    fn is_zero(&self, property: &str) -> bool {
        self.get(property).is_some_and(|v| v.trim_end_matches('%').parse::<f64>() == Ok(0.0))
    }

    fn paints(&self, property: &str, default: bool) -> bool {
        match self.get(property) {
            None => default,
            Some("none" | "transparent") => false,
            Some(_) => true,
        }
    }

    /// Whether the inside is filled; black by default.
    pub(super) fn fills(&self) -> bool {
        self.paints("fill", true) && !self.is_zero("fill-opacity")
    }

    /// Whether the line is stroked; not by default.
    pub(super) fn strokes(&self) -> bool {
        self.paints("stroke", false) && !self.is_zero("stroke-opacity")
    }

    /// How it fills.
    pub(super) fn rule(&self) -> plane::FillRule {
        if self.get("fill-rule") == Some("evenodd") { plane::FillRule::EvenOdd } else { plane::FillRule::NonZero }
    }

    /// Whether it and all in it are left out of the picture.
    pub(super) fn is_gone(&self) -> bool {
        self.get("display") == Some("none") || self.is_zero("opacity")
    }

    /// Whether it is hidden, though what is in it may not be.
    pub(super) fn is_hidden(&self) -> bool {
        matches!(self.get("visibility"), Some("hidden" | "collapse"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fill_of(sheet: &str, xml: &str) -> Option<String> {
        let document = roxmltree::Document::parse(xml).unwrap();
        let mut s = Sheet::default();
        s.read(sheet);
        Style::of(document.root_element(), &Style::default(), &s).get("fill").map(str::to_owned)
    }

    #[test]
    fn the_weightier_rule_wins() {
        let sheet = "/* a */ path { fill: red } .k{fill:green;} #x{fill:blue} .k.m {fill: pink}";
        assert_eq!(fill_of(sheet, "<path fill='none'/>").as_deref(), Some("red"));
        assert_eq!(fill_of(sheet, "<path class='k' fill='none'/>").as_deref(), Some("green"));
        assert_eq!(fill_of(sheet, "<path class='m k'/>").as_deref(), Some("pink"));
        assert_eq!(fill_of(sheet, "<path class='k' id='x'/>").as_deref(), Some("blue"));
        assert_eq!(fill_of(sheet, "<path class='k' id='x' style='fill:none'/>").as_deref(), Some("none"));
        assert_eq!(fill_of("path{fill:red!important}", "<path style='fill:none'/>").as_deref(), Some("red"));
    }

    #[test]
    fn what_is_not_understood_is_kept() {
        let mut sheet = Sheet::default();
        sheet.read("g path{fill:none} a:hover{color:red} @media print{.k{fill:red}} .k{fill:none}} {");
        assert_eq!(sheet.not_understood, ["g path", "@media print"]);
        assert_eq!(sheet.rules.len(), 1);
    }
}
