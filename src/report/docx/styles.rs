//! Styles, lists, page and footer.

use docx_rs as w;

use super::text::plain;
use crate::report::document::Document;

/// Width between the margins of an A4 page, in twentieths of a point.
pub(super) const TEXT_WIDTH: usize = (A4.0 - 2 * MARGIN as u32) as usize;
/// Levels of a list.
pub(super) const LEVELS: usize = 9;

const A4: (u32, u32) = (11_906, 16_838);
/// Two centimetres.
const MARGIN: i32 = 1_134;
/// The library has a numbering of its own under the first numbers.
const BULLETS: usize = 7;
const NUMBERS: usize = 8;
/// As above.
const FIRST_LIST: usize = 10;

/// Paragraph styles: id, name, half points, bold, colour, space before and after in twentieths of a point.
const STYLES: [(&str, &str, usize, bool, &str, u32, u32); 20] = [
    ("BodyText", "Body Text", 20, false, "000000", 0, 120),
    ("Title", "Title", 44, true, "1A1A1A", 0, 120),
    ("Subtitle", "Subtitle", 24, false, "404040", 0, 240),
    ("Lead", "Lead", 26, false, "000000", 60, 160),
    ("ContentsHeading", "Contents Heading", 26, true, "1A1A1A", 240, 80),
    ("TOC1", "toc 1", 18, true, "000000", 40, 0),
    ("TOC2", "toc 2", 17, false, "000000", 0, 0),
    ("TOC3", "toc 3", 16, false, "000000", 0, 0),
    ("Heading1", "heading 1", 32, true, "1A1A1A", 360, 120),
    ("Heading2", "heading 2", 26, true, "1A1A1A", 280, 100),
    ("Heading3", "heading 3", 22, true, "1A1A1A", 220, 80),
    ("Heading4", "heading 4", 20, true, "404040", 180, 60),
    ("Caption", "caption", 18, true, "404040", 120, 80),
    ("ListParagraph", "List Paragraph", 20, false, "000000", 0, 60),
    ("TableText", "Table Text", 17, false, "000000", 20, 20),
    ("TableSmall", "Table Small", 14, false, "000000", 20, 20),
    ("TableHead", "Table Head", 16, true, "000000", 30, 30),
    ("TableGroup", "Table Group", 17, true, "404040", 60, 20),
    ("TableNote", "Table Note", 16, false, "404040", 40, 60),
    ("FactName", "Fact Name", 17, true, "404040", 20, 20),
];

/// A document with styles, page, footer and no text.
pub(super) fn empty(document: &Document) -> w::Docx {
    let fonts = w::RunFonts::new().ascii("Inter").hi_ansi("Inter").east_asia("Inter").cs("Arial");
    let margin = w::PageMargin::new().top(MARGIN).bottom(MARGIN).left(MARGIN).right(MARGIN);
    let mut out = w::Docx::new()
        .default_fonts(fonts)
        .default_size(20)
        .page_size(A4.0, A4.1)
        .page_margin(margin.header(567).footer(567).gutter(0))
        .created_at(super::archive::DATE)
        .updated_at(super::archive::DATE)
        .footer(footer(document));
    for (id, name, size, bold, colour, before, after) in STYLES {
        out = out.add_style(paragraph_style(id, name, size, bold, colour, before, after));
    }
    let character = |id: &str, name: &str| w::Style::new(id, w::StyleType::Character).name(name);
    let code = w::RunFonts::new().ascii("Consolas").hi_ansi("Consolas").cs("Courier New");
    let mut number = character("FigureNumber", "Figure Number").size(20).color("5A5A5A");
    number.run_property = number.run_property.vert_align(w::VertAlignType::SuperScript);
    out.add_style(paragraph_style("NoteHeading", "Note Heading", 20, true, "000000", 60, 60))
        .add_style(paragraph_style("Picture", "Picture", 20, false, "000000", 160, 0))
        .add_style(character("Code", "Code").fonts(code).size(18))
        .add_style(character("Hyperlink", "Hyperlink").color("0B5394").underline("single"))
        .add_style(character("RowNumber", "Row Number").size(14).color("5A5A5A"))
        .add_style(number)
        .add_abstract_numbering(levels(BULLETS, false))
        .add_abstract_numbering(levels(NUMBERS, true))
}

fn paragraph_style(
    id: &str,
    name: &str,
    size: usize,
    bold: bool,
    colour: &str,
    before: u32,
    after: u32,
) -> w::Style {
    let spacing = w::LineSpacing::new().before(before).after(after);
    let mut style = w::Style::new(id, w::StyleType::Paragraph)
        .name(name)
        .based_on("Normal")
        .size(size)
        .color(colour)
        .line_spacing(spacing)
        .q_format(true);
    if bold {
        style = style.bold();
    }
    if let Some(level) = id.strip_prefix("Heading").and_then(|level| level.parse::<usize>().ok()) {
        style = style.outline_lvl(level - 1).next("BodyText");
        style.paragraph_property = style.paragraph_property.keep_next(true);
    }
    if let Some(level) = id.strip_prefix("TOC").and_then(|level| level.parse::<i32>().ok()) {
        style = style.indent(Some((level - 1) * 284), None, None, None);
    }
    style
}

/// The number by which the k-th list of the document is known.
pub(super) fn list_number(k: usize) -> usize {
    FIRST_LIST + k
}

/// The k-th list: its numbers begin again.
pub(super) fn list(k: usize, numbered: bool) -> w::Numbering {
    let kind = if numbered { NUMBERS } else { BULLETS };
    let list = w::Numbering::new(list_number(k), kind);
    (0..LEVELS).fold(list, |list, level| list.add_override(w::LevelOverride::new(level).start(1)))
}

fn levels(id: usize, numbered: bool) -> w::AbstractNumbering {
    let level = |k: usize| {
        let (format, text) =
            if numbered { ("decimal", format!("%{}.", k + 1)) } else { ("bullet", "\u{2022}".to_owned()) };
        w::Level::new(
            k,
            w::Start::new(1),
            w::NumberFormat::new(format),
            w::LevelText::new(text),
            w::LevelJc::new("left"),
        )
        .indent(Some(340 * (k as i32 + 1)), Some(w::SpecialIndentType::Hanging(340)), None, None)
    };
    (0..LEVELS).fold(w::AbstractNumbering::new(id), |list, k| list.add_level(level(k)))
}

/// Title, revision and page.
fn footer(document: &Document) -> w::Footer {
    let revision = document.facts.iter().find(|(what, _)| what == "Revision");
    let revision = revision.map_or_else(String::new, |(_, said)| format!(", revision {}", plain(said)));
    let short: String = plain(&document.title).chars().take(90).collect();
    let line = w::Paragraph::new()
        .style("TableNote")
        .add_run(w::Run::new().add_text(format!("{short}{revision}, page ")))
        .add_page_num(w::PageNum::new());
    w::Footer::new().add_paragraph(line)
}
