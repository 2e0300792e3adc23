//! G28 and G53: the way to a place that the machine knows and the program does not.
//!
//! Where these places lie against the wheel is the shop's word (`reference` and `zero` under `machine`); without it the way is not known, and
//! the program stops. In the machine's own frame no tool offset counts, so the tool's point ends higher or lower by the
//! difference of two tools: such a way is allowed to the park or beyond it only. Its words are places also under G91, where controls
//! differ, so there it is refused. G28 goes by its axis words first and
//! then on, with the axes named (common practice, no source; by NISTIR 6556, 3.5.8, with all axes).

use super::{Interpreter, hands::PARK_NEAR};
use crate::diagnostics::ProgramRule;
use crate::geometry::{Piece, Point};
use crate::simulate::commands::BlockCommands;
use crate::simulate::modal::{Distance, Motion, Unit};
use crate::simulate::movement::MovementKind;
use crate::units::Length;

impl Interpreter<'_> {
    /// G28: by the place that the axis words name to the reference point.
    pub(super) fn home(&mut self, commands: &BlockCommands, unit: Unit) {
        let across = commands.x.is_some() || commands.u.is_some();
        let along = commands.z.is_some() || commands.w.is_some();
        if !(across || along) {
            if !commands.steps_unread {
                self.note(
                    ProgramRule::MissingWord,
                    "G28 without an axis: every axis, or none, from control to control",
                );
            }
            self.state.known = (false, false);
            return;
        }
        if across != along {
            self.note(ProgramRule::HomeByOneAxis, "G28 with one axis");
        }
        let by_way_of = self.target(commands, unit);
        self.rapid_to(commands, by_way_of);
        let Some([x, z]) = self.set.machine.reference.map(|p| p.map(Length::as_mm)) else {
            self.note(ProgramRule::HomeUnknown, "G28, and the shop file has no `reference` under `machine`");
            self.state.known = (false, false);
            return;
        };
        let at = self.position;
        let home = Point::new(if across { x } else { at.x }, if along { z } else { at.z });
        if home != at {
            self.position = home;
            self.push_movement(MovementKind::Rapid, Piece::line(at, home));
        }
        self.state.known = (self.state.known.0 || across, self.state.known.1 || along);
    }

    /// G53: to a place that counts from the machine's own zero.
    pub(super) fn machine_frame(&mut self, commands: &BlockCommands, unit: Unit) {
        self.state.motion = commands.motion.or(self.state.motion);
        let rapid = self.state.motion == Some(Motion::Rapid);
        let to_place = rapid && commands.u.is_none() && commands.w.is_none();
        let in_steps = self.state.distance == Some(Distance::Increments);
        let zero = self.set.machine.zero.map(|p| p.map(Length::as_mm));
        let Some([x, z]) = zero.filter(|_| to_place && !in_steps) else {
            let why = match (to_place, in_steps) {
                (false, _) => "it is no rapid to a place",
                (true, true) => "it counts absolute, not in the steps of G91",
                (true, false) => "the shop file has no `zero` under `machine`",
            };
            self.note(ProgramRule::MachineFrame, format!("G53, and {why}"));
            self.state.known = (false, false);
            return;
        };
        let at = self.target(commands, unit);
        let to = Point::new(
            if commands.x.is_some() { x + at.x } else { self.position.x },
            if commands.z.is_some() { z + at.z } else { self.position.z },
        );
        let park = [self.set.machine.park_x, self.set.machine.park_z].map(Length::as_mm);
        let clear = |named: bool, at: f64, park: f64| !named || at >= park - PARK_NEAR;
        if !(clear(commands.x.is_some(), to.x, park[0]) && clear(commands.z.is_some(), to.z, park[1])) {
            let what = format!(
                "G53 to radius {:.1} mm, height {:.1} mm, nearer to the wheel than the park; no tool offset counts there",
                to.x, to.z
            );
            self.note(ProgramRule::MachineFrame, what);
        }
        self.rapid_to(commands, to);
    }

    /// A rapid to a place whose words the block names.
    fn rapid_to(&mut self, commands: &BlockCommands, to: Point) {
        self.check_relied_on(Motion::Rapid);
        let from = self.position;
        let went_up = self.went_up();
        self.check_before_motion(Motion::Rapid, commands, to);
        self.check_start(Motion::Rapid, commands, went_up || self.went_up());
        let known = &mut self.state.known;
        *known = (known.0 || commands.x.is_some(), known.1 || commands.z.is_some());
        if from != to {
            self.position = to;
            self.push_movement(MovementKind::Rapid, Piece::line(from, to));
        }
    }
}
