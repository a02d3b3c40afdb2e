//! Points, boxes and affine maps.

use serde::{Deserialize, Serialize};
use std::ops::{Add, Mul, Neg, Sub};

/// A point or a vector, mm.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Up.
    pub y: f64,
}

impl Point {
    /// A point from its coordinates.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// The unit vector at an angle from the x axis (radians, counter-clockwise).
    pub fn at_angle(angle: f64) -> Self {
        Self::new(libm::cos(angle), libm::sin(angle))
    }

    /// Scalar product.
    pub fn dot(self, other: Self) -> f64 {
        self.x * other.x + self.y * other.y
    }

    /// z of the vector product: positive if `other` is to the left.
    pub fn cross(self, other: Self) -> f64 {
        self.x * other.y - self.y * other.x
    }

    /// Length as a vector.
    pub fn norm(self) -> f64 {
        libm::hypot(self.x, self.y)
    }

    /// Distance to another point.
    pub fn distance(self, other: Self) -> f64 {
        (self - other).norm()
    }

    /// Angle from the x axis, in (-pi, pi].
    pub fn angle(self) -> f64 {
        libm::atan2(self.y, self.x)
    }

    /// Turned a quarter to the left.
    pub const fn left(self) -> Self {
        Self::new(-self.y, self.x)
    }

    /// The unit vector in this direction, `None` for the zero vector.
    pub fn unit(self) -> Option<Self> {
        let norm = self.norm();
        (norm > 0.0).then(|| self * (1.0 / norm))
    }

    /// The point `t` of the way to another.
    pub fn lerp(self, other: Self, t: f64) -> Self {
        self + (other - self) * t
    }

    /// Turned about the origin (radians, counter-clockwise).
    pub fn rotated(self, angle: f64) -> Self {
        let (s, c) = (libm::sin(angle), libm::cos(angle));
        Self::new(self.x * c - self.y * s, self.x * s + self.y * c)
    }

    /// Whether both coordinates are finite.
    pub fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite()
    }
}

impl From<[f64; 2]> for Point {
    fn from([x, y]: [f64; 2]) -> Self {
        Self::new(x, y)
    }
}
impl From<Point> for [f64; 2] {
    fn from(p: Point) -> Self {
        [p.x, p.y]
    }
}
impl Add for Point {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.x + other.x, self.y + other.y)
    }
}
impl Sub for Point {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.x - other.x, self.y - other.y)
    }
}
impl Mul<f64> for Point {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self::new(self.x * factor, self.y * factor)
    }
}
impl Neg for Point {
    type Output = Self;
    fn neg(self) -> Self {
        Self::new(-self.x, -self.y)
    }
}

/// An upright box, mm. The empty box contains nothing and unites with anything.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Bounds {
    /// Lower left.
    pub min: Point,
    /// Upper right.
    pub max: Point,
}

impl Bounds {
    /// The empty box.
    pub const EMPTY: Self =
        Self { min: Point::new(f64::INFINITY, f64::INFINITY), max: Point::new(f64::NEG_INFINITY, f64::NEG_INFINITY) };

    /// The box around points.
    pub fn of(points: impl IntoIterator<Item = Point>) -> Self {
        points.into_iter().fold(Self::EMPTY, Self::with)
    }

    /// Grown to hold a point.
    #[must_use]
    pub fn with(self, p: Point) -> Self {
        Self {
            min: Point::new(self.min.x.min(p.x), self.min.y.min(p.y)),
            max: Point::new(self.max.x.max(p.x), self.max.y.max(p.y)),
        }
    }

    /// The box around both.
    #[must_use]
    pub fn union(self, other: Self) -> Self {
        if other.is_empty() { self } else { self.with(other.min).with(other.max) }
    }

    /// Grown on all sides, mm.
    #[must_use]
    pub fn grown(self, by: f64) -> Self {
        if self.is_empty() {
            return self;
        }
        Self { min: self.min - Point::new(by, by), max: self.max + Point::new(by, by) }
    }

    /// Whether it holds nothing.
    pub fn is_empty(self) -> bool {
        self.min.x > self.max.x || self.min.y > self.max.y
    }

    /// Whether a point is inside or on the edge.
    pub fn contains(self, p: Point) -> bool {
        p.x >= self.min.x && p.x <= self.max.x && p.y >= self.min.y && p.y <= self.max.y
    }

    /// Whether the two share a point.
    pub fn meets(self, other: Self) -> bool {
        self.min.x <= other.max.x && other.min.x <= self.max.x && self.min.y <= other.max.y && other.min.y <= self.max.y
    }

    /// Width, mm (0 if empty).
    pub fn width(self) -> f64 {
        (self.max.x - self.min.x).max(0.0)
    }

    /// Height, mm (0 if empty).
    pub fn height(self) -> f64 {
        (self.max.y - self.min.y).max(0.0)
    }

    /// The middle.
    pub fn centre(self) -> Point {
        self.min.lerp(self.max, 0.5)
    }
}

/// An affine map: `x' = a x + c y + e`, `y' = b x + d y + f`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Affine {
    /// The six coefficients `[a, b, c, d, e, f]`.
    pub m: [f64; 6],
}

impl Affine {
    /// Leaves every point where it is.
    pub const IDENTITY: Self = Self { m: [1.0, 0.0, 0.0, 1.0, 0.0, 0.0] };

    /// A shift.
    pub const fn shift(by: Point) -> Self {
        Self { m: [1.0, 0.0, 0.0, 1.0, by.x, by.y] }
    }

    /// A scaling about the origin, by axis.
    pub const fn scale(x: f64, y: f64) -> Self {
        Self { m: [x, 0.0, 0.0, y, 0.0, 0.0] }
    }

    /// A turn about the origin (radians, counter-clockwise).
    pub fn turn(angle: f64) -> Self {
        let (s, c) = (libm::sin(angle), libm::cos(angle));
        Self { m: [c, s, -s, c, 0.0, 0.0] }
    }

    /// First `self`, then `next`.
    #[must_use]
    pub fn then(self, next: Self) -> Self {
        let ([a, b, c, d, e, f], [p, q, r, s, t, u]) = (self.m, next.m);
        Self { m: [a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s, e * p + f * r + t, e * q + f * s + u] }
    }

    /// The image of a point.
    pub fn apply(self, p: Point) -> Point {
        let [a, b, c, d, e, f] = self.m;
        Point::new(a * p.x + c * p.y + e, b * p.x + d * p.y + f)
    }

    /// Signed area factor; negative if the map mirrors.
    pub fn determinant(self) -> f64 {
        self.m[0] * self.m[3] - self.m[1] * self.m[2]
    }

    /// The factor of length if the map is a similarity (turn, shift, uniform scale, mirror): then
    /// circles stay circles.
    pub fn similarity(self) -> Option<f64> {
        let [a, b, c, d, ..] = self.m;
        let scale = libm::sqrt(self.determinant().abs());
        let sign = self.determinant().signum();
        let off = (a - sign * d).abs().max((b + sign * c).abs());
        (scale > 0.0 && off <= 1e-9 * scale).then_some(scale)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn affine_order_is_first_then_next() {
        let map = Affine::scale(2.0, 2.0).then(Affine::shift(Point::new(1.0, 0.0)));
        assert_eq!(map.apply(Point::new(3.0, 4.0)), Point::new(7.0, 8.0));
        assert_eq!(map.similarity(), Some(2.0));
        assert_eq!(Affine::scale(2.0, 1.0).similarity(), None);
        assert!(Affine::turn(0.3).then(Affine::scale(-3.0, 3.0)).similarity().is_some());
    }
}
