//! One motion of the machine with the tool, spindle, feed and coolant in force.

use crate::geometry::Piece;
use crate::units::{FeedPerMinute, FeedPerRev, SpindleSpeed, SurfaceSpeed};

/// Rapid or at feed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MovementKind {
    /// Rapid traverse: the two axes may run at their own speeds, so a move in both may deviate from the straight line.
    Rapid,
    /// At feed, along the piece.
    Feed,
}

/// The spindle in force.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spindle {
    /// Not turning.
    Off,
    /// Turning at one speed.
    Fixed {
        /// Whether it turns as M03 (else as M04).
        clockwise: bool,
        /// Speed; none where no S word was ever read.
        speed: Option<SpindleSpeed>,
    },
    /// Turning at a constant surface speed.
    Surface {
        /// Whether it turns as M03 (else as M04).
        clockwise: bool,
        /// Surface speed; none where no S word was read in this mode.
        speed: Option<SurfaceSpeed>,
        /// Spindle limit, where one is in force.
        limit: Option<SpindleSpeed>,
    },
}

/// The feed in force.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Feed {
    /// No F word was read in the mode in force.
    Missing,
    /// Feed per revolution.
    PerRev(FeedPerRev),
    /// Feed per minute.
    PerMinute(FeedPerMinute),
}

/// One motion with the tool, spindle, feed and coolant in force.
#[derive(Debug, Clone, PartialEq)]
pub struct Movement {
    /// Index of the block in the program that was read.
    pub block: usize,
    /// Sequence number of that block, where it has one.
    pub sequence: Option<u64>,
    /// Line of the program text, counted from 1.
    pub line: usize,
    /// Rapid or at feed.
    pub kind: MovementKind,
    /// Path of the programmed point, in millimetres of radius and height in the program's coordinates.
    pub piece: Piece,
    /// Number of the tool in force; none where none was called.
    pub tool: Option<u32>,
    /// Spindle.
    pub spindle: Spindle,
    /// Feed.
    pub feed: Feed,
    /// Whether coolant was on.
    pub coolant: bool,
    /// Whether nobody knows at which radius it runs: since the start, or since a tool was touched off, X has not been stated.
    pub radius_unknown: bool,
    /// How many stops the machine has passed before this motion, as (M00, M01).
    pub stops_before: (u32, u32),
}
