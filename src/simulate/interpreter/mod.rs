//! Executes a program block by block as a control would, and collects findings.
//!
//! # Order within a block
//! NISTIR 6556, 3.8, table 8 (from memory): feed mode, F, S, tool, tool change, spindle, coolant, dwell,
//! plane, unit, compensation, work offset, path control, distance mode, motion, stop. The turning words that
//! the table lacks (G96, G97 and the spindle limit) come before S. There is one exception: F and S
//! are read in the unit of a unit word in the same block, as most controls do,
//! and a warning says that controls differ there.
//!
//! # Assumptions
//! X words, and increments of X, are diameters where the control says so; I and R are always radius
//! values, I and K from the start point. The tool is at the park before the first motion. A block
//! that is understood only in part is executed in part, after a finding that stops the program.

pub(crate) mod arc;
mod check;
mod declared;
mod hands;
mod home;
mod motion;
mod tool;

use crate::diagnostics::{FindingCollector, Place, ProgramRule};
use crate::geometry::Point;
use crate::job::{
    BareNumbers, Control, Coolant, DwellWord, FeedWords, Job, LengthOffset, Machine, Schedule,
    SpindleLimitWord, Tool, ToolWord, TrialRing, UnitWord,
};
use crate::simulate::commands::{BlockCommands, commands};
use crate::simulate::modal::{
    Compensation, NonModal, PathControl, Plane, SpindleMode, State, Stop, ToolInForce, Turning, Unit,
};
use crate::simulate::movement::{Movement, Spindle};
use crate::simulate::reader::{Block, ProgramRead, Word};
use crate::units::{SpindleSpeed, Time};

/// The machine, control, tools and limits that a program is run on and checked against.
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
    /// The schedule: a speed or feed above that of all its passes is a finding.
    pub schedule: Option<&'a Schedule>,
    /// The rings of a trial, each of which may have a speed of its own.
    pub rings: &'a [TrialRing],
}

impl<'a> From<&'a Job> for Setup<'a> {
    fn from(job: &'a Job) -> Self {
        Self {
            machine: &job.machine,
            control: &job.control,
            tools: &job.tools,
            wheel_limit: job.wheel.speed_limit,
            schedule: Some(&job.schedule),
            rings: &job.rings,
        }
    }
}

impl Setup<'_> {
    /// The fastest the spindle may turn, the lower limit of machine and wheel, revolutions per minute.
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

/// The kinds of event.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EventKind {
    /// M00.
    Stop,
    /// M01.
    OptionalStop,
    /// A tool is called.
    Tool {
        /// Its number.
        number: u32,
    },
    /// A dwell.
    Dwell {
        /// How long, in seconds as its number says.
        time: Time,
        /// Whether its letter is the one that the shop file gives: under another the control may count thousandths.
        by_shops_word: bool,
    },
    /// The spindle starts, stops, or changes direction or speed; the event's `spindle` is the new state.
    Spindle,
    /// Coolant on.
    CoolantOn,
    /// Coolant off.
    CoolantOff,
    /// M02 or M30.
    End,
}

/// An event between motions.
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
    /// Position of the programmed point.
    pub at: Point,
    /// The spindle after the event.
    pub spindle: Spindle,
    /// How many movements come before it.
    pub movements_before: usize,
}

/// A control that executes a program.
pub(crate) struct Interpreter<'a> {
    read: &'a ProgramRead,
    set: Setup<'a>,
    pub state: State,
    /// Position of the programmed point.
    pub position: Point,
    pub notes: FindingCollector,
    pub movements: Vec<Movement>,
    pub events: Vec<Event>,
    hands: hands::Hands,
    pace: check::Pace,
    declared: declared::Declared<'a>,
    /// The present block: its index and place.
    index: usize,
    place: Place,
}

/// Rounding allowed where a written speed or feed is compared with a limit, per minute: far below any step of a word.
const RPM_ROUNDING: f64 = 1e-6;
/// A wait this many times as long as the shop's longest, and at least so many seconds, is a slip (common practice, no source).
const LONG_TIMES: f64 = 10.0;
const LONG: f64 = 60.0;
/// Rounding allowed where a length is compared with a limit, millimetres: far below any step of a word.
const LENGTH_ROUNDING: f64 = 1e-9;

/// The tool of a lathe that holds one and has no word for it.
fn only_tool(set: Setup<'_>) -> Option<ToolInForce> {
    let tool = set.tools.first().filter(|_| set.control.tool_word == ToolWord::None)?;
    Some(ToolInForce { number: tool.number, offset: set.control.traits.length_offset == LengthOffset::None })
}

impl<'a> Interpreter<'a> {
    /// A control before the first block.
    pub fn new(read: &'a ProgramRead, set: Setup<'a>) -> Self {
        let park = Point::new(set.machine.park_x.as_mm(), set.machine.park_z.as_mm());
        Self {
            read,
            set,
            state: State { tool: only_tool(set), ..State::default() },
            position: park,
            notes: FindingCollector::default(),
            movements: Vec::with_capacity(read.blocks.len()),
            events: Vec::new(),
            hands: hands::Hands::default(),
            pace: check::Pace::default(),
            declared: declared::Declared::before_the_start(&set.control.traits.extra_lines.start),
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

    /// Executes one block.
    pub fn step(&mut self, index: usize, block: &Block) {
        self.index = index;
        self.place = block.place();
        if block.words.is_empty() || self.declared(block) {
            return;
        }
        let read = self.read;
        let text = |w: &Word| read.word_text(w).to_owned();
        let commands = commands(block, self.set, text, &mut self.notes);
        if commands.turning.is_some() {
            self.spindle_said();
        }
        let unit = self.unit_of_block(&commands);
        self.feed_mode(&commands);
        self.spindle_mode(&commands, unit);
        self.limit(&commands);
        self.feed(&commands, unit);
        self.speed(&commands, unit);
        self.tool(&commands);
        self.length_offset(&commands);
        self.gear(&commands);
        self.turning(&commands);
        self.coolant(&commands);
        self.dwell(&commands);
        self.modes(&commands);
        self.motion(&commands, unit);
        self.stop(&commands);
    }

    fn unit_of_block(&mut self, commands: &BlockCommands) -> Unit {
        let control = self.set.unit();
        if let Some(unit) = commands.unit {
            if unit != control {
                let what = format!("{}, and the control works in {}", unit.name(), control.name());
                self.note(ProgramRule::WrongUnit, what);
            }
            if self.state.unit != Some(unit) && (commands.f.is_some() || commands.s.is_some()) {
                self.note(ProgramRule::UnitOrder, "the unit is set in a block with F or S");
            }
        }
        commands.unit.or(self.state.unit).unwrap_or(control)
    }

    fn feed_mode(&mut self, commands: &BlockCommands) {
        if let Some(mode) = commands.feed_mode {
            if self.state.feed_mode != Some(mode) {
                self.state.feed = None;
            }
            self.state.feed_mode = Some(mode);
        }
    }

    /// G97 without S behind a surface speed: some controls go on at the speed that they had, others take the last S word for revolutions.
    fn check_surface_as_revolutions(&mut self, mode: SpindleMode, commands: &BlockCommands, unit: Unit) {
        let was_surface = self.state.spindle_mode == Some(SpindleMode::Surface);
        let turns = commands.turning.unwrap_or(self.state.turning) != Turning::Off;
        if !(mode == SpindleMode::Revolutions && was_surface && turns && commands.s.is_none()) {
            return;
        }
        let Some(word) = self.state.surface.map(|surface| surface / unit.surface_in_mm()) else { return };
        if word > self.set.speed_limit() + RPM_ROUNDING {
            let what = format!(
                "G97 without S: some controls take the S of the surface speed for revolutions, {word:.0} rpm; machine and wheel may turn {:.0} rpm",
                self.set.speed_limit()
            );
            self.note(ProgramRule::OverSpeed, what);
        }
    }

    fn spindle_mode(&mut self, commands: &BlockCommands, unit: Unit) {
        let Some(mode) = commands.spindle_mode else { return };
        self.check_surface_as_revolutions(mode, commands, unit);
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
    fn limit(&mut self, commands: &BlockCommands) {
        let by_d = self.set.control.spindle_limit_word == SpindleLimitWord::D;
        let word = match (commands.once, commands.d) {
            (Some(NonModal::Limit), _) => {
                if let Some(word) = commands.x.or(commands.z).or(commands.u).or(commands.w) {
                    let what = format!("{} beside the word of the spindle limit", self.read.word_text(&word));
                    self.note(ProgramRule::FrameShift, what);
                } else if commands.s.is_none() {
                    self.note(ProgramRule::MissingWord, "the word of the spindle limit stands without S");
                }
                commands.s
            }
            (_, Some(d)) if by_d && commands.spindle_mode == Some(SpindleMode::Surface) => Some(d),
            _ => None,
        };
        let is_offset = self.set.control.tool_word == ToolWord::NumberAndD;
        if let Some(d) = commands.d.filter(|_| word != commands.d && !is_offset) {
            self.note(ProgramRule::UnusedWord, self.read.word_text(&d));
        }
        if by_d && word.is_none() && commands.spindle_mode == Some(SpindleMode::Surface) {
            // Some controls drop the limit with every new G96 (common practice, no source): the worse reading counts.
            self.state.limit = None;
        }
        if let (Some(NonModal::Limit), Some(f)) = (commands.once, commands.f) {
            self.note(ProgramRule::UnusedWord, self.read.word_text(&f));
        }
        let Some(word) = word else { return };
        if word.value <= 0.0 {
            // Zero removes the limit on some controls (common practice, no source).
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

    fn feed(&mut self, commands: &BlockCommands, unit: Unit) {
        let Some(word) = commands.f else { return };
        if commands.once == Some(NonModal::Dwell) {
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

    fn speed(&mut self, commands: &BlockCommands, unit: Unit) {
        let Some(word) = commands.s.filter(|_| commands.once != Some(NonModal::Limit)) else { return };
        if commands.once == Some(NonModal::Dwell) {
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
        if self.state.turning != Turning::Off && commands.turning.is_none() {
            self.event(EventKind::Spindle);
        }
    }

    /// The word of a gear range.
    fn gear(&mut self, commands: &BlockCommands) {
        let Some(word) = commands.gear else { return };
        if self.state.turning != Turning::Off {
            self.note(ProgramRule::GearWhileTurning, format!("M{word} while the spindle turns"));
        }
        self.state.gear = Some(word);
    }

    fn turning(&mut self, commands: &BlockCommands) {
        let before = self.state.turning;
        if let Some(turning) = commands.turning {
            if before != Turning::Off && turning != Turning::Off && before != turning {
                self.note(ProgramRule::ReversedRunning, "the spindle is reversed while it turns");
            }
            if turning != Turning::Off
                && self.state.gear.is_none()
                && !self.set.control.traits.gears.is_empty()
            {
                self.note(ProgramRule::GearUnset, "the spindle starts and no gear range was ever chosen");
            }
            if turning != Turning::Off {
                self.check_lines_of_start("the spindle turns");
                self.check_nothing_follows_the_end("the spindle turns");
                self.check_speed_of_start();
            }
            self.check_starts_again(turning);
            self.state.turning = turning;
            self.event(EventKind::Spindle);
        }
        // Reported only at blocks with a spindle word, not at every block after them.
        let spindle_addressed = commands.turning.is_some() || commands.spindle_mode.is_some();
        let surface = self.state.spindle_mode == Some(SpindleMode::Surface);
        if spindle_addressed && surface && self.state.turning != Turning::Off && self.state.limit.is_none() {
            self.note(
                ProgramRule::NoSpindleLimit,
                "the spindle turns at a constant surface speed and no limit is in force",
            );
        }
    }

    /// A spindle that starts without an S word turns as fast as the program before had it, and no limit binds it under G97.
    fn check_speed_of_start(&mut self) {
        let surface = self.state.spindle_mode == Some(SpindleMode::Surface);
        if if surface { self.state.surface } else { self.state.speed }.is_none() {
            self.note(
                ProgramRule::NoSpeed,
                "the spindle starts, and no S word was read in the spindle mode in force",
            );
        }
    }

    fn coolant(&mut self, commands: &BlockCommands) {
        let before = self.state.mist || self.state.flood;
        let wanted = match self.set.control.coolant {
            Coolant::None => "none",
            Coolant::M07 => "M07",
            Coolant::M08 => "M08",
        };
        for (said, word) in [(commands.mist, "M07"), (commands.flood, "M08")] {
            if said.is_some() && word != wanted {
                self.note(
                    ProgramRule::OtherCoolant,
                    format!("{word}; the control's description says {wanted}"),
                );
            }
        }
        self.state.mist |= commands.mist.is_some();
        self.state.flood |= commands.flood.is_some();
        if commands.coolant_off.is_some() {
            self.state.mist = false;
            self.state.flood = false;
        }
        match (before, self.state.mist || self.state.flood) {
            (false, true) => self.event(EventKind::CoolantOn),
            (true, false) => self.event(EventKind::CoolantOff),
            _ => {}
        }
    }

    /// A dwell: P or X, with the time that the shop file says it carries.
    fn dwell(&mut self, commands: &BlockCommands) {
        let dwell = commands.once == Some(NonModal::Dwell);
        let spare = if dwell {
            commands.x.filter(|_| commands.p.is_some()).or(commands.z).or(commands.u).or(commands.w)
        } else {
            commands.p
        };
        if let Some(word) = spare {
            self.note(ProgramRule::UnusedWord, self.read.word_text(&word));
        }
        if !dwell {
            return;
        }
        match commands.p.or(commands.x) {
            None => self.note(ProgramRule::MissingWord, "G04 without P or X"),
            Some(word) if word.value < 0.0 => self.note(ProgramRule::Negative, self.read.word_text(&word)),
            Some(word) => {
                self.stands("G04");
                self.waits_over_wheel();
                let by_shops_word = self.by_shops_word(&word);
                let time = self.set.machine.spin.dwell.time(word.value);
                self.check_length_of_wait(time.as_s());
                self.event(EventKind::Dwell { time, by_shops_word });
            }
        }
    }

    /// A wait that no start of the spindle needs.
    fn check_length_of_wait(&mut self, seconds: f64) {
        let spin = &self.set.machine.spin;
        let round = spin.first.map(|first| 60.0 / first.as_rpm());
        let asked = [round, spin.up.map(Time::as_s)].into_iter().flatten().fold(0.0, f64::max);
        if asked > 0.0 && seconds > (asked * LONG_TIMES).max(LONG) {
            let what = format!("a wait of {seconds} s; the shop file asks for {asked:.1} s at most");
            self.note(ProgramRule::LongWait, what);
        }
    }

    /// Whether a dwell has the letter of the shop file. A shop that asks for no wait has said nothing of it.
    fn by_shops_word(&mut self, word: &Word) -> bool {
        let spin = &self.set.machine.spin;
        let letter = spin.dwell.letter();
        let other = match spin.dwell {
            DwellWord::X => "thousandths of a second, or revolutions",
            DwellWord::P | DwellWord::PMilliseconds => "another count, or a place",
        };
        let asked = spin.first.is_some() || spin.up.is_some();
        if asked && word.letter != letter {
            let what = format!(
                "G04 {}; the shop file says {letter}, and {} may be {other}",
                self.read.word_text(word),
                word.letter
            );
            self.note(ProgramRule::OtherDwell, what);
            return false;
        }
        true
    }

    /// The modes that only affect motion.
    fn modes(&mut self, commands: &BlockCommands) {
        let state = &mut self.state;
        state.plane = commands.plane.or(state.plane);
        state.unit = commands.unit.or(state.unit);
        state.compensation = commands.compensation.or(state.compensation);
        state.distance = commands.distance.or(state.distance);
        state.work_offset = commands.work_offset.or(state.work_offset);
        if matches!(commands.plane, Some(Plane::Xy | Plane::Yz)) {
            self.note(ProgramRule::WrongPlane, "a plane other than G18 is chosen");
        }
        if matches!(commands.compensation, Some(Compensation::Left | Compensation::Right)) {
            self.note(ProgramRule::Compensation, "cutter compensation is switched on");
        }
        if commands.path == Some(PathControl::Continuous) {
            self.note(ProgramRule::RoundedCorners, "G64");
        }
        if commands.path == Some(PathControl::Exact) {
            self.note(ProgramRule::ExactStop, "G61");
        }
        if let Some(offset) = commands.work_offset.filter(|n| self.set.control.work_offset != Some(*n)) {
            let wanted =
                self.set.control.work_offset.map_or_else(|| "uses none".into(), |n| format!("uses G{n}"));
            self.note(ProgramRule::OtherOffset, format!("G{offset}; the shop {wanted}"));
        }
    }

    fn stop(&mut self, commands: &BlockCommands) {
        match commands.stop {
            None => {}
            Some(Stop::Stop) => {
                self.state.stops.0 += 1;
                self.await_lines_between();
                self.check_stop(EventKind::Stop);
                self.event(EventKind::Stop);
            }
            Some(Stop::Optional) => {
                self.state.stops.1 += 1;
                self.await_lines_between();
                self.check_stop(EventKind::OptionalStop);
                self.event(EventKind::OptionalStop);
            }
            Some(Stop::End | Stop::EndRewind) => {
                self.state.ended = true;
                self.event(EventKind::End);
                self.check_clear_of_wheel(ProgramRule::EndAwayFromPark, "the program ends");
                self.check_at_home(ProgramRule::EndAwayFromHome, "the program ends");
                self.check_left_on();
                self.check_last_lines();
            }
        }
    }
}
