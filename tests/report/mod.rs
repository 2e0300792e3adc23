//! What a person reads: the sheet in a browser.

mod sheet;
