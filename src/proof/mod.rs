//! What a program would do to the wheel, judged from its motions. Shares no algorithm with the planner or the writer.
//!
//! ```text
//! simulate ─► motions, events, findings ─► sweep over the face ─► depths, findings ─► report
//! ```

pub mod against;
mod begin_again;
pub mod dry;
pub mod explain;
mod head;
pub mod report;
mod start;
pub mod sweep;
mod text;

pub use crate::diagnostics::{Finding, Rank};
pub use crate::simulate::{
    Event, EventKind, Execution, Feed, Movement, MovementKind, ProgramRead, Setup, Simulation, SkipSwitch,
    Spindle, read, simulate, time,
};
pub use against::{Difference, against};
pub use dry::{DryReport, prove_dry};
pub use explain::{Explained, explain};
pub use report::{Circumstances, ReadBack, Report, Verdict, prove, prove_in, read_back};
pub use sweep::{Sweep, sweep, sweep_after};
