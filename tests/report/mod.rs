//! What a person reads: one simulation behind all of it, and the sheet in a browser.

mod as_written;
mod one_simulation;
mod sheet;
mod times;
