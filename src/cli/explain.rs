//! `facewright explain`: what a finding's rule or a key of the files means.

use super::error::CliError;
use super::output;
use crate::report::explain::{explain, explained, keys_of_group};
use clap::Args;

/// Explain a rule of a finding, or a key of the job or shop file
///
/// The same text as in docs/proof.md, docs/survey.md and docs/keys.md. A key may be named with those above it
/// (`wheel.speed_limit`), or with what stands under it (`to: edge`).
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  facewright explain longest_gap\n  facewright explain gouge\n  facewright explain \"to: edge\""
)]
pub(super) struct Explain {
    /// The rule, such as `gouge`, or the key, such as `longest_gap`; every one that there is if left out
    word: Option<String>,
}

/// Words this alike are offered (Jaro-Winkler, 0 to 1).
const ALIKE: f64 = 0.8;

impl Explain {
    /// Runs the command.
    pub fn run(self) -> Result<(), CliError> {
        let mut all: Vec<&str> = explained().collect();
        all.sort_unstable();
        all.dedup();
        let Some(word) = self.word else { return output::print_text(&(all.join("\n") + "\n")) };
        if let Some(text) = explain(&word) {
            return output::print_text(&text);
        }
        let like = |w: &&&str| strsim::jaro_winkler(&word.to_lowercase(), w) >= ALIKE;
        let near: Vec<&str> = all.iter().filter(like).copied().collect();
        let offer = if let Some((group, keys)) = keys_of_group(&word) {
            format!("under `{group}` stand {}", keys.join(", "))
        } else if near.is_empty() {
            "`facewright explain` lists all".to_owned()
        } else {
            format!("did you mean {}?", near.join(" or "))
        };
        Err(CliError::Input(format!(
            "`{word}` is neither a rule nor a key, nor a word under one\n  to mend it: {offer}"
        )))
    }
}
