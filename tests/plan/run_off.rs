//! A zone that runs off the metal: the tool leaves it at feed past the edge, and no rib stays there.

// Counts of steps and bytes: small, and not negative.
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]

use crate::fixtures::face as made_up;
use crate::fixtures::job as made;
use facewright::face::{Face, FaceError};
use facewright::gcode;
use facewright::geometry::{Curve, envelope};
use facewright::job::{Direction, Job, KeepOut, MetalEnd, RunsOff, Step, Zone};
use facewright::pipeline::{self, PipelineError};
use facewright::plan::{Options, Pass, PassKind, Plan, PlanError, Role, plan};
use facewright::proof::{self, Circumstances, Rank, Verdict};
use facewright::units::{Angle, Length};
use std::path::Path;

/// The edges of the made-up face.
const EDGES: [f64; 2] = [60.0, 140.0];

/// A face that ends at both edges, climbing or falling toward them by a slope.
fn face(slope: f64) -> Face {
    let [start, end] = EDGES;
    made_up::face(&[(start, 10.0 * slope), (start + 10.0, 0.0), (end - 10.0, 0.0), (end, 10.0 * slope)])
}

fn job() -> Job {
    let mut job = made::job(2, 1, EDGES[0], EDGES[1]);
    job.runs_off = RunsOff {
        inner: Some(MetalEnd::LastReading),
        outer: Some(MetalEnd::LastReading),
        ..RunsOff::default()
    };
    job
}

fn cutting(plan: &Plan) -> impl Iterator<Item = (&Pass, f64)> {
    let passes =
        plan.operations.iter().flat_map(|o| o.passes.iter().map(|p| (p, o.tool.nose_radius.as_mm())));
    passes.filter(|(p, _)| p.kind != PassKind::Air)
}

/// Height above the ideal face that the last pass leaves at a radius.
fn rib(plan: &Plan, face: &Face, at: f64) -> f64 {
    let last = plan.operations.last().expect("an operation");
    let (tool, pass) = (last.tool.outline(), last.passes.last().expect("a pass"));
    let cuts = pass.motions.iter().filter(|m| m.role == Role::Cut);
    let left = cuts.flat_map(|m| {
        let (a, b) = (m.piece.from().x, m.piece.to().x);
        let steps = ((b - a).abs() / 0.01).ceil();
        (0..=steps as usize)
            .map(move |k| a + (b - a) * k as f64 / steps)
            .map(|x| m.piece.at(x) + tool.height(at - x))
    });
    left.fold(f64::INFINITY, f64::min) - (face.highest.at(at) - pass.total.as_mm())
}

#[test]
fn the_nose_is_clear_of_the_edge_before_it_lifts_and_leaves_no_rib() {
    for (slope, step, direction) in [
        (0.0, Step::Axial, Direction::Outward),
        (0.4, Step::Axial, Direction::Inward),
        (-0.4, Step::Axial, Direction::Outward),
        (-0.4, Step::Normal, Direction::Inward),
    ] {
        let (mut job, face) = (job(), face(slope));
        (job.schedule.step, job.schedule.direction) = (step, direction);
        let plan = plan(&job, &face, Options::default()).expect("nothing is in the way");
        for (pass, nose) in cutting(&plan) {
            let cuts = pass
                .motions
                .iter()
                .filter(|m| m.role == Role::Cut)
                .map(|m| [m.piece.from().x, m.piece.to().x]);
            let (from, to) = cuts.flatten().fold((f64::INFINITY, 0.0_f64), |(a, b), x| (a.min(x), b.max(x)));
            assert!(from < EDGES[0] - nose && EDGES[1] + nose < to, "{slope}: {from} to {to}");
        }
        if step == Step::Axial {
            for at in [60.001, 60.2, 61.0, 139.0, 139.8, 139.999] {
                let rib = rib(&plan, &face, at);
                // The tolerance counts along the normal.
                let most = job.schedule.tolerance.as_mm() * slope.hypot(1.0) + 1e-4;
                assert!((-1e-6..=most).contains(&rib), "slope {slope}: {rib} at {at}");
            }
        }
        for part in gcode::write(&job, &plan).expect("a program") {
            let report =
                proof::read_back(part.text.as_bytes(), &job, &face, &Circumstances::default()).report;
            let said: Vec<_> = report.findings().iter().filter(|f| f.rank > Rank::Note).collect();
            assert!(said.is_empty() && report.verdict == Verdict::Sound, "slope {slope}: {said:#?}");
        }
    }
}

/// Nobody has measured what stands beyond the edge, but what a person has drawn there holds.
#[test]
fn a_keep_out_or_the_travel_beside_the_edge_is_the_reason() {
    let face = face(0.0);
    let mut job = job();
    let range = |a: f64, b: f64| [Length::mm(a), Length::mm(b)];
    job.keep_out = vec![KeepOut::rectangle("tyre", range(141.0, 160.0), range(-50.0, 20.0))];
    let refused = plan(&job, &face, Options::default()).expect_err("a tyre is in the way");
    assert!(matches!(refused, PlanError::KeepOut { .. }), "{refused}");
    job.keep_out.clear();
    job.machine.travel_x = [Length::mm(0.0), Length::mm(140.5)];
    job.machine.park_x = Length::mm(140.0);
    let refused = plan(&job, &face, Options::default()).expect_err("the slide ends there");
    assert!(matches!(refused, PlanError::Travel { .. }), "{refused}");
}

/// The demo's job with other zones, in a folder of its own.
fn demo_with(zones: &str) -> Result<pipeline::Loaded, PipelineError> {
    let folder = tempfile::tempdir().expect("a folder");
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data");
    for entry in std::fs::read_dir(&demo).expect("the demo").flatten().filter(|e| e.path().is_file()) {
        std::fs::copy(entry.path(), folder.path().join(entry.file_name())).expect("a copy");
    }
    let job = std::fs::read_to_string(demo.join("job.yaml")).expect("the demo's job");
    let mut lines: Vec<String> = Vec::new();
    let mut inside = false;
    for line in job.lines() {
        if line.starts_with("zones:") {
            lines.push(format!("zones: {zones}"));
            inside = true;
        } else if !inside || !line.starts_with([' ', '-']) {
            inside = false;
            lines.push(line.to_owned());
        }
    }
    let path = folder.path().join("job.yaml");
    std::fs::write(&path, lines.join("\n")).expect("written");
    let loaded = pipeline::load(&path)?;
    // The scans are read again when the wheel is measured.
    std::mem::forget(folder);
    Ok(loaded)
}

/// From the files: the edge is the last reading, or where a person says, and readings beyond that are not of the face.
#[test]
fn the_edge_is_the_last_reading_or_where_a_person_says() {
    for (zones, expected) in
        [("[{ from: edge, to: 150 mm }]", None), ("[{ from: edge 64 mm, to: 150 mm }]", Some(64.0))]
    {
        let loaded = demo_with(zones).expect("a job");
        let from = loaded.job().zones[0].from.as_mm();
        let measured = loaded.measure().expect("the scans");
        let first =
            measured.lines().lines.iter().flat_map(|l| &l.line.readings).filter(|r| !r.suspect).map(|r| r.x);
        let first = first.fold(f64::INFINITY, f64::min);
        assert!((from - first).abs() < 1e-9, "{zones}: {from}, {first}");
        assert!(expected.is_none_or(|edge| (from - edge).abs() < 0.2), "{zones}: {from}");
        let surveyed = measured.survey().expect("a face");
        let planned = surveyed.plan(Options::default()).expect("a plan");
        let proved = planned.write().expect("a program").prove().expect("sound");
        assert!(proved.parts().iter().all(|p| p.report().verdict != Verdict::Stop));
    }
}

/// The same at the rim, where the edge of a zone lies beyond the machine's travel until it is known.
#[test]
fn the_rim_is_left_at_feed() {
    for (zones, expected) in
        [("[{ from: 70 mm, to: edge }]", None), ("[{ from: 70 mm, to: edge 216 mm }]", Some(216.0))]
    {
        let loaded = demo_with(zones).expect("a job");
        let surveyed = loaded.measure().expect("the scans").survey().expect("a face");
        let edge = surveyed.survey().face().highest.end();
        assert!(expected.is_none_or(|at: f64| (edge - at).abs() < 0.2), "{zones}: {edge}");
        let planned = surveyed.plan(Options::default()).expect("a plan");
        for (pass, nose) in cutting(planned.plan()) {
            let cuts = pass.motions.iter().filter(|m| m.role == Role::Cut);
            let last = cuts.map(|m| m.piece.from().x.max(m.piece.to().x)).fold(0.0, f64::max);
            assert!(last > edge + nose, "{zones}: {last} past {edge}");
        }
        planned.write().expect("a program").prove().expect("sound");
    }
}

/// The way off an edge is part of the cut, whatever nose, clearance and direction: the proof does not take it for a tool fed astray.
#[test]
fn the_way_off_an_edge_is_no_tool_fed_astray() {
    let ways = [
        (Direction::Outward, Step::Axial),
        (Direction::Inward, Step::Axial),
        (Direction::Inward, Step::Normal),
    ];
    for (slope, nose, clearance) in [(0.0, 0.2, 0.5), (0.2, 0.4, 1.0), (-0.2, 0.4, 1.0), (0.0, 1.2, 0.3)] {
        for (direction, step) in ways {
            let (mut job, face) = (job(), face(slope));
            (job.schedule.direction, job.schedule.step) = (direction, step);
            job.machine.clearance = Length::mm(clearance);
            job.tools.iter_mut().for_each(|t| t.nose_radius = Length::mm(nose));
            let plan = plan(&job, &face, Options::default()).expect("nothing is in the way");
            for part in gcode::write(&job, &plan).expect("a program") {
                let report =
                    proof::read_back(part.text.as_bytes(), &job, &face, &Circumstances::default()).report;
                let stops: Vec<_> = report.findings().iter().filter(|f| f.rank == Rank::Stop).collect();
                assert!(stops.is_empty(), "slope {slope}, nose {nose}, {direction:?}, {step:?}: {stops:#?}");
            }
        }
    }
}

/// Where readings stop short of the edge that a person gives, by no more than they may lie apart, the tool goes on to that edge.
#[test]
fn a_given_edge_beyond_the_readings_is_where_the_nose_is_clear() {
    let edge = 61.2;
    let loaded = demo_with(&format!("[{{ from: edge {edge} mm, to: 150 mm }}]")).expect("a job");
    let surveyed = loaded.measure().expect("the scans").survey().expect("a face");
    assert!(surveyed.survey().face().highest.start() > edge + 0.5);
    let planned = surveyed.plan(Options::default()).expect("a plan");
    for (pass, nose) in cutting(planned.plan()) {
        let cuts = pass.motions.iter().filter(|m| m.role == Role::Cut);
        let first = cuts.map(|m| m.piece.from().x.min(m.piece.to().x)).fold(f64::INFINITY, f64::min);
        assert!(first < edge - nose, "{first}");
    }
    planned.write().expect("a program").prove().expect("sound");
}

/// Metal that nobody has measured stands before such an edge, and a zone without readings is none.
#[test]
fn zones_that_the_readings_do_not_reach_are_refused() {
    for (zones, told) in [
        ("[{ from: 70 mm, to: edge 225 mm }]", [70.0, 225.0]),
        ("[{ from: edge 55 mm, to: 150 mm }]", [55.0, 150.0]),
        ("[{ from: 230 mm, to: edge }]", [218.5, 230.0]),
        ("[{ from: edge, to: 30 mm }]", [30.0, 62.0]),
    ] {
        match demo_with(zones) {
            Err(PipelineError::Face(FaceError::NotCovered { from, to, .. })) => {
                let near = |(a, b): (Length, f64)| (a.as_mm() - b).abs() < 0.1;
                assert!([(from, told[0]), (to, told[1])].into_iter().all(near), "{zones}: {from} to {to}");
            }
            other => panic!("{zones}: {other:?}"),
        }
    }
}

/// A tool that ran off where the readings go on as high as before would cut what nobody asked for. A little beyond an edge a sensor may still see it.
#[test]
fn an_edge_beyond_which_the_metal_goes_on_is_refused() {
    for (zones, edge) in
        [("[{ from: 70 mm, to: edge 118 mm }]", 118.0), ("[{ from: edge 90 mm, to: 150 mm }]", 90.0)]
    {
        match demo_with(zones) {
            Err(PipelineError::Face(FaceError::MetalBeyondEdge { edge: told, count })) => {
                assert!((told.as_mm() - edge).abs() < 1e-9 && count > 20, "{zones}: {told}, {count}");
            }
            other => panic!("{zones}: {other:?}"),
        }
    }
    assert!(demo_with("[{ from: 70 mm, to: edge 216 mm }]").is_ok());
}

/// Rest passes are planned, and nothing stops the program.
fn has_rest_passes_and_is_proved(job: &Job, face: &Face) {
    let plan = plan(job, face, Options::default()).expect("nothing is in the way");
    assert!(plan.operations.iter().flat_map(|o| &o.passes).any(|p| p.kind == PassKind::Rest));
    for part in gcode::write(job, &plan).expect("a program") {
        let report = proof::read_back(part.text.as_bytes(), job, face, &Circumstances::default()).report;
        let said: Vec<_> = report.findings().iter().filter(|f| f.rank > Rank::Note).collect();
        assert!(report.verdict != Verdict::Stop, "{said:#?}");
    }
}

/// What stands beside an edge because the rough tool is too blunt for it is rest like any other.
#[test]
fn rest_at_an_edge_is_taken_before_the_finish() {
    let mut job = job();
    // In the corner just before the edge a nose of radius r stands r·(1/cos 16° − 1) off: 0.121 mm and 0.032 mm.
    let face = made_up::face(&[(60.0, 0.0), (139.2, 0.0), (140.0, 0.5)]);
    job.tools[0].nose_radius = Length::mm(3.0);
    (job.tools[1].inner_edge, job.tools[1].outer_edge) = (Angle::deg(5.0), Angle::deg(5.0));
    has_rest_passes_and_is_proved(&job, &face);
}

/// Past the edge the tool runs level, so nothing of it takes there what the nose could not reach: the finish finds no more than its depth.
#[test]
fn what_the_rough_nose_leaves_before_an_edge_that_falls_away_is_rest() {
    let mut job = job();
    job.schedule.step = Step::Normal;
    (job.tools[0].nose_radius, job.tools[0].inner_edge) = (Length::mm(2.0), Angle::deg(45.0));
    (job.tools[1].nose_radius, job.tools[1].inner_edge) = (Length::mm(0.4), Angle::deg(2.0));
    job.tools[0].holder = Some([8.0, 25.0].map(Length::mm));
    job.schedule.finish.as_mut().expect("a finish").depth = Length::mm(0.03);
    job.schedule.rest_limit = Length::mm(0.01);
    // A lip that bends down to 47 degrees, as steep as the edge and a little more.
    let lip = (0..=40).map(|k| f64::from(k) / 10.0).map(|w| (136.0 + w, -0.134 * w * w));
    let points: Vec<(f64, f64)> = [(60.0, 0.0)].into_iter().chain(lip).collect();
    let face = made_up::face(&points);
    has_rest_passes_and_is_proved(&job, &face);
}

/// An edge farther out than any slide goes, which only a gap between readings as wide lets a job say, is refused.
#[test]
fn an_edge_beyond_the_travel_is_refused_however_far_it_lies() {
    let face = face(0.4);
    for edge in [1e3, 1e9, 1e100, 1e160, 1e300, f64::MAX] {
        let mut job = job();
        job.runs_off.outer = Some(MetalEnd::Radius(Length::mm(edge)));
        let refused = plan(&job, &face, Options::default()).expect_err("no slide goes there");
        let named = matches!(refused, PlanError::Travel { .. } | PlanError::Unreachable { .. });
        assert!(named, "{edge:e}: {refused}");
    }
}

/// A tool that its path brings nowhere near the face is an error, not a panic.
#[test]
fn a_tool_that_meets_nothing_has_no_path() {
    let mut job = job();
    job.tools[0].holder = Some([8.0, 25.0].map(Length::mm));
    let tool = job.tools[0].outline();
    let metal = Curve::from(&face(0.0).highest);
    let [far, nowhere, inside] = [[900.0, 950.0], [100.0, 90.0], EDGES];
    for over in [far, nowhere] {
        assert_eq!(envelope::dilate(&metal, &tool, over), None, "{over:?}");
        assert_eq!(envelope::erode(&metal, &tool, over), None, "{over:?}");
    }
    assert!(envelope::dilate(&metal, &tool, inside).is_some());
    assert!(envelope::erode(&metal, &tool, inside).is_some());
}

/// A lip that bends down to 60 degrees, steeper than an edge of the rough tool: that edge slides over the lip, and the tool does not go on down beside it.
#[test]
fn a_lip_steeper_than_the_edges_of_the_tool_is_run_off_level() {
    for (direction, mirrored) in [(Direction::Outward, false), (Direction::Inward, true)] {
        let mut job = job();
        job.schedule.direction = direction;
        for (tool, edge) in job.tools.iter_mut().zip([45.0, 2.0]) {
            (tool.inner_edge, tool.outer_edge) = (Angle::deg(edge), Angle::deg(edge));
        }
        let lip = (0..=40).map(|k| f64::from(k) / 40.0).map(|w| (138.0 + 2.0 * w, -1.7 * w * w));
        let mut points: Vec<(f64, f64)> = [(60.0, 0.0)].into_iter().chain(lip).collect();
        if mirrored {
            points = points.into_iter().rev().map(|(x, z)| (EDGES[0] + EDGES[1] - x, z)).collect();
        }
        let face = made_up::face(&points);
        let plan = plan(&job, &face, Options::default()).expect("nothing is in the way");
        for (pass, nose) in cutting(&plan).filter(|(p, _)| p.kind != PassKind::Rest) {
            let cuts = pass.motions.iter().filter(|m| m.role == Role::Cut);
            let ends = cuts.flat_map(|m| [m.piece.from(), m.piece.to()]);
            let lowest = ends.clone().map(|p| p.z).fold(0.0, f64::min);
            assert!(lowest > -1.7 - pass.total.as_mm() - nose, "{direction:?}: {lowest}");
            let (from, to) = ends.fold((f64::INFINITY, 0.0_f64), |(a, b), p| (a.min(p.x), b.max(p.x)));
            assert!(from < EDGES[0] - nose && EDGES[1] + nose < to, "{from} to {to}");
        }
        for part in gcode::write(&job, &plan).expect("a program") {
            let report =
                proof::read_back(part.text.as_bytes(), &job, &face, &Circumstances::default()).report;
            let said: Vec<_> = report.findings().iter().filter(|f| f.rank > Rank::Note).collect();
            assert!(report.verdict != Verdict::Stop, "{direction:?}: {said:#?}");
        }
    }
}

#[test]
fn only_the_outermost_ends_run_off() {
    let refused =
        demo_with("[{ from: 70 mm, to: edge }, { from: 150 mm, to: 200 mm }]").expect_err("metal between");
    insta::assert_snapshot!(refused.to_string().lines().skip(1).collect::<Vec<_>>().join("\n"));
}

/// A zone that ends inside the face does not run off, whatever the others do.
#[test]
fn each_end_runs_off_by_itself() {
    let mut job = job();
    job.zones =
        [(60.0, 90.0), (100.0, 140.0)].map(|(a, b)| Zone { from: Length::mm(a), to: Length::mm(b) }).to_vec();
    assert_eq!([job.zone_runs_off(0), job.zone_runs_off(1)], [[true, false], [false, true]]);
    let plan = plan(&job, &face(0.0), Options::default()).expect("nothing is in the way");
    let cuts = cutting(&plan).flat_map(|(p, _)| &p.motions).filter(|m| m.role == Role::Cut);
    assert!(cuts.flat_map(|m| [m.piece.from().x, m.piece.to().x]).all(|x| !(90.0..=100.0).contains(&x)));
}

/// The edges of a window in the made-up face.
const WINDOW: [f64; 2] = [85.0, 110.0];

/// A job with a zone on each side of a window, and its face: climbing or falling toward the window by a slope, the outer side higher.
fn with_window(slope: f64, [from, to]: [f64; 2]) -> (Job, Face) {
    let mut job = job();
    let zone = |from: f64, to: f64| Zone { from: Length::mm(from), to: Length::mm(to) };
    job.zones = vec![zone(EDGES[0], from), zone(to, EDGES[1])];
    job.runs_off.windows = vec![[from, to].map(Length::mm)];
    let (low, high) = (6.0 * slope, 6.0 * slope + 1.5);
    let face = made_up::face(&[
        (EDGES[0], 0.0),
        (from - 6.0, 0.0),
        (from, low),
        (to, high),
        (to + 6.0, 1.5),
        (EDGES[1], 1.5),
    ]);
    (job, face.with_windows(&[[from, to]]).expect("a face"))
}

fn sound(job: &Job, face: &Face, options: Options) -> Plan {
    let plan = plan(job, face, options).expect("a plan");
    for part in gcode::write(job, &plan).expect("a program") {
        let circumstances =
            Circumstances { already: part.before, goes_on: part.part < part.of, ..Circumstances::default() };
        let report = proof::read_back(part.text.as_bytes(), job, face, &circumstances).report;
        assert_eq!(report.verdict, Verdict::Sound, "{:#?}", report.findings());
    }
    plan
}

/// At both edges of a window the nose is clear before it lifts, and no rib stays, whichever way passes go down and whichever way the face leans there.
#[test]
fn at_a_window_the_nose_leaves_both_edges_and_no_rib_stays() {
    for slope in [-0.6, -0.2, 0.0, 0.3, 0.8] {
        for (step, direction) in [(Step::Axial, Direction::Outward), (Step::Normal, Direction::Inward)] {
            let (mut job, face) = with_window(slope, WINDOW);
            job.schedule.step = step;
            job.schedule.direction = direction;
            for already in [0.0, 0.03] {
                let plan = sound(&job, &face, Options { already: Length::mm(already), ..Options::default() });
                let [from, to] = WINDOW;
                for (pass, nose) in cutting(&plan) {
                    let cuts = || pass.motions.iter().filter(|m| m.role == Role::Cut);
                    let ends = || cuts().flat_map(|m| [m.piece.from().x, m.piece.to().x]);
                    let middle = f64::midpoint(from, to);
                    let inner = ends().filter(|x| *x < middle).fold(0.0, f64::max);
                    let outer = ends().filter(|x| *x > middle).fold(f64::INFINITY, f64::min);
                    assert!(
                        inner > from + nose + 0.4 && outer < to - nose - 0.4,
                        "{slope}: {inner}, {outer}"
                    );
                }
                if step == Step::Axial {
                    for at in [from - 0.005, from - 0.3, from - 2.0, to + 0.005, to + 0.3, to + 2.0] {
                        let rib = rib(&plan, &face, at);
                        assert!(rib < 0.012, "{slope}, {already}: {rib} at {at}");
                    }
                }
            }
        }
    }
}

/// A window in which the tool would meet the other side is the job's own reason, and so is a touch-off in one.
#[test]
fn a_window_that_is_too_narrow_is_refused() {
    let narrow = |width: f64| {
        let (job, face) = with_window(0.0, [WINDOW[0], WINDOW[0] + width]);
        plan(&job, &face, Options::default()).err()
    };
    assert!(matches!(narrow(1.5), Some(PlanError::NarrowWindow { .. })), "{:?}", narrow(1.5));
    assert_eq!(narrow(12.0), None);
    let (mut job, face) = with_window(0.0, WINDOW);
    job.touch_off = Some(Length::mm(95.0));
    let refused = plan(&job, &face, Options::default()).err();
    assert!(matches!(refused, Some(PlanError::TouchOffInWindow { .. })), "{refused:?}");
}

/// What goes wrong over a window is stopped: a tool that dives there, one that is fed on into the other side, and a rapid low over it.
#[test]
fn a_tool_that_dives_in_a_window_or_is_fed_across_is_stopped() {
    let (job, face) = with_window(0.0, WINDOW);
    let plan = plan(&job, &face, Options::default()).expect("a plan");
    let text = gcode::write(&job, &plan).expect("a program").swap_remove(0).text;
    let lines: Vec<&str> = text.lines().collect();
    let judged = |lines: &[String]| {
        let text = lines.join("\n") + "\n";
        proof::read_back(text.as_bytes(), &job, &face, &Circumstances::default()).report.verdict
    };
    let whole: Vec<String> = lines.iter().map(|l| (*l).to_owned()).collect();
    assert_eq!(judged(&whole), Verdict::Sound);
    // Behind the last cut of the inner zone the tool stands over the window, and goes up at feed.
    let x = |l: &str| l.split(' ').find_map(|w| w.strip_prefix('X')?.parse::<f64>().ok());
    let over = |l: &str| x(l).is_some_and(|x| x / 2.0 > WINDOW[0] + 0.5 && x / 2.0 < WINDOW[0] + 6.0);
    let at = lines.iter().rposition(|l| over(l) && !l.contains("G00")).expect("a way off");
    for (block, what) in [("G01 Z-12.", "a dive"), ("G01 X240.", "a way across at the depth of the cut")] {
        let mut edited = whole.clone();
        edited.insert(at + 1, block.to_owned());
        assert_eq!(judged(&edited), Verdict::Stop, "{what}");
    }
}
