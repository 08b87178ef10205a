//! Groups of linked components, and what is wrong with links.

use super::dependence::{Link, cholesky, possible_range, rank_from_normal, smallest_fault};
use super::plan::{Plan, PlanError};

/// Components that are linked, ordered by name, with the factor of their matrix.
#[derive(Debug, Clone)]
pub(crate) struct Group {
    /// Indices of scalars, or of paths.
    pub(crate) members: Vec<usize>,
    lower: Vec<Vec<f64>>,
    /// For shocks: the factor of those members that have a shock in year 0.
    pub(crate) in_start_year: Vec<Vec<f64>>,
}

impl Group {
    /// Weights of the members' own scores in that of member `place`.
    pub(crate) fn row(&self, place: usize) -> &[f64] {
        self.lower.get(place).map_or(&[], Vec::as_slice)
    }
}

/// What a name in a link stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    Scalar(usize),
    Shock(usize),
}

/// Puts the links into the plan as groups.
pub(crate) fn link(plan: &mut Plan, links: &[Link]) -> Result<(), PlanError> {
    let mut scalar: Vec<(usize, usize, f64)> = Vec::new();
    let mut shock: Vec<(usize, usize, f64)> = Vec::new();
    for link in links {
        let names = [link.a.as_str(), link.b.as_str()];
        if !(link.normal.abs() <= 1.0) {
            let message = format!("the correlation of {} and {} is {}", link.a, link.b, link.normal);
            return Err(PlanError::new(&names, message, "a correlation lies from -1 to 1"));
        }
        if link.a == link.b {
            return Err(PlanError::new(&names, format!("{} is linked to itself", link.a), "name two inputs"));
        }
        let pair = match (end(plan, &link.a)?, end(plan, &link.b)?) {
            (End::Scalar(a), End::Scalar(b)) => (&mut scalar, a, b),
            (End::Shock(a), End::Shock(b)) => (&mut shock, a, b),
            _ => {
                let message =
                    format!("{} and {} cannot be linked: one is a path's yearly shocks", link.a, link.b);
                let hint =
                    "link two paths, or two inputs; a path's start is NAME.start, its growth NAME.growth";
                return Err(PlanError::new(&names, message, hint));
            }
        };
        let (list, a, b) = pair;
        if list.iter().any(|(p, q, r)| ((*p, *q) == (a, b) || (*p, *q) == (b, a)) && *r != link.normal) {
            let message = format!("{} and {} are linked twice, with different figures", link.a, link.b);
            return Err(PlanError::new(&names, message, "keep one of them"));
        }
        list.push((a, b, link.normal));
    }
    let scalar_name = |plan: &Plan, i: usize| plan.scalars[i].component.name.clone();
    plan.scalar_groups = build(&scalar, |i| scalar_name(plan, i))?;
    plan.shock_groups = build(&shock, |i| plan.paths[i].name.clone())?;
    for (g, group) in plan.scalar_groups.iter().enumerate() {
        for (place, &member) in group.members.iter().enumerate() {
            plan.scalars[member].group = Some((g, place));
        }
    }
    for g in 0..plan.shock_groups.len() {
        let early: Vec<bool> =
            plan.shock_groups[g].members.iter().map(|&m| plan.paths[m].deviations.from_start).collect();
        plan.shock_groups[g].restrict(&shock, &early);
    }
    Ok(())
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
fn build(links: &[(usize, usize, f64)], name: impl Fn(usize) -> String) -> Result<Vec<Group>, PlanError> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for &(a, b, _) in links {
        let mut joined = vec![a, b];
        groups.retain(|g| {
            let touches = g.contains(&a) || g.contains(&b);
            if touches {
                joined.extend(g);
            }
            !touches
        });
        joined.sort_unstable();
        joined.dedup();
        groups.push(joined);
    }
    let mut made = Vec::with_capacity(groups.len());
    for mut members in groups {
        members.sort_by_key(|m| name(*m));
        let matrix = matrix(&members, links);
        match cholesky(&matrix) {
            Some(lower) => made.push(Group { members, lower, in_start_year: Vec::new() }),
            None => return Err(contradiction(&members, &matrix, links, &name)),
        }
    }
    // By name, so that nothing depends on the order in the file.
    made.sort_by_key(|g: &Group| g.members.first().map(|m| name(*m)));
    Ok(made)
}

fn matrix(members: &[usize], links: &[(usize, usize, f64)]) -> Vec<Vec<f64>> {
    let entry = |a: usize, b: usize| {
        let given = links.iter().find(|(p, q, _)| (*p, *q) == (a, b) || (*p, *q) == (b, a));
        if a == b { 1.0 } else { given.map_or(0.0, |(_, _, r)| *r) }
    };
    members.iter().map(|&a| members.iter().map(|&b| entry(a, b)).collect()).collect()
}

impl Group {
    /// Factor of the members that have a shock in year 0; the others' rows stay empty.
    fn restrict(&mut self, links: &[(usize, usize, f64)], early: &[bool]) {
        let members: Vec<usize> =
            self.members.iter().zip(early).filter(|(_, e)| **e).map(|(m, _)| *m).collect();
        let lower = cholesky(&matrix(&members, links)).unwrap_or_default();
        let place = |m: &usize| members.iter().position(|x| x == m);
        self.in_start_year = self
            .members
            .iter()
            .map(|m| {
                let Some(row) = place(m).and_then(|i| lower.get(i)) else { return Vec::new() };
                self.members
                    .iter()
                    .map(|o| place(o).and_then(|j| row.get(j)).copied().unwrap_or(0.0))
                    .collect()
            })
            .collect();
    }
}

/// Says which inputs contradict each other and what is left for a pair of them.
fn contradiction(
    members: &[usize],
    matrix: &[Vec<f64>],
    links: &[(usize, usize, f64)],
    name: &impl Fn(usize) -> String,
) -> PlanError {
    let rows = smallest_fault(matrix);
    let names: Vec<String> = rows.iter().map(|&r| name(members[r])).collect();
    let refs: Vec<&str> = names.iter().map(String::as_str).collect();
    let message = format!("the correlations of {} contradict each other", and_list(&refs));
    let part: Vec<Vec<f64>> = rows.iter().map(|&r| rows.iter().map(|&c| matrix[r][c]).collect()).collect();
    // A pair that is not given was taken as 0: that is what to mend first, else the last one given.
    let given = |i: usize, j: usize| {
        let (a, b) = (members[rows[i]], members[rows[j]]);
        links.iter().position(|(p, q, _)| (*p, *q) == (a, b) || (*p, *q) == (b, a))
    };
    let pairs = (0..rows.len()).flat_map(|i| (i + 1..rows.len()).map(move |j| (i, j)));
    let mut candidates: Vec<(Option<usize>, usize, usize)> =
        pairs.map(|(i, j)| (given(i, j), i, j)).collect();
    candidates.sort_by_key(|(at, _, _)| at.map_or(i64::MIN, |a| -(a as i64)));
    let hint = candidates.iter().find_map(|(at, i, j)| {
        let (low, high) = possible_range(&part, *i, *j)?;
        let what = if at.is_some() { "with the others as they are" } else { "(not given, so taken as 0)" };
        let (low, high) = (rank_from_normal(low), rank_from_normal(high));
        Some(format!(
            "the rank correlation of {} and {} {what} must lie from {low:.4} to {high:.4}",
            names[*i], names[*j]
        ))
    });
    PlanError::new(&refs, message, hint.unwrap_or_else(|| "weaken some of them".to_owned()))
}

fn and_list(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
