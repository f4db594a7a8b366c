//! Stages of a run: how long each took, and on a terminal what goes on when one takes longer than a second.

use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// A stage shorter than this is not worth a word.
const SHOWN_AFTER: Duration = Duration::from_secs(1);

/// The stages of a run.
#[derive(Debug)]
pub struct Progress {
    shown: bool,
    start: Instant,
    seconds: Vec<(&'static str, f64)>,
}

impl Progress {
    /// Starts the clock; shows progress on stderr when that is a terminal and `quiet` is not set.
    pub fn new(quiet: bool) -> Self {
        Self { shown: !quiet && std::io::stderr().is_terminal(), start: Instant::now(), seconds: Vec::new() }
    }

    /// Does the work of one stage.
    pub fn stage<T>(&mut self, name: &'static str, work: impl FnOnce() -> T) -> T {
        let start = Instant::now();
        let result = if self.shown { watched(name, work) } else { work() };
        self.add(name, start.elapsed().as_secs_f64());
        result
    }

    /// Adds the seconds of a stage that was timed elsewhere.
    pub fn add(&mut self, name: &'static str, seconds: f64) {
        self.seconds.push((name, seconds));
    }

    /// Seconds by stage in order, the total last.
    pub fn seconds(&self) -> Vec<(&'static str, f64)> {
        let mut all = self.seconds.clone();
        all.push(("total", self.start.elapsed().as_secs_f64()));
        all
    }
}

fn watched<T>(name: &'static str, work: impl FnOnce() -> T) -> T {
    let (done, wait) = channel::<()>();
    std::thread::scope(|scope| {
        scope.spawn(move || {
            if wait.recv_timeout(SHOWN_AFTER) != Err(RecvTimeoutError::Timeout) {
                return;
            }
            let bar = ProgressBar::new_spinner().with_message(name).with_elapsed(SHOWN_AFTER);
            if let Ok(style) = ProgressStyle::with_template("{spinner} {msg} {elapsed}") {
                bar.set_style(style);
            }
            while wait.recv_timeout(Duration::from_millis(200)) == Err(RecvTimeoutError::Timeout) {
                bar.tick();
            }
            bar.finish_and_clear();
        });
        let result = work();
        drop(done);
        result
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stages_are_timed_and_the_total_comes_last() {
        let mut progress = Progress::new(true);
        let answer = progress.stage("mesh", || {
            std::thread::sleep(Duration::from_millis(20));
            42
        });
        assert_eq!(answer, 42);
        let seconds = progress.seconds();
        assert_eq!(seconds.iter().map(|s| s.0).collect::<Vec<_>>(), ["mesh", "total"]);
        assert!(seconds[0].1 >= 0.02 && seconds[1].1 >= seconds[0].1);
    }
}
