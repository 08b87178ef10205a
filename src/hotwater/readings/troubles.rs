//! Kinds of trouble in a file of readings: how often, where first, what was done.

use serde::Serialize;

use super::text_bytes::shown;

macro_rules! troubles {
    ($($name:ident $key:literal $what:literal, $done:literal;)*) => {
        /// A kind of trouble.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub(super) enum Trouble { $($name,)* }
        /// Key, what it is, what is done.
        const TABLE: &[(&str, &str, &str)] = &[$(($key, $what, $done),)*];
    };
}

troubles! {
    NoDate "no_date" "no date that can be read", "the row is left out";
    TotalRow "total_row" "a row of totals", "the row is left out";
    NoSuchDate "no_such_date" "a date that does not exist in the order of day and month found", "the row is left out";
    NoOffset "no_offset" "a time without offset among times with one", "the row is left out";
    ShortRow "short_row" "a row with fewer cells than columns", "its missing cells count as missing readings";
    Missing "missing" "a missing value", "treated as a gap";
    NotANumber "not_a_number" "a cell that is no number", "treated as a gap";
    UnknownRegister "unknown_register" "a row whose register is not known", "the row is left out";
    Descending "descending" "rows that run from the latest to the earliest", "turned round";
    OutOfOrder "out_of_order" "a row earlier than the one before", "the rows are sorted";
    Same "same_twice" "a reading that occurs twice with the same value", "counted once";
    Contradictory "contradictory" "a time with two different values", "the later line counts";
    Repeated "repeated_hour" "a reading in the hour that the clock repeats in autumn", "the first is summer time, the second standard time";
    Skipped "skipped_hour" "a time that the clock skips in spring", "taken as standard time";
    Overlapping "overlapping" "a reading whose interval overlaps the one before", "left out";
    Moved "moved" "a time stamp some seconds off the full interval", "moved to it";
    Negative "negative" "a value below 0", "treated as a gap";
    Spike "spike" "an absurdly high value", "treated as a gap";
    Reset "reset" "a register that starts again from 0", "what it shows is counted from 0; what passed unseen before is lost";
    RollOver "roll_over" "a register that rolls over", "counted on";
    Glitch "glitch" "a register reading far off both neighbours", "treated as a missing reading";
    Backwards "backwards" "a register that falls a little", "the interval counts 0";
}

/// One kind of trouble, as found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TroubleFound {
    /// Its key, for programs.
    pub key: &'static str,
    /// What it is.
    pub what: &'static str,
    /// How often.
    pub count: usize,
    /// Line of the first (from 1).
    pub first_line: usize,
    /// What stands there, where it helps.
    pub first_text: Option<String>,
    /// What was done.
    pub done: &'static str,
}

/// All trouble of a file.
#[derive(Debug, Default)]
pub(super) struct Troubles {
    found: std::collections::BTreeMap<Trouble, (usize, usize, Option<String>)>,
}

impl Troubles {
    pub(super) fn add(&mut self, trouble: Trouble, line: usize) {
        self.add_many(trouble, 1, line);
    }

    pub(super) fn add_many(&mut self, trouble: Trouble, count: usize, line: usize) {
        if count == 0 {
            return;
        }
        let entry = self.found.entry(trouble).or_insert((0, line, None));
        entry.0 += count;
        if line < entry.1 {
            *entry = (entry.0, line, None);
        }
    }

    pub(super) fn add_cell(&mut self, trouble: Trouble, line: usize, cell: &[u8]) {
        let entry = self.found.entry(trouble).or_insert_with(|| (0, line, Some(shown(cell))));
        entry.0 += 1;
    }

    pub(super) fn into_found(self) -> Vec<TroubleFound> {
        let one = |(trouble, (count, first_line, first_text)): (Trouble, (usize, usize, Option<String>))| {
            let (key, what, done) = TABLE[trouble as usize];
            TroubleFound { key, what, count, first_line, first_text, done }
        };
        self.found.into_iter().map(one).collect()
    }
}
