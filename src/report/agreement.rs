//! Whether a file that is made again says the same as the one that was kept. The same bytes are the same; where bytes
//! differ, as they may on another processor, the figures in them are compared.

use std::collections::BTreeMap;
use std::io::{Cursor, Read};

use serde_json::Value;

/// Figures agree when they differ by no more than this part of the greater.
pub const RELATIVE: f64 = 1e-9;
/// Figures below about this size are nought.
pub const ABSOLUTE: f64 = 1e-12;
/// Coordinates of drawings are written with two decimals, the last of which may turn.
pub const OF_DRAWINGS: f64 = 0.011;
/// Most bytes of a part of an archive that are looked at.
const MAX_PART: u64 = 256 * 1024 * 1024;

/// What two files have to do with each other.
#[derive(Debug, Clone, PartialEq)]
pub enum Agreement {
    /// The same bytes.
    SameBytes,
    /// Other bytes; what was compared agrees.
    Agrees(String),
    /// What does not agree.
    Differs(String),
}

/// Compares a file that was kept with the one made again under the same name.
pub fn agreement(name: &str, kept: &[u8], again: &[u8]) -> Agreement {
    if kept == again {
        return Agreement::SameBytes;
    }
    match name.rsplit('.').next().unwrap_or("") {
        "json" => json(kept, again),
        "svg" => texts(kept, again, OF_DRAWINGS),
        "csv" | "html" | "md" | "txt" => texts(kept, again, ABSOLUTE),
        "png" => pictures(kept, again),
        "xlsx" | "docx" => archives(kept, again),
        _ => Agreement::Differs("other bytes".into()),
    }
}

/// Counts figures and keeps the largest difference.
#[derive(Default)]
struct Figures {
    n: u64,
    worst: f64,
    apart: Option<String>,
}

impl Figures {
    fn pair(&mut self, a: f64, b: f64, absolute: f64, place: impl FnOnce() -> String) {
        self.n += 1;
        let size = a.abs().max(b.abs());
        let difference = (a - b).abs();
        if a.to_bits() == b.to_bits() || difference <= absolute {
            return;
        }
        let relative = difference / size;
        if relative <= RELATIVE {
            self.worst = self.worst.max(relative);
        } else if self.apart.is_none() {
            self.apart = Some(format!("{}: {a} was kept, {b} is made", place()));
        }
    }

    fn verdict(self) -> Agreement {
        match self.apart {
            Some(apart) => Agreement::Differs(apart),
            None => Agreement::Agrees(format!("{} figures agree to {:.0e}", self.n, self.worst.max(1e-16))),
        }
    }
}

fn json(kept: &[u8], again: &[u8]) -> Agreement {
    let (Ok(kept), Ok(again)) =
        (serde_json::from_slice::<Value>(kept), serde_json::from_slice::<Value>(again))
    else {
        return Agreement::Differs("it is no JSON".into());
    };
    let mut figures = Figures::default();
    walk(&kept, &again, "", &mut figures);
    figures.verdict()
}

fn walk(kept: &Value, again: &Value, place: &str, figures: &mut Figures) {
    match (kept, again) {
        (Value::Number(a), Value::Number(b)) if a == b => figures.n += 1,
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().unwrap_or(f64::NAN), b.as_f64().unwrap_or(f64::NAN));
            figures.pair(a, b, ABSOLUTE, || place.to_owned());
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            for (k, (a, b)) in a.iter().zip(b).enumerate() {
                walk(a, b, &format!("{place}[{k}]"), figures);
            }
        }
        (Value::Object(a), Value::Object(b)) if a.len() == b.len() => {
            for (key, a) in a {
                walk(a, b.get(key).unwrap_or(&Value::Null), &format!("{place}.{key}"), figures);
            }
        }
        (a, b) if a == b => {}
        _ if figures.apart.is_none() => figures.apart = Some(format!("{place} is not the same")),
        _ => {}
    }
}

/// Texts: what stands between the figures is the same, and the figures agree.
fn texts(kept: &[u8], again: &[u8], absolute: f64) -> Agreement {
    let mut figures = Figures::default();
    if let Err(line) = text_pairs(kept, again, absolute, &mut figures) {
        return Agreement::Differs(format!("line {line} is not the same"));
    }
    figures.verdict()
}

fn text_pairs(kept: &[u8], again: &[u8], absolute: f64, figures: &mut Figures) -> Result<(), usize> {
    let (kept, again) = (String::from_utf8_lossy(kept), String::from_utf8_lossy(again));
    let (kept, again): (Vec<&str>, Vec<&str>) = (kept.split('\n').collect(), again.split('\n').collect());
    if kept.len() != again.len() {
        return Err(kept.len().min(again.len()));
    }
    for (k, (a, b)) in kept.iter().zip(&again).enumerate() {
        if a == b {
            continue;
        }
        let ((words_a, numbers_a), (words_b, numbers_b)) = (cut(a), cut(b));
        if words_a != words_b {
            return Err(k + 1);
        }
        for (&a, &b) in numbers_a.iter().zip(&numbers_b) {
            figures.pair(a, b, absolute, || format!("line {}", k + 1));
        }
    }
    Ok(())
}

/// A line as what stands between its numbers, and those. A number is digits with at most one point and an exponent;
/// a sign before it is its own only where no digit, letter or bracket goes before.
fn cut(line: &str) -> (String, Vec<f64>) {
    let bytes = line.as_bytes();
    let (mut words, mut numbers, mut at, mut from) = (String::new(), Vec::new(), 0, 0);
    while at < bytes.len() {
        if !bytes[at].is_ascii_digit() || (at > 0 && bytes[at - 1].is_ascii_alphabetic()) {
            at += 1;
            continue;
        }
        let signed = at > from && bytes[at - 1] == b'-';
        let start = if signed { at - 1 } else { at };
        let mut end = at;
        while end < bytes.len() && (bytes[end].is_ascii_digit() || bytes[end] == b'.') {
            end += 1;
        }
        if end + 1 < bytes.len() && bytes[end] == b'e' {
            let digits = if bytes[end + 1] == b'-' { end + 2 } else { end + 1 };
            let mut last = digits;
            while last < bytes.len() && bytes[last].is_ascii_digit() {
                last += 1;
            }
            if last > digits {
                end = last;
            }
        }
        if let Ok(number) = line[start..end].parse() {
            words.push_str(&line[from..start]);
            words.push('#');
            numbers.push(number);
            from = end;
        }
        at = end;
    }
    words.push_str(&line[from..]);
    (words, numbers)
}

/// Pixels may differ by the last bits of a rasteriser: their drawing as SVG is what is compared.
fn pictures(kept: &[u8], again: &[u8]) -> Agreement {
    match (size(kept), size(again)) {
        (Some(a), Some(b)) if a == b => {
            Agreement::Agrees(format!("{} x {} pixels, some of another shade; see its SVG", a.0, a.1))
        }
        _ => Agreement::Differs("a picture of another size".into()),
    }
}

/// Width and height of a PNG (ISO/IEC 15948, 11.2.2).
fn size(png: &[u8]) -> Option<(u32, u32)> {
    let number = |at: usize| Some(u32::from_be_bytes(png.get(at..at + 4)?.try_into().ok()?));
    if png.get(..8)? != b"\x89PNG\r\n\x1a\n" { None } else { Some((number(16)?, number(20)?)) }
}

/// Documents and workbooks are archives: part by part.
fn archives(kept: &[u8], again: &[u8]) -> Agreement {
    let (Some(kept), Some(again)) = (parts(kept), parts(again)) else {
        return Agreement::Differs("it is no archive that can be read".into());
    };
    if !kept.keys().eq(again.keys()) {
        return Agreement::Differs("it has other parts".into());
    }
    let mut figures = Figures::default();
    for (name, a) in &kept {
        let Some(b) = again.get(name) else { continue };
        if a == b {
            continue;
        }
        if name.ends_with(".png") {
            if let Agreement::Differs(why) = pictures(a, b) {
                return Agreement::Differs(format!("{name}: {why}"));
            }
        } else if text_pairs(a, b, ABSOLUTE, &mut figures).is_err() {
            return Agreement::Differs(format!("{name} is not the same"));
        }
    }
    figures.verdict()
}

fn parts(bytes: &[u8]) -> Option<BTreeMap<String, Vec<u8>>> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).ok()?;
    let mut parts = BTreeMap::new();
    let mut left = MAX_PART;
    for k in 0..archive.len() {
        let part = archive.by_index(k).ok()?;
        let name = part.name().to_owned();
        let mut bytes = Vec::new();
        part.take(left + 1).read_to_end(&mut bytes).ok()?;
        left = left.checked_sub(bytes.len() as u64)?;
        parts.insert(name, bytes);
    }
    Some(parts)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn agrees(name: &str, a: &str, b: &str) -> bool {
        matches!(agreement(name, a.as_bytes(), b.as_bytes()), Agreement::Agrees(_))
    }

    #[test]
    fn the_same_bytes_are_the_same() {
        assert_eq!(agreement("x.parquet", b"ab", b"ab"), Agreement::SameBytes);
        assert_eq!(agreement("x.parquet", b"ab", b"ac"), Agreement::Differs("other bytes".into()));
    }

    #[test]
    fn figures_of_answers() {
        let of = |x: &str| format!("{{\"a\":[1,{{\"b\":{x}}}],\"c\":\"never\"}}");
        assert!(agrees("answers.json", &of("3.0000000001"), &of("3.0000000002")));
        for other in ["3.00001", "\"never\"", "null", "-3.0000000001"] {
            assert!(!agrees("answers.json", &of("3.0000000001"), &of(other)), "{other}");
        }
        let Agreement::Differs(where_) = agreement("answers.json", of("3").as_bytes(), of("4").as_bytes())
        else {
            panic!("3 is not 4")
        };
        assert_eq!(where_, ".a[1].b: 3 was kept, 4 is made");
    }

    #[test]
    fn figures_in_texts() {
        assert!(agrees("t.csv", "npv,EUR,-12.3456789012,x1\n", "npv,EUR,-12.3456789013,x1\n"));
        assert!(!agrees("t.csv", "npv,EUR,-12.3\n", "npv,EUR,12.3\n"));
        assert!(!agrees("t.csv", "npv,EUR,12.3\n", "npv,EUR,12.4\n"));
        assert!(!agrees("t.csv", "npv,x1\n", "npv,x2\n"));
        assert!(!agrees("t.csv", "a\n", "a\nb\n"));
        assert!(agrees("t.csv", "1e-7,2\n", "1.00000000001e-7,2\n"));
        assert!(agrees("c.svg", "M10.25,3L4,5", "M10.26,3L4,5"));
        assert!(!agrees("c.svg", "M10.25,3L4,5", "M10.35,3L4,5"));
    }

    #[test]
    fn pictures_by_their_size() {
        let png = |w: u8, end: u8| {
            let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0".to_vec();
            png.extend([w, 0, 0, 0, 9, end]);
            png
        };
        assert!(matches!(agreement("a.png", &png(5, 1), &png(5, 2)), Agreement::Agrees(_)));
        assert!(matches!(agreement("a.png", &png(5, 1), &png(6, 1)), Agreement::Differs(_)));
        assert!(matches!(agreement("a.png", b"", b"x"), Agreement::Differs(_)));
    }
}
