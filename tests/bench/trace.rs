//! How long a scan takes: reading beside a bare loop over the same bytes, and cleaning beside reading.
//!
//! `cargo bench --bench trace` prints the ratio of reading to the bare loop, then divan's table.

#[allow(dead_code)]
#[path = "../fixtures/mod.rs"]
mod fixtures;

use divan::{Bencher, black_box, counter::ItemsCount};
use facewright::job::Measured;
use facewright::scan::{clean, reader};
use facewright::units::Length;
use std::fmt::Write;
use std::path::Path;
use std::time::{Duration, Instant};

const MILLION: u32 = 1_000_000;

fn main() {
    let text = text(MILLION, ';');
    let bare = fastest(|| bare_loop(&text));
    let read = fastest(|| u64::try_from(reader(&text).points.len()).unwrap_or(0));
    println!(
        "1,000,000 lines: bare loop {bare:.1?}, reader {read:.1?}, ratio {:.2} (limit 3)",
        read.as_secs_f64() / bare.as_secs_f64()
    );
    divan::main();
}

fn fastest(run: impl Fn() -> u64) -> Duration {
    let one = || {
        let start = Instant::now();
        black_box(run());
        start.elapsed()
    };
    (0..7).map(|_| one()).min().unwrap_or_default()
}

/// A face of 70 mm to 220 mm, measured with noise from a fixed sequence.
fn text(n: u32, separator: char) -> String {
    let mut seed = 7_u64;
    let mut noise = move || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from(seed >> 33).unwrap_or(0)) / f64::from(u32::MAX >> 1) - 0.5
    };
    let mut out = String::new();
    for i in 0..n {
        let x = 70.0 + 150.0 * f64::from(i) / f64::from(n);
        let z = 3.0 * (x / 25.0).sin() + 0.03 * noise();
        let _ = writeln!(out, "{x:.4}{separator}{z:.4}");
    }
    out
}

/// The least that reading can cost: two fast numbers a line, nothing checked, the same points kept.
fn bare_loop(text: &str) -> u64 {
    let mut rest = text.as_bytes();
    let mut points: Vec<(f64, f64)> = Vec::with_capacity(rest.len() / 16);
    while !rest.is_empty() {
        let Ok((x, n)) = fast_float2::parse_partial::<f64, _>(rest) else { break };
        rest = &rest[n + 1..];
        let Ok((z, n)) = fast_float2::parse_partial::<f64, _>(rest) else { break };
        rest = &rest[n + 1..];
        points.push((x, z));
    }
    black_box(points).len() as u64
}

fn measured() -> Measured {
    Measured { filter: Some(Length::mm(0.8)), ..fixtures::job::measured() }
}

fn reader(text: &str) -> reader::Scan {
    reader::read(text.as_bytes(), Path::new("scan.csv"), &measured()).unwrap_or_default()
}

#[divan::bench(args = [1_000, 10_000, 100_000, MILLION])]
fn bare(bencher: Bencher, n: u32) {
    let text = text(n, ';');
    bencher.counter(ItemsCount::new(n)).bench_local(|| bare_loop(&text));
}

#[divan::bench(args = [1_000, 10_000, 100_000, MILLION])]
fn read(bencher: Bencher, n: u32) {
    let text = text(n, ';');
    bencher.counter(ItemsCount::new(n)).bench_local(|| reader(&text));
}

#[divan::bench(args = [1_000, 10_000, 100_000, MILLION])]
fn cleaning(bencher: Bencher, n: u32) {
    let scan = reader(&text(n, ';'));
    bencher.counter(ItemsCount::new(n)).bench_local(|| clean(&scan, 0.0));
}
