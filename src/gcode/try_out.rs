//! A small dry program for a control that was described anew: every word that a program for it would hold, once, with what the operator must see.
//!
//! It runs with an empty chuck, beside the park and far from it: [`REACH`] toward wheel and axis and no further. Before each block stands
//! what it shows when the shop file is right; where it shows anything else, the shop file is wrong there. Arcs are
//! made of whole numbers (3-4-5 and the like), so that what is seen can be measured with a rule. Not shown: whether the control carries the
//! last digit of a place; the first touch check on metal does that.

use super::arc;
use super::machine_words::Moment;
use super::scale::{Place, WordScale, whole_rpm};
use super::word::Word;
use super::writer::Writer;
use super::{GcodeError, ProgramText};
use crate::geometry::{Arc, Point, Turn};
use crate::job::{
    Arcs, Control, Coolant, Feed, Job, LengthOffset, SpindleLimitWord, SpindleTurns, Stops, Tool, ToolWord,
    WayHome, XWords,
};
use crate::units::{Angle, FeedPerRev, Length, MM_PER_INCH, SpindleSpeed, SurfaceSpeed, Time};
use std::f64::consts::TAU;

/// How far the tool goes from the park toward wheel and axis, millimetres.
pub const REACH: f64 = 25.0;

/// Feed where the schedule gives none as a feed, millimetres for each revolution.
const FEED: f64 = 0.1;

/// Program numbers have four digits.
const LAST_NUMBER: u32 = 9999;

/// How long the wait is where a program holds one for its slow first turn alone, seconds.
const WAIT: f64 = 2.0;

/// A circle with whole places on it, from its top on: how far across each lies, and how far up from the centre.
struct Circle {
    radius: f64,
    /// What one is of the figures' unit.
    share: f64,
    places: &'static [[f64; 2]],
}

/// Circles for arcs of a quarter turn, of 21 degrees and of 8.4 degrees: the first is taken whose arcs the control allows. An arc in pieces bulges as much as
/// one, and what nobody can see is no trial.
const CIRCLES: [Circle; 3] = [
    Circle { radius: 5.0, share: 1.0, places: &[[4.0, 3.0]] },
    Circle { radius: 25.0, share: 0.2, places: &[[7.0, 24.0], [15.0, 20.0], [20.0, 15.0]] },
    Circle {
        radius: 1105.0,
        share: 0.01,
        places: &[
            [105.0, 1100.0],
            [169.0, 1092.0],
            [264.0, 1073.0],
            [425.0, 1020.0],
            [520.0, 975.0],
            [576.0, 943.0],
            [663.0, 884.0],
        ],
    },
];

impl Circle {
    /// The longest of its arcs, radians.
    fn longest(&self) -> f64 {
        let angles = || self.places.iter().map(|[across, up]| across.atan2(*up));
        angles().zip(std::iter::once(0.0).chain(angles())).map(|(to, from)| to - from).fold(0.0, f64::max)
    }
}

/// One thing to look at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    /// What must be seen, in capitals as in the program.
    pub what: String,
    /// The blocks after which it must be seen.
    pub blocks: Vec<String>,
}

/// A dry program and what must be seen of it.
#[derive(Debug, Clone, PartialEq)]
pub struct TryOut {
    /// The program.
    pub program: ProgramText,
    /// What must be seen, block by block.
    pub seen: Vec<Seen>,
}

/// Writes the dry program for the control, machine and tools of a job.
///
/// # Errors
/// Where the control cannot say a place or a speed.
pub fn try_out(job: &Job) -> Result<TryOut, GcodeError> {
    let Some(tool) = job.tools.first() else { return Err(GcodeError::AirPass) };
    let mut trial = Trial::new(job, tool)?;
    trial.head();
    trial.start()?;
    trial.turn()?;
    trial.feed()?;
    trial.arcs()?;
    trial.back()?;
    trial.end()?;
    Ok(trial.finish())
}

struct Trial<'a> {
    job: &'a Job,
    control: &'a Control,
    tool: &'a Tool,
    writer: Writer<'a>,
    scale: WordScale,
    seen: Vec<Seen>,
    /// One unit of the figures: a millimetre, or a twentieth of an inch.
    unit: f64,
    park: Point,
    at: Point,
    surface_speed: SurfaceSpeed,
    rpm: i64,
}

impl<'a> Trial<'a> {
    fn new(job: &'a Job, tool: &'a Tool) -> Result<Self, GcodeError> {
        let control = &job.control;
        let writer = Writer::new(job)?;
        let scale = WordScale::new(writer.scale, tool);
        let unit = if control.unit_word.is_inch() { MM_PER_INCH / 20.0 } else { 1.0 };
        let grid = control.grid(tool);
        let park = Point::new(
            grid.nearest_x(job.machine.park_x.as_mm()),
            grid.nearest_z(job.machine.park_z.as_mm()),
        );
        let passes = [
            job.schedule.rough.as_ref().map(|p| p.surface_speed),
            job.schedule.finish.as_ref().map(|p| p.surface_speed),
        ];
        let slowest =
            passes.into_iter().flatten().map(SurfaceSpeed::as_mm_per_min).fold(f64::INFINITY, f64::min);
        let surface_speed = control.nameable_surface_speed(SurfaceSpeed::mm_per_min(slowest));
        let wanted = slowest / (TAU * park.x.max(unit));
        let rpm = whole_rpm(SpindleSpeed::rpm(wanted.min(limit_of(job))))?;
        Ok(Self {
            job,
            control,
            tool,
            writer,
            scale,
            seen: Vec::new(),
            unit,
            park,
            at: park,
            surface_speed,
            rpm,
        })
    }

    fn head(&mut self) {
        let writer = &mut self.writer;
        writer.program.tape_mark();
        if let Some(number) = self.control.program_number {
            // Not the number of the wheel's program, which it would replace in the control.
            writer.program.program_number(if number < LAST_NUMBER { number + 1 } else { number - 1 });
        }
        writer.program.comment("TRY-OUT", "OF THE CONTROL. EMPTY CHUCK, NO WHEEL ON THE MACHINE, DOOR SHUT");
        writer.program.checksum();
        for caution in [
            "SINGLE BLOCK ON, RAPID AND FEED OVERRIDE LOW, HAND AT THE STOP",
            "BEFORE START NOTE THE FIRST TOOL'S OFFSET, BRING THE TOOL TO THE PARK, AND SET THE OFFSET SO THAT THE DISPLAY SHOWS THE PARK THERE",
            "AFTER THE TRY-OUT PUT THE OFFSET BACK IN X AND Z. Z IS SET ANEW AT THE TOUCH-OFF, X IS NOT",
            "BEFORE EACH BLOCK STANDS WHAT MUST BE SEEN AFTER IT. ANYTHING ELSE: STOP, AND MEND THE SHOP FILE",
        ] {
            writer.program.comment("CAUTION", caution);
        }
    }

    /// Blocks, and what must be seen after them.
    fn see(
        &mut self,
        what: impl Into<String>,
        write: impl FnOnce(&mut Writer<'a>) -> Result<(), GcodeError>,
    ) -> Result<(), GcodeError> {
        let what = what.into();
        let comment_at = self.writer.program.blocks().len();
        self.writer.program.comment("SEE", &what);
        let from = self.writer.program.blocks().len();
        write(&mut self.writer)?;
        let blocks: Vec<String> =
            self.writer.program.blocks().iter().skip(from).map(ToString::to_string).collect();
        if blocks.is_empty() {
            self.writer.program.take_back(comment_at);
        } else {
            self.seen.push(Seen { what, blocks });
        }
        Ok(())
    }

    /// Modes, lines of the shop's own, the tool, and the park.
    fn start(&mut self) -> Result<(), GcodeError> {
        let x = match self.control.x_words {
            XWords::Diameter => "DIAMETER",
            XWords::Radius => "RADIUS",
        };
        let unit = self.scale.scale.unit();
        self.see(format!("NOTHING MOVES, NO ALARM. THE DISPLAY SHOWS {unit}, X AS {x}"), Writer::modes)?;
        self.see("NOTHING TURNS AND NOTHING RUNS", |w| {
            w.words(&[Word::code('G', 97), Word::code('M', 5)])?;
            w.coolant_off()
        })?;
        self.see("WHAT THE SHOP'S OWN LINES FOR THE START DO", |w| w.extra_lines(Moment::Start))?;
        let (tool, number) = (self.tool, self.tool.number);
        let offset = match (self.control.tool_word, self.control.traits.length_offset) {
            (_, LengthOffset::G43) => format!("LENGTH OFFSET H{number} IN FORCE"),
            (ToolWord::NumberAndD, _) => format!("OFFSET D{number} IN FORCE"),
            _ => "ITS OFFSET IN FORCE".to_owned(),
        };
        self.see(format!("TOOL {number} COMES INTO PLACE, {offset}"), |w| w.call(tool))?;
        let park = self.place(self.park)?;
        let shown = self.shown(park);
        self.see(
            format!("THE TOOL STAYS AT THE PARK, OR GOES THERE, FIRST Z, THEN X. THE DISPLAY SHOWS {shown}"),
            |w| {
                w.move_to(0, &[('Z', park.z)], &[], &[])?;
                w.move_to(0, &[('X', park.x)], &[], &[])
            },
        )
    }

    /// Gear, limit, spindle, coolant.
    fn turn(&mut self) -> Result<(), GcodeError> {
        let rpm = self.rpm;
        let fastest = self.fastest_rpm();
        self.gears()?;
        self.see("THE GEAR RANGE CHANGES OR STAYS, NO ALARM", |w| w.gear_for(fastest))?;
        let low = self.low_limit();
        self.see(
            format!("NOTHING MOVES AND THE DISPLAY KEEPS ITS X AND Z. A SPINDLE LIMIT OF {low} RPM IS SHOWN"),
            |w| limit_words(w, low),
        )?;
        let turns = self.turns();
        let limited = self.control.surface_speed
            && matches!(self.control.spindle_limit_word, SpindleLimitWord::G92 | SpindleLimitWord::G50);
        let or = if limited {
            format!(", OR AT {low} RPM WHERE THE CONTROL HOLDS THE LIMIT AT FIXED SPEEDS TOO")
        } else {
            String::new()
        };
        self.see(
            format!(
                "THE SPINDLE TURNS AT {rpm} RPM{or}, THE FACE OF THE CHUCK MOVING AGAINST THE TOP OF THE TOOL"
            ),
            |w| w.words(&[Word::code('G', 97), Word::whole('S', rpm, 1), Word::code('M', turns)]),
        )?;
        // Told in a wrong word, it is no wait or a thousandth of it, or X moves.
        let spin = &self.job.machine.spin;
        if let Some(seconds) = spin.up.map(Time::as_s).or(spin.first.map(|_| WAIT)) {
            self.see(format!("THE TOOL STAYS WHERE IT IS, AND THE BLOCK TAKES {seconds} S"), |w| {
                w.dwell(seconds)
            })?;
        }
        let coolant = self.control.coolant;
        if coolant != Coolant::None {
            self.see("COOLANT RUNS", |w| w.coolant(7, 8))?;
            self.see("COOLANT STOPS", Writer::coolant_off)?;
        }
        Ok(())
    }

    /// Every gear range but the one in which the rest is run, each with a speed in its middle.
    fn gears(&mut self) -> Result<(), GcodeError> {
        let (gears, turns) = (&self.control.traits.gears, self.turns());
        for gear in gears {
            let speed = whole_rpm(SpindleSpeed::rpm(gear.to.as_rpm().min(limit_of(self.job)) / 2.0))?;
            self.see(format!("GEAR RANGE M{} COMES IN, NO ALARM, NOTHING TURNS YET", gear.word), |w| {
                w.words(&[Word::code('M', gear.word)])
            })?;
            self.see(
                format!("THE SPINDLE TURNS AT {speed} RPM BY THE DISPLAY AND BY EYE, THEN STOPS"),
                |w| {
                    w.words(&[Word::code('G', 97), Word::whole('S', speed, 1), Word::code('M', turns)])?;
                    w.words(&[Word::code('M', 5)])
                },
            )?;
        }
        Ok(())
    }

    /// The word that turns the spindle.
    const fn turns(&self) -> u32 {
        match self.control.spindle_turns {
            SpindleTurns::M03 => 3,
            SpindleTurns::M04 => 4,
        }
    }

    /// A spindle limit below the speed that the surface speed asks for at the park: there it must be seen to hold.
    const fn low_limit(&self) -> i64 {
        let half = self.rpm / 2;
        if half < 1 { 1 } else { half }
    }

    /// The fastest that the spindle will turn: under a constant surface speed, where the tool is nearest to the axis.
    fn fastest_rpm(&self) -> f64 {
        let near = Length::mm((self.park.x - REACH).max(self.unit));
        let held = if self.control.surface_speed { self.surface_speed.at_radius(near).as_rpm() } else { 0.0 };
        held.min(limit_of(self.job)).max(self.rpm as f64)
    }

    /// A rapid toward the chuck and a feed toward the axis, each ten units long.
    fn feed(&mut self) -> Result<(), GcodeError> {
        let ten = self.length(10.0);
        let down = Point::new(self.at.x, self.at.z - 10.0 * self.unit);
        let place = self.go(down)?;
        self.see(
            format!("RAPID, {ten} TOWARD THE CHUCK BY THE RULE. THE DISPLAY SHOWS {}", self.shown(place)),
            |w| w.move_to(0, &[('Z', place.z)], &[], &[]),
        )?;
        if self.control.surface_speed {
            let speed = self.writer.scale.surface_speed(self.surface_speed)?;
            let (low, limit) = (self.low_limit(), whole_rpm(SpindleSpeed::rpm(limit_of(self.job)))?);
            let by_d = self.control.spindle_limit_word == SpindleLimitWord::D;
            let held = |limit: i64| {
                let words = [Word::code('G', 96), Word::whole('S', speed, 1)];
                words.into_iter().chain(by_d.then(|| Word::whole('D', limit, 1))).collect::<Vec<_>>()
            };
            if self.control.spindle_limit_word == SpindleLimitWord::None {
                self.see(format!("THE SPINDLE TURNS AT ABOUT {} RPM", self.rpm), |w| w.words(&held(limit)))?;
            } else {
                let rpm = self.rpm;
                self.see(
                    format!("THE SPINDLE SLOWS DOWN TO THE LIMIT, {low} RPM. AT {rpm} RPM THE LIMIT DOES NOT HOLD: STOP"),
                    |w| w.words(&held(low)),
                )?;
                self.see(
                    format!("THE LIMIT IS {limit} RPM, AND THE SPINDLE TURNS AT ABOUT {rpm} RPM"),
                    |w| {
                        if by_d { w.words(&held(limit)) } else { limit_words(w, limit) }
                    },
                )?;
            }
        }
        let feed = self.job.schedule.rough.as_ref().map(|p| p.feed);
        let feed = match feed {
            Some(Feed::PerRev(feed)) => feed,
            _ => FeedPerRev::mm_per_rev(FEED),
        };
        let word = self.writer.scale.feed(feed)?;
        let inward = Point::new(self.at.x - 10.0 * self.unit, self.at.z);
        let place = self.go(inward)?;
        let minutes = 10.0 * self.unit / (feed.as_mm_per_rev() * self.rpm as f64);
        let shown = self.shown(place);
        self.see(
            format!(
                "{ten} TOWARD THE AXIS BY THE RULE, NOT HALF OF IT AND NOT TWICE, IN ABOUT {:.0} S AT 100 PCT FEED. THE DISPLAY SHOWS {shown}",
                60.0 * minutes
            ),
            |w| w.move_to(1, &[('X', place.x)], &[], &[word]),
        )
    }

    /// Two arcs, one bulging away from the chuck and one toward it, each within a quadrant and in pieces no longer than the control allows.
    fn arcs(&mut self) -> Result<(), GcodeError> {
        if self.control.arcs == Arcs::None {
            return Ok(());
        }
        let longest = self.control.traits.longest_arc.map_or(f64::INFINITY, Angle::as_rad);
        let [.., finest] = &CIRCLES;
        let circle = CIRCLES.iter().find(|circle| circle.longest() <= longest).unwrap_or(finest);
        let share = circle.share * self.unit;
        let radius = circle.radius * share;
        let top = self.at;
        let away: Vec<Point> = circle
            .places
            .iter()
            .map(|[across, up]| Point::new(top.x - across * share, top.z - radius + up * share))
            .collect();
        let middle = away.last().copied().unwrap_or(top);
        // The same places the other way round: it begins as steep as the first ends, and ends level.
        let low = Point::new(2.0 * middle.x - top.x, 2.0 * middle.z - top.z);
        let turned = |at: &Point| Point::new(low.x + top.x - at.x, low.z + top.z - at.z);
        let toward: Vec<Point> = away.iter().rev().skip(1).map(turned).chain([low]).collect();
        let text = self.writer.scale.length_text(Length::mm(radius));
        for (places, centre, turn, way) in [
            (away, Point::new(top.x, top.z - radius), Turn::CounterClockwise, "AWAY FROM"),
            (toward, Point::new(low.x, low.z + radius), Turn::Clockwise, "TOWARD"),
        ] {
            let mut pieces = Vec::new();
            for to in places {
                let from = self.at;
                let here = self.place(from)?;
                let there = self.go(to)?;
                let arc = Arc { from, to, centre, turn };
                let words =
                    arc::centre_words(&arc, [here, there], self.control, &self.writer.scale, "the try-out")?;
                pieces.push((there, words));
            }
            let shown = pieces.last().map(|(there, _)| self.shown(*there)).unwrap_or_default();
            let blocks = match pieces.len() {
                1 => String::new(),
                count => format!(" IN {count} BLOCKS"),
            };
            self.see(
                format!("AN ARC OF RADIUS {text}{blocks}, BULGING {way} THE CHUCK, LESS THAN A QUARTER TURN, NO ALARM. THE DISPLAY SHOWS {shown}"),
                |w| {
                    for (there, words) in &pieces {
                        w.both_axes_anew();
                        w.move_to(arc::sense(turn), &[('X', there.x), ('Z', there.z)], words, &[])?;
                    }
                    Ok(())
                },
            )?;
        }
        Ok(())
    }

    /// Back to the park, spindle off, a stop, the other tool.
    fn back(&mut self) -> Result<(), GcodeError> {
        let park = self.go(self.park)?;
        self.see("RAPID STRAIGHT AWAY FROM THE CHUCK, THEN AWAY FROM THE AXIS, TO THE PARK", |w| {
            w.move_to(0, &[('Z', park.z)], &[], &[])?;
            w.move_to(0, &[('X', park.x)], &[], &[])
        })?;
        let rpm = self.rpm;
        self.see("THE SPINDLE STOPS", |w| {
            w.words(&[Word::code('G', 97), Word::whole('S', rpm, 1), Word::code('M', 5)])
        })?;
        if self.control.stops == Stops::Optional {
            self.see("THE CONTROL STOPS IF ITS SWITCH FOR OPTIONAL STOPS IS ON, AND ONLY THEN", |w| {
                w.stop(1)
            })?;
        }
        self.see("THE CONTROL STOPS, WHATEVER ITS SWITCHES. CYCLE START GOES ON", |w| w.stop(0))?;
        self.writer.program.number_next();
        self.see("NOTHING MOVES, NO ALARM", Writer::modes)?;
        self.see("WHAT THE SHOP'S OWN LINES AFTER A STOP DO", |w| w.extra_lines(Moment::Between))?;
        let park = self.place(self.park)?;
        let tool = self.tool;
        self.see("THE SAME TOOL, NOTHING TURNS ROUND", |w| {
            w.call_again(tool)?;
            w.offset_taken_up(tool)
        })?;
        self.see("NOTHING MOVES: THE TOOL IS AT THE PARK ALREADY", |w| {
            w.move_to(0, &[('Z', park.z)], &[], &[])?;
            w.move_to(0, &[('X', park.x)], &[], &[])
        })
    }

    fn end(&mut self) -> Result<(), GcodeError> {
        let park = self.place(self.park)?;
        if self.control.traits.way_home == WayHome::G28 {
            self.see("THE TOOL GOES AWAY FROM CHUCK AND AXIS TO THE REFERENCE POINT", |w| w.way_home(park))?;
        }
        if let Some(other) = self.job.tools.get(1) {
            let number = other.number;
            self.see(format!("TOOL {number} COMES INTO PLACE"), |w| w.call(other))?;
        }
        let last = self.job.tools.get(1).unwrap_or(self.tool);
        self.see("THE PROGRAM ENDS AND GOES BACK TO ITS BEGINNING, NOTHING TURNS, NO OFFSET IN FORCE", |w| {
            w.end(last, "")
        })
    }

    fn finish(mut self) -> TryOut {
        self.writer.program.tape_mark();
        let (blocks, text) = self.writer.program.finish();
        let program = ProgramText {
            part: 1,
            of: 1,
            before: Length::mm(0.0),
            passes: 0,
            names: Vec::new(),
            time: Time::s(0.0),
            blocks,
            touch_offs: Vec::new(),
            text,
        };
        TryOut { program, seen: self.seen }
    }

    fn place(&self, at: Point) -> Result<Place, GcodeError> {
        self.scale.place(at, "the try-out")
    }

    fn go(&mut self, to: Point) -> Result<Place, GcodeError> {
        self.at = to;
        self.place(to)
    }

    /// A place as the display shows it.
    fn shown(&self, at: Place) -> String {
        let scale = self.writer.scale;
        format!("{} {}", scale.word('X', at.x), scale.word('Z', at.z))
    }

    fn length(&self, units: f64) -> String {
        self.writer.scale.length_text(Length::mm(units * self.unit))
    }
}

/// The block that sets the spindle limit of the constant surface speed, where it has a block of its own.
fn limit_words(writer: &mut Writer<'_>, limit: i64) -> Result<(), GcodeError> {
    let word = match writer.control.spindle_limit_word {
        SpindleLimitWord::G92 => 92,
        SpindleLimitWord::G50 => 50,
        SpindleLimitWord::D | SpindleLimitWord::None => return Ok(()),
    };
    if !writer.control.surface_speed {
        return Ok(());
    }
    writer.words(&[Word::code('G', word), Word::whole('S', limit, 1)])
}

/// The fastest that machine and wheel may turn, rpm.
fn limit_of(job: &Job) -> f64 {
    job.speed_limit().as_rpm()
}
