//! Where every name of the study stands in the workbook, and how a formula refers to it.

use std::collections::{BTreeMap, BTreeSet};

use super::text::column;
use crate::formula::types::{Kind, Shape};

/// A sheet of the workbook, in its order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Page {
    About,
    Inputs,
    Workings,
    Years,
    Months,
    MonthsByYear,
    Cash,
    Results,
    Statistics,
    Charts,
}

impl Page {
    pub(super) const ALL: [Page; 10] = [
        Page::About,
        Page::Inputs,
        Page::Workings,
        Page::Years,
        Page::Months,
        Page::MonthsByYear,
        Page::Cash,
        Page::Results,
        Page::Statistics,
        Page::Charts,
    ];

    /// Its name on the tab.
    pub(super) fn name(self) -> &'static str {
        match self {
            Page::About => "About",
            Page::Inputs => super::layout::INPUTS,
            Page::Workings => "Workings",
            Page::Years => "Years",
            Page::Months => "Months",
            Page::MonthsByYear => "Months by year",
            Page::Cash => "Cash",
            Page::Results => "Results",
            Page::Statistics => "Run statistics",
            Page::Charts => "Charts",
        }
    }

    /// Where values of this shape stand.
    pub(super) fn of(shape: Shape) -> Page {
        match shape {
            Shape::Single => Page::Workings,
            Shape::Monthly => Page::Months,
            Shape::Yearly => Page::Years,
            Shape::MonthlyByYearly => Page::MonthsByYear,
        }
    }

    fn quoted(self) -> String {
        let name = self.name();
        if name.contains(' ') { format!("'{name}'") } else { name.to_owned() }
    }
}

/// Column of values, of the first month or year.
pub(super) const FIRST_VALUE: u16 = 3;

/// Where the values of a name stand, in a row.
#[derive(Debug, Clone)]
pub(super) struct Place {
    pub(super) page: Page,
    pub(super) row: u32,
    pub(super) col: u16,
    pub(super) shape: Shape,
    /// Base units in one of the unit that the cells are in.
    pub(super) scale: f64,
    pub(super) kind: Kind,
    /// Name defined for the cell.
    pub(super) defined: Option<String>,
}

impl Place {
    fn address(&self, lane: usize) -> String {
        format!("{}{}", column(self.col + lane as u16), self.row + 1)
    }

    /// The whole address of a value, for the definition of a name.
    pub(super) fn absolute(&self) -> String {
        format!("={}!${}${}", self.page.quoted(), column(self.col), self.row + 1)
    }

    /// A value as the sheet `from` refers to it, in the unit of its cells.
    pub(super) fn cell(&self, lane: usize, from: Page) -> String {
        match &self.defined {
            Some(name) => name.clone(),
            None if self.page == from => self.address(lane),
            None => format!("{}!{}", self.page.quoted(), self.address(lane)),
        }
    }

    /// A value in base units.
    pub(super) fn reference(&self, lane: usize, from: Page) -> String {
        let cell = self.cell(lane, from);
        let number = !matches!(self.kind, Kind::YesNo | Kind::Label(_));
        if self.scale == 1.0 || !number {
            return cell;
        }
        let scaled = format!("({cell}*{})", super::text::number(self.scale));
        if self.kind == Kind::Years { format!("IF(ISTEXT({cell}),{cell},{scaled})") } else { scaled }
    }

    /// Values `first` to `last` as a range.
    pub(super) fn range(&self, first: usize, last: usize, from: Page) -> String {
        let sheet = if self.page == from { String::new() } else { format!("{}!", self.page.quoted()) };
        format!("{sheet}{}:{}", self.address(first), self.address(last))
    }
}

/// Places by name, and the names defined so far.
#[derive(Default)]
pub(super) struct Places {
    places: BTreeMap<String, Place>,
    defined: BTreeSet<String>,
}

impl Places {
    pub(super) fn get(&self, name: &str) -> Option<&Place> {
        self.places.get(name)
    }

    /// Puts a name; one value gets a defined name.
    pub(super) fn put(&mut self, name: &str, mut place: Place) {
        if place.shape == Shape::Single {
            place.defined = self.define(name);
        }
        self.places.insert(name.to_owned(), place);
    }

    /// Puts a name whose values go through another row yet: no defined name.
    pub(super) fn put_unnamed(&mut self, name: &str, place: Place) {
        self.places.insert(name.to_owned(), place);
    }

    /// Every defined name with what it means, in the order of the names.
    pub(super) fn names(&self) -> Vec<(String, String)> {
        let named = self.places.values().filter_map(|p| Some((p.defined.clone()?, p.absolute())));
        named.collect()
    }

    fn define(&mut self, name: &str) -> Option<String> {
        let mut name = name.replace(['.', ' '], "_");
        let plain = name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_');
        if !plain || name.len() > 200 || !name.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_') {
            return None;
        }
        while is_reserved(&name) || self.defined.contains(&name.to_ascii_lowercase()) {
            name.push('_');
        }
        self.defined.insert(name.to_ascii_lowercase());
        Some(name)
    }
}

/// Whether a spreadsheet reads it as something else: an address (`A1`, `R1C1`, `C`) or a word of its own.
fn is_reserved(name: &str) -> bool {
    let lower = name.to_ascii_lowercase();
    let letters = lower.chars().take_while(char::is_ascii_alphabetic).count();
    let rest = &lower[letters..];
    let digits = !rest.is_empty() && rest.chars().all(|c| c.is_ascii_digit());
    let row_column = {
        let after_row = lower.strip_prefix('r').map(|r| r.trim_start_matches(|c: char| c.is_ascii_digit()));
        let after_row = after_row.unwrap_or(&lower);
        let after_column =
            after_row.strip_prefix('c').map(|c| c.trim_start_matches(|c: char| c.is_ascii_digit()));
        after_column.unwrap_or(after_row).is_empty()
    };
    (digits && letters <= 4) || row_column || matches!(lower.as_str(), "true" | "false" | "pi" | "na")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_are_addresses_are_altered() {
        for name in ["A1", "r", "C", "R1C1", "rc", "xfd99", "TRUE", "c12"] {
            assert!(is_reserved(name), "{name}");
        }
        for name in ["outlay", "rate", "cost", "r_1", "people2"] {
            assert!(!is_reserved(name), "{name}");
        }
        let mut places = Places::default();
        assert_eq!(places.define("a1").as_deref(), Some("a1_"));
        assert_eq!(places.define("gas.start").as_deref(), Some("gas_start"));
        assert_eq!(places.define("gas_start").as_deref(), Some("gas_start_"));
        assert_eq!(places.define("prix_d_été"), None);
    }

    #[test]
    fn columns_have_letters() {
        assert_eq!([0, 25, 26, 701, 702].map(column), ["A", "Z", "AA", "ZZ", "AAA"].map(String::from));
    }
}
