//! Programs from elsewhere are read as streams: their text is in memory once, and hashed as it passes.

#![expect(clippy::unwrap_used, reason = "a file that can't be written fails its test")]

use packet::elsewhere::Foreign;
use peak_alloc::PeakAlloc;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

#[global_allocator]
static COUNTED: PeakAlloc = PeakAlloc;

/// A program of about so many bytes, most of them comments, so that its text is what it takes.
fn write_program(path: &Path, bytes: usize) -> usize {
    let mut file = BufWriter::new(File::create(path).unwrap());
    file.write_all(b"G21 G17 G90 G94\nT1\nS18000 M3\nG0 Z8\nG0 X0 Y0\n").unwrap();
    let (mut written, mut lines) = (0, 0);
    while written < bytes {
        lines += 1;
        let line = format!("({:>200})\n", lines);
        file.write_all(line.as_bytes()).unwrap();
        written += line.len();
        if lines % 20 == 0 {
            let line = format!("G1 X{} Y{} F900\n", lines % 90, lines % 50);
            file.write_all(line.as_bytes()).unwrap();
            written += line.len();
        }
    }
    file.write_all(b"G0 Z8\nM5\nM30\n").unwrap();
    file.flush().unwrap();
    lines / 20 + 3
}

#[test]
fn a_long_program_is_held_once() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("long.nc");
    let moves = write_program(&path, 24_000_000);
    let length = std::fs::metadata(&path).unwrap().len() as usize;
    let before = COUNTED.current_usage();
    COUNTED.reset_peak_usage();
    let foreign = Foreign::open(&path, Some(1)).unwrap();
    let (most, kept) = (COUNTED.peak_usage() - before, COUNTED.current_usage() - before);
    println!("{length} bytes: {most} at most, {kept} kept");
    assert_eq!(foreign.program().moves.len(), moves);
    assert!(foreign.program().doubts.is_empty());
    // Held twice it would be twice the length; the moves of so short a list are kept besides.
    assert!(most < length * 5 / 4 + 2_000_000, "{most} for {length}");
    // The hash is that of the whole file, as it is of bytes at hand.
    let bytes = std::fs::read(&path).unwrap();
    assert_eq!(foreign.listed(), &packet::Listed::of("long.nc", &bytes));
}

#[test]
fn what_cannot_be_read_says_so() {
    let dir = tempfile::tempdir().unwrap();
    assert!(Foreign::open(&dir.path().join("none.nc"), None).is_err());
    assert!(Foreign::open(dir.path(), None).is_err(), "a folder is no program");
}
