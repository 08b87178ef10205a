//! The answer while somebody types: first from few runs, then from all. The newer question stops the older.
//!
//! Knows no network and no text: a model goes in, answers come out through the listener, each with the version of the
//! text that it answers.

use std::sync::atomic::Ordering;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;

use rayon::ThreadPool;

use crate::analysis::{Answers, AppraisalError, Options, appraise};
use crate::engine::run::Control;
use crate::model::Model;

/// Runs of the first answer, and of the one that the charts come with.
pub const FIRST: u64 = 1024;

/// What is asked: a model and the version of the text that it comes from.
#[derive(Clone)]
pub struct Question {
    /// Version of the text.
    pub version: u64,
    /// What the text says.
    pub model: Arc<Model>,
}

/// How far an answer has got.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Odds and sentences from few runs; what takes longer is left out.
    Odds,
    /// Everything, from few runs.
    Few,
    /// Everything, from all runs.
    All,
}

/// An answer, or why there is none.
pub struct Told {
    /// Version of the text.
    pub version: u64,
    /// How far it has got.
    pub stage: Stage,
    /// The answers.
    pub answers: Result<Box<Answers>, AppraisalError>,
}

/// Works out answers on a thread of its own until it is dropped.
pub struct Answering {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

#[derive(Default)]
struct Shared {
    waiting: Mutex<Waiting>,
    woken: Condvar,
    /// Its epoch is the version asked last.
    control: Control,
}

#[derive(Default)]
struct Waiting {
    question: Option<Question>,
    ends: bool,
}

impl Answering {
    /// Answers go to `listener`, on the thread that works them out in `pool`.
    ///
    /// # Errors
    /// When no thread can be had.
    pub fn start(
        pool: Arc<ThreadPool>,
        listener: impl Fn(Told) + Send + 'static,
    ) -> std::io::Result<Answering> {
        let shared = Arc::new(Shared::default());
        let own = Arc::clone(&shared);
        let thread = std::thread::Builder::new().name("answers".into()).spawn(move || {
            while let Some(question) = own.next() {
                own.answer(&question, &pool, &listener);
            }
        })?;
        Ok(Answering { shared, thread: Some(thread) })
    }

    /// Asks; what was asked before is given up.
    pub fn ask(&self, question: Question) {
        let mut waiting = self.shared.lock();
        self.shared.control.epoch.store(question.version, Ordering::Release);
        waiting.question = Some(question);
        drop(waiting);
        self.shared.woken.notify_one();
    }
}

impl Drop for Answering {
    fn drop(&mut self) {
        self.shared.control.cancel.store(true, Ordering::Relaxed);
        self.shared.lock().ends = true;
        self.shared.woken.notify_one();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

impl Shared {
    /// A thread that broke off leaves no half-made question behind.
    fn lock(&self) -> MutexGuard<'_, Waiting> {
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The next question, waited for; none at the end.
    fn next(&self) -> Option<Question> {
        let mut waiting = self.lock();
        loop {
            if waiting.ends {
                return None;
            }
            if let Some(question) = waiting.question.take() {
                return Some(question);
            }
            waiting = self.woken.wait(waiting).unwrap_or_else(PoisonError::into_inner);
        }
    }

    fn answer(&self, question: &Question, pool: &ThreadPool, listener: &dyn Fn(Told)) {
        let Question { version, model } = question;
        let whole = Options { epoch: *version, ..Options::of(model) };
        let few = Options { design: whole.design.with_runs(FIRST), until: None, ..whole };
        let mut stages = vec![(Stage::Odds, Options { break_even: false, single_runs: false, ..few })];
        if whole.until.is_some() || whole.design.runs > few.design.runs {
            stages.push((Stage::Few, few));
        }
        stages.push((Stage::All, whole));
        for (stage, options) in stages {
            let answers = pool.install(|| appraise(model, options, &self.control));
            if matches!(answers, Err(AppraisalError::Stopped(_))) {
                return;
            }
            let failed = answers.is_err();
            listener(Told { version: *version, stage, answers: answers.map(Box::new) });
            if failed {
                return;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc;
    use std::time::Duration;

    const STUDY: &str = "title = \"T\"\ncurrency = \"EUR\"\nprices = \"real\"\nfirst_year = 2027\nyears = 3\nheadline = \"gain\"\n\
        [sampling]\nruns = RUNS\n[inputs.price]\nunit = \"EUR\"\nuniform = { min = 80, max = 120 }\n\
        [results.gain]\nunit = \"EUR\"\nformula = \"100 [EUR] - price\"\nat_least = 0\n";

    fn model(runs: u64) -> Arc<Model> {
        let text = STUDY.replace("RUNS", &runs.to_string());
        let (made, found) = crate::model::read(&text);
        Arc::new(made.unwrap_or_else(|| panic!("{found:?}")).1)
    }

    fn answering() -> (Answering, mpsc::Receiver<Told>) {
        let (to, from) = mpsc::channel();
        let pool = Arc::new(rayon::ThreadPoolBuilder::new().num_threads(2).build().unwrap());
        (Answering::start(pool, move |told| to.send(told).unwrap()).unwrap(), from)
    }

    fn next(from: &mpsc::Receiver<Told>) -> Told {
        from.recv_timeout(Duration::from_secs(60)).unwrap()
    }

    #[test]
    fn few_runs_answer_first_and_all_at_last() {
        let (answering, from) = answering();
        answering.ask(Question { version: 5, model: model(8192) });
        for (stage, runs) in [(Stage::Odds, FIRST), (Stage::Few, FIRST), (Stage::All, 8192)] {
            let told = next(&from);
            assert_eq!((told.version, told.stage), (5, stage));
            assert_eq!(told.answers.unwrap().sampling.runs, runs);
        }
    }

    /// The last answer is that of the whole study, as `run` gives it.
    #[test]
    fn the_last_answer_is_that_of_the_study() {
        let (answering, from) = answering();
        let model = model(2048);
        answering.ask(Question { version: 1, model: Arc::clone(&model) });
        let told = std::iter::from_fn(|| Some(next(&from))).find(|told| told.stage == Stage::All).unwrap();
        let alone = appraise(&model, Options::of(&model), &Control::default()).unwrap();
        assert_eq!(told.answers.unwrap().results, alone.results);
    }

    #[test]
    fn the_newer_question_stops_the_older() {
        let (answering, from) = answering();
        let long = model(200_000_000);
        answering.ask(Question { version: 1, model: Arc::clone(&long) });
        // Its first answers come, its last would take minutes.
        assert_eq!(next(&from).version, 1);
        for version in 2..=20 {
            answering.ask(Question { version, model: Arc::clone(&long) });
        }
        answering.ask(Question { version: 21, model: model(2048) });
        let mut whole = Vec::new();
        loop {
            let told = next(&from);
            if told.stage == Stage::All {
                whole.push(told.version);
            }
            if told.version == 21 && told.stage == Stage::All {
                break;
            }
        }
        assert_eq!(whole, [21]);
    }

    #[test]
    fn the_end_waits_for_no_answer() {
        let (answering, _from) = answering();
        answering.ask(Question { version: 1, model: model(2_000_000_000) });
        drop(answering);
    }
}
