//! `facewright proof`: read any program back and say what it would do to the wheel.

use super::error::CliError;
use super::inputs::{self, FILE};
use super::next::{Others, Varied, depth};
use super::output::Detail;
use super::survey::Format;
use super::{output, together};
use crate::input::{self, Input};
use crate::pipeline::Loaded;
use crate::proof::{self, ReadBack, Report, Simulation, Verdict, simulate};
use crate::units::{Length, for_shop};
use clap::Args;
use std::fmt::Write;

/// Read any program back and say what it would do to the wheel
///
/// Any ISO 6983 style program will do, written here, written elsewhere, or edited by hand at the machine. The proof knows the
/// measured face, the job and the shop file, and shares no reckoning with the planner: it follows the tool block by block and
/// says what it finds, each with its block, why it matters at the lathe and what to do. Exit code 1 on any stop.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  facewright write demo-data/job.yaml -o target/example.nc\n  facewright proof target/example.nc --job demo-data/job.yaml"
)]
pub(super) struct Proof {
    /// The program, or `-` for standard input
    #[arg(value_hint = FILE)]
    program: Input,
    /// The job file, or `-` for standard input
    #[arg(long, value_hint = FILE)]
    job: Input,
    /// How to print the result: a page for a person, or one documented JSON object
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Say every block in plain words
    #[arg(long)]
    explain: bool,
    /// Say what differs from this other program in cutting terms; `-` for standard input
    #[arg(long, value_name = "OTHER", value_hint = FILE)]
    against: Option<Input>,
    /// Depth that earlier programs of this job took off before this one, such as 0.32mm; as the ledger holds it if left out
    #[arg(long, value_name = "DEPTH", value_parser = depth)]
    already: Option<Length>,
    #[command(flatten)]
    varied: Varied,
    /// The program cuts the rings that the job lists under `trial`
    #[arg(long)]
    trial: bool,
    #[command(flatten)]
    others: Others,
}

/// What is told where a run was killed while it put files in their places.
const HALF_DONE: &str = "warning: a run was ended here while it put the parts of a program in their places: parts of two programs may stand beside each other\n  to mend it: run `facewright write` again\n";

/// What was gone before a program that is there already: as somebody says, also of one that was run long ago, or else as the ledger holds it.
pub(super) fn already_of(loaded: &Loaded, said: Option<Length>) -> Result<Length, CliError> {
    said.map_or_else(|| Ok(loaded.already(None)?), Ok)
}

impl Proof {
    /// Runs the command.
    pub fn run(self, detail: Detail) -> Result<(), CliError> {
        inputs::standard_once([Some(&self.program), Some(&self.job), self.against.as_ref()])?;
        let text = read(&self.program)?;
        if self.program.file().is_some_and(|file| together::is_half_done(together::folder_of(file))) {
            output::tell(HALF_DONE)?;
        }
        let other = self.against.as_ref().map(read).transpose()?;
        let loaded = super::write::load(&self.job, &self.varied, self.trial)?;
        let inches = loaded.job().control.unit_word.is_inch();
        self.of(&loaded, &text, other.as_deref(), detail).map_err(|error| error.for_shop(inches))
    }

    fn of(&self, loaded: &Loaded, text: &[u8], other: Option<&[u8]>, detail: Detail) -> Result<(), CliError> {
        let job = loaded.job();
        let surveyed = loaded.measure()?.survey()?;
        let already = already_of(loaded, self.already)?;
        let circumstances = self.others.circumstances(&surveyed, (job, &self.varied), already)?;
        let ReadBack { simulation, report } = surveyed.prove_other(text, &circumstances);
        let other = other.map(|text| simulate(text, job));
        let out = match self.format {
            Format::Json => self.json(&report, &simulation, other.as_ref())?,
            Format::Text => {
                let inches = job.control.unit_word.is_inch();
                let page = match detail {
                    Detail::Quiet => report.brief(),
                    Detail::Usual | Detail::Whole => in_units(&report, inches),
                };
                let report = for_shop(page + &Self::differences(&simulation, other.as_ref()), inches);
                report + &self.explained(&simulation)
            }
        };
        match self.format {
            Format::Json => output::print(out.as_bytes())?,
            Format::Text => output::print_text(&out)?,
        }
        match report.verdict {
            Verdict::Stop => {
                Err(CliError::Refused("the program must not run: see the findings ranked stop".into()))
            }
            Verdict::Look | Verdict::Sound => Ok(()),
        }
    }

    /// What differs from the other program, if one is named.
    fn differences(simulation: &Simulation, other: Option<&Simulation>) -> String {
        let mut out = String::new();
        // Writing to a string cannot fail.
        if let Some(other) = other {
            let _ = writeln!(out, "\nagainst the other program");
            for difference in proof::against(&simulation.skip_off, &other.skip_off) {
                let _ = match (difference.line, difference.other_line) {
                    (Some(line), _) => writeln!(out, "  line {line}: {}", difference.what),
                    (None, Some(line)) => writeln!(out, "  line {line} of the other: {}", difference.what),
                    (None, None) => writeln!(out, "  {}", difference.what),
                };
            }
        }
        out
    }

    /// Every block in plain words, if they are asked for: in the program's unit, whatever the shop's is.
    fn explained(&self, simulation: &Simulation) -> String {
        let mut out = String::new();
        if self.explain {
            out.push_str("\nblock by block\n");
            for block in proof::explain(simulation) {
                // Writing to a string cannot fail.
                let _ = writeln!(out, "  line {:>5}  {}", block.line, block.text);
            }
        }
        out
    }

    fn json(
        &self,
        report: &Report,
        simulation: &Simulation,
        other: Option<&Simulation>,
    ) -> Result<String, CliError> {
        #[derive(serde::Serialize)]
        struct Whole<'a> {
            #[serde(flatten)]
            report: &'a Report,
            #[serde(skip_serializing_if = "Option::is_none")]
            against: Option<Vec<proof::Difference>>,
            #[serde(skip_serializing_if = "Option::is_none")]
            explained: Option<Vec<proof::Explained>>,
        }
        let whole = Whole {
            report,
            against: other.map(|other| proof::against(&simulation.skip_off, &other.skip_off)),
            explained: self.explain.then(|| proof::explain(simulation)),
        };
        output::json(&whole)
    }
}

/// A report with its table in the unit of the shop; what stands in sentences is turned with the whole text.
pub(super) fn in_units(report: &Report, inches: bool) -> String {
    if inches { format!("{report:#}") } else { report.to_string() }
}

/// The bytes of a program.
pub(super) fn read(from: &Input) -> Result<Vec<u8>, CliError> {
    let failed = |source| CliError::File { action: "read", path: from.name().to_owned(), source };
    from.read(input::LARGEST_PROGRAM).map_err(failed)
}
