//! Job and shop files.

mod bad_files;
mod planted;
mod values;
