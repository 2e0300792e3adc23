//! A lathe, its control and its tools for tests of proof; everything invented.
#![allow(dead_code)]

use facewright::job::{
    Arcs, Control, Coolant, FeedWords, LineEnd, Machine, ProgrammedPoint, Sequence, SpindleLimitWord,
    SpindleTurns, Tool, ToolWord, UnitWord, XWords,
};
use facewright::proof::{Finding, Rank, Setup, Simulation, simulate};
use facewright::units::{Angle, FeedPerMinute, Length, Speed, SpindleSpeed};

pub struct Lathe {
    pub machine: Machine,
    pub control: Control,
    pub tools: Vec<Tool>,
    pub wheel_limit: SpindleSpeed,
}

pub fn tool(number: u32, nose: f64) -> Tool {
    Tool {
        name: format!("tool {number}"),
        number,
        nose_radius: Length::mm(nose),
        inner_edge: Angle::deg(30.0),
        outer_edge: Angle::deg(30.0),
        edge_length: Length::mm(8.0),
        holder: None,
        point: ProgrammedPoint::Front,
    }
}

/// Millimetres, radius words, G71 and G94/G95, G92 as the limit, tools called as T1, no coolant.
pub fn plain() -> Lathe {
    Lathe {
        machine: Machine {
            spindle_limit: SpindleSpeed::rpm(1200.0),
            feed_limit: FeedPerMinute::mm_per_min(1500.0),
            rapid: Speed::mm_per_min(6000.0),
            travel_x: [Length::mm(0.0), Length::mm(420.0)],
            travel_z: [Length::mm(-200.0), Length::mm(350.0)],
            park_x: Length::mm(330.0),
            park_z: Length::mm(250.0),
            clearance: Length::mm(3.0),
        },
        control: Control {
            x_words: XWords::Radius,
            unit_word: UnitWord::G71,
            resolution: Length::mm(0.001),
            decimals: 3,
            arcs: Arcs::Centre,
            arc_tolerance: Length::mm(0.002),
            surface_speed: true,
            spindle_limit_word: SpindleLimitWord::G92,
            feed_words: FeedWords::G94G95,
            bare_numbers: facewright::job::BareNumbers::Units,
            sequence: Sequence::StepsOf(10),
            program_number: None,
            tape_marks: false,
            line_end: LineEnd::Lf,
            longest_line: 80,
            largest_program: 64 * 1024 * 1024,
            blocks_per_second: 100.0,
            tool_word: ToolWord::Number,
            work_offset: None,
            spindle_turns: SpindleTurns::M03,
            coolant: Coolant::None,
        },
        tools: vec![tool(1, 1.2), tool(2, 0.8)],
        wheel_limit: SpindleSpeed::rpm(700.0),
    }
}

impl Lathe {
    pub fn with(mut self, change: impl FnOnce(&mut Control)) -> Self {
        change(&mut self.control);
        self
    }

    pub fn setup(&self) -> Setup<'_> {
        Setup {
            machine: &self.machine,
            control: &self.control,
            tools: &self.tools,
            wheel_limit: self.wheel_limit,
            schedule: None,
        }
    }

    pub fn run(&self, text: &str) -> Simulation {
        simulate(text.as_bytes(), self.setup())
    }
}

/// Blocks that set all that a cut relies on.
pub const START: &str = "G18 G71 G40 G90 G95 G97\nT1\nG00 X100. Z50.\nG92 S700\nG96 S280 M03\nF0.2\n";
/// Blocks that end a program.
pub const END: &str = "G00 Z50.\nG97 M05\nM30\n";

pub fn whole(middle: &str) -> String {
    format!("{START}{middle}{END}")
}

/// The fixed words of the findings of a rank or above.
pub fn kinds(findings: &[Finding], rank: Rank) -> Vec<&'static str> {
    findings.iter().filter(|f| f.rank >= rank).map(|f| f.kind).collect()
}
