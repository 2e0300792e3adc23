//! Trial rings: each with its own feed, depth and speed, named in the program, and proved ring by ring.

use crate::fixtures::{controls, demo};
use facewright::face::Face;
use facewright::gcode::{self, ProgramText};
use facewright::job::{Direction, Feed, FinishPass, Job, TrialRing, Zone};
use facewright::plan::{Options, PassKind, Plan, plan};
use facewright::proof::{Circumstances, Rank, Report, Verdict, prove_in};
use facewright::units::{FeedPerRev, Length, SurfaceSpeed};

/// Name, innermost radius, depth, feed and surface speed in metres a minute; every ring is 8 mm wide.
const RINGS: [(&str, f64, f64, f64, f64); 3] = [
    ("fine", 80.0, 0.03, 0.06, 200.0),
    ("old groove", 92.0, 0.05, 0.12, 220.0),
    ("coarse", 104.0, 0.08, 0.2, 260.0),
];

fn with_rings(job: &Job) -> Job {
    let finish = job.schedule.finish.clone().expect("the demo has a finish");
    let ring = |(name, from, depth, feed, speed): (&str, f64, f64, f64, f64)| TrialRing {
        name: name.to_owned(),
        zone: Zone { from: Length::mm(from), to: Length::mm(from + 8.0) },
        finish: FinishPass {
            depth: Length::mm(depth),
            passes: 1,
            surface_speed: SurfaceSpeed::mm_per_min(1000.0 * speed),
            feed: Feed::PerRev(FeedPerRev::mm_per_rev(feed)),
            ..finish.clone()
        },
    };
    Job { trial: RINGS.map(ring).into(), ..job.clone() }.for_trial().expect("it lists rings")
}

fn written(job: &Job, face: &Face) -> (Plan, Vec<ProgramText>) {
    let plan = plan(job, face, Options::default()).unwrap_or_else(|refusal| panic!("{refusal}"));
    let parts = gcode::write(job, &plan).unwrap_or_else(|error| panic!("{error}"));
    (plan, parts)
}

fn proved(text: &str, job: &Job, face: &Face) -> Report {
    prove_in(text.as_bytes(), job, face, &Circumstances::default())
}

#[test]
fn every_ring_keeps_its_own_feed_depth_and_speed_at_every_control() {
    let (demo, face) = demo::job_and_face();
    for &(name, change) in controls::VARIANTS {
        for direction in [Direction::Outward, Direction::Inward] {
            let mut job = demo.clone();
            change(&mut job);
            job.schedule.direction = direction;
            job.control.largest_program = 64_000;
            // A ring is one pass.
            job.schedule.finish.as_mut().expect("the demo has a finish").spring_passes = 0;
            let job = with_rings(&job);
            let (plan, parts) = written(&job, face);
            let [operation] = plan.operations.as_slice() else { panic!("{name}: one tool") };
            let [air, cuts @ ..] = operation.passes.as_slice() else { panic!("{name}: no passes") };
            assert_eq!(air.kind, PassKind::Air);
            assert_eq!(cuts.len(), RINGS.len(), "{name}");
            for pass in cuts {
                let called = pass.ring.as_deref().unwrap_or_default();
                let (_, _, depth, feed, speed) = *RINGS.iter().find(|r| r.0 == called).expect("a ring");
                assert_eq!(pass.depth, Length::mm(depth), "{name}");
                // As far as the words of an inch program can name them.
                assert!((pass.feed.as_mm_per_rev() - feed).abs() < 0.000_3, "{name}: {}", pass.feed);
                assert!((pass.surface_speed.as_mm_per_min() / 1000.0 - speed).abs() < 1.0, "{name}");
            }
            let [part] = parts.as_slice() else { panic!("{name}: several parts") };
            // Long comments go on in further lines.
            let text = part.text.replace('\r', "").replace(")\n(- ", " ");
            for (called, ..) in RINGS {
                let comment = format!("OF 3, RING {},", called.to_uppercase());
                assert_eq!(text.matches(&comment).count(), 2, "{name}: header and ring name {comment}");
            }
            let report = proved(&part.text, &job, face);
            let heavy: Vec<_> = report.findings().iter().filter(|f| f.rank > Rank::Note).collect();
            assert!(heavy.is_empty(), "{name}: {heavy:#?}");
            // No joint of a lead counts: the plan's own joints are those of its cuts.
            let [planned, found] = [
                plan.finished.greatest_joint.map(|j| j.turn.as_deg()),
                report.sweep.finished.and_then(|f| f.greatest_joint).map(|j| j.turn_deg),
            ];
            assert!(found <= planned.map(|p| p + 0.02), "{name}: {found:?} for {planned:?}");
        }
    }
}

/// A ring is held to what was asked of it, not to what another ring may.
#[test]
fn a_ring_that_is_cut_as_another_is_found() {
    let (demo, face) = demo::job_and_face();
    let job = with_rings(demo);
    let (_, parts) = written(&job, face);
    let found = |change: &dyn Fn(&mut FinishPass)| {
        let mut other = job.clone();
        change(&mut other.rings[1].finish);
        let report = proved(&parts[0].text, &other, face);
        report.findings().iter().filter(|f| f.rank > Rank::Note).map(|f| f.rule.id()).collect::<Vec<_>>()
    };
    assert_eq!(found(&|_| ()), Vec::<&str>::new());
    assert!(found(&|f| f.depth = Length::mm(0.03)).contains(&"pass-too-deep"));
    assert!(found(&|f| f.feed = Feed::PerRev(FeedPerRev::mm_per_rev(0.08))).contains(&"feed"));
    assert!(found(&|f| f.feed = Feed::Grooves(Length::mm(0.16))).contains(&"grooves"));
    assert!(found(&|f| f.surface_speed = SurfaceSpeed::mm_per_min(180_000.0)).contains(&"surface-speed"));
    let metal_left = found(&|f| f.depth = Length::mm(0.08));
    assert!(metal_left.contains(&"metal-left"), "{metal_left:?}");
}

/// A ring shallower than the run-out and damage there leaves part of the turn as it was: told, with the depth that would do.
#[test]
fn a_ring_that_is_not_cut_all_round_is_told() {
    let (demo, face) = demo::job_and_face();
    // A trial is cut along the highest place, whatever the demo's own passes follow.
    let face = Face { followed: None, ..face.clone() };
    let job = with_rings(demo);
    let plan = plan(&job, &face, Options::default()).unwrap_or_else(|refusal| panic!("{refusal}"));
    let told: Vec<&str> = plan
        .findings
        .iter()
        .filter(|f| f.rule.id() == "ring-not-all-round")
        .map(|f| f.what.as_str())
        .collect();
    for ring in &job.rings {
        let shallow = face.need(&[ring.zone]).depth > ring.finish.depth;
        let said = told.iter().any(|what| what.contains(&format!("ring {} takes", ring.name)));
        assert_eq!(said, shallow, "{}: {told:?}", ring.name);
    }
    assert!(told.len() == 1 || told.len() == 2, "some are and some are not: {told:?}");
}

/// The air pass goes over every ring: one that it leaves out is found.
#[test]
fn a_ring_without_an_air_pass_stops_the_program() {
    let (demo, face) = demo::job_and_face();
    let job = with_rings(demo);
    let (plan, _) = written(&job, face);
    let mut short = plan.clone();
    let air = &mut short.operations[0].passes[0];
    // From the second ring's last return to the park on, nothing is run dry.
    let park = air.motions[0].piece.from();
    let returns: Vec<usize> =
        air.motions.iter().enumerate().filter(|(_, m)| m.piece.to() == park).map(|(i, _)| i + 1).collect();
    air.motions.truncate(returns[1]);
    let parts = gcode::write(&job, &short).expect("a program");
    let report = proved(&parts[0].text, &job, face);
    assert_eq!(report.verdict, Verdict::Stop);
    assert!(report.findings().iter().any(|f| f.rule.id() == "air-pass-short"), "{report}");
}
