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
    /// An example as written in a study.
    pub example: &'static str,
    /// Where its formula comes from.
    pub source: &'static str,
    pub(super) build: fn(&Parameters<'_>) -> Result<Arc<dyn Law>, ParameterError>,
}

impl DistributionKind {
    /// Whether any form has this key.
    pub fn knows(&self, key: &str) -> bool {
        self.forms.iter().any(|f| f.keys.contains(&key) || f.optional.contains(&key))
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
        let form = |f: &Form| {
            let mut keys: Vec<String> = f.keys.iter().map(|&k| k.to_owned()).collect();
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
];

/// The entry of a name.
pub fn kind(name: &str) -> Option<&'static DistributionKind> {
    KINDS.iter().find(|k| k.name == name).copied()
}
