//! facewright: from measured traces of a wheel's face to a proved facing program.
//!
//! Data flows one way, and the modules show it:
//!
//! ```text
//! scan text ─► scan ─► face ─► survey ─► plan ─► gcode ─► simulate ─► proof ─► report
//!               job (what the person asked for) ─┘
//! ```
//!
//! `geometry` knows nothing of wheels; `simulate` and `proof` share no algorithm with `plan`, `fit` or `gcode`.
//! Inside, lengths are millimetres, angles radians, times seconds, spindle speeds revolutions per
//! minute; x is a radius, z lies along the spindle and grows away from the chuck (ISO 841).
//!
//! [`pipeline`] runs all steps. Each step can be made only from the one before it:
//!
//! ```
//! use facewright::pipeline::{self, PipelineError};
//! use facewright::plan::Options;
//! use std::path::Path;
//!
//! # fn main() -> Result<(), PipelineError> {
//! let loaded = pipeline::load(Path::new("demo-data/job.yaml"))?;
//! let surveyed = loaded.measure()?.survey()?;
//! assert_eq!(surveyed.survey().verdict.words(), "cut");
//!
//! let program = surveyed.plan(Options::default())?.write()?.prove()?;
//! let [part] = program.parts() else { panic!("the demo's program fits into its control") };
//! assert!(part.program().text.starts_with('%'));
//! assert!(part.report().movements > 100);
//! // The proof finds what the plan means to take off the highest place of the face.
//! let deepest = part.report().sweep.deepest.map_or(0.0, |d| d.depth);
//! assert!((deepest - program.plan().removed.as_mm()).abs() < 1e-3);
//! # Ok(())
//! # }
//! ```
#![forbid(unsafe_code)]

pub mod cli;
pub mod diagnostics;
pub mod face;
pub mod fit;
pub mod gcode;
pub mod geometry;
pub mod input;
pub mod job;
pub mod ledger;
pub mod numeric;
pub mod pipeline;
pub mod plan;
pub mod proof;
pub mod report;
pub mod scan;
pub mod simulate;
pub mod survey;
pub mod units;
