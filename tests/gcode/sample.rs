//! A small job and plan built by hand: a face with a straight stretch, a ridge, a slope and a valley, in units of any length.

use crate::fixtures::job;
use facewright::diagnostics::{Finding, Place, PlanRule};
use facewright::geometry::{Arc, Piece, Point, Turn};
use facewright::job::{
    AirPass, Allowance, Arcs, Control, Coolant, Direction, Feed, Job, Machine, ProgrammedPoint, Schedule,
    Tool, UnitWord, Wheel,
};
use facewright::plan::{Figures, Motion, Operation, Pass, PassKind, Plan, Rest, Role, TouchOff, stepped};
use facewright::units::{FeedPerRev, Length, SpindleSpeed, SurfaceSpeed, Time};

/// One unit of the sample in inch programs: a round number of 0.0001 in steps.
pub const INCH_UNIT: f64 = 1.27;

/// The made-up control with coolant and a memory of 64 KiB.
pub fn control() -> Control {
    Control { largest_program: 65_536, coolant: Coolant::M08, ..job::control() }
}

/// The sample for a control: how long one unit is, which way it runs, which point the tools name.
#[derive(Debug, Clone)]
pub struct Sample {
    pub control: Control,
    pub unit: f64,
    pub direction: Direction,
    pub point: ProgrammedPoint,
}

impl Sample {
    pub fn new(control: Control) -> Self {
        let inch = matches!(control.unit_word, UnitWord::G20 | UnitWord::G70);
        let unit = if inch { INCH_UNIT } else { 1.0 };
        Self { control, unit, direction: Direction::Outward, point: ProgrammedPoint::Front }
    }

    fn length(&self, units: f64) -> Length {
        Length::mm(units * self.unit)
    }

    fn point(&self, x: f64, z: f64) -> Point {
        Point::new(x * self.unit, z * self.unit)
    }

    fn tool(&self, name: &str, number: u32, nose_radius: f64, edge: f64) -> Tool {
        Tool {
            name: name.into(),
            edge_length: self.length(8.0),
            point: self.point,
            ..job::tool(number, nose_radius * self.unit, edge)
        }
    }

    pub fn job(&self) -> Job {
        let made_up = job::job(2, 1, 60.0 * self.unit, 98.0 * self.unit);
        Job {
            title: "1042, front left".into(),
            machine: Machine {
                park_x: self.length(150.0),
                park_z: self.length(100.0),
                clearance: self.length(3.0),
                reference: Some([self.length(160.0), self.length(120.0)]),
                ..made_up.machine
            },
            control: self.control.clone(),
            tools: vec![self.tool("rounder", 1, 1.2, 30.0), self.tool("brightener", 2, 0.8, 20.0)],
            schedule: self.schedule(),
            wheel: Wheel {
                name: "18 x 8, five spokes".into(),
                allowance: Allowance { limit: self.length(1.0), taken: self.length(0.2) },
                ..made_up.wheel
            },
            ..made_up
        }
    }

    fn schedule(&self) -> Schedule {
        let mut schedule = job::schedule(2, 1);
        if let Some(rough) = &mut schedule.rough {
            rough.tool = "rounder".into();
            rough.depth = self.length(0.1);
        }
        if let Some(finish) = &mut schedule.finish {
            finish.tool = "brightener".into();
            finish.depth = self.length(0.05);
            finish.feed = Feed::PerRev(FeedPerRev::mm_per_rev(0.1256));
        }
        Schedule {
            counted: facewright::job::Counted::FromMeasured,
            name: Some("kerbside".into()),
            air: AirPass { height: self.length(1.0), feed: Some(FeedPerRev::mm_per_rev(0.4)) },
            direction: self.direction,
            tolerance: self.length(0.005),
            ..schedule
        }
    }

    /// The path over the face at a height, as cutting motions with their leads, run outward: chords where the control reads no arcs.
    fn path(&self, dz: f64) -> Vec<Motion> {
        let p = |x: f64, z: f64| self.point(x, z + dz);
        let curve = |from: Point, to: Point, centre: Point, turn: Turn| {
            if self.control.arcs == Arcs::None {
                Piece::line(from, to)
            } else {
                Piece::Arc(Arc { from, to, centre, turn })
            }
        };
        let pieces = [
            (Role::LeadIn, Piece::line(p(59.0, 1.0), p(60.0, 0.0))),
            (Role::Cut, Piece::line(p(60.0, 0.0), p(70.0, 0.0))),
            (Role::Cut, curve(p(70.0, 0.0), p(78.0, 0.0), p(74.0, -3.0), Turn::Clockwise)),
            (Role::Cut, Piece::line(p(78.0, 0.0), p(90.0, -2.0))),
            (Role::Cut, curve(p(90.0, -2.0), p(98.0, -2.0), p(94.0, 1.0), Turn::CounterClockwise)),
            (Role::LeadOut, Piece::line(p(98.0, -2.0), p(99.0, -1.0))),
        ];
        pieces.into_iter().map(|(role, piece)| Motion::new(role, piece)).collect()
    }

    fn motions(&self, dz: f64) -> Vec<Motion> {
        let mut path = self.path(dz);
        if self.direction == Direction::Inward {
            path.reverse();
            for motion in &mut path {
                motion.piece = motion.piece.reversed();
                motion.role = match motion.role {
                    Role::LeadIn => Role::LeadOut,
                    Role::LeadOut => Role::LeadIn,
                    other => other,
                };
            }
        }
        let park = self.point(150.0, 100.0);
        let rapid = |from, to| Motion::new(Role::Rapid, Piece::line(from, to));
        let (first, last) = (path[0].piece.from(), path[path.len() - 1].piece.to());
        let up = |p: Point, z: f64| Point::new(p.x, z);
        let near = self.point(0.0, 3.0 + dz).z;
        let mut all = vec![
            rapid(park, up(first, park.z)),
            rapid(up(first, park.z), up(first, near)),
            Motion::new(Role::LeadIn, Piece::line(up(first, near), first)),
        ];
        all.extend(path);
        all.push(rapid(last, up(last, park.z)));
        all.push(rapid(up(last, park.z), park));
        all
    }

    fn pass(&self, kind: PassKind, (number, of): (u32, u32), (depth, dz): (f64, f64), feed: f64) -> Pass {
        let finish = kind == PassKind::Finish;
        Pass {
            ring: None,
            kind,
            number,
            of,
            depth: self.length(depth),
            total: self.length(-dz),
            surface_speed: SurfaceSpeed::mm_per_min(if finish { 220_000.0 } else { 280_000.0 }),
            spindle_limit: SpindleSpeed::rpm(700.0),
            feed: FeedPerRev::mm_per_rev(feed),
            motions: self.motions(dz),
            figures: Figures {
                feed_time: Time::s(24.0),
                rapid_time: Time::s(0.0),
                path_length: self.length(42.0),
                spiral_length: self.length(100_000.0),
                chip_volume: 1500.0,
                slowest: SpindleSpeed::rpm(450.0),
                fastest: SpindleSpeed::rpm(700.0),
                rz: Length::mm(0.004),
                ra: Length::mm(0.001),
            },
            contact: None,
        }
    }

    /// The plan, with stepped spindle speeds where the control needs them.
    pub fn plan(&self) -> Plan {
        self.stepped(self.unstepped())
    }

    /// A plan with the spindle stepped as the control needs it, where the pieces of its path meet.
    pub fn stepped(&self, mut plan: Plan) -> Plan {
        let changes = [70.0, 78.0, 90.0].map(|x| self.length(x).as_mm());
        for operation in &mut plan.operations {
            for pass in &mut operation.passes {
                stepped::step_speeds(pass, &operation.tool, &self.control, &changes)
                    .expect("speeds that can be stepped");
            }
        }
        plan
    }

    /// The plan before any speed is stepped.
    pub fn unstepped(&self) -> Plan {
        let touch = |z: f64| TouchOff {
            at: self.length(65.0),
            z: self.length(z),
            contact: self.length(65.0),
            lacquer: self.length(0.0),
        };
        Plan {
            operations: vec![
                Operation {
                    tool: self.tool("rounder", 1, 1.2, 30.0),
                    touch_off: touch(0.0),
                    ground: None,
                    check: None,
                    check_leaves: None,
                    passes: vec![
                        self.pass(PassKind::Air, (1, 2), (0.0, 0.9), 0.4),
                        self.pass(PassKind::Rough, (1, 2), (0.1, -0.1), 0.2),
                        self.pass(PassKind::Rough, (2, 2), (0.1, -0.2), 0.2),
                    ],
                },
                Operation {
                    tool: self.tool("brightener", 2, 0.8, 20.0),
                    touch_off: touch(-0.2),
                    ground: None,
                    check: None,
                    check_leaves: None,
                    passes: vec![
                        self.pass(PassKind::Air, (2, 2), (0.0, 0.75), 0.4),
                        self.pass(PassKind::Finish, (1, 1), (0.05, -0.25), 0.1256),
                    ],
                },
            ],
            spindle_limit: SpindleSpeed::rpm(700.0),
            already: self.length(0.0),
            needed: self.length(0.22),
            removed: self.length(0.25),
            left: self.length(0.55),
            rest: Rest { amount: Length::mm(0.0), at: self.length(60.0) },
            finished: facewright::plan::finished::FinishedFace::default(),
            spare: None,
            which_face: None,
            cut_along: None,
            findings: vec![Finding::new(
                PlanRule::DamageStays,
                Place::Whole,
                "run-out 0.12 mm is cut away by the first two passes",
            )],
        }
    }
}
