//! The parts of a study's text: rows, and strings that hold whatever was typed.

use std::fmt::Write as _;

/// A string of TOML: quotes, backslashes and control characters escaped, whatever was typed.
pub(super) fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' | '\r' | '\t' => out.push(' '),
            // Marks of direction would turn the text round them; other controls say nothing.
            c if c.is_control() || ('\u{200e}'..='\u{200f}').contains(&c) => {}
            c if ('\u{202a}'..='\u{202e}').contains(&c) || ('\u{2066}'..='\u{2069}').contains(&c) => {}
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A number with as few digits as it needs, and no more than six after the point.
pub(super) fn number(x: f64) -> String {
    let fixed = format!("{x:.6}");
    let short = fixed.trim_end_matches('0').trim_end_matches('.');
    if short.is_empty() { "0".to_owned() } else { short.to_owned() }
}

/// A number of three significant digits: our own estimates deserve no more.
pub(super) fn rough(x: f64) -> f64 {
    if x <= 0.0 || !x.is_finite() {
        return x;
    }
    let places = 2.0 - libm::floor(libm::log10(x));
    let ten = libm::pow(10.0, places);
    (x * ten).round() / ten
}

/// A row of the study: lines with their keys in line.
#[derive(Debug)]
pub(super) struct Row {
    head: String,
    lines: Vec<(&'static str, String)>,
}

impl Row {
    /// `[inputs.people]`.
    pub(super) fn new(head: &str, label: &str) -> Row {
        Row { head: head.to_owned(), lines: vec![("label", quoted(label))] }
    }

    /// A line with a text.
    pub(super) fn text(mut self, key: &'static str, text: &str) -> Row {
        if !text.is_empty() {
            self.lines.push((key, quoted(text)));
        }
        self
    }

    /// A line as TOML has it.
    pub(super) fn raw(mut self, key: &'static str, value: impl Into<String>) -> Row {
        self.lines.push((key, value.into()));
        self
    }

    /// The same, if there is something to say.
    pub(super) fn maybe(self, key: &'static str, text: Option<&str>) -> Row {
        match text {
            Some(text) => self.text(key, text),
            None => self,
        }
    }

    /// Appends it to a study.
    pub(super) fn write(&self, out: &mut String) {
        let _ = writeln!(out, "[{}]", self.head);
        let width = self.lines.iter().map(|(key, _)| key.len()).max().unwrap_or(0);
        for (key, value) in &self.lines {
            let _ = writeln!(out, "{key:<width$} = {value}");
        }
        out.push('\n');
    }
}

/// A distribution of three points, the middle one its base.
#[derive(Debug, Clone, Copy)]
pub(super) struct Three {
    pub(super) min: f64,
    pub(super) mode: f64,
    pub(super) max: f64,
}

impl Three {
    pub(super) fn of(min: f64, mode: f64, max: f64) -> Three {
        Three { min: rough(min), mode, max: rough(max) }
    }

    /// Round a figure that was given, so many per cent down and up.
    pub(super) fn round(mode: f64, down: f64, up: f64) -> Three {
        Three::of(mode * (1.0 - down / 100.0), mode, mode * (1.0 + up / 100.0))
    }

    pub(super) fn inline(self) -> String {
        format!("{{ min = {}, mode = {}, max = {} }}", number(self.min), number(self.mode), number(self.max))
    }

    /// As lines of a row.
    pub(super) fn in_row(self, row: Row, kind: &'static str) -> Row {
        row.raw(kind, self.inline()).raw("base", number(self.mode))
    }
}

/// Lines of comment, broken at 110 columns.
pub(super) fn comment(out: &mut String, text: &str) {
    for paragraph in text.lines() {
        let mut line = String::from("#");
        for word in paragraph.split(' ') {
            if line.len() + word.len() > 110 {
                let _ = writeln!(out, "{line}");
                line = String::from(if paragraph.starts_with("- ") { "#  " } else { "#" });
            }
            line.push(' ');
            line.push_str(word);
        }
        let _ = writeln!(out, "{}", line.trim_end());
    }
}
