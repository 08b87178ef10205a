//! A law with something that the reader should know about it.

use std::sync::Arc;

use super::law::{Caution, Law};
use crate::sampling::maths::Vectors;

/// In all but its cautions the law within.
#[derive(Debug)]
pub(super) struct Cautioned {
    law: Arc<dyn Law>,
    cautions: Vec<Caution>,
}

impl Cautioned {
    /// `law`, or where there is nothing to be said, itself.
    pub(super) fn with(law: Arc<dyn Law>, cautions: Vec<Caution>) -> Arc<dyn Law> {
        if cautions.is_empty() { law } else { Arc::new(Cautioned { law, cautions }) }
    }
}

impl Law for Cautioned {
    fn quantile(&self, lower: f64, upper: f64) -> f64 {
        self.law.quantile(lower, upper)
    }

    fn quantile_near(&self, lower: f64, upper: f64, near: f64) -> f64 {
        self.law.quantile_near(lower, upper, near)
    }

    fn cdf(&self, x: f64) -> (f64, f64) {
        self.law.cdf(x)
    }

    fn mean(&self) -> f64 {
        self.law.mean()
    }

    fn sd(&self) -> f64 {
        self.law.sd()
    }

    fn mode(&self) -> f64 {
        self.law.mode()
    }

    fn support(&self) -> (f64, f64) {
        self.law.support()
    }

    fn by_score(&self) -> bool {
        self.law.by_score()
    }

    fn at_score(&self, z: f64) -> f64 {
        self.law.at_score(z)
    }

    fn costly(&self) -> bool {
        self.law.costly()
    }

    fn has_density(&self) -> bool {
        self.law.has_density()
    }

    fn density(&self, x: f64) -> (f64, f64) {
        self.law.density(x)
    }

    fn kinks(&self) -> Vec<f64> {
        self.law.kinks()
    }

    fn has_jumps(&self) -> bool {
        self.law.has_jumps()
    }

    fn points(&self) -> Option<(&[f64], &[f64])> {
        self.law.points()
    }

    fn ordered(&self) -> bool {
        self.law.ordered()
    }

    fn fill_from_uniform(&self, vectors: Vectors, u: &mut [f64]) {
        self.law.fill_from_uniform(vectors, u);
    }

    fn fill_from_score(&self, vectors: Vectors, z: &mut [f64]) {
        self.law.fill_from_score(vectors, z);
    }

    fn cautions(&self) -> Vec<Caution> {
        self.cautions.clone()
    }
}
