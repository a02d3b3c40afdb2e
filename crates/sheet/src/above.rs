//! The blank seen from above: where things lie on the drawing, and the marks that pictures and pages share.

use crate::drawing::{Drawing, Step, arc, circle, polygon, rectangle, style};
use crate::ink::{self, HEADS, INK, PAPER, Rgb};
use crate::lettering::Cut;
use crate::numbers::{short, two};
use crate::relief;
use plane::{Bounds, Contour, Point, Region};
use plate::{Hold, Intent};
use proof::HeightMap;

/// From mm on the blank to the drawing.
#[derive(Debug, Clone, Copy)]
pub(crate) struct View {
    /// What is seen, mm.
    pub(crate) window: Bounds,
    /// Left of the window in the drawing.
    pub(crate) left: f32,
    /// Top of the window in the drawing.
    pub(crate) top: f32,
    /// Units a mm.
    pub(crate) scale: f32,
}

impl View {
    /// The whole blank with its holds, with a margin in mm, as large as fits in a box.
    pub(crate) fn of_blank(intent: &Intent, margin: f64, left: f32, top: f32, width: f32, height: f32) -> Self {
        let [w, h] = intent.blank.size.map(|l| l.to_mm().clamp(1.0, 1e5));
        let blank = Bounds { min: Point::new(0.0, 0.0), max: Point::new(w, h) };
        // Holds far out would make the plate small: they are shown as far as half the blank's size beyond it.
        let near = blank.grown(w.max(h) / 2.0);
        let seen = intent
            .holds
            .iter()
            .map(|hold| hold.shape.bounds())
            .filter(|b| !b.is_empty() && near.contains(b.min) && near.contains(b.max))
            .fold(blank, Bounds::union);
        let window = seen.grown(margin);
        let scale = (f64::from(width) / window.width()).min(f64::from(height) / window.height()) as f32;
        Self { window, left, top, scale }
    }

    /// Width in the drawing.
    pub(crate) fn width(&self) -> f32 {
        self.window.width() as f32 * self.scale
    }

    /// Height in the drawing.
    pub(crate) fn height(&self) -> f32 {
        self.window.height() as f32 * self.scale
    }

    /// A point in the drawing.
    pub(crate) fn at(&self, p: Point) -> (f32, f32) {
        let (x, y) = ((p.x - self.window.min.x) as f32, (self.window.max.y - p.y) as f32);
        (self.left + x * self.scale, self.top + y * self.scale)
    }

    /// A contour in the drawing, within a twentieth of a unit.
    pub(crate) fn contour(&self, contour: &Contour) -> Vec<Step> {
        let tolerance = (0.05 / f64::from(self.scale)).clamp(0.001, 1.0);
        let points: Vec<(f32, f32)> = contour.flatten(tolerance).into_iter().map(|p| self.at(p)).collect();
        polygon(&points)
    }

    /// All contours of a region in the drawing.
    pub(crate) fn region(&self, region: &Region) -> Vec<Step> {
        region.contours().flat_map(|c| self.contour(c)).collect()
    }

    /// The model as pixels, `fine` pixels a unit.
    pub(crate) fn model(&self, drawing: &mut Drawing, map: &HeightMap, intent: &Intent, fine: f32, ground: Rgb) {
        let pixels = relief::picture(map, &intent.blank, self.window, f64::from(self.scale * fine), ground);
        drawing.pixels(self.left, self.top, self.width(), self.height(), pixels);
    }

    /// The blank's own edge.
    pub(crate) fn blank_edge(&self, intent: &Intent) -> Vec<Step> {
        let [w, h] = intent.blank.size.map(|l| l.to_mm().clamp(1.0, 1e5));
        let (left, bottom) = self.at(Point::new(0.0, 0.0));
        rectangle(left, bottom - h as f32 * self.scale, w as f32 * self.scale, h as f32 * self.scale)
    }
}

/// Holds as screw heads; what isn't round as its outline, hatched.
pub(crate) fn holds(drawing: &mut Drawing, view: &View, holds: &[Hold]) {
    for hold in holds {
        let bounds = hold.shape.bounds();
        if bounds.is_empty() || !view.window.meets(bounds) {
            continue;
        }
        let path = view.contour(&hold.shape);
        let (w, h) = (bounds.width(), bounds.height());
        let round = (w - h).abs() < 0.02 * w.max(h)
            && (hold.shape.area().abs() - std::f64::consts::FRAC_PI_4 * w * h).abs() < 0.02 * w * h;
        drawing.fill(path.clone(), HEADS);
        if round {
            let (x, y) = view.at(bounds.centre());
            let r = (w / 2.0) as f32 * view.scale;
            drawing.line(circle(x, y, r), INK, (r * 0.09).clamp(0.5, 1.2));
            drawing.line(circle(x, y, r * 0.74), ink::THIN, 0.5);
            // The slot, turned a little, as screws stand.
            let (dx, dy) = (r * 0.55 * 0.94, r * 0.55 * -0.34);
            drawing.rule((x - dx, y - dy), (x + dx, y + dy), INK, (r * 0.17).clamp(0.6, 2.4));
        } else {
            drawing.hatch(path.clone(), true, 3.0, ink::THIN, 0.4);
            drawing.line(path, INK, 1.0);
        }
    }
}

/// The corner mark at the blank's zero corner, a carpenter's square laid against both edges, with its words.
/// `size` is the words' size.
pub(crate) fn zero_corner(drawing: &mut Drawing, view: &View, size: f32) {
    let (x, y) = view.at(Point::new(0.0, 0.0));
    let (arm, blade, gap) = (size * 1.8, size * 0.42, size * 0.1);
    let (x, y) = (x - gap, y + gap);
    let square =
        [(x, y), (x, y - arm), (x - blade, y - arm), (x - blade, y + blade), (x + arm, y + blade), (x + arm, y)];
    drawing.fill(polygon(&square), PAPER);
    drawing.line(polygon(&square), INK, size * 0.1);
    drawing.text(x - blade, y + blade + size, style(size, Cut::Italic, INK), "zero here");
}

/// A scale bar of a round length, ending at a point; its length is at most `room` units.
pub(crate) fn scale_bar(drawing: &mut Drawing, right: f32, y: f32, room: f32, scale: f32, size: f32) {
    let most = f64::from(room / scale.max(1e-6));
    let mut length = 0.1f64;
    for decade in [0.1, 1.0, 10.0, 100.0, 1000.0, 10_000.0] {
        for step in [1.0, 2.0, 5.0] {
            if decade * step <= most {
                length = length.max(decade * step);
            }
        }
    }
    let label = format!("{} mm", short(length, 1));
    let words = drawing.lettering.width(&label, Cut::Regular, size);
    let end = right - words - size * 0.5;
    let start = end - (length * f64::from(scale)) as f32;
    let (half, tick) = ((start + end) / 2.0, size * 0.28);
    drawing.rule((start, y), (end, y), INK, size * 0.06);
    drawing.rule((start, y), (half, y), INK, size * 0.2);
    for x in [start, half, end] {
        drawing.rule((x, y - tick), (x, y + tick), INK, size * 0.06);
    }
    drawing.text(end + size * 0.5, y + size * 0.33, style(size, Cut::Regular, INK), &label);
}

/// Thin dimension lines with the blank's width below everything and its depth at the right of everything; their lower
/// edge.
pub(crate) fn blank_size(drawing: &mut Drawing, view: &View, intent: &Intent, size: f32) -> f32 {
    let [w, h] = intent.blank.size.map(|l| l.to_mm());
    let (x0, y0) = view.at(Point::new(0.0, 0.0));
    let (x1, y1) = view.at(Point::new(w.clamp(1.0, 1e5), h.clamp(1.0, 1e5)));
    let words = style(size, Cut::Regular, INK);
    let label = |v: f64| format!("{} mm", short(v, 2));
    let x = (view.left + view.width()).max(x1 + size * 0.8);
    drawing.rule((x, y0), (x, y1), ink::THIN, 0.5);
    for (y, toward) in [(y0, 1.0), (y1, -1.0)] {
        drawing.rule((x1 + 2.0, y), (x + 3.0, y), ink::THIN, 0.5);
        arrow(drawing, (x, y), toward, false);
    }
    drawing.text(x + 4.0, (y0 + y1) / 2.0 + size * 0.35, words, &label(h));
    let y = (view.top + view.height()).max(y0 + size * 2.1);
    drawing.rule((x0, y), (x1, y), ink::THIN, 0.5);
    for (x, toward) in [(x0, -1.0), (x1, 1.0)] {
        drawing.rule((x, y0 + 2.0), (x, y + 3.0), ink::THIN, 0.5);
        arrow(drawing, (x, y), toward, true);
    }
    drawing.text_about((x0 + x1) / 2.0, y - 3.0, words, &label(w));
    y + 3.0
}

/// A slim arrow head whose tip is at a point; `toward` 1 points right or down, -1 left or up.
pub(crate) fn arrow(drawing: &mut Drawing, tip: (f32, f32), toward: f32, level: bool) {
    let (back, half) = (5.0 * toward, 1.1);
    let points = if level {
        [(tip.0, tip.1), (tip.0 - back, tip.1 - half), (tip.0 - back, tip.1 + half)]
    } else {
        [(tip.0, tip.1), (tip.0 - half, tip.1 - back), (tip.0 + half, tip.1 - back)]
    };
    drawing.fill(polygon(&points), ink::THIN);
}

/// A verdict's own mark: a full stamp ring, a broken ring, a half ring.
pub(crate) fn verdict_mark(drawing: &mut Drawing, verdict: proof::Verdict, x: f32, y: f32, r: f32) {
    use std::f64::consts::PI;
    let width = r * 0.2;
    match verdict {
        proof::Verdict::Proven => {
            drawing.line(circle(x, y, r - width / 2.0), INK, width);
            drawing.line(circle(x, y, r * 0.62), INK, r * 0.06);
        }
        proof::Verdict::Refused => {
            for (from, sweep) in [(-0.15, 0.8), (0.78, 0.62), (1.52, 0.22)] {
                drawing.line(arc(x, y, r - width / 2.0, from * PI, sweep * PI * 0.92), INK, width);
            }
        }
        proof::Verdict::Undecided => {
            drawing.line(arc(x, y, r - width / 2.0, 0.5 * PI, PI), INK, width);
        }
    }
}

/// A verdict's word.
pub(crate) fn verdict_word(verdict: proof::Verdict) -> &'static str {
    match verdict {
        proof::Verdict::Proven => "Proven",
        proof::Verdict::Refused => "Refused",
        proof::Verdict::Undecided => "Undecided",
    }
}

/// "220 × 120 mm, 6.05 mm thick".
pub(crate) fn blank_words(intent: &Intent) -> String {
    let blank = &intent.blank;
    let [w, h] = blank.size.map(|l| short(l.to_mm(), 2));
    format!("{w} × {h} mm, {} mm thick", two((blank.face - blank.underside).to_mm()))
}
