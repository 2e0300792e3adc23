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
mod tool;

use super::catalog;
use super::modal::{
    Compensation, Distance, Motion, Once, PathControl, Plane, SpindleMode, State, Stop, Turning, Unit,
};
use super::movement::{Movement, MovementKind, Spindle};
use super::notebook::{Notebook, Place};
use super::orders::{Orders, orders};
use super::reader::{Block, ProgramRead, Word};
use crate::geometry::{Piece, Point, Turn};
use crate::job::{Arcs, Control, Job, Machine as Lathe, Schedule, SpindleLimitWord, Tool, UnitWord};
use crate::quantity::{SpindleSpeed, Time};

/// What a program is held against.
#[derive(Debug, Clone, Copy)]
pub struct Setting<'a> {
    /// The machine.
    pub machine: &'a Lathe,
    /// The control.
    pub control: &'a Control,
    /// The tools of the job.
    pub tools: &'a [Tool],
    /// Fastest the wheel may turn.
    pub wheel_limit: SpindleSpeed,
    /// The schedule, for what is faster or coarser than any pass of it.
    pub schedule: Option<&'a Schedule>,
}

impl<'a> From<&'a Job> for Setting<'a> {
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

impl Setting<'_> {
    /// The fastest the spindle may turn: the least of machine and wheel, revolutions per minute.
    pub(crate) fn speed_limit(&self) -> f64 {
        self.machine.spindle_limit.as_rpm().min(self.wheel_limit.as_rpm())
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
pub(crate) struct Machine<'a> {
    read: &'a ProgramRead,
    set: Setting<'a>,
    pub state: State,
    pub notes: Notebook,
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

impl<'a> Machine<'a> {
    /// A machine before its first block.
    pub fn new(read: &'a ProgramRead, set: Setting<'a>) -> Self {
        let park = Point::new(set.machine.park_x.as_mm(), set.machine.park_z.as_mm());
        Self {
            read,
            set,
            state: State::at(park),
            notes: Notebook::default(),
            movements: Vec::new(),
            events: Vec::new(),
            index: 0,
            place: Place::WHOLE,
        }
    }

    fn note(&mut self, fact: &'static catalog::Fact, what: impl Into<String>) {
        self.notes.add(fact, self.place, what.into());
    }

    fn event(&mut self, kind: EventKind) {
        self.events.push(Event {
            block: self.index,
            sequence: self.place.block,
            line: self.place.line,
            kind,
            at: self.state.position,
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
        let o = orders(block, self.set.control, read.options, text, &mut self.notes);
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

    fn unit_of_block(&mut self, o: &Orders) -> Unit {
        let control = self.set.unit();
        if let Some(unit) = o.unit {
            if unit != control {
                let what = format!("{}, and the control works in {}", unit.name(), control.name());
                self.note(&catalog::WRONG_UNIT, what);
            }
            if self.state.unit != Some(unit) && (o.f.is_some() || o.s.is_some()) {
                self.note(&catalog::UNIT_MIXED, "the unit is set in a block with F or S");
            }
        }
        o.unit.or(self.state.unit).unwrap_or(control)
    }

    fn feed_mode(&mut self, o: &Orders) {
        if let Some(mode) = o.feed_mode {
            if self.state.feed_mode != Some(mode) {
                self.state.feed = None;
            }
            self.state.feed_mode = Some(mode);
        }
    }

    fn spindle_mode(&mut self, o: &Orders) {
        let Some(mode) = o.spindle_mode else { return };
        if self.state.spindle_mode != Some(mode) {
            self.state.speed = None;
            self.state.surface = None;
        }
        self.state.spindle_mode = Some(mode);
        if mode == SpindleMode::Surface && !self.set.control.surface_speed {
            self.note(&catalog::FEATURE_MISSING, "G96: the control holds no constant surface speed");
        }
    }

    /// The spindle limit, by G92, G50 or D.
    fn limit(&mut self, o: &Orders) {
        let by_d = self.set.control.spindle_limit_word == SpindleLimitWord::D;
        let word = match (o.once, o.d) {
            (Some(Once::Limit), _) => {
                if let Some(word) = o.x.or(o.z).or(o.u).or(o.w) {
                    let what = format!("{} beside the word of the spindle limit", self.read.word_text(&word));
                    self.note(&catalog::FRAME_SHIFT, what);
                } else if o.s.is_none() {
                    self.note(&catalog::MISSING_WORD, "the word of the spindle limit stands without S");
                }
                o.s
            }
            (_, Some(d)) if by_d && o.spindle_mode == Some(SpindleMode::Surface) => Some(d),
            _ => None,
        };
        if let Some(d) = o.d.filter(|_| word != o.d) {
            self.note(&catalog::UNUSED_WORD, self.read.word_text(&d));
        }
        let Some(word) = word else { return };
        if word.value <= 0.0 {
            self.note(&catalog::NEGATIVE, format!("a spindle limit of {} rpm", word.value));
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
            self.note(&catalog::LIMIT_TOO_HIGH, what);
        }
        self.state.limit = Some(word.value);
        if self.state.turning != Turning::Off {
            self.event(EventKind::Spindle);
        }
    }

    fn feed(&mut self, o: &Orders, unit: Unit) {
        let Some(word) = o.f else { return };
        if o.once == Some(Once::Dwell) {
            self.note(
                &catalog::UNKNOWN_WORD,
                "F in a block with G04: a dwell on one control, a feed on another",
            );
            return;
        }
        if self.state.feed_mode.is_none() {
            self.note(&catalog::FEED_MODE_UNSET, "F is read and no feed mode was ever set");
        }
        if self.read.options.implied_decimals.is_some() && !word.point {
            self.note(&catalog::UNCLEAR_FEED, self.read.word_text(&word));
        }
        if word.value < 0.0 {
            self.note(&catalog::NEGATIVE, self.read.word_text(&word));
            return;
        }
        self.state.feed = Some(word.value * unit.in_mm());
    }

    fn speed(&mut self, o: &Orders, unit: Unit) {
        let Some(word) = o.s.filter(|_| o.once != Some(Once::Limit)) else { return };
        if o.once == Some(Once::Dwell) {
            self.note(
                &catalog::UNKNOWN_WORD,
                "S in a block with G04: a dwell on one control, a speed on another",
            );
            return;
        }
        if word.value < 0.0 {
            self.note(&catalog::NEGATIVE, self.read.word_text(&word));
            return;
        }
        if self.state.spindle_mode == Some(SpindleMode::Surface) {
            let surface = word.value * unit.surface_in_mm();
            self.check_surface(surface);
            self.state.surface = Some(surface);
        } else {
            if self.state.spindle_mode.is_none() {
                self.note(&catalog::SPINDLE_MODE_UNSET, "S is read and neither G96 nor G97 was ever given");
            }
            if word.value > self.set.speed_limit() + RPM_ROUNDING {
                let what = format!(
                    "{} rpm; the machine may turn {} rpm, the wheel {} rpm",
                    word.value,
                    self.set.machine.spindle_limit.as_rpm(),
                    self.set.wheel_limit.as_rpm()
                );
                self.note(&catalog::OVER_SPEED, what);
            }
            self.state.speed = Some(word.value);
        }
        if self.state.turning != Turning::Off && o.turning.is_none() {
            self.event(EventKind::Spindle);
        }
    }

    fn turning(&mut self, o: &Orders) {
        let before = self.state.turning;
        if let Some(turning) = o.turning {
            if before != Turning::Off && turning != Turning::Off && before != turning {
                self.note(&catalog::REVERSED_RUNNING, "the spindle is reversed while it turns");
            }
            self.state.turning = turning;
            self.event(EventKind::Spindle);
        }
        // Said where the spindle is spoken to, not at every block after.
        let spoken = o.turning.is_some() || o.spindle_mode.is_some();
        let surface = self.state.spindle_mode == Some(SpindleMode::Surface);
        if spoken && surface && self.state.turning != Turning::Off && self.state.limit.is_none() {
            self.note(
                &catalog::NO_LIMIT,
                "the spindle turns at a constant surface speed and no limit is in force",
            );
        }
    }

    fn coolant(&mut self, o: &Orders) {
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
    fn dwell(&mut self, o: &Orders) {
        let dwell = o.once == Some(Once::Dwell);
        let spare = if dwell { o.x.filter(|_| o.p.is_some()).or(o.z).or(o.u).or(o.w) } else { o.p };
        if let Some(word) = spare {
            self.note(&catalog::UNUSED_WORD, self.read.word_text(&word));
        }
        if !dwell {
            return;
        }
        match o.p.or(o.x) {
            None => self.note(&catalog::MISSING_WORD, "G04 without P or X"),
            Some(word) if word.value < 0.0 => self.note(&catalog::NEGATIVE, self.read.word_text(&word)),
            Some(word) => self.event(EventKind::Dwell { time: Time::s(word.value) }),
        }
    }

    /// The modes that only motion minds.
    fn modes(&mut self, o: &Orders) {
        let state = &mut self.state;
        state.plane = o.plane.or(state.plane);
        state.unit = o.unit.or(state.unit);
        state.compensation = o.compensation.or(state.compensation);
        state.distance = o.distance.or(state.distance);
        state.work_offset = o.work_offset.or(state.work_offset);
        if matches!(o.plane, Some(Plane::Xy | Plane::Yz)) {
            self.note(&catalog::WRONG_PLANE, "a plane other than G18 is chosen");
        }
        if matches!(o.compensation, Some(Compensation::Left | Compensation::Right)) {
            self.note(&catalog::COMPENSATION, "cutter compensation is switched on");
        }
        if o.path == Some(PathControl::Continuous) {
            self.note(&catalog::ROUNDED_CORNERS, "G64");
        }
        if let Some(offset) = o.work_offset.filter(|n| self.set.control.work_offset != Some(*n)) {
            let wanted =
                self.set.control.work_offset.map_or_else(|| "uses none".into(), |n| format!("uses G{n}"));
            self.note(&catalog::OTHER_OFFSET, format!("G{offset}; the shop {wanted}"));
        }
    }

    /// Motion, after everything else but the stop.
    fn motion(&mut self, o: &Orders, unit: Unit) {
        match o.once {
            Some(Once::MachineFrame) => {
                self.note(&catalog::MACHINE_FRAME, "G53");
                self.state.known = (false, false);
                return;
            }
            // Their axis words, where they have any, are spoken for.
            Some(Once::Dwell | Once::Limit) => return,
            None => {}
        }
        self.state.motion = o.motion.or(self.state.motion);
        let axes = o.x.is_some() || o.z.is_some() || o.u.is_some() || o.w.is_some();
        let arc = matches!(self.state.motion, Some(Motion::Clockwise | Motion::CounterClockwise));
        if !(arc && (axes || o.motion.is_some())) {
            for word in [o.i, o.k, o.r].into_iter().flatten() {
                self.note(&catalog::UNUSED_WORD, self.read.word_text(&word));
            }
        }
        if !axes {
            match o.motion {
                Some(Motion::Rapid | Motion::Line) => {
                    self.note(&catalog::NO_AXES, "a motion word without X or Z");
                }
                Some(Motion::Clockwise | Motion::CounterClockwise) => {
                    self.note(&catalog::ZERO_ARC, "an arc without an end point");
                }
                Some(Motion::None) | None => {}
            }
            return;
        }
        let motion = match self.state.motion {
            None | Some(Motion::None) => {
                self.note(&catalog::NO_MOTION_WORD, "axes are named and no motion word is in force");
                return;
            }
            Some(motion) => motion,
        };
        self.check_relied_on(motion);
        let from = self.state.position;
        let to = self.target(o, unit);
        self.check_start(motion, o);
        let known = &mut self.state.known;
        *known = (known.0 || o.x.is_some(), known.1 || o.z.is_some());
        self.state.position = to;
        match motion {
            Motion::Rapid if from != to => self.go(MovementKind::Rapid, Piece::line(from, to)),
            Motion::Line if from != to => self.go(MovementKind::Feed, Piece::line(from, to)),
            Motion::Clockwise => self.arc(o, unit, from, to, Turn::CounterClockwise),
            Motion::CounterClockwise => self.arc(o, unit, from, to, Turn::Clockwise),
            Motion::Rapid | Motion::Line | Motion::None => {}
        }
    }

    fn target(&mut self, o: &Orders, unit: Unit) -> Point {
        let from = self.state.position;
        let absolute = self.state.distance != Some(Distance::Increments);
        let across = if self.set.control.x_words == crate::job::XWords::Diameter { 0.5 } else { 1.0 };
        for (place, step) in [(o.x, o.u), (o.z, o.w)] {
            if let (Some(_), Some(step)) = (place, step) {
                self.note(
                    &catalog::REPEATED_WORD,
                    format!("{} beside its own axis", self.read.word_text(&step)),
                );
            }
        }
        let mut axis = |place: Option<Word>, step: Option<Word>, factor: f64, at: f64| match (place, step) {
            (Some(word), _) if absolute => self.length(&word, unit) * factor,
            (Some(word), _) | (None, Some(word)) => at + self.length(&word, unit) * factor,
            (None, None) => at,
        };
        let x = axis(o.x, o.u, across, from.x);
        let z = axis(o.z, o.w, 1.0, from.z);
        Point::new(x, z)
    }

    /// A dimension word in millimetres.
    fn length(&mut self, word: &Word, unit: Unit) -> f64 {
        if usize::try_from(word.decimals).unwrap_or(usize::MAX) > self.set.control.decimals {
            let what = format!(
                "{} has more than the {} decimals of the control",
                self.read.word_text(word),
                self.set.control.decimals
            );
            self.note(&catalog::TOO_FINE, what);
        }
        if word.point {
            return word.value * unit.in_mm();
        }
        if let Some(places) = self.read.options.implied_decimals {
            let step = 10_f64.powi(i32::try_from(places).unwrap_or(i32::MAX));
            return word.value / step * unit.in_mm();
        }
        if word.value != 0.0 {
            self.note(&catalog::NO_POINT, format!("an {} word without a decimal point", word.letter));
        }
        word.value * unit.in_mm()
    }

    fn arc(&mut self, o: &Orders, unit: Unit, from: Point, to: Point, turn: Turn) {
        if from == to {
            self.note(&catalog::ZERO_ARC, "the arc ends where it starts");
            return;
        }
        let tolerance = self.set.control.arc_tolerance.as_mm();
        let centre = match (o.r, o.i.is_some() || o.k.is_some()) {
            (Some(_), true) => {
                self.note(&catalog::SAME_GROUP, "an arc with R and with I or K");
                return;
            }
            (Some(r), false) => {
                self.arc_form(Arcs::Radius);
                let r = self.length(&r, unit);
                match self.centre_by_radius(from, to, r, turn, tolerance) {
                    Some(centre) => centre,
                    None => return,
                }
            }
            (None, true) => {
                self.arc_form(Arcs::Centre);
                let [i, k] = [o.i, o.k].map(|w| w.map_or(0.0, |w| self.length(&w, unit)));
                from.shifted(i, k)
            }
            (None, false) => {
                self.note(&catalog::MISSING_WORD, "an arc without I, K or R");
                return;
            }
        };
        let (start, end) = (from.distance(centre), to.distance(centre));
        if start == 0.0 || end == 0.0 {
            self.note(&catalog::ARC_RADII, "the centre lies on the arc's own end");
            return;
        }
        if (start - end).abs() > tolerance + LENGTH_ROUNDING {
            let what = format!(
                "{start:.4} mm from the centre at the start and {end:.4} mm at the end; {tolerance} mm may lie between"
            );
            self.note(&catalog::ARC_RADII, what);
        }
        let swept = arc::sweep(from, to, centre, turn);
        if swept > std::f64::consts::PI {
            self.note(&catalog::LONG_ARC, format!("the arc turns {:.1} degrees", swept.to_degrees()));
        }
        for piece in arc::pieces(from, to, centre, turn) {
            self.go(MovementKind::Feed, piece);
        }
    }

    fn arc_form(&mut self, form: Arcs) {
        let read = self.set.control.arcs;
        if read != form {
            let name = |a| match a {
                Arcs::Centre => "arcs by I and K",
                Arcs::Radius => "arcs by R",
                Arcs::None => "no arcs",
            };
            self.note(&catalog::ARC_FORM, format!("{}; the control reads {}", name(form), name(read)));
        }
    }

    fn centre_by_radius(&mut self, from: Point, to: Point, r: f64, turn: Turn, slack: f64) -> Option<Point> {
        /// Beyond this share of the diameter a chord's arc is so close to half a turn that R hardly holds its centre: 170 degrees.
        const NEAR_HALF: f64 = 0.9962;
        if r < 0.0 {
            self.note(&catalog::LONG_ARC, format!("R {r} mm: the longer of the two arcs"));
        }
        let chord = from.distance(to);
        if chord > NEAR_HALF * 2.0 * r.abs() && chord <= 2.0 * (r.abs() + slack) {
            self.note(
                &catalog::HALF_ARC,
                format!("an arc of nearly half a turn by its radius, {:.4} mm", r.abs()),
            );
        }
        // The longer arc has the centre of the shorter one that turns the other way.
        let side = if r < 0.0 { turn.reversed() } else { turn };
        let centre = arc::centre(from, to, r.abs(), side, slack);
        if centre.is_none() {
            self.note(&catalog::SHORT_RADIUS, format!("R {r:.4} mm, and the ends lie {chord:.4} mm apart"));
        }
        centre
    }

    fn go(&mut self, kind: MovementKind, piece: Piece) {
        let movement = Movement {
            block: self.index,
            sequence: self.place.block,
            line: self.place.line,
            kind,
            piece,
            tool: self.state.tool.map(|t| t.number),
            spindle: self.state.spindle(),
            feed: self.state.feed(),
            coolant: self.state.mist || self.state.flood,
            stops_before: self.state.stops,
        };
        self.check_movement(&movement);
        self.movements.push(movement);
    }

    fn stop(&mut self, o: &Orders) {
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
