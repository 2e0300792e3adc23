//! What is written against the exact paths, and against true faces.

mod demo;
mod from_readings;
mod picture;
