//! Numbers and nothing else. Nothing here knows of wheels.

pub mod waviness;
