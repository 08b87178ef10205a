//! Money over time. Year ends throughout unless said; a saving by month is summed by year for present values
//! and stays by month for paybacks, which then cross within the year where the money comes.

use super::{Call, Function, FunctionOp};
use crate::formula::types::{Kind, Shape, Type};
use crate::units::{Base, Dimension};

const NONE: &[&str] = &[];

/// When the money of a year counts in `npv`; the order is that of the constants the model sees.
pub const TIMING: &[&str] = &["year end", "mid year"];

pub(super) const FUNCTIONS: &[Function] = &[
    Function {
        name: "npv",
        op: FunctionOp::Npv,
        parameters: &["discount", "outlay", "saving", "timing"],
        least: 3,
        many: false,
        labels: TIMING,
        signature: "npv(discount: 1/yr, outlay: money, saving: money by year or by month and year[, \"year end\" or \"mid year\"]) -> money, single",
        summary: "Net present value: the savings of each year divided by (1 + discount) to the power of its end (or middle), less the outlay.",
        example: "npv(0.1 [1/yr], 100 [EUR], years(110 [EUR], 0 [EUR], 0 [EUR], 0 [EUR], 0 [EUR]))",
        expected: "0",
        source: "Fisher 1930",
        check: |call| {
            rate(call, 0)?;
            let unit = flow(call, 1)?;
            if call.ty(3).is_some_and(|ty| !matches!(ty.kind, Kind::Label(l) if l == TIMING)) {
                return call.refuse(3, "\"year end\" or \"mid year\"", "");
            }
            Some(Type::number(unit, Shape::Single))
        },
    },
    Function {
        name: "payback",
        op: FunctionOp::Payback,
        parameters: &["outlay", "saving", "in_service"],
        least: 2,
        many: false,
        labels: NONE,
        signature: "payback(outlay: money, saving: money by year or by month and year[, in_service: share of each period]) -> years or never, single",
        summary: "Years until the outlay is earned back for good (the last crossing of cumulative cash), straight within the part of the period in service; never if not within the horizon.",
        example: "payback(600 [EUR], years(150 [EUR], 150 [EUR], 150 [EUR], 150 [EUR], 150 [EUR]))",
        expected: "4",
        source: "",
        check: |call| {
            flow(call, 0)?;
            share(call, 2)?;
            Some(Type::years(Shape::Single))
        },
    },
    Function {
        name: "first_payback",
        op: FunctionOp::FirstPayback,
        parameters: &["outlay", "saving", "in_service"],
        least: 2,
        many: false,
        labels: NONE,
        signature: "first_payback(outlay: money, saving: money by year or by month and year[, in_service: share of each period]) -> years or never, single",
        summary: "Years until cumulative cash first reaches zero, even if it falls below again later.",
        example: "first_payback(100 [EUR], years(100 [EUR], -50 [EUR], 0 [EUR], 0 [EUR], 0 [EUR]))",
        expected: "1",
        source: "",
        check: |call| {
            flow(call, 0)?;
            share(call, 2)?;
            Some(Type::years(Shape::Single))
        },
    },
    Function {
        name: "discounted_payback",
        op: FunctionOp::DiscountedPayback,
        parameters: &["discount", "outlay", "saving", "in_service"],
        least: 3,
        many: false,
        labels: NONE,
        signature: "discounted_payback(discount: 1/yr, outlay: money, saving: money by year or by month and year[, in_service: share of each period]) -> years or never, single",
        summary: "Payback of the savings discounted to year ends.",
        example: "discounted_payback(0.1 [1/yr], 100 [EUR], years(110 [EUR], 0 [EUR], 0 [EUR], 0 [EUR], 0 [EUR]))",
        expected: "1",
        source: "",
        check: |call| {
            rate(call, 0)?;
            flow(call, 1)?;
            share(call, 3)?;
            Some(Type::years(Shape::Single))
        },
    },
    Function {
        name: "pays_back",
        op: FunctionOp::PaysBack,
        parameters: &["outlay", "saving"],
        least: 2,
        many: false,
        labels: NONE,
        signature: "pays_back(outlay: money, saving: money by year or by month and year) -> yes or no, single",
        summary: "Whether the savings of the whole horizon reach the outlay.",
        example: "pays_back(600 [EUR], years(100 [EUR], 100 [EUR], 100 [EUR], 100 [EUR], 100 [EUR]))",
        expected: "no",
        source: "",
        check: |call| {
            flow(call, 0)?;
            Some(Type::yes_no(Shape::Single))
        },
    },
    Function {
        name: "is_never",
        op: FunctionOp::IsNever,
        parameters: &["years"],
        least: 1,
        many: false,
        labels: NONE,
        signature: "is_never(years: years or never) -> yes or no, shape of years",
        summary: "Whether a payback is not reached within the horizon.",
        example: "is_never(payback(600 [EUR], years(100 [EUR], 100 [EUR], 100 [EUR], 100 [EUR], 100 [EUR])))",
        expected: "yes",
        source: "",
        check: |call| match call.ty(0)?.kind {
            Kind::Years => Some(Type::yes_no(call.shape(0))),
            _ => call.refuse(0, "years or never", "only a payback can be never"),
        },
    },
    Function {
        name: "rates_of_return",
        op: FunctionOp::RatesOfReturn,
        parameters: &["outlay", "saving"],
        least: 2,
        many: false,
        labels: NONE,
        signature: "rates_of_return(outlay: money, saving: money by year or by month and year) -> 1/yr, single",
        summary: "The one discount rate between -0.99 and 10 at which the net present value is zero; not a number where there is none or more than one.",
        example: "rates_of_return(100 [EUR], years(110 [EUR], 0 [EUR], 0 [EUR], 0 [EUR], 0 [EUR]))",
        expected: "0.1",
        source: "Norstrom 1972",
        check: |call| {
            flow(call, 0)?;
            Some(Type::number(Dimension::RATE, Shape::Single))
        },
    },
    Function {
        name: "annuity",
        op: FunctionOp::Annuity,
        parameters: &["discount", "outlay", "time"],
        least: 3,
        many: false,
        labels: NONE,
        signature: "annuity(discount: 1/yr, outlay: money, time: yr) -> money, the amount of one year, single",
        summary: "The equal amount at each year's end that is worth the outlay: outlay x r/(1 - (1 + r)^-n); outlay/n without discount.",
        example: "annuity(0.1 [1/yr], 210 [EUR], 2 [yr])",
        expected: "121",
        source: "",
        check: |call| {
            rate(call, 0)?;
            let unit = call.number(1)?;
            call.single(1)?;
            call.of(2, Dimension::TIME, "a time", "give it a unit, such as `20 [yr]`")?;
            call.single(2)?;
            Some(Type::number(unit, Shape::Single))
        },
    },
    Function {
        name: "inflate",
        op: FunctionOp::Inflate,
        parameters: &["amount"],
        least: 1,
        many: false,
        labels: NONE,
        signature: "inflate(amount: money or a price, in money of the start) -> its unit, in money of each year, by year",
        summary: "Money of the start of the first year as money of each year's end: times the price level, which grows by (1 + inflation) in each year, the first too.",
        example: "at_year(inflate(100 [EUR]), 1)",
        expected: "156.25",
        source: "Fisher 1930",
        check: levelled,
    },
    Function {
        name: "deflate",
        op: FunctionOp::Deflate,
        parameters: &["amount"],
        least: 1,
        many: false,
        labels: NONE,
        signature: "deflate(amount: money or a price, in money of each year) -> its unit, in money of the start, by year",
        summary: "Money of each year's end as money of the start of the first year: divided by the price level.",
        example: "at_year(deflate(156.25 [EUR]), 1)",
        expected: "100",
        source: "Fisher 1930",
        check: levelled,
    },
];

/// An amount or price, which comes to differ by year.
fn levelled(call: &mut Call<'_, '_>) -> Option<Type> {
    call.inflation()?;
    let unit = call.number(0)?;
    let money = unit.exponent(Base::Money);
    if money.denominator() != 1 || money.numerator().abs() != 1 {
        return call.refuse(0, "an amount or price", "only money changes its worth");
    }
    Some(Type::number(unit, call.shape(0).join(Shape::Yearly)))
}

fn rate(call: &mut Call<'_, '_>, i: usize) -> Option<()> {
    call.of(i, Dimension::RATE, "a rate by year", "give it a unit, such as `0.04 [1/yr]` or `4 [%/yr]`")?;
    call.single(i)
}

/// The outlay at `i`, single, and the saving after it in the same unit: amounts, not rates. A single saving is
/// the same in every year, one by month the same in every year by month.
fn flow(call: &mut Call<'_, '_>, i: usize) -> Option<Dimension> {
    let unit = call.number(i)?;
    call.single(i)?;
    let saving = call.number(i + 1)?;
    if saving == unit {
        return Some(unit);
    }
    if saving == unit.mul(&Dimension::RATE) {
        let hint =
            "it must be the amount of each year: multiply it by `1 [yr]`, by month with `days_in_month`";
        return call.refuse(i + 1, "an amount by year in the unit of `outlay`", hint);
    }
    call.like(i + 1, i)?;
    Some(unit)
}

/// The share in service at `i`, if given: of the shape of the saving before it.
fn share(call: &mut Call<'_, '_>, i: usize) -> Option<()> {
    if call.ty(i).is_none() {
        return Some(());
    }
    call.plain(i)?;
    let wanted = call.shape(i - 1).join(Shape::Yearly);
    if wanted == Shape::MonthlyByYearly {
        call.refine(i);
    }
    if call.shape(i) == wanted {
        return Some(());
    }
    call.refuse(i, &format!("a share {}, like the saving,", wanted.words()), "write `in_service(life)` here")
}
