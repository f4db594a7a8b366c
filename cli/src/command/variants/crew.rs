//! Points in parallel: one worker for each thread, each with a pool of its own for what is parallel inside a point, so that no
//! point waits for another and its result does not depend on its neighbours. In: the points to do. Out: their lines, as they come.

use super::journal::Line;
use crate::exit::CommandError;
use crate::memory;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::{IsTerminal, Write as _};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// Where stderr is no terminal, progress is told this often.
const TOLD_EVERY: Duration = Duration::from_secs(60);

/// Points after which a worker gives its freed memory back.
const POINTS_WITH_THE_SAME_MEMORY: usize = 4;

/// Does the points; gives how many were done. Ends early, after the points at work, once `stop` is set.
///
/// # Errors
/// When threads cannot be started, or a line cannot be recorded.
pub fn run(
    pending: &[usize],
    threads: usize,
    quiet: bool,
    stop: &AtomicBool,
    solve: impl Fn(usize) -> Line + Sync,
    mut record: impl FnMut(Line) -> Result<(), CommandError>,
) -> Result<usize, CommandError> {
    let workers = threads.min(pending.len()).max(1);
    let inside = (threads / workers).max(1);
    let next = AtomicUsize::new(0);
    let mut progress = Told::new(pending.len(), quiet);
    let pools: Vec<rayon::ThreadPool> = (0..workers)
        .map(|_| rayon::ThreadPoolBuilder::new().num_threads(inside).build())
        .collect::<Result<_, _>>()
        .map_err(|e| CommandError::Other {
            what: format!("{threads} threads could not be started: {e}"),
            hint: "ask for fewer with --threads".into(),
        })?;
    let (send, lines) = channel::<Line>();
    std::thread::scope(|scope| {
        for pool in &pools {
            let (send, next, solve) = (send.clone(), &next, &solve);
            scope.spawn(move || {
                for solved in 1.. {
                    let point = pending.get(next.fetch_add(1, Ordering::Relaxed));
                    let Some(&point) = point.filter(|_| !stop.load(Ordering::Relaxed)) else { return };
                    if send.send(pool.install(|| solved_in_turn(solved, || solve(point)))).is_err() {
                        return;
                    }
                }
            });
        }
        drop(send);
        let mut done = 0;
        loop {
            match lines.recv_timeout(Duration::from_secs(1)) {
                Ok(line) => {
                    let failed = !line.error.is_empty();
                    if let Err(e) = record(line) {
                        stop.store(true, Ordering::Relaxed);
                        return Err(e);
                    }
                    done += 1;
                    progress.one_more(failed);
                }
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => break,
            }
            progress.tell();
        }
        progress.bar.finish_and_clear();
        Ok(done)
    })
}

/// A worker's point number `solved`. What is given back of memory is to be cleared and mapped again: the next points take it as it is.
fn solved_in_turn(solved: usize, solve: impl Fn() -> Line) -> Line {
    let line = solve();
    if solved.is_multiple_of(POINTS_WITH_THE_SAME_MEMORY) {
        memory::give_back();
    }
    line
}

/// Points done, failed, per minute, and time left.
struct Told {
    bar: ProgressBar,
    lines: bool,
    all: usize,
    done: usize,
    failed: usize,
    start: Instant,
    told: Instant,
}

impl Told {
    fn new(all: usize, quiet: bool) -> Self {
        let terminal = std::io::stderr().is_terminal();
        let bar = if terminal && !quiet { ProgressBar::new(all as u64) } else { ProgressBar::hidden() };
        if let Ok(style) = ProgressStyle::with_template("{bar:30} {msg}") {
            bar.set_style(style);
        }
        let now = Instant::now();
        Self { bar, lines: !terminal && !quiet, all, done: 0, failed: 0, start: now, told: now }
    }

    fn one_more(&mut self, failed: bool) {
        self.done += 1;
        self.failed += usize::from(failed);
        self.bar.inc(1);
    }

    fn text(&self) -> String {
        let minutes = self.start.elapsed().as_secs_f64() / 60.0;
        let rate = self.done as f64 / minutes.max(1e-9);
        let left = if self.done > 0 { (self.all - self.done) as f64 / rate } else { f64::NAN };
        let left = match left {
            m if m.is_nan() => "time left not known yet".to_owned(),
            m if m < 1.0 => format!("{:.0} s left", 60.0 * m),
            m if m < 120.0 => format!("{m:.0} min left"),
            m => format!("{:.1} h left", m / 60.0),
        };
        format!("{} of {} points done, {} failed, {rate:.0} per minute, {left}", self.done, self.all, self.failed)
    }

    fn tell(&mut self) {
        self.bar.set_message(self.text());
        if self.lines && self.told.elapsed() >= TOLD_EVERY {
            self.told = Instant::now();
            // Nothing can be reported once stderr itself is gone.
            let _ = writeln!(std::io::stderr().lock(), "{}", self.text());
        }
    }
}
