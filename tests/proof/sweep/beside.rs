//! The end of a zone beside metal that stays, where a nose comes near without crossing: what counts there as a pass may let no gouge by.

use crate::fixtures::face::face;
use crate::fixtures::job::{job, mm, tool};
use crate::fixtures::script::Script;
use facewright::diagnostics::SweepRule;
use facewright::face::Face;
use facewright::job::{Job, MetalEnd, Step};
use facewright::proof::Rank;
use facewright::proof::sweep::{Sweep, sweep};

/// Nose radius of tool 1.
const NOSE: f64 = 1.2;

const ZONE: [f64; 2] = [60.0, 105.0];

fn flat() -> Face {
    face(&[(50.0, 0.0), (150.0, 0.0)])
}

/// Three passes of 0.1 mm.
fn three() -> Job {
    job(3, 0, ZONE[0], ZONE[1])
}

/// A pass at a depth, from the zone's start to where its nose meets the corner of the metal that stays, less `short`.
fn path(depth: f64, short: f64) -> [(f64, f64); 2] {
    let inside = (NOSE * NOSE - (NOSE - depth).powi(2)).sqrt();
    [(ZONE[0] + inside, -depth), (ZONE[1] - inside - short, -depth)]
}

fn looked_at() -> Script {
    Script::new(47.0, 50.0).pass(&[(ZONE[0], 1.0), (ZONE[1], 1.0)]).stop()
}

fn stops(sweep: &Sweep) -> Vec<String> {
    let stops = sweep.findings.iter().filter(|f| f.rank == Rank::Stop);
    stops.map(|f| format!("{}: {}", f.rule, f.what)).collect()
}

/// That one of the stops says this, where anything beyond the zone is another matter.
fn is_stopped(script: &Script, what: &str) {
    let stops = stops(&sweep(&script.movements, &three(), &flat()));
    assert!(stops.iter().any(|s| s.contains(what)), "{what}: not among {stops:?}");
}

#[test]
fn passes_up_to_the_corner_are_sound() {
    let script = [0.1, 0.2, 0.3].iter().fold(looked_at(), |s, &d| s.pass(&path(d, 0.0)));
    let stops = stops(&sweep(&script.movements, &three(), &flat()));
    assert!(stops.is_empty(), "{stops:?}");
}

/// Passes whose ends differ by the tolerance of the path take more along the axis where the fillet is steep: beside an edge of 2° nearly all of it is.
#[test]
fn a_fillet_that_the_pass_before_left_within_tolerance_is_no_bite() {
    let (nose, edge) = (0.4, 2_f64.to_radians());
    let mut job = job(8, 0, ZONE[0], ZONE[1]);
    job.tools[0] = tool(1, nose, 2.0);
    job.schedule.tolerance = mm(0.02);
    // Where the edge stands at the corner, below the end of the nose.
    let inside = |depth: f64| {
        let beyond = depth - nose * (1.0 - edge.sin());
        if beyond < 0.0 {
            (nose * nose - (nose - depth).powi(2)).sqrt()
        } else {
            nose * edge.cos() + beyond * edge.tan()
        }
    };
    let run = |short: f64| {
        let pass = |script: Script, i: u32| {
            let (depth, short) = (f64::from(i) / 10.0, if i == 7 { short } else { 0.0 });
            let ends = [ZONE[0] + inside(depth), ZONE[1] - inside(depth) - short];
            script.pass(&ends.map(|x| (x, -depth)))
        };
        stops(&sweep(&(1..=8).fold(looked_at(), pass).movements, &job, &flat()))
    };
    // Less than the tolerance.
    let found = run(0.018);
    assert!(found.is_empty(), "{found:?}");
    let found = run(0.06);
    assert!(found.iter().any(|s| s.contains("one pass of this tool may take 0.100 mm")), "{found:?}");
}

#[test]
fn a_spring_pass_that_takes_a_little_off_both_fillets_cuts_no_groove() {
    let sound = [0.1, 0.2, 0.3].iter().fold(looked_at(), |s, &d| s.pass(&path(d, 0.0)));
    let [start, end] = path(0.3, -0.004);
    let script = sound.pass(&[(start.0 - 0.004, start.1), end]);
    let stops = stops(&sweep(&script.movements, &three(), &flat()));
    assert!(stops.is_empty(), "{stops:?}");
}

#[test]
fn a_plunge_into_the_fillet_is_stopped() {
    let [start, end] = path(0.3, 0.0);
    let sound = [0.1, 0.2].iter().fold(looked_at(), |s, &d| s.pass(&path(d, 0.0)));
    let script = sound.pass(&[start, end, (end.0, -0.36)]);
    is_stopped(&script, "the schedule allows 0.300 mm there by now");
}

#[test]
fn metal_beside_which_the_passes_before_turned_back_is_no_bite_for_one_pass() {
    for short in [0.2, 0.6, 1.0, 1.5, 3.0] {
        let early = [0.1, 0.2].iter().fold(looked_at(), |s, &d| s.pass(&path(d, short)));
        is_stopped(&early.pass(&path(0.3, 0.0)), "one pass of this tool may take 0.100 mm");
    }
}

#[test]
fn many_passes_beside_the_corner_do_not_add_up_to_a_deeper_one() {
    // Each comes by within its own depth; none of them makes room for more than the schedule has.
    let sound = [0.1, 0.2, 0.3].iter().fold(looked_at(), |s, &d| s.pass(&path(d, 0.0)));
    let rubbed = (0..5).fold(sound, |s, _| s.pass(&path(0.3, 0.0)));
    is_stopped(&rubbed.pass(&path(0.33, 0.0)), "the schedule allows 0.300 mm there by now");
}

#[test]
fn a_groove_beside_the_corner_is_stopped_where_the_schedule_has_the_depth_but_the_pass_has_not() {
    // Two passes come by at 0.1 mm, so that 0.2 mm is scheduled there by now.
    let script = looked_at().pass(&path(0.1, 0.0));
    let [start, end] = path(0.15, 0.3);
    let ring = [start, (end.0 - 2.0, -0.15), (end.0 - 1.0, -0.19), (end.0, -0.19)];
    is_stopped(&script.pass(&ring), "where the rest of pass");
}

/// Flat, up a wall of 30°, flat again.
#[test]
fn a_wall_that_the_pass_before_left_out_is_no_bite_along_the_normal_for_one_pass() {
    let wall = face(&[(50.0, 0.0), (90.0, 0.0), (100.0, 5.773_503), (150.0, 5.773_503)]);
    let mut job = job(2, 0, 50.0, 150.0);
    job.schedule.step = Step::Normal;
    let (sin, cos) = 30_f64.to_radians().sin_cos();
    let along = |depth: f64| {
        let shift = (NOSE - depth) * (1.0 - cos) / sin;
        [
            (47.0, -depth),
            (90.0 - shift, -depth),
            (100.0 - shift, 5.773_503 - depth),
            (153.0, 5.773_503 - depth),
        ]
    };
    let air: Vec<_> = along(0.1).iter().map(|&(x, z)| (x, z + 1.0)).collect();
    let begun = Script::new(47.0, 50.0).pass(&air).stop();
    let [start, foot, ..] = along(0.1);
    let sound = begun.pass(&along(0.1)).pass(&along(0.2));
    let found = stops(&sweep(&sound.movements, &job, &wall));
    assert!(found.is_empty(), "{found:?}");
    let begun = Script::new(47.0, 50.0).pass(&air).stop();
    let left_out = begun.pass(&[start, foot]).pass(&along(0.2));
    let found = stops(&sweep(&left_out.movements, &job, &wall));
    assert!(found.iter().any(|s| s.contains("one pass of this tool may take 0.100 mm")), "{found:?}");
}

/// What goes since the tool was last at rapid is one bite, along the axis as much as along the normal: a slope makes it no larger.
#[test]
fn a_pass_that_turns_back_on_a_slope_takes_no_more_than_a_pass_may() {
    let wall = face(&[(50.0, -10.0), (112.0, 52.0)]);
    // How far the wall goes down, and the ends outward, for a depth of one.
    for (step, down, outward) in [(Step::Axial, 1.0, 0.0), (Step::Normal, 2_f64.sqrt(), 0.5_f64.sqrt())] {
        let mut job = job(2, 0, 52.0, 110.0);
        job.schedule.step = step;
        // A nose on a wall of 45° has its front point above the wall.
        let above = NOSE * (2_f64.sqrt() - 1.0);
        let along = |depth: f64| {
            [60.0, 100.0].map(|x| x + depth * outward).map(|x| (x, x - 60.0 - depth * down + above))
        };
        let begun = || Script::new(47.0, 50.0).pass(&along(-1.0)).stop();
        let sound = begun().pass(&along(0.1)).pass(&along(0.2));
        let found = stops(&sweep(&sound.movements, &job, &wall));
        assert!(found.is_empty(), "{step:?}: {found:?}");
        for (out, back, told) in [(0.05, 0.1, false), (0.1, 0.16, true)] {
            let ([start, end], [lower_start, lower_end]) = (along(out), along(back));
            let turned_back = begun().pass(&[start, end, lower_end, lower_start]);
            let found = stops(&sweep(&turned_back.movements, &job, &wall));
            let of_turning = found.iter().any(|s| s.contains("turns back and takes"));
            assert_eq!(of_turning, told, "{step:?}, {back} mm: {found:?}");
        }
    }
}

/// Where a zone runs off the metal no nose climbs: what stands there up to the edge is left by a tool that could take it.
#[test]
fn metal_that_stays_up_to_an_edge_is_told_where_the_zone_runs_off() {
    let edge = face(&[(50.0, 0.0), (ZONE[1], 0.0)]);
    let told = |job: &Job, end: f64| {
        let pass = |script: Script, depth: &f64| script.pass(&[path(*depth, 0.0)[0], (end, -depth)]);
        let swept = sweep(&[0.1, 0.2, 0.3].iter().fold(looked_at(), pass).movements, job, &edge);
        swept.findings.iter().any(|f| f.rule == SweepRule::MetalLeft.into())
    };
    let (mut job, within_climb) = (three(), ZONE[1] - 0.5);
    assert!(!told(&job, within_climb));
    job.runs_off.outer = Some(MetalEnd::LastReading);
    assert!(told(&job, within_climb));
    assert!(!told(&job, ZONE[1] + NOSE + 0.5));
}
