//! What one pass does to the metal, as data.

use super::rate::Rates;
use crate::job::Direction;
use serde::Serialize;

/// What a pass does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum PassKind {
    /// Runs above the metal before its tool cuts.
    Air,
    /// Removes metal.
    Cut,
    /// Removes only what the noses before it left standing above the depth that they reached.
    Rest,
    /// Removes nothing, after its tool's first cut: a spring pass, or a return motion.
    Idle,
}

/// A depth at a radius, millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DepthAt {
    /// Radius.
    pub radius: f64,
    /// Depth.
    pub depth: f64,
}

/// A depth at a radius with the block that makes it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Deepest {
    /// Depth, millimetres.
    pub depth: f64,
    /// Radius, millimetres.
    pub radius: f64,
    /// Sequence number of the block.
    pub block: Option<u64>,
    /// Line of the program, from 1.
    pub line: usize,
}

/// The effect of one pass on the metal.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SweptPass {
    /// Its number among all passes at feed, from 1.
    pub number: usize,
    /// What it does.
    pub kind: PassKind,
    /// Number of its tool.
    pub tool: Option<u32>,
    /// First line of the program that belongs to it.
    pub from_line: usize,
    /// Last line.
    pub to_line: usize,
    /// Which way it crosses the face.
    #[serde(serialize_with = "direction_word")]
    pub direction: Option<Direction>,
    /// Depth taken at each radius: along the axis, below the metal before the pass.
    pub taken: Vec<DepthAt>,
    /// The deepest it takes.
    pub deepest: Option<Deepest>,
    /// Depth of the pass as a whole below the measured face.
    pub lies: Option<f64>,
    /// How long it takes at feed, seconds; none where a speed or feed is missing.
    pub seconds: Option<f64>,
    /// Length of the spiral that the nose centre runs over the turning wheel at feed, millimetres; motions with a feed per minute are left out.
    pub spiral_mm: f64,
    /// Speeds, feeds and ridges.
    pub rates: Rates,
}

// serde requires this signature.
#[allow(clippy::ref_option, clippy::trivially_copy_pass_by_ref)]
fn direction_word<S: serde::Serializer>(direction: &Option<Direction>, to: S) -> Result<S::Ok, S::Error> {
    match direction {
        Some(Direction::Outward) => to.serialize_some("outward"),
        Some(Direction::Inward) => to.serialize_some("inward"),
        None => to.serialize_none(),
    }
}
