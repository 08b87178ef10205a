//! Reached against asked rank correlations: of linked inputs by their draws, of linked paths by their shocks of the
//! middle year of the horizon.
//!
//! A path's shock is read off a path of the same name, process and stream that starts at 1, without growth, level or
//! changes: there ln x_t - phi ln x_(t-1) is the shock of year t times a number above 0, plus a number.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use crate::analysis::Link;
use crate::analysis::laid::Laid;
use crate::analysis::statistics::intervals::CONFIDENCE;
use crate::analysis::statistics::ranks::{average_ranks, spearman_interval};
use crate::engine::run::{Control, Stopped};
use crate::model::{LinkItem, Model};
use crate::sampling::dependence::{normal_from_rank, rank_from_normal};
use crate::sampling::maths::ln;
use crate::sampling::{self, PathSpec, Plan, Quantity, Scratch};

/// Runs that are looked at: a correlation is known to about 0.01 by them.
const MOST_RUNS: u64 = 8192;

/// Runs drawn at once.
const BLOCK: usize = 256;

/// Each link with what the first runs reach.
///
/// # Errors
/// When stopped through `control`.
pub(super) fn links(laid: &Laid<'_>, epoch: u64, control: &Control) -> Result<Vec<Link>, Stopped> {
    let model = laid.model;
    let names = model.links.iter().flat_map(|link| [link.first.as_str(), link.second.as_str()]);
    let names: BTreeSet<&str> = names.collect();
    let is_path = |name: &&&str| model.paths.iter().any(|path| path.spec.name == **name);
    let check = || control.check(epoch);
    let mut ranks: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    let inputs = names.iter().filter(|name| !is_path(name));
    let inputs: Vec<(&str, usize)> =
        inputs.filter_map(|&name| Some((name, place(&laid.plan, name, None)?))).collect();
    let columns = draw(&laid.plan, &inputs.iter().map(|(_, column)| *column).collect::<Vec<_>>(), &check)?;
    ranks.extend(inputs.iter().zip(&columns).map(|((name, _), column)| (*name, average_ranks(column))));
    if let Some(plan) = bare_paths(model, &laid.plan) {
        let paths: Vec<&str> = names.iter().filter(is_path).copied().collect();
        let shocks = shocks(model, &plan, &paths, &check)?;
        ranks.extend(shocks.iter().map(|(name, shocks)| (*name, average_ranks(shocks))));
    }
    let reached = |a: &str, b: &str| Some(correlation(ranks.get(a)?, ranks.get(b)?));
    let links = model.links.iter().filter_map(|link| {
        let reached = reached(&link.first, &link.second)?;
        let runs = ranks.get(link.first.as_str()).map_or(0, |r| r.len() as u64);
        let (low, high) = spearman_interval(reached, runs, CONFIDENCE).unzip();
        let used = used(&laid.plan, link);
        let levels = levels(model, link, used);
        let (first, second) = (link.first.clone(), link.second.clone());
        Some(Link { first, second, asked: link.rank, reached, used, low, high, runs, levels })
    });
    Ok(links.collect())
}

/// The rank correlation that is drawn: as asked, unless it was moved.
fn used(plan: &Plan, link: &LinkItem) -> f64 {
    let moved = plan.repairs().iter().find_map(|repair| {
        let place = |name: &str| repair.names.iter().position(|n| n == name);
        repair.used.get(place(&link.first)?)?.get(place(&link.second)?).copied()
    });
    moved.unwrap_or(link.rank)
}

/// Rank correlation of two paths' levels in the middle year when their shocks have `used`.
fn levels(model: &Model, link: &LinkItem, used: f64) -> Option<f64> {
    let path = |name: &str| model.paths.iter().find(|p| p.spec.name == name);
    let deviations = |name: &str| path(name).map(|p| p.spec.process.deviations());
    let (a, b) = (deviations(&link.first)?, deviations(&link.second)?);
    let year = (model.years / 2).max(1);
    Some(rank_from_normal(a.correlation(&b, normal_from_rank(used), year).clamp(-1.0, 1.0)))
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
    Plan::with_rules(&[], &specs, &links, model.sampling.links, *plan.design(), plan.dimensions()).ok()
}

/// Shocks of each path in the middle year, in a unit of their own.
fn shocks<'n>(
    model: &Model,
    plan: &Plan,
    names: &[&'n str],
    check: &(impl Fn() -> Result<(), Stopped> + Sync),
) -> Result<Vec<(&'n str, Vec<f64>)>, Stopped> {
    let year = model.years / 2;
    let places = names.iter().filter_map(|&name| {
        let path = model.paths.iter().find(|path| path.spec.name == name)?;
        let course = format!("{name}.course");
        let now = place(plan, &course, Some(year))?;
        let before = place(plan, &course, Some(year.saturating_sub(1)))?;
        Some((name, path.spec.process.deviations().phi, [now, before]))
    });
    let places: Vec<(&str, f64, [usize; 2])> = places.collect();
    let wanted: Vec<usize> = places.iter().flat_map(|(.., columns)| *columns).collect();
    let columns = draw(plan, &wanted, check)?;
    let mut shocks = Vec::with_capacity(places.len());
    for ((name, phi, _), pair) in places.into_iter().zip(columns.chunks_exact(2)) {
        let shock = |(&now, &before): (&f64, &f64)| match year {
            0 => ln(now),
            _ => ln(now) - phi * ln(before),
        };
        shocks.push((name, pair[0].iter().zip(&pair[1]).map(shock).collect()));
    }
    Ok(shocks)
}

fn place(plan: &Plan, name: &str, lane: Option<usize>) -> Option<usize> {
    plan.columns().iter().position(|column| column.name == name && column.lane == lane)
}

/// Columns of the first runs.
fn draw(
    plan: &Plan,
    wanted: &[usize],
    check: &(impl Fn() -> Result<(), Stopped> + Sync),
) -> Result<Vec<Vec<f64>>, Stopped> {
    if wanted.is_empty() {
        return Ok(Vec::new());
    }
    let columns = plan.columns();
    let mut sources = vec![false; plan.sources()];
    wanted.iter().for_each(|&c| sources[columns[c].source] = true);
    let runs = plan.design().runs.min(MOST_RUNS) as usize;
    let parts: Vec<Vec<f64>> = (0..runs.div_ceil(BLOCK))
        .into_par_iter()
        .map_init(
            || (vec![0.0; columns.len() * BLOCK], Scratch::new()),
            |(out, scratch), k| {
                check()?;
                let (first, n) = (k * BLOCK, BLOCK.min(runs - k * BLOCK));
                plan.draw(&sources, first as u64, n, out, BLOCK, scratch);
                Ok(wanted.iter().flat_map(|&c| out[c * BLOCK..c * BLOCK + n].iter().copied()).collect())
            },
        )
        .collect::<Result<_, Stopped>>()?;
    let mut drawn = vec![Vec::with_capacity(runs); wanted.len()];
    for part in parts {
        for (column, piece) in drawn.iter_mut().zip(part.chunks_exact(part.len() / wanted.len())) {
            column.extend_from_slice(piece);
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

    /// 8,192 runs: the standard error of a correlation is about 0.011.
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
                    assert!(link.used == link.asked && link.runs == 8192);
                    assert!(link.low < Some(link.reached) && link.high > Some(link.reached));
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
        let of_bare =
            shocks(&model, &bare_paths(&model, &plan).unwrap(), &["gas"], &check).unwrap().remove(0).1;
        let at = |name, lane| place(&plan, name, lane).unwrap();
        let wanted = [at("gas.course", Some(4)), at("gas.course", Some(3)), at("gas.growth", None)];
        let columns = draw(&plan, &wanted, &check).unwrap();
        for (run, shock) in of_bare.iter().enumerate() {
            let step = ln(columns[0][run] / columns[1][run] / (1.0 + columns[2][run]));
            assert!((shock - step).abs() < 1e-12, "run {run}: {shock} {step}");
        }
    }
}
