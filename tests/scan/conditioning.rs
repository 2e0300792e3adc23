//! Conditioning against a known face, measured badly: the face comes back, and the report says what was wrong.

use super::hand::{Dice, Faults, errors, face, measure, share_below, trace};
use super::{line, plain};
use facewright::job::Measured;
use facewright::scan::reader::{RawPoint, Scan};
use facewright::scan::report::{Removed, Why};
use facewright::scan::{ScanError, Trace};
use facewright::units::Length;
use proptest::prelude::*;

const SEEDS: u64 = 25;

/// Median, mean 99 % and worst 99 % of the errors over all seeds, in millimetres.
fn figures(f: &Faults) -> (f64, f64, f64) {
    let all: Vec<_> = (0..SEEDS).map(|seed| errors(&trace(&measure(f, seed), &plain()))).collect();
    let mean = |share| all.iter().map(|e| share_below(e, share)).sum::<f64>() / SEEDS as f64;
    let worst = all.iter().map(|e| share_below(e, 0.99)).fold(0.0, f64::max);
    (mean(0.5), mean(0.99), worst)
}

fn comes_back(name: &str, f: &Faults, median: f64, most: f64) {
    let (got_median, got_most, worst) = figures(f);
    println!("{name:>24}: median {got_median:.4}, 99 % {got_most:.4}, worst seed's 99 % {worst:.4}");
    assert!(got_median < median, "{name}: the median error is {got_median}");
    assert!(got_most < most, "{name}: 99 % of errors lie below {got_most}");
}

/// Truth: a face that is known, its noise of 0.01 mm. Where points lie 0.175 mm apart on average, the two sharp corners
/// of the lip are cut across by up to a quarter of the spacing: that alone is 0.02 mm at 1 % of the radii.
#[test]
fn the_face_comes_back_from_every_single_fault() {
    let base = Faults::clean();
    let dense = Faults { spacing: [0.02, 0.08], ..base.clone() };
    comes_back("nothing wrong", &base, 0.005, 0.024);
    comes_back("dense", &dense, 0.003, 0.012);
    comes_back("sparse", &Faults { spacing: [0.2, 0.3], ..base.clone() }, 0.006, 0.03);
    comes_back("pauses", &Faults { pauses: 8, ..base.clone() }, 0.005, 0.024);
    comes_back("back and forth", &Faults { backsteps: 8, ..base.clone() }, 0.005, 0.024);
    comes_back("reversed", &Faults { reversed: true, ..base.clone() }, 0.005, 0.024);
    comes_back("spikes", &Faults { spikes: 15, ..base.clone() }, 0.005, 0.03);
    comes_back("clusters", &Faults { clusters: 3, ..dense.clone() }, 0.003, 0.015);
    comes_back("drop-outs", &Faults { sentinels: 10, ..dense.clone() }, 0.003, 0.015);
    comes_back("leaves the face", &Faults { leaves_face: true, ..base.clone() }, 0.005, 0.026);
    let ways = Faults { out_and_back: true, hysteresis: 0.03, drift: 0.05, ..base };
    comes_back("hysteresis and drift", &ways, 0.004, 0.018);
}

#[test]
fn the_face_comes_back_from_all_faults_at_once() {
    let f = Faults {
        pauses: 5,
        backsteps: 5,
        spikes: 10,
        clusters: 2,
        sentinels: 5,
        leaves_face: true,
        out_and_back: true,
        hysteresis: 0.02,
        drift: 0.03,
        ..Faults::clean()
    };
    comes_back("all at once", &f, 0.005, 0.022);
}

fn scan(points: impl IntoIterator<Item = (f64, f64)>) -> Scan {
    let points = points.into_iter().zip(1..).map(|((x, z), line)| RawPoint { x, z, line }).collect();
    Scan { points, missing: Vec::new() }
}

fn conditioned(scan: &Scan, measured: &Measured) -> Trace {
    Trace::from_scan(scan, &line(), measured).unwrap_or_else(|f| panic!("{f}"))
}

fn removed(t: &Trace, why: Why) -> Vec<Removed> {
    t.report.removed.iter().filter(|r| r.why == why).copied().collect()
}

/// A row of points with the noise of a bench sensor.
fn row(n: u32, step: f64, f: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    let mut dice = Dice::new(5);
    (0..n).map(|i| 80.0 + f64::from(i) * step).map(|x| (x, f(x) + 0.01 * dice.normal())).collect()
}

#[test]
fn a_profile_drawn_by_hand_stays_as_it_is() {
    let drawn =
        [(70.0, 0.0), (80.0, 5.0), (90.0, 0.0), (90.01, -2.0), (95.0, -2.0), (95.01, 0.0), (120.0, 0.0)];
    for measured in [plain(), Measured { filter: None, ..plain() }] {
        let t = conditioned(&scan(drawn), &measured);
        assert_eq!(t.profile.points().len(), drawn.len());
        for (p, (x, z)) in t.profile.points().iter().zip(drawn) {
            assert!((p.x - x).abs() < 1e-12 && (p.z - z).abs() < 1e-9, "{p:?} was ({x}, {z})");
        }
        assert!(t.report.removed.is_empty(), "{:?}", t.report.removed);
    }
}

/// Nothing behind the last places tells a cluster from a step: the trace ends before them. A step with more behind it stays.
#[test]
fn a_trace_ends_before_a_jump_in_its_last_places() {
    for (behind, stays) in [(1, false), (3, false), (5, false), (9, true)] {
        for at_the_start in [false, true] {
            let mut points = row(400, 0.1, |x| 0.1 * (x - 90.0));
            let jumps = if at_the_start { 0..behind } else { 400 - behind..400 };
            points[jumps].iter_mut().for_each(|p| p.1 += 0.5);
            let t = conditioned(&scan(points), &plain());
            let length = t.profile.end() - t.profile.start();
            let lost = if stays { 0.0 } else { 0.1 * behind as f64 };
            assert!((length - (39.9 - lost)).abs() < 0.01, "{behind} {at_the_start}: {length}");
        }
    }
}

#[test]
fn removed_spikes_are_told_with_place_and_height() {
    let mut points = row(400, 0.1, |x| 0.1 * (x - 90.0));
    points[100].1 += 2.0;
    points[250].1 -= 0.8;
    for (i, off) in [(300, 1.0), (301, -3.0), (302, 0.7), (303, 2.0), (304, -1.0)] {
        points[i].1 += off;
    }
    let t = conditioned(&scan(points), &plain());
    let told = removed(&t, Why::Spike);
    assert_eq!(told.len(), 3, "{told:?}");
    for (r, (at, points, most)) in told.iter().zip([(90.0, 1, 2.0), (105.0, 1, -0.8), (110.0, 5, -3.0)]) {
        assert!((r.at.from.as_mm() - at).abs() < 1e-9 && r.points == points, "{r:?}");
        assert!((r.most.as_mm() - most).abs() < 0.05, "{r:?}");
    }
}

#[test]
fn a_stuck_sensor_is_told_from_a_groove() {
    // Fifty zeros are no cluster of twenty: only that they are equal to the bit gives them away.
    let mut points = row(600, 0.05, |_| 4.0);
    for p in &mut points[200..250] {
        p.1 = 0.0;
    }
    let t = conditioned(&scan(points), &plain());
    let told = removed(&t, Why::Stuck);
    assert_eq!(told.len(), 1);
    assert_eq!((told[0].points, told[0].most.as_mm().round()), (50, -4.0));
    assert!(t.report.gaps.iter().any(|g| (g.length().as_mm() - 2.55).abs() < 1e-9), "{:?}", t.report.gaps);
    assert!((t.profile.at(91.0) - 4.0).abs() < 0.05);

    // The same depth with noise is a groove, and without any noise too.
    let groove = |x: f64| if (90.0..92.5).contains(&x) { 0.0 } else { 4.0 };
    for points in [
        row(600, 0.05, groove),
        (0..600).map(|i| 80.0 + 0.05 * f64::from(i)).map(|x| (x, groove(x))).collect(),
    ] {
        let t = conditioned(&scan(points), &plain());
        assert!(t.report.removed.is_empty(), "{:?}", t.report.removed);
        assert!(t.profile.at(91.0).abs() < 0.03, "{}", t.profile.at(91.0));
    }
}

/// A corner, a step and a groove narrower than the cut-off keep their heights; the report says where they are.
#[test]
fn edges_are_kept_and_told() {
    let shape = |x: f64| {
        let step = if x < 90.0 { 0.0 } else { -0.5 };
        let corner = -(x - 100.0).max(0.0);
        let groove = if (94.99..95.51).contains(&x) { -0.4 } else { 0.0 };
        step + corner + groove
    };
    let t = conditioned(&scan(row(1500, 0.02, shape)), &plain());
    let most = |from: f64, to: f64| {
        let near = t.profile.points().iter().filter(|p| from < p.x && p.x < to);
        near.map(|p| (p.z - shape(p.x)).abs()).fold(0.0, f64::max)
    };
    for (name, from, to, kept, plain) in [
        ("step", 89.0, 91.0, 0.03, 0.2),
        ("corner", 99.0, 101.0, 0.03, 0.03),
        ("groove", 94.0, 96.5, 0.04, 0.15),
    ] {
        assert!(most(from, to) < kept, "{name}: off by {}", most(from, to));
        let told = t.report.edges.iter().filter(|e| from < e.plain.at.as_mm() && e.plain.at.as_mm() < to);
        let rounded = told.map(|e| e.plain.value.as_mm()).fold(0.0, f64::max);
        assert!(rounded > plain, "{name}: told to be rounded by {rounded}");
    }
    let elsewhere = t.report.edges.iter().filter(|e| (85.0..88.0).contains(&e.plain.at.as_mm())).count();
    assert_eq!(elsewhere, 0, "no edge where there is none");
}

/// Where nothing contradicts it, the result is the Gaussian filter's to the bit.
#[test]
fn a_smooth_trace_is_filtered_as_the_standard_says() {
    let points = row(300, 0.1, |x| 0.001 * (x - 95.0).powi(2));
    let t = conditioned(&scan(points.clone()), &plain());
    let raw: Vec<_> = points.iter().map(|&(x, z)| facewright::geometry::Point::new(x, z)).collect();
    let plain = facewright::scan::filter::gaussian(&raw, 0.8, facewright::scan::filter::Order::Line);
    let same = t.profile.points().iter().zip(plain).filter(|(p, z)| p.z == *z).count();
    assert!(same >= 297, "{same} of 300 places");
}

#[test]
fn noise_spacing_and_moves_are_told() {
    let t = conditioned(&scan(row(2000, 0.05, |x| (x / 9.0).sin())), &plain());
    let r = &t.report;
    assert!((r.noise.as_mm() - 0.01).abs() < 0.001, "{:?}", r.noise);
    assert!((r.spacing.as_mm() - 0.05).abs() < 1e-9);
    assert_eq!((r.measured, r.missing, r.most_at_one_place, r.outvoted), (2000, 0, 1, 0));
    // White noise through a filter that rests on n points keeps 1/√n of it, and what is taken off is the rest of it.
    let kept = t.profile.points().iter().map(|p| (p.z - (p.x / 9.0).sin()).powi(2)).sum::<f64>() / 2000.0;
    assert!(
        (r.noise_left.as_mm() / kept.sqrt() - 1.0).abs() < 0.15,
        "{} {}",
        r.noise_left.as_mm(),
        kept.sqrt()
    );
    assert!((r.moved_rms.as_mm() - (1e-4 - kept).sqrt()).abs() < 0.001, "{:?}", r.moved_rms);
    assert!(r.moved_most.value > r.moved_rms && r.moved_most.value < Length::mm(0.06));
    // Unfiltered noise of 0.01 mm lifts the path by some 0.02 mm to 0.03 mm.
    let bare =
        conditioned(&scan(row(2000, 0.05, |x| (x / 9.0).sin())), &Measured { filter: None, ..plain() });
    assert!((0.018..0.032).contains(&bare.report.lift.as_mm()), "{:?}", bare.report.lift);
    assert!(r.lift < Length::mm(0.01), "{:?}", r.lift);
}

#[test]
fn hysteresis_and_drift_are_measured() {
    let f = Faults { out_and_back: true, hysteresis: 0.03, drift: 0.05, ..Faults::clean() };
    for seed in 0..10 {
        let ways = trace(&measure(&f, seed), &plain()).report.ways.unwrap_or_default();
        assert_eq!(ways.count, 2);
        assert!((ways.hysteresis.as_mm() - 0.03).abs() < 0.008, "seed {seed}: {ways:?}");
        assert!((ways.drift.as_mm() - 0.05).abs() < 0.012, "seed {seed}: {ways:?}");
        // At the inner end the way back comes a whole scan later: hysteresis and drift together.
        assert!(
            (0.06..0.1).contains(&ways.apart.value.as_mm()) && ways.apart.at < Length::mm(95.0),
            "{ways:?}"
        );
    }
    assert_eq!(trace(&measure(&Faults::clean(), 1), &plain()).report.ways, None);
}

#[test]
fn a_scan_that_gives_no_line_is_refused() {
    let still = scan((0..50).map(|i| (80.0, 0.01 * f64::from(i % 7))));
    assert!(matches!(Trace::from_scan(&still, &line(), &plain()), Err(ScanError::NoProfile { .. })));
}

#[test]
fn the_profile_reaches_as_far_as_was_measured() {
    let points = (0..5000).map(|i| 80.001 + 0.0031 * f64::from(i)).map(|x| (x, face(x)));
    let t = conditioned(&scan(points), &plain());
    assert_eq!(t.profile.start(), 80.001);
    assert!((t.profile.end() - (80.001 + 0.0031 * 4999.0)).abs() < 1e-9);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// Whatever was measured, a trace comes out that lies within what was measured in x, or a refusal; the order of
    /// measuring alone changes nothing for a scan that does not turn.
    #[test]
    fn any_scan_is_conditioned(points in proptest::collection::vec(
        (prop_oneof![70.0..75.0_f64, 0.0..900.0_f64, Just(71.0)], prop_oneof![-1.0..1.0_f64, -800.0..800.0_f64, Just(0.0)]), 2..300),
        filter in prop_oneof![Just(None), (0.05..8.0_f64).prop_map(|c| Some(Length::mm(c)))]) {
        let m = Measured { filter, ..plain() };
        if let Ok(t) = Trace::from_scan(&scan(points.clone()), &line(), &m) {
            let least = points.iter().map(|p| p.0).fold(f64::INFINITY, f64::min);
            let most = points.iter().map(|p| p.0).fold(0.0, f64::max);
            prop_assert!(t.profile.start() >= least && t.profile.end() <= most);
            prop_assert!(t.profile.points().iter().all(|p| p.z.abs() <= 4000.0));
        }
        let mut sorted = points;
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
        sorted.dedup_by(|a, b| a.0 == b.0);
        let forth = Trace::from_scan(&scan(sorted.clone()), &line(), &m);
        sorted.reverse();
        let back = Trace::from_scan(&scan(sorted), &line(), &m);
        if let (Ok(a), Ok(b)) = (forth, back) {
            prop_assert_eq!(a.profile.points().len(), b.profile.points().len());
            for (p, q) in a.profile.points().iter().zip(b.profile.points()) {
                prop_assert!((p.x - q.x).abs() < 1e-9 && (p.z - q.z).abs() < 1e-6, "{:?} {:?}", p, q);
            }
        }
    }

    /// Moving the wheel along the spindle moves the trace and nothing else.
    #[test]
    fn raising_what_was_measured_raises_the_trace(seed in 0..1000_u64, dz in -20.0..20.0_f64) {
        let mut dice = Dice::new(seed);
        let points: Vec<_> = (0..300).map(|i| 80.0 + 0.07 * f64::from(i)).map(|x| (x, face(x) + 0.01 * dice.normal())).collect();
        let up: Vec<_> = points.iter().map(|&(x, z)| (x, z + dz)).collect();
        let (a, b) = (conditioned(&scan(points), &plain()), conditioned(&scan(up), &plain()));
        for (p, q) in a.profile.points().iter().zip(b.profile.points()) {
            prop_assert!((p.z + dz - q.z).abs() < 1e-6, "{:?} {:?}", p, q);
        }
    }
}
