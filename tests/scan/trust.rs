//! What a trace is not trusted for, with its place.

use super::hand::{Dice, Faults, measure, trace};
use super::plain;
use facewright::job::Zone;
use facewright::scan::{Distrust, Limits, doubts};
use facewright::units::Length;
use std::fmt::Write;

const LIMITS: Limits = Limits { gap: Length::mm(2.0), noise: Length::mm(0.025), ways: Length::mm(0.05) };

fn zone(from: f64, to: f64) -> Zone {
    Zone { from: Length::mm(from), to: Length::mm(to) }
}

fn text(noise: impl Fn(f64) -> f64, gap: [f64; 2]) -> String {
    let mut dice = Dice::new(3);
    let mut out = String::new();
    for x in (0..500).map(|i| 80.0 + 0.1 * f64::from(i)).filter(|x| *x < gap[0] || *x > gap[1]) {
        let _ = writeln!(out, "{x:.3} {:.4}", noise(x) * dice.normal());
    }
    out
}

#[test]
fn a_good_trace_is_trusted() {
    for seed in 0..20 {
        let t = trace(&measure(&Faults::clean(), seed), &plain());
        assert_eq!(doubts(&t, &[zone(82.0, 118.0)], &LIMITS), []);
    }
}

#[test]
fn a_gap_counts_in_a_zone_alone() {
    let t = trace(&text(|_| 0.01, [100.0, 103.0]), &plain());
    let found = doubts(&t, &[zone(82.0, 95.0), zone(98.0, 118.0)], &LIMITS);
    assert!(
        matches!(found[..], [Distrust::Gap { at, .. }] if (at.length().as_mm() - 3.2).abs() < 0.11),
        "{found:?}"
    );
    assert!(found[0].to_string().contains("measure that stretch again"));
    assert_eq!(doubts(&t, &[zone(82.0, 99.0), zone(104.0, 118.0)], &LIMITS), []);
}

#[test]
fn noise_is_refused_where_it_is() {
    let t = trace(&text(|x| if x > 110.0 { 0.06 } else { 0.01 }, [0.0, 0.0]), &plain());
    let found = doubts(&t, &[zone(82.0, 128.0)], &LIMITS);
    assert!(!found.is_empty());
    for d in found {
        assert!(matches!(d, Distrust::Noise { noise, .. } if noise.at.to.as_mm() > 110.0), "{d}");
    }
    assert_eq!(doubts(&t, &[zone(82.0, 105.0)], &LIMITS), []);
}

#[test]
fn ways_that_disagree_are_refused() {
    let loose = Faults { out_and_back: true, hysteresis: 0.12, ..Faults::clean() };
    let found = doubts(&trace(&measure(&loose, 1), &plain()), &[zone(82.0, 118.0)], &LIMITS);
    assert!(
        matches!(found[..], [Distrust::Ways { apart, .. }] if apart.value > Length::mm(0.1)),
        "{found:?}"
    );
    let tight = Faults { out_and_back: true, hysteresis: 0.01, ..Faults::clean() };
    for seed in 0..10 {
        assert_eq!(doubts(&trace(&measure(&tight, seed), &plain()), &[zone(82.0, 118.0)], &LIMITS), []);
    }
}
