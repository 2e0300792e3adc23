//! Reads any program back and says what it would do to the wheel. Shares no algorithm with the planner or the writer.

pub mod finding;
pub mod movement;
pub mod sweep;

pub use finding::{Finding, Rank};
pub use movement::{Feed, Movement, MovementKind, Spindle};
