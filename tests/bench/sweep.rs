//! How long the sweep takes for programs of one pass in many small motions: nanoseconds for each motion should stay flat.

#[allow(dead_code)]
#[path = "../fixtures/mod.rs"]
mod fixtures;

use divan::{Bencher, counter::ItemsCount};
use facewright::proof::sweep::sweep;
use fixtures::{face::face, job::job, script::Script};

fn main() {
    divan::main();
}

/// A wavy face at 0.05 mm, and an air pass and one pass along it in `count` motions each.
#[divan::bench(args = [1_000, 10_000, 100_000])]
fn motions(bencher: Bencher, count: u32) {
    let height = |x: f64| (x / 7.0).sin() * 2.0;
    let points: Vec<(f64, f64)> =
        (0..=3000).map(|k| 60.0 + 0.05 * f64::from(k)).map(|x| (x, height(x))).collect();
    let face = face(&points);
    let job = job(1, 0, 60.0, 210.0);
    let path = |lift: f64| -> Vec<(f64, f64)> {
        (0..=count)
            .map(|k| 60.0 + 150.0 * f64::from(k) / f64::from(count))
            .map(|x| (x, height(x) + lift))
            .collect()
    };
    let movements = Script::new(60.0, 50.0).pass(&path(1.0)).stop().pass(&path(0.0)).movements;
    bencher
        .counter(ItemsCount::new(movements.len()))
        .bench(|| sweep(divan::black_box(&movements), &job, &face));
}
