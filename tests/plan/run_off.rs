//! A zone that runs off the metal: the tool leaves it at feed past the edge, and no rib stays there.

// Counts of steps and bytes: small, and not negative.
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]

use crate::fixtures::job as made;
use facewright::face::Face;
use facewright::gcode;
use facewright::geometry::{Point, Profile};
use facewright::job::{Direction, Job, KeepOut, MetalEnd, RunsOff, Step, Zone};
use facewright::pipeline::{self, PipelineError};
use facewright::plan::{Options, Pass, PassKind, Plan, PlanError, Role, plan};
use facewright::proof::{self, Circumstances, Rank, Verdict};
use facewright::units::Length;
use std::path::Path;

/// The edges of the made-up face.
const EDGES: [f64; 2] = [60.0, 140.0];

/// A face that ends at both edges, climbing or falling toward them by a slope.
fn face(slope: f64) -> Face {
    let [start, end] = EDGES;
    let corners = [(start, 10.0 * slope), (start + 10.0, 0.0), (end - 10.0, 0.0), (end, 10.0 * slope)];
    let highest = Profile::new(corners.iter().map(|&(x, z)| Point::new(x, z)).collect()).expect("radii rise");
    Face {
        lowest: highest.raised(0.0),
        damage: highest.map(|_| 0.0),
        highest,
        errors: None,
        followed: None,
        taken: None,
    }
}

fn job() -> Job {
    let mut job = made::job(2, 1, EDGES[0], EDGES[1]);
    job.runs_off = RunsOff { inner: Some(MetalEnd::LastReading), outer: Some(MetalEnd::LastReading) };
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
        [("[{ from: edge, to: 150 mm }]", None), ("[{ from: edge 66 mm, to: 150 mm }]", Some(66.0))]
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
