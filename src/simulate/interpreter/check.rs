//! Checks at each motion and at the end that do not need the face.

use super::{Interpreter, LENGTH_ROUNDING, RPM_ROUNDING, arc};
use crate::diagnostics::ProgramRule;
use crate::job::{Feed as Planned, FeedWords, LengthOffset, SpindleTurns};
use crate::simulate::commands::BlockCommands;
use crate::simulate::modal::{Distance, Motion, Plane, SpindleMode, State, Turning};
use crate::simulate::movement::{Feed, Movement, MovementKind, Spindle};
use crate::simulate::reader::Word;
use crate::units::SpindleSpeed;
use std::f64::consts::TAU;

/// Feed per revolution below which an edge only rubs, millimetres; the finest finishing feeds are about ten times as large (common practice, no source).
const FINEST_FEED: f64 = 0.005;
/// Factor by which F or S may exceed the schedule's without a finding: rounding to the word's digits.
const ABOVE_SCHEDULE: f64 = 1.01;
/// Below this share of the slowest speed that the schedule gives a digit or the unit is wrong: no metal is turned so slowly.
const NEARLY_STANDS: f64 = 0.1;
/// Below this share of it the finish is not the one that was asked for; an operator who slows down by less has a reason.
const SLOW: f64 = 0.5;
/// Nose radius assumed where the tool is not known, millimetres: the largest of the usual turning inserts (ISO 1832: 24).
const LARGEST_NOSE: f64 = 2.4;

/// How long the last two blocks at feed last.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Pace {
    /// Index of the last.
    block: usize,
    /// How long it lasts, seconds.
    seconds: f64,
    /// How long the one before it lasts.
    before: f64,
}

impl Interpreter<'_> {
    /// The modes that a motion depends on must have been set by the program.
    pub(super) fn check_relied_on(&mut self, motion: Motion) {
        let State { unit, distance, compensation, plane, work_offset, .. } = self.state;
        if unit.is_none() {
            self.note(ProgramRule::UnitUnset, "a motion, and no unit was ever set");
        }
        // In the other family X and Z are always absolute.
        if distance.is_none() && self.set.control.feed_words == FeedWords::G94G95 {
            self.note(ProgramRule::DistanceUnset, "a motion, and neither G90 nor G91 was ever given");
        }
        if let Some(wanted) = self.set.control.work_offset.filter(|_| work_offset.is_none()) {
            self.note(ProgramRule::OffsetUnset, format!("a motion before G{wanted}"));
        }
        if motion == Motion::Rapid {
            return;
        }
        if compensation.is_none() {
            self.note(ProgramRule::CompensationUnset, "a motion at feed, and G40 was never given");
        }
        if motion == Motion::Line {
            return;
        }
        match plane {
            None => self.note(ProgramRule::PlaneUnset, "an arc, and no plane was ever chosen"),
            Some(Plane::Zx) => {}
            Some(Plane::Xy | Plane::Yz) => {
                self.note(ProgramRule::WrongPlane, "an arc in a plane other than G18");
            }
        }
    }

    /// The start of a motion must be known.
    ///
    /// Up to the height of the park and then across is the safe way from wherever the tool stands.
    pub(super) fn check_start(&mut self, motion: Motion, commands: &BlockCommands, by_way_of_park: bool) {
        let known = self.state.known;
        let increments = self.state.distance == Some(Distance::Increments);
        // A step of nothing, as in `G28 U0. W0.`, ends where the tool stands, wherever that is.
        let goes = |word: Option<Word>| word.is_some_and(|word| word.value != 0.0);
        let steps = |place: Option<Word>, step: Option<Word>| goes(step) || (increments && goes(place));
        let step_from_unknown =
            (!known.0 && steps(commands.x, commands.u)) || (!known.1 && steps(commands.z, commands.w));
        if step_from_unknown {
            self.note(ProgramRule::PositionUnknown, "a step from a place that the program never stated");
        } else if known != (true, true) {
            let both = (commands.x.is_some() || commands.u.is_some())
                && (commands.z.is_some() || commands.w.is_some());
            if motion == Motion::Rapid && (both || by_way_of_park) {
                // The first motion of any correct program: its end is known, only its path is not.
            } else if motion == Motion::Rapid {
                self.note(ProgramRule::FirstPosition, "a rapid before both axes have been stated");
            } else {
                self.note(ProgramRule::PositionUnknown, "a motion at feed before both axes have been stated");
            }
        }
    }

    pub(super) fn check_surface(&mut self, surface: f64) {
        let Some(schedule) = self.set.schedule else { return };
        let rough = schedule.rough.as_ref().map(|p| p.surface_speed.as_mm_per_min());
        let finish = schedule.finish.as_ref().map(|p| p.surface_speed.as_mm_per_min());
        let most = rough.into_iter().chain(finish).fold(0.0, f64::max);
        if most > 0.0 && surface > most * ABOVE_SCHEDULE {
            let what = format!(
                "a surface speed of {:.0} m/min; the schedule's fastest is {:.0} m/min",
                surface / 1000.0,
                most / 1000.0
            );
            self.note(ProgramRule::OtherSurfaceSpeed, what);
        }
    }

    /// The wheel nearly stands while the tool is fed: by the words of surface speed, limit or revolutions.
    fn check_nearly_stands(&mut self, movement: &Movement, fastest: f64) {
        let Some(schedule) = self.set.schedule else { return };
        let rough = schedule.rough.as_ref().map(|p| p.surface_speed.as_mm_per_min());
        let finish = schedule.finish.as_ref().map(|p| p.surface_speed.as_mm_per_min());
        let rings = self.set.rings.iter().map(|r| r.finish.surface_speed.as_mm_per_min());
        let least = rough.into_iter().chain(finish).chain(rings).fold(f64::INFINITY, f64::min);
        let (x, _) = arc::extent(&movement.piece);
        let far = x[0].abs().max(x[1].abs());
        let scheduled = (least / (TAU * far)).min(self.set.speed_limit());
        if scheduled.is_finite() && fastest >= scheduled * NEARLY_STANDS && fastest < scheduled * SLOW {
            let what = format!(
                "a motion at feed at {fastest:.0} rpm; the schedule's slowest there is {scheduled:.0} rpm"
            );
            self.note(ProgramRule::SlowSurface, what);
        }
        if scheduled.is_finite() && fastest < scheduled * NEARLY_STANDS {
            let what = format!(
                "a motion at feed at {fastest:.1} rpm; the schedule's slowest there is {scheduled:.0} rpm"
            );
            self.note(ProgramRule::NearlyStands, what);
        }
    }

    /// The coarsest feed of the schedule, if all its feeds are given as feeds.
    fn coarsest_planned(&self) -> Option<f64> {
        let schedule = self.set.schedule?;
        let rough = schedule.rough.as_ref().map(|p| p.feed);
        let finish = schedule.finish.as_ref().map(|p| p.feed);
        let air = schedule.air.feed.map(Planned::PerRev);
        let mut most = None;
        for feed in rough.into_iter().chain(finish).chain(air) {
            let feed = match feed {
                Planned::PerRev(f) => f.as_mm_per_rev(),
                Planned::Grooves(pitch) => pitch.as_mm(),
                Planned::Rz(_) | Planned::Ra(_) => return None,
            };
            most = Some(feed.max(most.unwrap_or(0.0)));
        }
        most
    }

    pub(super) fn check_movement(&mut self, movement: &Movement) {
        self.check_travel(movement);
        if movement.kind == MovementKind::Feed {
            self.check_tool();
            let turns = self.check_spindle(movement);
            self.check_feed(movement, turns);
        }
    }

    fn check_travel(&mut self, movement: &Movement) {
        let (x, z) = arc::extent(&movement.piece);
        let machine = self.set.machine;
        for (name, reached, [least, most]) in
            [("x (radius)", x, machine.travel_x), ("z", z, machine.travel_z)]
        {
            let (least, most) = (least.as_mm(), most.as_mm());
            let beyond = if reached[0] < least - LENGTH_ROUNDING {
                reached[0]
            } else if reached[1] > most + LENGTH_ROUNDING {
                reached[1]
            } else {
                continue;
            };
            let what =
                format!("{name} reaches {beyond:.3} mm; the machine travels from {least} mm to {most} mm");
            self.note(ProgramRule::Travel, what);
        }
    }

    fn check_tool(&mut self) {
        match self.state.tool {
            Some(tool) if tool.number != 0 && tool.offset => {}
            Some(tool) if tool.number != 0 => {
                self.note(
                    ProgramRule::ToolOffsetOff,
                    format!("tool {} cuts with its offset off", tool.number),
                );
            }
            _ => self.note(ProgramRule::NoTool, "a motion at feed with no tool in force"),
        }
    }

    /// Checks the spindle; returns its slowest and fastest speed during the motion, where known.
    fn check_spindle(&mut self, movement: &Movement) -> Option<[f64; 2]> {
        let (clockwise, turns) = match movement.spindle {
            Spindle::Off => {
                self.note(ProgramRule::SpindleOff, "a motion at feed while the spindle stands");
                return None;
            }
            Spindle::Fixed { clockwise, speed } => (clockwise, speed.map(|n| [n.as_rpm(), n.as_rpm()])),
            Spindle::Surface { clockwise, speed, limit } => {
                let limit = limit.map_or(f64::INFINITY, SpindleSpeed::as_rpm);
                let (x, _) = arc::extent(&movement.piece);
                let far = x[0].abs().max(x[1].abs());
                let near = if x[0] <= 0.0 && x[1] >= 0.0 { 0.0 } else { x[0].abs().min(x[1].abs()) };
                let at = |r: f64, v: f64| (v / (TAU * r)).min(limit);
                (clockwise, speed.map(|v| [at(far, v.as_mm_per_min()), at(near, v.as_mm_per_min())]))
            }
        };
        if clockwise != (self.set.control.spindle_turns == SpindleTurns::M03) {
            let (is, wanted) = if clockwise { ("M03", "M04") } else { ("M04", "M03") };
            self.note(
                ProgramRule::SpindleWrongWay,
                format!("the spindle turns as {is}; the control says {wanted}"),
            );
        }
        self.check_gear(turns);
        match turns {
            None => self.note(
                ProgramRule::NoSpeed,
                "a motion at feed, and no S word was read in the spindle mode in force",
            ),
            Some([_, fastest]) if fastest <= 0.0 => {
                self.note(ProgramRule::SpindleOff, "a motion at feed with S0");
            }
            Some([_, fastest]) => self.check_nearly_stands(movement, fastest),
        }
        turns.filter(|[slowest, fastest]| *slowest > 0.0 && fastest.is_finite())
    }

    /// The gear range in force must reach the speed of the motion.
    fn check_gear(&mut self, turns: Option<[f64; 2]>) {
        let gear = self.set.control.traits.gears.iter().find(|g| Some(g.word) == self.state.gear);
        if let (Some(gear), Some([_, fastest])) = (gear, turns)
            && fastest > gear.to.as_rpm() + RPM_ROUNDING
        {
            let what = format!(
                "{fastest:.0} rpm in gear M{}, which turns {:.0} rpm at most",
                gear.word,
                gear.to.as_rpm()
            );
            self.note(ProgramRule::GearTooSlow, what);
        }
    }

    fn check_feed(&mut self, movement: &Movement, turns: Option<[f64; 2]>) {
        let written = match movement.feed {
            Feed::Missing => {
                self.note(
                    ProgramRule::NoFeed,
                    "a motion at feed, and no F word was read in the feed mode in force",
                );
                return;
            }
            Feed::PerRev(f) => f.as_mm_per_rev(),
            Feed::PerMinute(f) => f.as_mm_per_min(),
        };
        if written <= 0.0 {
            self.note(ProgramRule::ZeroFeed, "a motion at a feed of zero");
            return;
        }
        // Without a known spindle speed only one of feed per revolution and feed per minute is known.
        let (per_minute, per_rev) = if matches!(movement.feed, Feed::PerMinute(_)) {
            (Some(written), turns.map(|n| [written / n[1], written / n[0]]))
        } else {
            (turns.map(|n| written * n[1]), Some([written, written]))
        };
        if let Some(f) = per_minute {
            self.check_feed_per_minute(movement, f);
        }
        if let Some([finest, coarsest]) = per_rev {
            self.check_feed_per_rev(movement, finest, coarsest);
        }
    }

    fn check_feed_per_minute(&mut self, movement: &Movement, feed: f64) {
        let most = self.set.machine.feed_limit.as_mm_per_min();
        if feed > most + RPM_ROUNDING {
            self.note(
                ProgramRule::FeedTooFast,
                format!("{feed:.0} mm/min; the machine feeds {most:.0} mm/min at most"),
            );
        }
        self.check_pace(movement, movement.piece.length() / feed * 60.0);
    }

    /// A control reads a block ahead of the one that it runs: while two run it must have read two.
    fn check_pace(&mut self, movement: &Movement, seconds: f64) {
        let after_feed = self.movements.last().is_some_and(|m| m.kind == MovementKind::Feed);
        let Pace { block, seconds: last, .. } = self.pace;
        self.pace = if after_feed && block == movement.block {
            Pace { seconds: last + seconds, ..self.pace }
        } else {
            Pace { block: movement.block, seconds, before: last }
        };
        let together = self.pace.before + self.pace.seconds;
        let least = 2.0 / self.set.control.blocks_per_second;
        if after_feed && block != movement.block && together < least {
            let what = format!("two blocks that last less than {:.1} ms at their feed", 1000.0 * least);
            self.note(ProgramRule::ShortBlock, what);
        }
    }

    fn check_feed_per_rev(&mut self, movement: &Movement, finest: f64, coarsest: f64) {
        let tool = self.set.tools.iter().find(|t| Some(t.number) == movement.tool);
        let nose = tool.map_or(LARGEST_NOSE, |t| t.nose_radius.as_mm());
        if coarsest > nose {
            self.note(
                ProgramRule::FeedCoarse,
                format!("{coarsest:.3} mm for each revolution, and a nose radius of {nose} mm"),
            );
        } else if let Some(most) = self.coarsest_planned().filter(|f| coarsest > f * ABOVE_SCHEDULE) {
            let what = format!("{coarsest:.3} mm/rev; the schedule's coarsest is {most} mm/rev");
            self.note(ProgramRule::OtherFeed, what);
        }
        if finest < FINEST_FEED {
            self.note(ProgramRule::FeedFine, format!("{finest:.5} mm for each revolution"));
        }
    }

    /// What is still on at the end.
    pub(super) fn check_left_on(&mut self) {
        if self.state.turning != Turning::Off {
            self.note(ProgramRule::SpindleLeftOn, "the spindle still turns at the end");
        }
        if self.state.mist || self.state.flood {
            self.note(ProgramRule::CoolantLeftOn, "the coolant is still on at the end");
        }
        if self.state.spindle_mode == Some(SpindleMode::Surface) {
            self.note(ProgramRule::SurfaceSpeedLeftOn, "G96 is still in force at the end");
        }
        if self.state.distance == Some(Distance::Increments) {
            self.note(ProgramRule::IncrementsLeftOn, "G91 is still in force at the end");
        }
        let control = self.set.control;
        let by_word =
            control.tool_word.carries_offset() || control.traits.length_offset != LengthOffset::None;
        if let Some(tool) = self.state.tool.filter(|t| by_word && t.offset) {
            self.note(
                ProgramRule::OffsetLeftOn,
                format!("the offset of tool {} is still in force", tool.number),
            );
        }
    }
}
