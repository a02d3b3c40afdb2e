//! Lengths with units, and the boxes that nested pictures are fitted into.

use plane::{Affine, Point};
use roxmltree::Node;
use std::str::FromStr;
use svgtypes::{Align, AspectRatio, LengthUnit, ViewBox};

/// px in an inch (CSS).
pub(super) const PX_PER_INCH: f64 = 96.0;
/// mm in a px.
pub(super) const PX: f64 = 25.4 / PX_PER_INCH;

/// What percentages and `em` refer to, in user units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Measure {
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) font_size: f64,
}

/// What a percentage is of.
#[derive(Debug, Clone, Copy)]
pub(super) enum Of {
    Width,
    Height,
    Diagonal,
}

impl Measure {
    /// A length in user units.
    pub(super) fn length(&self, length: svgtypes::Length, of: Of) -> f64 {
        let n = length.number;
        match length.unit {
            LengthUnit::Percent => {
                let whole = match of {
                    Of::Width => self.width,
                    Of::Height => self.height,
                    Of::Diagonal => libm::sqrt((self.width * self.width + self.height * self.height) / 2.0),
                };
                n / 100.0 * whole
            }
            LengthUnit::Em => n * self.font_size,
            LengthUnit::Ex => n * self.font_size / 2.0,
            unit => n * px_in(unit),
        }
    }

    /// An attribute as a length; `None` if it isn't there or can't be read.
    pub(super) fn attribute(&self, node: Node<'_, '_>, name: &str, of: Of) -> Option<f64> {
        let length = svgtypes::Length::from_str(node.attribute(name)?).ok()?;
        Some(self.length(length, of)).filter(|x| x.is_finite())
    }
}

/// px in one of an absolute unit.
pub(super) fn px_in(unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::In => PX_PER_INCH,
        LengthUnit::Mm => PX_PER_INCH / 25.4,
        LengthUnit::Cm => PX_PER_INCH / 2.54,
        LengthUnit::Pt => PX_PER_INCH / 72.0,
        LengthUnit::Pc => PX_PER_INCH / 6.0,
        _ => 1.0,
    }
}

/// The name of an absolute unit.
pub(super) fn unit_word(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::In => "inch",
        LengthUnit::Mm => "mm",
        LengthUnit::Cm => "cm",
        LengthUnit::Pt => "pt",
        LengthUnit::Pc => "pc",
        _ => "px",
    }
}

/// The viewBox of an element, if it has a sensible one.
pub(super) fn view_box(node: Node<'_, '_>) -> Option<ViewBox> {
    let view = ViewBox::from_str(node.attribute("viewBox")?).ok()?;
    let sane = [view.x, view.y, view.w, view.h].iter().all(|x| x.is_finite()) && view.w > 0.0 && view.h > 0.0;
    sane.then_some(view)
}

/// The map that fits a viewBox into a box of this size at the origin (SVG 1.1 §7.8).
pub(super) fn fitted(node: Node<'_, '_>, view: ViewBox, width: f64, height: f64) -> Affine {
    let aspect = node.attribute("preserveAspectRatio").and_then(|a| AspectRatio::from_str(a).ok());
    let aspect = aspect.unwrap_or(AspectRatio { defer: false, align: Align::XMidYMid, slice: false });
    let (mut sx, mut sy) = (width / view.w, height / view.h);
    let (across, along) = match aspect.align {
        Align::None => (0.0, 0.0),
        align => {
            let scale = if aspect.slice { sx.max(sy) } else { sx.min(sy) };
            (sx, sy) = (scale, scale);
            shares(align)
        }
    };
    let offset = Point::new((width - view.w * sx) * across, (height - view.h * sy) * along);
    Affine::shift(Point::new(-view.x, -view.y)).then(Affine::scale(sx, sy)).then(Affine::shift(offset))
}

fn shares(align: Align) -> (f64, f64) {
    match align {
        Align::None | Align::XMinYMin => (0.0, 0.0),
        Align::XMidYMin => (0.5, 0.0),
        Align::XMaxYMin => (1.0, 0.0),
        Align::XMinYMid => (0.0, 0.5),
        Align::XMidYMid => (0.5, 0.5),
        Align::XMaxYMid => (1.0, 0.5),
        Align::XMinYMax => (0.0, 1.0),
        Align::XMidYMax => (0.5, 1.0),
        Align::XMaxYMax => (1.0, 1.0),
    }
}
