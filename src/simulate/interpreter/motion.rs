//! Motion: where the axis words lead, lines and arcs, and what each motion carries.

use super::{Interpreter, LENGTH_ROUNDING, arc};
use crate::diagnostics::ProgramRule;
use crate::geometry::{Piece, Point, Turn};
use crate::job::{Arcs, Quadrants, XWords};
use crate::simulate::commands::BlockCommands;
use crate::simulate::modal::{Distance, Motion, NonModal, Unit};
use crate::simulate::movement::{Movement, MovementKind};
use crate::simulate::reader::Word;

/// Beyond this share of the diameter a chord's arc is so close to half a turn that R hardly holds its centre: 170 degrees.
const NEAR_HALF: f64 = 0.9962;

/// How much an arc may turn beyond the control's longest, radians: rounding of its ends moves less.
const ARC_ROUNDING: f64 = 1e-6;

impl Interpreter<'_> {
    /// Motion, after everything else but the stop.
    pub(super) fn motion(&mut self, commands: &BlockCommands, unit: Unit) {
        match commands.once {
            Some(NonModal::MachineFrame) => return self.machine_frame(commands, unit),
            Some(NonModal::Home) => return self.home(commands, unit),
            Some(NonModal::SecondHome) => {
                self.note(ProgramRule::HomeUnknown, "G30: a further reference point, which no key describes");
                self.state.known = (false, false);
                return;
            }
            // Their axis words, if any, have another meaning and are checked elsewhere.
            Some(NonModal::Dwell | NonModal::Limit) => return,
            None => {}
        }
        self.state.motion = commands.motion.or(self.state.motion);
        let axes =
            commands.x.is_some() || commands.z.is_some() || commands.u.is_some() || commands.w.is_some();
        let arc = matches!(self.state.motion, Some(Motion::Clockwise | Motion::CounterClockwise));
        if !(arc && (axes || commands.motion.is_some())) {
            for word in [commands.i, commands.k, commands.r].into_iter().flatten() {
                self.note(ProgramRule::UnusedWord, self.read.word_text(&word));
            }
        }
        if !axes {
            match commands.motion {
                Some(Motion::Rapid | Motion::Line) => {
                    self.note(ProgramRule::MotionWithoutAxes, "a motion word without X or Z");
                }
                Some(Motion::Clockwise | Motion::CounterClockwise) => {
                    self.note(ProgramRule::ZeroArc, "an arc without an end point");
                }
                Some(Motion::None) | None => {}
            }
            return;
        }
        let motion = match self.state.motion {
            None | Some(Motion::None) => {
                self.note(ProgramRule::NoMotionWord, "axes are named and no motion word is in force");
                return;
            }
            Some(motion) => motion,
        };
        self.check_relied_on(motion);
        let from = self.position;
        let to = self.target(commands, unit);
        let went_up = self.went_up();
        self.check_before_motion(motion, commands, to);
        self.check_start(motion, commands, went_up || self.went_up());
        let known = &mut self.state.known;
        *known = (known.0 || commands.x.is_some(), known.1 || commands.z.is_some());
        self.position = to;
        match motion {
            Motion::Rapid if from != to => self.push_movement(MovementKind::Rapid, Piece::line(from, to)),
            Motion::Line if from != to => self.push_movement(MovementKind::Feed, Piece::line(from, to)),
            Motion::Clockwise => self.arc(commands, unit, from, to, Turn::CounterClockwise),
            Motion::CounterClockwise => self.arc(commands, unit, from, to, Turn::Clockwise),
            Motion::Rapid | Motion::Line | Motion::None => {}
        }
    }

    pub(super) fn target(&mut self, commands: &BlockCommands, unit: Unit) -> Point {
        let from = self.position;
        let absolute = self.state.distance != Some(Distance::Increments);
        let across = if self.set.control.x_words == XWords::Diameter { 0.5 } else { 1.0 };
        for (place, step) in [(commands.x, commands.u), (commands.z, commands.w)] {
            if let (Some(_), Some(step)) = (place, step) {
                self.note(
                    ProgramRule::RepeatedWord,
                    format!("{} beside its own axis", self.read.word_text(&step)),
                );
            }
        }
        let mut axis = |place: Option<Word>, step: Option<Word>, factor: f64, at: f64| match (place, step) {
            (Some(word), _) if absolute => self.length(&word, unit) * factor,
            (Some(word), _) | (None, Some(word)) => at + self.length(&word, unit) * factor,
            (None, None) => at,
        };
        let x = axis(commands.x, commands.u, across, from.x);
        let z = axis(commands.z, commands.w, 1.0, from.z);
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
            self.note(ProgramRule::TooFine, what);
        }
        if word.point {
            return word.value * unit.in_mm();
        }
        if let Some(places) = self.set.implied_decimals() {
            let step = 10_f64.powi(i32::try_from(places).unwrap_or(i32::MAX));
            return word.value / step * unit.in_mm();
        }
        if word.value != 0.0 {
            self.note(ProgramRule::NoPoint, format!("{}, a word without a decimal point", word.letter));
        }
        word.value * unit.in_mm()
    }

    /// An arc; where its words give none it is followed straight to its end, since a control that does not halt there goes to it at feed.
    fn arc(&mut self, commands: &BlockCommands, unit: Unit, from: Point, to: Point, turn: Turn) {
        if from == to {
            self.note(ProgramRule::ZeroArc, "the arc ends where it starts");
            return;
        }
        let Some(centre) = self.arc_centre(commands, unit, [from, to], turn) else {
            self.push_movement(MovementKind::Feed, Piece::line(from, to));
            return;
        };
        let swept = arc::sweep(from, to, centre, turn);
        if swept > std::f64::consts::PI {
            self.note(ProgramRule::LongArc, format!("the arc turns {:.1} degrees", swept.to_degrees()));
        }
        // Ends on one ray from the centre, which only its rounding parts: a control may see no way between them, or a full turn.
        let way = swept.min(std::f64::consts::TAU - swept) * from.distance(centre);
        if way < from.distance(to) / 2.0 {
            self.note(
                ProgramRule::ArcRadii,
                "the arc ends on the line from its centre to its start: a control may go a full turn",
            );
        }
        self.check_arc_limits([from, to], centre, swept);
        for piece in arc::pieces(from, to, centre, turn) {
            self.push_movement(MovementKind::Feed, piece);
        }
    }

    /// The centre of an arc; none, and why, where its words give none.
    fn arc_centre(
        &mut self,
        commands: &BlockCommands,
        unit: Unit,
        [from, to]: [Point; 2],
        turn: Turn,
    ) -> Option<Point> {
        let tolerance = self.set.control.arc_tolerance.as_mm();
        let centre = match (commands.r, commands.i.is_some() || commands.k.is_some()) {
            (Some(_), true) => {
                self.note(ProgramRule::SameGroup, "an arc with R and with I or K");
                return None;
            }
            (Some(r), false) => {
                self.arc_form(Arcs::Radius);
                let r = self.length(&r, unit);
                self.centre_by_radius(from, to, r, turn, tolerance)?
            }
            (None, true) => {
                self.arc_form(Arcs::Centre);
                let [i, k] = [commands.i, commands.k].map(|w| w.map_or(0.0, |w| self.length(&w, unit)));
                from.shifted(i, k)
            }
            (None, false) => {
                self.note(ProgramRule::MissingWord, "an arc without I, K or R");
                return None;
            }
        };
        let (start, end) = (from.distance(centre), to.distance(centre));
        if start == 0.0 || end == 0.0 {
            self.note(ProgramRule::ArcRadii, "the centre lies on the arc's own end");
            return None;
        }
        if (start - end).abs() > tolerance + LENGTH_ROUNDING {
            let what = format!(
                "{start:.4} mm from the centre at the start and {end:.4} mm at the end; {tolerance} mm may lie between"
            );
            self.note(ProgramRule::ArcRadii, what);
        }
        Some(centre)
    }

    /// What this control allows one arc.
    fn check_arc_limits(&mut self, [from, to]: [Point; 2], centre: Point, swept: f64) {
        let control = self.set.control;
        if let Some(longest) = control.traits.longest_arc.filter(|a| swept > a.as_rad() + ARC_ROUNDING) {
            let what = format!(
                "the arc turns {:.1} degrees; the control allows {:.1}",
                swept.to_degrees(),
                longest.as_deg()
            );
            self.note(ProgramRule::ArcTooLong, what);
        }
        // Within a step of the control the end lies on the border of a quadrant: no word names a place nearer to it.
        let near = control.resolution.as_mm() + LENGTH_ROUNDING;
        let across = |a: f64, b: f64| (a < -near && b > near) || (a > near && b < -near);
        let over_top = across(from.x - centre.x, to.x - centre.x);
        let over_side = across(from.z - centre.z, to.z - centre.z);
        if control.traits.quadrants == Quadrants::Split && (over_top || over_side) {
            self.note(ProgramRule::ArcOverQuadrant, "the arc runs from one quadrant into the next");
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
            self.note(ProgramRule::ArcForm, format!("{}; the control reads {}", name(form), name(read)));
        }
    }

    fn centre_by_radius(&mut self, from: Point, to: Point, r: f64, turn: Turn, slack: f64) -> Option<Point> {
        if r < 0.0 {
            self.note(ProgramRule::LongArc, format!("R {r} mm: the longer of the two arcs"));
        }
        let chord = from.distance(to);
        if chord > NEAR_HALF * 2.0 * r.abs() && chord <= 2.0 * (r.abs() + slack) {
            self.note(
                ProgramRule::HalfArc,
                format!("an arc of nearly half a turn by its radius, {:.4} mm", r.abs()),
            );
        }
        // The longer arc has the centre of the shorter one that turns the other way.
        let side = if r < 0.0 { turn.reversed() } else { turn };
        let centre = arc::centre(from, to, r.abs(), side, slack);
        if centre.is_none() {
            self.note(ProgramRule::ShortRadius, format!("R {r:.4} mm, and the ends lie {chord:.4} mm apart"));
        }
        centre
    }

    pub(super) fn push_movement(&mut self, kind: MovementKind, piece: Piece) {
        let movement = Movement {
            block: self.index,
            sequence: self.place.block(),
            line: self.place.program_line().unwrap_or(0),
            kind,
            piece,
            tool: self.state.tool.map(|t| t.number),
            spindle: self.state.spindle(),
            feed: self.state.feed(),
            coolant: self.state.mist || self.state.flood,
            radius_unknown: !self.state.known.0,
            stops_before: self.state.stops,
        };
        self.check_awaited_lines();
        self.check_movement(&movement);
        self.check_hands(kind);
        self.movements.push(movement);
    }
}
