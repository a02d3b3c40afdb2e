//! Regions as parts of keys: every bit of their coordinates.

use crate::{Contour, Point, Region, Segment, Shape};
use memo::{Key, Keyed};

impl Keyed for Point {
    fn put(&self, key: &mut Key) {
        self.x.put(key);
        self.y.put(key);
    }
}

impl Keyed for Contour {
    fn put(&self, key: &mut Key) {
        self.vertices.len().put(key);
        for vertex in &self.vertices {
            vertex.p.put(key);
            vertex.bulge.put(key);
        }
    }
}

impl Keyed for Shape {
    fn put(&self, key: &mut Key) {
        self.outer.put(key);
        self.holes.put(key);
    }
}

impl Keyed for Region {
    fn put(&self, key: &mut Key) {
        self.shapes.put(key);
    }
}

impl Keyed for Segment {
    fn put(&self, key: &mut Key) {
        match self {
            Self::Line { a, b } => [*a, *b].put(key),
            Self::Arc { a, b, centre, radius, from, sweep } => {
                [*a, *b, *centre].put(key);
                [*radius, *from, *sweep].put(key);
            }
        }
        matches!(self, Self::Line { .. }).put(key);
    }
}
