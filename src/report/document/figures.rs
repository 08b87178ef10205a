//! Numbers of the figures in a report.
//!
//! Every row of figures has a number of five digits, every figure in it a letter: `48213c`. The number comes from
//! what the row is about, not from where it stands, so it stays when the study grows; `payspread trace STUDY 48213c`
//! finds it again.

use std::collections::BTreeMap;
use std::fmt;

use super::Inline;

/// Numbers from `FIRST` on.
const FIRST: u32 = 10_000;
/// How many there are.
const COUNT: u32 = 90_000;

/// Number of a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct FigureNumber {
    /// Of its row: five digits.
    pub row: u32,
    /// Which of the row, from `a`.
    pub letter: char,
}

impl fmt::Display for FigureNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.row, self.letter)
    }
}

/// What a number leads to.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct FigureEntry {
    /// Number of the row.
    pub row: u32,
    /// What the row is about, such as "Net present value over the runs".
    pub what: String,
    /// Each figure: its letter, what it is, and how it is printed, with unit and interval.
    pub figures: Vec<(char, String, String)>,
    /// What the study calls the quantity, if it has a name there.
    pub name: Option<String>,
    /// Its formula as written, or how it is drawn.
    pub formula: Option<String>,
    /// What the formula reads: name, plain name and base value with unit.
    pub reads: Vec<(String, String, String)>,
    /// Where it comes from.
    pub source: Option<String>,
    /// What is behind the figures: base case, or how many runs and which kind of interval.
    pub behind: String,
}

/// Figures that have got numbers so far.
#[derive(Debug, Default)]
pub struct Figures {
    entries: Vec<FigureEntry>,
    by_subject: BTreeMap<String, usize>,
    taken: BTreeMap<u32, usize>,
}

impl Figures {
    /// The row about `subject`, such as "result npv", "input people", "tornado npv gas_price": a text that stays the
    /// same when the study changes elsewhere. Made by `make` when it is first asked for.
    pub fn row(&mut self, subject: &str, make: impl FnOnce() -> FigureEntry) -> u32 {
        if let Some(&at) = self.by_subject.get(subject) {
            return self.entries[at].row;
        }
        let mut number = FIRST + hash(subject) % COUNT;
        while self.taken.contains_key(&number) {
            number = FIRST + (number - FIRST + 1) % COUNT;
        }
        let at = self.entries.len();
        self.entries.push(FigureEntry { row: number, ..make() });
        self.by_subject.insert(subject.to_owned(), at);
        self.taken.insert(number, at);
        number
    }

    /// A figure of a row: `letter` says which, always the same for the same kind of figure; `what` it is; `full` is
    /// how its entry prints it, with unit and interval; `text` how it is printed here.
    pub fn figure(&mut self, row: u32, letter: char, what: &str, full: &str, text: &str) -> Inline {
        if let Some(entry) = self.taken.get(&row).map(|&at| &mut self.entries[at])
            && !entry.figures.iter().any(|(l, _, _)| *l == letter)
        {
            entry.figures.push((letter, what.to_owned(), full.to_owned()));
            entry.figures.sort_by_key(|(letter, _, _)| *letter);
        }
        Inline::Figure { number: FigureNumber { row, letter }, text: text.to_owned() }
    }

    /// All rows, in the order in which they were first asked for.
    pub fn into_entries(self) -> Vec<FigureEntry> {
        self.entries
    }
}

/// FNV-1a with a final mix (Fowler, Noll, Vo 1991): the same everywhere and for ever.
fn hash(text: &str) -> u32 {
    let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
    for byte in text.bytes() {
        hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    }
    hash ^= hash >> 32;
    (hash & 0xffff_ffff) as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stay_when_others_come_between() {
        let number = |subjects: &[&str]| {
            let mut figures = Figures::default();
            subjects.iter().map(|s| figures.row(s, FigureEntry::default)).last().unwrap()
        };
        let alone = number(&["result npv"]);
        assert_eq!(alone, number(&["result payback", "input people", "result npv"]));
        assert_eq!(alone.to_string().len(), 5);
        assert_eq!(number(&["result npv", "input people", "result npv"]), alone);
    }

    #[test]
    fn two_that_meet_get_two_numbers() {
        // Birthdays: among a thousand subjects some hashes meet.
        let mut figures = Figures::default();
        let numbers: std::collections::BTreeSet<u32> =
            (0..1000).map(|k| figures.row(&format!("input x{k}"), FigureEntry::default)).collect();
        assert_eq!(numbers.len(), 1000);
        assert!(numbers.iter().all(|n| (FIRST..FIRST + COUNT).contains(n)));
    }

    #[test]
    fn a_figure_is_listed_once_in_the_order_of_letters() {
        let mut figures = Figures::default();
        let row = figures.row("result npv", FigureEntry::default);
        for letter in ['c', 'a', 'c'] {
            let shown = figures.figure(row, letter, "mean", "498 EUR", "498");
            let number = FigureNumber { row, letter };
            assert_eq!(shown, Inline::Figure { number, text: "498".into() });
        }
        let letters: Vec<char> = figures.into_entries()[0].figures.iter().map(|f| f.0).collect();
        assert_eq!(letters, ['a', 'c']);
        assert_eq!(FigureNumber { row: 48213, letter: 'c' }.to_string(), "48213c");
    }
}
