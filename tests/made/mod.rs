//! A made-up wheel, job and program for the tests of proof: everything in code, so that a test can turn each screw.
#![allow(dead_code)]

use facewright::face::Face;
use facewright::geometry::{Arc, Piece, Point, Profile, Turn};
use facewright::job::{
    AirPass, Allowance, Arcs, Column, Control, Coolant, Direction, Feed as Wanted, FeedWords, FinishPass,
    HeightSense, Job, LengthUnit, LineEnd, Machine, Measured, PassCount, ProgrammedPoint, RoughPass,
    Schedule, Sensor, Sequence, SpindleLimitWord, SpindleTurns, Step, Tool, ToolWord, Tyre, UnitWord, Wheel,
    XMeaning, XWords, Zone,
};
use facewright::proof::{Feed, Movement, MovementKind, Spindle};
use facewright::units::{Angle, FeedPerMinute, FeedPerRev, Length, Speed, SpindleSpeed, SurfaceSpeed};

pub fn mm(value: f64) -> Length {
    Length::mm(value)
}

pub fn tool(number: u32, nose_radius: f64, edge: f64) -> Tool {
    Tool {
        name: format!("tool {number}"),
        number,
        nose_radius: mm(nose_radius),
        inner_edge: Angle::deg(edge),
        outer_edge: Angle::deg(edge),
        edge_length: mm(8.0),
        holder: None,
        point: ProgrammedPoint::Front,
    }
}

/// Rough passes of 0.10 mm with tool 1, counted; finish passes of 0.05 mm with tool 2, if any.
pub fn job(rough: u32, finish: u32, from: f64, to: f64) -> Job {
    Job {
        title: "made up".to_owned(),
        file: "job.yaml".into(),
        shop_file: "shop.yaml".into(),
        machine: Machine {
            spindle_limit: SpindleSpeed::rpm(1200.0),
            feed_limit: FeedPerMinute::mm_per_min(1500.0),
            rapid: Speed::mm_per_min(6000.0),
            travel_x: [mm(0.0), mm(420.0)],
            travel_z: [mm(-200.0), mm(350.0)],
            park_x: mm(330.0),
            park_z: mm(250.0),
            clearance: mm(3.0),
        },
        control: Control {
            x_words: XWords::Diameter,
            unit_word: UnitWord::G71,
            resolution: mm(0.001),
            decimals: 3,
            arcs: Arcs::Centre,
            arc_tolerance: mm(0.002),
            surface_speed: true,
            spindle_limit_word: SpindleLimitWord::G92,
            feed_words: FeedWords::G94G95,
            bare_numbers: facewright::job::BareNumbers::Units,
            sequence: Sequence::StepsOf(10),
            program_number: None,
            tape_marks: true,
            line_end: LineEnd::CrLf,
            longest_line: 80,
            largest_program: 64_000,
            blocks_per_second: 100.0,
            tool_word: ToolWord::NumberAndOffset,
            work_offset: None,
            spindle_turns: SpindleTurns::M03,
            coolant: Coolant::None,
        },
        tools: vec![tool(1, 1.2, 30.0), tool(2, 0.8, 20.0)],
        schedule: Schedule {
            name: None,
            air: AirPass { height: mm(1.0), feed: None },
            rough: (rough > 0).then(|| RoughPass {
                tool: "tool 1".to_owned(),
                depth: mm(0.10),
                passes: PassCount::Count(rough),
                surface_speed: SurfaceSpeed::mm_per_min(280_000.0),
                feed: Wanted::PerRev(FeedPerRev::mm_per_rev(0.2)),
            }),
            finish: (finish > 0).then(|| FinishPass {
                tool: "tool 2".to_owned(),
                depth: mm(0.05),
                passes: finish,
                spring_passes: 0,
                surface_speed: SurfaceSpeed::mm_per_min(220_000.0),
                feed: Wanted::PerRev(FeedPerRev::mm_per_rev(0.1)),
            }),
            step: Step::Axial,
            direction: Direction::Outward,
            tolerance: mm(0.005),
            tangent_jump: Angle::deg(1.0),
            rest_limit: mm(0.1),
        },
        wheel: Wheel {
            name: "made up".to_owned(),
            material: "cast aluminium".to_owned(),
            tyre: Tyre::Mounted,
            speed_limit: SpindleSpeed::rpm(700.0),
            allowance: Allowance { limit: mm(1.0), taken: mm(0.2) },
            run_out_limit: mm(0.3),
            bend_limit: None,
        },
        measured: Measured {
            sensor: Sensor::Spot,
            x: XMeaning::Radius,
            unit: LengthUnit::Millimetre,
            columns: vec![Column::X, Column::Z],
            z: HeightSense::Height,
            x_offset: mm(0.0),
            filter: None,
            longest_gap: mm(2.0),
            run_out: None,
            lines: Vec::new(),
        },
        touch_off: None,
        damage: Vec::new(),
        zones: vec![Zone { from: mm(from), to: mm(to) }],
        keep_out: Vec::new(),
        mending: facewright::job::Mending::default(),
    }
}

/// A face that runs true, with no damage.
pub fn face(points: &[(f64, f64)]) -> Face {
    let highest = profile(points);
    Face { lowest: highest.clone(), damage: highest.map(|_| 0.0), highest }
}

pub fn profile(points: &[(f64, f64)]) -> Profile {
    Profile::new(points.iter().map(|&(x, z)| Point::new(x, z)).collect()).expect("the points make a profile")
}

/// A program written motion by motion, in front points.
pub struct Script {
    pub movements: Vec<Movement>,
    at: Point,
    tool: u32,
    stops: (u32, u32),
}

impl Script {
    pub fn new(x: f64, z: f64) -> Self {
        Self { movements: Vec::new(), at: Point::new(x, z), tool: 1, stops: (0, 0) }
    }

    fn push(mut self, kind: MovementKind, piece: Piece) -> Self {
        let n = self.movements.len();
        self.at = piece.to();
        self.movements.push(Movement {
            block: n,
            sequence: Some(10 * (n as u64 + 1)),
            line: n + 1,
            kind,
            piece,
            tool: Some(self.tool),
            spindle: Spindle::Surface {
                clockwise: true,
                speed: Some(SurfaceSpeed::mm_per_min(if self.tool == 1 { 280_000.0 } else { 220_000.0 })),
                limit: Some(SpindleSpeed::rpm(700.0)),
            },
            feed: Feed::PerRev(FeedPerRev::mm_per_rev(if self.tool == 1 { 0.2 } else { 0.1 })),
            coolant: false,
            stops_before: self.stops,
        });
        self
    }

    pub fn rapid(self, x: f64, z: f64) -> Self {
        let from = self.at;
        self.push(MovementKind::Rapid, Piece::line(from, Point::new(x, z)))
    }

    pub fn feed(self, x: f64, z: f64) -> Self {
        let from = self.at;
        self.push(MovementKind::Feed, Piece::line(from, Point::new(x, z)))
    }

    pub fn arc(self, x: f64, z: f64, centre: (f64, f64), turn: Turn) -> Self {
        let (from, to) = (self.at, Point::new(x, z));
        self.push(
            MovementKind::Feed,
            Piece::Arc(Arc { from, to, centre: Point::new(centre.0, centre.1), turn }),
        )
    }

    pub fn stop(mut self) -> Self {
        self.stops.0 += 1;
        self
    }

    pub fn tool(mut self, number: u32) -> Self {
        self.tool = number;
        self
    }

    /// One pass along a path of front points, with the hops before and after it.
    pub fn pass(mut self, path: &[(f64, f64)]) -> Self {
        let (Some(&first), Some(&last)) = (path.first(), path.last()) else { return self };
        let top = path.iter().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max).max(0.0) + 8.0;
        let (x, high) = (self.at.x, top.max(self.at.z));
        self = self.rapid(x, high).rapid(first.0, high).rapid(first.0, top);
        for &(x, z) in path {
            self = self.feed(x, z);
        }
        self.feed(last.0, last.1 + 3.5).rapid(last.0, top)
    }
}
