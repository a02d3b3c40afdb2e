//! The plate file on the disk: read whole, replaced whole, and never over a change that was made elsewhere.

use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// Largest plate file that the page edits, bytes.
const LARGEST: u64 = 4 << 20;

/// The plate file.
#[derive(Debug, Clone)]
pub(crate) struct Paper {
    /// As the maker named it: drawing and shop are looked for beside it, as the command does.
    given: PathBuf,
    /// The file itself.
    path: PathBuf,
}

/// Why the file was not replaced.
#[derive(Debug)]
pub(crate) enum NotReplaced {
    /// It doesn't hold what was last seen; it is as it was found.
    Changed,
    /// The system refused.
    System(io::Error),
}

impl Paper {
    /// The file at a path, links followed once and for all: what a link points to is edited, not the link.
    ///
    /// # Errors
    /// If it isn't there.
    pub(crate) fn at(path: &Path) -> io::Result<Self> {
        Ok(Self { given: path.to_owned(), path: path.canonicalize()? })
    }

    /// Makes a file that isn't there yet, whole.
    ///
    /// # Errors
    /// If it is there, or the system refuses.
    pub(crate) fn begin(path: &Path, text: &str) -> io::Result<()> {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        let beside = path.with_file_name(format!(".{name}.page-new"));
        // One that a cut-off write left is nobody's.
        let _ = std::fs::remove_file(&beside);
        let mut file = std::fs::File::create_new(&beside)?;
        let written = file.write_all(text.as_bytes()).and_then(|()| file.sync_all());
        // A link, unlike a renaming, never takes another file's name.
        let placed = written.and_then(|()| std::fs::hard_link(&beside, path));
        let _ = std::fs::remove_file(&beside);
        placed
    }

    /// Whether the file itself, links followed, lies in a folder.
    pub(crate) fn is_within(&self, folder: &Path) -> bool {
        folder.canonicalize().is_ok_and(|folder| self.path.starts_with(folder))
    }

    /// As the maker named it.
    pub(crate) fn given(&self) -> &Path {
        &self.given
    }

    /// The folder in which the files that it names lie.
    pub(crate) fn beside(&self) -> &Path {
        self.given.parent().unwrap_or(Path::new(""))
    }

    fn folder(&self) -> &Path {
        self.path.parent().unwrap_or(Path::new("."))
    }

    /// Its name.
    pub(crate) fn name(&self) -> String {
        self.given.file_name().map_or_else(|| "plate.toml".into(), |n| n.to_string_lossy().into_owned())
    }

    /// A file beside this one, its name with something behind it.
    pub(crate) fn named_beside(&self, ending: &str) -> PathBuf {
        self.folder().join(format!("{}{ending}", self.name()))
    }

    /// Puts a text in the place of such a file: whole on the disk before it takes the name. A link of that name is replaced,
    /// not followed.
    ///
    /// # Errors
    /// If the system refuses; what was there is then still there.
    pub(crate) fn put_beside(&self, ending: &str, text: &str) -> io::Result<()> {
        let beside = self.written_beside(text)?;
        let placed = std::fs::rename(&beside, self.named_beside(ending));
        if placed.is_err() {
            let _ = std::fs::remove_file(&beside);
        }
        self.sync_folder();
        placed
    }

    /// Its bytes.
    ///
    /// # Errors
    /// If it can't be read or is too large to be one.
    pub(crate) fn read(&self) -> io::Result<Vec<u8>> {
        let found = std::fs::metadata(&self.path)?;
        if !found.is_file() || found.len() > LARGEST {
            return Err(io::Error::other("it is no plate file"));
        }
        std::fs::read(&self.path)
    }

    /// Puts `text` in the place of a text of which the hash is known. The new text is whole on the disk before it takes the
    /// name, and what it replaced is looked at once more afterwards: a change in between comes back.
    ///
    /// # Errors
    /// [`NotReplaced`]; the file then holds what it held.
    pub(crate) fn replace(&self, known: &str, text: &str) -> Result<(), NotReplaced> {
        if hash(&self.read().map_err(NotReplaced::System)?) != known {
            return Err(NotReplaced::Changed);
        }
        let beside = self.written_beside(text).map_err(NotReplaced::System)?;
        self.take_place(&beside, known)
    }

    /// The new text in a file of its own beside this one, with its permissions.
    fn written_beside(&self, text: &str) -> io::Result<PathBuf> {
        for number in 0..1000u32 {
            let beside = self.folder().join(format!(".{}.page-{number}", self.name()));
            let mut file = match std::fs::File::create_new(&beside) {
                Ok(file) => file,
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => continue,
                Err(error) => return Err(error),
            };
            let permissions = std::fs::metadata(&self.path)?.permissions();
            let written = file
                .write_all(text.as_bytes())
                .and_then(|()| file.set_permissions(permissions))
                .and_then(|()| file.sync_all());
            if let Err(error) = written {
                let _ = std::fs::remove_file(&beside);
                return Err(error);
            }
            return Ok(beside);
        }
        Err(io::Error::other("the folder is full of files that cut-off writes left"))
    }

    #[cfg(target_os = "linux")]
    fn take_place(&self, beside: &Path, known: &str) -> Result<(), NotReplaced> {
        use rustix::fs::{CWD, RenameFlags, renameat_with};
        let exchange = || renameat_with(CWD, beside, CWD, &self.path, RenameFlags::EXCHANGE);
        match exchange() {
            Ok(()) => {
                // The name beside now holds what was replaced.
                // It is removed only if it is known; where that can't be told it stays.
                let old = std::fs::read(beside).map_err(NotReplaced::System)?;
                if hash(&old) != known {
                    exchange().map_err(|e| NotReplaced::System(e.into()))?;
                    let _ = std::fs::remove_file(beside);
                    return Err(NotReplaced::Changed);
                }
                let _ = std::fs::remove_file(beside);
                self.sync_folder();
                Ok(())
            }
            Err(rustix::io::Errno::NOSYS | rustix::io::Errno::INVAL) => self.take_place_plainly(beside),
            Err(error) => {
                let _ = std::fs::remove_file(beside);
                Err(NotReplaced::System(error.into()))
            }
        }
    }

    #[cfg(not(target_os = "linux"))]
    fn take_place(&self, beside: &Path, _: &str) -> Result<(), NotReplaced> {
        self.take_place_plainly(beside)
    }

    fn take_place_plainly(&self, beside: &Path) -> Result<(), NotReplaced> {
        if let Err(error) = std::fs::rename(beside, &self.path) {
            let _ = std::fs::remove_file(beside);
            return Err(NotReplaced::System(error));
        }
        self.sync_folder();
        Ok(())
    }

    /// So that the name survives a power cut; where folders can't be synced the text itself is still whole.
    fn sync_folder(&self) {
        if let Ok(folder) = std::fs::File::open(self.folder()) {
            let _ = folder.sync_all();
        }
    }
}

/// SHA-256 in hexadecimal digits.
pub(crate) fn hash(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(64);
    for byte in Sha256::digest(bytes) {
        let _ = write!(text, "{byte:02x}");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_known_text_is_replaced_and_nothing_is_left_beside() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("plate.toml");
        std::fs::write(&file, "a").unwrap();
        let paper = Paper::at(&file).unwrap();
        paper.replace(&hash(b"a"), "b").unwrap();
        assert_eq!(std::fs::read(&file).unwrap(), b"b");
        assert!(matches!(paper.replace(&hash(b"a"), "c"), Err(NotReplaced::Changed)));
        assert_eq!(std::fs::read(&file).unwrap(), b"b");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    /// The change comes after the first look: the exchange finds it and gives it back.
    #[cfg(target_os = "linux")]
    #[test]
    fn a_change_at_the_last_moment_comes_back() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("plate.toml");
        std::fs::write(&file, "theirs").unwrap();
        let paper = Paper::at(&file).unwrap();
        let beside = paper.written_beside("ours").unwrap();
        assert!(matches!(paper.take_place(&beside, &hash(b"a")), Err(NotReplaced::Changed)));
        assert_eq!(std::fs::read(&file).unwrap(), b"theirs");
        assert!(!beside.exists());
    }

    /// FIPS 180-2, appendix B.1.
    #[test]
    fn sha_256_of_abc() {
        assert_eq!(hash(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[cfg(unix)]
    #[test]
    fn permissions_stay_and_links_stay_links() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = tempfile::tempdir().unwrap();
        let (file, link) = (folder.path().join("real.toml"), folder.path().join("plate.toml"));
        std::fs::write(&file, "a").unwrap();
        std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o640)).unwrap();
        symlink(&file, &link).unwrap();
        Paper::at(&link).unwrap().replace(&hash(b"a"), "b").unwrap();
        assert!(std::fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(std::fs::read(&file).unwrap(), b"b");
        assert_eq!(std::fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o640);
    }
}
