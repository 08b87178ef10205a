//! Where things stand on the sheet of inputs: what the writer of the workbook and the reader of an edited one agree on.
//! Rows and columns are counted from 0.

/// Name of the sheet of inputs.
pub const INPUTS: &str = "Inputs";
/// Row of the headings (row 4 as a reader counts); the rows before it say how to edit.
pub const HEADER_ROW: u32 = 3;
/// First row of an input.
pub const FIRST_ROW: u32 = HEADER_ROW + 1;

/// Name as in the study; parts of a path as `NAME.start` and `NAME.growth`.
pub const NAME: u16 = 0;
/// Plain name.
pub const LABEL: u16 = 1;
/// Unit, empty if dimensionless.
pub const UNIT: u16 = 2;
/// Base value: a number, or the text of a label; empty where there are twelve. Of a known input it is the value.
pub const BASE: u16 = 3;
/// How the study writes its value: `value`, `monthly`, `labels`, `choice`, or the kind of a distribution.
pub const KIND: u16 = 4;
/// The inner text of the distribution as the study writes it, of a choice or of labels the list; empty for `value` and `monthly`.
pub const PARAMETERS: u16 = 5;
/// The inner text of `truncate`, or empty.
pub const TRUNCATE: u16 = 6;
/// Heading under which it is listed.
pub const GROUP: u16 = 7;
/// Where the figure comes from.
pub const SOURCE: u16 = 8;
/// Date of the figure.
pub const AS_OF: u16 = 9;
/// Remark.
pub const NOTE: u16 = 10;
/// For information: 10 % of runs lie below.
pub const P10: u16 = 11;
/// For information: half of the runs lie below.
pub const P50: u16 = 12;
/// For information: 90 % of runs lie below.
pub const P90: u16 = 13;
/// The first of twelve columns for the months of `monthly`.
pub const FIRST_MONTH: u16 = 14;

/// Headings of the columns before the months.
pub const HEADINGS: [&str; 14] = [
    "Name",
    "Label",
    "Unit",
    "Base value",
    "Distribution",
    "Parameters",
    "Truncate",
    "Group",
    "Source",
    "As of",
    "Note",
    "10 % of runs below",
    "Half of runs below",
    "90 % of runs below",
];

/// Columns that `payspread update` reads; the months too.
pub const EDITABLE: [u16; 8] = [BASE, KIND, PARAMETERS, TRUNCATE, GROUP, SOURCE, AS_OF, NOTE];
