//! What a report says, before it has a form: sections of blocks. HTML and the word-processor document are two
//! writings of the same [`Document`]; neither adds, drops or reorders anything.
//!
//! All text is plain: whoever writes a form escapes it there, and nowhere else. All numbers in it are as the reader
//! shall see them. Figures that stand in the report have numbers ([`figures`]).

pub mod figures;
pub mod markdown;
pub mod numbers;

pub use figures::{FigureEntry, FigureNumber, Figures};

/// A whole report.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Document {
    /// Title.
    pub title: String,
    /// The question that it answers.
    pub question: Option<String>,
    /// Lines of the title block: what, and what it is ("Client", "Invented Housing Ltd").
    pub facts: Vec<(String, String)>,
    /// Its parts; the first is page one.
    pub sections: Vec<Section>,
    /// Every figure that has a number, in the order of first appearance.
    pub figures: Vec<FigureEntry>,
}

/// A part with a heading. Its level is its depth: 1 for those of the document.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Section {
    /// For links: lower case, digits and hyphens, one of its kind in the document.
    pub id: String,
    /// Heading.
    pub heading: String,
    /// It begins a page where there are pages.
    pub new_page: bool,
    /// What it says.
    pub blocks: Vec<Block>,
    /// Its parts, after that.
    pub sections: Vec<Section>,
}

/// A block.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// The answer itself: a paragraph in large type.
    Lead(Vec<Inline>),
    /// A paragraph.
    Paragraph(Vec<Inline>),
    /// A list.
    List {
        /// Counted, not only marked.
        numbered: bool,
        /// Each item: blocks, the first mostly a paragraph.
        items: Vec<Vec<Block>>,
    },
    /// A table.
    Table(Table),
    /// A picture with a caption.
    Picture(Picture),
    /// Pictures side by side where there is room.
    Pictures(Vec<Picture>),
    /// Something set apart.
    Note {
        /// Why.
        kind: NoteKind,
        /// Its heading.
        heading: String,
        /// What it says.
        blocks: Vec<Block>,
    },
}

/// Why something is set apart. Readers show it by words and form, never by colour alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoteKind {
    /// It concerns safety, law or money.
    Caution,
    /// It is missing: no source, not answered.
    Missing,
    /// It is good to know.
    Remark,
}

/// Part of a line.
#[derive(Debug, Clone, PartialEq)]
pub enum Inline {
    /// Text of ours, in which numbers follow the study's number format.
    Text(String),
    /// Text that is shown byte for byte: names, formulas, file names, hashes, what the study's author wrote.
    Verbatim(String),
    /// Of great weight.
    Strong(Vec<Inline>),
    /// Stressed.
    Emphasis(Vec<Inline>),
    /// A name, a formula, a line to type.
    Code(String),
    /// A figure with its number.
    Figure {
        /// Its number.
        number: FigureNumber,
        /// As printed, with its unit if the text around does not say it.
        text: String,
    },
    /// To another place of this document.
    Link {
        /// Id of a section, table or picture.
        to: String,
        /// What is written.
        text: String,
    },
    /// To the world. The address is shown in print.
    Web {
        /// Address, http or https.
        address: String,
        /// What is written.
        text: String,
    },
    /// A line break.
    Break,
}

/// A table.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Table {
    /// For links, one of its kind in the document.
    pub id: String,
    /// What it shows.
    pub caption: String,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows.
    pub rows: Vec<Row>,
    /// Said below it.
    pub notes: Vec<Vec<Inline>>,
}

/// A column.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Its heading.
    pub heading: String,
    /// Share of the width, relative to those of the other columns.
    pub width: u32,
    /// Numbers stand to the right.
    pub numbers: bool,
}

/// A row.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Row {
    /// A row that heads those below it: one cell over all columns.
    pub is_heading: bool,
    /// Number of the figures in it, if all of them share one; shown at its end.
    pub number: Option<u32>,
    /// Cells, one for each column. The first names the row.
    pub cells: Vec<Cell>,
}

/// A cell.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Cell {
    /// What it says.
    pub content: Vec<Inline>,
    /// A small drawing in it (SVG without typeface, of at most 120 x 24 points), before the text.
    pub drawing: Option<Drawing>,
}

/// A small drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// What it shows, for who cannot see it.
    pub alternative: String,
    /// The picture, with width and height in points.
    pub svg: String,
}

/// A picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// For links, one of its kind in the document; a chart's file stem.
    pub id: String,
    /// What it shows: the chart's title.
    pub caption: String,
    /// What it says: the finding, for who cannot see it.
    pub alternative: String,
    /// The picture, with width and height in points. Its typeface is named, not carried.
    pub svg: String,
    /// Number of what it shows, told at the end of its caption.
    pub number: Option<u32>,
}

/// Whether an address leads to the world wide web: others are not made links.
pub fn is_of_the_web(address: &str) -> bool {
    let lower = address.get(..8).unwrap_or(address).to_ascii_lowercase();
    lower.starts_with("https://") || lower.starts_with("http://")
}

impl Cell {
    /// Text of ours.
    pub fn text(text: impl Into<String>) -> Cell {
        Cell { content: vec![Inline::Text(text.into())], drawing: None }
    }

    /// Text as it is.
    pub fn verbatim(text: impl Into<String>) -> Cell {
        Cell { content: vec![Inline::Verbatim(text.into())], drawing: None }
    }

    /// A name or formula.
    pub fn code(text: impl Into<String>) -> Cell {
        Cell { content: vec![Inline::Code(text.into())], drawing: None }
    }
}

impl Block {
    /// A paragraph of text of ours.
    pub fn text(text: impl Into<String>) -> Block {
        Block::Paragraph(vec![Inline::Text(text.into())])
    }
}
