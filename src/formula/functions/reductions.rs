//! Along months and years.

use super::{Call, Function, FunctionOp};
use crate::formula::types::{Kind, Shape, Type, TypedNode};

const NONE: &[&str] = &[];

/// The entry of a reduction: they differ in words only.
macro_rules! reduction {
    ($name:literal, $op:ident, $signature:literal, $summary:literal, $example:literal, $expected:literal, $check:expr) => {
        Function {
            name: $name,
            op: FunctionOp::$op,
            parameters: &["x"],
            least: 1,
            many: false,
            labels: NONE,
            signature: $signature,
            summary: $summary,
            example: $example,
            expected: $expected,
            source: "",
            check: $check,
        }
    };
}

pub(super) const FUNCTIONS: &[Function] = &[
    reduction!(
        "sum_months",
        SumMonths,
        "sum_months(x: by month, or by month and year) -> unit of x, single or by year",
        "The sum over the months of a year.",
        "sum_months(months(1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12) * 1 [kWh])",
        "78",
        |call| over_months(call, false)
    ),
    reduction!(
        "mean_months",
        MeanMonths,
        "mean_months(x: by month, or by month and year) -> unit of x, single or by year",
        "The mean of the twelve months, each counted alike.",
        "mean_months(months(1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12))",
        "6.5",
        |call| over_months(call, true)
    ),
    reduction!(
        "min_months",
        MinMonths,
        "min_months(x: by month, or by month and year) -> unit of x, single or by year",
        "The smallest of the twelve months.",
        "min_months(months(5, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12))",
        "2",
        |call| over_months(call, true)
    ),
    reduction!(
        "max_months",
        MaxMonths,
        "max_months(x: by month, or by month and year) -> unit of x, single or by year",
        "The largest of the twelve months.",
        "max_months(months(5, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 4))",
        "11",
        |call| over_months(call, true)
    ),
    reduction!(
        "sum_years",
        SumYears,
        "sum_years(x: by year, or by month and year) -> unit of x, single or by month",
        "The sum over the years of the horizon.",
        "sum_years(years(1 [EUR], 2 [EUR], 3 [EUR], 4 [EUR], 5 [EUR]))",
        "15",
        |call| over_years(call, false)
    ),
    reduction!(
        "mean_years",
        MeanYears,
        "mean_years(x: by year, or by month and year) -> unit of x, single or by month",
        "The mean over the years of the horizon.",
        "mean_years(years(1, 2, 3, 4, 5))",
        "3",
        |call| over_years(call, true)
    ),
    reduction!(
        "min_years",
        MinYears,
        "min_years(x: by year, or by month and year) -> unit of x, single or by month",
        "The smallest over the years of the horizon.",
        "min_years(years(4, 2, 3, 4, 5))",
        "2",
        |call| over_years(call, true)
    ),
    reduction!(
        "max_years",
        MaxYears,
        "max_years(x: by year, or by month and year) -> unit of x, single or by month",
        "The largest over the years of the horizon.",
        "max_years(years(1, 2, 3, 7, 5))",
        "7",
        |call| over_years(call, true)
    ),
    reduction!(
        "cumulative",
        Cumulative,
        "cumulative(x: by year, or by month and year) -> unit and shape of x",
        "The running sum from the start, each value included in its own sum.",
        "at_year(cumulative(years(1 [EUR], 2 [EUR], 3 [EUR], 4 [EUR], 5 [EUR])), 2)",
        "6",
        |call| {
            call.number(0)?;
            match call.shape(0).has_years() {
                true => call.ty(0),
                false => {
                    call.refuse(0, "values by year", "multiply it by something by year, such as a price path")
                }
            }
        }
    ),
    Function {
        name: "at_year",
        op: FunctionOp::AtYear,
        parameters: &["x", "n"],
        least: 2,
        many: false,
        labels: NONE,
        signature: "at_year(x: by year, or by month and year; n: a whole number, 0 is the first year) -> unit of x, single or by month",
        summary: "The value of x in year n, counted from 0.",
        example: "at_year(years(10, 11, 12, 13, 14), 3)",
        expected: "13",
        source: "",
        check: at_year,
    },
    Function {
        name: "previous",
        op: FunctionOp::Previous,
        parameters: &["x", "start"],
        least: 2,
        many: false,
        labels: NONE,
        signature: "previous(x: by year, or by month and year; start: unit of x) -> unit and shape of x",
        summary: "Last year's value of x, and start in year 0; x may be the working itself.",
        example: "at_year(previous(years(10, 11, 12, 13, 14), 9), 1)",
        expected: "10",
        source: "",
        check: previous,
    },
    Function {
        name: "months",
        op: FunctionOp::Months,
        parameters: &["value"],
        least: 1,
        many: true,
        labels: NONE,
        signature: "months(twelve values in one unit) -> by month",
        summary: "Twelve values, January first.",
        example: "max_months(months(5, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 4))",
        expected: "11",
        source: "",
        check: |call| listed(call, 12, Shape::Monthly),
    },
    Function {
        name: "years",
        op: FunctionOp::Years,
        parameters: &["value"],
        least: 1,
        many: true,
        labels: NONE,
        signature: "years(as many values in one unit as the study has years) -> by year",
        summary: "A value for each year of the horizon, the first year first.",
        example: "sum_years(years(1, 2, 3, 4, 5))",
        expected: "15",
        source: "",
        check: |call| {
            let years = call.years();
            listed(call, years, Shape::Yearly)
        },
    },
];

fn over_months(call: &mut Call<'_, '_>, points: bool) -> Option<Type> {
    let kind = reduced(call, points)?;
    let shape = match call.shape(0) {
        Shape::Monthly => Shape::Single,
        Shape::MonthlyByYearly => Shape::Yearly,
        Shape::Single => {
            return call.refuse(0, "values by month", "it is one value already: leave the call out");
        }
        Shape::Yearly => {
            return call.refuse(
                0,
                "values by month",
                "it has one value for each year already: leave the call out",
            );
        }
    };
    Some(Type { kind, shape })
}

fn over_years(call: &mut Call<'_, '_>, points: bool) -> Option<Type> {
    let kind = reduced(call, points)?;
    let shape = match call.shape(0) {
        Shape::Yearly => Shape::Single,
        Shape::MonthlyByYearly => Shape::Monthly,
        Shape::Single => {
            let hint = "it is one value; the same in every year is `x * (number of years)`";
            return call.refuse(0, "values by year", hint);
        }
        Shape::Monthly => {
            return call.refuse(0, "values by year", "it has months only: write `sum_months` or its like");
        }
    };
    Some(Type { kind, shape })
}

fn reduced(call: &mut Call<'_, '_>, points: bool) -> Option<Kind> {
    match points {
        true => call.number_or_point(0).map(|(dimension, point)| Kind::Number { dimension, point }),
        false => call.number(0).map(|dimension| Kind::Number { dimension, point: false }),
    }
}

fn at_year(call: &mut Call<'_, '_>) -> Option<Type> {
    let kind = reduced(call, true);
    call.plain(1)?;
    let last = call.years().saturating_sub(1);
    let constant = match call.args.get(1).map(|a| &a.node) {
        Some(TypedNode::Constant(n)) => Some(*n),
        _ => None,
    };
    #[expect(clippy::cast_precision_loss, reason = "at most 100 years")]
    let within = constant.is_some_and(|n| n.floor() == n && n >= 0.0 && n <= last as f64);
    if !within {
        let hint = "years count from 0";
        return call.refuse(1, &format!("a whole number from 0 to {last}, written as such,"), hint);
    }
    let shape = match call.shape(0) {
        Shape::Yearly => Shape::Single,
        Shape::MonthlyByYearly => Shape::Monthly,
        _ => return call.refuse(0, "values by year", "it is the same in every year: leave the call out"),
    };
    kind.map(|kind| Type { kind, shape })
}

fn previous(call: &mut Call<'_, '_>) -> Option<Type> {
    if call.ty(0)?.kind != Kind::YesNo {
        call.number_or_point(0)?;
    }
    call.like(1, 0)?;
    match (call.shape(0), call.shape(1)) {
        (Shape::Yearly | Shape::MonthlyByYearly, Shape::Single)
        | (Shape::MonthlyByYearly, Shape::Monthly) => call.ty(0),
        (Shape::Yearly | Shape::MonthlyByYearly, _) => {
            call.refuse(1, "one value of the year before the first", "it has no years of its own")
        }
        _ => call.refuse(0, "values by year", "a value that is the same in every year has no last year"),
    }
}

fn listed(call: &mut Call<'_, '_>, wanted: usize, shape: Shape) -> Option<Type> {
    let given = call.args.len();
    if given != wanted {
        let what = if shape == Shape::Monthly { "month" } else { "year of the study" };
        return call.wrong_number(wanted, given, what);
    }
    call.number_or_point(0)?;
    let kind = call.all_alike(0)?;
    let mut fine = Some(());
    for i in 0..given {
        fine = call.single(i).and(fine);
    }
    fine?;
    Some(Type { kind, shape })
}
