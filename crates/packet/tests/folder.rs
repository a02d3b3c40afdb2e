//! The packet's folder under a disk that fails: whatever breaks, what was there stays there, whole.

use packet::folder::{Disk, Holds, MANIFEST, MARK, PlaceError, REPORT_MARK, RealDisk, may_place};
use std::cell::Cell;
use std::fs;
use std::io;
use std::path::Path;

/// The real disk that refuses every call after the first few, with an error of a kind.
struct Failing {
    calls_left: Cell<usize>,
    kind: io::ErrorKind,
    exchanges: bool,
}

impl Failing {
    fn call(&self) -> io::Result<()> {
        match self.calls_left.get() {
            0 => Err(io::Error::from(self.kind)),
            n => {
                self.calls_left.set(n - 1);
                Ok(())
            }
        }
    }
}

impl Disk for Failing {
    fn exists(&self, path: &Path) -> bool {
        RealDisk.exists(path)
    }
    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        RealDisk.read(path)
    }
    fn is_empty_folder(&self, path: &Path) -> io::Result<bool> {
        RealDisk.is_empty_folder(path)
    }
    fn make_folder(&self, path: &Path) -> io::Result<()> {
        self.call()?;
        RealDisk.make_folder(path)
    }
    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        if let Err(e) = self.call() {
            // A full disk leaves half a file.
            RealDisk.write(path, &bytes[..bytes.len() / 2])?;
            return Err(e);
        }
        RealDisk.write(path, bytes)
    }
    fn exchange(&self, a: &Path, b: &Path) -> io::Result<()> {
        if !self.exchanges {
            return Err(io::Error::from(io::ErrorKind::Unsupported));
        }
        self.call()?;
        RealDisk.exchange(a, b)
    }
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.call()?;
        RealDisk.rename(from, to)
    }
    fn remove(&self, path: &Path) -> io::Result<()> {
        self.call()?;
        RealDisk.remove(path)
    }
    fn lock(&self, path: &Path) -> io::Result<Option<packet::folder::Lock>> {
        RealDisk.lock(path)
    }
}

/// Places a packet.
fn place(
    disk: &dyn Disk,
    target: &Path,
    files: &[(String, Vec<u8>)],
    stopped: &dyn Fn() -> bool,
) -> Result<(), PlaceError> {
    packet::folder::place(disk, target, Holds::Packet, files, stopped)
}

fn files(mark: &str) -> Vec<(String, Vec<u8>)> {
    vec![
        ("1-clear.nc".into(), format!("({mark})\nM30\n").into_bytes()),
        ("pictures/face.png".into(), vec![0; 5000]),
        (MANIFEST.into(), format!("{MARK},\n  \"mark\": \"{mark}\"\n}}\n").into_bytes()),
    ]
}

/// Which packet is in the folder: its mark, if every file of it is there and whole.
fn whole(folder: &Path) -> Option<String> {
    ["old", "new"].into_iter().map(String::from).find(|mark| {
        files(mark).iter().all(|(name, bytes)| fs::read(folder.join(name)).is_ok_and(|there| &there == bytes))
    })
}

fn go_on() -> bool {
    false
}

#[test]
fn a_packet_is_placed_and_replaced() {
    let dir = tempfile::tempdir().unwrap();
    let target = dir.path().join("deep/packet");
    for mark in ["old", "new", "old"] {
        place(&RealDisk, &target, &files(mark), &go_on).unwrap();
        assert_eq!(whole(&target).as_deref(), Some(mark));
        assert_eq!(fs::read_dir(target.parent().unwrap()).unwrap().count(), 1, "nothing stays beside it");
    }
}

#[test]
fn whatever_fails_an_older_packet_is_whole() {
    for kind in [io::ErrorKind::StorageFull, io::ErrorKind::PermissionDenied] {
        for exchanges in [true, false] {
            let mut failed = 0;
            for calls in 0.. {
                let dir = tempfile::tempdir().unwrap();
                let target = dir.path().join("packet");
                place(&RealDisk, &target, &files("old"), &go_on).unwrap();
                let disk = Failing { calls_left: Cell::new(calls), kind, exchanges };
                let result = place(&disk, &target, &files("new"), &go_on);
                if disk.calls_left.get() > 0 {
                    assert_eq!(whole(&target).as_deref(), Some("new"));
                    break;
                }
                if let Err(error) = result {
                    failed += 1;
                    let PlaceError::System(_, path, cause) = error else { panic!("{error:?}") };
                    assert!(path.starts_with(dir.path()) && cause.kind() == kind);
                    // If even the way back failed, the next run brings the old packet back first.
                    if !target.exists() {
                        assert!(place(&RealDisk, &target, &files("new"), &|| true).is_err());
                    }
                    assert_eq!(whole(&target).as_deref(), Some("old"), "call {calls}");
                } else {
                    assert_eq!(whole(&target).as_deref(), Some("new"), "call {calls}");
                }
                // The next run finds nothing in its way.
                place(&RealDisk, &target, &files("new"), &go_on).unwrap();
                assert_eq!(whole(&target).as_deref(), Some("new"));
                assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
            }
            assert!(failed >= 5, "{failed} failures were tried");
        }
    }
}

#[test]
fn a_run_that_was_killed_is_mended() {
    let dir = tempfile::tempdir().unwrap();
    let target = dir.path().join("packet");
    // Killed between stepping aside and taking the place, with half a new folder.
    place(&RealDisk, &dir.path().join(".packet.old"), &files("old"), &go_on).unwrap();
    fs::create_dir(dir.path().join(".packet.new")).unwrap();
    assert!(matches!(place(&RealDisk, &target, &files("new"), &|| true), Err(PlaceError::Stopped)));
    assert_eq!(whole(&target).as_deref(), Some("old"));
}

#[test]
fn what_no_packet_made_is_never_replaced() {
    let dir = tempfile::tempdir().unwrap();
    let target = dir.path().join("photos");
    fs::create_dir(&target).unwrap();
    fs::write(target.join("a.jpg"), "x").unwrap();
    assert!(matches!(place(&RealDisk, &target, &files("new"), &go_on), Err(PlaceError::NotOurs(_))));
    fs::write(target.join(MANIFEST), "{ \"made_by\": \"somebody\" }").unwrap();
    assert!(matches!(place(&RealDisk, &target, &files("new"), &go_on), Err(PlaceError::NotOurs(_))));
    assert_eq!(fs::read(target.join("a.jpg")).unwrap(), b"x");
    let file = dir.path().join("file");
    fs::write(&file, "x").unwrap();
    assert!(matches!(place(&RealDisk, &file, &files("new"), &go_on), Err(PlaceError::NotOurs(_))));
}

#[test]
fn two_runs_do_not_write_at_once() {
    let dir = tempfile::tempdir().unwrap();
    let target = dir.path().join("packet");
    place(&RealDisk, &target, &files("old"), &go_on).unwrap();
    let held = RealDisk.lock(&dir.path().join(".packet.lock")).unwrap();
    assert!(held.is_some());
    assert!(matches!(place(&RealDisk, &target, &files("new"), &go_on), Err(PlaceError::Locked(_))));
    assert_eq!(whole(&target).as_deref(), Some("old"));
}

/// A report takes the place of a report and never of a packet; a packet takes either's.
#[test]
fn a_report_never_replaces_a_packet() {
    let dir = tempfile::tempdir().unwrap();
    let target = dir.path().join("packet");
    let report = |words: &str| {
        vec![
            ("proof.txt".to_owned(), words.as_bytes().to_vec()),
            (MANIFEST.to_owned(), format!("{REPORT_MARK}\n}}\n").into_bytes()),
        ]
    };
    let place_report = |words: &str| packet::folder::place(&RealDisk, &target, Holds::Report, &report(words), &go_on);
    place(&RealDisk, &target, &files("old"), &go_on).unwrap();
    assert!(matches!(may_place(&RealDisk, &target, Holds::Report), Err(PlaceError::HoldsPacket(_))));
    assert!(matches!(place_report("first"), Err(PlaceError::HoldsPacket(_))));
    assert_eq!(whole(&target).as_deref(), Some("old"));
    fs::remove_dir_all(&target).unwrap();
    for words in ["first", "second"] {
        place_report(words).unwrap();
        assert_eq!(fs::read_to_string(target.join("proof.txt")).unwrap(), words);
    }
    place(&RealDisk, &target, &files("new"), &go_on).unwrap();
    assert_eq!(whole(&target).as_deref(), Some("new"));
}
