//! Which Sobol dimension a component gets: by an ordered list kept with the
//! study, so that adding an input leaves all others as they were.

use super::design::Method;
use super::streams::{Component, Coordinate};

/// A line of the list: a name and how many dimensions in turn it takes.
fn parse(line: &str) -> (&str, usize) {
    match line.rsplit_once('*') {
        Some((name, count)) => match count.trim().parse() {
            Ok(count) => (name.trim(), count),
            Err(_) => (line.trim(), 1),
        },
        None => (line.trim(), 1),
    }
}

/// Name of the component of a line of the list, without its count.
pub fn component_of(line: &str) -> &str {
    parse(line).0
}

/// Gives each component its dimensions and returns the list extended by what
/// was not in it. A listed name that no longer exists keeps its dimensions, so
/// that later ones are never renumbered.
pub(crate) fn assign(components: &mut [&mut Component], pinned: &[String], method: Method) -> Vec<String> {
    let mut list: Vec<String> = pinned.to_vec();
    let listed = |name: &str, list: &[String]| -> usize {
        list.iter().map(|line| parse(line)).filter(|(n, _)| *n == name).map(|(_, count)| count).sum()
    };
    for component in components.iter() {
        let missing = component.parts.saturating_sub(listed(&component.name, &list));
        match (component.parts, missing) {
            (_, 0) => {}
            (1, _) => list.push(component.name.clone()),
            (_, missing) => list.push(format!("{} * {missing}", component.name)),
        }
    }
    if method == Method::Sobol {
        components.iter_mut().for_each(|component| place(component, &list, 0));
    }
    list
}

/// Gives a component of the second matrix the dimensions after all of the first's: dimension k there is D + k here, with
/// D the length of the list, so that both are stretches of one point (Saltelli et al. 2010).
pub(crate) fn assign_second(component: &mut Component, list: &[String], method: Method) {
    if method == Method::Sobol {
        let all = list.iter().fold(0_usize, |sum, line| sum.saturating_add(parse(line).1));
        place(component, list, all);
    }
}

/// Dimensions of a component by the list, `after` those before its first line.
fn place(component: &mut Component, list: &[String], after: usize) {
    let mut coordinates = Vec::with_capacity(component.parts);
    let mut next = after.saturating_add(1);
    for (name, count) in list.iter().map(|line| parse(line)) {
        if name == component.name {
            for dimension in next..next.saturating_add(count) {
                if coordinates.len() < component.parts {
                    coordinates.push(u16::try_from(dimension).ok().and_then(Coordinate::new));
                }
            }
        }
        next = next.saturating_add(count);
    }
    component.set_coordinates(coordinates);
}

#[cfg(test)]
mod tests {
    use crate::sampling::maths::Vectors;
    use crate::sampling::sobol::DIMENSIONS;
    use crate::sampling::{
        Design, Distribution, Drift, InputSpec, Method, PathSpec, Plan, Process, Quantity, Value,
    };

    fn uniform() -> Distribution {
        let ends = [("min".to_owned(), Value::Number(0.01)), ("max".to_owned(), Value::Number(0.03))];
        Distribution::build("uniform", &ends, None).unwrap()
    }

    /// A study at the size that is promised: 60 inputs and 6 paths of 20 years whose starts and growths are drawn.
    fn large(inputs: usize, runs: u64) -> Plan {
        let spec = |i| InputSpec { name: format!("x{i}"), distribution: uniform() };
        let inputs: Vec<InputSpec> = (0..inputs).map(spec).collect();
        let process = |k| match k % 3 {
            0 => Process::RandomWalk { volatility: 0.1 },
            1 => Process::MeanReverting { half_life: 3.0, volatility: 0.2 },
            _ => Process::Independent { volatility: 0.1 },
        };
        let path = |k| PathSpec {
            name: format!("p{k}"),
            years: 20,
            first_year: 2027,
            start: Quantity::Uncertain(uniform()),
            level: None,
            growth: Quantity::Uncertain(uniform()),
            drift: Drift::Mean,
            process: process(k),
            changes: Vec::new(),
        };
        let paths: Vec<PathSpec> = (0..6).map(path).collect();
        Plan::new(&inputs, &paths, &[], Design::new(11, Method::Sobol, 1, runs), &[]).unwrap()
    }

    /// Uniforms of every part of every component.
    fn uniforms(plan: &Plan, n: usize) -> Vec<Vec<f64>> {
        let shocks = plan.paths.iter().filter_map(|p| p.shock.as_ref());
        let components = plan.scalars.iter().map(|s| &s.component).chain(shocks);
        let parts = components.flat_map(|c| (0..c.parts as u32).map(move |part| (c, part)));
        parts
            .map(|(c, part)| {
                let mut out = vec![0.0; n];
                c.uniforms(&plan.design, Vectors::Widest, part, 0, &mut out, &mut Vec::new());
                out
            })
            .collect()
    }

    /// 60 + 12 + 4 x 19 + 2 x 20 = 188 dimensions, all in the table and no two alike: as many lines in the list.
    /// Of 17,578 pairs all but 77 put exactly 64 of 4,096 points into each of 8 x 8 cells; those 77 leave half of the
    /// cells empty. So say the ranks of the first three rows of both generator matrices over two elements, computed
    /// apart from this program; at 16,384 points of a replicate no pair is left. Two components of one dimension would
    /// leave seven eighths empty.
    #[test]
    fn inputs_and_paths_of_a_large_study_share_no_dimension() {
        let n = 4096;
        let plan = large(60, n as u64);
        assert_eq!(plan.sobol_dimensions(), (188, 0));
        let listed: usize = plan.dimensions().iter().map(|line| super::parse(line).1).sum();
        assert_eq!(listed, 188);
        let cells: Vec<Vec<usize>> =
            uniforms(&plan, n).iter().map(|u| u.iter().map(|u| (u * 8.0) as usize).collect()).collect();
        assert_eq!(cells.len(), 188);
        let (mut poor, mut pairs) = (0, 0);
        for (i, a) in cells.iter().enumerate() {
            for b in &cells[..i] {
                let mut counts = [0; 64];
                a.iter().zip(b).for_each(|(x, y)| counts[x * 8 + y] += 1);
                let even = counts.iter().all(|c| *c == 64);
                assert!(even || counts.iter().all(|c| *c == 0 || *c == 128), "{counts:?}");
                poor += usize::from(!even);
                pairs += 1;
            }
        }
        assert_eq!((poor, pairs), (77, 17_578));
    }

    #[test]
    fn what_lies_beyond_the_table_is_counted() {
        let plan = large(usize::from(DIMENSIONS) - 12, 64);
        assert_eq!(plan.sobol_dimensions(), (usize::from(DIMENSIONS) + 116, 116));
    }
}
