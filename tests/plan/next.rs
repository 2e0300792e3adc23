//! The next pass in one command: whatever was cut before, it is sound or refused for the wheel's own reason.

use facewright::job::{NextPasses, Only, ScheduleError, Variation};
use facewright::pipeline::{self, PipelineError, ProvedProgram};
use facewright::plan::{Options, PassKind, PlanError};
use facewright::units::Length;
use std::path::{Path, PathBuf};

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/job.yaml")
}

fn next(kind: NextPasses) -> Variation {
    Variation { next: Some(kind), ..Variation::default() }
}

/// The proved programs of the demo, varied, for each depth that was taken before.
fn after(variation: &Variation, taken: &[f64]) -> Vec<Result<ProvedProgram, PipelineError>> {
    let loaded = pipeline::load_varied(&demo(), variation).expect("the demo, varied");
    let measured = loaded.measure().expect("the demo's scans");
    let surveyed = measured.survey().expect("the demo's face");
    let only = match variation.next {
        Some(NextPasses::Rough) => Only::Rough,
        Some(NextPasses::Finish) => Only::Finish,
        None => Only::All,
    };
    let proved = |&already: &f64| {
        surveyed.plan(Options { only, already: Length::mm(already), ..Options::default() })?.write()?.prove()
    };
    taken.iter().map(proved).collect()
}

fn kinds(program: &ProvedProgram) -> Vec<PassKind> {
    program.plan().operations.iter().flat_map(|o| o.passes.iter().map(|p| p.kind)).collect()
}

/// One more pass, as deep as the schedule's, with an air pass of its own, though all that clean-up needs is off already.
#[test]
fn one_rough_pass_more() {
    for program in after(&next(NextPasses::Rough), &[0.0, 0.1, 0.32, 0.406, 0.5]) {
        let program = program.expect("a sound program");
        assert_eq!(kinds(&program), [PassKind::Air, PassKind::Rough]);
        assert!((program.plan().removed.as_mm() - 0.1).abs() < 1e-9);
    }
}

/// What is varied is varied, and nothing else.
#[test]
fn depth_feed_speed_texture_and_count_for_this_time() {
    let varied = Variation {
        passes: Some("2".into()),
        depth: Some("0.04 mm".into()),
        feed: Some("0.15 mm/rev".into()),
        surface_speed: Some("200 m/min".into()),
        ..next(NextPasses::Rough)
    };
    let program = after(&varied, &[0.2]).remove(0).expect("a sound program");
    assert_eq!(kinds(&program), [PassKind::Air, PassKind::Rough, PassKind::Rough]);
    for pass in program.plan().operations.iter().flat_map(|o| &o.passes).filter(|p| p.kind == PassKind::Rough)
    {
        assert_eq!(pass.depth, Length::mm(0.04));
        assert!((pass.feed.as_mm_per_rev() - 0.15).abs() < 1e-9);
        assert!((pass.surface_speed.as_mm_per_min() - 200_000.0).abs() < 1e-6);
    }
    let smoother = Variation { texture: Some("Rz 1.0 um".into()), ..next(NextPasses::Finish) };
    let finish = after(&smoother, &[0.4]).remove(0).expect("a sound program");
    assert_eq!(kinds(&finish), [PassKind::Air, PassKind::Finish]);
    // Rz = f²/(8·r): 0.8 mm and 1 um give 0.08 mm (standard turning theory), rounded down to a step that the control can name.
    let feed = finish.plan().operations[0].passes[1].feed.as_mm_per_rev();
    assert!(0.08 - 0.0011 < feed && feed <= 0.08, "{feed}");
    let over_again = Variation { depth: Some("0 mm".into()), ..next(NextPasses::Finish) };
    let spring = after(&over_again, &[0.456]).remove(0).expect("a sound program");
    assert_eq!(kinds(&spring), [PassKind::Air, PassKind::Spring]);
}

/// From nothing to the whole allowance: a sound program, or what the wheel may lose is the reason. `WALK_STEP=0.001` walks every step.
#[test]
fn every_depth_that_was_taken_before() {
    let step = std::env::var("WALK_STEP").ok().and_then(|s| s.parse().ok()).unwrap_or(0.0967);
    let steps = (1..).map_while(|i| Some(f64::from(i) * step).filter(|&t| t <= 0.8));
    let taken: Vec<f64> = std::iter::once(0.0).chain(steps.map(|t| (t * 1e3).round() / 1e3)).collect();
    for kind in [NextPasses::Rough, NextPasses::Finish] {
        let mut refused = 0;
        for (program, taken) in after(&next(kind), &taken).into_iter().zip(&taken) {
            match program {
                Ok(program) => assert!(program.parts().iter().all(|p| {
                    p.report()
                        .findings()
                        .iter()
                        .all(|f| f.rank < facewright::proof::Rank::Warning || !f.what.contains("deeper"))
                })),
                Err(PipelineError::Plan(PlanError::Schedule(ScheduleError::Allowance { .. }))) => {
                    refused += 1;
                    assert!(
                        *taken > 0.69,
                        "{kind:?} after {taken} mm is refused, though the wheel may lose 0.8 mm"
                    );
                }
                Err(other) => panic!("{kind:?} after {taken} mm: {other}"),
            }
        }
        assert!(refused > 0, "{kind:?}: the allowance ends somewhere");
    }
}

/// One program of five passes, or one of three and two single passes after it: the surface is the same to the step of the control.
#[test]
fn the_same_surface_from_one_program_and_from_several() {
    let count = |n: &str| Variation { passes: Some(n.into()), ..next(NextPasses::Rough) };
    let depths = |program: &ProvedProgram| -> Vec<(f64, f64)> {
        let last = program.parts().last().expect("one part at least");
        last.report().sweep.total.iter().map(|d| (d.radius, d.depth)).collect()
    };
    let whole = after(&count("5"), &[0.0]).remove(0).expect("a sound program");
    let last = after(&count("2"), &[0.3]).remove(0).expect("a sound program");
    let (whole, last) = (depths(&whole), depths(&last));
    let at = |depths: &[(f64, f64)], radius: f64| {
        let i = depths.partition_point(|d| d.0 < radius).clamp(1, depths.len() - 1);
        let ((r0, d0), (r1, d1)) = (depths[i - 1], depths[i]);
        d0 + (d1 - d0) * (radius - r0) / (r1 - r0)
    };
    // The tolerance of the written path, a step of the control, and what the report leaves out between the depths that it keeps.
    let most = 0.005 + 0.001 + 0.0005;
    // Beside the fillets that the nose leaves at the zone's ends: of earlier programs the proof knows the depth only.
    let inside: Vec<f64> = last.iter().map(|d| d.0).filter(|r| (73.0..213.0).contains(r)).collect();
    assert!(inside.len() > 100, "{} radii", inside.len());
    for radius in inside {
        let [a, b] = [&whole, &last].map(|depths| at(depths, radius));
        assert!((a - b).abs() <= most, "at radius {radius}: {a} and {b}");
    }
}

/// A value that cannot be, or passes that the schedule lacks: the option is named as a line of a file would be.
#[test]
fn what_is_varied_is_checked_like_the_files() {
    let refused = |variation: Variation| {
        pipeline::load_varied(&demo(), &variation).expect_err("nothing that can be cut").to_string()
    };
    let rough = || next(NextPasses::Rough);
    insta::assert_snapshot!(
        [
            refused(Variation { depth: Some("0.1".into()), ..rough() }),
            refused(Variation { passes: Some("none".into()), ..rough() }),
            refused(Variation { feed: Some("3 mm/rev".into()), ..rough() }),
            refused(Variation { surface_speed: Some("0 m/min".into()), ..rough() }),
            refused(Variation { texture: Some("mirror".into()), ..next(NextPasses::Finish) }),
            refused(Variation { schedule: Some("scuffed".into()), ..Variation::default() }),
        ]
        .join("\n\n")
    );
}
