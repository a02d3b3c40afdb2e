//! Doubts as text for a terminal.

use crate::{Doubt, Place, Severity};
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use std::fmt::Write;

/// The texts of the files that doubts point into.
pub trait Sources {
    /// The text of a file by the name that places use, if it is known.
    fn text(&self, file: &str) -> Option<&str>;
}

impl Sources for () {
    fn text(&self, _: &str) -> Option<&str> {
        None
    }
}

impl Sources for std::collections::BTreeMap<String, String> {
    fn text(&self, file: &str) -> Option<&str> {
        self.get(file).map(String::as_str)
    }
}

/// A doubt as lines of text, with the piece of the file it is about where the file is known.
pub fn render(doubt: &Doubt, sources: &dyn Sources, colour: bool) -> String {
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
    let level = match doubt.severity {
        Severity::Note => Level::NOTE.with_name("note"),
        Severity::Caution => Level::WARNING.with_name("look"),
        Severity::Refusal => Level::ERROR.with_name("refused"),
    };
    let mut group = Group::with_title(level.primary_title(doubt.message.as_str()).id(doubt.id));
    let mut elsewhere = Vec::new();
    for (index, place) in doubt.places.iter().enumerate() {
        match (place, place_source(place, sources)) {
            (Place::File { file, line, span, .. }, Some(text)) if *line > 0 => {
                let kind = if index == 0 { AnnotationKind::Primary } else { AnnotationKind::Context };
                let end = span.end.min(text.len());
                let start = span.start.min(end);
                if !text.is_char_boundary(start) || !text.is_char_boundary(end) {
                    elsewhere.push(describe(place));
                    continue;
                }
                group = group.element(Snippet::source(text).path(file.as_str()).annotation(kind.span(start..end)));
            }
            _ => elsewhere.push(describe(place)),
        }
    }
    let mut lines = renderer.render(&[group]);
    for place in elsewhere {
        let _ = write!(lines, "\n  at {place}");
    }
    for note in &doubt.notes {
        let _ = write!(lines, "\n  {note}");
    }
    if let Some(cause) = &doubt.likely_cause {
        let _ = write!(lines, "\n  likely cause: {cause}");
    }
    for picture in &doubt.pictures {
        let _ = write!(lines, "\n  picture: {picture}");
    }
    if let Some(way_out) = &doubt.way_out {
        let _ = write!(lines, "\n  what to do: {way_out}");
    }
    lines
}

fn place_source<'a>(place: &Place, sources: &'a dyn Sources) -> Option<&'a str> {
    match place {
        Place::File { file, .. } => sources.text(file),
        _ => None,
    }
}

/// A place in words.
fn describe(place: &Place) -> String {
    match place {
        Place::File { file, line: 0, .. } => file.clone(),
        Place::File { file, line, column, .. } => format!("{file}, line {line}, column {column}"),
        Place::Drawing { file, layer, x, y } => {
            let layer = layer.as_ref().map(|l| format!(" (`{l}`)")).unwrap_or_default();
            format!("x {x:.3} y {y:.3} in {file}{layer}")
        }
        Place::Blank { x, y, z: None } => format!("x {x:.3} y {y:.3} on the blank"),
        Place::Blank { x, y, z: Some(z) } => format!("x {x:.3} y {y:.3} on the blank, {z:.3} mm above the table"),
        Place::Program { file, line, text } => format!("{file}, line {line}: {text}"),
    }
}

impl std::fmt::Display for Place {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&describe(self))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Kind;
    use std::collections::BTreeMap;

    #[test]
    fn a_doubt_shows_the_piece_of_text() {
        let kind = Kind { id: "unknown-key", title: "", page: "" };
        let text = "[blank]\nsise = [1, 2]\n";
        let doubt = kind
            .refusal("`sise` is not a key of [blank]")
            .at(Place::span("plate.toml", text, 8..12))
            .at(Place::Drawing { file: "a.svg".into(), layer: Some("rim".into()), x: 1.0, y: 2.5 })
            .likely("a slip of the pen")
            .way_out("did you mean `size`?");
        let sources = BTreeMap::from([("plate.toml".to_owned(), text.to_owned())]);
        let shown = render(&doubt, &sources, false);
        assert!(shown.contains("refused[unknown-key]: `sise` is not a key of [blank]"), "{shown}");
        assert!(shown.contains("2 | sise = [1, 2]"), "{shown}");
        assert!(shown.contains("at x 1.000 y 2.500 in a.svg (`rim`)"), "{shown}");
        assert!(shown.ends_with("  likely cause: a slip of the pen\n  what to do: did you mean `size`?"), "{shown}");
    }
}
