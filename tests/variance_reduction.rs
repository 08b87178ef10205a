//! The stratified methods come as much closer than random draws as is claimed (`examples/variance.rs` prints the table).

#[path = "../examples/known/mod.rs"]
mod known;

use known::models;
use known::reduction::rmse;
use payspread::sampling::Method;

/// Seeds for each method.
const SEEDS: u64 = 32;

/// On the smooth model at 4,096 runs, Sobol points in one replicate err at most a twentieth of what random draws do, in eight
/// at most a tenth. Random draws need not be drawn: their error is sd/sqrt(runs), and the sd is known.
///
/// Over 400 seeds the ratios are 1/88 and 1/30, so a mean of 32 squares would have to be 19 and 9 times what it should be: for
/// normal errors (chi-square with 32 degrees of freedom) that happens once in more than 10^40 sets of seeds.
#[test]
fn sobol_points_beat_random_draws() {
    let model = &models()[0];
    let random = model.known.sd / 64.0;
    let one = rmse(model, Method::Sobol, 1, 4096, SEEDS);
    let eight = rmse(model, Method::Sobol, 8, 4096, SEEDS);
    assert!(one <= random / 20.0, "one replicate: 1/{:.1}", random / one);
    assert!(eight <= random / 10.0, "eight replicates: 1/{:.1}", random / eight);
}

/// The error that random draws should have is the one they have: (RMSE/known)^2 over 400 seeds is chi-square with
/// 400 degrees of freedom over 400, as good as normal with sd 0.071; five of these are passed by chance once in two million.
#[test]
fn random_draws_err_as_they_should() {
    for model in &models() {
        let ratio = rmse(model, Method::Random, 1, 1024, 400) / (model.known.sd / 32.0);
        assert!((ratio * ratio - 1.0).abs() < 5.0 * (2.0f64 / 400.0).sqrt(), "{}: {ratio}", model.name);
    }
}
