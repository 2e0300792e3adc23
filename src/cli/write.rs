//! `facewright write`: plan, write and prove a program, then save it.

use super::error::CliError;
use super::next::{Kind, Varied};
use super::output::{self, Replacing};
use super::{ledger, proof};
use crate::ledger::Stamp;
use crate::pipeline::{Loaded, ProvedPart};
use crate::plan::Options;
use crate::proof::Rank;
use crate::report::{account, again};
use crate::units::{Length, for_shop};
use clap::Args;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Plan the passes and write the program
///
/// Reads the job, its shop file and its scans, plans an air pass, rough and finish passes, and writes
/// them as an ISO 6983 style program for the control of the shop file. With -o the program goes to the
/// file and a short account to standard output; without it the program goes to standard output and the
/// account to standard error. A program larger than the control takes is split at passes, into files
/// with -part-1-of-3 and so on before the ending of FILE.
#[derive(Debug, Args)]
pub(super) struct Write {
    /// The job file
    job: PathBuf,
    /// Write the program to this file
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Replace a file that facewright did not write, or that was edited since
    #[arg(long)]
    force: bool,
    #[command(flatten)]
    varied: Varied,
    /// Only the rough passes, or only the finish passes
    #[arg(long, conflicts_with = "next")]
    only: Option<Kind>,
    /// Cut the rings that the job lists under `trial`, and nothing else: for a scrap wheel, to find a texture by eye
    #[arg(long, conflicts_with_all = ["only", "next", "already"])]
    trial: bool,
    /// Depth that an earlier program of this job has taken off already, such as 0.32mm; as the ledger holds it if left out
    #[arg(long, value_name = "DEPTH", value_parser = proof::depth)]
    already: Option<Length>,
}

impl Write {
    /// Runs the command.
    pub fn run(self) -> Result<(), CliError> {
        let loaded = load(&self.job, &self.varied, self.trial)?;
        let job = loaded.job();
        let surveyed = loaded.measure()?.survey()?;
        let options = Options {
            only: self.varied.only(self.only),
            already: loaded.already(self.already)?,
            ..Options::default()
        };
        let program = surveyed.plan(options)?.write()?.prove()?;
        let parts = program.parts();
        // Before the program is on disk: what can be run can also be confirmed.
        loaded.record(&surveyed, &program, &Stamp { at: ledger::now(), by: String::new() })?;
        let account =
            account::of(job, program.plan()) + &again::account(surveyed.survey()) + &proof_lines(parts);
        let account = for_shop(account, job.control.unit_word.is_inch());
        let Some(path) = &self.output else {
            let [part] = parts else {
                return Err(CliError::Input(format!(
                    "the program is larger than the control takes and comes in {} parts, which one stream cannot hold\n  to mend it: name a file with -o FILE",
                    parts.len()
                )));
            };
            output::tell(&account);
            return output::print(part.program().text.as_bytes());
        };
        let files: Vec<(PathBuf, &[u8])> = (parts.iter().map(ProvedPart::program))
            .map(|program| (part_path(path, &program.name_suffix()), program.text.as_bytes()))
            .collect();
        let replacing = Replacing { job, inputs: &[], force: self.force };
        let old = parts_of_before(path, &files);
        output::refuse_loss(&old, replacing)?;
        output::write_files(&files, replacing)?;
        output::remove(&old)?;
        let mut written = String::new();
        for (part, (path, _)) in parts.iter().zip(&files) {
            let program = part.program();
            // Writing to a string cannot fail.
            let _ = write!(written, "written  {} ({} blocks)", path.display(), program.blocks.len());
            if program.of == 1 {
                let _ = writeln!(written);
            } else {
                let more = if part.goes_on() { " --goes-on" } else { "" };
                let before = (program.before - surveyed.survey().begins()).as_mm();
                let _ = writeln!(written, "; to prove it alone: --already {before:.3}mm{more}");
            }
        }
        output::print_text(&(account + &written))
    }
}

/// The job of a file, varied for this time, or the trial that it lists.
pub(super) fn load(path: &Path, varied: &Varied, trial: bool) -> Result<Loaded, CliError> {
    let loaded = varied.load(path)?;
    if !trial {
        return Ok(loaded);
    }
    loaded.into_trial().ok_or_else(|| {
        CliError::Input(format!(
            "{}: the job lists no rings to try\n  to mend it: add for example `trial: [{{ name: A, from: 100 mm, to: 108 mm, feed: 0.10 mm/rev }}]`",
            path.display()
        ))
    })
}

/// The result of the proof: one line for each part, and one for every finding above the rank of a note.
fn proof_lines(parts: &[ProvedPart]) -> String {
    let mut text = String::new();
    for report in parts.iter().map(ProvedPart::report) {
        let of = |rank| report.findings().iter().filter(move |f| f.rank == rank);
        let (warnings, notes) = (of(Rank::Warning).count(), of(Rank::Note).count());
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "proof    read back: {} motions, no stop, {}, {}",
            report.movements,
            counted(warnings, "warning"),
            counted(notes, "note")
        );
        for finding in of(Rank::Warning) {
            let line = finding.place.program_line();
            let place = line.map_or_else(String::new, |line| format!("line {line}: "));
            let _ = writeln!(text, "warning  {place}{}; {}", finding.what, finding.remedy);
        }
    }
    text
}

fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

/// Programs of the same name that another division into parts has left: beside the new ones they would be taken for parts of these.
fn parts_of_before(path: &Path, now: &[(PathBuf, &[u8])]) -> Vec<PathBuf> {
    let folder = path.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let begin = part_path(path, "-part-");
    let begin = begin.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let is_part = |other: &Path| {
        let numbers = other.file_stem().and_then(|s| s.to_str()?.strip_prefix(&begin)?.split_once("-of-"));
        let digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
        other.extension() == path.extension() && numbers.is_some_and(|(k, n)| digits(k) && digits(n))
    };
    let whole = (now.len() > 1).then(|| path.to_owned());
    let mut old: Vec<PathBuf> = entries
        .filter_map(|e| Some(folder.join(e.ok()?.file_name())))
        .filter(|other| is_part(other))
        .chain(whole.filter(|p| p.is_file()))
        .filter(|other| !now.iter().any(|(new, _)| new.file_name() == other.file_name()))
        .collect();
    old.sort();
    old
}

/// The path of a part: its suffix is inserted before the file extension.
fn part_path(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.file_stem().unwrap_or_default().to_owned();
    name.push(suffix);
    if let Some(ending) = path.extension() {
        name.push(".");
        name.push(ending);
    }
    path.with_file_name(name)
}
