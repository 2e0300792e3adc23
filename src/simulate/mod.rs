//! Reads any program and runs it once: reader, machine, motions, time; as the control described reads it.
//!
//! ```text
//! text ─► reader ─► blocks ─► machine ─► movements, events, findings
//! ```

pub mod machine;
pub mod modal;
pub mod movement;
mod orders;
pub mod reader;
pub mod run;
mod structure;
pub mod time;

pub use machine::{Event, EventKind, Setting};
pub use movement::{Feed, Movement, MovementKind, Spindle};
pub use reader::{ProgramRead, ReaderOptions, read};
pub use run::{Run, SkipSwitch, Way, run, run_at};
pub use time::time;
