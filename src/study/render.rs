//! Diagnostics as the terminal shows them: message, place, excerpt, hints.
//!
//! The study is text by anybody: lines are clipped and control characters
//! replaced before they are shown.

use std::fmt::Write as _;
use std::ops::Range;

use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};

use crate::diagnostic::{Diagnostic, Place, Severity, Span};
use crate::study::file::Source;
use crate::study::syntax::{line_of, line_starts, within};

/// Diagnostics shown at once; the rest is counted.
pub const MAX_SHOWN: usize = 50;
/// Characters shown of a line.
const MAX_LINE_CHARS: usize = 110;
/// Characters shown of a message.
const MAX_MESSAGE_CHARS: usize = 400;
/// Places further apart than this are shown as two excerpts.
const MAX_GAP_LINES: usize = 2;
/// Further places shown of one diagnostic.
const MAX_OTHERS: usize = 8;

/// All of `diagnostics` by place, those that concern the file as a whole first,
/// and a line that counts them. Empty when there are none.
pub fn render(diagnostics: &[Diagnostic], source: &Source, color: bool) -> String {
    if diagnostics.is_empty() {
        return String::new();
    }
    let lines = Lines { text: &source.text, starts: line_starts(&source.text) };
    let mut sorted: Vec<&Diagnostic> = diagnostics.iter().collect();
    sorted.sort_by_key(|d| d.place.as_ref().map_or((0, 0), |p| (1, p.span.start)));
    let renderer = if color { Renderer::styled() } else { Renderer::plain() };
    // Lines are clipped here, so that columns stay those of the file.
    let renderer = renderer.term_width(10 * MAX_LINE_CHARS);
    let mut out = String::new();
    for diagnostic in sorted.iter().take(MAX_SHOWN) {
        push_without_gaps(&mut out, &renderer.render(&[group(diagnostic, source, &lines)]));
        out.push_str("\n\n");
    }
    if sorted.len() > MAX_SHOWN {
        let _ = writeln!(out, "{} more are not shown", sorted.len() - MAX_SHOWN);
    }
    out.push_str(&counts(diagnostics));
    out.push('\n');
    out
}

/// All of `diagnostics` in short, in the order given: a line each with place and message.
pub fn render_in_short(diagnostics: &[Diagnostic], source: &Source, color: bool) -> String {
    let lines = Lines { text: &source.text, starts: line_starts(&source.text) };
    let name = printable(&source.name);
    let mut out = String::new();
    for diagnostic in diagnostics.iter().take(MAX_SHOWN) {
        let (word, style) = match diagnostic.severity {
            Severity::Error => ("error", "\u{1b}[1m\u{1b}[91m"),
            Severity::Caution => ("caution", "\u{1b}[1m\u{1b}[33m"),
        };
        let (style, end) = if color { (style, "\u{1b}[0m") } else { ("", "") };
        let place = diagnostic.place.as_ref().map_or_else(String::new, |place| {
            let (line, column) = lines.place_of(place.span.start);
            format!(":{line}:{column}")
        });
        let message = printable(&diagnostic.message);
        let _ = writeln!(out, "{name}{place}: {style}{word}{end}: {message}");
    }
    if diagnostics.len() > MAX_SHOWN {
        let _ = writeln!(out, "{} more are not shown", diagnostics.len() - MAX_SHOWN);
    }
    out
}

/// Appends `shown`, but for the lines that only say that an excerpt begins:
/// each has a line with file, line and column above it.
fn push_without_gaps(out: &mut String, shown: &str) {
    let mut kept = shown.lines().filter(|line| plain(line).trim() != ":::");
    if let Some(first) = kept.next() {
        out.push_str(first);
    }
    for line in kept {
        out.push('\n');
        out.push_str(line.trim_end());
    }
}

/// `line` without what colours it.
fn plain(line: &str) -> String {
    let mut parts = line.split("\u{1b}[");
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        out.push_str(part.split_once('m').map_or("", |(_, text)| text));
    }
    out
}

/// Such as `2 errors, 1 caution`.
fn counts(diagnostics: &[Diagnostic]) -> String {
    let n_errors = diagnostics.iter().filter(|d| d.severity == Severity::Error).count();
    let count = |n: usize, word: &str| match n {
        0 => None,
        1 => Some(format!("1 {word}")),
        _ => Some(format!("{n} {word}s")),
    };
    let parts = [count(n_errors, "error"), count(diagnostics.len() - n_errors, "caution")];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// `text` on one line, of bounded length, without control characters.
pub(crate) fn printable(text: &str) -> String {
    let mut out: String = text.chars().take(MAX_MESSAGE_CHARS).map(shown_as).collect();
    if text.chars().nth(MAX_MESSAGE_CHARS).is_some() {
        out.push_str(" ...");
    }
    out
}

/// Control characters as their pictures, and those that turn the direction of
/// writing as a question mark: both could make the terminal show other text.
fn shown_as(c: char) -> char {
    match c {
        '\n' | '\r' | '\t' => ' ',
        '\0'..='\u{1f}' => char::from_u32(0x2400 + u32::from(c)).unwrap_or('\u{fffd}'),
        '\u{7f}' => '\u{2421}',
        c if c.is_control() => '\u{fffd}',
        '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}' => {
            '\u{fffd}'
        }
        c => c,
    }
}

struct Lines<'t> {
    text: &'t str,
    starts: Vec<usize>,
}

impl<'t> Lines<'t> {
    /// The bytes of line `index`, without its end.
    fn bytes_of(&self, index: usize) -> Range<usize> {
        let start = self.starts.get(index).copied().unwrap_or(self.text.len());
        let end = self.starts.get(index + 1).copied().unwrap_or(self.text.len());
        let line = self.slice(start..end);
        start..start + line.trim_end_matches(['\n', '\r']).len()
    }

    /// Line and column, from 1, of byte `at`.
    fn place_of(&self, at: usize) -> (usize, usize) {
        let line = line_of(&self.starts, at);
        let start = self.bytes_of(line).start;
        (line + 1, self.slice(start..at).chars().count() + 1)
    }

    fn slice(&self, range: Range<usize>) -> &'t str {
        self.text.get(range).unwrap_or_default()
    }
}

/// A place on its line.
struct Mark<'d> {
    line: usize,
    span: Span,
    label: &'d str,
    primary: bool,
}

fn group<'d>(diagnostic: &'d Diagnostic, source: &Source, lines: &Lines<'_>) -> Group<'d> {
    let level = match diagnostic.severity {
        Severity::Error => Level::ERROR,
        Severity::Caution => Level::WARNING.with_name("caution"),
    };
    let mut group = Group::with_title(level.primary_title(printable(&diagnostic.message)).id(diagnostic.id));
    for cluster in clusters(marks(diagnostic, lines)) {
        let Some(first) = cluster.iter().find(|m| m.primary).or(cluster.first()) else { continue };
        let (line, column) = lines.place_of(first.span.start);
        let origin = Origin::path(printable(&source.name)).line(line).char_column(column);
        group = group.element(origin).element(excerpt(&cluster, lines));
    }
    if diagnostic.place.is_none() && !source.name.is_empty() {
        group = group.element(Origin::path(printable(&source.name)));
    }
    for hint in &diagnostic.hints {
        group = group.element(Level::HELP.with_name("hint").message(printable(hint)));
    }
    group
}

/// The places of a diagnostic, each cut to the line on which it begins.
fn marks<'d>(diagnostic: &'d Diagnostic, lines: &Lines<'_>) -> Vec<Mark<'d>> {
    let mark = |place: &'d Place, primary| {
        let span = within(lines.text, place.span.clone());
        let line = line_of(&lines.starts, span.start);
        let bytes = lines.bytes_of(line);
        let start = span.start.min(bytes.end);
        Mark { line, span: start..span.end.clamp(start, bytes.end), label: &place.label, primary }
    };
    let others = diagnostic.others.iter().take(MAX_OTHERS).map(|p| mark(p, false));
    diagnostic.place.iter().map(|p| mark(p, true)).chain(others).collect()
}

/// Places near each other, the main place's first, the others from top to bottom.
fn clusters(mut marks: Vec<Mark<'_>>) -> Vec<Vec<Mark<'_>>> {
    marks.sort_by_key(|m| (m.line, m.span.start));
    let mut clusters: Vec<Vec<Mark<'_>>> = Vec::new();
    for mark in marks {
        match clusters.last_mut() {
            Some(c) if c.last().is_some_and(|last| mark.line - last.line <= MAX_GAP_LINES) => c.push(mark),
            _ => clusters.push(vec![mark]),
        }
    }
    clusters.sort_by_key(|c| !c.iter().any(|m| m.primary));
    clusters
}

/// The lines of a cluster, clipped and cleaned, with its places marked.
fn excerpt<'d>(cluster: &[Mark<'d>], lines: &Lines<'_>) -> Snippet<'d, annotate_snippets::Annotation<'d>> {
    let first = cluster.first().map_or(0, |m| m.line);
    let last = cluster.last().map_or(first, |m| m.line);
    let mut shown = String::new();
    let mut annotations = Vec::new();
    for line in first..=last {
        let bytes = lines.bytes_of(line);
        let here: Vec<&Mark<'d>> = cluster.iter().filter(|m| m.line == line).collect();
        let focus = here.iter().find(|m| m.primary).or(here.first()).map_or(bytes.start, |m| m.span.start);
        let clip = Clip::new(lines.slice(bytes.clone()), focus.saturating_sub(bytes.start));
        for mark in here {
            let place = |at: usize| shown.len() + clip.place_of(at.saturating_sub(bytes.start));
            let span = place(mark.span.start)..place(mark.span.end);
            let kind = if mark.primary { AnnotationKind::Primary } else { AnnotationKind::Context };
            let annotation = kind.span(span);
            annotations.push(if mark.label.is_empty() {
                annotation
            } else {
                annotation.label(printable(mark.label))
            });
        }
        shown.push_str(&clip.shown);
        shown.push('\n');
    }
    Snippet::source(shown).line_start(first + 1).annotations(annotations)
}

/// A line as shown, with the way from its bytes to those shown.
struct Clip {
    shown: String,
    /// For each character kept, its first byte in the line and in what is shown; at the end their ends.
    places: Vec<(usize, usize)>,
}

impl Clip {
    /// At most [`MAX_LINE_CHARS`] of `line`, with byte `focus` among them.
    fn new(line: &str, focus: usize) -> Self {
        let n_chars = line.chars().count();
        let focus_char = line.char_indices().take_while(|(at, _)| *at < focus).count();
        let skipped = if n_chars <= MAX_LINE_CHARS || focus_char < MAX_LINE_CHARS / 2 {
            0
        } else {
            (focus_char - MAX_LINE_CHARS / 3).min(n_chars - MAX_LINE_CHARS)
        };
        let mut shown = String::new();
        if skipped > 0 {
            shown.push_str("... ");
        }
        let mut places = Vec::new();
        let mut end = 0;
        for (at, c) in line.char_indices().skip(skipped).take(MAX_LINE_CHARS) {
            places.push((at, shown.len()));
            shown.push(shown_as(c));
            end = at + c.len_utf8();
        }
        places.push((end, shown.len()));
        if skipped + MAX_LINE_CHARS < n_chars {
            shown.push_str(" ...");
        }
        Clip { shown, places }
    }

    /// Where byte `at` of the line is shown; at the nearer end if it is clipped.
    fn place_of(&self, at: usize) -> usize {
        let index =
            self.places.partition_point(|(from, _)| *from < at).min(self.places.len().saturating_sub(1));
        self.places.get(index).map_or(0, |(_, to)| *to)
    }
}
