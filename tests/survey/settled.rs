//! What the lines cannot show and a person settles: the turn measured by dial, a key that accepts, a stretch without metal, the
//! angle of damage.
//!
//! The lines are exact and the faces are formulas, so what must come out is reckoned by hand.

use super::lines::{even, job, rank, surveyed, told};
use facewright::job::{Acceptance, Damage, DamageKind, DamageSector, Job, Zone};
use facewright::scan::ring::{DIAL_NOISE, RingReadings};
use facewright::scan::{MeasuredLine, MeasuredLines};
use facewright::survey::{self, Rank, Survey, Verdict};
use facewright::units::{Angle, Length};

/// Two lobes, 0.16 mm from high to low at 216 mm, high at 0 degrees.
fn two_lobes(r: f64, angle: f64) -> f64 {
    0.08 * r / 216.0 * (2.0 * angle).cos()
}

/// The same wheel with readings round it at one radius, from a zero of their own.
fn with_ring(job: &Job, lines: u32, readings: u32, z: impl Fn(f64, f64) -> f64) -> Survey {
    with_dial(job, lines, readings, &z, |angle| z(214.0, angle))
}

/// The same with readings round the wheel that need not be those of the wheel.
fn with_dial(
    job: &Job,
    lines: u32,
    readings: u32,
    z: impl Fn(f64, f64) -> f64,
    reads: impl Fn(f64) -> f64,
) -> Survey {
    let exact = |at: &f64| {
        let points: Vec<(f64, f64)> =
            (0..1565).map(|i| 62.0 + 0.1 * f64::from(i)).map(|r| (r, z(r, at.to_radians()))).collect();
        MeasuredLine::exact(at.to_radians(), &points)
    };
    let angle = |i: u32| std::f64::consts::TAU * f64::from(i) / f64::from(readings);
    let ring = RingReadings {
        radius: 214.0,
        heights: (0..readings).map(|i| (angle(i), 7.0 + reads(angle(i)))).collect(),
        noise: DIAL_NOISE,
    };
    let lines =
        MeasuredLines { rings: vec![ring], ..MeasuredLines::known(even(lines).iter().map(exact).collect()) };
    survey::survey(job, &lines).unwrap_or_else(|e| panic!("{e}"))
}

/// How far the highest place of the turn at a radius is told wrong, where the turn's truth is `height·r/216`.
fn highest_off(s: &Survey, r: f64, height: f64) -> f64 {
    (s.face().highest.at(r) - height * r / 216.0).abs()
}

/// On three lines two lobes read as a tilt; eight readings at the rim show what they are.
#[test]
fn eight_readings_round_the_rim_show_two_lobes_that_three_lines_take_for_tilt() {
    let bend = |s: &Survey| s.run_out.as_ref().map_or(0.0, |r| r.bend_mm);
    let tilt = |s: &Survey| s.run_out.as_ref().and_then(|r| r.tilt.as_ref()).map_or(0.0, |t| t.at_rim_mm);
    let three = surveyed(&job(), &even(3), two_lobes);
    assert!(bend(&three) < 0.01 && tilt(&three) > 0.1, "the check needs three lines that are wrong");
    assert_eq!(rank(&three, "lines"), Some(Rank::Warning));

    let read = with_ring(&job(), 3, 8, two_lobes);
    // What eight readings leave open is told, and holds nothing up.
    assert!(rank(&read, "lines") <= Some(Rank::Warning), "{:?}", told(&read, "lines"));
    assert_eq!(read.verdict, Verdict::Cut);
    // A dial's reading is known within 0.007 mm; two lobes rest on eight of them and three lines.
    assert!((bend(&read) - 0.16).abs() < 0.01, "{}", bend(&read));
    assert!(tilt(&read) < 0.01, "{}", tilt(&read));
    for r in [100.0, 160.0, 214.0] {
        assert!(highest_off(&read, r, 0.08) < 0.007, "{r}: {}", highest_off(&read, r, 0.08));
    }
    // A bend beyond its limit is now seen, and the wheel sent away.
    let mut limited = job();
    limited.wheel.bend_limit = Some(Length::mm(0.10));
    assert_eq!(with_ring(&limited, 3, 8, two_lobes).verdict, Verdict::DoNotCut);
}

/// However a bend rises over the radius, of which the lines show something, eight readings round the rim leave less of it unseen than the lines alone, and what they leave is told.
#[test]
fn readings_round_the_rim_leave_less_unseen_of_every_bend() {
    let rises: [&dyn Fn(f64) -> f64; 3] =
        [&|r| (r / 216.0).powi(2), &|r| ((r - 150.0).max(0.0) / 66.0).powi(2), &|r| (r / 216.0).powf(1.5)];
    for (k, rise) in rises.into_iter().enumerate() {
        for lines in [3, 4] {
            for high in [0.0_f64, 0.4] {
                let bent = |r: f64, angle: f64| 0.08 * rise(r) * (2.0 * (angle - high)).cos();
                let unsure = |s: &Survey| s.run_out.as_ref().map_or(f64::NAN, |r| r.uncertainty_mm);
                let read = with_ring(&job(), lines, 8, bent);
                let unsure = unsure(&read);
                let case = format!("rise {k}, {lines} lines, high at {high}: within {unsure}");
                assert!(unsure < 0.04, "{case}");
                assert!(rank(&read, "lines") <= Some(Rank::Warning), "{case}: {:?}", told(&read, "lines"));
                for r in [100.0, 160.0, 190.0, 214.0] {
                    let off = (read.face().highest.at(r) - 0.08 * rise(r)).abs();
                    assert!(off < unsure + 0.002, "{case}: off by {off} at {r}");
                }
            }
        }
    }
}

/// Readings round the wheel that show another wheel than the lines do are told with the rise that each shows between two lines, and
/// wait for a person; readings of the same wheel, whatever it is, are not.
#[test]
fn readings_round_the_rim_that_disagree_with_the_lines_are_told() {
    let disagree = |s: &Survey| s.findings.iter().find(|f| f.rule.id() == "dial-and-lines").cloned();
    let flat = |_: f64, _: f64| 0.0;
    let tilted = |r: f64, angle: f64| 0.1 * r / 216.0 * angle.cos();
    for lines in [3, 4, 5] {
        for wheel in [&flat as &dyn Fn(f64, f64) -> f64, &tilted, &two_lobes] {
            let agreed = with_ring(&job(), lines, 8, wheel);
            assert!(disagree(&agreed).is_none(), "{lines} lines: {:?}", disagree(&agreed));
        }
    }
    // The line at 90 degrees reads 0.2 mm higher by the dial than by itself, between two that agree: the face falls a little.
    let falls = |r: f64, angle: f64| -0.03 * r / 216.0 * (1.0 - angle.cos());
    let read = |angle: f64| falls(214.0, angle) + 0.2 * angle.sin().max(0.0);
    let apart = with_dial(&job(), 4, 8, falls, read);
    let found = disagree(&apart).unwrap_or_else(|| panic!("not told: {:?}", apart.findings));
    let by = found.measure.unwrap_or_else(|| panic!("{found:?}")).value;
    assert!((by - 0.2).abs() < 0.002, "{found:?}");
    // By hand, from 0 to 90 degrees: the lines fall by 0.03 mm at 216 mm, and the dial shows 0.2 mm more than they do.
    let line = -0.03 * 214.0 / 216.0;
    for rise in [format!("the readings rise by {:+.3} mm", line + 0.2), format!("the lines by {line:+.3} mm")]
    {
        assert!(found.what.contains(&rise), "no `{rise}` in {}", found.what);
    }
    assert!(found.what.contains("from 0 deg to 90 deg"), "{}", found.what);
    assert!(found.remedy.contains("`accept: [two-lobe bend unseen]`"), "{}", found.remedy);
    // What a person may accept stays told.
    if found.rank == Rank::Decision {
        assert!(apart.cleared().is_err());
        let mut job = job();
        job.accept = vec![Acceptance::TwoLobeBendUnseen];
        let accepted = with_dial(&job, 4, 8, falls, read);
        assert_eq!(disagree(&accepted).map(|f| f.rank), Some(Rank::Warning));
    }
}

/// A dial whose angles are counted the other way round than the lines' is told as that; one that is counted as they are is not, and a dial
/// that is wrong otherwise is not called so.
#[test]
fn a_dial_counted_the_other_way_round_is_told() {
    let mirrored = |s: &Survey| s.findings.iter().find(|f| f.rule.id() == "mirrored-angles").cloned();
    // High at 50 degrees, which no line of three, four or five stands at or is mirrored to.
    let tilted = |r: f64, angle: f64| 0.1 * r / 216.0 * (angle - 50.0_f64.to_radians()).cos();
    for lines in [3, 4, 5] {
        let right = with_ring(&job(), lines, 8, tilted);
        assert!(mirrored(&right).is_none(), "{lines}: {:?}", mirrored(&right));
        let other = with_dial(&job(), lines, 8, tilted, |angle| tilted(214.0, -angle));
        let found = mirrored(&other).unwrap_or_else(|| panic!("{lines} lines: {:?}", other.findings));
        // Along its chords a dial of eight readings is off by 1 - cos 22.5 deg of what it reads, on either side.
        let by =
            found.what.split("differ by ").nth(1).and_then(|t| t.split(" mm").next()?.parse::<f64>().ok());
        assert!(by.is_some_and(|by| by < 2.0 * 0.1 * 0.0762), "{}", found.what);
        assert!(found.remedy.contains("in the order in which the lines count"), "{}", found.remedy);
        let wrong = with_dial(&job(), lines, 8, tilted, |angle| tilted(214.0, angle + std::f64::consts::PI));
        assert!(mirrored(&wrong).is_none(), "{lines}: {:?}", mirrored(&wrong));
    }
}

/// Too few readings round the wheel settle nothing.
#[test]
fn four_readings_round_the_rim_do_not_settle_a_bend() {
    let read = with_ring(&job(), 3, 4, |_, _| 0.0);
    assert_eq!(rank(&read, "lines"), Some(Rank::Warning), "{:?}", told(&read, "lines"));
}

/// What two lines cannot show waits for a person; the job's word lets it pass, and it stays told.
#[test]
fn two_lines_are_cut_once_the_job_accepts_what_they_cannot_show() {
    let flat = |_: f64, _: f64| 0.0;
    let mut job = job();
    let asked = surveyed(&job, &[0.0, 180.0], flat);
    assert_eq!(asked.verdict, Verdict::DecideFirst);
    let lines = told(&asked, "lines").unwrap_or_else(|| panic!("no row"));
    assert_eq!(lines.rank, Rank::Decision);
    assert!(lines.remedy.contains("`accept: [two-lobe bend unseen]`"), "{}", lines.remedy);
    assert!(asked.cleared().is_err());

    // Another word does not settle it.
    job.accept = vec![Acceptance::RaisedSpot];
    assert_eq!(surveyed(&job, &[0.0, 180.0], flat).verdict, Verdict::DecideFirst);
    job.accept = vec![Acceptance::TwoLobeBendUnseen];
    let accepted = surveyed(&job, &[0.0, 180.0], flat);
    assert_eq!(accepted.verdict, Verdict::Cut);
    assert_eq!(rank(&accepted, "lines"), Some(Rank::Warning));
    assert!(accepted.warnings().any(|f| f.rule.title() == "lines"));
}

/// Nothing that is refused is accepted: one line, lines on one side.
#[test]
fn what_is_refused_cannot_be_accepted() {
    let flat = |_: f64, _: f64| 0.0;
    let mut job = job();
    job.accept = vec![Acceptance::TwoLobeBendUnseen, Acceptance::RaisedSpot];
    for degrees in [&[0.0][..], &[0.0, 20.0, 40.0]] {
        assert_eq!(surveyed(&job, degrees, flat).verdict, Verdict::MeasureAgain, "{degrees:?}");
    }
}

/// Metal that stands over one line and nothing below any: a burr, or a scrape on a face that is upside down. A person knows.
#[test]
fn a_spot_that_stands_over_the_face_is_asked_about() {
    let raised = |r: f64, at: f64| if at == 0.0 && (120.0..126.0).contains(&r) { 0.2 } else { 0.0 };
    let mut job = job();
    let asked = surveyed(&job, &even(5), raised);
    assert_eq!(rank(&asked, "raised spot"), Some(Rank::Decision), "{:?}", asked.findings);
    assert_eq!(asked.verdict, Verdict::DecideFirst);
    job.accept = vec![Acceptance::RaisedSpot];
    let accepted = surveyed(&job, &even(5), raised);
    assert_eq!(accepted.verdict, Verdict::Cut);
    assert_eq!(rank(&accepted, "raised spot"), Some(Rank::Warning));
}

/// Lines over a face with a ring that none of them measured.
fn with_gap(job: &Job) -> Survey {
    let exact = |at: &f64| {
        let radii = (0..1565).map(|i| 62.0 + 0.1 * f64::from(i)).filter(|r| !(150.0..156.0).contains(r));
        MeasuredLine::exact(at.to_radians(), &radii.map(|r| (r, 0.0)).collect::<Vec<_>>())
    };
    let lines = MeasuredLines::known(even(5).iter().map(exact).collect());
    survey::survey(job, &lines).unwrap_or_else(|e| panic!("{e}"))
}

/// A ring of a zone that no line measured is refused, until the job says that no metal is there.
#[test]
fn a_ring_that_no_line_measured_is_refused_unless_it_has_no_metal() {
    let mut job = job();
    let refused = with_gap(&job);
    assert_eq!(rank(&refused, "unmeasured"), Some(Rank::Stop));
    assert_eq!(refused.verdict, Verdict::MeasureAgain);
    // A stretch that does not cover it settles nothing.
    job.mending.no_metal = vec![Zone { from: Length::mm(152.0), to: Length::mm(157.0) }];
    assert_eq!(with_gap(&job).verdict, Verdict::MeasureAgain);
    job.mending.no_metal = vec![Zone { from: Length::mm(149.0), to: Length::mm(157.0) }];
    assert_eq!(with_gap(&job).verdict, Verdict::Cut, "{:?}", with_gap(&job).findings);
}

/// What was read in a ring without metal (the chuck behind it, say) is no face: it bends nothing beside it, and nobody cuts down
/// to it.
#[test]
fn what_was_read_where_no_metal_is_is_no_face() {
    let open = |r: f64| (150.0..156.0).contains(&r);
    let through = |r: f64, _: f64| if open(r) { -8.0 } else { 0.0 };
    let mut job = job();
    let seen = surveyed(&job, &even(5), through);
    assert!(seen.face().highest.at(153.0) < -7.0, "the check needs a face that follows the readings");
    job.mending.no_metal = vec![Zone { from: Length::mm(149.5), to: Length::mm(156.5) }];
    let told = surveyed(&job, &even(5), through);
    assert_eq!(told.verdict, Verdict::Cut, "{:?}", told.findings);
    let off = (0..400).map(|i| 133.0 + 0.1 * f64::from(i)).map(|r| told.face().highest.at(r).abs());
    assert!(off.fold(0.0, f64::max) < 0.001);
    assert!(told.depth.clean_up_mm < 0.001, "{}", told.depth.clean_up_mm);
}

/// Two lines of which one dips between two corners of the face: nothing tells whether it is damage, and a person is asked. `leave`
/// takes the dip for shape that the tool stays above; listed damage says what it is, and how deep.
#[test]
fn lines_that_differ_undecidedly_are_asked_about() {
    // At a corner the face does not run on smoothly, so that the feet tell no depth.
    let face = |r: f64| 0.5 * (r - 150.0).clamp(0.0, 6.0);
    let dip = |r: f64, angle: f64| {
        let u = ((r - 150.0) / 6.0).clamp(0.0, 1.0);
        face(r) - if angle < 1.0 { 0.3 * (std::f64::consts::PI * u).sin().powi(2) } else { 0.0 }
    };
    let mut job = job();
    job.accept.push(Acceptance::TwoLobeBendUnseen);
    let two = [0.0, 180.0];
    let asked = surveyed(&job, &two, dip);
    assert_eq!(rank(&asked, "undecided"), Some(Rank::Decision), "{:?}", asked.findings);
    assert_eq!(asked.verdict, Verdict::DecideFirst);
    let here = Zone { from: Length::mm(149.0), to: Length::mm(157.0) };
    let settled = |change: &dyn Fn(&mut Job)| {
        let mut job = job.clone();
        change(&mut job);
        let s = surveyed(&job, &two, dip);
        assert!(s.findings.iter().all(|f| f.rank != Rank::Decision), "{:?}", s.findings);
        let off = s.face().highest.at(153.0) - face(153.0);
        assert!(off.abs() < 0.005, "{off}");
        s.face().clean_up_at(153.0).as_mm()
    };
    let left = settled(&|job| job.mending.leave.push(here));
    assert!(left.abs() < 0.01, "{left}");
    let listed = settled(&|job| {
        job.damage.push(Damage {
            from: here.from,
            to: here.to,
            depth: Length::mm(0.31),
            kind: DamageKind::Scrape,
            sector: None,
        });
    });
    assert!((listed - 0.31).abs() < 0.01, "{listed}");
}

/// Listed damage whose angle is known asks for no more than it needs there: on the high side of a tilt of 0.2 mm a scrape of 0.30 mm
/// needs 0.30 mm and what the tilt falls away over its width, and not the whole run-out beside it.
#[test]
fn damage_of_known_angle_counts_at_its_angle() {
    let tilted = |r: f64, angle: f64| 0.1 * r / 216.0 * angle.cos();
    let clean_up = |sector: Option<DamageSector>| {
        let mut job = job();
        job.damage = vec![Damage {
            from: Length::mm(150.0),
            to: Length::mm(156.0),
            depth: Length::mm(0.30),
            kind: DamageKind::Scrape,
            sector,
        }];
        // Between the lines, where none of them shows it.
        let s = surveyed(&job, &[36.0, 108.0, 180.0, 252.0, 324.0], tilted);
        s.face().clean_up_at(153.0).as_mm()
    };
    let half = 0.1 * 153.0 / 216.0;
    let over = |at: f64| Some(DamageSector { at: Angle::deg(at), over: Angle::deg(60.0) });
    assert!((clean_up(None) - (2.0 * half + 0.30)).abs() < 0.003, "unknown: {}", clean_up(None));
    let low = clean_up(over(180.0));
    assert!((low - (2.0 * half + 0.30)).abs() < 0.003, "on the low side: {low}");
    let falls = half * (1.0 - 30.0_f64.to_radians().cos());
    let high = clean_up(over(0.0));
    assert!(
        (high - (falls + 0.30)).abs() < 0.003,
        "on the high side: {high} where {} is needed",
        falls + 0.30
    );
}
