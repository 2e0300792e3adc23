//! Programs in plain words, and what differs between two of them.

use crate::fixtures::machine::{plain, whole};
use facewright::job::{FeedWords, ToolWord, UnitWord, XWords};
use facewright::proof::{Difference, Execution, against, explain};
use std::fmt::Write;

fn fixture(name: &str) -> String {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/programs").join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

#[test]
fn every_block_in_plain_words() {
    for name in ["metric-arcs.nc", "everything.nc"] {
        let lathe = plain();
        let text = fixture(name);
        let run = lathe.run(&text);
        let mut out = String::new();
        for (block, explained) in run.program.blocks.iter().zip(explain(&run)) {
            assert_eq!(block.line, explained.line);
            let _ = writeln!(out, "{:<46} {}", run.program.line_text(block), explained.text);
        }
        insta::assert_snapshot!(format!("explain-{name}"), out);
    }
}

/// A program is told in its own unit with its own words' figures, x as a radius; by hand from the words of the fixture.
#[test]
fn a_program_in_inches_is_told_in_inches() {
    let lathe = plain().with(|c| {
        c.unit_word = UnitWord::G20;
        c.x_words = XWords::Diameter;
        c.decimals = 4;
        c.feed_words = FeedWords::G98G99;
        c.tool_word = ToolWord::NumberAndOffset;
    });
    let text = fixture("diameter-inch.nc");
    let said = |text: &str| explain(&lathe.run(text)).into_iter().map(|e| e.text).collect::<Vec<_>>();
    for piece in [
        "Surface speed 900 ft/min",
        "Rapid to radius 2.75 in, height 0.4 in.",
        "Feed 0.006 in/rev; feed straight to radius 2.75 in, height 0.1 in.",
        // The root of 0.2182 squared and 0.4499 squared.
        "Feed along an arc of radius 0.50002 in, bulging",
        "to radius 4.2 in, height 0.0702 in.",
        "Rapid to radius 12.5 in, height 9.5 in.",
    ] {
        let told = |s: &String| s.to_lowercase().contains(&piece.to_lowercase());
        assert!(said(&text).iter().any(told), "no `{piece}` in {:#?}", said(&text));
    }
    // Words of other figures; without a unit word the control's unit holds, with the other word the other.
    let with = |word: &str| {
        text.replace("G20 ", word).replace("X5.5 Z.4", "X5.49954 Z.4").replace("F.006", "F.0006125")
    };
    for (word, place, feed) in [
        ("", "radius 2.74977 in, height 0.4 in", "Feed 0.0006125 in/rev"),
        ("G21 ", "radius 2.74977 mm, height 0.4 mm", "Feed 0.0006125 mm/rev"),
    ] {
        let all = said(&with(word)).join("\n");
        assert!(all.contains(place) && all.contains(feed), "{word}: {all}");
    }
}

#[test]
fn remarks_cannot_steer_a_terminal() {
    let lathe = plain();
    let text = explain(&lathe.run("(a \u{1b}[31m red \u{7} bell)\n")).remove(0).text;
    assert!(!text.contains(char::is_control), "{text:?}");
}

fn execution(text: &str) -> Execution {
    plain().run(text).skip_off
}

fn said(first: &str, other: &str) -> Vec<String> {
    against(&execution(first), &execution(other)).into_iter().map(|d: Difference| d.what).collect()
}

const PASSES: &str = "\
G00 X70. Z5.
G01 Z3.0
G01 X100. Z3.1
G01 X150. Z2.0
G00 Z50.
M00
G00 X70. Z5.
G01 Z2.0
G01 X100. Z2.1
G01 X150. Z1.0
G00 Z50.
";

#[test]
fn a_program_against_itself_differs_in_nothing() {
    assert_eq!(said(&whole(PASSES), &whole(PASSES)), Vec::<String>::new());
    let metric = fixture("metric-arcs.nc");
    assert_eq!(said(&metric, &metric), Vec::<String>::new());
}

/// Other words for the same motions are no difference.
#[test]
fn wording_is_no_difference() {
    let other = PASSES.replace("G01 X150. Z2.0\n", "G01 X125. Z2.55\nN5 (on) X150. Z2.\n").to_lowercase();
    assert_eq!(said(&whole(&other), &whole(PASSES)), Vec::<String>::new());
}

/// One hand edit each, and the one difference it makes.
#[test]
fn one_edit_is_one_difference() {
    let base = whole(PASSES);
    let edits = [
        ("G01 X100. Z2.1", "G01 X100. Z1.8", "deeper by 0.300 mm at radius 100.000 mm"),
        ("G01 X100. Z2.1", "G01 X100. Z2.3", "higher by 0.200 mm at radius 100.000 mm"),
        ("F0.2", "F0.3", "feed faster by 0.100 mm/rev: 0.300 instead of 0.200"),
        ("S280", "S200", "speed slower by 80.000 m/min: 200.000 instead of 280.000"),
        ("S700", "S600", "spindle limit slower by 100.000 rpm: 600.000 instead of 700.000"),
        ("M00", "M01", "runs before any stop, the other after one"),
        ("T1", "T2", "tool 2 instead of tool 1"),
    ];
    for (from, to, expected) in edits {
        let found = said(&base.replacen(from, to, 1), &base);
        assert!(found.iter().any(|f| f == expected), "{from} to {to}: {found:#?}");
        assert!(!found.iter().any(|f| f.contains("a pass")), "{from} to {to}: {found:#?}");
    }
}

/// Both ways of a pass left out; the one that is left is compared with its own counterpart.
#[test]
fn a_pass_missing_and_a_pass_more() {
    let base = whole(PASSES);
    let cut = "G00 X70. Z5.\nG01 Z2.0\nG01 X100. Z2.1\nG01 X150. Z1.0\nG00 Z50.\n";
    let shorter = base.replacen(cut, "", 1);
    let missing = against(&execution(&shorter), &execution(&base));
    assert_eq!(missing.len(), 1, "{missing:#?}");
    assert!(missing[0].what.starts_with("a pass missing: radius 70.000 mm to 150.000 mm"));
    assert_eq!((missing[0].line, missing[0].other_line), (None, Some(14)));
    let more = against(&execution(&base), &execution(&shorter));
    assert_eq!(more.len(), 1, "{more:#?}");
    assert!(more[0].what.starts_with("a pass more: "));
}

/// An arc whose sense is turned is higher or deeper in its middle, between the ends of all blocks.
#[test]
fn a_turned_arc_is_seen_between_its_ends() {
    let metric = fixture("metric-arcs.nc");
    let straight = metric.replacen("G03 X120. Z2.1 I7.636 K-59.512", "G01 X120. Z2.1", 1);
    let found = said(&straight, &metric);
    assert_eq!(found.len(), 1, "{found:#?}");
    // Sagitta of a chord of 20.016 mm in a radius of 60 mm: 60 - sqrt(60^2 - 10.008^2) = 0.8406 mm; along z 0.0007 mm more.
    let by: f64 = found[0].split(' ').nth(2).and_then(|n| n.parse().ok()).unwrap_or_default();
    assert!(found[0].starts_with("deeper by ") && (by - 0.8413).abs() < 0.001, "{found:#?}");
}
