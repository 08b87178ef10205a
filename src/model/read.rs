//! From the text of a study to its model, with everything that is wrong or doubtful on the way.

use crate::diagnostic::{Diagnostic, Severity, Span, has_errors};
use crate::model::Model;
use crate::model::check::check_beside;
use crate::study::data::{DataFiles, NoFiles};
use crate::study::{self, Study};

/// Reads and checks a study: what the command line, the page and the tests all ask for.
///
/// The study and its model are there unless there is an error. Diagnostics, cautions among them, come in the order
/// of their places. A study with an error in its reading is checked all the same where it could be read, so that all
/// that is wrong is said in one go.
pub fn read(text: &str) -> (Option<(Study, Model)>, Vec<Diagnostic>) {
    read_beside(text, &NoFiles)
}

/// As [`read`], with the data files that the study names.
pub fn read_beside(text: &str, files: &dyn DataFiles) -> (Option<(Study, Model)>, Vec<Diagnostic>) {
    let (study, found) = study::read::parse(text);
    let Some(study) = study else { return (None, found) };
    let n_read = found.len();
    let (model, mut found) = check_beside(&study, files, found);
    if has_errors(&found) {
        let told: Vec<Span> =
            found[..n_read].iter().filter_map(|d| Some(d.place.as_ref()?.span.clone())).collect();
        let mut at = 0;
        found.retain(|d| {
            at += 1;
            // Cautions wait until the study stands; what is wrong with a value that was misread has been told.
            at <= n_read || (d.severity == Severity::Error && !told.iter().any(|span| overlap(span, d)))
        });
    }
    found.sort_by_key(|d| d.place.as_ref().map_or((0, 0), |p| (p.span.start, p.span.end)));
    match model {
        Some(mut model) => {
            model.cautions.clone_from(&found);
            (Some((study, model)), found)
        }
        None => (None, found),
    }
}

fn overlap(span: &Span, diagnostic: &Diagnostic) -> bool {
    diagnostic.place.as_ref().is_some_and(|p| p.span.start < span.end && span.start < p.span.end)
}
