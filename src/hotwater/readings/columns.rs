//! Which column is which: from what is told, from headings, from what the cells hold.

use super::dates::{clock, stamp};
use super::dialect::Dialect;
use super::fault::ReadingsError;
use super::numbers::{Cell, number, trim};
use super::options::{Kind, Options, StampAt};
use super::text_bytes::{plain, shown};
use super::words;

/// A column of values.
#[derive(Debug, Clone)]
pub(super) struct ValueColumn {
    /// Place from 0.
    pub(super) at: usize,
    pub(super) what: What,
    /// As it stands in the file.
    pub(super) heading: String,
    /// Why it was taken for this.
    pub(super) why: &'static str,
}

/// What a column of values holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum What {
    One(Kind),
    /// Import less export, or export less import.
    Net,
}

/// How rows are laid out.
#[derive(Debug, Clone)]
pub(super) struct Layout {
    /// Column of the time stamp or date.
    pub(super) time: usize,
    /// Column of the time of day.
    pub(super) clock: Option<usize>,
    /// What the stamp marks, where headings or columns say so.
    pub(super) stamp_at: Option<(StampAt, &'static str)>,
    pub(super) values: Vec<ValueColumn>,
    /// Column whose cells say what the row's value counts, with the kinds it may name.
    pub(super) kind_column: Option<usize>,
    /// Columns of one day in a row: the second of the day that each begins (or ends).
    pub(super) day_columns: Vec<(usize, i32)>,
    /// Headings of columns that are not used.
    pub(super) unused: Vec<String>,
    /// What a person should know of it.
    pub(super) notes: Vec<String>,
}

/// What the cells of a column look like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Look {
    Stamp,
    Clock,
    Number,
    Empty,
    Text,
}

/// Finds out which column is which.
pub(super) fn find(dialect: &Dialect, options: &Options) -> Result<Layout, ReadingsError> {
    let sheet = Sheet::new(dialect);
    let (time, clock, stamp_at) = sheet.times(options)?;
    let taken = |at: usize| at == time || Some(at) == clock;
    let mut layout = Layout {
        time,
        clock,
        stamp_at,
        values: Vec::new(),
        kind_column: None,
        day_columns: Vec::new(),
        unused: Vec::new(),
        notes: Vec::new(),
    };
    if clock.is_none() && sheet.day_columns(&mut layout) {
        return Ok(layout);
    }
    if options.columns.is_empty() && options.net_column.is_none() && sheet.long(&mut layout, &taken) {
        return Ok(layout);
    }
    sheet.values(options, &taken, &mut layout)?;
    let used =
        |at: usize| taken(at) || layout.values.iter().any(|v| v.at == at) || sheet.looks[at] == Look::Stamp;
    layout.unused = (0..sheet.looks.len()).filter(|&at| !used(at)).map(|at| sheet.shown(at)).collect();
    Ok(layout)
}

/// Column of the stamps, column of the time of day, what stamps mark and why.
type Times = (usize, Option<usize>, Option<(StampAt, &'static str)>);

struct Sheet<'a> {
    dialect: &'a Dialect,
    looks: Vec<Look>,
    /// Headings in plain letters; as many as there are columns.
    headings: Vec<String>,
}

impl<'a> Sheet<'a> {
    fn new(dialect: &'a Dialect) -> Self {
        let width = dialect.sample.iter().map(Vec::len).max().unwrap_or(0).max(dialect.headings.len());
        let looks = (0..width).map(|at| look(dialect, at)).collect();
        let heading = |at: usize| dialect.headings.get(at).map_or(String::new(), |cell| plain(cell));
        Sheet { dialect, looks, headings: (0..width).map(heading).collect() }
    }

    fn shown(&self, at: usize) -> String {
        match self.dialect.headings.get(at) {
            Some(heading) if !trim(heading).is_empty() => shown(heading),
            _ => format!("column {}", at + 1),
        }
    }

    fn all(&self, look: Look) -> Vec<usize> {
        (0..self.looks.len()).filter(|&at| self.looks[at] == look).collect()
    }

    /// The column that somebody named, by heading or number.
    fn named(&self, name: &str) -> Result<usize, ReadingsError> {
        let wanted = plain(name.as_bytes());
        if let Some(at) = self.headings.iter().position(|heading| !heading.is_empty() && *heading == wanted) {
            return Ok(at);
        }
        match name.trim().parse::<usize>() {
            Ok(number) if number >= 1 && number <= self.looks.len() => Ok(number - 1),
            _ => {
                let known: Vec<String> = (0..self.looks.len()).map(|at| self.shown(at)).collect();
                let right = format!("the columns are: {}", known.join(", "));
                Err(ReadingsError::new(format!("there is no column `{}`", shown(name.as_bytes())), right))
            }
        }
    }

    fn times(&self, options: &Options) -> Result<Times, ReadingsError> {
        let stamps = self.all(Look::Stamp);
        let time = match &options.time_column {
            Some(name) => self.named(name)?,
            None => self.plainest_time(&stamps)?,
        };
        let clock = match &options.clock_column {
            Some(name) => Some(self.named(name)?),
            None => self.clock_beside(time),
        };
        let heading = clock.map_or("", |at| self.headings[at].as_str());
        let by = words::stamp_at(heading).or(words::stamp_at(&self.headings[time]));
        Ok((time, clock, by.map(|at| (at, "the heading says so"))))
    }

    /// Of several columns of stamps the one that marks the start, else the first that is not plain UTC beside a local one.
    fn plainest_time(&self, stamps: &[usize]) -> Result<usize, ReadingsError> {
        let start = stamps.iter().find(|&&at| words::stamp_at(&self.headings[at]) == Some(StampAt::Start));
        // A bare number may be seconds since 1970, but beside a written date it is a meter's number.
        let bare = |at: usize| {
            self.dialect
                .sample
                .iter()
                .filter_map(|row| row.get(at))
                .all(|c| trim(c).iter().all(u8::is_ascii_digit))
        };
        let written = stamps.iter().find(|&&at| !bare(at));
        match start.or(written).or(stamps.first()) {
            Some(&at) => Ok(at),
            None => {
                Err(ReadingsError::new("no column of dates was found", "name it (column of time stamps)"))
            }
        }
    }

    /// A column of times of day, where the dates have none.
    fn clock_beside(&self, time: usize) -> Option<usize> {
        let bare = |row: &Vec<Vec<u8>>| {
            row.get(time).and_then(|c| stamp(c)).is_none_or(super::dates::Stamp::is_midnight)
        };
        if !self.dialect.sample.iter().all(bare) {
            return None;
        }
        let clocks = self.all(Look::Clock);
        let start = clocks.iter().find(|&&at| words::stamp_at(&self.headings[at]) == Some(StampAt::Start));
        start.or(clocks.first()).copied()
    }

    /// A row for each day, a column for each time: headings are times of day.
    fn day_columns(&self, layout: &mut Layout) -> bool {
        let timed =
            |at: usize| self.dialect.headings.get(at).filter(|h| h.contains(&b':')).and_then(|h| clock(h));
        let found: Vec<(usize, i32)> =
            (0..self.looks.len()).filter_map(|at| Some((at, timed(at)?.seconds))).collect();
        if found.len() < 24 {
            return false;
        }
        let mut columns: Vec<(usize, i32)> = found;
        // 00:00 behind the others is the end of the day.
        if columns.last().is_some_and(|last| last.1 == 0) {
            columns.iter_mut().rev().take(1).for_each(|last| last.1 = 86_400);
        }
        let ends = columns.last().is_some_and(|last| last.1 == 86_400);
        layout.stamp_at =
            Some((if ends { StampAt::End } else { StampAt::Start }, "the headings are times of a day"));
        layout.day_columns = columns;
        let kinds = (0..self.looks.len()).find(|&at| self.looks[at] == Look::Text && self.names_kinds(at));
        layout.kind_column = kinds;
        if kinds.is_none() {
            let why = "a row for each day, and no word of what it counts";
            layout.values = vec![ValueColumn {
                at: 0,
                what: What::One(Kind::Export),
                heading: "all times of a day".into(),
                why,
            }];
        }
        true
    }

    /// Whether most cells of a text column name a kind.
    fn names_kinds(&self, at: usize) -> bool {
        let cells = || self.dialect.sample.iter().filter_map(|row| row.get(at));
        let known = cells().filter(|cell| words::kind(&plain(cell)).is_some()).count();
        known * 10 >= cells().count() * 5 && known > 0
    }

    /// A row for each register: one column of values, and one that says of what.
    fn long(&self, layout: &mut Layout, taken: &dyn Fn(usize) -> bool) -> bool {
        let numbers: Vec<usize> = self.all(Look::Number).into_iter().filter(|&at| !taken(at)).collect();
        if numbers.iter().any(|&at| words::kind(&self.headings[at]).is_some()) {
            return false;
        }
        let Some(kinds) = self.all(Look::Text).into_iter().find(|&at| self.names_kinds(at)) else {
            return false;
        };
        let worded = |at: &&usize| {
            ["value", "reading", "kwh", "energy", "wert", "valeur", "waarde", "valor", "valore"]
                .iter()
                .any(|w| self.headings[**at].contains(w))
        };
        let Some(&value) = numbers.iter().find(worded).or(numbers.last()) else { return false };
        layout.kind_column = Some(kinds);
        let why = "the column beside it says of what";
        layout.values =
            vec![ValueColumn { at: value, what: What::One(Kind::Export), heading: self.shown(value), why }];
        let used = |at: usize| taken(at) || at == value || at == kinds;
        layout.unused = (0..self.looks.len()).filter(|&at| !used(at)).map(|at| self.shown(at)).collect();
        true
    }

    fn values(
        &self,
        options: &Options,
        taken: &dyn Fn(usize) -> bool,
        layout: &mut Layout,
    ) -> Result<(), ReadingsError> {
        let mut values: Vec<ValueColumn> = Vec::new();
        for (kind, name) in &options.columns {
            let at = self.named(name)?;
            values.push(ValueColumn { at, what: What::One(*kind), heading: self.shown(at), why: "as told" });
        }
        if let Some(name) = &options.net_column {
            let at = self.named(name)?;
            values.push(ValueColumn { at, what: What::Net, heading: self.shown(at), why: "as told" });
        }
        let free = |at: usize, values: &[ValueColumn]| !taken(at) && values.iter().all(|v| v.at != at);
        let candidates: Vec<usize> = (0..self.looks.len())
            .filter(|&at| matches!(self.looks[at], Look::Number | Look::Empty) && free(at, &values))
            .collect();
        for kind in Kind::ALL {
            let net_told =
                values.iter().any(|v| v.what == What::Net) && matches!(kind, Kind::Export | Kind::Import);
            if !net_told && values.iter().all(|v| v.what != What::One(kind)) {
                values.extend(self.by_heading(kind, &candidates, &mut layout.notes)?);
            }
        }
        let grid =
            values.iter().any(|v| matches!(v.what, What::Net | What::One(Kind::Export | Kind::Import)));
        if !grid {
            let net = candidates.iter().find(|&&at| words::is_net(&self.headings[at]));
            values.extend(net.map(|&at| ValueColumn {
                at,
                what: What::Net,
                heading: self.shown(at),
                why: "heading",
            }));
        }
        if values.is_empty() {
            values.push(self.only_one(&candidates)?);
        }
        layout.values = values;
        Ok(())
    }

    /// The columns whose headings say this kind: one, or one for each tariff.
    fn by_heading(
        &self,
        kind: Kind,
        candidates: &[usize],
        notes: &mut Vec<String>,
    ) -> Result<Vec<ValueColumn>, ReadingsError> {
        let sure = |at: usize| words::kind(&self.headings[at]).filter(|k| k.0 == kind).map(|k| k.1);
        let best = candidates.iter().filter_map(|&at| sure(at)).max();
        let Some(best) = best else { return Ok(Vec::new()) };
        let same: Vec<usize> = candidates.iter().copied().filter(|&at| sure(at) == Some(best)).collect();
        let one =
            |why| move |&at: &usize| ValueColumn { at, what: What::One(kind), heading: self.shown(at), why };
        let bare = |at: &usize| words::without_tariff(&self.headings[*at]);
        match same.as_slice() {
            [at] => Ok(vec![one("heading")(at)]),
            several if several.iter().all(|at| bare(at) == bare(&several[0])) => {
                Ok(several.iter().map(one("heading; one tariff of several, added up")).collect())
            }
            several => {
                let names: Vec<String> = several.iter().map(|&at| format!("`{}`", self.shown(at))).collect();
                let what =
                    format!("{} columns could be the {}: {}", several.len(), kind.name(), names.join(", "));
                if kind != Kind::Export && kind != Kind::Import {
                    notes.push(format!("{what}; none is used. Name one to use it"));
                    return Ok(Vec::new());
                }
                let error = ReadingsError::new(what, "say which (by heading or number)");
                Err(error.at(self.dialect.header_line.unwrap_or(self.dialect.first_row)))
            }
        }
    }

    fn only_one(&self, candidates: &[usize]) -> Result<ValueColumn, ReadingsError> {
        let numbers: Vec<usize> =
            candidates.iter().copied().filter(|&at| self.looks[at] == Look::Number).collect();
        match numbers.as_slice() {
            [at] => {
                let why = "the only column of numbers; its heading does not say what it is";
                Ok(ValueColumn { at: *at, what: What::One(Kind::Export), heading: self.shown(*at), why })
            }
            several => {
                let names: Vec<String> = several.iter().map(|&at| format!("`{}`", self.shown(at))).collect();
                let what = match several {
                    [] => "no column of numbers was found beside the dates".to_string(),
                    _ => format!(
                        "no heading says which column is the export; the columns of numbers are {}",
                        names.join(", ")
                    ),
                };
                let line = self.dialect.header_line.unwrap_or(self.dialect.first_row);
                Err(ReadingsError::new(what, "name the export column (by heading or number)").at(line))
            }
        }
    }
}

fn look(dialect: &Dialect, at: usize) -> Look {
    let cells = dialect.sample.iter().filter_map(|row| row.get(at)).filter(|cell| !trim(cell).is_empty());
    let (mut all, mut stamps, mut clocks, mut colons, mut numbers) = (0, 0, 0, 0, 0);
    for cell in cells {
        all += 1;
        stamps += usize::from(stamp(cell).is_some());
        clocks += usize::from(clock(cell).is_some());
        colons += usize::from(clock(cell).is_some() && (cell.contains(&b':') || cell.contains(&b'h')));
        let value = number(cell, dialect.decimal);
        numbers += usize::from(value != Cell::Other);
    }
    let heading = dialect.headings.get(at).map_or(String::new(), |cell| plain(cell));
    let worded = |words: &[&str]| words.iter().any(|w| heading.split(' ').any(|h| h == *w));
    let says_time = worded(&[
        "time",
        "hour",
        "uhrzeit",
        "zeit",
        "heure",
        "tijd",
        "hora",
        "ora",
        "klokkeslett",
        "tid",
        "godzina",
    ]);
    match all {
        0 => Look::Empty,
        _ if stamps * 10 >= all * 9 && (numbers < all || stamps_plausible(&heading, at)) => Look::Stamp,
        _ if colons * 10 >= all * 9 || (says_time && clocks * 10 >= all * 9) => Look::Clock,
        _ if numbers * 10 >= all * 5 => Look::Number,
        _ => Look::Text,
    }
}

/// Bare numbers that could be dates (unix seconds, 20240601) are so in the first column, or where the heading says so.
fn stamps_plausible(heading: &str, at: usize) -> bool {
    let words = [
        "time", "date", "stamp", "unix", "epoch", "datum", "zeit", "fecha", "data", "dato", "tid", "start",
        "from", "end",
    ];
    at == 0 || words.iter().any(|word| heading.contains(word))
}
