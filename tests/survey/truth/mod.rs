//! The survey against wheels whose truth is known: a wheel drawn at random is measured by an imperfect hand and sensor, surveyed
//! through the pipeline, and what is told is held against the truth.
//!
//! Everything varies at once, and no bound is a matter of taste: `judge` says what each follows from. A run draws few wheels;
//! `WHEELS=1000 cargo test --test all survey::truth::` draws more, `WHEELS_FROM=5000` others, and `-- --nocapture` prints how well
//! each family does. A seed names its wheel for ever.

mod dice;
mod drawn;
mod hand;
mod judge;
mod laws;
mod limits;
mod refusals;
mod trial;
mod wheel;

use std::env;
use std::ops::Range;

/// A number of the environment.
fn setting(name: &str) -> Option<u64> {
    env::var(name).ok()?.parse().ok()
}

/// The seeds of a family: `few` of them, or as many as `WHEELS` says.
fn seeds(family: u64, few: u64) -> Range<u64> {
    let from = family * 1_000_000 + setting("WHEELS_FROM").unwrap_or(0);
    from..from + setting("WHEELS").unwrap_or(few)
}
