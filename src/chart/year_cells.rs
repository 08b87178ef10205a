//! Cells of a year by day and hour: the calendar's strips of twelve months, shades, and cells as one path for each shade.

use std::fmt::Write;
use std::ops::Range;

use crate::hotwater::course::YearMap;
use crate::hotwater::time::DAYS_IN_MONTH;
use crate::report::numbers::{exponent, power_of_ten};

/// Shades from nothing to the most: one hue, evenly apart in lightness (CIE 1976 L* from 97 to 22), so that they keep
/// their order in grey.
pub(super) const SHADES: [&str; 11] = [
    "#f2f7fe", "#d5e2f5", "#b7ceed", "#98bae4", "#77a7db", "#5094d2", "#2681c4", "#186ea9", "#125b8d",
    "#0c4972", "#073758",
];
/// Where nothing is known; below a hatching.
pub(super) const UNKNOWN: &str = "#d2d5d8";
/// Most strips that are drawn.
pub(super) const MOST_STRIPS: usize = 10;

const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/// A month within a strip.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Month {
    pub(super) name: &'static str,
    pub(super) year: Option<i32>,
    /// Days of the strip.
    pub(super) days: Range<usize>,
}

/// Up to twelve months side by side.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Strip {
    pub(super) months: Vec<Month>,
    /// Days of the strip that the map has.
    pub(super) held: Range<usize>,
    /// Day of the map that is the first of them.
    pub(super) first: usize,
}

impl Strip {
    /// Days of all its months.
    pub(super) fn days(&self) -> usize {
        self.months.last().map_or(0, |month| month.days.end)
    }
    /// Leaves only the days that the map has: a strip by itself has no other to stand in line with.
    fn cut(&mut self) {
        let held = self.held.clone();
        let within = |day: usize| day.clamp(held.start, held.end) - held.start;
        for month in &mut self.months {
            month.days = within(month.days.start)..within(month.days.end);
        }
        self.months.retain(|month| !month.days.is_empty());
        self.held = 0..held.len();
    }

    /// "2026", "Mar to May 2026" or "Mar 2025 to Feb 2026"; nothing for a year without a number.
    pub(super) fn name(&self) -> String {
        let year = |month: Option<&Month>| month.and_then(|m| Some((m.name, m.year?)));
        match (year(self.months.first()), year(self.months.last())) {
            (Some(_), Some((_, year))) if self.months.len() == 12 && self.months[0].name == "Jan" => {
                year.to_string()
            }
            (Some((from, a)), Some(_)) if self.months.len() == 1 => format!("{from} {a}"),
            (Some((from, a)), Some((to, b))) if a == b => format!("{from} to {to} {a}"),
            (Some((from, a)), Some((to, b))) => format!("{from} {a} to {to} {b}"),
            _ => String::new(),
        }
    }
}

fn days_of(year: Option<i32>, month: usize) -> usize {
    let leap = year.is_some_and(|y| y % 4 == 0 && (y % 100 != 0 || y % 400 == 0));
    DAYS_IN_MONTH[month % 12] as usize + usize::from(leap && month == 1)
}

/// Strips of twelve months from the month of the first day on; the last ends with the month of the last day.
pub(super) fn strips(map: &YearMap) -> Vec<Strip> {
    let days = map.values.len() / map.steps.max(1);
    let (mut year, month, first) = map.first;
    let mut month = usize::from(month.clamp(1, 12)) - 1;
    // Days of the calendar behind us, counted from the first of the first month.
    let before = usize::from(first.max(1)) - 1;
    let mut taken = 0;
    let mut out: Vec<Strip> = Vec::new();
    while taken < days && out.len() < MOST_STRIPS {
        let start = if out.is_empty() { before } else { 0 };
        let mut strip = Strip { months: Vec::new(), held: start..start, first: taken };
        for _ in 0..12 {
            let at = strip.days();
            let length = days_of(year, month);
            strip.months.push(Month { name: MONTHS[month], year, days: at..at + length });
            month = (month + 1) % 12;
            year = year.map(|y| y.saturating_add(i32::from(month == 0)));
            if strip.days() - start.min(strip.days()) >= days - taken {
                break;
            }
        }
        strip.held.end = (start + days - taken).min(strip.days().max(start));
        taken += strip.held.len();
        out.push(strip);
    }
    if let [only] = out.as_mut_slice() {
        only.cut();
    }
    out
}

/// Power of each cell in kW, `[day * rows + row]`: the mean of the steps that are known, NaN where none is.
pub(super) fn powers(map: &YearMap, rows: usize) -> Vec<f64> {
    let steps = map.steps.max(1);
    let kw = steps as f64 / 24.0;
    let mut out = Vec::new();
    for day in map.values.chunks_exact(steps) {
        for row in 0..rows {
            let part = &day[row * steps / rows..((row + 1) * steps / rows).max(row * steps / rows + 1)];
            let known = || part.iter().copied().filter(|x| x.is_finite());
            let sum: f64 = known().sum();
            out.push(sum * kw / known().count() as f64);
        }
    }
    out
}

/// Shades and the power that the darkest begins to stand for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    pub(super) top: f64,
    /// Part of the cells beyond it, and the greatest of them.
    pub(super) beyond: f64,
    pub(super) most: f64,
}

impl Scale {
    /// Up to a round number that holds all but one in two hundred of the cells with anything in them; up to the greatest
    /// where that is little more.
    pub(super) fn of(powers: &[f64]) -> Self {
        let mut some: Vec<f64> = powers.iter().copied().filter(|x| x.is_finite() && *x > 1e-9).collect();
        some.sort_by(f64::total_cmp);
        let Some(&most) = some.last() else { return Scale { top: 1.0, beyond: 0.0, most: 0.0 } };
        let place = (some.len() as f64 * 0.995).ceil() as usize;
        let usual = round_up(some[place.clamp(1, some.len()) - 1]);
        let top = if round_up(most) <= usual * 1.34 { round_up(most) } else { usual };
        let beyond = some.iter().filter(|x| **x > top).count();
        let known = powers.iter().filter(|x| x.is_finite()).count();
        Scale { top, beyond: beyond as f64 / known.max(1) as f64, most }
    }

    /// The shade of a power; 0 for next to nothing.
    pub(super) fn shade(&self, kw: f64) -> usize {
        let last = SHADES.len() - 1;
        let part = kw / self.top;
        if part < 0.005 { 0 } else { (part * last as f64 - 1e-9).ceil().clamp(1.0, last as f64) as usize }
    }
}

/// The next of 1, 1.5, 2, 2.5, 3, 4, 5, 6, 8 times a power of ten.
fn round_up(x: f64) -> f64 {
    let unit = power_of_ten(exponent(x));
    let digits = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0];
    digits.iter().map(|digit| digit * unit).find(|value| *value >= x * (1.0 - 1e-12)).unwrap_or(10.0 * unit)
}

/// Runs of equal values along a day.
fn runs<T: PartialEq + Copy>(values: &[T]) -> Vec<(T, Range<usize>)> {
    let mut out: Vec<(T, Range<usize>)> = Vec::new();
    for (k, &value) in values.iter().enumerate() {
        match out.last_mut() {
            Some((last, run)) if *last == value => run.end = k + 1,
            _ => out.push((value, k..k + 1)),
        }
    }
    out
}

/// Where the first cell of a strip lies and how large cells are, in units of the sheet.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub(super) left: f64,
    pub(super) bottom: f64,
    pub(super) wide: f64,
    pub(super) high: f64,
}

/// The cells of a strip: a path for each shade, in cells as units; `None` is what is not known.
pub(super) fn strip_markup(strip: &Strip, shades: &[Option<usize>], rows: usize, place: Place) -> String {
    let mut paths: Vec<Path> = (0..SHADES.len()).map(|_| Path::default()).collect();
    let mut unknown = Path::default();
    let days = shades.chunks_exact(rows.max(1)).skip(strip.first).zip(strip.held.clone());
    for (day, column) in days {
        for (shade, run) in runs(day) {
            match shade {
                Some(0) => {}
                Some(shade) => paths[shade].column(column, &run),
                None => unknown.column(column, &run),
            }
        }
    }
    let Place { left, bottom, wide, high } = place;
    // A column is a stroke as wide as a day along its middle.
    let mut out = format!(
        "<g transform=\"translate({left} {bottom}) scale({wide} -{high})\" fill=\"none\" \
         stroke-linejoin=\"miter\" shape-rendering=\"crispEdges\">\n"
    );
    let (start, length) = (strip.held.start, strip.held.len());
    let _ = writeln!(out, "<path fill=\"{}\" d=\"M{start} 0h{length}v{rows}h-{length}z\"/>", SHADES[0]);
    let all = SHADES.iter().zip(&paths).skip(1).chain([(&UNKNOWN, &unknown)]);
    for (colour, path) in all.filter(|(_, path)| !path.text.is_empty()) {
        let _ =
            writeln!(out, "<path stroke=\"{colour}\" transform=\"translate(.5 0)\" d=\"{}\"/>", path.text);
    }
    out + "</g>\n"
}

/// A path of upright strokes, each told from the end of the last.
#[derive(Debug, Default)]
struct Path {
    text: String,
    at: (i64, i64),
}

impl Path {
    fn column(&mut self, column: usize, run: &Range<usize>) {
        let (x, y) = (column as i64, run.start as i64);
        let (dx, dy) = (x - self.at.0, y - self.at.1);
        let gap = if dy < 0 { "" } else { " " };
        let _ = write!(self.text, "m{dx}{gap}{dy}v{}", run.len());
        self.at = (x, run.end as i64);
    }
}

/// Rectangles of cells that are not known, columns and rows: equal runs of days that follow each other are one.
pub(super) fn unknown_areas(
    strip: &Strip,
    shades: &[Option<usize>],
    rows: usize,
) -> Vec<(Range<usize>, Range<usize>)> {
    let mut out: Vec<(Range<usize>, Range<usize>)> = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    for (day, column) in shades.chunks_exact(rows.max(1)).skip(strip.first).zip(strip.held.clone()) {
        let mut next = Vec::new();
        for (_, run) in runs(day).into_iter().filter(|(shade, _)| shade.is_none()) {
            match open.iter().copied().find(|&k| out[k].1 == run) {
                Some(k) => {
                    out[k].0.end = column + 1;
                    next.push(k);
                }
                None => {
                    next.push(out.len());
                    out.push((column..column + 1, run));
                }
            }
        }
        open = next;
    }
    out
}

/// One path of diagonal strokes over rectangles, in step with each other, in units of the sheet.
pub(super) fn hatching(areas: &[(Range<usize>, Range<usize>)], place: Place, step: f64) -> String {
    let mut text = String::new();
    for (columns, rows) in areas {
        let left = place.left + place.wide * columns.start as f64;
        let right = place.left + place.wide * columns.end as f64;
        let (top, bottom) =
            (place.bottom - place.high * rows.end as f64, place.bottom - place.high * rows.start as f64);
        let mut at = ((left + top) / step).ceil() * step;
        while at < right + bottom {
            let (a, b) = ((at - bottom).max(left), (at - top).min(right));
            let _ = write!(text, "M{a:.0} {:.0}L{b:.0} {:.0}", at - a, at - b);
            at += step;
        }
    }
    match text.is_empty() {
        true => text,
        false => format!("<path fill=\"none\" stroke=\"#8c949c\" stroke-width=\"7\" d=\"{text}\"/>\n"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(first: (Option<i32>, u8, u8), days: usize) -> YearMap {
        YearMap { steps: 24, values: vec![0.5; 24 * days], first }
    }

    #[test]
    fn strips_follow_the_calendar() {
        let simulated = strips(&map((None, 1, 1), 365));
        assert_eq!((simulated.len(), simulated[0].days(), simulated[0].name()), (1, 365, String::new()));
        // From 14 March 2023 to 13 March 2024: 2024 is a leap year, the thirteenth month has a strip of its own.
        let year = strips(&map((Some(2023), 3, 14), 366));
        assert_eq!((year.len(), year[0].held.clone(), year[0].days()), (2, 13..366, 366));
        assert_eq!((year[1].first, year[1].held.clone(), year[1].months.len()), (353, 0..13, 1));
        assert_eq!((year[0].name(), year[1].name()), ("Mar 2023 to Feb 2024".into(), "Mar 2024".into()));
        let spring = &strips(&map((Some(2025), 3, 3), 75))[0];
        assert_eq!(
            (spring.held.clone(), spring.days(), spring.name()),
            (0..75, 75, "Mar to May 2025".into())
        );
        assert_eq!(spring.months[2].days, 59..75);
        // 1,096 days are three years with one leap day among them.
        let three = strips(&map((Some(2022), 1, 1), 1096));
        assert_eq!(three.iter().map(Strip::days).collect::<Vec<_>>(), [365, 365, 366]);
        assert_eq!(strips(&map((Some(2022), 1, 1), 9000)).len(), MOST_STRIPS);
        assert!(
            strips(&map((Some(i32::MAX), 12, 31), 2)).len() == 1 && strips(&map((None, 0, 0), 0)).is_empty()
        );
    }

    #[test]
    fn powers_are_means_of_what_is_known() {
        let mut map = map((None, 1, 1), 1);
        map.values[3] = f64::NAN;
        (map.values[4], map.values[5]) = (f64::NAN, f64::NAN);
        let powers = powers(&map, 12);
        assert_eq!((powers[0], powers[1]), (0.5, 0.5));
        assert!(powers[2].is_nan());
    }

    #[test]
    fn the_scale_leaves_out_what_is_rare() {
        let mut powers: Vec<f64> = (1..=1000).map(|k| f64::from(k) * 0.0029).collect();
        assert_eq!(Scale::of(&powers), Scale { top: 3.0, beyond: 0.0, most: 2.9 });
        powers[999] = 9.0;
        let scale = Scale::of(&powers);
        assert_eq!((scale.top, scale.beyond, scale.most), (3.0, 0.001, 9.0));
        let shades = [0.0, 0.01, 0.02, 0.3, 0.31, 3.0, 9.0].map(|kw| scale.shade(kw));
        assert_eq!(shades, [0, 0, 1, 1, 2, 10, 10]);
        assert_eq!(Scale::of(&[f64::NAN, 0.0]).top, 1.0);
    }

    /// Lightness L* of CIE 1976 from sRGB (IEC 61966-2-1), white of D65.
    fn lightness(colour: &str) -> f64 {
        let channel = |k: usize| f64::from(u8::from_str_radix(&colour[k..k + 2], 16).unwrap()) / 255.0;
        let linear = |c: f64| if c <= 0.04045 { c / 12.92 } else { libm::pow((c + 0.055) / 1.055, 2.4) };
        let y = 0.2126 * linear(channel(1)) + 0.7152 * linear(channel(3)) + 0.0722 * linear(channel(5));
        116.0 * libm::cbrt(y) - 16.0
    }

    #[test]
    fn shades_are_evenly_apart() {
        let steps: Vec<f64> = SHADES.windows(2).map(|pair| lightness(pair[0]) - lightness(pair[1])).collect();
        assert!(steps.iter().all(|step| (step - 7.5).abs() < 0.35), "{steps:?}");
    }

    #[test]
    fn equal_neighbours_are_one_stroke() {
        let strip = &strips(&map((None, 1, 1), 2))[0];
        let day = |a: usize| [Some(0), Some(a), Some(a), None];
        let shades: Vec<Option<usize>> = [day(2), day(3)].concat();
        let place = Place { left: 0.0, bottom: 0.0, wide: 1.0, high: 1.0 };
        let text = strip_markup(strip, &shades, 4, place);
        assert!(
            text.contains(&format!("stroke=\"{}\" transform=\"translate(.5 0)\" d=\"m0 1v2\"", SHADES[2]))
        );
        assert!(text.contains("d=\"m1 1v2\"") && text.contains("d=\"m0 3v1m1-1v1\""), "{text}");
        assert_eq!(unknown_areas(strip, &shades, 4), [(0..2, 3..4)]);
    }
}
