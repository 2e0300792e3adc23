//! Lacquer stands only on metal that nobody has cut: a tool is told to touch it nowhere else.
//!
//! The outside value is the same plan of a bare wheel: on bare metal a tool stands at the same height, on lacquer by its thickness higher over a flat.

use crate::fixtures::demo;
use facewright::job::Job;
use facewright::plan::{Options, Plan, plan};
use facewright::units::Length;

/// Thickness of the lacquer, millimetres.
const THICK: f64 = 0.06;

/// The demo, planned with lacquer and without, with a touch-off at a radius and so much gone already.
fn planned(at: f64, already: f64) -> [Plan; 2] {
    let (job, survey) = demo::surveyed();
    [THICK, 0.0].map(|lacquer| {
        let mut job: Job = job.clone();
        job.touch_off = Some(Length::mm(at));
        job.touching.lacquer = Length::mm(lacquer);
        let options = Options { already: Length::mm(already), ..Options::default() };
        let mut plan = plan(&job, survey.face(), options).expect("nothing is in the way");
        plan.look_ahead(&job, survey.model(), survey.face());
        plan
    })
}

/// For each tool the thickness that is told and how much higher than on the bare wheel it stands.
fn told([lacquered, bare]: &[Plan; 2]) -> Vec<[f64; 2]> {
    let pairs = lacquered.operations.iter().zip(&bare.operations);
    pairs.map(|(a, b)| [a.touch_off.lacquer.as_mm(), a.touch_off.z.as_mm() - b.touch_off.z.as_mm()]).collect()
}

/// On the hub land, which is flat to a few micrometres in the width of a nose.
fn near(told: &[[f64; 2]], expected: &[f64]) {
    assert_eq!(told.len(), expected.len());
    for (&[thick, higher], &expected) in told.iter().zip(expected) {
        assert!((thick - expected).abs() < 1e-12 && (higher - expected).abs() < 0.002, "{told:?}");
    }
}

#[test]
fn a_tool_after_the_first_meets_bare_metal_in_the_zone() {
    near(&told(&planned(76.0, 0.0)), &[THICK, 0.0]);
}

#[test]
fn a_program_that_goes_on_meets_bare_metal_in_the_zone() {
    near(&told(&planned(76.0, 0.2)), &[0.0, 0.0]);
}

#[test]
fn beside_the_zone_the_lacquer_stays() {
    near(&told(&planned(66.0, 0.0)), &[THICK, THICK]);
    near(&told(&planned(66.0, 0.2)), &[THICK, THICK]);
}

/// The height to enter is that of the touch-off: a place of the check lies under as much lacquer as it.
#[test]
fn the_check_mixes_no_bare_metal_with_lacquer() {
    for (at, already) in [(76.0, 0.0), (76.0, 0.2), (66.0, 0.2)] {
        let plans = planned(at, already);
        let zone = demo::surveyed().0.zones[0];
        for (i, operation) in plans[0].operations.iter().enumerate() {
            let Some(check) = &operation.check else { continue };
            assert!(!check.points.is_empty());
            for point in &check.points {
                let in_zone = zone.from.as_mm() < point.contact && point.contact < zone.to.as_mm();
                let cut = in_zone && (already > 0.0 || i > 0);
                let lacquered = operation.touch_off.lacquer.as_mm() > 0.0;
                assert_eq!(lacquered, !cut, "touched off at {at}, {already} gone, tool {i}: {point:?}");
            }
        }
    }
}
