//! What was found in a file of meter readings, as a page of text.

use crate::hotwater::readings::{BeforeEquipment, CouldTake, Found, Kind, MonthFound, SummerHeat};

use super::inputs::{NARROWEST, Page, wrapped};
use super::numbers::{clean, grouped, percent_of, shortened};

/// Most gaps that are told one by one: the longest.
const MOST_GAPS: usize = 12;
const BAR: usize = 12;

/// A cylinder that was looked at, and what it could take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cylinder {
    /// Electricity that warms it from cold to hot, kWh a day.
    pub room_kwh: f64,
    /// Power of its element.
    pub element_kw: f64,
    /// What the controller leaves flowing out, W.
    pub threshold_w: f64,
    /// What it could take.
    pub take: CouldTake,
}

/// Heat of hot water, from the gas of summer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SummerGas {
    /// Efficiency of the boiler in summer that was counted with, 0 to 1.
    pub efficiency: f64,
    /// What it comes to.
    pub heat: SummerHeat,
}

/// The page: what the file is, what was found and done, gaps, months, what follows, what is asked.
pub fn text(
    title: &str,
    found: &Found,
    cylinder: Option<&Cylinder>,
    gas: Option<&SummerGas>,
    page: Page,
) -> String {
    let page = Page { width: page.width.max(NARROWEST), ..page };
    let mut out = Lines { text: String::new(), width: page.width };
    out.paragraph(&clean(title));
    out.section("Span");
    span(&mut out, found);
    out.section("As taken");
    taken(&mut out, found);
    troubles(&mut out, found);
    gaps(&mut out, found);
    months(&mut out, found, page);
    if let Some(cylinder) = cylinder {
        out.section("What a cylinder could take");
        could_take(&mut out, cylinder);
    }
    if let Some(gas) = gas {
        out.section("Heat of hot water, from the gas of summer");
        summer(&mut out, gas);
    }
    questions(&mut out, found);
    out.text
}

/// Lines that keep to the width.
struct Lines {
    text: String,
    width: usize,
}

impl Lines {
    fn push(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }
    fn paragraph(&mut self, text: &str) {
        for line in wrapped(text, self.width, "") {
            self.push(&line);
        }
    }
    fn section(&mut self, heading: &str) {
        self.text.push('\n');
        self.push(heading);
    }
    /// A point, its further lines set in.
    fn point(&mut self, text: &str) {
        for (k, line) in wrapped(text, self.width - 4, "").iter().enumerate() {
            self.push(&format!("{}{line}", if k == 0 { "  " } else { "    " }));
        }
    }
}

fn many(count: usize, one: &str, more: &str) -> String {
    format!("{} {}", grouped(count as f64, 0), if count == 1 { one } else { more })
}

fn span(out: &mut Lines, found: &Found) {
    out.point(&format!(
        "{} to {} (standard clock): {}, {} used.",
        found.first,
        found.last,
        many(found.days, "day", "days"),
        grouped(found.days_used as f64, 0)
    ));
    let steps: Vec<String> = found
        .steps
        .iter()
        .map(|step| format!("{} minutes ({})", plain(step.minutes), percent_of(step.share)))
        .collect();
    let steps = if steps.is_empty() { String::new() } else { format!(" Every {}.", steps.join(", ")) };
    out.point(&format!(
        "{}, {} used.{steps}",
        many(found.rows, "row", "rows"),
        many(found.readings, "reading", "readings")
    ));
}

/// A number without noughts behind the point.
fn plain(x: f64) -> String {
    let text = grouped(x, 2);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

fn taken(out: &mut Lines, found: &Found) {
    for column in &found.columns {
        let form = if column.register { "an ever-rising register" } else { "amounts of intervals" };
        out.point(&format!(
            "\"{}\": {} ({}), in {} ({}), {form} ({}).",
            shortened(&clean(&column.heading), 60),
            column.taken_as,
            column.why,
            column.unit,
            column.unit_why,
            column.register_why
        ));
    }
    if !found.unused.is_empty() {
        let names: Vec<String> = found.unused.iter().map(|name| shortened(&clean(name), 40)).collect();
        out.point(&format!("Not used: {}.", shortened(&names.join(", "), 400)));
    }
    let header =
        found.header_line.map_or("no headings".to_owned(), |line| format!("headings on line {line}"));
    out.point(&format!(
        "File: {}, {header}, cells parted by {}, decimal sign \"{}\" ({}).",
        found.encoding,
        clean(&found.separator),
        clean(&found.decimal),
        found.decimal_why
    ));
    if let Some(order) = &found.date_order {
        out.point(&format!("Dates: {}.", clean(order)));
    }
    out.point(&format!("Clock: {}.", clean(&found.clock)));
    out.point(&format!("Time stamps: {}.", clean(&found.stamps)));
}

fn troubles(out: &mut Lines, found: &Found) {
    out.section("Found and done");
    if found.troubles.is_empty() {
        out.point("Nothing amiss.");
    }
    for trouble in &found.troubles {
        let cell = trouble.first_text.as_ref();
        let cell = cell.map_or_else(String::new, |text| format!(" (\"{}\")", shortened(&clean(text), 40)));
        out.point(&format!(
            "{} x {}, first on line {}{cell}: {}.",
            grouped(trouble.count as f64, 0),
            trouble.what,
            grouped(trouble.first_line as f64, 0),
            trouble.done
        ));
    }
    for warning in &found.warnings {
        out.point(&format!("{}.", clean(warning).trim_end_matches('.')));
    }
}

/// A length of time in the unit that suits it.
fn lasting(minutes: f64) -> String {
    match minutes {
        m if m < 120.0 => format!("{} minutes", plain(m)),
        m if m < 2880.0 => format!("{} hours", plain((m / 6.0).round() / 10.0)),
        m => format!("{} days", plain((m / 144.0).round() / 10.0)),
    }
}

/// Of each way of filling how many; then the longest one by one, in the order of time.
fn gaps(out: &mut Lines, found: &Found) {
    out.section("Gaps");
    if found.gap_count == 0 {
        out.point("None.");
        return;
    }
    let mut ways: Vec<(&str, usize, f64)> = Vec::new();
    for gap in &found.gaps {
        let words = gap.filled.words();
        match ways.iter_mut().find(|way| way.0 == words) {
            Some(way) => (way.1, way.2) = (way.1 + 1, way.2 + gap.minutes),
            None => ways.push((words, 1, gap.minutes)),
        }
    }
    for (words, count, minutes) in ways {
        out.point(&format!("{}, {} in all: {words}.", many(count, "gap", "gaps"), lasting(minutes)));
    }
    let mut longest: Vec<usize> = (0..found.gaps.len()).collect();
    longest.sort_by(|&a, &b| found.gaps[b].minutes.total_cmp(&found.gaps[a].minutes));
    longest.truncate(MOST_GAPS);
    longest.sort_unstable();
    if found.gap_count > longest.len() {
        out.point(&format!("The longest {} of {}:", longest.len(), grouped(found.gap_count as f64, 0)));
    }
    for gap in longest.iter().filter_map(|&k| found.gaps.get(k)) {
        let kinds: Vec<&str> = gap.kinds.iter().map(|kind| kind.name()).collect();
        let what = kinds.join(" and ");
        out.point(&format!("{}, {}, {what}: {}.", gap.from, lasting(gap.minutes), gap.filled.words()));
    }
}

/// Energy of a kind in a month with what gaps were filled with.
fn total(month: &MonthFound, kind: Kind) -> Option<f64> {
    let totals = month.totals.iter().filter(|total| total.kind == kind);
    totals.map(|total| total.measured_kwh + total.filled_kwh).reduce(|a, b| a + b)
}

fn filled(month: &MonthFound) -> f64 {
    month.totals.iter().map(|total| total.filled_kwh).sum()
}

fn months(out: &mut Lines, found: &Found, page: Page) {
    out.section("Totals by month, kWh");
    let kinds: Vec<Kind> = Kind::ALL
        .into_iter()
        .filter(|kind| found.months.iter().any(|month| total(month, *kind).is_some()))
        .collect();
    let mut head = format!("  {:<8}{:>7}{:>7}", "Month", "known", "days");
    kinds.iter().for_each(|kind| head.push_str(&format!("{:>11}", kind.name())));
    out.push(&head);
    let first = kinds.first().copied();
    let bar_of = |month: &MonthFound| first.and_then(|kind| total(month, kind)).unwrap_or(0.0);
    let most = found.months.iter().map(bar_of).fold(0.0, f64::max);
    for month in &found.months {
        let mut line = format!(
            "  {:<8}{:>7}{:>7}",
            format!("{}-{:02}", month.year, month.month),
            percent_of((month.known * 1000.0).floor() / 1000.0),
            format!("{}/{}", month.days_used, month.days)
        );
        for &kind in &kinds {
            let text = total(month, kind).map_or_else(String::new, |kwh| grouped(kwh, 1));
            line.push_str(&format!("{text:>11}"));
        }
        // Four kinds leave no room for a bar on a narrow page.
        if page.width >= line.chars().count() + 2 + BAR {
            line.push_str(&format!("  {}", bar(bar_of(month), most, page.blocks)));
        }
        out.push(&line);
    }
    let mut sums = format!("  {:<22}", "Sum");
    for &kind in &kinds {
        let sum: f64 = found.months.iter().filter_map(|month| total(month, kind)).sum();
        sums.push_str(&format!("{:>11}", grouped(sum, 1)));
    }
    out.push(&sums);
    let filled: f64 = found.months.iter().map(filled).sum();
    if filled >= 0.05 {
        out.point(&format!("Of all this, {} kWh were filled into gaps.", grouped(filled, 1)));
    }
    out.point("Days: those used, of those of the month.");
}

/// A level bar, its length by the greatest; what is above nought is never left out.
fn bar(value: f64, most: f64, blocks: bool) -> String {
    const EIGHTHS: [char; 8] = [' ', '▏', '▎', '▍', '▌', '▋', '▊', '▉'];
    if !(value > 0.0 && most > 0.0) {
        return String::new();
    }
    let part = (value / most).clamp(0.0, 1.0) * BAR as f64;
    if !blocks {
        return "#".repeat((part.round() as usize).max(1));
    }
    let eighths = ((part * 8.0).round() as usize).max(1);
    let mut out = "█".repeat(eighths / 8);
    if !eighths.is_multiple_of(8) {
        out.push(EIGHTHS[eighths % 8]);
    }
    out
}

fn could_take(out: &mut Lines, cylinder: &Cylinder) {
    let take = &cylinder.take;
    out.point(&format!(
        "{} of the export: {} of {} kWh on {}; on {} of them its room was the limit, not the export.",
        percent_of(take.share),
        grouped(take.taken_kwh, 0),
        grouped(take.export_kwh, 0),
        many(take.days, "day", "days"),
        grouped(take.days_full as f64, 0)
    ));
    let by_month: Vec<String> = take
        .share_by_month
        .iter()
        .zip(["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"])
        .filter_map(|(share, name)| share.map(|share| format!("{name} {}", whole_percent(share))))
        .collect();
    if !by_month.is_empty() {
        out.point(&format!("By month: {}.", by_month.join(", ")));
    }
    out.point(&format!(
        "Counted with room for {} kWh a day, an element of {} kW and {} W left flowing out. An upper bound: within a \
         half hour export comes and goes, and losses are not counted.",
        plain(cylinder.room_kwh),
        plain(cylinder.element_kw),
        plain(cylinder.threshold_w)
    ));
}

fn whole_percent(share: f64) -> String {
    format!("{} %", grouped(share * 100.0, 0))
}

fn summer(out: &mut Lines, gas: &SummerGas) {
    let heat = &gas.heat;
    out.point(&format!(
        "{} kWh a day (half of {} below; known to {} kWh either way, 95 %); 8 in 10 days between {} and {} kWh.",
        grouped(heat.median_kwh, 1),
        many(heat.days, "day", "days"),
        grouped(1.96 * heat.median_error_kwh, 1),
        grouped(heat.p10_kwh, 1),
        grouped(heat.p90_kwh, 1)
    ));
    out.point(&format!(
        "Gas of summer days times an efficiency of {}. Cooking with gas is in it.",
        percent_of(gas.efficiency)
    ));
}

fn questions(out: &mut Lines, found: &Found) {
    let told = match found.before_equipment {
        BeforeEquipment::Yes => {
            "Taken before the equipment was fitted, as told: export is all the surplus there was."
        }
        BeforeEquipment::No => {
            "Taken with the equipment fitted, as told: part of the surplus went into the water and is missing from \
             the export."
        }
        BeforeEquipment::Unknown => "",
    };
    if told.is_empty() && found.questions.is_empty() {
        return;
    }
    out.section(if found.questions.is_empty() { "Readings and equipment" } else { "To be answered" });
    if !told.is_empty() {
        out.point(told);
    }
    for question in &found.questions {
        let question = clean(question);
        let mark = if question.ends_with(['.', '?', '!']) { "" } else { "." };
        out.point(&format!("{question}{mark}"));
    }
}

#[cfg(test)]
mod tests;
