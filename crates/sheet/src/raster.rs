//! Drawings to PNG.

use crate::drawing::{Drawing, Mark, Pixels, Step};
use crate::ink::Rgb;
use tiny_skia::{
    FillRule, FilterQuality, IntSize, Mask, Paint, Path, PathBuilder, Pixmap, PixmapPaint, Stroke, Transform,
};

/// Greatest width or height of a picture, pixels.
const LARGEST: f32 = 8000.0;

/// A drawing as PNG bytes, `scale` pixels for a unit, on a ground.
pub(crate) fn png(drawing: &Drawing, ground: Rgb, scale: f32) -> Vec<u8> {
    let side = |length: f32| (length * scale).round().clamp(1.0, LARGEST) as u32;
    let Some(mut map) = Pixmap::new(side(drawing.width), side(drawing.height)) else { return Vec::new() };
    map.fill(tiny_skia::Color::from_rgba8(ground[0], ground[1], ground[2], 255));
    let by = Transform::from_scale(scale, scale);
    for mark in &drawing.marks {
        draw(&mut map, mark, by, scale, drawing);
    }
    encode(&map)
}

fn draw(map: &mut Pixmap, mark: &Mark, by: Transform, scale: f32, drawing: &Drawing) {
    match mark {
        Mark::Fill { path, ink } => {
            if let Some(path) = build(path) {
                map.fill_path(&path, &paint(*ink), FillRule::EvenOdd, by, None);
            }
        }
        Mark::Line { path, ink, width } => {
            if let Some(path) = build(path) {
                let stroke = Stroke { width: *width, ..Stroke::default() };
                map.stroke_path(&path, &paint(*ink), &stroke, by, None);
            }
        }
        Mark::Hatch { path, lines, ink, width } => {
            let (Some(path), Some(mut mask)) = (build(path), Mask::new(map.width(), map.height())) else { return };
            mask.fill_path(&path, FillRule::EvenOdd, true, by);
            let mut all = PathBuilder::new();
            for l in lines {
                all.move_to(l[0], l[1]);
                all.line_to(l[2], l[3]);
            }
            if let Some(all) = all.finish() {
                let stroke = Stroke { width: *width, ..Stroke::default() };
                map.stroke_path(&all, &paint(*ink), &stroke, by, Some(&mask));
            }
        }
        Mark::Text { x, y, size, cut, ink, text } => {
            let mut outlines = PathBuilder::new();
            let mut pen = *x;
            for glyph in drawing.lettering.shape(text, *cut) {
                let (dx, dy) = (glyph.shift[0] * size, glyph.shift[1] * size);
                drawing.lettering.outline(glyph.id, *cut, *size, pen + dx, y - dy, &mut outlines);
                pen += glyph.advance * size;
            }
            if let Some(path) = outlines.finish() {
                map.fill_path(&path, &paint(*ink), FillRule::Winding, by, None);
            }
        }
        Mark::Pixels { x, y, width, height, pixels } => place(map, pixels, [*x, *y, *width, *height], scale),
    }
}

/// Places pixels; where they were made for this scale they are copied as they are.
fn place(map: &mut Pixmap, pixels: &Pixels, [x, y, width, height]: [f32; 4], scale: f32) {
    if pixels.columns == 0 || pixels.rows == 0 {
        return;
    }
    let (columns, rows) = (u32::try_from(pixels.columns).ok(), u32::try_from(pixels.rows).ok());
    let (Some(columns), Some(rows)) = (columns, rows) else { return };
    let bytes: Vec<u8> = pixels.colours.iter().flat_map(|c| [c[0], c[1], c[2], 255]).collect();
    let Some(picture) = IntSize::from_wh(columns, rows).and_then(|size| Pixmap::from_vec(bytes, size)) else { return };
    let (sx, sy) = (width * scale / columns as f32, height * scale / rows as f32);
    let fits = (sx - 1.0).abs() * columns as f32 <= 0.6 && (sy - 1.0).abs() * rows as f32 <= 0.6;
    if fits {
        let (left, top) = ((x * scale).round() as i32, (y * scale).round() as i32);
        let plain = PixmapPaint { quality: FilterQuality::Nearest, ..PixmapPaint::default() };
        map.draw_pixmap(left, top, picture.as_ref(), &plain, Transform::identity(), None);
    } else {
        let smooth = PixmapPaint { quality: FilterQuality::Bilinear, ..PixmapPaint::default() };
        let by = Transform::from_row(sx, 0.0, 0.0, sy, x * scale, y * scale);
        map.draw_pixmap(0, 0, picture.as_ref(), &smooth, by, None);
    }
}

fn paint(ink: Rgb) -> Paint<'static> {
    let mut paint = Paint::default();
    paint.set_color_rgba8(ink[0], ink[1], ink[2], 255);
    paint.anti_alias = true;
    paint
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

/// A block of pixels as PNG bytes; nothing if it is empty.
pub(crate) fn pixels_png(pixels: &Pixels) -> Vec<u8> {
    let (columns, rows) = (u32::try_from(pixels.columns), u32::try_from(pixels.rows));
    let (Ok(columns), Ok(rows)) = (columns, rows) else { return Vec::new() };
    rgb_png(columns, rows, pixels.colours.as_flattened())
}

fn encode(map: &Pixmap) -> Vec<u8> {
    let opaque: Vec<u8> = map.data().chunks_exact(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
    rgb_png(map.width(), map.height(), &opaque)
}

/// RGB PNG with the sRGB chunk and nothing else: no time, no text.
fn rgb_png(width: u32, height: u32, opaque: &[u8]) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    encoder.set_compression(png::Compression::Fast);
    // Writing to memory fails only on a size of zero.
    match encoder.write_header().and_then(|mut writer| writer.write_image_data(opaque)) {
        Ok(()) => bytes,
        Err(_) => Vec::new(),
    }
}
