//! Charts that the spreadsheet draws from the workbook's own cells.

use std::collections::BTreeMap;

use rust_xlsxwriter::{
    Chart, ChartAxisCrossing, ChartAxisLabelPosition, ChartFormat, ChartLegendPosition, ChartSolidFill,
    ChartType, Color, XlsxError,
};

use super::grid::Grid;
use super::places::Page;
use super::statistics::Table;
use super::text::{Value, cell_text};
use crate::analysis::{Answers, Summary};

const BLUE: Color = Color::RGB(0x2F_6D_9E);
const ORANGE: Color = Color::RGB(0xC9_78_2B);
const GREY: Color = Color::RGB(0x7A_84_8E);
/// Rows of a chart's height.
const ROWS_OF_CHART: u32 = 22;
/// Most bars of the tornado.
const MOST_BARS: u32 = 15;

fn headline(answers: &Answers) -> Option<&Summary> {
    let named = answers.results.iter().find(|result| result.name == answers.study.headline);
    named.or(answers.results.first())
}

/// Classes of the headline as a table of their own: the CSV tables have none.
pub(super) fn histogram_table(grid: &mut Grid, answers: &Answers) -> Result<Option<Table>, XlsxError> {
    let page = Page::Statistics;
    let Some(headline) = headline(answers).filter(|r| r.histogram.counts.len() > 1) else {
        return Ok(None);
    };
    let (title, heads) = (grid.looks.result.clone(), grid.looks.head.clone());
    let at = grid.row(page);
    grid.text_as(page, at, 0, &format!("classes of {}", headline.label), &title)?;
    let head = grid.row(page);
    grid.two_lines(page, head)?;
    let columns = ["middle of the class", "from", "below", "runs"];
    for (k, text) in columns.iter().enumerate() {
        grid.text_as(page, head, k as u16, text, &heads)?;
    }
    let histogram = &headline.histogram;
    let largest = histogram.edges.last().map_or(0.0, |x| x.abs());
    let look = grid.looks.number(largest, false);
    for (ends, count) in histogram.edges.windows(2).zip(&histogram.counts) {
        let row = grid.row(page);
        let middle = ends[0] / 2.0 + ends[1] / 2.0;
        for (k, x) in [middle, ends[0], ends[1]].into_iter().enumerate() {
            grid.value(page, row, k as u16, &Value::Number(x), &look)?;
        }
        let plain = grid.looks.text.clone();
        grid.value(page, row, 3, &Value::Number(*count as f64), &plain)?;
    }
    let columns = columns.map(ToOwned::to_owned).to_vec();
    Ok(Some(Table { head, columns, rows: histogram.counts.len() as u32 }))
}

/// All charts, below each other.
pub(super) fn charts(
    grid: &mut Grid,
    answers: &Answers,
    tables: &BTreeMap<String, Table>,
    histogram: Option<&Table>,
) -> Result<(), XlsxError> {
    let (title, faint) = (grid.looks.title.clone(), grid.looks.faint.clone());
    grid.text_as(Page::Charts, 0, 0, "Charts", &title)?;
    let what = "Drawn from the cells of \"Run statistics\": what the runs say. They do not follow changed base values.";
    grid.text_as(Page::Charts, 1, 0, what, &faint)?;
    let mut made = Vec::new();
    made.extend(histogram.and_then(|table| of_headline(answers, table)));
    made.extend(tables.get("bands").and_then(|table| of_bands(answers, table)));
    made.extend(tables.get("cash").and_then(|table| of_cash(answers, table)));
    made.extend(tables.get("tornado").and_then(|table| of_tornado(answers, table)));
    for (k, chart) in made.iter_mut().enumerate() {
        chart.set_width(920).set_height(400);
        if let Some(sheet) = grid.sheets.get_mut(&Page::Charts) {
            sheet.insert_chart(3 + ROWS_OF_CHART * k as u32, 0, chart)?;
        }
    }
    Ok(())
}

/// A column of a table as cells.
type Cells = (&'static str, u32, u16, u32, u16);

impl Table {
    fn cells(&self, is: impl Fn(&str) -> bool, rows: u32) -> Option<Cells> {
        let col = self.columns.iter().position(|name| is(name))? as u16;
        Some((Page::Statistics.name(), self.head + 1, col, self.head + rows.max(1), col))
    }

    fn head_cell(&self, cells: Cells) -> (&'static str, u32, u16) {
        (cells.0, self.head, cells.2)
    }
}

/// Text that is not taken for a reference to cells.
fn plain_text(text: &str) -> String {
    let text = cell_text(text);
    let text = if text.starts_with('=') { format!("\u{A0}{text}") } else { text };
    text.replace('!', "!\u{A0}")
}

fn titled(kind: ChartType, title: &str, x: &str, y: &str) -> Chart {
    let mut chart = Chart::new(kind);
    chart.title().set_name(&plain_text(title));
    chart.x_axis().set_name(&plain_text(x));
    chart.y_axis().set_name(&plain_text(y));
    chart
}

fn fill(color: Color) -> ChartFormat {
    let mut format = ChartFormat::new();
    format.set_solid_fill(ChartSolidFill::new().set_color(color));
    format
}

fn of_headline(answers: &Answers, table: &Table) -> Option<Chart> {
    let headline = headline(answers)?;
    let named = if headline.unit.is_empty() {
        headline.label.clone()
    } else {
        format!("{}, {}", headline.label, headline.unit)
    };
    let mut chart =
        titled(ChartType::Column, &format!("How the runs spread: {}", headline.label), &named, "runs");
    let middle = table.cells(|c| c == "middle of the class", table.rows)?;
    let runs = table.cells(|c| c == "runs", table.rows)?;
    chart.add_series().set_categories(middle).set_values(runs).set_gap(5).set_format(&mut fill(BLUE));
    chart.x_axis().set_num_format("#,##0.##").set_label_position(ChartAxisLabelPosition::Low);
    chart.legend().set_hidden();
    Some(chart)
}

fn of_bands(answers: &Answers, table: &Table) -> Option<Chart> {
    let years = answers.bands.as_ref()?.paid_back.len() as u32;
    let mut chart =
        titled(ChartType::Column, "Share of runs paid back by the end of each year", "year", "share of runs");
    let year = table.cells(|c| c == "year", years)?;
    let shares = table.cells(|c| c.starts_with("share"), years)?;
    chart.add_series().set_categories(year).set_values(shares).set_gap(30).set_format(&mut fill(BLUE));
    chart.y_axis().set_min(0).set_max(1).set_num_format("0%");
    chart.legend().set_hidden();
    Some(chart)
}

fn of_cash(answers: &Answers, table: &Table) -> Option<Chart> {
    let unit = &answers.bands.as_ref()?.unit;
    let mut chart = titled(ChartType::Line, "Cumulative cash", "end of year", unit);
    let year = table.cells(|c| c == "year", table.rows)?;
    let wanted = ["base case", "10 % of runs lie below", "50 % of runs lie below", "90 % of runs lie below"];
    for (what, color) in wanted.into_iter().zip([GREY, ORANGE, BLUE, ORANGE]) {
        // Columns of intervals begin alike and go on with a colon.
        let Some(cells) = table.cells(|c| c.starts_with(what) && !c.contains(": "), table.rows) else {
            continue;
        };
        let mut line = ChartFormat::new();
        line.set_line(rust_xlsxwriter::ChartLine::new().set_color(color).set_width(2.0));
        chart
            .add_series()
            .set_name(table.head_cell(cells))
            .set_categories(year)
            .set_values(cells)
            .set_format(&mut line);
    }
    chart.x_axis().set_label_position(ChartAxisLabelPosition::Low);
    chart.legend().set_position(ChartLegendPosition::Bottom);
    Some(chart)
}

fn of_tornado(answers: &Answers, table: &Table) -> Option<Chart> {
    let tornado = answers.tornado.as_ref()?;
    let rows = table.rows.min(MOST_BARS);
    let unit = &tornado.unit;
    let title = format!(
        "{}: one input at a time, from the value that 10 % lie below to that that 90 % do",
        tornado.label
    );
    let mut chart = titled(ChartType::Bar, &title, "", unit);
    let labels = table.cells(|c| c == "label", rows)?;
    for (what, color) in [("result at low value", ORANGE), ("result at high value", BLUE)] {
        let cells = table.cells(|c| c == what, rows)?;
        chart
            .add_series()
            .set_name(table.head_cell(cells))
            .set_categories(labels)
            .set_values(cells)
            .set_overlap(100)
            .set_gap(40)
            .set_format(&mut fill(color));
    }
    // Bars begin at the base case; the largest stands on top.
    if let Some(base) = tornado.base.number() {
        chart.y_axis().set_crossing(ChartAxisCrossing::AxisValue(base));
    }
    chart.x_axis().set_reverse().set_label_position(ChartAxisLabelPosition::Low);
    chart.y_axis().set_label_position(ChartAxisLabelPosition::High);
    chart.legend().set_position(ChartLegendPosition::Bottom);
    Some(chart)
}
