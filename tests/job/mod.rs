//! Job and shop files.

mod bad_files;
mod values;
