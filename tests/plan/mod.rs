//! What is planned: laws of paths and passes, and the figures of turning.

mod laws;
mod turning;
