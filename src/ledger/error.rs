//! Why the ledger did not do what it was asked.

use crate::units::Length;
use std::path::PathBuf;

/// Why the ledger did not do what it was asked. Nothing was stored then.
#[derive(Debug, thiserror::Error)]
pub enum LedgerError {
    /// The file, its folder or the disk does not let itself be used.
    #[error("{}: the ledger cannot be used: {source}\n  to mend it: check the disk and the rights to the file and its folder", path.display())]
    Unusable {
        /// The ledger.
        path: PathBuf,
        /// Why.
        source: Box<dyn std::error::Error + Send + Sync>,
    },
    /// Another process has held the ledger for longer than this one waits.
    #[error("{}: another process holds the ledger; try again when it has ended", path.display())]
    Held {
        /// The ledger.
        path: PathBuf,
    },
    /// The file is damaged, or no ledger. It is left as it is.
    #[error("{}: the ledger is damaged, or it is no ledger: {what}\n  it is left as it is; to go on, restore a copy of it, or name another file in the shop file", path.display())]
    Damaged {
        /// The ledger.
        path: PathBuf,
        /// What was found.
        what: String,
    },
    /// A later version wrote it.
    #[error("{}: the ledger has version {version}, and this program knows versions up to {known}\n  to mend it: use the newer facewright", path.display())]
    Newer {
        /// The ledger.
        path: PathBuf,
        /// Its version.
        version: i64,
        /// The last version that is known.
        known: i64,
    },
    /// There is no ledger.
    #[error("{}: there is no ledger; `write` makes it for a job whose wheel has a `number`", path.display())]
    NoLedger {
        /// Where it was looked for.
        path: PathBuf,
    },
    /// A job that claims less than the ledger holds.
    #[error(
        "the job says that {claimed} was taken off wheel {wheel}, and the ledger holds {held}\n  to mend it: leave `taken` out, or correct the ledger with `facewright ledger correct`"
    )]
    ClaimsLess {
        /// The wheel.
        wheel: String,
        /// What the job says.
        claimed: Length,
        /// What the ledger holds.
        held: Length,
    },
    /// A depth cut already that is less than what the ledger holds.
    #[error(
        "{given} is given as cut already, and the ledger holds {held} for this measurement\n  to mend it: leave `--already` out, or correct the ledger with `facewright ledger correct`"
    )]
    AlreadyLess {
        /// What was given.
        given: Length,
        /// What the ledger holds.
        held: Length,
    },
    /// The wheel was cut on a later measurement: this one no longer shows it.
    #[error(
        "wheel {wheel} was measured anew and cut since these lines were measured (entry {entry})\n  to mend it: measure it again"
    )]
    Outdated {
        /// The wheel.
        wheel: String,
        /// The entry of the later cut.
        entry: i64,
    },
    /// The job leaves `taken` to a ledger that does not know the wheel.
    #[error(
        "the job leaves `taken` to the ledger, which does not know wheel {wheel}\n  to mend it: write `taken: 0 mm` under `allowance` for a wheel never cut, or what earlier jobs took; or correct the wheel's `number`"
    )]
    TakenNotKnown {
        /// The wheel.
        wheel: String,
    },
    /// What was asked for is not in the ledger, or cannot be entered as asked.
    #[error("{0}")]
    Asked(String),
}
