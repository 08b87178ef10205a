//! What somebody changed in the inputs sheet of a workbook, and the study's text with it.
//!
//! Bytes of a workbook and a checked study in; changes and a text out. Files are for the command line.

mod cells;
mod compare;
mod write;

pub use cells::{Cell, Row, SheetError, rows};
pub use compare::{Compared, compare};
pub use write::written;

use super::workbook::layout;

/// Columns of the sheet, A first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Column {
    /// Name in the study: A.
    Name,
    /// Plain name: B.
    Label,
    /// Unit: C.
    Unit,
    /// Base value; a label as text: D.
    Base,
    /// Kind of distribution, or another key that says what value there is: E.
    Kind,
    /// Its parameters, as they stand between the braces in a study: F.
    Parameters,
    /// Cut of the distribution, likewise: G.
    Truncate,
    /// Heading: H.
    Group,
    /// Source: I.
    Source,
    /// Date of the figure: J.
    AsOf,
    /// Remark: K.
    Note,
}

/// Columns stand where the writer of the workbook puts them.
const _: () = {
    assert!(Column::Name as u16 == layout::NAME && Column::Label as u16 == layout::LABEL);
    assert!(Column::Unit as u16 == layout::UNIT && Column::Base as u16 == layout::BASE);
    assert!(Column::Kind as u16 == layout::KIND && Column::Parameters as u16 == layout::PARAMETERS);
    assert!(Column::Truncate as u16 == layout::TRUNCATE && Column::Group as u16 == layout::GROUP);
    assert!(Column::Source as u16 == layout::SOURCE && Column::AsOf as u16 == layout::AS_OF);
    assert!(Column::Note as u16 == layout::NOTE);
};

impl Column {
    /// All of them, from A on.
    pub const ALL: [Column; 11] = [
        Column::Name,
        Column::Label,
        Column::Unit,
        Column::Base,
        Column::Kind,
        Column::Parameters,
        Column::Truncate,
        Column::Group,
        Column::Source,
        Column::AsOf,
        Column::Note,
    ];

    /// In words, as the changes are told.
    pub fn words(self) -> &'static str {
        match self {
            Column::Name => "name",
            Column::Label => "label",
            Column::Unit => "unit",
            Column::Base => "base value",
            Column::Kind => "kind",
            Column::Parameters => "parameters",
            Column::Truncate => "truncate",
            Column::Group => "group",
            Column::Source => "source",
            Column::AsOf => "as of",
            Column::Note => "note",
        }
    }

    /// The key of a study that a column of text is.
    pub(super) fn key(self) -> Option<&'static str> {
        match self {
            Column::Label => Some("label"),
            Column::Unit => Some("unit"),
            Column::Group => Some("group"),
            Column::Source => Some("source"),
            Column::AsOf => Some("as_of"),
            Column::Note => Some("note"),
            _ => None,
        }
    }
}

/// What is to be written into the study.
#[derive(Debug, Clone, PartialEq)]
pub enum Edit {
    /// A number, a list or a text under a key; what stood there before is replaced.
    Set(&'static str, NewValue),
    /// A key goes.
    Remove(&'static str),
    /// The key that says what value there is, in place of another.
    Kind {
        /// The key that stood there.
        old: String,
        /// The new one.
        new: String,
        /// Its value as TOML.
        value: String,
    },
}

/// A value to be written.
#[derive(Debug, Clone, PartialEq)]
pub enum NewValue {
    /// A number.
    Number(f64),
    /// Text.
    Text(String),
    /// Twelve numbers.
    Months(Vec<f64>),
    /// As TOML.
    Toml(String),
}

/// One thing that was changed.
#[derive(Debug, Clone, PartialEq)]
pub struct Changed {
    /// Row of the sheet, as the spreadsheet program counts.
    pub row: u32,
    /// Name in the study.
    pub name: String,
    /// What of it.
    pub what: String,
    /// As it was.
    pub old: String,
    /// As it shall be.
    pub new: String,
    /// The table of the study: `inputs` or `paths`, and the name there.
    pub table: (&'static str, String),
    /// What is written for it.
    pub edit: Edit,
}

/// What is wrong with a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowFault {
    /// Row of the sheet; none where a row is missing.
    pub row: Option<u32>,
    /// One sentence without a full stop.
    pub message: String,
    /// What would be right.
    pub hint: String,
}
