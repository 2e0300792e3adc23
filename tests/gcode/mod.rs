//! Whole programs: read line by line as snapshots, by another reader, and held to laws.

mod arcs;
mod laws;
mod pygcode;
mod reader;
mod refusals;
mod replay;
mod sample;
mod snapshots;
mod touch;
mod try_out;
