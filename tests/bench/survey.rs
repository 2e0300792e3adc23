//! The survey of long traces against the time to read them: three lines of a known wheel.

#[allow(dead_code)]
#[path = "../fixtures/mod.rs"]
mod fixtures;

use divan::{Bencher, counter::ItemsCount};
use facewright::job::{self, Job};
use facewright::scan::{MeasuredLines, clean, reader};
use facewright::survey;
use std::path::Path;

/// Points a line: the demo's first.
const POINTS: [usize; 4] = [1_250, 10_000, 100_000, 1_000_000];
const LINES: usize = 3;

fn main() {
    divan::main();
}

fn the_job() -> Job {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/job.yaml");
    job::load(&path).unwrap_or_else(|e| panic!("{e}"))
}

fn texts(points: usize) -> Vec<String> {
    let wheel = fixtures::wheel::demo_wheel();
    let step = 156.5 / points as f64;
    let line = |i: usize| {
        let how = fixtures::wheel::Measurement {
            from: 62.0,
            to: 218.5,
            step: [step, step],
            noise: 0.01,
            ball: 0.0,
            seed: i as u64,
        };
        fixtures::wheel::csv(&["bench"], &how.of(&wheel, (120.0 * i as f64).to_radians()))
    };
    (0..LINES).map(line).collect()
}

fn scans(job: &Job, texts: &[String]) -> Vec<reader::Scan> {
    let read = |text: &String| reader::read(text.as_bytes(), Path::new("bench.csv"), &job.measured);
    texts.iter().map(|t| read(t).unwrap_or_else(|e| panic!("{e}"))).collect()
}

fn lines(job: &Job, scans: &[reader::Scan]) -> MeasuredLines {
    let pairs = scans.iter().zip(&job.measured.lines);
    MeasuredLines { lines: pairs.map(|(s, l)| clean(s, l.at.as_rad())).collect(), ..MeasuredLines::default() }
}

/// Reading and parsing alone.
#[divan::bench(args = POINTS, sample_count = 5)]
fn read(bencher: Bencher, points: usize) {
    let (job, texts) = (the_job(), texts(points));
    bencher.counter(ItemsCount::new(points * LINES)).bench(|| scans(&job, &texts));
}

/// Cleaning alone.
#[divan::bench(args = POINTS, sample_count = 5)]
fn cleaning(bencher: Bencher, points: usize) {
    let job = the_job();
    let scans = scans(&job, &texts(points));
    bencher.counter(ItemsCount::new(points * LINES)).bench(|| lines(&job, &scans));
}

/// The survey alone.
#[divan::bench(args = POINTS, sample_count = 5)]
fn survey_of_lines(bencher: Bencher, points: usize) {
    let job = the_job();
    let lines = lines(&job, &scans(&job, &texts(points)));
    bencher.counter(ItemsCount::new(points * LINES)).bench(|| survey::survey(&job, &lines));
}
