//! Which tables of the answers the report shows, with which columns; and the rows that page one speaks of as well.

use super::book::Book;
use super::by_table::Spec;
use crate::analysis::{BreakEven, PromiseKept, Tornado, TornadoRow};
use crate::wording::clean;

/// Number of a bar of the tornado.
pub(super) fn tornado_row(book: &mut Book<'_>, tornado: &Tornado, row: &TornadoRow) -> u32 {
    let what = format!("{} as {} alone changes", clean(&tornado.label), clean(&row.label));
    let behind =
        "single evaluations: this input at its 10 % and 90 % values, the others at their base values";
    let subject = format!("tornado {} {}", tornado.result, row.name);
    book.row(&subject, &what, &tornado.result, behind)
}

/// Number of a break-even question.
pub(super) fn break_even_row(book: &mut Book<'_>, b: &BreakEven) -> u32 {
    let what = format!("Where {} flips by {}", clean(&b.result_label), clean(&b.of_label));
    let behind = format!("the value of {} at which the base case is just {}", clean(&b.of), clean(&b.rule));
    book.row(&format!("break-even {} {}", b.result, b.of), &what, &b.of, &behind)
}

/// Number of a promise.
pub(super) fn promise_row(book: &mut Book<'_>, promise: &PromiseKept) -> u32 {
    let what = format!("Promise: {}", clean(&promise.what));
    let behind = format!("{} runs with a value", crate::wording::grouped(promise.runs as f64, 0));
    book.row(&format!("promise {}", promise.what), &what, "", &behind)
}

type Columns = &'static [(&'static str, &'static str, u32)];

const fn spec(
    file: &'static str,
    caption: &'static str,
    group: &'static [&'static str],
    key: &'static [&'static str],
    [name, unit]: [&'static str; 2],
    columns: Columns,
) -> Spec {
    Spec { file, caption, group, key, name, unit, columns }
}

const CASH: Columns = &[
    ("year", "Year", 1),
    ("calendar year", "Calendar year", 2),
    ("base case", "Base case", 2),
    ("mean", "Mean", 4),
    ("10 % of runs lie below", "10 % lie below", 4),
    ("50 % of runs lie below", "Half lie below", 4),
    ("90 % of runs lie below", "90 % lie below", 4),
];
const BANDS: Columns = &[
    ("year", "Year", 1),
    ("calendar year", "Calendar year", 2),
    ("share of runs paid back", "Share of runs paid back by its end", 4),
];
const TORNADO: Columns = &[
    ("label", "Input", 6),
    ("low value", "Low value", 3),
    ("high value", "High value", 3),
    ("result at low value", "Result at low", 3),
    ("result at high value", "Result at high", 3),
    ("span", "Span", 2),
];
const INFORMATION: Columns = &[
    ("label", "What is found out", 5),
    ("worth of knowing", "Worth of knowing it", 4),
    ("share of the worth", "Share of the worth of all", 2),
    ("share of runs in which the choice", "Share of runs in which the choice changes", 4),
];
const ALTERNATIVES: Columns = &[
    ("course label", "Course", 4),
    ("base case", "Base case", 2),
    ("mean", "Mean", 4),
    ("share of runs in which it is best", "Share of runs in which it is best", 4),
    ("expected regret", "Expected regret", 4),
];
const BREAK_EVEN: Columns = &[
    ("statistic", "Figure", 6),
    ("value", "Value [95 % interval]", 4),
    ("value of against", "Other input at", 2),
];
const CONDITIONS: Columns = &[
    ("box", "Box", 1),
    ("row", "Row", 2),
    ("input label", "Input", 5),
    ("from (included)", "From", 2),
    ("to (included)", "To", 2),
    ("coverage (share of those looked for in the box), half of the runs held out", "Coverage", 3),
    ("density (share of the box's runs looked for), half of the runs held out", "Density", 3),
];

/// Shares paid back, and cash.
pub(super) const PAYBACK: [Spec; 4] = [
    spec("bands", "Share of runs that have paid back, by year", &[], &["year"], ["", ""], BANDS),
    spec(
        "choices_bands",
        "The same for each value of a choice",
        &["choice label", "choice value"],
        &["choice", "choice value", "year"],
        ["", ""],
        BANDS,
    ),
    spec("cash", "Cumulative cash, by year", &[], &["year"], ["", ""], CASH),
    spec(
        "choices_cash",
        "Cumulative cash for each value of a choice",
        &["choice label", "choice value"],
        &["choice", "choice value", "year"],
        ["", ""],
        CASH,
    ),
];

/// What it hangs on.
pub(super) const HANGS_ON: [Spec; 5] = [
    spec(
        "tornado",
        "One input at a time",
        &[],
        &["result", "input"],
        ["result", "unit of the result"],
        TORNADO,
    ),
    spec(
        "choices_tornado",
        "One input at a time, for each value of a choice",
        &["choice label", "choice value"],
        &["choice", "choice value", "result", "input"],
        ["result", "unit of the result"],
        TORNADO,
    ),
    spec(
        "drivers",
        "What drives the result over all runs",
        &[],
        &["result", "row", "input"],
        ["result", ""],
        &[
            ("label", "Input", 5),
            ("first-order index", "First-order index", 4),
            ("Spearman", "Rank correlation", 4),
            ("standardised regression", "Standardised regression coefficient", 2),
            ("delta", "Delta index", 2),
            ("linked", "Linked", 1),
        ],
    ),
    spec(
        "tenths",
        "The result where an input is lowest and where it is highest",
        &[],
        &["result", "statistic", "input"],
        ["result", "unit of the result"],
        &[
            ("label", "Input", 5),
            ("result where lowest", "In its lowest tenth", 4),
            ("result where highest", "In its highest tenth", 4),
            ("difference", "Difference", 2),
        ],
    ),
    spec(
        "groups",
        "The result by groups of runs",
        &["by: label"],
        &["result", "by", "group"],
        ["result", "unit of the result"],
        &[
            ("group", "Group", 3),
            ("runs", "Runs", 2),
            ("mean", "Mean", 4),
            ("50 % of runs lie below", "Half lie below", 4),
            ("share of the group's runs: success", "Share of success", 4),
        ],
    ),
];

/// Where it flips.
pub(super) const FLIPS: [Spec; 2] = [
    spec(
        "break_even",
        "Break-even values",
        &["lever", "result", "rule", "against"],
        &["lever", "result", "against", "value of against", "statistic"],
        ["lever", "unit of the lever"],
        BREAK_EVEN,
    ),
    spec(
        "choices_break_even",
        "Break-even values for each value of a choice",
        &["choice label", "choice value", "lever", "result"],
        &["choice", "choice value", "lever", "result", "against", "value of against", "statistic"],
        ["lever", "unit of the lever"],
        BREAK_EVEN,
    ),
];

/// Courses side by side.
pub(super) const COURSES: [Spec; 4] = [
    spec(
        "alternatives",
        "Courses side by side",
        &[],
        &["result", "course"],
        ["result", "unit"],
        ALTERNATIVES,
    ),
    spec(
        "choices_alternatives",
        "Courses for each value of a choice",
        &["choice label", "choice value"],
        &["choice", "choice value", "result", "course"],
        ["result", "unit"],
        ALTERNATIVES,
    ),
    spec(
        "differences",
        "Pairs of courses",
        &[],
        &["result", "first", "second"],
        ["result", "unit"],
        &[
            ("first label", "First", 3),
            ("second label", "Second", 3),
            ("mean advantage", "Mean advantage of the first", 4),
            ("share of runs in which the first", "Share of runs: first is better", 4),
        ],
    ),
    spec(
        "along",
        "Courses along an input",
        &["input label"],
        &["result", "input", "row", "course", "value of the input"],
        ["result", "unit"],
        &[
            ("value of the input", "Its value", 2),
            ("course label", "Course", 4),
            ("mean", "Mean", 4),
            ("is best", "Best in the mean", 2),
        ],
    ),
];

/// Worth of finding out.
pub(super) const KNOWING: [Spec; 2] = [
    spec(
        "information",
        "What it is worth to know",
        &[],
        &["result", "row", "input or group"],
        ["result", "unit"],
        INFORMATION,
    ),
    spec(
        "choices_information",
        "The same for each value of a choice",
        &["choice label", "choice value"],
        &["choice", "choice value", "result", "row", "input or group"],
        ["result", "unit"],
        INFORMATION,
    ),
];

/// When it fails.
pub(super) const FAILS: [Spec; 2] = [
    spec(
        "conditions",
        "Where failures lie",
        &[],
        &["result", "box", "row", "input"],
        ["result", ""],
        CONDITIONS,
    ),
    spec(
        "choices_conditions",
        "The same for each value of a choice",
        &["choice label", "choice value"],
        &["choice", "choice value", "result", "box", "row", "input"],
        ["result", ""],
        CONDITIONS,
    ),
];

/// Promises.
pub(super) const CLAIM: [Spec; 1] = [spec(
    "claim",
    "What was promised, against the runs",
    &[],
    &["promise"],
    ["", "unit"],
    &[
        ("promise", "Promise", 4),
        ("at least or at most", "Side", 2),
        ("promised value", "Promised", 2),
        ("unit", "Unit", 2),
        ("share of runs that keep it", "Share of runs that keep it", 4),
        ("share of runs that lie below", "Share of runs below it", 4),
    ],
)];

/// Courses of prices.
pub(super) const PATHS: [Spec; 1] = [spec(
    "paths",
    "Price paths, by year",
    &["label", "unit", "choice", "choice value"],
    &["path", "choice", "choice value", "calendar year"],
    ["path", "unit"],
    &[
        ("calendar year", "Calendar year", 2),
        ("base course", "Base case", 2),
        ("mean course", "Mean", 4),
        ("10 % of runs lie below", "10 % lie below", 4),
        ("90 % of runs lie below", "90 % lie below", 4),
    ],
)];

/// Links among inputs.
pub(super) const LINKS: [Spec; 1] = [spec(
    "links",
    "Rank correlations",
    &[],
    &["first", "second"],
    ["", ""],
    &[
        ("first", "First", 3),
        ("second", "Second", 3),
        ("rank correlation asked", "Asked", 2),
        ("rank correlation used", "Used", 2),
        ("rank correlation reached", "Reached", 2),
    ],
)];

/// Simulated homes.
pub(super) const HOMES: [Spec; 1] = [spec(
    "homes",
    "What simulated homes give in the base case",
    &["home"],
    &["home", "output"],
    ["", "unit"],
    &[
        ("what it is", "Output", 6),
        ("unit", "Unit", 1),
        ("January", "January", 2),
        ("April", "April", 2),
        ("July", "July", 2),
        ("October", "October", 2),
        ("year", "In the year", 2),
    ],
)];
