//! How long proof takes to read and to run a program, against its number of blocks: the time per block must stay flat.
//!
//!     cargo bench --bench proof

use divan::counter::{BytesCount, ItemsCount};
use divan::{Bencher, black_box};
use facewright::plan::{Options, plan};
use facewright::proof::{Verdict, against, explain, prove, read, simulate};
use std::fmt::Write;
use std::path::Path;

#[allow(dead_code)]
#[path = "../fixtures/mod.rs"]
mod fixtures;

fn main() {
    divan::main();
}

const BLOCKS: &[usize] = &[1_000, 10_000, 100_000, 1_000_000];

/// Passes of a thousand blocks each over a wavy face, a tenth of a millimetre apart.
fn program(blocks: usize) -> String {
    let mut text = fixtures::machine::START.to_owned();
    for n in 0..blocks {
        let (pass, i) = (n / 1000, n % 1000);
        let x = 70.0 + 0.14 * i as f64;
        let z = 5.0 - 0.1 * pass as f64 + (x * 0.2).sin();
        let word = if i == 0 { "G00" } else { "G01" };
        let _ = writeln!(text, "N{} {word} X{x:.3} Z{z:.3}", 10 * (n + 1));
    }
    text + fixtures::machine::END
}

/// The demo's own program, whole: read, run, swept, judged.
#[divan::bench]
fn the_demo(bencher: Bencher<'_, '_>) {
    let job = sound(facewright::job::load(Path::new("demo-data/job.yaml")));
    let traces = sound(facewright::scan::open_all(&job.measured));
    let survey = sound(facewright::survey::survey(&job, &traces));
    let face = survey.face();
    let plan = sound(plan(&job, face, Options::default()));
    let programs = sound(facewright::gcode::write(&job, &plan));
    let text = programs.into_iter().map(|p| p.text).collect::<String>();
    bencher.bench(|| assert!(prove(black_box(text.as_bytes()), &job, face).verdict != Verdict::Stop));
}

fn sound<T, E: std::fmt::Display>(result: Result<T, E>) -> T {
    result.unwrap_or_else(|error| panic!("{error}"))
}

#[divan::bench(args = BLOCKS)]
fn reading(bencher: Bencher<'_, '_>, blocks: usize) {
    let text = program(blocks);
    bencher
        .counter(ItemsCount::new(blocks))
        .counter(BytesCount::of_str(&text))
        .bench(|| read(black_box(text.as_bytes())));
}

#[divan::bench(args = BLOCKS)]
fn simulating(bencher: Bencher<'_, '_>, blocks: usize) {
    let lathe = fixtures::machine::plain();
    let text = program(blocks);
    bencher.counter(ItemsCount::new(blocks)).bench(|| simulate(black_box(text.as_bytes()), lathe.setup()));
}

#[divan::bench(args = BLOCKS)]
fn explaining(bencher: Bencher<'_, '_>, blocks: usize) {
    let lathe = fixtures::machine::plain();
    let simulation = lathe.run(&program(blocks));
    bencher.counter(ItemsCount::new(blocks)).bench(|| explain(black_box(&simulation)));
}

#[divan::bench(args = BLOCKS)]
fn comparing(bencher: Bencher<'_, '_>, blocks: usize) {
    let lathe = fixtures::machine::plain();
    let execution = lathe.run(&program(blocks)).skip_off;
    bencher.counter(ItemsCount::new(blocks)).bench(|| against(black_box(&execution), black_box(&execution)));
}
