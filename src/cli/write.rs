//! `facewright write`: plan, write and prove a program, then save it.

use super::destination::Destination;
use super::division::{parts_of_before, path_of_part};
use super::error::CliError;
use super::inputs::FILE;
use super::next::{self, Kind, Varied};
use super::output::{self, Detail, Replacing};
use super::survey::Format;
use super::{ledger, proof};
use crate::input::Input;
use crate::job::Job;
use crate::ledger::Stamp;
use crate::pipeline::{Loaded, ProvedPart};
use crate::plan::{Options, Plan};
use crate::proof::Rank;
use crate::report::written::{self, WrittenFile};
use crate::report::{account, again, parts, try_out};
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
#[command(after_help = "Example:\n  facewright write demo-data/job.yaml -o target/example.nc")]
pub(super) struct Write {
    /// The job file, or `-` for standard input
    #[arg(value_hint = FILE)]
    job: Input,
    /// Write the program to this file; `-` for standard output, as without it
    #[arg(short, long, value_name = "FILE", value_hint = FILE)]
    output: Option<Destination>,
    /// An account for a person, or one JSON object on standard output (its shape: docs/guide.md); the program is in it where no file is named
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
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
    /// A small dry program for a new control: every word once, beside the park, with what must be seen after each block
    ///
    /// Run it with an empty chuck, block by block. No scan is read and no wheel is cut; docs/controls.md says what to do where something else is seen.
    #[arg(long, conflicts_with_all = ["only", "next", "already", "trial", "format"])]
    try_out: bool,
    /// Depth that an earlier program of this job has taken off already, such as 0.32mm; as the ledger holds it if left out
    #[arg(long, value_name = "DEPTH", value_parser = next::depth)]
    already: Option<Length>,
}

impl Write {
    /// Runs the command.
    pub fn run(self, detail: Detail) -> Result<(), CliError> {
        let loaded = load(&self.job, &self.varied, self.trial)?;
        let inches = loaded.job().control.unit_word.is_inch();
        let done = if self.try_out { self.try_out(&loaded) } else { self.of(&loaded, detail) };
        done.map_err(|error| error.for_shop(inches))
    }

    fn of(self, loaded: &Loaded, detail: Detail) -> Result<(), CliError> {
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
        let begins = surveyed.survey().begins();
        let again = again::account(surveyed.survey());
        let account = account(job, program.plan(), &again, parts, detail);
        let account = for_shop(account, job.control.unit_word.is_inch());
        let file = self.output.as_ref().and_then(Destination::file);
        let json = |files: &[WrittenFile<'_>]| {
            let failed = |e| CliError::File {
                action: "write",
                path: "the account as JSON".into(),
                source: std::io::Error::other(e),
            };
            written::json(job, program.plan(), files).map_err(failed)
        };
        let Some(path) = file else {
            if matches!(self.format, Format::Json) {
                let files: Vec<WrittenFile<'_>> =
                    parts.iter().map(|part| of_part(part, begins, None)).collect();
                return output::print(json(&files)?.as_bytes());
            }
            let [part] = parts else {
                return Err(CliError::Input(format!(
                    "the program is larger than the control takes and comes in {} parts, which one stream cannot hold\n  to mend it: name a file with -o FILE",
                    parts.len()
                )));
            };
            output::tell_page(&account)?;
            return output::print(part.program().text.as_bytes());
        };
        let files: Vec<(PathBuf, &[u8])> = (parts.iter().map(ProvedPart::program))
            .map(|program| (path_of_part(path, &program.name_suffix()), program.text.as_bytes()))
            .collect();
        let replacing = Replacing { job, inputs: &[], force: self.force };
        output::write_files(&files, || parts_of_before(path, &files), replacing)?;
        if matches!(self.format, Format::Json) {
            let files: Vec<WrittenFile<'_>> =
                parts.iter().zip(&files).map(|(part, (path, _))| of_part(part, begins, Some(path))).collect();
            return output::print(json(&files)?.as_bytes());
        }
        // Writing to a string cannot fail.
        let mut written = String::new();
        if parts.len() > 1 {
            let _ = writeln!(written, "parts    {}", parts::in_all(parts.iter().map(ProvedPart::program)));
        }
        for (part, (path, _)) in parts.iter().zip(&files) {
            let program = part.program();
            let _ = write!(written, "written  {} ({} blocks)", path.display(), program.blocks.len());
            if program.of == 1 {
                let _ = writeln!(written);
            } else {
                let alone = next::to_prove_alone(job, part.among(), begins);
                let _ = writeln!(written, ": {}; to prove it alone: {alone}", parts::holds(program));
            }
        }
        output::print_text(&(account + &written))
    }
}

impl Write {
    /// Writes the dry program, and tells what must be seen of it.
    fn try_out(&self, loaded: &Loaded) -> Result<(), CliError> {
        let tried = loaded.try_out()?;
        let program = tried.program();
        let account = try_out::account(tried.seen(), tried.report());
        let account = for_shop(account, loaded.job().control.unit_word.is_inch());
        let Some(path) = self.output.as_ref().and_then(Destination::file) else {
            output::tell_page(&account)?;
            return output::print(program.text.as_bytes());
        };
        let replacing = Replacing { job: loaded.job(), inputs: &[], force: self.force };
        let files = [(path.to_owned(), program.text.as_bytes())];
        output::write_files(&files, || parts_of_before(path, &files), replacing)?;
        output::print_text(&format!(
            "{account}written  {} ({} blocks)\n",
            path.display(),
            program.blocks.len()
        ))
    }
}

/// The account as long as it was asked for.
fn account(job: &Job, plan: &Plan, again: &str, parts: &[ProvedPart], detail: Detail) -> String {
    let whole = account::of(job, plan) + again + &proof_lines(parts);
    match detail {
        Detail::Quiet => {
            let kept = |line: &&str| line.starts_with("warning") || line.starts_with("caution");
            whole.lines().filter(kept).fold(String::new(), |text, line| text + line + "\n")
        }
        Detail::Usual => whole,
        Detail::Whole => {
            let inches = job.control.unit_word.is_inch();
            let reports = parts.iter().map(|part| format!("\n{}\n", proof::in_units(part.report(), inches)));
            reports.fold(whole, |text, report| text + &report)
        }
    }
}

/// A part for the JSON account; with its text where it goes to no file.
fn of_part<'p>(part: &'p ProvedPart, begins: Length, path: Option<&Path>) -> WrittenFile<'p> {
    let program = part.program();
    WrittenFile {
        file: path.map(|p| p.to_string_lossy().into_owned()),
        text: path.is_none().then_some(program.text.as_str()),
        blocks: program.blocks.len(),
        time_s: program.time.as_s(),
        holds: (program.of > 1).then(|| parts::holds(program)),
        already_mm: (program.before - begins).as_mm(),
        goes_on: part.among().goes_on,
        ends_at_mm: part.among().ends_at.map(|depth| (depth - begins).as_mm()),
        rest_passes_before: part.among().rest_passes,
        proof: part.report(),
    }
}

/// The job of a file, varied for this time, or the trial that it lists.
pub(super) fn load(from: &Input, varied: &Varied, trial: bool) -> Result<Loaded, CliError> {
    let loaded = varied.load(from)?;
    if !trial {
        return Ok(loaded);
    }
    loaded.into_trial().ok_or_else(|| {
        CliError::Input(format!(
            "{}: the job lists no rings to try\n  to mend it: add for example `trial: [{{ name: A, from: 100 mm, to: 108 mm, feed: 0.10 mm/rev }}]`",
            from.name().display()
        ))
    })
}

/// The result of the proof: one line for each part, and one for every warning and every note.
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
        for (word, rank) in [("warning", Rank::Warning), ("note   ", Rank::Note)] {
            for finding in of(rank) {
                let line = finding.place.program_line();
                let place = line.map_or_else(String::new, |line| format!("line {line}: "));
                let remedy =
                    if finding.remedy.is_empty() { String::new() } else { format!("; {}", finding.remedy) };
                let _ = writeln!(text, "{word}  {place}{}{remedy}", finding.what);
            }
        }
    }
    text
}

fn counted(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}
