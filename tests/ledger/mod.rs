//! The ledger: what it promises of sums, corrections, kills, other processes and damaged files; its part in a wheel's story.

mod files;
mod kills;
mod laws;
mod made_up;
mod story;
