//! `manifest.json`: what went in and what came out, by SHA-256. Its date line is the only one in a packet that
//! differs between two runs of the same input.

use crate::folder::Holds;
use serde_json::json;
use sha2::{Digest, Sha256};
use std::fmt::Write;

/// A file as the manifest lists it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// Its name.
    pub file: String,
    /// Its length.
    pub bytes: u64,
    /// SHA-256 as lower-case hexadecimal.
    pub sha256: String,
}

impl Listed {
    /// A file whose bytes are at hand.
    pub fn of(file: &str, bytes: &[u8]) -> Self {
        Self { file: file.to_owned(), bytes: bytes.len() as u64, sha256: hexadecimal(&Sha256::digest(bytes)) }
    }
}

/// The file's text. `date` is the one line that changes.
pub(crate) fn text(title: &str, holds: Holds, inputs: &[Listed], outputs: &[(String, Vec<u8>)], date: &str) -> String {
    let listed = |files: &[Listed]| {
        let each = files.iter().map(|l| json!({ "file": l.file, "bytes": l.bytes, "sha256": l.sha256 }));
        serde_json::Value::Array(each.collect())
    };
    let outputs: Vec<Listed> = outputs.iter().map(|(name, bytes)| Listed::of(name, bytes)).collect();
    let value = json!({
        "made_by": "platewright",
        "holds": match holds {
            Holds::Packet => "packet",
            Holds::Report => "report",
        },
        "version": env!("CARGO_PKG_VERSION"),
        "date": date,
        "title": title,
        "inputs": listed(inputs),
        "outputs": listed(&outputs),
    });
    let mut text = serde_json::to_string_pretty(&value).unwrap_or_default();
    text.push('\n');
    text
}

/// A stream that is hashed as it is read.
pub(crate) struct Hashed<R> {
    inner: std::io::BufReader<R>,
    hash: Sha256,
    bytes: u64,
}

impl<R: std::io::Read> Hashed<R> {
    pub(crate) fn new(inner: R) -> Self {
        Self { inner: std::io::BufReader::new(inner), hash: Sha256::new(), bytes: 0 }
    }

    /// What was read, as the manifest lists it.
    pub(crate) fn listed(self, file: &str) -> Listed {
        Listed { file: file.to_owned(), bytes: self.bytes, sha256: hexadecimal(&self.hash.finalize()) }
    }
}

impl<R: std::io::Read> std::io::Read for Hashed<R> {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        let read = self.inner.read(into)?;
        self.hash.update(&into[..read]);
        self.bytes += read as u64;
        Ok(read)
    }
}

impl<R: std::io::Read> std::io::BufRead for Hashed<R> {
    fn fill_buf(&mut self) -> std::io::Result<&[u8]> {
        self.inner.fill_buf()
    }

    fn consume(&mut self, amount: usize) {
        // No more is consumed than was given out.
        let taken = self.inner.buffer().get(..amount).unwrap_or_default();
        self.hash.update(taken);
        self.bytes += taken.len() as u64;
        self.inner.consume(amount);
    }
}

/// A digest as lower-case hexadecimal.
fn hexadecimal(digest: &[u8]) -> String {
    digest.iter().fold(String::with_capacity(64), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::folder::{MARK, REPORT_MARK};
    use std::io::BufRead;

    /// FIPS 180-4's example: SHA-256 of "abc" (from memory); in one piece and as a stream.
    #[test]
    fn sha256_of_abc() {
        const ABC: &str = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(Listed::of("a", b"abc").sha256, ABC);
        let mut stream = Hashed::new(&b"abc"[..]);
        assert_eq!(stream.fill_buf().unwrap(), b"abc");
        stream.consume(1);
        stream.consume(2);
        assert_eq!(stream.listed("a"), Listed { file: "a".into(), bytes: 3, sha256: ABC.into() });
    }

    #[test]
    fn a_manifest_begins_with_its_mark() {
        let of = |holds| text("x", holds, &[], &[], "2026-01-01T00:00:00Z");
        assert!(of(Holds::Packet).starts_with(MARK) && !of(Holds::Packet).starts_with(REPORT_MARK));
        assert!(of(Holds::Report).starts_with(MARK) && of(Holds::Report).starts_with(REPORT_MARK));
    }
}
