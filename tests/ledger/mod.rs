//! The ledger: what it promises of sums, corrections, kills, other processes and damaged files; its part in a wheel's story.

mod again;
mod files;
mod gauge;
mod kills;
mod laws;
mod made_up;
mod shop;
mod story;
