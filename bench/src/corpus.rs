//! Icons from crates and folders, glyphs from font files, as regions at a size.

use drawing::ReadOptions;
use plane::{Contour, FIT, FLATTEN, FillRule, Point, Region, fit_closed, regions_from_rings};
use std::path::{Path, PathBuf};
use std::process::Command;

/// A region with the name it has in its set.
pub struct Named {
    /// Set, name and size.
    pub name: String,
    /// mm.
    pub region: Region,
}

/// The icons of a crate of path data (`icondata_hi`, `icondata_bs`) that `wanted` picks by name: name, view box, markup. They are taken
/// from the crate's source, since it offers no list of them.
pub fn icons_of_crate(package: &str, wanted: impl Fn(&str) -> bool) -> Vec<(String, String, String)> {
    let version = Command::new("rustc").arg("-vV").output().expect("rustc runs");
    let version = String::from_utf8(version.stdout).expect("rustc prints text");
    let host = version.lines().find_map(|l| l.strip_prefix("host: ")).expect("rustc names its host");
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--offline", "--filter-platform", host])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo runs");
    let metadata: serde_json::Value = serde_json::from_slice(&output.stdout).expect("cargo prints JSON");
    let packages = metadata["packages"].as_array().expect("a list of packages");
    let found = packages.iter().find(|p| p["name"] == package).expect("the crate is a dependency");
    let source = found["targets"][0]["src_path"].as_str().expect("a library has a source");
    let text = std::fs::read_to_string(source).expect("the source is there");
    let block = |b: &str| {
        let name = b.split(':').next()?.to_owned();
        let view = b.split("view_box: Some(\"").nth(1)?.split('"').next()?.to_owned();
        let data = b.split("data: r###\"").nth(1)?.split("\"###").next()?.to_owned();
        wanted(&name).then_some((name, view, data))
    };
    text.split("pub static ").skip(1).filter_map(block).collect()
}

/// The shapes of the sets that the environment's `CORPORA` names (`hi`, `bs`, `maki`, `fonts`, with commas), icons so many mm wide and glyphs with
/// capitals so many mm high. `MAKI` names the folder of SVG files of that set, `FONTS` the font files, separated by colons, and `MOST`
/// how many icons are taken of each set.
pub fn shapes(widths: &[f64], heights: &[f64]) -> Vec<Named> {
    let sets = std::env::var("CORPORA").unwrap_or_else(|_| "hi".to_owned());
    let most: usize = std::env::var("MOST").ok().and_then(|n| n.parse().ok()).unwrap_or(usize::MAX);
    let mut shapes = Vec::new();
    for set in sets.split(',') {
        let icons = match set {
            "hi" => icons_of_crate("icondata_hi", |n| n.contains("SolidLg")),
            "bs" => icons_of_crate("icondata_bs", |_| true),
            "maki" => icons_of_folder(Path::new(&std::env::var("MAKI").expect("MAKI names a folder"))),
            "fonts" => {
                for file in std::env::var("FONTS").expect("FONTS names files").split(':') {
                    shapes.extend(heights.iter().flat_map(|&h| glyphs(Path::new(file), h)));
                }
                continue;
            }
            other => panic!("no set {other}"),
        };
        for (name, view, data) in icons.iter().take(most) {
            shapes.extend(widths.iter().filter_map(|&size| icon(name, view, data, size)));
        }
    }
    shapes
}

/// Every region of an icon, its view box drawn `size` mm wide.
pub fn icon(name: &str, view: &str, data: &str, size: f64) -> Option<Named> {
    let text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{size}mm\" height=\"{size}mm\" viewBox=\"{view}\"><g id=\"icon\">{data}</g></svg>"
    );
    let read = drawing::read("icon.svg", text.as_bytes(), &ReadOptions::default());
    let (region, _) = read.region("icon");
    // Shapes of one icon may overlap or touch along edges: an offset is asked of what they fill together.
    let region = plane::check(region.contours(), FillRule::NonZero).region.without_slivers(intake::SLIVER);
    (!region.is_empty()).then(|| Named { name: format!("{name} at {size}"), region })
}

/// The icons of a folder of SVG files, in order of name.
pub fn icons_of_folder(folder: &Path) -> Vec<(String, String, String)> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap_or_else(|e| panic!("{}: {e}", folder.display()))
        .filter_map(|e| Some(e.ok()?.path()))
        .filter(|p| p.extension().is_some_and(|e| e == "svg"))
        .collect();
    files.sort();
    let mut icons = Vec::new();
    for file in files {
        let text = std::fs::read_to_string(&file).expect("a readable file");
        let body = text.find("<svg").and_then(|at| text[at..].find('>').map(|end| at + end + 1));
        let (Some(body), Some(end)) = (body, text.rfind("</svg>")) else { continue };
        let attribute =
            |key: &str| Some(text[..body].split(&format!("{key}=\"")).nth(1)?.split('"').next()?.to_owned());
        let view =
            attribute("viewBox").or_else(|| Some(format!("0 0 {} {}", attribute("width")?, attribute("height")?)));
        let name = file.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
        icons.extend(view.map(|view| (name, view, text[body..end].to_owned())));
    }
    icons
}

/// Every glyph of the Latin blocks (U+0020 to U+024F) that a font file has, its capitals `height` mm high.
pub fn glyphs(file: &Path, height: f64) -> Vec<Named> {
    let bytes = std::fs::read(file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
    let face = ttf_parser::Face::parse(&bytes, 0).expect("a font file");
    let capital = face
        .glyph_index('H')
        .and_then(|g| face.glyph_bounding_box(g))
        .map_or(f64::from(face.units_per_em()), |b| f64::from(b.y_max));
    let scale = height / capital;
    let font = file.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    ('\u{20}'..='\u{24f}')
        .filter_map(|c| {
            let mut outline = Outline { scale, contours: Vec::new(), at: Point::default() };
            face.outline_glyph(face.glyph_index(c)?, &mut outline)?;
            let contours: Vec<Contour> = outline.contours.iter().map(|r| fit_closed(r, FIT)).collect();
            let region = regions_from_rings(&contours, FillRule::NonZero);
            (!region.is_empty()).then(|| Named { name: format!("{font} U+{:04X} at {height}", u32::from(c)), region })
        })
        .collect()
}

struct Outline {
    scale: f64,
    contours: Vec<Vec<Point>>,
    at: Point,
}

impl Outline {
    fn point(&self, x: f32, y: f32) -> Point {
        Point::new(f64::from(x) * self.scale, f64::from(y) * self.scale)
    }

    /// Points of a curve, evenly in its parameter, so close that chords stay within the flattening tolerance.
    fn curve(&mut self, control: f64, at: impl Fn(f64) -> Point) {
        let steps = (libm::sqrt(control / FLATTEN / 4.0).ceil() as usize).clamp(1, 10_000);
        if let Some(ring) = self.contours.last_mut() {
            ring.extend((1..=steps).map(|i| at(i as f64 / steps as f64)));
        }
    }
}

impl ttf_parser::OutlineBuilder for Outline {
    fn move_to(&mut self, x: f32, y: f32) {
        self.at = self.point(x, y);
        self.contours.push(vec![self.at]);
    }
    fn line_to(&mut self, x: f32, y: f32) {
        self.at = self.point(x, y);
        if let Some(ring) = self.contours.last_mut() {
            ring.push(self.at);
        }
    }
    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let (a, b, c) = (self.at, self.point(x1, y1), self.point(x, y));
        // A chord of a quadratic curve strays by at most |a - 2b + c| / 4 over n².
        self.curve((a + c - b * 2.0).norm(), |t| a.lerp(b, t).lerp(b.lerp(c, t), t));
        self.at = c;
    }
    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let (a, b, c, d) = (self.at, self.point(x1, y1), self.point(x2, y2), self.point(x, y));
        // The second derivative is at most 6 times the greater second difference; a chord strays by an eighth of it over n².
        let most = (a + c - b * 2.0).norm().max((b + d - c * 2.0).norm());
        self.curve(3.0 * most, |t| {
            let (ab, bc, cd) = (a.lerp(b, t), b.lerp(c, t), c.lerp(d, t));
            ab.lerp(bc, t).lerp(bc.lerp(cd, t), t)
        });
        self.at = d;
    }
    fn close(&mut self) {}
}

/// Made shapes that are hard for some: slots and necks at the limit for a radius of 1.5875, a comb, many holes, circles a micrometre
/// apart, collinear and doubled points.
pub fn made() -> Vec<Named> {
    let rectangle = |x: f64, y: f64, w: f64, h: f64| {
        Contour::rectangle(plane::Bounds { min: Point::new(x, y), max: Point::new(x + w, y + h) })
    };
    let polygon =
        |points: &[(f64, f64)]| Region::solid(Contour::polygon(points.iter().map(|&(x, y)| Point::new(x, y))));
    let mut shapes = Vec::new();
    let mut add = |name: &str, region: Region| shapes.push(Named { name: name.to_owned(), region });
    for by in [0.0, 0.01, -0.01] {
        let w = 3.175 + by;
        add(&format!("slot of 2r {by:+}"), Region::solid(rectangle(0.0, 0.0, 40.0, w)));
        let (low, high) = (10.0 - w / 2.0, 10.0 + w / 2.0);
        let dumb_bell = [
            (0.0, 0.0),
            (20.0, 0.0),
            (20.0, low),
            (30.0, low),
            (30.0, 0.0),
            (50.0, 0.0),
            (50.0, 20.0),
            (30.0, 20.0),
            (30.0, high),
            (20.0, high),
            (20.0, 20.0),
            (0.0, 20.0),
        ];
        add(&format!("neck of 2r {by:+}"), polygon(&dumb_bell));
    }
    let comb: Vec<(f64, f64)> = (0..40)
        .flat_map(|k| {
            let x = f64::from(k) * 2.5;
            [(x, 5.0), (x, 40.0), (x + 1.3, 40.0), (x + 1.3, 5.0)]
        })
        .chain([(100.0, 5.0), (100.0, 0.0), (0.0, 0.0)])
        .rev()
        .collect();
    add("comb", polygon(&comb));
    let mut sieve = Region::solid(rectangle(0.0, 0.0, 100.0, 50.0));
    for k in 0..200 {
        let at = Point::new(f64::from(k % 20) * 4.8 + 4.4, f64::from(k / 20) * 4.8 + 3.4);
        sieve.shapes[0].holes.push(Contour::circle(at, 1.0).reversed());
    }
    add("200 holes", sieve);
    let mut close = Region::solid(Contour::circle(Point::new(0.0, 0.0), 20.0));
    close.shapes[0].holes.push(Contour::circle(Point::new(-5.0, 0.0), 4.9995).reversed());
    close.shapes[0].holes.push(Contour::circle(Point::new(5.0, 0.0), 4.9995).reversed());
    add("circles a micrometre apart", close);
    let collinear: Vec<(f64, f64)> =
        (0..50).map(|k| (f64::from(k), 0.0)).chain((0..50).map(|k| (50.0 - f64::from(k), 30.0))).collect();
    add("collinear points", polygon(&collinear));
    add(
        "doubled points",
        polygon(&[(0.0, 0.0), (0.0, 0.0), (30.0, 0.0), (30.0, 0.0), (30.0, 20.0), (0.0, 20.0), (0.0, 20.0)]),
    );
    shapes
}
