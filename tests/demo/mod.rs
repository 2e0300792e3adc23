//! The demo's data are what their generator makes.

mod data;
