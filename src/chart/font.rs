//! The charts' typeface: Inter, Regular and SemiBold (SIL Open Font License,
//! its text beside the files), for measuring, for plotters and for the PNG.
//!
//! All that depends on how plotters takes a font is in this file, because
//! upstream is changing that interface.

use std::sync::{Arc, OnceLock};

use plotters::style::{FontStyle, IntoFont, register_font};
use resvg::usvg::fontdb;

use super::ChartError;

/// The list of typefaces written into every SVG; a page without Inter falls back.
pub(super) const FAMILY: &str = "Inter, Helvetica, Arial, sans-serif";

static REGULAR: &[u8] = include_bytes!("fonts/Inter-Regular-subset.otf");
static SEMI_BOLD: &[u8] = include_bytes!("fonts/Inter-SemiBold-subset.otf");
static REGULAR_WEB: &[u8] = include_bytes!("fonts/Inter-Regular-subset.woff2");
static SEMI_BOLD_WEB: &[u8] = include_bytes!("fonts/Inter-SemiBold-subset.woff2");

/// plotters divides a font's size by this before it writes it.
const PLOTTERS_SIZE: f64 = 1.24;

/// Light or strong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Weight {
    Regular,
    SemiBold,
}

impl Weight {
    pub(super) fn style(self) -> FontStyle {
        match self {
            Weight::Regular => FontStyle::Normal,
            Weight::SemiBold => FontStyle::Bold,
        }
    }
}

/// Gives plotters the two faces, once.
pub(super) fn register() -> Result<(), ChartError> {
    static DONE: OnceLock<bool> = OnceLock::new();
    let done = *DONE.get_or_init(|| {
        register_font(FAMILY, FontStyle::Normal, REGULAR).is_ok()
            && register_font(FAMILY, FontStyle::Bold, SEMI_BOLD).is_ok()
    });
    if done { Ok(()) } else { Err(ChartError("the charts' font cannot be read".into())) }
}

/// The size to ask plotters for, so that `points` x `scale` is written.
pub(super) fn plotters_size(points: f64, scale: f64) -> f64 {
    points * scale * PLOTTERS_SIZE
}

/// Width of a text, in points.
pub(super) fn width(text: &str, points: f64, weight: Weight) -> f64 {
    // Measured large because plotters rounds down to whole units.
    let font = (FAMILY, plotters_size(points, 10.0), weight.style()).into_font();
    match font.layout_box(text) {
        Ok(((x0, _), (x1, _))) => f64::from(x1 - x0) / 10.0,
        Err(_) => text.chars().count() as f64 * points * 0.6,
    }
}

/// Breaks a text into at most `most_lines` lines of at most `most_width`
/// points; what does not fit ends in an ellipsis. Words longer than a line are cut.
pub(super) fn wrap(
    text: &str,
    points: f64,
    weight: Weight,
    most_width: f64,
    most_lines: usize,
) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        for piece in pieces(word, points, weight, most_width) {
            let longer = if line.is_empty() { piece.clone() } else { format!("{line} {piece}") };
            if width(&longer, points, weight) <= most_width {
                line = longer;
            } else {
                lines.push(std::mem::replace(&mut line, piece));
            }
        }
        // No need to measure the rest of a very long text.
        if lines.len() > most_lines {
            break;
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    if lines.len() > most_lines {
        lines.truncate(most_lines);
        if let Some(last) = lines.last_mut() {
            *last = fit(&format!("{last} …"), points, weight, most_width);
        }
    }
    lines
}

/// The text, cut to a width with an ellipsis if it must be.
pub(super) fn fit(text: &str, points: f64, weight: Weight, most_width: f64) -> String {
    if width(text, points, weight) <= most_width {
        return text.to_string();
    }
    let mut kept: String = text.trim_end_matches([' ', '…']).to_string();
    while !kept.is_empty() {
        let shown = format!("{}…", kept.trim_end());
        if width(&shown, points, weight) <= most_width {
            return shown;
        }
        kept.pop();
    }
    String::new()
}

fn pieces(word: &str, points: f64, weight: Weight, most_width: f64) -> Vec<String> {
    if width(word, points, weight) <= most_width {
        return vec![word.to_string()];
    }
    let mut out = Vec::new();
    let mut piece = String::new();
    for c in word.chars() {
        piece.push(c);
        if width(&piece, points, weight) > most_width && piece.chars().count() > 1 {
            piece.pop();
            out.push(std::mem::replace(&mut piece, c.to_string()));
        }
    }
    out.push(piece);
    out
}

/// The same faces for the PNG, both under the name Inter (the SemiBold file
/// calls itself a family of its own).
pub(super) fn database() -> Arc<fontdb::Database> {
    static DATABASE: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    DATABASE
        .get_or_init(|| {
            let mut loaded = fontdb::Database::new();
            loaded.load_font_data(REGULAR.to_vec());
            loaded.load_font_data(SEMI_BOLD.to_vec());
            let faces: Vec<fontdb::FaceInfo> = loaded.faces().cloned().collect();
            let mut named = fontdb::Database::new();
            for mut face in faces {
                for family in &mut face.families {
                    family.0 = "Inter".into();
                }
                named.push_face_info(face);
            }
            named.set_sans_serif_family("Inter");
            Arc::new(named)
        })
        .clone()
}

/// Style sheet that carries the typeface itself, for an SVG that must stand alone.
pub fn font_face_css() -> String {
    let mut css = String::new();
    for (weight, bytes) in [("400", REGULAR_WEB), ("600 700", SEMI_BOLD_WEB)] {
        css.push_str("@font-face{font-family:Inter;font-weight:");
        css.push_str(weight);
        css.push_str(";src:url(data:font/woff2;base64,");
        push_base64(&mut css, bytes);
        css.push_str(") format('woff2')}");
    }
    css
}

/// Base64 of RFC 4648, section 4.
pub(crate) fn push_base64(out: &mut String, bytes: &[u8]) {
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let digit = |six: u32| char::from(DIGITS[(six & 63) as usize]);
    for chunk in bytes.chunks(3) {
        let at = |i: usize| u32::from(chunk.get(i).copied().unwrap_or(0));
        let bits = (at(0) << 16) | (at(1) << 8) | at(2);
        out.push(digit(bits >> 18));
        out.push(digit(bits >> 12));
        out.push(if chunk.len() > 1 { digit(bits >> 6) } else { '=' });
        out.push(if chunk.len() > 2 { digit(bits) } else { '=' });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_vectors_of_rfc_4648() {
        for (plain, coded) in
            [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foobar", "Zm9vYmFy")]
        {
            let mut out = String::new();
            push_base64(&mut out, plain.as_bytes());
            assert_eq!(out, coded);
        }
    }

    #[test]
    fn both_faces_answer_to_one_name() {
        let database = database();
        let find = |weight| {
            database
                .query(&fontdb::Query {
                    families: &[fontdb::Family::Name("Inter")],
                    weight,
                    ..fontdb::Query::default()
                })
                .unwrap()
        };
        assert_ne!(find(fontdb::Weight::NORMAL), find(fontdb::Weight::BOLD));
    }

    #[test]
    fn wrapping_keeps_to_width_and_lines() {
        register().unwrap();
        let long = "incomprehensibilities ".repeat(30) + &"x".repeat(300);
        for most_lines in [1, 2, 3] {
            let lines = wrap(&long, 10.0, Weight::Regular, 120.0, most_lines);
            assert_eq!(lines.len(), most_lines);
            assert!(lines.iter().all(|line| width(line, 10.0, Weight::Regular) <= 120.0));
            assert!(lines.last().unwrap().ends_with('…'));
        }
        assert_eq!(wrap("two words", 10.0, Weight::Regular, 500.0, 2), ["two words"]);
        assert!(wrap("", 10.0, Weight::Regular, 100.0, 2).is_empty());
        // Bold is wider than regular: the SemiBold face is really measured.
        assert!(width("payback", 10.0, Weight::SemiBold) > width("payback", 10.0, Weight::Regular));
    }
}
