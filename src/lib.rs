//! facewright: from measured traces of a wheel's face to a proved facing program.
//!
//! Data flows one way, and the modules show it:
//!
//! ```text
//! scan text ─► trace ─► face ─► plan ─► program ─► proof ─► sheet
//!               job (what the person asked for) ─┘
//! ```
//!
//! `geometry` knows nothing of wheels; `proof` shares no algorithm with `plan` or `program`.
//! Inside, lengths are millimetres, angles radians, times seconds, spindle speeds revolutions per
//! minute; x is a radius, z lies along the spindle and grows away from the chuck (ISO 841).
#![forbid(unsafe_code)]

pub mod cli;
pub mod diagnostics;
pub mod face;
pub mod fit;
pub mod gcode;
pub mod geometry;
pub mod job;
pub mod numeric;
pub mod plan;
pub mod proof;
pub mod report;
pub mod scan;
pub mod side_by_side;
pub mod simulate;
pub mod survey;
pub mod units;
