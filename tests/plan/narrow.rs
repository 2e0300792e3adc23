//! Narrow zones, and zones side by side: their programs are sound, without a warning of our own making, and a groove in one is still found.

use crate::fixtures::face as made_up;
use crate::fixtures::job as made;
use crate::fixtures::{demo, script::Script};
use facewright::diagnostics::{Finding, SweepRule};
use facewright::face::Face;
use facewright::gcode;
use facewright::job::{self, Job, PassCount, Step, Zone};
use facewright::plan::{Options, plan};
use facewright::proof::{self, Circumstances, Rank, sweep::sweep};
use facewright::units::Length;
use std::path::Path;

pub(super) fn zone(from: f64, to: f64) -> Zone {
    Zone { from: Length::mm(from), to: Length::mm(to) }
}

/// What the proof stops or warns of in the program of a job.
pub(super) fn told(job: &Job, face: &Face, options: Options) -> Vec<Finding> {
    let plan = plan(job, face, options).unwrap_or_else(|e| panic!("{e}"));
    let parts = gcode::write(job, &plan).unwrap_or_else(|e| panic!("{e}"));
    let findings = parts.iter().flat_map(|part| {
        let circumstances =
            Circumstances { already: part.before, goes_on: part.part < part.of, ..Circumstances::default() };
        let report = proof::read_back(part.text.as_bytes(), job, face, &circumstances).report;
        report.findings().to_vec()
    });
    findings.filter(|f| matches!(f.rank, Rank::Stop | Rank::Warning)).collect()
}

/// Five rough passes and a finish over a zone of the demo's wheel, touched off in its middle.
fn demo_with(zones: &[Zone], noses: [f64; 2]) -> Job {
    let (demo, _) = demo::job_and_face();
    let mut job = demo.clone();
    job.touch_off = zones.first().map(|z| Length::mm(f64::midpoint(z.from.as_mm(), z.to.as_mm())));
    job.zones = zones.to_vec();
    if let Some(rough) = &mut job.schedule.rough {
        rough.passes = PassCount::Count(5);
    }
    for (tool, nose) in job.tools.iter_mut().zip(noses) {
        tool.nose_radius = Length::mm(nose);
    }
    job
}

/// Most of such a zone are the fillets that the nose leaves at its ends.
#[test]
fn a_zone_some_noses_wide_is_cut_soundly() {
    let (_, face) = demo::job_and_face();
    for step in [Step::Axial, Step::Normal] {
        for (from, width, noses) in [
            (204.0, 2.5, [1.2, 0.8]),
            (100.0, 3.0, [1.2, 0.8]),
            (100.0, 2.0, [0.8, 0.8]),
            (150.0, 4.0, [2.4, 0.8]),
            (120.0, 5.0, [2.4, 1.6]),
        ] {
            let mut job = demo_with(&[zone(from, from + width)], noses);
            job.schedule.step = step;
            let told = told(&job, face, Options::default());
            let stops: Vec<&Finding> = told.iter().filter(|f| f.rank == Rank::Stop).collect();
            assert!(stops.is_empty(), "{width} mm from {from}, noses {noses:?}, {step:?}: {stops:?}");
        }
    }
}

/// Three passes over a zone of three noses, the second of them too shallow by most of its depth but for one place.
#[test]
fn a_groove_in_a_narrow_zone_is_found() {
    let (nose, from, to) = (1.2_f64, 100.0, 104.0);
    let face = made_up::face(&[(50.0, 0.0), (150.0, 0.0)]);
    let job = made::job(3, 0, from, to);
    let inside = |depth: f64| (nose * nose - (nose - depth).powi(2)).sqrt();
    let ends = |depth: f64| [from + inside(depth), to - inside(depth)];
    let level = |depth: f64| ends(depth).map(|x| (x, -depth));
    let looked = || Script::new(45.0, 50.0).pass(&[(from, 1.0), (to, 1.0)]).stop();
    let grooves = |script: &Script| {
        let swept = sweep(&script.movements, &job, &face);
        swept.findings.iter().filter(|f| f.rule == SweepRule::GougeGroove.into()).count()
    };
    let sound = looked().pass(&level(0.1)).pass(&level(0.2)).pass(&level(0.3));
    assert_eq!(grooves(&sound), 0);
    let [a, b] = ends(0.12);
    let dips = [(a, -0.12), (101.7, -0.12), (101.8, -0.2), (101.9, -0.12), (b, -0.12)];
    let spoilt = looked().pass(&level(0.1)).pass(&dips);
    assert_eq!(grooves(&spoilt), 1);
}

/// Nothing stands between zones that touch: they are read as one.
#[test]
fn zones_that_touch_are_one() {
    let read = |zones: &str| {
        let folder = tempfile::tempdir().expect("a folder");
        for name in ["job.yaml", "shop.yaml"] {
            let text = std::fs::read_to_string(Path::new("demo-data").join(name)).expect("the demo's");
            let text = text.replace("  - { from: 70 mm, to: 216 mm }\n", zones);
            std::fs::write(folder.path().join(name), text).expect("written");
        }
        job::load(&folder.path().join("job.yaml")).expect("a job").zones
    };
    let two = "  - { from: 100.3 mm, to: 216 mm }\n  - { from: 70 mm, to: 100.3 mm }\n";
    assert_eq!(read(two), [zone(70.0, 216.0)]);
    let three =
        "  - { from: 70 mm, to: 74 mm }\n  - { from: 74 mm, to: 80 mm }\n  - { from: 81 mm, to: 216 mm }\n";
    assert_eq!(read(three), [zone(70.0, 80.0), zone(81.0, 216.0)]);
}

/// A rib between two zones, so narrow that the leads of either cross into the other.
#[test]
fn zones_side_by_side_are_cut_without_a_warning() {
    let (_, face) = demo::job_and_face();
    for (rib, width) in [(0.1, 5.0), (0.1, 40.0), (0.5, 3.0), (1.0, 5.0), (2.0, 4.0)] {
        let at = 140.0;
        let job = demo_with(&[zone(at - width, at), zone(at + rib, at + 40.0)], [1.2, 0.8]);
        let told = told(&job, face, Options::default());
        let ours = told.iter().filter(|f| f.rule != SweepRule::DamageRemains.into());
        let ours: Vec<&Finding> = ours.collect();
        assert!(ours.is_empty(), "{rib} mm between, the first {width} mm wide: {ours:?}");
    }
}
