//! What a person meets at the command line.

pub mod journeys;
mod settled;
mod touch;
