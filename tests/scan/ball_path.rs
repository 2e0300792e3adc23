//! Whether a ball can have made a trace: grooves that it could not enter are told wherever the readings happen to lie, and what it did read is
//! never called impossible. The truth is the definition (ISO 16610-41): the highest place of the ball's disk that touches the face, on a fine grid.

use super::hand::{Dice, Faults, face, measure_on};
use super::plain;
use facewright::scan::ball_path::{Impossible, impossible};
use facewright::scan::{MeasuredLine, clean, reader};
use std::fmt::Write;
use std::path::Path;

/// Spacing of the grid on which a ball is rolled, millimetres.
const FINE: f64 = 0.01;
/// Wheels of each kind and ball.
const SOUND: u64 = 20;
const FROM: f64 = 70.0;
const TO: f64 = 130.0;

/// The height of a ball's lowest point over a face.
fn rolled(face: impl Fn(f64) -> f64, radius: f64) -> impl Fn(f64) -> f64 {
    let at = |i: usize| FROM + FINE * i as f64;
    let heights: Vec<f64> = (0..=index(TO)).map(|i| face(at(i))).collect();
    let reach = index(FROM + radius);
    let drops: Vec<f64> =
        (0..=reach).map(|k| radius - (radius.powi(2) - (FINE * k as f64).powi(2)).sqrt()).collect();
    let touching = |i: usize| {
        let over = i.saturating_sub(reach)..=(i + reach).min(heights.len() - 1);
        over.map(|k| heights[k] - drops[k.abs_diff(i)]).fold(f64::NEG_INFINITY, f64::max)
    };
    let path: Vec<f64> = (0..heights.len()).map(touching).collect();
    move |x| {
        let i = index(x).min(path.len() - 2);
        path[i] + (path[i + 1] - path[i]) * (x - (FROM + FINE * i as f64)) / FINE
    }
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place on a grid, not below zero"
)]
fn index(x: f64) -> usize {
    ((x - FROM) / FINE) as usize
}

fn line(faults: &Faults, seed: u64, face: impl Fn(f64) -> f64) -> MeasuredLine {
    let text = measure_on(faults, seed, face);
    let scan =
        reader::read(text.as_bytes(), Path::new("scan.csv"), &plain()).unwrap_or_else(|f| panic!("{f}"));
    clean(&scan, 0.0).line
}

fn told(lines: &[MeasuredLine], diameter: f64) -> Option<Impossible> {
    impossible(&lines.iter().collect::<Vec<_>>(), diameter / 2.0)
}

/// A dome, as of a spoke.
fn dome(x: f64) -> f64 {
    -0.002 * (x - 95.0).powi(2)
}

/// The dome with a groove of a width and depth about 100 mm, its walls upright.
fn grooved(width: f64, depth: f64) -> impl Fn(f64) -> f64 {
    move |x| dome(x) - if (x - 100.0).abs() < width / 2.0 { depth } else { 0.0 }
}

/// A face with what wheels have, and dents of all sizes in it, upright and gentle.
fn damaged(seed: u64) -> impl Fn(f64) -> f64 {
    let mut dice = Dice::new(seed);
    let dents: Vec<[f64; 4]> = (0..8)
        .map(|_| {
            [
                dice.between(82.0, 118.0),
                dice.between(0.1, 5.0),
                dice.between(0.05, 1.5),
                dice.between(0.0, 1.0),
            ]
        })
        .collect();
    move |x| {
        let dent = |[at, wide, deep, soft]: &[f64; 4]| {
            let edge = 1.0 - ((x - at).abs() / wide).min(1.0);
            deep * if *soft < 0.5 { edge.min(0.05) / 0.05 } else { edge }
        };
        face(x) - dents.iter().map(dent).fold(0.0, f64::max)
    }
}

/// Told for certain is what a ball's path falls over so many usual strides beside, and what is so many bounds deep.
const STRIDES: f64 = 7.0;
const BOUNDS: f64 = 4.0;

/// Over how many usual strides a ball's path falls beside an upright edge, where it stands over twice the noise.
fn strides_beside(diameter: f64, depth: f64, noise: f64, spacing: f64) -> f64 {
    let fall = |depth: f64| (diameter * depth - depth * depth).max(0.0).sqrt();
    let foot = 0.02_f64.max(6.0 * noise) / 3.0;
    (fall(depth.min(diameter / 2.0)) - fall(foot)) / spacing
}

/// Whether more than half of what was read in a groove counts as false: it asks for no metal then.
fn left_out(line: &MeasuredLine, width: f64) -> bool {
    let within: Vec<bool> =
        line.readings.iter().filter(|r| (r.x - 100.0).abs() < width / 2.0).map(|r| r.suspect).collect();
    2 * within.iter().filter(|&&s| s).count() > within.len()
}

/// On one line of three a spot sensor's groove of eight readings or more, whose edges are as deep as four bounds and beside which the path
/// of a ball falls over seven strides: it is told, or its readings count as false.
#[test]
fn a_groove_that_no_ball_can_enter_is_told_wherever_its_readings_lie() {
    let (mut sure, mut told_all, mut all) = (0, 0, 0);
    let mut missed = String::new();
    for diameter in [1.0, 2.0, 3.0, 6.0, 10.0] {
        for (noise, spacing) in [(0.002, 0.05), (0.005, 0.1), (0.01, 0.12), (0.02, 0.12), (0.01, 0.2)] {
            for depth in [0.15, 0.3, 0.4, 0.5, 0.7, 1.0] {
                for readings in [8.0, 12.0, 30.0] {
                    for seed in 0..4 {
                        let faults =
                            Faults { noise, spacing: [0.6 * spacing, 1.4 * spacing], ..Faults::default() };
                        let width = spacing * readings;
                        let groove = line(&faults, seed + 200, grooved(width, depth));
                        let false_ones = left_out(&groove, width);
                        let lines = [line(&faults, seed, dome), groove, line(&faults, seed + 100, dome)];
                        let found = told(&lines, diameter).is_some();
                        all += 1;
                        told_all += u32::from(found);
                        let strides = strides_beside(diameter, depth, noise, spacing);
                        if strides < STRIDES || depth < BOUNDS * 0.02_f64.max(6.0 * noise) {
                            continue;
                        }
                        sure += 1;
                        if !found && !false_ones {
                            let _ = writeln!(
                                missed,
                                "ball {diameter}, noise {noise}, spacing {spacing}, depth {depth}, {readings} readings, seed {seed}: {strides:.1}"
                            );
                        }
                    }
                }
            }
        }
    }
    println!("{told_all} of {all} told; {sure} are of those that must be");
    assert!(sure > 400, "{sure}");
    assert!(missed.is_empty(), "neither told nor left out:\n{missed}");
}

/// Ball traces of walls, grooves and eight dents of all sizes, with all that a hand and a sensor do.
#[test]
fn what_a_ball_has_read_is_never_called_impossible() {
    let plain = Faults { spacing: [0.05, 0.2], noise: 0.005, ..Faults::default() };
    let kinds = [
        ("plain", plain.clone()),
        ("noisy", Faults { noise: 0.02, ..plain.clone() }),
        ("still", Faults { noise: 0.0005, ..plain.clone() }),
        ("spikes", Faults { spikes: 8, ..plain.clone() }),
        ("clusters", Faults { clusters: 4, ..plain.clone() }),
        ("stops", Faults { pauses: 2, backsteps: 4, ..plain.clone() }),
        ("both ways", Faults { out_and_back: true, hysteresis: 0.03, drift: 0.05, ..plain.clone() }),
        ("hurried", Faults { spacing: [0.02, 0.8], ..plain.clone() }),
        ("far apart", Faults { spacing: [0.25, 0.5], ..plain.clone() }),
        ("drop-outs", Faults { sentinels: 5, ..plain.clone() }),
    ];
    let mut wrong = String::new();
    for diameter in [1.0, 2.0, 3.0, 6.0, 10.0] {
        for seed in 0..SOUND {
            let faces = [0, 1, 2].map(|k| rolled(damaged(3 * seed + k), diameter / 2.0));
            for (name, faults) in &kinds {
                let lines = [(0, &faces[0]), (1, &faces[1]), (2, &faces[2])]
                    .map(|(k, face)| line(faults, 3 * seed + k, face));
                if let Some(i) = told(&lines, diameter) {
                    let _ = writeln!(wrong, "{name}, ball {diameter}, seed {seed}: {i:?}");
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}
