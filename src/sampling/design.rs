//! How points are spread, and which point a run gets.

/// How points are spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Method {
    /// Scrambled Sobol points.
    #[default]
    Sobol,
    /// Latin hypercube.
    LatinHypercube,
    /// Independent draws.
    Random,
}

/// Seed, method and numbers of a sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Design {
    /// Seed.
    pub seed: u64,
    /// How points are spread.
    pub method: Method,
    /// Independent replicates; 1 for random sampling, whose runs are all independent.
    pub replicates: u32,
    /// Runs that will be made.
    pub runs: u64,
    /// Runs that were asked for.
    pub runs_asked: u64,
}

impl Design {
    /// A design for at least `runs` runs.
    ///
    /// A stratified method makes whole replicates: under Sobol each holds a
    /// power of two, under Latin hypercube all hold equally many. What is asked
    /// is rounded up to that; `runs` tells what will be run.
    pub fn new(seed: u64, method: Method, replicates: u32, runs: u64) -> Design {
        let replicates = if method == Method::Random { 1 } else { replicates.max(1) };
        let each = runs.max(1).div_ceil(u64::from(replicates));
        let each = match method {
            Method::Sobol => each.checked_next_power_of_two().unwrap_or(each),
            Method::LatinHypercube | Method::Random => each,
        };
        let made = each.saturating_mul(u64::from(replicates));
        Design { seed, method, replicates, runs: made, runs_asked: runs }
    }

    /// The same design for another number of runs.
    pub fn with_runs(&self, runs: u64) -> Design {
        Design::new(self.seed, self.method, self.replicates, runs)
    }

    /// Runs in each replicate.
    pub fn runs_per_replicate(&self) -> u64 {
        (self.runs / u64::from(self.replicates.max(1))).max(1)
    }

    /// Replicate of a run and its index there: runs take turns, so that any prefix is balanced.
    pub fn place(&self, run: u64) -> (u32, u64) {
        let replicates = u64::from(self.replicates.max(1));
        ((run % replicates) as u32, run / replicates)
    }
}
