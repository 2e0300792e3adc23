//! A program text read and run.

mod reader;
mod rules;
mod traits;
