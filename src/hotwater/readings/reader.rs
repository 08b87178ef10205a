//! From bytes to readings: the steps in their order.

use super::amounts::{self, Interval, Taken};
use super::columns::{self, Layout, What};
use super::dialect::{self, Dialect};
use super::fault::ReadingsError;
use super::found::{ColumnFound, Found, StepFound, moment};
use super::grid::{Grid, MOST_DAYS};
use super::options::{DateOrder, Kind, Options, StampAt, Unit};
use super::order::{self, OrderFound};
use super::rows;
use super::summary;
use super::text_bytes;
use super::tidy::{Tidy, TidyFound, tidy};
use super::troubles::Troubles;
use super::{Readings, Series};

/// Readings of one kind as intervals.
struct Strand {
    kind: Kind,
    intervals: Vec<Interval>,
    register: bool,
    step: i64,
}

/// Collects what the groups of a file yield.
#[derive(Default)]
struct Gathered {
    strands: Vec<Strand>,
    columns: Vec<ColumnFound>,
    tidied: Option<TidyFound>,
    steps: Vec<(i64, usize)>,
    warnings: Vec<String>,
}

/// Reads a file of meter readings. Never panics on any bytes; up to 64 MB and five million readings.
///
/// # Errors
/// Where there are no readings, a column is not plain, or they cannot be placed in time: what, where, what would be right.
pub fn read(bytes: &[u8], options: &Options) -> Result<Readings, ReadingsError> {
    let (text, encoding) = text_bytes::decode(bytes)?;
    let dialect = dialect::find(&text, options)?;
    let layout = columns::find(&dialect, options)?;
    let mut troubles = Troubles::default();
    let rows = rows::read(&text, &dialect, &layout, &mut troubles)?;
    let stamps = rows.groups.iter().flat_map(|group| &group.stamps);
    let order = order::decide(stamps, options.date_order);
    let mut gathered = Gathered::default();
    let count = rows.rows;
    for group in rows.groups {
        gathered.group(group, &layout, order, options, &mut troubles)?;
    }
    let series = gathered.grids()?;
    let found = found(encoding, &dialect, &layout, order, count, &gathered, troubles, options)?;
    Ok(summary::finish(found, series, &gathered.ends()))
}

/// A column as intervals in its own unit.
struct Column {
    what: What,
    heading: String,
    why: &'static str,
    register: bool,
    register_why: &'static str,
    found: Vec<Interval>,
}

impl Column {
    fn new(
        (what, heading, why): (What, String, &'static str),
        values: &[f64],
        tidy: &Tidy,
        ends: bool,
        options: &Options,
        troubles: &mut Troubles,
    ) -> Column {
        let plain = text_bytes::plain(heading.as_bytes());
        let (register, register_why) = match what {
            What::Net if options.register != Some(true) => (false, "net"),
            _ => amounts::is_register(values, &plain, options),
        };
        let cap = if register { amounts::plausible_rise(values) } else { f64::INFINITY };
        let found = amounts::intervals(tidy, values, register, ends, cap, troubles);
        Column { what, heading, why, register, register_why, found }
    }
}

impl Gathered {
    fn group(
        &mut self,
        group: rows::Group,
        layout: &Layout,
        order: Option<OrderFound>,
        options: &Options,
        troubles: &mut Troubles,
    ) -> Result<(), ReadingsError> {
        let named: Vec<(What, String, &'static str)> =
            (0..group.values.len()).map(|at| group.column(layout, at)).collect();
        let order = order.map_or(DateOrder::DayMonth, |found| found.order);
        let (tidy, found) = tidy(group, order, layout.stamp_at, options, troubles)?;
        self.check_step(&found, &tidy, named.iter().all(|n| n.0 == What::One(Kind::Gas)))?;
        let ends = found.stamp_at == StampAt::End;
        let columns = named.into_iter().zip(&tidy.values);
        let columns: Vec<Column> = columns
            .map(|(named, values)| Column::new(named, values, &tidy, ends, options, troubles))
            .collect();
        // Columns without a unit share one: a small export beside a large import is not in another unit.
        let largest = columns
            .iter()
            .filter(|c| c.what != What::One(Kind::Gas))
            .map(|c| amounts::high(&c.found))
            .fold(0.0, f64::max);
        for column in columns {
            self.column(column, largest, &found, options, troubles);
        }
        self.steps.extend(&found.steps);
        self.tidied.get_or_insert(found);
        Ok(())
    }

    fn check_step(&self, found: &TidyFound, tidy: &Tidy, only_gas: bool) -> Result<(), ReadingsError> {
        let step = found.steps.first().map_or(0, |step| step.0);
        let most = if only_gas { 86_400 } else { 3600 };
        if step <= most {
            return Ok(());
        }
        let what = format!("the readings are {:.1} hours apart", step as f64 / 3600.0);
        let right = "readings every 5 to 60 minutes are wanted: totals of days do not show what a cylinder could take";
        Err(ReadingsError::new(what, right).at(tidy.lines.first().map_or(1, |&line| line as usize)))
    }

    fn column(
        &mut self,
        column: Column,
        largest: f64,
        times: &TidyFound,
        options: &Options,
        troubles: &mut Troubles,
    ) {
        let Column { what, heading, why, register, register_why, mut found } = column;
        let kind = if let What::One(kind) = what { Some(kind) } else { None };
        let plain = text_bytes::plain(heading.as_bytes());
        let (unit, unit_why, unit_sure) = amounts::unit(kind, &plain, largest, options);
        // A register counts energy whatever its heading calls it.
        let unit = match unit {
            Unit::Kw if register => Unit::Kwh,
            Unit::W if register => Unit::Wh,
            unit => unit,
        };
        amounts::to_kwh(&mut found, unit, options.gas_kwh_per_m3);
        let mut taken = Taken { unit, unit_why, unit_sure, register, register_why, turned: false };
        amounts::without_spikes(&mut found, options.largest_kw, troubles);
        let step = times.steps.first().map_or(1800, |step| step.0);
        match what {
            What::One(kind) => {
                taken.turned = amounts::without_negatives(&mut found, troubles);
                self.strands.push(Strand { kind, intervals: found, register, step });
            }
            What::Net => self.net(found, step, options.net_export_positive),
        }
        self.tell(what, heading, why, &taken, times.stamp_sure);
    }

    /// Import and export of a net column.
    fn net(&mut self, found: Vec<Interval>, step: i64, export_positive: bool) {
        let part =
            |sign: f64| found.iter().map(|i| Interval { kwh: (sign * i.kwh).max(0.0), ..*i }).collect();
        let export = if export_positive { 1.0 } else { -1.0 };
        self.strands.push(Strand { kind: Kind::Export, intervals: part(export), register: false, step });
        self.strands.push(Strand { kind: Kind::Import, intervals: part(-export), register: false, step });
        let sign = if export_positive { "above" } else { "below" };
        self.warnings.push(format!(
            "A net column: what is {sign} 0 is taken as export. Within each interval import and export have cancelled out, so export is understated"
        ));
    }

    fn tell(&mut self, what: What, heading: String, why: &'static str, taken: &Taken, stamp_sure: bool) {
        let taken_as = if let What::One(kind) = what { kind.name() } else { "net" };
        if !taken.unit_sure {
            self.warnings.push(format!(
                "The unit of `{heading}` is not named ({}): say so if it is another than {}",
                taken.unit_why,
                taken.unit.name()
            ));
        }
        if taken.turned {
            self.warnings.push(format!("`{heading}` is written below 0: its sign was turned"));
        }
        let ends = "Whether time stamps mark the start or the end of an interval is not plain: say so if it is the end";
        if !stamp_sure && !taken.register && !self.warnings.iter().any(|w| w == ends) {
            self.warnings.push(ends.to_string());
        }
        let Taken { unit, unit_why, register, register_why, .. } = *taken;
        self.columns.push(ColumnFound {
            heading,
            taken_as,
            why,
            unit: unit.name(),
            unit_why,
            register,
            register_why,
        });
    }

    /// First second and last of all readings.
    fn ends(&self) -> (i64, i64) {
        let all = self.strands.iter().flat_map(|s| s.intervals.first().into_iter().chain(s.intervals.last()));
        all.fold((i64::MAX, i64::MIN), |(a, b), i| (a.min(i.start), b.max(i.start + i64::from(i.seconds))))
    }

    fn grids(&self) -> Result<Vec<Series>, ReadingsError> {
        let (first, last) = self.ends();
        if first >= last {
            return Err(ReadingsError::new("no reading has a value", "a column of numbers is wanted"));
        }
        let (first_day, end_day) = (first.div_euclid(86_400), (last + 86_399).div_euclid(86_400));
        if end_day - first_day > MOST_DAYS {
            let what = format!("the readings run from {} to {}", moment(first), moment(last));
            return Err(ReadingsError::new(what, "at most 30 years are read: is a date wrong?"));
        }
        let days = (end_day - first_day) as usize;
        let mut series: Vec<Series> = Vec::new();
        for strand in &self.strands {
            let grid = Grid::new(first_day, days, &strand.intervals, strand.register, strand.step);
            match series.iter_mut().find(|s| s.kind == strand.kind) {
                Some(same) => same.add(&grid),
                None => series.push(Series { kind: strand.kind, grid, readings: strand.intervals.len() }),
            }
        }
        series.sort_by_key(|s| s.kind);
        Ok(series)
    }
}

fn separator_name(separator: u8) -> String {
    match separator {
        b',' => "comma".into(),
        b';' => "semicolon".into(),
        b'\t' => "tab".into(),
        other => char::from(other).to_string(),
    }
}

#[expect(clippy::too_many_arguments)]
fn found(
    encoding: &'static str,
    dialect: &Dialect,
    layout: &Layout,
    order: Option<OrderFound>,
    rows: usize,
    gathered: &Gathered,
    troubles: Troubles,
    options: &Options,
) -> Result<Found, ReadingsError> {
    let Some(times) = &gathered.tidied else {
        let error = ReadingsError::new(
            "no row names a register that is known",
            "words such as `export` and `import` are wanted",
        );
        return Err(error.at(dialect.first_row));
    };
    let order_text = order.map(|o| {
        let name = if o.order == DateOrder::DayMonth { "day before month" } else { "month before day" };
        format!("{name} ({})", o.why)
    });
    let all: usize = gathered.steps.iter().map(|s| s.1).sum();
    let mut steps: Vec<StepFound> = Vec::new();
    for &(seconds, count) in &gathered.steps {
        let share = count as f64 / all.max(1) as f64;
        match steps.iter_mut().find(|s| s.minutes == seconds as f64 / 60.0) {
            Some(same) => same.share += share,
            None => steps.push(StepFound { minutes: seconds as f64 / 60.0, share }),
        }
    }
    let mut questions: Vec<String> = Vec::new();
    if order.is_some_and(|o| o.ambiguous) {
        questions.push("Is the day or the month first in the dates? Nothing in the file decides; day before month was taken".into());
    }
    questions.extend(times.clock.question.clone());
    let (first, last) = gathered.ends();
    let at = if times.stamp_at == StampAt::Start {
        "the start of the interval"
    } else {
        "the end of the interval"
    };
    let mut warnings = layout.notes.clone();
    warnings.extend(gathered.warnings.iter().cloned());
    if steps.iter().any(|s| s.minutes > 30.0) {
        warnings
            .push("Readings more than half an hour apart are shared evenly among their half hours".into());
    }
    Ok(Found {
        encoding,
        separator: separator_name(dialect.separator),
        decimal: char::from(dialect.decimal).to_string(),
        decimal_why: dialect.decimal_why,
        header_line: dialect.header_line,
        columns: gathered.columns.clone(),
        unused: layout.unused.clone(),
        date_order: order_text,
        clock: times.clock.text.clone(),
        stamps: format!("{at} ({})", times.stamp_why),
        steps,
        first: moment(first),
        last: moment(last),
        rows,
        readings: gathered.strands.iter().map(|s| s.intervals.len()).sum(),
        troubles: troubles.into_found(),
        gaps: Vec::new(),
        gap_count: 0,
        days: 0,
        days_used: 0,
        months: Vec::new(),
        before_equipment: options.before_equipment,
        warnings,
        questions,
    })
}
