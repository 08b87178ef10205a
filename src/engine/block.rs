//! Operations that take many columns of a block of runs at once, with streams
//! and scratch of their own: cash-flow functions, renewals, and whatever steps
//! through time inside one operation.

/// Number from which a "run" is the base case: operations that draw then take base values.
pub const BASE_RUN: u64 = 1 << 62;

/// The runs a block operation works on.
#[derive(Debug, Clone, Copy)]
pub struct Runs {
    /// Number of the first run.
    pub first: u64,
    /// How many.
    pub n: usize,
}

impl Runs {
    /// `n` columns that are all the base case, each perhaps with other leaves.
    pub fn of_base_case(n: usize) -> Self {
        Runs { first: BASE_RUN, n }
    }

    /// Whether they are the base case.
    pub fn are_base_case(self) -> bool {
        self.first >= BASE_RUN
    }
}

/// An operation over whole columns. It must be a pure function of the run's
/// number and of the operands of that run: no value may depend on the block.
pub trait BlockOp: Send + Sync {
    /// Equal keys do the same.
    fn key(&self) -> String;

    /// How many columns it yields.
    fn outputs(&self) -> usize;

    /// Whether it draws (so that its value differs between runs of equal operands).
    fn draws(&self) -> bool {
        false
    }

    /// Fills `out[k][..runs.n]` for each output k from `args[j][..runs.n]`.
    fn evaluate(&self, runs: Runs, args: &[&[f64]], out: &mut [Vec<f64>], scratch: &mut Vec<f64>);

    /// The operation on one run.
    fn evaluate_one(&self, run: u64, args: &[f64]) -> Vec<f64> {
        let columns: Vec<&[f64]> = args.iter().map(std::slice::from_ref).collect();
        let mut out = vec![vec![0.0]; self.outputs()];
        self.evaluate(Runs { first: run, n: 1 }, &columns, &mut out, &mut Vec::new());
        out.into_iter().map(|column| column.first().copied().unwrap_or(f64::NAN)).collect()
    }
}
