//! What names mean while formulas are checked.

use std::collections::BTreeMap;

use crate::formula::Names;
use crate::formula::types::Type;

/// Types of all names known so far.
#[derive(Debug, Default)]
pub(super) struct KnownNames {
    pub(super) types: BTreeMap<String, Type>,
    pub(super) drawn: Vec<String>,
    pub(super) years: usize,
}

impl Names for KnownNames {
    fn type_of(&self, name: &str) -> Option<Type> {
        self.types.get(name).cloned()
    }

    fn suggestions(&self) -> Vec<String> {
        self.types.keys().cloned().collect()
    }

    fn years(&self) -> usize {
        self.years
    }

    fn is_drawn(&self, name: &str) -> bool {
        self.drawn.iter().any(|drawn| drawn == name)
    }
}
