//! What a person reads: one simulation behind all of it, and the sheet in a browser.

mod one_simulation;
mod sheet;
mod times;
