//! Damage counts where it lies: at its line's angle, up to the lines that show less, with the section that the line shows.

use super::lines::{even, job, surveyed, told};
use facewright::diagnostics::Rank;
use facewright::job::{Damage, DamageKind, DamageSector, Job};
use facewright::survey::Survey;
use facewright::units::{Angle, Length};
use std::f64::consts::PI;

/// Highest less lowest place of the turn at 216 mm.
const TILT: f64 = 0.16;
/// Where the damage lies.
const FROM: f64 = 150.0;
const TO: f64 = 160.0;
/// What a dent's depth may be told wrong by, and what a tilt over some lines may: the lines are exact, and read to some micrometres.
const CLOSE: f64 = 0.008;

fn tilted(r: f64, angle: f64) -> f64 {
    TILT / 2.0 * r / 216.0 * angle.cos()
}

/// A rounded floor between two feet, 1 at its deepest.
fn section(r: f64) -> f64 {
    (PI * ((r - FROM) / (TO - FROM)).clamp(0.0, 1.0)).sin()
}

fn listed(depth: f64) -> Damage {
    Damage {
        from: Length::mm(FROM),
        to: Length::mm(TO),
        depth: Length::mm(depth),
        kind: DamageKind::Scrape,
        sector: None,
    }
}

/// A scrape as deep as given on the first lines of five, listed as deep as given.
fn scraped(depths: &[f64], said: f64) -> Survey {
    let mut job: Job = job();
    job.damage = vec![listed(said)];
    let degrees = even(5);
    let depth_on = |angle: f64| {
        let line = degrees.iter().position(|d| (d.to_radians() - angle).abs() < 1e-9);
        line.and_then(|k| depths.get(k)).copied().unwrap_or(0.0)
    };
    surveyed(&job, &degrees, |r, angle| tilted(r, angle) - depth_on(angle) * section(r))
}

/// How far the sound face falls from its highest place at a radius to the lowest within so many degrees of it.
fn falls(r: f64, degrees: f64) -> f64 {
    TILT / 2.0 * r / 216.0 * (1.0 - degrees.to_radians().cos())
}

/// A scrape on the high side reaches at most to the line beside it that shows less of it, though that is scraped too.
#[test]
fn a_dent_ends_at_the_line_that_shows_less() {
    let middle = f64::midpoint(FROM, TO);
    let need = scraped(&[0.40, 0.10], 0.40).face().clean_up_at(middle).as_mm();
    let deep_one = falls(middle, 72.0) + 0.40;
    assert!(deep_one > falls(middle, 144.0) + 0.10, "the check needs the deep one to decide");
    assert!((need - deep_one).abs() < CLOSE, "{need} where {deep_one} is needed");
    // A line that shows as much does not end it.
    let need = scraped(&[0.40, 0.40], 0.40).face().clean_up_at(middle).as_mm();
    assert!((need - falls(middle, 144.0) - 0.40).abs() < CLOSE, "{need}");
}

/// Damage that a line shows over its whole width has that line's section, as much deeper as it is listed.
#[test]
fn listed_damage_has_the_section_that_its_line_shows() {
    for (said, deeper) in [(0.40, 0.0), (0.41, 0.01)] {
        let survey = scraped(&[0.40], said);
        for r in [152.0, 155.0, 158.0] {
            let need = survey.face().clean_up_at(r).as_mm();
            let by_hand = falls(r, 72.0) + 0.40 * section(r) + deeper;
            assert!((need - by_hand).abs() < CLOSE, "{said} at {r}: {need} where {by_hand} is needed");
        }
    }
    // Deeper than any line shows it, it may be anywhere, as wide as it is listed.
    let survey = scraped(&[0.40], 0.50);
    for r in [152.0, 155.0, 158.0] {
        let need = survey.face().clean_up_at(r).as_mm();
        assert!((need - falls(r, 180.0) - 0.50).abs() < CLOSE, "at {r}: {need}");
    }
}

/// Where the job says how far round listed damage reaches, the dent that a line shows of it reaches no farther; one that is deeper, or that
/// lies elsewhere, is another.
#[test]
fn the_job_says_how_far_round_a_dent_reaches() {
    let middle = f64::midpoint(FROM, TO);
    let degrees = even(5);
    let need = |at: f64, depth: f64| {
        let mut job = job();
        let sector = DamageSector { at: Angle::deg(at), over: Angle::deg(20.0) };
        job.damage = vec![Damage { sector: Some(sector), ..listed(depth) }];
        let on_first = |angle: f64| if angle.abs() < 1e-9 { 0.40 } else { 0.0 };
        let surface = |r, angle| tilted(r, angle) - on_first(angle) * section(r);
        surveyed(&job, &degrees, surface).face().clean_up_at(middle).as_mm()
    };
    let said = need(0.0, 0.40);
    assert!((said - falls(middle, 10.0) - 0.40).abs() < CLOSE, "{said}");
    let by_lines = falls(middle, 72.0) + 0.40;
    for other in [need(0.0, 0.30), need(50.0, 0.40)] {
        assert!((other - by_lines).abs() < CLOSE, "{other} where {by_lines} is needed");
    }
}

/// What an unknown angle may cost is told, with the keys that spare it; not where the angle is known.
#[test]
fn what_an_unknown_angle_costs_is_told() {
    let asked = |survey: &Survey| {
        told(survey, "clean-up depth").is_some_and(|f| f.remedy.contains("`at` and `over`"))
    };
    assert!(asked(&scraped(&[], 0.40)));
    assert!(!asked(&scraped(&[0.40], 0.40)), "a line shows it");
    let mut job = job();
    let sector = DamageSector { at: Angle::deg(0.0), over: Angle::deg(40.0) };
    job.damage = vec![Damage { sector: Some(sector), ..listed(0.40) }];
    assert!(!asked(&surveyed(&job, &[36.0, 108.0, 180.0, 252.0, 324.0], tilted)), "the job says where");
}

/// Rash all round that is listed deeper than any line shows it may lie at the lowest place of the turn, between two lines: what would stay of it
/// there is told. Not so where a line shows it as deep as it is listed.
///
/// By hand: the turn falls by the tilt to its lowest place, and as much must come off there as is listed.
#[test]
fn what_may_stay_between_the_lines_is_told() {
    let depths = [0.30, 0.25, 0.15, 0.15, 0.25];
    let survey = scraped(&depths, 0.50);
    let finding = told(&survey, "between lines").expect("it is listed 0.2 mm deeper than any line shows");
    let stays = finding.measure.expect("it has a figure").value;
    let comes_off = survey.face().clean_up_at(f64::midpoint(FROM, TO)).as_mm();
    let at_its_lowest = falls(TO, 180.0) + 0.50;
    assert!(
        at_its_lowest - comes_off > 0.05,
        "the check needs a lowest place that is not reached: {comes_off}"
    );
    assert!(
        (stays - (at_its_lowest - comes_off)).abs() < CLOSE,
        "{stays} told, {at_its_lowest} less {comes_off}"
    );
    assert!(told(&scraped(&depths, 0.30), "between lines").is_none());
}

/// A line that runs through the middle of listed damage shows it. Where it hardly shows any, radius, angle, depth or unit is another than was meant: heights
/// in inches that are read as millimetres show a twenty-fifth. A line near its end may miss it, and one beside it does. Rank: common practice, no source.
#[test]
fn listed_damage_that_its_own_line_does_not_show_is_told() {
    let degrees = even(5);
    let shown = |shown: f64, at: f64, over: f64| {
        let mut job = job();
        let sector = DamageSector { at: Angle::deg(at), over: Angle::deg(over) };
        job.damage = vec![Damage { sector: Some(sector), ..listed(0.40) }];
        let on_second = |angle: f64| if (angle.to_degrees() - 72.0).abs() < 1e-9 { shown } else { 0.0 };
        let survey = surveyed(&job, &degrees, |r, angle| tilted(r, angle) - on_second(angle) * section(r));
        told(&survey, "listed and not shown").cloned()
    };
    for little in [0.40 / 25.4, 0.10] {
        let finding = shown(little, 75.0, 20.0).expect("hardly any of it shows");
        assert_eq!(finding.rank, Rank::Warning);
        let says = finding.measure.expect("it has a figure").value;
        assert!((says - little).abs() < CLOSE, "{says} told of {little}");
    }
    assert_eq!(shown(0.40, 75.0, 20.0), None, "it shows");
    assert_eq!(shown(0.20, 75.0, 20.0), None, "half of it shows");
    assert_eq!(shown(0.0, 80.0, 20.0), None, "the line runs through its end");
    assert_eq!(shown(0.0, 110.0, 20.0), None, "no line runs through it");
    // Another turn of the angle is the same place.
    assert!(shown(0.0, 75.0 - 360.0, 20.0).is_some());
}
