//! What a program would do to the wheel, judged from its motions. Shares no algorithm with the planner or the writer.
//!
//! ```text
//! simulate ─► motions, events, findings ─► sweep over the face ─► depths, findings ─► report
//! ```

mod account;
pub mod against;
pub mod explain;
pub mod report;
pub mod sweep;

pub use crate::diagnostics::{Finding, Rank};
pub use crate::simulate::{
    Event, EventKind, Feed, Movement, MovementKind, ProgramRead, ReaderOptions, Run, Setting, SkipSwitch,
    Spindle, Way, read, run, run_at, time,
};
pub use against::{Difference, against};
pub use explain::{Explained, explain, explain_at};
pub use report::{Circumstances, Report, Verdict, prove, prove_in};
pub use sweep::{Sweep, sweep, sweep_after};
