//! Lines of text.

use docx_rs as w;

use super::blocks::Writer;
use crate::report::document::{Inline, is_of_the_web};

/// How a run of text looks.
#[derive(Clone, Copy, Default)]
pub(super) struct Look {
    strong: bool,
    emphasis: bool,
}

impl Look {
    fn run(self) -> w::Run {
        let run = w::Run::new();
        let run = if self.strong { run.bold() } else { run };
        if self.emphasis { run.italic() } else { run }
    }
}

/// Text without what XML cannot hold and without marks that turn the direction of the text around them.
pub(super) fn plain(text: &str) -> String {
    let kept = |c: char| match c {
        '\n' | '\r' | '\t' => Some(' '),
        c if c.is_control() => None,
        '\u{200E}' | '\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2066}'..='\u{2069}' => None,
        '\u{FFFE}' | '\u{FFFF}' => None,
        c => Some(c),
    };
    text.chars().filter_map(kept).collect()
}

/// An address as it can stand between quotation marks in a field's instruction, which is written into the part as it is.
fn in_instruction(address: &str) -> String {
    let mut out = String::with_capacity(address.len());
    for c in address.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("%3C"),
            '>' => out.push_str("%3E"),
            '"' => out.push_str("%22"),
            '\\' => out.push_str("%5C"),
            ' ' => out.push_str("%20"),
            c => out.push(c),
        }
    }
    out
}

impl Writer {
    /// `line` at the end of `paragraph`. Figures of the row `row` do not repeat its number.
    pub(super) fn line(
        &self,
        paragraph: w::Paragraph,
        line: &[Inline],
        look: Look,
        row: Option<u32>,
    ) -> w::Paragraph {
        line.iter().fold(paragraph, |paragraph, inline| self.inline(paragraph, inline, look, row))
    }

    fn inline(&self, to: w::Paragraph, inline: &Inline, look: Look, row: Option<u32>) -> w::Paragraph {
        match inline {
            Inline::Text(text) | Inline::Verbatim(text) => to.add_run(look.run().add_text(plain(text))),
            Inline::Strong(inner) => self.line(to, inner, Look { strong: true, ..look }, row),
            Inline::Emphasis(inner) => self.line(to, inner, Look { emphasis: true, ..look }, row),
            Inline::Code(text) => to.add_run(look.run().style("Code").add_text(plain(text))),
            Inline::Figure { number, text } => {
                let to = to.add_run(look.run().add_text(plain(text)));
                if row == Some(number.row) {
                    return to;
                }
                to.add_run(w::Run::new().style("FigureNumber").add_text(number.to_string()))
            }
            Inline::Link { to: id, text } if self.bookmarks.contains_key(id) => {
                to.add_hyperlink(self.link(id, look.run().style("Hyperlink").add_text(plain(text))))
            }
            Inline::Link { text, .. } => to.add_run(look.run().add_text(plain(text))),
            Inline::Web { address, text } => {
                // The address stands in print too.
                let differs = address != text;
                let said =
                    if differs { format!("{} ({})", plain(text), plain(address)) } else { plain(address) };
                if !is_of_the_web(address) {
                    return to.add_run(look.run().add_text(said));
                }
                // A field: it needs no entry outside this part, whose number would tell how many links were made before.
                let address = in_instruction(&plain(address));
                let open = w::Run::new()
                    .add_field_char(w::FieldCharType::Begin, false)
                    .add_instr_text(w::InstrText::Unsupported(format!(" HYPERLINK \"{address}\" ")))
                    .add_field_char(w::FieldCharType::Separate, false);
                to.add_run(open)
                    .add_run(look.run().style("Hyperlink").add_text(said))
                    .add_run(w::Run::new().add_field_char(w::FieldCharType::End, false))
            }
            Inline::Break => to.add_run(w::Run::new().add_break(w::BreakType::TextWrapping)),
        }
    }

    /// A link to the place `id`, which must have a bookmark.
    pub(super) fn link(&self, id: &str, run: w::Run) -> w::Hyperlink {
        let number = self.bookmarks.get(id).copied().unwrap_or(0);
        w::Hyperlink::new(format!("place{number}"), w::HyperlinkType::Anchor).add_run(run)
    }

    /// `run` at the end of `paragraph`, as the place `id`; of several of one id the first is the place.
    pub(super) fn marked(&mut self, paragraph: w::Paragraph, id: &str, run: w::Run) -> w::Paragraph {
        match self.bookmarks.get(id) {
            Some(&number) if self.placed.insert(number) => paragraph
                .add_bookmark_start(number, format!("place{number}"))
                .add_run(run)
                .add_bookmark_end(number),
            _ => paragraph.add_run(run),
        }
    }
}
