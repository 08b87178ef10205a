//! Data files that a study names: tables of numbers as CSV, relative to the study.

use std::fmt;

/// Largest data file.
pub const MAX_DATA_BYTES: u64 = 32 * 1024 * 1024;
/// Most rows and most columns of a data file.
const MAX_ROWS: usize = 1_000_000;
const MAX_COLUMNS: usize = 1_000;

/// What is wrong with a data file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DataError {
    /// One sentence without a full stop: what is wrong, and in which line.
    pub message: String,
    /// What would be right.
    pub hint: String,
}

impl DataError {
    /// From both sentences.
    pub fn new(message: impl Into<String>, hint: impl Into<String>) -> Self {
        DataError { message: message.into(), hint: hint.into() }
    }
}

impl fmt::Display for DataError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.message, self.hint)
    }
}

impl std::error::Error for DataError {}

/// Where the files that a study names come from.
pub trait DataFiles {
    /// Bytes of a file by its name relative to the study, with forward slashes.
    ///
    /// # Errors
    /// When there is no such file, or it may not be read.
    fn read(&self, file: &str) -> Result<Vec<u8>, DataError>;
}

/// No files at all: for a study that is read from a text alone.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoFiles;

impl DataFiles for NoFiles {
    fn read(&self, file: &str) -> Result<Vec<u8>, DataError> {
        Err(DataError::new(
            format!("the file {file} cannot be read: this study is not read from a folder"),
            "save it as a file beside its data",
        ))
    }
}

/// Columns of a data file, by the names in its first line. Cells are text: who uses a column says what it must hold.
#[derive(Debug, Clone, PartialEq)]
pub struct Columns {
    /// Names, in the order of the file.
    pub names: Vec<String>,
    cells: Vec<Vec<String>>,
}

impl Columns {
    /// Reads a CSV file in UTF-8 whose first line names the columns.
    ///
    /// # Errors
    /// Text that is no such table, names given twice, lines of unequal length, more than can be used.
    pub fn parse(bytes: &[u8]) -> Result<Columns, DataError> {
        let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
        let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(bytes);
        let names: Vec<String> =
            reader.headers().map_err(|e| unreadable(&e))?.iter().map(str::to_owned).collect();
        if names.len() > MAX_COLUMNS {
            let message = format!("the table has {} columns", names.len());
            return Err(DataError::new(message, format!("at most {MAX_COLUMNS} are read")));
        }
        if let Some((k, name)) = names.iter().enumerate().find(|(k, name)| names[..*k].contains(name)) {
            let message = format!("column {} is called `{name}`, as one before it", k + 1);
            return Err(DataError::new(message, "give each column a name of its own in the first line"));
        }
        let mut cells: Vec<Vec<String>> = vec![Vec::new(); names.len()];
        for (row, record) in reader.records().enumerate() {
            if row >= MAX_ROWS {
                return Err(DataError::new(
                    "the table has more than a million lines",
                    "thin it out or split it",
                ));
            }
            let record = record.map_err(|e| unreadable(&e))?;
            for (column, cell) in cells.iter_mut().zip(&record) {
                column.push(cell.to_owned());
            }
        }
        Ok(Columns { names, cells })
    }

    /// Number of rows below the names.
    pub fn rows(&self) -> usize {
        self.cells.first().map_or(0, Vec::len)
    }

    /// Cells of a column; none if there is no column of this name.
    pub fn text(&self, name: &str) -> Option<&[String]> {
        let at = self.names.iter().position(|n| n == name)?;
        self.cells.get(at).map(Vec::as_slice)
    }

    /// Numbers of a column. Empty cells are left out when `gaps` is set, else an error.
    ///
    /// # Errors
    /// No such column (naming those there are), a cell that is no finite number (naming its line), no number at all.
    pub fn numbers(&self, name: &str, gaps: bool) -> Result<Vec<f64>, DataError> {
        let Some(cells) = self.text(name) else {
            let message = format!("the table has no column `{name}`");
            let names: Vec<String> = self.names.iter().take(12).map(|n| format!("`{n}`")).collect();
            return Err(DataError::new(message, format!("its columns are {}", names.join(", "))));
        };
        let mut numbers = Vec::with_capacity(cells.len());
        for (row, cell) in cells.iter().enumerate() {
            if cell.is_empty() && gaps {
                continue;
            }
            match cell.parse::<f64>() {
                Ok(number) if number.is_finite() => numbers.push(number),
                _ => {
                    let shown: String = cell.chars().take(24).collect();
                    let message = format!("row {} of column `{name}` holds \"{shown}\", no number", row + 1);
                    return Err(DataError::new(message, "write numbers with a decimal point and no unit"));
                }
            }
        }
        if numbers.is_empty() {
            return Err(DataError::new(format!("column `{name}` holds no number"), "give it at least one"));
        }
        Ok(numbers)
    }
}

fn unreadable(error: &csv::Error) -> DataError {
    let line = error.position().map_or_else(String::new, |p| format!(" in line {}", p.line()));
    let what = match error.kind() {
        csv::ErrorKind::Utf8 { .. } => "text that is not UTF-8".to_owned(),
        csv::ErrorKind::UnequalLengths { expected_len, len, .. } => {
            format!("{len} cells where the first line has {expected_len}")
        }
        _ => "text that is no table".to_owned(),
    };
    DataError::new(
        format!("the file holds {what}{line}"),
        "save it as CSV in UTF-8, commas between the cells",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_by_name() {
        let table = Columns::parse(b"\xEF\xBB\xBFyear, low ,high\n2027,0.1,0.2\n2028,,0.3\n").unwrap();
        assert_eq!(table.names, ["year", "low", "high"]);
        assert_eq!(table.rows(), 2);
        assert_eq!(table.numbers("high", false).unwrap(), [0.2, 0.3]);
        assert_eq!(table.numbers("low", true).unwrap(), [0.1]);
        assert!(
            table.numbers("low", false).unwrap_err().message.starts_with("row 2 of column `low` holds \"\"")
        );
        assert!(table.numbers("mid", false).unwrap_err().hint.contains("`low`"));
    }

    #[test]
    fn what_is_no_table_is_told_by_line() {
        assert!(Columns::parse(b"a,a\n1,2\n").unwrap_err().message.contains("column 2"));
        assert!(Columns::parse(b"a,b\n1,2\n3\n").unwrap_err().message.contains("line 3"));
        assert!(Columns::parse(b"a\n\xFF\n").unwrap_err().message.contains("UTF-8"));
        assert!(Columns::parse(b"a\n1e999\n").unwrap().numbers("a", false).is_err());
        assert!(Columns::parse(b"a\n").unwrap().numbers("a", false).is_err());
    }
}
