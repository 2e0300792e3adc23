//! The job file and the shop file, read once into types that cannot hold invalid values.
//!
//! A file becomes a tree of nodes with their positions ([`source`]); serde reads the tree into the types of the files
//! ([`reader`], [`mod@file`], [`shop_file`], [`control`], [`schedule_file`]); checks between values follow, with positions
//! from the same tree. So every error names its line and column, what was found, what was expected and how to correct it.

// Files from outside are read here: no index may panic.
#![warn(clippy::indexing_slicing)]

mod another_sensor;
mod cannot_be;
mod control;
mod edge;
mod fields;
mod file;
mod keep_out;
pub mod keys;
mod listed;
mod load;
mod machine;
mod nameable;
mod node;
pub mod passes;
mod reader;
mod schedule;
mod schedule_file;
mod shared;
pub mod shop;
mod shop_file;
mod source;
mod texture;
pub mod touching;
pub mod traits;
mod trial;
mod variation;
pub mod wheel;

pub use edge::{MetalEnd, RunsOff};
pub use keep_out::KeepOut;
pub use listed::error_in_list;
pub use load::{JobError, JobErrors, load, load_all, load_input, load_varied};
pub use load::{errors_in_line, nearest_shop};
pub use machine::{DwellWord, Machine, Spin};
pub use node::BLANK;
pub use passes::{Counted, Need, Only, PassDepth, PassKind, ScheduleError};
pub use schedule::{
    AirPass, Direction, Feed, FinishPass, LEAST_AIR_GAP, PassCount, RestPasses, RoughPass, Schedule, Step,
};
pub use shared::{ShopSays, shop_says};
pub use shop::{
    Arcs, BareNumbers, Control, Coolant, FeedWords, LineEnd, ProgrammedPoint, Sequence, SpindleLimitWord,
    SpindleTurns, Stops, Tool, ToolWord, UnitWord, XWords,
};
pub use touching::{OffsetKind, Setter, Touching};
pub use traits::{
    Comments, ExtraLine, ExtraLines, ExtraWord, Gear, LeadingZero, LengthOffset, MWords, Quadrants,
    TrailingZeros, Traits, WayHome,
};
pub use trial::{TrialRing, deepest};
pub use variation::{NextPasses, Variation};
pub use wheel::{
    Acceptance, Allowance, Column, Damage, DamageKind, DamageSector, HeightSense, LengthUnit, Measured,
    MeasuredAgain, Mending, NamedIn, RingSource, ScanLine, Sensor, TraceName, TurnPlace, TurnReadings, Tyre,
    Wheel, XMeaning, Zero, Zone,
};

use crate::units::{Length, SpindleSpeed};
use std::path::{Path, PathBuf};

/// What one wheel needs, with everything of the shop file that it uses.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// The name of the job.
    pub title: String,
    /// The file it was read from.
    pub file: PathBuf,
    /// The shop file it names.
    pub shop_file: PathBuf,
    /// The machine.
    pub machine: Machine,
    /// The control.
    pub control: Control,
    /// The tools the schedule uses, by name; the rough tool first, and the finish tool where it differs.
    pub tools: Vec<Tool>,
    /// The pass schedule.
    pub schedule: Schedule,
    /// The wheel.
    pub wheel: Wheel,
    /// What was measured and how.
    pub measured: Measured,
    /// What was measured again after passes were cut, if it was.
    pub measured_again: Option<MeasuredAgain>,
    /// Radius at which each tool is touched on the face, where the person named one.
    pub touch_off: Option<Length>,
    /// How tools are touched off.
    pub touching: Touching,
    /// Damage seen by a person.
    pub damage: Vec<Damage>,
    /// Ranges of the face that a person wants mended, or left as they are.
    pub mending: Mending,
    /// Along which place of the turn the face is cut, where a person says it: so that one program goes on as another began.
    pub cut_along: Option<TurnPlace>,
    /// Doubts of the measurement that a person accepts.
    pub accept: Vec<Acceptance>,
    /// Rings to cut; at least one, in rising order, not overlapping.
    pub zones: Vec<Zone>,
    /// Where the outermost of them run off the metal; their ends there are known once the face is (see [`Job::with_metal_between`]).
    pub runs_off: RunsOff,
    /// Keep-outs: no part of the tool may enter them.
    pub keep_out: Vec<KeepOut>,
    /// The rings of a trial as listed, in rising order.
    pub trial: Vec<TrialRing>,
    /// The rings that this job cuts, if it is a trial; its zones are these rings. See [`Job::for_trial`].
    pub rings: Vec<TrialRing>,
    /// Where the shop's ledger lies and under which number the wheel stands there; none where either file does not say.
    pub passport: Option<Passport>,
}

/// How the job's wheel is found in the shop's ledger.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Passport {
    /// The ledger.
    pub ledger: PathBuf,
    /// The shop's own number of the wheel.
    pub number: String,
    /// Whether the job itself says what earlier jobs took; otherwise the ledger does.
    pub claims_taken: bool,
}

impl Job {
    /// The fastest that the spindle may turn: the lower limit of machine and wheel.
    #[must_use]
    pub fn speed_limit(&self) -> SpindleSpeed {
        let (machine, wheel) = (self.machine.spindle_limit, self.wheel.speed_limit);
        if machine < wheel { machine } else { wheel }
    }

    /// Decimals of a depth in millimetres in a text for this shop: as many as are asked for, and in a shop that counts inches so many
    /// that the text can be turned into them without being rounded twice.
    #[must_use]
    pub fn decimals(&self, least: usize) -> usize {
        /// A twenty-fifth of the 0.0001 in that such a shop reads.
        const FOR_INCHES: usize = 4;
        if self.control.unit_word.is_inch() { least.max(FOR_INCHES) } else { least }
    }

    /// Every file that the job is read from: itself, the shop file, scans, ring scans, the ledger.
    pub fn files(&self) -> impl Iterator<Item = &Path> {
        let again = self.measured_again.iter().flat_map(|again| &again.lines);
        let rings = self.measured.turn.iter().filter_map(|turn| match &turn.source {
            RingSource::Scan { file, .. } => Some(file.as_path()),
            RingSource::Dial { .. } => None,
        });
        [self.file.as_path(), self.shop_file.as_path()]
            .into_iter()
            .chain(self.measured.lines.iter().chain(again).map(|line| line.file.as_path()))
            .chain(rings)
            .chain(self.passport.as_ref().map(|passport| passport.ledger.as_path()))
    }

    /// The tool of a name; the checked job holds every tool its schedule names.
    #[must_use]
    pub fn tool(&self, name: &str) -> Option<&Tool> {
        self.tools.iter().find(|t| t.name == name)
    }

    /// Whether a zone overlaps the range between two radii, millimetres.
    #[must_use]
    pub fn has_zone_in(&self, from: f64, to: f64) -> bool {
        self.zones.iter().any(|z| from <= z.to.as_mm() && z.from.as_mm() <= to)
    }

    /// Radius at which the tools are to be touched: the one named, or the middle of the widest zone.
    #[must_use]
    pub fn touch_off_radius(&self) -> Length {
        let width = |z: &&Zone| z.to.as_mm() - z.from.as_mm();
        let widest = || self.zones.iter().max_by(|a, b| width(a).total_cmp(&width(b)));
        let middle = |z: &Zone| Length::mm(f64::midpoint(z.from.as_mm(), z.to.as_mm()));
        self.touch_off.unwrap_or_else(|| widest().map_or(Length::mm(0.0), middle))
    }
}
