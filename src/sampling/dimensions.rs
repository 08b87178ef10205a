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
    if method != Method::Sobol {
        return list;
    }
    for component in components.iter_mut() {
        let mut coordinates = Vec::with_capacity(component.parts);
        let mut next = 1_usize;
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
    list
}
