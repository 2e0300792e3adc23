//! The sheet in a real browser: what a technician sees, touches and prints.

mod browser;
mod journeys;
mod pages;
mod rules;
