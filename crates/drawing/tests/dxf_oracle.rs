//! The entities counted in every case against a reader of other hands: the crate `dxf`. It leaves out kinds that it doesn't
//! know without a word, so only the kinds that both know are compared; one of ours that it lacks would show.

use drawing::{ReadOptions, read};
use dxf::entities::EntityType;
use std::collections::BTreeMap;
use std::path::Path;

/// The name a DXF file gives a kind, for the kinds that make contours.
fn kind(specific: &EntityType) -> Option<&'static str> {
    Some(match specific {
        EntityType::Line(_) => "LINE",
        EntityType::Arc(_) => "ARC",
        EntityType::Circle(_) => "CIRCLE",
        EntityType::LwPolyline(_) => "LWPOLYLINE",
        EntityType::Polyline(_) => "POLYLINE",
        EntityType::Ellipse(_) => "ELLIPSE",
        EntityType::Spline(_) => "SPLINE",
        EntityType::Insert(_) => "INSERT",
        _ => return None,
    })
}

#[test]
fn counts_agree_with_another_reader() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/dxf-cases");
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    files.retain(|p| p.extension().is_some_and(|e| e == "dxf"));
    files.sort();
    let (mut compared, mut entities) = (0, 0);
    for path in files {
        let name = path.file_name().unwrap().to_str().unwrap();
        // A file cut short is refused here; the other reader gives what it has.
        if name.starts_with("28_") {
            continue;
        }
        let bytes = std::fs::read(&path).unwrap();
        let theirs = dxf::Drawing::load(&mut bytes.as_slice()).unwrap_or_else(|e| panic!("{name}: {e}"));
        let mut expected: BTreeMap<&str, usize> = BTreeMap::new();
        for entity in theirs.entities() {
            if let Some(kind) = kind(&entity.specific) {
                *expected.entry(kind).or_default() += 1;
                entities += 1;
            }
        }
        let ours = read(name, &bytes, &ReadOptions::default()).raw_entities;
        for (kind, count) in &expected {
            assert_eq!(ours.get(*kind), Some(count), "{name}: {kind}");
        }
        let known = ["LINE", "ARC", "CIRCLE", "LWPOLYLINE", "POLYLINE", "ELLIPSE", "SPLINE", "INSERT"];
        for kind in known.iter().filter(|k| ours.contains_key(**k)) {
            assert!(expected.contains_key(kind), "{name}: {kind} is only in ours");
        }
        compared += 1;
    }
    assert!(compared == 35 && entities > 100, "{compared} files, {entities} entities");
}
