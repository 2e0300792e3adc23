//! The face found from measured lines, held against known wheels.

mod known_wheels;
mod outside;
