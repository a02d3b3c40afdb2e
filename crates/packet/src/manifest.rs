//! `manifest.json`: what went in and what came out, by SHA-256. Its date line is the only one in a packet that
//! differs between two runs of the same input.

use serde_json::json;
use sha2::{Digest, Sha256};
use std::fmt::Write;

/// The file's text. `date` is the one line that changes.
pub(crate) fn text(title: &str, inputs: &[(String, Vec<u8>)], outputs: &[(String, Vec<u8>)], date: &str) -> String {
    let listed = |files: &[(String, Vec<u8>)]| {
        let each =
            files.iter().map(|(name, bytes)| json!({ "file": name, "bytes": bytes.len(), "sha256": sha256(bytes) }));
        serde_json::Value::Array(each.collect())
    };
    let value = json!({
        "made_by": "platewright",
        "version": env!("CARGO_PKG_VERSION"),
        "date": date,
        "title": title,
        "inputs": listed(inputs),
        "outputs": listed(outputs),
    });
    let mut text = serde_json::to_string_pretty(&value).unwrap_or_default();
    text.push('\n');
    text
}

/// SHA-256 (FIPS 180-4) as lower-case hexadecimal.
pub(crate) fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().fold(String::with_capacity(64), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::folder::MARK;

    /// FIPS 180-4's example: SHA-256 of "abc" (from memory).
    #[test]
    fn sha256_of_abc() {
        assert_eq!(sha256(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn a_manifest_begins_with_its_mark() {
        assert!(text("x", &[], &[], "2026-01-01T00:00:00Z").starts_with(MARK));
    }
}
