//! Passes planned on a face that was measured again: none takes more than its depth of the metal that really stands, and the proof sees
//! that metal.

use facewright::face::Taken;
use facewright::geometry::Point;
use facewright::job::Only;
use facewright::pipeline;
use facewright::plan::{Options, PassKind};
use facewright::proof::{Circumstances, Verdict, prove_in};
use facewright::units::Length;
use std::path::Path;

/// What the generator of the demo says was really taken.
const TAKEN: f64 = 0.276;

/// What a depth measured again may be off: two standard errors and what three lines leave open of the turn.
const KNOWN: f64 = 0.02;

fn demo() -> pipeline::Loaded {
    pipeline::load(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/again.yaml")).expect("the demo")
}

/// The first pass takes no more than its depth of what really stands, the passes go on from there, and the last reaches what the first survey
/// asks for.
#[test]
fn passes_go_on_from_what_stands() {
    let loaded = demo();
    let measured = loaded.measure().expect("scans");
    let surveyed = measured.survey().expect("a face");
    for only in [Only::All, Only::Rough, Only::Finish] {
        let options = Options { only, ..Options::default() };
        let program = surveyed.plan(options).expect("a plan").write().expect("words").prove().expect("sound");
        let plan = program.plan();
        let cuts: Vec<_> = plan
            .operations
            .iter()
            .flat_map(|o| &o.passes)
            .filter(|p| matches!(p.kind, PassKind::Rough | PassKind::Finish))
            .collect();
        let first = cuts.first().expect("a pass");
        let takes = first.total.as_mm() - TAKEN;
        assert!(takes <= first.depth.as_mm() + 0.002, "{only:?}: takes {takes} of {}", first.depth);
        assert!(plan.already.as_mm() > TAKEN - 2.0 * KNOWN, "{only:?}: counted from {}", plan.already);
        if only == Only::All {
            let last = cuts.last().expect("a pass");
            assert!(
                last.total >= plan.needed && plan.needed.as_mm() > 0.44,
                "{} of {}",
                last.total,
                plan.needed
            );
            let limit = loaded.job().wheel.allowance.remaining();
            assert!((plan.left.as_mm() - (limit - last.total).as_mm()).abs() < 1e-9, "{}", plan.left);
        }
    }
}

/// A depth since the new lines counts from what stood then.
#[test]
fn what_was_cut_since_counts_from_the_new_lines() {
    let loaded = demo();
    let measured = loaded.measure().expect("scans");
    let surveyed = measured.survey().expect("a face");
    let begins = |already: f64| {
        let options = Options { already: Length::mm(already), ..Options::default() };
        surveyed.plan(options).expect("a plan").plan().already.as_mm()
    };
    assert!((begins(0.1) - begins(0.0) - 0.1).abs() < 1e-9);
}

/// The proof sees the metal that stands: a program written on what was measured is stopped where 0.15 mm less had been taken, and one
/// written for more than stands is not stopped for the metal that is gone.
#[test]
fn the_proof_sees_the_metal_that_stands() {
    let loaded = demo();
    let measured = loaded.measure().expect("scans");
    let surveyed = measured.survey().expect("a face");
    let plan = surveyed.plan(Options::default()).expect("a plan");
    let program = plan.write().expect("words").prove().expect("sound");
    let text = program.parts()[0].program().text.clone();
    let face = surveyed.survey().face();
    let already = program.plan().already;
    let with = |less: f64| {
        let taken = face.taken.as_ref().expect("measured again");
        let depth = taken.depth.map(|p: Point| (p.z - less).max(0.0));
        let face = facewright::face::Face {
            taken: Some(Taken { depth, error: taken.error.clone() }),
            ..face.clone()
        };
        let circumstances =
            Circumstances { already: already - Length::mm(less), goes_on: false, ..Circumstances::default() };
        prove_in(text.as_bytes(), loaded.job(), &face, &circumstances)
    };
    assert_ne!(with(0.0).verdict, Verdict::Stop);
    let less = with(0.15);
    assert_eq!(less.verdict, Verdict::Stop, "{less}");
    assert!(less.findings().iter().any(|f| f.rule.id() == "pass-too-deep"), "{less}");
}
