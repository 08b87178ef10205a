//! The table of distributions: it feeds checking, messages and the reference page.

use std::sync::Arc;

use super::law::Law;
use super::parameters::{ParameterError, Parameters};

/// One way to give a distribution's parameters.
#[derive(Debug, Clone, Copy)]
pub struct Form {
    /// Keys that must be there.
    pub keys: &'static [&'static str],
    /// Keys that may be there.
    pub optional: &'static [&'static str],
    /// What they mean, in words.
    pub words: &'static str,
}

/// An entry of the table.
#[derive(Debug)]
pub struct DistributionKind {
    /// Name in a study.
    pub name: &'static str,
    /// What it is good for, in one sentence.
    pub summary: &'static str,
    /// Ways to give its parameters.
    pub forms: &'static [Form],
    /// Whether it also takes percentiles, `pNN`, as many as are known.
    pub percentiles: bool,
    /// An example as written in a study.
    pub example: &'static str,
    /// Where its formula comes from.
    pub source: &'static str,
    pub(super) build: fn(&Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError>,
}

impl DistributionKind {
    /// Whether any form has this key.
    pub fn knows(&self, key: &str) -> bool {
        let named = self.forms.iter().any(|f| f.keys.contains(&key) || f.optional.contains(&key));
        named || (self.percentiles && percentile_of(key).is_some())
    }

    /// Every key of every form, each once.
    pub fn all_keys(&self) -> Vec<&'static str> {
        let mut keys: Vec<&'static str> = Vec::new();
        for key in self.forms.iter().flat_map(|f| f.keys.iter().chain(f.optional)) {
            if !keys.contains(key) {
                keys.push(key);
            }
        }
        keys
    }

    /// The forms: "{ min, mode, max } or { p10, mode, p90 }".
    pub fn forms_in_words(&self) -> String {
        if self.name == "mixture" {
            return "[{ weight, A DISTRIBUTION, [truncate] }, ..]".to_owned();
        }
        let form = |f: &Form| {
            let percentiles = if self.percentiles { ["p10", "p50", "p90", ".."].as_slice() } else { &[] };
            let mut keys: Vec<String> = f.keys.iter().chain(percentiles).map(|&k| k.to_owned()).collect();
            keys.extend(f.optional.iter().map(|k| format!("[{k}]")));
            format!("{{ {} }}", keys.join(", "))
        };
        self.forms.iter().map(form).collect::<Vec<_>>().join(" or ")
    }
}

/// All distributions, in the order of the reference page.
pub static KINDS: &[&DistributionKind] = &[
    &super::uniform::KIND,
    &super::triangular::KIND,
    &super::pert::KIND,
    &super::normal::KIND,
    &super::lognormal::KIND,
    &super::beta::KIND,
    &super::gamma::KIND,
    &super::weibull::KIND,
    &super::exponential::KIND,
    &super::discrete::KIND,
    &super::bernoulli::KIND,
    &super::counts::POISSON,
    &super::counts::BINOMIAL,
    &super::quantiles::KIND,
    &super::samples::KIND,
    &super::mixture::KIND,
];

/// The probability that a key such as `p10` or `p2.5` stands for; none if it stands for none between 0 and 1.
pub fn percentile_of(key: &str) -> Option<f64> {
    let digits = key.strip_prefix('p')?;
    let plain = digits.len() <= 12 && digits.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    // As a decimal, so that p10 is 0.1 to the last bit.
    let p: f64 = if plain { format!("{digits}e-2").parse().ok()? } else { return None };
    (p > 0.0 && p < 1.0).then_some(p)
}

/// The entry of a name.
pub fn kind(name: &str) -> Option<&'static DistributionKind> {
    KINDS.iter().find(|k| k.name == name).copied()
}
