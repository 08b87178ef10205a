//! Lines of a file and the cells of a line, without copies.

/// Most cells of a line that are looked at.
pub(super) const MOST_CELLS: usize = 128;

/// The place of a line in the text, without its end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line<'a> {
    /// Number from 1.
    pub(super) number: usize,
    /// What stands on it.
    pub(super) text: &'a [u8],
}

/// The lines of a text; an end is LF, CRLF or a lone CR.
pub(super) struct Lines<'a> {
    rest: &'a [u8],
    number: usize,
    lone_cr: bool,
}

impl<'a> Lines<'a> {
    pub(super) fn new(text: &'a [u8]) -> Self {
        let head = &text[..text.len().min(65_536)];
        Lines { rest: text, number: 0, lone_cr: !head.contains(&b'\n') && head.contains(&b'\r') }
    }
}

impl<'a> Iterator for Lines<'a> {
    type Item = Line<'a>;

    fn next(&mut self) -> Option<Line<'a>> {
        if self.rest.is_empty() {
            return None;
        }
        let mark = if self.lone_cr { b'\r' } else { b'\n' };
        let end = find(self.rest, mark);
        let text = &self.rest[..end];
        self.rest = self.rest.get(end + 1..).unwrap_or(&[]);
        self.number += 1;
        Some(Line { number: self.number, text: text.strip_suffix(b"\r").unwrap_or(text) })
    }
}

/// Place of a byte, or the length: eight bytes at a time.
fn find(text: &[u8], byte: u8) -> usize {
    const LOW: u64 = 0x0101_0101_0101_0101;
    let pattern = LOW * u64::from(byte);
    let mut at = 0;
    while let Some(eight) = text.get(at..at + 8) {
        let mut word = [0; 8];
        word.copy_from_slice(eight);
        let x = u64::from_le_bytes(word) ^ pattern;
        let hit = x.wrapping_sub(LOW) & !x & (LOW << 7);
        if hit != 0 {
            return at + hit.trailing_zeros() as usize / 8;
        }
        at += 8;
    }
    at + text[at..].iter().position(|&b| b == byte).unwrap_or(text.len() - at)
}

/// Splits a line into cells, up to as many as `cells` has room for; gives their number. A quoted cell ends at its
/// closing quote; one that is never closed ends at the next separator.
pub(super) fn split<'a>(line: &'a [u8], separator: u8, cells: &mut [&'a [u8]]) -> usize {
    let mut count = 0;
    let mut at = 0;
    while count < cells.len() {
        let rest = &line[at..];
        let (cell, next) = match rest {
            [quote @ (b'"' | b'\''), inner @ ..] if closing(inner, *quote, separator).is_some() => {
                let end = closing(inner, *quote, separator).unwrap_or(0);
                (&inner[..end], at + end + 2)
            }
            _ => {
                let end = rest.iter().position(|&b| b == separator).unwrap_or(rest.len());
                (&rest[..end], at + end)
            }
        };
        cells[count] = cell;
        count += 1;
        // Whatever stands between a closing quote and the next separator is blank.
        at = next + line[next..].iter().position(|&b| b == separator).unwrap_or(line.len() - next);
        if at >= line.len() {
            return count;
        }
        at += 1;
    }
    count
}

/// Where the closing quote stands: one that only blanks part from a separator or the end.
fn closing(inner: &[u8], quote: u8, separator: u8) -> Option<usize> {
    let mut from = 0;
    while let Some(at) = inner[from..].iter().position(|&b| b == quote) {
        let end = from + at;
        let after = inner[end + 1..].iter().find(|b| !matches!(b, b' ' | b'\t') || **b == separator);
        if after.is_none_or(|&b| b == separator) {
            return Some(end);
        }
        from = end + 1;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(line: &str, separator: u8) -> Vec<String> {
        let mut room: [&[u8]; MOST_CELLS] = [&[]; MOST_CELLS];
        let count = split(line.as_bytes(), separator, &mut room);
        room[..count].iter().map(|c| String::from_utf8_lossy(c).into_owned()).collect()
    }

    #[test]
    fn cells_of_a_line() {
        assert_eq!(cells("a,b,,c", b','), ["a", "b", "", "c"]);
        assert_eq!(cells("\"a,b\",\"1,5\"", b','), ["a,b", "1,5"]);
        assert_eq!(cells("\"never closed,1", b','), ["\"never closed", "1"]);
        assert_eq!(cells("a,", b','), ["a", ""]);
        assert_eq!(cells("", b','), [""]);
        assert_eq!(cells("\"a\" ;b", b';'), ["a", "b"]);
    }

    #[test]
    fn lines_of_a_text() {
        let of = |text: &str| {
            Lines::new(text.as_bytes())
                .map(|l| String::from_utf8_lossy(l.text).into_owned())
                .collect::<Vec<_>>()
        };
        assert_eq!(of("a\r\nlong line of text\n\nb"), ["a", "long line of text", "", "b"]);
        assert_eq!(of("a\rb\r"), ["a", "b"]);
    }
}
