//! A folder that appears whole or not at all.
//!
//! Files are written into a sibling folder, each flushed to the disk, and the finished folder takes the place of the
//! old one in a single exchange where the system has it; elsewhere the old one steps aside first, and a run that was
//! killed between the two is mended by the next. Only a folder of ours is ever replaced, and a packet only by a packet.

use std::io;
use std::path::{Path, PathBuf};

/// What the folder needs of a disk; the tests put one under it that fails.
pub trait Disk {
    /// Whether something is there.
    fn exists(&self, path: &Path) -> bool;
    /// The bytes of a file.
    ///
    /// # Errors
    /// As the system says.
    fn read(&self, path: &Path) -> io::Result<Vec<u8>>;
    /// Whether a folder has nothing in it.
    ///
    /// # Errors
    /// As the system says; also if it is no folder.
    fn is_empty_folder(&self, path: &Path) -> io::Result<bool>;
    /// Makes a folder and those above it.
    ///
    /// # Errors
    /// As the system says.
    fn make_folder(&self, path: &Path) -> io::Result<()>;
    /// Writes a file and flushes it to the disk.
    ///
    /// # Errors
    /// As the system says.
    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<()>;
    /// Puts two folders in each other's place at once.
    ///
    /// # Errors
    /// [`io::ErrorKind::Unsupported`] where the system can't.
    fn exchange(&self, a: &Path, b: &Path) -> io::Result<()>;
    /// Renames.
    ///
    /// # Errors
    /// As the system says.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Removes a folder and all in it.
    ///
    /// # Errors
    /// As the system says.
    fn remove(&self, path: &Path) -> io::Result<()>;
    /// Takes a lock that lasts until it is dropped; `None` if another run holds it.
    ///
    /// # Errors
    /// As the system says.
    fn lock(&self, path: &Path) -> io::Result<Option<Lock>>;
}

/// The real disk.
#[derive(Debug, Clone, Copy, Default)]
pub struct RealDisk;

/// Why a folder was not placed. The old one, if any, is untouched.
#[derive(Debug)]
pub enum PlaceError {
    /// Something is there that no packet made.
    NotOurs(PathBuf),
    /// A packet is there, which only a whole packet replaces.
    HoldsPacket(PathBuf),
    /// Another run is writing it.
    Locked(PathBuf),
    /// Stopped by the maker.
    Stopped,
    /// The system refused: what was tried, where, and why.
    System(&'static str, PathBuf, io::Error),
}

/// The file by which a packet knows its own.
pub const MANIFEST: &str = "manifest.json";
/// What the manifest begins with.
pub const MARK: &str = "{\n  \"made_by\": \"platewright\"";
/// What the manifest of a report begins with.
pub const REPORT_MARK: &str = "{\n  \"made_by\": \"platewright\",\n  \"holds\": \"report\"";

/// What a folder holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holds {
    /// A proven packet.
    Packet,
    /// A report with pictures: never replaces a packet.
    Report,
}

/// Places files (names may hold folders) as the folder `target`, or changes nothing.
///
/// # Errors
/// A [`PlaceError`].
pub fn place(
    disk: &dyn Disk,
    target: &Path,
    holds: Holds,
    files: &[(String, Vec<u8>)],
    stopped: &dyn Fn() -> bool,
) -> Result<(), PlaceError> {
    let beside = Beside::of(target)?;
    disk.make_folder(&beside.parent).map_err(|e| PlaceError::System("make the folder", beside.parent.clone(), e))?;
    let locked = disk.lock(&beside.lock).map_err(|e| PlaceError::System("lock", beside.lock.clone(), e))?;
    let _lock = locked.ok_or_else(|| PlaceError::Locked(target.to_owned()))?;
    mend(disk, target, &beside)?;
    replaceable(disk, target, holds)?;
    let written = write_all(disk, &beside.new, files, stopped).and_then(|()| take_place(disk, target, &beside));
    if written.is_err() && disk.exists(&beside.new) {
        // Best effort: what stays is removed by the next run.
        let _ = disk.remove(&beside.new);
    }
    written
}

/// Whether a packet or report may ever stand at `target`, to be asked before the work is done.
///
/// # Errors
/// A [`PlaceError`] if it has no name of its own or something is there that may not be replaced.
pub fn may_place(disk: &dyn Disk, target: &Path, holds: Holds) -> Result<(), PlaceError> {
    Beside::of(target)?;
    replaceable(disk, target, holds)
}

/// The names beside a folder.
struct Beside {
    parent: PathBuf,
    new: PathBuf,
    old: PathBuf,
    lock: PathBuf,
}

impl Beside {
    fn of(target: &Path) -> Result<Self, PlaceError> {
        let no_name = || io::Error::new(io::ErrorKind::InvalidInput, "it has no name of its own");
        let name = target.file_name().ok_or_else(|| PlaceError::System("use", target.to_owned(), no_name()))?;
        let parent = match target.parent() {
            Some(p) if !p.as_os_str().is_empty() => p.to_owned(),
            _ => PathBuf::from("."),
        };
        let named = |end: &str| {
            let mut file = std::ffi::OsString::from(".");
            file.push(name);
            file.push(end);
            parent.join(file)
        };
        Ok(Self { new: named(".new"), old: named(".old"), lock: named(".lock"), parent })
    }
}

/// Puts right what a killed run left: an old folder that stepped aside comes back, half a new one goes.
fn mend(disk: &dyn Disk, target: &Path, beside: &Beside) -> Result<(), PlaceError> {
    if disk.exists(&beside.old) {
        if disk.exists(target) {
            disk.remove(&beside.old).map_err(|e| PlaceError::System("remove", beside.old.clone(), e))?;
        } else {
            disk.rename(&beside.old, target).map_err(|e| PlaceError::System("bring back", beside.old.clone(), e))?;
        }
    }
    if disk.exists(&beside.new) {
        disk.remove(&beside.new).map_err(|e| PlaceError::System("remove", beside.new.clone(), e))?;
    }
    Ok(())
}

/// Whether nothing would be lost by replacing what is there: an empty folder, a report, or by a packet a packet.
fn replaceable(disk: &dyn Disk, target: &Path, holds: Holds) -> Result<(), PlaceError> {
    if !disk.exists(target) || disk.is_empty_folder(target).unwrap_or(false) {
        return Ok(());
    }
    let manifest = disk.read(&target.join(MANIFEST)).unwrap_or_default();
    if !manifest.starts_with(MARK.as_bytes()) {
        return Err(PlaceError::NotOurs(target.to_owned()));
    }
    if holds == Holds::Report && !manifest.starts_with(REPORT_MARK.as_bytes()) {
        return Err(PlaceError::HoldsPacket(target.to_owned()));
    }
    Ok(())
}

fn write_all(
    disk: &dyn Disk,
    new: &Path,
    files: &[(String, Vec<u8>)],
    stopped: &dyn Fn() -> bool,
) -> Result<(), PlaceError> {
    disk.make_folder(new).map_err(|e| PlaceError::System("make the folder", new.to_owned(), e))?;
    for (name, bytes) in files {
        if stopped() {
            return Err(PlaceError::Stopped);
        }
        let path = new.join(name);
        if let Some(folder) = path.parent() {
            disk.make_folder(folder).map_err(|e| PlaceError::System("make the folder", folder.to_owned(), e))?;
        }
        disk.write(&path, bytes).map_err(|e| PlaceError::System("write", path.clone(), e))?;
    }
    if stopped() { Err(PlaceError::Stopped) } else { Ok(()) }
}

fn take_place(disk: &dyn Disk, target: &Path, beside: &Beside) -> Result<(), PlaceError> {
    let refused = |what: &'static str, path: &Path| {
        let path = path.to_owned();
        move |e| PlaceError::System(what, path, e)
    };
    if !disk.exists(target) {
        return disk.rename(&beside.new, target).map_err(refused("put in place", target));
    }
    match disk.exchange(&beside.new, target) {
        Ok(()) => {
            // The old folder now has the new one's name; if it can't go now it goes with the next run.
            let _ = disk.remove(&beside.new);
            Ok(())
        }
        Err(e) if e.kind() == io::ErrorKind::Unsupported || e.kind() == io::ErrorKind::InvalidInput => {
            disk.rename(target, &beside.old).map_err(refused("step aside", target))?;
            if let Err(e) = disk.rename(&beside.new, target) {
                let _ = disk.rename(&beside.old, target);
                return Err(PlaceError::System("put in place", target.to_owned(), e));
            }
            let _ = disk.remove(&beside.old);
            Ok(())
        }
        Err(e) => Err(PlaceError::System("put in place", target.to_owned(), e)),
    }
}

impl Disk for RealDisk {
    fn exists(&self, path: &Path) -> bool {
        path.symlink_metadata().is_ok()
    }

    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        std::fs::read(path)
    }

    fn is_empty_folder(&self, path: &Path) -> io::Result<bool> {
        Ok(std::fs::read_dir(path)?.next().is_none())
    }

    fn make_folder(&self, path: &Path) -> io::Result<()> {
        std::fs::create_dir_all(path)
    }

    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        use std::io::Write;
        let mut file = std::fs::File::create(path)?;
        file.write_all(bytes)?;
        file.sync_all()
    }

    #[cfg(target_os = "linux")]
    fn exchange(&self, a: &Path, b: &Path) -> io::Result<()> {
        use rustix::fs::{CWD, RenameFlags, renameat_with};
        renameat_with(CWD, a, CWD, b, RenameFlags::EXCHANGE).map_err(|e| match e {
            rustix::io::Errno::NOSYS | rustix::io::Errno::INVAL => io::Error::from(io::ErrorKind::Unsupported),
            e => e.into(),
        })
    }

    #[cfg(not(target_os = "linux"))]
    fn exchange(&self, _: &Path, _: &Path) -> io::Result<()> {
        Err(io::Error::from(io::ErrorKind::Unsupported))
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        std::fs::rename(from, to)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        std::fs::remove_dir_all(path)
    }

    fn lock(&self, path: &Path) -> io::Result<Option<Lock>> {
        let file = std::fs::File::create(path)?;
        match file.try_lock() {
            Ok(()) => Ok(Some(Lock { _file: file, path: path.to_owned() })),
            Err(std::fs::TryLockError::WouldBlock) => Ok(None),
            Err(std::fs::TryLockError::Error(e)) => Err(e),
        }
    }
}

/// A lock held on a folder's name; dropped, it is free.
#[derive(Debug)]
pub struct Lock {
    _file: std::fs::File,
    path: PathBuf,
}

impl Drop for Lock {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.path);
    }
}
