//! What is planned: laws of paths and passes, and the figures of turning.

mod figures;
mod finished;
mod laws;
mod next;
mod trial;
mod turning;
