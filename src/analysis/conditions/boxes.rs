//! A box: some factors held between limits or to some of their labels, what
//! it catches, and which of its restrictions are more than chance.

use super::lot::{Count, Lot, Rows};

/// Restrictions with a larger quasi-p are dropped (Bryant, Lempert 2010).
pub const CHANCE: f64 = 0.05;

/// What a box asks of one factor.
#[derive(Debug, Clone, PartialEq)]
pub enum Kept {
    /// Values between limits, these included; +infinity is never.
    Between {
        /// Least value.
        from: Option<f64>,
        /// Greatest value.
        to: Option<f64>,
    },
    /// The labels of a list that are kept, by index.
    Labels(Vec<bool>),
}

impl Kept {
    /// Whether a value is kept.
    pub fn has(&self, x: f64) -> bool {
        match self {
            Kept::Between { from, to } => from.is_none_or(|from| x >= from) && to.is_none_or(|to| x <= to),
            // OK because a negative or large value saturates: beyond the list, hence not kept.
            Kept::Labels(kept) => x >= 0.0 && kept.get(x as usize) == Some(&true),
        }
    }

    /// Whether nothing is left out.
    pub(super) fn is_open(&self) -> bool {
        match self {
            Kept::Between { from, to } => from.is_none() && to.is_none(),
            Kept::Labels(kept) => kept.iter().all(|&kept| kept),
        }
    }
}

/// A restriction: a factor by its place, and what is kept of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// Place of the factor.
    pub factor: usize,
    /// What is kept.
    pub kept: Kept,
}

/// A box: restrictions in the order of the factors, one for each factor restricted.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Region {
    /// The restrictions.
    pub limits: Vec<Limit>,
}

/// Rows that meet each restriction of a box: for asking about the box without one of them.
pub(super) struct Masks {
    met: Vec<Rows>,
    left: Rows,
}

impl Region {
    /// Sets what is kept of a factor; none when all is.
    pub(super) fn set(&mut self, factor: usize, kept: Kept) {
        self.limits.retain(|limit| limit.factor != factor);
        if !kept.is_open() {
            let at = self.limits.partition_point(|limit| limit.factor < factor);
            self.limits.insert(at, Limit { factor, kept });
        }
    }

    pub(super) fn kept(&self, factor: usize) -> Option<&Kept> {
        self.limits.iter().find(|limit| limit.factor == factor).map(|limit| &limit.kept)
    }

    pub(super) fn masks(&self, lot: &Lot, left: &Rows) -> Masks {
        let column = |limit: &Limit| lot.columns.get(limit.factor).map_or(&[][..], Vec::as_slice);
        let met = |limit: &Limit| match &limit.kept {
            // The usual case, as plain comparisons.
            Kept::Between { from, to } => {
                let (from, to) = (from.unwrap_or(f64::NEG_INFINITY), to.unwrap_or(f64::INFINITY));
                Rows::where_met(column(limit), |x| x >= from && x <= to)
            }
            kept @ Kept::Labels(_) => Rows::where_met(column(limit), |x| kept.has(x)),
        };
        Masks { met: self.limits.iter().map(met).collect(), left: left.clone() }
    }

    /// The rows of `left` in the box.
    pub fn inside(&self, lot: &Lot, left: &Rows) -> Rows {
        self.masks(lot, left).inside(None)
    }

    /// Runs and hits of `left` in the box, and in the box without each of its restrictions.
    pub fn counts(&self, lot: &Lot, left: &Rows) -> (Count, Vec<Count>) {
        let masks = self.masks(lot, left);
        let without = (0..self.limits.len()).map(|j| lot.count(&masks.inside(Some(j))));
        (lot.count(&masks.inside(None)), without.collect())
    }

    /// Quasi-p of each restriction.
    pub fn quasi_p(&self, lot: &Lot, left: &Rows) -> Vec<f64> {
        let (inside, without) = self.counts(lot, left);
        without.iter().map(|&without| quasi_p(inside, without)).collect()
    }

    /// Drops the restriction with the greatest quasi-p as long as that is above [`CHANCE`], or there are more than
    /// `most` of them.
    pub fn simplified(mut self, lot: &Lot, left: &Rows, most: usize) -> Region {
        let mut masks = self.masks(lot, left);
        loop {
            let inside = lot.count(&masks.inside(None));
            let ps = (0..self.limits.len()).map(|j| quasi_p(inside, lot.count(&masks.inside(Some(j)))));
            // The last of equals goes: the first in the file stays.
            let worst = ps.enumerate().max_by(|(_, a), (_, b)| a.total_cmp(b));
            match worst {
                Some((j, p)) if p > CHANCE || self.limits.len() > most => {
                    self.limits.remove(j);
                    masks.met.remove(j);
                }
                _ => return self,
            }
        }
    }
}

impl Masks {
    /// Rows that meet all restrictions, or all but one.
    pub(super) fn inside(&self, but: Option<usize>) -> Rows {
        let kept = self.met.iter().enumerate().filter(|(j, _)| Some(*j) != but);
        kept.fold(self.left.clone(), |rows, (_, met)| rows.and(met))
    }
}

/// Chance that a restriction which picks runs at random would catch as many
/// hits: P(Bin(runs in the box, density without the restriction) >= hits in
/// the box) (Bryant, Lempert 2010, *Thinking inside the box*).
pub fn quasi_p(inside: Count, without: Count) -> f64 {
    if inside.runs == 0 || without.runs == 0 {
        return 1.0;
    }
    binomial_tail(inside.runs, without.density(), inside.hits)
}

/// P(Bin(n, p) >= k), each term from its logarithm; the smaller side is summed.
fn binomial_tail(n: u64, p: f64, k: u64) -> f64 {
    if k == 0 || p >= 1.0 {
        return 1.0;
    }
    if k > n || p <= 0.0 {
        return 0.0;
    }
    let log_factorial = |x: u64| libm::lgamma(x as f64 + 1.0);
    let (log_p, log_q) = (libm::log(p), libm::log1p(-p));
    let term = |x: u64| {
        let ways = log_factorial(n) - log_factorial(x) - log_factorial(n - x);
        libm::exp(ways + x as f64 * log_p + (n - x) as f64 * log_q)
    };
    let odds = p / (1.0 - p);
    let rises = k as f64 >= n as f64 * p;
    let (mut x, mut sum) = if rises { (k, 0.0) } else { (k - 1, 0.0) };
    let mut next = term(x);
    // Terms fall away from the mean: the first that adds nothing ends the sum.
    while next > 1e-17 * sum {
        sum += next;
        if rises {
            next *= (n - x) as f64 / (x + 1) as f64 * odds;
            x += 1;
        } else if x == 0 {
            break;
        } else {
            next *= x as f64 / ((n - x + 1) as f64 * odds);
            x -= 1;
        }
    }
    if rises { sum } else { (1.0 - sum).max(0.0) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tails_by_hand() {
        // P(Bin(4, 1/2) >= 3) = 5/16, >= 1: 15/16; P(Bin(3, 0.1) >= 3) = 0.001.
        assert!((binomial_tail(4, 0.5, 3) - 5.0 / 16.0).abs() < 1e-15);
        assert!((binomial_tail(4, 0.5, 1) - 15.0 / 16.0).abs() < 1e-15);
        assert!((binomial_tail(3, 0.1, 3) / 0.001 - 1.0).abs() < 1e-13);
        assert_eq!(
            (binomial_tail(3, 0.0, 1), binomial_tail(3, 1.0, 3), binomial_tail(3, 0.3, 0)),
            (0.0, 1.0, 1.0)
        );
        assert_eq!(binomial_tail(3, 0.5, 4), 0.0);
    }

    /// P(Bin(n,p) >= k) = I_p(k, n-k+1), by statrs.
    #[test]
    fn tails_are_incomplete_betas() {
        for n in [7u64, 90, 512] {
            for p in [0.03, 0.4, 0.9] {
                for k in [1, n / 3, n / 2, n - 1, n] {
                    let expect = statrs::function::beta::beta_reg(k as f64, (n - k + 1) as f64, p);
                    let found = binomial_tail(n, p, k);
                    assert!((found - expect).abs() < 1e-11, "{n} {p} {k}: {found} {expect}");
                }
            }
        }
    }

    #[test]
    fn labels_and_never_are_kept_or_not() {
        let labels = Kept::Labels(vec![true, false]);
        assert!(labels.has(0.0) && !labels.has(1.0) && !labels.has(2.0) && !labels.has(-1.0));
        let never = Kept::Between { from: Some(f64::INFINITY), to: None };
        assert!(never.has(f64::INFINITY) && !never.has(1e300));
    }
}
