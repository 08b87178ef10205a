//! The committed samples in `output` are what the program makes today, byte for byte: what anyone hands on changes only
//! on purpose. `PAYSPREAD_BLESS=1` makes them anew.
//!
//! Pictures made of pixels are compared by their size and by eye, not byte by byte: the rasteriser's last bits may
//! differ between processors. Their SVG is compared, and of a document all but its pictures.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};
use std::process::Command;

/// Folder under `output`, and the command that makes it.
const RUN: (&str, &[&str]) = ("sample", &["run"]);
const REPORT: (&str, &[&str]) = ("sample-report", &["report", "--as", "html,docx,workbook"]);

fn kept(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("output").join(name)
}

/// First look with few runs: small enough to keep, with every kind of file.
fn make(command: &[&str], out: &Path) {
    let study = Path::new(env!("CARGO_MANIFEST_DIR")).join("studies/first-look.toml");
    let made = Command::new(env!("CARGO_BIN_EXE_payspread"))
        .args(command)
        .args(["--quiet", "--runs", "1024", "--out"])
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

/// The manifest without the lines that speak of pixels, or of a document with pixels in it.
fn without_pictures(manifest: &str) -> serde_json::Value {
    let mut manifest: serde_json::Value = serde_json::from_str(manifest).unwrap();
    let pixels = |name: &str| name.ends_with(".png") || name.ends_with(".docx");
    let keep = |file: &serde_json::Value| !pixels(file["file"].as_str().unwrap_or_default());
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

/// The parts of a document, by name; of a picture its size.
fn parts(docx: &[u8]) -> BTreeMap<String, Vec<u8>> {
    let mut archive = zip::ZipArchive::new(Cursor::new(docx)).unwrap();
    let mut parts = BTreeMap::new();
    for k in 0..archive.len() {
        let mut part = archive.by_index(k).unwrap();
        let mut bytes = Vec::new();
        part.read_to_end(&mut bytes).unwrap();
        if part.name().ends_with(".png") {
            bytes = format!("{:?}", size(&bytes)).into_bytes();
        }
        parts.insert(part.name().to_owned(), bytes);
    }
    parts
}

fn is_what_is_made_today((name, command): (&str, &[&str])) {
    let kept = kept(name);
    if std::env::var_os("PAYSPREAD_BLESS").is_some() {
        let _ = fs::remove_dir_all(&kept);
        make(command, &kept);
    }
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&out);
    make(command, &out);
    assert_eq!(names(&out), names(&kept));
    for name in names(&out) {
        let (ours, kept) = (fs::read(out.join(&name)).unwrap(), fs::read(kept.join(&name)).unwrap());
        let same = match name.rsplit('.').next().unwrap() {
            "png" => size(&ours) == size(&kept),
            "docx" => parts(&ours) == parts(&kept),
            _ if name == "manifest.json" => {
                let text = |bytes: &[u8]| without_pictures(std::str::from_utf8(bytes).unwrap());
                text(&ours) == text(&kept)
            }
            _ => ours == kept,
        };
        assert!(same, "{name} differs; PAYSPREAD_BLESS=1 makes the sample anew, if that is meant");
    }
}

#[test]
fn the_sample_of_a_run_is_what_is_made_today() {
    is_what_is_made_today(RUN);
}

#[test]
fn the_sample_of_a_report_is_what_is_made_today() {
    is_what_is_made_today(REPORT);
}
