//! Yearly paths: a start, a growth and how it moves.
//!
//! Year 0 is the first year and holds the start. For all processes
//!
//! ```text
//! X_t = m_t exp(d_t - b v_t/2)   d_t = phi d_(t-1) + s e_t   m_t = L_t (X_0/L_0)^(phi^t)   L_t = L_0 (1+g)^t
//! ```
//!
//! which for a mean reverting path is the exact discretisation of the
//! Ornstein-Uhlenbeck logarithm of the price (Uhlenbeck, Ornstein 1930;
//! Schwartz 1997, *The stochastic behavior of commodity prices*). A change
//! scales the path from its year on and does not revert.

use super::distributions::Distribution;
use super::maths;

/// A number that is known, or drawn once a run.
#[derive(Debug, Clone)]
pub enum Quantity {
    /// Known.
    Known(f64),
    /// Drawn once a run.
    Uncertain(Distribution),
}

impl Quantity {
    /// The known value or the default base of the distribution.
    pub fn base(&self) -> f64 {
        match self {
            Quantity::Known(x) => *x,
            Quantity::Uncertain(d) => d.default_base(),
        }
    }

    /// The known value or the most likely one.
    pub fn mode(&self) -> f64 {
        match self {
            Quantity::Known(x) => *x,
            Quantity::Uncertain(d) => d.mode(),
        }
    }

    /// The known value or the mean.
    pub fn mean(&self) -> f64 {
        match self {
            Quantity::Known(x) => *x,
            Quantity::Uncertain(d) => d.mean(),
        }
    }

    pub(crate) fn distribution(&self) -> Option<&Distribution> {
        match self {
            Quantity::Known(_) => None,
            Quantity::Uncertain(d) => Some(d),
        }
    }
}

/// What the growth rate is the growth of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Drift {
    /// The mean.
    #[default]
    Mean,
    /// The median.
    Median,
}

/// How a path moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Process {
    /// Without shocks.
    SteadyGrowth,
    /// Shocks that stay; `volatility` is the yearly sd of the log change.
    RandomWalk {
        /// Yearly, of the logarithm.
        volatility: f64,
    },
    /// Shocks that fade; `volatility` is the instantaneous one, per square-root year.
    MeanReverting {
        /// Years in which half of a deviation is gone.
        half_life: f64,
        /// Per square-root year, of the logarithm.
        volatility: f64,
    },
    /// A fresh lognormal factor each year, year 0 included.
    Independent {
        /// Sd of the logarithm of the factor.
        volatility: f64,
    },
}

/// A change at a random year.
#[derive(Debug, Clone)]
pub struct ChangeSpec {
    /// Probability that it comes at all.
    pub chance: f64,
    /// Calendar year from which it holds; rounded down to a whole year.
    pub year: Quantity,
    /// Factor from that year on.
    pub scale: Quantity,
}

/// A path to be drawn.
#[derive(Debug, Clone)]
pub struct PathSpec {
    /// Its name.
    pub name: String,
    /// Number of years, 1 and up.
    pub years: usize,
    /// Calendar year of year 0.
    pub first_year: i64,
    /// Value in year 0.
    pub start: Quantity,
    /// Level to which a mean reverting path returns, in year 0; its start if none.
    pub level: Option<f64>,
    /// Growth, 1/yr.
    pub growth: Quantity,
    /// Of the mean or of the median.
    pub drift: Drift,
    /// How it moves.
    pub process: Process,
    /// Changes at a random year.
    pub changes: Vec<ChangeSpec>,
}

/// The law of the yearly deviations of a process.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Deviations {
    /// Share of a deviation that is left a year later.
    pub phi: f64,
    /// Sd of a year's shock.
    pub s: f64,
    /// Whether year 0 has a shock already.
    pub from_start: bool,
}

impl Process {
    /// phi and s of the year-by-year law.
    pub fn deviations(self) -> Deviations {
        match self {
            Process::SteadyGrowth => Deviations { phi: 0.0, s: 0.0, from_start: false },
            Process::RandomWalk { volatility } => Deviations { phi: 1.0, s: volatility, from_start: false },
            Process::MeanReverting { half_life, volatility } => {
                let kappa = core::f64::consts::LN_2 / half_life;
                // 1 - phi^2 through expm1: a long half life would lose it.
                let lost = -libm::expm1(-2.0 * kappa);
                let s = volatility * (lost / (2.0 * kappa)).sqrt();
                Deviations { phi: maths::exp(-kappa), s, from_start: false }
            }
            Process::Independent { volatility } => Deviations { phi: 0.0, s: volatility, from_start: true },
        }
    }
}

impl Deviations {
    /// Variance of the deviation in each of `years` years.
    pub fn variances(&self, years: usize) -> Vec<f64> {
        let mut v = 0.0;
        (0..years)
            .map(|t| {
                if t > 0 || self.from_start {
                    v = self.phi * self.phi * v + self.s * self.s;
                }
                v
            })
            .collect()
    }

    /// Shocks in a path of `years` years.
    pub(crate) fn shocks(&self, years: usize) -> usize {
        if self.from_start {
            years
        } else if self.s > 0.0 {
            years.saturating_sub(1)
        } else {
            0
        }
    }

    /// Correlation of two paths' deviations `t` years after the start (1 and
    /// up), when their shocks correlate with `r`: r S(phi_a phi_b) / sqrt(S(phi_a^2) S(phi_b^2)).
    pub fn correlation(&self, other: &Deviations, r: f64, t: usize) -> f64 {
        let sum = |q: f64| {
            let mut power = 1.0;
            let mut sum = 0.0;
            for _ in 0..t {
                sum += power;
                power *= q;
            }
            sum
        };
        r * sum(self.phi * other.phi) / (sum(self.phi * self.phi) * sum(other.phi * other.phi)).sqrt()
    }

    /// Correlation of a path's deviations in years `t` and `t + lag`.
    pub fn memory(&self, t: usize, lag: usize) -> f64 {
        let v = self.variances(t + lag + 1);
        let decay: f64 = (0..lag).map(|_| self.phi).product();
        match (v.get(t), v.get(t + lag)) {
            (Some(a), Some(b)) => decay * (a / b).sqrt(),
            _ => f64::NAN,
        }
    }
}

impl PathSpec {
    /// Exponents -b v_t/2 of each year.
    pub(crate) fn shifts(&self) -> Vec<f64> {
        let b = if self.drift == Drift::Mean { 1.0 } else { 0.0 };
        self.process.deviations().variances(self.years).iter().map(|v| -0.5 * b * v).collect()
    }

    /// (L_0/X_0)^(1 - phi^t): how far the level has pulled the path by each year.
    pub(crate) fn pulls(&self, start: f64) -> Vec<f64> {
        let ln_gap = self.level.map_or(0.0, |level| maths::ln(level / start));
        self.pull_shares().iter().map(|share| maths::exp(share * ln_gap)).collect()
    }

    /// 1 - phi^t of each year.
    pub(crate) fn pull_shares(&self) -> Vec<f64> {
        let phi = self.process.deviations().phi;
        let mut left = 1.0;
        (0..self.years)
            .map(|t| {
                left *= if t == 0 { 1.0 } else { phi };
                1.0 - left
            })
            .collect()
    }

    /// Base course: what each year's base value is, as a multiple of the start.
    ///
    /// Each change acts at its mode, and only if its chance is at least one
    /// half; a blend of chances occurs in no run.
    pub fn base_course(&self, base_start: f64, base_growth: f64) -> Vec<f64> {
        let mut course = self.pulls(base_start);
        let mut power = 1.0;
        for (t, m) in course.iter_mut().enumerate() {
            *m *= power;
            power *= 1.0 + base_growth;
            for change in self.changes.iter().filter(|c| c.chance >= 0.5) {
                if self.reached(t, change.year.mode()) {
                    *m *= change.scale.mode();
                }
            }
        }
        course
    }

    /// Mean course as a multiple of the start, each change weighted by its
    /// probability and the growth by its distribution; with `start` the start
    /// that a level pulls away from.
    pub fn mean_course(&self, start: f64) -> Vec<f64> {
        let b = if self.drift == Drift::Mean { 0.0 } else { 0.5 };
        let variances = self.process.deviations().variances(self.years);
        let mut course = self.pulls(start);
        for (t, m) in course.iter_mut().enumerate() {
            *m *= mean_power(&self.growth, t);
            *m *= variances.get(t).map_or(1.0, |v| maths::exp(b * v));
            for change in &self.changes {
                let by_now = self.chance_by(change, t);
                *m *= 1.0 - by_now * (1.0 - change.scale.mean());
            }
        }
        course
    }

    /// Probability that a change has come by year `t`.
    pub fn chance_by(&self, change: &ChangeSpec, t: usize) -> f64 {
        let now = self.first_year as f64 + t as f64;
        match &change.year {
            Quantity::Known(year) if year.floor() <= now => change.chance,
            Quantity::Known(_) => 0.0,
            // Years are rounded down: all up to the end of this year count.
            Quantity::Uncertain(d) if d.is_discrete() => change.chance * d.cdf(now + 1.0 - 1e-9),
            Quantity::Uncertain(d) => change.chance * d.cdf(now + 1.0),
        }
    }

    fn reached(&self, t: usize, year: f64) -> bool {
        self.first_year as f64 + t as f64 >= year.floor()
    }
}

/// E[(1+g)^t]: the trapezoidal rule over the normal score, which for smooth
/// quantiles is exact to rounding.
fn mean_power(growth: &Quantity, t: usize) -> f64 {
    let power = |g: f64| (0..t).fold(1.0, |p, _| p * (1.0 + g));
    let Quantity::Uncertain(d) = growth else { return power(growth.base()) };
    if let Some((values, weights)) = d.points() {
        return values.iter().zip(weights).map(|(g, w)| w * power(*g)).sum();
    }
    let (mut sum, mut weight) = (0.0, 0.0);
    for k in -544..=544 {
        let z = f64::from(k) / 64.0;
        let w = maths::normal_density(z);
        sum += w * power(d.from_score(z));
        weight += w;
    }
    sum / weight
}
