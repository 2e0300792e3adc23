//! What the lathe can do, and how its spindle is started.

use crate::units::{FeedPerMinute, Length, Speed, SpindleSpeed, Time};
use serde::Deserialize;

/// What the lathe can do.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    /// Fastest the spindle may turn.
    pub spindle_limit: SpindleSpeed,
    /// Fastest feed.
    pub feed_limit: FeedPerMinute,
    /// Rapid traverse.
    pub rapid: Speed,
    /// Travel in x as radius, least and greatest.
    pub travel_x: [Length; 2],
    /// Travel in z, least and greatest.
    pub travel_z: [Length; 2],
    /// Where tools are changed: radius.
    pub park_x: Length,
    /// Where tools are changed: height.
    pub park_z: Length,
    /// Rapids stay this far from anything.
    pub clearance: Length,
    /// Where a tool's programmed point stands at the machine's reference point, to which G28 leads: radius and height; none where nobody said.
    pub reference: Option<[Length; 2]>,
    /// Where the machine's own zero lies, from which G53 counts: radius and height; none where nobody said.
    pub zero: Option<[Length; 2]>,
    /// How the spindle is started.
    pub spin: Spin,
}

/// How the spindle is started, where the shop wants more than a start word.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Spin {
    /// A slow turn before the first pass of a program, to watch how the wheel runs.
    pub first: Option<SpindleSpeed>,
    /// How long the tool waits at the park after each start, until the spindle has its speed.
    pub up: Option<Time>,
    /// The word that carries the time of a dwell.
    pub dwell: DwellWord,
}

/// The word of a dwell's time, in a block with G04.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
pub enum DwellWord {
    /// Seconds in X, as most lathes have it.
    #[default]
    X,
    /// Seconds in P.
    P,
    /// Thousandths of a second in P, as a whole number.
    #[serde(rename = "P ms")]
    PMilliseconds,
}

impl DwellWord {
    /// Its letter.
    #[must_use]
    pub const fn letter(self) -> char {
        match self {
            Self::X => 'X',
            Self::P | Self::PMilliseconds => 'P',
        }
    }

    /// The time that its letter gives with a number.
    #[must_use]
    pub fn time(self, number: f64) -> Time {
        Time::s(match self {
            Self::X | Self::P => number,
            Self::PMilliseconds => number / 1000.0,
        })
    }
}
