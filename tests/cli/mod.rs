//! What a person meets at the command line.

mod files;
pub mod journeys;
mod settled;
mod touch;
