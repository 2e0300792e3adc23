//! The times that a plan tells, held against the simulation of its program, pass by pass.

use crate::fixtures::{controls, demo};
use facewright::gcode;
use facewright::job::WayHome;
use facewright::plan::{Options, plan};
use facewright::proof::{MovementKind, simulate};
use facewright::units::Time;

/// A pass begins and ends at the park, of which the written word may round off this much, millimetres: a step of the coarsest grid of the demo.
const AT_PARK: f64 = 0.003;

/// How far the two may lie apart for rounding: a coordinate moves by half a step of the control, 0.0005 mm of some hundred; speeds and
/// feeds are written to a thousandth of themselves.
const ROUNDING: f64 = 0.002;

/// The times of the passes of a program, each from park to park, as the simulation finds them, seconds.
fn simulated(job: &facewright::job::Job, text: &str) -> Vec<f64> {
    let execution = simulate(text.as_bytes(), job).skip_off;
    let (x, z) = (job.machine.park_x.as_mm(), job.machine.park_z.as_mm());
    let mut passes = Vec::new();
    let (mut pass, mut fed) = (0.0, false);
    for (movement, time) in execution.movements.iter().zip(&execution.times) {
        pass += time.map(Time::as_s).expect("every motion has a speed and a feed");
        fed |= movement.kind == MovementKind::Feed;
        let to = movement.piece.to();
        // The first motion may be a step from the park to where its word names it.
        if fed && (to.x - x).abs() < AT_PARK && (to.z - z).abs() < AT_PARK {
            passes.push(pass);
            (pass, fed) = (0.0, false);
        }
    }
    passes
}

/// Times told before and after writing are the same numbers; with stepped spindle speeds too.
#[test]
fn the_times_of_plan_and_simulation_agree_pass_by_pass() {
    let (demo, survey) = demo::surveyed();
    let face = survey.cleared().expect("the demo's wheel may be cut");
    for &(name, change) in controls::VARIANTS {
        let mut job = demo.clone();
        change(&mut job);
        // The way from the park to the reference point is no part of any pass.
        job.control.traits.way_home = WayHome::Park;
        let plan = plan(&job, face, Options::default()).unwrap_or_else(|refusal| panic!("{refusal}"));
        let parts = gcode::write(&job, &plan).unwrap_or_else(|error| panic!("{error}"));
        if parts.len() > 1 {
            // Every part has an air pass of its own: plan/figures.rs compares the others.
            continue;
        }
        let planned: Vec<f64> =
            plan.operations.iter().flat_map(|o| &o.passes).map(|p| p.figures.time().as_s()).collect();
        let found: Vec<f64> = parts.iter().flat_map(|p| simulated(&job, &p.text)).collect();
        assert_eq!(planned.len(), found.len(), "{name}: passes");
        for (i, (planned, found)) in planned.iter().zip(&found).enumerate() {
            assert!(
                (planned / found - 1.0).abs() < ROUNDING,
                "{name}, pass {}: {planned:.3} s planned, {found:.3} s simulated",
                i + 1
            );
        }
    }
}
