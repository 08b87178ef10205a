//! The style sheet: the fixed part, the widths that this page's tables need, the line at the foot of each printed
//! page; and the policy that allows it and nothing else.

use std::collections::BTreeSet;

use sha2::{Digest, Sha256};

use crate::chart::{font_face_css, push_base64};
use crate::report::document::{Document, Table};
use crate::report::numbers::{clean, shortened};

/// The part that is the same in every page.
const FIXED: &str = include_str!("style.css");

/// Longest title at the foot of a page, in characters.
const FOOT_CHARACTERS: usize = 80;

/// Tables of at most so many columns fit on a phone.
const FEW_COLUMNS: usize = 3;

/// Share of the width that the column of row numbers gets, in percent.
const NUMBER_PERCENT: u32 = 7;

/// Widths that tables of the page ask for: percents of columns, and numbers of columns.
#[derive(Debug, Default)]
pub(super) struct Widths {
    percents: BTreeSet<u32>,
    columns: BTreeSet<usize>,
}

impl Widths {
    /// Class of a table of so many columns, if it needs one.
    pub(super) fn table(&mut self, columns: usize) -> Option<String> {
        if columns <= FEW_COLUMNS {
            return None;
        }
        self.columns.insert(columns);
        Some(format!("t{columns}"))
    }

    /// A class for each column, from its share of the width.
    pub(super) fn columns(&mut self, table: &Table, numbered: bool) -> Vec<String> {
        let mut shares: Vec<u64> = table.columns.iter().map(|column| u64::from(column.width)).collect();
        if shares.iter().all(|share| *share == 0) {
            shares.fill(1);
        }
        let sum = shares.iter().sum::<u64>().max(1);
        let all = u64::from(if numbered { 100 - NUMBER_PERCENT } else { 100 });
        let mut percents: Vec<u32> = shares.iter().map(|share| (all * share / sum).max(1) as u32).collect();
        if numbered {
            percents.push(NUMBER_PERCENT);
        }
        self.percents.extend(&percents);
        percents.iter().map(|percent| format!("w{percent}")).collect()
    }

    fn css(&self) -> String {
        let columns = self.percents.iter().map(|percent| format!(".w{percent}{{width:{percent}%}}"));
        // A column that holds a few words or a number with its unit is about so wide.
        let tables = self.columns.iter().map(|columns| {
            let least = columns * 5;
            format!("@media screen{{.t{columns}{{min-width:{least}rem}}}}")
        });
        columns.chain(tables).collect()
    }
}

/// The style sheet of the page.
pub(super) fn sheet(document: &Document, widths: &Widths) -> String {
    format!("{}{FIXED}{}{}", font_face_css(), widths.css(), foot(document))
}

/// What stands at the foot of each printed page.
fn foot(document: &Document) -> String {
    let title = shortened(&clean(&document.title), FOOT_CHARACTERS);
    let revision = document.facts.iter().find(|(what, _)| what.eq_ignore_ascii_case("revision"));
    let left = match revision {
        Some((what, fact)) => {
            format!("{title}  \u{b7}  {} {}", clean(what), shortened(&clean(fact), FOOT_CHARACTERS / 2))
        }
        None => title,
    };
    format!("@page{{@bottom-left{{content:{}}}}}", css_string(&left))
}

/// A text as a string of CSS; whatever could end it, or the style sheet, is written as a number.
fn css_string(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        if c.is_ascii_alphanumeric() || matches!(c, ' ' | ',' | '.' | '-') {
            out.push(c);
        } else {
            out.push_str(&format!("\\{:x} ", u32::from(c)));
        }
    }
    out.push('"');
    out
}

/// The policy of the page: this style sheet, the typeface within it, and nothing else from anywhere.
pub(super) fn policy(style: &str) -> String {
    let mut hash = String::new();
    push_base64(&mut hash, &Sha256::digest(style.as_bytes()));
    format!(
        "default-src 'none'; style-src 'sha256-{hash}'; font-src data:; base-uri 'none'; form-action 'none'"
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::document::Column;

    #[test]
    fn a_hostile_title_stays_within_its_string() {
        let written = css_string("a\"}</style><script>\\");
        assert_eq!(written, "\"a\\22 \\7d \\3c \\2f style\\3e \\3c script\\3e \\5c \"");
    }

    #[test]
    fn columns_share_the_width() {
        let column = |width| Column { heading: String::new(), width, numbers: false };
        let mut widths = Widths::default();
        let table =
            |all: &[u32]| Table { columns: all.iter().map(|w| column(*w)).collect(), ..Table::default() };
        assert_eq!(widths.columns(&table(&[3, 1]), false), ["w75", "w25"]);
        assert_eq!(widths.columns(&table(&[0, 0]), false), ["w50", "w50"]);
        assert_eq!(widths.columns(&table(&[1]), true), ["w93", "w7"]);
        assert_eq!(widths.columns(&table(&[u32::MAX, u32::MAX]), false), ["w50", "w50"]);
        assert!(widths.css().starts_with(".w7{width:7%}.w25{width:25%}"));
    }
}
