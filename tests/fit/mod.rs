//! What is written for the demo against the exact paths.

mod demo;
