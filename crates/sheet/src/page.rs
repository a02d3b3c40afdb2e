//! Drawings to the pages of a PDF. No dates and no random identifiers: the same drawings give the same bytes.

use crate::drawing::{Drawing, Mark, Pixels, Step};
use crate::ink::Rgb;
use crate::lettering::{self, Cut};
use krilla::geom::{Path, PathBuilder, Point, Size, Transform};
use krilla::image::Image;
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, Stroke};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};
use krilla::{Document, color::rgb};

/// PDF bytes of pages; empty if the writer refuses (it has no reason to, with these fonts and no validator).
pub(crate) fn pdf(title: &str, pages: &[Drawing]) -> Vec<u8> {
    let mut document = Document::new();
    let creator = "Platewright".to_owned();
    document.set_metadata(
        Metadata::new()
            .title(title.to_owned())
            .creator(creator)
            .language("en".to_owned())
            .document_id(title.to_owned()),
    );
    let fonts = [Cut::Regular, Cut::Italic, Cut::Bold].map(|cut| Font::new(lettering::file(cut).into(), 0));
    for drawing in pages {
        let Some(settings) = PageSettings::from_wh(drawing.width, drawing.height) else { continue };
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        for mark in &drawing.marks {
            draw(&mut surface, mark, drawing, &fonts);
        }
        surface.finish();
        page.finish();
    }
    document.finish().unwrap_or_default()
}

fn draw(surface: &mut Surface, mark: &Mark, drawing: &Drawing, fonts: &[Option<Font>; 3]) {
    match mark {
        Mark::Fill { path, ink } => {
            if let Some(path) = build(path) {
                surface.set_stroke(None);
                surface.set_fill(Some(fill(*ink)));
                surface.draw_path(&path);
            }
        }
        Mark::Line { path, ink, width } => {
            if let Some(path) = build(path) {
                surface.set_fill(None);
                surface.set_stroke(Some(stroke(*ink, *width)));
                surface.draw_path(&path);
            }
        }
        Mark::Hatch { path, lines, ink, width } => {
            let Some(edge) = build(path) else { return };
            let steps: Vec<Step> =
                lines.iter().flat_map(|l| [Step::Move(l[0], l[1]), Step::Line(l[2], l[3])]).collect();
            if let Some(lines) = build(&steps) {
                surface.push_clip_path(&edge, &FillRule::EvenOdd);
                surface.set_fill(None);
                surface.set_stroke(Some(stroke(*ink, *width)));
                surface.draw_path(&lines);
                surface.pop();
            }
        }
        Mark::Text { x, y, size, cut, ink, text } => {
            let font = match cut {
                Cut::Regular => &fonts[0],
                Cut::Italic => &fonts[1],
                Cut::Bold => &fonts[2],
            };
            let Some(font) = font else { return };
            let glyphs: Vec<KrillaGlyph> = drawing
                .lettering
                .shape(text, *cut)
                .iter()
                .map(|g| {
                    let id = GlyphId::new(u32::from(g.id));
                    KrillaGlyph::new(id, g.advance, g.shift[0], g.shift[1], 0.0, g.from..g.to, None)
                })
                .collect();
            surface.set_stroke(None);
            surface.set_fill(Some(fill(*ink)));
            surface.draw_glyphs(Point::from_xy(*x, *y), &glyphs, font.clone(), text, *size, false);
        }
        Mark::Pixels { x, y, width, height, pixels } => place(surface, pixels, [*x, *y, *width, *height]),
    }
}

fn place(surface: &mut Surface, pixels: &Pixels, [x, y, width, height]: [f32; 4]) {
    let (Ok(columns), Ok(rows)) = (u32::try_from(pixels.columns), u32::try_from(pixels.rows)) else { return };
    let Some(size) = Size::from_wh(width, height) else { return };
    if columns == 0 || rows == 0 || pixels.colours.len() != pixels.columns * pixels.rows {
        return;
    }
    let bytes: Vec<u8> = pixels.colours.iter().flat_map(|c| [c[0], c[1], c[2], 255]).collect();
    surface.push_transform(&Transform::from_translate(x, y));
    surface.draw_image(Image::from_rgba8(bytes, columns, rows), size);
    surface.pop();
}

fn fill(ink: Rgb) -> Fill {
    Fill { paint: rgb::Color::new(ink[0], ink[1], ink[2]).into(), opacity: NormalizedF32::ONE, rule: FillRule::EvenOdd }
}

fn stroke(ink: Rgb, width: f32) -> Stroke {
    Stroke { paint: rgb::Color::new(ink[0], ink[1], ink[2]).into(), width, ..Stroke::default() }
}

fn build(steps: &[Step]) -> Option<Path> {
    let mut path = PathBuilder::new();
    for step in steps {
        match *step {
            Step::Move(x, y) => path.move_to(x, y),
            Step::Line(x, y) => path.line_to(x, y),
            Step::Cubic(a, b, c, d, x, y) => path.cubic_to(a, b, c, d, x, y),
            Step::Close => path.close(),
        }
    }
    path.finish()
}
