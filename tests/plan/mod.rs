//! What is planned: laws of paths and passes, and the figures of turning.

mod again;
mod air;
mod contact;
mod figures;
mod finished;
mod follow_on;
mod holder;
mod lacquer;
mod laws;
mod leads;
mod narrow;
mod next;
mod no_fault;
mod parts;
mod rest;
mod run_off;
mod touching;
mod trial;
mod turning;
mod window;
