//! The face found from traces, held against known wheels and reference values.

mod harmonics;
mod known_wheels;
