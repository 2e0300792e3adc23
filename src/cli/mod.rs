//! The command line: one file a subcommand, arguments in, text out, exit codes.
//!
//! Exit codes: 0 done; 1 refused, since the wheel, the plan or the program is not safe as asked; 2 the
//! command line or an input file is wrong; 3 a file could not be read or written.

mod destination;
mod division;
mod error;
mod explain;
mod inputs;
mod ledger;
mod manual;
mod new;
mod next;
mod output;
mod proof;
mod schema;
mod sheet;
mod survey;
mod together;
mod touch;
mod width;
mod write;

use clap::{Parser, Subcommand};
use output::Detail;
use std::io::{ErrorKind, Write};
use std::process::ExitCode;

/// From measured traces of an alloy wheel's face to a proved facing program for a two-axis lathe.
///
/// A job file says what one wheel needs, a shop file what the workshop has; docs/guide.md follows a
/// wheel from scan to program. Results go to standard output, notes to standard error.
///
/// Exit codes: 0 done; 1 refused, since the wheel, the plan or the program is not safe as asked (the
/// message says why); 2 the command line or an input file is wrong (file, line, column and fix); 3 a
/// file could not be read or written.
#[derive(Debug, Parser)]
#[command(version, max_term_width = 100)]
struct Arguments {
    /// Of what is printed for a person only what must be seen: verdicts, warnings, cautions and what was written
    #[arg(short, long, global = true, conflicts_with = "verbose")]
    quiet: bool,
    /// What else there is to tell: after the account of `write` the whole proof
    #[arg(short, long, global = true)]
    verbose: bool,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Completions(manual::Completions),
    Explain(explain::Explain),
    Ledger(ledger::Ledger),
    Manual(manual::Manual),
    New(new::New),
    Proof(proof::Proof),
    Schema(schema::Schema),
    Sheet(sheet::Sheet),
    Survey(survey::Survey),
    Touch(touch::Touch),
    Write(write::Write),
}

/// Runs the command that the process was started with.
#[must_use]
pub fn run() -> ExitCode {
    let Arguments { quiet, verbose, command } = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(said) => return said_by_parser(&said),
    };
    let detail = match (quiet, verbose) {
        (true, _) => Detail::Quiet,
        (false, false) => Detail::Usual,
        (false, true) => Detail::Whole,
    };
    // On one of the threads that share the work: from any other each share would be waited for asleep.
    let done = rayon::scope(|_| command.run(detail));
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            // Where this cannot be told there is nowhere left to say so; the code stays.
            let _ = output::tell(&format!("facewright: {failure}\n"));
            ExitCode::from(failure.exit_code())
        }
    }
}

/// Prints help, version or what is wrong with the arguments. Help that could not be written is a file that could not be written.
///
/// What is wrong repeats the arguments, which may hold anything: it is printed as any other error is.
fn said_by_parser(said: &clap::Error) -> ExitCode {
    let code = ExitCode::from(u8::try_from(said.exit_code()).unwrap_or(2));
    if said.use_stderr() {
        let _ = output::tell(&said.to_string());
        return code;
    }
    match said.print().and_then(|()| std::io::stdout().flush()) {
        Err(e) if e.kind() != ErrorKind::BrokenPipe => ExitCode::from(3),
        _ => code,
    }
}

impl Command {
    fn run(self, detail: Detail) -> Result<(), error::CliError> {
        match self {
            Self::Completions(completions) => completions.run(),
            Self::Explain(explain) => explain.run(),
            Self::Ledger(ledger) => ledger.run(),
            Self::Manual(manual) => manual.run(),
            Self::New(new) => new.run(),
            Self::Proof(proof) => proof.run(detail),
            Self::Schema(schema) => schema.run(),
            Self::Sheet(sheet) => sheet.run(),
            Self::Survey(survey) => survey.run(detail),
            Self::Touch(touch) => touch.run(),
            Self::Write(write) => write.run(detail),
        }
    }
}
