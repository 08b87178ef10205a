//! What some observations of an input are worth (Raiffa, Schlaifer 1961).
//!
//! Knowing k observations is knowing their mean. In each run that mean is the
//! input plus an error of sd t/sqrt(k); the gains are regressed on it (Strong,
//! Oakley, Brennan, Breeze 2015, *Estimating the expected value of sample
//! information using the probabilistic sensitivity analysis sample*). The fit
//! is the gain at the posterior mean: for a normal input of sd s0 that mean has
//! the variance s0^4/(s0^2 + t^2/k), and nothing is assumed of other inputs.
//! Each run is seen with several errors, one from each of as many equal strata.

use super::features::Terms;
use super::fit::Regression;
use super::gains::{Gains, Worth};
use super::{Course, SamplingValue, Subject};
use crate::sampling::maths::normal_quantile;

/// Multiples of the square root of 2 spread evenly too.
const ROOT: f64 = core::f64::consts::SQRT_2;
/// Errors that each run is seen with: a power of two, so that its parts of a run add up to a whole exactly.
const COPIES: usize = 8;
/// The golden ratio's part beyond one: multiples of it spread evenly.
const GOLDEN: f64 = 0.618_033_988_749_894_9;

/// What `observations` independent normal observations of a subject, each with the standard deviation `observation_sd`,
/// are worth before choosing. The subject's first column is the one observed. None without two courses, runs,
/// observations, or numbers.
pub fn value_of_sampling(
    courses: &[Course<'_>],
    subject: &Subject<'_>,
    observations: u32,
    observation_sd: f64,
    replicates: Option<u32>,
) -> Option<SamplingValue> {
    let gains = Gains::of(courses, replicates).filter(|gains| !gains.columns.is_empty())?;
    let own = gains.runs.gather(subject.columns.first()?);
    let error = observation_sd / f64::from(observations).sqrt();
    let sound = error.is_finite() && error >= 0.0 && own.iter().all(|x| x.is_finite());
    if !sound {
        return None;
    }
    let evpi = gains.perfect().0;
    let copies: Vec<Vec<Vec<f64>>> = (0..COPIES).map(|copy| vec![observed(&own, error, copy)]).collect();
    // Knots must see errors of all strata.
    let turn = |run: usize| ((run as f64 * ROOT).fract() * COPIES as f64) as usize % COPIES;
    let mixed = (0..own.len()).map(|run| copies[turn(run)][0][run]).collect();
    let terms = Terms::of(&[mixed], &[false], &gains.columns);
    let mut regression = Regression::new(&gains, terms);
    copies.iter().for_each(|columns| regression.add(columns));
    let mut worth = Worth::new(&gains, COPIES);
    let solved = regression.solve();
    copies.iter().for_each(|columns| solved.judge(columns, &mut worth));
    let found = worth.found(&gains, &evpi);
    Some(SamplingValue {
        name: subject.name.clone(),
        observations,
        observation_sd,
        value: found.value,
        raw: found.raw,
        standard_error: found.standard_error,
        changes_decision: found.changes,
    })
}

/// The mean of the observations in each run, its error from stratum `copy`.
fn observed(own: &[f64], error: f64, copy: usize) -> Vec<f64> {
    let place = |run: usize| {
        let turn = (run as f64 + 0.5) * GOLDEN;
        (copy as f64 + (turn - turn.floor())) / COPIES as f64
    };
    let with_error = |(run, x): (usize, &f64)| {
        let below = place(run);
        x + error * normal_quantile(below, 1.0 - below)
    };
    own.iter().enumerate().map(with_error).collect()
}
