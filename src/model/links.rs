//! Links between inputs and the yearly shocks of paths.

use std::collections::BTreeMap;

use crate::diagnostic::suggestion::nearest;
use crate::diagnostic::{Diagnostic, Span, Spanned};
use crate::model::names::{Named, suggest};
use crate::model::{Input, InputValue, LinkItem, Model, Path};
use crate::sampling::dependence::{normal_from_rank, rank_from_normal};
use crate::sampling::dimensions::component_of;
use crate::sampling::repair::CAUTION_FROM;
use crate::sampling::{PlanError, Quantity, Repair};
use crate::study::{Correlation, Strength, Study};

/// Most names in all correlations together: the pairs grow with the square, and the search for a contradiction faster.
const MOST_LINKED: usize = 200;

/// The links of a study, each pair once.
pub(super) fn check(
    study: &Study,
    inputs: &[Input],
    paths: &[Path],
    found: &mut Vec<Diagnostic>,
) -> Vec<LinkItem> {
    let mut links: Vec<LinkItem> = Vec::new();
    let mut places: BTreeMap<(String, String), Span> = BTreeMap::new();
    let linked: usize = study.correlations.iter().map(|c| c.between.len()).sum();
    if linked > MOST_LINKED {
        let mut error = Diagnostic::error(
            "too-many",
            format!("correlations name {linked} inputs and paths; at most {MOST_LINKED} can be linked"),
        );
        if let Some(first) = study.correlations.first() {
            error = error.at(first.span.clone(), "");
        }
        found.push(error.hint("link only those that matter to the answer"));
        return Vec::new();
    }
    for correlation in &study.correlations {
        let before = found.len();
        for name in &correlation.between {
            not_linkable(name, study, inputs, paths, found);
        }
        if found.len() == before {
            add_pairs(correlation, &mut links, &mut places, found);
        }
    }
    links
}

fn add_pairs(
    correlation: &Correlation,
    links: &mut Vec<LinkItem>,
    places: &mut BTreeMap<(String, String), Span>,
    found: &mut Vec<Diagnostic>,
) {
    let (rank, normal) = match &correlation.strength {
        Strength::Rank(rank) => (rank.value, normal_from_rank(rank.value)),
        Strength::Normal(normal) => (rank_from_normal(normal.value), normal.value),
    };
    for (k, a) in correlation.between.iter().enumerate() {
        for b in &correlation.between[k + 1..] {
            let pair = if a.value < b.value { (a, b) } else { (b, a) };
            let pair = (pair.0.value.clone(), pair.1.value.clone());
            if let Some(first) = places.get(&pair) {
                found.push(
                    Diagnostic::error(
                        "link-twice",
                        format!("the link between `{}` and `{}` is given twice", a.value, b.value),
                    )
                    .at(a.span.start..b.span.end, "again here")
                    .also(first.clone(), "first here")
                    .hint("keep one of them"),
                );
                return;
            }
            places.insert(pair, a.span.start..b.span.end);
            links.push(LinkItem { first: a.value.clone(), second: b.value.clone(), rank, normal });
        }
    }
}

/// Says why `name` cannot be linked, if it cannot.
fn not_linkable(
    name: &Spanned<String>,
    study: &Study,
    inputs: &[Input],
    paths: &[Path],
    found: &mut Vec<Diagnostic>,
) {
    let error = |what: String| Diagnostic::error("link-name", what).at(name.span.clone(), "");
    let not_drawn = || error(format!("`{}` is not drawn, so nothing can go along with it", name.value));
    let whole = name.value.as_str();
    let (head, part) = whole.split_once('.').map_or((whole, None), |(head, part)| (head, Some(part)));
    if let Some(input) = inputs.iter().find(|i| i.about.name == whole) {
        found.extend(match &input.value {
            InputValue::Drawn(d) if d.linkable() => None,
            // The link is of the scores.
            InputValue::Given(_) => None,
            InputValue::Drawn(_) => Some(
                error(format!("`{whole}` is a list of labels, which have no order"))
                    .hint("link inputs that are numbers"),
            ),
            InputValue::Choice(_) => Some(
                error(format!("`{whole}` is a choice, which is not drawn"))
                    .hint("a choice is answered for each value by itself: take it out of the link"),
            ),
            InputValue::Known => Some(not_drawn().hint("give it a distribution, or take it out of the link")),
        });
        return;
    }
    if let Some(path) = paths.iter().find(|p| p.about.name == head) {
        let shocks = path.spec.process.deviations().s > 0.0;
        let drawn = |q: &Quantity| matches!(q, Quantity::Uncertain(_));
        found.extend(match part {
            None if shocks => None,
            None => Some(
                error(format!("`{head}` has no yearly shocks to link"))
                    .hint(format!("`{head}.start` names its start; shocks need a volatility")),
            ),
            Some("start") if drawn(&path.spec.start) => None,
            Some("growth") if drawn(&path.spec.growth) => None,
            Some("start" | "growth") => {
                Some(not_drawn().hint("give it a distribution, or take it out of the link"))
            }
            Some(_) => Some(error(format!("no part of a path is called `{whole}`")).hint(format!(
                "`{head}` stands for its yearly shocks, `{head}.start` and `{head}.growth` for those"
            ))),
        });
        return;
    }
    // What is there and has an error of its own is not told again.
    let named = Named::of(study);
    if named.is_input(whole) || named.is_path(head) {
        return;
    }
    let what = match named.section(whole) {
        Some(section) => format!("`{whole}` is in {section}: only inputs and paths are linked"),
        None => format!("no input or path is called `{whole}`"),
    };
    found.push(suggest(error(what), whole, named.movable(), "inputs and paths"));
}

/// Whether the draws can be made as the study asks: links that can all hold, dimensions that exist.
pub(super) fn check_plan(study: &Study, model: &Model, found: &mut Vec<Diagnostic>) {
    let plan = match model.plan_pinned(model.design(), &[]) {
        Ok(plan) => plan,
        Err(error) => {
            found.push(plan_error(study, error));
            return;
        }
    };
    found.extend(plan.repairs().iter().filter_map(|repair| repaired(study, repair)));
    if let Some(pinned) = &study.sampling.dimensions {
        let components: Vec<&str> = plan.dimensions().iter().map(|line| component_of(line)).collect();
        check_pinned(pinned, &components, found);
    }
}

/// A repair that changes a correlation by so much that the reader should know.
fn repaired(study: &Study, repair: &Repair) -> Option<Diagnostic> {
    if repair.largest_change <= CAUTION_FROM {
        return None;
    }
    let (i, j) = repair.at;
    let what = format!(
        "the correlations contradict each other and are repaired: that of {} and {} goes from {:.3} to {:.3}",
        repair.names.get(i)?,
        repair.names.get(j)?,
        repair.given.get(i)?.get(j)?,
        repair.used.get(i)?.get(j)?
    );
    let caution = Diagnostic::caution("links-repaired", what);
    let place = study.sampling.repair.as_ref().map(|r| r.span.clone())?;
    Some(caution.at(place, "").hint("links_repaired.csv shows each pair as given and as used"))
}

fn plan_error(study: &Study, error: PlanError) -> Diagnostic {
    let linked = |c: &&Correlation| c.between.iter().filter(|n| error.names.contains(&n.value)).count() >= 2;
    let strength = |c: &Correlation| match &c.strength {
        Strength::Rank(x) | Strength::Normal(x) => x.span.clone(),
    };
    let mut places = study.correlations.iter().filter(linked).map(strength);
    let path = study.paths.iter().find(|p| error.names.contains(&p.name.value)).map(|p| p.name.span.clone());
    let first = places.next();
    let id = if first.is_some() { "links-contradict" } else { "draws" };
    // What is said of no name is said of the way of linking.
    let path =
        path.or(study.sampling.linking.as_ref().filter(|_| error.names.is_empty()).map(|l| l.span.clone()));
    let mut told = Diagnostic::error(id, error.message);
    if let Some(first) = first.or(path) {
        told = told.at(first, "");
    }
    for place in places {
        told = told.also(place, "");
    }
    if error.hint.is_empty() { told } else { told.hint(error.hint) }
}

/// A pinned name that names nothing is kept, so that the others keep their dimensions when an input is deleted; but
/// where it looks like a slip of a name that is not pinned, it is one.
fn check_pinned(pinned: &[Spanned<String>], components: &[&str], found: &mut Vec<Diagnostic>) {
    let lines: Vec<&str> = pinned.iter().map(|line| component_of(&line.value)).collect();
    let missing: Vec<&str> = components.iter().copied().filter(|c| !lines.contains(c)).collect();
    for (line, name) in pinned.iter().zip(&lines).filter(|(_, name)| !components.contains(name)) {
        let what = format!("the pinned dimension `{name}` names nothing that is drawn");
        found.push(match nearest(name, missing.iter().copied()) {
            Some(near) => Diagnostic::error("dimension-unknown", what)
                .at(line.span.clone(), "")
                .hint(format!("did you mean `{near}`?")),
            None => Diagnostic::caution("dimension-unused", what)
                .at(line.span.clone(), "")
                .hint("it is kept so that the dimensions after it stay as they are"),
        });
    }
}
