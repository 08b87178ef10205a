//! Real and nominal money: one for the whole study, and what is given in the other converted where it is laid
//! (Fisher 1930). What does not say its money, where it must, is told.

use std::collections::BTreeSet;

use crate::diagnostic::{Diagnostic, Spanned};
use crate::formula::functions::FunctionOp;
use crate::formula::types::{Kind, Shape, Typed, TypedNode};
use crate::model::names::{Named, suggest};
use crate::model::{Conversion, Input, Path, Working};
use crate::study::{Prices, Study};
use crate::units::{Base, Dimension};

/// Longest list of places in one error.
const FEW: usize = 8;

/// Power of the currency in a dimension that can be converted: an amount or price (1), or so much for each unit of
/// money (-1); none for anything else.
pub(super) fn money_power(dimension: &Dimension) -> Option<i64> {
    let power = dimension.exponent(Base::Money);
    let whole = power.denominator() == 1 && power.numerator().abs() == 1;
    whole.then_some(power.numerator())
}

/// What of the study `money` may speak of, with what it says.
struct Row<'a> {
    name: &'a str,
    money: Option<&'a Spanned<Prices>>,
    dimension: Dimension,
    has_labels: bool,
}

/// Sees to it that every amount and rate is in one money: sets the conversions. The name of the inflation.
pub(super) fn check(
    study: &Study,
    inputs: &mut [Input],
    paths: &mut [Path],
    found: &mut Vec<Diagnostic>,
) -> Option<String> {
    let before = found.len();
    let inflation = inflation(study, inputs, paths, found);
    let known = inflation.is_some() || found.len() > before;
    if study.prices.value == Prices::Nominal && study.inflation.is_none() {
        let error = Diagnostic::error("inflation-missing", "nominal prices need an inflation")
            .at(study.prices.span.clone(), "money of each year")
            .hint("add inflation = \"NAME\", an input or path in 1/yr; or use prices = \"real\"");
        found.push(error);
    }
    unsaid(study, inputs, paths, found);
    for text in &study.inputs {
        let Some(input) = inputs.iter_mut().find(|i| i.about.name == text.name.value) else { continue };
        let row = Row {
            name: &text.name.value,
            money: text.money.as_ref(),
            dimension: input.unit.dimension,
            has_labels: matches!(input.ty.kind, Kind::Label(_)),
        };
        input.conversion = conversion(&row, study, known, found);
    }
    for text in &study.paths {
        let Some(path) = paths.iter_mut().find(|p| p.about.name == text.name.value) else { continue };
        let row = Row {
            name: &text.name.value,
            money: text.money.as_ref(),
            dimension: path.unit.dimension,
            has_labels: false,
        };
        path.conversion = conversion(&row, study, known, found);
    }
    let by_year = inflation.as_ref().is_some_and(|name| {
        paths.iter().any(|p| p.about.name == *name)
            || inputs.iter().any(|i| i.about.name == *name && i.ty.shape.has_years())
    });
    for input in inputs.iter_mut() {
        // A rate stays one where the inflation is one; an amount differs by year.
        let rate = matches!(input.conversion, Some(Conversion::RealRate | Conversion::NominalRate));
        if input.conversion.is_some() && (by_year || !rate) {
            input.ty.shape = input.ty.shape.join(Shape::Yearly);
        }
    }
    inflation
}

/// The input or path that `inflation` names, if it can be one.
fn inflation(study: &Study, inputs: &[Input], paths: &[Path], found: &mut Vec<Diagnostic>) -> Option<String> {
    let name = study.inflation.as_ref()?;
    let error = |what: String| Diagnostic::error("inflation", what).at(name.span.clone(), "");
    let rate = |dimension: Dimension| dimension == Dimension::RATE;
    let input = inputs.iter().find(|i| i.about.name == name.value && i.part_of.is_none());
    let path = paths.iter().find(|p| p.about.name == name.value);
    let says_money =
        study.inputs.iter().filter(|i| i.name.value == name.value).find_map(|i| i.money.as_ref());
    let says_money = says_money
        .or_else(|| study.paths.iter().filter(|p| p.name.value == name.value).find_map(|p| p.money.as_ref()));
    let wrong = match (input, path) {
        _ if says_money.is_some() => {
            error(format!("`{}` is the inflation: it is in no money of its own", name.value))
                .hint("leave its `money` out")
        }
        (Some(input), _) if matches!(input.ty.kind, Kind::Label(_)) || !rate(input.unit.dimension) => {
            error(format!("`{}` is no rate by year", name.value)).hint("an inflation has unit = \"1/yr\"")
        }
        (Some(input), _) if input.ty.shape.has_months() => {
            error(format!("`{}` has a value for each month", name.value))
                .hint("an inflation is one number, or a path")
        }
        (None, Some(path)) if !rate(path.unit.dimension) => {
            error(format!("`{}` is no rate by year", name.value)).hint("an inflation has unit = \"1/yr\"")
        }
        (Some(_), _) | (_, Some(_)) => return Some(name.value.clone()),
        (None, None) => {
            let named = Named::of(study);
            if named.is_input(&name.value) || named.is_path(&name.value) {
                // It has an error of its own.
                return Some(name.value.clone());
            }
            let what = match named.section(&name.value) {
                Some(section) => {
                    format!("`{}` is in {section}: an inflation is an input or a path", name.value)
                }
                None => format!("no input or path is called `{}`", name.value),
            };
            suggest(error(what), &name.value, named.movable(), "inputs and paths")
        }
    };
    found.push(wrong);
    None
}

/// How a row comes into the money of the study.
fn conversion(row: &Row<'_>, study: &Study, known: bool, found: &mut Vec<Diagnostic>) -> Option<Conversion> {
    let money = row.money?;
    let power = money_power(&row.dimension).filter(|_| !row.has_labels);
    let is_rate = row.dimension == Dimension::RATE && !row.has_labels;
    if power.is_none() && !is_rate {
        let what = format!(
            "`{}` is neither an amount or price in {} nor a rate by year",
            row.name, study.currency.value
        );
        let error =
            Diagnostic::error("misplaced-key", what).at(money.span.clone(), "it has no money to speak of");
        found.push(error.hint("leave `money` out"));
        return None;
    }
    if money.value == study.prices.value {
        return None;
    }
    if !known {
        let which = if money.value == Prices::Nominal { "nominal" } else { "real" };
        if study.inflation.is_none() && study.prices.value == Prices::Real {
            let what = format!("`{}` is {which}, and the study has no inflation to convert it by", row.name);
            let error = Diagnostic::error("inflation-missing", what).at(money.span.clone(), "");
            found.push(
                error.hint("add inflation = \"NAME\", an input or path in 1/yr, above the first section"),
            );
        }
        return None;
    }
    let to_real = study.prices.value == Prices::Real;
    Some(match (is_rate, to_real, power) {
        (true, true, _) => Conversion::RealRate,
        (true, false, _) => Conversion::NominalRate,
        (false, true, Some(1)) | (false, false, Some(-1)) => Conversion::ByLevel,
        (false, ..) => Conversion::TimesLevel,
    })
}

/// In a study of nominal prices every amount and price must say which money it is in: those that do not.
fn unsaid(study: &Study, inputs: &[Input], paths: &[Path], found: &mut Vec<Diagnostic>) {
    if study.prices.value != Prices::Nominal {
        return;
    }
    let holds_money = |dimension: &Dimension| dimension.exponent(Base::Money).numerator() != 0;
    let of_inputs =
        study.inputs.iter().filter(|i| i.money.is_none()).map(|i| &i.name).filter(|name| {
            inputs.iter().any(|i| i.about.name == name.value && holds_money(&i.unit.dimension))
        });
    let of_paths =
        study.paths.iter().filter(|p| p.money.is_none()).map(|p| &p.name).filter(|name| {
            paths.iter().any(|p| p.about.name == name.value && holds_money(&p.unit.dimension))
        });
    let silent: Vec<&Spanned<String>> = of_inputs.chain(of_paths).collect();
    let names: Vec<String> = silent.iter().take(FEW).map(|name| format!("`{}`", name.value)).collect();
    let more = silent.len().saturating_sub(FEW);
    let Some(first) = silent.first() else { return };
    let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
    let what =
        format!("in a study of nominal prices every amount must say its money: {}{rest}", names.join(", "));
    let mut error = Diagnostic::error("money-unsaid", what).at(first.span.clone(), "");
    for name in silent.iter().skip(1).take(FEW) {
        error = error.also(name.span.clone(), "");
    }
    found.push(error.hint(
        "add money = \"nominal\" (of each year) or money = \"real\" (of the start of the first year) to each",
    ));
}

/// In a study of nominal prices the rate by which a formula discounts must say its money too.
pub(super) fn check_rates(
    study: &Study,
    inputs: &[Input],
    workings: &[Working],
    found: &mut Vec<Diagnostic>,
) {
    if study.prices.value != Prices::Nominal {
        return;
    }
    let mut told = BTreeSet::new();
    for working in workings {
        for rate in rates_of(&working.formula) {
            let mut names = BTreeSet::new();
            read(rate, workings, &mut names);
            if names.is_empty() {
                let what = "a rate that stands in a formula cannot say its money";
                let error = Diagnostic::error("money-unsaid", what).at(rate.span.clone(), "");
                found.push(
                    error.hint("make it an input in 1/yr with money = \"nominal\" or money = \"real\""),
                );
            }
            for name in names {
                let silent = study.inputs.iter().find(|i| i.name.value == name && i.money.is_none());
                let silent = silent.map(|i| &i.name).or_else(|| {
                    let path = study.paths.iter().find(|p| p.name.value == name && p.money.is_none());
                    path.map(|p| &p.name)
                });
                let is_inflation = study.inflation.as_ref().is_some_and(|i| i.value == name);
                let is_rate = |dimension: Dimension| dimension == Dimension::RATE;
                let input = inputs.iter().find(|i| i.about.name == name);
                let counts = input.is_none_or(|i| is_rate(i.unit.dimension));
                let Some(silent) = silent.filter(|_| !is_inflation && counts) else { continue };
                if told.insert(name.clone()) {
                    let what = format!("`{name}` discounts nominal money and does not say its own");
                    let error = Diagnostic::error("money-unsaid", what)
                        .at(silent.span.clone(), "")
                        .also(rate.span.clone(), "discounts here");
                    found.push(
                        error.hint("add money = \"nominal\", or money = \"real\" to have it converted"),
                    );
                }
            }
        }
    }
}

/// Says where amounts are discounted to the middle of a year and stand in the prices of its end.
pub(super) fn check_timing(study: &Study, workings: &[Working], found: &mut Vec<Diagnostic>) {
    if study.inflation.is_none() {
        return;
    }
    for working in workings {
        for tree in calls_of(&working.formula) {
            let TypedNode::Call { function, args } = &tree.node else { continue };
            let timing = args.get(3).filter(|_| function.op == FunctionOp::Npv);
            let Some(timing) = timing.filter(|t| matches!(t.node, TypedNode::Constant(x) if x == 1.0)) else {
                continue;
            };
            let what = "amounts are converted with the prices at the end of their year, half a year later";
            let caution = Diagnostic::caution("mid-year-money", what).at(timing.span.clone(), "");
            found.push(caution.hint(
                "real and nominal money then give present values that differ by half a year's inflation; \"year end\" ones agree",
            ));
        }
    }
}

/// First arguments of the functions that discount.
fn rates_of(formula: &Typed) -> Vec<&Typed> {
    let rate = |tree: &'_ Typed| match &tree.node {
        TypedNode::Call { function, .. } => {
            matches!(function.op, FunctionOp::Npv | FunctionOp::DiscountedPayback | FunctionOp::Annuity)
        }
        _ => false,
    };
    let discounting = calls_of(formula).into_iter().filter(|tree| rate(tree));
    discounting
        .filter_map(|tree| match &tree.node {
            TypedNode::Call { args, .. } => args.first(),
            _ => None,
        })
        .collect()
}

/// Every call in a formula.
fn calls_of(formula: &Typed) -> Vec<&Typed> {
    let mut found = Vec::new();
    let mut open = vec![formula];
    while let Some(tree) = open.pop() {
        match &tree.node {
            TypedNode::Constant(_) | TypedNode::Name(_) => {}
            TypedNode::Unary(_, a) => open.push(a),
            TypedNode::Binary(_, a, b) => open.extend([&**a, &**b]),
            TypedNode::Call { args, .. } => {
                found.push(tree);
                open.extend(args);
            }
        }
    }
    found
}

/// Inputs and paths that a formula reads, through workings too.
fn read(formula: &Typed, workings: &[Working], names: &mut BTreeSet<String>) {
    let mut seen = BTreeSet::new();
    let mut open = vec![formula];
    while let Some(tree) = open.pop() {
        match &tree.node {
            TypedNode::Constant(_) => {}
            TypedNode::Name(name) => match workings.iter().find(|w| w.about.name == *name) {
                Some(working) if seen.insert(name.clone()) => open.push(&working.formula),
                Some(_) => {}
                None => {
                    names.insert(name.trim_end_matches(".start").to_owned());
                }
            },
            TypedNode::Unary(_, a) => open.push(a),
            TypedNode::Binary(_, a, b) => open.extend([&**a, &**b]),
            TypedNode::Call { args, .. } => open.extend(args),
        }
    }
}
