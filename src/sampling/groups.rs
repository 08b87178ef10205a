//! Groups of linked components, and what is wrong with links.

use std::collections::BTreeMap;

use super::dependence::{Link, LinkRules, Linking, possible_range, rank_from_normal};
use super::fault::{cholesky, smallest_fault};
use super::plan::{Plan, PlanError};
use super::repair::{Repair, repaired};
use super::ties;

/// Components that are linked, ordered by name, with the factor of their matrix.
#[derive(Debug, Clone)]
pub(crate) struct Group {
    /// Indices of scalars, or of paths.
    pub(crate) members: Vec<usize>,
    /// Correlations of their normal scores.
    matrix: Vec<Vec<f64>>,
    pub(crate) lower: Vec<Vec<f64>>,
    /// For shocks: the factor of those members that have a shock in year 0.
    pub(crate) in_start_year: Vec<Vec<f64>>,
}

impl Group {
    /// Weights of the members' own scores in that of member `place`.
    pub(crate) fn row(&self, place: usize) -> &[f64] {
        self.lower.get(place).map_or(&[], Vec::as_slice)
    }

    /// The last member whose own score goes into that of member `place`.
    pub(crate) fn reach(&self, place: usize) -> usize {
        let in_start_year = self.in_start_year.get(place).map_or(&[][..], Vec::as_slice);
        let last = |row: &[f64]| row.iter().rposition(|weight| *weight != 0.0).unwrap_or(0);
        place.max(last(self.row(place))).max(last(in_start_year))
    }

    /// The members marked `fresh` (which stand behind `extra`, their own fresh scores) are drawn given the others; false
    /// where rounding leaves no factor.
    pub(crate) fn redraw(&mut self, fresh: &[bool], extra: &[usize]) -> bool {
        let n = self.members.len();
        let all: Vec<usize> = (0..n).collect();
        let Some(lower) = given_rows(&self.matrix, &self.lower, &all, fresh) else { return false };
        let early: Vec<usize> = all
            .iter()
            .copied()
            .filter(|&m| self.in_start_year.get(m).is_some_and(|row| !row.is_empty()))
            .collect();
        if !self.in_start_year.is_empty() {
            let Some(rows) = given_rows(&self.matrix, &self.in_start_year, &early, fresh) else {
                return false;
            };
            self.in_start_year = rows;
        }
        self.lower = lower;
        self.members.extend(extra);
        true
    }

    /// Factor of the members that have a shock in year 0; the others' rows stay empty.
    fn restrict(&mut self, early: &[bool]) {
        let kept: Vec<usize> = (0..self.members.len()).filter(|&k| early[k]).collect();
        let part: Vec<Vec<f64>> =
            kept.iter().map(|&r| kept.iter().map(|&c| self.matrix[r][c]).collect()).collect();
        let lower = cholesky(&part).unwrap_or_default();
        self.in_start_year = vec![Vec::new(); self.members.len()];
        for (&place, row) in kept.iter().zip(&lower) {
            let mut whole = vec![0.0; self.members.len()];
            kept.iter().zip(row).for_each(|(&other, weight)| whole[other] = *weight);
            self.in_start_year[place] = whole;
        }
    }
}

/// Weights over the members' own scores, then the fresh scores of those marked `fresh`, in the score of each of `among`:
/// kept members' rows as they are; for the fresh ones u given the kept ones v
///
/// ```text
/// z_u = R_uv R_vv^-1 z_v + C e_u    C C' = R_uu - R_uv R_vv^-1 R_vu
/// ```
///
/// with z_v in its own scores through `rows`. Both parts are read off the Cholesky factor of the matrix with v before u.
fn given_rows(
    matrix: &[Vec<f64>],
    rows: &[Vec<f64>],
    among: &[usize],
    fresh: &[bool],
) -> Option<Vec<Vec<f64>>> {
    let (anew, kept): (Vec<usize>, Vec<usize>) = among.iter().partition(|&&m| fresh[m]);
    let order: Vec<usize> = kept.iter().chain(&anew).copied().collect();
    let ordered: Vec<Vec<f64>> =
        order.iter().map(|&r| order.iter().map(|&c| matrix[r][c]).collect()).collect();
    let factor = cholesky(&ordered)?;
    let (n, count) = (rows.len(), fresh.iter().filter(|f| **f).count());
    let place = |m: usize| n + fresh[..m].iter().filter(|f| **f).count();
    let mut made = rows.to_vec();
    for (&m, row) in anew.iter().zip(&factor[kept.len()..]) {
        let mut whole = vec![0.0; n + count];
        for (weight, &v) in ties::solved_from_right(&row[..kept.len()], &factor).iter().zip(&kept) {
            whole.iter_mut().zip(&rows[v]).for_each(|(sum, own)| *sum += weight * own);
        }
        anew.iter().zip(&row[kept.len()..]).for_each(|(&u, weight)| whole[place(u)] = *weight);
        made[m] = whole;
    }
    Some(made)
}

/// What a name in a link stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    Scalar(usize),
    Shock(usize),
}

/// Links among one sort of ends: the figure of each pair (the smaller index first), and the pairs as given.
#[derive(Debug, Default)]
struct Pairs {
    figures: BTreeMap<(usize, usize), f64>,
    given: Vec<(usize, usize)>,
}

impl Pairs {
    /// Notes a pair; false when it is there with another figure.
    fn note(&mut self, a: usize, b: usize, normal: f64) -> bool {
        let pair = (a.min(b), a.max(b));
        self.given.push(pair);
        *self.figures.entry(pair).or_insert(normal) == normal
    }

    fn matrix(&self, members: &[usize]) -> Vec<Vec<f64>> {
        let entry = |a: usize, b: usize| {
            if a == b { 1.0 } else { self.figures.get(&(a.min(b), a.max(b))).copied().unwrap_or(0.0) }
        };
        members.iter().map(|&a| members.iter().map(|&b| entry(a, b)).collect()).collect()
    }
}

/// Puts the links into the plan as groups.
pub(crate) fn link(plan: &mut Plan, links: &[Link], rules: LinkRules) -> Result<(), PlanError> {
    let mut scalar = Pairs::default();
    let mut shock = Pairs::default();
    let mut ends: BTreeMap<&str, End> = BTreeMap::new();
    for link in links {
        let names = [link.a.as_str(), link.b.as_str()];
        if !(link.normal.abs() <= 1.0) {
            let message = format!("the correlation of {} and {} is {}", link.a, link.b, link.normal);
            return Err(PlanError::new(&names, message, "a correlation lies from -1 to 1"));
        }
        if link.a == link.b {
            return Err(PlanError::new(&names, format!("{} is linked to itself", link.a), "name two inputs"));
        }
        for name in names {
            if !ends.contains_key(name) {
                ends.insert(name, end(plan, name)?);
            }
        }
        let fresh = match (ends.get(link.a.as_str()), ends.get(link.b.as_str())) {
            (Some(End::Scalar(a)), Some(End::Scalar(b))) => scalar.note(*a, *b, link.normal),
            (Some(End::Shock(a)), Some(End::Shock(b))) => shock.note(*a, *b, link.normal),
            _ => {
                let message =
                    format!("{} and {} cannot be linked: one is a path's yearly shocks", link.a, link.b);
                let hint =
                    "link two paths, or two inputs; a path's start is NAME.start, its growth NAME.growth";
                return Err(PlanError::new(&names, message, hint));
            }
        };
        if !fresh {
            let message = format!("{} and {} are linked twice, with different figures", link.a, link.b);
            return Err(PlanError::new(&names, message, "keep one of them"));
        }
    }
    let mut repairs = Vec::new();
    let groups = build(&scalar, |i| plan.scalars[i].component.name.clone(), rules, &mut repairs)?;
    plan.scalar_groups = groups;
    plan.shock_groups = build(&shock, |i| plan.paths[i].name.clone(), rules, &mut repairs)?;
    plan.repairs = repairs;
    for (g, group) in plan.scalar_groups.iter().enumerate() {
        for (place, &member) in group.members.iter().enumerate() {
            plan.scalars[member].group = Some((g, place));
        }
    }
    for g in 0..plan.shock_groups.len() {
        let early: Vec<bool> =
            plan.shock_groups[g].members.iter().map(|&m| plan.paths[m].deviations.from_start).collect();
        plan.shock_groups[g].restrict(&early);
    }
    match rules.linking {
        Linking::GaussianCopula => Ok(()),
        Linking::ImanConover => ties::tie(plan),
    }
}

fn end(plan: &Plan, name: &str) -> Result<End, PlanError> {
    if let Some(i) = plan.scalars.iter().position(|s| s.component.name == name) {
        if plan.scalars[i].distribution.linkable() {
            return Ok(End::Scalar(i));
        }
        let message = format!("{name} is a list of labels, which have no order to be linked by");
        return Err(PlanError::new(&[name], message, "link numbers only, or give the labels values"));
    }
    if let Some(i) = plan.paths.iter().position(|p| p.name == name) {
        if plan.paths[i].shock.is_some() {
            return Ok(End::Shock(i));
        }
        let message = format!("{name} has no yearly shocks to be linked");
        return Err(PlanError::new(&[name], message, "give it a volatility, or link its start or growth"));
    }
    let message = format!("{name} is not uncertain, so it cannot be linked");
    Err(PlanError::new(&[name], message, "link inputs that have a distribution, or paths that have shocks"))
}

/// Connected groups of the links, each with its matrix factored.
fn build(
    pairs: &Pairs,
    name: impl Fn(usize) -> String,
    rules: LinkRules,
    repairs: &mut Vec<Repair>,
) -> Result<Vec<Group>, PlanError> {
    let mut made = Vec::new();
    for mut members in connected(pairs) {
        members.sort_by_key(|m| name(*m));
        let matrix = pairs.matrix(&members);
        let group = |matrix: Vec<Vec<f64>>| {
            let lower = cholesky(&matrix)?;
            Some(Group { members: members.clone(), matrix, lower, in_start_year: Vec::new() })
        };
        if let Some(group) = group(matrix.clone()) {
            made.push(group);
            continue;
        }
        let told = contradiction(&members, &matrix, pairs, &name);
        if !rules.repair {
            return Err(told.error());
        }
        let names: Vec<String> = members.iter().map(|&m| name(m)).collect();
        let (used, repair) = repaired(&names, &matrix, &told)?;
        repairs.push(repair);
        made.push(group(used).ok_or_else(|| told.error())?);
    }
    // By name, so that nothing depends on the order in the file.
    made.sort_by_key(|g: &Group| g.members.first().map(|m| name(*m)));
    Ok(made)
}

/// The members of each connected group, in order.
fn connected(pairs: &Pairs) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for &(a, b) in pairs.figures.keys() {
        let place = |m: usize| groups.iter().position(|g| g.contains(&m));
        match (place(a), place(b)) {
            (None, None) => groups.push(vec![a, b]),
            (Some(g), None) => groups[g].push(b),
            (None, Some(g)) => groups[g].push(a),
            (Some(g), Some(h)) if g != h => {
                let other = groups.swap_remove(g.max(h));
                groups[g.min(h)].extend(other);
            }
            _ => {}
        }
    }
    groups.iter_mut().for_each(|g| g.sort_unstable());
    groups
}

/// Which names contradict each other, and what is left for a pair of them.
#[derive(Debug)]
pub(crate) struct Contradiction {
    pub(crate) names: Vec<String>,
    pub(crate) hint: String,
}

impl Contradiction {
    pub(crate) fn error(&self) -> PlanError {
        let refs: Vec<&str> = self.names.iter().map(String::as_str).collect();
        let message = format!("the correlations of {} contradict each other", and_list(&refs));
        PlanError::new(&refs, message, self.hint.clone())
    }
}

/// Pairs for which a possible range is looked for.
const MOST_CANDIDATES: usize = 20;

fn contradiction(
    members: &[usize],
    matrix: &[Vec<f64>],
    pairs: &Pairs,
    name: &impl Fn(usize) -> String,
) -> Contradiction {
    let rows = smallest_fault(matrix);
    let names: Vec<String> = rows.iter().map(|&r| name(members[r])).collect();
    let part: Vec<Vec<f64>> = rows.iter().map(|&r| rows.iter().map(|&c| matrix[r][c]).collect()).collect();
    let mut order: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for (at, pair) in pairs.given.iter().enumerate() {
        order.entry(*pair).or_insert(at);
    }
    // A pair that is not given was taken as 0: that is what to mend first, else the last one given.
    let given = |i: usize, j: usize| {
        let (a, b) = (members[rows[i]], members[rows[j]]);
        order.get(&(a.min(b), a.max(b))).copied()
    };
    let all = (0..rows.len()).flat_map(|i| (i + 1..rows.len()).map(move |j| (i, j)));
    let mut candidates: Vec<(Option<usize>, usize, usize)> = all.map(|(i, j)| (given(i, j), i, j)).collect();
    candidates.sort_by_key(|(at, _, _)| at.map_or(i64::MIN, |a| -(a as i64)));
    let hint = candidates.iter().take(MOST_CANDIDATES).find_map(|(at, i, j)| {
        let (low, high) = possible_range(&part, *i, *j)?;
        let what = if at.is_some() { "with the others as they are" } else { "(not given, so taken as 0)" };
        let (low, high) = (rank_from_normal(low), rank_from_normal(high));
        Some(format!(
            "the rank correlation of {} and {} {what} must lie from {low:.4} to {high:.4}",
            names[*i], names[*j]
        ))
    });
    Contradiction { names, hint: hint.unwrap_or_else(|| "weaken some of them".to_owned()) }
}

/// Most names that a message lists.
const MOST_LISTED: usize = 10;

fn and_list(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [shown @ .., _] if shown.len() >= MOST_LISTED => {
            let more = names.len() - MOST_LISTED;
            format!("{} and {more} others", shown[..MOST_LISTED].join(", "))
        }
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
