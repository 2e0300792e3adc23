//! A window between two zones that run off there: no metal is missed in it, and a tool has nothing to do there but leave an edge or come to one.

use crate::fixtures::face::face;
use crate::fixtures::job::{job, mm};
use crate::fixtures::script::Script;
use facewright::diagnostics::SweepRule;
use facewright::face::Face;
use facewright::job::{Job, MetalEnd, RunsOff, Step, Zone};
use facewright::proof::Rank;
use facewright::proof::sweep::{Sweep, sweep};

/// Nose radius of tool 1.
const NOSE: f64 = 1.2;
const WINDOW: [f64; 2] = [90.0, 120.0];
/// Past an edge, where a nose is clear.
const CLEAR: f64 = NOSE + 0.5;

/// Two zones over a whole face, behind a window higher by `step`; what a profile has in the window is nothing to anybody.
fn wheel(step: f64) -> (Job, Face) {
    let mut job = job(3, 0, 60.0, WINDOW[0]);
    job.zones.push(Zone { from: mm(WINDOW[1]), to: mm(150.0) });
    job.runs_off = RunsOff {
        inner: Some(MetalEnd::LastReading),
        outer: Some(MetalEnd::LastReading),
        windows: vec![WINDOW.map(mm)],
    };
    let [from, to] = WINDOW;
    let face = face(&[(60.0, 0.0), (from, 0.0), (105.0, 5.0), (to, step), (150.0, step)]);
    (job, face.with_windows(&[WINDOW]).expect("a face"))
}

/// Both strokes of a pass at a depth.
fn strokes(depth: f64, step: f64) -> [[(f64, f64); 2]; 2] {
    [
        [(60.0 - CLEAR, -depth), (WINDOW[0] + CLEAR, -depth)],
        [(WINDOW[1] - CLEAR, step - depth), (150.0 + CLEAR, step - depth)],
    ]
}

fn begun(step: f64) -> Script {
    let air = strokes(-1.0, step);
    air.iter().fold(Script::new(56.0, 50.0), |s, stroke| s.pass(stroke)).stop()
}

/// Three passes of 0.1 mm, of which the last has some strokes of its own.
fn passes(step: f64, last: &[&[(f64, f64)]]) -> Script {
    let [first, second] = [0.1, 0.2].map(|depth| strokes(depth, step));
    let sound = first.iter().chain(&second).fold(begun(step), |s, stroke| s.pass(stroke));
    last.iter().fold(sound, |s, stroke| s.pass(stroke))
}

fn swept(script: &Script, step: f64, along: Step) -> Sweep {
    let (mut job, face) = wheel(step);
    job.schedule.step = along;
    sweep(&script.movements, &job, &face)
}

fn stops(sweep: &Sweep) -> Vec<String> {
    let stops = sweep.findings.iter().filter(|f| f.rank == Rank::Stop);
    stops.map(|f| format!("{}: {}", f.rule, f.what)).collect()
}

#[test]
fn passes_that_leave_both_edges_are_sound_and_leave_nothing() {
    for step in [0.0, 3.0, -3.0] {
        for along in [Step::Axial, Step::Normal] {
            let [inner, outer] = strokes(0.3, step);
            let sweep = swept(&passes(step, &[&inner, &outer]), step, along);
            assert_eq!(stops(&sweep), Vec::<String>::new(), "{step}, {along:?}");
            let left = [SweepRule::MetalLeft, SweepRule::Rest, SweepRule::ZoneNotCut];
            let said = sweep.findings.iter().filter(|f| left.iter().any(|rule| f.rule == (*rule).into()));
            assert_eq!(said.count(), 0, "{step}, {along:?}: {:#?}", sweep.findings);
            assert!(sweep.rest.is_some_and(|rest| rest.amount < 0.001), "{:?}", sweep.rest);
        }
    }
}

/// Metal that stays up to an edge of the window is left by a tool that could take it: there is no wall to climb.
#[test]
fn metal_that_stays_up_to_an_edge_of_a_window_is_told() {
    let short = |[a, b]: [(f64, f64); 2]| {
        let inside = |(x, z): (f64, f64)| {
            (if (88.0..WINDOW[0] + CLEAR + 0.1).contains(&x) { WINDOW[0] - 0.5 } else { x }, z)
        };
        [inside(a), inside(b)]
    };
    let script = [0.1, 0.2, 0.3].iter().fold(begun(0.0), |s, depth| {
        let [inner, outer] = strokes(*depth, 0.0);
        s.pass(&short(inner)).pass(&outer)
    });
    let sweep = swept(&script, 0.0, Step::Axial);
    assert!(sweep.findings.iter().any(|f| f.rule == SweepRule::MetalLeft.into()), "{:#?}", sweep.findings);
}

#[test]
fn a_tool_that_does_else_in_a_window_is_stopped() {
    let [from, to] = WINDOW;
    let low = -0.3;
    for (what, step, rule, last) in [
        ("fed over it", 0.0, SweepRule::FedAstray, vec![vec![(60.0 - CLEAR, low), (150.0 + CLEAR, low)]]),
        (
            "fed over it, over a ramp",
            -3.0,
            SweepRule::FedAstray,
            vec![vec![(60.0 - CLEAR, low), (from, low), (to, low - 3.0), (150.0 + CLEAR, low - 3.0)]],
        ),
        (
            "fed far into it",
            0.0,
            SweepRule::FedAstray,
            vec![vec![(60.0 - CLEAR, low), (from + 10.0, low)], strokes(0.3, 0.0)[1].to_vec()],
        ),
        (
            "dives behind an edge",
            0.0,
            SweepRule::Unmeasured,
            vec![
                vec![(60.0 - CLEAR, low), (from + CLEAR, low), (from + CLEAR + 0.2, low - 2.0)],
                strokes(0.3, 0.0)[1].to_vec(),
            ],
        ),
        (
            "dives before an edge that lies higher",
            3.0,
            SweepRule::Unmeasured,
            vec![
                strokes(0.3, 3.0)[0].to_vec(),
                vec![(to - CLEAR, 0.5), (to - CLEAR, 2.7), (150.0 + CLEAR, 2.7)],
            ],
        ),
        (
            "goes into the metal behind it too low",
            3.0,
            SweepRule::GougeOutside,
            vec![strokes(0.3, 3.0)[0].to_vec(), vec![(to - CLEAR, 2.2), (150.0 + CLEAR, 2.2)]],
        ),
    ] {
        let last: Vec<&[(f64, f64)]> = last.iter().map(Vec::as_slice).collect();
        let script = passes(step, &last);
        let sweep = swept(&script, step, Step::Axial);
        let told = sweep.findings.iter().any(|f| f.rank == Rank::Stop && f.rule == rule.into());
        let too_low = rule == SweepRule::GougeOutside && !stops(&sweep).is_empty();
        assert!(told || too_low, "{what}: {:#?}", stops(&sweep));
    }
}

/// Nobody knows what stands low in a window: at rapid it counts as covered from edge to edge.
#[test]
fn a_rapid_down_into_a_window_is_stopped() {
    let [inner, outer] = strokes(0.3, 0.0);
    let sound = passes(0.0, &[&inner, &outer]);
    for (x, z, rule) in [
        (105.0, -1.0, Some(SweepRule::Unmeasured)),
        (105.0, 1.0, Some(SweepRule::RapidNear)),
        (105.0, 3.1, None),
        (118.0, -20.0, Some(SweepRule::Unmeasured)),
    ] {
        let script =
            passes(0.0, &[&inner, &outer]).rapid(151.7, 20.0).rapid(x, 20.0).rapid(x, z).rapid(x, 20.0);
        let sweep = swept(&script, 0.0, Step::Axial);
        let found: Vec<_> = sweep.findings.iter().filter(|f| f.rank == Rank::Stop).collect();
        match rule {
            Some(rule) => assert!(found.iter().any(|f| f.rule == rule.into()), "{x}, {z}: {found:#?}"),
            None => assert!(found.is_empty(), "{x}, {z}: {found:#?}"),
        }
    }
    assert!(stops(&swept(&sound, 0.0, Step::Axial)).is_empty());
}

/// Along the normal a wall beside a window is no way round for a gouge: how deep a point lies counts from its own metal alone.
#[test]
fn a_gouge_beside_an_edge_is_as_deep_along_the_normal() {
    let [inner, outer] = strokes(0.3, 0.0);
    let gouge = [inner[0], (WINDOW[0] - 0.3, -0.3), (WINDOW[0] - 0.2, -0.5), (WINDOW[0] + CLEAR, -0.5)];
    for along in [Step::Axial, Step::Normal] {
        let sweep = swept(&passes(0.0, &[&gouge, &outer]), 0.0, along);
        let found = stops(&sweep);
        assert!(
            found.iter().any(|s| s.contains("one pass of this tool may take 0.100 mm")),
            "{along:?}: {found:?}"
        );
    }
}

/// A window so narrow that a way off may go as far as its middle is crossed at feed by nobody either.
#[test]
fn a_tool_that_is_fed_over_a_narrow_window_is_stopped() {
    let mut job = job(1, 0, 60.0, 100.0);
    job.zones.push(Zone { from: mm(106.0), to: mm(150.0) });
    job.runs_off = RunsOff {
        inner: Some(MetalEnd::LastReading),
        outer: Some(MetalEnd::LastReading),
        windows: vec![[mm(100.0), mm(106.0)]],
    };
    let face = face(&[(60.0, 0.0), (150.0, 0.0)]).with_windows(&[[100.0, 106.0]]).expect("a face");
    let run = |strokes: &[[f64; 2]]| {
        let pass = |script: Script, z: f64| {
            strokes.iter().fold(script, |script, ends| script.pass(&ends.map(|x| (x, z))))
        };
        stops(&sweep(&pass(pass(Script::new(56.0, 50.0), 1.0).stop(), -0.1).movements, &job, &face))
    };
    let [start, off, on, end] = [60.0 - CLEAR, 100.0 + CLEAR, 106.0 - CLEAR, 150.0 + CLEAR];
    assert_eq!(run(&[[start, off], [on, end]]), Vec::<String>::new());
    let found = run(&[[start, end]]);
    assert!(found.iter().any(|s| s.contains("fed low over the window")), "{found:?}");
}
