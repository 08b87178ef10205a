//! Where the time goes.

use std::fmt::Write as _;
use std::time::{Duration, Instant};

/// Time taken by each step.
#[derive(Debug)]
pub(super) struct Timings {
    last: Instant,
    laps: Vec<(&'static str, Duration)>,
}

impl Timings {
    /// The first step begins.
    pub(super) fn start() -> Self {
        Timings { last: Instant::now(), laps: Vec::new() }
    }

    /// A step has ended and the next begins.
    pub(super) fn lap(&mut self, step: &'static str) {
        let now = Instant::now();
        self.laps.push((step, now - self.last));
        self.last = now;
    }

    /// Each step and their sum, in milliseconds.
    pub(super) fn text(&self) -> String {
        let mut out = String::new();
        let mut whole = 0.0;
        for (step, time) in &self.laps {
            let ms = time.as_secs_f64() * 1000.0;
            whole += ms;
            let _ = writeln!(out, "{step:<32}{ms:>10.1} ms");
        }
        let _ = writeln!(out, "{:<32}{whole:>10.1} ms", "all");
        out
    }
}
