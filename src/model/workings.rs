//! Formulas of workings and results: parsed, put in order, checked.

use std::collections::BTreeSet;

use crate::diagnostic::{Diagnostic, Spanned};
use crate::formula::ast::{BinaryOp, Expr, Node, UnaryOp};
use crate::formula::functions::{self, FunctionOp};
use crate::formula::types::{Kind, Shape, Type};
use crate::formula::{self, Names, clock_type};
use crate::hotwater::outputs::Output;
use crate::model::homes::output_name;
use crate::model::names::KnownNames;
use crate::model::order::{self, Group, Reads};
use crate::model::{About, Working};
use crate::study;
use crate::units::{Unit, UnitTable};

/// The workings of a study, checked, with the groups in which they are computed. Names in `broken` have an error of
/// their own: what reads them is left alone.
///
/// Simulated homes come into the order as well, each after the workings that are its settings: their numbers follow
/// those of the workings.
pub(super) fn check(
    defs: &[&study::Working],
    homes: &[HomeReads],
    names: &mut KnownNames,
    mut broken: BTreeSet<String>,
    units: &UnitTable,
    found: &mut Vec<Diagnostic>,
) -> Option<(Vec<Working>, Vec<Group>)> {
    let trees: Vec<Option<Expr>> = defs
        .iter()
        .map(|def| {
            let (tree, errors) = formula::parse(&def.formula.value, def.formula.span.start);
            // The tree of a broken formula is half a guess: checking it would find what nobody wrote.
            let sound = errors.is_empty();
            found.extend(errors);
            tree.filter(|_| sound)
        })
        .collect();
    let declared: Vec<Option<Unit>> =
        defs.iter().map(|def| unit_of(def.unit.as_ref(), units, found)).collect();
    let groups = match order::groups(&reads(defs, homes, &trees)) {
        Ok(groups) => groups,
        Err(cycle) => {
            found.push(cycle_error(defs, homes, &cycle));
            return None;
        }
    };
    if let Some(error) = groups.iter().find_map(|group| home_by_year(defs, homes, group)) {
        found.push(error);
        return None;
    }
    let mut checked: Vec<Option<Working>> = defs.iter().map(|_| None).collect();
    for group in &groups {
        if let Some(home) = group.members.first().and_then(|k| homes.get(k.checked_sub(defs.len())?)) {
            // What reads a home with a broken setting would only repeat its error.
            if home.settings.iter().any(|&k| broken.contains(&defs[k].name.value)) {
                broken.extend(Output::ALL.iter().map(|&output| output_name(&home.name.value, output)));
            }
            continue;
        }
        expect_types(defs, &trees, &declared, group, names);
        for &k in &group.members {
            let made = trees[k].as_ref().and_then(|tree| {
                check_one(defs[k], tree, declared[k].as_ref(), names, units, &mut broken, found)
            });
            match made {
                Some(working) => {
                    names.types.insert(defs[k].name.value.clone(), working.formula.ty.clone());
                    checked[k] = Some(working);
                }
                None => {
                    broken.insert(defs[k].name.value.clone());
                }
            }
        }
    }
    let workings: Vec<Working> = checked.into_iter().collect::<Option<_>>()?;
    Some((workings, groups))
}

/// The unit written, or that of plain numbers.
pub(super) fn unit_of(
    written: Option<&Spanned<String>>,
    units: &UnitTable,
    found: &mut Vec<Diagnostic>,
) -> Option<Unit> {
    let Some(text) = written else { return Some(Unit::plain()) };
    match units.parse(&text.value) {
        Ok(unit) => Some(unit),
        Err(error) => {
            found.push(error.diagnostic(inside_quotes(text)));
            None
        }
    }
}

/// Where the text of a quoted value begins.
pub(super) fn inside_quotes(text: &Spanned<String>) -> usize {
    let spare = (text.span.end - text.span.start).saturating_sub(text.value.len());
    text.span.start + spare / 2
}

/// A simulated home as the order of workings sees it.
pub(super) struct HomeReads {
    /// Its name.
    pub(super) name: Spanned<String>,
    /// Workings that are its settings.
    pub(super) settings: Vec<usize>,
}

fn reads(defs: &[&study::Working], homes: &[HomeReads], trees: &[Option<Expr>]) -> Vec<Reads> {
    let by_name: std::collections::BTreeMap<&str, usize> =
        defs.iter().enumerate().map(|(k, def)| (def.name.value.as_str(), k)).collect();
    let home_of = |name: &str| {
        let (home, output) = name.split_once('.')?;
        let at = homes.iter().position(|h| h.name.value == home)?;
        Output::of_key(output).map(|_| defs.len() + at)
    };
    let of_homes = homes.iter().map(|h| Reads { now: h.settings.clone(), last_year: Vec::new() });
    let of_trees = trees.iter().map(|tree| {
        let mut reads = Reads::default();
        for reference in tree.iter().flat_map(formula::references) {
            let name = reference.name.as_str();
            if let Some(k) = home_of(name).or_else(|| by_name.get(name).copied()) {
                let list = if reference.last_year { &mut reads.last_year } else { &mut reads.now };
                if !list.contains(&k) {
                    list.push(k);
                }
            }
        }
        reads
    });
    of_trees.chain(of_homes).collect()
}

/// A home whose settings hang on its own outputs of the year before: it has but one year.
fn home_by_year(defs: &[&study::Working], homes: &[HomeReads], group: &Group) -> Option<Diagnostic> {
    let home = group.members.iter().find_map(|k| homes.get(k.checked_sub(defs.len())?));
    let home = home.filter(|_| group.by_year)?;
    let message =
        format!("settings of `hotwater.{}` read its own outputs of the year before", home.name.value);
    let error = Diagnostic::error("loop-shape", message).at(home.name.span.clone(), "");
    Some(error.hint(
        "one simulated year stands for all years of a run: let its outputs change by year in the workings",
    ))
}

fn cycle_error(defs: &[&study::Working], homes: &[HomeReads], cycle: &[usize]) -> Diagnostic {
    let named = |k: usize| match homes.get(k.wrapping_sub(defs.len())) {
        Some(home) => (home.name.value.as_str(), home.name.span.clone()),
        None => (defs[k].name.value.as_str(), defs[k].formula.span.clone()),
    };
    let mut chain: Vec<&str> = cycle.iter().map(|&k| named(k).0).collect();
    chain.extend(chain.first().copied());
    let mut error = Diagnostic::error(
        "cycle",
        format!("these workings read each other in a circle: {}", chain.join(" -> ")),
    );
    let mut places = cycle.iter().map(|&k| named(k).1);
    if let Some(first) = places.next() {
        error = error.at(first, "the circle passes here");
    }
    for place in places.take(4) {
        error = error.also(place, "and here");
    }
    error.hint("`previous(x, start)` reads last year's value: the only way to refer back")
}

/// Workings that read their own last year have values by year: yes or no where the form of their formula says so, else
/// numbers in their declared unit.
fn expect_types(
    defs: &[&study::Working],
    trees: &[Option<Expr>],
    declared: &[Option<Unit>],
    group: &Group,
    names: &mut KnownNames,
) {
    if !group.by_year {
        return;
    }
    // A name that only repeats another of the group has its kind, known a round later.
    let mut open = group.members.clone();
    let mut n_open = usize::MAX;
    while open.len() < n_open {
        n_open = open.len();
        open.retain(|&k| {
            let yes_no = trees[k].as_ref().and_then(|tree| is_yes_no(tree, names));
            let Some(yes_no) = yes_no else { return true };
            let kind = if yes_no { Kind::YesNo } else { number_in(declared[k].as_ref()) };
            names.types.insert(defs[k].name.value.clone(), Type { kind, shape: Shape::Yearly });
            false
        });
    }
    for k in open {
        let kind = number_in(declared[k].as_ref());
        names.types.insert(defs[k].name.value.clone(), Type { kind, shape: Shape::Yearly });
    }
}

fn number_in(unit: Option<&Unit>) -> Kind {
    let plain = Unit::plain();
    let unit = unit.unwrap_or(&plain);
    Kind::Number { dimension: unit.dimension, point: unit.point }
}

/// Whether a formula gives yes or no, as far as its form tells; none where it hangs on a name that is not known yet.
fn is_yes_no(expr: &Expr, names: &KnownNames) -> Option<bool> {
    use BinaryOp as B;
    match &expr.node {
        Node::YesNo(_) | Node::Unary(UnaryOp::Not, _) => Some(true),
        Node::Binary(op, ..) => {
            Some(!matches!(op, B::Add | B::Subtract | B::Multiply | B::Divide | B::Power))
        }
        Node::Name(name) => match clock_type(name) {
            Some(_) => Some(false),
            None => names.type_of(name).map(|ty| ty.kind == Kind::YesNo),
        },
        Node::Call { function, args, .. } => match (functions::find(function).map(|f| f.op), args.as_slice())
        {
            (Some(FunctionOp::IsNever | FunctionOp::PaysBack), _) => Some(true),
            (Some(FunctionOp::If), [_, a, b]) | (Some(FunctionOp::Previous), [b, a]) => {
                is_yes_no(a, names).or_else(|| is_yes_no(b, names))
            }
            _ => Some(false),
        },
        Node::Number { .. } | Node::Label(_) | Node::Unary(UnaryOp::Negate, _) => Some(false),
    }
}

fn check_one(
    def: &study::Working,
    tree: &Expr,
    declared: Option<&Unit>,
    names: &mut KnownNames,
    units: &UnitTable,
    broken: &mut BTreeSet<String>,
    found: &mut Vec<Diagnostic>,
) -> Option<Working> {
    // What reads a broken working would only repeat its error.
    if formula::references(tree).iter().any(|r| broken.contains(&r.name)) {
        return None;
    }
    let typed = formula::check(tree, names, units, found)?;
    let declared = declared?;
    let span = def.unit.as_ref().map_or(&def.name.span, |unit| &unit.span);
    let before = found.len();
    formula::check_declared(&typed, def.unit.as_ref().map(|_| declared), span, units, found);
    if found.len() > before {
        // A setting of a simulated home has no unit of its own to declare.
        if let (true, Some(unit)) = (def.name.value.contains('.'), &def.unit) {
            for error in &mut found[before..] {
                error.hints = vec![setting_hint(&def.name.value, &unit.value)];
            }
        }
        return None;
    }
    if let Some(expected) = names.types.get(&def.name.value)
        && expected.shape != typed.ty.shape
    {
        found.push(shape_of_loop(def));
        return None;
    }
    Some(Working {
        about: about(&def.name, &def.about),
        unit: if typed.ty.kind == Kind::Years { years_unit(units, declared) } else { declared.clone() },
        text: def.formula.value.clone(),
        span: def.formula.span.clone(),
        formula: typed,
    })
}

fn setting_hint(name: &str, unit: &str) -> String {
    match unit {
        "1" => format!("`{name}` is a plain number; of yes or no make one with if(condition, 1, 0)"),
        unit => format!(
            "`{name}` is in {unit}: give the formula that unit; a number without quotes has it already"
        ),
    }
}

fn shape_of_loop(def: &study::Working) -> Diagnostic {
    let name = &def.name.value;
    Diagnostic::error(
        "loop-shape",
        format!("`{name}` reads its own last year, so it must have one value a year"),
    )
    .at(def.formula.span.clone(), "this is not by year")
    .hint("reduce months with `sum_months` or `mean_months`")
}

/// Years are shown in years whatever is declared.
fn years_unit(units: &UnitTable, declared: &Unit) -> Unit {
    units.parse("yr").unwrap_or_else(|_| declared.clone())
}

/// What the reader is told; a name without a label is read with spaces.
pub(super) fn about(name: &Spanned<String>, about: &study::ForReader) -> About {
    let text = |field: &Option<Spanned<String>>| field.as_ref().map(|f| f.value.clone());
    About {
        name: name.value.clone(),
        label: text(&about.label).unwrap_or_else(|| name.value.replace('_', " ")),
        note: text(&about.note),
        source: text(&about.source),
        as_of: text(&about.as_of),
        group: text(&about.group),
        revealed_later: about.revealed_later,
        span: name.span.clone(),
    }
}
