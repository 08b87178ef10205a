//! Where the answer flips against two other inputs: the middle of the runs'
//! break-even values in each cell, as a number on a shade. Always and never
//! are words on hatching, so nothing is said by colour alone.

use crate::analysis::{Answers, BreakEven, BreakEvenMap, Lever, MapAxis, MapCell, OF_FIRST_YEAR};
use crate::report::numbers::{decimals, few_decimals, grouped, lever_half_width, spoken};

use super::canvas::{Align, Canvas, ChartError, Drawn, Frame, Ink, colour};
use super::font::Weight;
use super::layout::{self, BOTTOM_ROOM, Format, MARGIN, TICK, TOP_ROOM};
use super::scale::extent;
use super::{Chart, finish};

/// Room above the cells for the mark of the base value, beside that for the name of the axis.
const BASE_ROOM: f64 = 16.0;
/// Shades of the lowest and the highest value: ink is legible on both.
const SHADES: (f64, f64) = (0.06, 0.62);
const NUMBER: Ink = Ink::new(9.5, Weight::Regular, colour::INK);
const BASE: Ink = Ink::new(9.5, Weight::SemiBold, colour::DARK_VERMILION);

/// A chart for each break-even that has a map.
pub(super) fn draw_all(format: Format, answers: &Answers) -> Result<Vec<Chart>, ChartError> {
    let mut charts = Vec::new();
    for break_even in &answers.break_even {
        let Some(map) = break_even.map.as_ref().filter(|map| !map.cells.is_empty()) else { continue };
        let name = match charts.len() {
            0 => "break-even-map".to_string(),
            n => format!("break-even-map-{}", n + 1),
        };
        let picture = Picture { answers, break_even, map };
        let (finding, subtitle, foot) = (picture.finding(), picture.subtitle(), picture.small_print());
        let room = layout::headings_height(format, &finding, &subtitle) + layout::foot_height(format, &foot);
        let height = room
            + TOP_ROOM
            + BASE_ROOM
            + BOTTOM_ROOM
            + picture.row_height() * map.up.values.len() as f64
            + 8.0;
        let words = [finding.as_str(), &subtitle, &foot];
        let svg = super::canvas::sheet(format, height.round(), |canvas| picture.body(canvas, words))?;
        let title = format!(
            "Where {} flips the answer, by {} and {}",
            layout::subject(&break_even.of_label),
            layout::mentioned(&map.across.label),
            layout::mentioned(&map.up.label)
        );
        charts.push(finish(format, &name, &title, &finding, height.round(), &svg));
    }
    Ok(charts)
}

struct Picture<'a> {
    answers: &'a Answers,
    break_even: &'a BreakEven,
    map: &'a BreakEvenMap,
}

/// Where the cells lie.
struct Grid {
    frame: Frame,
    width: f64,
    height: f64,
}

impl Grid {
    fn cell(&self, column: usize, row: usize) -> Frame {
        let left = self.frame.left + self.width * column as f64;
        let bottom = self.frame.bottom - self.height * row as f64;
        Frame { left, right: left + self.width, top: bottom - self.height, bottom }
    }
}

/// A label without what is said of paths.
fn brief(label: &str) -> &str {
    label.strip_suffix(OF_FIRST_YEAR).unwrap_or(label)
}

fn middle(cell: &MapCell) -> Option<f64> {
    if let Lever::At(x) = cell.p50.lever { Some(x).filter(|x| x.is_finite()) } else { None }
}

/// A value between two neighbours, in steps of the axis.
fn place_on(axis: &MapAxis, value: f64) -> Option<f64> {
    let inside = |pair: &[f64]| value >= pair[0] && value <= pair[1] && pair[1] > pair[0];
    if let Some(k) = axis.values.windows(2).position(inside) {
        let (a, b) = (axis.values[k], axis.values[k + 1]);
        return Some(k as f64 + (value - a) / (b - a));
    }
    axis.values.iter().position(|&x| x == value).map(|k| k as f64)
}

impl Picture<'_> {
    /// Of few rows each has more room.
    fn row_height(&self) -> f64 {
        (300.0 / self.map.up.values.len().max(1) as f64).clamp(15.0, 34.0)
    }

    fn known_to(&self, value: f64, half: Option<f64>) -> String {
        grouped(value, few_decimals(value, half, &self.break_even.of_unit, &self.answers.study.currency))
    }

    fn number(&self, cell: &MapCell) -> String {
        match (cell.p50.lever, middle(cell)) {
            (Lever::Always, _) => "always".into(),
            (Lever::Never, _) | (_, None) => "never".into(),
            (_, Some(x)) => self.known_to(x, lever_half_width(cell.p50.lever, cell.p50.low, cell.p50.high)),
        }
    }

    fn finding(&self) -> String {
        let of = layout::named(brief(&self.break_even.of_label));
        let (across, up) = (brief(&self.map.across.label), brief(&self.map.up.label));
        let known = || self.map.cells.iter().filter(|cell| middle(cell).is_some());
        let by = |a: &&MapCell, b: &&MapCell| {
            middle(a).unwrap_or(f64::NAN).total_cmp(&middle(b).unwrap_or(f64::NAN))
        };
        if let (Some(low), Some(high)) = (known().min_by(by), known().max_by(by)) {
            return format!(
                "{of}: half of the runs flip below {} to {}, by {} and {}",
                self.number(low),
                spoken(&self.number(high), &self.break_even.of_unit),
                layout::mentioned(across),
                layout::mentioned(up)
            );
        }
        let whatever = format!("whatever {} and {} are", layout::subject(across), layout::subject(up));
        match self.map.cells.iter().all(|cell| cell.p50.lever == Lever::Always) {
            true => format!("{of}: every value is good in half of the runs, {whatever}"),
            false => format!("{of}: no value is good in half of the runs, {whatever}"),
        }
    }

    fn subtitle(&self) -> String {
        let good = match self.break_even.good_above {
            Some(true) => "above its break-even value",
            Some(false) => "below its break-even value",
            None => "on one side of its break-even value",
        };
        format!(
            "Half of the runs flip below each number. In each run, {} is {} {good}",
            layout::subject(&self.break_even.result_label),
            layout::named(&self.break_even.rule),
        )
    }

    fn small_print(&self) -> String {
        let mut text = layout::drawn_by(self.answers, self.map.runs);
        text.push_str(" Both other inputs are held in each cell with their links cut, the rest as drawn.");
        if !self.break_even.exact {
            text.push_str(" Found by search in each run.");
        }
        if let Some(half) = self.widest_interval() {
            let places = -crate::report::numbers::exponent(half);
            text.push_str(&format!(" Each number \u{b1}{} at most (95 %).", grouped(half, places)));
        }
        if self.break_even.several.value > 0.0 {
            text.push_str(" Of several crossings the lowest.");
        }
        text.push_str(" Darker: higher.");
        if let (true, Some(above)) = (self.has_line(), self.break_even.good_above) {
            let side = if above { "lower" } else { "higher" };
            text.push_str(&format!(
                " Heavy line: base value {}; it is good in half of the runs or more at the {side} numbers.",
                self.base_value()
            ));
        }
        let any = |lever: Lever| self.map.cells.iter().any(|cell| cell.p50.lever == lever);
        text.push_str(match (any(Lever::Always), any(Lever::Never)) {
            (true, true) => " Hatched: every value (always) or none (never) is good in half of the runs.",
            (true, false) => " Hatched: every value is good in half of the runs.",
            (false, true) => " Hatched: no value is good in half of the runs.",
            (false, false) => "",
        });
        text
    }

    /// The widest half-interval of the numbers in the cells.
    fn widest_interval(&self) -> Option<f64> {
        let half = |cell: &MapCell| lever_half_width(cell.p50.lever, cell.p50.low, cell.p50.high);
        self.map.cells.iter().filter_map(half).filter(|x| x.is_finite() && *x > 0.0).reduce(f64::max)
    }

    fn base_value(&self) -> String {
        let base = self.break_even.of_base;
        spoken(&self.known_to(base, None), &self.break_even.of_unit)
    }

    /// Whether half of the runs or more are good at the lever's base value.
    fn good_at_base(&self, cell: &MapCell) -> bool {
        let base = self.break_even.of_base;
        match (cell.p50.lever, self.break_even.good_above) {
            (Lever::Always, _) => true,
            (Lever::Never, _) => false,
            (Lever::At(x), Some(false)) => base <= x,
            (Lever::At(x), _) => base >= x,
        }
    }

    fn has_line(&self) -> bool {
        let mut sides = self.map.cells.iter().map(|cell| self.good_at_base(cell));
        let first = sides.next();
        sides.any(|side| Some(side) != first)
    }

    fn body(&self, canvas: &Canvas<'_>, [finding, subtitle, foot]: [&str; 3]) -> Drawn {
        let top = layout::headings(canvas, finding, subtitle)?;
        let bottom = layout::foot(canvas, foot)?;
        let (columns, rows) = (self.map.across.values.len(), self.map.up.values.len());
        let widest = |axis: &MapAxis| {
            axis.values.iter().map(|&x| TICK.width(&self.value(axis, x))).fold(0.0, f64::max)
        };
        let base_up = format!("base {}", self.value(&self.map.up, self.map.up.base));
        let frame = Frame {
            left: MARGIN + widest(&self.map.up) + 8.0,
            top: top + TOP_ROOM + BASE_ROOM,
            right: canvas.width - MARGIN - BASE.width(&base_up) - 10.0,
            bottom: bottom - BOTTOM_ROOM,
        };
        let (width, height) = (frame.width() / columns as f64, (frame.bottom - frame.top) / rows as f64);
        let grid = Grid { frame, width, height };
        self.cells(canvas, &grid)?;
        self.heavy_line(canvas, &grid)?;
        self.numbers(canvas, &grid)?;
        self.axes(canvas, &grid)?;
        self.base_marks(canvas, &grid, &base_up)
    }

    /// All cells with their columns and rows.
    fn each(&self) -> impl Iterator<Item = (usize, usize, &MapCell)> {
        let columns = self.map.across.values.len().max(1);
        self.map.cells.iter().enumerate().map(move |(k, cell)| (k % columns, k / columns, cell))
    }

    fn cells(&self, canvas: &Canvas<'_>, grid: &Grid) -> Drawn {
        let (low, high) = extent(self.map.cells.iter().filter_map(middle));
        // Numbers reach over narrow cells: no white lines through them.
        let gap = if self.step(grid) > 1 { 0.0 } else { 0.5 };
        for (column, row, cell) in self.each() {
            let Frame { left, right, top, bottom } = grid.cell(column, row);
            let inner = Frame { left: left + gap, right: right - gap, top: top + gap, bottom: bottom - gap };
            match middle(cell) {
                Some(x) => {
                    let share = ((x - low) / (high - low)).clamp(0.0, 1.0);
                    canvas.rect(inner, colour::BLUE, SHADES.0 + (SHADES.1 - SHADES.0) * share)?;
                }
                None => canvas.hatch(inner, colour::GREY, 0.8, 5.0)?,
            }
        }
        Ok(())
    }

    /// Columns from one number to the next.
    fn step(&self, grid: &Grid) -> usize {
        let widest = self.map.cells.iter().map(|cell| NUMBER.width(&self.number(cell))).fold(0.0, f64::max);
        ((widest + 5.0) / grid.width).ceil().max(1.0) as usize
    }

    /// Numbers and words; where cells are narrow in every second or third column and in every second row, and not on the
    /// heavy line.
    fn numbers(&self, canvas: &Canvas<'_>, grid: &Grid) -> Drawn {
        let step = self.step(grid);
        for (column, row, cell) in self.each() {
            // An odd step leaves as much at both ends.
            if column % step != (step - 1) / 2 || (step > 1 && grid.height < 18.0 && row % 2 == 1) {
                continue;
            }
            let Frame { left, right, top, bottom } = grid.cell(column, row);
            let text = self.number(cell);
            let wide = NUMBER.width(&text) + 3.0 > right - left;
            if wide
                && (self.line_between(cell, column.checked_sub(1), row)
                    || self.line_between(cell, Some(column + 1), row))
            {
                continue;
            }
            let half = NUMBER.width(&text) / 2.0 + 2.0;
            let least = grid.frame.left + half;
            let x = ((left + right) / 2.0).clamp(least, (canvas.width - half).max(least));
            match middle(cell) {
                Some(_) => canvas.text(&text, x, (top + bottom) / 2.0, Align::Middle, NUMBER)?,
                None => canvas.boxed_text(&text, x, (top + bottom) / 2.0, Align::Middle, NUMBER)?,
            }
        }
        Ok(())
    }

    /// Whether the heavy line runs between a cell and its neighbour.
    fn line_between(&self, cell: &MapCell, column: Option<usize>, row: usize) -> bool {
        let columns = self.map.across.values.len();
        let other = column
            .filter(|&column| column < columns)
            .and_then(|column| self.map.cells.get(row * columns + column));
        self.break_even.good_above.is_some()
            && other.is_some_and(|other| self.good_at_base(other) != self.good_at_base(cell))
    }

    /// Between cells where half of the runs are good at the base value and cells where they are not.
    fn heavy_line(&self, canvas: &Canvas<'_>, grid: &Grid) -> Drawn {
        for (column, row, cell) in self.each() {
            let Frame { left, right, top, bottom } = grid.cell(column, row);
            if self.line_between(cell, Some(column + 1), row) {
                canvas.line(&[(right, top - 0.9), (right, bottom + 0.9)], colour::VERMILION, 1.0, 1.8)?;
            }
            if self.line_between(cell, Some(column), row + 1) {
                canvas.line(&[(left - 0.9, top), (right + 0.9, top)], colour::VERMILION, 1.0, 1.8)?;
            }
        }
        Ok(())
    }

    /// A value of an axis without its unit.
    fn value(&self, axis: &MapAxis, x: f64) -> String {
        let text = grouped(x, decimals(x, None, &axis.unit, &self.answers.study.currency));
        if !text.contains('.') {
            return text;
        }
        // Noughts that end all values of the axis say nothing.
        let needed = |x: &f64| {
            let text = grouped(*x, decimals(*x, None, &axis.unit, &self.answers.study.currency));
            text.split_once('.').map_or(0, |(_, part)| part.trim_end_matches('0').len())
        };
        let needed = axis.values.iter().map(needed).max().unwrap_or(0);
        let written = text.split_once('.').map_or(0, |(_, part)| part.len());
        let short = text.strip_suffix("0".repeat(written - needed.min(written)).as_str()).unwrap_or(&text);
        short.trim_end_matches('.').to_owned()
    }

    fn axes(&self, canvas: &Canvas<'_>, grid: &Grid) -> Drawn {
        let Frame { left, right, top, bottom } = grid.frame;
        let named =
            |axis: &MapAxis| format!("{}{}", layout::named(&axis.label), layout::unit_after(&axis.unit));
        for (row, &value) in self.map.up.values.iter().enumerate() {
            let cell = grid.cell(0, row);
            let text = self.value(&self.map.up, value);
            canvas.text(&text, left - 6.0, (cell.top + cell.bottom) / 2.0, Align::Right, TICK)?;
        }
        let name = TICK.fit(&named(&self.map.up), canvas.width - 2.0 * MARGIN);
        canvas.text(&name, MARGIN, top - BASE_ROOM - 11.0, Align::Left, TICK)?;
        let texts: Vec<String> =
            self.map.across.values.iter().map(|&x| self.value(&self.map.across, x)).collect();
        let widest = texts.iter().map(|text| TICK.width(text)).fold(0.0, f64::max);
        let step = ((widest + 6.0) / grid.width).ceil().max(1.0) as usize;
        for (column, text) in texts.iter().enumerate().filter(|(column, _)| column % step == (step - 1) / 2) {
            let cell = grid.cell(column, 0);
            canvas.text(text, (cell.left + cell.right) / 2.0, bottom + 12.0, Align::Middle, TICK)?;
        }
        let name = TICK.fit(&named(&self.map.across), canvas.width - 2.0 * MARGIN);
        let half = TICK.width(&name) / 2.0;
        let middle =
            ((left + right) / 2.0).clamp(MARGIN + half, (canvas.width - MARGIN - half).max(MARGIN + half));
        canvas.text(&name, middle, bottom + 27.0, Align::Middle, TICK)
    }

    /// The base values of both inputs, on the edges where no number stands.
    fn base_marks(&self, canvas: &Canvas<'_>, grid: &Grid, base_up: &str) -> Drawn {
        let Frame { left, right, top, bottom } = grid.frame;
        if let Some(steps) = place_on(&self.map.across, self.map.across.base) {
            let x = left + grid.width * (steps + 0.5);
            canvas.polygon(
                &[(x - 4.0, top - 6.5), (x + 4.0, top - 6.5), (x, top - 0.5)],
                colour::VERMILION,
                1.0,
            )?;
            let text = format!("base {}", self.value(&self.map.across, self.map.across.base));
            let half = BASE.width(&text) / 2.0;
            let at = x.clamp(MARGIN + half, (canvas.width - MARGIN - half).max(MARGIN + half));
            canvas.text(&text, at, top - 12.5, Align::Middle, BASE)?;
        }
        if let Some(steps) = place_on(&self.map.up, self.map.up.base) {
            let y = bottom - grid.height * (steps + 0.5);
            let mark = [(right + 6.5, y - 4.0), (right + 6.5, y + 4.0), (right + 0.5, y)];
            canvas.polygon(&mark, colour::VERMILION, 1.0)?;
            let room = canvas.width - right - 12.0;
            canvas.text(&BASE.fit(base_up, room), right + 10.0, y, Align::Left, BASE)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base_values_lie_between_their_neighbours() {
        let axis = |values: &[f64]| MapAxis {
            name: String::new(),
            label: String::new(),
            unit: String::new(),
            base: 0.0,
            values: values.to_vec(),
        };
        assert_eq!(place_on(&axis(&[1.0, 2.0, 4.0]), 3.0), Some(1.5));
        assert_eq!(place_on(&axis(&[1.0, 2.0, 4.0]), 4.0), Some(2.0));
        assert_eq!(place_on(&axis(&[3.0]), 3.0), Some(0.0));
        assert_eq!((place_on(&axis(&[1.0, 2.0]), 0.9), place_on(&axis(&[]), 1.0)), (None, None));
    }
}
