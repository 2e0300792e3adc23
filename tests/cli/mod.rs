//! What a person meets at the command line.

mod journeys;
mod settled;
