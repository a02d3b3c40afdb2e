//! A drawing as a plain list of marks, before it becomes pixels or a page.
//!
//! Units are points of 1/72 in on a page; a picture is a drawing drawn larger. x to the right, y down.

use crate::ink::Rgb;
use crate::lettering::{Cut, Lettering};

/// A line of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Step {
    /// Start a piece.
    Move(f32, f32),
    /// Straight on.
    Line(f32, f32),
    /// A cubic curve.
    Cubic(f32, f32, f32, f32, f32, f32),
    /// Back to the start of the piece.
    Close,
}

/// One mark.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Mark {
    /// A filled path, even-odd.
    Fill {
        /// Its edge.
        path: Vec<Step>,
        /// Colour.
        ink: Rgb,
    },
    /// A line.
    Line {
        /// Its course.
        path: Vec<Step>,
        /// Colour.
        ink: Rgb,
        /// Width.
        width: f32,
    },
    /// Straight lines inside a path, as for hatching.
    Hatch {
        /// What the lines are cut off by, even-odd.
        path: Vec<Step>,
        /// Lines, each from and to.
        lines: Vec<[f32; 4]>,
        /// Colour.
        ink: Rgb,
        /// Width.
        width: f32,
    },
    /// Text on a base line.
    Text {
        /// Start.
        x: f32,
        /// Base line.
        y: f32,
        /// Height of an em.
        size: f32,
        /// Cut of the face.
        cut: Cut,
        /// Colour.
        ink: Rgb,
        /// What it says.
        text: String,
    },
    /// Pixels, opaque.
    Pixels {
        /// Left.
        x: f32,
        /// Top.
        y: f32,
        /// Width.
        width: f32,
        /// Height.
        height: f32,
        /// The picture.
        pixels: Pixels,
    },
}

/// A block of pixels.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Pixels {
    /// Pixels in x.
    pub(crate) columns: usize,
    /// Pixels in y.
    pub(crate) rows: usize,
    /// Rows from the top.
    pub(crate) colours: Vec<Rgb>,
}

/// How a text is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Style {
    /// Height of an em.
    pub(crate) size: f32,
    /// Cut.
    pub(crate) cut: Cut,
    /// Colour.
    pub(crate) ink: Rgb,
}

/// A style.
pub(crate) const fn style(size: f32, cut: Cut, ink: Rgb) -> Style {
    Style { size, cut, ink }
}

/// A drawing in the making.
pub(crate) struct Drawing<'a> {
    /// Width.
    pub(crate) width: f32,
    /// Height.
    pub(crate) height: f32,
    /// Marks, the lowest first.
    pub(crate) marks: Vec<Mark>,
    /// For measuring text.
    pub(crate) lettering: &'a Lettering,
}

impl<'a> Drawing<'a> {
    /// An empty one.
    pub(crate) fn new(lettering: &'a Lettering, width: f32, height: f32) -> Self {
        Self { width, height, marks: Vec::new(), lettering }
    }

    /// Fills a path.
    pub(crate) fn fill(&mut self, path: Vec<Step>, ink: Rgb) {
        self.marks.push(Mark::Fill { path, ink });
    }

    /// Draws a line along a path.
    pub(crate) fn line(&mut self, path: Vec<Step>, ink: Rgb, width: f32) {
        self.marks.push(Mark::Line { path, ink, width });
    }

    /// Draws a straight line.
    pub(crate) fn rule(&mut self, from: (f32, f32), to: (f32, f32), ink: Rgb, width: f32) {
        self.line(vec![Step::Move(from.0, from.1), Step::Line(to.0, to.1)], ink, width);
    }

    /// Hatches a path at an angle of 45° (`rising`) or 135°.
    pub(crate) fn hatch(&mut self, path: Vec<Step>, rising: bool, spacing: f32, ink: Rgb, width: f32) {
        let [left, top, right, bottom] = extent(&path);
        if !(left < right && top < bottom && spacing > 0.1) {
            return;
        }
        // Lines are counted from the drawing's corner, so that hatching of one layer runs through its pieces.
        let (reach, step) = (bottom - top, spacing * std::f32::consts::SQRT_2);
        let mut lines = Vec::new();
        let sums = if rising { (left + top, right + bottom) } else { (left - bottom, right - top) };
        let mut k = (sums.0 / step).ceil();
        while k * step <= sums.1 && lines.len() < 20_000 {
            let sum = k * step;
            let (x_top, x_bottom) =
                if rising { (sum - top, sum - top - reach) } else { (sum + top, sum + top + reach) };
            lines.push([x_top, top, x_bottom, bottom]);
            k += 1.0;
        }
        self.marks.push(Mark::Hatch { path, lines, ink, width });
    }

    /// Sets a text from a point on; its width.
    pub(crate) fn text(&mut self, x: f32, y: f32, style: Style, text: &str) -> f32 {
        let width = self.lettering.width(text, style.cut, style.size);
        if !text.is_empty() {
            let (size, cut, ink) = (style.size, style.cut, style.ink);
            self.marks.push(Mark::Text { x, y, size, cut, ink, text: text.to_owned() });
        }
        width
    }

    /// Sets a text that ends at a point.
    pub(crate) fn text_to(&mut self, x: f32, y: f32, style: Style, text: &str) -> f32 {
        let width = self.lettering.width(text, style.cut, style.size);
        self.text(x - width, y, style, text)
    }

    /// Sets a text about a point.
    pub(crate) fn text_about(&mut self, x: f32, y: f32, style: Style, text: &str) -> f32 {
        let width = self.lettering.width(text, style.cut, style.size);
        self.text(x - width / 2.0, y, style, text)
    }

    /// Sets a text from a point on, cut off with an ellipsis where it is wider than `room`; its width.
    pub(crate) fn text_within(&mut self, x: f32, y: f32, style: Style, room: f32, text: &str) -> f32 {
        let text = self.lettering.shortened(text, style.cut, style.size, room);
        self.text(x, y, style, &text)
    }

    /// Places pixels.
    pub(crate) fn pixels(&mut self, x: f32, y: f32, width: f32, height: f32, pixels: Pixels) {
        self.marks.push(Mark::Pixels { x, y, width, height, pixels });
    }
}

impl Lettering {
    /// A text that is no wider than `room`, with an ellipsis where it was cut off.
    pub(crate) fn shortened(&self, text: &str, cut: Cut, size: f32, room: f32) -> String {
        let glyphs = self.shape(text, cut);
        if glyphs.iter().map(|g| g.advance).sum::<f32>() * size <= room {
            return text.to_owned();
        }
        let room = room - self.width("…", cut, size);
        let mut pen = 0.0;
        for glyph in &glyphs {
            pen += glyph.advance * size;
            if pen > room {
                return format!("{}…", text.get(..glyph.from).unwrap_or("").trim_end());
            }
        }
        text.to_owned()
    }
}

/// The box around a path's points: left, top, right, bottom.
fn extent(path: &[Step]) -> [f32; 4] {
    let mut box_ = [f32::INFINITY, f32::INFINITY, f32::NEG_INFINITY, f32::NEG_INFINITY];
    for step in path {
        if let Step::Move(x, y) | Step::Line(x, y) | Step::Cubic(.., x, y) = *step {
            box_ = [box_[0].min(x), box_[1].min(y), box_[2].max(x), box_[3].max(y)];
        }
    }
    box_
}

/// An upright rectangle.
pub(crate) fn rectangle(x: f32, y: f32, width: f32, height: f32) -> Vec<Step> {
    vec![
        Step::Move(x, y),
        Step::Line(x + width, y),
        Step::Line(x + width, y + height),
        Step::Line(x, y + height),
        Step::Close,
    ]
}

/// A closed polygon.
pub(crate) fn polygon(points: &[(f32, f32)]) -> Vec<Step> {
    let mut path: Vec<Step> = polyline(points);
    if !path.is_empty() {
        path.push(Step::Close);
    }
    path
}

/// An open run of straight lines.
pub(crate) fn polyline(points: &[(f32, f32)]) -> Vec<Step> {
    points.iter().enumerate().map(|(i, &(x, y))| if i == 0 { Step::Move(x, y) } else { Step::Line(x, y) }).collect()
}

/// A full circle.
pub(crate) fn circle(x: f32, y: f32, r: f32) -> Vec<Step> {
    let mut path = arc(x, y, r, 0.0, std::f64::consts::TAU);
    path.push(Step::Close);
    path
}

/// An arc from an angle over a sweep (radians, clockwise on the page), as cubics of at most an eighth of a turn,
/// which stay within 4e-6 of the radius.
pub(crate) fn arc(x: f32, y: f32, r: f32, from: f64, sweep: f64) -> Vec<Step> {
    let pieces = (sweep.abs() / std::f64::consts::FRAC_PI_4).ceil().clamp(1.0, 64.0);
    let each = sweep / pieces;
    let arm = 4.0 / 3.0 * libm::tan(each / 4.0);
    let r64 = f64::from(r);
    let at = |angle: f64| (r64 * libm::cos(angle), r64 * libm::sin(angle));
    let put = |p: (f64, f64)| (x + p.0 as f32, y + p.1 as f32);
    let start = put(at(from));
    let mut path = vec![Step::Move(start.0, start.1)];
    for i in 0..pieces as usize {
        let (a, b) = (from + each * i as f64, from + each * (i + 1) as f64);
        let ((ax, ay), (bx, by)) = (at(a), at(b));
        let (c, d, e) = (put((ax - arm * ay, ay + arm * ax)), put((bx + arm * by, by - arm * bx)), put((bx, by)));
        path.push(Step::Cubic(c.0, c.1, d.0, d.1, e.0, e.1));
    }
    path
}
