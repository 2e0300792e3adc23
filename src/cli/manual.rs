//! `facewright manual` and `facewright completions`: for `man` and for the shell.

use super::error::CliError;
use super::{Arguments, output};
use clap::{Args, CommandFactory};
use clap_complete::Shell;

/// Print the manual page of facewright or of one subcommand, for man
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  facewright manual write | man -l -")]
pub(super) struct Manual {
    /// The subcommand; facewright itself if left out
    subcommand: Option<String>,
}

/// Print a completion script for a shell
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  facewright completions bash")]
pub(super) struct Completions {
    /// The shell
    shell: Shell,
}

impl Manual {
    /// Runs the command.
    pub fn run(self) -> Result<(), CliError> {
        let mut all = Arguments::command();
        all.build();
        let command = match &self.subcommand {
            None => all,
            Some(name) => all.find_subcommand(name).cloned().ok_or_else(|| {
                let names: Vec<&str> = all.get_subcommands().map(clap::Command::get_name).collect();
                CliError::Input(format!(
                    "`{name}` is no subcommand\n  to mend it: name one of {}",
                    names.join(", ")
                ))
            })?,
        };
        let mut page = Vec::new();
        let failed = |source| CliError::File { action: "write", path: "the manual page".into(), source };
        clap_mangen::Man::new(command).render(&mut page).map_err(failed)?;
        output::print(&page)
    }
}

impl Completions {
    /// Runs the command.
    pub fn run(self) -> Result<(), CliError> {
        let mut script = Vec::new();
        clap_complete::generate(self.shell, &mut Arguments::command(), "facewright", &mut script);
        output::print(&script)
    }
}
