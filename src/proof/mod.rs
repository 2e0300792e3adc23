//! Reads any program back and says what it would do to the wheel. Shares no algorithm with the planner or the writer.
//!
//! ```text
//! text ─► reader ─► blocks ─► machine ─► movements, events, findings
//!                                           └─► sweep over the face ─► depths, findings ─► report
//! ```

mod account;
pub mod against;
mod catalog;
pub mod explain;
pub mod finding;
pub mod machine;
pub mod modal;
pub mod movement;
mod notebook;
mod orders;
pub mod reader;
pub mod report;
pub mod run;
mod structure;
pub mod sweep;
pub mod time;

pub use against::{Difference, against};
pub use explain::{Explained, explain, explain_at};
pub use finding::{Finding, Rank};
pub use machine::{Event, EventKind, Setting};
pub use movement::{Feed, Movement, MovementKind, Spindle};
pub use reader::{ProgramRead, ReaderOptions, read};
pub use report::{Circumstances, Report, Verdict, prove, prove_in};
pub use run::{Run, SkipSwitch, Way, run, run_at};
pub use sweep::{Sweep, sweep, sweep_after};
pub use time::time;
