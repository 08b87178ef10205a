//! How far the runs are, and stopping them by Ctrl+C.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::engine::run::Control;

/// Work shorter than this shows no bar.
const PATIENCE: Duration = Duration::from_millis(500);
/// Time between two looks at the work.
const TICK: Duration = Duration::from_millis(100);

/// A control that Ctrl+C stops; the second Ctrl+C ends the program at once.
pub(super) fn interruptible() -> Arc<Control> {
    let control = Arc::new(Control::default());
    let stop = Arc::clone(&control);
    // Without a handler Ctrl+C ends the program as it always does.
    let _ = ctrlc::set_handler(move || {
        if stop.cancel.swap(true, Ordering::Relaxed) {
            std::process::exit(130);
        }
    });
    control
}

/// Does `work`, with a bar on standard error if it takes long and that is a terminal.
pub(super) fn watched<T>(control: &Control, n_runs: u64, quiet: bool, work: impl FnOnce() -> T) -> T {
    if quiet {
        return work();
    }
    thread::scope(|scope| {
        let (ended, end) = channel::<()>();
        scope.spawn(move || show(control, n_runs, &end));
        let done = work();
        drop(ended);
        done
    })
}

fn show(control: &Control, n_runs: u64, end: &Receiver<()>) {
    let goes_on = |time| matches!(end.recv_timeout(time), Err(RecvTimeoutError::Timeout));
    if !goes_on(PATIENCE) {
        return;
    }
    // Draws nothing where standard error is no terminal.
    let bar = ProgressBar::with_draw_target(Some(n_runs), ProgressDrawTarget::stderr());
    let style = ProgressStyle::with_template("{msg} [{bar:40}] {human_pos} of {human_len} runs");
    bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()).progress_chars("=> "));
    loop {
        let done = control.done.load(Ordering::Relaxed).min(n_runs);
        bar.set_position(done);
        bar.set_message(if done < n_runs { "running  " } else { "analysing" });
        if !goes_on(TICK) {
            break;
        }
    }
    bar.finish_and_clear();
}
