//! One thing that proof has to say about a program.

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Rank {
    /// Worth knowing.
    Note,
    /// Look before you go on.
    Warning,
    /// Do not run this program.
    Stop,
}

/// One thing that proof has to say about a program.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Finding {
    /// How much it weighs.
    pub rank: Rank,
    /// What kind of finding, as a fixed word that scripts may rely on, such as `gouge` or `no-spindle-limit`.
    pub kind: &'static str,
    /// Sequence number of the block (its N word), where it has one.
    pub block: Option<u64>,
    /// Line of the program text, counted from 1; 0 for the program as a whole.
    pub line: usize,
    /// What was found, with its numbers.
    pub what: String,
    /// Why it matters at the lathe.
    pub why: String,
    /// What to do.
    pub fix: String,
}
