//! A distribution some of whose parameters are not yet numbers: its keys are
//! checked once, and then each set of numbers gives a law, without a table.

use super::catalogue::{self, DistributionKind};
use super::parameters::{ParameterError, Parameters, Value};
use super::{Distribution, cut, unknown_kind};

/// A distribution with open parameters.
#[derive(Debug, Clone)]
pub struct Family {
    entry: &'static DistributionKind,
    parameters: Vec<(String, Value)>,
    open: Vec<usize>,
    truncate: Option<(Option<f64>, Option<f64>)>,
}

impl Family {
    /// The distributions `kind` with `parameters`; those whose keys are in `open` are given later, whatever stands for them here.
    ///
    /// # Errors
    /// A kind that does not exist, keys that are unknown, missing or clash.
    pub fn new(
        kind: &str,
        parameters: Vec<(String, Value)>,
        open: &[&str],
        truncate: Option<(Option<f64>, Option<f64>)>,
    ) -> Result<Family, ParameterError> {
        let entry = catalogue::kind(kind).ok_or_else(|| unknown_kind(kind))?;
        Parameters::check(entry, &parameters)?;
        let place = |key: &&str| parameters.iter().position(|(k, _)| k == key);
        let open = open.iter().filter_map(place).collect();
        Ok(Family { entry, parameters, open, truncate: truncate.filter(|t| *t != (None, None)) })
    }

    /// Its standard name.
    pub fn kind(&self) -> &'static str {
        self.entry.name
    }

    /// Its parameters as given; what stands for those that are open means nothing.
    pub fn parameters(&self) -> impl Iterator<Item = (&str, &Value)> {
        self.parameters.iter().map(|(key, value)| (key.as_str(), value))
    }

    /// Room for the numbers, for [`Family::at`].
    pub fn room(&self) -> Vec<(String, Value)> {
        self.parameters.clone()
    }

    /// The distribution at `numbers`, in the order of the open keys; `room` is of [`Family::room`].
    /// It has no table, so dear laws are worked out exactly at each value.
    ///
    /// # Errors
    /// Numbers that fit no distribution; a cut that leaves less than a millionth.
    pub fn at(&self, numbers: &[f64], room: &mut [(String, Value)]) -> Result<Distribution, ParameterError> {
        for (&slot, &number) in self.open.iter().zip(numbers) {
            if let Some((_, value)) = room.get_mut(slot) {
                *value = Value::Number(number);
            }
        }
        let law = (self.entry.build)(&Parameters::checked(room))?;
        let (law, cut) = match self.truncate {
            Some((min, max)) => cut::cut(law, min, max)?,
            None => (law, None),
        };
        Ok(Distribution { kind: self.entry.name, law, cut, table: None })
    }
}
