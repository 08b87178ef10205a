//! What names mean while formulas are checked.

use std::collections::BTreeMap;

use crate::diagnostic::Diagnostic;
use crate::diagnostic::suggestion::nearest;
use crate::formula::Names;
use crate::formula::types::Type;
use crate::study::Study;

/// Types of all names known so far.
#[derive(Debug, Default)]
pub(super) struct KnownNames {
    pub(super) types: BTreeMap<String, Type>,
    pub(super) drawn: Vec<String>,
    pub(super) years: usize,
    pub(super) has_inflation: bool,
    pub(super) by_year: BTreeMap<String, &'static str>,
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

    fn has_inflation(&self) -> bool {
        self.has_inflation
    }

    fn why_by_year(&self, name: &str) -> Option<&'static str> {
        self.by_year.get(name).copied()
    }

    fn is_drawn(&self, name: &str) -> bool {
        self.drawn.iter().any(|drawn| drawn == name)
    }
}

/// Longest list of names that a hint shows.
const FEW: usize = 8;

/// `error` with the name that was meant, or with those there are if they are few.
pub(super) fn suggest(error: Diagnostic, word: &str, known: Vec<&str>, what: &str) -> Diagnostic {
    if let Some(near) = nearest(word, known.iter().copied()) {
        return error.hint(format!("did you mean `{near}`?"));
    }
    match known.as_slice() {
        [] => error.hint(format!("the study has no {what}")),
        few if few.len() <= FEW => error.hint(format!("the {what} are `{}`", few.join("`, `"))),
        _ => error,
    }
}

/// What the study names, sound or not.
pub(super) struct Named<'s> {
    study: &'s Study,
}

impl<'s> Named<'s> {
    pub(super) fn of(study: &'s Study) -> Self {
        Named { study }
    }

    pub(super) fn is_input(&self, name: &str) -> bool {
        self.study.inputs.iter().any(|i| i.name.value == name)
    }

    pub(super) fn is_path(&self, name: &str) -> bool {
        self.study.paths.iter().any(|p| p.name.value == name)
    }

    /// The section in which `name` stands.
    pub(super) fn section(&self, name: &str) -> Option<&'static str> {
        let working = self.study.workings.iter().any(|w| w.name.value == name);
        let result = || self.study.results.iter().any(|r| r.working.name.value == name);
        match () {
            () if self.is_input(name) => Some("inputs"),
            () if self.is_path(name) => Some("paths"),
            () if working => Some("workings"),
            () if self.study.hotwater.iter().any(|h| h.name.value == name) => Some("hotwater"),
            () => result().then_some("results"),
        }
    }

    /// Names of inputs and paths.
    pub(super) fn movable(&self) -> Vec<&'s str> {
        let inputs = self.study.inputs.iter().map(|i| i.name.value.as_str());
        inputs.chain(self.study.paths.iter().map(|p| p.name.value.as_str())).collect()
    }
}
