//! Reached against asked rank correlations: of linked inputs by their draws, of linked paths by their shocks of the
//! middle year of the horizon.
//!
//! A path's shock is read off a path of the same name, process and stream that starts at 1, without growth, level or
//! changes: there ln x_t - phi ln x_(t-1) is the shock of year t times a number above 0, plus a number.

use std::collections::BTreeMap;

use crate::analysis::Link;
use crate::analysis::laid::Laid;
use crate::analysis::statistics::ranks::average_ranks;
use crate::engine::run::{Control, Stopped};
use crate::model::Model;
use crate::sampling::maths::ln;
use crate::sampling::{self, PathSpec, Plan, Quantity, Scratch};

/// Runs that are looked at: a correlation is known to 0.01 by them.
const MOST_RUNS: u64 = 16_384;

/// Runs drawn at once.
const BLOCK: usize = 256;

/// Each link with what the first runs reach.
///
/// # Errors
/// When stopped through `control`.
pub(super) fn links(laid: &Laid<'_>, epoch: u64, control: &Control) -> Result<Vec<Link>, Stopped> {
    let model = laid.model;
    let mut ranks: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    let (paths, inputs): (Vec<&str>, Vec<&str>) = {
        let names = model.links.iter().flat_map(|link| [link.first.as_str(), link.second.as_str()]);
        names.partition(|name| model.paths.iter().any(|path| path.spec.name == *name))
    };
    let check = || control.check(epoch);
    for name in inputs {
        if let (false, Some(column)) = (ranks.contains_key(name), place(&laid.plan, name, None)) {
            let column = draw(&laid.plan, &[column], &check)?.swap_remove(0);
            ranks.insert(name, average_ranks(&column));
        }
    }
    if let Some(plan) = bare_paths(model, &laid.plan).filter(|_| !paths.is_empty()) {
        for name in paths {
            if let (false, Some(shocks)) = (ranks.contains_key(name), shocks(model, &plan, name, &check)?) {
                ranks.insert(name, average_ranks(&shocks));
            }
        }
    }
    let reached = |a: &str, b: &str| Some(correlation(ranks.get(a)?, ranks.get(b)?));
    let links = model.links.iter().filter_map(|link| {
        let reached = reached(&link.first, &link.second)?;
        Some(Link { first: link.first.clone(), second: link.second.clone(), asked: link.rank, reached })
    });
    Ok(links.collect())
}

/// The linked paths with nothing in them but their shocks, which are those of `plan` to the bit.
fn bare_paths(model: &Model, plan: &Plan) -> Option<Plan> {
    let linked = |name: &str| model.links.iter().any(|link| link.first == name || link.second == name);
    let specs = model.paths.iter().map(|path| &path.spec).filter(|spec| linked(&spec.name));
    let bare = |spec: &PathSpec| PathSpec {
        start: Quantity::Known(1.0),
        growth: Quantity::Known(0.0),
        level: None,
        changes: Vec::new(),
        ..spec.clone()
    };
    let specs: Vec<PathSpec> = specs.map(bare).collect();
    let is_path = |name: &str| specs.iter().any(|spec| spec.name == name);
    let links: Vec<sampling::Link> = model
        .links
        .iter()
        .filter(|link| is_path(&link.first) && is_path(&link.second))
        .map(|link| sampling::Link { a: link.first.clone(), b: link.second.clone(), normal: link.normal })
        .collect();
    Plan::new(&[], &specs, &links, *plan.design(), plan.dimensions()).ok()
}

/// Shocks of a path in the middle year, in a unit of their own.
fn shocks(
    model: &Model,
    plan: &Plan,
    name: &str,
    check: &impl Fn() -> Result<(), Stopped>,
) -> Result<Option<Vec<f64>>, Stopped> {
    let year = model.years / 2;
    let Some(path) = model.paths.iter().find(|path| path.spec.name == name) else { return Ok(None) };
    let phi = path.spec.process.deviations().phi;
    let course = format!("{name}.course");
    let Some(now) = place(plan, &course, Some(year)) else { return Ok(None) };
    let Some(before) = place(plan, &course, Some(year.saturating_sub(1))) else { return Ok(None) };
    let columns = draw(plan, &[now, before], check)?;
    let shock = |(now, before): (&f64, &f64)| match year {
        0 => ln(*now),
        _ => ln(*now) - phi * ln(*before),
    };
    Ok(Some(columns[0].iter().zip(&columns[1]).map(shock).collect()))
}

fn place(plan: &Plan, name: &str, lane: Option<usize>) -> Option<usize> {
    plan.columns().iter().position(|column| column.name == name && column.lane == lane)
}

/// Columns of the first runs.
fn draw(
    plan: &Plan,
    wanted: &[usize],
    check: &impl Fn() -> Result<(), Stopped>,
) -> Result<Vec<Vec<f64>>, Stopped> {
    let columns = plan.columns();
    let mut sources = vec![false; plan.sources()];
    wanted.iter().for_each(|&c| sources[columns[c].source] = true);
    let runs = plan.design().runs.min(MOST_RUNS) as usize;
    let mut out = vec![0.0; columns.len() * BLOCK];
    let mut scratch = Scratch::new();
    let mut drawn = vec![Vec::with_capacity(runs); wanted.len()];
    for first in (0..runs).step_by(BLOCK) {
        check()?;
        let n = BLOCK.min(runs - first);
        plan.draw(&sources, first as u64, n, &mut out, BLOCK, &mut scratch);
        for (column, &c) in drawn.iter_mut().zip(wanted) {
            column.extend_from_slice(&out[c * BLOCK..c * BLOCK + n]);
        }
    }
    Ok(drawn)
}

/// Correlation of two columns of ranks: Spearman's of what was ranked.
fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let middle = (a.len() + 1) as f64 / 2.0;
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(b) {
        let (x, y) = (x - middle, y - middle);
        ab += x * y;
        aa += x * x;
        bb += y * y;
    }
    ab / (aa * bb).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sampling::Method;

    const STUDY: &str = r#"title = "Do prices go together?"
currency = "EUR"
first_year = 2027
years = 9

[sampling]
runs = 20_000

[inputs.outlay]
unit = "EUR"
pert = { min = 900, mode = 1_000, max = 1_400 }

[inputs.upkeep]
unit = "EUR"
uniform = { min = 10, max = 30 }

[paths.gas]
start = { uniform = { min = 1, max = 2 } }
growth = { normal = { mean = 0.01, sd = 0.02 } }
process = "random walk"
volatility = 0.15

[paths.power]
start = 2
process = "mean reverting"
half_life = 3
volatility = 0.2
changes = [{ year = { discrete = { values = [2028, 2031, 2034], weights = [1, 1, 1] } }, scale = 0.5 }]

[paths.wood]
start = 3
growth = 0.02
process = "independent"
volatility = 0.1

[[correlations]]
between = ["gas", "power", "wood"]
rank = 0.5

[[correlations]]
between = ["outlay", "upkeep"]
rank = -0.4

[[correlations]]
between = ["upkeep", "gas.growth"]
rank = 0.3

[results.left]
unit = "EUR"
formula = "sum_years(gas + power + wood) * upkeep - outlay"
"#;

    fn model(text: &str) -> Model {
        let (made, found) = crate::model::read(text);
        made.unwrap_or_else(|| panic!("{found:?}")).1
    }

    /// 16,384 runs: the standard error of a correlation is below 0.008.
    #[test]
    fn what_was_asked_is_reached() {
        for (text, pairs) in [(STUDY, 5), (include_str!("../../studies/harbour-row.toml"), 3)] {
            for method in [Method::Sobol, Method::LatinHypercube, Method::Random] {
                let mut model = model(text);
                model.sampling.method = method;
                let laid = Laid::new(&model, model.plan(model.design()).unwrap()).unwrap();
                let links = links(&laid, 0, &Control::default()).unwrap();
                assert_eq!(links.len(), pairs, "{links:?}");
                for link in links {
                    assert!((link.reached - link.asked).abs() < 0.035, "{link:?}");
                }
            }
        }
    }

    /// The shocks are those of the study's own paths: growth divided out, a random walk's steps are their image.
    #[test]
    fn shocks_are_those_of_the_study() {
        let model = model(STUDY);
        let plan = model.plan(model.design()).unwrap();
        let check = || Ok(());
        let of_bare = shocks(&model, &bare_paths(&model, &plan).unwrap(), "gas", &check).unwrap().unwrap();
        let at = |name, lane| place(&plan, name, lane).unwrap();
        let wanted = [at("gas.course", Some(4)), at("gas.course", Some(3)), at("gas.growth", None)];
        let columns = draw(&plan, &wanted, &check).unwrap();
        for (run, shock) in of_bare.iter().enumerate() {
            let step = ln(columns[0][run] / columns[1][run] / (1.0 + columns[2][run]));
            assert!((shock - step).abs() < 1e-12, "run {run}: {shock} {step}");
        }
    }
}
