//! The air pass stays clear of the metal as it stands before the first pass, or is refused with the height that it needs.

use super::narrow::told;
use crate::fixtures::demo;
use facewright::diagnostics::{Finding, SweepRule};
use facewright::job::{Job, LEAST_AIR_GAP, Step};
use facewright::plan::{Options, PlanError, plan};
use facewright::proof::Rank;
use facewright::units::Length;

fn demo_with(height: f64, depth: f64, step: Step) -> Job {
    let (demo, _) = demo::job_and_face();
    let mut job = demo.clone();
    job.schedule.air.height = Length::mm(height);
    job.schedule.step = step;
    if let Some(rough) = &mut job.schedule.rough {
        rough.depth = Length::mm(depth);
    }
    job
}

/// Of every height and depth: a sound program, or a refusal that says how high the air pass must be; at that height it is sound.
#[test]
fn an_air_pass_is_clear_of_the_metal_or_refused() {
    let (_, face) = demo::job_and_face();
    let mut refused = 0;
    for step in [Step::Axial, Step::Normal] {
        for (height, depth) in
            [(0.1, 0.1), (0.2, 0.25), (0.25, 0.25), (0.3, 0.25), (0.2, 0.15), (0.1, 0.05), (0.5, 0.25)]
        {
            let job = demo_with(height, depth, step);
            let sound = |job: &Job| {
                let told = told(job, face, Options::default());
                let air = |f: &&Finding| f.rank == Rank::Stop || f.rule == SweepRule::AirPassTouches.into();
                let told: Vec<&Finding> = told.iter().filter(air).collect();
                assert!(told.is_empty(), "{} over {depth}, {step:?}: {told:?}", job.schedule.air.height);
            };
            let mut job = job;
            let mut raised = 0;
            // Every tool has an air pass, and each may ask for more than the one before.
            while let Err(refused) = plan(&job, face, Options::default()) {
                let PlanError::AirTooLow { needed, gap, .. } = refused else {
                    panic!("{height} over {depth}, {step:?}: {refused}");
                };
                assert!(gap < LEAST_AIR_GAP && needed > job.schedule.air.height, "{gap}, {needed}");
                raised += 1;
                assert!(raised <= job.tools.len(), "{height} over {depth}, {step:?}: {refused}");
                // The next step of the control above it.
                job.schedule.air.height = Length::mm((needed.as_mm() * 1000.0).ceil() / 1000.0);
            }
            sound(&job);
            refused += usize::from(raised > 0);
        }
    }
    assert!((4..14).contains(&refused), "{refused} refused");
}
