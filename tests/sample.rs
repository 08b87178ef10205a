//! The committed sample in `output/sample` is what the program makes today, byte for byte: what anyone hands on
//! changes only on purpose. `PAYSPREAD_BLESS=1` makes it anew.
//!
//! Pictures made of pixels are compared by their size and by eye, not byte by byte: the rasteriser's last bits may
//! differ between processors. Their SVG is compared.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("output/sample")
}

/// First look with few runs: small enough to keep, with every kind of file.
fn make(out: &Path) {
    let study = Path::new(env!("CARGO_MANIFEST_DIR")).join("studies/first-look.toml");
    let made = Command::new(env!("CARGO_BIN_EXE_payspread"))
        .args(["run", "--quiet", "--runs", "1024", "--out"])
        .arg(out)
        .arg(study)
        .output()
        .unwrap();
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
}

fn names(folder: &Path) -> BTreeSet<String> {
    let entries = fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect()
}

/// The manifest without the lines that speak of pixels.
fn without_pictures(manifest: &str) -> serde_json::Value {
    let mut manifest: serde_json::Value = serde_json::from_str(manifest).unwrap();
    let keep = |file: &serde_json::Value| !file["file"].as_str().unwrap_or_default().ends_with(".png");
    for value in manifest.as_object_mut().unwrap().values_mut() {
        if let Some(list) = value.as_array_mut() {
            list.retain(keep);
        }
    }
    manifest
}

/// Width and height of a PNG.
fn size(png: &[u8]) -> (u32, u32) {
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    let number = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().unwrap());
    (number(16), number(20))
}

#[test]
fn sample_is_what_is_made_today() {
    if std::env::var_os("PAYSPREAD_BLESS").is_some() {
        let _ = fs::remove_dir_all(sample());
        make(&sample());
    }
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("sample");
    let _ = fs::remove_dir_all(&out);
    make(&out);
    assert_eq!(names(&out), names(&sample()));
    for name in names(&out) {
        let (ours, kept) = (fs::read(out.join(&name)).unwrap(), fs::read(sample().join(&name)).unwrap());
        if name.ends_with(".png") {
            assert_eq!(size(&ours), size(&kept), "{name}");
        } else if name == "manifest.json" {
            let text = |bytes: &[u8]| without_pictures(std::str::from_utf8(bytes).unwrap());
            assert_eq!(text(&ours), text(&kept));
        } else {
            assert!(
                ours == kept,
                "{name} differs; PAYSPREAD_BLESS=1 makes the sample anew, if that is meant"
            );
        }
    }
}
