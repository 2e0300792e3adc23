//! What a person meets at the command line.

mod cannot_be;
mod files;
mod first_hour;
mod inch_shop;
pub mod journeys;
mod killed;
mod new_job;
mod piped;
mod settled;
mod streams;
mod told;
mod touch;
