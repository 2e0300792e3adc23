//! What is planned: laws of paths and passes, and the figures of turning.

mod figures;
mod finished;
mod laws;
mod leads;
mod no_fault;
mod trial;
mod turning;
