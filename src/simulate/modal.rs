//! The modal groups as types, and the state a control carries from block to block.
//!
//! The groups are those of NISTIR 6556, table 4 (from memory), without those that a two-axis lathe does not have, and with
//! the turning words that the table lacks: G96 and G97 (spindle mode), and the spindle limit.

use super::movement::{Feed, Spindle};
use crate::units::{FeedPerMinute, FeedPerRev, MM_PER_INCH, SpindleSpeed, SurfaceSpeed};

/// Motion: G00 to G03, or none after G80.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Motion {
    /// G00.
    Rapid,
    /// G01.
    Line,
    /// G02: clockwise, seen against the third axis.
    Clockwise,
    /// G03: counter-clockwise.
    CounterClockwise,
    /// G80.
    None,
}

/// Plane of arcs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Plane {
    /// G17.
    Xy,
    /// G18: the plane of turning.
    Zx,
    /// G19.
    Yz,
}

/// What X and Z count from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Distance {
    /// G90: from the zero.
    Absolute,
    /// G91: from the present position.
    Increments,
}

/// What F means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FeedMode {
    /// Feed per minute.
    PerMinute,
    /// Feed per revolution.
    PerRev,
}

/// Unit of length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Millimetre.
    Millimetre,
    /// Inch.
    Inch,
}

impl Unit {
    /// Millimetres in one unit.
    #[must_use]
    pub const fn in_mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Inch => MM_PER_INCH,
        }
    }

    /// Millimetres in one unit of surface speed's length: metre or foot.
    #[must_use]
    pub const fn surface_in_mm(self) -> f64 {
        match self {
            Self::Millimetre => 1000.0,
            Self::Inch => 12.0 * MM_PER_INCH,
        }
    }

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Millimetre => "millimetres",
            Self::Inch => "inches",
        }
    }
}

/// Cutter compensation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Compensation {
    /// G40.
    Off,
    /// G41.
    Left,
    /// G42.
    Right,
}

/// What S means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpindleMode {
    /// G97: revolutions per minute.
    Revolutions,
    /// G96: surface speed.
    Surface,
}

/// Which way the spindle turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Turning {
    /// M03.
    Clockwise,
    /// M04.
    CounterClockwise,
    /// M05.
    #[default]
    Off,
}

/// Coolant words; mist and flood may be on together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoolantWord {
    /// M07.
    Mist,
    /// M08.
    Flood,
    /// M09.
    Off,
}

/// Stopping.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    /// M00.
    Stop,
    /// M01.
    Optional,
    /// M02.
    End,
    /// M30.
    EndRewind,
}

/// Path control.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PathControl {
    /// G61.
    Exact,
    /// G64.
    Continuous,
}

/// Whether the offset that H names is in force.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LengthWord {
    /// G43.
    On,
    /// G49.
    Off,
}

/// Words that apply to their block only.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NonModal {
    /// G04.
    Dwell,
    /// G53.
    MachineFrame,
    /// G28.
    Home,
    /// G30.
    SecondHome,
    /// The spindle limit, by G92 or G50 as the control has it.
    Limit,
}

/// The tool in force.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ToolInForce {
    /// Its number.
    pub number: u32,
    /// Whether its offset is in force.
    pub offset: bool,
}

/// Everything a control keeps from one block to the next, except the position. None: never set by the program.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct State {
    /// Motion.
    pub motion: Option<Motion>,
    /// Plane.
    pub plane: Option<Plane>,
    /// Distance mode.
    pub distance: Option<Distance>,
    /// Feed mode.
    pub feed_mode: Option<FeedMode>,
    /// Unit.
    pub unit: Option<Unit>,
    /// Cutter compensation.
    pub compensation: Option<Compensation>,
    /// Spindle mode.
    pub spindle_mode: Option<SpindleMode>,
    /// Which way the spindle turns; off at the start.
    pub turning: Turning,
    /// F in the feed mode in force, millimetres.
    pub feed: Option<f64>,
    /// Spindle speed, revolutions per minute.
    pub speed: Option<f64>,
    /// Surface speed, millimetres per minute.
    pub surface: Option<f64>,
    /// Spindle limit, revolutions per minute.
    pub limit: Option<f64>,
    /// Mist is on.
    pub mist: bool,
    /// Flood is on.
    pub flood: bool,
    /// Work offset, 54 to 59.
    pub work_offset: Option<u32>,
    /// Tool named by the last T word.
    pub selected: Option<u32>,
    /// Tool in force.
    pub tool: Option<ToolInForce>,
    /// Number of the M word of the gear range last chosen.
    pub gear: Option<u32>,
    /// Whether x and z have been stated by the program.
    pub known: (bool, bool),
    /// Stops passed: M00, M01.
    pub stops: (u32, u32),
    /// Whether the program has ended.
    pub ended: bool,
}

impl State {
    /// The spindle in force.
    #[must_use]
    pub fn spindle(&self) -> Spindle {
        let clockwise = match self.turning {
            Turning::Off => return Spindle::Off,
            Turning::Clockwise => true,
            Turning::CounterClockwise => false,
        };
        match self.spindle_mode {
            Some(SpindleMode::Surface) => Spindle::Surface {
                clockwise,
                speed: self.surface.map(SurfaceSpeed::mm_per_min),
                limit: self.limit.map(SpindleSpeed::rpm),
            },
            Some(SpindleMode::Revolutions) | None => {
                Spindle::Fixed { clockwise, speed: self.speed.map(SpindleSpeed::rpm) }
            }
        }
    }

    /// The feed in force.
    #[must_use]
    pub fn feed(&self) -> Feed {
        match (self.feed_mode, self.feed) {
            (Some(FeedMode::PerRev), Some(f)) => Feed::PerRev(FeedPerRev::mm_per_rev(f)),
            (Some(FeedMode::PerMinute), Some(f)) => Feed::PerMinute(FeedPerMinute::mm_per_min(f)),
            _ => Feed::Missing,
        }
    }
}
