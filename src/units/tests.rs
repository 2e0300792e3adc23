//! Laws of reading and printing, and values from outside.

use super::*;
use float_cmp::assert_approx_eq;
use proptest::prelude::*;
use std::fmt::Display;
use std::str::FromStr;

fn parse<Q: Quantity>(text: &str) -> Result<Q, QuantityError> {
    Q::read(text)
}

/// The error message; where the text was accepted, a text that says so.
fn refusal<Q: Quantity + FromStr<Err = QuantityError> + Display>(text: &str) -> String {
    text.parse::<Q>().map_or_else(|fault| fault.to_string(), |value| format!("taken as {value}"))
}

/// NIST SP 811, appendix B: an inch is 25.4 mm and a foot 304.8 mm, exactly.
#[test]
fn inches_and_feet_are_exact() {
    assert_eq!(parse("1 in"), Ok(Length::mm(25.4)));
    assert_eq!(parse("60 in/min"), Ok(FeedPerMinute::mm_per_min(1524.0)));
    assert_eq!(parse("1 ft/min"), Ok(SurfaceSpeed::mm_per_min(304.8)));
    assert_eq!(parse::<Length>("0.004 in").map(|l| (l.as_mm() - 0.1016).abs() < 1e-15), Ok(true));
    assert_eq!(
        parse::<FeedPerRev>("0.008 in/rev").map(|f| (f.as_mm_per_rev() - 0.2032).abs() < 1e-15),
        Ok(true)
    );
}

/// A fraction of whole numbers before `in` is that fraction of 25.4 mm, rounded once; every other one is refused with what to write.
#[test]
fn fractions_of_an_inch_are_exact() {
    for (text, mm) in [
        ("1/32 in", 0.793_75),
        ("1/64in", 0.396_875),
        ("3/4 in", 19.05),
        ("-1/8 in", -3.175),
        ("17/2 in", 215.9),
        ("1/3 in", 25.4 / 3.0),
        ("0/8 in", 0.0),
    ] {
        assert_eq!(parse(text), Ok(Length::mm(mm)), "{text}");
    }
    for (text, what) in [
        ("1/0 in", "`1/0 in`, a number divided by zero"),
        ("1/32 mm", "`1/32 mm`, a fraction;"),
        ("1/32", "`1/32`, a fraction without a unit"),
        ("1/-32 in", "`1/-32 in`, whose unit"),
        ("1/32e1 in", "`1/32e1 in`, whose unit"),
        ("1.5/32 in", "`1.5/32 in`, whose unit"),
        ("1/2/3 in", "a fraction;"),
        ("1 1/2 in", "`1 1/2 in`, whose unit"),
        ("/32 in", "does not begin with a number"),
        ("1/99999999999 in", "too small to be meant"),
    ] {
        let said = refusal::<Length>(text);
        assert!(said.contains(what), "{text}: {said}");
    }
    assert!(refusal::<Angle>("1/2 deg").contains("a fraction;"));
    assert!(refusal::<FeedPerRev>("1/32 in/rev").contains("a fraction;"));
    assert_eq!(parse::<Length>("1/32 mm").map_err(|e| e.fix.contains("`1/32 in`")), Err(true));
    assert_eq!(parse::<Angle>("1/2 deg").map_err(|e| e.fix), Err("write a decimal number".to_owned()));
}

#[test]
fn every_unit_reads_as_what_it_is() {
    assert_eq!(parse("2.0 um"), Ok(Length::mm(0.002)));
    assert_eq!(parse("2 µm"), Ok(Length::mm(0.002)));
    assert_eq!(parse("2 μm"), Ok(Length::mm(0.002)));
    assert_eq!(parse("0.10mm"), Ok(Length::mm(0.1)));
    assert_eq!(parse("1000 mil"), Ok(Length::mm(25.4)));
    assert_eq!(parse("1000 thou"), Ok(Length::mm(25.4)));
    assert_eq!(parse("1000000 uin"), Ok(Length::mm(25.4)));
    assert_eq!(parse("1000000 microinch"), Ok(Length::mm(25.4)));
    assert_eq!(parse("  +.5   mm "), Ok(Length::mm(0.5)));
    assert_eq!(parse("1e-3 m"), Ok(Length::mm(1.0)));
    assert_eq!(parse("-3 cm"), Ok(Length::mm(-30.0)));
    assert_eq!(parse("280 m/min"), Ok(SurfaceSpeed::mm_per_min(280_000.0)));
    assert_eq!(parse("5 m/s"), Ok(SurfaceSpeed::mm_per_min(300_000.0)));
    assert_eq!(parse("6 m/min"), Ok(Speed::mm_per_min(6000.0)));
    assert_eq!(parse("1500 mm/min"), Ok(FeedPerMinute::mm_per_min(1500.0)));
    assert_eq!(parse("0.2 mm/rev"), Ok(FeedPerRev::mm_per_rev(0.2)));
    assert_eq!(parse("700 rpm"), Ok(SpindleSpeed::rpm(700.0)));
    assert_eq!(parse("180 deg"), Ok(Angle::rad(PI)));
    assert_eq!(parse("15 °"), parse::<Angle>("15 deg"));
    assert_eq!(parse("1.5 min"), Ok(Time::s(90.0)));
    assert_eq!(parse("64 kB"), Ok(Size::bytes(64_000.0)));
    assert_eq!(parse("2 KiB"), Ok(Size::bytes(2048.0)));
}

#[test]
fn prints_as_a_person_would_write() {
    assert_eq!(Length::mm(0.1 + 0.2).to_string(), "0.3 mm");
    assert_eq!(Length::mm(-0.0).to_string(), "0 mm");
    assert_eq!(Length::mm(-1e-9).to_string(), "0 mm");
    assert_eq!(Length::mm(100.0).to_string(), "100 mm");
    assert_eq!(format!("{:.3}", Length::mm(0.1)), "0.100 mm");
    assert_eq!(format!("{:.1}", Length::mm(-0.04)), "0.0 mm");
    assert_eq!(format!("{:.0}", SpindleSpeed::rpm(1000.0)), "1000 rpm");
    assert_eq!(SurfaceSpeed::mm_per_min(280_000.0).to_string(), "280 m/min");
    assert_eq!(Angle::deg(15.0).to_string(), "15 deg");
    assert_eq!(Size::bytes(64_000.0).to_string(), "64 kB");
}

#[test]
fn what_is_not_the_quantity_is_refused_with_the_fix() {
    let messages = [
        refusal::<Length>("0.1"),
        refusal::<Angle>("15"),
        refusal::<Length>("0.1 mm/rev"),
        refusal::<FeedPerRev>("0.2 mm"),
        refusal::<SurfaceSpeed>("280 mm/min"),
        refusal::<SpindleSpeed>("700 m/min"),
        refusal::<Length>("1 Mm"),
        refusal::<Length>("1 mm mm"),
        refusal::<Length>("0,10 mm"),
        refusal::<Length>("nan mm"),
        refusal::<Length>("inf mm"),
        refusal::<Length>("1e999 mm"),
        refusal::<Length>("1e308 m"),
        refusal::<Length>("1e mm"),
        refusal::<Length>("- 1 mm"),
        refusal::<Length>("mm"),
        refusal::<Length>(""),
    ];
    insta::assert_snapshot!(messages.join("\n"));
}

/// What an inch shop writes otherwise is refused with our word of the same size.
#[test]
fn other_spellings_are_hinted_at_by_their_own_size() {
    for (said, hint) in [
        (refusal::<Length>("0.031\""), "`0.031 in`"),
        (refusal::<Length>("0.031 inch"), "`0.031 in`"),
        (refusal::<SurfaceSpeed>("900 sfm"), "`900 ft/min`"),
        (refusal::<FeedPerRev>("0.008 ipr"), "`0.008 in/rev`"),
        (refusal::<FeedPerMinute>("60 ipm"), "`60 in/min`"),
    ] {
        assert!(said.contains(hint), "{said}");
    }
    assert!(!refusal::<Length>("900 sfm").contains("ft/min`"));
}

#[test]
fn serde_takes_text_and_refuses_a_bare_number_with_the_fix() {
    assert_eq!(serde_yaml::from_str::<Length>("0.004 in").ok(), parse("0.004 in").ok());
    for bare in ["0.1", "3", "-3"] {
        let fault = serde_yaml::from_str::<Length>(bare).err().map(|e| e.to_string()).unwrap_or_default();
        assert!(fault.contains(&format!("`{bare} mm` or `{bare} in`")), "{fault}");
    }
    assert_eq!(serde_json::to_string(&Length::mm(0.1)).ok().as_deref(), Some("\"0.1 mm\""));
}

/// Machinery's Handbook (from memory): n = 1000·V/(π·D), V in m/min, D in mm.
#[test]
fn surface_speed_and_spindle_speed_are_each_others_inverse() {
    let speed = SurfaceSpeed::mm_per_min(280_000.0);
    let turns = speed.at_radius(Length::mm(220.0));
    assert_approx_eq!(f64, turns.as_rpm(), 1000.0 * 280.0 / (PI * 440.0), epsilon = 1e-9);
    assert_approx_eq!(f64, turns.at_radius(Length::mm(220.0)).as_mm_per_min(), 280_000.0, epsilon = 1e-6);
    assert_eq!(
        FeedPerRev::mm_per_rev(0.2).at_speed(SpindleSpeed::rpm(700.0)),
        FeedPerMinute::mm_per_min(140.0)
    );
}

/// A quantity printed and read again is the same to within half of the last printed decimal, and prints the same.
fn round_trip<Q: Quantity + Display>(inside: f64) -> Result<(), TestCaseError> {
    // Within what is read at all.
    let inside = inside % Q::MOST;
    let value = Q::from_inside(inside).ok_or_else(|| TestCaseError::fail("no finite number"))?;
    let printed = value.to_string();
    let again: Q = parse(&printed).map_err(|fault| TestCaseError::fail(format!("{printed}: {fault}")))?;
    let unit = Q::UNITS.first().map_or(1.0, |u| u.times / u.over);
    let half_decimal = 0.5e-6 * unit + 1e-15 * inside.abs();
    prop_assert!((again.inside() - inside).abs() <= half_decimal, "{} as {}", inside, printed);
    prop_assert_eq!(again.to_string(), printed);
    Ok(())
}

proptest! {
    #[test]
    fn printing_and_reading_round_trips(inside in -1e7..1e7_f64) {
        round_trip::<Length>(inside)?;
        round_trip::<Angle>(inside)?;
        round_trip::<Time>(inside)?;
        round_trip::<Speed>(inside)?;
        round_trip::<SurfaceSpeed>(inside)?;
        round_trip::<FeedPerRev>(inside)?;
        round_trip::<FeedPerMinute>(inside)?;
        round_trip::<SpindleSpeed>(inside)?;
        round_trip::<Size>(inside)?;
    }

    /// Text in the inside unit is read without rounding.
    #[test]
    fn decimal_text_in_the_inside_unit_is_held_exactly(whole in -9_999..10_000_i64, thousandths in 0..1000_u32) {
        let text = format!("{whole}.{thousandths:03}");
        prop_assert_eq!(parse::<Length>(&format!("{text} mm")).ok().map(Length::as_mm), text.parse().ok());
    }

    /// No text makes reading panic, and every value read is finite.
    #[test]
    fn any_text_is_read_or_refused(text in "\\PC*") {
        if let Ok(length) = parse::<Length>(&text) {
            prop_assert!(length.as_mm().is_finite());
        }
    }

    #[test]
    fn anything_like_a_quantity_is_read_or_refused(text in "[-+.0-9eE]{0,6} {0,2}[,a-zµ°/]{0,6}") {
        if let Ok(speed) = parse::<SurfaceSpeed>(&text) {
            prop_assert!(speed.as_mm_per_min().is_finite());
        }
    }
}

/// Nothing but a finite number becomes a quantity: neither from text, nor by serde, nor from the inside unit.
#[test]
fn a_quantity_from_outside_is_finite() {
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert_eq!(Length::from_inside(value), None);
        assert_eq!(Size::from_inside(value), None);
        assert!(parse::<Length>(&format!("{value} mm")).is_err());
    }
    for yaml in [".inf", ".nan", "1e999 mm", "1e308 m", "'.nan mm'"] {
        assert!(serde_yaml::from_str::<Length>(yaml).is_err(), "{yaml}");
    }
    assert!(parse::<Length>("1e308 mm").is_err());
}

/// What no shop has is refused where it is read, and so is what would be printed as zero.
#[test]
fn absurd_quantities_are_refused() {
    for text in ["1e300 mm", "10.1 m", "-1e9 mm", "1e-9 mm", "-1e-9 in"] {
        assert!(parse::<Length>(text).is_err(), "{text}");
    }
    assert!(parse::<SurfaceSpeed>("1e6 m/min").is_err());
    assert!(parse::<SpindleSpeed>("1e-9 rpm").is_err());
    assert!(parse::<Time>("1e5 s").is_err());
    assert_eq!(parse("10 m"), Ok(Length::mm(10_000.0)));
    assert_eq!(parse("1 um"), Ok(Length::mm(0.001)));
    assert_eq!(parse("0 mm"), Ok(Length::mm(0.0)));
}

#[test]
fn numbers_that_differ_are_told_apart() {
    assert_eq!(told_apart(0.012_51, 0.0125, 3), ["0.01251", "0.01250"].map(String::from));
    assert_eq!(told_apart(0.3, 0.2, 2), ["0.30", "0.20"].map(String::from));
    assert_eq!(told_apart(0.2, 0.2, 2), ["0.20", "0.20"].map(String::from));
    assert_eq!(told_apart(1e300, 0.2, 2), ["1e300", "2e-1"].map(String::from));
    assert_eq!(Length::mm(1e300).to_string(), "1e300 mm");
    assert_eq!(format!("{:.3}", Length::mm(1e300)), "1e300 mm");
}
