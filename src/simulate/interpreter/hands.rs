//! Checks for the people at the machine: at a stop a hand may be in there, a tool is touched off where the program stops for it, and
//! after either nobody knows where the tool stands.
//!
//! A tool other than the first counts as touched off once the program has stopped (M00) between its call and its first cut. M01 does
//! not count: with the switch off the control runs through. Where the T word takes up the offset it must be said again after that stop, because
//! many controls take up a changed offset only when it is called (common practice, no source).

use super::{EventKind, Interpreter};
use crate::diagnostics::{Place, ProgramRule};
use crate::geometry::Point;
use crate::job::{LengthOffset, Machine, ToolWord};
use crate::simulate::commands::BlockCommands;
use crate::simulate::modal::{Distance, Motion, Turning};
use crate::simulate::movement::MovementKind;

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
    /// A tool word was read, whether or not it changes the tool.
    pub(super) fn tool_called(&mut self, number: u32) {
        let says_offset = self.says_offset();
        match self.hands.tools.iter_mut().find(|(n, _)| *n == number) {
            Some((_, touch)) if says_offset && *touch == Touch::Stopped => *touch = Touch::Ready,
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
        let park = Point::new(self.set.machine.park_x.as_mm(), self.set.machine.park_z.as_mm());
        let Point { x, z } = self.position;
        if x < park.x - PARK_NEAR || z < park.z - PARK_NEAR {
            let what = format!(
                "{word} with the tool at radius {x:.1} mm, height {z:.1} mm; the park is at radius {:.1} mm, height {:.1} mm",
                park.x, park.z
            );
            self.note(rule, what);
        }
    }

    /// The turret turns only where all of it is clear of the wheel.
    pub(super) fn check_change_place(&mut self, number: u32) {
        self.check_clear_of_wheel(ProgramRule::ChangeAwayFromPark, &format!("tool {number} is called"));
    }

    /// A stop, M00 or M01.
    pub(super) fn check_stop(&mut self, kind: EventKind) {
        let word = if kind == EventKind::Stop { "M00" } else { "M01" };
        if self.state.turning != Turning::Off {
            self.note(ProgramRule::StopWhileTurning, format!("{word} while the spindle turns"));
        }
        self.stands(word);
        self.check_clear_of_wheel(ProgramRule::StopAwayFromPark, word);
        let tool = self.state.tool.map(|t| t.number);
        let by_word = self.says_offset();
        let touch = self.hands.tools.iter_mut().find(|(n, _)| Some(*n) == tool);
        if let Some((_, touch)) = touch.filter(|(_, t)| kind == EventKind::Stop && *t == Touch::Called) {
            *touch = if by_word { Touch::Stopped } else { Touch::Ready };
            self.hands.moved_by_hand = Moved::ByHand;
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
        if let Some((place, word)) = self.hands.stood.take()
            && feed
        {
            self.notes.add(ProgramRule::StandsInCut, place, format!("{word} between two motions at feed"));
        }
        self.hands.at_feed = feed;
        let Some(tool) = self.state.tool.filter(|t| t.number != 0) else { return };
        if !tool.offset && !feed {
            self.note(ProgramRule::ToolOffsetOff, format!("tool {} moves with its offset off", tool.number));
        }
        let Some(at) = self.hands.tools.iter().position(|(n, _)| *n == tool.number) else { return };
        let Some((_, touch)) = self.hands.tools.get_mut(at) else { return };
        let was = *touch;
        let told = match was {
            Touch::Called => feed,
            Touch::Stopped => true,
            Touch::Ready => false,
        };
        if !told {
            return;
        }
        // Told once.
        *touch = Touch::Ready;
        if was == Touch::Called {
            let what =
                format!("tool {} is fed in, and the program did not stop (M00) after its call", tool.number);
            self.note(ProgramRule::ToolNotTouched, what);
        } else {
            let what = format!(
                "tool {} moves, and was not called again after the stop for its touch-off",
                tool.number
            );
            self.note(ProgramRule::OffsetNotTakenUp, what);
        }
    }
}
