//! Shapes many takes at once: one bad file stops no other, and is named at the end.

use std::collections::BTreeSet;
use std::fs;
use std::panic::{self, AssertUnwindSafe};
use std::path::{Path, PathBuf};
use std::thread;

use indicatif::{ProgressBar, ProgressStyle};
use polso::offline::save::Unnamed;
use polso::offline::shape::report::Report;
use polso::offline::stored_take::{ShapedPlace, StoredTake};
use polso::offline::{LaneRule, Settings, save, shape_over_lanes};
use rayon::prelude::*;
use serde_json::{Value as Json, json};

use super::answer::{Answer, Exit};
use super::folder::Job;

/// The most jobs at a time; more threads than that are a slip of the finger.
pub const JOBS_MAX: usize = 256;

/// So many files are written before the disk is asked for them, and named together: the wait for
/// it is as long for one as for all.
const TOGETHER: usize = 32;

/// What became of one file.
enum Outcome {
    Shaped(Report),
    /// One sentence.
    Refused(String),
    /// A fault of the program's own; the panic hook has said where.
    OwnFault,
}

/// How every file of a batch is shaped.
pub struct Batch {
    pub settings: Settings,
    pub lanes: LaneRule,
    /// Files that are there are overwritten.
    pub is_forced: bool,
    /// The take is written beside each.
    pub keeps_take: bool,
}

impl Batch {
    /// Shapes every job, at most `thread_count` at a time (0 is one for each core).
    pub fn run(&self, jobs: &[Job], thread_count: usize, is_json: bool) -> Answer {
        let pool = match rayon::ThreadPoolBuilder::new().num_threads(thread_count).build() {
            Ok(pool) => pool,
            Err(error) => return Answer::bad_input(format!("--jobs {thread_count}: {error}")),
        };
        // It is silent where standard error is no terminal.
        let bar = ProgressBar::new(jobs.len() as u64);
        let style = "{pos} of {len} files, {per_sec}, {eta} left  {wide_bar}";
        bar.set_style(ProgressStyle::with_template(style).unwrap_or(ProgressStyle::default_bar()));
        let fresh = fresh_folders(jobs);
        let mut outcomes: Vec<Outcome> = Vec::with_capacity(jobs.len());
        for jobs in jobs.chunks(TOGETHER) {
            let each = jobs.par_iter().with_max_len(1).map(|job| {
                let shaped = panic::catch_unwind(AssertUnwindSafe(|| self.shape(job)));
                bar.inc(1);
                shaped
            });
            outcomes.extend(named(pool.install(|| each.collect())));
        }
        bar.finish_and_clear();
        // Into some of the folders nothing may have come; only empty ones can be removed.
        fresh.iter().rev().for_each(|folder| drop(fs::remove_dir(folder)));
        answer(jobs, &outcomes, is_json)
    }

    fn shape(&self, job: &Job) -> ShapedFile {
        let Batch { settings, lanes, is_forced, keeps_take } = self;
        let Job { input, output } = job;
        save::check_taken(input, output, *is_forced).map_err(|error| error.to_string())?;
        let take = StoredTake::read(input).map_err(|error| error.to_string())?;
        let told = |error: polso::offline::Error| format!("{}: {error}", input.display());
        let shaped = shape_over_lanes(take.as_take(), settings, *lanes).map_err(told)?;
        let folder = output.parent().unwrap_or(Path::new("."));
        fs::create_dir_all(folder).map_err(|error| format!("{}: {error}", folder.display()))?;
        let place = ShapedPlace { input, output, is_forced: *is_forced, keeps_take: *keeps_take };
        let written = place.write_unnamed(&shaped, &take.bytes);
        let (files, _) = written.map_err(|error| error.to_string())?;
        Ok((shaped.report, files))
    }
}

/// The folders that are still to be made, outer ones first.
fn fresh_folders(jobs: &[Job]) -> BTreeSet<PathBuf> {
    let mut fresh = BTreeSet::new();
    for job in jobs {
        let above = job.output.ancestors().skip(1);
        let missing = above.take_while(|it| !it.as_os_str().is_empty() && !it.exists());
        fresh.extend(missing.map(Path::to_owned));
    }
    fresh
}

/// A shaped take and the take itself beside their places, or one sentence.
type ShapedFile = Result<(Report, Vec<Unnamed>), String>;

/// What was shaped gets its names. A take that ended in a panic is a fault of the program's own.
fn named(shaped: Vec<thread::Result<ShapedFile>>) -> Vec<Outcome> {
    let mut files = Vec::new();
    let mut outcomes: Vec<Outcome> = Vec::with_capacity(shaped.len());
    for one in shaped {
        outcomes.push(match one {
            Ok(Ok((report, own))) => {
                files.push((outcomes.len(), own));
                Outcome::Shaped(report)
            }
            Ok(Err(sentence)) => Outcome::Refused(sentence),
            Err(_) => Outcome::OwnFault,
        });
    }
    let (places, files): (Vec<usize>, Vec<Vec<Unnamed>>) = files.into_iter().unzip();
    for (place, named) in places.into_iter().zip(save::name_all(files)) {
        if let Err(error) = named {
            outcomes[place] = Outcome::Refused(error.to_string());
        }
    }
    outcomes
}

fn answer(jobs: &[Job], outcomes: &[Outcome], is_json: bool) -> Answer {
    let shaped = || {
        let pairs = jobs.iter().zip(outcomes);
        pairs.filter_map(|(job, outcome)| match outcome {
            Outcome::Shaped(report) => Some((job, report)),
            _ => None,
        })
    };
    let bad: Vec<(&Job, String)> = jobs
        .iter()
        .zip(outcomes)
        .filter_map(|(job, outcome)| match outcome {
            Outcome::Shaped(_) => None,
            Outcome::Refused(sentence) => Some((job, sentence.clone())),
            Outcome::OwnFault => {
                let input = job.input.display();
                Some((job, format!("{input}: the program has a fault of its own here")))
            }
        })
        .collect();
    let is_own_fault = outcomes.iter().any(|outcome| matches!(outcome, Outcome::OwnFault));
    let exit = match (is_own_fault, bad.len()) {
        (true, _) => Exit::OwnFault,
        (false, 0) => Exit::Fine,
        (false, count) if count == jobs.len() => Exit::BadInput,
        (false, _) => Exit::Findings,
    };
    let (notes, hours) = shaped().fold((0, 0.0), |(notes, hours), (_, report)| {
        let lines = &report.lines;
        let length_s = lines.iter().map(|line| line.length_s).fold(0.0, f64::max);
        (notes + lines.iter().map(|line| line.notes).sum::<usize>(), hours + length_s / 3600.0)
    });
    let shaped_count = jobs.len() - bad.len();
    if is_json {
        let object = json!({
            "shaped_count": shaped_count,
            "refused_count": bad.len(),
            "notes": notes,
            "hours": hours,
            "shaped": shaped().map(row).collect::<Vec<Json>>(),
            "refused": bad.iter().map(|(job, sentence)| {
                json!({ "input": job.input.to_string_lossy(), "sentence": sentence })
            }).collect::<Vec<Json>>(),
        });
        return Answer { exit, out: format!("{object}\n"), err: String::new() };
    }
    let out =
        format!("{shaped_count} of {} files shaped: {notes} notes, {hours:.1} hours\n", jobs.len());
    let mut err: String = bad.iter().map(|(_, sentence)| format!("{sentence}\n")).collect();
    for (job, report) in shaped() {
        let input = job.input.display();
        report.notices.iter().for_each(|notice| err += &format!("{input}: {notice}\n"));
    }
    Answer { exit, out, err }
}

fn row((job, report): (&Job, &Report)) -> Json {
    json!({
        "input": job.input.to_string_lossy(),
        "output": job.output.to_string_lossy(),
        "report": report,
    })
}
