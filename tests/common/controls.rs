//! The demo's job at controls that differ in every word they read: what tests of whole programs run over.

use facewright::job::{
    Arcs, Coolant, Direction, FeedWords, Job, LineEnd, ProgrammedPoint, Sequence, SpindleLimitWord,
    SpindleTurns, Step, ToolWord, UnitWord, XWords,
};
use facewright::units::{FeedPerRev, Length};

/// A control by its name, and what makes the demo's job one for it.
pub type Variant = (&'static str, fn(&mut Job));

/// Every control of the demo: the demo's own first.
pub const VARIANTS: &[Variant] = &[
    ("diameter, millimetres, centre arcs", |_| {}),
    ("radius words, radius arcs, second feed family", |job| {
        let control = &mut job.control;
        control.x_words = XWords::Radius;
        control.arcs = Arcs::Radius;
        control.feed_words = FeedWords::G98G99;
        control.unit_word = UnitWord::G21;
        control.spindle_limit_word = SpindleLimitWord::G50;
        control.tool_word = ToolWord::Number;
        control.sequence = Sequence::None;
        control.line_end = LineEnd::Lf;
        control.tape_marks = false;
        control.program_number = Some(1001);
    }),
    ("inches", |job| {
        inch(job, UnitWord::G20);
        job.control.spindle_limit_word = SpindleLimitWord::D;
    }),
    ("inches of the other family, radius words, inward", |job| {
        inch(job, UnitWord::G70);
        job.control.x_words = XWords::Radius;
        job.schedule.direction = Direction::Inward;
        job.control.spindle_turns = SpindleTurns::M04;
        job.control.work_offset = Some(54);
    }),
    ("lines only, stepped spindle speeds", |job| {
        job.control.arcs = Arcs::None;
        job.control.surface_speed = false;
        job.control.spindle_limit_word = SpindleLimitWord::None;
        job.control.tool_word = ToolWord::NumberAndM06;
        job.control.coolant = Coolant::M08;
    }),
    ("stepped spindle speeds, inward", |job| {
        job.control.surface_speed = false;
        job.control.spindle_limit_word = SpindleLimitWord::None;
        job.schedule.direction = Direction::Inward;
    }),
    ("along the normal, nose centre programmed", |job| {
        job.schedule.step = Step::Normal;
        for tool in &mut job.tools {
            tool.point = ProgrammedPoint::Centre;
        }
    }),
    ("inner corner programmed, inward, shorter lines", |job| {
        job.schedule.direction = Direction::Inward;
        job.control.longest_line = 48;
        for tool in &mut job.tools {
            tool.point = ProgrammedPoint::Inner;
        }
    }),
    ("outer corner programmed, two zones", |job| {
        for tool in &mut job.tools {
            tool.point = ProgrammedPoint::Outer;
        }
        let mut outer = job.zones[0];
        job.zones[0].to = Length::mm(120.0);
        outer.from = Length::mm(150.0);
        job.zones.push(outer);
    }),
    ("in parts", |job| job.control.largest_program = 14_000),
];

fn inch(job: &mut Job, word: UnitWord) {
    job.control.unit_word = word;
    job.control.resolution = Length::mm(0.00254);
    job.control.decimals = 4;
    job.control.arc_tolerance = Length::mm(0.00508);
    job.schedule.tolerance = Length::mm(0.01);
    if let Some(air) = &mut job.schedule.air.feed {
        *air = FeedPerRev::mm_per_rev(0.016 * 25.4);
    }
    if let Some(rough) = &mut job.schedule.rough {
        rough.feed = facewright::job::Feed::PerRev(FeedPerRev::mm_per_rev(0.008 * 25.4));
    }
}
