//! A whole program and excerpts of others for controls that differ, each reviewed line by line.

use super::sample::{Sample, control};
use crate::fixtures::excerpt::excerpt;
use facewright::gcode;
use facewright::job::{
    Arcs, Comments, Control, Coolant, Direction, ExtraLine, ExtraLines, ExtraWord, FeedWords, Gear,
    LeadingZero, LengthOffset, LineEnd, ProgrammedPoint, Sequence, SpindleLimitWord, SpindleTurns, ToolWord,
    TrailingZeros, Traits, UnitWord, WayHome, XWords,
};
use facewright::units::{Length, SpindleSpeed};

/// The samples of the snapshots, by name; the other checks run over the same ones.
pub fn samples() -> Vec<(&'static str, Sample)> {
    let inch = Control {
        resolution: Length::mm(0.00254),
        decimals: 4,
        arc_tolerance: Length::mm(0.00508),
        ..control()
    };
    let mut samples = vec![
        ("diameter_mm_centre", Sample::new(control())),
        (
            "radius_mm_arc_radius_m04",
            Sample {
                direction: Direction::Inward,
                point: ProgrammedPoint::Centre,
                ..Sample::new(Control {
                    x_words: XWords::Radius,
                    unit_word: UnitWord::G21,
                    arcs: Arcs::Radius,
                    spindle_limit_word: SpindleLimitWord::G50,
                    feed_words: FeedWords::G98G99,
                    sequence: Sequence::None,
                    program_number: Some(1001),
                    line_end: LineEnd::Lf,
                    tool_word: ToolWord::Number,
                    work_offset: Some(54),
                    spindle_turns: SpindleTurns::M04,
                    coolant: Coolant::M07,
                    ..control()
                })
            },
        ),
        (
            "diameter_inch_stepped",
            Sample::new(Control {
                unit_word: UnitWord::G20,
                surface_speed: false,
                spindle_limit_word: SpindleLimitWord::None,
                feed_words: FeedWords::G98G99,
                sequence: Sequence::StepsOf(1),
                program_number: Some(7),
                ..inch.clone()
            }),
        ),
        (
            "radius_inch_limit_on_block",
            Sample {
                point: ProgrammedPoint::Inner,
                ..Sample::new(Control {
                    x_words: XWords::Radius,
                    unit_word: UnitWord::G70,
                    spindle_limit_word: SpindleLimitWord::D,
                    tape_marks: false,
                    tool_word: ToolWord::NumberAndM06,
                    work_offset: Some(57),
                    coolant: Coolant::None,
                    line_end: LineEnd::Lf,
                    ..inch
                })
            },
        ),
        (
            "diameter_mm_lines_only",
            Sample {
                point: ProgrammedPoint::Outer,
                ..Sample::new(Control {
                    arcs: Arcs::None,
                    longest_line: 48,
                    sequence: Sequence::StepsOf(5),
                    ..control()
                })
            },
        ),
        (
            "radius_mm_stepped_inward",
            Sample {
                direction: Direction::Inward,
                ..Sample::new(Control {
                    x_words: XWords::Radius,
                    surface_speed: false,
                    spindle_limit_word: SpindleLimitWord::None,
                    sequence: Sequence::None,
                    coolant: Coolant::None,
                    ..control()
                })
            },
        ),
    ];
    samples.extend(samples_of_traits());
    samples
}

/// Samples for controls that want what few want.
fn samples_of_traits() -> Vec<(&'static str, Sample)> {
    vec![
        ("own_lines_gears_length_offset", Sample::new(own_words())),
        (
            "offset_by_d_all_zeros",
            Sample::new(Control {
                tool_word: ToolWord::NumberAndD,
                traits: Traits {
                    trailing_zeros: TrailingZeros::All,
                    leading_zero: LeadingZero::LeftOut,
                    ..Traits::default()
                },
                ..control()
            }),
        ),
        (
            "no_comments",
            Sample::new(Control {
                tool_word: ToolWord::ShortNumberAndOffset,
                sequence: Sequence::AtPasses(100),
                traits: Traits { comments: Comments::None, largest_sequence: 999, ..Traits::default() },
                ..control()
            }),
        ),
    ]
}

/// Comments behind semicolons for a narrow screen, numbers at passes, length offsets, gears, lines of the shop's own, home by G28.
fn own_words() -> Control {
    let line = |number, letters: &[(char, i64)]| ExtraLine {
        words: std::iter::once(('M', number))
            .chain(letters.iter().copied())
            .map(|(letter, count)| ExtraWord { letter, count, places: 0, digits: 1 })
            .collect(),
    };
    let gear = |word, rpm| Gear { word, to: SpindleSpeed::rpm(rpm) };
    Control {
        tool_word: ToolWord::Number,
        sequence: Sequence::AtPasses(10),
        traits: Traits {
            comments: Comments::Semicolon,
            comment_columns: Some(40),
            length_offset: LengthOffset::G43,
            way_home: WayHome::G28,
            gears: vec![gear(41, 350.0), gear(42, 1400.0)],
            extra_lines: ExtraLines {
                start: vec![line(10, &[])],
                between: vec![line(68, &[('P', 2)])],
                end: vec![line(11, &[])],
            },
            ..Traits::default()
        },
        ..control()
    }
}

#[test]
fn a_whole_program_and_excerpts_of_the_others() {
    for (i, (name, sample)) in samples().into_iter().enumerate() {
        let programs = gcode::write(&sample.job(), &sample.plan()).expect(name);
        assert_eq!(programs.len(), 1, "{name}");
        let text = &programs[0].text;
        let text = if i == 0 { text.clone() } else { excerpt(text) };
        insta::assert_snapshot!(name, text);
    }
}

/// A memory too small for the whole: every part stands by itself.
#[test]
fn a_program_in_parts() {
    let sample = Sample::new(Control { largest_program: 2950, program_number: Some(1001), ..control() });
    let programs = gcode::write(&sample.job(), &sample.plan()).expect("parts");
    assert!(programs.len() > 1);
    let texts: Vec<_> =
        programs.iter().map(|p| format!("[{}]\n{}", p.name_suffix(), excerpt(&p.text))).collect();
    for program in &programs {
        assert!(program.text.len() as u64 <= 2950);
    }
    insta::assert_snapshot!("in_parts", texts.join("\n"));
}
