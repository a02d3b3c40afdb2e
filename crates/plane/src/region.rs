//! Regions: disjoint shapes, each an outer contour with holes.

use crate::{Affine, Bounds, Contour, Point};
use serde::{Deserialize, Serialize};

/// One connected piece: a counter-clockwise outer contour and clockwise holes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Shape {
    /// Counter-clockwise.
    pub outer: Contour,
    /// Clockwise.
    pub holes: Vec<Contour>,
}

/// A set of disjoint shapes.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Region {
    /// In no particular order, but the same for the same input.
    pub shapes: Vec<Shape>,
}

impl Shape {
    /// A shape without holes; a clockwise contour is turned round.
    pub fn solid(contour: Contour) -> Self {
        let outer = if contour.area() < 0.0 { contour.reversed() } else { contour };
        Self { outer, holes: Vec::new() }
    }

    /// Outer contour, then holes.
    pub fn contours(&self) -> impl Iterator<Item = &Contour> + Clone {
        std::iter::once(&self.outer).chain(&self.holes)
    }

    /// Area, mm².
    pub fn area(&self) -> f64 {
        self.contours().map(Contour::area).sum()
    }

    /// Whether a point is inside.
    pub fn contains(&self, p: Point) -> bool {
        self.outer.contains(p) && !self.holes.iter().any(|h| h.contains(p))
    }
}

impl Region {
    /// A region of one shape without holes.
    pub fn solid(contour: Contour) -> Self {
        Self { shapes: vec![Shape::solid(contour)] }
    }

    /// Whether there is nothing in it.
    pub fn is_empty(&self) -> bool {
        self.shapes.is_empty()
    }

    /// All contours, outer and holes.
    pub fn contours(&self) -> impl Iterator<Item = &Contour> + Clone {
        self.shapes.iter().flat_map(Shape::contours)
    }

    /// Area, mm².
    pub fn area(&self) -> f64 {
        self.shapes.iter().map(Shape::area).sum()
    }

    /// Length of all contours, mm.
    pub fn length(&self) -> f64 {
        self.contours().map(Contour::length).sum()
    }

    /// The box around it.
    pub fn bounds(&self) -> Bounds {
        self.shapes.iter().fold(Bounds::EMPTY, |b, s| b.union(s.outer.bounds()))
    }

    /// Whether a point is inside (on the edge either answer may come).
    pub fn contains(&self, p: Point) -> bool {
        self.shapes.iter().any(|s| s.contains(p))
    }

    /// The image under a similarity; `None` if arcs would become ellipses.
    pub fn mapped(&self, map: Affine) -> Option<Self> {
        let turned = map.determinant() < 0.0;
        let image = |c: &Contour| c.mapped(map).map(|c| if turned { c.reversed() } else { c });
        let shapes = self
            .shapes
            .iter()
            .map(|s| Some(Shape { outer: image(&s.outer)?, holes: s.holes.iter().map(image).collect::<Option<_>>()? }));
        Some(Self { shapes: shapes.collect::<Option<_>>()? })
    }

    /// The same region with straight edges only, every chord within `tolerance` mm of its arc.
    #[must_use]
    pub fn flattened(&self, tolerance: f64) -> Self {
        self.with_contours(|c| Contour::polygon(c.flatten(tolerance)))
    }

    /// The same region with runs of short chords replaced by arcs within `tolerance` mm of them.
    #[must_use]
    pub fn fitted(&self, tolerance: f64) -> Self {
        self.with_contours(|c| crate::fit_closed(&c.flatten(tolerance / 2.0), tolerance))
    }

    fn with_contours(&self, change: impl Fn(&Contour) -> Contour) -> Self {
        let shape = |s: &Shape| Shape { outer: change(&s.outer), holes: s.holes.iter().map(&change).collect() };
        Self { shapes: self.shapes.iter().map(shape).collect() }
    }

    /// Each connected shape as a region of its own.
    pub fn split(self) -> Vec<Self> {
        self.shapes.into_iter().map(|s| Self { shapes: vec![s] }).collect()
    }
}
