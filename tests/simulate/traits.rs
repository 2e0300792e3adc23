//! What few controls want, read back: small programs, and the stops and warnings that they must bring up.
//!
//! G28, G43, G49 and G53 after NISTIR 6556, 3.5.8, 3.5.11 and 3.5.12 (from memory); gear ranges, offsets by D and comments behind a
//! semicolon are common practice, no source.

use crate::fixtures::job::mm;
use crate::fixtures::machine::{END, Lathe, START, kinds, plain, whole};
use facewright::job::{
    Comments, Coolant, DwellWord, ExtraLine, ExtraLines, ExtraWord, FeedWords, Gear, LengthOffset, Quadrants,
    Sequence, Spin, ToolWord, Traits, WayHome,
};
use facewright::proof::Rank;
use facewright::units::{Angle, SpindleSpeed, Time};

fn with(traits: Traits) -> Lathe {
    plain().with(|c| c.traits = traits)
}

fn line(number: i64) -> ExtraLine {
    ExtraLine { words: vec![ExtraWord { letter: 'M', count: number, places: 0, digits: 2 }] }
}

fn gears() -> Lathe {
    let gear = |word, rpm| Gear { word, to: SpindleSpeed::rpm(rpm) };
    with(Traits { gears: vec![gear(41, 300.0), gear(42, 1200.0)], ..Traits::default() })
}

fn own_lines() -> Lathe {
    let extra_lines = ExtraLines { start: vec![line(10)], between: vec![line(12)], end: vec![line(11)] };
    with(Traits { extra_lines, ..Traits::default() })
}

fn length_offset() -> Lathe {
    with(Traits { length_offset: LengthOffset::G43, ..Traits::default() })
}

fn described() -> Lathe {
    let mut lathe = plain();
    lathe.machine.reference = Some([mm(360.0), mm(280.0)]);
    lathe.machine.zero = Some([mm(400.0), mm(300.0)]);
    lathe
}

fn one_tool() -> Lathe {
    let mut lathe = plain().with(|c| c.tool_word = ToolWord::None);
    lathe.tools.truncate(1);
    lathe
}

const CUT: &str = "G01 X90. Z40.\nG00 Z50.\n";

/// To the park with the spindle off.
const TO_PARK: &str = "G97 M05\nG00 Z250.\nX330.\n";

/// From the park back into a cut.
const BACK: &str = "G00 Z250.\nX100.\nZ50.\nG96 S280 M03\nG01 X90. Z40.\n";

type Case = (&'static str, Lathe, String, &'static [&'static str]);

fn judge(cases: Vec<Case>) {
    for (name, lathe, text, expected) in cases {
        let run = lathe.run(&text);
        let mut found = kinds(&run.findings, Rank::Warning);
        let mut expected = expected.to_vec();
        found.sort_unstable();
        expected.sort_unstable();
        assert_eq!(found, expected, "{name}\n{text}\n{:#?}", run.findings);
    }
}

#[test]
fn the_way_home_is_known_where_the_shop_says_so() {
    let home = |words: &str| whole(&format!("{CUT}{TO_PARK}M00\n{words}\n{BACK}"));
    let start = |words: &str| {
        format!(
            "G18 G71 G40 G90 G95 G97 M05 T1\n{words}\n{}{CUT}{END}",
            &START[START.find("G00").expect("a rapid")..]
        )
    };
    judge(vec![
        ("G28 by the park", described(), home("G28 X330. Z250."), &[]),
        ("G28 in steps of nothing", described(), home("G91 G28 X0. Z0.\nG90"), &[]),
        ("G28 and nobody said where", plain(), home("G28 X330. Z250."), &["home-unknown"]),
        ("G28 without an axis", described(), home("G28"), &["missing-word"]),
        (
            "G28 by letters that are no steps here",
            described(),
            home("G28 U0. W0."),
            &["unknown-word", "unknown-word"],
        ),
        ("G28 with one axis", described(), home("G28 X330."), &["home-by-one-axis"]),
        ("G28 first of all, up and out", described(), start("G28 Z250.\nG28 X330."), &["home-by-one-axis"]),
        ("G30", described(), home("G30 X330. Z250."), &["home-unknown"]),
        ("G53 and nobody said where", plain(), home("G53 G00 X0. Z0."), &["machine-frame"]),
        ("G53 beyond the park", described(), home("G53 G00 X-50. Z-30."), &[]),
        ("G53 over the wheel", described(), home("G53 G00 X-300. Z-200."), &["machine-frame"]),
        ("G53 in steps", described(), home("G91 G53 G00 X-380. Z-280.\nG90"), &["machine-frame"]),
        ("G53 at feed", described(), whole("G53 G01 X0. Z0.\nG00 Z250.\nX100.\n"), &["machine-frame"]),
    ]);
    // With increments by letter, first of all too: a step of nothing needs no known place. Up first, as the tool may stand anywhere.
    let by_letter = || described().with(|c| c.feed_words = FeedWords::G98G99);
    let family = |text: String| text.replace("G90 G95", "G99").replace("G95", "G99");
    judge(vec![
        ("G28 by steps of nothing", by_letter(), family(home("G28 U0. W0.")), &[]),
        (
            "G28 by steps of nothing first of all",
            by_letter(),
            family(start("G28 U0. W0.")),
            &["not-up-first"],
        ),
        // Up is told by the height of the park alone, which no step of nothing names.
        (
            "the same, up and out",
            by_letter(),
            family(start("G28 W0.\nG28 U0.")),
            &["home-by-one-axis", "not-up-first"],
        ),
        (
            "a step from nowhere",
            by_letter(),
            family(start("G28 U-10. W0.")),
            &["not-up-first", "position-unknown"],
        ),
    ]);
    // The place is the one that the shop said, and the way there is a motion like any other.
    let run = described().run(&home("G28 X330. Z250."));
    let ends: Vec<_> = run.skip_off.movements.iter().map(|m| (m.piece.to().x, m.piece.to().z)).collect();
    assert!(ends.contains(&(360.0, 280.0)), "{ends:?}");
    let run = described().run(&home("G53 G00 X-50. Z-30."));
    let ends: Vec<_> = run.skip_off.movements.iter().map(|m| (m.piece.to().x, m.piece.to().z)).collect();
    assert!(ends.contains(&(350.0, 270.0)), "{ends:?}");
}

#[test]
fn an_offset_is_in_force_when_its_word_says_so() {
    let d = || plain().with(|c| c.tool_word = ToolWord::NumberAndD);
    let sound = whole(CUT);
    let t = |words: &str| sound.replacen("T1\n", &format!("{words}\n"), 1);
    let off: &[&str] = &["tool-offset-off", "tool-offset-off"];
    judge(vec![
        ("T1 D1", d(), t("T1 D1"), &[]),
        ("T1 without its D", d(), t("T1"), off),
        ("another D", d(), t("T1 D2"), &["tool-form"]),
        ("D0 before the cut", d(), whole(&format!("D0\n{CUT}")), off),
        ("D before any tool", d(), t("D1"), &["no-tool", "tool-form"]),
        ("G43 H1", length_offset(), t("T1\nG43 H1"), &[]),
        ("no G43", length_offset(), sound.clone(), off),
        (
            "G43 without H",
            length_offset(),
            t("T1\nG43"),
            &["missing-word", "tool-offset-off", "tool-offset-off"],
        ),
        ("G43 with another H", length_offset(), t("T1\nG43 H2"), &["tool-form"]),
        ("H alone", length_offset(), t("T1\nG43 H1\nH1"), &["unused-word"]),
        ("G49 before the cut", length_offset(), t("T1\nG43 H1\nG49"), off),
        (
            "G43 where the tool word does it",
            plain(),
            t("T1\nG43 H1"),
            &["not-at-this-control", "unused-word"],
        ),
        ("G49 first, as a safe start has it", plain(), t("G49\nT1"), &[]),
        ("T0 cancels", plain().with(|c| c.tool_word = ToolWord::NumberAndOffset), t("T0101\nT0"), off),
        ("no tool word", one_tool(), t("G40"), &["same-group"]),
        ("no tool word, rightly", one_tool(), sound.replacen(" T1\n", "\n", 1), &[]),
        ("a tool word where there is none", one_tool(), sound.clone(), &["tool-form"]),
    ]);
}

#[test]
fn gears_are_chosen_before_the_spindle_turns_and_reach_its_speed() {
    let sound = whole(CUT);
    let before = |word: &str| sound.replacen("G92", &format!("{word}\nG92"), 1);
    judge(vec![
        ("the fast gear", gears(), before("M42"), &[]),
        ("no gear", gears(), sound.clone(), &["gear-unset"]),
        // 280 m/min at a radius of 90 mm to 100 mm is 446 to 495 rpm.
        ("the slow gear", gears(), before("M41"), &["gear-too-slow"]),
        (
            "shifted while it turns",
            gears(),
            whole(&format!("M41\nM42\n{CUT}")).replacen("G92", "M42\nG92", 1),
            &["gear-while-turning", "gear-while-turning"],
        ),
        ("a gear that nobody described", plain(), before("M42"), &["unknown-word"]),
        ("two gears in a block", gears(), before("M41 M42\nM42"), &["same-group"]),
    ]);
}

#[test]
fn lines_of_the_shops_own_stand_where_it_said() {
    let own = |text: &str| text.replacen("G00 Z250.\n", "M10\nG00 Z250.\n", 1);
    let end = "G00 Z250.\nX330.\nG97 M05\nM11\nM30\n";
    let begun = own(START);
    judge(vec![
        ("all of them", own_lines(), format!("{begun}{CUT}{TO_PARK}M00\nM12\n{BACK}{end}"), &[]),
        ("the first is missing", own_lines(), format!("{START}{CUT}{end}"), &["extra-line-missing"]),
        ("the last is missing", own_lines(), format!("{begun}{CUT}{END}"), &["extra-line-missing"]),
        (
            "the one after a stop is missing",
            own_lines(),
            format!("{begun}{CUT}{TO_PARK}M00\n{BACK}{end}"),
            &["extra-line-missing"],
        ),
        (
            "one while the spindle turns",
            own_lines(),
            format!("{begun}{CUT}G00 Z250.\nX330.\nM12\n{end}"),
            &["extra-line-misplaced"],
        ),
        (
            "one over the wheel",
            own_lines(),
            format!("{begun}{CUT}M05\nM12\n{end}"),
            &["extra-line-misplaced"],
        ),
        (
            "one that nobody declared",
            own_lines(),
            format!("{begun}{CUT}{TO_PARK}M13\n{end}"),
            &["unknown-word"],
        ),
        (
            "declared, and more in its block",
            own_lines(),
            format!("{begun}{CUT}{TO_PARK}M12 G04 P1.\n{end}"),
            &["unknown-word"],
        ),
    ]);
}

/// The wait after each start of the spindle may be the same block as a line of the shop's own.
#[test]
fn a_wait_is_a_line_of_the_shops_own_only_while_the_spindle_stands() {
    let wait = || {
        let word = |letter, count, places| ExtraWord { letter, count, places, digits: 2 };
        let between = vec![ExtraLine { words: vec![word('G', 4, 0), word('P', 20, 1)] }];
        let extra_lines = ExtraLines { between, ..ExtraLines::default() };
        with(Traits { extra_lines, ..Traits::default() })
    };
    let again = |before: &str| {
        let back = "G96 S280 M03\nG04 P2.0\nG00 Z250.\nX100.\nZ50.\nG01 X90. Z40.\n";
        whole(&format!("{CUT}{TO_PARK}M00\n{before}{back}"))
    };
    judge(vec![
        ("the line, and the wait", wait(), again("G04 P2.0\n"), &[]),
        ("the wait alone", wait(), again(""), &["extra-line-missing"]),
        ("a wait over the wheel", wait(), again("G04 P2.0\n").replace("M30", "G04 P2.0\nM30"), &[]),
    ]);
}

/// A slow first turn and a stop come before the first motion.
#[test]
fn lines_of_the_start_are_missed_before_the_spindle_turns_and_at_a_stop() {
    let start = |lines: &str| {
        let begins = "G18 G71 G40 G90 G95 G97 M05 T1\n";
        let end = "G00 Z250.\nX330.\nG97 M05\nM11\nM30\n";
        let rest = &START[START.find("G00").expect("a rapid")..];
        format!("{begins}{lines}M00\nM12\n{rest}{CUT}{end}")
    };
    judge(vec![
        ("a slow turn", own_lines(), start("M10\nG97 S60 M03\nG04 P3.\nM05\n"), &[]),
        ("a stop", own_lines(), start("M10\n"), &[]),
        (
            "a line of the end before the slow turn",
            own_lines(),
            start("M10\nM11\nG97 S60 M03\nG04 P3.\nM05\n"),
            &["extra-line-misplaced"],
        ),
        ("a slow turn without a speed", own_lines(), start("M10\nG97 M03\nG04 P3.\nM05\n"), &["no-speed"]),
        (
            "none before a slow turn",
            own_lines(),
            start("G97 S60 M03\nG04 P3.\nM05\n"),
            &["extra-line-missing"],
        ),
        (
            "only after a slow turn",
            own_lines(),
            start("G97 S60 M03\nG04 P3.\nM05\nM10\n"),
            &["extra-line-missing"],
        ),
        ("none before a stop", own_lines(), start(""), &["extra-line-missing"]),
    ]);
}

/// Where the shop changes tools at the reference point, and ends there, the park is on the way only.
#[test]
fn tools_change_where_the_shop_changes_them() {
    let home = || {
        let mut lathe = described();
        lathe.control.traits.way_home = WayHome::G28;
        lathe
    };
    let end = "G28 X330. Z250.\nM30\n";
    let go_on = "M00\nT2\nG00 Z250.\nX100.\nZ50.\nG96 S280 M03\nG01 X90. Z40.\nG00 Z250.\nX330.\nG97 M05\n";
    let change = |way: &str| format!("{START}{CUT}{TO_PARK}{way}{go_on}{end}");
    judge(vec![
        ("home, then the change", home(), change("G28 X330. Z250.\nT2\n"), &[]),
        ("no way home", home(), change("T2\n"), &["change-away-from-home"]),
        ("the change before it", home(), change("T2\nG28 X330. Z250.\n"), &["change-away-from-home"]),
        ("no way home at the end", home(), whole(CUT), &["end-away-from-home"]),
        ("a shop that changes at the park", described(), change("T2\n"), &[]),
    ]);
    let by_m06 = || plain().with(|c| c.tool_word = ToolWord::NumberAndM06);
    let begun =
        |words: &str| whole(&format!("{CUT}{TO_PARK}M00\n{words}{BACK}")).replacen(" T1\n", "\nT1 M06\n", 1);
    judge(vec![
        ("the next tool got ready", by_m06(), begun("T2\n"), &[]),
        ("a tool word of another control", by_m06(), begun("T0202\n"), &["other-tool"]),
    ]);
}

/// What runs or turns where hands are.
#[test]
fn nothing_runs_where_hands_are() {
    let end = "G00 Z250.\nX330.\nG97 M05\nM11\nM30\n";
    let unsaid = START.replacen(" M05", "", 1).replacen("G00 Z250.\n", "M10\nG00 Z250.\n", 1);
    let cooled = || plain().with(|c| c.coolant = Coolant::M08);
    judge(vec![
        ("a stop", cooled(), whole(&format!("M08\n{CUT}M09\n{TO_PARK}M00\n{BACK}")), &[]),
        (
            "coolant at it",
            cooled(),
            whole(&format!("M08\n{CUT}{TO_PARK}M00\n{BACK}M09\n")),
            &["stop-with-coolant"],
        ),
        ("the spindle never said to stand", own_lines(), format!("{unsaid}{CUT}{end}"), &["spindle-unset"]),
    ]);
    let ends = |way: &str| format!("{START}{CUT}G97 M05\n{way}M30\n");
    judge(vec![
        ("the end at the park", plain(), ends("G00 Z250.\nX330.\n"), &[]),
        ("the end over the wheel", plain(), ends(""), &["end-away-from-park"]),
    ]);
}

/// The letter of a dwell is the shop's where it asks for waits: another may count thousandths.
#[test]
fn a_dwell_has_the_letter_of_the_shop() {
    let waits = |dwell| {
        let mut lathe = plain();
        lathe.machine.spin = Spin { up: Some(Time::s(2.0)), dwell, ..Spin::default() };
        lathe
    };
    let by = |letter: &str| whole(&format!("G04 {letter}2.0\nG00 Z60.\nG00 Z50.\n{CUT}"));
    judge(vec![
        ("X, as the shop says", waits(DwellWord::X), by("X"), &[]),
        ("P, and the shop says X", waits(DwellWord::X), by("P"), &["other-dwell"]),
        ("X, and the shop says P", waits(DwellWord::P), by("X"), &["other-dwell"]),
        ("P, and the shop says P", waits(DwellWord::P), by("P"), &[]),
        ("a shop that asks for none", plain(), by("P"), &[]),
    ]);
}

#[test]
fn arcs_as_the_control_takes_them() {
    let limited =
        |quadrants, deg| with(Traits { quadrants, longest_arc: Some(Angle::deg(deg)), ..Traits::default() });
    // From 45 degrees before the top of a circle of 20 mm to 45 behind, by way of the top.
    let over = "G01 X85.858 Z54.142\nG03 X114.142 Z54.142 I14.142 K-14.142\nG00 Z60.\n";
    let parted =
        "G01 X85.858 Z54.142\nG03 X100. Z60. I14.142 K-14.142\nG03 X114.142 Z54.142 I0. K-20.\nG00 Z70.\n";
    // From a step before the top, and from three steps: the one ends there as near as a word can say.
    let beside = |x: &str, i: &str| format!("G01 X{x} Z60.\nG03 X114.142 Z54.142 I{i} K-20.\nG00 Z70.\n");
    judge(vec![
        ("a step over the border", limited(Quadrants::Split, 180.0), whole(&beside("99.999", "0.001")), &[]),
        (
            "three steps over the border",
            limited(Quadrants::Split, 180.0),
            whole(&beside("99.997", "0.003")),
            &["arc-over-quadrant"],
        ),
        ("a quarter turn over the top", plain(), whole(over), &[]),
        ("no more than 45 degrees", limited(Quadrants::Crossed, 45.1), whole(over), &["arc-too-long"]),
        ("90 degrees", limited(Quadrants::Crossed, 90.1), whole(over), &[]),
        (
            "over the border of a quadrant",
            limited(Quadrants::Split, 180.0),
            whole(over),
            &["arc-over-quadrant"],
        ),
        ("parted at the border", limited(Quadrants::Split, 45.1), whole(parted), &[]),
    ]);
}

#[test]
fn comments_and_numbers_as_the_control_takes_them() {
    let semicolons = || with(Traits { comments: Comments::Semicolon, ..Traits::default() });
    let none = || with(Traits { comments: Comments::None, ..Traits::default() });
    let few = |largest_sequence| {
        let mut lathe = with(Traits { largest_sequence, ..Traits::default() });
        lathe.control.sequence = Sequence::AtPasses(10);
        lathe
    };
    judge(vec![
        ("a semicolon", semicolons(), whole(&format!("; LOOK\n{CUT}")), &[]),
        (
            "brackets at a control of semicolons",
            semicolons(),
            whole(&format!("(LOOK)\n{CUT}")),
            &["comment-form"],
        ),
        ("a comment at a control without", none(), whole(&format!("(LOOK)\n{CUT}")), &["comment-form"]),
        ("no comment at a control without", none(), whole(CUT), &[]),
        ("N9999 of 9999", few(9999), whole(&format!("N9999 {CUT}")), &[]),
        ("N9999 of 999", few(999), whole(&format!("N9999 {CUT}")), &["big-sequence"]),
        ("N100000 where the control takes it", few(999_999), whole(&format!("N100000 {CUT}")), &[]),
    ]);
}
