//! `modalith variants`: many variants of one device, in parallel, in parts, and resumable. In: a plan. Out: a folder with a journal
//! while it runs and, once every point is done, results.parquet, results.csv, report.html and timings.csv.

mod crew;
mod first_order;
mod follow;
mod journal;
mod keep;
mod manifest;
mod sealed;
mod shard;
mod subject;

pub use shard::{Shard, parse as parse_shard};

use super::folder::{self, Folder};
use super::memory::budget;
use super::threads::threads;
use crate::args::VariantsArgs;
use crate::exit::{CommandError, say, say_json, tell};
use crate::output::findings::peak_memory_bytes;
use crate::output::lines;
use crate::output::screen::Screen;
use crate::output::units::{bytes, duration};
use crate::output::variants::table::{self, TableError};
use crate::output::variants::{Batch, Row, html, text};
use crate::plan::Plan;
use journal::{Journal, Lines, read_all};
use manifest::Manifest;
use serde_json::Value;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;
use subject::{Found, Subject};

/// Points that a dry run shows.
const SHOWN: usize = 5;
/// Exit code of a second interruption, which does not wait.
const INTERRUPTED: i32 = 130;

impl From<TableError> for CommandError {
    fn from(error: TableError) -> Self {
        Self::Other { what: error.to_string(), hint: "the journal is whole: the same command tries again".into() }
    }
}

/// Runs the command.
///
/// # Errors
/// For a wrong plan or device, a folder of another plan or in use, and results that cannot be written.
pub fn run(args: &VariantsArgs) -> Result<(), CommandError> {
    threads(args.common.threads)?;
    if let Some(out) = &args.out {
        folder::check(out)?;
    }
    let quiet = args.common.quiet || args.common.json;
    let plan = Plan::read(&args.plan)?;
    let shard = which_part(args, quiet)?;
    let points = plan.points();
    let subject = Subject::new(&plan, budget(args.budget.memory_limit))?;
    let model = model_name(&plan, &subject);
    let drawn = &subject.drawn;
    let mut manifest = Manifest::new(plan.value(), points.len(), (&drawn.name, &drawn.input_sha256), &model);
    let Some(out) = args.out.as_deref().filter(|_| !args.dry_run) else {
        return dry_run(args, &plan, &points, &subject, &mut manifest);
    };
    match Manifest::read(out)? {
        Some(begun) => manifest = same(out, manifest, begun)?,
        None if args.merge => {
            let what = format!("{}: no batch was begun there", out.display());
            return Err(CommandError::Usage { what, hint: "give the folder that the parts were written to".into() });
        }
        None => {
            as_drawn(&plan, &subject, &mut manifest)?;
            manifest.write(out)?;
        }
    }
    if !args.merge {
        crate::memory::keep_for_points();
        solve(args, &plan, &points, &subject, (out, shard), quiet)?;
        if shard != Shard::WHOLE {
            let done = read_all(out, plan.kept.len(), points.len())?.len();
            let hint = if done == points.len() { " Join the parts with --merge." } else { "" };
            let mut t = lines::Lines::new(Screen::of_stdout(args.common.wide));
            t.sentence(&format!("Part {shard} is done; {done} of {} points so far.{hint}", points.len()));
            text::expected(&mut t, &plan, &manifest.as_drawn, &manifest.first_order);
            return if quiet { Ok(()) } else { say(&t.finish()) };
        }
    }
    let lines = read_all(out, plan.kept.len(), points.len())?;
    finish(args, &plan, &points, &manifest, &lines, out)
}

/// The model of the points, in words of the command line.
fn model_name(plan: &Plan, subject: &Subject) -> String {
    match plan.run {
        crate::plan::Run::Audit => "every model".into(),
        _ => subject.choice.model.to_string(),
    }
}

/// The part that this process does: stated, or told by the scheduler.
fn which_part(args: &VariantsArgs, quiet: bool) -> Result<Shard, CommandError> {
    if let Some(shard) = args.shard {
        return Ok(shard);
    }
    if args.merge || args.dry_run {
        return Ok(Shard::WHOLE);
    }
    let Some((shard, name)) = shard::of_scheduler(|name| std::env::var(name).ok())? else { return Ok(Shard::WHOLE) };
    if !quiet {
        tell("note", &format!("part {shard} of the points, after {name}"));
    }
    Ok(shard)
}

/// The manifest that a folder was begun with, if it is of the same batch.
fn same(out: &Path, own: Manifest, begun: Manifest) -> Result<Manifest, CommandError> {
    let differences = own.differences(&begun);
    if differences.is_empty() {
        return Ok(begun);
    }
    let what = format!("{} was begun with something else: {}", out.display(), differences.join("; "));
    Err(CommandError::Usage { what, hint: "give another folder, or go back to what this one was begun with".into() })
}

/// Solves the device as drawn: checks what is kept, and says what first-order terms expect.
fn as_drawn(plan: &Plan, subject: &Subject, manifest: &mut Manifest) -> Result<(), CommandError> {
    let Found { result, own_modes, .. } = subject.as_drawn()?;
    manifest.as_drawn = keep::of_drawn(plan, &result)?;
    manifest.labels = follow::labels(&result);
    let device = subject.value();
    manifest.first_order = plan.kept.iter().map(|k| first_order::expected(plan, device, &own_modes, k)).collect();
    Ok(())
}

/// Threads, and no more than there is memory for, each with a point.
fn thread_count(args: &VariantsArgs, subject: &Subject) -> usize {
    let all = || std::thread::available_parallelism().map_or(1, usize::from);
    let fit = args.budget.memory_limit.checked_div(subject.needed).map_or(usize::MAX, |n| n as usize);
    args.common.threads.map_or_else(all, usize::from).min(fit.max(1))
}

/// Does the points of a part that no journal of the folder has.
fn solve(
    args: &VariantsArgs,
    plan: &Plan,
    points: &[Vec<Value>],
    subject: &Subject,
    (out, shard): (&Path, Shard),
    quiet: bool,
) -> Result<(), CommandError> {
    let mut journal = Journal::open(out, shard)?;
    let done = read_all(out, plan.kept.len(), points.len())?;
    let pending: Vec<usize> = (0..points.len()).filter(|&p| shard.has(p) && !done.contains_key(&(p + 1))).collect();
    if pending.is_empty() {
        return Ok(());
    }
    let stop = Arc::new(AtomicBool::new(false));
    let asked = Arc::clone(&stop);
    let handler = move || {
        if asked.swap(true, Ordering::Relaxed) {
            std::process::exit(INTERRUPTED);
        }
        tell("note", "ending after the points at work; once more ends at once");
    };
    ctrlc::set_handler(handler).map_err(|e| CommandError::Other {
        what: format!("interruptions cannot be caught: {e}"),
        hint: String::new(),
    })?;
    let line = |p: usize| keep::line(plan, subject, p, &points[p]);
    let count = crew::run(&pending, thread_count(args, subject), quiet, &stop, line, |line| journal.append(&line))?;
    if count < pending.len() {
        let what = format!("interrupted: {count} points done, {} of this part left", pending.len() - count);
        return Err(CommandError::Other { what, hint: "the same command goes on from there".into() });
    }
    Ok(())
}

/// Writes the results of a whole batch.
fn finish(
    args: &VariantsArgs,
    plan: &Plan,
    points: &[Vec<Value>],
    manifest: &Manifest,
    lines: &Lines,
    out: &Path,
) -> Result<(), CommandError> {
    if lines.len() < points.len() {
        let first = (1..=points.len()).find(|p| !lines.contains_key(p)).unwrap_or(0);
        let what =
            format!("{} of {} points are not done yet, the first is {first}", points.len() - lines.len(), points.len());
        return Err(CommandError::Other { what, hint: "run the parts that are missing, then merge again".into() });
    }
    let row = |l: &journal::Line| Row {
        kept: l.kept.clone(),
        modes: l.modes.clone(),
        meshed_anew: l.meshed_anew,
        error: l.error.clone(),
    };
    let rows: Vec<Row> = lines.values().map(row).collect();
    let batch = Batch {
        plan,
        device: &manifest.device,
        model: &manifest.model,
        as_drawn: &manifest.as_drawn,
        labels: &manifest.labels,
        first_order: &manifest.first_order,
        points,
        rows: &rows,
    };
    let answer = text::answer(&batch, Screen::FILE).finish();
    let json = text::document(&batch);
    let mut folder = Folder::open(out)?;
    folder.write("results.csv", &table::csv(&batch)?)?;
    folder.write("results.parquet", &table::parquet(&batch)?)?;
    folder.write("variants.json", format!("{json:#}\n").as_bytes())?;
    folder.write("report.html", html::report_html(&batch, &answer).as_bytes())?;
    let mut timings = "point,seconds\n".to_owned();
    lines.values().for_each(|l| timings.push_str(&format!("{},{:.6}\n", l.point, l.seconds)));
    folder.write("timings.csv", timings.as_bytes())?;
    let files = folder.finish()?;
    if args.common.json {
        return say_json(&format!("{json:#}\n"));
    }
    if args.common.quiet {
        return Ok(());
    }
    let seconds: f64 = lines.values().map(|l| l.seconds).sum();
    let (all, each) = (duration(seconds), duration(seconds / points.len() as f64));
    let mut t = text::answer(&batch, Screen::of_stdout(args.common.wide));
    t.told("Wrote     ", &format!("{} in {}", files.join(" "), out.display()));
    t.told("          ", &format!("{all} of solving, {each} a point. Design estimates, not tests."));
    say(&t.finish())
}

/// Says how many points there are, shows the first, and estimates time and memory from one of them; writes nothing.
fn dry_run(
    args: &VariantsArgs,
    plan: &Plan,
    points: &[Vec<Value>],
    subject: &Subject,
    manifest: &mut Manifest,
) -> Result<(), CommandError> {
    as_drawn(plan, subject, manifest)?;
    let clock = Instant::now();
    let first = crew_of_one(|| keep::line(plan, subject, 0, &points[0]))?;
    let seconds = clock.elapsed().as_secs_f64();
    let threads = thread_count(args, subject).min(points.len());
    let mine = args.shard.map_or(points.len(), |s| (0..points.len()).filter(|&p| s.has(p)).count());
    let total = seconds * mine.div_ceil(threads) as f64;
    if args.common.json {
        let shown: Vec<&Vec<Value>> = points.iter().take(SHOWN).collect();
        let json = serde_json::json!({
            "points": points.len(), "of_this_part": mine, "first_points": shown, "model": manifest.model,
            "seconds_per_point": seconds, "threads": threads, "estimated_seconds": total,
        });
        return say_json(&format!("{json:#}\n"));
    }
    let mut t = lines::Lines::new(Screen::of_stdout(args.common.wide));
    t.sentence(&format!("{}: {} with {}", manifest.device, plan.run.name(), manifest.model));
    t.told("Points    ", &text::sampling(plan));
    let part = args.shard.map_or_else(String::new, |s| format!(", {mine} of them in part {s}"));
    let (each, all) = (duration(seconds), duration(total));
    t.told(
        "Time      ",
        &format!("{each} a point; about {all} on {threads} threads for {} points{part}", points.len()),
    );
    if let Some(peak) = peak_memory_bytes() {
        let (one, every) = (bytes(peak), bytes(peak * threads as u64));
        t.told("Memory    ", &format!("at most {one} for one thread, {every} for {threads}"));
    }
    text::expected(&mut t, plan, &manifest.as_drawn, &manifest.first_order);
    for (n, values) in points.iter().take(SHOWN).enumerate() {
        let pairs = plan.variables.iter().zip(values).map(|(v, x)| format!("{} = {}", v.pointer, table::plain(x)));
        t.told(&format!("Point {:<4}", n + 1), &pairs.collect::<Vec<_>>().join(", "));
    }
    if !first.error.is_empty() {
        t.told("Failed    ", &format!("point 1: {}", first.error));
    }
    t.sentence("Nothing was written.");
    say(&t.finish())
}

/// Does something as a worker of a batch does it: with one thread.
fn crew_of_one<T: Send>(work: impl FnOnce() -> T + Send) -> Result<T, CommandError> {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build();
    let pool = pool.map_err(|e| CommandError::Other {
        what: format!("a thread could not be started: {e}"),
        hint: "end other programs and try again".into(),
    })?;
    Ok(pool.install(work))
}
