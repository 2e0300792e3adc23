//! All integration tests in one binary: a module for each room of the library, by its name, and what all of them use in `fixtures`.
//!
//! `cargo test --test all proof::` runs one room's. One binary is linked once, and its tests keep all processors busy to the end.

mod cli;
mod demo;
mod diagnostics;
mod docs;
mod face;
mod fit;
mod fixtures;
mod gcode;
mod geometry;
mod independence;
mod job;
mod ledger;
mod plan;
mod proof;
mod report;
mod scan;
mod simulate;
mod spoilt;
mod story;
mod supply;
mod survey;
