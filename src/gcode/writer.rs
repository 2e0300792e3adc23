//! One part of a program, from tape mark to tape mark.
//!
//! The order of things, and why:
//!
//! - **Safe start.** Every modal group that the program relies on is set, none is taken as found: plane,
//!   unit, no nose compensation (the plan has the nose in it already), absolute distances, feed mode,
//!   fixed spindle speed with the spindle off, work offset. No canned cycle is used, and the first motion
//!   word, G00, ends any that was left in force, so G80 is not needed. In the G98 and G99 family G90 is a turning cycle and
//!   is never written: X and Z are absolute there by themselves.
//! - **Every pass is a place to begin again.** A stop may end in a reset, so after each stop everything
//!   but the tool call is said anew: modes, limit, spindle, coolant, feed, both coordinates.
//! - **Spindle.** It starts with G97 at the speed that the pass begins with; where the control holds a surface speed, G96 takes over
//!   once the tool stands at that radius. Said earlier, at the park, it would slow the spindle and then speed it up again on the
//!   way in. Before the way out G97 holds the speed that the cut ended with, for the same reason. The limit is in force before the spindle turns. It stands at every stop: not every control stops it at M00 and M01.
//! - **First turn.** Where the shop wants it, the spindle turns slowly a few times at the park before the first pass, so that somebody sees
//!   how the wheel runs; it stops, then M00. A wait after each start of the spindle (G04) stands at the park too, away from metal.
//! - **Air pass.** The spindle turns as in the cut, so that jaws, balance and noise are seen with the path; no
//!   coolant, so that it can be seen. Then M00.
//! - **Tools** change at the park with the spindle off, then M00 for the touch-off. After it the tool word is
//!   said again, because many controls take up a changed offset only when it is called; a tool change
//!   by M06 is not repeated.
//! - **End.** Spindle and coolant off, G97, G40, the feed mode and G90 stated, the tool offset
//!   cancelled where a word carries one (T0100, D0, G49): at the park or the reference point, with nothing that moves after it. The work offset
//!   stays the shop's: another one would be in force for whatever is moved by hand next. The spindle
//!   limit stays: it only ever makes the next program slower, and nothing says what it was before.

use super::arc;
use super::block::ProgramBuilder;
use super::header;
use super::machine_words::Moment;
use super::scale::{Place, Scale, WordScale, whole_rpm};
use super::word::Word;
use super::{GcodeError, PassName, ProgramText, touch_words};
use crate::geometry::Piece;
use crate::job::{
    Control, Coolant, FeedWords, Job, SpindleLimitWord, SpindleTurns, Stops, Tool, Tyre, UnitWord, passes,
};
use crate::plan::parts::Part;
use crate::plan::{Motion, Operation, Pass, PassKind, Plan, Role, time_of};
use crate::units::SpindleSpeed;

/// What the operator decides at the stop after the air pass: of a tyre that is off nothing is said.
const fn air_pass_done(tyre: Tyre) -> &'static str {
    match tyre {
        Tyre::Mounted => "AIR PASS DONE. GO ON ONLY IF IT WAS CLEAR OF FACE, JAWS AND TYRE ALL THE WAY",
        Tyre::Removed => "AIR PASS DONE. GO ON ONLY IF IT WAS CLEAR OF FACE AND JAWS ALL THE WAY",
    }
}

/// What is set there before the passes that follow.
const SWITCH_ON: &str = ". SWITCH OPTIONAL STOP ON, TO LOOK AFTER EACH PASS";

/// What the operator watches while the wheel turns slowly, and decides after it.
const FIRST_TURN: &str = "TURN. WATCH THE RIM AND THE JAWS WHILE THE WHEEL TURNS SLOWLY";
const FIRST_TURN_DONE: &str =
    "THE WHEEL TURNED SLOWLY. GO ON ONLY IF IT RAN AS TRUE AS SURVEYED AND NOTHING STOOD IN ITS WAY";

/// How often the wheel turns slowly: once to find the high side, once to see it again, once to be sure.
const FIRST_TURNS: f64 = 3.0;

/// What the operator looks at between passes.
const LOOK: &str = "LOOK WHERE THE FACE IS STILL DARK AND AT THE DAMAGE BEFORE THE NEXT PASS";

/// What the control has been told and will hold to, so that words are written only as needed.
#[derive(Debug, Default)]
struct ModalState {
    safe: bool,
    motion: Option<u32>,
    x: Option<i64>,
    z: Option<i64>,
    feed: Option<Word>,
    rpm: Option<i64>,
}

pub(super) struct Writer<'a> {
    job: &'a Job,
    pub(super) control: &'a Control,
    pub(super) scale: Scale,
    pub(super) program: ProgramBuilder<'a>,
    modal: ModalState,
}

/// Writes one part.
pub(super) fn write_part(job: &Job, plan: &Plan, part: &Part) -> Result<ProgramText, GcodeError> {
    let control = &job.control;
    let mut writer = Writer::new(job)?;
    let scale = writer.scale;
    writer.program.tape_mark();
    if let Some(first) = control.program_number {
        writer.program.program_number(program_number(first, part)?);
    }
    header::write(&mut writer.program, job, plan, part, &scale)?;
    writer.safe_start()?;
    for (i, operation) in part.operations.iter().enumerate() {
        writer.operation(i == 0, part.number == 1, operation)?;
    }
    if let Some(last) = part.operations.last() {
        writer.end(&last.tool, &end_of(part))?;
    }
    writer.program.tape_mark();
    let (blocks, text) = writer.program.finish();
    let touch_offs =
        part.operations.iter().map(|o| touch_words::words(o, job, &scale)).collect::<Result<_, _>>()?;
    let before = part.before();
    let names: Vec<PassName> = part.operations.iter().flat_map(|o| &o.passes).map(named).collect();
    let passes = names.iter().filter(|p| p.kind != PassKind::Air).count();
    let time = time_of(job, &part.operations);
    Ok(ProgramText { part: part.number, of: part.of, before, passes, names, time, blocks, touch_offs, text })
}

fn named(pass: &Pass) -> PassName {
    let Pass { kind, number, of, ring, .. } = pass;
    PassName { kind: *kind, number: *number, of: *of, ring: ring.clone() }
}

/// What stands at the end of a part, and which comes next.
fn end_of(part: &Part) -> String {
    let Part { number, of, .. } = part;
    match of {
        0 | 1 => String::new(),
        of if number < of => format!("OF PART {number} OF {of}. GO ON WITH PART {}", number + 1),
        _ => format!("OF PART {number} OF {of}, THE LAST"),
    }
}

/// Parts count on from the first one's number.
fn program_number(first: u32, part: &Part) -> Result<u32, GcodeError> {
    /// Program numbers have four digits.
    const LAST: u32 = 9999;
    let number = u32::try_from(part.number - 1).ok().and_then(|n| first.checked_add(n));
    number.filter(|n| (1..=LAST).contains(n)).ok_or(GcodeError::ProgramNumber { first, part: part.number })
}

impl<'a> Writer<'a> {
    /// A writer for the job's control, with nothing written.
    pub(super) fn new(job: &'a Job) -> Result<Self, GcodeError> {
        let control = &job.control;
        let (scale, program) = (Scale::new(control)?, ProgramBuilder::new(control)?);
        Ok(Self { job, control, scale, program, modal: ModalState::default() })
    }

    /// Both coordinates are written again in the next motion, also one that the control holds already.
    pub(super) fn both_axes_anew(&mut self) {
        (self.modal.x, self.modal.z) = (None, None);
    }

    pub(super) fn words(&mut self, words: &[Word]) -> Result<(), GcodeError> {
        self.program.words(words)
    }

    fn safe_start(&mut self) -> Result<(), GcodeError> {
        self.modes()?;
        self.words(&[Word::code('G', 97), Word::code('M', 5)])?;
        self.coolant_off()?;
        self.extra_lines(Moment::Start)
    }

    /// Every modal group that motions rely on.
    pub(super) fn modes(&mut self) -> Result<(), GcodeError> {
        let unit = match self.control.unit_word {
            UnitWord::G20 => 20,
            UnitWord::G21 => 21,
            UnitWord::G70 => 70,
            UnitWord::G71 => 71,
        };
        let feed = self.feed_mode();
        let mut words = vec![Word::code('G', 18), Word::code('G', unit), Word::code('G', 40)];
        words.extend(self.distance_mode());
        words.push(feed);
        self.words(&words)?;
        if let Some(offset) = self.control.work_offset {
            if !(54..=59).contains(&offset) {
                return Err(GcodeError::WorkOffset(offset));
            }
            self.words(&[Word::code('G', offset)])?;
        }
        self.modal.safe = true;
        Ok(())
    }

    const fn feed_mode(&self) -> Word {
        match self.control.feed_words {
            FeedWords::G94G95 => Word::code('G', 95),
            FeedWords::G98G99 => Word::code('G', 99),
        }
    }

    /// All passes of one tool, from park to park.
    fn operation(&mut self, first: bool, first_part: bool, operation: &Operation) -> Result<(), GcodeError> {
        let scale = WordScale::new(self.scale, &operation.tool);
        let at = format!("tool {}", operation.tool.name);
        let start = operation.passes.first().and_then(|p| p.motions.first()).map(|m| m.piece.from());
        let Some(start) = start else { return Err(GcodeError::NotAtPark { at }) };
        let mut here = scale.place(start, &at)?;
        let home = here;
        self.tool_call(first, operation)?;
        if first && first_part {
            self.first_turn()?;
        }
        for (i, pass) in operation.passes.iter().enumerate() {
            if i > 0 {
                self.stop_after(operation.passes.get(i - 1), operation.passes.len() - i)?;
            }
            here = self.pass((pass, &operation.tool), &scale, here)?;
            if here != home {
                return Err(GcodeError::NotAtPark { at });
            }
        }
        self.way_home(home)
    }

    /// The slow turn before the first pass, where the shop wants one. The spindle stands at the stop after it, as at every stop.
    fn first_turn(&mut self) -> Result<(), GcodeError> {
        let Some(speed) = self.job.machine.spin.first else { return Ok(()) };
        self.check_speed(speed, "first turn")?;
        self.program.comment("SLOW", FIRST_TURN);
        self.gear_for(speed.as_rpm())?;
        let turns = self.turns();
        self.words(&[Word::code('G', 97), Word::whole('S', whole_rpm(speed)?, 1), Word::code('M', turns)])?;
        self.dwell(60.0 * FIRST_TURNS / speed.as_rpm())?;
        self.words(&[Word::code('M', 5)])?;
        self.program.comment("STOP.", FIRST_TURN_DONE);
        self.stop(0)
    }

    /// A wait of so many seconds, rounded up to a tenth.
    pub(super) fn dwell(&mut self, seconds: f64) -> Result<(), GcodeError> {
        let time = self.scale.dwell(self.job.machine.spin.dwell, seconds);
        self.words(&[Word::code('G', 4), time])
    }

    /// The word that turns the spindle.
    const fn turns(&self) -> u32 {
        match self.control.spindle_turns {
            SpindleTurns::M03 => 3,
            SpindleTurns::M04 => 4,
        }
    }

    /// Calls the tool; a later one is touched off here.
    fn tool_call(&mut self, first: bool, operation: &Operation) -> Result<(), GcodeError> {
        let tool = &operation.tool;
        self.program.comment("TOOL", &format!("{} {}", tool.number, tool.name));
        self.call(tool)?;
        if first {
            return Ok(());
        }
        let text = touch_words::touch_off_text(operation, self.job, &self.scale)?;
        self.program.comment("STOP.", &format!("TOUCH OFF THIS TOOL. {text}"));
        self.stop(0)?;
        self.call_again(tool)
    }

    /// The stop after a pass, at which the operator looks and decides; so many passes of the tool are to come.
    fn stop_after(&mut self, done: Option<&Pass>, to_come: usize) -> Result<(), GcodeError> {
        let Some(done) = done else { return Ok(()) };
        if done.kind == PassKind::Air {
            // Where somebody is sure to read it: at a switch that is off nothing is seen of the stops after it.
            let looks = self.control.stops == Stops::Optional && to_come > 1;
            let switch = if looks { SWITCH_ON } else { "" };
            self.program.comment("STOP.", &format!("{}{switch}", air_pass_done(self.job.wheel.tyre)));
            return self.stop(0);
        }
        let left = passes::left_after(&self.job.wheel, done.total);
        let seen = header::contact_text(done, &self.scale);
        let look = format!(
            "{seen}{} IS OFF THE HIGHEST PLACE, {} OF THE ALLOWANCE LEFT. {LOOK}",
            self.scale.length_text(done.total),
            self.scale.length_text(left)
        );
        match self.control.stops {
            Stops::Optional => {
                self.program.comment("OPTIONAL STOP.", &look);
                self.stop(1)
            }
            Stops::Program => {
                self.program.comment("STOP.", &look);
                self.stop(0)
            }
        }
    }

    /// A stop, after which nothing is taken as still said.
    pub(super) fn stop(&mut self, word: u32) -> Result<(), GcodeError> {
        self.modal = ModalState::default();
        self.words(&[Word::code('M', word)])
    }

    /// One pass, from `here`; gives the place where it ends.
    fn pass(
        &mut self,
        (pass, tool): (&Pass, &Tool),
        scale: &WordScale,
        mut here: Place,
    ) -> Result<Place, GcodeError> {
        let at = format!("{} {}", header::pass_name(pass).to_lowercase(), pass.number);
        self.check_speed(pass.spindle_limit, &at)?;
        self.program.comment(&header::pass_name(pass), &header::pass_text(pass, &self.scale)?);
        self.program.number_next();
        if !self.modal.safe {
            self.modes()?;
            self.offset_taken_up(tool)?;
            self.extra_lines(Moment::Between)?;
        }
        self.gear(pass)?;
        let first = pass.motions.iter().find(|m| m.role != Role::Rapid);
        let stepped = first.map(|m| self.stepped_speed(pass, m, &at)).transpose()?.flatten();
        let start = stepped.map_or_else(|| whole_rpm(pass.entry_speed()), Ok)?;
        let last = pass.motions.iter().rposition(|m| m.role != Role::Rapid);
        let mut held = self.spindle_on(pass, start)?;
        // The tool may have been moved by hand: up to the park's height first, where nothing stands, then across.
        self.move_to(0, &[('Z', here.z)], &[], &[])?;
        self.move_to(0, &[('X', here.x)], &[], &[])?;
        let feed = self.scale.feed(pass.feed)?;
        for (i, motion) in pass.motions.iter().enumerate() {
            if scale.place(motion.piece.from(), &at)? != here {
                return Err(GcodeError::Gap { at, motion: i + 1 });
            }
            let there = scale.place(motion.piece.to(), &at)?;
            if motion.role != Role::Rapid
                && let Some(held) = held.take()
            {
                self.words(&held)?;
            }
            let rpm = self.stepped_speed(pass, motion, &at)?;
            self.motion((motion, rpm), [here, there], feed, &at)?;
            here = there;
            if self.control.surface_speed && last == Some(i) {
                self.words(&[Word::code('G', 97), Word::whole('S', whole_rpm(pass.exit_speed())?, 1)])?;
            }
        }
        self.words(&[Word::code('M', 5)])?;
        self.coolant_off()?;
        Ok(here)
    }

    /// The fixed speed of a motion at feed, where the control cannot hold a surface speed.
    fn stepped_speed(&self, pass: &Pass, motion: &Motion, at: &str) -> Result<Option<i64>, GcodeError> {
        if self.control.surface_speed || motion.role == Role::Rapid {
            return Ok(None);
        }
        let speed = motion.speed.ok_or_else(|| GcodeError::NoSpindleSpeed { at: at.to_owned() })?;
        self.check_speed(if speed > pass.spindle_limit { speed } else { pass.spindle_limit }, at)?;
        whole_rpm(speed).map(Some)
    }

    /// Refuses a speed faster than wheel or machine allow.
    fn check_speed(&self, limit: SpindleSpeed, at: &str) -> Result<(), GcodeError> {
        let limit_rpm = limit.as_rpm();
        let allowed_rpm = self.job.speed_limit().as_rpm();
        if limit_rpm <= allowed_rpm {
            Ok(())
        } else {
            Err(GcodeError::SpindleLimit { at: at.to_owned(), limit_rpm, allowed_rpm })
        }
    }

    /// Limit, spindle, coolant. Returned are the words of the surface speed, where the control holds one, for when the tool is there.
    fn spindle_on(&mut self, pass: &Pass, start: i64) -> Result<Option<Vec<Word>>, GcodeError> {
        let limit = whole_rpm(pass.spindle_limit)?;
        let mut held =
            vec![Word::code('G', 96), Word::whole('S', self.scale.surface_speed(pass.surface_speed)?, 1)];
        if self.control.surface_speed {
            match self.control.spindle_limit_word {
                SpindleLimitWord::G92 => self.words(&[Word::code('G', 92), Word::whole('S', limit, 1)])?,
                SpindleLimitWord::G50 => self.words(&[Word::code('G', 50), Word::whole('S', limit, 1)])?,
                SpindleLimitWord::D => held.push(Word::whole('D', limit, 1)),
                SpindleLimitWord::None => return Err(GcodeError::NoLimitWord),
            }
        }
        let turns = self.turns();
        self.words(&[Word::code('G', 97), Word::whole('S', start, 1), Word::code('M', turns)])?;
        if let Some(wait) = self.job.machine.spin.up {
            self.dwell(wait.as_s())?;
        }
        self.modal.rpm = Some(start);
        if pass.kind != PassKind::Air {
            self.coolant(7, 8)?;
        }
        Ok(self.control.surface_speed.then_some(held))
    }

    pub(super) fn coolant(&mut self, mist: u32, flood: u32) -> Result<(), GcodeError> {
        match self.control.coolant {
            Coolant::None => Ok(()),
            Coolant::M07 => self.words(&[Word::code('M', mist)]),
            Coolant::M08 => self.words(&[Word::code('M', flood)]),
        }
    }

    pub(super) fn coolant_off(&mut self) -> Result<(), GcodeError> {
        self.coolant(9, 9)
    }

    fn motion(
        &mut self,
        (motion, rpm): (&Motion, Option<i64>),
        [here, there]: [Place; 2],
        feed: Word,
        at: &str,
    ) -> Result<(), GcodeError> {
        let Motion { role, piece, .. } = *motion;
        let ends = [('X', there.x), ('Z', there.z)];
        match (role, piece) {
            (Role::Rapid, Piece::Line(_)) => self.move_to(0, &ends, &[], &[]),
            (Role::Rapid, Piece::Arc(_)) => Err(GcodeError::RapidArc { at: at.to_owned() }),
            (_, Piece::Line(_)) if here == there => Ok(()),
            (_, Piece::Line(_)) => {
                let tail = self.feed_and_speed(feed, rpm);
                self.move_to(1, &ends, &[], &tail)
            }
            (_, Piece::Arc(arc)) => {
                let centre = arc::centre_words(&arc, [here, there], self.control, &self.scale, at)?;
                // An arc names both its end coordinates: a control may take a missing one for a fault.
                self.both_axes_anew();
                let tail = self.feed_and_speed(feed, rpm);
                self.move_to(arc::sense(arc.turn), &ends, &centre, &tail)
            }
        }
    }

    /// The F and S words that a motion at feed still needs.
    fn feed_and_speed(&mut self, feed: Word, rpm: Option<i64>) -> Vec<Word> {
        let mut tail = Vec::new();
        if self.modal.feed != Some(feed) {
            self.modal.feed = Some(feed);
            tail.push(feed);
        }
        if let Some(rpm) = rpm.filter(|&n| self.modal.rpm != Some(n)) {
            self.modal.rpm = Some(rpm);
            tail.push(Word::whole('S', rpm, 1));
        }
        tail
    }

    /// A motion block with the words that the control does not already hold.
    pub(super) fn move_to(
        &mut self,
        code: u32,
        ends: &[(char, i64)],
        centre: &[Word],
        tail: &[Word],
    ) -> Result<(), GcodeError> {
        let mut coordinates = Vec::new();
        for &(address, count) in ends {
            let held = if address == 'X' { &mut self.modal.x } else { &mut self.modal.z };
            if *held != Some(count) {
                *held = Some(count);
                coordinates.push(self.scale.word(address, count));
            }
        }
        if coordinates.is_empty() {
            return Ok(());
        }
        let mut words = Vec::new();
        if self.modal.motion != Some(code) {
            self.modal.motion = Some(code);
            words.push(Word::code('G', code));
        }
        words.extend(coordinates);
        words.extend_from_slice(centre);
        let whole: Vec<Word> = words.iter().chain(tail).copied().collect();
        if self.program.has_room(&whole) {
            return self.words(&whole);
        }
        // Feed and speed are modal: in a block of their own ahead they hold for this motion just the same.
        self.words(tail)?;
        self.words(&words)
    }

    /// Absolute distances, where a word says so: in the G98 and G99 family G90 starts a turning cycle, and X and Z words are
    /// absolute by themselves.
    fn distance_mode(&self) -> Option<Word> {
        (self.control.feed_words == FeedWords::G94G95).then(|| Word::code('G', 90))
    }

    /// Everything put back, at the park with the spindle off.
    pub(super) fn end(&mut self, tool: &Tool, of: &str) -> Result<(), GcodeError> {
        self.program.comment("END", of);
        let feed = self.feed_mode();
        let mut words = vec![Word::code('G', 40)];
        words.extend(self.distance_mode());
        words.extend([feed, Word::code('G', 97)]);
        self.words(&words)?;
        self.extra_lines(Moment::End)?;
        self.offset_off(tool)?;
        self.words(&[Word::code('M', 30)])
    }
}
