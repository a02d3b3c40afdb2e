//! What is wrong with a line, before it is known as a doubt with its file and line.

use doubt::{Kind, Severity};
use std::ops::Range;

/// Something about a piece of a line.
#[derive(Debug, Clone)]
pub(crate) struct Trouble {
    pub(crate) kind: &'static Kind,
    pub(crate) severity: Severity,
    pub(crate) message: String,
    pub(crate) way_out: String,
    /// Bytes of the line.
    pub(crate) span: Range<usize>,
}

impl Trouble {
    /// Text that isn't legal.
    pub(crate) fn refusal(kind: &'static Kind, span: Range<usize>, message: impl Into<String>) -> Self {
        Self::of(kind, Severity::Refusal, span, message)
    }

    /// Text that is legal but undecided, or that the maker should look at.
    pub(crate) fn caution(kind: &'static Kind, span: Range<usize>, message: impl Into<String>) -> Self {
        Self::of(kind, Severity::Caution, span, message)
    }

    /// Worth knowing.
    pub(crate) fn note(kind: &'static Kind, span: Range<usize>, message: impl Into<String>) -> Self {
        Self::of(kind, Severity::Note, span, message)
    }

    fn of(kind: &'static Kind, severity: Severity, span: Range<usize>, message: impl Into<String>) -> Self {
        Self { kind, severity, message: message.into(), way_out: String::new(), span }
    }

    /// With what to do.
    pub(crate) fn way_out(mut self, way_out: impl Into<String>) -> Self {
        self.way_out = way_out.into();
        self
    }
}
