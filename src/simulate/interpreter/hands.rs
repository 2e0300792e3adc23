//! Checks for the people at the machine: at a stop a hand may be in there, a tool is touched off where the program stops for it, and
//! after either nobody knows where the tool stands.
//!
//! A tool other than the first counts as touched off once the program has stopped (M00) between its call and its first cut. M01 does
//! not count: with the switch off the control runs through. Where the T word takes up the offset it must be said again after that stop, because
//! many controls take up a changed offset only when it is called (common practice, no source).

use super::{EventKind, Interpreter};
use crate::diagnostics::{Place, ProgramRule};
use crate::geometry::Point;
use crate::job::{LengthOffset, Machine, ToolWord, WayHome};
use crate::simulate::commands::BlockCommands;
use crate::simulate::modal::{Distance, Motion, Turning};
use crate::simulate::movement::MovementKind;
use crate::units::Length;

/// How far beside the park a tool may stand and still count as at it, millimetres: a programmed point lies beside the tool's front
/// point by up to two nose radii.
pub(super) const PARK_NEAR: f64 = 5.0;

/// How far a tool is touched off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Touch {
    /// Called, and the program has not stopped since.
    Called,
    /// The program has stopped for it, and its offset has not been called since.
    Stopped,
    /// It may cut.
    Ready,
}

/// What the checks remember.
#[derive(Debug, Default)]
pub(super) struct Hands {
    /// The tools called so far.
    tools: Vec<(u32, Touch)>,
    /// What stood between the last motion and the present block: the first stop or dwell, by its place.
    stood: Option<(Place, &'static str)>,
    /// Whether the last motion was at feed.
    at_feed: bool,
    /// Whether a hand may have moved the tool since the last motion.
    moved_by_hand: Moved,
    /// A wait with the tool over the wheel since the last motion: its place, and what is said of it.
    waited: Option<(Place, String)>,
    /// What the spindle did last.
    spindle: LastOfSpindle,
    /// Whether the program has said what the spindle does; before, it turns as the program before left it.
    spindle_said: bool,
}

/// What the spindle did last, as far as somebody acts on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum LastOfSpindle {
    /// It has turned over a motion, or stood over a stop.
    #[default]
    Nothing,
    /// It has started since the last motion: a wait there lets it reach its speed.
    Started,
    /// It was stopped, and the program has not stopped since.
    Halted,
}

/// Whether a hand may have moved the tool.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Moved {
    /// It may: before the start, and where a tool is touched off.
    #[default]
    ByHand,
    /// The tool went straight up to the height of the park.
    Up,
    /// The program knows where it stands.
    No,
}

impl Interpreter<'_> {
    /// A tool word was read, whether or not it changes the tool. Without the offset it takes nothing up that was entered at a stop.
    pub(super) fn tool_called(&mut self, number: u32, offset: bool) {
        let takes_up = offset && self.says_offset();
        match self.hands.tools.iter_mut().find(|(n, _)| *n == number) {
            Some((_, touch)) if takes_up && *touch == Touch::Stopped => *touch = Touch::Ready,
            Some(_) => {}
            None => {
                let first = self.hands.tools.is_empty();
                self.hands.tools.push((number, if first { Touch::Ready } else { Touch::Called }));
            }
        }
    }

    /// Whether a word takes up a tool's offset, so that it must be said again after the offset was changed.
    fn says_offset(&self) -> bool {
        let control = self.set.control;
        control.tool_word != ToolWord::NumberAndM06 || control.traits.length_offset == LengthOffset::G43
    }

    /// Where hands may be at work, or nobody here knows what a block does, the tool stands clear of the wheel.
    pub(super) fn check_clear_of_wheel(&mut self, rule: ProgramRule, word: &str) {
        let park = [self.set.machine.park_x, self.set.machine.park_z];
        self.check_beyond((park, "the park"), rule, word);
    }

    /// The tool stands at a place or further from wheel and axis.
    fn check_beyond(&mut self, (place, name): ([Length; 2], &str), rule: ProgramRule, word: &str) {
        let [wanted_x, wanted_z] = place.map(Length::as_mm);
        let Point { x, z } = self.position;
        if x < wanted_x - PARK_NEAR || z < wanted_z - PARK_NEAR {
            let what = format!(
                "{word} with the tool at radius {x:.1} mm, height {z:.1} mm; {name} is at radius {wanted_x:.1} mm, height {wanted_z:.1} mm"
            );
            self.note(rule, what);
        }
    }

    /// The turret turns only where all of it is clear of the wheel: where the shop changes tools at the reference point, there. Where the
    /// program has not said yet where the tool stands, whoever started it brought it to its place.
    pub(super) fn check_change_place(&mut self, number: u32, turns_round: bool) {
        let word = format!("tool {number} is called");
        self.check_clear_of_wheel(ProgramRule::ChangeAwayFromPark, &word);
        if turns_round && self.state.known == (true, true) {
            self.check_at_home(ProgramRule::ChangeAwayFromHome, &word);
        }
    }

    /// Where the shop goes home by G28 the tool stands at the reference point.
    pub(super) fn check_at_home(&mut self, rule: ProgramRule, word: &str) {
        let home = self.set.machine.reference.filter(|_| self.set.control.traits.way_home == WayHome::G28);
        if let Some(home) = home {
            self.check_beyond((home, "the reference point"), rule, word);
        }
    }

    /// A block says whether the spindle turns.
    pub(super) fn spindle_said(&mut self) {
        self.hands.spindle_said = true;
    }

    /// Where a hand may be at work the program has said that the spindle stands: it may turn since the program before.
    pub(super) fn check_spindle_said(&mut self, what: &str) {
        if !std::mem::replace(&mut self.hands.spindle_said, true) {
            self.note(
                ProgramRule::SpindleUnset,
                format!("{what}, and neither M05 nor a start of the spindle stands before it"),
            );
        }
    }

    /// The spindle starts or stops: who saw it stop expects that the program stops before it starts again.
    pub(super) fn check_starts_again(&mut self, turning: Turning) {
        let before = self.hands.spindle;
        match (self.state.turning, turning) {
            (Turning::Off, Turning::Off) => {}
            (_, Turning::Off) => self.hands.spindle = LastOfSpindle::Halted,
            (Turning::Off, _) => {
                self.hands.spindle = LastOfSpindle::Started;
                if before == LastOfSpindle::Halted {
                    self.note(
                        ProgramRule::StartsAgain,
                        "the spindle was stopped and starts again, and neither M00 nor M01 stands between",
                    );
                }
            }
            _ => {}
        }
    }

    /// Whether the tool is clear of the wheel: above the height of the park, or as far out as it.
    fn is_clear(&self) -> bool {
        let &Machine { park_x, park_z, .. } = self.set.machine;
        let Point { x, z } = self.position;
        x >= park_x.as_mm() - PARK_NEAR || z >= park_z.as_mm() - PARK_NEAR
    }

    /// A wait. Over the wheel it looks like a stop: it is told, but where it lets the spindle reach its speed.
    pub(super) fn waits_over_wheel(&mut self) {
        if self.is_clear() {
            return;
        }
        let Point { x, z } = self.position;
        let at = format!("with the tool at radius {x:.1} mm, height {z:.1} mm");
        if self.state.turning == Turning::Off {
            self.note(ProgramRule::WaitOverWheel, format!("G04 while the spindle stands, {at}"));
        } else if self.hands.waited.is_none() && self.hands.spindle != LastOfSpindle::Started {
            self.hands.waited = Some((self.place, format!("G04 {at}")));
        }
    }

    /// A stop, M00 or M01.
    pub(super) fn check_stop(&mut self, kind: EventKind) {
        let word = if kind == EventKind::Stop { "M00" } else { "M01" };
        if self.state.turning != Turning::Off {
            self.note(ProgramRule::StopWhileTurning, format!("{word} while the spindle turns"));
        }
        if self.state.mist || self.state.flood {
            self.note(ProgramRule::StopWithCoolant, format!("{word} while the coolant runs"));
        }
        if self.hands.spindle == LastOfSpindle::Halted {
            self.hands.spindle = LastOfSpindle::Nothing;
        }
        self.check_spindle_said("a stop");
        self.stands(word);
        self.check_clear_of_wheel(ProgramRule::StopAwayFromPark, word);
        let tool = self.state.tool.map(|t| t.number);
        let by_word = self.says_offset();
        let touch = self.hands.tools.iter_mut().find(|(n, _)| Some(*n) == tool);
        if let Some((_, touch)) = touch.filter(|(_, t)| kind == EventKind::Stop && *t == Touch::Called) {
            *touch = if by_word { Touch::Stopped } else { Touch::Ready };
            self.hands.moved_by_hand = Moved::ByHand;
            // As at the start: what the program said of the tool's place no longer holds.
            self.state.known = (false, false);
        }
    }

    /// The tool stands still at this block.
    pub(super) fn stands(&mut self, word: &'static str) {
        if self.hands.at_feed && self.hands.stood.is_none() {
            self.hands.stood = Some((self.place, word));
        }
    }

    /// A motion is about to be made.
    pub(super) fn check_before_motion(&mut self, motion: Motion, commands: &BlockCommands, to: Point) {
        // A way to where the tool is taken to stand already is one all the same: nobody knows where hands have brought it.
        if let Some(tool) = self.state.tool.map(|t| t.number)
            && self.goes_on_from(tool, Touch::Stopped)
        {
            let what =
                format!("tool {tool} moves, and was not called again after the stop for its touch-off");
            self.note(ProgramRule::OffsetNotTakenUp, what);
        }
        let &Machine { park_x, park_z, .. } = self.set.machine;
        let absolute = motion == Motion::Rapid && self.state.distance != Some(Distance::Increments);
        let high = absolute && to.z >= park_z.as_mm() - PARK_NEAR;
        let up = high && commands.z.is_some() && commands.x.is_none() && commands.u.is_none();
        // Before the start the operator brings the tool to the park, so a first rapid to there leads through nothing.
        let both = commands.z.is_some() && commands.x.is_some();
        let to_park = high && both && to.x >= park_x.as_mm() - PARK_NEAR && self.state.stops == (0, 0);
        match self.hands.moved_by_hand {
            Moved::No => {}
            Moved::ByHand if up || to_park => self.hands.moved_by_hand = Moved::Up,
            Moved::ByHand => {
                self.hands.moved_by_hand = Moved::No;
                self.note(
                    ProgramRule::NotUpFirst,
                    "the first motion after the start or a touch-off is not straight up to the height of the park",
                );
            }
            Moved::Up => self.hands.moved_by_hand = Moved::No,
        }
    }

    /// Whether the tool has just gone straight up from wherever it stood, so that nothing is in its way across.
    pub(super) fn went_up(&self) -> bool {
        self.hands.moved_by_hand == Moved::Up
    }

    /// A motion is made.
    pub(super) fn check_hands(&mut self, kind: MovementKind) {
        let feed = kind == MovementKind::Feed;
        let told = self.hands.stood.take().filter(|_| feed);
        if let Some((place, word)) = told {
            self.notes.add(ProgramRule::StandsInCut, place, format!("{word} between two motions at feed"));
        }
        if let Some((place, what)) = self.hands.waited.take()
            && told.is_none()
        {
            self.notes.add(ProgramRule::WaitOverWheel, place, what);
        }
        if self.hands.spindle == LastOfSpindle::Started {
            self.hands.spindle = LastOfSpindle::Nothing;
        }
        self.hands.at_feed = feed;
        let Some(tool) = self.state.tool.filter(|t| t.number != 0) else { return };
        if !tool.offset && !feed {
            self.note(ProgramRule::ToolOffsetOff, format!("tool {} moves with its offset off", tool.number));
        }
        if feed && self.goes_on_from(tool.number, Touch::Called) {
            let what =
                format!("tool {} is fed in, and the program did not stop (M00) after its call", tool.number);
            self.note(ProgramRule::ToolNotTouched, what);
        }
    }

    /// Whether a tool moves on as it was left. Told once: it counts as ready then.
    fn goes_on_from(&mut self, tool: u32, left: Touch) -> bool {
        let touch = self.hands.tools.iter_mut().find(|(n, touch)| *n == tool && *touch == left);
        touch.map(|(_, touch)| *touch = Touch::Ready).is_some()
    }
}
