//! Numbers in cells: decimal sign, thousands marks, signs, missing values; without a copy of the cell.

/// What a cell holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Cell {
    /// A number.
    Number(f64),
    /// Empty, or a word for nothing.
    Missing,
    /// Something else.
    Other,
}

const TENS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
    1e19, 1e20, 1e21, 1e22,
];

/// Without spaces (plain, tab, no-break) at either end.
pub(super) fn trim(mut cell: &[u8]) -> &[u8] {
    while let [b' ' | b'\t' | 0xA0, rest @ ..] | [0xC2, 0xA0, rest @ ..] = cell {
        cell = rest;
    }
    while let [rest @ .., 0xC2, 0xA0] | [rest @ .., b' ' | b'\t' | b'\r' | 0xA0] = cell {
        cell = rest;
    }
    cell
}

/// The number in a cell, with `decimal` (b'.' or b',') before its decimals; the other sign, spaces and apostrophes
/// may stand between thousands. A unit may follow.
pub(super) fn number(cell: &[u8], decimal: u8) -> Cell {
    plain_number(cell, decimal).map_or_else(|| any_number(cell, decimal), Cell::Number)
}

/// Nearly every cell: up to fifteen digits and perhaps a decimal sign.
fn plain_number(cell: &[u8], decimal: u8) -> Option<f64> {
    let (mut mantissa, mut point) = (0u64, None);
    for (at, &byte) in cell.iter().enumerate() {
        match byte {
            b'0'..=b'9' => mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(byte - b'0')),
            _ if byte == decimal && point.is_none() => point = Some(at),
            _ => return None,
        }
    }
    let digits = cell.len() - usize::from(point.is_some());
    let after = point.map_or(0, |at| cell.len() - 1 - at);
    (1..=15).contains(&digits).then(|| mantissa as f64 / TENS[after])
}

fn any_number(cell: &[u8], decimal: u8) -> Cell {
    let cell = trim(cell);
    let (negative, digits) = match cell {
        [b'-', rest @ ..] if !rest.is_empty() => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        // The minus sign of typesetters, in UTF-8.
        [0xE2, 0x88, 0x92, rest @ ..] => (true, rest),
        _ => (false, cell),
    };
    // Up to nineteen digits fit; a product or quotient by an exact power of ten is rounded once.
    let (mut mantissa, mut seen, mut after, mut point) = (0u64, 0usize, 0usize, false);
    let mut at = 0;
    while let Some(&byte) = digits.get(at) {
        match byte {
            b'0'..=b'9' => {
                mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(byte - b'0'));
                seen += usize::from(mantissa != 0);
                after += usize::from(point);
            }
            _ if byte == decimal && !point => point = true,
            b'.' | b',' | b'\'' | b' ' | 0xA0 if !point && thousands(&digits[at + 1..]) => {}
            0xC2 | 0xE2 if !point => match no_break(&digits[at..]) {
                Some(length) => at += length - 1,
                None => break,
            },
            _ => break,
        }
        at += 1;
    }
    if at == 0 || (at == 1 && point) {
        return if is_missing(cell) { Cell::Missing } else { Cell::Other };
    }
    let Some(exponent) = exponent(&digits[at..]) else { return Cell::Other };
    let value = scaled(mantissa, seen, exponent - after as i32, &digits[..at]);
    if value.is_finite() { Cell::Number(if negative { -value } else { value }) } else { Cell::Other }
}

/// Whether three digits and no fourth follow.
fn thousands(rest: &[u8]) -> bool {
    rest.len() >= 3
        && rest[..3].iter().all(u8::is_ascii_digit)
        && !rest.get(3).is_some_and(u8::is_ascii_digit)
}

/// Length of a no-break space (plain or narrow) in UTF-8 between thousands.
fn no_break(rest: &[u8]) -> Option<usize> {
    match rest {
        [0xC2, 0xA0, more @ ..] if thousands(more) => Some(2),
        [0xE2, 0x80, 0xAF, more @ ..] if thousands(more) => Some(3),
        _ => None,
    }
}

/// The power of ten that follows a number (0 for none); none where something else follows than a unit.
fn exponent(rest: &[u8]) -> Option<i32> {
    match rest {
        [] => Some(0),
        [b'e' | b'E', digits @ ..] => {
            let (sign, digits) = match digits {
                [b'-', d @ ..] => (-1, d),
                [b'+', d @ ..] => (1, d),
                d => (1, d),
            };
            let fits = matches!(digits.len(), 1..=3) && digits.iter().all(u8::is_ascii_digit);
            fits.then(|| sign * digits.iter().fold(0, |n, d| n * 10 + i32::from(d - b'0')))
        }
        _ => {
            let unit = trim(rest);
            let is = |name: &[u8]| unit.eq_ignore_ascii_case(name);
            (is(b"kwh") || is(b"wh") || is(b"kw") || is(b"w") || is(b"m3")).then_some(0)
        }
    }
}

fn scaled(mantissa: u64, seen: usize, power: i32, digits: &[u8]) -> f64 {
    let exact = seen <= 19 && mantissa < (1 << 53) && power.unsigned_abs() <= 22;
    if exact {
        let ten = TENS[power.unsigned_abs() as usize];
        return if power < 0 { mantissa as f64 / ten } else { mantissa as f64 * ten };
    }
    // `power` counts the decimals already: all digits as a whole number.
    let mut text: String = digits.iter().filter(|b| b.is_ascii_digit()).map(|&b| char::from(b)).collect();
    text.push_str(&format!("e{power}"));
    text.parse().unwrap_or(f64::NAN)
}

/// Words for "no value".
fn is_missing(cell: &[u8]) -> bool {
    const WORDS: [&[u8]; 16] = [
        b"nan", b"na", b"n/a", b"#n/a", b"null", b"none", b"nil", b"missing", b"-", b"--", b"---", b"?",
        b"k.a.", b"n.a.", b"\\n", b".",
    ];
    cell.is_empty() || WORDS.iter().any(|word| cell.eq_ignore_ascii_case(word))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_as_people_write_them() {
        for (text, decimal, value) in [
            ("0.125", b'.', 0.125),
            ("0,125", b',', 0.125),
            ("1.234,56", b',', 1234.56),
            ("1,234.56", b'.', 1234.56),
            ("1 234,5", b',', 1234.5),
            ("1\u{a0}234,5", b',', 1234.5),
            ("1\u{202f}234\u{202f}567,5", b',', 1_234_567.5),
            ("1'234.5", b'.', 1234.5),
            (" -3 ", b'.', -3.0),
            ("\u{2212}3", b'.', -3.0),
            ("+2.5e-3", b'.', 0.0025),
            (".5", b'.', 0.5),
            ("7 kWh", b'.', 7.0),
            ("0.1000000000000000055511151231257827", b'.', 0.1),
            ("123456789012345678901234567890", b'.', 1.2345678901234568e29),
        ] {
            assert_eq!(number(text.as_bytes(), decimal), Cell::Number(value), "{text}");
        }
    }

    #[test]
    fn what_is_no_number() {
        for text in ["", " ", "NaN", "null", "-", "N/A"] {
            assert_eq!(number(text.as_bytes(), b'.'), Cell::Missing, "{text}");
        }
        for text in ["abc", "1.2.3", "12:30", "1e", "1e9999", "2024-01-01", "5 apples"] {
            assert_eq!(number(text.as_bytes(), b'.'), Cell::Other, "{text}");
        }
    }
}
