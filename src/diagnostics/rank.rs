//! How serious a finding is.

use serde::Serialize;
use std::fmt;

/// How serious a finding is, the least serious first: one order for survey, plan and proof.
///
/// Some ranks only inform, and the work may go on ([`Rank::is_told`]); a *decision* waits until a key in the job settles it; *remount* and *stop* refuse.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Rank {
    /// As it should be.
    Fine,
    /// Worth knowing.
    Note,
    /// To be looked at before the work goes on.
    Warning,
    /// Nothing is cut until the job settles it by a key that the finding names.
    Decision,
    /// Nothing is cut until the wheel is mounted truer and measured again.
    Remount,
    /// Nothing is cut; the program is not run.
    Stop,
}

impl Rank {
    /// Whether the work may go on although this was found.
    #[must_use]
    pub const fn is_told(self) -> bool {
        matches!(self, Self::Fine | Self::Note | Self::Warning)
    }

    /// Its name in every report, page and JSON.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Fine => "fine",
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Decision => "decision",
            Self::Remount => "remount",
            Self::Stop => "stop",
        }
    }
}

impl fmt::Display for Rank {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}
