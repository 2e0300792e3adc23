//! Carries out a program block by block as a control would, and notes what is wrong with it on the way.
//!
//! # Order within a block
//! NISTIR 6556, 3.8, table 8 (from memory): feed mode, F, S, tool, tool change, spindle, coolant, dwell,
//! plane, unit, compensation, work offset, path control, distance mode, motion, stop. The turning words that
//! the table lacks come where they act: G96 and G97 and the spindle limit before S. In one thing the unit
//! word goes ahead of its place: F and S of its own block are taken in the new unit, as most controls do,
//! and a warning says that the order matters there.
//!
//! # What is taken for granted
//! X words, and increments of X, are diameters where the control says so; I and R are always radius
//! values, I and K from the start point. The tool stands at the park before the first motion. A block
//! that cannot be understood whole is carried out as far as it is, after a finding that stops it.

pub(crate) mod arc;
mod check;
mod motion;
mod tool;

use crate::diagnostics::{FindingCollector, Place, ProgramRule};
use crate::geometry::Point;
use crate::job::{BareNumbers, Control, FeedWords, Job, Machine, Schedule, SpindleLimitWord, Tool, UnitWord};
use crate::simulate::commands::{BlockCommands, commands};
use crate::simulate::modal::{
    Compensation, NonModal, PathControl, Plane, SpindleMode, State, Stop, Turning, Unit,
};
use crate::simulate::movement::{Movement, Spindle};
use crate::simulate::reader::{Block, ProgramRead, Word};
use crate::units::{SpindleSpeed, Time};

/// What a program is held against.
#[derive(Debug, Clone, Copy)]
pub struct Setup<'a> {
    /// The machine.
    pub machine: &'a Machine,
    /// The control.
    pub control: &'a Control,
    /// The tools of the job.
    pub tools: &'a [Tool],
    /// Fastest the wheel may turn.
    pub wheel_limit: SpindleSpeed,
    /// The schedule, for what is faster or coarser than any pass of it.
    pub schedule: Option<&'a Schedule>,
}

impl<'a> From<&'a Job> for Setup<'a> {
    fn from(job: &'a Job) -> Self {
        Self {
            machine: &job.machine,
            control: &job.control,
            tools: &job.tools,
            wheel_limit: job.wheel.speed_limit,
            schedule: Some(&job.schedule),
        }
    }
}

impl Setup<'_> {
    /// The fastest the spindle may turn: the least of machine and wheel, revolutions per minute.
    pub(crate) fn speed_limit(&self) -> f64 {
        self.machine.spindle_limit.as_rpm().min(self.wheel_limit.as_rpm())
    }

    /// Decimal places that a dimension word without a point has: with 3, `X100` is 0.100. None: a missing point is a
    /// whole number of units.
    pub(crate) fn implied_decimals(&self) -> Option<u32> {
        let places = u32::try_from(self.control.decimals).ok();
        places.filter(|_| self.control.bare_numbers == BareNumbers::Steps)
    }

    /// Whether U and W are increments of X and Z: they are in the family of G98 and G99, where X and Z are always
    /// absolute (common practice, no source).
    pub(crate) fn increments_uw(&self) -> bool {
        self.control.feed_words == FeedWords::G98G99
    }

    /// The unit the control works in.
    pub(crate) fn unit(&self) -> Unit {
        match self.control.unit_word {
            UnitWord::G20 | UnitWord::G70 => Unit::Inch,
            UnitWord::G21 | UnitWord::G71 => Unit::Millimetre,
        }
    }
}

/// What else than motion happens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EventKind {
    /// M00.
    Stop,
    /// M01.
    OptionalStop,
    /// A tool comes into force.
    Tool {
        /// Its number.
        number: u32,
    },
    /// The tool stands still for a while.
    Dwell {
        /// How long.
        time: Time,
    },
    /// The spindle starts, stops or turns otherwise; the event's `spindle` is what it does from now on.
    Spindle,
    /// Coolant on.
    CoolantOn,
    /// Coolant off.
    CoolantOff,
    /// M02 or M30.
    End,
}

/// Something that happens between motions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Event {
    /// Index of the block in the program that was read.
    pub block: usize,
    /// Sequence number of that block, where it has one.
    pub sequence: Option<u64>,
    /// Line of the program text, counted from 1.
    pub line: usize,
    /// What happens.
    pub kind: EventKind,
    /// Where the programmed point stands.
    pub at: Point,
    /// What the spindle does, the event done.
    pub spindle: Spindle,
    /// How many movements come before it.
    pub movements_before: usize,
}

/// A control at work on a program.
pub(crate) struct Interpreter<'a> {
    read: &'a ProgramRead,
    set: Setup<'a>,
    pub state: State,
    /// Where the programmed point stands.
    pub position: Point,
    pub notes: FindingCollector,
    pub movements: Vec<Movement>,
    pub events: Vec<Event>,
    /// The block at hand: its index and place.
    index: usize,
    place: Place,
}

/// Room for rounding where a written speed or feed is held against a limit, per minute: far below any step of a word.
const RPM_ROUNDING: f64 = 1e-6;
/// Room for rounding where a length is held against a limit, millimetres: far below any step of a word.
const LENGTH_ROUNDING: f64 = 1e-9;

impl<'a> Interpreter<'a> {
    /// A machine before its first block.
    pub fn new(read: &'a ProgramRead, set: Setup<'a>) -> Self {
        let park = Point::new(set.machine.park_x.as_mm(), set.machine.park_z.as_mm());
        Self {
            read,
            set,
            state: State::default(),
            position: park,
            notes: FindingCollector::default(),
            movements: Vec::with_capacity(read.blocks.len()),
            events: Vec::new(),
            index: 0,
            place: Place::Whole,
        }
    }

    fn note(&mut self, rule: ProgramRule, what: impl Into<String>) {
        self.notes.add(rule, self.place, what.into());
    }

    fn event(&mut self, kind: EventKind) {
        self.events.push(Event {
            block: self.index,
            sequence: self.place.block(),
            line: self.place.program_line().unwrap_or(0),
            kind,
            at: self.position,
            spindle: self.state.spindle(),
            movements_before: self.movements.len(),
        });
    }

    /// Carries out one block.
    pub fn step(&mut self, index: usize, block: &Block) {
        self.index = index;
        self.place = block.place();
        if block.words.is_empty() {
            return;
        }
        let read = self.read;
        let text = |w: &Word| read.word_text(w).to_owned();
        let o = commands(block, self.set, text, &mut self.notes);
        let unit = self.unit_of_block(&o);
        self.feed_mode(&o);
        self.spindle_mode(&o);
        self.limit(&o);
        self.feed(&o, unit);
        self.speed(&o, unit);
        self.tool(&o);
        self.turning(&o);
        self.coolant(&o);
        self.dwell(&o);
        self.modes(&o);
        self.motion(&o, unit);
        self.stop(&o);
    }

    fn unit_of_block(&mut self, o: &BlockCommands) -> Unit {
        let control = self.set.unit();
        if let Some(unit) = o.unit {
            if unit != control {
                let what = format!("{}, and the control works in {}", unit.name(), control.name());
                self.note(ProgramRule::WrongUnit, what);
            }
            if self.state.unit != Some(unit) && (o.f.is_some() || o.s.is_some()) {
                self.note(ProgramRule::UnitOrder, "the unit is set in a block with F or S");
            }
        }
        o.unit.or(self.state.unit).unwrap_or(control)
    }

    fn feed_mode(&mut self, o: &BlockCommands) {
        if let Some(mode) = o.feed_mode {
            if self.state.feed_mode != Some(mode) {
                self.state.feed = None;
            }
            self.state.feed_mode = Some(mode);
        }
    }

    fn spindle_mode(&mut self, o: &BlockCommands) {
        let Some(mode) = o.spindle_mode else { return };
        if self.state.spindle_mode != Some(mode) {
            self.state.speed = None;
            self.state.surface = None;
        }
        self.state.spindle_mode = Some(mode);
        if mode == SpindleMode::Surface && !self.set.control.surface_speed {
            self.note(ProgramRule::NotAtThisControl, "G96: the control holds no constant surface speed");
        }
    }

    /// The spindle limit, by G92, G50 or D.
    fn limit(&mut self, o: &BlockCommands) {
        let by_d = self.set.control.spindle_limit_word == SpindleLimitWord::D;
        let word = match (o.once, o.d) {
            (Some(NonModal::Limit), _) => {
                if let Some(word) = o.x.or(o.z).or(o.u).or(o.w) {
                    let what = format!("{} beside the word of the spindle limit", self.read.word_text(&word));
                    self.note(ProgramRule::FrameShift, what);
                } else if o.s.is_none() {
                    self.note(ProgramRule::MissingWord, "the word of the spindle limit stands without S");
                }
                o.s
            }
            (_, Some(d)) if by_d && o.spindle_mode == Some(SpindleMode::Surface) => Some(d),
            _ => None,
        };
        if let Some(d) = o.d.filter(|_| word != o.d) {
            self.note(ProgramRule::UnusedWord, self.read.word_text(&d));
        }
        let Some(word) = word else { return };
        if word.value <= 0.0 {
            // Zero takes the limit off on some controls (common practice, no source).
            self.note(ProgramRule::NoSpindleLimit, format!("a spindle limit of {} rpm", word.value));
            self.state.limit = None;
            return;
        }
        let limit = self.set.speed_limit();
        if word.value > limit + RPM_ROUNDING {
            let what = format!(
                "a spindle limit of {} rpm; the machine may turn {} rpm, the wheel {} rpm",
                word.value,
                self.set.machine.spindle_limit.as_rpm(),
                self.set.wheel_limit.as_rpm()
            );
            self.note(ProgramRule::LimitTooHigh, what);
        }
        self.state.limit = Some(word.value);
        if self.state.turning != Turning::Off {
            self.event(EventKind::Spindle);
        }
    }

    fn feed(&mut self, o: &BlockCommands, unit: Unit) {
        let Some(word) = o.f else { return };
        if o.once == Some(NonModal::Dwell) {
            self.note(
                ProgramRule::UnknownWord,
                "F in a block with G04: a dwell on one control, a feed on another",
            );
            return;
        }
        if self.state.feed_mode.is_none() {
            self.note(ProgramRule::FeedModeUnset, "F is read and no feed mode was ever set");
        }
        if self.set.implied_decimals().is_some() && !word.point {
            self.note(ProgramRule::UnclearNumber, self.read.word_text(&word));
        }
        if word.value < 0.0 {
            self.note(ProgramRule::Negative, self.read.word_text(&word));
            return;
        }
        self.state.feed = Some(word.value * unit.in_mm());
    }

    fn speed(&mut self, o: &BlockCommands, unit: Unit) {
        let Some(word) = o.s.filter(|_| o.once != Some(NonModal::Limit)) else { return };
        if o.once == Some(NonModal::Dwell) {
            self.note(
                ProgramRule::UnknownWord,
                "S in a block with G04: a dwell on one control, a speed on another",
            );
            return;
        }
        if word.value < 0.0 {
            self.note(ProgramRule::Negative, self.read.word_text(&word));
            return;
        }
        if self.state.spindle_mode == Some(SpindleMode::Surface) {
            let surface = word.value * unit.surface_in_mm();
            self.check_surface(surface);
            self.state.surface = Some(surface);
        } else {
            if self.state.spindle_mode.is_none() {
                self.note(ProgramRule::SpindleModeUnset, "S is read and neither G96 nor G97 was ever given");
            }
            if word.value > self.set.speed_limit() + RPM_ROUNDING {
                let what = format!(
                    "{} rpm; the machine may turn {} rpm, the wheel {} rpm",
                    word.value,
                    self.set.machine.spindle_limit.as_rpm(),
                    self.set.wheel_limit.as_rpm()
                );
                self.note(ProgramRule::OverSpeed, what);
            }
            self.state.speed = Some(word.value);
        }
        if self.state.turning != Turning::Off && o.turning.is_none() {
            self.event(EventKind::Spindle);
        }
    }

    fn turning(&mut self, o: &BlockCommands) {
        let before = self.state.turning;
        if let Some(turning) = o.turning {
            if before != Turning::Off && turning != Turning::Off && before != turning {
                self.note(ProgramRule::ReversedRunning, "the spindle is reversed while it turns");
            }
            self.state.turning = turning;
            self.event(EventKind::Spindle);
        }
        // Said where the spindle is spoken to, not at every block after.
        let spoken = o.turning.is_some() || o.spindle_mode.is_some();
        let surface = self.state.spindle_mode == Some(SpindleMode::Surface);
        if spoken && surface && self.state.turning != Turning::Off && self.state.limit.is_none() {
            self.note(
                ProgramRule::NoSpindleLimit,
                "the spindle turns at a constant surface speed and no limit is in force",
            );
        }
    }

    fn coolant(&mut self, o: &BlockCommands) {
        let before = self.state.mist || self.state.flood;
        self.state.mist |= o.mist.is_some();
        self.state.flood |= o.flood.is_some();
        if o.coolant_off.is_some() {
            self.state.mist = false;
            self.state.flood = false;
        }
        match (before, self.state.mist || self.state.flood) {
            (false, true) => self.event(EventKind::CoolantOn),
            (true, false) => self.event(EventKind::CoolantOff),
            _ => {}
        }
    }

    /// A dwell: P or X, taken as seconds.
    fn dwell(&mut self, o: &BlockCommands) {
        let dwell = o.once == Some(NonModal::Dwell);
        let spare = if dwell { o.x.filter(|_| o.p.is_some()).or(o.z).or(o.u).or(o.w) } else { o.p };
        if let Some(word) = spare {
            self.note(ProgramRule::UnusedWord, self.read.word_text(&word));
        }
        if !dwell {
            return;
        }
        match o.p.or(o.x) {
            None => self.note(ProgramRule::MissingWord, "G04 without P or X"),
            Some(word) if word.value < 0.0 => self.note(ProgramRule::Negative, self.read.word_text(&word)),
            Some(word) => self.event(EventKind::Dwell { time: Time::s(word.value) }),
        }
    }

    /// The modes that only motion minds.
    fn modes(&mut self, o: &BlockCommands) {
        let state = &mut self.state;
        state.plane = o.plane.or(state.plane);
        state.unit = o.unit.or(state.unit);
        state.compensation = o.compensation.or(state.compensation);
        state.distance = o.distance.or(state.distance);
        state.work_offset = o.work_offset.or(state.work_offset);
        if matches!(o.plane, Some(Plane::Xy | Plane::Yz)) {
            self.note(ProgramRule::WrongPlane, "a plane other than G18 is chosen");
        }
        if matches!(o.compensation, Some(Compensation::Left | Compensation::Right)) {
            self.note(ProgramRule::Compensation, "cutter compensation is switched on");
        }
        if o.path == Some(PathControl::Continuous) {
            self.note(ProgramRule::RoundedCorners, "G64");
        }
        if let Some(offset) = o.work_offset.filter(|n| self.set.control.work_offset != Some(*n)) {
            let wanted =
                self.set.control.work_offset.map_or_else(|| "uses none".into(), |n| format!("uses G{n}"));
            self.note(ProgramRule::OtherOffset, format!("G{offset}; the shop {wanted}"));
        }
    }

    fn stop(&mut self, o: &BlockCommands) {
        match o.stop {
            None => {}
            Some(Stop::Stop) => {
                self.state.stops.0 += 1;
                self.event(EventKind::Stop);
            }
            Some(Stop::Optional) => {
                self.state.stops.1 += 1;
                self.event(EventKind::OptionalStop);
            }
            Some(Stop::End | Stop::EndRewind) => {
                self.state.ended = true;
                self.event(EventKind::End);
                self.check_left_on();
            }
        }
    }
}
