//! Stages of a run: how long each took, and on a terminal what goes on when one takes longer than a second.

use indicatif::{ProgressBar, ProgressStyle};
use modalith_solver::spectrum::Progress as Said;
use std::collections::BTreeMap;
use std::io::IsTerminal;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// A stage shorter than this is not worth a word.
const SHOWN_AFTER: Duration = Duration::from_secs(1);

/// How far the search for modes has come, for whoever waits.
#[derive(Clone, Debug, Default)]
pub struct Reached(Arc<Mutex<Searches>>);

#[derive(Debug, Default)]
struct Searches {
    since: Option<Instant>,
    /// Modes converged and wanted, by part.
    parts: BTreeMap<usize, [usize; 2]>,
}

impl Reached {
    /// Takes note of what the solver says.
    pub fn hear(&self, said: Said) {
        if let Said::Iterating { part, converged, wanted, .. } = said {
            let mut searches = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            searches.since.get_or_insert_with(Instant::now);
            searches.parts.insert(part, [converged.min(wanted), wanted]);
        }
    }

    /// Modes converged of those sought in all parts, and the time left at this pace; empty before the search.
    fn text(&self) -> String {
        let searches = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(since) = searches.since else { return String::new() };
        let [converged, wanted] = searches.parts.values().fold([0, 0], |a, b| [a[0] + b[0], a[1] + b[1]]);
        let left = since.elapsed().as_secs_f64() * (wanted - converged) as f64 / converged.max(1) as f64;
        let left = if converged > 0 { format!(", about {left:.0} s left") } else { String::new() };
        format!(": {converged} of {wanted} modes converged{left}")
    }
}

/// The stages of a run.
#[derive(Debug)]
pub struct Progress {
    shown: bool,
    reached: Reached,
    start: Instant,
    seconds: Vec<(&'static str, f64)>,
}

impl Progress {
    /// Starts the clock; shows progress on stderr when that is a terminal and `quiet` is not set.
    pub fn new(quiet: bool) -> Self {
        let shown = !quiet && std::io::stderr().is_terminal();
        Self { shown, reached: Reached::default(), start: Instant::now(), seconds: Vec::new() }
    }

    /// Where the search for modes tells how far it has come.
    pub fn reached(&self) -> Reached {
        self.reached.clone()
    }

    /// Does the work of one stage.
    pub fn stage<T>(&mut self, name: &'static str, work: impl FnOnce() -> T) -> T {
        let start = Instant::now();
        let result = if self.shown { watched(name, &self.reached, work) } else { work() };
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

fn watched<T>(name: &'static str, reached: &Reached, work: impl FnOnce() -> T) -> T {
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
                bar.set_message(format!("{name}{}", reached.text()));
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
    fn modes_of_all_parts_are_added_up() {
        let reached = Reached::default();
        assert_eq!(reached.text(), "");
        let say = |part, converged, wanted| reached.hear(Said::Iterating { part, solves: 3, converged, wanted });
        say(0, 0, 4);
        assert_eq!(reached.text(), ": 0 of 4 modes converged");
        say(1, 5, 4);
        say(0, 3, 4);
        assert!(reached.text().starts_with(": 7 of 8 modes converged, about 0 s left"), "{}", reached.text());
    }

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
