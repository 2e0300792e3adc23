//! Reads and runs any program text once, as the job's control would: [`simulate()`] returns the value that all users borrow.
//!
//! ```text
//! text ─► reader ─► blocks ─► interpreter ─► movements, times, events, findings
//! ```

mod commands;
pub mod execution;
pub mod interpreter;
pub mod modal;
pub mod movement;
pub mod reader;
pub mod simulation;
mod structure;
pub mod time;

pub use execution::{Execution, SkipSwitch};
pub use interpreter::{Event, EventKind, Setup};
pub use movement::{Feed, Movement, MovementKind, Spindle};
pub use reader::{ProgramRead, read};
pub use simulation::{Simulation, simulate};
pub use time::time;
