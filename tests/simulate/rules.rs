//! Small programs and what proof must say of each, after NISTIR 6556.
//!
//! Source: Kramer, Proctor, Messina: The NIST RS274/NGC Interpreter, Version 3, NISTIR 6556 (2000),
//! section numbers from memory; "trade" where the rule is common practice, no source.

use crate::fixtures::job;
use crate::fixtures::machine::{END, START, kinds, plain, whole};
use facewright::geometry::{Arc, Piece, Point, Turn};
use facewright::job::{
    Arcs, BareNumbers, Coolant, FeedWords, SpindleLimitWord, SpindleTurns, ToolWord, UnitWord, XWords,
};
use facewright::proof::{EventKind, Feed, Rank, Setup, SkipSwitch, Spindle, simulate};
use facewright::units::{FeedPerMinute, FeedPerRev, SpindleSpeed};
use float_cmp::assert_approx_eq;

/// Blocks put between a sound start and a sound end, and the stops and warnings that they must bring up: no more, no fewer.
const RULES: &[(&str, &str, &[&str])] = &[
    // Text.
    ("3.3 blanks have no meaning, letters in either case", "g 01x 90. z\t40.\n", &[]),
    ("3.3 blanks inside a number are read over", "G01 X+9 0. 12 3 Z40.\n", &["blank-in-number"]),
    ("3.3 a blank behind a sign", "G01 X90. Z- 4.407\nG00 Z60.\n", &["blank-in-number"]),
    ("3.3 blank lines are allowed", "\n   \nG01 X90. Z40.\n\n", &[]),
    ("3.3 order of words on a line has no meaning", "Z40. X90. G01\n", &[]),
    ("3.3.2.1 a number may begin or end with its point", "G01 X90. Z.5\n", &[]),
    ("3.3.2.1 a number needs a digit", "G01 X. Z40.\n", &["unreadable"]),
    ("3.3.2.1 a number has one point", "G01 X9.0.1 Z40.\n", &["unreadable"]),
    ("3.3.2.1 a number has no exponent", "G01 X9E1 Z40.\n", &["unknown-word", "no-point"]),
    ("3.3.2.1 a letter needs a number", "G01 X Z40.\n", &["unreadable"]),
    ("3.3.2.1 one sign", "G01 X--90. Z40.\n", &["unreadable", "unreadable"]),
    ("3.3.2 a number needs a letter", "90. G01 Z40.\n", &["unreadable"]),
    ("3.3.2.2 variables are not read", "G01 X#1 Z40.\n", &["unreadable", "unreadable"]),
    ("3.3.1 N stands first", "G01 N20 X90. Z40.\n", &["unreadable"]),
    ("3.3.1 N is a whole number", "N2.5 G01 X90. Z40.\n", &["unreadable"]),
    ("3.3.1 N is 99999 at most", "N100000 G01 X90. Z40.\n", &["big-sequence"]),
    ("3.3.1 N may repeat and need not be used", "N10 G01 X90.\nN10 Z40.\n", &[]),
    ("3.3.4 a comment may stand anywhere", "G01 (one) X90. (two) Z40.\n", &[]),
    ("3.3.4 a comment does not nest", "G01 (one (two) X90. Z40.\n", &["nested-comment"]),
    ("3.3.4 a comment is closed on its line", "G01 X90. Z40. (down\n", &["open-comment"]),
    ("3.3.4 a closing bracket alone", "G01 X90. Z40.)\n", &["unreadable"]),
    ("3.3.4 words in a comment do nothing", "G01 X90. Z40. (G0 X0 Z-50)\n", &[]),
    ("trade: a semicolon begins a comment", "G01 X90. Z40. ; G0 X0\n", &["semicolon"]),
    ("trade: a semicolon alone", "G01 X90. Z40. ;\n", &[]),
    ("trade: a carriage return in a comment", "(LOOK\rG00 X0.)\n", &["comment-character"]),
    ("trade: a tape mark in a comment", "(LOOK % )\n", &["comment-character"]),
    ("trade: a program number in mid program", "O12\nG01 X90. Z40.\n", &["second-program"]),
    (
        "trade: a tool called again over the wheel",
        "M05\nT1\nM03\n",
        &["change-away-from-park", "starts-again"],
    ),
    (
        "trade: across and then up after a touch-off",
        "M05\nG00 Z250.\nX330.\nT2\nM00\nT2\nM03\nX330.\nZ250.\nX100.\nZ50.\nG01 X90. Z40.\n",
        &["not-up-first"],
    ),
    ("3.3 block skip stands first", "G01 / X90. Z40.\n", &["unreadable"]),
    // What a hand may meet (trade).
    (
        "trade: a stop while the spindle turns",
        "G00 Z60.\nM00\n",
        &["stop-while-turning", "stop-away-from-park"],
    ),
    (
        "trade: an optional stop while the spindle turns",
        "G00 Z60.\nM01\n",
        &["stop-while-turning", "stop-away-from-park"],
    ),
    (
        "trade: the spindle is started in the block of a stop",
        "M05\nM03 M00\n",
        &["starts-again", "stop-away-from-park", "stop-while-turning", "two-m-words"],
    ),
    ("trade: a stop with the spindle off", "M05\nM00\nM03\n", &["stop-away-from-park"]),
    (
        "trade: a stop in the cut",
        "G01 X90. Z40.\nM05\nM00\nM03\nG01 X80.\n",
        &["stands-in-cut", "stop-away-from-park"],
    ),
    ("trade: a dwell in the cut", "G01 X90. Z40.\nG04 P600.\nG01 X80.\n", &["stands-in-cut"]),
    ("trade: a dwell off the cut", "G01 X90. Z40.\nG00 Z60.\nG04 P2.\nG01 X80.\n", &["wait-over-wheel"]),
    (
        "trade: a tool called over the wheel",
        "M05\nT2\nM00\nT2\nM03\nG00 Z250.\n",
        &["change-away-from-park", "stop-away-from-park"],
    ),
    (
        "trade: a second tool that nobody touched off",
        "M05\nG00 Z250.\nX330.\nT2\nM03\nX100.\nZ50.\nG01 X90. Z40.\nG01 Z45.\n",
        &["starts-again", "tool-not-touched-off"],
    ),
    (
        "trade: M01 is no touch-off",
        "M05\nG00 Z250.\nX330.\nT2\nM01\nT2\nM03\nX100.\nZ50.\nG01 X90. Z40.\n",
        &["tool-not-touched-off"],
    ),
    (
        "trade: the offset of the touch-off is not taken up",
        "M05\nG00 Z250.\nX330.\nT2\nM00\nM03\nZ250.\nX100.\nZ50.\nG01 X90. Z40.\n",
        &["offset-not-taken-up"],
    ),
    (
        "trade: a second tool as it should be",
        "M05\nG00 Z250.\nX330.\nT2\nM00\nT2\nM03\nZ250.\nX100.\nZ50.\nG01 X90. Z40.\n",
        &[],
    ),
    (
        "trade: back to a tool that was touched off",
        "M05\nG00 Z250.\nX330.\nT2\nM00\nT2\nZ250.\nT1\nM03\nX100.\nZ50.\nG01 X90. Z40.\n",
        &[],
    ),
    (
        "trade: across before up after a touch-off",
        "M05\nG00 Z250.\nX330.\nT2\nM00\nT2\nM03\nX100. Z250.\nZ50.\nG01 X90. Z40.\n",
        &["not-up-first"],
    ),
    ("trade: a feed in the block of the limit", "G92 S700 F0.2\n", &["unused-word"]),
    // One word of each letter and each group.
    ("3.3.5 a letter once a block", "G01 X90. X80. Z40.\n", &["repeated-word"]),
    (
        "3.3.5 four M words at most",
        "M00 M03 M07 M08 M06\nM09\n",
        &[
            "many-m-words",
            "other-coolant",
            "other-coolant",
            "stop-while-turning",
            "stop-with-coolant",
            "tool-form",
            "stop-away-from-park",
        ],
    ),
    ("3.4 two motions", "G00 G01 X90. Z40.\n", &["same-group"]),
    ("3.4 two distance modes", "G90 G91\n", &["same-group"]),
    ("3.4 two feed modes", "G94 G95\n", &["same-group"]),
    ("3.4 two planes", "G18 G18\n", &["same-group"]),
    ("3.4 two stops", "M00 M01\n", &["same-group", "stop-while-turning", "stop-away-from-park"]),
    ("3.4 two spindle words", "M03 M05\nM03\n", &["same-group"]),
    ("3.4 mist and flood together", "M07 M08\nM09\n", &["other-coolant", "other-coolant", "two-m-words"]),
    ("3.4 coolant on and off", "M08 M09\nM09\n", &["other-coolant", "same-group"]),
    ("3.4 several G words of different groups", "G90 G01 G95 G40 X90. Z40.\n", &[]),
    // Motion.
    ("3.5.1 a rapid needs an axis", "G00\n", &["motion-without-axes"]),
    ("3.5.2 a line needs an axis", "G01\n", &["motion-without-axes"]),
    ("3.5.2 axes need a motion word in force", "G80\nX90.\n", &["no-motion-word"]),
    ("3.5.15 G80 with axes", "G80 X90.\n", &["no-motion-word"]),
    ("3.5.1 I without an arc", "G00 X90. I5.\n", &["unused-word"]),
    ("3.5.2 R without an arc", "G01 X90. Z40. R5.\n", &["unused-word"]),
    ("3.5.3 an arc needs its centre or radius", "G02 X110. Z40.\n", &["missing-word"]),
    ("3.5.3 an arc of a quarter", "G02 X110. Z40. I10. K0.\n", &[]),
    ("3.5.3.2 the end is the start", "G02 X100. Z50. I10. K0.\n", &["zero-arc"]),
    ("3.5.3.2 radii differ by 0.002 mm", "G02 X110. Z40.002 I10. K0.\n", &[]),
    ("3.5.3.2 radii differ by 0.003 mm", "G02 X110. Z40.003 I10. K0.\n", &["arc-radii"]),
    ("3.5.3.2 centre and radius", "G02 X110. Z40. I10. R10.\n", &["same-group"]),
    ("3.5.3 the wrong sense turns three quarters", "G03 X110. Z40. I10. K0.\n", &["long-arc"]),
    ("3.5.3 an arc in another plane", "G17\nG02 X110. Z40. I10.\nG18\n", &["wrong-plane", "wrong-plane"]),
    ("3.5.4 a dwell", "G04 P1.5\n", &[]),
    ("3.5.4 a dwell needs its time", "G04\n", &["missing-word"]),
    ("3.5.4 a dwell is not negative", "G04 P-1.\n", &["negative"]),
    ("3.5.4 P without its word", "G01 X90. P1.\n", &["unused-word"]),
    ("3.5.10 compensation", "G41\nG40\n", &["compensation"]),
    ("3.5.10 compensation with its number", "G42 D1\nG40\n", &["compensation", "unused-word"]),
    ("3.5.12 the machine's own frame", "G53 G00 X90. Z40.\nG00 X90. Z40.\n", &["machine-frame"]),
    ("3.5.13 a work offset the shop does not use", "G55\n", &["other-offset"]),
    ("3.5.14 exact path", "G61\n", &["exact-stop"]),
    ("3.5.14 rounded path", "G64\n", &["rounded-corners"]),
    ("3.5.17 increments", "G91 G01 X-10. Z-10.\nG90\n", &[]),
    (
        "3.5.17 increments left on",
        "G91\nG01 X-10.\nG00 Z10. (up)\nG90 G00 X90. Z60.\nG91\n",
        &["increments-left-on"],
    ),
    ("3.5.18 G92 with axes moves the zero", "G92 X0. Z0.\n", &["frame-shift"]),
    ("3.5.19 inverse time is not read", "G93\n", &["unknown-word"]),
    ("3.5.16 cycles are not read", "G81 X90. Z40.\n", &["unknown-word"]),
    ("3.5.8 home without its axes", "G28\n", &["missing-word"]),
    ("3.6 an unknown M word", "M77\n", &["unknown-word"]),
    ("3.6 subprograms are not read", "M98 P1000\n", &["unknown-word", "unused-word"]),
    ("3.3.2 a third axis", "G01 Y5.\n", &["unknown-word", "motion-without-axes"]),
    ("3.7.1 F below zero", "F-0.2\n", &["negative"]),
    ("3.7.2 S below zero", "S-100\n", &["negative"]),
    ("3.7.3 T is a whole number", "T1.5\n", &["tool-form"]),
    // Order of execution.
    (
        "3.8 the spindle stops before the motion of its block",
        "G01 X90. Z40. M05\nM03\n",
        &["spindle-off", "starts-again"],
    ),
    ("3.8 the spindle starts before the motion of its block", "M05\nG01 X90. M03\n", &["starts-again"]),
    ("3.8 the feed is set before the motion of its block", "G94\nG01 X90. Z40. F100.\nG95 F0.2\n", &[]),
    ("3.8 the feed mode is set before F", "G94 F100.\nG01 X90. Z40.\nG95 F0.2\n", &[]),
    ("3.8 F before its mode is lost", "F100. \nG94\nG01 X90. Z40.\nG95 F0.2\n", &["no-feed"]),
    ("3.8 the distance mode is set before the motion", "G91 G01 X-10.\nG90\n", &[]),
    (
        "3.8 the stop comes after the motion",
        "G01 X90. Z40. M00\n",
        &["stop-while-turning", "stop-away-from-park"],
    ),
    // Spindle, feed, tool: trade.
    ("trade: G97 beyond the wheel", "G97 S701\nG01 X90. Z40.\n", &["over-speed"]),
    ("trade: the limit beyond the wheel", "G92 S900\n", &["limit-too-high"]),
    ("trade: the limit without S", "G92\n", &["missing-word"]),
    ("trade: the mode changes and S is missing", "G97\nG01 X90. Z40.\n", &["no-speed"]),
    (
        "trade: the spindle turns the other way",
        "M05\nM04\nG01 X90. Z40.\n",
        &["spindle-wrong-way", "starts-again"],
    ),
    ("trade: reversed while it turns", "M04\nM03\n", &["reversed-running"]),
    ("trade: S0", "S0\nG01 X90. Z40.\n", &["spindle-off"]),
    ("trade: F0", "G01 X90. Z40. F0\n", &["zero-feed"]),
    ("trade: 200 for each revolution", "G01 X90. Z40. F200.\n", &["feed-coarse", "feed-too-fast"]),
    ("trade: 0.2 for each minute", "G94 F0.2\nG01 X90. Z40.\nG95 F.2\n", &["feed-fine"]),
    (
        "trade: faster than the machine feeds",
        "G94 F1501.\nG01 X90. Z40.\nG95 F.2\n",
        &["feed-coarse", "feed-too-fast"],
    ),
    ("trade: blocks too short to be read in time", "G01 X99.99\nX99.98\nX99.97\n", &["short-block"]),
    ("trade: a short block is read while a long one runs", "G01 X90.\nX89.99\nX80.\n", &[]),
    (
        "trade: a tool the job does not have",
        "T7\n",
        &["change-away-from-park", "change-while-turning", "other-tool"],
    ),
    ("trade: M06 where T alone changes", "M05\nM06\nM03\n", &["starts-again", "tool-form"]),
    ("trade: no tool", "M05\nT0\nM03\nG01 X90.\n", &["no-tool", "starts-again"]),
    ("trade: travel", "G00 X421.\n", &["travel"]),
    ("trade: travel at the middle of an arc", "G00 X1. Z50.\nG02 X1. Z39. I3. K-5.5\n", &["travel"]),
    ("trade: X below the axis", "G01 X-0.5\n", &["travel"]),
    ("trade: more decimals than the control has", "G01 X90.0005 Z40.0000\n", &["too-fine"]),
    ("trade: no decimal point", "G01 X90 Z0\n", &["no-point"]),
    ("trade: the other unit word", "G70\nG71\n", &["wrong-unit"]),
    (
        "trade: words of the other families",
        "G21\nG50 S700\nG98\n",
        &["other-meaning", "other-meaning", "other-meaning"],
    ),
    ("trade: increments by U where the control has none", "G01 U1. Z40.\n", &["unknown-word"]),
    ("trade: a character nobody knows", "G01 X90. Z40. !\n", &["unreadable"]),
    ("trade: a limit of zero", "G92 S0\n", &["no-spindle-limit"]),
    ("trade: a number no control holds", "G00 Z1000000000.\n", &["motion-without-axes", "unreadable"]),
    ("trade: a second program number", "O1001\nO1002\n", &["second-program", "second-program"]),
];

#[test]
fn rules() {
    let lathe = plain();
    let mut wrong = Vec::new();
    for (rule, blocks, expected) in RULES {
        let run = lathe.run(&whole(blocks));
        let mut found = kinds(&run.findings, Rank::Warning);
        let mut expected = expected.to_vec();
        found.sort_unstable();
        expected.sort_unstable();
        if found != expected {
            wrong.push(format!(
                "{rule}\n  {blocks:?}\n  expected {expected:?}\n  found    {:#?}",
                run.findings
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Whole programs at controls of their own, and the stops and warnings they must bring up.
#[test]
fn starts_and_ends() {
    let lathe = plain();
    let cut = "G01 X90. Z40.\n";
    let without = |word: &str| format!("{}{cut}{END}", START.replacen(word, "", 1));
    let cases: Vec<(&str, String, &[&str])> = vec![
        ("a sound program", format!("{START}{cut}{END}"), &[]),
        ("trade: unit never set", without(" G71"), &["unit-unset"]),
        ("trade: distance mode never set", without(" G90"), &["distance-unset"]),
        ("trade: compensation never off", without(" G40"), &["compensation-unset"]),
        ("trade: feed mode never set", without(" G95"), &["feed-mode-unset", "no-feed"]),
        ("trade: plane never set, no arc", without("G18 "), &[]),
        (
            "trade: plane never set, an arc",
            format!("{}G02 X110. Z40. I10. K0.\n{END}", START.replacen("G18 ", "", 1)),
            &["plane-unset"],
        ),
        ("trade: no tool called", without("T1\n"), &["no-tool"]),
        ("trade: no first place", without("G00 X100. Z50.\n"), &["position-unknown"]),
        (
            "trade: one axis first",
            format!("{}{cut}{END}", START.replacen(" Z50.", "", 1).replacen("G00 Z250.\n", "", 1)),
            &["not-up-first", "position-unknown"],
        ),
        ("trade: no limit before G96", without("G92 S700\n"), &["no-spindle-limit"]),
        (
            "trade: the limit after G96 comes too late",
            format!(
                "{}{cut}{END}",
                START.replacen("G92 S700\nG96 S280 M03\n", "G96 S280 M03\nG92 S700\n", 1)
            ),
            &["no-spindle-limit"],
        ),
        ("trade: spindle never started", without(" M03"), &["spindle-off"]),
        (
            "trade: no speed",
            without(" S280"),
            // Where it starts, and where it is fed.
            &["no-speed", "no-speed"],
        ),
        ("trade: no feed", without("F0.2\n"), &["no-feed"]),
        ("trade: G97 takes S as revolutions", format!("{}{cut}{END}", START.replacen("G96", "G97", 1)), &[]),
        (
            "trade: S before any spindle mode",
            format!("{}{cut}{END}", START.replacen(" G97", "", 1).replacen("G96 S280", "S280", 1)),
            &["spindle-mode-unset"],
        ),
        (
            "trade: spindle on at the end",
            format!("{START}{cut}{}", END.replace(" M05", "")),
            &["spindle-left-on"],
        ),
        (
            "trade: G96 at the end",
            format!("{START}{cut}{}", END.replace("G97 ", "")),
            &["surface-speed-left-on"],
        ),
        (
            "trade: coolant on at the end",
            format!("{START}M08\n{cut}{END}"),
            &["coolant-left-on", "other-coolant"],
        ),
        ("3.6.1 M02 ends as M30 does", format!("{START}{cut}{}", END.replace("M30", "M02")), &[]),
        ("3.6.1 the end is missing", format!("{START}{cut}G00 Z50.\nG97 M05\n"), &["no-end"]),
        (
            "3.6.1 what follows the end is not run",
            format!("{START}{cut}{END}G01 X0. Z-50.\n"),
            &["after-end"],
        ),
        ("3.6.1 blank lines and comments may follow", format!("{START}{cut}{END}\n(done)\n"), &[]),
        ("3 a pair of %", format!("%\n{START}{cut}{END}%\n"), &[]),
        ("3 % first and none last", format!("%\n{START}{cut}{END}"), &["tape-mark"]),
        (
            "3 what follows the second % is not read",
            format!("%\n{START}{cut}{END}%\nG01 X0.\n"),
            &["after-end"],
        ),
        ("3 % stands alone", format!("% G90\n{START}{cut}{END}%\n"), &["unreadable"]),
        ("empty", String::new(), &["no-end"]),
    ];
    for (rule, text, expected) in cases {
        let mut found = kinds(&lathe.run(&text).findings, Rank::Warning);
        found.sort_unstable();
        let mut expected = expected.to_vec();
        expected.sort_unstable();
        assert_eq!(found, expected, "{rule}\n{text}\n{:#?}", lathe.run(&text).findings);
    }
}

/// What a control's description asks for, and a program that gives it, or does not.
#[test]
#[allow(clippy::too_many_lines)] // One table.
fn controls() {
    let text = |s: &str| s.to_owned();
    let cut = "G01 X90. Z40.\n";
    let sound = whole(cut);
    let cases = vec![
        (
            "G50 as the limit",
            plain().with(|c| c.spindle_limit_word = SpindleLimitWord::G50),
            sound.replace("G92", "G50"),
            vec![],
        ),
        (
            "G92 where G50 is the limit",
            plain().with(|c| c.spindle_limit_word = SpindleLimitWord::G50),
            sound.clone(),
            vec!["no-spindle-limit", "other-meaning"],
        ),
        (
            "D as the limit",
            plain().with(|c| c.spindle_limit_word = SpindleLimitWord::D),
            sound.replace("G92 S700\n", "").replace("S280", "S280 D700"),
            vec![],
        ),
        (
            "D too high",
            plain().with(|c| c.spindle_limit_word = SpindleLimitWord::D),
            sound.replace("G92 S700\n", "").replace("S280", "S280 D800"),
            vec!["limit-too-high"],
        ),
        (
            "no limit word",
            plain().with(|c| c.spindle_limit_word = SpindleLimitWord::None),
            sound.replace("G92 S700\n", ""),
            vec!["no-spindle-limit"],
        ),
        (
            "no surface speed",
            plain().with(|c| c.surface_speed = false),
            sound.clone(),
            vec!["not-at-this-control"],
        ),
        (
            "the other feed words",
            plain().with(|c| c.feed_words = FeedWords::G98G99),
            sound.replace("G95", "G99").replace(" G90", ""),
            vec![],
        ),
        (
            "a turning cycle where distances are meant",
            plain().with(|c| c.feed_words = FeedWords::G98G99),
            sound.replace("G95", "G99"),
            vec!["other-meaning"],
        ),
        (
            "the other unit words",
            plain().with(|c| c.unit_word = UnitWord::G21),
            sound.replace("G71", "G21"),
            vec![],
        ),
        (
            "the other unit",
            plain().with(|c| c.unit_word = UnitWord::G21),
            sound.replace("G71", "G20"),
            vec!["travel", "travel", "travel", "travel", "travel", "wrong-unit", "feed-coarse"],
        ),
        ("arcs by radius", plain().with(|c| c.arcs = Arcs::Radius), whole("G02 X110. Z40. R10.\n"), vec![]),
        (
            "arcs by radius, negative",
            plain().with(|c| c.arcs = Arcs::Radius),
            whole("G02 X110. Z40. R-10.\n"),
            vec!["long-arc", "long-arc"],
        ),
        (
            "arcs by radius, too short",
            plain().with(|c| c.arcs = Arcs::Radius),
            whole("G02 X110. Z40. R5.\n"),
            vec!["short-radius"],
        ),
        (
            "arcs by radius, half a turn",
            plain().with(|c| c.arcs = Arcs::Radius),
            whole("G02 X120. Z50. R10.\n"),
            vec!["half-arc"],
        ),
        (
            "arcs by I and K at a control of R",
            plain().with(|c| c.arcs = Arcs::Radius),
            whole("G02 X110. Z40. I10. K0.\n"),
            vec!["arc-form"],
        ),
        (
            "no arcs",
            plain().with(|c| c.arcs = Arcs::None),
            whole("G02 X110. Z40. I10. K0.\n"),
            vec!["arc-form"],
        ),
        (
            "number and offset",
            plain().with(|c| c.tool_word = ToolWord::NumberAndOffset),
            sound.replace("T1", "T0101"),
            vec![],
        ),
        (
            "number and offset, zero left off",
            plain().with(|c| c.tool_word = ToolWord::NumberAndOffset),
            sound.replace("T1", "T101"),
            vec![],
        ),
        (
            "another tool's offset",
            plain().with(|c| c.tool_word = ToolWord::NumberAndOffset),
            sound.replace("T1", "T0102"),
            vec!["tool-form"],
        ),
        (
            "offset off",
            plain().with(|c| c.tool_word = ToolWord::NumberAndOffset),
            sound.replace("T1", "T0100"),
            vec!["tool-offset-off", "tool-offset-off"],
        ),
        (
            "number alone at a control of both",
            plain().with(|c| c.tool_word = ToolWord::NumberAndOffset),
            sound.clone(),
            vec!["no-tool", "tool-form"],
        ),
        (
            "number and M06",
            plain().with(|c| c.tool_word = ToolWord::NumberAndM06),
            sound.replace(" T1", "\nT1 M06"),
            vec![],
        ),
        (
            "M06 missing",
            plain().with(|c| c.tool_word = ToolWord::NumberAndM06),
            sound.clone(),
            vec!["no-tool"],
        ),
        (
            "M06 without T",
            plain().with(|c| c.tool_word = ToolWord::NumberAndM06),
            sound.replace(" T1", "\nM06"),
            vec!["missing-word", "no-tool"],
        ),
        ("work offset", plain().with(|c| c.work_offset = Some(54)), sound.replace("G18", "G18 G54"), vec![]),
        (
            "work offset missing",
            plain().with(|c| c.work_offset = Some(54)),
            sound.clone(),
            vec!["offset-unset"],
        ),
        (
            "another work offset",
            plain().with(|c| c.work_offset = Some(54)),
            sound.replace("G18", "G18 G55"),
            vec!["other-offset"],
        ),
        ("M04", plain().with(|c| c.spindle_turns = SpindleTurns::M04), sound.replace("M03", "M04"), vec![]),
        (
            "M03 at a control of M04",
            plain().with(|c| c.spindle_turns = SpindleTurns::M04),
            sound.clone(),
            vec!["spindle-wrong-way"],
        ),
        ("coolant", plain().with(|c| c.coolant = Coolant::M08), whole(&format!("M08\n{cut}M09\n")), vec![]),
        ("tape marks", plain().with(|c| c.tape_marks = true), format!("%\n{sound}%\n"), vec![]),
        (
            "tape marks missing",
            plain().with(|c| c.tape_marks = true),
            sound.clone(),
            vec!["tape-mark", "tape-mark"],
        ),
        (
            "program number",
            plain().with(|c| c.program_number = Some(1001)),
            format!("O1001\n{sound}"),
            vec![],
        ),
        (
            "program number by a colon",
            plain().with(|c| c.program_number = Some(1001)),
            format!(":1001\n{sound}"),
            vec![],
        ),
        (
            "a line too long",
            plain().with(|c| c.longest_line = 20),
            sound.replace("G97 M05", "G97 M05 (and so on)"),
            vec!["long-line"],
        ),
        (
            "a program too large",
            plain().with(|c| c.largest_program = 50),
            text(&sound),
            vec!["large-program"],
        ),
    ];
    for (rule, lathe, text, expected) in cases {
        let findings = lathe.run(&text).findings;
        let mut found = kinds(&findings, Rank::Warning);
        found.sort_unstable();
        let mut expected = expected.clone();
        expected.sort_unstable();
        assert_eq!(found, expected, "{rule}\n{text}\n{findings:#?}");
    }
}

/// 3.5.3, ISO 841: G03 turns from +Z toward +X, seen here with x to the right and z upward as with the hands of a clock.
#[test]
fn sense_of_arcs() {
    // From straight above the centre to straight outward of it: +Z turns toward +X.
    let run = plain().run(&whole("G03 X110. Z40. I0. K-10.\n"));
    assert_eq!(kinds(&run.findings, Rank::Warning), Vec::<&str>::new());
    let arcs: Vec<Arc> = run
        .skip_off
        .movements
        .iter()
        .filter_map(|m| if let Piece::Arc(a) = m.piece { Some(a) } else { None })
        .collect();
    assert_eq!(
        arcs,
        [Arc {
            from: Point::new(100.0, 50.0),
            to: Point::new(110.0, 40.0),
            centre: Point::new(100.0, 40.0),
            turn: Turn::Clockwise
        }]
    );
    // Such an arc bulges outward and up, away from the wheel's axis: its middle lies 45 degrees up.
    assert_approx_eq!(
        f64,
        arcs[0].centre.distance(Point::new(107.071_068, 47.071_068)),
        10.0,
        epsilon = 1e-6
    );
    // R of the same arc finds the same centre; G02 of it the centre on the other side.
    let by_radius = plain().with(|c| c.arcs = Arcs::Radius);
    for (word, centre) in [("G03", Point::new(100.0, 40.0)), ("G02", Point::new(110.0, 50.0))] {
        let run = by_radius.run(&whole(&format!("{word} X110. Z40. R10.\n")));
        let Piece::Arc(arc) = run.skip_off.movements[1].piece else { panic!("no arc") };
        assert!(arc.centre.distance(centre) < 1e-9, "{word} {arc:?}");
    }
}

/// 3.8, table 8: the order in which one block's words act, seen in what each motion carries.
#[test]
fn order_of_execution() {
    let run =
        plain().run(&whole("G91 G01 X-10. G94 F120. G97 S500 M00 T2 M08\nG90 G95 G96\nG00 Z60.\nM09\n"));
    let cut = &run.skip_off.movements[1];
    assert_eq!(cut.piece, Piece::line(Point::new(100.0, 50.0), Point::new(90.0, 50.0)));
    assert_eq!(cut.tool, Some(2));
    assert_eq!(cut.feed, Feed::PerMinute(FeedPerMinute::mm_per_min(120.0)));
    assert_eq!(cut.spindle, Spindle::Fixed { clockwise: true, speed: Some(SpindleSpeed::rpm(500.0)) });
    assert!(cut.coolant);
    assert_eq!(cut.stops_before, (0, 0), "the stop comes after the motion");
    assert_eq!(run.skip_off.movements[2].stops_before, (1, 0));
    let kinds: Vec<EventKind> = run.skip_off.events.iter().filter(|e| e.line == 7).map(|e| e.kind).collect();
    assert_eq!(
        kinds,
        [EventKind::Spindle, EventKind::Tool { number: 2 }, EventKind::CoolantOn, EventKind::Stop]
    );
}

/// 3.5.7, NIST SP 811: an inch is 25.4 mm; X words as diameters; I as radius; feet for each minute.
#[test]
fn inches_and_diameters() {
    let lathe = plain().with(|c| {
        c.unit_word = UnitWord::G70;
        c.x_words = XWords::Diameter;
        c.decimals = 4;
    });
    let text = "G18 G70 G40 G90 G95 G97 M05 T1\nG00 Z9.85\nX8. Z2.\nG92 S700\nG96 S920 M03\nG02 X8.4 Z1.8 I.2 K0. F.008\nG91 G01 X-.2\nG90 G00 Z9.85\nX26.\nG97 M05\nM30\n";
    let run = lathe.run(text);
    assert_eq!(kinds(&run.findings, Rank::Warning), Vec::<&str>::new(), "{:#?}", run.findings);
    let moves = &run.skip_off.movements[1..];
    assert_eq!(moves[0].piece.to(), Point::new(4.0 * 25.4, 2.0 * 25.4));
    let Piece::Arc(arc) = moves[1].piece else { panic!("no arc") };
    assert!(arc.centre.distance(Point::new(4.2 * 25.4, 2.0 * 25.4)) < 1e-9);
    assert!(arc.to.distance(Point::new(4.2 * 25.4, 1.8 * 25.4)) < 1e-9);
    assert!(moves[2].piece.to().distance(Point::new(4.1 * 25.4, 1.8 * 25.4)) < 1e-9);
    assert_eq!(moves[1].feed, Feed::PerRev(FeedPerRev::mm_per_rev(0.008 * 25.4)));
    let Spindle::Surface { speed: Some(v), limit: Some(n), .. } = moves[1].spindle else {
        panic!("no speed")
    };
    assert_approx_eq!(f64, v.as_mm_per_min(), 920.0 * 304.8, epsilon = 1e-6);
    assert_eq!(n, SpindleSpeed::rpm(700.0));
}

/// Trade: with implied decimals a number without a point counts steps; with increments by letter U and W step from where the tool stands.
#[test]
fn implied_decimals_and_increments() {
    let lathe = plain().with(|control| {
        control.bare_numbers = BareNumbers::Steps;
        control.feed_words = FeedWords::G98G99;
    });
    let whole = |middle: &str| whole(middle).replace("G90 G95", "G99");
    let run = lathe.run(&whole("G01 X90500 Z40000\nU500 W-1.5\nX90. W1.5\n"));
    assert_eq!(kinds(&run.findings, Rank::Warning), Vec::<&str>::new(), "{:#?}", run.findings);
    let ends: Vec<Point> = run.skip_off.movements[1..4].iter().map(|m| m.piece.to()).collect();
    assert_eq!(ends, [Point::new(90.5, 40.0), Point::new(91.0, 38.5), Point::new(90.0, 40.0)]);
    let run = lathe.run(&whole("G01 X90. U1.\nF1\n"));
    assert_eq!(kinds(&run.findings, Rank::Warning), ["repeated-word", "unclear-number"]);
}

/// 3.3: block skip, the switch on and off; what is wrong in one way only says in which.
#[test]
fn block_skip_both_ways() {
    let run = plain().run(&whole("/G01 X90. Z40.\n/S0\nG01 X80.\n"));
    assert_eq!(
        run.executions().map(|w| (w.switch, w.movements.len())).collect::<Vec<_>>(),
        [(SkipSwitch::Off, 5), (SkipSwitch::On, 4)]
    );
    assert_eq!(kinds(&run.findings, Rank::Warning), ["spindle-off"]);
    assert!(run.findings.iter().any(|f| f.what.starts_with("with the `/` blocks carried out: ")));
    let run = plain().run(&whole("/M05\n").replace("M30", "/M30"));
    assert_eq!(kinds(&run.findings, Rank::Stop), ["no-end"]);
    assert!(run.findings.iter().any(|f| f.rule.id() == "no-end" && f.what.contains("left out")));
    let run = plain().run(&whole("/2 G01 X90.\n/3 G01 X80.\n"));
    assert_eq!(kinds(&run.findings, Rank::Warning), ["skip-switches"]);
}

/// Trade: faster or coarser than any pass of the schedule is said, and rounding is not.
#[test]
fn beyond_the_schedule() {
    let schedule = job::schedule(1, 0);
    let lathe = plain();
    let setup = Setup { schedule: Some(&schedule), ..lathe.setup() };
    for (middle, expected) in [
        ("G01 X90. Z40.\n", vec![]),
        ("S281\nG01 X90. Z40. F0.201\n", vec![]),
        ("S300\nG01 X90. Z40.\n", vec!["other-surface-speed"]),
        ("G01 X90. Z40. F0.22\n", vec!["other-feed"]),
        ("S0.1\nG01 X90. Z40.\n", vec!["nearly-stands"]),
        ("G92 S6\nG01 X90. Z40.\n", vec!["nearly-stands"]),
        ("G97 S5\nG01 X90. Z40.\n", vec!["nearly-stands"]),
    ] {
        let run = simulate(whole(middle).as_bytes(), setup);
        assert_eq!(kinds(&run.findings, Rank::Warning), expected, "{middle}");
    }
}

/// A finding said at many blocks is one finding with its count.
#[test]
fn repeated_findings_are_counted() {
    let run = plain().run(&whole("M05\nN10 G01 X90.\nN20 X80.\nN30 X70.\n"));
    let found: Vec<_> = run.findings.iter().filter(|f| f.rule.id() == "spindle-off").collect();
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].line(), found[0].place.block()), (8, Some(10)));
    assert!(found[0].what.ends_with("the same at 2 more blocks, the last at line 10"), "{}", found[0].what);
}
