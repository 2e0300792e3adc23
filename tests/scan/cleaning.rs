//! Cleaning in the order of time, held against the face that the hand was driven over.

use super::hand::{Faults, face, measure};
use super::plain;
use facewright::scan::{Cleaned, Reading, clean, reader};
use std::fmt::Write;
use std::path::Path;

fn cleaned(faults: &Faults, seed: u64) -> Cleaned {
    let text = measure(faults, seed);
    let scan =
        reader::read(text.as_bytes(), Path::new("scan.csv"), &plain()).unwrap_or_else(|f| panic!("{f}"));
    clean(&scan, 0.0)
}

/// Whether a reading lies beyond all noise; nobody can tell where between two places a vertical wall stands.
fn wild(r: &Reading) -> bool {
    let at_wall = [101.05, 103.95].iter().any(|wall: &f64| (r.x - wall).abs() < 0.3);
    !at_wall && (r.z - face(r.x)).abs() > 0.25
}

#[test]
fn a_clean_line_has_no_suspects_and_its_noise_is_the_noise() {
    for seed in 0..20 {
        let c = cleaned(&Faults::clean(), seed);
        let suspects = c.line.readings.iter().filter(|r| r.suspect).count();
        assert!(suspects <= 2, "{seed}: {suspects} suspects");
        assert!((c.line.noise - 0.01).abs() < 0.0025, "{seed}: {}", c.line.noise);
        assert_eq!((c.line.sweeps, c.cleaning.missing), (1, 0), "{seed}");
    }
}

#[test]
fn wild_readings_are_suspect_and_the_others_are_not() {
    let faults = Faults { spikes: 6, clusters: 3, pauses: 2, backsteps: 4, ..Faults::clean() };
    let (mut kept, mut found, mut good, mut doubted) = (0, 0, 0, 0);
    // The wild ones that stand as calm: scan, radius, height off the face.
    let mut passed = String::new();
    for seed in 0..40 {
        for r in &cleaned(&faults, seed).line.readings {
            match (wild(r), r.suspect) {
                (true, false) => {
                    kept += 1;
                    let _ = write!(passed, " {seed} {:.2} {:+.2};", r.x, r.z - face(r.x));
                }
                (true, true) => found += 1,
                (false, true) => doubted += 1,
                (false, false) => good += 1,
            }
        }
    }
    println!("wild: {found} suspect, {kept} not; good: {good} calm, {doubted} suspect");
    assert!(found > 500, "the check needs wild readings: {found}");
    assert!(kept * 50 <= found, "{kept} of {} wild readings stand as calm:{passed}", kept + found);
    assert!(doubted * 100 <= good, "{doubted} of {} good readings are suspect", good + doubted);
}

#[test]
fn out_and_back_is_two_sweeps_and_a_pause_is_worth_three_readings() {
    let c = cleaned(&Faults { out_and_back: true, ..Faults::clean() }, 3);
    assert_eq!(c.line.sweeps, 2);
    let c = cleaned(&Faults { pauses: 1, ..Faults::clean() }, 3);
    let least = c.line.readings.iter().map(|r| r.weight).fold(1.0, f64::min);
    assert!(least < 0.1, "{least}");
}
