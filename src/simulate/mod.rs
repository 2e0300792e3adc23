//! Reads any program and runs it once: reader, machine, motions, time; as the control described reads it.
//!
//! ```text
//! text ─► reader ─► blocks ─► machine ─► movements, events, findings
//! ```

mod commands;
pub mod interpreter;
pub mod modal;
pub mod movement;
pub mod reader;
pub mod simulation;
mod structure;
pub mod time;

pub use interpreter::{Event, EventKind, Setup};
pub use movement::{Feed, Movement, MovementKind, Spindle};
pub use reader::{ProgramRead, ReaderOptions, read};
pub use simulation::{Execution, Simulation, SkipSwitch, run, run_at};
pub use time::time;
