//! `facewright ledger`: what is known of wheels and edges, and what was cut.

use super::error::CliError;
use super::inputs::FILE;
use super::{next, output, proof};
use crate::diagnostics::text::visible;
use crate::input::Input;
use crate::job::Variation;
use crate::ledger::{
    Confirmation, Correction, GaugeReading, Ledger as Book, LedgerError, Moment, Stamp, TableName, Taken,
    compare,
};
use crate::pipeline;
use crate::report::passport;
use crate::units::{Length, for_shop, name_as_written};
use clap::{Args, Subcommand, ValueEnum};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

/// Say what was cut, and look up what is known of a wheel or a tool's edge
///
/// A shop that keeps a ledger names it in the shop file (`ledger: wheels.db`), and a job gives its wheel's `number`. `write` then
/// enters what was surveyed and written; what was cut is entered only here, by whoever cut it. An entry is never changed or
/// deleted: a mistake is put right by a new entry. docs/ledger.md tells the whole story.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  facewright ledger --help")]
pub(super) struct Ledger {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Debug, Subcommand)]
enum Verb {
    Confirm(Confirm),
    Correct(Correct),
    Show(Show),
    Edge(Edge),
    NewEdge(NewEdge),
    Compare(Compare),
    Export(Export),
    Check(Check),
}

impl Ledger {
    /// Runs the command.
    pub fn run(self) -> Result<(), CliError> {
        match self.verb {
            Verb::Confirm(verb) => verb.run(),
            Verb::Correct(verb) => verb.run(),
            Verb::Show(verb) => verb.run(),
            Verb::Edge(verb) => verb.run(),
            Verb::NewEdge(verb) => verb.run(),
            Verb::Compare(verb) => verb.run(),
            Verb::Export(verb) => verb.run(),
            Verb::Check(verb) => verb.run(),
        }
    }
}

/// Which ledger.
#[derive(Debug, Args)]
struct Which {
    /// The ledger
    #[arg(short, long, value_name = "FILE")]
    ledger: PathBuf,
}

impl Which {
    fn open(&self) -> Result<Book, CliError> {
        let path = &self.ledger;
        Ok(Book::open(path)?.ok_or_else(|| LedgerError::NoLedger { path: path.clone() })?)
    }
}

/// What a gauge showed.
#[derive(Debug, Args)]
struct Gauge {
    /// How deep a depth gauge shows the face to stand now below the face as first measured, such as 0.276mm or 0.0109in: over the
    /// highest place, against metal beside the zones that is not cut
    #[arg(long, value_name = "DEPTH", value_parser = next::depth, conflicts_with = "taken")]
    gauge: Option<Length>,
    /// How well the gauge tells it
    #[arg(long, value_name = "DEPTH", value_parser = next::depth, requires = "gauge")]
    within: Option<Length>,
}

impl Gauge {
    /// What was really taken, where it was measured one way or the other.
    fn or(&self, taken: Option<Length>) -> Option<Taken> {
        let stands = |depth| Taken::Stands(GaugeReading { depth, within: self.within });
        self.gauge.map(stands).or(taken.map(Taken::Off))
    }
}

/// Prints in the units of the ledger's shop.
fn print(ledger: &Book, text: String) -> Result<(), CliError> {
    output::print(for_shop(text, ledger.reads_inches()?).as_bytes())
}

/// Who enters something, and when.
#[derive(Debug, Args)]
struct Who {
    /// Who says so
    #[arg(long, value_name = "NAME", value_parser = name)]
    by: String,
    /// When, as a day or a moment in UTC such as 2026-03-02T14:05:00Z; now if left out
    #[arg(long, value_name = "WHEN")]
    at: Option<Moment>,
}

impl Who {
    fn stamp(&self) -> Stamp {
        Stamp { at: self.at.clone().unwrap_or_else(now), by: self.by.clone() }
    }
}

/// The clock: it is read here and nowhere else.
pub(super) fn now() -> Moment {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    Moment::from_unix(since.as_secs())
}

/// A name on the command line: not empty.
fn name(text: &str) -> Result<String, String> {
    let name = text.trim();
    if name.is_empty() { Err("give a name".into()) } else { Ok(name.to_owned()) }
}

/// Say that a program has run, or some of its passes
///
/// The program is known by its bytes, so that the file must be as `write` wrote it. Its passes are confirmed in their order, each once;
/// air passes are not counted.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  facewright ledger confirm first.nc --ledger wheels.db --by Turner --passes 2\n  facewright ledger confirm first.nc --ledger wheels.db --by Turner --passes 1 --gauge 0.012in --within 0.0005in"
)]
struct Confirm {
    /// The program that was run, or `-` for standard input
    #[arg(value_hint = FILE)]
    program: Input,
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    who: Who,
    /// How many passes have run since the last confirmation; all that remain if left out
    #[arg(long, value_name = "N")]
    passes: Option<u32>,
    /// What they really took off the highest place, where it was measured; what was planned if left out
    #[arg(long, value_name = "DEPTH", value_parser = next::depth)]
    taken: Option<Length>,
    #[command(flatten)]
    gauge: Gauge,
    /// The wheel's number, where the same program was written for several wheels
    #[arg(long, value_name = "NUMBER")]
    wheel: Option<String>,
    /// Anything to remember with it
    #[arg(long, value_name = "TEXT", default_value = "")]
    note: String,
}

impl Confirm {
    fn run(self) -> Result<(), CliError> {
        let hash = pipeline::hash(&proof::read(&self.program)?);
        let mut ledger = self.which.open()?;
        let taken = self.gauge.or(self.taken);
        let confirmed = Confirmation { hash, wheel: self.wheel, passes: self.passes, taken, note: self.note };
        let (number, cut) = ledger.confirm(&self.who.stamp(), &confirmed)?;
        let mut text = passport::cut(&cut) + "\n";
        if let Some(planned) =
            cut.run.as_ref().map(|run| run.planned).filter(|planned| is_slip(cut.taken, *planned))
        {
            // Writing to a string cannot fail.
            let _ = writeln!(
                text,
                "warning  {:.3} is entered where {planned:.3} was planned; if that is a slip: `facewright ledger correct {} --taken DEPTH --note WHY`",
                cut.taken, cut.entry
            );
        }
        tell_taken(&mut text, &ledger, &number)?;
        print(&ledger, text)
    }
}

/// Whether a depth that was entered is so much more than was planned that a unit or a point was typed wrongly, rather than a tool set low:
/// more than twice as much, and more than a touch-off goes wrong unseen (common practice, no source).
fn is_slip(entered: Length, planned: Length) -> bool {
    const UNSEEN: f64 = 0.1;
    entered.as_mm() > 2.0 * planned.as_mm() + UNSEEN
}

/// What a wheel has lost in all.
fn tell_taken(text: &mut String, ledger: &Book, number: &str) -> Result<(), CliError> {
    if let Some(wheel) = ledger.wheel(number)? {
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "taken    {:.3} off wheel {} in all",
            wheel.taken,
            name_as_written(&visible(number))
        );
    }
    Ok(())
}

/// Put an entry of a cut right by a new entry
///
/// The old entry stays, and counts no more. Entries after it that were reckoned from it, and not measured, are reckoned anew.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  facewright ledger correct 5 --ledger wheels.db --by Turner --gauge 0.276mm --note \"measured after the third pass\""
)]
struct Correct {
    /// The entry of the cut, as `show` numbers it
    entry: i64,
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    who: Who,
    /// What was really taken off the highest place
    #[arg(long, value_name = "DEPTH", value_parser = next::depth, required_unless_present = "gauge")]
    taken: Option<Length>,
    #[command(flatten)]
    gauge: Gauge,
    /// How many passes have really run, where the entry says it wrong
    #[arg(long, value_name = "N")]
    passes: Option<u32>,
    /// Why
    #[arg(long, value_name = "TEXT", value_parser = name)]
    note: String,
}

impl Correct {
    fn run(self) -> Result<(), CliError> {
        let mut ledger = self.which.open()?;
        let taken =
            self.gauge.or(self.taken).ok_or_else(|| CliError::Input("give --taken or --gauge".to_owned()))?;
        let correction = Correction { entry: self.entry, taken, passes: self.passes, note: self.note };
        let corrected = ledger.correct(&self.who.stamp(), &correction)?;
        let mut text = String::new();
        for cut in std::iter::once(&corrected.cut).chain(&corrected.reckoned) {
            text += &(passport::cut(cut) + "\n");
        }
        tell_taken(&mut text, &ledger, &corrected.wheel)?;
        print(&ledger, text)
    }
}

/// Show a wheel: what it has lost, its surveys, programs and cuts; without a number, the numbers of all wheels
#[derive(Debug, Args)]
struct Show {
    /// The shop's own number of the wheel
    wheel: Option<String>,
    #[command(flatten)]
    which: Which,
}

impl Show {
    fn run(self) -> Result<(), CliError> {
        let ledger = self.which.open()?;
        let text = match &self.wheel {
            Some(number) => passport::wheel(&ledger.wheel(number)?.ok_or_else(|| {
                LedgerError::Asked(format!(
                    "the ledger does not know wheel {number}; `facewright ledger show` lists those it knows"
                ))
            })?),
            None => return output::print(passport::wheels(&ledger.wheels()?).as_bytes()),
        };
        print(&ledger, text)
    }
}

/// Show what the edges of a tool have cut
#[derive(Debug, Args)]
struct Edge {
    /// The tool's name in the shop file
    tool: String,
    #[command(flatten)]
    which: Which,
}

impl Edge {
    fn run(self) -> Result<(), CliError> {
        let ledger = self.which.open()?;
        let edges = ledger.edges(&self.tool)?.ok_or_else(|| {
            LedgerError::Asked(format!(
                "the ledger knows no tool `{}`; name it as the shop file does",
                self.tool
            ))
        })?;
        print(&ledger, passport::edges(&self.tool, &edges))
    }
}

/// Say that a tool was given a new edge: its insert turned or changed
#[derive(Debug, Args)]
struct NewEdge {
    /// The tool's name in the shop file
    #[arg(value_parser = name)]
    tool: String,
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    who: Who,
    /// Anything to remember with it, such as the insert's grade
    #[arg(long, value_name = "TEXT", default_value = "")]
    note: String,
}

impl NewEdge {
    fn run(self) -> Result<(), CliError> {
        let entry = self.which.open()?.new_edge(&self.who.stamp(), &self.tool, &self.note)?;
        output::print(format!("edge     entry {entry}: a new edge in {}\n", self.tool).as_bytes())
    }
}

/// Hold the face that a job has measured against one that the ledger keeps
///
/// Is it the same model, and what is missing where? Without options: against the last other measurement of the same wheel.
#[derive(Debug, Args)]
struct Compare {
    /// The job file, or `-` for standard input
    #[arg(value_hint = FILE)]
    job: Input,
    /// The wheel whose face is taken, such as another of the same set; the job's own if left out
    #[arg(long, value_name = "NUMBER")]
    wheel: Option<String>,
    /// The entry of the survey whose face is taken; the last one if left out
    #[arg(long, value_name = "ENTRY")]
    entry: Option<i64>,
    /// Text for a person, or one JSON object (its shape: docs/ledger.md)
    #[arg(long, value_enum, default_value_t = super::survey::Format::Text)]
    format: super::survey::Format,
}

impl Compare {
    fn run(self) -> Result<(), CliError> {
        let loaded = pipeline::load_input(&self.job, &Variation::default())?;
        let (entry, kept) = loaded.kept_face(self.wheel.as_deref(), self.entry)?;
        let surveyed = loaded.measure()?.survey()?;
        let face = pipeline::face_to_keep(surveyed.survey());
        let said = compare(&kept, &face).ok_or_else(|| {
            LedgerError::Asked(format!(
                "the face of entry {entry} and that of the job share too few radii to be compared"
            ))
        })?;
        let text = match self.format {
            super::survey::Format::Text => {
                let inches = loaded.job().control.unit_word.is_inch();
                for_shop(passport::comparison(entry, &said), inches)
            }
            super::survey::Format::Json => output::json(&said)?,
        };
        output::print(text.as_bytes())
    }
}

/// Give out all entries for other programs
///
/// JSON holds every table; CSV (RFC 4180) one. Depths are whole nanometres, as the ledger keeps them.
#[derive(Debug, Args)]
struct Export {
    #[command(flatten)]
    which: Which,
    /// The form
    #[arg(long, value_enum, default_value_t = ExportFormat::Json)]
    format: ExportFormat,
    /// The table, for CSV
    #[arg(long, value_enum, default_value_t = TableName::Cuts)]
    table: TableName,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum ExportFormat {
    Json,
    Csv,
}

impl Export {
    fn run(self) -> Result<(), CliError> {
        let tables = self.which.open()?.export()?;
        let text = match self.format {
            ExportFormat::Json => output::json(&tables)?,
            ExportFormat::Csv => tables.get(&self.table).map(crate::ledger::Table::csv).unwrap_or_default(),
        };
        output::print(text.as_bytes())
    }
}

/// Check the whole ledger: its pages, the entries that others name, and the sums
#[derive(Debug, Args)]
struct Check {
    #[command(flatten)]
    which: Which,
}

impl Check {
    fn run(self) -> Result<(), CliError> {
        let wrong = self.which.open()?.check()?;
        if wrong.is_empty() {
            return output::print(b"whole    pages, references, laws and sums hold\n");
        }
        let path: &Path = &self.which.ledger;
        Err(LedgerError::Damaged { path: path.to_owned(), what: wrong.join("\n  ") }.into())
    }
}
