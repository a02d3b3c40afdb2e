//! Wedge: a bonded blank that is thicker at one end than at the other, found from readings at points.
//!
//! A plane is laid through the readings by least squares. Every figure of it is a sum of the readings, each with a
//! weight of its own, so the most that the readings' error can pretend is the error times the sum of the weights'
//! amounts. A slope beyond that is in the blank, not in the micrometer.

use crate::margin::Thickness;
use plane::Point;
use quantity::Length;

/// A reading of the whole thickness at a point of the blank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Where, from the blank's zero corner, mm.
    pub at: Point,
    /// What was read.
    pub thickness: Length,
}

/// The plane through readings, over a blank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plane {
    /// Thickness in the blank's middle.
    pub middle: Length,
    /// Thickness gained per mm in x and y.
    pub slope: [f64; 2],
    /// Difference between the thickest and the thinnest corner.
    pub across: Length,
    /// As much of that as the readings' error alone could make.
    pub explained: Length,
    /// The reading farthest from the plane.
    pub off: Length,
    /// Standard deviation of the readings about the plane; zero where no more were taken than a plane needs.
    pub residual: Length,
    /// How many readings.
    pub readings: usize,
    /// The thickest corner, mm.
    pub thickest: Point,
}

impl Plane {
    /// Whether the slope is more than the readings' error explains.
    pub fn is_wedge(&self) -> bool {
        self.across.to_mm() > self.explained.to_mm() + 1e-9
    }

    /// By how much corners differ from the middle, if it is a wedge.
    pub fn half(&self) -> Length {
        if self.is_wedge() { Length::mm(self.across.to_mm() / 2.0) } else { Length::ZERO }
    }

    /// The thickness in the middle with its spread: the reading farthest from the plane and the micrometer's error.
    pub fn middle_thickness(&self, micrometer: Length) -> Thickness {
        Thickness { mean: self.middle, spread: self.off + micrometer }
    }
}

/// The plane through readings on a blank of this size. `None` with fewer than three, or if all lie on one line: then no
/// plane is told by them.
pub fn plane(readings: &[Reading], size: [Length; 2], micrometer: Length) -> Option<Plane> {
    let n = readings.len() as f64;
    if readings.len() < 3 {
        return None;
    }
    let mean = |of: &dyn Fn(&Reading) -> f64| readings.iter().map(of).sum::<f64>() / n;
    let (x, y, t) = (mean(&|r| r.at.x), mean(&|r| r.at.y), mean(&|r| r.thickness.to_mm()));
    let sum = |of: &dyn Fn(f64, f64) -> f64| readings.iter().map(|r| of(r.at.x - x, r.at.y - y)).sum::<f64>();
    let (xx, xy, yy) = (sum(&|a, _| a * a), sum(&|a, b| a * b), sum(&|_, b| b * b));
    let det = xx * yy - xy * xy;
    // Points of which the farthest lies less than about a thousandth of their spread beside a line.
    if det <= 1e-6 * (xx + yy) * (xx + yy) {
        return None;
    }
    // Normal equations solved by hand: a slope is the sum of readings times these weights.
    let weights = |r: &Reading| {
        let (a, b) = (r.at.x - x, r.at.y - y);
        [(yy * a - xy * b) / det, (xx * b - xy * a) / det]
    };
    let slope = readings.iter().fold([0.0, 0.0], |s, r| {
        let w = weights(r);
        let from_mean = r.thickness.to_mm() - t;
        [s[0] + w[0] * from_mean, s[1] + w[1] * from_mean]
    });
    let [wide, deep] = size.map(Length::to_mm);
    let at = |p: Point| t + slope[0] * (p.x - x) + slope[1] * (p.y - y);
    // Between opposite corners; the diagonal that rises with both slopes is the steeper one.
    let across = (slope[0] * wide).abs() + (slope[1] * deep).abs();
    let most = |sign: f64| readings.iter().map(weights).map(|w| (w[0] * wide + sign * w[1] * deep).abs()).sum::<f64>();
    let explained = micrometer.to_mm() * most(1.0).max(most(-1.0));
    let off = readings.iter().map(|r| (r.thickness.to_mm() - at(r.at)).abs()).fold(0.0, f64::max);
    let squares: f64 = readings.iter().map(|r| r.thickness.to_mm() - at(r.at)).map(|e| e * e).sum();
    let free = readings.len() - 3;
    let residual = if free > 0 { libm::sqrt(squares / free as f64) } else { 0.0 };
    let rounded = |mm: f64| Length::mm((mm * 1e9).round() / 1e9);
    Some(Plane {
        middle: rounded(at(Point::new(wide / 2.0, deep / 2.0))),
        slope,
        across: rounded(across),
        explained: rounded(explained),
        off: rounded(off),
        residual: rounded(residual),
        readings: readings.len(),
        thickest: Point::new(if slope[0] >= 0.0 { wide } else { 0.0 }, if slope[1] >= 0.0 { deep } else { 0.0 }),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(x: f64, y: f64, t: f64) -> Reading {
        Reading { at: Point::new(x, y), thickness: Length::mm(t) }
    }

    fn size() -> [Length; 2] {
        [Length::mm(200.0), Length::mm(100.0)]
    }

    fn near(value: f64, expected: f64) {
        assert!((value - expected).abs() < 1e-9, "{value} is not {expected}");
    }

    /// 6 mm in the middle, 0.1 mm more per 100 mm of x and 0.05 less per 100 mm of y (planted): 0.25 across, 0.125 from
    /// the middle, thickest at x 200 y 0.
    #[test]
    fn a_planted_wedge_is_found() {
        let at = |x: f64, y: f64| reading(x, y, 6.0 + (x - 100.0) * 0.001 - (y - 50.0) * 0.0005);
        let readings = [at(5.0, 5.0), at(195.0, 5.0), at(195.0, 95.0), at(5.0, 95.0), at(90.0, 40.0)];
        let found = plane(&readings, size(), Length::mm(0.01)).unwrap();
        near(found.middle.to_mm(), 6.0);
        near(found.slope[0], 0.001);
        near(found.slope[1], -0.0005);
        near(found.across.to_mm(), 0.25);
        near(found.half().to_mm(), 0.125);
        near(found.off.to_mm(), 0.0);
        assert!(found.is_wedge());
        assert_eq!(found.thickest, Point::new(200.0, 0.0));
    }

    /// At the four corners the slope in x is weighed with ±1/(2 · 200) each: differences that errors of 0.01 can make
    /// across both ways add to 0.02 each way, 0.04 between opposite corners at most by the weights; exactly: weights
    /// ±1/2 ± 1/2 give 1, 0, 1, 0 on a diagonal, so 0.02 (derived).
    #[test]
    fn what_readings_explain() {
        let flat = |e: [f64; 4]| {
            [
                reading(0.0, 0.0, 6.0 + e[0]),
                reading(200.0, 0.0, 6.0 + e[1]),
                reading(200.0, 100.0, 6.0 + e[2]),
                reading(0.0, 100.0, 6.0 + e[3]),
            ]
        };
        let found = plane(&flat([-0.01, 0.0, 0.01, 0.0]), size(), Length::mm(0.01)).unwrap();
        near(found.explained.to_mm(), 0.02);
        near(found.across.to_mm(), 0.02);
        assert!(!found.is_wedge());
        assert_eq!(found.half(), Length::ZERO);
        assert!(plane(&flat([-0.012, 0.0, 0.012, 0.0]), size(), Length::mm(0.01)).unwrap().is_wedge());
        // No error within ±0.01 ever makes a wedge of a flat blank.
        for code in 0..81 {
            let e = [code, code / 3, code / 9, code / 27].map(|c| f64::from(c % 3 - 1) * 0.01);
            assert!(!plane(&flat(e), size(), Length::mm(0.01)).unwrap().is_wedge(), "{e:?}");
        }
    }

    #[test]
    fn points_that_tell_no_plane() {
        let line = [reading(0.0, 0.0, 6.0), reading(50.0, 25.0, 6.1), reading(100.0, 50.0, 6.2)];
        assert!(plane(&line, size(), Length::mm(0.01)).is_none());
        assert!(plane(&line[..2], size(), Length::mm(0.01)).is_none());
        assert!(plane(&[reading(3.0, 3.0, 6.0); 5], size(), Length::mm(0.01)).is_none());
    }
}
