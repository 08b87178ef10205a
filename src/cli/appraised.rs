//! From a study on the disk to its answers: what `run` and `report` have in common.

use rayon::ThreadPool;

use super::failure::Failure;
use super::opened::Opened;
use super::options::{General, Sampling};
use super::progress;
use super::run::{rounded, unanswered};
use super::terminal::Terminal;
use crate::analysis::{Answers, Options, appraise};
use crate::engine::run::Control;

/// The answers of `opened`, with the design that the command line asks for.
///
/// # Errors
/// A stop that was asked for, or what is wrong with the study.
pub(super) fn answers(
    opened: &Opened,
    (sampling, all): (&Sampling, bool),
    (general, terminal): (&General, &Terminal),
    pool: &ThreadPool,
    control: &Control,
) -> Result<Answers, Failure> {
    let design = sampling.design(&opened.model);
    let wish = opened.model.sampling.until;
    let until = wish.filter(|_| !sampling.runs_are_given());
    if until.is_none() {
        terminal.note(&rounded(&design));
    }
    if wish.is_some() && until.is_none() {
        terminal.note("note: --runs is given, so the study's `until` is not looked at\n");
    }
    let options = Options { design, until, all, ..Options::of(&opened.model) };
    let answers = progress::watched(control, design.runs, general.quiet, || {
        pool.install(|| appraise(&opened.model, options, control))
    });
    answers.map_err(|error| unanswered(error, opened))
}
