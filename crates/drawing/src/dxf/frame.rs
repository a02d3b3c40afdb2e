//! Frames in space: an entity's own axes by its extrusion, and a block's by its insert. Plans are taken at the end.

use plane::{Affine, Point};

pub(super) type Vector = [f64; 3];

/// An affine map of space by the images of the axes and the origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Frame {
    x: Vector,
    y: Vector,
    z: Vector,
    origin: Vector,
}

/// Normals with x and y both below this take their x axis from the world's y (the format's "arbitrary axis" rule).
const NEAR_UPRIGHT: f64 = 1.0 / 64.0;

impl Frame {
    pub(super) const WORLD: Self =
        Self { x: [1.0, 0.0, 0.0], y: [0.0, 1.0, 0.0], z: [0.0, 0.0, 1.0], origin: [0.0; 3] };

    /// The frame of an entity with this extrusion direction; `None` if it has no direction.
    pub(super) fn of_normal(normal: Vector) -> Option<Self> {
        if normal == [0.0, 0.0, 1.0] {
            return Some(Self::WORLD);
        }
        let z = unit(normal)?;
        let side = if z[0].abs() < NEAR_UPRIGHT && z[1].abs() < NEAR_UPRIGHT {
            cross([0.0, 1.0, 0.0], z)
        } else {
            cross([0.0, 0.0, 1.0], z)
        };
        let x = unit(side)?;
        Some(Self { x, y: cross(z, x), z, origin: [0.0; 3] })
    }

    /// A shift.
    pub(super) fn shift(by: Vector) -> Self {
        Self { origin: by, ..Self::WORLD }
    }

    /// A scaling by axis.
    pub(super) fn scale(by: Vector) -> Self {
        Self { x: [by[0], 0.0, 0.0], y: [0.0, by[1], 0.0], z: [0.0, 0.0, by[2]], origin: [0.0; 3] }
    }

    /// A turn about z, degrees.
    pub(super) fn turn(degrees: f64) -> Self {
        let (s, c) = sin_cos_degrees(degrees);
        Self { x: [c, s, 0.0], y: [-s, c, 0.0], ..Self::WORLD }
    }

    /// First `self`, then `next`.
    pub(super) fn then(&self, next: &Self) -> Self {
        Self {
            x: next.turn_vector(self.x),
            y: next.turn_vector(self.y),
            z: next.turn_vector(self.z),
            origin: next.apply(self.origin),
        }
    }

    fn turn_vector(&self, v: Vector) -> Vector {
        [0, 1, 2].map(|i| self.x[i] * v[0] + self.y[i] * v[1] + self.z[i] * v[2])
    }

    pub(super) fn apply(&self, p: Vector) -> Vector {
        let v = self.turn_vector(p);
        [v[0] + self.origin[0], v[1] + self.origin[1], v[2] + self.origin[2]]
    }

    /// The plan of the image of a point.
    pub(super) fn plan(&self, p: Vector) -> Point {
        let [x, y, _] = self.apply(p);
        Point::new(x, y)
    }

    /// The map in plan of what lies at one elevation.
    pub(super) fn plan_at(&self, elevation: f64) -> Affine {
        let o = self.plan([0.0, 0.0, elevation]);
        Affine { m: [self.x[0], self.x[1], self.y[0], self.y[1], o.x, o.y] }
    }

    /// Whether what is level in it stays level.
    pub(super) fn is_level(&self) -> bool {
        let tilt = |v: Vector| v[2].abs() <= 1e-9 * (v[0].abs() + v[1].abs() + v[2].abs()).max(1e-300);
        tilt(self.x) && tilt(self.y)
    }

    /// The length of the image of a unit of height.
    pub(super) fn height_factor(&self) -> f64 {
        self.z[2].abs()
    }
}

/// Sine and cosine of degrees, exact at quarter turns.
pub(super) fn sin_cos_degrees(degrees: f64) -> (f64, f64) {
    let turned = degrees.rem_euclid(360.0);
    match turned {
        0.0 => (0.0, 1.0),
        90.0 => (1.0, 0.0),
        180.0 => (0.0, -1.0),
        270.0 => (-1.0, 0.0),
        _ => (libm::sin(turned.to_radians()), libm::cos(turned.to_radians())),
    }
}

pub(super) fn cross(a: Vector, b: Vector) -> Vector {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

pub(super) fn unit(v: Vector) -> Option<Vector> {
    let norm = libm::sqrt(v.iter().map(|x| x * x).sum());
    (norm > 0.0 && norm.is_finite()).then(|| v.map(|x| x / norm))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Extrusion (0, 0, -1) mirrors x: the arbitrary axis rule gives Ax = (-1, 0, 0), Ay = (0, 1, 0) (derived).
    #[test]
    fn a_downward_normal_mirrors_x() {
        let frame = Frame::of_normal([0.0, 0.0, -1.0]).unwrap();
        assert_eq!(frame.plan([3.0, 4.0, 0.0]), Point::new(-3.0, 4.0));
        assert!(frame.is_level());
        assert!(!Frame::of_normal([1.0, 0.0, 1.0]).unwrap().is_level());
        assert_eq!(Frame::of_normal([0.0; 3]), None);
    }
}
