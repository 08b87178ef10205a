//! The study's own words, Markdown (CommonMark), as blocks. What its author wrote is verbatim: no number in it is
//! rewritten. HTML is shown as the text it is.

use pulldown_cmark::{Event, Options, Parser, Tag, TagEnd};

use super::{Block, Cell, Column, Inline, NoteKind, Row, Table};
use crate::wording::clean;

/// Deeper blocks and stresses are laid out at this depth.
const DEEPEST: usize = 12;

/// Blocks of a Markdown text. What a report has no form for is shown as the text it is.
pub fn blocks(text: &str) -> Vec<Block> {
    let text: String = text.chars().map(|c| if c == '\0' { ' ' } else { c }).collect();
    let mut builder = Builder { frames: vec![Frame::new(Part::Root)], skipped: 0 };
    for event in Parser::new_ext(&text, Options::ENABLE_TABLES) {
        builder.take(event);
    }
    while builder.frames.len() > 1 {
        builder.close();
    }
    let mut root = builder.frames.pop().unwrap_or_else(|| Frame::new(Part::Root));
    root.end_line();
    root.blocks
}

/// What is open.
enum Part {
    Root,
    Paragraph,
    Heading,
    Quote,
    Code,
    List(bool),
    Item,
    Table,
    Row {
        is_head: bool,
    },
    Cell,
    Emphasis,
    Strong,
    Link(String),
    /// Passes on what is in it.
    Plain,
}

struct Frame {
    part: Part,
    blocks: Vec<Block>,
    line: Vec<Inline>,
    items: Vec<Vec<Block>>,
    rows: Vec<(bool, Vec<Vec<Inline>>)>,
    cells: Vec<Vec<Inline>>,
}

impl Frame {
    fn new(part: Part) -> Frame {
        let (blocks, line, items) = (Vec::new(), Vec::new(), Vec::new());
        Frame { part, blocks, line, items, rows: Vec::new(), cells: Vec::new() }
    }

    /// Words that stand in no paragraph, as in a tight list, are one.
    fn end_line(&mut self) {
        if !self.line.is_empty() {
            self.blocks.push(Block::Paragraph(std::mem::take(&mut self.line)));
        }
    }
}

struct Builder {
    frames: Vec<Frame>,
    /// Tags that were opened below the deepest.
    skipped: usize,
}

impl Builder {
    fn take(&mut self, event: Event<'_>) {
        match event {
            Event::Start(tag) => self.open(&tag),
            Event::End(tag) => self.end(tag),
            Event::Text(text) | Event::Html(text) | Event::InlineHtml(text) => self.words(&text),
            Event::Code(text) | Event::InlineMath(text) | Event::DisplayMath(text) => {
                self.push(Inline::Code(clean(&text)));
            }
            Event::SoftBreak => self.push(Inline::Verbatim(" ".into())),
            Event::HardBreak => self.push(Inline::Break),
            Event::Rule | Event::FootnoteReference(_) | Event::TaskListMarker(_) => {}
        }
    }

    fn open(&mut self, tag: &Tag<'_>) {
        if self.frames.len() >= DEEPEST * 3 || self.skipped > 0 {
            self.skipped += 1;
            return;
        }
        let part = match tag {
            Tag::Paragraph => Part::Paragraph,
            Tag::Heading { .. } => Part::Heading,
            Tag::BlockQuote(_) => Part::Quote,
            Tag::CodeBlock(_) => Part::Code,
            Tag::List(first) => Part::List(first.is_some()),
            Tag::Item => Part::Item,
            Tag::Table(_) => Part::Table,
            Tag::TableHead => Part::Row { is_head: true },
            Tag::TableRow => Part::Row { is_head: false },
            Tag::TableCell => Part::Cell,
            Tag::Emphasis => Part::Emphasis,
            Tag::Strong => Part::Strong,
            Tag::Link { dest_url, .. } => Part::Link(dest_url.to_string()),
            _ => Part::Plain,
        };
        if matches!(
            part,
            Part::Paragraph | Part::Heading | Part::Quote | Part::Code | Part::List(_) | Part::Table
        ) && let Some(above) = self.frames.last_mut()
        {
            above.end_line();
        }
        self.frames.push(Frame::new(part));
    }

    fn end(&mut self, _: TagEnd) {
        if self.skipped > 0 {
            self.skipped -= 1;
        } else if self.frames.len() > 1 {
            self.close();
        }
    }

    fn words(&mut self, text: &str) {
        if let Some(Part::Code) = self.frames.last().map(|frame| &frame.part) {
            for line in text.lines() {
                self.push(Inline::Code(line.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()));
                self.push(Inline::Break);
            }
            return;
        }
        // What `clean` trims at the ends is a gap between two words here.
        let cleaned = clean(text);
        let gap = |there: bool| if there { " " } else { "" };
        let before = gap(text.starts_with(char::is_whitespace));
        let after = gap(text.ends_with(char::is_whitespace) && !cleaned.is_empty());
        self.push(Inline::Verbatim(format!("{before}{cleaned}{after}")));
    }

    fn push(&mut self, part: Inline) {
        if let Some(frame) = self.frames.last_mut() {
            frame.line.push(part);
        }
    }

    fn close(&mut self) {
        let (Some(mut frame), true) = (self.frames.pop(), !self.frames.is_empty()) else { return };
        let Some(above) = self.frames.last_mut() else { return };
        match frame.part {
            Part::Root | Part::Plain => {
                above.line.append(&mut frame.line);
                above.blocks.append(&mut frame.blocks);
            }
            Part::Paragraph => above.blocks.extend(paragraph(frame.line)),
            Part::Heading => above.blocks.extend(paragraph(vec![Inline::Strong(frame.line)])),
            Part::Code => {
                frame.line.pop();
                above.blocks.extend(paragraph(frame.line));
            }
            Part::Quote => {
                frame.end_line();
                let (kind, heading) = (NoteKind::Remark, String::new());
                above.blocks.push(Block::Note { kind, heading, blocks: frame.blocks });
            }
            Part::Item => {
                frame.end_line();
                above.items.push(frame.blocks);
            }
            Part::List(numbered) => above.blocks.push(Block::List { numbered, items: frame.items }),
            Part::Cell => above.cells.push(frame.line),
            Part::Row { is_head } => above.rows.push((is_head, frame.cells)),
            Part::Table => above.blocks.extend(table(frame.rows)),
            Part::Emphasis => above.line.push(Inline::Emphasis(frame.line)),
            Part::Strong => above.line.push(Inline::Strong(frame.line)),
            Part::Link(address) => above.line.extend(link(&address, frame.line)),
        }
    }
}

fn paragraph(line: Vec<Inline>) -> Option<Block> {
    (!line.is_empty()).then_some(Block::Paragraph(line))
}

/// Only addresses of the web lead anywhere.
fn link(address: &str, line: Vec<Inline>) -> Vec<Inline> {
    let lower = address.to_ascii_lowercase();
    let is_web = lower.starts_with("https://") || lower.starts_with("http://");
    let is_whole = !address.chars().any(|c| c.is_control() || c.is_whitespace());
    if !(is_web && is_whole) {
        return line;
    }
    let text = plain(&line);
    let text = if text.trim().is_empty() { address.to_owned() } else { text };
    vec![Inline::Web { address: address.to_owned(), text }]
}

/// The words of a line.
fn plain(line: &[Inline]) -> String {
    let one = |part: &Inline| match part {
        Inline::Text(text)
        | Inline::Verbatim(text)
        | Inline::Code(text)
        | Inline::Figure { text, .. }
        | Inline::Link { text, .. }
        | Inline::Web { text, .. } => text.clone(),
        Inline::Strong(line) | Inline::Emphasis(line) => plain(line),
        Inline::Break => " ".into(),
    };
    line.iter().map(one).collect()
}

/// A table of the author's: its heading row is its columns. It has no caption of its own.
fn table(rows: Vec<(bool, Vec<Vec<Inline>>)>) -> Option<Block> {
    let mut rows = rows.into_iter();
    let head = rows.next().filter(|(is_head, _)| *is_head)?.1;
    let width = head.len();
    let columns = head.iter().map(|line| Column { heading: plain(line), width: 1, numbers: false }).collect();
    let row = |(_, cells): (bool, Vec<Vec<Inline>>)| {
        let mut cells: Vec<Cell> = cells.into_iter().map(|content| Cell { content, drawing: None }).collect();
        cells.resize(width, Cell::default());
        Row { cells, ..Row::default() }
    };
    Some(Block::Table(Table { columns, rows: rows.map(row).collect(), ..Table::default() }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn word(text: &str) -> Inline {
        Inline::Verbatim(text.into())
    }

    #[test]
    fn paragraphs_stresses_code_and_links() {
        let got = blocks(
            "One *two* **three** `x<1`\nfour.\n\n[here](https://example.org/a) and [there](javascript:x)",
        );
        assert_eq!(
            got,
            [
                Block::Paragraph(vec![
                    word("One "),
                    Inline::Emphasis(vec![word("two")]),
                    word(" "),
                    Inline::Strong(vec![word("three")]),
                    word(" "),
                    Inline::Code("x<1".into()),
                    word(" "),
                    word("four."),
                ]),
                Block::Paragraph(vec![
                    Inline::Web { address: "https://example.org/a".into(), text: "here".into() },
                    word(" and "),
                    word("there"),
                ]),
            ]
        );
    }

    #[test]
    fn lists_quotes_headings_and_tables() {
        let got =
            blocks("# Head\n\n1. a\n   - b\n2. c\n\n> said\n\n| x | y |\n|---|---|\n| 1,234.5 | <b> |\n");
        assert_eq!(got[0], Block::Paragraph(vec![Inline::Strong(vec![word("Head")])]));
        let inner = Block::List { numbered: false, items: vec![vec![Block::Paragraph(vec![word("b")])]] };
        let items =
            vec![vec![Block::Paragraph(vec![word("a")]), inner], vec![Block::Paragraph(vec![word("c")])]];
        assert_eq!(got[1], Block::List { numbered: true, items });
        assert!(matches!(&got[2], Block::Note { kind: NoteKind::Remark, .. }));
        let Block::Table(table) = &got[3] else { panic!("{:?}", got[3]) };
        assert_eq!(table.columns.len(), 2);
        assert_eq!(table.rows[0].cells[0].content, [word("1,234.5")]);
        assert_eq!(table.rows[0].cells[1].content, [word("<b>")]);
    }

    #[test]
    fn html_and_pictures_are_shown_as_text() {
        let text = |markdown: &str| match &blocks(markdown)[..] {
            [Block::Paragraph(line)] => plain(line),
            other => panic!("{other:?}"),
        };
        assert_eq!(text("<script>alert(1)</script>"), "<script>alert(1)</script>");
        assert_eq!(text("a <b>bold</b>"), "a <b>bold</b>");
        assert_eq!(text("![a cat](https://example.org/cat.png)"), "a cat");
        assert_eq!(text("[x](data:text/html,1)"), "x");
        assert_eq!(text("a\u{202e}b"), "a b");
    }

    #[test]
    fn what_is_hostile_ends() {
        for text in [
            "> ".repeat(5_000) + "deep",
            "- ".repeat(5_000) + "deep",
            "*".repeat(20_000),
            "[".repeat(20_000),
            "**a ".repeat(5_000),
            "|".repeat(10_000),
            "x".repeat(1_000_000),
            "\0\u{1b}[31m".into(),
            String::new(),
        ] {
            let deepest = depth(&blocks(&text));
            assert!(deepest <= DEEPEST * 3, "{deepest}");
        }
        let lost = format!("{:?}", blocks(&("> ".repeat(200) + "deep")));
        assert!(lost.contains("deep"));
    }

    fn depth(blocks: &[Block]) -> usize {
        let one = |block: &Block| match block {
            Block::List { items, .. } => 1 + items.iter().map(|item| depth(item)).max().unwrap_or(0),
            Block::Note { blocks, .. } => 1 + depth(blocks),
            _ => 1,
        };
        blocks.iter().map(one).max().unwrap_or(0)
    }

    proptest! {
        #[test]
        fn any_text_gives_rows_as_wide_as_their_columns(text in "[-*>#|\\[\\]()`\n a<1.]{0,200}") {
            for block in blocks(&text) {
                if let Block::Table(table) = block {
                    prop_assert!(table.rows.iter().all(|row| row.cells.len() == table.columns.len()));
                }
            }
        }
    }
}
