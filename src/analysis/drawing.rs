//! What a reader must know of how the runs were drawn: links that were moved, strata that were rearranged, dimensions
//! beyond the Sobol table.

use crate::analysis::{Link, LinkRepair};
use crate::sampling::Plan;
use crate::sampling::sobol::DIMENSIONS;

/// The repairs of a plan.
pub(super) fn repairs(plan: &Plan) -> Vec<LinkRepair> {
    let name = |names: &[String], i: usize| names.get(i).cloned().unwrap_or_default();
    let repair = |r: &crate::sampling::Repair| LinkRepair {
        names: r.names.clone(),
        given: r.given.clone(),
        used: r.used.clone(),
        largest_change: r.largest_change,
        pair: [name(&r.names, r.at.0), name(&r.names, r.at.1)],
        distance: r.distance,
        smallest_eigenvalue: r.smallest_eigenvalue,
    };
    plan.repairs().iter().map(repair).collect()
}

/// One sentence each.
pub(super) fn remarks(plan: &Plan, links: &[Link]) -> Vec<String> {
    let mut remarks = Vec::new();
    for repair in repairs(plan) {
        let [a, b] = &repair.pair;
        remarks.push(format!(
            "The correlations of {} names contradict each other and were moved to the nearest that do not; the largest \
             change is {:.3}, of {a} and {b}: links_repaired.csv shows them as given and as used.",
            repair.names.len(),
            repair.largest_change
        ));
    }
    let tied = plan.tied_columns();
    if tied > 0 && !links.is_empty() {
        remarks.push(format!(
            "Linked inputs keep the exact strata of the Latin hypercube, rearranged (Iman, Conover 1982): {tied} \
             columns of all runs were held in memory for it."
        ));
    }
    let (all, beyond) = plan.sobol_dimensions();
    if beyond > 0 {
        remarks.push(format!(
            "{beyond} of {all} dimensions lie beyond the {DIMENSIONS} of the Sobol table, the last in the order of \
             dimensions: each is spread evenly by itself, but together with the others only as random draws are."
        ));
    }
    remarks
}
