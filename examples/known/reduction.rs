//! Errors of a mean over many seeds, under each method.

use payspread::sampling::{Design, Method};
use rayon::prelude::*;

use super::KnownModel;

/// Method, replicates, name.
pub(crate) const WAYS: [(Method, u32, &str); 4] = [
    (Method::Random, 1, "random"),
    (Method::LatinHypercube, 1, "latin hypercube, 1 replicate"),
    (Method::Sobol, 8, "sobol, 8 replicates"),
    (Method::Sobol, 1, "sobol, 1 replicate"),
];

/// Root-mean-square error of the mean of `runs` runs over the seeds 1 to `seeds`.
pub(crate) fn rmse(model: &KnownModel, method: Method, replicates: u32, runs: u64, seeds: u64) -> f64 {
    let square = |seed| {
        let column = model.draw(Design::new(seed, method, replicates, runs));
        let error = column.iter().sum::<f64>() / column.len() as f64 - model.known.mean;
        error * error
    };
    // Collected first, so that the order of the sum is fixed.
    let squares: Vec<f64> = (1..=seeds).into_par_iter().map(square).collect();
    (squares.iter().sum::<f64>() / seeds as f64).sqrt()
}
