//! The face as the last pass leaves it, in closed form: waves and joints put into a program come out of its proof.

use crate::fixtures::face::face;
use crate::fixtures::job::{job, mm};
use crate::fixtures::script::Script;
use facewright::job::{Feed, Job};
use facewright::proof::sweep::{Sweep, sweep};

/// Radius of the nose of tool 1.
const NOSE: f64 = 1.2;

fn flat_job() -> Job {
    job(1, 0, 50.0, 150.0)
}

/// A pass over a flat face, with a path of lines through these heights.
fn swept(job: &Job, height: impl Fn(f64) -> f64) -> Sweep {
    let path: Vec<(f64, f64)> =
        (0..=1100).map(|i| 45.0 + f64::from(i) * 0.1).map(|x| (x, height(x))).collect();
    let script = Script::new(45.0, 50.0).pass(&[(45.0, 0.9), (155.0, 0.9)]).stop().pass(&path);
    sweep(&script.movements, job, &face(&[(50.0, 0.0), (150.0, 0.0)]))
}

/// A wave of 2.5 mm and 4 um from peak to valley, above the face that the pass aims at: the nose, far rounder than the wave, leaves
/// it as it is but for its valleys' chords, and the band lets 2^(−(0.8/2.5)²) − 2^(−(8/2.5)²) of it pass (ISO 16610-21).
#[test]
fn a_wave_in_the_path_is_told() {
    let (length, half) = (2.5, 0.002);
    let wave = |x: f64| -0.1 + half + half * (x / length * std::f64::consts::TAU).sin();
    let finished = swept(&flat_job(), wave).finished.expect("a finished face");
    let share = 2f64.powf(-(0.8_f64 / length).powi(2)) - 2f64.powf(-(8.0_f64 / length).powi(2));
    let told = finished.waviness_mm.expect("the face can tell");
    assert!((told - 2.0 * half * share).abs() < 0.05 * half, "{told} for {}", 2.0 * half * share);
    let joint = finished.greatest_joint.expect("lines meet");
    // Curvature times the length of a line, at the wave's peak.
    let bend = half * (std::f64::consts::TAU / length).powi(2) * 0.1;
    assert!((joint.turn_deg - bend.to_degrees()).abs() < 0.02 * bend.to_degrees(), "{joint:?}, {bend}");
}

/// An even path waves not at all, however deep; a kink is told with its angle, radius and line.
#[test]
fn an_even_path_does_not_wave_and_a_kink_is_told() {
    let finished = swept(&flat_job(), |_| -0.1).finished.expect("a finished face");
    assert!(finished.waviness_mm.is_some_and(|w| w < 1e-9), "{finished:?}");
    assert!(finished.greatest_joint.is_some_and(|j| j.turn_deg < 1e-9), "{finished:?}");
    let kinked = swept(&flat_job(), |x| -0.1 + 0.001 * (x - 100.0).clamp(0.0, 4.0));
    let joint = kinked.finished.and_then(|f| f.greatest_joint).expect("lines meet");
    let at = [100.0, 104.0].iter().any(|x| (joint.radius - x).abs() < 1e-6);
    assert!(
        at && (joint.turn_deg - 0.001_f64.atan().to_degrees()).abs() < 1e-9 && joint.line > 0,
        "{joint:?}"
    );
}

/// The limit is that of the finish; what roughing leaves is not judged by it.
#[test]
fn a_limit_is_held_against_the_path_of_the_finish_alone() {
    let wave = |x: f64| -0.1 + 0.002 + 0.002 * (x * 2.5).sin();
    let told = |job: &Job| swept(job, wave).findings.iter().any(|f| f.rule.id() == "waviness");
    let mut roughed = flat_job();
    roughed.schedule.waviness = Some(mm(0.001));
    assert!(!told(&roughed));
    let mut finished = roughed.clone();
    let rough = finished.schedule.rough.take().expect("rough passes");
    finished.schedule.finish = job(0, 1, 50.0, 150.0).schedule.finish.map(|mut f| {
        (f.tool, f.depth, f.feed, f.surface_speed) = (rough.tool, mm(0.1), rough.feed, rough.surface_speed);
        f
    });
    assert!(told(&finished));
    finished.schedule.waviness = Some(mm(0.010));
    assert!(!told(&finished));
}

/// Grooves that must match others are told where they come closer; a path at the asked feed is not.
#[test]
fn grooves_closer_than_asked_are_told() {
    let mut job = flat_job();
    let rough = job.schedule.rough.take().expect("rough passes");
    let as_finish = |pitch: f64| {
        let finish = crate::fixtures::job::job(0, 1, 50.0, 150.0).schedule.finish;
        finish.map(|mut f| {
            (f.tool, f.depth, f.surface_speed) = (rough.tool.clone(), mm(0.1), rough.surface_speed);
            f.feed = Feed::Grooves(mm(pitch));
            f
        })
    };
    for (pitch, closer) in [(0.2, false), (0.3, true)] {
        job.schedule.finish = as_finish(pitch);
        let told = swept(&job, |_| -0.1).findings.iter().any(|f| f.rule.id() == "grooves");
        assert_eq!(told, closer, "{pitch}");
    }
    const { assert!(NOSE > 0.3) };
}
