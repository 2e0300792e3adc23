//! Closed forms of plane geometry, and each finding on the smallest program that has it.

use crate::fixtures::envelope::dilate;
use crate::fixtures::face::face;
use crate::fixtures::job::{job, mm};
use crate::fixtures::script::Script;
use facewright::geometry::Turn;
use facewright::proof::sweep::{PassKind, Sweep, sweep, sweep_after};
use facewright::proof::{Circumstances, Movement, Rank};
use facewright::units::Angle;
use float_cmp::{approx_eq, assert_approx_eq};

/// A flat face from 50 to 150 mm, cut over its whole width.
fn flat(passes: &[f64]) -> Vec<Movement> {
    let along = |z: f64| [(47.0, z), (153.0, z)];
    let mut script = Script::new(47.0, 50.0).pass(&along(passes[0] + 1.0)).stop();
    for &z in passes {
        script = script.pass(&along(z)).stop();
    }
    script.movements
}

fn stops(sweep: &Sweep) -> Vec<&'static str> {
    sweep.findings.iter().filter(|f| f.rank == Rank::Stop).map(|f| f.rule.id()).collect()
}

fn kinds(sweep: &Sweep) -> Vec<&'static str> {
    sweep.findings.iter().map(|f| f.rule.id()).collect()
}

#[test]
fn a_straight_pass_over_a_flat_face_takes_exactly_its_depth() {
    let s = sweep(&flat(&[-0.1, -0.2]), &job(2, 0, 50.0, 150.0), &face(&[(50.0, 0.0), (150.0, 0.0)]));
    assert_eq!(kinds(&s), Vec::<&str>::new(), "{:#?}", s.findings);
    assert_eq!(
        s.passes.iter().map(|p| p.kind).collect::<Vec<_>>(),
        [PassKind::Air, PassKind::Cut, PassKind::Cut]
    );
    for pass in s.passes.iter().skip(1) {
        assert!(
            pass.taken.iter().all(|d| approx_eq!(f64, d.depth, 0.1, epsilon = 1e-12)),
            "{:?}",
            pass.taken
        );
    }
    assert!(s.total.iter().all(|d| approx_eq!(f64, d.depth, 0.2, epsilon = 1e-12)));
    let dry = s.air_pass.expect("an air pass");
    assert_approx_eq!(f64, dry.nearest, 0.9, epsilon = 1e-12);
}

#[test]
fn one_block_deeper_is_named_with_its_depth_and_radius() {
    // The demo of a hand that slipped: 0.3 mm too deep for half a millimetre.
    let slipped = [(47.0, -0.1), (99.0, -0.1), (99.2, -0.4), (99.4, -0.1), (153.0, -0.1)];
    let movements =
        Script::new(47.0, 50.0).pass(&[(47.0, 0.9), (153.0, 0.9)]).stop().pass(&slipped).movements;
    let s = sweep(&movements, &job(1, 0, 50.0, 150.0), &face(&[(50.0, 0.0), (150.0, 0.0)]));
    let found = s.findings.iter().find(|f| f.rule.id() == "pass-too-deep").expect("a finding");
    let block = movements.iter().position(|m| m.piece.to().x == 99.2).expect("the block");
    assert_eq!(found.line(), movements[block].line);
    assert!(found.what.contains("0.400 mm") && found.what.contains("99.2"), "{}", found.what);
}

#[test]
fn a_point_fault_of_a_twentieth_is_found_wherever_it_stands() {
    for k in 0..60 {
        let x = 80.0 + 0.37 * f64::from(k);
        let path = [(47.0, -0.1), (x - 0.001, -0.1), (x, -0.15), (x + 0.001, -0.1), (153.0, -0.1)];
        let movements =
            Script::new(47.0, 50.0).pass(&[(47.0, 0.9), (153.0, 0.9)]).stop().pass(&path).movements;
        let s = sweep(&movements, &job(1, 0, 50.0, 150.0), &face(&[(50.0, 0.0), (150.0, 0.0)]));
        assert!(stops(&s).contains(&"pass-too-deep"), "{x}");
        let deepest = s.deepest.expect("a cut").depth;
        assert!(deepest > 0.15 - s.hidden && deepest < 0.15 + 1e-9, "{deepest}");
    }
}

#[test]
fn a_plunge_leaves_the_tools_outline() {
    let job = job(1, 0, 50.0, 150.0);
    let outline = job.tools[0].outline();
    let movements = Script::new(100.0, 50.0).feed(100.0, -2.0).movements;
    let s = sweep(&movements, &job, &face(&[(50.0, 0.0), (150.0, 0.0)]));
    for d in s.total.iter().filter(|d| d.depth > 0.0) {
        let exact = (2.0 - outline.height(d.radius - 100.0)).max(0.0);
        assert_approx_eq!(f64, d.depth, exact, epsilon = 1e-9);
    }
    assert!(kinds(&s).contains(&"no-air-pass") && kinds(&s).contains(&"edge-cuts"));
}

/// Plane geometry: a nose of radius r whose lowest point runs on an arc of radius R bulging downward leaves an arc of radius R + r
/// under the nose's centre path.
#[test]
fn a_nose_along_a_hollow_arc_leaves_the_wider_arc() {
    let job = job(1, 0, 50.0, 150.0);
    let (big, r) = (40.0_f64, 1.2);
    let from = (80.0, 40.0 - (big * big - 400.0_f64).sqrt() - 0.5);
    let movements =
        Script::new(from.0, from.1).arc(120.0, from.1, (100.0, 39.5), Turn::CounterClockwise).movements;
    let s = sweep(&movements, &job, &face(&[(50.0, 5.0), (150.0, 5.0)]));
    for d in s.total.iter().filter(|d| (d.radius - 100.0).abs() < 19.0) {
        // The nose's centre runs on an arc about (100, 39.5 + r).
        let exact = 39.5 + r - ((big + r).powi(2) - (d.radius - 100.0).powi(2)).sqrt();
        assert_approx_eq!(f64, 5.0 - d.depth, exact, epsilon = 1e-9);
    }
}

#[test]
fn the_air_pass_is_looked_for() {
    let flat_face = face(&[(50.0, 0.0), (150.0, 0.0)]);
    let j = job(1, 0, 50.0, 150.0);
    let path = |z: f64| [(47.0, z), (153.0, z)];
    let start = || Script::new(47.0, 50.0);
    // A jump so narrow that the flanks stay near the metal while the nose is far above it.
    let jump = [(47.0, 0.9), (98.2, 0.9), (98.5, 9.0), (101.5, 9.0), (101.8, 0.9), (153.0, 0.9)];
    let again = || start().pass(&path(0.9)).stop().pass(&path(0.9));
    let cases: [(&str, Vec<Movement>); 7] = [
        // Watched twice, and cut right behind the second.
        ("no-stop-after-air", again().pass(&path(-0.1)).movements),
        ("air-pass-short", start().pass(&jump).stop().pass(&path(-0.1)).movements),
        ("no-air-pass", start().pass(&path(-0.1)).movements),
        ("no-stop-after-air", start().pass(&path(0.9)).pass(&path(-0.1)).movements),
        ("air-pass-touches", start().pass(&path(0.02)).stop().pass(&path(-0.1)).movements),
        ("air-pass-short", start().pass(&[(47.0, 0.9), (120.0, 0.9)]).stop().pass(&path(-0.1)).movements),
        ("no-air-pass", start().stop().pass(&path(-0.1)).movements),
    ];
    for (kind, movements) in cases {
        assert!(stops(&sweep(&movements, &j, &flat_face)).contains(&kind), "{kind}");
    }
    let sound = again().stop().pass(&path(-0.1)).movements;
    assert_eq!(stops(&sweep(&sound, &j, &flat_face)), Vec::<&str>::new());
}

#[test]
fn rapids_keep_off_the_metal_on_every_way_they_may_take() {
    let flat_face = face(&[(50.0, 0.0), (150.0, 0.0)]);
    let j = job(1, 0, 50.0, 150.0);
    let with = |x: f64, z: f64| {
        let s = Script::new(100.0, 20.0).rapid(x, z);
        stops(&sweep(&s.movements, &j, &flat_face))
    };
    assert_eq!(with(100.0, 3.0), Vec::<&str>::new());
    assert_eq!(with(100.0, 2.9), ["rapid-near"]);
    assert_eq!(with(100.0, -0.1), ["rapid-in-metal"]);
    assert_eq!(with(120.0, 3.0), Vec::<&str>::new());
    // From low to high across: the straight line is clear, one axis at a time across first is not.
    let s = Script::new(180.0, -1.0).rapid(140.0, 30.0);
    assert!(
        stops(&sweep(&s.movements, &j, &face(&[(50.0, 0.0), (150.0, 0.0), (175.0, -30.0)])))
            .contains(&"rapid-in-metal")
    );
}

#[test]
fn a_rapid_straight_out_of_the_cut_is_no_fault() {
    let s = Script::new(100.0, 20.0).rapid(100.0, 3.0).feed(100.0, 0.5).rapid(100.0, 20.0);
    assert_eq!(
        stops(&sweep(&s.movements, &job(1, 0, 50.0, 150.0), &face(&[(50.0, 0.0), (150.0, 0.0)]))),
        Vec::<&str>::new()
    );
}

#[test]
fn keep_outs_are_held_clear_by_the_whole_outline() {
    let mut j = job(1, 0, 50.0, 150.0);
    j.keep_out.push(facewright::job::KeepOut::rectangle(
        "clamp",
        [mm(110.0), mm(120.0)],
        [mm(-10.0), mm(5.0)],
    ));
    let flat_face = face(&[(50.0, 0.0), (150.0, 0.0)]);
    let run = |x: f64, z: f64| stops(&sweep(&Script::new(70.0, z).feed(x, z).movements, &j, &flat_face));
    // The outer edge of 30° stands 5 mm over the nose's lowest point at T(w) = 5.
    let outline = j.tools[0].outline();
    let z = 0.1;
    let mut w = 0.0;
    while outline.height(w) + z < 5.0 {
        w += 0.0001;
    }
    assert_eq!(run(110.0 - w - 0.001, z), Vec::<&str>::new());
    assert_eq!(run(110.0 - w + 0.001, z), ["keep-out"]);
    assert_eq!(run(130.0, 5.001), Vec::<&str>::new());
    assert_eq!(run(130.0, 4.999), ["keep-out"]);
}

#[test]
fn outside_the_zones_and_the_measured_radii_nothing_may_go() {
    let j = job(1, 0, 70.0, 150.0);
    let flat_face = face(&[(50.0, 0.0), (150.0, 0.0)]);
    let run = |from: f64, z: f64| {
        let path = [(from, z), (153.0, z)];
        let s = Script::new(47.0, 50.0).pass(&[(from, 0.9), (153.0, 0.9)]).stop().pass(&path);
        stops(&sweep(&s.movements, &j, &flat_face))
    };
    // The nose stays inside the zone where its flank just meets the zone's end: √(r² − (r − d)²) inside.
    let inside = (1.2_f64.powi(2) - 1.1_f64.powi(2)).sqrt();
    assert_eq!(run(70.0 + inside, -0.1), Vec::<&str>::new());
    assert_eq!(run(70.0 + inside - 0.1, -0.1), ["gouge"]);
    // Its air pass is nearer than the clearance where nothing was measured, and far from the zone.
    assert_eq!(run(45.0, -0.1), ["fed-astray", "unmeasured", "gouge"]);
}

/// Where the zone ends at the last reading, the tool may be fed a nose and a lead (2 mm; common practice, no source) beyond it, and no further: not
/// even in the air, nearer than the clearance to what nobody measured.
#[test]
fn beyond_the_last_reading_a_nose_and_a_lead_are_all() {
    let j = job(1, 0, 50.0, 150.0);
    let widest = j.tools.iter().map(|t| t.nose_radius.as_mm()).fold(0.0, f64::max);
    let stops = |beyond: f64| {
        let path = |z: f64| [(50.0 - beyond, z), (150.0 + beyond, z)];
        let s = Script::new(47.0, 50.0).pass(&path(0.9)).stop().pass(&path(-0.1));
        stops(&sweep(&s.movements, &j, &face(&[(50.0, 0.0), (150.0, 0.0)])))
    };
    assert_eq!(stops(widest + 1.95), Vec::<&str>::new());
    assert!(stops(widest + 2.05).contains(&"fed-astray"), "{:?}", stops(widest + 2.05));
}

#[test]
fn the_allowance_the_schedule_and_the_spindle_limit_stop() {
    let flat_face = face(&[(50.0, 0.0), (150.0, 0.0)]);
    let many: Vec<f64> = (1..=9).map(|k| -0.1 * f64::from(k)).collect();
    let s = sweep(&flat(&many), &job(9, 0, 50.0, 150.0), &flat_face);
    assert_eq!(stops(&s), ["allowance"], "{:#?}", s.findings);
    let s = sweep(&flat(&[-0.1, -0.2, -0.3]), &job(2, 0, 50.0, 150.0), &flat_face);
    assert!(stops(&s).contains(&"pass-too-deep"));
    let s = sweep(&flat(&[-0.1, -0.3]), &job(3, 0, 50.0, 150.0), &flat_face);
    assert_eq!(stops(&s).iter().filter(|k| **k == "pass-too-deep").count(), 2);
    let mut fast = job(2, 0, 50.0, 150.0);
    fast.wheel.speed_limit = facewright::units::SpindleSpeed::rpm(600.0);
    assert_eq!(stops(&sweep(&flat(&[-0.1, -0.2]), &fast, &flat_face)), ["over-speed"]);
}

#[test]
fn a_lost_block_that_leaves_metal_standing_is_a_warning() {
    // A hollow of half a millimetre, whole and with the two lines through it lost: the chord leaves it full.
    let hollow = [(50.0, 0.0), (90.0, 0.0), (100.0, -0.05), (110.0, 0.0), (150.0, 0.0)];
    let path = |points: &[(f64, f64)]| -> Vec<(f64, f64)> {
        points
            .iter()
            .map(|&(x, z)| (x, z - 0.1))
            .map(|(x, z)| (if x == 50.0 { 47.0 } else { x }, z))
            .collect()
    };
    let run = |points: &[(f64, f64)]| {
        let air: Vec<_> = path(&hollow).into_iter().map(|(x, z)| (x, z + 1.0)).collect();
        let script = Script::new(47.0, 50.0).pass(&air).stop().pass(&path(points));
        sweep(&script.movements, &job(1, 0, 50.0, 149.0), &face(&hollow))
    };
    let whole = run(&hollow);
    assert!(!kinds(&whole).contains(&"metal-left"), "{:#?}", whole.findings);
    let lost = run(&[hollow[0], hollow[1], hollow[3], hollow[4]]);
    let found = lost.findings.iter().find(|f| f.rule.id() == "metal-left").expect("a finding");
    assert_eq!(found.rank, Rank::Warning);
    assert!(found.what.contains("0.050 mm") && found.what.contains("radius 100.0"), "{}", found.what);
}

/// A groove whose walls of 70° the steep inner edge follows and the flat outer edge does not: what stands there is out of reach, not left.
#[test]
fn what_an_unlike_edge_cannot_reach_is_not_asked_of_it() {
    let groove =
        face(&[(50.0, 0.0), (90.0, 0.0), (91.0, -2.747), (109.0, -2.747), (110.0, 0.0), (150.0, 0.0)]);
    let mut job = job(1, 0, 50.0, 150.0);
    job.tools[0].inner_edge = Angle::deg(10.0);
    job.tools[0].outer_edge = Angle::deg(50.0);
    job.schedule.rest_limit = mm(3.0);
    let exact = dilate(&groove.highest, &job.tools[0].outline(), [52.0, 148.0]);
    let along = |by: f64| -> Vec<(f64, f64)> {
        let inside = (0..=4800).map(|i| 52.0 + 0.02 * f64::from(i)).map(|x| (x, exact.at(x) + by));
        [(47.0, by)].into_iter().chain(inside).chain([(153.0, by)]).collect()
    };
    let movements = Script::new(47.0, 50.0).pass(&along(0.9)).stop().pass(&along(-0.1)).movements;
    let s = sweep(&movements, &job, &groove);
    // Of the outer wall nothing at all is taken.
    assert!(s.rest.is_some_and(|r| r.amount > 0.099 && r.radius > 105.0), "{:?}", s.rest);
    assert!(!kinds(&s).contains(&"metal-left"), "{:#?}", s.findings);
    // The inner wall is followed: a path that keeps off it by the flat edge's measure leaves what could be taken.
    let shy: Vec<_> = along(-0.1).into_iter().filter(|&(x, _)| !(90.5..94.0).contains(&x)).collect();
    let shy = Script::new(47.0, 50.0).pass(&along(0.9)).stop().pass(&shy).movements;
    assert!(kinds(&sweep(&shy, &job, &groove)).contains(&"metal-left"));
}

#[test]
fn a_rapid_straight_off_the_face_is_a_warning_and_one_from_the_clearance_is_not() {
    let run = |leaves_at: f64| {
        let air = Script::new(47.0, 50.0).pass(&[(47.0, 0.9), (153.0, 0.9)]).stop();
        let script = air.rapid(47.0, 50.0).rapid(47.0, 5.0).feed(47.0, -0.1).feed(149.0, -0.1);
        let script = script.feed(149.0, leaves_at).rapid(149.0, 50.0);
        sweep(&script.movements, &job(1, 0, 50.0, 150.0), &face(&[(50.0, 0.0), (150.0, 0.0)]))
    };
    let jumps = run(-0.1);
    assert!(stops(&jumps).is_empty(), "{:#?}", jumps.findings);
    assert!(kinds(&jumps).contains(&"rapid-off-face"), "{:#?}", jumps.findings);
    assert!(kinds(&run(2.5)).contains(&"rapid-off-face"));
    assert!(!kinds(&run(3.0)).contains(&"rapid-off-face"));
}

#[test]
fn what_a_part_leaves_to_the_next_is_a_note_and_its_stops_stay_stops() {
    let flat_face = face(&[(50.0, 0.0), (150.0, 0.0)]);
    let part = Circumstances { goes_on: true, ..Circumstances::default() };
    let ranks = |movements: &[Movement], how: &Circumstances| -> Vec<(&'static str, Rank)> {
        let found = sweep_after(movements, &job(2, 1, 50.0, 150.0), &flat_face, how).findings;
        found.iter().map(|f| (f.rule.id(), f.rank)).collect()
    };
    let first = flat(&[-0.1]);
    let missing = ranks(&first, &Circumstances::default());
    assert!(missing.contains(&("passes-missing", Rank::Warning)), "{missing:?}");
    let known = ranks(&first, &part);
    assert!(known.contains(&("passes-missing", Rank::Note)), "{known:?}");
    assert!(known.iter().all(|f| f.1 == Rank::Note), "{known:?}");
    let deep = ranks(&flat(&[-0.2]), &part);
    assert!(deep.contains(&("pass-too-deep", Rank::Stop)), "{deep:?}");
    // The next part makes the second rough pass: the first is gone already, and only the finish is missing.
    let second = Circumstances { already: mm(0.1), goes_on: false, ..Circumstances::default() };
    let found = sweep_after(&flat(&[-0.2]), &job(2, 1, 50.0, 150.0), &flat_face, &second).findings;
    let missing: Vec<_> = found.iter().filter(|f| f.rule.id() == "passes-missing").map(|f| &f.what).collect();
    assert_eq!(missing, ["tool 2 cuts 0 passes; the schedule asks for 1"]);
}

#[test]
fn a_cut_without_the_coolant_asked_for_is_a_warning_and_the_air_pass_may_run_dry() {
    let mut job = job(1, 0, 50.0, 150.0);
    job.control.coolant = facewright::job::Coolant::M08;
    let flat_face = face(&[(50.0, 0.0), (150.0, 0.0)]);
    let mut movements = flat(&[-0.1]);
    let dry = sweep(&movements, &job, &flat_face);
    assert!(kinds(&dry).contains(&"no-coolant"), "{:#?}", dry.findings);
    movements.iter_mut().filter(|m| m.stops_before.0 > 0).for_each(|m| m.coolant = true);
    assert_eq!(kinds(&sweep(&movements, &job, &flat_face)), Vec::<&str>::new());
}
