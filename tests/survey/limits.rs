//! Where the survey must not pass a wheel: lines that leave an angle free, a rim that is bent at its edge, a bend that lines cannot see.
//!
//! The traces are exact, on a flat face, so that nothing but the shape under test speaks.

use super::lines::{even, job, rank, surveyed, told};
use facewright::diagnostics::SurveyRule;
use facewright::job::{self, Job};
use facewright::survey::{self, Rank, Verdict};
use facewright::units::Length;

#[test]
fn lines_must_look_from_all_round() {
    let flat = |_: f64, _: f64| 0.0;
    // Half a turn and a hand's inaccuracy more are let pass; a little beyond is not.
    for (degrees, passes) in [
        ([0.0, 120.0, 240.0], true),
        ([0.0, 85.0, 171.0], true),
        ([0.0, 80.0, 169.0], false),
        ([0.0, 20.0, 40.0], false),
    ] {
        let s = surveyed(&job(), &degrees, flat);
        // Three lines are always told that they show no bend in two lobes.
        let lines = if passes { Rank::Warning } else { Rank::Stop };
        assert_eq!(rank(&s, "lines"), Some(lines), "{degrees:?}");
        // Nothing is said of the wheel by lines that do not show it.
        assert_eq!(s.verdict, if passes { Verdict::Cut } else { Verdict::MeasureAgain }, "{degrees:?}");
        assert_eq!(s.cleared().is_ok(), passes);
    }
}

/// On one line metal falls away from a radius outward, down to a depth at 218 mm; the way it goes is given from 0 to 1.
fn falls_away(from: f64, depth: f64, way: fn(f64) -> f64) -> impl Fn(f64, f64) -> f64 {
    move |r, angle| if angle == 0.0 { -depth * way(((r - from) / (218.0 - from)).max(0.0)) } else { 0.0 }
}

/// Damage has two feet; what departs to the end of its line is the rim, and is cut by nobody's leave until it is explained.
#[test]
fn a_rim_bent_at_its_edge_is_not_cut() {
    let straight = |t: f64| t;
    let lines = even(5);
    let mut accepting = job();
    accepting.accept = vec![job::Acceptance::RaisedSpot, job::Acceptance::TwoLobeBendUnseen];
    // Pushed in and pulled out, over 8 mm to 44 mm; as much as the run-out limit and less: a spread that nothing explains is no wheel to cut.
    for from in [174.0, 194.0, 204.0, 210.0] {
        for depth in [0.2, 0.5, 1.0, -0.2, -0.5] {
            let bent = surveyed(&accepting, &lines, falls_away(from, depth, straight));
            assert!(
                matches!(bent.verdict, Verdict::MeasureAgain | Verdict::DoNotCut),
                "{depth} mm from {from} mm: {:?}",
                bent.findings
            );
            assert!(bent.cleared().is_err());
        }
    }
    // A scrape with a floor that rises again before the line ends is damage.
    let scraped = |r: f64, at: f64| if at == 0.0 && (200.0..212.0).contains(&r) { -0.5 } else { 0.0 };
    let scrape = surveyed(&job(), &lines, scraped);
    assert_eq!(rank(&scrape, "unexplained spread"), None);
    assert!(scrape.damage.iter().any(|d| (d.depth_mm - 0.5).abs() < 0.02), "{:?}", scrape.damage);
}

/// Rash that reaches over the rim's edge has one foot too: the job's list says that it is no bend.
#[test]
fn rash_over_the_edge_is_cut_where_the_job_lists_it() {
    let mut job = job();
    job.damage.push(job::Damage {
        from: Length::mm(209.0),
        to: Length::mm(218.5),
        depth: Length::mm(0.5),
        kind: job::DamageKind::Scrape,
        sector: None,
    });
    let listed = surveyed(&job, &even(5), falls_away(210.0, 0.5, |t| t));
    assert_eq!(listed.verdict, Verdict::Cut, "{:?}", listed.findings);
    // The face is carried on over it from the lines that are sound.
    for r in [205.0, 211.0, 215.0] {
        assert!(listed.face().highest.at(r).abs() < 0.001, "{r}: {}", listed.face().highest.at(r));
    }
    // What is deeper than was listed is not the damage that was seen.
    let deeper = surveyed(&job, &even(5), falls_away(210.0, 1.2, |t| t));
    assert_eq!(deeper.verdict, Verdict::MeasureAgain, "{:?}", deeper.findings);
}

/// Two lobes of a height at 216 mm, growing with the radius, high at 0 degrees.
fn two_lobes(height: f64) -> impl Fn(f64, f64) -> f64 {
    move |r, angle| height * r / 216.0 * (2.0 * angle).cos()
}

fn with_bend_limit(limit: f64) -> Job {
    let mut job = job();
    job.wheel.bend_limit = Some(Length::mm(limit));
    job
}

#[test]
fn three_lines_do_not_pass_a_bend_as_tilt() {
    // 0.16 mm from high to low: within the limit of the run-out, beyond that of the bend.
    let bent = two_lobes(0.08);
    let three = surveyed(&with_bend_limit(0.10), &even(3), &bent);
    assert_eq!(rank(&three, "bend limit"), Some(Rank::Remount));
    assert_eq!(three.verdict, Verdict::CutAfterRemounting);
    // Five lines see what it is.
    let five = surveyed(&with_bend_limit(0.10), &even(5), &bent);
    assert_eq!(rank(&five, "tilt taken off"), Some(Rank::Stop));
    assert_eq!(five.verdict, Verdict::DoNotCut);
    // A run-out within the limit of the bend hides no bend beyond it.
    let within = surveyed(&with_bend_limit(0.20), &even(3), &bent);
    assert_eq!(within.verdict, Verdict::Cut, "{:?}", within.findings);
    // Without a limit of its own the run-out's holds for both.
    assert_eq!(surveyed(&job(), &even(3), &bent).verdict, Verdict::Cut);
}

#[test]
fn part_tilt_part_bend_does_not_slip_between_the_limits() {
    // Either alone is within the bend limit of 0.10 mm as three lines see it; together they are 0.15 mm and may all be bend.
    let both = |r: f64, angle: f64| r / 216.0 * (0.04 * angle.cos() + 0.035 * (2.0 * angle).cos());
    let s = surveyed(&with_bend_limit(0.10), &even(3), both);
    assert_eq!(s.verdict, Verdict::CutAfterRemounting, "{:?}", s.findings);
}

#[test]
fn two_or_four_lines_check_no_bend_limit() {
    let flat = |_: f64, _: f64| 0.0;
    for degrees in [vec![45.0, 225.0], vec![45.0, 135.0, 225.0, 315.0]] {
        // All of these stand where the bend crosses zero: nothing shows of 0.6 mm.
        let s = surveyed(&with_bend_limit(0.10), &degrees, two_lobes(0.3));
        assert_eq!(rank(&s, "bend limit"), Some(Rank::Stop), "{degrees:?}");
        assert_eq!(s.verdict, Verdict::MeasureAgain);
        // Where the job says nothing of a bend, four are warned about; two cannot show the highest place, and a person must take it on.
        let s = surveyed(&job(), &degrees, flat);
        let two = degrees.len() == 2;
        assert_eq!(rank(&s, "lines"), Some(if two { Rank::Decision } else { Rank::Warning }), "{degrees:?}");
        assert_eq!(s.verdict, if two { Verdict::DecideFirst } else { Verdict::Cut }, "{degrees:?}");
    }
    assert_eq!(surveyed(&with_bend_limit(0.10), &even(5), flat).verdict, Verdict::Cut);
}

#[test]
fn one_line_needs_an_indicator_and_takes_the_safe_side_of_it() {
    let mut job = job();
    let flat = |_: f64, _: f64| 0.0;
    let refused = surveyed(&job, &[0.0], flat);
    assert_eq!(refused.verdict, Verdict::MeasureAgain);
    assert!(
        told(&refused, "lines").is_some_and(|f| f.remedy.contains("`run_out` under `measured`")),
        "{refused:?}"
    );

    job.measured.run_out = Some(Length::mm(0.08));
    let survey = surveyed(&job, &[0.0], flat);
    assert_eq!(survey.verdict, Verdict::Cut, "{}", facewright::report::survey_page::page(&survey));
    assert_eq!(rank(&survey, "lines"), Some(Rank::Warning));
    let face = survey.face();
    let touch_off = job.touch_off_radius().as_mm();
    // Whatever tilt or bend of 0.08 mm at the rim the line may lie on: no place stands higher above the touch-off than
    // the face says, so no pass bites deeper, and none lies lower.
    for growth in
        [|r: f64, _: f64| r / 216.0, |r: f64, from: f64| ((r - from) / (216.0 - from)).max(0.0).powi(2)]
    {
        let turn = |r: f64| 0.04 * growth(r, touch_off);
        for line_at in [-1.0, -0.5, 0.0, 0.5, 1.0] {
            for r in (140..=432).map(|r| f64::from(r) / 2.0) {
                // The line measured as 0 stands at `line_at` of the turn's half height.
                let highest = |r: f64| turn(r) * (1.0 - line_at);
                let lowest = |r: f64| -turn(r) * (1.0 + line_at);
                let above = highest(r) - highest(touch_off);
                assert!(above <= face.highest.at(r) - face.highest.at(touch_off) + 1e-9, "{line_at} at {r}");
                assert!(
                    lowest(r) - highest(touch_off) >= face.lowest.at(r) - face.highest.at(touch_off) - 1e-9
                );
            }
        }
    }

    job.measured.run_out = Some(Length::mm(0.31));
    assert_eq!(surveyed(&job, &[0.0], flat).verdict, Verdict::CutAfterRemounting);
    job.measured.run_out = Some(Length::mm(0.08));
    job.wheel.bend_limit = Some(Length::mm(0.05));
    assert_eq!(rank(&surveyed(&job, &[0.0], flat), "by indicator"), Some(Rank::Stop));
}

#[test]
fn an_indicator_that_reads_more_than_the_lines_warns() {
    let mut job = job();
    job.measured.run_out = Some(Length::mm(0.12));
    let survey = surveyed(&job, &[0.0, 120.0, 240.0], |_, _| 0.0);
    assert_eq!(rank(&survey, "by indicator"), Some(Rank::Warning));
    let survey = surveyed(&job, &[0.0, 120.0, 240.0], |r, at| 0.06 * r / 216.0 * at.cos());
    assert_eq!(rank(&survey, "by indicator"), Some(Rank::Fine));
}

#[test]
fn a_face_that_is_upside_down_is_told_by_its_damage() {
    let mut job = job();
    job.damage.push(job::Damage {
        from: Length::mm(120.0),
        to: Length::mm(126.0),
        depth: Length::mm(0.3),
        kind: job::DamageKind::Scrape,
        sector: None,
    });
    let scraped = |r: f64, at: f64| if at == 0.0 && (120.0..=126.0).contains(&r) { -0.3 } else { 0.0 };
    let right = surveyed(&job, &[0.0, 120.0, 240.0], scraped);
    assert_eq!(rank(&right, "upside down"), None, "{}", facewright::report::survey_page::page(&right));
    let turned = surveyed(&job, &[0.0, 120.0, 240.0], |r, at| -scraped(r, at));
    assert_eq!(
        rank(&turned, "upside down"),
        Some(Rank::Stop),
        "{}",
        facewright::report::survey_page::page(&turned)
    );
    assert!(told(&turned, "upside down").is_some_and(|f| f.remedy.contains("`z: distance`")));
}

#[test]
fn a_schedule_that_takes_too_much_is_told_apart_from_damage_that_does() {
    let mut job = job();
    job.schedule.rough.iter_mut().for_each(|r| r.passes = job::PassCount::Count(40));
    let survey = surveyed(&job, &[0.0, 120.0, 240.0], |_, _| 0.0);
    let metal = told(&survey, "metal").unwrap_or_else(|| panic!("no row"));
    assert_eq!(metal.rank, Rank::Stop);
    assert!(
        metal.what.starts_with("The schedule takes") && metal.remedy.contains("`passes: auto`"),
        "{metal:?}"
    );
}

#[test]
fn every_reason_stands_on_its_own_line() {
    let mut job = job();
    job.wheel.allowance.taken = Length::mm(0.99);
    let survey = surveyed(&job, &[0.0, 10.0, 20.0], |r, at| if at < 0.1 { -0.001 * r } else { 0.0 });
    let against = survey.findings.iter().filter(|f| !f.rank.is_told()).count();
    let refusal = survey.cleared().err().unwrap_or_else(|| panic!("cleared")).to_string();
    assert!(against > 1);
    assert_eq!(refusal.lines().count(), 1 + against, "{refusal}");
}

/// One line cannot know the tilt of its mounting: where the metal does not suffice, no truer mounting is promised to save any.
#[test]
fn one_line_promises_nothing_of_remounting() {
    let mut job = job();
    job.measured.run_out = Some(Length::mm(0.28));
    job.wheel.allowance.taken = Length::mm(0.9);
    let one = surveyed(&job, &[0.0], |_, _| 0.0);
    assert_eq!(rank(&one, "metal"), Some(Rank::Stop), "{:?}", told(&one, "metal"));
    assert_eq!(one.verdict, Verdict::DoNotCut);
    // Three lines show the tilt, and that the wheel mounted without it would keep enough metal.
    job.measured.run_out = None;
    let tilted = surveyed(&job, &even(3), |r, angle| 0.14 / 216.0 * r * angle.cos());
    assert_eq!(rank(&tilted, "metal"), Some(Rank::Remount), "{:?}", told(&tilted, "metal"));
}

/// A rim pushed in between two of eight lines shows its flanks on both: how deep it is between them is told as far as it may go, and it is
/// at least what it is. A bend in lobes that the lines show well is no push.
#[test]
fn a_push_whose_flanks_alone_show_is_told_with_its_depth() {
    let push = |r: f64, at: f64| {
        let off = (at.to_degrees() - 22.5) / 20.0;
        -0.3 * ((r - 175.0).max(0.0) / 39.0).powi(2) * (-off * off).exp()
    };
    let s = surveyed(&job(), &even(8), push);
    let finding = told(&s, "lines").unwrap_or_else(|| panic!("nothing of the lines"));
    assert_eq!(finding.rule, SurveyRule::PushBetweenLines.into(), "{finding:?}");
    let line = |at: &f64| push(214.0, at.to_radians());
    let mean = even(8).iter().map(line).sum::<f64>() / 8.0;
    let lowest = (0..360).map(f64::from).map(|at| line(&at)).fold(0.0, f64::min) - mean;
    let shown = s.model().turn_at(214.0).lowest - s.model().face_at(214.0);
    let deeper = finding.measure.unwrap_or_else(|| panic!("{finding:?}")).value;
    assert!(shown - lowest > 0.02, "{shown:.3} is as low as {lowest:.3}");
    assert!(deeper >= shown - lowest, "{deeper:.3} mm lower told, {:.3} mm lower it is", shown - lowest);
    let lobes = |r: f64, at: f64| 0.05 * ((r - 175.0).max(0.0) / 39.0).powi(2) * (2.0 * at).cos();
    let s = surveyed(&job(), &even(8), lobes);
    assert_ne!(told(&s, "lines").map(|f| f.rule), Some(SurveyRule::PushBetweenLines.into()));
}

/// A push that stands between the lines is not seen by any: where a blow left damage at the rim, that is told, until lines or readings
/// round the wheel stand near enough. What they do see is refused or told as a bend.
#[test]
fn a_rim_that_may_be_pushed_in_between_the_lines_is_told() {
    let scraped = |r: f64, at: f64| if at == 0.0 && (204.0..211.0).contains(&r) { -0.3 } else { 0.0 };
    let inner = |r: f64, at: f64| if at == 0.0 && (104.0..111.0).contains(&r) { -0.3 } else { 0.0 };
    let told_of =
        |s: &survey::Survey| told(s, "lines").map(|f| f.rule == SurveyRule::PushBetweenLines.into());
    for (lines, scrape, is_told) in [(5, true, true), (6, true, true), (8, true, false), (6, false, false)] {
        let s = if scrape {
            surveyed(&job(), &even(lines), scraped)
        } else {
            surveyed(&job(), &even(lines), inner)
        };
        assert_eq!(told_of(&s), Some(is_told), "{lines} lines: {:?}", told(&s, "lines"));
        assert_eq!(s.verdict, Verdict::Cut);
        if is_told {
            assert_eq!(rank(&s, "lines"), Some(Rank::Warning));
        }
    }
}
