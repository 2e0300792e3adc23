//! The wheel's passport: what was measured, planned, confirmed and taken, kept over the years in one file.
//!
//! The file is a database of `SQLite` beside the shop file. A row is added and never changed or deleted (triggers refuse it); a mistake is
//! put right by a new entry that names the old one. Every row is an entry of one sequence, with when and by whom, so that the
//! order of measuring and cutting over all tables can be asked.
//!
//! What was cut is what a person confirmed, never what was planned. The metal that a wheel has lost is the sum of the cuts that no
//! other entry corrects. Of these, the cuts on the face at hand are depth below it as first measured; all others went before it was
//! measured ("taken"). Lines measured again between cuts belong to the face of the first ones ([`reckoning`]).
//!
//! Durable: write-ahead log with full sync, foreign keys, one transaction a call; what a call has returned is on the disk. Two
//! processes wait for each other. The file comes into being whole or not at all. Source: the `SQLite` documentation on
//! isolation, WAL and the `synchronous` pragma.
//!
//! Limits: it knows what people told it. It has no clock: who calls says when.

mod check;
mod compare;
mod cuts;
mod edges;
mod error;
mod export;
mod moment;
mod reckoning;
mod records;
mod statements;
mod store;
mod wheels;

pub use compare::{Comparison, FaceProfile, Missing, compare};
pub use edges::EdgeUse;
pub use error::LedgerError;
pub use export::{Export, Table, TableName, Value};
pub use moment::{Moment, MomentError};
pub use records::{
    AgainRecord, Confirmation, Corrected, Correction, Cut, GaugeReading, KeptProgram, KeptSurvey, KeptTouch,
    Lines, MeasuredAgain, Pass, ProgramRecord, Run, Stamp, Standing, SurveyRecord, Taken, Touch,
    WheelHistory,
};
pub use store::Ledger;
