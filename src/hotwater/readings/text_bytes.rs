//! The bytes of a file as plain 8-bit text: marks at its start, UTF-16.

use std::borrow::Cow;

use super::fault::ReadingsError;

/// Largest file that is read.
pub(super) const MOST_BYTES: usize = 64 << 20;

/// The text without its mark, and how it was encoded. Bytes above 127 are left as they are: only headings have them.
pub(super) fn decode(bytes: &[u8]) -> Result<(Cow<'_, [u8]>, &'static str), ReadingsError> {
    if bytes.len() > MOST_BYTES {
        let what = format!("the file has {} MB", bytes.len() >> 20);
        return Err(ReadingsError::new(what, "up to 64 MB are read: cut it into parts of some years each"));
    }
    Ok(match bytes {
        [0xEF, 0xBB, 0xBF, rest @ ..] => (Cow::Borrowed(rest), "UTF-8 with a byte-order mark"),
        [0xFF, 0xFE, rest @ ..] => {
            (Cow::Owned(from_utf16(rest, u16::from_le_bytes)), "UTF-16, low byte first")
        }
        [0xFE, 0xFF, rest @ ..] => {
            (Cow::Owned(from_utf16(rest, u16::from_be_bytes)), "UTF-16, high byte first")
        }
        [a, 0, b, 0, ..] if *a != 0 && *b != 0 => {
            (Cow::Owned(from_utf16(bytes, u16::from_le_bytes)), "UTF-16, low byte first, without a mark")
        }
        [0, a, 0, b, ..] if *a != 0 && *b != 0 => {
            (Cow::Owned(from_utf16(bytes, u16::from_be_bytes)), "UTF-16, high byte first, without a mark")
        }
        _ if bytes.is_ascii() => (Cow::Borrowed(bytes), "ASCII"),
        _ if std::str::from_utf8(bytes).is_ok() => (Cow::Borrowed(bytes), "UTF-8"),
        _ => (Cow::Borrowed(bytes), "8-bit (Latin-1)"),
    })
}

fn from_utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> Vec<u8> {
    let units = bytes.chunks_exact(2).map(|pair| unit([pair[0], pair[1]]));
    let mut text = String::with_capacity(bytes.len() / 2);
    text.extend(char::decode_utf16(units).map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER)));
    text.into_bytes()
}

/// A cell as text for a person, Latin-1 where it is not UTF-8; at most 60 characters.
pub(super) fn shown(cell: &[u8]) -> String {
    let text = match std::str::from_utf8(cell) {
        Ok(text) => text.to_string(),
        Err(_) => cell.iter().map(|&byte| char::from(byte)).collect(),
    };
    let trimmed = text.trim();
    if trimmed.chars().count() > 60 {
        trimmed.chars().take(57).chain("...".chars()).collect()
    } else {
        trimmed.to_string()
    }
}

/// Lower case, accents taken off, everything but letters and digits a single space.
pub(super) fn plain(cell: &[u8]) -> String {
    let mut out = String::with_capacity(cell.len() + 2);
    for c in shown(cell).chars().flat_map(char::to_lowercase) {
        match unaccented(c) {
            "" if c.is_ascii_alphanumeric() => out.push(c),
            "" if !out.ends_with(' ') => out.push(' '),
            letters => out.push_str(letters),
        }
    }
    out.trim().to_string()
}

fn unaccented(c: char) -> &'static str {
    match c {
        'à' | 'á' | 'â' | 'ã' | 'ä' | 'å' | 'ą' => "a",
        'æ' => "ae",
        'ç' | 'ć' | 'č' => "c",
        'è' | 'é' | 'ê' | 'ë' | 'ę' | 'ě' => "e",
        'ì' | 'í' | 'î' | 'ï' => "i",
        'ł' => "l",
        'ñ' | 'ń' => "n",
        'ò' | 'ó' | 'ô' | 'õ' | 'ö' | 'ø' => "o",
        'ś' | 'š' => "s",
        'ß' => "ss",
        'ù' | 'ú' | 'û' | 'ü' | 'ů' => "u",
        'ý' => "y",
        'ź' | 'ż' | 'ž' => "z",
        '³' => "3",
        _ => "",
    }
}
